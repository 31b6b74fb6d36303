//! Planes and points: solids that are closed with a finite volume and, clad and trimmed, a shell that is closed, with
//! areas that add up; or a plain error.

use super::settings::solid;
use super::{End, Source, plain};
use crate::case::profile;
use crate::sound::{Sound, sound_outcome};
use nalgebra::{Point3, Vector3};
use ribwright_kernel::Registry;
use ribwright_kernel::element::Solid;
use ribwright_kernel::element::hull::hull;
use ribwright_kernel::profile::Profile;
use ribwright_kernel::sculpture::{Datum, Element, Joint, Meet, Sculpture};
use std::sync::{Arc, OnceLock};

/// Most faces and points asked for: more is only slower.
const MOST: usize = 14;
/// Most pieces of strip over a work: more is only slower.
const MOST_STRIPS: f64 = 400.0;

pub(super) fn feed(bytes: &[u8]) -> Result<End, String> {
    let sculpture = match work(bytes)? {
        Ok(sculpture) => sculpture,
        Err(error) => return plain(&error).map(|_| End::Refused),
    };
    match sound_outcome(&sculpture, registry())? {
        Sound::Closed => Ok(End::Taken),
        Sound::Refused | Sound::ErrorFinding => Ok(End::Refused),
    }
}

/// A work of one to three solids from planes or points, with as many coincidences as can be; or why it is refused.
///
/// # Errors
/// A solid that was made and is none.
pub fn work(bytes: &[u8]) -> Result<ribwright_kernel::Result<Sculpture>, String> {
    let mut source = Source::new(bytes);
    let far = source.one(&[0.0, 0.0, 0.0, 0.0, 0.0, 1.0e4, -1.0e7, 9.0e8]);
    let mut sculpture = Sculpture::new("found");
    sculpture.joint = Joint {
        kind: source.one(&["true", "mitre", "auto", "auto"]).to_owned(),
        meet: source.one(&[Meet::Inside, Meet::Middle, Meet::Outside]),
        bevel: source.byte() > 200,
        ..Joint::default()
    };
    let count = source.one(&[1, 1, 1, 2, 2, 3]);
    for name in ["A", "B", "C"].into_iter().take(count) {
        let origin = Vector3::new(far, -far, 0.0);
        let made = if source.byte() < 150 {
            planes(name, origin, &mut source)
        } else {
            points(name, origin, &mut source)
        };
        let made = match made {
            Ok(made) => made,
            Err(error) => return Ok(Err(error)),
        };
        solid(&made).map_err(|e| format!("{name}: {e}"))?;
        let mut element = Element::new(made);
        clad(&mut element, &mut source);
        if let Err(error) = sculpture.add(element) {
            return Ok(Err(error));
        }
    }
    Ok(Ok(sculpture))
}

fn registry() -> &'static Registry {
    super::settings::registry()
}

/// A length: often on a coarse grid, so that planes and corners coincide, or nearly so.
fn length(source: &mut Source<'_>) -> f64 {
    match source.byte() {
        0..=139 => (f64::from(source.byte() % 9) - 4.0) * 100.0,
        140..=179 => {
            (f64::from(source.byte() % 9) - 4.0) * 100.0
                + source.one(&[1.0e-9, -1.0e-9, 1.0e-6, -1.0e-4, 0.01])
        }
        180..=249 => source.between(-500.0, 500.0),
        _ => source.number(),
    }
}

fn direction(source: &mut Source<'_>) -> Vector3<f64> {
    let axes = [Vector3::x(), -Vector3::x(), Vector3::y(), -Vector3::y(), Vector3::z(), -Vector3::z()];
    match source.byte() {
        0..=119 => source.one(&axes),
        120..=169 => {
            let tilt = source.one(&[1.0e-12, 1.0e-9, 1.0e-7, 1.0e-5, 1.0e-3, 0.01, 0.1, 1.0]);
            source.one(&axes) + source.one(&axes) * tilt + source.one(&axes) * source.one(&[0.0, tilt, 0.5])
        }
        170..=249 => Vector3::from_fn(|_, _| f64::from(source.byte()) - 127.5),
        _ => Vector3::from_fn(|_, _| source.number()),
    }
}

