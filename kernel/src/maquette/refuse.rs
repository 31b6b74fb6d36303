//! Readings that do not settle a figure: what can still move, and which readings would hold it.

use super::flat::at;
use super::net::{From as Made, Leg, Net};
use super::readings::{Readings, whence};
use super::search::{self, Minimum};
use crate::error::Error;
use nalgebra::{DMatrix, DVector, Vector3};

/// Why readings were refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Why {
    /// Points can still move while all readings hold.
    Loose,
    /// Two figures of different shape fit the readings equally well.
    Ambiguous,
    /// Nothing tells the figure from its mirror image.
    Mirror,
    /// What was given contradicts itself, or cannot be used.
    Wrong,
}

/// A reading that would help.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    /// The distance between two points, by index.
    Distance([usize; 2]),
    /// The height of a point above the table, by index.
    Height(usize),
    /// Which way round three points of a face run as seen from outside.
    Outside([usize; 3]),
}

/// Readings that were refused, and what would settle them.
#[derive(Debug, Clone, PartialEq)]
pub struct Refusal {
    /// Why.
    pub why: Why,
    /// Points that are not settled, by index.
    pub points: Vec<usize>,
    /// Readings that would settle them, all of them together.
    pub wanted: Vec<Wanted>,
    /// The same as an error for people.
    pub error: Error,
}

impl From<Box<Refusal>> for Error {
    fn from(refusal: Box<Refusal>) -> Self {
        refusal.error
    }
}

impl From<Error> for Box<Refusal> {
    fn from(error: Error) -> Self {
        Box::new(Refusal { why: Why::Wrong, points: Vec::new(), wanted: Vec::new(), error })
    }
}

/// A move is free where the readings feel less than this share of it, squared. Rounding is a millionth of it.
const FREE: f64 = 1.0e-9;
/// Two points are rigid to one another if a free move changes their distance by less than this share of it.
const RIGID: f64 = 1.0e-5;
/// A distance that feels less than this share of a free move cannot hold it.
const HOLDS: f64 = 1.0e-3;
/// Most distances proposed against figures that fit as well.
const MOST_WANTED: usize = 12;
/// Times rivals are looked for with the distances proposed so far.
const MOST_LOOKED: usize = 4;
/// Two lengths differ for certain if they are this many standard deviations apart.
const CERTAIN: f64 = 6.0;

impl Net {
    /// Free moves at x beside those of the whole, orthonormal columns.
    pub(super) fn free_moves(&self, x: &DVector<f64>, aside: &[Made]) -> Vec<DVector<f64>> {
        self.felt(x, aside).into_iter().filter(|(felt, _)| *felt <= FREE).map(|(_, free)| free).collect()
    }

    /// Moves at x beside those of the whole, from the least felt, with how much the readings feel of each.
    fn felt(&self, x: &DVector<f64>, aside: &[Made]) -> Vec<(f64, DVector<f64>)> {
        let mut normal = DMatrix::<f64>::zeros(x.len(), x.len());
        for o in self.observations(x, self.flat, aside).0 {
            let length: f64 = o.terms.iter().map(|(_, a)| a * a).sum();
            if length > 0.0 {
                for &(i, a) in &o.terms {
                    for &(k, b) in &o.terms {
                        normal[(i, k)] += a * b / length;
                    }
                }
            }
        }
        if let crate::adjust::Datum::Inner(whole) = self.datum(x, aside) {
            let q = whole.qr().q();
            normal += &q * q.transpose();
        }
        let eigen = normal.symmetric_eigen();
        let mut order: Vec<usize> = (0..x.len()).collect();
        order.sort_by(|&a, &b| eigen.eigenvalues[a].total_cmp(&eigen.eigenvalues[b]).then(a.cmp(&b)));
        let most = eigen.eigenvalues.amax().max(f64::MIN_POSITIVE);
        order
            .into_iter()
            .map(|k| (eigen.eigenvalues[k] / most, eigen.eigenvectors.column(k).into_owned()))
            .collect()
    }

