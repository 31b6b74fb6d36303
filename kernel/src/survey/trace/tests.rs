//! Traced cross-sections from SVG and DXF, good and bad.

use super::*;
use crate::settings::{Value, Values};

fn profile(row: crate::profile::ProfileKind, settings: &[(&str, f64)]) -> Profile {
    let map = settings.iter().map(|(k, v)| ((*k).to_owned(), Value::Number(*v))).collect();
    (row.build)(&Values::check(row.name, row.settings, &map).expect("settings")).expect("a profile")
}

fn svg(points: &[[f64; 2]], transform: &str, unit: f64) -> Vec<u8> {
    let d: Vec<String> =
        points.iter().map(|p| format!("{} {}", p[0] / unit, (100.0 - p[1]) / unit)).collect();
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{}mm\" height=\"200mm\" viewBox=\"0 0 {} {}\">\
         <g transform=\"{transform}\"><path fill=\"none\" stroke=\"black\" d=\"M{}\"/></g></svg>",
        1400.0,
        1400.0 / unit,
        200.0 / unit,
        d.join(" L")
    )
    .into_bytes()
}

/// A sheet of a known profile, drawn from its own heights; corners are those of the profile.
#[test]
fn corners_of_a_traced_sheet_are_those_of_its_profile() {
    use crate::profile::{sine, trapezoid};
    let bent = profile(
        trapezoid::ROW,
        &[("pitch", 200.0), ("depth", 40.0), ("crest", 70.0), ("valley", 70.0), ("bend_radius", 6.0)],
    );
    let wave = profile(sine::ROW, &[("pitch", 76.0), ("depth", 18.0)]);
    for (nominal, allowed) in [(&bent, 0.05), (&wave, 0.1)] {
        // From the right-hand edge at x = 1000, corner 0's pitch begins 20 mm in; turned by a little.
        let tilt = 0.004;
        let at = |across: f64| [1000.0 - across, nominal.height(across - 20.0) + 50.0 + tilt * across];
        let points: Vec<[f64; 2]> = (0..=4000).rev().map(|k| at(f64::from(k) * 0.25)).collect();
        for bytes in [svg(&points, "", 1.0), svg(&points, "translate(30,-4)", 2.0)] {
            let read = trace_points("s.svg", &bytes).expect("a trace");
            let trace = Trace { line: 3, station: 600.0, file: "s.svg".to_owned() };
            let found = readings(&read, nominal, &trace).expect("readings");
            assert!(found.len() > 15, "{} corners", found.len());
            let corners = nominal.corners();
            for r in &found {
                let (across, depth) = (r.across.unwrap_or(0.0), r.depth.unwrap_or(0.0));
                let t = (across - 20.0).rem_euclid(nominal.pitch());
                let near = corners.iter().map(|c| {
                    let apart = (c[0] - t).abs();
                    [apart.min(nominal.pitch() - apart), c[1]]
                });
                let [off, h] = near.min_by(|a, b| a[0].total_cmp(&b[0])).expect("corners");
                // A tilt moves the vertex of a round crest and shortens nothing else.
                let moved = if corners.len() == 2 { tilt * 200.0 } else { 0.0 };
                assert!(off < allowed + moved, "fold {} lies {off} mm off", r.fold);
                let off = depth - (nominal.max_height() - h);
                assert!(off.abs() < 2.0 * allowed + moved, "fold {} is {off} mm too deep", r.fold);
            }
        }
    }
}

#[test]
fn other_shapes_and_empty_files_are_refused() {
    let nominal = profile(
        crate::profile::trapezoid::ROW,
        &[("pitch", 200.0), ("depth", 40.0), ("crest", 70.0), ("valley", 70.0)],
    );
    let flat: Vec<[f64; 2]> = vec![[0.0, 0.0], [1000.0, 0.0]];
    let trace = Trace { line: 3, station: 600.0, file: "s.svg".to_owned() };
    assert!(readings(&flat, &nominal, &trace).unwrap_err().to_string().contains("not of the nominal"));
    assert!(
        readings(&[[0.0, 0.0], [40.0, 0.0]], &nominal, &trace).unwrap_err().to_string().contains("pitch")
    );
    assert!(trace_points("s.svg", b"").is_err());
    let huge = vec![b' '; MOST_TRACE_BYTES + 1];
    assert!(trace_points("s.svg", &huge).unwrap_err().to_string().contains("bytes"));
    let back = [[0.0, 0.0], [50.0, 0.0], [20.0, 10.0], [100.0, 0.0]];
    assert!(trace_points("s.svg", &svg(&back, "", 1.0)).unwrap_err().to_string().contains("runs back"));
}

