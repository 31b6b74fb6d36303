//! Steps as pictures: the chamber as it lies on the rig, seen into from both sides and both ends, the liquid's level, what
//! is wet, and the angles to read.

use super::super::sketch::{Seen, label};
use super::Coated;
use crate::coat::{Spot, Stand, Step};
use crate::drawing::{Drawing, Layer, Path};
use crate::liquid::{Chamber, Posed};
use crate::polygon::cut;
use nalgebra::{Point3, Vector3};
use std::collections::BTreeMap;

/// Room round each picture, in sizes of the chamber.
const GAP: f64 = 0.3;
/// From row to row, in sizes of the chamber.
const ROW: f64 = 2.2;
/// Letters, in sizes of the chamber.
const LETTERS: f64 = 0.075;
/// How far below a row the legend is, in sizes of the chamber: clear of what the row says.
const LEGEND: f64 = 1.35;
/// How far below the middle the name of a view stands, in sizes of the chamber: clear of the ring and its figures.
const NAME: f64 = 0.77;
/// Distance of the strokes on what is newly wet, in sizes of the chamber; on what was wet before it is this many times more.
const STROKES: f64 = 0.02;
const SPARSE: f64 = 3.0;
/// The ring on which turns are read, in sizes of the chamber, and the chord of its arcs, degrees.
const RING: f64 = 0.58;
const CHORD: f64 = 5.0;
/// A wall that looks at the viewer by less than this cosine is seen into.
const SEEN_INTO: f64 = -0.02;
/// Shorter strokes are not drawn, in sizes of the chamber.
const SHORT: f64 = 1.0e-3;

/// Edges where two walls meet, with the triangles beside them.
fn seams(chamber: &Chamber) -> Vec<([Point3<f64>; 2], [usize; 2])> {
    let mut by_ends: BTreeMap<[u32; 2], Vec<usize>> = BTreeMap::new();
    for t in 0..chamber.triangles() {
        let [a, b, c] = chamber.indices(t);
        for [p, q] in [[a, b], [b, c], [c, a]] {
            by_ends.entry([p.min(q), p.max(q)]).or_default().push(t);
        }
    }
    by_ends
        .into_iter()
        .filter_map(|(ends, sides)| {
            let &[p, q] = sides.as_slice() else { return None };
            let seam = chamber.part_of[p] != chamber.part_of[q];
            seam.then(|| (ends.map(|k| chamber.corner(k as usize)), [p, q]))
        })
        .collect()
}

/// Where walls cut a level plane: ends of straight pieces.
fn section(posed: &Posed<'_>, level: f64) -> Vec<[Point3<f64>; 2]> {
    let mut pieces = Vec::new();
    for t in 0..posed.chamber.triangles() {
        let corners = posed.chamber.corners(t);
        let h = corners.map(|p| posed.height_of(&p) - level);
        let mut ends = Vec::with_capacity(2);
        for k in 0..3 {
            let (i, j) = (k, (k + 1) % 3);
            if (h[i] <= 0.0) != (h[j] <= 0.0) {
                ends.push(corners[i] + (corners[j] - corners[i]) * (h[i] / (h[i] - h[j])));
            }
        }
        if let [a, b] = ends[..] {
            pieces.push([a, b]);
        }
    }
    pieces
}

/// A view of the chamber on a page.
struct View<'a, 'b> {
    one: &'a Coated<'b>,
    drawing: &'a mut Drawing,
    right: Vector3<f64>,
    up: Vector3<f64>,
    /// Where the chamber's middle comes to lie.
    at: [f64; 2],
}

impl View<'_, '_> {
    fn chamber(&self) -> &Chamber {
        &self.one.enclosed.chamber
    }

    fn seen_into(&self, triangle: usize) -> bool {
        let area = self.chamber().area_vector(triangle);
        area.dot(&self.right.cross(&self.up)) < SEEN_INTO * area.norm()
    }