    fn is_measured(&self, pair: [usize; 2]) -> bool {
        self.legs.iter().any(|l| l.ends == pair || l.ends == [pair[1], pair[0]])
    }

    fn unmeasured(&self) -> impl Iterator<Item = [usize; 2]> + '_ {
        (0..self.count())
            .flat_map(|a| (a + 1..self.count()).map(move |b| [a, b]))
            .filter(|pair| !self.is_measured(*pair))
    }

    /// The usual deviation of a distance: the median.
    pub(super) fn usual(&self) -> f64 {
        let mut all: Vec<f64> = self.legs.iter().map(|l| l.deviation).collect();
        all.sort_by(f64::total_cmp);
        all.get(all.len() / 2).copied().unwrap_or(super::options::DISTANCE)
    }
}

/// Points that are left when the largest rigid group is taken away.
fn movers(count: usize, rigid: impl Fn(usize, usize) -> bool) -> Vec<usize> {
    let mut best: Vec<usize> = Vec::new();
    for first in 0..count.min(MOST_FIRSTS) {
        let mut group = vec![first];
        for p in (0..count).filter(|&p| p != first) {
            if group.iter().all(|&q| rigid(p, q)) {
                group.push(p);
            }
        }
        if group.len() > best.len() {
            best = group;
        }
    }
    (0..count).filter(|p| !best.contains(p)).collect()
}

/// Groups are grown from this many points.
const MOST_FIRSTS: usize = 24;

/// How fast a move changes a distance.
fn change(x: &DVector<f64>, free: &DVector<f64>, [a, b]: [usize; 2]) -> f64 {
    let d = (at(x, b) - at(x, a)).try_normalize(0.0).unwrap_or_else(Vector3::x);
    d.dot(&(at(free, b) - at(free, a)))
}

/// The refusal of a net that free moves leave loose at x; `mirror` is what its hand would need.
pub(super) fn loose(
    net: &Net,
    x: &DVector<f64>,
    free: &[DVector<f64>],
    names: &[String],
    mirror: Option<[usize; 3]>,
) -> Box<Refusal> {
    let change = |free: &DVector<f64>, pair: [usize; 2]| change(x, free, pair);
    let moving = movers(net.count(), |a, b| free.iter().all(|m| change(m, [a, b]).abs() < RIGID));
    let mut wanted = holding(net, x, free);
    if wanted.is_empty() {
        // Points that coincide, or lie in one plane by chance, hide what a distance holds: seen from beside.
        let beside = DVector::from_fn(x.len(), |k, _| {
            #[allow(clippy::cast_precision_loss, reason = "a count of coordinates")]
            let turn = (k as f64 * ANYWHERE).sin();
            x[k] + BESIDE * net.size * turn
        });
        wanted = holding(net, &beside, &net.free_moves(&beside, &[]));
    }
    let held = wanted.len();
    // With those distances, whatever they turn out to be, would the figure still be ambiguous?
    let mut more = net.clone();
    more.legs.extend(wanted.iter().map(|&ends| leg(net, x, ends)));
    let lengths: Vec<Leg> = more.legs.iter().map(|l| leg(net, x, l.ends)).collect();
    more.legs = lengths;
    let x = super::start::improved(&more, x, &[]).0;
    for _ in 0..MOST_LOOKED {
        let others = search::rivals(&more, &x);
        let Some(pair) = telling(&more, &x, &others) else { break };
        wanted.push(pair);
        more.legs.push(leg(&more, &x, pair));
    }
    let called = listed(moving.iter().map(|&p| names[net.points[p]].as_str()));
    let message = if moving.is_empty() || held == 0 {
        format!(
            "the readings do not hold the points {}",
            listed(net.points.iter().map(|&p| names[p].as_str()))
        )
    } else {
        format!("the readings leave {called} free to move")
    };
    refusal(net, Why::Loose, moving, wanted, mirror, names, message)
}

