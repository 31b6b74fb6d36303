//! Points from distances between them, in the plane or in space.
//!
//! Where points are held, the others are found relative to them. Where none is, the network is free: it is held
//! by inner constraints, which leave the middle of the figure and its mean turn as they were in the start values
//! (3 degrees of freedom in the plane, 6 in space; distances fix the scale). Distances never tell a figure from
//! its mirror image; where a single point hangs on held ones, both minima are compared.

use super::linear::{Adjustment, Datum, Observation};
use super::newton::{Settled, settle};
use super::quantile::chi_squared;
use crate::error::{Error, Result};
use nalgebra::{DMatrix, DVector, Matrix3, Vector3};

/// A measured distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leg {
    /// Number of the point it begins at.
    pub from: usize,
    /// Number of the point it ends at.
    pub to: usize,
    /// Its length, mm (or any unit, the same throughout).
    pub length: f64,
    /// Standard deviation of the length.
    pub deviation: f64,
}

/// Points and the distances between them.
#[derive(Debug, Clone, PartialEq)]
pub struct Network {
    /// 2 (z is left alone) or 3.
    pub dimension: usize,
    /// Where the points are held or guessed to be.
    pub points: Vec<[f64; 3]>,
    /// Which points are held.
    pub held: Vec<bool>,
    /// The distances.
    pub legs: Vec<Leg>,
}

/// A network, adjusted.
#[derive(Debug, Clone, PartialEq)]
pub struct NetworkFit {
    /// The points.
    pub points: Vec<[f64; 3]>,
    /// Residuals, redundancy numbers and covariance; unknowns are the coordinates of points that are not held,
    /// in order.
    pub adjustment: Adjustment,
    /// Ratio of the best to the worst determined direction of all unknowns together; see [`Self::is_weak`].
    pub condition: f64,
    /// A second minimum, the mirror image of a point that hangs on held ones, with its s0.
    pub mirror: Option<(Vec<[f64; 3]>, f64)>,
}

/// A condition above this makes the worst direction fifty times as uncertain as the best: millimetre readings
/// give it to some centimetres. Well-braced figures stay under 20.
const WEAK: f64 = 50.0;

impl NetworkFit {
    /// Whether some direction is hardly determined: the figure is nearly flat, in line, or badly braced.
    pub fn is_weak(&self) -> bool {
        self.condition.is_nan() || self.condition > WEAK
    }

    /// Whether the residuals are as small as the stated deviations promise, with probability 1 − `alpha` (the
    /// global test, one-sided χ²); without redundancy nothing can be said and it passes.
    pub fn is_plausible(&self, alpha: f64) -> bool {
        chi_squared(1.0 - alpha, self.adjustment.degrees)
            .map_or(true, |limit| self.adjustment.weighted_squares <= limit)
    }
}

impl Network {
    /// Adjusts it from its own points as start values. Where the mirror image of a single hanging point is the
    /// better minimum, that one is given.
    ///
    /// # Errors
    /// A leg to nowhere or of no length, points that the legs do not determine, no minimum.
    pub fn adjust(&self) -> Result<NetworkFit> {
        self.check()?;
        let mut best = self.from(&self.points)?;
        if let Some(start) = self.mirrored(&best.points) {
            // A mirror image without a minimum of its own is no rival.
            if let Ok(mut other) = self.from(&start)
                && self.apart(&best.points, &other.points)
            {
                if other.adjustment.weighted_squares < best.adjustment.weighted_squares {
                    std::mem::swap(&mut best, &mut other);
                }
                let s0 = other.adjustment.s0().unwrap_or(0.0);
                best.mirror = Some((other.points, s0));
            }
        }
        Ok(best)
    }

    fn check(&self) -> Result<()> {
        if self.dimension != 2 && self.dimension != 3 || self.held.len() != self.points.len() {
            return Err(Error::bug(
                "a network of distances is in the plane or in space, every point held or not",
            ));
        }
        for leg in &self.legs {
            if leg.from.max(leg.to) >= self.points.len() || leg.from == leg.to {
                return Err(Error::input(format!("a leg runs from point {} to point {}", leg.from, leg.to)));
            }
            if !leg.length.is_finite() || leg.length <= 0.0 {
                return Err(Error::input(format!(
                    "the leg from point {} to point {} is {} long",
                    leg.from, leg.to, leg.length
                )));
            }
        }
        let held = self.held.iter().filter(|h| **h).count();
        let needed = self.dimension;
        if held > 0 && held < needed && self.points.len() > needed {
            return Err(Error::input(format!("{held} held points leave the figure free to turn"))
                .remedy(format!("hold at least {needed} points, or none for a free network")));
        }
        Ok(())
    }

