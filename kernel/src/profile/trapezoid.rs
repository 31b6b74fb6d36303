//! The trapezoid profile: level crests and valleys joined by straight webs.
//!
//! Crest and valley are the widths between the theoretical sharp corners of the middle skin, with or
//! without bends; the plan width of a web is (pitch − crest − valley) / 2.

use super::{
    BEND_RADIUS, CLOSURE, DEPTH, LEAST_ADVANCE, PITCH, Profile, ProfileKind, THICKNESS, middle_radius,
    rounded_pieces,
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
    // A width lost in the rounding of the pitch is none: its two corners would fall into one or not by chance.
    let [crest, valley] = [crest, valley].map(|width| if width <= CLOSURE * pitch { 0.0 } else { width });
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
    let radius = middle_radius(bend_radius, thickness);
    let rounded = f64::from(u8::from(crest == 0.0) + u8::from(valley == 0.0)) * radius;
    let between_corners = corner_height(depth, web, rounded).map_err(|e| e.at(ROW.name))?;
    let (high, low) = (between_corners / 2.0, -between_corners / 2.0);
    // A crest or valley without width is one corner.
    let mut points = vec![[-crest / 2.0, high]];
    if crest > 0.0 {
        points.push([crest / 2.0, high]);
    }
    points.push([crest / 2.0 + web, low]);
    if valley > 0.0 {
        points.push([pitch - crest / 2.0 - web, low]);
    }
    points.push([pitch - crest / 2.0, high]);
    let pieces = rounded_pieces(&points, radius).map_err(|e| e.at(ROW.name))?;
    Profile::from_pieces(ROW.name, pieces, thickness, bend_radius)?.exactly(pitch, depth)
}

/// Newton's steps end when they change the height by no more than this share of it.
const SETTLED: f64 = 1.0e-15;
/// Steps that are always enough: they grow from below and double their digits.
const MOST_STEPS: u32 = 60;

