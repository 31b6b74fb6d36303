//! Profiles: the cross-section of a corrugated sheet.
//!
//! A profile is one pitch of the middle skin, from the middle of a crest to the middle of the next,
//! written as strips: flats, and the chords that stand for bends. Heights are relative to mid-depth
//! (a crest lies at +depth/2, a valley at −depth/2). Every skin has the same strips; only their
//! developed widths differ.

pub mod arc_tangent;
pub mod bend;
pub mod flat;
pub mod outline;
pub mod section;
pub(crate) mod skin;
pub mod sine;
pub(crate) mod symmetry;
pub mod trapezoid;

use crate::error::{Error, Result};
use crate::registry::named_row;
use crate::settings::{LARGEST_NUMBER, Setting, SettingKind, Values};

/// A registry row: one kind of profile a script can ask for.
#[derive(Clone, Copy)]
pub struct ProfileKind {
    /// The script word.
    pub name: &'static str,
    /// One line on what it is.
    pub summary: &'static str,
    /// The settings its map takes.
    pub settings: &'static [Setting],
    /// Builds the profile from checked settings.
    pub build: fn(&Values) -> Result<Profile>,
}

named_row!(ProfileKind);

/// A true shape of the middle skin, in order across the sheet, starting at the middle of a crest
/// with a level tangent: flats and arcs, or corners without radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Piece {
    /// A straight run of this length, mm.
    Flat {
        /// Length along the skin, mm.
        length: f64,
    },
    /// An arc or, with radius 0, a sharp corner.
    Bend {
        /// Radius of the middle skin, mm; 0 is a sharp corner.
        radius: f64,
        /// Angle turned, radians; positive turns down towards the valley side (convex outward, as at
        /// the two ends of a crest).
        turn: f64,
    },
}

/// One strip of the profile: planar in space, between two fold lines.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strip {
    /// Across the ribs, from the middle of the crest, mm.
    pub t: [f64; 2],
    /// Height over mid-depth at the two folds, mm.
    pub h: [f64; 2],
    /// Developed coordinate along the middle skin (true arcs) at the two folds, mm.
    pub w: [f64; 2],
    /// What the developed width gains per mm of offset towards the outside, at its two folds:
    /// width on skin e = `(w[1] − w[0])` + e·gain.
    pub gain: f64,
    /// Which [`Piece`] it belongs to.
    pub piece: usize,
}

/// The cross-section of a corrugated sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    kind: String,
    pitch: f64,
    depth: f64,
    thickness: f64,
    bend_radius: f64,
    pieces: Vec<Piece>,
    strips: Vec<Strip>,
    /// Sum of the gains of the strips before each one, and of all of them at the end.
    gain_before: Vec<f64>,
    /// Where its skins bend; see [`skin`].
    nodes: Vec<skin::Node>,
}

/// How far a chord may lie from the true arc of a bend, mm.
pub const CHORD_TOLERANCE: f64 = 0.05;

/// Least advance across the sheet per length of a strip: a web may be as steep as 89.94 degrees. Steeper
/// ones are vertical for every practical purpose and would not be a function of t.
pub const LEAST_ADVANCE: f64 = 1.0e-3;

/// Relative rounding allowed where the pieces of one pitch must close, as a share of the pitch.
const CLOSURE: f64 = 1.0e-9;

/// Turns below this many radians are no fold: a micrometre over a kilometre.
const NO_TURN: f64 = 1.0e-9;

