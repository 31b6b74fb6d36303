//! Traced faces become readings: distances, faces, which side is out, ribs.

use super::closing::{CornerClosing, EdgeClosing, findings};
use super::matching::{Sewing, Side, sew};
use super::read::TracedFace;
use crate::error::{Error, Result};
use crate::finding::{Finding, Level};
use crate::maquette::{Distance, Face, Readings, Ribs};
use std::collections::{BTreeMap, BTreeSet};

/// A point of a maquette where corners of traced faces meet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TracedPoint {
    /// Its name among the readings: as given on a tracing, else element and labels of its faces, `A/east+north+top`.
    pub name: String,
    /// Index into [`Readings::points`].
    pub index: usize,
    /// Corners that meet there: number of the face in [`Assembly::faces`], number of its corner.
    pub corners: Vec<(usize, usize)>,
}

/// Traced faces, sewn.
#[derive(Debug, Clone, PartialEq)]
pub struct Assembly {
    /// The faces, by element and label, counter-clockwise as seen from outside.
    pub faces: Vec<TracedFace>,
    /// The points their corners are.
    pub points: Vec<TracedPoint>,
    /// Edges with their closing errors: the length seen from either side.
    pub edges: Vec<EdgeClosing>,
    /// Corners with their closing errors, the faces folded up as traced; empty for an element whose corners all have
    /// names, which is not folded.
    pub corners: Vec<CornerClosing>,
    /// What to look at: faces drawn from inside or in a wrong size, edges that do not close.
    pub findings: Vec<Finding>,
}

impl Assembly {
    /// The point (index into [`Readings::points`]) of every corner of every face.
    pub fn corners_of(&self, face: usize) -> Vec<usize> {
        let mut made = vec![0; self.faces[face].corners.len()];
        for point in &self.points {
            for &(f, k) in &point.corners {
                if f == face {
                    made[k] = point.index;
                }
            }
        }
        made
    }
}

/// Finds which edges meet and appends what the tracings say to the readings.
///
/// Faces of one element must close to a convex solid, unless all their corners have names. A point named on a tracing is
/// the point of that name in the readings, whichever element or file it is of. Every pair of corners of a face gives a
/// distance; as the n(n − 1)/2 of them only say 2n − 3 things, their deviations are widened so that a face counts once.
///
/// # Errors
/// Edges that pair off in no way or in several (the message lists edges to name), names that contradict each other, faces
/// the readings hold already with other corners. The readings are unchanged then.
pub fn assemble(faces: &[TracedFace], readings: &mut Readings) -> Result<Assembly> {
    let mut elements: BTreeMap<&str, Vec<TracedFace>> = BTreeMap::new();
    for face in faces {
        elements.entry(&face.element).or_default().push(face.clone());
    }
    let mut made = readings.clone();
    let mut whole =
        Assembly { faces: vec![], points: vec![], edges: vec![], corners: vec![], findings: vec![] };
    for (element, mut own) in elements {
        own.sort_by(|a, b| a.label.cmp(&b.label));
        if let Some(pair) = own.windows(2).find(|w| w[0].label == w[1].label) {
            return Err(Error::input(format!("face {} is traced twice", pair[0].id())));
        }
        let named = own.iter().all(|f| f.points.iter().all(Option::is_some));
        let sewing = if named { by_points(&own).map_err(|e| e.at(element))? } else { sew(&own)? };
        append(element, sewing, &mut made, &mut whole).map_err(|e| e.at(element))?;
    }
    whole.findings.extend(findings(&whole.edges, &whole.faces));
    *readings = made;
    Ok(whole)
}

