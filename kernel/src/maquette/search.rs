//! All figures that fit the readings of a net: the best, and its rivals.

use super::net::{From, Net, descend};
use super::start::{GUESSES, flips, improved, start};
use crate::adjust::{Datum, chi_squared};
use nalgebra::DVector;

pub(super) use super::start::Minimum;

/// Guesses made at least where none fits: the lowest minimum should be met more than once.
const LEAST_GUESSES: u64 = 10;
/// How often the lowest minimum is met before it is believed, where none fits.
const MEETINGS: usize = 3;
/// Figures are the same if no distance differs by more than this share of the size.
const SAME: f64 = 1.0e-4;
/// Without redundancy a figure fits if Σ (v/σ)² is below this, for each reading: rounding.
const ROUNDING: f64 = 1.0e-6;
/// Rounds of folding over from a new best figure.
const ROUNDS: usize = 4;
/// A minimum is no rival where Σ (v/σ)² after a first descent is beyond this multiple of what may pass.
const HOPELESS: f64 = 1.0e4;

/// Distance between two points of x.
pub(super) fn length(x: &DVector<f64>, [a, b]: [usize; 2]) -> f64 {
    (super::flat::at(x, a) - super::flat::at(x, b)).norm()
}

/// Whether two figures have the same distances, to within `within` each.
pub(super) fn same(x: &DVector<f64>, y: &DVector<f64>, within: impl Fn([usize; 2]) -> f64) -> bool {
    let n = x.len() / 3;
    (0..n).all(|a| (0..a).all(|b| (length(x, [a, b]) - length(y, [a, b])).abs() <= within([a, b])))
}

impl Net {
    /// Observations less unknowns that are determined, at x; below 0 where some are not.
    pub(super) fn degrees(&self, x: &DVector<f64>, aside: &[From]) -> i64 {
        let observed = self.observations(x, self.flat, aside).0.len();
        let free = match self.datum(x, aside) {
            Datum::Observed => 0,
            Datum::Inner(moves) => moves.ncols(),
        };
        observed as i64 + free as i64 - x.len() as i64
    }

    /// The largest Σ (v/σ)² that passes the global test at level `alpha`.
    #[allow(clippy::cast_precision_loss, reason = "a count of readings")]
    pub(super) fn limit(&self, x: &DVector<f64>, aside: &[From], alpha: f64) -> f64 {
        let degrees = usize::try_from(self.degrees(x, aside)).unwrap_or(0);
        let rounding = ROUNDING * (self.legs.len() + self.heights.len()) as f64;
        chi_squared(1.0 - alpha, degrees).unwrap_or(0.0).max(rounding)
    }
}

/// The level of the global test when figures are sought: stricter ones are taken up later.
const LOOSELY: f64 = 1.0e-4;

/// Minima of different shape, the lowest first; its rivals are those that pass the test, and what else was met.
pub(super) fn minima(net: &Net) -> Vec<Minimum> {
    let mut found: Vec<(Minimum, usize)> = Vec::new();
    for guess in 0..GUESSES {
        add(net, &mut found, start(net, guess, &[]));
        let ((x, value), met) = &found[0];
        let fits = *value <= net.limit(x, &[], LOOSELY);
        if fits || guess + 1 >= LEAST_GUESSES && *met >= MEETINGS {
            break;
        }
    }
    for _ in 0..ROUNDS {
        let best = found[0].0.clone();
        for y in flips(net, &best.0) {
            if let Some(minimum) = folded(net, &y) {
                add(net, &mut found, minimum);
            }
        }
        if found[0].0.1 >= best.1 * (1.0 - SAME) {
            break;
        }
    }
    found.into_iter().map(|(minimum, _)| minimum).collect()
}

/// Figures other than x that pass the test as x does.
pub(super) fn rivals(net: &Net, x: &DVector<f64>) -> Vec<Minimum> {
    let mut found = vec![((x.clone(), 0.0), 1)];
    for y in flips(net, x) {
        if let Some(minimum) = folded(net, &y) {
            add(net, &mut found, minimum);
        }
    }
    let fits = |(y, value): &Minimum| *value <= net.limit(y, &[], LOOSELY);
    found.into_iter().map(|(m, _)| m).filter(|m| fits(m) && !same(x, &m.0, |_| SAME * net.size)).collect()
}

/// Steps of the descent that tells whether folding a part over can fit at all.
const FIRST_STEPS: usize = 8;

/// The minimum of a figure with a part folded over; none where it is far from fitting.
fn folded(net: &Net, y: &DVector<f64>) -> Option<Minimum> {
    let soft = |x: &DVector<f64>| net.observations(x, net.flat.max(0.01 * net.size), &[]).0;
    let (x, value) = descend(net.raised(y), soft, FIRST_STEPS);
    (value <= HOPELESS * net.limit(&x, &[], LOOSELY).max(1.0)).then(|| improved(net, &x, &[]))
}

fn add(net: &Net, found: &mut Vec<(Minimum, usize)>, new: Minimum) {
    let known = found.iter().position(|((x, _), _)| same(x, &new.0, |_| SAME * net.size));
    match known {
        Some(k) => {
            found[k].1 += 1;
            if new.1 < found[k].0.1 {
                found[k].0 = new;
            }
        }
        None => found.push((new, 1)),
    }
    found.sort_by(|a, b| a.0.1.total_cmp(&b.0.1));
}
