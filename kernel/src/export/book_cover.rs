//! The chapters of the job book that every work has: cover, from outside, how to read the templates, cautions.

use super::book_content::{Block, Chapter, Line, PAGE_HEIGHT, PAGE_WIDTH};
use super::book_picture::{LETTERS, Picture, SMALLEST_LETTERS, common_scale};
use crate::choice;
use crate::drawing::Drawing;
use crate::finding::{Finding, Level};
use crate::output::Output;
use crate::part::PartKind;
use crate::work::Work;

/// Gap between pictures side by side, mm.
pub(super) const GAP: f64 = 6.0;
/// How many elevations may stand side by side: slim works take three, so that they can be larger.
const COLUMNS: [usize; 2] = [2, 3];
/// Height that all rows of elevations and the plan may take together, so that they stay on one page, mm.
const ELEVATIONS_HEIGHT: f64 = PAGE_HEIGHT - 30.0;
/// What a row needs beside its pictures: the line below and the gap, mm.
const ROW_EXTRA: f64 = 15.0;
/// Width and height the picture on the cover may take, mm.
const COVER_ROOM: [f64; 2] = [PAGE_WIDTH, 122.0];
/// The same for the stack taken apart.
const STACK_ROOM: [f64; 2] = [PAGE_WIDTH, PAGE_HEIGHT - 32.0];

/// Names of the views that have places of their own.
pub(super) const PICTORIAL: &str = "pictorial";
/// The elements moved apart along the stack.
pub(super) const STACK: &str = "stack";
/// Where an element is in the work; its name follows.
pub(super) const WHERE: &str = "where-";

/// The cover.
pub(super) fn cover<'a>(work: &'a Work, output: &'a Output, findings: &[&Finding]) -> Chapter<'a> {
    let tally = |level: Level, one: &str, many: &str| {
        let n = findings.iter().filter(|f| f.level == level).count();
        (n > 0).then(|| format!("{n} {}", if n == 1 { one } else { many }))
    };
    let tallies: Vec<String> = [
        tally(Level::Error, "error", "errors"),
        tally(Level::Warning, "warning", "warnings"),
        tally(Level::Note, "note", "notes"),
    ]
    .into_iter()
    .flatten()
    .collect();
    let tallies = if tallies.is_empty() { "none".to_owned() } else { tallies.join(", ") };
    let mut chapter = Chapter::new("cover", &work.sculpture.name);
    if findings.iter().any(|f| f.level == Level::Error) {
        let words = "✕ Do not build from this: the findings below hold errors.";
        chapter.blocks.push(Block::Stop(words.to_owned()));
    }
    let pictorial = output.views.iter().find(|d| d.name == PICTORIAL);
    if let Some(mut picture) = pictorial.and_then(|d| Picture::fitted(d, COVER_ROOM, LETTERS)) {
        picture.caption.clear();
        chapter.blocks.push(Block::Turning(picture));
    }
    chapter.blocks.push(Block::Figures(headline(work, output)));
    if !work.sculpture.choices.is_empty() {
        chapter.text(format!("Chosen: {}.", choice::in_words(&work.sculpture.choices)));
    }
    chapter.text(Line::new().small(format!(
        "Findings: {tallies}. Areas, volumes and lengths are those of the middle of the sheet; mass and centre of \
         mass are those of the sheet parts before welding. All figures are a preliminary check: a licensed engineer and the local code decide."
    )));
    chapter
}

