//! Surfaces that touch themselves, parted: where two places of a closed surface meet along an edge, four triangles share it,
//! and nothing tells which two of them go on into each other.
//!
//! Works with faces in one plane, or crests that meet in a line, do so. Triangles that lie on each other back to back
//! enclose nothing and are left out. Round every edge that is still shared by more than two, the triangles are sorted by
//! angle and those that bound the same wedge of liquid belong together: each such pair gets a corner of its own in the
//! middle of the edge. Corners whose triangles do not hang together by edges are told apart, so that liquid on both sides of
//! a place where steel touches steel stays apart. Nothing moves.

use crate::mesh::Mesh;
use nalgebra::{Point3, Unit, Vector3};
use std::collections::BTreeMap;

/// On which side of the surface the liquid is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Liquid {
    /// Where its triangles face away from.
    Inside,
    /// Where they face to.
    Outside,
}

/// No triangle.
const GONE: usize = usize::MAX;

/// A triangle at an edge, from its lower to its higher corner or the other way.
#[derive(Debug, Clone, Copy)]
struct At {
    triangle: usize,
    ahead: bool,
}

/// A mesh of which every edge that an even number of triangles share, half of them each way, is met by exactly two.
pub(crate) fn parted(mesh: Mesh, liquid: Liquid) -> Mesh {
    if mesh.is_watertight() {
        return mesh;
    }
    let mut parted = without_doubles(&mesh);
    let middles = middles(&mut parted, liquid);
    divide(&mut parted, &middles);
    tell_apart(&mut parted);
    parted
}

/// Without pairs of triangles with the same corners that face opposite ways.
fn without_doubles(mesh: &Mesh) -> Mesh {
    let mut same: BTreeMap<[u32; 3], [Vec<usize>; 2]> = BTreeMap::new();
    for (t, corners) in mesh.triangles.iter().enumerate() {
        let mut sorted = *corners;
        sorted.sort_unstable();
        let first = corners.iter().position(|k| *k == sorted[0]).unwrap_or(0);
        let way = usize::from(corners[(first + 1) % 3] != sorted[1]);
        same.entry(sorted).or_default()[way].push(t);
    }
    let mut gone = vec![false; mesh.triangles.len()];
    for [one, other] in same.values() {
        for t in one.iter().zip(other).flat_map(|(a, b)| [*a, *b]) {
            gone[t] = true;
        }
    }
    let kept = || (0..mesh.triangles.len()).filter(|&t| !gone[t]);
    Mesh {
        points: mesh.points.clone(),
        triangles: kept().map(|t| mesh.triangles[t]).collect(),
        part_of: kept().map(|t| mesh.part_of[t]).collect(),
        names: mesh.names.clone(),
    }
}

/// New corners in the middle of shared edges, by triangle and edge (lower corner first).
fn middles(mesh: &mut Mesh, liquid: Liquid) -> BTreeMap<(usize, [u32; 2]), u32> {
    let mut edges: BTreeMap<[u32; 2], Vec<At>> = BTreeMap::new();
    for (triangle, &[a, b, c]) in mesh.triangles.iter().enumerate() {
        for [a, b] in [[a, b], [b, c], [c, a]] {
            edges.entry([a.min(b), a.max(b)]).or_default().push(At { triangle, ahead: a < b });
        }
    }
    let mut middles = BTreeMap::new();
    for (edge, at) in edges.into_iter().filter(|(_, at)| at.len() > 2) {
        let [a, b] = edge.map(|k| mesh.points[k as usize]);
        for pair in pairs(mesh, edge, at, liquid) {
            mesh.points.push(nalgebra::center(&a, &b));
            let middle = index(mesh.points.len() - 1);
            middles.extend(pair.map(|triangle| ((triangle, edge), middle)));
        }
    }
    middles
}

/// Which triangles at an edge bound the same wedge of liquid.
fn pairs(mesh: &Mesh, edge: [u32; 2], mut at: Vec<At>, liquid: Liquid) -> Vec<[usize; 2]> {
    let [a, b] = edge.map(|k| mesh.points[k as usize]);
    let Some(axis) = Unit::try_new(b - a, 0.0) else { return Vec::new() };
    let other = if axis.x.abs() < axis.y.abs() { Vector3::x() } else { Vector3::y() };
    let x = axis.cross(&other).normalize();
    let y = axis.cross(&x);
    let angle = |at: &At| {
        let third = mesh.triangles[at.triangle].iter().find(|k| !edge.contains(k));
        let r = third.map_or(Vector3::zeros(), |k| mesh.points[*k as usize] - a);
        r.dot(&y).atan2(r.dot(&x))
    };
    at.sort_by(|p, q| angle(p).total_cmp(&angle(q)).then(p.triangle.cmp(&q.triangle)));
    // Counter-clockwise about the edge, what runs ahead has its outside after it, what runs back its inside.
    let opens = |at: &At| at.ahead == (liquid == Liquid::Outside);
    let count = at.len();
    let mut used = vec![false; count];
    let mut found = Vec::new();
    for i in (0..count).filter(|&i| opens(&at[i])) {
        let next = (1..count).map(|k| (i + k) % count).find(|&j| !used[j] && !opens(&at[j]));
        if let Some(j) = next {
            used[j] = true;
            found.push([at[i].triangle, at[j].triangle]);
        }
    }
    found
}

