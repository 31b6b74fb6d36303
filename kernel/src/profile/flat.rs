//! The flat profile: plain sheet.

use super::{Piece, Profile, ProfileKind, THICKNESS};
use crate::error::Result;
use crate::settings::{Setting, SettingKind, Values};

/// The registry row.
pub const ROW: ProfileKind = ProfileKind {
    name: "flat",
    summary: "plain sheet without ribs",
    settings: &[
        THICKNESS,
        Setting {
            name: "pitch",
            summary: "width of the strips the sheet is reckoned in; it changes no result",
            unit: "mm",
            kind: SettingKind::Number { default: Some(1000.0), min: 1.0, max: 10_000.0 },
        },
    ],
    build,
};

fn build(values: &Values) -> Result<Profile> {
    let pieces = vec![Piece::Flat { length: values.number("pitch") }];
    Profile::from_pieces(ROW.name, pieces, values.number("thickness"), 0.0)
}
