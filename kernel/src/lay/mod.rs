//! Laying parts on sheets: which part is cut from which sheet, and where.
//!
//! A part of a formed sheet may slide along the ribs as it likes but steps across them by whole ribs, so that its
//! crests lie on the sheet's; [`motion`] says which ways it may lie. So for each way and rib the places left free
//! by other parts, damage and edges are stretches of one line, and `slabs` finds their ends exactly. `fill` puts
//! parts one by one where they reach least far along a sheet; `search` tries orders of parts and of sheets. On
//! flat sheet a part may lie anywhere, turned by given angles: there the lines tried are those on which parts
//! touch, and some between.
//!
//! Aims, in this order: all parts laid, on the fewest sheets, leaving the largest offcut. The result is the same
//! for any number of threads.

mod bed;
mod cut_sheet;
mod fill;
pub mod motion;
mod near;
mod offcut;
mod piece;
mod search;
mod slabs;
mod verdict;

pub(crate) use bed::{bounds, rib_place};
pub use cut_sheet::{CutSheet, LaidPart};
pub use motion::Way;
pub(crate) use near::{LITTLE, apart, clear};
pub use offcut::Offcut;
pub(crate) use piece::split;
pub use piece::{Need, Piece, pieces};
pub(crate) use search::offcuts;
pub use verdict::Unplaced;

use crate::error::{Error, Result};
use crate::settings::{Setting, SettingKind, Value, Values};
use crate::stock::{Sheet, Stock};
use std::collections::BTreeMap;

/// The value of the setting `from` for parts cut as blanks.
const FLAT: &str = "flat";

/// Settings of laying.
pub const ROWS: &[Setting] = &[
    Setting {
        name: "spacing",
        summary: "least distance between parts, with the width of the cut (common practice, no source)",
        unit: "mm",
        kind: SettingKind::Number { default: Some(10.0), min: 0.0, max: 500.0 },
    },
    Setting {
        name: "margin",
        summary: "least distance of parts from a sheet's edges and from damage (common practice, no source)",
        unit: "mm",
        kind: SettingKind::Number { default: Some(15.0), min: 0.0, max: 1000.0 },
    },
    Setting {
        name: "from",
        summary: "cut sheet parts from formed sheet, or from flat sheet as blanks that the shop folds",
        unit: "",
        kind: SettingKind::Choice { default: Some("formed"), of: &["formed", FLAT] },
    },
    Setting {
        name: "for_sheets",
        summary: "on surveyed sheets: cut each part for the very place it lies on; false keeps nominal templates",
        unit: "",
        kind: SettingKind::Flag { default: true },
    },
    Setting {
        name: "allowance",
        summary: "what parts are kept further apart, and further from edges, than spacing and margin ask, because \
                  they grow or shrink when they are cut for their sheets (common practice, no source)",
        unit: "mm",
        kind: SettingKind::Number { default: Some(5.0), min: 0.0, max: 100.0 },
    },
    Setting {
        name: "best_fit",
        summary: "of surveyed sheets that would do as well, cut those whose shape suits the faces best",
        unit: "",
        kind: SettingKind::Flag { default: true },
    },
    Setting {
        name: "turn_over",
        summary: "whether a part may be cut inside up, where the profile's crest and valley are one shape",
        unit: "",
        kind: SettingKind::Flag { default: true },
    },
    Setting {
        name: "turns",
        summary: "on flat sheet: how many directions a part may take, spread evenly over a full turn",
        unit: "",
        kind: SettingKind::Count { default: Some(4), min: 1, max: 72 },
    },
    Setting {
        name: "misfit",
        summary: "most a part's crests may lie beside those of a surveyed sheet; left out, any, and it is reported",
        unit: "mm",
        kind: SettingKind::Optional { min: 0.0, max: 1000.0 },
    },
    Setting {
        name: "least_offcut",
        summary: "least length and width of an offcut worth keeping",
        unit: "mm",
        kind: SettingKind::Number { default: Some(300.0), min: 1.0, max: 100_000.0 },
    },
    Setting {
        name: "tries",
        summary: "how many orders of parts are tried for each kind of sheet",
        unit: "",
        kind: SettingKind::Count { default: Some(160), min: 1, max: 100_000 },
    },
];