impl Profile {
    /// Builds a profile from the true shape of one pitch of its middle skin.
    ///
    /// `pieces` start and end at the middle of a crest with a level tangent. Bends with a radius become
    /// chords whose ends lie on the true arc, at most [`CHORD_TOLERANCE`] away from it; the developed
    /// coordinate stays the length of the true arc. `bend_radius` is the inside radius, for the record
    /// (0 for sharp folds). Heights are shifted so that mid-depth is 0.
    ///
    /// # Errors
    /// A number that is not finite, a negative length, no advance across the sheet (vertical or
    /// overhanging webs), ends that do not meet, or a skin on which a strip would have a negative width.
    pub fn from_pieces(kind: &str, pieces: Vec<Piece>, thickness: f64, bend_radius: f64) -> Result<Self> {
        check_numbers(&pieces, thickness, bend_radius).map_err(|e| e.at(kind))?;
        let mut walk = Walk::default();
        let corners = corner_turns(&pieces);
        for (index, piece) in pieces.iter().enumerate() {
            match *piece {
                Piece::Flat { length } => {
                    let ends = corners[index];
                    let gain = (ends[0] / 2.0).tan() + (ends[1] / 2.0).tan();
                    walk.flat(length, gain, index);
                }
                Piece::Bend { radius, turn } => walk.bend(radius, turn, index),
            }
        }
        let (t, h, angle) = (walk.t, walk.h, walk.angle);
        if t <= 0.0 || h.abs() > CLOSURE * t || angle.abs() > CLOSURE {
            return Err(Error::input(format!(
                "one pitch does not close: it ends at t = {t} mm, {h} mm above its start, turned by {} degrees",
                angle.to_degrees()
            ))
            .remedy("make the pieces of one pitch end level and as high as they began")
            .at(kind));
        }
        let mut strips = walk.strips;
        if let Some(last) = strips.last_mut() {
            last.h[1] = 0.0;
        }
        Self::from_strips(kind, t, pieces, strips, thickness, bend_radius)
    }

    /// Finishes a profile whose strips are known; heights may start anywhere.
    fn from_strips(
        kind: &str,
        pitch: f64,
        pieces: Vec<Piece>,
        mut strips: Vec<Strip>,
        thickness: f64,
        bend_radius: f64,
    ) -> Result<Self> {
        let heights = || strips.iter().flat_map(|s| s.h);
        let (low, high) = heights().fold((f64::MAX, f64::MIN), |(l, g), h| (l.min(h), g.max(h)));
        for strip in &mut strips {
            // The extremes come out as exactly ± half the depth, so that flats there are exactly level.
            strip.h = strip.h.map(|h| (h - low) / 2.0 + (h - high) / 2.0);
        }
        let mut gain_before = vec![0.0];
        for strip in &strips {
            let run = strip.t[1] - strip.t[0];
            let rise = strip.h[1] - strip.h[0];
            let width = strip.w[1] - strip.w[0];
            if run.is_nan() || run < LEAST_ADVANCE * run.hypot(rise) || run <= 0.0 {
                return Err(Error::input(format!(
                    "the sheet does not run forward at t = {} mm: a strip rises {rise} mm over {run} mm",
                    strip.t[0]
                ))
                .remedy("make the webs less steep: wider pitch, less depth, or narrower crest and valley")
                .at(kind));
            }
            let narrowest = width - strip.gain.abs() * thickness / 2.0;
            if narrowest < 0.0 {
                return Err(Error::input(format!(
                    "a sheet {thickness} mm thick cannot follow the shape at t = {} mm: one of its skins would \
                     be {} mm short there",
                    strip.t[0], -narrowest
                ))
                .remedy("use thinner sheet, a larger radius or longer flats")
                .at(kind));
            }
            gain_before.push(gain_before[gain_before.len() - 1] + strip.gain);
        }
        let depth = (high - low).max(0.0);
        let kind = kind.to_owned();
        let mut made = Self {
            kind,
            pitch,
            depth,
            thickness,
            bend_radius,
            pieces,
            strips,
            gain_before,
            nodes: Vec::new(),
        };
        made.nodes = skin::nodes(&made);
        Ok(made)
    }

