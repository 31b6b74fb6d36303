//! Inside plates on random works: distance to every sheet, against points spread over the thick parts and against
//! the heights of the profiles, neither of which the plates are made from.

use nalgebra::Point3;
use rayon::prelude::*;
use ribwright_kernel::part::{Part, PartKind};
use ribwright_kernel::plates::{ARC, Cutter, Drains, Options, Plate};
use ribwright_kernel::profile::CHORD_TOLERANCE;
use ribwright_kernel::sculpture::Element;
use ribwright_kernel::{Registry, Work, work_out};
use ribwright_tests::works::random_work;
use std::cell::LazyCell;

/// How many works with a plate are looked at.
const WORKS: usize = 50;
/// Rounding of the integer grids on which outlines are combined, mm.
const ROUNDING: f64 = 2.0e-5;
/// Step at which steel is looked at for what bounds a plate, mm.
const STEEL: f64 = 1.0;
/// Step across the ribs at which the inside skin is looked at, mm.
const STEP: f64 = 2.0;
const LEAST_STEP: f64 = 1.0e-3;
/// Rises between steps that count as none, mm.
const FLAT: f64 = 1.0e-3;
/// What the edge may stand back beyond the clearance, mm: tangents about corners, and bends between steps.
const BOUND: f64 = ARC + 0.01;
/// What chords of bends may leave their arcs on the inside skin, square to the sheet; a level cut sees more of it where
/// the sheet lies flat.
const CHORDS: f64 = 1.25 * CHORD_TOLERANCE;

fn options(clearance: f64) -> Options {
    Options {
        thickness: 6.0,
        clearance,
        hole_clearance: 2.0,
        drains: Drains::None,
        drain_radius: 10.0,
        least_width: 10.0,
        density: 7850.0,
    }
}

/// Points of a part's steel between two heights, x and y: along its outlines and over its area, from skin to skin.
fn points_of(part: &Part, band: [f64; 2], step: f64) -> Vec<[f64; 2]> {
    let thickness = part.thickness();
    let inside = match part.kind {
        PartKind::Sheet { .. } => -thickness / 2.0,
        PartKind::Closure { .. } => -thickness,
    };
    let layers = (thickness / step).ceil().max(2.0);
    let skins: Vec<f64> = (0..=layers as u32).map(|k| inside + thickness * f64::from(k) / layers).collect();
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for p in part.outlines.iter().flatten() {
        for i in 0..2 {
            (low[i], high[i]) = (low[i].min(p[i]), high[i].max(p[i]));
        }
    }
    // No skin lies farther from the middle one than that.
    let side = |at: [f64; 2]| {
        let z = part.position(at, inside + thickness / 2.0).z;
        if z < band[0] - thickness { -1 } else { i32::from(z > band[1] + thickness) }
    };
    let mut found = Vec::new();
    let mut add = |at: [f64; 2]| {
        if side(at) != 0 {
            return;
        }
        for offset in &skins {
            let p = part.position(at, *offset);
            if p.z >= band[0] && p.z <= band[1] {
                found.push([p.x, p.y]);
            }
        }
    };
    for outline in &part.outlines {
        for (i, a) in outline.iter().enumerate() {
            let b = outline[(i + 1) % outline.len()];
            let count = ((b[0] - a[0]).hypot(b[1] - a[1]) / step).ceil().max(1.0);
            for k in 0..count as u32 {
                let share = f64::from(k) / count;
                add([a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share]);
            }
        }
    }
    let mut t = low[1] + step / 2.0;
    while t < high[1] {
        let mut s = low[0] + step / 2.0;
        // A row along the ribs is straight: beyond the band at both ends, it is so everywhere.
        if side([s, t]) * side([high[0], t]) == 1 {
            t += step;
            continue;
        }
        let crossings = crossings(part, t);
        while s < high[0] {
            if crossings.iter().filter(|x| **x < s).count() % 2 == 1 {
                add([s, t]);
            }
            s += step;
        }
        t += step;
    }
    found
}

