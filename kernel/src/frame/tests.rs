//! Frames against closed forms, textbooks and benchmarks, built with `#[cfg(test)]` only.

use super::model::*;
use super::stress::{in_tube, worst};
use super::{Mode, modes, solve};
use crate::tube::{Material, Tube, material_named};
use nalgebra::{Matrix3, Point3, Vector3, Vector6};
use std::f64::consts::{PI, TAU};

type V = Vector3<f64>;

#[track_caller]
fn near(found: f64, wanted: f64, relative: f64) {
    assert!((found / wanted - 1.0).abs() <= relative, "{found} is not {wanted}");
}

fn steel() -> &'static Material {
    material_named("S355").expect("known")
}

/// The tube of the reference figures.
fn tube() -> Tube {
    Tube::new(114.3, 5.0).expect("possible")
}

fn upright(length: f64, bar: Bar, members: u32) -> (Model, usize) {
    let points = [Point3::origin(), Point3::new(0.0, 0.0, length)];
    let (mut model, at) = Model::crooked(&points, bar, length / f64::from(members)).expect("possible");
    model.supports.push(Support::fixed(0));
    (model, at[1])
}

fn push(node: usize, x: f64, y: f64, z: f64) -> Load {
    Load::Node { node, force: V::new(x, y, z), moment: V::zeros() }
}

fn body(node: usize, mass: f64, centre: Point3<f64>) -> Body {
    Body { name: "body".into(), node, mass, centre, inertia: Matrix3::zeros() }
}

/// PL³/3EI, wL⁴/8EI, ML²/2EI (Roark, from memory; exact): 39.5404 mm for 1 kN, 59.3107 mm for 1 kN/m, 114.3 × 5, 4 m.
#[test]
fn cantilevers_bend_as_the_formulas_say_with_any_number_of_members() {
    for members in [1, 2, 7, 40] {
        let (model, top) = upright(4000.0, Bar::slender(&tube(), steel()), members);
        let tip = solve(&model, &[push(top, 1000.0, 0.0, 0.0)]).expect("held");
        near(tip.nodes[top].x, 39.5404, 2e-6);
        near(1000.0 / tip.nodes[top].x, 25.2906, 2e-6);
        assert!(tip.residual < 1e-9, "{}", tip.residual);
        let lines: Vec<Load> = (0..model.members.len())
            .map(|member| Load::Line { member, force: [V::new(0.0, 1.0, 0.0); 2] })
            .collect();
        near(solve(&model, &lines).expect("held").nodes[top].y, 59.3107, 2e-6);
        let turn = Load::Node { node: top, force: V::zeros(), moment: V::new(0.0, 1.0e6, 0.0) };
        let (l, ei): (f64, f64) = (4000.0, 210_000.0 * tube().second_moment());
        let turned = solve(&model, &[turn]).expect("held");
        near(turned.nodes[top].x, 1.0e6 * l * l / (2.0 * ei), 1e-8);
        near(turned.nodes[top][4], 1.0e6 * l / ei, 1e-8);
        // A load that grows from nothing at the foot: 11 w L⁴/120 EI; seen from the top, w L⁴/30 EI.
        if members == 1 {
            let grow = |force| solve(&model, &[Load::Line { member: 0, force }]).expect("held").nodes[top].x;
            let unit = l.powi(4) / ei;
            near(grow([V::zeros(), V::new(1.0, 0.0, 0.0)]), 11.0 / 120.0 * unit, 1e-9);
            near(grow([V::new(1.0, 0.0, 0.0), V::zeros()]), unit / 30.0, 1e-9);
        }
    }
}

/// A beam that swings in one plane only: all other freedoms held.
fn in_plane(ratio: f64, members: u32) -> (Model, f64) {
    let bar = Bar::slender(&tube(), steel());
    let (mut model, top) = upright(4000.0, bar, members);
    let mass = bar.mass_per_mm() * 4000.0;
    model.bodies.push(body(top, ratio * mass, model.nodes[top].at));
    for node in 1..model.nodes.len() {
        model.supports.push(Support {
            node,
            fixed: [false, true, true, true, false, true],
            springs: [0.0; 6],
        });
    }
    let unit =
        (210_000.0 * tube().second_moment() * 1000.0 / (bar.mass_per_mm() * 4000.0_f64.powi(4))).sqrt();
    (model, unit / TAU)
}