    /// Takes `pitch` (and `depth`) as the exact values, where summing the pieces gave them up to rounding.
    ///
    /// # Errors
    /// A bug of the caller: the pieces do not add up to that.
    fn exactly(mut self, pitch: f64, depth: f64) -> Result<Self> {
        let off = (self.pitch - pitch).abs().max((self.depth - depth).abs());
        if off > CLOSURE * pitch.max(depth) {
            return Err(Error::bug(format!(
                "{}: pieces of one pitch are {off} mm off their nominal size",
                self.kind
            )));
        }
        let half = self.depth / 2.0;
        for strip in &mut self.strips {
            strip.t = strip.t.map(|t| if t == self.pitch { pitch } else { t });
            for h in &mut strip.h {
                if (h.abs() - half).abs() <= CLOSURE * depth {
                    *h = (depth / 2.0).copysign(*h);
                }
            }
        }
        (self.pitch, self.depth) = (pitch, depth);
        self.nodes = skin::nodes(&self);
        Ok(self)
    }

    /// The script word of its kind: `trapezoid`, …
    pub fn kind(&self) -> &str {
        &self.kind
    }

    /// Distance from crest to crest, mm.
    pub fn pitch(&self) -> f64 {
        self.pitch
    }

    /// Height from valley to crest on one skin, mm; 0 for a flat sheet.
    pub fn depth(&self) -> f64 {
        self.depth
    }

    /// Thickness of the sheet, mm.
    pub fn thickness(&self) -> f64 {
        self.thickness
    }

    /// Inside radius of its bends, mm; 0 for sharp folds of the middle skin.
    pub fn bend_radius(&self) -> f64 {
        self.bend_radius
    }

    /// The true shape of one pitch of the middle skin. For a sine each piece is an arc of the true
    /// length and turn of its strip, an approximation of the shape only.
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// The strips of one pitch, from the middle of a crest to the middle of the next.
    pub fn strips(&self) -> &[Strip] {
        &self.strips
    }

    /// The lines a tape and a depth gauge can find on one pitch, as (t, height) on the middle skin, in order
    /// across, t from 0 up to the pitch: the corners between flats as sharp as if there were no bend radius;
    /// on a shape whose crests or valleys are no level flats, its crest and valley lines instead. None on a
    /// flat sheet.
    pub fn corners(&self) -> Vec<[f64; 2]> {
        if self.is_flat() {
            return Vec::new();
        }
        let mut at = [0.0, self.strips[0].h[0]];
        let mut angle = 0.0_f64;
        // The pitch starts in the middle of a crest.
        let (mut sharp, mut turning_points) = (Vec::new(), vec![at]);
        let mut round_extremes = matches!(self.pieces.first(), Some(Piece::Bend { .. }));
        let (mut slope_before_level, mut level_since) = (0.0, 0.0);
        for piece in &self.pieces {
            match *piece {
                Piece::Flat { length } => {
                    at = [at[0] + length * angle.cos(), at[1] + length * angle.sin()];
                }
                Piece::Bend { radius, turn } => {
                    let end = snap(angle - turn);
                    let setback = radius * (turn / 2.0).tan().abs();
                    sharp.push([at[0] + setback * angle.cos(), at[1] + setback * angle.sin()]);
                    let start = at;
                    let (from, to) = (angle.sin_cos(), end.sin_cos());
                    let signed = radius * turn.signum();
                    at = [at[0] + signed * (from.0 - to.0), at[1] + signed * (to.1 - from.1)];
                    if angle * end < 0.0 {
                        round_extremes = true;
                        turning_points.push([start[0] + signed * from.0, start[1] + signed * (1.0 - from.1)]);
                    } else if angle != 0.0 && end == 0.0 {
                        (slope_before_level, level_since) = (angle, at[0]);
                    } else if angle == 0.0 && end != 0.0 && slope_before_level * end < 0.0 {
                        turning_points.push([f64::midpoint(level_since, start[0]), start[1]]);
                    }
                    angle = end;
                }
            }
        }
        if round_extremes { turning_points } else { sharp }
    }

    /// Whether the sheet is flat: its strips are no folds, only a way to count.
    pub fn is_flat(&self) -> bool {
        self.depth == 0.0
    }

    /// Greatest height over mid-depth, mm: + depth/2.
    pub fn max_height(&self) -> f64 {
        self.depth / 2.0
    }

    /// Least height over mid-depth, mm: − depth/2.
    pub fn min_height(&self) -> f64 {
        -self.depth / 2.0
    }

