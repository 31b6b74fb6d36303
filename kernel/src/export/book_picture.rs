//! Pictures of the job book: drawings at a size on paper, as inline SVG.

use crate::drawing::{Drawing, Label, Layer, Path};
use std::borrow::Cow;
use std::fmt::Write as _;

/// Scales that a rule can be laid on, 1 : n.
const SCALES: [f64; 19] = [
    1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 75.0, 100.0, 150.0, 200.0, 250.0, 500.0,
    1000.0, 2000.0,
];

/// Least size of letters in pictures, mm: 11 points, readable at arm's length.
pub(super) const LETTERS: f64 = 11.0 * 25.4 / 72.0;
/// The same where many names stand close to each other: 9.5 points.
pub(super) const SMALL_LETTERS: f64 = 9.5 * 25.4 / 72.0;
/// The same in pictures full of figures: 9 points.
pub(super) const SMALLEST_LETTERS: f64 = 9.0 * 25.4 / 72.0;
/// How much smaller letters become, from try to try, in a picture whose writing is wider than its room, and the least
/// they may be, mm.
const SMALLER: f64 = 0.92;
const LEAST_LETTERS: f64 = 1.8;
/// A picture that shrinks by more than this for the sake of its letters is mostly writing.
const MOST_SHRUNK: f64 = 1.5;

/// Height of a capital over the size of its font, about the same for all sans-serif fonts.
pub(super) const CAPITAL: f64 = 0.72;

/// Average width of a letter over the size of its font, generous.
const LETTER_WIDTH: f64 = 0.6;

/// Room for the width of lines around a picture, mm on paper.
const MARGIN: f64 = 0.6;

/// What is left out of lines, mm on paper: finer than any printer draws.
const DETAIL: f64 = 0.06;

/// Detail finer than this share of a small picture is left out.
const THUMBNAIL_DETAIL: f64 = 1.0 / 250.0;
/// Width and height it may take, mm.
const THUMBNAIL_ROOM: [f64; 2] = [34.0, 20.0];

/// How lines look on the page: class in the book, width in mm, and whether they are soft.
pub(super) struct Stroke {
    pub(super) layer: Layer,
    pub(super) class: &'static str,
    pub(super) width: f64,
    pub(super) dashes: &'static [f64],
    pub(super) soft: bool,
}

const fn stroke(layer: Layer, class: &'static str, width: f64, dashes: &'static [f64], soft: bool) -> Stroke {
    Stroke { layer, class, width, dashes, soft }
}

/// Layers shown in the book, undermost first. Kinds of lines differ in width and dashes, not in colour alone.
pub(super) const STROKES: [Stroke; 9] = [
    stroke(Layer::Helper, "helper", 0.18, &[], true),
    stroke(Layer::Mark, "mark", 0.13, &[], false),
    stroke(Layer::Outline, "outline", 0.13, &[2.0, 0.8], false),
    stroke(Layer::BendDown, "down", 0.16, &[3.5, 0.9], false),
    stroke(Layer::BendUp, "up", 0.16, &[3.0, 0.7, 0.4, 0.7], false),
    stroke(Layer::Fold, "fold", 0.13, &[], false),
    stroke(Layer::Lead, "mark", 0.13, &[], false),
    stroke(Layer::Seam, "seam", 0.4, &[], false),
    stroke(Layer::Cut, "seam", 0.4, &[], false),
];

/// A drawing on paper.
#[derive(Clone)]
pub(super) struct Picture<'a> {
    pub(super) drawing: Cow<'a, Drawing>,
    /// 1 : this.
    pub(super) scale: f64,
    /// Least size of its letters on paper, mm.
    pub(super) letters: f64,
    /// What stands below it.
    pub(super) caption: String,
    /// The drawing of the output that it shows; none for one that the book made up, or shows a second time.
    pub(super) shows: Option<String>,
    /// Corners of what it takes, mm of the drawing.
    pub(super) frame: [[f64; 2]; 2],
}

impl<'a> Picture<'a> {
    /// At 1 : `scale`; nothing for an empty drawing.
    pub(super) fn at_scale(drawing: &'a Drawing, scale: f64, letters: f64) -> Option<Self> {
        Self::of(Cow::Borrowed(drawing), scale, letters)
    }

