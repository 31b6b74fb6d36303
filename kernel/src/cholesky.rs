//! Cholesky's factor of a symmetric positive definite matrix (A.-L. Cholesky, 1910, published 1924; from memory).
//!
//! The same to the last bit as nalgebra's, which goes over every number one by one: numbers that are 0 are passed over
//! here, and columns are slices, so that a matrix of few readings or beams takes a fraction of the time.

use nalgebra::{Cholesky, DMatrix, Dyn};

/// Factors a symmetric matrix; none if it is not positive definite.
pub(crate) fn factor(matrix: DMatrix<f64>) -> Option<Cholesky<f64, Dyn>> {
    let band = matrix.nrows();
    lower(matrix, band).ok().map(Cholesky::pack_dirty)
}

/// The lower factor, column by column within the band: how far below the diagonal the matrix has numbers. What the
/// matrix holds above the diagonal stays there.
///
/// # Errors
/// The number of a pivot that is not above 0.
pub(crate) fn lower(mut matrix: DMatrix<f64>, band: usize) -> Result<DMatrix<f64>, usize> {
    let size = matrix.nrows();
    for k in 0..size {
        let end = k.saturating_add(band + 1).min(size);
        let (done, after) = matrix.as_mut_slice().split_at_mut((k + 1) * size);
        let column = &mut done[k * size..][k..end];
        let pivot = column[0];
        if pivot.is_nan() || pivot <= 0.0 {
            return Err(k);
        }
        let root = pivot.sqrt();
        column[0] = root;
        for x in &mut column[1..] {
            *x /= root;
        }
        for (j, other) in (k + 1..end).zip(after.chunks_exact_mut(size)) {
            let below = &column[j - k..];
            let by = below[0];
            if by != 0.0 {
                for (x, y) in other[j..end].iter_mut().zip(below) {
                    *x -= by * y;
                }
            }
        }
    }
    Ok(matrix)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Second method: nalgebra's factor, of full and of thinly filled matrices, some of them not positive definite.
        #[test]
        fn factors_are_those_of_the_library_to_the_last_bit(
            size in 0_usize..20,
            numbers in prop::collection::vec(-1.0..1.0, 400),
            filled in 1_usize..6,
            lift in -0.5..2.0,
        ) {
            let half = DMatrix::from_fn(size, size, |i, j| {
                if (i * 7 + j * 5) % filled == 0 { numbers[i * 20 + j] } else { 0.0 }
            });
            let matrix: DMatrix<f64> = &half * half.transpose() + DMatrix::<f64>::identity(size, size) * lift;
            let bits = |c: Option<Cholesky<f64, Dyn>>| c.map(|c| c.l().map(f64::to_bits));
            prop_assert_eq!(bits(factor(matrix.clone())), bits(Cholesky::new(matrix)));
        }
    }

    #[test]
    fn a_matrix_that_is_none_is_refused() {
        assert!(factor(DMatrix::from_row_slice(2, 2, &[1.0, 2.0, 2.0, 1.0])).is_none());
        assert!(factor(DMatrix::from_row_slice(1, 1, &[f64::NAN])).is_none());
        assert_eq!(lower(DMatrix::from_row_slice(2, 2, &[1.0, 2.0, 2.0, 1.0]), 1), Err(1));
    }
}
