//! The gap forecast: against closed forms, against a second way to the same figures, and its promises.

use nalgebra::{Point3, Vector3};
use ribwright_kernel::forecast::{
    Forecast, Nominal, Options, Source, Spot, Stretch, cost, forecast, nominal, total,
};
use ribwright_kernel::profile::Profile;
use ribwright_kernel::sculpture::Sculpture;
use ribwright_kernel::settings::Value;
use ribwright_kernel::stage::run_stages;
use ribwright_kernel::survey::{Laid, SurveyedSheet, Wander};
use ribwright_kernel::work::FaceReport;
use ribwright_kernel::{Registry, Work, work_out};
use ribwright_tests::yard::wandering;
use ribwright_tests::{element, profile, references};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Large enough for every reference body.
const SIZE: [f64; 2] = [16_000.0, 16_000.0];
const STATIONS: [f64; 4] = [100.0, 4000.0, 9000.0, 15_900.0];

/// No error of work or survey.
const EXACT: Options = Options {
    draws: 64,
    seed: 1,
    step: 20.0,
    cut: 0.0,
    cut_step: 50.0,
    placing: 0.0,
    survey: 0.0,
    sheet: 1.0,
    gap: 2.0,
    density: 7850.0,
    efficiency: 0.96,
    fill_hours: 2.8,
    grind_hours: 0.5,
};

fn solved(sculpture: &Sculpture) -> Work {
    work_out(sculpture, &Registry::standard()).unwrap_or_else(|e| panic!("{e}"))
}

fn flat_of(work: &Work) -> Work {
    nominal(work, &Registry::standard()).unwrap_or_else(|e| panic!("{e}"))
}

fn forecast_of(work: &Work, drawn: &Work, options: &Options) -> Forecast {
    forecast(work, drawn, options).unwrap_or_else(|e| panic!("{e}"))
}

fn rib(radius: f64) -> Arc<Profile> {
    let sizes = [
        ("pitch", 200.0),
        ("depth", 40.0),
        ("crest", 70.0),
        ("valley", 60.0),
        ("thickness", 2.0),
        ("bend_radius", radius),
    ];
    profile("trapezoid", &sizes).unwrap_or_else(|e| panic!("{e}"))
}

/// Every reference body, each face on a sheet of its own that wanders.
fn wandering_works(joint: &str) -> impl Iterator<Item = (String, Work)> {
    references().into_iter().enumerate().map(move |(i, (name, body))| {
        let rib = rib(0.0);
        let mut sculpture = body.case.clad_in(&rib, joint).unwrap_or_else(|e| panic!("{e}"));
        let mut seed = 100 * i as u64;
        for cladding in sculpture.elements.iter_mut().flat_map(|e| &mut e.cladding) {
            seed += 1;
            let sheet = Arc::new(wandering(&rib, seed, SIZE, 300.0, &STATIONS));
            cladding.sheet =
                Some(Laid { sheet, at: [8000.0, 8000.0], turned: seed.is_multiple_of(3), over: false });
        }
        (name, solved(&sculpture))
    })
}

fn stretches(of: &Forecast, way: usize) -> impl Iterator<Item = (&str, &Stretch)> {
    of.seams.iter().flat_map(move |s| {
        s.ways[way].iter().flat_map(|w| &w.stretches).map(|stretch| (s.id.as_str(), stretch))
    })
}

fn spots(of: &Forecast, way: usize) -> impl Iterator<Item = (&str, &Stretch, &Spot)> {
    stretches(of, way).flat_map(|(id, stretch)| stretch.spots.iter().map(move |spot| (id, stretch, spot)))
}

/// What templates made for the sheets may leave open when nothing goes wrong, mm.
const CLOSED: f64 = 0.02;

