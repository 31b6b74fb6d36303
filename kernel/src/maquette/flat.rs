//! Conditions that points lie in a plane, as linear equations between their coordinates.
//!
//! With z the distances of k points from the plane that fits them best, and W an orthonormal basis of what is left
//! of Rᵏ beside the moves of that plane (its shift, its two tilts), Wᵀ z = 0 says that they lie in one plane: k − 3
//! equations. To first order Wᵀ z does not feel the plane's own move, so that the plane is no unknown. A plane that
//! may not tilt (level), or about the vertical only (plumb), leaves more of Rᵏ; parallel planes share their tilts.

use nalgebra::{DVector, Matrix2, Matrix3, Vector3, Vector4};

/// Which way planes may turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Turn {
    /// Any way.
    Free,
    /// Vertical planes: about the vertical only.
    Plumb,
    /// Level planes.
    Level,
}

/// Points in parallel planes, most often in one.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Flat {
    /// The points of each plane.
    pub(super) planes: Vec<Vec<usize>>,
    pub(super) turn: Turn,
}

/// One equation: Σ aₖ xₖ has the value `off`, and should have 0. Unknown 3 p + i is coordinate i of point p.
pub(super) struct Row {
    pub(super) terms: Vec<(usize, f64)>,
    pub(super) off: f64,
}

/// A column adds nothing to the span of others if less than this share of it is left.
const DEPENDENT: f64 = 1.0e-9;

impl Flat {
    /// Points of one plane that may turn any way.
    pub(super) fn one(points: &[usize]) -> Self {
        Self { planes: vec![points.to_vec()], turn: Turn::Free }
    }

    /// The common normal of the planes that fit best.
    pub(super) fn normal(&self, x: &DVector<f64>) -> Vector3<f64> {
        let mut spread = Matrix3::<f64>::zeros();
        for plane in &self.planes {
            let middle = middle(x, plane);
            for &p in plane {
                let d = at(x, p) - middle;
                spread += d * d.transpose();
            }
        }
        match self.turn {
            Turn::Level => Vector3::z(),
            Turn::Free => least(&spread),
            Turn::Plumb => {
                let flat = Matrix2::new(spread[(0, 0)], spread[(0, 1)], spread[(1, 0)], spread[(1, 1)]);
                let eigen = flat.symmetric_eigen();
                let k = usize::from(eigen.eigenvalues[1] < eigen.eigenvalues[0]);
                Vector3::new(eigen.eigenvectors[(0, k)], eigen.eigenvectors[(1, k)], 0.0)
            }
        }
    }

    /// The equations at x.
    pub(super) fn rows(&self, x: &DVector<f64>) -> Vec<Row> {
        if let ([four], Turn::Free) = (self.planes.as_slice(), self.turn)
            && let [a, b, c, d] = four[..]
        {
            return vec![self.row_of_four(x, [a, b, c, d])];
        }
        let normal = self.normal(x);
        let count = self.planes.iter().map(Vec::len).sum();
        let mut off = DVector::zeros(count);
        let mut points = Vec::with_capacity(count);
        let across = across(&normal);
        let tilts: &[Vector3<f64>] = match self.turn {
            Turn::Free => &across,
            Turn::Plumb => &[Vector3::z().cross(&normal)],
            Turn::Level => &[],
        };
        let mut taken: Vec<DVector<f64>> = Vec::new();
        let mut columns = vec![DVector::zeros(count); tilts.len()];
        for plane in &self.planes {
            let (middle, first) = (middle(x, plane), points.len());
            for &p in plane {
                let (d, k) = (at(x, p) - middle, points.len());
                off[k] = normal.dot(&d);
                for (column, tilt) in columns.iter_mut().zip(tilts) {
                    column[k] = tilt.dot(&d);
                }
                points.push(p);
            }
            let shift = DVector::from_fn(count, |k, _| f64::from(u8::from(k >= first && k < points.len())));
            take(&mut taken, shift);
        }
        for column in columns {
            take(&mut taken, column);
        }
        rest(&taken, count)
            .into_iter()
            .map(|w| Row {
                terms: (0..count)
                    .filter(|&k| w[k] != 0.0)
                    .flat_map(|k| (0..3).map(move |i| (k, i)))
                    .map(|(k, i)| (3 * points[k] + i, w[k] * normal[i]))
                    .filter(|(_, a)| *a != 0.0)
                    .collect(),
                off: w.dot(&off),
            })
            .collect()
    }
}

impl Flat {
    /// The one equation of four points: W has the signed areas of the triangles the others make.
    fn row_of_four(&self, x: &DVector<f64>, four: [usize; 4]) -> Row {
        let normal = self.normal(x);
        let p = four.map(|p| at(x, p));
        let area = |a: usize, b: usize, c: usize| (p[b] - p[a]).cross(&(p[c] - p[a])).dot(&normal);
        let w = Vector4::new(area(1, 2, 3), -area(0, 2, 3), area(0, 1, 3), -area(0, 1, 2));
        let w = w.try_normalize(0.0).unwrap_or_else(|| Vector4::new(0.5, -0.5, 0.5, -0.5));
        let mut terms = Vec::with_capacity(12);
        for (k, &point) in four.iter().enumerate() {
            terms.extend((0..3).map(|i| (3 * point + i, w[k] * normal[i])));
        }
        Row { terms, off: (1..4).map(|k| w[k] * normal.dot(&(p[k] - p[0]))).sum() }
    }
}

