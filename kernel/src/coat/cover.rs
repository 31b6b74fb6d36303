//! Which stands wet all of a chamber, and with how much.
//!
//! Every stand of the rig on a grid of turns and tilts is looked at. Of each, what wets every wall from any start
//! (`liquid::pools`) is known exactly; the volume that serves is the least with which every wall has a stand that wets
//! it wholly. With that volume, or the one asked for, stands are taken greedily by the dry area they wet (greedy set
//! cover: V. Chvátal, "A greedy heuristic for the set-covering problem", 1979), those no longer needed are taken out,
//! and pairs are replaced by one stand where one does. What is dry is kept exactly: of each triangle a convex polygon,
//! cut at the level of every stand. The wetting on the way from one stand to the next is not counted: it can only add.

use super::rig::{Rig, Stand};
use crate::liquid::level::cut;
use crate::liquid::pools::SHALLOW;
use crate::liquid::{Chamber, Pools, Posed};
use nalgebra::{Unit, Vector3};
use rayon::prelude::*;

/// Dry spots smaller than this share of the walls are rounding.
const NOTHING: f64 = 1.0e-9;

/// The stands that a rig can take.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidates {
    /// Degrees between turns; a whole number of them makes a full turn.
    pub turn_step: f64,
    /// Tilts, degrees.
    pub tilts: Vec<f64>,
}

/// One stand of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Stop {
    /// How the rig stands.
    pub stand: Stand,
    /// Up, in the axes of the chamber.
    pub up: Unit<Vector3<f64>>,
    /// Least volume that wets what this stand is there for, mm³: the walls that it wets wholly.
    pub least: f64,
    /// Area wetted here, mm².
    pub wetted: f64,
    /// Area wetted here first, mm².
    pub first: f64,
    /// Walls (indices of names) wholly wet in this stand.
    pub walls: Vec<u32>,
    /// Walls wholly wet after it, with all stands before.
    pub done: Vec<u32>,
}

/// What stays dry of a wall.
#[derive(Debug, Clone, PartialEq)]
pub struct Dry {
    /// Index of its name.
    pub wall: u32,
    /// Area, mm².
    pub area: f64,
    /// A place in the largest dry spot, mm.
    pub at: nalgebra::Point3<f64>,
}

/// A sequence of stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The stands, in order.
    pub stops: Vec<Stop>,
    /// Liquid that lies in the chamber in every stand at least, mm³.
    pub volume: f64,
    /// For every wall the stand that wets it wholly with the least sure volume: stand, least volume, sure volume, mm³.
    pub best: Vec<(Stand, f64, f64)>,
    /// What stays dry.
    pub dry: Vec<Dry>,
    /// Area of all walls, mm².
    pub area: f64,
}

impl Plan {
    /// Area that stays dry, mm².
    pub fn dry_area(&self) -> f64 {
        // A sum of nothing is −0.
        self.dry.iter().map(|d| d.area).sum::<f64>() + 0.0
    }
}

struct Tried {
    stand: Stand,
    up: Unit<Vector3<f64>>,
    /// For every wall least and sure volume.
    needs: Vec<[f64; 2]>,
}

/// Longer sequences are not searched for pairs that one stand could replace: some hundred pairs take seconds.
const MOST_IN_PAIRS: usize = 12;

/// What is dry of a triangle: a convex polygon.
#[derive(Debug, Clone)]
struct Spot {
    triangle: usize,
    corners: Vec<Vector3<f64>>,
    area: f64,
}

impl Spot {
    fn new(triangle: usize, corners: Vec<Vector3<f64>>) -> Self {
        let fan = 1..corners.len().saturating_sub(1);
        let sum: Vector3<f64> =
            fan.map(|k| (corners[k] - corners[0]).cross(&(corners[k + 1] - corners[0]))).sum();
        Self { triangle, area: sum.norm() / 2.0, corners }
    }
}

/// What is asked of a plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Asked {
    /// Liquid that lies in the chamber in every stand, mm³; none asks for the least that serves.
    pub volume: Option<f64>,
    /// The least that serves is taken so many times.
    pub margin: f64,
    /// Never less than this, mm³: a level floor is wet with any volume at all.
    pub floor: f64,
    /// Most stands.
    pub most: usize,
}

