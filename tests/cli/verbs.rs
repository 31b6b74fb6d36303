//! Each verb does what its help says.

use crate::{SMALL, contents, folder_with, ribwright};

#[test]
fn new_makes_a_folder_whose_script_can_be_made() {
    let place = tempfile::tempdir().unwrap_or_else(|e| panic!("{e}"));
    ribwright(place.path(), &["new", "first-work"]).done().says(&["first-work.rhai"]);
    let script = place.path().join("first-work/first-work.rhai");
    let text = std::fs::read_to_string(&script).unwrap_or_default();
    assert!(text.contains("sculpture(\"First Work\")") && !text.contains("{title}"), "{text}");
    ribwright(place.path(), &["make", "first-work/first-work.rhai"]).done().says(&["wrote"]);
    assert!(place.path().join("first-work/out/job.json").is_file());
}

#[test]
fn new_never_overwrites() {
    let place = tempfile::tempdir().unwrap_or_else(|e| panic!("{e}"));
    ribwright(place.path(), &["new", "work"]).done();
    let before = contents(place.path());
    ribwright(place.path(), &["new", "work"]).failed().says(&["work", "there already"]);
    assert_eq!(contents(place.path()), before);
}

#[test]
fn check_writes_nothing_and_says_what_it_found() {
    let folder = folder_with(SMALL);
    ribwright(folder.path(), &["check", "work.rhai"]).done().says(&["checked work.rhai"]);
    assert_eq!(contents(folder.path()).len(), 1, "check wrote something");
    let run = ribwright(folder.path(), &["check", "work.rhai", "--json"]).done();
    let json: serde_json::Value = serde_json::from_str(&run.stdout).unwrap_or_default();
    assert_eq!(json["done"], true, "{run:#?}");
    assert!(json["findings"].is_array(), "{run:#?}");
}

#[test]
fn make_lists_its_files_for_machines() {
    let folder = folder_with(SMALL);
    let run = ribwright(folder.path(), &["make", "work.rhai", "--json", "--out", "deep/result"]).done();
    let json: serde_json::Value = serde_json::from_str(&run.stdout).unwrap_or_default();
    let listed: Vec<&str> =
        json["files"].as_array().into_iter().flatten().filter_map(|f| f.as_str()).collect();
    let mut written: Vec<String> = contents(&folder.path().join("deep/result")).into_keys().collect();
    written.retain(|path| path != "manifest.json");
    assert_eq!(listed, written);
    for file in ["job.json", "book.html"] {
        assert!(listed.contains(&file), "{file} is not among {listed:?}");
    }
    for start in ["cut/", "templates/", "schedules/", "model/", "views/"] {
        assert!(listed.iter().any(|f| f.starts_with(start)), "nothing in {start} among {listed:?}");
    }
}

#[test]
fn words_and_recipes_list_and_explain() {
    let place = tempfile::tempdir().unwrap_or_else(|e| panic!("{e}"));
    ribwright(place.path(), &["words"]).done().says(&["trapezoid", "sculpture", "frustum", "stack"]);
    ribwright(place.path(), &["words", "trapezoid"]).done().says(&["pitch", "mm"]);
    ribwright(place.path(), &["words", "trapezoit"]).failed().says(&["trapezoid"]);
    ribwright(place.path(), &["words", "--definitions"]).done().says(&["fn trapezoid"]);
    let listed = ribwright(place.path(), &["recipes"]).done().stdout;
    assert!(listed.lines().count() >= 4, "fewer than four recipes:\n{listed}");
    let name = listed.split_whitespace().next().unwrap_or_default();
    ribwright(place.path(), &["recipes", name]).done().says(&["fn "]);
    ribwright(place.path(), &["recipes", "no_such_recipe"]).failed().says(&["no_such_recipe"]);
}

#[test]
fn inspect_reads_back_what_make_wrote() {
    let folder = folder_with(SMALL);
    ribwright(folder.path(), &["make", "work.rhai"]).done();
    for (part, bytes) in contents(&folder.path().join("out")) {
        if part.ends_with(".dxf") || part.ends_with(".svg") {
            let file = format!("out/{part}");
            let run = ribwright(folder.path(), &["inspect", &file]).done();
            assert!(!run.stdout.trim().is_empty(), "{file}: nothing said");
            let run = ribwright(folder.path(), &["inspect", "--json", &file]).done();
            assert!(serde_json::from_str::<serde_json::Value>(&run.stdout).is_ok(), "{file}: {run:#?}");
            let broken = folder.path().join(format!("broken.{}", &part[part.len() - 3..]));
            crate::write(&broken, &bytes[..bytes.len() / 3]);
            ribwright(folder.path(), &["inspect", &broken.to_string_lossy()]).failed().says(&["broken"]);
        }
    }
    ribwright(folder.path(), &["inspect", "absent.dxf"]).failed().says(&["absent.dxf"]);
}

#[test]
fn wrong_usage_is_told_apart_from_failure() {
    let folder = folder_with(SMALL);
    let usages: [&[&str]; 6] = [
        &[],
        &["mkae", "work.rhai"],
        &["make"],
        &["make", "work.rhai", "--only", "templtes"],
        &["make", "work.rhai", "--threads", "0"],
        &["words", "--definitions", "trapezoid"],
    ];
    for args in usages {
        let run = ribwright(folder.path(), args);
        assert_eq!(run.code, Some(2), "{args:?}: {run:#?}");
        assert!(!run.stderr.is_empty(), "{args:?} says nothing");
    }
    assert_eq!(contents(folder.path()).len(), 1, "wrong usage wrote something");
    ribwright(folder.path(), &["--help"]).done().says(&["make", "Exit codes"]);
    ribwright(folder.path(), &["--version"]).done().says(&["ribwright"]);
}
