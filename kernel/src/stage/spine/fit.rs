//! A tube in a work: prepared once, tried with any tube.
//!
//! `Prepared` holds the way up and the sheets; `with` looks for the axis of a tube, or checks the one that was given, and
//! cuts it into legs. Another stage that knows loads may try tube after tube.

use super::asked::Asked;
use super::chambers::{Opening, STANDS, Way};
use super::room::{ROOM_TOLERANCE, Room, SPARE, Touching};
use crate::error::Result;
use crate::settings::Values;
use crate::spine::path::At;
use crate::spine::{Blocked, Built, Crossing, Place, Spine, Task, Verdict as Found, find, way};
use crate::tube::Tube;
use crate::tube::mitre::{Leg, legs};
use crate::tube::saddle::Slant;
use crate::work::Work;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// What came of trying a tube.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// There is a spine of this tube.
    Fits(Box<Fitted>),
    /// There is none, or none was found.
    Blocked(Blocked),
}

/// An opening as the spine passes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Passed {
    /// The opening (index into [`Prepared::openings`]).
    pub opening: usize,
    /// The leg that passes, from 0.
    pub leg: usize,
    /// Where the axis passes, mm.
    pub at: Point3<f64>,
    /// Angle between the axis and the normal of the face, radians.
    pub tilt: f64,
    /// From the plane of the opening to the nearest mitre, its tips counted, mm; infinite where there is none.
    pub to_mitre: f64,
}

/// A hole to cut in a face that is not open.
#[derive(Debug, Clone, PartialEq)]
pub struct FaceHole {
    /// The face (index into `Work::faces`).
    pub face: usize,
    /// Its centre, mm.
    pub at: Point3<f64>,
    /// The same on the face: along the ribs and across, from the face's origin, mm.
    pub on_face: [f64; 2],
    /// The tube, its gap, its tilt, and what it passes: depth and thickness of the sheet.
    pub slant: Slant,
    /// Direction of the longer axis, from the ribs towards v, radians.
    pub toward: f64,
}

/// A spine of a work.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// What other stages need.
    pub built: Built,
    /// Turn at every kink, radians.
    pub turns: Vec<f64>,
    /// Its legs, from the base up.
    pub legs: Vec<Leg>,
    /// For every leg the element it goes up with: the one that holds its lower end.
    pub goes_with: Vec<usize>,
    /// The openings it passes.
    pub passed: Vec<Passed>,
    /// Holes to cut.
    pub holes: Vec<FaceHole>,
    /// How near every leg and mitre comes to sheet.
    pub touching: Vec<Touching>,
    /// Openings that the given axis does not pass.
    pub missed: Vec<usize>,
}

/// Tips of mitres stick out to this many radii from the kink: of cuts up to 24 degrees from square.
const TIPS: f64 = 1.1;

/// A work made ready for a spine.
pub struct Prepared<'a> {
    work: &'a Work,
    way: Way,
    room: Room,
    asked: Asked,
    /// For every opening the place furthest from sheet, here, and how far that is.
    clearest: Vec<(Point3<f64>, f64)>,
}

/// Tries one tube: what [`Prepared::new`] and [`Prepared::with`] do together.
///
/// # Errors
/// As these two.
pub fn built_with(work: &Work, set: &Values, tube: &Tube) -> Result<Verdict> {
    Prepared::new(work, set)?.with(tube)
}

impl<'a> Prepared<'a> {
    /// Reads the settings, finds the chambers and takes the sheets apart.
    ///
    /// # Errors
    /// Settings that name no element; a work whose chambers do not open into each other; no foot to start on.
    pub fn new(work: &'a Work, set: &Values) -> Result<Self> {
        Self::of(work, Asked::new(work, set)?)
    }

    pub(super) fn of(work: &'a Work, asked: Asked) -> Result<Self> {
        let way = Way::new(work, asked.end)?;
        let room = Room::new(work, &way)?;
        let gates: Result<Vec<_>> = way.openings.iter().map(|o| room.gate(&o.gate)).collect();
        let clearest = gates?.par_iter().map(|g| room.clearest(g, f64::INFINITY)).collect();
        Ok(Self { work, way, room, asked, clearest })
    }

    /// The openings, from the base up.
    pub fn openings(&self) -> &[Opening] {
        &self.way.openings
    }

    /// The face at the foot (index into `Work::faces`), and whether there is sheet in it.
    pub fn foot(&self) -> (usize, bool) {
        (self.way.foot, self.way.foot_closed)
    }

