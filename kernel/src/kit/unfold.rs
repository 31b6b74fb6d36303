//! Unfolding: the faces of a convex solid laid flat, joined along the edges of a spanning tree.
//!
//! Which edges are folded is tried in several ways: steepest edges (cut every corner's steepest edge upward) and
//! flat trees, both after W. Schlickenrieder, "Nets of polyhedra", diploma thesis, Berlin 1997 (from memory), for
//! many directions; longest edges; and breadth first from every face. The net with the smallest box round it that
//! has no overlap is taken. Where none fits a page, faces are gathered one by one to nets that do.
//! Not every convex solid is known to have a net without overlap along its edges (Shephard's question, 1975), so
//! more than one net is always a possible answer.

use super::flat::{Pose, bounds, convex_overlap};
use super::shape::Shape;
use crate::polygon::hull;
use nalgebra::{Isometry3, Point3, Translation3, Unit, UnitQuaternion, Vector3};

/// Faces laid flat; the first is where it began.
#[derive(Debug, Clone)]
pub struct Net {
    /// The faces (indices into [`Shape::faces`]) and where each lies.
    pub(super) faces: Vec<(usize, Pose)>,
    /// For each face but the first: the place in `faces` of the one it hangs on, and the edge between them.
    pub(super) hangs: Vec<(usize, usize)>,
}

/// Faces overlap if they share a band wider than this share of the solid's size: far above rounding, far below
/// the width of a cut.
const OVERLAP: f64 = 1.0e-9;
/// Edges shorter than this are poor hinges, mm.
const HINGE: f64 = 3.0;
/// Most breadth-first trees and directions tried: a solid of more faces is tried with some of them.
const MOST_ROOTS: usize = 40;

/// What a net must fit.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sheet {
    /// Width and height, mm.
    pub(super) window: [f64; 2],
    /// Kept free round the faces for tabs, mm.
    pub(super) tab: f64,
}

impl Net {
    /// One face.
    pub(super) fn single(face: usize) -> Self {
        Self { faces: vec![(face, Pose::STILL)], hangs: Vec::new() }
    }

    /// A face's corners as they lie in the net.
    pub(super) fn laid(&self, shape: &Shape, at: usize) -> Vec<[f64; 2]> {
        let (face, pose) = self.faces[at];
        shape.faces[face].polygon.iter().map(|p| pose.of(*p)).collect()
    }

