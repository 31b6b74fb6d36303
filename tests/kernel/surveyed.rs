//! Surveyed sheets: the work as it comes out on sheets that are not true.

use ribwright_kernel::clash::clashes;
use ribwright_kernel::profile::Profile;
use ribwright_kernel::sculpture::Sculpture;
use ribwright_kernel::settings::Value;
use ribwright_kernel::survey::{Damage, Laid, SurveyedSheet};
use ribwright_kernel::{Level, Registry, Work, work_out};
use ribwright_tests::marks::check_marks;
use ribwright_tests::random::Random;
use ribwright_tests::{closed_volume, profile, references};
use std::sync::Arc;

/// Large enough for every reference body.
const SIZE: [f64; 2] = [16_000.0, 16_000.0];
const STATIONS: [f64; 4] = [100.0, 4000.0, 9000.0, 15_900.0];
/// Relative, as promised for a sheet that equals its nominal one.
const SAME: f64 = 1.0e-9;

/// Corners of parts, mm.
const CORNERS: f64 = 5.0e-5;

pub(crate) fn work(sculpture: &Sculpture) -> Work {
    work_out(sculpture, &Registry::standard()).unwrap_or_else(|e| panic!("{e}"))
}

pub(crate) fn trapezoid(scale: f64, radius: f64) -> Arc<Profile> {
    let sizes = [
        ("pitch", 200.0 * scale),
        ("depth", 40.0),
        ("crest", 70.0 * scale),
        ("valley", 70.0 * scale),
        ("thickness", 2.0),
        ("bend_radius", radius),
    ];
    profile("trapezoid", &sizes).unwrap_or_else(|e| panic!("{e}"))
}

/// Lays a sheet on every face that is clad in its profile, its crest `first_crest` from the edge over the face's
/// origin.
fn lay(sculpture: &mut Sculpture, sheet: &Arc<SurveyedSheet>, across: f64, [turned, over]: [bool; 2]) {
    for cladding in sculpture.elements.iter_mut().flat_map(|e| &mut e.cladding) {
        if cladding.profile.as_ref().is_some_and(|p| !p.is_flat()) {
            // Where crests lie is the sheet's to say, so the face's phase moves the sheet.
            let aside = if turned == over { -cladding.phase } else { cladding.phase };
            cladding.sheet = Some(Laid { sheet: sheet.clone(), at: [8000.0, across + aside], turned, over });
        }
    }
}

fn near(what: &str, a: f64, b: f64, scale: f64) {
    assert!((a - b).abs() <= SAME * scale.abs().max(1.0), "{what}: {a} and {b}");
}

/// Every figure of the thin work.
fn same_shell(name: &str, a: &Work, b: &Work) {
    near(&format!("{name}: volume"), a.volume, b.volume, b.volume);
    near(&format!("{name}: area"), a.area, b.area, b.area);
    for k in 0..3 {
        near(&format!("{name}: centroid"), a.centroid[k], b.centroid[k], SIZE[0]);
    }
    assert_eq!(a.seams.len(), b.seams.len(), "{name}");
    for (x, y) in a.seams.iter().zip(&b.seams) {
        assert_eq!((&x.id, &x.joint), (&y.id, &y.joint), "{name}");
        near(&format!("{name}: {} length", x.id), x.length, y.length, y.length);
        near(&format!("{name}: {} wobble", x.id), x.wobble_peak, y.wobble_peak, 1000.0);
    }
}