    /// Height of the middle skin over mid-depth at `t` from the middle of a crest, mm; periodic.
    pub fn height(&self, t: f64) -> f64 {
        let (_, index, local) = self.locate(t);
        let strip = &self.strips[index];
        strip.h[0] + (strip.h[1] - strip.h[0]) * share(strip, local)
    }

    /// Number of the strip over `t`, counted on through the pitches: k·strips + i, negative to the left of 0.
    /// A fold belongs to the strip on its right.
    pub fn strip_index(&self, t: f64) -> i64 {
        let (period, index, _) = self.locate(t);
        period * self.strip_count() + to_i64(index)
    }

    /// Where the strip with this number starts, mm.
    pub fn fold_t(&self, index: i64) -> f64 {
        let (period, strip) = self.strip_of(index);
        period * self.pitch + strip.t[0]
    }

    /// Height over mid-depth where the strip with this number starts, mm.
    pub fn fold_height(&self, index: i64) -> f64 {
        self.strip_of(index).1.h[0]
    }

    /// Angle the chords turn at the start of the strip with this number, radians, positive where convex
    /// outward; 0 where it is no fold (the middle of a crest).
    pub fn fold_turn(&self, index: i64) -> f64 {
        let before = self.slope(index - 1).atan();
        let turn = before - self.slope(index).atan();
        if turn.abs() < NO_TURN { 0.0 } else { turn }
    }

    /// Rise per advance of the strip with this number.
    pub fn slope(&self, index: i64) -> f64 {
        let strip = self.strip_of(index).1;
        (strip.h[1] - strip.h[0]) / (strip.t[1] - strip.t[0])
    }

    /// Length of one pitch along the skin `skin_offset` outside the middle one (inside is negative), mm.
    pub fn developed_length(&self, skin_offset: f64) -> f64 {
        self.middle_length() + skin_offset * self.gain_before[self.strips.len()]
    }

    /// Developed coordinate of `t` along a skin, mm: 0 at t = 0, linear within each strip, growing by
    /// [`Self::developed_length`] per pitch. True arcs count, not their chords.
    pub fn developed_at(&self, t: f64, skin_offset: f64) -> f64 {
        let (period, index, local) = self.locate(t);
        let strip = &self.strips[index];
        let width = (strip.w[1] - strip.w[0]) + skin_offset * strip.gain;
        let start = strip.w[0] + skin_offset * self.gain_before[index];
        #[allow(clippy::cast_precision_loss, reason = "periods are far below 2^52")]
        let periods = period as f64;
        periods * self.developed_length(skin_offset) + start + width * share(strip, local)
    }

    /// The t at a developed coordinate of the middle skin, mm: undoes [`Self::developed_at`] there.
    pub fn at_developed(&self, w: f64) -> f64 {
        let whole = self.middle_length();
        let periods = (w / whole).floor();
        let local = w - periods * whole;
        let i = self.strips.partition_point(|s| s.w[1] <= local).min(self.strips.len() - 1);
        let strip = &self.strips[i];
        let share = ((local - strip.w[0]) / (strip.w[1] - strip.w[0])).clamp(0.0, 1.0);
        periods * self.pitch + strip.t[0] + (strip.t[1] - strip.t[0]) * share
    }

    fn middle_length(&self) -> f64 {
        self.strips.last().map_or(0.0, |s| s.w[1])
    }

    fn strip_count(&self) -> i64 {
        to_i64(self.strips.len())
    }

    /// The pitch's number and the strip in it.
    #[allow(clippy::cast_precision_loss, reason = "periods are far below 2^52")]
    fn strip_of(&self, index: i64) -> (f64, &Strip) {
        let count = self.strip_count();
        let within = usize::try_from(index.rem_euclid(count)).unwrap_or(0);
        (index.div_euclid(count) as f64, &self.strips[within])
    }

