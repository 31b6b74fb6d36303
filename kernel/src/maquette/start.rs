//! Where to begin: figures from the distances alone, without help.
//!
//! The first guess takes the shortest way along measured distances for each that is missing and scales the matrix
//! to coordinates (W. S. Torgerson, "Multidimensional scaling", 1952). The others begin anywhere in space of one
//! more dimension, where a figure that is turned inside out can pass through itself, and are pressed flat in steps.

use super::flat::{Flat, at};
use super::net::{From, Leg, Net, descend};
use crate::adjust::Observation;
use nalgebra::{DMatrix, DVector, Vector3};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal};

/// Guesses there are: the first is the scaled matrix, the others random.
pub(super) const GUESSES: u64 = 40;
/// Steps of one descent; few need more than thirty.
const STEPS: usize = 60;
/// How far out of space points may lie while they are pressed flat, as shares of the size.
const PRESSES: [f64; 4] = [1.0, 0.2, 0.04, 0.008];
/// Faces may be this much off flat in the first descent, as a share of the size.
const ROUGHLY_FLAT: f64 = 0.02;
/// Random starts spread by this share of the size.
const SPREAD: f64 = 0.5;

/// A minimum of Σ (v/σ)², and its value.
pub(super) type Minimum = (DVector<f64>, f64);

/// The minimum that guess number `guess` leads to.
pub(super) fn start(net: &Net, guess: u64, aside: &[From]) -> Minimum {
    let x = if guess == 0 {
        scaled(net)
    } else {
        let mut random = ChaCha8Rng::seed_from_u64(guess);
        pressed(
            net,
            DVector::from_fn(4 * net.count(), |_, _| {
                let x: f64 = StandardNormal.sample(&mut random);
                x * SPREAD * net.size
            }),
        )
    };
    either_way_up(net, &x, aside)
}

/// A figure some of whose points are placed, the others anywhere.
pub(super) fn completed(net: &Net, x: &DVector<f64>, placed: &[bool], guess: u64) -> DVector<f64> {
    let mut random = ChaCha8Rng::seed_from_u64(guess);
    let known: Vec<usize> = (0..net.count()).filter(|&p| placed[p]).collect();
    let foot = super::flat::middle(x, &known);
    let start = DVector::from_fn(4 * net.count(), |k, _| {
        let (p, i) = (k / 4, k % 4);
        let by: f64 = StandardNormal.sample(&mut random);
        match (placed[p], i) {
            (true, 3) => 0.0,
            (true, i) => x[3 * p + i],
            (false, 3) => by * SPREAD * net.size,
            (false, i) => foot[i] + by * SPREAD * net.size,
        }
    });
    pressed(net, start)
}

/// The minimum that a figure leads to, whichever way up it is.
pub(super) fn either_way_up(net: &Net, x: &DVector<f64>, aside: &[From]) -> Minimum {
    let one = improved(net, x, aside);
    if net.heights.len() < 3 {
        return one;
    }
    // Upside down, heights may not fit.
    let other = improved(net, &upside_down(x), aside);
    if other.1 < one.1 { other } else { one }
}

/// From roughly flat faces to the stated deviations.
pub(super) fn improved(net: &Net, x: &DVector<f64>, aside: &[From]) -> Minimum {
    let rough = (ROUGHLY_FLAT * net.size).max(net.flat);
    let observe = |x: &DVector<f64>, flat: f64| net.observations(x, flat, aside).0;
    let (x, _) = descend(net.raised(x), |x| observe(x, rough), STEPS);
    descend(net.raised(&x), |x| observe(x, net.flat), STEPS)
}

/// Torgerson's coordinates of the distances along shortest ways.
fn scaled(net: &Net) -> DVector<f64> {
    let n = net.count();
    // Points that only faces tie in are taken as far away as the figure is large.
    let mut ways = DMatrix::from_fn(n, n, |i, k| if i == k { 0.0 } else { f64::INFINITY });
    for Leg { ends: [a, b], length, .. } in net.spans() {
        let way = length.min(ways[(a, b)]);
        (ways[(a, b)], ways[(b, a)]) = (way, way);
    }
    for m in 0..n {
        for i in 0..n {
            for k in 0..n {
                let through = ways[(i, m)] + ways[(m, k)];
                if through < ways[(i, k)] {
                    ways[(i, k)] = through;
                }
            }
        }
    }
    let squared = ways.map(|d| if d.is_finite() { d * d } else { net.size * net.size });
    let of_row = squared.column_mean();
    let all = squared.mean();
    let products = DMatrix::from_fn(n, n, |i, k| -0.5 * (squared[(i, k)] - of_row[i] - of_row[k] + all));
    let eigen = products.symmetric_eigen();
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a]).then(a.cmp(&b)));
    DVector::from_fn(3 * n, |k, _| {
        let (p, i) = (k / 3, k % 3);
        order.get(i).map_or(0.0, |&e| eigen.eigenvectors[(p, e)] * eigen.eigenvalues[e].max(0.0).sqrt())
    })
}

/// Presses a figure of four coordinates per point into space.
fn pressed(net: &Net, x: DVector<f64>) -> DVector<f64> {
    let n = net.count();
    let spans = net.spans();
    let sigma = |length: f64| 0.01 * length.max(0.01 * net.size);
    let mut x = x;
    for press in PRESSES {
        let observe = |x: &DVector<f64>| {
            let mut all: Vec<Observation> = spans
                .iter()
                .map(|&Leg { ends: [a, b], length, .. }| {
                    let d: Vec<f64> = (0..4).map(|i| x[4 * b + i] - x[4 * a + i]).collect();
                    let now = d.iter().map(|c| c * c).sum::<f64>().sqrt().max(f64::MIN_POSITIVE);
                    let terms = (0..4).flat_map(|i| [(4 * a + i, -d[i] / now), (4 * b + i, d[i] / now)]);
                    Observation { terms: terms.collect(), value: length - now, deviation: sigma(length) }
                })
                .collect();
            all.extend((0..n).map(|p| Observation {
                terms: vec![(4 * p + 3, 1.0)],
                value: -x[4 * p + 3],
                deviation: press * 0.1 * net.size,
            }));
            all
        };
        x = descend(x, observe, STEPS / 3).0;
    }
    DVector::from_fn(3 * n, |k, _| x[4 * (k / 3) + k % 3])
}

