//! Thermal cutting: geometrical specification and quality tolerances, ISO 9013:2017.
//!
//! Perpendicularity u (ranges 1 to 4 confirmed in published guides, 5 by back-calculation from a published
//! chart), mean height Rz5 (ranges 1 to 4), and the limit deviations of dimensions as far as a published
//! excerpt confirms them. What is not confirmed is an error, never a guess. Jets of water are no thermal
//! cutting: shops use the ranges for them by analogy.

use crate::error::{Error, Result};

/// u = a + b·thickness, mm.
const U: [(f64, f64); 5] = [(0.05, 0.003), (0.15, 0.007), (0.4, 0.01), (0.8, 0.02), (1.2, 0.035)];
/// Rz5 = a + b·thickness, µm.
const RZ5: [(f64, f64); 4] = [(10.0, 0.6), (40.0, 0.8), (70.0, 1.2), (110.0, 1.8)];
/// Nominal dimensions from which the next column counts, mm (from memory: "at least the lower, below the upper").
const NOMINAL: [f64; 9] = [3.0, 10.0, 35.0, 125.0, 315.0, 1000.0, 2000.0, 4000.0, 6000.0];
/// The table ends below this dimension, mm.
const LARGEST: f64 = 8000.0;

/// A confirmed row: class, thickness above, thickness up to, deviations.
type Row = (u32, f64, f64, [f64; 10]);
const DEVIATIONS: [Row; 3] = [
    (1, 1.0, 3.15, [0.10, 0.15, 0.20, 0.25, 0.25, 0.35, 0.40, 0.65, 1.00, 1.75]),
    (2, 1.0, 3.15, [0.6, 0.6, 0.7, 0.7, 0.8, 0.9, 1.0, 1.1, 1.4, 1.4]),
    (2, 3.15, 6.3, [0.7, 0.8, 0.9, 0.9, 1.1, 1.2, 1.3, 1.3, 1.6, 1.6]),
];

fn range(what: &str, table: &[(f64, f64)], range: u32, thickness: f64) -> Result<f64> {
    let row = usize::try_from(range).ok().and_then(|r| table.get(r.checked_sub(1)?));
    let Some((a, b)) = row else {
        return Err(Error::input(format!("ISO 9013 has ranges 1 to {} of {what}, not {range}", table.len())));
    };
    if !(thickness.is_finite() && thickness > 0.0) {
        return Err(Error::input(format!("a thickness of {thickness} mm is not above 0")));
    }
    Ok(a + b * thickness)
}

/// Perpendicularity or angularity tolerance u of a range (1 to 5), mm, for a cut thickness in mm.
///
/// # Errors
/// An unknown range; a thickness not above 0.
pub fn perpendicularity(quality: u32, thickness: f64) -> Result<f64> {
    range("perpendicularity", &U, quality, thickness)
}

/// Mean height of the profile Rz5 of a range (1 to 4), µm, for a cut thickness in mm.
///
/// # Errors
/// An unknown range; a thickness not above 0.
pub fn mean_height(quality: u32, thickness: f64) -> Result<f64> {
    range("Rz5", &RZ5, quality, thickness)
}

/// Limit deviation of a nominal dimension, ± mm, of tolerance class 1 or 2.
///
/// # Errors
/// Outside what is confirmed: class 1 for sheet above 1 up to 3.15 mm, class 2 above 1 up to 6.3 mm, dimensions
/// above 0 and below 8000 mm.
pub fn limit_deviation(class: u32, nominal: f64, thickness: f64) -> Result<f64> {
    if !(nominal.is_finite() && nominal > 0.0 && nominal < LARGEST) {
        return Err(Error::input(format!(
            "ISO 9013 gives deviations for dimensions above 0 and below {LARGEST} mm, not {nominal} mm"
        )));
    }
    let row =
        DEVIATIONS.iter().find(|(c, above, to, _)| *c == class && thickness > *above && thickness <= *to);
    let Some((.., row)) = row else {
        return Err(Error::input(format!(
            "no confirmed deviation of ISO 9013 class {class} for sheet of {thickness} mm (held: class 1 above 1 up \
             to 3.15 mm, class 2 above 1 up to 6.3 mm)"
        ))
        .remedy("read it in the standard"));
    };
    Ok(row[NOMINAL.partition_point(|lower| *lower <= nominal)])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, wanted: f64) {
        assert!((found - wanted).abs() < 1e-9, "{found} is not {wanted}");
    }

    /// ISO 9013:2017 ranges at 2 and 10 mm; range 5 from a published chart at 1.5 mm.
    #[test]
    fn ranges_are_those_of_the_standard() {
        for (thickness, u) in [(2.0, [0.056, 0.164, 0.42, 0.84, 1.27]), (10.0, [0.08, 0.22, 0.5, 1.0, 1.55])]
        {
            for (quality, wanted) in (1..).zip(u) {
                near(perpendicularity(quality, thickness).expect("given"), wanted);
            }
        }
        for (quality, wanted) in (1..).zip([0.0545, 0.1605, 0.415, 0.83, 1.2525]) {
            near(perpendicularity(quality, 1.5).expect("given"), wanted);
        }
        for (quality, wanted) in (1..).zip([16.0, 48.0, 82.0, 128.0]) {
            near(mean_height(quality, 10.0).expect("given"), wanted);
        }
        // Five ranges of u, four of Rz5.
        assert!(
            perpendicularity(6, 2.0).is_err()
                && mean_height(5, 2.0).is_err()
                && perpendicularity(0, 2.0).is_err()
        );
        assert!(perpendicularity(1, 0.0).is_err());
    }

    /// Published excerpt of ISO 9013:2017 tables of limit deviations, classes 1 and 2.
    #[test]
    fn deviations_are_those_of_the_excerpt_and_nothing_is_made_up_beside_it() {
        let all = [2.9, 3.0, 10.0, 35.0, 125.0, 315.0, 1000.0, 2000.0, 4000.0, 6000.0];
        let row = |class, thickness| all.map(|n| limit_deviation(class, n, thickness).expect("held"));
        assert_eq!(row(1, 2.0), [0.10, 0.15, 0.20, 0.25, 0.25, 0.35, 0.40, 0.65, 1.00, 1.75]);
        assert_eq!(row(2, 3.15), [0.6, 0.6, 0.7, 0.7, 0.8, 0.9, 1.0, 1.1, 1.4, 1.4]);
        assert_eq!(row(2, 3.16), [0.7, 0.8, 0.9, 0.9, 1.1, 1.2, 1.3, 1.3, 1.6, 1.6]);
        assert_eq!(limit_deviation(1, 34.9, 2.0), Ok(0.20));
        for (class, nominal, thickness) in [
            (1, 100.0, 4.0),
            (1, 100.0, 1.0),
            (2, 100.0, 6.4),
            (3, 100.0, 2.0),
            (1, 8000.0, 2.0),
            (1, 0.0, 2.0),
        ] {
            assert!(limit_deviation(class, nominal, thickness).is_err(), "{class} {nominal} {thickness}");
        }
    }
}
