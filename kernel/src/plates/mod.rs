//! Inside plates (diaphragms): flat plates across an element, cut to the inside of its sheets, with a hole for
//! the tube that passes and lugs to hold it.
//!
//! Method: what the inside skins of the element's faces leave free over the thickness of the plate
//! (`level.rs`, exact), less the shadow of every part that reaches into that band (closure strips, sheets kept
//! whole), moved inward by the clearance (`kerf/`). A plate is cut square, so both its faces and all between
//! them keep the clearance.
//!
//! **Bound.** No point of a plate is nearer to any sheet than the clearance, and none of its edge is further than
//! [`ARC`] beyond the clearance from what bounds the free space. Preliminary: how thick a plate must be, and how it
//! is welded, is for a licensed engineer.

mod hole;
mod level;
mod lug;

pub use hole::Hole;
pub use level::PlateLevel;
pub use lug::{Lug, lugs};

use crate::assembly::{Assembly, Surface};
use crate::clash::Sliced;
use crate::drawing::{Path, signed_area};
use crate::element::Solid;
use crate::error::{Error, Result};
use crate::kerf::{Corner, Ring, offset};
use crate::level::Levels;
use crate::part::Part;
use crate::polygon::holds;
use crate::region::{Combine, Outline, Region};
use crate::units::KG_PER_MM3;
use crate::work::Work;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// How far tangents about a corner may leave its arc, mm: finer than any cut.
pub const ARC: f64 = 0.02;
/// Lengths within this of each other, mm, are one.
const ROUNDING: f64 = 1.0e-6;
/// Corners of a drain's circle.
const NOTCH_CORNERS: u32 = 32;

/// A straight leg of a round tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tube {
    /// Its axis, from below upward, mm.
    pub axis: [Point3<f64>; 2],
    /// Outside diameter, mm.
    pub diameter: f64,
}

/// Where water is let through.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Drains {
    /// Nowhere.
    None,
    /// Where two faces meet.
    Corners,
    /// In every crest, where water runs down inside, and where two faces meet.
    Crests,
}

/// How plates are made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Thickness, mm.
    pub thickness: f64,
    /// Least distance from every sheet, mm.
    pub clearance: f64,
    /// Radial room round the tube, mm.
    pub hole_clearance: f64,
    /// Where water is let through.
    pub drains: Drains,
    /// Radius of drain notches, mm.
    pub drain_radius: f64,
    /// Least width of plate between the hole and the edge, mm.
    pub least_width: f64,
    /// Density, kg/m³.
    pub density: f64,
}

/// A plate in its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Plate {
    /// Index of its element.
    pub element: usize,
    /// What its outlines count from: x, y, and the height of its underside, mm.
    pub origin: Point3<f64>,
    /// Thickness, mm.
    pub thickness: f64,
    /// Outer outline counter-clockwise, then holes clockwise, mm about the origin. Notches are cut out.
    pub outlines: Vec<Ring>,
    /// The outer outline before notches were cut, mm about the origin.
    pub whole: Ring,
    /// The hole for the tube.
    pub hole: Option<Hole>,
    /// How many drain notches there are.
    pub notches: usize,
    /// Area of one side, mm².
    pub area: f64,
    /// Mass, kg.
    pub mass: f64,
}

impl Plate {
    /// Length of all its cuts, mm.
    pub fn cut_length(&self) -> f64 {
        let length = |o: &Ring| Path::closed(crate::drawing::Layer::Cut, o.clone()).length();
        self.outlines.iter().map(length).sum()
    }

    /// Its centre of mass, mm.
    pub fn centre(&self) -> Point3<f64> {
        let [x, y] = centroid(&self.outlines);
        self.origin + Vector3::new(x, y, self.thickness / 2.0)
    }
}

/// A work ready to have plates cut for it.
pub struct Cutter<'a> {
    work: &'a Work,
    inside: Levels,
    /// Between which heights each part lies.
    heights: Vec<[f64; 2]>,
}

