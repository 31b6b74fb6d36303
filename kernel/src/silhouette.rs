//! Silhouettes: the area the wind sees, direction by direction, in strips of height.
//!
//! Method: seen from afar, the triangles that face the viewer all project the same way round; what bounds them as a
//! chain (edges between a triangle that faces the viewer and one that does not) has as its winding number at a point
//! the number of layers of front there. So the silhouette is where that number is not zero. A line swept upward meets
//! the few edges of the chain in order; between the heights where edges begin, end or cross, what it covers is bounded
//! by the same edges, so the silhouette comes as trapezoids with level sides, and areas by height are sums of them.
//! From behind the silhouette is the same, mirrored, so half of the directions do.
//! Cost O(edges · those met at a height) a direction. Units: mm.

use crate::mesh::Mesh;
use rayon::prelude::*;

/// Directions wind is looked at from.
pub const DIRECTIONS: u32 = 16;
/// Heights nearer to each other than this share of the size are one.
const SAME_HEIGHT: f64 = 1.0e-6;
/// Edges that change places by more than this share of the size cross.
const CROSSING: f64 = 1.0e-7;
/// Crossings are closed in on to this share of the size.
const CLOSE: f64 = 1.0e-5;

/// A piece of a silhouette between two heights, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Trapezoid {
    /// Lower and upper edge.
    z: [f64; 2],
    /// Its left border at both.
    left: [f64; 2],
    /// Its right border at both.
    right: [f64; 2],
}

/// What is seen from one direction.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Outline {
    /// Direction the wind comes from, degrees counter-clockwise from +x.
    pub from: f64,
    /// Pieces side by side and above each other; x to the right as the wind sees it.
    pieces: Vec<Trapezoid>,
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
    size: f64,
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
        let (middle, size) = match mesh.bounds() {
            Some([lo, hi]) => {
                let c = nalgebra::center(&lo, &hi);
                ([c.x, c.y, c.z], (hi - lo).norm())
            }
            None => ([0.0; 3], 1.0),
        };
        let normals = (0..mesh.triangles.len())
            .map(|t| {
                let n = mesh.area_vector(t);
                [n.x, n.y, n.z]
            })
            .collect();
        Self { mesh, edges, normals, middle, size }
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
            [(p.y - my) * cos - (p.x - mx) * sin, p.z - mz]
        };
        let chain =
            self.edges.iter().filter_map(|&([a, b], [t, u])| match (front[t as usize], front[u as usize]) {
                (true, false) => Some([place(a), place(b)]),
                (false, true) => Some([place(b), place(a)]),
                _ => None,
            });
        let mut pieces = sweep(chain.collect(), self.size);
        // Where the middle of the work lies to the right.
        let right = my * cos - mx * sin;
        for p in &mut pieces {
            p.z = p.z.map(|z| z + mz);
            p.left = p.left.map(|x| x + right);
            p.right = p.right.map(|x| x + right);
        }
        Outline { from, pieces }
    }
}

/// An edge of the chain, its lower end first; `up` if the chain runs it upward.
#[derive(Debug, Clone, Copy)]
struct Edge {
    low: [f64; 2],
    high: [f64; 2],
    up: bool,
}

impl Edge {
    fn x(&self, z: f64) -> f64 {
        let share = ((z - self.low[1]) / (self.high[1] - self.low[1])).clamp(0.0, 1.0);
        self.low[0] + (self.high[0] - self.low[0]) * share
    }
}

/// Trapezoids of what a closed chain goes round.
fn sweep(chain: Vec<[[f64; 2]; 2]>, size: f64) -> Vec<Trapezoid> {
    let mut heights: Vec<f64> = chain.iter().flatten().map(|p| p[1]).collect();
    heights.sort_unstable_by(f64::total_cmp);
    let mut last = f64::NEG_INFINITY;
    heights.retain(|&z| {
        let new = z - last > SAME_HEIGHT * size;
        if new {
            last = z;
        }
        new
    });
    // Ends are put to the height they were counted with: the chain stays closed.
    let level = |[x, z]: [f64; 2]| [x, heights[heights.partition_point(|&h| h <= z).max(1) - 1]];
    let mut edges: Vec<Edge> = chain
        .into_iter()
        .map(|ends| ends.map(level))
        .filter(|[a, b]| a[1] != b[1])
        .map(|[a, b]| {
            let up = a[1] < b[1];
            let [low, high] = if up { [a, b] } else { [b, a] };
            Edge { low, high, up }
        })
        .collect();
    edges.sort_by(|a, b| a.low[1].total_cmp(&b.low[1]));
    let mut out = Pieces { size, edges: &edges, pieces: Vec::new(), growing: Vec::new() };
    let (mut alive, mut next): (Vec<usize>, usize) = (Vec::new(), 0);
    for z in heights.windows(2) {
        alive.retain(|&e| edges[e].high[1] > z[0]);
        while next < edges.len() && edges[next].low[1] <= z[0] {
            alive.push(next);
            next += 1;
        }
        out.slab(&mut alive, [z[0], z[1]]);
    }
    out.pieces
}

/// Trapezoids being gathered.
struct Pieces<'a> {
    size: f64,
    edges: &'a [Edge],
    pieces: Vec<Trapezoid>,
    /// Left and right edge of those that end at the present height, with their index.
    growing: Vec<([usize; 2], usize)>,
}

