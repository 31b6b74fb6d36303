//! How well faces were traced: the settings of tracings.

use crate::settings::{Setting, SettingKind, Values};

/// Settings of tracings. Defaults are common practice, no source: a sharp pencil round a card model, scanned.
pub const ROWS: &[Setting] = &[
    Setting {
        name: "deviation",
        summary: "standard deviation of a traced corner, beside what the wobble of its strokes shows",
        unit: "mm",
        kind: SettingKind::Number { default: Some(0.2), min: 0.001, max: 100.0 },
    },
    Setting {
        name: "wobble",
        summary: "how far a stroke may leave its straight edge",
        unit: "mm",
        kind: SettingKind::Number { default: Some(1.0), min: 0.01, max: 100.0 },
    },
    Setting {
        name: "rounding",
        summary: "how far the outline may stay away from a corner",
        unit: "mm",
        kind: SettingKind::Number { default: Some(3.0), min: 0.01, max: 100.0 },
    },
    Setting {
        name: "least_edge",
        summary: "the shortest edge; shorter runs are rounded corners (as are runs below 1.2 % of the way round)",
        unit: "mm",
        kind: SettingKind::Number { default: Some(5.0), min: 0.1, max: 1000.0 },
    },
];

/// How to read tracings; see [`ROWS`] for the meaning of each. All in mm, above 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Standard deviation of a corner, beside what the wobble shows.
    pub deviation: f64,
    /// How far a stroke may leave its straight edge.
    pub wobble: f64,
    /// How far the outline may stay away from a corner.
    pub rounding: f64,
    /// The shortest edge.
    pub least_edge: f64,
}

impl Default for Options {
    fn default() -> Self {
        Self { deviation: 0.2, wobble: 1.0, rounding: 3.0, least_edge: 5.0 }
    }
}

impl From<&Values> for Options {
    /// From settings checked against [`ROWS`].
    fn from(values: &Values) -> Self {
        Self {
            deviation: values.number("deviation"),
            wobble: values.number("wobble"),
            rounding: values.number("rounding"),
            least_edge: values.number("least_edge"),
        }
    }
}
