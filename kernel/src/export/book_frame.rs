//! The chapter of the job book on the spine as a frame: does it carry, how far does it sway, how does it swing, what comes
//! to the base, and what all that leaves out.

use super::book_content::{Block, Chapter, Line, PAGE_WIDTH};
use super::book_cover::GAP;
use super::book_picture::{Picture, SMALLEST_LETTERS as LETTERS};
use super::book_spine::said_here;
use super::book_tables;
use crate::finding::{Finding, Level};
use crate::output::Output;
use crate::table::{Cell, Table};

/// The tables shown here.
pub(super) const TABLES: [&str; 7] =
    ["frame", "frame_sway", "frame_modes", "frame_base", "frame_held", "frame_tubes", "frame_basis"];

/// Findings of this chapter begin so.
const CODES: &str = "frame-";

/// Width and height a drawing may take, mm: alone in its row, and three beside each other.
const ROOM: [f64; 2] = [PAGE_WIDTH, 105.0];
const THIRD: [f64; 2] = [(PAGE_WIDTH - 2.0 * GAP) / 3.0, 90.0];

/// The chapter, if any of its tables is there.
pub(super) fn chapter<'a>(output: &'a Output, findings: &[&Finding]) -> Option<Chapter<'a>> {
    let said: Vec<&Finding> = findings.iter().copied().filter(|f| f.code.starts_with(CODES)).collect();
    let table = |name: &str| output.tables.iter().find(|t| t.name == name && !t.rows.is_empty());
    if said.is_empty() && TABLES.iter().all(|name| table(name).is_none()) {
        return None;
    }
    let worst = said.iter().map(|f| f.level).min();
    let mut chapter = Chapter { strength: true, ..Chapter::new("frame", "Does the spine carry it?") };
    chapter.blocks.push(Block::Answer(Line::new().bold(answer(worst))));
    chapter.text(Line::new().bold("Caution. ").text(CAUTION));
    chapter.list(LEFT_OUT.iter().map(|&text| Line::from(text)));
    said_here(&mut chapter, &said);
    let pictures = |chapter: &mut Chapter<'a>, name: &str, columns: usize| {
        let room = if columns == 1 { ROOM } else { THIRD };
        let shown = output.drawings.iter().filter(|d| d.name.starts_with(name));
        let pictures: Vec<Picture<'a>> = shown.filter_map(|d| Picture::fitted(d, room, LETTERS)).collect();
        if !pictures.is_empty() {
            chapter.blocks.push(Block::Pictures { columns, pictures });
        }
    };
    if let Some(t) = table("frame") {
        book_tables::titled(&mut chapter, t);
    }
    if let Some(t) = table("frame_sway") {
        worst_sides(&mut chapter, t);
    }
    pictures(&mut chapter, "frame-sway", 1);
    if let Some(t) = table("frame_modes") {
        book_tables::titled(&mut chapter, t);
    }
    pictures(&mut chapter, "frame-mode-", 3);
    if let Some(t) = table("frame_base") {
        worst_sides(&mut chapter, t);
    }
    for t in ["frame_held", "frame_tubes", "frame_basis"].into_iter().filter_map(table) {
        book_tables::titled(&mut chapter, t);
    }
    Some(chapter)
}

const CAUTION: &str = "A preliminary check of first order, from the drawn shape, the weights known to the script and a \
    made-up or stated wind. A licensed engineer and the local code decide before any tube is bought, and check again what is \
    built.";

const LEFT_OUT: [&str; 3] = [
    "Left out: the stiffness of the shell and of its seams. The tube alone carries; each element is a stiff body held \
     where the table says, and must really be held there.",
    "Left out: second order (a leaning load that leans more as it sways), buckling of legs, local buckling and ovalling of \
     the wall, fatigue, the strength of welds, collars, plates and holes in the tube.",
    "Left out: a base plate that bends, ground that gives, damping, wind that beats in time, snow, ice, climbers, lifting, \
     transport and the work half built.",
];

