//! Thickness: what finished parts hold as thick solids. That they do so by another reckoning too is the outside
//! check thick_parts.py.

use ribwright_kernel::clash::clashes;
use ribwright_kernel::element::{Solid, slab};
use ribwright_kernel::joint::Joined;
use ribwright_kernel::part::PartKind;
use ribwright_kernel::sculpture::{Element, Meet, Sculpture};
use ribwright_kernel::settings::{Value, Values};
use ribwright_kernel::{Registry, Work, work_out};
use ribwright_tests::profile;
use ribwright_tests::references;
use std::collections::BTreeMap;

/// Space parts may share per metre of seam, mm³.
const SHARED: f64 = 1.0;

fn shared_per_metre(work: &Work) -> f64 {
    let metres: f64 = work.seams.iter().map(|s| s.length).sum::<f64>() / 1000.0;
    clashes(&work.parts).iter().map(|c| c.volume).sum::<f64>() / metres
}

fn work(sculpture: &Sculpture) -> Work {
    work_out(sculpture, &Registry::standard()).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn parts_of_the_reference_bodies_share_no_space_or_a_finding_says_where_laps_do() {
    for (name, body) in references() {
        for kind in ["true", "auto", "mitre", "lap"] {
            let sculpture = body.case.sculpture(kind).unwrap_or_else(|e| panic!("{e}"));
            let work = work(&sculpture);
            let shared = shared_per_metre(&work);
            // A sheet that runs past all its seams can meet a third one at a corner; then a finding says so.
            let said = kind == "lap" && work.findings.iter().any(|f| f.code == "clash");
            assert!(shared < SHARED || said, "{name}, {kind}: {shared} mm³ per metre");
        }
    }
}

#[test]
fn skins_asked_to_meet_without_a_bevel_are_cut_back_instead_of_overlapping() {
    let (_, body) = references().into_iter().next().unwrap_or_else(|| panic!("no bodies"));
    for meet in [Meet::Middle, Meet::Outside] {
        let mut sculpture = body.case.sculpture("true").unwrap_or_else(|e| panic!("{e}"));
        sculpture.joint.meet = meet;
        let square = work(&sculpture);
        assert!(shared_per_metre(&square) < SHARED, "{meet:?}");
        assert!(square.findings.iter().any(|f| f.code == "cut-back"), "{meet:?}: nothing was said");
        sculpture.joint.bevel = true;
        let bevelled = work(&sculpture);
        let area = |work: &Work| work.parts.iter().map(|p| p.area).sum::<f64>();
        assert!(area(&bevelled) > area(&square), "{meet:?}: a bevel keeps more sheet");
    }
}

/// A box of flat sheets 2 mm thick, 600 × 400 × 300 mm over its faces, whose middle skins lie in the faces.
fn box_of_flat_sheets() -> Sculpture {
    let size = Value::List([600.0, 400.0, 300.0].map(Value::Number).to_vec());
    let values = Values::check("slab", slab::ROW.settings, &BTreeMap::from([("size".to_owned(), size)]));
    let solid: Solid =
        (slab::ROW.build)("A", &values.unwrap_or_else(|e| panic!("{e}"))).unwrap_or_else(|e| panic!("{e}"));
    let mut element = Element::new(solid);
    element.clad(&profile("flat", &[("thickness", 2.0)]).unwrap_or_else(|e| panic!("{e}")));
    let mut sculpture = Sculpture::new("box");
    sculpture.add(element).unwrap_or_else(|e| panic!("{e}"));
    sculpture
}

fn area_of(work: &Work, face: &str) -> f64 {
    work.parts.iter().filter(|p| p.face == face).map(|p| p.area).sum()
}

/// Inside skins meet at the inner box: every sheet is a thickness shorter and narrower than the outer one, half
/// on either side. With outside skins and bevels it is as large as the outer box.
#[test]
fn sheets_of_a_box_have_the_size_of_the_skin_that_meets() {
    let mut sculpture = box_of_flat_sheets();
    let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-2, "{a} is not {b}");
    near(area_of(&work(&sculpture), "A/top"), 598.0 * 398.0);
    (sculpture.joint.meet, sculpture.joint.bevel) = (Meet::Middle, true);
    near(area_of(&work(&sculpture), "A/top"), 600.0 * 400.0);
    sculpture.joint.meet = Meet::Outside;
    near(area_of(&work(&sculpture), "A/top"), 602.0 * 402.0);
}

/// At a right angle the sheet that runs past covers the other's thickness and goes on by what was asked; the
/// other stops at its inside, which at 90 degrees is where inside skins meet.
#[test]
fn a_lap_runs_past_by_what_was_asked() {
    let mut sculpture = box_of_flat_sheets();
    let mut joint = sculpture.joint.clone();
    "lap".clone_into(&mut joint.kind);
    joint.settings.insert("past".to_owned(), Value::Number(15.0));
    joint.settings.insert("over".to_owned(), Value::Text("A/top".to_owned()));
    sculpture.pair_joints.insert(("A/east".to_owned(), "A/top".to_owned()), joint);
    let work = work(&sculpture);
    let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-2, "{a} is not {b}");
    near(area_of(&work, "A/top"), (598.0 + 2.0 + 15.0) * 398.0);
    near(area_of(&work, "A/east"), 398.0 * 298.0);
    assert!(clashes(&work.parts).iter().all(|c| c.volume < 1e-2), "{:?}", clashes(&work.parts));
    assert_eq!(work.seams.iter().filter(|s| s.joint == Joined::Lap).count(), 1);
}

#[test]
fn sheets_over_an_open_face_end_level_at_its_clearance() {
    for (_, body) in references().into_iter().take(4) {
        let mut sculpture = body.case.sculpture("true").unwrap_or_else(|e| panic!("{e}"));
        let open = sculpture.elements[0].face_mut("bottom").unwrap_or_else(|e| panic!("{e}"));
        open.open = Some(12.0);
        let whole = body.case.sculpture("true").map(|s| work(&s)).unwrap_or_else(|e| panic!("{e}"));
        let work = work(&sculpture);
        let plane = &sculpture.elements[0].solid.faces;
        let bottom = plane.iter().find(|f| f.label == "bottom").unwrap_or_else(|| panic!("no bottom"));
        let mut least = f64::INFINITY;
        for part in &work.parts {
            assert_ne!(part.face, "A/bottom", "an open face has no sheet");
            let PartKind::Sheet { profile, .. } = &part.kind else { continue };
            for skin in [-0.5, 0.0, 0.5] {
                for at in part.outlines.iter().flatten() {
                    let place = part.position(*at, skin * profile.thickness());
                    least = least.min(-(place - bottom.point).dot(&bottom.normal));
                }
            }
        }
        assert!((least - 12.0).abs() < 1e-3, "the lowest edge is {least} mm over the plane");
        assert!(work.mass < whole.mass && work.area < whole.area);
        assert!(work.seams.iter().any(|s| s.joint == Joined::Open && s.segments.is_empty()));
        assert!(work.findings.iter().all(|f| f.code != "not-closed"));
    }
}
