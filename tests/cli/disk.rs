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

/// What lies where ribwright works must neither be waited for nor be taken for its own.
#[cfg(unix)]
#[test]
fn links_pipes_and_files_in_the_way_of_the_working_folder() {
    let folder = folder_with(SMALL);
    let at = |name: &str| folder.path().join(name);
    let pipe = |name: &str| {
        let made = Command::new("mkfifo").arg(at(name)).status().is_ok_and(|s| s.success());
        assert!(made, "no pipe {name}");
    };
    let link = |to: &str, name: &str| {
        std::os::unix::fs::symlink(to, at(name)).unwrap_or_else(|e| panic!("{name}: {e}"));
    };
    // A folder of the user's with the names that ribwright gives in its own.
    for name in ["new", "old", "gone"] {
        std::fs::create_dir_all(at("dear").join(name)).unwrap_or_else(|e| panic!("{e}"));
        write(&at("dear").join(name).join("letter.txt"), b"dear");
    }
    link("dear", ".a.partial");
    write(&at(".b.partial"), b"a file");
    std::fs::create_dir(at(".c.partial")).unwrap_or_else(|e| panic!("{e}"));
    pipe(".c.partial/lock");
    link("nowhere", "d");
    for (out, says) in [
        ("a", ".a.partial: is in the way"),
        ("b", ".b.partial: is in the way"),
        ("c", ".c.partial/lock: is in the way"),
        ("d", "d: is a link that leads nowhere"),
    ] {
        ribwright(folder.path(), &["make", "work.rhai", "--out", out]).failed().says(&[says, "--out"]);
    }
    assert_eq!(contents(&at("dear")).len(), 3, "something of the user's is gone");
    // A pipe where a file of an earlier make would be read.
    for name in ["manifest.json", "cut.csv", "watch.js"] {
        std::fs::create_dir_all(at("e")).unwrap_or_else(|e| panic!("{e}"));
        pipe(&format!("e/{name}"));
        let run = ribwright(folder.path(), &["make", "work.rhai", "--out", "e"]);
        assert!(matches!(run.code, Some(0 | 1)), "{name}: {run:#?}");
        std::fs::remove_dir_all(at("e")).unwrap_or_else(|e| panic!("{e}"));
    }
    pipe("p.dxf");
    for file in ["p.dxf", "/dev/zero"] {
        ribwright(folder.path(), &["inspect", file]).failed().says(&[file, "not a regular file"]);
    }
    ribwright(folder.path(), &["make", "work.rhai", "--out", &"a".repeat(300)])
        .failed()
        .says(&["shorter name"]);
}

/// The disk of a watched work runs full, becomes read-only, and is mended; the script becomes a pipe, a folder, nothing.
/// The watch goes on, and the output stays that of the last save that was made.
#[cfg(target_os = "linux")]
#[test]
fn a_watch_outlives_a_full_disk_and_a_script_that_is_none() {
    use std::io::{BufRead, BufReader};
    use std::process::Stdio;
    use std::sync::mpsc;
    use std::time::Duration;

    let folder = folder_with(SMALL);
    let disk = folder.path().join("disk");
    std::fs::create_dir(&disk).unwrap_or_else(|e| panic!("{e}"));
    let mount = |options: &str| {
        let mut command = Command::new("mount");
        command.args(["-t", "tmpfs", "-o", options, "ribwright-test"]).arg(&disk);
        command.output().is_ok_and(|m| m.status.success())
    };
    if !mount("size=8m") {
        println!("skipped: this user cannot mount a small disk");
        return;
    }
    let script = folder.path().join("work.rhai");
    let mut watch = Command::new(env!("CARGO_BIN_EXE_ribwright"))
        .current_dir(folder.path())
        .args(["watch", "work.rhai", "--out", "disk/out"])
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap_or_else(|e| panic!("ribwright does not start: {e}"));
    let result = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
        let (send, lines) = mpsc::channel();
        let stdout = watch.stdout.take().unwrap_or_else(|| panic!("no output"));
        std::thread::spawn(move || {
            for line in BufReader::new(stdout).lines().map_while(Result::ok) {
                let _ = send.send(line);
            }
        });
        // What is said up to the end of the next make.
        let made = |what: &str| {
            let mut said = String::new();
            loop {
                match lines.recv_timeout(Duration::from_secs(120)) {
                    Ok(line) if line.starts_with("watching ") => return said,
                    Ok(line) => said.push_str(&(line + "\n")),
                    Err(e) => panic!("{what}: {e}; said: {said}"),
                }
            }
        };
        let save = |height: u32| write(&script, SMALL.replace("500]", &format!("{height}]")).as_bytes());
        let job = || std::fs::read(disk.join("out/job.json")).unwrap_or_default();
        made("at first");
        let mut good = job();
        let fill = disk.join("fill");
        let mut file = std::fs::File::create(&fill).unwrap_or_else(|e| panic!("{e}"));
        while std::io::Write::write_all(&mut file, &[1; 4096]).is_ok() {}
        drop(file);
        let mut height = 500;
        for (what, spoil, mend) in [
            (
                "a full disk",
                (&|| save(510)) as &dyn Fn(),
                (&|| std::fs::remove_file(&fill).unwrap_or_else(|e| panic!("{e}"))) as &dyn Fn(),
            ),
            (
                "a disk that is read-only",
                &|| {
                    assert!(mount("remount,ro"), "cannot be made read-only");
                    save(520);
                },
                &|| assert!(mount("remount,rw"), "cannot be made writable"),
            ),
            (
                "a pipe for a script",
                &|| {
                    std::fs::remove_file(&script).unwrap_or_else(|e| panic!("{e}"));
                    assert!(
                        Command::new("mkfifo").arg(&script).status().is_ok_and(|s| s.success()),
                        "no pipe"
                    );
                },
                &|| std::fs::remove_file(&script).unwrap_or_else(|e| panic!("{e}")),
            ),
            (
                "a folder for a script",
                &|| {
                    std::fs::remove_file(&script).unwrap_or_else(|e| panic!("{e}"));
                    std::fs::create_dir(&script).unwrap_or_else(|e| panic!("{e}"));
                },
                &|| std::fs::remove_dir(&script).unwrap_or_else(|e| panic!("{e}")),
            ),
            ("no script", &|| std::fs::remove_file(&script).unwrap_or_else(|e| panic!("{e}")), &|| {}),
        ] {
            spoil();
            made(what);
            assert_eq!(job(), good, "{what}: the output is another");
            mend();
            height += 15;
            save(height);
            // A file taken away and written anew may count as two saves.
            while job() == good {
                made(what);
            }
            good = job();
        }
    }));
    // Before anything is judged, so that no test leaves a process or a disk behind.
    let _ = watch.kill();
    let _ = watch.wait();
    let unmounted = Command::new("umount").arg(&disk).output().is_ok_and(|m| m.status.success());
    assert!(unmounted, "the small disk is still mounted");
    if let Err(panic) = result {
        std::panic::resume_unwind(panic);
    }
}
