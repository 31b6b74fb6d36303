//! Spines through clad stacks: clearance against points spread over the finished sheets, closed forms, and what is said
//! where there is no way.

use nalgebra::{Isometry3, Point3, Translation3, UnitQuaternion, Vector3};
use rayon::prelude::*;
use ribwright_kernel::element::frustum;
use ribwright_kernel::part::Part;
use ribwright_kernel::profile::Profile;
use ribwright_kernel::sculpture::{Datum, Element, Sculpture, Stacking};
use ribwright_kernel::settings::{Value, Values};
use ribwright_kernel::spine::Built;
use ribwright_kernel::table::{Cell, Table};
use ribwright_kernel::{Finding, Level, Output, Registry, Work, run_stages, work_out};
use ribwright_tests::Random;
use ribwright_tests::case::profile;
use ribwright_tests::standing::{block, flat, found, stages, table, worked};
use std::collections::BTreeMap;
use std::f64::consts::TAU;
use std::sync::Arc;

type P = Point3<f64>;
type V = Vector3<f64>;

fn rib() -> Arc<Profile> {
    bent(6.0)
}

fn bent(radius: f64) -> Arc<Profile> {
    let rows = [
        ("pitch", 200.0),
        ("depth", 40.0),
        ("crest", 70.0),
        ("valley", 70.0),
        ("thickness", 2.0),
        ("bend_radius", radius),
    ];
    profile("trapezoid", &rows).expect("a profile")
}

fn numbers(list: &[f64]) -> Value {
    Value::List(list.iter().map(|x| Value::Number(*x)).collect())
}

fn cone(name: &str, rows: &[(&str, f64)], sheet: &Arc<Profile>) -> Element {
    let map = rows.iter().map(|(k, v)| ((*k).to_owned(), Value::Number(*v))).collect();
    let values = Values::check("frustum", frustum::ROW.settings, &map).expect("settings");
    let mut element = Element::new((frustum::ROW.build)(name, &values).expect("a frustum"));
    element.clad(sheet);
    element
}

fn ask(s: &mut Sculpture, settings: &[(&str, Value)]) {
    let all = s.stages.entry("spine".to_owned()).or_default();
    all.extend(settings.iter().map(|(k, v)| ((*k).to_owned(), v.clone())));
}

fn text(word: &str) -> Value {
    Value::Text(word.to_owned())
}

fn spine_of(s: &Sculpture) -> (Work, Output) {
    let work = worked(s);
    let output = stages(&work, &["spine"]);
    (work, output)
}

fn column(table: &Table, name: &str) -> Vec<f64> {
    let k = table.columns.iter().position(|c| c.name == name).unwrap_or_else(|| panic!("no column {name}"));
    let of = |cell: &Cell| if let Cell::Number(x, _) = cell { *x } else { f64::NAN };
    table.rows.iter().map(|row| of(&row[k])).collect()
}

