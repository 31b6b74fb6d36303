//! The slab maker: a box with its foot at z = 0.

use super::{ElementMaker, Solid};
use crate::error::{Error, Result};
use crate::settings::{LARGEST_NUMBER, Setting, SettingKind, Values};
use nalgebra::{Point3, Vector3};

/// The registry row.
pub const ROW: ElementMaker = ElementMaker {
    name: "slab",
    summary: "a box centred on the z axis with its foot at z = 0; faces east west north south top bottom",
    settings: &[Setting {
        name: "size",
        summary: "length along x, y and z; must be given",
        unit: "mm",
        kind: SettingKind::Numbers { count: 3 },
    }],
    build,
};

fn build(name: &str, values: &Values) -> Result<Solid> {
    let Some(size) = values.numbers("size") else {
        return Err(Error::input("is missing").remedy("give size: [x, y, z] in mm").at("size").at(name));
    };
    if let Some(axis) = (0..3).find(|i| size[*i] <= 0.0 || size[*i] > LARGEST_NUMBER) {
        return Err(Error::input(format!(
            "{} mm along {} is not a length",
            size[axis],
            ["x", "y", "z"][axis]
        ))
        .remedy("give three lengths above 0")
        .at("size")
        .at(name));
    }
    let (x, y, z) = (size[0] / 2.0, size[1] / 2.0, size[2]);
    let face = |label: &str, normal: Vector3<f64>| {
        let point = Point3::new(normal.x * x, normal.y * y, z / 2.0 * (1.0 + normal.z));
        (label.to_owned(), point, normal)
    };
    Solid::from_planes(
        name,
        vec![
            face("east", Vector3::x()),
            face("west", -Vector3::x()),
            face("north", Vector3::y()),
            face("south", -Vector3::y()),
            face("top", Vector3::z()),
            face("bottom", -Vector3::z()),
        ],
    )
}
