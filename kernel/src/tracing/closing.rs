//! Closing errors: what two tracings say of one edge, faces drawn too large, and residuals after the solve.

use super::assemble::Assembly;
use super::fold::lay;
use super::matching::Side;
use super::read::TracedFace;
use crate::error::{Error, Result};
use crate::finding::{Finding, Level};
use nalgebra::Point3;
use std::collections::BTreeSet;

/// A difference of more than this many standard deviations is a finding: it comes up by chance once in a thousand
/// (two-sided normal; W. Baarda, "A testing procedure for use in geodetic networks", 1968).
const CRITICAL: f64 = 3.29;
/// Lengths below this, mm, are written as 0: half of the last decimal.
const SHOWN: f64 = 5.0e-4;
/// A face is too large or small only if this share of what does not close is gone with it set right.
const EXPLAINED: f64 = 0.5;

/// An edge as two faces show it.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeClosing {
    /// The two faces.
    pub faces: [String; 2],
    /// Its name, where it has one.
    pub name: Option<String>,
    /// Number of the face in [`Assembly::faces`] and of its edge, either side.
    pub sides: [Side; 2],
    /// Its length on either face, mm.
    pub lengths: [f64; 2],
    /// Standard deviations of these, mm.
    pub deviations: [f64; 2],
}

impl EdgeClosing {
    /// The closing error: length on the first face less length on the second, mm.
    pub fn error(&self) -> f64 {
        self.lengths[0] - self.lengths[1]
    }

    /// Its standard deviation, mm.
    pub fn deviation(&self) -> f64 {
        self.deviations[0].hypot(self.deviations[1])
    }

    /// `A/east~A/top`, with the edge's name where it has one.
    pub fn place(&self) -> String {
        let faces = self.faces.join("~");
        self.name.as_ref().map_or(faces.clone(), |name| format!("{faces} ({name})"))
    }
}

/// How far a corner of a face lies from its point once the face is laid on as well as it will.
#[derive(Debug, Clone, PartialEq)]
pub struct CornerClosing {
    /// The face.
    pub face: String,
    /// Name of the point.
    pub point: String,
    /// Distance, mm.
    pub off: f64,
    /// Standard deviation of the corner as traced, all directions together, mm.
    pub deviation: f64,
}

/// What remains between tracings and solved points.
#[derive(Debug, Clone, PartialEq)]
pub struct Residuals {
    /// Per edge, in the order of [`Assembly::edges`]: solved length less length traced, on either face, mm.
    pub edges: Vec<[f64; 2]>,
    /// Per corner of each face, in the order of [`Assembly::faces`].
    pub corners: Vec<CornerClosing>,
}

impl Assembly {
    /// Closing errors against solved points, which stand in the order of [`crate::maquette::Readings::points`].
    pub fn residuals(&self, points: &[Point3<f64>]) -> Residuals {
        let at: Vec<Vec<usize>> = (0..self.faces.len()).map(|f| self.corners_of(f)).collect();
        let solved = |(f, k): Side| {
            let own = &at[f];
            (points[own[(k + 1) % own.len()]] - points[own[k]]).norm()
        };
        let edges = self.edges.iter().map(|e| [0, 1].map(|s| solved(e.sides[s]) - e.lengths[s])).collect();
        let mut corners = Vec::new();
        for (face, own) in self.faces.iter().zip(&at) {
            let outline: Vec<[f64; 2]> = face.corners.iter().map(|c| c.at).collect();
            let on: Vec<Point3<f64>> = own.iter().map(|p| points[*p]).collect();
            for ((laid, there), (corner, p)) in
                lay(&outline, &on).iter().zip(&on).zip(face.corners.iter().zip(own))
            {
                let c = &corner.covariance;
                let name = self.points.iter().find(|point| point.index == *p);
                corners.push(CornerClosing {
                    face: face.id(),
                    point: name.map(|n| n.name.clone()).unwrap_or_default(),
                    off: (laid - there).norm(),
                    deviation: (c[0][0] + c[1][1]).sqrt(),
                });
            }
        }
        Residuals { edges, corners }
    }
}

