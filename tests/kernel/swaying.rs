//! Works on their spines: equilibrium, closed forms, invariance, the choice of a tube, and what is refused.

use nalgebra::{Isometry3, Point3, Translation3, UnitQuaternion, Vector3};
use rayon::prelude::*;
use ribwright_kernel::base::AnchorGroup;
use ribwright_kernel::frame::{Load, modes, solve};
use ribwright_kernel::mass::{Body, Kind, Matter};
use ribwright_kernel::sculpture::{Sculpture, Stacking};
use ribwright_kernel::settings::Value;
use ribwright_kernel::spine::{Built, Crossing};
use ribwright_kernel::stage::frame;
use ribwright_kernel::sway::{Attach, Carried, Foot, Options, Side, Sway};
use ribwright_kernel::table::Cell;
use ribwright_kernel::tube::{Tube, material_named};
use ribwright_kernel::units::STANDARD_GRAVITY;
use ribwright_kernel::wind::load::StripLoad;
use ribwright_kernel::{Finding, Level, Output, Registry, Work, run_stages, work_out};
use ribwright_tests::near;
use ribwright_tests::standing::{block, figure, flat, found, rib, set, stages, table, worked};
use ribwright_tests::works::random_work;
use std::collections::BTreeMap;

type P = Point3<f64>;
type V = Vector3<f64>;

/// What equilibrium may be off by, as a share of the loads.
const BALANCED: f64 = 1e-9;
/// Share of the distance from the origin to which arms are known.
const FAR: f64 = 1.0e-12;

fn number(x: f64) -> Value {
    Value::Number(x)
}

fn word(text: &str) -> Value {
    Value::Text(text.to_owned())
}

fn tube(outside: f64, wall: f64) -> Tube {
    Tube::new(outside, wall).expect("possible")
}

fn built(points: &[P], tube: Tube, crossings: Vec<Crossing>) -> Built {
    let material = *material_named("S355").expect("known");
    Built { points: points.to_vec(), tube, material, crossings, clearance: 20.0 }
}

/// Three leaning blocks of ribbed sheet.
fn leaning() -> Sculpture {
    let mut s = Sculpture::new("Three Tides");
    s.stand(block("A", [1100.0, 900.0, 1300.0], &rib())).expect("stands");
    for (name, size, on, shift, turn, tip) in [
        ("B", [900.0, 800.0, 1200.0], "A/top", [90.0, -40.0], 20.0, 5.0),
        ("C", [700.0, 650.0, 1000.0], "B/top", [60.0, 30.0], -15.0, 6.0),
    ] {
        let how = Stacking { sink: 90.0, shift, turn, tip, toward: 30.0, ..Stacking::on(on) };
        s.stack(block(name, size, &rib()), &how).expect("stacks");
    }
    set(&mut s, "wind", &[("basic_speed", number(26.0)), ("terrain", word("III"))]);
    s
}

/// A spine by hand through all elements from the lowest up: a kink in every joint; none where elements do not rise.
fn through(work: &Work, tube: Tube) -> Option<Built> {
    let elements = &work.sculpture.elements;
    let mut order: Vec<usize> = (0..elements.len()).collect();
    let middle = |e: usize| elements[e].solid.centroid();
    order.sort_by(|a, b| middle(*a).z.total_cmp(&middle(*b).z));
    let low = elements.iter().map(|e| e.solid.lowest_z()).fold(f64::INFINITY, f64::min);
    let first = middle(order[0]);
    let mut points = vec![P::new(first.x, first.y, low)];
    let mut crossings = Vec::new();
    for pair in order.windows(2) {
        let at = nalgebra::center(&middle(pair[0]), &middle(pair[1]));
        crossings.push(Crossing { between: [pair[0], pair[1]], name: "joint".to_owned(), at });
        points.push(at);
    }
    points.push(middle(order[order.len() - 1]) + V::new(5.0, -3.0, 10.0));
    points.windows(2).all(|p| p[1].z > p[0].z + 30.0).then(|| built(&points, tube, crossings))
}

/// Prescribes the axis, so that no way is looked for.
fn prescribe(s: &mut Sculpture) {
    let points = through(&worked(s), tube(100.0, 5.0)).expect("rises").points;
    let points = points.iter().map(|p| Value::List(p.iter().map(|x| number(*x)).collect())).collect();
    set(s, "spine", &[("points", Value::List(points))]);
}

