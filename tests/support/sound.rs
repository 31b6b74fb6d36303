//! What every work that was worked out must keep: a closed shell, volumes and areas that two ways agree on, seams whose
//! sides lie together.

use crate::closed::{area_of, closed_volume};
use crate::compare::AGREEMENT;
use ribwright_kernel::sculpture::Sculpture;
use ribwright_kernel::{Error, ErrorKind, Level, Registry, Work, work_out};

/// What became of a work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sound {
    /// Worked out, and all holds.
    Closed,
    /// Refused as wrong input.
    Refused,
    /// Worked out with an error finding.
    ErrorFinding,
}

/// Works it out and checks it.
///
/// # Errors
/// Which promise is broken.
pub fn sound_outcome(sculpture: &Sculpture, registry: &Registry) -> Result<Sound, String> {
    match work_out(sculpture, registry) {
        Ok(work) => sound_work(&work),
        Err(error) => refused(&error),
    }
}

/// An error must be about the input.
///
/// # Errors
/// A fault of ours.
pub fn refused(error: &Error) -> Result<Sound, String> {
    match error.kind() {
        ErrorKind::Input => Ok(Sound::Refused),
        _ => Err(format!("a fault of ours: {error}")),
    }
}

/// Checks what was worked out.
///
/// # Errors
/// Which promise is broken.
pub fn sound_work(work: &Work) -> Result<Sound, String> {
    // An element that touches nothing must not be built so, but its shell is closed all the same.
    if work.findings.iter().any(|f| f.level == Level::Error && f.code != "apart") {
        return Ok(Sound::ErrorFinding);
    }
    let volume = closed_volume(&work.mesh)?;
    if volume.is_nan() || volume <= 0.0 {
        return Err(format!("the mesh encloses {volume} mm³"));
    }
    let close = |what: &str, a: f64, b: f64| {
        if (a - b).abs() <= AGREEMENT * b.abs() { Ok(()) } else { Err(format!("{what}: {a} and {b}")) }
    };
    // A sliver's volume is no better than its corners, which far from the origin have few digits.
    let far = work.mesh.points.iter().map(|p| p.coords.amax()).fold(0.0, f64::max);
    let rounding = work.area * far * f64::EPSILON;
    let off = (volume - work.volume).abs();
    if off.is_nan() || off > AGREEMENT * work.volume.abs() + rounding {
        return Err(format!(
            "volume by the mesh {volume} and in the report {}, off by {off}; area {}, rounding {rounding}",
            work.volume, work.area
        ));
    }
    for face in &work.faces {
        // Twice the same by rounding: pieces far below a square millimetre weigh nothing here.
        let meshed = area_of(&work.mesh, &face.id);
        let off = (meshed - face.area).abs();
        if off.is_nan() || off > AGREEMENT * work.area {
            return Err(format!("{}: area by the mesh {meshed} and in the report {}", face.id, face.area));
        }
        close(&format!("{}: sum of pieces and area", face.id), face.pieces.iter().sum(), face.area)?;
    }
    let corner = work.mesh.points.iter().fold(work.mesh.points[0], |low, p| low.inf(p));
    let size = work.mesh.points.iter().map(|p| (p - corner).norm()).fold(0.0, f64::max);
    for seam in &work.seams {
        let numbers = [seam.length, seam.wobble_peak, seam.wobble_rms, seam.dihedral, seam.nominal_length];
        if numbers.iter().any(|x| !x.is_finite()) {
            return Err(format!("{}: {numbers:?}", seam.id));
        }
        if seam.mismatch.is_nan() || seam.mismatch > AGREEMENT * size {
            return Err(format!("{}: its sides are {} mm apart", seam.id, seam.mismatch));
        }
    }
    Ok(Sound::Closed)
}
