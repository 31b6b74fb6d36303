//! `ribwright vary SCRIPT`: what a script leaves open is tried out, and what stays inside the maker's rules is drawn on
//! one sheet of pictures; one of them can be picked.

mod pick;
mod trying;

use super::{Stop, on_threads, show_stop};
use crate::args::Vary;
use crate::console::{Console, DONE, plural};
use crate::folder::{Folder, Kept};
use ribwright_kernel::choice::in_words;
use ribwright_kernel::vary::{Fate, Tried, Variant, files};
use ribwright_kernel::{OutFile, Registry};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// Where the last run stands in its folder.
const REPORT: &str = "vary.json";

pub(crate) fn run(args: &Vary, registry: &Registry, console: &mut Console<'_>) -> u8 {
    let out = args.out.clone().unwrap_or_else(|| beside(&args.script));
    if let Some(number) = args.pick {
        return shown(pick::pick(args, number, &out, registry), args.json, console);
    }
    if let Some(name) = &args.unpick {
        return shown(pick::unpick(&args.script, name.as_deref()), args.json, console);
    }
    match vary(args, &out, registry, console.terminal()) {
        Ok((tried, files)) => {
            show(args, &out, &tried, &files, console);
            DONE
        }
        Err(stop) => show_stop(&stop, args.json, console),
    }
}

/// Lines of a pick, or why there is none.
fn shown(result: Result<pick::Done, Stop>, as_json: bool, console: &mut Console<'_>) -> u8 {
    match result {
        Ok(done) if as_json => {
            console.json(&json!({ "done": true, "values": done.values, "file": done.file }));
            DONE
        }
        Ok(done) => {
            for line in done.lines {
                console.say(&line);
            }
            DONE
        }
        Err(stop) => show_stop(&stop, as_json, console),
    }
}

fn vary(args: &Vary, out: &Path, registry: &Registry, terminal: bool) -> Result<(Tried, Vec<OutFile>), Stop> {
    // Taken before the work, so that a folder that cannot be written is said at once.
    let folder = Folder::open(out)?;
    let (tried, files) = on_threads(args.threads, || {
        let tried = trying::try_out(args, registry, terminal)?;
        let files = files(&tried)?;
        Ok((tried, files))
    })?;
    folder.write(&files, Kept::ForeignOnly)?;
    Ok((tried, files))
}

fn show(args: &Vary, out: &Path, tried: &Tried, files: &[OutFile], console: &mut Console<'_>) {
    if args.json {
        let report = files.iter().find(|f| f.path == REPORT);
        let report: Value = report.and_then(|f| serde_json::from_slice(&f.bytes).ok()).unwrap_or_default();
        let names: Vec<&str> = files.iter().map(|f| f.path.as_str()).collect();
        console.json(
            &json!({ "done": true, "out": out.display().to_string(), "files": names, "report": report }),
        );
        return;
    }
    let kept = tried.variants.iter().filter(|v| v.kept().is_some()).count();
    let fell = tried.fell_out_words();
    let fell = if fell.is_empty() { String::new() } else { format!("; fell out: {fell}") };
    console.say(&format!(
        "tried {} ({}): {kept} kept{fell}",
        plural(tried.variants.len(), "variant"),
        tried.how
    ));
    // The first of each kind of error in full.
    let errors = tried.variants.iter().filter_map(|v| match &v.fate {
        Fate::Failed(error) => Some((v, error)),
        _ => None,
    });
    if let Some((variant, error)) = errors.into_iter().next() {
        console.say(&format!(
            "variant {} cannot be worked out ({}):",
            variant.number,
            in_words(&variant.choices)
        ));
        console.say(error);
    }
    if kept > tried.shown.len() {
        console.say(&format!("drawn are {} of the kept, those farthest apart:", tried.shown.len()));
    }
    for &index in &tried.shown {
        console.say(&line(tried, &tried.variants[index]));
    }
    let view = if tried.shown.is_empty() { "vary.csv" } else { "vary.html" };
    console.say(&format!(
        "wrote {} to {}; open {}",
        plural(files.len(), "file"),
        out.display(),
        out.join(view).display()
    ));
    if !tried.shown.is_empty() {
        console.say(&format!("pick one: ribwright vary {} --pick NUMBER", quoted(&args.script)));
    }
}

/// One variant on a line.
fn line(tried: &Tried, variant: &Variant) -> String {
    let mut line = format!("{:>4}  {}", variant.number, in_words(&variant.choices));
    if let Some(f) = variant.figures() {
        let margin = f.least_margin_mm.map_or("no margin".to_owned(), |m| format!("margin {m:.0} mm"));
        line.push_str(&format!(
            ": {:.2} m high, {:.0} kg, {margin}, {:.1} m² of sheet, {:.1} m of seam",
            f.height_mm / 1000.0,
            f.mass_with_all_kg,
            f.parts_area_mm2 / 1.0e6,
            f.seam_length_mm / 1000.0
        ));
    }
    if tried.is_present(variant) {
        line.push_str(" (as it is now)");
    }
    line
}

/// `vary` beside the script.
fn beside(script: &Path) -> PathBuf {
    script.parent().unwrap_or(Path::new("")).join("vary")
}

/// A path as a shell takes it.
fn quoted(path: &Path) -> String {
    let text = path.display().to_string();
    if text.contains(' ') { format!("\"{text}\"") } else { text }
}