/// Two to four leaning elements in real sheet, with what is asked of the spine: radius and gap.
fn stack(seed: u64) -> (Sculpture, f64, f64) {
    let mut r = Random::new(seed);
    // Sharp folds are quicker; a quarter of the stacks have round ones.
    let sheet = bent(if seed.is_multiple_of(4) { 6.0 } else { 0.0 });
    let mut s = Sculpture::new(&format!("stack {seed}"));
    s.joint.kind = "true".to_owned();
    let count = r.one(&[2, 3, 3, 4, 4]);
    let mut width = r.between(650.0, 1100.0);
    for k in 0..count {
        let name = ["A", "B", "C", "D"][k];
        let top = width * r.between(0.65, 1.0);
        let rows = [
            ("sides", r.one(&[4.0, 5.0, 6.0])),
            ("base", width),
            ("top", top),
            ("height", r.between(700.0, 1800.0)),
            ("lean", r.between(4.0, 16.0)),
            ("toward", r.between(0.0, 360.0)),
        ];
        let mut element = cone(name, &rows, &sheet);
        for cladding in &mut element.cladding {
            cladding.phase = r.between(-100.0, 100.0);
            cladding.datum =
                r.one(&[Datum::Middle, Datum::Middle, Datum::Middle, Datum::Crest, Datum::Valley]);
        }
        // Told, so that level ones turn with the work.
        for label in ["top", "bottom"] {
            element.face_mut(label).expect("a face").along = Some(V::x());
        }
        if k == 0 {
            if r.percent(50) {
                element.face_mut("bottom").expect("a foot").open = Some(0.0);
            }
            s.stand(element).expect("stands");
        } else {
            let how = Stacking {
                sink: r.between(90.0, 180.0),
                shift: [r.between(-0.25, 0.25) * width, r.between(-0.25, 0.25) * width],
                turn: r.between(0.0, 60.0),
                tip: r.between(0.0, 10.0),
                toward: r.between(0.0, 360.0),
                open: !r.percent(10),
                ..Stacking::on(&format!("{}/top", ["A", "B", "C"][k - 1]))
            };
            s.stack(element, &how).expect("stacks");
        }
        width = top * r.between(0.75, 1.2);
    }
    let (outside, gap) = (r.one(&[76.1, 114.3, 168.3, 219.1]), r.between(5.0, 40.0));
    ask(
        &mut s,
        &[
            ("tube", Value::Text(format!("{outside}x5"))),
            ("gap", Value::Number(gap)),
            ("most_legs", Value::Number(5.0)),
        ],
    );
    (s, outside / 2.0, gap)
}

/// A point of a part's steel by where it lies on the part.
struct Sample<'a> {
    part: &'a Part,
    at: [f64; 2],
    offset: f64,
}

fn inside(part: &Part, at: [f64; 2]) -> bool {
    part.outlines.iter().fold(false, |inside, ring| {
        (0..ring.len()).fold(inside, |inside, i| {
            let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
            let crosses = (a[1] <= at[1]) != (b[1] <= at[1]);
            inside ^ (crosses && at[0] < a[0] + (b[0] - a[0]) * (at[1] - a[1]) / (b[1] - a[1]))
        })
    })
}

fn skins(part: &Part) -> [f64; 2] {
    match part.kind {
        ribwright_kernel::part::PartKind::Sheet { .. } => [-part.thickness() / 2.0, part.thickness() / 2.0],
        ribwright_kernel::part::PartKind::Closure { thickness } => [-thickness, 0.0],
    }
}

/// Points over a part's two skins and along its cut edges.
fn samples(part: &Part, step: f64) -> Vec<Sample<'_>> {
    let mut all = Vec::new();
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for p in part.outlines.iter().flatten() {
        for i in 0..2 {
            (low[i], high[i]) = (low[i].min(p[i]), high[i].max(p[i]));
        }
    }
    let mut add = |at: [f64; 2]| all.extend(skins(part).map(|offset| Sample { part, at, offset }));
    for ring in &part.outlines {
        for (i, a) in ring.iter().enumerate() {
            let b = ring[(i + 1) % ring.len()];
            let count = ((b[0] - a[0]).hypot(b[1] - a[1]) / step).ceil().max(1.0);
            for k in 0..count as u32 {
                let share = f64::from(k) / count;
                add([a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share]);
            }
        }
    }
    let mut t = low[1] + step / 2.0;
    while t < high[1] {
        let mut s = low[0] + step / 2.0;
        while s < high[0] {
            if inside(part, [s, t]) {
                add([s, t]);
            }
            s += step;
        }
        t += step;
    }
    all
}

/// The tube as the axis with its radius, and points on it where the mitres stick out beyond round ends.
struct Solid {
    points: Vec<P>,
    radius: f64,
    tips: Vec<P>,
}

