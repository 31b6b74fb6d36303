//! The spine's way up through the gates: fewest legs, then least bend, then most clearance.
//!
//! For every number of legs, and every way of sharing the kinks among the chambers, a course through the middles is
//! moved to greater clearance (`course.rs`) until it is enough; of those that are, the total bend is made
//! small, and then the clearance large within a slack of bend. Ways of which one or two legs alone find no way are
//! left out. The clearance of what is found is exact: segments against triangles, not samples.
//! The search is local: a way that is found is a way; where none is found, a gate that is too small is a proof, and
//! everything else means that this search found none. Units: mm, radians.

use super::STAGE;
use super::course::{Course, bend, turn};
use super::gate::{Gate, Place};
use super::obstacles::Obstacles;
use crate::error::{Error, Result};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::fmt;
use std::ops::Range;

/// What is asked.
pub struct Task<'a> {
    /// Sheet to keep clear of; not the plate the spine stands on.
    pub obstacles: &'a Obstacles,
    /// Where it starts, on the base.
    pub start: Place,
    /// Openings to pass, from the base up; their rims are kept clear of like sheet.
    pub gates: Vec<Gate>,
    /// Where it ends.
    pub end: Place,
    /// Radius of the tube, mm.
    pub radius: f64,
    /// Gap to keep between tube and sheet, mm.
    pub gap: f64,
    /// Most legs that are tried.
    pub most_legs: usize,
    /// Bend that may be given away for more clearance, radians.
    pub slack: f64,
    /// Least distance of a kink from the plane of an opening, mm: room to weld it.
    pub stand_off: f64,
}

/// A spine that fits.
#[derive(Debug, Clone, PartialEq)]
pub struct Spine {
    /// Its axis: start, kinks, end.
    pub points: Vec<Point3<f64>>,
    /// Turn at every kink, radians.
    pub turns: Vec<f64>,
    /// All turns together, radians.
    pub bend: f64,
    /// Least distance between the tube, with the tips of its mitres, and sheet or rim, mm; at least the gap.
    /// Greater ones than the widest gate allows are not told apart.
    pub clearance: f64,
}

/// Where it fails.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum At {
    /// The start.
    Start,
    /// The gate of this number, from 0.
    Gate(usize),
    /// The end.
    End,
}

/// No spine.
#[derive(Debug, Clone, PartialEq)]
pub struct Blocked {
    /// The first place that cannot be reached or passed.
    pub at: At,
    /// Its name.
    pub name: String,
    /// Radius and gap that are needed, mm.
    pub needed: f64,
    /// The greatest radius and gap that fits there, mm: for a gate that is too small by itself its greatest
    /// circle, which is exact; else the greatest the search found.
    pub greatest: f64,
    /// Whether it is the gate by itself, or the point by itself, so that no search could do better.
    pub proven: bool,
}

/// What came out.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// It fits.
    Fits(Spine),
    /// It does not.
    Blocked(Blocked),
}

impl fmt::Display for Blocked {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { name, needed, greatest, .. } = self;
        write!(f, "{name}: the spine needs {needed:.1} mm about its axis, ")?;
        if self.proven {
            write!(f, "and {greatest:.1} mm is all there is")
        } else {
            write!(f, "and the most that was found on the way there is {greatest:.1} mm")
        }
    }
}

impl Blocked {
    /// As an error.
    pub fn error(&self) -> Error {
        Error::input(self.to_string()).at(STAGE).remedy(
            "widen the opening, take a thinner tube or a smaller gap, allow more legs, or shift the elements",
        )
    }
}

/// Most legs that can be asked for.
pub const MOST_LEGS: usize = 12;
/// Most courses that are tried with one number of legs.
const MOST_COURSES: usize = 3000;
/// Most courses that are straightened: those with the least bend as they are first found.
const MOST_STRAIGHTENED: usize = 24;
/// Halvings that look for the greatest radius and gap that fits: they leave less than a hundredth of it.
const HALVINGS: u32 = 8;
/// Beginnings that are tried for a course.
const BEGINNINGS: usize = 6;
/// Where no gate limits the clearance, it is looked for up to this many times what is needed.
const FREE_REACH: f64 = 4.0;
/// Clearance is looked for up to this much more than needed, where gates are hardly wider.
const SPARE: f64 = 1.2;
/// A kink close to a gate stands off it by this share of the way to the next.
const CLOSE: f64 = 0.02;

