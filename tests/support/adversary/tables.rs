//! Survey and readings files: an error names row and column; what is taken is fitted or solved to numbers, drawn, and
//! written; the script made of a maquette runs.

use super::settings::registry;
use super::{End, finite, plain};
use ribwright_kernel::Error;
use ribwright_kernel::export::svg::{Fit, drawing_to_svg};
use ribwright_kernel::maquette::{self, Enlarge, LAP, Options, Size};
use ribwright_kernel::settings::Values;
use ribwright_kernel::survey::{self, FitOptions, draw_sheet, fit_yard, nominals, read_yard};
use ribwright_scripts::Script;
use std::collections::BTreeMap;

/// Larger files are read, but not fitted or solved: it takes too long to do often.
const MOST_WORKED: usize = 12_000;
/// Most points that are solved.
const MOST_POINTS: usize = 24;

/// Whether an error names a line that the file has, and a column.
fn placed(file: &str, bytes: &[u8], said: &str) -> Result<(), String> {
    let Some(rest) = said.strip_prefix(file) else { return Err(format!("does not name the file: {said}")) };
    let Some((_, rest)) = rest.split_once("line ") else { return Err(format!("names no line: {said}")) };
    let digits: String = rest.chars().take_while(char::is_ascii_digit).collect();
    let lines = bytes.iter().filter(|b| matches!(b, b'\n' | b'\r')).count() + 2;
    match digits.parse::<usize>() {
        Ok(line) if line >= 1 && line <= lines => {}
        _ => return Err(format!("line {digits:?} of {lines}: {said}")),
    }
    if rest.contains("column ") { Ok(()) } else { Err(format!("names no column: {said}")) }
}

/// An error of reading.
fn misread(file: &str, bytes: &[u8], error: &Error) -> Result<End, String> {
    placed(file, bytes, &plain(error)?)?;
    Ok(End::Refused)
}

pub(super) fn feed_survey(bytes: &[u8]) -> Result<End, String> {
    let file = "yard.csv";
    let yard = match read_yard(file, bytes) {
        Ok(yard) => yard,
        Err(error) => return misread(file, bytes, &error),
    };
    if bytes.len() > MOST_WORKED {
        return Ok(End::Taken);
    }
    let nominals = match nominals(&yard, registry(), None) {
        Ok(nominals) => nominals,
        Err(error) => return plain(&error).map(|_| End::Refused),
    };
    let usual = Values::check("survey", survey::ROWS, &BTreeMap::new()).map_err(|e| e.to_string())?;
    let sheets = match fit_yard(&yard, &nominals, &FitOptions::new(&usual)) {
        Ok(sheets) => sheets,
        // What is wrong with a sheet as a whole has a line and column too.
        Err(error) => return misread(file, bytes, &error),
    };
    for fitted in &sheets {
        let sheet = &fitted.sheet;
        finite("a length", [sheet.length])?;
        for fold in &sheet.folds {
            finite("a fold", fold.across.iter().chain(&fold.height).copied())?;
            finite("a deviation", fold.deviation.iter().flatten().copied())?;
        }
        for check in &fitted.checks {
            finite("a residual", [check.residual, check.w])?;
        }
        drawing_to_svg(&draw_sheet(fitted), Fit::Page([277.0, 380.0]))
            .map_err(|e| format!("not drawn: {e}"))?;
    }
    let csv = survey::survey_csv(&sheets).map_err(|e| format!("not written: {e}"))?;
    let text = String::from_utf8_lossy(&csv);
    if text.contains("NaN") || text.contains(",inf") || text.contains(",-inf") {
        return Err("a table with NaN or infinity".to_owned());
    }
    let _ = survey::survey_json(&sheets);
    Ok(End::Taken)
}

pub(super) fn feed_readings(bytes: &[u8]) -> Result<End, String> {
    let file = "model.csv";
    let read = match maquette::read_maquette(file, bytes) {
        Ok(read) => read,
        Err(error) => return misread(file, bytes, &error),
    };
    let mut readings = read.readings;
    if bytes.len() > MOST_WORKED || readings.points.len() > MOST_POINTS {
        return Ok(End::Taken);
    }
    let options = Options { flat: read.flat.unwrap_or(maquette::FLAT), ..Options::default() };
    let solved = match maquette::solve(&readings, &options) {
        Ok(solved) => solved,
        Err(refusal) => return plain(&refusal.error).map(|_| End::Refused),
    };
    for point in &solved.points {
        finite(&point.name, point.at.iter().copied().chain(point.axes))?;
        finite(&point.name, point.covariance.iter().copied())?;
    }
    for reading in &solved.readings {
        finite(&reading.name, [reading.residual, reading.redundancy, reading.w])?;
    }
    let mut found = maquette::name_faces(&mut readings, &solved, options.flat);
    let shape = match maquette::shape(&readings, &solved, options.flat) {
        Ok(shape) => shape,
        Err(error) => return plain(&error).map(|_| End::Refused),
    };
    for element in &shape.elements {
        super::settings::solid(&element.solid).map_err(|e| format!("{}: {e}", element.solid.name))?;
    }
    found.extend(maquette::findings(&readings, &solved));
    if let Some(finding) = found.iter().find(|f| f.message.contains("NaN") || f.remedy.contains("NaN")) {
        return Err(format!("a finding: {finding:?}"));
    }
    let points = maquette::points_csv(&solved, &shape).map_err(|e| format!("not written: {e}"))?;
    maquette::readings_csv(&solved).map_err(|e| format!("not written: {e}"))?;
    maquette::faces_csv(&readings, &solved).map_err(|e| format!("not written: {e}"))?;
    if String::from_utf8_lossy(&points).contains("NaN") {
        return Err("a table with NaN".to_owned());
    }
    let drawing = maquette::fitted(maquette::draw_maquette("model", &readings, &solved), [380.0, 245.0]);
    drawing_to_svg(&drawing, Fit::TrueSize).map_err(|e| format!("not drawn: {e}"))?;
    let how = Enlarge { size: Size::Factor(10.0), inward: 0.0, lap: LAP, tidy: Vec::new() };
    let work = match maquette::enlarge(&readings, &solved, options.flat, &how) {
        Ok(work) => work,
        Err(error) => return plain(&error).map(|_| End::Refused),
    };
    if work.elements.is_empty() {
        return Ok(End::Taken);
    }
    let text = maquette::script("model", file, work.scale, &work.elements);
    Script::new("model.rhai", &text, None)
        .run(registry())
        .map(|_| End::Taken)
        .map_err(|e| format!("the script made of it does not run: {e}\n{text}"))
}
