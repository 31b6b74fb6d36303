//! Parts with the dimensions a tape can check: overall, from the datum line and the left edge to each corner,
//! and diagonals; and the rib of the sheet.
//!
//! The outline is that of the blank, for that is what is cut. A corner is where the neighbour across the edge
//! changes; the waves of an edge are no corners. Figures are mm.

use crate::drawing::{Drawing, Label, Layer, Path};
use crate::lettering;
use crate::output::Output;
use crate::part::{Part, PartKind};
use crate::profile::Profile;
use crate::template::Template;
use crate::template::room::{Tilted, Words};
use crate::work::Work;
use rayon::prelude::*;

/// Height of figures on the page, mm; the next round scale may make it a third smaller.
const LETTERS: f64 = 3.1;
/// Width and height of a page of A4 between its margins, mm.
const PAGE: [f64; 2] = [190.0, 263.0];
/// Height of figures of a closure strip, and width and height of the room it has in the job book, two in a row, mm.
const STRIP_LETTERS: f64 = 2.4;
const STRIP_ROOM: [f64; 2] = [84.0, 66.0];
/// Distance of dimension lines, and of the first one from the part, in heights of figures.
const LANE: f64 = 2.3;
/// Length of an arrow head, in heights of figures.
const ARROW: f64 = 1.0;
/// Most lines beside each other on one side.
const LANES: u32 = 40;
/// An edge shorter than this share of the outline's length has no corners of its own.
const SHORT_EDGE: f64 = 0.04;
/// Corners nearer to each other than this share of the part's size are one.
const SAME_CORNER: f64 = 0.05;
/// Most corners that get dimensions; of more, those that stand out least are left out.
const CORNERS: usize = 8;
/// Lengths below this are not worth a figure, mm.
const NOTHING: f64 = 0.5;
/// Width of the picture of the rib, in heights of figures.
const RIB: f64 = 24.0;

/// One drawing for each part that has templates.
pub(super) fn drawings(work: &Work, output: &Output) -> Vec<Drawing> {
    output
        .templates
        .par_iter()
        .filter_map(|made| {
            let part = work.parts.get(made.part)?;
            let flat = &made.templates[made.to_cut()?];
            let drawing = dimensioned(part, flat)?;
            Some(Drawing { name: format!("part-{}", made.stem), ..drawing })
        })
        .collect()
}

/// The drawing of one part from its flat outline.
fn dimensioned(part: &Part, flat: &Template) -> Option<Drawing> {
    let outlines: Vec<&Path> = flat.drawing.on(Layer::Cut).collect();
    let mut drawing =
        Drawing { title: format!("{}, dimensions of the {}", part.id, flat.kind), ..Drawing::default() };
    drawing.paths.extend(outlines.iter().map(|&p| p.clone()));
    let [low, high] = drawing.bounds()?;
    let size = [high[0] - low[0], high[1] - low[1]];
    let corners = match part.kind {
        PartKind::Sheet { .. } => corners(part, &outlines, size[0].hypot(size[1])),
        PartKind::Closure { .. } => Vec::new(),
    };
    let letters = letters(size, corners.len(), &part.kind);
    let mut page = Page { drawing, letters, texts: Vec::new(), lines: Vec::new(), dims: Vec::new() };
    page.diagonals(&corners);
    page.reach_corners(&corners, flat.datum, [low, high]);
    if outlines.len() > 1 && matches!(part.kind, PartKind::Closure { .. }) {
        for lens in &outlines {
            let xs = || lens.points.iter().map(|p| p[0]);
            let span = [xs().fold(f64::INFINITY, f64::min), xs().fold(f64::NEG_INFINITY, f64::max)];
            page.measure([span[0], low[1]], [span[1], low[1]], 0, -1.0, low[1]);
        }
    }
    page.measure([low[0], low[1]], [high[0], low[1]], 0, -1.0, low[1]);
    page.measure([low[0], low[1]], [low[0], high[1]], 1, -1.0, low[0]);
    if let Some(y) = flat.datum {
        page.datum(y, [low[0], high[0]]);
    }
    for layer in [Layer::BendDown, Layer::BendUp] {
        for path in flat.drawing.on(layer).filter(|p| p.points.len() == 2) {
            page.broken(layer, [path.points[0], path.points[1]]);
        }
    }
    page.heading(part, flat);
    if let PartKind::Sheet { profile, .. } = &part.kind
        && !profile.is_flat()
    {
        page.rib(profile);
    }
    Some(page.drawing)
}

