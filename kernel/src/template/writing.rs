//! What is written on a template: match marks with their numbers, the datum line, the part's name and arrow,
//! the neighbours along the edges. All of it in single strokes, inside the part, off every cut by the set
//! clearance, and never over other writing; what finds no room is made smaller, and in the end left out.

use super::BendLine;
use super::room::{Room, Tilted, Words, inside_level};
use crate::drawing::{Drawing, Layer, Path};
use crate::part::{Marking, MatchMark, Part, PartKind};
use nalgebra::Vector3;

/// A template being written on.
pub(super) struct Page {
    pub(super) room: Room,
    pub(super) drawing: Drawing,
    pub(super) outlines: Vec<Vec<[f64; 2]>>,
}

/// A match mark on the page.
pub(super) struct Tick {
    pub(super) at: [f64; 2],
    /// Unit direction into the part.
    pub(super) into: [f64; 2],
    number: u32,
}

/// Letters and words that wait until more urgent ones have their place.
#[derive(Default)]
pub(super) struct Letters {
    /// Where a C or V should stand.
    pub(super) centres: Vec<([f64; 2], &'static str)>,
    /// Bend lines, their pieces, and the way to the nearest other one.
    pub(super) bends: Vec<(BendLine, Vec<[f64; 2]>, f64)>,
}

/// Width kept free for a line beside writing, mm.
pub(super) const LINE: f64 = 0.6;
/// A step short enough to stay within one strip of the sheet, mm.
const STEP: f64 = 1.0e-3;
/// Least height of letters that can be read on steel, mm.
const LEAST: f64 = 2.5;
/// Greatest height of the part's name, mm: to be read across the workshop.
const GREATEST: f64 = 18.0;
/// A tick takes at most this share of the way to the next cut.
const TICK_ROOM: f64 = 0.4;
/// A tick shorter than this is not worth scribing, mm.
const LEAST_TICK: f64 = 1.0;
/// Each try is smaller than the one before by this factor.
const SMALLER: f64 = 0.8;
/// Writing leaves a better place only for letters larger by this factor.
const WORTH_MOVING: f64 = 1.25;
/// Rows of writing places that are tried up a part.
const ROWS: u32 = 12;
/// Height of the note under the name, in heights of the name.
const NOTE: f64 = 0.6;
/// Words beside a bend line may fill this share of the way to the next one.
const BEND_ROOM: f64 = 0.3;
/// Height of the letters C and V and of the words beside bend lines, mm.
const MARK_TEXT: f64 = 7.0;
/// A face flatter than this has no up direction (sine of its slope).
const LEVEL: f64 = 0.02;
/// The datum line keeps this share of the part's length off its ends.
const DATUM_EDGE: f64 = 0.15;
/// Datum lines lie at whole multiples of this along the ribs from the face's origin, mm.
const DATUM_STEP: f64 = 100.0;

impl Tick {
    /// None where the mark has no direction on the page.
    pub(super) fn new(mark: &MatchMark, page: &dyn Fn([f64; 2]) -> [f64; 2]) -> Option<Self> {
        let at = page(mark.at);
        let to = page([0, 1].map(|i| mark.at[i] + mark.into[i] * STEP));
        let d = [to[0] - at[0], to[1] - at[1]];
        let norm = d[0].hypot(d[1]);
        (norm > 0.0).then(|| Self { at, into: d.map(|x| x / norm), number: mark.number })
    }
}

fn along(p: [f64; 2], d: [f64; 2], by: f64) -> [f64; 2] {
    [p[0] + d[0] * by, p[1] + d[1] * by]
}

impl Page {
    fn write(&mut self, words: &Words, at: [f64; 2], height: f64, angle: f64) {
        self.room.take(words.area(at, height, angle));
        self.drawing.labels.push(words.label(at, height, angle));
    }

