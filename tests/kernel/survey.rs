//! Surveys of made-up sheets whose folds are known: bands, misreadings, and bad surveys.

use rayon::prelude::*;
use ribwright_kernel::Registry;
use ribwright_kernel::adjust::{self, Datum, Observation};
use ribwright_kernel::profile::Profile;
use ribwright_kernel::settings::{Value, Values};
use ribwright_kernel::survey::{
    BAND, FitOptions, FittedSheet, Kind, MOST_SHEETS, Measured, ROWS, RawSheet, Yard, add_traces, fit_sheet,
    fit_yard, nominals, read_yard,
};
use ribwright_tests::Random;
use ribwright_tests::yards::{TrueSheet, made_up_yard};
use std::collections::BTreeMap;
use std::sync::Arc;

fn rib() -> Arc<Profile> {
    let registry = Registry::standard();
    let kind = registry.profiles.iter().find(|row| row.name == "trapezoid").expect("listed");
    let map: BTreeMap<String, Value> =
        [("pitch", 200.0), ("depth", 40.0), ("crest", 70.0), ("valley", 70.0), ("bend_radius", 6.0)]
            .into_iter()
            .map(|(k, v)| (k.to_owned(), Value::Number(v)))
            .collect();
    let values = Values::check(kind.name, kind.settings, &map).expect("settings");
    Arc::new((kind.build)(&values).expect("a profile"))
}

fn options(more: &[(&str, Value)]) -> FitOptions {
    let map = more.iter().map(|(k, v)| ((*k).to_owned(), v.clone())).collect();
    FitOptions::new(&Values::check("survey", ROWS, &map).expect("settings"))
}

fn fitted(raw: &RawSheet, nominal: &Arc<Profile>, options: &FitOptions) -> FittedSheet {
    fit_sheet(&Yard::default(), raw, nominal, options).unwrap_or_else(|e| panic!("{e}"))
}

const SHEETS: u64 = 2_000;

/// How many of the points lie inside their bands, and how many there are: across and in height.
fn inside(found: &FittedSheet, truth: &TrueSheet, nominal: &Profile) -> [[f64; 2]; 2] {
    let mut counts = [[0.0; 2]; 2];
    for (k, fold) in found.sheet.folds.iter().enumerate() {
        for s in 0..truth.stations.len() {
            let off = [
                fold.across[s] - truth.across[k][s],
                fold.height[s] - (nominal.max_height() - truth.depth[k][s]),
            ];
            for c in 0..2 {
                counts[c][1] += 1.0;
                if off[c].abs() <= BAND * fold.deviation[s][c] {
                    counts[c][0] += 1.0;
                }
            }
        }
    }
    counts
}

#[track_caller]
fn assert_shares(counts: Vec<[[f64; 2]; 2]>, what: &str) {
    for (c, name) in ["across", "height"].iter().enumerate() {
        let [hits, all] = counts.iter().fold([0.0; 2], |sum, n| [sum[0] + n[c][0], sum[1] + n[c][1]]);
        let share = hits / all;
        println!("{what}, {name}: {:.2} % of {all} inside", 100.0 * share);
        assert!((0.93..=0.97).contains(&share), "{what}, {name}: {share} of {all} points inside");
    }
}

/// Whatever the sheet, the bands hold: here it wanders by some 2 mm across and 1.5 mm in depth, has a wide end,
/// and some places were read twice.
#[test]
fn true_folds_lie_inside_the_bands_of_crooked_sheets() {
    let (nominal, options) = (rib(), options(&[]));
    let counts = (0..SHEETS).into_par_iter().map(|seed| {
        let mut random = Random::new(seed);
        let first = random.below(4);
        let mut truth = TrueSheet::nominal(&nominal, first, 20.0, 12, &[100.0, 900.0, 1500.0, 2300.0]);
        let (turn, wide) = (random.between(0.0, 6.0), random.between(0.0, 6.0));
        truth.bend(|fold, s| {
            let (f, s) = (fold as f64, s as f64);
            [
                2.0 * (turn + f * 0.9 + s * 1.3).sin() + wide * f / 12.0 * s / 3.0,
                1.5 * (turn * 2.0 + f * 1.7 - s).cos(),
            ]
        });
        let times = 1 + random.below(2);
        let mut raw = truth.read("S", [0.5, 0.3], times, &mut random);
        raw.lengths.push(Measured { line: 1, station: None, value: 2400.0 });
        inside(&fitted(&raw, &nominal, &options), &truth, &nominal)
    });
    assert_shares(counts.collect(), "crooked");
}

