//! Measured points: start values, adjustment, tests, or the refusal of what the readings do not settle.
//!
//! Every part of the maquette that hangs together is a network in space: distances, heights and angles are
//! observations, and so is that the corners of a face lie in one plane, within a stated deviation. It is free but
//! for what heights hold (see [`crate::adjust`]): coordinates, their precision and the ellipsoids are relative to
//! the middle of the part and its mean turn (inner constraints), residuals and tests depend on no such choice. To
//! compare with true corners, lay them over the solved ones by least squares in the moves left free: six without
//! heights, shifts across and the turn about the vertical with three heights or more.

use super::convex;
use super::flat::at;
use super::net::{From as Made, Net, descend, settled, thickness};
use super::options::Options;
use super::place;
use super::readings::{Readings, Source, whence};
use super::refuse::{self, Refusal, Wanted, Why};
use super::search::{self, Minimum};
use super::stand::{laid, mirrored, turned, upright};
use crate::adjust::{Adjustment, Datum, Observation, Scale, Test, chi_squared, least_shift, suspect};
use crate::error::Error;
use nalgebra::{DVector, Matrix3, Point3, Vector3};

/// Most points of a maquette.
pub const MOST_POINTS: usize = 120;
/// Most readings of a maquette.
pub const MOST_READINGS: usize = 6_000;

/// A point, solved.
#[derive(Debug, Clone, PartialEq)]
pub struct SolvedPoint {
    /// Its name.
    pub name: String,
    /// Where it is, mm on the maquette; z up.
    pub at: Point3<f64>,
    /// Its covariance where the stated deviations are true, mm².
    pub covariance: Matrix3<f64>,
    /// Semi-axes of its 95 % ellipsoid, mm, the longest first, each along the column of `directions`.
    pub axes: [f64; 3],
    /// Unit vectors of the axes.
    pub directions: Matrix3<f64>,
    /// The part it belongs to, index into [`Solved::parts`].
    pub part: usize,
    /// Whether it is hardly determined.
    pub weak: bool,
}

/// What a reading measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Measured {
    /// Index into [`Readings::distances`].
    Distance(usize),
    /// Index into [`Readings::heights`].
    Height(usize),
    /// Index into [`Readings::angles`].
    Angle(usize),
}

/// A reading against the solved points. Lengths in mm, angles in radians.
#[derive(Debug, Clone, PartialEq)]
pub struct Checked {
    /// Which reading.
    pub of: Measured,
    /// In words: `distance P1 to P2`.
    pub name: String,
    /// Where it comes from.
    pub source: Source,
    /// As read.
    pub read: f64,
    /// Its stated standard deviation.
    pub deviation: f64,
    /// Solved less read.
    pub residual: f64,
    /// Redundancy number, 0 (nothing else speaks of it) to 1; that it had when set aside, where it was.
    pub redundancy: f64,
    /// Standardised residual; that it had when set aside, where it was.
    pub w: f64,
    /// The least misreading that would be found 4 times out of 5; none where none would.
    pub least_found: Option<f64>,
    /// A misreading: set aside, to be taken again.
    pub flagged: bool,
    /// Others (indices into [`Solved::readings`]) that may be the misreading instead.
    pub or_else: Vec<usize>,
}

/// A part of the maquette that hangs together.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Its points, by index.
    pub points: Vec<usize>,
    /// Degrees of freedom, of all readings.
    pub degrees: usize,
    /// Σ (v/σ)² of what was kept.
    pub weighted_squares: f64,
    /// Degrees of freedom of what was kept.
    pub kept_degrees: usize,
    /// The largest Σ (v/σ)² that passes the global test; none without redundancy.
    pub limit: Option<f64>,
    /// Whether heights say which way is up.
    pub level: bool,
    /// The face it was laid on instead, by index.
    pub laid_on: Option<usize>,
    /// Another figure fits too, but is not convex.
    pub not_convex: bool,
    /// Whether the distances alone allow this figure only; else many other starts found no other.
    pub proven: bool,
    /// The distance not yet measured that would help most, by points, with the worst standard deviation of a point
    /// (root of the sum of its three variances) as it is and with that distance, mm.
    pub helps: Option<([usize; 2], [f64; 2])>,
    /// Where the ellipsoids promise too much: how far off the worst point of a figure lies that fits about as well, mm,
    /// and the reading that would tell it apart, where one is left to take.
    pub near: Option<(f64, Option<Wanted>)>,
    /// Where it is not proven: distances not yet measured, by points, with which every point could be placed one by one,
    /// and another figure not be overlooked.
    pub proves: Vec<[usize; 2]>,
}

