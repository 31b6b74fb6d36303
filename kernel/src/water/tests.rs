//! Tests of water outside; built with `#[cfg(test)]` only.

use super::standing::Least;
use super::*;
use crate::mesh::Mesh;
use crate::mesh::samples::cuboid;
use crate::part::Frame;
use crate::sculpture::Sculpture;
use crate::settings::Value;
use crate::tube::Tube;
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

/// A block with trapezoid ribs on top that run along y: crests and valleys 0.3 of a pitch wide, webs 0.2; its valleys open at
/// both ends, or closed by walls as high as the crests.
struct Roof {
    valleys: usize,
    pitch: f64,
    depth: f64,
    length: f64,
    wall: Option<f64>,
}

impl Roof {
    fn mesh(&self) -> Mesh {
        let height = 200.0;
        let mut across = vec![(0.0, false)];
        for k in 0..self.valleys {
            let x = k as f64 * self.pitch;
            across.extend(
                [(0.15, false), (0.35, true), (0.65, true), (0.85, false)]
                    .map(|(t, low)| (x + t * self.pitch, low)),
            );
        }
        across.push((self.valleys as f64 * self.pitch, false));
        let n = across.len() as u32;
        let stations: Vec<(f64, bool)> = match self.wall {
            None => vec![(0.0, true), (self.length, true)],
            Some(w) => {
                let (a, b) = (w, self.length - w);
                vec![(0.0, false), (a, false), (a, true), (b, true), (b, false), (self.length, false)]
            }
        };
        let mut mesh = Mesh { names: vec!["A/side".into(), "A/top".into()], ..Mesh::default() };
        for &(y, ribbed) in &stations {
            let top = |low: bool| if low && ribbed { height - self.depth } else { height };
            mesh.points.extend(across.iter().map(|&(x, low)| Point3::new(x, y, top(low))));
            mesh.points.extend(across.iter().map(|&(x, _)| Point3::new(x, y, 0.0)));
        }
        let mut quad = |q: [u32; 4], part: u32| {
            mesh.triangles.extend([[q[0], q[1], q[2]], [q[0], q[2], q[3]]]);
            mesh.part_of.extend([part, part]);
        };
        let last = stations.len() as u32 - 1;
        for s in 0..last {
            let (a, b) = (2 * n * s, 2 * n * (s + 1));
            let step = stations[s as usize].0 == stations[s as usize + 1].0;
            let opens = stations[s as usize + 1].1;
            for i in 0..n - 1 {
                match (step, opens) {
                    (true, true) => quad([b + i, a + i, a + i + 1, b + i + 1], 0),
                    (true, false) => quad([a + i, a + i + 1, b + i + 1, b + i], 0),
                    (false, _) => {
                        quad([a + i, a + i + 1, b + i + 1, b + i], 1);
                        quad([a + n + i, b + n + i, b + n + i + 1, a + n + i + 1], 0);
                    }
                }
            }
            if !step {
                quad([a, b, b + n, a + n], 0);
                let m = n - 1;
                quad([b + m, a + m, a + n + m, b + n + m], 0);
            }
        }
        let e = 2 * n * last;
        for i in 0..n - 1 {
            quad([n + i, n + i + 1, i + 1, i], 0);
            quad([e + n + i + 1, e + n + i, e + i, e + i + 1], 0);
        }
        weld(mesh)
    }

    /// What one valley holds when the roof leans by `degrees` square to its ribs, mm³: between the sheet and the level
    /// through its lower crest, by hand.
    fn holds(&self, degrees: f64) -> f64 {
        let (d, f, w) = (self.depth, 0.3 * self.pitch, 0.2 * self.pitch);
        let fall = degrees.to_radians().tan();
        let low = d - w * fall;
        let high = d - (w + f) * fall;
        assert!(high > 0.0, "the level meets the far web");
        let section = low * w / 2.0 + f * (low + high) / 2.0 + high * high / (fall + d / w) / 2.0;
        section * (self.length - 2.0 * self.wall.unwrap_or(0.0))
    }
}

