//! Triangulation of the shell's patches, keeping every corner, so that neighbours share whole edges.

use crate::drawing::signed_area;
use crate::shell::{NONE, Shell};
use spade::handles::FixedFaceHandle;
use spade::{ConstrainedDelaunayTriangulation, InsertionError, Point2, Triangulation};
use std::collections::BTreeMap;

/// Triangles of every patch: (patch, corners), in order of patches.
pub(crate) fn triangles(shell: &Shell) -> Vec<(u32, [u32; 3])> {
    let mut of_patch: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for &(first, patch) in &shell.loops {
        of_patch.entry(patch).or_default().push(first);
    }
    let mut all = Vec::new();
    for (patch, firsts) in of_patch {
        let rings: Vec<Vec<u32>> = firsts.iter().map(|&f| ring(shell, f)).collect();
        all.extend(fill(shell, patch, &rings).into_iter().map(|t| (patch, t)));
    }
    all
}

/// Edges of the loop that starts with `first`.
pub(crate) fn ring(shell: &Shell, first: u32) -> Vec<u32> {
    let mut edges = vec![first];
    let mut e = shell.edges[first as usize].next;
    while e != first && e != NONE {
        edges.push(e);
        e = shell.edges[e as usize].next;
    }
    edges
}

fn fill(shell: &Shell, patch: u32, rings: &[Vec<u32>]) -> Vec<[u32; 3]> {
    let corner = |e: u32| shell.edges[e as usize].from;
    if let [ring] = rings
        && let &[a, b, c] = ring.as_slice()
    {
        return vec![[corner(a), corner(b), corner(c)]];
    }
    let mut triangles = Vec::new();
    for group in groups(shell, patch, rings) {
        match delaunay(shell, patch, &group) {
            Ok(found) => triangles.extend(found),
            // Corners moved by welding can make two edges of a hair-thin patch cross; fans keep it closed.
            Err(Crossing) => triangles.extend(group.iter().flat_map(|r| {
                (1..r.len() - 1).map(|i| [corner(r[0]), corner(r[i]), corner(r[i + 1])])
            })),
        }
    }
    triangles
}

/// Rings without repeated corners, each outer ring with the holes that lie in it.
fn groups(shell: &Shell, patch: u32, rings: &[Vec<u32>]) -> Vec<Vec<Vec<u32>>> {
    let simple: Vec<Vec<u32>> = rings.iter().flat_map(|r| split_at_pinches(shell, r)).collect();
    let plans: Vec<Vec<[f64; 2]>> = simple
        .iter()
        .map(|r| r.iter().map(|&e| shell.edges[e as usize].plan).collect())
        .collect();
    let areas: Vec<f64> =
        plans.iter().map(|p| if against(shell, patch) { -signed_area(p) } else { signed_area(p) }).collect();
    let outers: Vec<usize> = (0..simple.len()).filter(|&i| areas[i] >= 0.0).collect();
    let mut groups: Vec<Vec<Vec<u32>>> = outers.iter().map(|&i| vec![simple[i].clone()]).collect();
    for hole in (0..simple.len()).filter(|&i| areas[i] < 0.0) {
        // The smallest outer ring around a corner of the hole that is no corner of the ring itself.
        let home = outers
            .iter()
            .enumerate()
            .filter(|&(_, &o)| plans[hole].iter().any(|p| holds(&plans[o], *p)))
            .min_by(|x, y| areas[*x.1].total_cmp(&areas[*y.1]));
        match home {
            Some((k, _)) => groups[k].push(simple[hole].clone()),
            None => groups.push(vec![simple[hole].clone()]),
        }
    }
    groups
}

/// Whether a patch's loops run left-handed on its carrier, facing against the carrier's normal.
fn against(shell: &Shell, patch: u32) -> bool {
    let p = &shell.patches[patch as usize];
    p.axes[0].cross(&p.axes[1]).dot(&p.normal) < 0.0
}

