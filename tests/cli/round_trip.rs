//! There and back: a work printed as a kit, its tracings solved as a maquette, and the work made again from them.

use crate::{contents, folder_with, ribwright, write};
use serde_json::Value;

const HEAD: &str = r#"
let rib = trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70, thickness: 2, bend_radius: 6 });
let s = sculpture("There and back");
"#;

/// Tracings say where corners lie to a millionth of a millimetre or so; what is left is that of crests, whose places a
/// seam's length answers to many times over.
const LENGTHS: f64 = 2.0e-5;

#[track_caller]
fn job(files: &std::collections::BTreeMap<String, Vec<u8>>) -> Value {
    serde_json::from_slice(&files["out/job.json"]).expect("job.json is JSON")
}

#[test]
fn tracings_of_a_kit_give_the_work_back() {
    let shape =
        r#"let a = frustum("A", #{ sides: 5, base: 900, top: 600, height: 1000, lean: 9, toward: 30 });"#;
    let folder = folder_with(&format!("{HEAD}{shape}\na.clad(rib); s.stand(a); s"));
    let at = folder.path();
    ribwright(at, &["make", "work.rhai"]).done();
    let first = job(&contents(at));
    ribwright(at, &["model", "work.rhai", "--scale", "10", "--out", "kit"]).done();
    let mut names = Vec::new();
    for (path, bytes) in contents(&at.join("kit")) {
        if let Some(name) = path.strip_prefix("tracings/") {
            write(&at.join(name), &bytes);
            names.push(name.to_owned());
        }
    }
    assert_eq!(names.len(), 7, "a tracing for every face: {names:?}");
    let mut args = vec!["measure", "--scale", "10", "--out", "solved"];
    args.extend(names.iter().map(String::as_str));
    ribwright(at, &args).done().says(&["element A: 7 faces"]);
    let files = contents(&at.join("solved"));
    let script =
        files.iter().find(|(name, _)| name.ends_with(".rhai")).map(|(_, bytes)| bytes).expect("a script");
    // Ribs run and lie as traced; only what sheet it is cannot be seen from a tracing.
    let rib = HEAD.lines().find(|line| line.starts_with("let rib")).expect("the sheet");
    let lines = String::from_utf8_lossy(script).into_owned();
    let lines: Vec<&str> = lines.lines().map(|l| if l.starts_with("let rib") { rib } else { l }).collect();
    write(&at.join("work.rhai"), lines.join("\n").as_bytes());
    ribwright(at, &["make", "work.rhai"]).done();
    let second = job(&contents(at));
    let near = |what: &str, path: &str, share: f64| {
        let [a, b] = [&first, &second].map(|j| j.pointer(path).and_then(Value::as_f64).expect(path));
        assert!((a - b).abs() <= share * a.abs(), "{what}: {a} became {b}");
    };
    near("volume", "/sculpture/enclosed_volume_mm3", LENGTHS);
    near("area", "/sculpture/shell_area_mm2", LENGTHS);
    near("mass", "/sculpture/mass_kg", LENGTHS);
    let by_id = |job: &Value, list: &str| -> std::collections::BTreeMap<String, Value> {
        let rows = job[list].as_array().expect(list).iter();
        rows.map(|r| (r["id"].as_str().unwrap_or_default().to_owned(), r.clone())).collect()
    };
    let (faces, seams) = (by_id(&first, "faces"), by_id(&first, "seams"));
    let (faces_again, seams_again) = (by_id(&second, "faces"), by_id(&second, "seams"));
    assert!(faces.keys().eq(faces_again.keys()) && seams.keys().eq(seams_again.keys()));
    for (id, face) in &faces {
        let [a, b] = [face, &faces_again[id]].map(|f| f["area_mm2"].as_f64().expect("an area"));
        assert!((a - b).abs() <= LENGTHS * a, "{id}: {a} mm² became {b}");
    }
    for (id, seam) in &seams {
        let [a, b] = [seam, &seams_again[id]].map(|s| s["length_mm"].as_f64().expect("a length"));
        assert!((a - b).abs() <= LENGTHS * a, "{id}: {a} mm became {b}");
    }
}