/// Finds the spine.
///
/// # Errors
/// Sizes that are not possible, more than [`MOST_LEGS`], ends or gates out of order.
pub fn find(task: &Task) -> Result<Verdict> {
    check(task)?;
    let needed = task.radius + task.gap;
    let gates = in_order(task)?;
    if let Some(blocked) = too_small(task, &gates, needed) {
        return Ok(Verdict::Blocked(blocked));
    }
    let ends = [task.start.clone(), task.end.clone()];
    if let Some(spine) = search(task, &gates, ends.clone()) {
        return Ok(Verdict::Fits(spine));
    }
    // Which gate cannot be reached?
    for (k, gate) in gates.iter().enumerate() {
        let ends = [task.start.clone(), Place::On(gate.clone())];
        if search(task, &gates[..k], ends.clone()).is_none() {
            let greatest = greatest(task, &gates[..k], &ends);
            let name = gate.name().to_owned();
            return Ok(Verdict::Blocked(Blocked { at: At::Gate(k), name, needed, greatest, proven: false }));
        }
    }
    let (greatest, name) = (greatest(task, &gates, &ends), "the end".to_owned());
    Ok(Verdict::Blocked(Blocked { at: At::End, name, needed, greatest, proven: false }))
}

/// Finds the spine, or none, without looking for why there is none.
///
/// # Errors
/// As [`find`].
pub fn way(task: &Task) -> Result<Option<Spine>> {
    check(task)?;
    let gates = in_order(task)?;
    if too_small(task, &gates, task.radius + task.gap).is_some() {
        return Ok(None);
    }
    Ok(search(task, &gates, [task.start.clone(), task.end.clone()]))
}

fn check(task: &Task) -> Result<()> {
    let needed = task.radius + task.gap;
    let usable = task.radius > 0.0 && task.gap >= 0.0 && needed.is_finite();
    if !(usable && task.slack >= 0.0 && task.stand_off >= 0.0 && task.stand_off.is_finite()) {
        return Err(Error::input(format!(
            "a radius of {} mm, a gap of {} mm, a slack of {} radians and kinks {} mm off are not possible",
            task.radius, task.gap, task.slack, task.stand_off
        ))
        .at(STAGE)
        .remedy("give a radius above 0, a gap, a slack and a distance of kinks of at least 0"));
    }
    if !(1..=MOST_LEGS).contains(&task.most_legs) {
        return Err(Error::input(format!("{} legs cannot be tried", task.most_legs))
            .at(STAGE)
            .remedy(format!("allow 1 to {MOST_LEGS} legs")));
    }
    Ok(())
}

/// The greatest radius and gap, in the proportion of those asked for, for which the search finds a way: by halving.
fn greatest(task: &Task, gates: &[Gate], ends: &[Place; 2]) -> f64 {
    let needed = task.radius + task.gap;
    let (mut low, mut high) = (0.0_f64, needed);
    for _ in 0..HALVINGS {
        let middle = (low + high) / 2.0;
        let share = middle / needed;
        let smaller = Task {
            obstacles: task.obstacles,
            start: task.start.clone(),
            gates: Vec::new(),
            end: task.end.clone(),
            radius: task.radius * share,
            gap: task.gap * share,
            most_legs: task.most_legs,
            slack: task.slack,
            stand_off: task.stand_off,
        };
        match search(&smaller, gates, ends.clone()) {
            Some(spine) => low = (smaller.radius + spine.clearance).clamp(middle, high),
            None => high = middle,
        }
    }
    low
}

/// The gates, all facing the way the spine goes.
fn in_order(task: &Task) -> Result<Vec<Gate>> {
    let mut middles = vec![task.start.middle()];
    middles.extend(task.gates.iter().map(Gate::centre));
    middles.push(task.end.middle());
    let mut faced = Vec::with_capacity(task.gates.len());
    for (k, gate) in task.gates.iter().enumerate() {
        let gate = gate.clone().facing(&(middles[k + 2] - middles[k]));
        let [before, after] = [&middles[k], &middles[k + 2]].map(|p| gate.height(p));
        if !(before < 0.0 && after > 0.0) {
            return Err(Error::input("does not lie between what comes before and after it")
                .at(gate.name().to_owned())
                .remedy("give the gates in order from the base up, the start below and the end above them"));
        }
        faced.push(gate);
    }
    Ok(faced)
}

/// A place that is too small whatever the way.
fn too_small(task: &Task, gates: &[Gate], needed: f64) -> Option<Blocked> {
    let point = |place: &Place, at: At, name: &str| {
        let greatest = match place {
            Place::At(p) => task.obstacles.distance(&[*p, *p], needed),
            Place::On(area) => area.greatest_circle().1,
        };
        (greatest < needed).then(|| Blocked { at, name: name.to_owned(), needed, greatest, proven: true })
    };
    let passes = |(k, gate): (usize, &Gate)| {
        let greatest = gate.greatest_circle().1;
        let name = gate.name().to_owned();
        (greatest < needed).then_some(Blocked { at: At::Gate(k), name, needed, greatest, proven: true })
    };
    point(&task.start, At::Start, "the start")
        .or_else(|| gates.iter().enumerate().find_map(passes))
        .or_else(|| point(&task.end, At::End, "the end"))
}

