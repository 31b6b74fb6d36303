//! The chapter of the job book on standing: will it stand? Levels, angles, room, the work as it goes up, wind.
//!
//! It reads the tables of the stages `mass`, `balance` and `wind` by the names of their columns.

use super::book::{breakable, fitted_with};
use super::csv::cell_text;
use crate::finding::{Finding, Level};
use crate::table::{Cell, Table};
use crate::work::Output;
use maud::{Markup, html};

/// The tables shown or left to the schedules on purpose.
pub(super) const TABLES: [&str; 10] = [
    "mass",
    "balance",
    "balance_angles",
    "balance_room",
    "balance_going_up",
    "balance_basis",
    "wind",
    "wind_heights",
    "wind_people",
    "wind_basis",
];

/// Codes of the findings that answer the question.
const CODES: [&str; 16] = [
    "topples",
    "anchors-needed",
    "no-foot",
    "thin-margin",
    "overhang",
    "in-the-air",
    "unsupported",
    "shared-load",
    "wind-topples",
    "push-topples",
    "wind-slides",
    "push-slides",
    "lean-margin",
    "wind-speed",
    "wind-assumed",
    "vortices",
];

/// Room for a picture, and the least size of its letters, mm.
const ROOM: [f64; 2] = [180.0, 105.0];
const LETTERS: f64 = 2.9;

/// What the style sheet of the book needs for this chapter.
pub(super) const STYLE: &str = "
.stand td:first-child { min-width: 30mm; }
.stand-basis td:first-child { width: 34mm; font-weight: bold; }
.answer { border-left: 1.2mm solid var(--rust); padding-left: 3mm; }
";

/// The chapter, if any of its tables is there.
pub(super) fn chapter(output: &Output, findings: &[&Finding]) -> Markup {
    let table = |name: &str| output.tables.iter().find(|t| t.name == name && !t.rows.is_empty());
    let picture = |name: &str| output.drawings.iter().find(|d| d.name == name);
    if TABLES.iter().all(|name| table(name).is_none()) {
        return html! {};
    }
    let said: Vec<&&Finding> = findings.iter().filter(|f| CODES.contains(&f.code.as_str())).collect();
    let worst = said.iter().map(|f| f.level).min();
    let checked = table("balance").is_some() && table("wind").is_some();
    let told = said.iter().all(|f| f.code != "wind-assumed");
    html! {
        section.chapter.strength {
            h2 { "Will it stand?" }
            p.answer { b { (answer(worst, checked, told)) } }
            p { "A preliminary check of rigid bodies, from the drawn shape and the weights known to the script. Strength, ground "
                "and foundation are not in it. A licensed engineer and the local code decide before anything is put up; until "
                "all seams are welded and anchors hold, every element is propped by itself." }
            @if !said.is_empty() {
                ul { @for f in said { li { b { (breakable(&f.place)) ": " } (f.message) ". " span.remedy { "→ " (f.remedy) } } } }
            }
            @if let Some(t) = table("balance") {
                h3 { "Level by level" }
                p { "The margin is how far the line of the load above lies inside what holds it; use is tipping over holding "
                    "moment with the factors of equilibrium, and must stay below 1." }
                (compact(t, &[("level", "Level"), ("load kg", "Load, kg"), ("margin mm", "Margin, mm"),
                    ("least angle degrees", "Tips at, °"), ("toward degrees", "toward, °"), ("use", "Use")]))
            }
            @for name in ["balance-polar", "balance-elevation"] {
                @if let Some(d) = picture(name) {
                    figure { (fitted_with(d, ROOM, LETTERS)) figcaption { (d.title) } }
                }
            }
            @if let Some(t) = table("balance_room") {
                h3 { (t.title) }
                p { "Each by itself, with all that stands on it, in its worst direction; an empty field is more than was looked "
                    "for." }
                (whole(t))
            }
            @if let Some(t) = table("balance_going_up") {
                h3 { (t.title) }
                p { "With only these elements in place and joined. Nothing here stands without props." }
                (compact(t, &[("element", "Element"), ("mass kg", "Mass, kg"), ("together kg", "Together, kg"),
                    ("margin on the ground mm", "Margin on the ground, mm"), ("least margin mm", "Least margin, mm"), ("at", "at")]))
            }
            @if let Some(t) = table("mass") {
                h3 { (t.title) }
                (compact(t, &[("element", "Element"), ("kind", "Kind"), ("mass kg", "Mass, kg"), ("x mm", "x, mm"),
                    ("y mm", "y, mm"), ("z mm", "z, mm")]))
            }
            @if let Some(t) = table("wind") {
                h3 { (t.title) }
                (compact(t, &[("from degrees", "From, °"), ("area m²", "Area, m²"), ("force kN", "Force, kN"),
                    ("at height mm", "at height, mm"), ("tipping use", "Tipping use"), ("short by kN m", "Short by, kN m"), ("sliding use", "Sliding use")]))
            }
            @if let Some(d) = picture("wind-height") {
                figure { (fitted_with(d, ROOM, LETTERS)) figcaption { (d.title) } }
            }
            @if let Some(t) = table("wind_people") { h3 { (t.title) } (whole(t)) }
            @for name in ["balance_basis", "wind_basis"] {
                @if let Some(t) = table(name) { h3 { (t.title) } (basis(t)) }
            }
        }
    }
}

