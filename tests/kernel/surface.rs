//! Areas of both skins, the blaster's door and the estimate, on real works.

use ribwright_kernel::Work;
use ribwright_kernel::chambers::{chambers, outside};
use ribwright_kernel::costs::{Rates, read_rates};
use ribwright_kernel::element::slab;
use ribwright_kernel::profile::Profile;
use ribwright_kernel::sculpture::{Element, Sculpture, Stacking};
use ribwright_kernel::settings::{Value, Values};
use ribwright_kernel::surface::areas;
use ribwright_kernel::table::Cell;
use ribwright_tests::case::profile;
use ribwright_tests::standing::{figure, found, rib, set, stages, table, worked};
use std::collections::BTreeMap;
use std::sync::Arc;

fn block(name: &str, size: [f64; 3], sheet: &Arc<Profile>) -> Element {
    let size = Value::List(size.iter().map(|x| Value::Number(*x)).collect());
    let map = BTreeMap::from([("size".to_owned(), size)]);
    let values = Values::check("slab", slab::ROW.settings, &map).expect("settings");
    let mut element = Element::new((slab::ROW.build)(name, &values).expect("a slab"));
    element.clad(sheet);
    element
}

fn alone(size: [f64; 3], sheet: &Arc<Profile>) -> Work {
    let mut s = Sculpture::new("alone");
    s.stand(block("A", size, sheet)).expect("stands");
    worked(&s)
}

#[track_caller]
fn near(found: f64, expected: f64, share: f64) {
    assert!((found - expected).abs() <= share * expected.abs(), "{found} is not {expected}");
}

/// Area of the faces of a mesh by name of the face.
fn by_face(mesh: &ribwright_kernel::mesh::Mesh, id: &str) -> f64 {
    (0..mesh.triangles.len())
        .filter(|&t| mesh.names[mesh.part_of[t] as usize] == id)
        .map(|t| mesh.area_vector(t).norm())
        .sum()
}

/// Square cuts that meet inside: parts of a box of flat sheet are as large as the box inside (closed form).
#[test]
fn a_box_of_flat_sheet_has_the_area_of_its_six_sides() {
    let flat = profile("flat", &[("thickness", 4.0)]).expect("a profile");
    let work = alone([400.0, 300.0, 1000.0], &flat);
    let found = areas(&work);
    let [a, b, c] = [396.0, 296.0, 996.0];
    let sides = 2.0 * (a * b + a * c + b * c);
    let [out, inn] = found.sum(&work, None);
    near(out, sides, 1e-9);
    near(inn, sides, 1e-9);
}

/// The factor of the outside skin over the flat face: closed form for a trapezoid with true arcs, and the published
/// developed-width factor of an arc-and-tangent corrugation (2⅔ × ½ in, drainage handbooks: 1.080).
#[test]
fn areas_are_the_flat_face_times_the_developed_factor_where_the_cut_is_along_the_ribs() {
    let work = alone([1200.0, 800.0, 1500.0], &rib());
    let p = rib();
    // Webs at atan(40 / 30) to the flat; the bend's centre line has 7 mm: arcs r·α and setbacks r·tan(α / 2).
    let alpha = (40.0_f64 / 30.0).atan();
    let middle = 70.0 + 70.0 + 2.0 * 50.0 + 4.0 * 7.0 * (alpha - 2.0 * (alpha / 2.0).tan());
    near(p.developed_length(0.0), middle, 1e-9);
    // Turns of a pitch cancel, so both skins are as long as the middle one.
    near(p.developed_length(1.0), middle, 1e-12);
    for one in &areas(&work).faces {
        // Cuts wander by some mm beside the ribs; over a face the factor holds within a few thousandths.
        near(one.outside / one.flat, middle / 200.0, 5e-3);
        near(one.inside / one.flat, middle / 200.0, 5e-3);
    }
    let arcs = [("pitch", 67.73), ("depth", 12.7), ("radius", 17.46), ("thickness", 1.6)];
    let arcs = profile("arc_tangent", &arcs).expect("a profile");
    let work = alone([1200.0, 800.0, 1500.0], &arcs);
    let found = areas(&work);
    let flat: f64 = found.faces.iter().map(|f| f.flat).sum();
    near(found.sum(&work, None)[0] / flat, 1.0799, 5e-3);
}

/// Second method: the outside and the inside skins as closed meshes, with chords within 0.05 mm.
#[test]
fn areas_agree_with_the_meshes_of_both_skins() {
    let mut s = Sculpture::new("two");
    s.stand(block("A", [1000.0, 900.0, 1200.0], &rib())).expect("stands");
    let how = Stacking { sink: 80.0, turn: 20.0, tip: 8.0, ..Stacking::on("A/top") };
    s.stack(block("B", [600.0, 500.0, 900.0], &rib()), &how).expect("stacks");
    let work = worked(&s);
    let found = areas(&work);
    let (mesh, exact) = outside(&work).expect("a skin");
    assert!(exact, "the outside skin closes");
    let [out, inn] = found.sum(&work, None);
    // Parts end where sheets touch; a skin runs on into the corner: a few mm along each edge.
    near(out, mesh.area(), 0.02);
    for one in &found.faces {
        let id = &work.faces[one.face].id;
        near(one.outside, by_face(&mesh, id), 0.04);
    }
    let inside: f64 = chambers(&work).expect("chambers").chambers.iter().map(|c| c.chamber.area()).sum();
    near(inn, inside, 0.02);
}

