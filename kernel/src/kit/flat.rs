//! Flat geometry of nets: poses, overlap of convex polygons, boxes.

/// A turn and a shift of the plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pose {
    /// Cosine and sine of the turn.
    pub(super) turn: [f64; 2],
    pub(super) shift: [f64; 2],
}

impl Pose {
    pub(super) const STILL: Self = Self { turn: [1.0, 0.0], shift: [0.0; 2] };

    /// A turn by an angle, radians.
    pub(super) fn turned(angle: f64) -> Self {
        let (sin, cos) = angle.sin_cos();
        Self { turn: [cos, sin], shift: [0.0; 2] }
    }

    /// The pose that lays the line from `a` towards `b` along that from `c` towards `d`, with the middle of the
    /// first on the middle of the second.
    pub(super) fn laying([a, b]: [[f64; 2]; 2], [c, d]: [[f64; 2]; 2]) -> Self {
        let (p, q) = (minus(b, a), minus(d, c));
        // The quotient of the two as complex numbers.
        let turn = [p[0] * q[0] + p[1] * q[1], p[0] * q[1] - p[1] * q[0]];
        let length = turn[0].hypot(turn[1]);
        let turn = if length > 0.0 { turn.map(|x| x / length) } else { [1.0, 0.0] };
        let pose = Self { turn, shift: [0.0; 2] };
        let from = pose.of(middle(a, b));
        Self { turn, shift: minus(middle(c, d), from) }
    }

    pub(super) fn of(&self, p: [f64; 2]) -> [f64; 2] {
        let d = self.direction(p);
        [d[0] + self.shift[0], d[1] + self.shift[1]]
    }

    /// A direction, turned.
    pub(super) fn direction(&self, p: [f64; 2]) -> [f64; 2] {
        let [c, s] = self.turn;
        [p[0] * c - p[1] * s, p[0] * s + p[1] * c]
    }

    /// Undoes it.
    pub(super) fn back(&self, p: [f64; 2]) -> [f64; 2] {
        let [c, s] = self.turn;
        let d = minus(p, self.shift);
        [d[0] * c + d[1] * s, d[1] * c - d[0] * s]
    }
}

pub(super) fn minus(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] - b[0], a[1] - b[1]]
}

pub(super) fn middle(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [f64::midpoint(a[0], b[0]), f64::midpoint(a[1], b[1])]
}

pub(super) fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// Unit direction from one point to another; along x where they coincide.
pub(super) fn unit(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    let length = distance(a, b);
    if length > 0.0 { minus(b, a).map(|x| x / length) } else { [1.0, 0.0] }
}

/// How far a point lies to the left of the line from `a` towards `b`, mm.
pub(super) fn left_of(a: [f64; 2], b: [f64; 2], p: [f64; 2]) -> f64 {
    let (d, e) = (unit(a, b), minus(p, a));
    d[0] * e[1] - d[1] * e[0]
}

/// Least distance of a point from the sides of a convex counter-clockwise polygon, negative outside, mm.
pub(super) fn depth_in(polygon: &[[f64; 2]], p: [f64; 2]) -> f64 {
    sides(polygon)
        .filter(|[a, b]| distance(*a, *b) > 0.0)
        .map(|[a, b]| left_of(a, b, p))
        .fold(f64::INFINITY, f64::min)
}

/// The sides of a closed polygon.
pub(super) fn sides(polygon: &[[f64; 2]]) -> impl Iterator<Item = [[f64; 2]; 2]> + '_ {
    (0..polygon.len()).map(|i| [polygon[i], polygon[(i + 1) % polygon.len()]])
}

/// Whether two convex counter-clockwise polygons share more than their rims: no side of either has the other
/// beyond it, to within `slack` mm.
pub(super) fn convex_overlap(p: &[[f64; 2]], q: &[[f64; 2]], slack: f64) -> bool {
    let parted = |p: &[[f64; 2]], q: &[[f64; 2]]| {
        sides(p).any(|[a, b]| distance(a, b) > 0.0 && q.iter().all(|&c| left_of(a, b, c) <= slack))
    };
    !parted(p, q) && !parted(q, p)
}

/// Least and greatest corner of some points; nothing for none.
pub(super) fn bounds(points: impl IntoIterator<Item = [f64; 2]>) -> Option<[[f64; 2]; 2]> {
    points.into_iter().fold(None, |sofar, p| {
        let [lo, hi] = sofar.unwrap_or([p, p]);
        Some([[lo[0].min(p[0]), lo[1].min(p[1])], [hi[0].max(p[0]), hi[1].max(p[1])]])
    })
}

/// The part of a segment within a box, if any (Liang and Barsky, "A new concept and method for line clipping",
/// 1984).
pub(super) fn clip([a, b]: [[f64; 2]; 2], [lo, hi]: [[f64; 2]; 2]) -> Option<[[f64; 2]; 2]> {
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for i in 0..2 {
        let d = b[i] - a[i];
        if d == 0.0 {
            if a[i] < lo[i] || a[i] > hi[i] {
                return None;
            }
        } else {
            let (t, u) = ((lo[i] - a[i]) / d, (hi[i] - a[i]) / d);
            enter = enter.max(t.min(u));
            leave = leave.min(t.max(u));
        }
    }
    let at = |t: f64| [0, 1].map(|i| (a[i] + (b[i] - a[i]) * t).clamp(lo[i], hi[i]));
    let ends = |t: f64, end: [f64; 2]| if t > 0.0 && t < 1.0 { at(t) } else { end };
    (enter < leave).then(|| [ends(enter, a), ends(leave, b)])
}

#[cfg(test)]
mod tests {
    use super::*;

    const SQUARE: [[f64; 2]; 4] = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];

    #[test]
    fn polygons_that_share_a_side_do_not_overlap_and_those_that_share_a_corner_of_area_do() {
        let moved = |x: f64| SQUARE.map(|p| [p[0] + x, p[1]]);
        assert!(!convex_overlap(&SQUARE, &moved(1.0), 1e-12));
        assert!(convex_overlap(&SQUARE, &moved(0.99), 1e-12));
        assert!(convex_overlap(&SQUARE, &SQUARE, 1e-12));
    }

    #[test]
    fn a_pose_lays_a_line_on_a_line_and_comes_back() {
        let pose = Pose::laying([[1.0, 1.0], [3.0, 1.0]], [[0.0, 5.0], [0.0, 3.0]]);
        assert!(distance(pose.of([1.0, 1.0]), [0.0, 5.0]) < 1e-15);
        assert!(distance(pose.back(pose.of([7.0, -2.0])), [7.0, -2.0]) < 1e-14);
    }

    #[test]
    fn clipping_keeps_what_lies_in_the_box() {
        let window = [[0.0, 0.0], [1.0, 1.0]];
        assert_eq!(clip([[-1.0, 0.5], [2.0, 0.5]], window), Some([[0.0, 0.5], [1.0, 0.5]]));
        assert_eq!(clip([[-1.0, 2.0], [2.0, 2.0]], window), None);
    }
}