/// Coordinates of a point.
pub(super) fn at(x: &DVector<f64>, point: usize) -> Vector3<f64> {
    Vector3::new(x[3 * point], x[3 * point + 1], x[3 * point + 2])
}

/// The middle of some points.
pub(super) fn middle(x: &DVector<f64>, points: &[usize]) -> Vector3<f64> {
    #[allow(clippy::cast_precision_loss, reason = "a count of points")]
    let count = points.len().max(1) as f64;
    points.iter().map(|&p| at(x, p)).sum::<Vector3<f64>>() / count
}

/// The direction in which points spread least; its largest component is above 0.
pub(super) fn least(spread: &Matrix3<f64>) -> Vector3<f64> {
    let eigen = spread.symmetric_eigen();
    let k = eigen.eigenvalues.imin();
    let n = eigen.eigenvectors.column(k).into_owned().normalize();
    if n[n.iamax()] < 0.0 { -n } else { n }
}

/// Two unit vectors square to a unit normal and to each other.
pub(super) fn across(normal: &Vector3<f64>) -> [Vector3<f64>; 2] {
    let mut along = Vector3::zeros();
    along[normal.iamin()] = 1.0;
    let u = normal.cross(&along).normalize();
    [u, normal.cross(&u)]
}

/// Adds what is new in a column to an orthonormal set.
fn take(taken: &mut Vec<DVector<f64>>, column: DVector<f64>) {
    let length = column.norm();
    if let Some(new) = beside(taken, column).filter(|new| new.norm() > DEPENDENT * length) {
        let again = beside(taken, new.normalize()).map(|v| v.normalize());
        taken.extend(again);
    }
}

fn beside(taken: &[DVector<f64>], mut column: DVector<f64>) -> Option<DVector<f64>> {
    for t in taken {
        let share = t.dot(&column);
        column.axpy(-share, t, 1.0);
    }
    (column.norm() > 0.0).then_some(column)
}

/// An orthonormal basis of what an orthonormal set leaves, from the axes most of which is left.
fn rest(taken: &[DVector<f64>], count: usize) -> Vec<DVector<f64>> {
    let mut all = taken.to_vec();
    while all.len() < count {
        let axis = |k: usize| DVector::from_fn(count, |i, _| f64::from(u8::from(i == k)));
        let left = |k: usize| 1.0 - all.iter().map(|t| t[k] * t[k]).sum::<f64>();
        let Some(k) = (0..count).max_by(|&a, &b| left(a).total_cmp(&left(b)).then(b.cmp(&a))) else { break };
        take(&mut all, axis(k));
    }
    all.split_off(taken.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(of: &[[f64; 3]]) -> DVector<f64> {
        DVector::from_iterator(3 * of.len(), of.iter().flatten().copied())
    }

    #[test]
    fn as_many_equations_as_points_beside_the_moves_of_the_planes() {
        let x = points(&[
            [0.0, 0.0, 0.1],
            [10.0, 0.0, -0.1],
            [10.0, 8.0, 0.1],
            [0.0, 8.0, -0.1],
            [1.0, 0.5, 5.0],
            [9.0, 0.0, 5.2],
            [4.0, 7.0, 5.0],
        ]);
        let (a, b) = (vec![0, 1, 2, 3], vec![4, 5, 6]);
        for (planes, turn, want) in [
            (vec![a.clone()], Turn::Free, 1),
            (vec![b.clone()], Turn::Free, 0),
            (vec![a.clone()], Turn::Level, 3),
            (vec![a.clone()], Turn::Plumb, 2),
            (vec![a.clone(), b.clone()], Turn::Free, 3),
        ] {
            let flat = Flat { planes, turn };
            let rows = flat.rows(&x);
            assert_eq!(rows.len(), want, "{flat:?}");
            // A move of all planes together is not felt.
            let n = flat.normal(&x);
            for row in &rows {
                let felt: f64 = row.terms.iter().map(|&(k, c)| c * n[k % 3]).sum();
                assert!(felt.abs() < 1e-12, "{flat:?} feels a shift by {felt}");
            }
        }
        // Corners alternately 0.1 above and below: a hyperbolic square, √4 × 0.1 off.
        let off = Flat::one(&a).rows(&x)[0].off;
        assert!((off.abs() - 0.2).abs() < 1e-3, "{off}");
    }

    /// The terms are the derivatives of `off`: central differences, also where the face is far from flat.
    #[test]
    fn terms_are_derivatives() {
        let x = points(&[[0.0, 0.0, 0.0], [10.0, 1.0, 0.001], [11.0, 9.0, 0.0], [0.0, 8.0, 0.001]]);
        let flat = Flat::one(&[0, 1, 2, 3]);
        let row = &flat.rows(&x)[0];
        for k in 0..x.len() {
            let step = |by: f64| {
                let mut y = x.clone();
                y[k] += by;
                // The sign of the normal and of W is free; near here it stays.
                flat.rows(&y)[0].off
            };
            let slope = (step(1e-5) - step(-1e-5)) / 2e-5;
            let want = row.terms.iter().find(|(i, _)| *i == k).map_or(0.0, |(_, a)| *a);
            assert!((slope - want).abs() < 1e-3, "coordinate {k}: {slope}, not {want}");
        }
    }
}
