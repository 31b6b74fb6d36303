//! A support: the convex hull, seen from above, of the points in which a load is held.
//!
//! A load that is only pressed down tips about an edge of this hull and about nothing else. Margins are signed
//! distances in plan, positive inside. Angles are those by which the whole must be tilted for the vertical through
//! its centre to leave the hull: tan = distance in plan / height of the centre over the point where it leaves.

use crate::mass::facet::Line;
use crate::polygon::hull;
use nalgebra::Point3;

/// The hull with the heights of its corners, counter-clockwise seen from above.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Support {
    /// Its corners, mm. Fewer than three stand on a line or a point: nothing is inside.
    pub corners: Vec<Point3<f64>>,
}

/// Hulls with less area than this have no inside, mm².
const LEAST_AREA: f64 = 1.0;

impl Support {
    /// The hull of points; of points above each other the lowest counts.
    pub fn new(mut points: Vec<Point3<f64>>) -> Self {
        points.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)).then(a.z.total_cmp(&b.z)));
        points.dedup_by(|b, a| a.x == b.x && a.y == b.y);
        let corners = hull(points.iter().map(|p| [p.x, p.y]).collect());
        let height = |c: &[f64; 2]| {
            let i = points.partition_point(|p| p.x.total_cmp(&c[0]).then(p.y.total_cmp(&c[1])).is_lt());
            points.get(i).map_or(0.0, |p| p.z)
        };
        // A hull of two points or one comes back empty.
        let corners: Vec<Point3<f64>> = if corners.len() < 3 {
            [points.first(), points.last()].into_iter().flatten().copied().collect()
        } else {
            corners.iter().map(|c| Point3::new(c[0], c[1], height(c))).collect()
        };
        Self { corners }
    }

    /// The same of points seen from above only: all heights are 0.
    pub(super) fn in_plan(mut points: Vec<[f64; 2]>) -> Self {
        points.sort_unstable_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
        let ends = [points.first().copied(), points.last().copied()];
        let corners = hull(points);
        let flat = |c: [f64; 2]| Point3::new(c[0], c[1], 0.0);
        let corners: Vec<Point3<f64>> = if corners.len() < 3 {
            ends.into_iter().flatten().map(flat).collect()
        } else {
            corners.into_iter().map(flat).collect()
        };
        Self { corners }
    }

    /// Area in plan, mm².
    pub fn area(&self) -> f64 {
        let Some(o) = self.corners.first() else { return 0.0 };
        let twice = self.corners.windows(2).map(|e| {
            let (a, b) = (e[0] - o, e[1] - o);
            a.x * b.y - a.y * b.x
        });
        twice.sum::<f64>() / 2.0
    }

    /// Whether anything can stand on it.
    pub fn is_area(&self) -> bool {
        self.corners.len() > 2 && self.area() > LEAST_AREA
    }

    /// Its centroid in plan, mm; the middle of its corners where it has no area.
    pub fn centroid(&self) -> [f64; 2] {
        let Some(o) = self.corners.first() else { return [0.0; 2] };
        let (mut area, mut sum) = (0.0, [0.0; 2]);
        for e in self.corners.windows(2) {
            let (a, b) = (e[0] - o, e[1] - o);
            let part = a.x * b.y - a.y * b.x;
            area += part;
            sum = [sum[0] + (a.x + b.x) * part / 3.0, sum[1] + (a.y + b.y) * part / 3.0];
        }
        if area > LEAST_AREA {
            return [o.x + sum[0] / area, o.y + sum[1] / area];
        }
        #[allow(clippy::cast_precision_loss, reason = "a few corners")]
        let n = self.corners.len() as f64;
        [self.corners.iter().map(|c| c.x).sum::<f64>() / n, self.corners.iter().map(|c| c.y).sum::<f64>() / n]
    }

    /// Its edges: ends, and the line with its normal outward.
    pub fn edges(&self) -> impl Iterator<Item = ([Point3<f64>; 2], Line)> + '_ {
        let n = if self.is_area() { self.corners.len() } else { 0 };
        (0..n).filter_map(move |i| {
            let (a, b) = (self.corners[i], self.corners[(i + 1) % n]);
            let (dx, dy) = (b.x - a.x, b.y - a.y);
            let length = dx.hypot(dy);
            let normal = [dy / length, -dx / length];
            (length > 0.0).then_some(([a, b], Line { normal, at: normal[0] * a.x + normal[1] * a.y }))
        })
    }

    /// Signed distance in plan from the hull's border, positive inside, mm; minus infinity without any point.
    pub fn margin(&self, p: &Point3<f64>) -> f64 {
        let inside = self.edges().map(|(_, line)| -line.distance(p)).fold(f64::INFINITY, f64::min);
        if inside.is_finite() && inside >= 0.0 {
            return inside;
        }
        let n = self.corners.len();
        let away = (0..n).map(|i| from_stretch(p, &self.corners[i], &self.corners[(i + 1) % n]));
        -away.fold(f64::INFINITY, f64::min)
    }

    /// How far a point may move toward a compass direction (degrees) before it leaves the hull, mm, and the height
    /// of the edge it leaves by; negative where it is outside and the hull behind it; none where it never meets it.
    pub fn reach(&self, p: &Point3<f64>, toward: f64) -> Option<[f64; 2]> {
        let (sin, cos) = toward.to_radians().sin_cos();
        let mut farthest: Option<[f64; 2]> = None;
        for ([a, b], line) in self.edges() {
            let slope = line.normal[0] * cos + line.normal[1] * sin;
            if slope == 0.0 {
                continue;
            }
            let r = -line.distance(p) / slope;
            let at = [p.x + cos * r - a.x, p.y + sin * r - a.y];
            let (dx, dy) = (b.x - a.x, b.y - a.y);
            let share = (at[0] * dx + at[1] * dy) / (dx * dx + dy * dy);
            // A corner belongs to both of its edges.
            if (-ON_CORNER..=1.0 + ON_CORNER).contains(&share) && farthest.is_none_or(|f| r > f[0]) {
                farthest = Some([r, a.z + (b.z - a.z) * share.clamp(0.0, 1.0)]);
            }
        }
        farthest
    }

    /// Angle to tipping toward a compass direction (degrees), degrees; negative where it tips already.
    pub fn angle(&self, centre: &Point3<f64>, toward: f64) -> f64 {
        let (distance, height) = match self.reach(centre, toward) {
            Some([r, z]) => (r, centre.z - z),
            None => {
                let z = self.corners.iter().map(|c| c.z).fold(f64::INFINITY, f64::min);
                (self.margin(centre).min(0.0), centre.z - z)
            }
        };
        distance.atan2(height.max(0.0)).to_degrees()
    }

    /// The least angle to tipping and its direction, both degrees: over whole degrees and square to every edge.
    pub fn least_angle(&self, centre: &Point3<f64>) -> [f64; 2] {
        let square = self.edges().map(|(_, l)| l.normal[1].atan2(l.normal[0]).to_degrees().rem_euclid(360.0));
        let all = (0..360).step_by(5).map(f64::from).chain(square);
        let best = all.map(|toward| [self.angle(centre, toward), toward]);
        best.min_by(|a, b| a[0].total_cmp(&b[0])).unwrap_or([-90.0, 0.0])
    }
}

