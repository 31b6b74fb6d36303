//! The chapters of the job book about welding: the welds, the order of assembly to tick off, and the formulas.
//!
//! They read the tables of the stage `welds` by the names of their columns and put into one cell what a welder
//! reads in one look.

use super::book_content::{Block, Chapter, Column, Grid, Line, Row, RowKind};
use super::csv::cell_text;
use crate::output::Output;
use crate::table::{Cell, Table};

/// The chapters, for the tables that are there.
pub(super) fn chapters<'a>(output: &Output) -> Vec<Chapter<'a>> {
    let table = |name: &str| output.tables.iter().find(|t| t.name == name).map(Rows::new);
    [table("welds").map(|rows| welds(&rows)), table("weld_basis").map(|rows| basis(&rows))]
        .into_iter()
        .flatten()
        .collect()
}

/// The elements in the order in which they are put together, if it was worked out.
pub(super) fn building_order(output: &Output) -> Vec<String> {
    let Some(rows) = output.tables.iter().find(|t| t.name == "assembly").map(Rows::new) else {
        return Vec::new();
    };
    let mut order: Vec<String> = Vec::new();
    for row in 0..rows.table.rows.len() {
        let element = rows.text(row, "element");
        if !order.contains(&element) {
            order.push(element);
        }
    }
    order
}

/// The steps of the order of assembly for one element.
pub(super) fn steps<'a>(output: &Output, element: &str) -> Option<Grid<'a>> {
    let rows = output.tables.iter().find(|t| t.name == "assembly").map(Rows::new)?;
    let of_element = (0..rows.table.rows.len()).filter(|&row| rows.text(row, "element") == element);
    let body: Vec<Row<'_>> = of_element
        .map(|row| {
            Row::body(vec![
                Line::new().tick(""),
                rows.text(row, "step").into(),
                step(&rows, row),
                mass(&rows, row).into(),
                rows.number(row, "time min", 1.0, 0).into(),
                rows.number(row, "running time h", 1.0, 1).into(),
            ])
        })
        .collect();
    (!body.is_empty()).then(|| Grid {
        shows: vec!["assembly".to_owned()],
        class: "assembly",
        columns: vec![
            Column::words("Done"),
            Column::figures("No.", ""),
            Column::words("What to do"),
            Column::figures("Mass", "kg"),
            Column::figures("Time", "min"),
            Column::figures("Sum", "h"),
        ],
        rows: body,
    })
}

/// A table read by the names of its columns.
struct Rows<'a> {
    table: &'a Table,
}

impl<'a> Rows<'a> {
    fn new(table: &'a Table) -> Self {
        Self { table }
    }

    fn cell(&self, row: usize, column: &str) -> Option<&'a Cell> {
        let k = self.table.columns.iter().position(|c| c.name == column)?;
        self.table.rows.get(row)?.get(k)
    }

    /// What a cell says; nothing for an empty one.
    fn text(&self, row: usize, column: &str) -> String {
        self.cell(row, column).map(cell_text).unwrap_or_default()
    }

    /// A number times a factor, in so many decimals.
    fn number(&self, row: usize, column: &str, factor: f64, decimals: usize) -> String {
        match self.cell(row, column) {
            Some(Cell::Number(x, _)) => format!("{:.decimals$}", x * factor),
            _ => String::new(),
        }
    }

    /// Several numbers with dashes between; nothing if none is there.
    fn span(&self, row: usize, columns: &[&str], decimals: usize) -> String {
        let all: Vec<String> = columns.iter().map(|c| self.number(row, c, 1.0, decimals)).collect();
        if all.iter().any(String::is_empty) { String::new() } else { all.join(" – ") }
    }
}

fn welds<'a>(rows: &Rows) -> Chapter<'a> {
    let mut chapter = Chapter::new("welds", &rows.table.title);
    chapter.text(
        "Lengths follow the real, wavy edge. The angle is the local one between the sheets, inside: least, median and most \
         along the seam. The groove is the open section between both ends with its root gap, least and most. Filler is what \
         to buy; time is welding and tacking. All of it is a preliminary plan.",
    );
    chapter.text(
        Line::new().bold("Caution. ").text(
            "Seams that carry load are designed by a licensed engineer and welded by qualified welders to a procedure. \
             Weathering steel gives off fume with manganese, chromium, nickel and copper, salvaged sheet more: strip coatings, \
             extract at the arc, keep a fire watch. The inside of an element is a confined space: gas displaces air, never \
             alone. Prop every part until its seams hold.",
        ),
    );
    let last = rows.table.rows.len().saturating_sub(1);
    chapter.blocks.push(Block::Grid(Grid {
        shows: vec!["welds".to_owned()],
        class: "welds",
        columns: vec![
            Column::words("Seam"),
            Column::figures("To weld", "m"),
            Column::figures("Angle", "°"),
            Column::figures("Groove", "mm²"),
            Column::figures("Tacks", "n × mm"),
            Column::figures("Filler", "g"),
            Column::figures("Time", "min"),
            Column::figures("Sum", "h"),
        ],
        rows: (0..rows.table.rows.len())
            .map(|row| Row {
                kind: if row == last { RowKind::Foot } else { RowKind::Body },
                ..weld(rows, row)
            })
            .collect(),
    }));
    chapter
}