    fn of(mut drawing: Cow<'a, Drawing>, scale: f64, letters: f64) -> Option<Self> {
        if let Some(labels) = spread(&drawing.labels, letters * scale) {
            drawing.to_mut().labels = labels;
        }
        let [low, high] = frame(&drawing, letters * scale)?;
        let margin = MARGIN * scale;
        let frame = [low.map(|x| x - margin), high.map(|x| x + margin)];
        let (caption, shows) = (drawing.title.clone(), Some(drawing.name.clone()));
        Some(Self { drawing, scale, letters, caption, shows, frame })
    }

    /// As large as its room (width and height, mm) allows.
    pub(super) fn fitted(drawing: &'a Drawing, room: [f64; 2], letters: f64) -> Option<Self> {
        Self::fit(Cow::Borrowed(drawing), room, letters)
    }

    fn fit(drawing: Cow<'a, Drawing>, room: [f64; 2], mut letters: f64) -> Option<Self> {
        let [low, high] = frame(&drawing, 0.0)?;
        // Letters that have to grow take room of their own: some steps find the scale at which all fits.
        let inner = room.map(|x| x - 2.0 * MARGIN);
        let needed =
            |[low, high]: [[f64; 2]; 2]| ((high[0] - low[0]) / inner[0]).max((high[1] - low[1]) / inner[1]);
        let bare = needed([low, high]);
        let mut scale = bare;
        for _ in 0..128 {
            let wanted = frame(&drawing, letters * scale).map_or(scale, needed);
            if wanted <= scale {
                break;
            }
            // Writing too long for the room does not shrink the picture to a dot: its letters become smaller. What is
            // too long even so, a name of hundreds of letters, is let out.
            if wanted <= MOST_SHRUNK * bare {
                scale = wanted;
            } else if letters * SMALLER >= LEAST_LETTERS {
                letters *= SMALLER;
                scale = bare;
            } else {
                scale = MOST_SHRUNK * bare;
                break;
            }
        }
        Self::of(drawing, scale, letters)
    }

    /// Without the labels that `stays` does not want; what they say stands in the caption.
    pub(super) fn fitted_without(
        drawing: &'a Drawing,
        room: [f64; 2],
        letters: f64,
        stays: impl Fn(&Label) -> bool,
    ) -> Option<Self> {
        let (labels, rest): (Vec<Label>, Vec<Label>) = drawing.labels.iter().cloned().partition(|l| stays(l));
        let bare = Drawing { labels, ..drawing.clone() };
        let mut picture = Self::fit(Cow::Owned(bare), room, letters)?;
        if !rest.is_empty() {
            picture.caption = rest.iter().rev().map(|l| l.text.as_str()).collect::<Vec<_>>().join(": ");
        }
        Some(picture)
    }

    /// Without a caption, shown beside the place where the drawing has one.
    pub(super) fn again(mut self) -> Self {
        self.shows = None;
        self.caption.clear();
        self
    }

    /// Width and height on paper, mm.
    pub(super) fn size(&self) -> [f64; 2] {
        let [low, high] = self.frame;
        [0, 1].map(|i| (high[i] - low[i]) / self.scale)
    }

    /// Font size of a label, mm of the drawing.
    pub(super) fn font(&self, label: &Label) -> f64 {
        font_size(label, self.letters * self.scale)
    }