/// Forces of the loads and their moments about the foot, and the same of the reactions.
#[test]
fn reactions_balance_weight_wind_and_people_on_real_works() {
    let registry = Registry::standard();
    let mut works: Vec<Work> = (0..80_u64)
        .into_par_iter()
        .filter_map(|seed| {
            let mut s = random_work(seed).ok()?;
            set(&mut s, "wind", &[("basic_speed", number(28.0))]);
            work_out(&s, &registry).ok()
        })
        .collect();
    works.push(worked(&leaning()));
    let checked: Vec<usize> = works
        .par_iter()
        .filter_map(|work| {
            let built = through(work, tube(168.3, 6.3))?;
            let carried = Carried::new(work, &Output::default()).expect("weighed");
            let mut counted = 0;
            for attach in [Attach::Openings, Attach::Lower] {
                let options = Options { attach, ..Options::default() };
                let sway = Sway::new(&carried, &built, &options).expect("a model");
                let figures = sway.figures().expect("figures");
                let name = &work.sculpture.name;
                // Weight: all masses and the tube's, at their own places.
                let down = V::new(0.0, 0.0, -STANDARD_GRAVITY);
                let (mut force, mut moment) = (V::zeros(), V::zeros());
                let foot = built.points[0];
                let mut add = |mass: f64, at: P| {
                    force += down * mass;
                    moment += (at - foot).cross(&(down * mass));
                };
                sway.pieces.iter().for_each(|p| add(p.body.mass, p.body.centre));
                for leg in built.points.windows(2) {
                    let mass = built.tube.area() * (leg[1] - leg[0]).norm() * 7850.0e-9;
                    add(mass, nalgebra::center(&leg[0], &leg[1]));
                }
                let size = built.length();
                let r = &figures.reactions[0];
                assert!((r.force + force).norm() <= BALANCED * force.norm(), "{name}: {} {force}", r.force);
                assert!((r.moment + moment).norm() <= BALANCED * force.norm() * size, "{name}");
                // All that the work weighs is carried, for every element is passed.
                let all: f64 = sway.pieces.iter().map(|p| p.body.mass).sum();
                let own = ribwright_kernel::balance::own_mass(work).expect("weighed").total();
                near(all, own.mass, 1e-9);
                assert!(sway.left.is_empty());
                // Wind: its whole force at its height, from every side; its twist where its silhouette lies aside.
                for (way, r) in carried.wind.ways.iter().zip(&figures.reactions[1..]) {
                    assert_eq!(r.side, Some(Side::Wind(way.from)));
                    let (sin, cos) = way.from.to_radians().sin_cos();
                    let force = V::new(-cos, -sin, 0.0) * way.force;
                    let bend = V::z().cross(&force) * (way.height - foot.z);
                    assert!((r.force + force).norm() <= BALANCED * way.force, "{name} {}", way.from);
                    let off = (r.moment + bend).xy().norm();
                    assert!(off <= BALANCED * way.force * size, "{name} from {}: {off}", way.from);
                    let right = V::new(-sin, cos, 0.0);
                    let aside = |s: &StripLoad| s.force * (s.strip.aside - foot.coords.dot(&right));
                    let twist: f64 = way.strips.iter().map(aside).sum();
                    let off = (r.moment.z + twist).abs();
                    // Arms of a work ten kilometres away are known to a share of that distance.
                    let arm = BALANCED * size + FAR * foot.coords.norm();
                    assert!(
                        off <= arm * way.force,
                        "{name} twisted from {}: {off} of {} N",
                        way.from,
                        way.force
                    );
                    counted += 1;
                }
                // People: their push at its height, toward the spine.
                let push = &carried.wind.push;
                let pushes = &figures.reactions[1 + carried.wind.ways.len()..];
                assert_eq!(pushes.len(), carried.wind.ways.len());
                for (way, r) in carried.wind.ways.iter().zip(pushes) {
                    assert_eq!(r.side, Some(Side::People(way.from)));
                    let (sin, cos) = way.from.to_radians().sin_cos();
                    let force = V::new(-cos, -sin, 0.0) * push.force;
                    let bend = V::z().cross(&force) * (push.height - foot.z);
                    assert!((r.force + force).norm() <= BALANCED * push.force, "{name} {}", way.from);
                    let off = (r.moment + bend).xy().norm();
                    assert!(off <= BALANCED * push.force * size, "{name} pushed from {}: {off}", way.from);
                }
                for (solved, side) in figures.sides.iter().zip(0..) {
                    assert!(solved.residual < 1e-8, "{name} {side}: {}", solved.residual);
                }
            }
            Some(counted)
        })
        .collect();
    assert!(checked.len() > 30 && checked.iter().sum::<usize>() > 1000, "{} works", checked.len());
}

