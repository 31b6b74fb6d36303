//! `ribwright model SCRIPT`: the work as a small model, to fold from card and to print in plastic.

use super::{
    Stop, findings_json, has_errors, on_threads, show_main_findings, show_printed, show_stop, work_out,
};
use crate::args::Model;
use crate::console::{Console, DONE, FAILED, USAGE, count_text, plural};
use crate::folder::{Folder, Kept, Written};
use crate::progress::Progress;
use ribwright_kernel::kit::{Kit, KitOptions, ROWS, make_kit, scale_text};
use ribwright_kernel::settings::{Value, Values};
use ribwright_kernel::{Finding, OutFile, Registry};
use serde_json::json;
use std::collections::BTreeMap;
use std::path::Path;

pub(crate) fn run(args: &Model, registry: &Registry, console: &mut Console<'_>) -> u8 {
    let options = match options(args) {
        Ok(options) => options,
        Err(e) => {
            console.error(&format!("error: {e}"));
            return USAGE;
        }
    };
    let progress = Progress::start(console.terminal(), 5);
    let result = make(args, &options, registry, &progress, console.terminal() && !args.json);
    drop(progress);
    match result {
        Ok(made) => {
            show_printed(&made.printed, console);
            show(args, &made, console);
            if made.kit.is_some() { DONE } else { FAILED }
        }
        Err(stop) => show_stop(&stop, args.json, console),
    }
}

struct Made {
    out: String,
    findings: Vec<Finding>,
    printed: Vec<String>,
    /// None where an error finding forbids writing.
    kit: Option<(Kit, Written)>,
}

fn options(args: &Model) -> ribwright_kernel::Result<KitOptions> {
    let mut given = BTreeMap::from([("ribs".to_owned(), Value::Flag(args.ribs))]);
    let numbers = [
        ("scale", args.scale),
        ("height", args.height),
        ("tab", args.tab),
        ("overlap", args.overlap),
        ("feature", args.feature),
    ];
    for (name, value) in numbers {
        if let Some(x) = value {
            given.insert(name.to_owned(), Value::Number(x));
        }
    }
    for (name, value) in [("paper", &args.paper), ("nets", &args.nets)] {
        if let Some(word) = value {
            given.insert(name.to_owned(), Value::Text(word.clone()));
        }
    }
    KitOptions::new(&Values::check("model", ROWS, &given)?)
}

fn make(
    args: &Model,
    options: &KitOptions,
    registry: &Registry,
    progress: &Progress,
    colour: bool,
) -> Result<Made, Stop> {
    let beside = || args.script.parent().unwrap_or(Path::new("")).join("kit");
    let out = args.out.clone().unwrap_or_else(beside);
    // Taken before the work, as `make` does.
    let folder = Folder::open(&out)?;
    let (findings, printed, made) = on_threads(args.threads, || {
        let worked = work_out(&args.script, &args.recipes, registry, progress, colour)?;
        let mut findings = worked.findings;
        if has_errors(&findings) {
            findings.sort();
            return Ok((findings, worked.printed, None));
        }
        progress.step("unfolding the faces");
        let mut kit = make_kit(&worked.work, options)?;
        progress.step("drawing the pages");
        let files: Vec<OutFile> = kit.files(&worked.work)?;
        // What is said about building the work is for `check` and `make`: here it is about the model.
        let findings = kit.findings.clone();
        Ok((findings, worked.printed, Some((kit, files))))
    })?;
    progress.step("writing the files");
    let kit = match made {
        Some((kit, files)) => Some((kit, folder.write(&files, Kept::ForeignOnly)?)),
        None => None,
    };
    Ok(Made { out: out.display().to_string(), findings, printed, kit })
}

fn show(args: &Model, made: &Made, console: &mut Console<'_>) {
    let kit = made.kit.as_ref();
    if args.json {
        let scale = kit.map(|(kit, _)| kit.scale);
        let pages = kit.map(|(kit, _)| kit.pages.len());
        let size = kit.map(|(kit, _)| kit.size);
        let pieces = kit.map(|(kit, _)| kit.pieces.iter().map(|p| p.name.clone()).collect::<Vec<_>>());
        console.json(&json!({
            "schema": "ribwright-kit-1",
            "done": kit.is_some(),
            "out": made.out,
            "scale": scale,
            "size_mm": size,
            "pages": pages,
            "pieces": pieces,
            "findings": findings_json(&made.findings),
            "files": kit.map(|(_, w)| w.files.clone()).unwrap_or_default(),
        }));
        return;
    }
    show_main_findings(&made.findings, console);
    let Some((kit, written)) = kit else {
        console.say(&format!("{}: {}; nothing written", args.script.display(), count_text(&made.findings)));
        return;
    };
    for (from, to) in &written.set_aside {
        console.say(&format!("{from} was changed since it was written; your version is kept as {to}"));
    }
    let [w, d, h] = kit.size;
    console.say(&format!(
        "model {}, {w:.0} × {d:.0} × {h:.0} mm, {} on {}",
        scale_text(kit.scale),
        plural(kit.pieces.len(), "piece"),
        plural(kit.pages.len(), "page"),
    ));
    console.say(&format!(
        "wrote {} to {}; {}",
        plural(written.files.len(), "file"),
        made.out,
        count_text(&made.findings)
    ));
}