impl<'a> Cutter<'a> {
    /// Prepares a work: once for all its plates.
    ///
    /// # Errors
    /// A work that cannot be assembled.
    pub fn new(work: &'a Work) -> Result<Self> {
        let assembly = Assembly::new(&work.sculpture)?;
        let inside = Levels::new(assembly, Surface::Inside);
        let heights = work.parts.iter().map(heights).collect();
        Ok(Self { work, inside, heights })
    }

    /// The plate of an element with its underside at z, round a tube if there is one.
    ///
    /// # Errors
    /// A thickness, radius or diameter that is not above 0, or a clearance below 0; a level at which the element
    /// has no room; a tube that does not pass the level, or that leaves less than the least width.
    pub fn plate(&self, element: usize, z: f64, tube: Option<&Tube>, options: &Options) -> Result<Plate> {
        options.check()?;
        let solid =
            &self.work.sculpture.elements.get(element).ok_or_else(|| Error::bug("no such element"))?.solid;
        let place = |e: Error| e.at(solid.name.as_str());
        let extent = solid.bounding_box();
        let band = [z, z + options.thickness];
        let out_of = || {
            Error::input(format!("there is no room for a plate at a height of {z:.0} mm"))
                .remedy(format!(
                    "choose a height between {:.0} and {:.0} mm, well inside the element",
                    extent[0].z, extent[1].z
                ))
                .at(solid.name.as_str())
        };
        if !(band[0] > extent[0].z && band[1] < extent[1].z) {
            return Err(out_of());
        }
        let centre = self.inside.assembly.centre;
        let origin = Point3::new(centre.x, centre.y, z);
        let mut free = self.inside.free(element, band, extent, |_| true);
        let mut shadow = Region::default();
        let parts = self.work.parts.par_iter().zip(&self.heights);
        let cast: Vec<Vec<Ring>> = parts
            .filter(|(_, z)| z[0] <= band[1] && z[1] >= band[0])
            .map(|(part, _)| Sliced::new(part).shadow(band, &origin))
            .collect();
        shadow.outlines.extend(cast.into_iter().flatten().map(|o| Outline::tagged(o, None)));
        if !shadow.outlines.is_empty() {
            free = free.combine(Combine::Subtract, &shadow);
        }
        let rings: Vec<Ring> = free.outlines.into_iter().map(|o| o.points).collect();
        let moved = offset(&rings, -options.clearance, Corner::Round { tolerance: ARC })?;
        let hole = tube.map(|t| Hole::of(t, origin, options)).transpose().map_err(place)?;
        let mut outlines = match &hole {
            Some(hole) => around(&moved.outlines, hole.centre),
            None => largest(&moved.outlines),
        };
        let Some(whole) = outlines.first().cloned() else {
            return Err(match &hole {
                Some(hole) => Error::input(format!(
                    "the tube's axis passes outside the room for a plate at a height of {z:.0} mm (at x {:.0}, y {:.0})",
                    hole.centre[0] + origin.x,
                    hole.centre[1] + origin.y
                ))
                .remedy("move the tube, or choose another height")
                .at(solid.name.as_str()),
                None => out_of(),
            });
        };
        if let Some(hole) = &hole {
            let room = hole.room(&outlines);
            if room < options.least_width {
                return Err(Error::input(format!(
                    "a tube of {:.1} mm is too wide for this plate: {:.1} mm of plate would be left beside its hole, \
                     and {} mm are asked for",
                    hole.diameter,
                    room.max(0.0),
                    options.least_width
                ))
                .remedy("use a narrower tube, move it inward, or choose another height")
                .at(solid.name.as_str()));
            }
        }
        let notches = self.notches(element, solid, z + options.thickness, origin, &whole, options);
        let notches: Vec<Ring> = notches
            .into_iter()
            .filter(|at| {
                hole.as_ref().is_none_or(|h| h.distance(*at) > options.drain_radius + options.least_width)
            })
            .map(|at| circle(at, options.drain_radius))
            .collect();
        let count = notches.len();
        if count > 0 {
            outlines = notched(&outlines, notches, &whole);
        }
        if let Some(hole) = &hole {
            outlines.push(hole.outline());
        }
        let area: f64 = outlines.iter().map(|o| signed_area(o)).sum();
        Ok(Plate {
            element,
            origin,
            thickness: options.thickness,
            mass: area * options.thickness * options.density * KG_PER_MM3,
            area,
            outlines,
            whole,
            hole,
            notches: count,
        })
    }