/// Closing errors as CSV, mm: edges with their two lengths, then corners with how far their face stays off the point;
/// before the solve (faces against each other) and after it (against the solved points).
///
/// # Errors
/// Bugs of ours only: writing to memory does not fail.
pub fn closing_csv(assembly: &Assembly, residuals: &Residuals) -> Result<Vec<u8>> {
    let broken = |e: csv::Error| Error::bug(format!("the table of closing errors cannot be written: {e}"));
    let mut writer = csv::Writer::from_writer(Vec::new());
    let head = [
        "what",
        "face",
        "other face or point",
        "traced",
        "traced on the other",
        "closing error",
        "deviation",
    ];
    let solved = ["solved less traced", "solved less traced on the other"];
    writer.write_record(head.iter().chain(&solved)).map_err(broken)?;
    let text = |x: f64| format!("{:.3}", if x.abs() < SHOWN { 0.0 } else { x });
    for (edge, [own, other]) in assembly.edges.iter().zip(&residuals.edges) {
        let what = edge.name.as_ref().map_or("edge".to_owned(), |name| format!("edge {name}"));
        let [a, b] = &edge.faces;
        let [la, lb] = edge.lengths.map(text);
        let row = [text(edge.error()), text(edge.deviation()), text(*own), text(*other)];
        writer.write_record([what, a.clone(), b.clone(), la, lb].iter().chain(&row)).map_err(broken)?;
    }
    for corner in &residuals.corners {
        let same = |c: &&CornerClosing| c.face == corner.face && c.point == corner.point;
        let before = assembly.corners.iter().find(same).map(|c| text(c.off)).unwrap_or_default();
        let row = [before, text(corner.deviation), text(corner.off)];
        let named = ["corner", &corner.face, &corner.point, "", ""].map(str::to_owned);
        writer.write_record(named.iter().chain(&row).chain(&[String::new()])).map_err(broken)?;
    }
    writer.into_inner().map_err(|e| Error::bug(e.to_string()))
}

/// Faces drawn too large or too small, and edges that do not close for another reason.
pub(super) fn findings(edges: &[EdgeClosing], faces: &[TracedFace]) -> Vec<Finding> {
    let mut made = Vec::new();
    // Factors by which the lengths of a face are set right, found one at a time, the surest first.
    let mut factor = vec![1.0; faces.len()];
    let mut right: BTreeSet<usize> = BTreeSet::new();
    let w = |e: &EdgeClosing, factor: &[f64]| {
        let [a, b] = [0, 1].map(|s| e.lengths[s] / factor[e.sides[s].0]);
        (a - b) / e.deviation()
    };
    let squares = |factor: &[f64]| -> f64 { edges.iter().map(|e| w(e, factor).powi(2)).sum() };
    while let Some((f, found, deviation)) = (0..faces.len())
        .filter(|f| !right.contains(f))
        .filter_map(|f| scale(f, edges, &factor))
        .max_by(|a, b| ((a.1 - 1.0) / a.2).abs().total_cmp(&((b.1 - 1.0) / b.2).abs()))
    {
        if (found - 1.0).abs() <= CRITICAL * deviation {
            break;
        }
        // Best against all others, not only the surest of itself: the one that takes most away.
        let without = |f: usize, found: f64| {
            let mut tried = factor.clone();
            tried[f] *= found;
            squares(&tried)
        };
        let before = squares(&factor);
        if without(f, found) > EXPLAINED * before {
            break;
        }
        factor[f] *= found;
        right.insert(f);
        let percent = 100.0 * (found - 1.0);
        let (size, by) = if percent > 0.0 { ("large", percent) } else { ("small", -percent) };
        made.push(Finding::new(
            Level::Warning,
            "tracing-scale",
            faces[f].id(),
            format!(
                "the face is drawn {by:.1} % too {size} against the faces round it (± {:.1} %)",
                100.0 * deviation
            ),
            "look at the scale of its scan or print, and trace it again",
        ));
    }
    for edge in edges {
        let w = w(edge, &factor);
        if w.abs() > CRITICAL {
            made.push(Finding::new(
                Level::Warning,
                "tracing-edge",
                edge.place(),
                format!(
                    "the edge is {:.2} mm long on {} and {:.2} mm on {}, which is {:.1} standard deviations apart",
                    edge.lengths[0],
                    edge.faces[0],
                    edge.lengths[1],
                    edge.faces[1],
                    w.abs()
                ),
                "measure the edge, and trace the face that is wrong again",
            ));
        }
    }
    made
}

/// How many times too large a face is drawn by its edges, and the standard deviation of that.
fn scale(f: usize, edges: &[EdgeClosing], factor: &[f64]) -> Option<(usize, f64, f64)> {
    // Least squares of own = k · other over its edges.
    let (mut top, mut bottom) = (0.0, 0.0);
    for e in edges {
        let Some(own) = (0..2).find(|s| e.sides[*s].0 == f) else { continue };
        let [a, b] = [own, 1 - own].map(|s| e.lengths[s] / factor[e.sides[s].0]);
        let weight = e.deviation().powi(-2);
        top += weight * a * b;
        bottom += weight * b * b;
    }
    (bottom > 0.0).then(|| (f, top / bottom, bottom.powf(-0.5)))
}
