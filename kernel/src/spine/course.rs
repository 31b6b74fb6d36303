//! One way through: so many legs, with each kink in a set chamber; how clear it is, and how to make it clearer.
//!
//! Chamber c lies between gate c − 1 and gate c; chamber 0 is below the first gate. Clearance is that of the axis:
//! its least distance from the sheet, from the rims of the gates, and, at a kink, from both less what the mitre's tip
//! sticks out more than the tube's radius. Where the axis misses a gate, it is negative: how far it is outside.

use super::ascent::shortest;
use super::gate::{Gate, Place};
use super::obstacles::{Obstacles, Touch, between};
use nalgebra::{DVector, Point3, Vector3};
use std::ops::Range;

/// A function that should be large, with its gradient over one or two points of the axis.
struct Item {
    value: f64,
    parts: [(usize, Vector3<f64>); 2],
}

/// A way through.
pub(super) struct Course<'a> {
    pub(super) obstacles: &'a Obstacles,
    pub(super) gates: &'a [Gate],
    pub(super) ends: [Place; 2],
    /// Chamber of every kink, ascending.
    pub(super) kinks: Vec<usize>,
    /// Radius of the tube, mm.
    pub(super) radius: f64,
    /// Least distance of a kink from the plane of a gate, mm.
    pub(super) stand_off: f64,
    /// Radius and gap, mm.
    pub(super) needed: f64,
    /// Clearances above this, mm, are all alike.
    pub(super) reach: f64,
}

/// Most steps uphill.
const STEPS: u32 = 160;
/// After so many steps it is asked whether the rest can be enough.
const STRETCH: u32 = 16;
/// Most functions that are looked at together: the least ones.
const TOGETHER: usize = 48;
/// So many of the nearest triangles tell of most steps that they are too long.
const FIRST: usize = 8;
/// Slope below which a place counts as a summit: mm of clearance for a mm of movement.
const SUMMIT: f64 = 2.0e-3;
/// A step must gain this share of what the slope promises.
const GAIN: f64 = 0.1;
/// Bands of functions looked at together and steps are shares of the needed clearance: first, and the least.
const WIDE: f64 = 0.5;
const NARROW: f64 = 2.0e-4;
/// Turns for slopes of the bend are taken over this share of the needed clearance.
const NUDGE: f64 = 1.0e-4;
/// Mitre tips that stick out less, mm, are none.
const TIP: f64 = 1.0e-6;
/// Tips grow without bounds as a tube turns back on itself: cosine of half a turn at which they stop here.
const LEAST_COSINE: f64 = 0.05;

