//! Drains at the lowest places of every chamber and a vent at its highest, on the parts.
//!
//! A drain is set where its rim lies lowest of all places clear of edges, seams and folds in the pool. What stands then is
//! worked out again with the holes in (`sinks`). A vent goes into a wall where there is one, so that no rain falls in.

use super::options::{STAGE, values};
use super::place::{self, Spot, Wanted, spot};
use super::sinks::{Near, Rest, Sink, at_rest, sink_at};
use crate::chambers::{Chambers, Enclosed, chambers};
use crate::error::Result;
use crate::liquid::{Chamber, Pools, Posed};
use crate::part::{Part, PartKind};
use crate::settings::Values;
use crate::work::Work;
use nalgebra::{Point3, Unit, Vector3};

/// Inside hollows of less than this hold a film, mm³: a hundredth of a litre.
const POCKET: f64 = 1.0e4;
/// Walls are looked at whose lowest place is at most this much higher than the pool's, mm.
const NEAR: f64 = 60.0;
/// An outward normal that rises by more than this is a roof: rain falls into a hole there.
const ROOF: f64 = 0.3;
/// The skin of a chamber lies within this of where the part says it is, beside its thickness, mm.
const OFF: f64 = 0.5;

/// What a hole is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum For {
    /// Water out.
    Drain,
    /// Air in.
    Vent,
}

/// A hole that is wanted.
#[derive(Debug, Clone, PartialEq)]
pub struct Drain {
    /// Index of its chamber.
    pub chamber: usize,
    /// What it is for.
    pub what: For,
    /// The lowest place of the pool (the highest of the chamber, for a vent), mm.
    pub lowest: Point3<f64>,
    /// The wall it goes into, or that meets there.
    pub wall: String,
    /// Where; none where no place is clear.
    pub spot: Option<Spot>,
    /// What the pool holds without it, mm³; none if it is the whole chamber.
    pub without: Option<f64>,
    /// What stands below its rim, mm³.
    pub with: f64,
    /// Whether rain falls in.
    pub on_roof: bool,
}

/// All holes of a work.
#[derive(Debug, Clone)]
pub struct Drains {
    /// The holes.
    pub holes: Vec<Drain>,
    /// What they are in.
    pub chambers: Chambers,
    /// The parts with the holes cut in them.
    pub parts: Vec<Part>,
}

/// Where the chambers of a work drain and breathe.
///
/// # Errors
/// What cannot be trimmed at all; settings that the rows do not allow.
pub fn drains(work: &Work) -> Result<Drains> {
    let set = values(&work.sculpture)?;
    let found = chambers(work)?;
    let mut parts = work.parts.clone();
    for (k, part) in &work.before_drains {
        parts[*k] = part.clone();
    }
    let mut holes = Vec::new();
    for (k, one) in found.chambers.iter().enumerate() {
        let mut plan =
            Plan { one, number: k, set: &set, parts: &mut parts, density: work.sculpture.rules.density };
        plan.drain(&mut holes);
        plan.vent(&mut holes);
    }
    Ok(Drains { holes, chambers: found, parts })
}

/// Cuts the drains and vents in a work's parts, where its script asks for it.
///
/// # Errors
/// As [`drains`].
pub(crate) fn cut_in(work: &mut Work) -> Result<()> {
    if !work.sculpture.stages.contains_key(STAGE) || !values(&work.sculpture)?.flag("cut_drains") {
        return Ok(());
    }
    let found = drains(work)?;
    let touched = found.holes.iter().filter_map(|h| h.spot.as_ref()).map(|s| s.part);
    let mut touched: Vec<usize> = touched.collect();
    touched.sort_unstable();
    touched.dedup();
    let mut moment = work.centre_of_mass.coords * work.mass;
    for k in touched {
        let (old, new) = (&work.parts[k], &found.parts[k]);
        moment += place::centre(new).coords * new.mass - place::centre(old).coords * old.mass;
        work.mass += new.mass - old.mass;
        let before = std::mem::replace(&mut work.parts[k], new.clone());
        work.before_drains.push((k, before));
    }
    if work.mass > 0.0 {
        work.centre_of_mass = Point3::from(moment / work.mass);
    }
    Ok(())
}

struct Plan<'a> {
    one: &'a Enclosed,
    number: usize,
    set: &'a Values,
    parts: &'a mut Vec<Part>,
    density: f64,
}

