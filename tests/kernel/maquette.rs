//! Maquettes whose corners are known: ellipsoids and misreadings.

use nalgebra::Matrix3;
use rayon::prelude::*;
use ribwright_kernel::maquette::{Height, Measured, Options, Readings, Solved, Source, Wanted, solve};
use ribwright_tests::Random;
use ribwright_tests::maquettes::{TrueMaquette, made_up_maquette};

const MAQUETTES: u64 = 500;
/// χ² with 3 degrees of freedom at 95 %, of every printed table.
const WITHIN: f64 = 7.815;

/// A maquette with its readings rounded to half a millimetre: flat faces that are said to be flat, or faces as flat
/// as hands make them, said to be so.
fn measured(seed: u64) -> (TrueMaquette, Readings, Options) {
    let mut random = Random::new(seed);
    let heights = seed.is_multiple_of(3);
    let mut truth = made_up_maquette(&mut random, heights);
    let flat = if seed.is_multiple_of(2) { 0.02 } else { 0.2 };
    if flat > 0.1 {
        truth.bend(&mut random, flat);
    }
    let readings = truth.rounded(0.5);
    (truth, readings, Options { flat, ..Options::default() })
}

/// Solves, taking heights that are asked for.
fn solved(truth: &TrueMaquette, mut readings: Readings, options: &Options) -> Result<Solved, String> {
    for _ in 0..3 {
        let refusal = match solve(&readings, options) {
            Ok(solved) => return Ok(solved),
            Err(refusal) => refusal,
        };
        let [Wanted::Height(point)] = refusal.wanted[..] else { return Err(refusal.error.to_string()) };
        let height = (truth.points[point].z * 2.0).round() / 2.0;
        let deviation = 0.5 / 12.0_f64.sqrt();
        readings.heights.push(Height { point, height, deviation, source: Source::default() });
    }
    Err("asks for heights again and again".to_owned())
}

#[test]
fn true_corners_lie_inside_their_ellipsoids_95_times_of_100() {
    let results: Vec<Result<(usize, usize), String>> = (0..MAQUETTES)
        .into_par_iter()
        .map(|seed| {
            let (truth, readings, options) = measured(seed);
            let solved = solved(&truth, readings, &options).map_err(|e| format!("{seed}: {e}"))?;
            let (mut inside, mut all) = (0, 0);
            for part in 0..solved.parts.len() {
                for (p, off) in truth.laid_over(&solved, part) {
                    let inverse: Matrix3<f64> =
                        solved.points[p].covariance.try_inverse().ok_or(format!("{seed}: flat ellipsoid"))?;
                    all += 1;
                    inside += usize::from(off.dot(&(inverse * off)) <= WITHIN);
                    if off.norm() > f64::max(5.0, 3.0 * solved.points[p].axes[0]) {
                        return Err(format!("{seed}: {} is {:.1} mm off", solved.points[p].name, off.norm()));
                    }
                }
            }
            Ok((inside, all))
        })
        .collect();
    let failed: Vec<&String> = results.iter().filter_map(|r| r.as_ref().err()).collect();
    let (inside, all) =
        results.iter().flatten().fold((0, 0), |sum, counts| (sum.0 + counts.0, sum.1 + counts.1));
    let share = inside as f64 / all as f64;
    println!("{inside} of {all} corners inside: {:.2} %; {} not solved", 100.0 * share, failed.len());
    failed.iter().take(20).for_each(|f| println!("  {f}"));
    assert!((0.93..=0.97).contains(&share), "{share}");
    assert!(failed.is_empty(), "{failed:#?}");
}

#[test]
fn a_misreading_of_10_mm_is_named() {
    let results: Vec<Option<(f64, bool, bool, bool)>> = (0..MAQUETTES)
        .into_par_iter()
        .map(|seed| {
            let (_, mut readings, options) = measured(seed);
            let clean = solve(&readings, &options).ok()?;
            if clean.parts.iter().map(|p| p.degrees).sum::<usize>() <= 3 {
                return None;
            }
            let mut random = Random::new(seed + 70_000);
            let k = random.below(readings.distances.len());
            let redundancy = clean.readings.iter().find(|c| c.of == Measured::Distance(k))?.redundancy;
            readings.distances[k].length += random.one(&[-10.0, 10.0]);
            let solved = match solve(&readings, &options) {
                Ok(solved) => solved,
                Err(e) => {
                    println!("  {seed}: r {redundancy:.2}: {}", e.error);
                    return Some((redundancy, false, false, false));
                }
            };
            let of = |c: &ribwright_kernel::maquette::Checked| c.of == Measured::Distance(k);
            let first = solved.readings.iter().any(|c| of(c) && c.flagged);
            let with = solved
                .readings
                .iter()
                .any(|c| c.flagged && c.or_else.iter().any(|&o| of(&solved.readings[o])));
            if !(first || with) {
                let flagged: Vec<_> =
                    solved.readings.iter().filter(|c| c.flagged).map(|c| (&c.name, c.residual)).collect();
                println!("  {seed}: r {redundancy:.2}, missed {k}; flagged {flagged:?}");
            }
            Some((redundancy, first, first || with, true))
        })
        .collect();
    let all: Vec<_> = results.into_iter().flatten().collect();
    let share = |least: f64, named: fn(&(f64, bool, bool, bool)) -> bool| {
        let of: Vec<_> = all.iter().filter(|r| r.0 >= least).collect();
        (of.iter().filter(|r| named(r)).count() as f64 / of.len() as f64, of.len())
    };
    for least in [0.0, 0.05, 0.1, 0.3] {
        let (alone, count) = share(least, |r| r.1);
        let (with, _) = share(least, |r| r.2);
        println!(
            "redundancy from {least}: {count}; named {:.1} %, with rivals {:.1} %",
            100.0 * alone,
            100.0 * with
        );
    }
    assert!(share(0.0, |r| r.1).0 >= 0.95, "named");
}

#[test]
fn the_same_readings_give_the_same_figures() {
    let (_, readings, options) = measured(17);
    let a = solve(&readings, &options).expect("solves");
    let b = solve(&readings, &options).expect("solves");
    assert_eq!(a, b);
}
