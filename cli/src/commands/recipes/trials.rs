//! `ribwright recipes --check FOLDER`: every recipe of a folder over its stated ranges.
//!
//! A run that must be allowed is worked out; as the recipe stands, all stages run too. It fails by an error of the script,
//! of the kernel, or an error finding. A run beyond the ranges must be refused.

use super::show_faults;
use crate::args::Recipes;
use crate::commands::{Stop, on_threads};
use crate::console::{Console, DONE, FAILED, finding_text, plural};
use ribwright_kernel::{Finding, Level, Registry, run_stages, work_out};
use ribwright_scripts::{Page, Shelf, Trial, Trials};
use serde_json::{Value, json};
use std::path::Path;
use std::time::{Duration, Instant};

/// Runs by lot unless told.
const BY_LOT: u32 = 8;
/// Failed runs of one recipe that are shown.
const SHOWN: usize = 5;

/// What came of one recipe.
struct Tried {
    name: String,
    runs: usize,
    refused: usize,
    /// Settings and why, for each run that failed.
    failed: Vec<(String, String)>,
    slowest: Duration,
    slowest_settings: String,
}

pub(super) fn run(
    args: &Recipes,
    folder: &Path,
    registry: &Registry,
    console: &mut Console<'_>,
) -> Result<u8, Stop> {
    let shelf = Shelf::of_folder(folder)?;
    let trials = Trials { by_lot: args.runs.unwrap_or(BY_LOT), seed: args.seed.unwrap_or(1) };
    let mut tried = Vec::new();
    for page in &shelf.pages {
        console.aside(&format!("trying {}", page.name));
        let done = on_threads(args.threads, || Ok(try_out(page, trials, registry)))?;
        if !args.json {
            console.say(&text(&done));
        }
        tried.push(done);
    }
    let nothing = tried.is_empty() && shelf.faults.is_empty();
    if nothing {
        return Err(Stop(format!(
            "error: {} holds no recipe: no file ending in .rhai has a line `kind:` in its head; `ribwright recipes \
             --source boulder` shows one",
            folder.display()
        )));
    }
    let failed = tried.iter().filter(|t| !t.failed.is_empty()).count() + shelf.faults.len();
    if args.json {
        let faults: Vec<String> = shelf.faults.iter().map(ToString::to_string).collect();
        let recipes: Vec<Value> = tried.iter().map(as_json).collect();
        console.json(&json!({
            "done": failed == 0, "seed": trials.seed, "recipes": recipes, "faults": faults, "modules": shelf.modules,
        }));
    } else {
        for module in &shelf.modules {
            console.say(&format!("no recipe, for its head has no line `kind:`: {module}"));
        }
        show_faults(&shelf, console);
        let runs: usize = tried.iter().map(|t| t.runs + t.refused).sum();
        let recipes = plural(tried.len() + shelf.faults.len(), "recipe");
        console.say(&format!(
            "{recipes}, {} with seed {}: {failed} failed",
            plural(runs, "run"),
            trials.seed
        ));
    }
    Ok(if failed == 0 { DONE } else { FAILED })
}

fn try_out(page: &Page, trials: Trials, registry: &Registry) -> Tried {
    let mut tried = Tried {
        name: page.name.clone(),
        runs: 0,
        refused: 0,
        failed: Vec::new(),
        slowest: Duration::ZERO,
        slowest_settings: String::new(),
    };
    for trial in trials.of(&page.head) {
        let settings = settings_text(&trial);
        let start = Instant::now();
        let why = if trial.allowed {
            must_work(page, &trial, registry)
        } else {
            must_be_refused(page, &trial, registry)
        };
        let took = start.elapsed();
        if trial.allowed {
            tried.runs += 1;
        } else {
            tried.refused += 1;
        }
        if took > tried.slowest {
            (tried.slowest, tried.slowest_settings) = (took, settings.clone());
        }
        if let Err(why) = why {
            tried.failed.push((settings, why));
        }
    }
    tried
}

fn settings_text(trial: &Trial) -> String {
    let settings: Vec<String> =
        trial.settings.iter().map(|(name, value)| format!("{name}: {value}")).collect();
    if settings.is_empty() { "as it stands".to_owned() } else { settings.join(", ") }
}

fn must_work(page: &Page, trial: &Trial, registry: &Registry) -> Result<(), String> {
    let outcome =
        page.script(&trial.settings).run(registry).map_err(|e| e.render(false).trim_end().to_owned())?;
    let mut work = work_out(&outcome.sculpture, registry).map_err(|e| format!("error: {e}"))?;
    if trial.settings.is_empty() {
        let output = run_stages(&work, registry, &[]).map_err(|e| format!("error: {e}"))?;
        work.findings.extend(output.findings);
    }
    let errors: Vec<String> = work.findings.iter().filter(is_error).map(finding_text).collect();
    if errors.is_empty() { Ok(()) } else { Err(errors.join("\n")) }
}

fn is_error(finding: &&Finding) -> bool {
    finding.level == Level::Error
}

/// Runs the script only: a recipe that checks its settings refuses them before anything is worked out.
fn must_be_refused(page: &Page, trial: &Trial, registry: &Registry) -> Result<(), String> {
    match page.script(&trial.settings).run(registry) {
        Err(_) => Ok(()),
        Ok(_) => Err(
            "not refused, though its head does not allow it\n    let the function begin with `let … = checked(settings);`"
                .to_owned(),
        ),
    }
}

fn text(tried: &Tried) -> String {
    let word = if tried.failed.is_empty() { "ok" } else { "FAILED" };
    let mut lines = vec![format!(
        "{word:<6}  {:<18}  {}, {} refused as they must be; slowest {:.2} s ({})",
        tried.name,
        plural(tried.runs, "run"),
        tried.refused - tried.failed.iter().filter(|(_, why)| why.starts_with("not refused")).count(),
        tried.slowest.as_secs_f64(),
        tried.slowest_settings
    )];
    for (settings, why) in tried.failed.iter().take(SHOWN) {
        lines.push(format!("    with {settings}:"));
        lines.extend(why.lines().map(|line| format!("        {line}")));
    }
    if tried.failed.len() > SHOWN {
        lines.push(format!("    … and {} more", plural(tried.failed.len() - SHOWN, "failed run")));
    }
    lines.join("\n")
}

fn as_json(tried: &Tried) -> Value {
    let failed: Vec<Value> =
        tried.failed.iter().map(|(settings, why)| json!({ "settings": settings, "error": why })).collect();
    json!({
        "name": tried.name, "runs": tried.runs, "refused": tried.refused, "failed": failed,
        "slowest_s": tried.slowest.as_secs_f64(), "slowest_settings": tried.slowest_settings,
    })
}