/// How far beside a figure that hides what holds it another is looked at, as a share of its size.
const BESIDE: f64 = 0.1;
/// An angle that is no simple part of a turn.
const ANYWHERE: f64 = 2.399_963;

/// Distances that hold free moves at x, each the one that feels most of what is left.
fn holding(net: &Net, x: &DVector<f64>, free: &[DVector<f64>]) -> Vec<[usize; 2]> {
    let mut wanted = Vec::new();
    let mut left: Vec<DVector<f64>> = free.to_vec();
    while !left.is_empty() {
        let feels = |pair: [usize; 2]| {
            let shares = DVector::from_iterator(left.len(), left.iter().map(|m| change(x, m, pair)));
            (shares.norm(), shares, pair)
        };
        let best = net.unmeasured().map(feels).max_by(|a, b| a.0.total_cmp(&b.0).then(b.2.cmp(&a.2)));
        let Some((_, shares, pair)) = best.filter(|b| b.0 > HOLDS) else { break };
        wanted.push(pair);
        left = without(&left, &shares.normalize());
    }
    wanted
}

/// The refusal of a net that fits other figures as well as x.
pub(super) fn ambiguous(
    net: &Net,
    x: &DVector<f64>,
    others: &[Minimum],
    names: &[String],
    mirror: Option<[usize; 3]>,
) -> Box<Refusal> {
    let mut wanted = Vec::new();
    let mut left: Vec<Minimum> = others.to_vec();
    let mut more = net.clone();
    while let Some(pair) = telling(&more, x, &left) {
        wanted.push(pair);
        let new = leg(&more, x, pair);
        left.retain(|(y, _)| (search::length(y, pair) - new.length).abs() < CERTAIN * new.deviation);
        more.legs.push(new);
        if wanted.len() >= MOST_WANTED {
            break;
        }
    }
    let y = &others[0].0;
    let apart = |a: usize, b: usize| (search::length(x, [a, b]) - search::length(y, [a, b])).abs();
    let limit = CERTAIN * net.usual();
    let moving = movers(net.count(), |a, b| apart(a, b) < limit);
    let most = (0..net.count())
        .flat_map(|a| (0..a).map(move |b| [a, b]))
        .max_by(|p, q| apart(p[0], p[1]).total_cmp(&apart(q[0], q[1])));
    let most = most.map_or(0.0, |p| apart(p[0], p[1]));
    let called = listed(moving.iter().map(|&p| names[net.points[p]].as_str()));
    let message = format!(
        "two figures fit the readings equally well: they differ in where {called} {} (by up to {most:.1} mm)",
        if moving.len() == 1 { "lies" } else { "lie" }
    );
    refusal(net, Why::Ambiguous, moving, wanted, mirror, names, message)
}

/// The refusal of a net for which no figure was found that fits, where one may have been overlooked: with the distances
/// wanted every point can be placed. None where every point can.
pub(super) fn unfound(net: &Net, names: &[String], mirror: Option<[usize; 3]>) -> Option<Box<Refusal>> {
    let mut wanted = super::place::lacking(net);
    if wanted.is_empty() {
        return None;
    }
    wanted.truncate(MOST_WANTED);
    let mut moving: Vec<usize> = wanted.iter().flatten().copied().collect();
    moving.sort_unstable();
    moving.dedup();
    let message =
        "no figure was found that fits the readings: there are too few of them to find it for certain, or \
                   some are misread"
            .to_owned();
    Some(refusal(net, Why::Ambiguous, moving, wanted, mirror, names, message))
}

/// The refusal of a net that is settled but for its hand.
pub(super) fn hand(net: &Net, three: [usize; 3], names: &[String]) -> Box<Refusal> {
    let message = format!(
        "nothing tells the figure of {} from its mirror image",
        listed(net.points.iter().map(|&p| names[p].as_str()))
    );
    refusal(net, Why::Mirror, (0..net.count()).collect(), Vec::new(), Some(three), names, message)
}