impl Course<'_> {
    /// Gates that a leg passes.
    fn passes(&self, leg: usize) -> Range<usize> {
        let from = leg.checked_sub(1).map_or(0, |k| self.kinks[k]);
        let to = self.kinks.get(leg).copied().unwrap_or(self.gates.len());
        from..to
    }

    /// The middle of a chamber, roughly.
    fn heart(&self, chamber: usize) -> Point3<f64> {
        let low = chamber.checked_sub(1).map_or_else(|| self.ends[0].middle(), |g| self.gates[g].centre());
        let high = self.gates.get(chamber).map_or_else(|| self.ends[1].middle(), Gate::centre);
        nalgebra::center(&low, &high)
    }

    /// All functions below `look`, least first, of a course through these points. What was near before the points
    /// moved is looked at first, and becomes what is near now.
    fn items(&self, x: &[Point3<f64>], look: f64, near: &mut Near) -> Vec<Item> {
        let mut items = Vec::new();
        for leg in 0..x.len() - 1 {
            self.add_leg(&mut items, x, leg, look, &mut near.legs[leg]);
        }
        for (k, &chamber) in self.kinks.iter().enumerate() {
            self.add_kink(&mut items, x, k + 1, chamber, look, &mut near.kinks[k]);
        }
        for (point, end) in [(0, &self.ends[0]), (x.len() - 1, &self.ends[1])] {
            if let Place::On(area) = end {
                for (side, m) in area.sides() {
                    items.push(at_point((x[point] - side[0]).dot(&m), point, m));
                }
            }
        }
        items.retain(|item| item.value < look);
        items.sort_by(|a, b| a.value.total_cmp(&b.value));
        items
    }

    /// No more than the least function of a course through these points, mm: few triangles are looked at.
    fn bound(&self, x: &[Point3<f64>], near: &Near) -> f64 {
        let legs = x.windows(2).zip(&near.legs);
        let least =
            legs.map(|(leg, near)| self.obstacles.least(&[leg[0], leg[1]], &near[..near.len().min(FIRST)]));
        least.fold(f64::INFINITY, f64::min)
    }

    /// The sheet nearest to a line; what was near before is looked at first, and becomes what is near now.
    fn touches(&self, line: &[Point3<f64>; 2], look: f64, near: &mut Vec<u32>) -> Vec<Touch> {
        let touches = self.obstacles.near(line, look, TOGETHER, near);
        *near = touches.iter().map(|touch| touch.triangle).collect();
        touches
    }

    fn add_leg(&self, items: &mut Vec<Item>, x: &[Point3<f64>], leg: usize, look: f64, near: &mut Vec<u32>) {
        let line = [x[leg], x[leg + 1]];
        let shared = |value: f64, share: f64, away: Vector3<f64>| Item {
            value,
            parts: [(leg, away * (1.0 - share)), (leg + 1, away * share)],
        };
        for touch in self.touches(&line, look, near) {
            if touch.distance > 0.0 {
                items.push(shared(touch.distance, touch.share, touch.away));
            } else {
                // Through the sheet: back towards the middle of the chamber.
                let at = line[0] + (line[1] - line[0]) * touch.share;
                let chamber = self.gates.iter().filter(|g| g.height(&at) > 0.0).count();
                let way = self.heart(chamber) - at;
                let home = way.try_normalize(0.0).unwrap_or_else(Vector3::zeros);
                items.push(shared(-way.norm(), touch.share, home));
            }
        }
        for gate in &self.gates[self.passes(leg)] {
            let [below, above] = line.map(|p| gate.height(&p));
            let d = line[1] - line[0];
            let steep = d.dot(&gate.normal());
            if !(below < 0.0 && above > 0.0 && steep > 0.0) {
                // One end is on the wrong side; on the right side it is as clear as needed.
                items.push(at_point(self.needed - below, leg, -gate.normal()));
                items.push(at_point(self.needed + above, leg + 1, gate.normal()));
                if below.max(-above) > 0.0 {
                    continue;
                }
            }
            let share = (below / (below - above)).clamp(0.0, 1.0);
            let at = line[0] + d * share;
            let inside = gate.sides().all(|(side, m)| (at - side[0]).dot(&m) > 0.0);
            for (side, m) in gate.sides() {
                if inside {
                    let (share, away) = between(&line, &side);
                    let distance = away.norm();
                    items.push(shared(distance, share, away / distance));
                } else {
                    let depth = (at - side[0]).dot(&m);
                    if depth < 0.0 {
                        let lean = if steep > 0.0 { d.dot(&m) / steep } else { 0.0 };
                        items.push(shared(depth, share, m - gate.normal() * lean));
                    }
                }
            }
        }
    }

    fn add_kink(
        &self,
        items: &mut Vec<Item>,
        x: &[Point3<f64>],
        k: usize,
        chamber: usize,
        look: f64,
        near: &mut Vec<u32>,
    ) {
        let p = x[k];
        let tip = self.radius * (1.0 / (turn(x, k) / 2.0).cos().max(LEAST_COSINE) - 1.0);
        let around = [chamber.checked_sub(1), Some(chamber)].map(|g| self.gates.get(g?));
        for (gate, sign) in around.into_iter().zip([1.0, -1.0]) {
            let Some(gate) = gate else { continue };
            let clear = sign * gate.height(&p) - self.stand_off;
            items.push(at_point(self.needed + clear, k, gate.normal() * sign));
            if tip > TIP {
                for (side, _) in gate.sides() {
                    let (_, away) = between(&[p, p], &side);
                    items.push(at_point(away.norm() - tip, k, away.normalize()));
                }
            }
        }
        if tip > TIP {
            for touch in self.touches(&[p, p], look + tip, near) {
                items.push(at_point(touch.distance - tip, k, touch.away));
            }
        }
    }

    /// A gradient over all coordinates, with the ends held where they belong.
    fn dense(&self, count: usize, parts: &[(usize, Vector3<f64>)]) -> DVector<f64> {
        let mut g = DVector::zeros(3 * count);
        for &(point, v) in parts {
            let v = match (point, &self.ends) {
                (0, [Place::At(_), _]) => continue,
                (0, [Place::On(area), _]) => v - area.normal() * v.dot(&area.normal()),
                (p, [_, Place::At(_)]) if p == count - 1 => continue,
                (p, [_, Place::On(area)]) if p == count - 1 => v - area.normal() * v.dot(&area.normal()),
                _ => v,
            };
            let mut at = g.fixed_rows_mut::<3>(3 * point);
            at += v;
        }
        g
    }

    /// Unit vector along which the bend falls fastest, and how fast, radians per mm; none where it is straight.
    fn straighter(&self, x: &[Point3<f64>]) -> Option<(DVector<f64>, f64)> {
        let step = self.needed * NUDGE;
        let mut parts = Vec::new();
        for point in 0..x.len() {
            let mut slope = Vector3::zeros();
            for i in 0..3 {
                let mut moved = x.to_vec();
                moved[point][i] += step;
                let more = bend(&moved);
                moved[point][i] -= 2.0 * step;
                slope[i] = (bend(&moved) - more) / (2.0 * step);
            }
            parts.push((point, slope));
        }
        let g = self.dense(x.len(), &parts);
        let norm = g.norm();
        (norm > f64::MIN_POSITIVE).then(|| (g / norm, norm))
    }

    /// Goes to greater clearance until it is `enough`, or no higher; the total bend stays below `most`, radians.
    pub(super) fn climb(&self, x: Vec<Point3<f64>>, enough: f64, most: f64) -> (Vec<Point3<f64>>, f64) {
        let mut at = Walk::new(self, x);
        let mut before = at.value();
        for step in 0..STEPS {
            if at.value() >= enough {
                break;
            }
            if step > 0 && step % STRETCH == 0 {
                // Steps get shorter towards a summit: at this rate it would end below.
                let gain = (at.value() - before) * f64::from(STEPS - step) / f64::from(STRETCH);
                if enough.is_finite() && at.value() + gain < enough {
                    break;
                }
                before = at.value();
            }
            let mut vectors = at.gradients(at.value() + at.band);
            if bend(&at.x) > most * (1.0 - GAIN) {
                vectors.extend(self.straighter(&at.x).map(|s| s.0));
            }
            let value = at.value();
            let clear = |next: f64, gain: f64| next > value + gain;
            if !at.go(&shortest(&vectors), 0.0, clear, |x, _| bend(x) <= most) {
                break;
            }
        }
        let value = at.value();
        (at.x, value)
    }

    /// Goes to less bend while the clearance stays enough.
    pub(super) fn straighten(&self, x: Vec<Point3<f64>>) -> Vec<Point3<f64>> {
        let mut at = Walk::new(self, x);
        for _ in 0..STEPS {
            let Some((way, slope)) = self.straighter(&at.x) else { break };
            let mut vectors = at.gradients(self.needed + at.band);
            vectors.push(way);
            let bent = bend(&at.x);
            let clear = |next: f64, _| next >= self.needed;
            if !at.go(&shortest(&vectors), self.needed, clear, |x, gain| bend(x) < bent - gain * slope) {
                break;
            }
        }
        at.x
    }
}

