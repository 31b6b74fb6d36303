//! Where liquid comes to rest when it may run out at some places.
//!
//! Pools are a tree (`liquid::pools`): each is full to its pass, unless a place where it may run out lies in it. With one
//! in its own part it stands up to the lowest of them; with one in a pool it was joined of, it has run out to the pass,
//! and every pool it was joined of stands for itself.

use crate::liquid::{Cells, Chamber, Pools};
use nalgebra::Point3;

/// A place where a pool runs out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sink {
    /// The pool in whose own part it lies.
    pub pool: usize,
    /// Height down to which it runs out there, over the chamber's middle, mm.
    pub level: f64,
}

/// A pool at rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rest {
    /// The pool.
    pub pool: usize,
    /// Its level, over the chamber's middle, mm.
    pub level: f64,
}

/// Triangles are hit by a place within this share of their own height: edges count in.
const ON_EDGE: f64 = 1.0e-6;
/// By so much of its size a triangle's box is larger, so that it holds what counts as on an edge of a needle.
const BOX: f64 = 1.0e-3;

/// The sink of a place on a wall that runs out down to a height; none if the place lies on none of these triangles. `off`
/// is how far beside the triangle's plane it may lie, mm.
pub fn sink_at(
    pools: &Pools<'_>,
    triangles: impl Iterator<Item = usize>,
    place: &Point3<f64>,
    level: f64,
    off: f64,
) -> Option<Sink> {
    let chamber = pools.posed.chamber;
    let on = |t: usize| {
        let corners @ [a, b, c] = chamber.corners(t);
        // Most lie elsewhere.
        let around = |i: usize| {
            let [low, high] = [f64::min, f64::max].map(|m| corners.iter().map(|p| p[i]).fold(a[i], m));
            let slack = off + BOX * (high - low);
            (low - slack..=high + slack).contains(&place[i])
        };
        if !(0..3).all(around) {
            return None;
        }
        let n = chamber.area_vector(t).try_normalize(0.0)?;
        let away = (place - a).dot(&n).abs();
        let twice = 2.0 * chamber.area_vector(t).norm();
        let inside = [(a, b), (b, c), (c, a)]
            .iter()
            .all(|(p, q)| (q - p).cross(&(place - p)).dot(&n) >= -ON_EDGE * twice);
        (inside && away <= off).then_some((away, t))
    };
    let (_, t) = triangles.filter_map(on).min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)))?;
    let mut pool = pools.of_triangle(t);
    while let (true, Some(up)) = (level > pools.pools[pool].top, pools.pools[pool].parent) {
        pool = up;
    }
    Some(Sink { pool, level })
}

/// Triangles of a wall, of which those near a place are quickly found.
pub(super) struct Near {
    triangles: Vec<usize>,
    axes: [usize; 2],
    cells: Cells,
}

impl Near {
    /// Of a chamber; places may lie `off` beside them, mm.
    pub(super) fn new(chamber: &Chamber, triangles: Vec<usize>, off: f64) -> Self {
        let corners: Vec<Point3<f64>> = triangles.iter().flat_map(|&t| chamber.corners(t)).collect();
        let extent = |points: &[Point3<f64>]| {
            [0, 1, 2].map(|i| {
                let low = points.iter().map(|p| p[i]).fold(f64::INFINITY, f64::min);
                points.iter().map(|p| p[i]).fold(f64::NEG_INFINITY, f64::max) - low
            })
        };
        // Looked at along the axis in which the wall is thinnest.
        let whole = extent(&corners);
        let mut axes = [0, 1, 2];
        axes.sort_by(|&a, &b| whole[b].total_cmp(&whole[a]));
        let axes = [axes[0], axes[1]];
        let largest = corners.chunks(3).flat_map(extent).fold(0.0, f64::max);
        let flat: Vec<[f64; 2]> = corners.iter().map(|p| axes.map(|i| p[i])).collect();
        #[allow(clippy::cast_possible_truncation, reason = "a chamber counts its triangles in 32 bits")]
        let by: Vec<[u32; 3]> = (0..triangles.len() as u32).map(|k| [3 * k, 3 * k + 1, 3 * k + 2]).collect();
        Self { cells: Cells::new(&flat, &by, off + BOX * largest), triangles, axes }
    }

    /// Those that may lie under a place.
    pub(super) fn at(&self, place: &Point3<f64>) -> impl Iterator<Item = usize> + '_ {
        self.cells.at(self.axes.map(|i| place[i])).map(|k| self.triangles[k as usize])
    }
}

/// All pools at rest, given where they run out; those that run dry are not listed.
pub fn at_rest(pools: &Pools<'_>, sinks: &[Sink]) -> Vec<Rest> {
    let count = pools.pools.len();
    let mut own = vec![f64::INFINITY; count];
    let mut below = vec![false; count];
    for sink in sinks {
        own[sink.pool] = own[sink.pool].min(sink.level);
        let mut at = Some(sink.pool);
        while let Some(k) = at {
            below[k] = true;
            at = pools.pools[k].parent;
        }
    }
    let mut found = Vec::new();
    let mut todo: Vec<usize> = (0..count).filter(|&k| pools.pools[k].parent.is_none()).collect();
    while let Some(k) = todo.pop() {
        let pool = &pools.pools[k];
        if !below[k] {
            found.push(Rest { pool: k, level: pool.top });
        } else if pool.children.iter().any(|&c| below[c]) {
            todo.extend(&pool.children);
        } else if own[k] > pool.bottom {
            found.push(Rest { pool: k, level: own[k].min(pool.top) });
        } else {
            // Run out below the pass that joined it: what it was joined of stands for itself.
            found.extend(pool.children.iter().map(|&c| Rest { pool: c, level: pools.pools[c].top }));
        }
    }
    found
}