    /// Every face's id with its corners as they lie in the net, mm.
    pub fn polygons<'a>(&'a self, shape: &'a Shape) -> impl Iterator<Item = (&'a str, Vec<[f64; 2]>)> {
        (0..self.faces.len()).map(|at| (shape.faces[self.faces[at].0].id.as_str(), self.laid(shape, at)))
    }

    /// Whether the edge is folded, not cut.
    pub(super) fn folds(&self, edge: usize) -> bool {
        self.hangs.iter().any(|&(_, e)| e == edge)
    }

    /// Lays a face against one that lies already.
    fn hang(&mut self, shape: &Shape, parent: usize, edge: usize) {
        let (face, pose) = self.faces[parent];
        let [one, other] = shape.edges[edge].sides;
        let ((_, side), (next, next_side)) = if one.0 == face { (one, other) } else { (other, one) };
        let [a, b] = shape.faces[face].side(side).map(|p| pose.of(p));
        let pose = Pose::laying(shape.faces[next].side(next_side), [b, a]);
        self.faces.push((next, pose));
        self.hangs.push((parent, edge));
    }

    /// Whether the last face overlaps another.
    fn last_overlaps(&self, shape: &Shape, slack: f64) -> bool {
        let last = self.laid(shape, self.faces.len() - 1);
        (0..self.faces.len() - 1).any(|at| convex_overlap(&last, &self.laid(shape, at), slack))
    }

    /// All faces, along a tree given by the edges that may be folded; none if it overlaps or is no tree.
    fn along(shape: &Shape, root: usize, fold: &[bool], slack: f64) -> Option<Self> {
        let mut net = Self::single(root);
        let mut taken = vec![false; shape.faces.len()];
        taken[root] = true;
        let mut at = 0;
        while at < net.faces.len() {
            let face = net.faces[at].0;
            for side in 0..shape.faces[face].edges.len() {
                let (Some(edge), Some((next, _))) = (shape.faces[face].edges[side], shape.across(face, side))
                else {
                    continue;
                };
                if fold[edge] && !taken[next] {
                    taken[next] = true;
                    net.hang(shape, at, edge);
                    if net.last_overlaps(shape, slack) {
                        return None;
                    }
                }
            }
            at += 1;
        }
        (net.faces.len() == shape.faces.len()).then_some(net)
    }

    /// The turn, radians, and size of the box that holds it best: in the window if it can be, upright if that
    /// costs little.
    pub(super) fn best_turn(points: &[[f64; 2]], sheet: &Sheet) -> (f64, [f64; 2]) {
        /// An upright net may have a box this many times the smallest.
        const UPRIGHT: f64 = 1.2;
        let hull = hull(points.to_vec());
        let sized = |angle: f64| {
            let pose = Pose::turned(angle);
            let [lo, hi] = bounds(hull.iter().map(|p| pose.of(*p))).unwrap_or_default();
            (angle, [hi[0] - lo[0] + 2.0 * sheet.tab, hi[1] - lo[1] + 2.0 * sheet.tab])
        };
        let quarter = std::f64::consts::FRAC_PI_2;
        let mut tries = vec![sized(0.0), sized(quarter)];
        for (i, a) in hull.iter().enumerate() {
            let b = hull[(i + 1) % hull.len()];
            let angle = -(b[1] - a[1]).atan2(b[0] - a[0]);
            tries.extend([0.0, 1.0, 2.0, 3.0].map(|k| sized(angle + k * quarter)));
        }
        let cost = |&(angle, size): &(f64, [f64; 2])| {
            let grace = if angle == 0.0 { UPRIGHT } else { 1.0 };
            // Of two boxes alike, the one that stands less on its head.
            let lean = 1.0 - angle.cos();
            (!sheet.holds(size), sheet.tiles(size), size[0] * size[1] / grace * (1.0 + LEAN * lean))
        };
        let mut best = tries[0];
        for next in tries {
            if cost(&next) < cost(&best) {
                best = next;
            }
        }
        best
    }

    fn fits(&self, shape: &Shape, sheet: &Sheet) -> Option<f64> {
        let points: Vec<[f64; 2]> = (0..self.faces.len()).flat_map(|at| self.laid(shape, at)).collect();
        let (_, size) = Self::best_turn(&points, sheet);
        sheet.holds(size).then_some(size[0] * size[1])
    }
}

/// How much larger a box may be to have its net stand the right way up, as a share.
const LEAN: f64 = 1.0e-3;

impl Sheet {
    pub(super) fn holds(&self, size: [f64; 2]) -> bool {
        (0..2).all(|i| size[i] <= self.window[i])
    }

    /// Windows it takes to cover a box, each counted without its overlap.
    fn tiles(&self, size: [f64; 2]) -> u64 {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small and positive")]
        let count = |i: usize| (size[i] / self.window[i]).ceil().max(1.0) as u64;
        count(0).saturating_mul(count(1))
    }
}

