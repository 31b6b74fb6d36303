//! Load cases: weight, wind from each side, people from each side, and their combinations for strength.
//!
//! EN 1990, Table A1.2(B), equation 6.10: 1.35 or 1.0 of the weight with 1.5 of one variable action; wind and people not at
//! once. Sway is characteristic: no factors.

use super::carried::{Carried, Wrench};
use super::options::Options;
use nalgebra::{Point3, Vector3};

/// What pushes sideways.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Side {
    /// Wind from a direction, degrees.
    Wind(f64),
    /// People pushing from a direction, degrees.
    People(f64),
}

/// A combination.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Case {
    /// Factor on weight.
    pub weight: f64,
    /// Which sideways action (index among all of them), and its factor.
    pub side: Option<(usize, f64)>,
}

/// Sideways actions: what they are, and what they put on each piece.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sides {
    pub(super) what: Vec<Side>,
    pub(super) wrenches: Vec<Vec<Wrench>>,
}

impl Side {
    /// In words: `wind from 45°`.
    pub fn words(&self) -> String {
        match self {
            Side::Wind(from) => format!("wind from {from:.1}°"),
            Side::People(from) => format!("people from {from:.1}°"),
        }
    }

    /// Whether it is wind.
    pub fn is_wind(&self) -> bool {
        matches!(self, Side::Wind(_))
    }
}

impl Sides {
    /// Wind from every side, then people from every side, who push toward the spine at their height.
    pub(super) fn new(carried: &Carried, foot: &Point3<f64>, bounds: &[f64], axis_at: Point3<f64>) -> Self {
        let wind = &carried.wind;
        let mut what: Vec<Side> = wind.ways.iter().map(|w| Side::Wind(w.from)).collect();
        let mut wrenches = carried.blows(foot, bounds);
        let piece = bounds.iter().filter(|z| **z <= wind.push.height).count();
        let arm = Point3::new(axis_at.x, axis_at.y, wind.push.height) - foot;
        for way in &wind.ways {
            let (sin, cos) = way.from.to_radians().sin_cos();
            let mut all = vec![Wrench::NONE; bounds.len() + 1];
            all[piece].add(Vector3::new(-cos, -sin, 0.0) * wind.push.force, arm);
            what.push(Side::People(way.from));
            wrenches.push(all);
        }
        Self { what, wrenches }
    }

    /// The combinations for strength.
    pub(super) fn for_strength(&self, options: &Options) -> Vec<Case> {
        let mut all = vec![Case { weight: options.permanent, side: None }];
        for side in 0..self.what.len() {
            for weight in [options.permanent, options.favourable] {
                all.push(Case { weight, side: Some((side, options.variable)) });
            }
        }
        all
    }

    /// A combination in words: `1.35 × weight + 1.5 × wind from 45°`.
    pub(super) fn words(&self, case: &Case) -> String {
        match case.side {
            None => format!("{} × weight", case.weight),
            Some((side, factor)) => {
                format!("{} × weight + {factor} × {}", case.weight, self.what[side].words())
            }
        }
    }
}
