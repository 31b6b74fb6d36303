//! Room for writing on a template: where a text lies inside the part, off every cut and off what is written; and where
//! lines lie inside it.

use crate::drawing::Label;
use crate::lettering;

/// An upright or turned rectangle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Tilted {
    pub(crate) middle: [f64; 2],
    /// Unit vector along it.
    pub(crate) along: [f64; 2],
    /// Half its length and half its width, mm.
    pub(crate) half: [f64; 2],
}

impl Tilted {
    /// A level rectangle.
    #[cfg(test)]
    pub(crate) fn level(middle: [f64; 2], half: [f64; 2]) -> Self {
        Self { middle, along: [1.0, 0.0], half }
    }

    /// The rectangle `wide` mm wide around a straight line.
    pub(crate) fn around([a, b]: [[f64; 2]; 2], wide: f64) -> Self {
        let d = [b[0] - a[0], b[1] - a[1]];
        let length = d[0].hypot(d[1]);
        let along = if length > 0.0 { [d[0] / length, d[1] / length] } else { [1.0, 0.0] };
        Self {
            middle: [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0],
            along,
            half: [length / 2.0 + wide / 2.0, wide / 2.0],
        }
    }

    /// Larger by this on all sides.
    pub(crate) fn grown(&self, by: f64) -> Self {
        Self { half: self.half.map(|h| h + by), ..*self }
    }

    /// A point in its own axes.
    fn local(&self, p: [f64; 2]) -> [f64; 2] {
        let d = [p[0] - self.middle[0], p[1] - self.middle[1]];
        let [c, s] = self.along;
        [d[0] * c + d[1] * s, d[1] * c - d[0] * s]
    }

    /// How far it reaches from its middle in x and y.
    fn reach(&self) -> [f64; 2] {
        let [c, s] = self.along.map(f64::abs);
        [self.half[0] * c + self.half[1] * s, self.half[0] * s + self.half[1] * c]
    }

    /// Whether two rectangles share a point: no line along a side parts them.
    pub(crate) fn touches(&self, other: &Self) -> bool {
        let apart = |a: &Self, b: &Self| {
            let middle = a.local(b.middle);
            let [c, s] = [
                (b.along[0] * a.along[0] + b.along[1] * a.along[1]).abs(),
                (b.along[1] * a.along[0] - b.along[0] * a.along[1]).abs(),
            ];
            let reach = [b.half[0] * c + b.half[1] * s, b.half[0] * s + b.half[1] * c];
            (0..2).any(|i| middle[i].abs() > a.half[i] + reach[i])
        };
        !apart(self, other) && !apart(other, self)
    }

    /// Whether a segment runs through it.
    pub(crate) fn meets(&self, [a, b]: [[f64; 2]; 2]) -> bool {
        let (a, b) = (self.local(a), self.local(b));
        let mut inside = [0.0_f64, 1.0_f64];
        for i in 0..2 {
            let d = b[i] - a[i];
            if d == 0.0 {
                if a[i].abs() > self.half[i] {
                    return false;
                }
                continue;
            }
            let (t, u) = ((-self.half[i] - a[i]) / d, (self.half[i] - a[i]) / d);
            inside = [inside[0].max(t.min(u)), inside[1].min(t.max(u))];
        }
        inside[0] <= inside[1]
    }
}

/// A line of writing whose place is still open.
#[derive(Debug, Clone)]
pub(crate) struct Words {
    text: String,
    /// Extent of its strokes when capitals are 1 mm high, the middle of its label at the origin.
    low: [f64; 2],
    high: [f64; 2],
}

impl Words {
    pub(crate) fn new(text: &str) -> Self {
        let label = Label { at: [0.0; 2], height: 1.0, angle: 0.0, centred: true, text: text.to_owned() };
        let ([mut low, mut high], mut any): ([[f64; 2]; 2], bool) = ([[0.0; 2]; 2], false);
        for p in lettering::strokes(&label).into_iter().flatten() {
            if any {
                low = [low[0].min(p[0]), low[1].min(p[1])];
                high = [high[0].max(p[0]), high[1].max(p[1])];
            } else {
                (low, high, any) = (p, p, true);
            }
        }
        Self { text: text.to_owned(), low, high }
    }