fn refusal(
    net: &Net,
    why: Why,
    moving: Vec<usize>,
    wanted: Vec<[usize; 2]>,
    mirror: Option<[usize; 3]>,
    names: &[String],
    message: String,
) -> Box<Refusal> {
    let name = |p: usize| names[net.points[p]].as_str();
    let mut say = Vec::new();
    if !wanted.is_empty() {
        let pairs: Vec<String> = wanted.iter().map(|&[a, b]| format!("{} to {}", name(a), name(b))).collect();
        let noun = if pairs.len() == 1 { "the distance" } else { "the distances" };
        say.push(format!("measure {noun} {}", listed(pairs.iter().map(String::as_str))));
    }
    if let Some([a, b, c]) = mirror {
        let (a, b, c) = (name(a), name(b), name(c));
        say.push(format!(
            "say which way {a}, {b}, {c} run as seen from outside: a row \"outside, {a}, {b}, {c}\" if \
             counter-clockwise, else \"outside, {a}, {c}, {b}\""
        ));
    }
    if say.is_empty() {
        say.push("measure more distances to these points, from points out of their plane".to_owned());
    }
    let global = |p: usize| net.points[p];
    let mut all: Vec<Wanted> =
        wanted.iter().map(|&[a, b]| Wanted::Distance([global(a), global(b)])).collect();
    all.extend(mirror.map(|m| Wanted::Outside(m.map(global))));
    Box::new(Refusal {
        why,
        points: moving.into_iter().map(global).collect(),
        wanted: all,
        error: Error::input(message).remedy(say.join(", and ")),
    })
}

/// A point of a refusal that stands in one reading only, and is spelt nearly like another, may be that one.
pub(super) fn misspelt(readings: &Readings, mut refusal: Box<Refusal>) -> Box<Refusal> {
    let rows = |p: usize| {
        let distances = readings.distances.iter().filter(move |d| d.between.contains(&p)).map(|d| &d.source);
        let heights = readings.heights.iter().filter(move |h| h.point == p).map(|h| &h.source);
        let angles =
            readings.angles.iter().filter(move |a| a.at == p || a.to.contains(&p)).map(|a| &a.source);
        let faces = readings.faces.iter().filter(move |f| f.corners.contains(&p)).map(|f| &f.source);
        distances.chain(heights).chain(angles).chain(faces)
    };
    let is_measured =
        |p: usize, q: usize| readings.distances.iter().any(|d| d.between == [p, q] || d.between == [q, p]);
    let said: Vec<String> = refusal
        .points
        .iter()
        .filter_map(|&p| {
            let mut all = rows(p);
            let (source, None) = (all.next()?, all.next()) else { return None };
            let end = readings.distances.iter().find(|d| d.between.contains(&p))?;
            let other = end.between[usize::from(end.between[0] == p)];
            let name = &readings.points[p];
            // Not those whose distance to the same point stands there already.
            let alike: Vec<String> = (0..readings.points.len())
                .filter(|&q| q != p && q != other && !is_measured(q, other))
                .filter(|&q| rows(q).nth(1).is_some())
                .filter(|&q| strsim::damerau_levenshtein(name, &readings.points[q]) == 1)
                .map(|q| readings.points[q].clone())
                .collect();
            let (last, before) = alike.split_last()?;
            let meant =
                if before.is_empty() { last.clone() } else { format!("{} or {last}", before.join(", ")) };
            Some(format!("{}: {name} stands in this reading only: did you mean {meant}?", whence(source)))
        })
        .collect();
    if !said.is_empty() {
        let remedy = refusal.error.remedy_text().unwrap_or_default();
        let remedy = format!("{}; otherwise {remedy}", said.join("; "));
        refusal.error = Error::input(refusal.error.message()).remedy(remedy);
    }
    refusal
}

