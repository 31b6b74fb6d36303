//! Solids from named planes: the intersection of their half-spaces.
//!
//! Method: each plane starts as a square larger than the solid and is clipped by all others (Sutherland and
//! Hodgman, "Reentrant polygon clipping", 1974). A first pass with a huge square finds where the solid is
//! and how large; a second one about its middle is exact to rounding at that size, so that a solid 10 km
//! away is as good as one at the origin. Corners of different faces are then welded. Units: mm.
//! Cost O(planes²) for the faces and O(planes³) at most for the proof that the solid is bounded.

use super::solid::{Solid, SolidFace};
use crate::error::{Error, Result};
use crate::settings::LARGEST_NUMBER;
use nalgebra::{Point3, Vector3};
use std::collections::BTreeSet;

/// Corners nearer than this share of the solid's size are one corner: 0.02 micrometres per metre. Where two
/// planes turn by only [`COINCIDENT`], corners are good to about a fifth of it; elsewhere to 1e-14.
const WELD: f64 = 2.0e-8;

/// Two faces that turn by less than this (radians), and lie nearer than this share of the solid's size to
/// each other, are one plane: a micrometre per metre. Their common edge could not be placed.
const COINCIDENT: f64 = 1.0e-6;

/// A plane that leaves a face narrower than this share of the solid's size is taken to cut nothing: it
/// touches an edge or a corner. Well above [`WELD`], so that no face that stays is welded shut.
const NARROWEST: f64 = 1.0e-6;

/// Directions nearer than this (radians) are parallel.
const PARALLEL: f64 = 1.0e-9;

/// How far from a plane, as a share of the square, a corner still counts as lying on it when clipping.
const ON_PLANE: f64 = 1.0e-15;

/// What the rough pass is good to, as a share of its square: smaller solids need another start.
const ROUGH: f64 = 1.0e-13;

/// Volume, as a share of the cube of the size, below which nothing is left between the planes.
const NOTHING: f64 = 1.0e-10;

/// Longest name or label; file names are made of them.
const LONGEST_LABEL: usize = 60;

/// A plane about a local origin: n·x ≤ reach.
#[derive(Clone, Copy)]
struct Half {
    normal: Vector3<f64>,
    reach: f64,
}

impl Solid {
    /// The convex solid of all points behind the given planes, each with its label, a point and the
    /// outward normal (of any length).
    ///
    /// A plane that cuts nothing (or less than a millionth of the size) is kept with an empty polygon.
    ///
    /// # Errors
    /// Fewer than four planes; a bad or repeated label; a number that is not usable; a normal of no length;
    /// two faces of one plane; planes that leave the solid open in some direction or leave nothing.
    pub fn from_planes(name: &str, faces: Vec<(String, Point3<f64>, Vector3<f64>)>) -> Result<Self> {
        check_label("element name", name)?;
        build(name, faces).map_err(|e| e.at(name))
    }
}

/// Most accents and other marks on one letter of a name: more run into the lines above and below.
const MOST_MARKS: usize = 3;

/// Whether a character shows nothing, or turns the writing round it about: joiners, direction marks, variation selectors,
/// tags and separators (Unicode, general categories Cf, Zl and Zp, and default ignorable code points; from memory).
pub fn is_unseen(c: char) -> bool {
    matches!(c,
        '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}' | '\u{1160}' | '\u{17b4}' | '\u{17b5}' | '\u{180b}'..='\u{180f}'
        | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{3164}'
        | '\u{fe00}'..='\u{fe0f}' | '\u{feff}' | '\u{ffa0}' | '\u{fff0}'..='\u{fffb}'
        | '\u{1d173}'..='\u{1d17a}' | '\u{e0000}'..='\u{e0fff}')
}

/// Most combining marks in a row.
fn most_marks(label: &str) -> usize {
    let is_mark = |c: char| {
        matches!(c, '\u{300}'..='\u{36f}' | '\u{483}'..='\u{489}' | '\u{1ab0}'..='\u{1aff}'
            | '\u{1dc0}'..='\u{1dff}' | '\u{20d0}'..='\u{20ff}' | '\u{fe20}'..='\u{fe2f}')
    };
    label.split(|c: char| !is_mark(c)).map(|run| run.chars().count()).max().unwrap_or(0)
}

