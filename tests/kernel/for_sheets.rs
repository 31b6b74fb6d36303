//! Works cut for the sheets of the made-up yard: what lies where, and that it is cut for that place.

use ribwright_kernel::lay::{Need, OnSheets};
use ribwright_kernel::sculpture::{Laying, PhaseSearch, Sculpture};
use ribwright_kernel::settings::Value;
use ribwright_kernel::stock::Stock;
use ribwright_kernel::survey::{
    Damage, FitOptions, Laid, ROWS, SurveyedSheet, add_traces, fit_yard, nominals, read_yard,
};
use ribwright_kernel::{Level, Registry, Work, work_out};
use ribwright_tests::case::element;
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

fn yard() -> Vec<Arc<SurveyedSheet>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/yard");
    let file = |name: &str| std::fs::read(folder.join(name)).expect("there");
    let registry = Registry::standard();
    let mut yard = read_yard("yard.csv", &file("yard.csv")).expect("readable");
    let nominals = nominals(&yard, &registry, None).expect("named");
    add_traces(&mut yard, &nominals, |name| Ok(file(name))).expect("traced");
    let values = ribwright_kernel::settings::Values::check("survey", ROWS, &BTreeMap::new()).expect("rows");
    let fitted = fit_yard(&yard, &nominals, &FitOptions::new(&values)).expect("fitted");
    fitted.into_iter().map(|f| f.sheet).collect()
}

/// A block 800 × 700 × 1000 mm that leans a little, clad in the yard's profile, to be cut from its sheets.
fn block(sheets: &[Arc<SurveyedSheet>], settings: &[(&str, Value)]) -> Sculpture {
    let planes = [
        ("east", [400.0, 0.0, 0.0], [1.0, 0.0, 0.10]),
        ("west", [-400.0, 0.0, 0.0], [-1.0, 0.0, 0.05]),
        ("north", [0.0, 350.0, 0.0], [0.0, 1.0, 0.08]),
        ("south", [0.0, -350.0, 0.0], [0.0, -1.0, 0.02]),
        ("top", [0.0, 0.0, 1000.0], [0.05, 0.1, 1.0]),
        ("bottom", [0.0, 0.0, 0.0], [0.0, 0.0, -1.0]),
    ]
    .map(|(label, point, normal)| (label.to_owned(), point, normal));
    let mut block = element("A", &planes).expect("a block");
    block.clad(&sheets[0].nominal);
    let mut sculpture = Sculpture::new("block");
    sculpture.add(block).expect("added");
    sculpture.joint.kind = "true".to_owned();
    sculpture.laying = Some(Laying {
        settings: settings.iter().map(|(k, v)| ((*k).to_owned(), v.clone())).collect(),
        stock: sheets.iter().cloned().map(Stock::Surveyed).collect(),
        pins: Vec::new(),
        crests_across: vec!["A/east~A/top".to_owned()],
    });
    sculpture
}

fn worked(sculpture: &Sculpture) -> Work {
    work_out(sculpture, &Registry::standard()).unwrap_or_else(|e| panic!("{e}"))
}

fn on(work: &Work) -> &OnSheets {
    work.on_sheets.as_ref().unwrap_or_else(|| panic!("not laid"))
}

/// Where a crest's centre line runs on a sheet at `along`, from its readings alone: half-way between the two folds
/// of the crest, straight between stations and beyond the outer ones.
fn crest_at(sheet: &SurveyedSheet, fold: usize, along: f64) -> f64 {
    let (a, b) = (&sheet.folds[fold], &sheet.folds[fold + 1]);
    let middle = |i: usize| f64::midpoint(a.across[i], b.across[i]);
    let s = &sheet.stations;
    let i = s.partition_point(|x| *x <= along).clamp(1, s.len() - 1);
    middle(i - 1) + (middle(i) - middle(i - 1)) * (along - s[i - 1]) / (s[i] - s[i - 1])
}

#[test]
fn parts_are_cut_for_the_place_they_lie_on() {
    let sheets = yard();
    for turn_over in [false, true] {
        let work = worked(&block(&sheets, &[("turn_over", Value::Flag(turn_over))]));
        let on = on(&work);
        assert!(on.layout.unplaced.is_empty(), "{:?}", on.layout.unplaced);
        let errors: Vec<_> = work.findings.iter().filter(|f| f.level == Level::Error).collect();
        assert!(errors.is_empty(), "{errors:?}");
        let mut looked_at = 0;
        for placement in &on.layout.placements {
            let Need::Formed { phase, .. } = on.pieces[placement.piece].need else {
                panic!("no flat part here")
            };
            let part = &work.parts[on.pieces[placement.piece].part];
            let face = work.faces.iter().find(|f| f.id == part.face).expect("a face");
            let wander = face.wander.as_ref().unwrap_or_else(|| panic!("{} is clad as nominal", face.id));
            let name = &on.layout.sheets[placement.sheet].name;
            assert_eq!(wander.sheet(), name, "{}", face.id);
            let sheet = sheets.iter().find(|s| s.name == *name).expect("in the yard");
            // Inside the sheet by the margin asked for.
            let [low, high] = placement.bounds;
            assert!(low[0] >= 14.9 && low[1] >= 14.9, "{}: {low:?}", part.id);
            assert!(high[0] <= sheet.length - 14.9 && high[1] <= sheet.width - 14.9, "{}: {high:?}", part.id);
            // What the part takes for its crest lines are crests (or, over, valleys) of the sheet.
            let pitch = sheet.nominal.pitch();
            let (s0, s1) =
                part.outlines[0].iter().fold((f64::MAX, f64::MIN), |(l, h), p| (l.min(p[0]), h.max(p[0])));
            let (t0, t1) =
                part.outlines[0].iter().fold((f64::MAX, f64::MIN), |(l, h), p| (l.min(p[1]), h.max(p[1])));
            let first = ((t0 - phase) / pitch).ceil() as i64;
            let last = ((t1 - phase) / pitch).floor() as i64;
            for k in first..=last {
                for s in [s0, f64::midpoint(s0, s1), s1] {
                    let q = k as f64 * pitch;
                    let [along, across] = placement.place([s, phase + q + wander.moved(s, q)[0]]);
                    let stations = (sheet.stations[0], sheet.stations[sheet.stations.len() - 1]);
                    if along < stations.0 || along > stations.1 {
                        continue;
                    }
                    let wanted = if placement.way.inside_up() { -1.0 } else { 1.0 };
                    let lines = (0..sheet.folds.len() - 1).filter(|&f| {
                        let pair = [&sheet.folds[f], &sheet.folds[f + 1]];
                        pair.iter().all(|fold| fold.height[0] * wanted > 0.0)
                    });
                    let off =
                        lines.map(|f| (crest_at(sheet, f, along) - across).abs()).fold(f64::MAX, f64::min);
                    assert!(off < 1e-6, "{}: crest {k} at {s}: {off} mm aside", part.id);
                    looked_at += 1;
                }
            }
        }
        assert!(looked_at > 30, "only {looked_at} places");
    }
}