    /// For every opening the greatest radius about the axis that any tube has there, mm.
    pub fn rooms(&self) -> impl Iterator<Item = f64> + '_ {
        self.clearest.iter().map(|c| c.1)
    }

    /// Parts too large to be taken apart: the spine does not keep clear of them.
    pub(super) fn unseen(&self) -> &[String] {
        &self.room.unseen
    }

    /// Looks for a spine of this tube, or checks the one whose points were given.
    ///
    /// # Errors
    /// No room where the spine is to start or end, points that make no tube.
    pub fn with(&self, tube: &Tube) -> Result<Verdict> {
        let radius = tube.outside() / 2.0;
        if let Some(points) = &self.asked.points {
            return self.fitted(tube, points.iter().map(|p| self.room.to * p).collect());
        }
        let needed = radius + self.asked.gap;
        let end = self.way.end(self.work, self.asked.end_height, needed + self.asked.end_room)?;
        let gates: Result<Vec<_>> = self.way.openings.iter().map(|o| self.room.gate(&o.gate)).collect();
        let gates = gates?;
        // What no way could pass is told by the sheets themselves, not only by outlines.
        let greatest = self.clearest.iter().map(|c| c.1);
        if let Some((k, greatest)) = greatest.enumerate().find(|g| g.1 + ROOM_TOLERANCE < needed) {
            let name = gates[k].name().to_owned();
            return Ok(Verdict::Blocked(Blocked { at: At::Gate(k), name, needed, greatest, proven: true }));
        }
        let start = self.place(
            &self.asked.start.map(|[x, y]| Point3::new(x, y, self.way.start.centre().z)),
            &self.way.start,
        )?;
        let end_at = self.asked.end_at.map(|[x, y]| {
            // Where the upright line through (x, y) meets the plane of the end.
            let (n, c) = (end.normal(), end.centre());
            Point3::new(x, y, c.z - (n.x * (x - c.x) + n.y * (y - c.y)) / n.z)
        });
        let end = self.place(&end_at, &end)?;
        for (place, at, name) in [(&start, At::Start, "the start"), (&end, At::End, "the end")] {
            let Place::On(area) = place else { continue };
            let (_, greatest) = self.room.clearest(area, needed);
            if greatest + ROOM_TOLERANCE < needed {
                let name = name.to_owned();
                return Ok(Verdict::Blocked(Blocked { at, name, needed, greatest, proven: true }));
            }
        }
        let obstacles = &self.room.rounded;
        let task = |most_legs: usize, stand_off: f64| {
            let (start, end, gates) = (start.clone(), end.clone(), gates.clone());
            let gap = self.asked.gap + SPARE;
            let slack = self.asked.slack;
            Task { obstacles, start, gates, end, radius, gap, most_legs, slack, stand_off }
        };
        // First with room to weld at every mitre; without it where that takes fewer legs, or there is no other way.
        let room = self.asked.weld_room;
        let stand_off = if room > 0.0 { room + radius * TIPS } else { 0.0 };
        let found = match way(&task(self.asked.most_legs, stand_off))? {
            None => find(&task(self.asked.most_legs, 0.0))?,
            Some(spine) if spine.points.len() == 2 => Found::Fits(spine),
            Some(spine) => Found::Fits(way(&task(spine.points.len() - 2, 0.0))?.unwrap_or(spine)),
        };
        match found {
            // An outline is a little wider than the opening: what it alone rules out is ruled out.
            Found::Blocked(blocked) => {
                let proven = blocked.proven && blocked.greatest + SPARE < needed;
                Ok(Verdict::Blocked(Blocked { needed, proven, ..blocked }))
            }
            Found::Fits(Spine { points, .. }) => self.fitted(tube, points),
        }
    }

    fn place(&self, point: &Option<Point3<f64>>, area: &crate::spine::Gate) -> Result<Place> {
        Ok(match point {
            Some(p) => Place::At(self.room.to * p),
            None => Place::On(self.room.gate(area)?),
        })
    }

    /// What there is to say about an axis (its points are those of the room).
    fn fitted(&self, tube: &Tube, points: Vec<Point3<f64>>) -> Result<Verdict> {
        let radius = tube.outside() / 2.0;
        let touching = self.room.along(self.work, &points, radius);
        let from = self.room.to.inverse();
        let (mut passed, mut missed) = (Vec::new(), Vec::new());
        for (k, opening) in self.way.openings.iter().enumerate() {
            let gate = self.room.gate(&opening.gate)?;
            let normal = self.room.to * self.work.faces[opening.face].frame.n;
            let height = |p: &Point3<f64>| (p - gate.centre()).dot(&normal);
            let crossing = points.windows(2).enumerate().find_map(|(leg, ends)| {
                let [low, high] = [height(&ends[0]), height(&ends[1])];
                if !(low < 0.0 && high >= 0.0) {
                    return None;
                }
                let at = ends[0] + (ends[1] - ends[0]) * (low / (low - high));
                (gate.depth(&at) > 0.0).then_some((leg, at, ends[1] - ends[0]))
            });
            let Some((leg, at, way)) = crossing else {
                missed.push(k);
                continue;
            };
            let kinks = (1..points.len() - 1).map(|i| {
                let turn = (points[i] - points[i - 1]).angle(&(points[i + 1] - points[i]));
                height(&points[i]).abs() - radius / (turn / 2.0).cos()
            });
            passed.push(Passed {
                opening: k,
                leg,
                at: from * at,
                tilt: way.angle(&normal),
                to_mitre: kinks.fold(f64::INFINITY, f64::min),
            });
        }
        let world: Vec<Point3<f64>> = points.iter().map(|p| from * p).collect();
        let legs = legs(&world, tube, [Some(Vector3::z()), None])?;
        let goes_with = (0..legs.len())
            .map(|leg| self.way.elements[passed.iter().filter(|p| p.leg < leg).count()])
            .collect();
        let crossings = passed
            .iter()
            .map(|p| {
                let opening = &self.way.openings[p.opening];
                Crossing { between: opening.between, name: opening.gate.name().to_owned(), at: p.at }
            })
            .collect();
        let clearance = touching.iter().map(|t| t.gap).fold(f64::INFINITY, f64::min);
        let turns = world.windows(3).map(|w| (w[1] - w[0]).angle(&(w[2] - w[1]))).collect();
        let built =
            Built { points: world, tube: *tube, material: *self.asked.material, crossings, clearance };
        let mut holes = Vec::new();
        for p in passed.iter().filter(|p| self.way.openings[p.opening].closed) {
            holes.push(self.hole(self.way.openings[p.opening].face, p.at, &legs[p.leg], radius)?);
        }
        let on_ground = built.points[0].z <= self.way.start.centre().z + STANDS;
        if self.way.foot_closed && on_ground {
            holes.push(self.hole(self.way.foot, built.points[0], &legs[0], radius)?);
        }
        Ok(Verdict::Fits(Box::new(Fitted { built, turns, legs, goes_with, passed, holes, touching, missed })))
    }

    /// The hole in a face, cut square to it, that lets a leg pass with its gap.
    fn hole(&self, face: usize, at: Point3<f64>, leg: &Leg, radius: f64) -> Result<FaceHole> {
        let report = &self.work.faces[face];
        let f = &report.frame;
        let d = leg.direction.into_inner();
        let tilt = d.angle(&f.n);
        let tilt = tilt.min(std::f64::consts::PI - tilt);
        let passed = report.profile.depth() + report.profile.thickness();
        let slant = Slant::new(radius, self.asked.gap, tilt, passed).map_err(|e| e.at(report.id.as_str()))?;
        // Seen square to the face, both ends of what is passed lie alike about the middle of the sheet's depth.
        let middle = at + d * (report.lift / d.dot(&f.n));
        let from = middle - f.origin;
        Ok(FaceHole {
            face,
            at: middle,
            on_face: [from.dot(&f.u), from.dot(&f.v)],
            slant,
            toward: d.dot(&f.v).atan2(d.dot(&f.u)),
        })
    }
}

impl Fitted {
    /// The least gap, where it is: none for a spine that nothing is near.
    pub fn tightest(&self) -> Option<&Touching> {
        self.touching.iter().reduce(|a, b| if b.gap < a.gap { b } else { a })
    }

    /// Mass of a leg, kg.
    pub fn leg_mass(&self, leg: usize) -> f64 {
        let per_metre = self.built.tube.mass_per_metre(self.built.material.density);
        self.legs.get(leg).map_or(0.0, |l| per_metre * l.centre / 1000.0)
    }

    /// The whole leg as it stands, mm above the ground.
    pub fn heights(&self, leg: usize) -> [f64; 2] {
        self.legs.get(leg).map_or([0.0; 2], |l| l.ends.map(|e| e.at.z))
    }
}