/// Checks a name that becomes part of ids like `A/east` and of file names.
///
/// # Errors
/// Empty, too long, blank at an end, or with `/`, `~`, `\` or control characters.
pub fn check_label(what: &str, label: &str) -> Result<()> {
    let bad = |c: char| c == '/' || c == '~' || c == '\\' || c.is_control();
    let fault = if label.is_empty() {
        "is empty".to_owned()
    } else if label.chars().count() > LONGEST_LABEL {
        format!("is longer than {LONGEST_LABEL} characters")
    } else if label.trim() != label {
        "begins or ends with a blank".to_owned()
    } else if let Some(c) = label.chars().find(|c| bad(*c)) {
        format!("holds the character {c:?}")
    } else if let Some(c) = label.chars().find(|c| is_unseen(*c)) {
        format!("holds the unseen character U+{:04X}", u32::from(c))
    } else if most_marks(label) > MOST_MARKS {
        format!("has more than {MOST_MARKS} marks on one letter")
    } else {
        return Ok(());
    };
    Err(Error::input(format!("the {what} {label:?} {fault}"))
        .remedy(r"use 1 to 60 characters without / ~ \ or line breaks"))
}

fn build(name: &str, faces: Vec<(String, Point3<f64>, Vector3<f64>)>) -> Result<Solid> {
    if faces.len() < 4 {
        return Err(Error::input(format!("{} planes cannot enclose a solid", faces.len()))
            .remedy("give at least 4 planes"));
    }
    let mut labels = BTreeSet::new();
    let mut solid_faces = Vec::with_capacity(faces.len());
    for (label, point, normal) in faces {
        check_label("face label", &label)?;
        if !labels.insert(label.clone()) {
            return Err(Error::input(format!("two faces are called {label:?}"))
                .remedy("give every face of an element its own label"));
        }
        let normal = unit_normal(&point, &normal).map_err(|e| e.at(label.as_str()))?;
        solid_faces.push(SolidFace { label, point, normal, polygon: Vec::new() });
    }
    check_coincident(&solid_faces)?;
    check_bounded(&solid_faces)?;
    let polygons = clip_all(&solid_faces)?;
    for (face, polygon) in solid_faces.iter_mut().zip(polygons) {
        face.polygon = polygon;
    }
    check_nearly_coincident(&solid_faces)?;
    Ok(Solid { name: name.to_owned(), faces: solid_faces })
}

fn unit_normal(point: &Point3<f64>, normal: &Vector3<f64>) -> Result<Vector3<f64>> {
    let usable = |x: &f64| x.is_finite() && x.abs() <= LARGEST_NUMBER;
    if !point.iter().all(usable) {
        return Err(Error::input(format!("the point [{}, {}, {}] is not usable", point.x, point.y, point.z))
            .remedy("give three finite numbers within a thousand kilometres"));
    }
    let largest = normal.amax();
    if !normal.iter().all(usable) || largest == 0.0 {
        return Err(Error::input(format!(
            "the normal [{}, {}, {}] gives no direction",
            normal.x, normal.y, normal.z
        ))
        .remedy("give three finite numbers, not all 0, pointing outward"));
    }
    // Dividing by the largest first keeps very short normals from vanishing when squared.
    Ok((normal / largest).normalize())
}

fn check_coincident(faces: &[SolidFace]) -> Result<()> {
    let middle = middle_of(faces.iter().map(|f| f.point));
    let size = faces.iter().map(|f| (f.point - middle).norm()).fold(0.0, f64::max);
    for (i, a) in faces.iter().enumerate() {
        for b in &faces[i + 1..] {
            if a.normal.dot(&b.normal) < 0.0 || a.normal.cross(&b.normal).norm() > PARALLEL {
                continue;
            }
            if a.normal.dot(&(b.point - a.point)).abs() <= WELD * size {
                return Err(Error::input(format!(
                    "faces {:?} and {:?} lie in the same plane",
                    a.label, b.label
                ))
                .remedy("leave one of them out, or move or turn it"));
            }
        }
    }
    Ok(())
}

