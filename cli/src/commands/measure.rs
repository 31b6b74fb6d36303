//! `ribwright measure FILE…`: a maquette from its readings and tracings: points, tests, a picture, and a script of its
//! elements.

use super::{Stop, findings_json, has_errors, read_bounded, show_main_findings, show_stop};
use crate::args::Measure;
use crate::console::{Console, DONE, FAILED, count_text, plural};
use crate::folder::{Folder, Kept, Written};
use ribwright_kernel::export::pdf::{Paper, drawings_to_pdf};
use ribwright_kernel::export::svg::{Fit, drawing_to_svg};
use ribwright_kernel::lines::LARGEST_FILE;
use ribwright_kernel::maquette::{
    self, Enlarge, Enlarged, MOST_BYTES, Options, ROWS, ReadFile, Readings, Shape, Size, Solved,
};
use ribwright_kernel::settings::{Value, Values};
use ribwright_kernel::survey::file_stem;
use ribwright_kernel::tracing::{self, Assembly, Tracing};
use ribwright_kernel::{Finding, OutFile};
use serde_json::json;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// What files are named.
const NAMED: &str = "the CSV file of the readings, or SVG and DXF files";
/// The page the picture is drawn for: A3 between its margins, across, mm.
const PAGE: [f64; 2] = [380.0, 245.0];

pub(crate) fn run(args: &Measure, console: &mut Console<'_>) -> u8 {
    match work(args) {
        Ok(done) => {
            show(args, &done, console);
            if done.written.is_some() { DONE } else { FAILED }
        }
        Err(stop) => show_stop(&stop, args.json, console),
    }
}

struct Done {
    out: PathBuf,
    solved: Solved,
    shape: Shape,
    work: Enlarged,
    findings: Vec<Finding>,
    /// None where an error finding forbids writing.
    written: Option<Written>,
}

fn work(args: &Measure) -> Result<Done, Stop> {
    let first = &args.files[0];
    let out = args.out.clone().unwrap_or_else(|| first.parent().unwrap_or(Path::new("")).join("measure"));
    let name = first.display().to_string();
    let (ReadFile { mut readings, flat, mut findings }, tracings) = sorted(&args.files)?;
    let traced = if tracings.is_empty() { None } else { Some(add_tracings(args, &tracings, &mut readings)?) };
    findings.extend(traced.iter().flat_map(|t| t.findings.clone()));
    let options = options(args, flat)?;
    let solved = maquette::solve(&readings, &options).map_err(|r| r.error.at(&name))?;
    findings.extend(maquette::name_faces(&mut readings, &solved, options.flat));
    let shape = maquette::shape(&readings, &solved, options.flat).map_err(|e| e.at(&name))?;
    let how = Enlarge {
        size: Size::Factor(args.scale),
        inward: args.inward.unwrap_or(0.0),
        lap: args.lap,
        tidy: Vec::new(),
    };
    let work = maquette::enlarge(&readings, &solved, options.flat, &how).map_err(|e| e.at(&name))?;
    findings.extend(maquette::findings(&readings, &solved));
    findings.extend(shape.findings.iter().cloned());
    findings.extend(work.findings.iter().filter(|f| !shape.findings.contains(f)).cloned());
    findings.sort_by(|a, b| (a.level, &a.code).cmp(&(b.level, &b.code)));
    let files = files_of(args, &readings, &solved, &shape, &work, traced.as_ref())?;
    let written = if has_errors(&findings) {
        None
    } else {
        Some(Folder::open(&out)?.write(&files, Kept::ForeignOnly)?)
    };
    Ok(Done { out, solved, shape, work, findings, written })
}

/// A file's name and its bytes.
type Named = (String, Vec<u8>);

/// The readings of the one CSV file, if there is one, and names and contents of the tracings.
fn sorted(files: &[PathBuf]) -> Result<(ReadFile, Vec<Named>), Stop> {
    let (mut readings, mut tracings) = (None, Vec::new());
    for file in files {
        let name = file.display().to_string();
        let ending = file.extension().map(|e| e.to_string_lossy().to_lowercase()).unwrap_or_default();
        if matches!(ending.as_str(), "svg" | "dxf") {
            tracings.push((name, read_bounded(file, LARGEST_FILE, NAMED)?));
            continue;
        }
        if readings.is_some() {
            return Err(Stop(format!(
                "error: {name}: a second file of readings; put all readings into one CSV file, tracings are SVG or DXF"
            )));
        }
        readings = Some(maquette::read_maquette(&name, &read_bounded(file, MOST_BYTES, NAMED)?)?);
    }
    let none = ReadFile { readings: Readings::default(), flat: None, findings: Vec::new() };
    Ok((readings.unwrap_or(none), tracings))
}