    /// Match marks, each with its number beside it.
    pub(super) fn draw_ticks(&mut self, ticks: &[Tick], marking: &Marking) {
        let mut drawn = Vec::new();
        for tick in ticks {
            let way = self.room.way(tick.at, tick.into, STEP * 10.0);
            let length = marking.tick.min(TICK_ROOM * way);
            let starts_inside = self.room.contains(along(tick.at, tick.into, length / 2.0));
            if length < LEAST_TICK || !starts_inside {
                continue;
            }
            let line = [tick.at, along(tick.at, tick.into, length)];
            self.drawing.paths.push(Path::open(Layer::Mark, line.to_vec()));
            self.room.take(Tilted::around(line, LINE));
            drawn.push((tick, length));
        }
        if marking.text <= 0.0 {
            return;
        }
        for (tick, length) in drawn {
            let words = Words::new(&tick.number.to_string());
            let side = [-tick.into[1], tick.into[0]];
            let place = |height: f64| {
                let half = words.area([0.0; 2], height, 0.0).half;
                let reach = |d: [f64; 2]| d[0].abs() * half[0] + d[1].abs() * half[1];
                let near = marking.clearance + reach(tick.into);
                let aside = reach(side) + 0.5 * height;
                let mut places = Vec::new();
                for k in [0.1, 0.6, 1.2, 2.0] {
                    for s in [1.0, -1.0] {
                        places.push(along(along(tick.at, tick.into, near + k * height), side, s * aside));
                    }
                }
                for k in [0.6, 1.2, 2.0] {
                    places.push(along(
                        tick.at,
                        tick.into,
                        length.max(marking.clearance) + reach(tick.into) + k * height,
                    ));
                }
                places
            };
            let heights = [1.0, SMALLER, SMALLER * SMALLER].map(|k| (marking.text * k).max(LEAST));
            let best = [true, false].into_iter().find_map(|clear| {
                heights.into_iter().find_map(|height| {
                    let fits = |at: &[f64; 2]| {
                        let area = words.area(*at, height, 0.0);
                        self.room.is_free(&area) && (!clear || self.room.is_clear(&area))
                    };
                    place(height).into_iter().find(fits).map(|at| (at, height))
                })
            });
            if let Some((at, height)) = best {
                self.write(&words, at, height, 0.0);
            }
        }
    }

