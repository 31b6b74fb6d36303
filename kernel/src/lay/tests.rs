//! What a laying is held to, checked by means that share nothing with the search.

use super::*;
use crate::polygon::holds;
use crate::profile::Profile;
use crate::random::Random;
use crate::stock::NominalSheet;
use crate::stock::tests::{nominal, trapezoid};
use crate::survey::{Damage, Fold, SurveyedSheet};
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::float::single::SingleFloatOverlay;
use std::collections::BTreeMap;
use std::sync::Arc;

fn options(given: &[(&str, f64)]) -> Options {
    let given = given.iter().map(|&(n, x)| (n.to_owned(), Value::Number(x))).collect();
    Options::new(&Values::check("lay", ROWS, &given).expect("allowed"))
}

fn piece(id: &str, outline: Vec<[f64; 2]>, need: &Need) -> Piece {
    Piece { part: 0, id: id.to_owned(), outlines: vec![outline], need: need.clone() }
}

fn rectangle(size: [f64; 2], from: [f64; 2]) -> Vec<[f64; 2]> {
    let [s, t] = from;
    vec![[s, t], [s + size[0], t], [s + size[0], t + size[1]], [s, t + size[1]]]
}

/// A part as works make them: ends that wave with the ribs, sides straight or aslant, now and then a hole.
fn random_piece(random: &mut Random, index: usize, need: &Need) -> Piece {
    let (length, width) = (random.between(120.0, 1300.0), random.between(60.0, 800.0));
    let (s0, t0) = (random.between(-900.0, 900.0), random.between(-900.0, 900.0));
    let (lean, slope) = (random.between(-0.6, 0.6), random.between(-0.25, 0.25));
    let (amplitude, pitch) = (random.between(0.0, 45.0).min(length / 4.0), random.between(70.0, 250.0));
    let count = 24;
    let mut outline = Vec::new();
    for i in 0..=count {
        let t = width * f64::from(i) / f64::from(count);
        outline.push([s0 + length + lean * t + amplitude * (t / pitch * 6.0).sin(), t0 + t + slope * length]);
    }
    for i in (0..=count).rev() {
        let t = width * f64::from(i) / f64::from(count);
        outline.push([s0 + lean * t + amplitude * (t / pitch * 6.0).cos() - amplitude, t0 + t]);
    }
    let mut made = piece(&format!("P{index}"), outline, need);
    if length > 700.0 && width > 500.0 && random.share() < 0.3 {
        let middle = [s0 + length / 2.0 + lean * width / 2.0, t0 + width / 2.0 + slope * length / 2.0];
        let mut hole = rectangle([200.0, 150.0], [middle[0] - 100.0, middle[1] - 75.0]);
        hole.reverse();
        made.outlines.push(hole);
    }
    made
}

/// A sheet whose ribs have spread and wander, with up to three damaged places.
fn random_sheet(random: &mut Random, index: usize, profile: &Arc<Profile>) -> Stock {
    let (length, width) = (random.between(1200.0, 4000.0), random.between(700.0, 1300.0));
    let corners = profile.corners();
    let count = corners.len();
    let stretch = random.between(0.98, 1.02);
    let shift = random.between(-90.0, 90.0);
    let mut folds = Vec::new();
    for k in 0..(3 * count * 10) {
        let corner = k as i64 - (count * 10) as i64;
        let t = corners[corner.rem_euclid(count as i64) as usize][0]
            + corner.div_euclid(count as i64) as f64 * profile.pitch();
        let at = t * stretch + shift + random.between(-2.0, 2.0);
        if (0.0..=width).contains(&at) {
            folds.push(Fold {
                number: folds.len() as u32 + 1,
                corner,
                across: vec![at, at + random.between(-3.0, 3.0)],
                height: vec![0.0; 2],
                deviation: vec![[0.0; 2]; 2],
            });
        }
    }
    let damage = (0..random.pick(4))
        .map(|_| {
            let (x, y) = (random.between(0.0, length), random.between(0.0, width));
            let corner = |r: &mut Random| [x + r.between(-150.0, 150.0), y + r.between(-100.0, 100.0)];
            Damage { what: "hole".into(), outline: (0..3).map(|_| corner(random)).collect() }
        })
        .collect();
    Stock::Surveyed(Arc::new(SurveyedSheet {
        name: format!("Y{index}"),
        length,
        width,
        thickness: 2.0,
        grade: String::new(),
        note: String::new(),
        nominal: profile.clone(),
        stations: vec![0.0, length],
        folds,
        damage,
    }))
}

type Shape = Vec<Vec<[f64; 2]>>;