impl Solid {
    fn new(points: &[P], radius: f64) -> Self {
        let mut tips = Vec::new();
        for w in points.windows(3) {
            let (d, e) = ((w[1] - w[0]).normalize(), (w[2] - w[1]).normalize());
            let plane = d + e;
            for way in [d, e] {
                let u = way.cross(&if way.x.abs() < 0.5 { V::x() } else { V::y() }).normalize();
                let v = way.cross(&u);
                for k in 0..96 {
                    let (sin, cos) = (TAU * f64::from(k) / 96.0).sin_cos();
                    let out = (u * cos + v * sin) * radius;
                    let along = -out.dot(&plane) / way.dot(&plane);
                    tips.extend([0.5, 0.75, 1.0].map(|share| w[1] + out + way * (along * share)));
                }
            }
        }
        Self { points: points.to_vec(), radius, tips }
    }

    fn distance(&self, q: &P) -> f64 {
        let to_axis = self.points.windows(2).map(|w| {
            let d = w[1] - w[0];
            let share = ((q - w[0]).dot(&d) / d.norm_squared()).clamp(0.0, 1.0);
            (q - (w[0] + d * share)).norm()
        });
        let tube = to_axis.fold(f64::INFINITY, f64::min) - self.radius;
        // Tips reach no further than this beyond the round ends.
        if tube > self.radius { tube } else { self.tips.iter().map(|t| (q - t).norm()).fold(tube, f64::min) }
    }
}

/// Faces with sheet in them that the spine passes by holes: the clad foot and faces kept whole.
fn cut_faces(work: &Work) -> Vec<String> {
    let foot = (0..work.sculpture.elements[0].solid.faces.len())
        .find(|&f| work.sculpture.elements[0].solid.faces[f].label == "bottom")
        .expect("a foot");
    work.sculpture.kept_whole.iter().cloned().chain([work.faces[foot].id.clone()]).collect()
}

/// Least distance between the tube and all steel: coarse everywhere, then fine about the nearest places.
fn sampled_clearance(work: &Work, built: &Built) -> (f64, usize) {
    const COARSE: f64 = 16.0;
    const FINE: f64 = 0.5;
    let tube = Solid::new(&built.points, built.tube.outside() / 2.0);
    let cut = cut_faces(work);
    let mut all: Vec<(f64, Sample)> = work
        .parts
        .iter()
        .filter(|p| !cut.contains(&p.face))
        .flat_map(|p| samples(p, COARSE))
        .map(|s| (tube.distance(&s.part.position(s.at, s.offset)), s))
        .collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let count = all.len();
    let mut best = all.first().map_or(f64::INFINITY, |a| a.0);
    for (_, s) in all.iter().take(6) {
        let reach = (COARSE / FINE) as i32;
        for i in -reach..=reach {
            for k in -reach..=reach {
                let at = [s.at[0] + f64::from(i) * FINE, s.at[1] + f64::from(k) * FINE];
                if inside(s.part, at) {
                    best = best.min(tube.distance(&s.part.position(at, s.offset)));
                }
            }
        }
    }
    (best, count)
}

/// Whether a point lies within an element, from the heights of its profiles alone; some faces do not count.
fn within(work: &Work, element: usize, p: &P, without: &[String]) -> bool {
    work.faces.iter().filter(|f| f.element == element && !without.contains(&f.id)).all(|f| {
        let d = (p - f.frame.origin).dot(&f.frame.n);
        let t = (p - f.frame.origin).dot(&f.frame.v) - f.phase;
        d < f.profile.on_skin(t, 0.0)[1] + f.lift
    })
}