/// A plumb stack of one light element with a mass at its tip, by the stage itself. 114.3 × 5, 4 m: P L³/3EI is 39.5404 mm for
/// 1 kN, f of 50, 100 and 200 kg at the tip 3.19432, 2.38365, 1.73534 Hz, bare 6.99756 Hz (recomputed from the exact
/// transcendental roots for a beam stiff in shear, 13.478 kg/m). Shear and turning sections, which are in here, move the tip
/// by P L/G A_s more and make it slower by half of that share.
#[test]
fn a_plumb_stack_of_one_light_element_is_the_cantilever_of_the_tables() {
    let mut s = Sculpture::new("Pole");
    s.stand(block("A", [400.0, 400.0, 4000.0], &flat(2.0))).expect("stands");
    set(
        &mut s,
        "wind",
        &[("basic_speed", number(0.0)), ("push", number(1000.0)), ("push_height", number(4000.0))],
    );
    set(
        &mut s,
        "frame",
        &[("heights", Value::Map(BTreeMap::from([("A".to_owned(), Value::List(vec![number(4000.0)]))])))],
    );
    let work = worked(&s);
    let t = tube(114.3, 5.0);
    let tip = P::new(0.0, 0.0, 4000.0);
    let steel = material_named("S355").expect("known");
    let soft =
        3.0 * 210_000.0 * t.second_moment() / (81_000.0 * t.shear_area(steel.poisson()) * 4000.0_f64.powi(2));
    for (mass, published) in [(1.0e-9, 6.99756), (50.0, 3.19432), (100.0, 2.38365), (200.0, 1.73534)] {
        let mut output =
            Output { spine: Some(built(&[P::origin(), tip], t, Vec::new())), ..Output::default() };
        let lump = Matter::Lump(Body::point(mass, tip));
        output.mass.push(Some(0), Kind::Sheet, "all of it", lump).expect("a mass");
        (frame::ROW.run)(&work, &Registry::standard(), &mut output).expect("the stage");
        let found = figure(table(&output, "frame_modes"), 0, "frequency Hz");
        // The tip's share of what is swung is all of it but for a bare tube, which shear slows a little otherwise.
        let slower = 1.0 - soft / 2.0;
        near(found, published * slower, if mass < 1.0 { 2e-3 } else { 3e-4 });
        assert!(found < published, "{found} {published}");
        let sway = table(&output, "frame_sway");
        let row =
            |from: &str| sway.rows.iter().position(|r| r[0] == Cell::Text(from.to_owned())).expect("a row");
        near(figure(sway, row("people from 90.0°"), "A mm"), 39.5404 * (1.0 + soft), 2e-6);
        near(figure(sway, row("wind from 90.0°"), "A mm"), 0.0, 1.0);
        // M/W and N/A at the foot with 1.5 and 1.35.
        let weight = 1.35 * STANDARD_GRAVITY * (mass + t.area() * 4000.0 * 7850.0e-9);
        let stress = 1.5 * 4.0e6 / t.elastic_modulus() + weight / t.area();
        near(figure(table(&output, "frame"), 0, "bending N/mm²"), 1.5 * 4.0e6 / t.elastic_modulus(), 1e-9);
        near(figure(table(&output, "frame"), 0, "used"), stress / 355.0, 1e-4);
        // Reactions: 1 kN, 4 kN m.
        let base = table(&output, "frame_base");
        let row =
            base.rows.iter().position(|r| r[0] == Cell::Text("people from 0.0°".into())).expect("a row");
        near(figure(base, row, "along x kN"), -1.0, 1e-9);
        near(figure(base, row, "about y kN m"), -4.0, 1e-9);
    }
}