    fn seen(&mut self) -> Seen<'_> {
        let middle = self.one.enclosed.chamber.middle.coords;
        let at = [self.at[0] - middle.dot(&self.right), self.at[1] - middle.dot(&self.up)];
        Seen { drawing: self.drawing, axes: [self.right, self.up], at }
    }

    fn walls(&mut self, seams: &[([Point3<f64>; 2], [usize; 2])]) {
        for (ends, sides) in seams {
            if sides.iter().any(|&t| self.seen_into(t)) {
                self.seen().line(Layer::Seam, &ends[0], &ends[1]);
            }
        }
    }

    /// Strokes on pieces of walls seen into: along a slope of 1 or −1, all on one set of lines, joined where they meet.
    fn strokes(&mut self, spots: &[Spot], rising: bool, apart: f64) {
        let slope = if rising { 1.0 } else { -1.0 };
        let root = std::f64::consts::FRAC_1_SQRT_2;
        let mut lines: BTreeMap<i64, Vec<[f64; 2]>> = BTreeMap::new();
        for spot in spots.iter().filter(|s| self.seen_into(s.triangle)) {
            // Along the strokes, and from one to the next.
            let flat: Vec<[f64; 2]> = spot
                .corners
                .iter()
                .map(|p| {
                    let (x, y) = (p.dot(&self.right), p.dot(&self.up));
                    [(x + slope * y) * root, (y - slope * x) * root]
                })
                .collect();
            let low = flat.iter().map(|p| p[1]).fold(f64::INFINITY, f64::min);
            let high = flat.iter().map(|p| p[1]).fold(f64::NEG_INFINITY, f64::max);
            #[allow(clippy::cast_possible_truncation, reason = "a chamber is some hundred strokes wide")]
            let (first, last) = ((low / apart).ceil() as i64, (high / apart).floor() as i64);
            for k in first..=last {
                #[allow(clippy::cast_precision_loss, reason = "small numbers")]
                let y = k as f64 * apart;
                let mut stretch = [f64::INFINITY, f64::NEG_INFINITY];
                for i in 0..flat.len() {
                    let (a, b) = (flat[i], flat[(i + 1) % flat.len()]);
                    if (a[1] <= y) != (b[1] <= y) {
                        let x = a[0] + (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]);
                        stretch = [stretch[0].min(x), stretch[1].max(x)];
                    }
                }
                if stretch[0] < stretch[1] {
                    lines.entry(k).or_default().push(stretch);
                }
            }
        }
        let short = SHORT * self.chamber().size;
        for (k, mut stretches) in lines {
            stretches.sort_by(|a, b| a[0].total_cmp(&b[0]));
            let mut joined: Vec<[f64; 2]> = Vec::new();
            for s in stretches {
                match joined.last_mut() {
                    Some(last) if s[0] <= last[1] + short => last[1] = last[1].max(s[1]),
                    _ => joined.push(s),
                }
            }
            #[allow(clippy::cast_precision_loss, reason = "small numbers")]
            let y = k as f64 * apart;
            for [a, b] in joined.into_iter().filter(|s| s[1] - s[0] > short) {
                let place =
                    |x: f64| [self.at[0] + (x - slope * y) * root, self.at[1] + (slope * x + y) * root];
                self.drawing.paths.push(Path::open(Layer::Fold, vec![place(a), place(b)]));
            }
        }
    }

    fn level(&mut self, pieces: &[[Point3<f64>; 2]]) {
        for [a, b] in pieces {
            self.seen().line(Layer::Cut, a, b);
        }
    }

    fn axis(&mut self) {
        let (rig, reach) = (self.one.rigs[self.rig()], self.chamber().size * RING);
        let axis = rig.axis.into_inner() * reach;
        self.seen().line(Layer::Helper, &(rig.through - axis), &(rig.through + axis));
    }

    fn rig(&self) -> usize {
        self.one.shown
    }
}

/// All steps of a chamber below each other, to pin beside the rig.
pub(super) fn strip(one: &Coated<'_>, number: usize) -> Drawing {
    let mut drawing = Drawing {
        name: format!("coating-{number}"),
        title: format!("Coating {}: all steps", one.enclosed.name),
        ..Drawing::default()
    };
    let seams = seams(&one.enclosed.chamber);
    let size = one.enclosed.chamber.size;
    let mut wet = Vec::new();
    for k in 0..one.plan.steps.len() {
        #[allow(clippy::cast_precision_loss, reason = "few")]
        let y = -(k as f64) * size * ROW;
        row(&mut drawing, one, k, &wet, &seams, y);
        wet.extend(one.plan.steps[k].newly.iter().cloned());
    }
    #[allow(clippy::cast_precision_loss, reason = "few")]
    legend(&mut drawing, size, (1.0 - one.plan.steps.len() as f64) * size * ROW);
    drawing
}