/// Height of figures with which the drawing of a part, with all its lines around it, fills a page.
#[allow(clippy::cast_precision_loss, reason = "few corners")]
fn letters(size: [f64; 2], corners: usize, kind: &PartKind) -> f64 {
    let lanes = (corners as f64 / 2.0 + 2.0) * LANE;
    let is_sheet = matches!(kind, PartKind::Sheet { .. });
    let below = if is_sheet { 22.0 } else { 8.0 };
    let mut letters = 0.0;
    // Each round adds what the lines take at the size of figures found before.
    for _ in 0..8 {
        let (w, h) = (size[0] + 2.0 * lanes * letters, size[1] + (1.5 * lanes + below) * letters);
        letters = if is_sheet {
            LETTERS * (w / PAGE[0]).max(h / PAGE[1]).min((w / PAGE[1]).max(h / PAGE[0]))
        } else {
            STRIP_LETTERS * (w / STRIP_ROOM[0]).max(h / STRIP_ROOM[1])
        };
    }
    letters
}

/// A run of edges with one neighbour: which, from where, to where, how long.
type Run = (Option<usize>, [f64; 2], [f64; 2], f64);

/// Corners of the largest outline, in order round it.
fn corners(part: &Part, outlines: &[&Path], size: f64) -> Vec<[f64; 2]> {
    let largest = (0..outlines.len()).max_by(|&a, &b| outlines[a].length().total_cmp(&outlines[b].length()));
    let Some((outline, tags)) = largest.and_then(|i| Some((outlines[i], part.edges.get(i)?))) else {
        return Vec::new();
    };
    let count = outline.points.len();
    if tags.len() != count {
        return Vec::new();
    }
    let start = (0..count).find(|&i| tags[i] != tags[(i + count - 1) % count]).unwrap_or(0);
    let mut runs: Vec<Run> = Vec::new();
    for k in 0..count {
        let i = (start + k) % count;
        let (a, b) = (outline.points[i], outline.points[(i + 1) % count]);
        let length = distance(a, b);
        match runs.last_mut().filter(|r| r.0 == tags[i]) {
            Some(run) => (run.2, run.3) = (b, run.3 + length),
            None => runs.push((tags[i], a, b, length)),
        }
    }
    let all: f64 = runs.iter().map(|r| r.3).sum();
    runs.retain(|r| r.3 >= SHORT_EDGE * all);
    let mut found: Vec<[f64; 2]> = Vec::new();
    let mut add = |p: [f64; 2]| {
        if found.iter().all(|q| distance(*q, p) > SAME_CORNER * size) {
            found.push(p);
        }
    };
    for (i, run) in runs.iter().enumerate() {
        let before = &runs[(i + runs.len() - 1) % runs.len()];
        if before.0 != run.0 || distance(before.2, run.1) > SAME_CORNER * size {
            add(before.2);
            add(run.1);
        }
    }
    let weight = |points: &[[f64; 2]], i: usize| {
        let n = points.len();
        let (a, b, c) = (points[(i + n - 1) % n], points[i], points[(i + 1) % n]);
        ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])).abs()
    };
    while found.len() > CORNERS {
        let least = (0..found.len()).min_by(|&a, &b| weight(&found, a).total_cmp(&weight(&found, b)));
        found.remove(least.unwrap_or(0));
    }
    found
}

/// Grams for what is lighter than 0.1 kg.
fn mass_words(kilograms: f64) -> String {
    /// What lighter parts weigh is said in grams, kg.
    const LIGHT: f64 = 0.1;
    if kilograms < LIGHT { format!("{:.0} g", kilograms * 1000.0) } else { format!("{kilograms:.2} kg") }
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    (b[0] - a[0]).hypot(b[1] - a[1])
}

