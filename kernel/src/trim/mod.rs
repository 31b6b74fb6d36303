//! The trim: what shows of every sheet, strip by strip, and of every wall between two cells.
//!
//! Each strip of a sheet is planar; every other sheet crosses its plane in a polyline with one vertex per
//! fold, and every wall in a straight line. So the visible part of a strip is bounded by straight segments:
//! pieces of folds, of other sheets' chains and of walls. Each such line is cut where it passes through any
//! further sheet (one dimension only, see `crossing`), each piece is kept if what shows differs on its two
//! sides (see `field`), and the pieces are linked to loops. No mesh boolean is needed, and every edge knows
//! what made it. Cost is linear in strips.
//!
//! Degenerate positions (coplanar sheets, ribs of two faces in one plane, four faces at a corner) are made
//! general by moving each sheet by a few billionths of the work's size: outward, so that faces in contact
//! overlap and merge, and by an amount of its own, so that no two strips coincide. The move is far above
//! rounding and far below anything that is measured; what it splits off is welded again in `shell`.

pub(crate) mod carrier;
pub(crate) mod crossing;
pub(crate) mod field;
mod link;
mod wall;
pub(crate) mod window;

use crate::cladding::Sheet;
use crate::loft::Edge;
use crate::polygon::holds;
use carrier::{Carrier, Curve, Scratch, Segment, Shows};
use field::{Field, Near, Sample};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;
use window::{Linear, clip, range};

/// What a patch belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Owner {
    /// A clad face (index of its sheet).
    Face(usize),
    /// A closure strip between the cells of two faces (sheet indices, ascending).
    Closure(usize, usize),
}

/// A corner of a patch.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Corner {
    /// In local coordinates, mm.
    pub(crate) point: Point3<f64>,
    /// On the carrier: (S, T) of a strip, (x, y) of a wall.
    pub(crate) plan: [f64; 2],
}

/// A planar piece of the shell.
#[derive(Debug, Clone)]
pub(crate) struct Patch {
    pub(crate) owner: Owner,
    /// Strip index within its sheet.
    pub(crate) strip: i64,
    /// Unit normal out of the body.
    pub(crate) normal: Vector3<f64>,
    /// Loops, body's surface on the left seen from outside.
    pub(crate) loops: Vec<Vec<Corner>>,
    /// Area, mm².
    pub(crate) area: f64,
    /// Centroid, local.
    pub(crate) centroid: Point3<f64>,
    /// Where (0, 0) of the carrier lies, and its two axes.
    pub(crate) origin: Point3<f64>,
    pub(crate) axes: [Vector3<f64>; 2],
}

/// What the trim found.
#[derive(Debug, Default)]
pub(crate) struct Trimmed {
    pub(crate) patches: Vec<Patch>,
    /// Carriers whose boundary did not close.
    pub(crate) open: usize,
}

/// A strip and the part of its plane that may show.
struct Strip {
    index: i64,
    origin: Point3<f64>,
    e1: Vector3<f64>,
    e2: Vector3<f64>,
    window: Vec<[f64; 2]>,
    /// Of a cell of a surveyed sheet: its corners, each with the edge that starts there.
    outline: Vec<([f64; 2], Option<Edge>)>,
}

impl Strip {
    /// The corners of its window in space, local.
    fn corners(&self) -> Vec<Point3<f64>> {
        self.window.iter().map(|p| self.origin + self.e1 * p[0] + self.e2 * p[1]).collect()
    }
}

/// Box of an element or face, grown by the margin.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Bounds {
    pub(crate) low: Point3<f64>,
    pub(crate) high: Point3<f64>,
}

/// Windows reach this share of the work's size beyond what can show, so that no true edge lies on one.
const WINDOW_MARGIN: f64 = 1.0e-5;
/// First guess of how far a sheet may run, in sizes of the work: a wedge of two degrees is some hundred
/// depths longer with its corrugation than without.
const REACH: f64 = 1.0e3;
/// Ends that should meet may differ by this share of the work's size: rounding, magnified where two lines
/// meet at a shallow angle.
const LINK_TOLERANCE: f64 = 1.0e-6;

