//! One linear adjustment: unknowns, their covariance, residuals, redundancy numbers.
//!
//! Method: normal equations N = Aᵀ P A, scaled to a unit diagonal and factored by Cholesky. A free network has a
//! singular N; with the columns of G spanning what is free (made orthonormal), its inner-constraint solution is
//! x = Q Aᵀ P l with Q = (N + G Gᵀ)⁻¹ − G Gᵀ, the one of least trace (P. Meissl, "Die innere Genauigkeit eines
//! Punkthaufens", 1962, from memory).

use crate::error::{Error, Result};
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// One observation: l + v = Σ aₖ xₖ.
#[derive(Debug, Clone, PartialEq)]
pub struct Observation {
    /// Numbers of the unknowns it depends on, each with its factor a.
    pub terms: Vec<(usize, f64)>,
    /// What was observed, l.
    pub value: f64,
    /// Its standard deviation σ, in the unit of `value`; above 0.
    pub deviation: f64,
}

/// What holds the unknowns in place.
#[derive(Debug, Clone, PartialEq)]
pub enum Datum {
    /// The observations themselves: every unknown is determined by them.
    Observed,
    /// Inner constraints: the columns are moves that no observation notices.
    Inner(DMatrix<f64>),
}

/// What an adjustment gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Adjustment {
    /// The unknowns x.
    pub unknowns: DVector<f64>,
    /// Their covariance where the stated deviations are true (σ0 = 1).
    pub covariance: DMatrix<f64>,
    /// Residual of each observation: adjusted less observed, v.
    pub residuals: Vec<f64>,
    /// Redundancy number of each, from 0 (nothing else speaks of it) to 1: the share of an error in it that
    /// appears in its own residual.
    pub redundancy: Vec<f64>,
    /// Observations less unknowns that were determined: the sum of `redundancy`.
    pub degrees: usize,
    /// Σ (v/σ)².
    pub weighted_squares: f64,
}

/// A pivot of the normal equations, scaled to a unit diagonal, below this has lost all but a few of its digits:
/// the unknown is not determined. A larger value would refuse flat networks that can still be solved.
const LEAST_PIVOT: f64 = 1.0e-13;

impl Adjustment {
    /// Standard deviation of unit weight a posteriori, √(Σ (v/σ)² / degrees); none without redundancy. Near 1
    /// where the stated deviations are true.
    pub fn s0(&self) -> Option<f64> {
        #[allow(clippy::cast_precision_loss, reason = "a count of readings")]
        let degrees = self.degrees as f64;
        (self.degrees > 0).then(|| (self.weighted_squares / degrees).sqrt())
    }

    /// Standard deviation of an unknown where the stated deviations are true.
    pub fn deviation(&self, unknown: usize) -> f64 {
        self.covariance[(unknown, unknown)].max(0.0).sqrt()
    }
}

/// Finds the unknowns for which Σ (v/σ)² is least.
///
/// # Errors
/// A deviation that is not above 0, a number that is not finite, an unknown that does not exist, or one that the
/// observations do not determine.
pub fn adjust(unknowns: usize, observations: &[Observation], datum: &Datum) -> Result<Adjustment> {
    check(unknowns, observations)?;
    let mut normal = DMatrix::<f64>::zeros(unknowns, unknowns);
    let mut right = DVector::<f64>::zeros(unknowns);
    for o in observations {
        let weight = o.deviation.powi(-2);
        for &(i, a) in &o.terms {
            right[i] += a * weight * o.value;
            for &(k, b) in &o.terms {
                normal[(i, k)] += a * weight * b;
            }
        }
    }
    let free = match datum {
        Datum::Observed => DMatrix::zeros(unknowns, 0),
        Datum::Inner(moves) => orthonormal(moves)?,
    };
    // On the scale of the weights, so that neither part drowns the other.
    #[allow(clippy::cast_precision_loss, reason = "a count of unknowns")]
    let scale = (normal.trace() / unknowns.max(1) as f64).max(f64::MIN_POSITIVE);
    let held = &free * free.transpose();
    let factor = factor(&(&normal + &held * scale))?;
    let mut covariance = factor.inverse();
    covariance -= held / scale;
    let solution = &covariance * right;
    let mut residuals = Vec::with_capacity(observations.len());
    let mut redundancy = Vec::with_capacity(observations.len());
    let mut weighted_squares = 0.0;
    for o in observations {
        let v = o.terms.iter().map(|&(i, a)| a * solution[i]).sum::<f64>() - o.value;
        let variance = quadratic(&covariance, &o.terms, &o.terms);
        residuals.push(v);
        redundancy.push((1.0 - variance / (o.deviation * o.deviation)).clamp(0.0, 1.0));
        weighted_squares += (v / o.deviation).powi(2);
    }
    let degrees = (observations.len() + free.ncols()).saturating_sub(unknowns);
    Ok(Adjustment { unknowns: solution, covariance, residuals, redundancy, degrees, weighted_squares })
}

