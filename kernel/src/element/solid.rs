//! A convex solid: labelled planes and the nominal polygon each leaves.

use crate::error::{Error, Result};
use crate::settings::unknown_name;
use nalgebra::{Isometry3, Point3, Vector3};

/// One planar side of a solid.
#[derive(Debug, Clone, PartialEq)]
pub struct SolidFace {
    /// Its label within the element: `east`, `side1`, …
    pub label: String,
    /// A point of the plane, mm.
    pub point: Point3<f64>,
    /// Unit outward normal.
    pub normal: Vector3<f64>,
    /// The nominal (flat) face, counter-clockwise seen from outside; empty if other planes cut it off whole.
    pub polygon: Vec<Point3<f64>>,
}

/// A convex solid with labelled faces.
#[derive(Debug, Clone, PartialEq)]
pub struct Solid {
    /// The element's name.
    pub name: String,
    /// Its faces, in the order given.
    pub faces: Vec<SolidFace>,
}

/// An edge of a solid, with the two faces that share it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SolidEdge {
    /// Its ends, mm, counter-clockwise on the first face.
    pub ends: [Point3<f64>; 2],
    /// The two faces, the lower index first.
    pub faces: [usize; 2],
    /// Angle between the two faces inside the solid, radians.
    pub dihedral: f64,
}

impl Solid {
    /// Index of the face with this label.
    ///
    /// # Errors
    /// No such face; the nearest label is named.
    pub fn face_index(&self, label: &str) -> Result<usize> {
        let labels = || self.faces.iter().map(|f| f.label.as_str());
        labels()
            .position(|l| l == label)
            .ok_or_else(|| unknown_name("face", label, labels()).at(self.name.as_str()))
    }

    /// All vertices of the nominal faces, each as often as faces meet in it.
    pub fn vertices(&self) -> impl Iterator<Item = Point3<f64>> + '_ {
        self.faces.iter().flat_map(|f| f.polygon.iter().copied())
    }

    /// Enclosed volume of the flat solid, mm³.
    pub fn volume(&self) -> f64 {
        self.moments().0
    }

    /// Area of all nominal faces, mm².
    pub fn surface_area(&self) -> f64 {
        self.faces.iter().map(SolidFace::area).sum()
    }

    /// Centroid of the enclosed volume, mm.
    pub fn centroid(&self) -> Point3<f64> {
        self.moments().1
    }

    /// Volume and its centroid, from tetrahedra over the first vertex: far from the origin nothing is lost.
    fn moments(&self) -> (f64, Point3<f64>) {
        let Some(origin) = self.vertices().next() else { return (0.0, Point3::origin()) };
        let (mut volume, mut moment) = (0.0, Vector3::zeros());
        for face in &self.faces {
            let Some(first) = face.polygon.first() else { continue };
            for pair in face.polygon.windows(2).skip(1) {
                let [a, b, c] = [first - origin, pair[0] - origin, pair[1] - origin];
                let part = a.dot(&b.cross(&c)) / 6.0;
                volume += part;
                moment += (a + b + c) * (part / 4.0);
            }
        }
        (volume, if volume > 0.0 { origin + moment / volume } else { origin })
    }

    /// Least and greatest corner of the box round it, along the axes, mm.
    pub fn bounding_box(&self) -> [Point3<f64>; 2] {
        let mut vertices = self.vertices();
        let first = vertices.next().unwrap_or_else(Point3::origin);
        vertices.fold([first, first], |[low, high], p| [low.inf(&p), high.sup(&p)])
    }

    /// Height of its lowest corner, mm.
    pub fn lowest_z(&self) -> f64 {
        self.bounding_box()[0].z
    }

    /// Its edges, in order of their faces.
    pub fn edges(&self) -> Vec<SolidEdge> {
        let mut edges = Vec::new();
        for (i, face) in self.faces.iter().enumerate() {
            for (k, a) in face.polygon.iter().enumerate() {
                let b = face.polygon[(k + 1) % face.polygon.len()];
                for (j, other) in self.faces.iter().enumerate().skip(i + 1) {
                    let count = other.polygon.len();
                    if (0..count).any(|m| other.polygon[m] == b && other.polygon[(m + 1) % count] == *a) {
                        // The angle between the normals by both sine and cosine keeps near 0 and 180 exact.
                        let turn =
                            face.normal.cross(&other.normal).norm().atan2(face.normal.dot(&other.normal));
                        let dihedral = std::f64::consts::PI - turn;
                        edges.push(SolidEdge { ends: [*a, b], faces: [i, j], dihedral });
                    }
                }
            }
        }
        edges
    }

    /// Moves and turns it.
    pub fn transform(&mut self, by: &Isometry3<f64>) {
        for face in &mut self.faces {
            face.point = by * face.point;
            face.normal = (by * face.normal).normalize();
            for vertex in &mut face.polygon {
                *vertex = by * *vertex;
            }
        }
    }

    /// Scales it about the origin.
    ///
    /// # Errors
    /// A factor that is not positive and finite.
    pub fn scale(&mut self, factor: f64) -> Result<()> {
        if !(factor.is_finite() && factor > 0.0) {
            return Err(Error::input(format!("cannot be scaled by {factor}"))
                .remedy("give a factor above 0")
                .at(self.name.as_str()));
        }
        for face in &mut self.faces {
            face.point *= factor;
            for vertex in &mut face.polygon {
                *vertex *= factor;
            }
        }
        Ok(())
    }
}

impl SolidFace {
    /// Area of the nominal face, mm².
    pub fn area(&self) -> f64 {
        self.moments().0
    }

    /// Centroid of the nominal face, mm; the plane's point if the face is cut off whole.
    pub fn centroid(&self) -> Point3<f64> {
        self.moments().1
    }

    /// Mean of its corners, mm; none if the face is cut off whole.
    pub fn middle(&self) -> Option<Point3<f64>> {
        let sum: Vector3<f64> = self.polygon.iter().map(|p| p.coords).sum();
        #[allow(clippy::cast_precision_loss, reason = "a few corners")]
        let count = self.polygon.len() as f64;
        (count > 0.0).then(|| Point3::from(sum / count))
    }

    fn moments(&self) -> (f64, Point3<f64>) {
        let Some(first) = self.polygon.first() else { return (0.0, self.point) };
        let (mut area, mut moment) = (0.0, Vector3::zeros());
        for pair in self.polygon.windows(2).skip(1) {
            let (a, b) = (pair[0] - first, pair[1] - first);
            let part = a.cross(&b).dot(&self.normal) / 2.0;
            area += part;
            moment += (a + b) * (part / 3.0);
        }
        (area, if area > 0.0 { first + moment / area } else { *first })
    }
}