const SHEET: [f64; 2] = [12.0, 1040.0];

/// The sections below: a sheet whose edge lies 12 mm beside a crest's middle, flats with sharp folds.
fn sharp() -> (Profile, Vec<[f64; 2]>) {
    let nominal = profile(
        crate::profile::trapezoid::ROW,
        &[("pitch", 200.0), ("depth", 40.0), ("crest", 70.0), ("valley", 70.0)],
    );
    let at = |across: f64| [SHEET[1] - across, nominal.height(across - SHEET[0])];
    let corners = nominal.corners();
    let mut across = vec![0.0, SHEET[1]];
    for k in -1..7 {
        across.extend(corners.iter().map(|c| SHEET[0] + c[0] + 200.0 * f64::from(k)));
    }
    across.retain(|x| (0.0..=SHEET[1]).contains(x));
    across.sort_by(|a, b| b.total_cmp(a));
    let points = across.into_iter().map(at).collect();
    (nominal, points)
}

/// A DXF of these entities, `unit` as in $INSUNITS; none leaves it out.
fn dxf(unit: Option<u8>, entities: &str) -> Vec<u8> {
    let unit = unit.map_or(String::new(), |u| format!("9 $INSUNITS 70 {u} "));
    let pairs = format!(
        "0 SECTION 2 HEADER 9 $ACADVER 1 AC1015 {unit}0 ENDSEC 0 SECTION 2 ENTITIES {entities} 0 ENDSEC 0 EOF"
    );
    pairs.split_whitespace().flat_map(|word| format!("{word}\n").into_bytes()).collect()
}

fn lines(points: &[[f64; 2]]) -> String {
    let line =
        |e: &[[f64; 2]]| format!("0 LINE 8 X 10 {} 20 {} 11 {} 21 {}", e[0][0], e[0][1], e[1][0], e[1][1]);
    points.windows(2).map(line).collect::<Vec<_>>().join(" ")
}

/// With a bulge from each point to the next.
fn lwpolyline(points: &[[f64; 2]], bulge: impl Fn(usize) -> f64) -> String {
    let vertex = |(k, p): (usize, &[f64; 2])| format!("10 {} 20 {} 42 {}", p[0], p[1], bulge(k));
    let all: Vec<_> = points.iter().enumerate().map(vertex).collect();
    format!("0 LWPOLYLINE 100 AcDbEntity 8 X 100 AcDbPolyline 90 {} 70 0 {}", points.len(), all.join(" "))
}

fn polyline(points: &[[f64; 2]]) -> String {
    let vertex = |p: &[f64; 2]| format!("0 VERTEX 8 X 10 {} 20 {} 30 0", p[0], p[1]);
    let all: Vec<_> = points.iter().map(vertex).collect();
    format!("0 POLYLINE 8 X 66 1 10 0 20 0 30 0 70 0 {} 0 SEQEND 8 X", all.join(" "))
}

fn scaled(points: &[[f64; 2]], by: f64) -> Vec<[f64; 2]> {
    points.iter().map(|p| [p[0] * by, p[1] * by]).collect()
}

