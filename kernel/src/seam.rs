//! Seams: where two clad faces meet.

use crate::assembly::{Assembly, PlacedFace};
use crate::joint::{Cut, Joined};
use crate::shell::{NONE, Shell};
use crate::trim::Owner;
use nalgebra::{Point3, Vector3};
use std::collections::BTreeMap;

/// Where two faces meet, along the real wavy line.
#[derive(Debug, Clone, PartialEq)]
pub struct Seam {
    /// `A/east~A/top`, names in byte order.
    pub id: String,
    /// Face indices (into `Work::faces`), in the order of the names.
    pub between: [usize; 2],
    /// How it is joined.
    pub joint: Joined,
    /// Length of the straight edge of the flat solid, mm; 0 where the flat faces do not meet.
    pub nominal_length: f64,
    /// Length along the middle skin, mm, all runs together. Of a mitred seam the edge of the first face.
    pub length: f64,
    /// Greatest distance from the nominal edge line, mm.
    pub wobble_peak: f64,
    /// Root mean square of that distance along the seam, mm.
    pub wobble_rms: f64,
    /// Angle between the two face planes inside the body, degrees; above 180 for a reflex seam.
    pub dihedral: f64,
    /// Greatest distance between the seam as computed from its two sides, mm.
    pub mismatch: f64,
    /// Connected pieces of face that meet along it, the greater number of both sides.
    pub pieces: usize,
    /// Connected runs, each a polyline in space.
    pub runs: Vec<SeamRun>,
    /// Every straight piece of edge that is to be welded along this seam: sheet to sheet of an exact cut,
    /// each sheet to the closure strip of a mitred one, in no order that matters.
    pub segments: Vec<SeamSegment>,
}

/// What lies on one side of a [`SeamSegment`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Side {
    /// A sheet; index into `Work::faces`.
    Face(usize),
    /// The seam's closure strip.
    Closure,
}

/// One straight piece of edge in which two flat pieces of the middle skin meet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeamSegment {
    /// Its ends, mm.
    pub ends: [Point3<f64>; 2],
    /// What meets there: the first face of the seam, or the face beside the closure strip, comes first.
    pub sides: [Side; 2],
    /// Unit normals of the two flat pieces, out of the body.
    pub normals: [Vector3<f64>; 2],
    /// Angle between the two pieces inside the body, degrees: below 180 is a ridge seen from outside, above
    /// it a groove.
    pub angle: f64,
    /// Thickness of the two sheets, mm.
    pub thickness: [f64; 2],
}

impl SeamSegment {
    /// Its length, mm.
    pub fn length(&self) -> f64 {
        (self.ends[1] - self.ends[0]).norm()
    }
}

/// One connected run of a seam.
#[derive(Debug, Clone, PartialEq)]
pub struct SeamRun {
    /// Vertices, mm.
    pub points: Vec<Point3<f64>>,
    /// For each segment the strip of each face that made it (provenance): strips are counted across the
    /// ribs from the crest at the phase, strip k lying between fold k and fold k + 1. A closure strip
    /// counts as 0.
    pub strips: Vec<[i64; 2]>,
    /// Whether the last vertex joins the first.
    pub closed: bool,
}

/// The straight line in which two planes meet.
#[derive(Debug, Clone, Copy)]
struct Edge {
    point: Point3<f64>,
    direction: Vector3<f64>,
}

/// Planes whose normals differ by less than this sine have no common edge to measure a wobble from.
const PARALLEL: f64 = 1.0e-6;

/// All seams of a shell, by id. `nominal` is the same work with flat faces; `cut` tells how a pair is cut.
pub(crate) fn seams(
    assembly: &Assembly,
    shell: &Shell,
    nominal: &BTreeMap<(usize, usize), f64>,
    cut: impl Fn(usize, usize) -> Cut,
) -> Vec<Seam> {
    let roots = shell.pieces(|a, b| a == b && matches!(a, Owner::Face(_)));
    let mut found: Vec<Seam> = edges_by_pair(shell)
        .into_iter()
        .map(|((a, b), edges)| {
            let (a, b) = if assembly.faces[a].id <= assembly.faces[b].id { (a, b) } else { (b, a) };
            let welded = edges;
            let edges = welded.seen_from(shell, a, b);
            let runs = runs(assembly, shell, &edges);
            let segments = segments(assembly, shell, &welded, a, b);
            let length = edges.iter().map(|&e| shell.length(e)).sum();
            let (peak, rms) = wobble(assembly, shell, &edges, a, b, length);
            let mismatch = edges
                .iter()
                .flat_map(|&e| [shell.edges[e as usize].from, shell.edges[e as usize].to])
                .map(|p| shell.spread[p as usize])
                .fold(0.0, f64::max);
            Seam {
                id: format!("{}~{}", assembly.faces[a].id, assembly.faces[b].id),
                between: [a, b],
                joint: cut(a, b).into(),
                nominal_length: nominal.get(&(a.min(b), a.max(b))).copied().unwrap_or(0.0),
                length,
                wobble_peak: peak,
                wobble_rms: rms,
                dihedral: dihedral(&assembly.faces[a], &assembly.faces[b]),
                mismatch,
                pieces: pieces_along(shell, &roots, &edges),
                runs,
                segments,
            }
        })
        .collect();
    found.sort_by(|x, y| x.id.cmp(&y.id));
    found
}

