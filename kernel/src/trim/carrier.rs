//! Carriers: the planes on which pieces of the shell lie (strips of sheets, walls between cells), with
//! everything that crosses them as lines of the plane, cut where the body changes.

use super::crossing::{Side, crossings};
use super::field::{Field, Near, Sample};
use super::window::{Linear, clip, line_within, range, value};
use crate::cladding::Sheet;
use crate::loft::Loft;
use nalgebra::{Point3, Vector3};
use std::ops::Range;

/// A plane with coordinates x, y, a convex window that holds all that can show on it, and the near sheets
/// as linear functions of x and y.
#[derive(Debug)]
pub(crate) struct Carrier<'a> {
    pub(crate) field: &'a Field,
    pub(crate) near: &'a Near,
    pub(crate) origin: Point3<f64>,
    pub(crate) e1: Vector3<f64>,
    pub(crate) e2: Vector3<f64>,
    /// Convex, counter-clockwise.
    pub(crate) window: Vec<[f64; 2]>,
    /// The near sheet that lies on the carrier, if it is a strip: whether a sample is below it is set by
    /// what asks for it.
    base: Option<usize>,
    /// D of each near sheet.
    d: Vec<Linear>,
    /// S of each near sheet.
    s: Vec<Linear>,
    /// T of each near sheet.
    t: Vec<Linear>,
    /// Distance of each near sheet's face plane.
    distances: Vec<Linear>,
    /// The near walls that can part two cells within the window.
    walls: Vec<Wall>,
}

/// The wall between the cells of two near sheets, on a carrier.
#[derive(Debug, Clone, Copy)]
struct Wall {
    pair: (usize, usize),
    /// How much further the first of the two is than the second.
    further: Linear,
}

/// The curve a segment lies on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Curve {
    /// A fold of the carrier's own sheet.
    Fold,
    /// Strip `1` of near sheet `0`.
    Sheet(usize, i64),
    /// The wall between the cells of two near sheets.
    Wall(usize, usize),
}

/// A directed piece of boundary on a carrier, the body's surface on its left.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Segment {
    pub(crate) from: [f64; 2],
    pub(crate) to: [f64; 2],
}

/// What shows on a carrier at a sample: 0 nothing, 1 facing along the carrier's normal, −1 against it.
pub(crate) type Shows<'f> = &'f dyn Fn(&mut Sample) -> i8;

/// Buffers kept between segments.
#[derive(Debug, Default)]
pub(crate) struct Scratch {
    zeros: Vec<f64>,
    cuts: Vec<(f64, bool)>,
    side: Vec<Side>,
    sample: Sample,
}

/// Walls are sampled this share of the work's size to either side: far above rounding, far below any gap
/// that a perturbed work leaves between three cells.
const WALL_BIAS: f64 = 1.0e-13;

/// A sheet nearer than another of its element by less than this share of the work's size may still own a
/// point: rounding, and what a long line magnifies it to.
const OWNED: f64 = 1.0e-9;

impl<'a> Carrier<'a> {
    pub(crate) fn new(
        field: &'a Field,
        near: &'a Near,
        origin: Point3<f64>,
        e1: Vector3<f64>,
        e2: Vector3<f64>,
        window: Vec<[f64; 2]>,
        base: Option<usize>,
    ) -> Self {
        let mut carrier = Self {
            field,
            near,
            origin,
            e1,
            e2,
            window,
            base,
            d: Vec::new(),
            s: Vec::new(),
            t: Vec::new(),
            distances: Vec::new(),
            walls: Vec::new(),
        };
        for k in 0..near.sheets.len() {
            let sheet = carrier.sheet(k);
            let (d, s, t) = (carrier.outward(sheet), carrier.along(sheet), carrier.across(sheet));
            carrier.d.push(d);
            carrier.s.push(s);
            carrier.t.push(t);
            carrier.distances.push([d[0] + sheet.lift, d[1], d[2]]);
        }
        carrier.find_walls();
        carrier
    }

