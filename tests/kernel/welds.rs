//! The weld schedule on real works: bonds against the outlines of their parts, the order of assembly by replay,
//! totals by adding up, and one box worked out by hand.

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use ribwright_kernel::part::{Part, PartKind};
use ribwright_kernel::sculpture::{Joint, Sculpture};
use ribwright_kernel::seam::Side;
use ribwright_kernel::settings::Value;
use ribwright_kernel::table::{Cell, Table};
use ribwright_kernel::weld::assembly::{Order, Task};
use ribwright_kernel::weld::bonds::Bonds;
use ribwright_kernel::{Level, Output, Registry, Work, run_stages, work_out};
use ribwright_tests::case::{element, profile};
use ribwright_tests::works::random_work;
use std::collections::BTreeSet;
use std::sync::OnceLock;

/// Relative agreement of sums in another order.
const EXACT: f64 = 1.0e-9;

/// How many random works are tried.
const SEEDS: u64 = 40;

/// Random works with their seeds, made once for all tests.
fn works() -> &'static [(u64, Work)] {
    static WORKS: OnceLock<Vec<(u64, Work)>> = OnceLock::new();
    WORKS.get_or_init(|| {
        let registry = Registry::standard();
        let built = |seed| Some((seed, work_out(&random_work(seed).ok()?, &registry).ok()?));
        let works: Vec<_> = (0..SEEDS).into_par_iter().filter_map(built).collect();
        assert!(works.len() > 25, "only {} of {SEEDS} works could be built", works.len());
        works
    })
}

#[track_caller]
fn near(what: &str, found: f64, expected: f64) {
    assert!(
        (found - expected).abs() <= EXACT * expected.abs().max(1.0),
        "{what}: {found} instead of {expected}"
    );
}

/// Distance from a point to a part's outline in space, each edge taken straight, mm.
fn distance(part: &Part, at: &Point3<f64>) -> f64 {
    let mut best = f64::INFINITY;
    for outline in &part.outlines {
        for (k, a) in outline.iter().enumerate() {
            let (a, b) = (part.position(*a, 0.0), part.position(outline[(k + 1) % outline.len()], 0.0));
            let d = b - a;
            let share =
                if d.norm() > 0.0 { ((at - a).dot(&d) / d.norm_squared()).clamp(0.0, 1.0) } else { 0.0 };
            best = best.min((at - (a + d * share)).norm());
        }
    }
    best
}

#[test]
fn every_stretch_of_seam_belongs_to_two_parts_beside_it_and_none_is_lost() {
    // Cuts draw a part back from the seam by some thicknesses at most.
    const BACK: f64 = 8.0;
    // Where a stretch belongs is looked up for one segment in so many: the walk along all outlines is slow.
    const SOME: usize = 16;
    let mut several = 0;
    for (seed, work) in works().iter().take(15) {
        let bonds = Bonds::new(work, |_| [false, true, false]);
        let mut seen = BTreeSet::new();
        for (bond, segments) in bonds.bonds.iter().zip(&bonds.segments) {
            let seam = &work.seams[bond.seam];
            let what = format!("work {seed}, {}", seam.id);
            let length: f64 = segments.iter().map(|&k| seam.segments[k].length()).sum();
            near(&what, bond.length, length);
            for (n, &k) in segments.iter().enumerate() {
                assert!(seen.insert((bond.seam, k)), "{what}: segment {k} twice");
                if n % SOME != 0 {
                    continue;
                }
                let segment = &seam.segments[k];
                let middle = nalgebra::center(&segment.ends[0], &segment.ends[1]);
                for (side, &p) in segment.sides.iter().zip(&bond.parts) {
                    let part = &work.parts[p];
                    let strip = matches!(part.kind, PartKind::Closure { .. });
                    let face = match side {
                        Side::Face(f) => &work.faces[*f].id,
                        Side::Closure => &seam.id,
                    };
                    assert_eq!((&part.face, strip), (face, *side == Side::Closure), "{what}");
                    // Nearest in space among the pieces of that face that bear the seam.
                    let all = || work.parts.iter().filter(|r| r.face == *face);
                    let bears = |r: &&Part| r.edges.iter().flatten().any(|e| *e == Some(bond.seam));
                    let mut rivals: Vec<&Part> = all().filter(bears).collect();
                    if rivals.is_empty() {
                        rivals = all().collect();
                    }
                    several += usize::from(rivals.len() > 1);
                    let best = rivals.iter().map(|r| distance(r, &middle)).fold(f64::INFINITY, f64::min);
                    let own = distance(part, &middle);
                    assert!(
                        own <= best + BACK * part.thickness(),
                        "{what}: {own} mm from {}, {best} from another",
                        part.id
                    );
                }
            }
        }
        seen.extend(bonds.loose.iter().copied());
        let all: usize =
            work.seams.iter().map(|s| s.segments.iter().filter(|g| g.length() > 0.0).count()).sum();
        assert_eq!(seen.len(), all, "work {seed}");
    }
    assert!(several > 20, "faces of several parts are among them: {several}");
}

