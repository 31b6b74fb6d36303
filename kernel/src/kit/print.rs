//! The shell at model size for printing in plastic, and what of it is too fine to print.

use super::scale_text;
use crate::error::Result;
use crate::export::OutFile;
use crate::export::glb::glb_bytes;
use crate::export::stl::stl_bytes;
use crate::finding::{Finding, Level};
use crate::mesh::Mesh;
use crate::profile::Profile;
use crate::work::Work;
use nalgebra::{Point3, Vector3};

/// The shell at 1 to `scale`: its middle over the origin, its lowest point at z = 0, mm.
pub(super) fn scaled(mesh: &Mesh, scale: f64) -> Mesh {
    let Some([lo, hi]) = mesh.bounds() else { return mesh.clone() };
    let middle = nalgebra::center(&lo, &hi);
    let foot = Vector3::new(middle.x, middle.y, lo.z);
    Mesh {
        points: mesh.points.iter().map(|p| Point3::from((p.coords - foot) / scale)).collect(),
        ..mesh.clone()
    }
}

/// The model files; none where the shell is not watertight, with a finding that says so.
///
/// # Errors
/// A shell too large for the file formats.
pub(super) fn files(
    work: &Work,
    stem: &str,
    scale: f64,
    title: &str,
    findings: &mut Vec<Finding>,
) -> Result<Vec<OutFile>> {
    let mesh = scaled(&work.mesh, scale);
    if !mesh.is_watertight() {
        findings.push(Finding::new(
            Level::Warning,
            "kit-model-open",
            work.sculpture.name.clone(),
            "the shell is not watertight, so it cannot be printed",
            "no STL and GLB are written; shift the ribs of the faces where it is open a little",
        ));
        return Ok(Vec::new());
    }
    let stl = stl_bytes(&mesh, &format!("ribwright model 1 to {scale}, unit mm"))?;
    let glb = glb_bytes(title, &mesh)?;
    Ok(vec![
        OutFile { path: format!("model/{stem}.stl"), bytes: stl },
        OutFile { path: format!("model/{stem}.glb"), bytes: glb },
    ])
}

/// The finest measure of a profile's relief: its depth, or the narrowest of its flats and webs as seen square to the
/// sheet, mm; none for a flat sheet.
fn finest(profile: &Profile) -> Option<(f64, &'static str)> {
    if profile.is_flat() {
        return None;
    }
    let corners = profile.corners();
    let apart = |i: usize| {
        let wrap = if i + 1 == corners.len() { profile.pitch() } else { 0.0 };
        corners[(i + 1) % corners.len()][0] + wrap - corners[i][0]
    };
    let narrowest = (0..corners.len()).map(apart).filter(|w| *w > 0.0).fold(profile.pitch(), f64::min);
    Some(if profile.depth() < narrowest {
        (profile.depth(), "depth of its ribs")
    } else {
        (narrowest, "flat or web")
    })
}

/// What a printer for plastic cannot make: ribs, and elements thinner than its least feature.
pub(super) fn too_fine(work: &Work, thinnest: &[(String, f64)], scale: f64, feature: f64) -> Vec<Finding> {
    let at = scale_text(scale);
    let mut findings = Vec::new();
    let mut said: Vec<&Profile> = Vec::new();
    for face in &work.faces {
        if said.iter().any(|p| **p == *face.profile) {
            continue;
        }
        said.push(&face.profile);
        let Some((width, what)) = finest(&face.profile) else { continue };
        if width / scale < feature {
            findings.push(Finding::new(
                Level::Warning,
                "kit-feature",
                face.id.clone(),
                format!(
                    "at {at} the {what} is {:.2} mm, below the {feature} mm that can be printed in plastic",
                    width / scale
                ),
                format!(
                    "print at 1:{:.0} or larger, or leave the relief out",
                    (width / feature).floor().max(1.0)
                ),
            ));
        }
    }
    for (name, width) in thinnest {
        if *width < feature {
            findings.push(Finding::new(
                Level::Warning,
                "kit-feature",
                name.clone(),
                format!(
                    "at {at} it is {width:.2} mm thick, below the {feature} mm that can be printed in plastic"
                ),
                "print larger",
            ));
        }
    }
    let sheet = work.parts.iter().map(crate::part::Part::thickness).fold(f64::INFINITY, f64::min);
    if sheet.is_finite() && sheet / scale < feature {
        findings.push(Finding::new(
            Level::Note,
            "kit-solid",
            work.sculpture.name.clone(),
            format!(
                "at {at} the thinnest sheet is {:.2} mm, below the {feature} mm that can be printed: the model \
                 files hold a closed surface to be printed as a solid body",
                sheet / scale
            ),
            "let the slicer fill it, or give it a wall of its own",
        ));
    }
    findings
}