impl Plan<'_> {
    fn drain(&mut self, holes: &mut Vec<Drain>) {
        let up = Vector3::z_axis();
        let chamber = &self.one.chamber;
        let pools = Pools::new(Posed::new(chamber, up));
        let holding = |h: &usize| pools.pools[*h].capacity > POCKET || pools.pools.len() == 1;
        let mut hollows: Vec<usize> = pools.hollows().filter(holding).collect();
        hollows.sort_by(|&a, &b| pools.pools[a].bottom.total_cmp(&pools.pools[b].bottom).then(a.cmp(&b)));
        let mut sinks: Vec<(usize, Sink)> = Vec::new();
        for hollow in hollows {
            let own = &pools.pools[hollow];
            let found = self.find(&pools, hollow, up, |_| true);
            if let Some((_, sink)) = &found {
                sinks.push((holes.len(), *sink));
            }
            holes.push(Drain {
                chamber: self.number,
                what: For::Drain,
                lowest: pools.lowest(hollow),
                wall: wall(chamber, found.as_ref().map(|f| &f.0), own.lowest, self.parts),
                spot: found.map(|f| f.0),
                without: own.parent.is_some().then_some(own.capacity),
                with: own.capacity,
                on_roof: false,
            });
        }
        let only: Vec<Sink> = sinks.iter().map(|s| s.1).collect();
        let rest = at_rest(&pools, &only);
        for (hole, sink) in sinks {
            let own = |r: &&Rest| r.pool == sink.pool && r.level <= sink.level;
            holes[hole].with = rest.iter().find(own).map_or(0.0, |r| pools.below(r.pool, r.level).volume);
        }
    }

    fn vent(&mut self, holes: &mut Vec<Drain>) {
        let up = -Vector3::z_axis();
        let chamber = &self.one.chamber;
        let pools = Pools::new(Posed::new(chamber, up));
        let highest =
            pools.hollows().min_by(|&a, &b| pools.pools[a].bottom.total_cmp(&pools.pools[b].bottom));
        let Some(hollow) = highest else { return };
        let no_roof = |n: &Vector3<f64>| n.z < ROOF;
        let found =
            self.find(&pools, hollow, up, no_roof).or_else(|| self.find(&pools, hollow, up, |_| true));
        let own = &pools.pools[hollow];
        holes.push(Drain {
            chamber: self.number,
            what: For::Vent,
            lowest: pools.lowest(hollow),
            wall: wall(chamber, found.as_ref().map(|f| &f.0), own.lowest, self.parts),
            on_roof: found.as_ref().is_some_and(|f| f.0.normal.z >= ROOF),
            spot: found.map(|f| f.0),
            without: None,
            with: 0.0,
        });
    }

    /// The lowest place for a hole in a hollow, or in what it is joined to, and cuts it.
    fn find(
        &mut self,
        pools: &Pools<'_>,
        hollow: usize,
        up: Unit<Vector3<f64>>,
        allowed: impl Fn(&Vector3<f64>) -> bool,
    ) -> Option<(Spot, Sink)> {
        let pool = &pools.pools[hollow];
        let near = |t: &usize| pools.posed.reach(*t)[0] <= pool.bottom + NEAR;
        let triangles: Vec<usize> = pools.triangles(hollow).filter(near).collect();
        let (radius, edge) = (self.set.number("drain") / 2.0, self.set.number("drain_edge"));
        let wanted = Wanted { near: pools.lowest(hollow), up, radius, edge, side: -1.0 };
        let (spot, sink) = best(self.parts, pools, &triangles, pool.top, &wanted, allowed)?;
        place::cut(&mut self.parts[spot.part], &spot.outline, self.density);
        Some((spot, sink))
    }
}

/// The lowest place for a hole on these triangles of a pool, its rim below a level `top` over the chamber's middle.
pub(super) fn best(
    parts: &[Part],
    pools: &Pools<'_>,
    triangles: &[usize],
    top: f64,
    wanted: &Wanted,
    allowed: impl Fn(&Vector3<f64>) -> bool,
) -> Option<(Spot, Sink)> {
    let chamber = pools.posed.chamber;
    let mut names: Vec<u32> = triangles.iter().map(|&t| chamber.part_of[t]).collect();
    names.sort_unstable();
    names.dedup();
    let mut found: Option<(Spot, Sink)> = None;
    for name in names {
        let of_wall: Vec<usize> = triangles.iter().copied().filter(|&t| chamber.part_of[t] == name).collect();
        let corners = of_wall.iter().flat_map(|&t| chamber.corners(t));
        let height = |p: &Point3<f64>| p.coords.dot(&wanted.up);
        let key = |p: &Point3<f64>| height(p) + (p - wanted.near).norm() * NEARNESS;
        let Some(near) = corners.min_by(|a, b| key(a).total_cmp(&key(b))) else { continue };
        let is_sheet =
            |p: &Part| p.face == chamber.names[name as usize] && matches!(p.kind, PartKind::Sheet { .. });
        for index in (0..parts.len()).filter(|&k| is_sheet(&parts[k])) {
            let off = OFF + parts[index].thickness();
            let wall = Near::new(chamber, of_wall.clone(), off);
            let sink = |place: &Point3<f64>, reach: f64| {
                let level = pools.posed.height_of(place) - reach;
                sink_at(pools, wall.at(place), place, level, off).filter(|_| level < top)
            };
            let fits = |place: &Point3<f64>, normal: &Vector3<f64>, reach: f64| {
                allowed(normal) && sink(place, reach).is_some()
            };
            let Some(spot) = spot(parts, index, &Wanted { near, ..*wanted }, &fits) else { continue };
            if found.as_ref().is_none_or(|f| spot.height < f.0.height)
                && let Some(sink) = sink(&spot.place, spot.reach)
            {
                found = Some((spot, sink));
            }
        }
    }
    found
}

/// A millimetre aside counts as so many up.
const NEARNESS: f64 = 0.05;

fn wall(chamber: &Chamber, spot: Option<&Spot>, corner: usize, parts: &[Part]) -> String {
    if let Some(spot) = spot {
        return parts[spot.part].face.clone();
    }
    let meets = |t: &usize| chamber.indices(*t).iter().any(|&k| k as usize == corner);
    let mut names: Vec<&str> = (0..chamber.triangles())
        .filter(meets)
        .map(|t| chamber.names[chamber.part_of[t] as usize].as_str())
        .collect();
    names.sort_unstable();
    names.dedup();
    names.join(", ")
}
