//! Mitres of a crooked tube: where each leg is cut, how long it is, how far it is turned from mitre to mitre.
//!
//! The cut between two legs lies in the plane that halves their angle, so that both ends are the same ellipse.
//! With T the turn of the axis, D the diameter and th the angle round the tube from the shortest line, the cut
//! rises by y = (D/2) tan(T/2) (1 − cos th) (any pipe-fitting textbook; also the unrolled section of a cylinder).
//! Units: mm and radians. Angles round a leg are right-handed about its direction of travel.

use super::section::Tube;
use crate::error::{Error, Result};
use nalgebra::{Point3, Unit, Vector3};

/// The steepest cut, from square; beyond it a saw or torch leaves a feather edge (common practice, no source).
pub const STEEPEST_CUT: f64 = 75.0 * std::f64::consts::PI / 180.0;
/// Legs shorter than this, mm, are no legs.
const LEAST_LEG: f64 = 1.0;
/// A cut nearer to square than this, radians, is square: its long point has no direction. At 1 m across it is
/// a millionth of a millimetre.
const SQUARE: f64 = 1.0e-9;
/// A leg nearer to upright than this (sine of the angle) has no level direction of its own.
const UPRIGHT: f64 = 1.0e-6;

/// Height of the cut above its shortest line, mm, at an angle round the tube from that line: diameter in mm,
/// turn of the axis and angle in radians.
pub fn ordinate(diameter: f64, turn: f64, angle: f64) -> f64 {
    diameter / 2.0 * (turn / 2.0).tan() * (1.0 - angle.cos())
}

/// One end of a leg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct End {
    /// Where the axis meets the cut, mm.
    pub at: Point3<f64>,
    /// Angle of the cut from a square one, radians, 0 to below a quarter turn: half the turn of the axis at a mitre.
    pub cut: f64,
    /// Unit vector square to the axis, towards the longest line of the tube at this end; none for a square cut.
    pub long: Option<Unit<Vector3<f64>>>,
}

/// A straight piece of tube between two cuts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leg {
    /// Lower and upper end in the direction of travel.
    pub ends: [End; 2],
    /// Direction of travel.
    pub direction: Unit<Vector3<f64>>,
    /// Length of the axis between the cuts, mm.
    pub centre: f64,
    /// Longest and shortest line along the outside, mm.
    pub longest: f64,
    /// Shortest line along the outside, mm.
    pub shortest: f64,
    /// From tip to tip along the axis: what it takes from a bar, mm.
    pub overall: f64,
    /// Turn of the second end's long side from the first end's, about the direction of travel; above −π up to π,
    /// 0 where one of them is square.
    pub roll: f64,
}

/// Plane of the cut at a free end, by its normal; none for a cut square to the tube.
pub type FreeEnd = Option<Vector3<f64>>;

/// Cuts a crooked tube into legs.
///
/// `points` is its axis from end to end, mm; `free` the planes of the cuts at its first and last point, for
/// instance `[Some(z), None]` for a tube that stands on a level plate and is cut square at its top.
///
/// # Errors
/// Fewer than two points; points that are not finite or less than 1 mm apart; a cut steeper than
/// [`STEEPEST_CUT`]; a leg too short for its cuts. Places are `leg N`, counted from 1.
pub fn legs(points: &[Point3<f64>], tube: &Tube, free: [FreeEnd; 2]) -> Result<Vec<Leg>> {
    if points.len() < 2 {
        return Err(Error::input(format!("a tube of {} points has no leg", points.len()))
            .remedy("give the points of its axis from end to end, at least two"));
    }
    let place = |k: usize| format!("leg {}", k + 1);
    let mut directions = Vec::new();
    for (k, pair) in points.windows(2).enumerate() {
        let way = pair[1] - pair[0];
        let direction = Unit::try_new(way, LEAST_LEG).filter(|_| way.iter().all(|x| x.is_finite()));
        directions.push(direction.ok_or_else(|| {
            Error::input(format!("is {} mm long", way.norm()))
                .at(place(k))
                .remedy(format!("give points at least {LEAST_LEG} mm apart"))
        })?);
    }
    let last = directions.len() - 1;
    let mut legs = Vec::with_capacity(directions.len());
    for (k, direction) in directions.iter().enumerate() {
        let start = match k.checked_sub(1) {
            Some(before) => Some(directions[before].as_ref() + direction.as_ref()),
            None => free[0],
        };
        let end = if k == last { free[1] } else { Some(direction.as_ref() + directions[k + 1].as_ref()) };
        let out = [-1.0, 1.0];
        let mut ends = [End { at: points[k], cut: 0.0, long: None }; 2];
        for (i, normal) in [start, end].into_iter().enumerate() {
            ends[i] = cut_end(points[k + i], direction, normal, out[i]).map_err(|e| e.at(place(k)))?;
        }
        legs.push(leg(ends, *direction, tube).map_err(|e| e.at(place(k)))?);
    }
    Ok(legs)
}

