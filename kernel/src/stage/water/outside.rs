//! Standing water outside as tables and findings: every place, what drains it, and what each change leaves.

use super::super::sketch::{refused, table, words};
use super::{MILLILITRE, place};
use crate::error::{ErrorKind, Result};
use crate::finding::{Finding, Level};
use crate::for_sheets::work_out;
use crate::output::Output;
use crate::registry::Registry;
use crate::settings::Values;
use crate::table::Cell;
use crate::text::{fixed, place_words};
use crate::units::{KG_PER_MM3, MM3_PER_LITRE};
use crate::water::remedy::{self, Change, Place, Standing};
use crate::water::together::{Together, together};
use crate::work::Work;

/// Works out where water stands, and says it; none if the outside does not close.
pub(super) fn standing(
    work: &Work,
    registry: &Registry,
    set: &Values,
    output: &mut Output,
) -> Result<Option<Standing>> {
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
        let together = together(work, &|s| work_out(s, registry), &found)?;
        if let Some(worst) = together.left.first() {
            let left: f64 = together.left.iter().map(|h| h.volume).sum();
            output.findings.push(Finding::new(
                Level::Warning,
                "water-together",
                name,
                format!(
                    "with all proposed changes together {:.0} ml still stand in {} places, most near {} mm",
                    left / MILLILITRE,
                    together.left.len(),
                    place_words(&worst.lowest)
                ),
                "make some of them, run the work again, and see what is proposed then",
            ));
        }
        output.tables.push(all_together(work, &together));
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
                words(place_words(&h.pass)),
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
                words(told(work, &remedy.change)),
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
    }
    let title = format!(
        "What drains each place: each change alone, the pools worked out again with it (all holes together leave {} ml)",
        fixed(found.with_holes / MILLILITRE, 1)
    );
    let columns =
        ["place", "change", "moves steel mm", "leaves there ml", "leaves on the work ml", "verdict"];
    table("water-remedies", &title, &columns, rows)
}

/// A change in words.
fn told(work: &Work, change: &Change) -> String {
    match change {
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
        Change::Fill { hollow } => format!(
            "close it up level with where it flows over, ({:.0}, {:.0}, {:.0}) mm: {:.0} ml of weld metal ({:.1} kg), or a plate \
             of {:.0} cm² welded all round; dress it so that it falls to there",
            hollow.pass.x + 0.0,
            hollow.pass.y + 0.0,
            hollow.pass.z + 0.0,
            hollow.volume / MILLILITRE,
            hollow.volume * work.sculpture.rules.density * KG_PER_MM3,
            hollow.surface / SQUARE_CM
        ),
    }
}

/// mm² in a cm².
const SQUARE_CM: f64 = 100.0;

/// All changes in the order in which they are made, and what they leave.
fn all_together(work: &Work, together: &Together) -> crate::table::Table {
    let made = together.work.as_ref().unwrap_or(work);
    let shape = together.shape.iter().map(|c| (None, c, work));
    let rest = together.rest.iter().map(|(h, c)| (Some(h), c, made));
    let rows = (1_u32..)
        .zip(shape.chain(rest))
        .map(|(number, (hollow, change, of))| {
            let mut row = vec![Cell::Number(f64::from(number), 0), words(told(of, change))];
            match hollow {
                Some(h) => {
                    row.extend(place(&h.lowest));
                    row.push(Cell::Number(h.volume / MILLILITRE, 1));
                }
                None => row.extend([Cell::Empty, Cell::Empty, Cell::Empty, Cell::Empty]),
            }
            row
        })
        .collect();
    let left: f64 = together.left.iter().map(|h| h.volume).sum::<f64>() + 0.0;
    let title = format!(
        "All of it together, in this order, the water worked out again after each turn and tilt and at the end: leaves {:.1} ml in \
         {} places",
        left / MILLILITRE,
        together.left.len()
    );
    table("water-together", &title, &["step", "change", "x mm", "y mm", "z mm", "drains ml"], rows)
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
            let first = match remedy.change {
                Change::Fill { .. } => format!(
                    "no hole, no turn of the ribs and no tilt of up to {}° drains it wholly: ",
                    set.number("tilt")
                ),
                _ => String::new(),
            };
            format!("{first}{}: then none is left there{more}", told(work, &remedy.change))
        }
        None => "nothing that was tried drains it wholly: change the design there".to_owned(),
    };
    Finding::new(
        Level::Warning,
        "water-stands",
        hollow.walls.first().map_or("", String::as_str),
        format!(
            "{:.0} ml of water stand {:.0} mm deep near {} mm, between {} (place {number})",
            hollow.volume / MILLILITRE,
            hollow.depth,
            place_words(&hollow.lowest),
            hollow.walls.join(", ")
        ),
        remedy,
    )
}
