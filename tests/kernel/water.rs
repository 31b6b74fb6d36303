//! Water on real works: what is proposed drains, holes come off parts, rust comes off the spine.

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use ribwright_kernel::chambers::outside;
use ribwright_kernel::drawing::{Layer, signed_area};
use ribwright_kernel::mass::{Body, Kind, Matter};
use ribwright_kernel::part::Part;
use ribwright_kernel::sculpture::{Sculpture, Stacking};
use ribwright_kernel::settings::Value;
use ribwright_kernel::spine::Built;
use ribwright_kernel::stage::frame;
use ribwright_kernel::tube::{Tube, material_named};
use ribwright_kernel::units::STANDARD_GRAVITY;
use ribwright_kernel::water::drains::{For, drains};
use ribwright_kernel::water::place::sides;
use ribwright_kernel::water::remedy::{Change, after, changed, least, standing};
use ribwright_kernel::water::together::{together, with_all};
use ribwright_kernel::water::{Outdoors, Wear, options};
use ribwright_kernel::{Level, Output, Registry, Work, work_out};
use ribwright_tests::near;
use ribwright_tests::random::Random;
use ribwright_tests::standing::{block, figure, flat, rib, set, stages, table, worked};
use ribwright_tests::works::random_work;
use std::collections::BTreeMap;
use std::f64::consts::PI;
use std::path::Path;

fn number(x: f64) -> Value {
    Value::Number(x)
}

/// How many leaning works are tried.
const WORKS: u64 = 16;

/// A leaning block with another on its sloping top, by chance.
fn leaning(seed: u64) -> Sculpture {
    let mut random = Random::new(seed);
    let mut s = Sculpture::new(&format!("lean {seed}"));
    let mut a = block("A", [1000.0, 900.0, 500.0], &rib());
    let turned = random.between(0.0, 360.0).to_radians();
    a.turn(Vector3::new(turned.cos(), turned.sin(), 0.0), random.between(1.0, 9.0)).expect("turned");
    let along = random.between(0.0, 180.0).to_radians();
    let top = a.face_mut("top").expect("a top");
    (top.along, top.phase) = (Some(Vector3::new(along.cos(), along.sin(), 0.0)), random.between(-90.0, 90.0));
    s.stand(a).expect("stands");
    let how = Stacking {
        sink: random.between(50.0, 90.0),
        turn: random.between(-45.0, 45.0),
        tip: random.between(0.0, 12.0),
        toward: random.between(0.0, 360.0),
        shift: [random.between(-60.0, 60.0), random.between(-60.0, 60.0)],
        ..Stacking::on("A/top")
    };
    s.stack(block("B", [420.0, 380.0, 500.0], &rib()), &how).expect("stacks");
    set(&mut s, "water", &[("tilt", number(12.0)), ("volume", number(20.0)), ("depth", number(3.0))]);
    s
}

