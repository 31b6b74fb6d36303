//! The rig: a chamber turned about an axis that lies level, or is raised at its far end.

use crate::error::{Error, Result};
use crate::units::STANDARD_GRAVITY;
use nalgebra::{Point3, Rotation3, Unit, Vector3};

/// The axis counts as upright within this cosine of the vertical when the side that is up at the start is chosen.
const UPRIGHT: f64 = 0.8;

/// The axis a work is turned about, in the axes of the work as it stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rig {
    /// From the near to the far end.
    pub axis: Unit<Vector3<f64>>,
    /// Square to the axis: what is up at turn 0 and tilt 0.
    pub start: Unit<Vector3<f64>>,
    /// A place on the axis, mm.
    pub through: Point3<f64>,
}

/// How the rig stands: read off a level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stand {
    /// Degrees counter-clockwise seen from the far end looking back along the axis.
    pub turn: f64,
    /// Degrees the far end is raised above level; negative is lowered.
    pub tilt: f64,
}

/// What the rig carries in one stand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Load {
    /// All that turns, kg.
    pub mass: f64,
    /// Its centre, mm, in the axes of the work.
    pub centre: Point3<f64>,
    /// How far along the axis its centre lies, mm from the place the axis was given through; positive toward the far end.
    pub along: f64,
    /// How far its centre lies from the axis, mm.
    pub off: f64,
    /// How far its centre lies beside the vertical plane of the axis, mm; positive turns it on counter-clockwise.
    pub beside: f64,
    /// Unbalanced moment about the axis, N·m, of the same sign: weight × lever × cosine of the tilt.
    pub moment: f64,
}

impl Rig {
    /// A rig about an axis through a place. Up at the start is the work's own up, or +x for an axis that stands upright
    /// in the work.
    ///
    /// # Errors
    /// An axis without length.
    pub fn new(axis: Vector3<f64>, through: Point3<f64>) -> Result<Self> {
        let largest = axis.amax();
        if !axis.iter().all(|x| x.is_finite()) || largest == 0.0 {
            return Err(Error::input("the axis to turn about has no length")
                .remedy("give axis as three numbers, for instance [0, 0, 1]"));
        }
        let axis = Unit::new_normalize(axis / largest);
        let other = if axis.z.abs() > UPRIGHT { Vector3::x() } else { Vector3::z() };
        let start = Unit::new_normalize(other - axis.into_inner() * axis.dot(&other));
        Ok(Self { axis, start, through })
    }

    /// The direction that is up in a stand, in the axes of the work.
    pub fn up(&self, stand: Stand) -> Unit<Vector3<f64>> {
        // The work turns one way, up turns the other way in it.
        let turned =
            Rotation3::from_axis_angle(&self.axis, -stand.turn.to_radians()) * self.start.into_inner();
        let (sin, cos) = stand.tilt.to_radians().sin_cos();
        Unit::new_normalize(turned * cos + self.axis.into_inner() * sin)
    }

    /// Level and square to the axis, to the left seen from the far end looking back along it.
    pub fn left(&self, stand: Stand) -> Vector3<f64> {
        let turned = self.up(Stand { tilt: 0.0, ..stand });
        // Seen from the far end the axis points at the viewer: left is a quarter turn counter-clockwise from up.
        self.axis.cross(&turned)
    }

    /// What the rig carries with masses (kg) at their centres.
    pub fn load(&self, stand: Stand, bodies: &[(f64, Point3<f64>)]) -> Load {
        let mass: f64 = bodies.iter().map(|b| b.0).sum();
        let first: Vector3<f64> = bodies.iter().map(|b| (b.1 - self.through) * b.0).sum();
        let offset = if mass > 0.0 { first / mass } else { Vector3::zeros() };
        let beside = offset.dot(&self.left(stand));
        // Of the weight only the part square to the axis turns it.
        let turning = mass * STANDARD_GRAVITY * stand.tilt.to_radians().cos();
        let along = offset.dot(&self.axis);
        Load {
            mass,
            centre: self.through + offset,
            along,
            off: (offset - self.axis.into_inner() * along).norm(),
            beside,
            moment: turning * beside / 1000.0,
        }
    }
}
