//! Slabs: where along one direction a shape may not lie because of another, exactly.
//!
//! A shape is cut across at every one of its corners into trapezoids, each between two heights y and bounded by
//! one edge on its left and one on its right. Two trapezoids l ≤ x ≤ r that share a stretch of y overlap, the
//! first shifted by d along x, where l₁ + d < r₂ and l₂ < r₁ + d for some y of the stretch: as l and r are linear
//! there and the band (l₂ − r₁, r₂ − l₁) is never empty, that is for all d between the least l₂ − r₁ and the greatest
//! r₂ − l₁ at the two ends of the stretch. The union over all pairs is the set of shifts that make the shapes
//! overlap: a no-fit polygon (R. Art 1966; E. Burke et al., "Complete and robust no-fit polygon generation", 2007)
//! cut along one line, without making the polygon.
//!
//! Parts on one sheet have most of their corners on its folds, so they share their stretches, and there are few.

/// A trapezoid with its parallel sides level.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Trapezoid {
    /// Lower and upper side.
    y: [f64; 2],
    /// Left edge at the lower and the upper side.
    l: [f64; 2],
    /// Right edge at both.
    r: [f64; 2],
}

/// A shape as trapezoids, by their lower side.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Slabs {
    trapezoids: Vec<Trapezoid>,
    /// Longest reach in y of one of them, mm.
    tallest: f64,
    /// Least and greatest y.
    span: [f64; 2],
}

/// Shifts within which shapes overlap: open intervals, ascending, that do not touch.
pub(crate) type Forbidden = Vec<[f64; 2]>;

/// Stretches of y shorter than this hold nothing that could be cut, mm.
const LEAST_STRETCH: f64 = 1.0e-9;

/// How far a shape may be made larger to have fewer trapezoids, mm: the bends of a fold are one then. What is
/// gained in spacing is far below what a hand-held cutter holds.
const COARSE: f64 = 0.5;

impl Slabs {
    /// Of closed outlines (even–odd), which must not cross.
    pub(crate) fn of(outlines: &[Vec<[f64; 2]>]) -> Self {
        let mut edges: Vec<[[f64; 2]; 2]> = Vec::new();
        let mut heights: Vec<f64> = Vec::new();
        for outline in outlines {
            for (i, &a) in outline.iter().enumerate() {
                let b = outline[(i + 1) % outline.len()];
                heights.push(a[1]);
                if a[1] < b[1] {
                    edges.push([a, b]);
                } else if b[1] < a[1] {
                    edges.push([b, a]);
                }
            }
        }
        heights.sort_by(f64::total_cmp);
        heights.dedup_by(|b, a| *b - *a <= LEAST_STRETCH);
        edges.sort_by(|a, b| a[0][1].total_cmp(&b[0][1]));
        let mut trapezoids = Vec::new();
        let (mut next, mut active): (usize, Vec<[[f64; 2]; 2]>) = (0, Vec::new());
        for pair in heights.windows(2) {
            let y = [pair[0], pair[1]];
            let middle = f64::midpoint(y[0], y[1]);
            while next < edges.len() && edges[next][0][1] < middle {
                active.push(edges[next]);
                next += 1;
            }
            active.retain(|e| e[1][1] > middle);
            let at = |[a, b]: &[[f64; 2]; 2], y: f64| {
                // Within the edge: rounding must not carry it beyond its ends.
                let share = ((y - a[1]) / (b[1] - a[1])).clamp(0.0, 1.0);
                a[0] + (b[0] - a[0]) * share
            };
            let mut across: Vec<[f64; 2]> = active.iter().map(|e| y.map(|y| at(e, y))).collect();
            across.sort_by(|a, b| (a[0] + a[1]).total_cmp(&(b[0] + b[1])));
            trapezoids.extend(across.chunks_exact(2).map(|c| Trapezoid { y, l: c[0], r: c[1] }));
        }
        Self::from_trapezoids(trapezoids)
    }

