//! Narrow places of outlines: necks of material, slots and holes smaller than a process can cut.
//!
//! Method: two edges face each other at a place where the disc upon the shortest line between them holds no other
//! outline (the empty-disc test of the Gabriel graph: K. R. Gabriel and R. R. Sokal, "A new statistical approach
//! to geographic variation analysis", Systematic Zoology 18, 1969). What such a line cuts off from the rest of
//! its outline is looked at: a corner, a tip or the crest of a wave gets narrower and narrower towards its end
//! and is no neck, however small. Facing pairs that follow each other along an outline are one place.
//!
//! Units: mm. Outer outlines run counter-clockwise, holes clockwise, none crosses another. Cost grows with the
//! number of edges and of pairs of edges nearer to each other than the limits.

use crate::drawing::signed_area;
use crate::kerf::Ring;
use std::collections::BTreeMap;

/// What is narrow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum NarrowKind {
    /// Material between cuts.
    Neck,
    /// A gap between edges of one part or between parts, or a long hole.
    Slot,
    /// A hole not longer than twice its width.
    Hole,
}

impl NarrowKind {
    /// In a word.
    pub fn word(self) -> &'static str {
        match self {
            NarrowKind::Neck => "neck",
            NarrowKind::Slot => "slot",
            NarrowKind::Hole => "hole",
        }
    }
}

/// Least widths, mm; nothing narrower than these passes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Of material between cuts.
    pub neck: f64,
    /// Of gaps and long holes.
    pub slot: f64,
    /// Of round and compact holes: the least distance of two parallel lines that hold it.
    pub hole: f64,
}

impl Limits {
    fn of(self, kind: NarrowKind) -> f64 {
        match kind {
            NarrowKind::Neck => self.neck,
            NarrowKind::Slot => self.slot,
            NarrowKind::Hole => self.hole,
        }
    }
}

/// A narrow place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Narrow {
    /// What it is.
    pub kind: NarrowKind,
    /// Its least width, mm.
    pub width: f64,
    /// The middle of it, mm.
    pub at: [f64; 2],
}

/// The disc is taken this much smaller than the line it stands on, so that walls leaning by up to 18 degrees and
/// rounding do not count as lying within.
const DISC: f64 = 0.95;
/// A dead end with less area than this share of its width times its length gets narrower towards its end: a
/// triangle has a half, the cap of a wave two thirds, a strip with parallel sides one.
const FULL: f64 = 0.75;
/// Beyond a line with more area than this share it gets wider again: a true neck.
const WIDER: f64 = 1.05;
/// Walls are parallel that part by less than this, in mm per mm (0.6 degrees).
const TAPER: f64 = 0.01;
/// Widths that differ by less than this, mm, are alike.
const ALIKE: f64 = 1.0e-6;
/// Dead ends shorter than this many times their width are corners and steps.
const LENGTH: f64 = 1.0;
/// Holes longer than this many times their width are slots.
const LONG: f64 = 2.0;
/// Edges turned against each other by less than this (as a sine) have a common middle, not only a nearest point.
const NEARLY_PARALLEL: f64 = 0.2;
/// The grid has at most this many cells along its longer side.
const CELLS: f64 = 128.0;
/// Shorter than this, mm, a line has no direction: edges that touch.
const TOUCHING: f64 = 1.0e-9;

