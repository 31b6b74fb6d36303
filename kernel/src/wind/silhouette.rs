//! Silhouettes: the area the wind sees, direction by direction, in strips of height.
//!
//! Method: seen from afar, the triangles that face the viewer all project the same way round; what bounds them as a
//! chain (edges between a triangle that faces the viewer and one that does not) has as its winding number at a point
//! the number of layers of front there. So the silhouette is where that number is not zero, and its border is found
//! from the few edges of the chain by a general-purpose overlay on a grid of whole numbers. Areas by height are
//! integrals ∮ x dz round that border, cut at the heights: closing lines along a height add nothing. From behind the
//! silhouette is the same, mirrored, so half of the directions do.
//! Cost O(edges) a direction and the overlay of its chain. Units: mm.

use crate::mesh::Mesh;
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay::{IntOverlayOptions, Overlay};
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::i_float::int::point::IntPoint;
use rayon::prelude::*;

/// Grid lines per mm: a power of two, fine enough that no figure shows it.
const GRID: f64 = 1024.0;
/// Most grid lines from the middle; larger works get a coarser grid.
const MOST_LINES: f64 = 536_870_912.0;

/// What is seen from one direction.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Outline {
    /// Direction the wind comes from, degrees counter-clockwise from +x.
    pub from: f64,
    /// Its border, (to the right as the wind sees it, z), mm; outer loops counter-clockwise, holes clockwise.
    pub loops: Vec<Vec<[f64; 2]>>,
}

/// A strip of a silhouette.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strip {
    /// Lower and upper edge, mm.
    pub z: [f64; 2],
    /// Area, mm².
    pub area: f64,
    /// Height of its centroid, mm.
    pub height: f64,
    /// Where its centroid lies to the right, mm.
    pub aside: f64,
}

/// The mesh made ready: which triangles meet in an edge.
#[derive(Debug, Clone)]
pub struct Silhouettes<'a> {
    mesh: &'a Mesh,
    /// Vertices of the edge as the first triangle runs it, and both triangles.
    edges: Vec<([u32; 2], [u32; 2])>,
    normals: Vec<[f64; 3]>,
    middle: [f64; 3],
    grid: f64,
}

impl<'a> Silhouettes<'a> {
    /// A closed mesh, ready to be looked at.
    pub fn new(mesh: &'a Mesh) -> Self {
        #[allow(clippy::cast_possible_truncation, reason = "meshes count in 32 bits")]
        let mut directed: Vec<([u32; 2], bool, u32)> = mesh
            .triangles
            .iter()
            .enumerate()
            .flat_map(|(t, &[a, b, c])| [[a, b], [b, c], [c, a]].map(|e| (e, t as u32)))
            .map(|([a, b], t)| if a <= b { ([a, b], true, t) } else { ([b, a], false, t) })
            .collect();
        directed.sort_unstable();
        let mut edges = Vec::with_capacity(directed.len() / 2);
        for same in directed.chunk_by(|x, y| x.0 == y.0) {
            // Where more than two meet, any pairing of ways up and down leaves the same chain.
            let ups = same.iter().filter(|e| e.1);
            let downs = same.iter().filter(|e| !e.1);
            edges.extend(ups.zip(downs).map(|(u, d)| (u.0, [u.2, d.2])));
        }
        let (middle, reach) = match mesh.bounds() {
            Some([lo, hi]) => {
                let c = nalgebra::center(&lo, &hi);
                ([c.x, c.y, c.z], (hi - lo).norm())
            }
            None => ([0.0; 3], 1.0),
        };
        let mut grid = GRID;
        while reach * grid > MOST_LINES {
            grid /= 2.0;
        }
        let normals = (0..mesh.triangles.len())
            .map(|t| {
                let n = mesh.area_vector(t);
                [n.x, n.y, n.z]
            })
            .collect();
        Self { mesh, edges, normals, middle, grid }
    }