impl Bounds {
    fn none() -> Self {
        Self {
            low: Point3::new(f64::INFINITY, f64::INFINITY, f64::INFINITY),
            high: Point3::new(f64::NEG_INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY),
        }
    }

    fn include(&mut self, p: &Point3<f64>) {
        self.low = self.low.inf(p);
        self.high = self.high.sup(p);
    }

    fn join(&mut self, other: &Self) {
        self.low = self.low.inf(&other.low);
        self.high = self.high.sup(&other.high);
    }

    fn meets(&self, other: &Self, margin: f64) -> bool {
        (0..3).all(|i| self.low[i] <= other.high[i] + margin && other.low[i] <= self.high[i] + margin)
    }
}

/// Trims all sheets of the field against each other.
pub(crate) fn trim(field: &Field) -> Trimmed {
    let margin = WINDOW_MARGIN * field.size;
    let strips: Vec<Vec<Strip>> =
        (0..field.sheets.len()).into_par_iter().map(|f| strips_of(field, f, margin)).collect();
    let face_bounds: Vec<Bounds> = strips
        .iter()
        .map(|strips| {
            let mut bounds = Bounds::none();
            for s in strips {
                for p in &s.window {
                    bounds.include(&(s.origin + s.e1 * p[0] + s.e2 * p[1]));
                }
            }
            bounds
        })
        .collect();
    let bounds: Vec<Bounds> = field
        .elements
        .iter()
        .map(|e| {
            let mut all = Bounds::none();
            for f in e.clone() {
                all.join(&face_bounds[f]);
            }
            all
        })
        .collect();
    let mut tasks: Vec<Arc<Trimmed>> = strips
        .par_iter()
        .enumerate()
        .map(|(f, strips)| {
            let own = field.sheets[f].element;
            let elements: Vec<usize> = (0..field.elements.len())
                .filter(|&e| e == own || bounds[e].meets(&face_bounds[f], margin))
                .collect();
            let near = field.near(&elements);
            let face = || trim_face(field, f, strips, &near);
            match face_key(field, f, strips, &near, margin) {
                Some(key) => field.memo.found(key, face),
                None => Arc::new(face()),
            }
        })
        .collect();
    if field.bisected.any() {
        tasks.push(Arc::new(wall::trim_walls(field, &bounds, margin)));
    }
    tasks.into_iter().fold(Trimmed::default(), |mut all, one| {
        match Arc::try_unwrap(one) {
            Ok(one) => {
                all.patches.extend(one.patches);
                all.open += one.open;
            }
            Err(kept) => {
                all.patches.extend(kept.patches.iter().cloned());
                all.open += kept.open;
            }
        }
        all
    })
}

/// What a memo's keys of faces begin with.
const FACE_KEY: u64 = 1;

