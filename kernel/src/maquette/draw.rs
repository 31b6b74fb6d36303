//! The picture of a measured maquette: points, distances and ellipsoids in three views.
//!
//! Shown are the shadows of the 95 % ellipsoids along the view, larger by the stated factor; misreadings are broken
//! lines with a cross and a ring, weak points have a second ring.

use super::readings::Readings;
use super::solve::{Measured, Solved};
use crate::adjust::chi_squared;
use crate::drawing::{Drawing, Label, Layer, Path};
use crate::lettering;
use nalgebra::{Matrix2, Matrix2x3, Vector2};

/// Height of ordinary lettering, as a share of the figure's size.
const TEXT: f64 = 0.03;
/// Factors ellipsoids may be drawn larger by.
const FACTORS: [f64; 10] = [1000.0, 500.0, 200.0, 100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0];
/// The largest is drawn no longer than this share of the size.
const LARGEST: f64 = 0.07;
/// Chords of an ellipse.
const CHORDS: u32 = 36;
/// Dashes of a misreading, as a share of the size.
const DASH: f64 = 0.03;
/// Between views, as a share of the size.
const GAP: f64 = 0.3;

/// Height of names, as a share of ordinary lettering.
const NAME: f64 = 0.8;
/// Directions in which a place for a name is looked for.
const TRIES: u32 = 16;
/// Points nearer on the picture than this share of ordinary lettering are behind one another.
const BEHIND: f64 = 0.6;