fn laid(pieces: &[Piece], p: &Placement) -> Shape {
    pieces[p.piece].outlines.iter().map(|o| o.iter().map(|&q| p.place(q)).collect()).collect()
}

/// Area two shapes share, by the boolean operations of another library.
fn shared(a: &Shape, b: &Shape) -> f64 {
    let shapes = a.overlay(b, OverlayRule::Intersect, FillRule::EvenOdd);
    shapes.iter().flatten().map(|o| crate::drawing::signed_area(o)).sum::<f64>().abs()
}

/// Least distance of two shapes, edge by edge.
fn distance(a: &Shape, b: &Shape) -> f64 {
    let edges = |s: &Shape| -> Vec<[[f64; 2]; 2]> {
        s.iter().flat_map(|o| (0..o.len()).map(move |i| [o[i], o[(i + 1) % o.len()]])).collect()
    };
    let to_edge = |p: [f64; 2], [a, b]: [[f64; 2]; 2]| {
        let (d, q) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
        let l = d[0] * d[0] + d[1] * d[1];
        let share = if l > 0.0 { ((q[0] * d[0] + q[1] * d[1]) / l).clamp(0.0, 1.0) } else { 0.0 };
        (q[0] - d[0] * share).hypot(q[1] - d[1] * share)
    };
    let (ea, eb) = (edges(a), edges(b));
    let from = |ps: &Vec<[[f64; 2]; 2]>, es: &Vec<[[f64; 2]; 2]>| {
        ps.iter().flat_map(|p| es.iter().map(move |e| to_edge(p[0], *e))).fold(f64::INFINITY, f64::min)
    };
    from(&ea, &eb).min(from(&eb, &ea))
}

/// What rounding may do to a distance, mm.
const ROUNDING: f64 = 1.0e-6;
/// What it may do to a sum of a few lengths, mm.
const EXACT: f64 = 1.0e-9;
/// Areas of intersections below this are rounding, mm²: a hair's breadth over a tenth of a millimetre.
const SPECK: f64 = 1.0e-3;

/// No two parts share space or come nearer than the spacing, none leaves the margins or touches damage, and on
/// formed sheet every crest of a part lies where the sheet has a crest (or a valley, inside up).
fn check(pieces: &[Piece], layout: &Layout, options: &Options) {
    for (i, p) in layout.placements.iter().enumerate() {
        let what = format!("{} on {}", pieces[p.piece].id, layout.sheets[p.sheet].name);
        let sheet = &layout.sheets[p.sheet];
        let shape = laid(pieces, p);
        for q in shape.iter().flatten() {
            let m = options.margin - 2.0 * bed::GUARD;
            assert!(
                q[0] >= m && q[1] >= m && q[0] <= sheet.length - m && q[1] <= sheet.width - m,
                "{what}: margin"
            );
            let within = |k: usize| (p.bounds[0][k] - ROUNDING..=p.bounds[1][k] + ROUNDING).contains(&q[k]);
            assert!(within(0) && within(1), "{what}: bounds");
        }
        for (_, outline) in &sheet.damage {
            let hole = vec![outline.clone()];
            assert!(shared(&shape, &hole) < SPECK, "{what}: damage");
            assert!(distance(&shape, &hole) >= options.margin - ROUNDING, "{what}: near damage");
            assert!(!holds(outline, shape[0][0]), "{what}: in damage");
        }
        for q in layout.placements[i + 1..].iter().filter(|q| q.sheet == p.sheet) {
            let other = laid(pieces, q);
            let area = shared(&shape, &other);
            assert!(area < SPECK, "{what} and {} share {area} mm²", pieces[q.piece].id);
            let apart = distance(&shape, &other);
            assert!(apart >= options.spacing - ROUNDING, "{what} and {}: {apart} mm", pieces[q.piece].id);
        }
        if let Need::Formed { profile, phase } = &pieces[p.piece].need {
            check_ribs(&what, profile, *phase, sheet, p, pieces);
        }
    }
}

