//! Gates: convex plane openings that the spine passes, and places where it may end. Units: mm.

use crate::error::{Error, Result};
use nalgebra::{Matrix3, Point3, Vector3};

/// A convex opening in a plane.
#[derive(Debug, Clone, PartialEq)]
pub struct Gate {
    name: String,
    corners: Vec<Point3<f64>>,
    centre: Point3<f64>,
    normal: Vector3<f64>,
    /// For each side, the unit vector in the plane square to it, inward.
    inward: Vec<Vector3<f64>>,
}

/// Where an end of the spine may be.
#[derive(Debug, Clone, PartialEq)]
pub enum Place {
    /// At this point.
    At(Point3<f64>),
    /// Anywhere in this area, as clear of its edge as of the sheet.
    On(Gate),
}

impl Place {
    pub(super) fn middle(&self) -> Point3<f64> {
        match self {
            Place::At(p) => *p,
            Place::On(area) => area.greatest_circle().0,
        }
    }
}

/// Corners may lie this share of the gate's size off its plane, and sides bend outward by it.
const FLAT: f64 = 1.0e-6;

impl Gate {
    /// By its corners in order, either way round.
    ///
    /// # Errors
    /// Fewer than three corners, corners that are not finite, not in a plane, or not convex.
    pub fn new(name: impl Into<String>, corners: Vec<Point3<f64>>) -> Result<Self> {
        let name = name.into();
        let refuse =
            |what: &str| Err(Error::input(what).at(name.clone()).remedy("give a convex plane opening"));
        if corners.len() < 3 || !corners.iter().flat_map(|c| c.iter()).all(|x| x.is_finite()) {
            return refuse("has fewer than three usable corners");
        }
        #[allow(clippy::cast_precision_loss, reason = "few corners")]
        let count = corners.len() as f64;
        let centre = Point3::from(corners.iter().map(|c| c.coords).sum::<Vector3<f64>>() / count);
        let size = corners.iter().map(|c| (c - centre).norm()).fold(0.0, f64::max);
        let next = |i: usize| (i + 1) % corners.len();
        let area: Vector3<f64> =
            (0..corners.len()).map(|i| (corners[i] - centre).cross(&(corners[next(i)] - centre))).sum();
        let Some(normal) = area.try_normalize(FLAT * size * size) else {
            return refuse("has no area");
        };
        if corners.iter().any(|c| (c - centre).dot(&normal).abs() > FLAT * size) {
            return refuse("is not flat");
        }
        let mut inward = Vec::new();
        for i in 0..corners.len() {
            let side = corners[next(i)] - corners[i];
            let Some(m) = normal.cross(&side).try_normalize(FLAT * size * size.min(1.0)) else {
                return refuse("has two corners in one place");
            };
            if corners.iter().any(|c| (c - corners[i]).dot(&m) < -FLAT * size) {
                return refuse("is not convex");
            }
            inward.push(m);
        }
        Ok(Self { name, corners, centre, normal, inward })
    }

    /// What it is called.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Corners in order.
    pub fn corners(&self) -> &[Point3<f64>] {
        &self.corners
    }

    /// Mean of its corners.
    pub fn centre(&self) -> Point3<f64> {
        self.centre
    }

    /// Unit normal.
    pub fn normal(&self) -> Vector3<f64> {
        self.normal
    }

    /// Turned so that its normal goes along a direction.
    pub(super) fn facing(mut self, way: &Vector3<f64>) -> Self {
        if self.normal.dot(way) < 0.0 {
            self.normal.neg_mut();
        }
        self
    }

    /// Height of a point over its plane, on the side of its normal.
    pub fn height(&self, p: &Point3<f64>) -> f64 {
        (p - self.centre).dot(&self.normal)
    }

    /// How far a point of its plane lies inside its outline, mm; negative outside.
    pub fn depth(&self, p: &Point3<f64>) -> f64 {
        self.sides().map(|(side, m)| (p - side[0]).dot(&m)).fold(f64::INFINITY, f64::min)
    }

    /// The most that any point among some can lie inside the outline, mm: the least over its sides of the greatest.
    pub fn deepest(&self, among: &[Point3<f64>]) -> f64 {
        let most = |side: &[Point3<f64>; 2], m: &Vector3<f64>| {
            among.iter().map(|p| (p - side[0]).dot(m)).fold(f64::NEG_INFINITY, f64::max)
        };
        self.sides().map(|(side, m)| most(&side, &m)).fold(f64::INFINITY, f64::min)
    }

