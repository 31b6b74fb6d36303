//! Which corner of the nominal profile each fold is, and whether the readings are of that profile at all.
//!
//! Folds are counted from the right-hand edge, and a sheet may begin with any corner. Each of them is tried; the
//! one whose pattern of distances and depths lies closest to the readings is taken (by absolute differences, so
//! that single misreadings do not decide). Readings far off altogether are in inches, in swapped columns, or of
//! another profile: that is an error, with the cause where one of these explains it.

use super::yard::{RawSheet, Reading, Yard};
use crate::error::{Error, Result};
use crate::profile::Profile;

/// Where the folds of a sheet lie on the nominal profile.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Placed {
    /// Corner of fold 1.
    pub(super) first: i64,
    /// Place across of the middle of the crest that corners are counted from, mm.
    pub(super) origin: f64,
    corners: Vec<[f64; 2]>,
    pitch: f64,
}

/// Half a typical reading may be off by this share of the pitch: pitches that are 1 in 40 too wide add up to as
/// much at the edges of a sheet of ten. A larger share would take readings of the wrong profile.
const FAR_ACROSS: f64 = 0.125;
/// Half the depths may be off by this share of the depth; crest taken for valley is off by all of it.
const FAR_DEEP: f64 = 0.4;
/// Two beginnings that fit equally well within this share of the pitch cannot be told apart.
const AS_GOOD: f64 = 0.01;
/// Readings count as off by at most this share of the pitch while beginnings are compared.
const CAP: f64 = 0.5;
/// Millimetres of an inch.
const INCH: f64 = 25.4;

impl Placed {
    /// Corner of a fold.
    pub(super) fn corner(&self, fold: u32) -> i64 {
        self.first + i64::from(fold) - 1
    }

    /// Place across and height over mid-depth of a fold on a true sheet, mm.
    pub(super) fn nominal(&self, fold: u32) -> [f64; 2] {
        let [t, h] = corner_at(&self.corners, self.pitch, self.corner(fold));
        [self.origin + t, h]
    }

    /// Folds per pitch.
    pub(super) fn per_pitch(&self) -> u32 {
        u32::try_from(self.corners.len()).unwrap_or(u32::MAX)
    }
}

fn corner_at(corners: &[[f64; 2]], pitch: f64, corner: i64) -> [f64; 2] {
    let count = i64::try_from(corners.len()).unwrap_or(1).max(1);
    let [t, h] = corners[usize::try_from(corner.rem_euclid(count)).unwrap_or(0)];
    #[allow(clippy::cast_precision_loss, reason = "a count of pitches")]
    let pitches = corner.div_euclid(count) as f64;
    [t + pitches * pitch, h]
}

/// One reading as far as it matters here: fold, across, depth.
type Bare = (u32, Option<f64>, Option<f64>);

/// Finds the corner of fold 1, and checks that the readings are of this profile.
pub(super) fn place(yard: &Yard, sheet: &RawSheet, nominal: &Profile) -> Result<Placed> {
    let corners = nominal.corners();
    if corners.is_empty() {
        return Err(Error::input("a flat sheet has no folds to survey")
            .remedy("give the profile the sheets were made to"));
    }
    let bare: Vec<Bare> = sheet.readings.iter().map(|r| (r.fold, r.across, r.depth)).collect();
    let (best, second) = two_best(&bare, &corners, nominal);
    check_scale(yard, sheet, nominal, &corners, &best)?;
    if second.is_some_and(|second| second.cost - best.cost < AS_GOOD * nominal.pitch()) {
        let line = sheet.readings.first().map_or(sheet.line, |r| r.line);
        return Err(Error::input(format!(
            "the readings of {} do not tell which corner of the profile its fold 1 is",
            sheet.name
        ))
        .at(yard.place(line, "depth"))
        .remedy("read the depth of every fold at one station at least"));
    }
    Ok(Placed { first: best.first, origin: best.origin, corners, pitch: nominal.pitch() })
}

/// A beginning that was tried.
#[derive(Debug, Clone, PartialEq)]
struct Tried {
    first: i64,
    origin: f64,
    cost: f64,
}

fn two_best(bare: &[Bare], corners: &[[f64; 2]], nominal: &Profile) -> (Tried, Option<Tried>) {
    let mut all: Vec<Tried> = (0..corners.len())
        .map(|first| {
            let first = i64::try_from(first).unwrap_or(0);
            let [across, depth] = differences(bare, corners, nominal, first);
            let origin = median(across.clone());
            let cap = CAP * nominal.pitch();
            let mean = |values: &mut dyn Iterator<Item = f64>| {
                let (sum, count) = values.fold((0.0, 0.0_f64), |(s, n), x| (s + x.min(cap), n + 1.0));
                sum / count.max(1.0)
            };
            let cost = mean(&mut across.iter().map(|d| (d - origin).abs()))
                + mean(&mut depth.iter().map(|d| d.abs()));
            Tried { first, origin, cost }
        })
        .collect();
    all.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    let mut all = all.into_iter();
    let best = all.next().unwrap_or(Tried { first: 0, origin: 0.0, cost: f64::INFINITY });
    (best, all.next())
}

