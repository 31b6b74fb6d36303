//! Random frames: a second method, equilibrium, turning, linking, built with `#[cfg(test)]` only.

use super::model::*;
use super::{modes, solve};
use crate::random::Random;
use crate::tube::{Tube, material_named};
use nalgebra::{DMatrix, Isometry3, Matrix3, Matrix6, Point3, Rotation3, SymmetricEigen, Vector3, Vector6};
use rayon::prelude::*;
use std::f64::consts::TAU;

type V = Vector3<f64>;

impl Random {
    fn vector(&mut self, size: f64) -> V {
        V::from_fn(|_, _| 0.0).map(|_: f64| self.between(-size, size))
    }
}

struct Spine {
    model: Model,
    points: Vec<Point3<f64>>,
    top: usize,
    loads: Vec<Load>,
}

/// A crooked tube from the ground up, with forces at its top, a body on an arm, its own weight, a load on a leg.
fn spine(seed: u64, thorough: bool, massless: bool) -> Spine {
    let mut r = Random(seed);
    let steel = material_named("S355").expect("known");
    let tube = Tube::new(r.between(40.0, 220.0), r.between(2.0, 10.0)).expect("possible");
    let mut bar = if thorough { Bar::thorough(&tube, steel) } else { Bar::slender(&tube, steel) };
    if massless {
        bar.density = 0.0;
    }
    let mut points = vec![Point3::from(r.vector(2000.0))];
    for _ in 0..1 + r.pick(6) {
        let last = points[points.len() - 1];
        points.push(
            last + V::new(r.between(-600.0, 600.0), r.between(-600.0, 600.0), r.between(150.0, 1500.0)),
        );
    }
    let (mut model, at) = Model::crooked(&points, bar, r.between(200.0, 3000.0)).expect("possible");
    let top = at[at.len() - 1];
    model.supports.push(Support::fixed(0));
    let (a, b) = (r.vector(300.0), r.vector(300.0));
    let arm = r.vector(800.0);
    model.bodies.push(Body {
        name: "body".into(),
        node: top,
        mass: r.between(10.0, 400.0),
        centre: model.nodes[top].at + arm,
        // A sum of two point pairs: possible, with products of inertia.
        inertia: (Matrix3::identity() * a.norm_squared() - a * a.transpose()) * 50.0
            + (Matrix3::identity() * b.norm_squared() - b * b.transpose()) * 30.0,
    });
    let loads = vec![
        Load::Node { node: top, force: r.vector(2000.0), moment: r.vector(1.0e6) },
        Load::Weight(V::new(r.between(-2.0, 2.0), r.between(-2.0, 2.0), -9.80665)),
    ];
    Spine { model, points, top, loads }
}

/// Movement and turn of the top by the unit-load method: forces in every section by statics, work of the forces of a unit
/// load integrated along the legs. The integrands are cubic at most in each leg, for which Simpson's rule is exact.
fn by_unit_loads(s: &Spine) -> Vector6<f64> {
    let bar = s.model.bars[0];
    let top = s.points[s.points.len() - 1];
    let Load::Node { force, moment, .. } = s.loads[0] else { panic!("a node load") };
    let Load::Weight(g) = s.loads[1] else { panic!("weight") };
    let body = &s.model.bodies[0];
    let line = g * bar.mass_per_mm();
    // What acts beyond a point of a leg, on that point: force and moment.
    let beyond = |leg: usize, at: Point3<f64>| {
        let mut f = force + g * body.mass;
        let mut m = moment + (top - at).cross(&force) + (body.centre - at).cross(&(g * body.mass));
        let mut from = at;
        for end in &s.points[leg + 1..] {
            let piece = line * (end - from).norm();
            m += (nalgebra::center(&from, end) - at).cross(&piece);
            f += piece;
            from = *end;
        }
        (f, m)
    };
    let mut moved = Vector6::zeros();
    for leg in 0..s.points.len() - 1 {
        let (a, b) = (s.points[leg], s.points[leg + 1]);
        let length = (b - a).norm();
        let x = (b - a) / length;
        for (share, weight) in [(0.0, 1.0), (0.5, 4.0), (1.0, 1.0)] {
            let at = a + (b - a) * share;
            let (f, m) = beyond(leg, at);
            let (n, t) = (f.dot(&x), m.dot(&x));
            let (v, bend) = (f - x * n, m - x * t);
            for way in 0..6 {
                let unit = |k: usize| if k == way { 1.0 } else { 0.0 };
                let uf = V::new(unit(0), unit(1), unit(2));
                let um = V::new(unit(3), unit(4), unit(5)) + (top - at).cross(&uf);
                let (un, ut) = (uf.dot(&x), um.dot(&x));
                let mut work = n * un / (bar.young * bar.area)
                    + t * ut / (bar.shear * bar.torsion)
                    + bend.dot(&(um - x * ut)) / (bar.young * bar.inertia[0]);
                if let Some([shear, _]) = bar.shear_area {
                    work += v.dot(&(uf - x * un)) / (bar.shear * shear);
                }
                moved[way] += work * weight * length / 6.0;
            }
        }
    }
    moved
}

