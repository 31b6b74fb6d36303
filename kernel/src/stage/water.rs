//! The water stage: where water stands outside and what drains it, how ribs fall, drains and vents of the chambers, and what
//! rust takes; where the script asks for it.

use super::sketch::{choice, number, refused, table, words};
use super::{Stage, values};
use crate::chambers::{Enclosed, chambers, outside};
use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::liquid::{Pools, Posed};
use crate::polygon::holds;
use crate::registry::Registry;
use crate::seam::SeamSegment;
use crate::settings::Values;
use crate::table::Cell;
use crate::water::standing::Least;
use crate::water::{Hollow, Outdoors, Tilt, Turn, corrosion, fall};
use crate::work::{Output, Work};
use nalgebra::{Point3, Unit, Vector3};

/// The registry row.
pub const ROW: Stage = Stage {
    name: "water",
    summary: "standing water outside and what drains it, fall along ribs, drains and vents inside, rust; where asked for",
    settings: &[
        number(
            "fall",
            "least fall along ribs of faces that look up, 1 : n (published roofing sheets ask for 1 : 48 at least, or 1 : 6; \
             nothing is published for weathering steel)",
            "",
            48.0,
            [1.0, 1000.0],
        ),
        number("depth", "shallower water is a film (common practice, no source)", "mm", 1.0, [0.01, 100.0]),
        number("volume", "less water is a drop (common practice, no source)", "ml", 5.0, [0.001, 1.0e5]),
        number(
            "tilt",
            "most that the whole work may be tilted to drain it; 0 looks for none",
            "degrees",
            5.0,
            [0.0, 45.0],
        ),
        number(
            "drain",
            "diameter of drain holes and vents (common practice, no source)",
            "mm",
            20.0,
            [5.0, 200.0],
        ),
        choice("environment", "corrosivity of the air (ISO 9223)", "C3", &corrosion::CATEGORIES),
        number("life", "years that the sheet is to last", "years", 50.0, [1.0, 200.0]),
    ],
    run,
};

/// mm³ in a millilitre and in a litre.
const MILLILITRE: f64 = 1.0e3;
const LITRE: f64 = 1.0e6;
/// Steel left between a corner and the edge of a drain hole, mm (common practice, no source).
const BESIDE: f64 = 10.0;
/// A groove opens upward when the middle of its two normals rises by more than this: steeper is a wall.
const UPWARD: f64 = 0.1;
/// Runs of groove shorter than this are not listed, mm.
const SHORT: f64 = 20.0;
/// Inside hollows of less than this hold a film, mm³: a hundredth of a litre.
const POCKET: f64 = 1.0e4;

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    if !work.sculpture.stages.contains_key(ROW.name) {
        return Ok(());
    }
    let set = values(work, &ROW)?;
    standing(work, &set, output)?;
    falls(work, &set, output);
    grooves(work, &set, output);
    inside(work, &set, output)?;
    rust(work, &set, output);
    Ok(())
}

fn standing(work: &Work, set: &Values, output: &mut Output) -> Result<()> {
    let least = Least { depth: set.number("depth"), volume: set.number("volume") * MILLILITRE };
    let name = work.sculpture.name.as_str();
    let (mesh, exact) = outside(work)?;
    if !exact {
        output.findings.push(Finding::new(
            Level::Note,
            "water-skin",
            name,
            "the outside skin does not close, so water is looked for on the middle skin",
            "move a phase by a millimetre",
        ));
    }
    let outdoors = match Outdoors::new(&mesh) {
        Ok(outdoors) => outdoors,
        Err(error) => {
            output.findings.push(refused(Level::Warning, "water", name, &error));
            return Ok(());
        }
    };
    let found = outdoors.hollows(Vector3::z_axis(), least);
    let tilt = if found.is_empty() { None } else { outdoors.draining_tilt(set.number("tilt"), least) };
    for hollow in &found {
        output.findings.push(stands(hollow, tilt.as_ref(), set));
    }
    let rows = found
        .iter()
        .map(|h| {
            let mut row = vec![words(h.walls.join(", "))];
            row.extend(place(&h.lowest));
            row.extend([
                Cell::Number(h.depth, 1),
                Cell::Number(h.volume / MILLILITRE, 1),
                Cell::Number(h.surface / 100.0, 1),
                words(format!("({:.0}, {:.0}, {:.0})", h.pass.x, h.pass.y, h.pass.z)),
            ]);
            row
        })
        .collect();
    let title = match (&tilt, found.is_empty()) {
        (_, true) => "Standing water outside: none".to_owned(),
        (Some(t), _) => format!(
            "Standing water outside (none is left when the whole work is tilted by {:.2}° toward {:.0}°)",
            t.angle, t.toward
        ),
        (None, _) => "Standing water outside".to_owned(),
    };
    let columns =
        ["walls", "x mm", "y mm", "z mm", "depth mm", "volume ml", "surface cm²", "flows over at mm"];
    output.tables.push(table(ROW.name, &title, &columns, rows));
    Ok(())
}