#[test]
fn three_hundred_clad_stacks_get_spines_that_keep_their_gap_or_a_reason() {
    struct Case {
        legs: usize,
        apart: f64,
        proven: bool,
        points: usize,
    }
    let cases: Vec<Case> = (0..300_u64)
        .into_par_iter()
        .filter_map(|seed| {
            let (s, radius, gap) = stack(seed);
            let work = work_out(&s, &Registry::standard()).ok()?;
            let output = stages(&work, &["spine"]);
            let needed = radius + gap;
            let Some(built) = &output.spine else {
                let errors: Vec<&Finding> =
                    output.findings.iter().filter(|f| f.level == Level::Error).collect();
                assert_eq!(errors.len(), 1, "stack {seed}: {errors:?}");
                let f = errors[0];
                let (message, place) = (f.message.as_str(), f.place.as_str());
                if f.code == "spine-blocked" {
                    assert!(message.contains(&format!("{needed:.1} mm about its axis")), "{message}");
                    assert!(message.contains("mm are lacking"), "{message}");
                    let joint = place.contains(" | ") && message.contains("/top");
                    let end = message.contains("to its end") || message.contains("to start");
                    assert!(joint || end, "stack {seed}: {place}: {message}");
                } else {
                    assert!(["spine-way", "spine-leg"].contains(&f.code.as_str()), "stack {seed}: {f:?}");
                }
                let proven = message.contains("(proven)");
                return Some(Case { legs: 0, apart: 0.0, proven, points: 0 });
            };
            // A second method: points all over the steel, and the solid tube.
            let (sampled, points) = sampled_clearance(&work, built);
            assert!(sampled >= gap - 1e-6, "stack {seed}: {sampled} mm where {gap} mm are asked for");
            assert!(
                built.clearance <= sampled + 1e-6,
                "stack {seed}: {} mm reported, {sampled} mm sampled",
                built.clearance
            );
            // It stays inside: every place of the axis lies in an element.
            let without = cut_faces(&work);
            for w in built.points.windows(2) {
                for k in 0..=40 {
                    let p = w[0] + (w[1] - w[0]) * (f64::from(k) / 40.0);
                    let somewhere = (0..s.elements.len()).any(|e| within(&work, e, &p, &without));
                    assert!(somewhere, "stack {seed}: {p} is outside");
                }
            }
            assert_eq!(built.crossings.len(), s.elements.len() - 1, "stack {seed}");
            // Masses and lengths hang together.
            let legs = table(&output, "spine");
            let centre: f64 = column(legs, "centre line mm").iter().sum();
            assert!((centre - built.length()).abs() < 0.06 * legs.rows.len() as f64, "{centre}");
            let mass = built.tube.mass_per_metre(built.material.density) * built.length() / 1000.0;
            assert!((output.mass.total().mass - mass).abs() < 1e-9 * mass);
            Some(Case { legs: legs.rows.len(), apart: sampled - built.clearance, proven: false, points })
        })
        .collect();
    let fitted: Vec<&Case> = cases.iter().filter(|c| c.legs > 0).collect();
    let blocked = cases.len() - fitted.len();
    let proven = cases.iter().filter(|c| c.proven).count();
    let close = fitted.iter().filter(|c| c.apart < 0.5).count();
    let most = fitted.iter().map(|c| c.apart).fold(0.0, f64::max);
    let points: usize = fitted.iter().map(|c| c.points).sum();
    println!(
        "{} stacks: {} with a spine ({:?} legs), {blocked} without ({proven} proven); {points} points; reported within \
         0.5 mm of the sampled gap in {close}, at most {most:.2} mm below",
        cases.len(),
        fitted.len(),
        [1, 2, 3, 4, 5].map(|n| fitted.iter().filter(|c| c.legs == n).count())
    );
    assert!(cases.len() > 290, "{} stacks could be worked out", cases.len());
    assert!(fitted.len() > 150 && blocked > 20, "too easy or too hard: {} of {}", fitted.len(), cases.len());
    assert!(close * 10 > fitted.len() * 9, "{close} of {}", fitted.len());
}

