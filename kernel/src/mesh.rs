//! A triangle mesh of the finished shell, for the writers that need one.
//!
//! Volume, area and centroid are surface integrals taken about the middle of the mesh and moved back at the
//! end, so that a work far from the origin loses nothing. Cost O(triangles), for the edge check
//! O(triangles · log triangles).

use nalgebra::{Point3, Vector3};
use std::collections::HashSet;

/// A closed triangle mesh; triangles are counter-clockwise seen from outside.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Mesh {
    /// Vertices, mm.
    pub points: Vec<Point3<f64>>,
    /// Vertex indices of each triangle.
    pub triangles: Vec<[u32; 3]>,
    /// For each triangle the index into `names`.
    pub part_of: Vec<u32>,
    /// Names of the faces and closure strips: `A/east`.
    pub names: Vec<String>,
}

/// The points of a mesh in single precision, in the axes and unit of a file.
///
/// Every point is a whole number of grid steps, exactly, and two different vertices of a watertight mesh never
/// share a place: a reader that joins vertices by place finds the same topology that the mesh had.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct SinglePrecision {
    /// Added to the points (in mm, in the axes of the work) gives the place in the work; zero near the origin.
    pub(crate) origin: Vector3<f64>,
    /// One point per vertex of the mesh, same order, in the unit of the file.
    pub(crate) points: Vec<[f32; 3]>,
}

/// Written coordinates may lose at most this much to single precision, mm; beyond, the model is moved.
/// A hundredth is well below what steel sheet is cut to.
const MOST_LOST_MM: f64 = 0.01;

/// Half a unit in the last place of a 24-bit significand, relative.
const SINGLE_HALF_ULP: f64 = 1.0 / 16_777_216.0;

/// Finest grid of written points, mm, about 2⁻¹³. Readers join vertices closer than a fixed distance of their
/// own (1e-8 of the file's unit is usual); points on this grid are equal or clearly apart in mm and in metres.
const FINEST_GRID_MM: f64 = 1.0 / 8192.0;

/// Greatest number of steps from the origin: 2²⁴, all whole numbers up to which single precision holds, less
/// some room for vertices that are set apart.
const MOST_STEPS: f64 = 16_777_216.0 - 64.0;

/// How many grid steps around a taken place are searched for a free one.
const SEARCH_STEPS: i64 = 6;

impl Mesh {
    /// The corners of a triangle, mm.
    pub fn corners(&self, triangle: usize) -> [Point3<f64>; 3] {
        self.triangles[triangle].map(|i| self.points[i as usize])
    }

    /// Least and greatest x, y and z, mm; `None` when there are no points.
    pub fn bounds(&self) -> Option<[Point3<f64>; 2]> {
        let first = *self.points.first()?;
        Some(self.points.iter().fold([first, first], |[lo, hi], p| [lo.inf(p), hi.sup(p)]))
    }

    /// Middle of its box, mm; the origin if it is empty.
    pub(crate) fn middle(&self) -> Point3<f64> {
        self.bounds().map_or_else(Point3::origin, |[lo, hi]| nalgebra::center(&lo, &hi))
    }

    /// Volume enclosed, mm³; positive when the triangles face outward. Meaningful for a watertight mesh only.
    pub fn volume(&self) -> f64 {
        let o = self.middle();
        let six = self.triangles.iter().map(|t| {
            let [a, b, c] = t.map(|i| self.points[i as usize] - o);
            a.dot(&b.cross(&c))
        });
        six.sum::<f64>() / 6.0
    }

    /// Area of all triangles, mm².
    pub fn area(&self) -> f64 {
        (0..self.triangles.len()).map(|i| self.area_vector(i).norm()).sum()
    }

    /// Centroid of the surface as a shell of even thickness, mm; `None` when the area is zero.
    pub fn centroid(&self) -> Option<Point3<f64>> {
        let o = self.middle();
        let mut moment = Vector3::zeros();
        let mut area = 0.0;
        for (i, t) in self.triangles.iter().enumerate() {
            let a = self.area_vector(i).norm();
            moment += t.iter().map(|&k| self.points[k as usize] - o).sum::<Vector3<f64>>() * (a / 3.0);
            area += a;
        }
        (area > 0.0).then(|| o + moment / area)
    }