fn place(p: &Point3<f64>) -> [Cell; 3] {
    [p.x, p.y, p.z].map(|x| Cell::Number(x + 0.0, 0))
}

fn stands(hollow: &Hollow, tilt: Option<&Tilt>, set: &Values) -> Finding {
    let tilted = match tilt {
        Some(t) => format!(
            "tilt the whole work by {:.2}° so that its top leans toward {:.0}°, or ",
            t.angle, t.toward
        ),
        None if set.number("tilt") > 0.0 => {
            format!("no tilt of up to {}° drains all of it; ", set.number("tilt"))
        }
        None => String::new(),
    };
    Finding::new(
        Level::Warning,
        "water-stands",
        hollow.walls.first().map_or("", String::as_str),
        format!(
            "{:.0} ml of water stand {:.0} mm deep near ({:.0}, {:.0}, {:.0}) mm, between {}",
            hollow.volume / MILLILITRE,
            hollow.depth,
            hollow.lowest.x,
            hollow.lowest.y,
            hollow.lowest.z,
            hollow.walls.join(", ")
        ),
        format!(
            "{tilted}fill the hollow up to ({:.0}, {:.0}, {:.0}) mm with a welded filler of {:.0} ml, with fall on it",
            hollow.pass.x,
            hollow.pass.y,
            hollow.pass.z,
            hollow.volume / MILLILITRE
        ),
    )
}

fn falls(work: &Work, set: &Values, output: &mut Output) {
    let least = (1.0 / set.number("fall")).atan();
    let mut rows = Vec::new();
    for face in work.faces.iter().filter(|f| f.area > 0.0) {
        let Some(found) = fall(&face.frame, least) else { continue };
        let ratio = 1.0 / found.along.tan();
        let flat = face.profile.depth() <= 0.0;
        // Water on flat sheet takes the steepest line.
        let (runs, remedy) = match (flat, found.remedy) {
            (true, Some(Turn::Ribs(_))) => (found.slope, None),
            (true, remedy) => (found.slope, remedy),
            (false, remedy) => (found.along, remedy),
        };
        let change = match remedy {
            None => "none".to_owned(),
            Some(Turn::Ribs(by)) => format!("turn the ribs by {:.1}°", by.to_degrees()),
            Some(Turn::Face(by)) => {
                format!("tip the face by {:.2}°, ribs down its steepest line", by.to_degrees())
            }
        };
        if remedy.is_some() {
            let level = if ratio.is_finite() { format!("1 : {ratio:.0}") } else { "level".to_owned() };
            output.findings.push(Finding::new(
                Level::Warning,
                "rib-fall",
                face.id.as_str(),
                format!(
                    "water runs along the ribs of this face with a fall of {:.2}° ({level}); 1 : {} is the least set",
                    runs.to_degrees(),
                    set.number("fall")
                ),
                format!("{change}; or let the crests run to an open edge lower down"),
            ));
        }
        rows.push(vec![
            words(face.id.as_str()),
            Cell::Number(found.slope.to_degrees() + 0.0, 2),
            Cell::Number(runs.to_degrees() + 0.0, 2),
            words(change),
        ]);
    }
    let title = format!("Fall along ribs of faces that look up (least 1 : {})", set.number("fall"));
    output.tables.push(table(
        "water-falls",
        &title,
        &["face", "slope °", "fall along ribs °", "smallest change"],
        rows,
    ));
}