#[test]
fn true_folds_lie_inside_the_bands_of_straight_sheets() {
    let (nominal, options) = (rib(), options(&[("straight", Value::Flag(true))]));
    let counts = (0..SHEETS).into_par_iter().map(|seed| {
        let mut random = Random::new(seed + 50_000);
        let mut truth =
            TrueSheet::nominal(&nominal, random.below(4), 20.0, 12, &[0.0, 500.0, 1200.0, 1900.0, 2400.0]);
        let lean: Vec<[f64; 4]> = (0..12).map(|_| [(); 4].map(|()| random.between(-2.0, 2.0))).collect();
        let share: Vec<f64> = truth.stations.iter().map(|s| s / 2400.0).collect();
        truth.bend(|f, s| [lean[f][0] + lean[f][1] * share[s], lean[f][2] + 0.5 * lean[f][3] * share[s]]);
        let raw = truth.read("S", [0.5, 0.3], 1, &mut random);
        inside(&fitted(&raw, &nominal, &options), &truth, &nominal)
    });
    assert_shares(counts.collect(), "straight");
}

/// A sheet drawn from what the check takes sheets to be: steps between folds and bows between stations are normal
/// with the stated deviations.
fn draw(
    nominal: &Profile,
    options: &FitOptions,
    folds: usize,
    stations: &[f64],
    random: &mut Random,
) -> TrueSheet {
    let count = stations.len();
    let mut truth = TrueSheet::nominal(nominal, 0, 40.0, folds, stations);
    let field = |c: usize, random: &mut Random| {
        let point = |fold: usize, s: usize| fold * count + s;
        let mut rows = Vec::new();
        let mut row = |terms: Vec<(usize, f64)>, deviation: f64| {
            rows.push(Observation { terms, value: deviation * random.normal(), deviation });
        };
        for s in 0..count {
            for fold in 1..folds {
                row(vec![(point(fold, s), 1.0), (point(fold - 1, s), -1.0)], options.wander[c]);
            }
        }
        for fold in 0..folds {
            for s in 1..count - 1 {
                let share = (stations[s] - stations[s - 1]) / (stations[s + 1] - stations[s - 1]);
                let terms = vec![
                    (point(fold, s - 1), share - 1.0),
                    (point(fold, s), 1.0),
                    (point(fold, s + 1), -share),
                ];
                row(terms, options.bow[c]);
            }
        }
        // Where the sheet as a whole lies, and how it turns, is anybody's.
        row(vec![(point(0, 0), 1.0)], 2.0);
        row(vec![(point(0, count - 1), 1.0)], 2.0);
        adjust::adjust(folds * count, &rows, &Datum::Observed).expect("drawn").unknowns
    };
    let (across, depth) = (field(0, random), field(1, random));
    truth.bend(|fold, s| [across[fold * count + s], -depth[fold * count + s]]);
    truth
}

