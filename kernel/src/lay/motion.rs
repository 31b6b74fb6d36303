//! How a part may lie on a sheet: the rigid motions that bring a formed sheet onto itself.
//!
//! With the ribs kept, a rigid motion takes (s, t, h), along, across and height over the part's face, to
//! (a, c, h′) on a sheet that lies with its outside up in one of four ways:
//!
//! | way | a | c | h′ | possible if for some m and all t |
//! |---|---|---|---|---|
//! | straight | x + s | y + t | h | always |
//! | end for end: 180° about the normal | x − s | y − t | h | h(m − t) = h(t) |
//! | turned over: 180° about the ribs | x + s | y − t | −h | h(m − t) = −h(t) |
//! | over and end: 180° about the line across | x − s | y + t | −h | h(t + m) = −h(t) |
//!
//! The last two bring the inside up and mirror the part as it is seen from above; valleys come to lie where
//! crests were. On flat sheet a part may be turned by any angle and is never turned over.

use crate::profile::Profile;

/// One of the ways a part may lie on a sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Way {
    /// As on its template.
    Straight,
    /// Turned by 180° about the normal.
    EndForEnd,
    /// Turned by 180° about the ribs: inside up.
    TurnedOver,
    /// Turned by 180° about the line across the ribs: inside up.
    OverAndEnd,
    /// On flat sheet: turned counter-clockwise by this many degrees.
    Turned(f64),
}

impl Way {
    /// Its matrix, by rows: (s, t) to (along, across).
    pub fn matrix(self) -> [[f64; 2]; 2] {
        match self {
            Way::Straight => [[1.0, 0.0], [0.0, 1.0]],
            Way::EndForEnd => [[-1.0, 0.0], [0.0, -1.0]],
            Way::TurnedOver => [[1.0, 0.0], [0.0, -1.0]],
            Way::OverAndEnd => [[-1.0, 0.0], [0.0, 1.0]],
            Way::Turned(degrees) => {
                // Quarter turns without rounding, so that straight edges stay along the sheet's.
                let quarter = degrees.rem_euclid(360.0) / 90.0;
                let (sin, cos) = match quarter {
                    0.0 => (0.0, 1.0),
                    1.0 => (1.0, 0.0),
                    2.0 => (0.0, -1.0),
                    3.0 => (-1.0, 0.0),
                    _ => degrees.to_radians().sin_cos(),
                };
                [[cos, -sin], [sin, cos]]
            }
        }
    }

    /// Where a point of the part comes to lie, before it is moved.
    pub fn apply(self, [s, t]: [f64; 2]) -> [f64; 2] {
        let [[a, b], [c, d]] = self.matrix();
        [a * s + b * t, c * s + d * t]
    }

    /// Whether the inside is up.
    pub fn inside_up(self) -> bool {
        matches!(self, Way::TurnedOver | Way::OverAndEnd)
    }

    /// In words, for the cutting list: empty for the straight way.
    pub fn words(self) -> String {
        match self {
            Way::Straight => String::new(),
            Way::EndForEnd => "end for end".to_owned(),
            Way::TurnedOver => "over".to_owned(),
            Way::OverAndEnd => "over and end".to_owned(),
            Way::Turned(0.0) => String::new(),
            Way::Turned(degrees) => format!("{degrees}°"),
        }
    }
}

/// A way with the line that must lie on one of the sheet's crest lines: the part's `across` coordinate of it
/// after [`Way::apply`], modulo the pitch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RibWay {
    /// The way.
    pub way: Way,
    /// Across, mm; another one lies every pitch.
    pub line: f64,
}

