//! The base, plates, branches and delivery of whole works, as the stages work them out together: what every known action
//! and every known mass does to them.

use ribwright_kernel::element::slab;
use ribwright_kernel::mass::Kind;
use ribwright_kernel::sculpture::{Element, LeanBy, LeanTo, Sculpture, Stacking};
use ribwright_kernel::settings::{Value, Values};
use ribwright_kernel::table::Cell;
use ribwright_kernel::units::STANDARD_GRAVITY;
use ribwright_kernel::{Level, Output, Registry, run_stages};
use ribwright_tests::standing::{figure, found, rib, set, stages, table, worked};
use std::collections::BTreeMap;
use std::f64::consts::PI;

/// Figures of tables are rounded: half a unit of the last place that is printed.
const PRINTED: f64 = 0.0051;

fn number(x: f64) -> Value {
    Value::Number(x)
}

fn word(text: &str) -> Value {
    Value::Text(text.to_owned())
}

fn numbers(all: &[f64]) -> Value {
    Value::List(all.iter().map(|x| number(*x)).collect())
}

fn map(name: &str, value: Value) -> Value {
    Value::Map(BTreeMap::from([(name.to_owned(), value)]))
}

fn block(name: &str, size: [f64; 3]) -> Element {
    let given = BTreeMap::from([("size".to_owned(), numbers(&size))]);
    let values = Values::check("slab", slab::ROW.settings, &given).expect("settings");
    let mut element = Element::new((slab::ROW.build)(name, &values).expect("a slab"));
    element.clad(&rib());
    element
}

/// A slender block on a block.
fn tower() -> Sculpture {
    let mut s = Sculpture::new("Slack Water");
    s.joint.kind = "true".to_owned();
    s.stand(block("A", [900.0, 700.0, 1200.0])).expect("stands");
    let how = Stacking { sink: 120.0, ..Stacking::on("A/top") };
    s.stack(block("B", [700.0, 520.0, 1500.0]), &how).expect("stacks");
    s
}

fn all_stages(s: &Sculpture) -> Output {
    stages(&worked(s), &[])
}

/// A figure of the base by its name.
fn of_base(output: &Output, what: &str) -> f64 {
    let table = table(output, "base");
    let row = table.rows.iter().position(|r| r[0] == Cell::Text(what.to_owned()));
    figure(table, row.unwrap_or_else(|| panic!("no {what}")), "figure")
}

#[test]
fn a_base_without_a_spine_takes_the_wind_of_the_place_and_every_mass() {
    let mut s = tower();
    set(&mut s, "wind", &[("basic_speed", number(30.0))]);
    set(
        &mut s,
        "base",
        &[("anchors", word("rectangle")), ("margin", number(150.0)), ("extra_mass", number(80.0))],
    );
    set(&mut s, "plates", &[("count", number(1.0))]);
    let output = all_stages(&s);
    // The weight is that of everything that is known, each once.
    let all = output.mass.total();
    assert!(
        (of_base(&output, "weight on the ground") - all.mass * STANDARD_GRAVITY / 1000.0).abs() < PRINTED
    );
    for (kind, named) in [(Kind::Base, "further mass"), (Kind::Plate, "A plate"), (Kind::Filler, "~")] {
        assert!(output.mass.parts.iter().any(|c| c.kind == kind && c.what.contains(named)), "{named}");
    }
    // The side that tips most is one of the stage wind, with its factor.
    let wind = table(&output, "wind");
    let force = of_base(&output, "side force");
    let same = (0..wind.rows.len()).any(|k| (1.5 * figure(wind, k, "force kN") - force).abs() < PRINTED);
    assert!(same, "{force}");
    // Wind that tips it pulls on anchors, and the finding of the wind is a warning about them.
    let topples = found(&output, "wind-topples").expect("it is slender");
    assert!(topples.level == Level::Warning && topples.remedy.contains("anchors"), "{topples:?}");
    assert!(of_base(&output, "greatest anchor tension") > 1.0);
    assert!(found(&output, "base-no-side").is_none());
    // No anchor takes more, in any case, than one case asks of all of them together; and the pull of a side view is a bound
    // from below: moments about the far edge of the plate.
    let plate = table(&output, "anchors");
    let tensions: Vec<f64> = (0..plate.rows.len()).map(|k| figure(plate, k, "tension kN")).collect();
    let most = tensions.iter().copied().fold(0.0, f64::max);
    assert!((most - of_base(&output, "greatest anchor tension")).abs() < PRINTED, "{tensions:?}");
}