/// Height between the sharp corners of a sheet that is `depth` high.
///
/// A crest or valley without width is rounded off: its bend reaches R (1/cos θ − 1) less than the corner, with
/// tan θ = height / web. `rounded` is R for one such, 2 R for both.
///
/// # Errors
/// Bends that take off as much as a higher corner adds.
fn corner_height(depth: f64, web: f64, rounded: f64) -> Result<f64> {
    let mut height = depth;
    if rounded == 0.0 {
        return Ok(height);
    }
    for _ in 0..MOST_STEPS {
        let secant = (height / web).hypot(1.0);
        let short = depth - (height - rounded * (secant - 1.0));
        let gain = 1.0 - rounded * height / (web * web * secant);
        if gain <= 0.0 {
            break;
        }
        // The reach is concave in the height, so that every step stays below the goal.
        let step = short / gain;
        height += step;
        if step <= SETTLED * height {
            return Ok(height);
        }
    }
    Err(Error::input(format!(
        "bends of {rounded:.3} mm middle radius leave no web {web} mm across and {depth} mm high between a crest \
         and a valley without width"
    ))
    .remedy("make the bend radius smaller, or the crest and the valley wider"))
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

    const SIZES: [(&str, f64); 4] = [("pitch", 200.0), ("depth", 40.0), ("crest", 70.0), ("valley", 70.0)];

    fn with(more: &[(&str, f64)]) -> Result<Profile> {
        let sizes = SIZES.iter().filter(|(k, _)| more.iter().all(|(m, _)| m != k));
        made(&sizes.chain(more).copied().collect::<Vec<_>>())
    }

    #[test]
    fn thickness_alone_does_not_round_the_folds() {
        let thin = with(&[("thickness", 1.0)]).unwrap();
        let thick = with(&[("thickness", 12.0), ("bend_radius", 0.0)]).unwrap();
        assert_eq!(thin.strips(), thick.strips());
        assert!((thick.developed_length(0.0) - 240.0).abs() < 1e-9);
        // A mitred corner lengthens the crest outside by e·tan(θ/2) at each end; the web keeps its length.
        let half_turn = (40.0_f64.atan2(30.0) / 2.0).tan();
        assert!((thick.developed_at(35.0, 6.0) - (35.0 + 6.0 * half_turn)).abs() < 1e-9);
        assert!((thick.developed_at(65.0, 6.0) - thick.developed_at(35.0, 6.0) - 50.0).abs() < 1e-9);
    }

    #[test]
    fn bends_are_arcs_tangent_to_the_flats() {
        let rib = with(&[("thickness", 2.0), ("bend_radius", 6.0)]).unwrap();
        let turn = 40.0_f64.atan2(30.0);
        let setback = 7.0 * (turn / 2.0).tan();
        let arc = 7.0 * turn;
        assert!((rib.developed_length(0.0) - (240.0 - 8.0 * setback + 4.0 * arc)).abs() < 1e-9);
        assert!((rib.strips()[0].t[1] - (35.0 - setback)).abs() < 1e-9);
        // Fold lines lie on the arc about (35 − setback, 20 − 7), the chords between within the tolerance.
        let bend: Vec<_> = rib.strips().iter().filter(|s| s.piece == 1).collect();
        assert!(bend.len() >= 2);
        for strip in bend {
            let from_centre = |t: f64, h: f64| (t - 35.0 + setback).hypot(h - 13.0);
            let ends = [0, 1].map(|k| from_centre(strip.t[k], strip.h[k]));
            assert!(ends.iter().all(|r| (r - 7.0).abs() < 1e-9), "{ends:?}");
            let middle =
                from_centre(f64::midpoint(strip.t[0], strip.t[1]), f64::midpoint(strip.h[0], strip.h[1]));
            assert!(7.0 - middle <= super::super::CHORD_TOLERANCE * (1.0 + 1e-9));
        }
        // On the inside face the bend has the inside radius, outside that plus the thickness.
        let end = rib.strips().iter().filter(|s| s.piece == 1).map(|s| s.t[1]).fold(0.0, f64::max);
        let width = |e: f64| rib.developed_at(end, e) - rib.developed_at(35.0 - setback, e);
        assert!((width(-1.0) - 6.0 * turn).abs() < 1e-9);
        assert!((width(1.0) - 8.0 * turn).abs() < 1e-9);
    }

    #[test]
    fn peaks_and_points_without_width_are_one_corner() {
        let zigzag = with(&[("crest", 0.0), ("valley", 0.0)]).unwrap();
        assert_eq!(zigzag.strips().len(), 2);
        assert!((zigzag.height(50.0)).abs() < 1e-9);
        // The peak is mitred over its whole turn, not over the half on each side of the start.
        let turn = 40.0_f64.atan2(100.0);
        assert!((zigzag.strips()[0].gain - (turn.tan() - turn.tan())).abs() < 1e-12);
        let peaks = with(&[("crest", 0.0)]).unwrap();
        let half = 40.0_f64.atan2(65.0);
        assert!((peaks.strips()[0].gain - (half.tan() - (half / 2.0).tan())).abs() < 1e-12);
    }

    #[track_caller]
    fn refused(more: &[(&str, f64)], says: &str) {
        let text = with(more).unwrap_err().to_string();
        assert!(text.contains(says), "{text:?} does not say {says:?}");
    }

    #[test]
    fn shapes_that_cannot_be_folded_are_refused_with_the_reason() {
        refused(&[("crest", 140.0)], "webs would be negative: crest + valley = 210 mm");
        refused(&[("crest", 130.0)], "webs would be vertical");
        refused(&[("crest", 129.99)], "webs would be vertical");
        refused(&[("bend_radius", 60.0)], "the bends need");
        refused(&[("pitch", f64::NAN)], "pitch");
        refused(&[("depth", 1e300)], "depth");
        refused(&[("depth", -1.0)], "depth");
        refused(&[("crest", 1.0), ("valley", 1.0), ("depth", 400.0), ("thickness", 50.0)], "cannot follow");
        assert!(with(&[("crest", 129.9), ("depth", 20.0)]).is_ok());
    }

    #[test]
    fn a_crest_without_width_is_rounded_and_still_as_high_as_asked() {
        for (crest, valley) in [(0.0, 40.0), (40.0, 0.0), (0.0, 0.0)] {
            for bend_radius in [0.0, 6.0, 15.0] {
                let rib =
                    with(&[("crest", crest), ("valley", valley), ("bend_radius", bend_radius)]).unwrap();
                assert_eq!((rib.pitch(), rib.depth()), (200.0, 40.0));
                assert!((rib.height(0.0) - 20.0).abs() < 1e-9 && (rib.height(100.0) + 20.0).abs() < 1e-9);
            }
        }
        // Second method: without any flats at crest and valley it is the arc and tangent profile, whose closed
        // form is solved another way.
        let rib = with(&[("crest", 0.0), ("valley", 0.0), ("bend_radius", 15.0)]).unwrap();
        let arcs = super::super::arc_tangent::shape(200.0, 40.0, 15.0, 2.0).unwrap();
        assert!((rib.developed_length(0.0) - arcs.developed_length(0.0)).abs() < 1e-9);
        for t in 0..200 {
            assert!((rib.height(f64::from(t)) - arcs.height(f64::from(t))).abs() < 1e-9, "at {t}");
        }
    }

    #[test]
    fn a_width_lost_in_the_rounding_of_the_pitch_is_none() {
        let rounded = |more: &[(&str, f64)]| with(&[&[("bend_radius", 6.0)], more].concat()).unwrap();
        let none = rounded(&[("valley", 0.0)]);
        for valley in [f64::from_bits(1), 1e-300, 1e-14, 1e-8] {
            assert_eq!(rounded(&[("valley", valley)]), none, "{valley}");
        }
        assert_eq!(rounded(&[("crest", 1e-14)]), rounded(&[("crest", 0.0)]));
        // The two corners of a valley of 0 are one, however the sums of pitch, crest and web are rounded.
        for k in 0..200 {
            let (pitch, crest) = (150.0 + 0.1 * f64::from(k), 33.3 + 0.07 * f64::from(k));
            let rib = rounded(&[("pitch", pitch), ("crest", crest), ("valley", 0.0)]);
            assert_eq!((rib.pitch(), rib.depth(), rib.strips()[0].h[0]), (pitch, 40.0, 20.0));
        }
    }

    #[test]
    fn a_crest_without_width_whose_bend_leaves_no_web_is_refused() {
        let error = with(&[("crest", 0.0), ("valley", 0.0), ("bend_radius", 200.0)]).unwrap_err();
        assert_eq!(error.kind(), crate::error::ErrorKind::Input, "{error}");
    }
}
