//! One straight beam in its own axes: stiffness, mass and loads.
//!
//! Shape functions are the exact deflections of an unloaded Timoshenko beam (J. S. Przemieniecki, "Theory of matrix
//! structural analysis", 1968, sections 5.6 and 11.6; from memory), so that static results at the nodes are exact
//! (Betti's theorem). F = 12EI/(GA L²) is 0 for a beam stiff in shear. The mass matrix is the consistent one of the same
//! functions: frequencies converge from above, of slender beams in bending with the fourth power of the member
//! length, of deep beams, torsion and stretching with the second.
//! Freedoms: u v w rx ry rz at the first end, then at the second.

use super::model::Bar;
use crate::units::KG_PER_MM3;
use nalgebra::{SMatrix, SVector, Vector6};

pub(super) type Matrix12 = SMatrix<f64, 12, 12>;
pub(super) type Vector12 = SVector<f64, 12>;
type Shape = SMatrix<f64, 6, 12>;

/// Gauss points and weights on 0 to 1, exact for polynomials up to the seventh degree.
const GAUSS: [(f64, f64); 4] = [
    (0.069_431_844_202_973_71, 0.173_927_422_568_726_93),
    (0.330_009_478_207_571_9, 0.326_072_577_431_273_07),
    (0.669_990_521_792_428_1, 0.326_072_577_431_273_07),
    (0.930_568_155_797_026_3, 0.173_927_422_568_726_93),
];

/// A beam of a length, mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct Beam<'a> {
    pub(super) bar: &'a Bar,
    pub(super) length: f64,
}

/// Freedoms of bending in x-y (with Iz) and in x-z (with Iy), where the turn about y is against dw/dx.
const PLANES: [([usize; 4], f64); 2] = [([1, 5, 7, 11], 1.0), ([2, 4, 8, 10], -1.0)];

