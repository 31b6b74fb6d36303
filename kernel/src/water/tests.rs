//! Tests of water outside; built with `#[cfg(test)]` only.

use super::standing::Least;
use super::*;
use crate::mesh::Mesh;
use crate::mesh::samples::{corrugated, cuboid};
use crate::part::Frame;
use nalgebra::{Point3, Rotation3, Vector3};

#[track_caller]
fn near(found: f64, expected: f64, share: f64) {
    assert!((found - expected).abs() <= share * expected.abs(), "{found} is not {expected}");
}

const DROP: Least = Least { depth: 0.01, volume: 1.0 };

/// A bar along x with a groove along its top: 1000 long, 200 wide, the groove 100 wide and 50 deep with flat walls at 45
/// degrees; its ends open, or closed by walls 60 thick.
fn trough(closed: bool) -> Mesh {
    let across = [
        [0.0, 0.0],
        [200.0, 0.0],
        [200.0, 100.0],
        [150.0, 100.0],
        [100.0, 50.0],
        [50.0, 100.0],
        [0.0, 100.0],
    ];
    let pieces: [&[u32]; 3] = [&[0, 1, 4], &[1, 2, 3, 4], &[0, 4, 5, 6]];
    let plain: [[f64; 2]; 7] = [
        [0.0, 0.0],
        [200.0, 0.0],
        [200.0, 100.0],
        [150.0, 100.0],
        [100.0, 100.0],
        [50.0, 100.0],
        [0.0, 100.0],
    ];
    // Stations along x, with what the section is between them.
    let mut mesh = Mesh { names: vec!["A/side".into(), "A/top".into()], ..Mesh::default() };
    let stations: Vec<(f64, bool)> = if closed {
        vec![(0.0, false), (60.0, false), (60.0, true), (940.0, true), (940.0, false), (1000.0, false)]
    } else {
        vec![(0.0, true), (1000.0, true)]
    };
    for (x, grooved) in &stations {
        let section = if *grooved { &across } else { &plain };
        mesh.points.extend(section.iter().map(|p| Point3::new(*x, p[0], p[1])));
    }
    let mut add = |t: [u32; 3], part: u32| {
        mesh.triangles.push(t);
        mesh.part_of.push(part);
    };
    let mut s = 0;
    while s + 1 < stations.len() {
        let (a, b) = (7 * s as u32, 7 * (s as u32 + 1));
        if stations[s].0 == stations[s + 1].0 {
            // The end of the groove: corners 3, 4, 5 of one plane; which side it looks to follows from the order.
            let (plain, deep) = if stations[s].1 { (b, a) } else { (a, b) };
            // Corners 3 and 5 are the same places in both: joined by hand below.
            let end =
                if stations[s].1 { [plain + 4, deep + 3, deep + 4] } else { [plain + 4, deep + 4, deep + 3] };
            let other =
                if stations[s].1 { [plain + 4, deep + 4, deep + 5] } else { [plain + 4, deep + 5, deep + 4] };
            add(end, 0);
            add(other, 0);
            s += 1;
            continue;
        }
        for k in 0..7_u32 {
            let n = (k + 1) % 7;
            let part = u32::from((3..5).contains(&k));
            add([a + k, b + n, b + k], part);
            add([a + k, a + n, b + n], part);
        }
        s += 1;
    }
    for (base, start) in [(0, true), (7 * (stations.len() as u32 - 1), false)] {
        for piece in pieces {
            for k in 1..piece.len() - 1 {
                let [p, q, r] = [piece[0], piece[k], piece[k + 1]].map(|i| i + base);
                add(if start { [p, r, q] } else { [p, q, r] }, 0);
            }
        }
    }
    weld(mesh)
}

/// Points at one place made one, and triangles without area left out.
fn weld(mesh: Mesh) -> Mesh {
    let mut points: Vec<Point3<f64>> = Vec::new();
    let number: Vec<u32> = mesh
        .points
        .iter()
        .map(|p| {
            let found = points.iter().position(|q| (p - q).norm() < 1e-9).unwrap_or_else(|| {
                points.push(*p);
                points.len() - 1
            });
            found as u32
        })
        .collect();
    let mut out = Mesh { points, names: mesh.names.clone(), ..Mesh::default() };
    for (t, part) in mesh.triangles.iter().zip(&mesh.part_of) {
        let t = t.map(|k| number[k as usize]);
        if t[0] != t[1] && t[1] != t[2] && t[2] != t[0] {
            out.triangles.push(t);
            out.part_of.push(*part);
        }
    }
    out
}

