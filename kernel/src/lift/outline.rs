//! The outside of a piece for transport: the solids of its elements grown to their outermost crests.
//!
//! Every corrugated element lies within the planes of its faces moved out to the outside of the crests, so the
//! corners of that solid hold the piece; they may stand a little beyond it where crests do not reach a corner.

use crate::element::Solid;
use crate::moments::Moments;
use crate::part::{Part, PartKind};
use crate::region::{Outline, Region};
use crate::sculpture::Element;
use crate::work::Work;
use nalgebra::{Point3, Vector3};

/// Points nearer to each other than this are one, mm.
const SAME: f64 = 1.0e-6;

/// The grown solids of the elements named by index.
pub fn solids(work: &Work, elements: &[usize]) -> Vec<Solid> {
    let elements = elements.iter().filter_map(|&e| Some((e, work.sculpture.elements.get(e)?)));
    elements.map(|(e, element)| grown(work, e, element).unwrap_or_else(|| element.solid.clone())).collect()
}

/// Mass (kg) and centre of mass (mm) of the parts of the elements named by index; closure strips between two
/// elements count to the first. None if they have no mass.
pub fn body(work: &Work, elements: &[usize]) -> Option<(f64, Point3<f64>)> {
    let names: Vec<&str> = work.sculpture.elements.iter().map(Element::name).collect();
    let (mut mass, mut moment) = (0.0, Vector3::zeros());
    for part in &work.parts {
        let of = part.face.split('/').next().and_then(|name| names.iter().position(|n| *n == name));
        if part.mass > 0.0 && of.is_some_and(|e| elements.contains(&e)) {
            mass += part.mass;
            moment += centroid(part).coords * part.mass;
        }
    }
    (mass > 0.0).then(|| (mass, Point3::from(moment / mass)))
}

fn centroid(part: &Part) -> Point3<f64> {
    let outline =
        |(p, t): (&Vec<[f64; 2]>, &Vec<Option<usize>>)| Outline { points: p.clone(), tags: t.clone() };
    let region = Region { outlines: part.outlines.iter().zip(&part.edges).map(outline).collect() };
    let moments = Moments::of(&part.kind, &region);
    let f = &part.frame;
    let at = moments.first.map(|m| m / moments.area);
    let back = if let PartKind::Closure { thickness } = part.kind { -thickness / 2.0 } else { 0.0 };
    f.origin + f.u * at[0] + f.v * at[1] + f.n * (at[2] + back)
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