    /// Sides, each with its inward unit vector.
    pub(super) fn sides(&self) -> impl Iterator<Item = ([Point3<f64>; 2], Vector3<f64>)> + '_ {
        let n = self.corners.len();
        (0..n).map(move |i| ([self.corners[i], self.corners[(i + 1) % n]], self.inward[i]))
    }

    /// Middle and radius of the greatest circle within: the thickest tube that passes square.
    ///
    /// It touches three sides; all triples are tried.
    pub fn greatest_circle(&self) -> (Point3<f64>, f64) {
        let n = self.corners.len();
        // Distance to side i is (x − corner)·m; x = centre + w in the plane.
        let offset = |i: usize| (self.centre - self.corners[i]).dot(&self.inward[i]);
        let u = self.inward[0];
        let v = self.normal.cross(&u);
        let mut best = (self.centre, (0..n).map(offset).fold(f64::INFINITY, f64::min));
        for i in 0..n {
            for j in i + 1..n {
                for k in j + 1..n {
                    let row = |s: usize| [self.inward[s].dot(&u), self.inward[s].dot(&v), -1.0];
                    let [a, b, c] = [i, j, k].map(row);
                    let m = Matrix3::new(a[0], a[1], a[2], b[0], b[1], b[2], c[0], c[1], c[2]);
                    let Some(inverse) = m.try_inverse() else { continue };
                    let x = inverse * -Vector3::new(offset(i), offset(j), offset(k));
                    let middle = self.centre + u * x[0] + v * x[1];
                    // What it truly has, whatever the triple: never too much.
                    let radius = (0..n)
                        .map(|s| (middle - self.corners[s]).dot(&self.inward[s]))
                        .fold(f64::INFINITY, f64::min);
                    if radius > best.1 {
                        best = (middle, radius);
                    }
                }
            }
        }
        best
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gate(corners: &[[f64; 3]]) -> Result<Gate> {
        Gate::new("gate", corners.iter().map(|c| Point3::from(*c)).collect())
    }

    #[test]
    fn greatest_circles_are_those_of_closed_forms() {
        let radius = |corners: &[[f64; 3]]| gate(corners).expect("convex").greatest_circle().1;
        let near =
            |found: f64, wanted: f64| assert!((found / wanted - 1.0).abs() < 1e-9, "{found} for {wanted}");
        near(radius(&[[0.0, 0.0, 5.0], [300.0, 0.0, 5.0], [300.0, 120.0, 5.0], [0.0, 120.0, 5.0]]), 60.0);
        // A right triangle: (a + b − c)/2, either way round and aslant.
        near(radius(&[[0.0, 0.0, 0.0], [0.0, 400.0, 0.0], [300.0, 0.0, 0.0]]), 100.0);
        let s = 0.5_f64.sqrt();
        near(radius(&[[0.0, 0.0, 0.0], [300.0 * s, 0.0, 300.0 * s], [0.0, 400.0, 0.0]]), 100.0);
        let hexagon: Vec<[f64; 3]> = (0..6)
            .map(|k| (f64::from(k) * std::f64::consts::FRAC_PI_3).sin_cos())
            .map(|(y, x)| [50.0 * x, 50.0 * y, 0.0])
            .collect();
        near(radius(&hexagon), 50.0 * 0.75_f64.sqrt());
    }

    #[test]
    fn gates_that_are_none_are_refused() {
        assert!(gate(&[[0.0; 3], [1.0, 0.0, 0.0]]).is_err());
        assert!(gate(&[[0.0; 3], [1.0, 0.0, 0.0], [2.0, 0.0, 0.0]]).is_err(), "a line");
        assert!(gate(&[[0.0; 3], [9.0, 0.0, 0.0], [1.0, 1.0, 0.0], [0.0, 9.0, 0.0]]).is_err(), "a notch");
        assert!(gate(&[[0.0; 3], [9.0, 0.0, 0.0], [9.0, 9.0, 1.0], [0.0, 9.0, 0.0]]).is_err(), "twisted");
        assert!(gate(&[[0.0; 3], [9.0, 0.0, 0.0], [f64::NAN, 9.0, 0.0]]).is_err());
    }
}
