//! The output folder, written whole or not at all.
//!
//! Everything happens in a working folder `.NAME.partial` beside the output folder `NAME`, so that the
//! exchange is one step of the file system (Linux and macOS swap two folders at once), or two renames where it knows no
//! such step:
//!
//! | state on disk                                  | how it comes about            | at the next start |
//! |------------------------------------------------|-------------------------------|-------------------|
//! | no `.NAME.partial`                             | at rest                       | nothing to do     |
//! | `new` in it, `NAME` as it was                  | killed while writing          | `new` is removed  |
//! | `new` in it, `NAME` has the manifest `next`    | killed right after the swap   | `new` is the old one: see the last row |
//! | `new` and `old` in it, no `NAME`               | killed between two renames    | `old` is put back |
//! | `old` in it, `NAME` is new                     | killed before the old went    | what of `old` is not ours is carried over, then `old` is removed |
//! | `gone` in it, `NAME` is new                    | killed while the old went     | `gone` is removed: nothing in it is the user's |
//!
//! A lock on a file in the working folder keeps two runs apart; the system lets go of it when a run is
//! killed. `manifest.json` in the output folder lists what ribwright wrote, with sizes and SHA-256 sums. What
//! it does not list is the user's own and is carried over; a listed file that was changed since is set
//! aside under a new name. A file that comes out as it is on disk is not written again. The folder `NAME` itself is replaced, so a shell standing in it must step in again.

use crate::commands::Stop;
use rayon::prelude::*;
use ribwright_kernel::OutFile;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Write};
use std::path::{Component, Path, PathBuf};

/// Lists what ribwright wrote, in the output folder.
pub(crate) const MANIFEST: &str = "manifest.json";
const SCHEMA: &str = "ribwright-manifest-1";

/// What of an earlier run is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kept {
    /// Only what ribwright did not write.
    ForeignOnly,
    /// Earlier files that are not written anew, too (`--only`).
    EarlierToo,
}

/// What was written and kept.
#[derive(Debug, Default)]
pub(crate) struct Written {
    /// Files written in this run, relative to the folder.
    pub(crate) files: Vec<String>,
    /// How many files of earlier stages were kept.
    pub(crate) earlier: usize,
    /// How many files of the user's own were carried over.
    pub(crate) foreign: usize,
    /// How many files of the run before are no longer made.
    pub(crate) removed: usize,
    /// How many files of this run were on disk already as they came out.
    pub(crate) alike: usize,
    /// Files of ours that the user changed: name and new name.
    pub(crate) set_aside: Vec<(String, String)>,
}

/// An output folder held for writing.
#[derive(Debug)]
pub(crate) struct Folder {
    out: PathBuf,
    shown: String,
    working: PathBuf,
    /// Folders above `out` that were made for it, outermost first.
    made: Vec<PathBuf>,
    _lock: File,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Entry {
    path: String,
    bytes: u64,
    sha256: String,
}

#[derive(Debug, Serialize, Deserialize)]
struct Manifest {
    schema: String,
    files: Vec<Entry>,
}

impl Folder {
    /// Takes hold of an output folder, which need not be there, and puts right what a killed run left.
    ///
    /// # Errors
    /// The path is a file, its parent cannot be written, or another run holds it.
    pub(crate) fn open(out: &Path) -> Result<Self, Stop> {
        let shown = out.display().to_string();
        // A link to a folder is followed, so that the folder is exchanged and the link stays.
        let out = match fs::canonicalize(out) {
            Ok(real) if real.is_dir() => real,
            Ok(_) => {
                return Err(
                    format!("{shown}: is a file, not a folder; choose another folder with --out").into()
                );
            }
            Err(_) if fs::symlink_metadata(out).is_ok_and(|about| about.is_symlink()) => {
                return Err(format!(
                    "{shown}: is a link that leads nowhere; take it away, or choose another folder with --out"
                )
                .into());
            }
            Err(_) => {
                std::path::absolute(out).map_err(|e| format!("{shown}: not usable as a folder: {e}"))?
            }
        };
        let (Some(parent), Some(name)) = (out.parent(), out.file_name()) else {
            return Err(format!("{shown}: not usable as an output folder; choose another with --out").into());
        };
        let mut made: Vec<PathBuf> =
            parent.ancestors().take_while(|folder| !folder.exists()).map(Path::to_owned).collect();
        made.reverse();
        fs::create_dir_all(parent).map_err(|e| cannot_write(parent, &e))?;
        let mut partial = std::ffi::OsString::from(".");
        partial.push(name);
        partial.push(".partial");
        let working = parent.join(partial);
        let lock = lock(&working, &shown)?;
        let folder = Self { out, shown, working, made, _lock: lock };
        folder.recover().map_err(|e| cannot_write(&folder.out, &e))?;
        Ok(folder)
    }