    /// Area of a triangle times its outward unit normal, mm².
    pub fn area_vector(&self, triangle: usize) -> Vector3<f64> {
        let [a, b, c] = self.corners(triangle);
        (b - a).cross(&(c - a)) / 2.0
    }

    /// Directed edges (vertex indices) that are not met by exactly one triangle running the other way, in
    /// order. Empty for a watertight mesh whose triangles all face the same way.
    pub fn unmatched_edges(&self) -> Vec<[u32; 2]> {
        let mut edges: Vec<([u32; 2], bool)> = self
            .triangles
            .iter()
            .flat_map(|&[a, b, c]| [[a, b], [b, c], [c, a]])
            .map(|[a, b]| if a <= b { ([a, b], true) } else { ([b, a], false) })
            .collect();
        edges.sort_unstable();
        let mut unmatched = Vec::new();
        for same in edges.chunk_by(|x, y| x.0 == y.0) {
            let matched = same.len() == 2 && same[0].1 != same[1].1 && same[0].0[0] != same[0].0[1];
            if !matched {
                unmatched.extend(same.iter().map(|&([a, b], up)| if up { [a, b] } else { [b, a] }));
            }
        }
        unmatched
    }

    /// Whether every edge is used by exactly two triangles, in opposite directions, and there are any.
    pub fn is_watertight(&self) -> bool {
        !self.triangles.is_empty() && self.unmatched_edges().is_empty()
    }

    /// Where single-precision files put their own origin, mm: zero unless the work lies so far out that single
    /// precision would lose more than a hundredth of a millimetre, then the ground point under its middle (or,
    /// for a work far above the ground too, a point below it), in whole metres.
    pub fn file_origin(&self) -> Vector3<f64> {
        let Some([lo, hi]) = self.bounds() else { return Vector3::zeros() };
        let far = |x: f64| x.abs() * SINGLE_HALF_ULP > MOST_LOST_MM;
        if !lo.iter().chain(hi.iter()).any(|&x| far(x)) {
            return Vector3::zeros();
        }
        let metres = |x: f64| (x / 1000.0).round() * 1000.0;
        let middle = self.middle();
        let z = if far(lo.z) || far(hi.z) { metres(lo.z) } else { 0.0 };
        Vector3::new(metres(middle.x), metres(middle.y), z)
    }

    /// The points as a file of single precision holds them: moved to [`Mesh::file_origin`], turned by `axes`,
    /// in units of `unit` mm (1 or 1000), on a grid that single precision holds exactly.
    ///
    /// No vertex moves by more than a few grid steps; a step is 2⁻¹³ mm for a work of up to 2 m, and 2⁻²³ of
    /// the largest coordinate for larger ones. Vertices of a watertight mesh that would fall together are set
    /// one step apart instead of being merged: merging can collapse a sliver so that an edge has four
    /// triangles, moving cannot.
    pub(crate) fn single_precision(
        &self,
        unit: f64,
        axes: fn(Vector3<f64>) -> Vector3<f64>,
    ) -> SinglePrecision {
        let origin = self.file_origin();
        let local: Vec<Vector3<f64>> = self.points.iter().map(|p| axes((p.coords - origin) / unit)).collect();
        let largest = local.iter().map(|p| p.amax()).fold(0.0, f64::max);
        let mut step = binary_step(FINEST_GRID_MM / unit);
        while largest / step > MOST_STEPS {
            step *= 2.0;
        }
        #[allow(clippy::cast_possible_truncation, reason = "at most 2^24 by choice of the step")]
        let mut places: Vec<[i64; 3]> =
            local.iter().map(|p| [p.x, p.y, p.z].map(|x| (x / step).round() as i64)).collect();
        if self.is_watertight() {
            set_apart(&mut places);
        }
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_precision_loss,
            reason = "a whole number below 2^24 times a power of two is exact in single precision"
        )]
        let points = places.iter().map(|p| p.map(|k| (k as f64 * step) as f32)).collect();
        SinglePrecision { origin, points }
    }
}

