//! Points from exact and published readings, without start values; built with `#[cfg(test)]` only.

use super::*;
use crate::adjust::tetrahedra::TETRAHEDRA;
use crate::maquette::{Distance, Face, Height, Wanted};

/// Relative agreement with whole-numbered coordinates.
const EXACT: f64 = 1.0e-9;

fn readings(count: usize, legs: &[(usize, usize, f64)], deviation: f64) -> Readings {
    Readings {
        points: (1..=count).map(|k| format!("P{k}")).collect(),
        distances: legs
            .iter()
            .map(|&(a, b, length)| Distance { between: [a, b], length, deviation, source: Source::default() })
            .collect(),
        ..Readings::default()
    }
}

fn solved(readings: &Readings) -> Solved {
    solve(readings, &Options::default()).unwrap_or_else(|e| panic!("{}", e.error))
}

fn volume(points: &[Point3<f64>]) -> f64 {
    (points[1] - points[0]).cross(&(points[2] - points[0])).dot(&(points[3] - points[0])) / 6.0
}

#[test]
fn whole_numbered_tetrahedra_come_out_exactly_and_with_the_right_hand() {
    let pairs = [(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)];
    for (corners, edges, want) in TETRAHEDRA {
        let legs: Vec<_> = pairs.iter().zip(edges).map(|(&(a, b), l)| (a, b, l)).collect();
        let mut r = readings(4, &legs, 0.3);
        let refusal = solve(&r, &Options::default()).expect_err("either hand");
        assert_eq!((refusal.why, refusal.wanted.len()), (Why::Mirror, 1), "{}", refusal.error);
        let [Wanted::Outside(three)] = refusal.wanted[..] else { panic!("{:?}", refusal.wanted) };
        let c = corners.map(Point3::from);
        for three in [three, [three[0], three[2], three[1]]] {
            r.outside = vec![three];
            let found = solved(&r);
            let points: Vec<Point3<f64>> = found.points.iter().map(|p| p.at).collect();
            assert!((volume(&points).abs() / want - 1.0).abs() < EXACT, "{}", volume(&points));
            for (checked, length) in found.readings.iter().zip(edges) {
                assert!(checked.residual.abs() < EXACT * length, "{}: {}", checked.name, checked.residual);
            }
            // Counter-clockwise from outside: the fourth corner is on the other side.
            let [a, b, c2] = three.map(|p| points[p]);
            let fourth = (0..4).find(|p| !three.contains(p)).expect("the fourth");
            assert!((b - a).cross(&(c2 - a)).dot(&(points[fourth] - a)) < 0.0);
            // It is the true figure where that one has them so too, else its mirror image.
            let [a, b, d] = three.map(|p| c[p]);
            let true_side = (b - a).cross(&(d - a)).dot(&(c[fourth] - a));
            assert_eq!(true_side < 0.0, volume(&points) * volume(&c) > 0.0, "the other hand of {edges:?}");
            assert_eq!(found.parts[0].degrees, 0);
        }
    }
}

fn corner(k: usize) -> [f64; 3] {
    [44.0 * (k & 1) as f64, 117.0 * (k >> 1 & 1) as f64, 240.0 * (k >> 2 & 1) as f64]
}

/// Euler's brick 44 × 117 × 240 (face diagonals 125, 244, 267): edges and face diagonals only.
fn brick() -> Readings {
    let legs: Vec<(usize, usize, f64)> = (0..8_usize)
        .flat_map(|a| (a + 1..8).map(move |b| (a, b)))
        .filter(|(a, b)| (a ^ b).count_ones() < 3)
        .map(|(a, b)| (a, b, [0.0, 44.0, 117.0, 125.0, 240.0, 244.0, 267.0][a ^ b]))
        .collect();
    let mut r = readings(8, &legs, 0.3);
    let face = |label: &str, corners: [usize; 4]| Face {
        element: "A".to_owned(),
        label: label.to_owned(),
        corners: corners.to_vec(),
        ribs: None,
        source: Source::default(),
    };
    r.faces = vec![
        face("bottom", [0, 1, 3, 2]),
        face("top", [4, 5, 7, 6]),
        face("west", [0, 2, 6, 4]),
        face("east", [1, 3, 7, 5]),
        face("south", [0, 1, 5, 4]),
        face("north", [2, 3, 7, 6]),
    ];
    r.outside = vec![[4, 5, 7]];
    r
}

