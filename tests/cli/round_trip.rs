//! There and back: a work printed as a kit, its tracings solved as a maquette, and the work made again from them.

use crate::{contents, folder_with, ribwright, write};
use serde_json::Value;

const HEAD: &str = r#"
let rib = trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70, thickness: 2, bend_radius: 6 });
let s = sculpture("There and back");
"#;

/// Tracings are written to a thousandth of a millimetre, so a work ten times as large has its corners within some
/// hundredths: shares of a metre, doubled for areas and trebled for volumes.
const LENGTHS: f64 = 1.0e-4;

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
            names.push(format!("{name:?}"));
        }
    }
    assert_eq!(names.len(), 7, "a tracing for every face: {names:?}");
    let tracings = names.join(", ");
    let again = format!(
        "{HEAD}let m = maquette([{tracings}], #{{ scale: 10 }});\nm.level(\"A/bottom\");\n\
         let a = m.element(\"A\"); a.clad(rib); s.stand(a); s"
    );
    write(&at.join("work.rhai"), again.as_bytes());
    ribwright(at, &["make", "work.rhai"]).done();
    let second = job(&contents(at));
    let near = |what: &str, path: &str, share: f64| {
        let [a, b] = [&first, &second].map(|j| j.pointer(path).and_then(Value::as_f64).expect(path));
        assert!((a - b).abs() <= share * a.abs(), "{what}: {a} became {b}");
    };
    near("volume", "/sculpture/enclosed_volume_mm3", 3.0 * LENGTHS);
    near("area", "/sculpture/shell_area_mm2", 2.0 * LENGTHS);
    near("mass", "/sculpture/mass_kg", 2.0 * LENGTHS);
    let by_id = |job: &Value, list: &str| -> std::collections::BTreeMap<String, Value> {
        let rows = job[list].as_array().expect(list).iter();
        rows.map(|r| (r["id"].as_str().unwrap_or_default().to_owned(), r.clone())).collect()
    };
    let (faces, seams) = (by_id(&first, "faces"), by_id(&first, "seams"));
    let (faces_again, seams_again) = (by_id(&second, "faces"), by_id(&second, "seams"));
    assert!(faces.keys().eq(faces_again.keys()) && seams.keys().eq(seams_again.keys()));
    for (id, face) in &faces {
        let [a, b] = [face, &faces_again[id]].map(|f| f["area_mm2"].as_f64().expect("an area"));
        assert!((a - b).abs() <= 2.0 * LENGTHS * a, "{id}: {a} mm² became {b}");
    }
    for (id, seam) in &seams {
        let [a, b] = [seam, &seams_again[id]].map(|s| s["length_mm"].as_f64().expect("a length"));
        assert!((a - b).abs() <= 10.0 * LENGTHS * a, "{id}: {a} mm became {b}");
    }
}
