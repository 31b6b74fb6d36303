//! Whether distances allow one figure only.
//!
//! Two tests, each enough by itself in general position. A net that grows from four points tied to one another, each
//! further point tied to four before it, allows one figure (trilateration). And so does one whose stress matrix has
//! the rank n − 4, where it is rigid to first order: R. Connelly, "Generic global rigidity", 2005; S. J. Gortler,
//! A. D. Healy and D. P. Thurston, "Characterizing generic global rigidity", 2010 (both from memory).

use super::flat::at;
use super::net::Net;
use nalgebra::{DMatrix, DVector};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal};

/// Eigenvalues below this share of the largest are 0.
const ZERO: f64 = 1.0e-9;
/// Larger nets are only tested by trilateration.
const MOST_LEGS: usize = 400;

/// Whether the distances alone allow one figure and its mirror image only, if the points lie in general position.
pub(super) fn is_rigid(net: &Net, x: &DVector<f64>) -> bool {
    let n = net.count();
    let mut pairs: Vec<[usize; 2]> =
        net.legs.iter().map(|l| [l.ends[0].min(l.ends[1]), l.ends[0].max(l.ends[1])]).collect();
    pairs.sort_unstable();
    pairs.dedup();
    pairs.len() == n * (n - 1) / 2 || grows(n, &pairs) || pairs.len() <= MOST_LEGS && has_stress(n, &pairs, x)
}

fn grows(n: usize, pairs: &[[usize; 2]]) -> bool {
    let mut tied = vec![vec![false; n]; n];
    for &[a, b] in pairs {
        (tied[a][b], tied[b][a]) = (true, true);
    }
    for a in 0..n {
        for b in (a + 1..n).filter(|&b| tied[a][b]) {
            for c in (b + 1..n).filter(|&c| tied[a][c] && tied[b][c]) {
                let Some(d) = (c + 1..n).find(|&d| tied[a][d] && tied[b][d] && tied[c][d]) else { continue };
                let mut placed: Vec<bool> = (0..n).map(|p| [a, b, c, d].contains(&p)).collect();
                while let Some(p) =
                    (0..n).find(|&p| !placed[p] && (0..n).filter(|&q| placed[q] && tied[p][q]).count() >= 4)
                {
                    placed[p] = true;
                }
                return placed.iter().all(|p| *p);
            }
        }
    }
    false
}

fn has_stress(n: usize, pairs: &[[usize; 2]], x: &DVector<f64>) -> bool {
    let m = pairs.len();
    if m < 3 * n - 5 {
        return false;
    }
    let mut rigidity = DMatrix::<f64>::zeros(m, 3 * n);
    for (k, &[a, b]) in pairs.iter().enumerate() {
        let d = at(x, b) - at(x, a);
        for i in 0..3 {
            (rigidity[(k, 3 * a + i)], rigidity[(k, 3 * b + i)]) = (-d[i], d[i]);
        }
    }
    let eigen = (&rigidity * rigidity.transpose()).symmetric_eigen();
    let most = eigen.eigenvalues.amax();
    let free: Vec<usize> = (0..m).filter(|&k| eigen.eigenvalues[k] <= ZERO * most).collect();
    if m - free.len() != 3 * n - 6 {
        return false;
    }
    // A random stress has the greatest rank there is.
    let mut random = ChaCha8Rng::seed_from_u64(0);
    let mut stress = DVector::<f64>::zeros(m);
    for k in free {
        let share: f64 = StandardNormal.sample(&mut random);
        stress.axpy(share, &eigen.eigenvectors.column(k), 1.0);
    }
    let mut matrix = DMatrix::<f64>::zeros(n, n);
    for (&[a, b], s) in pairs.iter().zip(stress.iter()) {
        matrix[(a, b)] -= s;
        matrix[(b, a)] -= s;
        matrix[(a, a)] += s;
        matrix[(b, b)] += s;
    }
    let values = matrix.symmetric_eigenvalues().abs();
    let most = values.max();
    values.iter().filter(|v| **v > STRESSED * most).count() == n - 4
}

/// Eigenvalues of a stress matrix below this share of the largest are 0.
const STRESSED: f64 = 1.0e-6;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::maquette::{Distance, Readings, Source};

    fn net(points: &[[f64; 3]], pairs: &[(usize, usize)]) -> (Net, DVector<f64>) {
        let length =
            |a: usize, b: usize| (0..3).map(|i| (points[a][i] - points[b][i]).powi(2)).sum::<f64>().sqrt();
        let readings = Readings {
            points: (0..points.len()).map(|k| format!("P{k}")).collect(),
            distances: pairs
                .iter()
                .map(|&(a, b)| Distance {
                    between: [a, b],
                    length: length(a, b),
                    deviation: 0.3,
                    source: Source::default(),
                })
                .collect(),
            ..Readings::default()
        };
        let x = DVector::from_iterator(3 * points.len(), points.iter().flatten().copied());
        (Net::all(&readings, 0.2).remove(0), x)
    }

    #[test]
    fn one_figure_only_where_no_part_folds_over() {
        // Two tetrahedra on one triangle: five points, nine distances; the tip folds over.
        let points = [[0.0, 0.0, 0.0], [9.0, 1.0, 0.0], [2.0, 8.0, 0.5], [3.0, 3.0, 7.0], [4.0, 2.0, -6.0]];
        let two = [(0, 1), (0, 2), (1, 2), (0, 3), (1, 3), (2, 3), (0, 4), (1, 4), (2, 4)];
        let (folds, x) = net(&points, &two);
        assert!(!is_rigid(&folds, &x));
        let all: Vec<(usize, usize)> = two.into_iter().chain([(3, 4)]).collect();
        let (holds, x) = net(&points, &all);
        assert!(is_rigid(&holds, &x));
        // A box with both diagonals of every face holds; with one diagonal each it need not.
        let corners: Vec<[f64; 3]> = (0..8_usize)
            .map(|k| {
                let off = 0.01 * (k as f64 * 2.3).sin();
                [5.0 * (k & 1) as f64 + off, 7.0 * (k >> 1 & 1) as f64 - off, 9.0 * (k >> 2 & 1) as f64]
            })
            .collect();
        let both: Vec<(usize, usize)> = (0..8_usize)
            .flat_map(|a| (a + 1..8).map(move |b| (a, b)))
            .filter(|(a, b)| (a ^ b).count_ones() < 3)
            .collect();
        let (braced, x) = net(&corners, &both);
        assert_eq!(both.len(), 24);
        assert!(is_rigid(&braced, &x));
        let one: Vec<(usize, usize)> =
            both.into_iter().filter(|(a, b)| (a ^ b).count_ones() == 1 || a.count_ones() % 2 == 0).collect();
        let (single, x) = net(&corners, &one);
        assert!(!is_rigid(&single, &x));
    }
}
