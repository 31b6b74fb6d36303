//! Degenerate positions on purpose: bodies that touch, coincide or contain each other, corners of four
//! faces, ribs along an edge. What the union must be is known without working it out: a longer box, the
//! outer box, the same box, or a volume by hand.

use nalgebra::{Point3, Vector3};
use ribwright_kernel::profile::Profile;
use ribwright_kernel::sculpture::{Element, Sculpture};
use ribwright_kernel::{Level, Registry, Work, work_out};
use ribwright_tests::case::{element, profile};
use std::sync::Arc;

type V = Vector3<f64>;

/// Relative agreement: the trim moves sheets outward by some 1e-11 of the work's size, which in a wedge of
/// two degrees is a few 1e-9 of its thickness.
const EXACT: f64 = 3.0e-8;
const JOINTS: [&str; 3] = ["true", "mitre", "auto"];

fn rib() -> Arc<Profile> {
    profile(
        "trapezoid",
        &[
            ("pitch", 200.0),
            ("depth", 40.0),
            ("crest", 70.0),
            ("valley", 70.0),
            ("thickness", 2.0),
            ("bend_radius", 0.0),
        ],
    )
    .unwrap_or_else(|e| panic!("{e}"))
}

fn flat() -> Arc<Profile> {
    profile("flat", &[("thickness", 2.0)]).unwrap_or_else(|e| panic!("{e}"))
}

fn solid(name: &str, planes: &[(&str, V, V)], clad: &Arc<Profile>) -> Element {
    let planes: Vec<_> = planes.iter().map(|(l, p, n)| ((*l).to_owned(), (*p).into(), (*n).into())).collect();
    let mut element = element(name, &planes).unwrap_or_else(|e| panic!("{name}: {e}"));
    element.clad(clad);
    // All ribs count from one point, so that like faces of two bodies carry the same sheet.
    for cladding in &mut element.cladding {
        cladding.through = Some(Point3::origin());
    }
    element
}

fn block(name: &str, low: [f64; 3], high: [f64; 3], clad: &Arc<Profile>) -> Element {
    let (low, high) = (V::from(low), V::from(high));
    let planes = [
        ("east", high, V::x()),
        ("west", low, -V::x()),
        ("north", high, V::y()),
        ("south", low, -V::y()),
        ("top", high, V::z()),
        ("bottom", low, -V::z()),
    ];
    solid(name, &planes, clad)
}

#[track_caller]
fn worked_out(what: &str, joint: &str, elements: &[&Element]) -> Work {
    let mut sculpture = Sculpture::new(what);
    joint.clone_into(&mut sculpture.joint.kind);
    for e in elements {
        sculpture.add((*e).clone()).unwrap_or_else(|e| panic!("{what}: {e}"));
    }
    let work = work_out(&sculpture, &Registry::standard()).unwrap_or_else(|e| panic!("{what}: {e}"));
    let open = work.findings.iter().find(|f| f.level == Level::Error && f.code != "apart");
    assert!(open.is_none(), "{what}, {joint}: {open:?}");
    work
}

#[track_caller]
fn same(what: &str, found: f64, expected: f64) {
    assert!((found - expected).abs() <= EXACT * expected, "{what}: {found} instead of {expected}");
}

/// The body of several elements is that of one, whatever they are clad in.
#[track_caller]
fn is_the_body_of(
    what: &str,
    joints: &[&str],
    clad: &Arc<Profile>,
    boxes: &[[[f64; 3]; 2]],
    one: [[f64; 3]; 2],
) {
    let elements: Vec<Element> =
        boxes.iter().zip(["A", "B", "C"]).map(|(b, name)| block(name, b[0], b[1], clad)).collect();
    for joint in joints {
        let several = worked_out(what, joint, &elements.iter().collect::<Vec<_>>());
        let one = worked_out(what, joint, &[&block("O", one[0], one[1], clad)]);
        same(&format!("{what}, {joint}: volume"), several.volume, one.volume);
        same(&format!("{what}, {joint}: area"), several.area, one.area);
    }
}

#[test]
fn boxes_set_flush_are_one_longer_box() {
    let (a, b) = ([[0.0, 0.0, 0.0], [800.0, 600.0, 700.0]], [[800.0, 0.0, 0.0], [1500.0, 600.0, 700.0]]);
    is_the_body_of("flush, flat", &JOINTS, &flat(), &[a, b], [a[0], b[1]]);
    // Ribbed ends meet crest against crest, so the second box must reach into the first.
    let sunk = [[700.0, 0.0, 0.0], b[1]];
    is_the_body_of("flush, ribbed", &["true"], &rib(), &[a, sunk], [a[0], b[1]]);
    let tall = [[0.0, 0.0, 600.0], [800.0, 600.0, 1500.0]];
    is_the_body_of("stacked flush", &["true"], &rib(), &[a, tall], [a[0], tall[1]]);
}

#[test]
fn a_box_inside_another_adds_nothing() {
    let outer = [[0.0, 0.0, 0.0], [1000.0, 1000.0, 1000.0]];
    let inner = [[300.0, 300.0, 300.0], [600.0, 700.0, 700.0]];
    let touching = [[300.0, 300.0, 300.0], [600.0, 700.0, 1000.0]];
    for clad in [flat(), rib()] {
        is_the_body_of("inside", &JOINTS, &clad, &[outer, inner], outer);
        is_the_body_of("inside, in one plane with the top", &["true"], &clad, &[outer, touching], outer);
        is_the_body_of("the same twice", &["true"], &clad, &[outer, outer], outer);
    }
}

