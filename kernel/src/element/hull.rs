//! Solids from the convex hull of points.
//!
//! Method: every plane through three points that has all others on one side is a face; points within a
//! tolerance of it belong to it, so that coplanar triangles are one face from the start. That costs about
//! O(points³) with an early way out, which is slower than the usual incremental hull but cannot fail on the
//! flat, regular bodies people write down by hand; the number of points is limited instead.

use super::solid::Solid;
use crate::error::{Error, Result};
use crate::settings::LARGEST_NUMBER;
use nalgebra::{Point3, Vector3};
use std::collections::BTreeMap;

/// Points this near to a face, as a share of the hull's size, lie in it: a tenth of a micrometre per metre.
const IN_FACE: f64 = 1.0e-7;

/// Points this near to each other, as a share of the hull's size, are one point given twice.
const SAME_POINT: f64 = 1.0e-9;

/// Least height of a triangle, as a share of the hull's size, that can carry a face's plane.
const LEAST_TRIANGLE: f64 = 1.0e-6;

/// Most points: the cost grows with their cube.
pub const MOST_POINTS: usize = 300;

/// The convex hull of points as a solid. Points inside it are ignored.
///
/// Faces are called `f1`, `f2`, … from the lowest up (by the height of their middle, then counter-clockwise
/// from +x about the middle of the hull). `named` gives some or all of them other labels: label → indices
/// (from 0) of at least three of the face's points.
///
/// # Errors
/// Fewer than four points, too many, equal points, points all in one plane, numbers that are not usable;
/// a named face with too few points, an index that is not there, points not in one plane or not on the
/// outside, or two names for one face.
pub fn hull(
    name: &str,
    points: &[Point3<f64>],
    named: Option<&BTreeMap<String, Vec<usize>>>,
) -> Result<Solid> {
    faces_of(points, named).map_err(|e| e.at(name)).and_then(|faces| Solid::from_planes(name, faces))
}

/// A face of the hull: its plane about the local origin and the points in it.
struct Facet {
    normal: Vector3<f64>,
    middle: Vector3<f64>,
    points: Vec<usize>,
}

type Planes = Vec<(String, Point3<f64>, Vector3<f64>)>;

fn faces_of(points: &[Point3<f64>], named: Option<&BTreeMap<String, Vec<usize>>>) -> Result<Planes> {
    if points.len() < 4 || points.len() > MOST_POINTS {
        return Err(Error::input(format!("{} points do not make a hull", points.len()))
            .remedy(format!("give 4 to {MOST_POINTS} points")));
    }
    let usable = |x: &f64| x.is_finite() && x.abs() <= LARGEST_NUMBER;
    if let Some(k) = points.iter().position(|p| !p.iter().all(usable)) {
        let p = points[k];
        return Err(Error::input(format!("point {k} at [{}, {}, {}] is not usable", p.x, p.y, p.z))
            .remedy("give three finite numbers within a thousand kilometres"));
    }
    let origin = points[0];
    let local: Vec<Vector3<f64>> = points.iter().map(|p| p - origin).collect();
    let size = local.iter().map(|p| p.norm()).fold(0.0, f64::max);
    for (i, a) in local.iter().enumerate() {
        if let Some(j) = (0..i).find(|j| (local[*j] - a).norm() <= SAME_POINT * size) {
            return Err(Error::input(format!("points {j} and {i} are the same point"))
                .remedy("leave one of them out"));
        }
    }
    let mut facets = facets_of(&local, size);
    if facets.len() < 4 {
        return Err(Error::input("the points lie in one plane and enclose nothing")
            .remedy("give at least four points that are not all in one plane"));
    }
    let centre = local.iter().sum::<Vector3<f64>>() / f64::from(u32::try_from(local.len()).unwrap_or(1));
    // Rounding to a grid far finer than any real difference makes ties of height true ties.
    let grid = (size * SAME_POINT).max(f64::MIN_POSITIVE);
    #[allow(clippy::cast_possible_truncation, reason = "at most 1e9 grid steps")]
    let key = |f: &Facet| {
        let level = (f.middle.z / grid).round() as i64;
        let angle = (f.middle.y - centre.y).atan2(f.middle.x - centre.x);
        let level_face = f.middle.xy().metric_distance(&centre.xy()) <= size * LEAST_TRIANGLE;
        let turn = if level_face { 0.0 } else { angle.rem_euclid(std::f64::consts::TAU) };
        (level, ((turn / SAME_POINT).round() as i64) % ((std::f64::consts::TAU / SAME_POINT).round() as i64))
    };
    facets.sort_by_key(|f| (key(f), f.points.clone()));
    let mut labels: Vec<String> = (1..=facets.len()).map(|k| format!("f{k}")).collect();
    let mut taken = vec![false; facets.len()];
    for (label, indices) in named.into_iter().flatten() {
        let at = |e: Error| e.at(label.as_str());
        let k = named_facet(indices, &local, &facets, size).map_err(at)?;
        if taken[k] {
            return Err(at(Error::input(format!("this face is called {:?} already", labels[k]))
                .remedy("give each face one name")));
        }
        (taken[k], labels[k]) = (true, label.clone());
    }
    Ok(facets.iter().zip(labels).map(|(f, label)| (label, origin + f.middle, f.normal)).collect())
}

