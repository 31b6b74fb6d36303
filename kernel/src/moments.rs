//! Moments: area, length of cut and first moments of a part on its middle skin.

use crate::loft::Loft;
use crate::part::PartKind;
use crate::profile::Profile;
use crate::region::Region;
use crate::survey::{Cell, Wander};
use std::sync::Arc;

/// Area, length and first moments of a part on its middle skin.
pub(crate) struct Moments {
    pub(crate) area: f64,
    pub(crate) length: f64,
    /// About the frame's origin: along u, v and n, mm³.
    pub(crate) first: [f64; 3],
}

impl Moments {
    /// By integrals round the outlines; exact, because within a strip the skin is flat and every crossing of
    /// a fold is a corner.
    pub(crate) fn of(kind: &PartKind, region: &Region) -> Self {
        if let PartKind::Sheet { profile, phase, lift, wander: Some(wander) } = kind {
            let loft = Loft::new(wander, 0.0);
            return Ribs { profile, wander, loft, lift: *lift, phase: *phase }.moments(region);
        }
        let sheet: Option<(&Arc<Profile>, f64, f64)> = match kind {
            PartKind::Sheet { profile, phase, lift, .. } => Some((profile, *phase, *lift)),
            PartKind::Closure { .. } => None,
        };
        let mut sums = Self { area: 0.0, length: 0.0, first: [0.0; 3] };
        // About a corner of the part, so that a part far from its frame's origin loses nothing.
        let o = region.outlines.first().map_or([0.0, 0.0], |o| o.points[0]);
        let mut height = 0.0;
        for outline in &region.outlines {
            let count = outline.points.len();
            for i in 0..count {
                let (a, b) = (outline.points[i], outline.points[(i + 1) % count]);
                let (dt, ds) = (b[1] - a[1], b[0] - a[0]);
                let (stretch, heights) = match sheet {
                    Some((profile, phase, lift)) => {
                        let w = |t: f64| profile.developed_at(t - phase, 0.0);
                        let h = |t: f64| profile.on_skin(t - phase, 0.0)[1] + lift;
                        let stretch = if dt == 0.0 { 1.0 } else { (w(b[1]) - w(a[1])) / dt };
                        (stretch, [h(a[1]), h(f64::midpoint(a[1], b[1])), h(b[1])])
                    }
                    None => (1.0, [0.0; 3]),
                };
                sums.length += ds.hypot(dt * stretch);
                let s = [a[0] - o[0], f64::midpoint(a[0], b[0]) - o[0], b[0] - o[0]];
                let t = [a[1] - o[1], f64::midpoint(a[1], b[1]) - o[1], b[1] - o[1]];
                // Simpson's rule is exact for what is at most cubic along an edge.
                let simpson = |f: &dyn Fn(usize) -> f64| (f(0) + 4.0 * f(1) + f(2)) / 6.0 * dt * stretch;
                sums.area += simpson(&|k| s[k]);
                sums.first[0] += simpson(&|k| s[k] * s[k] / 2.0);
                sums.first[1] += simpson(&|k| s[k] * t[k]);
                height += simpson(&|k| s[k] * heights[k]);
            }
        }
        sums.first[0] += sums.area * o[0];
        sums.first[1] += sums.area * o[1];
        sums.first[2] = height;
        sums
    }
}

/// Area and first moments of what a surveyed sheet has to the left of a place, by integrals along the ribs: exact,
/// because every cell is flat.
struct Ribs<'a> {
    profile: &'a Profile,
    wander: &'a Wander,
    loft: Loft,
    lift: f64,
    phase: f64,
}

/// A place's share: area, and first moments along u, v and n, each per mm of q.
type PerQ = [f64; 4];

impl Ribs<'_> {
    /// Area per mm of s and q in a cell, with true arcs instead of their chords; and how much longer they are.
    fn density(&self, cell: Cell) -> (f64, f64) {
        let plane = self.loft.plane(cell);
        let ([a, b], [c, d]) = (plane.per_s, plane.per_q);
        // (1, a, b) × (0, c, d).
        let square = (a * d - b * c).hypot(d).hypot(c);
        let q = [cell.node, cell.node + 1].map(|k| self.wander.node(k));
        let (w, h) =
            (q.map(|q| self.profile.developed_at(q, 0.0)), q.map(|q| self.profile.on_skin(q, 0.0)[1]));
        let longer = (w[1] - w[0]) / (q[1] - q[0]).hypot(h[1] - h[0]);
        (square * longer, longer)
    }

    /// The integral along s up to a place from the first station, within the strip of a node.
    fn before(&self, [s, q]: [f64; 2], node: i64) -> PerQ {
        let stations = self.wander.stations();
        let mut sum = [0.0; 4];
        let mut add = |cell: Cell, from: f64, to: f64| {
            let plane = self.loft.plane(cell);
            let density = self.density(cell).0;
            let (length, middle) = (to - from, f64::midpoint(from, to));
            let at = |i: usize| plane.start[i] + plane.per_s[i] * middle + plane.per_q[i] * q;
            let values = [1.0, middle, at(0) + self.phase, at(1) + self.lift];
            for (sum, value) in sum.iter_mut().zip(values) {
                *sum += value * density * length;
            }
        };
        let (q0, q1) = (self.wander.node(node), self.wander.node(node + 1));
        let share = ((q - q0) / (q1 - q0)).clamp(0.0, 1.0);
        let row = self.wander.row(s);
        if row == 0 {
            add(Cell { row, node, beyond: false }, stations[0], s);
            return sum;
        }
        for r in 1..=row {
            let start = stations[r - 1];
            if r == stations.len() {
                add(Cell { row: r, node, beyond: false }, start, s);
                continue;
            }
            let diagonal = start + (stations[r] - start) * share;
            let end = if r == row { s } else { stations[r] };
            add(Cell { row: r, node, beyond: true }, start, end.min(diagonal));
            if end > diagonal {
                add(Cell { row: r, node, beyond: false }, diagonal, end);
            }
        }
        sum
    }

    fn moments(&self, region: &Region) -> Moments {
        let mut sums = Moments { area: 0.0, length: 0.0, first: [0.0; 3] };
        for outline in &region.outlines {
            let count = outline.points.len();
            for i in 0..count {
                let [a, b] =
                    [outline.points[i], outline.points[(i + 1) % count]].map(|p| [p[0], p[1] - self.phase]);
                let middle = [f64::midpoint(a[0], b[0]), f64::midpoint(a[1], b[1])];
                let node = self.wander.node_below(middle[1]);
                let (ds, dq) = (b[0] - a[0], b[1] - a[1]);
                let cell = self.loft.cell_of(middle[0], node, middle[1]);
                let plane = self.loft.plane(cell);
                let longer = self.density(cell).1;
                let (t, h) = (
                    plane.per_s[0] * ds + plane.per_q[0] * dq * longer,
                    plane.per_s[1] * ds + plane.per_q[1] * dq * longer,
                );
                sums.length += ds.hypot(t).hypot(h);
                // Simpson's rule is exact for what is at most cubic along an edge.
                let [from, half, to] = [a, middle, b].map(|p| self.before(p, node));
                let simpson = |k: usize| (from[k] + 4.0 * half[k] + to[k]) / 6.0 * dq;
                sums.area += simpson(0);
                for k in 0..3 {
                    sums.first[k] += simpson(k + 1);
                }
            }
        }
        sums
    }
}