#[test]
fn a_straight_stack_has_one_upright_leg() {
    let sheet = rib();
    let mut s = Sculpture::new("straight");
    s.joint.kind = "true".to_owned();
    s.stand(block("A", [900.0, 900.0, 1000.0], &sheet)).expect("stands");
    let mut b = block("B", [700.0, 700.0, 800.0], &sheet);
    // A valley in the middle of every side.
    b.cladding.iter_mut().for_each(|c| c.phase = 100.0);
    s.stack(b, &Stacking { sink: 60.0, ..Stacking::on("A/top") }).expect("stacks");
    ask(
        &mut s,
        &[("tube", text("168.3x6.3")), ("start", numbers(&[0.0, 0.0])), ("end_at", numbers(&[0.0, 0.0]))],
    );
    let (_, output) = spine_of(&s);
    let built = output.spine.as_ref().expect("a spine");
    assert_eq!(built.points.len(), 2);
    assert_eq!(built.points[0], P::origin());
    // Under the top: its sheet's inside at 20 + 1 mm, then gap, radius and room.
    let high = 1000.0 - 60.0 + 800.0 - 21.0 - 20.0 - 84.15 - 50.0;
    assert!((built.points[1] - P::new(0.0, 0.0, high)).norm() < 1e-9, "{}", built.points[1]);
    // Square at both ends, no wrap-round template; foot only. 350 less depth and thickness to the sheet of B.
    let names: Vec<&str> = output.papers.iter().map(|p| p.stem.as_str()).collect();
    assert_eq!(names, ["spine_foot", "spine_hole_A_bottom"]);
    // Area × length × density: 32.063 cm² of EN 10210-2's table.
    let mass = output.mass.total().mass;
    assert!((mass / (32.063 * 100.0 * high * 7.85e-6) - 1.0).abs() < 1e-4, "{mass}");
    ask(&mut s, &[("end_height", Value::Number(1300.0))]);
    let (_, output) = spine_of(&s);
    let built = output.spine.as_ref().expect("a spine");
    assert!((built.clearance - (350.0 - 21.0 - 84.15)).abs() < 1e-6, "{}", built.clearance);
}

/// Round the edge between two boxes: a tangent from the start to the circle of radius and gap about the edge, another from
/// it to the end; the turn is the angle between them (plane geometry).
#[test]
fn the_turn_round_an_edge_is_the_angle_between_two_tangents() {
    let sheet = flat(1.0);
    let mut s = Sculpture::new("edge");
    s.joint.kind = "true".to_owned();
    s.stand(block("A", [3000.0, 1200.0, 1000.0], &sheet)).expect("stands");
    let how = Stacking { sink: 0.5, shift: [900.0, 0.0], ..Stacking::on("A/top") };
    s.stack(block("B", [1000.0, 1000.0, 1500.0], &sheet), &how).expect("stacks");
    // B's west side stands at x = 400. Start under x = −300, end at 2000 mm over x = 600.
    let (outside, gap) = (101.6, 20.0);
    ask(
        &mut s,
        &[
            ("tube", text("101.6x4")),
            ("gap", Value::Number(gap)),
            ("slack", Value::Number(0.0)),
            ("weld_room", Value::Number(0.0)),
            ("start", numbers(&[-300.0, 0.0])),
            ("end_height", Value::Number(2000.0)),
            ("end_at", numbers(&[600.0, 0.0])),
        ],
    );
    let (_, output) = spine_of(&s);
    let built = output.spine.as_ref().expect("a spine");
    assert_eq!(built.points.len(), 3, "two legs");
    let clear = outside / 2.0 + gap;
    // Angles from the vertical, the corner of the steel half a millimetre inside both planes.
    let corner = [400.5, 999.5];
    let to = |from: [f64; 2]| {
        let (dx, dz) = ((corner[0] - from[0]).abs(), (corner[1] - from[1]).abs());
        (dx.atan2(dz), (clear / dx.hypot(dz)).asin())
    };
    let (lower, first) = to([-300.0, 0.0]);
    let (upper, second) = to([600.0, 2000.0]);
    // The lower leg leans right by `lower` and more; the upper one by `upper` less its tangent.
    let wanted = (lower + first) - (upper - second);
    let turn = (built.points[1] - built.points[0]).angle(&(built.points[2] - built.points[1]));
    assert!(
        turn > wanted - 2e-3 && turn < wanted * 1.02,
        "{} for {}",
        turn.to_degrees(),
        wanted.to_degrees()
    );
    let cut = column(table(&output, "spine"), "upper cut degrees")[0];
    assert!((cut - turn.to_degrees() / 2.0).abs() < 0.006, "{cut}");
}

/// Legs of the same work elsewhere differ by less than this, mm.
const SAME: f64 = 1.0e-3;