/// What a search works with.
struct Search<'a> {
    task: &'a Task<'a>,
    gates: &'a [Gate],
    ends: [Place; 2],
    needed: f64,
    reach: f64,
}

/// Points of an axis.
type Axis = Vec<Point3<f64>>;

/// Gates `first..kink` on one leg and `kink..end` on the next.
type Window = (usize, usize, usize);

/// The best spine with the fewest legs.
fn search(task: &Task, gates: &[Gate], ends: [Place; 2]) -> Option<Spine> {
    let needed = task.radius + task.gap;
    let widest = gates.iter().map(|g| g.greatest_circle().1).fold(f64::INFINITY, f64::min);
    let reach = if widest.is_finite() { widest } else { FREE_REACH * needed };
    let search = Search { task, gates, ends, needed, reach: reach.max(needed * SPARE) };
    let windows = search.windows();
    for legs in 1..=task.most_legs {
        let sharings = sharings(legs - 1, gates.len(), &windows);
        let tried: Vec<Option<Axis>> =
            sharings.par_iter().map(|kinks| search.course(kinks.clone()).fit()).collect();
        let mut found: Vec<(f64, &Vec<usize>, Axis)> =
            sharings.iter().zip(tried).filter_map(|(kinks, t)| t.map(|x| (bend(&x), kinks, x))).collect();
        found.sort_by(|a, b| a.0.total_cmp(&b.0));
        found.truncate(MOST_STRAIGHTENED);
        found.par_iter_mut().for_each(|(bent, kinks, x)| {
            *x = search.course((*kinks).clone()).straighten(std::mem::take(x));
            *bent = bend(x);
        });
        let least = found.iter().map(|f| f.0).fold(f64::INFINITY, f64::min);
        let most = least + task.slack;
        // Bends within the slack are alike; of these the clearest.
        let clearest: Vec<(Axis, f64)> = found
            .into_par_iter()
            .filter(|f| f.0 <= most)
            .map(|(_, kinks, x)| {
                search.course(kinks.clone()).climb(x, f64::INFINITY, most.max(f64::MIN_POSITIVE))
            })
            .collect();
        let best =
            clearest.into_iter().filter(|c| c.1 >= needed).reduce(|a, b| if b.1 > a.1 { b } else { a });
        if let Some((points, clear)) = best {
            let turns: Vec<f64> = (1..points.len() - 1).map(|k| turn(&points, k)).collect();
            let bend = turns.iter().sum();
            return Some(Spine { points, turns, bend, clearance: clear - task.radius });
        }
    }
    None
}

impl<'a> Search<'a> {
    fn course(&self, kinks: Vec<usize>) -> Course<'a> {
        self.part(0..self.gates.len(), self.ends.clone(), kinks)
    }

    /// A course through some of the gates; chambers count from the first of them.
    fn part(&self, gates: Range<usize>, ends: [Place; 2], kinks: Vec<usize>) -> Course<'a> {
        Course {
            obstacles: self.task.obstacles,
            gates: &self.gates[gates],
            ends,
            kinks,
            radius: self.task.radius,
            stand_off: self.task.stand_off,
            needed: self.needed,
            reach: self.reach,
        }
    }

    /// Whether two legs pass the gates of a window, the ends of the first and last legs where they belong, other legs
    /// cut off at their first or last gate. What does not fit in part does not fit in whole.
    fn fits(&self, (first, kink, end): Window) -> bool {
        let (mut from, mut to) = (first, end);
        let mut ends = self.ends.clone();
        if first > 0 {
            ends[0] = Place::On(self.gates[first].clone());
            from += 1;
        }
        if end < self.gates.len() {
            ends[1] = Place::On(self.gates[end - 1].clone());
            to -= 1;
        }
        self.part(from..to, ends, vec![kink - from]).fit().is_some()
    }

    /// Whether one leg, cut off at its first and last gate, passes gates.
    fn straight(&self, first: usize, end: usize) -> bool {
        if end < first + 2 {
            return true;
        }
        let ends = [first, end - 1].map(|g| Place::On(self.gates[g].clone()));
        self.part(first + 1..end - 1, ends, Vec::new()).fit().is_some()
    }

    /// All windows that two legs pass.
    fn windows(&self) -> Windows {
        let n = self.gates.len();
        let pairs: Vec<(usize, usize)> =
            (0..=n).flat_map(|a| (a..=n).map(move |b| (a, b))).filter(|(a, b)| *b > a + 1).collect();
        let straight: BTreeSet<(usize, usize)> =
            pairs.par_iter().copied().filter(|(a, b)| self.straight(*a, *b)).collect();
        let one = |a: usize, b: usize| b < a + 2 || straight.contains(&(a, b));
        let all: Vec<Window> = (0..=n)
            .flat_map(|a| (a..=n).flat_map(move |b| (b..=n).map(move |c| (a, b, c))))
            .filter(|(a, b, c)| a < b && b < c && one(*a, *b) && one(*b, *c))
            .collect();
        let pass: BTreeSet<Window> = all.par_iter().copied().filter(|w| self.fits(*w)).collect();
        Windows { straight, pass }
    }
}