/// Each step by itself, for the book.
pub(super) fn steps(one: &Coated<'_>, number: usize) -> Vec<Drawing> {
    let seams = seams(&one.enclosed.chamber);
    let size = one.enclosed.chamber.size;
    let mut wet = Vec::new();
    let mut all = Vec::new();
    for (k, step) in one.plan.steps.iter().enumerate() {
        let mut drawing = Drawing {
            name: format!("coat-{number}-{}", k + 1),
            title: format!("Coating {}, step {}: {}", one.enclosed.name, k + 1, super::spoken(&step.turn)),
            ..Drawing::default()
        };
        row(&mut drawing, one, k, &wet, &seams, 0.0);
        legend(&mut drawing, size, 0.0);
        wet.extend(step.newly.iter().cloned());
        all.push(drawing);
    }
    all
}

fn row(
    drawing: &mut Drawing,
    one: &Coated<'_>,
    k: usize,
    wet: &[Spot],
    seams: &[([Point3<f64>; 2], [usize; 2])],
    y: f64,
) {
    let chamber = &one.enclosed.chamber;
    let (step, carried) = (&one.plan.steps[k], &one.carried[k]);
    let (size, height) = (chamber.size, chamber.size * LETTERS);
    let one = &Coated { shown: step.turn.rig, ..one.clone() };
    let rig = &one.rigs[step.turn.rig];
    let stand = step.stands[0];
    let posed = Posed::new(chamber, rig.up(stand));
    let up = posed.up.into_inner();
    let pieces = section(&posed, carried.level);
    let left = rig.left(stand);
    let turned = rig.up(Stand { tilt: 0.0, ..stand }).into_inner();
    let ahead = left.cross(&up);
    let ahead = if ahead.dot(&rig.axis) >= 0.0 { ahead } else { -ahead };
    let cell = size * (1.0 + GAP);
    // From the side with the far end at the right, from the other side, from the far end, from the near end.
    let views = [
        (ahead, up, "far end right"),
        (-ahead, up, "far end left"),
        (-left, turned, "from the far end"),
        (left, turned, "from the near end"),
    ];
    let mut x = 0.0;
    for (right, upward, words) in views {
        let mut view = View { one, drawing: &mut *drawing, right, up: upward, at: [x, y] };
        view.strokes(wet, false, size * STROKES * SPARSE);
        view.strokes(&step.newly, true, size * STROKES);
        view.walls(seams);
        view.level(&pieces);
        view.axis();
        drawing.labels.push(label([x, y - size * NAME], height * 0.8, words));
        x += cell;
    }
    let ring = [2.0 * cell, y];
    turn(drawing, step, ring, size * RING, height);
    let below = y - size * NAME - height * 2.2;
    let middle = 1.5 * cell;
    let words = format!("{}. {}", k + 1, super::spoken(&step.turn));
    drawing.labels.push(label([middle, below], height * 1.2, words));
    let load = &carried.peak;
    let wet = 100.0 * (1.0 - super::area(&step.dry) / one.plan.area);
    let second = format!(
        "wet after it {wet:.1} %; {:.0} kg on the rig, at most {:.0} N·m at turn {:.0}°",
        load.mass,
        load.moment.abs(),
        carried.peak_at
    );
    drawing.labels.push(label([middle, below - height * 1.8], height, second));
}

