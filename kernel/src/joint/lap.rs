//! The lap joint: one sheet runs past the other, which stops against it

use super::{Cut, Fit, JointKind, SeamFacts};
use crate::settings::{Setting, SettingKind, Values};

/// The registry row.
pub const ROW: JointKind = JointKind {
    name: "lap",
    summary: "one sheet runs past the other, which stops against it: a fillet weld in the corner",
    settings: &[
        Setting {
            name: "past",
            summary: "how far the one sheet runs past the outside of the other",
            unit: "mm",
            kind: SettingKind::Number { default: Some(10.0), min: 0.0, max: 1_000.0 },
        },
        Setting {
            name: "over",
            summary: "the face that runs past; left out, the first of the two by name",
            unit: "",
            kind: SettingKind::Text,
        },
    ],
    choose,
    fit,
};

fn choose(_facts: &SeamFacts) -> Cut {
    Cut::Exact
}

fn fit(settings: &Values) -> Fit {
    Fit::Lap { past: settings.number("past"), over: settings.text("over").map(str::to_owned) }
}
