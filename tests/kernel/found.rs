//! What fuzzing found is fed again, and the seeds it began with: each ends as its kind of input promises.

use ribwright_tests::adversary::{End, TARGETS};
use std::panic::catch_unwind;
use std::path::{Path, PathBuf};

/// Files of a folder, in order; none where there is no such folder.
fn files(folder: &Path) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> =
        std::fs::read_dir(folder).into_iter().flatten().flatten().map(|item| item.path()).collect();
    files.sort();
    files
}

#[test]
fn what_was_found_and_the_seeds_end_as_promised() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let mut broken = Vec::new();
    for target in TARGETS {
        let seeds = files(&root.join("fuzz/seeds").join(target.name));
        assert!(!seeds.is_empty(), "{} has no seeds", target.name);
        let mut taken = 0;
        for file in seeds.into_iter().chain(files(&root.join("fixtures/found").join(target.name))) {
            let bytes = std::fs::read(&file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
            match catch_unwind(|| (target.feed)(&bytes)) {
                Ok(Ok(end)) => taken += u32::from(end == End::Taken),
                Ok(Err(why)) => broken.push(format!("{}: {why}", file.display())),
                Err(_) => broken.push(format!("{}: panic", file.display())),
            }
        }
        // So that refusing everything does not pass.
        assert!(taken > 0, "{}: no seed is taken", target.name);
    }
    assert!(broken.is_empty(), "{}", broken.join("\n"));
}
