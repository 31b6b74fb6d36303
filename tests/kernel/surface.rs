//! Areas of both skins, the blaster's door and the estimate, on real works.

use ribwright_kernel::Work;
use ribwright_kernel::chambers::{chambers, outside};
use ribwright_kernel::costs::{Rates, read_rates};
use ribwright_kernel::profile::Profile;
use ribwright_kernel::sculpture::{Sculpture, Stacking};
use ribwright_kernel::settings::Value;
use ribwright_kernel::surface::areas;
use ribwright_kernel::table::Cell;
use ribwright_tests::case::profile;
use ribwright_tests::near;
use ribwright_tests::standing::{block, figure, found, rib, set, stages, table, worked};
use std::sync::Arc;

fn alone(size: [f64; 3], sheet: &Arc<Profile>) -> Work {
    let mut s = Sculpture::new("alone");
    s.stand(block("A", size, sheet)).expect("stands");
    worked(&s)
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

/// Closed form: a shaft open at both ends, five pitches wide. Its sides meet in their valleys, whose inside skins touch at
/// 479 mm from the middle: each side is a rectangle of five developed pitches less 2 × 21 mm of valley.
#[test]
fn a_shaft_has_its_developed_width_times_its_height_on_both_skins() {
    let p = rib();
    let mut shaft = block("A", [1000.0, 1000.0, 1500.0], &p);
    for (face, cladding) in shaft.solid.faces.iter().zip(&mut shaft.cladding) {
        cladding.open = ["top", "bottom"].contains(&face.label.as_str()).then_some(0.0);
    }
    let mut s = Sculpture::new("shaft");
    s.stand(shaft).expect("stands");
    let work = worked(&s);
    // Webs at atan(40 / 30); the bend's middle has a radius of 7 mm: r α of arc in the place of 2 r tan(α / 2).
    let alpha = (40.0_f64 / 30.0).atan();
    let pitch = 70.0 + 70.0 + 2.0 * 50.0 + 4.0 * 7.0 * (alpha - 2.0 * (alpha / 2.0).tan());
    near(p.developed_length(0.0), pitch, 1e-12);
    let found = areas(&work);
    assert_eq!(found.faces.len(), 4);
    for one in &found.faces {
        near(one.flat, 958.0 * 1500.0, 1e-9);
        near(one.outside, (5.0 * pitch - 42.0) * 1500.0, 1e-9);
        near(one.inside, (5.0 * pitch - 42.0) * 1500.0, 1e-9);
    }
}

/// The published developed-width factor of arc-and-tangent corrugations (drainage handbooks: 1.080 for 2⅔ × ½ in), over
/// whole sides: edges lie anywhere in a pitch.
#[test]
fn sides_of_drainage_sheet_are_larger_by_the_published_factor() {
    let arcs = [("pitch", 67.73), ("depth", 12.7), ("radius", 17.46), ("thickness", 1.6)];
    let arcs = profile("arc_tangent", &arcs).expect("a profile");
    let work = alone([1200.0, 800.0, 1500.0], &arcs);
    let found = areas(&work);
    let flat: f64 = found.faces.iter().map(|f| f.flat).sum();
    near(found.sum(&work, None)[0] / flat, 1.0799, 2e-3);
}

fn leaning() -> Sculpture {
    let mut s = Sculpture::new("two");
    s.stand(block("A", [1000.0, 900.0, 1200.0], &rib())).expect("stands");
    let how = Stacking { sink: 80.0, turn: 20.0, tip: 8.0, ..Stacking::on("A/top") };
    s.stack(block("B", [600.0, 500.0, 900.0], &rib()), &how).expect("stacks");
    s
}

/// Second method: slices of a part along its ribs, as wide as its skin runs in space between them (chords of bends within
/// 0.05 mm: some 3e-4 of a pitch).
#[test]
fn areas_agree_with_slices_of_the_parts_in_space() {
    let work = worked(&leaning());
    let mut sums = [0.0; 2];
    for part in work.parts.iter().filter(|p| !p.face.contains('~')) {
        let ts = part.outlines.iter().flatten().map(|p| p[1]);
        let [low, high] = ts.fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], t| [l.min(t), h.max(t)]);
        let slices = 4000;
        let at = |k: usize| low + (high - low) * k as f64 / f64::from(slices);
        for k in 0..slices as usize {
            let middle = f64::midpoint(at(k), at(k + 1));
            let mut crossed: Vec<f64> = Vec::new();
            for outline in &part.outlines {
                for (i, a) in outline.iter().enumerate() {
                    let b = outline[(i + 1) % outline.len()];
                    if (a[1] <= middle) != (b[1] <= middle) {
                        crossed.push(a[0] + (b[0] - a[0]) * (middle - a[1]) / (b[1] - a[1]));
                    }
                }
            }
            crossed.sort_by(f64::total_cmp);
            let length: f64 = crossed.chunks_exact(2).map(|c| c[1] - c[0]).sum();
            let half = part.thickness() / 2.0;
            for (sum, skin) in sums.iter_mut().zip([half, -half]) {
                *sum += length
                    * (part.position([0.0, at(k + 1)], skin) - part.position([0.0, at(k)], skin)).norm();
            }
        }
    }
    let found = areas(&work);
    let strips: f64 = found.faces.iter().map(|f| f.strips).sum();
    let [out, inn] = found.sum(&work, None);
    near(sums[0], out - strips, 5e-4);
    near(sums[1], inn - strips, 5e-4);
}

/// Third method: both skins as closed meshes. Parts end where sheets touch, a skin runs on into the corner: some mm along
/// each edge.
#[test]
fn areas_agree_with_the_meshes_of_both_skins() {
    let work = worked(&leaning());
    let [out, inn] = areas(&work).sum(&work, None);
    let (mesh, exact) = outside(&work).expect("a skin");
    assert!(exact, "the outside skin closes");
    near(out, mesh.area(), 0.02);
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