    fn old(&self) -> PathBuf {
        self.working.join("old")
    }

    fn new_one(&self) -> PathBuf {
        self.working.join("new")
    }

    /// The old folder once all that is the user's has left it: half removed, its manifest may be missing.
    fn gone(&self) -> PathBuf {
        self.working.join("gone")
    }

    /// The manifest of the folder that is being put in place.
    fn next(&self) -> PathBuf {
        self.working.join("next")
    }

    /// A file of the folder as it is now; `None` if it is not there.
    ///
    /// # Errors
    /// It is there and cannot be read.
    pub(crate) fn read(&self, path: &str) -> io::Result<Option<Vec<u8>>> {
        match read_regular(&self.out.join(path)) {
            Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(None),
            other => other.map(Some),
        }
    }

    /// Brings any state of the table above back to rest, but for the working folder itself.
    fn recover(&self) -> io::Result<()> {
        remove_all(&self.gone())?;
        let old = self.old();
        if let (Ok(next), Ok(there)) = (read_regular(&self.next()), read_regular(&self.out.join(MANIFEST)))
            && next == there
            && self.new_one().is_dir()
            && !old.exists()
        {
            fs::rename(self.new_one(), &old)?;
        }
        if old.is_dir() {
            if self.out.exists() {
                self.let_go_of_old(&old)?;
            } else {
                fs::rename(&old, &self.out)?;
            }
        }
        remove_all(&self.new_one())?;
        remove_file(&self.next())
    }

    /// Carries over what is not ours and is not there yet, then removes the old folder.
    fn let_go_of_old(&self, old: &Path) -> io::Result<()> {
        let ours = read_manifest(old);
        for path in walk(old)? {
            let target = self.out.join(&path);
            if path != MANIFEST && !ours.contains_key(&path) && fs::symlink_metadata(&target).is_err() {
                make_parent(&target)?;
                fs::rename(old.join(&path), &target)?;
            }
        }
        remove_all(&self.gone())?;
        fs::rename(old, self.gone())?;
        // Many files, several at a time; what is left goes with the folder.
        walk(&self.gone())?.par_iter().for_each(|path| drop(fs::remove_file(self.gone().join(path))));
        remove_all(&self.gone())
    }

    /// Writes the files and exchanges the folder.
    ///
    /// # Errors
    /// Anything that keeps the files from being written whole; the folder is then as it was.
    pub(crate) fn write(&self, files: &[OutFile], kept: Kept) -> Result<Written, Stop> {
        check_paths(files)?;
        let earlier = read_manifest(&self.out);
        let mut written = Written::default();
        let present = if self.out.is_dir() {
            walk(&self.out).map_err(|e| cannot_write(&self.out, &e))?
        } else {
            BTreeSet::new()
        };
        let fresh: BTreeMap<&str, &OutFile> = files.iter().map(|f| (f.path.as_str(), f)).collect();
        for path in present.iter().filter(|path| !earlier.contains_key(*path)) {
            if fresh.keys().any(|ours| is_in_the_way(path, ours)) {
                return Err(format!(
                    "{}/{path}: is there and was not written by ribwright ({MANIFEST} does not list it); \
                     move it away, or choose another folder with --out",
                    self.shown
                )
                .into());
            }
        }
        let entries = self
            .fill(&fresh, &present, &earlier, kept, &mut written)
            .and_then(|entries| self.write_manifest(entries))
            .map_err(|e| {
                // The half-written folder is of no use to anyone; the next start would remove it too.
                let _ = remove_all(&self.new_one());
                cannot_write(&self.out, &e)
            });
        entries?;
        self.exchange().map_err(|e| cannot_write(&self.out, &e))?;
        written.files = fresh.keys().map(|&path| path.to_owned()).collect();
        Ok(written)
    }