/// The cut of a leg by a plane; `out` is 1 where the leg ends there, −1 where it begins.
fn cut_end(at: Point3<f64>, direction: &Unit<Vector3<f64>>, normal: FreeEnd, out: f64) -> Result<End> {
    let Some(normal) = normal else { return Ok(End { at, cut: 0.0, long: None }) };
    let along = normal.dot(direction);
    let aside = normal - direction.into_inner() * along;
    let cut = aside.norm().atan2(along.abs());
    if cut.is_nan() || cut > STEEPEST_CUT {
        return Err(Error::input(format!("is cut {:.1} degrees from square", cut.to_degrees())).remedy(
            format!(
                "let the axis turn by less: a cut may be at most {:.0} degrees from square",
                STEEPEST_CUT.to_degrees()
            ),
        ));
    }
    if cut <= SQUARE {
        return Ok(End { at, cut: 0.0, long: None });
    }
    // The plane lies at −(aside·p)/along further on at a point p beside the axis.
    Ok(End { at, cut, long: Some(Unit::new_normalize(aside * (-out * along.signum()))) })
}

fn leg(ends: [End; 2], direction: Unit<Vector3<f64>>, tube: &Tube) -> Result<Leg> {
    let radius = tube.outside() / 2.0;
    let centre = (ends[1].at - ends[0].at).norm();
    let lean = ends.map(|e| e.long.map_or_else(Vector3::zeros, |l| l.into_inner() * e.cut.tan()));
    let swing = radius * (lean[0] + lean[1]).norm();
    let reach: f64 = ends.iter().map(|e| radius * e.cut.tan()).sum();
    if swing.is_nan() || swing >= centre {
        return Err(Error::input(format!(
            "is {centre:.1} mm long at its axis, but its two cuts run into each other: they take {swing:.1} mm on the \
             short side of a tube {} mm across",
            tube.outside()
        ))
        .remedy("make the leg longer, the turns smaller, or take a thinner tube"));
    }
    let roll = match (ends[0].long, ends[1].long) {
        (Some(a), Some(b)) => direction.dot(&a.cross(&b)).atan2(a.dot(&b)),
        _ => 0.0,
    };
    Ok(Leg {
        ends,
        direction,
        centre,
        longest: centre + swing,
        shortest: centre - swing,
        overall: centre + reach,
        roll,
    })
}

impl Leg {
    /// Length along the outside, mm, on the line that lies at this angle round the leg, from the long side of
    /// its first end (from [`Leg::reference`] where that is square).
    pub fn length_at(&self, tube: &Tube, angle: f64) -> f64 {
        let side = self.side(angle);
        let radius = tube.outside() / 2.0;
        let more = self.ends.iter().filter_map(|e| Some(e.long?.dot(&side) * radius * e.cut.tan()));
        self.centre + more.sum::<f64>()
    }

    /// Where angles round the leg are counted from: the long side of its first end, else of its second, else a
    /// level direction.
    pub fn reference(&self) -> Unit<Vector3<f64>> {
        self.ends[0].long.or(self.ends[1].long).unwrap_or_else(|| {
            let level = Vector3::z().cross(&self.direction);
            let x = Vector3::x() - self.direction.into_inner() * self.direction.x;
            Unit::try_new(level, UPRIGHT).unwrap_or_else(|| Unit::new_normalize(x))
        })
    }