    fn from_trapezoids(trapezoids: Vec<Trapezoid>) -> Self {
        let tallest = trapezoids.iter().map(|t| t.y[1] - t.y[0]).fold(0.0, f64::max);
        let span = trapezoids
            .iter()
            .fold([f64::INFINITY, f64::NEG_INFINITY], |s, t| [s[0].min(t.y[0]), s[1].max(t.y[1])]);
        Self { trapezoids, tallest, span }
    }

    /// The same shape or a larger one, by at most [`COARSE`] along x, with fewer trapezoids.
    pub(crate) fn coarse(&self) -> Self {
        let mut merged: Vec<Trapezoid> = Vec::new();
        // All that the last of `merged` covers.
        let mut covered: Vec<Trapezoid> = Vec::new();
        for (i, t) in self.trapezoids.iter().enumerate() {
            let alone = |k: usize| {
                let y = self.trapezoids[k].y[0];
                let same = |o: Option<&Trapezoid>| o.is_some_and(|o| o.y[0] == y);
                !same(k.checked_sub(1).and_then(|k| self.trapezoids.get(k)))
                    && !same(self.trapezoids.get(k + 1))
            };
            if alone(i) {
                covered.push(*t);
                if covered.len() > 1
                    && covered[covered.len() - 2].y[1] == t.y[0]
                    && let Some(cover) = cover(&covered)
                {
                    merged.pop();
                    merged.push(cover);
                    continue;
                }
                covered = vec![*t];
            } else {
                covered.clear();
            }
            merged.push(*t);
        }
        Self::from_trapezoids(merged)
    }

    /// Shifts d along x at which this shape, moved by (d, dy), overlaps the other.
    pub(crate) fn forbidden(&self, other: &Slabs, dy: f64) -> Forbidden {
        let mut all: Forbidden = Vec::new();
        if self.span[1] + dy <= other.span[0] || other.span[1] <= self.span[0] + dy {
            return all;
        }
        let mut from = 0;
        for a in &self.trapezoids {
            let (low, high) = (a.y[0] + dy, a.y[1] + dy);
            while from < other.trapezoids.len() && other.trapezoids[from].y[0] + other.tallest <= low {
                from += 1;
            }
            for b in other.trapezoids[from..].iter().take_while(|b| b.y[0] < high) {
                let (bottom, top) = (low.max(b.y[0]), high.min(b.y[1]));
                if top - bottom <= LEAST_STRETCH {
                    continue;
                }
                let at = |t: &Trapezoid, low: f64, y: f64| {
                    let share = (y - low) / (t.y[1] - t.y[0]);
                    [t.l[0] + (t.l[1] - t.l[0]) * share, t.r[0] + (t.r[1] - t.r[0]) * share]
                };
                let mut shifts = [f64::INFINITY, f64::NEG_INFINITY];
                for y in [bottom, top] {
                    let ([l, r], [l2, r2]) = (at(a, low, y), at(b, b.y[0], y));
                    shifts = [shifts[0].min(l2 - r), shifts[1].max(r2 - l)];
                }
                // Neighbouring stretches mostly go on where the last ended.
                match all.last_mut() {
                    Some(last) if shifts[0] <= last[1] && last[0] <= shifts[1] => {
                        *last = [last[0].min(shifts[0]), last[1].max(shifts[1])];
                    }
                    _ => all.push(shifts),
                }
            }
        }
        joined(all)
    }
}

/// One trapezoid over several that lie on each other, if it need not be wider by more than [`COARSE`] anywhere.
fn cover(parts: &[Trapezoid]) -> Option<Trapezoid> {
    let (first, last) = (parts.first()?, parts.last()?);
    let y = [first.y[0], last.y[1]];
    let along = |ends: [f64; 2], at: f64| ends[0] + (ends[1] - ends[0]) * (at - y[0]) / (y[1] - y[0]);
    let (l, r) = ([first.l[0], last.l[1]], [first.r[0], last.r[1]]);
    // How far the straight edges must move out, and how far they then stand off.
    let (mut out, mut most) = ([0.0_f64; 2], [0.0_f64; 2]);
    for part in parts {
        for end in 0..2 {
            let off = [along(l, part.y[end]) - part.l[end], part.r[end] - along(r, part.y[end])];
            out = [out[0].max(off[0]), out[1].max(off[1])];
            most = [most[0].max(-off[0]), most[1].max(-off[1])];
        }
    }
    let fits = (0..2).all(|side| out[side] + most[side] <= COARSE);
    fits.then(|| Trapezoid { y, l: l.map(|x| x - out[0]), r: r.map(|x| x + out[1]) })
}