    /// The silhouettes for winds from `count` directions, evenly spread from +x on; an even count.
    pub fn all(&self, count: u32) -> Vec<Outline> {
        let half = count / 2;
        let from = |k: u32| 360.0 * f64::from(k) / f64::from(count);
        let front: Vec<Outline> = (0..half).into_par_iter().map(|k| self.from(from(k))).collect();
        let mut all = front.clone();
        all.extend(front.iter().zip(half..count).map(|(o, k)| o.mirrored(from(k))));
        all
    }

    /// The silhouette for wind from one direction, degrees counter-clockwise from +x.
    pub fn from(&self, from: f64) -> Outline {
        let (sin, cos) = from.to_radians().sin_cos();
        let front: Vec<bool> = self.normals.iter().map(|n| n[0] * cos + n[1] * sin > 0.0).collect();
        // Looking against the wind's source: toward the viewer is (cos, sin), to the right (−sin, cos).
        let [mx, my, mz] = self.middle;
        let place = |i: u32| {
            let p = &self.mesh.points[i as usize];
            let x = (p.y - my) * cos - (p.x - mx) * sin;
            #[allow(clippy::cast_possible_truncation, reason = "bounded by the choice of the grid")]
            let on = [x, p.z - mz].map(|v| (v * self.grid).round() as i64);
            IntPoint::new(on[0], on[1])
        };
        let mut chain: Vec<[u32; 2]> = self
            .edges
            .iter()
            .filter_map(|&([a, b], [t, u])| match (front[t as usize], front[u as usize]) {
                (true, false) => Some([a, b]),
                (false, true) => Some([b, a]),
                _ => None,
            })
            .collect();
        chain.sort_unstable();
        let rings: Vec<Vec<IntPoint<i64>>> =
            rings(&chain).into_iter().map(|r| r.into_iter().map(place).collect()).collect();
        let options = IntOverlayOptions::<u128> { ogc: true, ..IntOverlayOptions::default() };
        let mut overlay = Overlay::<i64>::from_subj_custom(&rings, options, Default::default());
        let shapes = overlay.overlay(OverlayRule::Subject, FillRule::NonZero);
        // Where the middle of the work lies to the right.
        let right = my * cos - mx * sin;
        #[allow(clippy::cast_precision_loss, reason = "bounded by the choice of the grid")]
        let back = |p: &IntPoint<i64>| [p.x as f64 / self.grid + right, p.y as f64 / self.grid + mz];
        let loops = shapes.iter().flatten().map(|ring| ring.iter().map(back).collect::<Vec<_>>());
        let loops = loops.filter(|ring| !is_hairline(ring, self.grid)).collect();
        Outline { from, loops }
    }
}

/// Rings no wider on average than so many grid lines are left by rounding, where faces are seen edge-on.
const HAIRLINE: f64 = 4.0;

fn is_hairline(ring: &[[f64; 2]], grid: f64) -> bool {
    let Some(o) = ring.first() else { return true };
    let (mut twice, mut length) = (0.0, 0.0);
    for (i, a) in ring.iter().enumerate() {
        let b = ring[(i + 1) % ring.len()];
        twice += (a[0] - o[0]) * (b[1] - o[1]) - (b[0] - o[0]) * (a[1] - o[1]);
        length += (b[0] - a[0]).hypot(b[1] - a[1]);
    }
    twice.abs() <= HAIRLINE / grid * length
}

/// Closed walks over directed edges (sorted), each used once; as many edges leave a vertex as come to it.
fn rings(chain: &[[u32; 2]]) -> Vec<Vec<u32>> {
    let mut used = vec![false; chain.len()];
    let mut rings = Vec::new();
    for start in 0..chain.len() {
        if used[start] {
            continue;
        }
        let (mut ring, mut at) = (Vec::new(), start);
        loop {
            used[at] = true;
            ring.push(chain[at][0]);
            let to = chain[at][1];
            let first = chain.partition_point(|e| e[0] < to);
            let next = chain[first..].iter().take_while(|e| e[0] == to).count();
            match (first..first + next).find(|&i| !used[i]) {
                Some(i) => at = i,
                None => break,
            }
        }
        rings.push(ring);
    }
    rings
}

