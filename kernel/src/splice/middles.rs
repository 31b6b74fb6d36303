//! Where a profile may be split along its ribs.

use crate::profile::{Piece, Profile};

/// Crests and valleys are level flats at the full height, within this share of the depth.
const LEVEL: f64 = 1.0e-6;

/// Where one pitch of a profile may be split, from the middle of its crest, ascending in [0, pitch): the
/// middles of its level crests and valleys, or of all its highest and lowest places where none is level.
pub(super) fn middles(profile: &Profile) -> Vec<f64> {
    let strips = profile.strips();
    let slopes = |i: usize| {
        let rise = strips[i].h[1] - strips[i].h[0];
        if rise.abs() <= LEVEL * profile.depth() { 0.0 } else { rise.signum() }
    };
    let count = strips.len();
    let Some(start) = (0..count).find(|&i| slopes(i) != 0.0) else { return Vec::new() };
    let (mut level, mut turning) = (Vec::new(), Vec::new());
    let (mut from, mut last, mut flat) = (strips[start].t[1], slopes(start), false);
    for k in start + 1..=start + count {
        let (i, strip) = (k % count, &strips[k % count]);
        let lap = if k < count { 0.0 } else { profile.pitch() };
        if slopes(i) == 0.0 {
            flat |= matches!(profile.pieces()[strip.piece], Piece::Flat { .. });
            continue;
        }
        let outermost = profile.depth() / 2.0 - strip.h[0].abs() <= LEVEL * profile.depth();
        if slopes(i) != last && outermost {
            let middle = f64::midpoint(from, strip.t[0] + lap).rem_euclid(profile.pitch());
            turning.push(middle);
            if flat {
                level.push(middle);
            }
        }
        (from, last, flat) = (strip.t[1] + lap, slopes(i), false);
    }
    let mut found = if level.is_empty() { turning } else { level };
    found.sort_by(f64::total_cmp);
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::registry::{Registry, find};
    use crate::settings::{Value, Values};

    fn profile(kind: &str, given: &[(&str, f64)]) -> Profile {
        let registry = Registry::standard();
        let row = find("profile", &registry.profiles, kind).expect("known");
        let map = given.iter().map(|(k, v)| ((*k).to_owned(), Value::Number(*v))).collect();
        (row.build)(&Values::check(kind, row.settings, &map).expect("allowed")).expect("possible")
    }

    #[test]
    fn profiles_split_in_the_middle_of_crests_and_valleys() {
        let near = |found: Vec<f64>, wanted: &[f64]| {
            let same =
                found.len() == wanted.len() && found.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 1e-9);
            assert!(same, "{found:?} is not {wanted:?}");
        };
        let trapezoid = |crest: f64, valley: f64, bend_radius: f64| {
            let sizes = [("pitch", 120.0), ("depth", 30.0), ("crest", crest), ("valley", valley)];
            middles(&profile("trapezoid", &[&sizes[..], &[("bend_radius", bend_radius)]].concat()))
        };
        near(trapezoid(40.0, 30.0, 0.0), &[0.0, 60.0]);
        near(trapezoid(40.0, 30.0, 6.0), &[0.0, 60.0]);
        near(
            middles(&profile("sine", &[("pitch", 150.0), ("depth", 30.0), ("thickness", 1.0)])),
            &[0.0, 75.0],
        );
        let arcs = [("pitch", 150.0), ("depth", 48.0), ("radius", 36.0), ("thickness", 2.0)];
        near(middles(&profile("arc_tangent", &arcs)), &[0.0, 75.0]);
        // A ridge without a flat is no place to weld while there are level valleys; two sharp ones are.
        near(trapezoid(0.0, 40.0, 0.0), &[60.0]);
        near(trapezoid(0.0, 0.0, 0.0), &[0.0, 60.0]);
    }
}