    /// The line square to the ribs right across the part; gives its height on the page.
    pub(super) fn draw_datum(&mut self, part: &Part, corner: f64) -> Option<f64> {
        let PartKind::Sheet { .. } = part.kind else { return None };
        let s = datum_of(part);
        let y = s - corner;
        let pieces = inside_level(&self.outlines, y);
        for &[a, b] in &pieces {
            self.drawing.paths.push(Path::open(Layer::Mark, vec![[a, y], [b, y]]));
            self.room.take(Tilted::around([[a, y], [b, y]], LINE));
            self.room.draw_line([[a, y], [b, y]]);
        }
        let place = if s == 0.0 { "0".to_owned() } else { format!("{s:+.0}") };
        let words = Words::new(&format!("DATUM {place}"));
        let longest = pieces.into_iter().max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])));
        let [a, b] = longest?;
        let mut height = part.marking.text;
        while height >= LEAST {
            for share in [0.12, 0.88, 0.3, 0.7, 0.5, 0.2, 0.8, 0.4, 0.6] {
                for side in [1.0, -1.0] {
                    let at = [a + (b - a) * share, y + side * 1.1 * height];
                    if self.room.is_free(&words.area(at, height, 0.0)) {
                        self.write(&words, at, height, 0.0);
                        return Some(y);
                    }
                }
            }
            height *= SMALLER;
        }
        Some(y)
    }

    /// The part's name, its note and an arrow, where there is most room.
    pub(super) fn write_block(&mut self, part: &Part, note: &str) {
        let Some([low, high]) = self.drawing.bounds() else { return };
        let up = Up::of(part);
        let texts = [Words::new(&part.id), Words::new(note), Words::new(up.word)];
        let mut best: Option<(f64, [f64; 2], f64)> = None;
        // A strip may be too narrow for level writing.
        let angles: &[f64] =
            if matches!(part.kind, PartKind::Closure { .. }) { &[0.0, 90.0] } else { &[0.0] };
        for &angle in angles {
            // Rows up the part, the middle first.
            for row in 0..ROWS - 1 {
                let aside = f64::from(row.div_ceil(2)) * if row % 2 == 0 { -1.0 } else { 1.0 };
                let y = (low[1] + high[1]) / 2.0 + (high[1] - low[1]) * aside / f64::from(ROWS);
                for span in inside_level(&self.outlines, y) {
                    for share in [0.5, 0.3, 0.7] {
                        let at = [span[0] + (span[1] - span[0]) * share, y];
                        let least = best.map_or(LEAST, |(height, ..)| height * WORTH_MOVING);
                        let mut height = GREATEST;
                        while height >= least {
                            let areas = block(&texts, at, height, angle, up.aim);
                            if areas.iter().all(|(_, area)| self.room.is_free(area)) {
                                best = Some((height, at, angle));
                                break;
                            }
                            height *= SMALLER;
                        }
                    }
                }
            }
        }
        // In a sliver no writing fits: the file's name says which part it is.
        let Some((height, at, angle)) = best else { return };
        let places = block(&texts, at, height, angle, up.aim);
        let scales = [1.0, NOTE, NOTE];
        for ((words, scale), (place, _)) in texts.iter().zip(scales).zip(&places) {
            if up.aim.is_some() || words.label([0.0; 2], 1.0, 0.0).text != up.word {
                self.write(words, *place, height * scale, angle);
            }
        }
        if let Some(aim) = up.aim {
            let (middle, area) = places[3];
            self.room.take(area);
            self.drawing.paths.push(arrow(middle, aim, height));
        }
    }

    /// Direction, angle and inside radius along every bend line.
    pub(super) fn write_bends(&mut self, letters: &Letters) {
        for (bend, pieces, room) in &letters.bends {
            let length = |s: &[f64; 2]| s[1] - s[0];
            let Some(&piece) = pieces.iter().max_by(|a, b| length(a).total_cmp(&length(b))) else { continue };
            let round = |x: f64| format!("{x:.1}").trim_end_matches(".0").to_owned();
            let way = if bend.up { "up" } else { "down" };
            let words = Words::new(&format!("{way} {}° R{}", round(bend.angle), round(bend.radius)));
            let mut height = MARK_TEXT.min(room * BEND_ROOM);
            'tries: while height >= LEAST {
                for share in [0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.87, 0.13] {
                    for side in [-0.9, 0.9] {
                        let at = [bend.across + side * height, piece[0] + length(&piece) * share];
                        let area = words.area(at, height, 90.0);
                        if self.room.is_free(&area) && self.room.is_clear(&area) {
                            self.write(&words, at, height, 90.0);
                            break 'tries;
                        }
                    }
                }
                height *= SMALLER;
            }
        }
    }

    /// The letters C and V.
    pub(super) fn write_letters(&mut self, letters: &Letters) {
        for (at, letter) in &letters.centres {
            let words = Words::new(letter);
            let places =
                [[0.0, 0.0], [0.9, 0.0], [-0.9, 0.0], [0.9, 0.9], [-0.9, 0.9], [0.9, -0.9], [-0.9, -0.9]];
            let place = places.map(|d| [at[0] + d[0] * MARK_TEXT, at[1] + d[1] * MARK_TEXT]);
            let free = |p: &[f64; 2]| self.room.is_free(&words.area(*p, MARK_TEXT, 0.0));
            if let Some(at) = place.into_iter().find(free) {
                self.write(&words, at, MARK_TEXT, 0.0);
            }
        }
    }

    /// The neighbours' names, each along its edge.
    pub(super) fn write_neighbours(&mut self, part: &Part) {
        let marking = &part.marking;
        if marking.text <= 0.0 {
            return;
        }
        for (outline, across) in self.outlines.clone().iter().zip(&marking.across) {
            for (name, run) in runs(outline, across) {
                let Some(name) = marking.neighbours.get(name) else { continue };
                self.write_along(&Words::new(name), &run, marking);
            }
        }
    }

    fn write_along(&mut self, words: &Words, run: &[[f64; 2]], marking: &Marking) {
        let edge = Edge::new(run);
        let mut height = marking.text;
        while height >= LEAST {
            let width = words.width() * height;
            // A name longer than its edge would be read as another edge's.
            if width <= edge.length {
                for clear in [true, false] {
                    for share in [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8] {
                        let (middle, d) = edge.at(share, width);
                        // Read from below or from the right.
                        let angle = d[1].atan2(d[0]).to_degrees();
                        let angle = if angle > 90.0 + f64::EPSILON { angle - 180.0 } else { angle };
                        let angle = if angle <= -90.0 + STEP { angle + 180.0 } else { angle };
                        let inward = [-d[1], d[0]];
                        for k in 0..10 {
                            let by = marking.clearance + height * (0.7 + 0.5 * f64::from(k));
                            let at = along(middle, inward, by);
                            let area = words.area(at, height, angle);
                            if self.room.is_free(&area) && (!clear || self.room.is_clear(&area)) {
                                self.write(words, at, height, angle);
                                return;
                            }
                        }
                    }
                }
            }
            height *= SMALLER;
        }
    }
}

/// Where along the ribs a part's datum line lies, mm from the face's origin.
pub(crate) fn datum_of(part: &Part) -> f64 {
    let all = || part.outlines.iter().flatten().map(|p| p[0]);
    let (low, high) = (all().fold(f64::INFINITY, f64::min), all().fold(f64::NEG_INFINITY, f64::max));
    let edge = DATUM_EDGE * (high - low);
    if low + edge <= 0.0 && high - edge >= 0.0 {
        return 0.0;
    }
    let middle = (low + high) / 2.0;
    let round = (middle / DATUM_STEP).round() * DATUM_STEP;
    // A part shorter than the steps gets its line in whole millimetres.
    if low + edge <= round && round <= high - edge { round } else { middle.round() }
}

/// The up direction of a part on its page.
struct Up {
    word: &'static str,
    aim: Option<[f64; 2]>,
}