/// All that the trim of a face depends on, for the memo; none where it is not to be kept. Of a sheet that each of the
/// face's windows lies wholly below, above or clear of the element of, nothing but the plane matters: no line of the face
/// is looked at any nearer.
fn face_key(field: &Field, f: usize, strips: &[Strip], near: &Near, margin: f64) -> Option<Vec<u64>> {
    if !field.memo.keeps() || near.sheets.iter().any(|&g| field.sheets[g].loft.is_some()) {
        return None;
    }
    let own = field.sheets[f].element;
    let corners: Vec<Vec<Point3<f64>>> = strips.iter().map(Strip::corners).collect();
    // Of an element that takes no part in any window, nothing matters at all.
    let mut takes_part = vec![false; near.elements.len()];
    for i in 0..strips.len() {
        for (takes_part, nearer) in
            takes_part.iter_mut().zip(field.take_part(near, own, place(&corners, i), margin))
        {
            *takes_part |= nearer;
        }
    }
    let mut key = vec![FACE_KEY, f as u64, field.size.to_bits(), u64::from(field.bisected.any())];
    key.extend([near.sheets.len() as u64, near.elements.len() as u64, strips.len() as u64]);
    key.extend(near.elements.iter().zip(&takes_part).flat_map(|(e, t)| [e.len() as u64, u64::from(*t)]));
    for strip in strips {
        key.push(strip.index.cast_unsigned());
        let axes = strip.origin.iter().chain(strip.e1.iter()).chain(strip.e2.iter());
        key.extend(axes.chain(strip.window.iter().flatten()).map(|x| x.to_bits()));
        key.push(strip.window.len() as u64);
    }
    let range = |g: usize, window: &[Point3<f64>]| {
        let all = window.iter().map(|p| field.sheets[g].outward(p));
        all.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], d| [low.min(d), high.max(d)])
    };
    // Which windows are clear of which other element.
    let clear: Vec<Vec<bool>> = near
        .elements
        .iter()
        .map(|e| {
            let sheets = &near.sheets[e.clone()];
            let is_other = sheets.first().is_some_and(|&g| field.sheets[g].element != own);
            let is_clear = |w: &Vec<Point3<f64>>| {
                is_other && sheets.iter().any(|&g| field.is_clear_of(g, range(g, w)[0], margin))
            };
            corners.iter().map(is_clear).collect()
        })
        .collect();
    let parties = near.elements.iter().zip(&takes_part).filter(|(_, takes_part)| **takes_part);
    let parties: Vec<usize> = parties.flat_map(|(e, _)| e.clone()).collect();
    for &k in &parties {
        let g = near.sheets[k];
        let sheet = &field.sheets[g];
        key.push(g as u64);
        sheet.plane_bits(&mut key);
        let element = near.elements.iter().position(|e| e.contains(&k));
        let matters = g == f
            || corners.iter().enumerate().any(|(w, window)| {
                let [low, high] = range(g, window);
                let is_clear = element.is_some_and(|e| clear[e][w]);
                !is_clear && high >= sheet.low - margin && low <= sheet.high + margin
            });
        key.push(u64::from(matters));
        if matters {
            sheet.rib_bits(&mut key);
        }
        if field.bisected.any() {
            key.extend(parties.iter().map(|&h| u64::from(field.bisected.has(g, near.sheets[h]))));
        }
    }
    Some(key)
}

/// Trims one face against its own element only: the sheet as it is when kept whole under another element.
pub(crate) fn trim_face_alone(field: &Field, f: usize) -> Trimmed {
    let strips = strips_of(field, f, WINDOW_MARGIN * field.size);
    trim_face(field, f, &strips, &field.near(&[field.sheets[f].element]))
}