/// The distance not yet measured by which x and the nearest of the others differ most; none where they differ in none.
pub(super) fn telling(net: &Net, x: &DVector<f64>, others: &[Minimum]) -> Option<[usize; 2]> {
    if others.is_empty() {
        return None;
    }
    let tells = |pair: [usize; 2]| {
        let least = others.iter().map(|(y, _)| (search::length(x, pair) - search::length(y, pair)).abs());
        let all = least.clone().sum::<f64>();
        // One that tells all apart goes before one that tells some.
        (least.fold(f64::INFINITY, f64::min) * MANY + all, pair)
    };
    net.unmeasured()
        .map(tells)
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))
        .filter(|(by, _)| *by > 0.0)
        .map(|(_, pair)| pair)
}

/// How much telling all apart counts against telling one.
const MANY: f64 = 10.0;

fn leg(net: &Net, x: &DVector<f64>, ends: [usize; 2]) -> Leg {
    Leg { ends, length: search::length(x, ends), deviation: net.usual(), from: Made::Flat }
}

/// What is left of some moves without the share that a distance holds.
fn without(moves: &[DVector<f64>], held: &DVector<f64>) -> Vec<DVector<f64>> {
    let k = moves.len();
    let keep = DMatrix::identity(k, k) - held * held.transpose();
    let eigen = keep.symmetric_eigen();
    let gone = eigen.eigenvalues.imin();
    (0..k)
        .filter(|&i| i != gone)
        .map(|i| {
            let mut sum = DVector::zeros(moves[0].len());
            for (m, share) in moves.iter().zip(eigen.eigenvectors.column(i).iter()) {
                sum.axpy(*share, m, 1.0);
            }
            sum
        })
        .collect()
}

/// `A, B and C`.
pub(super) fn listed<'a>(names: impl Iterator<Item = &'a str>) -> String {
    let all: Vec<&str> = names.collect();
    match all.as_slice() {
        [] => "no point".to_owned(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// A move that changes no distance by more than this share of itself leaves the figure as it is: it tilts.
const TILTS: f64 = 0.05;

/// The refusal of a net that is hardly held at x: its corners are known to `worst` mm.
pub(super) fn shaky(net: &Net, x: &DVector<f64>, worst: f64, names: &[String]) -> Box<Refusal> {
    let moves: Vec<DVector<f64>> = net.felt(x, &[]).into_iter().take(1).map(|(_, m)| m).collect();
    let hardly = format!("a corner may lie anywhere within {worst:.0} mm (95 %)");
    let n = net.count();
    let largest = |m: &DVector<f64>| (0..n).map(|p| at(m, p).norm()).fold(0.0, f64::max);
    let bends = |m: &DVector<f64>| {
        let all = (0..n).flat_map(|a| (0..a).map(move |b| [a, b]));
        all.map(|pair| change(x, m, pair).abs()).fold(0.0, f64::max)
    };
    if let Some(m) = moves.first().filter(|m| bends(m) < TILTS * largest(m)) {
        let unread = |p: &usize| !net.heights.iter().any(|h| h.point == *p);
        let best = (0..n).filter(unread).max_by(|&a, &b| m[3 * a + 2].abs().total_cmp(&m[3 * b + 2].abs()));
        if let Some(p) = best {
            let message = format!("the heights hardly say which way is up: {hardly}");
            return heights(net, message, p, names);
        }
    }
    let mut refusal = loose(net, x, &moves, names, None);
    let remedy = refusal.error.remedy_text().unwrap_or("measure more distances").to_owned();
    refusal.error = Error::input(format!("the readings hardly hold the figure: {hardly}")).remedy(remedy);
    refusal
}

/// The refusal of a net that may stand either way up, which the height of one point settles.
pub(super) fn heights(net: &Net, message: String, point: usize, names: &[String]) -> Box<Refusal> {
    Box::new(Refusal {
        why: Why::Ambiguous,
        points: net.points.clone(),
        wanted: vec![Wanted::Height(net.points[point])],
        error: Error::input(message).remedy(format!(
            "measure the height of {} too, or leave all heights out",
            names[net.points[point]]
        )),
    })
}
