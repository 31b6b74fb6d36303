//! How well one can read a caliper, and how flat card lies: the settings of the solver.

use crate::settings::{Setting, SettingKind, Values};

/// Standard deviation of a distance where the file says nothing, mm. Common practice, no source: a caliper on the
/// corners of card models, whose corners are no points.
pub const DISTANCE: f64 = 0.3;
/// The same of a height above the table, mm.
pub const HEIGHT: f64 = 0.5;
/// The same of an angle, degrees.
pub const ANGLE: f64 = 0.5;
/// The same of a corner from the plane of its face, mm.
pub const FLAT: f64 = 0.2;

/// Settings of the solver. Defaults are common practice, no source, but for `alpha` (W. Baarda, 1968).
pub const ROWS: &[Setting] = &[
    Setting {
        name: "flat",
        summary: "standard deviation of a corner from the plane of its face; left out, the file's own, else 0.2",
        unit: "mm",
        kind: SettingKind::Optional { min: 0.001, max: 100.0 },
    },
    Setting {
        name: "alpha",
        summary: "how often a good reading may be flagged as a misreading",
        unit: "",
        kind: SettingKind::Number { default: Some(0.001), min: 1.0e-6, max: 0.2 },
    },
];

/// How to solve; see [`ROWS`] for the meaning of each.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Standard deviation of a corner from the plane of its face, mm; above 0.
    pub flat: f64,
    /// Level of the tests: for a misreading, and for the readings as a whole.
    pub alpha: f64,
}

impl Default for Options {
    fn default() -> Self {
        Self { flat: FLAT, alpha: 0.001 }
    }
}

impl Options {
    /// From settings checked against [`ROWS`]; `flat` is what the file says of it.
    pub fn new(values: &Values, flat: Option<f64>) -> Self {
        Self { flat: values.optional("flat").or(flat).unwrap_or(FLAT), alpha: values.number("alpha") }
    }
}