/// The strips of a sheet that may show, each with its window.
fn strips_of(field: &Field, f: usize, margin: f64) -> Vec<Strip> {
    let sheet = &field.sheets[f];
    let reach = REACH * field.size;
    let own = field.elements[sheet.element].clone();
    // A bisected sheet is cut where its neighbour's plane is as far as its own, so the neighbour's crests
    // do not bound it; the highest of all does.
    let highest =
        own.clone().map(|g| field.sheets[g].high + field.sheets[g].lift).fold(f64::NEG_INFINITY, f64::max);
    let bound = |g: &Sheet| {
        if field.bisected.any() { highest.max(g.high + g.lift) - g.lift } else { g.high }
    };
    let mut scratch = Vec::new();
    let mut outline = vec![[-reach, -reach], [reach, -reach], [reach, reach], [-reach, reach]];
    for g in own.clone().filter(|&g| g != f) {
        let g = &field.sheets[g];
        // The sheet wanders off its plane by its heights, which moves it along g's normal by so much.
        let slack = sheet.n.dot(&g.n).abs() * sheet.high.max(-sheet.low);
        let limit: Linear =
            [g.outward(&sheet.c) - bound(g) - slack - margin, g.n.dot(&sheet.u), g.n.dot(&sheet.v)];
        clip(&mut outline, limit, &mut scratch);
        if outline.is_empty() {
            return Vec::new();
        }
    }
    let (s_low, s_high) = range(&outline, [0.0, 1.0, 0.0]);
    let (t_low, t_high) = range(&outline, [0.0, 0.0, 1.0]);
    // What bounds a strip, in its own two coordinates.
    let bounded = |mut strip: Strip| {
        let mut scratch = Vec::new();
        for g in own.clone().filter(|&g| g != f) {
            let g = &field.sheets[g];
            let limit: Linear =
                [g.outward(&strip.origin) - bound(g) - margin, g.n.dot(&strip.e1), g.n.dot(&strip.e2)];
            clip(&mut strip.window, limit, &mut scratch);
        }
        (strip.window.len() >= 3).then_some(strip)
    };
    if let Some(loft) = &sheet.loft {
        let cells = loft.cells([s_low, s_high], [t_low, t_high]);
        return cells
            .filter_map(|cell| {
                let plane = loft.plane(cell);
                let outline = loft.outline(cell, [s_low, s_high]);
                bounded(Strip {
                    index: cell.node,
                    origin: sheet.c + sheet.v * plane.start[0] + sheet.n * plane.start[1],
                    e1: sheet.u + sheet.v * plane.per_s[0] + sheet.n * plane.per_s[1],
                    e2: sheet.v * plane.per_q[0] + sheet.n * plane.per_q[1],
                    window: outline.iter().map(|(corner, _)| *corner).collect(),
                    outline,
                })
            })
            .collect();
    }
    (sheet.strip_of(t_low)..=sheet.strip_of(t_high))
        .filter_map(|index| {
            let line = sheet.strip_line(index);
            let (from, to) = (sheet.fold(index).max(t_low), sheet.fold(index + 1).min(t_high));
            let (from, to) = (
                if sheet.fold(index).is_finite() { sheet.fold(index) } else { from },
                if sheet.fold(index + 1).is_finite() { sheet.fold(index + 1) } else { to },
            );
            let origin = sheet.c + sheet.n * line.height;
            let e2 = sheet.v + sheet.n * line.slope;
            let window = vec![[s_low, from], [s_high, from], [s_high, to], [s_low, to]];
            bounded(Strip { index, origin, e1: sheet.u, e2, window, outline: Vec::new() })
        })
        .collect()
}

/// Corners of what is looked at from a strip: its window, and that of the next.
fn place(corners: &[Vec<Point3<f64>>], i: usize) -> impl Iterator<Item = &Point3<f64>> + Clone {
    corners[i].iter().chain(corners.get(i + 1).into_iter().flatten())
}

/// What shows of near sheet `own` at a sample on it.
fn shows_of<'a>(field: &'a Field, near: &'a Near, own: usize) -> impl Fn(&mut Sample) -> i8 + 'a {
    move |sample| {
        sample.below[own] = false;
        if field.body(near, sample) {
            return 0;
        }
        sample.below[own] = true;
        i8::from(field.body(near, sample))
    }
}