/// What single legs and pairs of legs pass.
struct Windows {
    straight: BTreeSet<(usize, usize)>,
    pass: BTreeSet<Window>,
}

impl Windows {
    fn leg(&self, first: usize, end: usize) -> bool {
        end < first + 2 || self.straight.contains(&(first, end))
    }

    /// Legs that pass no gate say nothing.
    fn pair(&self, first: usize, kink: usize, end: usize) -> bool {
        first == kink || kink == end || self.pass.contains(&(first, kink, end))
    }
}

impl Course<'_> {
    /// A course that is clear enough.
    fn fit(&self) -> Option<Vec<Point3<f64>>> {
        // Without kinks there is one beginning.
        let count = if self.kinks.is_empty() { 1 } else { BEGINNINGS };
        (0..count).find_map(|which| {
            let (x, clear) = self.climb(beginning(self, which), self.needed, f64::INFINITY);
            (clear >= self.needed).then_some(x)
        })
    }
}

/// Ways to share kinks among chambers 0 to `gates`, ascending, at most two in one, without those that a window rules out;
/// at most [`MOST_COURSES`].
fn sharings(kinks: usize, gates: usize, windows: &Windows) -> Vec<Vec<usize>> {
    let mut found = Vec::new();
    let mut waiting = vec![Vec::new()];
    while let Some(so_far) = waiting.pop() {
        let so_far: Vec<usize> = so_far;
        let last = so_far.last().copied().unwrap_or(0);
        let before = so_far.len().checked_sub(2).map_or(0, |k| so_far[k]);
        // The next kink, or the end of the last leg.
        let fits = |to: usize| windows.leg(last, to) && (so_far.is_empty() || windows.pair(before, last, to));
        if so_far.len() == kinks {
            if fits(gates) {
                found.push(so_far);
                if found.len() == MOST_COURSES {
                    break;
                }
            }
            continue;
        }
        let twice = matches!(so_far[..], [.., a, b] if a == b);
        // Turned round, for the last one waiting is the first to be taken.
        let next = (last + usize::from(twice)..=gates).rev().filter(|to| fits(*to));
        waiting.extend(next.map(|to| [&so_far[..], &[to]].concat()));
    }
    found
}

/// Points to begin with, for every kink one between the middles of the gates before and after its chamber: evenly, close to
/// the gate before, close to the gate after, square over a gate, pushed aside.
fn beginning(c: &Course, which: usize) -> Vec<Point3<f64>> {
    let mut x = vec![c.ends[0].middle()];
    let mut k = 0;
    while k < c.kinks.len() {
        let chamber = c.kinks[k];
        let count = c.kinks[k..].iter().take_while(|other| **other == chamber).count();
        let low = chamber.checked_sub(1).map(|g| &c.gates[g]);
        let high = c.gates.get(chamber);
        let from = low.map_or_else(|| c.ends[0].middle(), |g| g.greatest_circle().0);
        let to = high.map_or_else(|| c.ends[1].middle(), |g| g.greatest_circle().0);
        let way = to - from;
        let side = way.cross(&Vector3::x());
        let other = way.cross(&Vector3::y());
        let side = if side.norm() > other.norm() { side } else { other };
        let aside = side.try_normalize(0.0).unwrap_or_else(Vector3::zeros) * c.needed;
        let over = |gate: Option<&Gate>, at: Point3<f64>, share: f64| {
            gate.map_or(at + way * share, |g| at + g.normal() * (way.dot(&g.normal()) * share))
        };
        let pair = count == 2;
        for one in 0..count {
            let even = if pair { [1.0 / 3.0, 2.0 / 3.0][one] } else { 0.5 };
            x.push(match (which, one) {
                (1, 0) => from + way * CLOSE,
                (1, _) | (2, 0) if which == 1 || !pair => to - way * CLOSE,
                (3, 0) if pair || high.is_none() => over(low, from, even),
                (3, _) => over(high, to, even - 1.0),
                (4, _) => from + way * even + aside,
                (5, _) => from + way * even - aside,
                _ => from + way * even,
            });
        }
        k += count;
    }
    x.push(c.ends[1].middle());
    x
}
