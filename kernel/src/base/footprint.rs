//! The footprint: where the lowest faces of a work stand on the ground, with all their ribs.

use crate::assembly::{Assembly, Surface};
use crate::error::{Error, Result};
use crate::kerf::Ring;
use crate::level::Levels;
use crate::region::{Combine, Region};
use crate::work::Work;
use nalgebra::Point3;

/// Corners within this of z = 0 stand on the ground, mm.
pub const STANDS: f64 = 1.0;
/// A footprint smaller than this is an edge or a corner, mm².
const LEAST_AREA: f64 = 100.0;

/// Where a work stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Footprint {
    /// What the outlines count from, on the ground, mm.
    pub origin: Point3<f64>,
    /// Outlines of the outside skins at z = 0, outer ones counter-clockwise, mm about the origin.
    pub outlines: Vec<Ring>,
    /// The elements that stand on the ground.
    pub elements: Vec<usize>,
}

/// The footprint of a work: the side faces of the elements that stand on the ground, run on to z = 0. Faces that
/// lie on the ground themselves do not bound it.
///
/// # Errors
/// No element stands at z = 0, or only on an edge or a corner.
pub fn footprint(work: &Work) -> Result<Footprint> {
    let solids = work.sculpture.elements.iter().map(|e| &e.solid);
    let elements: Vec<usize> =
        solids.enumerate().filter(|(_, s)| s.lowest_z().abs() < STANDS).map(|(e, _)| e).collect();
    let name = work.sculpture.name.as_str();
    if elements.is_empty() {
        return Err(Error::input("no element stands on the ground, z = 0")
            .remedy("put the lowest one there with .stand(element)")
            .at(name));
    }
    let assembly = Assembly::new(&work.sculpture)?;
    let centre = assembly.centre;
    let levels = Levels::new(assembly, Surface::Outside);
    let mut all = Region::default();
    for &e in &elements {
        let solid = &work.sculpture.elements[e].solid;
        let first = levels.assembly.elements[e].start;
        let sides = |f: usize| {
            let face = &solid.faces[f - first];
            !face.polygon.is_empty() && !face.polygon.iter().all(|p| p.z.abs() < STANDS)
        };
        let free = levels.free(e, [0.0, 0.0], solid.bounding_box(), sides);
        all = if all.outlines.is_empty() { free } else { all.combine(Combine::Union, &free) };
    }
    if all.area() < LEAST_AREA {
        return Err(Error::input("the work stands on an edge or a corner, not on a face")
            .remedy("cut its foot level: give the lowest element a face at z = 0")
            .at(name));
    }
    let outlines = all.outlines.into_iter().map(|o| o.points).collect();
    Ok(Footprint { origin: Point3::new(centre.x, centre.y, 0.0), outlines, elements })
}
