//! The picture of the spine: two elevations with the elements, the openings and the legs, measured.

use super::super::sketch::{Seen, letters};
use super::fit::{Fitted, Prepared};
use crate::drawing::{Drawing, Label, Layer, Path};
use crate::lettering;
use crate::tube::mitre::Leg;
use crate::work::Work;
use nalgebra::{Point3, Vector3};

/// Distance between lines of writing, in letters.
const LINES: f64 = 1.9;
/// Room between the work and the writing beside it, in letters.
const BESIDE: f64 = 2.5;
/// Letters the column of words beside an elevation takes.
const COLUMN: f64 = 3.0;

/// What is written beside a place.
struct Note {
    at: [f64; 2],
    text: String,
}

pub(super) fn drawing(work: &Work, prepared: &Prepared, fitted: &Fitted) -> Drawing {
    let built = &fitted.built;
    let mut drawing = Drawing {
        name: "spine".to_owned(),
        title: format!(
            "Spine of tube {}: seen from the south with its legs, and from the east with mitres and openings",
            built.tube.words()
        ),
        ..Drawing::default()
    };
    let vertices: Vec<Point3<f64>> = work
        .sculpture
        .elements
        .iter()
        .flat_map(|e| e.solid.vertices())
        .chain(built.points.iter().copied())
        .collect();
    let range = |axis: &Vector3<f64>| {
        vertices
            .iter()
            .map(|p| p.coords.dot(axis))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(x), h.max(x)))
    };
    let (x, y, z) = (Vector3::x(), Vector3::y(), Vector3::z());
    let ([x0, x1], [y0, y1], [z0, z1]) =
        (<[f64; 2]>::from(range(&x)), <[f64; 2]>::from(range(&y)), <[f64; 2]>::from(range(&z)));
    let size = (x1 - x0 + y1 - y0).max(z1 - z0);
    let height = letters(size);
    let leg_notes: Vec<(Point3<f64>, String)> = fitted
        .legs
        .iter()
        .enumerate()
        .map(|(k, leg)| {
            let [a, b] = leg.ends.map(|e| e.at);
            (nalgebra::center(&a, &b), format!("leg {}: {:.0}", k + 1, leg.centre))
        })
        .collect();
    let mut joint_notes: Vec<(Point3<f64>, String)> = Vec::new();
    for (k, turn) in fitted.turns.iter().enumerate() {
        joint_notes.push((built.points[k + 1], format!("mitre {:.1}°", turn.to_degrees() / 2.0)));
    }
    for p in &fitted.passed {
        joint_notes.push((p.at, prepared.openings()[p.opening].gate.name().to_owned()));
    }
    let mut left = 0.0;
    let views =
        [(x, y, [x0, x1], &leg_notes, "from the south"), (y, -x, [y0, y1], &joint_notes, "from the east")];
    for (right, into, [low, high], notes, name) in views {
        let mut seen = Seen { drawing: &mut drawing, axes: [right, z], at: [left - low, -z0.min(0.0)] };
        elements(&mut seen, work, &into);
        for opening in prepared.openings() {
            let corners: Vec<[f64; 2]> = opening.gate.corners().iter().map(|p| seen.place(p)).collect();
            seen.drawing.paths.push(Path::closed(Layer::Mark, corners));
        }
        for pair in built.points.windows(2) {
            seen.line(Layer::Helper, &pair[0], &pair[1]);
        }
        for leg in &fitted.legs {
            tube(&mut seen, leg, built.tube.outside() / 2.0, &into);
        }
        let column = left + (high - low) + BESIDE * height;
        let placed: Vec<Note> =
            notes.iter().map(|(p, text)| Note { at: seen.place(p), text: text.clone() }).collect();
        let widest = placed.iter().map(|n| lettering::width(&n.text, height)).fold(0.0, f64::max);
        beside(&mut drawing, placed, column, height);
        let middle = left + (high - low) / 2.0;
        drawing.labels.push(Label {
            at: [middle, -BESIDE * height],
            height,
            angle: 0.0,
            centred: true,
            text: name.to_owned(),
        });
        drawing
            .paths
            .push(Path::open(Layer::Helper, vec![[left, -z0.min(0.0)], [left + high - low, -z0.min(0.0)]]));
        left = column + widest + COLUMN * height;
    }
    drawing
}

/// Edges of the elements on the side that is seen.
fn elements(seen: &mut Seen, work: &Work, into: &Vector3<f64>) {
    for element in &work.sculpture.elements {
        let faces = &element.solid.faces;
        for edge in element.solid.edges() {
            if edge.faces.iter().any(|f| faces[*f].normal.dot(into) < 0.0) {
                seen.line(Layer::Fold, &edge.ends[0], &edge.ends[1]);
            }
        }
    }
}

/// The outline of a leg: its two sides as they are seen, and its two cuts.
fn tube(seen: &mut Seen, leg: &Leg, radius: f64, into: &Vector3<f64>) {
    let d = leg.direction.into_inner();
    let Some(aside) = d.cross(into).try_normalize(f64::MIN_POSITIVE) else { return };
    // Along the axis from where it meets the cut to the cut on a line of the outside.
    let on = |end: usize, side: Vector3<f64>| {
        let e = &leg.ends[end];
        let more = e.long.map_or(0.0, |l| l.dot(&side)) * radius * e.cut.tan();
        e.at + side * radius + d * if end == 0 { -more } else { more }
    };
    let corners = [on(0, aside), on(1, aside), on(1, -aside), on(0, -aside)];
    for k in 0..4 {
        seen.line(Layer::Cut, &corners[k], &corners[(k + 1) % 4]);
    }
}

/// Notes in a column, each with a line to its place, none over another.
fn beside(drawing: &mut Drawing, mut notes: Vec<Note>, column: f64, height: f64) {
    notes.sort_by(|a, b| b.at[1].total_cmp(&a.at[1]));
    let mut ceiling = f64::INFINITY;
    for note in notes {
        let y = note.at[1].min(ceiling - LINES * height);
        ceiling = y;
        drawing.paths.push(Path::open(Layer::Helper, vec![note.at, [column - height * 0.6, y]]));
        drawing.labels.push(Label {
            at: [column, y - height / 2.0],
            height,
            angle: 0.0,
            centred: false,
            text: note.text,
        });
    }
}