impl Outline {
    fn mirrored(&self, from: f64) -> Self {
        let turn = |ring: &Vec<[f64; 2]>| ring.iter().rev().map(|p| [-p[0], p[1]]).collect();
        Self { from, loops: self.loops.iter().map(turn).collect() }
    }

    /// Area, mm².
    pub fn area(&self) -> f64 {
        self.between([f64::NEG_INFINITY, f64::INFINITY]).area
    }

    /// What lies between two heights.
    pub fn between(&self, z: [f64; 2]) -> Strip {
        let (mut area, mut first, mut aside) = (0.0, 0.0, 0.0);
        for ring in &self.loops {
            for (i, a) in ring.iter().enumerate() {
                let b = ring[(i + 1) % ring.len()];
                let (from, to) = (a[1].clamp(z[0], z[1]), b[1].clamp(z[0], z[1]));
                let dz = to - from;
                if dz == 0.0 {
                    continue;
                }
                let x = |h: f64| a[0] + (b[0] - a[0]) * (h - a[1]) / (b[1] - a[1]);
                let (x0, x1) = (x(from), x(to));
                area += (x0 + x1) / 2.0 * dz;
                // ∮ x z dz and ∮ x²/2 dz, exact for straight edges.
                first += dz * (x0 * (2.0 * from + to) + x1 * (from + 2.0 * to)) / 6.0;
                aside += dz * (x0 * x0 + x0 * x1 + x1 * x1) / 6.0;
            }
        }
        let mean = |sum: f64| if area > 0.0 { sum / area } else { 0.0 };
        Strip { z, area, height: mean(first), aside: mean(aside) }
    }

