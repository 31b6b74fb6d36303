//! What turns wet of the walls, exactly: of every triangle what is dry is kept as a convex polygon, cut at the level of
//! every pose.

use super::poses::{Around, Levels, Pose};
use crate::liquid::Chamber;
use crate::polygon::cut;
use nalgebra::Vector3;
use rayon::prelude::*;

/// Dry spots smaller than this share of the walls are rounding.
pub(super) const NOTHING: f64 = 1.0e-9;
/// Least volumes are found within this share.
pub(super) const FOUND: f64 = 1.0e-7;

/// A convex piece of a triangle, its corners about the chamber's middle, mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// The triangle.
    pub triangle: usize,
    /// Its corners.
    pub corners: Vec<Vector3<f64>>,
    /// Its area, mm².
    pub area: f64,
}

impl Spot {
    fn new(triangle: usize, corners: Vec<Vector3<f64>>) -> Self {
        let fan = 1..corners.len().saturating_sub(1);
        let sum: Vector3<f64> =
            fan.map(|k| (corners[k] - corners[0]).cross(&(corners[k + 1] - corners[0]))).sum();
        Self { triangle, area: sum.norm() / 2.0, corners }
    }

    /// The whole of a triangle.
    pub(super) fn whole(chamber: &Chamber, triangle: usize) -> Self {
        Self::new(triangle, chamber.corners(triangle).map(|p| p - chamber.middle).to_vec())
    }
}

/// Area of spots, mm².
pub(super) fn area_of(spots: &[Spot]) -> f64 {
    spots.iter().map(|s| s.area).sum::<f64>() + 0.0
}

/// The least volume with which poses together wet all of some triangles from any start, mm³; `bounds` of each are the
/// least that wets each corner in some pose, and the least that wets all of it in one.
pub(super) fn least(chamber: &Chamber, bounds: &[(usize, [f64; 2])], poses: &[&Pose<'_>]) -> f64 {
    let mut low = bounds.iter().map(|b| b.1[0]).fold(0.0, f64::max);
    let mut open: Vec<(usize, f64)> =
        bounds.iter().filter(|b| b.1[1] > low * (1.0 + FOUND)).map(|b| (b.0, b.1[1])).collect();
    let mut high = open.iter().map(|o| o.1).fold(low, f64::max);
    // Far from each other one after the other: poses beside each other would each take a sliver more, where some far apart
    // take nearly all, and the others nothing to be cut.
    let stride = spread(poses.len());
    let covered = |triangle: usize, volume: f64, levels: &Levels| {
        let mut spot = Spot::whole(chamber, triangle).corners;
        for step in 0..poses.len() {
            let number = step * stride % poses.len();
            let pose = poses[number];
            let [least, most] = pose.range(triangle);
            if least >= volume {
                continue;
            }
            if most <= volume {
                return true;
            }
            let up = pose.pools.posed.up;
            let lowest = spot.iter().map(|p| p.dot(&up)).fold(f64::INFINITY, f64::min);
            if !pose.may_reach(triangle, volume, lowest) {
                continue;
            }
            let level = levels.of(number, pose, triangle);
            spot = cut(&spot, |p| level - p.dot(&up));
            if spot.len() < 3 {
                return true;
            }
        }
        false
    };
    while high > low * (1.0 + FOUND) && !open.is_empty() {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high {
            break;
        }
        let levels = Levels::new(middle, poses.len());
        if open.par_iter().all(|&(t, most)| most <= middle || covered(t, middle, &levels)) {
            high = middle;
        } else {
            low = middle;
            open.retain(|o| o.1 > low);
        }
    }
    high
}

/// Steps of this length through so many, round and round, come to each once, and any few of them lie well apart: a share of
/// about the golden section (Weyl's sequence).
pub(super) fn spread(count: usize) -> usize {
    // Euclid's: only what shares no divisor comes round to all.
    let shares_none = |step: &usize| {
        let (mut a, mut b) = (*step, count);
        while b > 0 {
            (a, b) = (b, a % b);
        }
        a == 1
    };
    (count * 309 / 500..count).find(shares_none).unwrap_or(1)
}

/// What every turn wets with a volume.
pub(super) struct Cover<'a, 'b> {
    pub(super) chamber: &'a Chamber,
    around: &'b [Around<'a>],
    /// For every turn and triangle the poses, a bit each, that wet all of it, and those that wet some.
    masks: Vec<Vec<[u128; 2]>>,
    /// For every turn the levels of the volume in its poses.
    levels: Vec<Levels>,
    /// Area of all walls, mm².
    pub(super) area: f64,
}

/// Poses of a turn, a bit each.
pub(super) type Poses = u128;