/// Places narrower than the limits: necks, slots, holes, each kind in rising width.
///
/// # Tolerance
/// Widths are exact for straight edges. Not found: notches and stubs shorter than they are wide, tips.
pub fn narrow(outlines: &[Ring], limits: Limits) -> Vec<Narrow> {
    let mut rings: Vec<Ring> = outlines.iter().filter(|r| r.len() >= 3).cloned().collect();
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for p in rings.iter().flatten() {
        for i in 0..2 {
            (low[i], high[i]) = (low[i].min(p[i]), high[i].max(p[i]));
        }
    }
    // Near the origin nothing is lost in products.
    for p in rings.iter_mut().flatten() {
        *p = [p[0] - low[0], p[1] - low[1]];
    }
    let mut found = Vec::new();
    // Rings that are narrow as a whole need no look at their insides.
    let mut whole = vec![false; rings.len()];
    for (ring, whole) in rings.iter().zip(&mut whole) {
        let (width, length, at) = least_width(ring);
        let kind = match signed_area(ring) > 0.0 {
            true => NarrowKind::Neck,
            false if length > LONG * width => NarrowKind::Slot,
            false => NarrowKind::Hole,
        };
        if width < limits.of(kind) {
            *whole = true;
            found.push(Narrow { kind, width, at });
        }
    }
    let search = Search::new(&rings, limits, [high[0] - low[0], high[1] - low[1]]);
    found.extend(search.places(&whole));
    for place in &mut found {
        place.at = [place.at[0] + low[0], place.at[1] + low[1]];
    }
    found.sort_by(|a, b| {
        let order = a.kind.cmp(&b.kind).then(a.width.total_cmp(&b.width));
        order.then(a.at[0].total_cmp(&b.at[0])).then(a.at[1].total_cmp(&b.at[1]))
    });
    found
}

/// Least distance of two parallel lines that hold a ring, its length along them, and the middle.
fn least_width(ring: &[[f64; 2]]) -> (f64, f64, [f64; 2]) {
    let hull = convex_hull(ring);
    let mut best = (f64::INFINITY, 0.0, ring[0]);
    for (i, a) in hull.iter().enumerate() {
        let b = hull[(i + 1) % hull.len()];
        let d = sub(b, *a);
        let length = d[0].hypot(d[1]);
        let u = [d[0] / length, d[1] / length];
        let (mut width, mut ends) = (0.0_f64, [f64::INFINITY, f64::NEG_INFINITY]);
        for p in &hull {
            let v = sub(*p, *a);
            width = width.max(cross(u, v));
            ends = [ends[0].min(dot(u, v)), ends[1].max(dot(u, v))];
        }
        if width < best.0 {
            let (s, t) = ((ends[0] + ends[1]) / 2.0, width / 2.0);
            best = (width, ends[1] - ends[0], [a[0] + u[0] * s - u[1] * t, a[1] + u[1] * s + u[0] * t]);
        }
    }
    if best.0.is_finite() { best } else { (0.0, 0.0, ring[0]) }
}

/// Corners of the convex hull, counter-clockwise (A. M. Andrew, 1979).
fn convex_hull(points: &[[f64; 2]]) -> Ring {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    sorted.dedup();
    let mut hull: Ring = Vec::new();
    for pass in 0..2 {
        let start = hull.len();
        for p in &sorted {
            while hull.len() >= start + 2
                && cross(sub(hull[hull.len() - 1], hull[hull.len() - 2]), sub(*p, hull[hull.len() - 1]))
                    <= 0.0
            {
                hull.pop();
            }
            hull.push(*p);
        }
        hull.pop();
        if pass == 0 {
            sorted.reverse();
        }
    }
    hull
}

/// An edge of a ring.
struct Edge {
    ring: usize,
    /// Index of its first corner.
    at: usize,
    ends: [[f64; 2]; 2],
}

/// A line between two facing edges.
struct Facing {
    kind: NarrowKind,
    width: f64,
    /// Its ends, and the edges they lie on.
    ends: [[f64; 2]; 2],
    edges: [usize; 2],
}

impl Facing {
    fn middle(&self) -> [f64; 2] {
        let [p, q] = self.ends;
        [(p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0]
    }
}

/// What a line between facing edges cuts off; of two sides the lesser measures.
struct End {
    /// How far it reaches from the line, mm.
    length: f64,
    /// Its area in units of the line times that length.
    share: f64,
}

struct Search<'a> {
    rings: &'a [Ring],
    limits: Limits,
    edges: Vec<Edge>,
    /// Index of the first edge of every ring.
    first: Vec<usize>,
    cell: f64,
    columns: usize,
    rows: usize,
    cells: Vec<Vec<u32>>,
}

