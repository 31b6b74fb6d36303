//! A traced cross-section: a line drawn in SVG or DXF becomes the readings of one station.
//!
//! The trace is drawn in true size as the sheet is seen from its start end, outside up, so that its right end is
//! the right-hand edge. Lines and arcs that end on one another make one line. Flats are fitted with straight lines over their middle halves and corners taken where the
//! lines meet, so that bends do not matter; crest and valley lines of round profiles are the vertices of parabolas.
//! Depths are taken from the line through the crests, so that a tilted trace does no harm.

use super::yard::{RawSheet, Reading, Trace, Yard};
use crate::error::{Error, Result};
use crate::inspect::inspect;
use crate::lines::outlines;
use crate::profile::Profile;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Largest file of a trace, bytes: a point every tenth of a millimetre of a wide sheet needs a fifth of it.
pub const MOST_TRACE_BYTES: usize = 2 * 1024 * 1024;

/// Widest trace, mm: what is wider was drawn in another unit than the file says.
const WIDEST: f64 = 10_000.0;
/// Ends this close together are one point, mm: drawing programs snap ends upon one another, and a gap that is meant is
/// wider.
const JOIN: f64 = 0.01;
/// Steps along a trace, mm: finer than a pencil.
const STEP: f64 = 0.25;
/// Share of a flat that is fitted: bends take the rest.
const MIDDLE: f64 = 0.5;
/// Share of the pitch to either side of a round crest that is fitted.
const ROUND: f64 = 0.08;
/// Between a corner and the chord of a quarter pitch a round profile bulges by more than this share of its depth.
const BULGE: f64 = 0.02;
/// A trace may run back by this much, mm, before it counts as overhanging.
const BACKWARD: f64 = 0.5;
/// Mean distance from the nominal profile, as a share of its depth, beyond which a trace is of something else.
const FAR: f64 = 0.35;
/// Times corners are sought, each from the ones before.
const ROUNDS: usize = 3;

/// Reads the traces a yard names and adds their readings. `open` gives the bytes of a file beside the yard file.
///
/// # Errors
/// A file that cannot be read or is no trace of the nominal profile; the place is the line that names it.
pub fn add_traces(
    yard: &mut Yard,
    nominals: &[Arc<Profile>],
    mut open: impl FnMut(&str) -> Result<Vec<u8>>,
) -> Result<()> {
    for (index, nominal) in nominals.iter().enumerate().take(yard.sheets.len()) {
        for trace in yard.sheets[index].traces.clone() {
            let read = open(&trace.file).and_then(|bytes| {
                traced(&bytes, nominal, &trace).map_err(|e| unread(e, &trace.file, &bytes))
            });
            let read = read.map_err(|e| e.at(yard.place(trace.line, "text")).at(&yard.file))?;
            let sheet: &mut RawSheet = &mut yard.sheets[index];
            sheet.readings.extend(read);
            sheet.traces.retain(|t| *t != trace);
        }
    }
    Ok(())
}

fn traced(bytes: &[u8], nominal: &Profile, trace: &Trace) -> Result<Vec<Reading>> {
    let points = trace_points(&trace.file, bytes)?;
    readings(&points, nominal, trace).map_err(|e| e.at(&trace.file))
}

/// Adds to an error what the file holds that is not read: the section may be drawn in it.
fn unread(error: Error, name: &str, bytes: &[u8]) -> Error {
    let Some(report) = (bytes.len() <= MOST_TRACE_BYTES).then(|| inspect(name, bytes).ok()).flatten() else {
        return error;
    };
    let kinds: Vec<String> = report.not_measured.iter().map(|(kind, n)| format!("{n} {kind}")).collect();
    if kinds.is_empty() {
        return error;
    }
    Error::input(format!("{}; not read: {}", error.message(), kinds.join(", ")))
        .at(error.place().unwrap_or(name))
        .remedy("save the section as one polyline, or as lines and arcs, in the file's top level")
}