    /// Fills `new`, and returns what its manifest is to list.
    fn fill(
        &self,
        fresh: &BTreeMap<&str, &OutFile>,
        present: &BTreeSet<String>,
        earlier: &BTreeMap<String, Entry>,
        kept: Kept,
        written: &mut Written,
    ) -> io::Result<Vec<Entry>> {
        let new = self.new_one();
        fs::create_dir_all(&new)?;
        let list: Vec<(&str, &OutFile)> = fresh.iter().map(|(path, file)| (*path, *file)).collect();
        let parents: BTreeSet<&Path> =
            list.iter().filter_map(|(path, _)| Path::new(*path).parent()).collect();
        for parent in parents {
            fs::create_dir_all(new.join(parent))?;
        }
        let made: Vec<io::Result<(Entry, Option<File>)>> = list
            .par_iter()
            .map(|(path, file)| {
                let (entry, target) = (entry_of(path, &file.bytes), new.join(path));
                // What is on disk already gets a second name, as files of the user do.
                let there = self.out.join(path);
                if earlier.get(*path) == Some(&entry) && holds(&there, &file.bytes) && link(&there, &target) {
                    return Ok((entry, None));
                }
                let mut handle = File::create_new(&target)?;
                handle.write_all(&file.bytes)?;
                Ok((entry, Some(handle)))
            })
            .collect();
        let mut entries = Vec::new();
        let mut open = Vec::new();
        let mut linked = BTreeSet::new();
        for made in made {
            let (entry, handle) = made?;
            if handle.is_none() {
                linked.insert(entry.path.clone());
            }
            entries.push(entry);
            open.extend(handle);
        }
        written.alike = linked.len();
        flush(&open)?;
        let others: Vec<&String> =
            present.iter().filter(|path| *path != MANIFEST && !linked.contains(*path)).collect();
        // Reading them all again takes as long as writing the new ones.
        let changed: Vec<bool> = others
            .par_iter()
            .map(|path| earlier.get(*path).map_or(Ok(false), |entry| is_changed(&self.out.join(path), entry)))
            .collect::<io::Result<_>>()?;
        for (path, changed) in others.into_iter().zip(changed) {
            let (from, to) = (self.out.join(path), new.join(path));
            match earlier.get(path) {
                None => {
                    carry(&from, &to)?;
                    written.foreign += 1;
                }
                Some(_) if changed => {
                    let aside = free_name(path, present, fresh);
                    carry(&from, &new.join(&aside))?;
                    written.set_aside.push((path.clone(), aside));
                }
                Some(_) if fresh.contains_key(path.as_str()) => {}
                Some(entry) if kept == Kept::EarlierToo => {
                    carry(&from, &to)?;
                    entries.push(entry.clone());
                    written.earlier += 1;
                }
                Some(_) => written.removed += 1,
            }
        }
        if self.out.is_dir() {
            fs::set_permissions(&new, fs::metadata(&self.out)?.permissions())?;
        }
        Ok(entries)
    }

    fn write_manifest(&self, mut entries: Vec<Entry>) -> io::Result<()> {
        entries.sort_by(|a, b| a.path.cmp(&b.path));
        let manifest = Manifest { schema: SCHEMA.to_owned(), files: entries };
        let mut text = serde_json::to_string_pretty(&manifest)?;
        text.push('\n');
        let mut file = File::create_new(self.new_one().join(MANIFEST))?;
        file.write_all(text.as_bytes())?;
        file.sync_all()?;
        flush_folder(&self.new_one())
    }

