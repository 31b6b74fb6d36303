//! Polygons: what lies in them, whether they cross themselves, and what lies around points.

use nalgebra::Vector3;
use robust::{Coord, orient2d};
use std::ops::{Add, Sub};

/// A plane convex polygon in space, of points or of vectors, cut to where a linear function is not positive.
pub(crate) fn cut<P>(polygon: &[P], beyond: impl Fn(&P) -> f64) -> Vec<P>
where
    P: Copy + Sub<Output = Vector3<f64>> + Add<Vector3<f64>, Output = P>,
{
    let mut kept = Vec::with_capacity(polygon.len() + 1);
    for (i, &a) in polygon.iter().enumerate() {
        let b = polygon[(i + 1) % polygon.len()];
        let (ha, hb) = (beyond(&a), beyond(&b));
        if ha <= 0.0 {
            kept.push(a);
        }
        if (ha <= 0.0) != (hb <= 0.0) {
            kept.push(a + (b - a) * (ha / (ha - hb)));
        }
    }
    kept
}

/// Whether a point lies inside a polygon (even–odd).
pub(crate) fn holds(polygon: &[[f64; 2]], p: [f64; 2]) -> bool {
    let mut inside = false;
    for (i, a) in polygon.iter().enumerate() {
        let b = polygon[(i + 1) % polygon.len()];
        if (a[1] <= p[1]) != (b[1] <= p[1]) {
            inside ^= p[0] < a[0] + (b[0] - a[0]) * (p[1] - a[1]) / (b[1] - a[1]);
        }
    }
    inside
}

/// The first two edges of a polygon that share a point they should not: two that are not neighbours and meet, or
/// two neighbours of which one runs back along the other. Edges are numbered by the corner they begin at, and no two
/// corners one after another may coincide. Exact: signs by J. Shewchuk's adaptive predicates.
pub(crate) fn meets_itself(polygon: &[[f64; 2]]) -> Option<[usize; 2]> {
    let count = polygon.len();
    let at = |k: usize| polygon[k % count];
    let turn = |[a, b, c]: [[f64; 2]; 3]| {
        let [a, b, c] = [a, b, c].map(|p| Coord { x: p[0], y: p[1] });
        orient2d(a, b, c)
    };
    let within =
        |p: [f64; 2], [a, b]: [[f64; 2]; 2]| (0..2).all(|k| a[k].min(b[k]) <= p[k] && p[k] <= a[k].max(b[k]));
    let back = |from: [f64; 2], corner: [f64; 2], to: [f64; 2]| {
        let along = (0..2).map(|k| (from[k] - corner[k]) * (to[k] - corner[k])).sum::<f64>();
        along > 0.0 && turn([from, corner, to]) == 0.0
    };
    let meet = |[a, b]: [[f64; 2]; 2], [c, d]: [[f64; 2]; 2]| {
        let apart = (0..2).any(|k| a[k].max(b[k]) < c[k].min(d[k]) || c[k].max(d[k]) < a[k].min(b[k]));
        if apart {
            return false;
        }
        let sides = [turn([a, b, c]), turn([a, b, d]), turn([c, d, a]), turn([c, d, b])];
        let across = |x: f64, y: f64| x > 0.0 && y < 0.0 || x < 0.0 && y > 0.0;
        across(sides[0], sides[1]) && across(sides[2], sides[3])
            || sides[0] == 0.0 && within(c, [a, b])
            || sides[1] == 0.0 && within(d, [a, b])
            || sides[2] == 0.0 && within(a, [c, d])
            || sides[3] == 0.0 && within(b, [c, d])
    };
    for i in 0..count {
        for j in i + 1..count {
            let bad = if j == i + 1 {
                back(at(i), at(j), at(j + 1))
            } else if i == 0 && j + 1 == count {
                back(at(j), at(0), at(1))
            } else {
                meet([at(i), at(i + 1)], [at(j), at(j + 1)])
            };
            if bad {
                return Some([i, j]);
            }
        }
    }
    None
}

/// Convex hull, counter-clockwise: A. Andrew, "Another efficient algorithm for convex hulls in two
/// dimensions", 1979.
pub(crate) fn hull(mut points: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    points.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    points.dedup();
    let turn =
        |o: [f64; 2], a: [f64; 2], b: [f64; 2]| (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]);
    let half = |points: &mut dyn Iterator<Item = [f64; 2]>| {
        let mut chain: Vec<[f64; 2]> = Vec::new();
        for p in points {
            while chain.len() > 1 && turn(chain[chain.len() - 2], chain[chain.len() - 1], p) <= 0.0 {
                chain.pop();
            }
            chain.push(p);
        }
        chain.pop();
        chain
    };
    let mut hull = half(&mut points.iter().copied());
    hull.extend(half(&mut points.iter().rev().copied()));
    hull
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outlines_that_cross_touch_or_run_back_are_told() {
        let square = [[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]];
        let bow = [[0.0, 0.0], [4.0, 4.0], [4.0, 0.0], [0.0, 4.0]];
        // The last corner lies on the first edge; two squares that share a corner; an edge there and back.
        let touch = [[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [2.0, 0.0]];
        let pinched = [[0.0, 0.0], [2.0, 2.0], [4.0, 2.0], [4.0, 4.0], [2.0, 2.0], [0.0, 2.0]];
        let spike = [[0.0, 0.0], [4.0, 0.0], [4.0, 9.0], [4.0, 4.0], [0.0, 4.0]];
        // Three in line are no harm.
        let middle = [[0.0, 0.0], [2.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]];
        for far in [0.0, 1.0e5] {
            let moved = |p: &[[f64; 2]]| p.iter().map(|q| [q[0] + far, q[1] - far]).collect::<Vec<_>>();
            assert_eq!(meets_itself(&moved(&square)), None);
            assert_eq!(meets_itself(&moved(&middle)), None);
            assert_eq!(meets_itself(&moved(&bow)), Some([0, 2]));
            assert!(meets_itself(&moved(&touch)).is_some());
            assert!(meets_itself(&moved(&pinched)).is_some());
            assert_eq!(meets_itself(&moved(&spike)), Some([1, 2]));
        }
    }

    #[test]
    fn hull_of_a_grid_is_its_four_corners() {
        let points = (0..5).flat_map(|i| (0..4).map(move |k| [f64::from(i), f64::from(k)])).collect();
        assert_eq!(hull(points), [[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]]);
        assert!(hull(vec![[1.0, 1.0]; 3]).len() < 3, "one place has no area");
    }
}
