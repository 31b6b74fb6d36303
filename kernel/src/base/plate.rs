//! The base plate: a flat plate round the footprint with a margin.

use super::Footprint;
use crate::drawing::signed_area;
use crate::error::{Error, Result};
use crate::kerf::{Corner, Ring, offset};
use crate::plates::centroid;
use crate::polygon::hull;
use crate::units::KG_PER_MM3;
use nalgebra::{Point3, Vector3};

/// Shape of the plate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PlateShape {
    /// The least rectangle round the footprint.
    Rectangle,
    /// Its convex hull.
    Hull,
    /// Its own outline with all ribs.
    Outline,
}

/// The plate.
#[derive(Debug, Clone, PartialEq)]
pub struct BasePlate {
    /// What the outlines count from; its top lies at z = 0, mm.
    pub origin: Point3<f64>,
    /// Outlines, outer ones counter-clockwise, mm about the origin.
    pub outlines: Vec<Ring>,
    /// Thickness, mm.
    pub thickness: f64,
    /// Area, mm².
    pub area: f64,
    /// Mass, kg.
    pub mass: f64,
    /// Centre of mass, mm.
    pub centre: Point3<f64>,
}

/// Tips of sharp corners are cut off beyond so many margins.
const SHARPEST: f64 = 4.0;
/// Tangents round re-entrant corners leave their arc by at most this, mm.
const ARC: f64 = 0.05;

/// The base plate of a footprint.
///
/// # Errors
/// A thickness that is not above 0, a margin below 0, a density that is not above 0.
pub fn base_plate(
    footprint: &Footprint,
    shape: PlateShape,
    thickness: f64,
    margin: f64,
    density: f64,
) -> Result<BasePlate> {
    if !(thickness > 0.0 && thickness.is_finite()) {
        return Err(Error::input(format!(
            "the base plate's thickness is {thickness} mm, which is not above 0"
        ))
        .remedy("give its thickness in mm"));
    }
    if !(margin >= 0.0 && margin.is_finite()) {
        return Err(Error::input(format!("the base plate's margin is {margin} mm, which is below 0"))
            .remedy("give a margin of 0 or more"));
    }
    if !(density > 0.0 && density.is_finite()) {
        return Err(
            Error::input(format!("a density of {density} kg/m³ is not above 0")).remedy("steel has 7850")
        );
    }
    let points = || footprint.outlines.iter().flatten().copied().collect::<Vec<_>>();
    let rings = match shape {
        PlateShape::Rectangle => vec![least_rectangle(&hull(points()))],
        PlateShape::Hull => vec![hull(points())],
        PlateShape::Outline => footprint.outlines.clone(),
    };
    let corner = match shape {
        PlateShape::Outline => Corner::Round { tolerance: ARC },
        _ => Corner::Sharp { limit: SHARPEST },
    };
    let outlines = if margin > 0.0 { offset(&rings, margin, corner)?.outlines } else { rings };
    let area: f64 = outlines.iter().map(|o| signed_area(o)).sum();
    let [x, y] = centroid(&outlines);
    Ok(BasePlate {
        origin: footprint.origin,
        thickness,
        mass: area * thickness * density * KG_PER_MM3,
        area,
        centre: footprint.origin + Vector3::new(x, y, -thickness / 2.0),
        outlines,
    })
}

/// The rectangle of least area round a convex outline: one side lies on an edge (H. Freeman and R. Shapira, 1975).
pub(crate) fn least_rectangle(ring: &[[f64; 2]]) -> Ring {
    let mut best: Option<(f64, Ring)> = None;
    for (i, a) in ring.iter().enumerate() {
        let b = ring[(i + 1) % ring.len()];
        let length = (b[0] - a[0]).hypot(b[1] - a[1]);
        if length <= 0.0 {
            continue;
        }
        let u = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
        let range = |axis: [f64; 2]| {
            ring.iter()
                .map(|p| (p[0] - a[0]) * axis[0] + (p[1] - a[1]) * axis[1])
                .fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], x| [l.min(x), h.max(x)])
        };
        let (along, across) = (range(u), range([-u[1], u[0]]));
        let area = (along[1] - along[0]) * (across[1] - across[0]);
        if best.as_ref().is_none_or(|(least, _)| area < *least) {
            let at = |s: f64, t: f64| [a[0] + u[0] * s - u[1] * t, a[1] + u[1] * s + u[0] * t];
            let corners = [
                at(along[0], across[0]),
                at(along[1], across[0]),
                at(along[1], across[1]),
                at(along[0], across[1]),
            ];
            best = Some((area, corners.to_vec()));
        }
    }
    best.map(|b| b.1).unwrap_or_default()
}
