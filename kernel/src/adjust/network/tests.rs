//! Networks of distances against published and exact figures.

use super::*;
use crate::adjust::tetrahedra::TETRAHEDRA;

/// Rounding of figures a few hundred long, with room.
const EXACT: f64 = 1.0e-9;
/// The same where six coordinates are held by readings a thousandth wide.
const HELD: f64 = 1.0e-8;
/// Rounding of a sum of squares.
const SQUARES: f64 = 1.0e-6;

fn leg(from: usize, to: usize, length: f64, deviation: f64) -> Leg {
    Leg { from, to, length, deviation }
}

fn distance(a: [f64; 3], b: [f64; 3]) -> f64 {
    (Vector3::from(a) - Vector3::from(b)).norm()
}

/// C. D. Ghilani, "Adjustment Computations", example 14.2: its inputs, in feet. The result was computed with
/// another program; the book's printed result was not seen.
fn ghilani(start: [f64; 3]) -> Network {
    Network {
        dimension: 2,
        points: vec![[865.40, 4527.15, 0.0], [2432.55, 2047.25, 0.0], [2865.22, 27.15, 0.0], start],
        held: vec![true, true, true, false],
        legs: vec![leg(0, 3, 6049.00, 1.0), leg(1, 3, 4736.83, 1.0), leg(2, 3, 5446.49, 1.0)],
    }
}

#[test]
fn three_distances_to_a_point_are_those_of_the_textbook() {
    let found = ghilani([6865.0, 3728.0, 0.0]).adjust().unwrap();
    let [x, y, _] = found.points[3];
    assert!((x - 6861.31679).abs() < 5e-6 && (y - 3727.81857).abs() < 5e-6, "{x}, {y}");
    for (v, want) in found.adjustment.residuals.iter().zip([-0.037373, 0.076793, -0.047366]) {
        assert!((v - want).abs() < 5e-7, "{v} is not {want}");
    }
    let s0 = found.adjustment.s0().unwrap();
    assert!((s0 - 0.0976594).abs() < 5e-8, "s0 {s0}");
    for (k, want) in [(0, 0.07753), (1, 0.15425)] {
        assert!((s0 * found.adjustment.deviation(k) - want).abs() < 5e-6);
    }
}

#[test]
fn the_minimum_on_the_wrong_side_is_recognised_from_either_start() {
    for start in [[6865.0, 3728.0, 0.0], [-2200.0, -300.0, 0.0]] {
        let found = ghilani(start).adjust().unwrap();
        assert!((found.points[3][0] - 6861.31679).abs() < 5e-6, "from {start:?}");
        assert!(found.is_plausible(0.05));
        let (mirror, s0) = found.mirror.expect("a second minimum");
        assert!((mirror[3][0] + 2237.9).abs() < 0.1 && (mirror[3][1] + 367.6).abs() < 0.1, "{:?}", mirror[3]);
        assert!((s0 - 666.0).abs() < 1.0, "s0 {s0}");
    }
    let wrong = ghilani([0.0; 3]).from(&ghilani([-2200.0, -300.0, 0.0]).points).unwrap();
    assert!(!wrong.is_plausible(0.001), "the wrong minimum fails the global test");
}

#[test]
fn whole_numbered_tetrahedra_come_out_without_residual() {
    for (corners, edges, volume) in TETRAHEDRA {
        let pairs = [(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)];
        let legs: Vec<Leg> = pairs.iter().zip(edges).map(|(&(a, b), l)| leg(a, b, l, 0.5)).collect();
        // Guesses some way off, each by its own amount.
        let guess = |k: usize, p: [f64; 3]| {
            let k = k as f64;
            [p[0] + 2.0 * (k * 1.7).sin(), p[1] + 2.0 * (k * 2.9).cos(), p[2] + 2.0 * (k + 1.0).sin()]
        };
        let points = corners.iter().enumerate().map(|(k, p)| guess(k, *p)).collect();
        let found = Network { dimension: 3, points, held: vec![false; 4], legs }.adjust().unwrap();
        assert_eq!(found.adjustment.degrees, 0, "12 coordinates, 6 legs, 6 free moves");
        assert!(
            found.adjustment.residuals.iter().all(|v| v.abs() < EXACT),
            "{:?}",
            found.adjustment.residuals
        );
        let p: Vec<Vector3<f64>> = found.points.iter().map(|p| Vector3::from(*p)).collect();
        let made = (p[1] - p[0]).cross(&(p[2] - p[0])).dot(&(p[3] - p[0])).abs() / 6.0;
        assert!((made / volume - 1.0).abs() < EXACT, "volume {made}, not {volume}");
    }
}