/// The longest open line of an SVG or DXF file as points (x to the right, y up), mm, from left to right. Lines that
/// end on one another count as one.
///
/// # Errors
/// A file that is too large, cannot be read, holds no open line, or one that overhangs or is too wide.
pub fn trace_points(name: &str, bytes: &[u8]) -> Result<Vec<[f64; 2]>> {
    if bytes.len() > MOST_TRACE_BYTES {
        return Err(Error::input(format!(
            "the file has {} bytes, more than the {MOST_TRACE_BYTES} allowed for a trace",
            bytes.len()
        ))
        .at(name)
        .remedy("save the cross-section alone, with fewer points"));
    }
    let length = |points: &[[f64; 2]]| -> f64 {
        points.windows(2).map(|e| (e[1][0] - e[0][0]).hypot(e[1][1] - e[0][1])).sum()
    };
    let open = outlines(name, bytes)?.into_iter().filter(|line| !line.closed).map(|line| line.points);
    let longest =
        joined(&open.collect::<Vec<_>>()).into_iter().max_by(|a, b| length(a).total_cmp(&length(b)));
    let mut points = longest.ok_or_else(|| {
        Error::input("the file holds no open line")
            .at(name)
            .remedy("draw the cross-section as one open line, in true size, seen from the start end")
    })?;
    if points[0][0] > points[points.len() - 1][0] {
        points.reverse();
    }
    let mut furthest = f64::NEG_INFINITY;
    for p in &points {
        if p[0] < furthest - BACKWARD {
            return Err(Error::input(format!("the trace runs back at x = {:.1} mm", p[0]))
                .at(name)
                .remedy("trace the sheet from edge to edge without overhangs"));
        }
        furthest = furthest.max(p[0]);
    }
    if furthest - points[0][0] > WIDEST {
        return Err(Error::input(format!(
            "the trace is {:.0} mm wide (allowed: {WIDEST} mm)",
            furthest - points[0][0]
        ))
        .at(name)
        .remedy("draw it in true size, and check the units of the file"));
    }
    Ok(points)
}

/// An end of a line: its number, and 0 for where it begins or 1.
type End = (usize, usize);

/// Lines that end on one another made one, in the order of their first; where three or more ends meet none is joined,
/// and rings are left out.
fn joined(lines: &[Vec<[f64; 2]>]) -> Vec<Vec<[f64; 2]>> {
    let place = |(line, end): End| lines[line][if end == 0 { 0 } else { lines[line].len() - 1 }];
    #[allow(clippy::cast_possible_truncation, reason = "within a thousand kilometres")]
    let cell = |p: [f64; 2]| [0, 1].map(|k| (p[k] / JOIN).floor() as i64);
    let mut cells: BTreeMap<[i64; 2], Vec<End>> = BTreeMap::new();
    let ends = || (0..lines.len()).flat_map(|line| [(line, 0), (line, 1)]);
    for end in ends() {
        cells.entry(cell(place(end))).or_default().push(end);
    }
    // Two at most, for with a third none is joined.
    let near = |end: End| -> Vec<End> {
        let (p, [x, y]) = (place(end), cell(place(end)));
        let around = (x - 1..=x + 1).flat_map(|x| (y - 1..=y + 1).map(move |y| [x, y]));
        let others = around.filter_map(|cell| cells.get(&cell)).flatten().copied();
        let close = |other: &End| {
            let q = place(*other);
            *other != end && (p[0] - q[0]).hypot(p[1] - q[1]) <= JOIN
        };
        others.filter(close).take(2).collect()
    };
    let mate = |end: End| match near(end)[..] {
        [other] if other.0 != end.0 && near(other) == [end] => Some(other),
        _ => None,
    };
    let mut taken = vec![false; lines.len()];
    let mut chains = Vec::new();
    for start in ends() {
        if taken[start.0] || mate(start).is_some() {
            continue;
        }
        let mut chain: Vec<[f64; 2]> = Vec::new();
        let mut next = Some(start);
        while let Some((line, end)) = next.filter(|(line, _)| !taken[*line]) {
            taken[line] = true;
            let skip = usize::from(!chain.is_empty());
            if end == 0 {
                chain.extend(lines[line].iter().skip(skip));
            } else {
                chain.extend(lines[line].iter().rev().skip(skip));
            }
            next = mate((line, 1 - end));
        }
        chains.push(chain);
    }
    chains
}

/// A trace as heights at even steps across from the right-hand edge.
struct Heights(Vec<f64>);