/// The ring on which the turn is read, from the far end: where the mark of turn 0 goes.
fn turn(drawing: &mut Drawing, step: &Step, at: [f64; 2], radius: f64, height: f64) {
    // Degrees counter-clockwise from the top.
    let place = |angle: f64, r: f64| {
        let (sin, cos) = angle.to_radians().sin_cos();
        [at[0] - r * sin, at[1] + r * cos]
    };
    let (from, sweep) = (step.turn.from, step.turn.sweep);
    let mut arc = vec![place(from, radius)];
    let mut gone = 0.0;
    while gone < sweep {
        gone = (gone + CHORD).min(sweep);
        arc.push(place(from + gone, radius));
    }
    if arc.len() > 1 {
        drawing.paths.push(Path::open(Layer::Seam, arc));
    }
    for angle in [from, from + sweep] {
        drawing
            .paths
            .push(Path::open(Layer::Seam, vec![place(angle, radius * 0.94), place(angle, radius * 1.06)]));
        if step.turn.is_full() {
            break;
        }
    }
    if sweep > 0.0 {
        let tip = place(from + sweep, radius);
        let back = place(from + sweep - CHORD, radius);
        let (dx, dy) = (tip[0] - back[0], tip[1] - back[1]);
        let wing = |s: f64| [back[0] - s * dy * 0.6, back[1] + s * dx * 0.6];
        drawing.paths.push(Path::open(Layer::Seam, vec![wing(1.0), tip, wing(-1.0)]));
    }
    // The pointer of the rig, at the top.
    let top = place(0.0, radius * 1.08);
    let wing = |s: f64| [top[0] + s * height * 0.5, top[1] + height];
    drawing.paths.push(Path::closed(Layer::Seam, vec![top, wing(1.0), wing(-1.0)]));
    let mut angles = Vec::new();
    if !step.turn.is_full() {
        angles.push(from);
        if sweep > 0.0 {
            angles.push(from + sweep);
        }
    }
    for angle in angles {
        let words = super::degrees(angle.rem_euclid(crate::coat::poses::FULL));
        let mut at = place(angle, radius * 1.06 + height * 1.4);
        at[1] -= height / 2.0;
        drawing.labels.push(label(at, height * 0.9, words));
    }
}

/// What the strokes mean, below the row at `row`.
fn legend(drawing: &mut Drawing, size: f64, row: f64) {
    let (y, height) = (row - size * LEGEND, size * LETTERS);
    let cell = size * (1.0 + GAP);
    let lines = [
        "ring: where the mark of turn 0 goes, from the rig's pointer at the top",
        "heavy level line: liquid at the start",
    ];
    for (k, words) in (0_u32..).zip(lines) {
        let down = height * (1.8 + 1.5 * f64::from(k));
        drawing.labels.push(label([1.5 * cell, y - down], height * 0.8, words));
    }
    let entries = [
        (Some((1.0, 1.0)), "wet first in this step"),
        (Some((-1.0, SPARSE)), "wet before"),
        (None, "not wet yet"),
    ];
    for (k, (strokes, words)) in entries.into_iter().enumerate() {
        #[allow(clippy::cast_precision_loss, reason = "three")]
        let x = cell * (0.1 + 1.3 * k as f64) - cell * 0.3;
        let (w, h) = (height * 3.0, height * 1.4);
        let corners = [[x, y], [x + w, y], [x + w, y + h], [x, y + h]];
        drawing.paths.push(Path::closed(Layer::Seam, corners.to_vec()));
        if let Some((slope, sparse)) = strokes {
            let polygon: Vec<Vector3<f64>> = corners.iter().map(|c| Vector3::new(c[0], c[1], 0.0)).collect();
            let apart = size * STROKES * sparse * std::f64::consts::SQRT_2;
            let mut offset = apart / 2.0;
            while offset < w + h {
                let start = if slope > 0.0 { y - x + h - offset } else { y + x + offset };
                // The line y = slope·x + start, within the box.
                let over = cut(&polygon, |p| slope * p.x + start - p.y);
                let ends: Vec<[f64; 2]> = over
                    .iter()
                    .filter(|p| (p.y - slope * p.x - start).abs() < size * SHORT)
                    .map(|p| [p.x, p.y])
                    .collect();
                if let [a, b, ..] = ends[..] {
                    drawing.paths.push(Path::open(Layer::Fold, vec![a, b]));
                }
                offset += apart;
            }
        }
        let mut name = label([x + w + height * 0.6, y + h * 0.2], height * 0.9, words);
        name.centred = false;
        drawing.labels.push(name);
    }
}
