//! Lines of DXF and SVG files, in mm, with the names they carry.
//!
//! DXF goes through the `dxf` crate, SVG through `usvg`, which resolves units, transforms and shapes. Curves are
//! broken into chords within [`TOLERANCE`]. Files come from anywhere: what a file may ask for is bounded by the
//! constants here and in `svg`, and checked before it is done.

mod dxf;
mod svg;

use crate::error::{Error, Result};
use crate::settings::LARGEST_NUMBER;
use kurbo::{BezPath, PathEl};
use std::cell::Cell;
use std::collections::BTreeMap;

/// How far a chord may leave its curve, mm.
pub const TOLERANCE: f64 = 0.001;
/// A path whose ends lie this close together counts as closed, mm: finer than any cutting machine.
pub const CLOSING_GAP: f64 = 0.001;
/// Largest file read, bytes: a sheet full of parts takes a hundredth of it.
pub const LARGEST_FILE: usize = 32 << 20;
/// Most points of all lines of a file together, curves broken into chords.
pub const MOST_POINTS: usize = 2_000_000;

/// A polyline in mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Its points.
    pub points: Vec<[f64; 2]>,
    /// Whether the last joins the first.
    pub closed: bool,
}

/// A line and the names it carries.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedLine {
    /// Layer of a DXF, id of the innermost named group of an SVG; empty where there is none.
    pub layer: String,
    /// All names, the outermost first: the layer of a DXF; of an SVG the labels (or, where there is none, ids) of
    /// the groups around it and its own.
    pub names: Vec<String>,
    /// The line itself.
    pub line: Line,
}

/// What a file holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Contents {
    /// `DXF` or `SVG`.
    pub format: &'static str,
    /// The unit the file is written in.
    pub units: String,
    /// Whether the file says how large it is in a unit of length.
    pub sized: bool,
    /// Its lines, in the file's order.
    pub lines: Vec<NamedLine>,
    /// Points drawn as such (DXF only), with their layers, mm.
    pub marks: Vec<(String, [f64; 2])>,
    /// Kinds of things that are not lines, and how many of each there are.
    pub not_measured: BTreeMap<String, usize>,
}

/// The lines of a DXF or SVG file, mm, y **up** in both.
///
/// # Errors
/// A file that is empty, too large, of neither kind, cut off or broken; one that does not say its units (DXF);
/// numbers that are not finite or beyond ±1e9; nests of uses. The message names the file and, where known, the line.
pub fn outlines(name: &str, bytes: &[u8]) -> Result<Vec<Line>> {
    Ok(upright(name, bytes)?.lines.into_iter().map(|named| named.line).collect())
}

/// All of a DXF or SVG file, mm, y **up** in both; a path that ends where it began is closed, whether it says so or not.
///
/// # Errors
/// As [`outlines`].
pub fn upright(name: &str, bytes: &[u8]) -> Result<Contents> {
    let mut contents = contents(name, bytes).map_err(|e| e.at(name))?;
    let up = if contents.format == "SVG" { -1.0 } else { 1.0 };
    for NamedLine { line, .. } in &mut contents.lines {
        line.closed = line.is_closed();
        for p in &mut line.points {
            p[1] *= up;
        }
    }
    Ok(contents)
}

/// All of a DXF or SVG file, mm, y as in the file.
///
/// # Errors
/// As [`outlines`], without the file's name.
pub fn contents(name: &str, bytes: &[u8]) -> Result<Contents> {
    if bytes.len() > LARGEST_FILE {
        return Err(Error::input(format!("the file has more than the {LARGEST_FILE} bytes allowed"))
            .remedy("take out pictures and what is not needed, or split it"));
    }
    let start = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes).trim_ascii_start();
    if start.is_empty() {
        return Err(Error::input("the file is empty"));
    }
    let ending = name.rsplit_once('.').map(|(_, ending)| ending.to_ascii_lowercase());
    if bytes.starts_with(b"AutoCAD Binary DXF") || bytes.contains(&0) {
        return Err(
            Error::input("this is a binary file").remedy("save it as an ASCII DXF or a plain SVG file")
        );
    }
    match (ending.as_deref(), start[0]) {
        (Some("svg"), _) | (_, b'<') => svg::read(bytes),
        (Some("dxf"), _) | (_, b'0'..=b'9') => dxf::read(bytes),
        _ => Err(Error::input("this is neither a DXF nor an SVG file")),
    }
}

impl Line {
    /// Whether it runs round something: it says so, or its ends lie within [`CLOSING_GAP`].
    pub fn is_closed(&self) -> bool {
        let (Some(a), Some(b)) = (self.points.first(), self.points.last()) else { return false };
        self.points.len() > 2 && (self.closed || (a[0] - b[0]).hypot(a[1] - b[1]) <= CLOSING_GAP)
    }

    /// Its length, mm.
    pub fn length(&self) -> f64 {
        let step = |a: &[f64; 2], b: &[f64; 2]| (b[0] - a[0]).hypot(b[1] - a[1]);
        let open: f64 = self.points.windows(2).map(|e| step(&e[0], &e[1])).sum();
        match (self.points.first(), self.points.last()) {
            (Some(first), Some(last)) if self.closed => open + step(last, first),
            _ => open,
        }
    }
}

/// Lines of a path that is in mm already. `left` is how many points the file may still have.
fn flatten(path: &BezPath, layer: &str, left: &mut usize) -> Result<Vec<Line>> {
    let allowed = format!("(allowed: finite, within ±{LARGEST_NUMBER:e})");
    if !path.is_finite() {
        return Err(Error::input(format!("a line on {layer:?} has a number without bounds {allowed}")));
    }
    // Before it is broken into chords: a curve without bounds has chords without end.
    let extent = path.control_box();
    for (x, y) in [(extent.x0, extent.y0), (extent.x1, extent.y1)] {
        if x.abs().max(y.abs()) > LARGEST_NUMBER {
            return Err(Error::input(format!("a line on {layer:?} has the point {:?} mm {allowed}", [x, y])));
        }
    }
    let mut lines: Vec<Line> = Vec::new();
    let count = Cell::new(0);
    kurbo::flatten(path.iter().take_while(|_| count.get() <= *left), TOLERANCE, |element| {
        count.set(count.get() + 1);
        match (element, lines.last_mut()) {
            (PathEl::MoveTo(p), _) => lines.push(Line { points: vec![[p.x, p.y]], closed: false }),
            (PathEl::LineTo(p), Some(line)) => line.points.push([p.x, p.y]),
            (PathEl::ClosePath, Some(line)) => line.closed = true,
            _ => {}
        }
    });
    if count.get() > *left {
        return Err(Error::input(format!("the lines of the file have more than {MOST_POINTS} points"))
            .remedy("simplify its curves, or split the file"));
    }
    *left -= count.get();
    lines.retain(|line| line.points.len() > 1);
    Ok(lines)
}

fn not_utf8(bytes: &[u8], at: usize) -> Error {
    let line = bytes[..at].iter().filter(|b| **b == b'\n').count() + 1;
    Error::input(format!("line {line} is not UTF-8 text")).remedy("save the file as UTF-8")
}

/// The beginning of a text, for messages.
fn short(text: &str) -> String {
    text.chars().take(20).collect()
}
