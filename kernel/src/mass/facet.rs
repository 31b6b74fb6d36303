//! Facets and rods: what masses are made of where it matters on which side of a line they lie.
//!
//! A facet is a flat triangle of sheet of even thickness. Its mass may be negative: outlines with holes become fans
//! of signed triangles, which add up exactly. Units: mm, kg, kg·mm².

use super::body::Gather;
use crate::units::KG_PER_MM3;
use nalgebra::{Isometry3, Point3, Unit, Vector3};

/// A triangle of sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Facet {
    /// Its corners on the middle skin, mm.
    pub corners: [Point3<f64>; 3],
    /// Unit normal of its plane; either side.
    pub normal: Vector3<f64>,
    /// Thickness, mm.
    pub thickness: f64,
    /// Mass, kg; negative where a hole is taken out.
    pub mass: f64,
}

/// A straight thin run of even mass: a weld bead, a leg of tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rod {
    /// Its ends, mm.
    pub ends: [Point3<f64>; 2],
    /// Mass, kg.
    pub mass: f64,
}

/// A vertical plane: g(p) = n·p − at in plan; g is positive beyond it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Unit normal in plan, pointing beyond.
    pub normal: [f64; 2],
    /// Distance of the line from the origin along the normal, mm.
    pub at: f64,
}

/// Moments about a line of what lies before and beyond it, both positive, kg·mm.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sides {
    /// ∫ |g| dm where g < 0.
    pub before: f64,
    /// ∫ g dm where g > 0.
    pub beyond: f64,
}

impl Line {
    /// Signed distance of a point in plan, mm.
    pub fn distance(&self, p: &Point3<f64>) -> f64 {
        self.normal[0] * p.x + self.normal[1] * p.y - self.at
    }
}

impl Sides {
    /// Adds moments.
    pub fn add(&mut self, other: Sides) {
        self.before += other.before;
        self.beyond += other.beyond;
    }

    /// A mass at one place.
    pub fn of_point(mass: f64, g: f64) -> Self {
        Self { before: mass * (-g).max(0.0), beyond: mass * g.max(0.0) }
    }
}

/// A flat plate of one outline (any winding) as facets: kg from thickness mm and density kg/m³.
pub fn plate(outline: &[Point3<f64>], thickness: f64, density: f64) -> Vec<Facet> {
    let Some(first) = outline.first() else { return Vec::new() };
    let whole: Vector3<f64> =
        outline.windows(2).map(|e| (e[0] - first).cross(&(e[1] - first))).sum::<Vector3<f64>>();
    let Some(normal) = Unit::try_new(whole, 0.0).map(Unit::into_inner) else { return Vec::new() };
    let per_area = thickness * density * KG_PER_MM3;
    outline[1..]
        .windows(2)
        .map(|e| {
            let area = (e[0] - first).cross(&(e[1] - first)).dot(&normal) / 2.0;
            Facet { corners: [*first, e[0], e[1]], normal, thickness, mass: area * per_area }
        })
        .collect()
}

/// A flat plate with holes as facets: its outer outline, then holes, each in space; kg as [`plate`]. Facets of holes
/// have negative mass: right in every sum.
pub fn plate_with_holes(outlines: &[Vec<Point3<f64>>], thickness: f64, density: f64) -> Vec<Facet> {
    let hollow = |(i, ring): (usize, &Vec<Point3<f64>>)| {
        let sign = if i == 0 { 1.0 } else { -1.0 };
        plate(ring, thickness, density).into_iter().map(move |f| Facet { mass: f.mass * sign, ..f })
    };
    outlines.iter().enumerate().flat_map(hollow).collect()
}

impl Facet {
    /// Adds it to a sum.
    pub(crate) fn gather(&self, all: &mut Gather) {
        all.add_simplex(self.mass, self.corners.map(|p| all.local(&p)), 0);
        let own = self.mass * self.thickness * self.thickness / 12.0;
        all.add_second(&(self.normal * self.normal.transpose() * own));
    }

    /// Moments about a line, exact for the middle skin.
    pub fn sides(&self, line: &Line) -> Sides {
        let g = self.corners.map(|p| line.distance(&p));
        let mean = g.iter().sum::<f64>() / 3.0;
        let beyond = self.mass * part_above(g);
        Sides { beyond, before: beyond - self.mass * mean }
    }

    /// The same moved.
    #[must_use]
    pub fn moved(&self, by: &Isometry3<f64>) -> Self {
        Self { corners: self.corners.map(|p| by * p), normal: by * self.normal, ..*self }
    }
}

