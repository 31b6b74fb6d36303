//! The chapter of the job book on standing: will it stand? Levels, angles, room, the work as it goes up, wind.
//!
//! It reads the tables of the stages `mass`, `balance` and `wind` by the names of their columns.

use super::book_content::{Block, Chapter, Column, Grid, Line, Row};
use super::book_picture::{Picture, SMALLEST_LETTERS as LETTERS};
use super::book_spine::said_here;
use super::book_tables;
use super::csv::cell_text;
use crate::finding::{Finding, Level, STANDING};
use crate::output::Output;
use crate::table::{Cell, Table};
use std::collections::BTreeMap;

/// The tables shown here.
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

/// Room for a picture, mm.
const ROOM: [f64; 2] = [180.0, 105.0];

/// The chapter, if any of its tables is there.
pub(super) fn chapter<'a>(output: &'a Output, findings: &[&Finding]) -> Option<Chapter<'a>> {
    let table = |name: &str| output.tables.iter().find(|t| t.name == name && !t.rows.is_empty());
    let picture = |name: &str| {
        let drawing = output.drawings.iter().find(|d| d.name == name)?;
        Picture::fitted(drawing, ROOM, LETTERS)
    };
    if TABLES.iter().all(|name| table(name).is_none()) {
        return None;
    }
    let said: Vec<&Finding> =
        findings.iter().copied().filter(|f| STANDING.contains(&f.code.as_str())).collect();
    let worst = said.iter().map(|f| f.level).min();
    let checked = table("balance").is_some() && table("wind").is_some();
    let told = said.iter().all(|f| f.code != "wind-assumed");
    let mut chapter = Chapter { strength: true, ..Chapter::new("stand", "Will it stand?") };
    chapter.blocks.push(Block::Answer(Line::new().bold(answer(worst, checked, told))));
    chapter.text(
        "A preliminary check of rigid bodies, from the drawn shape and the weights known to the script. Strength, ground \
         and foundation are not in it. A licensed engineer and the local code decide before anything is put up; until \
         all seams are welded and anchors hold, every element is propped by itself.",
    );
    said_here(&mut chapter, &said);
    if let Some(t) = table("balance") {
        chapter.heading("Level by level");
        chapter.text(
            "The margin is how far the line of the load above lies inside what holds it; use is tipping over holding \
             moment with the factors of equilibrium, and must stay below 1.",
        );
        compact(&mut chapter, t, &LEVELS);
    }
    chapter.picture(picture("balance-polar"));
    chapter.picture(picture("balance-elevation"));
    if let Some(t) = table("balance_angles") {
        chapter.heading("Angles to tipping in every direction, degrees");
        chapter.text(
            Line::from("Directions are degrees from east towards north. Distances to the edge are in ")
                .code("schedules/balance_angles.csv")
                .text("."),
        );
        angles(&mut chapter, t);
    }
    if let Some(t) = table("balance_room") {
        chapter.heading(&t.title);
        chapter.text(
            "Each by itself, with all that stands on it, in its worst direction; an empty field is more than was looked for.",
        );
        book_tables::push(&mut chapter, t);
    }
    if let Some(t) = table("balance_going_up") {
        chapter.heading(&t.title);
        chapter.text("With only these elements in place and joined. Nothing here stands without props.");
        compact(&mut chapter, t, &GOING_UP);
    }
    if let Some(t) = table("mass") {
        chapter.heading(&t.title);
        compact(&mut chapter, t, &MASS);
    }
    if let Some(t) = table("wind") {
        chapter.heading(&t.title);
        compact(&mut chapter, t, &WIND);
    }
    chapter.picture(picture("wind-height"));
    for t in ["wind_heights", "wind_people"].into_iter().filter_map(table) {
        book_tables::titled(&mut chapter, t);
    }
    for t in ["balance_basis", "wind_basis"].into_iter().filter_map(table) {
        chapter.heading(&t.title);
        basis(&mut chapter, t);
    }
    Some(chapter)
}

