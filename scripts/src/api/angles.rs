//! Angles that are allowed but read as a slip: radians in place of degrees, and a tip that turns an element over.

use ribwright_kernel::Finding;
use ribwright_kernel::finding::Level;
use std::f64::consts::TAU;

/// A tilt below this may be radians: 0.6 rad are 34 degrees, and a tilt of half a degree is hardly ever meant.
const SMALL_TILT: f64 = 0.6;
/// A tip beyond this lays an element on its side or over.
const ON_ITS_SIDE: f64 = 90.0;

/// An angle by the name of its setting.
pub(super) type Angle<'a> = (&'a str, f64);

/// A note where a tilt and a direction or turn beside it are both so small that radians may be meant. One small angle
/// alone is none: works are trued up by tenths of a degree, and whole numbers are what people write as degrees.
pub(super) fn radians(place: &str, tilt: Angle<'_>, beside: &[Angle<'_>]) -> Option<Finding> {
    let small = tilt.1 != 0.0 && tilt.1.abs() < SMALL_TILT;
    let other = beside.iter().find(|(_, x)| *x != 0.0 && x.abs() <= TAU && x.fract() != 0.0)?;
    small.then(|| {
        let meant = |(name, x): Angle<'_>| format!("{name}: {:.1}", x.to_degrees());
        Finding::new(
            Level::Note,
            "radians",
            place,
            format!(
                "{} {} and {} {} are read as degrees; they look like radians",
                tilt.0, tilt.1, other.0, other.1
            ),
            format!("if so, write {}, {}; if not, leave them", meant(tilt), meant(*other)),
        )
    })
}

/// A note where a tip turns an element over.
pub(super) fn over(place: &str, tip: f64) -> Option<Finding> {
    // A tip of 350 degrees is one of 10 the other way.
    let turned = tip.rem_euclid(360.0);
    let from_plumb = turned.min(360.0 - turned);
    (from_plumb > ON_ITS_SIDE).then(|| {
        Finding::new(
            Level::Note,
            "tipped-over",
            place,
            format!("a tip of {tip} degrees turns it over: what was its top faces down"),
            "tip by less than 90 to lean it; `turn` turns it about the upright; leave it if it is to lie upside down",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_pair_is_told_and_degrees_are_not() {
        for (tilt, beside, told) in [
            (0.1, [1.57, 0.0], true),
            (0.14, [0.0, 0.35], true),
            (-0.1, [-1.57, 0.0], true),
            // Trued up by a tenth of a degree, or toward a whole number of degrees.
            (0.1, [135.0, 0.0], false),
            (0.3, [5.0, 0.0], false),
            (0.1, [0.0, 0.0], false),
            (6.0, [1.57, 0.0], false),
            (0.0, [1.57, 0.35], false),
        ] {
            let beside = [("toward", beside[0]), ("turn", beside[1])];
            let note = radians("B", ("tip", tilt), &beside);
            assert_eq!(note.is_some(), told, "{tilt} {beside:?}");
        }
        let note = radians("B", ("lean", 0.14), &[("toward", 1.57)]).expect("a note");
        assert!(note.remedy.contains("lean: 8.0, toward: 90.0"), "{note:?}");
    }

    #[test]
    fn a_tip_beyond_a_right_angle_is_told() {
        for (tip, told) in
            [(120.0, true), (-120.0, true), (90.0, false), (89.0, false), (350.0, false), (180.0, true)]
        {
            assert_eq!(over("B", tip).is_some(), told, "{tip}");
        }
    }
}
