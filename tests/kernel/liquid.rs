//! Liquid in real works: chambers, coating by turning, water outside.

use nalgebra::{Point3, Unit, Vector3};
use rayon::prelude::*;
use ribwright_kernel::chambers::chambers;
use ribwright_kernel::coat::{Asked, Candidates, Rig, plan};
use ribwright_kernel::element::slab;
use ribwright_kernel::liquid::{Pools, Posed};
use ribwright_kernel::profile::Profile;
use ribwright_kernel::sculpture::{Element, Sculpture, Stacking};
use ribwright_kernel::settings::{Value, Values};
use ribwright_kernel::table::Cell;
use ribwright_kernel::{Output, Registry, Work, run_stages, work_out};
use ribwright_tests::case::profile;
use ribwright_tests::works::random_work;
use std::collections::BTreeMap;
use std::sync::Arc;

fn rib() -> Arc<Profile> {
    let rows = [
        ("pitch", 200.0),
        ("depth", 40.0),
        ("crest", 70.0),
        ("valley", 70.0),
        ("thickness", 2.0),
        ("bend_radius", 6.0),
    ];
    profile("trapezoid", &rows).expect("a profile")
}

fn flat(thickness: f64) -> Arc<Profile> {
    profile("flat", &[("thickness", thickness)]).expect("a profile")
}

fn block(name: &str, size: [f64; 3], sheet: &Arc<Profile>) -> Element {
    let size = Value::List(size.iter().map(|x| Value::Number(*x)).collect());
    let map = BTreeMap::from([("size".to_owned(), size)]);
    let values = Values::check("slab", slab::ROW.settings, &map).expect("settings");
    let mut element = Element::new((slab::ROW.build)(name, &values).expect("a slab"));
    element.clad(sheet);
    element
}

fn worked(s: &Sculpture) -> Work {
    work_out(s, &Registry::standard()).expect("a work")
}

fn stages(work: &Work, only: &[&str]) -> Output {
    let only: Vec<String> = only.iter().map(|s| (*s).to_owned()).collect();
    run_stages(work, &Registry::standard(), &only).expect("stages")
}

fn ask(s: &mut Sculpture, stage: &str, settings: &[(&str, Value)]) {
    let all = s.stages.entry(stage.to_owned()).or_default();
    all.extend(settings.iter().map(|(k, v)| ((*k).to_owned(), v.clone())));
}

#[track_caller]
fn near(found: f64, expected: f64, share: f64) {
    assert!((found - expected).abs() <= share * expected.abs(), "{found} is not {expected}");
}

fn capacity(chamber: &ribwright_kernel::liquid::Chamber) -> f64 {
    let posed = Posed::new(chamber, Vector3::z_axis());
    let top = posed.range()[1];
    posed.below(top).volume
}

#[test]
fn a_box_of_flat_sheet_holds_its_inside() {
    let mut s = Sculpture::new("box");
    s.stand(block("A", [400.0, 300.0, 1000.0], &flat(4.0))).unwrap();
    let found = chambers(&worked(&s)).unwrap();
    assert_eq!((found.chambers.len(), found.leaking.len()), (1, 0));
    let one = &found.chambers[0];
    // The middle skin lies on the planes, the inside skin half a thickness within.
    near(capacity(&one.chamber), 396.0 * 296.0 * 996.0, 1e-9);
    assert_eq!((one.name.as_str(), one.open.len(), one.by_middle_skin), ("A", 0, false));
}

#[test]
fn stacked_elements_share_a_chamber_unless_the_lower_face_is_kept_whole() {
    let of = |open: bool| {
        let mut s = Sculpture::new("two");
        s.stand(block("A", [800.0, 700.0, 600.0], &rib())).unwrap();
        let how = Stacking { open, sink: 100.0, turn: 10.0, ..Stacking::on("A/top") };
        s.stack(block("B", [500.0, 400.0, 500.0], &rib()), &how).unwrap();
        let work = worked(&s);
        (chambers(&work).unwrap().chambers, work)
    };
    let (together, work) = of(true);
    assert_eq!(together.len(), 1);
    assert_eq!(together[0].name, "A + B");
    // Inside the middle skin by about a millimetre of its area.
    let inside = capacity(&together[0].chamber);
    near(inside, work.volume - 1.0 * work.area, 2e-3);
    let (apart, work) = of(false);
    assert_eq!(apart.len(), 2);
    assert_eq!([apart[0].name.as_str(), apart[1].name.as_str()], ["A", "B"]);
    assert_eq!(apart[1].on_crests, ["B/bottom"]);
    // The lower one is the whole of A, the upper one stands on the crests of A/top, 21 mm over its plane.
    near(capacity(&apart[0].chamber), work.element_volumes[0] - 1.0 * apart[0].chamber.area(), 2e-3);
    let [low, _] = bounds(&apart[1].chamber);
    assert!((low.z - (600.0 + 20.0 + 1.0)).abs() < 0.1 + 20.0, "{low}");
}

