//! Tests of variants, built with `#[cfg(test)]` only.

use super::plan::radical_inverse;
use super::*;
use crate::choice::{Choice, Pick};
use crate::element::slab;
use crate::export::job::samples;
use crate::profile::Profile;
use crate::registry::Registry;
use crate::sculpture::{Element, Sculpture, Stacking};
use crate::settings::{Value, Values};
use std::collections::BTreeMap;
use std::sync::Arc;

fn range(name: &str, low: f64, high: f64, step: Option<f64>) -> Choice {
    Choice::range(name, [low, high], step, None, "").expect("a choice")
}

fn list(name: &str, words: &[&str]) -> Choice {
    let of = words.iter().map(|w| Pick::Text((*w).to_owned())).collect();
    Choice::list(name, of, None, "").expect("a choice")
}

fn picks(entries: &[(&str, Pick)]) -> Picks {
    entries.iter().map(|(name, value)| ((*name).to_owned(), value.clone())).collect()
}

#[test]
fn radical_inverses_are_the_published_ones() {
    // Van der Corput's sequence in base 2 and its fellow in base 3, as in every textbook (from memory).
    let two: Vec<f64> = (1..=8).map(|i| radical_inverse(i, 2)).collect();
    assert_eq!(two, [0.5, 0.25, 0.75, 0.125, 0.625, 0.375, 0.875, 0.0625]);
    let ninths = [3, 6, 1, 4, 7, 2, 5, 8].map(|n| f64::from(n) / 9.0);
    for (i, wanted) in ninths.iter().enumerate() {
        assert!((radical_inverse(i + 1, 3) - wanted).abs() < 1e-15, "{i}");
    }
}

#[test]
fn a_grid_is_the_product_of_its_levels_each_combination_once() {
    let choices = [
        range("a", 0.0, 1.0, None),
        range("b", 1.0, 4.0, Some(1.0)),
        list("c", &["x", "y"]),
        Choice::seed("d", 5.0).expect("a seed"),
    ];
    assert_eq!(combinations(&choices, 3), 3 * 4 * 2 * 3);
    let grid = |levels, held: &Picks| plan(&choices, &Picks::new(), held, How::Grid { levels });
    let all = grid(3, &Picks::new()).expect("72 variants");
    assert_eq!(all.len(), 72);
    for (i, one) in all.iter().enumerate() {
        assert!(!all[..i].contains(one), "{one:?} is there twice");
    }
    let held = picks(&[("b", Pick::Number(2.0))]);
    let some = grid(2, &held).expect("8 variants");
    assert_eq!(some.len(), 2 * 2 * 2);
    assert!(some.iter().all(|p| p.get("b") == Some(&Pick::Number(2.0))));
    let error = grid(7, &Picks::new()).map(|all| all.len());
    assert_eq!(error, Ok(7 * 4 * 2 * 7));
    let error = grid(12, &Picks::new()).expect_err("1152 are too many").to_string();
    assert!(error.contains("12 of \"a\" × 4 of \"b\" × 2 of \"c\" × 12 of \"d\""), "{error}");
}

#[test]
fn a_spread_begins_with_what_is_now_and_covers_every_choice_evenly() {
    let choices = [range("a", 0.0, 1.0, None), range("b", 0.0, 9.0, Some(1.0)), list("c", &["x", "y"])];
    let now = picks(&[("a", Pick::Number(0.125)), ("b", Pick::Number(3.0)), ("c", Pick::Text("y".into()))]);
    let spread =
        |count, seed| plan(&choices, &now, &Picks::new(), How::Spread { count, seed }).expect("a plan");
    let all = spread(101, 1);
    assert_eq!((all.len(), &all[0]), (101, &now));
    assert_eq!(all, spread(101, 1), "the same again");
    assert_ne!(all, spread(101, 2), "another seed");
    assert_eq!(all[..20], spread(20, 1)[..], "fewer are the first of more");
    for (i, one) in all.iter().enumerate() {
        assert!(!all[..i].contains(one), "{one:?} is there twice");
    }
    // A random sample of 100 has in each tenth 10 ± 3; points of low discrepancy miss 10 by 1 or 2.
    for tenth in 0..10 {
        let within = |p: &&Picks| matches!(p["a"], Pick::Number(x) if (x * 10.0).floor() == f64::from(tenth));
        let count = all[1..].iter().filter(within).count();
        assert!((8..=12).contains(&count), "{count} in tenth {tenth}");
        let steps = all[1..].iter().filter(|p| p["b"] == Pick::Number(f64::from(tenth))).count();
        assert!((7..=13).contains(&steps), "{steps} of step {tenth}");
    }
    let few = [list("c", &["x", "y"])];
    let all = plan(&few, &Picks::new(), &Picks::new(), How::Spread { count: 50, seed: 1 }).expect("a plan");
    assert_eq!(all.len(), 2, "there are no more");
    let many = plan(&few, &now, &Picks::new(), How::Spread { count: 1001, seed: 1 });
    assert!(many.is_err_and(|e| e.to_string().contains("1000")));
}