#[test]
fn no_part_closes_an_element_before_the_seams_asked_for_from_inside_are_done() {
    let mut asked = 0;
    for (seed, work) in works() {
        // Every third seam by name; every second work asks for the inside everywhere.
        let by_name = |seam: usize| seam.is_multiple_of(3);
        let bonds = Bonds::new(work, |s| [by_name(s) || seed % 2 == 0, true, by_name(s)]);
        let order = Order::new(&bonds.pieces, &bonds.bonds, 300.0);
        let mut stands = BTreeSet::new();
        let mut inside = BTreeSet::new();
        let mut closed = BTreeSet::new();
        for step in &order.steps {
            match (step.task, step.part) {
                (Task::WeldInside, _) => {
                    for &b in &step.bonds {
                        assert!(
                            bonds.bonds[b].parts.iter().all(|p| stands.contains(p)),
                            "work {seed}: in the air"
                        );
                        // Reached through the lump that is being built, which nothing has closed.
                        let lumps = bonds.bonds[b].parts.map(|p| bonds.pieces[p].element);
                        let strip = bonds.bonds[b].parts.iter().any(|p| bonds.pieces[*p].strip);
                        assert!(strip || lumps.contains(&step.lump), "work {seed}: out of reach");
                        assert!(!closed.contains(&step.lump), "work {seed}: shut");
                        inside.insert(b);
                    }
                }
                (Task::Close, Some(part)) => {
                    for (b, bond) in bonds.bonds.iter().enumerate().filter(|(_, bond)| bond.inside) {
                        let ready = bond.parts.iter().all(|p| stands.contains(p));
                        let lost = order.lumps.iter().any(|l| l.lost.contains(&b));
                        asked += usize::from(ready);
                        assert!(
                            !ready || lost || inside.contains(&b),
                            "work {seed}: bond {b} before {}",
                            work.parts[part].id
                        );
                    }
                    closed.insert(step.lump);
                    assert!(stands.insert(part), "work {seed}: twice");
                }
                (Task::Set, Some(part)) => assert!(stands.insert(part), "work {seed}: twice"),
                _ => {}
            }
        }
        assert_eq!(stands.len(), work.parts.len(), "work {seed}: every part is set");
        for lump in &order.lumps {
            for &b in &lump.lost {
                let bond = &bonds.bonds[b];
                let closing = order.lumps.iter().any(|l| bond.parts.contains(&l.closing));
                assert!(bond.inside && closing, "work {seed}: given up without need");
            }
        }
    }
    assert!(asked > 100, "the property was put to the test: {asked}");
}

fn welded(work: &Work) -> Output {
    run_stages(work, &Registry::standard(), &["welds".to_owned()]).unwrap_or_else(|e| panic!("{e}"))
}

#[track_caller]
fn column(table: &Table, name: &str) -> Vec<f64> {
    let k = table.columns.iter().position(|c| c.name == name).unwrap_or_else(|| panic!("no column {name}"));
    table.rows.iter().map(|r| if let Cell::Number(x, _) = r[k] { x } else { 0.0 }).collect()
}

