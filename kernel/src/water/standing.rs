//! Where water stands outside: every place of the surface from which it cannot run off.
//!
//! The outdoors is a chamber too: a box round the work, less the work. Its pools (`liquid::pools`) are where water lies;
//! one of them is the ground. A hollow is what joins the ground only over a pass: rain fills it to that pass and no
//! further. So depth and volume are exact, for whatever sheets do.

use super::sinks::{Rest, Sink, at_rest, sink_at};
use crate::error::Result;
use crate::liquid::{Chamber, Pools, Posed};
use crate::mesh::Mesh;
use nalgebra::{Point3, Unit, Vector3};
use rayon::prelude::*;

/// The box stands off the work by this share of its size.
const ROOM: f64 = 0.25;
/// Directions in which tilts are tried, by equal angles.
const DIRECTIONS: u32 = 24;
/// A tilt is found to this share of the greatest, and a direction has to gain this share on another.
const FINE: f64 = 1.0e-3;
const LITTLE: f64 = 0.02;

/// The space round a work.
#[derive(Debug, Clone)]
pub struct Outdoors {
    chamber: Chamber,
}

/// A place where water stands, or would but for a hole.
#[derive(Debug, Clone, PartialEq)]
pub struct Hollow {
    /// Its lowest place, mm.
    pub lowest: Point3<f64>,
    /// Where it flows over, mm.
    pub pass: Point3<f64>,
    /// Depth up to the pass, mm.
    pub depth: f64,
    /// Volume, mm³.
    pub volume: f64,
    /// Area of the water, mm².
    pub surface: f64,
    /// Level of the water, over the middle of the outdoors, mm.
    pub level: f64,
    /// Names of the walls round it, in byte order.
    pub walls: Vec<String>,
    /// Triangles of the outdoors that it wets.
    pub wet: Vec<usize>,
}

/// A round hole in a wall.
#[derive(Debug, Clone, PartialEq)]
pub struct Hole {
    /// Name of the wall.
    pub wall: String,
    /// Its middle, on the wall, mm.
    pub place: Point3<f64>,
    /// How far its rim reaches below its middle, mm.
    pub reach: f64,
    /// How far its middle may lie beside the wall's triangles, mm.
    pub off: f64,
}

/// What counts as standing water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Least {
    /// Shallower is a film, mm.
    pub depth: f64,
    /// Less is a drop, mm³.
    pub volume: f64,
}

/// A tilt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tilt {
    /// Degrees.
    pub angle: f64,
    /// Direction its top leans to, degrees counter-clockwise from +x.
    pub toward: f64,
}

impl Tilt {
    /// Up in the axes of the work after the tilt.
    pub fn up(&self) -> Unit<Vector3<f64>> {
        let (sin, cos) = self.angle.to_radians().sin_cos();
        let (y, x) = self.toward.to_radians().sin_cos();
        // The top leans one way, up leans the other way in it.
        Unit::new_normalize(Vector3::new(-x * sin, -y * sin, cos))
    }
}