impl Part {
    /// Standard deviation of unit weight of what was kept; none without redundancy.
    #[allow(clippy::cast_precision_loss, reason = "a count of readings")]
    pub fn s0(&self) -> Option<f64> {
        (self.kept_degrees > 0).then(|| (self.weighted_squares / self.kept_degrees as f64).sqrt())
    }

    /// Whether the residuals are as small as the stated deviations promise.
    pub fn is_plausible(&self) -> bool {
        self.limit.is_none_or(|limit| self.weighted_squares <= limit)
    }
}

/// Points of a maquette, solved.
#[derive(Debug, Clone, PartialEq)]
pub struct Solved {
    /// The points, in the order of the readings.
    pub points: Vec<SolvedPoint>,
    /// Distances, heights and angles against them.
    pub readings: Vec<Checked>,
    /// Parts that hang together; more than one stand side by side, their places to each other unknown.
    pub parts: Vec<Part>,
}

impl Solved {
    /// Distance between two of its points (their indices), mm on the maquette.
    pub fn between(&self, a: usize, b: usize) -> f64 {
        (self.points[a].at - self.points[b].at).norm()
    }
}

/// Solves the points of a maquette.
///
/// # Errors
/// Readings that leave points loose, that fit figures of different shape, or that do not tell the figure from its
/// mirror image: the refusal lists readings that would settle it. Readings that contradict themselves.
pub fn solve(readings: &Readings, options: &Options) -> Result<Solved, Box<Refusal>> {
    check(readings)?;
    let nets = Net::all(readings, options.flat);
    let mut parts = Vec::with_capacity(nets.len());
    for net in &nets {
        let done = match part(net, readings, options, false) {
            // What seems to contradict itself may only not have been found.
            Err(refusal) if refusal.why == Why::Wrong => part(net, readings, options, true),
            done => done,
        };
        parts.push(done.map_err(|refusal| refuse::misspelt(readings, refusal))?);
    }
    Ok(together(readings, &nets, parts))
}

fn check(readings: &Readings) -> Result<(), Error> {
    let count = readings.distances.len() + readings.heights.len() + readings.angles.len();
    for (found, most, what) in
        [(readings.points.len(), MOST_POINTS, "points"), (count, MOST_READINGS, "readings")]
    {
        if found > most {
            return Err(Error::input(format!("{found} {what} are more than the {most} allowed"))
                .remedy("solve the maquette in parts: one file per element"));
        }
    }
    if readings.points.is_empty() || readings.distances.is_empty() {
        return Err(Error::input("nothing was measured").remedy("add distances between the corners"));
    }
    let usable = |value: f64, deviation: f64| value.is_finite() && deviation.is_finite() && deviation > 0.0;
    let all = readings.distances.iter().map(|d| (d.length, d.deviation, d.length > 0.0, &d.source));
    let all = all.chain(readings.heights.iter().map(|h| (h.height, h.deviation, true, &h.source)));
    let straight = std::f64::consts::PI;
    let all = all.chain(
        readings
            .angles
            .iter()
            .map(|a| (a.angle, a.deviation, a.angle > 0.0 && a.angle < straight, &a.source)),
    );
    for (value, deviation, positive, source) in all {
        if !usable(value, deviation) || !positive {
            return Err(Error::input(format!("the reading {value} ± {deviation} cannot be used"))
                .at(whence(source))
                .remedy("give a length above 0 and a standard deviation above 0"));
        }
    }
    let known = readings.points.len();
    let named = readings.distances.iter().flat_map(|d| d.between);
    let named = named.chain(readings.heights.iter().map(|h| h.point));
    let named = named.chain(readings.angles.iter().flat_map(|a| [a.at, a.to[0], a.to[1]]));
    let named = named.chain(readings.faces.iter().flat_map(|f| f.corners.iter().copied()));
    let named = named.chain(readings.outside.iter().flatten().copied());
    match named.max() {
        Some(p) if p >= known => Err(Error::bug(format!("a reading names point {p} of {known}"))),
        _ => Ok(()),
    }
}

