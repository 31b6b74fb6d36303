//! Run after run: the same bytes, the user's files, and what fails leaves.

use crate::{SMALL, contents, folder_with, ribwright, write};

#[test]
fn two_runs_and_other_numbers_of_threads_give_the_same_bytes() {
    let folder = folder_with(SMALL);
    ribwright(folder.path(), &["make", "work.rhai", "--out", "one"]).done();
    ribwright(folder.path(), &["make", "work.rhai", "--out", "two", "--threads", "1"]).done();
    ribwright(folder.path(), &["make", "work.rhai", "--out", "three", "--threads", "2"]).done();
    let one = contents(&folder.path().join("one"));
    assert!(one.len() > 10, "only {} files", one.len());
    for other in ["two", "three"] {
        let other = contents(&folder.path().join(other));
        let differing: Vec<_> = one.iter().filter(|(path, bytes)| other.get(*path) != Some(bytes)).collect();
        assert!(differing.is_empty() && one.len() == other.len(), "{:?}", differing.iter().map(|d| d.0));
    }
}

#[test]
fn a_failed_run_leaves_the_earlier_files_as_they_were() {
    let folder = folder_with(SMALL);
    ribwright(folder.path(), &["make", "work.rhai"]).done();
    write(&folder.path().join("out/mine.txt"), b"my own");
    let before = contents(&folder.path().join("out"));
    write(&folder.path().join("work.rhai"), SMALL.replace("trapezoid", "trapezoit").as_bytes());
    ribwright(folder.path(), &["make", "work.rhai"]).failed().says(&["trapezoid", "is as it was"]);
    assert_eq!(contents(&folder.path().join("out")), before);
    // An error finding: an element that touches nothing.
    let apart = SMALL.replace("s.stand(a);", "s.stand(a);\nlet b = slab(\"B\", #{ size: [300, 300, 300] });\nb.clad(rib);\nb.move([9000, 0, 0]);\ns.add(b);");
    write(&folder.path().join("work.rhai"), apart.as_bytes());
    ribwright(folder.path(), &["make", "work.rhai"]).failed().says(&["error", "B", "is as it was"]);
    assert_eq!(contents(&folder.path().join("out")), before);
}

#[test]
fn files_of_the_user_stay_and_files_of_parts_that_are_gone_go() {
    let folder = folder_with(SMALL);
    let named = |name: &str| SMALL.replace("slab(\"A\"", &format!("slab(\"{name}\""));
    ribwright(folder.path(), &["make", "work.rhai"]).done();
    write(&folder.path().join("out/cut/notes.txt"), b"my own");
    write(&folder.path().join("work.rhai"), named("Zed").as_bytes());
    ribwright(folder.path(), &["make", "work.rhai"]).done().says(&["of your own kept", "removed"]);
    let after = contents(&folder.path().join("out"));
    assert_eq!(after.get("cut/notes.txt").map(Vec::as_slice), Some(b"my own".as_slice()));
    assert!(!after.keys().any(|path| path.starts_with("cut/A_")), "{:?}", after.keys());
    assert!(after.keys().any(|path| path.starts_with("cut/Zed_")), "{:?}", after.keys());
}

#[test]
fn only_some_stages_keep_the_files_of_the_others() {
    let folder = folder_with(SMALL);
    ribwright(folder.path(), &["make", "work.rhai"]).done();
    let before = contents(&folder.path().join("out"));
    ribwright(folder.path(), &["make", "work.rhai", "--only", "schedules"]).done();
    let after = contents(&folder.path().join("out"));
    assert!(before.keys().eq(after.keys()), "{:?}\n{:?}", before.keys(), after.keys());
}

#[test]
fn what_a_killed_run_left_is_put_right_at_the_next_start() {
    let folder = folder_with(SMALL);
    ribwright(folder.path(), &["make", "work.rhai"]).done();
    let out = folder.path().join("out");
    let before = contents(&out);
    // Killed between the two renames; and now the script is wrong too.
    let partial = folder.path().join(".out.partial");
    std::fs::create_dir_all(partial.join("new")).unwrap_or_else(|e| panic!("{e}"));
    write(&partial.join("new/half.dxf"), b"half");
    std::fs::rename(&out, partial.join("old")).unwrap_or_else(|e| panic!("{e}"));
    write(&folder.path().join("work.rhai"), b"nonsense(");
    ribwright(folder.path(), &["make", "work.rhai"]).failed();
    assert_eq!(contents(&out), before);
    assert!(!partial.exists(), "something was left");
}