/// Turned by a quarter, all figures are those of the sides that come to lie there.
#[test]
fn turning_the_whole_changes_nothing() {
    let turn = Isometry3::from_parts(
        Translation3::new(700.0, -1500.0, 0.0),
        UnitQuaternion::from_axis_angle(&V::z_axis(), std::f64::consts::FRAC_PI_2),
    );
    let s = leaning();
    let mut turned = s.clone();
    for element in &mut turned.elements {
        element.solid.transform(&turn);
        for c in &mut element.cladding {
            c.along = c.along.map(|a| turn.rotation * a);
            c.through = c.through.map(|p| turn * p);
        }
    }
    turned.rests.clear();
    let mut unturned = s;
    unturned.rests.clear();
    // Ribs of level faces run along x unless told: they must turn too.
    for (sculpture, along) in [(&mut unturned, V::x()), (&mut turned, V::y())] {
        for c in sculpture.elements.iter_mut().flat_map(|e| &mut e.cladding) {
            c.along = Some(c.along.unwrap_or(V::z() + along * 0.3));
        }
    }
    let [a, b] = [&unturned, &turned].map(worked);
    let spine = through(&a, tube(139.7, 5.0)).expect("rises");
    let moved = Built {
        points: spine.points.iter().map(|p| turn * p).collect(),
        crossings: spine.crossings.iter().map(|c| Crossing { at: turn * c.at, ..c.clone() }).collect(),
        ..spine.clone()
    };
    let all = [(&a, &spine), (&b, &moved)].map(|(work, built)| {
        let carried = Carried::new(work, &Output::default()).expect("weighed");
        Sway::new(&carried, built, &Options::default()).and_then(|s| s.figures()).expect("figures")
    });
    let [x, y] = &all;
    for (p, q) in x.modes.iter().zip(&y.modes) {
        near(p.frequency, q.frequency, 1e-7);
    }
    near(x.used(), y.used(), 1e-5);
    for (p, q) in x.legs.iter().zip(&y.legs) {
        near(p.used, q.used, 1e-5);
    }
    for k in 0..16 {
        for (p, q) in x.sway[k].iter().zip(&y.sway[(k + 4) % 16]) {
            near(*p, *q, 1e-5);
        }
    }
    for (p, q) in x.sag.iter().zip(&y.sag) {
        near(*p, *q, 1e-6);
    }
}

/// Of tubes with walls of 5 mm the wider swings faster, sways less and works less, on works of all kinds.
#[test]
fn wider_tubes_swing_faster_and_sway_less_on_real_works() {
    let registry = Registry::standard();
    let mut works: Vec<Work> =
        (100..130_u64).filter_map(|seed| work_out(&random_work(seed).ok()?, &registry).ok()).collect();
    works.push(worked(&leaning()));
    let checked = works
        .par_iter()
        .filter_map(|work| {
            let spine = through(work, tube(100.0, 5.0))?;
            let carried = Carried::new(work, &Output::default()).expect("weighed");
            let figures = [76.1, 88.9, 114.3, 139.7, 168.3, 219.1].map(|d| {
                let built = Built { tube: tube(d, 5.0), ..spine.clone() };
                let sway = Sway::new(&carried, &built, &Options::default()).expect("a model");
                let f = sway.figures_with(1).expect("figures");
                (f.frequency().expect("a mode"), f.greatest_sway().expect("sways").figure, f.used())
            });
            for w in figures.windows(2) {
                let name = &work.sculpture.name;
                assert!(w[1].0 > w[0].0 && w[1].1 < w[0].1 && w[1].2 < w[0].2, "{name}: {w:?}");
            }
            Some(())
        })
        .count();
    assert!(checked > 10, "{checked}");
}

/// Without the inertia of the elements about their own centres it swings faster: by how much, second method: the
/// frame with the same bodies as points.
#[test]
fn the_inertia_of_elements_slows_it() {
    let work = worked(&leaning());
    let spine = through(&work, tube(139.7, 5.0)).expect("rises");
    let carried = Carried::new(&work, &Output::default()).expect("weighed");
    let sway = Sway::new(&carried, &spine, &Options::default()).expect("a model");
    let with = modes(sway.frame(), 6).expect("modes");
    let mut points = sway.frame().clone();
    points.bodies.iter_mut().for_each(|b| b.inertia.fill(0.0));
    let without = modes(&points, 6).expect("modes");
    for (a, b) in with.iter().zip(&without) {
        assert!(a.frequency < b.frequency, "{} {}", a.frequency, b.frequency);
    }
    assert!(without[0].frequency > 1.01 * with[0].frequency);
}

