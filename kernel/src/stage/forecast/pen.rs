//! A page of the forecast being drawn: lines, writing, and the ticks of an axis.

use crate::drawing::{Drawing, Label, Layer, Path};
use crate::lettering;

/// Added before rounding down, so that a whole number of intervals stays one.
const HAIR: f64 = 1.0e-9;

/// A page being drawn: sizes on paper times `unit` are mm of the drawing.
pub(super) struct Pen {
    pub(super) drawing: Drawing,
    pub(super) unit: f64,
}

impl Pen {
    fn at(&self, p: [f64; 2]) -> [f64; 2] {
        p.map(|x| x * self.unit)
    }

    pub(super) fn line(&mut self, layer: Layer, points: &[[f64; 2]]) {
        let points: Vec<[f64; 2]> = points.iter().map(|&p| self.at(p)).collect();
        if points.len() > 1 {
            self.drawing.paths.push(Path::open(layer, points));
        }
    }

    /// Writes with the left end, the middle or the right end (`anchor` 0, 0.5, 1) on the base line at a place.
    pub(super) fn write(&mut self, text: &str, at: [f64; 2], height: f64, anchor: f64) {
        let left = at[0] - anchor * lettering::width(text, height);
        let (at, height) = (self.at([left, at[1]]), height * self.unit);
        self.drawing.labels.push(Label { at, height, angle: 0.0, centred: false, text: text.to_owned() });
    }

    pub(super) fn write_up(&mut self, text: &str, middle: [f64; 2], height: f64) {
        let (at, height) = (self.at(middle), height * self.unit);
        self.drawing.labels.push(Label { at, height, angle: 90.0, centred: true, text: text.to_owned() });
    }
}

/// The largest of 1, 2 and 5 times a power of ten that parts a length into no more than so many intervals, as a
/// number and its decimals.
fn interval(length: f64, most: f64) -> (f64, usize) {
    let raw = (length / most).max(f64::MIN_POSITIVE);
    let power = raw.log10().floor();
    let base = 10.0_f64.powf(power);
    // Rounding may leave a step a hair too small: 10 ends the search.
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|k| k * base).find(|s| *s >= raw).unwrap_or(10.0 * base);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "few decimals")]
    let decimals = (-(step.log10() + HAIR).floor()).max(0.0) as usize;
    (step, decimals)
}

/// Ticks from 0 to a length.
pub(super) fn ticks(length: f64, most: f64) -> Vec<(f64, String)> {
    let (step, decimals) = interval(length, most);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "few ticks")]
    let count = (length / step + HAIR).floor() as u32;
    (0..=count).map(|k| (f64::from(k) * step, format!("{:.decimals$}", f64::from(k) * step))).collect()
}
