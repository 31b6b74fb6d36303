//! Drawings of known outlines: in all units and shapes, with ribs and points, and what is refused; built with `#[cfg(test)]` only.

use super::*;
use crate::maquette::Readings;
use nalgebra::Point3;

/// A house of five corners, mm, y up.
const HOUSE: [[f64; 2]; 5] = [[20.0, 10.0], [140.0, 10.0], [140.0, 90.0], [80.0, 130.0], [20.0, 90.0]];

fn svg(head: &str, inner: &str) -> String {
    format!("<svg xmlns=\"http://www.w3.org/2000/svg\" {head}>{inner}</svg>")
}

/// Points in the units of the drawing, y down from a height.
fn points(outline: &[[f64; 2]], unit: f64, height: f64, comma: &str) -> String {
    let all: Vec<String> =
        outline.iter().map(|p| format!("{} {}", p[0] / unit, (height - p[1]) / unit)).collect();
    all.join(comma)
}

/// A DXF in the unit of this code.
fn dxf(unit: u8, entities: &str) -> String {
    let pairs = format!(
        "0 SECTION 2 HEADER 9 $ACADVER 1 AC1015 9 $INSUNITS 70 {unit} 0 ENDSEC 0 SECTION 2 ENTITIES {entities} 0 \
         ENDSEC 0 EOF"
    );
    pairs.split_whitespace().fold(String::new(), |text, word| text + word + "\n")
}

fn polyline(layer: &str, outline: &[[f64; 2]], unit: f64) -> String {
    let all: String = outline.iter().map(|p| format!(" 10 {:?} 20 {:?}", p[0] / unit, p[1] / unit)).collect();
    format!("0 LWPOLYLINE 8 {layer} 90 {} 70 1{all} ", outline.len())
}

fn line(layer: &str, a: [f64; 2], b: [f64; 2], unit: f64) -> String {
    let [a, b] = [a, b].map(|p| p.map(|x| x / unit));
    format!("0 LINE 8 {layer} 10 {:?} 20 {:?} 11 {:?} 21 {:?} ", a[0], a[1], b[0], b[1])
}

fn faces(file: &str, text: &str) -> Result<Vec<TracedFace>> {
    let tracing = Tracing { file, bytes: text.as_bytes(), face: None };
    read(&[tracing], &Options::default(), &[]).map(|r| r.0)
}

/// Sides and diagonals of an outline, whatever corner it begins with: these do not depend on where it lies.
#[track_caller]
fn same(found: &[[f64; 2]], wanted: &[[f64; 2]], within: f64, what: &str) {
    assert_eq!(found.len(), wanted.len(), "{what}: {found:?}");
    let n = wanted.len();
    let far = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
    let worst = |shift: usize| {
        let pairs = (0..n).flat_map(|i| (0..n).map(move |k| (i, k)));
        pairs
            .map(|(i, k)| {
                let f = far(found[(i + shift) % n], found[(k + shift) % n]);
                (f - far(wanted[i], wanted[k])).abs()
            })
            .fold(0.0, f64::max)
    };
    let off = (0..n).map(worst).fold(f64::INFINITY, f64::min);
    assert!(off <= within, "{what}: off by {off} mm: {found:?}");
}