#[test]
fn far_away_turned_and_again_the_legs_are_the_same() {
    let (mut compared, mut most) = (0, [0.0_f64; 2]);
    for seed in 0..16 {
        let (s, ..) = stack(seed);
        let (_, output) = spine_of(&s);
        let Some(here) = &output.spine else { continue };
        let lengths = |b: &Built| b.points.windows(2).map(|w| (w[1] - w[0]).norm()).collect::<Vec<_>>();
        assert_eq!(Some(here), spine_of(&s).1.spine.as_ref(), "stack {seed} again");
        for (angle, far) in [(0.0, [1.0e7, -4.0e6]), (0.7, [0.0, 0.0]), (-2.3, [1.0e7, 2.0e6])] {
            let by = Isometry3::from_parts(
                Translation3::new(far[0], far[1], 0.0),
                UnitQuaternion::from_axis_angle(&V::z_axis(), angle),
            );
            let mut moved = s.clone();
            for e in &mut moved.elements {
                e.transform(&by);
            }
            for rest in &mut moved.rests {
                (rest.foot, rest.normal) = (by * rest.foot, by * rest.normal);
            }
            let there = spine_of(&moved).1.spine.unwrap_or_else(|| panic!("stack {seed} moved: none"));
            let (a, b) = (lengths(here), lengths(&there));
            assert_eq!(a.len(), b.len(), "stack {seed}");
            let longer = a.iter().zip(&b).map(|(x, y)| (x - y).abs()).fold(0.0, f64::max);
            let clearer = (here.clearance - there.clearance).abs();
            println!("stack {seed}, {} legs: lengths {longer:.6}, clearance {clearer:.6}", a.len());
            most = [most[0].max(longer), most[1].max(clearer)];
        }
        compared += 1;
    }
    println!("{compared} stacks, lengths within {:.4} mm, clearance within {:.4} mm", most[0], most[1]);

    assert!(compared > 10 && most[0] < SAME && most[1] < SAME, "{compared} {most:?}");
}

fn places(list: &[[f64; 3]]) -> Value {
    Value::List(list.iter().map(|p| numbers(p)).collect())
}

/// Two boxes of flat sheet, 2 mm, the upper one kept apart if asked.
fn boxes(open: bool) -> Sculpture {
    let sheet = flat(2.0);
    let mut s = Sculpture::new("boxes");
    let mut a = block("A", [900.0, 900.0, 1000.0], &sheet);
    a.face_mut("bottom").expect("a foot").open = Some(0.0);
    s.stand(a).expect("stands");
    let how = Stacking { sink: 10.0, open, ..Stacking::on("A/top") };
    s.stack(block("B", [600.0, 600.0, 800.0], &sheet), &how).expect("stacks");
    s
}

#[test]
fn a_given_axis_that_touches_names_the_sheet_and_how_deep() {
    let given = |points: &[[f64; 3]]| {
        let mut s = boxes(true);
        ask(&mut s, &[("tube", text("120x5")), ("points", places(points))]);
        spine_of(&s).1
    };
    // 60 mm about x = 400: 11 mm into the sheet whose inside lies at 449.
    let output = given(&[[400.0, 0.0, 0.0], [400.0, 0.0, 500.0], [0.0, 0.0, 900.0], [0.0, 0.0, 1500.0]]);
    let touch = found(&output, "spine-touches").expect("touches");
    assert_eq!((touch.level, touch.place.as_str()), (Level::Error, "A/east"));
    assert!(touch.message.contains("reaches 11.0 mm into this sheet"), "{}", touch.message);
    // 375 leaves 14 mm, six less than the gap.
    let output = given(&[[375.0, 0.0, 0.0], [375.0, 0.0, 400.0], [0.0, 0.0, 850.0], [0.0, 0.0, 1500.0]]);
    let near = output.findings.iter().find(|f| f.code == "spine-gap" && f.message.starts_with("leg 1"));
    let near = near.unwrap_or_else(|| panic!("{:?}", output.findings));
    assert!(
        near.message.contains("within 14.0 mm") && near.message.contains("6.0 mm less"),
        "{}",
        near.message
    );
    assert_eq!(near.place, "A/east");
    // Through the sheet, past the opening.
    let output = given(&[[0.0, 0.0, 0.0], [600.0, 0.0, 1500.0]]);
    let through = output.findings.iter().any(|f| f.message.contains("goes through this sheet"));
    assert!(through && found(&output, "spine-misses").is_some(), "{:?}", output.findings);
    // A clear one is not scolded.
    let output = given(&[[0.0, 0.0, 0.0], [0.0, 0.0, 1400.0]]);
    assert!(output.findings.iter().all(|f| f.level == Level::Note), "{:?}", output.findings);
    assert!((output.spine.expect("a spine").clearance - (299.0 - 60.0)).abs() < 1e-6);
}

