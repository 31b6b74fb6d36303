//! Folders that cannot be written and disks that are full: a clear error, and the earlier files stay.

use crate::{Run, SMALL, contents, folder_with, ribwright, write};
use std::process::Command;

#[test]
fn an_output_path_that_is_a_file() {
    let folder = folder_with(SMALL);
    write(&folder.path().join("out"), b"a file of mine");
    ribwright(folder.path(), &["make", "work.rhai"]).failed().says(&["out", "is a file", "--out"]);
    ribwright(folder.path(), &["make", "work.rhai", "--out", "out/deeper"]).failed().says(&["--out"]);
    assert_eq!(contents(folder.path()).len(), 2, "something was written");
}

#[test]
fn a_file_of_the_user_under_a_name_of_ours() {
    let folder = folder_with(SMALL);
    std::fs::create_dir(folder.path().join("out")).unwrap_or_else(|e| panic!("{e}"));
    write(&folder.path().join("out/job.json"), b"{}");
    ribwright(folder.path(), &["make", "work.rhai"]).failed().says(&["job.json", "not written by ribwright"]);
    assert_eq!(contents(folder.path()).len(), 2, "something was written");
}

/// A folder that nobody can write, the system's administrator included: the kernel's own /proc.
#[cfg(target_os = "linux")]
#[test]
fn a_folder_that_cannot_be_written() {
    let folder = folder_with(SMALL);
    ribwright(folder.path(), &["make", "work.rhai", "--out", "/proc/ribwright/out"]).failed().says(&[
        "/proc",
        "cannot be written",
        "--out",
    ]);
    assert_eq!(contents(folder.path()).len(), 1);
}

/// No file may grow beyond 8 KiB: the writes fail midway as on a full disk, whoever runs the test.
#[cfg(unix)]
#[test]
fn writes_that_fail_midway_leave_the_earlier_files() {
    let folder = folder_with(SMALL);
    ribwright(folder.path(), &["make", "work.rhai"]).done();
    let before = contents(&folder.path().join("out"));
    let output = Command::new("sh")
        .current_dir(folder.path())
        // Without the trap the signal that goes with the limit would end the process.
        .args([
            "-c",
            "trap '' XFSZ; ulimit -f 16; exec \"$0\" make work.rhai",
            env!("CARGO_BIN_EXE_ribwright"),
        ])
        .output()
        .unwrap_or_else(|e| panic!("sh does not start: {e}"));
    Run::new(&output).failed().says(&["out: cannot be written", "is as it was"]);
    assert_eq!(contents(&folder.path().join("out")), before);
    assert!(!folder.path().join(".out.partial").exists(), "half a folder was left");
}

/// A disk of 256 KiB. Mounting one needs the administrator; others see the test above.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_leaves_the_earlier_files() {
    let folder = folder_with(SMALL);
    let disk = folder.path().join("disk");
    std::fs::create_dir(&disk).unwrap_or_else(|e| panic!("{e}"));
    let mounted = Command::new("mount")
        .args(["-t", "tmpfs", "-o", "size=256k", "ribwright-test"])
        .arg(&disk)
        .output()
        .is_ok_and(|m| m.status.success());
    if !mounted {
        println!("skipped: this user cannot mount a small disk");
        return;
    }
    let result = std::panic::catch_unwind(|| {
        std::fs::create_dir(disk.join("out")).unwrap_or_else(|e| panic!("{e}"));
        write(&disk.join("out/mine.txt"), b"my own");
        let run = ribwright(folder.path(), &["make", "work.rhai", "--out", "disk/out"]);
        (run, contents(&disk))
    });
    // Before anything is judged, so that no test leaves a disk behind.
    let unmounted = Command::new("umount").arg(&disk).output().is_ok_and(|m| m.status.success());
    assert!(unmounted, "the small disk is still mounted");
    let Ok((run, left)) = result else { panic!("the run on the small disk did not come to an end") };
    run.failed().says(&["cannot be written", "make room", "is as it was"]);
    assert_eq!(left.len(), 1, "{:?}", left.keys());
    assert_eq!(left.get("out/mine.txt").map(Vec::as_slice), Some(b"my own".as_slice()));
}
