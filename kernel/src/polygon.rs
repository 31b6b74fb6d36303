//! Polygons: what lies in them, and what lies around points.

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
    fn hull_of_a_grid_is_its_four_corners() {
        let points = (0..5).flat_map(|i| (0..4).map(move |k| [f64::from(i), f64::from(k)])).collect();
        assert_eq!(hull(points), [[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]]);
        assert!(hull(vec![[1.0, 1.0]; 3]).len() < 3, "one place has no area");
    }
}