/// Every figure of two works.
fn same(name: &str, a: &Work, b: &Work) {
    same_shell(name, a, b);
    near(&format!("{name}: mass"), a.mass, b.mass, b.mass);
    for k in 0..3 {
        near(&format!("{name}: centre of mass"), a.centre_of_mass[k], b.centre_of_mass[k], SIZE[0]);
    }
    let ids = |w: &Work| w.parts.iter().map(|p| p.id.clone()).collect::<Vec<_>>();
    assert_eq!(ids(a), ids(b), "{name}");
    for (x, y) in a.parts.iter().zip(&b.parts) {
        // Corners within ten nanometres of a fold are put on it, which the cut's whole length can show.
        let figures = [("area", x.area, y.area), ("cut length", x.cut_length, y.cut_length)];
        for (what, a, b) in figures {
            assert!(
                (a - b).abs() <= SAME * b + 2.0e-6 * y.cut_length,
                "{name}: {} {what}: {a} and {b}",
                x.id
            );
        }
        let centre = |p: &ribwright_kernel::part::Part| {
            let far = |q: &[f64; 2]| p.position(*q, 0.0);
            let all = p.outlines.iter().flatten().map(far);
            let first = far(&p.outlines[0][0]);
            all.fold([first, first], |[l, h], q| [l.inf(&q), h.sup(&q)])
        };
        let (bx, by) = (centre(x), centre(y));
        for k in 0..3 {
            // A corner within a hundredth of a micrometre of a fold is put on it; webs magnify that.
            let off = (bx[0][k] - by[0][k]).abs().max((bx[1][k] - by[1][k]).abs());
            assert!(off < CORNERS, "{name}: {}: a corner is {off} mm off", x.id);
        }
    }
}

#[test]
fn a_surveyed_sheet_that_equals_its_nominal_one_gives_the_same_job() {
    for radius in [0.0, 5.0] {
        let rib = trapezoid(1.0, radius);
        for (name, body) in references() {
            let nominal = body.case.clad_in(&rib, "true").unwrap_or_else(|e| panic!("{e}"));
            for way in [[false, false], [true, false], [false, true], [true, true]] {
                let crest = 300.0;
                // Turned over, a valley lies outside.
                let half = if way[1] { rib.pitch() / 2.0 } else { 0.0 };
                let sheet = Arc::new(SurveyedSheet::true_to(&rib, "S1", SIZE, crest, &STATIONS));
                let mut surveyed = nominal.clone();
                lay(&mut surveyed, &sheet, crest + 8000.0 + half, way);
                same(
                    &format!("{name}, radius {radius}, turned and over {way:?}"),
                    &work(&surveyed),
                    &work(&nominal),
                );
            }
        }
    }
}

#[test]
fn a_sheet_scaled_across_gives_the_seams_of_a_profile_of_that_pitch() {
    let (rib, wide) = (trapezoid(1.0, 0.0), trapezoid(1.003, 0.0));
    for (name, body) in references() {
        let mut sheet = SurveyedSheet::true_to(&rib, "S1", SIZE, 300.0, &STATIONS);
        for across in sheet.folds.iter_mut().flat_map(|f| &mut f.across) {
            *across *= 1.003;
        }
        sheet.width *= 1.003;
        let mut surveyed = body.case.clad_in(&rib, "true").unwrap_or_else(|e| panic!("{e}"));
        lay(&mut surveyed, &Arc::new(sheet), (300.0 + 8000.0) * 1.003, [false; 2]);
        let scaled = body.case.clad_in(&wide, "true").unwrap_or_else(|e| panic!("{e}"));
        let (surveyed, scaled) = (work(&surveyed), work(&scaled));
        same_shell(&name, &surveyed, &scaled);
        // Through its thickness a surveyed sheet stands square to its nominal flats: webs 0.3 % less steep lean by
        // a thousandth of a degree, which parts show in the eighth digit.
        let off = (surveyed.mass - scaled.mass).abs() / scaled.mass;
        assert!(off < 1e-6, "{name}: masses differ by {off}");
    }
}

/// A sheet whose folds wander as those of a yard do: some mm across, more towards one end, and some in height.
fn wandering(rib: &Arc<Profile>, seed: u64) -> SurveyedSheet {
    let mut random = Random::new(seed);
    let mut sheet = SurveyedSheet::true_to(rib, &format!("W{seed}"), SIZE, 300.0, &STATIONS);
    let wider = random.between(0.0, 0.006);
    for fold in &mut sheet.folds {
        let shift = random.between(-1.5, 1.5);
        for (i, station) in STATIONS.iter().enumerate() {
            let fan = 1.0 + wider * station / SIZE[0];
            fold.across[i] = fold.across[i] * fan + shift + random.between(-0.7, 0.7);
            fold.height[i] += random.between(-1.0, 1.0);
        }
    }
    sheet
}

