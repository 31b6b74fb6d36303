//! The chapter of the job book on bends: pages to hang at the brake, and how far its bends are alike.
//!
//! A row a bend would fill more pages than the parts themselves: steps and the flats beside each bend stay in the schedule.

use super::book_content::{Block, Chapter, Column, Grid, Line, PAGE_HEIGHT, PAGE_WIDTH, Row};
use super::book_picture::{Picture, SMALLEST_LETTERS};
use super::book_tables;
use super::csv::cell_text;
use crate::output::Output;
use crate::table::Table;
use std::collections::{BTreeMap, BTreeSet};

/// Its table, and how its drawings begin.
const TABLE: &str = "bends";
const DRAWINGS: &str = "bends-";
/// Room for a page of drawings, mm.
const ROOM: [f64; 2] = [PAGE_WIDTH, PAGE_HEIGHT - 10.0];
/// What all bends of one kind share.
const SHARED: [(&str, &str, &str); 3] = [
    ("angle turned degrees", "Angle turned", "°"),
    ("inside radius mm", "Inside radius", "mm"),
    ("allowance mm", "Allowance", "mm"),
];

/// The chapter, if anything is bent.
pub(super) fn chapter(output: &Output) -> Option<Chapter<'_>> {
    let table = output.tables.iter().find(|t| t.name == TABLE && !t.rows.is_empty())?;
    let mut chapter = Chapter::new("bends", table.title.as_str());
    chapter.text(Line::new().bold("Caution. ").text(
        "Long blanks whip as the brake closes: guards in place, nobody within reach of the swing, two people and supports \
         for what one cannot hold. Bend a strip of the same sheet first. The brake's own papers decide.",
    ));
    match kinds(table) {
        Some(grid) => {
            chapter.blocks.push(Block::Grid(grid));
            chapter.text(
                Line::from("Flats before and after each bend, and steps, are in ")
                    .code("schedules/bends.csv")
                    .text("."),
            );
        }
        None => book_tables::push(&mut chapter, table),
    }
    for drawing in output.drawings.iter().filter(|d| d.name.starts_with(DRAWINGS)) {
        chapter.picture(Picture::fitted(drawing, ROOM, SMALLEST_LETTERS));
    }
    Some(chapter)
}

/// A row for each kind of bend: what its bends share, how many there are, and in how many parts.
fn kinds<'a>(table: &Table) -> Option<Grid<'a>> {
    let at = |name: &str| table.columns.iter().position(|c| c.name == name);
    let part = at("part")?;
    let shared: Vec<usize> = SHARED.iter().filter_map(|(name, ..)| at(name)).collect();
    if shared.len() != SHARED.len() {
        return None;
    }
    let mut found: BTreeMap<Vec<String>, (usize, BTreeSet<String>)> = BTreeMap::new();
    for row in &table.rows {
        let words: Vec<String> = shared.iter().map(|&k| cell_text(&row[k])).collect();
        let (bends, parts) = found.entry(words).or_default();
        *bends += 1;
        parts.insert(cell_text(&row[part]));
    }
    let mut columns: Vec<Column> = SHARED.iter().map(|(_, head, unit)| Column::figures(head, unit)).collect();
    columns.extend([Column::figures("Bends", ""), Column::figures("in parts", "")]);
    let row = |(words, (bends, parts)): (Vec<String>, (usize, BTreeSet<String>))| {
        let mut cells: Vec<Line> = words.into_iter().map(Line::from).collect();
        cells.extend([bends, parts.len()].map(|n| Line::from(n.to_string())));
        Row::body(cells)
    };
    let rows = found.into_iter().map(row).collect();
    Some(Grid { shows: vec![table.name.clone()], class: "", columns, rows })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::book_html::chapter_html;
    use crate::table::{Cell, Column};

    #[test]
    fn bends_of_a_kind_are_one_row() {
        let names =
            ["part", "bend", "angle turned degrees", "inside radius mm", "allowance mm", "flat before mm"];
        let columns = names.map(|n| Column { name: n.to_owned() }).to_vec();
        let row = |part: &str, k: u32, angle: f64| {
            let mut row = vec![Cell::Text(part.to_owned()), Cell::Number(f64::from(k), 0)];
            row.extend([angle, 6.0, 5.96, f64::from(k)].map(|x| Cell::Number(x, 1)));
            row
        };
        let rows = vec![
            row("A/east", 1, 48.8),
            row("A/east", 2, 48.8),
            row("A/top", 1, 48.8),
            row("B/top", 1, 60.0),
        ];
        let table = Table { name: TABLE.into(), title: "Bends".into(), columns, rows };
        let grid = kinds(&table).expect("all columns");
        assert_eq!(grid.rows.len(), 2, "two kinds");
        let output = Output { tables: vec![table], ..Output::default() };
        let page = chapter_html(&chapter(&output).expect("a chapter"));
        assert!(page.contains("whip") && page.contains("bends.csv"), "{page}");
        assert!(chapter(&Output::default()).is_none(), "nothing is bent");
    }
}