fn bounds(chamber: &ribwright_kernel::liquid::Chamber) -> [Point3<f64>; 2] {
    let mut all = (0..chamber.triangles()).flat_map(|t| chamber.corners(t));
    let first = all.next().expect("corners");
    all.fold([first, first], |[lo, hi], p| [lo.inf(&p), hi.sup(&p)])
}

#[test]
fn chambers_of_random_works_close_and_hold_what_their_shells_do() {
    let found: Vec<(usize, usize)> = (0..200_u64)
        .into_par_iter()
        .filter_map(|seed| {
            let s = random_work(seed).ok()?;
            let work = work_out(&s, &Registry::standard()).ok()?;
            if work.findings.iter().any(|f| f.level == ribwright_kernel::Level::Error) {
                return None;
            }
            let found = chambers(&work).ok()?;
            let held: f64 = found.chambers.iter().map(|c| capacity(&c.chamber)).sum();
            // Never more than the middle skin encloses, and not much less than that by its area.
            let thickest = work.faces.iter().map(|f| f.profile.thickness()).fold(0.0, f64::max);
            if found.leaking.is_empty() {
                assert!(held <= work.volume * (1.0 + 1e-9), "work {seed}");
                assert!(held >= work.volume - 2.0 * thickest * work.area - 1.0e6, "work {seed}");
            }
            let by_middle = found.chambers.iter().filter(|c| c.by_middle_skin).count();
            Some((found.leaking.len(), by_middle))
        })
        .collect();
    let leaking: usize = found.iter().map(|f| f.0).sum();
    let by_middle = found.iter().filter(|f| f.1 > 0).count();
    println!("{} works, {leaking} leaking, {by_middle} by their middle skin", found.len());
    assert!(found.len() > 150, "only {} works were looked at", found.len());
    assert!(leaking * 50 <= found.len(), "{leaking} leak");
}

#[test]
fn least_volumes_on_random_works_leave_a_corner_dry_with_one_per_cent_less() {
    let ups = [[0.0, 0.0, 1.0], [1.0, 0.2, 0.1], [-0.3, 1.0, -0.2], [0.4, -0.7, -1.0]];
    let walls: usize = (0..60_u64)
        .into_par_iter()
        .map(|seed| {
            let Ok(s) = random_work(seed) else { return 0 };
            let Ok(work) = work_out(&s, &Registry::standard()) else { return 0 };
            let Ok(found) = chambers(&work) else { return 0 };
            let mut count = 0;
            for one in &found.chambers {
                for up in ups {
                    let up = Unit::new_normalize(Vector3::from(up));
                    let pools = Pools::new(Posed::new(&one.chamber, up));
                    for w in 0..one.chamber.names.len() {
                        let wall = one.chamber.wall(w as u32);
                        let wetting = pools.wetting(&wall);
                        assert!(wetting.sure >= wetting.least * (1.0 - 1e-9));
                        for &(pool, level) in &wetting.needs {
                            let volume = pools.below(pool, level).volume;
                            if volume < 1.0 {
                                continue;
                            }
                            assert!(pools.level(pool, 0.99 * volume) < level, "work {seed}");
                            count += 1;
                        }
                        // Wet from any start with the sure volume.
                        let levels = pools.sure_levels(wetting.sure * (1.0 + 1e-9) + 1.0);
                        for &t in &wall {
                            let high = pools.posed.reach(t)[1];
                            let slack = 1e-6 * one.chamber.size;
                            assert!(high <= levels[t] + slack, "work {seed}: {high} over {}", levels[t]);
                        }
                    }
                }
            }
            count
        })
        .sum();
    assert!(walls > 1000, "only {walls} walls");
}

