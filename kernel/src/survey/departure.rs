//! How far a sheet is from the profile it was made to.

use super::SurveyedSheet;
use super::place::Placed;
use super::yard::RawSheet;

/// A sheet against its nominal profile.
#[derive(Debug, Clone, PartialEq)]
pub struct Departure {
    /// Its two ends: at the first and at the last station.
    pub ends: [End; 2],
    /// The pitch that is furthest off: the distance between two folds that are one pitch apart; with the number of
    /// the first of them.
    pub pitch: Worst,
    /// The depth that is furthest off: the height of a fold less that of its neighbour across a web.
    pub depth: Worst,
    /// The fold that lies furthest from its place on a true sheet laid over this one as well as it can be.
    pub place: Worst,
}

/// One end of a sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct End {
    /// Distance along the sheet, mm.
    pub station: f64,
    /// Width as taped nearest to this end, mm; none where it was not.
    pub width: Option<f64>,
    /// From the first to the last fold, mm.
    pub span: f64,
    /// The same on a true sheet, mm.
    pub nominal_span: f64,
    /// Mean pitch, mm.
    pub pitch: f64,
    /// Mean depth, mm.
    pub depth: f64,
}

/// The largest departure of one kind.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Worst {
    /// Actual less nominal, mm.
    pub value: f64,
    /// Where along the sheet, mm.
    pub station: f64,
    /// At which fold.
    pub fold: u32,
}

impl Worst {
    fn see(&mut self, value: f64, station: f64, fold: u32) {
        if value.abs() > self.value.abs() {
            *self = Self { value, station, fold };
        }
    }
}

pub(super) fn depart(sheet: &SurveyedSheet, raw: &RawSheet, placed: &Placed) -> Departure {
    let nominal = |number: u32| placed.nominal(number);
    let (mut pitch, mut depth, mut place) = (Worst::default(), Worst::default(), Worst::default());
    let per_pitch = placed.per_pitch() as usize;
    // The true sheet is laid so that the mean of all folds agrees.
    let mut shift = (0.0, 0.0_f64);
    for fold in &sheet.folds {
        for across in &fold.across {
            shift = (shift.0 + across - nominal(fold.number)[0], shift.1 + 1.0);
        }
    }
    let shift = shift.0 / shift.1.max(1.0);
    for (s, &station) in sheet.stations.iter().enumerate() {
        for (k, fold) in sheet.folds.iter().enumerate() {
            let [t, h] = nominal(fold.number);
            place.see(fold.across[s] - t - shift, station, fold.number);
            if let Some(next) = sheet.folds.get(k + per_pitch) {
                let actual = next.across[s] - fold.across[s];
                pitch.see(actual - (nominal(next.number)[0] - t), station, fold.number);
            }
            if let Some(next) = sheet.folds.get(k + 1) {
                let rise = nominal(next.number)[1] - h;
                let actual = next.height[s] - fold.height[s];
                if rise != 0.0 {
                    depth.see(actual.abs() - rise.abs(), station, fold.number);
                }
            }
        }
    }
    let last = sheet.stations.len() - 1;
    let ends = [0, last].map(|s| end(sheet, raw, placed, s));
    Departure { ends, pitch, depth, place }
}

fn end(sheet: &SurveyedSheet, raw: &RawSheet, placed: &Placed, s: usize) -> End {
    let station = sheet.stations[s];
    let distance = |m: &&super::yard::Measured| m.station.map_or(f64::INFINITY, |at| (at - station).abs());
    // Half the sheet away it is the other end's.
    let width = raw
        .widths
        .iter()
        .filter(|m| distance(m) < sheet.length / 2.0)
        .min_by(|a, b| distance(a).total_cmp(&distance(b)))
        .map(|m| m.value);
    let (first, last) = (&sheet.folds[0], &sheet.folds[sheet.folds.len() - 1]);
    let mean = |values: Vec<f64>| {
        #[allow(clippy::cast_precision_loss, reason = "a count of folds")]
        let count = values.len() as f64;
        values.iter().sum::<f64>() / count
    };
    let per_pitch = placed.per_pitch() as usize;
    let pitches: Vec<f64> =
        sheet.folds.windows(per_pitch + 1).map(|w| w[per_pitch].across[s] - w[0].across[s]).collect();
    let depths: Vec<f64> = sheet
        .folds
        .windows(2)
        .filter(|w| placed.nominal(w[0].number)[1] != placed.nominal(w[1].number)[1])
        .map(|w| (w[1].height[s] - w[0].height[s]).abs())
        .collect();
    End {
        station,
        width,
        span: last.across[s] - first.across[s],
        nominal_span: placed.nominal(last.number)[0] - placed.nominal(first.number)[0],
        pitch: if pitches.is_empty() { f64::NAN } else { mean(pitches) },
        depth: if depths.is_empty() { f64::NAN } else { mean(depths) },
    }
}