/// Roots b² of 1 + cos b cosh b + ratio b (cos b sinh b − sin b cosh b) = 0, by bisection; divided by cosh b, which
/// keeps the signs and stays small.
fn roots(ratio: f64, count: usize) -> Vec<f64> {
    let f = |b: f64| 1.0 / b.cosh() + b.cos() + ratio * b * (b.cos() * b.tanh() - b.sin());
    let mut found = Vec::new();
    let mut low = 0.05;
    while found.len() < count {
        let high = low + 0.01;
        if f(low) * f(high) < 0.0 {
            let (mut a, mut b) = (low, high);
            for _ in 0..80 {
                let middle = (a + b) / 2.0;
                if f(a) * f(middle) <= 0.0 { b = middle } else { a = middle }
            }
            found.push(a * a);
        }
        low = high;
    }
    found
}

#[test]
fn cantilevers_with_a_mass_swing_as_the_transcendental_roots_say() {
    // b² worked out apart from this crate; the last of a row from a published table (Mathematical Problems in
    // Engineering 2017, 1568019, table 1) for a mass like the beam's own: 1.557298 16.25009 50.89584 105.1983 179.2320.
    for (ratio, b2) in [
        (0.0, 3.516_015_3),
        (0.1, 2.967_838_3),
        (0.2, 2.612_747_9),
        (0.5, 2.016_299_0),
        (1.0, 1.557_297_9),
        (2.0, 1.158_197_1),
        (5.0, 0.756_937_3),
        (10.0, 0.541_375_0),
        (100.0, 0.173_001_3),
    ] {
        near(roots(ratio, 1)[0], b2, 4e-7);
        let (model, unit) = in_plane(ratio, 60);
        let found = modes(&model, 4).expect("held");
        for (mode, root) in found.iter().zip(roots(ratio, 4)) {
            near(mode.frequency / unit, root, 1e-6);
            assert!(mode.residual < 1e-8, "{}", mode.residual);
        }
    }
    let (model, unit) = in_plane(1.0, 60);
    let printed = [(1.557298, 5e-7), (16.25009, 5e-6), (50.89584, 5e-6), (105.1983, 5e-5), (179.2320, 5e-5)];
    for (mode, (printed, half)) in modes(&model, 5).expect("held").iter().zip(printed) {
        // What 60 members leave is below 2e-6 of the fifth mode.
        let found = mode.frequency / unit;
        assert!((found - printed).abs() <= half + 2e-6 * printed, "{found} is printed as {printed}");
    }
    let squares = [3.516_015_268_5, 22.034_491_564_7, 61.697_214_413_5, 120.901_916_052_3];
    for (found, wanted) in roots(0.0, 4).into_iter().zip(squares) {
        near(found, wanted, 1e-10);
    }
    // Measured and computed pairs of a published bare cantilever (Applied Sciences 9(15) 2996, table 1).
    let published = [19.64, 123.07, 344.64, 675.31, 1116.33];
    let (model, _) = in_plane(0.0, 40);
    for (mode, (published, k)) in modes(&model, 5).expect("held").iter().zip(published.into_iter().zip(0..)) {
        let first = modes(&model, 1).expect("held")[0].frequency;
        near(mode.frequency / first, published / 19.64, if k == 0 { 1e-12 } else { 6e-4 });
    }
}

#[test]
fn consistent_masses_come_from_above_with_the_fourth_power() {
    let error = |members| {
        let (model, unit) = in_plane(0.5, members);
        modes(&model, 2)
            .expect("held")
            .iter()
            .zip(roots(0.5, 2))
            .map(|(m, r)| m.frequency / unit / r - 1.0)
            .collect()
    };
    let [four, eight, sixteen]: [Vec<f64>; 3] = [4, 8, 16].map(error);
    for k in 0..2 {
        assert!(
            four[k] > eight[k] && eight[k] > sixteen[k] && sixteen[k] > 0.0,
            "{four:?} {eight:?} {sixteen:?}"
        );
        let fall = four[k] / eight[k];
        assert!((13.0..19.0).contains(&fall), "halving the members divides the error by {fall}");
    }
}

