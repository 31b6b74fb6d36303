//! How far two outlines lie apart: the Hausdorff distance after laying one drawing on the other.
//!
//! The distance is the greatest that any point of one outline lies from the other outline, either way round (F.
//! Hausdorff, "Grundzüge der Mengenlehre", 1914, ch. VIII §6; from memory). The distance from a polyline changes along
//! an edge by no more than the way gone, so an edge is halved only while it could still hold a greater one: what is
//! returned is below the true distance by [`EXACT`] at the most. Drawings are laid on each other by one of their
//! edges or their middle, both ways, or by their bends; the least distance of these counts, so the stated figure
//! is one that can really be reached with the two templates in hand.

use super::record::{Bend, PartRecord, bounds};

/// Parts whose outlines and bends agree to this are cut alike, mm: finer than any process, coarser than rounding.
pub const ALIKE: f64 = 0.01;

/// How far a Hausdorff distance may come out short, mm.
const EXACT: f64 = 0.005;

/// Angles of bends that agree to this are one, degrees.
const SAME_ANGLE: f64 = 0.01;

/// How one drawing lies on another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Fit {
    /// Added to the old outline, mm.
    pub(super) shift: [f64; 2],
    /// Greatest distance of outlines, mm.
    pub(super) outlines: f64,
    /// Greatest distance of bends or crests, mm.
    pub(super) bends: f64,
}

impl Fit {
    /// The greater of both distances, mm.
    pub(super) fn distance(&self) -> f64 {
        self.outlines.max(self.bends)
    }
}

/// Lays the old part's drawing on the new one's and says how far they differ.
pub(super) fn fit(old: &PartRecord, new: &PartRecord) -> Fit {
    let as_drawn = in_order(&old.outlines_mm, &new.outlines_mm);
    let bends = bends_apart(old, new, 0.0);
    if let Some(outlines) = as_drawn.filter(|&d| d <= ALIKE && bends <= ALIKE) {
        return Fit { shift: [0.0; 2], outlines, bends };
    }
    let shifts: Vec<([f64; 2], f64)> =
        shifts(old, new).into_iter().map(|shift| (shift, bends_apart(old, new, shift[0]))).collect();
    // Where bends answer each other nowhere, the outlines alone decide how the drawings lie.
    let comparable = shifts.iter().any(|(_, bends)| bends.is_finite());
    let mut best = Fit { shift: [0.0; 2], outlines: f64::INFINITY, bends: f64::INFINITY };
    let reached = |fit: &Fit| if comparable { fit.distance() } else { fit.outlines };
    let target = Edges::new(&new.outlines_mm);
    for (shift, bends) in shifts {
        if comparable && bends >= reached(&best) {
            continue;
        }
        let moved: Vec<Vec<[f64; 2]>> = old
            .outlines_mm
            .iter()
            .map(|o| o.iter().map(|p| [p[0] + shift[0], p[1] + shift[1]]).collect())
            .collect();
        let outlines = hausdorff(&Edges::new(&moved), &target, reached(&best) + ALIKE);
        let this = Fit { shift, outlines, bends };
        // Of two that leave as much, the one that leaves bends and crests in their places.
        let is_as_near = reached(&this) <= reached(&best) + ALIKE / 2.0 && this.bends < best.bends - ALIKE;
        if reached(&this) < reached(&best) || is_as_near {
            best = this;
        }
    }
    best
}

/// Whether two parts could be cut alike at all: a quick look that never refuses parts that are.
pub(super) fn may_be_alike(old: &PartRecord, new: &PartRecord) -> bool {
    let size = |part: &PartRecord| {
        let [lo, hi] = bounds(&part.outlines_mm);
        [hi[0] - lo[0], hi[1] - lo[1]]
    };
    let ([a, b], [c, d]) = (size(old), size(new));
    (a - c).abs() <= 2.0 * ALIKE && (b - d).abs() <= 2.0 * ALIKE
}

/// Ways to lay one drawing on the other, the plainest first.
fn shifts(old: &PartRecord, new: &PartRecord) -> Vec<[f64; 2]> {
    let ([a, b], [c, d]) = (bounds(&old.outlines_mm), bounds(&new.outlines_mm));
    let along = |k: usize| {
        let (low, high) = (c[k] - a[k], d[k] - b[k]);
        vec![low, high, (low + high) / 2.0]
    };
    let mut xs = along(0);
    // What has grown on one side stays where its bends and crests are; half of the way would leave nothing in its place.
    let [low, high, half] = [0, 1, 2].map(|k| bends_apart(old, new, xs[k]));
    if half > low.min(high) {
        xs.truncate(2);
    }
    if let (Some(p), Some(q)) = (old.bends.first(), new.bends.first()) {
        xs.push(q.across_mm - p.across_mm);
    }
    if let (Some(p), Some(q)) = (old.bends.last(), new.bends.last()) {
        xs.push(q.across_mm - p.across_mm);
    }
    if let (Some(p), Some(q)) = (old.ribs, new.ribs) {
        // From crest to crest, by the whole ribs that keep the drawings nearest to each other.
        let apart = q.crest_mm - p.crest_mm;
        let turns = if q.pitch_mm > 0.0 { (apart / q.pitch_mm).round() } else { 0.0 };
        xs.push(apart - turns * q.pitch_mm);
    }
    let mut all: Vec<[f64; 2]> = Vec::new();
    for y in along(1) {
        for &x in &xs {
            if !all.contains(&[x, y]) {
                all.push([x, y]);
            }
        }
    }
    all
}

