//! The sheet of an element as a beam beside the spine, where the script asks for its stiffness.
//!
//! The element is cut square to the spine half-way between its two collars. Each face that is clad counts with its sheet
//! along the ribs, by the fourth power of the cosine between ribs and spine; across the ribs a corrugated sheet gives like a
//! bellows and counts for nothing. Shear goes round with the thickness taken down by flat over developed length. Bending
//! about the weaker axis of the section stands for both. A whole closed shell twists by Bredt's formula, one with an open or
//! missing face hardly at all. That seams, brackets and edges bring the forces in and out is taken for granted, which is why a
//! share is asked for. Source: thin-walled beams of the textbooks; the rule for corrugated sheet is common practice, no source.

use super::carried::Carried;
use crate::frame::Bar;
use crate::water::Wear;
use nalgebra::{Matrix2, Point3, Vector2, Vector3};

/// Of carbon steel, MPa.
const YOUNG: f64 = 210_000.0;
const SHEAR: f64 = 81_000.0;
/// What a section without any sheet along the spine still has, so that the frame can be solved, mm² and mm⁴.
const LEAST: f64 = 1.0e-6;

/// The sheet of an element about the spine between two places, a share of what rust leaves of it.
pub(super) fn bar(
    carried: &Carried,
    element: usize,
    [a, b]: [Point3<f64>; 2],
    share: f64,
    wear: &Wear,
) -> Bar {
    let along = (b - a).normalize();
    let middle = nalgebra::center(&a, &b);
    let across = along.cross(&Vector3::x());
    let other = along.cross(&Vector3::y());
    let x = if across.norm() > other.norm() { across.normalize() } else { other.normalize() };
    let y = along.cross(&x);
    let flat = |p: Point3<f64>| Vector2::new((p - middle).dot(&x), (p - middle).dot(&y));
    let (mut area, mut first, mut second) = (0.0, Vector2::zeros(), Matrix2::zeros());
    let (mut enclosed, mut round, mut sheared, mut thin) = (0.0, 0.0, 0.0, 0.0);
    let mut whole = true;
    let solid = carried.solid(element);
    for (k, face) in solid.faces.iter().enumerate() {
        let Some([p, q]) = cut(&face.polygon, &middle, &along).map(|ends| ends.map(flat)) else { continue };
        let run = q - p;
        let length = run.norm();
        let Some(sheet) = carried.sheet(element, k) else {
            whole = false;
            continue;
        };
        let developed = sheet.profile.developed_length(0.0) / sheet.profile.pitch();
        let cosine = sheet.frame.u.dot(&along).powi(2).powi(2);
        let thickness = wear.sheet(sheet.profile.thickness());
        let axial = thickness * developed * cosine * length;
        area += axial;
        first += (p + q) * (axial / 2.0);
        second += (p * p.transpose() + q * q.transpose() + (p + q) * (p + q).transpose()) * (axial / 6.0);
        let shear = thickness / developed;
        sheared += shear * length;
        // A sheet rusted through goes round no more.
        whole &= shear > 0.0;
        round += if shear > 0.0 { length / shear } else { 0.0 };
        thin += length * shear.powi(3) / 3.0;
        // As triangles about the middle, which lies inside.
        enclosed += (p.x * q.y - p.y * q.x).abs() / 2.0;
    }
    let about = if area > 0.0 { second - first * first.transpose() / area } else { Matrix2::zeros() };
    let weaker = about.symmetric_eigenvalues().min().max(0.0);
    let torsion = if whole && round > 0.0 { 4.0 * enclosed * enclosed / round } else { thin };
    Bar {
        young: YOUNG,
        shear: SHEAR,
        area: share * area + LEAST,
        inertia: [share * weaker + LEAST; 2],
        torsion: share * torsion + LEAST,
        shear_area: Some([share * sheared / 2.0 + LEAST; 2]),
        density: 0.0,
        rotary: false,
        tube: None,
    }
}

/// Where a plane through a point cuts a convex outline.
fn cut(outline: &[Point3<f64>], at: &Point3<f64>, normal: &Vector3<f64>) -> Option<[Point3<f64>; 2]> {
    let height = |p: &Point3<f64>| (p - at).dot(normal);
    let mut ends = Vec::new();
    for (i, p) in outline.iter().enumerate() {
        let q = &outline[(i + 1) % outline.len()];
        let (below, above) = (height(p), height(q));
        if (below < 0.0) != (above < 0.0) {
            ends.push(p + (q - p) * (below / (below - above)));
        }
    }
    let [p, q] = ends.try_into().ok()?;
    Some([p, q])
}
