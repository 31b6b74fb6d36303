//! One linear adjustment: unknowns, their covariance, residuals, redundancy numbers.
//!
//! Method: normal equations N = Aᵀ P A, scaled to a unit diagonal and factored by Cholesky within the band that N
//! fills, so that unknowns numbered along a sheet cost little more than their covariance. A free network has a
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

    /// Takes out one of the observations it was made of: as the adjustment of the others, up to rounding.
    /// The observation must have redundancy, or the others do not determine the unknowns.
    pub(super) fn take_out(&mut self, observations: &mut Vec<Observation>, index: usize) {
        let o = observations.remove(index);
        let v = self.residuals.remove(index);
        self.redundancy.remove(index);
        // Q a, and σ² − aᵀ Q a.
        let mut gain = DVector::<f64>::zeros(self.unknowns.len());
        for &(k, a) in &o.terms {
            gain.axpy(a, &self.covariance.column(k), 1.0);
        }
        let seen: f64 = o.terms.iter().map(|&(k, a)| a * gain[k]).sum();
        let left = o.deviation * o.deviation - seen;
        self.covariance.ger(1.0 / left, &gain, &gain, 1.0);
        self.unknowns.axpy(v / left, &gain, 1.0);
        self.weighted_squares = 0.0;
        for (k, other) in observations.iter().enumerate() {
            let v = other.terms.iter().map(|&(i, a)| a * self.unknowns[i]).sum::<f64>() - other.value;
            let variance = quadratic(&self.covariance, &other.terms, &other.terms);
            self.residuals[k] = v;
            self.redundancy[k] = (1.0 - variance / (other.deviation * other.deviation)).clamp(0.0, 1.0);
            self.weighted_squares += (v / other.deviation).powi(2);
        }
        self.degrees = self.degrees.saturating_sub(1);
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
    let (normal, right) = normal(unknowns, observations);
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

/// Normal equations of the observations: Aᵀ P A, and Aᵀ P l.
pub(crate) fn normal(unknowns: usize, observations: &[Observation]) -> (DMatrix<f64>, DVector<f64>) {
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
    (normal, right)
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
    lower: DMatrix<f64>,
    scale: DVector<f64>,
    /// How far below the diagonal the matrix, and so its factor, has numbers.
    band: usize,
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
    let band = band_of(&scaled);
    let lower = lower(scaled, band).map_err(undetermined)?;
    match (0..scale.len()).find(|&k| lower[(k, k)] * lower[(k, k)] < LEAST_PIVOT) {
        Some(k) => Err(undetermined(k)),
        None => Ok(Factor { lower, scale, band }),
    }
}

/// How far below the diagonal a symmetric matrix has numbers other than 0.
fn band_of(matrix: &DMatrix<f64>) -> usize {
    let size = matrix.nrows();
    let below = |k: usize| (k..size).rev().find(|&i| matrix[(i, k)] != 0.0).map_or(0, |i| i - k);
    (0..size).map(below).max().unwrap_or(0)
}

/// The lower factor, column by column within the band; the number of a pivot that is not above 0. What the matrix
/// holds above the diagonal stays there.
fn lower(mut matrix: DMatrix<f64>, band: usize) -> std::result::Result<DMatrix<f64>, usize> {
    let size = matrix.nrows();
    for k in 0..size {
        let end = (k + band + 1).min(size);
        let (before, column) = matrix.as_mut_slice().split_at_mut(k * size);
        for j in k.saturating_sub(band)..k {
            let of = &before[j * size..][k..(j + band + 1).min(size)];
            let by = of[0];
            if by != 0.0 {
                // Whole slices, which the compiler takes several numbers at a time.
                column[k..k + of.len()].iter_mut().zip(of).for_each(|(x, y)| *x -= by * y);
            }
        }
        let pivot = column[k];
        if pivot.is_nan() || pivot <= 0.0 {
            return Err(k);
        }
        let root = pivot.sqrt();
        column[k] = root;
        column[k + 1..end].iter_mut().for_each(|x| *x /= root);
    }
    Ok(matrix)
}

/// Cholesky's factor of a full matrix, nalgebra's own to the last bit; none where it is not positive. Its columns are slices,
/// quick however the compiler parts the program: nalgebra's takes three times as long where its inner loop is not taken in.
pub(crate) fn cholesky(matrix: DMatrix<f64>) -> Option<Cholesky<f64, Dyn>> {
    let band = matrix.nrows();
    lower(matrix, band).ok().map(Cholesky::pack_dirty)
}

impl Factor {
    /// Column by column: L y = e, then Lᵀ x = y, each within the band. Symmetry gives what lies above the diagonal.
    fn inverse(&self) -> DMatrix<f64> {
        let (lower, size, band) = (&self.lower, self.scale.len(), self.band);
        let below = |i: usize| &lower.as_slice()[i * size..][i + 1..(i + band + 1).min(size)];
        let mut inverse = DMatrix::zeros(size, size);
        let mut column = vec![0.0; size];
        for k in 0..size {
            column[k..].fill(0.0);
            column[k] = 1.0;
            for i in k..size {
                let below = below(i);
                column[i] /= lower[(i, i)];
                let y = column[i];
                column[i + 1..].iter_mut().zip(below).for_each(|(x, l)| *x -= l * y);
            }
            for i in (k..size).rev() {
                let known: f64 = below(i).iter().zip(&column[i + 1..]).map(|(l, x)| l * x).sum();
                column[i] = (column[i] - known) / lower[(i, i)];
            }
            for i in k..size {
                let x = column[i] / self.scale[i] / self.scale[k];
                inverse[(i, k)] = x;
                inverse[(k, i)] = x;
            }
        }
        inverse
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

    /// Second method: nalgebra's factor of positive, near-singular and indefinite matrices, and what it solves.
    #[test]
    fn factors_are_those_of_nalgebra_to_the_last_bit() {
        let mut state = 0.37_f64;
        let mut next = || {
            state = (state * 997.0 + 0.618).fract();
            state - 0.5
        };
        let mut refused = 0;
        for round in 0..300 {
            let size = 1 + round % 40;
            let rows = DMatrix::from_fn(size + 3 - round % 5, size, |i, k| {
                if (i + 3 * k) % 4 == 0 { 0.0 } else { next() * 10.0_f64.powi((k % 7) as i32 - 3) }
            });
            let matrix = rows.transpose() * &rows;
            let right = DVector::from_fn(size, |_, _| next());
            match (cholesky(matrix.clone()), Cholesky::new(matrix)) {
                (Some(ours), Some(theirs)) => {
                    assert_eq!(ours.solve(&right), theirs.solve(&right), "round {round}");
                    assert_eq!(ours.l(), theirs.l(), "round {round}");
                }
                (None, None) => refused += 1,
                (ours, _) => panic!(
                    "round {round}: only {} factors it",
                    if ours.is_some() { "ours" } else { "theirs" }
                ),
            }
        }
        assert!((20..200).contains(&refused), "{refused} of 300");
    }

    /// Second method: the inverse by nalgebra's Cholesky, for a narrow and a full matrix.
    #[test]
    fn the_covariance_within_a_band_is_the_inverse() {
        for (size, reach) in [(40, 3_usize), (17, 16), (1, 0)] {
            let mut observations: Vec<_> =
                (0..size).map(|k| observation(&[(k, 1.0)], (k as f64).sin(), 0.5 + (k % 3) as f64)).collect();
            for k in 0..size {
                for j in k + 1..(k + reach + 1).min(size) {
                    observations.push(observation(&[(k, 1.0), (j, -0.7)], 0.1, 0.3 + (j % 5) as f64));
                }
            }
            let mut normal = DMatrix::<f64>::zeros(size, size);
            for o in &observations {
                for &(i, a) in &o.terms {
                    o.terms.iter().for_each(|&(k, b)| normal[(i, k)] += a * b / o.deviation.powi(2));
                }
            }
            let inverse = Cholesky::new(normal).expect("positive").inverse();
            let mut found = adjust(size, &observations, &Datum::Observed).unwrap();
            assert!((&found.covariance - inverse).amax() < 1e-13, "{size}");
            // Taking one out is as good as never having had it.
            if size > 1 {
                let out = observations.len() / 2;
                found.take_out(&mut observations, out);
                let without = adjust(size, &observations, &Datum::Observed).unwrap();
                assert!((&found.covariance - &without.covariance).amax() < 1e-13);
                assert!((&found.unknowns - &without.unknowns).amax() < 1e-13);
                assert!((found.weighted_squares - without.weighted_squares).abs() < 1e-12);
                assert_eq!(found.degrees, without.degrees);
                for (a, b) in found.redundancy.iter().zip(&without.redundancy) {
                    assert!((a - b).abs() < 1e-13);
                }
            }
        }
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