/// The same for planes that differ, but by no more than could be told apart on the solid.
fn check_nearly_coincident(faces: &[SolidFace]) -> Result<()> {
    let shown = || faces.iter().filter(|f| !f.polygon.is_empty());
    let first = shown().flat_map(|f| f.polygon.first()).next().copied().unwrap_or_else(Point3::origin);
    let size = shown().flat_map(|f| &f.polygon).map(|p| (p - first).norm()).fold(0.0, f64::max);
    for (i, a) in shown().enumerate() {
        for b in shown().skip(i + 1) {
            let alike = a.normal.dot(&b.normal) > 0.0 && a.normal.cross(&b.normal).norm() <= COINCIDENT;
            let off = |p: &Point3<f64>| a.normal.dot(&(p - a.polygon[0])).abs();
            if alike && b.polygon.iter().all(|p| off(p) <= COINCIDENT * size) {
                return Err(same_plane(a, b));
            }
        }
    }
    Ok(())
}

fn same_plane(a: &SolidFace, b: &SolidFace) -> Error {
    Error::input(format!("faces {:?} and {:?} lie in the same plane", a.label, b.label))
        .remedy("leave one of them out, or move or turn it")
}

/// The solid is bounded unless some direction d has n·d ≤ 0 for all normals. If there is such a direction
/// there is one along the line two of the planes share, or across all normals if those are all parallel.
fn check_bounded(faces: &[SolidFace]) -> Result<()> {
    let open = |d: &Vector3<f64>| faces.iter().all(|f| f.normal.dot(d) <= PARALLEL);
    let mut spread = false;
    for (i, a) in faces.iter().enumerate() {
        for b in &faces[i + 1..] {
            let line = a.normal.cross(&b.normal);
            if line.norm() <= PARALLEL {
                continue;
            }
            spread = true;
            let line = line.normalize();
            if let Some(d) = [line, -line].iter().find(|d| open(d)) {
                return Err(runs_off(d));
            }
        }
    }
    if spread { Ok(()) } else { Err(runs_off(&basis(&faces[0].normal).0)) }
}

fn runs_off(d: &Vector3<f64>) -> Error {
    // A tiny component is shown as 0, not −0.
    let [x, y, z] = [d.x, d.y, d.z].map(|c| (c * 1000.0).round() / 1000.0 + 0.0);
    Error::input(format!("the planes leave the element open: it runs off along [{x}, {y}, {z}]"))
        .remedy("add a plane that closes it there, or check that every normal points outward")
}

fn clip_all(faces: &[SolidFace]) -> Result<Vec<Vec<Point3<f64>>>> {
    let nothing = || {
        Error::input("the planes leave nothing between them")
            .remedy("check that every normal points outward and that opposite faces do not cross")
    };
    let first = middle_of(faces.iter().map(|f| f.point));
    let huge = 4.0 * LARGEST_NUMBER;
    let rough: Vec<Point3<f64>> = clip_about(faces, &vec![true; faces.len()], first, huge)
        .into_iter()
        .flatten()
        .map(|v| first + v)
        .collect();
    if rough.is_empty() {
        return Err(nothing());
    }
    let (low, high) = rough.iter().fold((rough[0], rough[0]), |(l, h), p| (l.inf(p), h.sup(p)));
    let size = (high - low).norm();
    if size > LARGEST_NUMBER {
        let far = rough.iter().map(|p| p - first).max_by(|a, b| a.norm().total_cmp(&b.norm()));
        return Err(runs_off(&far.map_or_else(Vector3::z, |v| v.normalize())));
    }
    if size <= huge * ROUGH {
        // The rough pass cannot tell a solid this small from nothing; the points given say where to look.
        let reach = faces.iter().map(|f| (f.point - first).norm()).fold(0.0, f64::max);
        return clip_fine(faces, first, reach).ok_or_else(nothing);
    }
    clip_fine(faces, nalgebra::center(&low, &high), size).ok_or_else(nothing)
}

