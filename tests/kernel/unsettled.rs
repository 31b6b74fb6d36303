//! Maquettes from whose readings some are lost: refused with what is missing, or right, or warned of; never wrong
//! without a word.

use nalgebra::Vector3;
use rayon::prelude::*;
use ribwright_kernel::maquette::{
    Distance, Face, Height, Options, Part, Readings, Solved, Source, Wanted, Why, findings, solve,
};
use ribwright_tests::Random;
use ribwright_tests::maquettes::{TrueMaquette, made_up_maquette};

/// Sets of readings from which some are lost.
const SETS: u64 = 360;
/// Refusals after which the readings asked for should have settled it.
const ROUNDS: usize = 8;
/// Exact readings give corners within this, mm.
const EXACT: f64 = 1.0e-3;
/// Rounded ones within this multiple of the longest 95 % semi-axis (5.6 standard deviations), and this, mm.
const WITHIN: (f64, f64) = (2.0, 0.05);

/// How readings get lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Loss {
    /// A share of the distances, by chance.
    Share,
    /// All but about as many as there are unknowns.
    Few,
    /// Those by which some points could not lie on the other side of a plane of three.
    Plane,
    /// Those by which a flap could not turn about two points.
    Hinge,
    /// All of one point but three, or those to one face.
    Point,
    /// That faces are flat, of some, and a few distances.
    Flat,
}

const LOSSES: [Loss; 6] = [Loss::Share, Loss::Few, Loss::Plane, Loss::Hinge, Loss::Point, Loss::Flat];

/// What came of a set.
#[derive(Debug, Clone, PartialEq)]
enum Came {
    /// Solved rightly; with a warning that there may be another figure?
    Right { warned: bool },
    /// Solved to another figure with a warning, then, with the readings the warning named, rightly.
    AfterWarning,
    /// Solved to another figure, with a warning.
    Warned,
    /// Refused to the end, with the last message.
    Refused(String),
    /// Refused without a reading that would help, or for a contradiction that is none.
    Senseless(String),
    /// Solved to another figure without a word.
    Wrong(String),
}

/// Drops the distances between some points and all others but those of `kept`.
fn part(readings: &mut Readings, some: &[usize], kept: &[usize]) {
    let is_cut = |[a, b]: [usize; 2]| {
        let of = |p: usize| (some.contains(&p), kept.contains(&p));
        let (a, b) = (of(a), of(b));
        !a.1 && !b.1 && a.0 != b.0
    };
    readings.distances.retain(|d| !is_cut(d.between));
}

/// Drops faces, but none by which a row of `outside` says where out is: that and another face of each element stay.
fn drop_faces(readings: &mut Readings, mut is_dropped: impl FnMut(&Face) -> bool) {
    let outside = readings.outside.clone();
    let all = std::mem::take(&mut readings.faces);
    for face in all {
        let held = outside.iter().any(|o| o.iter().all(|q| face.corners.contains(q)));
        let of = readings.faces.iter().filter(|f| f.element == face.element).count();
        if held || of < 2 || !is_dropped(&face) {
            readings.faces.push(face);
        }
    }
}

