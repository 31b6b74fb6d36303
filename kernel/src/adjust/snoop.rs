//! Data snooping: which observations cannot be what they say.
//!
//! Method: W. Baarda, "A testing procedure for use in geodetic networks", 1968. The standardised residual is
//! w = −v / (σ √r); beyond ±k the observation with the largest is set aside and the rest adjusted anew, one at a
//! time. Where the deviations are not known beforehand, v / (s0 σ √r) is compared with Pope's τ instead. The
//! error of an observation that is set aside is estimated as −v / r, and the least error that would be found with
//! probability 0.80 is δ0 σ / √r.

use super::linear::{Adjustment, Datum, Observation, adjust, quadratic};
use super::quantile::{critical_tau, critical_w, least_shift};
use crate::error::Result;

/// Whether the stated standard deviations are true or only in proportion.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// True: Baarda's w.
    Known,
    /// In proportion, their common factor estimated from the residuals: Pope's τ.
    Estimated,
}

/// How to test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Test {
    /// How often a good observation may be flagged, for each one.
    pub alpha: f64,
    /// What the stated deviations are worth.
    pub scale: Scale,
}

/// An observation that was set aside.
#[derive(Debug, Clone, PartialEq)]
pub struct Flag {
    /// Its number in the list of observations.
    pub observation: usize,
    /// Its standardised residual when it was set aside; above 0 where the observation is too large.
    pub w: f64,
    /// Its redundancy number then.
    pub redundancy: f64,
    /// Estimate of its error: observed less true.
    pub error: f64,
    /// Others whose residuals say the same, so that the misreading may as well be theirs.
    pub or_else: Vec<usize>,
}

/// What is left, and what was set aside.
#[derive(Debug, Clone, PartialEq)]
pub struct Snooped {
    /// The adjustment of the observations that were kept, but with residuals and redundancy of all: those of
    /// observations set aside are against the others, with redundancy 0.
    pub adjustment: Adjustment,
    /// In the order they were set aside.
    pub flags: Vec<Flag>,
    /// Standardised residual of each observation that was kept, 0 for those nothing else speaks of.
    pub w: Vec<f64>,
    /// The least error of each observation that would be found with probability 0.80; none where no error would.
    pub least_found: Vec<Option<f64>>,
}

/// The probability `least_found` is stated for: Baarda's own choice.
const POWER: f64 = 0.80;
/// Redundancy below this is none: rounding decides what is seen.
const LEAST_REDUNDANCY: f64 = 1.0e-6;
/// Residuals more alike than this tell the same: neither observation can be blamed alone.
const ALIKE: f64 = 0.999;

/// Sets observations aside one at a time until none of the `testable` ones is beyond the critical value.
///
/// # Errors
/// As [`adjust`].
pub fn snoop(
    unknowns: usize,
    observations: &[Observation],
    datum: &Datum,
    testable: impl Fn(usize) -> bool,
    test: Test,
) -> Result<Snooped> {
    let mut kept: Vec<usize> = (0..observations.len()).collect();
    let mut flags: Vec<Flag> = Vec::new();
    loop {
        let chosen: Vec<Observation> = kept.iter().map(|&i| observations[i].clone()).collect();
        let found = adjust(unknowns, &chosen, datum)?;
        let (w, suspect) = suspect(&found, &chosen, |i| testable(kept[i]), test);
        let Some(flag) = suspect else { return Ok(finish(observations, &kept, found, &w, flags, test)) };
        let at = flag.observation;
        let or_else = flag.or_else.iter().map(|&k| kept[k]).collect();
        flags.push(Flag { observation: kept[at], or_else, ..flag });
        kept.remove(at);
    }
}

/// The standardised residual of each observation of an adjustment, and the worst of the `testable` ones if it is
/// beyond the critical value: the one to set aside next.
pub fn suspect(
    found: &Adjustment,
    observations: &[Observation],
    testable: impl Fn(usize) -> bool,
    test: Test,
) -> (Vec<f64>, Option<Flag>) {
    let scale = match test.scale {
        Scale::Known => 1.0,
        Scale::Estimated => found.s0().unwrap_or(0.0),
    };
    let w: Vec<f64> = (0..observations.len()).map(|i| standardised(found, observations, i, scale)).collect();
    let critical = match test.scale {
        Scale::Known => Some(critical_w(test.alpha)),
        Scale::Estimated => critical_tau(test.alpha, found.degrees).ok(),
    };
    let worst = (0..observations.len())
        .filter(|&i| testable(i) && found.redundancy[i] > LEAST_REDUNDANCY)
        .max_by(|&a, &b| w[a].abs().total_cmp(&w[b].abs()).then(b.cmp(&a)));
    let flag = match (worst, critical) {
        (Some(i), Some(critical)) if w[i].abs() > critical => Some(Flag {
            observation: i,
            w: w[i],
            redundancy: found.redundancy[i],
            error: -found.residuals[i] / found.redundancy[i],
            or_else: alike(found, observations, i).into_iter().filter(|&k| testable(k)).collect(),
        }),
        _ => None,
    };
    (w, flag)
}

