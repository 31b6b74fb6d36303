//! A chamber: the closed mesh that liquid lies in.

use crate::error::{Error, Result};
use crate::mesh::Mesh;
use nalgebra::{Point3, Vector3};

/// A closed chamber. All figures are worked out about its middle, so that one far from the origin is the same.
#[derive(Debug, Clone)]
pub struct Chamber {
    pub(super) points: Vec<Vector3<f64>>,
    pub(super) triangles: Vec<[u32; 3]>,
    /// Outward, mm².
    pub(super) areas: Vec<Vector3<f64>>,
    /// Outward, weighted by the angles of the triangles round each corner.
    pub(super) normals: Vec<Vector3<f64>>,
    /// Neighbours of corner k: `around[first[k]..first[k + 1]]`.
    pub(super) first: Vec<u32>,
    pub(super) around: Vec<u32>,
    /// Triangles that touch corner k: `touch[touch_first[k]..touch_first[k + 1]]`.
    touch_first: Vec<u32>,
    touch: Vec<u32>,
    /// For each triangle the index into `names`.
    pub part_of: Vec<u32>,
    /// Names of the walls.
    pub names: Vec<String>,
    /// Middle of its box, mm.
    pub middle: Point3<f64>,
    /// Diagonal of its box, mm.
    pub size: f64,
}

/// Most corners a chamber may have: its neighbours are counted in 32 bits.
const MOST_CORNERS: usize = 100_000_000;

impl Chamber {
    /// The chamber inside a mesh.
    ///
    /// # Errors
    /// A mesh that is not watertight, holds nothing, faces inward, or has places that are not finite.
    pub fn new(mesh: &Mesh) -> Result<Self> {
        let open = mesh.unmatched_edges().len();
        if open > 0 || mesh.triangles.is_empty() || mesh.points.len() > MOST_CORNERS {
            return Err(Error::input(format!(
                "liquid needs a closed chamber; {open} edges of this one have no neighbour"
            ))
            .remedy("close what is open with a plate, or move an element or a phase by a millimetre"));
        }
        if mesh.points.iter().any(|p| p.iter().any(|x| !x.is_finite())) {
            return Err(Error::input("a corner of the chamber has no finite place"));
        }
        let volume = mesh.volume();
        if volume <= 0.0 {
            return Err(Error::input(format!("a chamber of {volume} mm³ holds nothing"))
                .remedy("let its triangles face outward"));
        }
        let middle = mesh.middle();
        let points: Vec<Vector3<f64>> = mesh.points.iter().map(|p| p - middle).collect();
        let areas = mesh
            .triangles
            .iter()
            .map(|t| {
                let [a, b, c] = t.map(|k| points[k as usize]);
                (b - a).cross(&(c - a)) / 2.0
            })
            .collect();
        let size = mesh.bounds().map_or(0.0, |[lo, hi]| (hi - lo).norm());
        let (first, around) = neighbours(points.len(), &mesh.triangles);
        let (touch_first, touch) = touching(points.len(), &mesh.triangles);
        Ok(Self {
            normals: corner_normals(&points, &mesh.triangles),
            points,
            areas,
            first,
            around,
            touch_first,
            touch,
            triangles: mesh.triangles.clone(),
            part_of: mesh.part_of.clone(),
            names: mesh.names.clone(),
            middle,
            size,
        })
    }

    /// How many triangles its walls have.
    pub fn triangles(&self) -> usize {
        self.triangles.len()
    }

    /// How many corners its walls have.
    pub fn corners_count(&self) -> usize {
        self.points.len()
    }

    /// Corners of a triangle, mm, in the axes of the work.
    pub fn corners(&self, triangle: usize) -> [Point3<f64>; 3] {
        self.triangles[triangle].map(|k| self.middle + self.points[k as usize])
    }

    /// Indices of a triangle's corners.
    pub fn indices(&self, triangle: usize) -> [u32; 3] {
        self.triangles[triangle]
    }

    /// Outward area of a triangle, mm².
    pub fn area_vector(&self, triangle: usize) -> Vector3<f64> {
        self.areas[triangle]
    }

    /// Area of its walls, mm².
    pub fn area(&self) -> f64 {
        self.areas.iter().map(Vector3::norm).sum()
    }

    /// A corner, mm, in the axes of the work.
    pub fn corner(&self, index: usize) -> Point3<f64> {
        self.middle + self.points[index]
    }

    /// The triangles of a wall, by the index of its name.
    pub fn wall(&self, name: u32) -> Vec<usize> {
        (0..self.triangles.len()).filter(|&t| self.part_of.get(t) == Some(&name)).collect()
    }

    /// Triangles that touch a corner.
    pub(crate) fn touching(&self, corner: usize) -> &[u32] {
        &self.touch[self.touch_first[corner] as usize..self.touch_first[corner + 1] as usize]
    }

    pub(super) fn neighbours(&self, corner: usize) -> &[u32] {
        &self.around[self.first[corner] as usize..self.first[corner + 1] as usize]
    }
}

/// Triangles round every corner, ascending.
fn touching(count: usize, triangles: &[[u32; 3]]) -> (Vec<u32>, Vec<u32>) {
    let mut first = vec![0_u32; count + 1];
    for k in triangles.iter().flatten() {
        first[*k as usize + 1] += 1;
    }
    for k in 0..count {
        first[k + 1] += first[k];
    }
    let mut next = first.clone();
    let mut touch = vec![0_u32; triangles.len() * 3];
    for (t, triangle) in (0_u32..).zip(triangles) {
        for k in triangle {
            touch[next[*k as usize] as usize] = t;
            next[*k as usize] += 1;
        }
    }
    (first, touch)
}

/// Neighbours of every corner, each once, ascending.
fn neighbours(count: usize, triangles: &[[u32; 3]]) -> (Vec<u32>, Vec<u32>) {
    // In a watertight mesh every edge is run both ways, so each neighbour comes up once.
    let mut pairs: Vec<[u32; 2]> = triangles.iter().flat_map(|&[a, b, c]| [[a, b], [b, c], [c, a]]).collect();
    pairs.sort_unstable();
    pairs.dedup();
    let mut first = vec![0_u32; count + 1];
    for p in &pairs {
        first[p[0] as usize + 1] += 1;
    }
    for k in 0..count {
        first[k + 1] += first[k];
    }
    (first, pairs.into_iter().map(|p| p[1]).collect())
}

/// J. Bærentzen, H. Aanæs, "Signed distance computation using the angle weighted pseudonormal", 2005: its sign tells
/// inside from outside for every place whose nearest place of the mesh is the corner.
fn corner_normals(points: &[Vector3<f64>], triangles: &[[u32; 3]]) -> Vec<Vector3<f64>> {
    let mut normals = vec![Vector3::zeros(); points.len()];
    for t in triangles {
        let [a, b, c] = t.map(|k| points[k as usize]);
        let normal = (b - a).cross(&(c - a));
        let length = normal.norm();
        if length == 0.0 {
            continue;
        }
        for k in 0..3 {
            let [p, q, r] = [0, 1, 2].map(|i| points[t[(k + i) % 3] as usize]);
            let (to, back) = (q - p, r - p);
            let angle = to.cross(&back).norm().atan2(to.dot(&back));
            normals[t[k] as usize] += normal * (angle / length);
        }
    }
    normals
}
