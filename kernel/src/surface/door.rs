//! What passes the blaster's door: the box of a piece against width and height of the door, length of the room and mass.
//!
//! Boxes are tried with a side flush with every facet of the piece's hull or level, each turned about its upright until a
//! side is flush with an edge of its outline (see `lift::transport`). A piece that passes in another way only is not found.

use crate::error::Result;
use crate::lift::{OrientedBox, Passage, all_boxes};
use nalgebra::{Point3, Vector3};

/// The blaster's place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Door {
    /// Clear width and height, and the room's length if that matters.
    pub passage: Passage,
    /// Most that the trolley or crane there carries, kg.
    pub most_mass: Option<f64>,
}

/// Whether a piece passes.
#[derive(Debug, Clone, PartialEq)]
pub enum Fit {
    /// As it stands.
    Standing(Way),
    /// Turned.
    Turned(Way),
    /// In no position tried; the box of least volume.
    No(OrientedBox),
    /// It would pass, but is too heavy by this many kg.
    TooHeavy(Way, f64),
}

/// How it passes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Way {
    /// Into the room, across the door, upward, mm.
    pub size: [f64; 3],
    /// What is up on the way, in the position in which it stands in the work.
    pub up: Vector3<f64>,
    /// How far that is turned from standing, degrees.
    pub turned: f64,
}

impl Fit {
    /// Whether it passes.
    pub fn passes(&self) -> bool {
        matches!(self, Fit::Standing(_) | Fit::Turned(_))
    }
}

/// A piece turned by less stands, degrees.
const STANDING: f64 = 0.5;

/// Whether a piece with these corners and this mass passes: standing if it can, else turned as little as it must.
///
/// # Errors
/// Points that span no body.
pub fn fit(points: &[Point3<f64>], mass: f64, door: &Door) -> Result<Fit> {
    let all = all_boxes(points)?;
    let mut best: Option<Way> = None;
    for one in &all {
        for way in ways(one) {
            let [length, width, height] = way.size;
            let p = &door.passage;
            let through =
                width <= p.opening[0] && height <= p.opening[1] && p.length.is_none_or(|l| length <= l);
            // Of equals the narrower.
            let better = |b: &Way| (way.turned.round(), width) < (b.turned.round(), b.size[1]);
            if through && best.as_ref().is_none_or(better) {
                best = Some(way);
            }
        }
    }
    Ok(match best {
        None => Fit::No(crate::lift::least_box(points)?),
        Some(way) => match door.most_mass {
            Some(most) if mass > most => Fit::TooHeavy(way, mass - most),
            _ if way.turned < STANDING => Fit::Standing(way),
            _ => Fit::Turned(way),
        },
    })
}

/// The six ways a box can pass: which of its axes is up, and which leads in.
fn ways(b: &OrientedBox) -> impl Iterator<Item = Way> + '_ {
    const ORDERS: [[usize; 3]; 6] = [[0, 1, 2], [1, 0, 2], [0, 2, 1], [2, 0, 1], [1, 2, 0], [2, 1, 0]];
    ORDERS.into_iter().map(|order| {
        let up = b.axes[order[2]];
        let up = if up.z < 0.0 { -up } else { up };
        let turned = up.z.clamp(-1.0, 1.0).acos().to_degrees();
        Way { size: order.map(|k| b.size[k]), up, turned }
    })
}
