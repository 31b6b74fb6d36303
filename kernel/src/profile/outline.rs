//! A profile drawn by its corner points.

use super::{BEND_RADIUS, NO_TURN, Piece, Profile, ProfileKind, THICKNESS, middle_radius, rounded_pieces};
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
    let depth = profile.depth();
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