/// Held in two collars or stiffly in one: the base feels the same, for the spine is a cantilever; what differs is how
/// the tube bends between.
#[test]
fn where_elements_are_held_changes_sway_but_not_what_comes_to_the_base() {
    let work = worked(&leaning());
    let spine = through(&work, tube(139.7, 5.0)).expect("rises");
    let carried = Carried::new(&work, &Output::default()).expect("weighed");
    let heights = BTreeMap::from([("A".to_owned(), vec![200.0, 1000.0]), ("C".to_owned(), vec![250.0])]);
    let of = |options: Options| {
        let sway = Sway::new(&carried, &spine, &options).expect("a model");
        (sway.holds.clone(), sway.figures().expect("figures"))
    };
    let openings = of(Options::default());
    for other in [
        of(Options { attach: Attach::Lower, ..Options::default() }),
        of(Options { heights, ..Options::default() }),
    ] {
        assert_ne!(openings.0, other.0);
        for (a, b) in openings.1.reactions.iter().zip(&other.1.reactions) {
            assert!((a.force - b.force).norm() <= 1e-9 * a.force.norm().max(1.0));
            assert!((a.moment - b.moment).norm() <= 1e-9 * a.moment.norm().max(1.0));
        }
        assert!(openings.1.frequency() != other.1.frequency());
    }
}

/// Anchors as springs: the foot turns by M / Σ k y², and more anchor length is more sway; ten times stiffer anchors come near to
/// a fixed foot.
#[test]
fn anchors_give_as_springs_do() {
    let work = worked(&leaning());
    let spine = through(&work, tube(219.1, 8.0)).expect("rises");
    let foot = spine.points[0];
    let places: Vec<P> = [[-400.0, -300.0], [400.0, -300.0], [400.0, 300.0], [-400.0, 300.0]]
        .map(|[x, y]| foot + V::new(x, y, 0.0))
        .to_vec();
    let output =
        Output { anchors: Some(AnchorGroup { places, area: 245.0, length: 250.0 }), ..Output::default() };
    let carried = Carried::new(&work, &output).expect("weighed");
    let of = |options: Options| {
        let sway = Sway::new(&carried, &spine, &options).expect("a model");
        let figures = sway.figures().expect("figures");
        (sway.frame().clone(), figures)
    };
    let (_, fixed) = of(Options::default());
    let (frame, soft) = of(Options { foot: Foot::Anchors, ..Options::default() });
    let k = 210_000.0 * 245.0 / 250.0;
    for (solved, r) in soft.sides.iter().zip(&soft.reactions[1..]) {
        let turn = solved.nodes[0].fixed_rows::<3>(3).into_owned();
        let (about_x, about_y) = (4.0 * k * 300.0_f64.powi(2), 4.0 * k * 400.0_f64.powi(2));
        let scale = r.moment.norm() / about_x;
        assert!((turn.x + r.moment.x / about_x).abs() < 1e-9 * scale, "{turn} {}", r.moment);
        assert!((turn.y + r.moment.y / about_y).abs() < 1e-9 * scale);
    }
    for (a, b) in fixed.reactions.iter().zip(&soft.reactions) {
        assert!((a.force - b.force).norm() <= 1e-9 * a.force.norm().max(1.0));
        assert!((a.moment - b.moment).norm() <= 1e-9 * a.moment.norm().max(1.0));
    }
    assert!(soft.frequency() < fixed.frequency());
    let (_, stiff) = of(Options { foot: Foot::Anchors, anchor_length: Some(0.01), ..Options::default() });
    near(stiff.frequency().expect("a mode"), fixed.frequency().expect("a mode"), 1e-3);
    assert!(solve(&frame, &[Load::Weight(V::new(0.0, 0.0, -STANDARD_GRAVITY))]).is_ok());
    // None there: said so.
    let bare = Carried::new(&work, &Output::default()).expect("weighed");
    let options = Options { foot: Foot::Anchors, ..Options::default() };
    let error = Sway::new(&bare, &spine, &options).expect_err("no anchors").to_string();
    assert!(error.contains("anchors") && error.contains("fixed"), "{error}");
}