fn facets_of(local: &[Vector3<f64>], size: f64) -> Vec<Facet> {
    let count = local.len();
    let mut facets: Vec<Facet> = Vec::new();
    for i in 0..count {
        for j in i + 1..count {
            for k in j + 1..count {
                let [a, b, c] = [local[i], local[j], local[k]];
                let across = (b - a).cross(&(c - a));
                let longest = (b - a).norm().max((c - a).norm()).max((c - b).norm());
                if across.norm() <= LEAST_TRIANGLE * size * longest {
                    continue;
                }
                let normal = across.normalize();
                // Asked before the faces known so far, since nearly all triangles fail here at once.
                if let Some(side) = one_side(local, &a, &normal, size * IN_FACE) {
                    if facets.iter().any(|f| [i, j, k].iter().all(|p| f.points.contains(p))) {
                        continue;
                    }
                    let outward = normal * side;
                    let on = |p: &usize| outward.dot(&(local[*p] - a)) >= -size * IN_FACE;
                    let points: Vec<usize> = (0..count).filter(on).collect();
                    // A flat set of points has all of them on both sides.
                    if points.len() == count {
                        return Vec::new();
                    }
                    facets.push(Facet { normal: outward, middle: middle(local, &points), points });
                }
            }
        }
    }
    // The first triangle of a face may be thin: all its points together give the better plane.
    facets.iter_mut().for_each(|f| refine(f, local));
    facets
}

/// +1 if all points lie on or below the plane, −1 if on or above, none if on both sides.
fn one_side(local: &[Vector3<f64>], a: &Vector3<f64>, normal: &Vector3<f64>, within: f64) -> Option<f64> {
    let (mut below, mut above) = (true, true);
    for p in local {
        let height = normal.dot(&(p - a));
        below &= height <= within;
        above &= height >= -within;
        if !below && !above {
            return None;
        }
    }
    Some(if below { 1.0 } else { -1.0 })
}

fn middle(local: &[Vector3<f64>], points: &[usize]) -> Vector3<f64> {
    let sum: Vector3<f64> = points.iter().map(|p| local[*p]).sum();
    sum / f64::from(u32::try_from(points.len()).unwrap_or(1))
}

/// Replaces the normal by that of the whole polygon (the sum of its triangles about the middle).
fn refine(facet: &mut Facet, local: &[Vector3<f64>]) {
    let arm = |p: &usize| local[*p] - facet.middle;
    let first = facet.points.iter().map(arm).max_by(|a, b| a.norm().total_cmp(&b.norm()));
    let Some(x) = first else { return };
    let y = facet.normal.cross(&x);
    let mut round: Vec<(f64, Vector3<f64>)> =
        facet.points.iter().map(arm).map(|v| (v.dot(&y).atan2(v.dot(&x)), v)).collect();
    round.sort_by(|a, b| a.0.total_cmp(&b.0));
    let area: Vector3<f64> =
        (0..round.len()).map(|k| round[k].1.cross(&round[(k + 1) % round.len()].1)).sum();
    if area.dot(&facet.normal) > 0.0 {
        facet.normal = area.normalize();
    }
}

