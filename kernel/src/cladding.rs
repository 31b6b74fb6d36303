//! Cladding: a corrugated sheet in its place on a face, as a height over the face plane.
//!
//! A point p has the coordinates S = (p − c)·u along the ribs, T = (p − c)·v across them and
//! D = (p − c)·n outward, where c lies on a crest's centre line at mid-depth. The sheet is D = h(T) with
//! h piecewise linear and periodic; the material side is D ≤ h(T).

use crate::error::{Error, Result};
use crate::loft::Loft;
use crate::part::Frame;
use crate::profile::Profile;
use crate::sculpture::{Cladding, Datum};
use nalgebra::{Point3, Vector3};
use std::ops::Range;
use std::sync::Arc;

/// Least sine of the angle between the rib vector and the face normal: below it the ribs have no
/// direction on the face.
const LEAST_RIB_SINE: f64 = 1.0e-6;

/// The frame of a clad face: u along the ribs, v = n × u, origin at `through`.
///
/// # Errors
/// The rib vector is zero or runs along the normal.
pub fn face_frame(
    place: &str,
    normal: Vector3<f64>,
    centroid: Point3<f64>,
    cladding: &Cladding,
) -> Result<Frame> {
    let n = normal.normalize();
    let up = Vector3::z();
    // Up the slope unless told; on a level face there is no slope, so along +x.
    let default = if n.cross(&up).norm() < LEAST_RIB_SINE { Vector3::x() } else { up };
    let along = cladding.along.unwrap_or(default);
    let length = along.norm();
    if length == 0.0 || !length.is_finite() {
        return Err(Error::input("the rib vector has no length")
            .at(place)
            .remedy("give `along` as three numbers, not all zero"));
    }
    let a = along / length;
    let u = a - n * a.dot(&n);
    if u.norm() < LEAST_RIB_SINE {
        return Err(Error::input(
            "the ribs run along the face's normal, so they have no direction on the face",
        )
        .at(place)
        .remedy("give `along` a direction that lies in the face, or leave it out"));
    }
    let u = u.normalize();
    Ok(Frame { origin: cladding.through.unwrap_or(centroid), u, v: n.cross(&u), n })
}

/// How far the middle of the profile lies outside the face plane, mm.
pub fn lift(profile: &Profile, datum: Datum) -> f64 {
    match datum {
        Datum::Crest => -profile.depth() / 2.0,
        Datum::Middle => 0.0,
        Datum::Valley => profile.depth() / 2.0,
    }
}

/// A sheet in place, in the trim's local coordinates.
#[derive(Debug, Clone)]
pub(crate) struct Sheet {
    /// Index of its element.
    pub(crate) element: usize,
    /// On a crest's centre line, at mid-depth.
    pub(crate) c: Point3<f64>,
    pub(crate) u: Vector3<f64>,
    pub(crate) v: Vector3<f64>,
    pub(crate) n: Vector3<f64>,
    /// n · c, but for rounding: the same to the last bit when the sheet is moved within its plane.
    pub(crate) level: f64,
    /// Distance of `c` outside the face plane: d = D + lift.
    pub(crate) lift: f64,
    /// Least and greatest height.
    pub(crate) low: f64,
    pub(crate) high: f64,
    pitch: f64,
    /// Fold positions within [0, pitch), ascending, and the height at each; empty for a flat sheet.
    folds: Vec<f64>,
    heights: Vec<f64>,
    /// Slope of the strip after each fold.
    slopes: Vec<f64>,
    /// A surveyed sheet: its height varies along the ribs too, and the folds above are not used.
    pub(crate) loft: Option<Arc<Loft>>,
}

/// The plane of one strip: h = height + slope·T.
#[derive(Debug, Clone, Copy)]
pub(crate) struct StripLine {
    pub(crate) height: f64,
    pub(crate) slope: f64,
}

