//! Walls: the planes between two faces' cells, where closure strips stand between two bisected sheets.

use super::carrier::{Carrier, Scratch};
use super::field::{Field, Near, Sample};
use super::window::clip;
use super::{Bounds, Owner, REACH, Trimmed, close};
use nalgebra::Vector3;
use rayon::prelude::*;

/// Below this sine two planes' normals count as parallel: their wall then has no direction of its own, or
/// none at all.
const PARALLEL: f64 = 1.0e-9;
/// On its own plane a wall's two sides are told apart by less than its neighbours' walls are.
const OWN_BIAS: f64 = 1.0e-14;

/// Everything that shows on walls.
pub(crate) fn trim_walls(field: &Field, bounds: &[Bounds], margin: f64) -> Trimmed {
    let count = field.elements.len();
    let pairs: Vec<(usize, usize)> = (0..count)
        .flat_map(|a| (a..count).map(move |b| (a, b)))
        .filter(|&(a, b)| bounds[a].meets(&bounds[b], margin))
        .collect();
    let tasks: Vec<Trimmed> = pairs
        .into_par_iter()
        .map(|(a, b)| {
            let elements: Vec<usize> = (0..count)
                .filter(|&e| bounds[e].meets(&bounds[a], margin) && bounds[e].meets(&bounds[b], margin))
                .collect();
            let near = field.near(&elements);
            let mut done = Trimmed::default();
            for &(i, j) in &near.walls {
                let of = |k: usize| field.sheets[near.sheets[k]].element;
                if (of(i), of(j)) == (a, b) {
                    trim_wall(field, &near, (i, j), bounds, margin, &mut done);
                }
            }
            done
        })
        .collect();
    tasks.into_iter().fold(Trimmed::default(), |mut all, one| {
        all.patches.extend(one.patches);
        all.open += one.open;
        all
    })
}

fn trim_wall(
    field: &Field,
    near: &Near,
    (a, b): (usize, usize),
    bounds: &[Bounds],
    margin: f64,
    done: &mut Trimmed,
) {
    let (ga, gb) = (near.sheets[a], near.sheets[b]);
    let (sa, sb) = (&field.sheets[ga], &field.sheets[gb]);
    let steep = sa.n - sb.n;
    if steep.norm() < PARALLEL {
        return;
    }
    // From the side where a's distance is greater to the other.
    let normal = -steep.normalize();
    let line = sa.n.cross(&sb.n);
    let e1 = if line.norm() < PARALLEL { sa.u } else { line.normalize() };
    let e1 = (e1 - normal * e1.dot(&normal)).normalize();
    let e2 = normal.cross(&e1);
    let difference = (sa.outward(&sa.c) + sa.lift) - (sb.outward(&sa.c) + sb.lift);
    let origin = sa.c + normal * (difference / steep.norm());
    let reach = REACH * field.size;
    let window = vec![[-reach, -reach], [reach, -reach], [reach, reach], [-reach, reach]];
    let mut carrier = Carrier::new(field, near, origin, e1, e2, window, None);
    let mut scratch = Vec::new();
    let mut window = std::mem::take(&mut carrier.window);
    let d = carrier.distance(a);
    // Closure strips stand only where the wall's height lies between the lowest valley and highest crest.
    let high = near.sheets.iter().map(|&g| field.sheets[g].high + field.sheets[g].lift).fold(0.0, f64::max);
    let low = near.sheets.iter().map(|&g| field.sheets[g].low + field.sheets[g].lift).fold(0.0, f64::min);
    clip(&mut window, [d[0] - high - margin, d[1], d[2]], &mut scratch);
    clip(&mut window, [low - margin - d[0], -d[1], -d[2]], &mut scratch);
    for (own, other) in [(a, sa.element), (b, sb.element)] {
        let d = carrier.distance(own);
        for k in 0..near.sheets.len() {
            if carrier.sheet(k).element == other && k != own {
                let g = carrier.distance(k);
                clip(&mut window, [g[0] - d[0] - margin, g[1] - d[1], g[2] - d[2]], &mut scratch);
            }
        }
    }
    // A wall of one element can also part a neighbour's body, where the neighbour is bisected against one
    // of its two faces only; so all that is near bounds it.
    let mut whole = bounds[sa.element];
    for e in &near.elements {
        whole.join(&bounds[field.sheets[near.sheets[e.start]].element]);
    }
    for axis in 0..3 {
        let (o, x, y) = (origin[axis], e1[axis], e2[axis]);
        clip(&mut window, [o - whole.high[axis] - margin, x, y], &mut scratch);
        clip(&mut window, [whole.low[axis] - margin - o, -x, -y], &mut scratch);
    }
    if window.len() < 3 {
        return;
    }
    carrier.set_window(window);
    let bias = OWN_BIAS * field.size;
    let shows = |sample: &mut Sample| -> i8 {
        let (da, db) = (sample.distance[a], sample.distance[b]);
        let d = (da + db) / 2.0;
        (sample.distance[a], sample.distance[b]) = (d + bias, d - bias);
        let toward_a = field.body(near, sample);
        (sample.distance[a], sample.distance[b]) = (d - bias, d + bias);
        let toward_b = field.body(near, sample);
        (sample.distance[a], sample.distance[b]) = (da, db);
        i8::from(toward_a) - i8::from(toward_b)
    };
    let mut segments = [Vec::new(), Vec::new()];
    let mut buffers = Scratch::default();
    for k in 0..near.sheets.len() {
        carrier.cut_by_sheet(k, &shows, &mut buffers, &mut segments);
    }
    for (i, j) in carrier.walls() {
        // On this wall a and b are equally far, so (a, c) and (b, c) are one line: take it once.
        let twin = |third: usize| near.walls.contains(&(a.min(third), a.max(third)));
        let repeated = (i == b && twin(j)) || (j == b && twin(i));
        if (i, j) != (a, b) && !repeated {
            carrier.cut_by_wall((i, j), &shows, &mut buffers, &mut segments);
        }
    }
    let owner = Owner::Closure(ga.min(gb), ga.max(gb));
    let [mut along, mut against] = segments;
    let normal: Vector3<f64> = e1.cross(&e2);
    close(&carrier, &mut along, owner, 0, normal, 1.0, 1.0, done);
    close(&carrier, &mut against, owner, 1, normal, 1.0, -1.0, done);
}