/// Clips about a middle near the solid and welds; none if nothing is left.
fn clip_fine(faces: &[SolidFace], middle: Point3<f64>, first_size: f64) -> Option<Vec<Vec<Point3<f64>>>> {
    let mut cuts = vec![true; faces.len()];
    let (polygons, size) = loop {
        let mut polygons = clip_about(faces, &cuts, middle, 4.0 * first_size);
        let size = polygons.iter().flatten().map(Vector3::norm).fold(0.0, f64::max);
        let narrow = |k: &usize| !polygons[*k].is_empty() && width_of(&polygons[*k]) <= NARROWEST * size;
        let narrowest = (0..faces.len())
            .filter(narrow)
            .min_by(|a, b| width_of(&polygons[*a]).total_cmp(&width_of(&polygons[*b])));
        match narrowest {
            Some(k) => cuts[k] = false,
            None => {
                weld(&mut polygons, size * WELD);
                break (polygons, size);
            }
        }
    };
    // Leaving out a plane that held the solid together would let it run to the square.
    if size > 2.0 * first_size {
        return None;
    }
    let volume: f64 =
        polygons.iter().flat_map(|p| p.windows(2).skip(1).map(|w| p[0].dot(&w[0].cross(&w[1])) / 6.0)).sum();
    let sides = polygons.iter().filter(|p| !p.is_empty()).count();
    if sides < 4 || volume <= NOTHING * size.powi(3) {
        return None;
    }
    Some(polygons.into_iter().map(|p| p.into_iter().map(|v| middle + v).collect()).collect())
}

/// About the width of a narrow polygon.
fn width_of(polygon: &[Vector3<f64>]) -> f64 {
    let Some(first) = polygon.first().copied() else { return 0.0 };
    let perimeter: f64 = edges_of(polygon).map(|(a, b)| (b - a).norm()).sum();
    let area: Vector3<f64> = edges_of(polygon).map(|(a, b)| (a - first).cross(&(b - first))).sum();
    if perimeter > 0.0 { area.norm() / perimeter } else { 0.0 }
}

fn clip_about(
    faces: &[SolidFace],
    cuts: &[bool],
    middle: Point3<f64>,
    square: f64,
) -> Vec<Vec<Vector3<f64>>> {
    let halves: Vec<Half> =
        faces.iter().map(|f| Half { normal: f.normal, reach: f.normal.dot(&(f.point - middle)) }).collect();
    let clip_one = |i: usize| {
        if !cuts[i] {
            return Vec::new();
        }
        let Half { normal, reach } = halves[i];
        let (u, v) = basis(&normal);
        let corners = [(1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0)];
        let mut polygon: Vec<Vector3<f64>> =
            corners.iter().map(|(a, b)| normal * reach + (u * *a + v * *b) * square).collect();
        for (j, half) in halves.iter().enumerate() {
            if j != i && cuts[j] && !polygon.is_empty() {
                polygon = clip(&polygon, half, square * ON_PLANE);
            }
        }
        polygon
    };
    (0..halves.len()).map(clip_one).collect()
}

fn clip(polygon: &[Vector3<f64>], half: &Half, on_plane: f64) -> Vec<Vector3<f64>> {
    let over: Vec<f64> = polygon.iter().map(|p| half.normal.dot(p) - half.reach).collect();
    let mut kept = Vec::with_capacity(polygon.len() + 1);
    for (k, p) in polygon.iter().enumerate() {
        let next = (k + 1) % polygon.len();
        let (here, there) = (over[k], over[next]);
        if here <= on_plane {
            kept.push(*p);
        }
        if (here < -on_plane && there > on_plane) || (here > on_plane && there < -on_plane) {
            kept.push(p + (polygon[next] - p) * (here / (here - there)));
        }
    }
    if kept.len() < 3 { Vec::new() } else { kept }
}

