//! The chapter of the job book about the spine: where it goes, how its legs are cut, and what to mind.

use super::book_content::{Block, Chapter, Line};
use super::book_picture::{Picture, SMALLEST_LETTERS as LETTERS};
use super::book_tables;
use crate::finding::Finding;
use crate::output::Output;

/// The tables shown here.
pub(super) const TABLES: [&str; 5] =
    ["spine", "spine_bars", "spine_openings", "spine_holes", "spine_branches"];

/// Findings of this chapter begin so.
const CODES: &str = "spine-";

/// Width and height the drawing may take, mm.
const ROOM: [f64; 2] = [180.0, 132.0];

/// The chapter, if there is a spine or a word on why there is none.
pub(super) fn chapter<'a>(output: &'a Output, findings: &[&Finding]) -> Option<Chapter<'a>> {
    let said: Vec<&Finding> = findings.iter().copied().filter(|f| f.code.starts_with(CODES)).collect();
    let tables = || TABLES.iter().filter_map(|name| output.tables.iter().find(|t| t.name == *name));
    if said.is_empty() && tables().next().is_none() {
        return None;
    }
    let mut chapter = Chapter { strength: true, ..Chapter::new("spine", "Spine") };
    chapter.text(Line::new().bold("Caution. ").text(CAUTION));
    if let Some(built) = &output.spine {
        let legs = built.points.len() - 1;
        let clear = match built.clearance.is_finite() {
            true => format!(", at least {:.1} mm clear of all sheet", built.clearance),
            false => String::new(),
        };
        chapter.text(format!(
            "Tube {}, {}: {:.2} m in {legs} leg{}{clear}.",
            built.tube.words(),
            built.material.name,
            built.length() / 1000.0,
            if legs == 1 { "" } else { "s" },
        ));
    }
    said_here(&mut chapter, &said);
    if let Some(d) = output.drawings.iter().find(|d| d.name == "spine") {
        chapter.picture(Picture::fitted(d, ROOM, LETTERS));
    }
    for table in tables() {
        book_tables::titled(&mut chapter, table);
    }
    if output.spine.is_some() {
        chapter.heading("How the legs are marked and cut");
        let items = CUTTING.iter().map(|&text| Line::from(text)).collect();
        chapter.blocks.push(Block::List { numbered: true, items });
        if !output.papers.is_empty() {
            let mut line = Line::from("Full-size templates (svg, pdf, dxf): ");
            for (k, paper) in output.papers.iter().enumerate() {
                let comma = if k > 0 { ", " } else { "" };
                line = line.text(comma).code(format!("templates/{}", paper.stem));
            }
            chapter.text(line);
        }
    }
    Some(chapter)
}

/// Findings that belong to a chapter.
pub(super) fn said_here(chapter: &mut Chapter<'_>, said: &[&Finding]) {
    if !said.is_empty() {
        chapter.list(said.iter().map(|f| {
            let what = Line::new().bold(format!("{}: ", f.place)).text(format!("{}. ", f.message));
            what.small(format!("→ {}", f.remedy))
        }));
    }
}

const CAUTION: &str = "Preliminary. Size, wall, grade, mitres, welds and the foot on the base are for a licensed engineer \
    and the local code; nothing here says that the tube carries anything. The gap holds for sheets and tube as \
    drawn: check the room with a stick of the tube's width before the next element closes it. Inside an element the \
    space is confined: vent it, measure the air, have someone stand by outside. Mitres are fitted up dry, tacked, \
    checked for turn, and welded through by qualified welders; weld on the bench whatever can be lowered in. \
    Until it is welded at its foot and at every plate, each leg is propped or slung.";

const CUTTING: [&str; 4] = [
    "Scribe the mark line along the tube: on it both templates of a leg are set.",
    "Wrap each template round the tube, cut line towards the end, seam and LEG line as drawn, until its edges meet. \
     The witness line must close on itself and lie square.",
    "From witness line to witness line is the leg's centre line less both distances written on them: measure it before \
     cutting.",
    "Cut, bevel for the weld as the welding procedure says, and put legs together by their numbers, mark line as in the \
     schedule.",
];