    /// Width for capitals 1 mm high.
    pub(crate) fn width(&self) -> f64 {
        self.high[0] - self.low[0]
    }

    /// The label with its middle at `at`.
    pub(crate) fn label(&self, at: [f64; 2], height: f64, angle: f64) -> Label {
        Label { at, height, angle, centred: true, text: self.text.clone() }
    }

    /// What the label's strokes fill.
    pub(crate) fn area(&self, at: [f64; 2], height: f64, angle: f64) -> Tilted {
        let (sin, cos) = angle.to_radians().sin_cos();
        let offset = [0, 1].map(|i| (self.low[i] + self.high[i]) / 2.0 * height);
        Tilted {
            middle: [at[0] + offset[0] * cos - offset[1] * sin, at[1] + offset[0] * sin + offset[1] * cos],
            along: [cos, sin],
            half: [0, 1].map(|i| (self.high[i] - self.low[i]) / 2.0 * height),
        }
    }
}

/// Directions tried around a circle, the first one and then more and more aside of it; distances, by this share of the
/// height of the letters; and the clear room kept around words, in heights.
const DIRECTIONS: u32 = 24;
const STEP: f64 = 0.5;
const STEPS: u32 = 40;
const AROUND: f64 = 0.4;

/// The place nearest to the rim of a circle where words are free, tried from a direction on (degrees from +x): the middle
/// of their label, what they take with the room around them, and how far they stand off the rim, mm.
pub(crate) fn beside(
    words: &Words,
    height: f64,
    (middle, radius): ([f64; 2], f64),
    toward: f64,
    free: impl Fn(&Tilted) -> bool,
) -> Option<([f64; 2], Tilted, f64)> {
    let half = [0, 1].map(|i| (words.high[i] - words.low[i]) / 2.0 * height);
    (0..STEPS).flat_map(|s| (0..DIRECTIONS).map(move |d| (s, d))).find_map(|(s, d)| {
        let aside = f64::from(d.div_ceil(2)) * if d % 2 == 0 { 1.0 } else { -1.0 };
        let turn = toward + aside * 360.0 / f64::from(DIRECTIONS);
        let (sin, cos) = turn.to_radians().sin_cos();
        let off = height * (1.5 * AROUND + STEP * f64::from(s));
        let from = radius + off + (half[0] * cos).abs() + (half[1] * sin).abs();
        let at = [middle[0] + from * cos, middle[1] + from * sin];
        let area = words.area(at, height, 0.0).grown(AROUND * height);
        free(&area).then_some((at, area, off))
    })
}

/// Words farther from the rim of their circle than this, in heights, have a line to it.
const NEAR: f64 = 1.0;
/// Between words and the end of their line, in heights.
const SHORT: f64 = 0.3;

/// The line from the rim of a circle to words whose middle is at `at`, `off` the rim; none where they stand by it.
pub(crate) fn leader(
    (middle, radius): ([f64; 2], f64),
    at: [f64; 2],
    off: f64,
    height: f64,
) -> Option<Vec<[f64; 2]>> {
    let d = [at[0] - middle[0], at[1] - middle[1]];
    let far = d[0].hypot(d[1]);
    let point = |from: f64| [0, 1].map(|i| middle[i] + d[i] / far * from);
    (off > NEAR * height).then(|| vec![point(radius), point(radius + off - SHORT * height)])
}

/// The room within outlines.
#[derive(Debug)]
pub(super) struct Room {
    clearance: f64,
    left: f64,
    bin: f64,
    /// Cuts over each upright band of the part.
    bins: Vec<Vec<[[f64; 2]; 2]>>,
    taken: Vec<Tilted>,
    /// Lines that small writing keeps off where it can.
    lines: Vec<[[f64; 2]; 2]>,
}

/// Least share of its height by which writing keeps off other writing.
const APART: f64 = 0.3;