/// Columns that are shown, and their headings.
type Columns<'a> = [(&'a str, &'a str, &'a str)];

const LEVELS: [(&str, &str, &str); 6] = [
    ("level", "Level", ""),
    ("load kg", "Load", "kg"),
    ("margin mm", "Margin", "mm"),
    ("least angle degrees", "Tips at", "°"),
    ("toward degrees", "toward", "°"),
    ("use", "Use", ""),
];
const GOING_UP: [(&str, &str, &str); 6] = [
    ("element", "Element", ""),
    ("mass kg", "Mass", "kg"),
    ("together kg", "Together", "kg"),
    ("margin on the ground mm", "Margin on the ground", "mm"),
    ("least margin mm", "Least margin", "mm"),
    ("at", "at", ""),
];
const MASS: [(&str, &str, &str); 6] = [
    ("element", "Element", ""),
    ("kind", "Kind", ""),
    ("mass kg", "Mass", "kg"),
    ("x mm", "x", "mm"),
    ("y mm", "y", "mm"),
    ("z mm", "z", "mm"),
];
const WIND: [(&str, &str, &str); 7] = [
    ("from degrees", "From", "°"),
    ("area m²", "Area", "m²"),
    ("force kN", "Force", "kN"),
    ("at height mm", "at height", "mm"),
    ("tipping use", "Tipping use", ""),
    ("short by kN m", "Short by", "kN m"),
    ("sliding use", "Sliding use", ""),
];

fn answer(worst: Option<Level>, checked: bool, told: bool) -> &'static str {
    match worst {
        Some(Level::Error) => "✕ Not as it is: the errors below come first.",
        Some(Level::Warning) => "▲ Not without more: read the warnings below.",
        _ if !checked => "– Not known: balance and wind were not both worked out.",
        _ if !told => "▲ In the wind assumed here: yes. Tell the place first, and look again.",
        _ => "○ By itself, as far as this check goes: yes.",
    }
}

/// Some columns under headings of their own.
fn compact(chapter: &mut Chapter<'_>, table: &Table, columns: &Columns<'_>) {
    let at = |name: &str| table.columns.iter().position(|c| c.name == name);
    let picked: Vec<(usize, &str, &str)> =
        columns.iter().filter_map(|(name, head, unit)| Some((at(name)?, *head, *unit))).collect();
    let number = |i: usize| table.rows.iter().any(|r| matches!(r[i], Cell::Number(..)));
    let column = |(i, head, unit): &(usize, &str, &str)| match number(*i) {
        true => Column::figures(head, unit),
        false => Column::words(head),
    };
    chapter.blocks.push(Block::Grid(Grid {
        shows: vec![table.name.clone()],
        class: "",
        columns: picked.iter().map(column).collect(),
        rows: table
            .rows
            .iter()
            .map(|row| Row::body(picked.iter().map(|(i, ..)| Line::from(cell_text(&row[*i]))).collect()))
            .collect(),
    }));
}

/// Levels beside each other in one table, at most.
const LEVELS_ABREAST: usize = 8;

/// A row for each direction and a column for each level; as the table says it where it has other columns.
fn angles(chapter: &mut Chapter<'_>, table: &Table) {
    let at = |name: &str| table.columns.iter().position(|c| c.name == name);
    let (Some(level), Some(toward), Some(angle)) =
        (at("level"), at("toward degrees"), at("angle to tipping degrees"))
    else {
        book_tables::push(chapter, table);
        return;
    };
    let (mut levels, mut directions): (Vec<String>, Vec<String>) = (Vec::new(), Vec::new());
    let mut found: BTreeMap<(String, String), String> = BTreeMap::new();
    for row in &table.rows {
        let [level, toward, angle] = [level, toward, angle].map(|k| cell_text(&row[k]));
        for (list, name) in [(&mut levels, &level), (&mut directions, &toward)] {
            if !list.contains(name) {
                list.push(name.clone());
            }
        }
        found.insert((level, toward), angle);
    }
    // Where it takes several tables, they are about equally wide.
    let abreast = levels.len().div_ceil(levels.len().div_ceil(LEVELS_ABREAST).max(1)).max(1);
    for levels in levels.chunks(abreast) {
        let mut columns = vec![Column::figures("Toward", "°")];
        columns.extend(levels.iter().map(|l| Column::figures(l, "°")));
        let row = |direction: &String| {
            let mut cells = vec![Line::from(direction.as_str())];
            let angle = |l: &String| found.get(&(l.clone(), direction.clone())).cloned().unwrap_or_default();
            cells.extend(levels.iter().map(|l| Line::from(angle(l))));
            Row::body(cells)
        };
        let rows = directions.iter().map(row).collect();
        chapter.blocks.push(Block::Grid(Grid { shows: vec![table.name.clone()], class: "", columns, rows }));
    }
}

