//! A drawing of a surveyed sheet, to pin on the workshop wall.
//!
//! Seen from above, the start end on the left and the right-hand edge below. Folds are drawn where they are, their
//! departures from the nominal profile exaggerated; below, a section at each station, seen from the start end.

use super::departure::Worst;
use super::fit::{BAND, Check, FittedSheet, Kind};
use super::{Fold, SurveyedSheet};
use crate::drawing::{Drawing, Label, Layer, Path};
use crate::lettering;

/// Factors a departure may be drawn larger by.
const FACTORS: [f64; 5] = [20.0, 10.0, 5.0, 2.0, 1.0];
/// Neighbouring folds stay apart by at least this share of their nominal distance when exaggerated.
const APART: f64 = 0.35;
/// Heights of sections are drawn larger by this.
const HEIGHTS: f64 = 2.5;
/// Lettering heights as shares of the sheet's length: at the page's scale some 3 mm.
const TEXT: f64 = 1.0 / 105.0;
/// From the middle of a fold's label to the next, as a multiple of the lettering.
const LEADING: f64 = 1.0;
/// Between hatch lines of a damage, as a multiple of the lettering.
const HATCH: f64 = 0.9;
/// Chords of a circle round a misreading.
const CHORDS: u32 = 24;

/// The drawing of a sheet.
pub fn draw_sheet(fitted: &FittedSheet) -> Drawing {
    let sheet = &*fitted.sheet;
    let title = format!("sheet {}", sheet.name);
    let mut page = Page {
        drawing: Drawing { name: file_stem(&sheet.name), title, ..Drawing::default() },
        sheet,
        unit: sheet.length * TEXT,
        factor: factor(sheet),
        shift: shift(sheet),
    };
    page.plan(fitted);
    let below = page.sections(fitted);
    page.legend(fitted, below);
    page.drawing
}

/// A sheet's name as the stem of a file: letters, digits, `-` and `_`.
pub fn file_stem(name: &str) -> String {
    name.chars().map(|c| if c.is_ascii_alphanumeric() || c == '-' || c == '_' { c } else { '_' }).collect()
}

struct Page<'a> {
    drawing: Drawing,
    sheet: &'a SurveyedSheet,
    /// Height of ordinary lettering, mm of the sheet.
    unit: f64,
    factor: f64,
    /// Where corner 0 of a true sheet lies when it is laid over this one, mm across.
    shift: f64,
}

/// Place of a corner on a true sheet, from corner 0's pitch.
fn corner(sheet: &SurveyedSheet, number: i64) -> [f64; 2] {
    let corners = sheet.nominal.corners();
    let count = i64::try_from(corners.len()).unwrap_or(1).max(1);
    let [t, h] = corners[usize::try_from(number.rem_euclid(count)).unwrap_or(0)];
    #[allow(clippy::cast_precision_loss, reason = "a count of pitches")]
    let pitches = number.div_euclid(count) as f64;
    [t + pitches * sheet.nominal.pitch(), h]
}

/// The shift that lays a true sheet over this one as well as can be: the mean of all folds.
fn shift(sheet: &SurveyedSheet) -> f64 {
    let mut sum = (0.0, 0.0_f64);
    for fold in &sheet.folds {
        for across in &fold.across {
            sum = (sum.0 + across - corner(sheet, fold.corner)[0], sum.1 + 1.0);
        }
    }
    sum.0 / sum.1.max(1.0)
}

/// The largest factor at which no two folds come too close and none leaves the sheet.
fn factor(sheet: &SurveyedSheet) -> f64 {
    let from = shift(sheet);
    let holds = |factor: f64| {
        sheet.folds.windows(2).all(|pair| {
            let nominal = corner(sheet, pair[1].corner)[0] - corner(sheet, pair[0].corner)[0];
            (0..sheet.stations.len()).all(|s| {
                let inside = |fold: &Fold| {
                    let drawn = exaggerated(from + corner(sheet, fold.corner)[0], fold.across[s], factor);
                    drawn > 0.0 && drawn < sheet.width
                };
                let actual = pair[1].across[s] - pair[0].across[s];
                exaggerated(nominal, actual, factor) >= APART * nominal && pair.iter().all(inside)
            })
        })
    };
    FACTORS.into_iter().find(|f| holds(*f)).unwrap_or(1.0)
}