fn apart(a: &Vector6<f64>, b: &Vector6<f64>) -> f64 {
    let part = |first: usize| (a - b).fixed_rows::<3>(first).norm() / b.fixed_rows::<3>(first).norm();
    part(0).max(part(3))
}

#[test]
fn two_hundred_crooked_tubes_move_as_the_unit_load_method_says() {
    let worst = (0..200_u64)
        .into_par_iter()
        .map(|seed| {
            let s = spine(seed, seed % 2 == 1, seed % 5 == 4);
            let solved = solve(&s.model, &s.loads).expect("held");
            assert!(solved.residual < 1e-9, "{seed}: residual {}", solved.residual);
            apart(&solved.nodes[s.top], &by_unit_loads(&s))
        })
        .reduce(|| 0.0, f64::max);
    assert!(worst < 1e-8, "worst {worst}");
}

/// A massless tube with one body has six frequencies: those of its flexibility, by unit loads, and the body's
/// inertia about the top.
#[test]
fn massless_tubes_with_a_body_swing_as_their_flexibility_says() {
    (0..100_u64).into_par_iter().for_each(|seed| {
        let mut s = spine(seed + 1000, seed % 2 == 1, true);
        let found = modes(&s.model, 10).expect("held");
        let mut flexibility = Matrix6::zeros();
        let unloaded = s.model.bodies[0].clone();
        s.model.bodies[0].mass = 0.0;
        s.loads[1] = Load::Weight(V::zeros());
        for way in 0..6 {
            let unit = |k: usize| if k == way { 1.0 } else { 0.0 };
            s.loads[0] = Load::Node {
                node: s.top,
                force: V::new(unit(0), unit(1), unit(2)),
                moment: V::new(unit(3), unit(4), unit(5)),
            };
            flexibility.set_column(way, &by_unit_loads(&s));
        }
        let c = (unloaded.centre - s.points[s.points.len() - 1]).cross_matrix();
        let mut mass = Matrix6::zeros();
        let m = unloaded.mass;
        mass.fixed_view_mut::<3, 3>(0, 0).copy_from(&(Matrix3::identity() * m));
        mass.fixed_view_mut::<3, 3>(0, 3).copy_from(&(-c * m));
        mass.fixed_view_mut::<3, 3>(3, 0).copy_from(&(c * m));
        mass.fixed_view_mut::<3, 3>(3, 3).copy_from(&(unloaded.inertia - c * c * m));
        let root =
            nalgebra::Cholesky::new((flexibility + flexibility.transpose()) / 2.0).expect("positive").l();
        let square = root.transpose() * mass * root;
        let mut values: Vec<f64> = SymmetricEigen::new(DMatrix::from_fn(6, 6, |i, j| square[(i, j)]))
            .eigenvalues
            .iter()
            .copied()
            .collect();
        values.sort_by(|a, b| b.total_cmp(a));
        assert_eq!(found.len(), 6, "{seed}");
        for (mode, value) in found.iter().zip(values).take(3) {
            let wanted = (1000.0 / value).sqrt() / TAU;
            assert!((mode.frequency / wanted - 1.0).abs() < 1e-7, "{seed}: {} for {wanted}", mode.frequency);
        }
    });
}