    /// The lines of a layer, without detail that cannot be seen.
    pub(super) fn lines(&self, layer: Layer) -> impl Iterator<Item = (Vec<[f64; 2]>, bool)> + '_ {
        self.drawing.on(layer).map(|p| (simplified(&p.points, DETAIL * self.scale), p.closed))
    }

    /// As inline SVG.
    pub(super) fn svg(&self) -> String {
        let [low, high] = self.frame;
        let [width, height] = [high[0] - low[0], high[1] - low[1]];
        // Small numbers need decimals, large ones do not: steps are finer than a printer's.
        let decimals = if self.scale < 2.0 { 2 } else { usize::from(self.scale < 20.0) };
        let number = |x: f64| short(x, decimals);
        let mut svg = format!(
            "<svg role=\"img\" viewBox=\"{} {} {} {}\" style=\"width:{:.1}mm\">",
            number(low[0]),
            number(-high[1]),
            number(width),
            number(height),
            width / self.scale
        );
        let title = if self.drawing.title.is_empty() { "Outline" } else { &self.drawing.title };
        let _ = write!(svg, "<title>{}</title>", escaped(title));
        for stroke in &STROKES {
            let mut d = String::new();
            for (points, closed) in self.lines(stroke.layer) {
                for (i, p) in points.iter().enumerate() {
                    d.push(if i == 0 { 'M' } else { 'L' });
                    d.push_str(&number(p[0]));
                    d.push(' ');
                    d.push_str(&number(-p[1]));
                }
                if closed {
                    d.push('Z');
                }
            }
            if !d.is_empty() {
                let _ = write!(svg, "<path class=\"{}\" d=\"{d}\"/>", stroke.class);
            }
        }
        for label in &self.drawing.labels {
            svg.push_str(&text_element(label, self.font(label)));
        }
        svg.push_str("</svg>");
        svg
    }
}

/// The largest scale 1 : n at which all pictures fit one page of this height, and in how many of these columns.
pub(super) fn common_scale(
    drawings: &[&Drawing],
    [width, height]: [f64; 2],
    gap: f64,
    row_extra: f64,
    columns: &[usize],
) -> (f64, usize) {
    // Letters of a fixed size on the page take more of a smaller picture: the frames grow with the scale.
    let size = |d: &Drawing, scale: f64| match frame(d, LETTERS * scale) {
        Some([low, high]) => [0, 1].map(|i| (high[i] - low[i]) / scale + 2.0 * MARGIN),
        None => [0.0; 2],
    };
    let fits = |scale: f64, columns: usize| {
        let sizes: Vec<[f64; 2]> = drawings.iter().map(|d| size(d, scale)).collect();
        let rows = sizes.chunks(columns).map(|row| row.iter().map(|s| s[1]).fold(0.0, f64::max) + row_extra);
        #[allow(clippy::cast_precision_loss, reason = "two or three")]
        let each = (width + gap) / columns as f64 - gap;
        sizes.iter().all(|s| s[0] <= each) && rows.sum::<f64>() <= height
    };
    for scale in SCALES {
        if let Some(&columns) = columns.iter().find(|&&c| fits(scale, c)) {
            return (scale, columns);
        }
    }
    // Beyond the last scale pictures are shrunk to their room.
    (SCALES[SCALES.len() - 1], columns[0])
}

/// Size of a label's font in the drawing, at least `least`, mm.
fn font_size(label: &Label, least: f64) -> f64 {
    (label.height / CAPITAL).max(least)
}

/// Lines of writing below each other that letters of this size would let touch, moved down; nothing if none would.
fn spread(labels: &[Label], letters: f64) -> Option<Vec<Label>> {
    /// Distance of lines over the size of their letters.
    const LEADING: f64 = 1.15;
    /// Lines whose left ends are this near to each other, in sizes of letters, stand in one column.
    const SAME_COLUMN: f64 = 0.05;
    let font = |l: &Label| font_size(l, letters);
    let level = |l: &Label| !l.centred && l.angle == 0.0;
    let mut order: Vec<usize> = (0..labels.len()).filter(|&i| level(&labels[i])).collect();
    order.sort_by(|&a, &b| labels[a].at[0].total_cmp(&labels[b].at[0]));
    let mut columns: Vec<Vec<usize>> = Vec::new();
    for i in order {
        let near = SAME_COLUMN * LEADING * font(&labels[i]);
        match columns.last_mut().filter(|c| labels[i].at[0] - labels[c[0]].at[0] <= near) {
            Some(column) => column.push(i),
            None => columns.push(vec![i]),
        }
    }
    let mut moved: Option<Vec<Label>> = None;
    for column in &mut columns {
        // From the top down: left ends that differ by a hair must not decide which line is the lower one.
        column.sort_by(|&a, &b| labels[b].at[1].total_cmp(&labels[a].at[1]));
        for pair in column.windows(2) {
            let [above, below] = [pair[0], pair[1]];
            let all = moved.as_deref().unwrap_or(labels);
            let wanted = LEADING * font(&all[below]);
            if all[above].at[1] - all[below].at[1] >= wanted {
                continue;
            }
            let y = all[above].at[1] - wanted;
            moved.get_or_insert_with(|| labels.to_vec())[below].at[1] = y;
        }
    }
    moved
}