#[test]
fn every_change_that_is_proposed_drains_its_place_when_the_work_is_made_anew_with_it() {
    let counts: Vec<[usize; 6]> = (0..WORKS)
        .into_par_iter()
        .map(|seed| {
            let s = leaning(seed);
            let work = worked(&s);
            let found = standing(&work).expect("closed");
            let least = least(&options::values(&work.sculpture).expect("settings"));
            let mut count = [found.places.len(), 0, 0, 0, 0, 0];
            for place in &found.places {
                let Some(smallest) = place.smallest else { continue };
                count[1] += 1;
                let remedy = &place.remedies[smallest];
                // The stage's own claim, worked out again.
                let left = after(&work, &found.outdoors, &remedy.change, least).expect("closed");
                let all: f64 = left.iter().map(|h| h.volume).sum();
                assert!((all - remedy.everywhere).abs() <= 1e-6 * all.max(1.0), "{seed}: {all}");
                match &remedy.change {
                    Change::Hole { .. } => {
                        count[2] += 1;
                        let near = |h: &&ribwright_kernel::water::Hollow| {
                            (h.lowest - place.hollow.lowest).norm() < 1.0 || h.pass == place.hollow.pass
                        };
                        assert!(!left.iter().any(|h| near(&h)), "{seed}");
                    }
                    Change::Fill { hollow } => {
                        count[5] += 1;
                        // Only there, and nothing less or more anywhere else.
                        assert_eq!(**hollow, place.hollow);
                        assert!(remedy.here <= 0.0, "{seed}");
                        let rest = found.volume - hollow.volume;
                        assert!((remedy.everywhere - rest).abs() <= 1e-9 * found.volume, "{seed}");
                    }
                    change => {
                        // And by a work made from the start, with its own parts and joints.
                        let made = changed(&work.sculpture, &work, change).expect("a change of shape");
                        let again = worked(&made);
                        let (mesh, _) = outside(&again).expect("trimmed");
                        let outdoors = Outdoors::new(&mesh).expect("closed");
                        let stands = outdoors.hollows(Vector3::z_axis(), least);
                        let face = |f: usize| work.faces[f].id.clone();
                        let there = |h: &&ribwright_kernel::water::Hollow| match change {
                            Change::Ribs { face: f, .. } => h.walls.contains(&face(*f)),
                            _ => h.walls == place.hollow.walls,
                        };
                        count[if matches!(change, Change::Ribs { .. }) { 3 } else { 4 }] += 1;
                        assert_eq!(stands.iter().filter(there).count(), 0, "{seed}: {change:?}");
                    }
                }
            }
            // All places whose smallest change is a hole, drilled at once.
            let whole = found
                .places
                .iter()
                .all(|p| p.remedies.iter().any(|r| matches!(r.change, Change::Hole { .. }) && r.here <= 0.0));
            if whole {
                assert!(found.with_holes <= 0.0, "{seed}: {} left with all holes", found.with_holes);
            }
            count
        })
        .collect();
    let sum = |k: usize| counts.iter().map(|c| c[k]).sum::<usize>();
    println!(
        "{} works with water of {WORKS}, {} places, {} with a change that drains: {} holes, {} turns of ribs, {} tilts, {} closed up",
        counts.iter().filter(|c| c[0] > 0).count(),
        sum(0),
        sum(1),
        sum(2),
        sum(3),
        sum(4),
        sum(5)
    );
    // What is filled up to its pass holds nothing, so every place has a change that drains it.
    assert!(sum(0) > 12 && sum(1) == sum(0), "a place without a change that drains it");
}

/// Makes all proposed changes together and looks for water anew: tilts and turns in the sculpture, which is worked out from
/// its beginning; holes as places where it runs out and closed hollows as another surface. How many places there were, and
/// how many turns and tilts, holes and closed hollows it took.
fn drained(work: &Work, words: &str) -> Option<[usize; 4]> {
    let Ok(found) = standing(work) else { return None };
    let least = least(&options::values(&work.sculpture).expect("settings"));
    let all = together(work, &|s| work_out(s, &Registry::standard()), &found).expect("worked out");
    let mut made = work.clone();
    for change in &all.shape {
        made = worked(&changed(&made.sculpture, &made, change).expect("a change of shape"));
    }
    let (mesh, _) = outside(&made).expect("trimmed");
    let outdoors = Outdoors::new(&mesh).expect("closed");
    let left = with_all(&made, &outdoors, &all.rest, least).expect("closed");
    let deepest = left.iter().map(|h| h.depth).fold(0.0, f64::max);
    assert!(left.is_empty(), "{words}: {} places, up to {deepest:.1} mm deep", left.len());
    assert_eq!(all.left.len(), 0, "{words}");
    // And without them it does stand, so that the changes are what drains it.
    let bare = with_all(&made, &outdoors, &[], least).expect("closed");
    assert_eq!(bare.len(), all.rest.len(), "{words}");
    let fills = all.rest.iter().filter(|r| matches!(r.1, Change::Fill { .. })).count();
    Some([found.places.len(), all.shape.len(), all.rest.len() - fills, fills])
}