#[test]
fn works_on_sheets_that_wander_close_and_their_parts_share_no_space() {
    for radius in [0.0, 5.0] {
        let rib = trapezoid(1.0, radius);
        for (i, (name, body)) in references().into_iter().enumerate() {
            for joint in ["true", "auto"] {
                let mut sculpture = body.case.clad_in(&rib, joint).unwrap_or_else(|e| panic!("{e}"));
                let mut seed = 100 * i as u64;
                for cladding in sculpture.elements.iter_mut().flat_map(|e| &mut e.cladding) {
                    seed += 1;
                    let sheet = Arc::new(wandering(&rib, seed));
                    let (turned, over) = (seed.is_multiple_of(3), seed.is_multiple_of(4));
                    cladding.sheet = Some(Laid { sheet, at: [8000.0, 8000.0], turned, over });
                }
                let work = work(&sculpture);
                let what = format!("{name}, {joint}, radius {radius}");
                // Faces laid on sheets some mm lower may part two elements that rest on each other.
                let errors: Vec<_> =
                    work.findings.iter().filter(|f| f.level == Level::Error && f.code != "apart").collect();
                assert!(errors.is_empty(), "{what}: {errors:?}");
                let volume = closed_volume(&work.mesh).unwrap_or_else(|e| panic!("{what}: {e}"));
                near(&format!("{what}: volume"), volume, work.volume, work.volume * 1e3);
                for seam in &work.seams {
                    assert!(seam.mismatch < 1e-6, "{what}: {}: sides {} mm apart", seam.id, seam.mismatch);
                }
                let metres: f64 = work.seams.iter().map(|s| s.length).sum::<f64>() / 1000.0;
                let shared = clashes(&work.parts).iter().map(|c| c.volume).sum::<f64>() / metres;
                assert!(shared < 1.0, "{what}: {shared} mm³ per metre");
                let (pairs, apart) = check_marks(&what, &work);
                assert!(pairs > 0 && apart < 0.05, "{what}: marks of a pair are {apart} mm apart");
            }
        }
    }
}

#[test]
fn a_part_beyond_its_sheet_or_over_damage_is_said() {
    let rib = trapezoid(1.0, 0.0);
    let (_, body) = references().into_iter().next().unwrap_or_else(|| panic!("no bodies"));
    let found = |at: [f64; 2], damage: Vec<Damage>| {
        let mut sheet = SurveyedSheet::true_to(&rib, "S1", SIZE, 300.0, &STATIONS);
        sheet.damage = damage;
        let mut sculpture = body.case.clad_in(&rib, "true").unwrap_or_else(|e| panic!("{e}"));
        let first = &mut sculpture.elements[0].cladding[0];
        first.sheet = Some(Laid { sheet: Arc::new(sheet), at, turned: false, over: false });
        let said =
            |work: Work| work.findings.into_iter().filter(|f| f.code == "off-sheet").collect::<Vec<_>>();
        said(work(&sculpture))
    };
    assert_eq!(found([8000.0, 8300.0], Vec::new()), []);
    let beyond = found([8000.0, 0.0], Vec::new());
    assert!(!beyond.is_empty() && beyond[0].message.contains("beyond sheet S1"), "{beyond:?}");
    let hole = |x: f64| Damage {
        what: "hole".to_owned(),
        outline: vec![[x, 8290.0], [x + 20.0, 8290.0], [x + 20.0, 8310.0], [x, 8310.0]],
    };
    assert_eq!(found([8000.0, 8300.0], vec![hole(50.0)]), []);
    let over = found([8000.0, 8300.0], vec![hole(7990.0)]);
    assert!(over.len() == 1 && over[0].message.contains("hole"), "{over:?}");
}