/// Where a line across a part's outlines at t enters and leaves them.
fn crossings(part: &Part, t: f64) -> Vec<f64> {
    let mut found = Vec::new();
    for outline in &part.outlines {
        for (i, a) in outline.iter().enumerate() {
            let b = outline[(i + 1) % outline.len()];
            if (a[1] <= t) != (b[1] <= t) {
                found.push(a[0] + (b[0] - a[0]) * (t - a[1]) / (b[1] - a[1]));
            }
        }
    }
    found
}

fn distance(ring: &[[f64; 2]], at: [f64; 2]) -> f64 {
    (0..ring.len())
        .map(|i| {
            let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
            let run = [b[0] - a[0], b[1] - a[1]];
            let square = (run[0] * run[0] + run[1] * run[1]).max(f64::MIN_POSITIVE);
            let share = (((at[0] - a[0]) * run[0] + (at[1] - a[1]) * run[1]) / square).clamp(0.0, 1.0);
            (a[0] + run[0] * share - at[0]).hypot(a[1] + run[1] * share - at[1])
        })
        .fold(f64::INFINITY, f64::min)
}

fn holds(ring: &[[f64; 2]], p: [f64; 2]) -> bool {
    (0..ring.len()).fold(false, |inside, i| {
        let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
        let crosses = (a[1] <= p[1]) != (b[1] <= p[1]);
        inside ^ (crosses && p[0] < a[0] + (b[0] - a[0]) * (p[1] - a[1]) / (b[1] - a[1]))
    })
}

/// The inside skins of an element's faces between two heights, in plan about a point: along each rib line the stretch
/// that lies between them, moved in by what chords of bends may leave out. From the profile's heights alone.
fn skins_of(work: &Work, element: usize, band: [f64; 2], about: Point3<f64>) -> Vec<[[f64; 2]; 2]> {
    let [low, high] = work.sculpture.elements[element].solid.bounding_box();
    let (middle, size) = (nalgebra::center(&low, &high), (high - low).norm());
    let flat = |p: Point3<f64>| [p.x - about.x, p.y - about.y];
    let mut found = Vec::new();
    for f in work.faces.iter().filter(|f| f.element == element) {
        let half = f.profile.thickness() / 2.0;
        let over = (middle - f.frame.origin).dot(&f.frame.v) - f.phase;
        let along = (middle - f.frame.origin).dot(&f.frame.u);
        let at = |q: f64| {
            let [t, height] = f.profile.on_skin(q, -half);
            let lift = height + f.lift - CHORDS;
            f.frame.origin + f.frame.u * along + f.frame.v * (t + f.phase) + f.frame.n * lift
        };
        // Close together where the sheet bends.
        let mut places = vec![over - size / 2.0];
        let mut wanted = vec![over + size / 2.0];
        while let Some(&next) = wanted.last() {
            let from = places[places.len() - 1];
            let middle = f64::midpoint(from, next);
            let bulge = (at(middle) - nalgebra::center(&at(from), &at(next))).norm();
            if next - from > STEP || (bulge > FLAT && next - from > LEAST_STEP) {
                wanted.push(middle);
            } else {
                wanted.pop();
                places.push(next);
            }
        }
        let mut before: Option<(Point3<f64>, [[f64; 2]; 2])> = None;
        for p in places.into_iter().map(at) {
            // The stretch within the band, from where the rib enters it to where it leaves it.
            let rise = f.frame.u.z;
            let level = rise.abs() < 1.0 / size;
            let stretch = if level { [-size, size] } else { band.map(|z| (z - p.z) / rise) };
            let ends = stretch.map(|s| flat(p + f.frame.u * s));
            if !level || (p.z >= band[0] && p.z <= band[1]) {
                found.push(ends);
            }
            if let Some((q, others)) = before {
                // Between two lines the skin passes the upper and the lower level.
                if level {
                    for z in band.into_iter().filter(|z| (q.z < *z) != (p.z < *z)) {
                        let crossing = q + (p - q) * ((z - q.z) / (p.z - q.z));
                        found.push([-size, size].map(|s| flat(crossing + f.frame.u * s)));
                    }
                } else {
                    found.extend([[others[0], ends[0]], [others[1], ends[1]]]);
                }
            }
            before = Some((p, ends));
        }
    }
    found
}