fn standardised(found: &Adjustment, chosen: &[Observation], i: usize, scale: f64) -> f64 {
    let r = found.redundancy[i];
    // Where all residuals are 0 nothing stands out.
    let of = scale * chosen[i].deviation * r.sqrt();
    if r > LEAST_REDUNDANCY && of > 0.0 { -found.residuals[i] / of } else { 0.0 }
}

/// Observations whose standardised residuals are (all but) the same as that of number `i`.
fn alike(found: &Adjustment, chosen: &[Observation], i: usize) -> Vec<usize> {
    let one = &chosen[i];
    (0..chosen.len())
        .filter(|&k| k != i && found.redundancy[k] > LEAST_REDUNDANCY)
        .filter(|&k| {
            let other = &chosen[k];
            let together = -quadratic(&found.covariance, &one.terms, &other.terms);
            let scale = one.deviation * other.deviation * (found.redundancy[i] * found.redundancy[k]).sqrt();
            (together / scale).abs() > ALIKE
        })
        .collect()
}

fn finish(
    observations: &[Observation],
    kept: &[usize],
    found: Adjustment,
    kept_w: &[f64],
    flags: Vec<Flag>,
    test: Test,
) -> Snooped {
    let mut redundancy = vec![0.0; observations.len()];
    let mut w = vec![0.0; observations.len()];
    let mut least_found = vec![None; observations.len()];
    let shift = least_shift(test.alpha, POWER);
    let scale = if test.scale == Scale::Known { 1.0 } else { found.s0().unwrap_or(1.0) };
    for (k, &i) in kept.iter().enumerate() {
        let r = found.redundancy[k];
        (redundancy[i], w[i]) = (r, kept_w[k]);
        least_found[i] = (r > LEAST_REDUNDANCY).then(|| shift * scale * observations[i].deviation / r.sqrt());
    }
    let residual =
        |o: &Observation| o.terms.iter().map(|&(i, a)| a * found.unknowns[i]).sum::<f64>() - o.value;
    let residuals = observations.iter().map(residual).collect();
    Snooped { adjustment: Adjustment { residuals, redundancy, ..found }, flags, w, least_found }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(values: &[f64]) -> Vec<Observation> {
        values
            .iter()
            .enumerate()
            .map(|(k, &value)| Observation { terms: vec![(0, 1.0), (1, k as f64)], value, deviation: 0.1 })
            .collect()
    }

    const KNOWN: Test = Test { alpha: 0.001, scale: Scale::Known };

    #[test]
    fn a_misreading_is_named_with_its_size_and_set_aside() {
        let mut values: Vec<f64> = [1.02, 2.99, 5.01, 6.98, 9.01, 11.0, 13.02, 14.98].to_vec();
        values[3] += 5.0;
        values[6] -= 2.0;
        for test in [KNOWN, Test { alpha: 0.01, scale: Scale::Estimated }] {
            let found = snoop(2, &line(&values), &Datum::Observed, |_| true, test).unwrap();
            let named: Vec<usize> = found.flags.iter().map(|f| f.observation).collect();
            assert_eq!(named, [3, 6], "{test:?}");
            assert!((found.flags[1].error + 2.0).abs() < 0.05 && found.flags[1].w < 0.0);
            assert!((found.adjustment.unknowns[1] - 2.0).abs() < 0.01);
            assert!((found.adjustment.residuals[3] + 5.0).abs() < 0.05, "against the others");
            assert!(found.flags.iter().all(|f| f.or_else.is_empty()));
        }
        // One that may not be tested stays.
        let found = snoop(2, &line(&values), &Datum::Observed, |i| i != 3, KNOWN).unwrap();
        assert!(found.flags.iter().all(|f| f.observation != 3));
    }

    #[test]
    fn three_points_of_a_line_cannot_say_which_of_them_is_wrong() {
        let found = snoop(2, &line(&[0.0, 3.0, 0.0]), &Datum::Observed, |_| true, KNOWN).unwrap();
        assert_eq!(found.flags.len(), 1);
        let mut all = found.flags[0].or_else.clone();
        all.push(found.flags[0].observation);
        all.sort_unstable();
        assert_eq!(all, [0, 1, 2]);
        // And two leave nothing to test at all.
        let found = snoop(2, &line(&[0.0, 3.0]), &Datum::Observed, |_| true, KNOWN).unwrap();
        assert!(found.flags.is_empty() && found.least_found == [None, None]);
    }

    /// Closed form: the middle of five points of a line has r = 0.8, so that ∇ = 4.1321480 σ / √0.8.
    #[test]
    fn the_least_error_that_is_found_is_the_closed_form() {
        let found = snoop(2, &line(&[0.0, 1.0, 2.0, 3.0, 4.0]), &Datum::Observed, |_| true, KNOWN).unwrap();
        let least = found.least_found[2].unwrap();
        assert!((least - 0.413_214_80 / 0.8_f64.sqrt()).abs() < 1e-7, "{least}");
    }
}