/// f1 of 114.3 × 5, 4 m, its mass rounded to 13.478 kg/m: 6.99756 Hz bare; with 50, 100 and 200 kg exact 3.19432, 2.38365, 1.73534 Hz, with 33/140 of the
/// tube's mass at the top 3.19623, 2.38409, 1.73543, massless 3.57943, 2.53104, 1.78972.
#[test]
fn rayleighs_share_of_the_mass_is_close_and_never_exact() {
    let frequency = |bar: Bar, mass: f64| {
        let (mut model, top) = upright(4000.0, bar, 24);
        model.bodies.push(body(top, mass, model.nodes[top].at));
        modes(&model, 1).expect("held")[0].frequency
    };
    let bar = Bar { density: 13.478e6 / tube().area(), ..Bar::slender(&tube(), steel()) };
    let own = bar.mass_per_mm() * 4000.0;
    near(frequency(bar, 0.0), 6.99756, 1e-6);
    let massless = Bar { density: 0.0, ..bar };
    for (mass, exact, share, none) in [
        (50.0, 3.19432, 3.19623, 3.57943),
        (100.0, 2.38365, 2.38409, 2.53104),
        (200.0, 1.73534, 1.73543, 1.78972),
    ] {
        near(frequency(bar, mass), exact, 2e-6);
        near(frequency(massless, mass + 33.0 / 140.0 * own), share, 2e-6);
        near(frequency(massless, mass), none, 2e-6);
    }
    for (ratio, error) in [(0.0, 0.015), (0.1, 0.0072), (1.0, 0.0005)] {
        let high = frequency(massless, (ratio + 33.0 / 140.0) * own) / frequency(bar, ratio * own) - 1.0;
        assert!((high - error).abs() < error * 0.1, "{high} for {error}");
    }
}

fn frame(nodes: &[[f64; 3]], members: &[[usize; 2]], bar: Bar, fixed: &[usize]) -> Model {
    Model {
        nodes: (1..)
            .zip(nodes)
            .map(|(k, p)| Node { name: format!("node {k}"), at: Point3::from(*p) })
            .collect(),
        bars: vec![bar],
        members: members.iter().map(|&nodes| Member { nodes, bar: 0, side: None }).collect(),
        supports: fixed.iter().map(|n| Support::fixed(*n)).collect(),
        ..Model::default()
    }
}

fn section(young: f64, shear: f64, area: f64, inertia: [f64; 2], torsion: f64) -> Bar {
    Bar { young, shear, area, inertia, torsion, shear_area: None, density: 0.0, rotary: false, tube: None }
}

#[track_caller]
fn prints(found: &Vector6<f64>, printed: [&str; 6]) {
    for (k, text) in printed.into_iter().enumerate() {
        let wanted: f64 = text.parse().expect("a number");
        let (digits, power) = text.split_once('e').unwrap_or((text, "0"));
        let decimals = digits.split('.').nth(1).map_or(0, str::len);
        let power: i32 = power.parse().expect("a power");
        let half = 0.5 * 10.0_f64.powi(power - i32::try_from(decimals).expect("few"));
        assert!((found[k] - wanted).abs() <= half * (1.0 + 1e-9), "{k}: {} is printed as {text}", found[k]);
    }
}

/// D. L. Logan, "A first course in the finite element method", 4th edition, example 5.8 (kip and inch): three members from
/// one corner. Its displacements as public test files of a structural library quote them.
#[test]
fn a_textbook_corner_of_three_members_moves_as_printed() {
    let bar = section(30_000.0, 10_000.0, 10.0, [100.0; 2], 50.0);
    let nodes = [[0.0; 3], [-100.0, 0.0, 0.0], [0.0, 0.0, -100.0], [0.0, -100.0, 0.0]];
    let model = frame(&nodes, &[[1, 0], [2, 0], [3, 0]], bar, &[1, 2, 3]);
    let load = Load::Node { node: 0, force: V::new(0.0, -50.0, 0.0), moment: V::new(-1000.0, 0.0, 0.0) };
    let solved = solve(&model, &[load]).expect("held");
    prints(&solved.nodes[0], ["7.098e-5", "-0.014", "-2.352e-3", "-3.996e-3", "1.78e-5", "-1.033e-4"]);
    let sum: V = solved.reactions.iter().map(|(_, r)| r.fixed_rows::<3>(0).into_owned()).sum();
    assert!((sum - V::new(0.0, 50.0, 0.0)).norm() < 1e-9 * 50.0, "{sum}");
}