#[test]
fn eulers_brick_comes_out_of_its_24_whole_distances() {
    let found = solved(&brick());
    let p = |k: usize| found.points[k].at;
    for a in 0..8 {
        for b in 0..a {
            let want = (Point3::from(corner(a)) - Point3::from(corner(b))).norm();
            assert!(((p(a) - p(b)).norm() - want).abs() < EXACT * want, "{a} to {b}");
        }
    }
    assert!(((p(0) - p(7)).norm() - 270.6012).abs() < 5e-5, "the space diagonal, √73225");
    // 24 distances and 6 flat faces, 24 coordinates less 6 moves.
    assert_eq!(found.parts[0].degrees, 12);
    assert!(found.parts[0].proven && found.readings.iter().all(|c| c.residual.abs() < EXACT * 300.0));
    // The hand: x, y, z right-handed, laid on its bottom.
    let hand = (p(1) - p(0)).cross(&(p(2) - p(0))).dot(&(p(4) - p(0)));
    assert!((hand / (44.0 * 117.0 * 240.0) - 1.0).abs() < EXACT);
    assert!(p(0).z.abs() < EXACT * 300.0 && (p(4).z - 240.0).abs() < EXACT * 300.0);
    let mut other = brick();
    other.outside = vec![[4, 7, 5]];
    let q = solved(&other);
    let hand = (q.points[1].at - q.points[0].at)
        .cross(&(q.points[2].at - q.points[0].at))
        .dot(&(q.points[4].at - q.points[0].at));
    assert!((hand / (44.0 * 117.0 * 240.0) + 1.0).abs() < EXACT, "the mirror image");
}

/// Ranges to four marks at (1,0,0), (0,2,0), (0,0,3), (0,3,4) of 1, 2, 3 and 5 meet in the origin.
#[test]
fn ranges_to_four_marks_meet_in_the_origin() {
    let marks = [[1.0, 0.0, 0.0], [0.0, 2.0, 0.0], [0.0, 0.0, 3.0], [0.0, 3.0, 4.0]].map(Point3::from);
    let mut legs: Vec<(usize, usize, f64)> = Vec::new();
    for a in 0..4 {
        legs.extend((0..a).map(|b| (b, a, (marks[a] - marks[b]).norm())));
    }
    legs.extend([1.0, 2.0, 3.0, 5.0].iter().enumerate().map(|(k, &l)| (k, 4, l)));
    let mut r = readings(5, &legs, 0.01);
    r.outside = vec![[0, 1, 2]];
    let found = solved(&r);
    // Laid over the marks by three of them: the frame they make holds the fifth point.
    let p: Vec<Point3<f64>> = found.points.iter().map(|p| p.at).collect();
    let frame = |p: &[Point3<f64>]| Matrix3::from_columns(&[p[1] - p[0], p[2] - p[0], p[3] - p[0]]);
    let inside = frame(&p).try_inverse().expect("a frame") * (p[4] - p[0]);
    let at = marks[0] + frame(&marks) * inside;
    assert!(at.coords.norm() < 1e-8, "{at}");
}

