//! Which turns wet all of a chamber, and with how much.
//!
//! For each tilt of each rig a full turn is looked at, pose by pose (`poses`). Of each pose, what wets a wall from any
//! start is known exactly (`liquid::pools`): all other hollows are thought to fill to their passes first, so that what
//! ribs, corners and pockets keep back as the work turns is allowed for, however it got there. The volume that serves is
//! the least with which all poses together wet everything. With it, or with the one asked for, turns are taken greedily
//! by the dry area they wet (greedy set cover: V. Chvátal, "A greedy heuristic for the set-covering problem", 1979),
//! fewer are looked for one by one and in pairs, and each is shortened to the stretch that is needed. What runs over the
//! crests from one pool to the next is not counted: it can only add.

use super::cover::{Cover, Poses, Spot, area_of, least};
use super::poses::{Around, Candidates, FULL, Pose, around};
use super::rig::{Rig, Stand};
use crate::liquid::Chamber;
use nalgebra::Point3;
use rayon::prelude::*;

/// A stretch this much of a turn is said as a full turn: nobody stops for the rest.
const NEARLY_FULL: f64 = 0.8;
/// Volumes that are told beside the one of the plan, as shares of the least that serves.
const SHARES: [f64; 8] = [0.05, 0.1, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0];
/// Pockets this near to each other are the same, so that rounding does not choose the stand.
const SAME_POCKETS: f64 = 1.0e-3;

/// A slow turn of a rig.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    /// Index of the rig.
    pub rig: usize,
    /// Degrees the far end is raised; negative is lowered.
    pub tilt: f64,
    /// Where it begins, degrees.
    pub from: f64,
    /// How far it goes on counter-clockwise, degrees; 360 is a full turn, 0 a stand.
    pub sweep: f64,
}

impl Turn {
    /// Where it ends, degrees.
    pub fn to(&self) -> f64 {
        (self.from + self.sweep) % FULL
    }

    /// Whether it goes all round.
    pub fn is_full(&self) -> bool {
        self.sweep >= FULL
    }
}

/// One step of a plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What the rig does.
    pub turn: Turn,
    /// The poses that were looked at, in order.
    pub stands: Vec<Stand>,
    /// Least volume with which it wets what it is the first to wet, from any start, mm³: of each triangle all, unless it
    /// needs other steps too.
    pub least: f64,
    /// Area wetted here, mm².
    pub wetted: f64,
    /// Area wetted here first, mm².
    pub first: f64,
    /// Walls (indices of names) wholly wet by this step alone.
    pub walls: Vec<u32>,
    /// Walls wholly wet after it, with all steps before.
    pub done: Vec<u32>,
    /// Pieces of walls wetted here first.
    pub newly: Vec<Spot>,
    /// Pieces of walls still dry after it.
    pub dry: Vec<Spot>,
}

/// What stays dry of a wall.
#[derive(Debug, Clone, PartialEq)]
pub struct Dry {
    /// Index of its name.
    pub wall: u32,
    /// Area, mm².
    pub area: f64,
    /// A place in the largest dry spot, mm.
    pub at: Point3<f64>,
}

/// What a wall takes to be wet all over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wall {
    /// The rig of the stand that wets it with the least, standing still.
    pub rig: usize,
    /// That stand.
    pub stand: Stand,
    /// Least volume there, wherever it has to lie, mm³.
    pub least: f64,
    /// Volume that does there from any start, mm³.
    pub sure: f64,
    /// The full turn that wets it with the least.
    pub turn: Turn,
    /// Volume that this turn needs from any start, mm³.
    pub turning: f64,
}

/// A full turn at one tilt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Alone {
    /// The turn.
    pub turn: Turn,
    /// Volume with which it wets all of the chamber by itself, from any start, mm³.
    pub least: f64,
    /// Area that it wets with the volume of the plan, mm².
    pub wetted: f64,
}

/// What another volume would do with the same rigs and tilts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Other {
    /// Liquid that lies in the chamber, mm³.
    pub volume: f64,
    /// How many steps it takes.
    pub steps: usize,
    /// How far they turn in all, degrees.
    pub turned: f64,
    /// Area that stays dry, mm².
    pub dry: f64,
}

/// Where it drains.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drain {
    /// The rig.
    pub rig: usize,
    /// The stand.
    pub stand: Stand,
    /// The lowest place, mm.
    pub at: Point3<f64>,
    /// Index of the name of a wall there.
    pub wall: u32,
    /// Most that hollows beside the lowest keep, mm³.
    pub pockets: f64,
}

/// A sequence of turns.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The steps, in order.
    pub steps: Vec<Step>,
    /// Liquid that lies in the chamber at least, mm³.
    pub volume: f64,
    /// The least with which all turns together wet everything, mm³.
    pub serves: f64,
    /// Per wall.
    pub walls: Vec<Wall>,
    /// Per tilt of each rig.
    pub alone: Vec<Alone>,
    /// What other volumes would do, least first.
    pub others: Vec<Other>,
    /// What stays dry.
    pub dry: Vec<Dry>,
    /// Where it drains best.
    pub drain: Drain,
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

