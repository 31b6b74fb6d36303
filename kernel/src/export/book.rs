//! The job book: one HTML file for the workshop wall, printed on A4.
//!
//! Self-contained: pictures are inline SVG, nothing is fetched. Elevations and plan share one scale, which
//! holds when the book is printed at 100 %.

use super::job::all_findings;
use super::{Writer, book_coat, book_frame, book_lift, book_spine, book_stand, book_tables, book_welds};
use crate::choice;
use crate::drawing::{Drawing, Label, Layer};
use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::part::PartKind;
use crate::seam::Seam;
use crate::work::{OutFile, Output, Work};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use std::fmt::Write as _;

/// The registry row.
pub const ROW: Writer =
    Writer { name: "book", summary: "the job book: pictures, schedules, findings and cautions", write };

/// Width of the page between its margins, and the gap between pictures, mm.
const PAGE_WIDTH: f64 = 180.0;
const GAP: f64 = 6.0;
/// How many elevations may stand side by side: slim works take three, so that they can be larger.
const COLUMNS: [usize; 2] = [2, 3];
/// Height that all rows of elevations and the plan may take together, so that they stay on one page, mm.
const ELEVATIONS_HEIGHT: f64 = 222.0;
/// What a row needs beside its pictures: the line below and the gap, mm.
const ROW_EXTRA: f64 = 17.0;
/// The same for the picture on the cover.
const COVER_ROOM: [f64; 2] = [180.0, 130.0];
/// The same for the small picture of a part.
const THUMBNAIL_ROOM: [f64; 2] = [36.0, 24.0];

/// Scales that a rule can be laid on, 1 : n.
const SCALES: [f64; 19] = [
    1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 75.0, 100.0, 150.0, 200.0, 250.0, 500.0,
    1000.0, 2000.0,
];

/// Least size of letters in pictures, mm: 11 points, readable at arm's length.
const LETTERS: f64 = 11.0 * 25.4 / 72.0;

/// Height of a capital over the size of its font, about the same for all sans-serif fonts.
const CAPITAL: f64 = 0.72;

/// Average width of a letter over the size of its font, generous.
const LETTER_WIDTH: f64 = 0.6;

/// Detail finer than this share of a small picture is left out.
const THUMBNAIL_DETAIL: f64 = 1.0 / 250.0;

/// Tables that have a chapter of their own.
const OWN_CHAPTER: [&str; 6] =
    ["parts", "seams", "findings", book_welds::TABLES[0], book_welds::TABLES[1], book_welds::TABLES[2]];

fn has_own_chapter(table: &str) -> bool {
    let chapters: [&[&str]; 6] = [
        &OWN_CHAPTER,
        &book_stand::TABLES,
        &book_lift::TABLES,
        &book_spine::TABLES,
        &book_frame::TABLES,
        &book_coat::TABLES,
    ];
    chapters.iter().any(|tables| tables.contains(&table))
}

fn write(work: &Work, output: &Output) -> Result<Vec<OutFile>> {
    if output.views.is_empty() && output.tables.is_empty() {
        return Ok(Vec::new());
    }
    let findings = all_findings(work, output);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="generator" content=(concat!("ribwright ", env!("CARGO_PKG_VERSION")));
                title { (work.sculpture.name) " · job book" }
                style {
                    (PreEscaped(STYLE)) (PreEscaped(book_welds::STYLE)) (PreEscaped(book_stand::STYLE))
                    (PreEscaped(book_tables::STYLE))
                }
            }
            body {
                (cover(work, output, &findings))
                (outside(output))
                (taken_apart(output))
                (findings_chapter(&findings))
                (parts(work, output))
                (seams(&work.seams))
                (book_welds::chapters(output))
                (book_stand::chapter(output, &findings))
                (book_spine::chapter(output, &findings))
                (book_frame::chapter(output, &findings))
                (book_lift::chapters(output))
                (book_coat::chapters(output))
                @for table in output.tables.iter().filter(|t| !has_own_chapter(&t.name)) {
                    (book_tables::chapter(table))
                }
                (PreEscaped(HOW_TO_READ))
                (PreEscaped(CAUTIONS))
            }
        }
    };
    Ok(vec![OutFile { path: "book.html".to_owned(), bytes: page.into_string().into_bytes() }])
}