/// The greatest power of two not above `x`, which is positive and below one; found by halving, so that no
/// platform's logarithm has a say.
fn binary_step(x: f64) -> f64 {
    let mut step = 1.0;
    while step > x {
        step /= 2.0;
    }
    step
}

/// Moves each place that an earlier one has taken to the nearest free one.
fn set_apart(places: &mut [[i64; 3]]) {
    let mut offsets: Vec<[i64; 3]> = Vec::new();
    for x in -SEARCH_STEPS..=SEARCH_STEPS {
        for y in -SEARCH_STEPS..=SEARCH_STEPS {
            for z in -SEARCH_STEPS..=SEARCH_STEPS {
                offsets.push([x, y, z]);
            }
        }
    }
    offsets.sort_by_key(|o| (o.iter().map(|k| k * k).sum::<i64>(), *o));
    // Places of vertices that stand alone are reserved first, so that only those that clash ever move.
    let mut taken: HashSet<[i64; 3]> = HashSet::with_capacity(places.len());
    let clashing: Vec<usize> = (0..places.len()).filter(|&i| !taken.insert(places[i])).collect();
    for i in clashing {
        let p = places[i];
        let free = offsets.iter().map(|o| [p[0] + o[0], p[1] + o[1], p[2] + o[2]]).find(|q| taken.insert(*q));
        if let Some(free) = free {
            places[i] = free;
        }
    }
}

/// Solids built by hand, for the tests of this and other modules.
#[cfg(test)]
pub(crate) mod samples {
    use super::Mesh;
    use crate::work::ShellEdge;
    use nalgebra::{Point3, Vector3};
    use std::collections::BTreeMap;

    /// Joins the meshes side by side; they must not touch.
    pub(crate) fn join(meshes: &[Mesh]) -> Mesh {
        let mut all = Mesh::default();
        for m in meshes {
            let (base, names) = (all.points.len() as u32, all.names.len() as u32);
            all.points.extend(&m.points);
            all.triangles.extend(m.triangles.iter().map(|t| t.map(|i| i + base)));
            all.part_of.extend(m.part_of.iter().map(|k| k + names));
            all.names.extend(m.names.iter().cloned());
        }
        all
    }

    /// A prism over a simple polygon (x, y; counter-clockwise, star-shaped about its first corner's fan only
    /// if convex), its top split by `quads` into convex pieces; see [`cuboid`] and [`corrugated`] for use.
    fn prism(
        name: &str,
        outline: &[[f64; 2]],
        pieces: &[Vec<u32>],
        z: [f64; 2],
        side_names: &[u32],
        labels: &[&str],
    ) -> Mesh {
        let n = outline.len() as u32;
        let mut m = Mesh::default();
        for height in z {
            m.points.extend(outline.iter().map(|p| Point3::new(p[0], p[1], height)));
        }
        m.names = labels.iter().map(|l| format!("{name}/{l}")).collect();
        let (top, bottom) = (labels.len() as u32 - 2, labels.len() as u32 - 1);
        let mut add = |t: [u32; 3], part: u32| {
            m.triangles.push(t);
            m.part_of.push(part);
        };
        for i in 0..n {
            let j = (i + 1) % n;
            add([i, j, j + n], side_names[i as usize]);
            add([i, j + n, i + n], side_names[i as usize]);
        }
        for piece in pieces {
            for k in 1..piece.len() - 1 {
                add([piece[0] + n, piece[k] + n, piece[k + 1] + n], top);
                add([piece[0], piece[k + 1], piece[k]], bottom);
            }
        }
        m
    }