/// Greatest distance of bends that answer each other, or of crests, with the old drawing moved by `shift` along x;
/// infinite where a bend has another angle or radius, or nothing to answer it.
fn bends_apart(old: &PartRecord, new: &PartRecord, shift: f64) -> f64 {
    let crests = match (old.ribs, new.ribs) {
        (Some(p), Some(q)) if q.pitch_mm > 0.0 => {
            let off = (q.crest_mm - p.crest_mm - shift) / q.pitch_mm;
            (off - off.round()).abs() * q.pitch_mm
        }
        _ => 0.0,
    };
    // A bend that a part only just reaches into may be missing on the other, so the shorter list asks.
    let (few, many, sign) = if old.bends.len() <= new.bends.len() {
        (&old.bends, &new.bends, 1.0)
    } else {
        (&new.bends, &old.bends, -1.0)
    };
    few.iter().fold(crests, |worst, bend| {
        let at = bend.across_mm + sign * shift;
        let nearest = |answers: &dyn Fn(&Bend) -> bool| {
            let away = many.iter().filter(|b| answers(b)).map(|b| (b.across_mm - at).abs());
            away.fold(f64::INFINITY, f64::min)
        };
        let alike = nearest(&|b| {
            (b.angle_deg - bend.angle_deg).abs() <= SAME_ANGLE
                && (b.radius_mm - bend.radius_mm).abs() <= ALIKE
        });
        // The bend in its place is another one, whatever lies further off.
        if alike > nearest(&|_| true) + ALIKE { f64::INFINITY } else { worst.max(alike) }
    })
}

/// The greatest distance from corner to corner where both have the same corners in the same order; no outline lies
/// further from the other than that.
fn in_order(old: &[Vec<[f64; 2]>], new: &[Vec<[f64; 2]>]) -> Option<f64> {
    if old.len() != new.len() || old.iter().zip(new).any(|(a, b)| a.len() != b.len()) {
        return None;
    }
    let pairs = old.iter().flatten().zip(new.iter().flatten());
    Some(pairs.map(|(a, b)| (a[0] - b[0]).hypot(a[1] - b[1])).fold(0.0, f64::max))
}

/// The edges of closed outlines, sorted by their least x, so that near ones are found without looking at all.
struct Edges {
    /// Ends; sorted by the least x of both.
    ends: Vec<[[f64; 2]; 2]>,
    /// Longest extent of an edge along x, mm.
    longest: f64,
}

impl Edges {
    fn new(outlines: &[Vec<[f64; 2]>]) -> Self {
        let mut ends: Vec<[[f64; 2]; 2]> = outlines
            .iter()
            .flat_map(|o| o.iter().zip(o.iter().cycle().skip(1)).map(|(&a, &b)| [a, b]).collect::<Vec<_>>())
            .collect();
        let left = |e: &[[f64; 2]; 2]| e[0][0].min(e[1][0]);
        ends.sort_by(|a, b| left(a).total_cmp(&left(b)));
        let longest = ends.iter().map(|e| (e[0][0] - e[1][0]).abs()).fold(0.0, f64::max);
        Self { ends, longest }
    }

    /// The nearest edge of a point and its distance from it, mm; any edge at or below `enough` will do.
    fn nearest(&self, p: [f64; 2], enough: f64) -> (usize, f64) {
        let left = |e: &[[f64; 2]; 2]| e[0][0].min(e[1][0]);
        let start = self.ends.partition_point(|e| left(e) < p[0]);
        let enough = enough.max(0.0).powi(2);
        let (mut best, mut square) = (0, f64::INFINITY);
        let (mut back, mut ahead) = (start, start);
        let nearer = |k: usize, (best, square): (usize, f64)| {
            let this = from_edge(p, &self.ends[k]);
            if this < square { (k, this) } else { (best, square) }
        };
        loop {
            let mut looked = false;
            if back > 0 {
                let off = p[0] - left(&self.ends[back - 1]) - self.longest;
                if off <= 0.0 || off * off < square {
                    back -= 1;
                    (best, square) = nearer(back, (best, square));
                    looked = true;
                }
            }
            if ahead < self.ends.len() && (left(&self.ends[ahead]) - p[0]).powi(2) < square {
                (best, square) = nearer(ahead, (best, square));
                ahead += 1;
                looked = true;
            }
            if !looked || square <= enough {
                return (best, square.sqrt());
            }
        }
    }
}

/// Square of the distance of a point from a straight edge, mm².
fn from_edge(p: [f64; 2], [a, b]: &[[f64; 2]; 2]) -> f64 {
    let (d, q) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
    let square = d[0] * d[0] + d[1] * d[1];
    let share = if square > 0.0 { ((q[0] * d[0] + q[1] * d[1]) / square).clamp(0.0, 1.0) } else { 0.0 };
    (q[0] - share * d[0]).powi(2) + (q[1] - share * d[1]).powi(2)
}

