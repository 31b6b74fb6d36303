//! Pictures of the frame: the first modes, and the work under the wind that moves it most, with movements drawn larger
//! than they are by a factor that is written beside them.

use super::findings::{from, swings};
use crate::drawing::{Drawing, Label, Layer, Path};
use crate::polygon::hull;
use crate::sway::{Figures, Sway};
use crate::work::Work;
use nalgebra::{Point3, Vector3, Vector6};
use std::collections::BTreeSet;

/// Modes that are drawn.
const MODES: usize = 3;
/// The greatest movement is drawn as this share of the work's height.
const SHOWN: f64 = 0.1;
/// Height of letters as a share of the work.
const LETTERS: f64 = 1.0 / 40.0;
/// Modes whose greatest movement, mm, is below this do not move.
const STILL: f64 = 1.0e-12;

pub(super) fn all(work: &Work, sway: &Sway, figures: &Figures) -> Vec<Drawing> {
    let mut drawings = Vec::new();
    if let Some(worst) = figures.greatest_sway().filter(|w| w.figure > 0.0) {
        let solved = &figures.sides[worst.side];
        let what = &figures.what[worst.side];
        let seen = View::new(sway, from(what) + 90.0);
        let scale = round_down(seen.height * SHOWN / worst.figure);
        let title = format!(
            "Sway under {}, movements drawn {scale} times larger: the top of {} by {:.1} mm",
            what.words(),
            sway.carried().name(worst.element),
            worst.figure
        );
        let mut drawing = seen.drawing("frame-sway", title);
        seen.figure(&mut drawing, sway, figures, &figures.rest.nodes, 0.0, &WHERE_IT_IS);
        seen.figure(&mut drawing, sway, figures, &solved.nodes, scale, &WHERE_IT_GOES);
        seen.ground(&mut drawing);
        let wind = &sway.carried().wind;
        let height = wind.ways.get(worst.side).map_or(wind.push.height, |way| way.height);
        seen.arrow(&mut drawing, format!("{:.1}°", from(what)), height);
        drawings.push(drawing);
    }
    for (k, mode) in figures.modes.iter().take(MODES).enumerate() {
        let all = figures.elements.iter().filter_map(|e| {
            let corners = work.sculpture.elements[*e].solid.vertices();
            let most = corners.filter_map(|p| sway.moved(&mode.shape, *e, &p));
            most.max_by(|a, b| a.norm().total_cmp(&b.norm()))
        });
        let Some(most) = all.max_by(|a, b| a.norm().total_cmp(&b.norm())).filter(|u| u.norm() > STILL) else {
            continue;
        };
        // Seen square to where it goes.
        let seen = View::new(sway, most.y.atan2(most.x).to_degrees() - 90.0);
        let scale = seen.height * SHOWN / most.norm();
        let (who, how) = swings(sway, figures, mode);
        let title = format!(
            "Mode {}: {:.2} Hz, {who} {how}; drawn with a movement of a tenth of the height, a mode has no size of its own",
            k + 1,
            mode.frequency
        );
        let mut drawing = seen.drawing(&format!("frame-mode-{}", k + 1), title);
        seen.figure(&mut drawing, sway, figures, &mode.shape, 0.0, &WHERE_IT_IS);
        seen.figure(&mut drawing, sway, figures, &mode.shape, -scale, &THE_OTHER_WAY);
        seen.figure(&mut drawing, sway, figures, &mode.shape, scale, &WHERE_IT_GOES);
        seen.ground(&mut drawing);
        drawings.push(drawing);
    }
    drawings
}

/// Layers of elements and of the spine.
struct Lines {
    element: Layer,
    spine: Layer,
    tube: bool,
}

const WHERE_IT_IS: Lines = Lines { element: Layer::Helper, spine: Layer::Helper, tube: false };
const WHERE_IT_GOES: Lines = Lines { element: Layer::Fold, spine: Layer::Seam, tube: true };
const THE_OTHER_WAY: Lines = Lines { element: Layer::Helper, spine: Layer::Fold, tube: false };

/// The work seen level from a direction.
struct View {
    right: Vector3<f64>,
    middle: Point3<f64>,
    height: f64,
    bounds: [[f64; 2]; 2],
}