/// The lightest tube keeps the limits; the next lighter of the list does not, by the stage itself.
#[test]
fn the_lightest_tube_keeps_the_limits_and_the_next_lighter_does_not() {
    let mut s = leaning();
    prescribe(&mut s);
    set(&mut s, "spine", &[("tube", word("lightest"))]);
    set(&mut s, "frame", &[("least_frequency", number(2.0)), ("most_sway", number(150.0))]);
    let work = worked(&s);
    let output = stages(&work, &["spine", "frame"]);
    let chosen = output.spine.as_ref().expect("a spine").tube;
    let tried = table(&output, "frame_tubes");
    let masses: Vec<f64> = (0..tried.rows.len()).map(|k| figure(tried, k, "kg/m")).collect();
    assert!(masses.len() > 5 && masses.windows(2).all(|w| w[0] <= w[1]), "{masses:?}");
    let names: Vec<String> = tried
        .rows
        .iter()
        .map(|r| match &r[0] {
            Cell::Text(t) => t.clone(),
            other => panic!("{other:?}"),
        })
        .collect();
    assert_eq!(names[names.len() - 1], chosen.words());
    let bad = ["frame-strength", "frame-sway", "frame-frequency"];
    for code in bad {
        assert!(found(&output, code).is_none(), "{:?}", found(&output, code));
    }
    // Several lighter ones by name, from the next on.
    for name in names.iter().rev().skip(1).take(3) {
        let mut lighter = s.clone();
        set(&mut lighter, "spine", &[("tube", word(&name.replace(' ', "")))]);
        let output = stages(&worked(&lighter), &["spine", "frame"]);
        let fails = output.spine.is_none() || bad.iter().any(|code| found(&output, code).is_some());
        assert!(fails, "{name} does it too");
    }
}

/// With a way that is looked for, for each diameter that comes near the limits.
#[test]
fn the_lightest_tube_finds_its_own_way() {
    let mut s = Sculpture::new("Two");
    s.stand(block("A", [900.0, 800.0, 900.0], &flat(3.0))).expect("stands");
    let how = Stacking { sink: 40.0, shift: [60.0, 0.0], ..Stacking::on("A/top") };
    s.stack(block("B", [700.0, 600.0, 800.0], &flat(3.0)), &how).expect("stacks");
    set(&mut s, "spine", &[("tube", word("lightest")), ("most_legs", number(2.0))]);
    let output = stages(&worked(&s), &["spine", "frame"]);
    let built = output.spine.as_ref().expect("a spine");
    assert!(built.clearance >= 20.0 - 1e-6, "{}", built.clearance);
    let tried = table(&output, "frame_tubes");
    assert_eq!(tried.rows[tried.rows.len() - 1][0], Cell::Text(built.tube.words()));
    for code in ["frame-strength", "frame-sway", "frame-frequency"] {
        assert!(found(&output, code).is_none(), "{:?}", found(&output, code));
    }
}

#[test]
fn a_lightest_tube_that_cannot_be_is_told_with_what_was_reached() {
    let mut s = leaning();
    prescribe(&mut s);
    set(&mut s, "spine", &[("tube", word("lightest"))]);
    set(&mut s, "frame", &[("least_frequency", number(400.0))]);
    let output = stages(&worked(&s), &["spine", "frame"]);
    assert!(output.spine.is_none());
    let said = found(&output, "spine-lightest").expect("said");
    assert_eq!(said.level, Level::Error);
    assert!(said.message.contains("Hz of 400 Hz") && said.remedy.contains("relax"), "{said:?}");
}

