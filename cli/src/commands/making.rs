//! Making a work over an earlier make of it: what `make` and `watch` share.
//!
//! A make is planned first (worked out, compared with the make before, judged against `cut.csv`), then drawn, then
//! written. What there is to say is known before anything is drawn.

use super::changes::pictures;
use super::{Stop, has_errors, work_out_and_note};
use crate::folder::Folder;
use crate::progress::Progress;
use ribwright_kernel::change::{CUT_FILE, Changes, CutPart, FILE, Record, changes, read_cut, scrapped};
use ribwright_kernel::{Finding, Level, Memo, OutFile, Output, Registry, Work, run_stages_with, write_files};
use std::path::{Path, PathBuf};

/// Pictures of changed parts, old and new, in the output folder.
pub(super) const PICTURES: &str = "changes/";

/// What is asked for.
pub(super) struct Asked<'a> {
    pub(super) script: &'a Path,
    /// Folders of recipes it may import from.
    pub(super) recipes: &'a [PathBuf],
    /// Only these stages; all if empty.
    pub(super) only: &'a [String],
    /// Parts on `cut.csv` that may be cut again.
    pub(super) allowed: &'a [String],
    /// Files of the makes before it.
    pub(super) memo: Memo,
    pub(super) colour: bool,
}

/// What the output folder holds from the make before.
#[derive(Debug, Default)]
pub(super) struct Earlier {
    record: Option<Record>,
    cut: Vec<CutPart>,
    findings: Vec<Finding>,
}

impl Earlier {
    /// Reads it.
    ///
    /// # Errors
    /// `cut.csv` cannot be read: nobody knows then what may change.
    pub(super) fn of(folder: &Folder) -> Result<Self, Stop> {
        let cannot = |name: &str, e: std::io::Error| Stop(format!("error: {name}: cannot be read: {e}"));
        let mut earlier = Self::default();
        if let Some(bytes) = folder.read(CUT_FILE).map_err(|e| cannot(CUT_FILE, e))? {
            earlier.cut = read_cut(&bytes)?;
        }
        match folder.read(FILE).map_err(|e| cannot(FILE, e))?.map(|bytes| Record::read(&bytes)) {
            None => {}
            Some(Ok(record)) => earlier.record = Some(record),
            Some(Err(e)) => earlier.findings.push(Finding::new(
                Level::Warning,
                "record-unread",
                FILE,
                e.to_string(),
                "this make is compared with none; the next one will be compared with this",
            )),
        }
        Ok(earlier)
    }
}

/// A make that is worked out and judged, but not drawn.
pub(super) struct Plan {
    work: Work,
    output: Output,
    /// All there is to say, worst first.
    pub(super) findings: Vec<Finding>,
    /// What the script printed.
    pub(super) printed: Vec<String>,
    /// Against the make before, if there is one and the templates were made.
    pub(super) changes: Option<Changes>,
    pictures: Vec<OutFile>,
}

/// Works out a script and compares it with the make before. `files` gets the files beside the script that it asked for,
/// also where it fails.
pub(super) fn plan(
    asked: &Asked<'_>,
    earlier: &Earlier,
    registry: &Registry,
    progress: &Progress,
    files: &mut Vec<PathBuf>,
) -> Result<Plan, Stop> {
    let worked =
        work_out_and_note(asked.script, asked.recipes, registry, progress, asked.colour, files, &asked.memo)?;
    let work = worked.work;
    progress.step("running the stages");
    let output = run_stages_with(&work, registry, asked.only, &asked.memo)?;
    let mut findings = worked.findings;
    findings.extend(output.findings.iter().cloned());
    findings.extend(earlier.findings.iter().cloned());
    let (mut found, mut drawn) = (None, Vec::new());
    if let Some(record) = Record::of(&work, &output) {
        let old = earlier.record.as_ref();
        let none = Record { parts: Vec::new(), seams: Vec::new(), sheets: Vec::new(), ..record.clone() };
        let all = changes(old.unwrap_or(&none), &record);
        findings.extend(scrapped(&earlier.cut, old, &record, &all, asked.allowed));
        if let Some(old) = old {
            drawn = pictures(old, &record, &all, PICTURES)?;
            found = Some(all);
        }
    }
    findings.sort();
    Ok(Plan { work, output, findings, printed: worked.printed, changes: found, pictures: drawn })
}

impl Plan {
    /// Whether an error finding forbids writing.
    pub(super) fn is_refused(&self) -> bool {
        has_errors(&self.findings)
    }

    /// How many pictures of changed parts it comes with.
    pub(super) fn pictures(&self) -> usize {
        self.pictures.len()
    }

    /// All its files.
    pub(super) fn draw(&self, registry: &Registry) -> Result<Vec<OutFile>, Stop> {
        let mut files = write_files(&self.work, &self.output, registry)?;
        files.extend(self.pictures.iter().cloned());
        Ok(files)
    }
}
