//! The skirt: thicker sheet round the foot of the lowest side faces, as flat strips before the ribs.
//!
//! Method: each strip's inner face is a plane parallel to its side face, at the outside of the crests plus a gap; it is
//! cut level at the ground and at the skirt's height, and at the planes of the neighbouring strips, so that inner
//! edges touch and leave a groove outside to weld. Everything is exact. A height of 100 mm is common practice,
//! no source.

use crate::drawing::signed_area;
use crate::error::{Error, Result};
use crate::kerf::Ring;
use crate::units::KG_PER_MM3;
use crate::work::Work;
use nalgebra::{Point3, Vector3};

/// How the skirt is made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Height above the ground, mm.
    pub height: f64,
    /// Thickness, mm.
    pub thickness: f64,
    /// Room between the crests and the strip, mm.
    pub gap: f64,
    /// Density, kg/m³.
    pub density: f64,
}

/// An end of a strip.
#[derive(Debug, Clone, PartialEq)]
pub struct End {
    /// The face before which the neighbouring strip stands.
    pub neighbour: String,
    /// Inside angle at the strip's foot, in its own plane, degrees.
    pub mitre: f64,
    /// Angle between the two strips inside the skirt, degrees.
    pub dihedral: f64,
    /// Bevel from square for edges that meet over their whole thickness, degrees: half of what the corner turns.
    pub bevel: f64,
    /// Length of the corner, mm.
    pub length: f64,
}

/// One strip.
#[derive(Debug, Clone, PartialEq)]
pub struct Strip {
    /// The face it stands before.
    pub face: String,
    /// Its inner face as seen from outside, x level, y up the slope, mm.
    pub outline: Ring,
    /// Length of its inner face at the foot and at the head, mm.
    pub lengths: [f64; 2],
    /// The same of its outer face, where edges are bevelled, mm.
    pub outer_lengths: [f64; 2],
    /// Width up the slope, mm.
    pub width: f64,
    /// The left and the right end, seen from outside; none where no neighbour bounds it.
    pub ends: [Option<End>; 2],
    /// Area of its inner face, mm².
    pub area: f64,
    /// Mass, kg.
    pub mass: f64,
    /// Centre of mass, mm.
    pub centre: Point3<f64>,
    /// Left end of its foot, mm.
    pub origin: Point3<f64>,
    /// Unit axes in space: level, up the slope, outward.
    pub axes: [Vector3<f64>; 3],
}

/// A seam of the skirt, for the weld schedule.
#[derive(Debug, Clone, PartialEq)]
pub struct SkirtSeam {
    /// What it joins.
    pub between: [String; 2],
    /// Length, mm.
    pub length: f64,
    /// Angle between the sheets, degrees.
    pub angle: f64,
}

/// Side faces that lean more than this from the vertical, as the upward part of their normal, get no strip.
const FLATTEST: f64 = 0.94;
/// Lengths below this are none, mm.
const NOTHING: f64 = 1.0e-6;
/// How far strips run before neighbours cut them, mm.
const RUN: f64 = 1.0e6;

/// The strips round the elements that stand on the ground, by element and face.
///
/// # Errors
/// A height or thickness that is not above 0, a gap below 0; no side face that stands on the ground.
pub fn strips(work: &Work, elements: &[usize], options: &Options) -> Result<Vec<Strip>> {
    for (name, x) in
        [("height", options.height), ("thickness", options.thickness), ("density", options.density)]
    {
        if !(x > 0.0 && x.is_finite()) {
            return Err(Error::input(format!("the skirt's {name} is {x}, which is not above 0"))
                .remedy(format!("give a {name} above 0")));
        }
    }
    if !(options.gap >= 0.0 && options.gap.is_finite()) {
        return Err(Error::input(format!("the skirt's gap is {} mm, which is below 0", options.gap))
            .remedy("give a gap of 0 or more"));
    }
    let mut all = Vec::new();
    for &e in elements {
        let sides = sides(work, e, options.gap);
        for k in 0..sides.len() {
            all.extend(strip(&sides, k, options));
        }
    }
    if all.is_empty() {
        return Err(Error::input("no side face stands on the ground for a skirt")
            .remedy("leave the skirt out, or cut the lowest element level at z = 0"));
    }
    Ok(all)
}

/// Seams of strips with the base plate, with each other, and with the crests above (for a flat strip the crests
/// only: their share is taken as the whole length, an upper bound).
pub fn seams(strips: &[Strip]) -> Vec<SkirtSeam> {
    let mut all = Vec::new();
    for strip in strips {
        let slope = strip.axes[2].z.clamp(-1.0, 1.0).asin().to_degrees();
        all.push(SkirtSeam {
            between: [strip.face.clone(), "base plate".to_owned()],
            length: strip.lengths[0],
            angle: 90.0 - slope,
        });
        all.push(SkirtSeam {
            between: [strip.face.clone(), "crests at its head".to_owned()],
            length: strip.lengths[1],
            angle: 90.0,
        });
        for end in strip.ends.iter().flatten().filter(|end| strip.face < end.neighbour) {
            all.push(SkirtSeam {
                between: [strip.face.clone(), end.neighbour.clone()],
                length: end.length,
                angle: end.dihedral,
            });
        }
    }
    all
}