/// Makes corners within `reach` of each other one, puts corners that lie on another face's edge into it, and
/// drops faces that are left without area.
fn weld(polygons: &mut [Vec<Vector3<f64>>], reach: f64) {
    let mut corners: Vec<Vector3<f64>> = Vec::new();
    for polygon in polygons.iter_mut() {
        for vertex in polygon.iter_mut() {
            match corners.iter().find(|c| (*c - *vertex).norm() <= reach) {
                Some(corner) => *vertex = *corner,
                None => corners.push(*vertex),
            }
        }
        polygon.dedup();
        while polygon.len() > 1 && polygon.first() == polygon.last() {
            polygon.pop();
        }
        // Opposite edges nearer than the weld: a face seen edge-on.
        let perimeter: f64 = edges_of(polygon).map(|(a, b)| (b - a).norm()).sum();
        let area: Vector3<f64> = edges_of(polygon).map(|(a, b)| a.cross(&b)).sum();
        if polygon.len() < 3 || area.norm() <= perimeter * reach {
            polygon.clear();
        }
    }
    for polygon in polygons.iter_mut() {
        let mut full = Vec::with_capacity(polygon.len());
        for (a, b) in edges_of(polygon) {
            full.push(a);
            let along = b - a;
            let mut between: Vec<(f64, Vector3<f64>)> = corners
                .iter()
                .filter(|c| **c != a && **c != b)
                .map(|c| ((c - a).dot(&along) / along.norm_squared(), *c))
                .filter(|(s, c)| *s > 0.0 && *s < 1.0 && (a + along * *s - c).norm() <= reach)
                .collect();
            between.sort_by(|x, y| x.0.total_cmp(&y.0));
            full.extend(between.into_iter().map(|(_, c)| c).filter(|c| !polygon.contains(c)));
        }
        *polygon = full;
    }
}

fn edges_of(polygon: &[Vector3<f64>]) -> impl Iterator<Item = (Vector3<f64>, Vector3<f64>)> + '_ {
    (0..polygon.len()).map(|k| (polygon[k], polygon[(k + 1) % polygon.len()]))
}

/// Two unit vectors that make a right-handed frame with `n` as third.
fn basis(n: &Vector3<f64>) -> (Vector3<f64>, Vector3<f64>) {
    // The axis farthest from n, so that the product is never short.
    let axis = [Vector3::x(), Vector3::y(), Vector3::z()][n.iamin()];
    let u = axis.cross(n).normalize();
    (u, n.cross(&u))
}