impl<'a> Search<'a> {
    fn new(rings: &'a [Ring], limits: Limits, size: [f64; 2]) -> Self {
        let mut edges = Vec::new();
        let mut first = Vec::new();
        for (ring, points) in rings.iter().enumerate() {
            first.push(edges.len());
            for (at, a) in points.iter().enumerate() {
                edges.push(Edge { ring, at, ends: [*a, points[(at + 1) % points.len()]] });
            }
        }
        let reach = limits.neck.max(limits.slot);
        let cell = reach.max(size[0].max(size[1]) / CELLS).max(f64::MIN_POSITIVE);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most CELLS")]
        let count = |x: f64| if x.is_finite() { (x / cell) as usize + 1 } else { 1 };
        let (columns, rows) = (count(size[0]), count(size[1]));
        let mut search = Self {
            rings,
            limits,
            edges,
            first,
            cell,
            columns,
            rows,
            cells: vec![Vec::new(); columns * rows],
        };
        for (i, e) in (0_u32..).zip(&search.edges) {
            let mut touched = Vec::new();
            search.cells_of(e.ends, 0.0, |k| touched.push(k));
            for k in touched {
                search.cells[k].push(i);
            }
        }
        search
    }

    /// Calls `visit` for every cell within `margin` of a segment (and some beside it).
    fn cells_of(&self, [a, b]: [[f64; 2]; 2], margin: f64, mut visit: impl FnMut(usize)) {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
        let index = |x: f64, count: usize| ((x / self.cell).max(0.0) as usize).min(count - 1);
        let (a, b) = if a[0] <= b[0] { (a, b) } else { (b, a) };
        for column in index(a[0] - margin, self.columns)..=index(b[0] + margin, self.columns) {
            #[allow(clippy::cast_precision_loss, reason = "at most CELLS")]
            let left = column as f64 * self.cell;
            // The part of the segment that can be near this column.
            let y = |x: f64| {
                let share = if b[0] > a[0] { ((x - a[0]) / (b[0] - a[0])).clamp(0.0, 1.0) } else { 0.0 };
                a[1] + (b[1] - a[1]) * share
            };
            let (mut low, mut high) = (y(left - margin), y(left + self.cell + margin));
            if b[0] <= a[0] {
                (low, high) = (a[1], b[1]);
            }
            let (low, high) = (low.min(high) - margin, low.max(high) + margin);
            for row in index(low, self.rows)..=index(high, self.rows) {
                visit(column * self.rows + row);
            }
        }
    }

    fn places(&self, whole: &[bool]) -> Vec<Narrow> {
        let reach = self.limits.neck.max(self.limits.slot);
        let mut facing: Vec<Facing> = Vec::new();
        let mut seen = vec![u32::MAX; self.edges.len()];
        for (i, e) in (0_u32..).zip(&self.edges) {
            self.cells_of(e.ends, reach, |k| {
                for &j in &self.cells[k] {
                    if j > i && seen[j as usize] != i {
                        seen[j as usize] = i;
                        self.face(i as usize, j as usize, &mut facing);
                    }
                }
            });
        }
        // Pairs that follow each other along the walls are one place.
        let mut parent: Vec<usize> = (0..facing.len()).collect();
        let mut of_pair: BTreeMap<(NarrowKind, usize, usize), usize> = BTreeMap::new();
        for (k, f) in facing.iter().enumerate() {
            let [i, j] = f.edges;
            let around = |e: usize| [self.step(e, -1), e, self.step(e, 1)];
            for other in around(i).into_iter().flat_map(|a| around(j).map(|b| (f.kind, a.min(b), a.max(b)))) {
                if let Some(&o) = of_pair.get(&other) {
                    let (a, b) = (root(&mut parent, k), root(&mut parent, o));
                    parent[a.max(b)] = a.min(b);
                }
            }
            of_pair.entry((f.kind, i.min(j), i.max(j))).or_insert(k);
        }
        let mut groups: BTreeMap<usize, Vec<&Facing>> = BTreeMap::new();
        for (k, f) in facing.iter().enumerate() {
            let rings = f.edges.map(|e| self.edges[e].ring);
            let within = rings[0] == rings[1] && whole[rings[0]];
            let its_own = (signed_area(&self.rings[rings[0]]) > 0.0) == (f.kind == NarrowKind::Neck);
            if !(within && its_own) {
                groups.entry(root(&mut parent, k)).or_default().push(f);
            }
        }
        groups.into_values().filter_map(|group| self.narrowest(group)).collect()
    }

