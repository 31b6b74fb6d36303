//! The lightest tube that keeps within limits of sway and stress.

use super::model::{Load, Model};
use super::modes::modes;
use super::statics::solve;
use super::stress::utilisation;
use crate::error::{Error, Result};
use crate::tube::{Material, Tube};

/// Limits; each may be left out.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Limits {
    /// Least natural frequency, Hz.
    pub frequency: Option<f64>,
    /// Greatest movement of any node under the loads, mm.
    pub deflection: Option<f64>,
    /// Partial factor on the yield strength for stresses under the loads (1.0 in EN 1993-1-1, from memory; load factors
    /// belong into the loads).
    pub partial_factor: Option<f64>,
}

/// What a tube gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tried {
    /// The tube.
    pub tube: Tube,
    /// kg/m.
    pub mass: f64,
    /// Lowest natural frequency, Hz, where it is limited.
    pub frequency: Option<f64>,
    /// Greatest movement, mm, where it is limited.
    pub deflection: Option<f64>,
    /// Greatest equivalent stress over the strength, where it is limited.
    pub utilisation: Option<f64>,
    /// Whether all limits are kept.
    pub fits: bool,
}

/// The choice, and all lighter tubes with what they failed by.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The lightest that fits.
    pub chosen: Tried,
    /// Those before it, lightest first.
    pub lighter: Vec<Tried>,
}

/// Tries tubes from the lightest on. `frame` makes the frame and its loads for a tube: mass and stiffness
/// of the tube itself, its weight among the loads.
///
/// # Errors
/// No limit, no tube; no tube that fits, with what the best one reaches; what `frame` or the solver refuses.
pub fn choose(
    tubes: &[Tube],
    material: &Material,
    limits: &Limits,
    frame: impl Fn(&Tube) -> Result<(Model, Vec<Load>)>,
) -> Result<Choice> {
    if *limits == Limits::default() {
        return Err(Error::input("no limit is set")
            .remedy("set a least frequency, a greatest deflection, or stresses"));
    }
    for (what, x) in [
        ("frequency", limits.frequency),
        ("deflection", limits.deflection),
        ("partial factor", limits.partial_factor),
    ] {
        if x.is_some_and(|x| !(x > 0.0 && x.is_finite())) {
            return Err(
                Error::input(format!("a {what} of {x:?} limits nothing")).remedy("give a number above 0")
            );
        }
    }
    let mut order: Vec<&Tube> = tubes.iter().collect();
    // Of two tubes as heavy, the slimmer first: it goes through more openings.
    order.sort_by(|a, b| a.area().total_cmp(&b.area()).then(a.outside().total_cmp(&b.outside())));
    let mut lighter = Vec::new();
    for tube in order {
        let tried =
            attempt(tube, material, limits, &frame).map_err(|e| e.at(format!("tube {}", tube.words())))?;
        if tried.fits {
            return Ok(Choice { chosen: tried, lighter });
        }
        lighter.push(tried);
    }
    let best = |pick: fn(&Tried) -> Option<f64>, most: bool| {
        let all = lighter.iter().filter_map(pick);
        if most { all.fold(f64::NEG_INFINITY, f64::max) } else { all.fold(f64::INFINITY, f64::min) }
    };
    let mut reached = Vec::new();
    if let Some(limit) = limits.frequency {
        reached.push(format!("at most {:.2} Hz of {limit} Hz", best(|t| t.frequency, true)));
    }
    if let Some(limit) = limits.deflection {
        reached.push(format!("at least {:.1} mm of {limit} mm", best(|t| t.deflection, false)));
    }
    if limits.partial_factor.is_some() {
        reached.push(format!("at least {:.2} of the strength", best(|t| t.utilisation, false)));
    }
    Err(Error::input(format!(
        "none of {} tubes keeps the limits; they reach {}",
        tubes.len(),
        reached.join(", ")
    ))
    .remedy("allow thicker tubes, shorten the spine, take mass off its top, or relax a limit"))
}

fn attempt(
    tube: &Tube,
    material: &Material,
    limits: &Limits,
    frame: &impl Fn(&Tube) -> Result<(Model, Vec<Load>)>,
) -> Result<Tried> {
    let (model, loads) = frame(tube)?;
    let frequency = match limits.frequency {
        Some(_) => modes(&model, 1)?.first().map(|m| m.frequency),
        None => None,
    };
    let (mut deflection, mut used) = (None, None);
    if limits.deflection.is_some() || limits.partial_factor.is_some() {
        let solved = solve(&model, &loads)?;
        deflection = limits.deflection.map(|_| solved.greatest().1);
        if let Some(factor) = limits.partial_factor {
            used = Some(utilisation(&model, &solved, material.at(tube.wall())?.yield_strength / factor)?);
        }
    }
    let keeps = |found: Option<f64>, limit: Option<f64>| limit.is_none_or(|l| found.is_some_and(|f| f <= l));
    let fits = limits.frequency.is_none_or(|l| frequency.is_some_and(|f| f >= l))
        && keeps(deflection, limits.deflection)
        && keeps(used, limits.partial_factor.map(|_| 1.0));
    let mass = tube.mass_per_metre(material.density);
    Ok(Tried { tube: *tube, mass, frequency, deflection, utilisation: used, fits })
}