/// One part, solved.
struct Done {
    x: DVector<f64>,
    adjustment: Adjustment,
    w: Vec<f64>,
    least_found: Vec<Option<f64>>,
    from: Vec<Made>,
    flags: Vec<Flagged>,
    part: Part,
}

struct Flagged {
    of: Made,
    w: f64,
    redundancy: f64,
    residual: f64,
    or_else: Vec<Made>,
}

/// A figure whose 95 % semi-axes reach this share of its size is not settled at all: what is linear no longer holds.
const SHAKY: f64 = 0.1;
/// 95 % of a normal distribution in space lie within this distance squared: χ² with 3 degrees of freedom.
const WITHIN: f64 = 0.95;
/// Of figures that do not pass, those within this multiple of the lowest Σ (v/σ)² are asked for their misreadings.
const NEAR: f64 = 30.0;
/// And so many at most.
const MOST_ASKED: usize = 4;
/// A figure this thin, as a share of its size, is its own mirror image.
const THIN: f64 = 1.0e-9;
/// Distances of two figures differ if by more than this many standard deviations.
const APART: f64 = 2.0;

fn part(net: &Net, readings: &Readings, options: &Options, hard: bool) -> Result<Done, Box<Refusal>> {
    let names = &readings.points;
    if net.count() < 3 {
        let called = refuse::listed(net.points.iter().map(|&p| names[p].as_str()));
        let verb = if net.count() == 1 { "hangs" } else { "hang" };
        let error = Error::input(format!("{called} {verb} on nothing else"));
        let error = error.remedy("measure distances to other points, or check the spelling of the name");
        let points = net.points.clone();
        return Err(Box::new(Refusal { why: Why::Loose, points, wanted: Vec::new(), error }));
    }
    let outside = convex::triples(net, readings)?;
    let missing = outside.is_empty().then(|| convex::three(net));
    let search::Found { mut minima, proven, complete } = search::seek(net, hard);
    let lowest = minima[0].0.clone();
    let mirror = missing.filter(|_| net.count() > 3);
    // A figure may be folded into a plane by chance: the one that is held best tells what is missing.
    let passing = minima.iter().filter(|(x, value)| *value <= net.limit(x, &[], options.alpha));
    let held = passing.map(|(x, _)| (net.free_moves(x, &[]), x)).min_by_key(|(free, _)| free.len());
    let (free, at) = held.unwrap_or_else(|| (net.free_moves(&lowest, &[]), &lowest));
    if !free.is_empty() {
        return Err(refuse::loose(net, at, &free, names, mirror));
    }
    // Figures that an "outside" row contradicts are none; that a figure without misreadings is contradicted tells that
    // the rows are wrong.
    let fits = |(x, value): &Minimum| *value <= net.limit(x, &[], options.alpha);
    let right = |(x, _): &Minimum| convex::hand(&outside, x).is_some();
    if !minima.iter().any(right) || minima.iter().any(fits) && !minima.iter().any(|m| fits(m) && right(m)) {
        if !complete && let Some(refusal) = refuse::unfound(net, names, mirror) {
            return Err(refusal);
        }
        return Err(convex::contradiction(net, &outside, &lowest, names).into());
    }
    minima.retain(right);
    let (x, aside, not_convex) = match choose(net, readings, options, minima, mirror) {
        Err(refusal) if refusal.why == Why::Wrong && !complete => {
            return Err(refuse::unfound(net, names, mirror).unwrap_or(refusal));
        }
        chosen => chosen?,
    };
    let solid = thickness(&x) > THIN && net.count() > 3;
    if let (true, Some(three)) = (solid, missing) {
        return Err(refuse::hand(net, three, names));
    }
    let x = if convex::hand(&outside, &x) == Some(convex::Hand::Mirror) { mirrored(&x) } else { x };
    let level = net.is_level(&x, &aside);
    let (x, laid_on) =
        if level { (upright(net, &outside, x, &aside, names)?, None) } else { laid(net, readings, &x) };
    let standing = turned(net, readings, &x);
    let Ok(mut done) = finish(net, standing.clone(), options) else {
        return Err(refuse::shaky(net, &standing, net.size, names));
    };
    let worst = (0..net.count()).map(|p| axes(&done.adjustment, p).0[0]).fold(0.0, f64::max);
    if worst > SHAKY * net.size {
        return Err(refuse::shaky(net, &done.x, worst, names));
    }
    done.part.proven = proven;
    if !proven {
        done.part.proves = place::lacking(net).into_iter().map(|pair| pair.map(|p| net.points[p])).collect();
    }
    done.part.not_convex = not_convex;
    done.part.level = level;
    done.part.laid_on = laid_on;
    Ok(done)
}