    /// Old out, new in: at once where the system can, else by two renames, of which the first is taken back if the
    /// second fails.
    fn exchange(&self) -> io::Result<()> {
        let old = self.old();
        let had_one = self.out.exists();
        if had_one {
            // So that the next start can tell the new folder from the old one, wherever this ends.
            let mut next = File::create(self.next())?;
            next.write_all(&fs::read(self.new_one().join(MANIFEST))?)?;
            next.sync_all()?;
            if swap(&self.new_one(), &self.out)? {
                fs::rename(self.new_one(), &old)?;
                if let Some(parent) = self.out.parent() {
                    flush_folder(parent)?;
                }
                self.let_go_of_old(&old)?;
                return remove_file(&self.next());
            }
            fs::rename(&self.out, &old)?;
        }
        if let Err(e) = fs::rename(self.new_one(), &self.out) {
            if had_one {
                fs::rename(&old, &self.out)?;
            }
            return Err(e);
        }
        if let Some(parent) = self.out.parent() {
            flush_folder(parent)?;
        }
        if had_one {
            // The new folder is in place; a file that came into the old one meanwhile is not lost.
            self.let_go_of_old(&old)?;
        }
        remove_file(&self.next())
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // Only when at rest: an `old` that could not be dealt with stays for the next start.
        if !self.old().exists() && !self.new_one().exists() {
            let _ = fs::remove_file(self.working.join("lock"));
            let _ = fs::remove_dir(&self.working);
        }
        if !self.out.exists() {
            // Nothing was written: the folders made for it go too, unless something came into them.
            for folder in self.made.iter().rev() {
                let _ = fs::remove_dir(folder);
            }
        }
    }
}

/// Flushes files to the disk. All are written before any is flushed, and several are flushed at once: the disk then does it in
/// a few large writes, and waiting is shared.
fn flush(files: &[File]) -> io::Result<()> {
    const AT_ONCE: usize = 16;
    let each = files.len().div_ceil(AT_ONCE).max(1);
    std::thread::scope(|scope| {
        let jobs: Vec<_> =
            files.chunks(each).map(|some| scope.spawn(|| some.iter().try_for_each(File::sync_all))).collect();
        // A thread that panicked did not flush.
        let lost = |_| Err(io::Error::other("a file was not flushed"));
        jobs.into_iter().try_for_each(|job| job.join().unwrap_or_else(lost))
    })
}

/// Makes the working folder and takes its lock.
fn lock(working: &Path, shown: &str) -> Result<File, Stop> {
    // A run that just ended may remove the file between our opening and locking it; then once more.
    const ATTEMPTS: usize = 20;
    let path = working.join("lock");
    for _ in 0..ATTEMPTS {
        // A link may lead to a folder of the user's, where `new` and `old` are names like any other; and a pipe would be
        // waited for without end.
        for (place, is_ours) in
            [(working, fs::Metadata::is_dir as fn(&fs::Metadata) -> bool), (&path, fs::Metadata::is_file)]
        {
            if fs::symlink_metadata(place).is_ok_and(|about| !is_ours(&about)) {
                return Err(format!(
                    "{}: is in the way: ribwright needs this name for the files it is writing; move it away, or choose \
                     another folder with --out",
                    place.display()
                )
                .into());
            }
        }
        fs::create_dir_all(working).map_err(|e| cannot_write(working.parent().unwrap_or(working), &e))?;
        let file = match OpenOptions::new().create(true).truncate(false).write(true).open(&path) {
            Ok(file) => file,
            Err(e) if e.kind() == io::ErrorKind::NotFound => continue,
            Err(e) => return Err(cannot_write(working, &e)),
        };
        match file.try_lock() {
            Ok(()) if is_same_file(&file, &path) => return Ok(file),
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                return Err(format!(
                    "{shown}: another run is writing there; wait for it or choose another folder with --out"
                )
                .into());
            }
            Err(TryLockError::Error(e)) => return Err(cannot_write(working, &e)),
        }
    }
    Err(format!("{shown}: other runs keep writing there; choose another folder with --out").into())
}

#[cfg(unix)]
fn is_same_file(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    match (file.metadata(), fs::metadata(path)) {
        (Ok(a), Ok(b)) => a.ino() == b.ino() && a.dev() == b.dev(),
        _ => false,
    }
}

#[cfg(not(unix))]
fn is_same_file(_file: &File, path: &Path) -> bool {
    path.exists()
}

fn cannot_write(path: &Path, e: &io::Error) -> Stop {
    let remedy = match e.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => "make room",
        io::ErrorKind::FileTooLarge => "allow larger files",
        io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => {
            "ask for the right to write there"
        }
        io::ErrorKind::ResourceBusy | io::ErrorKind::CrossesDevices => {
            "name a folder inside it, as the folder itself cannot be exchanged"
        }
        io::ErrorKind::InvalidFilename => "take a shorter name",
        io::ErrorKind::InvalidData => "rename that file",
        _ => "check the path and the disk",
    };
    format!("{}: cannot be written: {e}; {remedy}, or choose another folder with --out", path.display())
        .into()
}