impl Outdoors {
    /// The space round a closed mesh that faces outward.
    ///
    /// # Errors
    /// A mesh that is not watertight.
    pub fn new(work: &Mesh) -> Result<Self> {
        let mut mesh = work.clone();
        mesh.triangles.iter_mut().for_each(|t| t.swap(1, 2));
        let [low, high] = work.bounds().unwrap_or([Point3::origin(); 2]);
        let room = Vector3::repeat((high - low).norm() * ROOM);
        let (low, high) = (low - room, high + room);
        #[allow(clippy::cast_possible_truncation, reason = "counted in 32 bits")]
        let (first, name) = (mesh.points.len() as u32, mesh.names.len() as u32);
        for k in 0..8 {
            let side = |bit: u32, i: usize| if k >> bit & 1 == 1 { high[i] } else { low[i] };
            mesh.points.push(Point3::new(side(0, 0), side(1, 1), side(2, 2)));
        }
        for [a, b, c, d] in
            [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]]
        {
            mesh.triangles.extend([[a, b, c], [a, c, d]].map(|t| t.map(|k| k + first)));
            mesh.part_of.extend([name, name]);
        }
        mesh.names.push("sky and ground".to_owned());
        Ok(Self { chamber: Chamber::new(&mesh)? })
    }

    /// The space that a closed mesh is the wall of, facing out of it, sky and ground included.
    pub(super) fn of_space(mesh: &Mesh) -> Result<Self> {
        Ok(Self { chamber: Chamber::new(mesh)? })
    }

    /// Where water stands with a direction up, largest first.
    pub fn hollows(&self, up: Unit<Vector3<f64>>, least: Least) -> Vec<Hollow> {
        self.drained(up, least, &[])
    }

    /// The same with holes in the walls, each a place and the height its rim reaches down to along `up`, mm.
    pub fn drained(&self, up: Unit<Vector3<f64>>, least: Least, holes: &[Hole]) -> Vec<Hollow> {
        self.drained_of(&Pools::tree(Posed::new(&self.chamber, up)), least, holes)
    }

    /// The same of the pools of a pose of it.
    pub(super) fn drained_of(&self, pools: &Pools<'_>, least: Least, holes: &[Hole]) -> Vec<Hollow> {
        let lowest = pools.hollows().min_by(|&a, &b| pools.pools[a].bottom.total_cmp(&pools.pools[b].bottom));
        let Some(ground) = lowest else { return Vec::new() };
        let mut sinks = vec![Sink { pool: ground, level: f64::NEG_INFINITY }];
        sinks.extend(holes.iter().filter_map(|hole| self.sink(pools, hole)));
        let mut found = Vec::new();
        for Rest { pool: k, level } in at_rest(pools, &sinks) {
            let pool = &pools.pools[k];
            let depth = level - pools.posed.height(pool.lowest);
            let below = pools.below(k, level);
            if depth < least.depth || below.volume < least.volume {
                continue;
            }
            let wet: Vec<usize> =
                pools.triangles(k).filter(|&t| pools.posed.reach(t)[0] < level - pools.shallow()).collect();
            let mut walls: Vec<String> =
                wet.iter().map(|&t| self.chamber.names[self.chamber.part_of[t] as usize].clone()).collect();
            walls.sort_unstable();
            walls.dedup();
            found.push(Hollow {
                lowest: pools.lowest(k),
                pass: self.chamber.corner(pool.pass),
                depth,
                level,
                volume: below.volume,
                surface: below.surface,
                walls,
                wet,
            });
        }
        found.sort_by(|a, b| b.volume.total_cmp(&a.volume).then(a.lowest.x.total_cmp(&b.lowest.x)));
        found
    }

    fn sink(&self, pools: &Pools<'_>, hole: &Hole) -> Option<Sink> {
        let walls: Vec<bool> = self.chamber.names.iter().map(|name| *name == hole.wall).collect();
        let own = |t: &usize| walls[self.chamber.part_of[*t] as usize];
        let level = pools.posed.height_of(&hole.place) - hole.reach;
        sink_at(pools, (0..self.chamber.triangles()).filter(own), &hole.place, level, hole.off)
    }

    /// The chamber that the outdoors is.
    pub fn chamber(&self) -> &Chamber {
        &self.chamber
    }

    /// The smallest tilt, as one rigid piece, after which no water stands where these hollows were, up to a greatest one,
    /// degrees; none if the greatest drains them in none of 24 directions. In each direction in which it does it is halved
    /// down to where it just does, to a thousandth; a direction that gains less than a fiftieth on another is left out.
    pub fn draining_tilt(&self, most: f64, least: Least, of: &[&Hollow]) -> Option<Tilt> {
        let mut wet = vec![false; self.chamber.triangles()];
        for &t in of.iter().flat_map(|h| &h.wet) {
            wet[t] = true;
        }
        let drains =
            |tilt: &Tilt| self.hollows(tilt.up(), least).iter().all(|h| !h.wet.iter().any(|&t| wet[t]));
        let directions: Vec<f64> = (0..DIRECTIONS)
            .into_par_iter()
            .map(|k| f64::from(k) * 360.0 / f64::from(DIRECTIONS))
            .filter(|&toward| drains(&Tilt { angle: most, toward }))
            .collect();
        let mut best: Option<Tilt> = None;
        for toward in directions {
            // Another direction has to be better than the best by a little, or it is not looked at further.
            let mut high = best.map_or(most, |b| b.angle * (1.0 - LITTLE));
            if best.is_some() && !drains(&Tilt { angle: high, toward }) {
                continue;
            }
            let mut low = 0.0;
            while high - low > most * FINE {
                let middle = f64::midpoint(low, high);
                if drains(&Tilt { angle: middle, toward }) {
                    high = middle;
                } else {
                    low = middle;
                }
            }
            best = Some(Tilt { angle: high, toward });
        }
        best
    }
}