/// The figure that the readings mean, and what is set aside for it; the flag says that another fits that is not
/// convex.
fn choose(
    net: &Net,
    readings: &Readings,
    options: &Options,
    minima: Vec<Minimum>,
    mirror: Option<[usize; 3]>,
) -> Result<(DVector<f64>, Vec<Made>, bool), Box<Refusal>> {
    let names = &readings.points;
    let fits = |(x, value): &Minimum| *value <= net.limit(x, &[], options.alpha);
    let mut passing: Vec<(Minimum, Vec<Made>)> =
        minima.iter().filter(|m| fits(m)).map(|m| (m.clone(), Vec::new())).collect();
    if passing.is_empty() {
        // A misreading, then: the figure that needs the fewest, if they explain it at all.
        let lowest = minima[0].1;
        let degrees = usize::try_from(net.degrees(&minima[0].0, &[])).unwrap_or(0);
        let mut asked: Vec<(bool, usize, Minimum, Vec<Made>)> = Vec::new();
        for (x, value) in minima.into_iter().filter(|m| m.1 <= NEAR * lowest).take(MOST_ASKED) {
            let Ok(found) = tested(net, x, options) else { continue };
            let aside: Vec<Made> = found.flags.iter().map(|f| f.of).collect();
            let passes = found.adjustment.weighted_squares <= net.limit(&found.x, &aside, options.alpha);
            asked.push((!passes, aside.len(), (found.x, value), aside));
        }
        asked.sort_by(|a, b| (a.0, a.1).cmp(&(b.0, b.1)).then(a.2.1.total_cmp(&b.2.1)));
        let Some(best) = asked.first() else {
            return Err(contradiction(1, degrees));
        };
        let (fails, count) = (best.0, best.1);
        if count > MOST_ASIDE.max(degrees / 3) {
            return Err(contradiction(count, degrees));
        }
        let alike = |a: &(bool, usize, Minimum, Vec<Made>)| a.0 == fails && a.1 == count && !fails;
        let first = best.clone();
        passing = asked.into_iter().filter(alike).map(|(_, _, m, aside)| (m, aside)).collect();
        if passing.is_empty() {
            passing.push((first.2, first.3));
        }
    }
    // Elements are convex: figures that are not give way to those that are.
    let bent = |(x, _): &Minimum| convex::dent(net, readings, x) > convex::DENT * net.size;
    let straight = passing.iter().any(|(m, _)| !bent(m));
    let before = passing.len();
    if straight {
        passing.retain(|(m, _)| !bent(m));
    }
    let not_convex = passing.len() < before;
    let (best, aside) = passing.remove(0);
    let Ok((_, precise)) = settled(net, best.0.clone(), &aside) else {
        return Err(refuse::shaky(net, &best.0, net.size, names));
    };
    let within = |[a, b]: [usize; 2]| {
        let unit = (at(&best.0, b) - at(&best.0, a)).try_normalize(0.0).unwrap_or_else(Vector3::x);
        let of = |p: usize, q: usize| block(&precise, p, q);
        let variance = unit.dot(&((of(a, a) + of(b, b) - of(a, b) - of(b, a)) * unit));
        APART * variance.max(0.0).sqrt() + THIN * net.size
    };
    let others: Vec<Minimum> =
        passing.into_iter().map(|(m, _)| m).filter(|m| !search::same(&best.0, &m.0, within)).collect();
    if !others.is_empty() {
        return Err(refuse::ambiguous(net, &best.0, &others, names, mirror));
    }
    Ok((best.0, aside, not_convex))
}

/// So many readings at least may be set aside.
const MOST_ASIDE: usize = 2;

fn contradiction(count: usize, degrees: usize) -> Box<Refusal> {
    Error::input(format!(
        "the readings contradict one another: {count} of them would have to be wrong, with {degrees} degrees of freedom"
    ))
    .remedy("check the names of the points in each row, then whether the stated precision is true")
    .into()
}

/// 3 × 3 block of the covariance between two points.
fn block(adjustment: &Adjustment, p: usize, q: usize) -> Matrix3<f64> {
    adjustment.covariance.fixed_view::<3, 3>(3 * p, 3 * q).into_owned()
}