/// A side face's strip plane: `n · p = reach` is its inner face.
struct SidePlane {
    face: String,
    n: Vector3<f64>,
    reach: f64,
    /// A point of it at z = 0.
    foot: Point3<f64>,
}

fn sides(work: &Work, e: usize, gap: f64) -> Vec<SidePlane> {
    let element = &work.sculpture.elements[e];
    let mut found = Vec::new();
    for face in &element.solid.faces {
        let on_ground = face.polygon.iter().filter(|p| p.z.abs() < super::STANDS).count();
        if on_ground < 2 || on_ground == face.polygon.len() || face.normal.z.abs() > FLATTEST {
            continue;
        }
        let id = format!("{}/{}", element.name(), face.label);
        let Some(report) = work.faces.iter().find(|r| r.id == id) else { continue };
        let out = report.lift + report.profile.depth() / 2.0 + report.profile.thickness() / 2.0 + gap;
        let point = face.point + face.normal * out;
        let level = Vector3::z().cross(&face.normal).normalize();
        let up = face.normal.cross(&level);
        let foot = point - up * (point.z / up.z);
        found.push(SidePlane { face: id, n: face.normal, reach: face.normal.dot(&point.coords), foot });
    }
    found
}

fn strip(sides: &[SidePlane], k: usize, options: &Options) -> Option<Strip> {
    let side = &sides[k];
    let level = Vector3::z().cross(&side.n).normalize();
    let up = side.n.cross(&level);
    let width = options.height / up.z;
    let inner = cut(sides, k, 0.0, width)?;
    let outer = cut(sides, k, options.thickness, width)?;
    let [left, right] = [inner.left, inner.right];
    let at = |x: f64, y: f64| side.foot + level * x + up * y;
    let origin = at(left.0[0], 0.0);
    let outline = vec![
        [0.0, 0.0],
        [right.0[0] - left.0[0], 0.0],
        [right.0[1] - left.0[0], width],
        [left.0[1] - left.0[0], width],
    ];
    let end = |(x, by): ([f64; 2], Option<usize>), sign: f64| {
        by.map(|g| {
            // Positive where the strip widens upward.
            let spread = (x[1] - x[0]) * sign;
            let turn = side.n.cross(&sides[g].n).norm().atan2(side.n.dot(&sides[g].n)).to_degrees();
            End {
                neighbour: sides[g].face.clone(),
                mitre: 90.0 + spread.atan2(width).to_degrees(),
                dihedral: 180.0 - turn,
                bevel: turn / 2.0,
                length: spread.hypot(width),
            }
        })
    };
    let area = signed_area(&outline);
    let [x, y] = crate::plates::centroid(std::slice::from_ref(&outline));
    Some(Strip {
        face: side.face.clone(),
        lengths: inner.lengths(),
        outer_lengths: outer.lengths(),
        width,
        ends: [end(left, -1.0), end(right, 1.0)],
        mass: area * options.thickness * options.density * KG_PER_MM3,
        area,
        centre: origin + level * x + up * y + side.n * (options.thickness / 2.0),
        outline,
        origin,
        axes: [level, up, side.n],
    })
}

/// Where a strip ends: x at the foot and at the head, and the side that cuts it there.
struct Cut {
    left: ([f64; 2], Option<usize>),
    right: ([f64; 2], Option<usize>),
}

impl Cut {
    fn lengths(&self) -> [f64; 2] {
        [0, 1].map(|i| self.right.0[i] - self.left.0[i])
    }
}

/// Ends of the face of a strip `out` mm outside its inner one, all strips grown alike. The neighbour that cuts
/// deepest at half height bounds each end over its whole height.
fn cut(sides: &[SidePlane], k: usize, out: f64, width: f64) -> Option<Cut> {
    let side = &sides[k];
    let level = Vector3::z().cross(&side.n).normalize();
    let up = side.n.cross(&level);
    let foot = side.foot + side.n * out;
    // Back to the ground in the plane of this face.
    let foot = foot - up * (foot.z / up.z);
    let mut found = Cut { left: ([-RUN; 2], None), right: ([RUN; 2], None) };
    for (g, other) in sides.iter().enumerate().filter(|(g, _)| *g != k) {
        let slope = other.n.dot(&level);
        let x = |y: f64| (other.reach + out - other.n.dot(&(foot + up * y).coords)) / slope;
        let middle = |x: [f64; 2]| f64::midpoint(x[0], x[1]);
        let ends = [x(0.0), x(width)];
        if slope > NOTHING && middle(ends) < middle(found.right.0) {
            found.right = (ends, Some(g));
        } else if slope < -NOTHING && middle(ends) > middle(found.left.0) {
            found.left = (ends, Some(g));
        }
    }
    let shown = found.left.1.is_some() && found.right.1.is_some();
    (shown && found.lengths().iter().all(|l| *l > NOTHING)).then_some(found)
}
