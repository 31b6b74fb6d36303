//! Bend allowance: how much length of flat sheet a bend takes.
//!
//! `turn` is the angle the sheet turns (0 is flat, π folded back), radians; the opening angle β of a drawing
//! is π − turn. The neutral line lies K × thickness from the inside face. Four rules are in use ([`Rule`]):
//! a K-factor of the workshop's own tests, DIN 6935 ("Cold bending of flat rolled steel"), the formulas
//! of Machinery's Handbook ("Lengths of sheet metal bends"), and the shop's own table of deductions. All are
//! for preliminary sizes: a bend test on the real sheet decides.

use crate::error::{Error, Result};
use std::f64::consts::{FRAC_PI_2, PI};

/// Ratio of radius to thickness above which DIN 6935 takes the neutral line at half the thickness.
const DIN_WIDE_BEND: f64 = 5.0;

/// Opening angle (degrees) above which DIN 6935 makes no correction.
const DIN_NEARLY_FLAT: f64 = 165.0;

/// Rounding allowed when an opening angle is compared with the limits of DIN 6935, radians.
const ANGLE_ROUNDING: f64 = 1.0e-12;

/// How far an angle may lie outside a shop's table and still take its first or last row, degrees: such tables
/// are written to a tenth of a degree at best.
const TABLE_ROUNDING: f64 = 0.05;

/// How the length that a bend takes is found.
#[derive(Debug, Clone, PartialEq)]
pub enum Rule {
    /// One place of the neutral line for all bends, from the inside (0) to the outside (1) of the thickness.
    KFactor(f64),
    /// DIN 6935, from each bend's angle and radius.
    Din6935,
    /// The formulas of Machinery's Handbook.
    Handbook(HandbookMaterial),
    /// The shop's own table, see [`DeductionTable`].
    Table(DeductionTable),
}

/// A shop's table of bend deductions for one sheet, one inside radius and one die.
///
/// Each row is the angle by which the sheet **turns** (degrees; what stands beside a bend line: 0 is flat, 90
/// a square corner) and what to take off the sum of the two legs, measured on the outside to the corner of
/// the outside faces, mm. Between rows the deduction is linear; outside them there is none.
#[derive(Debug, Clone, PartialEq)]
pub struct DeductionTable {
    rows: Vec<[f64; 2]>,
}

impl DeductionTable {
    /// Takes the rows, which must be in order of the angle.
    ///
    /// # Errors
    /// No row, an angle outside 0 to below 180 degrees, or one that does not grow from row to row.
    pub fn new(rows: Vec<[f64; 2]>) -> Result<Self> {
        if rows.is_empty() {
            return Err(Error::input("the table of bend deductions has no row")
                .remedy("give rows [degrees turned, mm to take off], for instance [[45, 1.2], [90, 3.8]]"));
        }
        if let Some(row) = rows.iter().find(|r| !(0.0..180.0).contains(&r[0]) || !r[1].is_finite()) {
            return Err(Error::input(format!(
                "the row [{}, {}] of bend deductions is not usable",
                row[0], row[1]
            ))
            .remedy(
                "give the angle by which the sheet turns, from 0 to below 180 degrees, and mm to take off",
            ));
        }
        if let Some(pair) = rows.windows(2).find(|p| p[1][0] <= p[0][0]) {
            return Err(Error::input(format!(
                "the bend deductions are not in order: {} degrees comes after {} degrees",
                pair[1][0], pair[0][0]
            ))
            .remedy("sort the rows by angle and give each angle once"));
        }
        Ok(Self { rows })
    }

    /// What to take off for a bend of this turn, mm.
    ///
    /// # Errors
    /// An angle outside the table.
    pub fn deduction(&self, turn: f64) -> Result<f64> {
        let degrees = turn.to_degrees();
        let (first, last) = (self.rows[0], self.rows[self.rows.len() - 1]);
        if degrees < first[0] - TABLE_ROUNDING || degrees > last[0] + TABLE_ROUNDING || degrees.is_nan() {
            return Err(Error::input(format!(
                "a bend turns by {degrees:.2} degrees, but the shop's table goes from {} to {} degrees",
                first[0], last[0]
            ))
            .remedy("bend a test piece at that angle and add its row, or use another rule"));
        }
        let after = self.rows.partition_point(|r| r[0] <= degrees);
        Ok(match (after.checked_sub(1).map(|i| self.rows[i]), self.rows.get(after)) {
            (Some(a), Some(b)) => a[1] + (b[1] - a[1]) * (degrees - a[0]) / (b[0] - a[0]),
            (Some(only), None) => only[1],
            (None, _) => first[1],
        })
    }
}

