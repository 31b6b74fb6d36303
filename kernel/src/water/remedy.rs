//! What drains a hollow outside: a hole at its lowest place, a tilt of an element with all that stands on it, a turn of the
//! ribs of a face; where none of these does, closing it up level with its pass. Each is worked out again: the hole as an
//! outlet of the pools, the filling as another surface (`fill`), the others by trimming the changed work anew. Which of
//! those that drain is smallest is told by how far they move any steel, mm; for a hole, by its diameter.

use super::drains::best;
use super::fill::filled;
use super::options::values;
use super::place::{Spot, Wanted};
use super::standing::{Hole, Hollow, Least, Outdoors, Tilt};
use crate::chambers::{outside, outside_as};
use crate::error::Result;
use crate::liquid::{Pools, Posed};
use crate::sculpture::{LeanBy, Rest, Sculpture};
use crate::settings::Values;
use crate::work::Work;
use nalgebra::{Isometry3, Point3, Unit, UnitQuaternion, Vector3};
use rayon::prelude::*;
use std::collections::BTreeSet;

/// mm³ in a millilitre.
const MILLILITRE: f64 = 1.0e3;
/// Holes that are tried, as shares of the usual size and distance to edges.
const SIZES: [f64; 3] = [1.0, 0.6, 0.4];
/// Lowest places nearer than this are the same, mm.
pub(super) const SAME_PLACE: f64 = 1.0;
/// Turns of ribs that are tried either way, degrees, and how often the first that drains is halved back.
const TURNS: [f64; 9] = [5.0, 10.0, 15.0, 20.0, 30.0, 45.0, 60.0, 75.0, 90.0];
const HALVINGS: u32 = 3;
/// At most so many faces have turns of their ribs looked for, those with most water first.
const MOST_FACES: usize = 8;
/// A face that rises less than this per length has no way down for its ribs to turn to.
const LEVEL: f64 = 1.0e-4;
/// A face looks up when its outward normal rises by more than this.
const LOOKS_UP: f64 = 0.017_5;
/// A tilt that does not drain once trimmed anew is tried again with so many degrees more.
const MORE: f64 = 0.25;
/// At most so many places of an element have tilts of their own looked for, those with most water first.
const MOST_PLACES: usize = 6;
/// Water that stands so near to where it stood before counts as there, mm.
const NEIGHBOUR: f64 = 100.0;
/// The skin lies within this of where the part says it is, beside its thickness, mm.
const OFF: f64 = 0.5;

/// A change.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// A round hole.
    Hole {
        /// Where.
        spot: Spot,
        /// Name of the wall.
        wall: String,
        /// Diameter, mm.
        diameter: f64,
    },
    /// An element, with all that stands on it, tilted about its foot.
    Tilt {
        /// The element.
        element: usize,
        /// How it moves.
        tilt: Tilt,
    },
    /// The ribs of a face turned in it, degrees counter-clockwise seen from outside.
    Ribs {
        /// Index among the work's faces.
        face: usize,
        /// By how much.
        degrees: f64,
    },
    /// The hollow closed up level with its pass: filled with weld metal, or covered with a plate welded all round.
    Fill {
        /// The hollow.
        hollow: Box<Hollow>,
    },
}

/// A change with what it leaves.
#[derive(Debug, Clone, PartialEq)]
pub struct Remedy {
    /// The change.
    pub change: Change,
    /// How far it moves any steel, mm; a hole's diameter.
    pub moves: f64,
    /// What still stands there, mm³.
    pub here: f64,
    /// What then stands on the whole work, mm³.
    pub everywhere: f64,
}

impl Remedy {
    /// Whether no water is left there, and none stands elsewhere that did not before.
    pub fn drains(&self, before: f64) -> bool {
        self.here <= 0.0 && self.everywhere <= before
    }
}

/// A place where water stands, with what drains it.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    /// The place.
    pub hollow: Hollow,
    /// The element whose tilt moves all its walls alike.
    pub element: Option<usize>,
    /// All changes that were found.
    pub remedies: Vec<Remedy>,
    /// The smallest that drains it.
    pub smallest: Option<usize>,
}

