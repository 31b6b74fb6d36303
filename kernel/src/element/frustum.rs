//! The frustum maker: a tapering, leaning prism.

use super::{ElementMaker, Solid};
use crate::error::Result;
use crate::settings::{Setting, SettingKind, Values};
use nalgebra::{Point3, Vector3};

pub(super) const SIDES: Setting = Setting {
    name: "sides",
    summary: "number of sides",
    unit: "",
    kind: SettingKind::Count { default: None, min: 3, max: 64 },
};

pub(super) const HEIGHT: Setting = Setting {
    name: "height",
    summary: "height from foot to top",
    unit: "mm",
    kind: SettingKind::Number { default: None, min: 1.0, max: 100_000.0 },
};

const fn width(name: &'static str, summary: &'static str) -> Setting {
    let kind = SettingKind::Number { default: None, min: 1.0, max: 100_000.0 };
    Setting { name, summary, unit: "mm", kind }
}

/// The registry row.
pub const ROW: ElementMaker = ElementMaker {
    name: "frustum",
    summary: "a tapering, leaning prism with its foot at z = 0; faces side1… counter-clockwise from +x, top, \
              bottom",
    settings: &[
        SIDES,
        width("base", "width across flats at the foot (twice the distance from the axis to a side)"),
        width("top", "width across flats at the top"),
        HEIGHT,
        Setting {
            name: "lean",
            summary: "lean of the line from the middle of the foot to the middle of the top, off the vertical",
            unit: "degrees",
            kind: SettingKind::Number { default: Some(0.0), min: -85.0, max: 85.0 },
        },
        Setting {
            name: "toward",
            summary: "direction of the lean, counter-clockwise from +x",
            unit: "degrees",
            kind: SettingKind::Number { default: Some(0.0), min: -360.0, max: 360.0 },
        },
    ],
    build,
};

fn build(name: &str, values: &Values) -> Result<Solid> {
    let height = values.number("height");
    let reach = height * values.number("lean").to_radians().tan();
    let (sin, cos) = values.number("toward").to_radians().sin_cos();
    let widths = [values.number("base"), values.number("top")];
    tapered(name, values.count("sides"), widths, height, [reach * cos, reach * sin])
}

/// A regular polygon with `widths` across flats at foot and top, its top's centre moved by `shift`.
pub(super) fn tapered(
    name: &str,
    sides: u32,
    widths: [f64; 2],
    height: f64,
    shift: [f64; 2],
) -> Result<Solid> {
    let mut faces = Vec::new();
    for k in 0..sides {
        let (sin, cos) = (std::f64::consts::TAU * f64::from(k) / f64::from(sides)).sin_cos();
        // The side holds the foot's edge, level along (−sin, cos), and climbs to the top's edge.
        let outward = (widths[1] - widths[0]) / 2.0 + shift[0] * cos + shift[1] * sin;
        let normal = Vector3::new(height * cos, height * sin, -outward);
        let foot = Point3::new(widths[0] / 2.0 * cos, widths[0] / 2.0 * sin, 0.0);
        faces.push((format!("side{}", k + 1), foot, normal));
    }
    faces.push(("top".to_owned(), Point3::new(shift[0], shift[1], height), Vector3::z()));
    faces.push(("bottom".to_owned(), Point3::origin(), -Vector3::z()));
    Solid::from_planes(name, faces)
}
