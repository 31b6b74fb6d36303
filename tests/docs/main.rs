//! Rules of the code base and promises of its documents, held by reading the files.

mod generated;
mod licences;
mod modules;
mod readme;
mod rules;

use std::path::{Path, PathBuf};

/// The root of the workspace.
fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

#[track_caller]
fn text(path: &str) -> String {
    std::fs::read_to_string(root().join(path)).unwrap_or_else(|e| panic!("{path}: {e}"))
}

/// All files below a folder with this ending, as paths relative to the root, in order.
#[track_caller]
fn files(folder: &str, ending: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut waiting = vec![folder.to_owned()];
    while let Some(at) = waiting.pop() {
        let items = std::fs::read_dir(root().join(&at)).unwrap_or_else(|e| panic!("{at}: {e}"));
        for item in items {
            let item = item.unwrap_or_else(|e| panic!("{at}: {e}"));
            let path = format!("{at}/{}", item.file_name().to_string_lossy());
            if item.path().is_dir() {
                if !path.ends_with("/target") {
                    waiting.push(path);
                }
            } else if path.ends_with(ending) {
                found.push(path);
            }
        }
    }
    found.sort();
    assert!(!found.is_empty(), "{folder} holds no file ending in {ending}");
    found
}