#[test]
fn an_open_trough_runs_off_and_a_closed_one_holds_its_groove() {
    let up = Vector3::z_axis();
    let open = trough(false);
    assert!(open.is_watertight(), "{:?}", open.unmatched_edges());
    assert!(Outdoors::new(&open).unwrap().hollows(up, DROP).is_empty());
    let closed = trough(true);
    assert!(closed.is_watertight(), "{:?}", closed.unmatched_edges());
    near(closed.volume(), 1000.0 * 200.0 * 100.0 - 880.0 * 2500.0, 1e-12);
    let outdoors = Outdoors::new(&closed).unwrap();
    let found = outdoors.hollows(up, DROP);
    assert_eq!(found.len(), 1);
    near(found[0].volume, 880.0 * 2500.0, 1e-9);
    near(found[0].depth, 50.0, 1e-9);
    near(found[0].surface, 880.0 * 100.0, 1e-9);
    assert_eq!(found[0].walls, ["A/side", "A/top"]);
    // Tilted along by less than the groove's own end allows it still stands; across by 45° it has run off.
    assert!(!outdoors.hollows(Tilt { angle: 20.0, toward: 0.0 }.up(), DROP).is_empty());
    assert!(outdoors.hollows(Tilt { angle: 46.0, toward: 90.0 }.up(), DROP).is_empty());
    let all: Vec<&Hollow> = found.iter().collect();
    let tilt = outdoors.draining_tilt(60.0, DROP, &all).unwrap();
    assert!((tilt.angle - 45.0).abs() < 0.3, "{tilt:?}");
    assert!(outdoors.hollows(tilt.up(), DROP).is_empty(), "the proposed tilt drains it");
}

/// A corrugated block whose ribs lie on top, running along x with a slope of `degrees`, or across.
fn roof(degrees: f64, across: f64) -> Mesh {
    let mut mesh = corrugated("A", 4, 200.0, 40.0, 300.0, 1000.0);
    // Ribs are upright on the south side: lay it on its back, south up.
    let lay = Rotation3::from_axis_angle(&Vector3::x_axis(), -std::f64::consts::FRAC_PI_2);
    let along = Rotation3::from_axis_angle(&Vector3::x_axis(), degrees.to_radians());
    let side = Rotation3::from_axis_angle(&Vector3::y_axis(), across.to_radians());
    let turn = side * along * lay;
    mesh.points.iter_mut().for_each(|p| *p = turn * *p);
    mesh
}

#[test]
fn a_corrugated_roof_drains_along_its_ribs_and_not_across_them() {
    let of = |along: f64, across: f64| {
        let mesh = roof(along, across);
        assert!(mesh.is_watertight());
        Outdoors::new(&mesh).unwrap().hollows(Vector3::z_axis(), DROP)
    };
    // Valleys are open at both ends: nothing stands whichever way they fall, nor across.
    assert_eq!(of(2.0, 0.0), []);
    assert_eq!(of(0.0, 3.0), []);
    assert_eq!(of(1.0, 20.0), []);
}

#[test]
fn ribs_at_the_limit_pass_and_below_it_the_smallest_turn_is_told() {
    let frame = |slope: f64, turned: f64| {
        // A face rising toward −x, its ribs turned away from the steepest line.
        let n = Vector3::new(slope.sin(), 0.0, slope.cos());
        let down = Vector3::new(slope.cos(), 0.0, -slope.sin());
        let level = Vector3::y();
        let u = down * turned.cos() + level * turned.sin();
        Frame { origin: Point3::origin(), u, v: n.cross(&u), n }
    };
    let limit = (1.0_f64 / 48.0).atan();
    assert_eq!(fall(&frame(limit, 0.0), limit).unwrap().remedy, None);
    let flat = fall(&frame(limit / 2.0, 0.0), limit).unwrap();
    match flat.remedy {
        Some(Turn::Face(by)) => near(by, limit / 2.0, 1e-9),
        other => panic!("{other:?}"),
    }
    // A slope of ten degrees with ribs across it: turned until they fall enough, and then they do.
    let slope = 10.0_f64.to_radians();
    for turned in [90.0_f64, 87.0, 84.0] {
        let turned = turned.to_radians();
        let found = fall(&frame(slope, turned), limit).unwrap();
        near(found.along.sin() + 1.0, slope.sin() * turned.cos() + 1.0, 1e-12);
        match found.remedy {
            Some(Turn::Ribs(by)) => {
                let after = fall(&frame(slope, turned - by), limit).unwrap();
                near(after.along, limit, 1e-9);
                assert_eq!(after.remedy, None);
            }
            None => assert!(found.along >= limit),
            other => panic!("{other:?}"),
        }
    }
    // Walls and ceilings have no fall to speak of.
    assert_eq!(fall(&frame(std::f64::consts::FRAC_PI_2, 0.0), limit), None);
}

#[test]
fn a_block_holds_no_water_however_it_is_tilted() {
    let outdoors = Outdoors::new(&cuboid("A", [0.0; 3], [300.0, 200.0, 100.0])).unwrap();
    for tilt in [0.0, 10.0, 80.0] {
        assert!(outdoors.hollows(Tilt { angle: tilt, toward: 30.0 }.up(), DROP).is_empty());
    }
}

#[test]
fn rust_takes_what_the_power_law_says() {
    // 25, 50 and 80 µm in the first year: 20, 50 and 100 years, worked out by hand from D = r tᵇ.
    for (years, expected) in
        [(20.0, [119.8, 239.6, 383.3]), (50.0, [193.4, 386.8, 618.9]), (100.0, [277.9, 555.9, 889.4])]
    {
        for (category, loss) in ["C2", "C3", "C4"].iter().zip(expected) {
            let first = corrosion::first_year(category).unwrap();
            assert!((corrosion::loss(first, years) - loss).abs() < 0.06, "{category} {years}");
        }
    }
    assert_eq!(corrosion::first_year("C9"), None);
    assert!(corrosion::CATEGORIES.iter().all(|c| corrosion::first_year(c).is_some()));
}