#[test]
fn templates_of_the_surveyed_sheets_leave_no_gap_without_errors() {
    for joint in ["true", "auto"] {
        for (name, work) in wandering_works(joint) {
            let of = forecast_of(&work, &flat_of(&work), &EXACT);
            let mut seen = 0;
            for (id, _, spot) in spots(&of, 1) {
                assert!(spot.base < CLOSED, "{name}, {joint}: {id}: {} mm", spot.base);
                assert_eq!(spot.gap.mean, spot.base, "{name}: {id}: nothing was drawn");
                seen += 1;
            }
            assert!(seen > 50, "{name}, {joint}: only {seen} places");
            assert!(of.together[0] > 10.0 * CLOSED, "{name}: nominal templates leave {} mm", of.together[0]);
            assert!(of.totals.filler_saved.mean > 0.0, "{name}: {:?}", of.totals.filler_saved);
        }
    }
}

/// Where the sheet of a face lies over a plan position, through [`Wander::moved`]: the place of the nominal sheet
/// that was moved there is sought by halving.
fn real_height(face: &FaceReport, wander: &Wander, s: f64, t: f64) -> f64 {
    let across = |q: f64| q + wander.moved(s, q)[0];
    let (mut low, mut high) = (t - 150.0, t + 150.0);
    for _ in 0..80 {
        let middle = f64::midpoint(low, high);
        if across(middle) < t { low = middle } else { high = middle }
    }
    face.profile.height(low) + wander.moved(s, low)[1]
}

/// Rounding of heights, mm: halving ends some nanometres off, which webs do not magnify much.
const SAME_HEIGHT: f64 = 1.0e-6;

#[test]
fn gaps_of_nominal_templates_are_those_of_edges_put_on_the_real_sheets() {
    for joint in ["true", "mitre"] {
        for (name, work) in wandering_works(joint) {
            let drawn = flat_of(&work);
            let of = forecast_of(&work, &drawn, &EXACT);
            let mut seen = 0;
            for (id, stretch, spot) in spots(&of, 0) {
                // The point of each sheet's edge in space.
                let put = |face: &String| -> Point3<f64> {
                    let i = work.faces.iter().position(|f| f.id == *face).expect("a face");
                    let (face, f) = (&work.faces[i], &work.faces[i].frame);
                    let r = spot.place - f.origin;
                    let (s, t) = (r.dot(&f.u), r.dot(&f.v));
                    let wander = face.wander.as_ref().expect("surveyed");
                    let height = real_height(face, wander, s, t - face.phase) + face.lift;
                    f.origin + f.u * s + f.v * t + f.n * height
                };
                let ends: Vec<Point3<f64>> = stretch.sides.iter().flatten().map(put).collect();
                // The closure strip's edge is where it was drawn.
                let off = match ends[..] {
                    [a, b] => a - b,
                    [a] => a - spot.place,
                    _ => panic!("{id}: no sheet"),
                };
                let gap = (off - spot.tangent * off.dot(&spot.tangent)).norm();
                assert!((gap - spot.base).abs() < SAME_HEIGHT, "{name}: {id}: {gap} and {}", spot.base);
                seen += 1;
            }
            assert!(seen > 50, "{name}: only {seen} places");
        }
    }
}

/// A box clad in true sheets, crests upright and on its corners, where their crests meet at a right angle.
fn square_box(deviation: [f64; 2]) -> Work {
    let rib = rib(0.0);
    // The crests stand half a depth outside the planes: their middles come to lie on the corner.
    let half = 2.0 * 200.0 - 20.0;
    let mut planes = Vec::new();
    for (label, n) in [
        ("east", [1.0, 0.0, 0.0]),
        ("west", [-1.0, 0.0, 0.0]),
        ("north", [0.0, 1.0, 0.0]),
        ("south", [0.0, -1.0, 0.0]),
    ] {
        planes.push((label.to_owned(), n.map(|x| x * half), n));
    }
    planes.push(("top".to_owned(), [0.0, 0.0, 500.0], [0.0, 0.0, 1.0]));
    planes.push(("bottom".to_owned(), [0.0, 0.0, -500.0], [0.0, 0.0, -1.0]));
    let mut element = element("A", &planes).unwrap_or_else(|e| panic!("{e}"));
    element.clad(&rib);
    let mut sheet = SurveyedSheet::true_to(&rib, "S", [1600.0, 1600.0], 0.0, &[0.0, 800.0, 1600.0]);
    for fold in &mut sheet.folds {
        fold.deviation = vec![deviation; 3];
    }
    let sheet = Arc::new(sheet);
    for cladding in &mut element.cladding {
        cladding.sheet = Some(Laid { sheet: sheet.clone(), at: [800.0, 800.0], turned: false, over: false });
    }
    let mut sculpture = Sculpture::new("box");
    "true".clone_into(&mut sculpture.joint.kind);
    sculpture.add(element).unwrap_or_else(|e| panic!("{e}"));
    solved(&sculpture)
}