/// A length as a figure: tenths of a millimetre, no more decimals than it has.
fn figure(length: f64) -> String {
    let text = format!("{length:.1}");
    text.strip_suffix(".0").map(str::to_owned).unwrap_or(text)
}

/// A drawing with what is taken in it.
struct Page {
    drawing: Drawing,
    letters: f64,
    texts: Vec<Tilted>,
    lines: Vec<[[f64; 2]; 2]>,
    dims: Vec<Tilted>,
}

impl Page {
    fn is_free(&self, area: &Tilted) -> bool {
        let grown = area.grown(0.25 * self.letters);
        !self.texts.iter().any(|t| t.touches(&grown)) && !self.lines.iter().any(|l| grown.meets(*l))
    }

    fn line(&mut self, line: [[f64; 2]; 2]) {
        self.drawing.paths.push(Path::open(Layer::Helper, line.to_vec()));
        self.lines.push(line);
    }

    /// A dimension line with its arrows.
    fn arrows(&mut self, [a, b]: [[f64; 2]; 2]) {
        self.line([a, b]);
        let length = distance(a, b);
        let d = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
        let head = (ARROW * self.letters).min(length / 3.0);
        for (tip, way) in [(a, 1.0), (b, -1.0)] {
            let wing =
                |side: f64| [0, 1].map(|i| tip[i] + way * head * d[i] + side * head * 0.2 * [-d[1], d[0]][i]);
            self.drawing.paths.push(Path::open(Layer::Mark, vec![wing(1.0), tip, wing(-1.0)]));
        }
    }

    fn write(&mut self, words: &Words, at: [f64; 2], angle: f64) {
        self.texts.push(words.area(at, self.letters, angle));
        self.drawing.labels.push(words.label(at, self.letters, angle));
    }

    /// The distance of two points along an axis.
    fn measure(&mut self, from: [f64; 2], to: [f64; 2], axis: usize, side: f64, base: f64) {
        let length = (to[axis] - from[axis]).abs();
        self.dimension(from, to, axis, side, base, &figure(length));
    }

    /// A dimension line along an axis, on that side of `base`, in the first lane that is free.
    fn dimension(&mut self, from: [f64; 2], to: [f64; 2], axis: usize, side: f64, base: f64, text: &str) {
        let h = self.letters;
        let length = (to[axis] - from[axis]).abs();
        if length < NOTHING {
            return;
        }
        let point = |along: f64, level: f64| if axis == 0 { [along, level] } else { [level, along] };
        let words = Words::new(text);
        let width = words.width() * h;
        let angle = if axis == 0 { 0.0 } else { 90.0 };
        // Over the line, read from below or from the right.
        let clear = if text.contains(char::is_alphabetic) { 1.2 * h } else { 0.85 * h };
        let over = if axis == 0 { clear } else { -clear };
        let (low, high) = (from[axis].min(to[axis]), from[axis].max(to[axis]));
        for lane in 0..LANES {
            let level = base + side * (1.7 + LANE * f64::from(lane)) * h;
            let line = [point(from[axis], level), point(to[axis], level)];
            let band = Tilted::around(line, 0.8 * h);
            let extensions = [from, to].map(|p| {
                let off = 0.4 * h * (level - p[1 - axis]).signum();
                [point(p[axis], p[1 - axis] + off), point(p[axis], level + 0.6 * h * side)]
            });
            let mine = [line, extensions[0], extensions[1]];
            if self.dims.iter().any(|d| d.touches(&band))
                || mine.iter().any(|l| self.texts.iter().any(|t| t.grown(0.2 * h).meets(*l)))
            {
                continue;
            }
            let middle = f64::midpoint(low, high);
            let places = if width + 0.6 * h < length {
                [
                    point(middle, level + over),
                    point(low + length * 0.3, level + over),
                    point(low + length * 0.7, level + over),
                ]
            } else {
                let aside = width / 2.0 + 0.8 * h;
                [point(high + aside, level), point(low - aside, level), point(high + aside + h, level)]
            };
            let free = |at: &[f64; 2]| {
                let area = words.area(*at, h, angle);
                self.is_free(&area) && !mine.iter().any(|l| area.grown(0.1 * h).meets(*l))
            };
            let Some(at) = places.into_iter().find(free) else { continue };
            for e in extensions {
                self.line(e);
            }
            self.arrows(line);
            self.dims.push(band);
            self.write(&words, at, angle);
            return;
        }
    }

