//! The hole for a tube that passes a level plate at a slant: an ellipse.

use super::{Options, ROUNDING, Tube, nearest};
use crate::error::{Error, Result};
use crate::kerf::Ring;
use nalgebra::Point3;

/// The ellipse in which a round tube, grown by its clearance, meets a level plane: semi-axes r square to the lean
/// and r / cos(slant) along it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hole {
    /// Its centre at half the plate's thickness, mm about the plate's origin.
    pub centre: [f64; 2],
    /// The larger and the smaller semi-axis, mm.
    pub axes: [f64; 2],
    /// Direction of the larger one, radians counter-clockwise from +x: where the tube leans to.
    pub toward: f64,
    /// Angle of the tube to the vertical, radians.
    pub slant: f64,
    /// Outside diameter of the tube, mm.
    pub diameter: f64,
    /// Room square to the tube that would be needed so that a slanting tube passes both edges of a hole cut
    /// square, mm: half the thickness times the sine of the slant.
    pub needed: f64,
}

/// Corners of the drawn ellipse: a chord leaves it by less than a hundredth of a millimetre up to 100 mm radius.
const CORNERS: u32 = 240;
/// A tube flatter than this, as the cosine of its slant, is no tube to pass a plate (80 degrees).
const FLATTEST: f64 = 0.17;

impl Hole {
    /// The hole in a plate whose underside lies at the origin's height.
    ///
    /// # Errors
    /// A diameter not above 0; a leg of no length, nearly level, or that does not reach through the plate.
    pub fn of(tube: &Tube, origin: Point3<f64>, options: &Options) -> Result<Self> {
        if !(tube.diameter > 0.0 && tube.diameter.is_finite()) {
            return Err(Error::input(format!(
                "the tube's diameter is {} mm, which is not above 0",
                tube.diameter
            ))
            .remedy("give its outside diameter"));
        }
        let run = tube.axis[1] - tube.axis[0];
        let length = run.norm();
        if length.is_nan() || length < ROUNDING {
            return Err(Error::input("the tube's axis has no length").remedy("give two different ends"));
        }
        let cosine = (run.z / length).abs();
        if cosine < FLATTEST {
            return Err(Error::input(format!(
                "the tube leans {:.0} degrees from the vertical here, too flat to pass a level plate",
                cosine.acos().to_degrees()
            ))
            .remedy("choose a height at which a steeper leg passes"));
        }
        let level = origin.z + options.thickness / 2.0;
        let share = (level - tube.axis[0].z) / run.z;
        if !(-ROUNDING..=1.0 + ROUNDING).contains(&share) {
            return Err(Error::input(format!(
                "the tube does not pass the height of {level:.0} mm: it runs from {:.0} to {:.0} mm",
                tube.axis[0].z, tube.axis[1].z
            ))
            .remedy("choose a height that it passes, or make it longer"));
        }
        let at = tube.axis[0] + run * share;
        let upward = run * run.z.signum();
        let radius = tube.diameter / 2.0 + options.hole_clearance;
        let sine = run.xy().norm() / length;
        Ok(Self {
            centre: [at.x - origin.x, at.y - origin.y],
            axes: [radius / cosine, radius],
            toward: upward.y.atan2(upward.x),
            slant: sine.atan2(cosine),
            diameter: tube.diameter,
            needed: options.thickness / 2.0 * sine,
        })
    }

    /// The outline, clockwise, mm about the plate's origin; every corner lies on the ellipse.
    pub fn outline(&self) -> Ring {
        let step = std::f64::consts::TAU / f64::from(CORNERS);
        (0..CORNERS).rev().map(|k| self.at(f64::from(k) * step)).collect()
    }

    fn at(&self, angle: f64) -> [f64; 2] {
        let (s, c) = angle.sin_cos();
        let (sin, cos) = self.toward.sin_cos();
        let (x, y) = (self.axes[0] * c, self.axes[1] * s);
        [self.centre[0] + x * cos - y * sin, self.centre[1] + x * sin + y * cos]
    }

    /// Distance from a point outside to the hole's outline, mm; negative inside.
    pub(super) fn distance(&self, at: [f64; 2]) -> f64 {
        let outline = self.outline();
        let distance = nearest(&outline, at).map_or(f64::INFINITY, |n| n.1);
        if crate::polygon::holds(&outline, at) { -distance } else { distance }
    }

    /// Least width of plate between the hole and the outlines round it, mm; below 0 where it breaks out.
    pub(super) fn room(&self, outlines: &[Ring]) -> f64 {
        let outline = self.outline();
        let to_edges = |p: &[f64; 2]| {
            let to = |ring: &Ring| nearest(ring, *p).map_or(f64::INFINITY, |n| n.1);
            let least = outlines.iter().map(to).fold(f64::INFINITY, f64::min);
            let inside = crate::polygon::holds(&outlines[0], *p)
                && !outlines[1..].iter().any(|h| crate::polygon::holds(h, *p));
            if inside { least } else { -least }
        };
        let ours = outline.iter().map(to_edges).fold(f64::INFINITY, f64::min);
        // Corners of the edge that point at the hole between two of its own.
        let theirs = outlines.iter().flatten().map(|p| self.distance(*p)).fold(f64::INFINITY, f64::min);
        ours.min(theirs)
    }
}