fn named_facet(indices: &[usize], local: &[Vector3<f64>], facets: &[Facet], size: f64) -> Result<usize> {
    if let Some(bad) = indices.iter().find(|i| **i >= local.len()) {
        return Err(Error::input(format!("there is no point {bad}"))
            .remedy(format!("points are numbered from 0 to {}", local.len() - 1)));
    }
    let mut distinct = indices.to_vec();
    distinct.sort_unstable();
    distinct.dedup();
    if distinct.len() < 3 {
        return Err(Error::input(format!("{} different points do not name a face", distinct.len()))
            .remedy("give the indices of at least three of its points"));
    }
    if let Some(k) = facets.iter().position(|f| distinct.iter().all(|i| f.points.contains(i))) {
        return Ok(k);
    }
    // The plane of the three points that span most tells whether they are flat at all.
    let normal = widest_normal(local, &distinct);
    let off =
        distinct.iter().map(|i| normal.dot(&(local[*i] - local[distinct[0]])).abs()).fold(0.0, f64::max);
    if off > size * IN_FACE {
        return Err(Error::input(format!("points {distinct:?} are not in one plane: off by {off:.4} mm"))
            .remedy("move the points into one plane, give more digits, or name the faces apart"));
    }
    Err(Error::input(format!("points {distinct:?} do not lie on one outer face of the hull"))
        .remedy("name only points that share a face; points inside the hull belong to none"))
}

