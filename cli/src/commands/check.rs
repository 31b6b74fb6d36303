//! `ribwright check SCRIPT`: the findings of a work, writing nothing.

use super::{findings_json, has_errors, on_threads, show_findings, show_printed, show_stop, work_out};
use crate::args::Check;
use crate::console::{Console, DONE, FAILED, count_text};
use crate::progress::Progress;
use ribwright_kernel::{Registry, run_stages};
use serde_json::json;

pub(crate) fn run(args: &Check, registry: &Registry, console: &mut Console<'_>) -> u8 {
    let progress = Progress::start(console.terminal(), 3);
    let colour = console.terminal() && !args.json;
    let found = on_threads(args.threads, || {
        let worked = work_out(&args.script, &args.recipes, registry, &progress, colour)?;
        progress.step("running the stages");
        let output = run_stages(&worked.work, registry, &[])?;
        let mut findings = worked.findings;
        findings.extend(output.findings);
        findings.sort();
        Ok((findings, worked.printed))
    });
    drop(progress);
    let (findings, printed) = match found {
        Ok(found) => found,
        Err(stop) => return show_stop(&stop, args.json, console),
    };
    show_printed(&printed, console);
    let failed = has_errors(&findings);
    if args.json {
        console.json(&json!({ "done": !failed, "findings": findings_json(&findings) }));
    } else {
        show_findings(&findings, console);
        console.say(&format!("checked {}: {}", args.script.display(), count_text(&findings)));
    }
    if failed { FAILED } else { DONE }
}