/// What of a face kept whole lies inside the element on it is no outside: the overlap is that of the flat faces.
#[test]
fn sheet_kept_whole_is_inside_where_the_next_element_stands_on_it() {
    let stacked = |open: bool| {
        let mut s = Sculpture::new("two");
        s.stand(block("A", [1000.0, 900.0, 700.0], &rib())).expect("stands");
        let how = Stacking { open, sink: 60.0, ..Stacking::on("A/top") };
        s.stack(block("B", [600.0, 500.0, 900.0], &rib()), &how).expect("stacks");
        worked(&s)
    };
    let (open, whole) = (stacked(true), stacked(false));
    let top = |work: &Work| {
        let found = areas(work);
        let k = found.faces.iter().position(|f| work.faces[f.face].id == "A/top").expect("a top");
        found.faces[k].clone()
    };
    let (o, w) = (top(&open), top(&whole));
    assert_eq!(o.hidden, 0.0);
    let share = 600.0 * 500.0 / w.flat;
    near(w.hidden / (w.outside + w.hidden), share, 1e-9);
    // In the open it is what the other way of stacking leaves there, within the wander of the cut round the foot.
    near(w.outside, o.outside, 0.02);
    near(w.inside, w.outside + 2.0 * w.hidden, 5e-3);
}

#[test]
fn the_stage_lists_areas_always_and_the_rest_where_asked_for() {
    let mut s = Sculpture::new("two");
    s.stand(block("A", [1000.0, 900.0, 1200.0], &rib())).expect("stands");
    let how = Stacking { sink: 80.0, ..Stacking::on("A/top") };
    s.stack(block("B", [600.0, 500.0, 900.0], &rib()), &how).expect("stacks");
    let plain = stages(&worked(&s), &["surface"]);
    let names: Vec<&str> = plain.tables.iter().map(|t| t.name.as_str()).collect();
    assert_eq!((names, plain.findings.len()), (vec!["surface"], 0));
    let number = |x: f64| Value::Number(x);
    let door = Value::List(vec![number(1200.0), number(1500.0)]);
    let given =
        [("rate", number(8.0)), ("consumption", number(25.0)), ("door", door), ("most_mass", number(90.0))];
    set(&mut s, "surface", &given);
    let work = worked(&s);
    let output = stages(&work, &["surface"]);
    let area = areas(&work).sum(&work, None)[0] / 1e6;
    let blast = table(&output, "surface_blast");
    let last = blast.rows.len() - 1;
    near(figure(blast, last, "area m²"), area, 1e-12);
    near(figure(blast, last, "time h"), area / 8.0, 1e-12);
    near(figure(blast, last, "abrasive kg"), area * 25.0, 1e-12);
    // A weighs more than the trolley carries, B passes, both together are too high and too heavy.
    let door = table(&output, "surface_door");
    let words = |row: usize| match &door.rows[row][2] {
        Cell::Text(t) => t.clone(),
        _ => String::new(),
    };
    assert_eq!((door.rows.len(), words(0).as_str(), words(1).as_str()), (2, "too heavy", "fits"));
    assert!(found(&output, "blast-mass").is_some() && found(&output, "blast-door").is_none());
    assert!(found(&output, "blast-care").is_some());
    // Through a door of 400 mm nothing passes; through a large one the whole does.
    let narrow = Value::List(vec![number(400.0), number(400.0)]);
    set(&mut s, "surface", &[("door", narrow), ("most_mass", number(1000.0))]);
    let output = stages(&worked(&s), &["surface"]);
    assert_eq!(output.findings.iter().filter(|f| f.code == "blast-door").count(), 2);
    let wide = Value::List(vec![number(3000.0), number(3000.0)]);
    set(&mut s, "surface", &[("door", wide)]);
    let output = stages(&worked(&s), &["surface"]);
    let door = table(&output, "surface_door");
    assert_eq!(door.rows.len(), 3);
    assert!(matches!(&door.rows[2][0], Cell::Text(t) if t == "A + B"));
}

