//! The picture of a sheet for the workshop wall: where each part lies, which way is up on it, what is damaged,
//! what is worth keeping; with a tape along the edge and a list below.

use crate::drawing::{Drawing, Label, Layer, Path};
use crate::lay::{CutSheet, Layout, Need, Piece, Placement};
use crate::lettering;
use crate::polygon::holds;
use crate::template::room::{Tilted, Words};

/// Height of figures on the page, mm; the next round scale may make it a third smaller.
const LETTERS: f64 = 3.4;
/// Width and height of a page of A4 between its margins, mm.
const PAGE: [f64; 2] = [190.0, 263.0];
/// Room round the sheet, in heights of figures: left, right, below and above.
const ROUND: [f64; 4] = [5.0, 5.0, 9.0, 5.0];
/// Distance of two lines of the list, in heights of figures.
const LINE: f64 = 1.9;
/// Parts from which the list stands in two columns, if there is room, and from which it is left to the cutting list.
const LONG_LIST: usize = 14;
const LONGEST_LIST: usize = 44;
/// Rows that one column may have below its sheet on a page: with more the sheet would be a third of the page's width.
const LONGEST_COLUMN: usize = 20;
/// Distance of the ticks of the tape, mm, and of those with figures.
const TAPE: [f64; 2] = [100.0, 500.0];
/// Heights tried for writing on a part, as shares of that of figures.
const SHARES: [f64; 5] = [1.0, 0.8, 0.6, 0.45, 0.3];
/// Places tried for writing on a part, along each side of its box.
const PLACES: u32 = 24;

/// A picture of one sheet.
pub(super) fn picture(sheet: &CutSheet, all: &[Piece], layout: &Layout) -> Drawing {
    let rows = List::rows(sheet);
    let h = letters(sheet.size, rows);
    let title = format!("sheet {}: {}", sheet.name, sheet.profile);
    let name = format!("sheet-{}", sheet.stem);
    let mut page = Page { drawing: Drawing { name, title, ..Drawing::default() }, h };
    page.sheet(sheet);
    let placements: Vec<&Placement> =
        layout.placements.iter().filter(|p| layout.sheets[p.sheet].name == sheet.name).collect();
    let mut written: Vec<Tilted> = Vec::new();
    for (number, placement) in (1..).zip(&placements) {
        page.part(number, &all[placement.piece], placement, &mut written);
    }
    if let Some(bounds) = sheet.offcut {
        page.offcut(bounds);
    }
    page.list(sheet, rows);
    page.drawing
}

/// Height of figures with which sheet, tape and list fill a page.
#[allow(clippy::cast_precision_loss, reason = "few parts")]
fn letters(size: [f64; 2], rows: usize) -> f64 {
    let [left, right, below, above] = ROUND;
    let mut h = 0.0;
    // Each round adds what the writing takes at the size found before.
    for _ in 0..8 {
        let wide = size[0] + (left + right) * h;
        let high = size[1] + (below + above + (rows as f64 + 3.0) * LINE) * h;
        let scale = (wide / PAGE[0]).max(high / PAGE[1]).min((wide / PAGE[1]).max(high / PAGE[0]));
        h = LETTERS * scale;
    }
    h
}

struct Page {
    drawing: Drawing,
    /// Height of figures, mm.
    h: f64,
}

impl Page {
    fn line(&mut self, layer: Layer, points: &[[f64; 2]]) {
        self.drawing.paths.push(Path::open(layer, points.to_vec()));
    }

    fn write(&mut self, at: [f64; 2], share: f64, angle: f64, centred: bool, text: &str) {
        let height = self.h * share;
        self.drawing.labels.push(Label { at, height, angle, centred, text: text.to_owned() });
    }

