//! `ribwright make SCRIPT`: all the files of a work, written whole or not at all.

use super::changes::short_lines;
use super::making::{Asked, Earlier, PICTURES, plan};
use super::{Stop, findings_json, on_threads, show_main_findings, show_printed, show_stop};
use crate::args::Make;
use crate::console::{Console, DONE, FAILED, USAGE, count_text, plural};
use crate::folder::{Folder, Kept, Written};
use crate::progress::Progress;
use ribwright_kernel::change::Changes;
use ribwright_kernel::{Finding, Memo, Registry, registry};
use serde_json::json;
use std::path::{Path, PathBuf};
use std::time::Instant;

pub(crate) fn run(args: &Make, registry: &Registry, console: &mut Console<'_>) -> u8 {
    for stage in &args.only {
        if let Err(e) = registry::find("stage", &registry.stages, stage) {
            console.error(&format!("error: --only: {e}"));
            return USAGE;
        }
    }
    let out = args.out.clone().unwrap_or_else(|| beside(&args.script));
    let start = Instant::now();
    let progress = Progress::start(console.terminal(), 5);
    let result = make(args, &out, registry, &progress, console.terminal() && !args.json);
    drop(progress);
    let made = match result {
        Ok(made) => made,
        Err(stop) => {
            let code = show_stop(&stop, args.json, console);
            if !args.json {
                say_untouched(&out, console);
            }
            return code;
        }
    };
    show_printed(&made.printed, console);
    show(args, &out, &made, console);
    console.aside(&format!("done in {:.2} s", start.elapsed().as_secs_f64()));
    if made.written.is_some() { DONE } else { FAILED }
}

struct Made {
    findings: Vec<Finding>,
    printed: Vec<String>,
    /// Against the make before, with the number of pictures that show it.
    changes: Option<(Changes, usize)>,
    /// None where an error finding forbids writing.
    written: Option<Written>,
}

fn make(
    args: &Make,
    out: &Path,
    registry: &Registry,
    progress: &Progress,
    colour: bool,
) -> Result<Made, Stop> {
    // Taken before the work, so that a folder that cannot be written is said at once, and what a killed
    // run left behind is put right even if this one fails.
    let folder = Folder::open(out)?;
    let earlier = Earlier::of(&folder)?;
    let asked = Asked {
        script: &args.script,
        recipes: &args.recipes,
        only: &args.only,
        allowed: &args.allow_recut,
        memo: Memo::default(),
        colour,
    };
    let (plan, files) = on_threads(args.threads, || {
        let plan = plan(&asked, &earlier, registry, progress, &mut Vec::new())?;
        if plan.is_refused() {
            return Ok((plan, None));
        }
        progress.step("drawing the files");
        let files = plan.draw(registry)?;
        Ok((plan, Some(files)))
    })?;
    let pictures = plan.pictures();
    let changes = plan.changes.map(|changes| (changes, pictures));
    let mut made = Made { findings: plan.findings, printed: plan.printed, changes, written: None };
    if let Some(files) = files {
        progress.step("writing the files");
        let kept = if args.only.is_empty() { Kept::ForeignOnly } else { Kept::EarlierToo };
        made.written = Some(folder.write(&files, kept)?);
    }
    Ok(made)
}

fn show(args: &Make, out: &Path, made: &Made, console: &mut Console<'_>) {
    if args.json {
        let files = made.written.as_ref().map(|w| w.files.clone()).unwrap_or_default();
        console.json(&json!({
            "done": made.written.is_some(),
            "out": out.display().to_string(),
            "findings": findings_json(&made.findings),
            "changes": made.changes.as_ref().map(|(changes, _)| changes),
            "files": files,
        }));
        return;
    }
    show_main_findings(&made.findings, console);
    match &made.written {
        Some(written) => {
            show_set_aside(written, console);
            console.say(&format!("{}; {}", written_line(written, out), count_text(&made.findings)));
        }
        None => {
            let count = count_text(&made.findings);
            console.say(&format!("{}: {count}; nothing written", args.script.display()));
            say_untouched(out, console);
        }
    }
    show_changes(made.changes.as_ref(), made.written.is_some(), out, console);
}

/// Files of ours that the user changed.
pub(super) fn show_set_aside(written: &Written, console: &mut Console<'_>) {
    for (from, to) in &written.set_aside {
        console.say(&format!("{from} was changed since it was written; your version is kept as {to}"));
    }
}

/// `wrote 12 files to out; 3 of your own kept`.
pub(super) fn written_line(written: &Written, out: &Path) -> String {
    let mut line = format!("wrote {} to {}", plural(written.files.len(), "file"), out.display());
    for (count, what) in [
        (written.earlier, "of earlier stages kept"),
        (written.foreign, "of your own kept"),
        (written.removed, "no longer made removed"),
    ] {
        if count > 0 {
            line.push_str(&format!("; {count} {what}"));
        }
    }
    line
}

/// What changed against the make before, if there was one.
pub(super) fn show_changes(
    changes: Option<&(Changes, usize)>,
    written: bool,
    out: &Path,
    console: &mut Console<'_>,
) {
    let Some((changes, pictures)) = changes else { return };
    if !changes.is_empty() {
        console.say(if written {
            "against the make before:"
        } else {
            "against the make before it would be:"
        });
    }
    for line in short_lines(changes) {
        console.say(&line);
    }
    if *pictures > 0 && written {
        console
            .say(&format!("  old and new outlines of what is cut again: {}", out.join(PICTURES).display()));
    }
}

/// `out` beside the script.
pub(super) fn beside(script: &Path) -> PathBuf {
    script.parent().unwrap_or(Path::new("")).join("out")
}

pub(super) fn say_untouched(out: &Path, console: &mut Console<'_>) {
    if out.is_dir() {
        console.error(&format!("{} is as it was", out.display()));
    }
}
