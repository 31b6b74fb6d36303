//! Every attitude that is looked at, with what it takes to wet each corner of the walls.
//!
//! A turn of the rig is looked at in steps. What is wet in one of these poses is surely wet at the end of the turn, so that
//! a turn never wets less than what is said here; a finer step only finds more.

use super::rig::{Rig, Stand};
use crate::liquid::{Chamber, Gauge, Pools, Posed};
use rayon::prelude::*;
use std::sync::OnceLock;

/// What the rigs can do.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidates {
    /// Degrees between the poses of a turn; a whole number of them, at most [`MOST_ROLLS`], makes a full turn.
    pub turn_step: f64,
    /// Tilts, degrees.
    pub tilts: Vec<f64>,
}

/// Most poses in a turn.
pub const MOST_ROLLS: usize = 128;
/// A full turn, degrees.
pub const FULL: f64 = 360.0;
/// Levels of this share of the chamber's size more count as reached: rounding of the volumes at corners.
const REACHED: f64 = 1.0e-9;

/// One pose.
pub(super) struct Pose<'a> {
    pub(super) stand: Stand,
    pub(super) pools: Pools<'a>,
    gauge: Gauge,
    /// For every corner the volume that wets it from any start, mm³.
    pub(super) needs: Vec<f64>,
}

impl<'a> Pose<'a> {
    fn new(chamber: &'a Chamber, rig: &Rig, stand: Stand) -> Self {
        let (pools, gauge) = Pools::gauged(Posed::new(chamber, rig.up(stand)));
        let needs = (0..chamber.corners_count())
            .map(|c| {
                let pool = pools.of_corner(c);
                gauge.volume(pool, pools.posed.height(c)) + pools.pools[pool].elsewhere
            })
            .collect();
        Self { stand, pools, gauge, needs }
    }

    /// Least and greatest volume over the corners of a triangle, mm³.
    pub(super) fn range(&self, triangle: usize) -> [f64; 2] {
        let n = self.pools.posed.chamber.indices(triangle).map(|c| self.needs[c as usize]);
        [n[0].min(n[1]).min(n[2]), n[0].max(n[1]).max(n[2])]
    }

    /// For every pool the level up to which a volume wets from any start a triangle that is born in it, mm over the
    /// chamber's middle; −∞ if it may stay dry.
    fn levels(&self, volume: f64) -> Vec<f64> {
        let pools = &self.pools;
        let reached = REACHED * pools.posed.chamber.size;
        pools.sure_levels_by(volume, |k, here| self.gauge.level(k, here, pools.pools[k].top) + reached)
    }

    /// Whether a volume may wet something of a triangle over a height from any start: no is sure, and is told by one look
    /// at the gauge where a level takes many.
    pub(super) fn may_reach(&self, triangle: usize, volume: f64, height: f64) -> bool {
        let Some((pool, here)) = self.pools.sure_pool(self.pools.of_triangle(triangle), volume) else {
            return false;
        };
        // Twice what a level is raised by, so that rounding is not what says no.
        let height = height - 2.0 * REACHED * self.pools.posed.chamber.size;
        height <= self.pools.pools[pool].bottom || self.gauge.volume(pool, height) < here
    }

    /// The lowest hollow.
    pub(super) fn lowest(&self) -> usize {
        let bottom = |k: &usize| self.pools.pools[*k].bottom;
        self.pools.hollows().min_by(|a, b| bottom(a).total_cmp(&bottom(b))).unwrap_or(0)
    }
}

/// Levels of one volume in some poses, those of a pose worked out when the first of them is asked for.
pub(super) struct Levels {
    volume: f64,
    of: Vec<OnceLock<Vec<f64>>>,
}

impl Levels {
    /// For so many poses.
    pub(super) fn new(volume: f64, poses: usize) -> Self {
        Self { volume, of: vec![OnceLock::new(); poses] }
    }

    /// The level up to which the volume wets a triangle from any start in a pose, the one of that number, mm over the
    /// chamber's middle; −∞ if it may stay dry.
    pub(super) fn of(&self, number: usize, pose: &Pose<'_>, triangle: usize) -> f64 {
        self.of[number].get_or_init(|| pose.levels(self.volume))[pose.pools.of_triangle(triangle)]
    }
}

/// All poses of one tilt of one rig, in the order of their turns.
pub(super) struct Around<'a> {
    /// Index of the rig.
    pub(super) rig: usize,
    pub(super) tilt: f64,
    pub(super) poses: Vec<Pose<'a>>,
    /// For every triangle what wets its driest corner at least, and the least that wets all of it in one pose, mm³.
    pub(super) bounds: Vec<[f64; 2]>,
}

/// All poses of all rigs.
pub(super) fn around<'a>(chamber: &'a Chamber, rigs: &[Rig], candidates: &Candidates) -> Vec<Around<'a>> {
    let turns = candidates.turns();
    let mut all: Vec<(usize, f64)> = Vec::new();
    for rig in 0..rigs.len() {
        all.extend(candidates.tilts.iter().map(|&tilt| (rig, tilt)));
    }
    all.into_par_iter()
        .map(|(rig, tilt)| {
            let poses: Vec<Pose<'a>> = (0..turns)
                .into_par_iter()
                .map(|k| Pose::new(chamber, &rigs[rig], candidates.stand(k, tilt)))
                .collect();
            let mut least = vec![f64::INFINITY; chamber.corners_count()];
            for pose in &poses {
                for (a, b) in least.iter_mut().zip(&pose.needs) {
                    *a = a.min(*b);
                }
            }
            let bounds = (0..chamber.triangles())
                .map(|t| {
                    let low = chamber.indices(t).map(|c| least[c as usize]).into_iter().fold(0.0, f64::max);
                    let high = poses.iter().map(|p| p.range(t)[1]).fold(f64::INFINITY, f64::min);
                    [low, high]
                })
                .collect();
            Around { rig, tilt, poses, bounds }
        })
        .collect()
}

impl Candidates {
    /// How many poses make a full turn.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most MOST_ROLLS")]
    pub fn turns(&self) -> usize {
        ((FULL / self.turn_step).round() as usize).clamp(1, MOST_ROLLS)
    }

    pub(super) fn stand(&self, roll: usize, tilt: f64) -> Stand {
        #[allow(clippy::cast_precision_loss, reason = "few")]
        let turn = roll as f64 * self.turn_step;
        Stand { turn, tilt }
    }
}
