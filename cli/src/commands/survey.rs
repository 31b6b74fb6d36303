//! `ribwright survey FILE`: sheets as they were measured, fitted, checked and drawn; or a blank form.

use super::{Stop, findings_json, has_errors, read_bounded, show_main_findings, show_stop};
use crate::args::Survey;
use crate::console::{Console, DONE, FAILED, count_text, plural};
use crate::folder::{Folder, Kept, Written};
use ribwright_kernel::export::pdf::{Paper, drawings_to_pdf};
use ribwright_kernel::export::svg::{Fit, drawing_to_svg};
use ribwright_kernel::settings::{Value, Values};
use ribwright_kernel::survey::{
    self, FitOptions, FittedSheet, MOST_BYTES, ROWS, Yard, draw_sheet, file_stem, fit_yard, nominals,
    profile_of, read_yard,
};
use ribwright_kernel::{Error, Finding, OutFile, Registry};
use serde_json::json;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The page a sheet is drawn for: A3 between its margins, mm.
const PAGE: [f64; 2] = [277.0, 380.0];

pub(crate) fn run(args: &Survey, registry: &Registry, console: &mut Console<'_>) -> u8 {
    match work(args, registry) {
        Ok(done) => {
            show(args, &done, console);
            if done.written.is_some() { DONE } else { FAILED }
        }
        Err(stop) => show_stop(&stop, args.json, console),
    }
}

struct Done {
    out: PathBuf,
    sheets: Vec<FittedSheet>,
    findings: Vec<Finding>,
    /// None where an error finding forbids writing.
    written: Option<Written>,
}

fn work(args: &Survey, registry: &Registry) -> Result<Done, Stop> {
    let out = args.out.clone().unwrap_or_else(|| {
        args.file.as_deref().and_then(Path::parent).unwrap_or(Path::new("")).join(match &args.file {
            Some(_) => "survey",
            // So that a form does not take the place of a survey.
            None => "survey-form",
        })
    });
    let (mut sheets, mut findings, mut files) = (Vec::new(), Vec::new(), Vec::new());
    if let Some(file) = &args.file {
        (sheets, findings) = fitted(args, file, registry)?;
        files = files_of(&sheets)?;
    }
    if args.form {
        let bytes = drawings_to_pdf("ribwright survey form", &survey::form(), &Paper::A4)?;
        files.push(OutFile { path: "form.pdf".to_owned(), bytes });
    }
    let written = if has_errors(&findings) {
        None
    } else {
        Some(Folder::open(&out)?.write(&files, Kept::ForeignOnly)?)
    };
    Ok(Done { out, sheets, findings, written })
}

fn fitted(args: &Survey, file: &Path, registry: &Registry) -> Result<(Vec<FittedSheet>, Vec<Finding>), Stop> {
    let mut given = BTreeMap::from([("straight".to_owned(), Value::Flag(args.straight))]);
    for (name, value) in [("tape", args.tape), ("gauge", args.gauge), ("alpha", args.alpha)] {
        if let Some(x) = value {
            given.insert(name.to_owned(), Value::Number(x));
        }
    }
    let options = FitOptions::new(&Values::check("survey", ROWS, &given)?);
    let profile = match &args.profile {
        Some(words) => Some(Arc::new(profile_of(registry, words).map_err(|e| e.at("--profile"))?)),
        None => None,
    };
    let name = file.display().to_string();
    let mut yard = read_yard(&name, &read_bounded(file, MOST_BYTES, "the yard's CSV file")?)?;
    let nominals = nominals(&yard, registry, profile.as_ref())?;
    add_traces(&mut yard, &nominals, file)?;
    let sheets = fit_yard(&yard, &nominals, &options)?;
    let mut findings: Vec<Finding> =
        yard.findings.into_iter().chain(sheets.iter().flat_map(|s| s.findings.iter().cloned())).collect();
    findings.sort_by(|a, b| (a.level, &a.code).cmp(&(b.level, &b.code)));
    Ok((sheets, findings))
}

/// Reads the traced cross-sections a yard names: files beside it.
fn add_traces(
    yard: &mut Yard,
    nominals: &[Arc<ribwright_kernel::profile::Profile>],
    file: &Path,
) -> Result<(), Stop> {
    let folder = file.parent().unwrap_or(Path::new(""));
    survey::add_traces(yard, nominals, |name| {
        let beside = Path::new(name).components().all(|c| matches!(c, std::path::Component::Normal(_)));
        if !beside {
            return Err(Error::input(format!("{name:?} is not a file beside the yard file")));
        }
        read_bounded(&folder.join(name), MOST_BYTES, "a file of a trace").map_err(|stop| Error::input(stop.0))
    })?;
    Ok(())
}

