//! Settings of the stage `water`, and the loss of thickness that other stages take from them.

use super::corrosion::{self, CATEGORIES};
use crate::error::Result;
use crate::sculpture::Sculpture;
use crate::settings::{Setting, Values, choice, flag, number};
use crate::tube::Tube;

/// The word for a space that no air gets into.
const SEALED: &str = "sealed";

/// The stage whose settings these rows are.
pub const STAGE: &str = "water";

/// The rows; settings of the stage `water`.
pub const WATER_ROWS: &[Setting] = &[
    number(
        "fall",
        "least fall along ribs of faces that look up, 1 : n (published roofing sheets ask for 1 : 48 at least, or 1 : 6; \
         nothing is published for weathering steel)",
        "",
        48.0,
        [1.0, 1000.0],
    ),
    number("depth", "shallower water is a film (common practice, no source)", "mm", 1.0, [0.01, 100.0]),
    number("volume", "less water is a drop (common practice, no source)", "ml", 5.0, [0.001, 1.0e5]),
    number(
        "tilt",
        "most that an element, with all that stands on it, may be tilted about its foot to drain it; 0 looks for none",
        "degrees",
        5.0,
        [0.0, 45.0],
    ),
    flag("turn_ribs", "whether turns of the ribs are looked for that drain a face", true),
    number(
        "drain",
        "diameter of drain holes and vents; outside also 0.6 and 0.4 of it where that drains and this does not (common practice, no \
         source)",
        "mm",
        20.0,
        [5.0, 200.0],
    ),
    number(
        "drain_edge",
        "least steel between such a hole and every edge, seam and fold (common practice, no source)",
        "mm",
        10.0,
        [0.0, 200.0],
    ),
    flag(
        "cut_drains",
        "whether drains and vents of the inside are cut in the parts: templates, cut files, sheets, areas and masses",
        false,
    ),
    choice("environment", "corrosivity of the air outside (ISO 9223)", "C3", &CATEGORIES),
    choice(
        "inside",
        "corrosivity inside: `sealed` where it is welded airtight or its coat is kept up, else that of the damp air in a \
         drained and vented chamber",
        "C2",
        &["sealed", "C1", "C2", "C3", "C4", "C5"],
    ),
    choice(
        "tube_inside",
        "corrosivity within the spine's tube: `sealed` where its ends are capped airtight",
        SEALED,
        &["sealed", "C1", "C2", "C3", "C4", "C5"],
    ),
    number("life", "years that the sheet is to last", "years", 50.0, [1.0, 200.0]),
    flag(
        "allowance",
        "whether the stages frame and base take the loss over this life off the sheet, the spine's tube, the base plate and its \
         anchors (guidance on bare weathering steel asks for it, from memory)",
        true,
    ),
];

/// The checked settings.
///
/// # Errors
/// A name or value the rows do not allow.
pub fn values(sculpture: &Sculpture) -> Result<Values> {
    sculpture.stage_values(STAGE, WATER_ROWS)
}

/// What rust takes over the life of a work, mm off each face.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Wear {
    /// Off the outside of the sheets.
    pub outside: f64,
    /// Off the inside of the sheets, and the outside of the tube that stands in there.
    pub inside: f64,
    /// Off the inside of the tube.
    pub tube_inside: f64,
}

impl Wear {
    /// What the settings tell, whether or not other stages are to take it off.
    pub fn told(set: &Values) -> Self {
        let life = set.number("life");
        let of = |name: &str| {
            let first = set.text(name).and_then(corrosion::first_year).unwrap_or(0.0);
            corrosion::loss(first, life) / MICRONS
        };
        Self { outside: of("environment"), inside: of("inside"), tube_inside: of("tube_inside") }
    }

    /// What other stages take off: none unless the work has a stage `water` with its allowance.
    ///
    /// # Errors
    /// A name or value the rows do not allow.
    pub fn of(sculpture: &Sculpture) -> Result<Self> {
        if !sculpture.stages.contains_key(STAGE) {
            return Ok(Self::default());
        }
        let set = values(sculpture)?;
        Ok(if set.flag("allowance") { Self::told(&set) } else { Self::default() })
    }

    /// Whether nothing is taken.
    pub fn is_none(&self) -> bool {
        self.outside + self.inside + self.tube_inside <= 0.0
    }

    /// What is left of a sheet, mm; 0 where nothing is.
    pub fn sheet(&self, thickness: f64) -> f64 {
        (thickness - self.outside - self.inside).max(0.0)
    }

    /// What is left of a tube that stands inside.
    ///
    /// # Errors
    /// None is left.
    pub fn tube(&self, tube: &Tube) -> Result<Tube> {
        if self.is_none() {
            return Ok(*tube);
        }
        let (outside, wall) =
            (tube.outside() - 2.0 * self.inside, tube.wall() - self.inside - self.tube_inside);
        Tube::new(outside, wall).map_err(|e| {
            e.at(crate::spine::STAGE).remedy(
                "take a thicker wall, seal or coat the inside (inside: \"sealed\"), or ask for a shorter life in stage water",
            )
        })
    }
}

/// µm in a mm.
const MICRONS: f64 = 1000.0;