/// Lengths of all face-to-face edges by pair of face indices, ascending.
pub(crate) fn lengths(shell: &Shell) -> BTreeMap<(usize, usize), f64> {
    edges_by_pair(shell)
        .into_iter()
        .map(|(pair, e)| (pair, e.between.iter().map(|&e| shell.length(e)).sum()))
        .collect()
}

/// The edges that belong to the seam of two faces.
#[derive(Debug, Default)]
struct PairEdges {
    /// Face to face; of each two twins the one on the face with the lower index.
    between: Vec<u32>,
    /// Edges of either face against the pair's closure strip.
    on_closure: [Vec<u32>; 2],
}

impl PairEdges {
    /// One edge for each stretch of the seam, on face `a`'s side where a has one.
    fn seen_from(&self, shell: &Shell, a: usize, b: usize) -> Vec<u32> {
        let (lower, upper) = (&self.on_closure[0], &self.on_closure[1]);
        let mut edges: Vec<u32> =
            self.between.iter().map(|&e| if a < b { e } else { shell.edges[e as usize].twin }).collect();
        let (mine, other) = if a < b { (lower, upper) } else { (upper, lower) };
        edges.extend(if mine.is_empty() && edges.is_empty() { other } else { mine });
        edges.sort_unstable();
        edges
    }
}

fn edges_by_pair(shell: &Shell) -> BTreeMap<(usize, usize), PairEdges> {
    let mut pairs: BTreeMap<(usize, usize), PairEdges> = BTreeMap::new();
    for (i, edge) in shell.edges.iter().enumerate() {
        if edge.twin == NONE {
            continue;
        }
        #[allow(clippy::cast_possible_truncation, reason = "edge indices are u32")]
        let i = i as u32;
        match (shell.owner(i), shell.owner(edge.twin)) {
            (Owner::Face(a), Owner::Face(b)) if a < b => {
                pairs.entry((a, b)).or_default().between.push(i);
            }
            (Owner::Face(f), Owner::Closure(a, b)) if f == a || f == b => {
                pairs.entry((a, b)).or_default().on_closure[usize::from(f == b)].push(i);
            }
            _ => {}
        }
    }
    pairs
}

/// Every edge to be welded along the seam of faces `a` and `b`.
fn segments(assembly: &Assembly, shell: &Shell, edges: &PairEdges, a: usize, b: usize) -> Vec<SeamSegment> {
    let between = edges.between.iter().map(|&e| if a < b { e } else { shell.edges[e as usize].twin });
    let side = |e: u32| match shell.owner(e) {
        Owner::Face(f) => Side::Face(f),
        Owner::Closure(..) => Side::Closure,
    };
    let gauge = |f: usize| assembly.faces[f].thickness();
    let thickness = |side: Side| match side {
        Side::Face(f) => gauge(f),
        Side::Closure => gauge(a).max(gauge(b)),
    };
    between
        .chain(edges.on_closure.iter().flatten().copied())
        .map(|e| {
            let edge = &shell.edges[e as usize];
            let ends = [edge.from, edge.to].map(|p| assembly.world(&shell.points[p as usize]));
            let sides = [side(e), side(edge.twin)];
            let patches = [edge.patch, shell.edges[edge.twin as usize].patch];
            let normals = patches.map(|p| shell.patches[p as usize].normal);
            let along = ends[1] - ends[0];
            // The first side lies left of its own edge seen from outside, so a ridge turns right-handed about it.
            let turn =
                along.dot(&normals[0].cross(&normals[1])).atan2(along.norm() * normals[0].dot(&normals[1]));
            SeamSegment {
                ends,
                sides,
                normals,
                angle: 180.0 - turn.to_degrees(),
                thickness: sides.map(thickness),
            }
        })
        .collect()
}

fn pieces_along(shell: &Shell, roots: &[u32], edges: &[u32]) -> usize {
    let mut sides = [Vec::new(), Vec::new()];
    for &e in edges {
        let edge = &shell.edges[e as usize];
        sides[0].push(roots[edge.patch as usize]);
        sides[1].push(roots[shell.edges[edge.twin as usize].patch as usize]);
    }
    sides
        .into_iter()
        .map(|mut s| {
            s.sort_unstable();
            s.dedup();
            s.len()
        })
        .max()
        .unwrap_or(0)
}