/// A plate in an element of a work, at a height where it has room.
fn plate_of(work: &Work, seed: u64, clearance: f64) -> Option<Plate> {
    let cutter = Cutter::new(work).ok()?;
    let elements = work.sculpture.elements.len();
    for k in 0..elements * 3 {
        let e = (seed as usize + k) % elements;
        let element: &Element = &work.sculpture.elements[e];
        let [low, high] = element.solid.bounding_box();
        let share = [0.45, 0.3, 0.6][k / elements];
        let z = low.z + (high.z - low.z) * share;
        if let Ok(plate) = cutter.plate(e, z, None, &options(clearance)) {
            return Some(plate);
        }
    }
    None
}

#[test]
fn plates_keep_their_clearance_from_every_sheet_and_no_more_than_that() {
    let registry = Registry::standard();
    let checked: Vec<(u64, usize, f64)> = (0..WORKS as u64 * 8 / 5)
        .into_par_iter()
        .filter_map(|seed| {
            let work = work_out(&random_work(seed).ok()?, &registry).ok()?;
            let clearance = [1.0, 3.0, 8.0][(seed % 3) as usize];
            let plate = plate_of(&work, seed, clearance)?;
            let band = [plate.origin.z, plate.origin.z + plate.thickness];
            let o = plate.origin;
            // Nothing of any part comes nearer than the clearance.
            let (mut nearest, mut looked_at) = (f64::INFINITY, 0);
            for part in &work.parts {
                for [x, y] in points_of(part, band, 4.0) {
                    let at = [x - o.x, y - o.y];
                    let inside = plate.outlines.iter().filter(|r| holds(r, at)).count() % 2 == 1;
                    let apart = plate.outlines.iter().map(|r| distance(r, at)).fold(f64::INFINITY, f64::min);
                    assert!(!inside, "seed {seed}: {} reaches into the plate", part.id);
                    nearest = nearest.min(apart);
                    looked_at += 1;
                }
            }
            assert!(nearest > clearance - ROUNDING, "seed {seed}: {nearest} for {clearance}");
            // And every point of the edge has, just beyond the clearance, something that bounds the free space.
            let steel = LazyCell::new(|| -> Vec<[f64; 2]> {
                let points = work.parts.iter().flat_map(|p| points_of(p, band, STEEL));
                points.map(|p| [p[0] - o.x, p[1] - o.y]).collect()
            });
            let skins = skins_of(&work, plate.element, band, o);
            let reach = clearance + BOUND;
            for ring in &plate.outlines {
                for (i, a) in ring.iter().enumerate() {
                    let b = ring[(i + 1) % ring.len()];
                    let at = [f64::midpoint(a[0], b[0]), f64::midpoint(a[1], b[1])];
                    let bounded = skins.iter().any(|s| {
                        let near = |i: usize| {
                            at[i] > s[0][i].min(s[1][i]) - reach && at[i] < s[0][i].max(s[1][i]) + reach
                        };
                        near(0) && near(1) && distance(s, at) < reach
                    });
                    let by_steel =
                        || steel.iter().any(|p| (p[0] - at[0]).hypot(p[1] - at[1]) < reach + 2.0 * STEEL);
                    assert!(bounded || by_steel(), "seed {seed}: slack at {at:?}");
                }
            }
            Some((seed, looked_at, nearest - clearance))
        })
        .collect();
    assert!(checked.len() >= WORKS, "only {} works had room for a plate", checked.len());
    let points: usize = checked.iter().map(|c| c.1).sum();
    assert!(points > 100_000, "only {points} points of steel were looked at");
}