fn leaning() -> Sculpture {
    let mut s = Sculpture::new("two");
    s.stand(block("A", [700.0, 600.0, 900.0], &rib())).unwrap();
    let how = Stacking { sink: 80.0, turn: 20.0, tip: 8.0, ..Stacking::on("A/top") };
    s.stack(block("B", [450.0, 400.0, 700.0], &rib()), &how).unwrap();
    s
}

#[test]
fn a_stacked_work_is_coated_whole_and_the_stage_says_how() {
    let mut s = leaning();
    ask(&mut s, "coat", &[("turn_step", Value::Number(30.0))]);
    let work = worked(&s);
    let output = stages(&work, &["coat", "mass", "schedules"]);
    let table = |name: &str| output.tables.iter().find(|t| t.name == name).expect("a table");
    let figure = |what: &str| {
        let row = table("coat").rows.iter().find(|r| matches!(&r[1], Cell::Text(t) if t == what)).expect("a row");
        match row[2] {
            Cell::Number(x, _) => x,
            _ => panic!("no number"),
        }
    };
    println!("{:?}", table("coat-stands").rows);
    println!("pour in {} l, serves {} l of {} l", figure("pour in"), figure("least that serves"), figure("room inside"));
    near(figure("wetted"), 100.0, 1e-6);
    assert!(!output.findings.iter().any(|f| f.code == "coat-dry"));
    assert!(output.findings.iter().any(|f| f.code == "coat-caution"));
    assert!(output.drawings.iter().any(|d| d.name == "coat-1"));
    for drawing in &output.drawings {
        drawing.validate().expect("a drawing");
    }
    // The film weighs what it should: area × 75 µm × 0.9 kg/l.
    let coat = output.mass.body(|c| c.kind == ribwright_kernel::mass::Kind::Coating);
    near(coat.mass, figure("inside area, ribs counted") * 75.0e-6 * 900.0, 1e-2);
    // The work and its liquid hang on the rig.
    assert!(figure("pour in") < figure("room inside"));
}

#[test]
fn a_work_that_is_not_asked_to_be_coated_says_nothing_of_it() {
    let output = stages(&worked(&leaning()), &["coat"]);
    assert!(output.tables.is_empty() && output.findings.is_empty() && output.drawings.is_empty());
}

#[test]
fn an_open_foot_must_be_closed_before_wax_goes_in() {
    let mut s = Sculpture::new("open");
    let mut a = block("A", [400.0, 400.0, 700.0], &rib());
    a.face_mut("bottom").unwrap().open = Some(0.0);
    s.stand(a).unwrap();
    ask(&mut s, "coat", &[("turn_step", Value::Number(45.0)), ("tilt", Value::Number(30.0))]);
    let output = stages(&worked(&s), &["coat"]);
    let open: Vec<&str> =
        output.findings.iter().filter(|f| f.code == "coat-open").map(|f| f.place.as_str()).collect();
    assert_eq!(open, ["A/bottom"]);
}

#[test]
fn a_plan_far_away_is_the_plan_here() {
    let of = |by: Vector3<f64>| {
        let mut s = Sculpture::new("far");
        let mut a = block("A", [500.0, 400.0, 800.0], &rib());
        a.translate(by);
        s.add(a).unwrap();
        let found = chambers(&worked(&s)).unwrap().chambers.remove(0);
        let rig = Rig::new(Vector3::z(), found.chamber.middle).unwrap();
        let candidates = Candidates { turn_step: 30.0, tilts: vec![-40.0, 0.0, 40.0] };
        let asked = Asked { volume: None, margin: 1.1, floor: 1.0e5, most: 24 };
        plan(&found.chamber, &rig, &candidates, &asked)
    };
    let here = of(Vector3::new(0.0, 0.0, 400.0));
    let far = of(Vector3::new(1.0e7, -3.0e6, 400.0));
    near(far.volume, here.volume, 1e-6);
    near(far.area, here.area, 1e-6);
    assert_eq!((here.dry.len(), far.dry.len()), (0, 0));
    let stands = |p: &ribwright_kernel::coat::Plan| p.stops.len();
    assert_eq!(stands(&here), stands(&far));
}