/// What is asked of a plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Asked {
    /// Liquid that lies in the chamber, mm³; none asks for the least that serves.
    pub volume: Option<f64>,
    /// The least that serves is taken so many times.
    pub margin: f64,
    /// Never less than this, mm³: a level floor is wet with any volume at all.
    pub floor: f64,
    /// Most steps.
    pub most: usize,
}

/// Plans the sequence for a chamber that is hung on one rig after the other.
pub fn plan(chamber: &Chamber, rigs: &[Rig], candidates: &Candidates, asked: &Asked) -> Plan {
    let all = around(chamber, rigs, candidates);
    let poses: Vec<&Pose<'_>> = all.iter().flat_map(|a| &a.poses).collect();
    let bounds: Vec<(usize, [f64; 2])> = (0..chamber.triangles())
        .map(|t| {
            let corner = |c: u32| poses.iter().map(|p| p.needs[c as usize]).fold(f64::INFINITY, f64::min);
            let low = chamber.indices(t).map(corner).into_iter().fold(0.0, f64::max);
            (t, [low, all.iter().map(|a| a.bounds[t][1]).fold(f64::INFINITY, f64::min)])
        })
        .collect();
    let serves = least(chamber, &bounds, &poses);
    let volume = asked.volume.unwrap_or((serves * asked.margin).max(asked.floor));
    let cover = Cover::new(chamber, &all, volume);
    let chosen = chosen(&cover, all.len(), asked.most);
    let chosen = shortened(&cover, chosen, &all);
    let whole: Vec<Vec<usize>> = (0..chamber.names.len()).map(|w| chamber.wall(index(w))).collect();
    let (steps, left) = told(&cover, &all, &chosen, &whole);
    let alone = all
        .par_iter()
        .enumerate()
        .map(|(k, a)| Alone {
            turn: full(a),
            least: least_around(chamber, a, &(0..chamber.triangles()).collect::<Vec<_>>()),
            wetted: cover.area - area_of(&cover.left(k, cover.full(k), &cover.all())),
        })
        .collect();
    Plan {
        steps,
        volume,
        serves,
        walls: whole.par_iter().map(|wall| of_wall(chamber, &all, wall)).collect(),
        alone,
        others: SHARES.par_iter().map(|share| other(chamber, &all, serves * share, asked.most)).collect(),
        dry: dry(&cover, &left),
        drain: drain(chamber, &all),
        area: cover.area,
    }
}