    /// The narrowest line of a place that counts; of lines alike the one in their middle.
    fn narrowest(&self, mut group: Vec<&Facing>) -> Option<Narrow> {
        group.sort_by(|a, b| a.width.total_cmp(&b.width));
        let wide = group.last().is_some_and(|f| {
            self.beyond(f).is_some_and(|end| end.length >= LENGTH * f.width && end.share >= FULL)
        });
        // Walls that keep their distance over at least that distance.
        let parallel = |f: &Facing| {
            group.iter().any(|o| {
                let [a, b] = [f.middle(), o.middle()];
                let apart = (a[0] - b[0]).hypot(a[1] - b[1]);
                apart >= LENGTH * f.width && (o.width - f.width).abs() <= TAPER * apart
            })
        };
        let counts = |f: &Facing| match self.beyond(f) {
            None => true,
            Some(end) => {
                end.length >= LENGTH * f.width
                    && (end.share > WIDER || end.share >= FULL && (wide || parallel(f)))
            }
        };
        let first = group.iter().position(|f| counts(f))?;
        let width = group[first].width;
        let alike: Vec<&&Facing> = group[first..].iter().take_while(|f| f.width <= width + ALIKE).collect();
        #[allow(clippy::cast_precision_loss, reason = "a count of edges")]
        let mean = [0, 1].map(|i| alike.iter().map(|f| f.middle()[i]).sum::<f64>() / alike.len() as f64);
        let away = |p: [f64; 2]| (p[0] - mean[0]).hypot(p[1] - mean[1]);
        let best = alike.into_iter().min_by(|a, b| away(a.middle()).total_cmp(&away(b.middle())))?;
        Some(Narrow { kind: best.kind, width, at: best.middle() })
    }

    fn step(&self, edge: usize, by: isize) -> usize {
        let Edge { ring, at, .. } = self.edges[edge];
        let count = self.rings[ring].len();
        self.first[ring] + (at + count).saturating_add_signed(by) % count
    }

    /// Adds the lines between two edges that are short enough and have an empty disc.
    fn face(&self, i: usize, j: usize, facing: &mut Vec<Facing>) {
        if self.step(i, 1) == j || self.step(j, 1) == i {
            return;
        }
        let (a, b) = (self.edges[i].ends, self.edges[j].ends);
        for ends in lines_between(a, b) {
            let across = sub(ends[1], ends[0]);
            let width = across[0].hypot(across[1]);
            if width >= self.limits.neck.max(self.limits.slot) {
                continue;
            }
            let kind = if width < TOUCHING || self.inward(i, ends[0], across) {
                NarrowKind::Neck
            } else {
                NarrowKind::Slot
            };
            if width < self.limits.of(kind) && self.disc_is_empty(ends, width) {
                facing.push(Facing { kind, width, ends, edges: [i, j] });
            }
        }
    }