/// aᵀ Q b for sparse a and b.
pub(super) fn quadratic(q: &DMatrix<f64>, a: &[(usize, f64)], b: &[(usize, f64)]) -> f64 {
    a.iter().map(|&(i, x)| b.iter().map(|&(k, y)| x * q[(i, k)] * y).sum::<f64>()).sum()
}

fn check(unknowns: usize, observations: &[Observation]) -> Result<()> {
    for (index, o) in observations.iter().enumerate() {
        let finite = o.value.is_finite() && o.terms.iter().all(|(_, a)| a.is_finite());
        if !finite || !o.deviation.is_finite() || o.deviation <= 0.0 {
            return Err(Error::input(format!(
                "observation {} of {} ± {} cannot be used (allowed: finite, with a standard deviation above 0)",
                index + 1,
                o.value,
                o.deviation
            )));
        }
        if let Some((k, _)) = o.terms.iter().find(|(k, _)| *k >= unknowns) {
            return Err(Error::bug(format!("observation {} names the unknown {k} of {unknowns}", index + 1)));
        }
    }
    Ok(())
}

/// Cholesky's factor of a matrix, found on its correlation-like scaling.
struct Factor {
    cholesky: Cholesky<f64, Dyn>,
    scale: DVector<f64>,
}

fn factor(matrix: &DMatrix<f64>) -> Result<Factor> {
    let undetermined = |k: usize| {
        Error::input(format!("unknown {} is not determined by the observations", k + 1))
            .remedy("add readings that fix it, or hold the figure by inner constraints")
    };
    let scale = matrix.diagonal().map(f64::sqrt);
    if let Some(k) = (0..scale.len()).find(|&k| scale[k].is_nan() || scale[k] <= 0.0) {
        return Err(undetermined(k));
    }
    let scaled =
        DMatrix::from_fn(matrix.nrows(), matrix.ncols(), |i, k| matrix[(i, k)] / scale[i] / scale[k]);
    let cholesky = Cholesky::new(scaled).ok_or_else(|| undetermined(0))?;
    let pivots = cholesky.l_dirty().diagonal().map(|x| x * x);
    match (0..pivots.len()).find(|&k| pivots[k] < LEAST_PIVOT) {
        Some(k) => Err(undetermined(k)),
        None => Ok(Factor { cholesky, scale }),
    }
}

impl Factor {
    fn inverse(&self) -> DMatrix<f64> {
        let inverse = self.cholesky.inverse();
        DMatrix::from_fn(inverse.nrows(), inverse.ncols(), |i, k| {
            inverse[(i, k)] / self.scale[i] / self.scale[k]
        })
    }
}

/// Columns that span the same, orthonormal.
fn orthonormal(moves: &DMatrix<f64>) -> Result<DMatrix<f64>> {
    if moves.ncols() > moves.nrows() {
        return Err(Error::input("the points are too few to be held by inner constraints"));
    }
    let q = moves.clone().qr();
    let r = q.r();
    let largest = r.diagonal().amax();
    if r.diagonal().iter().any(|x| x.abs() <= DEPENDENT * largest) {
        return Err(Error::input("the points coincide or lie in line: their moves cannot be told apart"));
    }
    Ok(q.q())
}