fn answer(worst: Option<Level>, checked: bool, told: bool) -> &'static str {
    match worst {
        Some(Level::Error) => "✕ Not as it is: the errors below come first.",
        Some(Level::Warning) => "▲ Not without more: read the warnings below.",
        _ if !checked => "– Not known: balance and wind were not both worked out.",
        _ if !told => "▲ In the wind assumed here: yes. Tell the place first, and look again.",
        _ => "○ By itself, as far as this check goes: yes.",
    }
}

fn cell(c: &Cell) -> Markup {
    html! { td.n[matches!(c, Cell::Number(..))] { (breakable(&cell_text(c))) } }
}

/// Some columns under headings of their own.
fn compact(table: &Table, columns: &[(&str, &str)]) -> Markup {
    let at = |name: &str| table.columns.iter().position(|c| c.name == name);
    let picked: Vec<(usize, &str)> =
        columns.iter().filter_map(|(name, head)| Some((at(name)?, *head))).collect();
    html! {
        table.stand {
            thead { tr { @for (i, head) in &picked {
                th.n[table.rows.iter().any(|r| matches!(r[*i], Cell::Number(..)))] { (head) }
            } } }
            tbody { @for row in &table.rows { tr { @for (i, _) in &picked { (cell(&row[*i])) } } } }
        }
    }
}

fn whole(table: &Table) -> Markup {
    let columns: Vec<(&str, &str)> =
        table.columns.iter().map(|c| (c.name.as_str(), c.name.as_str())).collect();
    compact(table, &columns)
}

/// Figure, how, source and limits in two columns.
fn basis(table: &Table) -> Markup {
    html! {
        table.stand-basis {
            tbody { @for row in &table.rows {
                @let words: Vec<String> = row.iter().map(cell_text).collect();
                @if let [figure, how, source, limits] = words.as_slice() {
                    tr { td { (figure) } td { (how) br; small { "Source: " (source) ". Limits: " (limits) "." } } }
                }
            } }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::table::columns_of;

    #[test]
    fn the_worst_finding_gives_the_answer_and_no_table_means_no_chapter() {
        assert!(chapter(&Output::default(), &[]).into_string().is_empty());
        let columns = columns_of(&["level", "load kg", "margin mm"]);
        let rows = vec![vec![Cell::Text("ground".into()), Cell::Number(812.0, 0), Cell::Number(140.0, 0)]];
        let table = Table { name: "balance".into(), title: "Balance".into(), columns, rows };
        let wind = Table { name: "wind".into(), ..table.clone() };
        let alone = Output { tables: vec![table.clone()], ..Output::default() };
        let page = chapter(&alone, &[]).into_string();
        assert!(page.contains("Not known") && !page.contains("yes"), "no wind, no answer: {page}");
        let output = Output { tables: vec![table, wind], ..Output::default() };
        let error = Finding::new(Level::Error, "topples", "Slack Tide", "it topples", "lean it less");
        let note = Finding::new(Level::Note, "wind-assumed", "Slack Tide", "no place was told", "say it");
        let other = Finding::new(Level::Error, "clash", "A", "parts clash", "move one");
        for (findings, words) in [
            (vec![&note, &error], "Not as it is"),
            (vec![&note, &other], "In the wind assumed here"),
            (vec![&other], "as far as this check goes: yes"),
            (vec![], "as far as this check goes: yes"),
        ] {
            let page = chapter(&output, &findings).into_string();
            assert!(
                page.contains(words) && page.contains("812") && page.contains("licensed engineer"),
                "{page}"
            );
            assert!(!page.contains("clash"), "only what belongs here");
        }
    }
}