fn exaggerated(nominal: f64, actual: f64, factor: f64) -> f64 {
    nominal + factor * (actual - nominal)
}

impl Page<'_> {
    fn line(&mut self, layer: Layer, points: &[[f64; 2]]) {
        self.drawing.paths.push(Path::open(layer, points.to_vec()));
    }

    fn write(&mut self, at: [f64; 2], size: f64, centred: bool, text: impl Into<String>) {
        let height = size * self.unit;
        self.drawing.labels.push(Label { at, height, angle: 0.0, centred, text: text.into() });
    }

    /// Where a point across is drawn, departures exaggerated.
    fn across(&self, fold: &Fold, across: f64) -> f64 {
        exaggerated(self.shift + corner(self.sheet, fold.corner)[0], across, self.factor)
    }

    fn plan(&mut self, fitted: &FittedSheet) {
        let sheet = self.sheet;
        let (u, length) = (self.unit, sheet.length);
        let widths = fitted.departure.ends.map(|end| end.width.unwrap_or(sheet.width));
        let outline = vec![[0.0, 0.0], [length, 0.0], [length, widths[1]], [0.0, widths[0]]];
        self.drawing.paths.push(Path::closed(Layer::Cut, outline));
        for &station in &sheet.stations {
            let share = station / length;
            let top = widths[0] + (widths[1] - widths[0]) * share;
            self.line(Layer::Helper, &[[station, -1.2 * u], [station, top]]);
            self.write([station, -2.2 * u], 1.0, true, format!("{station:.0}"));
        }
        let mut written = [f64::NEG_INFINITY; 2];
        for fold in &sheet.folds {
            let nominal = self.shift + corner(sheet, fold.corner)[0];
            self.line(Layer::Helper, &[[0.0, nominal], [length, nominal]]);
            let mut points: Vec<[f64; 2]> = sheet
                .stations
                .iter()
                .zip(&fold.across)
                .map(|(&station, &across)| [station, self.across(fold, across)])
                .collect();
            run_on(&mut points, length);
            let ends = [points[0][1], points[points.len() - 1][1]];
            self.drawing.paths.push(Path::open(Layer::Lead, points));
            let mark = if corner(sheet, fold.corner)[1] > 0.0 { "C" } else { "V" };
            // Labels of folds that come close make room for each other.
            for (k, end) in ends.into_iter().enumerate() {
                written[k] = end.max(written[k] + LEADING * u);
            }
            self.write([-1.6 * u, written[0]], 0.75, true, fold.number.to_string());
            self.write([length + 1.9 * u, written[1]], 0.75, true, format!("{} {mark}", fold.number));
            for (s, &station) in sheet.stations.iter().enumerate() {
                let half = self.factor * BAND * fold.deviation[s][0];
                let at = self.across(fold, fold.across[s]);
                self.line(Layer::Text, &[[station, at - half], [station, at + half]]);
            }
        }
        for damage in &sheet.damage {
            self.damage(&damage.what, &damage.outline);
        }
        for check in fitted.checks.iter().filter(|c| c.kind == Kind::Across) {
            self.reading(check);
        }
        let top = widths[0].max(widths[1]);
        self.write([0.0, top + 1.2 * u], 0.9, false, "left-hand edge");
        self.write([0.0, -4.6 * u], 0.9, false, "right-hand edge: across is measured from here");
        let start = "start end";
        let label = Label {
            at: [-3.6 * u, widths[0] / 2.0],
            height: 0.9 * u,
            angle: 90.0,
            centred: true,
            text: start.to_owned(),
        };
        self.drawing.labels.push(label);
        self.write(
            [length / 2.0, -4.6 * u],
            0.9,
            false,
            "stations in mm from the start end; ribs run this way -->",
        );
    }

    /// A reading where it was taken; a misreading with a ring round the fold and what it says.
    fn reading(&mut self, check: &Check) {
        let sheet = self.sheet;
        let Some(fold) = sheet.folds.get(check.fold as usize - 1) else { return };
        let Some(s) = sheet.stations.iter().position(|x| *x == check.station) else { return };
        let r = 0.22 * self.unit;
        if !check.flagged {
            let at = [check.station, self.across(fold, check.reading)];
            for sign in [-1.0, 1.0] {
                self.line(Layer::Mark, &[[at[0] - r, at[1] - sign * r], [at[0] + r, at[1] + sign * r]]);
            }
            return;
        }
        let at = [check.station, self.across(fold, fold.across[s])];
        self.ring(at);
        let says = format!("misread: {:.1}, others say {:.1}", check.reading, check.reading - check.residual);
        // Into the wider of the two gaps beside the fold, clear of its line.
        let beside = [fold.number.checked_sub(2), Some(fold.number)].into_iter().flatten();
        let neighbours = beside.filter_map(|k| sheet.folds.get(k as usize));
        let gap = neighbours
            .map(|other| self.across(other, other.across[s]))
            .max_by(|a, b| (a - at[1]).abs().total_cmp(&(b - at[1]).abs()));
        let y = gap.map_or(at[1], |other| f64::midpoint(other, at[1]));
        self.boxed([at[0] + 1.4 * self.unit, y], 0.75, &says);
    }

    fn ring(&mut self, at: [f64; 2]) {
        let round = (0..CHORDS).map(|k| {
            let angle = std::f64::consts::TAU * f64::from(k) / f64::from(CHORDS);
            [at[0] + self.unit * angle.cos(), at[1] + self.unit * angle.sin()]
        });
        let ring = Path::closed(Layer::Cut, round.collect());
        self.drawing.paths.push(ring);
    }

    /// Writing with a frame, its left end in the middle of its height at `at`.
    fn boxed(&mut self, at: [f64; 2], size: f64, text: &str) {
        let h = size * self.unit;
        let (w, air) = (lettering::width(text, h), 0.4 * h);
        let [lo, hi] = [[at[0], at[1] - h / 2.0 - air], [at[0] + w + 2.0 * air, at[1] + h / 2.0 + air]];
        self.drawing.paths.push(Path::closed(Layer::Mark, vec![lo, [hi[0], lo[1]], hi, [lo[0], hi[1]]]));
        self.write([at[0] + air, at[1] - h / 2.0], size, false, text);
    }

    /// A damage: its true outline, hatched.
    fn damage(&mut self, what: &str, outline: &[[f64; 2]]) {
        self.drawing.paths.push(Path::closed(Layer::Cut, outline.to_vec()));
        for line in hatch(outline, HATCH * self.unit) {
            self.line(Layer::Mark, &line);
        }
        let [mut lo, mut hi] = [[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]];
        for p in outline {
            for i in 0..2 {
                (lo[i], hi[i]) = (lo[i].min(p[i]), hi[i].max(p[i]));
            }
        }
        // Behind the damage where there is room, else before it.
        let wide = lettering::width(what, 0.75 * self.unit) + 2.0 * self.unit;
        let x = if hi[0] + wide > self.sheet.length { lo[0] - wide } else { hi[0] + 0.4 * self.unit };
        self.boxed([x.max(0.0), f64::midpoint(lo[1], hi[1])], 0.75, what);
    }

    /// Sections in two columns below the plan; returns how low they reach.
    fn sections(&mut self, fitted: &FittedSheet) -> f64 {
        let sheet = self.sheet;
        let (u, depth) = (self.unit, sheet.nominal.depth());
        let widest = fitted.departure.ends.iter().filter_map(|e| e.width).fold(sheet.width, f64::max);
        let column = (widest + 6.0 * u).max(sheet.length / 2.0 + 2.0 * u);
        let off = |fold: &Fold| {
            let h = corner(sheet, fold.corner)[1];
            fold.height.iter().map(|x| (x - h).abs()).fold(0.0, f64::max)
        };
        let off = self.factor * sheet.folds.iter().map(off).fold(0.0, f64::max);
        let half = HEIGHTS * (depth / 2.0 + off);
        let row = 2.0 * half + 4.4 * u;
        let top = -6.5 * u;
        for (s, &station) in sheet.stations.iter().enumerate() {
            #[allow(clippy::cast_precision_loss, reason = "a count of stations")]
            let place = [(s % 2) as f64 * column, top - (s / 2 + 1) as f64 * row];
            self.section(fitted, s, [place[0] + widest, place[1] + half + 1.2 * u]);
            let text = format!("section at {station:.0}, seen from the start end");
            self.write([place[0], place[1] + row - 1.4 * u], 0.9, false, text);
        }
        #[allow(clippy::cast_precision_loss, reason = "a count of stations")]
        let rows = sheet.stations.len().div_ceil(2) as f64;
        top - rows * row
    }

    /// One section; `right` is the right-hand edge at mid-depth.
    fn section(&mut self, fitted: &FittedSheet, s: usize, right: [f64; 2]) {
        let sheet = self.sheet;
        let at = |across: f64, height: f64| [right[0] - across, right[1] + HEIGHTS * height];
        let nominal: Vec<[f64; 2]> = sheet
            .folds
            .iter()
            .map(|fold| corner(sheet, fold.corner))
            .map(|[t, h]| at(self.shift + t, h))
            .collect();
        let (factor, shift) = (self.factor, self.shift);
        let drawn = |fold: &Fold, across: f64, height: f64| {
            let [t, h] = corner(sheet, fold.corner);
            at(exaggerated(shift + t, across, factor), exaggerated(h, height, factor))
        };
        let actual: Vec<[f64; 2]> =
            sheet.folds.iter().map(|fold| drawn(fold, fold.across[s], fold.height[s])).collect();
        // Level out to the edges, where the first and last flats are not measured.
        self.line(Layer::Helper, &nominal);
        self.line(Layer::Cut, &actual);
        let line = sheet.nominal.max_height();
        self.line(Layer::Helper, &[at(0.0, line), at(sheet.width, line)]);
        for fold in sheet.folds.iter().filter(|f| f.number % 4 == 1) {
            let [x, y] = drawn(fold, fold.across[s], fold.height[s]);
            let up = if corner(sheet, fold.corner)[1] > 0.0 { 0.9 } else { -0.9 };
            self.write([x, y + up * self.unit], 0.65, true, fold.number.to_string());
        }
        let here = |c: &&Check| c.flagged && c.kind == Kind::Depth && c.station == sheet.stations[s];
        let flagged: Vec<Check> = fitted.checks.iter().filter(here).cloned().collect();
        for check in flagged {
            let Some(fold) = sheet.folds.get(check.fold as usize - 1) else { continue };
            let ring = drawn(fold, fold.across[s], fold.height[s]);
            self.ring(ring);
            let says = format!(
                "misread: {:.1} deep, others say {:.1}",
                check.reading,
                check.reading - check.residual
            );
            self.boxed([ring[0] + 1.4 * self.unit, ring[1]], 0.75, &says);
        }
    }

    fn legend(&mut self, fitted: &FittedSheet, below: f64) {
        let sheet = self.sheet;
        let u = self.unit;
        let top = fitted.departure.ends.iter().filter_map(|e| e.width).fold(sheet.width, f64::max);
        let nominal = &sheet.nominal;
        let grade = if sheet.grade.is_empty() { String::new() } else { format!(", {}", sheet.grade) };
        self.write([0.0, top + 8.6 * u], 2.4, false, format!("sheet {}", sheet.name));
        let size = format!(
            "{:.0} long, {:.0} wide at its narrowest, {:.2} thick{grade}; made as {} of pitch {} and depth {} mm",
            sheet.length,
            sheet.width,
            sheet.thickness,
            nominal.kind(),
            nominal.pitch(),
            nominal.depth()
        );
        self.write([0.0, top + 6.2 * u], 1.0, false, size);
        let worst = |what: &str, w: &Worst| {
            format!("{what} {:+.1} at fold {}, station {:.0}", w.value, w.fold, w.station)
        };
        let d = &fitted.departure;
        let text = format!(
            "furthest off: {}; {}; {}",
            worst("pitch", &d.pitch),
            worst("depth", &d.depth),
            worst("place", &d.place)
        );
        self.write([0.0, top + 4.4 * u], 1.0, false, text);
        let factor = self.factor;
        let model = if fitted.straight { "over the whole sheet" } else { "between stations" };
        let lines = [
            format!(
                "DEPARTURES ARE DRAWN {factor:.0} TIMES AS LARGE AS THEY ARE; heights of sections {HEIGHTS} times"
            ),
            format!("folds are taken as straight {model}; upright bars are their 95 % bands across"),
            "solid: as measured; dashed: the nominal profile, laid over it as well as it can be; small crosses: readings"
                .to_owned(),
            "C folds lie on crests, V folds in valleys; hatched: damage; rings: misreadings, set aside".to_owned(),
        ];
        let mut y = below - 1.5 * u;
        for line in lines {
            self.write([0.0, y], 0.9, false, line);
            y -= 1.8 * u;
        }
        if !sheet.note.is_empty() {
            self.write([0.0, y], 0.9, false, format!("note: {}", sheet.note));
        }
    }
}