    /// Number of the pitch, number of the strip within it, and t within the pitch.
    #[allow(clippy::cast_possible_truncation, reason = "t is bounded by the largest number accepted")]
    fn locate(&self, t: f64) -> (i64, usize, f64) {
        let mut period = (t / self.pitch).floor();
        let mut local = t - period * self.pitch;
        if local < 0.0 {
            period -= 1.0;
            local = (local + self.pitch).max(0.0);
        }
        if local >= self.pitch {
            period += 1.0;
            local = (local - self.pitch).max(0.0);
        }
        let after = self.strips.partition_point(|s| s.t[0] <= local);
        (period as i64, after.saturating_sub(1), local)
    }
}

/// Pieces of one pitch of a polyline rounded with arcs of the middle radius `radius` (0: sharp).
///
/// `points` are t, h of one pitch, t growing, the last one a pitch after the first and as high; no point
/// may be straight on. The pieces start at the middle of the highest flat, or at the highest corner.
///
/// # Errors
/// Two bends that do not fit on the flat between them.
fn rounded_pieces(points: &[[f64; 2]], radius: f64) -> Result<Vec<Piece>> {
    let count = points.len() - 1;
    let run = |i: usize| {
        let (a, b) = (points[i % count], points[i % count + 1]);
        (b[0] - a[0], b[1] - a[1])
    };
    let slope_angle = |i: usize| run(i).1.atan2(run(i).0);
    let turn_before = |i: usize| slope_angle((i + count - 1) % count) - slope_angle(i % count);
    let setback = |turn: f64| radius * (turn.abs() / 2.0).tan();
    let length = |i: usize| -> Result<f64> {
        let (dt, dh) = run(i);
        let whole = dt.hypot(dh);
        let need = setback(turn_before(i)) + setback(turn_before(i + 1));
        if need > whole * (1.0 + CLOSURE) {
            return Err(Error::input(format!(
                "the bends need {need:.3} mm of a flat that is {whole:.3} mm long (from t = {} mm)",
                points[i % count][0]
            ))
            .remedy("make the bend radius smaller or the flat longer"));
        }
        Ok((whole - need).max(0.0))
    };
    let high = points.iter().map(|p| p[1]).fold(f64::MIN, f64::max);
    let is_crest = |i: &usize| points[*i][1] == high && points[*i + 1][1] == high;
    let longest_crest = (0..count).filter(is_crest).max_by(|a, b| run(*a).0.total_cmp(&run(*b).0));
    let mut pieces = Vec::new();
    if count == 1 {
        return Ok(vec![Piece::Flat { length: run(0).0 }]);
    }
    let start = match longest_crest {
        Some(crest) => crest,
        None => (0..count).find(|i| points[*i][1] == high).unwrap_or(0),
    };
    let bend = |turn: f64| Piece::Bend { radius, turn };
    if longest_crest.is_some() {
        let whole = length(start)?;
        // The pitch starts at the middle between the theoretical corners, also where the bends differ.
        let middle = run(start).0 / 2.0 - setback(turn_before(start + 1));
        let right = if (0.0..=whole).contains(&middle) { middle } else { whole / 2.0 };
        pieces.push(Piece::Flat { length: right });
        for i in start + 1..start + count {
            pieces.push(bend(turn_before(i)));
            pieces.push(Piece::Flat { length: length(i)? });
        }
        pieces.push(bend(turn_before(start)));
        pieces.push(Piece::Flat { length: whole - right });
    } else {
        pieces.push(bend(-slope_angle(start)));
        for i in start..start + count {
            if i > start {
                pieces.push(bend(turn_before(i)));
            }
            pieces.push(Piece::Flat { length: length(i)? });
        }
        pieces.push(bend(slope_angle((start + count - 1) % count)));
    }
    pieces.retain(|p| !matches!(p, Piece::Flat { length } if *length == 0.0));
    Ok(pieces)
}

/// Middle radius of a bend: 0 stays a sharp fold of the middle skin, whatever the thickness.
fn middle_radius(inside: f64, thickness: f64) -> f64 {
    if inside > 0.0 { inside + thickness / 2.0 } else { 0.0 }
}

