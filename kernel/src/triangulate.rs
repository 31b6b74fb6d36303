//! Triangulation of the shell's patches, keeping every corner, so that neighbours share whole edges.

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
    delaunay(shell, patch, rings).unwrap_or_else(|_| {
        // Corners moved by welding can make two edges of a hair-thin patch cross; a fan keeps it closed.
        rings
            .iter()
            .flat_map(|r| (1..r.len().saturating_sub(1)).map(|i| [corner(r[0]), corner(r[i]), corner(r[i + 1])]))
            .collect()
    })
}

/// Why a patch could not be triangulated; the caller falls back.
struct Crossing;

impl From<InsertionError> for Crossing {
    fn from(_: InsertionError) -> Self {
        Self
    }
}

fn delaunay(shell: &Shell, patch: u32, rings: &[Vec<u32>]) -> Result<Vec<[u32; 3]>, Crossing> {
    let p = &shell.patches[patch as usize];
    // Loops run left-handed on the carrier where the patch faces against the carrier's normal.
    let flip = p.axes[0].cross(&p.axes[1]).dot(&p.normal) < 0.0;
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
            if a != b && cdt.try_add_constraint(a, b).is_empty() && !cdt.exists_constraint(a, b) {
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
    let count: usize = handles.iter().map(Vec::len).sum();
    if triangles.len() + 2 == count + 2 * (rings.len() - 1) { Ok(triangles) } else { Err(Crossing) }
}
