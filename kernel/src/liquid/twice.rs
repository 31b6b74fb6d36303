//! Double-double numbers: a number as the sum of two floats, with about 32 digits.
//!
//! Method: error-free sums and products (T. J. Dekker, "A floating-point technique for extending the available
//! precision", 1971; D. E. Knuth's two-sum; from memory).

use std::ops::{Add, Div, Mul, Sub};

/// A number: `high` is the nearest float, `low` what is left.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Twice {
    high: f64,
    low: f64,
}

/// The sum of two floats and its rounding error.
fn sum(a: f64, b: f64) -> Twice {
    let high = a + b;
    let t = high - a;
    Twice { high, low: (a - (high - t)) + (b - t) }
}

impl Twice {
    /// a − b without any rounding.
    pub(super) fn difference(a: f64, b: f64) -> Self {
        sum(a, -b)
    }

    /// The nearest float.
    pub(super) fn nearest(self) -> f64 {
        self.high + self.low
    }
}

impl From<f64> for Twice {
    fn from(high: f64) -> Self {
        Self { high, low: 0.0 }
    }
}

impl Add for Twice {
    type Output = Self;
    fn add(self, b: Self) -> Self {
        let (s, t) = (sum(self.high, b.high), sum(self.low, b.low));
        let s = sum(s.high, s.low + t.high);
        sum(s.high, s.low + t.low)
    }
}

impl Sub for Twice {
    type Output = Self;
    fn sub(self, b: Self) -> Self {
        self + Self { high: -b.high, low: -b.low }
    }
}

impl Mul for Twice {
    type Output = Self;
    fn mul(self, b: Self) -> Self {
        let high = self.high * b.high;
        let low = self.high.mul_add(b.high, -high) + (self.high * b.low + self.low * b.high);
        sum(high, low)
    }
}

impl Div for Twice {
    type Output = Self;
    fn div(self, b: Self) -> Self {
        let first = Self::from(self.high / b.high);
        let rest = self - first * b;
        let second = Self::from(rest.high / b.high);
        let rest = rest - second * b;
        first + second + Self::from(rest.high / b.high)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_taken_away_again_leaves_nothing() {
        let third = Twice::from(1.0) / Twice::from(3.0);
        let all = third + third + third - Twice::from(1.0);
        assert!(all.nearest().abs() < EXACT, "{all:?}");
        let far = Twice::difference(1.0e16, 1.0) + Twice::from(1.0) - Twice::from(1.0e16);
        assert!(far.nearest().abs() < EXACT);
        let square = Twice::difference(1.0, 1.0e-9) * Twice::difference(1.0, -1.0e-9);
        assert!((square - Twice::from(1.0)).nearest() + 1.0e-18 < EXACT, "1 − 1e-18 keeps its end");
        assert!((Twice::from(2.0) / (third * Twice::from(6.0))).nearest() - 1.0 < EXACT);
    }

    /// Far below the rounding of one float.
    const EXACT: f64 = 1.0e-30;
}