#[test]
fn one_outline_is_the_same_polygon_however_it_is_drawn() {
    let h = 200.0;
    let px = 25.4 / 96.0;
    let path = |unit: f64| format!("<path d=\"M{}Z\"/>", points(&HOUSE, unit, h, "L"));
    let named = |inner: &str| format!("<g id=\"A_east\">{inner}</g>");
    // A whole turn, a shift and a size that undo each other, in nested groups; and a mirror image of a mirror image.
    let nested = format!(
        "<g id=\"A_east\" transform=\"rotate(33)\"><g transform=\"translate(7 -3) scale(2)\"><g transform=\"scale(0.5)\">\
         {}</g></g></g>",
        path(1.0)
    );
    let twice = format!(
        "<g transform=\"matrix(-1 0 0 1 30 0)\" id=\"A_east\"><g transform=\"scale(-1 1)\">{}</g></g>",
        path(1.0)
    );
    let mm = "width=\"200mm\" height=\"200mm\" viewBox=\"0 0 200 200\"";
    let house = points(&HOUSE, 1.0, h, ",");
    let mut open = HOUSE.to_vec();
    open.push(HOUSE[0]);
    let strokes: String = (0..5)
        .map(|k| {
            let ends = [HOUSE[(k * 3) % 5], HOUSE[(k * 3 + 1) % 5]];
            let [a, b] = if k % 2 == 0 { ends } else { [ends[1], ends[0]] };
            let (a, b) = ([a[0], h - a[1]], [b[0], h - b[1]]);
            format!(
                "<line id=\"A_east.{k}\" stroke=\"red\" x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\"/>",
                a[0], a[1], b[0], b[1]
            )
        })
        .collect();
    let chain = |unit: f64| -> String {
        (0..5).map(|k| line("A_east", HOUSE[k * 2 % 5], HOUSE[(k * 2 + 1) % 5], unit)).collect()
    };
    for (what, file, text) in [
        ("mm", "a.svg", svg(mm, &named(&path(1.0)))),
        ("cm", "a.svg", svg("width=\"20cm\" height=\"20cm\" viewBox=\"0 0 20 20\"", &named(&path(10.0)))),
        ("inches", "a.svg", svg("width=\"10in\" height=\"10in\" viewBox=\"0 0 10 10\"", &named(&path(25.4)))),
        (
            "px and a view box",
            "a.svg",
            svg("width=\"960\" height=\"960\" viewBox=\"5 5 480 480\"", &named(&path(2.0 * px))),
        ),
        ("px", "a.svg", svg("width=\"800px\" height=\"800px\"", &named(&path(px)))),
        ("nested", "a.svg", svg(mm, &nested)),
        ("mirrored twice", "a.svg", svg(mm, &twice)),
        ("polygon", "a.svg", svg(mm, &format!("<polygon id=\"A-east\" points=\"{house}\"/>"))),
        (
            "polyline",
            "a.svg",
            svg(mm, &format!("<polyline id=\"A/east\" points=\"{}\"/>", points(&open, 1.0, h, ","))),
        ),
        ("lines", "a.svg", svg(mm, &strokes)),
        ("name of the file", "on/A_east.svg", svg(mm, &path(1.0))),
        ("polyline, mm", "a.dxf", dxf(4, &polyline("A_east", &HOUSE, 1.0))),
        ("polyline, inches", "a.dxf", dxf(1, &polyline("FACE_A_east", &HOUSE, 25.4))),
        ("lines, mm", "a.dxf", dxf(4, &chain(1.0))),
        ("lines, inches", "a.dxf", dxf(1, &chain(25.4))),
    ] {
        let found = faces(file, &text).unwrap_or_else(|e| panic!("{what}: {e}"));
        assert_eq!((found.len(), found[0].id().as_str()), (1, "A/east"), "{what}");
        let corners: Vec<[f64; 2]> = found[0].corners.iter().map(|c| c.at).collect();
        same(&corners, &HOUSE, 0.01, what);
    }
    let rect = [[0.0, 0.0], [120.0, 0.0], [120.0, 80.0], [0.0, 80.0]];
    let drawn = "<rect id=\"A_east\" x=\"9\" y=\"9\" width=\"120\" height=\"80\"/>";
    // Rounded by 4 mm: an arc in SVG, a bulge in DXF (tan of a quarter of the turn).
    let rounded = "<rect id=\"A_east\" x=\"9\" y=\"9\" width=\"120\" height=\"80\" rx=\"4\"/>";
    let bulge = (std::f64::consts::FRAC_PI_8).tan();
    let bulged: String = rect
        .iter()
        .enumerate()
        .map(|(k, p)| {
            let at = |o: [f64; 2]| {
                let l = (o[0] - p[0]).hypot(o[1] - p[1]);
                [0, 1].map(|i| p[i] + 4.0 * (o[i] - p[i]) / l)
            };
            let (a, b) = (at(rect[(k + 3) % 4]), at(rect[(k + 1) % 4]));
            format!(" 10 {} 20 {} 42 {bulge} 10 {} 20 {}", a[0], a[1], b[0], b[1])
        })
        .collect();
    for (what, file, text) in [
        ("rect", "a.svg", svg(mm, drawn)),
        ("rounded rect", "a.svg", svg(mm, rounded)),
        ("bulges", "a.dxf", dxf(4, &format!("0 LWPOLYLINE 8 A_east 90 8 70 1{bulged}"))),
    ] {
        let found = faces(file, &text).unwrap_or_else(|e| panic!("{what}: {e}"));
        let corners: Vec<[f64; 2]> = found[0].corners.iter().map(|c| c.at).collect();
        same(&corners, &rect, 0.01, what);
    }
}