/// A. J. M. Ferreira, "MATLAB codes for finite element analysis", first example of frames in space (kN and m), as
/// a public test file of a structural library quotes the book; Iy and Iz differ.
#[test]
fn a_second_textbook_corner_moves_as_printed() {
    let bar = section(210.0e6, 84.0e6, 0.02, [10.0e-5, 20.0e-5], 5.0e-5);
    let nodes = [[0.0; 3], [3.0, 0.0, 0.0], [0.0, 0.0, -3.0], [0.0, -4.0, 0.0]];
    let model = frame(&nodes, &[[0, 1], [0, 2], [0, 3]], bar, &[1, 2, 3]);
    let solved = solve(&model, &[push(0, -10.0, 0.0, 20.0)]).expect("held");
    prints(&solved.nodes[0], ["-7.05e-6", "-0.07e-6", "14.18e-6", "1.45e-6", "1.75e-6", "1.14e-6"]);
}

fn frequencies(all: &[Mode]) -> Vec<f64> {
    all.iter().map(|m| m.frequency).collect()
}

/// NAFEMS benchmark FV4, cantilever with off-centre point masses. Frequencies (closed form) 1.723, 1.727, 7.413, 9.972,
/// 18.155, 26.957 Hz and the masses of 10,000 and 1,000 kg as public manuals print them; length 10 m, solid round bar
/// 0.5 m, arms of 2 m from memory (the frequencies would not be met with others).
#[test]
fn off_centre_masses_swing_as_the_benchmark_says() {
    let radius: f64 = 250.0;
    let second = PI * radius.powi(4) / 4.0;
    let bar = Bar {
        density: 8000.0,
        rotary: true,
        ..section(200_000.0, 200_000.0 / 2.6, PI * radius * radius, [second; 2], 2.0 * second)
    };
    let points = [Point3::origin(), Point3::new(10_000.0, 0.0, 0.0)];
    let (mut model, at) = Model::crooked(&points, bar, 1000.0).expect("possible");
    model.supports.push(Support::fixed(0));
    let by_arms = {
        let mut linked = model.clone();
        for (name, y, mass) in [("first", 2000.0, 10_000.0), ("second", -2000.0, 1000.0)] {
            linked.nodes.push(Node { name: name.into(), at: Point3::new(10_000.0, y, 0.0) });
            let node = linked.nodes.len() - 1;
            linked.links.push(Link { node, to: at[1] });
            linked.bodies.push(body(node, mass, linked.nodes[node].at));
        }
        frequencies(&modes(&linked, 6).expect("held"))
    };
    model.bodies.push(body(at[1], 10_000.0, Point3::new(10_000.0, 2000.0, 0.0)));
    model.bodies.push(body(at[1], 1000.0, Point3::new(10_000.0, -2000.0, 0.0)));
    let found = frequencies(&modes(&model, 6).expect("held"));
    for (k, printed) in [1.723, 1.727, 7.413, 9.972, 18.155, 26.957].into_iter().enumerate() {
        assert!((found[k] - printed).abs() < 0.0035 * printed, "{found:?}: {k} is printed as {printed}");
        near(by_arms[k], found[k], 1e-9);
    }
}

