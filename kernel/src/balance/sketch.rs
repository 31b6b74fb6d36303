//! A quick model of the balance: bodies as they are, joints as the flat solids cross. It foretells what a motion of an
//! element does to every margin.
//!
//! Masses, centres and joints that move as a whole are those of the finished work. Where an element moves against the
//! one below, their joint is where the edges of one flat solid cross the faces of the other; what this misses at rest
//! (the wave of the real seam) is added as a constant. So the figures at rest are exact, and so, for small motions,
//! is how they change, but for what new cuts do to the masses.

use super::levels::{Balance, Level};
use super::support::Support;
use crate::element::Solid;
use crate::mass::{Body, MassModel};
use crate::sculpture::{LeanBy, Rest};
use crate::work::Work;
use nalgebra::{Isometry3, Point3, Vector3};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// What of a solid its contacts need.
#[derive(Debug, Clone)]
struct Frame {
    edges: Vec<[Point3<f64>; 2]>,
    planes: Vec<(Point3<f64>, Vector3<f64>)>,
}

/// Points this near to a plane lie on it, mm: an element set flat on a face touches it all over.
const TOUCH: f64 = 1.0e-3;

impl Frame {
    fn new(solid: &Solid) -> Self {
        let faces = solid.faces.iter().filter(|f| !f.polygon.is_empty());
        Self {
            edges: solid.edges().iter().map(|e| e.ends).collect(),
            planes: faces.map(|f| (f.point, f.normal)).collect(),
        }
    }

    fn moved(&self, by: &Isometry3<f64>) -> Self {
        Self {
            edges: self.edges.iter().map(|e| e.map(|p| by * p)).collect(),
            planes: self.planes.iter().map(|(p, n)| (by * p, by * n)).collect(),
        }
    }

    /// Where edges of another solid enter, leave or run along this one.
    fn crossings(&self, other: &Self, points: &mut Vec<Point3<f64>>) {
        for [a, b] in &other.edges {
            let (mut from, mut to) = (0.0_f64, 1.0_f64);
            for (p, n) in &self.planes {
                let (da, db) = (n.dot(&(a - p)) - TOUCH, n.dot(&(b - p)) - TOUCH);
                if da > 0.0 && db > 0.0 {
                    to = -1.0;
                    break;
                }
                if da > 0.0 {
                    from = from.max(da / (da - db));
                } else if db > 0.0 {
                    to = to.min(da / (da - db));
                }
            }
            if from > to {
                continue;
            }
            for share in [from, to] {
                let q = a + (b - a) * share;
                let out = self.planes.iter().map(|(p, n)| n.dot(&(q - p))).fold(f64::NEG_INFINITY, f64::max);
                if out >= -TOUCH {
                    points.push(q);
                }
            }
        }
    }
}

/// The quick model.
#[derive(Debug, Clone)]
pub struct Sketch<'a> {
    balance: &'a Balance,
    bodies: Vec<Body>,
    /// What stays on the ground whatever moves.
    fixed: Body,
    frames: Vec<Frame>,
    held: Vec<bool>,
}

/// Margins foretold for one set of elements that move together.
struct Foretold<'a> {
    sketch: &'a Sketch<'a>,
    moved: Vec<bool>,
    levels: Vec<&'a Level>,
    /// What the quick model is off at rest, by level, mm.
    off: Vec<f64>,
    /// Contacts whose points move all alike, or not at all, with those points only that can be corners of a hull.
    contacts: BTreeMap<(usize, usize), Vec<Point3<f64>>>,
}

/// How far an element may still be moved.
#[derive(Debug, Clone, PartialEq)]
pub struct Room {
    /// The element; what stands on it moves with it.
    pub element: usize,
    /// What moves.
    pub by: LeanBy,
    /// Compass direction, degrees, and how far, mm or degrees; none is farther than the work is wide, or than 45
    /// degrees.
    pub ways: Vec<(f64, Option<f64>)>,
}

impl Room {
    /// The direction with the least room, degrees, and the room.
    pub fn worst(&self) -> Option<(f64, f64)> {
        let ways = self.ways.iter().filter_map(|(d, x)| x.map(|x| (*d, x)));
        ways.min_by(|a, b| a.1.total_cmp(&b.1))
    }
}

/// Directions that room is looked for in.
const DIRECTIONS: u32 = 16;
/// Tilts beyond this are not looked for, degrees.
const MOST_TILT: f64 = 45.0;

impl<'a> Sketch<'a> {
    /// The model of a work with its balance.
    pub fn new(work: &Work, model: &MassModel, balance: &'a Balance) -> Self {
        let elements = &work.sculpture.elements;
        Self {
            balance,
            bodies: (0..elements.len()).map(|e| model.of_element(e)).collect(),
            fixed: model.body(|c| c.element.is_none()),
            frames: elements.iter().map(|e| Frame::new(&e.solid)).collect(),
            held: balance.held_by.iter().map(|h| !h.is_empty()).collect(),
        }
    }

