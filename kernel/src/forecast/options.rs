//! What a forecast assumes: every figure that is a choice, as a setting.

use crate::settings::{Setting, Values, count, number};
use crate::units::KG_PER_MM3;

/// The stage whose settings these rows are.
pub const STAGE: &str = "forecast";

/// The settings. What stands behind the semicolon of a summary is the source of the default.
pub const SETTINGS: &[Setting] = &[
    count("draws", "works that are drawn by lot; 0 makes no forecast", 1000, [0, 1_000_000]),
    count("seed", "start of the random numbers: the same seed gives the same figures", 1, [0, u32::MAX]),
    number(
        "step",
        "distance of the places along a seam at which the gap is worked out",
        "mm",
        20.0,
        [1.0, 500.0],
    ),
    number(
        "cut",
        "standard deviation of a cut from its line, square to it; common practice, no source",
        "mm",
        0.5,
        [0.0, 20.0],
    ),
    number(
        "cut_step",
        "distance along an edge at which cuts are off each by its own; common practice, no source",
        "mm",
        50.0,
        [1.0, 5000.0],
    ),
    number(
        "placing",
        "standard deviation of a part from its place, of each shift, and at its corners of each turn; common \
         practice, no source",
        "mm",
        0.3,
        [0.0, 50.0],
    ),
    number(
        "survey",
        "deviations of the survey are taken so many times; 0 leaves them out",
        "",
        1.0,
        [0.0, 10.0],
    ),
    number(
        "sheet",
        "departures of the sheets from nominal ones are taken so many times; 0 leaves them out",
        "",
        1.0,
        [0.0, 10.0],
    ),
    number(
        "gap",
        "gaps above this count as wide: what one pass closes; common practice, no source",
        "mm",
        2.0,
        [0.0, 100.0],
    ),
    number(
        "density",
        "density of weld metal; EN 1991-1-1 A.4, from memory",
        "kg/m³",
        7850.0,
        [1000.0, 20_000.0],
    ),
    number(
        "efficiency",
        "share of the filler that ends up in the weld; published filler-metal handbook, solid wire in argon with \
         25 % CO₂",
        "",
        0.96,
        [0.05, 1.0],
    ),
    number(
        "fill_hours",
        "hours of filling for a kg of filler; common practice, no source",
        "h",
        2.8,
        [0.0, 100.0],
    ),
    number(
        "grind_hours",
        "hours of grinding for a metre of seam with a wide gap; common practice, no source",
        "h",
        0.5,
        [0.0, 100.0],
    ),
];

/// What a forecast assumes. Fields are the settings of the same names.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Number of draws.
    pub draws: u32,
    /// Start of the random numbers.
    pub seed: u32,
    /// Distance of samples along a seam, mm.
    pub step: f64,
    /// Standard deviation of cuts, mm.
    pub cut: f64,
    /// Distance of knots along an edge, mm.
    pub cut_step: f64,
    /// Standard deviation of placing, mm.
    pub placing: f64,
    /// Factor on the survey's deviations.
    pub survey: f64,
    /// Factor on the departures of sheets from nominal ones.
    pub sheet: f64,
    /// What counts as a wide gap, mm.
    pub gap: f64,
    /// Density of weld metal, kg/m³.
    pub density: f64,
    /// Share of the filler that ends up in the weld.
    pub efficiency: f64,
    /// Hours for a kg of filler.
    pub fill_hours: f64,
    /// Hours for a metre of wide gap.
    pub grind_hours: f64,
}

impl Options {
    /// As set.
    pub fn new(values: &Values) -> Self {
        Self {
            draws: values.count("draws"),
            seed: values.count("seed"),
            step: values.number("step"),
            cut: values.number("cut"),
            cut_step: values.number("cut_step"),
            placing: values.number("placing"),
            survey: values.number("survey"),
            sheet: values.number("sheet"),
            gap: values.number("gap"),
            density: values.number("density"),
            efficiency: values.number("efficiency"),
            fill_hours: values.number("fill_hours"),
            grind_hours: values.number("grind_hours"),
        }
    }

    /// kg of filler per mm² of void between sheets of this thickness, mm.
    pub(super) fn filler(&self, thickness: f64) -> f64 {
        thickness * self.density * KG_PER_MM3 / self.efficiency
    }
}

impl Default for Options {
    fn default() -> Self {
        let none = std::collections::BTreeMap::new();
        match Values::check(STAGE, SETTINGS, &none) {
            Ok(values) => Self::new(&values),
            Err(e) => panic!("defaults are allowed: {e}"),
        }
    }
}