impl Rule {
    /// Length of flat sheet that a bend between two flats takes, mm.
    ///
    /// DIN 6935 makes no correction above an opening angle of 165 degrees: there the sheet is as long as its
    /// outside legs, measured to the corner.
    ///
    /// # Errors
    /// As [`allowance`]; an angle outside the shop's table; a deduction that leaves the bend no length.
    pub fn allowance(&self, turn: f64, inside_radius: f64, thickness: f64) -> Result<f64> {
        match self {
            Rule::KFactor(k) => allowance(turn, inside_radius, thickness, *k),
            Rule::Din6935 => {
                if PI - turn > DIN_NEARLY_FLAT.to_radians() + ANGLE_ROUNDING {
                    return Ok(2.0 * outside_setback(turn, inside_radius, thickness)?);
                }
                allowance(turn, inside_radius, thickness, din_6935_k_factor(inside_radius, thickness)?)
            }
            Rule::Handbook(material) => handbook_allowance(*material, turn, inside_radius, thickness),
            Rule::Table(table) => {
                let legs = 2.0 * outside_setback(turn, inside_radius, thickness)?;
                let off = table.deduction(turn)?;
                if off >= legs {
                    return Err(Error::input(format!(
                        "the shop's table takes {off} mm off at {:.2} degrees, but the outside corner of an inside \
                         radius of {inside_radius} mm in sheet of {thickness} mm has only {legs:.3} mm to give",
                        turn.to_degrees()
                    ))
                    .remedy("check that the table is for this radius and thickness, and for the angle turned"));
                }
                Ok(legs - off)
            }
        }
    }

    /// Place of the neutral line in a curve that is rolled, not bent between two flats, from the inside (0) to
    /// the outside (1) of the thickness. A shop's table does not know such curves: they take the middle.
    ///
    /// # Errors
    /// As [`Rule::allowance`].
    pub fn k_factor(&self, inside_radius: f64, thickness: f64) -> Result<f64> {
        Ok(match self {
            Rule::KFactor(k) => *k,
            Rule::Din6935 => din_6935_k_factor(inside_radius, thickness)?,
            Rule::Handbook(material) => {
                (handbook_allowance(*material, 1.0, inside_radius, thickness)? - inside_radius) / thickness
            }
            Rule::Table(_) => 0.5,
        })
    }
}

/// Materials of the formulas in Machinery's Handbook.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HandbookMaterial {
    /// Soft brass and soft copper: 0.55 T + 1.57 R.
    SoftBrass,
    /// Half-hard copper and brass, soft steel, aluminium: 0.64 T + 1.57 R.
    SoftSteel,
    /// Bronze, hard copper, cold-rolled and spring steel: 0.71 T + 1.57 R.
    HardSteel,
}

/// Length of the neutral line in a bend, mm.
///
/// # Errors
/// A turn outside 0 to 180 degrees, a negative radius, no thickness, or a K-factor outside 0 to 1.
pub fn allowance(turn: f64, inside_radius: f64, thickness: f64, k_factor: f64) -> Result<f64> {
    check(turn, inside_radius, thickness)?;
    if !(0.0..=1.0).contains(&k_factor) {
        return Err(Error::input(format!("a K-factor of {k_factor} is not allowed"))
            .remedy("give a number from 0 (inside face) to 1 (outside face), usually 0.3 to 0.5"));
    }
    Ok(turn * (inside_radius + k_factor * thickness))
}