/// Figure, how, source and limits in two columns.
fn basis(chapter: &mut Chapter<'_>, table: &Table) {
    let rows = table.rows.iter().filter_map(|row| {
        let words: Vec<String> = row.iter().map(cell_text).collect();
        let [figure, how, source, limits] = words.as_slice() else { return None };
        let told = Line::from(how.as_str()).br().small(format!("Source: {source}. Limits: {limits}."));
        Some(Row::body(vec![Line::new().bold(figure), told]))
    });
    chapter.blocks.push(Block::Grid(Grid {
        shows: vec![table.name.clone()],
        class: "basis",
        columns: vec![Column::words("Figure"), Column::words("How, from what source, and its limits")],
        rows: rows.collect(),
    }));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::book_html::chapter_html;

    #[test]
    fn angles_to_tipping_have_a_row_for_each_direction_and_a_column_for_each_level() {
        let columns = ["level", "toward degrees", "distance mm", "angle to tipping degrees"]
            .map(|n| crate::table::Column { name: n.to_owned() })
            .to_vec();
        let mut rows = Vec::new();
        for level in 0..9_u32 {
            for k in 0..24_u32 {
                let mut row = vec![Cell::Text(format!("level {level}"))];
                row.extend([15 * k, 100, level + k].map(|x| Cell::Number(f64::from(x), 0)));
                rows.push(row);
            }
        }
        let table = Table { name: "balance_angles".into(), title: "Angles".into(), columns, rows };
        let mut chapter = Chapter::new("stand", "Will it stand?");
        angles(&mut chapter, &table);
        let sizes: Vec<[usize; 2]> = chapter
            .blocks
            .iter()
            .filter_map(|b| match b {
                Block::Grid(g) => Some([g.rows.len(), g.columns.len()]),
                _ => None,
            })
            .collect();
        assert_eq!(sizes, [[24, 6], [24, 5]], "216 rows in two tables of 24");
        let page = chapter_html(&chapter);
        assert!(page.contains(">31<"), "level 8 toward 345 degrees: {page}");
    }

    #[test]
    fn the_worst_finding_gives_the_answer_and_no_table_means_no_chapter() {
        assert!(chapter(&Output::default(), &[]).is_none());
        let columns =
            ["level", "load kg", "margin mm"].map(|n| crate::table::Column { name: n.to_owned() }).to_vec();
        let rows = vec![vec![Cell::Text("ground".into()), Cell::Number(812.0, 0), Cell::Number(140.0, 0)]];
        let table = Table { name: "balance".into(), title: "Balance".into(), columns, rows };
        let wind = Table { name: "wind".into(), ..table.clone() };
        let alone = Output { tables: vec![table.clone()], ..Output::default() };
        let page = chapter_html(&chapter(&alone, &[]).expect("a chapter"));
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
            let page = chapter_html(&chapter(&output, &findings).expect("a chapter"));
            assert!(
                page.contains(words) && page.contains("812") && page.contains("licensed engineer"),
                "{page}"
            );
            assert!(!page.contains("clash"), "only what belongs here");
        }
    }
}