fn cover(work: &Work, output: &Output, findings: &[&Finding]) -> Markup {
    let pictorial = output.views.iter().find(|d| d.name == "pictorial");
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
    let broken = findings.iter().any(|f| f.level == Level::Error);
    html! {
        section.cover {
            p.kind { "Job book" }
            h1 { (work.sculpture.name) }
            @if broken {
                p.stop { "✕ Do not build from this: the findings below hold errors." }
            }
            @if let Some(drawing) = pictorial { (fitted(drawing, COVER_ROOM)) }
            dl.figures {
                @for (name, value, unit) in headline(work) {
                    div { dt { (name) } dd { (value) @if !unit.is_empty() { " " small { (unit) } } } }
                }
            }
            @if !work.sculpture.choices.is_empty() {
                p.small { "Chosen: " (choice::in_words(&work.sculpture.choices)) "." }
            }
            p.small {
                "Findings: " (if tallies.is_empty() { "none".to_owned() } else { tallies.join(", ") }) ". "
                "Areas, volumes and lengths are those of the middle of the sheet; mass is that of all parts before "
                "welding. All figures are a preliminary check: a licensed engineer and the local code decide."
            }
        }
    }
}

/// Name, value and unit of each figure on the cover.
fn headline(work: &Work) -> Vec<(&'static str, String, &'static str)> {
    let mut rows = Vec::new();
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
    rows.push(("Mass", format!("{:.0}", work.mass), "kg"));
    rows.push(("Sheet area", format!("{:.2}", work.area / 1.0e6), "m²"));
    rows.push(("Enclosed volume", format!("{:.3}", work.volume / 1.0e9), "m³"));
    rows.push((if closures == 0 { "Parts" } else { "Sheet parts + closure strips" }, parts, ""));
    rows.push(("Seams, all together", format!("{:.1}", seam_length / 1000.0), "m"));
    rows.push(("Centre of mass x, y, z", format!("{:.0}, {:.0}, {:.0}", c.x, c.y, c.z + 0.0), "mm"));
    rows
}

fn outside(output: &Output) -> Markup {
    let drawings: Vec<&Drawing> = output.views.iter().filter(|d| d.name != "pictorial").collect();
    let (scale, columns) = elevation_scale(&drawings);
    html! {
        @if !drawings.is_empty() {
            section.chapter {
                h2 { "From outside" }
                p { "All at 1 : " (format!("{scale:.0}")) " when printed at 100 %. Thick lines are seams and "
                    "outlines, thin ones folds." }
                div.views style=(format!("grid-template-columns:repeat({columns},1fr)")) {
                    @for drawing in drawings {
                        figure { (at_scale(drawing, scale)) figcaption { (drawing.title) } }
                    }
                }
            }
        }
    }
}

/// Elements taken apart, one on a page.
fn taken_apart(output: &Output) -> Markup {
    let drawings = || output.drawings.iter().filter(|d| d.name.ends_with(EXPLODED));
    html! {
        @if drawings().next().is_some() {
            section.chapter {
                h2 { "Taken apart" }
                p { "Each element with its parts moved outward, as seen from the south-east and from above. Of parts "
                    "marked (inside) the inside is seen." }
                @for drawing in drawings() {
                    figure { (fitted_with(drawing, EXPLODED_ROOM, EXPLODED_LETTERS)) figcaption { (drawing.title) } }
                }
            }
        }
    }
}

/// How the names of exploded views end.
const EXPLODED: &str = "-exploded";
/// Width and height an exploded view may take, so that its heading stays on its page, mm.
const EXPLODED_ROOM: [f64; 2] = [180.0, 195.0];
/// Least font size of its names, mm: they stand close to each other.
const EXPLODED_LETTERS: f64 = 2.6;