fn asked(mut s: Sculpture) -> Sculpture {
    if !s.stages.contains_key("water") {
        set(&mut s, "water", &[("tilt", number(5.0))]);
    }
    s
}

#[test]
fn drained_works_show_no_standing_water_after_all_proposed_changes() {
    let mut works: Vec<(String, Sculpture)> =
        (100..100 + 2 * WORKS).map(|seed| (format!("lean {seed}"), leaning(seed))).collect();
    works.extend((0..48).filter_map(|seed| Some((format!("random {seed}"), asked(random_work(seed).ok()?)))));
    let found: Vec<Option<[usize; 4]>> = works
        .into_par_iter()
        .filter_map(|(words, s)| {
            let work = work_out(&s, &Registry::standard()).ok()?;
            let broken = work.findings.iter().any(|f| f.level == Level::Error);
            (!broken).then(|| drained(&work, &words))
        })
        .collect();
    let open = found.iter().filter(|f| f.is_none()).count();
    let done: Vec<[usize; 4]> = found.into_iter().flatten().collect();
    let sum = |k: usize| done.iter().map(|c| c[k]).sum::<usize>();
    println!(
        "{} works ({open} more whose outside does not close): {} places; {} turns and tilts, {} holes, {} closed up; none left",
        done.len(),
        sum(0),
        sum(1),
        sum(2),
        sum(3)
    );
    let wet = done.iter().filter(|c| c[0] > 0).count();
    assert!(wet >= 30 && sum(3) > 0, "{wet} works with water");
}

#[test]
fn drained_examples_show_no_standing_water_after_all_proposed_changes() {
    for name in ["five", "spine", "lean", "finish", "sheets"] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("../scripts/examples/{name}.rhai"));
        let s = ribwright_scripts::run_file(&path, &Registry::standard())
            .unwrap_or_else(|e| panic!("{}", e.render(false)));
        let counts = drained(&worked(&asked(s)), name).expect("closed");
        println!(
            "{name}: {} places, {} turns and tilts, {} holes, {} closed up; none left",
            counts[0], counts[1], counts[2], counts[3]
        );
    }
}

/// mm³.
const TENTH_OF_A_LITRE: f64 = 1.0e5;

fn tower(cut: bool) -> Work {
    let mut s = Sculpture::new("Low Tower");
    let mut a = block("A", [700.0, 600.0, 900.0], &rib());
    a.turn(Vector3::new(1.0, 0.4, 0.0), 5.0).expect("turned");
    s.stand(a).expect("stands");
    set(&mut s, "water", &[("cut_drains", Value::Flag(cut)), ("turn_ribs", Value::Flag(false))]);
    worked(&s)
}