#[test]
fn folds_that_were_not_read_lie_inside_their_bands_too() {
    let (nominal, options) = (rib(), options(&[]));
    let counts = (0..SHEETS).into_par_iter().map(|seed| {
        let mut random = Random::new(seed + 100_000);
        let truth = draw(&nominal, &options, 10, &[0.0, 800.0, 1600.0, 2400.0], &mut random);
        let mut raw = truth.read("S", [0.5, 0.3], 1, &mut random);
        raw.readings.retain(|r| !(r.fold == 4 && r.station < 1000.0 || r.fold == 7 && r.station > 2000.0));
        let found = fitted(&raw, &nominal, &options);
        // Only the blanks count here.
        let mut counts = [[0.0; 2]; 2];
        for (fold, s) in [(3, 0), (3, 1), (6, 3)] {
            let f = &found.sheet.folds[fold];
            let off = [
                f.across[s] - truth.across[fold][s],
                f.height[s] - (nominal.max_height() - truth.depth[fold][s]),
            ];
            for c in 0..2 {
                assert!(f.deviation[s][c] > options.reading[c], "a blank is known less well than a reading");
                counts[c][0] += f64::from(u8::from(off[c].abs() <= BAND * f.deviation[s][c]));
                counts[c][1] += 1.0;
            }
        }
        counts
    });
    assert_shares(counts.collect(), "blanks");
}

/// Share of sheets in which a planted misreading is named, against Baarda's prediction for its redundancy.
#[track_caller]
fn assert_named(
    what: &str,
    nominal: &Arc<Profile>,
    options: &FitOptions,
    planted: (u32, f64),
    make: impl Fn(&mut Random) -> RawSheet + Sync,
) {
    for (c, kind) in [(0, Kind::Across), (1, Kind::Depth)] {
        let here = |check: &&ribwright_kernel::survey::Check| {
            (check.fold, check.station) == planted && check.kind == kind
        };
        // Redundancy is a matter of which readings there are, not of what they say.
        let clean = fitted(&make(&mut Random::new(7)), nominal, options);
        let line = clean.checks.iter().find(here).expect("a reading").line;
        let r = clean.checks.iter().find(here).expect("a reading").redundancy;
        for shift in [3.0, 4.132, 5.5] {
            let error = shift * options.reading[c] / r.sqrt();
            let named: usize = (0..SHEETS)
                .into_par_iter()
                .filter(|seed| {
                    let mut raw = make(&mut Random::new(seed + 1_000_000));
                    let reading = raw.readings.iter_mut().find(|r| r.line == line).expect("there");
                    let of = if c == 0 { &mut reading.across } else { &mut reading.depth };
                    *of = of.map(|x| x + if seed % 2 == 0 { error } else { -error });
                    let found = fitted(&raw, nominal, options);
                    found.checks.iter().any(|check| check.flagged && check.line == line && check.kind == kind)
                })
                .count();
            let (share, theory) = (named as f64 / SHEETS as f64, adjust::power(options.alpha, shift));
            println!(
                "{what}, {}: {error:.2} mm at redundancy {r:.3} named in {:.1} %, theory {:.1} %",
                kind.name(),
                100.0 * share,
                100.0 * theory
            );
            assert!((share - theory).abs() <= 0.03, "{what}: named {share}, theory {theory}");
        }
    }
}

#[test]
fn misreadings_on_straight_sheets_are_named_as_often_as_theory_says() {
    let (nominal, options) = (rib(), options(&[("straight", Value::Flag(true))]));
    assert_named("straight", &nominal, &options, (3, 1000.0), |random| {
        let stations = [0.0, 400.0, 700.0, 1000.0, 1300.0, 1600.0, 2000.0, 2400.0];
        TrueSheet::nominal(&nominal, 0, 40.0, 4, &stations).read("S", [0.5, 0.3], 1, random)
    });
}

#[test]
fn misreadings_on_crooked_sheets_are_named_as_often_as_theory_says() {
    let (nominal, options) = (rib(), options(&[]));
    assert_named("crooked", &nominal, &options, (4, 800.0), |random| {
        draw(&nominal, &options, 8, &[0.0, 800.0, 1600.0, 2400.0], random).read("S", [0.5, 0.3], 1, random)
    });
}