/// A place on the way uphill.
struct Walk<'a> {
    course: &'a Course<'a>,
    x: Vec<Point3<f64>>,
    items: Vec<Item>,
    /// Functions this much above the least are looked at too, mm.
    band: f64,
    /// Length of the next step, mm.
    step: f64,
    /// Up to where functions are known, mm.
    look: f64,
    near: Near,
}

/// The triangles nearest to each leg and each kink, nearest first.
#[derive(Clone)]
struct Near {
    legs: Vec<Vec<u32>>,
    kinks: Vec<Vec<u32>>,
}

impl<'a> Walk<'a> {
    fn new(course: &'a Course<'a>, x: Vec<Point3<f64>>) -> Self {
        let wide = course.needed * WIDE;
        let mut near =
            Near { legs: vec![Vec::new(); x.len() - 1], kinks: vec![Vec::new(); course.kinks.len()] };
        let items = course.items(&x, course.reach, &mut near);
        Self { course, x, items, band: wide, step: wide, look: course.reach, near }
    }

    fn value(&self) -> f64 {
        self.items.first().map_or(self.look, |item| item.value)
    }

    fn gradients(&self, below: f64) -> Vec<DVector<f64>> {
        let low = self.items.iter().take_while(|item| item.value < below).take(TOGETHER);
        low.map(|item| self.course.dense(self.x.len(), &item.parts)).collect()
    }