impl Room {
    pub(super) fn new(outlines: &[Vec<[f64; 2]>], clearance: f64) -> Self {
        let xs = || outlines.iter().flatten().map(|p| p[0]);
        let left = xs().fold(f64::INFINITY, f64::min);
        let right = xs().fold(f64::NEG_INFINITY, f64::max);
        let count = outlines.iter().map(Vec::len).sum::<usize>().clamp(4, 128);
        #[allow(clippy::cast_precision_loss, reason = "at most 128")]
        let bin = ((right - left) / count as f64).max(f64::MIN_POSITIVE);
        let mut room = Self {
            clearance,
            left,
            bin,
            bins: vec![Vec::new(); count],
            taken: Vec::new(),
            lines: Vec::new(),
        };
        for outline in outlines {
            for (i, a) in outline.iter().enumerate() {
                let b = outline[(i + 1) % outline.len()];
                for k in room.range(a[0].min(b[0]), a[0].max(b[0])) {
                    room.bins[k].push([*a, b]);
                }
            }
        }
        room
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped, floats saturate")]
    fn range(&self, from: f64, to: f64) -> std::ops::RangeInclusive<usize> {
        let place = |x: f64| (((x - self.left) / self.bin).max(0.0) as usize).min(self.bins.len() - 1);
        place(from)..=place(to)
    }

    /// Whether a point lies inside the outlines (even–odd).
    pub(super) fn contains(&self, p: [f64; 2]) -> bool {
        let above = |[a, b]: &[[f64; 2]; 2]| {
            (a[0] <= p[0]) != (b[0] <= p[0]) && a[1] + (b[1] - a[1]) * (p[0] - a[0]) / (b[0] - a[0]) > p[1]
        };
        self.bins[*self.range(p[0], p[0]).start()].iter().filter(|s| above(s)).count() % 2 == 1
    }

    /// Whether a rectangle lies inside the part with the clearance from every cut.
    pub(super) fn holds(&self, area: &Tilted) -> bool {
        if !self.contains(area.middle) {
            return false;
        }
        let grown = area.grown(self.clearance);
        let reach = grown.reach()[0];
        let mut over = self.range(area.middle[0] - reach, area.middle[0] + reach);
        !over.any(|k| self.bins[k].iter().any(|s| grown.meets(*s)))
    }

    /// Whether it lies off everything written, too.
    pub(super) fn is_free(&self, area: &Tilted) -> bool {
        let grown = area.grown(2.0 * APART * area.half[1]);
        !self.taken.iter().any(|t| t.touches(&grown)) && self.holds(area)
    }

    /// Whether no line drawn across the part runs through it.
    pub(super) fn is_clear(&self, area: &Tilted) -> bool {
        !self.lines.iter().any(|line| area.meets(*line))
    }

    pub(super) fn take(&mut self, area: Tilted) {
        self.taken.push(area);
    }

    pub(super) fn draw_line(&mut self, line: [[f64; 2]; 2]) {
        self.lines.push(line);
    }

    /// How far a ray runs until it meets a cut, mm; what it meets within `near` is where it starts.
    pub(super) fn way(&self, p: [f64; 2], d: [f64; 2], near: f64) -> f64 {
        let mut least = f64::INFINITY;
        for [a, b] in self.bins.iter().flatten() {
            let side = |q: &[f64; 2]| d[0] * (q[1] - p[1]) - d[1] * (q[0] - p[0]);
            let (at_a, at_b) = (side(a), side(b));
            if (at_a <= 0.0) == (at_b <= 0.0) {
                continue;
            }
            let share = at_a / (at_a - at_b);
            let hit = [0, 1].map(|i| a[i] + (b[i] - a[i]) * share - p[i]);
            let along = hit[0] * d[0] + hit[1] * d[1];
            if along > near {
                least = least.min(along);
            }
        }
        least
    }
}

/// The stretches of the upright line at x that lie inside closed outlines (even–odd), from below.
pub(super) fn inside(outlines: &[Vec<[f64; 2]>], x: f64) -> Vec<[f64; 2]> {
    crossed(outlines, x, 0)
}

/// The same for the level line at y, from the left.
pub(super) fn inside_level(outlines: &[Vec<[f64; 2]>], y: f64) -> Vec<[f64; 2]> {
    crossed(outlines, y, 1)
}

fn crossed(outlines: &[Vec<[f64; 2]>], at: f64, axis: usize) -> Vec<[f64; 2]> {
    let other = 1 - axis;
    let mut crossings = Vec::new();
    for outline in outlines {
        for (i, a) in outline.iter().enumerate() {
            let b = outline[(i + 1) % outline.len()];
            if (a[axis] <= at) != (b[axis] <= at) {
                let share = (at - a[axis]) / (b[axis] - a[axis]);
                crossings.push(a[other] + (b[other] - a[other]) * share);
            }
        }
    }
    crossings.sort_by(f64::total_cmp);
    crossings.chunks_exact(2).map(|c| [c[0], c[1]]).filter(|c| c[1] > c[0]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An L: 100 × 100 with the upper right quarter cut out.
    fn room(clearance: f64) -> Room {
        let l_shape =
            vec![[0.0, 0.0], [100.0, 0.0], [100.0, 50.0], [50.0, 50.0], [50.0, 100.0], [0.0, 100.0]];
        Room::new(&[l_shape], clearance)
    }

    #[test]
    fn a_rectangle_is_held_up_to_its_clearance() {
        for (clearance, half, held) in [(5.0, 19.9, true), (5.0, 20.1, false), (0.0, 24.9, true)] {
            let area = Tilted::level([25.0, 75.0], [half, 1.0]);
            assert_eq!(room(clearance).holds(&area), held, "clearance {clearance}, half width {half}");
        }
        assert!(!room(0.0).holds(&Tilted::level([75.0, 75.0], [1.0, 1.0])), "the missing quarter");
        // Turned by 45 degrees, a strip from one leg to the other cuts the inner corner.
        let half = std::f64::consts::FRAC_1_SQRT_2;
        let across =
            |out: f64| Tilted { middle: [50.0 - out, 50.0 - out], along: [half, -half], half: [30.0, 2.0] };
        assert!(room(0.0).holds(&across(5.0)) && !room(0.0).holds(&across(0.0)), "the inner corner");
    }

    #[test]
    fn rectangles_touch_or_are_parted() {
        let square = Tilted::level([0.0, 0.0], [10.0, 10.0]);
        let half = std::f64::consts::FRAC_1_SQRT_2;
        let turned = |x: f64| Tilted { middle: [x, x], along: [half, half], half: [5.0, 5.0] };
        // The turned square's side faces the corner (10, 10), whose distance from the origin is 14.14.
        assert!(square.touches(&turned(10.0 + 4.9 * half)) && !square.touches(&turned(10.0 + 5.1 * half)));
        assert!(turned(10.0).touches(&square), "either way round");
    }

    #[test]
    fn words_fill_the_area_of_their_strokes() {
        let words = Words::new("gÅ/7");
        for angle in [0.0, 33.0, 90.0, -70.0] {
            let (label, area) = (words.label([7.0, -3.0], 12.0, angle), words.area([7.0, -3.0], 12.0, angle));
            let inside = |p: &[f64; 2]| {
                let q = area.local(*p);
                (0..2).all(|i| q[i].abs() <= area.half[i] * (1.0 + 4.0 * f64::EPSILON.sqrt()))
            };
            assert!(lettering::strokes(&label).iter().flatten().all(inside), "at {angle} degrees");
        }
    }

    #[test]
    fn a_ray_meets_the_next_cut() {
        let room = room(0.0);
        assert!((room.way([0.0, 75.0], [1.0, 0.0], 0.1) - 50.0).abs() < f64::EPSILON * 100.0);
        assert!((room.way([75.0, 0.0], [0.0, 1.0], 0.1) - 50.0).abs() < f64::EPSILON * 100.0);
    }
}
