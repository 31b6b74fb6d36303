//! Whether the lengths and widths of a sheet agree with its stations and folds, and with one another.

use super::Fold;
use super::place::Placed;
use super::yard::{Measured, RawSheet, Yard};
use crate::finding::{Finding, Level};

/// Tapes agree better than this, mm: a hook over a bent edge, an end that is not cut square and a fold read off its
/// round corner add up to less (common practice, no source). A smaller value would warn of sound surveys.
pub(super) const DISAGREE: f64 = 10.0;

/// Contradictions beyond [`DISAGREE`] as warnings, each at the line of the length or width it is about.
pub(super) fn contradictions(
    yard: &Yard,
    raw: &RawSheet,
    stations: &[f64],
    folds: &[Fold],
    placed: &Placed,
    length: f64,
) -> Vec<Finding> {
    let mut found = Vec::new();
    let mut say = |line: u64, column: &str, message: String, remedy: &str| {
        let place = format!("{}: {}", yard.file, yard.place(line, column));
        let message = format!("{}: {message}", raw.name);
        found.push(Finding::new(Level::Warning, "contradiction", place, message, remedy));
    };
    let again = "measure both again, and check that the rows are of this sheet";
    if let Some(first) = raw.lengths.first() {
        for other in raw.lengths.iter().filter(|m| (m.value - first.value).abs() > DISAGREE) {
            let message = format!(
                "a length of {} mm, but line {} has {} mm (allowed between them: {DISAGREE} mm)",
                other.value, first.line, first.value
            );
            say(other.line, "value", message, again);
        }
    }
    let mut widths: Vec<(f64, &Measured)> = raw.widths.iter().filter_map(|m| Some((m.station?, m))).collect();
    widths.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.line.cmp(&b.1.line)));
    for pair in widths.windows(2) {
        let [(at, a), (next, b)] = pair else { continue };
        if at == next && (a.value - b.value).abs() > DISAGREE {
            let message = format!(
                "a width of {} mm at station {at}, but line {} has {} mm there (allowed between them: {DISAGREE} mm)",
                b.value, a.line, a.value
            );
            say(b.line, "value", message, again);
        }
    }
    let taped =
        raw.widths.iter().map(|m| (m, "width")).chain(raw.thicknesses.iter().map(|m| (m, "thickness")));
    for (measured, what) in taped {
        if let Some(station) = measured.station.filter(|s| *s > length + DISAGREE) {
            let message = format!(
                "a {what} at station {station}, but the sheet is {length} mm long (allowed beyond: {DISAGREE} mm)"
            );
            say(
                measured.line,
                "station",
                message,
                "measure stations from the start end, and check the length",
            );
        }
    }
    let Some(last) = folds.last() else { return found };
    // As far beyond the last fold the next one would have been read.
    let beyond = placed.nominal(last.number + 1)[0] - placed.nominal(last.number)[0];
    for (at, width) in widths {
        let fold = across(stations, &last.across, at);
        if width.value < fold - DISAGREE {
            let message = format!(
                "a width of {} mm at station {at}, but fold {} lies {fold:.1} mm across there (allowed: \
                 {DISAGREE} mm less)",
                width.value, last.number
            );
            say(width.line, "value", message, "measure the width again, and count the folds");
        } else if width.value > fold + beyond + DISAGREE {
            let message = format!(
                "a width of {} mm at station {at}, but its last fold {} lies {fold:.1} mm across there, and the next \
                 one would {beyond:.0} mm further (allowed: {DISAGREE} mm more)",
                width.value, last.number
            );
            say(
                width.line,
                "value",
                message,
                "measure the width again, and read the folds up to the left-hand edge",
            );
        }
    }
    found
}

/// Place of a fold between its stations; beyond them as at the nearest.
fn across(stations: &[f64], values: &[f64], at: f64) -> f64 {
    match stations.partition_point(|s| *s < at) {
        0 => values[0],
        k if k == stations.len() => values[k - 1],
        k => {
            let share = (at - stations[k - 1]) / (stations[k] - stations[k - 1]);
            values[k - 1] + (values[k] - values[k - 1]) * share
        }
    }
}
