//! The prism maker: a regular polygon drawn straight up.

use super::frustum::{HEIGHT, SIDES, tapered};
use super::{ElementMaker, Solid};
use crate::error::Result;
use crate::settings::{Setting, SettingKind, Values};

/// The registry row.
pub const ROW: ElementMaker = ElementMaker {
    name: "prism",
    summary: "a regular prism with its foot at z = 0; faces side1… counter-clockwise from +x, top, bottom",
    settings: &[
        SIDES,
        Setting {
            name: "width",
            summary: "width across flats (twice the distance from the axis to a side)",
            unit: "mm",
            kind: SettingKind::Number { default: None, min: 1.0, max: 100_000.0 },
        },
        HEIGHT,
    ],
    build,
};

fn build(name: &str, values: &Values) -> Result<Solid> {
    let width = values.number("width");
    tapered(name, values.count("sides"), [width, width], values.number("height"), [0.0, 0.0])
}