/// Crests (inside up: valleys) on the sheet's crests to within the misfit, which is the greatest distance there is;
/// on a catalogue sheet heights at 401 places too.
fn check_ribs(what: &str, profile: &Profile, phase: f64, sheet: &Sheet, p: &Placement, pieces: &[Piece]) {
    let [[_, st], [ts, _]] = p.way.matrix();
    assert!(st == 0.0 && ts == 0.0, "{what}: ribs run along");
    let sign = if p.way.inside_up() { -1.0 } else { 1.0 };
    let outline = &pieces[p.piece].outlines[0];
    let [low, high] =
        outline.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |s, q| [s[0].min(q[1]), s[1].max(q[1])]);
    let nearest = |c: f64| {
        let all = (-9..=sheet.crests.len() as i64 + 9).filter_map(|k| sheet.crest(k));
        all.min_by(|a, b| (a - c).abs().total_cmp(&(b - c).abs())).expect("a crest")
    };
    // All profiles here have their valleys in the middle between crests.
    let up = if p.way.inside_up() { phase + profile.pitch() / 2.0 } else { phase };
    let first = ((low - up) / profile.pitch()).ceil() as i64;
    let last = ((high - up) / profile.pitch()).floor() as i64;
    let off = (first..=last)
        .map(|k| p.place([0.0, up + k as f64 * profile.pitch()])[1])
        .map(|c| (c - nearest(c)).abs())
        .fold(0.0, f64::max);
    assert!(off <= p.misfit + EXACT, "{what}, {:?}: a crest is {off} mm off, misfit {}", p.way, p.misfit);
    if last >= first {
        assert!(off >= p.misfit - EXACT, "{what}: misfit {} said, {off} found", p.misfit);
    }
    if sheet.surveyed {
        return;
    }
    assert!(p.misfit < EXACT, "{what}: a catalogue sheet has no misfit");
    for i in 0..=400 {
        let t = low + (high - low) * f64::from(i) / 400.0;
        let c = p.place([0.0, t])[1];
        let off = (profile.height(c - nearest(c)) - sign * profile.height(t - phase)).abs();
        assert!(off < ROUNDING, "{what}, {:?}: at t = {t} the sheet is {off} mm off", p.way);
    }
}

/// 500 yards, half of them surveyed, every fifth of flat sheet.
#[test]
fn nothing_overlaps_and_ribs_and_margins_are_kept_in_500_random_yards() {
    let profiles = [
        trapezoid(200.0, 40.0, 70.0, 70.0),
        trapezoid(250.0, 45.0, 110.0, 60.0),
        trapezoid(150.0, 30.0, 50.0, 50.0),
    ];
    let flat = Arc::new(
        Profile::from_pieces("flat", vec![crate::profile::Piece::Flat { length: 100.0 }], 2.0, 0.0)
            .expect("flat"),
    );
    let (mut laid_ways, mut missing, mut all) = (BTreeMap::new(), 0, 0);
    for seed in 0..500 {
        let mut random = Random(seed);
        let is_flat = seed % 5 == 4;
        let profile = &profiles[random.pick(3)];
        let opts = options(&[
            ("spacing", [0.0, 3.0, 10.0, 25.0][random.pick(4)]),
            ("margin", [0.0, 15.0, 40.0][random.pick(3)]),
            ("tries", 8.0),
            ("turns", [1.0, 4.0, 7.0][random.pick(3)]),
        ]);
        let stock: Vec<Stock> = (0..1 + random.pick(6))
            .map(|i| match (is_flat, seed % 2) {
                (true, _) => nominal(&format!("F{i}"), [random.between(900.0, 3000.0), 1000.0], &flat, 1),
                (_, 0) => random_sheet(&mut random, i, profile),
                _ => nominal(
                    &format!("S{i}"),
                    [random.between(900.0, 4000.0), random.between(700.0, 1300.0)],
                    profile,
                    1,
                ),
            })
            .collect();
        let pieces: Vec<Piece> = (0..1 + random.pick(14))
            .map(|i| {
                let need = if is_flat {
                    Need::Flat { thickness: 2.0 }
                } else {
                    Need::Formed { profile: profile.clone(), phase: random.between(-300.0, 300.0) }
                };
                random_piece(&mut random, i, &need)
            })
            .collect();
        let layout = lay(&pieces, &stock, &[], &opts).expect("laid");
        assert_eq!(
            layout.placements.len() + layout.unplaced.len(),
            pieces.len(),
            "yard {seed}: each has one fate"
        );
        check(&pieces, &layout, &opts);
        for p in &layout.placements {
            *laid_ways.entry(format!("{:?}", p.way).chars().take(9).collect::<String>()).or_insert(0) += 1;
        }
        (missing, all) = (missing + layout.unplaced.len(), all + pieces.len());
    }
    // The check would say nothing of yards too small for their parts.
    assert!(missing * 3 < all, "{missing} of {all} found no place");
    let often = laid_ways.values().filter(|&&n| n > 50).count();
    assert!(often >= 5, "hardly a way but the straight one was tried: {laid_ways:?}");
}

