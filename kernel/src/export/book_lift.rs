//! The chapters of the job book about base, inside plates, lifting and delivery: drawings, tables and cautions.

use super::book_content::{Block, Chapter, Line, PAGE_WIDTH};
use super::book_cover::GAP;
use super::book_picture::{Picture, SMALL_LETTERS};
use super::book_tables;
use crate::drawing::Drawing;
use crate::output::Output;
use crate::table::Table;

/// The tables shown here.
pub(super) const TABLES: [&str; 8] =
    ["base", "anchors", "skirt", "skirt_seams", "plates", "lifting", "lifting_legs", "delivery"];

/// Width and height a drawing may take, mm: alone in its row, and two beside each other, two rows a page.
const ROOM: [f64; 2] = [PAGE_WIDTH, 110.0];
const HALF: [f64; 2] = [(PAGE_WIDTH - GAP) / 2.0, 98.0];

/// The chapters, for the tables that are there.
pub(super) fn chapters(output: &Output) -> Vec<Chapter<'_>> {
    [
        chapter(output, "Base", &TABLES[..4], &["base"], 1,
            "Preliminary. Loads carry partial factors, and every figure is the worst of all sides and of both factors on weight. \
             Anchors are worked out with a plate that stays flat, presses without pull and is held by anchors that only pull; the concrete cone \
             is one of several checks of EN 1992-4. A licensed engineer, the anchor's approval and the local code decide \
             on plate, anchors, foundation and ground."),
        chapter(output, "Inside plates", &TABLES[4..5], &["plate_"], 2,
            "Preliminary. The table says from where each plate is set and welded, before the element is closed. \
             The space is confined: vent it, measure the air, have someone stand by outside. Water must find its way past \
             every plate to the drain of the base. A licensed engineer decides on thickness and welds."),
        chapter(output, "Lifting and delivery", &TABLES[5..], &["lifting-", "delivery-"], 2,
            "Preliminary. A competent lifting person plans the lift and a licensed engineer checks eyes, welds and the sheet \
             they pull at: none of them is checked here. Weigh the piece first. Four legs are rated as if two or three carried \
             everything, for slings are never equally long. No leg flatter than 30 degrees to the horizontal. Nobody stands \
             below, and a tag line keeps it from turning. Boxes are those of the outermost crests."),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// A chapter of these tables and of the drawings whose names begin so, so many beside each other; none if no table is there.
pub(super) fn chapter<'a>(
    output: &'a Output,
    title: &str,
    tables: &[&str],
    drawings: &[&str],
    columns: usize,
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
    let room = if columns == 1 { ROOM } else { HALF };
    let pictures: Vec<Picture<'a>> =
        pictures.into_iter().filter_map(|d| Picture::fitted(d, room, SMALL_LETTERS)).collect();
    // One picture is what the tables speak of: it stands before them, and they fill what is left of its page.
    let first = pictures.len() == 1;
    let tables = |chapter: &mut Chapter<'a>| {
        for table in &shown {
            book_tables::titled(chapter, table);
        }
    };
    if !first {
        tables(&mut chapter);
    }
    if !pictures.is_empty() {
        chapter.blocks.push(Block::Pictures { columns, pictures });
    }
    if first {
        tables(&mut chapter);
    }
    Some(chapter)
}
