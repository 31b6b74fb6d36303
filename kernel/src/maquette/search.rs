//! All figures that fit the readings of a net: the best, and its rivals.

use super::net::{From, Net, descend};
use super::place::placed;
use super::rigid::is_rigid;
use super::start::{GUESSES, completed, either_way_up, flips, improved, start};
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
/// Guesses made beside, where distances alone may allow other figures.
const MORE_GUESSES: u64 = 8;
/// Nets of more points are large: each guess takes long, and this many have to do.
const LARGE: usize = 40;
const FEW_GUESSES: u64 = 12;
/// A minimum is no rival where Σ (v/σ)² after a first descent is beyond this multiple of what may pass.
const HOPELESS: f64 = 30.0;

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
/// Figures from which parts are folded over.
const MOST_FOLDED: usize = 4;
/// The same where distances alone may allow other figures.
const MANY_FOLDED: usize = 5;

/// What the search met.
pub(super) struct Found {
    /// Minima of different shape, the lowest first.
    pub(super) minima: Vec<Minimum>,
    /// Whether there are no others, in general.
    pub(super) proven: bool,
    /// Whether points were placed in all ways there are: no figure was overlooked.
    pub(super) complete: bool,
}

/// Seeks all figures that fit; `hard` does not stop at the first that is met time and again.
pub(super) fn seek(net: &Net, hard: bool) -> Found {
    let mut found: Vec<(Minimum, usize)> = Vec::new();
    let fits = |(x, value): &Minimum| *value <= net.limit(x, &[], LOOSELY);
    let placing = placed(net);
    let complete = placing.complete;
    for x in &placing.figures {
        add(net, &mut found, either_way_up(net, x, &[]));
    }
    if complete && found.iter().any(|(m, _)| fits(m)) {
        return Found { minima: found.into_iter().map(|(m, _)| m).collect(), proven: true, complete };
    }
    for guess in 0..COMPLETIONS {
        for (x, placed) in &placing.unfinished {
            add(net, &mut found, either_way_up(net, &completed(net, x, placed, guess), &[]));
        }
        if guess + 1 >= FEW_COMPLETIONS && found.iter().any(|(m, _)| fits(m)) {
            break;
        }
    }
    // Where points lack readings, those are asked for.
    let few = net.count() > LARGE || !complete;
    let most = if few { FEW_GUESSES } else { GUESSES };
    let mut next = 0;
    let mut proven = false;
    while next < most && !found.first().is_some_and(|(m, _)| fits(m)) {
        add(net, &mut found, start(net, next, &[]));
        next += 1;
        let (best, met) = &found[0];
        if !hard && next >= LEAST_GUESSES && *met >= MEETINGS && !fits(best) {
            proven = is_rigid(net, &best.0);
            if proven {
                break;
            }
        }
    }
    if fits(&found[0].0) && is_loose(net, &found) {
        // A figure may lie in a plane by chance, and look loose; a few more tell.
        for guess in next..next + LOOSE_GUESSES {
            add(net, &mut found, start(net, guess, &[]));
        }
        next += LOOSE_GUESSES;
        if is_loose(net, &found) {
            return Found { minima: found.into_iter().map(|(m, _)| m).collect(), proven, complete };
        }
    }
    fold(net, &mut found, MOST_FOLDED);
    proven |= is_rigid(net, &found[0].0.0);
    if !proven {
        let more = if net.count() > LARGE { FEW_GUESSES } else { MORE_GUESSES };
        for guess in next..next + more {
            add(net, &mut found, start(net, guess, &[]));
        }
        fold(net, &mut found, MANY_FOLDED);
    }
    Found { minima: found.into_iter().map(|(m, _)| m).collect(), proven, complete }
}

/// Ways in which unfinished figures are completed at most, and at least.
const COMPLETIONS: u64 = 6;
const FEW_COMPLETIONS: u64 = 3;

/// Whether all figures that fit have free moves.
fn is_loose(net: &Net, found: &[(Minimum, usize)]) -> bool {
    let fits = |(x, value): &Minimum| *value <= net.limit(x, &[], LOOSELY);
    found.iter().filter(|(m, _)| fits(m)).all(|((x, _), _)| !net.free_moves(x, &[]).is_empty())
}

/// Guesses made beside where the first that fits is loose.
const LOOSE_GUESSES: u64 = 3;

/// Folds parts over from the best figure and from all that fit, until nothing new is met.
fn fold(net: &Net, found: &mut Vec<(Minimum, usize)>, most: usize) {
    let mut done: Vec<DVector<f64>> = Vec::new();
    while done.len() < most {
        let best = found[0].0.1;
        let next = found
            .iter()
            .map(|(m, _)| m)
            .filter(|(x, value)| *value <= best || *value <= net.limit(x, &[], LOOSELY))
            .find(|(x, _)| !done.iter().any(|y| same(x, y, |_| SAME * net.size)))
            .map(|(x, _)| x.clone());
        let Some(x) = next else { return };
        for y in flips(net, &x) {
            if let Some(minimum) = folded(net, &y, best, found) {
                add(net, found, minimum);
            }
        }
        done.push(x);
    }
}

/// Figures other than x that pass the test as x does.
pub(super) fn rivals(net: &Net, x: &DVector<f64>) -> Vec<Minimum> {
    let mut found = vec![((x.clone(), 0.0), 1)];
    let placing = placed(net);
    for y in &placing.figures {
        add(net, &mut found, either_way_up(net, y, &[]));
    }
    if !placing.complete {
        for y in flips(net, x) {
            if let Some(minimum) = folded(net, &y, 0.0, &found) {
                add(net, &mut found, minimum);
            }
        }
        if !is_rigid(net, x) && net.count() <= LARGE {
            for guess in 0..RIVAL_GUESSES {
                add(net, &mut found, start(net, guess, &[]));
            }
        }
    }
    let fits = |(y, value): &Minimum| *value <= net.limit(y, &[], LOOSELY);
    found.into_iter().map(|(m, _)| m).filter(|m| fits(m) && !same(x, &m.0, |_| SAME * net.size)).collect()
}

/// Guesses made to find a rival of a figure that is known.
const RIVAL_GUESSES: u64 = 6;

/// Steps of the descent that tells whether folding a part over can fit at all.
const FIRST_STEPS: usize = 12;

/// Figures that come so near to a known one, as a share of the size, on their way down end there.
const COMES_BACK: f64 = 0.01;

/// The minimum of a figure with a part folded over; none where it is far from fitting, or comes back to a known one.
fn folded(net: &Net, y: &DVector<f64>, best: f64, found: &[(Minimum, usize)]) -> Option<Minimum> {
    let soft = |x: &DVector<f64>| net.observations(x, net.flat.max(0.01 * net.size), &[]).0;
    let (x, value) = descend(net.raised(y), soft, FIRST_STEPS);
    let most = HOPELESS * net.limit(&x, &[], LOOSELY).max(best).max(1.0);
    let back = || found.iter().any(|((z, _), _)| same(&x, z, |_| COMES_BACK * net.size));
    (value <= most && !back()).then(|| improved(net, &x, &[]))
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