/// Leans it: `across` lowers its right side, `along` its far end, degrees.
fn leaning(mesh: &Mesh, across: f64, along: f64) -> Mesh {
    let turn = Rotation3::from_axis_angle(&Vector3::y_axis(), across.to_radians())
        * Rotation3::from_axis_angle(&Vector3::x_axis(), -along.to_radians());
    let mut mesh = mesh.clone();
    mesh.points.iter_mut().for_each(|p| *p = turn * *p);
    mesh
}

#[test]
fn ribs_down_a_roof_hold_nothing_and_ribs_across_hold_the_closed_form_in_each_valley() {
    let open = Roof { valleys: 4, pitch: 200.0, depth: 40.0, length: 1000.0, wall: None }.mesh();
    assert!(open.is_watertight(), "{:?}", open.unmatched_edges());
    assert!(open.volume() > 0.0);
    let stands = |mesh: &Mesh| Outdoors::new(mesh).unwrap().hollows(Vector3::z_axis(), DROP);
    // Open at their ends, level ribs and ribs down the slope run off, whichever way it leans beside.
    for (across, along) in [(0.0, 0.0), (0.0, 2.0), (3.0, 0.0), (3.0, 1.2), (20.0, 1.0)] {
        assert_eq!(stands(&leaning(&open, across, along)), [], "{across} {along}");
    }
    let roof = Roof { valleys: 4, pitch: 200.0, depth: 40.0, length: 1000.0, wall: Some(50.0) };
    let closed = roof.mesh();
    assert!(closed.is_watertight(), "{:?}", closed.unmatched_edges());
    for degrees in [0.0, 1.1935, 3.0, 10.0, 20.0] {
        let found = stands(&leaning(&closed, degrees, 0.0));
        assert_eq!(found.len(), 4, "{degrees}");
        for hollow in &found {
            near(hollow.volume, roof.holds(degrees), 1e-9);
        }
    }
    // Level and full: depth times the mean width.
    near(roof.holds(0.0), 40.0 * 100.0 * 900.0, 1e-12);
}

