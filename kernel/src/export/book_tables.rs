//! Schedules in the job book: any table, laid out so that it fits the width of a page.
//!
//! A column headed `±` stands in the cell of the figure before it. What is still too wide is parted by columns into
//! several tables, each of which begins with the columns that name the row.

use super::book::breakable;
use super::csv::cell_text;
use crate::table::{Cell, Table};
use maud::{Markup, html};

/// Letters of the size of a table that fit side by side on the page (180 mm of 11 points, generous).
const PAGE_LETTERS: usize = 84;
/// Room between two columns, in letters.
const BETWEEN: usize = 2;
/// Words may be broken over lines, but a column of words is given this much room, in letters, where it has them.
const WORDS: usize = 24;
/// Least width of a column of words that share a table with others, in letters.
const LEAST_WORDS: usize = 12;

/// What the style sheet of the book needs for them.
pub(super) const STYLE: &str = "
.schedule th.n { white-space: normal; }
.schedule + p, .schedule + .schedule { margin-top: 7mm; }
";

/// One table as a chapter of its own.
pub(super) fn chapter(table: &Table) -> Markup {
    html! { section.chapter { h2 { (table.title) } (laid_out(table)) } }
}

/// A table without its title.
pub(super) fn laid_out(table: &Table) -> Markup {
    let columns = columns(table);
    let key = key(&columns, table.rows.len());
    html! {
        @for block in blocks(&columns, key) {
            table.schedule {
                thead { tr { @for &k in &block { th.n[columns[k].number] { (columns[k].heading) } } } }
                tbody {
                    @for row in 0..table.rows.len() {
                        tr { @for &k in &block {
                            td.n[columns[k].number] { (breakable(&columns[k].cells[row])) }
                        } }
                    }
                }
            }
        }
    }
}

/// A column as it is shown.
struct Shown<'a> {
    heading: &'a str,
    number: bool,
    cells: Vec<String>,
}

impl Shown<'_> {
    /// Letters side by side that it needs.
    fn width(&self) -> usize {
        let longest = |text: &str, parts: fn(char) -> bool| {
            text.split(parts).map(|word| word.chars().count()).max().unwrap_or(0)
        };
        let heading = longest(self.heading, char::is_whitespace);
        let cells = |f: &dyn Fn(&String) -> usize| self.cells.iter().map(f).max().unwrap_or(0);
        if self.number {
            return heading.max(cells(&|text| text.chars().count()));
        }
        // After these a line may break; the sign itself stays.
        let word = cells(&|text| longest(text, |c| c.is_whitespace() || c == '/' || c == '~') + 1);
        let whole = cells(&|text| text.chars().count());
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
        shown.push(Shown { heading: &column.name, number, cells: cells.collect() });
    }
    shown
}

/// How many of the first columns it takes to tell every row from the others: one at least, words only.
fn key(columns: &[Shown<'_>], rows: usize) -> usize {
    let words = columns.iter().take_while(|c| !c.number).count().max(1);
    let all_differ = |count: usize| {
        let mut names: Vec<Vec<&str>> =
            (0..rows).map(|r| columns[..count].iter().map(|c| c.cells[r].as_str()).collect()).collect();
        names.sort_unstable();
        names.windows(2).all(|pair| pair[0] != pair[1])
    };
    (1..=words).find(|&count| all_differ(count)).unwrap_or(1)
}

/// The columns of each part of a table.
fn blocks(columns: &[Shown<'_>], key: usize) -> Vec<Vec<usize>> {
    let widths: Vec<usize> = columns.iter().map(|c| c.width() + BETWEEN).collect();
    let key = key.min(columns.len());
    let keys: usize = widths[..key].iter().sum();
    let rest: usize = widths[key..].iter().sum();
    if keys + rest <= PAGE_LETTERS || key == columns.len() {
        return vec![(0..columns.len()).collect()];
    }
    // As few parts as it takes, about equally wide.
    let room = PAGE_LETTERS.saturating_sub(keys).max(1);
    let parts = rest.div_ceil(room);
    let even = rest.div_ceil(parts);
    let mut blocks = Vec::new();
    let (mut block, mut taken): (Vec<usize>, usize) = ((0..key).collect(), 0);
    for (k, &width) in widths.iter().enumerate().skip(key) {
        let full = taken >= even || taken + width > room;
        if full && block.len() > key {
            blocks.push(std::mem::replace(&mut block, (0..key).collect()));
            taken = 0;
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
    use crate::table::columns_of;

    fn table(names: &[&str], rows: Vec<Vec<Cell>>) -> Table {
        let columns = columns_of(names);
        Table { name: "t".to_owned(), title: "T".to_owned(), columns, rows }
    }

    #[test]
    fn a_spread_stands_beside_its_figure() {
        let row = vec![Cell::Text("A".to_owned()), Cell::Number(3.23, 2), Cell::Number(0.01, 2)];
        let html = chapter(&table(&["seam", "greatest mm", "± mm"], vec![row])).into_string();
        assert!(html.contains("3.23 ± 0.01"), "{html}");
        assert!(!html.contains("<th class=\"n\">±"), "{html}");
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
            let width: usize = block.iter().map(|&k| columns[k].width() + BETWEEN).sum();
            assert!(width <= PAGE_LETTERS, "{block:?} is {width} wide");
            seen.extend(&block[2..]);
        }
        assert_eq!(seen, (2..22).collect::<Vec<_>>(), "every column once, in order");
    }

    #[test]
    fn narrow_and_empty_tables_stay_whole() {
        let narrow = table(&["part", "mm"], Vec::new());
        assert_eq!(blocks(&columns(&narrow), 1), vec![vec![0, 1]]);
    }
}