#[test]
fn paint_is_area_over_practical_spreading_and_warns_of_thin_films() {
    let mut s = Sculpture::new("one");
    s.stand(block("A", [1000.0, 900.0, 1200.0], &rib())).expect("stands");
    let text = |t: &str| Value::Text(t.to_owned());
    let number = |x: f64| Value::Number(x);
    let given = [
        ("coated", text("outside")),
        ("film", number(50.0)),
        ("solids", number(40.0)),
        ("loss", number(20.0)),
        ("dead", number(0.0)),
        ("layers", number(1.0)),
    ];
    set(&mut s, "surface", &given);
    let work = worked(&s);
    let output = stages(&work, &["surface"]);
    let paint = table(&output, "surface_paint");
    let of = |what: &str| {
        let row = paint.rows.iter().position(|r| matches!(&r[1], Cell::Text(t) if t == what)).expect("a row");
        figure(paint, row, "figure")
    };
    // 8 m²/l (published: 50 µm at 40 %), a fifth lost.
    near(of("spreading, theoretical"), 8.0, 1e-12);
    near(of("paint"), areas(&work).sum(&work, None)[0] / 1e6 / 6.4, 1e-12);
    near(of("comb"), 125.0, 1e-12);
    assert!(found(&output, "film-peaks").is_some(), "50 µm over a medium grit profile");
}

fn priced(rates: &[(&str, f64)]) -> Arc<Rates> {
    let mut text = String::from("item,unit,low,usual,high,note\n");
    for item in ribwright_kernel::costs::ITEMS {
        let unit = Rates { currency: "CRN".to_owned(), ..Rates::default() }.unit(item);
        let x = rates.iter().find(|r| r.0 == item.name).map_or(0.0, |r| r.1);
        text.push_str(&format!("{},{unit},{x},{x},{x},test\n", item.name));
    }
    Arc::new(read_rates("rates.csv", text.as_bytes()).expect("reads"))
}

#[test]
fn an_estimate_counts_what_the_schedules_say() {
    let mut s = Sculpture::new("one");
    s.stand(block("A", [1000.0, 900.0, 1200.0], &rib())).expect("stands");
    let price = |s: &Sculpture, rates: &[(&str, f64)]| {
        let mut s = s.clone();
        s.rates = Some(priced(rates));
        let work = worked(&s);
        let output = stages(&work, &[]);
        let total = figure(table(&output, "costs_totals"), 2, "usual CRN");
        (work, output, total)
    };
    // Sheet by mass with a quarter of waste.
    let (work, output, total) = price(&s, &[("sheet", 2.0), ("waste", 25.0), ("margin", 10.0)]);
    near(total, work.mass * 1.25 * 2.0 * 1.1, 1e-9);
    assert!(found(&output, "rates-made-up").is_none());
    let sheet = output.estimate.as_ref().expect("a page");
    assert_eq!((sheet.currency.as_str(), sheet.groups.len(), sheet.draft.is_none()), ("CRN", 1, true));
    sheet.page.validate().expect("a page");
    // Cutting by the schedule of cutting: metres and pierces of its total.
    let (_, output, total) = price(&s, &[("cut_metre", 3.0), ("pierce", 0.5)]);
    let cutting = table(&output, "cutting");
    let last = cutting.rows.len() - 1;
    near(
        total,
        figure(cutting, last, "cut length mm") / 1000.0 * 3.0 + figure(cutting, last, "pierces") * 0.5,
        1e-9,
    );
    // Filler by the schedule of welds.
    let (_, output, total) = price(&s, &[("filler", 4.0)]);
    let welds = table(&output, "welds");
    near(total, figure(welds, welds.rows.len() - 1, "filler kg") * 4.0, 1e-9);
    // Hours of assembly: fitting and welding by their steps.
    let (_, output, total) = price(&s, &[("time_factor", 1.0), ("labour", 60.0), ("welding", 60.0)]);
    let assembly = table(&output, "assembly");
    let k = assembly.columns.iter().position(|c| c.name == "time min").expect("a column");
    let minutes: f64 = assembly
        .rows
        .iter()
        .filter(|r| !matches!(&r[2], Cell::Text(t) if t.is_empty()))
        .filter_map(|r| if let Cell::Number(x, _) = r[k] { Some(x) } else { None })
        .sum();
    near(total, minutes, 1e-6);
    // Blasting by the surface's table.
    set(&mut s, "surface", &[("rate", Value::Number(5.0)), ("consumption", Value::Number(20.0))]);
    let (work, _, total) = price(&s, &[("blasting", 50.0), ("abrasive", 0.5)]);
    let area = areas(&work).sum(&work, None)[0] / 1e6;
    near(total, area / 5.0 * 50.0 + area * 20.0 * 0.5, 1e-9);
}

#[test]
fn without_rates_the_estimate_is_a_draft_of_made_up_figures() {
    let mut s = Sculpture::new("one");
    s.stand(block("A", [1000.0, 900.0, 1200.0], &rib())).expect("stands");
    assert!(stages(&worked(&s), &[]).estimate.is_none(), "nobody asked");
    set(&mut s, "costs", &[("client", Value::Text("a friend".to_owned()))]);
    let output = stages(&worked(&s), &[]);
    let sheet = output.estimate.as_ref().expect("a page");
    assert!(sheet.draft.is_some() && sheet.currency == "XXX");
    assert!(found(&output, "rates-made-up").is_some_and(|f| f.message.contains("labour")));
}