/// What stands on the outside of a work, and what drains it.
#[derive(Debug, Clone)]
pub struct Standing {
    /// The places, most water first.
    pub places: Vec<Place>,
    /// What they hold, mm³.
    pub volume: f64,
    /// What is left with all holes that were found, each at its place, mm³.
    pub with_holes: f64,
    /// Whether the outside skin is what was looked at; else the middle one.
    pub exact: bool,
    /// The outdoors.
    pub outdoors: Outdoors,
}

/// What counts as standing water by the settings.
pub fn least(set: &Values) -> Least {
    Least { depth: set.number("depth"), volume: set.number("volume") * MILLILITRE }
}

/// Where water stands on a work outside, and what drains each place.
///
/// # Errors
/// What cannot be trimmed at all, or does not close; settings that the rows do not allow.
pub fn standing(work: &Work) -> Result<Standing> {
    let set = values(&work.sculpture)?;
    let least = least(&set);
    let (mesh, exact) = outside(work)?;
    let outdoors = Outdoors::new(&mesh)?;
    let hollows = outdoors.hollows(Vector3::z_axis(), least);
    let volume = hollows.iter().map(|h| h.volume).sum();
    let mut places: Vec<Place> = hollows
        .into_iter()
        .map(|hollow| Place {
            element: owner(&work.sculpture, &hollow.walls),
            hollow,
            remedies: Vec::new(),
            smallest: None,
        })
        .collect();
    let finder = Finder { work, set: &set, least, outdoors: &outdoors };
    let with_holes = finder.holes(&mut places);
    finder.tilts(&mut places)?;
    if set.flag("turn_ribs") {
        finder.turns(&mut places)?;
    }
    finder.fills(&mut places, volume)?;
    for place in &mut places {
        place.smallest = (0..place.remedies.len())
            .filter(|&k| place.remedies[k].drains(volume))
            .min_by(|&a, &b| place.remedies[a].moves.total_cmp(&place.remedies[b].moves));
    }
    Ok(Standing { places, volume, with_holes, exact, outdoors })
}

/// What stands on the outside of a work of which a change was made, largest first; holes and fillings are made in the
/// outdoors given.
///
/// # Errors
/// What cannot be trimmed at all, or does not close.
pub fn after(work: &Work, outdoors: &Outdoors, change: &Change, least: Least) -> Result<Vec<Hollow>> {
    let up = Vector3::z_axis();
    match changed(&work.sculpture, work, change) {
        None => Ok(match change {
            Change::Hole { spot, wall, .. } => outdoors.drained(up, least, &[hole(work, spot, wall)]),
            Change::Fill { hollow } => filled(outdoors, up, &[hollow])?.outdoors.hollows(up, least),
            _ => outdoors.hollows(up, least),
        }),
        Some(turned) => {
            let (mesh, _) = outside_as(work, &turned)?;
            Ok(Outdoors::new(&mesh)?.hollows(up, least))
        }
    }
}

/// The sculpture with a tilt or a turn of ribs made; none for a hole or a filling, which are no change of its shape.
pub fn changed(sculpture: &Sculpture, work: &Work, change: &Change) -> Option<Sculpture> {
    let mut turned = sculpture.clone();
    match change {
        Change::Hole { .. } | Change::Fill { .. } => return None,
        Change::Tilt { element, tilt } => {
            let motion = motion(sculpture, *element, tilt);
            for e in with_all_on(sculpture, *element) {
                // Ribs left to run up the slope would find another one on the tilted face.
                let own = work.faces.iter().filter(|f| f.element == e);
                for (cladding, face) in turned.elements[e].cladding.iter_mut().zip(own) {
                    cladding.along = Some(face.frame.u);
                }
                turned.elements[e].transform(&motion);
            }
        }
        Change::Ribs { face, degrees } => {
            let report = &work.faces[*face];
            let turn =
                UnitQuaternion::from_axis_angle(&Unit::new_normalize(report.frame.n), degrees.to_radians());
            let label = report.id.split_once('/').map_or("", |(_, label)| label);
            let cladding = turned.elements[report.element].face_mut(label).ok()?;
            cladding.along = Some(turn * report.frame.u);
        }
    }
    Some(turned)
}