/// What a volume does by itself.
fn other(chamber: &Chamber, all: &[Around<'_>], volume: f64, most: usize) -> Other {
    // The least that serves is found within rounding: it has to serve.
    let volume = volume * (1.0 + super::cover::FOUND);
    let cover = Cover::new(chamber, all, volume);
    let arcs = shortened(&cover, chosen(&cover, all.len(), most), all);
    let mut dry = cover.all();
    let mut turned = 0.0;
    for &(k, arc) in &arcs {
        dry = cover.left(k, cover.stretch(k, arc), &dry);
        turned += sweep(arc.1, all[k].poses.len());
    }
    let dry = area_of(&dry);
    Other { volume, steps: arcs.len(), turned, dry: if cover.is_nothing(dry) { 0.0 } else { dry } }
}

/// How far a stretch of so many poses of a full turn goes, degrees.
#[allow(clippy::cast_precision_loss, reason = "few")]
fn sweep(poses: usize, of: usize) -> f64 {
    if poses == of { FULL } else { (poses - 1) as f64 * (FULL / of as f64) }
}

fn full(a: &Around<'_>) -> Turn {
    Turn { rig: a.rig, tilt: a.tilt, from: 0.0, sweep: FULL }
}

#[allow(clippy::cast_possible_truncation, reason = "few names")]
fn index(k: usize) -> u32 {
    k as u32
}

fn least_around(chamber: &Chamber, a: &Around<'_>, triangles: &[usize]) -> f64 {
    let bounds: Vec<(usize, [f64; 2])> = triangles.iter().map(|&t| (t, a.bounds[t])).collect();
    least(chamber, &bounds, &a.poses.iter().collect::<Vec<_>>())
}

/// The stand and the turn that wet a wall with the least.
fn of_wall(chamber: &Chamber, all: &[Around<'_>], wall: &[usize]) -> Wall {
    let mut best: Option<(f64, usize, &Pose<'_>)> = None;
    let mut turn: Option<(f64, &Around<'_>)> = None;
    for a in all {
        for pose in &a.poses {
            let sure = wall.iter().map(|&t| pose.range(t)[1]).fold(0.0, f64::max);
            if best.as_ref().is_none_or(|b| sure < b.0) {
                best = Some((sure, a.rig, pose));
            }
        }
        let most = wall.iter().map(|&t| a.bounds[t][1]).fold(0.0, f64::max);
        if turn.is_none_or(|b| most < b.0) {
            turn = Some((most, a));
        }
    }
    let still = Stand { turn: 0.0, tilt: 0.0 };
    let (rig, stand, wetting) =
        best.map_or((0, still, None), |(_, rig, pose)| (rig, pose.stand, Some(pose.pools.wetting(wall))));
    Wall {
        rig,
        stand,
        least: wetting.as_ref().map_or(0.0, |w| w.least),
        sure: wetting.as_ref().map_or(0.0, |w| w.sure),
        turn: turn.map_or(Turn { rig: 0, tilt: 0.0, from: 0.0, sweep: FULL }, |(_, a)| full(a)),
        turning: turn.map_or(0.0, |(_, a)| least_around(chamber, a, wall)),
    }
}

/// Turns that wet all, or as much as can be.
fn chosen(cover: &Cover<'_, '_>, turns: usize, most: usize) -> Vec<usize> {
    let mut dry = cover.all();
    let mut chosen: Vec<usize> = Vec::new();
    while chosen.len() < most && !cover.is_nothing(area_of(&dry)) {
        let left: Vec<Vec<Spot>> =
            (0..turns).into_par_iter().map(|k| cover.left(k, cover.full(k), &dry)).collect();
        let best = (0..turns).min_by(|&a, &b| area_of(&left[a]).total_cmp(&area_of(&left[b])));
        let Some(k) = best.filter(|&k| !cover.is_nothing(area_of(&dry) - area_of(&left[k]))) else { break };
        chosen.push(k);
        dry = left.into_iter().nth(k).unwrap_or_default();
    }
    let allowed = area_of(&dry) + super::cover::NOTHING * cover.area;
    let all = cover.all();
    let fits = |some: &[usize]| {
        let turns: Vec<(usize, Poses)> = some.iter().map(|&k| (k, cover.full(k))).collect();
        cover.leave(&turns, &all, allowed)
    };
    // One, then two.
    if chosen.len() > 1
        && let Some(k) = (0..turns).into_par_iter().find_first(|&k| fits(&[k]))
    {
        return vec![k];
    }
    if chosen.len() > 2 {
        let pairs: Vec<[usize; 2]> = (0..turns).flat_map(|a| (a + 1..turns).map(move |b| [a, b])).collect();
        if let Some(pair) = pairs.into_par_iter().find_first(|pair| fits(pair)) {
            return pair.to_vec();
        }
    }
    while let Some(k) = (0..chosen.len()).find(|&k| {
        let rest: Vec<usize> = chosen.iter().copied().filter(|&c| c != chosen[k]).collect();
        !rest.is_empty() && fits(&rest)
    }) {
        chosen.remove(k);
    }
    chosen
}

/// The stretches of the turns that are needed, rig by rig and tilt by tilt.
fn shortened(
    cover: &Cover<'_, '_>,
    mut chosen: Vec<usize>,
    all: &[Around<'_>],
) -> Vec<(usize, (usize, usize))> {
    let key = |k: usize| (all[k].rig, all[k].tilt);
    chosen.sort_by(|&a, &b| key(a).0.cmp(&key(b).0).then(key(a).1.total_cmp(&key(b).1)));
    let mut arcs: Vec<(usize, (usize, usize))> =
        chosen.iter().map(|&k| (k, (0, all[k].poses.len()))).collect();
    for i in 0..arcs.len() {
        let mut dry = cover.all();
        for &(k, arc) in arcs.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, a)| a) {
            dry = cover.left(k, cover.stretch(k, arc), &dry);
        }
        let k = arcs[i].0;
        let allowed = area_of(&cover.left(k, cover.full(k), &dry)) + super::cover::NOTHING * cover.area;
        let arc = cover.shortest(k, &dry, allowed);
        let count = all[k].poses.len();
        #[allow(clippy::cast_precision_loss, reason = "few")]
        let nearly = arc.1 as f64 >= NEARLY_FULL * count as f64;
        arcs[i].1 = if nearly { (0, count) } else { arc };
    }
    arcs
}

fn told(
    cover: &Cover<'_, '_>,
    all: &[Around<'_>],
    chosen: &[(usize, (usize, usize))],
    walls: &[Vec<usize>],
) -> (Vec<Step>, Vec<Spot>) {
    let mut dry = cover.all();
    let mut steps = Vec::new();
    for &(k, arc) in chosen {
        let (a, mask) = (&all[k], cover.stretch(k, arc));
        let count = a.poses.len();
        let poses: Vec<&Pose<'_>> = (0..arc.1).map(|i| &a.poses[(arc.0 + i) % count]).collect();
        let alone = cover.left(k, mask, &cover.all());
        let before = area_of(&dry);
        let (newly, left) = cover.parted(k, mask, &dry);
        dry = left;
        let own = whole(cover, &alone, walls);
        let mut there: Vec<usize> = newly.iter().map(|s| s.triangle).collect();
        there.sort_unstable();
        there.dedup();
        let in_part: std::collections::BTreeSet<usize> = alone.iter().map(|s| s.triangle).collect();
        let bounds: Vec<(usize, [f64; 2])> = there
            .into_iter()
            .filter(|t| !in_part.contains(t))
            .map(|t| {
                let corner = |c: u32| poses.iter().map(|p| p.needs[c as usize]).fold(f64::INFINITY, f64::min);
                let low = cover.chamber.indices(t).map(corner).into_iter().fold(0.0, f64::max);
                (t, [low, poses.iter().map(|p| p.range(t)[1]).fold(f64::INFINITY, f64::min)])
            })
            .collect();
        let sweep = sweep(arc.1, count);
        steps.push(Step {
            turn: Turn { rig: a.rig, tilt: a.tilt, from: poses[0].stand.turn, sweep },
            stands: poses.iter().map(|p| p.stand).collect(),
            least: least(cover.chamber, &bounds, &poses),
            wetted: cover.area - area_of(&alone),
            first: before - area_of(&dry),
            walls: own,
            done: whole(cover, &dry, walls),
            newly,
            dry: dry.clone(),
        });
    }
    (steps, dry)
}

/// Walls of which nothing is dry.
fn whole(cover: &Cover<'_, '_>, dry: &[Spot], walls: &[Vec<usize>]) -> Vec<u32> {
    let mut left = vec![0.0; walls.len()];
    for spot in dry {
        left[cover.chamber.part_of[spot.triangle] as usize] += spot.area;
    }
    (0..walls.len()).filter(|&w| cover.is_nothing(left[w])).map(index).collect()
}

fn dry(cover: &Cover<'_, '_>, left: &[Spot]) -> Vec<Dry> {
    let mut spots = Vec::new();
    if cover.is_nothing(area_of(left)) {
        return spots;
    }
    for w in 0..cover.chamber.names.len() {
        let (mut area, mut largest) = (0.0, None::<&Spot>);
        for spot in left.iter().filter(|s| cover.chamber.part_of[s.triangle] == index(w)) {
            area += spot.area;
            if largest.is_none_or(|l| spot.area > l.area) {
                largest = Some(spot);
            }
        }
        if let Some(largest) = largest.filter(|_| !cover.is_nothing(area)) {
            #[allow(clippy::cast_precision_loss, reason = "few corners")]
            let middle =
                largest.corners.iter().sum::<nalgebra::Vector3<f64>>() / largest.corners.len() as f64;
            spots.push(Dry { wall: index(w), area, at: cover.chamber.middle + middle });
        }
    }
    spots
}

/// The stand in which the hollows beside the lowest keep the least, the first of equals.
fn drain(chamber: &Chamber, all: &[Around<'_>]) -> Drain {
    let mut best: Option<(f64, usize, &Pose<'_>)> = None;
    for a in all {
        for pose in &a.poses {
            let pockets = pose.pools.pools[pose.lowest()].elsewhere;
            if best.as_ref().is_none_or(|b| pockets < b.0 - SAME_POCKETS * (b.0 + SAME_POCKETS)) {
                best = Some((pockets, a.rig, pose));
            }
        }
    }
    let Some((pockets, rig, pose)) = best else {
        let stand = Stand { turn: 0.0, tilt: 0.0 };
        return Drain { rig: 0, stand, at: chamber.middle, wall: 0, pockets: 0.0 };
    };
    drained(chamber, &pose.pools, rig, pose.stand, pockets)
}

/// The lowest place of a pose, and the wall it lies in.
pub(super) fn drained(
    chamber: &Chamber,
    pools: &crate::liquid::Pools<'_>,
    rig: usize,
    stand: Stand,
    pockets: f64,
) -> Drain {
    let bottom = |k: &usize| pools.pools[*k].bottom;
    let lowest = pools.hollows().min_by(|a, b| bottom(a).total_cmp(&bottom(b))).unwrap_or(0);
    let corner = pools.pools[lowest].lowest;
    // Of the walls that meet there the one with most area looking down.
    let up = pools.posed.up;
    let most = chamber
        .touching(corner)
        .iter()
        .map(|&t| t as usize)
        .max_by(|&a, &b| (-chamber.area_vector(a).dot(&up)).total_cmp(&-chamber.area_vector(b).dot(&up)));
    let wall = most.map_or(0, |t| chamber.part_of[t]);
    Drain { rig, stand, at: chamber.corner(corner), wall, pockets }
}