#[test]
fn boxes_that_cross_or_rest_have_the_volume_and_surface_of_their_union() {
    // Volume and surface by hand: the parts that are inside count once, the hidden faces not at all.
    let beam = [[-1000.0, -200.0, 0.0], [1000.0, 200.0, 400.0]];
    let cases = [
        ("cross in one plane", [[-200.0, -1000.0, 0.0], [200.0, 1000.0, 400.0]], 0.576e9, 6.08e6),
        ("cross, raised", [[-200.0, -1000.0, 100.0], [200.0, 1000.0, 600.0]], 0.672e9, 6.72e6),
        ("resting", [[-300.0, -100.0, 400.0], [500.0, 100.0, 900.0]], 0.4e9, 4.52e6),
        ("corner to corner", [[1000.0, 200.0, 400.0], [1100.0, 300.0, 500.0]], 0.321e9, 3.58e6),
    ];
    for (what, second, volume, surface) in cases {
        for joint in JOINTS {
            let (a, b) = (block("A", beam[0], beam[1], &flat()), block("B", second[0], second[1], &flat()));
            let work = worked_out(what, joint, &[&a, &b]);
            same(&format!("{what}, {joint}: volume"), work.volume, volume);
            same(&format!("{what}, {joint}: surface"), work.area, surface);
        }
    }
}

/// The mean of a symmetrical profile is mid-depth, so over whole pitches it takes as much as it gives.
#[test]
fn a_wedge_of_any_angle_with_ribs_down_its_slopes_has_the_volume_of_the_flat_one() {
    for degrees in [2.0, 20.0, 90.0, 160.0, 178.0_f64] {
        let half = degrees.to_radians() / 2.0;
        let (length, depth) = (1000.0, if degrees > 150.0 { 300.0 } else { 3000.0 });
        let wall = depth * half.tan() * 0.5;
        let clad = flat();
        let planes = [
            ("front", V::zeros(), V::new(0.0, half.cos(), half.sin())),
            ("back", V::zeros(), V::new(0.0, -half.cos(), half.sin())),
            ("foot", V::new(0.0, 0.0, -depth), -V::z()),
            ("left", V::zeros(), -V::x()),
            ("right", V::new(length, 0.0, 0.0), V::x()),
            ("north", V::new(0.0, wall, 0.0), V::y()),
            ("south", V::new(0.0, -wall, 0.0), -V::y()),
        ];
        let mut wedge = solid("W", &planes, &clad);
        for (label, down) in [("front", 1.0), ("back", -1.0)] {
            let cladding = wedge.face_mut(label).unwrap_or_else(|e| panic!("{e}"));
            cladding.profile = Some(rib());
            cladding.along = Some(V::new(0.0, down * half.sin(), -half.cos()));
        }
        let work = worked_out(&format!("wedge of {degrees} degrees"), "true", &[&wedge]);
        // Two slopes of like height f(x) shift the roof by f / sin(half), which has no mean; the volume
        // is linear in it because the walls, not the foot, end the slopes.
        let volume = length * (2.0 * wall * depth - wall * wall / half.tan());
        same(&format!("wedge of {degrees} degrees"), work.volume, volume);
    }
}

#[test]
fn a_corner_of_four_faces_closes_clad_flat_and_ribbed() {
    let slope = 50.0_f64.to_radians();
    let apex = V::new(0.0, 0.0, 1000.0);
    let planes: Vec<(&str, V, V)> =
        [("east", 1.0, 0.0), ("north", 0.0, 1.0), ("west", -1.0, 0.0), ("south", 0.0, -1.0)]
            .iter()
            .map(|(label, x, y)| (*label, apex, V::new(x * slope.sin(), y * slope.sin(), slope.cos())))
            .chain([("foot", V::zeros(), -V::z())])
            .collect();
    let half = 1000.0 / slope.tan();
    for joint in JOINTS {
        let work = worked_out("pyramid", joint, &[&solid("Y", &planes, &flat())]);
        same("pyramid: volume", work.volume, 4.0 * half * half * 1000.0 / 3.0);
        assert_eq!(work.seams.len(), 8, "pyramid, {joint}: seams");
        let ribbed = worked_out("ribbed pyramid", joint, &[&solid("Y", &planes, &rib())]);
        assert!((ribbed.volume / work.volume - 1.0).abs() < 0.05, "{joint}: {}", ribbed.volume);
    }
}

#[test]
fn a_face_covered_across_its_middle_comes_in_two_pieces_though_every_strip_runs_on() {
    // A flat block lies across a beam: what is left of the beam's top is 700 mm at either end.
    for clad in [flat(), rib()] {
        let mut beam = block("A", [-1000.0, -200.0, 0.0], [1000.0, 200.0, 400.0], &flat());
        let top = beam.face_mut("top").unwrap_or_else(|e| panic!("{e}"));
        top.profile = Some(clad.clone());
        top.along = Some(V::x());
        let across = block("B", [-300.0, -500.0, 300.0], [300.0, 500.0, 900.0], &flat());
        for joint in JOINTS {
            let work = worked_out("beam", joint, &[&beam, &across]);
            let top =
                work.faces.iter().find(|f| f.id == "A/top").map(|f| f.pieces.clone()).unwrap_or_default();
            assert_eq!(top.len(), 2, "{joint}, {}: {top:?}", clad.kind());
            same("the two ends are alike", top[0], top[1]);
            let parts = work.parts.iter().filter(|p| p.face == "A/top").count();
            assert_eq!(parts, 2, "{joint}, {}: parts", clad.kind());
        }
    }
}
