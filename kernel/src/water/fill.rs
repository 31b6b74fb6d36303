//! A hollow closed up: what the outside is once a place where water stands is filled with weld metal, or covered with a plate,
//! level with its pass.
//!
//! The wall under the water is cut along the waterline and lifted to it, every corner straight up. A wall that hangs over
//! the water comes to lie in the level as well, once up and once down, so that what is above keeps its place and the
//! surface stays closed: what is between it before and after is the water, no more and no less.

use super::standing::{Hollow, Outdoors};
use crate::error::Result;
use crate::mesh::Mesh;
use nalgebra::{Point3, Unit, Vector3};
use std::collections::BTreeMap;

/// The space round a work of which hollows were closed up.
#[derive(Debug, Clone)]
pub struct Filled {
    /// The space.
    pub outdoors: Outdoors,
    /// For each of its triangles the hollow (index) whose filling it is the top of.
    pub top_of: Vec<Option<usize>>,
}

/// Closes hollows level with their water.
///
/// # Errors
/// Hollows of another space, with which the surface does not stay closed.
pub fn filled(outdoors: &Outdoors, up: Unit<Vector3<f64>>, hollows: &[&Hollow]) -> Result<Filled> {
    let chamber = outdoors.chamber();
    let mut points: Vec<Point3<f64>> = (0..chamber.corners_count()).map(|k| chamber.corner(k)).collect();
    let heights: Vec<f64> = points.iter().map(|p| (p - chamber.middle).dot(&up)).collect();
    let mut under: Vec<Option<usize>> = vec![None; points.len()];
    for (h, hollow) in hollows.iter().enumerate() {
        for k in hollow.wet.iter().flat_map(|&t| chamber.indices(t)) {
            if heights[k as usize] < hollow.level {
                under[k as usize] = Some(h);
            }
        }
    }
    // Where the waterline crosses an edge, from its lower end.
    let mut crossing: BTreeMap<[u32; 2], u32> = BTreeMap::new();
    let mut mesh = Mesh { names: chamber.names.clone(), ..Mesh::default() };
    let mut top_of = Vec::new();
    for t in 0..chamber.triangles() {
        let corners = chamber.indices(t);
        let first = corners.iter().find_map(|&k| under[k as usize]);
        let (mut wet, mut dry) = (Vec::new(), Vec::new());
        for i in 0..3 {
            let [a, b] = [corners[i], corners[(i + 1) % 3]];
            let above = |k: u32| {
                under[k as usize].is_none() && first.is_some_and(|h| heights[k as usize] > hollows[h].level)
            };
            match (under[a as usize].is_some(), above(a)) {
                (true, _) => wet.push(a),
                (_, true) => dry.push(a),
                _ => {
                    wet.push(a);
                    dry.push(a);
                }
            }
            let ends = match (under[a as usize], under[b as usize]) {
                (Some(h), None) if above(b) => Some((a, b, h)),
                (None, Some(h)) if above(a) => Some((b, a, h)),
                _ => None,
            };
            if let Some((low, high, h)) = ends {
                let k = *crossing.entry([low, high]).or_insert_with(|| {
                    let [from, to] = [low, high].map(|k| heights[k as usize]);
                    let share = (hollows[h].level - from) / (to - from);
                    let (p, q) = (points[low as usize], points[high as usize]);
                    points.push(p + (q - p) * share);
                    index(points.len() - 1)
                });
                wet.push(k);
                dry.push(k);
            }
        }
        let mut add = |ring: &[u32], top: Option<usize>| {
            for k in 1..ring.len().saturating_sub(1) {
                mesh.triangles.push([ring[0], ring[k], ring[k + 1]]);
                mesh.part_of.push(chamber.part_of[t]);
                top_of.push(top);
            }
        };
        match first {
            None => add(&corners, None),
            Some(h) => {
                add(&wet, Some(h));
                add(&dry, None);
            }
        }
    }
    for (k, h) in under.iter().enumerate() {
        if let Some(h) = h {
            points[k] += up.into_inner() * (hollows[*h].level - heights[k]);
        }
    }
    mesh.points = points;
    Ok(Filled { outdoors: Outdoors::of_space(&mesh)?, top_of })
}

#[allow(clippy::cast_possible_truncation, reason = "a chamber counts its corners in 32 bits")]
fn index(k: usize) -> u32 {
    k as u32
}
