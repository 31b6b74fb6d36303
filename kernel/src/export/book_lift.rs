//! The chapters of the job book about base, inside plates, lifting and delivery: drawings, tables and cautions.

use super::book_content::{Chapter, Line};
use super::book_picture::{Picture, SMALL_LETTERS};
use super::book_tables;
use crate::drawing::Drawing;
use crate::output::Output;
use crate::table::Table;

/// The tables shown here.
pub(super) const TABLES: [&str; 8] =
    ["base", "anchors", "skirt", "skirt_seams", "plates", "lifting", "lifting_legs", "delivery"];

/// Width and height a drawing may take, mm.
const ROOM: [f64; 2] = [180.0, 110.0];

/// The chapters, for the tables that are there.
pub(super) fn chapters(output: &Output) -> Vec<Chapter<'_>> {
    [
        chapter(output, "Base", &TABLES[..4], &["base"],
            "Preliminary. Loads carry partial factors, and every figure is the worst of all sides and of both factors on weight. \
             Anchors are worked out with a plate that stays flat, presses without pull and is held by anchors that only pull; the concrete cone \
             is one of several checks of EN 1992-4. A licensed engineer, the anchor's approval and the local code decide \
             on plate, anchors, foundation and ground."),
        chapter(output, "Inside plates", &TABLES[4..5], &["plate_"],
            "Preliminary. The table says from where each plate is set and welded, before the element is closed. \
             The space is confined: vent it, measure the air, have someone stand by outside. Water must find its way past \
             every plate to the drain of the base. A licensed engineer decides on thickness and welds."),
        chapter(output, "Lifting and delivery", &TABLES[5..], &["lifting-", "delivery-"],
            "Preliminary. A competent lifting person plans the lift and a licensed engineer checks eyes, welds and the sheet \
             they pull at: none of them is checked here. Weigh the piece first. Four legs are rated as if two or three carried \
             everything, for slings are never equally long. No leg flatter than 30 degrees to the horizontal. Nobody stands \
             below, and a tag line keeps it from turning. Boxes are those of the outermost crests."),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// A chapter of these tables and of the drawings whose names begin so; none if no table is there.
pub(super) fn chapter<'a>(
    output: &'a Output,
    title: &str,
    tables: &[&str],
    drawings: &[&str],
    caution: &str,
) -> Option<Chapter<'a>> {
    let shown: Vec<&Table> =
        tables.iter().filter_map(|name| output.tables.iter().find(|t| t.name == *name)).collect();
    if shown.is_empty() {
        return None;
    }
    let pictures: Vec<&Drawing> =
        output.drawings.iter().filter(|d| drawings.iter().any(|p| d.name.starts_with(p))).collect();
    let id = title.to_lowercase().replace(' ', "-");
    let mut chapter = Chapter { strength: true, ..Chapter::new(&id, title) };
    chapter.text(Line::new().bold("Caution. ").text(caution));
    for table in shown {
        book_tables::titled(&mut chapter, table);
    }
    for drawing in pictures {
        chapter.picture(Picture::fitted(drawing, ROOM, SMALL_LETTERS));
    }
    Some(chapter)
}