fn widest_normal(local: &[Vector3<f64>], points: &[usize]) -> Vector3<f64> {
    let first = local[points[0]];
    let mut widest = Vector3::zeros();
    for (k, b) in points.iter().enumerate() {
        for c in &points[k + 1..] {
            let across = (local[*b] - first).cross(&(local[*c] - first));
            if across.norm() > widest.norm() {
                widest = across;
            }
        }
    }
    if widest.norm() > 0.0 { widest.normalize() } else { widest }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    const PHI: f64 = 1.618_033_988_749_895;

    /// Cyclic permutations with all signs of (a, b, c), zero signs not repeated.
    fn orbit(a: f64, b: f64, c: f64) -> Vec<Point3<f64>> {
        let mut points: Vec<Point3<f64>> = Vec::new();
        for v in [[a, b, c], [c, a, b], [b, c, a]] {
            for signs in 0..8 {
                let sign = |k: usize| if signs >> k & 1 == 0 { v[k] } else { -v[k] };
                let p = Point3::new(sign(0), sign(1), sign(2));
                if !points.iter().any(|q| (p - q).norm() < 1e-9) {
                    points.push(p);
                }
            }
        }
        points
    }

    type Tabulated = (&'static str, Vec<Point3<f64>>, [f64; 5]);

    fn platonic() -> Vec<Tabulated> {
        let tetra = [[1.0, 1.0, 1.0], [1.0, -1.0, -1.0], [-1.0, 1.0, -1.0], [-1.0, -1.0, 1.0]]
            .map(|p| Point3::from(p) / 8.0_f64.sqrt());
        let scaled = |points: Vec<Point3<f64>>, k: f64| points.into_iter().map(|p| p * k).collect();
        let mut dodeca: Vec<Point3<f64>> = orbit(0.0, 1.0 / PHI, PHI);
        dodeca.extend(orbit(1.0, 1.0, 1.0));
        // Edge 1; faces, V, S, dihedral degrees, edges. Tables of regular polyhedra (public reference pages).
        vec![
            ("tetra", tetra.to_vec(), [4.0, 0.117_851_1, 1.732_050_8, 70.528_779, 6.0]),
            ("cube", scaled(orbit(1.0, 1.0, 1.0), 0.5), [6.0, 1.0, 6.0, 90.0, 12.0]),
            (
                "octa",
                scaled(orbit(1.0, 0.0, 0.0), 0.5_f64.sqrt()),
                [8.0, 0.471_404_5, 3.464_101_6, 109.471_221, 12.0],
            ),
            ("dodeca", scaled(dodeca, PHI / 2.0), [12.0, 7.663_119_0, 20.645_728_8, 116.565_051, 30.0]),
            (
                "icosa",
                scaled(orbit(0.0, 0.5, PHI / 2.0), 1.0),
                [20.0, 2.181_695_0, 8.660_254_0, 138.189_685, 30.0],
            ),
        ]
    }

    #[test]
    fn platonic_solids_have_their_tabulated_figures_also_far_away() {
        for far in [0.0, 1.0e7] {
            for (name, points, [faces, volume, area, dihedral, edges]) in platonic() {
                let points: Vec<_> =
                    points.iter().map(|p| p * 1000.0 + Vector3::new(far, -far, far)).collect();
                let solid = hull(name, &points, None).unwrap();
                assert_eq!(solid.faces.len() as f64, faces, "{name}");
                assert!((solid.volume() / 1e9 - volume).abs() < 0.6e-7, "{name} {}", solid.volume());
                assert!((solid.surface_area() / 1e6 - area).abs() < 0.6e-7, "{name}");
                let found = solid.edges();
                assert_eq!(found.len() as f64, edges, "{name} at {far}");
                for edge in found {
                    assert!((edge.dihedral * 180.0 / PI - dihedral).abs() < 1e-6, "{name}");
                }
                assert!((solid.centroid() - Point3::new(far, -far, far)).norm() < 1e-5, "{name}");
            }
        }
    }

    #[test]
    fn faces_are_numbered_from_the_lowest_then_counter_clockwise() {
        let solid = hull("A", &orbit(1.0, 1.0, 1.0), None).unwrap();
        let normals: Vec<_> =
            solid.faces.iter().map(|f| (f.label.as_str(), f.normal.map(f64::round))).collect();
        let want = [-Vector3::z(), Vector3::x(), Vector3::y(), -Vector3::x(), -Vector3::y(), Vector3::z()];
        for (k, (label, normal)) in normals.iter().enumerate() {
            assert_eq!(*label, format!("f{}", k + 1));
            assert_eq!(*normal, want[k], "{label}");
        }
    }

    #[test]
    fn named_faces_take_their_label_and_the_others_keep_their_number() {
        let points = orbit(1.0, 1.0, 1.0);
        let lid: Vec<usize> = (0..8).filter(|k| points[*k].z > 0.0).collect();
        let named = BTreeMap::from([("lid".to_owned(), lid[..3].to_vec())]);
        let solid = hull("A", &points, Some(&named)).unwrap();
        let labels: Vec<&str> = solid.faces.iter().map(|f| f.label.as_str()).collect();
        assert_eq!(labels, ["f1", "f2", "f3", "f4", "f5", "lid"]);
    }

    #[track_caller]
    fn refused(points: &[Point3<f64>], named: Option<(&str, &[usize])>, says: &str) {
        let named = named.map(|(l, i)| BTreeMap::from([(l.to_owned(), i.to_vec())]));
        let text = hull("A", points, named.as_ref()).unwrap_err().to_string();
        assert!(text.contains(says), "{text}");
    }

    #[test]
    fn what_is_no_hull_is_refused_with_the_reason() {
        let cube = orbit(1.0, 1.0, 1.0);
        refused(&cube[..3], None, "3 points do not make a hull");
        let flat: Vec<_> = (0..6).map(|k| Point3::new(f64::from(k), f64::from(k * k), 5.0)).collect();
        refused(&flat, None, "lie in one plane");
        let line: Vec<_> = (0..6).map(|k| Point3::new(f64::from(k), 1.0, 5.0)).collect();
        refused(&line, None, "lie in one plane");
        let mut twice = cube.clone();
        twice.push(cube[2]);
        refused(&twice, None, "points 2 and 8 are the same");
        let mut wild = cube.clone();
        wild[4].y = f64::NAN;
        refused(&wild, None, "point 4");
        refused(&cube, Some(("lid", &[0, 1, 99])), "no point 99");
        refused(&cube, Some(("lid", &[0, 1])), "do not name a face");
        refused(&cube, Some(("lid", &[0, 1, 2, 7])), "not in one plane");
        let same = BTreeMap::from([("a".to_owned(), vec![0, 2, 4]), ("b".to_owned(), vec![0, 4, 6])]);
        assert!(hull("A", &cube, Some(&same)).unwrap_err().to_string().contains("called \"a\" already"));
    }

    #[test]
    fn many_points_on_a_sphere_make_a_closed_hull() {
        // Points spread by the golden angle: a triangulation, so faces = 2 × points − 4.
        let points: Vec<_> = (0..120)
            .map(|k| {
                let z = 1.0 - (2.0 * f64::from(k) + 1.0) / 120.0;
                let (sin, cos) = (f64::from(k) * PI * (3.0 - 5.0_f64.sqrt())).sin_cos();
                let r = (1.0 - z * z).sqrt();
                Point3::new(500.0 * r * cos, 500.0 * r * sin, 500.0 * z)
            })
            .collect();
        let solid = hull("A", &points, None).unwrap();
        assert_eq!(solid.faces.len(), 2 * 120 - 4);
        assert_eq!(solid.edges().len(), 3 * 120 - 6);
    }
}
