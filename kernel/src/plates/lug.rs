//! Lugs: flat brackets that stand on a plate round its hole and are welded to the tube.
//!
//! A lug stands upright in a plane through the middle of the hole. Where that plane cuts the tube's surface, at
//! a slant, is a curve; the lug's inner edge is the straight line between its ends, exact where the tube is
//! upright or leans along the lug or square to it, elsewhere within the sag stated for each.

use super::{Plate, Tube};
use crate::error::{Error, Result};
use crate::kerf::Ring;

/// One lug, flat.
#[derive(Debug, Clone, PartialEq)]
pub struct Lug {
    /// Where it stands round the tube, degrees counter-clockwise from +x.
    pub toward: f64,
    /// Outline, mm: x outward from the tube's axis at the top of the plate, y up from the plate.
    pub outline: Ring,
    /// How far its inner edge leans from the vertical, outward as it rises, degrees.
    pub lean: f64,
    /// Most that the tube's surface departs from the straight inner edge, mm.
    pub sag: f64,
    /// Length of weld to plate and to tube, one side, mm.
    pub welds: [f64; 2],
}

/// `count` lugs of this width and height on top of a plate round its tube, the first where it leans to.
///
/// # Errors
/// No tube in the plate; a width or height that is not above 0; a lug that reaches beyond the plate.
pub fn lugs(plate: &Plate, tube: &Tube, count: u32, size: [f64; 2]) -> Result<Vec<Lug>> {
    let Some(hole) = &plate.hole else {
        return Err(Error::input("there is no tube for lugs to hold").remedy("give the tube's diameter"));
    };
    if !size.iter().all(|x| *x > 0.0 && x.is_finite()) {
        return Err(Error::input(format!("a lug of {} × {} mm is nothing to cut", size[0], size[1]))
            .remedy("give a width and a height above 0"));
    }
    let run = tube.axis[1] - tube.axis[0];
    let axis = run.normalize() * run.z.signum();
    let top = plate.origin.z + plate.thickness;
    let middle = tube.axis[0] + run * ((top - tube.axis[0].z) / run.z) - plate.origin;
    let radius = tube.diameter / 2.0;
    let [width, height] = size;
    (0..count)
        .map(|k| {
            let angle = hole.toward + std::f64::consts::TAU * f64::from(k) / f64::from(count);
            let (sin, cos) = angle.sin_cos();
            let along = axis.x * cos + axis.y * sin;
            // |p|² − (p·a)² = r² for p = s·e + z·up, solved for the outer s.
            let surface = |z: f64| {
                let (a, b) = (1.0 - along * along, -along * z * axis.z);
                let c = z * z * (1.0 - axis.z * axis.z) - radius * radius;
                let square = b * b - a * c;
                (square >= 0.0).then(|| (-b + square.sqrt()) / a)
            };
            let (Some(low), Some(half), Some(high)) = (surface(0.0), surface(height / 2.0), surface(height))
            else {
                return Err(Error::input(format!(
                    "the tube leans out of reach of a lug {height} mm high towards {:.0} degrees",
                    angle.to_degrees().rem_euclid(360.0)
                ))
                .remedy("make the lugs lower, or use two, in line with the lean"));
            };
            let outer = low.max(high) + width;
            let foot = [middle.x + outer * cos, middle.y + outer * sin];
            if !crate::polygon::holds(&plate.whole, foot) {
                return Err(Error::input(format!(
                    "a lug of {width} mm towards {:.0} degrees would reach beyond the plate",
                    angle.to_degrees().rem_euclid(360.0)
                ))
                .remedy("make the lugs narrower, use another count, or move the tube inward"));
            }
            // The outer upper corner is cut off, so that nobody is hurt and little steel is carried.
            let outline = vec![
                [low, 0.0],
                [outer, 0.0],
                [outer, height / 3.0],
                [high + width / 3.0, height],
                [high, height],
            ];
            Ok(Lug {
                toward: angle.to_degrees().rem_euclid(360.0),
                outline,
                lean: (high - low).atan2(height).to_degrees(),
                sag: (half - f64::midpoint(low, high)).abs(),
                welds: [outer - low, (high - low).hypot(height)],
            })
        })
        .collect()
}
