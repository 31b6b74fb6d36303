//! Room: the sheets as they are built, as obstacles, and how near a tube comes to them.
//!
//! Obstacles are both skins and all cut edges of every finished part (`clash.rs` takes them apart), with their ribs, not
//! a surface somewhere near: what is measured holds against the steel, inside and outside, to rounding. Two
//! skins, because sheet that is kept whole between two chambers is passed on its outside. Everything is worked out about
//! the foot of the work and along its first edge, so that a work elsewhere or turned about the vertical gives the same.

use super::chambers::Way;
use crate::clash::Sliced;
use crate::error::Result;
use crate::spine::{Gate, Obstacles};
use crate::work::Work;
use nalgebra::{Isometry3, Point3, Rotation3, Translation3, Vector3};
use rayon::prelude::*;
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// The greatest room in an opening is known within this, mm.
pub(super) const ROOM_TOLERANCE: f64 = 0.05;
/// Squares the first look divides an opening into, along its longer side.
const SQUARES: f64 = 8.0;
/// Most squares that are looked at: openings are small, so this is never reached by sheet that can be built.
const MOST_SQUARES: usize = 50_000;

/// The sheets, about the foot of the work.
pub(super) struct Room {
    pub(super) obstacles: Obstacles,
    /// For every triangle its part (index into `Work::parts`).
    part_of: Vec<u32>,
    /// From the world to where everything is worked out.
    pub(super) to: Isometry3<f64>,
    /// Parts that could not be taken apart.
    pub(super) unseen: Vec<String>,
}

/// Where a leg or a mitre comes nearest to sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Touching {
    /// The leg, from 0; for a mitre the leg it ends.
    pub leg: usize,
    /// Whether it is the mitre at the leg's upper end, tips and all.
    pub mitre: bool,
    /// The part that is nearest.
    pub part: String,
    /// Gap between the tube and the sheet, mm; negative is how deep the tube reaches into it.
    pub gap: f64,
    /// Whether the axis itself goes through the sheet.
    pub through: bool,
    /// Height of the place over the ground, mm.
    pub height: f64,
}

impl Room {
    pub(super) fn new(work: &Work, way: &Way) -> Result<Self> {
        let to = frame(&way.start);
        let cut = way.cut_faces();
        let cut: Vec<&str> = cut.iter().map(|&f| work.faces[f].id.as_str()).collect();
        let seen: Vec<(usize, Sliced)> = work
            .parts
            .par_iter()
            .enumerate()
            .filter(|(_, part)| !cut.contains(&part.face.as_str()))
            .map(|(k, part)| (k, Sliced::new(part)))
            .collect();
        let (mut points, mut triangles, mut part_of) = (Vec::new(), Vec::new(), Vec::new());
        let mut unseen = Vec::new();
        for (k, sliced) in seen {
            if sliced.is_empty() {
                unseen.push(work.parts[k].id.clone());
            }
            for triangle in sliced.triangles() {
                let first = number(points.len());
                points.extend(triangle.map(|p| to * p));
                triangles.push([first, first + 1, first + 2]);
                part_of.push(number(k));
            }
        }
        Ok(Self { obstacles: Obstacles::new(&points, &triangles)?, part_of, to, unseen })
    }

    /// A gate where everything is worked out.
    pub(super) fn gate(&self, gate: &Gate) -> Result<Gate> {
        Gate::new(gate.name(), gate.corners().iter().map(|p| self.to * p).collect())
    }

    /// The part a triangle belongs to.
    pub(super) fn part(&self, triangle: u32) -> usize {
        self.part_of.get(triangle as usize).map_or(0, |&k| k as usize)
    }