/// Runs a line on, straight, from the first and last points to the ends of the sheet.
fn run_on(points: &mut Vec<[f64; 2]>, length: f64) {
    let on = |a: [f64; 2], b: [f64; 2], x: f64| [x, a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0])];
    let n = points.len();
    if points[0][0] > 0.0 {
        points.insert(0, on(points[0], points[1], 0.0));
    }
    let n = points.len().max(n);
    if points[n - 1][0] < length {
        points.push(on(points[n - 2], points[n - 1], length));
    }
}

/// Parallel lines at 45 degrees inside a polygon, `apart` from each other along x.
fn hatch(outline: &[[f64; 2]], apart: f64) -> Vec<[[f64; 2]; 2]> {
    // Lines x − y = c; crossings of each with the outline, by even and odd.
    let key = |p: &[f64; 2]| p[0] - p[1];
    let (lo, hi) =
        outline.iter().map(key).fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), k| (l.min(k), h.max(k)));
    let mut lines = Vec::new();
    let mut c = lo + apart / 2.0;
    while c < hi {
        let mut crossings: Vec<[f64; 2]> = outline
            .iter()
            .zip(outline.iter().cycle().skip(1))
            .filter(|(a, b)| (key(a) > c) != (key(b) > c))
            .map(|(a, b)| {
                let t = (c - key(a)) / (key(b) - key(a));
                [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]
            })
            .collect();
        crossings.sort_by(|a, b| a[0].total_cmp(&b[0]));
        lines.extend(crossings.chunks_exact(2).map(|pair| [pair[0], pair[1]]));
        c += apart;
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The area of a square is its hatch lines' length (along x) times their distance, to a few lines.
    #[test]
    fn hatching_fills_the_outline_and_nothing_else() {
        let square = [[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]];
        let lines = hatch(&square, 1.0);
        let area: f64 = lines.iter().map(|[a, b]| b[0] - a[0]).sum();
        assert!((area - 10_000.0).abs() < 1.0, "{area}");
        assert!(lines.iter().flatten().flatten().all(|x| (0.0..=100.0).contains(x)));
    }

    #[test]
    fn lines_run_on_to_both_ends() {
        let mut points = vec![[100.0, 10.0], [200.0, 20.0]];
        run_on(&mut points, 300.0);
        assert_eq!(points, [[0.0, 0.0], [100.0, 10.0], [200.0, 20.0], [300.0, 30.0]]);
    }

    #[test]
    fn names_become_stems_of_files() {
        assert_eq!(file_stem("S 03/a"), "S_03_a");
    }
}