/// Sews faces whose corners all have names: edges with the same ends are one.
fn by_points(faces: &[TracedFace]) -> Result<Sewing> {
    let mut numbers: BTreeMap<&str, usize> = BTreeMap::new();
    let mut points = Vec::new();
    for face in faces {
        let mut own = Vec::new();
        for name in face.points.iter().flatten() {
            let next = numbers.len();
            own.push(*numbers.entry(name).or_insert(next));
        }
        let distinct: BTreeSet<usize> = own.iter().copied().collect();
        if distinct.len() < own.len() {
            return Err(Error::input(format!("two corners of {} bear one name", face.id()))
                .remedy("give each corner its own name"));
        }
        points.push(own);
    }
    let mut runs: BTreeMap<(usize, usize), Side> = BTreeMap::new();
    for (f, own) in points.iter().enumerate() {
        for k in 0..own.len() {
            let ends = (own[k], own[(k + 1) % own.len()]);
            if let Some(other) = runs.insert(ends, (f, k)) {
                return Err(Error::input(format!(
                    "{} and {} pass the edge from {} to {} the same way round",
                    faces[other.0].id(),
                    faces[f].id(),
                    faces[f].points[k].as_deref().unwrap_or_default(),
                    faces[f].points[(k + 1) % own.len()].as_deref().unwrap_or_default()
                ))
                .remedy("trace both from outside, or look for a corner with a wrong name"));
            }
        }
    }
    let pairs = runs
        .iter()
        .filter_map(|(&(a, b), &side)| runs.get(&(b, a)).map(|other| (side, *other)))
        .filter(|(a, b)| a < b)
        .collect();
    let count = numbers.len();
    Ok(Sewing { pairs, points, count, mirrored: Vec::new(), faces: faces.to_vec(), folded: None })
}

fn append(element: &str, sewing: Sewing, readings: &mut Readings, whole: &mut Assembly) -> Result<()> {
    let first = whole.faces.len();
    let points = named_points(element, &sewing, readings, first)?;
    let mut index = vec![0; sewing.count];
    for (number, point) in points.iter().enumerate() {
        index[number] = point.index;
    }
    for (face, own) in sewing.faces.iter().zip(&sewing.points) {
        let at: Vec<usize> = own.iter().map(|p| index[*p]).collect();
        append_face(face, &at, readings)?;
    }
    for &f in &sewing.mirrored {
        whole.findings.push(Finding::new(
            Level::Warning,
            "tracing-mirrored",
            sewing.faces[f].id(),
            "the face is drawn as seen from inside; it was turned over, as the solid closes in no other way",
            "trace faces from outside; turn over its ribs too if they were drawn as seen from outside",
        ));
    }
    if let Some(folded) = &sewing.folded {
        for ((face, own), off) in sewing.faces.iter().zip(&sewing.points).zip(&folded.off) {
            for (k, off) in off.iter().enumerate() {
                let c = &face.corners[k].covariance;
                whole.corners.push(CornerClosing {
                    face: face.id(),
                    point: points[own[k]].name.clone(),
                    off: *off,
                    deviation: (c[0][0] + c[1][1]).sqrt(),
                });
            }
        }
    }
    for (a, b) in &sewing.pairs {
        let ((la, da), (lb, db)) = (sewing.faces[a.0].edge(a.1), sewing.faces[b.0].edge(b.1));
        whole.edges.push(EdgeClosing {
            faces: [sewing.faces[a.0].id(), sewing.faces[b.0].id()],
            name: sewing.faces[a.0].edges[a.1].clone().or_else(|| sewing.faces[b.0].edges[b.1].clone()),
            sides: [(first + a.0, a.1), (first + b.0, b.1)],
            lengths: [la, lb],
            deviations: [da, db],
        });
    }
    whole.points.extend(points);
    whole.faces.extend(sewing.faces);
    Ok(())
}

/// Names the points of an element, those the readings know by their index there.
fn named_points(
    element: &str,
    sewing: &Sewing,
    readings: &mut Readings,
    first: usize,
) -> Result<Vec<TracedPoint>> {
    let mut given: Vec<Option<&str>> = vec![None; sewing.count];
    let mut corners: Vec<Vec<(usize, usize)>> = vec![Vec::new(); sewing.count];
    for (f, own) in sewing.points.iter().enumerate() {
        for (k, &p) in own.iter().enumerate() {
            corners[p].push((f, k));
            let Some(name) = sewing.faces[f].points[k].as_deref() else { continue };
            match given[p] {
                Some(other) if other != name => {
                    return Err(Error::input(format!("one corner is named both {other:?} and {name:?}"))
                        .at(sewing.faces[f].id())
                        .remedy("take one of the names out, or name the edges that meet there"));
                }
                _ => given[p] = Some(name),
            }
        }
    }
    let mut used = BTreeSet::new();
    let mut made = Vec::new();
    for (p, corners) in corners.into_iter().enumerate() {
        let name = match given[p] {
            Some(name) => name.to_owned(),
            None => {
                let labels: BTreeSet<&str> =
                    corners.iter().map(|c| sewing.faces[c.0].label.as_str()).collect();
                format!("{element}/{}", labels.into_iter().collect::<Vec<_>>().join("+"))
            }
        };
        if !used.insert(name.clone()) {
            return Err(Error::input(format!("two corners are named {name:?}"))
                .remedy("give each corner its own name, or name the edges that meet there"));
        }
        let index = readings.points.iter().position(|n| *n == name).unwrap_or_else(|| {
            readings.points.push(name.clone());
            readings.points.len() - 1
        });
        let corners = corners.into_iter().map(|(f, k)| (first + f, k)).collect();
        made.push(TracedPoint { name, index, corners });
    }
    Ok(made)
}

