//! Bad input: a clear error each, exit code 1, and nothing written.

use crate::{SMALL, contents, folder_with, ribwright, write};

/// Checks that a script fails, says these words, and writes nothing.
#[track_caller]
fn refused(script: &str, words: &[&str]) {
    let folder = folder_with(script);
    let run = ribwright(folder.path(), &["make", "work.rhai"]).failed().says(words);
    assert!(!run.stderr.contains("panicked"), "{run:#?}");
    assert_eq!(contents(folder.path()).len(), 1, "something was written");
}

#[track_caller]
fn instead(of: &str, with: &str) -> String {
    assert!(SMALL.contains(of), "the script has no {of}");
    SMALL.replace(of, with)
}

#[test]
fn webs_of_negative_width() {
    refused(&instead("crest: 70", "crest: 150"), &["crest", "pitch", "work.rhai:2"]);
}

#[test]
fn ribs_along_the_normal() {
    refused(
        &instead("s.stand(a);", "a.face(\"top\").ribs(#{ along: [0, 0, 1] });\ns.stand(a);"),
        &["top", "normal"],
    );
}

#[test]
fn an_open_element() {
    let planes = r#"planes("A", [
        #{ name: "e", point: [100,0,0], normal: [1,0,0] }, #{ name: "w", point: [-100,0,0], normal: [-1,0,0] },
        #{ name: "n", point: [0,100,0], normal: [0,1,0] }, #{ name: "s", point: [0,-100,0], normal: [0,-1,0] },
        #{ name: "b", point: [0,0,0], normal: [0,0,-1] } ])"#;
    refused(&instead("slab(\"A\", #{ size: [600, 450, 500] })", planes), &["A", "open"]);
    let one = r#"planes("A", [#{ name: "p", point: [0,0,0], normal: [0,0,1] }])"#;
    refused(&instead("slab(\"A\", #{ size: [600, 450, 500] })", one), &["A", "at least 4 planes"]);
}

#[test]
fn an_empty_element() {
    let planes = r#"planes("A", [
        #{ name: "e", point: [100,0,0], normal: [1,0,0] }, #{ name: "w", point: [-100,0,0], normal: [-1,0,0] },
        #{ name: "n", point: [0,100,0], normal: [0,1,0] }, #{ name: "s", point: [0,-100,0], normal: [0,-1,0] },
        #{ name: "t", point: [0,0,0], normal: [0,0,1] }, #{ name: "b", point: [0,0,200], normal: [0,0,-1] } ])"#;
    refused(&instead("slab(\"A\", #{ size: [600, 450, 500] })", planes), &["A", "nothing between"]);
}

#[test]
fn two_faces_in_one_plane() {
    let planes = r#"planes("A", [
        #{ name: "e", point: [100,0,0], normal: [1,0,0] }, #{ name: "w", point: [-100,0,0], normal: [-1,0,0] },
        #{ name: "n", point: [0,100,0], normal: [0,1,0] }, #{ name: "s", point: [0,-100,0], normal: [0,-1,0] },
        #{ name: "t", point: [0,0,200], normal: [0,0,1] }, #{ name: "b", point: [0,0,0], normal: [0,0,-1] },
        #{ name: "twin", point: [100,50,0], normal: [2,0,0] } ])"#;
    refused(&instead("slab(\"A\", #{ size: [600, 450, 500] })", planes), &["e", "twin", "same plane"]);
}

#[test]
fn numbers_that_are_none() {
    for number in ["0.0/0.0", "1.0/0.0", "-1.0/0.0", "1e300", "-1e300", "5e9"] {
        refused(&instead("pitch: 200", &format!("pitch: {number}")), &["pitch"]);
        refused(&instead("[600, 450, 500]", &format!("[{number}, 450, 500]")), &["size"]);
    }
}

#[test]
fn an_unknown_setting_names_the_nearest() {
    refused(&instead("bend_radius", "bend_radios"), &["bend_radios", "bend_radius", "work.rhai:2"]);
}

#[test]
fn a_face_that_is_not_there_names_the_nearest() {
    refused(
        &instead("s.stand(a);", "a.face(\"eats\").ribs(#{ phase: 3 });\ns.stand(a);"),
        &["eats", "east", "work.rhai:6"],
    );
}

#[test]
fn anchors_that_run_into_each_other() {
    let stage = "s.stand(a);\ns.stage(\"base\", #{ anchors: \"circle\", anchor_count: 100 });";
    refused(&instead("s.stand(a);", stage), &["base", "anchors M16", "allowed: at least 48"]);
}

#[test]
fn an_element_that_touches_nothing() {
    let apart = "s.stand(a);\nlet b = slab(\"B\", #{ size: [300, 300, 300] });\nb.clad(rib);\nb.move([9000, 0, 0]);\ns.add(b);";
    refused(&instead("s.stand(a);", apart), &["error", "B"]);
}

#[test]
fn an_element_without_sheet() {
    refused(&instead("a.clad(rib);", ""), &["A", "clad"]);
}

#[test]
fn scripts_that_never_end() {
    refused("loop { }", &["work.rhai"]);
    refused("fn f(n) { f(n + 1) } f(0)", &["work.rhai"]);
    refused("let x = [1]; loop { x += x; }", &["work.rhai"]);
    refused("let x = \"a\"; loop { x += x; }", &["work.rhai"]);
    refused("let x = #{}; let i = 0; loop { x[`k${i}`] = i; i += 1; }", &["work.rhai"]);
}

#[test]
fn imports_from_elsewhere() {
    for path in ["../../etc/passwd", "/etc/passwd", "../other"] {
        refused(&format!("import \"{path}\" as p;\n{SMALL}"), &["import"]);
    }
}

#[test]
fn a_script_that_is_not_text() {
    let folder = folder_with("");
    write(&folder.path().join("work.rhai"), b"let s = \xff\xfe sculpture(\"x\");");
    ribwright(folder.path(), &["make", "work.rhai"]).failed().says(&["work.rhai", "UTF-8"]);
    assert_eq!(contents(folder.path()).len(), 1);
}

#[test]
fn a_script_that_is_not_there() {
    let folder = folder_with(SMALL);
    ribwright(folder.path(), &["make", "wrok.rhai"]).failed().says(&["wrok.rhai"]);
    ribwright(folder.path(), &["check", "."]).failed();
}

#[test]
fn a_script_without_a_sculpture() {
    refused("let x = 3; x", &["sculpture"]);
    refused("", &["sculpture"]);
}