/// Grooves between sheets that open upward and run nearly level: crevices in which dirt and water stay.
fn grooves(work: &Work, set: &Values, output: &mut Output) {
    let least = (1.0 / set.number("fall")).atan().sin();
    let mut rows = Vec::new();
    for seam in &work.seams {
        let level = |s: &&SeamSegment| {
            let run = s.ends[1] - s.ends[0];
            let upward = (s.normals[0] + s.normals[1]).try_normalize(0.0).is_some_and(|n| n.z > UPWARD);
            s.angle > 180.0 && upward && run.z.abs() < least * run.norm()
        };
        let length: f64 = seam.segments.iter().filter(level).map(SeamSegment::length).sum();
        if length > SHORT {
            rows.push(vec![words(seam.id.as_str()), Cell::Number(length, 0), Cell::Number(seam.length, 0)]);
        }
    }
    if !rows.is_empty() {
        output.findings.push(Finding::new(
            Level::Note,
            "upward-joint",
            work.sculpture.name.as_str(),
            format!(
                "{} seams have grooves that open upward and run nearly level; they hold dirt and water",
                rows.len()
            ),
            "weld them without a gap, fill them flush with a fall, and keep them clear of leaves",
        ));
    }
    output.tables.push(table(
        "water-seams",
        "Grooves that open upward and run nearly level",
        &["seam", "level length mm", "whole length mm"],
        rows,
    ));
}

