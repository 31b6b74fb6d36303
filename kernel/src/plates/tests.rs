//! Tests of inside plates on small works; random works are in the tests crate; built with `#[cfg(test)]` only.

use super::*;
use crate::element::slab;
use crate::profile::{Piece, Profile};
use crate::registry::Registry;
use crate::sculpture::{Element, Sculpture};
use crate::settings::{Value, Values};
use crate::work_out;
use std::collections::BTreeMap;
use std::sync::Arc;

fn options() -> Options {
    Options {
        thickness: 5.0,
        clearance: 4.0,
        hole_clearance: 3.0,
        drains: Drains::None,
        drain_radius: 12.0,
        least_width: 20.0,
        density: 7850.0,
    }
}

/// A box 600 × 400 × 800 of flat sheet 2 mm thick.
fn box_work() -> Work {
    let list = Value::List([600.0, 400.0, 800.0].iter().map(|x| Value::Number(*x)).collect());
    let values = Values::check("slab", slab::ROW.settings, &BTreeMap::from([("size".to_owned(), list)]))
        .expect("size");
    let mut element = Element::new((slab::ROW.build)("A", &values).expect("a slab"));
    let flat = Profile::from_pieces("flat", vec![Piece::Flat { length: 100.0 }], 2.0, 0.0).expect("flat");
    element.clad(&Arc::new(flat));
    let mut sculpture = Sculpture::new("box");
    sculpture.stand(element).expect("stands");
    work_out(&sculpture, &Registry::standard()).expect("worked out")
}

fn tube(from: [f64; 3], to: [f64; 3], diameter: f64) -> Tube {
    Tube { axis: [from.into(), to.into()], diameter }
}

#[test]
fn the_plate_of_a_flat_box_is_its_inside_less_the_clearance() {
    let work = box_work();
    let cutter = Cutter::new(&work).expect("ready");
    let plate = cutter.plate(0, 400.0, None, &options()).expect("a plate");
    // Inside 598 × 398, 4 mm less on every side.
    assert!((plate.area - 590.0 * 390.0).abs() < 0.01, "{}", plate.area);
    assert!((plate.mass - plate.area * 5.0 * 7850.0e-9).abs() < 1e-12);
    for p in &plate.whole {
        assert!((p[0].abs() - 295.0).abs() < 1e-5 && (p[1].abs() - 195.0).abs() < 1e-5, "{p:?}");
    }
    let drained =
        cutter.plate(0, 400.0, None, &Options { drains: Drains::Corners, ..options() }).expect("a plate");
    assert_eq!(drained.notches, 4);
    // A quarter of each circle of 12 mm, its corners on the circle.
    let circle = 32.0 / 2.0 * (std::f64::consts::TAU / 32.0).sin() * 144.0;
    assert!((plate.area - drained.area - circle).abs() < 0.05, "{} {circle}", plate.area - drained.area);
}

