//! Faces of parts whose faces nobody named: those of the hull of their points.

use super::flat::{Flat, at, middle};
use super::readings::{Face, Readings, Source};
use super::refuse::listed;
use super::solve::{Part, Solved};
use crate::finding::{Finding, Level};
use nalgebra::DVector;

/// A point lies in a face where it is off by no more than so many times what is known of it.
const OFF: f64 = 2.0;
/// Three points span a plane if the triangle is this share of the size squared.
const SPAN: f64 = 1.0e-3;

/// Names the faces of parts without any: each such part becomes one element, the hull of its points, with faces `f1`,
/// `f2`, … from the lowest. Corners that lie in one plane as far as is known are one face; `flat` is the standard
/// deviation of a corner from its face, mm.
pub fn name_faces(readings: &mut Readings, solved: &Solved, flat: f64) -> Vec<Finding> {
    let mut findings = Vec::new();
    for part in &solved.parts {
        let has_faces = readings.faces.iter().any(|f| f.corners.iter().any(|p| part.points.contains(p)));
        if has_faces || part.points.len() < 4 {
            continue;
        }
        let free = |name: &String| !readings.faces.iter().any(|f| f.element == *name);
        let letters = ('A'..='Z').map(String::from).chain((1..).map(|k| format!("E{k}")));
        let Some(element) = letters.into_iter().find(free) else { continue };
        let faces = hull(part, solved, flat);
        let inner: Vec<&str> = part
            .points
            .iter()
            .filter(|p| !faces.iter().any(|f| f.contains(p)))
            .map(|&p| solved.points[p].name.as_str())
            .collect();
        let mut message =
            format!("no faces are named: they are those of the hull of its points, {} of them", faces.len());
        if !inner.is_empty() {
            message.push_str(&format!("; inside of it: {}", listed(inner.into_iter())));
        }
        findings.push(Finding::new(
            Level::Note,
            "hull",
            element.clone(),
            message,
            "name the faces if it has others, or stands for several elements: face, A/east, P1, P2, P3, P4",
        ));
        readings.faces.extend(faces.into_iter().enumerate().map(|(k, corners)| Face {
            element: element.clone(),
            label: format!("f{}", k + 1),
            corners,
            ribs: None,
            source: Source { what: "hull of the points".to_owned(), ..Source::default() },
        }));
    }
    findings
}

/// The faces of the hull of a part's points, by points, the lowest first.
fn hull(part: &Part, solved: &Solved, flat: f64) -> Vec<Vec<usize>> {
    let of = &part.points;
    let x =
        DVector::from_iterator(3 * of.len(), of.iter().flat_map(|&p| solved.points[p].at.coords.data.0[0]));
    let n = of.len();
    let foot = middle(&x, &(0..n).collect::<Vec<_>>());
    let size = (0..n).map(|p| (at(&x, p) - foot).norm()).fold(0.0, f64::max);
    let known = |p: usize| OFF * (flat + solved.points[of[p]].axes[0]);
    let mut found: Vec<Vec<usize>> = Vec::new();
    for a in 0..n {
        for b in a + 1..n {
            for c in b + 1..n {
                if found.iter().any(|f| [a, b, c].iter().all(|p| f.contains(p))) {
                    continue;
                }
                let normal = (at(&x, b) - at(&x, a)).cross(&(at(&x, c) - at(&x, a)));
                if normal.norm() <= SPAN * size * size {
                    continue;
                }
                let on = |three: &[usize]| -> Option<Vec<usize>> {
                    let (unit, foot) = (Flat::one(three).normal(&x), middle(&x, three));
                    let off: Vec<f64> = (0..n).map(|p| unit.dot(&(at(&x, p) - foot))).collect();
                    let one_side = (0..n).all(|p| off[p] <= known(p)) || (0..n).all(|p| off[p] >= -known(p));
                    one_side.then(|| (0..n).filter(|&p| off[p].abs() <= known(p)).collect())
                };
                let Some(corners) = on(&[a, b, c]) else { continue };
                found.push(on(&corners).filter(|more| more.len() >= corners.len()).unwrap_or(corners));
            }
        }
    }
    // Two faces share two corners at most; larger ones go first.
    found.sort_by(|a, b| b.len().cmp(&a.len()).then(a.cmp(b)));
    let mut faces: Vec<Vec<usize>> = Vec::new();
    for face in found {
        if faces.iter().all(|f| face.iter().filter(|p| f.contains(p)).count() <= 2) {
            faces.push(face);
        }
    }
    faces.sort_by(|a, b| middle(&x, a).z.total_cmp(&middle(&x, b).z).then(a.cmp(b)));
    faces.into_iter().map(|f| f.into_iter().map(|p| of[p]).collect()).collect()
}
