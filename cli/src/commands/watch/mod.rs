//! `ribwright watch SCRIPT`: the files made again at every save, findings first, and the open book refreshed.
//!
//! Files are looked at, not subscribed to: a hundred looks a second at a handful of files cost nothing that can be measured,
//! and see what is saved on any file system, by any editor, in whatever way it saves. A save that fails leaves the
//! output as it was; the error stands in the terminal and in the open book.

mod book;
mod eye;

use super::make::{beside, say_untouched, show_changes, show_set_aside, written_line};
use super::making::{Asked, Earlier, plan};
use super::{Stop, on_threads, show_main_findings, show_printed, show_stop};
use crate::args::Watch;
use crate::console::{Console, FAILED, count_text, finding_text, plural};
use crate::folder::{Folder, Kept};
use crate::progress::Progress;
use eye::Eye;
use ribwright_kernel::change::CUT_FILE;
use ribwright_kernel::{Finding, Level, Memo, Registry};
use std::path::{Path, PathBuf};
use std::time::Instant;

/// What is kept from one make to the next.
#[derive(Default)]
struct Last {
    /// Findings of the last good make: what stays the same is not said again.
    findings: Vec<Finding>,
    /// How many makes came to an end.
    makes: usize,
    /// Files that may come out the same.
    memo: Memo,
}

pub(crate) fn run(args: &Watch, registry: &Registry, console: &mut Console<'_>) -> u8 {
    let out = args.out.clone().unwrap_or_else(|| beside(&args.script));
    if !args.script.is_file() {
        console.error(&format!("error: {}: there is no such file to watch", args.script.display()));
        return FAILED;
    }
    let mut eye = Eye::default();
    let mut last = Last { memo: Memo::keeping(), ..Last::default() };
    loop {
        // Looked at before it is read, so that a save during the make is not missed.
        eye.look([args.script.clone(), out.join(CUT_FILE)]);
        let start = Instant::now();
        let mut asked = Vec::new();
        let result = make(args, &out, registry, &mut last, &mut asked, console);
        eye.also(asked);
        last.makes += 1;
        match result {
            Ok(Some(line)) => console.say(&format!("{line}, {:.2} s", start.elapsed().as_secs_f64())),
            Ok(None) => {}
            Err(stop) => {
                show_stop(&stop, false, console);
                say_untouched(&out, console);
                say_in_book(&out, &stop.0, console);
            }
        }
        console.say(&format!("watching {}", plural(eye.files(), "file")));
        let saved = eye.wait();
        console.say(&format!("\n{} saved", shown(&saved)));
    }
}

/// One make; the closing line where files were written.
fn make(
    args: &Watch,
    out: &Path,
    registry: &Registry,
    last: &mut Last,
    asked_files: &mut Vec<PathBuf>,
    console: &mut Console<'_>,
) -> Result<Option<String>, Stop> {
    let folder = Folder::open(out)?;
    let earlier = Earlier::of(&folder)?;
    let colour = console.terminal();
    let asked = Asked {
        script: &args.script,
        recipes: &args.recipes,
        only: &[],
        allowed: &args.allow_recut,
        memo: last.memo.clone(),
        colour,
    };
    let progress = Progress::start(colour, 5);
    let plan = on_threads(args.threads, || plan(&asked, &earlier, registry, &progress, asked_files));
    // Before anything is shown: the bar would be drawn over it.
    drop(progress);
    let plan = plan?;
    show_printed(&plan.printed, console);
    show_findings(&plan.findings, last, console);
    let changes = plan.changes.clone().map(|changes| (changes, plan.pictures()));
    if plan.is_refused() {
        console.say(&format!("{}; nothing written", count_text(&plan.findings)));
        say_untouched(out, console);
        show_changes(changes.as_ref(), false, out, console);
        let errors = plan.findings.iter().filter(|f| f.level == Level::Error);
        let text = errors.map(finding_text).collect::<Vec<_>>().join("\n");
        book::say(&folder, &text)?;
        return Ok(None);
    }
    let files = on_threads(args.threads, || {
        let mut files = plan.draw(registry)?;
        book::make_watched(&mut files);
        Ok(files)
    })?;
    let written = folder.write(&files, Kept::ForeignOnly)?;
    show_set_aside(&written, console);
    show_changes(changes.as_ref(), true, out, console);
    let line = format!(
        "{} ({} as they were); {}",
        written_line(&written, out),
        written.alike,
        count_text(&plan.findings)
    );
    last.findings = plan.findings;
    Ok(Some(line))
}

/// All findings at first, afterwards only those that came and how many went.
fn show_findings(findings: &[Finding], last: &Last, console: &mut Console<'_>) {
    if last.makes == 0 || last.findings.is_empty() {
        show_main_findings(findings, console);
        return;
    }
    let came: Vec<Finding> =
        findings.iter().filter(|f| f.level == Level::Error || !last.findings.contains(f)).cloned().collect();
    show_main_findings(&came, console);
    let went = last.findings.iter().filter(|f| !findings.contains(f)).count();
    if went > 0 {
        console.say(&format!("{} of before no longer there", plural(went, "finding")));
    }
}

/// Shows an error in the book that is open; where there is no book there is nobody to tell.
fn say_in_book(out: &Path, error: &str, console: &mut Console<'_>) {
    if !out.is_dir() {
        return;
    }
    // Where that fails as the make did, it is said already.
    if let Err(stop) = Folder::open(out).and_then(|folder| book::say(&folder, error))
        && stop.0 != error
    {
        console.error(&stop.0);
    }
}

/// File names in words.
fn shown(paths: &[PathBuf]) -> String {
    let names: Vec<String> =
        paths.iter().map(|p| p.file_name().unwrap_or_default().to_string_lossy().into_owned()).collect();
    names.join(", ")
}
