//! Enlargement against closed forms.

use super::*;
use crate::maquette::{Distance, Face, Options, Source, solve};
use nalgebra::Vector3;

/// A right prism of 100 × 80 × 60 with one corner column leaning by `lean` along x, all distances exact.
fn block(lean: f64) -> (Readings, Solved) {
    let corner = |k: usize| {
        let (i, j, m) = ((k & 1) as f64, (k >> 1 & 1) as f64, (k >> 2 & 1) as f64);
        [100.0 * i + lean * m * i, 80.0 * j, 60.0 * m]
    };
    let points: Vec<[f64; 3]> = (0..8).map(corner).collect();
    let pairs = (0..8_usize).flat_map(|a| (a + 1..8).map(move |b| [a, b]));
    let distances = pairs
        .map(|between| {
            let [a, b] = between.map(|p| points[p]);
            let length = (0..3).map(|i| (a[i] - b[i]).powi(2)).sum::<f64>().sqrt();
            Distance { between, length, deviation: 0.3, source: Source::default() }
        })
        .collect();
    let face = |label: &str, corners: [usize; 4]| Face {
        element: "A".to_owned(),
        label: label.to_owned(),
        corners: corners.to_vec(),
        ribs: None,
        source: Source::default(),
    };
    let readings = Readings {
        points: (0..8).map(|k| format!("P{k}")).collect(),
        distances,
        faces: vec![
            face("bottom", [0, 1, 3, 2]),
            face("top", [4, 5, 7, 6]),
            face("west", [0, 2, 6, 4]),
            face("east", [1, 3, 7, 5]),
            face("south", [0, 1, 5, 4]),
            face("north", [2, 3, 7, 6]),
        ],
        outside: vec![[4, 5, 7]],
        ..Readings::default()
    };
    let solved = solve(&readings, &Options::default()).map_err(|e| e.error).expect("solves");
    (readings, solved)
}

fn how(size: Size, inward: f64, tidy: Vec<Tidy>) -> Enlarge {
    Enlarge { size, inward, lap: LAP, tidy }
}

/// Rounding of lengths of a thousand mm.
const EXACT: f64 = 1.0e-6;

#[track_caller]
fn near(found: f64, want: f64) {
    assert!((found - want).abs() < EXACT * want.abs().max(1.0), "{found}, not {want}");
}

#[test]
fn the_scale_comes_from_a_number_a_length_or_a_pitch() {
    let (readings, solved) = block(0.0);
    let length = Size::Length(["P0".to_owned(), "P1".to_owned()], 1250.0);
    for (size, want) in
        [(Size::Factor(10.0), 10.0), (length, 12.5), (Size::Pitch { model: 8.0, real: 200.0 }, 25.0)]
    {
        let made = enlarge(&readings, &solved, 0.2, &how(size, 0.0, Vec::new())).expect("enlarges");
        near(made.scale, want);
        near(made.elements[0].solid.volume(), 480_000.0 * want.powi(3));
        assert!(made.elements[0].solid.lowest_z().abs() < EXACT, "it stands on the ground");
    }
    for (size, says) in [
        (Size::Factor(0.0), "times as large"),
        (Size::Length(["P0".to_owned(), "P9".to_owned()], 1000.0), "unknown point"),
        (Size::Pitch { model: 0.0, real: 200.0 }, "times as large"),
    ] {
        let error = enlarge(&readings, &solved, 0.2, &how(size, 0.0, Vec::new())).expect_err("refused");
        assert!(error.to_string().contains(says), "{error}");
    }
}

/// Closed form: a box loses twice the thickness along each axis.
#[test]
fn the_thickness_of_the_card_comes_off_all_faces() {
    let (readings, solved) = block(0.0);
    let made = enlarge(&readings, &solved, 0.2, &how(Size::Factor(10.0), 1.5, Vec::new())).expect("enlarges");
    near(made.elements[0].solid.volume(), 970.0 * 770.0 * 570.0);
    let error =
        enlarge(&readings, &solved, 0.2, &how(Size::Factor(10.0), 30.0, Vec::new())).expect_err("refused");
    assert!(error.to_string().contains("thickness in mm on the maquette"), "{error}");
}

/// Closed form: the east face leans by 8 over 60; the least sum of squares turns it about the middle of its height, so
/// that each of its corners moves by 4 across, its neighbours staying flat as they were.
#[test]
fn a_leaning_face_is_made_plumb_by_the_least_moves() {
    let (readings, solved) = block(8.0);
    for tidy in [Tidy::Plumb("A/east".to_owned()), Tidy::Parallel("A/east".to_owned(), "A/west".to_owned())] {
        let made = enlarge(&readings, &solved, 0.2, &how(Size::Factor(10.0), 0.0, vec![tidy.clone()]))
            .expect("tidies");
        let solid = &made.elements[0].solid;
        let face = |label: &str| &solid.faces[solid.face_index(label).expect("there")];
        let turn = face("east").normal.dot(&face("west").normal);
        match tidy {
            Tidy::Plumb(_) => {
                assert!(face("east").normal.z.abs() < EXACT, "{}", face("east").normal);
                let moved: Vec<f64> = made.moved[0].points.iter().map(|(_, by)| *by).collect();
                assert_eq!(moved.len(), 4);
                moved.iter().for_each(|by| near(*by, 4.0));
                near(solid.volume(), 1040.0 * 800.0 * 600.0);
            }
            _ => near(turn, -1.0),
        }
    }
}