    /// From the datum line and from the left edge to each corner, shorter ones nearer to the part.
    fn reach_corners(&mut self, corners: &[[f64; 2]], datum: Option<f64>, [low, high]: [[f64; 2]; 2]) {
        let middle = [f64::midpoint(low[0], high[0]), f64::midpoint(low[1], high[1])];
        if let Some(y) = datum {
            let mut sorted = corners.to_vec();
            sorted.sort_by(|a, b| (a[1] - y).abs().total_cmp(&(b[1] - y).abs()));
            for p in sorted {
                let (side, base) = if p[0] < middle[0] { (-1.0, low[0]) } else { (1.0, high[0]) };
                self.measure([base, y], p, 1, side, base);
            }
        }
        let mut sorted = corners.to_vec();
        sorted.sort_by(|a, b| a[0].total_cmp(&b[0]));
        // The overall width stands there anyway.
        for p in sorted.into_iter().filter(|p| p[0] < high[0] - NOTHING) {
            let (side, base) = if p[1] < middle[1] { (-1.0, low[1]) } else { (1.0, high[1]) };
            self.measure([low[0], base], p, 0, side, base);
        }
    }

    /// The two longest lines between corners that are no neighbours; of three corners the sides.
    fn diagonals(&mut self, corners: &[[f64; 2]]) {
        let n = corners.len();
        let mut pairs: Vec<[usize; 2]> = Vec::new();
        for i in 0..n {
            for j in i + 1..n {
                if n == 3 || (j - i > 1 && j - i < n - 1) {
                    pairs.push([i, j]);
                }
            }
        }
        let length = |p: &[usize; 2]| distance(corners[p[0]], corners[p[1]]);
        pairs.sort_by(|a, b| length(b).total_cmp(&length(a)));
        if let (Some(&[i, j]), true) = (pairs.first(), n > 3) {
            // The second one runs between the corners on both sides of the first.
            let crosses = |p: &&[usize; 2]| {
                let within = |k: usize| k > i && k < j;
                ![i, j].contains(&p[0]) && ![i, j].contains(&p[1]) && within(p[0]) != within(p[1])
            };
            let second = pairs[1..].iter().find(crosses).copied();
            pairs = [Some([i, j]), second].into_iter().flatten().collect();
        }
        let lines: Vec<[[f64; 2]; 2]> = pairs.iter().map(|p| p.map(|i| corners[i])).collect();
        for &line in &lines {
            self.arrows(line);
        }
        for [a, b] in lines {
            let words = Words::new(&figure(distance(a, b)));
            let (a, b) = if a[0] < b[0] { (a, b) } else { (b, a) };
            let angle = (b[1] - a[1]).atan2(b[0] - a[0]).to_degrees();
            let (sin, cos) = angle.to_radians().sin_cos();
            let places = [0.3, 0.7, 0.25, 0.75, 0.35, 0.65, 0.2, 0.8].into_iter().flat_map(|share| {
                [1.0, -1.0].map(|side| {
                    let off = side * 1.0 * self.letters;
                    [a[0] + (b[0] - a[0]) * share - sin * off, a[1] + (b[1] - a[1]) * share + cos * off]
                })
            });
            let free = |at: &[f64; 2]| self.is_free(&words.area(*at, self.letters, angle));
            if let Some(at) = places.into_iter().find(free) {
                self.write(&words, at, angle);
            }
        }
    }