/// Writers hand over relative paths with forward slashes, each once, on any file system.
fn check_paths(files: &[OutFile]) -> Result<(), Stop> {
    let mut seen = BTreeMap::new();
    for file in files {
        let plain = Path::new(&file.path).components().all(|c| matches!(c, Component::Normal(_)));
        if !plain || file.path.is_empty() || file.path.contains('\\') || file.path == MANIFEST {
            return Err(format!("a writer gave the file name {:?}, which is not allowed", file.path).into());
        }
        if let Some(other) = seen.insert(file.path.to_lowercase(), &file.path) {
            return Err(format!(
                "two files would be called {other:?} and {:?}; give the elements and faces names that differ \
                 in more than capitals and signs",
                file.path
            )
            .into());
        }
    }
    Ok(())
}

/// Whether both cannot be there: the same name, or one a file where the other has a folder.
fn is_in_the_way(theirs: &str, ours: &str) -> bool {
    let inside =
        |inner: &str, outer: &str| inner.strip_prefix(outer).is_some_and(|rest| rest.starts_with('/'));
    theirs == ours || inside(theirs, ours) || inside(ours, theirs)
}

/// What the manifest of a folder lists; nothing if there is none that can be read.
fn read_manifest(folder: &Path) -> BTreeMap<String, Entry> {
    let Ok(text) = read_regular(&folder.join(MANIFEST)) else { return BTreeMap::new() };
    match serde_json::from_slice::<Manifest>(&text) {
        Ok(manifest) if manifest.schema == SCHEMA => {
            manifest.files.into_iter().map(|entry| (entry.path.clone(), entry)).collect()
        }
        _ => BTreeMap::new(),
    }
}

fn entry_of(path: &str, bytes: &[u8]) -> Entry {
    Entry { path: path.to_owned(), bytes: bytes.len() as u64, sha256: hex(&Sha256::digest(bytes)) }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn is_changed(path: &Path, entry: &Entry) -> io::Result<bool> {
    let found = fs::symlink_metadata(path)?;
    if !found.is_file() || found.len() != entry.bytes {
        return Ok(true);
    }
    Ok(hex(&Sha256::digest(fs::read(path)?)) != entry.sha256)
}

/// `cut/A.dxf` becomes `cut/A.edited.dxf`, or `cut/A.edited-2.dxf` if that is taken.
fn free_name(path: &str, present: &BTreeSet<String>, fresh: &BTreeMap<&str, &OutFile>) -> String {
    let name_at = path.rfind('/').map_or(0, |at| at + 1);
    let dot = path[name_at..].rfind('.').filter(|&at| at > 0).map_or(path.len(), |at| name_at + at);
    let (stem, extension) = path.split_at(dot);
    (1..)
        .map(|k| {
            if k == 1 { format!("{stem}.edited{extension}") } else { format!("{stem}.edited-{k}{extension}") }
        })
        .find(|name| !present.contains(name) && !fresh.contains_key(name.as_str()))
        .unwrap_or_default()
}

/// Every file and link below a folder, and every empty folder, as relative paths with forward slashes.
fn walk(folder: &Path) -> io::Result<BTreeSet<String>> {
    let mut found = BTreeSet::new();
    let mut waiting = vec![String::new()];
    while let Some(at) = waiting.pop() {
        let mut empty = true;
        for item in fs::read_dir(folder.join(&at))? {
            let item = item?;
            empty = false;
            let name = item.file_name().into_string().map_err(|name| {
                io::Error::new(
                    io::ErrorKind::InvalidData,
                    format!("the file name {} is not UTF-8", name.to_string_lossy()),
                )
            })?;
            let path = if at.is_empty() { name } else { format!("{at}/{name}") };
            if item.file_type()?.is_dir() {
                waiting.push(path);
            } else {
                found.insert(path);
            }
        }
        if empty && !at.is_empty() {
            found.insert(at);
        }
    }
    Ok(found)
}

/// The bytes of a regular file: a pipe would be waited for without end.
fn read_regular(path: &Path) -> io::Result<Vec<u8>> {
    if !fs::metadata(path)?.is_file() {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, "it is not a regular file"));
    }
    fs::read(path)
}

/// Whether a regular file holds these bytes.
fn holds(path: &Path, bytes: &[u8]) -> bool {
    let alike = |about: fs::Metadata| about.is_file() && about.len() == bytes.len() as u64;
    fs::symlink_metadata(path).is_ok_and(alike) && fs::read(path).is_ok_and(|there| there == bytes)
}

