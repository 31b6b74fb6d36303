//! Where water stands outside: every place of the surface from which it cannot run off.
//!
//! The outdoors is a chamber too: a box round the work, less the work. Its pools (`liquid::pools`) are where water lies;
//! one of them is the ground. A hollow is what joins the ground only over a pass: rain fills it to that pass and no
//! further. So depth and volume are exact, for whatever sheets do.

use crate::error::Result;
use crate::liquid::{Chamber, Pools, Posed};
use crate::mesh::Mesh;
use nalgebra::{Point3, Unit, Vector3};
use rayon::prelude::*;

/// The box stands off the work by this share of its size.
const ROOM: f64 = 0.25;
/// Directions in which tilts are tried, by equal angles.
const DIRECTIONS: u32 = 24;
/// Tilts are tried in steps of this, degrees, and halved down from there.
const TILT_STEP: f64 = 0.25;
/// Halvings of a step: a tenth of a hundredth of a degree.
const HALVINGS: u32 = 8;

/// The space round a work.
#[derive(Debug, Clone)]
pub struct Outdoors {
    chamber: Chamber,
}

/// A place where water stands.
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
    /// Names of the walls round it, in byte order.
    pub walls: Vec<String>,
}

/// What counts as standing water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Least {
    /// Shallower is a film, mm.
    pub depth: f64,
    /// Less is a drop, mm³.
    pub volume: f64,
}

/// A tilt of the whole work.
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

    /// Where water stands with a direction up, largest first.
    pub fn hollows(&self, up: Unit<Vector3<f64>>, least: Least) -> Vec<Hollow> {
        let pools = Pools::new(Posed::new(&self.chamber, up));
        let lowest = pools.hollows().min_by(|&a, &b| pools.pools[a].bottom.total_cmp(&pools.pools[b].bottom));
        let Some(mut at) = lowest else { return Vec::new() };
        let mut found = Vec::new();
        while let Some(parent) = pools.pools[at].parent {
            let beside = pools.pools[parent].children.iter().copied().filter(|&c| c != at);
            for c in beside {
                let pool = &pools.pools[c];
                let depth = pool.top - pools.posed.height(pool.lowest);
                if depth < least.depth || pool.capacity < least.volume {
                    continue;
                }
                let wet =
                    pools.triangles(c).filter(|&t| pools.posed.reach(t)[0] < pool.top - pools.shallow());
                let mut walls: Vec<String> =
                    wet.map(|t| self.chamber.names[self.chamber.part_of[t] as usize].clone()).collect();
                walls.sort_unstable();
                walls.dedup();
                found.push(Hollow {
                    lowest: pools.lowest(c),
                    pass: self.chamber.corner(pool.pass),
                    depth,
                    volume: pool.capacity,
                    surface: pools.below(c, pool.top).surface,
                    walls,
                });
            }
            at = parent;
        }
        found.sort_by(|a, b| b.volume.total_cmp(&a.volume));
        found
    }

    /// The smallest tilt of the whole work after which no water stands, up to a greatest one, degrees; none if there is
    /// none among the directions tried. Tried by steps of a quarter degree in 24 directions, then halved.
    pub fn draining_tilt(&self, most: f64, least: Least) -> Option<Tilt> {
        let drains = |tilt: &Tilt| self.hollows(tilt.up(), least).is_empty();
        let mut angle = 0.0;
        while angle < most {
            let next = (angle + TILT_STEP).min(most);
            let best = (0..DIRECTIONS)
                .into_par_iter()
                .map(|k| Tilt { angle: next, toward: f64::from(k) * 360.0 / f64::from(DIRECTIONS) })
                .filter(drains)
                .map(|tilt| {
                    let (mut low, mut high) = (angle, next);
                    for _ in 0..HALVINGS {
                        let middle = f64::midpoint(low, high);
                        if drains(&Tilt { angle: middle, ..tilt }) {
                            high = middle;
                        } else {
                            low = middle;
                        }
                    }
                    Tilt { angle: high, ..tilt }
                })
                .min_by(|a, b| a.angle.total_cmp(&b.angle).then(a.toward.total_cmp(&b.toward)));
            if best.is_some() {
                return best;
            }
            angle = next;
        }
        None
    }
}
