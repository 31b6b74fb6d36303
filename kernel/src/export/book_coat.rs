//! The chapters of the job book about coating the inside by turning, and about water.

use super::book_content::{Chapter, Line};
use super::book_lift::chapter;
use crate::output::Output;

/// The tables shown here.
pub(super) const TABLES: [&str; 12] = [
    "coat-steps",
    "coat",
    "coat-walls",
    "coat-turns",
    "coat-litres",
    "water",
    "water-remedies",
    "water-together",
    "water-falls",
    "water-seams",
    "water-inside",
    "water-rust",
];

/// Name of the chapter on the steps, and how drawings of all steps together begin.
const STEPS: &str = "coating-the-inside";
const STRIP: &str = "coating-";

/// The chapters, for the tables that are there.
pub(super) fn chapters(output: &Output) -> Vec<Chapter<'_>> {
    let mut chapters: Vec<Chapter<'_>> = [
        chapter(output, "Coating the inside", &TABLES[..5], &["coat-"], 1,
            "Hot wax burns and catches fire, its vapour and solvents can choke: follow the maker's data sheet and the local \
             rules, keep flame and hot steel away, vent, and never work alone. Ask those who sell and spray the wax first. A \
             work on a rig is a moving load: weigh it, have a competent person check the rig, lock it in every stand, and \
             keep everyone clear while it turns. The maker of the rig and local rules on lifting decide. Slopping liquid adds \
             to the moments given here. Turn slowly: the figures count wax at rest in pools, as if every hollow beside the pool \
             were full first, all walls as smooth sheet, and nothing that stands inside (spine, plates). Read the tilt on a \
             level laid along the axis, the turn on one square to it."),
        chapter(output, "Water", &TABLES[5..], &["water-"], 1,
            "Preliminary. Water is looked for on the nominal work: real sheets, welds and settlement make hollows of their \
             own, so look again after rain. Leaves and dirt hold water where the figures say it runs off. Of changes \
             that drain a place, the smallest is what moves steel least; a hole counts with its diameter. What a hole lets into \
             a chamber has to run out below. Rust: first year by the upper end of ISO 9223 and ISO 12944-2 for bare carbon steel, \
             law of ISO 9224, its exponent from memory; weathering steel that dries often loses less, and where water or dirt \
             stays it loses more. A licensed engineer decides on thickness and its loss by rust."),
    ].into_iter().flatten().collect();
    // The steps are shown one by one: the sheet with all of them is named.
    let strips: Vec<String> =
        output.drawings.iter().map(|d| &d.name).filter(|n| n.starts_with(STRIP)).cloned().collect();
    if let Some(chapter) = chapters.first_mut().filter(|c| c.id == STEPS && !strips.is_empty()) {
        let mut line = Line::from("All steps on one sheet, to pin beside the rig: ");
        for (k, name) in strips.iter().enumerate() {
            line = line.text(if k == 0 { "" } else { ", " }).code(format!("drawings/{name}.svg"));
        }
        chapter.text(line.text("."));
        chapter.named.extend(strips);
    }
    chapters
}
