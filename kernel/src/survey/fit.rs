//! The fit: from readings to folds, with what each reading is worth and which are misreadings.
//!
//! **Straight over the whole sheet** (`straight`): each fold is a line through its readings at all stations, by
//! least squares, across and in height. Three stations show that something is wrong, four or more show what.
//!
//! **Straight between stations** (the default): a fold passes wherever it was read. Its place at a station is the
//! mean of the readings there, with the standard deviation of that mean: nothing is smoothed, so that the stated
//! bands hold for any sheet, however crooked. A single reading has no redundancy in this model, and none is
//! claimed. Misreadings are looked for in a second adjustment, the *check*, which adds two things known about
//! formed sheet as observations with standard deviations of their own: neighbouring folds of one station differ
//! from nominal by about the same (`wander`), and a fold does not leave the line between its neighbouring stations
//! by much (`bow`). Where a reading is set aside or was left blank, the fold's place is that of the check, with the
//! check's (larger) standard deviation, which is as true as `wander` and `bow` are.
//!
//! In both, misreadings are found by data snooping ([`crate::adjust::snoop()`]) at the stated level for each reading.
//! A band of 95 % is 1.96 standard deviations to either side. The right-hand edge is taken as straight.

use super::agree::contradictions;
use super::departure::{Departure, depart};
use super::options::FitOptions;
use super::place::{Placed, place};
use super::yard::{RawSheet, Reading, Yard};
use super::{Fold, SurveyedSheet};
use crate::adjust::{Datum, Observation, Scale, Snooped, Test, chi_squared, snoop};
use crate::error::{Error, Result};
use crate::finding::{Finding, Level};
use crate::profile::Profile;
use rayon::prelude::*;
use std::sync::Arc;

/// Half the width of a 95 % band in standard deviations.
pub const BAND: f64 = 1.959_963_984_540_054;
/// Most folds times stations of one sheet, 100 folds at 10 stations: the check solves for all of them at once.
pub const MOST_POINTS: usize = 1_000;
/// Most folds times stations of all sheets of a yard together: blanks count, since they are filled.
pub const MOST_ALL_POINTS: usize = 100_000;
/// Where more than one reading in so many contradicts the others, nobody can say which are the good ones.
const ONE_IN: usize = 2;
/// Level of the test of all readings together.
const GLOBAL_ALPHA: f64 = 0.001;
/// A first or last station farther from the end than this share of the sheet leaves the end unknown.
const FAR_FROM_END: f64 = 0.15;

/// Which of the two coordinates a reading is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// Distance across.
    Across,
    /// Depth.
    Depth,
}

impl Kind {
    /// The heading of its column.
    pub fn name(self) -> &'static str {
        match self {
            Kind::Across => "across",
            Kind::Depth => "depth",
        }
    }
}

/// What the fit says of one reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Check {
    /// Line of the yard file.
    pub line: u64,
    /// Distance along the sheet, mm.
    pub station: f64,
    /// Number of the fold.
    pub fold: u32,
    /// What was read.
    pub kind: Kind,
    /// The reading, mm.
    pub reading: f64,
    /// Reading less what all others say (or, where it was kept, all readings), mm.
    pub residual: f64,
    /// Redundancy number, 0 to 1; of a misreading, when it was set aside.
    pub redundancy: f64,
    /// Standardised residual; of a misreading, when it was set aside.
    pub w: f64,
    /// The least error that would be found with probability 0.80, mm; none where no error would.
    pub least_found: Option<f64>,
    /// Whether it was set aside.
    pub flagged: bool,
    /// Lines of other readings that may be the wrong ones instead.
    pub or_else: Vec<u64>,
}

/// A sheet as fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedSheet {
    /// The sheet.
    pub sheet: Arc<SurveyedSheet>,
    /// Its readings, in the order of the file, across before depth.
    pub checks: Vec<Check>,
    /// How far it is from its nominal profile.
    pub departure: Departure,
    /// Standard deviation of unit weight of the check, across and of depth; near 1 where the stated deviations are
    /// true. None without redundancy.
    pub s0: [Option<f64>; 2],
    /// Whether folds are straight over the whole sheet.
    pub straight: bool,
    /// Misreadings and what else there is to say.
    pub findings: Vec<Finding>,
}

