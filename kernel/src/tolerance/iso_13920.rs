//! General tolerances for welded constructions, ISO 13920:1996, tables 1 to 3.
//!
//! Linear and angular limits and straightness E and F as published tables give them; straightness G and H from
//! memory except for the first value of G. Ranges are "above the lower, up to and with the upper" length.

use crate::error::{Error, Result};

/// Classes of linear and angular dimensions.
pub const CLASSES: [&str; 4] = ["A", "B", "C", "D"];
/// Classes of straightness, flatness and parallelism.
pub const STRAIGHTNESS_CLASSES: [&str; 4] = ["E", "F", "G", "H"];

/// Upper ends of the ranges of length, mm; the last column is for all above.
const UPPER: [f64; 10] = [30.0, 120.0, 400.0, 1000.0, 2000.0, 4000.0, 8000.0, 12_000.0, 16_000.0, 20_000.0];
/// The first range starts here, mm, and its ±1 is common to all classes.
const LEAST_LENGTH: f64 = 2.0;
/// Ranges of straightness start above the first of the lengths, mm.
const LEAST_STRAIGHT: f64 = 30.0;

const LINEAR: [[f64; 11]; 4] = [
    [1.0, 1.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0],
    [1.0, 2.0, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0],
    [1.0, 3.0, 4.0, 6.0, 8.0, 11.0, 14.0, 18.0, 21.0, 24.0, 27.0],
    [1.0, 4.0, 7.0, 9.0, 12.0, 16.0, 21.0, 27.0, 32.0, 36.0, 40.0],
];

/// Minutes of arc and mm per m, by the shorter leg: up to 400, up to 1000, above.
const ANGULAR: [[(f64, f64); 3]; 4] = [
    [(20.0, 6.0), (15.0, 4.5), (10.0, 3.0)],
    [(45.0, 13.0), (30.0, 9.0), (20.0, 6.0)],
    [(60.0, 18.0), (45.0, 13.0), (30.0, 9.0)],
    [(90.0, 26.0), (75.0, 22.0), (60.0, 18.0)],
];

const STRAIGHT: [[f64; 10]; 4] = [
    [0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0],
    [1.0, 1.5, 3.0, 4.5, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0],
    [1.5, 3.0, 5.5, 9.0, 11.0, 16.0, 20.0, 22.0, 25.0, 25.0],
    [2.5, 5.0, 9.0, 14.0, 18.0, 26.0, 32.0, 36.0, 40.0, 40.0],
];

/// An angular deviation, ±.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Angular {
    /// Minutes of arc.
    pub minutes: f64,
    /// The same as the table rounds it, mm per m of the shorter leg.
    pub mm_per_m: f64,
}

fn class(name: &str, of: &[&str; 4]) -> Result<usize> {
    of.iter().position(|c| *c == name).ok_or_else(|| {
        Error::input(format!("ISO 13920 has no class {name:?} here"))
            .remedy(format!("use one of {}", of.join(", ")))
    })
}

fn below(what: &str, length: f64, least: f64) -> Error {
    Error::input(format!("ISO 13920 gives no {what} for {length} mm, its table starts at {least} mm"))
        .remedy("state a tolerance of your own for it")
}

/// Limit deviation of a linear dimension, ± mm (table 1).
///
/// # Errors
/// An unknown class (A to D are known); a length below 2 mm or not a number.
pub fn linear(name: &str, length: f64) -> Result<f64> {
    let row = class(name, &CLASSES)?;
    if !(length.is_finite() && length >= LEAST_LENGTH) {
        return Err(below("linear tolerance", length, LEAST_LENGTH));
    }
    Ok(LINEAR[row][UPPER.partition_point(|upper| *upper < length)])
}

/// Limit deviation of an angle by the length of its shorter leg in mm, ± (table 2).
///
/// # Errors
/// An unknown class (A to D are known); a length not above 0.
pub fn angular(name: &str, shorter_leg: f64) -> Result<Angular> {
    let row = class(name, &CLASSES)?;
    if !(shorter_leg.is_finite() && shorter_leg > 0.0) {
        return Err(below("angular tolerance", shorter_leg, 0.0));
    }
    let (minutes, mm_per_m) = ANGULAR[row][[400.0, 1000.0].partition_point(|upper| *upper < shorter_leg)];
    Ok(Angular { minutes, mm_per_m })
}