/// Drain holes at the lowest places of every chamber, vents at the highest.
fn inside(work: &Work, set: &Values, output: &mut Output) -> Result<()> {
    let found = chambers(work)?;
    for name in &found.leaking {
        output.findings.push(Finding::new(
            Level::Warning,
            "water-leaking",
            name.as_str(),
            "the inside of these elements does not close, so its drains and vents cannot be placed",
            "move an element or a phase by a millimetre",
        ));
    }
    let mut rows = Vec::new();
    for one in &found.chambers {
        for (word, up) in [("drain", Vector3::z_axis()), ("vent", -Vector3::z_axis())] {
            let pools = Pools::new(Posed::new(&one.chamber, up));
            let holding = |h: &usize| pools.pools[*h].capacity > POCKET || pools.pools.len() == 1;
            for hollow in pools.hollows().filter(holding) {
                let own = &pools.pools[hollow];
                let kept = if own.parent.is_some() { own.capacity / LITRE } else { f64::NAN };
                rows.push(hole(work, set, one, &pools, hollow, word, up, kept));
            }
        }
        let open: Vec<&str> = one.open.iter().map(String::as_str).collect();
        if !open.is_empty() {
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
    if !rows.is_empty() {
        output.findings.push(Finding::new(
            Level::Note,
            "drains",
            work.sculpture.name.as_str(),
            format!(
                "{} holes of {} mm drain and vent the inside; water condenses in every chamber that is not welded airtight",
                rows.len(),
                set.number("drain")
            ),
            "drill them before the chamber is closed, deburr, and close them with screens against insects and birds",
        ));
    }
    let columns = [
        "chamber",
        "hole",
        "wall",
        "part",
        "along mm",
        "across mm",
        "x mm",
        "y mm",
        "z mm",
        "keeps without it l",
    ];
    let title = "Drains and vents (along and across: coordinates of the part's outline)";
    output.tables.push(table("water-inside", title, &columns, rows));
    Ok(())
}

#[allow(clippy::too_many_arguments, reason = "one row of a table")]
fn hole(
    work: &Work,
    set: &Values,
    one: &Enclosed,
    pools: &Pools<'_>,
    hollow: usize,
    word: &str,
    up: Unit<Vector3<f64>>,
    kept: f64,
) -> Vec<Cell> {
    let chamber = &one.chamber;
    let corner = pools.pools[hollow].lowest;
    let at = chamber.corner(corner);
    // Of the walls that meet there, the one that faces down most, of sheet.
    let beside =
        (0..chamber.triangles()).filter(|&t| chamber.indices(t).iter().any(|&k| k as usize == corner));
    let faces_down = |t: usize| -chamber.area_vector(t).try_normalize(0.0).map_or(0.0, |n| n.dot(&up));
    let wall = beside
        .filter(|&t| !chamber.names[chamber.part_of[t] as usize].contains('~'))
        .max_by(|&a, &b| faces_down(a).total_cmp(&faces_down(b)))
        .map(|t| chamber.part_of[t]);
    let mut row = vec![words(one.name.as_str()), words(word)];
    let face = wall.and_then(|w| work.faces.iter().find(|f| f.id == chamber.names[w as usize]));
    match (wall, face) {
        (Some(w), Some(face)) => {
            // Moved from the corner toward the middle of the wall, far enough for the hole to be whole.
            let (mut sum, mut area) = (Vector3::zeros(), 0.0);
            for t in chamber.wall(w) {
                let [a, b, c] = chamber.corners(t);
                let own = chamber.area_vector(t).norm();
                sum += (a.coords + b.coords + c.coords) * (own / 3.0);
                area += own;
            }
            let f = &face.frame;
            let flat = |p: &Point3<f64>| {
                let d = p - f.origin;
                [d.dot(&f.u), d.dot(&f.v)]
            };
            let (from, to) = (flat(&at), flat(&Point3::from(sum / area)));
            let run = [to[0] - from[0], to[1] - from[1]];
            let length = run[0].hypot(run[1]);
            let away = (set.number("drain") / 2.0 + BESIDE).min(length);
            let share = if length > 0.0 { away / length } else { 0.0 };
            let st = [from[0] + run[0] * share, from[1] + run[1] * share];
            let part = work
                .parts
                .iter()
                .find(|p| p.face == face.id && p.outlines.iter().filter(|o| holds(o, st)).count() % 2 == 1);
            row.extend([
                words(face.id.as_str()),
                part.map_or(Cell::Empty, |p| words(p.id.as_str())),
                Cell::Number(st[0] + 0.0, 0),
                Cell::Number(st[1] + 0.0, 0),
            ]);
        }
        (w, _) => {
            row.push(w.map_or(Cell::Empty, |w| words(chamber.names[w as usize].as_str())));
            row.extend([Cell::Empty, Cell::Empty, Cell::Empty]);
        }
    }
    row.extend(place(&at));
    row.push(if kept.is_nan() { Cell::Empty } else { Cell::Number(kept, 2) });
    row
}

/// What rust takes of every sheet over its life, on both faces.
fn rust(work: &Work, set: &Values, output: &mut Output) {
    let category = set.text("environment").unwrap_or_default();
    let Some(first) = corrosion::first_year(category) else { return };
    let loss = corrosion::loss(first, set.number("life")) / 1000.0;
    let mut thicknesses: Vec<f64> = work.parts.iter().map(crate::part::Part::thickness).collect();
    thicknesses.sort_by(f64::total_cmp);
    thicknesses.dedup();
    let rows = thicknesses
        .iter()
        .map(|&t| {
            vec![
                Cell::Number(t, 1),
                Cell::Number(loss, 2),
                Cell::Number((t - loss).max(0.0), 2),
                Cell::Number((t - 2.0 * loss).max(0.0), 2),
            ]
        })
        .collect();
    if thicknesses.first().is_some_and(|&t| t <= 2.0 * loss) {
        output.findings.push(Finding::new(
            Level::Warning,
            "rust-through",
            work.sculpture.name.as_str(),
            format!(
                "bare on both sides, sheet of {} mm may rust through in {} years of {category}",
                thicknesses[0],
                set.number("life")
            ),
            "coat the inside, take thicker sheet, or ask for a shorter life",
        ));
    }
    let title = format!(
        "What rust may take in {} years, {category} (ISO 9223 upper end, ISO 9224 from memory; preliminary: a licensed \
         engineer decides)",
        set.number("life")
    );
    let columns =
        ["sheet mm", "lost of each bare face mm", "left, inside coated mm", "left, bare on both sides mm"];
    output.tables.push(table("water-rust", &title, &columns, rows));
}