#[track_caller]
fn read(name: &str, bytes: &[u8], nominal: &Profile) -> Vec<Reading> {
    let trace = Trace { line: 3, station: 600.0, file: name.to_owned() };
    traced(bytes, nominal, &trace).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// Readings of two files of one section, which must be the same within a hundredth of a millimetre.
#[track_caller]
fn same(what: &str, a: &[Reading], b: &[Reading]) {
    assert_eq!(a.len(), b.len(), "{what}");
    for (x, y) in a.iter().zip(b) {
        assert_eq!(x.fold, y.fold, "{what}");
        for (p, q) in [(x.across, y.across), (x.depth, y.depth)] {
            let off = (p.unwrap_or(f64::NAN) - q.unwrap_or(f64::NAN)).abs();
            assert!(off < 0.01, "{what}: fold {} is {off} mm off", x.fold);
        }
    }
}

#[test]
fn one_section_from_svg_and_dxf_gives_the_same_readings() {
    let (nominal, points) = sharp();
    let drawn = read("s.svg", &svg(&points, "", 1.0), &nominal);
    assert!(drawn.len() > 18, "{} folds", drawn.len());
    // Closed form: folds are the profile's corners.
    let truth: Vec<f64> = points.iter().rev().map(|p| SHEET[1] - p[0]).collect();
    for (r, across) in drawn.iter().zip(&truth[1..]) {
        assert!((r.across.unwrap_or(0.0) - across).abs() < 0.01, "fold {}: {:?}, {across}", r.fold, r.across);
    }
    let mut shuffled: Vec<String> = points.windows(2).map(lines).collect();
    shuffled.reverse();
    shuffled.swap(2, 9);
    let mut turned = points.clone();
    turned.reverse();
    for (what, entities) in [
        ("LINE", lines(&points)),
        ("LINE in any order", shuffled.join(" ")),
        ("LINE the other way", lines(&turned)),
        ("LWPOLYLINE", lwpolyline(&points, |_| 0.0)),
        ("POLYLINE", polyline(&points)),
        // What else a drawing holds does no harm: a frame, a dimension's text, something never heard of.
        (
            "LWPOLYLINE among others",
            format!(
                "0 CIRCLE 8 X 10 0 20 0 40 5000 {} 0 TEXT 8 X 10 0 20 0 40 5 1 A 0 WOMBAT 8 X 10 5",
                lwpolyline(&points, |_| 0.0)
            ),
        ),
    ] {
        same(what, &read("s.dxf", &dxf(Some(4), &entities), &nominal), &drawn);
    }
    for (unit, mm) in [(1_u8, 25.4), (4, 1.0), (5, 10.0), (6, 1000.0)] {
        let bytes = dxf(Some(unit), &lwpolyline(&scaled(&points, 1.0 / mm), |_| 0.0));
        same(&format!("unit {unit}"), &read("s.dxf", &bytes, &nominal), &drawn);
    }
}

/// Bends as bulges and as ARC between LINE, against the same arcs as chords in SVG.
#[test]
fn bends_drawn_as_arcs_are_read() {
    let nominal = profile(
        crate::profile::trapezoid::ROW,
        &[("pitch", 200.0), ("depth", 40.0), ("crest", 70.0), ("valley", 70.0), ("bend_radius", 6.0)],
    );
    let (_, corners) = sharp();
    // Each inner corner becomes a bend of this radius between its tangent points.
    let radius = 7.0;
    let (mut vertices, mut bulges, mut chords) = (vec![corners[0]], Vec::new(), vec![corners[0]]);
    let mut arcs = String::new();
    for c in corners.windows(3) {
        let [a, b, d] = [c[0], c[1], c[2]];
        let unit = |p: [f64; 2], q: [f64; 2]| {
            let l = (q[0] - p[0]).hypot(q[1] - p[1]);
            [(q[0] - p[0]) / l, (q[1] - p[1]) / l]
        };
        let (u, v) = (unit(a, b), unit(b, d));
        let turn = (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1]);
        let tangent = radius * (turn / 2.0).tan().abs();
        let (from, to) =
            ([b[0] - u[0] * tangent, b[1] - u[1] * tangent], [b[0] + v[0] * tangent, b[1] + v[1] * tangent]);
        arcs.push_str(&lines(&[*vertices.last().unwrap(), from]));
        let side = turn.signum();
        let centre = [from[0] - u[1] * radius * side, from[1] + u[0] * radius * side];
        let angle = |p: [f64; 2]| (p[1] - centre[1]).atan2(p[0] - centre[0]).to_degrees();
        let (start, end) = if side > 0.0 { (angle(from), angle(to)) } else { (angle(to), angle(from)) };
        arcs.push_str(&format!(
            " 0 ARC 8 X 10 {} 20 {} 40 {radius} 50 {start} 51 {end} ",
            centre[0], centre[1]
        ));
        for k in 0..=50 {
            let a = (angle(from).to_radians()) + turn * f64::from(k) / 50.0;
            chords.push([centre[0] + radius * a.cos(), centre[1] + radius * a.sin()]);
        }
        bulges.extend([0.0, (turn / 4.0).tan()]);
        vertices.extend([from, to]);
    }
    let last = *corners.last().unwrap();
    arcs.push_str(&lines(&[*vertices.last().unwrap(), last]));
    vertices.push(last);
    chords.push(last);
    bulges.extend([0.0, 0.0]);
    let drawn = read("s.svg", &svg(&chords, "", 1.0), &nominal);
    let bulged = dxf(Some(4), &lwpolyline(&vertices, |k| bulges[k]));
    same("bulge", &read("s.dxf", &bulged, &nominal), &drawn);
    same("ARC and LINE", &read("s.dxf", &dxf(Some(4), &arcs), &nominal), &drawn);
    // And the folds are where the flats would meet, whatever the bend.
    for (r, c) in drawn.iter().zip(corners.iter().rev().skip(1)) {
        let off = (r.across.unwrap_or(0.0) - (SHEET[1] - c[0])).abs();
        assert!(off < 0.05, "fold {} is {off} mm off", r.fold);
    }
}