#[test]
fn holes_come_off_the_area_the_mass_and_the_templates_and_add_to_the_cut() {
    let (bare, cut) = (tower(false), tower(true));
    let found = drains(&bare).expect("drains");
    let holes =
        |part: usize| found.holes.iter().filter_map(|h| h.spot.as_ref()).filter(|s| s.part == part).count();
    // Two hollows lie in the corner of a strip with the next sheet: no flat place there takes a hole, and that is said.
    let without: Vec<_> = found.holes.iter().filter(|h| h.spot.is_none()).collect();
    assert!(
        without.len() <= 2 && without.iter().all(|h| h.without.is_some_and(|left| left < TENTH_OF_A_LITRE))
    );
    let said = stages(&bare, &["water"]).findings;
    for hole in &without {
        assert!(said.iter().any(|f| f.place == hole.wall || f.message.contains(&hole.wall)), "{}", hole.wall);
    }
    assert!(
        found.holes.iter().any(|h| h.what == For::Vent) && found.holes.iter().any(|h| h.what == For::Drain)
    );
    // A hole of 20 mm with so many sides.
    let n = f64::from(sides(10.0));
    let area = n / 2.0 * 100.0 * (2.0 * PI / n).sin();
    let round = n * 20.0 * (PI / n).sin();
    near(area, 100.0 * PI, 2e-3);
    let blank = |output: &Output, part: usize| -> (f64, f64, usize) {
        let all = output.templates.iter().find(|t| t.part == part).expect("templates");
        let one = all.templates.iter().find(|t| t.kind == "blank").expect("a blank");
        (one.area, one.cut_length, one.drawing.on(Layer::Cut).count())
    };
    let [before, after] = [&bare, &cut].map(|w| stages(w, &["templates", "water"]));
    let mut total = 0;
    for (k, (old, new)) in bare.parts.iter().zip(&cut.parts).enumerate() {
        let count = holes(k) as f64;
        total += holes(k);
        let check = |old: &Part, new: &Part| {
            assert_eq!(new.outlines.len(), old.outlines.len() + holes(k));
            assert!(new.outlines.iter().zip(&new.edges).all(|(o, e)| o.len() == e.len()));
            assert!((old.area - new.area - count * area).abs() < 1e-6 * old.area.max(1.0), "{}", old.id);
            assert!((new.cut_length - old.cut_length - count * round).abs() < 1e-6 * old.cut_length);
            near(new.mass, new.area * new.thickness() * 7850.0e-9, 1e-9);
        };
        check(old, new);
        // Flat on its own strip, the hole is the same circle on the blank.
        let (a, b) = (blank(&before, k), blank(&after, k));
        assert!((a.0 - b.0 - count * area).abs() < 1e-6 * a.0);
        assert!((b.1 - a.1 - count * round).abs() < 1e-6 * a.1);
        assert_eq!(b.2, a.2 + holes(k));
    }
    assert!(total >= 2, "{total}");
    near(cut.mass, cut.parts.iter().map(|p| p.mass).sum(), 1e-12);
    // What is off, from the facets of the mass model: a second method, exact on flat strips.
    let [whole, less] = [&bare, &cut].map(|w| stages(w, &["mass"]).mass.body(|c| c.kind == Kind::Sheet));
    let off = total as f64 * area * 2.0 * 7850.0e-9;
    near(bare.mass - cut.mass, off, 1e-6);
    near(whole.mass - less.mass, off, 1e-6);
    let moved = bare.centre_of_mass.coords * bare.mass - cut.centre_of_mass.coords * cut.mass;
    let second = whole.centre.coords * whole.mass - less.centre.coords * less.mass;
    assert!((moved - second).norm() < 1e-3 * second.norm(), "{moved} {second}");
    // The schedule of the cut work names the same holes.
    let [a, b] = [&before, &after].map(|o| table(o, "water-inside").rows.clone());
    assert_eq!(a, b);
}

#[test]
fn no_hole_is_nearer_to_an_edge_a_fold_or_another_hole_than_asked_for() {
    let work = tower(true);
    let mut seen = 0;
    for part in &work.parts {
        let place = |p: &[f64; 2]| part.position(*p, 0.0);
        let holes = part.outlines.iter().enumerate().filter(|(_, o)| signed_area(o) < 0.0);
        for (k, hole) in holes {
            seen += 1;
            let middle = hole.iter().map(|p| place(p).coords).sum::<Vector3<f64>>() / hole.len() as f64;
            // A circle in space, flat on its strip.
            for p in hole {
                near((place(p).coords - middle).norm(), 10.0, 1e-6);
            }
            let others = part.outlines.iter().enumerate().filter(|(i, _)| *i != k);
            for corner in others.flat_map(|(_, o)| o) {
                assert!((place(corner).coords - middle).norm() >= 20.0 - 1e-6);
            }
        }
    }
    assert!(seen >= 2);
}

