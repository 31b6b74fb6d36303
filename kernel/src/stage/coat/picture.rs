//! Stands as pictures: the chamber from the side and from its far end, with the level drawn.

use super::super::sketch::{Seen, label, letters};
use super::Coated;
use crate::coat::Stop;
use crate::drawing::{Drawing, Layer, Path};
use crate::liquid::{Chamber, Posed};
use nalgebra::{Point3, Vector3};
use std::collections::BTreeMap;

/// Stands beside each other in a row.
const COLUMNS: usize = 3;
/// Room between pictures, in sizes of the chamber.
const GAP: f64 = 0.12;
/// Strokes that show the depth of the liquid.
const STROKES: usize = 5;
/// Neighbouring triangles turned by less than this (1 less the cosine) show no edge: chords of a bend.
const SMOOTH: f64 = 0.01;
/// Bound of the scale of letters.
const CAPITALS: f64 = 0.8;

/// Edges worth drawing: where two walls meet, and sharp folds.
fn edges(chamber: &Chamber) -> Vec<([Point3<f64>; 2], bool)> {
    let mut by_ends: BTreeMap<[u32; 2], Vec<usize>> = BTreeMap::new();
    for t in 0..chamber.triangles() {
        let [a, b, c] = chamber.indices(t);
        for [p, q] in [[a, b], [b, c], [c, a]] {
            by_ends.entry([p.min(q), p.max(q)]).or_default().push(t);
        }
    }
    let normal = |t: usize| chamber.area_vector(t).try_normalize(0.0).unwrap_or_else(Vector3::zeros);
    by_ends
        .into_iter()
        .filter_map(|(ends, sides)| {
            let &[p, q] = sides.as_slice() else { return None };
            let seam = chamber.part_of[p] != chamber.part_of[q];
            let sharp = normal(p).dot(&normal(q)) < 1.0 - SMOOTH;
            (seam || sharp).then(|| (ends.map(|k| chamber.corner(k as usize)), seam))
        })
        .collect()
}

/// Where walls cut a level plane: ends of straight pieces.
fn section(posed: &Posed<'_>, level: f64) -> Vec<[Point3<f64>; 2]> {
    let mut pieces = Vec::new();
    for t in 0..posed.chamber.triangles() {
        let corners = posed.chamber.corners(t);
        let h = corners.map(|p| posed.height_of(&p) - level);
        let mut ends = Vec::with_capacity(2);
        for k in 0..3 {
            let (i, j) = (k, (k + 1) % 3);
            if (h[i] <= 0.0) != (h[j] <= 0.0) {
                ends.push(corners[i] + (corners[j] - corners[i]) * (h[i] / (h[i] - h[j])));
            }
        }
        if let [a, b] = ends[..] {
            pieces.push([a, b]);
        }
    }
    pieces
}

/// Stretches of the section along a direction, joined where they touch.
fn stretches(pieces: &[[Point3<f64>; 2]], along: &Vector3<f64>) -> Vec<[f64; 2]> {
    let mut all: Vec<[f64; 2]> = pieces
        .iter()
        .map(|e| {
            let [a, b] = e.map(|p| p.coords.dot(along));
            [a.min(b), a.max(b)]
        })
        .collect();
    all.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut joined: Vec<[f64; 2]> = Vec::new();
    for s in all {
        match joined.last_mut() {
            Some(last) if s[0] <= last[1] => last[1] = last[1].max(s[1]),
            _ => joined.push(s),
        }
    }
    joined
}

pub(super) fn stands(one: &Coated<'_>, number: usize) -> Drawing {
    let chamber = &one.enclosed.chamber;
    let mut drawing = Drawing {
        name: format!("coat-{number}"),
        title: format!("Stands for coating {}: from the side, and from the far end", one.enclosed.name),
        ..Drawing::default()
    };
    let edges = edges(chamber);
    let cell = chamber.size * (1.0 + GAP);
    let height = letters(chamber.size * 2.0) * CAPITALS;
    for (k, (stop, (load, level))) in one.plan.stops.iter().zip(&one.carried).enumerate() {
        #[allow(clippy::cast_precision_loss, reason = "few")]
        let (column, row) = ((k % COLUMNS) as f64, (k / COLUMNS) as f64);
        let corner = [column * cell * 2.1, -row * (cell + 6.0 * height)];
        let posed = Posed::new(chamber, stop.up);
        let pieces = section(&posed, *level);
        let left = one.rig.left(stop.stand);
        let ahead = left.cross(&stop.up);
        // From the side the far end is at the right; from the far end left is left.
        let side = if ahead.dot(&one.rig.axis) >= 0.0 { ahead } else { -ahead };
        for (x, right) in [(0.0, side), (cell, -left)] {
            view(&mut drawing, one, stop, [corner[0] + x, corner[1]], right, &edges, *level, &pieces);
        }
        let words = format!(
            "{}: turn {:.0}°, far end {}",
            k + 1,
            stop.stand.turn,
            match stop.stand.tilt {
                t if t > 0.0 => format!("raised {t:.0}°"),
                t if t < 0.0 => format!("lowered {:.0}°", -t),
                _ => "level".to_owned(),
            }
        );
        let below = corner[1] - cell / 2.0 - height * 2.0;
        drawing.labels.push(label([corner[0] + cell / 2.0, below], height, words));
        let second = format!("{:.0} kg, {:.0} N·m", load.mass, load.moment + 0.0);
        drawing.labels.push(label([corner[0] + cell / 2.0, below - height * 1.6], height * CAPITALS, second));
    }
    drawing
}

#[allow(clippy::too_many_arguments, reason = "one picture of a page")]
fn view(
    drawing: &mut Drawing,
    one: &Coated<'_>,
    stop: &Stop,
    at: [f64; 2],
    right: Vector3<f64>,
    edges: &[([Point3<f64>; 2], bool)],
    level: f64,
    pieces: &[[Point3<f64>; 2]],
) {
    let chamber = &one.enclosed.chamber;
    let up = stop.up.into_inner();
    let middle = chamber.middle.coords;
    let origin = [at[0] - middle.dot(&right), at[1] - middle.dot(&up)];
    let mut seen = Seen { drawing, axes: [right, up], at: origin };
    for (ends, seam) in edges {
        seen.line(if *seam { Layer::Seam } else { Layer::Fold }, &ends[0], &ends[1]);
    }
    // The axis of the rig, as a cross or a line.
    let reach = chamber.size * 0.55;
    let axis = one.rig.axis.into_inner() * reach;
    seen.line(Layer::Helper, &(one.rig.through - axis), &(one.rig.through + axis));
    let y = at[1] + level;
    let posed = Posed::new(chamber, stop.up);
    let lowest = posed.range()[0];
    for [a, b] in stretches(pieces, &right) {
        drawing.paths.push(Path::open(Layer::Cut, vec![[origin[0] + a, y], [origin[0] + b, y]]));
    }
    for k in 1..=STROKES {
        #[allow(clippy::cast_precision_loss, reason = "few")]
        let z = level - (level - lowest) * k as f64 / (STROKES + 1) as f64;
        for [a, b] in stretches(&section(&posed, z), &right) {
            let run = vec![[origin[0] + a, at[1] + z], [origin[0] + b, at[1] + z]];
            drawing.paths.push(Path::open(Layer::BendUp, run));
        }
    }
}