/// Sorts intervals and joins those that overlap.
pub(crate) fn joined(mut all: Forbidden) -> Forbidden {
    all.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut out: Forbidden = Vec::with_capacity(all.len());
    for next in all {
        match out.last_mut() {
            Some(last) if next[0] <= last[1] => last[1] = last[1].max(next[1]),
            _ => out.push(next),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rectangle(x: [f64; 2], y: [f64; 2]) -> Vec<[f64; 2]> {
        vec![[x[0], y[0]], [x[1], y[0]], [x[1], y[1]], [x[0], y[1]]]
    }

    #[test]
    fn two_rectangles_keep_the_sum_of_their_lengths() {
        let a = Slabs::of(&[rectangle([0.0, 3.0], [0.0, 1.0])]);
        let b = Slabs::of(&[rectangle([10.0, 12.0], [0.0, 1.0])]);
        assert_eq!(a.forbidden(&b, 0.5), [[7.0, 12.0]]);
        assert!(a.forbidden(&b, 1.0).is_empty(), "touching is not overlapping");
        assert!(a.forbidden(&b, -1.0).is_empty(), "nor on the other side");
    }

    #[test]
    fn a_small_shape_fits_into_a_hole_of_a_larger_one() {
        let mut hole = rectangle([2.0, 6.0], [2.0, 6.0]);
        hole.reverse();
        let frame = Slabs::of(&[rectangle([0.0, 8.0], [0.0, 8.0]), hole]);
        let square = Slabs::of(&[rectangle([0.0, 1.0], [0.0, 1.0])]);
        assert_eq!(square.forbidden(&frame, 3.0), [[-1.0, 2.0], [5.0, 8.0]]);
        assert_eq!(square.forbidden(&frame, 1.5), [[-1.0, 8.0]], "half in the lower bar");
    }

    #[test]
    fn two_triangles_slide_along_each_other() {
        // Both hypotenuses run the same way: at the same height they touch along all of them.
        let lower = Slabs::of(&[vec![[0.0, 0.0], [4.0, 0.0], [0.0, 4.0]]]);
        let upper = Slabs::of(&[vec![[4.0, 0.0], [4.0, 4.0], [0.0, 4.0]]]);
        let found = upper.forbidden(&lower, 0.0);
        assert_eq!(found, [[-4.0, 0.0]]);
        // Raised by 1, only three quarters of the height face each other.
        assert_eq!(upper.forbidden(&lower, 1.0), [[-4.0, -1.0]]);
    }

    #[test]
    fn a_coarser_shape_is_never_smaller_and_hardly_larger() {
        let wave: Vec<[f64; 2]> = (0..=400)
            .map(|i| {
                let y = f64::from(i);
                [30.0 * (y / 40.0).sin(), y]
            })
            .chain((0..=400).rev().map(|i| {
                let y = f64::from(i);
                [500.0 + 20.0 * (y / 30.0).cos(), y]
            }))
            .collect();
        let (fine, probe) = (Slabs::of(&[wave]), Slabs::of(&[rectangle([0.0, 1.0], [0.0, 0.01])]));
        let coarse = fine.coarse();
        assert!(coarse.trapezoids.len() * 3 < fine.trapezoids.len(), "{} left", coarse.trapezoids.len());
        for i in 0..4000 {
            let dy = f64::from(i) * 0.0999;
            let ([a], [b]) = (&probe.forbidden(&fine, dy)[..], &probe.forbidden(&coarse, dy)[..]) else {
                panic!("one stretch each at {dy}");
            };
            assert!(b[0] <= a[0] + 1.0e-9 && b[1] >= a[1] - 1.0e-9, "smaller at {dy}: {a:?} {b:?}");
            assert!(
                b[0] >= a[0] - COARSE - 0.01 && b[1] <= a[1] + COARSE + 0.01,
                "larger at {dy}: {a:?} {b:?}"
            );
        }
    }
}
