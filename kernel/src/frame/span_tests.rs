//! Bodies in two collars, and rigid bodies with inertia, against closed forms, built with `#[cfg(test)]` only.

use super::model::*;
use super::{Solver, modes, solve};
use crate::random::Random;
use crate::tube::{Material, Tube, material_named};
use nalgebra::{Matrix3, Point3, Vector3, Vector6};
use std::f64::consts::TAU;

type V = Vector3<f64>;

fn steel() -> &'static Material {
    material_named("S355").expect("known")
}

fn tube() -> Tube {
    Tube::new(114.3, 5.0).expect("possible")
}

#[track_caller]
fn near(found: f64, wanted: f64, relative: f64) {
    assert!((found / wanted - 1.0).abs() <= relative, "{found} is not {wanted}");
}

/// A crooked tube with a piece in two collars, at points 1 and 2 of it.
fn crooked(seed: u64) -> (Model, [usize; 2], usize) {
    let mut r = Random(seed);
    let mut points = vec![Point3::origin()];
    for _ in 0..4 {
        let last = points[points.len() - 1];
        let step = V::new(r.between(-300.0, 300.0), r.between(-300.0, 300.0), r.between(400.0, 900.0));
        points.push(last + step);
    }
    let (mut model, at) = Model::crooked(&points, Bar::thorough(&tube(), steel()), 400.0).expect("possible");
    model.supports.push(Support::fixed(0));
    let on = [at[1], at[3]];
    let aside = V::new(r.between(-500.0, 500.0), r.between(-500.0, 500.0), r.between(-200.0, 800.0));
    let node = model.nodes.len();
    model.nodes.push(Node { name: "piece".into(), at: points[2] + aside });
    model.spans.push(Span { node, on });
    (model, on, node)
}

/// The piece is held in six ways and no more: what acts on it comes to its collars by the levers of statics, the
/// stiffness between them stays that of the tube, and moving as one the whole moves as one.
#[test]
fn a_piece_in_two_collars_loads_by_levers_and_stiffens_nothing() {
    for seed in 0..60 {
        let (model, on, node) = crooked(seed);
        let mut bare = model.clone();
        bare.spans.clear();
        bare.nodes.pop();
        let mut r = Random(seed + 1000);
        let mut vector = |size: f64| V::from_fn(|_, _| 0.0).map(|_: f64| r.between(-size, size));
        let (force, moment) = (vector(1000.0), vector(1.0e6));
        let with = solve(&model, &[Load::Node { node, force, moment }]).expect("held");
        // By hand: moments about the line to the first collar, across it a couple of forces, along it to the first.
        let [a, b] = on.map(|n| model.nodes[n].at);
        let (d, length) = ((b - a).normalize(), (b - a).norm());
        let about_a = moment + (model.nodes[node].at - a).cross(&force);
        let second = about_a.cross(&d) / length;
        let first = force - second;
        let twist = d * d.dot(&about_a);
        let by_hand = [
            Load::Node { node: on[0], force: first, moment: twist },
            Load::Node { node: on[1], force: second, moment: V::zeros() },
        ];
        let without = solve(&bare, &by_hand).expect("held");
        let size = without.greatest().1;
        for (x, y) in with.nodes.iter().zip(&without.nodes) {
            assert!((x - y).fixed_rows::<3>(0).norm() <= 1e-9 * size, "seed {seed}");
            assert!((x - y).fixed_rows::<3>(3).norm() <= 1e-9 * size, "seed {seed}");
        }
        assert!(with.residual < 1e-8, "{}", with.residual);
        let sum: Vector6<f64> = with.reactions.iter().map(|r| r.1).sum();
        assert!((sum.fixed_rows::<3>(0) + force).norm() <= 1e-9 * force.norm(), "seed {seed}");
        let at_foot = moment + (model.nodes[node].at - model.nodes[0].at).cross(&force);
        assert!((sum.fixed_rows::<3>(3) + at_foot).norm() <= 1e-9 * at_foot.norm(), "seed {seed}");
        // A load on a collar that has nothing to do with the piece moves the tube as if it were not there.
        let push = [Load::Node { node: on[1], force: vector(500.0), moment: vector(1.0e5) }];
        let [x, y] = [&model, &bare].map(|m| Solver::new(m).and_then(|s| s.solve(&push)).expect("held"));
        for (p, q) in x.nodes.iter().zip(&y.nodes) {
            assert!((p - q).norm() <= 1e-9 * q.norm().max(1e-6), "seed {seed}");
        }
    }
}

