//! Tests of coating by turning; built with `#[cfg(test)]` only.

use super::*;
use crate::liquid::{Chamber, Pools, Posed};
use crate::mesh::samples::{corrugated, cuboid};
use crate::random::Random;
use nalgebra::{Point3, Vector3};

#[track_caller]
fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} is not {expected}");
}

#[test]
fn films_are_those_of_published_sheets() {
    // Spreading rates and films from makers' public guides: 28 % and 18 µm give 15.55 m²/l; 17 m²/l at 32.47 % is 19 µm;
    // 75 % and 150 µm need 200 µm wet; 125 µm wet at 40 % leaves 50; 50 µm at 40 % covers 8 m²/l (worked out).
    near(film::spreading_rate(18.0, 0.28), 15.55, 0.01);
    near(1000.0 * 0.3247 / 17.0, 19.1, 0.01);
    near(film::spreading_rate(19.1, 0.3247), 17.0, 0.01);
    near(film::wet(150.0, 0.75), 200.0, 1e-9);
    near(film::wet(50.0, 0.40), 125.0, 1e-9);
    near(film::wet(60.0, 0.30), 200.0, 1e-9);
    near(film::spreading_rate(50.0, 0.40), 8.0, 1e-9);
    // A litre on a square metre is a millimetre.
    near(film::volume(1.0e6, 1000.0), 1.0e6, 1e-6);
}

fn rig() -> Rig {
    Rig::new(Vector3::z(), Point3::new(200.0, 150.0, 500.0)).unwrap()
}

#[test]
fn the_rig_turns_counter_clockwise_and_raises_its_far_end() {
    let rig = rig();
    let up = |turn, tilt| rig.up(Stand { turn, tilt }).into_inner();
    let close = |a: Vector3<f64>, b: [f64; 3]| assert!((a - Vector3::from(b)).norm() < 1e-12, "{a}");
    close(up(0.0, 0.0), [1.0, 0.0, 0.0]);
    // After a quarter turn what faced +x has gone to the left, and what faced −y is up.
    close(up(90.0, 0.0), [0.0, -1.0, 0.0]);
    close(rig.left(Stand { turn: 90.0, tilt: 0.0 }), [1.0, 0.0, 0.0]);
    close(up(0.0, 90.0), [0.0, 0.0, 1.0]);
    close(up(0.0, -90.0), [0.0, 0.0, -1.0]);
    let half = 0.5_f64.sqrt();
    close(up(180.0, 45.0), [-half, 0.0, half]);
    // 20 kg that lie 100 mm to the left and 5 to the right: 20·9.80665·0.1 − 5·9.80665·0.1.
    let stand = Stand { turn: 90.0, tilt: 0.0 };
    let at = |x: f64| rig.through + Vector3::new(x, 7.0, -3.0);
    let load = rig.load(stand, &[(20.0, at(100.0)), (5.0, at(-100.0))]);
    near(load.mass, 25.0, 1e-12);
    near(load.beside, 60.0, 1e-9);
    near(load.moment, 15.0 * 9.806_65 * 0.1, 1e-9);
    assert!(Rig::new(Vector3::zeros(), Point3::origin()).is_err());
}

/// What is left dry of a chamber, by places spread all over its walls.
fn dry_places(chamber: &Chamber, plan: &Plan, random: &mut Random, each: usize) -> Vec<Point3<f64>> {
    let pools: Vec<Pools<'_>> = plan.stops.iter().map(|s| Pools::new(Posed::new(chamber, s.up))).collect();
    let levels: Vec<Vec<f64>> = pools.iter().map(|p| p.sure_levels(plan.volume)).collect();
    let mut dry = Vec::new();
    for t in 0..chamber.triangles() {
        for _ in 0..each {
            let (mut s, mut u) = (random.share(), random.share());
            if s + u > 1.0 {
                (s, u) = (1.0 - s, 1.0 - u);
            }
            let [a, b, c] = chamber.corners(t);
            let place = Point3::from(a.coords * (1.0 - s - u) + b.coords * s + c.coords * u);
            let wet = |k: usize| pools[k].posed.height_of(&place) <= levels[k][t] + 1e-6;
            if !(0..pools.len()).any(wet) {
                dry.push(place);
            }
        }
    }
    dry
}

fn asked() -> Asked {
    Asked { volume: None, margin: 1.1, floor: 1.0e4, most: 24 }
}

#[test]
fn a_corrugated_chamber_is_wetted_whole_by_a_short_sequence() {
    let mesh = corrugated("A", 5, 200.0, 40.0, 300.0, 900.0);
    let chamber = Chamber::new(&mesh).unwrap();
    let rig = Rig::new(Vector3::z(), chamber.middle).unwrap();
    let candidates = Candidates { turn_step: 15.0, tilts: vec![-45.0, -30.0, -15.0, 0.0, 15.0, 30.0, 45.0] };
    let plan = plan(&chamber, &rig, &candidates, &asked());
    assert_eq!(plan.dry, []);
    assert!((4..=8).contains(&plan.stops.len()), "{} stands", plan.stops.len());
    assert!(dry_places(&chamber, &plan, &mut Random(3), 40).is_empty());
    // What is said of the walls holds: with 99 % of the sure volume none of the stands wets the worst wall whole.
    let worst = plan.best.iter().map(|b| b.2).fold(0.0, f64::max);
    near(plan.volume, 1.1 * worst, 1e-6 * worst);
    let last = plan.stops.last().unwrap();
    assert_eq!(last.done.len(), chamber.names.len());
    near(plan.stops.iter().map(|s| s.first).sum::<f64>(), chamber.area(), 1e-6 * chamber.area());
    // None of the stands is needless.
    for k in 0..plan.stops.len() {
        let mut short = plan.clone();
        short.stops.remove(k);
        assert!(!dry_places(&chamber, &short, &mut Random(4), 400).is_empty(), "stand {k} is needless");
    }
}

#[test]
fn too_little_liquid_leaves_dry_what_the_plan_says() {
    let chamber = Chamber::new(&cuboid("A", [0.0; 3], [400.0, 300.0, 1000.0])).unwrap();
    let rig = rig();
    let candidates = Candidates { turn_step: 30.0, tilts: vec![0.0] };
    // Without tilt, 5 litres in a box lying on its side never reach the middle of its ends.
    let five = Asked { volume: Some(5.0e6), ..asked() };
    let plan = plan(&chamber, &rig, &candidates, &five);
    let names: Vec<&str> = plan.dry.iter().map(|d| chamber.names[d.wall as usize].as_str()).collect();
    assert_eq!(names, ["A/top", "A/bottom"]);
    // By counting places.
    let mut random = Random(9);
    let dry = dry_places(&chamber, &plan, &mut random, 20_000);
    let share = dry.len() as f64 / (20_000.0 * 4.0);
    let ends = 2.0 * 400.0 * 300.0;
    near(plan.dry_area() / ends, share, 0.01);
    assert!(dry.iter().all(|p| p.z < 1.0 || p.z > 999.0));
    // The middle of an end stays dry: the levels are all below the axis.
    assert!(plan.dry.iter().all(|d| d.area > 0.2 * ends / 2.0));
}

#[test]
fn a_plan_is_the_same_again() {
    let chamber = Chamber::new(&corrugated("A", 3, 150.0, 30.0, 200.0, 500.0)).unwrap();
    let rig = Rig::new(Vector3::x(), chamber.middle).unwrap();
    let candidates = Candidates { turn_step: 30.0, tilts: vec![-30.0, 0.0, 30.0] };
    let of = || plan(&chamber, &rig, &candidates, &asked());
    assert_eq!(of(), of());
}