/// Plans the sequence.
pub fn plan(chamber: &Chamber, rig: &Rig, candidates: &Candidates, asked: &Asked) -> Plan {
    let walls: Vec<Vec<usize>> = (0..chamber.names.len()).map(|w| chamber.wall(index(w))).collect();
    let stands = stands(candidates);
    let tried: Vec<Tried> = stands
        .par_iter()
        .map(|&stand| {
            let up = rig.up(stand);
            let pools = Pools::new(Posed::new(chamber, up));
            let needs = walls
                .iter()
                .map(|wall| {
                    let found = pools.wetting(wall);
                    [found.least, found.sure]
                })
                .collect();
            Tried { stand, up, needs }
        })
        .collect();
    let best: Vec<(Stand, f64, f64)> = (0..walls.len())
        .map(|w| {
            let least = tried.iter().min_by(|a, b| a.needs[w][1].total_cmp(&b.needs[w][1]));
            least.map_or((Stand { turn: 0.0, tilt: 0.0 }, 0.0, 0.0), |t| {
                (t.stand, t.needs[w][0], t.needs[w][1])
            })
        })
        .collect();
    let serves = best.iter().map(|b| b.2).fold(0.0, f64::max);
    let volume = asked.volume.unwrap_or((serves * asked.margin).max(asked.floor));
    let cover = Cover::new(chamber, &tried, volume);
    let mut chosen = cover.greedy(asked.most);
    cover.improve(&mut chosen);
    order(&mut chosen, &tried);
    cover.told(chosen, &tried, &walls, best)
}

#[allow(clippy::cast_possible_truncation, reason = "few names")]
fn index(k: usize) -> u32 {
    k as u32
}

/// All stands, by tilt and turn.
fn stands(candidates: &Candidates) -> Vec<Stand> {
    let mut all = Vec::new();
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a full turn in steps of a degree or more"
    )]
    let turns = (360.0 / candidates.turn_step).round().max(1.0) as u32;
    for &tilt in &candidates.tilts {
        for k in 0..turns {
            all.push(Stand { turn: f64::from(k) * candidates.turn_step, tilt });
        }
    }
    all
}

/// What each stand wets.
struct Cover<'a> {
    chamber: &'a Chamber,
    volume: f64,
    /// For every stand its direction up, and for every triangle its level.
    levels: Vec<(Vector3<f64>, Vec<f64>)>,
    area: f64,
}

impl<'a> Cover<'a> {
    fn new(chamber: &'a Chamber, tried: &[Tried], volume: f64) -> Self {
        let levels = tried
            .par_iter()
            .map(|t| {
                let pools = Pools::new(Posed::new(chamber, t.up));
                (t.up.into_inner(), pools.sure_levels(volume))
            })
            .collect();
        Self { chamber, volume, levels, area: chamber.area() }
    }

    /// All walls, dry.
    fn all(&self) -> Vec<Spot> {
        let local = |t: usize| self.chamber.corners(t).map(|p| p - self.chamber.middle).to_vec();
        (0..self.chamber.triangles()).map(|t| Spot::new(t, local(t))).collect()
    }

    /// What a stand leaves dry of a spot; none if it does not reach it.
    fn after(&self, stand: usize, spot: &Spot) -> Option<Spot> {
        let (up, levels) = &self.levels[stand];
        let level = levels[spot.triangle] + SHALLOW * self.chamber.size;
        if level == f64::NEG_INFINITY {
            return None;
        }
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for p in &spot.corners {
            let h = p.dot(up);
            (low, high) = (low.min(h), high.max(h));
        }
        if low > level {
            return None;
        }
        let left = if high <= level { Vec::new() } else { cut(&spot.corners, |p| level - p.dot(up)) };
        Some(Spot::new(spot.triangle, left))
    }

    /// Area of what is dry that a stand wets, mm².
    fn gain(&self, stand: usize, dry: &[Spot]) -> f64 {
        dry.iter().filter_map(|spot| Some(spot.area - self.after(stand, spot)?.area)).sum()
    }

    fn wet(&self, dry: &mut Vec<Spot>, stand: usize) {
        for spot in dry.iter_mut() {
            if let Some(left) = self.after(stand, spot) {
                *spot = left;
            }
        }
        dry.retain(|spot| spot.corners.len() > 2);
    }

    fn dry_after(&self, stands: impl Iterator<Item = usize>) -> Vec<Spot> {
        let mut dry = self.all();
        for s in stands {
            self.wet(&mut dry, s);
        }
        dry
    }

    fn is_nothing(&self, dry: &[Spot]) -> bool {
        area_of(dry) <= NOTHING * self.area
    }

    /// What a stand gains only shrinks as others are taken, so an old gain is a bound, and only the best bounds are worked
    /// out again (M. Minoux, "Accelerated greedy algorithms for maximizing submodular set functions", 1978).
    fn greedy(&self, most: usize) -> Vec<usize> {
        let mut dry = self.all();
        let mut chosen = Vec::new();
        let mut bounds: Vec<f64> =
            (0..self.levels.len()).into_par_iter().map(|s| self.gain(s, &dry)).collect();
        while chosen.len() < most && !self.is_nothing(&dry) {
            let mut known = vec![false; bounds.len()];
            // The first of the best.
            let best = loop {
                let top = (0..bounds.len()).reduce(|a, b| if bounds[b] > bounds[a] { b } else { a });
                match top {
                    Some(s) if !known[s] => {
                        bounds[s] = self.gain(s, &dry);
                        known[s] = true;
                    }
                    found => break found,
                }
            };
            let Some(s) = best.filter(|&s| bounds[s] > NOTHING * self.area) else { break };
            self.wet(&mut dry, s);
            chosen.push(s);
        }
        chosen
    }

