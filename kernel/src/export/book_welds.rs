//! The chapters of the job book about welding: the welds, the order of assembly to tick off, and the formulas.
//!
//! They read the tables of the stage `welds` by the names of their columns and put into one cell what a welder
//! reads in one look.

use super::book::breakable;
use super::csv::cell_text;
use crate::table::{Cell, Table};
use crate::work::Output;
use maud::{Markup, html};

/// The tables shown here.
pub(super) const TABLES: [&str; 3] = ["welds", "assembly", "weld_basis"];

/// What the style sheet of the book needs for these chapters.
pub(super) const STYLE: &str = "
.box { display: inline-block; width: 3.6mm; height: 3.6mm; border: 0.35mm solid var(--ink); vertical-align: -0.5mm; }
.each { display: inline-block; margin: 0 4mm 1mm 0; white-space: nowrap; }
.welds td:first-child { min-width: 52mm; }
.assembly td.tick { width: 8mm; }
.assembly tr.lump td { font-size: 14pt; font-weight: bold; padding-top: 6mm; border-bottom: 0.5mm solid var(--ink);
  break-after: avoid; }
.assembly tr.lump { break-after: avoid; }
.basis td:first-child { width: 34mm; font-weight: bold; }
";

/// The chapters, for the tables that are there.
pub(super) fn chapters(output: &Output) -> Markup {
    let table = |name: &str| output.tables.iter().find(|t| t.name == name).map(Rows::new);
    html! {
        @if let Some(rows) = table("welds") { (welds(&rows)) }
        @if let Some(rows) = table("assembly") { (assembly(&rows)) }
        @if let Some(rows) = table("weld_basis") { (basis(&rows)) }
    }
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

fn welds(rows: &Rows) -> Markup {
    let count = rows.table.rows.len();
    html! {
        section.chapter {
            h2 { (rows.table.title) }
            p { "Lengths follow the real, wavy edge. The angle is the local one between the sheets, inside: least, "
                "median and most along the seam. The groove is the open section between both ends with its root gap, least "
                "and most. Filler is what to buy; time is welding and tacking. All of it is a preliminary plan." }
            table.welds {
                thead { tr {
                    th { "Seam" }
                    th.n { "To weld" br; small { "m" } }
                    th.n { "Angle" br; small { "°" } }
                    th.n { "Groove" br; small { "mm²" } }
                    th.n { "Tacks" br; small { "n × mm" } }
                    th.n { "Filler" br; small { "g" } }
                    th.n { "Time" br; small { "min" } }
                    th.n { "Sum" br; small { "h" } }
                } }
                tbody { @for row in 0..count.saturating_sub(1) { (weld(rows, row)) } }
                @if count > 0 { tfoot { (weld(rows, count - 1)) } }
            }
        }
    }
}

fn weld(rows: &Rows, row: usize) -> Markup {
    let (tacks, pitch) = (rows.text(row, "tacks"), rows.text(row, "tack pitch mm"));
    let tacks = if pitch.is_empty() { tacks } else { format!("{tacks} × {pitch}") };
    html! {
        tr {
            td { b { (breakable(&rows.text(row, "seam"))) } @if !rows.text(row, "joint").is_empty() { br; small { (how(rows, row)) } } }
            td.n { (rows.number(row, "to weld mm", 1.0e-3, 2)) }
            td.n { (rows.span(row, &["angle least degrees", "angle median degrees", "angle most degrees"], 0)) }
            td.n { (rows.span(row, &["groove least mm²", "groove most mm²"], 1)) }
            td.n { (tacks) }
            td.n { (rows.number(row, "filler kg", 1.0e3, 0)) }
            td.n { (rows.number(row, "time min", 1.0, 0)) }
            td.n { (rows.number(row, "running time h", 1.0, 1)) }
        }
    }
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

fn assembly(rows: &Rows) -> Markup {
    let starts = |row: usize| row == 0 || rows.text(row, "element") != rows.text(row - 1, "element");
    html! {
        section.chapter {
            h2 { (rows.table.title) }
            p { "From the bottom up. No element is closed before the seams asked for from inside are done. Prop every "
                "part until its seams are welded: nothing here says that it stands by itself. Times are of the "
                "shop's own figures." }
            table.assembly {
                thead { tr {
                    th {} th.n { "No." } th { "What to do" } th.n { "Mass" br; small { "kg" } }
                    th.n { "Time" br; small { "min" } } th.n { "Sum" br; small { "h" } }
                } }
                tbody {
                    @for row in 0..rows.table.rows.len() {
                        @if starts(row) { tr.lump { td colspan="6" { "Element " (rows.text(row, "element")) } } }
                        tr {
                            td.tick { span.box {} }
                            td.n { (rows.text(row, "step")) }
                            td { (step(rows, row)) }
                            td.n { (mass(rows, row)) }
                            td.n { (rows.number(row, "time min", 1.0, 0)) }
                            td.n { (rows.number(row, "running time h", 1.0, 1)) }
                        }
                    }
                }
            }
        }
    }
}

/// Mass in tenths; of a part too light for that, that it is.
fn mass(rows: &Rows, row: usize) -> String {
    match rows.text(row, "mass kg") {
        text if text == "0.0" => "< 0.1".to_owned(),
        text => text,
    }
}

fn step(rows: &Rows, row: usize) -> Markup {
    let (task, part, seams) = (rows.text(row, "task"), rows.text(row, "part"), rows.text(row, "seams"));
    let seams: Vec<&str> = seams.split(", ").filter(|s| !s.is_empty()).collect();
    match task.as_str() {
        "check inside" => html! {
            b { "Check inside" } ": tacks sound, welds done, drains open, nothing left in there; a way for gas to escape."
        },
        "check outside" => {
            html! { b { "Check outside" } ": all seams closed, no cracks, craters or pinholes." }
        }
        "weld inside" | "weld outside" => html! {
            b { (if task == "weld inside" { "Weld from inside" } else { "Weld from outside" }) } ", "
            (rows.number(row, "weld mm", 1.0e-3, 1)) " m:" br;
            @for seam in seams { span.each { span.box {} " " (seam) } " " }
        },
        _ => {
            let to = neighbours(&part, &seams);
            html! {
                (if task == "close and tack" { "Close with " } else { "Set " }) b { (breakable(&part)) }
                @if !seams.is_empty() {
                    ", " (rows.text(row, "tacks")) " tacks"
                    @if !to.is_empty() { " to " (breakable(&to.join(", "))) }
                }
            }
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

fn basis(rows: &Rows) -> Markup {
    html! {
        section.chapter {
            h2 { (rows.table.title) }
            p { "Figures of the shop are settings of the stage " b { "welds" } ". A licensed engineer and a qualified "
                "welding procedure decide, not this table." }
            table.basis {
                thead { tr { th { "Figure" } th { "How, from what source, and its limits" } } }
                tbody {
                    @for row in 0..rows.table.rows.len() {
                        tr {
                            td { (rows.text(row, "column")) }
                            td {
                                (rows.text(row, "formula")) br;
                                small { "Source: " (rows.text(row, "source")) ". " (capital(&rows.text(row, "caution"))) "." }
                            }
                        }
                    }
                }
            }
        }
    }
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
