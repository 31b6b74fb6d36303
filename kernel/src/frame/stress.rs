//! Stresses in tubes.
//!
//! Axial N/A and bending M r/I; torsion T r/It and shear V S/(2 I t) sin (the sine of the angle from the line of the
//! shear force, as for a thin ring: its greatest value is the exact one at the neutral axis). Equivalent stress
//! √(σ² + 3τ²) (R. von Mises) on the outside, every 5 degrees from the line of the bending moment; between two of these
//! lines it is at most 0.1 % higher. Along a member at its ends, at loads, and at evenly spaced sections.

use super::model::Model;
use super::statics::Deflected;
use crate::error::{Error, Result};
use crate::tube::Tube;
use nalgebra::Vector6;

/// Stresses in one section, MPa.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Stress {
    /// N/A, positive in tension.
    pub axial: f64,
    /// Greatest of bending.
    pub bending: f64,
    /// Greatest of shear forces.
    pub shear: f64,
    /// Of torsion on the outside.
    pub torsion: f64,
    /// Greatest equivalent stress round the outside.
    pub equivalent: f64,
}

/// The worst section of a member.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worst {
    /// The member.
    pub member: usize,
    /// From its first end, mm.
    pub at: f64,
    /// What acts there.
    pub stress: Stress,
}

/// Lines round the tube at which the equivalent stress is taken.
const LINES: u32 = 72;
/// Sections along a member, beside its ends and loads.
const SECTIONS: u32 = 20;

/// Stresses of a tube under the forces and moments of a section, in the order of
/// [`Carrying::section`](super::statics::Carrying::section).
pub fn in_tube(tube: &Tube, section: &Vector6<f64>) -> Stress {
    let [n, vy, vz, torque, my, mz] = [0, 1, 2, 3, 4, 5].map(|i| section[i]);
    let axial = n / tube.area();
    let bending = my.hypot(mz) / tube.elastic_modulus();
    let shear = vy.hypot(vz) * tube.peak_shear();
    let torsion = torque / tube.torsion_modulus();
    // Stress at the angle a from y towards z: M about y pulls at +z, M about z pulls at −y.
    let along = |a: f64| axial + (my * a.sin() - mz * a.cos()) / tube.elastic_modulus();
    // Shear flows with the force at the sides: at +z flow along y runs backwards round the tube.
    let around = |a: f64| torsion + (vz * a.cos() - vy * a.sin()) * tube.peak_shear();
    let pull = my.atan2(-mz);
    let equivalent = (0..LINES)
        .map(|k| pull + std::f64::consts::TAU * f64::from(k) / f64::from(LINES))
        .map(|a| (along(a).powi(2) + 3.0 * around(a).powi(2)).sqrt())
        .fold(0.0, f64::max);
    Stress { axial, bending, shear, torsion: torsion.abs(), equivalent }
}

/// The worst section of every member that is a tube, in order of members.
///
/// # Errors
/// A member that is no tube, by number.
pub fn worst(model: &Model, solved: &Deflected) -> Result<Vec<Worst>> {
    worst_of(model, solved, model.members.len())
}

/// The same of the first `count` members.
///
/// # Errors
/// As [`worst`].
pub fn worst_of(model: &Model, solved: &Deflected, count: usize) -> Result<Vec<Worst>> {
    let mut all = Vec::with_capacity(model.members.len());
    for (k, (member, carrying)) in model.members.iter().zip(&solved.members).take(count).enumerate() {
        let Some(tube) = &model.bars[member.bar].tube else {
            return Err(Error::input("is no tube; its stresses are not known").at(format!("member {k}")));
        };
        let evenly = (0..=SECTIONS).map(|i| carrying.length * f64::from(i) / f64::from(SECTIONS));
        let mut places: Vec<f64> = evenly.chain(carrying.load_places()).collect();
        places.sort_by(f64::total_cmp);
        // Loads upon an end pass straight to its node and are not in the member.
        let mut sections: Vec<(f64, f64, Vector6<f64>)> = places
            .into_iter()
            .flat_map(|at| {
                let sides = [(false, at > 0.0), (true, at < carrying.length)];
                sides.into_iter().filter(|side| side.1).map(move |(after, _)| {
                    let section = carrying.section(at, after);
                    (bound(tube, &section), at, section)
                })
            })
            .collect();
        // Those that may be the worst first: most need no look round the tube.
        sections.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.total_cmp(&b.1)));
        let mut worst: Option<Worst> = None;
        for (bound, at, section) in &sections {
            if worst.is_some_and(|w| *bound < w.stress.equivalent) {
                break;
            }
            let stress = in_tube(tube, section);
            let worse = |w: &Worst| {
                let (new, old) = (stress.equivalent, w.stress.equivalent);
                new > old || new >= old && *at < w.at
            };
            if worst.as_ref().is_none_or(worse) {
                worst = Some(Worst { member: k, at: *at, stress });
            }
        }
        all.extend(worst);
    }
    Ok(all)
}

/// What the equivalent stress of a section cannot exceed, MPa.
fn bound(tube: &Tube, section: &Vector6<f64>) -> f64 {
    let [n, vy, vz, torque, my, mz] = [0, 1, 2, 3, 4, 5].map(|i| section[i]);
    let along = n.abs() / tube.area() + my.hypot(mz) / tube.elastic_modulus();
    let around = torque.abs() / tube.torsion_modulus() + vy.hypot(vz) * tube.peak_shear();
    (along * along + 3.0 * around * around).sqrt() * (1.0 + BOUND_ROUNDING)
}

/// What rounding may take off a bound: a share of it.
const BOUND_ROUNDING: f64 = 1.0e-12;