impl Beam<'_> {
    /// F of the two planes.
    fn shear(&self) -> [f64; 2] {
        let b = self.bar;
        let of = |inertia: f64, area: f64| 12.0 * b.young * inertia / (b.shear * area * self.length.powi(2));
        b.shear_area.map_or([0.0; 2], |[ay, az]| [of(b.inertia[1], ay), of(b.inertia[0], az)])
    }

    /// N/mm, N and N·mm.
    pub(super) fn stiffness(&self) -> Matrix12 {
        let (b, l) = (self.bar, self.length);
        let mut k = Matrix12::zeros();
        for (first, stiff) in [(0, b.young * b.area / l), (3, b.shear * b.torsion / l)] {
            for (i, j, sign) in [(0, 0, 1.0), (0, 6, -1.0), (6, 0, -1.0), (6, 6, 1.0)] {
                k[(first + i, first + j)] += sign * stiff;
            }
        }
        let inertia = [b.inertia[1], b.inertia[0]];
        for (plane, (at, sign)) in PLANES.into_iter().enumerate() {
            let f = self.shear()[plane];
            let s = b.young * inertia[plane] / (l.powi(3) * (1.0 + f));
            let full = [
                [12.0, 6.0 * l, -12.0, 6.0 * l],
                [6.0 * l, (4.0 + f) * l * l, -6.0 * l, (2.0 - f) * l * l],
                [-12.0, -6.0 * l, 12.0, -6.0 * l],
                [6.0 * l, (2.0 - f) * l * l, -6.0 * l, (4.0 + f) * l * l],
            ];
            let signs = [1.0, sign, 1.0, sign];
            for i in 0..4 {
                for j in 0..4 {
                    k[(at[i], at[j])] += s * full[i][j] * signs[i] * signs[j];
                }
            }
        }
        k
    }

    /// Movements and turns of the section at a share of the length, per freedom.
    pub(super) fn shape(&self, x: f64) -> Shape {
        let l = self.length;
        let mut h = Shape::zeros();
        for first in [0, 3] {
            h[(first, first)] = 1.0 - x;
            h[(first, first + 6)] = x;
        }
        for (plane, (at, sign)) in PLANES.into_iter().enumerate() {
            let f = self.shear()[plane];
            let m = 1.0 / (1.0 + f);
            let (x2, x3) = (x * x, x * x * x);
            let moves = [
                m * (1.0 - 3.0 * x2 + 2.0 * x3 + f * (1.0 - x)),
                m * l * (x - 2.0 * x2 + x3 + f / 2.0 * (x - x2)),
                m * (3.0 * x2 - 2.0 * x3 + f * x),
                m * l * (x3 - x2 - f / 2.0 * (x - x2)),
            ];
            let turns = [
                m * 6.0 / l * (x2 - x),
                m * (1.0 - 4.0 * x + 3.0 * x2 + f * (1.0 - x)),
                m * 6.0 / l * (x - x2),
                m * (3.0 * x2 - 2.0 * x + f * x),
            ];
            let signs = [1.0, sign, 1.0, sign];
            for i in 0..4 {
                h[(at[0], at[i])] = moves[i] * signs[i];
                h[(at[1], at[i])] = turns[i] * signs[i] * sign;
            }
        }
        h
    }

    /// kg, kg·mm and kg·mm².
    pub(super) fn mass(&self) -> Matrix12 {
        let b = self.bar;
        let line = b.mass_per_mm();
        let turning = |inertia: f64| inertia * b.density * KG_PER_MM3;
        let bending = if b.rotary { b.inertia.map(turning) } else { [0.0; 2] };
        let polar = turning(b.inertia[0] + b.inertia[1]);
        let density = SMatrix::<f64, 6, 6>::from_diagonal(&Vector6::new(
            line, line, line, polar, bending[0], bending[1],
        ));
        GAUSS.into_iter().fold(Matrix12::zeros(), |sum, (x, weight)| {
            let h = self.shape(x);
            sum + h.transpose() * density * h * (weight * self.length)
        })
    }

    /// Forces at the ends that stand for a load (force and moment) at a share of the length.
    pub(super) fn point(&self, x: f64, load: &Vector6<f64>) -> Vector12 {
        self.shape(x).transpose() * load
    }

    /// Forces at the ends that stand for a load per mm that grows evenly from one end to the other.
    pub(super) fn line(&self, load: [Vector6<f64>; 2]) -> Vector12 {
        GAUSS.into_iter().fold(Vector12::zeros(), |sum, (x, weight)| {
            sum + self.point(x, &(load[0] * (1.0 - x) + load[1] * x)) * (weight * self.length)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bar(shear: bool) -> Bar {
        Bar {
            young: 210_000.0,
            shear: 81_000.0,
            area: 1500.0,
            inertia: [2.0e6, 5.0e6],
            torsion: 1.0e6,
            shear_area: shear.then_some([800.0, 600.0]),
            density: 7850.0,
            rotary: true,
            tube: None,
        }
    }

    /// Patch test: the six ways of moving as one piece strain nothing and carry the whole mass.
    #[test]
    fn rigid_movements_need_no_force_and_move_the_whole_mass() {
        for shear in [false, true] {
            let b = bar(shear);
            let beam = Beam { bar: &b, length: 1234.5 };
            let (k, m) = (beam.stiffness(), beam.mass());
            for way in 0..6 {
                let at = |x: f64| {
                    let mut v = Vector6::zeros();
                    v[way] = 1.0;
                    if way == 4 {
                        v[2] = -x;
                    }
                    if way == 5 {
                        v[1] = x;
                    }
                    v
                };
                let (a, b2) = (at(0.0), at(beam.length));
                let u = Vector12::from_fn(|i, _| if i < 6 { a[i] } else { b2[i - 6] });
                assert!((k * u).amax() < 1e-9 * k.amax(), "way {way}");
                let energy = (u.transpose() * m * u)[0];
                let mass = b.mass_per_mm() * beam.length;
                let rho = b.density * KG_PER_MM3;
                let wanted = match way {
                    0..3 => mass,
                    3 => (b.inertia[0] + b.inertia[1]) * rho * beam.length,
                    _ => mass * beam.length.powi(2) / 3.0 + b.inertia[way - 4] * rho * beam.length,
                };
                assert!((energy / wanted - 1.0).abs() < 1e-12, "way {way}: {energy} for {wanted}");
            }
            assert!((k - k.transpose()).amax() < 1e-9 && (m - m.transpose()).amax() < 1e-9);
        }
    }

    /// Euler beam: consistent mass 156, 22L, 54, −13L; 4L², 13L, −3L² over 420 (any textbook), end forces qL/2, qL²/12.
    #[test]
    fn slender_beams_have_the_matrices_of_the_textbooks() {
        let b = Bar { rotary: false, ..bar(false) };
        let l = 700.0;
        let beam = Beam { bar: &b, length: l };
        let (m, unit) = (beam.mass(), b.mass_per_mm() * l / 420.0);
        for (i, j, wanted) in [
            (1, 1, 156.0),
            (1, 5, 22.0 * l),
            (1, 7, 54.0),
            (1, 11, -13.0 * l),
            (5, 5, 4.0 * l * l),
            (5, 7, 13.0 * l),
            (5, 11, -3.0 * l * l),
            (2, 4, -22.0 * l),
            (2, 10, 13.0 * l),
            (0, 6, 70.0),
        ] {
            assert!((m[(i, j)] / (unit * wanted) - 1.0).abs() < 1e-12, "{i} {j}");
        }
        let q = Vector6::new(0.0, 3.0, 0.0, 0.0, 0.0, 0.0);
        let f = beam.line([q, q]);
        assert!((f[1] - 1.5 * l).abs() < 1e-9 && (f[5] - 3.0 * l * l / 12.0).abs() < 1e-6);
    }

    /// Second method: a cantilever's flexibility from its stiffness, PL³/3EI + PL/GA and PL²/2EI.
    #[test]
    fn a_cantilever_bends_and_shears() {
        let b = bar(true);
        let l = 400.0;
        let k = Beam { bar: &b, length: l }.stiffness().fixed_view::<6, 6>(6, 6).into_owned();
        let tip = |way| {
            let mut f = Vector6::zeros();
            f[way] = 1000.0;
            k.lu().solve(&f).expect("held")
        };
        let [ay, az] = b.shear_area.expect("given");
        let of = |inertia: f64, area: f64| {
            1000.0 * l.powi(3) / (3.0 * b.young * inertia) + 1000.0 * l / (b.shear * area)
        };
        assert!((tip(1)[1] / of(b.inertia[1], ay) - 1.0).abs() < 1e-12);
        assert!((tip(2)[2] / of(b.inertia[0], az) - 1.0).abs() < 1e-12);
        assert!((tip(2)[4] / (-1000.0 * l * l / (2.0 * b.young * b.inertia[0])) - 1.0).abs() < 1e-12);
    }
}
