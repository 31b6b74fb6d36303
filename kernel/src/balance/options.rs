//! Settings of the balance: partial factors, what stands on the ground, whether it is anchored.

use crate::error::{Error, Result};
use crate::output::Output;
use crate::sculpture::Sculpture;
use crate::settings::{Setting, SettingKind, Values};

const fn factor(name: &'static str, summary: &'static str, default: f64) -> Setting {
    Setting {
        name,
        summary,
        unit: "",
        kind: SettingKind::Number { default: Some(default), min: 0.0, max: 5.0 },
    }
}

/// The stage whose settings these rows are.
pub const STAGE: &str = "balance";

/// The rows; settings of the stage `balance`.
pub const OPTION_ROWS: &[Setting] = &[
    factor("stabilising", "factor on weight that holds the work down (EN 1990 Table A1.2(A): 0.9)", 0.9),
    factor("destabilising", "factor on weight that tips it (EN 1990 Table A1.2(A): 1.1)", 1.1),
    factor("variable", "factor on wind and people (EN 1990 Table A1.2(A): 1.5)", 1.5),
    Setting {
        name: "anchored",
        summary: "whether anchors hold it down, as those of the stage base do: then what would tip it is a warning with the moment they must \
                  take",
        unit: "",
        kind: SettingKind::Flag { default: false },
    },
    Setting {
        name: "foot",
        summary: "outline of what it stands on, as of a base plate; left out, where its lowest sheet touches the ground",
        unit: "mm",
        kind: SettingKind::Points,
    },
    Setting {
        name: "within",
        summary: "points of the shell this near to its lowest one stand on the ground too (grout, packing)",
        unit: "mm",
        kind: SettingKind::Number { default: Some(1.0), min: 0.0, max: 500.0 },
    },
    Setting {
        name: "toward",
        summary: "a direction of interest: how far each element may still be moved in it, counter-clockwise from +x",
        unit: "degrees",
        kind: SettingKind::Optional { min: -3600.0, max: 3600.0 },
    },
    Setting {
        name: "margin",
        summary: "margin that is to be left when elements are moved; the ground's margin below it is a warning",
        unit: "mm",
        kind: SettingKind::Number { default: Some(0.0), min: 0.0, max: 10_000.0 },
    },
];

/// Partial factors of an equilibrium check.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Factors {
    /// On weight that holds.
    pub stabilising: f64,
    /// On weight that tips.
    pub destabilising: f64,
    /// On variable actions.
    pub variable: f64,
}

/// Checked settings.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// Partial factors.
    pub factors: Factors,
    /// Whether anchors hold the work.
    pub anchored: bool,
    /// Outline of what it stands on, if set, mm.
    pub foot: Option<Vec<[f64; 2]>>,
    /// How near to the lowest point the shell counts as standing, mm.
    pub within: f64,
    /// A direction of interest, degrees.
    pub toward: Option<f64>,
    /// Margin to be left when elements are moved, mm.
    pub margin: f64,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            factors: Factors { stabilising: 0.9, destabilising: 1.1, variable: 1.5 },
            anchored: false,
            foot: None,
            within: 1.0,
            toward: None,
            margin: 0.0,
        }
    }
}

impl Options {
    /// The settings a work was given for its stage `balance`.
    ///
    /// # Errors
    /// A name or value the rows do not allow; a foot of fewer than three points.
    pub fn of(sculpture: &Sculpture) -> Result<Self> {
        Self::new(&sculpture.stage_values(STAGE, OPTION_ROWS)?)
    }

    /// With what stages before have found: the base plate it stands on, unless a foot is set, and its anchors.
    #[must_use]
    pub fn standing(mut self, output: &Output) -> Self {
        self.foot = self.foot.or_else(|| output.stands_on.clone());
        self.anchored |= output.anchors.is_some();
        self
    }

    /// From checked values.
    ///
    /// # Errors
    /// A foot of fewer than three points.
    pub fn new(values: &Values) -> Result<Self> {
        let foot = values.points("foot");
        if foot.as_ref().is_some_and(|f| f.len() < 3) {
            return Err(Error::input("an outline has three corners or more")
                .at("balance: foot")
                .remedy("list the corners of the plate: [[x, y], [x, y], [x, y], …]"));
        }
        Ok(Self {
            factors: Factors {
                stabilising: values.number("stabilising"),
                destabilising: values.number("destabilising"),
                variable: values.number("variable"),
            },
            anchored: values.flag("anchored"),
            foot,
            within: values.number("within"),
            toward: values.optional("toward"),
            margin: values.number("margin"),
        })
    }
}