    /// A box with faces south, east, north, west, top and bottom.
    pub(crate) fn cuboid(name: &str, lo: [f64; 3], hi: [f64; 3]) -> Mesh {
        let outline = [[lo[0], lo[1]], [hi[0], lo[1]], [hi[0], hi[1]], [lo[0], hi[1]]];
        let labels = ["south", "east", "north", "west", "top", "bottom"];
        prism(name, &outline, &[vec![0, 1, 2, 3]], [lo[2], hi[2]], &[0, 1, 2, 3], &labels)
    }

    /// A wall with a corrugated south side (upright ribs), from x = 0 to `ribs`·`pitch`, its other sides flat.
    pub(crate) fn corrugated(name: &str, ribs: u32, pitch: f64, depth: f64, thick: f64, height: f64) -> Mesh {
        let mut outline = Vec::new();
        let mut sides = Vec::new();
        for k in 0..ribs {
            let x = f64::from(k) * pitch;
            // Valley and crest each take three tenths of the pitch, the webs a fifth.
            for (t, y) in [(0.0, 0.0), (0.3, 0.0), (0.5, -depth), (0.8, -depth)] {
                outline.push([x + t * pitch, y]);
                sides.push(0);
            }
        }
        outline.push([f64::from(ribs) * pitch, 0.0]);
        sides.push(1);
        let front = outline.len() as u32;
        // The back carries the same stations, so that the top falls into quads.
        for i in (0..front).rev() {
            outline.push([outline[i as usize][0], thick]);
            sides.push(if i == 0 { 3 } else { 2 });
        }
        let n = outline.len() as u32;
        let quads: Vec<Vec<u32>> = (0..front - 1).map(|i| vec![i, i + 1, n - 2 - i, n - 1 - i]).collect();
        let labels = ["south", "east", "north", "west", "top", "bottom"];
        prism(name, &outline, &quads, [0.0, height], &sides, &labels)
    }