/// The three views: name, and what is to the right and up.
const VIEWS: [(&str, [[f64; 3]; 2]); 3] = [
    ("from the front (−y)", [[1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]),
    ("from the right (+x)", [[0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
    ("from above", [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]),
];

/// The picture; `name` is its file stem.
pub fn draw_maquette(name: &str, readings: &Readings, solved: &Solved) -> Drawing {
    let of =
        |i: usize, f: fn(f64, f64) -> f64, from: f64| solved.points.iter().map(|p| p.at[i]).fold(from, f);
    let low: Vec<f64> = (0..3).map(|i| of(i, f64::min, f64::INFINITY)).collect();
    let high: Vec<f64> = (0..3).map(|i| of(i, f64::max, f64::NEG_INFINITY)).collect();
    let size = (0..3).map(|i| high[i] - low[i]).fold(1.0, f64::max);
    let longest = solved.points.iter().map(|p| p.axes[0]).fold(0.0, f64::max);
    let factor = FACTORS.into_iter().find(|f| f * longest <= LARGEST * size).unwrap_or(1.0);
    let mut page = Page {
        drawing: Drawing { name: name.to_owned(), title: format!("maquette {name}"), ..Drawing::default() },
        unit: TEXT * size,
        size,
        factor,
    };
    let mut left = 0.0;
    for (title, axes) in VIEWS {
        let view = Matrix2x3::from_rows(&axes.map(nalgebra::RowVector3::from));
        let corner = |c: &[f64]| view * nalgebra::Vector3::new(c[0], c[1], c[2]);
        let (lo, hi) = (corner(&low), corner(&high));
        // Side by side, each standing on the same line.
        let shift = Vector2::new(left - lo.x, -lo.y);
        page.view(title, &view, shift, readings, solved);
        page.write([left, -4.5 * page.unit], 1.0, title);
        left += hi.x - lo.x + GAP * size;
    }
    let flagged = solved.readings.iter().filter(|c| c.flagged).count();
    let mut lines = vec![
        format!(
            "maquette {name}, not in true size: {} points, {} readings",
            solved.points.len(),
            solved.readings.len()
        ),
        format!(
            "ellipsoids (95 %) are drawn {factor} times as large; the longest semi-axis is {longest:.2} mm"
        ),
    ];
    if flagged > 0 {
        lines.push(format!("broken lines with a cross in a ring: {flagged} misread, to be taken again"));
    }
    if solved.points.iter().any(|p| p.weak) {
        lines.push("points in a double ring are hardly determined".to_owned());
    }
    for (k, line) in lines.iter().enumerate() {
        #[allow(clippy::cast_precision_loss, reason = "a few lines")]
        let y = -(7.0 + 1.8 * k as f64) * page.unit;
        page.write([0.0, y], 1.0, line);
    }
    page.drawing
}

/// A drawing made larger or smaller until it just fits a page, mm; nothing on it is in true size then.
pub fn fitted(mut drawing: Drawing, page: [f64; 2]) -> Drawing {
    let Some([lo, hi]) = lettering::extents(&drawing) else { return drawing };
    let factor =
        (0..2).map(|i| page[i] / (hi[i] - lo[i]).max(f64::MIN_POSITIVE)).fold(f64::INFINITY, f64::min);
    let moved = |p: [f64; 2]| [(p[0] - lo[0]) * factor, (p[1] - lo[1]) * factor];
    for path in &mut drawing.paths {
        path.points.iter_mut().for_each(|p| *p = moved(*p));
    }
    for label in &mut drawing.labels {
        label.at = moved(label.at);
        label.height *= factor;
    }
    drawing
}

struct Page {
    drawing: Drawing,
    unit: f64,
    size: f64,
    factor: f64,
}

impl Page {
    fn write(&mut self, at: [f64; 2], size: f64, text: &str) {
        let label = Label { at, height: size * self.unit, angle: 0.0, centred: false, text: text.to_owned() };
        self.drawing.labels.push(label);
    }

    fn ring(&mut self, layer: Layer, at: Vector2<f64>, shape: Matrix2<f64>) {
        let round = (0..CHORDS).map(|k| {
            let angle = std::f64::consts::TAU * f64::from(k) / f64::from(CHORDS);
            (at + shape * Vector2::new(angle.cos(), angle.sin())).into()
        });
        self.drawing.paths.push(Path::closed(layer, round.collect()));
    }

    fn view(
        &mut self,
        title: &str,
        view: &Matrix2x3<f64>,
        shift: Vector2<f64>,
        readings: &Readings,
        solved: &Solved,
    ) {
        debug_assert!(!title.is_empty());
        let at = |p: usize| view * solved.points[p].at.coords + shift;
        for checked in &solved.readings {
            let ends = match checked.of {
                Measured::Distance(k) => readings.distances[k].between,
                Measured::Height(k) if checked.flagged => [readings.heights[k].point; 2],
                Measured::Angle(k) if checked.flagged => [readings.angles[k].at; 2],
                _ => continue,
            };
            let (a, b) = (at(ends[0]), at(ends[1]));
            if checked.flagged {
                self.misread(a, b);
            } else if (b - a).norm() > 0.0 {
                self.drawing.paths.push(Path::open(Layer::Mark, vec![a.into(), b.into()]));
            }
        }
        let reach = chi_squared(0.95, 3).unwrap_or(0.0).sqrt() * self.factor;
        for (k, point) in solved.points.iter().enumerate() {
            let place = at(k);
            // The shadow of an ellipsoid is the ellipse of the projected covariance.
            let eigen = (view * point.covariance * view.transpose()).symmetric_eigen();
            let axes = eigen.eigenvalues.map(|v| v.max(0.0).sqrt() * reach);
            let shape = eigen.eigenvectors * Matrix2::from_diagonal(&axes);
            self.ring(Layer::Seam, place, shape);
            let dot = Matrix2::identity() * (0.18 * self.unit);
            self.ring(Layer::Seam, place, dot);
            if point.weak {
                self.ring(Layer::Seam, place, dot * 3.0);
                self.ring(Layer::Seam, place, dot * 4.0);
            }
        }
        let places: Vec<Vector2<f64>> = (0..solved.points.len()).map(at).collect();
        let shadows: Vec<Vector2<f64>> = solved
            .points
            .iter()
            .map(|p| {
                let shadow = view * p.covariance * view.transpose();
                shadow.diagonal().map(|v| (v.max(0.0).sqrt() * reach).max(0.3 * self.unit))
            })
            .collect();
        self.names(solved, &places, &shadows);
    }

    /// Names beside their points, outward and where least is in the way; points behind one another share one. `shadows`
    /// are half the extents of the ellipsoids drawn.
    fn names(&mut self, solved: &Solved, places: &[Vector2<f64>], shadows: &[Vector2<f64>]) {
        let height = NAME * self.unit;
        let gap = 0.25 * self.unit;
        let mut groups: Vec<(Vector2<f64>, Vector2<f64>, Vec<usize>)> = Vec::new();
        for (k, (place, shadow)) in places.iter().zip(shadows).enumerate() {
            match groups.iter_mut().find(|(other, ..)| (*other - place).norm() < BEHIND * self.unit) {
                Some((_, extent, group)) => {
                    *extent = extent.sup(shadow);
                    group.push(k);
                }
                None => groups.push((*place, *shadow, vec![k])),
            }
        }
        #[allow(clippy::cast_precision_loss, reason = "a count of points")]
        let middle = places.iter().sum::<Vector2<f64>>() / places.len().max(1) as f64;
        let boxes: Vec<[Vector2<f64>; 2]> = groups.iter().map(|(p, e, _)| [p - e, p + e]).collect();
        let mut taken: Vec<[Vector2<f64>; 2]> = Vec::new();
        for (place, extent, group) in groups {
            let names: Vec<&str> = group.iter().map(|&k| solved.points[k].name.as_str()).collect();
            let text = names.join(", ");
            let half = Vector2::new(lettering::width(&text, height), height) / 2.0;
            let out = (place - middle).try_normalize(0.0).unwrap_or_else(Vector2::y);
            let tries = (0..TRIES).flat_map(|turn| {
                let angle = std::f64::consts::TAU * f64::from(turn) / f64::from(TRIES);
                let way = Vector2::new(angle.cos(), angle.sin());
                [1.0, 2.0, 4.0].map(|far| {
                    let reach = (extent + half).add_scalar(gap * far);
                    // From the middle of the box to its rim in this direction.
                    let along = (reach.x / way.x.abs()).min(reach.y / way.y.abs());
                    (place + way * along, far, way.dot(&out))
                })
            });
            let worth = |&(at, far, outward): &(Vector2<f64>, f64, f64)| {
                let own = [(at - half).add_scalar(-gap), (at + half).add_scalar(gap)];
                let over =
                    |b: &&[Vector2<f64>; 2]| (0..2).all(|i| own[0][i] < b[1][i] && b[0][i] < own[1][i]);
                #[allow(clippy::cast_precision_loss, reason = "counts of boxes")]
                let covered =
                    (taken.iter().filter(over).count() * 3 + boxes.iter().filter(over).count()) as f64;
                covered * 10.0 + far - 2.0 * outward
            };
            let best = tries.min_by(|a, b| worth(a).total_cmp(&worth(b)));
            let Some((at, ..)) = best else { continue };
            taken.push([at - half, at + half]);
            self.write([at.x - half.x, at.y - half.y], NAME, &text);
        }
    }

    /// A broken line with a cross in a ring at its middle.
    fn misread(&mut self, a: Vector2<f64>, b: Vector2<f64>) {
        let length = (b - a).norm();
        let dash = DASH * self.size;
        let mut along = 0.0;
        while along < length {
            let to = (along + 0.6 * dash).min(length);
            let point = |d: f64| (a + (b - a) * (d / length)).into();
            self.drawing.paths.push(Path::open(Layer::Seam, vec![point(along), point(to)]));
            along += dash;
        }
        let middle = (a + b) / 2.0;
        let r = 0.7 * self.unit;
        self.ring(Layer::Seam, middle, Matrix2::identity() * r);
        for side in [1.0, -1.0] {
            let arm = Vector2::new(0.7 * r, 0.7 * r * side);
            self.drawing
                .paths
                .push(Path::open(Layer::Seam, vec![(middle - arm).into(), (middle + arm).into()]));
        }
    }
}