/// Divides triangles at the new corners on their edges.
fn divide(mesh: &mut Mesh, middles: &BTreeMap<(usize, [u32; 2]), u32>) {
    let mut all = Vec::with_capacity(mesh.triangles.len());
    let mut part_of = Vec::with_capacity(mesh.triangles.len());
    for (t, &[a, b, c]) in mesh.triangles.iter().enumerate() {
        let mut ring = Vec::with_capacity(6);
        let mut first = None;
        for [a, b] in [[a, b], [b, c], [c, a]] {
            ring.push(a);
            if let Some(&middle) = middles.get(&(t, [a.min(b), a.max(b)])) {
                first = first.or(Some(ring.len()));
                ring.push(middle);
            }
        }
        // Fanned from a middle, so that every new edge has an end of its own.
        ring.rotate_left(first.unwrap_or(0));
        for k in 1..ring.len() - 1 {
            all.push([ring[0], ring[k], ring[k + 1]]);
            part_of.push(mesh.part_of[t]);
        }
    }
    (mesh.triangles, mesh.part_of) = (all, part_of);
}

/// Gives every corner as many copies as its triangles form fans that hang together by edges.
fn tell_apart(mesh: &mut Mesh) {
    let mut across: BTreeMap<[u32; 2], [usize; 2]> = BTreeMap::new();
    for (t, &[a, b, c]) in mesh.triangles.iter().enumerate() {
        for [a, b] in [[a, b], [b, c], [c, a]] {
            across.entry([a.min(b), a.max(b)]).or_insert([GONE; 2])[usize::from(a > b)] = t;
        }
    }
    // Corners of triangles, joined across edges.
    let mut set: Vec<usize> = (0..mesh.triangles.len() * 3).collect();
    fn root(set: &mut [usize], mut k: usize) -> usize {
        while set[k] != k {
            set[k] = set[set[k]];
            k = set[k];
        }
        k
    }
    for (edge, [s, t]) in &across {
        if *s == GONE || *t == GONE {
            continue;
        }
        for corner in edge {
            let at = |t: usize| mesh.triangles[t].iter().position(|k| k == corner).map(|i| 3 * t + i);
            if let (Some(p), Some(q)) = (at(*s), at(*t)) {
                let (p, q) = (root(&mut set, p), root(&mut set, q));
                set[p.max(q)] = p.min(q);
            }
        }
    }
    let mut own = vec![GONE; mesh.points.len()];
    let mut copies: BTreeMap<usize, u32> = BTreeMap::new();
    let points: Vec<Point3<f64>> = mesh.points.clone();
    for t in 0..mesh.triangles.len() {
        for i in 0..3 {
            let fan = root(&mut set, 3 * t + i);
            let corner = mesh.triangles[t][i] as usize;
            if own[corner] == GONE {
                own[corner] = fan;
            }
            if own[corner] != fan {
                mesh.triangles[t][i] = *copies.entry(fan).or_insert_with(|| {
                    mesh.points.push(points[corner]);
                    index(mesh.points.len() - 1)
                });
            }
        }
    }
}

#[allow(clippy::cast_possible_truncation, reason = "counted in 32 bits")]
fn index(k: usize) -> u32 {
    k as u32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mesh::samples::cuboid;

    /// Two boxes that touch along an edge, with the corners there shared.
    fn touching() -> Mesh {
        let mut mesh = cuboid("A", [0.0; 3], [1.0; 3]);
        let other = cuboid("B", [1.0, 1.0, 0.0], [2.0, 2.0, 1.0]);
        let place: Vec<u32> = other
            .points
            .iter()
            .map(|p| {
                let known = mesh.points.iter().position(|q| q == p);
                index(known.unwrap_or_else(|| {
                    mesh.points.push(*p);
                    mesh.points.len() - 1
                }))
            })
            .collect();
        let (name, moved) = (index(mesh.names.len()), |t: &[u32; 3]| t.map(|k| place[k as usize]));
        mesh.part_of.extend(other.part_of.iter().map(|_| name));
        mesh.triangles.extend(other.triangles.iter().map(moved));
        mesh.names.push("B".into());
        mesh
    }

    fn pieces(mesh: &Mesh) -> usize {
        let mut of: Vec<usize> = (0..mesh.points.len()).collect();
        for _ in 0..mesh.points.len() {
            for t in &mesh.triangles {
                let least = t.iter().map(|k| of[*k as usize]).min().unwrap_or(0);
                t.iter().for_each(|k| of[*k as usize] = least);
            }
        }
        let mut all: Vec<usize> = mesh.triangles.iter().map(|t| of[t[0] as usize]).collect();
        all.sort_unstable();
        all.dedup();
        all.len()
    }

    #[test]
    fn boxes_that_touch_along_an_edge_are_two_inside_and_one_dam_outside() {
        let mesh = touching();
        assert!(!mesh.is_watertight() && mesh.points.len() == 14, "{} corners", mesh.points.len());
        for (liquid, count) in [(Liquid::Inside, 2), (Liquid::Outside, 1)] {
            let parted = parted(mesh.clone(), liquid);
            assert!(parted.is_watertight(), "{liquid:?}");
            assert!((parted.volume() - mesh.volume()).abs() < ROUNDING);
            assert_eq!(pieces(&parted), count, "{liquid:?}");
        }
    }

    #[test]
    fn triangles_back_to_back_are_left_out_and_what_is_closed_stays_as_it_is() {
        let closed = cuboid("A", [0.0; 3], [1.0; 3]);
        assert_eq!(parted(closed.clone(), Liquid::Inside), closed);
        let mut mesh = closed.clone();
        let [a, b, c] = mesh.triangles[0];
        mesh.triangles.extend([[a, b, c], [c, b, a]]);
        mesh.part_of.extend([0, 0]);
        assert!(!mesh.is_watertight());
        let parted = parted(mesh, Liquid::Inside);
        assert!(parted.is_watertight() && parted.triangles.len() == closed.triangles.len());
    }

    const ROUNDING: f64 = 1.0e-12;
}