/// Gives a file a second name, where the system has that.
fn link(from: &Path, to: &Path) -> bool {
    fs::hard_link(from, to).is_ok()
}

/// Swaps two folders in one step, so that at no moment either is missing; `false` where the file system cannot.
#[cfg(any(target_os = "linux", target_os = "android", target_vendor = "apple"))]
fn swap(a: &Path, b: &Path) -> io::Result<bool> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    use rustix::io::Errno;
    match renameat_with(CWD, a, CWD, b, RenameFlags::EXCHANGE) {
        Ok(()) => Ok(true),
        Err(Errno::INVAL | Errno::NOSYS | Errno::NOTSUP) => Ok(false),
        Err(e) => Err(e.into()),
    }
}

#[cfg(not(any(target_os = "linux", target_os = "android", target_vendor = "apple")))]
fn swap(_a: &Path, _b: &Path) -> io::Result<bool> {
    Ok(false)
}

/// Puts a file of the old folder into the new one without touching the old: by a second name for the
/// same file where the system has that, else by a copy.
fn carry(from: &Path, to: &Path) -> io::Result<()> {
    make_parent(to)?;
    let kind = fs::symlink_metadata(from)?.file_type();
    if kind.is_dir() {
        return fs::create_dir_all(to);
    }
    if fs::hard_link(from, to).is_ok() {
        return Ok(());
    }
    #[cfg(unix)]
    if kind.is_symlink() {
        return std::os::unix::fs::symlink(fs::read_link(from)?, to);
    }
    fs::copy(from, to)?;
    File::open(to)?.sync_all()
}

fn make_parent(path: &Path) -> io::Result<()> {
    path.parent().map_or(Ok(()), fs::create_dir_all)
}

fn remove_file(path: &Path) -> io::Result<()> {
    match fs::remove_file(path) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(()),
        other => other,
    }
}

fn remove_all(folder: &Path) -> io::Result<()> {
    match fs::remove_dir_all(folder) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(()),
        other => other,
    }
}