/// Parts as wide as the sheet make it a packing of lengths, whose optimum is found by trying first-fit on every
/// order: first-fit reaches the optimum on one of them.
#[test]
fn sheets_are_as_few_as_exhaustive_search_finds() {
    let profile = trapezoid(200.0, 40.0, 70.0, 70.0);
    let opts = options(&[("spacing", 0.0), ("margin", 0.0)]);
    let mut random = Random(7);
    for case in 0..60 {
        let n = 4 + case % 4;
        let lengths: Vec<f64> = (0..n).map(|_| random.between(400.0, 2200.0).round()).collect();
        let need = Need::Formed { profile: profile.clone(), phase: 100.0 };
        let pieces: Vec<Piece> = lengths
            .iter()
            .enumerate()
            .map(|(i, &l)| piece(&format!("P{i}"), rectangle([l, 900.0], [0.0, 50.0]), &need))
            .collect();
        let stock = [nominal("S", [3000.0, 1000.0], &profile, 7)];
        let layout = lay(&pieces, &stock, &[], &opts).expect("laid");
        assert!(layout.unplaced.is_empty(), "case {case}");
        let mut best = n;
        permute(&mut lengths.clone(), 0, &mut |order| {
            let mut bins: Vec<f64> = Vec::new();
            for l in order {
                // Parts stand off each other by what the search adds against rounding.
                match bins.iter_mut().find(|b| **b + l <= 2999.9) {
                    Some(b) => *b += l,
                    None => bins.push(*l),
                }
            }
            best = best.min(bins.len());
        });
        assert_eq!(layout.used().len(), best, "case {case}: {lengths:?}");
    }
}

fn permute(items: &mut Vec<f64>, from: usize, with: &mut impl FnMut(&[f64])) {
    if from + 1 >= items.len() {
        return with(items);
    }
    for i in from..items.len() {
        items.swap(from, i);
        permute(items, from + 1, with);
        items.swap(from, i);
    }
}

/// Random parts on many like sheets: at most one sheet more than the areas ask for, once the parts are small
/// against the sheet.
#[test]
fn sheets_are_within_one_of_the_bound_by_area() {
    let profile = trapezoid(100.0, 20.0, 35.0, 35.0);
    let need = Need::Formed { profile: profile.clone(), phase: 50.0 };
    let opts = options(&[("spacing", 0.0), ("margin", 0.0)]);
    for seed in 0..6 {
        let mut random = Random(seed + 40);
        let pieces: Vec<Piece> = (0..24)
            .map(|i| {
                let ribs = 1.0 + random.pick(4) as f64;
                let size = [random.between(300.0, 1200.0), ribs * 100.0 - 0.001];
                piece(&format!("P{i}"), rectangle(size, [0.0, 0.0]), &need)
            })
            .collect();
        let layout = lay(&pieces, &[nominal("S", [3000.0, 1000.0], &profile, 9)], &[], &opts).expect("laid");
        assert!(layout.unplaced.is_empty(), "seed {seed}");
        let (used, bound) = (layout.used().len(), layout.area_bound);
        assert!(used <= bound + 1, "seed {seed}: {used} sheets, bound {bound}");
    }
}

#[test]
fn the_result_is_the_same_with_any_number_of_threads() {
    let profile = trapezoid(200.0, 40.0, 70.0, 70.0);
    let mut random = Random(11);
    let need =
        |random: &mut Random| Need::Formed { profile: profile.clone(), phase: random.between(0.0, 200.0) };
    let pieces: Vec<Piece> = (0..16)
        .map(|i| {
            let n = need(&mut random);
            random_piece(&mut random, i, &n)
        })
        .collect();
    let stock: Vec<Stock> = (0..6).map(|i| random_sheet(&mut random, i, &profile)).collect();
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool");
        pool.install(|| lay(&pieces, &stock, &[], &options(&[("tries", 40.0)])).expect("laid"))
    };
    let one = with(1);
    assert!(!one.placements.is_empty());
    for threads in [2, 3] {
        assert_eq!(with(threads), one, "{threads} threads");
    }
}

