//! Settings of the stage `frame`: where elements are held, what holds the foot, factors and limits.

use crate::error::{Error, Result};
use crate::sculpture::Sculpture;
use crate::settings::{Setting, SettingKind, Value, choice, number};
use std::collections::BTreeMap;

/// The stage whose settings these rows are.
pub const STAGE: &str = "frame";

/// The rows; settings of the stage `frame`.
pub const SWAY_ROWS: &[Setting] = &[
    choice(
        "attach",
        "where the spine holds an element: at its openings (the lower, and the upper or the spine's end), at its inside \
         plates (the lowest and the highest that the spine passes), or stiffly at its lower opening alone",
        "openings",
        &["openings", "plates", "lower"],
    ),
    Setting {
        name: "heights",
        summary: "heights over its lowest corner at which an element is held instead, one (stiff) or two: #{ A: [200, 900] }",
        unit: "mm",
        kind: SettingKind::Settings,
    },
    choice(
        "foot",
        "what holds the foot: fixed, or the anchors of the stage base as springs",
        "fixed",
        &["fixed", "anchors"],
    ),
    Setting {
        name: "anchor_length",
        summary: "length over which an anchor stretches; its depth in the concrete unless given",
        unit: "mm",
        kind: SettingKind::Optional { min: 10.0, max: 10_000.0 },
    },
    number(
        "permanent",
        "factor on weight where it makes things worse (EN 1990 Table A1.2(B), equation 6.10: 1.35)",
        "",
        1.35,
        [0.5, 5.0],
    ),
    number(
        "favourable",
        "factor on weight where it helps (EN 1990 Table A1.2(B), equation 6.10: 1.0)",
        "",
        1.0,
        [0.0, 5.0],
    ),
    number(
        "variable",
        "factor on wind or people for strength (EN 1990 Table A1.2(B), equation 6.10: 1.5)",
        "",
        1.5,
        [0.0, 5.0],
    ),
    number(
        "yield_factor",
        "partial factor on the yield strength (EN 1993-1-1 6.1, from memory: 1.0); stainless grades take 1.1 times it \
         (EN 1993-1-4 5.1)",
        "",
        1.0,
        [0.5, 5.0],
    ),
    number(
        "least_frequency",
        "lowest natural frequency that is accepted (common practice, no source)",
        "Hz",
        1.0,
        [0.01, 1000.0],
    ),
    number(
        "shell",
        "share of each element's sheet that stiffens the spine between its two collars, as a beam beside it: 0 leaves it out, as \
         is usual; seams and brackets must then carry what it takes (common practice, no source)",
        "",
        0.0,
        [0.0, 1.0],
    ),
    number(
        "damping",
        "logarithmic decrement of damping, for gusts (EN 1991-1-4 Table F.2, from memory: 0.012 a bare welded stack, 0.05 steel \
         buildings)",
        "",
        0.02,
        [0.001, 1.0],
    ),
    number(
        "most_sway",
        "each element's top may sway by its height over the foot divided by this, under characteristic wind or people \
         (common practice, no source)",
        "",
        100.0,
        [1.0, 100_000.0],
    ),
];

/// Where elements are held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Attach {
    /// Where the spine passes in and out of the element, or ends.
    #[default]
    Openings,
    /// At the lowest and the highest of its inside plates.
    Plates,
    /// Where the spine passes in, stiffly.
    Lower,
}

/// What holds the foot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Foot {
    /// Nothing gives.
    #[default]
    Fixed,
    /// Anchors stretch; along the ground and about the upright nothing gives.
    Anchors,
}