impl View {
    /// Seen from a direction, degrees.
    fn new(sway: &Sway, from: f64) -> Self {
        let (sin, cos) = from.to_radians().sin_cos();
        let right = Vector3::new(-sin, cos, 0.0);
        let middle = sway.axis().points()[0];
        let mut seen =
            Self { right, middle, height: 0.0, bounds: [[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]] };
        let mut points: Vec<Point3<f64>> = sway.axis().points().to_vec();
        for e in sway.elements() {
            points.extend(sway.carried().solid(e).vertices());
        }
        for p in &points {
            let [x, y] = seen.place(p);
            let [low, high] = seen.bounds;
            seen.bounds = [[low[0].min(x), low[1].min(y)], [high[0].max(x), high[1].max(y)]];
        }
        seen.height = seen.bounds[1][1] - seen.bounds[0][1];
        seen
    }

    fn place(&self, p: &Point3<f64>) -> [f64; 2] {
        [(p - self.middle).dot(&self.right), p.z]
    }

    fn drawing(&self, name: &str, title: String) -> Drawing {
        Drawing { name: name.to_owned(), title, ..Drawing::default() }
    }

    /// Elements and spine, moved by so many times what the nodes move.
    fn figure(
        &self,
        drawing: &mut Drawing,
        sway: &Sway,
        figures: &Figures,
        nodes: &[Vector6<f64>],
        scale: f64,
        lines: &Lines,
    ) {
        for &e in &figures.elements {
            let corners = sway.carried().solid(e).vertices().map(|p| {
                let by = sway.moved(nodes, e, &p).unwrap_or_default();
                self.place(&(p + by * scale))
            });
            let outline = hull(corners.collect());
            if outline.len() > 2 {
                drawing.paths.push(Path::closed(lines.element, outline));
            }
        }
        let frame = sway.frame();
        let line: Vec<[f64; 2]> = sway
            .line()
            .iter()
            .map(|&n| self.place(&(frame.nodes[n].at + nodes[n].fixed_rows::<3>(0) * scale)))
            .collect();
        if lines.tube {
            // Kinks and collars as dots.
            let ways = sway.axis().along().iter().chain(sway.holds.iter().flatten());
            let at: BTreeSet<usize> = ways.map(|w| nearest(sway, *w)).collect();
            let r = self.height * LETTERS / 4.0;
            for n in at {
                drawing
                    .paths
                    .push(Path::closed(Layer::Mark, (0..12).map(|k| circle(line[n], r, k)).collect()));
            }
        }
        drawing.paths.push(Path::open(lines.spine, line));
    }

    fn ground(&self, drawing: &mut Drawing) {
        let [lo, hi] = self.bounds;
        let aside = self.height * SHOWN * 1.5;
        let z = self.middle.z;
        drawing.paths.push(Path::open(Layer::Helper, vec![[lo[0] - aside, z], [hi[0] + aside, z]]));
    }

    /// What pushes, from the left, at its height.
    fn arrow(&self, drawing: &mut Drawing, text: String, z: f64) {
        let letters = self.height * LETTERS;
        let end = [self.bounds[0][0] - 2.0 * letters, z];
        let start = [end[0] - self.height * 0.15, end[1]];
        drawing.paths.push(Path::open(Layer::Cut, vec![start, end]));
        for side in [-1.0, 1.0] {
            let tip = [end[0] - letters, end[1] + side * letters * 0.5];
            drawing.paths.push(Path::open(Layer::Cut, vec![end, tip]));
        }
        drawing.labels.push(Label {
            at: [start[0], start[1] + letters * 0.6],
            height: letters,
            angle: 0.0,
            centred: false,
            text,
        });
    }
}

fn nearest(sway: &Sway, way: f64) -> usize {
    let p = sway.axis().at(way);
    let frame = sway.frame();
    let apart = |n: usize| (frame.nodes[n].at - p).norm();
    sway.line().iter().copied().min_by(|a, b| apart(*a).total_cmp(&apart(*b))).unwrap_or(0)
}

fn circle(c: [f64; 2], r: f64, k: u32) -> [f64; 2] {
    let (sin, cos) = (std::f64::consts::TAU * f64::from(k) / 12.0).sin_cos();
    [c[0] + r * cos, c[1] + r * sin]
}

/// A round factor: 1, 2 or 5 times a power of ten, not above x.
fn round_down(x: f64) -> f64 {
    let power = 10.0_f64.powf(x.log10().floor());
    [5.0, 2.0, 1.0].into_iter().map(|k| k * power).find(|k| *k <= x).unwrap_or(power)
}