#[test]
fn totals_are_the_sums_of_their_rows_and_both_schedules_agree() {
    for (seed, work) in works().iter().take(15) {
        let output = welded(work);
        let [welds, assembly] = [&output.tables[0], &output.tables[1]];
        assert!(
            welds
                .rows
                .iter()
                .chain(&assembly.rows)
                .flatten()
                .all(|c| !matches!(c, Cell::Number(x, _) if !x.is_finite()))
        );
        let total = |name: &str| *column(welds, name).last().expect("a row of totals");
        let sum = |table: &Table, name: &str, rows: usize| column(table, name)[..rows].iter().sum::<f64>();
        let rows = welds.rows.len() - 1;
        for name in ["length mm", "to weld mm", "tacks", "deposited kg", "filler kg", "arc min", "time min"] {
            near(&format!("work {seed}, {name}"), total(name), sum(welds, name, rows));
        }
        for (running, name, unit) in [
            ("running length m", "to weld mm", 1000.0),
            ("running filler kg", "filler kg", 1.0),
            ("running time h", "time min", 60.0),
        ] {
            near(running, column(welds, running)[rows - 1], total(name) / unit);
            near(running, total(running), total(name) / unit);
        }
        let steps = assembly.rows.len();
        near("tacks", sum(assembly, "tacks", steps), total("tacks"));
        near("mass", sum(assembly, "mass kg", steps), work.mass);
        // Sheets take 15 minutes to set and strips 3, beside their tacks.
        let strips = work.parts.iter().filter(|p| matches!(p.kind, PartKind::Closure { .. })).count();
        #[allow(clippy::cast_precision_loss, reason = "a count")]
        let set = 15.0 * (work.parts.len() - strips) as f64 + 3.0 * strips as f64;
        near("time", sum(assembly, "time min", steps), total("time min") + set);
        near(
            "running",
            *column(assembly, "running time h").last().expect("steps"),
            (total("time min") + set) / 60.0,
        );
        assert_eq!(output.tables, welded(work).tables, "again");
    }
}

/// A box of flat sheet, 2 mm thick, 300 × 400 × 500 mm over its middle skin, standing this far from the origin.
fn sheet_box(away: f64, settings: &[(&str, Value)]) -> Work {
    type V = Vector3<f64>;
    let [x, y, z] = [150.0, 200.0, 500.0];
    let planes = [
        ("east", V::new(x, 0.0, 0.0), V::x()),
        ("west", V::new(-x, 0.0, 0.0), -V::x()),
        ("north", V::new(0.0, y, 0.0), V::y()),
        ("south", V::new(0.0, -y, 0.0), -V::y()),
        ("top", V::new(0.0, 0.0, z), V::z()),
        ("bottom", V::zeros(), -V::z()),
    ]
    .map(|(label, point, normal)| (label.to_owned(), (point + V::new(away, 0.0, 0.0)).into(), normal.into()));
    let build = || {
        let mut one = element("A", &planes)?;
        one.clad(&profile("flat", &[("thickness", 2.0)])?);
        let mut work = Sculpture::new("box");
        work.joint = Joint { kind: "true".to_owned(), ..Joint::default() };
        work.add(one)?;
        let given = settings.iter().map(|(name, value)| ((*name).to_owned(), value.clone()));
        work.stages.entry("welds".to_owned()).or_default().extend(given);
        work_out(&work, &Registry::standard())
    };
    build().unwrap_or_else(|e| panic!("{e}"))
}

/// No gap, no cap: nothing but the groove.
fn bare() -> Vec<(&'static str, Value)> {
    ["gap", "cap", "overlap"].map(|name| (name, Value::Number(0.0))).to_vec()
}

#[test]
fn a_box_of_flat_sheet_takes_what_a_hand_works_out() {
    for away in [0.0, 1.0e7] {
        let tables = welded(&sheet_box(away, &bare())).tables;
        let [welds, steps] = [&tables[0], &tables[1]];
        // Twelve edges and the totals. Square cuts at 90° leave a triangle of T²/2 = 2 mm².
        assert_eq!(welds.rows.len(), 13);
        // The lengths of a work far away lose digits of their own.
        let close = |what: &str, found: f64, expected: f64| {
            assert!((found - expected).abs() <= 1.0e-7 * expected, "{what}: {found} instead of {expected}");
        };
        for name in ["groove least mm²", "groove mean mm²", "groove most mm²"] {
            column(welds, name)[..12].iter().for_each(|x| close(name, *x, 2.0));
        }
        column(welds, "angle median degrees")[..12].iter().for_each(|x| close("angle", *x, 90.0));
        // 4 × (300 + 400 + 500) = 4800 mm, 9600 mm³, at 7.85 g/cm³ 75.36 g; 96 % of 78.5 g; at 1.2 kg/h 3.768 min.
        close("length", column(welds, "to weld mm")[12], 4800.0);
        close("deposited", column(welds, "deposited kg")[12], 0.075_36);
        close("filler", column(welds, "filler kg")[12], 0.078_5);
        close("arc", column(welds, "arc min")[12], 3.768);
        // Tacks of 10 mm at most 120 mm apart: 290 takes 3 steps, 390 takes 4, 490 takes 5; one more tack each.
        close("tacks", column(welds, "tacks")[12], 4.0 * (4.0 + 5.0 + 6.0));
        // A quarter of the time the arc burns, half a minute for a tack, a quarter of an hour for a part.
        close("time", column(welds, "time min")[12], 3.768 / 0.25 + 30.0);
        close(
            "assembly",
            *column(steps, "running time h").last().expect("steps"),
            (15.072 + 30.0 + 90.0) / 60.0,
        );
    }
}