    /// Whether a direction leads from a point of an edge into the material.
    fn inward(&self, edge: usize, at: [f64; 2], direction: [f64; 2]) -> bool {
        let d = |e: usize| sub(self.edges[e].ends[1], self.edges[e].ends[0]);
        let [start, end] = self.edges[edge].ends;
        let (before, after) = if at == start {
            (d(self.step(edge, -1)), d(edge))
        } else if at == end {
            (d(edge), d(self.step(edge, 1)))
        } else {
            (d(edge), d(edge))
        };
        let (left_of_both, left_of_one) = (
            cross(before, direction) > 0.0 && cross(after, direction) > 0.0,
            cross(before, direction) > 0.0 || cross(after, direction) > 0.0,
        );
        if cross(before, after) >= 0.0 { left_of_both } else { left_of_one }
    }

    fn disc_is_empty(&self, [p, q]: [[f64; 2]; 2], width: f64) -> bool {
        let middle = [(p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0];
        let radius = width / 2.0 * DISC;
        let mut empty = true;
        self.cells_of([middle, middle], radius, |k| {
            empty = empty
                && self.cells[k].iter().all(|&e| {
                    let near = nearest(middle, self.edges[e as usize].ends);
                    (near[0] - middle[0]).hypot(near[1] - middle[1]) >= radius
                });
        });
        empty
    }

    /// What a line cuts off from the rest of its outline; `None` between outlines and where edges touch.
    fn beyond(&self, f: &Facing) -> Option<End> {
        let [i, j] = f.edges;
        let ring = self.edges[i].ring;
        if self.edges[j].ring != ring || f.width < TOUCHING {
            return None;
        }
        let points = &self.rings[ring];
        let side = |from: usize, to: usize, start: [f64; 2], end: [f64; 2]| {
            let mut part = vec![start];
            let (mut k, last) = (self.edges[from].at, self.edges[to].at);
            while k != last {
                k = (k + 1) % points.len();
                part.push(points[k]);
            }
            part.push(end);
            part
        };
        let sides = [side(i, j, f.ends[0], f.ends[1]), side(j, i, f.ends[1], f.ends[0])];
        let material = f.kind == NarrowKind::Neck;
        let across = sub(f.ends[1], f.ends[0]);
        let ends = sides.iter().map(|s| (s, signed_area(s))).filter(|(_, a)| (*a > 0.0) == material);
        // Beyond the mouth of a slot lies its dead end only; a neck has material on both sides.
        Some(ends.fold(End { length: f64::INFINITY, share: f64::INFINITY }, |least, (part, area)| {
            let reach = part.iter().map(|p| cross(across, sub(*p, f.ends[0])).abs()).fold(0.0, f64::max);
            let length = reach / f.width;
            let share = if length > 0.0 { area.abs() / (f.width * length) } else { 0.0 };
            End { length: least.length.min(length), share: least.share.min(share) }
        }))
    }
}

fn root(parent: &mut [usize], mut k: usize) -> usize {
    while parent[k] != k {
        parent[k] = parent[parent[k]];
        k = parent[k];
    }
    k
}

/// Lines between two segments on which a neck can be measured: the shortest, and between nearly parallel ones
/// also those in the middle and at the ends of what they have side by side. The middle comes first.
fn lines_between(a: [[f64; 2]; 2], b: [[f64; 2]; 2]) -> Vec<[[f64; 2]; 2]> {
    let (d, e) = (sub(a[1], a[0]), sub(b[1], b[0]));
    let square = dot(d, d);
    let mut lines = Vec::with_capacity(4);
    if cross(d, e).abs() < NEARLY_PARALLEL * (square * dot(e, e)).sqrt() {
        let share = |p: [f64; 2]| dot(sub(p, a[0]), d) / square;
        let (s, t) = (share(b[0]), share(b[1]));
        let (from, to) = (s.min(t).max(0.0), s.max(t).min(1.0));
        if from < to {
            for k in [(from + to) / 2.0, from, to] {
                let p = [a[0][0] + d[0] * k, a[0][1] + d[1] * k];
                lines.push([p, nearest(p, b)]);
            }
        }
    }
    let ends = [
        [a[0], nearest(a[0], b)],
        [a[1], nearest(a[1], b)],
        [nearest(b[0], a), b[0]],
        [nearest(b[1], a), b[1]],
    ];
    let size = |l: &[[f64; 2]; 2]| (l[1][0] - l[0][0]).hypot(l[1][1] - l[0][1]);
    lines.extend(ends.into_iter().min_by(|x, y| size(x).total_cmp(&size(y))));
    lines
}

fn nearest(p: [f64; 2], [a, b]: [[f64; 2]; 2]) -> [f64; 2] {
    let d = sub(b, a);
    let square = dot(d, d);
    let share = if square > 0.0 { dot(sub(p, a), d) / square } else { 0.0 };
    if share <= 0.0 {
        a
    } else if share >= 1.0 {
        b
    } else {
        [a[0] + d[0] * share, a[1] + d[1] * share]
    }
}

fn sub(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] - b[0], a[1] - b[1]]
}

fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

fn cross(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMITS: Limits = Limits { neck: 5.0, slot: 4.0, hole: 6.0 };

    fn rectangle(low: [f64; 2], high: [f64; 2]) -> Ring {
        vec![low, [high[0], low[1]], high, [low[0], high[1]]]
    }

    fn hole(mut ring: Ring) -> Ring {
        ring.reverse();
        ring
    }

    /// Every edge in steps of about `step` mm.
    fn divided(ring: &Ring, step: f64) -> Ring {
        let mut out = Vec::new();
        for (i, a) in ring.iter().enumerate() {
            let b = ring[(i + 1) % ring.len()];
            let count = ((b[0] - a[0]).hypot(b[1] - a[1]) / step).ceil().max(1.0);
            for k in 0..count as u32 {
                let s = f64::from(k) / count;
                out.push([a[0] + (b[0] - a[0]) * s, a[1] + (b[1] - a[1]) * s]);
            }
        }
        out
    }

    /// Finds exactly these, in any turn, place and division of the edges.
    #[track_caller]
    fn check(rings: &[Ring], wanted: &[(NarrowKind, f64, [f64; 2])], reach: f64) {
        for (degrees, far) in [(0.0_f64, 0.0), (33.0, 0.0), (90.0, 1.0e6), (211.7, -3.0e6)] {
            for step in [f64::INFINITY, 7.3, 1.0] {
                let (s, c) = degrees.to_radians().sin_cos();
                let place = |p: [f64; 2]| [far + c * p[0] - s * p[1], -far + s * p[0] + c * p[1]];
                let placed: Vec<Ring> =
                    rings.iter().map(|r| divided(r, step).into_iter().map(place).collect()).collect();
                let mut found = narrow(&placed, LIMITS);
                assert_eq!(found.len(), wanted.len(), "at {degrees} degrees, {far}, {step}: {found:?}");
                for (kind, width, at) in wanted {
                    let at = place(*at);
                    let k = found.iter().position(|f| {
                        f.kind == *kind
                            && (f.width - width).abs() < 1e-6
                            && (f.at[0] - at[0]).hypot(f.at[1] - at[1]) <= reach
                    });
                    let k = k
                        .unwrap_or_else(|| panic!("{kind:?} {width} {at:?} at {degrees}, {step}: {found:?}"));
                    found.remove(k);
                }
            }
        }
    }

    fn dumbbell(neck: f64) -> Ring {
        let (low, high) = (20.0 - neck / 2.0, 20.0 + neck / 2.0);
        vec![
            [0.0, 0.0],
            [40.0, 0.0],
            [40.0, low],
            [70.0, low],
            [70.0, 0.0],
            [110.0, 0.0],
            [110.0, 40.0],
            [70.0, 40.0],
            [70.0, high],
            [40.0, high],
            [40.0, 40.0],
            [0.0, 40.0],
        ]
    }

    #[test]
    fn a_neck_is_found_with_its_width_and_place() {
        check(&[dumbbell(3.0)], &[(NarrowKind::Neck, 3.0, [55.0, 20.0])], 0.6);
        check(&[dumbbell(4.99)], &[(NarrowKind::Neck, 4.99, [55.0, 20.0])], 0.6);
        check(&[dumbbell(5.01)], &[], 0.0);
        // Whole edges: it is measured in the middle.
        let at = narrow(&[dumbbell(3.0)], LIMITS)[0].at;
        assert!((at[0] - 55.0).abs() < 1e-9 && (at[1] - 20.0).abs() < 1e-9, "{at:?}");
    }

    #[test]
    fn a_neck_between_two_points_is_found() {
        let hourglass = vec![[0.0, 0.0], [20.0, 19.0], [40.0, 0.0], [40.0, 40.0], [20.0, 21.0], [0.0, 40.0]];
        check(&[hourglass], &[(NarrowKind::Neck, 2.0, [20.0, 20.0])], 1e-6);
        // Between a point and a straight edge.
        let beak = vec![[0.0, 0.0], [40.0, 0.0], [40.0, 40.0], [20.0, 2.5], [0.0, 40.0]];
        check(&[beak], &[(NarrowKind::Neck, 2.5, [20.0, 1.25])], 1e-6);
    }

    #[test]
    fn a_finger_is_a_neck_and_a_stub_is_not() {
        let with = |width: f64, length: f64| {
            vec![
                [0.0, 0.0],
                [60.0, 0.0],
                [60.0, 20.0],
                [60.0 + length, 20.0],
                [60.0 + length, 20.0 + width],
                [60.0, 20.0 + width],
                [60.0, 50.0],
                [0.0, 50.0],
            ]
        };
        check(&[with(3.0, 25.0)], &[(NarrowKind::Neck, 3.0, [72.5, 21.5])], 12.51);
        check(&[with(3.0, 2.0)], &[], 0.0);
        // A tip does not hide the finger it sits on, nor does a foot that gets wider.
        let pointed = vec![
            [0.0, 0.0],
            [60.0, 0.0],
            [60.0, 15.0],
            [64.0, 20.0],
            [84.0, 20.0],
            [94.0, 21.5],
            [84.0, 23.0],
            [64.0, 23.0],
            [60.0, 28.0],
            [60.0, 50.0],
            [0.0, 50.0],
        ];
        check(&[pointed], &[(NarrowKind::Neck, 3.0, [74.0, 21.5])], 10.01);
    }

    #[test]
    fn a_slot_from_the_edge_is_found_with_its_width_and_place() {
        let with = |width: f64| {
            vec![
                [0.0, 0.0],
                [100.0, 0.0],
                [100.0, 60.0],
                [50.0 + width, 60.0],
                [50.0 + width, 25.0],
                [50.0, 25.0],
                [50.0, 60.0],
                [0.0, 60.0],
            ]
        };
        check(&[with(3.5)], &[(NarrowKind::Slot, 3.5, [51.75, 42.5])], 17.51);
        check(&[with(4.01)], &[], 0.0);
        // A keyhole: the mouth is narrow, the inside wide.
        let keyhole = vec![
            [0.0, 0.0],
            [100.0, 0.0],
            [100.0, 60.0],
            [52.0, 60.0],
            [52.0, 40.0],
            [70.0, 40.0],
            [70.0, 20.0],
            [30.0, 20.0],
            [30.0, 40.0],
            [50.0, 40.0],
            [50.0, 60.0],
            [0.0, 60.0],
        ];
        check(&[keyhole], &[(NarrowKind::Slot, 2.0, [51.0, 50.0])], 10.01);
    }

    #[test]
    fn holes_are_measured_by_their_least_width_and_long_ones_are_slots() {
        let plate = || rectangle([0.0, 0.0], [100.0, 60.0]);
        check(
            &[plate(), hole(rectangle([40.0, 20.0], [45.0, 28.0]))],
            &[(NarrowKind::Hole, 5.0, [42.5, 24.0])],
            1e-6,
        );
        check(
            &[plate(), hole(rectangle([40.0, 20.0], [43.0, 50.0]))],
            &[(NarrowKind::Slot, 3.0, [41.5, 35.0])],
            1e-6,
        );
        check(&[plate(), hole(rectangle([40.0, 20.0], [45.0, 50.0]))], &[], 0.0);
        // A circle of 5.9 mm in 64 edges is cos(180°/64) as wide between flats.
        let circle: Ring = (0..64)
            .map(|k| {
                let (s, c) = (f64::from(k) * std::f64::consts::TAU / 64.0).sin_cos();
                [50.0 + 2.95 * c, 30.0 - 2.95 * s]
            })
            .collect();
        let width = 5.9 * (std::f64::consts::PI / 64.0).cos();
        check(&[plate(), circle], &[(NarrowKind::Hole, width, [50.0, 30.0])], 1e-5);
    }

    #[test]
    fn material_left_between_holes_and_to_the_rim_is_a_neck() {
        let rings = [
            rectangle([0.0, 0.0], [100.0, 60.0]),
            hole(rectangle([10.0, 20.0], [40.0, 40.0])),
            hole(rectangle([42.0, 20.0], [97.5, 40.0])),
        ];
        let wanted = [(NarrowKind::Neck, 2.0, [41.0, 30.0]), (NarrowKind::Neck, 2.5, [98.75, 30.0])];
        check(&rings, &wanted, 10.01);
    }

    #[test]
    fn sharp_corners_and_tips_are_no_necks() {
        let point =
            |width: f64, blunt: f64| vec![[0.0, -width], [400.0, -blunt], [400.0, blunt], [0.0, width]];
        // 1 and 12 degrees at the tip, cut off at 0.4 mm.
        check(&[point(3.5, 0.2)], &[], 0.0);
        check(&[point(42.0, 0.2)], &[], 0.0);
        check(&[vec![[0.0, 0.0], [300.0, 0.0], [280.0, 60.0]]], &[], 0.0);
        // A notch that ends in a point is no slot.
        check(
            &[vec![
                [0.0, 0.0],
                [100.0, 0.0],
                [100.0, 60.0],
                [55.0, 60.0],
                [50.0, 5.5],
                [45.0, 60.0],
                [0.0, 60.0],
            ]],
            &[],
            0.0,
        );
    }

    #[test]
    fn wavy_edges_have_neither_necks_nor_slots_at_their_crests() {
        for (pitch, height) in [(76.0, 9.0), (20.0, 30.0), (12.0, 60.0)] {
            for steps in [6_u32, 13, 40] {
                let mut ring: Ring = (0..=20 * steps)
                    .map(|k| {
                        let x = f64::from(k) * pitch / f64::from(steps);
                        [x, height * (x / pitch * std::f64::consts::TAU).sin()]
                    })
                    .collect();
                ring.extend([[20.0 * pitch, 200.0], [0.0, 200.0]]);
                assert_eq!(narrow(&[ring], LIMITS), [], "{pitch} × {height} in {steps}");
            }
        }
    }

    #[test]
    fn many_edges_take_no_long_time_and_twice_gives_the_same() {
        let ring = divided(&dumbbell(3.0), 0.15);
        assert!(ring.len() > 1_500, "{}", ring.len());
        let found = narrow(std::slice::from_ref(&ring), LIMITS);
        assert_eq!((found.len(), found[0].kind), (1, NarrowKind::Neck));
        assert_eq!(found, narrow(&[ring], LIMITS));
        assert_eq!(narrow(&[], LIMITS), []);
    }
}
