//! The picture of a changed part: the old outline dashed, the new one solid, laid on each other as they were compared.

use super::compare::PartChange;
use super::outline::ALIKE;
use super::record::{Bend, PartRecord, bounds};
use crate::drawing::{Drawing, Label, Layer, Path};

/// Height of letters, as a share of the picture's larger side.
const LETTERS: f64 = 0.022;

/// Draws a part before and after. Old lines are dashed: outline ([`Layer::Outline`]) and bends ([`Layer::Helper`]); the
/// new outline is solid, with its bends; a bend that stays is drawn once.
pub fn picture(old: &PartRecord, new: &PartRecord, change: &PartChange) -> Drawing {
    let [dx, dy] = change.laid_mm;
    let moved = |o: &Vec<[f64; 2]>| o.iter().map(|p| [p[0] + dx, p[1] + dy]).collect::<Vec<_>>();
    let before: Vec<Vec<[f64; 2]>> = old.outlines_mm.iter().map(moved).collect();
    let mut paths = Vec::new();
    let outline = |layer: Layer, points: &Vec<[f64; 2]>| Path { layer, points: points.clone(), closed: true };
    let spans = [bounds(&before), bounds(&new.outlines_mm)];
    let upright = |layer: Layer, x: f64, [lo, hi]: [[f64; 2]; 2]| Path {
        layer,
        points: vec![[x, lo[1]], [x, hi[1]]],
        closed: false,
    };
    let bend = |angle: f64| if angle > 0.0 { Layer::BendUp } else { Layer::BendDown };
    // Two lines of dashes on each other would read as a third kind.
    let stays = |b: &Bend| {
        let same = |c: &Bend| (c.across_mm - b.across_mm - dx).abs() <= ALIKE && c.angle_deg == b.angle_deg;
        new.bends.iter().any(same)
    };
    let gone = old.bends.iter().filter(|b| !stays(b));
    paths.extend(gone.map(|b| upright(Layer::Helper, b.across_mm + dx, spans[0])));
    paths.extend(new.bends.iter().map(|b| upright(bend(b.angle_deg), b.across_mm, spans[1])));
    paths.extend(before.iter().map(|o| outline(Layer::Outline, o)));
    paths.extend(new.outlines_mm.iter().map(|o| outline(Layer::Cut, o)));
    paths.retain(|p| p.points.len() >= if p.closed { 3 } else { 2 });
    let by = change.changed_by_mm.map(|mm| format!("by {mm:.2} mm"));
    let words: Vec<String> = by.into_iter().chain(change.why.iter().cloned()).collect();
    let lines = [format!("{}: changed {}", change.id, words.join("; ")), LEGEND.to_owned()];
    let lo = [0, 1].map(|k| spans[0][0][k].min(spans[1][0][k]));
    let hi = [0, 1].map(|k| spans[0][1][k].max(spans[1][1][k]));
    let height = LETTERS * (hi[0] - lo[0]).max(hi[1] - lo[1]).max(1.0);
    let labels = (1..).zip(lines).map(|(k, text)| Label {
        at: [lo[0], hi[1] + height * (5.0 - 2.0 * f64::from(k))],
        height,
        angle: 0.0,
        centred: false,
        text,
    });
    Drawing { name: change.id.clone(), title: change.id.clone(), labels: labels.collect(), paths, diagram: false }
}

const LEGEND: &str = "old outline dashed, new outline solid";