#[test]
fn good_readings_are_flagged_as_seldom_as_stated() {
    let (nominal, options) =
        (rib(), options(&[("straight", Value::Flag(true)), ("alpha", Value::Number(0.01))]));
    let counts: Vec<[usize; 2]> = (0..SHEETS)
        .into_par_iter()
        .map(|seed| {
            let mut random = Random::new(seed + 300_000);
            let truth = TrueSheet::nominal(&nominal, 0, 40.0, 4, &[0.0, 600.0, 1200.0, 1800.0, 2400.0]);
            let found = fitted(&truth.read("S", [0.5, 0.3], 2, &mut random), &nominal, &options);
            [found.checks.iter().filter(|c| c.flagged).count(), found.checks.len()]
        })
        .collect();
    let [flagged, all] = counts.iter().fold([0, 0], |sum, n| [sum[0] + n[0], sum[1] + n[1]]);
    let share = flagged as f64 / all as f64;
    println!("{:.3} % of good readings flagged", 100.0 * share);
    assert!((0.008..=0.012).contains(&share), "{share} of good readings flagged at level 0.01");
}

#[track_caller]
fn refused(change: impl Fn(&mut RawSheet), words: &[&str]) {
    let nominal = rib();
    let truth = TrueSheet::nominal(&nominal, 0, 40.0, 12, &[0.0, 1200.0, 2400.0]);
    let mut raw = truth.read("S07", [0.5, 0.3], 1, &mut Random::new(3));
    change(&mut raw);
    let yard = Yard { file: "yard.csv".to_owned(), sheets: vec![raw], ..Yard::default() };
    let text = fit_yard(&yard, &[nominal], &options(&[])).expect_err("refused").to_string();
    for word in words.iter().chain(&["yard.csv: line ", "column"]) {
        assert!(text.contains(word), "{text:?} does not say {word:?}");
    }
}

#[test]
fn surveys_that_cannot_be_are_refused_with_line_and_column() {
    let each = |change: fn(&mut ribwright_kernel::survey::Reading)| {
        move |raw: &mut RawSheet| raw.readings.iter_mut().for_each(change)
    };
    refused(each(|r| r.across = r.across.map(|x| x / 25.4)), &["inches"]);
    refused(
        each(|r| (r.across, r.depth) = (r.across.map(|x| x / 25.4), r.depth.map(|x| x / 25.4))),
        &["inches"],
    );
    refused(
        |raw| {
            let inches = |r: &mut ribwright_kernel::survey::Reading| r.across = r.across.map(|x| x / 25.4);
            raw.readings.iter_mut().filter(|r| r.station == 1200.0).for_each(inches);
        },
        &["inches", "line 14"],
    );
    refused(each(|r| r.across = r.across.map(|x| x / 10.0)), &["centimetres"]);
    refused(each(|r| (r.across, r.depth) = (r.depth, r.across)), &["swapped", "under across"]);
    refused(each(|r| (r.station, r.across) = (r.across.unwrap_or(0.0), Some(r.station))), &["station"]);
    refused(each(|r| r.across = r.across.map(|x| x * 1.5)), &["nominal profile"]);
    refused(each(|r| r.depth = r.depth.map(|x| 40.0 - x).filter(|_| r.fold > 99)), &["depth"]);
    refused(each(|r| r.depth = None), &["which corner"]);
    refused(|raw| raw.readings.retain(|r| r.station == 0.0), &["two stations"]);
    refused(|raw| raw.readings.retain(|r| r.fold == 5), &["one fold"]);
    refused(
        |raw| raw.readings.iter_mut().filter(|r| r.station == 1200.0).for_each(|r| r.across = None),
        &["station 1200", "across"],
    );
    refused(|raw| raw.lengths.push(Measured { line: 9, station: None, value: 2000.0 }), &["beyond the end"]);
}

fn fixture(name: &str) -> std::path::PathBuf {
    std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/yard").join(name)
}

#[test]
fn the_made_up_yard_is_as_it_was_made() {
    for (name, fresh) in ["yard.csv", "S20-1200.svg"].into_iter().zip(made_up_yard(&rib())) {
        if std::env::var_os("RIBWRIGHT_BLESS").is_some() {
            std::fs::write(fixture(name), &fresh).expect("the fixture can be written");
        }
        let kept = std::fs::read_to_string(fixture(name)).unwrap_or_default();
        assert!(kept == fresh, "{name} is out of date; run this test with RIBWRIGHT_BLESS=1");
    }
}