/// √(−2 ln 0.05): 95 % of a Rayleigh distribution of σ = 1.
fn rayleigh_95() -> f64 {
    (-2.0 * 0.05_f64.ln()).sqrt()
}

/// Closed form: two edges cut each on its own in sheets at a right angle lie apart by a Rayleigh distributed gap.
#[test]
fn a_straight_seam_with_cutting_errors_has_the_gaps_of_the_closed_form() {
    let work = square_box([0.0; 2]);
    let options = Options { cut: 0.7, draws: 20_000, ..EXACT };
    let of = forecast_of(&work, &flat_of(&work), &options);
    let seam = of.seams.iter().find(|s| s.id == "A/east~A/north").expect("the upright corner");
    let drawn = seam.ways[1].as_ref().expect("solved");
    assert!((drawn.length - 1000.0).abs() < 100.0, "{}", drawn.length);
    let mean = 0.7 * (std::f64::consts::PI / 2.0).sqrt();
    // Every fifth place: neighbours share knots.
    for spot in drawn.stretches.iter().flat_map(|s| &s.spots).step_by(5) {
        let e = &spot.gap;
        assert!((e.mean - mean).abs() < 3.0 * e.mean_error, "{e:?}");
        assert!((e.high - 0.7 * rayleigh_95()).abs() < 3.0 * e.high_error, "{e:?}");
    }
    assert!((drawn.alone[Source::Cut as usize] - 0.7 * 2.0_f64.sqrt()).abs() < 1e-9, "{:?}", drawn.alone);
    let volume = 2.0 * 7850.0e-9 / 0.96;
    assert!((drawn.void.mean - drawn.length * mean).abs() < 3.0 * drawn.void.mean_error, "{:?}", drawn.void);
    assert!((drawn.filler.mean - drawn.void.mean * volume).abs() < 1e-12, "{:?}", drawn.filler);
}

/// Closed form: at a station and on the middle of a crest, height is the mean of its two corners', so that two
/// sheets of height deviation σ at a right angle lie apart by a Rayleigh distributed gap of σ/√2 each.
#[test]
fn readings_of_the_survey_have_the_gaps_of_the_closed_form() {
    let work = square_box([5.0, 0.6]);
    let options = Options { survey: 1.0, draws: 20_000, ..EXACT };
    let of = forecast_of(&work, &flat_of(&work), &options);
    let seam = of.seams.iter().find(|s| s.id == "A/east~A/north").expect("the upright corner");
    let spots = &seam.ways[1].as_ref().expect("solved").stretches[0].spots;
    // z = 0 is the sheet's middle station; the crest is level, so that readings across do not enter.
    let spot = spots.iter().min_by(|a, b| a.place.z.abs().total_cmp(&b.place.z.abs())).expect("a place");
    let along = 1.0 - spot.place.z.abs() / 800.0;
    let sigma = 0.6 * 0.5_f64.sqrt() * along.hypot(1.0 - along);
    let e = &spot.gap;
    let mean = sigma * (std::f64::consts::PI / 2.0).sqrt();
    assert!((e.mean - mean).abs() < 3.0 * e.mean_error, "{mean}: {e:?}");
    assert!((e.high - sigma * rayleigh_95()).abs() < 3.0 * e.high_error, "{e:?}");
}

