//! Files that read well, and bad ones, each refused at its line and column; built with `#[cfg(test)]` only.

use super::*;

const GOOD: &str = "\
# An invented wedge
precision, distance, 0.25
points, P1, P2, P3, P4

distance, P1, P2, 100.5
distance, P1, P3, 80, ±1 # bent
distance, P1, P4, 90.25
again, P2, P1, 100.0
distance, P2, P3, 60
distance, P2, P4, 70
distance, P3, P4, 75.5
height, P1, 0
angle, P2, P1, P3, 52.5
face, A/foot, P1, P2, P3
outside, P1, P3, P2
note, anything, at all
";

#[test]
fn a_file_reads_as_it_was_written() {
    let read = read_maquette("wedge.csv", GOOD.as_bytes()).expect("reads");
    let r = &read.readings;
    assert_eq!(r.points, ["P1", "P2", "P3", "P4"]);
    let lengths: Vec<(f64, f64)> = r.distances.iter().map(|d| (d.length, d.deviation)).collect();
    assert_eq!(lengths[..4], [(100.5, 0.25), (80.0, 1.0), (90.25, 0.25), (100.0, 0.25)]);
    assert_eq!((r.distances[1].source.line, r.distances[1].source.file.as_str()), (6, "wedge.csv"));
    assert_eq!((r.heights[0].height, r.heights[0].deviation), (0.0, HEIGHT));
    assert!((r.angles[0].angle.to_degrees() - 52.5).abs() < 1e-12);
    assert_eq!((r.faces[0].element.as_str(), r.faces[0].corners.as_slice()), ("A", &[0, 1, 2][..]));
    assert_eq!(r.outside, [[0, 2, 1]]);
    // The same with semicolons, decimal commas, a byte-order mark, other line ends and filled-up rows.
    let other = GOOD
        .replace(", ", ";")
        .replace("100.5", "100,5")
        .replace("90.25", "90,25")
        .replace('\n', ";;\r\n")
        .replace("wedge;;", "wedge")
        .replace("\r\n;;\r\n", "\r\n\r\n");
    let again = read_maquette("wedge.csv", format!("\u{feff}{other}").as_bytes()).expect("reads too");
    assert_eq!(again.readings, read.readings);
    assert_eq!(again.findings.len(), 1, "a note on the mark");
}

#[track_caller]
fn refused(text: &str, at: &str, says: &str) {
    let error = read_maquette("f.csv", text.as_bytes()).expect_err("refused");
    let shown = error.to_string();
    assert!(shown.starts_with(&format!("f.csv: {at}: ")), "not at {at}: {shown}");
    assert!(shown.contains(says), "does not say {says:?}: {shown}");
    assert!(error.remedy_text().is_some(), "says nothing of what to do: {shown}");
}