/// Distance from the end of a bend to the corner of the outside faces, mm: (r + s) tan(turn/2).
///
/// # Errors
/// As [`allowance`]; also a turn of 180 degrees, whose faces have no corner.
pub fn outside_setback(turn: f64, inside_radius: f64, thickness: f64) -> Result<f64> {
    check(turn, inside_radius, thickness)?;
    if turn >= PI - ANGLE_ROUNDING {
        return Err(Error::input("a sheet folded back by 180 degrees has no outside corner")
            .remedy("measure it to the bend's crown instead"));
    }
    Ok((inside_radius + thickness) * (turn / 2.0).tan())
}

/// What to take off the sum of the two outside legs, measured to the corner, mm: 2 setbacks − allowance.
///
/// # Errors
/// As [`outside_setback`].
pub fn deduction(turn: f64, inside_radius: f64, thickness: f64, k_factor: f64) -> Result<f64> {
    Ok(2.0 * outside_setback(turn, inside_radius, thickness)?
        - allowance(turn, inside_radius, thickness, k_factor)?)
}

/// The factor k of DIN 6935: 0.65 + 0.5 lg(r/s) up to r/s = 5, 1 above. The neutral line lies k·s/2 from the
/// inside. Below r/s = 0.05 the formula falls under 0, where it is held.
///
/// # Errors
/// A negative radius or no thickness.
pub fn din_6935_k(inside_radius: f64, thickness: f64) -> Result<f64> {
    check(0.0, inside_radius, thickness)?;
    let ratio = inside_radius / thickness;
    Ok(if ratio > DIN_WIDE_BEND { 1.0 } else { (0.65 + 0.5 * ratio.log10()).max(0.0) })
}

/// DIN 6935's k as a K-factor: k/2.
///
/// # Errors
/// As [`din_6935_k`].
pub fn din_6935_k_factor(inside_radius: f64, thickness: f64) -> Result<f64> {
    Ok(din_6935_k(inside_radius, thickness)? / 2.0)
}

/// The correction v of DIN 6935, mm: what to add (it is mostly negative) to the sum of the outside legs.
/// Legs are measured to the tangent for opening angles up to 90 degrees, to the corner up to 165; above
/// that v is 0.
///
/// # Errors
/// An opening angle outside 0 to π, a negative radius, or no thickness.
pub fn din_6935_correction(opening: f64, inside_radius: f64, thickness: f64) -> Result<f64> {
    let turn = PI - opening;
    check(turn, inside_radius, thickness)?;
    if opening > DIN_NEARLY_FLAT.to_radians() + ANGLE_ROUNDING {
        return Ok(0.0);
    }
    let arc = turn * (inside_radius + thickness / 2.0 * din_6935_k(inside_radius, thickness)?);
    let corner = if opening <= FRAC_PI_2 + ANGLE_ROUNDING { 1.0 } else { (turn / 2.0).tan() };
    Ok(arc - 2.0 * (inside_radius + thickness) * corner)
}

/// Length of a bend by the formulas of Machinery's Handbook, in proportion to the turn, mm.
///
/// # Errors
/// As [`allowance`].
pub fn handbook_allowance(
    material: HandbookMaterial,
    turn: f64,
    inside_radius: f64,
    thickness: f64,
) -> Result<f64> {
    check(turn, inside_radius, thickness)?;
    let factor = match material {
        HandbookMaterial::SoftBrass => 0.55,
        HandbookMaterial::SoftSteel => 0.64,
        HandbookMaterial::HardSteel => 0.71,
    };
    Ok((factor * thickness + 1.57 * inside_radius) * turn / FRAC_PI_2)
}