/// Checked settings.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// Where elements are held.
    pub attach: Attach,
    /// Heights over an element's lowest corner at which it is held instead, mm.
    pub heights: BTreeMap<String, Vec<f64>>,
    /// What holds the foot.
    pub foot: Foot,
    /// Length over which anchors stretch, mm; none is their depth.
    pub anchor_length: Option<f64>,
    /// Factor on weight that makes things worse.
    pub permanent: f64,
    /// Factor on weight that helps.
    pub favourable: f64,
    /// Factor on wind or people.
    pub variable: f64,
    /// Partial factor on the yield strength.
    pub yield_factor: f64,
    /// Least natural frequency, Hz.
    pub least_frequency: f64,
    /// Share of the shell that stiffens the spine.
    pub shell: f64,
    /// Logarithmic decrement of damping.
    pub damping: f64,
    /// Height over sway, at least.
    pub most_sway: f64,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            attach: Attach::Openings,
            heights: BTreeMap::new(),
            foot: Foot::Fixed,
            anchor_length: None,
            permanent: 1.35,
            favourable: 1.0,
            variable: 1.5,
            yield_factor: 1.0,
            least_frequency: 1.0,
            shell: 0.0,
            damping: 0.02,
            most_sway: 100.0,
        }
    }
}

impl Options {
    /// The settings a work was given for its stage `frame`.
    ///
    /// # Errors
    /// A name or value the rows do not allow; heights that are none.
    pub fn of(sculpture: &Sculpture) -> Result<Self> {
        let values = sculpture.stage_values(STAGE, SWAY_ROWS)?;
        let options = Self {
            attach: match values.text("attach") {
                Some("plates") => Attach::Plates,
                Some("lower") => Attach::Lower,
                _ => Attach::Openings,
            },
            heights: match sculpture.stages.get(STAGE).and_then(|given| given.get("heights")) {
                Some(Value::Map(map)) => heights(map, sculpture).map_err(|e| e.at("heights").at(STAGE))?,
                _ => BTreeMap::new(),
            },
            foot: if values.text("foot") == Some("anchors") { Foot::Anchors } else { Foot::Fixed },
            anchor_length: values.optional("anchor_length"),
            permanent: values.number("permanent"),
            favourable: values.number("favourable"),
            variable: values.number("variable"),
            yield_factor: values.number("yield_factor"),
            least_frequency: values.number("least_frequency"),
            shell: values.number("shell"),
            damping: values.number("damping"),
            most_sway: values.number("most_sway"),
        };
        options.check()?;
        Ok(options)
    }

    /// Whether all numbers can be used.
    ///
    /// # Errors
    /// A limit or partial factor on strength that is not above 0; a load factor below 0.
    pub fn check(&self) -> Result<()> {
        let above = [
            ("yield_factor", self.yield_factor),
            ("least_frequency", self.least_frequency),
            ("damping", self.damping),
            ("most_sway", self.most_sway),
            ("permanent", self.permanent),
            ("anchor_length", self.anchor_length.unwrap_or(1.0)),
        ];
        let not_below = [("favourable", self.favourable), ("shell", self.shell), ("variable", self.variable)];
        let wrong = |name: &str, x: f64, what: &str| {
            Err(Error::input(format!("{name} is {x}, which is not {what} 0"))
                .at(STAGE)
                .remedy(format!("give a number {what} 0")))
        };
        if let Some((name, x)) = above.into_iter().find(|(_, x)| !(*x > 0.0 && x.is_finite())) {
            return wrong(name, x, "above");
        }
        if let Some((name, x)) = not_below.into_iter().find(|(_, x)| !(*x >= 0.0 && x.is_finite())) {
            return wrong(name, x, "at least");
        }
        Ok(())
    }
}

fn heights(map: &BTreeMap<String, Value>, sculpture: &Sculpture) -> Result<BTreeMap<String, Vec<f64>>> {
    let mut all = BTreeMap::new();
    for (name, value) in map {
        sculpture.find_element(name)?;
        let list = match value {
            Value::List(items) if (1..=2).contains(&items.len()) => value.numbers(items.len())?,
            Value::Number(_) => vec![value.number()?],
            _ => {
                return Err(Error::input("is no height, and no list of one or two")
                    .at(name.as_str())
                    .remedy("write #{ A: [200, 900] }, in mm over the element's lowest corner"));
            }
        };
        all.insert(name.clone(), list);
    }
    Ok(all)
}