/// Settings of a pin.
pub const PIN_ROWS: &[Setting] = &[
    Setting { name: "part", summary: "the part, by its id: \"A/east\"", unit: "", kind: SettingKind::Text },
    Setting { name: "sheet", summary: "the sheet, by its name", unit: "", kind: SettingKind::Text },
    Setting {
        name: "along",
        summary: "where the part begins, from the sheet's start end",
        unit: "mm",
        kind: SettingKind::Number { default: None, min: 0.0, max: 1.0e6 },
    },
    Setting {
        name: "crest",
        summary: "on formed sheet: the sheet's crest under the part's first crest line, from 1 at the right-hand edge",
        unit: "",
        kind: SettingKind::Optional { min: -1000.0, max: 1000.0 },
    },
    Setting {
        name: "across",
        summary: "on flat sheet: where the part begins, from the right-hand edge",
        unit: "mm",
        kind: SettingKind::Optional { min: 0.0, max: 1.0e6 },
    },
    Setting {
        name: "lies",
        summary: "on formed sheet: which way it lies",
        unit: "",
        kind: SettingKind::Choice { default: Some("straight"), of: &["straight", "end", "over", "over_end"] },
    },
    Setting {
        name: "turned",
        summary: "on flat sheet: turn, counter-clockwise",
        unit: "degrees",
        kind: SettingKind::Number { default: Some(0.0), min: 0.0, max: 360.0 },
    },
];

/// Whether settings by [`ROWS`] ask for parts to be cut as blanks from flat sheet.
pub fn from_flat(values: &Values) -> bool {
    values.text("from") == Some(FLAT)
}

/// What [`ROWS`] say.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Least distance between parts, mm.
    pub spacing: f64,
    /// Least distance from edges and damage, mm.
    pub margin: f64,
    /// Whether parts may lie inside up.
    pub turn_over: bool,
    /// Directions on flat sheet.
    pub turns: u32,
    /// Greatest misfit of crests, mm.
    pub misfit: Option<f64>,
    /// Least side of an offcut, mm.
    pub least_offcut: f64,
    /// Orders tried.
    pub tries: u32,
}

impl Options {
    /// From checked settings.
    pub fn new(values: &Values) -> Self {
        Self {
            spacing: values.number("spacing"),
            margin: values.number("margin"),
            turn_over: values.flag("turn_over"),
            turns: values.count("turns"),
            misfit: values.optional("misfit"),
            least_offcut: values.number("least_offcut"),
            tries: values.count("tries"),
        }
    }
}

/// A place that the script prescribes.
#[derive(Debug, Clone, PartialEq)]
pub struct Pin {
    /// The part, or a piece of it.
    pub part: String,
    /// The sheet, by name.
    pub sheet: String,
    /// Where the part begins, from the start end, mm.
    pub along: f64,
    /// On formed sheet: the crest under the part's first crest line, counted from 1 at the right-hand edge.
    pub rib: Option<i64>,
    /// On flat sheet: where the part begins, from the right-hand edge, mm.
    pub across: Option<f64>,
    /// How it lies.
    pub way: Way,
}

/// Where a piece lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placement {
    /// Index of the piece.
    pub piece: usize,
    /// Index of the sheet in [`Layout::sheets`].
    pub sheet: usize,
    /// How it lies.
    pub way: Way,
    /// Where its own (0, 0) lies, as (along, across), mm.
    pub at: [f64; 2],
    /// Least and greatest (along, across), mm.
    pub bounds: [[f64; 2]; 2],
    /// On formed sheet: number of the crest under its first crest line, from 1 at the right-hand edge.
    pub rib: Option<i64>,
    /// Most that one of its crests lies beside the sheet's, mm.
    pub misfit: f64,
    /// Whether the script prescribes it.
    pub pinned: bool,
}