/// Closed form: E|Δ|² is the sum of the squares of all terms, so the drawn root mean square must match it.
#[test]
fn each_source_alone_leaves_what_is_said_and_nothing_when_set_to_zero() {
    let (_, work) = wandering_works("auto").next().expect("a reference body");
    let drawn = flat_of(&work);
    let none = Options { sheet: 0.0, ..EXACT };
    let of = forecast_of(&work, &drawn, &none);
    assert_eq!(of.alone[0], [0.0; 4], "nominal templates on sheets taken as true, without errors");
    assert_eq!(of.totals.void[0].high, 0.0);
    let sources = [
        (Source::Survey, Options { survey: 1.0, ..none }),
        (Source::Cut, Options { cut: 0.5, ..none }),
        (Source::Placing, Options { placing: 0.5, ..none }),
    ];
    for (source, options) in sources {
        let options = Options { draws: 4000, ..options };
        let of = forecast_of(&work, &drawn, &options);
        for way in [0, 1] {
            for other in [Source::Survey, Source::Cut, Source::Placing] {
                let alone = of.alone[way][other as usize];
                let expected = other == source && !(source == Source::Survey && way == 0);
                assert_eq!(alone > 0.0, expected, "{source:?}, way {way}: {other:?} leaves {alone}");
            }
            // The mean square of a gap is its variance and the square of its mean.
            let n = f64::from(options.draws);
            let (mut sum, mut length) = (0.0, 0.0);
            for (_, stretch) in stretches(&of, way) {
                #[allow(clippy::cast_precision_loss, reason = "few places")]
                let piece = stretch.length / stretch.spots.len() as f64;
                for spot in &stretch.spots {
                    let e = &spot.gap;
                    sum += (e.mean * e.mean + e.mean_error * e.mean_error * (n - 1.0)) * piece;
                    length += piece;
                }
            }
            let rms = (sum / length).sqrt();
            let said = of.together[way];
            assert!((rms - said).abs() <= 0.03 * said + 1e-9, "{source:?}, way {way}: {rms} and {said}");
        }
    }
}

#[test]
fn threads_change_nothing_and_seeds_do() {
    let (_, work) = wandering_works("auto").last().expect("a reference body");
    let drawn = flat_of(&work);
    let options = Options { cut: 0.5, placing: 0.5, survey: 1.0, draws: 500, ..EXACT };
    let with = |threads, options: &Options| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        pool.install(|| forecast_of(&work, &drawn, options))
    };
    let one = with(1, &options);
    assert_eq!(one, with(2, &options));
    assert_eq!(one, with(3, &options));
    let other = with(2, &Options { seed: 2, ..options });
    assert_ne!(one.totals, other.totals, "another seed");
    let (a, b) = (&one.totals.void[1], &other.totals.void[1]);
    let error = a.mean_error.hypot(b.mean_error);
    assert!((a.mean - b.mean).abs() < 4.0 * error, "{a:?} and {b:?}");
}

#[test]
fn the_void_of_an_assignment_is_that_of_the_forecast_and_the_cost_of_a_true_sheet_is_nothing() {
    for (name, work) in wandering_works("true").take(4) {
        let drawn = flat_of(&work);
        let sheets: Vec<Option<Laid>> =
            work.sculpture.elements.iter().flat_map(|e| &e.cladding).map(|c| c.sheet.clone()).collect();
        let of = forecast_of(&work, &drawn, &EXACT);
        let void = total(&drawn, &sheets);
        let off = (void - of.totals.void[0].mean).abs() / void;
        assert!(off < 1e-9, "{name}: {void} and {}", of.totals.void[0].mean);
        let nominal = Nominal::of(&drawn);
        for (f, laid) in sheets.iter().enumerate() {
            let laid = laid.as_ref().expect("all clad");
            let real = cost(&drawn, f, laid);
            assert!(real > 0.0 && real.is_finite(), "{name}: {}", work.faces[f].id);
            assert_eq!(real, nominal.cost(f, laid), "{name}");
            let sheet = SurveyedSheet::true_to(&laid.sheet.nominal, "true", SIZE, 300.0, &STATIONS);
            let laid = Laid { sheet: Arc::new(sheet), at: [8000.0, 8300.0], turned: false, over: false };
            let none = nominal.cost(f, &laid);
            assert!(none < 1e-12 * real, "{name}: {}: {none} of {real}", work.faces[f].id);
        }
        assert_eq!(nominal.total(&vec![None; sheets.len()]), 0.0);
    }
}