/// Settled, with the tests and what was set aside for it.
struct Tested {
    x: DVector<f64>,
    adjustment: Adjustment,
    from: Vec<Made>,
    w: Vec<f64>,
    flags: Vec<Flagged>,
}

/// Readings of less redundancy are not blamed: what they say hardly shows.
const BLAMED: f64 = 0.005;

/// Settles, and sets misreadings aside one at a time, settling anew after each.
fn tested(net: &Net, x: DVector<f64>, options: &Options) -> Result<Tested, Error> {
    let test = Test { alpha: options.alpha, scale: Scale::Known, most: usize::MAX };
    let mut flags: Vec<Flagged> = Vec::new();
    let mut x = x;
    loop {
        let aside: Vec<Made> = flags.iter().map(|f| f.of).collect();
        let (there, adjustment) = settled(net, x, &aside)?;
        x = there;
        let (observed, from) = net.observations(&x, net.flat, &aside);
        let blamed = |i: usize| from[i] != Made::Flat && adjustment.redundancy[i] > BLAMED;
        let (w, flag) = suspect(&adjustment, &observed, blamed, test);
        let Some(flag) = flag else { return Ok(Tested { x, adjustment, from, w, flags }) };
        flags.push(Flagged {
            of: from[flag.observation],
            w: flag.w,
            redundancy: flag.redundancy,
            residual: -observed[flag.observation].value,
            or_else: flag.or_else.iter().map(|&k| from[k]).collect(),
        });
    }
}

fn finish(net: &Net, x: DVector<f64>, options: &Options) -> Result<Done, Error> {
    let degrees = usize::try_from(net.degrees(&x, &[])).unwrap_or(0);
    let Tested { x, adjustment, from, w, mut flags } = tested(net, x, options)?;
    // Against the others: what a reading that was set aside differs by now.
    let (all, all_from) = net.observations(&x, net.flat, &[]);
    for flag in &mut flags {
        if let Some(k) = all_from.iter().position(|f| *f == flag.of) {
            flag.residual = -all[k].value;
        }
    }
    let kept_degrees = adjustment.degrees;
    let part = Part {
        points: net.points.clone(),
        degrees,
        weighted_squares: adjustment.weighted_squares,
        kept_degrees,
        limit: chi_squared(1.0 - options.alpha, kept_degrees).ok(),
        level: false,
        laid_on: None,
        not_convex: false,
        proven: false,
        helps: helps(net, &x, &adjustment),
        proves: Vec::new(),
        near: near(net, &x, &adjustment, &flags.iter().map(|f| f.of).collect::<Vec<_>>()),
    };
    let shift = least_shift(options.alpha, POWER);
    let least_found = from
        .iter()
        .enumerate()
        .map(|(k, of)| {
            let r = adjustment.redundancy[k];
            (r > BLAMED).then(|| shift * net.deviation(*of) / r.sqrt())
        })
        .collect();
    Ok(Done { x, adjustment, w, least_found, from, flags, part })
}

/// The least misreading is stated for this probability of finding it: Baarda's own choice.
const POWER: f64 = 0.80;

/// The distance not yet measured after which the worst point is known best.
fn helps(net: &Net, x: &DVector<f64>, adjustment: &Adjustment) -> Option<([usize; 2], [f64; 2])> {
    let n = net.count();
    let variances: Vec<f64> = (0..n).map(|p| block(adjustment, p, p).trace()).collect();
    let worst = variances.iter().copied().fold(0.0, f64::max);
    let deviation = net.usual();
    let measured = |a: usize, b: usize| net.legs.iter().any(|l| l.ends == [a, b] || l.ends == [b, a]);
    let pairs = (0..n).flat_map(|a| (a + 1..n).map(move |b| [a, b])).filter(|&[a, b]| !measured(a, b));
    pairs
        .map(|[a, b]| {
            let unit = (at(x, b) - at(x, a)).try_normalize(0.0).unwrap_or_else(Vector3::x);
            // Q − Q a aᵀ Q / (σ² + aᵀ Q a), the blocks on the diagonal.
            let felt = |p: usize| (block(adjustment, p, b) - block(adjustment, p, a)) * unit;
            let own = unit.dot(&(felt(b) - felt(a)));
            let left = (0..n)
                .map(|p| variances[p] - felt(p).norm_squared() / (deviation * deviation + own))
                .fold(0.0, f64::max);
            ([net.points[a], net.points[b]], left)
        })
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(pair, left)| (pair, [worst.sqrt(), left.max(0.0).sqrt()]))
}