/// Bounds of lines and writing, with letters of at least `letters` mm in the drawing.
fn frame(drawing: &Drawing, letters: f64) -> Option<[[f64; 2]; 2]> {
    let [mut low, mut high] = drawing.bounds()?;
    for label in &drawing.labels {
        let font = font_size(label, letters);
        #[allow(clippy::cast_precision_loss, reason = "a count of letters")]
        let width = label.text.chars().count() as f64 * font * LETTER_WIDTH;
        let [x, y] = if label.centred { [-width / 2.0, -font / 2.0] } else { [0.0, -font * 0.3] };
        let (sin, cos) = label.angle.to_radians().sin_cos();
        for [x, y] in [[x, y], [x + width, y], [x, y + font], [x + width, y + font]] {
            let p = [label.at[0] + x * cos - y * sin, label.at[1] + x * sin + y * cos];
            low = [low[0].min(p[0]), low[1].min(p[1])];
            high = [high[0].max(p[0]), high[1].max(p[1])];
        }
    }
    Some([low, high])
}

/// The shortest text of a number with at most so many decimals.
pub(super) fn short(x: f64, decimals: usize) -> String {
    if decimals == 0 {
        #[allow(clippy::cast_possible_truncation, reason = "coordinates of drawings are far below 2^53")]
        return (x.round() as i64).to_string();
    }
    let text = format!("{x:.decimals$}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

fn text_element(label: &Label, font: f64) -> String {
    let anchor = if label.centred { " text-anchor=\"middle\"" } else { "" };
    let drop = below_middle(label);
    let turn = if label.angle == 0.0 { String::new() } else { format!(" rotate({:.1})", -label.angle) };
    format!(
        "<text transform=\"translate({:.1} {:.1}){turn}\" y=\"{drop:.1}\" font-size=\"{font:.1}\"{anchor}>{}</text>",
        label.at[0],
        -label.at[1],
        escaped(&label.text)
    )
}

/// How far the base line lies below the place of a label, mm of the drawing: half a capital where that is the middle.
/// Letters that have grown keep their foot, so that they stay clear of the line they stand on.
pub(super) fn below_middle(label: &Label) -> f64 {
    if label.centred { label.height / 2.0 } else { 0.0 }
}

/// For the text of an element.
pub(super) fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

/// What is cut, without marks and writing.
fn cut_only(drawing: &Drawing) -> Drawing {
    let outlines = drawing.true_outlines().cloned();
    let paths = outlines.map(|p| Path { layer: Layer::Cut, ..p }).collect();
    Drawing { paths, ..Drawing::default() }
}

/// Outline and long marks of a template, simplified.
pub(super) fn thumbnail(drawing: &Drawing) -> Option<Picture<'static>> {
    /// Marks shorter than this share of the part are arrows and letters.
    const LONG: f64 = 1.0 / 5.0;
    let mut small = cut_only(drawing);
    let [low, high] = small.bounds()?;
    let size = (high[0] - low[0]).max(high[1] - low[1]);
    let span = |points: &[[f64; 2]]| match points {
        [a, .., b] => (a[0] - b[0]).hypot(a[1] - b[1]),
        _ => 0.0,
    };
    small.title = drawing.title.clone();
    small.paths.extend(
        drawing.paths.iter().filter(|p| p.layer == Layer::Mark && span(&p.points) > LONG * size).cloned(),
    );
    for path in &mut small.paths {
        path.points = simplified(&path.points, size * THUMBNAIL_DETAIL);
    }
    Picture::fit(Cow::Owned(small), THUMBNAIL_ROOM, 0.0).map(Picture::again)
}

/// Leaves out points so that none lies more than `tolerance` from the line that remains: D. Douglas and
/// T. Peucker, "Algorithms for the reduction of the number of points required to represent a digitized line",
/// 1973.
fn simplified(points: &[[f64; 2]], tolerance: f64) -> Vec<[f64; 2]> {
    if points.len() < 3 {
        return points.to_vec();
    }
    let mut keep = vec![false; points.len()];
    keep[0] = true;
    keep[points.len() - 1] = true;
    let mut open = vec![(0, points.len() - 1)];
    while let Some((i, j)) = open.pop() {
        let (a, b) = (points[i], points[j]);
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let length = dx.hypot(dy);
        let mut worst = (tolerance, i);
        for (k, p) in points.iter().enumerate().take(j).skip(i + 1) {
            let (px, py) = (p[0] - a[0], p[1] - a[1]);
            let off = if length > tolerance { (dx * py - dy * px).abs() / length } else { px.hypot(py) };
            if off > worst.0 {
                worst = (off, k);
            }
        }
        if worst.1 > i {
            keep[worst.1] = true;
            open.extend([(i, worst.1), (worst.1, j)]);
        }
    }
    points.iter().zip(keep).filter(|(_, k)| *k).map(|(p, _)| *p).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn simplifying_keeps_what_matters() {
        let line = [[0.0, 0.0], [1.0, 0.01], [2.0, 0.0], [3.0, 1.0], [4.0, 0.0]];
        assert_eq!(simplified(&line, 0.1), [[0.0, 0.0], [2.0, 0.0], [3.0, 1.0], [4.0, 0.0]]);
        assert_eq!(simplified(&[[0.0, 0.0], [0.0, 3.0], [0.0, 0.0]], 0.1).len(), 3, "there and back");
    }

    #[test]
    fn lines_below_each_other_do_not_touch_when_their_letters_grow() {
        let label = |x: f64, y: f64| Label {
            at: [x, y],
            height: 1.0,
            angle: 0.0,
            centred: false,
            text: "leg".to_owned(),
        };
        let list = [label(0.0, 10.0), label(0.0, 8.0), label(50.0, 8.5), label(0.0, 6.0)];
        assert!(spread(&list, 1.0).is_none(), "room enough");
        let moved = spread(&list, 4.0).expect("must move");
        let ys: Vec<f64> = moved.iter().map(|l| l.at[1]).collect();
        assert_eq!((ys[0], ys[2]), (10.0, 8.5), "the first and another column stay");
        assert!(ys[0] - ys[1] >= 4.0 && ys[1] - ys[3] >= 4.0, "{ys:?}");
    }

    #[test]
    fn coordinates_are_short() {
        assert_eq!([short(-0.04, 1), short(-0.1, 1), short(12.04, 1)], ["0", "-0.1", "12"]);
        assert_eq!([short(-0.4, 0), short(120.0, 0), short(3.456, 2)], ["0", "120", "3.46"]);
    }

    #[test]
    fn letters_that_must_grow_stay_in_the_room() {
        let label = Label {
            at: [1000.0, 0.0],
            height: 1.0,
            angle: 0.0,
            centred: false,
            text: "a long name at the right".to_owned(),
        };
        let path = Path { layer: Layer::Seam, points: vec![[0.0, 0.0], [1000.0, 500.0]], closed: false };
        let drawing = Drawing { paths: vec![path], labels: vec![label], ..Drawing::default() };
        let picture = Picture::fitted(&drawing, [100.0, 80.0], LETTERS).expect("not empty");
        let [w, h] = picture.size();
        assert!(w <= 100.01 && h <= 80.01, "{w} × {h}");
    }

    /// A sentence under a picture of a coating step once made it wider than the page, and a third of its size.
    #[test]
    fn a_sentence_makes_letters_smaller_and_not_the_picture() {
        let text = "heavy level line: liquid at the start; ".repeat(3);
        let label = Label { at: [500.0, -40.0], height: 10.0, angle: 0.0, centred: true, text };
        let path = Path { layer: Layer::Seam, points: vec![[0.0, 0.0], [1000.0, 300.0]], closed: false };
        let drawing = Drawing { paths: vec![path], labels: vec![label], ..Drawing::default() };
        let picture = Picture::fitted(&drawing, [180.0, 110.0], LETTERS).expect("not empty");
        let [w, h] = picture.size();
        assert!(w <= 180.01 && h <= 110.01, "{w} × {h}");
        let share = 1000.0 / picture.scale / 180.0;
        assert!(share > 0.5, "lines take {share} of the width");
        assert!(picture.letters < LETTERS && picture.letters >= LEAST_LETTERS, "{} mm", picture.letters);
    }
}