#[test]
fn the_made_up_yard_has_two_misreadings_and_both_are_named() {
    let registry = Registry::standard();
    let mut yard =
        read_yard("yard.csv", &std::fs::read(fixture("yard.csv")).expect("there")).expect("readable");
    let nominals = nominals(&yard, &registry, None).expect("the file names its profile");
    add_traces(&mut yard, &nominals, |name| Ok(std::fs::read(fixture(name)).expect("there")))
        .expect("traced");
    let sheets = fit_yard(&yard, &nominals, &options(&[])).expect("fitted");
    assert_eq!(sheets.len(), 20);
    let flagged: Vec<(String, u32, f64, Kind)> = sheets
        .iter()
        .flat_map(|s| s.checks.iter().map(|c| (s.sheet.name.clone(), c.fold, c.station, c.kind, c.flagged)))
        .filter(|c| c.4)
        .map(|c| (c.0, c.1, c.2, c.3))
        .collect();
    assert_eq!(
        flagged,
        [("S04".to_owned(), 9, 650.0, Kind::Across), ("S11".to_owned(), 6, 1750.0, Kind::Depth)]
    );
    // The same whatever the number of threads.
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("a thread");
    assert!(one.install(|| fit_yard(&yard, &nominals, &options(&[]))).expect("fitted") == sheets);
    // The traced station lies between its neighbours' readings, not only on the nominal profile.
    let traced = &sheets[19];
    assert!(traced.sheet.stations.contains(&1200.0));
    assert!(traced.checks.iter().filter(|c| c.station == 1200.0).count() >= 2 * traced.sheet.folds.len() - 2);
}

#[test]
fn the_largest_yard_is_read_and_fitted_and_a_larger_one_refused() {
    let nominal = rib();
    let mut random = Random::new(9);
    let truth = TrueSheet::nominal(&nominal, 0, 40.0, 25, &[0.0, 800.0, 1600.0, 2400.0]);
    let mut text = String::from("sheet,what,station,fold,across,depth,value,text\n");
    let one = ribwright_tests::yards::rows(&truth.read("SSSSS", [0.5, 0.3], 1, &mut random));
    let most = MOST_SHEETS;
    for sheet in 0..most {
        text.push_str(&one.replace("SSSSS", &format!("S{sheet}")));
    }
    let yard = read_yard("yard.csv", text.as_bytes()).expect("readable");
    assert_eq!(fit_yard(&yard, &vec![nominal; most], &options(&[])).expect("fitted").len(), most);
    for sheet in most..10_000 {
        text.push_str(&one.replace("SSSSS", &format!("S{sheet}")));
    }
    let refused = read_yard("yard.csv", text.as_bytes()).expect_err("a million rows").to_string();
    let line = 100 * most + 2;
    assert!(refused.contains(&format!("yard.csv: line {line}, column 1 (sheet)")), "{refused}");
}

/// Few rows may still ask for many points: folds that were not read are filled.
#[test]
fn sheets_with_too_many_blanks_are_refused() {
    let (nominal, mut random) = (rib(), Random::new(4));
    let stations: Vec<f64> = (0..10).map(|s| 250.0 * f64::from(s)).collect();
    let raw = TrueSheet::nominal(&nominal, 0, 40.0, 100, &stations).read("S", [0.5, 0.3], 1, &mut random);
    let yard = |sheets: usize| {
        let sheets =
            (0..sheets).map(|k| RawSheet { name: format!("S{k}"), line: k as u64 + 2, ..raw.clone() });
        Yard { file: "yard.csv".to_owned(), sheets: sheets.collect(), ..Yard::default() }
    };
    let refused = |yard: &Yard, words: &[&str]| {
        let nominals = vec![nominal.clone(); yard.sheets.len()];
        let text = fit_yard(yard, &nominals, &options(&[])).expect_err("refused").to_string();
        for word in words {
            assert!(text.contains(word), "{text:?} does not say {word:?}");
        }
    };
    refused(&yard(101), &["yard.csv: line 102, column", "100000 allowed"]);
    let mut one = yard(1);
    one.sheets[0].readings[0].fold = 101;
    refused(&one, &["101 folds at 10 stations", "yard.csv: line 2, column"]);
}