#[test]
fn residuals_do_not_depend_on_what_is_held() {
    let mut r = brick();
    for (k, d) in r.distances.iter_mut().enumerate() {
        d.length += 0.3 * (k as f64 * 1.9).sin();
    }
    let free = solved(&r);
    // Held by the heights of three points, exact for this figure, and read in another order.
    let mut held = r.clone();
    let height = |p: usize| Height {
        point: p,
        height: free.points[p].at.z,
        deviation: 0.3,
        source: Source::default(),
    };
    held.heights = vec![height(0), height(3), height(5)];
    let held = solved(&held);
    let mut turned = r.clone();
    turned.distances.reverse();
    let turned = solved(&turned);
    for (k, c) in free.readings.iter().enumerate() {
        assert!((c.residual - held.readings[k].residual).abs() < 1e-7, "{}", c.name);
        let other = &turned.readings[turned.readings.len() - 1 - k];
        assert!((c.residual - other.residual).abs() < 1e-7 && (c.redundancy - other.redundancy).abs() < 1e-7);
    }
    let s0 = |s: &Solved| s.parts[0].s0().expect("redundancy");
    assert!((s0(&free) - s0(&turned)).abs() < 1e-9);
    assert!((free.parts[0].weighted_squares - held.parts[0].weighted_squares).abs() < 1e-7);
    assert_eq!((free.parts[0].degrees, held.parts[0].degrees), (12, 12), "three heights, three moves");
    assert!(held.parts[0].level && !free.parts[0].level);
    let sum: f64 = free.readings.iter().map(|c| c.redundancy).sum();
    assert!(sum < 12.0 && sum > 8.0, "the rest is with the flat faces: {sum}");
}

/// Slope distances of a taught network of six ground points, m (spatial.engineer, "Adjusting a trilateration
/// network": 13 of 15 legs): within 600 m of height over 11 km, one more than needed.
#[test]
fn a_nearly_flat_network_never_passes_without_a_warning() {
    let legs = [
        (0, 2, 5221.275),
        (0, 3, 5126.307),
        (0, 4, 8566.372),
        (0, 5, 3128.920),
        (1, 2, 11219.111),
        (1, 3, 8054.121),
        (1, 4, 5525.338),
        (1, 5, 8794.685),
        (2, 3, 4452.887),
        (2, 5, 2442.202),
        (3, 4, 5782.213),
        (3, 5, 3031.119),
        (4, 5, 8259.969),
    ];
    let mut r = readings(6, &legs, 0.01);
    r.outside = vec![[0, 3, 2]];
    match solve(&r, &Options::default()) {
        Ok(found) => {
            assert_eq!(found.parts[0].degrees, 1);
            assert!(found.points.iter().any(|p| p.weak), "weak");
        }
        Err(refusal) => {
            assert!(matches!(refusal.why, Why::Loose | Why::Ambiguous), "{}", refusal.error);
            assert!(!refusal.wanted.is_empty(), "{}", refusal.error);
        }
    }
    // With the heights it is settled; the points that hang on few legs are weak.
    let heights = [2321.123, 2435.774, 2645.234, 2042.114, 2081.355, 2439.832];
    r.heights = heights
        .iter()
        .enumerate()
        .map(|(point, &height)| Height { point, height, deviation: 0.05, source: Source::default() })
        .collect();
    r.outside.clear();
    let refusal = solve(&r, &Options::default()).expect_err("either hand");
    assert_eq!(refusal.why, Why::Mirror, "{}", refusal.error);
    r.outside = vec![[0, 3, 2]];
    let found = solved(&r);
    // 13 legs and 6 heights, 18 coordinates less the 3 moves that heights leave.
    assert_eq!(found.parts[0].degrees, 4);
    assert!(
        found.points.iter().any(|p| p.weak),
        "{:?}",
        found.points.iter().map(|p| p.axes[0]).collect::<Vec<_>>()
    );
}

#[test]
fn what_hangs_loose_is_named_with_what_would_hold_it() {
    let mut r = brick();
    r.faces.clear();
    r.outside = vec![[4, 5, 7]];
    // Point 8 keeps two of its six distances.
    r.distances.retain(|d| d.between[1] != 7 || d.between[0] < 3);
    let refusal = solve(&r, &Options::default()).expect_err("loose");
    assert_eq!((refusal.why, refusal.points.as_slice()), (Why::Loose, &[7][..]), "{}", refusal.error);
    assert!(refusal.error.to_string().contains("P8"), "{}", refusal.error);
    for wanted in refusal.wanted {
        let Wanted::Distance(between) = wanted else { panic!("{wanted:?}") };
        let [a, b] = between.map(|k| Point3::from(corner(k)));
        let source = Source::default();
        r.distances.push(Distance { between, length: (a - b).norm(), deviation: 0.3, source });
    }
    let found = solved(&r);
    assert!(((found.points[0].at - found.points[7].at).norm() - 270.6012).abs() < 1e-3);
    // A point on three distances only folds over its plane.
    let mut folds = brick();
    folds.faces.clear();
    folds.distances.retain(|d| d.between[1] != 7 || d.between[0].count_ones() == 2);
    let refusal = solve(&folds, &Options::default()).expect_err("ambiguous");
    assert_eq!((refusal.why, refusal.points.as_slice()), (Why::Ambiguous, &[7][..]), "{}", refusal.error);
    // A point on nothing.
    r.points.push("P9".to_owned());
    let refusal = solve(&r, &Options::default()).expect_err("alone");
    assert_eq!(refusal.points, [8]);
    assert!(refusal.error.to_string().contains("P9 hangs on nothing else"), "{}", refusal.error);
}

