//! A profile drawn by its corner points.

use super::{
    BEND_RADIUS, CLOSURE, NO_TURN, Piece, Profile, ProfileKind, THICKNESS, middle_radius, rounded_pieces,
};
use crate::error::{Error, Result};
use crate::settings::{Setting, SettingKind, Values};

/// Most corner points of one pitch.
const MOST_POINTS: usize = 1000;

/// The registry row.
pub const ROW: ProfileKind = ProfileKind {
    name: "outline_profile",
    summary: "any cross-section, drawn by the corner points of one pitch of the middle skin",
    settings: &[
        Setting {
            name: "points",
            summary: "corners [t, h] of one pitch, t growing (across) and h up; the last is one pitch after the \
                      first and as high; may start anywhere: ribs are counted from the middle of the highest flat, \
                      or from the highest corner",
            unit: "mm",
            kind: SettingKind::Points,
        },
        THICKNESS,
        BEND_RADIUS,
    ],
    build,
};

fn build(values: &Values) -> Result<Profile> {
    let points = values.points("points").unwrap_or_default();
    let (thickness, bend_radius) = (values.number("thickness"), values.number("bend_radius"));
    shape(&points, thickness, bend_radius).map_err(|e| e.at(ROW.name))
}

fn shape(points: &[[f64; 2]], thickness: f64, bend_radius: f64) -> Result<Profile> {
    if points.len() < 2 || points.len() > MOST_POINTS {
        return Err(Error::input(format!("{} points do not draw one pitch", points.len()))
            .remedy(format!("give 2 to {MOST_POINTS} points [t, h]"))
            .at("points"));
    }
    if let Some(k) = (1..points.len()).find(|k| points[*k][0] <= points[k - 1][0]) {
        let (a, b) = (points[k - 1], points[k]);
        return Err(Error::input(format!(
            "point {k} at t = {} mm does not come after point {} at t = {} mm",
            b[0],
            k - 1,
            a[0]
        ))
        .remedy("let t grow from point to point; vertical or overhanging webs cannot be made")
        .at("points"));
    }
    let (first, last) = (points[0], points[points.len() - 1]);
    let pitch = last[0] - first[0];
    #[allow(clippy::float_cmp, reason = "both are numbers as given")]
    let closes = first[1] == last[1];
    if !closes {
        return Err(Error::input(format!(
            "one pitch does not close: it starts at h = {} mm and ends at h = {} mm",
            first[1], last[1]
        ))
        .remedy("end one pitch as high as it started")
        .at("points"));
    }
    let corners = corners_of(points);
    let pieces = match corners.first() {
        None => vec![Piece::Flat { length: pitch }],
        Some(start) => {
            let mut round = corners.clone();
            round.push([start[0] + pitch, start[1]]);
            rounded_pieces(&round, middle_radius(bend_radius, thickness))?
        }
    };
    let profile = Profile::from_pieces(ROW.name, pieces, thickness, bend_radius)?;
    // Rounding a crest or valley that is one corner takes height off; otherwise the depth is as drawn.
    let heights = || points.iter().map(|p| p[1]);
    let drawn = heights().fold(f64::MIN, f64::max) - heights().fold(f64::MAX, f64::min);
    let as_drawn = (profile.depth() - drawn).abs() <= CLOSURE * drawn;
    let depth = if as_drawn { drawn } else { profile.depth() };
    profile.exactly(pitch, depth)
}

/// The points in which the outline turns, without the repeated last one.
fn corners_of(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let count = points.len() - 1;
    let angle = |k: usize| {
        let (a, b) = (points[k % count], points[k % count + 1]);
        (b[1] - a[1]).atan2(b[0] - a[0])
    };
    (0..count).filter(|k| (angle(k + count - 1) - angle(*k)).abs() > NO_TURN).map(|k| points[k]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const TRAPEZOID: [[f64; 2]; 5] = [[0.0, 40.0], [70.0, 40.0], [100.0, 0.0], [170.0, 0.0], [200.0, 40.0]];

    #[test]
    fn pitch_starts_at_the_middle_of_the_crest_wherever_the_list_starts() {
        let from_crest = shape(&TRAPEZOID, 2.0, 6.0).unwrap();
        let mut turned: Vec<[f64; 2]> = TRAPEZOID[2..].to_vec();
        turned.extend(TRAPEZOID[1..3].iter().map(|p| [p[0] + 200.0, p[1]]));
        let from_valley = shape(&turned, 2.0, 6.0).unwrap();
        assert_eq!(from_crest.strips().len(), from_valley.strips().len());
        for k in -50..50 {
            let t = f64::from(k) * 11.3;
            assert!((from_crest.height(t) - from_valley.height(t)).abs() < 1e-9);
        }
        assert_eq!((from_crest.height(0.0), from_crest.height(100.0)), (20.0, -20.0));
        // A point on a straight run is no corner.
        let mut more = TRAPEZOID.to_vec();
        more.insert(1, [35.0, 40.0]);
        assert_eq!(shape(&more, 2.0, 6.0).unwrap().strips().len(), from_crest.strips().len());
    }

    #[test]
    fn skew_ridges_start_at_the_highest_corner() {
        let ridge = shape(&[[0.0, 0.0], [30.0, 24.0], [100.0, 0.0]], 1.0, 0.0).unwrap();
        assert_eq!(ridge.strips().len(), 2);
        assert!((ridge.height(0.0) - 12.0).abs() < 1e-9 && (ridge.height(70.0) + 12.0).abs() < 1e-9);
        let length = 30.0_f64.hypot(24.0) + 70.0_f64.hypot(24.0);
        assert!((ridge.developed_length(0.0) - length).abs() < 1e-9);
        // Rounded, the ridge is lower and its top is where the tangent is level.
        let round = shape(&[[0.0, 0.0], [30.0, 24.0], [100.0, 0.0]], 1.0, 5.0).unwrap();
        assert!(round.depth() < 24.0 && round.height(0.0) == round.depth() / 2.0);
        assert!((round.pitch() - 100.0).abs() < 1e-12);
    }

    #[test]
    fn level_points_make_flat_sheet() {
        let sheet = shape(&[[5.0, 3.0], [20.0, 3.0], [55.0, 3.0]], 1.0, 4.0).unwrap();
        assert!(sheet.is_flat() && sheet.strips().len() == 1 && sheet.pitch() == 50.0);
    }

    #[test]
    fn outlines_that_cannot_be_folded_are_refused() {
        let says = |points: &[[f64; 2]], radius: f64, words: &str| {
            let text = shape(points, 2.0, radius).unwrap_err().to_string();
            assert!(text.contains(words), "{text:?} does not say {words:?}");
        };
        says(&[[0.0, 0.0]], 0.0, "1 points do not draw");
        says(&[[0.0, 0.0], [50.0, 9.0], [50.0, 0.0], [90.0, 0.0]], 0.0, "point 2");
        says(&[[0.0, 0.0], [50.0, 9.0], [90.0, 1.0]], 0.0, "does not close");
        says(&TRAPEZOID, 80.0, "the bends need");
        says(&[[0.0, 0.0], [50.0, 0.0], [50.001, 30.0], [90.0, 0.0]], 0.0, "does not run forward");
    }
}