    /// Edges, crests, damage, and a tape along the lower edge.
    fn sheet(&mut self, sheet: &CutSheet) {
        let ([length, width], h) = (sheet.size, self.h);
        let corners = vec![[0.0, 0.0], [length, 0.0], [length, width], [0.0, width]];
        self.drawing.paths.push(Path::closed(Layer::Lead, corners));
        for (number, &at) in (1..).zip(&sheet.crests) {
            self.line(Layer::Helper, &[[0.0, at], [length, at]]);
            self.write([length + h * 1.3, at], 0.8, 0.0, true, &format!("{number}"));
        }
        if let Some(&last) = sheet.crests.last() {
            self.write([length + h * 1.3, (last + h * 2.0).max(width + h * 0.9)], 0.8, 0.0, true, "crest");
        }
        for outline in &sheet.damage {
            self.damage(outline);
        }
        let mut at = 0.0;
        while at <= length {
            let marked = (at / TAPE[1]).fract() == 0.0;
            self.line(Layer::Mark, &[[at, 0.0], [at, if marked { -h } else { -h * 0.5 }]]);
            // The last figure would run into the overall length.
            if marked && length - at > 4.0 * h {
                self.write([at, -h * 1.7], 0.8, 0.0, true, &format!("{at}"));
            }
            at += TAPE[0];
        }
        self.write([length, -h * 1.7], 1.0, 0.0, true, &number(length));
        self.line(Layer::Mark, &[[length, 0.0], [length, -h]]);
        self.write([-h * 1.2, width / 2.0], 1.0, 90.0, true, &number(width));
        self.write([-h * 3.4, width / 2.0], 0.8, 90.0, true, "start end");
        self.write([length / 2.0, -h * 3.6], 0.8, 0.0, true, "right-hand edge, mm from the start end");
        let used = format!("sheet {}   {}   {:.0} % used", sheet.name, sheet.profile, sheet.used * 100.0);
        self.write([0.0, width + h * 1.4], 1.4, 0.0, false, &used);
    }

    /// A damaged place, hatched.
    fn damage(&mut self, outline: &[[f64; 2]]) {
        if outline.len() < 3 {
            return;
        }
        self.drawing.paths.push(Path::closed(Layer::Fold, outline.to_vec()));
        let over = |f: fn(f64, f64) -> f64, from: f64| outline.iter().map(|p| p[1] - p[0]).fold(from, f);
        let step = self.h * 0.6;
        let (mut at, high) = (over(f64::min, f64::INFINITY), over(f64::max, f64::NEG_INFINITY));
        loop {
            at += step;
            if at >= high {
                break;
            }
            let mut crossings: Vec<[f64; 2]> = Vec::new();
            for (i, a) in outline.iter().enumerate() {
                let b = outline[(i + 1) % outline.len()];
                let (fa, fb) = (a[1] - a[0] - at, b[1] - b[0] - at);
                if (fa <= 0.0) != (fb <= 0.0) {
                    let share = fa / (fa - fb);
                    crossings.push([a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share]);
                }
            }
            crossings.sort_by(|a, b| a[0].total_cmp(&b[0]));
            for pair in crossings.chunks_exact(2) {
                self.line(Layer::Fold, pair);
            }
        }
    }

    /// Outline, number and name, and an arrow that points up on the part.
    fn part(&mut self, number: u32, piece: &Piece, placement: &Placement, written: &mut Vec<Tilted>) {
        let outlines: Vec<Vec<[f64; 2]>> =
            piece.outlines.iter().map(|o| o.iter().map(|&p| placement.place(p)).collect()).collect();
        self.drawing.paths.extend(outlines.iter().map(|o| Path::closed(Layer::Cut, o.clone())));
        let up = match piece.need {
            Need::Formed { .. } => placement.way.apply([1.0, 0.0]),
            Need::Flat { .. } => placement.way.apply([0.0, 1.0]),
        };
        let full = format!("{number}  {}", piece.id);
        let bare = format!("{number}");
        // A name in small letters would have to grow in the job book, over the edge of the part.
        for (text, least) in [(full, 1), (bare, SHARES.len() - 1)] {
            let words = Words::new(&text);
            for &share in &SHARES[..=least] {
                let height = self.h * share;
                for angle in [0.0, 90.0] {
                    // The arrow beneath the words if there is room, else the words alone.
                    for arrow in [true, false] {
                        if self.try_words(&words, height, angle, arrow, up, &outlines, written) {
                            return;
                        }
                    }
                }
            }
        }
    }