/// The settings every profile kind shares.
const THICKNESS: Setting = Setting {
    name: "thickness",
    summary: "thickness of the sheet",
    unit: "mm",
    kind: SettingKind::Number { default: Some(2.0), min: 0.1, max: 50.0 },
};

const PITCH: Setting = Setting {
    name: "pitch",
    summary: "distance from crest to crest",
    unit: "mm",
    kind: SettingKind::Number { default: None, min: 1.0, max: 10_000.0 },
};

const DEPTH: Setting = Setting {
    name: "depth",
    summary: "height from valley to crest, measured on one skin",
    unit: "mm",
    kind: SettingKind::Number { default: None, min: 0.1, max: 5_000.0 },
};

const BEND_RADIUS: Setting = Setting {
    name: "bend_radius",
    summary: "inside radius of the bends; 0 folds the middle skin sharply, whatever the thickness",
    unit: "mm",
    kind: SettingKind::Number { default: Some(0.0), min: 0.0, max: 1_000.0 },
};

fn share(strip: &Strip, local: f64) -> f64 {
    ((local - strip.t[0]) / (strip.t[1] - strip.t[0])).clamp(0.0, 1.0)
}

fn to_i64(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

fn check_numbers(pieces: &[Piece], thickness: f64, bend_radius: f64) -> Result<()> {
    let usable = |x: f64| x.is_finite() && x.abs() <= LARGEST_NUMBER;
    let good = |p: &Piece| match *p {
        Piece::Flat { length } => usable(length) && length >= 0.0,
        Piece::Bend { radius, turn } => usable(radius) && radius >= 0.0 && turn.abs() < std::f64::consts::PI,
    };
    if let Some(index) = pieces.iter().position(|p| !good(p)) {
        return Err(Error::input(format!("piece {index} is not usable: {:?}", pieces[index]))
            .remedy("lengths and radii must be finite and not negative, turns below 180 degrees"));
    }
    if !(usable(thickness) && thickness > 0.0 && usable(bend_radius) && bend_radius >= 0.0) {
        return Err(Error::input(format!(
            "thickness {thickness} mm with inside radius {bend_radius} mm is not usable"
        ))
        .remedy("give a thickness above 0 and a radius of 0 or more"));
    }
    Ok(())
}

/// For each flat the turn of the sharp corners at its two ends (0 beside an arc), round the pitch.
fn corner_turns(pieces: &[Piece]) -> Vec<[f64; 2]> {
    let count = pieces.len();
    let turn_from = |start: usize, step: usize| {
        let mut total = 0.0;
        for k in 1..count {
            match pieces[(start + k * step) % count] {
                Piece::Bend { radius: 0.0, turn } => total += turn,
                // Half crests meet without a fold: look no further.
                _ => break,
            }
        }
        total
    };
    (0..count).map(|i| [turn_from(i, count - 1), turn_from(i, 1)]).collect()
}

/// The end of the pieces laid out so far: where it is and which way it goes (radians, falling is negative).
#[derive(Default)]
struct Walk {
    t: f64,
    h: f64,
    w: f64,
    angle: f64,
    strips: Vec<Strip>,
}

impl Walk {
    fn flat(&mut self, length: f64, gain: f64, piece: usize) {
        if length > 0.0 {
            let (sin, cos) = self.angle.sin_cos();
            self.step(length * cos, length * sin, length, gain, piece);
        }
    }

    fn bend(&mut self, radius: f64, turn: f64, piece: usize) {
        let end = snap(self.angle - turn);
        if radius > 0.0 {
            // A vertex where the tangent is level keeps the true depth.
            if self.angle * end < 0.0 {
                self.arc(radius, 0.0, piece);
            }
            self.arc(radius, end, piece);
        }
        self.angle = end;
    }

    fn arc(&mut self, radius: f64, end: f64, piece: usize) {
        let turn = self.angle - end;
        if turn == 0.0 {
            return;
        }
        // Sagitta r(1 − cos(a/2)) of a chord over the angle a; a quarter turn is the coarsest chord.
        let coarsest = 2.0 * (1.0 - CHORD_TOLERANCE / radius).clamp(0.5_f64.sqrt(), 1.0).acos();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small positive count")]
        let count = (turn.abs() / coarsest * (1.0 - CLOSURE)).ceil().max(1.0) as u32;
        let start = self.angle;
        for k in 1..=count {
            let to = if k == count { end } else { start - turn * f64::from(k) / f64::from(count) };
            let part = self.angle - to;
            // Chord of an arc: 2 r sin(part/2) long, along the mean direction.
            let chord = 2.0 * radius * (part.abs() / 2.0).sin();
            let (sin, cos) = f64::midpoint(self.angle, to).sin_cos();
            self.step(chord * cos, chord * sin, radius * part.abs(), part, piece);
            self.angle = to;
        }
    }

    fn step(&mut self, dt: f64, dh: f64, dw: f64, gain: f64, piece: usize) {
        let (t, h, w) = (self.t, self.h, self.w);
        (self.t, self.h, self.w) = (t + dt, h + dh, w + dw);
        self.strips.push(Strip { t: [t, self.t], h: [h, self.h], w: [w, self.w], gain, piece });
    }
}

/// A direction that is level up to rounding is level.
fn snap(angle: f64) -> f64 {
    if angle.abs() < NO_TURN { 0.0 } else { angle }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn flat(length: f64) -> Piece {
        Piece::Flat { length }
    }

    #[test]
    fn pieces_that_do_not_close_or_are_not_numbers_are_refused() {
        let corner = |turn: f64| Piece::Bend { radius: 0.0, turn };
        let refused = |pieces: Vec<Piece>, says: &str| {
            let text = Profile::from_pieces("own", pieces, 2.0, 0.0).unwrap_err().to_string();
            assert!(text.contains(says), "{text:?} does not say {says:?}");
        };
        refused(vec![flat(10.0), corner(0.5), flat(10.0)], "does not close");
        refused(vec![flat(10.0), corner(0.5), flat(10.0), corner(-0.5)], "does not close");
        refused(vec![], "does not close");
        refused(vec![flat(f64::NAN)], "piece 0");
        refused(vec![flat(1.0), corner(f64::INFINITY)], "piece 1");
        refused(vec![flat(1e300)], "piece 0");
        refused(vec![flat(-1.0)], "piece 0");
        let steep = std::f64::consts::FRAC_PI_2;
        let upright =
            [corner(steep), flat(9.0), corner(-steep), flat(9.0), corner(-steep), flat(9.0), corner(steep)];
        refused([&[flat(9.0)][..], &upright, &[flat(9.0)]].concat(), "does not run forward");
        assert!(Profile::from_pieces("own", vec![flat(5.0)], f64::NAN, 0.0).is_err());
    }

    #[test]
    fn corners_are_where_a_tape_finds_them() {
        let near = |have: &[[f64; 2]], want: &[[f64; 2]]| {
            assert_eq!(have.len(), want.len(), "{have:?}");
            for (a, b) in have.iter().zip(want) {
                assert!((a[0] - b[0]).abs() < 1e-9 && (a[1] - b[1]).abs() < 1e-9, "{have:?}");
            }
        };
        let points = [[-35.0, 20.0], [35.0, 20.0], [65.0, -20.0], [135.0, -20.0], [165.0, 20.0]];
        for radius in [0.0, 5.0] {
            let rib =
                Profile::from_pieces("own", rounded_pieces(&points, radius).unwrap(), 2.0, 0.0).unwrap();
            near(&rib.corners(), &points[1..]);
        }
        let culvert = arc_tangent::shape(68.0, 13.0, 17.5, 2.0).unwrap();
        near(&culvert.corners(), &[[0.0, 6.5], [34.0, -6.5]]);
        let teeth = [[0.0, 10.0], [20.0, -10.0], [40.0, 10.0]];
        let teeth = Profile::from_pieces("own", rounded_pieces(&teeth, 0.0).unwrap(), 1.0, 0.0).unwrap();
        near(&teeth.corners(), &[[0.0, 10.0], [20.0, -10.0]]);
        assert!(Profile::from_pieces("own", vec![flat(5.0)], 1.0, 0.0).unwrap().corners().is_empty());
    }

    #[test]
    fn folds_are_counted_on_through_the_pitches() {
        let points = [[-35.0, 20.0], [35.0, 20.0], [65.0, -20.0], [135.0, -20.0], [165.0, 20.0]];
        let rib = Profile::from_pieces("own", rounded_pieces(&points, 0.0).unwrap(), 2.0, 0.0).unwrap();
        assert_eq!(rib.strip_index(0.0), 0);
        assert_eq!(rib.strip_index(50.0), 1);
        assert_eq!(rib.strip_index(-1.0), -1);
        assert_eq!(rib.strip_index(450.0), 11);
        assert!((rib.fold_t(-1) + 35.0).abs() < 1e-9 && (rib.fold_t(11) - 435.0).abs() < 1e-9);
        assert_eq!(rib.fold_turn(5), 0.0);
        let turn = 40.0_f64.atan2(30.0);
        assert!((rib.fold_turn(1) - turn).abs() < 1e-9 && (rib.fold_turn(-3) + turn).abs() < 1e-9);
        assert!((rib.slope(-1)).abs() < 1e-12 && (rib.slope(-2) - 4.0 / 3.0).abs() < 1e-9);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(200) })]
        #[test]
        fn every_trapezoid_is_periodic_and_develops_steadily(
            pitch in 20.0..500.0_f64,
            crest_share in prop_oneof![Just(0.0), 0.0..0.6_f64],
            valley_share in prop_oneof![Just(0.0), 0.0..0.39_f64],
            depth in 1.0..200.0_f64,
            radius in prop_oneof![Just(0.0), 0.1..30.0_f64],
            at in -5000.0..5000.0_f64,
            skin in -0.5..0.5_f64,
        ) {
            let (crest, valley) = (pitch * crest_share, pitch * valley_share);
            let web = (pitch - crest - valley) / 2.0;
            let (high, low) = (depth / 2.0, -depth / 2.0);
            let mut points = vec![[-crest / 2.0, high], [crest / 2.0, high], [crest / 2.0 + web, low]];
            points.extend([[pitch - crest / 2.0 - web, low], [pitch - crest / 2.0, high]]);
            points.dedup_by(|b, a| b[0] - a[0] <= 1e-9);
            let made = rounded_pieces(&points, radius).and_then(|p| Profile::from_pieces("own", p, 1.0, radius));
            let Ok(rib) = made else { return Ok(()) };
            let steep = depth / web;
            let same = |a: f64, b: f64, scale: f64| (a - b).abs() <= 1e-9 * (1.0 + steep) * scale.max(1.0);
            prop_assert!(same(rib.pitch(), pitch, pitch));
            prop_assert!(same(rib.height(at), rib.height(at + rib.pitch()), depth));
            prop_assert!(same(rib.height(at), rib.height(-at), depth), "symmetric");
            prop_assert!(rib.height(at).abs() <= rib.max_height());
            let w = |t: f64| rib.developed_at(t, skin);
            prop_assert!(same(w(at + rib.pitch()) - w(at), rib.developed_length(skin), 5000.0));
            prop_assert!(same(w(-at), -w(at), 5000.0));
            prop_assert!(w(at + 0.5) >= w(at));
            prop_assert_eq!(w(0.0), 0.0);
            let fold = rib.strip_index(at);
            prop_assert!(rib.fold_t(fold) <= at + 1e-9 && at <= rib.fold_t(fold + 1) + 1e-9);
            // Continuous over a fold.
            let t = rib.fold_t(fold);
            prop_assert!((w(t + 1e-9) - w(t - 1e-9)).abs() < 1e-6 * (1.0 + steep));
            let strips = rib.strips();
            for pair in strips.windows(2) {
                prop_assert!(pair[0].t[1] == pair[1].t[0] && pair[0].h[1] == pair[1].h[0]);
                prop_assert!(pair[0].w[1] == pair[1].w[0]);
            }
        }
    }
}