/// Fits every sheet of a yard, in the order of the file; `nominals` has the profile of each ([`super::nominals`]).
///
/// # Errors
/// As [`fit_sheet`], for the first sheet that cannot be fitted; more than [`MOST_ALL_POINTS`].
pub fn fit_yard(yard: &Yard, nominals: &[Arc<Profile>], options: &FitOptions) -> Result<Vec<FittedSheet>> {
    let mut points = 0;
    for sheet in &yard.sheets {
        let grid = grid(yard, sheet).map_err(|e| e.at(&yard.file))?;
        points += grid.folds as usize * grid.stations.len();
        if points > MOST_ALL_POINTS {
            return Err(Error::input(format!(
                "the sheets up to {} have {points} folds times stations, more than the {MOST_ALL_POINTS} allowed",
                sheet.name
            ))
            .at(yard.place(sheet.line, "sheet"))
            .at(&yard.file)
            .remedy("split the file: one per part of the yard, each surveyed by itself"));
        }
    }
    let fitted: Vec<Result<FittedSheet>> = yard
        .sheets
        .par_iter()
        .zip(nominals)
        .map(|(sheet, nominal)| fit_sheet(yard, sheet, nominal, options))
        .collect();
    // Gathered in order, so that the same sheet is named whichever thread met its error first.
    fitted.into_iter().collect()
}

/// Fits one sheet of a yard.
///
/// # Errors
/// Fewer than two stations, too many points, readings that are not of the nominal profile, a fold or station that
/// nothing determines, more misreadings than good readings, folds that cross. The place is the yard file's line and column.
pub fn fit_sheet(
    yard: &Yard,
    raw: &RawSheet,
    nominal: &Arc<Profile>,
    options: &FitOptions,
) -> Result<FittedSheet> {
    fit(yard, raw, nominal, options).map_err(|e| e.at(&yard.file))
}

/// Folds times stations.
struct Grid {
    stations: Vec<f64>,
    folds: u32,
}

impl Grid {
    fn point(&self, fold: u32, station: usize) -> usize {
        (fold as usize - 1) * self.stations.len() + station
    }

    fn station(&self, at: f64) -> usize {
        self.stations.partition_point(|s| *s < at)
    }

    /// A station as a number from −1 to 1.
    fn share(&self, station: usize) -> f64 {
        let (first, last) = (self.stations[0], self.stations[self.stations.len() - 1]);
        (2.0 * self.stations[station] - first - last) / (last - first)
    }
}

fn fit(yard: &Yard, raw: &RawSheet, nominal: &Arc<Profile>, options: &FitOptions) -> Result<FittedSheet> {
    let grid = grid(yard, raw)?;
    let length = length(yard, raw, &grid)?;
    let placed = place(yard, raw, nominal)?;
    let mut checks = Vec::new();
    let mut values = [Vec::new(), Vec::new()];
    let mut deviations = [Vec::new(), Vec::new()];
    let mut s0 = [None; 2];
    let mut findings = Vec::new();
    for (c, kind) in [Kind::Across, Kind::Depth].into_iter().enumerate() {
        let readings = differences(raw, &placed, nominal, kind);
        covered(yard, raw, &grid, &readings, kind, options.straight)?;
        let (snooped, point) = if options.straight {
            straight(&grid, &readings, options, c)
        } else {
            between(&grid, &readings, options, c)
        }
        .map_err(|e| e.at(kind.name()).at(yard.place(raw.line, "sheet")))?;
        contradictory(yard, raw, &readings, &snooped, kind)?;
        (values[c], deviations[c]) = point;
        s0[c] = snooped.adjustment.s0();
        findings.extend(rough(yard, raw, &snooped, kind, options));
        checks.extend(check(&readings, &snooped, kind));
    }
    checks.sort_by_key(|check| (check.line, check.kind));
    findings.extend(checks.iter().filter(|c| c.flagged).map(|c| misreading(yard, raw, c)));
    let folds: Vec<Fold> = (1..=grid.folds)
        .map(|number| {
            let [t, h] = placed.nominal(number);
            let row = |c: usize, from: f64| -> Vec<f64> {
                (0..grid.stations.len()).map(|s| from + values[c][grid.point(number, s)]).collect()
            };
            let deviation = (0..grid.stations.len())
                .map(|s| [0, 1].map(|c| deviations[c][grid.point(number, s)]))
                .collect();
            Fold { number, corner: placed.corner(number), across: row(0, t), height: row(1, h), deviation }
        })
        .collect();
    uncrossed(yard, raw, &grid, &folds)?;
    let width = width(raw, &folds);
    findings.extend(remarks(yard, raw, &grid, length, width, &checks));
    findings.extend(contradictions(yard, raw, &grid.stations, &folds, &placed, length));
    let mean = |all: &[super::yard::Measured], or: f64| {
        #[allow(clippy::cast_precision_loss, reason = "a count of readings")]
        let count = all.len() as f64;
        if all.is_empty() { or } else { all.iter().map(|m| m.value).sum::<f64>() / count }
    };
    let sheet = SurveyedSheet {
        name: raw.name.clone(),
        length,
        width,
        thickness: mean(&raw.thicknesses, nominal.thickness()),
        grade: raw.grade.clone(),
        note: raw.note.clone(),
        nominal: nominal.clone(),
        stations: grid.stations.clone(),
        folds,
        damage: raw.damage.clone(),
    };
    let departure = depart(&sheet, raw, &placed);
    findings.sort();
    Ok(FittedSheet { sheet: Arc::new(sheet), checks, departure, s0, straight: options.straight, findings })
}

