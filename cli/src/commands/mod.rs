//! The verbs, one file each, and what several of them share.

mod changes;
mod check;
mod inspect;
mod make;
mod making;
mod measure;
mod model;
mod new;
mod recipes;
mod survey;
mod vary;
mod watch;
mod words;

use crate::args::Verb;
use crate::console::{Console, FAILED, finding_text};
use crate::progress::Progress;
use ribwright_kernel::finding::by_weight;
use ribwright_kernel::{Error, ErrorKind, Finding, Level, Memo, Registry, Work};
use ribwright_scripts::{Script, ScriptError, picked_path};
use serde_json::{Value, json};
use std::io::Read;
use std::path::{Path, PathBuf};

/// Runs a verb and returns the exit code.
pub(crate) fn run(verb: &Verb, registry: &Registry, console: &mut Console<'_>) -> u8 {
    match verb {
        Verb::New(args) => new::run(args, console),
        Verb::Make(args) => make::run(args, registry, console),
        Verb::Changes(args) => changes::run(args, console),
        Verb::Watch(args) => watch::run(args, registry, console),
        Verb::Model(args) => model::run(args, registry, console),
        Verb::Check(args) => check::run(args, registry, console),
        Verb::Words(args) => words::run(args, registry, console),
        Verb::Recipes(args) => recipes::run(args, registry, console),
        Verb::Survey(args) => survey::run(args, registry, console),
        Verb::Measure(args) => measure::run(args, console),
        Verb::Vary(args) => vary::run(args, registry, console),
        Verb::Inspect(args) => inspect::run(args, console),
    }
}

/// Why a command stopped, as text for people.
#[derive(Debug)]
pub(crate) struct Stop(pub(crate) String);

impl From<Error> for Stop {
    fn from(e: Error) -> Self {
        let kind = match e.kind() {
            ErrorKind::Bug => "error (a fault of ribwright, not of the script)",
            _ => "error",
        };
        Stop(format!("{kind}: {e}"))
    }
}

impl From<String> for Stop {
    fn from(message: String) -> Self {
        Stop(format!("error: {message}"))
    }
}

/// A work and what its script had to say.
pub(crate) struct Worked {
    pub(crate) work: Work,
    /// Findings about the script and the work.
    pub(crate) findings: Vec<Finding>,
    /// What the script printed.
    pub(crate) printed: Vec<String>,
}

/// The script with the folders of recipes it may import from.
pub(crate) fn hand_recipes(script: Script, folders: &[PathBuf]) -> Result<Script, Stop> {
    match folders.iter().find(|folder| !folder.is_dir()) {
        Some(missing) => Err(Stop::from(format!(
            "--recipes {}: there is no such folder; name a folder that holds recipes, or leave --recipes out",
            missing.display()
        ))),
        None => Ok(script.with_recipes(folders)),
    }
}

/// Reads a script and works it out; `recipes` are the folders of recipes it may import from.
pub(crate) fn work_out(
    script: &Path,
    recipes: &[PathBuf],
    registry: &Registry,
    progress: &Progress,
    colour: bool,
) -> Result<Worked, Stop> {
    work_out_and_note(script, recipes, registry, progress, colour, &mut Vec::new(), &Memo::default())
}

/// The same; `asked` gets the files beside the script that it asked for, also where it fails.
pub(crate) fn work_out_and_note(
    script: &Path,
    recipes: &[PathBuf],
    registry: &Registry,
    progress: &Progress,
    colour: bool,
    asked: &mut Vec<PathBuf>,
    memo: &Memo,
) -> Result<Worked, Stop> {
    progress.step("reading the script");
    // Also where it cannot be read: it may be mended.
    asked.push(picked_path(script));
    let mut run = |script: Script| {
        let (outcome, files) = script.run_and_note(registry);
        asked.extend(files);
        outcome
    };
    let stopped = |e: ScriptError| {
        let mut text = e.printed().join("\n");
        if !text.is_empty() {
            text.push('\n');
        }
        Stop(text + e.render(colour).trim_end())
    };
    let outcome = run(hand_recipes(Script::read(script).map_err(stopped)?, recipes)?).map_err(stopped)?;
    progress.step("working out the seams");
    let work = ribwright_kernel::work_out_with(&outcome.sculpture, registry, memo)?;
    let mut findings = outcome.findings;
    findings.extend(work.findings.iter().cloned());
    Ok(Worked { work, findings, printed: outcome.printed })
}