    /// Takes out stands that the others make needless, and in short sequences puts one in the place of two where it wets
    /// as much.
    fn improve(&self, chosen: &mut Vec<usize>) {
        let least = area_of(&self.dry_after(chosen.iter().copied())) + NOTHING * self.area;
        let without = |chosen: &[usize], out: &[usize]| {
            self.dry_after(chosen.iter().copied().filter(|s| !out.contains(s)))
        };
        loop {
            let needless = chosen.iter().position(|&s| area_of(&without(chosen, &[s])) <= least);
            if let Some(k) = needless {
                chosen.remove(k);
                continue;
            }
            if chosen.len() > MOST_IN_PAIRS {
                return;
            }
            let mut swap = None;
            'pairs: for i in 0..chosen.len() {
                for j in i + 1..chosen.len() {
                    let dry = without(chosen, &[chosen[i], chosen[j]]);
                    let one = (0..self.levels.len()).into_par_iter().find_first(|&s| {
                        // Most stands fail at the first spots.
                        let mut left = 0.0;
                        dry.iter().all(|spot| {
                            left += self.after(s, spot).map_or(spot.area, |l| l.area);
                            left <= least
                        })
                    });
                    if let Some(one) = one {
                        swap = Some((i, j, one));
                        break 'pairs;
                    }
                }
            }
            let Some((i, j, one)) = swap else { return };
            chosen.remove(j);
            chosen[i] = one;
        }
    }

    fn told(
        &self,
        chosen: Vec<usize>,
        tried: &[Tried],
        walls: &[Vec<usize>],
        best: Vec<(Stand, f64, f64)>,
    ) -> Plan {
        let mut dry = self.all();
        let mut stops = Vec::new();
        for s in chosen {
            let alone = self.dry_after(std::iter::once(s));
            let before = area_of(&dry);
            self.wet(&mut dry, s);
            let own: Vec<u32> = self.whole(&alone, walls);
            let needs = own.iter().map(|&w| tried[s].needs[w as usize][0]);
            stops.push(Stop {
                stand: tried[s].stand,
                up: tried[s].up,
                least: needs.fold(0.0, f64::max),
                wetted: self.area - area_of(&alone),
                first: before - area_of(&dry),
                walls: own,
                done: self.whole(&dry, walls),
            });
        }
        let mut spots: Vec<Dry> = Vec::new();
        if !self.is_nothing(&dry) {
            for w in 0..walls.len() {
                let of_wall = dry.iter().filter(|d| self.chamber.part_of[d.triangle] == index(w));
                let (mut sum, mut largest) = (0.0, (0.0, Vector3::zeros()));
                for spot in of_wall {
                    sum += spot.area;
                    if spot.area > largest.0 {
                        #[allow(clippy::cast_precision_loss, reason = "few corners")]
                        let count = spot.corners.len() as f64;
                        largest = (spot.area, spot.corners.iter().sum::<Vector3<f64>>() / count);
                    }
                }
                if sum > NOTHING * self.area {
                    spots.push(Dry { wall: index(w), area: sum, at: self.chamber.middle + largest.1 });
                }
            }
        }
        Plan { stops, volume: self.volume, best, dry: spots, area: self.area }
    }

    /// Walls of which nothing is dry.
    fn whole(&self, dry: &[Spot], walls: &[Vec<usize>]) -> Vec<u32> {
        let mut left = vec![0.0; walls.len()];
        for spot in dry {
            left[self.chamber.part_of[spot.triangle] as usize] += spot.area;
        }
        (0..walls.len()).filter(|&w| left[w] <= NOTHING * self.area).map(index).collect()
    }
}

fn area_of(dry: &[Spot]) -> f64 {
    dry.iter().map(|spot| spot.area).sum()
}

/// Tilt by tilt, turning on one way and back again at the next.
fn order(chosen: &mut [usize], tried: &[Tried]) {
    let tilt = |s: usize| tried[s].stand.tilt;
    let turn = |s: usize| tried[s].stand.turn;
    chosen.sort_by(|&a, &b| tilt(a).total_cmp(&tilt(b)).then(turn(a).total_cmp(&turn(b))));
    let mut back = false;
    for group in chosen.chunk_by_mut(|&a, &b| tilt(a) == tilt(b)) {
        if back {
            group.reverse();
        }
        back = !back;
    }
}