/// Makes renames in a folder last; systems that cannot open folders do without.
fn flush_folder(folder: &Path) -> io::Result<()> {
    if cfg!(unix) { File::open(folder)?.sync_all() } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    type Outcome = Result<(), Box<dyn std::error::Error>>;

    impl std::fmt::Display for Stop {
        fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
            f.write_str(&self.0)
        }
    }

    impl std::error::Error for Stop {}

    fn files(list: &[(&str, &str)]) -> Vec<OutFile> {
        list.iter()
            .map(|(path, text)| OutFile { path: (*path).to_owned(), bytes: text.as_bytes().to_vec() })
            .collect()
    }

    fn write(out: &Path, list: &[(&str, &str)], kept: Kept) -> Result<Written, Stop> {
        Folder::open(out)?.write(&files(list), kept)
    }

    #[track_caller]
    fn has(out: &Path, expected: &[&str]) {
        let mut expected: BTreeSet<String> = expected.iter().map(|&s| s.to_owned()).collect();
        expected.insert(MANIFEST.to_owned());
        assert_eq!(walk(out).unwrap_or_default(), expected);
    }

    #[track_caller]
    fn at_rest(parent: &Path) {
        let hidden: Vec<String> =
            walk(parent).unwrap_or_default().into_iter().filter(|path| path.starts_with('.')).collect();
        assert_eq!(hidden, Vec::<String>::new(), "something was left beside the output folder");
    }

    #[test]
    fn files_no_longer_made_go_and_those_of_the_user_stay() -> Outcome {
        let place = tempfile::tempdir()?;
        let out = place.path().join("out");
        write(&out, &[("a.txt", "1"), ("cut/b.dxf", "2")], Kept::ForeignOnly)?;
        fs::create_dir_all(out.join("photos/empty"))?;
        fs::write(out.join("photos/site.txt"), "mine")?;
        let written = write(&out, &[("a.txt", "3")], Kept::ForeignOnly)?;
        has(&out, &["a.txt", "photos/site.txt", "photos/empty"]);
        assert_eq!(fs::read_to_string(out.join("a.txt"))?, "3");
        assert_eq!((written.removed, written.foreign), (1, 2));
        at_rest(place.path());
        Ok(())
    }

    #[test]
    fn a_run_of_some_stages_keeps_the_files_of_the_others() -> Outcome {
        let place = tempfile::tempdir()?;
        let out = place.path().join("out");
        write(&out, &[("a.txt", "1"), ("cut/b.dxf", "2")], Kept::ForeignOnly)?;
        write(&out, &[("a.txt", "3")], Kept::EarlierToo)?;
        has(&out, &["a.txt", "cut/b.dxf"]);
        // Still known as ours: the next whole run may remove it.
        write(&out, &[("a.txt", "4")], Kept::ForeignOnly)?;
        has(&out, &["a.txt"]);
        Ok(())
    }

    #[test]
    fn a_file_of_ours_that_was_changed_is_set_aside_not_lost() -> Outcome {
        let place = tempfile::tempdir()?;
        let out = place.path().join("out");
        write(&out, &[("cut/b.dxf", "ours"), ("c.txt", "ours")], Kept::ForeignOnly)?;
        fs::write(out.join("cut/b.dxf"), "redrawn by hand")?;
        fs::write(out.join("c.txt"), "OURS")?;
        let written = write(&out, &[("cut/b.dxf", "ours")], Kept::ForeignOnly)?;
        has(&out, &["cut/b.dxf", "cut/b.edited.dxf", "c.edited.txt"]);
        assert_eq!(fs::read_to_string(out.join("cut/b.edited.dxf"))?, "redrawn by hand");
        assert_eq!(written.set_aside.len(), 2);
        Ok(())
    }

    #[test]
    fn a_file_of_the_user_in_the_way_stops_the_run() -> Outcome {
        for (theirs, ours) in
            [("book.html", "book.html"), ("cut", "cut/a.dxf"), ("model.glb/note", "model.glb")]
        {
            let place = tempfile::tempdir()?;
            let out = place.path().join("out");
            make_parent(&out.join(theirs))?;
            fs::write(out.join(theirs), "mine")?;
            let stop = write(&out, &[(ours, "1")], Kept::ForeignOnly).err().map(|s| s.0).unwrap_or_default();
            assert!(stop.contains(theirs) && stop.contains("--out"), "{stop}");
            assert_eq!(fs::read_to_string(out.join(theirs))?, "mine");
            at_rest(place.path());
        }
        Ok(())
    }

    #[test]
    fn a_run_killed_while_writing_leaves_nothing() -> Outcome {
        let place = tempfile::tempdir()?;
        let out = place.path().join("out");
        write(&out, &[("a.txt", "1")], Kept::ForeignOnly)?;
        fs::create_dir_all(place.path().join(".out.partial/new/cut"))?;
        fs::write(place.path().join(".out.partial/new/a.txt"), "half")?;
        drop(Folder::open(&out)?);
        assert_eq!(fs::read_to_string(out.join("a.txt"))?, "1");
        at_rest(place.path());
        Ok(())
    }

    #[test]
    fn a_run_killed_between_the_renames_is_taken_back() -> Outcome {
        let place = tempfile::tempdir()?;
        let out = place.path().join("out");
        write(&out, &[("a.txt", "1")], Kept::ForeignOnly)?;
        fs::create_dir_all(place.path().join(".out.partial/new"))?;
        fs::write(place.path().join(".out.partial/new/a.txt"), "2")?;
        fs::rename(&out, place.path().join(".out.partial/old"))?;
        drop(Folder::open(&out)?);
        assert_eq!(fs::read_to_string(out.join("a.txt"))?, "1");
        at_rest(place.path());
        Ok(())
    }

    #[test]
    fn a_run_killed_before_the_old_folder_went_loses_nothing_of_the_user() -> Outcome {
        let place = tempfile::tempdir()?;
        let out = place.path().join("out");
        write(&out, &[("a.txt", "1"), ("b.txt", "1")], Kept::ForeignOnly)?;
        fs::write(out.join("mine.txt"), "mine")?;
        fs::create_dir_all(place.path().join(".out.partial"))?;
        fs::rename(&out, place.path().join(".out.partial/old"))?;
        fs::create_dir_all(&out)?;
        fs::write(out.join("a.txt"), "2")?;
        drop(Folder::open(&out)?);
        assert_eq!(fs::read_to_string(out.join("a.txt"))?, "2");
        assert_eq!(fs::read_to_string(out.join("mine.txt"))?, "mine");
        assert!(!out.join("b.txt").exists(), "a file of the run before came back");
        at_rest(place.path());
        Ok(())
    }

    #[test]
    fn a_run_killed_while_the_old_folder_went_brings_nothing_back() -> Outcome {
        let place = tempfile::tempdir()?;
        let out = place.path().join("out");
        write(&out, &[("a.txt", "1")], Kept::ForeignOnly)?;
        // Its manifest went first.
        fs::create_dir_all(place.path().join(".out.partial/gone/cut"))?;
        fs::write(place.path().join(".out.partial/gone/cut/b.dxf"), "old")?;
        drop(Folder::open(&out)?);
        has(&out, &["a.txt"]);
        at_rest(place.path());
        Ok(())
    }

    #[test]
    fn a_run_killed_right_after_the_swap_is_the_new_one() -> Outcome {
        let place = tempfile::tempdir()?;
        let (out, partial) = (place.path().join("out"), place.path().join(".out.partial"));
        write(&out, &[("a.txt", "1"), ("b.txt", "1")], Kept::ForeignOnly)?;
        fs::write(out.join("mine.txt"), "mine")?;
        fs::rename(&out, place.path().join("before"))?;
        write(&out, &[("a.txt", "2")], Kept::ForeignOnly)?;
        fs::create_dir_all(&partial)?;
        fs::copy(out.join(MANIFEST), partial.join("next"))?;
        fs::rename(place.path().join("before"), partial.join("new"))?;
        drop(Folder::open(&out)?);
        has(&out, &["a.txt", "mine.txt"]);
        assert_eq!(fs::read_to_string(out.join("a.txt"))?, "2");
        at_rest(place.path());
        Ok(())
    }

    #[test]
    fn a_run_killed_right_before_the_swap_is_the_old_one() -> Outcome {
        let place = tempfile::tempdir()?;
        let (out, partial) = (place.path().join("out"), place.path().join(".out.partial"));
        write(&out, &[("a.txt", "1")], Kept::ForeignOnly)?;
        fs::create_dir_all(partial.join("new"))?;
        fs::write(partial.join("new/a.txt"), "2")?;
        fs::write(partial.join("new").join(MANIFEST), "another")?;
        fs::write(partial.join("next"), "another")?;
        drop(Folder::open(&out)?);
        has(&out, &["a.txt"]);
        assert_eq!(fs::read_to_string(out.join("a.txt"))?, "1");
        at_rest(place.path());
        Ok(())
    }

    #[cfg(unix)]
    #[test]
    fn files_that_come_out_alike_are_not_written_again() -> Outcome {
        use std::os::unix::fs::MetadataExt;
        let place = tempfile::tempdir()?;
        let out = place.path().join("out");
        write(&out, &[("a.txt", "1"), ("b.txt", "1")], Kept::ForeignOnly)?;
        let number = |name: &str| fs::metadata(out.join(name)).map(|m| m.ino());
        let (a, b) = (number("a.txt")?, number("b.txt")?);
        write(&out, &[("a.txt", "1"), ("b.txt", "2")], Kept::ForeignOnly)?;
        assert_eq!(number("a.txt")?, a);
        assert_ne!(number("b.txt")?, b);
        Ok(())
    }

    #[test]
    fn two_runs_into_one_folder_are_kept_apart() -> Outcome {
        let place = tempfile::tempdir()?;
        let out = place.path().join("deep/out");
        let first = Folder::open(&out)?;
        let stop = Folder::open(&out).err().map(|s| s.0).unwrap_or_default();
        assert!(stop.contains("another run"), "{stop}");
        drop(first);
        assert!(!place.path().join("deep").exists(), "a run that wrote nothing left a folder");
        Ok(())
    }

    #[test]
    fn names_that_leave_the_folder_or_meet_are_refused() {
        for names in [vec!["../a"], vec!["/a"], vec![""], vec![MANIFEST], vec!["a", "A"], vec!["c/./../b"]] {
            let list: Vec<_> = names.iter().map(|&n| (n, "")).collect();
            assert!(check_paths(&files(&list)).is_err(), "{names:?} was accepted");
        }
    }

    #[test]
    fn sums_are_sha_256() {
        // FIPS 180-4 example value: the digest of "abc".
        assert_eq!(
            entry_of("a", b"abc").sha256,
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
