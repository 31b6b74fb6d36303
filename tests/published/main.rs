//! Published figures beside ours: every row is asserted, and the page `tests/published/README.md` is made of them.

mod beams;
mod bends;
mod finish;
mod lifting;
mod measuring;
mod row;
mod sheets;
mod solids;
mod tolerances;
mod tubes;
mod welds;
mod wind;

use row::{Page, Row, Seen};
use std::fmt::Write as _;
use std::path::Path;
use std::sync::LazyLock;

fn all() -> &'static [Row] {
    static ROWS: LazyLock<Vec<Row>> = LazyLock::new(collect);
    &ROWS
}

fn collect() -> Vec<Row> {
    let topics: [fn() -> Vec<Page>; 11] = [
        sheets::pages,
        bends::pages,
        tubes::pages,
        beams::pages,
        wind::pages,
        lifting::pages,
        tolerances::pages,
        welds::pages,
        finish::pages,
        solids::pages,
        measuring::pages,
    ];
    topics.iter().flat_map(|pages| pages()).flat_map(|page| page.rows).collect()
}

#[test]
fn every_published_figure_comes_out_as_printed() {
    let wrong: Vec<String> = all()
        .iter()
        .filter(|row| !row.holds())
        .map(|row| {
            format!("{}: printed {}, ours {} ({})", row.what, row.printed, row.ours_in_words(), row.source)
        })
        .collect();
    assert!(wrong.is_empty(), "{} of {} rows differ:\n{}", wrong.len(), all().len(), wrong.join("\n"));
}

/// As many rows as the page promises, most of them read at the source.
const LEAST_ROWS: usize = 150;

#[test]
fn the_page_has_enough_rows_and_says_which_are_from_memory() {
    let rows = all();
    let confirmed = rows.iter().filter(|r| r.seen == Seen::Confirmed).count();
    assert!(rows.len() >= LEAST_ROWS, "only {} rows", rows.len());
    assert!(confirmed >= LEAST_ROWS, "only {confirmed} of {} rows were read at a source", rows.len());
}

#[test]
fn a_row_that_differs_by_a_digit_does_not_hold() {
    let mut page = Page::new("", "", Seen::Confirmed);
    page.row("fine", "1.25", 1.2549);
    page.row("a digit off", "1.25", 1.2551);
    page.off("with room", "1.25", 1.26, 0.02, "rounded twice");
    assert_eq!(page.rows.iter().map(Row::holds).collect::<Vec<_>>(), [true, false, true]);
}

/// The page: all rows by topic and source.
fn page() -> String {
    let rows = all();
    let count = |seen: Seen| rows.iter().filter(|r| r.seen == seen).count();
    let mut text = format!(
        "# Published figures beside ours\n\n\
         Written by `cargo test --test published` (with `RIBWRIGHT_BLESS=1`); every row is asserted to half of its last \
         printed digit, or to what is said beside it. {} rows: {} read at the source or a public copy of it, {} from \
         memory (somebody with the paper should open it).\n",
        rows.len(),
        count(Seen::Confirmed),
        count(Seen::Memory)
    );
    let (mut topic, mut source) = ("", "");
    for row in rows {
        if row.topic != topic {
            topic = row.topic;
            source = "";
            let _ = write!(text, "\n## {topic}\n");
        }
        if row.source != source {
            source = row.source;
            let seen = match row.seen {
                Seen::Confirmed => "read at the source",
                Seen::Memory => "**from memory**",
            };
            let _ = write!(
                text,
                "\n{source}; {seen}.\n\n| figure | printed | ours | difference | allowed |\n|---|---|---|---|---|\n"
            );
        }
        let why = row.allowed.map_or(String::new(), |(_, why)| format!(" ({why})"));
        let _ = writeln!(
            text,
            "| {} | {} | {} | {} | {}{why} |",
            row.what,
            row.printed,
            row.ours_in_words(),
            short(shown(row)),
            short(row.allowance())
        );
    }
    text
}

/// The difference, without what is rounding in binary.
fn shown(row: &Row) -> f64 {
    let difference = row.difference();
    if difference.abs() <= BINARY * row.ours.abs() { 0.0 } else { difference }
}

/// Shares of a figure that differ from machine to machine.
const BINARY: f64 = 1.0e-10;

/// Two digits of a difference.
fn short(x: f64) -> String {
    if x == 0.0 { "0".to_owned() } else { format!("{x:.1e}") }
}

#[test]
fn the_page_is_up_to_date() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("published/README.md");
    let wanted = page();
    if std::env::var_os("RIBWRIGHT_BLESS").is_some() {
        std::fs::write(&file, &wanted).expect("a folder that can be written to");
    }
    let found = std::fs::read_to_string(&file).unwrap_or_default();
    assert!(
        found == wanted,
        "tests/published/README.md is out of date: run this test with RIBWRIGHT_BLESS=1"
    );
}