fn lose(truth: &TrueMaquette, readings: &mut Readings, loss: Loss, random: &mut Random) {
    let n = readings.points.len();
    let drop_to = |readings: &mut Readings, keep: usize, random: &mut Random| {
        while readings.distances.len() > keep {
            let k = random.below(readings.distances.len());
            readings.distances.remove(k);
        }
    };
    let count = readings.distances.len();
    match loss {
        Loss::Share => {
            let share = random.between(0.4, 0.95);
            drop_to(readings, (share * count as f64) as usize, random);
        }
        Loss::Few => {
            let flats: usize = readings.faces.iter().map(|f| f.corners.len() - 3).sum();
            drop_to(readings, (3 * n - 6).saturating_sub(flats) + random.below(7), random);
        }
        Loss::Plane => {
            let face = readings.faces[random.below(readings.faces.len())].corners.clone();
            let mut three: Vec<usize> = if random.percent(50) { face } else { (0..n).collect() };
            while three.len() > 3 {
                let k = random.below(three.len());
                three.remove(k);
            }
            let [a, b, c] = [0, 1, 2].map(|k| truth.points[three[k]]);
            let normal = (b - a).cross(&(c - a)).normalize();
            let on: Vec<usize> = (0..n).filter(|&p| normal.dot(&(truth.points[p] - a)).abs() < 0.5).collect();
            let off: Vec<usize> = (0..n).filter(|p| !on.contains(p)).collect();
            let first = random.below(off.len().max(1));
            let some: Vec<usize> = off.iter().copied().skip(first).take(1 + random.below(5)).collect();
            part(readings, &some, &on);
        }
        Loss::Hinge => {
            let face = readings.faces[random.below(readings.faces.len())].corners.clone();
            let k = random.below(face.len());
            let hinge = [face[k], face[(k + 1) % face.len()]];
            let some: Vec<usize> = face.into_iter().filter(|p| !hinge.contains(p)).collect();
            part(readings, &some, &hinge);
        }
        Loss::Point => {
            let p = random.below(n);
            let face = readings.faces[random.below(readings.faces.len())].corners.clone();
            let to = |d: &Distance| {
                (d.between[0] == p).then_some(d.between[1]).or((d.between[1] == p).then_some(d.between[0]))
            };
            let mut left = 3;
            let one_face = random.percent(50) && !face.contains(&p);
            readings.distances.retain(|d| match to(d) {
                None => true,
                Some(q) if one_face => face.contains(&q),
                Some(_) if left > 0 => {
                    left -= 1;
                    true
                }
                Some(_) => false,
            });
            if random.percent(50) {
                drop_faces(readings, |f| f.corners.contains(&p));
            }
        }
        Loss::Flat => {
            drop_faces(readings, |_| random.percent(50));
            drop_to(readings, (random.between(0.6, 1.0) * count as f64) as usize, random);
        }
    }
}

/// The farthest a corner is from where it should be, as a share of what is allowed there.
fn off(truth: &TrueMaquette, solved: &Solved, exact: bool) -> (f64, f64) {
    let all = (0..solved.parts.len()).flat_map(|part| truth.laid_over(solved, part));
    all.map(|(p, d)| {
        let allowed = if exact { EXACT } else { WITHIN.0 * solved.points[p].axes[0] + WITHIN.1 };
        (d.norm() / allowed, d.norm())
    })
    .fold((0.0, 0.0), |a, b| if a.0 > b.0 { a } else { b })
}

/// Asks, takes what is asked for, and asks again.
fn asked(seed: u64) -> (Loss, usize, Came) {
    let mut random = Random::new(seed + 9_000);
    let (exact, heights) = (seed.is_multiple_of(2), seed % 5 == 4);
    let truth = made_up_maquette(&mut random, heights);
    let mut readings = if exact { truth.readings.clone() } else { truth.rounded(0.5) };
    let read = |x: f64| if exact { x } else { (x * 2.0).round() / 2.0 };
    let deviation = if exact { 0.3 } else { 0.5 / 12.0_f64.sqrt() };
    let loss = LOSSES[(seed / 2) as usize % LOSSES.len()];
    lose(&truth, &mut readings, loss, &mut random);
    if random.percent(30) {
        readings.outside.clear();
    }
    let source = Source::default;
    let take = |readings: &mut Readings, wanted: Wanted| match wanted {
        Wanted::Distance(between) => {
            let length = read((truth.points[between[0]] - truth.points[between[1]]).norm());
            readings.distances.push(Distance { between, length, deviation, source: source() });
        }
        Wanted::Height(point) => {
            let height = read(truth.points[point].z);
            readings.heights.push(Height { point, height, deviation, source: source() });
        }
        Wanted::Outside(three) => readings.outside.push(truth_outside(&truth, three)),
    };
    let mut last = String::new();
    let mut after_warning = false;
    for rounds in 0..ROUNDS {
        let refusal = match solve(&readings, &Options { flat: 0.02, ..Options::default() }) {
            Ok(solved) => {
                let (share, mm) = off(&truth, &solved, exact);
                let codes = ["unproven", "near-figure", "misreading", "strained"];
                let said = findings(&readings, &solved);
                let warned = said.iter().any(|f| codes.contains(&f.code.as_str()));
                // A warning says what would settle it: that must, too.
                let proves =
                    |part: &Part| part.proves.iter().copied().map(Wanted::Distance).collect::<Vec<_>>();
                let sure =
                    solved.parts.iter().flat_map(|p| proves(p).into_iter().chain(p.near.and_then(|n| n.1)));
                let sure: Vec<Wanted> = sure.collect();
                if share >= 1.0 && warned && !sure.is_empty() && rounds + 1 < ROUNDS {
                    after_warning = true;
                    sure.into_iter().for_each(|wanted| take(&mut readings, wanted));
                    continue;
                }
                let came = match (share < 1.0, warned) {
                    (true, _) if after_warning => Came::AfterWarning,
                    (true, warned) => Came::Right { warned },
                    (false, true) => Came::Warned,
                    (false, false) => Came::Wrong(format!(
                        "{seed} {loss:?}: {mm:.2} mm off, {share:.1} times what is allowed"
                    )),
                };
                return (loss, rounds, came);
            }
            Err(refusal) => refusal,
        };
        last = format!("{seed} {loss:?}: {} ({})", refusal.error, refusal.error.remedy_text().unwrap_or("-"));
        if refusal.why == Why::Wrong || refusal.wanted.is_empty() {
            return (loss, rounds, Came::Senseless(last));
        }
        refusal.wanted.into_iter().for_each(|wanted| take(&mut readings, wanted));
    }
    (loss, ROUNDS, Came::Refused(last))
}