#[test]
fn a_base_that_knows_no_side_says_so_and_a_given_force_takes_its_factor() {
    let mut s = tower();
    set(&mut s, "base", &[("anchors", word("rectangle")), ("margin", number(150.0))]);
    let work = worked(&s);
    let alone = stages(&work, &["base"]);
    assert!(found(&alone, "base-no-side").expect("said").remedy.contains("wind"));
    // The same plate by hand: 2 kN at 2 m, both ways of the weight; the anchors' pull from moments about the edge is at most
    // what the elastic plate gives.
    set(&mut s, "base", &[("side_force", number(2000.0)), ("side_height", number(2000.0))]);
    let output = all_stages(&s);
    assert!((of_base(&output, "side force") - 3.0).abs() < PRINTED);
    assert!((of_base(&output, "height of the side force") - 2000.0).abs() < 0.51);
    assert!(found(&output, "base-no-side").is_none());
}

/// C3 over 50 years takes 50 µm · 50^0.523 = 0.3868 mm off a face (ISO 9224): an anchor loses it all round, the margin of the
/// plate from above and below. M16 has 157 mm² (ISO 898-1), a round bar of 7.0693 mm radius.
#[test]
fn rust_is_taken_off_plate_and_anchors_by_the_closed_form() {
    let of = |water: Option<&[(&str, Value)]>| {
        let mut s = tower();
        set(&mut s, "base", &[("anchors", word("rectangle")), ("margin", number(150.0))]);
        set(&mut s, "base", &[("thickness", number(10.0))]);
        set(&mut s, "base", &[("side_force", number(4000.0)), ("side_height", number(2000.0))]);
        if let Some(water) = water {
            set(&mut s, "water", water);
        }
        let output = stages(&worked(&s), &["base"]);
        let figure = |what| of_base(&output, what);
        [
            figure("greatest anchor tension") * 1000.0,
            figure("greatest stress in an anchor"),
            figure("greatest ground pressure") / 1000.0,
            figure("bending of the plate's margin"),
        ]
    };
    let check = |[tension, stress, pressure, bending]: [f64; 4], loss: f64| {
        let area = PI * ((157.0 / PI).sqrt() - loss).powi(2);
        assert!(tension > 1000.0 && (stress - tension / area).abs() < 0.06, "{stress} of {tension}");
        let wanted = 3.0 * pressure * (150.0 / (10.0 - 2.0 * loss)).powi(2);
        // The pressure is printed to a tenth of a kN/m².
        assert!((bending - wanted).abs() < 0.1 + 0.06e-3 / pressure * wanted, "{bending} is not {wanted}");
        [stress, bending]
    };
    let loss = 0.050 * 50.0_f64.powf(0.523);
    let whole = check(of(None), 0.0);
    let worn = check(of(Some(&[])), loss);
    let off = check(of(Some(&[("allowance", Value::Flag(false))])), 0.0);
    assert!(worn[0] > 1.05 * whole[0] && worn[1] > 1.05 * whole[1], "{whole:?} {worn:?}");
    assert_eq!(off, whole);
}

#[test]
fn anchors_take_the_worst_side_and_not_the_longest_moment() {
    // A long narrow plate: across it the same wind pulls far more than along it.
    let pulled = |toward: f64| {
        let mut s = Sculpture::new("Long Bar");
        s.joint.kind = "true".to_owned();
        s.stand(block("A", [2000.0, 420.0, 1600.0])).expect("stands");
        set(&mut s, "base", &[("anchors", word("rectangle")), ("side_force", number(4000.0))]);
        set(&mut s, "base", &[("side_height", number(900.0)), ("side_toward", number(toward))]);
        of_base(&all_stages(&s), "greatest anchor tension")
    };
    let [along, across] = [pulled(0.0), pulled(90.0)];
    assert!(across > 2.0 * along, "{along} {across}");
    let mut s = Sculpture::new("Long Bar");
    s.joint.kind = "true".to_owned();
    s.stand(block("A", [2000.0, 420.0, 1600.0])).expect("stands");
    set(&mut s, "base", &[("anchors", word("rectangle"))]);
    set(&mut s, "wind", &[("basic_speed", number(35.0))]);
    let output = all_stages(&s);
    let how =
        table(&output, "base").rows.iter().find(|r| r[0] == Cell::Text("greatest anchor tension".into()));
    let Some(Cell::Text(how)) = how.map(|r| r[3].clone()) else { panic!("no tension") };
    assert!(how.contains("wind from 90.0°") || how.contains("wind from 270.0°"), "{how}");
}

