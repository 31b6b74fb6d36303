//! Picking a variant: its values go into a small file beside the script, and out of it again.

use super::super::{Stop, hand_recipes, read_bounded};
use super::{REPORT, quoted};
use crate::args::Vary;
use ribwright_kernel::choice::{Pick, Picks, in_words};
use ribwright_kernel::settings::unknown_name;
use ribwright_kernel::vary::SCHEMA;
use ribwright_kernel::{Error, Registry};
use ribwright_scripts::{Given, Script, picked_bytes, picked_path, read_picked};
use serde_json::Value;
use sha2::{Digest, Sha256};
use std::fs;
use std::path::Path;

/// Longest report that is read, bytes: a thousand variants need a tenth of it.
const LONGEST_REPORT: usize = 64 * 1024 * 1024;

/// What was done.
pub(super) struct Done {
    /// For people.
    pub(super) lines: Vec<String>,
    /// The values that are picked now.
    pub(super) values: Picks,
    /// The file they stand in; none if there is none any more.
    pub(super) file: Option<String>,
}

/// Pins the values of a variant of the last run.
pub(super) fn pick(args: &Vary, number: usize, out: &Path, registry: &Registry) -> Result<Done, Stop> {
    let report_path = out.join(REPORT);
    let report = read_report(&report_path, &args.script)?;
    let script = Script::read_alone(&args.script).map_err(|e| Stop(e.render(false).trim_end().to_owned()))?;
    let script = hand_recipes(script, &args.recipes)?;
    let variants = report["variants"].as_array().map_or(&[][..], Vec::as_slice);
    let variant = variants.iter().find(|v| v["number"] == number).ok_or_else(|| {
        Error::input(format!("there is no variant {number}"))
            .at(report_path.display().to_string())
            .remedy(format!("it has the variants 1 to {}", variants.len()))
    })?;
    if let Some(error) = variant["error"].as_str() {
        return Err(Error::input(format!(
            "variant {number} cannot be worked out, so it cannot be picked: {error}"
        ))
        .remedy("pick another one, or mend the script first")
        .into());
    }
    let values = values_of(&variant["values"]).ok_or_else(|| {
        Error::input(format!("the values of variant {number} cannot be read"))
            .at(report_path.display().to_string())
            .remedy(format!("try again: ribwright vary {}", quoted(&args.script)))
    })?;
    let file = picked_path(&args.script);
    let bytes = picked_bytes(&file_name(&args.script), Some(number as u64), &values);
    // As make will read it: what the script does not allow any more is said now.
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let mut trial = script.clone();
    trial.given = Given::as_picked(&file, &text, Some(number as u64), values.clone());
    let outcome = trial.run(registry).map_err(|e| Stop(e.render(false).trim_end().to_owned()))?;
    let before = read_picked(&args.script);
    write_whole(&file, &bytes)?;
    let mut lines = vec![format!("picked variant {number}: {}", in_words(&outcome.sculpture.choices))];
    if let Some(by) = variant["fell_out"].as_array().and_then(|why| why.first()) {
        let text = |key: &str| by[key].as_str().unwrap_or_default().to_owned();
        lines.push(format!(
            "mind that it fell out by {}: {}: {}",
            text("rule"),
            text("where"),
            text("message")
        ));
    }
    let sum: String = Sha256::digest(script.text.as_bytes()).iter().map(|b| format!("{b:02x}")).collect();
    if report["script_sha256"] != sum {
        lines.push(format!(
            "{} has changed since the variants were drawn: the figures may be others now",
            args.script.display()
        ));
    }
    lines.push(format!("wrote {}: make, check and watch use it from now on", file.display()));
    if let Ok(Given { values: before, file: Some(was) }) = before
        && before != values
    {
        let variant = was.variant.map(|n| format!("variant {n}: ")).unwrap_or_default();
        lines.push(format!("before, this was picked: {variant}{}", in_plain_words(&before)));
    }
    lines.push(format!("free it: ribwright vary {} --unpick", quoted(&args.script)));
    Ok(Done { lines, values, file: Some(file.display().to_string()) })
}