/// NAFEMS benchmark FV5, deep simply supported beam, closed form (Timoshenko): 42.650 (twice), 71.20 (torsion), 125.00
/// (along), 148.15 (twice), 213.61, 283.47 (twice) Hz as public pages print it; 10 m, 2 × 2 m from memory, which 125.00 Hz =
/// √(E/ρ)/4L and 71.20 Hz confirm.
#[test]
fn a_deep_beam_swings_as_the_benchmark_says() {
    let side: f64 = 2000.0;
    let (area, second) = (side * side, side.powi(4) / 12.0);
    // Torsional constant of a square as tables round it: 0.1406 a⁴ (S. P. Timoshenko; from memory; exact 0.140577, which would
    // give 213.59 for the 213.61 of the benchmark).
    let torsion = 0.1406 * side.powi(4);
    let bar = Bar {
        density: 8000.0,
        rotary: true,
        shear_area: Some([area * 13.0 / 15.3; 2]),
        ..section(200_000.0, 200_000.0 / 2.6, area, [second; 2], torsion)
    };
    let points = [Point3::origin(), Point3::new(10_000.0, 0.0, 0.0)];
    let with = |longest: f64| {
        let (mut model, at) = Model::crooked(&points, bar, longest).expect("possible");
        model.supports.push(Support {
            node: 0,
            fixed: [true, true, true, true, false, false],
            springs: [0.0; 6],
        });
        let end = [false, true, true, false, false, false];
        model.supports.push(Support { node: at[1], fixed: end, springs: [0.0; 6] });
        frequencies(&modes(&model, 9).expect("held"))
    };
    // Errors fall with the square of the members here: both together leave the fourth power.
    let (coarse, fine) = (with(500.0), with(250.0));
    let found: Vec<f64> = coarse.iter().zip(&fine).map(|(c, f)| (4.0 * f - c) / 3.0).collect();
    let printed = [42.650, 42.650, 71.20, 125.00, 148.15, 148.15, 213.61, 283.47, 283.47];
    for (k, printed) in printed.into_iter().enumerate() {
        // The first is printed 1.1e-4 high; the others to their last digit.
        let off = if k < 2 { 0.0055 } else { 0.0075 };
        assert!((found[k] - printed).abs() < off, "{k}: {} is printed as {printed}", found[k]);
        assert!(coarse[k] > fine[k], "from above: {coarse:?} {fine:?}");
    }
    // Second method: the quadratic of a simply supported Timoshenko beam.
    for (n, k) in [(1.0, 0), (2.0, 4), (3.0, 7)] {
        let (e, g, rho): (f64, f64, f64) = (200.0e9, 200.0e9 / 2.6, 8000.0);
        let (l, r2, s): (f64, f64, f64) = (10.0, 1.0 / 3.0, 13.0 / 15.3);
        let wave = (n * PI / l).powi(2);
        let (a, b, c) =
            (rho * r2 / (s * g), 1.0 + wave * r2 * (1.0 + e / (s * g)), wave * wave * e * r2 / rho);
        let square = (b - (b * b - 4.0 * a * c).sqrt()) / (2.0 * a);
        near(found[k], square.sqrt() / TAU, 2e-5);
    }
}

/// Patch test: a straight line of members of odd lengths, slanting, under end forces: strain, curvature and twist are even.
#[test]
fn even_strain_curvature_and_twist_come_out_even() {
    let way = V::new(0.6, -0.3, 0.8).normalize();
    for bar in [Bar::slender(&tube(), steel()), Bar::thorough(&tube(), steel())] {
        let places = [0.0, 130.0, 900.0, 1000.0, 2700.0, 3000.0];
        let nodes: Vec<[f64; 3]> = places.iter().map(|s| (way * *s).into()).collect();
        let members: Vec<[usize; 2]> = (0..5).map(|k| [k, k + 1]).collect();
        let model = frame(&nodes, &members, bar, &[0]);
        let across = way.cross(&V::x()).normalize();
        let moment = across * 1.0e6 + way * 2.0e6;
        let load = Load::Node { node: 5, force: way * 5.0e4, moment };
        let solved = solve(&model, &[load]).expect("held");
        for (v, s) in solved.nodes.iter().zip(places) {
            let (u, turn) = (v.fixed_rows::<3>(0).into_owned(), v.fixed_rows::<3>(3).into_owned());
            let (ea, ei, gj) = (bar.young * bar.area, bar.young * bar.inertia[0], bar.shear * bar.torsion);
            let scale = 3000.0;
            assert!((u.dot(&way) - 5.0e4 * s / ea).abs() < 1e-12 * scale);
            assert!((turn.dot(&way) - 2.0e6 * s / gj).abs() < 1e-12);
            assert!((turn.dot(&across) - 1.0e6 * s / ei).abs() < 1e-12);
            let aside = across.cross(&way);
            assert!((u.dot(&aside) - 1.0e6 * s * s / (2.0 * ei)).abs() < 1e-11 * scale);
        }
        for m in &solved.members {
            for at in [0.0, m.length / 3.0, m.length] {
                let f = m.section(at, false);
                near(f[0], 5.0e4, 1e-9);
                near(f[3], 2.0e6, 1e-9);
                near(f[4].hypot(f[5]), 1.0e6, 1e-9);
            }
        }
    }
}

#[test]
fn springs_give_by_what_they_carry() {
    let (mut model, top) = upright(2000.0, Bar::slender(&tube(), steel()), 3);
    model.supports = vec![Support {
        node: 0,
        fixed: [true, true, true, false, true, true],
        springs: [0.0, 0.0, 0.0, 5.0e8, 0.0, 0.0],
    }];
    let load = push(top, 0.0, 700.0, 0.0);
    let soft = solve(&model, &[load]).expect("held");
    model.supports = vec![Support::fixed(0)];
    let stiff = solve(&model, &[load]).expect("held");
    near(soft.nodes[top].y - stiff.nodes[top].y, 700.0 * 2000.0 * 2000.0 / 5.0e8, 1e-7);
    near(soft.reactions[0].1[3], 700.0 * 2000.0, 1e-7);
    near(soft.reactions[0].1[1], -700.0, 1e-7);
}