#[test]
fn anchors_beside_their_foundation_are_told_and_do_not_end_the_run() {
    let mut s = tower();
    set(&mut s, "base", &[("anchors", word("rectangle")), ("foundation", numbers(&[300.0, 300.0]))]);
    let said = all_stages(&s);
    let cone = found(&said, "cone").expect("said");
    assert!(cone.level == Level::Error && !cone.remedy.is_empty(), "{cone:?}");
}

#[test]
fn water_tips_and_never_holds_and_coating_weighs_by_the_area_of_the_sheet() {
    let mut s = tower();
    let dry = all_stages(&s);
    set(&mut s, "mass", &[("coating", number(500.0)), ("water", map("A", number(400.0)))]);
    let wet = all_stages(&s);
    let of = |output: &Output, kind: Kind| output.mass.body(|c| c.kind == kind).mass;
    // 0.9 × 0.7 × 0.4 m³ of water; half a kilogram on every square metre of sheet 2 mm thick.
    assert!((of(&wet, Kind::Water) - 252.0).abs() < 1.0e-6, "{}", of(&wet, Kind::Water));
    let area = of(&wet, Kind::Sheet) / (0.002 * 7850.0);
    assert!((of(&wet, Kind::Coating) - 0.5 * area).abs() < 1.0e-9 * area, "{}", of(&wet, Kind::Coating));
    // Water in the foot would hold the work if it counted.
    let least = |output: &Output, column: &str| {
        let wind = table(output, "wind");
        (0..wind.rows.len()).map(|k| figure(wind, k, column)).fold(0.0, f64::max)
    };
    let coat = of(&wet, Kind::Coating) / of(&dry, Kind::Sheet);
    let (dry, wet) = (least(&dry, "sliding use"), least(&wet, "sliding use"));
    assert!(wet < dry && wet > dry / (1.0 + 1.01 * coat), "{dry} {wet} {coat}");
    for bad in [map("A", number(-1.0)), map("Z", number(100.0))] {
        set(&mut s, "mass", &[("water", bad)]);
        let refused = run_stages(&worked(&s), &Registry::standard(), &[]);
        assert!(refused.is_err_and(|e| !e.to_string().is_empty()));
    }
}

#[test]
fn a_margin_that_other_weights_use_up_is_told() {
    let mut s = Sculpture::new("Leaning Out");
    s.joint.kind = "true".to_owned();
    s.stand(block("A", [1000.0, 900.0, 900.0])).expect("stands");
    let lean_to = Some(LeanTo { toward: 0.0, margin: 150.0, by: LeanBy::Shift });
    // It tips back, so that its low corner, where water gathers, is what stands out.
    let how = Stacking { sink: 200.0, tip: 9.0, toward: 180.0, lean_to, ..Stacking::on("A/top") };
    s.stack(block("B", [800.0, 700.0, 1400.0]), &how).expect("stacks");
    assert!(found(&all_stages(&s), "lean-margin").is_none(), "nothing else is built in");
    set(&mut s, "mass", &[("water", map("B", number(300.0)))]);
    let said = all_stages(&s);
    let said = found(&said, "lean-margin").expect("water lies further out than the margin's edge");
    assert!(said.level == Level::Warning && said.message.contains("150 mm"), "{said:?}");
}

#[test]
fn plates_say_from_where_they_are_welded_or_that_nobody_reaches_them() {
    let mut s = tower();
    set(&mut s, "plates", &[("count", number(1.0))]);
    let output = all_stages(&s);
    let plates = table(&output, "plates");
    let last = plates.columns.len() - 1;
    let words = |k: usize| match &plates.rows[k][last] {
        Cell::Text(words) => words.clone(),
        other => panic!("{other:?}"),
    };
    assert!(words(0).contains("open top of A") && words(0).contains("before B"), "{}", words(0));
    assert!(words(1).contains("open foot of B") && words(1).contains("set on A"), "{}", words(1));
    assert!(found(&output, "plate-reach").is_none());
    let mut s = Sculpture::new("Closed");
    s.joint.kind = "true".to_owned();
    s.stand(block("A", [900.0, 700.0, 1200.0])).expect("stands");
    set(&mut s, "plates", &[("count", number(1.0))]);
    let closed = all_stages(&s);
    assert!(found(&closed, "plate-reach").expect("said").remedy.contains("hatch"));
}

