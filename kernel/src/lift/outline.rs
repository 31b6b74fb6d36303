//! The outside of a piece for transport: the solids of its elements grown to their outermost crests.
//!
//! Every corrugated element lies within the planes of its faces moved out to the outside of the crests, so the
//! corners of that solid hold the piece; they may stand a little beyond it where crests do not reach a corner.

use crate::element::Solid;
use crate::sculpture::Element;
use crate::work::Work;
use nalgebra::Point3;

/// Points nearer to each other than this are one, mm.
const SAME: f64 = 1.0e-6;

/// The grown solids of the elements named by index.
pub fn solids(work: &Work, elements: &[usize]) -> Vec<Solid> {
    let elements = elements.iter().filter_map(|&e| Some((e, work.sculpture.elements.get(e)?)));
    elements.map(|(e, element)| grown(work, e, element).unwrap_or_else(|| element.solid.clone())).collect()
}

/// Corners that hold the elements named by index, mm.
pub fn outline(work: &Work, elements: &[usize]) -> Vec<Point3<f64>> {
    let mut points: Vec<Point3<f64>> = Vec::new();
    for solid in solids(work, elements) {
        for p in solid.vertices() {
            if points.iter().all(|q| (p - q).norm() > SAME) {
                points.push(p);
            }
        }
    }
    points
}

fn grown(work: &Work, e: usize, element: &Element) -> Option<Solid> {
    let name = element.name();
    let planes = element
        .solid
        .faces
        .iter()
        .filter(|f| !f.polygon.is_empty())
        .map(|face| {
            let id = format!("{name}/{}", face.label);
            let report = work.faces.iter().find(|r| r.element == e && r.id == id);
            let out = report.map_or(0.0, |r| {
                let wanders = if r.wander.is_some() { r.profile.depth() / 2.0 } else { 0.0 };
                r.lift + r.profile.depth() / 2.0 + r.profile.thickness() / 2.0 + wanders
            });
            let open = element
                .cladding
                .iter()
                .zip(&element.solid.faces)
                .any(|(c, f)| c.open.is_some() && f.label == face.label);
            (face.label.clone(), face.point + face.normal * if open { 0.0 } else { out }, face.normal)
        })
        .collect();
    Solid::from_planes(name, planes).ok()
}