/// Euler's brick 44 × 117 × 240: face diagonals 125, 244, 267 and space diagonal √73225.
fn brick() -> (Vec<[f64; 3]>, Vec<Leg>) {
    let corner = |k: usize| [44.0 * (k & 1) as f64, 117.0 * (k >> 1 & 1) as f64, 240.0 * (k >> 2 & 1) as f64];
    let points: Vec<[f64; 3]> = (0..8).map(corner).collect();
    let known = |a: usize, b: usize| match a ^ b {
        1 => 44.0,
        2 => 117.0,
        4 => 240.0,
        3 => 125.0,
        5 => 244.0,
        6 => 267.0,
        _ => 73225.0_f64.sqrt(),
    };
    let pairs = (0..8).flat_map(|a| (a + 1..8).map(move |b| (a, b)));
    let legs = pairs.map(|(a, b)| leg(a, b, known(a, b), 0.5)).collect();
    (points, legs)
}

#[test]
fn eulers_brick_comes_out_of_its_28_distances() {
    let (points, legs) = brick();
    let start =
        points.iter().enumerate().map(|(k, p)| p.map(|x| x + 3.0 * (k as f64 * 2.3 + x).sin())).collect();
    let found = Network { dimension: 3, points: start, held: vec![false; 8], legs }.adjust().unwrap();
    assert_eq!(found.adjustment.degrees, 28 - 24 + 6);
    assert!(found.adjustment.residuals.iter().all(|v| v.abs() < EXACT));
    assert!((distance(found.points[0], found.points[7]) - 270.6012).abs() < 5e-5);
    assert!(!found.is_weak(), "condition {}", found.condition);
}

/// Residuals and s0 belong to the readings, not to the frame (B. Harvey, "Practical least squares and statistics
/// for surveyors"); inner constraints have the least trace of all.
#[test]
fn residuals_of_a_free_network_do_not_depend_on_how_it_is_held() {
    let (points, mut legs) = brick();
    for (k, leg) in legs.iter_mut().enumerate() {
        leg.length += 0.7 * (k as f64 * 1.9).sin();
    }
    let free = Network { dimension: 3, points: points.clone(), held: vec![false; 8], legs };
    let inner = free.adjust().unwrap();
    let turned =
        points.iter().map(|p| [0.6 * p[0] - 0.8 * p[1] + 900.0, 0.8 * p[0] + 0.6 * p[1], p[2] - 5.0]);
    let elsewhere = Network { points: turned.collect(), ..free.clone() }.adjust().unwrap();
    // Least constraints: one point held, one on an axis, one in a plane, by readings that are all but exact.
    let x0 = DVector::from_iterator(24, inner.points.iter().flatten().copied());
    let held = [0, 1, 2, 4, 5, 8];
    let linear = |x: &DVector<f64>| {
        let mut observations: Vec<Observation> = free
            .legs
            .iter()
            .map(|l| {
                let d: Vec<f64> = (0..3).map(|i| x[l.to * 3 + i] - x[l.from * 3 + i]).collect();
                let length = d.iter().map(|c| c * c).sum::<f64>().sqrt();
                let terms =
                    (0..3).flat_map(|i| [(l.from * 3 + i, -d[i] / length), (l.to * 3 + i, d[i] / length)]);
                Observation { terms: terms.collect(), value: l.length - length, deviation: l.deviation }
            })
            .collect();
        let fixed = |&k: &usize| Observation { terms: vec![(k, 1.0)], value: x0[k] - x[k], deviation: 1e-3 };
        observations.extend(held.iter().map(fixed));
        Ok(observations)
    };
    // Corners 0, 1 and 2: all of 0, y and z of 1, z of 2.
    let minimal = settle(x0.clone(), linear, |_| Datum::Observed).unwrap();
    for (k, v) in inner.adjustment.residuals.iter().enumerate() {
        assert!((v - elsewhere.adjustment.residuals[k]).abs() < EXACT, "turned and moved");
        assert!((v - minimal.adjustment.residuals[k]).abs() < HELD, "held by six coordinates");
    }
    assert!((inner.adjustment.s0().unwrap() - elsewhere.adjustment.s0().unwrap()).abs() < EXACT);
    assert_eq!((inner.adjustment.degrees, minimal.adjustment.degrees), (10, 10));
    assert!((inner.adjustment.weighted_squares - minimal.adjustment.weighted_squares).abs() < SQUARES);
    assert!(inner.adjustment.covariance.trace() < minimal.adjustment.covariance.trace());
    let sum: f64 = inner.adjustment.redundancy.iter().sum();
    assert!((sum - 10.0).abs() < EXACT, "redundancy numbers add up to {sum}");
    assert!(distance(inner.points[0], elsewhere.points[0]) > 1.0, "coordinates do");
}

