//! The trapezoid profile: level crests and valleys joined by straight webs.
//!
//! Crest and valley are the widths between the theoretical sharp corners of the middle skin, with or
//! without bends; the plan width of a web is (pitch − crest − valley) / 2.

use super::{
    BEND_RADIUS, DEPTH, LEAST_ADVANCE, PITCH, Profile, ProfileKind, THICKNESS, middle_radius, rounded_pieces,
};
use crate::error::{Error, Result};
use crate::settings::{Setting, SettingKind, Values};

const fn width(name: &'static str, summary: &'static str) -> Setting {
    let kind = SettingKind::Number { default: None, min: 0.0, max: 10_000.0 };
    Setting { name, summary, unit: "mm", kind }
}

/// The registry row.
pub const ROW: ProfileKind = ProfileKind {
    name: "trapezoid",
    summary: "level crests and valleys joined by straight webs",
    settings: &[
        PITCH,
        DEPTH,
        width("crest", "width of a crest between the sharp corners of the middle skin"),
        width("valley", "width of a valley between the sharp corners of the middle skin"),
        THICKNESS,
        BEND_RADIUS,
    ],
    build,
};

fn build(values: &Values) -> Result<Profile> {
    let [pitch, depth, crest, valley, thickness, bend_radius] =
        ["pitch", "depth", "crest", "valley", "thickness", "bend_radius"].map(|name| values.number(name));
    let web = (pitch - crest - valley) / 2.0;
    if web < 0.0 {
        return Err(Error::input(format!(
            "webs would be negative: crest + valley = {} mm is more than the pitch of {pitch} mm",
            crest + valley
        ))
        .remedy("make the crest or the valley narrower, or the pitch wider")
        .at(ROW.name));
    }
    if web < LEAST_ADVANCE * depth {
        return Err(Error::input(format!(
            "webs would be vertical: crest + valley = {} mm leaves {web} mm across for each web of a pitch of \
             {pitch} mm",
            crest + valley
        ))
        .remedy(format!("leave at least {} mm for each web", LEAST_ADVANCE * depth))
        .at(ROW.name));
    }
    let (high, low) = (depth / 2.0, -depth / 2.0);
    let mut points = vec![[-crest / 2.0, high], [crest / 2.0, high]];
    points.extend([[crest / 2.0 + web, low], [pitch - crest / 2.0 - web, low], [pitch - crest / 2.0, high]]);
    // A crest or valley without width is one corner.
    points.dedup_by(|b, a| b[0] - a[0] <= 0.0);
    let pieces =
        rounded_pieces(&points, middle_radius(bend_radius, thickness)).map_err(|e| e.at(ROW.name))?;
    Profile::from_pieces(ROW.name, pieces, thickness, bend_radius)?.exactly(pitch, depth)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::Value;
    use std::collections::BTreeMap;

    fn made(settings: &[(&str, f64)]) -> Result<Profile> {
        let map: BTreeMap<String, Value> =
            settings.iter().map(|(k, v)| ((*k).to_owned(), Value::Number(*v))).collect();
        build(&Values::check(ROW.name, ROW.settings, &map)?)
    }

    #[test]
    fn sharp_folds_lie_where_the_widths_say() {
        let rib = made(&[("pitch", 200.0), ("depth", 40.0), ("crest", 70.0), ("valley", 70.0)]).unwrap();
        let folds: Vec<f64> = rib.strips().iter().map(|s| s.t[0]).collect();
        for (fold, want) in folds.iter().zip([0.0, 35.0, 65.0, 135.0, 165.0]) {
            assert!((fold - want).abs() < 1e-12, "{folds:?}");
        }
        assert_eq!(folds.len(), 5);
        assert_eq!((rib.pitch(), rib.depth()), (200.0, 40.0));
        assert_eq!((rib.height(0.0), rib.height(100.0), rib.height(-300.0)), (20.0, -20.0, -20.0));
        assert!((rib.height(50.0)).abs() < 1e-12);
    }
}