/// Frees all that was picked, or one choice of it.
pub(super) fn unpick(script: &Path, name: Option<&str>) -> Result<Done, Stop> {
    let file = picked_path(script);
    if !script.is_file() {
        return Err(Stop(format!("error: {}: there is no such script", script.display())));
    }
    if fs::symlink_metadata(&file).is_err() {
        let lines =
            vec![format!("nothing is picked for {}: there is no {}", script.display(), file.display())];
        return Ok(Done { lines, values: Picks::new(), file: None });
    }
    let read = read_picked(script);
    let (mut values, variant) = match (read, name) {
        (Ok(given), _) => (given.values, given.file.and_then(|f| f.variant)),
        // All of it goes, whatever it is.
        (Err(_), None) => (Picks::new(), None),
        (Err(e), Some(_)) => return Err(Stop(e.render(false).trim_end().to_owned())),
    };
    let mut freed = values.clone();
    if let Some(name) = name {
        let known: Vec<&str> = values.keys().map(String::as_str).collect();
        let unknown = unknown_name("picked choice", name, known.into_iter()).at(file.display().to_string());
        let value = values.remove(name).ok_or(unknown)?;
        freed = Picks::from([(name.to_owned(), value)]);
    } else {
        values.clear();
    }
    let mut lines = vec![format!("freed: {}", in_plain_words(&freed))];
    if values.is_empty() {
        fs::remove_file(&file).map_err(|e| format!("{}: cannot be removed: {e}", file.display()))?;
        lines.push(format!("removed {}", file.display()));
        if let Some(variant) = variant {
            lines.push(format!(
                "pick it again, while its folder is there: ribwright vary {} --pick {variant}",
                quoted(script)
            ));
        }
        return Ok(Done { lines, values, file: None });
    }
    // What is left is no variant that was drawn.
    write_whole(&file, &picked_bytes(&file_name(script), None, &values))?;
    lines.push(format!("still picked: {}", in_plain_words(&values)));
    Ok(Done { lines, values, file: Some(file.display().to_string()) })
}

fn read_report(path: &Path, script: &Path) -> Result<Value, Stop> {
    let again = format!("try variants first: ribwright vary {}", quoted(script));
    let fail =
        |why: String| Stop::from(Error::input(why).at(path.display().to_string()).remedy(again.clone()));
    if !path.is_file() {
        return Err(fail("there are no variants to pick from".to_owned()));
    }
    let bytes = read_bounded(path, LONGEST_REPORT, "the report of a run of vary")?;
    let report: Value = serde_json::from_slice(&bytes).map_err(|e| fail(format!("cannot be read: {e}")))?;
    if report["schema"] != SCHEMA {
        return Err(fail(format!("is no report of variants (schema {SCHEMA})")));
    }
    let (of, wanted) = (report["script"].as_str().unwrap_or_default(), file_name(script));
    if of != wanted {
        return Err(fail(format!("holds variants of {of}, not of {wanted}")));
    }
    Ok(report)
}

fn values_of(values: &Value) -> Option<Picks> {
    let pick = |value: &Value| match value {
        Value::Bool(flag) => Some(Pick::Flag(*flag)),
        Value::String(text) => Some(Pick::Text(text.clone())),
        Value::Number(x) => x.as_f64().map(Pick::Number),
        _ => None,
    };
    let entries = values.as_object()?.iter();
    entries.map(|(name, value)| Some((name.clone(), pick(value)?))).collect()
}

/// Writes a file beside its place and moves it there, so that it is never half.
fn write_whole(file: &Path, bytes: &[u8]) -> Result<(), Stop> {
    let cannot = |e: std::io::Error| Stop(format!("error: {}: cannot be written: {e}", file.display()));
    let mut name = file.file_name().unwrap_or_default().to_owned();
    name.push(".partial");
    let partial = file.with_file_name(name);
    fs::write(&partial, bytes).map_err(cannot)?;
    fs::rename(&partial, file).map_err(|e| {
        let _ = fs::remove_file(&partial);
        cannot(e)
    })
}

fn in_plain_words(values: &Picks) -> String {
    if values.is_empty() {
        return "nothing".to_owned();
    }
    values.iter().map(|(name, value)| format!("{name} {value}")).collect::<Vec<_>>().join(", ")
}

fn file_name(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}
