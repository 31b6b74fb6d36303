//! `ribwright make SCRIPT`: all the files of a work, written whole or not at all.

use super::{
    Stop, findings_json, has_errors, on_threads, show_main_findings, show_printed, show_stop, work_out,
};
use crate::args::Make;
use crate::console::{Console, DONE, FAILED, USAGE, count_text, plural};
use crate::folder::{Folder, Kept, Written};
use crate::progress::Progress;
use ribwright_kernel::{Finding, OutFile, Registry, registry, run_stages, write_files};
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
    let (findings, printed, files) = on_threads(args.threads, || {
        let worked = work_out(&args.script, registry, progress, colour)?;
        let work = worked.work;
        progress.step("running the stages");
        let output = run_stages(&work, registry, &args.only)?;
        let mut findings = worked.findings;
        findings.extend(output.findings.iter().cloned());
        findings.sort();
        if has_errors(&findings) {
            return Ok((findings, worked.printed, None));
        }
        progress.step("drawing the files");
        let files: Vec<OutFile> = write_files(&work, &output, registry)?;
        Ok((findings, worked.printed, Some(files)))
    })?;
    let Some(files) = files else { return Ok(Made { findings, printed, written: None }) };
    progress.step("writing the files");
    let kept = if args.only.is_empty() { Kept::ForeignOnly } else { Kept::EarlierToo };
    let written = folder.write(&files, kept)?;
    Ok(Made { findings, printed, written: Some(written) })
}

fn show(args: &Make, out: &Path, made: &Made, console: &mut Console<'_>) {
    if args.json {
        let files = made.written.as_ref().map(|w| w.files.clone()).unwrap_or_default();
        console.json(&json!({
            "done": made.written.is_some(),
            "out": out.display().to_string(),
            "findings": findings_json(&made.findings),
            "files": files,
        }));
        return;
    }
    show_main_findings(&made.findings, console);
    let Some(written) = &made.written else {
        console.say(&format!("{}: {}; nothing written", args.script.display(), count_text(&made.findings)));
        say_untouched(out, console);
        return;
    };
    for (from, to) in &written.set_aside {
        console.say(&format!("{from} was changed since it was written; your version is kept as {to}"));
    }
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
    console.say(&format!("{line}; {}", count_text(&made.findings)));
}

/// `out` beside the script.
fn beside(script: &Path) -> PathBuf {
    script.parent().unwrap_or(Path::new("")).join("out")
}

fn say_untouched(out: &Path, console: &mut Console<'_>) {
    if out.is_dir() {
        console.error(&format!("{} is as it was", out.display()));
    }
}
