//! The binary as people run it: files, exit codes and texts.

mod bad_input;
mod disk;
mod hostile;
mod measure;
mod model;
mod recipes;
mod round_trip;
mod runs;
mod survey;
mod tweaks;
mod vary;
mod verbs;

use std::path::Path;
use std::process::{Command, Output};

/// A small work that is quick to make.
const SMALL: &str = r#"
let rib = trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70, thickness: 2, bend_radius: 6 });
let s = sculpture("Small");
let a = slab("A", #{ size: [600, 450, 500] });
a.clad(rib);
s.stand(a);
s
"#;

/// Runs ribwright in a folder.
#[track_caller]
fn ribwright(folder: &Path, args: &[&str]) -> Run {
    let output = Command::new(env!("CARGO_BIN_EXE_ribwright"))
        .current_dir(folder)
        .args(args)
        .output()
        .unwrap_or_else(|e| panic!("ribwright does not start: {e}"));
    Run::new(&output)
}

/// What a run came to.
#[derive(Debug)]
struct Run {
    code: Option<i32>,
    stdout: String,
    stderr: String,
}

impl Run {
    fn new(output: &Output) -> Self {
        Self {
            code: output.status.code(),
            stdout: String::from_utf8_lossy(&output.stdout).into_owned(),
            stderr: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }

    #[track_caller]
    fn done(self) -> Self {
        assert_eq!(self.code, Some(0), "{self:#?}");
        self
    }

    #[track_caller]
    fn failed(self) -> Self {
        assert_eq!(self.code, Some(1), "{self:#?}");
        self
    }

    #[track_caller]
    fn says(self, words: &[&str]) -> Self {
        let all = format!("{}\n{}", self.stdout, self.stderr);
        for word in words {
            assert!(all.contains(word), "{word:?} is not said in {self:#?}");
        }
        self
    }
}

/// A folder with one script, `work.rhai`.
#[track_caller]
fn folder_with(script: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap_or_else(|e| panic!("no folder: {e}"));
    write(&folder.path().join("work.rhai"), script.as_bytes());
    folder
}

#[track_caller]
fn write(path: &Path, bytes: &[u8]) {
    std::fs::write(path, bytes).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
}

/// Every file below a folder with its bytes, by relative path.
fn contents(folder: &Path) -> std::collections::BTreeMap<String, Vec<u8>> {
    let mut found = std::collections::BTreeMap::new();
    let mut waiting = vec![folder.to_owned()];
    while let Some(at) = waiting.pop() {
        for item in std::fs::read_dir(&at).into_iter().flatten().flatten() {
            let path = item.path();
            if path.is_dir() {
                waiting.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap_or(&path).to_string_lossy().into_owned();
                found.insert(name, std::fs::read(&path).unwrap_or_default());
            }
        }
    }
    found
}
