//! The smallest box round a piece, and what that box passes through.
//!
//! Method: a box of least volume has two neighbouring sides flush with edges of the hull (J. O'Rourke, "Finding
//! minimal enclosing boxes", 1985). Tried are all boxes with a side flush with a facet of the hull or level, each with
//! the least rectangle round the piece as seen square to it (one side flush with an edge: Freeman and Shapira, 1975).
//! A box flush with edges only may be a little smaller; for pieces with flat sides it is rarely.

use crate::element::hull::{MOST_POINTS, hull};
use crate::error::{Error, Result};
use crate::polygon;
use nalgebra::{Point3, Rotation3, Vector3};

/// A box round a piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OrientedBox {
    /// Length, width and height as it stands on its vehicle, mm: height is along the third axis.
    pub size: [f64; 3],
    /// Unit axes: along length, width and height, right-handed, in the position in which the points were given.
    pub axes: [Vector3<f64>; 3],
    /// Its middle, mm.
    pub middle: Point3<f64>,
}

impl OrientedBox {
    /// Volume, mm³.
    pub fn volume(&self) -> f64 {
        self.size.iter().product()
    }

    /// What turns the piece from the position in which it was given to that in which it is carried.
    pub fn turn(&self) -> Rotation3<f64> {
        Rotation3::from_basis_unchecked(&self.axes).inverse()
    }
}

/// An opening or a load space.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Passage {
    /// Width and height, mm.
    pub opening: [f64; 2],
    /// Length, mm; none for a doorway.
    pub length: Option<f64>,
}

impl Passage {
    /// Checks that it is one.
    ///
    /// # Errors
    /// A size that is not above 0.
    pub fn check(&self, name: &str) -> Result<()> {
        for x in self.opening.into_iter().chain(self.length) {
            if !(x > 0.0 && x.is_finite()) {
                return Err(Error::input(format!("a {name} of {x} mm lets nothing through"))
                    .remedy("give its clear width and height in mm, both above 0"));
            }
        }
        Ok(())
    }

    /// Whether a box goes through with its height upright, either way round in plan; without that, lying in any
    /// way along its own axes.
    pub fn takes(&self, size: [f64; 3], upright: bool) -> bool {
        let [x, y, z] = size;
        let ways: &[[f64; 3]] = if upright {
            &[[x, y, z], [y, x, z]]
        } else {
            &[[x, y, z], [y, x, z], [x, z, y], [z, x, y], [y, z, x], [z, y, x]]
        };
        ways.iter().any(|[l, w, h]| {
            *w <= self.opening[0] && *h <= self.opening[1] && self.length.is_none_or(|most| *l <= most)
        })
    }
}

/// Directions nearer to each other than this are one.
const SAME: f64 = 1.0e-9;

/// The box of least volume of those tried.
///
/// # Errors
/// Points that span no body.
pub fn least_box(points: &[Point3<f64>]) -> Result<OrientedBox> {
    let all = boxes(points)?;
    all.into_iter()
        .reduce(|a, b| if b.volume() < a.volume() * (1.0 - SAME) { b } else { a })
        .ok_or_else(|| Error::bug("no box was tried"))
}

/// All boxes tried, the upright one first.
///
/// # Errors
/// Points that span no body.
pub fn boxes(points: &[Point3<f64>]) -> Result<Vec<OrientedBox>> {
    Ok(directions(points)?.into_iter().filter_map(|d| along(points, d)).collect())
}

/// What may be up: the upright, and the normals of the hull's facets.
fn directions(points: &[Point3<f64>]) -> Result<Vec<Vector3<f64>>> {
    let mut directions = vec![Vector3::z()];
    if points.len() <= MOST_POINTS {
        let solid = hull("piece", points, None)?;
        for face in &solid.faces {
            if directions.iter().all(|d| d.cross(&face.normal).norm() > SAME) {
                directions.push(face.normal);
            }
        }
    }
    Ok(directions)
}

/// Every box of those tried, of all turns about each upright.
///
/// # Errors
/// Points that span no body.
pub fn all_boxes(points: &[Point3<f64>]) -> Result<Vec<OrientedBox>> {
    Ok(directions(points)?.into_iter().flat_map(|d| turned(points, d)).collect())
}

/// The least box with its height along a direction; it lies with its longer side along.
fn along(points: &[Point3<f64>], up: Vector3<f64>) -> Option<OrientedBox> {
    turned(points, up).into_iter().reduce(|a, b| if b.volume() < a.volume() * (1.0 - SAME) { b } else { a })
}

/// The boxes with their height along a direction, one for each edge of the outline seen along it.
fn turned(points: &[Point3<f64>], up: Vector3<f64>) -> Vec<OrientedBox> {
    let Some(&first) = points.first() else { return Vec::new() };
    let helper = if up.x.abs() < 0.5 { Vector3::x() } else { Vector3::y() };
    let e1 = helper.cross(&up).normalize();
    let e2 = up.cross(&e1);
    let range = |axis: &Vector3<f64>| {
        points
            .iter()
            .map(|p| (p - first).dot(axis))
            .fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], x| [l.min(x), h.max(x)])
    };
    let ring = polygon::hull(points.iter().map(|p| [(p - first).dot(&e1), (p - first).dot(&e2)]).collect());
    let heights = range(&up);
    let mut found = Vec::with_capacity(ring.len());
    for (i, a) in ring.iter().enumerate() {
        let b = ring[(i + 1) % ring.len()];
        let Some(run) = (e1 * (b[0] - a[0]) + e2 * (b[1] - a[1])).try_normalize(f64::MIN_POSITIVE) else {
            continue;
        };
        let across = up.cross(&run);
        let (l, w) = (range(&run), range(&across));
        let (mut size, mut axes) = ([l[1] - l[0], w[1] - w[0], heights[1] - heights[0]], [run, across, up]);
        if size[1] > size[0] {
            size.swap(0, 1);
            axes = [across, -run, up];
        }
        let middle = [(run, l), (across, w), (up, heights)];
        let middle = middle.iter().fold(first, |p, (axis, r)| p + axis * f64::midpoint(r[0], r[1]));
        found.push(OrientedBox { size, axes, middle });
    }
    found
}