    #[allow(clippy::too_many_arguments, reason = "one place calls it")]
    fn try_words(
        &mut self,
        words: &Words,
        height: f64,
        angle: f64,
        arrow: bool,
        up: [f64; 2],
        outlines: &[Vec<[f64; 2]>],
        written: &mut Vec<Tilted>,
    ) -> bool {
        let reach = 2.2 * height;
        let half_words = [words.width() * height / 2.0 + 0.3 * height, 0.8 * height];
        let (sin, cos) = f64::to_radians(angle).sin_cos();
        let deep = if arrow { 1.6 * height } else { 0.0 };
        let half = [half_words[0].max(if arrow { reach } else { 0.0 }), half_words[1] + deep];
        let Some(middle) = place([half[0], half[1]], angle, outlines, written) else { return false };
        written.push(Tilted { middle, along: [cos, sin], half });
        // Words above, arrow below, both in the turned frame.
        let off = |d: f64| [middle[0] - sin * d, middle[1] + cos * d];
        self.drawing.labels.push(words.label(off(deep), height, angle));
        if arrow {
            let at = off(-0.9 * height);
            // Square to the words the arrow is as long as its room is deep.
            let square = (up[0] * cos + up[1] * sin).abs();
            let r = (1.3 + (reach / height - 1.3) * square) * height;
            let tip = [at[0] + up[0] * r, at[1] + up[1] * r];
            let tail = [at[0] - up[0] * r, at[1] - up[1] * r];
            let barb = |side: f64| {
                let back = 0.7 * height;
                [
                    tip[0] - up[0] * back - up[1] * side * back * 0.5,
                    tip[1] - up[1] * back + up[0] * side * back * 0.5,
                ]
            };
            self.line(Layer::Mark, &[tail, tip]);
            self.line(Layer::Mark, &[barb(1.0), tip, barb(-1.0)]);
        }
        true
    }

    /// A rectangle worth keeping, dashed.
    fn offcut(&mut self, [lo, hi]: [[f64; 2]; 2]) {
        let inset = self.h * 0.4;
        let (a, b) = ([lo[0] + inset, lo[1] + inset], [hi[0] - inset, hi[1] - inset]);
        self.drawing.paths.push(Path::closed(Layer::Outline, vec![a, [b[0], a[1]], b, [a[0], b[1]]]));
        let text = format!("keep {} × {}", number(hi[0] - lo[0]), number(hi[1] - lo[1]));
        let middle = [f64::midpoint(lo[0], hi[0]), f64::midpoint(lo[1], hi[1])];
        let wide = lettering::width(&text, self.h * 1.2) < hi[0] - lo[0] - 2.0 * inset;
        self.write(middle, 1.2, if wide { 0.0 } else { 90.0 }, true, &text);
    }

    /// What lies where, below the sheet.
    fn list(&mut self, sheet: &CutSheet, rows: usize) {
        let h = self.h;
        let mut notes = vec!["arrows point up on the part"];
        if rows == 0 {
            notes.push("where each part lies: see the cutting list, schedules/sheets.csv");
        }
        for (word, note) in
            [("end", "end: turned end for end"), ("over", "over: inside up, turned about its ribs")]
        {
            if sheet.parts.iter().any(|p| p.lies.contains(word)) {
                notes.push(note);
            }
        }
        #[allow(clippy::cast_precision_loss, reason = "few rows")]
        let foot = -h * (ROUND[2] - 2.0) - LINE * h * if rows == 0 { 0.0 } else { rows as f64 + 1.3 };
        self.write([0.0, foot], 0.8, 0.0, false, &notes.join("; "));
        if rows == 0 {
            return;
        }
        let List { head, body, kept, widths } = List::of(sheet);
        let widths: Vec<f64> = widths.iter().map(|w| w * h).collect();
        let top = -h * (ROUND[2] - 2.0);
        for (block, chunk) in body.chunks(rows).enumerate() {
            #[allow(clippy::cast_precision_loss, reason = "two blocks")]
            let left = block as f64 * (widths.iter().sum::<f64>() + 2.0 * h);
            let mut y = top;
            for row in std::iter::once(&head).chain(chunk) {
                let mut x = left;
                for (&column, width) in kept.iter().zip(&widths) {
                    if !row[column].is_empty() {
                        self.write([x, y], 1.0, 0.0, false, &row[column]);
                    }
                    x += width;
                }
                y -= LINE * h;
            }
        }
    }
}