/// Moves count as the same if they differ by less than this share: points in line, up to rounding.
const DEPENDENT: f64 = 1.0e-9;

#[cfg(test)]
mod tests {
    use super::*;

    fn observation(terms: &[(usize, f64)], value: f64, deviation: f64) -> Observation {
        Observation { terms: terms.to_vec(), value, deviation }
    }

    /// Closed form: the weighted mean, its variance 1 / Σ p, and redundancy 1 − p / Σ p.
    #[test]
    fn repeated_readings_give_the_weighted_mean() {
        let readings = [(10.0, 0.5), (10.6, 1.0), (9.7, 0.25)];
        let observations: Vec<_> = readings.iter().map(|&(l, s)| observation(&[(0, 1.0)], l, s)).collect();
        let found = adjust(1, &observations, &Datum::Observed).unwrap();
        let weights: f64 = readings.iter().map(|(_, s)| s.powi(-2)).sum();
        let mean = readings.iter().map(|(l, s)| l * s.powi(-2)).sum::<f64>() / weights;
        assert!((found.unknowns[0] - mean).abs() < 1e-14);
        assert!((found.deviation(0) - weights.powf(-0.5)).abs() < 1e-15);
        for (r, (l, s)) in found.redundancy.iter().zip(readings) {
            assert!((r - (1.0 - s.powi(-2) / weights)).abs() < 1e-14, "reading {l}");
        }
        assert_eq!(found.degrees, 2);
    }

    /// Closed form: the regression line through evenly spaced points, with r = 1 − 1/n − (x − x̄)² / Σ (x − x̄)².
    #[test]
    fn a_line_has_the_redundancy_of_the_textbook() {
        let observations: Vec<_> = (0..5)
            .map(|k| observation(&[(0, 1.0), (1, f64::from(k))], [1.0, 3.1, 4.9, 7.0, 9.2][k as usize], 0.1))
            .collect();
        let found = adjust(2, &observations, &Datum::Observed).unwrap();
        for (k, r) in found.redundancy.iter().enumerate() {
            let x = k as f64 - 2.0;
            assert!((r - (1.0 - 0.2 - x * x / 10.0)).abs() < 1e-13);
        }
        assert!((found.unknowns[1] - 2.03).abs() < 1e-12, "slope {}", found.unknowns[1]);
        assert!((found.redundancy.iter().sum::<f64>() - 3.0).abs() < 1e-12 && found.degrees == 3);
    }

    #[test]
    fn what_nothing_determines_is_refused() {
        let both =
            [observation(&[(0, 1.0), (1, 1.0)], 2.0, 1.0), observation(&[(0, 2.0), (1, 2.0)], 4.0, 1.0)];
        assert!(adjust(2, &both, &Datum::Observed).unwrap_err().to_string().contains("not determined"));
        assert!(adjust(2, &both[..1], &Datum::Observed).is_err());
        for wrong in [(f64::NAN, 1.0), (1.0, 0.0), (1.0, f64::INFINITY), (1.0, -1.0)] {
            let one = [observation(&[(0, 1.0)], wrong.0, wrong.1)];
            assert!(adjust(1, &one, &Datum::Observed).is_err(), "{wrong:?}");
        }
        // Heights of three points from their differences alone: free by one shift.
        let loops = [
            observation(&[(0, -1.0), (1, 1.0)], 1.0, 1.0),
            observation(&[(1, -1.0), (2, 1.0)], 2.0, 1.0),
            observation(&[(2, -1.0), (0, 1.0)], -3.3, 1.0),
        ];
        assert!(adjust(3, &loops, &Datum::Observed).is_err());
        let inner = Datum::Inner(DMatrix::from_element(3, 1, 7.0));
        let found = adjust(3, &loops, &inner).unwrap();
        assert!(found.unknowns.sum().abs() < 1e-12, "the mean stays where it was");
        assert_eq!(found.degrees, 1);
        // The misclosure of 0.3 is shared out evenly.
        assert!(found.residuals.iter().all(|v| (v - 0.1).abs() < 1e-12), "{:?}", found.residuals);
    }
}