/// The ways a part with this profile and phase may lie on a sheet of the same profile.
pub fn rib_ways(profile: &Profile, phase: f64, turn_over: bool) -> Vec<RibWay> {
    let mut ways = vec![RibWay { way: Way::Straight, line: phase }];
    if let Some(m) = profile.symmetry(-1.0, 1.0) {
        ways.push(RibWay { way: Way::EndForEnd, line: -(phase + m) });
    }
    if turn_over {
        // The part's line at t takes the height −h(t − phase); it is the sheet's where that is h of the line's
        // distance from a crest.
        if let Some(m) = profile.symmetry(-1.0, -1.0) {
            ways.push(RibWay { way: Way::TurnedOver, line: -(phase + m) });
        }
        if let Some(m) = profile.symmetry(1.0, -1.0) {
            ways.push(RibWay { way: Way::OverAndEnd, line: phase - m });
        }
    }
    ways
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::Piece;
    use crate::stock::tests::trapezoid;

    fn ways(profile: &Profile) -> Vec<Way> {
        rib_ways(profile, 12.0, true).into_iter().map(|w| w.way).collect()
    }

    #[test]
    fn a_trapezoid_may_be_turned_over_only_if_crest_and_valley_are_one_shape() {
        use Way::{EndForEnd, OverAndEnd, Straight, TurnedOver};
        assert_eq!(ways(&trapezoid(200.0, 40.0, 70.0, 70.0)), [Straight, EndForEnd, TurnedOver, OverAndEnd]);
        assert_eq!(ways(&trapezoid(200.0, 40.0, 90.0, 50.0)), [Straight, EndForEnd]);
    }

    /// A sheet with one steep and one shallow web: crest and valley alike, so the half turn about the middle of
    /// a web (about the ribs) brings it onto itself, and no other.
    #[test]
    fn a_saw_tooth_may_be_turned_about_its_ribs_only() {
        let (steep, shallow) = (30.0_f64.hypot(40.0), 70.0_f64.hypot(40.0));
        let (down, up) = ((40.0_f64 / 30.0).atan(), (40.0_f64 / 70.0).atan());
        let bend = |turn| Piece::Bend { radius: 0.0, turn };
        let flat = |length| Piece::Flat { length };
        let pieces = vec![
            flat(25.0),
            bend(down),
            flat(steep),
            bend(-down),
            flat(50.0),
            bend(-up),
            flat(shallow),
            bend(up),
            flat(25.0),
        ];
        let saw = Profile::from_pieces("outline", pieces, 2.0, 0.0).expect("closes");
        assert_eq!(ways(&saw), [Way::Straight, Way::TurnedOver]);
    }

    /// What the table promises: after the motion the part's heights are those of the sheet, at 1,000 places and
    /// for each profile and way.
    #[test]
    fn every_way_lays_the_part_on_a_sheet_of_its_own_shape() {
        for profile in [
            trapezoid(200.0, 40.0, 70.0, 70.0),
            trapezoid(200.0, 40.0, 90.0, 50.0),
            trapezoid(278.0, 36.0, 72.0, 70.0),
        ] {
            for phase in [0.0, 31.0, -77.5] {
                for RibWay { way, line } in rib_ways(&profile, phase, true) {
                    let crest = 1234.5;
                    let y = crest - line;
                    for i in 0..1000 {
                        let t = f64::from(i) * 1.37 - 600.0;
                        let c = y + way.apply([0.0, t])[1];
                        let height = profile.height(t - phase) * if way.inside_up() { -1.0 } else { 1.0 };
                        let off = (height - profile.height(c - crest)).abs();
                        assert!(off < 1.0e-9, "{way:?} at t = {t}: off by {off}");
                    }
                }
            }
        }
    }

    #[test]
    fn ways_are_rigid_and_only_those_that_turn_over_mirror() {
        for way in [Way::Straight, Way::EndForEnd, Way::TurnedOver, Way::OverAndEnd, Way::Turned(37.0)] {
            let [[a, b], [c, d]] = way.matrix();
            let wanted = if way.inside_up() { -1.0 } else { 1.0 };
            assert!((a * d - b * c - wanted).abs() < 1.0e-12, "{way:?}");
            assert!((a * a + c * c - 1.0).abs() < 1.0e-12 && (a * b + c * d).abs() < 1.0e-12, "{way:?}");
        }
    }
}