    /// Takes a step along a vector, if one is found at whose end the value is `clear` and the points are `straight`
    /// enough for what the slope promises; else looks at a narrower band. False at the end. What is clear enough stays
    /// so with a greater value. Functions are looked at up to `least_look` at least, mm.
    fn go(
        &mut self,
        way: &DVector<f64>,
        least_look: f64,
        clear: impl Fn(f64, f64) -> bool,
        straight: impl Fn(&[Point3<f64>], f64) -> bool,
    ) -> bool {
        let slope = way.norm();
        let least = self.course.needed * NARROW;
        if slope > SUMMIT {
            let mut step = self.step;
            while step > least * SUMMIT {
                let move_by =
                    |k: usize| Vector3::new(way[3 * k], way[3 * k + 1], way[3 * k + 2]) * (step / slope);
                let x: Vec<_> = self.x.iter().enumerate().map(|(k, p)| p + move_by(k)).collect();
                let gain = GAIN * slope * step;
                // Most steps that are too long come too near to what was nearest.
                if !straight(&x, gain) || !clear(self.course.bound(&x, &self.near), gain) {
                    step *= 0.5;
                    continue;
                }
                // No function grows by more than the step; what the next step looks at must be known too.
                let ahead = self.value().max(self.course.needed.min(least_look)) + step.max(self.band) * 2.0;
                let look = ahead.min(self.course.reach);
                let mut near = self.near.clone();
                let items = self.course.items(&x, look, &mut near);
                let next = Self { course: self.course, items, x, band: self.band, step, look, near };
                if clear(next.value(), gain) {
                    *self = Self { step: step * 2.0, ..next };
                    return true;
                }
                step *= 0.5;
            }
        }
        self.band *= 0.25;
        self.step = self.step.max(self.band);
        self.band > least
    }
}

fn at_point(value: f64, point: usize, way: Vector3<f64>) -> Item {
    Item { value, parts: [(point, way), (point, Vector3::zeros())] }
}

/// Turn of the axis at a point, radians.
pub(super) fn turn(x: &[Point3<f64>], k: usize) -> f64 {
    let (a, b) = (x[k] - x[k - 1], x[k + 1] - x[k]);
    a.cross(&b).norm().atan2(a.dot(&b))
}

/// All turns together, radians.
pub(super) fn bend(x: &[Point3<f64>]) -> f64 {
    (1..x.len() - 1).map(|k| turn(x, k)).sum()
}
