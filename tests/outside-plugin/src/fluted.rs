//! The fluted profile: narrow sharp ridges on wide valleys.

use ribwright_kernel::Result;
use ribwright_kernel::profile::{Piece, Profile, ProfileKind};
use ribwright_kernel::settings::{Setting, SettingKind, Values};

/// The registry row.
pub(crate) const ROW: ProfileKind = ProfileKind {
    name: "fluted",
    summary: "narrow sharp ridges on wide valleys",
    settings: &[
        Setting {
            name: "pitch",
            summary: "from ridge to ridge",
            unit: "mm",
            kind: SettingKind::Number { default: Some(160.0), min: 20.0, max: 2000.0 },
        },
        Setting {
            name: "depth",
            summary: "height of a ridge; its webs lie at 45 degrees",
            unit: "mm",
            kind: SettingKind::Number { default: Some(25.0), min: 1.0, max: 500.0 },
        },
        Setting {
            name: "thickness",
            summary: "thickness of the sheet",
            unit: "mm",
            kind: SettingKind::Number { default: Some(1.5), min: 0.1, max: 20.0 },
        },
    ],
    build,
};

fn build(values: &Values) -> Result<Profile> {
    let (pitch, depth) = (values.number("pitch"), values.number("depth"));
    let corner = |turn: f64| Piece::Bend { radius: 0.0, turn };
    let web = Piece::Flat { length: depth * 2.0_f64.sqrt() };
    let eighth = std::f64::consts::FRAC_PI_4;
    // The kernel says what is wrong where the ridges leave no valley.
    let valley = Piece::Flat { length: pitch - 2.0 * depth };
    let pieces = vec![corner(eighth), web, corner(-eighth), valley, corner(-eighth), web, corner(eighth)];
    Profile::from_pieces(ROW.name, pieces, values.number("thickness"), 0.0)
}