fn trim_face(field: &Field, f: usize, strips: &[Strip], near: &Near) -> Trimmed {
    let sheet = &field.sheets[f];
    let mut scratch = Scratch::default();
    let mut done = Trimmed::default();
    if sheet.loft.is_some() {
        let Some(own) = near.sheets.iter().position(|&g| g == f) else { return done };
        trim_cells((field, f, own), strips, near, &shows_of(field, near, own), &mut done);
        return done;
    }
    let corners: Vec<Vec<Point3<f64>>> = strips.iter().map(Strip::corners).collect();
    // Pieces of the fold between the strip before and this one, in the direction of +S.
    let mut fold: Vec<Segment> = Vec::new();
    for (i, strip) in strips.iter().enumerate() {
        // The fold to the next strip is looked at from this one.
        let near = field.nearer(near, sheet.element, place(&corners, i), WINDOW_MARGIN * field.size);
        let Some(own) = near.sheets.iter().position(|&g| g == f) else { return done };
        let shows = &shows_of(field, &near, own);
        let carrier =
            Carrier::new(field, &near, strip.origin, strip.e1, strip.e2, strip.window.clone(), Some(own));
        let mut out = [Vec::new(), Vec::new()];
        out[0].append(&mut fold);
        if i > 0 && strips[i - 1].index + 1 != strip.index {
            out[0].clear();
        }
        for k in (0..near.sheets.len()).filter(|&k| k != own) {
            carrier.cut_by_sheet(k, shows, &mut scratch, &mut out);
        }
        for pair in carrier.walls() {
            carrier.cut_by_wall(pair, shows, &mut scratch, &mut out);
        }
        let upper = sheet.fold(strip.index + 1);
        if let Some(next) = strips.get(i + 1)
            && next.index == strip.index + 1
            && let Some(ends) = fold_line(&[&strip.window, &next.window], upper)
        {
            let mut pieces = [Vec::new(), Vec::new()];
            carrier.classify(ends, Curve::Fold, shows, &mut scratch, &mut pieces);
            let [along, _] = pieces;
            out[0].extend(along.iter().map(|s| Segment { from: s.to, to: s.from }));
            fold = along;
        }
        let [mut segments, _] = out;
        let normal = sheet.u.cross(&strip.e2).normalize();
        let stretch = strip.e2.norm();
        close(&carrier, &mut segments, Owner::Face(f), strip.index, normal, stretch, 1.0, &mut done);
    }
    done
}

/// Trims the cells of a surveyed sheet. An edge between two of them is looked at once, so that both see the same.
fn trim_cells(
    (field, f, own): (&Field, usize, usize),
    cells: &[Strip],
    near: &Near,
    shows: Shows<'_>,
    done: &mut Trimmed,
) {
    let mut scratch = Scratch::default();
    let mut sharers: BTreeMap<Edge, u8> = BTreeMap::new();
    for edge in cells.iter().flat_map(|c| &c.outline).filter_map(|(_, edge)| *edge) {
        *sharers.entry(edge).or_default() += 1;
    }
    let mut seen: BTreeMap<Edge, Vec<Segment>> = BTreeMap::new();
    for cell in cells {
        let carrier =
            Carrier::new(field, near, cell.origin, cell.e1, cell.e2, cell.window.clone(), Some(own));
        let mut out = [Vec::new(), Vec::new()];
        for k in (0..near.sheets.len()).filter(|&k| k != own) {
            carrier.cut_by_sheet(k, shows, &mut scratch, &mut out);
        }
        for pair in carrier.walls() {
            carrier.cut_by_wall(pair, shows, &mut scratch, &mut out);
        }
        let corners = &cell.outline;
        for (i, (corner, edge)) in corners.iter().enumerate() {
            let Some(edge) = edge else { continue };
            // Nothing shows of a neighbour that was left out, so nothing does of the edge.
            if sharers[edge] < 2 {
                continue;
            }
            if let Some(pieces) = seen.remove(edge) {
                out[0].extend(pieces.iter().map(|s| Segment { from: s.to, to: s.from }));
                continue;
            }
            let ends = [*corner, corners[(i + 1) % corners.len()].0];
            let mut pieces = [Vec::new(), Vec::new()];
            carrier.classify(ends, Curve::Fold, shows, &mut scratch, &mut pieces);
            let [along, _] = pieces;
            out[0].extend(&along);
            seen.insert(*edge, along);
        }
        let [mut segments, _] = out;
        let square = cell.e1.cross(&cell.e2);
        let stretch = square.norm();
        close(&carrier, &mut segments, Owner::Face(f), cell.index, square / stretch, stretch, 1.0, done);
    }
}

/// The stretch of a fold at T = t that either neighbour's window holds.
fn fold_line(windows: &[&Vec<[f64; 2]>; 2], t: f64) -> Option<[[f64; 2]; 2]> {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for p in windows.iter().flat_map(|w| w.iter()).filter(|p| (p[1] - t).abs() <= f64::EPSILON * t.abs()) {
        low = low.min(p[0]);
        high = high.max(p[0]);
    }
    (low < high).then_some([[low, t], [high, t]])
}