#[test]
fn a_root_gap_filled_from_both_sides_is_filled_once() {
    let settings = |side: &str| {
        let mut all = bare();
        all[0].1 = Value::Number(1.0);
        // The box is a little less than 300 mm wide between its skins.
        all.extend([("side", Value::Text(side.to_owned())), ("opening", Value::Number(250.0))]);
        all
    };
    let tables = welded(&sheet_box(0.0, &settings("both"))).tables;
    let [welds, steps] = [&tables[0], &tables[1]];
    let deposited = column(welds, "deposited kg")[12];
    // Outside on all edges the triangle and the gap, 1 mm × T cos 45°; inside, on all but the four edges of the part
    // that closes, a fillet of throat 1.4 mm in a square corner: 1.96 mm². The top closes: its edges are 1400 mm.
    let volume = 4800.0 * (2.0 + 2.0_f64.sqrt()) + 3400.0 * 1.96;
    near("deposited", deposited, volume * 7850.0e-9);
    let words =
        |row: &Vec<Cell>, k: usize| if let Cell::Text(t) = &row[k] { t.clone() } else { String::new() };
    let closing: Vec<String> =
        steps.rows.iter().filter(|r| words(r, 2) == "close and tack").map(|r| words(r, 3)).collect();
    assert_eq!(closing, ["A/top"]);
    assert_eq!(welds.rows.iter().filter(|r| words(r, 14) == "both").count(), 8);
}

#[test]
fn seams_named_for_the_inside_are_welded_there_and_unknown_names_are_refused() {
    let name = |text: &str| vec![("inside_seams", Value::Text(text.to_owned()))];
    let output = welded(&sheet_box(0.0, &name("A/east~A/top, A/north~A/top,")));
    let side = |id: &str| {
        let row = output.tables[0].rows.iter().find(|r| r[0] == Cell::Text(id.to_owned())).expect("a row");
        row[14].clone()
    };
    assert_eq!(side("A/east~A/top"), Cell::Text("both".to_owned()));
    assert_eq!(side("A/south~A/top"), Cell::Text("outside".to_owned()));
    let work = sheet_box(0.0, &name("A/east~A/top, A/nort~A/top"));
    let refused = run_stages(&work, &Registry::standard(), &["welds".to_owned()]).expect_err("no such seam");
    let text = refused.to_string();
    assert!(
        text.contains("welds: inside_seams") && text.contains("did you mean \"A/north~A/top\""),
        "{text}"
    );
}

#[test]
fn every_kind_of_finding_comes_once_for_the_whole_work() {
    let codes = |settings: &[(&str, Value)]| -> Vec<String> {
        let output = welded(&sheet_box(0.0, settings));
        assert!(output.findings.iter().all(|f| f.level != Level::Error), "{:?}", output.findings);
        output.findings.into_iter().map(|f| f.code).collect()
    };
    assert_eq!(codes(&[]), ["weld-care"], "a plain box has nothing else to say");
    let text = |t: &str| Value::Text(t.to_owned());
    assert_eq!(codes(&[("run", text("stitch"))]), ["weld-crevice", "weld-care"]);
    assert_eq!(codes(&[("side", text("both"))]), ["weld-closing", "weld-care"]);
    let wide = [("side", text("inside")), ("opening", Value::Number(600.0))];
    assert_eq!(codes(&wide), ["weld-closing", "weld-opening", "weld-care"]);
    // A square corner's ends stand at 90° to each other: enough for thick sheet, not where 90° is asked too much.
    let thick = [("square_limit", Value::Number(1.0)), ("groove_least", Value::Number(90.0))];
    assert_eq!(codes(&thick), Vec::<String>::from(["weld-care".to_owned()]));
    assert_eq!(
        codes(&[("reach", Value::Number(90.0)), ("side", text("inside"))]),
        ["weld-closing", "weld-care"]
    );
}