/// A line may leave by a corner missed by this share of an edge.
const ON_CORNER: f64 = 1.0e-9;

/// Distance in plan of a point from a stretch.
fn from_stretch(p: &Point3<f64>, a: &Point3<f64>, b: &Point3<f64>) -> f64 {
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let (px, py) = (p.x - a.x, p.y - a.y);
    let square = dx * dx + dy * dy;
    let share = if square > 0.0 { ((px * dx + py * dy) / square).clamp(0.0, 1.0) } else { 0.0 };
    (px - dx * share).hypot(py - dy * share)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn regular(sides: u32, radius: f64, z: f64) -> Support {
        let corner = |k: u32| {
            let (s, c) = (std::f64::consts::TAU * f64::from(k) / f64::from(sides)).sin_cos();
            Point3::new(radius * c, radius * s, z)
        };
        Support::new((0..sides).map(corner).collect())
    }

    #[test]
    fn a_cube_tips_at_45_degrees_over_an_edge() {
        // Textbook: tan of the critical slope is half the width over the height of the centre.
        let cube = regular(4, 500.0 * 2.0_f64.sqrt(), 0.0);
        let c = Point3::new(0.0, 0.0, 500.0);
        assert!((cube.margin(&c) - 500.0).abs() < 1e-9);
        let [least, toward] = cube.least_angle(&c);
        assert!(
            (least - 45.0).abs() < 1e-9 && (toward - 45.0).rem_euclid(90.0).abs() < 1e-9,
            "{least} {toward}"
        );
        let corner = cube.angle(&c, 90.0);
        assert!((corner - 2.0_f64.sqrt().atan().to_degrees()).abs() < 1e-9, "over a corner: {corner}");
    }

    #[test]
    fn polar_margin_of_a_regular_polygon_is_the_closed_form() {
        // r(θ) = apothem / cos(θ − nearest normal), moved with the centre.
        for sides in 3..9_u32 {
            let s = regular(sides, 400.0, 0.0);
            let step = 360.0 / f64::from(sides);
            let apothem = 400.0 * (step / 2.0).to_radians().cos();
            for k in 0..72 {
                let theta = 5.0 * f64::from(k) + 0.3;
                let off = (theta.rem_euclid(step) - step / 2.0).to_radians();
                let [r, _] = s.reach(&Point3::new(0.0, 0.0, 300.0), theta).expect("inside");
                assert!((r - apothem / off.cos()).abs() < 1e-9, "{sides} {theta}: {r}");
                let angle = s.angle(&Point3::new(0.0, 0.0, 300.0), theta);
                assert!((angle.to_radians().tan() - r / 300.0).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn outside_the_margin_is_minus_the_distance_and_a_line_holds_nothing() {
        let s = regular(4, 500.0 * 2.0_f64.sqrt(), 0.0);
        let far = regular(4, 1.0, 0.0);
        // Sides face the diagonals of the axes here: corners lie on x and y.
        let corner = 500.0 * 2.0_f64.sqrt();
        assert!((s.margin(&Point3::new(corner + 7.0, 0.0, 0.0)) + 7.0).abs() < 1e-9);
        assert!(s.angle(&Point3::new(corner + 7.0, 0.0, 100.0), 0.0) < 0.0);
        assert!(far.margin(&Point3::new(100.0, 0.0, 0.0)) < -98.9);
        let line = Support::new(vec![
            Point3::new(0.0, 0.0, 0.0),
            Point3::new(9.0, 0.0, 0.0),
            Point3::new(4.0, 0.0, 0.0),
        ]);
        assert!(!line.is_area() && (line.margin(&Point3::new(4.0, 3.0, 1.0)) + 3.0).abs() < 1e-12);
        assert_eq!(Support::default().margin(&Point3::origin()), f64::NEG_INFINITY);
    }

    #[test]
    fn heights_stay_with_their_corners() {
        let points =
            [[0.0, 0.0, 5.0], [10.0, 0.0, 6.0], [10.0, 10.0, 7.0], [0.0, 10.0, 8.0], [10.0, 0.0, 3.0]];
        let s = Support::new(points.map(Point3::from).to_vec());
        let z: Vec<f64> = s.corners.iter().map(|c| c.z).collect();
        assert_eq!(z, [5.0, 3.0, 7.0, 8.0], "the lowest of two above each other");
    }
}