#[test]
fn frames_that_can_move_say_who_moves_and_which_way() {
    let bar = Bar::slender(&tube(), steel());
    let (mut model, top) = upright(2000.0, bar, 2);
    model.supports =
        vec![Support { node: 0, fixed: [true, true, true, false, true, true], springs: [0.0; 6] }];
    let says = |model: &Model, words: &[&str]| {
        let error = solve(model, &[push(top, 1.0, 0.0, 0.0)]).expect_err("can move").to_string();
        assert!(words.iter().all(|w| error.contains(w)), "{error}");
        assert!(modes(model, 1).is_err(), "no modes of a mechanism");
    };
    // Hinged about x: the top moves along y.
    says(&model, &["point 2", "can move along", "(0, 1, 0)"]);
    model.supports =
        vec![Support { node: 0, fixed: [true, true, true, true, true, false], springs: [0.0; 6] }];
    says(&model, &["can turn about", "(0, 0, 1)"]);
    model.supports =
        vec![Support { node: 0, fixed: [true, true, false, true, true, true], springs: [0.0; 6] }];
    says(&model, &["can move along", "(0, 0, 1)"]);
    model.supports = Vec::new();
    says(&model, &["can"]);
    let (mut model, _) = upright(2000.0, bar, 2);
    model.nodes.push(Node { name: "stray".into(), at: Point3::new(1.0, 2.0, 3.0) });
    says(&model, &["stray", "can move along x", "nothing holds it"]);
}

#[test]
fn impossible_frames_are_refused() {
    let bar = Bar::slender(&tube(), steel());
    let (good, top) = upright(2000.0, bar, 2);
    assert!(good.validate().is_ok());
    let bad = |change: fn(&mut Model)| {
        let mut model = good.clone();
        change(&mut model);
        model.validate().expect_err("refused").to_string()
    };
    bad(|m| m.members[0].nodes = [0, 99]);
    bad(|m| m.members[0].nodes = [0, 0]);
    bad(|m| m.members[0].bar = 3);
    bad(|m| m.members[0].side = Some(V::z()));
    bad(|m| m.nodes[1].at.x = f64::NAN);
    bad(|m| m.bars[0].area = 0.0);
    bad(|m| m.bars[0].density = -1.0);
    bad(|m| m.supports[0].springs[2] = -1.0);
    bad(|m| m.supports[0].node = 17);
    bad(|m| m.links = vec![Link { node: 1, to: 2 }, Link { node: 2, to: 1 }]);
    bad(|m| m.links = vec![Link { node: 1, to: 2 }, Link { node: 1, to: 0 }]);
    let held = bad(|m| m.links = vec![Link { node: 0, to: 1 }]);
    assert!(held.contains("point 1"), "{held}");
    let flat = bad(|m| {
        m.bodies.push(Body {
            inertia: Matrix3::from_diagonal(&V::new(1.0, 1.0, 3.0)),
            ..body(1, 1.0, Point3::origin())
        })
    });
    assert!(flat.contains("inertia that no body has"), "{flat}");
    bad(|m| m.bodies.push(body(1, f64::NAN, Point3::origin())));
    let refused = |load| solve(&good, &[load]).is_err();
    assert!(refused(push(99, 1.0, 0.0, 0.0)) && refused(push(top, f64::NAN, 0.0, 0.0)));
    assert!(refused(Load::Line { member: 9, force: [V::zeros(); 2] }));
    assert!(refused(Load::Point { member: 0, at: 1000.1, force: V::zeros(), moment: V::zeros() }));
}