#[test]
fn pins_are_kept_and_impossible_ones_refused_with_what_is_allowed() {
    let profile = trapezoid(200.0, 40.0, 90.0, 50.0);
    let need = Need::Formed { profile: profile.clone(), phase: 0.0 };
    let pieces: Vec<Piece> =
        (0..3).map(|i| piece(&format!("P{i}"), rectangle([500.0, 420.0], [0.0, -210.0]), &need)).collect();
    let stock = [nominal("S", [3000.0, 1000.0], &profile, 2)];
    let opts = options(&[]);
    let pin = |sheet: &str, along: f64, rib: i64, way: Way| Pin {
        part: "P1".into(),
        sheet: sheet.into(),
        along,
        rib: Some(rib),
        across: None,
        way,
    };
    let layout = lay(&pieces, &stock, &[pin("S-2", 777.0, 2, Way::EndForEnd)], &opts).expect("laid");
    check(&pieces, &layout, &opts);
    let pinned = layout.placements.iter().find(|p| p.piece == 1).expect("laid");
    assert!(pinned.pinned && (pinned.bounds[0][0] - 777.0).abs() < EXACT);
    assert_eq!((pinned.rib, layout.sheets[pinned.sheet].name.as_str()), (Some(2), "S-2"));
    assert_eq!(layout.used().len(), 1, "the others go beside it");
    for (bad, says) in [
        (pin("S-3", 0.0, 2, Way::Straight), "did you mean"),
        (pin("S-1", 100.0, 9, Way::Straight), "ribs on which it does: 1, 2, 3"),
        (pin("S-1", 100.0, 2, Way::TurnedOver), "as drawn, or end for end"),
        (pin("S-1", 2600.0, 2, Way::Straight), "from 15.0 to 2485.0 mm"),
    ] {
        let error = lay(&pieces, &stock, &[bad], &opts).expect_err("refused").to_string();
        assert!(error.contains(says), "{error}");
    }
}

#[test]
fn a_part_without_a_place_is_told_why_and_how_much_is_missing() {
    let profile = trapezoid(200.0, 40.0, 70.0, 70.0);
    let other = trapezoid(150.0, 30.0, 50.0, 50.0);
    let need = Need::Formed { profile: profile.clone(), phase: 0.0 };
    let opts = options(&[]);
    let why = |pieces: &[Piece], stock: &[Stock]| {
        let layout = lay(pieces, stock, &[], &opts).expect("laid");
        layout.unplaced.iter().map(|u| u.why.clone()).collect::<Vec<_>>().join("\n")
    };
    let one = |size: [f64; 2], from: [f64; 2]| piece("P", rectangle(size, from), &need);
    let sheet = |size| [nominal("S", size, &profile, 1)];
    let said = why(&[one([2480.0, 300.0], [0.0, 0.0])], &sheet([2500.0, 1000.0]));
    assert!(said.contains("10 mm too short"), "{said}");
    let said = why(&[one([500.0, 980.0], [0.0, -490.0])], &sheet([2500.0, 1000.0]));
    assert!(said.contains("10 mm too narrow"), "{said}");
    // 960 wide fits a width of 970 between margins, but its crests put it 60 mm to one side: crests at 100, 300 …
    let shifted = piece("P", rectangle([500.0, 960.0], [0.0, -440.0]), &need);
    let said = why(&[shifted], &sheet([2500.0, 1000.0]));
    assert!(said.contains("mm too narrow with its crests on the sheet's"), "{said}");
    let said = why(&[one([500.0, 300.0], [0.0, 0.0])], &[nominal("S", [2500.0, 1000.0], &other, 1)]);
    assert!(said.contains("needs a sheet of trapezoid 200 × 40, 2 mm"), "{said}");
    let four: Vec<Piece> =
        (0..4).map(|i| piece(&format!("P{i}"), rectangle([1100.0, 700.0], [0.0, -350.0]), &need)).collect();
    let said = why(&four, &sheet([2500.0, 1000.0]));
    assert!(said.contains("are full") && said.contains("0.77 m² more"), "{said}");
}

#[test]
fn holes_of_parts_are_used() {
    let profile = trapezoid(200.0, 40.0, 70.0, 70.0);
    let need = Need::Formed { profile: profile.clone(), phase: 0.0 };
    let mut frame = piece("frame", rectangle([2900.0, 960.0], [0.0, -480.0]), &need);
    let mut hole = rectangle([2000.0, 700.0], [400.0, -350.0]);
    hole.reverse();
    frame.outlines.push(hole);
    let small = piece("small", rectangle([1500.0, 500.0], [0.0, -250.0]), &need);
    let stock = Stock::Nominal(NominalSheet {
        first_crest: Some(100.0),
        ..match nominal("S", [3000.0, 1000.0], &profile, 2) {
            Stock::Nominal(sheet) => sheet,
            Stock::Surveyed(_) => unreachable!("it is by catalogue"),
        }
    });
    let opts = options(&[]);
    let pieces = [frame, small];
    let layout = lay(&pieces, &[stock], &[], &opts).expect("laid");
    check(&pieces, &layout, &opts);
    assert_eq!(layout.used().len(), 1, "{:?}", layout.placements);
}
