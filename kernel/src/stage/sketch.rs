//! What the stages on base, plates and lifting draw and list with: measures, lines in space, tables.

use crate::drawing::{Drawing, Label, Layer, Path, signed_area};
use crate::finding::{Finding, Level};
use crate::output::FlatPiece;
use crate::{Error, kerf::Ring};
use nalgebra::{Point3, Vector3};

pub(super) use crate::settings::{choice, count, flag, list, number, optional};
pub(super) use crate::table::{table, text as words};

/// An error as a finding: the work is shown, but must not be built so.
pub(super) fn refused(level: Level, code: &str, place: &str, error: &Error) -> Finding {
    let remedy = error.remedy_text().unwrap_or("change what was asked for");
    Finding::new(level, code, error.place().unwrap_or(place), error.message(), remedy)
}

/// A file stem: letters, digits, dot and dash stay, all else becomes an underscore.
pub(super) fn stem(name: &str) -> String {
    let safe = |c: char| if c.is_ascii_alphanumeric() || c == '.' || c == '-' { c } else { '_' };
    name.chars().map(safe).collect()
}

/// A label in the middle of a place.
pub(super) fn label(at: [f64; 2], height: f64, text: impl Into<String>) -> Label {
    Label { at, height, angle: 0.0, centred: true, text: text.into() }
}

/// Height of letters for a drawing of a size, mm.
pub(super) fn letters(size: f64) -> f64 {
    (size / LETTERS).clamp(LEAST_LETTERS, f64::INFINITY)
}

/// A drawing is so many letters wide.
const LETTERS: f64 = 55.0;
/// Least height of letters, mm.
const LEAST_LETTERS: f64 = 2.5;
/// Distance of measures from what they measure, in letters.
const LANE: f64 = 2.2;

/// Overall measures below and to the right of what is drawn.
pub(super) fn measure(drawing: &mut Drawing, height: f64) {
    let Some([low, high]) = drawing.bounds() else { return };
    let away = height * LANE;
    let (y, x) = (low[1] - away, high[0] + away);
    drawing.paths.push(Path::open(Layer::Helper, vec![[low[0], y], [high[0], y]]));
    drawing.paths.push(Path::open(Layer::Helper, vec![[x, low[1]], [x, high[1]]]));
    for at in [low[0], high[0]] {
        drawing
            .paths
            .push(Path::open(Layer::Helper, vec![[at, low[1] - height / 2.0], [at, y - height / 2.0]]));
    }
    for at in [low[1], high[1]] {
        drawing
            .paths
            .push(Path::open(Layer::Helper, vec![[high[0] + height / 2.0, at], [x + height / 2.0, at]]));
    }
    let middle = [f64::midpoint(low[0], high[0]), f64::midpoint(low[1], high[1])];
    drawing.labels.push(label([middle[0], y - height], height, format!("{:.0}", high[0] - low[0])));
    let side = label([x + height, middle[1]], height, format!("{:.0}", high[1] - low[1]));
    drawing.labels.push(Label { angle: 90.0, ..side });
}

/// Outlines moved so that their lower left corner is at 0, as a flat piece with its name on it.
pub(super) fn flat_piece(
    id: &str,
    stem: &str,
    thickness: f64,
    mass: f64,
    rings: &[Ring],
    name_at: Option<[f64; 2]>,
) -> FlatPiece {
    let mut drawing = Drawing { name: stem.to_owned(), title: id.to_owned(), ..Drawing::default() };
    drawing.paths.extend(rings.iter().map(|r| Path::closed(Layer::Cut, r.clone())));
    let low = drawing.bounds().map_or([0.0; 2], |b| b[0]);
    for p in drawing.paths.iter_mut().flat_map(|p| &mut p.points) {
        *p = [p[0] - low[0], p[1] - low[1]];
    }
    if let (Some(at), Some([_, high])) = (name_at, drawing.bounds()) {
        let height = (high[1] / 12.0).min(high[0] / 30.0).clamp(1.0, 12.0);
        drawing.labels.push(label([at[0] - low[0], at[1] - low[1]], height, id));
    }
    let area = rings.iter().map(|r| signed_area(r)).sum();
    let pieces = rings.iter().filter(|r| signed_area(r) > 0.0).count();
    FlatPiece { id: id.to_owned(), stem: stem.to_owned(), thickness, pieces, area, mass, drawing }
}

/// Lines in space seen square to two axes.
pub(super) struct Seen<'a> {
    pub(super) drawing: &'a mut Drawing,
    /// Right and up.
    pub(super) axes: [Vector3<f64>; 2],
    /// Where the origin of space comes to lie on the page.
    pub(super) at: [f64; 2],
}

impl Seen<'_> {
    pub(super) fn place(&self, p: &Point3<f64>) -> [f64; 2] {
        [self.at[0] + p.coords.dot(&self.axes[0]), self.at[1] + p.coords.dot(&self.axes[1])]
    }

    pub(super) fn line(&mut self, layer: Layer, a: &Point3<f64>, b: &Point3<f64>) {
        let (p, q) = (self.place(a), self.place(b));
        if (p[0] - q[0]).hypot(p[1] - q[1]) > SHORTEST {
            self.drawing.paths.push(Path::open(layer, vec![p, q]));
        }
    }
}

/// Lines shorter than this are points, mm.
const SHORTEST: f64 = 1.0e-3;

/// Rising figures moved apart to at least this distance, each as near to its own place as the others allow.
pub(super) fn spread(wanted: &[f64], apart: f64) -> Vec<f64> {
    // Groups that touch share the mean of what each of their members wants.
    let mut groups: Vec<(f64, usize)> = Vec::new();
    for &x in wanted {
        groups.push((x, 1));
        while let [.., (a, n), (b, m)] = groups[..] {
            #[allow(clippy::cast_precision_loss, reason = "few figures")]
            let [n_, m_] = [n as f64, m as f64];
            if b - a >= apart * (n_ + m_) / 2.0 {
                break;
            }
            groups.pop();
            groups.pop();
            groups.push(((a * n_ + b * m_) / (n_ + m_), n + m));
        }
    }
    let mut found = Vec::with_capacity(wanted.len());
    for (middle, count) in groups {
        #[allow(clippy::cast_precision_loss, reason = "few figures")]
        let first = middle - apart * (count as f64 - 1.0) / 2.0;
        #[allow(clippy::cast_precision_loss, reason = "few figures")]
        found.extend((0..count).map(|k| first + apart * k as f64));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_keep_apart_and_stay_in_order() {
        let found = spread(&[0.0, 1.0, 2.0, 50.0, 100.0, 101.0], 10.0);
        assert!(found.windows(2).all(|w| w[1] - w[0] >= 10.0 - SHORTEST), "{found:?}");
        assert_eq!((found[1], found[3]), (1.0, 50.0), "the middle of a group and a lone figure stay");
    }
}
