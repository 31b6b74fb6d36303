//! Where elements stand into each other and on the ground.

use super::flat::{depth_in, middle, sides};
use super::shape::Shape;
use crate::drawing::signed_area;
use crate::element::Solid;
use crate::polygon::hull;
use nalgebra::{Point3, Vector3};

/// A line on a face, where another element's surface crosses it.
#[derive(Debug, Clone)]
pub(super) struct Stand {
    /// Index of the other element.
    pub(super) other: usize,
    /// Stretches on the face, mm; what would run along its rim is left out.
    pub(super) lines: Vec<[[f64; 2]; 2]>,
    /// The area both share, mm in the face's plane.
    pub(super) area: Vec<[f64; 2]>,
}

/// Elements in contact touch within this share of the work's size.
const CONTACT: f64 = 1.0e-6;
/// Areas below this share of the face are a touch, not a stand.
const LEAST_AREA: f64 = 1.0e-6;

/// A face lies on another where their normals are opposite to within this, as one less the cosine.
const OPPOSITE: f64 = 1.0e-9;

/// What of a polygon with this normal lies within a convex solid; of a face that lies on one of the solid's, what is
/// up to `near` outside it too (Sutherland and Hodgman, "Reentrant
/// polygon clipping", 1974).
fn within(polygon: &[Point3<f64>], normal: &Vector3<f64>, solid: &Solid, near: f64) -> Vec<Point3<f64>> {
    let mut kept = polygon.to_vec();
    for face in solid.faces.iter().filter(|f| f.polygon.len() > 2) {
        let near = if face.normal.dot(normal) < OPPOSITE - 1.0 { near } else { 0.0 };
        let out = |p: &Point3<f64>| (p - face.polygon[0]).dot(&face.normal) - near;
        let mut next = Vec::with_capacity(kept.len() + 1);
        for (i, a) in kept.iter().enumerate() {
            let b = &kept[(i + 1) % kept.len()];
            let (da, db) = (out(a), out(b));
            if da <= 0.0 {
                next.push(*a);
            }
            if (da <= 0.0) != (db <= 0.0) {
                next.push(a + (b - a) * (da / (da - db)));
            }
        }
        kept = next;
    }
    kept
}

/// Lines on every face of a shape, by face.
pub(super) fn stands(shape: &Shape, own: usize, solids: &[&Solid], size: f64) -> Vec<Vec<Stand>> {
    let near = CONTACT * size;
    shape
        .faces
        .iter()
        .map(|flat| {
            let face = &solids[own].faces[flat.face];
            let mut found = Vec::new();
            for (other, solid) in solids.iter().enumerate().filter(|(other, _)| *other != own) {
                let area: Vec<[f64; 2]> = within(&face.polygon, &face.normal, solid, near)
                    .iter()
                    .map(|p| flat.seen(p, shape.scale))
                    .collect();
                if area.len() < 3 || signed_area(&area) < LEAST_AREA * signed_area(&flat.polygon) {
                    continue;
                }
                let rim = 4.0 * near / shape.scale;
                let inner = |s: &[[f64; 2]; 2]| depth_in(&flat.polygon, middle(s[0], s[1])) > rim;
                let lines: Vec<_> = sides(&area).filter(inner).collect();
                found.push(Stand { other, lines, area });
            }
            found
        })
        .collect()
}

/// What of the work is seen in plan: contacts with the ground and outlines from above, in model size.
#[derive(Debug, Clone, Default)]
pub(super) struct Footprint {
    /// Name and outline of each element that stands on the ground; fewer than three corners for an edge or corner.
    pub(super) feet: Vec<(String, Vec<[f64; 2]>)>,
    /// Name and outline from above of every element.
    pub(super) seen: Vec<(String, Vec<[f64; 2]>)>,
}

/// The footprint at 1 to `scale`, about the middle of the work.
pub(super) fn footprint(solids: &[&Solid], scale: f64, size: f64) -> Footprint {
    let ground = solids.iter().map(|s| s.lowest_z()).fold(f64::INFINITY, f64::min);
    let Some(middle) = middle_of(solids) else { return Footprint::default() };
    let flat = |p: Point3<f64>| [(p.x - middle.x) / scale, (p.y - middle.y) / scale];
    let mut print = Footprint::default();
    for solid in solids {
        print.seen.push((solid.name.clone(), hull(solid.vertices().map(flat).collect())));
        let feet: Vec<[f64; 2]> =
            solid.vertices().filter(|p| p.z - ground <= CONTACT * size).map(flat).collect();
        if !feet.is_empty() {
            print.feet.push((solid.name.clone(), hull(feet)));
        }
    }
    print
}

/// Middle of the box round all elements.
fn middle_of(solids: &[&Solid]) -> Option<Point3<f64>> {
    let [lo, hi] = bounds(solids)?;
    Some(nalgebra::center(&lo, &hi))
}

/// The box round all elements, mm.
pub(super) fn bounds(solids: &[&Solid]) -> Option<[Point3<f64>; 2]> {
    solids.iter().map(|s| s.bounding_box()).reduce(|[lo, hi], [a, b]| [lo.inf(&a), hi.sup(&b)])
}

/// Greatest extent of that box, mm.
pub(super) fn size_of(solids: &[&Solid]) -> f64 {
    bounds(solids).map_or(0.0, |[lo, hi]: [Point3<f64>; 2]| {
        let d: Vector3<f64> = hi - lo;
        d.norm()
    })
}