#[test]
fn rows_of_outside_that_contradict_one_another_are_named() {
    let mut r = brick();
    r.outside = vec![[4, 5, 7], [0, 4, 6], [1, 3, 7], [0, 1, 3]];
    let refusal = solve(&r, &Options::default()).expect_err("contradiction");
    assert!(refusal.error.to_string().contains("\"outside, P1, P2, P4\""), "{}", refusal.error);
}

#[test]
fn two_tips_on_one_square_are_ambiguous_until_their_distance_is_read() {
    // Distances from four points in one plane do not tell on which side of it a tip is; a stress of the right rank does
    // not help, for the square is no general position.
    let points = [
        [0.0, 0.0, 0.0],
        [100.0, 0.0, 0.0],
        [96.0, 90.0, 0.0],
        [-8.0, 104.0, 0.0],
        [40.0, 50.0, 120.0],
        [55.0, 40.0, -80.0],
    ]
    .map(Point3::from);
    let tips = (0..6).flat_map(|a| (a + 1..6).map(move |b| (a, b))).filter(|&pair| pair != (4, 5));
    let legs: Vec<(usize, usize, f64)> = tips.map(|(a, b)| (a, b, (points[a] - points[b]).norm())).collect();
    let mut r = readings(6, &legs, 0.3);
    r.outside = vec![[0, 4, 1]];
    let refusal = solve(&r, &Options::default()).expect_err("ambiguous");
    assert_eq!(refusal.why, Why::Ambiguous, "{}", refusal.error);
    assert!(refusal.wanted.contains(&Wanted::Distance([4, 5])), "{:?}", refusal.wanted);
    let length = (points[4] - points[5]).norm();
    r.distances.push(Distance { between: [4, 5], length, deviation: 0.3, source: Source::default() });
    let found = solved(&r);
    assert!(found.parts[0].proven);
    assert!(((found.points[4].at - found.points[5].at).norm() - length).abs() < EXACT * length);
}

#[test]
fn a_misspelt_point_is_asked_after() {
    let mut r = brick();
    r.points.push("P22".to_owned());
    let k = r.distances.iter().position(|d| d.between == [0, 1]).expect("an edge");
    r.distances[k].between = [0, 8];
    r.distances[k].source.line = 7;
    let refusal = solve(&r, &Options::default()).expect_err("loose");
    let says = refusal.error.remedy_text().unwrap_or_default();
    assert!(says.contains("line 7: P22 stands in this reading only: did you mean P2?"), "{says}");
}

#[test]
fn points_without_faces_are_a_hull() {
    let mut r = brick();
    r.faces.clear();
    let found = solved(&r);
    let said = crate::maquette::name_faces(&mut r, &found, 0.2);
    assert_eq!((said.len(), said[0].code.as_str(), r.faces.len()), (1, "hull", 6), "{said:?}");
    assert!(r.faces.iter().all(|f| f.element == "A" && f.corners.len() == 4), "{:?}", r.faces);
    let shape = crate::maquette::shape(&r, &found, 0.2).expect("a block");
    let volume = shape.elements[0].solid.volume();
    assert!((volume / (44.0 * 117.0 * 240.0) - 1.0).abs() < EXACT, "{volume}");
    assert!(crate::maquette::name_faces(&mut r, &found, 0.2).is_empty(), "named now");
}