#[test]
fn the_stage_says_nothing_of_true_works_and_all_of_surveyed_ones() {
    let registry = Registry::standard();
    let only = ["forecast".to_owned()];
    let (_, mut work) = wandering_works("auto").next().expect("a reference body");
    let output = run_stages(&work, &registry, &only).unwrap_or_else(|e| panic!("{e}"));
    let names: Vec<&str> = output.tables.iter().map(|t| t.name.as_str()).collect();
    assert_eq!(names, ["forecast", "forecast_totals", "forecast_sources", "forecast_basis"]);
    for table in &output.tables {
        assert!(!table.rows.is_empty(), "{}", table.name);
        assert!(table.rows.iter().all(|r| r.len() == table.columns.len()), "{}", table.name);
    }
    assert_eq!(output.drawings.len(), output.tables[0].rows.len() / 2 + 1, "one per seam, and all of them");
    for drawing in &output.drawings {
        drawing.validate().unwrap_or_else(|e| panic!("{e}"));
    }
    let off = BTreeMap::from([("draws".to_owned(), Value::Number(0.0))]);
    work.sculpture.stages.insert("forecast".to_owned(), off);
    let none = run_stages(&work, &registry, &only).unwrap_or_else(|e| panic!("{e}"));
    assert!(none.tables.is_empty() && none.drawings.is_empty(), "switched off");
    let plain = flat_of(&work);
    let none = run_stages(&plain, &registry, &only).unwrap_or_else(|e| panic!("{e}"));
    assert!(none.tables.is_empty() && none.drawings.is_empty() && none.findings.is_empty(), "true sheets");
}

/// A strip too small to be a part lends its place to no other part of the seam: no lever is longer than 1.25 times
/// half a part's diagonal and 3 mm, so that two sides of at least 3 mm leave at most σ √(2 (2 + 2 × 2.25²)) = 4.9 σ.
#[test]
fn no_part_is_turned_about_a_middle_far_away() {
    for (name, work) in wandering_works("mitre") {
        let of = forecast_of(&work, &flat_of(&work), &Options { placing: 0.5, sheet: 0.0, ..EXACT });
        for seam in &of.seams {
            for way in seam.ways.iter().flatten() {
                let alone = way.alone[Source::Placing as usize];
                assert!(alone < 4.9 * 0.5, "{name}: {}: {alone} mm", seam.id);
            }
        }
    }
}

/// A part that is shifted by σ along three axes and turned by σ / r about them is off by σ² (3 + 2 |x|²/r²) in the
/// mean square; square to a seam with direction τ by σ² (2 + (|x|² + (x·τ)²)/r²).
#[test]
fn placing_is_that_of_rigid_bodies() {
    let work = square_box([0.0; 2]);
    let options = Options { placing: 0.5, ..EXACT };
    let of = forecast_of(&work, &flat_of(&work), &options);
    let seam = of.seams.iter().find(|s| s.id == "A/east~A/north").expect("the upright corner");
    let way = seam.ways[1].as_ref().expect("solved");
    let mut sum = 0.0;
    let stretch = &way.stretches[0];
    for face in ["A/east", "A/north"] {
        let part = work.parts.iter().find(|p| p.face == face).expect("a part");
        let all = || part.outlines.iter().flatten();
        let [low, high] = [0, 1].map(|k| {
            [0, 1].map(|i| {
                let sign = if k == 0 { 1.0 } else { -1.0 };
                sign * all().map(|p| sign * p[i]).fold(f64::INFINITY, f64::min)
            })
        });
        let f = &part.frame;
        let middle = f.origin + f.u * ((low[0] + high[0]) / 2.0) + f.v * ((low[1] + high[1]) / 2.0);
        let radius = (high[0] - low[0]).hypot(high[1] - low[1]) / 2.0;
        for spot in &stretch.spots {
            let x: Vector3<f64> = spot.place - middle;
            let along = x.dot(&spot.tangent);
            sum += 0.25 * (2.0 + (x.norm_squared() + along * along) / (radius * radius));
        }
    }
    #[allow(clippy::cast_precision_loss, reason = "few places")]
    let rms = (sum / stretch.spots.len() as f64).sqrt();
    let said = way.alone[Source::Placing as usize];
    assert!((rms - said).abs() < 1e-9 * rms, "{rms} and {said}");
}
