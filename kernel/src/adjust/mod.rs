//! Adjustment of measurements by weighted least squares, and what it says of each of them.
//!
//! Each observation says l + v = a·x with a standard deviation σ known beforehand (Gauss–Markov model,
//! observations independent). [`adjust`] finds the unknowns x for which Σ (v/σ)² is least. [`snoop()`] looks for
//! misreadings, one at a time. [`settle`] repeats an adjustment where the observations are not linear, and
//! [`Network`] is the case of distances between points, in the plane or in space.
//!
//! Symbols follow C. D. Ghilani, "Adjustment Computations", and W. Baarda, "A testing procedure for use in
//! geodetic networks", Netherlands Geodetic Commission, 1968: v residuals (adjusted less observed), r redundancy
//! numbers, w standardised residuals, s0 the standard deviation of unit weight, whose expected value is 1.

mod linear;
mod network;
mod newton;
mod quantile;
mod snoop;
#[cfg(test)]
pub(crate) mod tetrahedra;

pub use linear::{Adjustment, Datum, Observation, adjust};
pub(crate) use linear::{cholesky, normal};
pub use network::{Leg, Network, NetworkFit};
pub use newton::{Settled, settle};
pub use quantile::{
    chi_squared, critical_tau, critical_w, least_shift, normal_quantile, power, smallest_noncentrality,
};
pub use snoop::{Flag, Scale, Snooped, Test, snoop, suspect};
