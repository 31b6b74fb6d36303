//! The arc-and-tangent profile: arcs over crests and valleys, straight tangents between.
//!
//! With Rm the middle radius, p the pitch, d the depth, Δ the angle of the tangent and TL its length:
//! 2 Rm sin Δ + TL cos Δ = p/2 and 2 Rm (1 − cos Δ) + TL sin Δ = d, the geometry of the section property
//! tables for corrugated steel drainage pipe (ASTM A796; from memory, see the tests of `section`).
//! Eliminating TL leaves (2 Rm − d) cos Δ + (p/2) sin Δ = 2 Rm, which has a closed solution; eliminating Δ
//! leaves TL² = (2 Rm − d)² + (p/2)² − (2 Rm)².

use super::{DEPTH, PITCH, Piece, Profile, ProfileKind, THICKNESS};
use crate::error::{Error, Result};
use crate::settings::{Setting, SettingKind, Values};

/// The registry row.
pub const ROW: ProfileKind = ProfileKind {
    name: "arc_tangent",
    summary: "arcs over crests and valleys with straight tangents between, as culvert sheet",
    settings: &[
        PITCH,
        DEPTH,
        Setting {
            name: "radius",
            summary: "inside radius of the arcs",
            unit: "mm",
            kind: SettingKind::Number { default: None, min: 0.1, max: 10_000.0 },
        },
        THICKNESS,
    ],
    build,
};

/// Tangent angle (radians) and tangent length (mm) for the middle radius.
///
/// # Errors
/// Arcs too large to fit, or webs of 90 degrees and more.
pub fn tangents(pitch: f64, depth: f64, middle_radius: f64) -> Result<[f64; 2]> {
    let (a, b, c) = (2.0 * middle_radius - depth, pitch / 2.0, 2.0 * middle_radius);
    let square = a * a + b * b - c * c;
    // The same value without cancelling: (p/2)² + d² − 4 Rm d.
    let tangent_square = b * b + depth * depth - 2.0 * c * depth;
    if tangent_square < 0.0 || !square.is_finite() {
        let largest = (b * b + depth * depth) / (4.0 * depth);
        return Err(Error::input(format!(
            "arcs of {middle_radius} mm middle radius do not fit a pitch of {pitch} mm and a depth of {depth} mm \
             (at most {largest:.3} mm)"
        ))
        .remedy("make the radius smaller, or the pitch or depth larger"));
    }
    let tangent = tangent_square.sqrt();
    // Of the two solutions the smaller angle has the tangent run forward; atan2 of TL keeps it exact.
    let angle = b.atan2(a) - tangent.atan2(c);
    if !(angle > 0.0 && angle < std::f64::consts::FRAC_PI_2) {
        return Err(Error::input(format!(
            "webs would stand at {:.3} degrees with a pitch of {pitch} mm, a depth of {depth} mm and a middle \
             radius of {middle_radius} mm",
            angle.to_degrees()
        ))
        .remedy("keep the webs below 90 degrees: more pitch, less depth or a smaller radius"));
    }
    Ok([angle, tangent])
}

fn build(values: &Values) -> Result<Profile> {
    let [pitch, depth, radius, thickness] =
        ["pitch", "depth", "radius", "thickness"].map(|name| values.number(name));
    shape(pitch, depth, radius, thickness)
}

/// The profile for an inside radius; any unit of length.
pub(super) fn shape(pitch: f64, depth: f64, radius: f64, thickness: f64) -> Result<Profile> {
    let middle = radius + thickness / 2.0;
    let [angle, tangent] = tangents(pitch, depth, middle).map_err(|e| e.at(ROW.name))?;
    let arc = |turn: f64| Piece::Bend { radius: middle, turn };
    let flat = Piece::Flat { length: tangent };
    let pieces = vec![arc(angle), flat, arc(-2.0 * angle), flat, arc(angle)];
    Profile::from_pieces(ROW.name, pieces, thickness, radius)?.exactly(pitch, depth)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn solution_satisfies_both_equations_up_to_the_largest_radius() {
        for (p, d) in [(68.0, 13.0), (125.0, 25.0), (152.0, 51.0), (200.0, 190.0), (381.0, 140.0)] {
            let largest = (p * p / 4.0 + d * d) / (4.0 * d);
            for share in [0.01, 0.3, 0.8, 0.999_999, 1.0 - 1e-15] {
                let r = largest * share;
                let Ok([angle, tangent]) = tangents(p, d, r) else { continue };
                let across = 2.0 * r * angle.sin() + tangent * angle.cos();
                let up = 2.0 * r * (1.0 - angle.cos()) + tangent * angle.sin();
                assert!((across - p / 2.0).abs() < 1e-9, "{p} {d} {r}");
                assert!((up - d).abs() < 1e-9, "{p} {d} {r}");
                assert!(tangent >= 0.0 && p / 2.0 - 2.0 * r * angle.sin() > -1e-9);
            }
        }
        let [_, tangent] =
            tangents(152.0, 51.0, (76.0 * 76.0 + 51.0 * 51.0) / 204.0 * (1.0 - 1e-15)).unwrap();
        assert!(tangent < 1e-4, "arcs meet: {tangent}");
    }

    #[test]
    fn strips_reach_crest_and_valley_exactly() {
        let rib = shape(152.4, 50.8, 28.58, 3.0).unwrap();
        assert_eq!(rib.height(0.0), 25.4);
        assert!((rib.height(152.4 * 7.0) - 25.4).abs() < 1e-9);
        assert!((rib.height(76.2) + 25.4).abs() < 1e-9);
        assert!((rib.developed_length(0.0) / 152.4 - 1.24034).abs() < 0.51e-5);
        let turns: f64 = (0..rib.strips().len()).map(|k| rib.fold_turn(k as i64)).sum();
        assert!(turns.abs() < 1e-9);
    }

    #[test]
    fn arcs_that_do_not_fit_are_refused() {
        let text = shape(68.0, 13.0, 100.0, 2.0).unwrap_err().to_string();
        assert!(text.contains("do not fit") && text.contains("at most 25.481 mm"), "{text}");
        let text = shape(20.0, 60.0, 8.0, 1.0).unwrap_err().to_string();
        assert!(text.contains("degrees"), "{text}");
    }
}