/// Mean over a triangle of max(g, 0), for g linear with these values at its corners.
fn part_above(mut g: [f64; 3]) -> f64 {
    g.sort_by(f64::total_cmp);
    let [low, middle, high] = g;
    if low >= 0.0 {
        return (low + middle + high) / 3.0;
    }
    if high <= 0.0 {
        return 0.0;
    }
    // One corner above: a triangle like the whole, cut off at two shares of its sides.
    let tip = |top: f64, a: f64, b: f64| top / (top - a) * top / (top - b) * top / 3.0;
    if middle <= 0.0 {
        tip(high, middle, low)
    } else {
        // Two above: the whole less what lies below.
        (low + middle + high) / 3.0 + tip(-low, -middle, -high)
    }
}

impl Rod {
    /// Moments about a line.
    pub fn sides(&self, line: &Line) -> Sides {
        let [a, b] = self.ends.map(|p| line.distance(&p));
        let (low, high) = (a.min(b), a.max(b));
        if low >= 0.0 || high <= 0.0 {
            return Sides::of_point(self.mass, f64::midpoint(a, b));
        }
        let per = self.mass / (2.0 * (high - low));
        Sides { before: per * low * low, beyond: per * high * high }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mass::Body;
    use std::f64::consts::TAU;

    fn facet(corners: [[f64; 3]; 3], mass: f64) -> Facet {
        Facet { corners: corners.map(Point3::from), normal: Vector3::z(), thickness: 2.0, mass }
    }

    #[test]
    fn moments_of_a_split_triangle_are_those_of_many_small_ones() {
        let f = facet([[0.0, 0.0, 0.0], [9.0, 1.0, 3.0], [2.0, 7.0, -1.0]], 3.0);
        // A second method: four hundred thousand little triangles, each wholly on the side of its middle.
        let n = 400_u32;
        for k in 0..12 {
            let (sin, cos) = (TAU * f64::from(k) / 12.0).sin_cos();
            for at in [-3.0, 0.0, 2.0, 5.5] {
                let line = Line { normal: [cos, sin], at };
                let mut brute = Sides::default();
                let p = |i: u32, j: u32| {
                    let (u, v) = (f64::from(i) / f64::from(n), f64::from(j) / f64::from(n));
                    f.corners[0] + (f.corners[1] - f.corners[0]) * u + (f.corners[2] - f.corners[0]) * v
                };
                for i in 0..n {
                    for j in 0..n - i {
                        let mut add = |c: [Point3<f64>; 3]| {
                            let g = c.iter().map(|p| line.distance(p)).sum::<f64>() / 3.0;
                            brute.add(Sides::of_point(f.mass / f64::from(n * n), g));
                        };
                        add([p(i, j), p(i + 1, j), p(i, j + 1)]);
                        if j + 1 < n - i {
                            add([p(i + 1, j + 1), p(i + 1, j), p(i, j + 1)]);
                        }
                    }
                }
                let exact = f.sides(&line);
                assert!((exact.beyond - brute.beyond).abs() < 1e-4, "{k} {at}: {exact:?} {brute:?}");
                assert!((exact.before - brute.before).abs() < 1e-4, "{k} {at}: {exact:?} {brute:?}");
            }
        }
    }

    #[test]
    fn a_rod_across_the_line_is_split_where_it_crosses() {
        let rod = Rod { ends: [Point3::new(-1.0, 0.0, 0.0), Point3::new(3.0, 0.0, 8.0)], mass: 4.0 };
        let sides = rod.sides(&Line { normal: [1.0, 0.0], at: 0.0 });
        assert_eq!(sides, Sides { before: 0.5, beyond: 4.5 });
        let all = rod.sides(&Line { normal: [1.0, 0.0], at: -1.0 });
        assert_eq!(all, Sides { before: 0.0, beyond: 8.0 });
    }

    #[test]
    fn a_plate_has_the_inertia_of_a_box() {
        // m/12 (b² + c²), the thickness counted (textbook).
        let outline = [[0.0, 0.0], [600.0, 0.0], [600.0, 400.0], [0.0, 400.0]];
        let outline = outline.map(|[x, y]| Point3::new(x, y, 30.0));
        let mut all = Gather::about(Point3::origin());
        plate(&outline, 25.0, 7850.0).iter().for_each(|f| f.gather(&mut all));
        let body: Body = all.body();
        assert!((body.mass - 47.1).abs() < 1e-12, "{}", body.mass);
        assert!((body.centre - Point3::new(300.0, 200.0, 30.0)).norm() < 1e-12);
        let [a, b, c] = [600.0_f64, 400.0, 25.0].map(|x| x * x * body.mass / 12.0);
        let expected = Vector3::new(b + c, a + c, a + b);
        assert!((body.inertia.diagonal() - expected).norm() < 1e-12 * expected.norm());
    }
}