    /// The edges of a watertight mesh where its two triangles are not in one plane or not of one name.
    pub(crate) fn edges(mesh: &Mesh) -> Vec<ShellEdge> {
        let mut by_ends: BTreeMap<[u32; 2], Vec<(u32, Vector3<f64>)>> = BTreeMap::new();
        for (i, &[a, b, c]) in mesh.triangles.iter().enumerate() {
            for [p, q] in [[a, b], [b, c], [c, a]] {
                let normal = mesh.area_vector(i).normalize();
                by_ends.entry([p.min(q), p.max(q)]).or_default().push((mesh.part_of[i], normal));
            }
        }
        let sharp = |s: &[(u32, Vector3<f64>)]| s[0].0 != s[1].0 || s[0].1.dot(&s[1].1) < 1.0 - 1e-12;
        by_ends
            .iter()
            .filter(|(_, sides)| sharp(sides))
            .map(|(ends, s)| ShellEdge {
                ends: ends.map(|i| mesh.points[i as usize]),
                sides: [s[0].0, s[1].0],
                normals: [s[0].1, s[1].1],
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::samples::{corrugated, cuboid, join};
    use super::*;

    fn moved(mut mesh: Mesh, by: Vector3<f64>) -> Mesh {
        mesh.points.iter_mut().for_each(|p| *p += by);
        mesh
    }

    #[test]
    fn a_box_has_the_volume_area_and_centroid_of_a_box_here_and_ten_kilometres_away() {
        for by in [Vector3::zeros(), Vector3::new(1.0e7, -1.0e7, 3.0e6)] {
            let m = moved(cuboid("A", [0.0, 0.0, 0.0], [300.0, 200.0, 100.0]), by);
            assert!((m.volume() / 6.0e6 - 1.0).abs() < 1e-12, "volume {}", m.volume());
            assert!((m.area() / 2.2e5 - 1.0).abs() < 1e-9, "area {}", m.area());
            let c = m.centroid().expect("has an area") - by;
            assert!((c - Point3::new(150.0, 100.0, 50.0)).norm() < 1e-6, "centroid {c}");
        }
    }

    #[test]
    fn the_corrugated_sample_is_watertight_and_has_its_closed_form_volume() {
        let m = corrugated("A", 5, 200.0, 40.0, 300.0, 1000.0);
        assert!(m.is_watertight(), "unmatched {:?}", m.unmatched_edges());
        // Trapezoid crest: 0.3 p wide, webs 0.2 p each: mean height (0.3 + 0.2) of the depth.
        let section: f64 = 5.0 * 200.0 * (300.0 + 0.5 * 40.0);
        assert!((m.volume() / (section * 1000.0) - 1.0).abs() < 1e-12, "volume {}", m.volume());
    }

    #[test]
    fn a_missing_a_doubled_and_a_turned_triangle_are_each_found() {
        let whole = cuboid("A", [0.0; 3], [1.0; 3]);
        assert!(whole.is_watertight(), "a box is closed");
        let mut missing = whole.clone();
        missing.triangles.pop();
        assert_eq!(missing.unmatched_edges().len(), 3, "the hole has three edges");
        let mut doubled = whole.clone();
        doubled.triangles.push(whole.triangles[0]);
        assert!(!doubled.is_watertight(), "an edge with three triangles");
        let mut turned = whole.clone();
        turned.triangles[0].reverse();
        assert!(!turned.is_watertight(), "a triangle facing inward");
        assert!(!Mesh::default().is_watertight(), "nothing encloses nothing");
    }

    #[test]
    fn vertices_closer_than_single_precision_stay_distinct_and_hardly_move() {
        let mut m = cuboid("A", [0.0; 3], [5000.0, 4000.0, 3000.0]);
        // Cut a corner triangle with slivers far finer than single precision.
        let [a, b, c] = m.triangles[0];
        let p = m.points[a as usize];
        m.points.push(p + Vector3::new(1e-9, 0.0, 1e-10));
        let k = m.points.len() as u32 - 1;
        m.triangles[0] = [a, b, k];
        m.triangles.extend([[b, c, k], [c, a, k]]);
        m.part_of.extend([0, 0]);
        assert!(m.is_watertight(), "still closed");
        for (unit, largest_move) in [(1.0, 0.002_f64), (1000.0, 2.0e-6)] {
            let single = m.single_precision(unit, |p| p);
            let bits: HashSet<[u32; 3]> = single.points.iter().map(|p| p.map(f32::to_bits)).collect();
            assert_eq!(bits.len(), m.points.len(), "no two vertices share a place");
            for (p, q) in m.points.iter().zip(&single.points) {
                let moved = (p.coords / unit - Vector3::from(q.map(f64::from))).norm();
                assert!(moved < largest_move, "moved {moved}");
            }
        }
    }

    #[test]
    fn only_a_work_out_of_reach_of_single_precision_gets_an_origin_of_its_own() {
        let m = cuboid("A", [0.0; 3], [900.0; 3]);
        assert_eq!(m.file_origin(), Vector3::zeros(), "near");
        // 2^24 · 0.01 mm = 167 772 mm is the reach.
        assert_eq!(
            moved(m.clone(), Vector3::new(1.6e5, 0.0, 0.0)).file_origin(),
            Vector3::zeros(),
            "in reach"
        );
        let far = moved(m.clone(), Vector3::new(1.0e7 + 123.4, 0.0, 0.0));
        assert_eq!(far.file_origin(), Vector3::new(1.0001e7, 0.0, 0.0), "whole metres, on the ground");
        let high = moved(m, Vector3::new(0.0, 0.0, 1.0e7));
        assert_eq!(high.file_origin().z, 1.0e7, "far up too");
        assert_eq!(Mesh::default().file_origin(), Vector3::zeros(), "empty");
    }

    #[test]
    fn joined_samples_keep_their_names() {
        let m = join(&[cuboid("A", [0.0; 3], [1.0; 3]), cuboid("B", [2.0; 3], [3.0; 3])]);
        assert_eq!(m.names.len(), 12, "six each");
        assert!((m.volume() - 2.0).abs() < 1e-12, "both volumes");
    }
}
