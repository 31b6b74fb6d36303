//! Schedules of the spine: legs, openings, holes, and what is cut from which bar.

use super::super::sketch::{refused, table, words};
use super::fit::{Fitted, Prepared};
use crate::finding::Level;
use crate::output::Output;
use crate::settings::Values;
use crate::table::Cell;
use crate::tube::mitre::Leg;
use crate::tube::stock_cut::{Method, Piece, Plan, Sawing, plan};
use crate::work::Work;
use nalgebra::{Unit, Vector3};

/// Directions that rise or fall less than this, degrees, are level.
const LEVEL: f64 = 0.5;

/// The word for a place in lists.
fn count(n: usize) -> Cell {
    #[allow(clippy::cast_precision_loss, reason = "a count")]
    let n = n as f64;
    Cell::Number(n, 0)
}

pub(super) fn tables(work: &Work, set: &Values, prepared: &Prepared, fitted: &Fitted, output: &mut Output) {
    let tube = fitted.built.tube;
    let columns = [
        "leg",
        "goes up with",
        "from height mm",
        "to height mm",
        "centre line mm",
        "long point mm",
        "short point mm",
        "tip to tip mm",
        "lower cut degrees",
        "upper cut degrees",
        "turn degrees",
        "turn on girth mm",
        "mass kg",
        "mark line",
    ];
    let rows = fitted.legs.iter().enumerate().map(|(k, leg)| {
        let [low, high] = fitted.heights(k);
        let twice = leg.ends.iter().all(|e| e.long.is_some());
        let turn = |x: f64, decimals| if twice { Cell::Number(x, decimals) } else { Cell::Empty };
        vec![
            words(format!("{}", k + 1)),
            words(work.sculpture.elements[fitted.goes_with[k]].solid.name.as_str()),
            Cell::Number(low, 0),
            Cell::Number(high, 0),
            Cell::Number(leg.centre, 1),
            Cell::Number(leg.longest, 1),
            Cell::Number(leg.shortest, 1),
            Cell::Number(leg.overall, 1),
            Cell::Number(leg.ends[0].cut.to_degrees(), 2),
            Cell::Number(leg.ends[1].cut.to_degrees(), 2),
            turn(leg.roll.to_degrees(), 1),
            turn(leg.roll * tube.outside() / 2.0, 1),
            Cell::Number(fitted.leg_mass(k), 2),
            words(mark_line(leg)),
        ]
    });
    let title = format!(
        "Spine: tube {}, {} (cuts in degrees from square; turn of the upper long point from the lower one, clockwise seen \
         from below; preliminary: a licensed engineer decides)",
        tube.words(),
        fitted.built.material.name
    );
    output.tables.push(table("spine", &title, &columns, rows.collect()));
    openings(work, prepared, fitted, output);
    holes(work, fitted, output);
    bars(set, fitted, output);
}

/// Where the line marked `LEG` on the templates lies on a leg as it stands.
fn mark_line(leg: &Leg) -> String {
    let on = |at: &str| format!("at the long point of its {at} end: {}", toward(&leg.reference()));
    match leg.ends.map(|e| e.long.is_some()) {
        [true, _] => on("lower"),
        [_, true] => on("upper"),
        _ => format!("both ends square: {}", toward(&leg.reference())),
    }
}

/// A direction in words: compass degrees counter-clockwise from +x, and how it rises.
fn toward(d: &Unit<Vector3<f64>>) -> String {
    let compass = d.y.atan2(d.x).to_degrees().rem_euclid(360.0);
    let rise = d.z.clamp(-1.0, 1.0).asin().to_degrees();
    if rise.abs() < LEVEL {
        format!("toward {compass:.0}°")
    } else if rise > 0.0 {
        format!("toward {compass:.0}°, {rise:.0}° up")
    } else {
        format!("toward {compass:.0}°, {:.0}° down", -rise)
    }
}

