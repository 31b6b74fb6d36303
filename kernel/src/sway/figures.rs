//! What comes out: reactions, sway, stresses and frequencies.

use super::cases::{Case, Side};
use super::model::Sway;
use crate::error::Result;
use crate::frame::stress::{Stress, worst_of};
use crate::frame::{Deflected, Mode, Solver, modes};
use nalgebra::{Point3, Vector3};

/// How many modes are looked for.
const MODES: usize = 6;

/// What the base puts on the spine and whatever else it holds, characteristic: N and N·mm about the foot of the spine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reaction {
    /// The action alone; none is weight.
    pub side: Option<Side>,
    /// Force on the frame.
    pub force: Vector3<f64>,
    /// Moment on the frame, about the foot.
    pub moment: Vector3<f64>,
}

/// The worst section of a leg.
#[derive(Debug, Clone, PartialEq)]
pub struct LegUse {
    /// Leg, from 0 at the foot.
    pub leg: usize,
    /// Its length, mm.
    pub length: f64,
    /// The combination, in words.
    pub case: String,
    /// From the leg's lower end, mm.
    pub at: f64,
    /// What acts there.
    pub stress: Stress,
    /// Yield strength over its partial factor, MPa.
    pub strength: f64,
    /// Equivalent stress over strength.
    pub used: f64,
}

/// What a number is about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct What {
    /// mm, or a share of what is allowed.
    pub figure: f64,
    /// The element.
    pub element: usize,
    /// Index among the sideways actions.
    pub side: usize,
}

/// All figures of a spine.
#[derive(Debug, Clone, PartialEq)]
pub struct Figures {
    /// At rest under its weight, no factor.
    pub rest: Deflected,
    /// Under each sideways action alone, no factor.
    pub sides: Vec<Deflected>,
    /// What they are.
    pub what: Vec<Side>,
    /// Weight first, then the sideways actions.
    pub reactions: Vec<Reaction>,
    /// Legs from the foot up.
    pub legs: Vec<LegUse>,
    /// Natural modes, lowest first.
    pub modes: Vec<Mode>,
    /// Elements that are carried, ascending.
    pub elements: Vec<usize>,
    /// How far the top of each of these sinks aside under weight, mm, in plan.
    pub sag: Vec<f64>,
    /// For each sideways action how far the top of each element moves from rest, mm, in plan.
    pub sway: Vec<Vec<f64>>,
    /// Height of each element's top over the foot, mm.
    pub heights: Vec<f64>,
}