/// The Hausdorff distance of two sets of edges, mm. It stops early with a greater number than `limit` where it passes
/// that.
fn hausdorff(a: &Edges, b: &Edges, limit: f64) -> f64 {
    if a.ends.is_empty() || b.ends.is_empty() {
        return if a.ends.is_empty() && b.ends.is_empty() { 0.0 } else { f64::INFINITY };
    }
    let there = one_way(a, b, 0.0, limit);
    if there > limit { there } else { one_way(b, a, there, limit) }
}

/// The greatest distance of any point of `a` from `b`, or `least` if that is more.
fn one_way(a: &Edges, b: &Edges, least: f64, limit: f64) -> f64 {
    let mut worst = least;
    for edge in &a.ends {
        worst = worst.max(b.nearest(edge[0], worst).1);
        if worst > limit {
            return worst;
        }
    }
    // Pieces of edges that may still hold a point further off.
    let mut waiting = Vec::new();
    for &[p, q] in &a.ends {
        waiting.push([p, q]);
        while let Some([p, q]) = waiting.pop() {
            let half = (p[0] - q[0]).hypot(p[1] - q[1]) / 2.0;
            if half <= EXACT {
                continue;
            }
            let middle = [(p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0];
            // Any distance that rules the piece out is enough.
            let (edge, far) = b.nearest(middle, worst + EXACT - half);
            worst = worst.max(far);
            if worst > limit {
                return worst;
            }
            // No point of the piece lies further from that one edge than the further of its ends does.
            let near = &b.ends[edge];
            let within = from_edge(p, near).max(from_edge(q, near)) <= (worst + EXACT).powi(2);
            if !within && far + half > worst + EXACT {
                waiting.extend([[p, middle], [middle, q]]);
            }
        }
    }
    worst
}

#[cfg(test)]
mod tests {
    use super::*;

    fn distance(a: &[[f64; 2]], b: &[[f64; 2]]) -> f64 {
        hausdorff(&Edges::new(&[a.to_vec()]), &Edges::new(&[b.to_vec()]), f64::INFINITY)
    }

    const BOX: [[f64; 2]; 4] = [[0.0, 0.0], [400.0, 0.0], [400.0, 300.0], [0.0, 300.0]];

    #[test]
    fn a_side_moved_out_counts_by_what_it_moved() {
        let wider = BOX.map(|[x, y]| [if x > 0.0 { x + 7.0 } else { x }, y]);
        assert_eq!(distance(&BOX, &wider), 7.0);
        assert_eq!(distance(&wider, &BOX), 7.0);
    }

    #[test]
    fn the_furthest_point_may_lie_within_an_edge() {
        // A slot from below: the middle of its mouth is 40 from both of its sides, and those are 150 from the box's
        // bottom and top halfway up.
        let slot = [
            [0.0, 0.0],
            [160.0, 0.0],
            [160.0, 200.0],
            [240.0, 200.0],
            [240.0, 0.0],
            [400.0, 0.0],
            [400.0, 300.0],
            [0.0, 300.0],
        ];
        let both = distance(&BOX, &slot);
        assert!((both - 150.0).abs() <= EXACT, "{both}");
        let mouth = one_way(&Edges::new(&[BOX.to_vec()]), &Edges::new(&[slot.to_vec()]), 0.0, f64::INFINITY);
        assert!((mouth - 40.0).abs() <= EXACT, "{mouth}");
    }

    /// Second method: both outlines as dense points, every pair.
    #[test]
    fn random_outlines_agree_with_dense_points() {
        let mut state = 7_u64;
        let mut random = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) as f64 / f64::from(1_u32 << 31)
        };
        let dense = |o: &[[f64; 2]]| -> Vec<[f64; 2]> {
            let edges = o.iter().zip(o.iter().cycle().skip(1));
            edges
                .flat_map(|(a, b)| {
                    (0..200).map(|k| f64::from(k) / 200.0).map(|s| [0, 1].map(|i| a[i] + s * (b[i] - a[i])))
                })
                .collect()
        };
        for _ in 0..8 {
            let mut star = || -> Vec<[f64; 2]> {
                (0..9)
                    .map(|k| {
                        let (s, c) = (f64::from(k) * 0.698).sin_cos();
                        let r = 50.0 + 100.0 * random();
                        [r * c, r * s]
                    })
                    .collect()
            };
            let (a, b) = (star(), star());
            let (p, q) = (dense(&a), dense(&b));
            let way = |p: &[[f64; 2]], q: &[[f64; 2]]| {
                let near =
                    |x: &[f64; 2]| q.iter().map(|y| (x[0] - y[0]).hypot(x[1] - y[1])).fold(1e9, f64::min);
                p.iter().map(near).fold(0.0, f64::max)
            };
            let expected = way(&p, &q).max(way(&q, &p));
            // The points lie no more than 0.8 mm apart.
            assert!((distance(&a, &b) - expected).abs() < 0.8, "{} and {expected}", distance(&a, &b));
        }
    }
}
