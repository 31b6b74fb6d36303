//! `ribwright measure`: the made-up maquette, and bad readings.

use crate::{contents, folder_with, ribwright, write};
use std::path::Path;

const TWO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/maquette/two.csv");

fn maquette() -> (tempfile::TempDir, String) {
    let place = folder_with("");
    let text = std::fs::read_to_string(TWO).expect("the fixture");
    write(&place.path().join("two.csv"), text.as_bytes());
    (place, text)
}

#[test]
fn a_maquette_is_solved_drawn_and_its_script_runs_as_it_is() {
    let (place, _) = maquette();
    let said = ribwright(place.path(), &["measure", "two.csv", "--out", "out"]).done();
    let said = said.says(&["warning[misreading]", "distance P2 to P7", "take it again", "wrote 7 files"]);
    assert_eq!(said.stdout.matches("warning[misreading]").count(), 1, "{}", said.stdout);
    let files = contents(&place.path().join("out"));
    for name in
        ["maquette.json", "points.csv", "readings.csv", "faces.csv", "network.svg", "network.pdf", "two.rhai"]
    {
        assert!(files.contains_key(name), "{name} is missing");
    }
    let picture = String::from_utf8_lossy(&files["network.svg"]);
    assert!(picture.contains("ELLIPSOIDS") || picture.contains("ellipsoids"), "the factor is stated");
    ribwright(place.path(), &["check", "out/two.rhai"]).done();
    // Another run gives the same bytes.
    ribwright(place.path(), &["measure", "two.csv", "--out", "again"]).done();
    assert_eq!(files, contents(&place.path().join("again")));
    let said =
        ribwright(place.path(), &["measure", "two.csv", "--scale", "8", "--inward", "0.5", "--json"]).done();
    let data: serde_json::Value = serde_json::from_str(&said.stdout).expect("JSON");
    assert_eq!(data["schema"], "ribwright-maquette-1");
    assert_eq!((data["scale"].as_f64(), data["points"].as_array().map(Vec::len)), (Some(8.0), Some(12)));
    assert!(Path::new(&place.path().join("measure")).exists(), "beside the readings");
}

#[test]
fn bad_readings_are_refused_with_line_and_column_and_nothing_is_written() {
    let (place, good) = maquette();
    let refused = |text: &str, words: &[&str]| {
        write(&place.path().join("bad.csv"), text.as_bytes());
        let said = ribwright(place.path(), &["measure", "bad.csv", "--out", "out"]).failed();
        said.says(words);
        assert!(!place.path().join("out").exists(), "nothing is written");
    };
    refused("", &["bad.csv: line 1, column 1"]);
    refused(
        &good.replacen("distance, P1, P2", "distnce, P1, P2", 1),
        &["bad.csv: line 7, column 1", "did you mean"],
    );
    refused(&good.replace("\noutside", "\nnote, outside"), &["mirror image", "outside, P"]);
    let few: Vec<&str> = good.lines().filter(|l| !l.starts_with("distance") || !l.contains("P12")).collect();
    refused(&few.join("\n"), &["P12"]);
}

#[test]
fn the_worked_example_is_measured_without_a_warning() {
    let place = folder_with("");
    let data = concat!(env!("CARGO_MANIFEST_DIR"), "/../scripts/examples/maquette");
    for (name, bytes) in contents(Path::new(data)) {
        write(&place.path().join(name), &bytes);
    }
    let measure = |files: &[&str], out: &str| {
        let args = [&["measure"], files, &["--out", out]].concat();
        ribwright(place.path(), &args).done()
    };
    let lower = measure(&["A.csv", "A_south.svg"], "lower");
    let upper = measure(&["B.svg", "B_west.dxf"], "upper");
    for said in [&lower.stdout, &upper.stdout] {
        assert!(!said.contains("warning"), "{said}");
    }
    lower.says(&["part 1: 8 points", "element A: 6 faces", "wrote 8 files"]);
    upper.says(&["part 1: 6 points", "element B: 5 faces", "wrote 8 files"]);
    // As the example's head says: a misread distance is named.
    let good = std::fs::read_to_string(place.path().join("A.csv")).expect("the readings");
    let line = good.lines().find(|l| l.starts_with("distance, P2, P7")).expect("a diagonal");
    let length: f64 = line.rsplit(", ").next().and_then(|x| x.parse().ok()).expect("a length");
    write(
        &place.path().join("A.csv"),
        good.replace(line, &format!("distance, P2, P7, {}", length + 8.0)).as_bytes(),
    );
    measure(&["A.csv", "A_south.svg"], "bad").says(&["warning[misreading]", "distance P2 to P7"]);
}

#[test]
fn traced_faces_alone_make_a_maquette_and_close() {
    let place = folder_with("");
    let wedge = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/maquette/wedge.svg");
    write(&place.path().join("wedge.svg"), &std::fs::read(wedge).expect("the fixture"));
    let said = ribwright(place.path(), &["measure", "wedge.svg", "--out", "out"]).done();
    said.says(&["element W: 6 faces", "wrote 8 files"]);
    let files = contents(&place.path().join("out"));
    let closing = String::from_utf8_lossy(&files["closing.csv"]).into_owned();
    assert_eq!(closing.lines().count(), 1 + 12 + 24, "{closing}");
    let script = String::from_utf8_lossy(&files["wedge.rhai"]).into_owned();
    assert_eq!(script.matches(".ribs(").count(), 1, "{script}");
    ribwright(place.path(), &["check", "out/wedge.rhai"]).done();
    // Readings and tracings together, each in its own element.
    let (two, _) = maquette();
    write(&two.path().join("wedge.svg"), &std::fs::read(wedge).expect("the fixture"));
    let both = ["measure", "two.csv", "wedge.svg", "--out", "out", "--traced", "0.3"];
    ribwright(two.path(), &both).done().says(&["element A", "element B", "element W"]);
    // Two files of readings, and a file that is no drawing.
    ribwright(two.path(), &["measure", "two.csv", "two.csv"]).failed().says(&["a second file of readings"]);
    write(&two.path().join("bad.svg"), b"<svg><!ENTITY a 'b'></svg>");
    ribwright(two.path(), &["measure", "bad.svg"]).failed().says(&["bad.svg: line 1 defines an entity"]);
}
