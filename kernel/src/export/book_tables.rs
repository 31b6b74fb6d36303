//! Schedules in the job book: any table, laid out so that it fits the width of a page.
//!
//! A column headed `±` stands in the cell of the figure before it. What is still too wide is parted by columns into
//! several tables, each of which begins with the columns that name the row.

use super::book_content::{Chapter, Column, Grid, Line, PAGE_WIDTH, Row};
use super::book_fonts::{Weight, width};
use super::csv::cell_text;
use crate::table::{Cell, Table};

/// Size of the letters of tables, mm: 10 points, readable at arm's length.
pub(super) const TABLE_LETTERS: f64 = 10.0 * 25.4 / 72.0;
/// Room between two columns, mm.
pub(super) const BETWEEN: f64 = 3.0;
/// Words may be broken over lines, but a column of words is given this much room, mm, where it has them.
const WORDS: f64 = 42.0;
/// Least width of a column of words that share a table with others, mm.
const LEAST_WORDS: f64 = 21.0;
/// Columns that are left out where no row has anything to say in them.
const SELDOM: [&str; 6] = ["remarks", "grade", "damage mm", "vehicle", "doorway", "ceiling"];
/// Browsers round widths: as much room as this share is left over.
const SPARE: f64 = 0.97;

/// One table as a chapter of its own.
pub(super) fn chapter<'a>(table: &Table, caution: Option<&str>) -> Chapter<'a> {
    let mut chapter = Chapter::new(&format!("schedule-{}", table.name), &table.title);
    if let Some(caution) = caution {
        chapter.text(Line::new().bold("Caution. ").text(caution));
    }
    push(&mut chapter, table);
    chapter
}

/// A table with its title above.
pub(super) fn titled(chapter: &mut Chapter<'_>, table: &Table) {
    chapter.heading(&table.title);
    push(chapter, table);
}

/// A table without its title.
pub(super) fn push(chapter: &mut Chapter<'_>, table: &Table) {
    for grid in grids(table) {
        chapter.blocks.push(super::book_content::Block::Grid(grid));
    }
    if table.rows.is_empty() {
        chapter.text("Nothing to list.");
    }
}

/// The table, parted where it is too wide.
fn grids<'a>(table: &Table) -> Vec<Grid<'a>> {
    let columns = columns(table);
    let key = key(&columns, table.rows.len());
    let blocks = blocks(&columns, key);
    let grid = |block: &Vec<usize>| Grid {
        shows: vec![table.name.clone()],
        class: "",
        columns: block
            .iter()
            .map(|&k| Column { head: columns[k].heading.into(), number: columns[k].number })
            .collect(),
        rows: (0..table.rows.len())
            .map(|row| Row::body(block.iter().map(|&k| Line::from(columns[k].cells[row].as_str())).collect()))
            .collect(),
    };
    blocks.iter().map(grid).collect()
}

/// A column as it is shown.
struct Shown<'a> {
    heading: &'a str,
    number: bool,
    cells: Vec<String>,
}

/// Width of the longest piece of a text that is not broken, mm; lines may be broken after these signs.
pub(super) fn longest_word(text: &str, weight: Weight) -> f64 {
    let ends = |c: char| c.is_whitespace() || c == '/' || c == '~';
    let words = text.split_inclusive(ends).map(|w| width(w.trim_end(), weight));
    words.fold(0.0, f64::max) * TABLE_LETTERS
}

impl Shown<'_> {
    /// Width that it needs, mm.
    fn width(&self) -> f64 {
        let most = |f: &dyn Fn(&str) -> f64| self.cells.iter().map(|c| f(c)).fold(0.0, f64::max);
        let heading = longest_word(self.heading, Weight::Bold);
        let whole = most(&|text| width(text, Weight::Regular) * TABLE_LETTERS);
        if self.number {
            return heading.max(whole);
        }
        let word = most(&|text| longest_word(text, Weight::Regular));
        heading.max(word.max(LEAST_WORDS.min(whole))).max(whole.min(WORDS))
    }
}

fn columns(table: &Table) -> Vec<Shown<'_>> {
    let mut shown: Vec<Shown<'_>> = Vec::new();
    for (k, column) in table.columns.iter().enumerate() {
        let cells = table.rows.iter().map(|row| row.get(k).map(cell_text).unwrap_or_default());
        if column.name.starts_with('±')
            && let Some(of) = shown.last_mut().filter(|of| of.number)
        {
            for (cell, spread) in of.cells.iter_mut().zip(cells).filter(|(_, spread)| !spread.is_empty()) {
                cell.push_str(" ± ");
                cell.push_str(&spread);
            }
            continue;
        }
        let mut found =
            table.rows.iter().filter_map(|row| row.get(k)).filter(|c| **c != Cell::Empty).peekable();
        let number = found.peek().is_some() && found.all(|cell| matches!(cell, Cell::Number(..)));
        // Elsewhere an empty field may say something; the schedule's file keeps all headings.
        let cells: Vec<String> = cells.collect();
        if SELDOM.contains(&column.name.as_str()) && !cells.is_empty() && cells.iter().all(String::is_empty) {
            continue;
        }
        shown.push(Shown { heading: &column.name, number, cells });
    }
    shown
}

