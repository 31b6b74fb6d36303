//! How well one can read a tape and a gauge, and how straight sheet is: the settings of the fit.

use crate::adjust::critical_w;
use crate::settings::{Setting, SettingKind, Values};

/// Settings of the fit. Defaults are common practice, no source, but for `alpha` (W. Baarda, 1968).
pub const ROWS: &[Setting] = &[
    Setting {
        name: "straight",
        summary: "folds run straight over the whole sheet, not only between stations",
        unit: "",
        kind: SettingKind::Flag { default: false },
    },
    deviation("tape", "standard deviation of a reading across", 0.5),
    deviation("gauge", "standard deviation of a reading of depth", 0.3),
    Setting {
        name: "alpha",
        summary: "how often a good reading may be flagged as a misreading",
        unit: "",
        kind: SettingKind::Number { default: Some(0.001), min: 1.0e-6, max: 0.2 },
    },
    deviation("wander", "for the check: standard deviation of the distance between neighbouring folds", 1.0),
    deviation(
        "bow",
        "for the check: standard deviation of a fold from the line between its neighbouring stations",
        1.0,
    ),
    deviation("depth_wander", "for the check: as wander, of the depth", 1.0),
    deviation("depth_bow", "for the check: as bow, of the depth", 0.7),
];

const fn deviation(name: &'static str, summary: &'static str, default: f64) -> Setting {
    let kind = SettingKind::Number { default: Some(default), min: 0.001, max: 100.0 };
    Setting { name, summary, unit: "mm", kind }
}

/// How to fit a sheet; see [`ROWS`] for the meaning of each.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitOptions {
    /// Whether folds are straight over the whole sheet.
    pub straight: bool,
    /// Standard deviations of a reading across and of depth, mm.
    pub reading: [f64; 2],
    /// Level of the test for misreadings.
    pub alpha: f64,
    /// Standard deviation of the step between neighbouring folds, across and of depth, mm.
    pub wander: [f64; 2],
    /// Standard deviation from the line between neighbouring stations, across and of depth, mm.
    pub bow: [f64; 2],
}

impl FitOptions {
    /// From settings checked against [`ROWS`].
    pub fn new(values: &Values) -> Self {
        let pair = |a: &str, b: &str| [values.number(a), values.number(b)];
        Self {
            straight: values.flag("straight"),
            reading: pair("tape", "gauge"),
            alpha: values.number("alpha"),
            wander: pair("wander", "depth_wander"),
            bow: pair("bow", "depth_bow"),
        }
    }

    /// Beyond this a standardised residual is flagged.
    pub fn critical(&self) -> f64 {
        critical_w(self.alpha)
    }
}