/// Strokes that end short of the corner are joined by a chord: no edge of its own. A chamfer is.
#[test]
fn clipped_corners_are_corners_and_chamfers_are_edges() {
    let clipped = |before: f64, after: f64| -> Vec<[f64; 2]> {
        let toward = |a: [f64; 2], b: [f64; 2], by: f64| {
            let l = (b[0] - a[0]).hypot(b[1] - a[1]);
            [0, 1].map(|i| a[i] + by * (b[i] - a[i]) / l)
        };
        let ends = |k: usize| {
            let at = HOUSE[k];
            [toward(at, HOUSE[(k + 4) % 5], before), toward(at, HOUSE[(k + 1) % 5], after)]
        };
        (0..5).flat_map(ends).collect()
    };
    for (before, after) in [(0.5, 0.5), (5.0, 0.9), (0.3, 6.0), (1.0, 1.0)] {
        let found = corners(&clipped(before, after), &Options::default()).expect("a house");
        let at: Vec<[f64; 2]> = found.iter().map(|c| c.at).collect();
        same(&at, &HOUSE, 1.0e-6, "clipped");
    }
    let found = corners(&clipped(12.0, 12.0), &Options::default()).expect("a house with chamfers");
    assert_eq!(found.len(), 10);
}

#[test]
fn what_is_no_face_is_refused_and_named() {
    let mm = "width=\"200mm\" height=\"200mm\" viewBox=\"0 0 200 200\"";
    let face = |d: &str| svg(mm, &format!("<path id=\"A_east\" d=\"{d}\"/>"));
    let many: String = (0..210_000).map(|k| format!("L{} {}", k % 100, k % 97)).collect();
    for (text, part) in [
        (face("M10 10L100 100L100 10L10 100Z"), "crosses itself near (55.0, -55.0)"),
        (face("M10 10H100V100H14"), "open by 90.1 mm at (14.0, -100.0)"),
        (face("M10 10H12V12H10Z"), "mm across (allowed: 5 or more)"),
        (face("M10 10H99999V12000H10Z"), "across (allowed: 10000 or less)"),
        (face("M10 10H100V10.01Z"), "next to nothing"),
        (face(&format!("M0 0{many}Z")), "points (allowed: 200000)"),
        (face("M10 10H100V100H60V60H10Z"), "turns inward at (60.0, -60.0)"),
        (face("M10 10H100V100C60 140 50 140 10 100Z"), "leaves its straight line"),
        (face("M20 10H100V100H10V20Z"), "is rounded or cut off by"),
        (face("M10 10H100V100H10ZM150 150H190V190H150Z"), "there are 2 outlines"),
        (svg(mm, "<path d=\"M10 10H100V100H10Z\"/>"), "neither has the file"),
        (svg(mm, "<text id=\"A_east\">A</text>"), "holds no outline"),
        (
            svg(mm, "<path id=\"A_a\" d=\"M10 10H100V100H10Z\"/><path d=\"M0 0H200V200H0Z\"/>"),
            "the closed line about (100.0, -100.0) mm has no face",
        ),
        (
            svg(mm, "<path id=\"A_a\" d=\"M10 10H100V100H10Z\"/><path id=\"edge_x\" d=\"M40 30H60\"/>"),
            "lies along no edge within 3 mm",
        ),
        (
            svg(mm, "<path id=\"A_a\" d=\"M10 10H100V100H10Z\"/><path id=\"rib\" d=\"M140 30H160\"/>"),
            "lies in no face",
        ),
    ] {
        // A short edge that was cut off is longer than what may be rounded.
        let options = Options { least_edge: 20.0, ..Options::default() };
        let tracing = Tracing { file: "a.svg", bytes: text.as_bytes(), face: None };
        let error = read(&[tracing], &options, &[]).expect_err(part).to_string();
        assert!(error.starts_with("a.svg: ") && error.contains(part), "{error:?} does not say {part:?}");
    }
}