    /// Places on the edge where water gathers: nearest to where two faces meet, and to the crests.
    fn notches(
        &self,
        element: usize,
        solid: &Solid,
        z: f64,
        origin: Point3<f64>,
        edge: &Ring,
        options: &Options,
    ) -> Vec<[f64; 2]> {
        let mut wanted: Vec<[f64; 2]> = Vec::new();
        if options.drains == Drains::None {
            return wanted;
        }
        for solid_edge in solid.edges() {
            let [a, b] = solid_edge.ends;
            if (a.z < z) != (b.z < z) {
                let p = a + (b - a) * ((z - a.z) / (b.z - a.z));
                wanted.push([p.x - origin.x, p.y - origin.y]);
            }
        }
        let mut reach = 0.0_f64;
        let range = self.inside.assembly.elements[element].clone();
        for face in &self.inside.assembly.faces[range] {
            reach = reach.max(face.profile.depth() + face.profile.thickness());
            let f = &face.frame;
            if options.drains != Drains::Crests || face.open || f.u.z.abs() < LEAST_RISE {
                continue;
            }
            let lift = face.lift + face.profile.depth() / 2.0;
            let pitch = face.profile.pitch();
            let size = self.inside.assembly.size;
            let mut t = face.phase - (size / pitch).floor() * pitch;
            while t < size {
                let foot = f.origin + f.v * t + f.n * lift;
                let p = foot + f.u * ((z - foot.z) / f.u.z);
                wanted.push([p.x - origin.x, p.y - origin.y]);
                t += pitch;
            }
        }
        let reach = NEAR * (reach + options.clearance);
        let mut found: Vec<[f64; 2]> = Vec::new();
        for at in wanted {
            let Some((on, distance)) = nearest(edge, at) else { continue };
            let apart = |q: &[f64; 2]| (q[0] - on[0]).hypot(q[1] - on[1]) > 2.0 * options.drain_radius;
            if distance < reach && found.iter().all(apart) {
                found.push(on);
            }
        }
        found
    }
}

/// Ribs that rise less than this per mm drain nowhere.
const LEAST_RISE: f64 = 0.05;
/// A place where water gathers is looked for on the edge within so many depths of the sheet.
const NEAR: f64 = 2.5;

impl Options {
    fn check(&self) -> Result<()> {
        let above =
            [("thickness", self.thickness), ("drain radius", self.drain_radius), ("density", self.density)];
        let not_below = [
            ("clearance", self.clearance),
            ("hole clearance", self.hole_clearance),
            ("least width", self.least_width),
        ];
        let wrong = |name: &str, x: f64, bound: &str| {
            Error::input(format!("the plate's {name} is {x}, which is not {bound} 0"))
                .remedy(format!("give a {name} {bound} 0"))
        };
        for (name, x) in above {
            if !(x > 0.0 && x.is_finite()) {
                return Err(wrong(name, x, "above"));
            }
        }
        for (name, x) in not_below {
            if !(x >= 0.0 && x.is_finite()) {
                return Err(wrong(name, x, "at least"));
            }
        }
        Ok(())
    }
}

/// Steel of a part may lie this far above or below its outline, beside its thickness: folds of surveyed sheet are not
/// quite straight, mm.
const STRAYS: f64 = 20.0;

