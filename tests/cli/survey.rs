//! `ribwright survey`: the made-up yard, bad surveys, and the form.

use crate::{contents, folder_with, ribwright, write};
use std::path::Path;

const YARD: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/yard");

/// A folder with the made-up yard.
fn yard() -> tempfile::TempDir {
    let place = folder_with("");
    for name in ["yard.csv", "S20-1200.svg"] {
        let bytes = std::fs::read(Path::new(YARD).join(name)).unwrap_or_else(|e| panic!("{name}: {e}"));
        write(&place.path().join(name), &bytes);
    }
    place
}

#[test]
fn a_yard_is_fitted_drawn_and_its_misreadings_named() {
    let place = yard();
    let said = ribwright(place.path(), &["survey", "yard.csv", "--out", "out"]).done();
    let said =
        said.says(&["S20", "S04: fold 9 at station 650", "column 5 (across)", "S11", "wrote 22 files"]);
    assert_eq!(said.stdout.matches("warning[misreading]").count(), 2, "{}", said.stdout);
    let files = contents(&place.path().join("out"));
    let drawing = String::from_utf8_lossy(&files["sheets/S04.svg"]);
    assert!(drawing.contains("DEPARTURES ARE DRAWN") && drawing.contains("misread: 446.0"), "{drawing}");
    assert!(files["folds.csv"].starts_with(b"sheet,fold,station mm"));
    // Another run, on another number of threads, gives the same bytes.
    ribwright(place.path(), &["survey", "yard.csv", "--out", "again"]).done();
    assert_eq!(files, contents(&place.path().join("again")));
}

#[test]
fn a_survey_is_data_for_machines() {
    let place = yard();
    let said = ribwright(place.path(), &["survey", "yard.csv", "--straight", "--json"]).done();
    let data: serde_json::Value = serde_json::from_str(&said.stdout).expect("JSON");
    assert_eq!(data["schema"], "ribwright-survey-1");
    assert_eq!(data["sheets"][0]["straight"], true);
    assert_eq!(data["sheets"].as_array().map(Vec::len), Some(20));
    assert!(data["sheets"][3]["folds"][0]["across_deviation_mm"][0].as_f64().is_some_and(|x| x > 0.0));
}

#[test]
fn a_blank_form_is_two_pages_of_pdf() {
    let place = folder_with("");
    ribwright(place.path(), &["survey", "--form", "--out", "form"]).done().says(&["wrote 1 file"]);
    let bytes = std::fs::read(place.path().join("form/form.pdf")).expect("written");
    let text = String::from_utf8_lossy(&bytes);
    assert!(text.starts_with("%PDF") && text.contains("/Count 2"));
    let neither = ribwright(place.path(), &["survey"]);
    assert_eq!(neither.code, Some(2), "{neither:#?}");
}

#[test]
fn bad_surveys_are_refused_with_line_and_column_and_nothing_is_written() {
    let place = yard();
    let good = std::fs::read_to_string(place.path().join("yard.csv")).expect("text");
    let refused = |text: &[u8], words: &[&str]| {
        write(&place.path().join("bad.csv"), text);
        let said = ribwright(place.path(), &["survey", "bad.csv", "--out", "out"]).failed();
        said.says(words).says(&["bad.csv: line ", "column "]);
        assert!(!place.path().join("out").exists(), "nothing is written");
    };
    refused(b"", &["empty"]);
    let mut million = String::from("sheet,station,fold,across,depth\n");
    for row in 0..1_000_000_u32 {
        million.push_str(&format!("S{},{},{},2,3\n", row / 100, row % 4, row % 100 / 4 + 1));
    }
    refused(million.as_bytes(), &["bad.csv: line 40002, column 1 (sheet)", "400 sheets allowed", "split it"]);
    refused(good.replace(',', ";").as_bytes(), &["semicolons"]);
    refused(good.replacen("24.5", "\"24,5\"", 1).as_bytes(), &["decimal sign"]);
    refused(good.replacen(",fold,80,1,", ",fold,,1,", 1).as_bytes(), &["station"]);
    refused(good.replacen(",fold,80,2,", ",fold,80,1,", 1).as_bytes(), &["second time"]);
    refused(good.replacen(",fold,", ",flod,", 1).as_bytes(), &["did you mean \"fold\"?"]);
    // Sheets without damage: an outline under the wrong heading is an error of its own.
    let folds = good.lines().filter(|l| [",fold,", ",profile,", "sheet,"].iter().any(|w| l.contains(w)));
    let folds = folds.collect::<Vec<_>>().join("\n");
    refused(folds.replacen("across,depth", "depth,across", 1).as_bytes(), &["swapped"]);
    refused(good.replacen("across,depth", "depth,across", 1).as_bytes(), &["nothing under depth"]);
    refused(good.replacen("trapezoid", "trapzoid", 1).as_bytes(), &["did you mean \"trapezoid\"?"]);
    refused(
        good.replacen(",profile,", ",note,", 1).replacen(",note,", "S01,note,", 1).as_bytes(),
        &["profile"],
    );
    refused(good.replacen("S20-1200.svg", "../S20-1200.svg", 1).as_bytes(), &["not a file beside"]);
    refused(good.replacen("S20-1200.svg", "S21.svg", 1).as_bytes(), &["S21.svg"]);
    // Two corners of a hole in the wrong order.
    let crossed = good
        .replacen("S02,hole,905,,300,,1,", "S02,hole,0,,0,,1,", 1)
        .replacen("S02,hole,930,,365,,1,", "S02,hole,905,,300,,1,", 1)
        .replacen("S02,hole,0,,0,,1,", "S02,hole,930,,365,,1,", 1);
    refused(crossed.replacen("S02,hole,870,,400,,1,", "S02,hole,905,,301,,1,", 1).as_bytes(), &["crosses"]);
    let mut bytes = good.clone().into_bytes();
    let at = good.find("S355").expect("a grade");
    bytes[at] = 0xff;
    refused(&bytes, &["not UTF-8"]);
    ribwright(place.path(), &["survey", "none.csv"]).failed().says(&["none.csv"]);
    // A width that contradicts the folds is a warning with its line.
    write(
        &place.path().join("wide.csv"),
        good.replacen("S01,width,0,,,,1225,", "S01,width,0,,,,1252,", 1).as_bytes(),
    );
    ribwright(place.path(), &["survey", "wide.csv", "--out", "wide"]).done().says(&[
        "warning[contradiction]",
        "wide.csv: line 4, column 7 (value)",
        "a width of 1252 mm",
    ]);
    // A byte-order mark does no harm, and is said.
    write(&place.path().join("marked.csv"), format!("\u{feff}{good}").as_bytes());
    ribwright(place.path(), &["survey", "marked.csv", "--out", "out"]).done().says(&["byte-order mark"]);
}