/// Runs `job` on as many threads as asked for; all there are if none were named.
pub(crate) fn on_threads<T: Send>(
    threads: Option<u16>,
    job: impl FnOnce() -> Result<T, Stop> + Send,
) -> Result<T, Stop> {
    let Some(threads) = threads else { return job() };
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(usize::from(threads))
        .build()
        .map_err(|e| format!("cannot start {threads} threads: {e}; ask for fewer with --threads"))?;
    pool.install(job)
}

/// Whether any finding forbids building the work.
pub(crate) fn has_errors(findings: &[Finding]) -> bool {
    findings.iter().any(|f| f.level == Level::Error)
}

/// Shows what a script printed: on the error stream, as it is no result of the command.
pub(crate) fn show_printed(lines: &[String], console: &mut Console<'_>) {
    for line in lines {
        console.error(line);
    }
}

/// Shows findings, worst first, what can hurt before the rest.
pub(crate) fn show_findings(findings: &[Finding], console: &mut Console<'_>) {
    for finding in by_weight(findings) {
        console.say(&finding_text(finding));
    }
}

/// Findings of one kind shown in full before the rest of them are only named.
const IN_FULL: usize = 2;

/// Shows findings as `show_findings` does, but the first few of each kind alone in full. Error findings are never cut short.
pub(crate) fn show_main_findings(findings: &[Finding], console: &mut Console<'_>) {
    let findings = by_weight(findings);
    for (i, &finding) in findings.iter().enumerate() {
        let same = |f: &&&Finding| f.code == finding.code && f.level == finding.level;
        let before = findings[..i].iter().filter(same).count();
        let all = findings.iter().filter(same).count();
        if finding.level == Level::Error || before < IN_FULL || all == IN_FULL + 1 {
            console.say(&finding_text(finding));
        } else if before == IN_FULL {
            let places: Vec<&str> = findings[i..].iter().filter(same).map(|f| f.place.as_str()).collect();
            console.say(&format!(
                "    … and {} more [{}]: {}",
                places.len(),
                finding.code,
                places.join(", ")
            ));
        }
    }
}

/// The bytes of a regular file; one more than `most` at most, which is enough to say which line passes the limit.
pub(crate) fn read_bounded(file: &Path, most: usize, what: &str) -> Result<Vec<u8>, Stop> {
    let cannot = |why: String| Stop(format!("error: {}: cannot be read: {why}", file.display()));
    let failed = |e: std::io::Error| {
        let remedy = match e.kind() {
            std::io::ErrorKind::PermissionDenied => "ask for the right to read it".to_owned(),
            _ => format!("check the path; name {what}"),
        };
        cannot(format!("{e}; {remedy}"))
    };
    let about = std::fs::metadata(file).map_err(failed)?;
    if !about.is_file() {
        return Err(cannot(format!("it is not a regular file; name {what}")));
    }
    let mut bytes = Vec::new();
    let read = std::fs::File::open(file).and_then(|f| f.take(most as u64 + 1).read_to_end(&mut bytes));
    read.map_err(failed)?;
    Ok(bytes)
}

/// Shows why a command stopped and returns the exit code.
pub(crate) fn show_stop(stop: &Stop, as_json: bool, console: &mut Console<'_>) -> u8 {
    if as_json {
        console.json(&json!({ "done": false, "error": stop.0, "findings": [] }));
    } else {
        console.error(&stop.0);
    }
    FAILED
}

/// Findings as JSON.
pub(crate) fn findings_json(findings: &[Finding]) -> Value {
    serde_json::to_value(findings).unwrap_or_default()
}
