//! Critical values of the tests: Baarda's k, δ0 and λ0, Pope's τ, χ².
//!
//! Sources: W. Baarda, "A testing procedure for use in geodetic networks", 1968 (k, δ0, λ0); A. J. Pope, "The
//! statistics of residuals and the detection of outliers", NOAA Technical Report NOS 65 NGS 1, 1976 (τ).

use crate::error::{Error, Result};
use statrs::distribution::{ChiSquared, ContinuousCDF, Normal, StudentsT};

/// The number below which a standard normal value lies with this probability.
///
/// # Panics
/// Never: the standard normal distribution exists.
pub fn normal_quantile(probability: f64) -> f64 {
    Normal::standard().inverse_cdf(probability)
}

/// Baarda's k: a standardised residual is beyond ±k by chance with probability `alpha`.
pub fn critical_w(alpha: f64) -> f64 {
    // Taken in the lower tail, where a small probability keeps its digits.
    -normal_quantile(alpha / 2.0)
}

/// Baarda's δ0: the shift of a standardised residual that a test at level `alpha` finds with probability
/// `power`. The far tail is left out, as in the literature; it holds less than α/2.
pub fn least_shift(alpha: f64, power: f64) -> f64 {
    critical_w(alpha) + normal_quantile(power)
}

/// Baarda's λ0 = δ0², the least non-centrality of χ² that is found with probability `power`.
pub fn smallest_noncentrality(alpha: f64, power: f64) -> f64 {
    least_shift(alpha, power).powi(2)
}

/// How often a test at level `alpha` finds a standardised residual shifted by `shift` = ∇ √r / σ.
pub fn power(alpha: f64, shift: f64) -> f64 {
    let (normal, k) = (Normal::standard(), critical_w(alpha));
    normal.cdf(shift - k) + normal.cdf(-shift - k)
}

/// Pope's τ: the critical value where the residuals are standardised by s0 of the same adjustment with
/// `redundancy` degrees of freedom: τ = √r t / √(r − 1 + t²), t Student's with r − 1 degrees.
///
/// # Errors
/// Fewer than two degrees of freedom: all standardised residuals are ±1 then and nothing can be tested.
pub fn critical_tau(alpha: f64, redundancy: usize) -> Result<f64> {
    #[allow(clippy::cast_precision_loss, reason = "a count of readings")]
    let r = redundancy as f64;
    let student = StudentsT::new(0.0, 1.0, r - 1.0).ok().filter(|_| redundancy > 1).ok_or_else(|| {
        Error::input(format!("{redundancy} degrees of freedom cannot be tested against themselves"))
            .remedy("take more readings, or state the standard deviation of a reading")
    })?;
    let t = -student.inverse_cdf(alpha / 2.0);
    Ok(r.sqrt() * t / (r - 1.0 + t * t).sqrt())
}

/// The number below which χ² with this many degrees of freedom lies with this probability.
///
/// # Errors
/// No degrees of freedom.
pub fn chi_squared(probability: f64, degrees: usize) -> Result<f64> {
    #[allow(clippy::cast_precision_loss, reason = "a count of readings")]
    let made = ChiSquared::new(degrees as f64);
    let chi = made.map_err(|_| Error::input("χ² needs at least one degree of freedom"))?;
    Ok(chi.inverse_cdf(probability))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// k 3.29, δ0 4.13, λ0 17.075 at α 0.001 and power 0.80 are Baarda's own figures (1968, from memory); the
    /// others and the further digits were computed with another program.
    #[test]
    fn critical_values_are_those_of_the_literature() {
        for (alpha, beta, k, delta, lambda) in [
            (0.001, 0.80, "3.2905267", "4.1321480", "17.0746468"),
            (0.01, 0.80, "2.5758", "3.4175", "11.679"),
            (0.05, 0.80, "1.9600", "2.8016", "7.8489"),
            (0.001, 0.90, "3.2905", "4.5721", "20.904"),
        ] {
            let check = |found: f64, printed: &str| {
                let decimals = printed.split('.').nth(1).map_or(0, str::len);
                assert_eq!(format!("{found:.decimals$}"), printed, "at α {alpha}, power {beta}");
            };
            check(critical_w(alpha), k);
            check(least_shift(alpha, beta), delta);
            check(smallest_noncentrality(alpha, beta), lambda);
            assert!((power(alpha, least_shift(alpha, beta)) - beta).abs() < alpha);
        }
    }

    /// With two degrees of freedom τ has a closed form: the standardised residual is √2 cos φ with φ even over a
    /// turn, so that P(|τ| > c) = 1 − (2/π) asin(c/√2).
    #[test]
    fn tau_with_two_degrees_of_freedom_is_the_closed_form() {
        for alpha in [0.001, 0.01, 0.05, 0.3] {
            let closed = 2.0_f64.sqrt() * ((1.0 - alpha) * std::f64::consts::FRAC_PI_2).sin();
            assert!((critical_tau(alpha, 2).unwrap() - closed).abs() < 1e-9, "at {alpha}");
        }
        // With many it becomes Baarda's k.
        assert!((critical_tau(0.05, 10_000).unwrap() - critical_w(0.05)).abs() < 1e-4);
        assert!(critical_tau(0.05, 1).is_err());
    }

    /// χ² with two degrees of freedom is −2 ln(1 − p); 0.95 with 10 is 18.307 in every printed table.
    #[test]
    fn chi_squared_is_the_closed_form_and_the_printed_table() {
        for p in [0.05, 0.5, 0.95, 0.999] {
            assert!((chi_squared(p, 2).unwrap() + 2.0 * (1.0_f64 - p).ln()).abs() < 1e-6, "at {p}");
        }
        assert_eq!(format!("{:.3}", chi_squared(0.95, 10).unwrap()), "18.307");
        assert!(chi_squared(0.5, 0).is_err());
    }
}