#[test]
fn the_box_for_transport_holds_the_base_plate() {
    let size = |margin: f64| {
        let mut s = tower();
        set(&mut s, "base", &[("margin", number(margin)), ("skirt", Value::Flag(false))]);
        let output = all_stages(&s);
        let Some(plate) = output.flats.iter().find(|f| f.id == "base plate") else { panic!("no plate") };
        let delivery = table(&output, "delivery");
        let numbers = |row: &[Cell]| -> Vec<f64> {
            row.iter().filter_map(|c| if let Cell::Number(x, _) = c { Some(*x) } else { None }).collect()
        };
        (plate.area, numbers(&delivery.rows[0]))
    };
    let ((small, bare), (large, wide)) = (size(0.0), size(400.0));
    assert!(large > small);
    let volume = |box_of: &[f64]| box_of[..3].iter().product::<f64>();
    assert!(volume(&wide) > 1.3 * volume(&bare), "{bare:?} {wide:?}");
}

/// A branch square to an upright spine: the crotch line is shorter than the centre line by R, the longest line by
/// √(R² − r²), R the header's outside radius and r the branch's inside radius (J. L. Leake, Engineering Design Graphics,
/// the construction of a saddle, from memory).
#[test]
fn a_branch_is_cut_to_the_saddle_of_its_spine() {
    let mut s = tower();
    let axis = Value::List(vec![numbers(&[0.0, 0.0, 0.0]), numbers(&[0.0, 0.0, 2300.0])]);
    set(&mut s, "spine", &[("tube", word("168.3x6.3")), ("points", axis), ("bars", word("6000, 2500"))]);
    let aimed = |z: f64| Value::List(vec![numbers(&[0.0, 300.0, 600.0]), numbers(&[0.0, 10.0, z])]);
    set(&mut s, "spine", &[("branches", map("brace", aimed(600.0))), ("branch_tube", word("60.3x3.2"))]);
    let output = all_stages(&s);
    let branches = table(&output, "spine_branches");
    assert!((figure(branches, 0, "angle degrees") - 90.0).abs() < 1.0e-6);
    let (big, r) = (168.3 / 2.0, 60.3 / 2.0 - 3.2);
    assert!((figure(branches, 0, "centre line mm") - 300.0).abs() < 0.051);
    assert!((figure(branches, 0, "crotch line mm") - (300.0 - big)).abs() < 0.051);
    let longest = 300.0 - (big * big - r * r).sqrt();
    assert!((figure(branches, 0, "longest line mm") - longest).abs() < 0.051, "{longest}");
    let paper = output.papers.iter().find(|p| p.stem == "spine_branch_brace").expect("a template");
    let [low, high] = paper.drawing.bounds().expect("drawn");
    assert!((high[0] - low[0] - PI * (60.3 + 0.2)).abs() < 1.0e-6, "it goes once round, with the paper");
    assert!(output.mass.parts.iter().any(|c| c.what == "branch brace" && c.body.mass > 0.5));
    // What is aimed beside the spine, or ends within it, is told.
    let beside = Value::List(vec![numbers(&[0.0, 300.0, 600.0]), numbers(&[0.0, 200.0, 600.0])]);
    for (bad, words) in [(beside, "beside the axis"), (aimed(20.0), "of the leg's end")] {
        set(&mut s, "spine", &[("branches", map("brace", bad))]);
        let output = all_stages(&s);
        let said = found(&output, "spine-branch").unwrap_or_else(|| panic!("{words}"));
        assert!(said.message.contains(words) && !said.remedy.is_empty(), "{said:?}");
    }
}

#[test]
fn slim_walls_and_slow_swings_are_told_with_a_remedy() {
    let mut s = tower();
    let axis = Value::List(vec![numbers(&[0.0, 0.0, 0.0]), numbers(&[0.0, 0.0, 2300.0])]);
    set(&mut s, "spine", &[("tube", word("220x2")), ("points", axis.clone())]);
    let output = all_stages(&s);
    // 110 > 90 · 235/355 = 59.6.
    let slim = found(&output, "frame-slender").expect("class 4");
    assert!(slim.level == Level::Error && slim.message.contains("beyond 60"), "{slim:?}");
    set(&mut s, "spine", &[("tube", word("76.1x3.2"))]);
    set(&mut s, "wind", &[("basic_speed", number(26.0))]);
    let output = all_stages(&s);
    assert!(found(&output, "frame-slender").is_none());
    let gusts = found(&output, "frame-gusts").expect("it swings slowly");
    let factor = gusts.remedy.split("structural_factor: ").nth(1).and_then(|s| s.split(' ').next());
    let factor: f64 = factor.and_then(|f| f.parse().ok()).expect("a factor to take");
    assert!(factor > 1.0, "{gusts:?}");
    set(&mut s, "wind", &[("structural_factor", number(factor))]);
    assert!(found(&all_stages(&s), "frame-gusts").is_none(), "with that factor nothing is left to say");
}