fn openings(work: &Work, prepared: &Prepared, fitted: &Fitted, output: &mut Output) {
    let name = |e: usize| work.sculpture.elements[e].solid.name.as_str();
    let rooms: Vec<f64> = prepared.rooms().collect();
    let rows = fitted.passed.iter().map(|p| {
        let o = &prepared.openings()[p.opening];
        vec![
            words(o.gate.name()),
            words(format!("{} | {}", name(o.between[0]), name(o.between[1]))),
            count(p.leg + 1),
            Cell::Number(p.at.x, 0),
            Cell::Number(p.at.y, 0),
            Cell::Number(p.at.z, 0),
            Cell::Number(p.tilt.to_degrees(), 1),
            Cell::Number(2.0 * rooms[p.opening], 0),
            if p.to_mitre.is_finite() { Cell::Number(p.to_mitre.max(0.0), 0) } else { Cell::Empty },
            words(if o.closed { "sheet: cut a hole" } else { "open" }),
        ]
    });
    let columns = [
        "opening",
        "between",
        "leg",
        "x mm",
        "y mm",
        "z mm",
        "tilt degrees",
        "widest free circle mm",
        "to the nearest mitre mm",
        "is",
    ];
    let rows: Vec<_> = rows.collect();
    if !rows.is_empty() {
        let title =
            "Openings the spine passes (tilt from square to the face; the circle is clear of all sheet)";
        output.tables.push(table("spine_openings", title, &columns, rows));
    }
}

fn holes(work: &Work, fitted: &Fitted, output: &mut Output) {
    let rows = fitted.holes.iter().map(|hole| {
        let [a, b] = hole.slant.ellipse();
        vec![
            words(work.faces[hole.face].id.as_str()),
            Cell::Number(2.0 * a + hole.slant.shift(), 1),
            Cell::Number(2.0 * b, 1),
            Cell::Number(hole.slant.shift(), 1),
            Cell::Number(hole.on_face[0], 1),
            Cell::Number(hole.on_face[1], 1),
            Cell::Number(hole.toward.to_degrees(), 1),
            Cell::Number(hole.slant.tilt.to_degrees(), 1),
        ]
    });
    let columns = [
        "face",
        "length mm",
        "width mm",
        "straight sides mm",
        "along the ribs mm",
        "across the ribs mm",
        "longer axis degrees",
        "tilt degrees",
    ];
    let rows: Vec<_> = rows.collect();
    if !rows.is_empty() {
        let title = "Holes for the spine in faces with sheet (cut square to the face, from its origin; both skins and the \
                     depth of the ribs counted)";
        output.tables.push(table("spine_holes", title, &columns, rows));
    }
}

fn bars(set: &Values, fitted: &Fitted, output: &mut Output) {
    let pieces: Vec<Piece> = fitted
        .legs
        .iter()
        .enumerate()
        .map(|(k, leg)| Piece {
            name: format!("spine leg {}", k + 1),
            centre: leg.centre,
            cuts: leg.ends.map(|e| e.cut),
        })
        .collect();
    let lengths = match super::asked::bars(set) {
        Ok(lengths) => lengths,
        Err(error) => {
            output.findings.push(refused(Level::Error, "spine-bar", "spine", &error));
            return;
        }
    };
    let sawing = Sawing {
        bars: lengths,
        radius: fitted.built.tube.outside() / 2.0,
        kerf: set.number("kerf"),
        trim: set.number("trim"),
        nested: set.flag("nested"),
    };
    let Plan { bars, method, .. } = match plan(&pieces, &sawing) {
        Ok(plan) => plan,
        Err(error) => {
            output.findings.push(refused(Level::Warning, "spine-bar", "spine", &error));
            return;
        }
    };
    let rows = bars.iter().enumerate().map(|(k, bar)| {
        let order: Vec<String> = bar
            .pieces
            .iter()
            .map(|p| format!("{}{}", p.piece + 1, if p.turned { " (upper end first)" } else { "" }))
            .collect();
        vec![
            count(k + 1),
            Cell::Number(bar.length, 0),
            words(order.join(", ")),
            Cell::Number(bar.used, 1),
            Cell::Number(bar.length - bar.used, 1),
        ]
    });
    let how = match method {
        Method::Exact => "no cutting takes fewer bars",
        Method::FirstFit => "longest first; maybe not the fewest bars",
    };
    let nested = if sawing.nested {
        "mitres share cuts, turn the bar half round between them"
    } else {
        "square kerfs"
    };
    let title = format!("Spine, legs from bars of tube {} ({how}; {nested})", fitted.built.tube.words());
    let columns = ["bar", "length mm", "legs in order", "used mm", "left mm"];
    output.tables.push(table("spine_bars", &title, &columns, rows.collect()));
}