/// Junk is refused rather than set aside reading by reading.
#[test]
fn a_sheet_whose_readings_contradict_each_other_is_refused() {
    let (nominal, mut random) = (rib(), Random::new(11));
    let stations: Vec<f64> = (0..20).map(|s| 120.0 * f64::from(s)).collect();
    let raw = TrueSheet::nominal(&nominal, 0, 40.0, 25, &stations).read("S", [14.0, 0.3], 1, &mut random);
    let yard = Yard { file: "yard.csv".to_owned(), sheets: vec![raw], ..Yard::default() };
    let error = fit_yard(&yard, &[nominal], &options(&[])).expect_err("refused");
    let text = error.to_string();
    assert!(text.contains("contradict the others") && text.contains("yard.csv: line "), "{text}");
    assert!(text.contains("column") && error.remedy_text().is_some(), "{text}");
}

#[test]
fn lengths_and_widths_that_contradict_the_folds_are_named() {
    let nominal = rib();
    let truth = TrueSheet::nominal(&nominal, 0, 40.0, 12, &[60.0, 1200.0, 2340.0]);
    let said = |lengths: &[(u64, f64)], widths: &[(u64, f64, f64)]| {
        let mut raw = truth.read("S07", [0.5, 0.3], 1, &mut Random::new(3));
        let measured = |line, station, value| Measured { line, station, value };
        raw.lengths = lengths.iter().map(|&(line, value)| measured(line, None, value)).collect();
        raw.widths = widths.iter().map(|&(line, s, value)| measured(line, Some(s), value)).collect();
        let yard = Yard { file: "yard.csv".to_owned(), sheets: vec![raw], ..Yard::default() };
        let sheets = fit_yard(&yard, std::slice::from_ref(&nominal), &options(&[])).expect("fitted");
        let found = sheets[0].findings.iter().filter(|f| f.code == "contradiction");
        found.map(|f| (f.place.clone(), f.message.clone())).collect::<Vec<_>>()
    };
    // The last fold lies 535 mm after the first, which lies 40 from the edge; the next one 70 mm further, a crest.
    let last = truth.across[11][0];
    let at = |line: u64, column: &str| format!("yard.csv: line {line}, column {column}");
    assert_eq!(said(&[(90, 2400.0), (91, 2409.0)], &[(92, 0.0, last + 20.0), (93, 2400.0, last - 8.0)]), []);
    assert_eq!(said(&[(90, 2400.0)], &[(92, 0.0, last + 78.0), (93, 2408.0, last + 78.0)]), []);
    let narrow = said(&[(90, 2400.0)], &[(92, 0.0, last + 20.0), (93, 2400.0, last - 12.0)]);
    assert!(narrow.len() == 1 && narrow[0].0 == at(93, "value"), "{narrow:?}");
    assert!(narrow[0].1.contains("fold 12") && narrow[0].1.contains("10 mm"), "{narrow:?}");
    let wide = said(&[(90, 2400.0)], &[(92, 1200.0, last + 85.0)]);
    assert!(wide.len() == 1 && wide[0].1.contains("the next one would 70 mm further"), "{wide:?}");
    let lengths = said(&[(90, 2400.0), (91, 2412.0)], &[]);
    assert!(lengths.len() == 1 && lengths[0].0 == at(91, "value"), "{lengths:?}");
    let twice = said(&[(90, 2400.0)], &[(92, 0.0, last + 5.0), (93, 0.0, last + 25.0)]);
    assert!(twice.len() == 1 && twice[0].0 == at(93, "value"), "{twice:?}");
    let beyond = said(&[(90, 2400.0)], &[(92, 2500.0, last + 20.0)]);
    assert!(beyond.len() == 1 && beyond[0].0 == at(92, "station"), "{beyond:?}");
}