impl Up {
    /// Up, or on a level face +y.
    fn of(part: &Part) -> Self {
        let f = &part.frame;
        let (word, aim) =
            if f.n.cross(&Vector3::z()).norm() < LEVEL { ("+Y", Vector3::y()) } else { ("UP", Vector3::z()) };
        // On a sheet's page −v runs to the right and u up; a closure strip lies as its own axes do.
        let d = match part.kind {
            PartKind::Sheet { .. } => [-aim.dot(&f.v), aim.dot(&f.u)],
            PartKind::Closure { .. } => [aim.dot(&f.u), aim.dot(&f.v)],
        };
        let norm = d[0].hypot(d[1]);
        Self { word, aim: (norm > 0.0).then(|| d.map(|x| x / norm)) }
    }
}

/// Half length and half width of the arrow, in heights of the name.
const ARROW: [f64; 2] = [1.0, 0.5];

/// Places and areas of name, note, the arrow's word and the arrow.
fn block(
    [name, note, word]: &[Words; 3],
    at: [f64; 2],
    height: f64,
    angle: f64,
    aim: Option<[f64; 2]>,
) -> [([f64; 2], Tilted); 4] {
    let (sin, cos) = angle.to_radians().sin_cos();
    let point = |x: f64, y: f64| [at[0] + (x * cos - y * sin) * height, at[1] + (x * sin + y * cos) * height];
    let written =
        |words: &Words, place: [f64; 2], scale: f64| (place, words.area(place, height * scale, angle));
    let half = ARROW.map(|x| x * height);
    let arrow = point(-0.8, -1.7);
    [
        written(name, point(0.0, 1.5), 1.0),
        written(note, point(0.0, 0.15), NOTE),
        written(word, point(1.3, -1.7), NOTE),
        (arrow, Tilted { middle: arrow, along: aim.unwrap_or([1.0, 0.0]), half }),
    ]
}

/// The arrow's outline: seen from across the room, and printed as black as lettering is.
fn arrow(at: [f64; 2], d: [f64; 2], height: f64) -> Path {
    let side = [-d[1], d[0]];
    let half = [(-1.0, 0.18), (0.2, 0.18), (0.2, 0.5), (1.0, 0.0)];
    let outline = half.iter().copied().chain(half[..3].iter().rev().map(|&(a, c)| (a, -c)));
    let point = |(a, c): (f64, f64)| along(along(at, d, a * height), side, c * height);
    Path::closed(Layer::Text, outline.map(point).collect())
}

/// Unbroken runs of edges with the same neighbour, as points.
fn runs(outline: &[[f64; 2]], across: &[Option<usize>]) -> Vec<(usize, Vec<[f64; 2]>)> {
    let count = outline.len();
    let start = (0..count).find(|&i| across[i] != across[(i + count - 1) % count]).unwrap_or(0);
    let mut found: Vec<(Option<usize>, Vec<[f64; 2]>)> = Vec::new();
    for k in 0..count {
        let i = (start + k) % count;
        match found.last_mut().filter(|(name, _)| *name == across[i]) {
            Some((_, run)) => run.push(outline[(i + 1) % count]),
            None => found.push((across[i], vec![outline[i], outline[(i + 1) % count]])),
        }
    }
    found.into_iter().filter_map(|(name, run)| name.map(|n| (n, run))).collect()
}

/// A run of edges measured along its length.
struct Edge<'a> {
    points: &'a [[f64; 2]],
    starts: Vec<f64>,
    length: f64,
}

impl<'a> Edge<'a> {
    fn new(points: &'a [[f64; 2]]) -> Self {
        let mut starts = vec![0.0];
        for e in points.windows(2) {
            starts.push(starts[starts.len() - 1] + (e[1][0] - e[0][0]).hypot(e[1][1] - e[0][1]));
        }
        let length = starts[starts.len() - 1];
        Self { points, starts, length }
    }

    fn point(&self, station: f64) -> [f64; 2] {
        let w = station.clamp(0.0, self.length);
        let i = self.starts.partition_point(|s| *s <= w).clamp(1, self.points.len() - 1) - 1;
        let step = self.starts[i + 1] - self.starts[i];
        let share = if step > 0.0 { (w - self.starts[i]) / step } else { 0.0 };
        let (a, b) = (self.points[i], self.points[i + 1]);
        [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share]
    }

    /// The middle of a stretch this wide about a share of the run, and the run's direction there.
    fn at(&self, share: f64, width: f64) -> ([f64; 2], [f64; 2]) {
        let (from, to) = (share * self.length - width / 2.0, share * self.length + width / 2.0);
        let (a, b) = (self.point(from), self.point(to));
        let d = [b[0] - a[0], b[1] - a[1]];
        let norm = d[0].hypot(d[1]);
        let d = if norm > 0.0 { d.map(|x| x / norm) } else { [1.0, 0.0] };
        ([(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0], d)
    }
}