/// What lies where on a sheet, as it is written below it.
struct List {
    head: [String; 6],
    body: Vec<[String; 6]>,
    /// Columns with entries.
    kept: Vec<usize>,
    /// Their widths, in heights of figures.
    widths: Vec<f64>,
}

impl List {
    fn of(sheet: &CutSheet) -> Self {
        let head = ["", "part", "along", "across", "first crest", "lies"].map(str::to_owned);
        let body: Vec<[String; 6]> = (1..)
            .zip(&sheet.parts)
            .map(|(n, p)| {
                let [lo, hi] = p.bounds;
                let span = |axis: usize| format!("{} - {}", number(lo[axis]), number(hi[axis]));
                [
                    format!("{n}"),
                    p.id.clone(),
                    span(0),
                    span(1),
                    p.rib.map_or_else(String::new, |r| r.to_string()),
                    p.lies.clone(),
                ]
            })
            .collect();
        // A column without entries is left out, its heading too.
        let kept: Vec<usize> = (0..6).filter(|&c| body.iter().any(|r| !r[c].is_empty())).collect();
        let widths: Vec<f64> = kept
            .iter()
            .map(|&c| {
                let all = body.iter().map(|r| &r[c]).chain([&head[c]]);
                all.map(|t| lettering::width(t, 1.0)).fold(0.0, f64::max) + 1.6
            })
            .collect();
        Self { head, body, kept, widths }
    }

    /// How many rows it has, none if it is left to the cutting list; two lists stand beside each other where they are no
    /// wider than the sheet.
    #[allow(clippy::cast_precision_loss, reason = "few parts")]
    fn rows(sheet: &CutSheet) -> usize {
        let count = sheet.parts.len();
        if count < LONG_LIST {
            return count;
        }
        let half = count.div_ceil(2);
        let wide = 2.0 * Self::of(sheet).widths.iter().sum::<f64>() + 2.0;
        let abreast = wide * letters(sheet.size, half) <= sheet.size[0] + 2.0 * letters(sheet.size, half);
        match count {
            n if n > LONGEST_LIST => 0,
            _ if abreast => half,
            n if n > LONGEST_COLUMN => 0,
            n => n,
        }
    }
}

/// A figure in whole mm.
fn number(x: f64) -> String {
    format!("{x:.0}")
}

/// The middle of a rectangle of these half sides that lies within outlines, off what is written, as near to the
/// middle of their box as can be.
fn place(half: [f64; 2], angle: f64, outlines: &[Vec<[f64; 2]>], written: &[Tilted]) -> Option<[f64; 2]> {
    let points = || outlines.iter().flatten();
    let span =
        |k: usize| points().fold([f64::INFINITY, f64::NEG_INFINITY], |s, p| [s[0].min(p[k]), s[1].max(p[k])]);
    let (xs, ys) = (span(0), span(1));
    let (sin, cos) = angle.to_radians().sin_cos();
    let mut best: Option<(f64, [f64; 2])> = None;
    for i in 0..=PLACES {
        for k in 0..=PLACES {
            let share = |s: [f64; 2], i: u32| s[0] + (s[1] - s[0]) * f64::from(i) / f64::from(PLACES);
            let at = [share(xs, i), share(ys, k)];
            let off = (at[0] - f64::midpoint(xs[0], xs[1])).hypot(at[1] - f64::midpoint(ys[0], ys[1]));
            if best.is_some_and(|(least, _)| off >= least) {
                continue;
            }
            if outlines.iter().filter(|o| holds(o, at)).count() % 2 == 0 {
                continue;
            }
            let area = Tilted { middle: at, along: [cos, sin], half };
            let crossed =
                outlines.iter().any(|o| (0..o.len()).any(|i| area.meets([o[i], o[(i + 1) % o.len()]])));
            if !crossed && !written.iter().any(|w| w.touches(&area)) {
                best = Some((off, at));
            }
        }
    }
    best.map(|(_, at)| at)
}