fn planes(name: &str, origin: Vector3<f64>, source: &mut Source<'_>) -> ribwright_kernel::Result<Solid> {
    let mut faces = Vec::new();
    // Mostly within a box, or hardly any set of planes would be closed.
    if source.byte() < 200 {
        let half = Vector3::from_fn(|_, _| 100.0 + 50.0 * f64::from(source.byte() % 16));
        for (k, axis) in [Vector3::x(), Vector3::y(), Vector3::z()].into_iter().enumerate() {
            for side in [1.0, -1.0] {
                let normal: Vector3<f64> = axis * side;
                faces.push((format!("b{}", faces.len()), Point3::from(origin + normal * half[k]), normal));
            }
        }
    }
    for k in 0..source.below(MOST) {
        let (point, normal) = match source.byte() {
            // Through a corner or along an edge of what is there, or parallel to a face of it.
            0..=79 if !faces.is_empty() => {
                let (_, point, normal) = faces[source.below(faces.len())].clone();
                let (_, other, second) = faces[source.below(faces.len())].clone();
                match source.below(3) {
                    0 => (point, normal + second),
                    1 => (other, normal + direction(source) * source.one(&[1.0e-9, 1.0e-6, 1.0e-3])),
                    _ => (point + normal * source.one(&[0.0, 1.0e-9, -1.0e-6, -1.0e-3, -1.0, -50.0]), normal),
                }
            }
            80..=239 => {
                let normal = direction(source);
                (Point3::from(origin + normal.normalize() * source.between(50.0, 900.0)), normal)
            }
            _ => (Point3::from(Vector3::from_fn(|_, _| length(source))), direction(source)),
        };
        faces.push((format!("p{k}"), point, normal));
    }
    Solid::from_planes(name, faces)
}

fn points(name: &str, origin: Vector3<f64>, source: &mut Source<'_>) -> ribwright_kernel::Result<Solid> {
    let count = 4 + source.below(MOST);
    let points: Vec<Point3<f64>> =
        (0..count).map(|_| Point3::from(origin + Vector3::from_fn(|_, _| length(source)))).collect();
    hull(name, &points, None)
}

fn sheets() -> &'static [Arc<Profile>] {
    static SHEETS: OnceLock<Vec<Arc<Profile>>> = OnceLock::new();
    SHEETS.get_or_init(|| {
        let trapezoid = |pitch: f64, depth, crest, valley, thickness, bend_radius| {
            profile(
                "trapezoid",
                &[
                    ("pitch", pitch),
                    ("depth", depth),
                    ("crest", crest),
                    ("valley", valley),
                    ("thickness", thickness),
                    ("bend_radius", bend_radius),
                ],
            )
        };
        [
            profile("flat", &[("thickness", 2.0)]),
            trapezoid(200.0, 40.0, 70.0, 70.0, 2.0, 0.0),
            trapezoid(200.0, 40.0, 70.0, 70.0, 2.0, 6.0),
            trapezoid(150.0, 60.0, 65.0, 65.0, 2.0, 0.0),
            profile("sine", &[("pitch", 150.0), ("depth", 30.0), ("thickness", 1.0)]),
        ]
        .into_iter()
        .map(|sheet| sheet.unwrap_or_else(|e| panic!("{e}")))
        .collect()
    })
}

fn clad(element: &mut Element, source: &mut Source<'_>) {
    let span = element.solid.bounding_box();
    let size = (span[1] - span[0]).norm();
    let edges = element.solid.edges();
    let common = source.byte();
    for k in 0..element.cladding.len() {
        let face = &element.solid.faces[k];
        let (normal, label_point) = (face.normal, face.point);
        let cladding = &mut element.cladding[k];
        let sheet =
            &sheets()[usize::from(if source.byte() < 200 { common } else { source.byte() }) % sheets().len()];
        let too_fine = size / sheet.pitch() > MOST_STRIPS / 20.0;
        cladding.profile = Some(Arc::clone(if too_fine { &sheets()[0] } else { sheet }));
        let along = match source.byte() {
            0..=79 => continue,
            80..=159 if !edges.is_empty() => {
                let edge = &edges[source.below(edges.len())];
                (edge.ends[1] - edge.ends[0])
                    + direction(source) * source.one(&[0.0, 0.0, 1.0e-12, 1.0e-9, 1.0e-6, 1.0e-3])
            }
            _ => direction(source),
        };
        let across = along - normal * along.dot(&normal);
        // Ribs along the normal are refused; that is tried rarely, since it ends the work.
        if across.norm() > 1.0e-3 * along.norm() || source.byte() > 250 {
            cladding.along = Some(along);
        }
        cladding.through = source.one(&[None, Some(label_point), Some(Point3::from(span[0].coords))]);
        cladding.phase = match source.byte() {
            0..=99 => 0.0,
            100..=149 => 35.0,
            150..=199 => sheet.pitch() / 2.0,
            _ => source.between(-300.0, 300.0),
        };
        cladding.datum = source.one(&[Datum::Middle, Datum::Middle, Datum::Crest, Datum::Valley]);
    }
}