#[allow(clippy::cast_precision_loss, reason = "counts of corners")]
fn append_face(face: &TracedFace, at: &[usize], readings: &mut Readings) -> Result<()> {
    let n = at.len();
    let widened = ((n * (n - 1) / 2) as f64 / (2 * n - 3) as f64).sqrt();
    for i in 0..n {
        for k in i + 1..n {
            let (length, deviation) = face.between(i, k);
            readings.distances.push(Distance {
                between: [at[i], at[k]],
                length,
                deviation: deviation * widened,
                source: face.source.clone(),
            });
        }
    }
    // The three corners that span most: the surest way to tell out from in.
    let c = |k: usize| face.corners[k].at;
    let spans = |[i, j, k]: [usize; 3]| {
        let (a, b, c) = (c(i), c(j), c(k));
        (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    };
    let triples = (0..n).flat_map(|i| (i + 1..n).flat_map(move |j| (j + 1..n).map(move |k| [i, j, k])));
    if let Some(widest) = triples.max_by(|a, b| spans(*a).total_cmp(&spans(*b))) {
        readings.outside.push(widest.map(|k| at[k]));
    }
    let ribs = face.ribs.map(|[through, along]| {
        let (a, b) = (c(0), c(1));
        let l = (b[0] - a[0]).hypot(b[1] - a[1]);
        let x = [(b[0] - a[0]) / l, (b[1] - a[1]) / l];
        let turned = |d: [f64; 2]| [d[0] * x[0] + d[1] * x[1], x[0] * d[1] - x[1] * d[0]];
        Ribs { through: turned([through[0] - a[0], through[1] - a[1]]), along: turned(along) }
    });
    let known = readings.faces.iter_mut().find(|f| f.element == face.element && f.label == face.label);
    if let Some(known) = known {
        let set = |points: &[usize]| points.iter().copied().collect::<BTreeSet<_>>();
        if set(&known.corners) != set(at) {
            return Err(Error::input(format!("face {} has other corners in the readings", face.id()))
                .at(&face.source.file)
                .remedy(
                    "name the corners of the tracing (point_NAME), or leave the face out of the readings",
                ));
        }
        known.corners = at.to_vec();
        known.ribs = ribs.or(known.ribs);
    } else {
        readings.faces.push(Face {
            element: face.element.clone(),
            label: face.label.clone(),
            corners: at.to_vec(),
            ribs,
            source: face.source.clone(),
        });
    }
    Ok(())
}

#[cfg(test)]
mod unit {
    use super::*;
    use crate::tracing::Corner;
    use crate::tracing::matching::mirrored;

    #[test]
    fn turning_a_face_over_twice_gives_it_back() {
        let corner = |x: f64, y: f64| Corner { at: [x, y], covariance: [[0.1, 0.02], [0.02, 0.3]] };
        let name = |n: &str| Some(n.to_owned());
        let face = TracedFace {
            element: "A".to_owned(),
            label: "east".to_owned(),
            corners: vec![corner(0.0, 0.0), corner(50.0, 0.0), corner(0.0, 30.0)],
            edges: vec![name("ab"), name("bc"), name("ca")],
            points: vec![name("a"), name("b"), name("c")],
            ribs: Some([[10.0, 5.0], [0.6, 0.8]]),
            source: crate::maquette::Source::default(),
        };
        let over = mirrored(&face);
        assert_eq!(mirrored(&over), face);
        // Edge ab still joins corners a and b.
        for (edge, ends) in [("ab", ["a", "b"]), ("bc", ["b", "c"]), ("ca", ["c", "a"])] {
            let k = over.edges.iter().position(|e| e.as_deref() == Some(edge)).expect("the edge");
            let found = [k, (k + 1) % 3].map(|k| over.points[k].as_deref().unwrap_or_default());
            assert_eq!([found[1], found[0]], ends, "{edge}");
        }
    }
}