/// How many standard deviations along a weak move a figure is looked at, and by how much Σ (v/σ)² must have grown
/// there. Where a figure gives way evenly it grows by the square of the first. 16 is four deviations' worth.
const LOOKED_AT: [(f64, f64); 3] = [(3.0, 2.7), (6.0, 16.0), (9.0, 16.0)];
/// Moves are looked at that are at least this share as weak as the weakest, and so many at most.
const WEAK_MOVES: (f64, usize) = (0.3, 3);
/// The pull toward that place: its standard deviation as a share of that of the move.
const PULL: f64 = 1.0e-3;
/// Steps of the descent there.
const PULL_STEPS: usize = 40;

/// A figure along a weak move that fits about as well as x, though x says it should not: ellipsoids are those of a
/// figure that gives way evenly, and one that nearly folds does not.
fn near(
    net: &Net,
    x: &DVector<f64>,
    adjustment: &Adjustment,
    aside: &[Made],
) -> Option<(f64, Option<Wanted>)> {
    let eigen = adjustment.covariance.clone().symmetric_eigen();
    let deviation = |k: usize| eigen.eigenvalues[k].max(0.0).sqrt();
    let mut moves: Vec<usize> = (0..x.len()).collect();
    moves.sort_by(|&a, &b| eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a]).then(a.cmp(&b)));
    let least = WEAK_MOVES.0 * deviation(moves[0]);
    moves.retain(|&k| deviation(k) > 0.0 && deviation(k) >= least);
    moves.truncate(WEAK_MOVES.1);
    // The whole must not turn instead.
    let held: Vec<DVector<f64>> = match net.datum(x, aside) {
        Datum::Observed => Vec::new(),
        Datum::Inner(moves) => moves.column_iter().map(|m| m.normalize()).collect(),
    };
    for k in moves {
        let (deviation, along) = (deviation(k), eigen.eigenvectors.column(k).into_owned());
        for (reach, grows) in LOOKED_AT.into_iter().flat_map(|(r, g)| [(r, g), (-r, g)]) {
            let to = reach * deviation;
            let observe = |y: &DVector<f64>| {
                let pull = |along: &DVector<f64>, to: f64| Observation {
                    terms: along.iter().copied().enumerate().collect(),
                    value: to - along.dot(&(y - x)),
                    deviation: PULL * deviation,
                };
                let mut all = net.observations(y, net.flat, aside).0;
                all.push(pull(&along, to));
                all.extend(held.iter().map(|m| pull(m, 0.0)));
                all
            };
            let (y, value) = descend(x + &along * to, observe, PULL_STEPS);
            if value - adjustment.weighted_squares < grows {
                let off = (0..net.count()).map(|p| (at(&y, p) - at(x, p)).norm()).fold(0.0, f64::max);
                let tells = refuse::telling(net, x, &[(y.clone(), value)]);
                let apart = |p: [usize; 2]| (search::length(x, p) - search::length(&y, p)).abs();
                // A figure that only stands in another way is told by a height.
                let rise = |p: usize| (x[3 * p + 2] - y[3 * p + 2]).abs();
                let unread = (0..net.count()).filter(|p| net.heights.iter().all(|h| h.point != *p));
                let height =
                    unread.filter(|_| net.is_level(x, aside)).max_by(|&a, &b| rise(a).total_cmp(&rise(b)));
                let by = match (tells, height) {
                    (Some(pair), Some(p)) if rise(p) > apart(pair) => Some(Wanted::Height(net.points[p])),
                    (Some(pair), _) => Some(Wanted::Distance(pair.map(|p| net.points[p]))),
                    (None, height) => height.map(|p| Wanted::Height(net.points[p])),
                };
                return Some((off, by));
            }
        }
    }
    None
}

/// Semi-axes of the 95 % ellipsoid of a point, the longest first, and their directions.
fn axes(adjustment: &Adjustment, p: usize) -> ([f64; 3], Matrix3<f64>) {
    let eigen = block(adjustment, p, p).symmetric_eigen();
    let reach = chi_squared(WITHIN, 3).unwrap_or(0.0);
    let mut order = [0, 1, 2];
    order.sort_by(|&a, &b| eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a]));
    let directions = Matrix3::from_columns(&order.map(|k| eigen.eigenvectors.column(k).into_owned()));
    (order.map(|k| (eigen.eigenvalues[k].max(0.0) * reach).sqrt()), directions)
}

