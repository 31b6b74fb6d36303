//! Cutting the shell into connected pieces of faces.

use crate::shell::{NONE, Shell};
use crate::triangulate::ring;
use crate::trim::Owner;
use std::collections::{BTreeMap, BTreeSet};

/// A connected piece of a face.
pub(crate) struct Piece {
    pub(crate) patches: Vec<u32>,
    pub(crate) area: f64,
}

/// Connected pieces of every face, largest first.
pub(crate) fn pieces_of_faces(shell: &Shell, faces: usize) -> Vec<Vec<Piece>> {
    let roots = shell.pieces(|a, b| a == b && matches!(a, Owner::Face(_)));
    let used = shell.patch_in_use();
    let mut grouped: BTreeMap<(usize, u32), Piece> = BTreeMap::new();
    for (i, patch) in shell.patches.iter().enumerate() {
        if let (Owner::Face(f), true) = (patch.owner, used[i]) {
            let piece =
                grouped.entry((f, roots[i])).or_insert_with(|| Piece { patches: Vec::new(), area: 0.0 });
            #[allow(clippy::cast_possible_truncation, reason = "patch indices are u32")]
            piece.patches.push(i as u32);
            piece.area += patch.area.abs();
        }
    }
    let mut pieces: Vec<Vec<Piece>> = (0..faces).map(|_| Vec::new()).collect();
    for ((f, _), piece) in grouped {
        pieces[f].push(piece);
    }
    for of_face in &mut pieces {
        of_face.sort_by(|a, b| b.area.total_cmp(&a.area));
    }
    pieces
}

/// Loops around a set of connected patches, the patches on the left.
pub(crate) fn boundary(shell: &Shell, patches: &[u32]) -> Vec<Vec<u32>> {
    // An edge of the boundary is followed by the next edge of its loop, or, where that is inside the set,
    // by what follows on the other side of it, and so on round the corner.
    let inside = |e: u32| {
        let twin = shell.edges[e as usize].twin;
        twin != NONE && patches.binary_search(&shell.edges[twin as usize].patch).is_ok()
    };
    let mut seen = BTreeSet::new();
    let mut rings = Vec::new();
    let starts = patches.iter().flat_map(|p| shell.loops_of(*p)).flat_map(|l| ring(shell, l.0));
    for start in starts {
        if seen.contains(&start) || inside(start) {
            continue;
        }
        let mut ring = Vec::new();
        let mut e = start;
        while seen.insert(e) {
            ring.push(e);
            e = shell.edges[e as usize].next;
            while inside(e) {
                e = shell.edges[shell.edges[e as usize].twin as usize].next;
            }
        }
        rings.push(ring);
    }
    // The outer loop first.
    rings.sort_by(|a, b| enclosed(shell, b).total_cmp(&enclosed(shell, a)));
    rings
}

/// Signed area a ring of edges encloses on its carrier, mm².
fn enclosed(shell: &Shell, ring: &[u32]) -> f64 {
    let Some(&first) = ring.first() else { return 0.0 };
    let o = shell.edges[first as usize].plan;
    let at = |i: usize| {
        let p = shell.edges[ring[i % ring.len()] as usize].plan;
        [p[0] - o[0], p[1] - o[1]]
    };
    (0..ring.len()).map(|i| (at(i)[0] * at(i + 1)[1] - at(i)[1] * at(i + 1)[0]) / 2.0).sum()
}