fn grid(yard: &Yard, raw: &RawSheet) -> Result<Grid> {
    let mut stations: Vec<f64> = raw.readings.iter().map(|r| r.station).collect();
    stations.sort_by(f64::total_cmp);
    stations.dedup();
    let folds = raw.readings.iter().map(|r| r.fold).max().unwrap_or(0);
    if stations.len() < 2 {
        return Err(Error::input(format!(
            "sheet {} was read at {} of the two stations needed",
            raw.name,
            stations.len()
        ))
        .at(yard.place(raw.line, "station"))
        .remedy("read its folds near both ends at least"));
    }
    let one = raw.readings.iter().all(|r| r.fold == folds);
    if one {
        return Err(Error::input(format!("sheet {} has readings of one fold only", raw.name))
            .at(yard.place(raw.line, "fold"))
            .remedy("read every fold, counted from 1 at the right-hand edge"));
    }
    if folds as usize * stations.len() > MOST_POINTS {
        return Err(Error::input(format!(
            "sheet {} has {folds} folds at {} stations, more than {MOST_POINTS} points",
            raw.name,
            stations.len()
        ))
        .at(yard.place(raw.line, "station"))
        .remedy("check the station of each row: all folds of one station share one distance"));
    }
    Ok(Grid { stations, folds })
}

/// A reading less its nominal value.
struct Difference {
    reading: Reading,
    value: f64,
    read: f64,
}

fn differences(raw: &RawSheet, placed: &Placed, nominal: &Profile, kind: Kind) -> Vec<Difference> {
    raw.readings
        .iter()
        .filter_map(|reading| {
            let [t, h] = placed.nominal(reading.fold);
            let (read, value) = match kind {
                Kind::Across => (reading.across?, reading.across? - t),
                Kind::Depth => (reading.depth?, nominal.max_height() - reading.depth? - h),
            };
            Some(Difference { reading: *reading, value, read })
        })
        .collect()
}

/// Refuses a sheet most of whose readings would be set aside: then the good ones cannot be told.
fn contradictory(
    yard: &Yard,
    raw: &RawSheet,
    readings: &[Difference],
    snooped: &Snooped,
    kind: Kind,
) -> Result<()> {
    let Some(first) = snooped.flags.first().filter(|_| snooped.flags.len() > readings.len() / ONE_IN) else {
        return Ok(());
    };
    let line = readings.get(first.observation).map_or(raw.line, |d| d.reading.line);
    Err(Error::input(format!(
        "more than one in {ONE_IN} of the {} readings of {} on {} contradict the others, first of all this one",
        readings.len(),
        kind.name(),
        raw.name
    ))
    .at(yard.place(line, kind.name()))
    .remedy(
        "check that they are of one sheet and how its folds are numbered; if it is that uneven, state a larger tape, \
         gauge, wander or bow",
    ))
}