impl Pin {
    /// From a map that [`PIN_ROWS`] allow.
    ///
    /// # Errors
    /// No part, sheet or place, a rib that is no whole number, or a map the rows do not allow.
    pub fn new(given: &BTreeMap<String, Value>) -> Result<Self> {
        let what = "pin";
        let values = Values::check(what, PIN_ROWS, given)?;
        let text = |name: &str| {
            values.text(name).map(str::to_owned).ok_or_else(|| {
                Error::input(format!("\"{name}\" is missing"))
                    .at(what)
                    .remedy(format!("say which {name}, by its name"))
            })
        };
        let rib = match values.optional("crest") {
            None => None,
            #[allow(clippy::cast_possible_truncation, reason = "range checked by the row")]
            Some(x) if x.fract() == 0.0 => Some(x as i64),
            Some(x) => {
                return Err(Error::input(format!("{x} is not a whole number"))
                    .at("pin: crest")
                    .remedy(format!("write {}", x.round())));
            }
        };
        let across = values.optional("across");
        if rib.is_none() && across.is_none() {
            return Err(Error::input("neither `crest` nor `across` is given")
                .at(what)
                .remedy("give `crest` on formed sheet, `across` on flat sheet"));
        }
        let way = match (values.text("lies"), across) {
            (Some("end"), _) => Way::EndForEnd,
            (Some("over"), _) => Way::TurnedOver,
            (Some("over_end"), _) => Way::OverAndEnd,
            (_, Some(_)) => Way::Turned(values.number("turned")),
            _ => Way::Straight,
        };
        Ok(Self {
            part: text("part")?,
            sheet: text("sheet")?,
            along: values.number("along"),
            rib,
            across,
            way,
        })
    }
}

impl Placement {
    /// Where a point of the piece lies on the sheet, as (along, across), mm.
    pub fn place(&self, p: [f64; 2]) -> [f64; 2] {
        let [a, c] = self.way.apply(p);
        [a + self.at[0], c + self.at[1]]
    }
}

/// The result.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// All sheets of the stock, one by one.
    pub sheets: Vec<Sheet>,
    /// Placements, by sheet and by where they begin.
    pub placements: Vec<Placement>,
    /// What found no place, and why.
    pub unplaced: Vec<Unplaced>,
    /// What is worth keeping of the sheets that are cut.
    pub offcuts: Vec<Offcut>,
    /// Fewest sheets there can be, by area alone.
    pub area_bound: usize,
}

/// What is laid, and where.
#[derive(Debug, Clone, PartialEq)]
pub struct OnSheets {
    /// Pieces as they are cut.
    pub pieces: Vec<Piece>,
    /// Where they lie.
    pub layout: Layout,
    /// What it won to choose which sheet goes where; none if that was not asked for.
    pub best_fit: Option<BestFit>,
}

/// Which sheets changed places so that they suit their faces best.
#[derive(Debug, Clone, PartialEq)]
pub struct BestFit {
    /// Void that parts cut from nominal templates would leave on the sheets as laid first, and as chosen, mm².
    pub void: [f64; 2],
    /// Seams across which crests were to run on, with the most a crest steps aside there on the sheets as laid
    /// first, and as chosen, mm.
    pub steps: Vec<(String, [f64; 2])>,
    /// For each sheet that was to be cut first: its name, and that of the sheet cut in its stead.
    pub sheets: Vec<[String; 2]>,
}

impl Layout {
    /// Placements on one sheet.
    pub fn on(&self, sheet: usize) -> impl Iterator<Item = &Placement> {
        self.placements.iter().filter(move |p| p.sheet == sheet)
    }

    /// Numbers of the sheets that are cut, in order.
    pub fn used(&self) -> Vec<usize> {
        (0..self.sheets.len()).filter(|&s| self.on(s).next().is_some()).collect()
    }
}

/// Lays pieces on the sheets of a stock.
///
/// # Errors
/// A pin that names no piece or sheet, or prescribes a place where its piece cannot lie.
pub fn lay(pieces: &[Piece], stock: &[Stock], pins: &[Pin], options: &Options) -> Result<Layout> {
    let sheets: Vec<Sheet> = stock.iter().flat_map(Stock::sheets).collect();
    search::search(pieces, sheets, pins, options)
}

#[cfg(test)]
mod tests;