    /// Another window: all that can show on the carrier lies in it.
    pub(crate) fn set_window(&mut self, window: Vec<[f64; 2]>) {
        self.window = window;
        self.find_walls();
    }

    /// Keeps the walls that have a point in the window where both cells can meet; of all pairs of sheets they are few.
    fn find_walls(&mut self) {
        let margin = OWNED * self.field.size;
        self.walls.clear();
        if self.window.len() < 3 || self.near.walls.is_empty() {
            return;
        }
        let distances = &self.distances;
        let corners = self.window.len();
        let at: Vec<f64> =
            distances.iter().flat_map(|&d| self.window.iter().map(move |&p| value(d, p))).collect();
        let at = |k: usize| &at[k * corners..(k + 1) * corners];
        // Another sheet of its element is farther all over the window: its cell has no point there.
        let owns = |k: usize, e: &Range<usize>| {
            !e.clone().any(|c| c != k && at(c).iter().zip(at(k)).all(|(c, own)| c - own > 2.0 * margin))
        };
        let owners: Vec<Vec<usize>> =
            self.near.elements.iter().map(|e| e.clone().filter(|&k| owns(k, e)).collect()).collect();
        let mut home = vec![None; distances.len()];
        for (e, owners) in owners.iter().enumerate() {
            owners.iter().for_each(|&k| home[k] = Some(e));
        }
        let mut limits = Vec::new();
        for &(a, b) in &self.near.walls {
            let (Some(home_a), Some(home_b)) = (home[a], home[b]) else { continue };
            let difference = at(a).iter().zip(at(b)).map(|(a, b)| a - b);
            let (least, most) =
                difference.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, m), x| (l.min(x), m.max(x)));
            if least > margin || most < -margin {
                continue;
            }
            limits.clear();
            for (own, home) in [(a, home_a), (b, home_b)] {
                let d = distances[own];
                limits.extend(owners[home].iter().filter(|&&k| k != own).map(|&k| {
                    let g = distances[k];
                    // Twice the margin of `owned`, so that rounding here leaves out nothing that it takes.
                    [g[0] - d[0] - 2.0 * margin, g[1] - d[1], g[2] - d[2]]
                }));
            }
            let further = self.wall(a, b);
            if line_within(further, &self.window, &limits).is_some() {
                self.walls.push(Wall { pair: (a, b), further });
            }
        }
    }

    /// Pairs of near sheets whose cells can meet within the window.
    pub(crate) fn walls(&self) -> impl Iterator<Item = (usize, usize)> {
        self.walls.iter().map(|wall| wall.pair)
    }

    pub(crate) fn sheet(&self, k: usize) -> &'a Sheet {
        &self.field.sheets[self.near.sheets[k]]
    }

    fn outward(&self, sheet: &Sheet) -> Linear {
        [sheet.outward(&self.origin), sheet.n.dot(&self.e1), sheet.n.dot(&self.e2)]
    }

    fn along(&self, sheet: &Sheet) -> Linear {
        [sheet.along(&self.origin), sheet.u.dot(&self.e1), sheet.u.dot(&self.e2)]
    }

    fn across(&self, sheet: &Sheet) -> Linear {
        [sheet.across(&self.origin), sheet.v.dot(&self.e1), sheet.v.dot(&self.e2)]
    }

    /// Distance of near sheet k's face plane.
    pub(crate) fn distance(&self, k: usize) -> Linear {
        self.distances[k]
    }

    pub(crate) fn wall(&self, a: usize, b: usize) -> Linear {
        let (p, q) = (self.distance(a), self.distance(b));
        [p[0] - q[0], p[1] - q[1], p[2] - q[2]]
    }

    pub(crate) fn point(&self, p: [f64; 2]) -> Point3<f64> {
        self.origin + self.e1 * p[0] + self.e2 * p[1]
    }

    /// Every boundary segment that near sheet k leaves on this carrier.
    pub(crate) fn cut_by_sheet(
        &self,
        k: usize,
        shows: Shows<'_>,
        scratch: &mut Scratch,
        out: &mut [Vec<Segment>; 2],
    ) {
        let sheet = self.sheet(k);
        let (low, high) = range(&self.window, self.d[k]);
        if low > sheet.high || high < sheet.low {
            return;
        }
        let (d, t) = (self.d[k], self.t[k]);
        if let Some(loft) = &sheet.loft {
            self.cut_by_loft(k, loft, shows, scratch, out);
            return;
        }
        for (j, line, [start, end]) in sheet.strips(self.strips_in_window(k)) {
            let f =
                [d[0] - line.height - line.slope * t[0], d[1] - line.slope * t[1], d[2] - line.slope * t[2]];
            let limits = [[start - t[0], -t[1], -t[2]], [t[0] - end, t[1], t[2]]];
            let limits: &[Linear] = if sheet.is_flat() { &[] } else { &limits };
            if let Some(ends) = line_within(f, &self.window, limits) {
                self.classify(ends, Curve::Sheet(k, j), shows, scratch, out);
            }
        }
    }

    /// Every boundary segment that a surveyed near sheet leaves on this carrier.
    fn cut_by_loft(
        &self,
        k: usize,
        loft: &Loft,
        shows: Shows<'_>,
        scratch: &mut Scratch,
        out: &mut [Vec<Segment>; 2],
    ) {
        let band = self.band(k);
        if band.is_empty() {
            return;
        }
        let (d, s, t) = (self.d[k], self.s[k], self.t[k]);
        let combined = |[c, a, b]: [f64; 3]| -> Linear {
            [c + a * s[0] + b * t[0], a * s[1] + b * t[1], a * s[2] + b * t[2]]
        };
        let (s_low, s_high) = range(&band, s);
        let (t_low, t_high) = range(&band, t);
        // Cells a little further too: the band was cut with rounding.
        let margin = OWNED * self.field.size;
        for cell in loft.cells([s_low - margin, s_high + margin], [t_low - margin, t_high + margin]) {
            let bounded = loft.bounded(cell);
            let height = combined(bounded.heights);
            let f = [d[0] - height[0], d[1] - height[1], d[2] - height[2]];
            let limits = bounded.limits.map(combined);
            if let Some(ends) = line_within(f, &self.window, &limits) {
                self.classify(ends, Curve::Sheet(k, cell.node), shows, scratch, out);
            }
        }
    }

    /// The part of the window between the lowest valley and the highest crest of near sheet k.
    fn band(&self, k: usize) -> Vec<[f64; 2]> {
        let (sheet, d) = (self.sheet(k), self.d[k]);
        let mut band = self.window.clone();
        let mut spare = Vec::new();
        clip(&mut band, [d[0] - sheet.high, d[1], d[2]], &mut spare);
        clip(&mut band, [sheet.low - d[0], -d[1], -d[2]], &mut spare);
        band
    }

    /// The strips of near sheet k that may cross the window.
    fn strips_in_window(&self, k: usize) -> Range<i64> {
        let sheet = self.sheet(k);
        if sheet.is_flat() {
            return 0..1;
        }
        let band = self.band(k);
        if band.is_empty() {
            return 0..0;
        }
        let (t_low, t_high) = range(&band, self.t[k]);
        // A strip more on either side: the band was cut with rounding.
        sheet.strip_of(t_low) - 1..sheet.strip_of(t_high) + 2
    }

    /// Every boundary segment on the wall between two near cells.
    pub(crate) fn cut_by_wall(
        &self,
        (a, b): (usize, usize),
        shows: Shows<'_>,
        scratch: &mut Scratch,
        out: &mut [Vec<Segment>; 2],
    ) {
        if let Some(ends) = line_within(self.wall(a, b), &self.window, &[]) {
            self.classify(ends, Curve::Wall(a, b), shows, scratch, out);
        }
    }

    /// Cuts a line at everything that may change what shows beside it, and keeps the pieces with different
    /// things on their two sides. `out[0]` takes what faces along the carrier's normal, `out[1]` the rest.
    pub(crate) fn classify(
        &self,
        ends: [[f64; 2]; 2],
        curve: Curve,
        shows: Shows<'_>,
        scratch: &mut Scratch,
        out: &mut [Vec<Segment>; 2],
    ) {
        let Scratch { zeros, cuts, side, sample } = scratch;
        let bisected = self.field.bisected.any();
        let count = self.near.sheets.len();
        let along = |f: Linear| [value(f, ends[0]), value(f, ends[1])];
        cuts.clear();
        side.clear();
        let own = match curve {
            Curve::Sheet(k, _) => k,
            _ => usize::MAX,
        };
        let (wall_a, wall_b) = match curve {
            Curve::Wall(a, b) => (a, b),
            _ => (usize::MAX, usize::MAX),
        };
        side.resize(count, Side::Outside);
        if !bisected {
            if !self.exact_sides(ends, own, zeros, cuts, side) {
                return;
            }
        } else {
            let margin = OWNED * self.field.size;
            for e in &self.near.elements {
                let holds = |k: usize| e.contains(&k);
                let party = holds(own) || self.base.is_some_and(holds) || holds(wall_a) || holds(wall_b);
                let is_clear = |k: usize| {
                    let [p, q] = along(self.d[k]);
                    self.field.is_clear_of(self.near.sheets[k], p.min(q), margin)
                };
                if !party && e.clone().any(is_clear) {
                    // Another element that the line does not enter takes no part.
                    side[e.clone()].fill(Side::Outside);
                    continue;
                }
                for k in e.clone() {
                    side[k] = Side::Crosses;
                    if k == own || Some(k) == self.base {
                        continue;
                    }
                    zeros.clear();
                    side[k] =
                        crossings(self.sheet(k), along(self.d[k]), along(self.s[k]), along(self.t[k]), zeros);
                    // A closure strip ends where its two sheets cross, so the wall line keeps those vertices.
                    let keep = k == wall_a || k == wall_b;
                    cuts.extend(zeros.iter().map(|&z| (z, keep)));
                }
            }
        }
        for &Wall { pair: (a, b), further } in &self.walls {
            if (a, b) == (wall_a, wall_b) {
                continue;
            }
            let [p, q] = along(further);
            if (p < 0.0) != (q < 0.0) {
                let share = p / (p - q);
                if self.owned(a, b, lerp(ends, share)) {
                    cuts.push((share, false));
                }
            }
        }
        cuts.sort_by(|x, y| x.0.total_cmp(&y.0));
        sample.below.clear();
        sample.below.resize(count, false);
        sample.distance.clear();
        sample.distance.resize(count, 0.0);
        let bias = WALL_BIAS * self.field.size;
        let mut open: Option<(f64, [i8; 2])> = None;
        let mut from = 0.0;
        for i in 0..=cuts.len() {
            let (to, keep) = cuts.get(i).copied().unwrap_or((1.0, true));
            if to <= from {
                // A cut that must leave a vertex still does so, at no length.
                continue;
            }
            let middle = (from + to) / 2.0;
            let p = lerp(ends, middle);
            for (k, side) in side.iter().enumerate() {
                sample.below[k] = match side {
                    Side::Inside => true,
                    Side::Outside => false,
                    Side::Crosses => {
                        k != own
                            && Some(k) != self.base
                            && value(self.d[k], p)
                                <= self.sheet(k).height(value(self.s[k], p), value(self.t[k], p))
                    }
                };
                if bisected {
                    sample.distance[k] = value(self.distance(k), p);
                }
            }
            let kinds = match curve {
                Curve::Fold => {
                    let kind = shows(sample);
                    [kind, 0]
                }
                Curve::Sheet(k, _) => {
                    sample.below[k] = true;
                    let left = shows(sample);
                    sample.below[k] = false;
                    [left, shows(sample)]
                }
                Curve::Wall(a, b) => {
                    let d = (sample.distance[a] + sample.distance[b]) / 2.0;
                    (sample.distance[a], sample.distance[b]) = (d - bias, d + bias);
                    let left = shows(sample);
                    (sample.distance[a], sample.distance[b]) = (d + bias, d - bias);
                    [left, shows(sample)]
                }
            };
            match open {
                Some((start, before)) if before == kinds => open = Some((start, before)),
                Some((start, before)) => {
                    push(out, ends, [start, from], before);
                    open = Some((from, kinds));
                }
                None => open = Some((from, kinds)),
            }
            from = to;
            if (keep || to >= 1.0)
                && let Some((start, kinds)) = open.take()
            {
                push(out, ends, [start, to], kinds);
            }
        }
    }

    /// Whether the cells of two sheets can be those that meet at a point of their wall: each must be the
    /// farthest of its element there.
    fn owned(&self, a: usize, b: usize, p: [f64; 2]) -> bool {
        let margin = OWNED * self.field.size;
        let farthest = |k: usize| {
            let least = value(self.distance(k), p) + margin;
            self.near
                .elements
                .iter()
                .find(|e| e.contains(&k))
                .is_none_or(|e| e.clone().all(|c| value(self.distance(c), p) <= least))
        };
        farthest(a) && farthest(b)
    }

    /// With exact cuts only: where a line lies with respect to each near sheet, as far as it matters to what
    /// shows beside it. False where nothing can: outside an element whose sheet carries or cuts the line, or
    /// deep inside another.
    fn exact_sides(
        &self,
        ends: [[f64; 2]; 2],
        own: usize,
        zeros: &mut Vec<f64>,
        cuts: &mut Vec<(f64, bool)>,
        side: &mut [Side],
    ) -> bool {
        let along = |f: Linear| [value(f, ends[0]), value(f, ends[1])];
        let is_party = |e: &Range<usize>| e.contains(&own) || self.base.is_some_and(|b| e.contains(&b));
        let (party, others): (Vec<_>, Vec<_>) = self.near.elements.iter().cloned().partition(|e| is_party(e));
        for (e, party) in party.into_iter().map(|e| (e, true)).chain(others.into_iter().map(|e| (e, false))) {
            let start = cuts.len();
            let mut all_inside = !party;
            for k in e.clone() {
                if k == own || Some(k) == self.base {
                    side[k] = Side::Crosses;
                    continue;
                }
                zeros.clear();
                side[k] =
                    crossings(self.sheet(k), along(self.d[k]), along(self.s[k]), along(self.t[k]), zeros);
                if side[k] == Side::Outside {
                    if party {
                        return false;
                    }
                    // Another element that the line does not enter takes no part.
                    cuts.truncate(start);
                    side[e.clone()].fill(Side::Outside);
                    all_inside = false;
                    break;
                }
                all_inside &= side[k] == Side::Inside;
                cuts.extend(zeros.iter().map(|&z| (z, false)));
            }
            if all_inside {
                return false;
            }
        }
        true
    }
}

fn lerp(ends: [[f64; 2]; 2], share: f64) -> [f64; 2] {
    // Exact at both ends.
    if share <= 0.0 {
        return ends[0];
    }
    if share >= 1.0 {
        return ends[1];
    }
    [ends[0][0] + (ends[1][0] - ends[0][0]) * share, ends[0][1] + (ends[1][1] - ends[0][1]) * share]
}

fn push(out: &mut [Vec<Segment>; 2], ends: [[f64; 2]; 2], span: [f64; 2], kinds: [i8; 2]) {
    let (a, b) = (lerp(ends, span[0]), lerp(ends, span[1]));
    for (slot, facing) in [(0, 1_i8), (1, -1_i8)] {
        // Surface on the left of the line keeps its direction, on the right turns it.
        match (kinds[0] == facing, kinds[1] == facing) {
            (true, false) => out[slot].push(Segment { from: a, to: b }),
            (false, true) => out[slot].push(Segment { from: b, to: a }),
            _ => {}
        }
    }
}
