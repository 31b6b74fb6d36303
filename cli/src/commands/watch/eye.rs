//! Which files are watched, and whether one of them was saved with another content.

use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// Time between two looks: a fiftieth of what a save may take to its finished files.
const LOOK: Duration = Duration::from_millis(10);
/// Time for which files have to look the same before they count as saved whole.
const REST: Duration = Duration::from_millis(15);

/// Files larger than this, and those without an end, are told by their time and length alone, bytes.
const LARGEST_READ: u64 = 64 * 1024 * 1024;

/// What a look at a file sees; all empty where there is none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Look {
    modified: Option<SystemTime>,
    bytes: u64,
    there: bool,
    /// A pipe or a device, which may never be read to an end.
    endless: bool,
}

/// One file: how it looked, and what was in it.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Seen {
    look: Look,
    content: Option<Vec<u8>>,
}

/// The files that are watched.
#[derive(Debug, Default)]
pub(super) struct Eye {
    seen: BTreeMap<PathBuf, Seen>,
    /// Files the last make asked for, to be looked at again before the next one reads them.
    asked: Vec<PathBuf>,
}

impl Eye {
    /// Takes in how the files look now: these, and those the last make asked for.
    pub(super) fn look(&mut self, files: impl IntoIterator<Item = PathBuf>) {
        let all: Vec<PathBuf> = files.into_iter().chain(self.asked.drain(..)).collect();
        self.seen = all.into_iter().map(|path| (path.clone(), Seen::of(&path))).collect();
    }

    /// More files, found out by the make that just ended. Those that were looked at before it began keep that look.
    pub(super) fn also(&mut self, files: Vec<PathBuf>) {
        // A file that no make asks for any more is still looked at until the next save: no harm.
        for path in &files {
            self.seen.entry(path.clone()).or_insert_with(|| Seen::of(path));
        }
        self.asked = files;
    }

    /// How many files are watched that are there.
    pub(super) fn files(&self) -> usize {
        self.seen.values().filter(|s| s.look.there).count()
    }

    /// Waits until the content of a file is another, and then until no file changes any more: some editors save in
    /// several steps. Returns the files that changed.
    pub(super) fn wait(&mut self) -> Vec<PathBuf> {
        loop {
            std::thread::sleep(LOOK);
            let changed = self.changed();
            if !changed.is_empty() {
                return changed;
            }
        }
    }

    /// Files whose content is another than when they were last looked at, once their looks rest.
    fn changed(&mut self) -> Vec<PathBuf> {
        if self.seen.iter().all(|(path, seen)| look_at(path) == seen.look) {
            return Vec::new();
        }
        let mut looks = self.looks();
        loop {
            std::thread::sleep(REST);
            let again = self.looks();
            if again == looks {
                break;
            }
            looks = again;
        }
        let mut changed = Vec::new();
        for (path, seen) in &mut self.seen {
            let now = Seen::of(path);
            if now.content != seen.content {
                changed.push(path.clone());
            }
            *seen = now;
        }
        changed
    }

    fn looks(&self) -> Vec<Look> {
        self.seen.keys().map(|path| look_at(path)).collect()
    }
}

impl Seen {
    fn of(path: &Path) -> Self {
        let look = look_at(path);
        let content = if look.bytes > LARGEST_READ || look.endless {
            Some(format!("{look:?}").into_bytes())
        } else {
            fs::read(path).ok().map(|bytes| Sha256::digest(bytes).to_vec())
        };
        Self { look, content }
    }
}

fn look_at(path: &Path) -> Look {
    match fs::metadata(path) {
        Ok(about) => Look {
            modified: about.modified().ok(),
            bytes: about.len(),
            there: true,
            endless: !about.is_file() && !about.is_dir(),
        },
        Err(_) => Look::default(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn touch(path: &Path, text: &str, second: u64) {
        fs::write(path, text).expect("written");
        let time = SystemTime::UNIX_EPOCH + Duration::from_secs(1_000_000 + second);
        let file = fs::File::options().write(true).open(path).expect("opens");
        file.set_modified(time).expect("a time can be set");
    }

    #[test]
    fn a_save_with_another_content_is_seen_and_one_without_is_not() {
        let folder = tempfile::tempdir().expect("a folder");
        let (script, part) = (folder.path().join("a.rhai"), folder.path().join("feet.rhai"));
        touch(&script, "one", 0);
        let mut eye = Eye::default();
        eye.look([script.clone()]);
        eye.also(vec![part.clone()]);
        assert_eq!((eye.changed(), eye.files()), (Vec::new(), 1));
        touch(&script, "one", 5);
        assert_eq!(eye.changed(), Vec::<PathBuf>::new(), "saved as it was");
        touch(&script, "two", 6);
        assert_eq!(eye.changed(), std::slice::from_ref(&script));
        touch(&part, "a module that was missing", 7);
        assert_eq!(eye.changed(), std::slice::from_ref(&part));
        fs::remove_file(&script).expect("removed");
        assert_eq!(eye.changed(), [script]);
    }

    #[test]
    fn a_save_while_the_work_is_made_is_not_missed() {
        let folder = tempfile::tempdir().expect("a folder");
        let (script, part) = (folder.path().join("a.rhai"), folder.path().join("feet.rhai"));
        touch(&script, "one", 0);
        touch(&part, "one", 0);
        let mut eye = Eye::default();
        eye.look([script.clone()]);
        eye.also(vec![part.clone()]);
        // The next make: looked at, then read, then saved before the make ends.
        eye.look([script.clone()]);
        touch(&part, "two", 1);
        touch(&script, "two", 1);
        eye.also(vec![part.clone()]);
        assert_eq!(eye.changed(), [script, part]);
    }
}