    fn from(&self, start: &[[f64; 3]]) -> Result<NetworkFit> {
        let free: Vec<usize> = (0..self.points.len()).filter(|&p| !self.held[p]).collect();
        let mut place = vec![None; self.points.len()];
        for (k, &p) in free.iter().enumerate() {
            place[p] = Some(k * self.dimension);
        }
        let x0 = DVector::from_iterator(
            free.len() * self.dimension,
            free.iter().flat_map(|&p| start[p][..self.dimension].iter().copied()),
        );
        let at = |x: &DVector<f64>, p: usize| {
            let mut point = start[p];
            if let Some(k) = place[p] {
                for i in 0..self.dimension {
                    point[i] = x[k + i];
                }
            }
            point
        };
        let linear = |x: &DVector<f64>| {
            self.legs
                .iter()
                .map(|leg| {
                    let (a, b) = (at(x, leg.from), at(x, leg.to));
                    let d: Vec<f64> = (0..self.dimension).map(|i| b[i] - a[i]).collect();
                    let length = d.iter().map(|c| c * c).sum::<f64>().sqrt();
                    if length == 0.0 {
                        return Err(Error::input(format!("points {} and {} coincide", leg.from, leg.to))
                            .remedy("begin with guesses that lie apart"));
                    }
                    let mut terms = Vec::with_capacity(2 * self.dimension);
                    for (end, sign) in [(leg.from, -1.0), (leg.to, 1.0)] {
                        if let Some(k) = place[end] {
                            terms.extend((0..self.dimension).map(|i| (k + i, sign * d[i] / length)));
                        }
                    }
                    Ok(Observation { terms, value: leg.length - length, deviation: leg.deviation })
                })
                .collect::<Result<Vec<_>>>()
        };
        let is_free = !self.held.contains(&true);
        let datum = |x: &DVector<f64>| if is_free { Datum::Inner(self.moves(x)) } else { Datum::Observed };
        let Settled { unknowns, adjustment, .. } = settle(x0, linear, datum)?;
        let points = (0..self.points.len()).map(|p| at(&unknowns, p)).collect();
        let observations = linear(&unknowns)?;
        let defect = if is_free { self.dimension * (self.dimension + 1) / 2 } else { 0 };
        let condition = condition(unknowns.len(), &observations, defect);
        Ok(NetworkFit { points, adjustment, condition, mirror: None })
    }

    /// Shifts and turns of the whole figure about its middle.
    fn moves(&self, x: &DVector<f64>) -> DMatrix<f64> {
        let d = self.dimension;
        let count = x.len() / d;
        #[allow(clippy::cast_precision_loss, reason = "a count of points")]
        let middle: Vec<f64> =
            (0..d).map(|i| (0..count).map(|p| x[p * d + i]).sum::<f64>() / count.max(1) as f64).collect();
        let size = (0..x.len()).map(|k| (x[k] - middle[k % d]).abs()).fold(0.0, f64::max);
        let turns: &[[usize; 2]] = if d == 2 { &[[0, 1]] } else { &[[0, 1], [1, 2], [2, 0]] };
        let mut moves = DMatrix::zeros(x.len(), d + turns.len());
        for p in 0..count {
            let from_middle = |i: usize| (x[p * d + i] - middle[i]) / size.max(f64::MIN_POSITIVE);
            for i in 0..d {
                moves[(p * d + i, i)] = 1.0;
            }
            for (k, &[a, b]) in turns.iter().enumerate() {
                moves[(p * d + a, d + k)] = -from_middle(b);
                moves[(p * d + b, d + k)] = from_middle(a);
            }
        }
        moves
    }

    /// Start values on the other side of the held points, where one single point hangs on them.
    fn mirrored(&self, points: &[[f64; 3]]) -> Option<Vec<[f64; 3]>> {
        let free: Vec<usize> = (0..points.len()).filter(|&p| !self.held[p]).collect();
        let &[one] = free.as_slice() else { return None };
        let held: Vec<Vector3<f64>> =
            (0..points.len()).filter(|&p| self.held[p]).map(|p| Vector3::from(points[p])).collect();
        #[allow(clippy::cast_precision_loss, reason = "a count of points")]
        let middle = held.iter().sum::<Vector3<f64>>() / held.len() as f64;
        let spread: Matrix3<f64> = held.iter().map(|p| (p - middle) * (p - middle).transpose()).sum();
        let eigen = spread.symmetric_eigen();
        // The line or plane that fits them best; in the plane z takes no part.
        let normal = (0..3)
            .filter(|&k| self.dimension == 3 || eigen.eigenvectors[(2, k)].abs() < IN_PLANE)
            .min_by(|&a, &b| eigen.eigenvalues[a].total_cmp(&eigen.eigenvalues[b]))?;
        let normal = eigen.eigenvectors.column(normal).into_owned();
        let p = Vector3::from(points[one]);
        let other = p - normal * (2.0 * (p - middle).dot(&normal));
        let mut start = points.to_vec();
        start[one] = other.into();
        Some(start)
    }

    fn apart(&self, a: &[[f64; 3]], b: &[[f64; 3]]) -> bool {
        let least = self.legs.iter().map(|l| l.deviation).fold(f64::INFINITY, f64::min);
        a.iter().zip(b).any(|(p, q)| (Vector3::from(*p) - Vector3::from(*q)).norm() > least)
    }
}

/// A direction whose share along z is below this lies in the plane.
const IN_PLANE: f64 = 0.5;

/// Ratio of the largest to the least singular value of the weighted design, leaving out what is free.
fn condition(unknowns: usize, observations: &[Observation], defect: usize) -> f64 {
    let mut design = DMatrix::<f64>::zeros(observations.len().max(unknowns), unknowns);
    for (row, o) in observations.iter().enumerate() {
        for &(k, a) in &o.terms {
            design[(row, k)] += a / o.deviation;
        }
    }
    let mut values: Vec<f64> = design.singular_values().iter().copied().collect();
    values.sort_by(f64::total_cmp);
    match (values.get(defect), values.last()) {
        (Some(least), Some(most)) if *least > 0.0 => most / least,
        _ => f64::INFINITY,
    }
}

#[cfg(test)]
mod tests;
