//! Maquettes whose corners are known: ellipsoids, misreadings, and what must be refused.

use nalgebra::{Matrix3, Vector3};
use rayon::prelude::*;
use ribwright_kernel::maquette::{
    Distance, Height, Measured, Options, Readings, Solved, Source, Wanted, findings, solve,
};
use ribwright_tests::Random;
use ribwright_tests::maquettes::{TrueMaquette, made_up_maquette};

const MAQUETTES: u64 = 500;
/// Sets of readings from which some are lost.
const SETS: u64 = 60;
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
    assert!(share(0.05, |r| r.1).0 >= 0.95);
}

/// What came of a set of readings from which some were lost.
#[derive(Debug, Clone, PartialEq)]
enum Came {
    /// Solved rightly after so many refusals.
    Right(usize),
    /// Solved to another figure, with the warning that there may be others.
    Warned,
    /// Refused to the end, with the last message.
    Refused(String),
    /// Solved to another figure without a word.
    Wrong(String),
}

/// Asks, takes what is asked for, and asks again. Readings are exact.
fn asked(seed: u64) -> Came {
    let mut random = Random::new(seed + 9_000);
    let truth = made_up_maquette(&mut random, false);
    let mut readings = truth.readings.clone();
    // Readings get lost until it cannot be settled, or nearly so.
    let keep = readings.points.len() * 2 + random.below(readings.points.len());
    while readings.distances.len() > keep {
        let k = random.below(readings.distances.len());
        readings.distances.remove(k);
    }
    if random.percent(30) {
        readings.outside.clear();
    }
    let mut last = String::new();
    for rounds in 0..6 {
        let refusal = match solve(&readings, &Options { flat: 0.02, ..Options::default() }) {
            Ok(solved) => {
                let parts = 0..solved.parts.len();
                let off = parts.flat_map(|part| truth.laid_over(&solved, part)).map(|(_, d)| d.norm());
                let worst = off.fold(0.0, f64::max);
                let warned = findings(&readings, &solved).iter().any(|f| f.code == "unproven");
                return match (worst < 1.0e-3, warned) {
                    (true, _) => Came::Right(rounds),
                    (false, true) => Came::Warned,
                    (false, false) => Came::Wrong(format!("{seed}: {worst:.1} mm off")),
                };
            }
            Err(refusal) => refusal,
        };
        last = format!("{seed}: {}", refusal.error);
        for wanted in refusal.wanted {
            match wanted {
                Wanted::Distance(between) => readings.distances.push(Distance {
                    between,
                    length: (truth.points[between[0]] - truth.points[between[1]]).norm(),
                    deviation: 0.3,
                    source: Source::default(),
                }),
                Wanted::Height(_) => panic!("{seed}: no heights were read"),
                Wanted::Outside(three) => readings.outside.push(truth_outside(&truth, three)),
            }
        }
    }
    Came::Refused(last)
}

#[test]
fn what_is_not_settled_is_refused_until_the_readings_asked_for_are_taken() {
    let results: Vec<Came> = (0..SETS).into_par_iter().map(asked).collect();
    let count = |f: fn(&Came) -> bool| results.iter().filter(|r| f(r)).count();
    let right = count(|r| matches!(r, Came::Right(_)));
    let once = count(|r| matches!(r, Came::Right(0 | 1)));
    let warned = count(|r| *r == Came::Warned);
    println!("{SETS}: right {right}, {once} of them after one refusal at most; warned {warned}");
    for r in &results {
        if let Came::Refused(last) | Came::Wrong(last) = r {
            println!("  {last}");
        }
    }
    assert_eq!(count(|r| matches!(r, Came::Wrong(_))), 0, "never wrong without a warning");
    assert!(right * 10 >= results.len() * 9, "{right} of {SETS}");
}

/// The three points in counter-clockwise order as seen from outside of the true element.
fn truth_outside(truth: &TrueMaquette, three: [usize; 3]) -> [usize; 3] {
    let [a, b, c] = three.map(|p| truth.points[p]);
    let face =
        truth.readings.faces.iter().find(|f| three.iter().all(|p| f.corners.contains(p))).expect("a face");
    let of: Vec<usize> = truth
        .readings
        .faces
        .iter()
        .filter(|f| f.element == face.element)
        .flat_map(|f| f.corners.iter().copied())
        .collect();
    let middle = of.iter().map(|&p| truth.points[p].coords).sum::<Vector3<f64>>() / of.len() as f64;
    let outward = (b - a).cross(&(c - a)).dot(&(a.coords - middle));
    if outward > 0.0 { three } else { [three[0], three[2], three[1]] }
}

#[test]
fn the_same_readings_give_the_same_figures() {
    let (_, readings, options) = measured(17);
    let a = solve(&readings, &options).expect("solves");
    let b = solve(&readings, &options).expect("solves");
    assert_eq!(a, b);
}