/// The largest scale 1 : n at which all pictures fit one page, and in how many columns.
fn elevation_scale(drawings: &[&Drawing]) -> (f64, usize) {
    // Letters of a fixed size on the page take more of a smaller picture: the frames grow with the scale.
    let size = |d: &Drawing, scale: f64| match frame(d, LETTERS * scale) {
        Some([low, high]) => [(high[0] - low[0]) / scale, (high[1] - low[1]) / scale],
        None => [0.0; 2],
    };
    let fits = |scale: f64, columns: usize| {
        let sizes: Vec<[f64; 2]> = drawings.iter().map(|d| size(d, scale)).collect();
        let rows = sizes.chunks(columns).map(|row| row.iter().map(|s| s[1]).fold(0.0, f64::max) + ROW_EXTRA);
        #[allow(clippy::cast_precision_loss, reason = "two or three")]
        let width = (PAGE_WIDTH + GAP) / columns as f64 - GAP;
        sizes.iter().all(|s| s[0] <= width) && rows.sum::<f64>() <= ELEVATIONS_HEIGHT
    };
    for scale in SCALES {
        if let Some(columns) = COLUMNS.into_iter().find(|&c| fits(scale, c)) {
            return (scale, columns);
        }
    }
    // Beyond the last scale the style sheet shrinks the pictures to their room.
    (SCALES[SCALES.len() - 1], COLUMNS[0])
}

/// Sign and word of a level: not told by colour alone.
fn level_sign(level: Level) -> (&'static str, &'static str) {
    match level {
        Level::Error => ("✕", "Error"),
        Level::Warning => ("▲", "Warning"),
        Level::Note => ("○", "Note"),
    }
}