/// A random frame in space with braces, a linked node, springs and all kinds of loads.
fn braced(seed: u64) -> (Model, Vec<Load>) {
    let mut r = Random(seed ^ 0xABCD_EF01);
    let mut s = spine(seed, seed.is_multiple_of(2), false);
    let nodes = s.model.nodes.len();
    let other = s.model.nodes.len();
    s.model
        .nodes
        .push(Node { name: "foot".into(), at: Point3::from(r.vector(900.0) - V::new(0.0, 0.0, 900.0)) });
    s.model.members.push(Member { nodes: [other, r.pick(nodes)], bar: 0, side: Some(r.vector(1.0)) });
    let springs = [1.0e4, 2.0e4, 5.0e4, 1.0e9, 2.0e9, 3.0e9];
    s.model.supports.push(Support { node: other, fixed: [false, false, true, false, false, true], springs });
    let follower = s.model.nodes.len();
    s.model.nodes.push(Node { name: "follower".into(), at: s.model.nodes[s.top].at + r.vector(500.0) });
    s.model.links.push(Link { node: follower, to: s.top });
    let end = s.model.nodes.len();
    s.model.nodes.push(Node {
        name: "boom".into(),
        at: s.model.nodes[follower].at + r.vector(700.0) + V::x() * 800.0,
    });
    s.model.members.push(Member { nodes: [follower, end], bar: 0, side: None });
    let member = s.model.members.len() - 1;
    let length = (s.model.nodes[end].at - s.model.nodes[follower].at).norm();
    s.loads.push(Load::Point {
        member,
        at: length * r.share(),
        force: r.vector(500.0),
        moment: r.vector(3.0e5),
    });
    s.loads.push(Load::Line { member, force: [r.vector(1.0), r.vector(1.0)] });
    s.loads.push(Load::Node { node: follower, force: r.vector(800.0), moment: r.vector(1.0e5) });
    (s.model, s.loads)
}

/// Force and moment about the origin of all loads, by statics alone.
fn sum_of_loads(model: &Model, loads: &[Load]) -> (V, V) {
    let (mut f, mut m) = (V::zeros(), V::zeros());
    let mut put = |at: Point3<f64>, force: V, moment: V| {
        f += force;
        m += moment + at.coords.cross(&force);
    };
    let ends = |k: usize| model.members[k].nodes.map(|n| model.nodes[n].at);
    for load in loads {
        match *load {
            Load::Node { node, force, moment } => put(model.nodes[node].at, force, moment),
            Load::Point { member, at, force, moment } => {
                let [a, b] = ends(member);
                put(a + (b - a).normalize() * at, force, moment);
            }
            Load::Line { member, force: [p, q] } => {
                let [a, b] = ends(member);
                let l = (b - a).norm();
                // Two triangles.
                put(a + (b - a) / 3.0, p * l / 2.0, V::zeros());
                put(a + (b - a) * 2.0 / 3.0, q * l / 2.0, V::zeros());
            }
            Load::Weight(g) => {
                for k in 0..model.members.len() {
                    let [a, b] = ends(k);
                    let mass = model.bars[model.members[k].bar].mass_per_mm() * (b - a).norm();
                    put(nalgebra::center(&a, &b), g * mass, V::zeros());
                }
                for body in &model.bodies {
                    put(body.centre, g * body.mass, V::zeros());
                }
            }
        }
    }
    (f, m)
}

#[test]
fn reactions_balance_all_loads_of_random_frames() {
    (0..200_u64).into_par_iter().for_each(|seed| {
        let (model, loads) = braced(seed);
        let solved = solve(&model, &loads).expect("held");
        let (mut f, mut m) = sum_of_loads(&model, &loads);
        let (all, arms) = (f.norm() + 1000.0, m.norm() + 1.0e6);
        for (node, r) in &solved.reactions {
            let force = r.fixed_rows::<3>(0).into_owned();
            f += force;
            m += r.fixed_rows::<3>(3) + model.nodes[*node].at.coords.cross(&force);
        }
        assert!(
            f.norm() < 1e-9 * all && m.norm() < 1e-9 * arms,
            "{seed}: {} of {all}, {} of {arms}",
            f.norm(),
            m.norm()
        );
        for carrying in &solved.members {
            let end = carrying.section(carrying.length, true);
            let size = carrying.ends[1].norm() + carrying.ends[0].norm() + 1.0;
            assert!((end - carrying.ends[1]).norm() < 1e-8 * size, "{seed}: the far end of a member");
        }
    });
}