impl Sheet {
    /// The skin of a sheet `offset` outside its middle one.
    pub(crate) fn on_skin(
        element: usize,
        frame: &Frame,
        centre: Point3<f64>,
        lift: f64,
        profile: &Profile,
        offset: f64,
    ) -> Self {
        let moved = centre + frame.n * offset;
        let mut sheet = Self::new(element, frame, moved, lift + offset, None);
        let folds = profile.folds_on_skin(offset);
        let slope = |i: usize| {
            let ([ta, ha], [tb, hb]) = (folds[i], folds[(i + 1) % folds.len()]);
            let run = tb - ta + if i + 1 == folds.len() { profile.pitch() } else { 0.0 };
            if run > 0.0 { (hb - ha) / run } else { 0.0 }
        };
        sheet.pitch = profile.pitch();
        for (i, &[t, h]) in folds.iter().enumerate() {
            let (before, after) = (slope((i + folds.len() - 1) % folds.len()), slope(i));
            if (after - before).abs() > FOLD_SLOPE {
                sheet.folds.push(t);
                sheet.heights.push(h - offset);
                sheet.slopes.push(after);
            }
            sheet.low = sheet.low.min(h - offset);
            sheet.high = sheet.high.max(h - offset);
        }
        sheet
    }

    /// A sheet whose folds are those of the profile (`None`: a flat face).
    pub(crate) fn new(
        element: usize,
        frame: &Frame,
        centre: Point3<f64>,
        lift: f64,
        profile: Option<&Profile>,
    ) -> Self {
        let mut sheet = Self {
            element,
            c: centre,
            u: frame.u,
            v: frame.v,
            n: frame.n,
            level: frame.n.dot(&centre.coords),
            lift,
            low: 0.0,
            high: 0.0,
            pitch: 1.0,
            folds: Vec::new(),
            heights: Vec::new(),
            slopes: Vec::new(),
            loft: None,
        };
        if let Some(profile) = profile {
            sheet.take_folds(profile);
        }
        sheet
    }

    /// A skin of a surveyed sheet, `offset` outside its middle one.
    pub(crate) fn surveyed(
        element: usize,
        frame: &Frame,
        centre: Point3<f64>,
        lift: f64,
        loft: &Arc<Loft>,
        offset: f64,
    ) -> Self {
        let mut sheet = Self::new(element, frame, centre + frame.n * offset, lift + offset, None);
        (sheet.low, sheet.high) = (loft.low, loft.high);
        sheet.loft = Some(loft.clone());
        sheet
    }

    fn take_folds(&mut self, profile: &Profile) {
        let strips = profile.strips();
        let slope = |i: usize| {
            let s = &strips[i];
            (s.h[1] - s.h[0]) / (s.t[1] - s.t[0])
        };
        self.pitch = profile.pitch();
        for (i, strip) in strips.iter().enumerate() {
            let before = slope((i + strips.len() - 1) % strips.len());
            let after = slope(i);
            // The middle of a crest starts the pitch but is no fold.
            if (after - before).abs() > FOLD_SLOPE {
                self.folds.push(strip.t[0]);
                self.heights.push(strip.h[0]);
                self.slopes.push(after);
            }
            self.low = self.low.min(strip.h[0]);
            self.high = self.high.max(strip.h[0]);
        }
    }

    /// The bits of its plane, and of how far it may lie off it.
    pub(crate) fn plane_bits(&self, key: &mut Vec<u64>) {
        key.extend(self.n.iter().chain(&[self.level, self.lift, self.low, self.high]).map(|x| x.to_bits()));
    }

    /// The bits of all the rest, but for surveyed sheets.
    pub(crate) fn rib_bits(&self, key: &mut Vec<u64>) {
        let pitch = [self.pitch];
        let places = self.c.iter().chain(self.u.iter()).chain(self.v.iter()).chain(&pitch);
        key.extend(places.map(|x| x.to_bits()));
        key.push(self.folds.len() as u64);
        let folds = self.folds.iter().chain(&self.heights).chain(&self.slopes);
        key.extend(folds.map(|x| x.to_bits()));
    }

