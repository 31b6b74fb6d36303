//! DXF and SVG files: outlines that are finite, or an error that names the file and, where there is one, the line or the
//! thing in it; and what is written of them is read back.

use super::{End, plain};
use ribwright_kernel::drawing::{Drawing, Layer, Path};
use ribwright_kernel::export::dxf::drawing_to_dxf;
use ribwright_kernel::export::svg::{Fit, drawing_to_svg};
use ribwright_kernel::inspect::inspect;
use ribwright_kernel::lines::{Contents, NamedLine, upright};
use ribwright_kernel::settings::LARGEST_NUMBER;

/// Lines of more points than this are not written back: it takes too long to do often.
const MOST_WRITTEN: usize = 4000;

/// What may be wrong with a file as a whole, where there is no line or thing to name.
const WHOLE: [&str; 14] = [
    "the file is empty",
    "this is a binary file",
    "neither a DXF nor an SVG",
    "does not say",
    "cut off",
    "not <svg>",
    "bytes allowed",
    "far out of range",
    "is broken",
    "elements or",
    "nested",
    "by",
    "points",
    "ENTITIES",
];

pub(super) fn feed_dxf(bytes: &[u8]) -> Result<End, String> {
    feed("a.dxf", bytes)
}

pub(super) fn feed_svg(bytes: &[u8]) -> Result<End, String> {
    feed("a.svg", bytes)
}

fn feed(file: &str, bytes: &[u8]) -> Result<End, String> {
    let report = inspect(file, bytes);
    let contents = match upright(file, bytes) {
        Ok(contents) => contents,
        Err(error) => {
            let said = plain(&error)?;
            if !said.starts_with(file) {
                return Err(format!("does not name the file: {said}"));
            }
            let place = ["line ", "layer ", "element ", "<"].iter().any(|word| said.contains(word));
            if !place && !WHOLE.iter().any(|word| said.contains(word)) {
                return Err(format!("does not say where: {said}"));
            }
            return if report.is_err() {
                Ok(End::Refused)
            } else {
                Err(format!("inspect takes what is refused: {said}"))
            };
        }
    };
    let report = report.map_err(|e| format!("inspect refuses what is taken: {e}"))?;
    let text = report.to_string();
    if text.contains("NaN") || text.contains("inf") && !String::from_utf8_lossy(bytes).contains("inf") {
        return Err(format!("inspect says {text}"));
    }
    if report.layers.iter().map(|layer| layer.outlines).sum::<usize>() != contents.lines.len() {
        return Err("inspect counts other lines".to_owned());
    }
    lines(&contents)?;
    written(&contents).map(|()| End::Taken)
}

fn lines(contents: &Contents) -> Result<(), String> {
    for NamedLine { layer, line, .. } in &contents.lines {
        if line.points.len() < 2 {
            return Err(format!("a line of {} points on {layer:?}", line.points.len()));
        }
        let length = line.length();
        if !length.is_finite()
            || line.points.iter().flatten().any(|x| !x.is_finite() || x.abs() > 1.01 * LARGEST_NUMBER)
        {
            return Err(format!("a line on {layer:?} of length {length}: {:?}", line.points.first()));
        }
        if line.closed != line.is_closed() {
            return Err(format!("a line on {layer:?} is closed and is not"));
        }
    }
    super::finite("a mark", contents.marks.iter().flat_map(|(_, at)| *at))
}

/// Writes the lines as cuts and reads them back.
fn written(contents: &Contents) -> Result<(), String> {
    let small = |x: &f64| x.abs() <= LARGEST_NUMBER / 10.0;
    let paths: Vec<Path> = contents
        .lines
        .iter()
        .map(|named| &named.line)
        .filter(|line| line.points.iter().flatten().all(small))
        // What is flatter than a digit of the file is written as less than a line.
        .filter(|line| line.length() > 0.1)
        .filter(|line| !line.closed || line.points.len() > 3)
        .map(|line| Path { layer: Layer::Cut, points: line.points.clone(), closed: line.closed })
        .collect();
    let points: usize = paths.iter().map(|path| path.points.len()).sum();
    if paths.is_empty() || points > MOST_WRITTEN {
        return Ok(());
    }
    let drawing = Drawing { name: "back".to_owned(), paths, ..Drawing::default() };
    let length: f64 = drawing.paths.iter().map(Path::length).sum();
    let size = drawing.bounds().map_or(0.0, |[lo, hi]| {
        [lo[0], lo[1], hi[0], hi[1]].iter().fold(0.0_f64, |most, x| most.max(x.abs()))
    });
    let dxf = drawing_to_dxf(&drawing).map_err(|e| format!("not written as DXF: {e}"))?;
    let svg = drawing_to_svg(&drawing, Fit::TrueSize).map_err(|e| format!("not written as SVG: {e}"))?;
    // SVG is read in single precision: seven digits of the page, and a digit of the file per point.
    for (file, bytes, share) in [("b.dxf", dxf, 1.0e-9), ("b.svg", svg.into_bytes(), 1.0e-6)] {
        let back = upright(file, &bytes).map_err(|e| format!("what was written is not read: {e}"))?;
        let cut: Vec<&NamedLine> =
            back.lines.iter().filter(|named| named.layer == Layer::Cut.name()).collect();
        if cut.len() != drawing.paths.len() {
            return Err(format!("{file}: {} lines written, {} read back", drawing.paths.len(), cut.len()));
        }
        let again: f64 = cut.iter().map(|named| named.line.length()).sum();
        #[allow(clippy::cast_precision_loss, reason = "a few thousand")]
        let allowed = share * (size * points as f64 + length) + 0.001 * points as f64;
        if (again - length).abs() > allowed {
            return Err(format!("{file}: {length} mm written, {again} mm read back ({allowed} mm allowed)"));
        }
    }
    Ok(())
}
