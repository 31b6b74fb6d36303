//! A body as mechanics sees it: mass, centre, and inertia about the centre.
//!
//! Sums are kept as second moments C = ∫ x xᵀ dm, from which the inertia tensor is I = tr(C)·1 − C: in this form the
//! parallel-axis theorem is C about p = C about the centre + m d dᵀ, with one sign for all six entries (B. Mirtich,
//! "Fast and accurate computation of polyhedral mass properties", Journal of Graphics Tools 1(2), 1996; its revision
//! of 27 May 1997 corrects the sign of products of inertia after translation, which C has no room to get wrong).
//! Off-diagonal entries of I are **minus** the products ∫ xy dm. Units: mm, kg, kg·mm².

use nalgebra::{Isometry3, Matrix3, Point3, Vector3};

/// Mass, centre, and inertia about the centre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Body {
    /// Mass, kg.
    pub mass: f64,
    /// Centre of mass, mm.
    pub centre: Point3<f64>,
    /// Inertia tensor about the centre along the axes of the work, kg·mm²; off-diagonals are −∫ xy dm.
    pub inertia: Matrix3<f64>,
}

/// Moments being added up, about an origin near to what is added so that nothing is lost far out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gather {
    origin: Point3<f64>,
    mass: f64,
    first: Vector3<f64>,
    second: Matrix3<f64>,
}

impl Default for Body {
    fn default() -> Self {
        Self::point(0.0, Point3::origin())
    }
}

impl Body {
    /// All mass in one point.
    pub fn point(mass: f64, at: Point3<f64>) -> Self {
        Self { mass, centre: at, inertia: Matrix3::zeros() }
    }

    /// A thin straight rod of even mass, kg in all.
    pub fn rod(mass: f64, ends: [Point3<f64>; 2]) -> Self {
        let d = ends[1] - ends[0];
        let second = d * d.transpose() * (mass / 12.0);
        Self { mass, centre: nalgebra::center(&ends[0], &ends[1]), inertia: turned_over(&second) }
    }

    /// ∫ x xᵀ dm about the centre, kg·mm².
    pub fn second_moment(&self) -> Matrix3<f64> {
        Matrix3::identity() * (self.inertia.trace() / 2.0) - self.inertia
    }

    /// Inertia tensor about any point, kg·mm² (parallel-axis theorem).
    pub fn inertia_about(&self, p: &Point3<f64>) -> Matrix3<f64> {
        let d = self.centre - p;
        self.inertia + turned_over(&(d * d.transpose() * self.mass))
    }

    /// The body moved and turned.
    #[must_use]
    pub fn moved(&self, by: &Isometry3<f64>) -> Self {
        let r = by.rotation.to_rotation_matrix();
        Self { mass: self.mass, centre: by * self.centre, inertia: r * self.inertia * r.inverse() }
    }

    /// All of these as one body; mass 0 at the origin if there is none.
    pub fn sum<'a>(bodies: impl IntoIterator<Item = &'a Body>) -> Self {
        let mut bodies = bodies.into_iter();
        let Some(first) = bodies.next() else { return Self::default() };
        let mut all = Gather::about(first.centre);
        all.add(first);
        bodies.for_each(|b| all.add(b));
        all.body()
    }

    /// Moments of inertia about the principal axes, ascending, kg·mm².
    pub fn principal(&self) -> [f64; 3] {
        let mut values: [f64; 3] = self.inertia.symmetric_eigenvalues().into();
        values.sort_by(f64::total_cmp);
        values
    }
}

/// tr(C)·1 − C: takes a second moment to an inertia tensor.
fn turned_over(second: &Matrix3<f64>) -> Matrix3<f64> {
    Matrix3::identity() * second.trace() - second
}

impl Gather {
    /// Nothing yet.
    pub fn about(origin: Point3<f64>) -> Self {
        Self { origin, mass: 0.0, first: Vector3::zeros(), second: Matrix3::zeros() }
    }

    /// Adds a body.
    pub fn add(&mut self, body: &Body) {
        let d = body.centre - self.origin;
        self.mass += body.mass;
        self.first += d * body.mass;
        self.second += body.second_moment() + d * d.transpose() * body.mass;
    }