fn block(name: &str, size: [f64; 3], sheet: &Arc<Profile>) -> Element {
    let list = Value::List(size.iter().map(|x| Value::Number(*x)).collect());
    let values = Values::check("slab", slab::ROW.settings, &BTreeMap::from([("size".to_owned(), list)]));
    let mut element = Element::new((slab::ROW.build)(name, &values.expect("a size")).expect("a slab"));
    element.clad(sheet);
    element
}

/// A block of flat sheet with a smaller one on it, shifted toward +x.
fn two_blocks(shift: f64) -> Sculpture {
    let sheet = Arc::clone(&samples::work().faces[0].profile);
    let mut work = Sculpture::new("Two Blocks");
    work.stand(block("A", [1000.0, 1000.0, 500.0], &sheet)).expect("stands");
    let how = Stacking { sink: 100.0, shift: [shift, 0.0], ..Stacking::on("A/top") };
    work.stack(block("B", [400.0, 400.0, 600.0], &sheet), &how).expect("stacks");
    work
}

#[track_caller]
fn judged(work: &Sculpture) -> Result<Measured, Vec<String>> {
    let judged = measure(work, &[], &Registry::standard()).expect("is worked out");
    judged.map_err(|(why, _)| why.into_iter().map(|o| o.rule).collect())
}

#[test]
fn rules_keep_and_refuse_as_counted_by_hand() {
    let with = |change: &dyn Fn(&mut Sculpture)| {
        let mut work = two_blocks(100.0);
        change(&mut work);
        judged(&work).map(|m| m.figures)
    };
    let figures = with(&|_| {}).expect("no rule");
    // Two boxes: 6 sides each; the box B stands with its middle 100 off: 1000 high over all.
    assert_eq!((figures.elements, figures.most_sides), (2, 6));
    let (margin, area) = (figures.least_margin_mm.expect("it stands"), figures.parts_area_mm2 / 1.0e6);
    for (rule, kept) in [(6, true), (5, false)] {
        let fate = with(&|w| w.rules.max_sides = Some(rule));
        assert_eq!(fate.is_ok(), kept, "max_sides {rule}");
        if let Err(why) = fate {
            assert_eq!(why, ["max_sides", "max_sides"], "both elements");
        }
    }
    for (rule, kept) in [(2, true), (1, false)] {
        assert_eq!(with(&|w| w.rules.max_elements = Some(rule)).is_ok(), kept, "max_elements {rule}");
    }
    for (rule, kept) in [(margin, true), (margin + 0.01, false)] {
        let fate = with(&|w| w.rules.least_margin = Some(rule));
        assert_eq!(fate.map(|_| ()), if kept { Ok(()) } else { Err(vec!["least_margin".to_owned()]) });
    }
    for (rule, kept) in [(area, true), (area - 0.001, false)] {
        let fate = with(&|w| w.rules.most_area = Some(rule));
        assert_eq!(fate.map(|_| ()), if kept { Ok(()) } else { Err(vec!["most_area".to_owned()]) });
    }
    let fate = with(&|w| w.rules.most_sheets = Some(1000));
    assert_eq!(fate.map(|_| ()), Err(vec!["most_sheets".to_owned()]), "parts are not laid");
}

#[test]
fn the_margin_is_that_of_two_boxes_and_what_topples_falls_out() {
    // Seen from above the foot of B is 400 square about its middle; the weight of B alone comes down in its middle, so
    // its margin is 200, but for what ribs, welds and hidden sheet move: a tenth is allowed for them.
    let figures = judged(&two_blocks(0.0)).expect("it stands").figures;
    let margin = figures.least_margin_mm.expect("it stands");
    assert!((margin - 200.0).abs() < 20.0, "{margin} at {}", figures.least_margin_at);
    // A block on its edge: `make` would refuse it.
    let mut edge = block("A", [400.0, 400.0, 900.0], &samples::work().faces[0].profile);
    edge.turn(nalgebra::Vector3::y(), 30.0).expect("turns");
    let mut work = Sculpture::new("Edge");
    work.stand(edge).expect("stands");
    let why = judged(&work).map(|_| ()).expect_err("nothing keeps it up");
    // Its rib tips may make a sliver of a foot, on which it topples.
    assert!(why.iter().any(|w| ["no-foot", "topples"].contains(&w.as_str())), "{why:?}");
}

