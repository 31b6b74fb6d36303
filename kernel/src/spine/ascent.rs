//! Going uphill on the least of many smooth functions.
//!
//! The steepest way up for the least of functions with gradients g is the shortest vector of their convex hull
//! (V. F. Demyanov and V. N. Malozemov, "Introduction to minimax", 1974; from memory). Found by steps
//! between pairs of gradients (Frank and Wolfe's method with away steps).

use nalgebra::DVector;

/// Steps of the search for the shortest vector; each is a product of all gradients with one vector.
const STEPS: u32 = 400;
/// The search ends when no gradient brings the square of the length down by more than this share.
const GOOD: f64 = 1.0e-4;

/// The shortest vector of the convex hull of some vectors; zero length where they surround the origin.
pub(super) fn shortest(vectors: &[DVector<f64>]) -> DVector<f64> {
    let Some(first) = vectors.first() else { return DVector::zeros(0) };
    let mut weights = vec![0.0; vectors.len()];
    weights[0] = 1.0;
    let mut x = first.clone();
    for _ in 0..STEPS {
        let along: Vec<f64> = vectors.iter().map(|v| v.dot(&x)).collect();
        let (mut low, mut high) = (0, None);
        for k in 0..vectors.len() {
            if along[k] < along[low] {
                low = k;
            }
            if weights[k] > 0.0 && high.is_none_or(|h: usize| along[k] > along[h]) {
                high = Some(k);
            }
        }
        let Some(high) = high else { break };
        let square = x.norm_squared();
        if square - along[low] <= GOOD * square || low == high {
            break;
        }
        let way = &vectors[low] - &vectors[high];
        let length = way.norm_squared();
        if length <= 0.0 {
            break;
        }
        let step = ((along[high] - along[low]) / length).min(weights[high]);
        weights[low] += step;
        weights[high] -= step;
        x += way * step;
    }
    x
}

#[cfg(test)]
mod tests {
    use super::*;

    fn v(x: &[f64]) -> DVector<f64> {
        DVector::from_row_slice(x)
    }

    #[test]
    fn shortest_vectors_are_those_of_closed_forms() {
        let near =
            |found: DVector<f64>, wanted: &[f64]| assert!((found - v(wanted)).norm() < 1e-3, "{wanted:?}");
        near(shortest(&[v(&[3.0, 4.0])]), &[3.0, 4.0]);
        near(shortest(&[v(&[1.0, 0.0]), v(&[0.0, 1.0])]), &[0.5, 0.5]);
        near(shortest(&[v(&[2.0, 1.0]), v(&[2.0, -3.0]), v(&[9.0, 9.0])]), &[2.0, 0.0]);
        near(shortest(&[v(&[1.0, 0.0, 0.0]), v(&[0.0, 1.0, 0.0]), v(&[0.0, 0.0, 1.0])]), &[1.0 / 3.0; 3]);
        assert!(shortest(&[v(&[1.0, 0.1]), v(&[-1.0, 0.1]), v(&[0.0, -1.0])]).norm() < 1e-3, "surrounded");
    }
}
