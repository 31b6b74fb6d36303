//! Chambers and openings: which elements the spine goes up through, and where these are open to each other.
//!
//! The chambers are the elements. The opening between an element and the one stacked on it lies in the plane of the
//! face that is stood on: what the sides of both elements leave of it, each side moved outward by as far as its sheet
//! reaches. So the outline is never tighter than the opening that is built; how much of it is really free is for the
//! sheets to say (`room.rs`). A face that is kept whole, or that closes the foot, has no opening: there a hole is cut.

use crate::error::{Error, Result};
use crate::polygon::cut;
use crate::spine::Gate;
use crate::work::{FaceReport, Work};
use nalgebra::{Point3, Vector3};

/// A foot is level, and stands on the ground, within this, mm.
pub(super) const STANDS: f64 = 1.0;
/// Two faces look the same way within this (1 less the cosine).
const SAME_WAY: f64 = 1.0e-9;
/// The top of the last element must rise at least so much (upward part of its normal) to be ended under.
const LEAST_RISE: f64 = 0.2;
/// Corners of an outline nearer than this are one, mm.
const ONE_CORNER: f64 = 0.01;
/// Half the side of the square an outline is cut from, in sizes of the work.
const SQUARE: f64 = 4.0;

/// Where the spine passes from one element into the one on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Opening {
    /// The elements below and above.
    pub between: [usize; 2],
    /// The face that is stood on (index into `Work::faces`).
    pub face: usize,
    /// Its outline, in the plane of the face, mm.
    pub gate: Gate,
    /// Whether the sheet is there and must be cut.
    pub closed: bool,
}

/// The way up.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Way {
    /// From the ground up.
    pub(super) elements: Vec<usize>,
    /// Between them.
    pub(super) openings: Vec<Opening>,
    /// The face at the foot of the lowest (index into `Work::faces`).
    pub(super) foot: usize,
    /// Whether there is sheet in it.
    pub(super) foot_closed: bool,
    /// Where the spine may start.
    pub(super) start: Gate,
}

/// Index of the first face of an element among the faces of the work.
fn first_face(work: &Work, element: usize) -> usize {
    work.sculpture.elements[..element].iter().map(|e| e.solid.faces.len()).sum()
}

/// How far a face's sheet reaches out of its plane, and how far in, mm.
fn reach(face: &FaceReport) -> [f64; 2] {
    let half = face.profile.depth() / 2.0;
    [face.lift + half, half + face.profile.thickness() / 2.0 - face.lift]
}

fn centre(work: &Work) -> Point3<f64> {
    work.mesh.bounds().map_or_else(Point3::origin, |[lo, hi]| nalgebra::center(&lo, &hi))
}

/// What elements leave of a plane, without some of their faces; the plane is given by a point and its unit normal, and
/// every side is moved outward by as far as its sheet reaches.
fn section(
    work: &Work,
    at: Point3<f64>,
    normal: Vector3<f64>,
    elements: &[usize],
    without: &[usize],
) -> Vec<Point3<f64>> {
    let size = work.mesh.bounds().map_or(1.0, |[lo, hi]| (hi - lo).norm()) * SQUARE;
    let level = if normal.x.abs() < normal.y.abs() { Vector3::x() } else { Vector3::y() };
    let u = normal.cross(&level).normalize();
    let v = normal.cross(&u);
    let middle = centre(work);
    let middle = middle - normal * normal.dot(&(middle - at));
    let mut outline: Vec<Point3<f64>> = [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]]
        .map(|[x, y]| middle + (u * x + v * y) * size)
        .to_vec();
    for &e in elements {
        let first = first_face(work, e);
        for (k, face) in work.sculpture.elements[e].solid.faces.iter().enumerate() {
            if without.contains(&(first + k)) || face.polygon.is_empty() {
                continue;
            }
            let [out, _] = reach(&work.faces[first + k]);
            outline = cut(&outline, |p| face.normal.dot(&(p - face.point)) - out);
        }
    }
    let mut kept: Vec<Point3<f64>> = Vec::with_capacity(outline.len());
    for p in outline {
        if kept.last().is_none_or(|q| (p - q).norm() > ONE_CORNER) {
            kept.push(p);
        }
    }
    while kept.len() > 1 && (kept[0] - kept[kept.len() - 1]).norm() <= ONE_CORNER {
        kept.pop();
    }
    kept
}