/// Between which heights a part lies: ribs run straight from edge to edge, so its outline tells.
fn heights(part: &Part) -> [f64; 2] {
    let beside = STRAYS + part.thickness();
    let z = part.outlines.iter().flatten().map(|p| part.position(*p, 0.0).z);
    let [low, high] = z.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], z| [low.min(z), high.max(z)]);
    [low - beside, high + beside]
}

/// The outer outline that holds a point, with its holes; nothing if the point lies in none, or in a hole.
fn around(rings: &[Ring], at: [f64; 2]) -> Vec<Ring> {
    pieces(rings)
        .into_iter()
        .find(|piece| holds(&piece[0], at) && !piece[1..].iter().any(|h| holds(h, at)))
        .unwrap_or_default()
}

fn largest(rings: &[Ring]) -> Vec<Ring> {
    pieces(rings)
        .into_iter()
        .max_by(|a, b| signed_area(&a[0]).total_cmp(&signed_area(&b[0])))
        .unwrap_or_default()
}

/// Outer outlines, each with its holes.
fn pieces(rings: &[Ring]) -> Vec<Vec<Ring>> {
    let mut pieces: Vec<Vec<Ring>> = Vec::new();
    for ring in rings {
        // `offset` gives each outer outline before its holes.
        match pieces.last_mut() {
            Some(last) if signed_area(ring) < 0.0 => last.push(ring.clone()),
            _ => pieces.push(vec![ring.clone()]),
        }
    }
    pieces
}

fn circle(at: [f64; 2], radius: f64) -> Ring {
    let step = std::f64::consts::TAU / f64::from(NOTCH_CORNERS);
    (0..NOTCH_CORNERS)
        .map(|k| {
            let (s, c) = (f64::from(k) * step).sin_cos();
            [at[0] + radius * c, at[1] + radius * s]
        })
        .collect()
}

/// Outlines with notches cut out; what that cuts off altogether falls away.
fn notched(outlines: &[Ring], notches: Vec<Ring>, whole: &Ring) -> Vec<Ring> {
    let region = |rings: &[Ring]| Region {
        outlines: rings.iter().map(|r| Outline::tagged(r.clone(), None)).collect(),
    };
    let cut = region(outlines).combine(Combine::Subtract, &region(&notches));
    let Some(first) = cut.pieces().into_iter().next() else { return vec![whole.clone()] };
    first.outlines.into_iter().map(|o| o.points).collect()
}

/// The nearest point of an outline, and how far it is.
fn nearest(ring: &[[f64; 2]], at: [f64; 2]) -> Option<([f64; 2], f64)> {
    (0..ring.len())
        .map(|i| {
            let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
            let run = [b[0] - a[0], b[1] - a[1]];
            let square = (run[0] * run[0] + run[1] * run[1]).max(f64::MIN_POSITIVE);
            let share = (((at[0] - a[0]) * run[0] + (at[1] - a[1]) * run[1]) / square).clamp(0.0, 1.0);
            let p = [a[0] + run[0] * share, a[1] + run[1] * share];
            (p, (p[0] - at[0]).hypot(p[1] - at[1]))
        })
        .min_by(|a, b| a.1.total_cmp(&b.1))
}

/// Centroid of outlines with holes.
pub(crate) fn centroid(rings: &[Ring]) -> [f64; 2] {
    let Some(o) = rings.first().and_then(|r| r.first()).copied() else { return [0.0; 2] };
    let (mut area, mut moment) = (0.0, [0.0; 2]);
    for ring in rings {
        for i in 0..ring.len() {
            let [a, b] = [ring[i], ring[(i + 1) % ring.len()]].map(|p| [p[0] - o[0], p[1] - o[1]]);
            let cross = a[0] * b[1] - b[0] * a[1];
            area += cross / 2.0;
            moment[0] += cross * (a[0] + b[0]) / 6.0;
            moment[1] += cross * (a[1] + b[1]) / 6.0;
        }
    }
    if area == 0.0 { o } else { [o[0] + moment[0] / area, o[1] + moment[1] / area] }
}

#[cfg(test)]
mod tests;
