//! Natural frequencies and shapes.
//!
//! K x = ω² M x with K = L Lᵀ becomes (L⁻¹ M L⁻ᵀ) y = y/ω², an ordinary symmetric problem whose largest values
//! belong to the lowest frequencies (G. H. Golub and C. F. Van Loan, "Matrix computations", section 8.7; from
//! memory). Massless members are welcome: their modes have no frequency and are left out. Consistent masses
//! give frequencies from above.

use super::assemble::Assembly;
use super::model::Model;
use crate::error::{Error, Result};
use nalgebra::{DMatrix, DVector, SymmetricEigen, Vector6};
use std::f64::consts::TAU;

/// A way of swinging.
#[derive(Debug, Clone, PartialEq)]
pub struct Mode {
    /// Hz.
    pub frequency: f64,
    /// Movements, mm, and turns, radians, of every node, scaled to a modal mass of 1 kg; the greatest
    /// movement is positive.
    pub shape: Vec<Vector6<f64>>,
    /// ‖Kx − ω²Mx‖ / ‖Kx‖, each freedom scaled to a stiffness of 1.
    pub residual: f64,
}

/// N/mm over kg in 1/s²: a newton is 1000 kg·mm/s².
const PER_SECOND: f64 = 1000.0;
/// Modes whose 1/ω² is below this share of the greatest are rounding, or massless.
const MASSLESS: f64 = 1.0e-13;

/// The lowest natural frequencies, at most `count`, ascending.
///
/// # Errors
/// What [`Model::validate`] refuses; a frame that can move freely; a frame without mass.
pub fn modes(model: &Model, count: usize) -> Result<Vec<Mode>> {
    let assembly = Assembly::new(model)?;
    let (factor, scale) = assembly.factor()?;
    let n = assembly.count;
    let mut mass = assembly.free(&assembly.mass()?);
    let mut stiffness = assembly.free(&assembly.stiffness);
    for i in 0..n {
        for j in 0..n {
            mass[(i, j)] *= scale[i] * scale[j];
            stiffness[(i, j)] *= scale[i] * scale[j];
        }
    }
    let lower = factor.l();
    let solve = |m: &DMatrix<f64>| {
        lower.solve_lower_triangular(m).ok_or_else(|| Error::bug("a factor without pivots"))
    };
    let half = solve(&mass)?;
    let whole = solve(&half.transpose())?;
    let parts = SymmetricEigen::new((&whole + whole.transpose()) / 2.0);
    let greatest = parts.eigenvalues.amax();
    if greatest.is_nan() || greatest <= 0.0 {
        return Err(Error::input("the frame has no mass that can swing")
            .remedy("give members a density or add a body at a node that is not held"));
    }
    let mut order: Vec<usize> = (0..n).filter(|i| parts.eigenvalues[*i] > MASSLESS * greatest).collect();
    order.sort_by(|a, b| parts.eigenvalues[*b].total_cmp(&parts.eigenvalues[*a]));
    order.truncate(count);
    let transposed = lower.transpose();
    let mut found = Vec::with_capacity(order.len());
    for i in order {
        let square = 1.0 / parts.eigenvalues[i];
        let y: DVector<f64> = parts.eigenvectors.column(i).into_owned();
        let x = transposed.solve_upper_triangular(&y).ok_or_else(|| Error::bug("a factor without pivots"))?;
        // yᵀy = 1 = xᵀKx, so the modal mass is 1/ω² before scaling.
        let x = x * square.sqrt();
        let push = &stiffness * &x;
        let residual = (&push - &mass * &x * square).norm() / push.norm();
        let mut shape = assembly.spread(&x.component_mul(&scale));
        let most = shape.iter().flat_map(|v| (0..3).map(move |k| v[k])).fold(0.0_f64, |best, v| {
            // A little more, so that equal movements keep the first whatever the rounding.
            if v.abs() > best.abs() * (1.0 + SAME) { v } else { best }
        });
        if most < 0.0 {
            shape.iter_mut().for_each(|v| v.neg_mut());
        }
        found.push(Mode { frequency: (square * PER_SECOND).sqrt() / TAU, shape, residual });
    }
    Ok(found)
}

/// Movements that differ by less than this share are alike.
const SAME: f64 = 1.0e-6;
