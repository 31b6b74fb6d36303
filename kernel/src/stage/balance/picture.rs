//! Pictures of the balance: angles to tipping all round, and the work seen square to its weakest direction with the
//! lines of its loads.

use crate::balance::{Balance, Level as Joint};
use crate::drawing::{Drawing, Label, Layer, Path};
use crate::silhouette::Silhouettes;
use crate::work::Work;
use std::f64::consts::TAU;

/// Page of the polar picture, mm: a degree is a millimetre.
const RINGS: [f64; 6] = [5.0, 15.0, 30.0, 45.0, 60.0, 75.0];
/// Angles beyond this are drawn there.
const MOST: f64 = 80.0;
/// Height of letters, mm.
const LETTERS: f64 = 3.6;
/// Height of letters as a share of the work.
const LETTERS_OF_WORK: f64 = 1.0 / 40.0;

pub(super) fn drawings(work: &Work, balance: &Balance) -> Vec<Drawing> {
    if balance.levels.iter().all(|l| l.load.mass <= 0.0) || work.mesh.triangles.is_empty() {
        return Vec::new();
    }
    vec![polar(balance), elevation(work, balance)]
}

fn label(at: [f64; 2], height: f64, text: impl Into<String>) -> Label {
    Label { at, height, angle: 0.0, centred: true, text: text.into() }
}

/// A point at a compass direction, degrees, and a distance.
fn out(toward: f64, r: f64) -> [f64; 2] {
    let (sin, cos) = toward.to_radians().sin_cos();
    [r * cos, r * sin]
}

fn polar(balance: &Balance) -> Drawing {
    let mut drawing = Drawing {
        name: "balance-polar".to_owned(),
        title: "Angle to tipping in every direction, north up; thick: on the ground, thin: the joints"
            .to_owned(),
        diagram: true,
        ..Drawing::default()
    };
    for ring in RINGS {
        let points = (0..72).map(|k| out(5.0 * f64::from(k), ring)).collect();
        drawing.paths.push(Path::closed(Layer::Helper, points));
        drawing.labels.push(label(out(82.0, ring + 2.0), LETTERS * 0.8, format!("{ring:.0}°")));
    }
    for (k, name) in ["east", "north", "west", "south"].into_iter().enumerate() {
        #[allow(clippy::cast_precision_loss, reason = "four")]
        let toward = 90.0 * k as f64;
        drawing.paths.push(Path::open(Layer::Helper, vec![[0.0; 2], out(toward, MOST)]));
        let aside = if k % 2 == 0 { 8.0 } else { 4.0 };
        drawing.labels.push(label(out(toward, MOST + aside), LETTERS, name));
    }
    for (i, level) in balance.levels.iter().enumerate() {
        let layer = if i == 0 { Layer::Seam } else { Layer::Fold };
        let points = (0..120)
            .map(|k| {
                let toward = 3.0 * f64::from(k);
                out(toward, level.support.angle(&level.load.centre, toward).clamp(0.0, MOST))
            })
            .collect();
        drawing.paths.push(Path::closed(layer, points));
        let [angle, toward] = level.least_angle;
        let end = out(toward, angle.clamp(0.0, MOST));
        drawing.paths.push(Path::open(Layer::Mark, vec![[0.0; 2], end]));
        // Names in a column beside the rings, each with its least angle.
        #[allow(clippy::cast_precision_loss, reason = "a few levels")]
        let y = MOST - 2.0 * LETTERS * i as f64;
        drawing.labels.push(Label {
            at: [MOST + 20.0, y],
            height: LETTERS,
            angle: 0.0,
            centred: false,
            text: format!("{}: {angle:.1}° toward {toward:.0}°", level.name),
        });
    }
    drawing
}

/// The work seen so that its weakest direction is to the right.
fn elevation(work: &Work, balance: &Balance) -> Drawing {
    let toward = balance.ground().least_angle[1];
    let mut drawing = Drawing {
        name: "balance-elevation".to_owned(),
        title: format!("Lines of the loads; {toward:.0}° is to the right"),
        ..Drawing::default()
    };
    // Seen from 90° before it, that direction is to the right.
    let outline = Silhouettes::new(&work.mesh).from(toward - 90.0);
    for line in outline.lines() {
        drawing.paths.push(Path::open(Layer::Seam, line));
    }
    let Some([lo, hi]) = drawing.bounds() else { return drawing };
    let letters = (hi[1] - lo[1]).max(hi[0] - lo[0]) * LETTERS_OF_WORK;
    let (sin, cos) = toward.to_radians().sin_cos();
    let right = |x: f64, y: f64| x * cos + y * sin;
    let foot = balance.lowest;
    drawing
        .paths
        .push(Path::open(Layer::Helper, vec![[lo[0] - 3.0 * letters, foot], [hi[0] + 3.0 * letters, foot]]));
    for (i, level) in balance.levels.iter().enumerate() {
        let c = level.load.centre;
        let x = right(c.x, c.y);
        let z = support_height(level);
        let layer = if i == 0 { Layer::Cut } else { Layer::Mark };
        drawing.paths.push(Path::open(layer, vec![[x, c.z], [x, z - if i == 0 { letters } else { 0.0 }]]));
        let r = letters * 0.5;
        drawing.paths.push(Path::closed(layer, (0..16).map(|k| circle([x, c.z], r, k)).collect()));
        let across = level.support.corners.iter().map(|p| right(p.x, p.y));
        let (from, to) = across.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)));
        if from < to {
            drawing.paths.push(Path::open(layer, vec![[from, z], [to, z]]));
            for end in [from, to] {
                drawing.paths.push(Path::open(layer, vec![[end, z - r], [end, z + r]]));
            }
        }
        let margin =
            if level.margin.is_finite() { format!("{:.0} mm", level.margin) } else { "none".to_owned() };
        drawing.labels.push(Label {
            at: [hi[0] + 2.0 * letters, if i == 0 { foot + 0.4 * letters } else { z }],
            height: letters,
            angle: 0.0,
            centred: false,
            text: format!("{}: {:.0} kg, margin {margin}", level.name, level.load.mass),
        });
    }
    drawing
}

fn circle(c: [f64; 2], r: f64, k: u32) -> [f64; 2] {
    let (sin, cos) = (TAU * f64::from(k) / 16.0).sin_cos();
    [c[0] + r * cos, c[1] + r * sin]
}

fn support_height(level: &Joint) -> f64 {
    #[allow(clippy::cast_precision_loss, reason = "a few corners")]
    let n = level.support.corners.len().max(1) as f64;
    level.support.corners.iter().map(|c| c.z).sum::<f64>() / n
}