#[test]
fn bad_files_are_refused_at_their_line_and_column() {
    let with = |from: &str, to: &str| {
        assert!(GOOD.contains(from), "{from}");
        GOOD.replacen(from, to, 1)
    };
    refused("", "line 1, column 1", "no readings");
    refused("# nothing\n\n", "line 1, column 1", "no readings");
    refused(&with("distance, P1, P2", "distanse, P1, P2"), "line 5, column 1", "did you mean \"distance\"?");
    refused(&with("P2, 100.5", "P2, 100,5"), "line 5, column 5", "100.5");
    refused(&with("P4, 90.25", "P4, \"90,25\""), "line 7, column 5", "90.25");
    refused(&with("100.5", "4in"), "line 5, column 4", "101.6 mm");
    refused(&with("100.5", "4\""), "line 5, column 4", "not a number");
    refused(&with("100.5", "3 7/8\""), "line 5, column 4", "25.4");
    refused(&with("100.5", "100.5 mm"), "line 5, column 4", "without the unit");
    refused(&with("100.5", "10 cm"), "line 5, column 4", "100 mm");
    refused(&with("100.5", "hundred"), "line 5, column 4", "not a number");
    refused(&with("100.5", "nan"), "line 5, column 4", "not a number");
    refused(&with("100.5", "inf"), "line 5, column 4", "not a number");
    refused(&with("100.5", "1e300"), "line 5, column 4", "not a usable distance");
    refused(&with("100.5", "-3"), "line 5, column 4", "not a usable distance");
    refused(&with("100.5", "0"), "line 5, column 4", "not a usable distance");
    refused(&with(", 100.5", ""), "line 5, column 4", "ends too soon");
    refused(&with("100.5", "100.5, 3, 4"), "line 5, column 5", "follows the number");
    refused(&with("±1", "±0"), "line 6, column 5", "not a usable precision");
    refused(&with("±1", "1"), "line 6, column 5", "± before a precision");
    refused(&with("again, P2, P1", "distance, P2, P1"), "line 8, column 1", "line 5 already");
    refused(&with("distance, P2, P4", "again, P2, P4"), "line 10, column 1", "before the first");
    refused(&with("distance, P2, P4", "distance, P2, P2"), "line 10, column 3", "twice");
    refused(&with("distance, P2, P4", "distance, P2, p4"), "line 10, column 3", "capitals");
    refused(&with("distance, P2, P4", "distance, P2, 17"), "line 10, column 3", "no name");
    refused(&with("height, P1, 0", "height, Q9, 0"), "line 12, column 2", "unknown point \"Q9\"");
    refused(&with("height, P1, 0", "height, P1, -4"), "line 12, column 3", "not a usable height");
    refused(&with("angle, P2", "angle, P1"), "line 13, column 3", "twice");
    refused(&with("52.5", "180"), "line 13, column 5", "degrees");
    refused(&with("A/foot", "foot"), "line 14, column 2", "A/east");
    refused(&with("A/foot", "/foot"), "line 14, column 2", "element name");
    refused(&with("face, A/foot, P1, P2, P3", "face, A/foot, P1, P2, P2"), "line 14, column 5", "twice");
    refused(&with("face, A/foot, P1, P2, P3", "face, A/foot, P1, P2"), "line 14, column 5", "ends too soon");
    let twice = with("note, anything, at all", "face, A/foot, P1, P2, P4");
    refused(&twice, "line 16, column 2", "line 14 already");
    refused(&with("outside, P1, P3, P2", "outside, P1, P4, P2"), "line 15, column 2", "one face");
    refused(&with("outside, P1, P3, P2", "outside, P1, P3"), "line 15, column 4", "ends too soon");
    refused(&with("precision, distance", "precision, distanc"), "line 2, column 2", "did you mean");
    refused(&with("points, P1", "points, P2"), "line 3, column 3", "listed twice");
    refused(
        &with("points, P1, P2, P3, P4", "points, P1, P2, P3"),
        "line 7, column 3",
        "unknown point \"P4\"",
    );
    refused(&GOOD.replace(", ", "\t"), "line 2, column 1", "tabs");
    refused(&with("distance, P2, P3, 60", "distance; P2; P3; 60"), "line 9, column 1", "semicolons");
    // Without a row of points, one that is only named elsewhere is unknown.
    let loose = with("points, P1, P2, P3, P4\n", "").replacen("height, P1", "height, P11", 1);
    refused(&loose, "line 11, column 2", "unknown point \"P11\"");
    // One that is named time and again is not misspelt, but not measured.
    let is_lost = |l: &&str| l.starts_with("points") || l.starts_with("distance") && l.contains("P4");
    let mut unmeasured: Vec<&str> = GOOD.lines().filter(|l| !is_lost(l)).collect();
    unmeasured.extend(["face, A/b, P1, P2, P4", "face, A/c, P2, P3, P4"]);
    let error = read_maquette("f.csv", unmeasured.join("\n").as_bytes()).expect_err("refused").to_string();
    assert!(error.contains("no distance to the point \"P4\" is measured"), "{error}");
    let ambiguous = GOOD.replace(", ", ";").replacen("100.5", "1,005", 1);
    refused(&ambiguous, "line 5, column 4", "1.005 or 1005");
    let mut bytes = GOOD.as_bytes().to_vec();
    bytes[300] = 0xff;
    let error = read_maquette("f.csv", &bytes).expect_err("not text").to_string();
    assert!(error.starts_with("f.csv: line 1") && error.contains("UTF-8"), "{error}");
}

#[test]
fn a_million_rows_are_refused_at_the_limit() {
    let blank = "\n".repeat(1_000_000);
    refused(&blank, "line 20001, column 1", "more than 20000 lines");
    let row = format!("{GOOD}{}", "again, P1, P2, 100\n".repeat(100_000));
    refused(&row, "line 6008, column 1", "more than 6000 readings");
    let many = format!("{GOOD}{}", "again, P1, P2, 100\n".repeat(1_000_000));
    // The last row that is taken ends some way before 4 MiB: rows have 19 bytes.
    let (line, column) = line_and_column(many.as_bytes(), MOST_BYTES);
    assert_eq!(line, 17 + (MOST_BYTES - GOOD.len()) / 19);
    refused(&many, &format!("line {line}, column {column}"), "more than the 4194304 bytes allowed");
    let points: String = (0..200).map(|k| format!("distance, P1, Q{k}, 100\n")).collect();
    refused(&points, "line 120, column 3", "more than the 120 allowed");
}