/// Readings less nominal values, across (without the origin) and of the height.
fn differences(bare: &[Bare], corners: &[[f64; 2]], nominal: &Profile, first: i64) -> [Vec<f64>; 2] {
    let at = |fold: u32| corner_at(corners, nominal.pitch(), first + i64::from(fold) - 1);
    let across = bare.iter().filter_map(|&(fold, across, _)| Some(across? - at(fold)[0])).collect();
    let height = |fold: u32, depth: f64| nominal.max_height() - depth - at(fold)[1];
    let depth = bare.iter().filter_map(|&(fold, _, depth)| Some(height(fold, depth?))).collect();
    [across, depth]
}

/// The median; 0 of nothing.
fn median(mut values: Vec<f64>) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// Whether half the readings at least are near where they should be, across and in depth.
fn is_near(bare: &[Bare], corners: &[[f64; 2]], nominal: &Profile, tried: &Tried) -> [bool; 2] {
    let [across, depth] = differences(bare, corners, nominal, tried.first);
    let typical = |values: Vec<f64>, from: f64| median(values.iter().map(|d| (d - from).abs()).collect());
    [
        typical(across, tried.origin) <= FAR_ACROSS * nominal.pitch(),
        typical(depth, 0.0) <= FAR_DEEP * nominal.depth(),
    ]
}

/// Checks the sheet as a whole and each station by itself.
fn check_scale(
    yard: &Yard,
    sheet: &RawSheet,
    nominal: &Profile,
    corners: &[[f64; 2]],
    best: &Tried,
) -> Result<()> {
    let bare_of = |readings: &[&Reading]| -> Vec<Bare> {
        readings.iter().map(|r| (r.fold, r.across, r.depth)).collect()
    };
    let all: Vec<&Reading> = sheet.readings.iter().collect();
    let [across, depth] = is_near(&bare_of(&all), corners, nominal, best);
    if !across || !depth {
        return Err(explain(yard, sheet, &all, nominal, corners, across));
    }
    let mut stations: Vec<f64> = all.iter().map(|r| r.station).collect();
    stations.sort_by(f64::total_cmp);
    stations.dedup();
    for station in stations {
        let here: Vec<&Reading> = all.iter().copied().filter(|r| r.station == station).collect();
        let [across, depth] = is_near(&bare_of(&here), corners, nominal, best);
        // One or two readings are judged by the fit, with their neighbours.
        if here.len() >= ENOUGH && (!across || !depth) {
            return Err(explain(yard, sheet, &here, nominal, corners, across));
        }
    }
    Ok(())
}

/// A station with fewer readings is not judged by itself.
const ENOUGH: usize = 4;

/// Why readings are far off: tries what people do, and names it if that puts them right.
fn explain(
    yard: &Yard,
    sheet: &RawSheet,
    readings: &[&Reading],
    nominal: &Profile,
    corners: &[[f64; 2]],
    across_is_near: bool,
) -> Error {
    let fits = |change: &dyn Fn(&Reading) -> Bare| {
        let bare: Vec<Bare> = readings.iter().map(|r| change(r)).collect();
        let (best, _) = two_best(&bare, corners, nominal);
        is_near(&bare, corners, nominal, &best) == [true, true]
    };
    // In one column or in both.
    let in_unit = |unit: f64| {
        [[unit, unit], [unit, 1.0], [1.0, unit]].into_iter().any(|[across, depth]| {
            fits(&|r| (r.fold, r.across.map(|x| x * across), r.depth.map(|x| x * depth)))
        })
    };
    let column = if across_is_near { "depth" } else { "across" };
    let line = readings
        .iter()
        .find(|r| if across_is_near { r.depth.is_some() } else { r.across.is_some() })
        .map_or(sheet.line, |r| r.line);
    let far = |why: &str| {
        Error::input(format!("the readings of {} from here on are {why}", sheet.name))
            .at(yard.place(line, column))
    };
    if in_unit(INCH) {
        return far("25.4 times too small: they look like inches")
            .remedy("write millimetres: an inch is 25.4 mm");
    }
    if in_unit(10.0) {
        return far("ten times too small: they look like centimetres").remedy("write millimetres");
    }
    if fits(&|r| (r.fold, r.depth, r.across)) {
        return far("swapped: depths stand under across, and distances across under depth")
            .remedy("swap the two columns, or their headings");
    }
    if fits(&|r| (r.fold, Some(r.station), r.depth)) {
        return far("swapped: distances across stand under station")
            .remedy("swap the columns station and across, or their headings");
    }
    let why = if across_is_near {
        format!("not those of the nominal profile ({} mm deep)", nominal.depth())
    } else {
        format!("not those of the nominal profile (pitch {} mm)", nominal.pitch())
    };
    far(&why).remedy(
        "check the profile that was given, that folds are counted from 1 at the right-hand edge, and the columns",
    )
}
