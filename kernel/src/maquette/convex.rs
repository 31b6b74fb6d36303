//! What is known of elements beforehand: they are convex, and `outside` rows say which hand they have.

use super::flat::{Flat, at, middle};
use super::net::Net;
use super::readings::Readings;
use super::refuse::listed;
use crate::error::{Error, Result};
use nalgebra::DVector;

/// Elements may be dented by this share of the size and still count as convex when figures are compared.
pub(super) const DENT: f64 = 0.02;

/// Whether a figure or its mirror image is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Hand {
    Right,
    Mirror,
    /// Nothing tells.
    Open,
}

/// An `outside` row: three points of the net, and the points whose middle lies inside.
pub(super) struct Triple {
    three: [usize; 3],
    inside: Vec<usize>,
}

/// Points of an element in a net, or all points where it has no faces.
pub(super) fn points_of(net: &Net, readings: &Readings, element: &str) -> Vec<usize> {
    let of = net.face_index.iter().zip(&net.faces).filter(|(f, _)| readings.faces[**f].element == element);
    let mut all: Vec<usize> = of.flat_map(|(_, corners)| corners.iter().copied()).collect();
    all.sort_unstable();
    all.dedup();
    if all.is_empty() { (0..net.count()).collect() } else { all }
}

/// The `outside` rows of a net.
///
/// # Errors
/// Three points that are not in one face, or in faces of two elements.
pub(super) fn triples(net: &Net, readings: &Readings) -> Result<Vec<Triple>> {
    let place = |p: usize| net.points.iter().position(|q| *q == p);
    let mut all = Vec::new();
    for three in &readings.outside {
        let [Some(a), Some(b), Some(c)] = three.map(place) else {
            if three.iter().any(|p| place(*p).is_some()) {
                return Err(not_of_a_face(three, readings));
            }
            continue;
        };
        if net.faces.is_empty() {
            all.push(Triple { three: [a, b, c], inside: (0..net.count()).collect() });
            continue;
        }
        let holds = |face: &Vec<usize>| [a, b, c].iter().all(|p| face.contains(p));
        let mut elements: Vec<&str> = net
            .faces
            .iter()
            .zip(&net.face_index)
            .filter(|(face, _)| holds(face))
            .map(|(_, &f)| readings.faces[f].element.as_str())
            .collect();
        elements.dedup();
        match elements.as_slice() {
            [one] => {
                let mut inside = points_of(net, readings, one);
                let holds_all = |face: &Vec<usize>| inside.iter().all(|p| face.contains(p));
                if net.faces.iter().any(holds_all) {
                    // Its one face does not say where its inside is: alone, all points do.
                    if net.face_index.iter().any(|&f| readings.faces[f].element != *one) {
                        return Err(Error::input(format!(
                            "outside: {} are of the only face of {one} that is named, so that nothing says where its \
                             inside is",
                            names(three, readings)
                        ))
                        .remedy("name its other faces, with all their corners"));
                    }
                    inside = (0..net.count()).collect();
                }
                all.push(Triple { three: [a, b, c], inside });
            }
            [] => return Err(not_of_a_face(three, readings)),
            [one, two, ..] => {
                return Err(Error::input(format!(
                    "outside: {} lie in faces of both {one} and {two}",
                    names(three, readings)
                ))
                .remedy("give three points of a face that only one element has"));
            }
        }
    }
    Ok(all)
}

fn names(three: &[usize; 3], readings: &Readings) -> String {
    listed(three.iter().map(|&p| readings.points[p].as_str()))
}

fn not_of_a_face(three: &[usize; 3], readings: &Readings) -> Error {
    Error::input(format!("outside: {} are not points of one face", names(three, readings)))
        .remedy("give three points of one face, counter-clockwise as seen from outside")
}

/// The side of the inside: above 0 where the three run counter-clockwise seen from outside.
fn side(triple: &Triple, x: &DVector<f64>) -> f64 {
    let [a, b, c] = triple.three.map(|p| at(x, p));
    let normal = (b - a).cross(&(c - a));
    normal.dot(&(a - middle(x, &triple.inside)))
}

/// The hand of a figure; none where the rows contradict one another.
pub(super) fn hand(triples: &[Triple], x: &DVector<f64>) -> Option<Hand> {
    let right = triples.iter().filter(|t| side(t, x) > 0.0).count();
    match (right, triples.len()) {
        (_, 0) => Some(Hand::Open),
        (r, n) if r == n => Some(Hand::Right),
        (0, _) => Some(Hand::Mirror),
        _ => None,
    }
}

/// The error where `outside` rows contradict one another at x.
pub(super) fn contradiction(net: &Net, triples: &[Triple], x: &DVector<f64>, names: &[String]) -> Error {
    let (right, wrong): (Vec<&Triple>, Vec<&Triple>) = triples.iter().partition(|t| side(t, x) > 0.0);
    let fewer = if right.len() < wrong.len() { right } else { wrong };
    let rows = fewer.iter().map(|t| {
        let [a, b, c] = t.three.map(|p| names[net.points[p]].as_str());
        format!("\"outside, {a}, {b}, {c}\"")
    });
    let rows: Vec<String> = rows.collect();
    Error::input(format!(
        "the rows of outside contradict one another: {}",
        listed(rows.iter().map(String::as_str))
    ))
    .remedy("look at these faces from outside again: the points must run counter-clockwise")
}

/// Three points to ask the hand by: of a face of one element only, if there is one.
pub(super) fn three(net: &Net) -> [usize; 3] {
    let once = |face: &Vec<usize>| {
        net.faces.iter().filter(|other| face.iter().filter(|p| other.contains(p)).count() >= 3).count() == 1
    };
    let face = net.faces.iter().find(|f| once(f)).or(net.faces.first());
    face.map_or([0, 1, 2], |f| [f[0], f[1], f[2]])
}

/// How far points of an element lie outside its faces, at the worst, mm.
pub(super) fn dent(net: &Net, readings: &Readings, x: &DVector<f64>) -> f64 {
    let mut worst: f64 = 0.0;
    for (face, &index) in net.faces.iter().zip(&net.face_index) {
        let normal = Flat::one(face).normal(x);
        let foot = middle(x, face);
        let (mut over, mut under): (f64, f64) = (0.0, 0.0);
        for p in points_of(net, readings, &readings.faces[index].element) {
            if !face.contains(&p) {
                let height = normal.dot(&(at(x, p) - foot));
                (over, under) = (over.max(height), under.max(-height));
            }
        }
        worst = worst.max(over.min(under));
    }
    worst
}