/// The least square of a net's box, mm², if the whole shape unfolds to one net that fits.
pub(super) fn whole(shape: &Shape, sheet: &Sheet) -> Option<Net> {
    let slack = OVERLAP * shape.size();
    let largest = (0..shape.faces.len()).max_by(|&i, &k| {
        let area = |f: usize| crate::drawing::signed_area(&shape.faces[f].polygon);
        area(i).total_cmp(&area(k)).then(k.cmp(&i))
    })?;
    let mut best: Option<(f64, Net)> = None;
    for (root, fold) in trees(shape, largest) {
        let Some(net) = Net::along(shape, root, &fold, slack) else { continue };
        let Some(area) = net.fits(shape, sheet) else { continue };
        let poor = net.hangs.iter().filter(|&&(_, e)| shape.edges[e].length < HINGE).count();
        #[allow(clippy::cast_precision_loss, reason = "few")]
        let cost = area * (1.0 + poor as f64);
        if best.as_ref().is_none_or(|(least, _)| cost < *least) {
            best = Some((cost, net));
        }
    }
    best.map(|(_, net)| net)
}

/// Roots with the edges folded.
fn trees(shape: &Shape, largest: usize) -> Vec<(usize, Vec<bool>)> {
    let mut all = Vec::new();
    let lengths: Vec<f64> = shape.edges.iter().map(|e| e.length).collect();
    all.push((largest, spanning(shape, &lengths)));
    let step = shape.faces.len().div_ceil(MOST_ROOTS);
    let normals = shape.faces.iter().step_by(step).map(|f| f.axes[2]);
    let axes = [Vector3::x(), Vector3::y(), Vector3::z()];
    // A direction askew to everything, so that no two edges are equally steep.
    let askew =
        [Vector3::new(0.36, 0.48, 0.8), Vector3::new(-0.48, 0.8, 0.36), Vector3::new(0.8, -0.36, 0.48)];
    for c in axes.into_iter().flat_map(|a| [a, -a]).chain(askew).chain(normals) {
        all.push((largest, steepest(shape, c)));
        let slopes: Vec<f64> = shape
            .edges
            .iter()
            .map(|e| {
                c.dot(&(shape.corners[e.ends[1]] - shape.corners[e.ends[0]])).abs()
                    / e.length.max(f64::MIN_POSITIVE)
            })
            .collect();
        all.push((largest, spanning(shape, &slopes)));
    }
    for root in (0..shape.faces.len()).step_by(step) {
        all.push((root, vec![true; shape.edges.len()]));
    }
    all
}

/// A spanning tree of the faces over the edges of greatest weight (Kruskal's method, 1956).
fn spanning(shape: &Shape, weights: &[f64]) -> Vec<bool> {
    let mut order: Vec<usize> = (0..shape.edges.len()).collect();
    order.sort_by(|&i, &k| weights[k].total_cmp(&weights[i]).then(i.cmp(&k)));
    let mut group: Vec<usize> = (0..shape.faces.len()).collect();
    let mut fold = vec![false; shape.edges.len()];
    for edge in order {
        let [a, b] = shape.edges[edge].sides.map(|(face, _)| group[face]);
        if a != b {
            fold[edge] = true;
            for g in &mut group {
                if *g == b {
                    *g = a;
                }
            }
        }
    }
    fold
}

/// Every corner's steepest edge upward is cut, all others may be folded.
fn steepest(shape: &Shape, up: Vector3<f64>) -> Vec<bool> {
    let mut best: Vec<Option<(f64, usize)>> = vec![None; shape.corners.len()];
    for (k, edge) in shape.edges.iter().enumerate() {
        let [a, b] = edge.ends;
        let rise = up.dot(&(shape.corners[b] - shape.corners[a])) / edge.length.max(f64::MIN_POSITIVE);
        let (low, rise) = if rise > 0.0 { (a, rise) } else { (b, -rise) };
        if best[low].is_none_or(|(r, _)| rise > r) {
            best[low] = Some((rise, k));
        }
    }
    let mut fold = vec![true; shape.edges.len()];
    for (_, edge) in best.into_iter().flatten() {
        fold[edge] = false;
    }
    fold
}