/// Name, value and unit of each figure on the cover.
fn headline(work: &Work, output: &Output) -> Vec<(String, String, &'static str)> {
    let mut rows: Vec<(&str, String, &str)> = Vec::new();
    if let Some([low, high]) = work.mesh.bounds() {
        let size = high - low;
        rows.push(("Height", format!("{:.0}", size.z), "mm"));
        rows.push(("Over all, x × y", format!("{:.0} × {:.0}", size.x, size.y), "mm"));
    }
    let c = work.centre_of_mass;
    let closures = work.parts.iter().filter(|p| matches!(p.kind, PartKind::Closure { .. })).count();
    let parts = match closures {
        0 => format!("{}", work.parts.len()),
        n => format!("{} + {n}", work.parts.len() - n),
    };
    let seam_length: f64 = work.seams.iter().map(|s| s.length).sum();
    // All that is known to stand there weighs more than the sheet: the figure for crane and ground.
    let all: f64 = output.mass.parts.iter().map(|c| c.body.mass).sum();
    rows.push(match all > work.mass {
        true => ("Mass of sheets, of all known", format!("{:.0}, {all:.0}", work.mass), "kg"),
        false => ("Mass of sheet parts", format!("{:.0}", work.mass), "kg"),
    });
    rows.push(("Sheet area", format!("{:.2}", work.area / 1.0e6), "m²"));
    rows.push(("Enclosed volume", format!("{:.3}", work.volume / 1.0e9), "m³"));
    rows.push((if closures == 0 { "Parts" } else { "Sheet parts + closure strips" }, parts, ""));
    rows.push(("Seams, all together", format!("{:.1}", seam_length / 1000.0), "m"));
    rows.push(("Centre of mass x, y, z", format!("{:.0}, {:.0}, {:.0}", c.x, c.y, c.z + 0.0), "mm"));
    rows.into_iter().map(|(name, value, unit)| (name.to_owned(), value, unit)).collect()
}

/// Elevations and plan at one scale.
pub(super) fn outside(output: &Output) -> Option<Chapter<'_>> {
    let own = |d: &Drawing| d.name == PICTORIAL || d.name == STACK || d.name.starts_with(WHERE);
    let drawings: Vec<&Drawing> = output.views.iter().filter(|d| !own(d)).collect();
    if drawings.is_empty() {
        return None;
    }
    let (scale, columns) = common_scale(&drawings, [PAGE_WIDTH, ELEVATIONS_HEIGHT], GAP, ROW_EXTRA, &COLUMNS);
    let mut chapter = Chapter::new("outside", "From outside");
    chapter.text(format!(
        "All at 1 : {scale:.0} when printed at 100 %. Thick lines are seams and outlines, thin ones folds."
    ));
    let pictures = drawings.iter().filter_map(|d| Picture::at_scale(d, scale, LETTERS)).collect();
    chapter.blocks.push(Block::Pictures { columns, pictures });
    Some(chapter)
}

/// The elements moved apart along the stack.
pub(super) fn stack(output: &Output) -> Option<Chapter<'_>> {
    let drawing = output.views.iter().find(|d| d.name == STACK)?;
    let mut chapter = Chapter::new("stack", "Taken apart");
    chapter.text("Each element lifted off the one below; where one stands on another the sheet is open.");
    chapter.picture(Picture::fitted(drawing, STACK_ROOM, SMALLEST_LETTERS));
    Some(chapter)
}

/// How the templates are read.
pub(super) fn how_to_read<'a>() -> Chapter<'a> {
    let mut chapter = Chapter::new("how-to-read", "How to read the templates");
    chapter.text(
        Line::from(
            "Every template is in true size. Measure the 100 mm bar of a print before cutting: if it is not 100 mm long, \
             the printer has scaled the page. Outlines are seen from ",
        )
        .bold("outside")
        .text(
            ", the weather side; laid on the inside of a sheet they must be turned over. The arrow points up on the \
             finished work.",
        ),
    );
    chapter.blocks.push(terms(&TEMPLATES));
    chapter.heading("Lines and layers");
    chapter.blocks.push(terms(&LAYERS));
    chapter.heading("Names");
    chapter.text(
        Line::new()
            .bold("A/east")
            .text(" is the east face of element A; ")
            .bold("A/east.2")
            .text(" a second piece of it; ")
            .bold("A/east~A/top")
            .text(" the seam between two faces, or the closure strip that fills it. A ")
            .bold("true")
            .text(" joint has both sheets cut to the very line in which the two surfaces meet; a ")
            .bold("mitre")
            .text(
                " has both cut on the plane half-way between the faces, with a flat closure strip where the two wavy edges \
                 do not meet.",
            ),
    );
    chapter
}