    /// Strips of a height from `foot` up; the last may be lower.
    pub fn strips(&self, foot: f64, height: f64) -> Vec<Strip> {
        let top = self.loops.iter().flatten().map(|p| p[1]).fold(foot, f64::max);
        let mut strips = Vec::new();
        let mut low = foot;
        while low < top {
            let high = (low + height).min(top);
            strips.push(self.between([low, high]));
            low += height;
        }
        strips
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mesh::samples::{corrugated, cuboid, join};
    use nalgebra::{Point3, UnitQuaternion, Vector3};

    fn turned(mut mesh: Mesh, by: [f64; 3]) -> Mesh {
        let turn = UnitQuaternion::from_euler_angles(by[0], by[1], by[2]);
        for p in &mut mesh.points {
            *p = turn * *p;
        }
        mesh
    }

    #[track_caller]
    fn near(a: f64, b: f64, what: &str) {
        // The grid is 2⁻¹⁰ mm: over a metre of border half of it is 0.5 mm².
        assert!((a - b).abs() <= 1e-6 * b.abs() + 3.0, "{what}: {a} instead of {b}");
    }

    #[test]
    fn a_box_from_any_side_is_its_closed_form() {
        // |n·d| of three faces: a c |cos| + b c |sin| for an upright box a × b × c.
        let m = cuboid("A", [0.0; 3], [900.0, 500.0, 1200.0]);
        for (k, o) in Silhouettes::new(&m).all(16).iter().enumerate() {
            let (s, c) = (22.5 * k as f64).to_radians().sin_cos();
            near(o.area(), 1200.0 * (500.0 * c.abs() + 900.0 * s.abs()), "area");
            let strips = o.strips(0.0, 500.0);
            assert_eq!(strips.len(), 3);
            near(strips[0].area, 500.0 * (500.0 * c.abs() + 900.0 * s.abs()), "lowest strip");
            assert!((strips[2].height - 1100.0).abs() < 1e-6, "{}", strips[2].height);
            // The centroid lies where the middle of the box does: (450, 250) along (−sin, cos).
            assert!((strips[1].aside - (250.0 * c - 450.0 * s)).abs() < 0.01, "{}", strips[1].aside);
        }
    }

    #[test]
    fn a_convex_body_shows_half_the_sum_of_its_faces() {
        // Cauchy: the shadow of a convex body is ½ Σ |n·d| A.
        for by in [[0.3, 0.8, -1.1], [1.2, -0.4, 0.2], [0.0, 0.0, 0.0], [0.785_398, 0.615_48, 0.0]] {
            let m = turned(cuboid("A", [-300.0, -200.0, 0.0], [500.0, 450.0, 700.0]), by);
            for o in Silhouettes::new(&m).all(16) {
                let (s, c) = o.from.to_radians().sin_cos();
                let d = Vector3::new(c, s, 0.0);
                let half: f64 =
                    (0..m.triangles.len()).map(|t| m.area_vector(t).dot(&d).abs()).sum::<f64>() / 2.0;
                near(o.area(), half, "shadow");
            }
        }
    }

    #[test]
    fn what_lies_behind_something_counts_once_and_gaps_do_not_count() {
        // Two boxes in a row along x; from the side there is a gap of 200 between them.
        let m = join(&[
            cuboid("A", [0.0; 3], [300.0, 400.0, 500.0]),
            cuboid("B", [500.0, 100.0, 0.0], [900.0, 300.0, 800.0]),
        ]);
        let s = Silhouettes::new(&m);
        near(s.from(0.0).area(), 400.0 * 500.0 + 200.0 * 300.0, "in a row");
        near(s.from(90.0).area(), 300.0 * 500.0 + 400.0 * 800.0, "side by side");
        assert_eq!(s.from(90.0).loops.len(), 2);
    }

    #[test]
    fn a_corrugated_wall_agrees_with_a_count_of_pixels() {
        // A second method: the share of a fine grid of lines of sight that meet some triangle.
        let m = turned(corrugated("A", 5, 200.0, 42.0, 300.0, 900.0), [0.2, -0.15, 0.4]);
        let s = Silhouettes::new(&m);
        for from in [0.0, 22.5, 67.5, 112.5, 157.5] {
            let o = s.from(from);
            let (sin, cos) = f64::to_radians(from).sin_cos();
            let flat: Vec<[[f64; 2]; 3]> = (0..m.triangles.len())
                .map(|t| m.corners(t).map(|p: Point3<f64>| [p.y * cos - p.x * sin, p.z]))
                .collect();
            let step = 4.0;
            let mut count = 0_u32;
            for i in -400..400 {
                for j in -200..400 {
                    let p = [step * (f64::from(i) + 0.5), step * (f64::from(j) + 0.5)];
                    let side = |a: [f64; 2], b: [f64; 2]| {
                        (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
                    };
                    count += u32::from(flat.iter().any(|[a, b, c]| {
                        let s = [side(*a, *b), side(*b, *c), side(*c, *a)];
                        s.iter().all(|x| *x >= 0.0) || s.iter().all(|x| *x <= 0.0)
                    }));
                }
            }
            let brute = f64::from(count) * step * step;
            assert!((o.area() - brute).abs() < 0.004 * brute, "{from}: {} against {brute}", o.area());
        }
    }

    #[test]
    fn a_work_far_away_looks_the_same() {
        let near_by = cuboid("A", [0.0; 3], [900.0, 500.0, 1200.0]);
        let mut far = near_by.clone();
        for p in &mut far.points {
            *p += Vector3::new(1.0e7, -2.0e7, 0.0);
        }
        let (a, b) = (Silhouettes::new(&near_by).from(30.0), Silhouettes::new(&far).from(30.0));
        assert!((a.area() - b.area()).abs() < 1.0, "{} {}", a.area(), b.area());
    }
}