/// The three points in counter-clockwise order as seen from outside of the true element.
fn truth_outside(truth: &TrueMaquette, three: [usize; 3]) -> [usize; 3] {
    let [a, b, c] = three.map(|p| truth.points[p]);
    let faces = &truth.readings.faces;
    let face = faces.iter().find(|f| three.iter().all(|p| f.corners.contains(p)));
    let of: Vec<usize> = match face {
        Some(face) => {
            let same = faces.iter().filter(|f| f.element == face.element);
            same.flat_map(|f| f.corners.iter().copied()).collect()
        }
        // Asked of a maquette without faces: of all its points.
        None => (0..truth.points.len()).collect(),
    };
    let middle = of.iter().map(|&p| truth.points[p].coords).sum::<Vector3<f64>>() / of.len() as f64;
    let outward = (b - a).cross(&(c - a)).dot(&(a.coords - middle));
    if outward > 0.0 { three } else { [three[0], three[2], three[1]] }
}

#[test]
fn what_is_not_settled_is_refused_until_the_readings_asked_for_are_taken() {
    let results: Vec<(Loss, usize, Came)> = (0..SETS).into_par_iter().map(asked).collect();
    let count = |f: &dyn Fn(&(Loss, usize, Came)) -> bool| results.iter().filter(|r| f(r)).count();
    for loss in LOSSES {
        let of = |f: &dyn Fn(&(Loss, usize, Came)) -> bool| count(&|r| r.0 == loss && f(r));
        println!(
            "{loss:?}: {} sets; at once {}, right {} ({} of them warned of), right after a warning {}, \
             wrong and warned of {}, refused {}, \
             senseless {}, wrong {}; rounds {:?}",
            of(&|_| true),
            of(&|r| r.1 == 0),
            of(&|r| matches!(r.2, Came::Right { .. })),
            of(&|r| r.2 == Came::Right { warned: true }),
            of(&|r| r.2 == Came::AfterWarning),
            of(&|r| r.2 == Came::Warned),
            of(&|r| matches!(r.2, Came::Refused(_))),
            of(&|r| matches!(r.2, Came::Senseless(_))),
            of(&|r| matches!(r.2, Came::Wrong(_))),
            (0..=ROUNDS).map(|k| of(&|r| r.1 == k)).collect::<Vec<_>>(),
        );
    }
    for r in &results {
        if let Came::Refused(last) | Came::Wrong(last) | Came::Senseless(last) = &r.2 {
            println!("  {last}");
        }
    }
    assert_eq!(count(&|r| matches!(r.2, Came::Wrong(_))), 0, "never wrong without a warning");
    assert_eq!(count(&|r| matches!(r.2, Came::Senseless(_))), 0, "each refusal says what would help");
    let right = count(&|r| matches!(r.2, Came::Right { .. }));
    let after = count(&|r| r.2 == Came::AfterWarning);
    let unsure = count(&|r| r.2 == Came::Right { warned: true });
    println!("{SETS}: right {right}, {unsure} of them warned of; right after a warning {after}");
    assert!((right + after) * 100 >= results.len() * 99, "{right} and {after} of {SETS}");
    // Warnings are for those in doubt.
    assert!(unsure * 4 <= results.len(), "{unsure} of {SETS} are right and warned of");
}
