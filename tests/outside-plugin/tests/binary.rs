//! The plug-in's own binary knows its word and writes its file.

use std::path::Path;
use std::process::{Command, Output};

const SCRIPT: &str = r#"
let rib = fluted(#{ pitch: 150, depth: 20 });
let s = sculpture("Plus");
let a = slab("A", #{ size: [600, 450, 500] });
a.clad(rib);
s.stand(a);
s
"#;

#[track_caller]
fn plus(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_ribwright-plus"))
        .current_dir(folder)
        .args(args)
        .output()
        .unwrap_or_else(|e| panic!("the binary does not start: {e}"))
}

#[track_caller]
fn folder_with_script(script: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap_or_else(|e| panic!("no folder: {e}"));
    std::fs::write(folder.path().join("plus.rhai"), script).unwrap_or_else(|e| panic!("no script: {e}"));
    folder
}

#[test]
fn a_script_word_and_a_file_come_from_outside() {
    let folder = folder_with_script(SCRIPT);
    let made = plus(folder.path(), &["make", "plus.rhai"]);
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let list = std::fs::read_to_string(folder.path().join("out/cut_list.txt")).unwrap_or_default();
    assert!(list.contains("A/east\t"), "{list}");
    let job = std::fs::read_to_string(folder.path().join("out/job.json")).unwrap_or_default();
    assert!(job.contains("\"fluted\""), "job.json does not name the profile");
}

#[test]
fn help_and_errors_know_the_new_rows() {
    let folder = folder_with_script(&SCRIPT.replace("depth: 20", "dept: 20"));
    let words = plus(folder.path(), &["words", "fluted"]);
    assert!(String::from_utf8_lossy(&words.stdout).contains("depth"), "{words:?}");
    let checked = plus(folder.path(), &["check", "plus.rhai"]);
    assert_eq!(checked.status.code(), Some(1));
    let error = String::from_utf8_lossy(&checked.stderr);
    assert!(error.contains("dept") && error.contains("depth"), "{error}");
}

#[test]
fn the_standard_registry_is_left_alone() {
    let standard = ribwright_kernel::Registry::standard();
    assert!(standard.profiles.iter().all(|row| row.name != "fluted"));
    assert_eq!(ribwright_outside_plugin::registry().profiles.len(), standard.profiles.len() + 1);
}