/// Whether the readings determine all points: some at each station, or two of each fold where it is straight.
fn covered(
    yard: &Yard,
    raw: &RawSheet,
    grid: &Grid,
    readings: &[Difference],
    kind: Kind,
    straight: bool,
) -> Result<()> {
    let name = kind.name();
    if straight {
        for fold in 1..=grid.folds {
            let mut at = readings.iter().filter(|d| d.reading.fold == fold).map(|d| d.reading.station);
            let first = at.next();
            if !at.any(|s| Some(s) != first) {
                let line = raw.readings.iter().find(|r| r.fold == fold).map_or(raw.line, |r| r.line);
                return Err(Error::input(format!(
                    "fold {fold} of {} needs readings of {name} at two stations to be a straight line",
                    raw.name
                ))
                .at(yard.place(line, name))
                .remedy("add readings, or take the folds as straight between stations only"));
            }
        }
        return Ok(());
    }
    for (s, station) in grid.stations.iter().enumerate() {
        if !readings.iter().any(|d| grid.station(d.reading.station) == s) {
            let line = raw.readings.iter().find(|r| r.station == *station).map_or(raw.line, |r| r.line);
            return Err(Error::input(format!("station {station} of {} has no reading of {name}", raw.name))
                .at(yard.place(line, name))
                .remedy("add at least one, or take the station out"));
        }
    }
    Ok(())
}

/// Values and standard deviations of all points of the grid.
type Points = (Vec<f64>, Vec<f64>);

fn straight(
    grid: &Grid,
    readings: &[Difference],
    options: &FitOptions,
    c: usize,
) -> Result<(Snooped, Points)> {
    let terms = |fold: u32, station: usize| {
        let k = 2 * (fold as usize - 1);
        vec![(k, 1.0), (k + 1, grid.share(station))]
    };
    let observations: Vec<Observation> = readings
        .iter()
        .map(|d| Observation {
            terms: terms(d.reading.fold, grid.station(d.reading.station)),
            value: d.value,
            deviation: options.reading[c],
        })
        .collect();
    let test = Test { alpha: options.alpha, scale: Scale::Known, most: readings.len() / ONE_IN + 1 };
    let found = snoop(2 * grid.folds as usize, &observations, &Datum::Observed, |_| true, test)?;
    let adjusted = &found.adjustment;
    let mut points = (Vec::new(), Vec::new());
    for fold in 1..=grid.folds {
        for station in 0..grid.stations.len() {
            let terms = terms(fold, station);
            points.0.push(terms.iter().map(|&(k, a)| a * adjusted.unknowns[k]).sum());
            let variance: f64 = terms
                .iter()
                .flat_map(|&(i, a)| terms.iter().map(move |&(k, b)| (i, k, a * b)))
                .map(|(i, k, ab)| ab * adjusted.covariance[(i, k)])
                .sum();
            points.1.push(variance.max(0.0).sqrt());
        }
    }
    Ok((found, points))
}

fn between(
    grid: &Grid,
    readings: &[Difference],
    options: &FitOptions,
    c: usize,
) -> Result<(Snooped, Points)> {
    let place = |d: &Difference| grid.point(d.reading.fold, grid.station(d.reading.station));
    let mut observations: Vec<Observation> = readings
        .iter()
        .map(|d| Observation { terms: vec![(place(d), 1.0)], value: d.value, deviation: options.reading[c] })
        .collect();
    for fold in 1..=grid.folds {
        for s in 0..grid.stations.len() {
            if fold > 1 {
                let terms = vec![(grid.point(fold, s), 1.0), (grid.point(fold - 1, s), -1.0)];
                observations.push(Observation { terms, value: 0.0, deviation: options.wander[c] });
            }
            if s > 0 && s + 1 < grid.stations.len() {
                let [a, b, d] = [s - 1, s, s + 1].map(|s| grid.stations[s]);
                let share = (b - a) / (d - a);
                let terms = vec![
                    (grid.point(fold, s - 1), share - 1.0),
                    (grid.point(fold, s), 1.0),
                    (grid.point(fold, s + 1), -share),
                ];
                observations.push(Observation { terms, value: 0.0, deviation: options.bow[c] });
            }
        }
    }
    let count = grid.folds as usize * grid.stations.len();
    let test = Test { alpha: options.alpha, scale: Scale::Known, most: readings.len() / ONE_IN + 1 };
    let found = snoop(count, &observations, &Datum::Observed, |i| i < readings.len(), test)?;
    let mut sums = vec![(0.0, 0.0_f64); count];
    for (i, d) in readings.iter().enumerate() {
        if !found.flags.iter().any(|flag| flag.observation == i) {
            let sum = &mut sums[place(d)];
            *sum = (sum.0 + d.value, sum.1 + 1.0);
        }
    }
    let points = sums
        .iter()
        .enumerate()
        .map(|(k, &(sum, n))| {
            if n > 0.0 {
                (sum / n, options.reading[c] / n.sqrt())
            } else {
                (found.adjustment.unknowns[k], found.adjustment.deviation(k))
            }
        })
        .unzip();
    Ok((found, points))
}