/// The sheet of a square box, ribs up: A = 4 a t', I = 2 a³ t' / 3 with t' the thickness times developed over flat length
/// (cos⁴ of no slope), J = a³ t'' by Bredt with t'' the thickness over the same. Asked for, it stiffens; else nothing changes.
#[test]
fn the_shell_stiffens_as_a_thin_box_where_it_is_asked_for_and_not_else() {
    let mut s = Sculpture::new("Box");
    s.stand(block("A", [600.0, 600.0, 3000.0], &rib())).expect("stands");
    let work = worked(&s);
    let points = [P::new(0.0, 0.0, 0.0), P::new(0.0, 0.0, 2900.0)];
    let built = built(&points, tube(139.7, 5.0), Vec::new());
    let carried = Carried::new(&work, &Output::default()).expect("weighed");
    let heights = BTreeMap::from([("A".to_owned(), vec![100.0, 2800.0])]);
    let at = |shell: f64| {
        let options = Options { shell, heights: heights.clone(), ..Options::default() };
        let sway = Sway::new(&carried, &built, &options).expect("a model");
        let figures = sway.figures().expect("figures");
        (sway.frame().bars.clone(), figures)
    };
    let (bars, plain) = at(0.0);
    assert_eq!(bars.len(), 1, "nothing but the tube");
    let (bars, stiff) = at(1.0);
    let profile = rib();
    let developed = profile.developed_length(0.0) / profile.pitch();
    let (a, along, round) = (600.0_f64, 2.0 * developed, 2.0 / developed);
    near(bars[1].area, 4.0 * a * along, 1e-9);
    near(bars[1].inertia[0], 2.0 * a.powi(3) * along / 3.0, 1e-9);
    near(bars[1].torsion, a.powi(3) * round, 1e-9);
    let frequency = |f: &ribwright_kernel::sway::Figures| f.frequency().expect("swings");
    let (_, half) = at(0.5);
    assert!(frequency(&plain) < frequency(&half) && frequency(&half) < frequency(&stiff));
    // What comes to the base does not change, and legs are still those of the tube alone.
    for (a, b) in plain.reactions.iter().zip(&stiff.reactions) {
        assert!((a.force - b.force).norm() <= BALANCED * (1.0 + a.force.norm()));
        assert!((a.moment - b.moment).norm() <= 1e-8 * (1.0 + a.moment.norm()));
    }
    assert_eq!(plain.legs.len(), stiff.legs.len());
}

/// The base takes the worst wind of the frame, with its factor, where the script gave no force; else the script's.
#[test]
fn the_base_is_worked_out_for_what_the_spine_brings() {
    let mut s = leaning();
    prescribe(&mut s);
    set(&mut s, "spine", &[("tube", word("139.7x5"))]);
    set(&mut s, "base", &[("anchors", word("rectangle")), ("margin", number(200.0))]);
    let output = stages(&worked(&s), &["spine", "base", "mass", "wind", "frame"]);
    let base = table(&output, "base");
    let row = |what: &str| base.rows.iter().position(|r| r[0] == Cell::Text(what.to_owned()));
    assert_eq!(output.tables.iter().filter(|t| t.name == "base").count(), 1);
    assert_eq!(output.tables.iter().filter(|t| t.name == "anchors").count(), 1);
    let wind = table(&output, "wind");
    let [mut most, mut height] = [0.0, 0.0];
    for k in 0..wind.rows.len() {
        let moment = figure(wind, k, "moment on the ground kN m");
        if moment > most {
            [most, height] = [moment, figure(wind, k, "at height mm")];
        }
    }
    let force = figure(base, row("side force").expect("a side force"), "figure");
    let at = figure(base, row("height of the side force").expect("a height"), "figure");
    // The worst with the weight's own moment need not be the strongest, but is near it.
    assert!(
        force * at / 1000.0 > 1.5 * most * 0.9 && force * at / 1000.0 < 1.5 * most * 1.0001,
        "{force} {at} {most}"
    );
    assert!((at - height).abs() < 0.1 * height, "{at} {height}");
    assert!(row("greatest anchor tension").is_some());
    assert!(output.mass.parts.iter().any(|c| c.kind == Kind::Base), "the plate is weighed");
    assert!(found(&output, "frame-base").is_none());
    set(&mut s, "base", &[("side_force", number(10.0))]);
    let output = stages(&worked(&s), &["spine", "base", "mass", "wind", "frame"]);
    let base = table(&output, "base");
    let row =
        base.rows.iter().position(|r| r[0] == Cell::Text("side force".into())).expect("that of the script");
    assert!(figure(base, row, "figure") < 0.021, "10 N with a factor");
    assert!(found(&output, "frame-base").expect("compared").remedy.contains("side_force"));
}

