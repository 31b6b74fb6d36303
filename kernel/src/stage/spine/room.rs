//! Room: the sheets as they are built, as obstacles, and how near a tube comes to them.
//!
//! Obstacles are the inside skin and all cut edges of every finished part (`clash.rs` takes them apart), with their ribs,
//! not a surface somewhere near: what is measured holds against the steel to rounding. The outside skin is behind them:
//! the only sheet that a chamber sees from outside is one kept whole under the next element, and that is cut for the
//! spine. Closure strips count with both faces. Everything is worked out about the foot of the work and along its first
//! edge, so that a work elsewhere or turned about the vertical gives the same.

use super::chambers::Way;
use crate::clash::{Sliced, edges_along};
use crate::error::Result;
use crate::part::PartKind;
use crate::spine::{Gate, Obstacles};
use crate::work::Work;
use nalgebra::{Isometry3, Point3, Rotation3, Translation3, Vector3};
use rayon::prelude::*;
use std::cmp::Ordering;
use std::collections::BinaryHeap;
use std::f64::consts::SQRT_2;

/// The greatest room in an opening is known within this, mm.
pub(super) const ROOM_TOLERANCE: f64 = 0.05;
/// Sheets are rounded to this for the search, mm: a hundred thousand times the moves of the trim, so that hardly a corner
/// falls on another side of it, and far less than sheet is true to. No round number, or measures of half millimetres would lie between
/// two of its steps.
const GRID: f64 = 0.009_71;
/// Outlines of openings are rounded to this, mm: they must stay flat.
const FINE_GRID: f64 = 1.0e-5;
/// What the search keeps more than is asked, so that rounded sheets do not spoil the gap, mm.
pub(super) const SPARE: f64 = GRID;
/// Squares the first look divides an opening into, along its longer side.
const SQUARES: f64 = 8.0;
/// Most squares that are looked at; a few hundred are usual.
const MOST_SQUARES: usize = 20_000;

/// The sheets, about the foot of the work.
pub(super) struct Room {
    pub(super) obstacles: Obstacles,
    /// The same on a grid of [`GRID`], for the search: sheets of the same work elsewhere or turned differ by the moves of
    /// the trim, and a search sent another way by a millionth of a millimetre would end somewhere else.
    pub(super) rounded: Obstacles,
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
            let part = &work.parts[k];
            let strip = matches!(part.kind, PartKind::Closure { .. });
            let outside = sliced.seen_from_outside().filter(|_| strip);
            for triangle in sliced.seen_from_inside().chain(outside).chain(edges_along(part)) {
                let first = number(points.len());
                points.extend(triangle.map(|p| to * p));
                triangles.push([first, first + 1, first + 2]);
                part_of.push(number(k));
            }
        }
        let obstacles = Obstacles::new(&points, &triangles)?;
        points.iter_mut().for_each(|p| *p = on_grid(p, GRID));
        let rounded = Obstacles::new(&points, &triangles)?;
        Ok(Self { obstacles, rounded, part_of, to, unseen })
    }

    /// A gate where everything is worked out.
    pub(super) fn gate(&self, gate: &Gate) -> Result<Gate> {
        Gate::new(gate.name(), gate.corners().iter().map(|p| on_grid(&(self.to * p), FINE_GRID)).collect())
    }

    /// The part a triangle belongs to.
    pub(super) fn part(&self, triangle: u32) -> usize {
        self.part_of.get(triangle as usize).map_or(0, |&k| k as usize)
    }

    /// The place in an opening that is furthest from sheet and rim, and how far that is, within [`ROOM_TOLERANCE`]: no
    /// tube whose axis passes here can have more, wherever it goes. More than `enough` is not told apart.
    ///
    /// Branch and bound over squares. The distance from one triangle, or from one side of the rim, is greatest at a corner
    /// of the square (a convex function; the second is linear), and the distance from all is no greater than that from
    /// any: so the triangle nearest to the middle, and the sides, bound what a square can hold.
    pub(super) fn clearest(&self, gate: &Gate, enough: f64) -> (Point3<f64>, f64) {
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
        // What is found, what a square can hold, and how far the sheet is: it helps the next look.
        let look = |at: [f64; 2], half: f64, guess: f64| {
            let p = place(at);
            let around = [[-1.0, -1.0], [1.0, -1.0], [-1.0, 1.0], [1.0, 1.0]]
                .map(|[x, y]| place([at[0] + x * half, at[1] + y * half]));
            let rim = gate.depth(&p);
            let mut bound = gate.deepest(&around);
            // Beyond the rim the sheet does not matter.
            if rim <= 0.0 {
                return (rim, bound, guess);
            }
            let Some(touch) = self.obstacles.nearest(&[p, p], guess) else { return (rim, bound, guess) };
            let most = around.iter().map(|q| self.obstacles.from_triangle(q, touch.triangle));
            bound = bound.min(most.fold(0.0, f64::max));
            (rim.min(touch.distance), bound, touch.distance)
        };
        let first = look([0.0; 2], half, half);
        let mut best = ([0.0; 2], first.0);
        let mut squares = BinaryHeap::new();
        let offer = |squares: &mut BinaryHeap<Square>, best: &mut ([f64; 2], f64), at, half, guess| {
            // Distance grows by no more than the way from where it is known.
            let (found, bound, away) = look(at, half, guess + ROOM_TOLERANCE);
            if found > best.1 {
                *best = (at, found);
            }
            if bound > best.1 + ROOM_TOLERANCE {
                squares.push(Square { bound, at, half, away });
            }
            away
        };
        let mut away = first.2;
        let mut y = low[1] + half;
        while y - half < high[1] {
            let mut x = low[0] + half;
            while x - half < high[0] {
                away = offer(&mut squares, &mut best, [x, y], half, away + 2.0 * half);
                x += 2.0 * half;
            }
            y += 2.0 * half;
        }
        let mut looked_at = 0;
        while let Some(square) = squares.pop() {
            looked_at += 1;
            if square.bound <= best.1 + ROOM_TOLERANCE || best.1 >= enough {
                break;
            }
            if looked_at > MOST_SQUARES {
                // Never less than there is.
                return (place(best.0), square.bound);
            }
            let quarter = square.half / 2.0;
            let guess = square.away + quarter * SQRT_2;
            for [x, y] in [[-1.0, -1.0], [1.0, -1.0], [-1.0, 1.0], [1.0, 1.0]] {
                let at = [square.at[0] + x * quarter, square.at[1] + y * quarter];
                offer(&mut squares, &mut best, at, quarter, guess);
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

fn on_grid(p: &Point3<f64>, grid: f64) -> Point3<f64> {
    p.map(|x| (x / grid).round() * grid)
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
    /// Distance of its middle from sheet, mm; or a guess where that does not matter.
    away: f64,
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