impl Way {
    /// The way from the ground up to an element; to the one that reaches highest unless one is named.
    ///
    /// # Errors
    /// An element of which nothing says what it stands on, a foot that is no level face, two elements that do not open
    /// into each other.
    pub(super) fn new(work: &Work, end: Option<usize>) -> Result<Self> {
        let sculpture = &work.sculpture;
        let name = |e: usize| sculpture.elements[e].solid.name.as_str();
        let top = |e: usize| sculpture.elements[e].solid.bounding_box()[1].z;
        let highest = (0..sculpture.elements.len()).reduce(|a, b| if top(b) > top(a) { b } else { a });
        let Some(end) = end.or(highest) else { return Err(Error::bug("a work without elements")) };
        let mut elements = vec![end];
        let mut rests = Vec::new();
        while let Some(rest) = sculpture.rests.iter().find(|r| Some(&r.element) == elements.last()) {
            elements.push(rest.on);
            rests.push(*rest);
        }
        elements.reverse();
        rests.reverse();
        let root = elements[0];
        let lowest = sculpture.elements.iter().map(|e| e.solid.lowest_z()).fold(f64::INFINITY, f64::min);
        let solid = &sculpture.elements[root].solid;
        if solid.lowest_z() > lowest + STANDS {
            return Err(Error::input(
                "nothing says what this element stands on, so the spine has no way into it",
            )
            .at(name(root))
            .remedy("place it with .stack(element, #{ on: … }), or end the spine in another element"));
        }
        let first = first_face(work, root);
        let level = |f: &&usize| solid.faces[**f].polygon.iter().all(|p| p.z <= solid.lowest_z() + STANDS);
        let foot = (0..solid.faces.len()).collect::<Vec<_>>();
        let foot = foot.iter().filter(|f| !solid.faces[**f].polygon.is_empty()).find(level);
        let Some(&foot) = foot else {
            return Err(Error::input("has no level face at its foot for the spine to start on")
                .at(name(root))
                .remedy("cut its foot level: give the lowest element a face on the ground"));
        };
        let at = Point3::new(solid.faces[foot].point.x, solid.faces[foot].point.y, solid.lowest_z());
        let outline = section(work, at, Vector3::z(), &[root], &[first + foot]);
        let start = Gate::new("the start", outline).map_err(|_| {
            Error::input("there is no room inside its foot for a spine to start").at(name(root))
        })?;
        let mut openings = Vec::new();
        for rest in &rests {
            let below = &sculpture.elements[rest.on].solid;
            let same = |f: &&usize| {
                let face = &below.faces[**f];
                !face.polygon.is_empty() && face.normal.dot(&rest.normal) > 1.0 - SAME_WAY
            };
            let all: Vec<usize> = (0..below.faces.len()).collect();
            let Some(&face) = all.iter().find(same) else {
                return Err(Error::bug("the face an element stands on is not there").at(name(rest.element)));
            };
            let plane = &below.faces[face];
            let face = first_face(work, rest.on) + face;
            let outline = section(work, plane.point, plane.normal, &[rest.on, rest.element], &[face]);
            let id = work.faces[face].id.as_str();
            let gate = Gate::new(id, outline).map_err(|_| {
                Error::input(format!(
                    "{} and {} do not open into each other here",
                    name(rest.on),
                    name(rest.element)
                ))
                .at(id)
                .remedy("sink the upper one deeper into the face, or shift it so that both share room")
            })?;
            let closed = sculpture.kept_whole.iter().any(|k| k == id);
            openings.push(Opening { between: [rest.on, rest.element], face, gate, closed });
        }
        let foot_closed = sculpture.elements[root].cladding[foot].open.is_none();
        Ok(Self { elements, openings, foot: first + foot, foot_closed, start })
    }

    /// Faces that are cut where the spine passes, so that they are not in its way.
    pub(super) fn cut_faces(&self) -> Vec<usize> {
        let closed = self.openings.iter().filter(|o| o.closed).map(|o| o.face);
        closed.chain([self.foot]).collect()
    }

    /// Where the spine may end: level at a height, or under the top of the last element, `below` mm under its sheet.
    ///
    /// # Errors
    /// No room there, or a last element without a top.
    pub(super) fn end(&self, work: &Work, height: Option<f64>, below: f64) -> Result<Gate> {
        let last = self.elements[self.elements.len() - 1];
        let solid = &work.sculpture.elements[last].solid;
        let first = first_face(work, last);
        let none = |what: String| {
            Error::input(what)
                .at(solid.name.as_str())
                .remedy("give end_height: a height over the ground at which this element has room")
        };
        let (at, normal, without) = match height {
            Some(z) => (Point3::new(0.0, 0.0, z), Vector3::z(), Vec::new()),
            None => {
                let faces = solid.faces.iter().enumerate().filter(|(_, f)| !f.polygon.is_empty());
                let top = faces.reduce(|a, b| if b.1.normal.z > a.1.normal.z { b } else { a });
                let Some((k, top)) = top.filter(|t| t.1.normal.z > LEAST_RISE) else {
                    return Err(none("has no top that the spine could end under".to_owned()));
                };
                let [_, inward] = reach(&work.faces[first + k]);
                (top.point - top.normal * (inward + below), top.normal, vec![first + k])
            }
        };
        let outline = section(work, at, normal, &[last], &without);
        Gate::new("the end", outline).map_err(|_| match height {
            Some(z) => none(format!("has no room at a height of {z} mm for the spine to end")),
            None => none("is not high enough for the spine to end under its top".to_owned()),
        })
    }
}