#[test]
fn a_hole_leaves_what_lies_below_its_rim_and_nothing_where_it_is_lowest() {
    let closed = trough(true);
    let outdoors = Outdoors::new(&closed).unwrap();
    let up = Vector3::z_axis();
    let hole = |height: f64, reach: f64| {
        // On the web from the groove's line at y = 100, z = 50 up at 45 degrees.
        let place = Point3::new(500.0, 100.0 + height, 50.0 + height);
        standing::Hole { wall: "A/top".into(), place, reach, off: 0.1 }
    };
    assert!(outdoors.drained(up, DROP, &[hole(10.0, 10.0)]).is_empty());
    for rim in [5.0, 20.0, 40.0] {
        let left = outdoors.drained(up, DROP, &[hole(rim + 7.0, 7.0)]);
        assert_eq!(left.len(), 1);
        // A groove at 45 degrees: as wide as twice its depth. Its ends are upright.
        near(left[0].volume, rim * rim * 880.0, 1e-9);
        near(left[0].depth, rim, 1e-9);
        // A second hole lower down decides.
        let both = outdoors.drained(up, DROP, &[hole(rim + 7.0, 7.0), hole(12.0, 9.0)]);
        near(both[0].volume, 9.0 * 880.0, 1e-9);
    }
    // Above the pass it drains nothing.
    assert_eq!(outdoors.drained(up, DROP, &[hole(49.0, -2.0)]).len(), 1);
    // Two grooves: a hole in one leaves the other.
    let roof = Roof { valleys: 2, pitch: 200.0, depth: 40.0, length: 1000.0, wall: Some(50.0) };
    let outdoors = Outdoors::new(&roof.mesh()).unwrap();
    let floor = standing::Hole {
        wall: "A/top".into(),
        place: Point3::new(100.0, 500.0, 160.0),
        reach: 0.0,
        off: 0.1,
    };
    let left = outdoors.drained(up, DROP, &[floor]);
    assert_eq!(left.len(), 1);
    assert!(left[0].lowest.x > 200.0);
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

#[test]
fn wear_is_the_loss_of_each_face_and_a_worn_tube_keeps_the_middle_of_its_wall() {
    // C3 outside, C2 inside, 50 years: 386.8 and 193.4 µm (worked out by hand from D = r tᵇ, b = 0.523).
    let mut sculpture = Sculpture::new("worn");
    assert!(Wear::of(&sculpture).unwrap().is_none(), "none unless asked for");
    let settings =
        |given: &[(&str, Value)]| given.iter().map(|(k, v)| ((*k).to_owned(), v.clone())).collect();
    sculpture.stages.insert("water".into(), settings(&[]));
    let wear = Wear::of(&sculpture).unwrap();
    assert!((wear.outside - 0.3868).abs() < 1e-4 && (wear.inside - 0.1934).abs() < 1e-4, "{wear:?}");
    assert!(wear.tube_inside == 0.0, "capped");
    near(wear.sheet(2.0), 2.0 - wear.outside - wear.inside, 1e-12);
    assert!(wear.sheet(0.5) == 0.0);
    let tube = Tube::new(114.3, 5.0).unwrap();
    let worn = wear.tube(&tube).unwrap();
    near(worn.inside(), tube.inside(), 1e-12);
    near(worn.outside(), tube.outside() - 2.0 * wear.inside, 1e-12);
    let word = |text: &str| Value::Text(text.into());
    sculpture.stages.insert("water".into(), settings(&[("tube_inside", word("C5")), ("inside", word("C4"))]));
    let wear = Wear::of(&sculpture).unwrap();
    // 80 and 200 µm: 619.0 and 1547.4 µm.
    near(
        wear.tube(&tube).unwrap().wall(),
        5.0 - 0.080 * 50.0_f64.powf(0.523) - 0.2 * 50.0_f64.powf(0.523),
        1e-12,
    );
    assert!(wear.tube(&Tube::new(60.3, 2.0).unwrap()).is_err(), "no wall is left");
    sculpture.stages.insert("water".into(), settings(&[("allowance", Value::Flag(false))]));
    assert!(Wear::of(&sculpture).unwrap().is_none());
}

/// A groove 100 wide and 50 deep at 45 degrees, closed over 880: 100 · 50 / 2 · 880 mm³ under 100 · 880 mm².
#[test]
fn a_closed_trough_filled_to_its_rim_holds_nothing_and_takes_what_stood_in_it() {
    let up = Vector3::z_axis();
    let outdoors = Outdoors::new(&trough(true)).unwrap();
    let found = outdoors.hollows(up, DROP);
    let done = filled(&outdoors, up, &[&found[0]]).unwrap();
    assert!(done.outdoors.hollows(up, DROP).is_empty());
    let triangles = |filled: &Outdoors| {
        let chamber = filled.chamber();
        (0..chamber.triangles()).map(|t| chamber.area_vector(t)).collect::<Vec<_>>()
    };
    // The top of the filling, seen from above: walls that are upright have no share.
    let areas = triangles(&done.outdoors);
    let top = (0..areas.len()).filter(|&t| done.top_of[t] == Some(0));
    near(-top.map(|t| areas[t].z).sum::<f64>(), 100.0 * 880.0, 1e-12);
    let room = |outdoors: &Outdoors| {
        let posed = crate::liquid::Posed::new(outdoors.chamber(), up);
        let high = posed.range()[1];
        posed.below(high).volume
    };
    near(room(&outdoors) - room(&done.outdoors), 100.0 * 50.0 / 2.0 * 880.0, 1e-9);
}