/// Two faces of a body laid on one sheet by hand: `apart` moves the second along from where the boxes of both touch.
fn by_hand(apart: f64, kerf: Option<f64>, turned: bool, over: bool) -> Vec<ribwright_kernel::Finding> {
    let rib = trapezoid(1.0, 0.0);
    let sheet = |name: &str| Arc::new(SurveyedSheet::true_to(&rib, name, SIZE, 300.0, &STATIONS));
    let plane = |name: &str, point: [f64; 3], normal: [f64; 3]| (name.to_owned(), point, normal);
    let planes = [
        plane("east", [400.0, 0.0, 0.0], [1.0, 0.0, 0.0]),
        plane("west", [-400.0, 0.0, 0.0], [-1.0, 0.0, 0.0]),
        plane("north", [0.0, 300.0, 0.0], [0.0, 1.0, 0.0]),
        plane("south", [0.0, -300.0, 0.0], [0.0, -1.0, 0.0]),
        plane("top", [0.0, 0.0, 500.0], [0.0, 0.0, 1.0]),
        plane("bottom", [0.0, 0.0, -500.0], [0.0, 0.0, -1.0]),
    ];
    let build = |along: f64, other: &Arc<SurveyedSheet>| {
        let mut body = ribwright_tests::element("A", &planes).unwrap_or_else(|e| panic!("{e}"));
        // Level top and bottom, so that the sides end in straight edges.
        body.clad(&rib);
        for label in ["top", "bottom"] {
            let face = body.face_mut(label).unwrap_or_else(|e| panic!("{e}"));
            face.profile = Some(profile("flat", &[("thickness", 2.0)]).unwrap_or_else(|e| panic!("{e}")));
        }
        for (label, at, sheet) in [("east", 3000.0, &sheet("S1")), ("west", along, other)] {
            let face = body.face_mut(label).unwrap_or_else(|e| panic!("{e}"));
            let second = label == "west";
            face.sheet = Some(Laid {
                sheet: sheet.clone(),
                at: [at, 8300.0],
                turned: turned && second,
                over: over && second,
            });
        }
        let mut sculpture = Sculpture::new("hand");
        "true".clone_into(&mut sculpture.joint.kind);
        if let Some(kerf) = kerf {
            let settings = [("kerf".to_owned(), Value::Number(kerf))].into();
            sculpture.stages.insert("cutting".to_owned(), settings);
        }
        sculpture.add(body).unwrap_or_else(|e| panic!("{e}"));
        sculpture
    };
    // Where both end, from the parts themselves.
    let ends = |label: &str, at: f64, flipped: bool| {
        let work = work(&build(9000.0, &sheet("S1")));
        let part =
            work.parts.iter().find(|p| p.face == format!("A/{label}")).unwrap_or_else(|| panic!("{label}"));
        let s = part.outlines[0].iter().map(|p| if flipped { at - p[0] } else { at + p[0] });
        s.fold([f64::MAX, f64::MIN], |e, x| [e[0].min(x), e[1].max(x)])
    };
    let touch = 9000.0 + ends("east", 3000.0, false)[1] - ends("west", 9000.0, turned)[0];
    let found = |sculpture: &Sculpture| -> Vec<_> {
        work(sculpture).findings.into_iter().filter(|f| f.code == "shared-sheet").collect()
    };
    assert_eq!(found(&build(touch - 400.0, &sheet("S2"))), [], "another sheet");
    found(&build(touch + apart, &sheet("S1")))
}

#[test]
fn faces_laid_by_hand_on_the_same_steel_are_an_error() {
    for (turned, over) in [(false, false), (true, false), (false, true)] {
        let overlapping = by_hand(-100.0, None, turned, over);
        assert_eq!(overlapping.len(), 1, "{turned} {over}: {overlapping:?}");
        let found = &overlapping[0];
        assert_eq!((found.level, found.place.as_str()), (Level::Error, "A/east and A/west"));
        assert!(found.message.contains("of sheet S1") && !found.remedy.is_empty(), "{found:?}");
        // 100 mm of a face some 600 mm wide, less what the ribs of its neighbours take.
        let area: f64 = found.message.split(' ').find_map(|w| w.parse().ok()).unwrap_or(0.0);
        assert!((50_000.0..=66_000.0).contains(&area), "{found:?}");
    }
    assert_eq!(by_hand(0.0, None, false, false), [], "touching");
    assert_eq!(by_hand(5.0, None, false, false), [], "clear");
}

#[test]
fn faces_laid_by_hand_leave_room_for_the_cut() {
    let touching = by_hand(0.0, Some(2.0), false, false);
    assert!(touching.len() == 1 && touching[0].message.contains("the cut takes 2 mm"), "{touching:?}");
    let near = by_hand(1.0, Some(2.0), false, false);
    assert!(near.len() == 1 && near[0].message.contains("1.0 mm apart"), "{near:?}");
    assert_eq!(by_hand(2.0, Some(2.0), false, false), []);
}
