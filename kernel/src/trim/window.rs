//! Windows: convex polygons in the plane of a strip or wall, and lines clipped to them.

/// A linear function f0 + f1·x + f2·y of the plane.
pub(crate) type Linear = [f64; 3];

#[inline]
pub(crate) fn value(f: Linear, p: [f64; 2]) -> f64 {
    f[0] + f[1] * p[0] + f[2] * p[1]
}

#[inline]
fn between(a: [f64; 2], b: [f64; 2], share: f64) -> [f64; 2] {
    [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share]
}

/// Keeps the part of a convex polygon where f ≤ 0.
pub(crate) fn clip(polygon: &mut Vec<[f64; 2]>, f: Linear, scratch: &mut Vec<[f64; 2]>) {
    if polygon.iter().all(|&p| value(f, p) <= 0.0) {
        return;
    }
    scratch.clear();
    let mut last = match polygon.last() {
        Some(&p) => (p, value(f, p)),
        None => return,
    };
    for &p in polygon.iter() {
        let here = (p, value(f, p));
        if (here.1 <= 0.0) != (last.1 <= 0.0) {
            scratch.push(between(last.0, p, last.1 / (last.1 - here.1)));
        }
        if here.1 <= 0.0 {
            scratch.push(p);
        }
        last = here;
    }
    std::mem::swap(polygon, scratch);
}

/// Least and greatest value of f over a polygon that is not empty.
#[inline]
pub(crate) fn range(polygon: &[[f64; 2]], f: Linear) -> (f64, f64) {
    polygon
        .iter()
        .map(|&p| value(f, p))
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), v| (lo.min(v), hi.max(v)))
}

/// The line f = 0 within a convex counter-clockwise polygon and the strips `limits` ≤ 0, running with
/// f < 0 on its left; `None` where it misses.
pub(crate) fn line_within(f: Linear, polygon: &[[f64; 2]], limits: &[Linear]) -> Option<[[f64; 2]; 2]> {
    let (least, most) = range(polygon, f);
    if least > 0.0 || most < 0.0 || polygon.len() < 3 {
        return None;
    }
    let steep = (f[1] * f[1] + f[2] * f[2]).sqrt();
    if steep == 0.0 {
        return None;
    }
    // Start from the polygon's vertex with the least |f| so that the foot of the line is near it.
    let near = polygon.iter().copied().min_by(|a, b| value(f, *a).abs().total_cmp(&value(f, *b).abs()))?;
    let share = value(f, near) / (steep * steep);
    let base = [near[0] - f[1] * share, near[1] - f[2] * share];
    let direction = [-f[2] / steep, f[1] / steep];
    let (mut from, mut to) = (f64::NEG_INFINITY, f64::INFINITY);
    let mut limit = |g: Linear| {
        let offset = value(g, base);
        let slope = g[1] * direction[0] + g[2] * direction[1];
        if slope == 0.0 {
            if offset > 0.0 {
                to = f64::NEG_INFINITY;
            }
        } else if slope > 0.0 {
            to = to.min(-offset / slope);
        } else {
            from = from.max(-offset / slope);
        }
    };
    let mut last = polygon[polygon.len() - 1];
    for &p in polygon {
        let (ex, ey) = (p[0] - last[0], p[1] - last[1]);
        // Inside is left of each edge: (e × (x − last)) ≥ 0.
        limit([ex.mul_add(last[1], -(ey * last[0])), ey, -ex]);
        last = p;
    }
    for &g in limits {
        limit(g);
    }
    if !(from < to && from.is_finite() && to.is_finite()) {
        return None;
    }
    let point = |m: f64| [base[0] + direction[0] * m, base[1] + direction[1] * m];
    Some([point(from), point(to)])
}

#[cfg(test)]
mod tests {
    use super::*;

    const SQUARE: [[f64; 2]; 4] = [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]];

    #[test]
    fn a_line_keeps_its_negative_side_on_the_left() {
        let f = [-4.0, 1.0, 0.0];
        let line = line_within(f, &SQUARE, &[]).expect("x = 4 crosses the square");
        assert!((line[0][0] - 4.0).abs() < 1e-12 && (line[1][0] - 4.0).abs() < 1e-12, "on x = 4");
        assert!(line[1][1] > line[0][1], "x < 4 lies on the left when going up");
    }

    #[test]
    fn limits_cut_a_line_and_a_miss_is_none() {
        let line = line_within([-4.0, 1.0, 0.0], &SQUARE, &[[2.0, 0.0, -1.0], [-7.0, 0.0, 1.0]]);
        let line = line.expect("still there");
        assert!((line[0][1] - 2.0).abs() < 1e-12 && (line[1][1] - 7.0).abs() < 1e-12, "{line:?}");
        assert!(line_within([-14.0, 1.0, 0.0], &SQUARE, &[]).is_none(), "x = 14 misses");
        assert!(line_within([1.0, 0.0, 0.0], &SQUARE, &[]).is_none(), "no line at all");
    }

    #[test]
    fn clipping_keeps_the_negative_side() {
        let mut polygon = SQUARE.to_vec();
        clip(&mut polygon, [-4.0, 1.0, 0.0], &mut Vec::new());
        assert_eq!(range(&polygon, [0.0, 1.0, 0.0]), (0.0, 4.0), "x up to 4 is left");
    }
}
