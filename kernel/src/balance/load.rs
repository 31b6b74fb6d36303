//! The mass of a work by itself: its sheets and closure strips, and the weld metal of its seams.

use crate::error::Result;
use crate::mass::{Kind, MassModel, Matter, Rod};
use crate::part::Part;
use crate::weld::practice::{Practice, SETTINGS, STAGE};
use crate::weld::schedule::Schedule;
use crate::work::Work;
use std::collections::BTreeMap;

/// Sheets, closure strips and weld metal of a work. What lies between two elements goes up with the one whose foot is
/// higher. Weld metal is that of the stage `welds` without seams named for welding inside, spread evenly along each
/// seam.
///
/// # Errors
/// A part without thickness or density; settings of the stage `welds` that its rows do not allow.
pub fn own_mass(work: &Work) -> Result<MassModel> {
    let mut model = sheets(work)?;
    for (seam, mass) in filler(work)? {
        let seam = &work.seams[seam];
        let length: f64 = seam.segments.iter().map(|s| s.length()).sum();
        let rods: Vec<Rod> =
            seam.segments.iter().map(|s| Rod { ends: s.ends, mass: mass * s.length() / length }).collect();
        let element = later(work, seam.between.map(|f| work.faces[f].element));
        model.push(element, Kind::Filler, seam.id.clone(), Matter::Rods(rods))?;
    }
    Ok(model)
}

/// Sheets and closure strips only.
///
/// # Errors
/// A part without thickness or density.
pub fn sheets(work: &Work) -> Result<MassModel> {
    let faces: BTreeMap<&str, usize> = work.faces.iter().map(|f| (f.id.as_str(), f.element)).collect();
    let seams: BTreeMap<&str, [usize; 2]> =
        work.seams.iter().map(|s| (s.id.as_str(), s.between.map(|f| work.faces[f].element))).collect();
    let element_of = |part: &Part| {
        let face = part.face.as_str();
        faces.get(face).copied().or_else(|| seams.get(face).and_then(|&pair| later(work, pair)))
    };
    MassModel::of_parts(&work.parts, work.sculpture.rules.density, element_of)
}

/// The one of two elements that goes up later: the one with the higher foot.
fn later(work: &Work, pair: [usize; 2]) -> Option<usize> {
    let foot = |e: usize| work.sculpture.elements.get(e).map(|e| e.solid.lowest_z());
    let [Some(a), Some(b)] = pair.map(foot) else { return None };
    let a_later = a.total_cmp(&b).then(pair[0].cmp(&pair[1])).is_gt();
    Some(if a_later { pair[0] } else { pair[1] })
}

/// Seam and weld metal, kg.
fn filler(work: &Work) -> Result<Vec<(usize, f64)>> {
    let values = work.sculpture.stage_values(STAGE, SETTINGS)?;
    let schedule = Schedule::new(work, Practice::new(&values), &[]);
    let with = schedule.seams.iter().map(|s| (s.seam, s.sum.both()));
    Ok(with.filter(|(seam, mass)| *mass > 0.0 && !work.seams[*seam].segments.is_empty()).collect())
}