fn add_tracings(
    args: &Measure,
    tracings: &[(String, Vec<u8>)],
    readings: &mut Readings,
) -> Result<Assembly, Stop> {
    let mut given = BTreeMap::new();
    for (name, value) in [("deviation", args.traced), ("wobble", args.wobble)] {
        if let Some(x) = value {
            given.insert(name.to_owned(), Value::Number(x));
        }
    }
    let options = tracing::Options::from(&Values::check("measure", tracing::ROWS, &given)?);
    let all: Vec<Tracing<'_>> =
        tracings.iter().map(|(file, bytes)| Tracing { file, bytes, face: None }).collect();
    Ok(tracing::trace(&all, &options, readings)?)
}

fn options(args: &Measure, flat: Option<f64>) -> Result<Options, Stop> {
    let mut given = BTreeMap::new();
    for (name, value) in [("flat", args.flat), ("alpha", args.alpha)] {
        if let Some(x) = value {
            given.insert(name.to_owned(), Value::Number(x));
        }
    }
    Ok(Options::new(&Values::check("measure", ROWS, &given)?, flat))
}

fn files_of(
    args: &Measure,
    readings: &Readings,
    solved: &Solved,
    shape: &Shape,
    work: &Enlarged,
    traced: Option<&Assembly>,
) -> Result<Vec<OutFile>, Stop> {
    let name = args.files[0].file_stem().map_or("maquette".to_owned(), |s| s.to_string_lossy().into_owned());
    let stem = file_stem(&name);
    let drawing = maquette::fitted(maquette::draw_maquette(&stem, readings, solved), PAGE);
    let from = args.files[0].file_name().map_or(name.clone(), |s| s.to_string_lossy().into_owned());
    let mut files = vec![
        ("maquette.json", format!("{:#}\n", maquette::maquette_json(solved, shape)).into_bytes()),
        ("points.csv", maquette::points_csv(solved, shape)?),
        ("readings.csv", maquette::readings_csv(solved)?),
        ("faces.csv", maquette::faces_csv(readings, solved)?),
        ("network.svg", drawing_to_svg(&drawing, Fit::TrueSize)?.into_bytes()),
        ("network.pdf", drawings_to_pdf(&format!("maquette {name}"), &[drawing], &Paper::A3)?),
    ];
    if let Some(traced) = traced {
        let points: Vec<_> = solved.points.iter().map(|p| p.at).collect();
        files.push(("closing.csv", tracing::closing_csv(traced, &traced.residuals(&points))?));
    }
    let script;
    if !work.elements.is_empty() {
        script = format!("{stem}.rhai");
        let text = maquette::script(&name, &from, work.scale, &work.elements);
        files.push((&script, text.into_bytes()));
    }
    Ok(files.into_iter().map(|(path, bytes)| OutFile { path: path.to_owned(), bytes }).collect())
}

fn show(args: &Measure, done: &Done, console: &mut Console<'_>) {
    let files = done.written.as_ref().map(|w| w.files.clone()).unwrap_or_default();
    if args.json {
        let mut all = maquette::maquette_json(&done.solved, &done.shape);
        all["done"] = json!(done.written.is_some());
        all["out"] = json!(done.out.display().to_string());
        all["scale"] = json!(done.work.scale);
        all["findings"] = findings_json(&done.findings);
        all["files"] = json!(files);
        console.json(&all);
        return;
    }
    for (k, part) in done.solved.parts.iter().enumerate() {
        let of = |p: &usize| done.solved.points[*p].axes[0];
        let worst = part.points.iter().map(of).fold(0.0, f64::max);
        let s0 = part.s0().map_or("-".to_owned(), |s| format!("{s:.2}"));
        console.say(&format!(
            "part {}: {}, {} degrees of freedom, s0 {s0} (should be about 1), points within {worst:.2} mm (95 %)",
            k + 1,
            plural(part.points.len(), "point"),
            part.degrees
        ));
    }
    for element in &done.shape.elements {
        console.say(&format!(
            "element {}: {}, {:.3} m³ at {} times the maquette",
            element.solid.name,
            plural(element.solid.faces.len(), "face"),
            element.solid.volume() * done.work.scale.powi(3) / 1.0e9,
            done.work.scale
        ));
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