#[test]
fn best_fit_leaves_less_to_fill_and_says_what_it_won() {
    let sheets = yard();
    let work = worked(&block(&sheets, &[]));
    let fit = on(&work).best_fit.as_ref().expect("asked for");
    assert!(fit.void[1] <= fit.void[0] && fit.void[0] > 0.0, "{fit:?}");
    assert_eq!(fit.steps.len(), 1);
    // Each sheet is cut once, and as many are as before.
    let mut used: Vec<&String> = fit.sheets.iter().map(|[_, to]| to).collect();
    used.sort();
    used.dedup();
    assert_eq!(used.len(), fit.sheets.len());
    let plain = worked(&block(&sheets, &[("best_fit", Value::Flag(false))]));
    assert!(on(&plain).best_fit.is_none());
    assert_eq!(on(&plain).layout.used().len(), on(&work).layout.used().len());
    // Nominal templates are left as they are.
    let nominal = worked(&block(&sheets, &[("for_sheets", Value::Flag(false))]));
    assert!(nominal.on_sheets.is_none() && nominal.faces.iter().all(|f| f.wander.is_none()));
}

#[test]
fn a_seam_that_is_not_there_is_refused_with_the_nearest() {
    let sheets = yard();
    let mut sculpture = block(&sheets, &[]);
    sculpture.laying.as_mut().expect("set").crests_across = vec!["A/east~A/tup".to_owned()];
    let error = work_out(&sculpture, &Registry::standard()).expect_err("no such seam").to_string();
    assert!(error.contains("A/east~A/top"), "{error}");
}

#[test]
fn no_part_is_put_over_damage_when_sheets_change_places() {
    // One sheet is sound; all others have a hole in every place a part could cover.
    let mut sheets = yard();
    for sheet in sheets.iter_mut().skip(6) {
        let mut holed = (**sheet).clone();
        for k in 0..4 {
            let x = 300.0 + 500.0 * f64::from(k);
            let outline = vec![[x, 500.0], [x + 40.0, 500.0], [x + 40.0, 540.0], [x, 540.0]];
            holed.damage.push(Damage { what: "hole".to_owned(), outline });
        }
        *sheet = Arc::new(holed);
    }
    let work = worked(&block(&sheets, &[]));
    let on = on(&work);
    for placement in &on.layout.placements {
        let outline: Vec<_> =
            on.pieces[placement.piece].outlines[0].iter().map(|&p| placement.place(p)).collect();
        for (_, damage) in &on.layout.sheets[placement.sheet].damage {
            // By winding: the middle of the hole is not in the part.
            let middle = damage.iter().fold([0.0, 0.0], |m, p| [m[0] + p[0] / 4.0, m[1] + p[1] / 4.0]);
            let mut inside = false;
            for i in 0..outline.len() {
                let (a, b) = (outline[i], outline[(i + 1) % outline.len()]);
                let x = a[0] + (b[0] - a[0]) * (middle[1] - a[1]) / (b[1] - a[1]);
                inside ^= (a[1] > middle[1]) != (b[1] > middle[1]) && x > middle[0];
            }
            assert!(!inside, "{} lies over a hole", on.pieces[placement.piece].id);
        }
    }
}

#[test]
fn laying_by_hand_and_by_lay_do_not_mix_and_no_phase_is_searched_on_a_surveyed_sheet() {
    let sheets = yard();
    let mut sculpture = block(&sheets, &[]);
    let laid = Laid::centred(&sheets[2], false, false).expect("laid");
    sculpture.elements[0].cladding[0].sheet = Some(laid);
    let refused = |s: &Sculpture| work_out(s, &Registry::standard()).expect_err("refused").to_string();
    let error = refused(&sculpture);
    assert!(error.contains("A/east") && error.contains("lay_on"), "{error}");
    sculpture.laying = None;
    sculpture.searches.push(PhaseSearch { aim: "no_slivers".into(), face: "A/east".into(), other: None });
    let error = refused(&sculpture);
    assert!(error.contains("surveyed sheet"), "{error}");
}