#[test]
fn a_face_kept_whole_gets_a_hole_with_the_axes_of_its_slanting_leg() {
    let mut s = boxes(false);
    // 300 mm aside on 1500 mm: passes A/top, at 1000 mm, 200 mm aside.
    ask(&mut s, &[("tube", text("101.6x4")), ("points", places(&[[0.0, 0.0, 0.0], [150.0, 0.0, 1500.0]]))]);
    let (work, output) = spine_of(&s);
    let hole = found(&output, "spine-hole").expect("a hole");
    assert_eq!(hole.place, "A/top");
    let holes = table(&output, "spine_holes");
    let tilt = (150.0_f64 / 1500.0).atan();
    let radius = 101.6 / 2.0 + 20.0;
    let shift = 2.0 * tilt.tan();
    assert!((column(holes, "length mm")[0] - (2.0 * radius / tilt.cos() + shift)).abs() < 1e-9);
    assert!((column(holes, "width mm")[0] - 2.0 * radius).abs() < 1e-9);
    // The face's origin is its middle; ribs along x or y.
    let top = work.faces.iter().find(|f| f.id == "A/top").expect("a top");
    let at = top.frame.origin
        + top.frame.u * column(holes, "along the ribs mm")[0]
        + top.frame.v * column(holes, "across the ribs mm")[0];
    assert!((at - P::new(100.0, 0.0, 1000.0)).norm() < 1e-6, "{at}");
    assert!(output.papers.iter().any(|p| p.stem == "spine_hole_A_top"));
    // The sheet that is cut is in nobody's way: the search passes it too.
    let mut s = boxes(false);
    ask(&mut s, &[("tube", text("101.6x4"))]);
    assert!(spine_of(&s).1.spine.is_some());
}

#[test]
fn what_does_not_fit_is_told_with_the_joint_the_amount_and_what_would_fit() {
    // B's foot leaves 300 mm less twice the sheet: 149 mm about the axis.
    let sheet = flat(2.0);
    let mut s = Sculpture::new("narrow");
    s.stand(block("A", [900.0, 900.0, 1000.0], &sheet)).expect("stands");
    let how = Stacking { sink: 10.0, ..Stacking::on("A/top") };
    s.stack(block("B", [300.0, 300.0, 800.0], &sheet), &how).expect("stacks");
    ask(&mut s, &[("tube", text("273x6.3")), ("gap", Value::Number(15.0))]);
    let (_, output) = spine_of(&s);
    let f = found(&output, "spine-blocked").expect("blocked");
    assert_eq!((f.level, f.place.as_str()), (Level::Error, "A | B"));
    assert!(f.message.contains("151.5 mm about its axis are needed"), "{}", f.message);
    assert!(f.message.contains("149.0 mm is all there is (proven); 2.5 mm are lacking"), "{}", f.message);
    // 149 − 15 = 134 mm of radius: 244.5 is the widest of EN 10219-2's list below 268.
    assert!(f.remedy.contains("no wider than 244.5 mm"), "{}", f.remedy);
    // Resting flat rib on rib, the ribs of both stay in the opening.
    let sheet = rib();
    let mut s = Sculpture::new("resting");
    s.stand(block("A", [900.0, 900.0, 1000.0], &sheet)).expect("stands");
    let mut b = block("B", [700.0, 700.0, 800.0], &sheet);
    b.face_mut("bottom").expect("a foot").along = Some(V::y());
    s.stack(b, &Stacking::on("A/top")).expect("stacks");
    ask(&mut s, &[("tube", text("168.3x6.3"))]);
    let (_, output) = spine_of(&s);
    let f = found(&output, "spine-blocked").expect("blocked");
    assert!(f.message.contains("(proven)") && f.remedy.contains("sink the element above deeper"), "{f:?}");
}