/// Variants of two blocks, by shift.
fn tried(shifts: &[f64]) -> Tried {
    let choice = range("shift", 0.0, 300.0, Some(10.0));
    let variants = shifts.iter().enumerate().map(|(i, shift)| {
        let value = Pick::Number(*shift);
        let fate = match judged(&two_blocks(*shift)) {
            Ok(measured) => Fate::Kept(Box::new(measured)),
            Err(why) => panic!("{why:?}"),
        };
        let chosen = Chosen { choice: choice.clone(), value, picked: false };
        Variant { number: i + 1, choices: vec![chosen], fate }
    });
    let mut tried = Tried {
        name: "Two Blocks".to_owned(),
        script: "two.rhai".to_owned(),
        how: "by hand".to_owned(),
        choices: vec![choice.clone()],
        present: picks(&[("shift", Pick::Number(100.0))]),
        further: BTreeMap::new(),
        variants: variants.collect(),
        shown: Vec::new(),
    };
    tried.shown = choose(&tried, 12);
    tried
}

#[test]
fn those_farthest_apart_are_drawn_and_always_what_is_now() {
    let mut tried = tried(&[0.0, 10.0, 100.0, 110.0, 200.0]);
    assert_eq!(choose(&tried, 12), [0, 1, 2, 3, 4], "all fit");
    // From 100 on: 0 and 200 are equally far, the first of equals comes first.
    assert_eq!(choose(&tried, 1), [2]);
    assert_eq!(choose(&tried, 3), [0, 2, 4]);
    assert_eq!(choose(&tried, 0), Vec::<usize>::new());
    tried.variants[4].fate = Fate::Failed("no".to_owned());
    assert_eq!(choose(&tried, 2), [0, 2], "what was not kept is not drawn");
}

#[test]
fn the_sheet_holds_every_variant_with_its_number_at_one_scale() {
    let tried = tried(&[0.0, 100.0, 200.0]);
    let pages = pages(&tried);
    assert_eq!(pages.len(), 1);
    let page = &pages[0];
    let texts: Vec<&str> = page.labels.iter().map(|l| l.text.as_str()).collect();
    for wanted in ["1", "2", "3", "as it is now", "shift 100", "Two Blocks"] {
        assert!(texts.contains(&wanted), "{wanted:?} is not among {texts:?}");
    }
    assert_eq!(texts.iter().filter(|t| **t == "as it is now").count(), 1);
    let [low, high] = crate::lettering::extents(page).expect("drawn");
    for k in 0..2 {
        assert!(low[k] >= 9.9 && high[k] <= PAPER[k] - 9.9, "{low:?} to {high:?} on {PAPER:?}");
    }
    // The person is as many times smaller as the scale says: 1750 mm, upright lengths foreshortened by cos 22°.
    let scale = texts.iter().find_map(|t| t.split("scale 1:").nth(1)?.parse::<f64>().ok()).expect("a scale");
    let figure = page.paths.iter().filter(|p| p.layer == crate::drawing::Layer::Mark && p.closed);
    let tall: Vec<f64> = figure
        .map(|p| {
            let ys = p.points.iter().map(|q| q[1]);
            ys.clone().fold(f64::MIN, f64::max) - ys.fold(f64::MAX, f64::min)
        })
        .collect();
    let body = 1520.0 * 22_f64.to_radians().cos() / scale;
    assert_eq!(tall.iter().filter(|h| (*h - body).abs() < 1e-9).count(), 3, "{tall:?} against {body}");
    assert!(super::pages(&Tried { shown: Vec::new(), ..tried }).is_empty(), "nothing to draw");
}

#[test]
fn more_than_twelve_take_more_pages_and_odd_names_do_no_harm() {
    let mut tried = tried(&[0.0]);
    let first = tried.variants[0].clone();
    tried.variants = (0..30).map(|i| Variant { number: i + 1, ..first.clone() }).collect();
    for variant in &mut tried.variants {
        variant.choices[0].choice.name = "</title><script>alert(1)</script> \"ü\", 名前 &".to_owned();
    }
    tried.choices[0].name = tried.variants[0].choices[0].choice.name.clone();
    tried.shown = (0..30).collect();
    let pages = pages(&tried);
    assert_eq!(pages.iter().map(|p| p.name.as_str()).collect::<Vec<_>>(), ["vary-1", "vary-2", "vary-3"]);
    let files = files(&tried).expect("written");
    let html = files.iter().find(|f| f.path == "vary.html").expect("a page");
    let html = String::from_utf8_lossy(&html.bytes);
    assert!(!html.contains("<script"), "a name is no markup");
    let json = files.iter().find(|f| f.path == "vary.json").expect("a report");
    let json: serde_json::Value = serde_json::from_slice(&json.bytes).expect("JSON");
    assert_eq!(json["variants"][29]["values"][&tried.choices[0].name], 0);
    let csv = files.iter().find(|f| f.path == "vary.csv").expect("a table");
    let mut reader = ::csv::Reader::from_reader(&csv.bytes[..]);
    assert_eq!(reader.headers().expect("a head").get(3), Some(tried.choices[0].name.as_str()));
    assert_eq!(reader.records().count(), 30);
}
