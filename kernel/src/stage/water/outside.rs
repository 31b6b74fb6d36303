//! Standing water outside as tables and findings: every place, what drains it, and what each change leaves.

use super::super::sketch::{refused, table, words};
use super::{MILLILITRE, place};
use crate::error::{ErrorKind, Result};
use crate::finding::{Finding, Level};
use crate::settings::Values;
use crate::table::Cell;
use crate::units::MM3_PER_LITRE;
use crate::water::remedy::{self, Change, Place, Remedy, Standing};
use crate::work::{Output, Work};

/// Works out where water stands, and says it; none if the outside does not close.
pub(super) fn standing(work: &Work, set: &Values, output: &mut Output) -> Result<Option<Standing>> {
    let name = work.sculpture.name.as_str();
    let found = match remedy::standing(work) {
        Ok(found) => found,
        Err(error) if error.kind() == ErrorKind::Input => {
            output.findings.push(refused(Level::Warning, "water", name, &error));
            return Ok(None);
        }
        Err(error) => return Err(error),
    };
    if !found.exact {
        output.findings.push(Finding::new(
            Level::Note,
            "water-skin",
            name,
            "the outside skin does not close, so water is looked for on the middle skin",
            "move a phase by a millimetre",
        ));
    }
    for (number, place) in (1..).zip(&found.places) {
        output.findings.push(stands(work, place, number, set));
    }
    output.tables.push(places(&found));
    if !found.places.is_empty() {
        output.tables.push(remedies(work, &found));
    }
    Ok(Some(found))
}

fn places(found: &Standing) -> crate::table::Table {
    let rows = (1_u32..)
        .zip(&found.places)
        .map(|(number, p)| {
            let h = &p.hollow;
            let mut row = vec![Cell::Number(f64::from(number), 0), words(h.walls.join(", "))];
            row.extend(place(&h.lowest));
            row.extend([
                Cell::Number(h.depth, 1),
                Cell::Number(h.volume / MILLILITRE, 1),
                Cell::Number(h.surface / 100.0, 1),
                words(format!("({:.0}, {:.0}, {:.0})", h.pass.x + 0.0, h.pass.y + 0.0, h.pass.z + 0.0)),
            ]);
            row
        })
        .collect();
    let title = if found.places.is_empty() {
        "Standing water outside: none".to_owned()
    } else {
        format!(
            "Standing water outside: {} places, {:.1} litres",
            found.places.len(),
            found.volume / MM3_PER_LITRE
        )
    };
    let columns = [
        "place",
        "walls and seams",
        "x mm",
        "y mm",
        "z mm",
        "depth mm",
        "volume ml",
        "surface cm²",
        "flows over at mm",
    ];
    table("water", &title, &columns, rows)
}

fn remedies(work: &Work, found: &Standing) -> crate::table::Table {
    let mut rows = Vec::new();
    for (number, place) in (1_u32..).zip(&found.places) {
        let at = |column: Vec<Cell>| {
            let mut row = vec![Cell::Number(f64::from(number), 0)];
            row.extend(column);
            row
        };
        for (k, remedy) in place.remedies.iter().enumerate() {
            rows.push(at(vec![
                words(told(work, remedy)),
                Cell::Number(remedy.moves, 0),
                Cell::Number(remedy.here / MILLILITRE, 1),
                Cell::Number(remedy.everywhere / MILLILITRE, 1),
                words(match (place.smallest == Some(k), remedy.drains(found.volume)) {
                    (true, _) => "drains it: the smallest",
                    (_, true) => "drains it",
                    (_, false) if remedy.here > 0.0 => "leaves water there",
                    (_, false) => "lets water stand elsewhere",
                }),
            ]));
        }
        if place.remedies.is_empty() {
            let fill = format!(
                "fill it with a welded filler of {:.0} ml, with a fall on it",
                place.hollow.volume / MILLILITRE
            );
            rows.push(at(vec![words(fill), Cell::Empty, Cell::Empty, Cell::Empty, words("not worked out")]));
        }
    }
    let title = format!(
        "What drains each place: each change alone, the pools worked out again with it (all holes together leave {:.1} ml)",
        found.with_holes / MILLILITRE
    );
    let columns =
        ["place", "change", "moves steel mm", "leaves there ml", "leaves on the work ml", "verdict"];
    table("water-remedies", &title, &columns, rows)
}

/// A change in words.
pub(super) fn told(work: &Work, remedy: &Remedy) -> String {
    match &remedy.change {
        Change::Hole { spot, diameter, .. } => format!(
            "drill {diameter} mm through {} at {:.0} mm from its left edge and {:.0} mm up, as on its templates; the water runs \
             into the chamber, which needs its own drain",
            work.parts[spot.part].id, spot.from_corner[0], spot.from_corner[1]
        ),
        Change::Tilt { element, tilt } => format!(
            "tilt {} about its foot, with what stands on it and its ribs as they are, by {:.2}°, its top toward {:.0}° (level \
             axis along {:.0}°)",
            work.sculpture.elements[*element].name(),
            tilt.angle,
            tilt.toward,
            (tilt.toward + 90.0).rem_euclid(360.0)
        ),
        Change::Ribs { face, degrees } => format!(
            "turn the ribs of {} by {:.0}° {}, seen from outside",
            work.faces[*face].id,
            degrees.abs(),
            if *degrees > 0.0 { "counter-clockwise" } else { "clockwise" }
        ),
    }
}

fn stands(work: &Work, place: &Place, number: u32, set: &Values) -> Finding {
    let hollow = &place.hollow;
    let remedy = match place.smallest.map(|k| &place.remedies[k]) {
        Some(remedy) => {
            let others = place.remedies.len() - 1;
            let more = match others {
                0 => String::new(),
                1 => "; another change is in schedules/water-remedies.csv".to_owned(),
                n => format!("; {n} other changes are in schedules/water-remedies.csv"),
            };
            format!("{}: then none is left there{more}", told(work, remedy))
        }
        None => format!(
            "no hole, no turn of the ribs and no tilt of up to {}° drains it wholly: fill it up to ({:.0}, {:.0}, {:.0}) mm with a \
             welded filler of {:.0} ml, with a fall on it",
            set.number("tilt"),
            hollow.pass.x,
            hollow.pass.y,
            hollow.pass.z,
            hollow.volume / MILLILITRE
        ),
    };
    Finding::new(
        Level::Warning,
        "water-stands",
        hollow.walls.first().map_or("", String::as_str),
        format!(
            "{:.0} ml of water stand {:.0} mm deep near ({:.0}, {:.0}, {:.0}) mm, between {} (place {number})",
            hollow.volume / MILLILITRE,
            hollow.depth,
            hollow.lowest.x,
            hollow.lowest.y,
            hollow.lowest.z,
            hollow.walls.join(", ")
        ),
        remedy,
    )
}