#[test]
fn weak_tubes_are_errors_with_a_remedy_and_vortices_are_told() {
    let mut s = leaning();
    prescribe(&mut s);
    set(&mut s, "spine", &[("tube", word("48.3x3"))]);
    let output = stages(&worked(&s), &["spine", "frame"]);
    let strength = found(&output, "frame-strength").expect("too weak");
    assert_eq!(strength.level, Level::Error);
    assert!(strength.message.contains("48.3 × 3") && strength.message.contains("weight"), "{strength:?}");
    for code in ["frame-sway", "frame-frequency", "frame-sag", "frame-vortices"] {
        let f = found(&output, code).unwrap_or_else(|| panic!("{code} is missing"));
        assert!(!f.remedy.is_empty() && f.level == Level::Warning, "{f:?}");
    }
    let names: Vec<&str> = output.drawings.iter().map(|d| d.name.as_str()).collect();
    for name in ["frame-sway", "frame-mode-1", "frame-mode-2", "frame-mode-3"] {
        assert!(names.contains(&name), "{names:?}");
    }
    output.drawings.iter().for_each(|d| d.validate().expect("can be drawn"));
    // b n / St, from the table's own figures: 0.18 unless set.
    let mode = figure(table(&output, "frame_modes"), 0, "frequency Hz");
    let carried = Carried::new(&worked(&s), &output).map(|c| (c.wind.width, c.wind.vortex_speed_at(mode)));
    let (width, speed) = carried.expect("wind");
    near(speed, width / 1000.0 * mode / 0.18, 1e-9);
}

#[test]
fn impossible_settings_are_refused_and_km_per_hour_are_noticed() {
    let refused = |stage: &str, name: &str, value: Value| {
        let mut s = leaning();
        prescribe(&mut s);
        set(&mut s, "spine", &[("tube", word("139.7x5"))]);
        set(&mut s, stage, &[(name, value)]);
        let only = ["spine", "frame"].map(str::to_owned);
        run_stages(&worked(&s), &Registry::standard(), &only).expect_err("refused").to_string()
    };
    for name in ["least_frequency", "most_sway", "yield_factor"] {
        let text = refused("frame", name, number(0.0));
        assert!(text.contains(name) && text.contains("allowed is a number from"), "{text}");
    }
    for name in ["permanent", "favourable", "variable"] {
        assert!(refused("frame", name, number(-1.35)).contains(name));
    }
    assert!(refused("frame", "atach", word("plates")).contains("did you mean \"attach\""));
    assert!(refused("spine", "grade", word("S356")).contains("S355"));
    let none = Value::Map(BTreeMap::from([("D".to_owned(), number(200.0))]));
    assert!(refused("frame", "heights", none).contains("known: A, B, C"));
    assert!(material_named("S999").expect_err("unknown").to_string().contains("S355"));
    // By hand, past the rows.
    let work = worked(&leaning());
    let carried = Carried::new(&work, &Output::default()).expect("weighed");
    let spine = through(&work, tube(139.7, 5.0)).expect("rises");
    for bad in [
        Options { least_frequency: 0.0, ..Options::default() },
        Options { most_sway: -1.0, ..Options::default() },
        Options { variable: -1.5, ..Options::default() },
        Options { yield_factor: f64::NAN, ..Options::default() },
        Options { heights: BTreeMap::from([("A".to_owned(), vec![9000.0])]), ..Options::default() },
    ] {
        let error = Sway::new(&carried, &spine, &bad).expect_err("refused").to_string();
        assert!(error.contains("; "), "{error}");
    }
    // A wall beyond the grade's table.
    let thick = Built { tube: tube(900.0, 260.0), ..spine.clone() };
    let error =
        Sway::new(&carried, &thick, &Options::default()).and_then(|s| s.figures()).expect_err("thick");
    assert!(error.to_string().contains("no strength"), "{error}");
    for points in [vec![P::origin()], vec![P::origin(); 2], vec![P::origin(), P::new(f64::NAN, 0.0, 1.0)]] {
        let bad = Built { points, ..spine.clone() };
        assert!(Sway::new(&carried, &bad, &Options::default()).is_err());
    }
    // 90 km/h written as m/s.
    let mut s = leaning();
    prescribe(&mut s);
    set(&mut s, "spine", &[("tube", word("139.7x5"))]);
    set(&mut s, "wind", &[("basic_speed", number(90.0))]);
    let work = worked(&s);
    for only in [&["spine", "frame"][..], &["spine", "wind", "frame"]] {
        let output = stages(&work, only);
        let said: Vec<&Finding> = output.findings.iter().filter(|f| f.code == "wind-speed").collect();
        assert!(said.len() == 1 && said[0].remedy.contains("25.0 m/s"), "{said:?}");
    }
}