#[test]
fn bad_dxf_files_are_refused_with_the_line_that_names_them() {
    let (nominal, points) = sharp();
    let good = lwpolyline(&points, |_| 0.0);
    let spline = "0 SPLINE 8 X 70 8 71 3 72 8 73 4 40 0 40 0 40 0 40 0 40 1 40 1 40 1 40 1 10 0 20 0 30 0 10 300 20 \
                  40 30 0 10 600 20 -40 30 0 10 1000 20 0 30 0";
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    let many = lines(&(0..60_000).map(|k| [f64::from(k), 0.0]).collect::<Vec<_>>());
    for (bytes, says) in [
        (Vec::new(), "empty"),
        (b" \r\n".to_vec(), "empty"),
        (dxf(None, &good), "units"),
        (dxf(Some(0), &good), "units"),
        (dxf(Some(77), &good), "unit \"77\""),
        // Millimetres said to be metres, and metres said to be millimetres.
        (dxf(Some(6), &good), "check the units"),
        (dxf(Some(4), &lwpolyline(&scaled(&points, 0.001), |_| 0.0)), "check the units"),
        (dxf(Some(4), ""), "no open line"),
        (dxf(Some(4), spline), "1 SPLINE"),
        (dxf(Some(4), "0 WOMBAT 8 X 10 5"), "no open line"),
        (dxf(Some(4), "0 CIRCLE 8 X 10 0 20 0 40 500"), "no open line"),
        (dxf(Some(4), &good)[..400].to_vec(), "cut off"),
        (text(dxf(Some(4), &good)).replacen("\n20\n", "\n20\nx", 1).into_bytes(), "should be a number"),
        (dxf(Some(4), &many), "bytes"),
    ] {
        let mut yard = Yard {
            file: "yard.csv".to_owned(),
            sheets: vec![RawSheet {
                traces: vec![Trace { line: 9, station: 600.0, file: "s.dxf".to_owned() }],
                ..RawSheet::default()
            }],
            ..Yard::default()
        };
        let nominals = [Arc::new(nominal.clone())];
        let error = add_traces(&mut yard, &nominals, |_| Ok(bytes.clone())).expect_err(says);
        let all = format!("{error} {}", error.remedy_text().unwrap_or_default());
        assert!(all.contains(says), "{all:?} does not say {says:?}");
        assert!(all.contains("yard.csv: line 9, column") && all.contains("s.dxf"), "{all:?}");
        assert!(yard.sheets[0].readings.is_empty());
    }
}

#[test]
fn ends_that_meet_are_joined_and_crossroads_are_not() {
    let line = |a: f64, b: f64| vec![[a, 0.0], [b, 0.0]];
    let chain = joined(&[line(2.0, 1.0), line(0.0, 1.0), line(2.005, 3.0)]);
    assert_eq!(chain.len(), 1);
    assert_eq!(chain[0].len(), 4);
    assert_eq!(joined(&[line(0.0, 1.0), line(1.02, 2.0)]).len(), 2, "a gap is a gap");
    let three = joined(&[line(0.0, 1.0), line(1.0, 2.0), vec![[1.0, 0.0], [1.0, 5.0]]]);
    assert_eq!(three.len(), 3);
    let ring = [line(0.0, 1.0), vec![[1.0, 0.0], [0.0, 1.0]], vec![[0.0, 1.0], [0.0, 0.0]]];
    assert!(joined(&ring).is_empty());
}