/// A label and the corners of its face.
type Rectangle = (&'static str, [[f64; 3]; 4]);

/// A box of 150 × 110 × 80 with its faces side by side in one DXF, all edges named, ribs and some points drawn.
fn box_dxf() -> (String, Vec<Rectangle>) {
    let [x, y, z] = [150.0, 110.0, 80.0];
    let faces = vec![
        ("bottom", [[0.0, 0.0, 0.0], [0.0, y, 0.0], [x, y, 0.0], [x, 0.0, 0.0]]),
        ("top", [[0.0, 0.0, z], [x, 0.0, z], [x, y, z], [0.0, y, z]]),
        ("south", [[0.0, 0.0, 0.0], [x, 0.0, 0.0], [x, 0.0, z], [0.0, 0.0, z]]),
        ("north", [[0.0, y, 0.0], [0.0, y, z], [x, y, z], [x, y, 0.0]]),
        ("west", [[0.0, 0.0, 0.0], [0.0, 0.0, z], [0.0, y, z], [0.0, y, 0.0]]),
        ("east", [[x, 0.0, 0.0], [x, y, 0.0], [x, y, z], [x, 0.0, z]]),
    ];
    let mut text = String::new();
    for (f, (label, corners)) in faces.iter().enumerate() {
        let (sin, cos) = (0.3 + 0.9 * f as f64).sin_cos();
        let at = |p: [f64; 3]| {
            let flat = flat_of(corners, p);
            [400.0 * f as f64 + cos * flat[0] - sin * flat[1], 50.0 + sin * flat[0] + cos * flat[1]]
        };
        let outline: Vec<[f64; 2]> = corners.iter().map(|c| at(*c)).collect();
        text += &polyline(&format!("A_{label}"), &outline, 1.0);
        for k in 0..4 {
            let (a, b) = (corners[k], corners[(k + 1) % 4]);
            let mut ends = [a, b].map(|p| {
                let bit = |x: f64| if x > 0.0 { '1' } else { '0' };
                p.map(bit).iter().collect::<String>()
            });
            ends.sort();
            let part = |s: f64| at([0, 1, 2].map(|i| a[i] + s * (b[i] - a[i])));
            text += &line(&format!("EDGE_{}to{}", ends[0], ends[1]), part(0.4), part(0.6), 1.0);
        }
        if *label == "south" {
            // A crest from 30 mm along the foot, leaning 20 mm in the height.
            text += &line("RIBS", at([30.0, 0.0, 0.0]), at([50.0, 0.0, z]), 1.0);
            let [a, b] = [at([0.0, 0.0, 0.0]), at([x, 0.0, 0.0])];
            text += &format!("0 POINT 8 POINT_P1 10 {} 20 {} ", a[0] + 0.3, a[1]);
            text += &format!("0 CIRCLE 8 POINT_P2 10 {} 20 {} 40 2 ", b[0], b[1] - 0.4);
        }
    }
    (dxf(4, &text), faces)
}

/// A point of a face in its plane as seen from outside, from corner 0 along the first edge.
fn flat_of(corners: &[[f64; 3]; 4], p: [f64; 3]) -> [f64; 2] {
    let [a, b, c] = [0, 1, 2].map(|k| Point3::from(corners[k]));
    let x = (b - a).normalize();
    let y = (b - a).cross(&(c - b)).normalize().cross(&x);
    let d = Point3::from(p) - a;
    [d.dot(&x), d.dot(&y)]
}

/// Closed form: the box itself.
#[test]
fn exact_tracings_close_exactly_and_carry_ribs_and_names() {
    let (text, solid) = box_dxf();
    let traced = faces("box.dxf", &text).expect("faces");
    let mut readings = Readings { points: vec!["P9".to_owned(), "P2".to_owned()], ..Readings::default() };
    let found = assemble(&traced, &mut readings).expect("sewn");
    assert!(found.findings.is_empty(), "{:?}", found.findings);
    assert_eq!((found.points.len(), found.edges.len(), readings.points.len()), (8, 12, 9));
    assert_eq!((readings.distances.len(), readings.outside.len(), readings.faces.len()), (36, 6, 6));
    let edge = found.edges.iter().map(|e| e.error().abs()).fold(0.0, f64::max);
    let corner = found.corners.iter().map(|c| c.off).fold(0.0, f64::max);
    assert!(edge < 1.0e-6 && corner < 1.0e-6, "closing errors {edge} and {corner} mm");
    // The point the readings knew keeps its place; the other comes from the tracing.
    let named = |name: &str| found.points.iter().find(|p| p.name == name).map(|p| p.index);
    assert_eq!(named("P2"), Some(1), "{:?}", readings.points);
    assert!(named("P1").is_some() && named("A/east+north+top").is_some(), "{:?}", readings.points);
    // Against the true points, residuals are as small.
    let mut at = vec![Point3::origin(); 9];
    for (label, corners) in &solid {
        for p in corners {
            let shows = |(l, c): &&(&'static str, [[f64; 3]; 4])| c.contains(p) && !l.is_empty();
            let mut labels: Vec<&str> = solid.iter().filter(shows).map(|s| s.0).collect();
            labels.sort_unstable();
            let name = match *p {
                [0.0, 0.0, 0.0] => "P1".to_owned(),
                [150.0, 0.0, 0.0] => "P2".to_owned(),
                _ => format!("A/{}", labels.join("+")),
            };
            at[named(&name).unwrap_or_else(|| panic!("{label}: no {name}"))] = Point3::from(*p);
        }
    }
    let rest = found.residuals(&at);
    let worst = rest.corners.iter().map(|c| c.off).chain(rest.edges.iter().flatten().map(|e| e.abs()));
    assert!(worst.fold(0.0, f64::max) < 1.0e-6, "{rest:?}");
    for [a, b, c] in &readings.outside {
        let out = (at[*b] - at[*a]).cross(&(at[*c] - at[*a]));
        let middle = Point3::new(75.0, 55.0, 40.0);
        assert!(out.dot(&(at[*a] - middle)) > 0.0, "{a} {b} {c} is seen from inside");
    }
    // Ribs: through (30, 0, 0), along (20, 0, 80), in the frame of corners 0 and 1.
    let south = readings.faces.iter().find(|f| f.label == "south").expect("south");
    let ribs = south.ribs.expect("ribs");
    let [o, x] = [at[south.corners[0]], at[south.corners[1]]];
    let u = (x - o).normalize();
    let n = nalgebra::Vector3::new(0.0, -1.0, 0.0);
    let v = n.cross(&u);
    let along = u * ribs.along[0] + v * ribs.along[1];
    let through = o + u * ribs.through[0] + v * ribs.through[1];
    let wanted = nalgebra::Vector3::new(20.0, 0.0, 80.0).normalize();
    assert!((along.dot(&wanted).abs() - 1.0).abs() < 1.0e-9, "{along:?}");
    let off = (through - Point3::new(30.0, 0.0, 0.0)).cross(&wanted).norm();
    assert!(off < 1.0e-9, "the crest lies {off} mm off");
    assert!(readings.faces.iter().filter(|f| f.ribs.is_some()).count() == 1);
}

#[test]
fn names_that_contradict_each_other_are_refused_and_leave_readings_as_they_were() {
    let (text, _) = box_dxf();
    let traced = faces("box.dxf", &text).expect("faces");
    type Change = fn(&mut Vec<TracedFace>);
    let changes: [(Change, &str); 6] = [
        (|f| f[1].edges[0] = Some("other".to_owned()), "is named 1 times"),
        (|f| f[4].points = vec![Some("P".to_owned()); 4], "are named \"P\""),
        (|f| f.truncate(3), "3 faces are traced (allowed: 4 or more)"),
        (|f| f.truncate(5), "is named 1 times"),
        (|f| f[1] = TracedFace { label: "bottom".to_owned(), ..f[1].clone() }, "is traced twice"),
        (
            |f| {
                let [a, b] = [f[1].edges[0].clone(), f[1].edges[1].clone()];
                (f[1].edges[0], f[1].edges[1]) = (b, a);
            },
            "pair off in no way",
        ),
    ];
    for (change, part) in changes {
        let mut changed = traced.clone();
        change(&mut changed);
        let mut readings = Readings::default();
        let error = assemble(&changed, &mut readings).expect_err(part).to_string();
        assert!(error.contains(part), "{error:?} does not say {part:?}");
        assert_eq!(readings, Readings::default());
    }
}

/// A single face whose corners all have names needs no others: distances of the readings tie it in.
#[test]
fn a_face_with_named_corners_needs_no_neighbours() {
    let (text, _) = box_dxf();
    let mut traced = faces("box.dxf", &text).expect("faces");
    traced.truncate(1);
    traced[0].edges = vec![None; 4];
    traced[0].points = ["P1", "P2", "P3", "P4"].map(|n| Some(n.to_owned())).to_vec();
    let mut readings = Readings { points: vec!["P3".to_owned()], ..Readings::default() };
    let found = assemble(&traced, &mut readings).expect("readings");
    assert_eq!(found.corners_of(0), [1, 2, 0, 3]);
    assert_eq!((readings.distances.len(), found.edges.len()), (6, 0));
}

/// `A-1_east` is the face east of a known element A-1; without one it is taken for a face of A, and that is said.
#[test]
fn elements_with_marks_in_their_names_are_known_or_told() {
    let square = r#"<svg xmlns="http://www.w3.org/2000/svg" width="99mm" height="99mm" viewBox="0 0 99 99">
        <path d="M10 10H80V70H10Z"/></svg>"#;
    let named = square.replace("<path", "<path id=\"A-1_east\"");
    let slashed = r#"<path id="A-1/top" d="M10 10H80V70H10Z"/></svg>"#;
    let top = square.replace(r#"<path d="M10 10H80V70H10Z"/></svg>"#, slashed);
    let seen = |files: &[(&str, &str)], known: &[String]| {
        let all: Vec<Tracing<'_>> =
            files.iter().map(|(file, text)| Tracing { file, bytes: text.as_bytes(), face: None }).collect();
        let (faces, said) = read(&all, &Options::default(), known).expect("faces");
        let ids: Vec<String> = faces.iter().map(TracedFace::id).collect();
        (ids.join(" "), said.iter().filter(|f| f.code == "tracing-name").count())
    };
    let known = ["A-1".to_owned()];
    for one in [("A-1_east.svg", square), ("a.svg", named.as_str())] {
        assert_eq!(seen(&[one], &[]), ("A/1_east".to_owned(), 1), "{}", one.0);
        assert_eq!(seen(&[one], &known), ("A-1/east".to_owned(), 0), "{}", one.0);
        // Another drawing may say it.
        assert_eq!(seen(&[one, ("b.svg", &top)], &[]), ("A-1/east A-1/top".to_owned(), 0), "{}", one.0);
    }
}
