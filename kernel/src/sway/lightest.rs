//! The lightest tube of a list that finds its way and keeps the limits of frequency, sway and stress.

use super::carried::Carried;
use super::model::Sway;
use super::options::Options;
use crate::error::{Error, Result};
use crate::spine::Built;
use crate::tube::Tube;

/// What became of a tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Verdict {
    /// It finds no way through the openings.
    NoWay,
    /// It finds a way; what it reaches.
    Reaches {
        /// Lowest natural frequency, Hz.
        frequency: f64,
        /// Greatest sway as a share of what is allowed.
        sway: f64,
        /// Greatest share of the strength.
        used: f64,
    },
}

/// A tube that was tried.
#[derive(Debug, Clone, PartialEq)]
pub struct Tried {
    /// The tube.
    pub tube: Tube,
    /// Mass of a metre, kg.
    pub mass: f64,
    /// What became of it.
    pub verdict: Verdict,
    /// The limits it does not keep, in words; empty for the chosen one.
    pub fails: Vec<String>,
}

/// The choice.
#[derive(Debug, Clone, PartialEq)]
pub struct Lightest {
    /// The spine of the lightest tube that keeps all limits.
    pub built: Built,
    /// All that were tried, lightest first; the last one is the chosen one.
    pub tried: Vec<Tried>,
}

/// Limits missed by this factor on another tube's way are taken as missed: no way of its own is looked for.
const HOPELESS: f64 = 2.0;

/// Tries tubes from the lightest on; of two as heavy, the slimmer first. `path` finds the way of a tube: none where it does
/// not fit. It is asked once for each outside diameter at most, since walls do not change the way; tubes that miss a limit
/// twofold on the way of the tube nearest in diameter get none of their own, and where a tube finds no way no wider one is
/// tried: its way would be one for the slimmer tube too.
///
/// # Errors
/// No tube; none that fits, with the best that was reached; what the path, the frame or the grade refuses.
pub fn lightest(
    carried: &Carried,
    options: &Options,
    tubes: &[Tube],
    path: impl Fn(&Tube) -> Result<Option<Built>>,
) -> Result<Lightest> {
    let mut order: Vec<&Tube> = tubes.iter().collect();
    order.sort_by(|a, b| a.area().total_cmp(&b.area()).then(a.outside().total_cmp(&b.outside())));
    let mut ways: Vec<(f64, Option<Built>)> = Vec::new();
    let mut tried: Vec<Tried> = Vec::new();
    for tube in order {
        let place = |e: Error| e.at(format!("tube {}", tube.words()));
        let slimmer = ways.iter().filter(|w| w.1.is_none() && w.0 < tube.outside()).map(|w| w.0);
        if let Some(slimmer) = slimmer.min_by(f64::total_cmp) {
            let fails = vec![format!("finds no way, for a tube of {slimmer} mm finds none")];
            tried.push(Tried { tube: *tube, mass: f64::NAN, verdict: Verdict::NoWay, fails });
            continue;
        }
        let known = ways.iter().find(|w| w.0.total_cmp(&tube.outside()).is_eq()).map(|w| w.1.clone());
        let way = match known {
            Some(way) => way,
            None => {
                let found = ways.iter().filter_map(|w| Some((w.0, w.1.as_ref()?)));
                let off = |d: f64| (d - tube.outside()).abs();
                if let Some((outside, way)) = found.min_by(|a, b| off(a.0).total_cmp(&off(b.0))) {
                    let built = Built { tube: *tube, ..way.clone() };
                    let mut one = attempt(carried, options, &built).map_err(place)?;
                    if hopeless(&one, options) {
                        one.fails.push(format!("(on the way of a tube of {outside} mm)"));
                        tried.push(one);
                        continue;
                    }
                }
                let way = path(tube).map_err(place)?;
                ways.push((tube.outside(), way.clone()));
                way
            }
        };
        let Some(way) = way else {
            let fails = vec!["finds no way".to_owned()];
            // Without a way there is no grade either: what a metre weighs is not known.
            tried.push(Tried { tube: *tube, mass: f64::NAN, verdict: Verdict::NoWay, fails });
            continue;
        };
        let built = Built { tube: *tube, ..way };
        let one = attempt(carried, options, &built).map_err(place)?;
        let fits = one.fails.is_empty();
        tried.push(one);
        if fits {
            let density = built.material.density;
            for t in &mut tried {
                t.mass = t.tube.mass_per_metre(density);
            }
            return Ok(Lightest { built, tried });
        }
    }
    Err(none_fits(&tried, options))
}

fn hopeless(tried: &Tried, options: &Options) -> bool {
    match tried.verdict {
        Verdict::NoWay => true,
        Verdict::Reaches { frequency, sway, used } => {
            frequency * HOPELESS < options.least_frequency || sway > HOPELESS || used > HOPELESS
        }
    }
}

fn attempt(carried: &Carried, options: &Options, built: &Built) -> Result<Tried> {
    let sway = Sway::new(carried, built, options)?;
    let worn = *sway.worn();
    let figures = sway.figures_with(1)?;
    let frequency = figures.frequency().unwrap_or(0.0);
    let sway = figures.worst_sway(options.most_sway).map_or(0.0, |w| w.figure);
    let used = figures.used();
    let mut fails = Vec::new();
    if frequency < options.least_frequency {
        fails.push(format!("swings at {frequency:.2} Hz"));
    }
    if sway > 1.0 {
        fails.push(format!("sways {sway:.2} times what is allowed"));
    }
    if used > 1.0 {
        fails.push(format!("uses {used:.2} of its strength"));
    }
    if worn.outside() / worn.wall() > built.material.stockiest(built.tube.wall())? {
        fails.push("its wall buckles before it yields".to_owned());
    }
    let mass = built.tube.mass_per_metre(built.material.density);
    Ok(Tried { tube: built.tube, mass, verdict: Verdict::Reaches { frequency, sway, used }, fails })
}

fn none_fits(tried: &[Tried], options: &Options) -> Error {
    let reached: Vec<[f64; 3]> = tried
        .iter()
        .filter_map(|t| match t.verdict {
            Verdict::Reaches { frequency, sway, used } => Some([frequency, sway, used]),
            Verdict::NoWay => None,
        })
        .collect();
    let no_way = tried.len() - reached.len();
    if reached.is_empty() {
        return Error::input(format!("none of {} tubes finds a way", tried.len()))
            .at("spine: tube")
            .remedy("widen the openings, take a smaller gap, allow more legs, or shift the elements");
    }
    let best = |k: usize, most: bool| {
        let all = reached.iter().map(|r| r[k]);
        if most { all.fold(f64::NEG_INFINITY, f64::max) } else { all.fold(f64::INFINITY, f64::min) }
    };
    Error::input(format!(
        "none of {} tubes keeps the limits: {no_way} find no way; the others reach at most {:.2} Hz of {} Hz, {:.2} of the sway \
         that is allowed, {:.2} of the strength",
        tried.len(),
        best(0, true),
        options.least_frequency,
        best(1, false),
        best(2, false)
    ))
    .at("spine: tube")
    .remedy("take mass off the top, widen the openings for a thicker tube, or relax a limit of the stage frame")
}