fn check(turn: f64, inside_radius: f64, thickness: f64) -> Result<()> {
    if !(0.0..=PI + ANGLE_ROUNDING).contains(&turn) {
        return Err(Error::input(format!("a bend cannot turn by {} degrees", turn.to_degrees()))
            .remedy("give an angle from 0 to 180 degrees"));
    }
    if !(inside_radius.is_finite() && inside_radius >= 0.0 && thickness.is_finite() && thickness > 0.0) {
        return Err(Error::input(format!(
            "an inside radius of {inside_radius} mm with a thickness of {thickness} mm is not usable"
        ))
        .remedy("give a radius of 0 or more and a thickness above 0"));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn near(got: f64, want: f64, within: f64) {
        assert!((got - want).abs() <= within, "{got} is not {want} ± {within}");
    }

    // DIN 6935 (k and v from memory); r = s = 2 at 90 degrees also as printed on a sheet-metal fabricator's
    // explanatory page (4.16, 4.00, 3.84, 96.16). Digits recomputed from the formula.
    #[test]
    fn din_6935_gives_the_table_for_square_bends() {
        let rows = [
            (2.0, 2.0, 0.6500, 4.1626, -3.8374, 96.1626),
            (3.0, 3.0, 0.6500, 6.2439, -5.7561, 94.2439),
            (1.0, 2.0, 0.4995, 2.3554, -3.6446, 96.3554),
            (5.0, 3.0, 0.7609, 9.6469, -6.3531, 93.6469),
            (0.5, 1.5, 0.4114, 1.2701, -2.7299, 97.2701),
            (6.0, 1.2, 0.9995, 10.3668, -4.0332, 95.9668),
            (10.0, 2.0, 0.9995, 17.2780, -6.7220, 93.2780),
        ];
        for (r, s, k, arc, v, flat) in rows {
            near(din_6935_k(r, s).unwrap(), k, 0.5e-4);
            let factor = din_6935_k_factor(r, s).unwrap();
            near(allowance(FRAC_PI_2, r, s, factor).unwrap(), arc, 0.5e-4);
            near(din_6935_correction(FRAC_PI_2, r, s).unwrap(), v, 0.5e-4);
            near(100.0 + din_6935_correction(FRAC_PI_2, r, s).unwrap(), flat, 0.5e-4);
            near(deduction(FRAC_PI_2, r, s, factor).unwrap(), -v, 0.5e-4);
        }
        near(outside_setback(FRAC_PI_2, 2.0, 2.0).unwrap(), 4.0, 1e-12);
    }

    #[test]
    fn din_6935_covers_all_opening_angles() {
        let v = |degrees: f64| din_6935_correction(degrees.to_radians(), 2.0, 2.0).unwrap();
        near(v(135.0), -1.232_403, 0.5e-6);
        near(v(0.0), PI * 2.65 - 8.0, 1e-12);
        near(v(90.0), v(90.000_000_1), 1e-6);
        assert!(v(165.0) < 0.0);
        near(v(165.1), 0.0, 0.0);
        near(v(180.0), 0.0, 0.0);
        near(din_6935_k(5.0, 1.0).unwrap(), 0.9995, 0.5e-4);
        near(din_6935_k(5.000_001, 1.0).unwrap(), 1.0, 0.0);
    }

    // Machinery's Handbook, "Lengths of sheet metal bends" (from memory): T = 0.125 in soft steel.
    #[test]
    fn handbook_example_comes_out() {
        let bend = |degrees: f64, r| {
            handbook_allowance(HandbookMaterial::SoftSteel, degrees.to_radians(), r, 0.125).unwrap()
        };
        near(bend(180.0, 0.375), 1.3375, 0.5e-4);
        near(bend(60.0, 0.625), 0.7075, 0.5e-4);
        near(3.5 + bend(180.0, 0.375) + bend(60.0, 0.625), 5.545, 0.5e-3);
        for (material, k) in [
            (HandbookMaterial::SoftBrass, 0.3501),
            (HandbookMaterial::SoftSteel, 0.4074),
            (HandbookMaterial::HardSteel, 0.4520),
        ] {
            let of_thickness = handbook_allowance(material, FRAC_PI_2, 0.0, 1.0).unwrap();
            near(of_thickness / FRAC_PI_2, k, 0.5e-4);
        }
    }

    /// Each rule as two legs of 50 mm at a square corner: DIN 6935 and the handbook by their own figures, a table
    /// row of r = s = 2 as printed on a sheet-metal fabricator's explanatory page (deduction 3.84, flat 96.16).
    #[test]
    fn every_rule_gives_the_blank_of_two_legs() {
        let flat = |rule: &Rule, r: f64, s: f64| {
            let legs = 100.0 - 2.0 * outside_setback(FRAC_PI_2, r, s).unwrap();
            legs + rule.allowance(FRAC_PI_2, r, s).unwrap()
        };
        near(flat(&Rule::Din6935, 2.0, 2.0), 96.1626, 0.5e-4);
        near(flat(&Rule::Din6935, 10.0, 2.0), 93.2780, 0.5e-4);
        near(flat(&Rule::KFactor(0.325), 2.0, 2.0), 96.1626, 0.5e-4);
        let table = DeductionTable::new(vec![[45.0, 1.0], [90.0, 3.84], [120.0, 6.0]]).unwrap();
        near(flat(&Rule::Table(table), 2.0, 2.0), 96.16, 1e-12);
        // 0.64 T + 1.57 R (Machinery's Handbook, from memory).
        near(flat(&Rule::Handbook(HandbookMaterial::SoftSteel), 2.0, 2.0), 92.0 + 4.42, 1e-12);
    }

    #[test]
    fn din_6935_rule_follows_the_opening_angle() {
        let (r, s) = (2.0, 2.0);
        let v = |opening: f64| {
            let turn = (180.0 - opening).to_radians();
            let legs = 2.0 * outside_setback(turn, r, s).unwrap();
            Rule::Din6935.allowance(turn, r, s).unwrap() - legs
        };
        // As recomputed from the formula for 90 < β ≤ 165.
        near(v(135.0), -1.232_403, 0.5e-6);
        near(v(165.0), din_6935_correction(165.0_f64.to_radians(), r, s).unwrap(), 1e-12);
        assert!(v(165.0) < -0.1, "{}", v(165.0));
        near(v(165.001), 0.0, 1e-12);
        near(v(179.0), 0.0, 1e-12);
        // k jumps from 0.9995 to 1 at r/s = 5.
        let at = |r: f64| Rule::Din6935.allowance(FRAC_PI_2, r, 1.0).unwrap() - FRAC_PI_2 * r;
        near(at(5.0), FRAC_PI_2 * 0.999_485 / 2.0, 1e-6);
        near(at(5.000_000_1), FRAC_PI_2 / 2.0, 1e-6);
    }

    #[test]
    fn a_shop_table_is_linear_between_its_rows_and_has_an_end() {
        let table = DeductionTable::new(vec![[30.0, 0.5], [60.0, 1.5], [90.0, 4.0]]).unwrap();
        let at = |degrees: f64| table.deduction(degrees.to_radians());
        for (degrees, off) in
            [(30.0, 0.5), (45.0, 1.0), (60.0, 1.5), (75.0, 2.75), (90.0, 4.0), (90.04, 4.0), (29.96, 0.5)]
        {
            near(at(degrees).unwrap(), off, 1e-9);
        }
        for degrees in [29.9, 90.1, 120.0, f64::NAN] {
            let says = at(degrees).unwrap_err().to_string();
            assert!(says.contains("from 30 to 90 degrees"), "{says}");
        }
        for rows in
            [vec![], vec![[90.0, 1.0], [60.0, 1.0]], vec![[90.0, 1.0], [90.0, 2.0]], vec![[180.0, 1.0]]]
        {
            assert!(DeductionTable::new(rows.clone()).is_err(), "{rows:?}");
        }
        // 2 (r + s) tan 45° = 8 mm is all a corner can give.
        let greedy = Rule::Table(DeductionTable::new(vec![[90.0, 8.0]]).unwrap());
        assert!(greedy.allowance(FRAC_PI_2, 2.0, 2.0).is_err());
    }

    #[test]
    fn impossible_bends_are_refused() {
        assert!(allowance(-0.1, 1.0, 1.0, 0.4).is_err());
        assert!(allowance(3.2, 1.0, 1.0, 0.4).is_err());
        assert!(allowance(1.0, f64::NAN, 1.0, 0.4).is_err());
        assert!(allowance(1.0, 1.0, 0.0, 0.4).is_err());
        assert!(allowance(1.0, 1.0, 1.0, 1.5).is_err());
        assert!(outside_setback(PI, 1.0, 1.0).is_err());
    }
}
