//! Adjustment of observations that are not linear, by Gauss–Newton with damping.
//!
//! Each step solves the linearised adjustment; a step that makes Σ (v/σ)² larger is halved until it does not.
//! It ends at a minimum near the start, not always the lowest: see [`super::Network`] for mirror images.

use super::linear::{Adjustment, Datum, Observation, adjust};
use crate::error::{Error, Result};
use nalgebra::DVector;

/// Where the steps ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Settled {
    /// The unknowns.
    pub unknowns: DVector<f64>,
    /// The last linear adjustment; its own unknowns are the last corrections, (all but) 0.
    pub adjustment: Adjustment,
    /// How many steps it took.
    pub steps: usize,
}

/// Most steps: good starts settle in under ten, far ones were seen to need forty.
const MOST_STEPS: usize = 200;
/// Halvings of one step before it counts as no step at all.
const MOST_HALVINGS: usize = 40;
/// Corrections below this share of their standard deviations change nothing.
const SETTLED: f64 = 1.0e-9;
/// A step that takes off less than this share of Σ (v/σ)² ends the search: where the residuals are large, as at a
/// wrong minimum, the last steps gain ever less.
const NOTHING_GAINED: f64 = 1.0e-13;
/// Corrections below this share of the largest unknown are rounding.
const ROUNDING: f64 = 1.0e-14;

/// Repeats the adjustment of `linear(x)` (with values observed less computed) from `start` until x settles.
///
/// # Errors
/// As [`adjust`]; no minimum within 200 steps.
pub fn settle(
    start: DVector<f64>,
    linear: impl Fn(&DVector<f64>) -> Result<Vec<Observation>>,
    datum: impl Fn(&DVector<f64>) -> Datum,
) -> Result<Settled> {
    let squares = |observations: &[Observation]| -> f64 {
        observations.iter().map(|o| (o.value / o.deviation).powi(2)).sum()
    };
    let mut x = start;
    let mut observations = linear(&x)?;
    for steps in 0..MOST_STEPS {
        let found = adjust(x.len(), &observations, &datum(&x))?;
        let moves = (0..x.len()).map(|k| found.unknowns[k].abs());
        let limit = ROUNDING * x.amax();
        if moves.enumerate().all(|(k, m)| m <= (SETTLED * found.deviation(k)).max(limit)) {
            return Ok(Settled { unknowns: x, adjustment: found, steps });
        }
        let before = squares(&observations);
        let mut step = found.unknowns.clone();
        let mut taken = None;
        for _ in 0..MOST_HALVINGS {
            let next = &x + &step;
            let there = linear(&next)?;
            if squares(&there) <= before {
                taken = Some((next, there));
                break;
            }
            step *= 0.5;
        }
        // No step helps: the minimum, as far as rounding shows it.
        let Some((next, there)) = taken else {
            return Ok(Settled { unknowns: x, adjustment: found, steps });
        };
        let gained = before - squares(&there);
        (x, observations) = (next, there);
        if gained <= NOTHING_GAINED * before {
            let adjustment = adjust(x.len(), &observations, &datum(&x))?;
            return Ok(Settled { unknowns: x, adjustment, steps });
        }
    }
    Err(Error::input(format!("the adjustment does not settle within {MOST_STEPS} steps"))
        .remedy("begin with better guesses, or add readings where the figure is weak"))
}
