//! Writing on the pieces of a kit: where a word or an arrow lies within a face, off its edges and off the rest.

use super::flat::{bounds, distance, sides, unit};
use crate::drawing::{Drawing, Layer, Path};
use crate::lettering;
use crate::polygon::holds;
use crate::template::room::{Tilted, Words};

/// Heights of the names of faces that are tried, mm: the least can still be read.
const NAMES: [f64; 7] = [5.0, 4.0, 3.2, 2.6, 2.1, 1.8, 1.6];
/// Heights of the numbers at edges, mm.
const NUMBERS: [f64; 4] = [2.6, 2.2, 1.9, 1.6];
/// Lengths of the arrow, mm.
const ARROWS: [f64; 4] = [11.0, 9.0, 7.0, 5.0];
/// Half the width of the arrow's head, mm.
const HEAD: f64 = 1.2;
/// Space kept from edges, mm.
const CLEAR: f64 = 0.7;
/// Space between pieces of writing, mm.
const APART: f64 = 0.9;
/// Places along an edge that are tried for its number.
const ALONG: [f64; 9] = [0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74, 0.18, 0.82];
/// Places tried across the box of a face, in each direction.
const GRID: u32 = 17;

/// A drawing that is written on.
pub(super) struct Sign<'a> {
    pub(super) drawing: &'a mut Drawing,
    pub(super) taken: Vec<Tilted>,
    /// Lines that writing keeps off where it can.
    pub(super) lines: Vec<[[f64; 2]; 2]>,
}

/// Where something is to be written: outlines (even–odd), mm.
pub(super) struct Field<'a> {
    pub(super) outlines: &'a [Vec<[f64; 2]>],
}

impl Field<'_> {
    fn holds(&self, area: &Tilted) -> bool {
        let inside = self.outlines.iter().filter(|o| holds(o, area.middle)).count() % 2 == 1;
        let grown = area.grown(CLEAR);
        inside && !self.outlines.iter().any(|o| sides(o).any(|s| grown.meets(s)))
    }

    /// Places over the box of the field, those near `middle` first.
    fn places(&self, middle: [f64; 2]) -> Vec<[f64; 2]> {
        let Some([lo, hi]) = bounds(self.outlines.iter().flatten().copied()) else { return Vec::new() };
        let at = |i: usize, k: u32| lo[i] + (hi[i] - lo[i]) * (f64::from(k) + 0.5) / f64::from(GRID);
        let mut all: Vec<[f64; 2]> = (0..GRID)
            .flat_map(|k| (0..GRID).map(move |j| [j, k]))
            .map(|[j, k]| [at(0, j), at(1, k)])
            .collect();
        all.insert(0, middle);
        all.sort_by(|p, q| distance(*p, middle).total_cmp(&distance(*q, middle)));
        all
    }
}

/// An angle in degrees turned by half a turn where it would stand on its head.
pub(super) fn readable(angle: f64) -> f64 {
    let a = angle.rem_euclid(360.0);
    // A hair of slack, so that upright writing always reads from the right.
    const SLACK: f64 = 1.0e-6;
    if a > 90.0 + SLACK && a <= 270.0 + SLACK { a - 180.0 } else { a }
}

impl Sign<'_> {
    fn is_free(&self, area: &Tilted, off_lines: bool) -> bool {
        let grown = area.grown(APART);
        !(self.taken.iter().any(|t| t.touches(&grown))
            || off_lines && self.lines.iter().any(|l| grown.meets(*l)))
    }

    /// Writes the name of a face near the middle; the angles are tried in turn. Where its middle came to lie.
    pub(super) fn name(
        &mut self,
        field: &Field<'_>,
        text: &str,
        middle: [f64; 2],
        angles: &[f64],
    ) -> Option<[f64; 2]> {
        let words = Words::new(text);
        let places = field.places(middle);
        for off_lines in [true, false] {
            for height in NAMES {
                for &angle in angles {
                    let found = places.iter().find(|&&p| {
                        let area = words.area(p, height, angle);
                        field.holds(&area) && self.is_free(&area, off_lines)
                    });
                    if let Some(&p) = found {
                        self.taken.push(words.area(p, height, angle));
                        self.drawing.labels.push(words.label(p, height, angle));
                        return Some(p);
                    }
                }
            }
        }
        None
    }

    /// Writes a number beside an edge from `a` to `b` that has the face to its left.
    pub(super) fn number(&mut self, field: &Field<'_>, text: &str, [a, b]: [[f64; 2]; 2]) -> bool {
        let words = Words::new(text);
        let d = unit(a, b);
        let angle = readable(d[1].atan2(d[0]).to_degrees());
        for off_lines in [true, false] {
            for height in NUMBERS {
                for share in ALONG {
                    let aside = 1.6 * CLEAR + height / 2.0;
                    let p = [0, 1].map(|i| a[i] + (b[i] - a[i]) * share + [-d[1], d[0]][i] * aside);
                    let area = words.area(p, height, angle);
                    if field.holds(&area) && self.is_free(&area, off_lines) {
                        self.taken.push(area);
                        self.drawing.labels.push(words.label(p, height, angle));
                        return true;
                    }
                }
            }
        }
        false
    }

    /// Draws an arrow along `up` near a place; `letter` stands beyond its head, upright to it.
    pub(super) fn arrow(&mut self, field: &Field<'_>, near: [f64; 2], up: [f64; 2], letter: &str) -> bool {
        let places = field.places(near);
        let height = 2.2;
        let behind = if letter.is_empty() { 0.0 } else { height + 0.8 };
        for off_lines in [true, false] {
            for length in ARROWS {
                let half = (length + behind) / 2.0;
                for &p in &places {
                    let area = Tilted { middle: p, along: up, half: [half, HEAD] };
                    if !field.holds(&area) || !self.is_free(&area, off_lines) {
                        continue;
                    }
                    let at = |s: f64, t: f64| [p[0] + up[0] * s - up[1] * t, p[1] + up[1] * s + up[0] * t];
                    let tip = at(half - behind, 0.0);
                    let mut line = |points: Vec<[f64; 2]>| {
                        self.drawing.paths.push(Path::open(Layer::Mark, points));
                    };
                    line(vec![at(-half, 0.0), tip]);
                    let back = half - behind - 2.5 * HEAD;
                    line(vec![at(back, HEAD * 0.8), tip, at(back, -HEAD * 0.8)]);
                    if !letter.is_empty() {
                        let angle = up[1].atan2(up[0]).to_degrees() - 90.0;
                        let label = Words::new(letter).label(at(half - height / 2.0, 0.0), height, angle);
                        self.drawing.labels.push(label);
                    }
                    self.taken.push(area);
                    return true;
                }
            }
        }
        false
    }
}

/// A text as a label with its left end at a place; smaller where it would be wider than `room`.
pub(super) fn line_of(text: &str, at: [f64; 2], height: f64, room: f64) -> crate::drawing::Label {
    let height = height * (room / lettering::width(text, height)).min(1.0);
    crate::drawing::Label { at, height, angle: 0.0, centred: false, text: text.to_owned() }
}

/// A caption under a piece whose name found no room in it, mm high.
pub(super) const CAPTION: f64 = 1.8;
