//! Drains and vents of the chambers as a table, findings, and marks on the parts' drawings.

use super::super::sketch::{table, words};
use super::place;
use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::output::Output;
use crate::settings::Values;
use crate::table::Cell;
use crate::units::MM3_PER_LITRE;
use crate::water::drains::{Drain, Drains, For, drains};
use crate::work::Work;

/// Drain holes at the lowest places of every chamber, vents at the highest.
pub(super) fn inside(work: &Work, set: &Values, output: &mut Output) -> Result<()> {
    let found = drains(work)?;
    for name in &found.chambers.leaking {
        output.findings.push(Finding::new(
            Level::Warning,
            "water-leaking",
            name.as_str(),
            "the inside of these elements does not close, so its drains and vents cannot be placed",
            "move an element or a phase by a millimetre",
        ));
    }
    for one in &found.chambers.chambers {
        if !one.open.is_empty() {
            let open: Vec<&str> = one.open.iter().map(String::as_str).collect();
            output.findings.push(Finding::new(
                Level::Note,
                "water-open",
                one.name.as_str(),
                format!(
                    "open below at {}: it drains and breathes there if the base lets it",
                    open.join(", ")
                ),
                "leave gaps or holes in the base at its lowest places",
            ));
        }
    }
    output.findings.extend(remarks(work, set, &found));
    let rows = found.holes.iter().map(|hole| row(work, set, &found, hole)).collect();
    let columns = [
        "chamber",
        "hole",
        "wall",
        "part",
        "mm",
        "from left mm",
        "up mm",
        "x mm",
        "y mm",
        "z mm",
        "stands without it l",
        "stands below its rim ml",
        "note",
    ];
    let done = if set.flag("cut_drains") {
        "cut in the parts"
    } else {
        "to be drilled (cut_drains: true cuts them)"
    };
    let title = format!(
        "Drains and vents, {done}: measured along the sheet, from the part's left-hand edge and up from its lower end, as on its \
         templates"
    );
    output.tables.push(table("water-inside", &title, &columns, rows));
    Ok(())
}

fn remarks(work: &Work, set: &Values, found: &Drains) -> Vec<Finding> {
    let mut all = Vec::new();
    let count = |what: For| found.holes.iter().filter(|h| h.what == what && h.spot.is_some()).count();
    let (down, up) = (count(For::Drain), count(For::Vent));
    if down + up > 0 {
        let how = if set.flag("cut_drains") { "cut in the parts" } else { "to be drilled" };
        all.push(Finding::new(
            Level::Note,
            "drains",
            work.sculpture.name.as_str(),
            format!(
                "{down} drains and {up} vents of {} mm, {how}; water condenses in every chamber that is not welded airtight",
                set.number("drain")
            ),
            "set them before the chamber is closed, deburr them, coat their edges, and close them with screens (2 mm mesh: \
             common practice, no source) against insects and birds; keep the ground open under those at the foot",
        ));
    }
    for hole in found.holes.iter().filter(|h| h.spot.is_none()) {
        all.push(Finding::new(
            Level::Warning,
            "drain-place",
            hole.wall.as_str(),
            format!(
                "no flat place near {} mm is clear of edges, seams and folds by {} mm for a {} of {} mm",
                crate::text::place_words(&hole.lowest),
                set.number("drain_edge"),
                word(hole.what),
                set.number("drain")
            ),
            "drill it by hand at the lowest place, set drain or drain_edge smaller, or shift the phase of the ribs",
        ));
    }
    all
}

fn word(what: For) -> &'static str {
    match what {
        For::Drain => "drain",
        For::Vent => "vent",
    }
}

fn row(work: &Work, set: &Values, found: &Drains, hole: &Drain) -> Vec<Cell> {
    let one = &found.chambers.chambers[hole.chamber];
    let mut row = vec![words(one.name.as_str()), words(word(hole.what)), words(hole.wall.as_str())];
    let mut notes = Vec::new();
    if let Some(spot) = &hole.spot {
        row.extend([
            words(work.parts[spot.part].id.as_str()),
            Cell::Number(set.number("drain"), 0),
            Cell::Number(spot.from_corner[0], 0),
            Cell::Number(spot.from_corner[1], 0),
        ]);
        row.extend(place(&spot.place));
        if hole.on_roof {
            notes.push("rain falls in: give it a hood");
        }
        if hole.what == For::Drain && spot.normal.z < DOWN {
            notes.push("in the underside: keep the base open below it");
        }
    } else {
        row.extend([Cell::Empty, Cell::Empty, Cell::Empty, Cell::Empty]);
        row.extend(place(&hole.lowest));
        notes.push("no clear place: by hand");
    }
    row.push(hole.without.map_or(Cell::Empty, |v| Cell::Number(v / MM3_PER_LITRE, 2)));
    row.push(if hole.what == For::Drain && hole.spot.is_some() {
        Cell::Number(hole.with / super::MILLILITRE, 1)
    } else {
        Cell::Empty
    });
    row.push(words(notes.join("; ")));
    row
}

/// A wall whose outward normal falls by more than this is an underside.
const DOWN: f64 = -0.9;