/// The shape as nets that fit: one if there is one without overlap, else as few as gathering faces gives. A face
/// that fits no page is a net by itself.
pub(super) fn unfold(shape: &Shape, sheet: &Sheet) -> Vec<Net> {
    if let Some(net) = whole(shape, sheet) {
        return vec![net];
    }
    let step = shape.faces.len().div_ceil(MOST_ROOTS);
    let mut best: Option<Vec<Net>> = None;
    for root in (0..shape.faces.len()).step_by(step) {
        let nets = gather(shape, sheet, root);
        if best.as_ref().is_none_or(|b| nets.len() < b.len()) {
            best = Some(nets);
        }
    }
    best.unwrap_or_default()
}

/// Gathers faces to nets, over the longest free edge first.
fn gather(shape: &Shape, sheet: &Sheet, root: usize) -> Vec<Net> {
    let slack = OVERLAP * shape.size();
    let mut taken = vec![false; shape.faces.len()];
    let mut nets = Vec::new();
    let mut next = Some(root);
    while let Some(face) = next {
        let mut net = Net::single(face);
        taken[face] = true;
        let mut refused = vec![false; shape.edges.len()];
        if net.fits(shape, sheet).is_some() {
            loop {
                let mut widest: Option<(f64, usize, usize)> = None;
                for (at, &(face, _)) in net.faces.iter().enumerate() {
                    for (side, edge) in shape.faces[face].edges.iter().enumerate() {
                        let (Some(edge), Some((next, _))) = (*edge, shape.across(face, side)) else {
                            continue;
                        };
                        let length = shape.edges[edge].length;
                        if !taken[next]
                            && !refused[edge]
                            && length >= HINGE
                            && widest.is_none_or(|(l, ..)| length > l)
                        {
                            widest = Some((length, at, edge));
                        }
                    }
                }
                let Some((_, at, edge)) = widest else { break };
                net.hang(shape, at, edge);
                if net.last_overlaps(shape, slack) || net.fits(shape, sheet).is_none() {
                    net.faces.pop();
                    net.hangs.pop();
                    refused[edge] = true;
                } else if let Some(&(face, _)) = net.faces.last() {
                    taken[face] = true;
                }
            }
        }
        nets.push(net);
        next = taken.iter().position(|t| !t);
    }
    nets
}

/// A net folded up again along its edges by the angles between the faces, and laid on its first face in the
/// work: the corners of each face, mm in true size. Only the flat net and the angles are used.
pub fn fold_up(net: &Net, shape: &Shape) -> Vec<(usize, Vec<Point3<f64>>)> {
    let mut places: Vec<Isometry3<f64>> = vec![Isometry3::identity()];
    for (k, &(parent, edge)) in net.hangs.iter().enumerate() {
        let at = k + 1;
        let (face, _) = net.faces[at];
        let [one, other] = shape.edges[edge].sides;
        let side = if one.0 == face { one.1 } else { other.1 };
        // The child's own side, run backwards, is the parent's: counter-clockwise round the parent.
        let (_, pose) = net.faces[at];
        let [b, a] = shape.faces[face].side(side).map(|p| pose.of(p));
        let start = Vector3::new(a[0], a[1], 0.0);
        let turn = std::f64::consts::PI - shape.edges[edge].dihedral;
        // The child lies to the right of that line; a positive turn about it takes it away from the viewer.
        let axis = Unit::new_normalize(Vector3::new(b[0] - a[0], b[1] - a[1], 0.0));
        let rotation = UnitQuaternion::from_axis_angle(&axis, turn);
        let about = Translation3::from(start) * rotation * Translation3::from(-start);
        places.push(places[parent] * about);
    }
    let (first, lies) = net.faces[0];
    let root = &shape.faces[first];
    let [x, y, n] = root.axes;
    (0..net.faces.len())
        .map(|at| {
            let corners = net
                .laid(shape, at)
                .iter()
                .map(|p| {
                    let q = places[at] * Point3::new(p[0], p[1], 0.0);
                    let flat = lies.back([q.x, q.y]);
                    root.origin + (x * flat[0] + y * flat[1] + n * q.z) * shape.scale
                })
                .collect();
            (net.faces[at].0, corners)
        })
        .collect()
}