fn middle_of(points: impl Iterator<Item = Point3<f64>> + Clone) -> Point3<f64> {
    let first = points.clone().next().unwrap_or_else(Point3::origin);
    let (sum, count) = points.fold((Vector3::zeros(), 0.0), |(s, n), p| (s + (p - first), n + 1.0));
    first + sum / f64::max(count, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::element::{frustum, prism, slab};
    use crate::settings::{Value, Values};
    use nalgebra::{Isometry3, UnitQuaternion};
    use proptest::prelude::*;
    use std::collections::BTreeMap;

    fn plane(label: &str, point: [f64; 3], normal: [f64; 3]) -> (String, Point3<f64>, Vector3<f64>) {
        (label.to_owned(), Point3::from(point), Vector3::from(normal))
    }

    /// A box 1000 × 1000 × 1000 about the origin without its top.
    fn open_box() -> Vec<(String, Point3<f64>, Vector3<f64>)> {
        vec![
            plane("east", [500.0, 0.0, 0.0], [1.0, 0.0, 0.0]),
            plane("west", [-500.0, 0.0, 0.0], [-1.0, 0.0, 0.0]),
            plane("north", [0.0, 500.0, 0.0], [0.0, 1.0, 0.0]),
            plane("south", [0.0, -500.0, 0.0], [0.0, -1.0, 0.0]),
            plane("bottom", [0.0, 0.0, -500.0], [0.0, 0.0, -1.0]),
        ]
    }

    /// What holds for every solid: corners on their planes, counter-clockwise, behind all planes, closed.
    #[track_caller]
    fn assert_valid(solid: &Solid) {
        let [low, high] = solid.bounding_box();
        let near = 1e-8 * (high - low).norm() + 1e-15 * high.coords.amax().max(low.coords.amax());
        let mut corners: Vec<Point3<f64>> = Vec::new();
        let (mut sides, mut vector) = (0, Vector3::zeros());
        for face in &solid.faces {
            assert!((face.normal.norm() - 1.0).abs() < 1e-12);
            sides += usize::from(!face.polygon.is_empty());
            vector += face.normal * face.area();
            assert!(face.polygon.is_empty() || face.area() > 0.0, "{} runs clockwise", face.label);
            for p in &face.polygon {
                assert!(
                    face.normal.dot(&(p - face.point)).abs() <= near,
                    "{}: corner off its plane",
                    face.label
                );
                // A plane that only grazes the solid is left out, with the little it would take off.
                let grazed = 4.0 * NARROWEST * (high - low).norm();
                let within = |f: &SolidFace| if f.polygon.is_empty() { near + grazed } else { near };
                let behind = |f: &SolidFace| f.normal.dot(&(p - f.point)) <= within(f);
                assert!(solid.faces.iter().all(behind), "{}: corner outside", face.label);
                if !corners.contains(p) {
                    corners.push(*p);
                }
            }
        }
        assert!(vector.norm() <= 1e-8 * solid.surface_area(), "area vectors leave {vector}");
        assert_eq!(corners.len() + sides, solid.edges().len() + 2, "Euler: corners + faces = edges + 2");
    }

    fn make(row: crate::element::ElementMaker, given: &[(&str, f64)]) -> Solid {
        let map: BTreeMap<String, Value> =
            given.iter().map(|(k, v)| ((*k).to_owned(), Value::Number(*v))).collect();
        let solid = (row.build)("A", &Values::check(row.name, row.settings, &map).unwrap()).unwrap();
        assert_valid(&solid);
        solid
    }

    #[track_caller]
    fn near(got: f64, want: f64) {
        assert!((got - want).abs() <= 1e-9 * want.abs().max(1.0), "{got} is not {want}");
    }

    #[test]
    fn slab_stands_on_the_ground_with_its_faces_where_their_names_say() {
        let size = Value::List([400.0, 300.0, 200.0].map(Value::Number).to_vec());
        let map = BTreeMap::from([("size".to_owned(), size)]);
        let solid =
            (slab::ROW.build)("A", &Values::check("slab", slab::ROW.settings, &map).unwrap()).unwrap();
        assert_valid(&solid);
        near(solid.volume(), 24.0e6);
        near(solid.surface_area(), 2.0 * (12.0 + 6.0 + 8.0) * 1.0e4);
        assert_eq!(solid.lowest_z(), 0.0);
        let middle = |label: &str| solid.faces[solid.face_index(label).unwrap()].centroid();
        near((middle("east") - Point3::new(200.0, 0.0, 100.0)).norm(), 0.0);
        near((middle("south") - Point3::new(0.0, -150.0, 100.0)).norm(), 0.0);
        near((middle("top") - Point3::new(0.0, 0.0, 200.0)).norm(), 0.0);
        assert!(solid.face_index("est").unwrap_err().to_string().contains("did you mean \"east\""));
    }

    #[test]
    fn prism_and_frustum_have_their_textbook_volume() {
        // Regular n-gon across flats w: area n w² tan(π/n) / 4; frustum: h/3 (A1 + A2 + √(A1 A2)).
        let area = |n: f64, w: f64| n * w * w / 4.0 * (std::f64::consts::PI / n).tan();
        for n in [3.0, 4.0, 5.0, 7.0, 12.0, 64.0] {
            let solid = make(prism::ROW, &[("sides", n), ("width", 800.0), ("height", 1100.0)]);
            near(solid.volume(), area(n, 800.0) * 1100.0);
            near((solid.faces[0].normal - Vector3::x()).norm(), 0.0);
            let given = [("sides", n), ("base", 900.0), ("top", 500.0), ("height", 1100.0), ("lean", 20.0)];
            let solid = make(frustum::ROW, &[&given[..], &[("toward", 135.0)]].concat());
            let (foot, top) = (area(n, 900.0), area(n, 500.0));
            near(solid.volume(), 1100.0 / 3.0 * (foot + top + (foot * top).sqrt()));
            let reach = 1100.0 * 20.0_f64.to_radians().tan() * 0.5_f64.sqrt();
            let top = solid.faces[solid.face_index("top").unwrap()].centroid();
            assert!((top - Point3::new(-reach, reach, 1100.0)).norm() < 1e-6, "{top}");
        }
    }

    #[test]
    fn sides_are_counted_counter_clockwise_from_x() {
        let solid = make(prism::ROW, &[("sides", 4.0), ("width", 2.0), ("height", 2.0)]);
        let labels: Vec<&str> = solid.faces.iter().map(|f| f.label.as_str()).collect();
        assert_eq!(labels, ["side1", "side2", "side3", "side4", "top", "bottom"]);
        near((solid.faces[1].normal - Vector3::y()).norm(), 0.0);
    }

    #[test]
    fn dihedrals_of_2_and_178_degrees_are_exact() {
        let (sin, cos) = 2.0_f64.to_radians().sin_cos();
        for far in [0.0, 1.0e7] {
            let at = |p: [f64; 3]| [p[0] + far, p[1] + far, p[2]];
            let mut faces: Vec<_> =
                open_box().into_iter().map(|(l, p, n)| (l, p + Vector3::new(far, far, 0.0), n)).collect();
            // A ramp rising from the west foot at 2 degrees.
            faces.push(plane("ramp", at([-500.0, 0.0, -500.0]), [-sin, 0.0, cos]));
            let solid = Solid::from_planes("A", faces.clone()).unwrap();
            assert_valid(&solid);
            assert!((solid.volume() / (0.5e9 * 2.0_f64.to_radians().tan()) - 1.0).abs() < 1e-9);
            let edge = solid.edges().into_iter().find(|e| e.faces == [4, 5]).unwrap();
            assert!((edge.dihedral.to_degrees() - 2.0).abs() < 1e-9);
            // A roof whose two slopes meet at 178 degrees.
            let (sin, cos) = 1.0_f64.to_radians().sin_cos();
            faces.truncate(5);
            faces.push(plane("left", at([0.0, 0.0, 500.0]), [-sin, 0.0, cos]));
            faces.push(plane("right", at([0.0, 0.0, 500.0]), [sin, 0.0, cos]));
            let solid = Solid::from_planes("A", faces).unwrap();
            assert_valid(&solid);
            assert!((solid.volume() / (1e9 - 250e6 * 1.0_f64.to_radians().tan()) - 1.0).abs() < 1e-9);
            let edge = solid.edges().into_iter().find(|e| e.faces == [5, 6]).unwrap();
            assert!((edge.dihedral.to_degrees() - 178.0).abs() < 1e-9);
        }
    }

    #[test]
    fn plane_that_cuts_nothing_is_kept_empty() {
        let mut faces = open_box();
        faces.push(plane("top", [0.0, 0.0, 500.0], [0.0, 0.0, 3.0]));
        faces.push(plane("high", [0.0, 0.0, 800.0], [0.0, 0.0, 1.0]));
        faces.push(plane("corner", [500.0, 500.0, 500.0], [1.0, 1.0, 1.0]));
        faces.push(plane("edge", [500.0, 500.0, 0.0], [1.0, 1.0, 0.0]));
        let solid = Solid::from_planes("A", faces).unwrap();
        assert_valid(&solid);
        assert!(solid.faces[6..].iter().all(|f| f.polygon.is_empty()));
        near(solid.volume(), 1e9);
    }

    #[track_caller]
    fn refused(faces: Vec<(String, Point3<f64>, Vector3<f64>)>, says: &[&str]) {
        let text = Solid::from_planes("A", faces).unwrap_err().to_string();
        for word in says {
            assert!(text.contains(word), "{text:?} does not say {word:?}");
        }
    }

    #[test]
    fn what_encloses_nothing_is_refused_with_the_reason() {
        refused(open_box()[..3].to_vec(), &["3 planes", "at least 4"]);
        refused(open_box(), &["A: ", "runs off along [0, 0, 1]"]);
        // All planes level, and all planes upright.
        let level = |k: f64| plane(&format!("f{k}"), [0.0, 0.0, k], [0.0, 0.0, k.signum()]);
        refused([1.0, 2.0, -1.0, -2.0].map(level).to_vec(), &["runs off along"]);
        let mut upright = open_box();
        upright.truncate(4);
        refused(upright, &["runs off along [0, 0, "]);
        let with = |l: &str, p: [f64; 3], n: [f64; 3]| {
            let mut faces = open_box();
            faces.push(plane(l, p, n));
            faces
        };
        let up = [0.0, 0.0, 1.0];
        refused(with("top", [0.0, 0.0, -501.0], up), &["nothing between"]);
        refused(with("top", [0.0, 0.0, -500.0], up), &["nothing between"]);
        refused(
            with("floor", [90.0, 5.0, -500.0], [0.0, 0.0, -2.0]),
            &["\"bottom\" and \"floor\"", "same plane"],
        );
        refused(with("east", [0.0, 0.0, 500.0], up), &["two faces are called \"east\""]);
        for bad in ["", "a/b", "a~b", "a\nb", " a", "a\\b"] {
            refused(with(bad, [0.0, 0.0, 500.0], up), &["face label"]);
        }
        refused(with("top", [0.0, 0.0, 500.0], [0.0; 3]), &["top: ", "no direction"]);
        for bad in [f64::NAN, f64::INFINITY, 1e300] {
            refused(with("top", [0.0, 0.0, 500.0], [0.0, bad, 1.0]), &["top: ", "no direction"]);
            refused(with("top", [0.0, 0.0, bad], up), &["top: ", "not usable"]);
        }
        assert!(Solid::from_planes("a/b", open_box()).unwrap_err().to_string().contains("element name"));
    }

    #[test]
    fn moving_turning_and_scaling_keep_the_solid() {
        let mut solid = make(frustum::ROW, &[("sides", 5.0), ("base", 9.0), ("top", 7.0), ("height", 11.0)]);
        let (volume, centroid) = (solid.volume(), solid.centroid());
        let by = Isometry3::from_parts(
            Vector3::new(1e5, -2e5, 3e4).into(),
            UnitQuaternion::from_euler_angles(0.3, 1.1, -2.0),
        );
        solid.transform(&by);
        assert!((solid.volume() / volume - 1.0).abs() < 1e-9);
        assert!((solid.centroid() - by * centroid).norm() < 1e-9);
        solid.transform(&by.inverse());
        solid.scale(2.0).unwrap();
        assert_valid(&solid);
        assert!((solid.volume() / volume - 8.0).abs() < 1e-9);
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(solid.scale(bad).is_err());
        }
    }

    /// A normal that is often parallel to an axis or nearly so.
    fn direction() -> impl Strategy<Value = Vector3<f64>> {
        let part = prop_oneof![Just(0.0), Just(1.0), Just(-1.0), -1.0..1.0, -1e-6..1e-6];
        [part.clone(), part.clone(), part].prop_filter_map("no direction", |v| {
            let v = Vector3::from(v);
            (v.norm() > 1e-3).then_some(v)
        })
    }

    /// A distance from the middle that often takes a plane through or just past an edge or a corner.
    fn reach() -> impl Strategy<Value = f64> {
        let through = prop_oneof![Just(1.0_f64), Just(2.0), Just(3.0)].prop_map(|k| 500.0 * k.sqrt());
        let beside = prop_oneof![Just(0.0), -1e-9..1e-9, -1e-6..1e-6, -1e-3..1e-3];
        prop_oneof![100.0..700.0, (through, beside).prop_map(|(a, b)| a + b)]
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(300) })]
        #[test]
        fn any_planes_round_a_box_make_a_valid_solid_or_an_error(
            extra in proptest::collection::vec((direction(), reach()), 1..12),
            turn in direction(),
            far in prop_oneof![Just(0.0), Just(1.0e7)],
        ) {
            let mut faces = open_box();
            faces.push(plane("top", [0.0, 0.0, 500.0], [0.0, 0.0, 1.0]));
            for (k, (normal, reach)) in extra.iter().enumerate() {
                let normal = normal.normalize();
                faces.push((format!("x{k}"), Point3::from(normal * *reach), normal));
            }
            match Solid::from_planes("A", faces.clone()) {
              Err(e) => prop_assert!(e.to_string().contains("same plane"), "{e}"),
              Ok(solid) => {
                assert_valid(&solid);
                let by = Isometry3::new(Vector3::new(far, -far, far), turn);
                let moved = faces.into_iter().map(|(l, p, n)| (l, by * p, by * n)).collect();
                let moved = Solid::from_planes("A", moved).unwrap();
                prop_assert!((moved.volume() / solid.volume() - 1.0).abs() < 1e-6);
                prop_assert!((moved.surface_area() / solid.surface_area() - 1.0).abs() < 1e-6);
                prop_assert!((moved.centroid() - by * solid.centroid()).norm() < 1e-4);
              }
            }
        }
    }
}