    /// Unit vector square to the axis at an angle round the leg.
    fn side(&self, angle: f64) -> Vector3<f64> {
        let reference = self.reference();
        let across = self.direction.cross(&reference);
        reference.into_inner() * angle.cos() + across * angle.sin()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    fn tube(outside: f64) -> Tube {
        Tube::new(outside, outside / 20.0).expect("possible")
    }

    fn p(x: f64, y: f64, z: f64) -> Point3<f64> {
        Point3::new(x, y, z)
    }

    #[track_caller]
    fn near(found: f64, wanted: f64, within: f64) {
        assert!((found - wanted).abs() <= within, "{found} is not {wanted}");
    }

    /// Ordinates at 16 divisions, worked out apart from this crate; the construction is that of pipe-fitters' tables
    /// (an open textbook on layout procedures for metals), whose shares of the whole cut-back are below.
    #[test]
    fn ordinates_are_those_of_the_fitters_construction() {
        let rows: [(f64, f64, [f64; 9]); 3] = [
            (114.3, 90.0, [0.0, 4.350, 16.739, 35.280, 57.150, 79.020, 97.561, 109.950, 114.300]),
            (114.3, 45.0, [0.0, 1.802, 6.933, 14.613, 23.672, 32.731, 40.411, 45.543, 47.345]),
            (60.3, 60.0, [0.0, 1.325, 5.098, 10.746, 17.407, 24.069, 29.716, 33.489, 34.814]),
        ];
        let shares = [0.0, 0.0381, 0.1464, 0.3087, 0.5, 0.6913, 0.8536, 0.9619, 1.0];
        for (diameter, turn, wanted) in rows {
            let turn = f64::to_radians(turn);
            let whole = ordinate(diameter, turn, PI);
            for (k, (wanted, share)) in wanted.into_iter().zip(shares).enumerate() {
                #[allow(clippy::cast_precision_loss, reason = "below 9")]
                let y = ordinate(diameter, turn, k as f64 * PI / 8.0);
                near(y, wanted, 0.0005);
                near(y / whole, share, 0.00005);
            }
        }
    }

    /// The template's area below the cut is girth times half the cut-back, exactly.
    #[test]
    fn ordinates_fill_half_the_cut_back() {
        let (diameter, turn, n) = (88.9, 0.7, 3600_u32);
        let mean: f64 =
            (0..n).map(|k| ordinate(diameter, turn, f64::from(k) / f64::from(n) * 2.0 * PI)).sum::<f64>()
                / f64::from(n);
        near(mean, ordinate(diameter, turn, PI) / 2.0, 1e-9);
    }

    #[test]
    fn a_bend_in_a_plane_has_long_sides_outside() {
        // Up, then level: a right angle.
        let legs =
            legs(&[p(0.0, 0.0, 0.0), p(0.0, 0.0, 1000.0), p(800.0, 0.0, 1000.0)], &tube(100.0), [None, None])
                .expect("possible");
        assert_eq!(legs.len(), 2);
        for leg in &legs {
            near(leg.longest - leg.centre, 50.0, 1e-9);
            near(leg.centre - leg.shortest, 50.0, 1e-9);
            near(leg.overall, leg.centre + 50.0, 1e-9);
            near(leg.roll, 0.0, 0.0);
        }
        near(legs[0].ends[1].cut, PI / 4.0, 1e-15);
        // The outside of the bend is −x for the leg that rises, +z for the level one.
        assert!((legs[0].ends[1].long.expect("cut aslant").x + 1.0).abs() < 1e-12);
        assert!((legs[1].ends[0].long.expect("cut aslant").z - 1.0).abs() < 1e-12);
    }

    #[test]
    fn rolls_are_none_for_a_hook_half_a_turn_for_a_zigzag_and_a_quarter_out_of_plane() {
        let roll = |last: Point3<f64>| {
            let all = [p(0.0, 0.0, 0.0), p(0.0, 0.0, 1000.0), p(1000.0, 0.0, 1000.0), last];
            legs(&all, &tube(60.3), [None, None]).expect("possible")[1].roll
        };
        near(roll(p(1000.0, 0.0, 0.0)), 0.0, 1e-12);
        near(roll(p(1000.0, 0.0, 2000.0)).abs(), PI, 1e-12);
        // Along +x the long side of the first mitre is +z; turning to +y puts the second one's at −y: from z to −y
        // about +x is a quarter turn forward.
        near(roll(p(1000.0, 1000.0, 1000.0)), PI / 2.0, 1e-12);
        near(roll(p(1000.0, -1000.0, 1000.0)), -PI / 2.0, 1e-12);
    }

    /// Second method: points of the tube's surface cut by the planes, one line at a time.
    #[test]
    fn lengths_along_the_outside_are_those_between_the_planes() {
        let points =
            [p(0.0, 0.0, 0.0), p(120.0, 40.0, 700.0), p(-200.0, 300.0, 1500.0), p(100.0, 100.0, 2200.0)];
        let tube = tube(139.7);
        let base = Vector3::new(0.1, -0.05, 1.0);
        let legs = legs(&points, &tube, [Some(base), None]).expect("possible");
        for (k, leg) in legs.iter().enumerate() {
            let d = leg.direction.into_inner();
            let normals = [
                if k == 0 { base } else { (points[k] - points[k - 1]).normalize() + d },
                legs.get(k + 1).map_or(d, |next| d + next.direction.into_inner()),
            ];
            let (mut least, mut most) = (f64::INFINITY, 0.0_f64);
            let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
            for step in 0..3600 {
                let angle = f64::from(step) / 3600.0 * 2.0 * PI;
                let out = leg.side(angle) * tube.outside() / 2.0;
                let along =
                    [0, 1].map(|i| (points[k + i] - points[k] - out).dot(&normals[i]) / d.dot(&normals[i]));
                near(leg.length_at(&tube, angle), along[1] - along[0], 1e-9);
                (least, most) = (least.min(along[1] - along[0]), most.max(along[1] - along[0]));
                (low, high) = (low.min(along[0]), high.max(along[1]));
            }
            near(leg.longest, most, 1e-3);
            near(leg.shortest, least, 1e-3);
            near(leg.overall, high - low, 1e-3);
            if k > 0 {
                let long = leg.ends[0].long.expect("aslant");
                let turned = nalgebra::Rotation3::from_axis_angle(&leg.direction, leg.roll) * long;
                if let Some(end) = leg.ends[1].long {
                    near((turned.into_inner() - end.into_inner()).norm(), 0.0, 1e-12);
                }
            }
        }
    }

    #[test]
    fn the_figures_do_not_change_when_the_work_is_moved_or_turned() {
        let points = [p(0.0, 0.0, 0.0), p(90.0, 10.0, 500.0), p(-80.0, 200.0, 1100.0), p(0.0, 0.0, 1900.0)];
        let tube = tube(76.1);
        let here = legs(&points, &tube, [None, None]).expect("possible");
        let turn = nalgebra::Isometry3::new(Vector3::new(1e6, -2e6, 5e5), Vector3::new(0.4, -1.1, 2.0));
        let there = legs(&points.map(|q| turn * q), &tube, [None, None]).expect("possible");
        for (a, b) in here.iter().zip(&there) {
            // 1e6 mm away a double resolves some 1e-10 mm; half a metre turns that into some 1e-12.
            near(a.centre, b.centre, 1e-8);
            near(a.longest, b.longest, 1e-8);
            near(a.roll, b.roll, 1e-8);
        }
    }

    #[test]
    fn legs_that_cannot_be_cut_are_named() {
        let cut = |points: &[Point3<f64>], diameter| legs(points, &tube(diameter), [None, None]);
        let short =
            cut(&[p(0.0, 0.0, 0.0), p(0.0, 0.0, 500.0), p(60.0, 0.0, 500.0), p(60.0, 0.0, 0.0)], 100.0);
        let words = short.expect_err("cuts meet").to_string();
        assert!(words.starts_with("leg 2: is 60.0 mm long"), "{words}");
        let back = cut(&[p(0.0, 0.0, 0.0), p(0.0, 0.0, 500.0), p(10.0, 0.0, 0.0)], 10.0);
        assert!(back.expect_err("turns back").to_string().contains("from square"));
        assert!(cut(&[p(0.0, 0.0, 0.0)], 10.0).is_err(), "one point");
        assert!(cut(&[p(0.0, 0.0, 0.0), p(0.0, 0.0, 0.5)], 10.0).is_err(), "no length");
        assert!(cut(&[p(0.0, 0.0, 0.0), p(0.0, 0.0, f64::NAN)], 10.0).is_err(), "not a number");
        // Two like cuts facing each other (a zigzag's middle leg) may be shorter than a hook's.
        let zigzag = [p(0.0, 0.0, 0.0), p(0.0, 0.0, 500.0), p(60.0, 0.0, 500.0), p(60.0, 0.0, 900.0)];
        assert!(cut(&zigzag, 100.0).is_ok());
    }

    #[test]
    fn straight_on_is_a_square_cut() {
        let all = legs(&[p(0.0, 0.0, 0.0), p(0.0, 0.0, 5.0), p(0.0, 0.0, 9.0)], &tube(8.0), [None, None]);
        let all = all.expect("possible");
        assert!(all.iter().all(|l| l.ends.iter().all(|e| e.long.is_none() && e.cut == 0.0)));
        assert_eq!(all[0].overall, 5.0);
    }
}