    /// The place in an opening that is furthest from sheet and rim, and how far that is, within
    /// [`ROOM_TOLERANCE`]: no tube whose axis passes here can have more, wherever it goes.
    ///
    /// Distance changes by no more than the way gone, so that squares whose middle is too near to something are left
    /// out, and the others quartered (branch and bound).
    pub(super) fn clearest(&self, gate: &Gate) -> (Point3<f64>, f64) {
        let corners = gate.corners();
        let u = (corners[1] - corners[0]).normalize();
        let v = gate.normal().cross(&u);
        let o = gate.centre();
        let flat: Vec<[f64; 2]> = corners.iter().map(|c| [(c - o).dot(&u), (c - o).dot(&v)]).collect();
        let [low, high] = flat.iter().fold([[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]], |[l, h], p| {
            [[l[0].min(p[0]), l[1].min(p[1])], [h[0].max(p[0]), h[1].max(p[1])]]
        });
        let half = (high[0] - low[0]).max(high[1] - low[1]) / SQUARES / 2.0;
        let place = |at: [f64; 2]| o + u * at[0] + v * at[1];
        let value = |at: [f64; 2]| {
            let p = place(at);
            let rim = gate.depth(&p);
            // Beyond the rim the sheet does not matter.
            if rim <= 0.0 { rim } else { rim.min(self.obstacles.distance(&[p, p], rim)) }
        };
        let mut best = ([0.0; 2], value([0.0; 2]));
        let mut squares = BinaryHeap::new();
        let offer =
            |squares: &mut BinaryHeap<Square>, best: &mut ([f64; 2], f64), at: [f64; 2], half: f64| {
                let found = value(at);
                if found > best.1 {
                    *best = (at, found);
                }
                let bound = found + half * std::f64::consts::SQRT_2;
                if bound > best.1 + ROOM_TOLERANCE {
                    squares.push(Square { bound, at, half });
                }
            };
        let mut y = low[1] + half;
        while y - half < high[1] {
            let mut x = low[0] + half;
            while x - half < high[0] {
                offer(&mut squares, &mut best, [x, y], half);
                x += 2.0 * half;
            }
            y += 2.0 * half;
        }
        let mut looked_at = 0;
        while let Some(square) = squares.pop() {
            looked_at += 1;
            if square.bound <= best.1 + ROOM_TOLERANCE {
                break;
            }
            if looked_at > MOST_SQUARES {
                // Never less than there is.
                return (place(best.0), square.bound);
            }
            let quarter = square.half / 2.0;
            for [x, y] in [[-1.0, -1.0], [1.0, -1.0], [-1.0, 1.0], [1.0, 1.0]] {
                let at = [square.at[0] + x * quarter, square.at[1] + y * quarter];
                offer(&mut squares, &mut best, at, quarter);
            }
        }
        (place(best.0), best.1)
    }

    /// How near a tube along these points (worked out here) comes to sheet: every leg, and every mitre with its tips.
    pub(super) fn along(&self, work: &Work, points: &[Point3<f64>], radius: f64) -> Vec<Touching> {
        let mut found = Vec::new();
        let mut say = |leg: usize, mitre: bool, line: [Point3<f64>; 2], radius: f64| {
            let Some(touch) = self.obstacles.nearest(&line, radius) else { return };
            let at = line[0] + (line[1] - line[0]) * touch.share;
            found.push(Touching {
                leg,
                mitre,
                part: work.parts[self.part(touch.triangle)].id.clone(),
                gap: touch.distance - radius,
                through: touch.distance <= 0.0,
                height: (self.to.inverse() * at).z,
            });
        };
        for leg in 0..points.len().saturating_sub(1) {
            say(leg, false, [points[leg], points[leg + 1]], radius);
            if leg + 2 < points.len() {
                let p = points[leg + 1];
                let turn = (p - points[leg]).angle(&(points[leg + 2] - p));
                say(leg, true, [p, p], radius / (turn / 2.0).cos());
            }
        }
        found
    }
}

#[allow(clippy::cast_possible_truncation, reason = "four thousand million triangles do not fit in memory")]
fn number(count: usize) -> u32 {
    count as u32
}

/// From the world to the middle of the foot, x along its first edge.
fn frame(start: &Gate) -> Isometry3<f64> {
    let corners = start.corners();
    let edge = corners[1] - corners[0];
    let turn = Rotation3::from_axis_angle(&Vector3::z_axis(), -edge.y.atan2(edge.x));
    Isometry3::from_parts(Translation3::identity(), turn.into()) * Translation3::from(-start.centre().coords)
}

/// A square of an opening that may hold a better place.
struct Square {
    bound: f64,
    at: [f64; 2],
    half: f64,
}

impl PartialEq for Square {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Square {}

impl PartialOrd for Square {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Square {
    fn cmp(&self, other: &Self) -> Ordering {
        let by = self.bound.total_cmp(&other.bound);
        by.then(self.at[0].total_cmp(&other.at[0])).then(self.at[1].total_cmp(&other.at[1]))
    }
}