fn files_of(sheets: &[FittedSheet]) -> Result<Vec<OutFile>, Stop> {
    let mut files = vec![
        OutFile {
            path: "survey.json".to_owned(),
            bytes: format!("{:#}\n", survey::survey_json(sheets)).into_bytes(),
        },
        OutFile { path: "folds.csv".to_owned(), bytes: survey::survey_csv(sheets)? },
    ];
    let mut stems = BTreeSet::new();
    for fitted in sheets {
        let stem = file_stem(&fitted.sheet.name);
        // Names that differ in signs only must not overwrite one another.
        let mut free = (1..).map(|k| if k == 1 { stem.clone() } else { format!("{stem}-{k}") });
        let stem = free.find(|s| !stems.contains(&s.to_lowercase())).unwrap_or_else(|| stem.clone());
        stems.insert(stem.to_lowercase());
        let text = drawing_to_svg(&draw_sheet(fitted), Fit::Page(PAGE))?;
        files.push(OutFile { path: format!("sheets/{stem}.svg"), bytes: text.into_bytes() });
    }
    Ok(files)
}

fn show(args: &Survey, done: &Done, console: &mut Console<'_>) {
    let files = done.written.as_ref().map(|w| w.files.clone()).unwrap_or_default();
    if args.json {
        let mut all = survey::survey_json(&done.sheets);
        all["done"] = json!(done.written.is_some());
        all["out"] = json!(done.out.display().to_string());
        all["findings"] = findings_json(&done.findings);
        all["files"] = json!(files);
        console.json(&all);
        return;
    }
    for line in table(&done.sheets) {
        console.say(&line);
    }
    show_main_findings(&done.findings, console);
    for (from, to) in done.written.iter().flat_map(|w| &w.set_aside) {
        console.say(&format!("{from} was changed since it was written; your version is kept as {to}"));
    }
    console.say(&format!(
        "wrote {} to {}; {}",
        plural(files.len(), "file"),
        done.out.display(),
        count_text(&done.findings)
    ));
}

/// One row per sheet; lengths in mm, departures as actual less nominal.
fn table(sheets: &[FittedSheet]) -> Vec<String> {
    if sheets.is_empty() {
        return Vec::new();
    }
    let heads = [
        "sheet",
        "length",
        "width start",
        "width far",
        "folds",
        "stations",
        "pitch off",
        "depth off",
        "place off",
        "± 95 %",
        "found from",
        "misreadings",
    ];
    let mut rows = vec![heads.map(str::to_owned)];
    for fitted in sheets {
        let (sheet, d) = (&fitted.sheet, &fitted.departure);
        let width = |k: usize| d.ends[k].width.map_or("-".to_owned(), |w| format!("{w:.1}"));
        let band = sheet.folds.iter().flat_map(|f| f.deviation.iter().map(|d| d[0])).fold(0.0, f64::max);
        let found = fitted.checks.iter().filter_map(|c| c.least_found).fold(0.0, f64::max);
        rows.push([
            sheet.name.clone(),
            format!("{:.0}", sheet.length),
            width(0),
            width(1),
            sheet.folds.len().to_string(),
            sheet.stations.len().to_string(),
            format!("{:+.1}", d.pitch.value),
            format!("{:+.1}", d.depth.value),
            format!("{:+.1}", d.place.value),
            format!("{:.1}", survey::BAND * band),
            format!("{found:.1}"),
            fitted.checks.iter().filter(|c| c.flagged).count().to_string(),
        ]);
    }
    let wide: Vec<usize> =
        (0..heads.len()).map(|k| rows.iter().map(|row| row[k].chars().count()).max().unwrap_or(0)).collect();
    let line = |row: &[String; 12]| {
        let cells: Vec<String> = row
            .iter()
            .zip(&wide)
            .enumerate()
            .map(|(k, (cell, wide))| if k == 0 { format!("{cell:<wide$}") } else { format!("{cell:>wide$}") })
            .collect();
        cells.join("  ").trim_end().to_owned()
    };
    let mut lines: Vec<String> = rows.iter().map(line).collect();
    lines.push(
        "mm; off: the furthest of pitch, depth and place from nominal; ± 95 %: the widest band of a fold across; \
         found from: a misreading this large is found 4 times out of 5"
            .to_owned(),
    );
    lines
}