#[test]
fn ranges_to_four_marks_meet_in_the_origin() {
    let marks = [[1.0, 0.0, 0.0], [0.0, 2.0, 0.0], [0.0, 0.0, 3.0], [0.0, 3.0, 4.0]];
    let mut points = marks.to_vec();
    points.push([0.4, 0.5, 0.3]);
    let legs = [1.0, 2.0, 3.0, 5.0].iter().enumerate().map(|(k, &l)| leg(k, 4, l, 0.1)).collect();
    let held = vec![true, true, true, true, false];
    let found = Network { dimension: 3, points, held, legs }.adjust().unwrap();
    assert!(distance(found.points[4], [0.0; 3]) < EXACT, "{:?}", found.points[4]);
}

/// Slope distances of a taught network of six ground points, m (spatial.engineer, "Adjusting a trilateration
/// network": 13 of 15 legs, with heights). All points lie within 600 m of height over 11 km.
#[test]
fn a_nearly_flat_network_is_solved_and_called_weak() {
    let legs: Vec<Leg> = [
        (0, 2, 5221.275),
        (0, 3, 5126.307),
        (0, 4, 8566.372),
        (0, 5, 3128.920),
        (1, 2, 11219.111),
        (1, 3, 8054.121),
        (1, 4, 5525.338),
        (1, 5, 8794.685),
        (2, 3, 4452.887),
        (2, 5, 2442.202),
        (3, 4, 5782.213),
        (3, 5, 3031.119),
        (4, 5, 8259.969),
    ]
    .iter()
    .map(|&(a, b, l)| leg(a, b, l, 0.01))
    .collect();
    let heights = [2321.123, 2435.774, 2645.234, 2042.114, 2081.355, 2439.832];
    // A plan first, in the plane, from rough guesses: 4 and 5 on a line, the rest by their distances.
    let level = |l: &Leg| {
        let rise: f64 = heights[l.to] - heights[l.from];
        Leg { length: (l.length * l.length - rise * rise).sqrt(), ..*l }
    };
    let guess = vec![
        [3100.0, 300.0, 0.0],
        [-4500.0, -7400.0, 0.0],
        [-200.0, 2450.0, 0.0],
        [-2000.0, -2200.0, 0.0],
        [600.0, -8200.0, 0.0],
        [0.0, 0.0, 0.0],
    ];
    let flat =
        Network { dimension: 2, points: guess, held: vec![false; 6], legs: legs.iter().map(level).collect() };
    let plan = flat.adjust().expect("a plan");
    let start = plan.points.iter().zip(heights).map(|(p, h)| [p[0], p[1], h]).collect();
    let network = Network { dimension: 3, points: start, held: vec![false; 6], legs };
    let found = network.adjust().expect("it settles");
    assert_eq!(found.adjustment.degrees, 1, "18 coordinates less 6 moves, 13 legs");
    assert!(found.is_weak(), "condition {}", found.condition);
}

#[test]
fn networks_that_hang_loose_are_refused() {
    let (points, legs) = brick();
    let mut held = vec![false; 8];
    held[0] = true;
    let loose = Network { dimension: 3, points: points.clone(), held, legs: legs.clone() };
    assert!(loose.adjust().unwrap_err().to_string().contains("free to turn"));
    let few =
        Network { dimension: 3, points: points.clone(), held: vec![false; 8], legs: legs[..12].to_vec() };
    assert!(few.adjust().is_err(), "12 legs do not hold 8 points");
    let mut wrong = legs;
    wrong[3].length = -1.0;
    assert!(Network { dimension: 3, points, held: vec![false; 8], legs: wrong }.adjust().is_err());
}