/// A part counts as lying in a plane within this share of the size.
const IN_PLANE: f64 = 0.01;
/// Nets of more points are only cut along the planes of their faces and of the neighbours of each point.
const MOST_FOR_TRIPLES: usize = 30;
/// Most figures that are tried for one net.
const MOST_FLIPS: usize = 64;

/// Figures that fit the distances about as well as x may: parts folded over to the other side of what ties them.
pub(super) fn flips(net: &Net, x: &DVector<f64>) -> Vec<DVector<f64>> {
    let n = net.count();
    let mut near = vec![Vec::new(); n];
    for [a, b] in net.ties() {
        near[a].push(b);
        near[b].push(a);
    }
    for list in &mut near {
        list.sort_unstable();
        list.dedup();
    }
    let mut found: Vec<(Vec<usize>, DVector<f64>)> = Vec::new();
    let mut add = |part: Vec<usize>, y: DVector<f64>| {
        if !found.iter().any(|(p, z)| *p == part && (z - &y).amax() < IN_PLANE * net.size) {
            found.push((part, y));
        }
    };
    // Each point over the plane of its neighbours.
    for (p, beside) in near.iter().enumerate().filter(|(_, beside)| beside.len() >= 3) {
        let normal = Flat::one(beside).normal(x);
        add(vec![p], mirrored(x, &[p], super::flat::middle(x, beside), normal));
    }
    let mut planes: Vec<[usize; 3]> = net
        .faces
        .iter()
        .filter_map(|face| widest(x, face))
        .chain((0..n).filter_map(|p| widest(x, &near[p])))
        .collect();
    if n <= MOST_FOR_TRIPLES {
        planes.extend((0..n).flat_map(|a| (a + 1..n).flat_map(move |b| (b + 1..n).map(move |c| [a, b, c]))));
    }
    for [a, b, c] in planes {
        let Some(normal) = (at(x, b) - at(x, a)).cross(&(at(x, c) - at(x, a))).try_normalize(0.0) else {
            continue;
        };
        let on: Vec<bool> =
            (0..n).map(|p| normal.dot(&(at(x, p) - at(x, a))).abs() <= IN_PLANE * net.size).collect();
        for part in parts_without(&near, &on) {
            let y = mirrored(x, &part, at(x, a), normal);
            add(part, y);
        }
    }
    // Parts that hang on two points only, by faces, half a turn about them.
    for a in 0..n {
        for b in a + 1..n {
            let mut on = vec![false; n];
            (on[a], on[b]) = (true, true);
            let Some(axis) = (at(x, b) - at(x, a)).try_normalize(0.0) else { continue };
            for part in parts_without(&near, &on) {
                let mut y = x.clone();
                for &p in &part {
                    let d = at(x, p) - at(x, a);
                    let turned = at(x, a) + axis * (2.0 * axis.dot(&d)) - d;
                    y.fixed_rows_mut::<3>(3 * p).copy_from(&turned);
                }
                add(part, y);
            }
        }
    }
    found.truncate(MOST_FLIPS);
    found.into_iter().map(|(_, y)| y).collect()
}

/// Some points on the other side of a plane through a point.
fn mirrored(x: &DVector<f64>, part: &[usize], foot: Vector3<f64>, normal: Vector3<f64>) -> DVector<f64> {
    let mut y = x.clone();
    for &p in part {
        let height = normal.dot(&(at(x, p) - foot));
        y.fixed_rows_mut::<3>(3 * p).copy_from(&(at(x, p) - normal * (2.0 * height)));
    }
    y
}

/// The three of some points that span most.
fn widest(x: &DVector<f64>, of: &[usize]) -> Option<[usize; 3]> {
    let mut best = (0.0, None);
    for (i, &a) in of.iter().enumerate() {
        for (k, &b) in of.iter().enumerate().skip(i + 1) {
            for &c in &of[k + 1..] {
                let area = (at(x, b) - at(x, a)).cross(&(at(x, c) - at(x, a))).norm();
                if area > best.0 {
                    best = (area, Some([a, b, c]));
                }
            }
        }
    }
    best.1
}

/// The parts a net falls into without some points, but for the largest of them.
fn parts_without(near: &[Vec<usize>], without: &[bool]) -> Vec<Vec<usize>> {
    let mut seen = without.to_vec();
    let mut parts = Vec::new();
    for first in 0..near.len() {
        if seen[first] {
            continue;
        }
        seen[first] = true;
        let mut part = vec![first];
        let mut k = 0;
        while k < part.len() {
            for &q in &near[part[k]] {
                if !seen[q] {
                    seen[q] = true;
                    part.push(q);
                }
            }
            k += 1;
        }
        part.sort_unstable();
        parts.push(part);
    }
    if let Some(k) = (0..parts.len()).max_by_key(|&k| (parts[k].len(), std::cmp::Reverse(k))) {
        parts.remove(k);
    }
    parts
}

fn upside_down(x: &DVector<f64>) -> DVector<f64> {
    DVector::from_fn(x.len(), |k, _| if k % 3 == 2 { -x[k] } else { x[k] })
}