/// Turned as one about any axis, a frame swings as before; a massless piece changes no frequency.
#[test]
fn a_piece_in_two_collars_swings_alike_whichever_way_the_whole_is_turned() {
    for seed in 0..12 {
        let (mut model, _, node) = crooked(seed);
        let first = |m: &Model| modes(m, 4).expect("held").iter().map(|m| m.frequency).collect::<Vec<_>>();
        let bare = {
            let mut bare = model.clone();
            bare.spans.clear();
            bare.nodes.pop();
            first(&bare)
        };
        for (x, y) in first(&model).iter().zip(&bare) {
            near(*x, *y, 1e-9);
        }
        let inertia = Matrix3::from_diagonal(&V::new(3.0e7, 4.0e7, 5.0e7));
        model.bodies.push(Body {
            name: "piece".into(),
            node,
            mass: 120.0,
            centre: model.nodes[node].at + V::new(10.0, -20.0, 30.0),
            inertia,
        });
        let turn = nalgebra::Rotation3::from_euler_angles(0.7, -0.4, 1.9);
        let mut turned = model.clone();
        turned.nodes.iter_mut().for_each(|n| n.at = turn * n.at);
        for b in &mut turned.bodies {
            b.centre = turn * b.centre;
            b.inertia = turn * b.inertia * turn.inverse();
        }
        for (x, y) in first(&turned).iter().zip(first(&model)) {
            near(*x, y, 1e-9);
        }
    }
}

/// A massless rod with a rigid block at its end whose centre of mass lies beyond it: two freedoms, deflection and slope of
/// the end, flexibility [L³/3EI, L²/2EI; L²/2EI, L/EI], mass [m, me; me, J + me²] (W. T. Thomson, "Theory of vibration with
/// applications", chapters on influence coefficients and coupled mass matrices, from memory). Without J and e it is
/// √(3EI/mL³)/2π: far too high.
#[test]
fn the_inertia_and_the_arm_of_a_block_count() {
    let bar = Bar { density: 0.0, ..Bar::slender(&tube(), steel()) };
    let (l, ei) = (3000.0, bar.young * bar.inertia[0]);
    let (m, e, j) = (200.0, 400.0, 200.0 * 600.0_f64.powi(2) / 6.0);
    let points = [Point3::origin(), Point3::new(0.0, 0.0, l)];
    let (mut model, at) = Model::crooked(&points, bar, 300.0).expect("possible");
    model.supports.push(Support::fixed(0));
    let centre = Point3::new(0.0, 0.0, l + e);
    let body = Body { name: "block".into(), node: at[1], mass: m, centre, inertia: Matrix3::identity() * j };
    model.bodies.push(body);
    let found = modes(&model, 6).expect("held");
    // ω² are the eigenvalues of M⁻¹K; λ = 1/ω² those of FM, a 2 × 2 matrix.
    let f = [[l.powi(3) / 3.0, l * l / 2.0], [l * l / 2.0, l]].map(|r| r.map(|x| x / ei));
    let mass = [[m, m * e], [m * e, j + m * e * e]];
    let fm = |i: usize, k: usize| f[i][0] * mass[0][k] + f[i][1] * mass[1][k];
    let (trace, det) = (fm(0, 0) + fm(1, 1), fm(0, 0) * fm(1, 1) - fm(0, 1) * fm(1, 0));
    let lambda = |sign: f64| (trace + sign * (trace * trace / 4.0 - det).sqrt() * 2.0) / 2.0;
    // mm, kg, N: 1 N is 1000 kg mm/s².
    let hz = |lambda: f64| (1000.0 / lambda).sqrt() / TAU;
    near(found[0].frequency, hz(lambda(1.0)), 1e-9);
    near(found[1].frequency, hz(lambda(1.0)), 1e-9);
    let second = hz(lambda(-1.0));
    assert!(found.iter().any(|x| (x.frequency / second - 1.0).abs() < 1e-9), "{second}");
    let point = (3.0 * ei * 1000.0 / (m * l.powi(3))).sqrt() / TAU;
    assert!(
        point > 1.15 * found[0].frequency,
        "a point mass swings at {point}, the block at {}",
        found[0].frequency
    );
}

#[test]
fn collars_that_cannot_be_are_refused() {
    let (good, on, node) = crooked(3);
    let bad = |change: &dyn Fn(&mut Model)| {
        let mut model = good.clone();
        change(&mut model);
        model.validate().expect_err("refused").to_string()
    };
    assert!(bad(&|m| m.spans[0].on = [on[0]; 2]).contains("one place"));
    assert!(bad(&|m| m.spans[0].on[1] = 99).contains("no node 99"));
    assert!(bad(&|m| m.links.push(Link { node, to: 1 })).contains("two nodes"));
    assert!(bad(&|m| m.links.push(Link { node: on[0], to: node })).contains("itself"));
    assert!(bad(&|m| m.supports.push(Support::fixed(node))).contains("cannot be held"));
}
