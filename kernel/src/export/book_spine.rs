//! The chapter of the job book about the spine: where it goes, how its legs are cut, and what to mind.

use super::book::{breakable, fitted_with};
use super::book_tables::laid_out;
use crate::finding::Finding;
use crate::work::Output;
use maud::{Markup, html};

/// The tables shown here.
pub(super) const TABLES: [&str; 5] =
    ["spine", "spine_bars", "spine_openings", "spine_holes", "spine_branches"];

/// Findings of this chapter begin so.
const CODES: &str = "spine-";

/// Width and height the drawing may take, and the least size of its letters, mm.
const ROOM: [f64; 2] = [180.0, 132.0];
const LETTERS: f64 = 2.9;

/// The chapter, if there is a spine or a word on why there is none.
pub(super) fn chapter(output: &Output, findings: &[&Finding]) -> Markup {
    let said: Vec<&&Finding> = findings.iter().filter(|f| f.code.starts_with(CODES)).collect();
    let tables = || TABLES.iter().filter_map(|name| output.tables.iter().find(|t| t.name == *name));
    if said.is_empty() && tables().next().is_none() {
        return html! {};
    }
    html! {
        section.chapter.strength {
            h2 { "Spine" }
            p { b { "Caution. " } "Preliminary. Size, wall, grade, mitres, welds and the foot on the base are for a licensed engineer "
                "and the local code; nothing here says that the tube carries anything. The gap holds for sheets and tube as "
                "drawn: check the room with a stick of the tube's width before the next element closes it. Inside an element the "
                "space is confined: vent it, measure the air, have someone stand by outside. Mitres are fitted up dry, tacked, "
                "checked for turn, and welded through by qualified welders; weld on the bench whatever can be lowered in. "
                "Until it is welded at its foot and at every plate, each leg is propped or slung." }
            @if let Some(built) = &output.spine {
                p { "Tube " (built.tube.words()) ", " (built.material.name) ": " (format!("{:.2}", built.length() / 1000.0)) " m in "
                    (built.points.len() - 1) @if built.points.len() == 2 { " leg" } @else { " legs" }
                    @if built.clearance.is_finite() { ", at least " (format!("{:.1}", built.clearance)) " mm clear of all sheet" }
                    "." }
            }
            @if !said.is_empty() {
                ul { @for f in said { li { b { (breakable(&f.place)) ": " } (f.message) ". " span.remedy { "→ " (f.remedy) } } } }
            }
            @if let Some(d) = output.drawings.iter().find(|d| d.name == "spine") {
                figure { (fitted_with(d, ROOM, LETTERS)) figcaption { (d.title) } }
            }
            @for table in tables() {
                h3 { (table.title) }
                (laid_out(table))
            }
            @if output.spine.is_some() {
                h3 { "How the legs are marked and cut" }
                ol {
                    li { "Scribe the mark line along the tube: on it both templates of a leg are set." }
                    li { "Wrap each template round the tube, cut line towards the end, seam and LEG line as drawn, until its edges meet. "
                         "The witness line must close on itself and lie square." }
                    li { "From witness line to witness line is the leg's centre line less both distances written on them: measure "
                         "it before cutting." }
                    li { "Cut, bevel for the weld as the welding procedure says, and put legs together by their numbers, mark line "
                         "as in the schedule." }
                }
                @if !output.papers.is_empty() {
                    p { "Full-size templates: " @for (k, paper) in output.papers.iter().enumerate() {
                        @if k > 0 { ", " } code { "templates/" (paper.stem) }
                    } " (svg, pdf, dxf)." }
                }
            }
        }
    }
}