/// Tolerance of straightness, flatness and parallelism, mm (table 3).
///
/// # Errors
/// An unknown class (E to H are known); a length of 30 mm or less.
pub fn straightness(name: &str, length: f64) -> Result<f64> {
    let row = class(name, &STRAIGHTNESS_CLASSES)?;
    if !(length.is_finite() && length > LEAST_STRAIGHT) {
        return Err(below("straightness", length, LEAST_STRAIGHT));
    }
    Ok(STRAIGHT[row][UPPER[1..].partition_point(|upper| *upper < length)])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Cells of ISO 13920:1996 table 1 as published; the trap is the cell 2 to 30, which is common to all classes
    /// and moves B to D one column left where it is read as A's alone.
    #[test]
    fn linear_limits_are_those_of_the_table_with_its_edges() {
        for (length, row) in [
            (2.0, [1.0, 1.0, 1.0, 1.0]),
            (30.0, [1.0, 1.0, 1.0, 1.0]),
            (30.1, [1.0, 2.0, 3.0, 4.0]),
            (120.0, [1.0, 2.0, 3.0, 4.0]),
            (120.1, [1.0, 2.0, 4.0, 7.0]),
            (400.0, [1.0, 2.0, 4.0, 7.0]),
            (500.0, [2.0, 3.0, 6.0, 9.0]),
            (1000.1, [3.0, 4.0, 8.0, 12.0]),
            (4000.0, [4.0, 6.0, 11.0, 16.0]),
            (8000.0, [5.0, 8.0, 14.0, 21.0]),
            (12_000.0, [6.0, 10.0, 18.0, 27.0]),
            (16_000.0, [7.0, 12.0, 21.0, 32.0]),
            (20_000.0, [8.0, 14.0, 24.0, 36.0]),
            (20_000.1, [9.0, 16.0, 27.0, 40.0]),
        ] {
            assert_eq!(CLASSES.map(|c| linear(c, length).expect("given")), row, "{length} mm");
        }
        assert!(linear("A", 1.9).is_err() && linear("A", f64::NAN).is_err());
        assert!(linear("E", 100.0).expect_err("no").to_string().contains("A, B, C, D"));
    }

    /// Table 2, whose mm per m are rounded tangents of its angles.
    #[test]
    fn angles_are_those_of_the_table_and_their_tangents_agree() {
        let minutes = |c, leg| angular(c, leg).expect("given").minutes;
        assert_eq!(CLASSES.map(|c| minutes(c, 400.0)), [20.0, 45.0, 60.0, 90.0]);
        assert_eq!(CLASSES.map(|c| minutes(c, 400.1)), [15.0, 30.0, 45.0, 75.0]);
        assert_eq!(CLASSES.map(|c| minutes(c, 1000.0)), [15.0, 30.0, 45.0, 75.0]);
        assert_eq!(CLASSES.map(|c| minutes(c, 1000.1)), [10.0, 20.0, 30.0, 60.0]);
        for c in CLASSES {
            for leg in [300.0, 700.0, 2000.0] {
                let a = angular(c, leg).expect("given");
                let exact = (a.minutes / 60.0).to_radians().tan() * 1000.0;
                assert!((exact - a.mm_per_m).abs() < 0.55, "{c} {leg}: {exact}");
            }
        }
        assert!(angular("B", 0.0).is_err());
    }

    #[test]
    fn straightness_is_that_of_the_table() {
        let row = |length| STRAIGHTNESS_CLASSES.map(|c| straightness(c, length).expect("given"));
        assert_eq!(row(30.1), [0.5, 1.0, 1.5, 2.5]);
        assert_eq!(row(120.0), [0.5, 1.0, 1.5, 2.5]);
        assert_eq!(row(120.1), [1.0, 1.5, 3.0, 5.0]);
        assert_eq!(row(1000.0), [1.5, 3.0, 5.5, 9.0]);
        assert_eq!(row(20_000.1), [8.0, 16.0, 25.0, 40.0]);
        assert!(straightness("E", 30.0).is_err() && straightness("A", 300.0).is_err());
    }
}