impl<'a, 'b> Cover<'a, 'b> {
    pub(super) fn new(chamber: &'a Chamber, around: &'b [Around<'a>], volume: f64) -> Self {
        let masks = around
            .par_iter()
            .map(|a| {
                let of = |t: usize| {
                    let mut mask = [0_u128; 2];
                    for (k, pose) in a.poses.iter().enumerate() {
                        let [least, most] = pose.range(t);
                        if most <= volume {
                            mask[0] |= 1 << k;
                        } else if least < volume {
                            mask[1] |= 1 << k;
                        }
                    }
                    mask
                };
                (0..chamber.triangles()).map(of).collect()
            })
            .collect();
        let levels = around.iter().map(|a| Levels::new(volume, a.poses.len())).collect();
        Self { chamber, around, masks, levels, area: chamber.area() }
    }

    /// All poses of a turn.
    pub(super) fn full(&self, turn: usize) -> Poses {
        let count = self.around[turn].poses.len();
        (0..count).fold(0, |mask, k| mask | 1 << k)
    }

    /// All walls, dry.
    pub(super) fn all(&self) -> Vec<Spot> {
        (0..self.chamber.triangles()).map(|t| Spot::whole(self.chamber, t)).collect()
    }

    /// What a turn leaves dry of a spot, and what it wets, told only where `tell` is given.
    fn after(
        &self,
        turn: usize,
        poses: Poses,
        spot: &Spot,
        mut tell: Option<&mut Vec<Spot>>,
    ) -> Option<Spot> {
        let [whole, some] = self.masks[turn][spot.triangle];
        if whole & poses != 0 {
            if let Some(wet) = &mut tell {
                wet.push(spot.clone());
            }
            return None;
        }
        let mut touched = some & poses;
        if touched == 0 {
            return Some(spot.clone());
        }
        let mut left = spot.corners.clone();
        while touched != 0 {
            let number = touched.trailing_zeros() as usize;
            let pose = &self.around[turn].poses[number];
            touched &= touched - 1;
            let (level, up) = (self.levels[turn].of(number, pose, spot.triangle), pose.pools.posed.up);
            if left.iter().all(|p| p.dot(&up) > level) {
                continue;
            }
            if let Some(wet) = &mut tell {
                let under = Spot::new(spot.triangle, cut(&left, |p| p.dot(&up) - level));
                if under.corners.len() > 2 {
                    wet.push(under);
                }
            }
            left = cut(&left, |p| level - p.dot(&up));
            if left.len() < 3 {
                return None;
            }
        }
        Some(Spot::new(spot.triangle, left))
    }

    /// What some poses of a turn leave dry.
    pub(super) fn left(&self, turn: usize, poses: Poses, dry: &[Spot]) -> Vec<Spot> {
        dry.iter().filter_map(|spot| self.after(turn, poses, spot, None)).collect()
    }

    /// What some poses of a turn wet, and what they leave dry.
    pub(super) fn parted(&self, turn: usize, poses: Poses, dry: &[Spot]) -> (Vec<Spot>, Vec<Spot>) {
        let mut wet = Vec::new();
        let left = dry.iter().filter_map(|spot| self.after(turn, poses, spot, Some(&mut wet))).collect();
        (wet, left)
    }

    /// Whether some poses of turns leave no more dry than allowed, mm².
    pub(super) fn leave(&self, turns: &[(usize, Poses)], dry: &[Spot], allowed: f64) -> bool {
        let mut sum = 0.0;
        dry.iter().all(|spot| {
            let mut at = Some(spot.clone());
            for &(turn, poses) in turns {
                at = at.and_then(|spot| self.after(turn, poses, &spot, None));
            }
            sum += at.map_or(0.0, |s| s.area);
            sum <= allowed
        })
    }

    /// The shortest stretch of a turn that leaves no more dry than allowed, as its first pose and how many.
    pub(super) fn shortest(&self, turn: usize, dry: &[Spot], allowed: f64) -> (usize, usize) {
        let count = self.around[turn].poses.len();
        let stretch = |from: usize, length: usize| {
            (0..length).fold(0, |mask: Poses, k| mask | 1 << ((from + k) % count))
        };
        let mut best = (0, count);
        let mut length = 1;
        for from in 0..count {
            // One less from the next beginning can do at best.
            length = (length - 1).max(1);
            while length < best.1 && !self.leave(&[(turn, stretch(from, length))], dry, allowed) {
                length += 1;
            }
            if length < best.1 {
                best = (from, length);
            }
        }
        best
    }

    /// The poses of a stretch.
    pub(super) fn stretch(&self, turn: usize, (from, length): (usize, usize)) -> Poses {
        let count = self.around[turn].poses.len();
        (0..length).fold(0, |mask, k| mask | 1 << ((from + k) % count))
    }

    /// Whether an area is rounding.
    pub(super) fn is_nothing(&self, area: f64) -> bool {
        area <= NOTHING * self.area
    }
}
