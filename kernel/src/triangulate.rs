//! Triangulation of the shell's patches, keeping every corner, so that neighbours share whole edges.
//!
//! Constrained Delaunay triangulation does nearly all; a hair-thin patch that welding has folded onto itself
//! is cut by ears, which always covers its boundary.

use crate::drawing::signed_area;
use crate::polygon::holds;
use crate::shell::{NONE, Shell};
use nalgebra::Point3;
use spade::handles::{FixedFaceHandle, PossiblyOuterTag};
use spade::{ConstrainedDelaunayTriangulation, InsertionError, Point2, Triangulation};
use std::collections::{BTreeMap, BTreeSet};

/// Sine of the least turn that counts as one.
const LEAST_TURN: f64 = 1.0e-6;

/// A ring of corners (indices of the shell's points), the patch on its left.
type Ring = Vec<u32>;

/// Triangles of every patch: (patch, corners), in order of patches. No triangle is flatter than `thin`
/// unless it has to be: where a corner lies a hair off an edge, both sides of the edge could make the same
/// flat triangle with it, and an edge would be met four times.
pub(crate) fn triangles(shell: &Shell, thin: f64) -> Vec<(u32, [u32; 3])> {
    let mut of_patch: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for &(first, patch) in &shell.loops {
        of_patch.entry(patch).or_default().push(first);
    }
    let mut all = Vec::new();
    for (patch, firsts) in of_patch {
        let flat = Flat::new(shell, patch, &firsts);
        all.extend(flat.fill().into_iter().map(|t| (patch, t)));
    }
    turn_thin(&shell.points, &mut all, thin);
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

/// A patch laid flat, seen from outside: one place for every corner, also where loops touch.
struct Flat {
    rings: Vec<Ring>,
    at: BTreeMap<u32, [f64; 2]>,
}

impl Flat {
    fn new(shell: &Shell, patch: u32, firsts: &[u32]) -> Self {
        let p = &shell.patches[patch as usize];
        let mirrored = p.axes[0].cross(&p.axes[1]).dot(&p.normal) < 0.0;
        let mut at = BTreeMap::new();
        let mut rings = Vec::new();
        for &first in firsts {
            let mut corners = Vec::new();
            for e in ring(shell, first) {
                let edge = &shell.edges[e as usize];
                let [x, y] = edge.plan;
                at.entry(edge.from).or_insert(if mirrored { [-x, y] } else { [x, y] });
                corners.push(edge.from);
            }
            rings.push(corners);
        }
        if rings.len() > 1 {
            rings = part_from_each_other(&rings);
        }
        let rings = rings.iter().flat_map(|r| split_at_pinches(r)).collect();
        Self { rings, at }
    }

    fn fill(&self) -> Vec<[u32; 3]> {
        if let [ring] = self.rings.as_slice() {
            match *ring.as_slice() {
                [a, b, c] => return vec![[a, b, c]],
                [a, b, c, d] if self.is_convex(ring) => return vec![[a, b, c], [a, c, d]],
                _ => {}
            }
        }
        let mut triangles = Vec::new();
        for group in self.groups() {
            match self.delaunay(&group) {
                Ok(found) => triangles.extend(found),
                Err(Folded) => triangles.extend(self.ears(&group)),
            }
        }
        triangles
    }

    /// Whether a ring turns left at every corner, by more than rounding.
    fn is_convex(&self, ring: &Ring) -> bool {
        let n = ring.len();
        (0..n).all(|i| {
            let [a, b, c] = [ring[i], ring[(i + 1) % n], ring[(i + 2) % n]].map(|c| self.at[&c]);
            let (p, q) = ([b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]]);
            p[0] * q[1] - p[1] * q[0] > LEAST_TURN * (p[0].hypot(p[1]) * q[0].hypot(q[1]))
        })
    }

    fn area(&self, ring: &Ring) -> f64 {
        signed_area(&ring.iter().map(|c| self.at[c]).collect::<Vec<_>>())
    }

    /// Each outer ring with the holes that lie in it.
    fn groups(&self) -> Vec<Vec<Ring>> {
        let (outers, holes): (Vec<&Ring>, Vec<&Ring>) = self.rings.iter().partition(|r| self.area(r) >= 0.0);
        let mut groups: Vec<Vec<Ring>> = outers.iter().map(|&r| vec![r.clone()]).collect();
        for hole in holes {
            let home = (0..outers.len())
                .filter(|&i| hole.iter().any(|c| self.holds(outers[i], self.at[c])))
                .min_by(|&i, &j| self.area(outers[i]).total_cmp(&self.area(outers[j])));
            match home {
                Some(i) => groups[i].push(hole.clone()),
                None => groups.push(vec![hole.clone()]),
            }
        }
        groups
    }

    fn holds(&self, ring: &Ring, p: [f64; 2]) -> bool {
        holds(&ring.iter().map(|c| self.at[c]).collect::<Vec<_>>(), p)
    }

    fn delaunay(&self, rings: &[Ring]) -> Result<Vec<[u32; 3]>, Folded> {
        let mut cdt = ConstrainedDelaunayTriangulation::<Point2<f64>>::new();
        let mut corners: Vec<u32> = Vec::new();
        let mut handles = Vec::new();
        for ring in rings {
            let mut of_ring = Vec::new();
            for corner in ring {
                let [x, y] = self.at[corner];
                let before = cdt.num_vertices();
                let handle = cdt.insert(Point2::new(x, y))?;
                if cdt.num_vertices() > before {
                    corners.push(*corner);
                } else if corners[handle.index()] != *corner {
                    return Err(Folded);
                }
                of_ring.push(handle);
            }
            handles.push(of_ring);
        }
        // What lies left of a boundary edge is inside, and so is all that is reached without crossing one.
        let mut queue: Vec<FixedFaceHandle<PossiblyOuterTag>> = Vec::new();
        let sides = |ring: &Vec<_>| -> Vec<_> {
            (0..ring.len()).map(|i| (ring[i], ring[(i + 1) % ring.len()])).collect()
        };
        for (a, b) in handles.iter().flat_map(sides) {
            cdt.try_add_constraint(a, b);
        }
        for (a, b) in handles.iter().flat_map(sides) {
            match cdt.get_edge_from_neighbors(a, b) {
                Some(edge) if edge.is_constraint_edge() => queue.push(edge.face().fix()),
                _ => return Err(Folded),
            }
        }
        let mut inside = vec![false; cdt.num_all_faces()];
        while let Some(face) = queue.pop() {
            if std::mem::replace(&mut inside[face.index()], true) {
                continue;
            }
            let Some(inner) = cdt.face(face).as_inner() else { return Err(Folded) };
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
        if covers(&triangles, rings) { Ok(triangles) } else { Err(Folded) }
    }

    /// Ear clipping: n − 2 triangles over all corners, whatever shape the ring has. Holes are joined to the
    /// ring by their nearest corners. Method: D. Eberly, "Triangulation by ear clipping", 2002 (from memory);
    /// where no ear is left the flattest corner is cut off.
    fn ears(&self, group: &[Ring]) -> Vec<[u32; 3]> {
        let mut ring: Ring = group[0].clone();
        for hole in &group[1..] {
            let apart = |i: usize, j: usize| {
                let (a, b) = (self.at[&ring[i]], self.at[&hole[j]]);
                (a[0] - b[0]).hypot(a[1] - b[1])
            };
            let nearest = (0..ring.len())
                .flat_map(|i| (0..hole.len()).map(move |j| (i, j)))
                .min_by(|x, y| apart(x.0, x.1).total_cmp(&apart(y.0, y.1)));
            if let Some((i, j)) = nearest {
                let bridge = if ring[i] == hole[j] { 1 } else { 0 };
                let around: Ring = hole[j..].iter().chain(&hole[..=j]).skip(bridge).copied().collect();
                let back = if bridge == 1 { None } else { Some(ring[i]) };
                ring.splice(i + 1..i + 1, around.into_iter().chain(back));
            }
        }
        let cross = |a: u32, b: u32, c: u32| {
            let (a, b, c) = (self.at[&a], self.at[&b], self.at[&c]);
            (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
        };
        let mut triangles = Vec::new();
        while ring.len() > 3 {
            let n = ring.len();
            let corner = |i: usize| [ring[(i + n - 1) % n], ring[i], ring[(i + 1) % n]];
            let area = |i: usize| {
                let [a, b, c] = corner(i);
                cross(a, b, c)
            };
            let distinct = |i: usize| {
                let [a, b, c] = corner(i);
                a != b && b != c && c != a
            };
            let free = |i: usize| {
                let [a, b, c] = corner(i);
                ring.iter().all(|&p| {
                    [a, b, c].contains(&p)
                        || cross(a, b, p) <= 0.0
                        || cross(b, c, p) <= 0.0
                        || cross(c, a, p) <= 0.0
                })
            };
            let ear = (0..n).find(|&i| distinct(i) && area(i) > 0.0 && free(i));
            let flattest =
                || (0..n).filter(|&i| distinct(i)).min_by(|&i, &j| area(i).abs().total_cmp(&area(j).abs()));
            match ear.or_else(flattest) {
                Some(i) => {
                    triangles.push(corner(i));
                    ring.remove(i);
                }
                // Only there-and-back is left.
                None => return triangles,
            }
        }
        if let [a, b, c] = ring[..]
            && a != b
            && b != c
            && c != a
        {
            triangles.push([a, b, c]);
        }
        triangles
    }
}

/// Turns the longest edge of every triangle flatter than `thin`: the triangle and its neighbour across that
/// edge become two others, both the neighbour's. Two flat triangles on each other vanish.
fn turn_thin(points: &[Point3<f64>], triangles: &mut Vec<(u32, [u32; 3])>, thin: f64) {
    let length = |a: u32, b: u32| (points[a as usize] - points[b as usize]).norm();
    // The flat triangle's longest edge and its apex.
    let flat = |t: [u32; 3]| {
        let [u, v, w] =
            sides(t).into_iter().max_by(|x, y| length(x[0], x[1]).total_cmp(&length(y[0], y[1])))?;
        let [p, q, r] = [u, v, w].map(|c| points[c as usize]);
        ((q - p).cross(&(r - p)).norm() < thin * length(u, v)).then_some([u, v, w])
    };
    let mut waiting: Vec<usize> = (0..triangles.len()).filter(|&i| flat(triangles[i].1).is_some()).collect();
    if waiting.is_empty() {
        return;
    }
    let mut across: BTreeMap<(u32, u32), usize> = BTreeMap::new();
    for (i, (_, t)) in triangles.iter().enumerate() {
        across.extend(sides(*t).map(|[a, b, _]| ((a, b), i)));
    }
    let mut gone = BTreeSet::new();
    // Turning takes a long edge away each time; the bound only guards against rounding in a ring of them.
    for _ in 0..10 * waiting.len() {
        let Some(i) = waiting.pop() else { break };
        let Some([u, v, w]) = flat(triangles[i].1).filter(|_| !gone.contains(&i)) else { continue };
        let Some(&j) = across.get(&(v, u)).filter(|j| !gone.contains(*j)) else { continue };
        let (patch, other) = triangles[j];
        let Some([_, _, x]) = sides(other).into_iter().find(|s| (s[0], s[1]) == (v, u)) else { continue };
        across.remove(&(u, v));
        across.remove(&(v, u));
        if x == w {
            gone.extend([i, j]);
            for edge in [(v, w), (w, u)] {
                across.remove(&edge);
                across.remove(&(edge.1, edge.0));
            }
            continue;
        }
        for (at, t) in [(i, [w, u, x]), (j, [x, v, w])] {
            triangles[at] = (patch, t);
            across.extend(sides(t).map(|[a, b, _]| ((a, b), at)));
            waiting.push(at);
        }
    }
    let mut index = 0;
    triangles.retain(|_| {
        index += 1;
        !gone.contains(&(index - 1))
    });
}

/// The three edges of a triangle, each with the corner across from it.
fn sides([a, b, c]: [u32; 3]) -> [[u32; 3]; 3] {
    [[a, b, c], [b, c, a], [c, a, b]]
}

/// Whether triangles have exactly the rings as their boundary.
fn covers(triangles: &[[u32; 3]], rings: &[Ring]) -> bool {
    let mut open: BTreeSet<(u32, u32)> = BTreeSet::new();
    for (a, b) in triangles.iter().flat_map(|t| around(t)) {
        if !open.remove(&(b, a)) && !open.insert((a, b)) {
            return false;
        }
    }
    let boundary: BTreeSet<(u32, u32)> = rings.iter().flat_map(|r| around(r)).collect();
    open == boundary
}

/// Rings that share an edge, there and back, become one without it.
fn part_from_each_other(rings: &[Ring]) -> Vec<Ring> {
    let mut edges: BTreeSet<(u32, u32)> = BTreeSet::new();
    for (a, b) in rings.iter().flat_map(|r| around(r)) {
        if !edges.remove(&(b, a)) {
            edges.insert((a, b));
        }
    }
    let mut next: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for &(a, b) in edges.iter().rev() {
        next.entry(a).or_default().push(b);
    }
    let mut joined = Vec::new();
    for &(start, _) in &edges {
        let mut ring = Vec::new();
        let mut corner = start;
        while let Some(to) = next.get_mut(&corner).and_then(Vec::pop) {
            ring.push(corner);
            corner = to;
        }
        if ring.len() >= 3 {
            joined.push(ring);
        }
    }
    joined
}

/// The directed edges of a ring.
fn around(ring: &[u32]) -> Vec<(u32, u32)> {
    (0..ring.len()).map(|i| (ring[i], ring[(i + 1) % ring.len()])).collect()
}

/// Cuts a ring that touches itself in a corner into rings that do not.
fn split_at_pinches(ring: &[u32]) -> Vec<Ring> {
    let mut rings = Vec::new();
    let mut open: Ring = Vec::new();
    for &corner in ring {
        if let Some(i) = open.iter().position(|&c| c == corner) {
            rings.push(open.split_off(i));
        }
        open.push(corner);
    }
    rings.push(open);
    rings.retain(|r| r.len() >= 3);
    rings
}

/// A patch folded onto itself, which has no Delaunay triangulation.
struct Folded;

impl From<InsertionError> for Folded {
    fn from(_: InsertionError) -> Self {
        Self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flat(rings: &[&[u32]], at: &[[f64; 2]]) -> Flat {
        let at = (0_u32..).zip(at.iter().copied()).collect();
        Flat { rings: rings.iter().map(|r| r.to_vec()).collect(), at }
    }

    fn area(flat: &Flat, triangles: &[[u32; 3]]) -> f64 {
        triangles.iter().map(|t| flat.area(&t.to_vec())).sum()
    }

    const SQUARE_WITH_HOLE: [[f64; 2]; 8] =
        [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0], [4.0, 4.0], [4.0, 6.0], [6.0, 6.0], [6.0, 4.0]];

    #[test]
    fn a_hole_stays_open_by_both_methods() {
        let flat = flat(&[&[0, 1, 2, 3], &[4, 5, 6, 7]], &SQUARE_WITH_HOLE);
        assert!((area(&flat, &flat.fill()) - 96.0).abs() < 1e-12, "100 less 4");
        let ears = flat.ears(&flat.groups()[0]);
        assert!((area(&flat, &ears) - 96.0).abs() < 1e-12, "by ears as well");
        assert!(covers(&ears, &flat.rings), "the boundary is that of the rings");
    }

    #[test]
    fn a_corner_a_hair_off_an_edge_makes_no_triangle_of_its_own() {
        let at = [[0.0, 0.0], [5.0, -1e-9], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]];
        let flat = flat(&[&[0, 1, 2, 3, 4]], &at);
        let points: Vec<Point3<f64>> = at.iter().map(|p| Point3::new(p[0], p[1], 0.0)).collect();
        let mut triangles = vec![(0, [0, 1, 2]), (0, [0, 2, 3]), (0, [0, 3, 4])];
        turn_thin(&points, &mut triangles, 1e-6);
        let bare: Vec<[u32; 3]> = triangles.iter().map(|t| t.1).collect();
        assert!(covers(&bare, &flat.rings), "still the same boundary: {bare:?}");
        assert!(!bare.iter().any(|t| t.contains(&0) && t.contains(&2)), "{bare:?}");
    }

    #[test]
    fn two_flat_triangles_on_one_edge_vanish() {
        let points = [[0.0, 0.0], [10.0, 0.0], [5.0, 1e-10], [5.0, 5.0], [5.0, -5.0]];
        let points: Vec<Point3<f64>> = points.iter().map(|p| Point3::new(p[0], p[1], 0.0)).collect();
        let mut triangles = vec![(0, [0, 1, 2]), (1, [1, 0, 2]), (0, [0, 2, 3]), (1, [2, 0, 4])];
        turn_thin(&points, &mut triangles, 1e-6);
        assert_eq!(triangles, vec![(0, [0, 2, 3]), (1, [2, 0, 4])], "the wide ones stay");
    }

    #[test]
    fn corners_on_a_straight_edge_are_kept() {
        let at = [[0.0, 0.0], [3.0, 0.0], [7.0, 0.0], [10.0, 0.0], [10.0, 1.0], [0.0, 1.0]];
        let flat = flat(&[&[0, 1, 2, 3, 4, 5]], &at);
        let triangles = flat.fill();
        assert!(covers(&triangles, &flat.rings), "every edge is some triangle's edge");
        assert!((area(&flat, &triangles) - 10.0).abs() < 1e-12, "area kept");
    }

    #[test]
    fn rings_that_share_an_edge_become_one() {
        let joined = part_from_each_other(&[vec![0, 1, 2, 3], vec![2, 1, 4]]);
        assert_eq!(joined, vec![vec![0, 1, 4, 2, 3]], "the shared edge is gone");
    }

    #[test]
    fn a_ring_that_touches_itself_is_cut_in_two() {
        assert_eq!(split_at_pinches(&[0, 1, 2, 3, 1, 4]), vec![vec![1, 2, 3], vec![0, 1, 4]]);
    }
}