/// Where an element is tilted about: its foot on what it stands on, or the middle of its lowest place.
fn foot(sculpture: &Sculpture, element: usize) -> Point3<f64> {
    if let Some(rest) = sculpture.rests.iter().find(|r| r.element == element) {
        return rest.foot;
    }
    let solid = &sculpture.elements[element].solid;
    let [low, high] = solid.bounding_box();
    let middle = nalgebra::center(&low, &high);
    Point3::new(middle.x, middle.y, low.z)
}

fn motion(sculpture: &Sculpture, element: usize, tilt: &Tilt) -> Isometry3<f64> {
    let rest = Rest {
        element,
        on: element,
        foot: foot(sculpture, element),
        normal: Vector3::z(),
        lean: None,
        placed_for: None,
    };
    rest.motion(LeanBy::Tip, tilt.toward, tilt.angle)
}

/// An element and all that stands on it, ascending.
fn with_all_on(sculpture: &Sculpture, element: usize) -> BTreeSet<usize> {
    let mut all = BTreeSet::from([element]);
    // What stands on another was added after it, but an order of rests is not taken for granted.
    for _ in 0..sculpture.rests.len() {
        for rest in &sculpture.rests {
            if all.contains(&rest.on) {
                all.insert(rest.element);
            }
        }
    }
    all
}

/// The highest element whose tilt moves all these walls as one.
fn owner(sculpture: &Sculpture, walls: &[String]) -> Option<usize> {
    let ids = walls.iter().flat_map(|w| w.split('~')).filter_map(|id| id.split_once('/'));
    let index = |name: &str| sculpture.elements.iter().position(|e| e.name() == name);
    let wanted: BTreeSet<usize> = ids.filter_map(|(name, _)| index(name)).collect();
    if wanted.is_empty() {
        return None;
    }
    let reach = |e: usize| with_all_on(sculpture, e);
    (0..sculpture.elements.len()).filter(|&e| wanted.is_subset(&reach(e))).min_by_key(|&e| reach(e).len())
}

pub(super) fn hole(work: &Work, spot: &Spot, wall: &str) -> Hole {
    Hole {
        wall: wall.to_owned(),
        place: spot.place,
        reach: spot.reach,
        off: OFF + work.parts[spot.part].thickness(),
    }
}

pub(super) struct Finder<'a> {
    pub(super) work: &'a Work,
    pub(super) set: &'a Values,
    pub(super) least: Least,
    pub(super) outdoors: &'a Outdoors,
}