fn check(readings: &[Difference], snooped: &Snooped, kind: Kind) -> Vec<Check> {
    // A depth is read downward, a height counts upward.
    let sign = if kind == Kind::Across { 1.0 } else { -1.0 };
    readings
        .iter()
        .enumerate()
        .map(|(i, d)| {
            let flag = snooped.flags.iter().find(|flag| flag.observation == i);
            Check {
                line: d.reading.line,
                station: d.reading.station,
                fold: d.reading.fold,
                kind,
                reading: d.read,
                residual: -sign * snooped.adjustment.residuals[i],
                redundancy: flag.map_or(snooped.adjustment.redundancy[i], |flag| flag.redundancy),
                w: sign * flag.map_or(snooped.w[i], |flag| flag.w),
                least_found: snooped.least_found[i],
                flagged: flag.is_some(),
                or_else: flag.map_or_else(Vec::new, |flag| {
                    flag.or_else.iter().filter_map(|&k| Some(readings.get(k)?.reading.line)).collect()
                }),
            }
        })
        .collect()
}

fn misreading(yard: &Yard, raw: &RawSheet, check: &Check) -> Finding {
    let others = if check.or_else.is_empty() {
        String::new()
    } else {
        let lines: Vec<String> = check.or_else.iter().map(u64::to_string).collect();
        format!(" (or else line {}: the readings do not tell which)", lines.join(" or "))
    };
    Finding::new(
        Level::Warning,
        "misreading",
        format!("{}: {}", yard.file, yard.place(check.line, check.kind.name())),
        format!(
            "{}: fold {} at station {} reads {} mm, {:.1} mm {} than the other readings say (w = {:.1}){others}; set aside",
            raw.name,
            check.fold,
            check.station,
            check.reading,
            check.residual.abs(),
            if check.residual > 0.0 { "more" } else { "less" },
            check.w,
        ),
        "read it again and correct the file; until then the fold is taken where the others put it",
    )
}

/// A finding where all readings together are rougher than stated.
fn rough(
    yard: &Yard,
    raw: &RawSheet,
    snooped: &Snooped,
    kind: Kind,
    options: &FitOptions,
) -> Option<Finding> {
    let adjusted = &snooped.adjustment;
    let limit = chi_squared(1.0 - GLOBAL_ALPHA, adjusted.degrees).ok()?;
    (adjusted.weighted_squares > limit).then(|| {
        let s0 = adjusted.s0().unwrap_or(0.0);
        let (what, remedy) = if options.straight {
            (
                "the folds are not straight, or the readings rougher",
                "fit them as straight between stations, or state a larger deviation of the tape and gauge",
            )
        } else {
            (
                "the sheet is less even, or the readings rougher",
                "state a larger wander, bow, tape or gauge if that is how it is",
            )
        };
        Finding::new(
            Level::Warning,
            "rough",
            format!("{}: {}", yard.file, yard.place(raw.line, kind.name())),
            format!("{}: {what} than stated: s0 = {s0:.2} where 1 is expected ({})", raw.name, kind.name()),
            remedy,
        )
    })
}

fn length(yard: &Yard, raw: &RawSheet, grid: &Grid) -> Result<f64> {
    let last = grid.stations[grid.stations.len() - 1];
    #[allow(clippy::cast_precision_loss, reason = "a count of readings")]
    let count = raw.lengths.len() as f64;
    if raw.lengths.is_empty() {
        return Ok(last);
    }
    let length = raw.lengths.iter().map(|m| m.value).sum::<f64>() / count;
    match raw.readings.iter().find(|r| r.station > length) {
        None => Ok(length),
        Some(r) => Err(Error::input(format!(
            "station {} lies beyond the end of {}, which is {length} mm long",
            r.station, raw.name
        ))
        .at(yard.place(r.line, "station"))
        .remedy("measure stations from the start end, and check the length")),
    }
}