    /// A line that leaves out what is written.
    fn broken(&mut self, layer: Layer, [a, b]: [[f64; 2]; 2]) {
        let length = distance(a, b);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "bounded")]
        let count = (length / (0.5 * self.letters)).ceil().clamp(1.0, 400.0) as u32;
        let at = |k: u32| {
            let share = f64::from(k) / f64::from(count);
            [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share]
        };
        let mut from = None;
        for k in 0..=count {
            let covered = k == count
                || self.texts.iter().any(|t| t.grown(0.25 * self.letters).meets([at(k), at(k + 1)]));
            match (covered, from) {
                (false, None) => from = Some(k),
                (true, Some(start)) => {
                    self.drawing.paths.push(Path::open(layer, vec![at(start), at(k)]));
                    from = None;
                }
                _ => {}
            }
        }
    }

    /// The datum line across the part, with its name.
    fn datum(&mut self, y: f64, [left, right]: [f64; 2]) {
        let words = Words::new("DATUM");
        let places = [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8].into_iter().flat_map(|share| {
            [0.9, -0.9].map(|side| [left + (right - left) * share, y + side * self.letters])
        });
        let free = |at: &[f64; 2]| self.is_free(&words.area(*at, self.letters, 0.0));
        if let Some(at) = places.into_iter().find(free) {
            self.write(&words, at, 0.0);
        }
        self.broken(Layer::Mark, [[left, y], [right, y]]);
    }

    /// The part's name and what it is made of, above everything.
    fn heading(&mut self, part: &Part, flat: &Template) {
        let Some([low, high]) = lettering::extents(&self.drawing) else { return };
        let h = self.letters;
        let sheet = match &part.kind {
            PartKind::Sheet { profile, .. } => {
                format!("{} {} mm", profile.kind(), figure(profile.thickness()))
            }
            PartKind::Closure { thickness } => format!("closure strip, flat {} mm", figure(*thickness)),
        };
        let bends = flat.bends.iter().filter(|b| b.drawn).count();
        let bends = if bends > 0 { format!(", {bends} bend lines") } else { String::new() };
        let note = format!("{sheet}{bends}, {}; {}, outside up; mm", mass_words(part.mass), flat.kind);
        for (text, height, up) in [(note, h, 1.6), (part.id.clone(), 1.6 * h, 3.4)] {
            let at = [low[0], high[1] + up * h];
            self.drawing.labels.push(Label { at, height, angle: 0.0, centred: false, text });
        }
    }

    /// One pitch of the sheet with its measures, below everything.
    fn rib(&mut self, profile: &Profile) {
        let Some([low, _]) = lettering::extents(&self.drawing) else { return };
        let h = self.letters;
        let (pitch, half) = (profile.pitch(), profile.thickness() / 2.0);
        let k = RIB * h / pitch;
        let tall = (profile.depth() + 2.0 * half) * k;
        // Room for the figure of the pitch above.
        let origin = [low[0] + h, low[1] - 5.5 * h - tall / 2.0];
        let mut stations = vec![0.0];
        stations.extend(profile.strips().iter().map(|s| s.t[1]));
        let at = |t: f64, offset: f64| {
            let [x, y] = profile.on_skin(t, offset);
            [origin[0] + x * k, origin[1] + y * k]
        };
        let outside = stations.iter().map(|&t| at(t, half));
        let outline: Vec<[f64; 2]> = outside.chain(stations.iter().rev().map(|&t| at(t, -half))).collect();
        self.drawing.paths.push(Path::closed(Layer::Mark, outline));
        let (first, last) = (at(0.0, half), at(pitch, half));
        self.dimension(first, last, 0, 1.0, first[1], &format!("pitch {}", figure(pitch)));
        let valley = [last[0], last[1] - profile.depth() * k];
        self.dimension(valley, last, 1, 1.0, last[0], &format!("depth {}", figure(profile.depth())));
        let radius = profile.bend_radius();
        let radius = if radius > 0.0 {
            format!("bend radius {} inside", figure(radius))
        } else {
            "sharp folds".to_owned()
        };
        let texts = [
            // In two lines: the longer one would make the whole picture smaller.
            "rib, outside up,".to_owned(),
            "not to scale".to_owned(),
            format!("thickness {}", figure(profile.thickness())),
            radius,
        ];
        let x = origin[0] + RIB * h + 7.0 * h;
        for (i, text) in (0_u32..).zip(texts) {
            let place = [x, origin[1] + (2.1 - 1.7 * f64::from(i)) * h];
            self.drawing.labels.push(Label { at: place, height: h, angle: 0.0, centred: false, text });
        }
    }
}