    fn foretold(&'a self, moved: &[usize], by: LeanBy, levels: Vec<&'a Level>) -> Foretold<'a> {
        let is_moved = (0..self.bodies.len()).map(|e| moved.contains(&e)).collect();
        let contacts = self.balance.contacts.iter().filter_map(|(&(a, b), points)| {
            // A shift moves a hull seen from above as it moves its corners; a tip may turn any point into one.
            let corners = match [moved.contains(&a), moved.contains(&b)] {
                [false, false] => true,
                [true, true] => by == LeanBy::Shift,
                _ => return None,
            };
            Some(((a, b), if corners { Support::new(points.clone()).corners } else { points.clone() }))
        });
        let contacts = contacts.collect();
        let mut foretold = Foretold { sketch: self, moved: is_moved, levels, off: Vec::new(), contacts };
        let at_rest = foretold.margins(&Isometry3::identity());
        let exact = foretold.levels.iter().map(|l| l.margin);
        foretold.off =
            exact.zip(at_rest).map(|(e, m)| if (e - m).is_finite() { e - m } else { 0.0 }).collect();
        foretold
    }

    /// Foretold least margin, over the levels below an element, after a motion of it and what stands on it, mm.
    pub fn margin_after(&self, rest: &Rest, riders: &[usize], by: LeanBy, toward: f64, x: f64) -> f64 {
        self.foretold(riders, by, self.balance.below(rest.element).collect())
            .least(&rest.motion(by, toward, x))
    }

    /// The outermost place that leaves this margin over the levels below an element: how far to move from where it
    /// is, mm or degrees; or else the best margin that can be had, mm.
    pub fn outermost(
        &self,
        rest: &Rest,
        riders: &[usize],
        by: LeanBy,
        toward: f64,
        margin: f64,
        most: f64,
    ) -> Result<f64, f64> {
        const SAMPLES: u32 = 240;
        const HALVINGS: u32 = 60;
        let foretold = self.foretold(riders, by, self.balance.below(rest.element).collect());
        let spare = |x: f64| foretold.least(&rest.motion(by, toward, x)) - margin;
        let step = 2.0 * most / f64::from(SAMPLES);
        let at = |k: u32| most - step * f64::from(k);
        let values: Vec<f64> = (0..=SAMPLES).map(|k| spare(at(k))).collect();
        let (mut good, mut bad) = match (0..=SAMPLES).find(|&k| values[k as usize] >= 0.0) {
            Some(0) => return Ok(most),
            Some(k) => (at(k), at(k - 1)),
            None => {
                // The best may lie between samples: margins are concave as long as no corner changes.
                let best = (0..=SAMPLES).max_by(|&a, &b| values[a as usize].total_cmp(&values[b as usize]));
                let middle = at(best.unwrap_or(0));
                let (mut low, mut high) = (middle - step, middle + step);
                for _ in 0..HALVINGS {
                    let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
                    if spare(a) < spare(b) { low = a } else { high = b }
                }
                if spare(low) < 0.0 {
                    return Err(spare(low) + margin);
                }
                (low, middle + step)
            }
        };
        for _ in 0..HALVINGS {
            let x = f64::midpoint(good, bad);
            if spare(x) >= 0.0 { good = x } else { bad = x }
        }
        Ok(good)
    }

    /// How far an element may still be moved before some level of the work has less than this margin, mm or degrees.
    /// `reach` is the farthest looked for by shifting, mm.
    pub fn room(
        &self,
        rest: &Rest,
        riders: &[usize],
        by: LeanBy,
        margin: f64,
        reach: f64,
        toward: Option<f64>,
    ) -> Room {
        let foretold = self.foretold(riders, by, self.balance.levels.iter().collect());
        let all = (0..DIRECTIONS).map(|k| 360.0 / f64::from(DIRECTIONS) * f64::from(k));
        let ways: Vec<f64> = all.chain(toward).collect();
        let ways = ways.into_par_iter().map(|d| (d, foretold.farthest(rest, by, d, margin, reach))).collect();
        Room { element: rest.element, by, ways }
    }
}