/// The least width that was taped; without any, as far left of the last fold as the first is from the edge.
fn width(raw: &RawSheet, folds: &[Fold]) -> f64 {
    let taped = raw.widths.iter().map(|m| m.value).fold(f64::INFINITY, f64::min);
    if taped.is_finite() {
        return taped;
    }
    let of = |fold: &Fold, pick: fn(f64, f64) -> f64, from: f64| fold.across.iter().copied().fold(from, pick);
    let first = folds.first().map_or(0.0, |f| of(f, f64::min, f64::INFINITY));
    let last = folds.last().map_or(0.0, |f| of(f, f64::max, 0.0));
    last + first
}

fn uncrossed(yard: &Yard, raw: &RawSheet, grid: &Grid, folds: &[Fold]) -> Result<()> {
    for (s, station) in grid.stations.iter().enumerate() {
        for pair in folds.windows(2) {
            let [a, b] = [&pair[0], &pair[1]].map(|fold| fold.across[s]);
            if a >= b {
                let here = |r: &&Reading| r.fold == pair[1].number && r.station == *station;
                let line = raw.readings.iter().find(here).map_or(raw.line, |r| r.line);
                return Err(Error::input(format!(
                    "folds {} and {} of {} cross at station {station}: {a:.1} and {b:.1} mm across",
                    pair[0].number, pair[1].number, raw.name
                ))
                .at(yard.place(line, "across"))
                .remedy("read both again"));
            }
        }
    }
    Ok(())
}

/// What else there is to say about a sheet's survey.
fn remarks(
    yard: &Yard,
    raw: &RawSheet,
    grid: &Grid,
    length: f64,
    width: f64,
    checks: &[Check],
) -> Vec<Finding> {
    let mut found = Vec::new();
    let mut say = |level, code: &str, line: u64, column: &str, message: String, remedy: &str| {
        let place = format!("{}: {}", yard.file, yard.place(line, column));
        found.push(Finding::new(level, code, place, format!("{}: {message}", raw.name), remedy));
    };
    if raw.lengths.is_empty() {
        let message = format!("no length was read; it is taken to end at its last station, {length} mm");
        say(Level::Warning, "no-length", raw.line, "value", message, "add a row \"length\"");
    }
    if raw.widths.is_empty() {
        let message =
            format!("no width was read; it is taken as {width:.0} mm from the first and last folds");
        say(Level::Warning, "no-width", raw.line, "value", message, "add a row \"width\" for each end");
    }
    if raw.thicknesses.is_empty() {
        let message = "no thickness was read; the nominal one is taken".to_owned();
        say(Level::Note, "no-thickness", raw.line, "value", message, "add a row \"thickness\"");
    }
    let (first, last) = (grid.stations[0], grid.stations[grid.stations.len() - 1]);
    for (gap, end) in [(first, "start"), (length - last, "far")] {
        if gap > FAR_FROM_END * length {
            let message = format!("the station nearest the {end} end is {gap:.0} mm away from it");
            say(
                Level::Warning,
                "end-unknown",
                raw.line,
                "station",
                message,
                "add a station near each end; folds are taken to run on straight",
            );
        }
    }
    for station in &grid.stations {
        let here: Vec<&Reading> = raw.readings.iter().filter(|r| r.station == *station).collect();
        let mut read: Vec<u32> = here.iter().filter(|r| r.across.is_some()).map(|r| r.fold).collect();
        read.sort_unstable();
        read.dedup();
        if read.len() * 2 < grid.folds as usize {
            let message = format!("station {station} has readings of {} of {} folds", read.len(), grid.folds);
            say(
                Level::Warning,
                "few-readings",
                here[0].line,
                "station",
                message,
                "add the missing folds, or check the station of these rows",
            );
        }
    }
    for damage in &raw.damage {
        if damage.outline.iter().any(|p| p[0] > length || p[1] > width * (1.0 + FAR_FROM_END)) {
            let message = format!("the outline of \"{}\" reaches beyond the sheet", damage.what);
            say(
                Level::Warning,
                "damage-outside",
                raw.line,
                "across",
                message,
                "check its stations and distances across",
            );
        }
    }
    let blind = checks.iter().filter(|c| c.least_found.is_none() && !c.flagged).count();
    if blind > 0 {
        let message = format!(
            "{blind} of {} readings stand alone: a misreading among them would not be found",
            checks.len()
        );
        say(
            Level::Note,
            "unchecked",
            raw.line,
            "station",
            message,
            "read at more stations, or read those folds twice",
        );
    }
    found
}