fn terms<'a>(rows: &[(&str, &str)]) -> Block<'a> {
    Block::Terms(rows.iter().map(|&(word, meaning)| (word.to_owned(), meaning.to_owned())).collect())
}

const TEMPLATES: [(&str, &str); 3] = [
    (
        "wrap",
        "The outline along the skin of the sheet. For card or vinyl that is pressed into the ribs and followed with the \
         cutter; the marks must come to lie on the crests.",
    ),
    (
        "plan",
        "The outline seen square to the face. For a cutting head that travels level above the formed sheet; not to be \
         pressed into the ribs.",
    ),
    (
        "blank",
        "The outline of the flat blank before folding, on the neutral line, with bend lines. For sheet that is cut flat and \
         then folded; the bend allowance is worked in.",
    ),
];

const LAYERS: [(&str, &str); 4] = [
    ("CUT", "Outlines and holes, each closed. The line is the edge of the part: the kerf is not worked in."),
    (
        "BEND-UP, BEND-DOWN",
        "Bend lines, folding towards you and away from you as you look at the outside. Angle and inside radius stand beside \
         them.",
    ),
    ("MARK", "Crest and fold marks and the arrow: to scribe, never to cut."),
    ("TEXT", "The name of the part and its writing."),
];

/// What the work can do to people.
pub(super) fn cautions<'a>() -> Chapter<'a> {
    let mut chapter = Chapter::new("cautions", "Cautions");
    chapter.text(
        "What stands here is common practice, without a source, and no more than a reminder. The people on site, the local \
         code and a licensed engineer decide.",
    );
    chapter.list(CAUTIONS.iter().map(|(what, text)| Line::new().bold(format!("{what}. ")).text(*text)));
    chapter
}

const CAUTIONS: [(&str, &str); 8] = [
    (
        "Figures",
        "All figures in this book are worked out from the drawn shape, the nominal thickness and the density set in the \
         script. They are preliminary. Strength, standing, wind and ground have to be checked by a licensed engineer \
         before anything is put up where people can reach it.",
    ),
    (
        "Standing",
        "A leaning stack can topple while it is still being built, long before its parts hold each other. Prop every \
         element on its own until all seams are welded. The centre of mass on the cover is that of the finished shell \
         alone, without spine, base, water or snow.",
    ),
    (
        "Lifting",
        "Weigh before you lift; welds, fittings and trapped water add to the mass in this book. Never lift by a sheet \
         edge or a single tack. Rigging is planned and done by trained people with tested gear; nobody stands below.",
    ),
    (
        "Fume",
        "Cutting and welding weathering steel gives off fume that holds chromium, copper, nickel and manganese. Salvaged \
         sheet may also carry zinc, old paint with lead or chromate, oil or asbestos dust: have it tested, strip it where \
         it will be heated. Extract at the arc, wear a fitting respirator, keep others away.",
    ),
    (
        "Closed spaces",
        "The inside of an element is a confined space once it is closed: gas from welding displaces air. Never work \
         inside alone. Vent every closed chamber before welding it shut.",
    ),
    (
        "Edges",
        "Wavy cut edges are long and as sharp as blades. Cut-proof gloves and sleeves; deburr before handling; cap edges \
         that stay within reach of the public.",
    ),
    (
        "Fire",
        "Sparks run along the ribs and through the seams. Clear both sides, keep a fire watch after the last weld.",
    ),
    (
        "Rust",
        "Water must find its way out of every valley: run-off stains stone and concrete, and steel that stays wet does \
         not form its protective skin.",
    ),
];