    /// Adds a simplex of even mass, of which `corners` are the points beside the origin's `zeros` (1 for a
    /// tetrahedron over a triangle, 0 for the triangle itself): C = m / (n(n+1)) · (Σ x xᵀ + (Σ x)(Σ x)ᵀ) for n corners
    /// (F. Tonon, "Explicit exact formulas for the 3-D tetrahedron inertia tensor in terms of its vertex coordinates",
    /// Journal of Mathematics and Statistics 1(1), 2005, in matrix form). Mass may be negative: signed sums.
    pub(crate) fn add_simplex(&mut self, mass: f64, corners: [Vector3<f64>; 3], zeros: u8) {
        let n = 3.0 + f64::from(zeros);
        let s: Vector3<f64> = corners.iter().sum();
        let outer: Matrix3<f64> = corners.iter().map(|x| x * x.transpose()).sum();
        self.mass += mass;
        self.first += s * (mass / n);
        self.second += (outer + s * s.transpose()) * (mass / (n * (n + 1.0)));
    }

    /// Adds a second moment about the origin without mass.
    pub(crate) fn add_second(&mut self, second: &Matrix3<f64>) {
        self.second += second;
    }

    /// A point relative to the origin.
    pub(crate) fn local(&self, p: &Point3<f64>) -> Vector3<f64> {
        p - self.origin
    }

    /// Mass so far, kg.
    pub fn mass(&self) -> f64 {
        self.mass
    }

    /// The whole as one body; at the origin of the sum if it has no mass.
    pub fn body(&self) -> Body {
        if self.mass == 0.0 {
            return Body::point(0.0, self.origin);
        }
        let c = self.first / self.mass;
        let second = self.second - c * c.transpose() * self.mass;
        Body { mass: self.mass, centre: self.origin + c, inertia: turned_over(&second) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{Translation3, UnitQuaternion};

    #[track_caller]
    fn near(a: &Matrix3<f64>, b: &Matrix3<f64>, relative: f64) {
        assert!((a - b).norm() <= relative * b.norm(), "{a} is not {b}");
    }

    #[test]
    fn products_of_inertia_after_translation_have_the_sign_of_the_1997_revision() {
        // A box moved to (p, q, r): Ixy = −m p q (Mirtich 1996, revised 27 May 1997).
        let b = Body {
            inertia: Matrix3::from_diagonal(&Vector3::new(5.0, 6.0, 7.0)),
            ..Body::point(2.0, Point3::new(3.0, 4.0, 5.0))
        };
        let i = b.inertia_about(&Point3::origin());
        assert_eq!([i[(0, 1)], i[(0, 2)], i[(1, 2)]], [-24.0, -30.0, -40.0]);
        assert_eq!([i[(0, 0)], i[(1, 1)], i[(2, 2)]], [5.0 + 82.0, 6.0 + 68.0, 7.0 + 50.0]);
    }

    #[test]
    fn a_rod_has_the_textbook_inertia_and_four_points_make_a_square() {
        let rod = Body::rod(6.0, [Point3::new(0.0, 0.0, 10.0), Point3::new(4.0, 0.0, 10.0)]);
        assert_eq!(rod.inertia.diagonal(), Vector3::new(0.0, 8.0, 8.0), "m L²/12");
        assert_eq!(rod.inertia_about(&Point3::new(0.0, 0.0, 10.0))[(1, 1)], 32.0, "m L²/3 about its end");
        let corners = [[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0]];
        let points = corners.map(|[x, y]| Body::point(1.0, Point3::new(x, y, 0.0)));
        assert_eq!(Body::sum(&points).inertia.diagonal(), Vector3::new(4.0, 4.0, 8.0));
        assert_eq!(Body::sum(&[]).mass, 0.0);
    }

    #[test]
    fn moving_and_adding_commute_also_far_out() {
        let rods = [
            Body::rod(2.0, [Point3::new(0.0, 0.0, 0.0), Point3::new(300.0, 20.0, 1.0)]),
            Body::rod(5.0, [Point3::new(10.0, -80.0, 40.0), Point3::new(-30.0, 20.0, 900.0)]),
            Body::point(1.0, Point3::new(100.0, 100.0, 100.0)),
        ];
        for far in [0.0, 1.0e7] {
            let by = Isometry3::from_parts(
                Translation3::new(far, -far, 5.0),
                UnitQuaternion::from_euler_angles(0.3, -1.1, 2.0),
            );
            let first = Body::sum(&rods).moved(&by);
            let then = Body::sum(&rods.map(|r| r.moved(&by)));
            assert!((first.centre - then.centre).norm() < 1e-8, "{far}");
            near(&then.inertia, &first.inertia, if far > 0.0 { 1e-9 } else { 1e-14 });
            let (p, q) = (first.principal(), Body::sum(&rods).principal());
            assert!(p.iter().zip(q).all(|(a, b)| (a - b).abs() < 1e-9 * b), "principal moments do not turn");
        }
    }
}