#[test]
fn stresses_of_a_tube_are_those_of_the_formulas() {
    let t = tube();
    let of = |v: [f64; 6]| in_tube(&t, &Vector6::from(v));
    near(of([1.0e4, 0.0, 0.0, 0.0, 0.0, 0.0]).equivalent, 1.0e4 / t.area(), 1e-12);
    near(of([0.0, 0.0, 0.0, 0.0, 3.0e6, 4.0e6]).equivalent, 5.0e6 / t.elastic_modulus(), 1e-12);
    let twist = 2.0e6 / (2.0 * t.elastic_modulus());
    near(of([0.0, 0.0, 0.0, 2.0e6, 0.0, 0.0]).equivalent, 3.0_f64.sqrt() * twist, 1e-12);
    let shear = of([0.0, 6.0e3, -8.0e3, 0.0, 0.0, 0.0]);
    // Thin tube: 2V/A at the neutral axis; 5 mm of 114 is thin to within half a percent.
    near(shear.shear, 2.0e4 / t.area(), 5e-3);
    near(shear.equivalent, 3.0_f64.sqrt() * shear.shear, 1.1e-3);
    // Bending and twist act in one line: √(σ² + 3τ²); axial pull adds to the bending there.
    let all = of([1.0e4, 0.0, 0.0, 2.0e6, 0.0, 5.0e6]);
    let sigma: f64 = 1.0e4 / t.area() + 5.0e6 / t.elastic_modulus();
    near(all.equivalent, sigma.hypot(3.0_f64.sqrt() * twist), 1e-12);
    // Shear and twist add on one side: at most √3 (τ + τ).
    let both = of([0.0, 1.0e4, 0.0, 2.0e6, 0.0, 0.0]);
    near(both.equivalent, 3.0_f64.sqrt() * (twist + both.shear), 1.1e-3);
}

#[test]
fn the_worst_section_is_found_at_loads_and_feet() {
    let (model, top) = upright(4000.0, Bar::slender(&tube(), steel()), 1);
    let solved = solve(&model, &[push(top, 1000.0, 0.0, -2000.0)]).expect("held");
    let found = worst(&model, &solved).expect("tubes")[0];
    assert_eq!(found.at, 0.0);
    near(found.stress.bending, 4.0e6 / tube().elastic_modulus(), 1e-9);
    near(found.stress.axial, -2000.0 / tube().area(), 1e-9);

    // Held at both ends, a load at the third: the fixed-end moment P a b²/L² at the near end is the greatest.
    let mut model = model;
    model.supports.push(Support::fixed(top));
    let load = |at| Load::Point { member: 0, at, force: V::new(900.0, 0.0, 0.0), moment: V::zeros() };
    let solved = solve(&model, &[load(1500.0)]).expect("held");
    let moment = 900.0 * 1500.0 * 2500.0_f64.powi(2) / 4000.0_f64.powi(2);
    near(worst(&model, &solved).expect("tubes")[0].stress.bending, moment / tube().elastic_modulus(), 1e-9);
    // Under the load: 2 P a² b² / L³ for a load at a.
    let under = solved.members[0].section(1500.0, false);
    near(under[4].abs(), 900.0 * 2.0 * 1500.0_f64.powi(2) * 2500.0_f64.powi(2) / 4000.0_f64.powi(3), 1e-9);
    near(
        (solved.members[0].section(1500.0, true) - under)[2]
            .abs()
            .max((solved.members[0].section(1500.0, true) - under)[1].abs()),
        900.0,
        1e-9,
    );
}

/// D up at a set wall: I grows faster than the mass, so any cantilever swings faster. Wall up at a set D: only where what
/// it carries is heavy beside it; a bare tube swings slower, for its radius of gyration falls.
#[test]
fn larger_tubes_swing_faster_where_that_truly_holds() {
    let frequency = |outside: f64, wall: f64, mass: f64| {
        let t = Tube::new(outside, wall).expect("possible");
        let (mut model, top) = upright(4000.0, Bar::slender(&t, steel()), 6);
        model.bodies.push(body(top, mass, Point3::new(300.0, 0.0, 4200.0)));
        modes(&model, 1).expect("held")[0].frequency
    };
    let rises = |all: &[f64]| all.windows(2).all(|w| w[1] > w[0]);
    for mass in [0.0, 20.0, 500.0] {
        let all: Vec<f64> =
            [60.3, 76.1, 88.9, 114.3, 139.7, 168.3, 219.1].map(|d| frequency(d, 5.0, mass)).to_vec();
        assert!(rises(&all), "{mass} kg: {all:?}");
    }
    let walls = [2.5, 3.0, 4.0, 5.0, 6.3, 8.0];
    assert!(rises(&walls.map(|t| frequency(114.3, t, 500.0))), "a heavy top");
    let mut bare = walls.map(|t| frequency(114.3, t, 0.0));
    bare.reverse();
    assert!(rises(&bare), "a bare tube: {bare:?}");
}