#[test]
fn a_level_face_is_level_and_an_element_keeps_so_many_sides() {
    let (readings, solved) = block(8.0);
    let tidy = vec![Tidy::Level("A/top".to_owned()), Tidy::MostSides("A".to_owned(), 6)];
    let made = enlarge(&readings, &solved, 0.2, &how(Size::Factor(1.0), 0.0, tidy)).expect("tidies");
    assert!(made.moved.iter().all(|m| m.points.is_empty()), "nothing was to be done: {:?}", made.moved);
    // Without one of its six faces a block is open.
    let five = vec![Tidy::MostSides("A".to_owned(), 5)];
    let error = enlarge(&readings, &solved, 0.2, &how(Size::Factor(1.0), 0.0, five)).expect_err("open");
    assert!(error.to_string().contains("fewer than 6 faces"), "{error}");
    for tidy in
        [Tidy::Plumb("A/est".to_owned()), Tidy::MostSides("B".to_owned(), 5), Tidy::Level("top".to_owned())]
    {
        let error =
            enlarge(&readings, &solved, 0.2, &how(Size::Factor(1.0), 0.0, vec![tidy])).expect_err("unknown");
        assert!(error.to_string().contains("unknown"), "{error}");
    }
}

/// Closed form: a cube of 100 with one corner cut off 20 along each edge; the cut holds 20³ / 6.
#[test]
fn the_face_whose_loss_changes_least_is_dropped() {
    let mut planes = Vec::new();
    for (k, label) in ["x", "y", "z"].into_iter().enumerate() {
        let axis = Vector3::ith(k, 1.0);
        planes.push((format!("+{label}"), Point3::from(axis * 100.0), axis));
        planes.push((format!("-{label}"), Point3::origin(), -axis));
    }
    planes.push(("cut".to_owned(), Point3::new(80.0, 100.0, 100.0), Vector3::new(1.0, 1.0, 1.0)));
    let solid = Solid::from_planes("A", planes).expect("a solid");
    let readings = Readings { points: (0..3).map(|k| format!("P{k}")).collect(), ..Readings::default() };
    let count = solid.faces.len();
    let mut corners = vec![Vec::new(); count];
    corners[count - 1] = vec![0, 1, 2];
    let mut elements = vec![MadeElement { solid, points: vec![0, 1, 2], corners, ribs: vec![None; count] }];
    let mut findings = Vec::new();
    let moved = fewer(&mut elements, "A", 6, &readings, &mut findings).expect("six are enough");
    near(elements[0].solid.volume(), 1.0e6);
    assert!(elements[0].solid.face_index("cut").is_err());
    // The three corners of the cut become the one of the cube, 20 further along their edges.
    assert_eq!(moved.points.len(), 3);
    moved.points.iter().for_each(|(_, by)| near(*by, 20.0));
    let share = 100.0 * (8000.0 / 6.0) / (1.0e6 - 8000.0 / 6.0);
    assert!(findings[0].message.contains(&format!("{share:.2} %")), "{}", findings[0].message);
}

/// Closed form: a cube on a cube, the upper one longer by the lap.
#[test]
fn an_element_reaches_into_the_one_below() {
    let block = |name: &str, low: f64| {
        let mut planes = Vec::new();
        for (k, label) in ["x", "y"].into_iter().enumerate() {
            let axis = Vector3::ith(k, 1.0);
            planes.push((format!("+{label}"), Point3::from(axis * 1000.0), axis));
            planes.push((format!("-{label}"), Point3::origin(), -axis));
        }
        planes.push(("top".to_owned(), Point3::new(0.0, 0.0, low + 1000.0), Vector3::z()));
        planes.push(("bottom".to_owned(), Point3::new(0.0, 0.0, low), -Vector3::z()));
        Solid::from_planes(name, planes).expect("a solid")
    };
    let element = |name: &str, low: f64, top: [usize; 4], bottom: [usize; 4]| {
        let mut corners = vec![Vec::new(); 4];
        corners.extend([top.to_vec(), bottom.to_vec()]);
        MadeElement { solid: block(name, low), points: Vec::new(), corners, ribs: vec![None; 6] }
    };
    let upper = element("B", 1000.0, [8, 9, 10, 11], [4, 5, 6, 7]);
    let mut elements = vec![element("A", 0.0, [4, 5, 6, 7], [0, 1, 2, 3]), upper];
    let mut findings = Vec::new();
    lapped(&mut elements, 60.0, &mut findings).expect("laps");
    near(elements[0].solid.volume(), 1.0e9);
    near(elements[1].solid.volume(), 1.06e9);
    assert_eq!(findings.len(), 1);
    assert!(lapped(&mut elements, -1.0, &mut findings).is_err());
}