impl Pieces<'_> {
    /// A slab in which no edge begins or ends; `alive` is left in order from left to right.
    fn slab(&mut self, alive: &mut Vec<usize>, z: [f64; 2]) {
        let middle = f64::midpoint(z[0], z[1]);
        let edges = self.edges;
        alive.sort_by(|&a, &b| edges[a].x(middle).total_cmp(&edges[b].x(middle)));
        let swaps =
            |z: f64| alive.windows(2).any(|p| edges[p[0]].x(z) > edges[p[1]].x(z) + CROSSING * self.size);
        if z[1] - z[0] > CLOSE * self.size && (swaps(z[0]) || swaps(z[1])) {
            self.slab(alive, [z[0], middle]);
            self.slab(alive, [middle, z[1]]);
            return;
        }
        let mut grown = Vec::new();
        let (mut layers, mut left) = (0_i64, None);
        for &e in alive.iter() {
            let before = layers;
            layers += if edges[e].up { -1 } else { 1 };
            if before == 0 {
                left = Some(e);
            } else if layers == 0
                && let Some(l) = left
            {
                grown.push(([l, e], self.grow([l, e], z)));
            }
        }
        self.growing = grown;
    }

    fn grow(&mut self, sides: [usize; 2], z: [f64; 2]) -> usize {
        let [left, right] = sides.map(|e| self.edges[e]);
        let known = self.growing.iter().find(|(s, _)| *s == sides).map(|g| g.1);
        if let Some(i) = known {
            let piece = &mut self.pieces[i];
            piece.z[1] = z[1];
            piece.left[1] = left.x(z[1]);
            piece.right[1] = right.x(z[1]);
            return i;
        }
        self.pieces.push(Trapezoid { z, left: z.map(|z| left.x(z)), right: z.map(|z| right.x(z)) });
        self.pieces.len() - 1
    }
}

impl Outline {
    fn mirrored(&self, from: f64) -> Self {
        let turn = |p: &Trapezoid| Trapezoid { z: p.z, left: p.right.map(|x| -x), right: p.left.map(|x| -x) };
        Self { from, pieces: self.pieces.iter().map(turn).collect() }
    }

    /// Area, mm².
    pub fn area(&self) -> f64 {
        self.between([f64::NEG_INFINITY, f64::INFINITY]).area
    }

    /// Lines that draw it, (to the right as the wind sees it, z), mm: the borders left and right of every piece, and
    /// what is level.
    pub fn lines(&self) -> Vec<Vec<[f64; 2]>> {
        let mut lines: Vec<Vec<[f64; 2]>> = Vec::new();
        // Level borders: what one side of a height covers and the other does not.
        let mut levels: Vec<(f64, f64, i8)> = Vec::new();
        for p in &self.pieces {
            for (x, sides) in [(p.left, 1_i8), (p.right, -1)] {
                let line = [[x[0], p.z[0]], [x[1], p.z[1]]];
                match lines.iter_mut().rev().take(LINKED).find(|l| l.last() == Some(&line[0])) {
                    Some(known) => known.push(line[1]),
                    None => lines.push(line.to_vec()),
                }
                levels.push((p.z[0], x[0], sides));
                levels.push((p.z[1], x[1], -sides));
            }
        }
        levels.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        for level in levels.chunk_by(|a, b| a.0 == b.0) {
            let mut more = 0;
            for pair in level.windows(2) {
                more += pair[0].2;
                if more != 0 && pair[1].1 > pair[0].1 {
                    lines.push(vec![[pair[0].1, pair[0].0], [pair[1].1, pair[0].0]]);
                }
            }
        }
        lines
    }

    /// What lies between two heights.
    pub fn between(&self, z: [f64; 2]) -> Strip {
        let (mut area, mut first, mut aside) = (0.0, 0.0, 0.0);
        for p in &self.pieces {
            let (from, to) = (p.z[0].clamp(z[0], z[1]), p.z[1].clamp(z[0], z[1]));
            let dz = to - from;
            if dz <= 0.0 {
                continue;
            }
            for (border, sign) in [(p.right, 1.0), (p.left, -1.0)] {
                let x = |h: f64| border[0] + (border[1] - border[0]) * (h - p.z[0]) / (p.z[1] - p.z[0]);
                let (x0, x1) = (x(from), x(to));
                area += sign * (x0 + x1) / 2.0 * dz;
                // ∫ x z dz and ∫ x²/2 dz, exact for straight edges.
                first += sign * dz * (x0 * (2.0 * from + to) + x1 * (from + 2.0 * to)) / 6.0;
                aside += sign * dz * (x0 * x0 + x0 * x1 + x1 * x1) / 6.0;
            }
        }
        let mean = |sum: f64| if area > 0.0 { sum / area } else { 0.0 };
        Strip { z, area, height: mean(first), aside: mean(aside) }
    }

    /// Strips of a height from `foot` up; the last may be lower.
    pub fn strips(&self, foot: f64, height: f64) -> Vec<Strip> {
        let top = self.pieces.iter().map(|p| p.z[1]).fold(foot, f64::max);
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

/// Lines a further piece of border may belong to.
const LINKED: usize = 64;

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
        assert!((a - b).abs() <= 3e-6 * b.abs(), "{what}: {a} instead of {b}");
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
        for by in [[0.3, 0.8, -1.1], [1.2, -0.4, 0.2], [0.0, 0.0, 0.0], [0.785, 0.615_48, 0.0]] {
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
        // Two borders each for two boxes, and their feet and heads.
        assert_eq!(s.from(90.0).lines().len(), 8);
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