impl Foretold<'_> {
    fn is_moved(&self, e: usize) -> bool {
        self.moved.get(e).copied().unwrap_or(false)
    }

    /// Margins of its levels after a motion, mm.
    fn margins(&self, by: &Isometry3<f64>) -> Vec<f64> {
        let mut frames: BTreeMap<usize, Frame> = BTreeMap::new();
        let sketch = self.sketch;
        let mut margins = Vec::with_capacity(self.levels.len());
        for (i, level) in self.levels.iter().enumerate() {
            let (mut mass, mut sum) = (0.0, Vector3::zeros());
            let mut add = |body: &Body, moved: bool| {
                let centre = if moved { by * body.centre } else { body.centre };
                mass += body.mass;
                sum += centre.coords * body.mass;
            };
            for &e in &level.above {
                add(&sketch.bodies[e], self.is_moved(e));
            }
            if level.element.is_none() {
                add(&sketch.fixed, false);
            }
            let centre = Point3::from(if mass > 0.0 { sum / mass } else { sum });
            let off = self.off.get(i).copied().unwrap_or(0.0);
            if level.element.is_none() {
                margins.push(self.ground(level, by).margin(&centre) + off);
                continue;
            }
            let up = |e: usize| level.above.contains(&e);
            let cut = sketch
                .balance
                .contacts
                .iter()
                .filter(|((a, b), _)| up(*a) != up(*b) && sketch.stands(*a) && sketch.stands(*b));
            let mut points = Vec::new();
            let mut whole = true;
            for (&(a, b), exact) in cut {
                let exact = self.contacts.get(&(a, b)).unwrap_or(exact);
                match (self.is_moved(a), self.is_moved(b)) {
                    (true, true) => points.extend(exact.iter().map(|p| by * p)),
                    (false, false) => points.extend(exact),
                    (a_moves, _) => {
                        whole = false;
                        let (still, moving) = if a_moves { (b, a) } else { (a, b) };
                        let frame = frames.entry(moving).or_insert_with(|| sketch.frames[moving].moved(by));
                        sketch.frames[still].crossings(frame, &mut points);
                        frame.crossings(&sketch.frames[still], &mut points);
                    }
                }
            }
            // A joint that neither changes nor moves need not be hulled again.
            let margin = if whole && !level.above.iter().any(|&e| self.is_moved(e)) {
                level.support.margin(&centre)
            } else {
                Support::in_plan(points.iter().map(|p| [p.x, p.y]).collect()).margin(&centre)
            };
            margins.push(margin + off);
        }
        margins
    }

    fn ground(&self, level: &Level, by: &Isometry3<f64>) -> Support {
        let moves = level.above.iter().any(|&e| self.is_moved(e) && !self.sketch.held[e]);
        if moves {
            Support::new(level.support.corners.iter().map(|p| by * p).collect())
        } else {
            level.support.clone()
        }
    }

    fn least(&self, by: &Isometry3<f64>) -> f64 {
        self.margins(by).into_iter().fold(f64::INFINITY, f64::min)
    }

    fn farthest(&self, rest: &Rest, by: LeanBy, toward: f64, margin: f64, reach: f64) -> Option<f64> {
        const HALVINGS: f64 = 24.0;
        let (first, most) = match by {
            LeanBy::Shift => (reach / 64.0, reach),
            LeanBy::Tip => (MOST_TILT / 64.0, MOST_TILT),
        };
        let spare = |x: f64| self.least(&rest.motion(by, toward, x)) - margin;
        let holds = |spare: f64| spare >= 0.0;
        let mut good = (0.0, spare(0.0));
        if !holds(good.1) {
            return Some(0.0);
        }
        let mut bad = (first, spare(first));
        while holds(bad.1) {
            if bad.0 >= most {
                return None;
            }
            let next = (2.0 * bad.0).min(most);
            (good, bad) = (bad, (next, spare(next)));
        }
        Some(last_to_hold(spare, good, bad, (bad.0 - good.0) / HALVINGS.exp2()))
    }
}

/// Between a place where a function is not negative and one where it is: the last place at which it is not, to `width`.
/// By the secant, with the value of an end that stays halved (M. Dowell and P. Jarratt, "A modified regula falsi method",
/// 1971, from memory), and by halves where that gains little.
fn last_to_hold(of: impl Fn(f64) -> f64, mut good: (f64, f64), mut bad: (f64, f64), width: f64) -> f64 {
    /// So many steps may shorten the stretch by less than half before one halves it.
    const SLOW: u32 = 2;
    let mut slow = 0;
    let mut last_held = None;
    while bad.0 - good.0 > width {
        let length = bad.0 - good.0;
        let share = good.1 / (good.1 - bad.1);
        let x = if slow > SLOW || !share.is_finite() || !bad.1.is_finite() {
            slow = 0;
            f64::midpoint(good.0, bad.0)
        } else {
            // Half a width off either end, so that the end that stays comes near too.
            (good.0 + length * share).clamp(good.0 + width / 2.0, bad.0 - width / 2.0)
        };
        if x <= good.0 || x >= bad.0 {
            break;
        }
        let value = of(x);
        let held = value >= 0.0;
        if held {
            good = (x, value);
            if last_held == Some(held) {
                bad.1 /= 2.0;
            }
        } else {
            bad = (x, value);
            if last_held == Some(held) {
                good.1 /= 2.0;
            }
        }
        last_held = Some(held);
        slow = if bad.0 - good.0 > length / 2.0 { slow + 1 } else { 0 };
    }
    good.0
}

impl Sketch<'_> {
    fn stands(&self, e: usize) -> bool {
        self.balance.order.contains(&e)
    }
}