impl Sway<'_> {
    /// All figures.
    ///
    /// # Errors
    /// A frame that can move; a wall for which the grade has no strength.
    pub fn figures(&self) -> Result<Figures> {
        self.figures_with(MODES)
    }

    /// All figures with so many modes.
    ///
    /// # Errors
    /// As [`Self::figures`].
    pub fn figures_with(&self, count: usize) -> Result<Figures> {
        let strength = self.built.material.at(self.built.tube.wall())?.yield_strength;
        let strength = strength / (self.options.yield_factor * self.built.material.partial_factor());
        let solver = Solver::new(&self.frame)?;
        let rest = solver.solve(&self.loads(&Case { weight: 1.0, side: None }))?;
        let sides = (0..self.sides.what.len())
            .map(|side| solver.solve(&self.loads_of(side)))
            .collect::<Result<Vec<_>>>()?;
        let foot = self.axis.points()[0];
        let mut reactions = vec![self.reaction(None, &rest, &foot)];
        reactions.extend(self.sides.what.iter().zip(&sides).map(|(w, d)| self.reaction(Some(*w), d, &foot)));
        let elements = self.elements();
        let tops: Vec<Point3<f64>> = elements.iter().map(|e| self.carried.top(*e)).collect();
        let aside = |solved: &Deflected| -> Vec<f64> {
            let each = elements.iter().zip(&tops);
            each.map(|(e, top)| self.moved(&solved.nodes, *e, top).map_or(0.0, |u| u.xy().norm())).collect()
        };
        Ok(Figures {
            sag: aside(&rest),
            sway: sides.iter().map(aside).collect(),
            heights: tops.iter().map(|t| (t.z - foot.z).max(0.0)).collect(),
            legs: self.legs_used(&solver, strength)?,
            modes: modes(&self.frame, count)?,
            what: self.sides.what.clone(),
            rest,
            sides,
            reactions,
            elements,
        })
    }

    /// All reactions as one at the foot.
    fn reaction(&self, side: Option<Side>, solved: &Deflected, foot: &Point3<f64>) -> Reaction {
        let mut all = Reaction { side, force: Vector3::zeros(), moment: Vector3::zeros() };
        for (node, r) in &solved.reactions {
            let force = r.fixed_rows::<3>(0).into_owned();
            let arm = self.frame.nodes[*node].at - foot;
            all.force += force;
            all.moment += r.fixed_rows::<3>(3) + arm.cross(&force);
        }
        all
    }

    fn legs_used(&self, solver: &Solver, strength: f64) -> Result<Vec<LegUse>> {
        let along = self.axis.along();
        let mut legs: Vec<LegUse> = (0..along.len() - 1)
            .map(|leg| LegUse {
                leg,
                length: along[leg + 1] - along[leg],
                case: String::new(),
                at: 0.0,
                stress: Stress::default(),
                strength,
                used: 0.0,
            })
            .collect();
        for case in self.sides.for_strength(&self.options) {
            let solved = solver.solve(&self.loads(&case))?;
            for found in worst_of(&self.frame, &solved, self.legs.len())? {
                let leg = &mut legs[self.legs[found.member]];
                if leg.case.is_empty() || found.stress.equivalent > leg.stress.equivalent {
                    let start = self.frame.nodes[self.frame.members[found.member].nodes[0]].at;
                    leg.case = self.sides.words(&case);
                    leg.at = (start - self.axis.points()[leg.leg]).norm() + found.at;
                    leg.stress = found.stress;
                    leg.used = found.stress.equivalent / strength;
                }
            }
        }
        Ok(legs)
    }
}

impl Figures {
    /// Greatest share of the strength that is used anywhere; 1 is just enough.
    pub fn used(&self) -> f64 {
        self.legs.iter().map(|l| l.used).fold(0.0, f64::max)
    }

    /// The leg that is used most.
    pub fn worst_leg(&self) -> Option<&LegUse> {
        self.legs.iter().max_by(|a, b| a.used.total_cmp(&b.used).then(b.leg.cmp(&a.leg)))
    }

    /// Lowest natural frequency, Hz.
    pub fn frequency(&self) -> Option<f64> {
        self.modes.first().map(|m| m.frequency)
    }

    /// The greatest sway, mm.
    pub fn greatest_sway(&self) -> Option<What> {
        self.most(|_| 1.0)
    }

    /// The sway that is worst beside what is allowed, `height / most_sway`, as a share of it.
    pub fn worst_sway(&self, most_sway: f64) -> Option<What> {
        self.most(|k| most_sway / self.heights[k].max(f64::MIN_POSITIVE))
    }

    fn most(&self, scale: impl Fn(usize) -> f64) -> Option<What> {
        let mut best: Option<What> = None;
        for (side, all) in self.sway.iter().enumerate() {
            for (k, sway) in all.iter().enumerate() {
                let figure = sway * scale(k);
                if best.is_none_or(|b| figure > b.figure) {
                    best = Some(What { figure, element: self.elements[k], side });
                }
            }
        }
        best
    }

    /// The sideways action that with the weight bends the foot most: its index.
    pub fn worst_side(&self, factor: f64) -> Option<usize> {
        let weight = self.reactions.first()?.moment;
        let bends = |r: &Reaction| (weight + r.moment * factor).xy().norm();
        let all = self.reactions[1..].iter().enumerate();
        all.max_by(|a, b| bends(a.1).total_cmp(&bends(b.1)).then(b.0.cmp(&a.0))).map(|w| w.0)
    }
}