/// How many of the first columns it takes to tell every row from the others: one at least, words only, or else words and
/// one column of numbers after them, as sheet and number.
fn key(columns: &[Shown<'_>], rows: usize) -> usize {
    let words = columns.iter().take_while(|c| !c.number).count().max(1);
    let most = (words + 1).min(columns.len());
    let all_differ = |count: usize| {
        let mut names: Vec<Vec<&str>> =
            (0..rows).map(|r| columns[..count].iter().map(|c| c.cells[r].as_str()).collect()).collect();
        names.sort_unstable();
        names.windows(2).all(|pair| pair[0] != pair[1])
    };
    (1..=most).find(|&count| all_differ(count)).unwrap_or(1)
}

/// The columns of each part of a table.
fn blocks(columns: &[Shown<'_>], key: usize) -> Vec<Vec<usize>> {
    let page = PAGE_WIDTH * SPARE;
    let widths: Vec<f64> = columns.iter().map(|c| c.width() + BETWEEN).collect();
    let key = key.min(columns.len());
    let keys: f64 = widths[..key].iter().sum();
    let rest: f64 = widths[key..].iter().sum();
    if keys + rest <= page || key == columns.len() {
        return vec![(0..columns.len()).collect()];
    }
    // As few parts as it takes, about equally wide.
    let room = (page - keys).max(BETWEEN);
    let even = rest / (rest / room).ceil();
    let mut blocks = Vec::new();
    let (mut block, mut taken): (Vec<usize>, f64) = ((0..key).collect(), 0.0);
    for (k, &width) in widths.iter().enumerate().skip(key) {
        let full = taken >= even || taken + width > room;
        if full && block.len() > key {
            blocks.push(std::mem::replace(&mut block, (0..key).collect()));
            taken = 0.0;
        }
        block.push(k);
        taken += width;
    }
    blocks.push(block);
    blocks
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(names: &[&str], rows: Vec<Vec<Cell>>) -> Table {
        let columns = names.iter().map(|n| crate::table::Column { name: (*n).to_owned() }).collect();
        Table { name: "t".to_owned(), title: "T".to_owned(), columns, rows }
    }

    #[test]
    fn a_spread_stands_beside_its_figure() {
        let row = vec![Cell::Text("A".to_owned()), Cell::Number(3.23, 2), Cell::Number(0.01, 2)];
        let table = table(&["seam", "greatest mm", "± mm"], vec![row]);
        let columns = columns(&table);
        let headings: Vec<&str> = columns.iter().map(|c| c.heading).collect();
        assert_eq!((headings, columns[1].cells[0].as_str()), (vec!["seam", "greatest mm"], "3.23 ± 0.01"));
    }

    #[test]
    fn wide_tables_are_parted_and_every_part_names_its_rows() {
        let names: Vec<String> = ["seam", "way"]
            .iter()
            .map(ToString::to_string)
            .chain((0..20).map(|k| format!("figure{k} mm")))
            .collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let row = |way: &str| {
            let figures = (0..20).map(|k| Cell::Number(f64::from(k), 1));
            ["A/east~A/top", way].map(|t| Cell::Text(t.to_owned())).into_iter().chain(figures).collect()
        };
        let table = table(&names, vec![row("one"), row("other")]);
        let columns = columns(&table);
        assert_eq!(key(&columns, 2), 2, "the seam alone does not tell the rows apart");
        let blocks = blocks(&columns, 2);
        assert!(blocks.len() > 1, "{blocks:?}");
        let mut seen: Vec<usize> = Vec::new();
        for block in &blocks {
            assert_eq!(block[..2], [0, 1], "every part begins with what names the row");
            let width: f64 = block.iter().map(|&k| columns[k].width() + BETWEEN).sum();
            assert!(width <= PAGE_WIDTH, "{block:?} is {width} wide");
            seen.extend(&block[2..]);
        }
        assert_eq!(seen, (2..22).collect::<Vec<_>>(), "every column once, in order");
    }

    #[test]
    fn a_number_helps_to_name_the_row_where_words_do_not_tell_it() {
        let row = |sheet: &str, number: f64, mm: f64| {
            vec![Cell::Text(sheet.to_owned()), Cell::Number(number, 0), Cell::Number(mm, 1)]
        };
        let rows = vec![row("B04", 1.0, 24.6), row("B04", 2.0, 24.6), row("B06", 1.0, 24.6)];
        let sheets = table(&["sheet", "number", "along mm"], rows);
        assert_eq!(key(&columns(&sheets), 3), 2, "sheet and number");
        let one = table(&["sheet", "number"], vec![row("B04", 1.0, 0.0), row("B06", 1.0, 0.0)]);
        assert_eq!(key(&columns(&one), 2), 1, "the sheet is enough");
    }

    #[test]
    fn remarks_that_no_row_has_are_left_out() {
        let row = vec![Cell::Text("B04".to_owned()), Cell::Text(String::new()), Cell::Empty];
        let table = table(&["sheet", "remarks", "least shift mm"], vec![row]);
        let headings: Vec<&str> = columns(&table).iter().map(|c| c.heading).collect();
        assert_eq!(headings, ["sheet", "least shift mm"], "an empty shift says that there is room");
    }

    #[test]
    fn narrow_and_empty_tables_stay_whole() {
        let narrow = table(&["part", "mm"], Vec::new());
        assert_eq!(blocks(&columns(&narrow), 1), vec![vec![0, 1]]);
    }
}