fn holds(polygon: &[[f64; 2]], p: [f64; 2]) -> bool {
    let mut inside = false;
    for (i, a) in polygon.iter().enumerate() {
        let b = polygon[(i + 1) % polygon.len()];
        if (a[1] <= p[1]) != (b[1] <= p[1]) {
            inside ^= p[0] < a[0] + (b[0] - a[0]) * (p[1] - a[1]) / (b[1] - a[1]);
        }
    }
    inside
}

/// Cuts a ring that touches itself in a corner into rings that do not.
fn split_at_pinches(shell: &Shell, ring: &[u32]) -> Vec<Vec<u32>> {
    let mut rings = Vec::new();
    let mut open: Vec<u32> = Vec::new();
    for &e in ring {
        let corner = shell.edges[e as usize].from;
        if let Some(i) = open.iter().position(|&o| shell.edges[o as usize].from == corner) {
            rings.push(open.split_off(i));
        }
        open.push(e);
    }
    rings.push(open);
    rings.retain(|r| r.len() >= 3);
    rings
}

/// Why a patch could not be triangulated; the caller falls back.
struct Crossing;

impl From<InsertionError> for Crossing {
    fn from(_: InsertionError) -> Self {
        Self
    }
}

fn delaunay(shell: &Shell, patch: u32, rings: &[Vec<u32>]) -> Result<Vec<[u32; 3]>, Crossing> {
    let flip = against(shell, patch);
    let mut cdt = ConstrainedDelaunayTriangulation::<Point2<f64>>::new();
    let mut corners: Vec<u32> = Vec::new();
    let mut handles = Vec::new();
    for ring in rings {
        let mut of_ring = Vec::new();
        for &e in ring {
            let edge = &shell.edges[e as usize];
            let [x, y] = edge.plan;
            let before = cdt.num_vertices();
            let handle = cdt.insert(if flip { Point2::new(-x, y) } else { Point2::new(x, y) })?;
            if cdt.num_vertices() == before {
                if corners[handle.index()] != edge.from {
                    return Err(Crossing);
                }
            } else {
                corners.push(edge.from);
            }
            of_ring.push(handle);
        }
        handles.push(of_ring);
    }
    for ring in &handles {
        for i in 0..ring.len() {
            let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
            cdt.try_add_constraint(a, b);
            // Not added, or split at a corner that lies on it: neighbours would no longer share the edge.
            if !cdt.exists_constraint(a, b) {
                return Err(Crossing);
            }
        }
    }
    // What lies left of a boundary edge is inside, and so is all that is reached without crossing one.
    let mut inside = vec![false; cdt.num_all_faces()];
    let mut queue: Vec<FixedFaceHandle<spade::handles::PossiblyOuterTag>> = Vec::new();
    for ring in &handles {
        for i in 0..ring.len() {
            let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
            if let Some(edge) = cdt.get_edge_from_neighbors(a, b) {
                queue.push(edge.face().fix());
            }
        }
    }
    while let Some(face) = queue.pop() {
        if inside[face.index()] {
            continue;
        }
        let Some(inner) = cdt.face(face).as_inner() else { return Err(Crossing) };
        inside[face.index()] = true;
        for edge in inner.adjacent_edges() {
            if !edge.is_constraint_edge() {
                queue.push(edge.rev().face().fix());
            }
        }
    }
    let triangles: Vec<[u32; 3]> = cdt
        .inner_faces()
        .filter(|f| inside[f.index()])
        .map(|f| f.vertices().map(|v| corners[v.index()]))
        .collect();
    // An outer ring of n corners takes n − 2 triangles, each hole n + 2.
    let corners: usize = rings.iter().map(Vec::len).sum();
    let expected = corners + 2 * (rings.len() - 1) - 2;
    if triangles.len() == expected { Ok(triangles) } else { Err(Crossing) }
}