/// Angle between two face planes inside the body, degrees. Faces of one element meet in a convex edge,
/// faces of two elements in a reflex one.
pub(crate) fn dihedral(a: &PlacedFace, b: &PlacedFace) -> f64 {
    let (m, n) = (a.frame.n, b.frame.n);
    let between = m.cross(&n).norm().atan2(m.dot(&n)).to_degrees();
    if a.element == b.element { 180.0 - between } else { 180.0 + between }
}

fn nominal_edge(assembly: &Assembly, a: usize, b: usize) -> Option<Edge> {
    let (fa, fb) = (&assembly.faces[a].frame, &assembly.faces[b].frame);
    let along = fa.n.cross(&fb.n);
    if along.norm() < PARALLEL {
        return None;
    }
    let (pa, pb) = (fa.origin - assembly.centre, fb.origin - assembly.centre);
    // From a's origin, square to the edge within a's plane, until b's plane is reached.
    let inward = along.normalize().cross(&fa.n);
    let point = pa + inward * ((pb - pa).dot(&fb.n) / inward.dot(&fb.n));
    Some(Edge { point, direction: along.normalize() })
}

/// Peak and root-mean-square distance of a seam from its nominal edge; where the two planes are parallel,
/// from the first plane.
fn wobble(assembly: &Assembly, shell: &Shell, edges: &[u32], a: usize, b: usize, length: f64) -> (f64, f64) {
    let line = nominal_edge(assembly, a, b);
    let plane = &assembly.faces[a].frame;
    let offset = |p: Point3<f64>| match &line {
        Some(edge) => {
            let r = p - edge.point;
            r - edge.direction * r.dot(&edge.direction)
        }
        None => plane.n * (p - (plane.origin - assembly.centre)).dot(&plane.n),
    };
    let (mut peak, mut sum) = (0.0_f64, 0.0);
    for &e in edges {
        let edge = &shell.edges[e as usize];
        let (p, q) = (shell.points[edge.from as usize], shell.points[edge.to as usize]);
        let ends = [offset(p).norm_squared(), offset(q).norm_squared()];
        let middle = offset(Point3::from((p.coords + q.coords) / 2.0)).norm_squared();
        peak = peak.max(ends[0].max(ends[1]).sqrt());
        // Simpson's rule is exact: the square of a distance to a line is quadratic along a segment.
        sum += shell.length(e) * (ends[0] + 4.0 * middle + ends[1]) / 6.0;
    }
    (peak, if length > 0.0 { (sum / length).sqrt() } else { 0.0 })
}

/// Joins edges end to start into runs.
fn runs(assembly: &Assembly, shell: &Shell, edges: &[u32]) -> Vec<SeamRun> {
    let from = |e: u32| shell.edges[e as usize].from;
    let to = |e: u32| shell.edges[e as usize].to;
    let mut starts: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for &e in edges.iter().rev() {
        starts.entry(from(e)).or_default().push(e);
    }
    let mut ends: Vec<u32> = edges.iter().map(|&e| to(e)).collect();
    ends.sort_unstable();
    // Runs that begin somewhere first, then what is left: rings.
    let (open, rest): (Vec<u32>, Vec<u32>) =
        edges.iter().partition(|&&e| ends.binary_search(&from(e)).is_err());
    let mut used = std::collections::BTreeSet::new();
    let mut runs = Vec::new();
    for first in open.into_iter().chain(rest) {
        if used.contains(&first) {
            continue;
        }
        let mut run = SeamRun { points: Vec::new(), strips: Vec::new(), closed: false };
        let mut e = first;
        loop {
            used.insert(e);
            let edge = &shell.edges[e as usize];
            run.points.push(assembly.world(&shell.points[edge.from as usize]));
            let twin = shell.edges[edge.twin as usize].patch;
            run.strips.push([
                shell.patches[edge.patch as usize].strip,
                match shell.patches[twin as usize].owner {
                    Owner::Face(_) => shell.patches[twin as usize].strip,
                    Owner::Closure(..) => 0,
                },
            ]);
            let next = starts.get_mut(&edge.to).and_then(|list| {
                while list.last().is_some_and(|n| used.contains(n)) {
                    list.pop();
                }
                list.pop()
            });
            match next {
                Some(n) => e = n,
                None => {
                    if edge.to == from(first) {
                        run.closed = true;
                    } else {
                        run.points.push(assembly.world(&shell.points[edge.to as usize]));
                    }
                    break;
                }
            }
        }
        runs.push(run);
    }
    runs.sort_by(|x, y| run_length(y).total_cmp(&run_length(x)));
    runs
}

/// Length of a run, mm.
fn run_length(run: &SeamRun) -> f64 {
    run.points.windows(2).map(|p| (p[1] - p[0]).norm()).sum()
}