/// Links segments to loops and adds them as a patch. `facing` is −1 where the body's outside is against
/// the carrier's normal.
#[allow(clippy::too_many_arguments, reason = "the parts of one patch")]
fn close(
    carrier: &Carrier<'_>,
    segments: &mut Vec<Segment>,
    owner: Owner,
    strip: i64,
    normal: Vector3<f64>,
    stretch: f64,
    facing: f64,
    done: &mut Trimmed,
) {
    segments.retain(|s| s.from != s.to);
    if segments.is_empty() {
        return;
    }
    let linked = link::link(segments, LINK_TOLERANCE * carrier.field.size);
    if !linked.closed {
        done.open += 1;
    }
    let rings: Vec<Vec<[f64; 2]>> = linked
        .loops
        .iter()
        // The start of each segment stands for the joint with the one before.
        .map(|ring| ring.iter().map(|&i| segments[i].from).collect())
        .collect();
    for group in with_holes(&rings) {
        let o = rings[group[0]][0];
        let (mut area, mut moment) = (0.0, [0.0, 0.0]);
        for &ring in &group {
            let (a, m) = area_and_moment(&rings[ring], o);
            area += a;
            moment = [moment[0] + m[0], moment[1] + m[1]];
        }
        let centre = if area == 0.0 { o } else { [o[0] + moment[0] / area, o[1] + moment[1] / area] };
        let corner = |&plan: &[f64; 2]| Corner { point: carrier.point(plan), plan };
        let loops = group
            .iter()
            .map(|&ring| {
                let mut corners: Vec<Corner> = rings[ring].iter().map(corner).collect();
                if facing < 0.0 {
                    corners.reverse();
                }
                corners
            })
            .collect();
        done.patches.push(Patch {
            owner,
            strip,
            normal: normal * facing,
            loops,
            area: area * stretch,
            centroid: carrier.point(centre),
            origin: carrier.origin,
            axes: [carrier.e1, carrier.e2],
        });
    }
}

/// Signed area of a ring and its first moments about `o`.
fn area_and_moment(ring: &[[f64; 2]], o: [f64; 2]) -> (f64, [f64; 2]) {
    let (mut area, mut moment) = (0.0, [0.0, 0.0]);
    for (i, a) in ring.iter().enumerate() {
        let b = ring[(i + 1) % ring.len()];
        let (ax, ay, bx, by) = (a[0] - o[0], a[1] - o[1], b[0] - o[0], b[1] - o[1]);
        let cross = ax * by - bx * ay;
        area += cross / 2.0;
        moment[0] += (ax + bx) * cross / 6.0;
        moment[1] += (ay + by) * cross / 6.0;
    }
    (area, moment)
}

/// Rings in groups: each outer one (counter-clockwise) followed by the holes that lie in it.
fn with_holes(rings: &[Vec<[f64; 2]>]) -> Vec<Vec<usize>> {
    if rings.len() == 1 {
        return vec![vec![0]];
    }
    let areas: Vec<f64> = rings.iter().map(|r| area_and_moment(r, r[0]).0).collect();
    let (outers, holes): (Vec<usize>, Vec<usize>) = (0..rings.len()).partition(|&i| areas[i] >= 0.0);
    let mut groups: Vec<Vec<usize>> = outers.iter().map(|&i| vec![i]).collect();
    for hole in holes {
        // Of the rings that hold a corner of it the smallest, so that an island in a hole keeps its own.
        let home = (0..outers.len())
            .filter(|&k| rings[hole].iter().any(|&p| holds(&rings[outers[k]], p)))
            .min_by(|&j, &k| areas[outers[j]].total_cmp(&areas[outers[k]]));
        match home {
            Some(k) => groups[k].push(hole),
            None => groups.push(vec![hole]),
        }
    }
    groups
}