#[test]
fn turning_and_moving_the_whole_frame_changes_nothing() {
    (0..60_u64).into_par_iter().for_each(|seed| {
        let (mut model, loads) = braced(seed);
        // Springs along the axes do not turn with the frame; equal ones do.
        for s in &mut model.supports {
            if s.springs[0] > 0.0 {
                s.springs = [3.0e4, 3.0e4, 3.0e4, 2.0e9, 2.0e9, 2.0e9];
                s.fixed = [false; 6];
            }
        }
        let mut r = Random(seed);
        let turn = Rotation3::new(r.vector(3.0));
        let place = Isometry3::from_parts(nalgebra::Translation3::from(r.vector(1.0e5)), turn.into());
        let mut other = model.clone();
        // y of members without a side would be level again after the turn; tubes do not care.
        for n in &mut other.nodes {
            n.at = place * n.at;
        }
        for m in &mut other.members {
            m.side = m.side.map(|s| turn * s);
        }
        for b in &mut other.bodies {
            b.centre = place * b.centre;
            b.inertia = turn * b.inertia * turn.inverse();
        }
        let turned: Vec<Load> = loads
            .iter()
            .map(|load| match *load {
                Load::Node { node, force, moment } => {
                    Load::Node { node, force: turn * force, moment: turn * moment }
                }
                Load::Point { member, at, force, moment } => {
                    Load::Point { member, at, force: turn * force, moment: turn * moment }
                }
                Load::Line { member, force } => Load::Line { member, force: force.map(|q| turn * q) },
                Load::Weight(g) => Load::Weight(turn * g),
            })
            .collect();
        let (here, there) = (solve(&model, &loads).expect("held"), solve(&other, &turned).expect("held"));
        let most = here.nodes.iter().map(|v| v.fixed_rows::<3>(0).norm()).fold(0.0, f64::max);
        for (a, b) in here.nodes.iter().zip(&there.nodes) {
            let moved = turn * a.fixed_rows::<3>(0).into_owned();
            // 1e5 mm away coordinates keep some 1e-11 mm.
            assert!((moved - b.fixed_rows::<3>(0)).norm() < 1e-7 * most, "{seed}");
        }
        let (f, g) = (modes(&model, 4).expect("held"), modes(&other, 4).expect("held"));
        for (a, b) in f.iter().zip(&g) {
            assert!(
                (a.frequency / b.frequency - 1.0).abs() < 1e-8,
                "{seed}: {} {}",
                a.frequency,
                b.frequency
            );
            assert!(a.residual < 1e-7, "{seed}: residual {}", a.residual);
        }
        assert_eq!(solve(&model, &loads).expect("held"), here, "the same again");
        assert_eq!(modes(&model, 4).expect("held"), f, "the same again");
    });
}

/// A link is a member without weight so stiff that it does not give.
#[test]
fn links_are_members_that_do_not_give() {
    (0..20_u64).into_par_iter().for_each(|seed| {
        let (model, loads) = braced(seed);
        let linked = solve(&model, &loads).expect("held");
        let mut stiff = model.clone();
        let bar = model.bars[0];
        let times = 1.0e5;
        stiff.bars.push(Bar {
            young: bar.young * times,
            shear: bar.shear * times,
            shear_area: None,
            density: 0.0,
            ..bar
        });
        for link in &model.links {
            stiff.members.push(Member { nodes: [link.to, link.node], bar: 1, side: None });
        }
        stiff.links.clear();
        let member = solve(&stiff, &loads).expect("held");
        let most = linked.greatest().1;
        for (a, b) in linked.nodes.iter().zip(&member.nodes) {
            assert!((a - b).fixed_rows::<3>(0).norm() < 1e-3 * most, "{seed}");
        }
        let (f, g) = (modes(&model, 2).expect("held"), modes(&stiff, 2).expect("held"));
        for (a, b) in f.iter().zip(&g) {
            assert!((a.frequency / b.frequency - 1.0).abs() < 1e-3, "{seed}");
        }
    });
}
