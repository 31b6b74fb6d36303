//! `ribwright model`: kits of a small work, written whole or not at all.

use crate::{SMALL, contents, folder_with, ribwright, write};

#[test]
fn a_kit_has_pages_tracings_and_models_and_two_runs_are_alike() {
    let folder = folder_with(SMALL);
    for (more, pieces) in [(&[][..], 2), (&["--nets", "faces"][..], 7), (&["--ribs"], 7)] {
        let run = |out: &str, threads: &str| {
            let args = [&["model", "work.rhai", "--scale", "10", "--json", "--out", out], more].concat();
            let run = ribwright(folder.path(), &[&args[..], &["--threads", threads]].concat()).done();
            (run.stdout, contents(&folder.path().join(out)))
        };
        let (said, files) = run("one", "1");
        let json: serde_json::Value = serde_json::from_str(&said).unwrap_or_default();
        assert_eq!((&json["done"], &json["scale"]), (&true.into(), &10.0.into()), "{said}");
        // The footprint is a piece too.
        assert!(json["pieces"].as_array().is_some_and(|p| p.len() >= pieces), "{said}");
        for file in ["kit.pdf", "pages.csv", "edges.csv", "pages/001.svg", "tracings/A_east.svg"] {
            assert!(files.contains_key(file), "{file}: {:?}", files.keys());
        }
        assert!(files.contains_key("model/Small-1-10.stl") && files.contains_key("model/Small-1-10.glb"));
        let (_, again) = run("two", "2");
        assert!(files == again, "two runs differ with {more:?}");
    }
}

#[test]
fn a_wrong_scale_is_wrong_usage_and_a_broken_script_leaves_the_earlier_kit() {
    let folder = folder_with(SMALL);
    ribwright(folder.path(), &["model", "work.rhai", "--height", "60"]).done().says(&["60 mm", "kit"]);
    let odd = ribwright(folder.path(), &["model", "work.rhai", "--height", "61", "--out", "odd"]).done();
    let scale = odd.stdout.split("model 1:").nth(1).and_then(|s| s.split(',').next()).expect("a scale");
    assert!(scale.split('.').nth(1).is_none_or(|d| d.len() <= 3), "1:{scale}");
    std::fs::remove_dir_all(folder.path().join("odd")).expect("removed");
    let before = contents(folder.path());
    for bad in [
        &["--scale", "0"][..],
        &["--height", "nan"],
        &["--scale", "20", "--height", "100"],
        &["--paper", "a5"],
        &["--ribs", "--nets", "elements"],
        &["--tab", "900"],
    ] {
        let run = ribwright(folder.path(), &[&["model", "work.rhai"][..], bad].concat());
        assert_eq!(run.code, Some(2), "{bad:?}: {run:#?}");
    }
    assert_eq!(before, contents(folder.path()));
    write(&folder.path().join("work.rhai"), b"let s = sculpture(\"Broken\"); s.stand(nothing); s");
    ribwright(folder.path(), &["model", "work.rhai"]).failed();
    let mut after = contents(folder.path());
    after.remove("work.rhai");
    assert!(before.iter().filter(|(k, _)| *k != "work.rhai").eq(after.iter()), "the kit was touched");
}