fn weld<'a>(rows: &Rows, row: usize) -> Row<'a> {
    let (tacks, pitch) = (rows.text(row, "tacks"), rows.text(row, "tack pitch mm"));
    let tacks = if pitch.is_empty() { tacks } else { format!("{tacks} × {pitch}") };
    let mut seam = Line::new().bold(rows.text(row, "seam"));
    if !rows.text(row, "joint").is_empty() {
        seam = seam.br().small(how(rows, row));
    }
    Row::body(vec![
        seam,
        rows.number(row, "to weld mm", 1.0e-3, 2).into(),
        rows.span(row, &["angle least degrees", "angle median degrees", "angle most degrees"], 0).into(),
        rows.span(row, &["groove least mm²", "groove most mm²"], 1).into(),
        tacks.into(),
        rows.number(row, "filler kg", 1.0e3, 0).into(),
        rows.number(row, "time min", 1.0, 0).into(),
        rows.number(row, "running time h", 1.0, 1).into(),
    ])
}

/// Joint, meeting, cut, side and run of a seam in a few words; the usual goes without saying.
fn how(rows: &Rows, row: usize) -> String {
    let mut words = vec![rows.text(row, "joint")];
    let bevels = rows.span(row, &["bevel least degrees", "bevel most degrees"], 0);
    if !bevels.is_empty() {
        words.push(format!("{} skins, bevel {bevels}°", rows.text(row, "meet")));
    }
    words.push(rows.text(row, "side"));
    let run = rows.text(row, "run");
    if run != "continuous" {
        words.push(run);
    }
    words.join(", ")
}

/// Mass in tenths of kg; of a part too light for that, that it is.
pub(super) fn tenths(kilograms: f64) -> String {
    light(format!("{kilograms:.1}"))
}

/// The same of a table.
fn mass(rows: &Rows, row: usize) -> String {
    light(rows.text(row, "mass kg"))
}

fn light(tenths: String) -> String {
    if tenths == "0.0" { "< 0.1".to_owned() } else { tenths }
}

fn step(rows: &Rows, row: usize) -> Line {
    let (task, part, seams) = (rows.text(row, "task"), rows.text(row, "part"), rows.text(row, "seams"));
    let seams: Vec<&str> = seams.split(", ").filter(|s| !s.is_empty()).collect();
    match task.as_str() {
        "check inside" => Line::new()
            .bold("Check inside")
            .text(": tacks sound, welds done, drains open, nothing left in there; a way for gas to escape."),
        "check outside" => {
            Line::new().bold("Check outside").text(": all seams closed, no cracks, craters or pinholes.")
        }
        "weld inside" | "weld outside" => {
            let from = if task == "weld inside" { "Weld from inside" } else { "Weld from outside" };
            let length = rows.number(row, "weld mm", 1.0e-3, 1);
            let mut line = Line::new().bold(from).text(format!(", {length} m:")).br();
            for seam in seams {
                line = line.tick(seam).text(" ");
            }
            line
        }
        _ => {
            let to = neighbours(&part, &seams);
            let what = if task == "close and tack" { "Close with " } else { "Set " };
            let mut line = Line::from(what).bold(&part);
            if !seams.is_empty() {
                line = line.text(format!(", {} tacks", rows.text(row, "tacks")));
                if !to.is_empty() {
                    line = line.text(format!(" to {}", to.join(", ")));
                }
            }
            line
        }
    }
}

/// What a part is tacked to: the other faces of its seams; nothing for a closure strip, whose name says it.
fn neighbours<'a>(part: &str, seams: &[&'a str]) -> Vec<&'a str> {
    if part.contains('~') {
        return Vec::new();
    }
    // `A/top.2` is a piece of `A/top`.
    let is_own =
        |face: &str| part == face || part.strip_prefix(face).is_some_and(|rest| rest.starts_with('.'));
    let other = |seam: &'a str| match seam.split_once('~') {
        Some((a, b)) if is_own(a) => b,
        Some((a, b)) if is_own(b) => a,
        _ => seam,
    };
    seams.iter().map(|seam| other(seam)).collect()
}

fn basis<'a>(rows: &Rows) -> Chapter<'a> {
    let mut chapter = Chapter::new("weld-basis", &rows.table.title);
    chapter.text(
        Line::from("Figures of the shop are settings of the stage ")
            .bold("welds")
            .text(". A licensed engineer and a qualified welding procedure decide, not this table."),
    );
    let told = |row: usize| {
        let source =
            format!("Source: {}. {}.", rows.text(row, "source"), capital(&rows.text(row, "caution")));
        let how = Line::from(rows.text(row, "formula")).br().small(source);
        Row::body(vec![Line::new().bold(rows.text(row, "column")), how])
    };
    chapter.blocks.push(Block::Grid(Grid {
        shows: vec!["weld_basis".to_owned()],
        class: "basis",
        columns: vec![Column::words("Figure"), Column::words("How, from what source, and its limits")],
        rows: (0..rows.table.rows.len()).map(told).collect(),
    }));
    chapter
}

/// The text with its first letter as a capital.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|c| c.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_is_tacked_to_the_other_side_of_its_seams() {
        assert_eq!(neighbours("A/top.2", &["A/side1~A/top", "A/top~B/north"]), ["A/side1", "B/north"]);
        assert_eq!(neighbours("A/side10", &["A/side1~A/side10"]), ["A/side1"]);
        assert!(neighbours("A/side1~A/top", &["A/side1~A/top"]).is_empty());
        assert_eq!(capital("übung macht"), "Übung macht");
    }
}