/// The stress of a plumb pole grows as its section modulus and its area shrink, no more and no less: 114.3 × 5, 4 m, 1 kN at
/// the tip (the closed forms of the test in `swaying`, with the worn tube).
#[test]
fn a_worn_spine_is_used_more_by_the_closed_form() {
    let used = |water: Option<&[(&str, Value)]>| {
        let mut s = Sculpture::new("Pole");
        s.stand(block("A", [400.0, 400.0, 4000.0], &flat(2.0))).expect("stands");
        set(
            &mut s,
            "wind",
            &[("basic_speed", number(0.0)), ("push", number(1000.0)), ("push_height", number(4000.0))],
        );
        let heights = BTreeMap::from([("A".to_owned(), Value::List(vec![number(4000.0)]))]);
        set(&mut s, "frame", &[("heights", Value::Map(heights))]);
        if let Some(water) = water {
            set(&mut s, "water", water);
        }
        let work = worked(&s);
        let tube = Tube::new(114.3, 5.0).expect("possible");
        let tip = Point3::new(0.0, 0.0, 4000.0);
        let spine = Built {
            points: vec![Point3::origin(), tip],
            tube,
            material: *material_named("S355").expect("known"),
            crossings: Vec::new(),
            clearance: 20.0,
        };
        let mut output = Output { spine: Some(spine), ..Output::default() };
        let lump = Matter::Lump(Body::point(100.0, tip));
        output.mass.push(Some(0), Kind::Sheet, "all of it", lump).expect("a mass");
        (frame::ROW.run)(&work, &Registry::standard(), &mut output).expect("the stage");
        let worn = Wear::of(&work.sculpture).expect("settings").tube(&tube).expect("a wall");
        // It goes on weighing what the whole tube does.
        let weight = 1.35 * STANDARD_GRAVITY * (100.0 + tube.area() * 4000.0 * 7850.0e-9);
        let expected = 1.5 * 4.0e6 / worn.elastic_modulus() + weight / worn.area();
        near(figure(table(&output, "frame"), 0, "bending N/mm²"), 1.5 * 4.0e6 / worn.elastic_modulus(), 1e-9);
        near(figure(table(&output, "frame"), 0, "used"), expected / 355.0, 1e-4);
        figure(table(&output, "frame"), 0, "used")
    };
    let word = |text: &str| Value::Text(text.to_owned());
    let whole = used(None);
    let inside = used(Some(&[]));
    let both = used(Some(&[("tube_inside", word("C3")), ("inside", word("C4"))]));
    let off = used(Some(&[("allowance", Value::Flag(false))]));
    assert!(whole < inside && inside < both, "{whole} {inside} {both}");
    near(off, whole, 1e-12);
}

#[test]
fn the_page_of_a_work_lists_places_changes_joints_drains_and_rust() {
    let seed = (0..WORKS).find(|&seed| !standing(&worked(&leaning(seed))).expect("closed").places.is_empty());
    let work = worked(&leaning(seed.expect("a work that holds water")));
    let output = stages(&work, &["water"]);
    for name in ["water", "water-remedies", "water-falls", "water-seams", "water-inside", "water-rust"] {
        assert!(!table(&output, name).columns.is_empty());
    }
    let places = table(&output, "water").rows.len();
    let plan = output.drawings.iter().find(|d| d.name == "water-plan").expect("a plan");
    for number in 1..=places {
        assert!(plan.labels.iter().any(|l| l.text == number.to_string()), "place {number} is numbered");
        assert!(
            plan.labels.iter().any(|l| l.text.starts_with(&format!("{number}: "))),
            "with depth and litres"
        );
    }
    assert!(plan.on(Layer::BendUp).next().is_some(), "hatched");
    assert_eq!(output.findings.iter().filter(|f| f.code == "water-stands").count(), places);
    // Rust by face: C3 outside and C2 inside over 50 years, 0.3868 and 0.1934 mm (D = r tᵇ by hand).
    let rust = table(&output, "water-rust");
    assert!((figure(rust, 0, "lost outside mm") - 0.3868).abs() < 1e-4);
    assert!((figure(rust, 0, "left mm") - (2.0 - 0.3868 - 0.1934)).abs() < 2e-4);
}