/// A point whose longest 95 % semi-axis is beyond this many usual deviations of a distance is weak: well-braced
/// figures stay under half of it.
const WEAK: f64 = 15.0;
/// Between parts that stand side by side, as a share of their size.
const GAP: f64 = 0.5;

fn together(readings: &Readings, nets: &[Net], parts: Vec<Done>) -> Solved {
    let mut points: Vec<Option<SolvedPoint>> = vec![None; readings.points.len()];
    let mut checked: Vec<(Made, Checked)> = Vec::new();
    let mut or_else: Vec<(Made, Vec<Made>)> = Vec::new();
    let mut solved = Vec::new();
    let mut right = 0.0;
    for (index, (net, done)) in nets.iter().zip(parts).enumerate() {
        let of = |f: fn(f64, f64) -> f64, from: f64, i: usize| {
            (0..net.count()).map(|p| done.x[3 * p + i]).fold(from, f)
        };
        let (low, high) = (of(f64::min, f64::INFINITY, 0), of(f64::max, f64::NEG_INFINITY, 0));
        let y = f64::midpoint(of(f64::min, f64::INFINITY, 1), of(f64::max, f64::NEG_INFINITY, 1));
        let shift = Vector3::new(if index == 0 { -f64::midpoint(low, high) } else { right - low }, -y, 0.0);
        right = high + shift.x + GAP * net.size;
        for (k, &p) in net.points.iter().enumerate() {
            let (axes, directions) = axes(&done.adjustment, k);
            points[p] = Some(SolvedPoint {
                name: readings.points[p].clone(),
                at: Point3::from(at(&done.x, k) + shift),
                covariance: block(&done.adjustment, k, k),
                axes,
                directions,
                part: index,
                weak: axes[0] > WEAK * net.usual(),
            });
        }
        for (k, &of) in done.from.iter().enumerate().filter(|(_, of)| **of != Made::Flat) {
            let mut row = row(readings, of);
            row.residual = done.adjustment.residuals[k];
            row.redundancy = done.adjustment.redundancy[k];
            row.w = done.w[k];
            row.least_found = done.least_found[k];
            checked.push((of, row));
        }
        for flag in done.flags {
            let mut row = row(readings, flag.of);
            (row.residual, row.redundancy, row.w) = (flag.residual, flag.redundancy, flag.w);
            row.flagged = true;
            checked.push((flag.of, row));
            or_else.push((flag.of, flag.or_else));
        }
        solved.push(done.part);
    }
    checked.sort_by_key(|(of, _)| *of);
    for (of, others) in or_else {
        let place = |of: Made| checked.iter().position(|(known, _)| *known == of);
        let others = others.into_iter().filter_map(place).collect();
        if let Some(k) = place(of) {
            checked[k].1.or_else = others;
        }
    }
    let readings = checked.into_iter().map(|(_, row)| row).collect();
    Solved { points: points.into_iter().flatten().collect(), readings, parts: solved }
}

fn row(readings: &Readings, of: Made) -> Checked {
    let name = |p: usize| readings.points[p].as_str();
    let (of, name, source, read, deviation) = match of {
        Made::Height(k) => {
            let h = &readings.heights[k];
            (Measured::Height(k), format!("height of {}", name(h.point)), &h.source, h.height, h.deviation)
        }
        Made::Angle(k) => {
            let a = &readings.angles[k];
            let text = format!("angle at {} between {} and {}", name(a.at), name(a.to[0]), name(a.to[1]));
            (Measured::Angle(k), text, &a.source, a.angle, a.deviation)
        }
        Made::Distance(k) => {
            let d = &readings.distances[k];
            let text = format!("distance {} to {}", name(d.between[0]), name(d.between[1]));
            (Measured::Distance(k), text, &d.source, d.length, d.deviation)
        }
        Made::Flat => unreachable!("faces are no readings"),
    };
    Checked {
        of,
        name,
        source: source.clone(),
        read,
        deviation,
        residual: 0.0,
        redundancy: 0.0,
        w: 0.0,
        least_found: None,
        flagged: false,
        or_else: Vec::new(),
    }
}

#[cfg(test)]
mod tests;