impl Heights {
    fn new(points: &[[f64; 2]]) -> Self {
        let right = points[points.len() - 1][0];
        // Across grows to the left.
        let flipped: Vec<[f64; 2]> = points.iter().rev().map(|p| [right - p[0], p[1]]).collect();
        let width = flipped[flipped.len() - 1][0];
        let mut heights = Vec::new();
        let (mut k, mut step) = (0, 0.0_f64);
        while step * STEP <= width {
            let x = step * STEP;
            while k + 2 < flipped.len() && flipped[k + 1][0] < x {
                k += 1;
            }
            let (a, b) = (flipped[k], flipped[k + 1]);
            let run = b[0] - a[0];
            let share = if run > 0.0 { ((x - a[0]) / run).clamp(0.0, 1.0) } else { 0.0 };
            heights.push(a[1] + share * (b[1] - a[1]));
            step += 1.0;
        }
        Self(heights)
    }

    #[allow(clippy::cast_precision_loss, reason = "a count of steps")]
    fn width(&self) -> f64 {
        (self.0.len() - 1) as f64 * STEP
    }

    /// Samples within a range across.
    fn within(&self, from: f64, to: f64) -> impl Iterator<Item = [f64; 2]> + '_ {
        #[allow(clippy::cast_precision_loss, reason = "a count of steps")]
        self.0
            .iter()
            .enumerate()
            .map(|(k, h)| [k as f64 * STEP, *h])
            .filter(move |p| p[0] >= from && p[0] <= to)
    }
}

/// The readings of a traced station: one per corner of the nominal profile, numbered from the right-hand edge.
fn readings(points: &[[f64; 2]], nominal: &Profile, trace: &Trace) -> Result<Vec<Reading>> {
    let corners = nominal.corners();
    if corners.is_empty() {
        return Err(Error::input("a flat sheet has no folds to trace"));
    }
    let heights = Heights::new(points);
    let (pitch, depth) = (nominal.pitch(), nominal.depth());
    if heights.width() < pitch {
        return Err(Error::input(format!("the trace is {:.1} mm wide, less than a pitch", heights.width()))
            .remedy("trace the whole width in true size, and check the units of the file"));
    }
    let origin = best_origin(&heights, nominal)?;
    // Corners of the nominal profile that lie on the trace.
    let mut places: Vec<[f64; 2]> = Vec::new();
    let mut k = 0_i32;
    let start = ((-origin) / pitch).floor();
    loop {
        let pitches = start + f64::from(k / i32::try_from(corners.len()).unwrap_or(1));
        let [t, h] = corners[usize::try_from(k).unwrap_or(0) % corners.len()];
        let across = origin + pitches * pitch + t;
        k += 1;
        if across > heights.width() {
            break;
        }
        if across > 0.0 {
            places.push([across, h]);
        }
    }
    let round = is_round(nominal, &corners);
    for _ in 0..ROUNDS {
        let at: Vec<f64> = places.iter().map(|p| p[0]).collect();
        for (i, place) in places.iter_mut().enumerate() {
            let before = if i == 0 { 0.0 } else { at[i - 1] };
            let after = at.get(i + 1).copied().unwrap_or(heights.width());
            let found = if round {
                vertex(&heights, at[i], ROUND * pitch)
            } else {
                meet(line(&heights, before, at[i]), line(&heights, at[i], after))
            };
            if let Some(found) = found {
                place[0] = found[0];
            }
        }
    }
    let measured: Vec<Option<[f64; 2]>> = (0..places.len())
        .map(|i| {
            let before = if i == 0 { 0.0 } else { places[i - 1][0] };
            let after = places.get(i + 1).map_or(heights.width(), |p| p[0]);
            if round {
                vertex(&heights, places[i][0], ROUND * pitch)
            } else {
                meet(line(&heights, before, places[i][0]), line(&heights, places[i][0], after))
            }
        })
        .collect();
    let crests: Vec<[f64; 2]> =
        places.iter().zip(&measured).filter(|(p, _)| p[1] > 0.0).filter_map(|(_, m)| *m).collect();
    let Some(straightedge) = fit_line(crests.iter().copied()) else {
        return Err(Error::input("the trace shows fewer than two crests to lay a straightedge on"));
    };
    let mut made = Vec::new();
    for (i, m) in measured.iter().enumerate() {
        let Some([across, height]) = *m else { continue };
        let below = straightedge[0] + straightedge[1] * across - height;
        if below < -depth || below > 2.0 * depth {
            continue;
        }
        let fold = u32::try_from(i + 1).unwrap_or(u32::MAX);
        let (line, station) = (trace.line, trace.station);
        made.push(Reading { line, station, fold, across: Some(across), depth: Some(below) });
    }
    Ok(made)
}