/// A round tube of radius r at a slant φ meets a level plane in an ellipse of semi-axes r and r / cos φ.
#[test]
fn holes_are_the_ellipses_of_the_closed_form() {
    let work = box_work();
    let cutter = Cutter::new(&work).expect("ready");
    for degrees in [0.0_f64, 10.0, 35.0] {
        for turn in [0.0_f64, 70.0, 200.0] {
            let lean = degrees.to_radians().tan() * 400.0;
            let (sin, cos) = turn.to_radians().sin_cos();
            let leg = tube([-lean * cos, -lean * sin, 0.0], [lean * cos, lean * sin, 800.0], 60.0);
            let plate = cutter.plate(0, 397.5, Some(&leg), &options()).expect("a plate");
            let hole = plate.hole.expect("a hole");
            let r = 33.0;
            assert!(
                (hole.axes[1] - r).abs() < 1e-9
                    && (hole.axes[0] - r / degrees.to_radians().cos()).abs() < 1e-9
            );
            assert!((hole.slant.to_degrees() - degrees).abs() < 1e-9);
            let ring = plate.outlines.last().expect("the hole");
            assert!(signed_area(ring) < 0.0, "clockwise");
            for p in ring {
                // Distance of the point from the tube's axis in space is the radius with its room.
                let at = Point3::new(p[0] + plate.origin.x, p[1] + plate.origin.y, 400.0);
                let axis = (leg.axis[1] - leg.axis[0]).normalize();
                let off = (at - leg.axis[0]).cross(&axis).norm();
                assert!((off - r).abs() < 1e-9, "{off}");
            }
            let found = lugs(&plate, &leg, 4, [60.0, 30.0]).expect("lugs");
            // At 35 degrees the tube has left the plane of a lug at its side by 80 mm.
            assert_eq!(lugs(&plate, &leg, 4, [60.0, 80.0]).is_err(), degrees > 30.0);
            for lug in &found {
                // Its inner corners lie on the tube.
                let top = plate.origin.z + plate.thickness;
                let (s, c) = lug.toward.to_radians().sin_cos();
                let axis = leg.axis[0] + (leg.axis[1] - leg.axis[0]) * (top / 800.0);
                for k in [0, 4] {
                    let [x, z] = lug.outline[k];
                    let p = Point3::new(axis.x + x * c, axis.y + x * s, top + z);
                    let unit = (leg.axis[1] - leg.axis[0]).normalize();
                    assert!(((p - leg.axis[0]).cross(&unit).norm() - 30.0).abs() < 1e-9);
                }
            }
            assert!(
                (found[0].lean - degrees).abs() < 1e-9 && found[0].sag < 1e-9,
                "along the lean it is straight"
            );
        }
    }
}

#[test]
fn what_cannot_be_cut_is_refused_with_a_reason() {
    let work = box_work();
    let cutter = Cutter::new(&work).expect("ready");
    let upright = |diameter| tube([0.0; 3], [0.0, 0.0, 800.0], diameter);
    let fails = |z: f64, tube: Option<Tube>, options: Options, says: &str| {
        let error = cutter.plate(0, z, tube.as_ref(), &options).expect_err("refused");
        assert!(error.to_string().contains(says) && error.remedy_text().is_some(), "{error}");
    };
    fails(400.0, None, Options { thickness: -5.0, ..options() }, "thickness is -5");
    fails(400.0, None, Options { clearance: -1.0, ..options() }, "clearance is -1");
    fails(400.0, Some(upright(380.0)), options(), "too wide");
    fails(400.0, Some(upright(900.0)), options(), "too wide");
    fails(400.0, Some(upright(0.0)), options(), "not above 0");
    fails(900.0, None, options(), "no room");
    fails(0.5, None, options(), "no room");
    fails(400.0, None, Options { clearance: 250.0, ..options() }, "no room");
    fails(400.0, Some(tube([900.0, 0.0, 0.0], [900.0, 0.0, 800.0], 50.0)), options(), "outside the room");
    fails(400.0, Some(tube([0.0; 3], [0.0, 0.0, 300.0], 50.0)), options(), "does not pass");
    fails(400.0, Some(tube([-900.0, 0.0, 400.0], [900.0, 0.0, 420.0], 50.0)), options(), "too flat");
    fails(400.0, Some(tube([0.0; 3], [0.0; 3], 50.0)), options(), "no length");
    let plate = cutter.plate(0, 400.0, None, &options()).expect("a plate");
    assert!(lugs(&plate, &upright(60.0), 4, [60.0, 80.0]).is_err(), "no tube");
    let plate = cutter.plate(0, 400.0, Some(&upright(60.0)), &options()).expect("a plate");
    assert!(lugs(&plate, &upright(60.0), 4, [-60.0, 80.0]).is_err());
    assert!(
        lugs(&plate, &upright(60.0), 4, [400.0, 80.0])
            .expect_err("long")
            .to_string()
            .contains("beyond the plate")
    );
}