/// A table of many sides, shortened to what comes first and the worst of each kind of action, by its greatest movement or,
/// where forces and moments stand beside each other, by its last column.
fn worst_sides(chapter: &mut Chapter<'_>, table: &Table) {
    let number = |cell: &Cell| match cell {
        Cell::Number(x, _) => *x,
        _ => f64::NEG_INFINITY,
    };
    let last = |row: &[Cell]| {
        let counted = if table.name == "frame_sway" { row } else { &row[row.len().saturating_sub(1)..] };
        counted.iter().map(number).fold(f64::NEG_INFINITY, f64::max)
    };
    let kind = |row: &[Cell]| match row.first() {
        Some(Cell::Text(words)) => words.split(' ').next().unwrap_or_default().to_owned(),
        _ => String::new(),
    };
    let mut kept: Vec<&Vec<Cell>> = Vec::new();
    for row in &table.rows {
        match kept.iter_mut().find(|k| kind(k) == kind(row)) {
            Some(worst) if last(row) > last(worst) => *worst = row,
            Some(_) => {}
            None => kept.push(row),
        }
    }
    let short = Table { rows: kept.into_iter().cloned().collect(), ..table.clone() };
    book_tables::titled(chapter, &short);
    if short.rows.len() < table.rows.len() {
        let all = format!("schedules/{}.csv", table.name);
        chapter.text(Line::from("Only the worst side of each: all of them are in ").code(all).text("."));
    }
}

fn answer(worst: Option<Level>) -> &'static str {
    match worst {
        Some(Level::Error) => "✕ Not as it is: the errors below come first.",
        Some(Level::Warning) => "▲ Not without more: read the warnings below.",
        _ => "○ By itself, as far as this check goes: yes.",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::book_html::chapter_html;
    use crate::table::Column;

    #[test]
    fn of_many_sides_the_worst_of_each_kind_is_shown_and_where_the_rest_is() {
        let columns = ["from", "A mm", "B mm"].map(|n| Column { name: n.to_owned() }).to_vec();
        // The middle element may sway more than the topmost one.
        let row =
            |words: &str, x: f64| vec![Cell::Text(words.into()), Cell::Number(x, 1), Cell::Number(1.5, 1)];
        let rows = vec![
            row("weight alone", 0.1),
            row("wind from 0.0°", 3.3),
            row("wind from 90.0°", 4.4),
            row("wind from 180.0°", 2.2),
            row("people from 0.0°", 0.9),
        ];
        let table = Table { name: "frame_sway".into(), title: "Sway".into(), columns, rows };
        let mut chapter = Chapter::new("frame", "Frame");
        worst_sides(&mut chapter, &table);
        let page = chapter_html(&chapter);
        for (words, there) in [("0.1", true), ("4.4", true), ("0.9", true), ("3.3", false), ("2.2", false)] {
            assert_eq!(page.contains(words), there, "{words} in {page}");
        }
        assert!(page.contains("frame_sway.csv"), "{page}");
    }

    #[test]
    fn the_chapter_answers_and_says_what_is_left_out() {
        assert!(chapter(&Output::default(), &[]).is_none(), "no spine, no chapter");
        let columns = ["leg", "used"].map(|n| Column { name: n.to_owned() }).to_vec();
        let rows = vec![vec![Cell::Text("leg 1".into()), Cell::Number(1.31, 2)]];
        let table = Table { name: "frame".into(), title: "Stress".into(), columns, rows };
        let output = Output { tables: vec![table], ..Output::default() };
        let error = Finding::new(Level::Error, "frame-strength", "spine", "too weak", "thicker");
        let other = Finding::new(Level::Error, "clash", "A", "parts clash", "move one");
        for (findings, words) in
            [(vec![&error, &other], "Not as it is"), (vec![&other], "as far as this check goes: yes")]
        {
            let page = chapter_html(&chapter(&output, &findings).expect("a chapter"));
            assert!(page.contains(words) && page.contains("1.31"), "{page}");
            for left_out in
                ["licensed engineer", "shell", "second order", "fatigue", "welds", "local buckling"]
            {
                assert!(page.contains(left_out), "{left_out}");
            }
            assert!(!page.contains("parts clash"), "only what belongs here");
        }
    }
}