#[test]
fn sizes_that_are_none_and_words_that_are_unknown_are_refused() {
    let refused = |settings: &[(&str, Value)], words: &str| {
        let mut s = boxes(true);
        ask(&mut s, settings);
        let only = ["spine".to_owned()];
        let error = run_stages(&worked(&s), &Registry::standard(), &only).expect_err("refused").to_string();
        assert!(error.contains(words), "{error:?} does not say {words:?}");
    };
    refused(&[], "is missing");
    for bad in ["168.3", "168.3x-6.3", "0x0", "168.3x90", "-10x2", "thick", "168.3x6.3x2", "NaNx2"] {
        refused(&[("tube", text(bad))], "spine");
    }
    let tube = || ("tube", text("168.3x6.3"));
    refused(&[tube(), ("gap", Value::Number(-1.0))], "gap");
    refused(&[tube(), ("most_legs", Value::Number(0.0))], "most_legs");
    refused(&[tube(), ("end", text("C"))], "unknown element");
    refused(&[tube(), ("grade", text("S999"))], "grade");
    refused(&[tube(), ("points", places(&[[0.0; 3]]))], "one point is no axis");
    refused(&[tube(), ("points", numbers(&[1.0]))], "points");
    refused(&[tube(), ("bar", Value::Number(0.0))], "bar");
    // The lightest that holds is found from loads, or it is said why there is none.
    let mut s = boxes(true);
    ask(&mut s, &[("tube", text("lightest"))]);
    let output = spine_of(&s).1;
    let said = found(&output, "spine-lightest").expect("a word on it");
    assert_eq!(output.spine.is_some(), said.level == Level::Note, "{said:?}");
    // Without being asked for, nothing runs.
    assert!(spine_of(&boxes(true)).1.spine.is_none());
}

#[test]
fn plates_follow_the_leg_that_passes() {
    let mut s = boxes(true);
    ask(&mut s, &[("tube", text("101.6x4")), ("points", places(&[[0.0, 0.0, 0.0], [150.0, 75.0, 1500.0]]))]);
    let plates = BTreeMap::from([
        ("thickness".to_owned(), Value::Number(6.0)),
        ("hole_clearance".to_owned(), Value::Number(4.0)),
    ]);
    s.stages.insert("plates".to_owned(), plates);
    let work = worked(&s);
    let output = stages(&work, &["spine", "plates"]);
    let run = V::new(150.0, 75.0, 1500.0);
    let slant = run.angle(&V::z());
    let plates = table(&output, "plates");
    for found in column(plates, "slant degrees") {
        assert!((found - slant.to_degrees()).abs() < 1e-9, "{found}");
    }
    let k = plates.columns.iter().position(|c| c.name == "hole mm").expect("a column");
    let radius = 101.6 / 2.0 + 4.0;
    for row in &plates.rows {
        assert_eq!(row[k], Cell::Text(format!("{:.1} × {:.1}", 2.0 * radius / slant.cos(), 2.0 * radius)));
    }
    assert_eq!(plates.rows.len(), 2);
    // A tube of the plates' own comes first, and without either there is no hole.
    s.stages.get_mut("plates").expect("set").insert("tube".to_owned(), Value::Number(60.0));
    let output = stages(&worked(&s), &["spine", "plates"]);
    assert!(column(table(&output, "plates"), "slant degrees").iter().all(|x| *x == 0.0));
    s.stages.get_mut("plates").expect("set").remove("tube");
    let output = stages(&worked(&s), &["plates"]);
    assert!(column(table(&output, "plates"), "slant degrees").iter().all(|x| x.is_nan()));
}