impl Finder<'_> {
    /// A hole for every place; what is left with all of them.
    fn holes(&self, places: &mut [Place]) -> f64 {
        let up = Vector3::z_axis();
        let pools = Pools::new(Posed::new(self.outdoors.chamber(), up));
        let found: Vec<_> = places.par_iter().map(|p| self.best_hole(&pools, &p.hollow)).collect();
        let mut all = Vec::new();
        for (place, (remedy, one)) in places.iter_mut().zip(found).filter_map(|(p, f)| Some((p, f?))) {
            place.remedies.push(remedy);
            all.push(one);
        }
        self.outdoors.drained_of(&pools, self.least, &all).iter().map(|h| h.volume).sum()
    }

    /// The hole that leaves least in a place, with what it leaves.
    pub(super) fn best_hole(&self, pools: &Pools<'_>, hollow: &Hollow) -> Option<(Remedy, Hole)> {
        // A smaller hole comes nearer to the lowest place: taken where the usual one leaves water.
        let mut best: Option<(Remedy, Hole)> = None;
        for share in SIZES {
            let Some(next) = self.hole(pools, hollow, share) else { continue };
            if best.as_ref().is_none_or(|least| next.0.here < least.0.here) {
                best = Some(next);
            }
            if best.as_ref().is_some_and(|least| least.0.here <= 0.0) {
                break;
            }
        }
        best
    }

    /// Where nothing else drains a place, its filling.
    fn fills(&self, places: &mut [Place], volume: f64) -> Result<()> {
        let up = Vector3::z_axis();
        for place in places.iter_mut().filter(|p| !p.remedies.iter().any(|r| r.drains(volume))) {
            let done = filled(self.outdoors, up, &[&place.hollow])?;
            let left = done.outdoors.hollows(up, self.least);
            let here = |h: &&Hollow| h.wet.iter().any(|&t| done.top_of[t].is_some());
            place.remedies.push(Remedy {
                change: Change::Fill { hollow: Box::new(place.hollow.clone()) },
                moves: 0.0,
                here: left.iter().filter(here).map(|h| h.volume).sum::<f64>() + 0.0,
                everywhere: left.iter().map(|h| h.volume).sum::<f64>() + 0.0,
            });
        }
        Ok(())
    }

    /// A hole of a share of the usual size and distances for a place, with what it leaves.
    fn hole(&self, pools: &Pools<'_>, hollow: &Hollow, share: f64) -> Option<(Remedy, Hole)> {
        let up = Vector3::z_axis();
        let near = hollow.lowest;
        let diameter = (self.set.number("drain") * share).round();
        let edge = self.set.number("drain_edge") * share;
        let wanted = Wanted { near, up, radius: diameter / 2.0, edge, side: 1.0 };
        let (spot, _) = best(&self.work.parts, pools, &hollow.wet, hollow.level, &wanted, |_| true)?;
        let wall = self.work.parts[spot.part].face.clone();
        let one = hole(self.work, &spot, &wall);
        let left = self.outdoors.drained_of(pools, self.least, std::slice::from_ref(&one));
        let wet: BTreeSet<usize> = hollow.wet.iter().copied().collect();
        // A neighbour that shares a fold was there before: only what has this lowest place or this pass counts as here.
        let here = |h: &&Hollow| {
            h.wet.iter().any(|t| wet.contains(t))
                && ((h.lowest - near).norm() <= SAME_PLACE || h.pass == hollow.pass)
        };
        let remedy = Remedy {
            change: Change::Hole { spot, wall, diameter },
            moves: diameter,
            here: left.iter().filter(here).map(|h| h.volume).sum(),
            everywhere: left.iter().map(|h| h.volume).sum(),
        };
        Some((remedy, one))
    }

    fn tilts(&self, places: &mut [Place]) -> Result<()> {
        let most = self.set.number("tilt");
        if most <= 0.0 {
            return Ok(());
        }
        let elements: BTreeSet<usize> = places.iter().filter_map(|p| p.element).collect();
        let seen: &[Place] = places;
        let found: Vec<Vec<(usize, Remedy)>> = elements
            .into_par_iter()
            .map(|element| {
                let own: Vec<usize> = (0..seen.len()).filter(|&k| seen[k].element == Some(element)).collect();
                // All of them by one tilt, where one does; else each by its own.
                let together = self.tilt(seen, element, &own, most)?;
                if !together.is_empty() || own.len() == 1 {
                    return Ok(together);
                }
                let each: Result<Vec<_>> = own
                    .into_par_iter()
                    .take(MOST_PLACES)
                    .map(|k| self.tilt(seen, element, &[k], most))
                    .collect();
                Ok(each?.into_iter().flatten().collect())
            })
            .collect::<Result<_>>()?;
        for (k, remedy) in found.into_iter().flatten() {
            places[k].remedies.push(remedy);
        }
        Ok(())
    }

    /// The smallest tilt of an element that drains these places, for each of them; nothing if there is none.
    fn tilt(
        &self,
        places: &[Place],
        element: usize,
        own: &[usize],
        most: f64,
    ) -> Result<Vec<(usize, Remedy)>> {
        let sculpture = &self.work.sculpture;
        let hollows: Vec<&Hollow> = own.iter().map(|&k| &places[k].hollow).collect();
        let Some(mut tilt) = self.outdoors.draining_tilt(most, self.least, &hollows) else {
            return Ok(Vec::new());
        };
        let mut found;
        loop {
            let change = Change::Tilt { element, tilt };
            let left = after(self.work, self.outdoors, &change, self.least)?;
            let motion = motion(sculpture, element, &tilt);
            let here: Vec<f64> = own
                .iter()
                .map(|&k| {
                    let was = &places[k].hollow;
                    let same = |h: &&Hollow| {
                        h.walls.iter().any(|w| was.walls.contains(w))
                            && (h.lowest - motion * was.lowest).norm() < NEIGHBOUR
                    };
                    left.iter().filter(same).map(|h| h.volume).sum()
                })
                .collect();
            let dry = here.iter().all(|v| *v <= 0.0);
            found = (change, here, left.iter().map(|h| h.volume).sum::<f64>());
            if dry || tilt.angle + MORE > most {
                break;
            }
            tilt.angle += MORE;
        }
        let (change, here, everywhere) = found;
        let at = foot(sculpture, element);
        let corners = with_all_on(sculpture, element)
            .into_iter()
            .flat_map(|e| sculpture.elements[e].solid.vertices().collect::<Vec<_>>());
        let far = corners.map(|p| (p - at).norm()).fold(0.0, f64::max);
        let moves = 2.0 * far * (tilt.angle.to_radians() / 2.0).sin();
        let each = own.iter().zip(here);
        Ok(each.map(|(&k, here)| (k, Remedy { change: change.clone(), moves, here, everywhere })).collect())
    }

    fn turns(&self, places: &mut [Place]) -> Result<()> {
        let mut faces: Vec<usize> = Vec::new();
        for place in places.iter() {
            for (f, face) in self.work.faces.iter().enumerate() {
                let slope = face.frame.n.x.hypot(face.frame.n.y);
                let turns = face.frame.n.z > LOOKS_UP
                    && slope > LEVEL
                    && face.profile.depth() > 0.0
                    && face.wander.is_none()
                    && place.hollow.walls.contains(&face.id);
                if turns && !faces.contains(&f) {
                    faces.push(f);
                }
            }
        }
        let turns: Vec<_> = faces
            .into_par_iter()
            .take(MOST_FACES)
            .map(|face| Ok(self.turn(face)?.map(|turn| (face, turn))))
            .collect::<Result<_>>()?;
        for (face, (degrees, everywhere)) in turns.into_iter().flatten() {
            let report = &self.work.faces[face];
            let solid = &self.work.sculpture.elements[report.element].solid;
            let label = report.id.split_once('/').map_or("", |(_, label)| label);
            let polygon = solid.face_index(label).map(|k| solid.faces[k].polygon.clone()).unwrap_or_default();
            let far = polygon.iter().map(|p| (p - report.frame.origin).norm()).fold(0.0, f64::max);
            let moves = 2.0 * far * (degrees.abs().to_radians() / 2.0).sin();
            for place in places.iter_mut().filter(|p| p.hollow.walls.contains(&report.id)) {
                let change = Change::Ribs { face, degrees };
                place.remedies.push(Remedy { change, moves, here: 0.0, everywhere });
            }
        }
        Ok(())
    }

    /// The smallest turn of those tried after which no water stands on a face; with what then stands on the whole work.
    fn turn(&self, face: usize) -> Result<Option<(f64, f64)>> {
        let id = &self.work.faces[face].id;
        let left = |degrees: f64| -> Result<(bool, f64)> {
            let left = after(self.work, self.outdoors, &Change::Ribs { face, degrees }, self.least)?;
            Ok((left.iter().all(|h| !h.walls.contains(id)), left.iter().map(|h| h.volume).sum()))
        };
        let mut before = 0.0;
        for turn in TURNS {
            for way in [1.0, -1.0] {
                let (drained, mut everywhere) = left(way * turn)?;
                if !drained {
                    continue;
                }
                let (mut low, mut high) = (before, turn);
                for _ in 0..HALVINGS {
                    let middle = f64::midpoint(low, high).round();
                    if middle <= low || middle >= high {
                        break;
                    }
                    let (drained, all) = left(way * middle)?;
                    if drained {
                        (high, everywhere) = (middle, all);
                    } else {
                        low = middle;
                    }
                }
                return Ok(Some((way * high, everywhere)));
            }
            before = turn;
        }
        Ok(None)
    }
}