fn findings_chapter(findings: &[&Finding]) -> Markup {
    html! {
        section.chapter {
            h2 { "Findings" }
            @if findings.is_empty() {
                p { "Nothing was found that needs a word." }
            } @else {
                table.findings {
                    thead { tr { th { "Level" } th { "Where" } th { "What, and what to do" } } }
                    tbody {
                        @for f in findings {
                            @let (sign, word) = level_sign(f.level);
                            tr {
                                td.level { span.sign { (sign) } " " (word) }
                                td { (breakable(&f.place)) }
                                td { (f.message) br; span.remedy { "→ " (f.remedy) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn parts(work: &Work, output: &Output) -> Markup {
    let templates = |i: usize| output.templates.iter().find(|t| t.part == i);
    html! {
        section.chapter {
            h2 { "Parts" }
            p { "Outlines as seen from outside, flat, each filling its field; thin lines are the marks along the ribs." }
            table.parts {
                thead { tr {
                    th {} th { "Part" } th { "Sheet" } th.n { "Size" br; small { "mm" } }
                    th.n { "Cut" br; small { "m" } } th.n { "Area" br; small { "m²" } } th.n { "Mass" br; small { "kg" } }
                } }
                tbody {
                    @for (i, part) in work.parts.iter().enumerate() {
                        @let shown = templates(i).and_then(|t| {
                            t.templates.iter().find(|t| t.kind == "wrap").or(t.templates.first())
                        });
                        tr {
                            td.thumbnail { @if let Some(template) = shown { (thumbnail(&template.drawing)) } }
                            td { b { (breakable(&part.id)) } }
                            td { (sheet_words(&part.kind)) }
                            td.n { @if let Some(t) = shown { (size_words(&t.drawing)) } }
                            td.n { (format!("{:.2}", part.cut_length / 1000.0)) }
                            td.n { (format!("{:.3}", part.area / 1.0e6)) }
                            td.n { (format!("{:.1}", part.mass)) }
                        }
                    }
                }
                tfoot { tr {
                    td {} td { "Together" } td {} td {}
                    td.n { (format!("{:.1}", work.parts.iter().map(|p| p.cut_length).sum::<f64>() / 1000.0)) }
                    td.n { (format!("{:.2}", work.parts.iter().map(|p| p.area).sum::<f64>() / 1.0e6)) }
                    td.n { (format!("{:.0}", work.parts.iter().map(|p| p.mass).sum::<f64>())) }
                } }
            }
        }
    }
}

fn sheet_words(kind: &PartKind) -> String {
    match kind {
        PartKind::Sheet { profile, .. } if profile.depth() > 0.0 => format!(
            "{} {} × {}, {} mm",
            profile.kind().replace('_', " "),
            profile.pitch(),
            profile.depth(),
            profile.thickness()
        ),
        PartKind::Sheet { profile, .. } => format!("flat, {} mm", profile.thickness()),
        PartKind::Closure { thickness } => format!("closure strip, flat, {thickness} mm"),
    }
}

fn size_words(drawing: &Drawing) -> String {
    match cut_only(drawing).bounds() {
        Some([low, high]) => {
            let (a, b) = (high[0] - low[0], high[1] - low[1]);
            format!("{:.0} × {:.0}", a.max(b), a.min(b))
        }
        None => String::new(),
    }
}

fn seams(seams: &[Seam]) -> Markup {
    html! {
        section.chapter {
            h2 { "Seams" }
            p { "Wobble is how far the seam departs from the straight edge of the plain solid: at most, and on "
                "average (RMS). The angle is measured inside, between the two faces; above 180° the seam is a "
                "hollow one." }
            table.seams {
                thead { tr {
                    th { "Seam" } th { "Joint" } th.n { "Length" br; small { "mm" } }
                    th.n { "Straight" br; small { "mm" } } th.n { "Wobble" br; small { "mm at most, RMS" } }
                    th.n { "Angle" br; small { "°" } }
                } }
                tbody {
                    @for s in seams {
                        tr {
                            td { b { (breakable(&s.id)) } }
                            td { (s.joint) }
                            td.n { (format!("{:.0}", s.length)) }
                            td.n { (format!("{:.0}", s.nominal_length)) }
                            td.n { (format!("{:.0}, {:.0}", s.wobble_peak, s.wobble_rms)) }
                            td.n { (format!("{:.1}", s.dihedral)) }
                        }
                    }
                }
            }
        }
    }
}

/// A schedule of another stage, as it is.
/// Text that may be broken after `/` and `~`.
pub(super) fn breakable(text: &str) -> Markup {
    html! { @for piece in text.split_inclusive(['/', '~']) { (piece) wbr; } }
}

// Pictures.

/// What is cut, without marks and writing.
fn cut_only(drawing: &Drawing) -> Drawing {
    let outlines = drawing.true_outlines().cloned();
    let paths = outlines.map(|p| crate::drawing::Path { layer: Layer::Cut, ..p }).collect();
    Drawing { paths, ..Drawing::default() }
}

/// Size of a label's font in the drawing, at least `least`, mm.
fn font_size(label: &Label, least: f64) -> f64 {
    (label.height / CAPITAL).max(least)
}

/// Bounds of lines and writing, with letters of at least `letters` mm in the drawing.
fn frame(drawing: &Drawing, letters: f64) -> Option<[[f64; 2]; 2]> {
    let [mut low, mut high] = drawing.bounds()?;
    for label in &drawing.labels {
        let font = font_size(label, letters);
        #[allow(clippy::cast_precision_loss, reason = "a count of letters")]
        let width = label.text.chars().count() as f64 * font * LETTER_WIDTH;
        let [x, y] = if label.centred { [-width / 2.0, -font / 2.0] } else { [0.0, -font * 0.3] };
        let (sin, cos) = label.angle.to_radians().sin_cos();
        for [x, y] in [[x, y], [x + width, y], [x, y + font], [x + width, y + font]] {
            let p = [label.at[0] + x * cos - y * sin, label.at[1] + x * sin + y * cos];
            low = [low[0].min(p[0]), low[1].min(p[1])];
            high = [high[0].max(p[0]), high[1].max(p[1])];
        }
    }
    Some([low, high])
}

/// The drawing as large as its room allows.
pub(super) fn fitted(drawing: &Drawing, room: [f64; 2]) -> Markup {
    fitted_with(drawing, room, LETTERS)
}

/// The same with letters of at least this size on paper, mm.
pub(super) fn fitted_with(drawing: &Drawing, room: [f64; 2], letters: f64) -> Markup {
    let Some([low, high]) = frame(drawing, 0.0) else { return html! {} };
    picture(drawing, ((high[0] - low[0]) / room[0]).max((high[1] - low[1]) / room[1]), letters)
}

/// The drawing at 1 : `scale` as inline SVG.
fn at_scale(drawing: &Drawing, scale: f64) -> Markup {
    picture(drawing, scale, LETTERS)
}

/// The drawing at 1 : `scale` with letters of at least this size on paper, mm.
fn picture(drawing: &Drawing, scale: f64, letters: f64) -> Markup {
    /// Room for the width of lines around the picture, mm on paper.
    const MARGIN: f64 = 0.6;
    let letters = letters * scale;
    let Some([low, high]) = frame(drawing, letters) else { return html! {} };
    let margin = MARGIN * scale;
    let (width, height) = (high[0] - low[0] + 2.0 * margin, high[1] - low[1] + 2.0 * margin);
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" viewBox=\"{:.1} {:.1} {:.1} {:.1}\" style=\"width:{:.1}mm\">",
        low[0] - margin,
        -high[1] - margin,
        width,
        height,
        width / scale
    );
    let _ = write!(svg, "<title>{}</title>", escaped(&drawing.title));
    for (layer, class) in CLASSES {
        let d = path_data(drawing, layer);
        if !d.is_empty() {
            let _ = write!(svg, "<path class=\"{class}\" d=\"{d}\"/>");
        }
    }
    for label in &drawing.labels {
        svg.push_str(&text_element(label, font_size(label, letters)));
    }
    svg.push_str("</svg>");
    PreEscaped(svg)
}

/// Layers shown in the book, undermost first, with their class.
const CLASSES: [(Layer, &str); 7] = [
    (Layer::Helper, "helper"),
    (Layer::Mark, "mark"),
    (Layer::BendDown, "mark"),
    (Layer::BendUp, "mark"),
    (Layer::Fold, "fold"),
    (Layer::Seam, "seam"),
    (Layer::Cut, "seam"),
];

/// All paths of a layer in one `d`, tenths of a millimetre, y down.
fn path_data(drawing: &Drawing, layer: Layer) -> String {
    let mut d = String::new();
    for path in drawing.paths.iter().filter(|p| p.layer == layer) {
        for (i, p) in path.points.iter().enumerate() {
            let command = if i == 0 { 'M' } else { 'L' };
            let _ = write!(d, "{command}{} {}", tenths(p[0]), tenths(-p[1]));
        }
        if path.closed {
            d.push('Z');
        }
    }
    d
}

/// The shortest text of a number with at most one decimal.
fn tenths(x: f64) -> String {
    let text = format!("{:.1}", (x * 10.0).round() / 10.0 + 0.0);
    text.strip_suffix(".0").map(str::to_owned).unwrap_or(text)
}

fn text_element(label: &Label, font: f64) -> String {
    let anchor = if label.centred { " text-anchor=\"middle\"" } else { "" };
    // Half a capital below the middle is the base line.
    let drop = if label.centred { font * CAPITAL / 2.0 } else { 0.0 };
    format!(
        "<text transform=\"translate({:.1} {:.1}) rotate({:.1})\" y=\"{drop:.1}\" font-size=\"{font:.1}\"{anchor}>{}</text>",
        label.at[0],
        -label.at[1],
        -label.angle + 0.0,
        escaped(&label.text)
    )
}

fn escaped(text: &str) -> String {
    html! { (text) }.into_string()
}

/// Outline and long marks of a template, simplified.
fn thumbnail(drawing: &Drawing) -> Markup {
    /// Marks shorter than this share of the part are arrows and letters.
    const LONG: f64 = 1.0 / 5.0;
    let outline = cut_only(drawing);
    let Some([low, high]) = outline.bounds() else { return html! {} };
    let size = (high[0] - low[0]).max(high[1] - low[1]);
    let span = |points: &[[f64; 2]]| match points {
        [a, .., b] => (a[0] - b[0]).hypot(a[1] - b[1]),
        _ => 0.0,
    };
    let mut small = outline;
    small.title = drawing.title.clone();
    small.paths.extend(
        drawing.paths.iter().filter(|p| p.layer == Layer::Mark && span(&p.points) > LONG * size).cloned(),
    );
    for path in &mut small.paths {
        path.points = simplified(&path.points, size * THUMBNAIL_DETAIL);
    }
    fitted(&small, THUMBNAIL_ROOM)
}

/// Leaves out points so that none lies more than `tolerance` from the line that remains: D. Douglas and
/// T. Peucker, "Algorithms for the reduction of the number of points required to represent a digitized line",
/// 1973.
fn simplified(points: &[[f64; 2]], tolerance: f64) -> Vec<[f64; 2]> {
    if points.len() < 3 {
        return points.to_vec();
    }
    let mut keep = vec![false; points.len()];
    keep[0] = true;
    keep[points.len() - 1] = true;
    let mut open = vec![(0, points.len() - 1)];
    while let Some((i, j)) = open.pop() {
        let (a, b) = (points[i], points[j]);
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let length = dx.hypot(dy);
        let mut worst = (tolerance, i);
        for (k, p) in points.iter().enumerate().take(j).skip(i + 1) {
            let (px, py) = (p[0] - a[0], p[1] - a[1]);
            let off = if length > tolerance { (dx * py - dy * px).abs() / length } else { px.hypot(py) };
            if off > worst.0 {
                worst = (off, k);
            }
        }
        if worst.1 > i {
            keep[worst.1] = true;
            open.extend([(i, worst.1), (worst.1, j)]);
        }
    }
    points.iter().zip(keep).filter(|(_, k)| *k).map(|(p, _)| *p).collect()
}

const STYLE: &str = "
:root { --rust: #9a4516; --ink: #111; --soft: #5a5a5a; --rule: #c9c4be; }
* { box-sizing: border-box; }
@page { size: A4; margin: 15mm 15mm 17mm;
  @bottom-right { content: counter(page) ' / ' counter(pages); font: 10pt sans-serif; color: #5a5a5a; } }
@page strength { @bottom-left { content: 'Preliminary: a licensed engineer and the local code decide';
  font: 10pt sans-serif; color: #5a5a5a; } }
.strength { page: strength; }
html { background: #fff; color: var(--ink); }
body { margin: 0 auto; max-width: 180mm; font: 12pt/1.45 'Helvetica Neue', Helvetica, Arial, 'Liberation Sans', sans-serif; }
h1 { font-size: 50pt; line-height: 1; letter-spacing: -0.02em; margin: 1mm 0 5mm; overflow-wrap: anywhere; }
h2 { font-size: 26pt; line-height: 1.1; letter-spacing: -0.01em; margin: 0 0 4mm; padding-top: 3mm;
  border-top: 1.2mm solid var(--rust); break-after: avoid; }
h3 { font-size: 14pt; margin: 5mm 0 1mm; break-after: avoid; }
p { margin: 0 0 3mm; }
small, .small { font-size: 11pt; color: var(--soft); font-weight: normal; }
.kind { color: var(--rust); font-weight: bold; margin: 0; padding-top: 3mm; border-top: 1.2mm solid var(--rust); }
.stop { border: 0.8mm solid var(--rust); padding: 2mm 3mm; font-weight: bold; }
section { padding: 8mm 0; }
.cover > svg { display: block; margin: 0 auto 6mm; }
.figures { display: grid; grid-template-columns: repeat(4, auto); gap: 4mm 7mm; margin: 0 0 5mm;
  padding-top: 4mm; border-top: 0.3mm solid var(--ink); justify-content: space-between; }
.figures dt { font-size: 11pt; line-height: 1.2; color: var(--soft); max-width: 44mm; }
.figures dd { margin: 0; font-size: 17pt; font-weight: bold; white-space: nowrap; }
svg { height: auto; max-width: 100%; overflow: visible; }
svg path { fill: none; stroke: var(--ink); vector-effect: non-scaling-stroke; stroke-linejoin: round; stroke-linecap: round; }
svg .seam { stroke-width: 1.5px; }
svg .fold { stroke-width: 0.5px; }
svg .mark { stroke-width: 0.5px; }
svg .helper { stroke: var(--rust); stroke-width: 0.75px; }
svg text { font-family: inherit; fill: var(--ink); }
.views { display: grid; gap: 8mm 6mm; align-items: end; }
figure { margin: 0; break-inside: avoid; }
figcaption { font-weight: bold; margin-top: 2mm; }
table { border-collapse: collapse; width: 100%; font-size: 11pt; line-height: 1.3; }
thead { display: table-header-group; }
tfoot { display: table-row-group; }
tr { break-inside: avoid; }
th { text-align: left; vertical-align: bottom; padding: 1mm 3mm 1.5mm 0; border-bottom: 0.5mm solid var(--ink); }
td { vertical-align: top; padding: 2mm 3mm 2mm 0; border-bottom: 0.2mm solid var(--rule); overflow-wrap: break-word; }
th:last-child, td:last-child { padding-right: 0; }
tfoot td { font-weight: bold; border-bottom: 0; border-top: 0.5mm solid var(--ink); }
.n { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
.parts td { vertical-align: middle; }
.thumbnail { width: 40mm; line-height: 0; text-align: center; }
.level { white-space: nowrap; font-weight: bold; }
.sign { color: var(--rust); display: inline-block; width: 1.2em; text-align: center; }
.remedy { color: var(--soft); }
ul { margin: 0 0 3mm; padding-left: 6mm; }
li { margin-bottom: 1.5mm; break-inside: avoid; }
li::marker { color: var(--rust); }
dl.terms { margin: 0; display: grid; grid-template-columns: 34mm 1fr; gap: 2mm 4mm; }
dl.terms dt { font-weight: bold; }
dl.terms dd { margin: 0; }
@media screen { body { padding: 10mm 6mm 30mm; } }
@media print { section { padding: 0; } section.chapter { break-before: page; } section.text { break-before: auto; padding-top: 8mm; } }
";

const HOW_TO_READ: &str = "
<section class=\"chapter\"><h2>How to read the templates</h2>
<p>Every template is in true size. Measure the 100 mm bar of a print before cutting: if it is not 100 mm long,
the printer has scaled the page. Outlines are seen from <b>outside</b>, the weather side; laid on the inside of a
sheet they must be turned over. The arrow points up on the finished work.</p>
<dl class=\"terms\">
<dt>wrap</dt><dd>The outline along the skin of the sheet. For card or vinyl that is pressed into the ribs and
followed with the cutter; the marks must come to lie on the crests.</dd>
<dt>plan</dt><dd>The outline seen square to the face. For a cutting head that travels level above the formed sheet;
not to be pressed into the ribs.</dd>
<dt>blank</dt><dd>The outline of the flat blank before folding, on the neutral line, with bend lines. For sheet that
is cut flat and then folded; the bend allowance is worked in.</dd>
</dl>
<h3>Lines and layers</h3>
<dl class=\"terms\">
<dt>CUT</dt><dd>Outlines and holes, each closed. The line is the edge of the part: the kerf is not worked in.</dd>
<dt>BEND-UP, BEND-DOWN</dt><dd>Bend lines, folding towards you and away from you as you look at the outside.
Angle and inside radius stand beside them.</dd>
<dt>MARK</dt><dd>Crest and fold marks and the arrow: to scribe, never to cut.</dd>
<dt>TEXT</dt><dd>The name of the part and its writing.</dd>
</dl>
<h3>Names</h3>
<p><b>A/east</b> is the east face of element A; <b>A/east.2</b> a second piece of it; <b>A/east~A/top</b> the seam
between two faces, or the closure strip that fills it. A <b>true</b> joint has both sheets cut to the very line in
which the two surfaces meet; a <b>mitre</b> has both cut on the plane half-way between the faces, with a flat
closure strip where the two wavy edges do not meet.</p>
</section>
";

const CAUTIONS: &str = "
<section class=\"chapter\"><h2>Cautions</h2>
<p>What stands here is common practice, without a source, and no more than a reminder. The people on site, the
local code and a licensed engineer decide.</p>
<ul>
<li><b>Figures.</b> All figures in this book are worked out from the drawn shape, the nominal thickness and the
density set in the script. They are preliminary. Strength, standing, wind and ground have to be checked by a
licensed engineer before anything is put up where people can reach it.</li>
<li><b>Standing.</b> A leaning stack can topple while it is still being built, long before its parts hold each
other. Prop every element on its own until all seams are welded. The centre of mass on the cover is that of the
finished shell alone, without spine, base, water or snow.</li>
<li><b>Lifting.</b> Weigh before you lift; welds, fittings and trapped water add to the mass in this book. Never lift by a sheet
edge or a single tack. Rigging is planned and done by trained people with tested gear; nobody stands
below.</li>
<li><b>Fume.</b> Cutting and welding weathering steel gives off fume that holds chromium, copper, nickel and
manganese. Salvaged sheet may also carry zinc, old paint with lead or chromate, oil or asbestos dust: have it tested,
strip it where it will be heated. Extract at the arc, wear a fitting respirator, keep others away.</li>
<li><b>Closed spaces.</b> The inside of an element is a confined space once it is closed: gas from welding
displaces air. Never work inside alone. Vent every closed chamber before welding it shut.</li>
<li><b>Edges.</b> Wavy cut edges are long and as sharp as blades. Cut-proof gloves and sleeves; deburr before handling;
cap edges that stay within reach of the public.</li>
<li><b>Fire.</b> Sparks run along the ribs and through the seams. Clear both sides, keep a fire watch after the last
weld.</li>
<li><b>Rust.</b> Water must find its way out of every valley: run-off stains stone and concrete, and steel that stays wet does not
form its protective skin.</li>
</ul>
</section>
";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::job::samples::{templates, work};
    use crate::registry::Registry;
    use crate::table::{Cell, Column, Table};

    fn book_of(work: &Work) -> String {
        let registry = Registry::standard();
        let mut output = Output { templates: templates(), ..Output::default() };
        for stage in [crate::stage::schedules::ROW, crate::stage::views::ROW] {
            (stage.run)(work, &registry, &mut output).expect("runs");
        }
        output.tables.push(Table {
            name: "sheets".to_owned(),
            title: "Sheets to buy".to_owned(),
            columns: vec![Column { name: "sheet".to_owned() }],
            rows: vec![vec![Cell::Number(3.0, 0)]],
        });
        let files = write(work, &output).expect("writes");
        assert_eq!(files[0].path, "book.html");
        String::from_utf8(files[0].bytes.clone()).expect("UTF-8")
    }

    #[test]
    fn it_holds_every_part_seam_finding_and_view_and_other_schedules_too() {
        let book = book_of(&work());
        for text in
            ["A/<wbr>south~<wbr>A/<wbr>top", "a piece of 350 mm²", "Seen from the north", "Sheets to buy"]
        {
            assert!(book.contains(text), "{text}");
        }
        assert_eq!(book.matches("<svg").count(), 1 + 5 + 2, "cover, elevations and plan, two thumbnails");
        for text in ["Lifting.", "Fume.", "licensed engineer", "▲</span> Warning", "○</span> Note"] {
            assert!(book.contains(text), "{text}");
        }
    }

    #[test]
    fn it_is_one_well_formed_file_that_fetches_nothing() {
        let book = book_of(&work());
        for word in ["src=", "href=", "url(", "@import", "<script", "<link"] {
            assert!(!book.contains(word), "{word}");
        }
        for svg in book.split("<svg").skip(1) {
            let svg = format!("<svg{}", svg.split_inclusive("</svg>").next().expect("ends"));
            usvg::Tree::from_str(&svg, &usvg::Options::default()).expect("an SVG reader takes it");
        }
    }

    #[test]
    fn names_cannot_break_out_of_their_place() {
        let mut work = work();
        work.sculpture.name = "</title><script>alert('x')</script>".to_owned();
        work.sculpture.elements[0].solid.name = "<b>&".to_owned();
        assert!(!book_of(&work).contains("<script"), "escaped");
    }

    #[test]
    fn an_error_is_said_on_the_cover() {
        let mut broken = work();
        broken.findings.insert(0, Finding::new(Level::Error, "open", "A", "not closed", "shift the ribs"));
        assert!(book_of(&broken).contains("Do not build from this"), "said");
        assert!(!book_of(&work()).contains("Do not build from this"), "only then");
    }

    #[test]
    fn elevations_share_a_scale_on_which_a_rule_can_be_laid() {
        // Two rows of 1700 and a plan of 342 in some 170 mm: 1 : 20 would take 187 mm without any measures.
        let book = book_of(&work());
        assert!(["25", "30", "40"].iter().any(|s| book.contains(&format!("All at 1 : {s} "))), "scale");
    }

    #[test]
    fn simplifying_keeps_what_matters_and_no_stage_means_no_book() {
        let line = [[0.0, 0.0], [1.0, 0.01], [2.0, 0.0], [3.0, 1.0], [4.0, 0.0]];
        assert_eq!(simplified(&line, 0.1), [[0.0, 0.0], [2.0, 0.0], [3.0, 1.0], [4.0, 0.0]]);
        assert_eq!(simplified(&[[0.0, 0.0], [0.0, 3.0], [0.0, 0.0]], 0.1).len(), 3, "there and back");
        assert!(write(&work(), &Output::default()).expect("writes").is_empty(), "nothing to show");
    }

    #[test]
    fn coordinates_are_short() {
        assert_eq!(["0", "-0.1", "12"].map(str::to_owned), [tenths(-0.04), tenths(-0.1), tenths(12.04)]);
    }
}