/// Where corner 0's pitch begins, in 0..pitch, so that the nominal profile lies closest to the trace.
fn best_origin(heights: &Heights, nominal: &Profile) -> Result<f64> {
    let pitch = nominal.pitch();
    let mean = heights.0.iter().sum::<f64>();
    #[allow(clippy::cast_precision_loss, reason = "a count of steps")]
    let count = heights.0.len() as f64;
    let mean = mean / count;
    let tried = (0..).map(|k| f64::from(k) * STEP * 2.0).take_while(|o| *o < pitch).map(|origin| {
        let nominal_mean: f64 =
            heights.within(0.0, f64::INFINITY).map(|p| nominal.height(p[0] - origin)).sum::<f64>() / count;
        let off: f64 = heights
            .within(0.0, f64::INFINITY)
            .map(|p| (p[1] - mean - nominal.height(p[0] - origin) + nominal_mean).abs())
            .sum();
        (off / count, origin)
    });
    let (off, origin) = tried.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((f64::INFINITY, 0.0));
    if off > FAR * nominal.depth() {
        return Err(Error::input(format!(
            "the trace is not of the nominal profile: it lies {off:.1} mm from it on average, however it is laid"
        ))
        .remedy("draw it in true size, outside up, and check the units of the file and the profile"));
    }
    Ok(origin)
}

/// Whether crests and valleys are curved: between two corners the profile leaves the straight line.
fn is_round(nominal: &Profile, corners: &[[f64; 2]]) -> bool {
    let next = corners.get(1).copied().unwrap_or([corners[0][0] + nominal.pitch(), corners[0][1]]);
    let a = corners[0];
    let quarter = a[0] + (next[0] - a[0]) / 4.0;
    let chord = a[1] + (next[1] - a[1]) / 4.0;
    corners.len() <= 2 && (nominal.height(quarter) - chord).abs() > BULGE * nominal.depth()
}

/// The line through the middle of a flat, as height and slope.
fn line(heights: &Heights, from: f64, to: f64) -> Option<[f64; 2]> {
    let rim = (1.0 - MIDDLE) / 2.0 * (to - from);
    fit_line(heights.within(from + rim, to - rim))
}

/// Least squares: height at 0, and slope; none of fewer than two places.
fn fit_line(points: impl Iterator<Item = [f64; 2]>) -> Option<[f64; 2]> {
    let points: Vec<[f64; 2]> = points.collect();
    #[allow(clippy::cast_precision_loss, reason = "a count of samples")]
    let n = points.len() as f64;
    let mean = [0, 1].map(|i| points.iter().map(|p| p[i]).sum::<f64>() / n);
    let xx: f64 = points.iter().map(|p| (p[0] - mean[0]).powi(2)).sum();
    let xy: f64 = points.iter().map(|p| (p[0] - mean[0]) * (p[1] - mean[1])).sum();
    (xx > 0.0).then(|| [mean[1] - xy / xx * mean[0], xy / xx])
}

fn meet(a: Option<[f64; 2]>, b: Option<[f64; 2]>) -> Option<[f64; 2]> {
    let (a, b) = (a?, b?);
    let across = (b[0] - a[0]) / (a[1] - b[1]);
    across.is_finite().then(|| [across, a[0] + a[1] * across])
}

/// The vertex of the parabola through the samples about a place.
fn vertex(heights: &Heights, at: f64, reach: f64) -> Option<[f64; 2]> {
    let mut normal = nalgebra::Matrix3::zeros();
    let mut right = nalgebra::Vector3::zeros();
    for p in heights.within(at - reach, at + reach) {
        let x = (p[0] - at) / reach;
        let row = nalgebra::Vector3::new(1.0, x, x * x);
        normal += row * row.transpose();
        right += row * p[1];
    }
    let c = normal.try_inverse()? * right;
    let x = -c[1] / (2.0 * c[2]);
    // Beyond its samples a vertex is a guess.
    (x.abs() <= 1.0).then(|| [at + x * reach, c[0] + c[1] * x / 2.0])
}

#[cfg(test)]
mod tests;