    /// Global index of the strip at T; a flat sheet has only strip 0.
    pub(crate) fn strip_of(&self, t: f64) -> i64 {
        if self.folds.is_empty() {
            return 0;
        }
        let turns = (t / self.pitch).floor();
        let rest = t - turns * self.pitch;
        let within = self.folds.partition_point(|&f| f <= rest);
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_possible_wrap,
            reason = "bounded by the window"
        )]
        let (turns, within, folds) = (turns as i64, within as i64, self.folds.len() as i64);
        turns * folds + within - 1
    }

    /// Whether it has no folds, and so a single strip without end.
    pub(crate) fn is_flat(&self) -> bool {
        self.folds.is_empty()
    }

    fn split(&self, index: i64) -> (f64, usize) {
        #[allow(clippy::cast_possible_wrap, reason = "a profile has few folds")]
        let count = self.folds.len() as i64;
        #[allow(
            clippy::cast_precision_loss,
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "small"
        )]
        let pair = (index.div_euclid(count) as f64 * self.pitch, index.rem_euclid(count) as usize);
        pair
    }

    /// T of the fold before strip `index`; infinite for a flat sheet.
    pub(crate) fn fold(&self, index: i64) -> f64 {
        if self.folds.is_empty() {
            return if index <= 0 { f64::NEG_INFINITY } else { f64::INFINITY };
        }
        let (start, i) = self.split(index);
        start + self.folds[i]
    }

    /// Height of its highest fold, mm; none where it was surveyed.
    pub(crate) fn highest(&self) -> Option<f64> {
        match (&self.loft, self.folds.is_empty()) {
            (Some(_), _) => None,
            (None, true) => Some(0.0),
            (None, false) => Some(self.heights.iter().copied().fold(f64::NEG_INFINITY, f64::max)),
        }
    }

    /// Height at the fold before strip `index`.
    pub(crate) fn fold_height(&self, index: i64) -> f64 {
        if self.folds.is_empty() { 0.0 } else { self.heights[self.split(index).1] }
    }

    /// The plane of strip `index`.
    pub(crate) fn strip_line(&self, index: i64) -> StripLine {
        if self.folds.is_empty() {
            return StripLine { height: 0.0, slope: 0.0 };
        }
        let (start, i) = self.split(index);
        let slope = self.slopes[i];
        StripLine { height: self.heights[i] - slope * (start + self.folds[i]), slope }
    }

    /// Strips one after the other: index, plane, and the T of the folds on its two sides.
    pub(crate) fn strips(&self, range: Range<i64>) -> impl Iterator<Item = (i64, StripLine, [f64; 2])> + '_ {
        let (mut start, mut i) = if self.folds.is_empty() { (0.0, 0) } else { self.split(range.start) };
        #[allow(clippy::cast_possible_wrap, reason = "a profile has few folds")]
        let count = self.folds.len() as i64;
        let mut next = range.start;
        range.map(move |index| {
            if self.folds.is_empty() {
                return (index, self.strip_line(index), [self.fold(index), self.fold(index + 1)]);
            }
            let (slope, from) = (self.slopes[i], start + self.folds[i]);
            let line = StripLine { height: self.heights[i] - slope * from, slope };
            next += 1;
            i += 1;
            if i == self.folds.len() {
                i = 0;
                #[allow(clippy::cast_precision_loss, reason = "small")]
                let turns = next.div_euclid(count) as f64;
                start = turns * self.pitch;
            }
            (index, line, [from, start + self.folds[i]])
        })
    }

    /// Height at S and T.
    pub(crate) fn height(&self, s: f64, t: f64) -> f64 {
        if let Some(loft) = &self.loft {
            return loft.height(s, t);
        }
        if self.folds.is_empty() {
            return 0.0;
        }
        // The strip as `strip_of` finds it, without going round by its index.
        let turns = (t / self.pitch).floor();
        let rest = t - turns * self.pitch;
        let within = self.folds.partition_point(|&f| f <= rest);
        let (turns, i) = if within == 0 { (turns - 1.0, self.folds.len() - 1) } else { (turns, within - 1) };
        let slope = self.slopes[i];
        self.heights[i] - slope * (turns * self.pitch + self.folds[i]) + slope * t
    }

    /// D at a point.
    pub(crate) fn outward(&self, p: &Point3<f64>) -> f64 {
        self.n.dot(&p.coords) - self.level
    }

    /// S at a point.
    pub(crate) fn along(&self, p: &Point3<f64>) -> f64 {
        self.u.dot(&(p - self.c))
    }

    /// T at a point.
    pub(crate) fn across(&self, p: &Point3<f64>) -> f64 {
        self.v.dot(&(p - self.c))
    }
}

/// Slopes of neighbouring strips that differ by less are one plane; a fold of a micro-radian is none.
const FOLD_SLOPE: f64 = 1.0e-9;
