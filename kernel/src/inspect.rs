//! Reading back: what a DXF or SVG file holds.
//!
//! Everything is reported in mm. DXF goes through the `dxf` crate, SVG through `usvg`, which resolves
//! units, transforms and shapes. Curves are broken into chords within [`TOLERANCE`].

use crate::drawing::signed_area;
use crate::error::{Error, Result};
use crate::settings::LARGEST_NUMBER;
use dxf::entities::{Entity, EntityType};
use dxf::{Point as DxfPoint, Vector};
use kurbo::{Affine, BezPath, PathEl, Point};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt;
use std::panic::{AssertUnwindSafe, catch_unwind};
use usvg::tiny_skia_path::PathSegment;

/// How far a chord may leave its curve, mm.
pub const TOLERANCE: f64 = 0.001;
/// A path whose ends lie this close together counts as closed, mm: finer than any cutting machine.
pub const CLOSING_GAP: f64 = 0.001;
/// Deepest nesting of elements read from an SVG; its reader works by recursion.
const DEEPEST: usize = 200;
/// Pixels of an SVG per inch (CSS Values and Units, absolute lengths).
const SVG_DPI: f64 = 96.0;

/// What a file holds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Report {
    /// The file's name.
    pub file: String,
    /// `DXF` or `SVG`.
    pub format: String,
    /// The unit the file is written in.
    pub units: String,
    /// Least and greatest x and y of all that was measured, mm, y as in the file; `None` if nothing was.
    pub extents_mm: Option<[[f64; 2]; 2]>,
    /// Layers of a DXF, groups with an id of an SVG; by name.
    pub layers: Vec<LayerReport>,
    /// Kinds of things that are not lines, and how many of each there are.
    pub not_measured: BTreeMap<String, usize>,
    /// How far the chords leave the curves, mm.
    pub tolerance_mm: f64,
}

/// What one layer or group holds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LayerReport {
    /// Its name; empty for what lies in no named group.
    pub name: String,
    /// Number of outlines and lines.
    pub outlines: usize,
    /// Those that close.
    pub closed: usize,
    /// Those that do not.
    pub open: usize,
    /// Length of them all, mm.
    pub length_mm: f64,
    /// Area within the closed ones, mm²; an outline within another is a hole, one within a hole is not.
    pub area_mm2: f64,
}

/// Reads a DXF or SVG file.
///
/// # Errors
/// A file that is empty, of neither kind, cut off or broken; one that does not say its units (DXF);
/// numbers that are not finite or beyond ±1e9. The message names the file and, where known, the line.
pub fn inspect(name: &str, bytes: &[u8]) -> Result<Report> {
    read(name, bytes).map_err(|e| e.at(name))
}

/// The lines of a DXF or SVG file, mm, y **up** in both.
///
/// # Errors
/// As [`inspect`].
pub fn outlines(name: &str, bytes: &[u8]) -> Result<Vec<Line>> {
    let contents = contents(name, bytes).map_err(|e| e.at(name))?;
    let up = if contents.format == "SVG" { -1.0 } else { 1.0 };
    let mut lines: Vec<Line> = contents.lines.into_iter().map(|(_, line)| line).collect();
    for line in &mut lines {
        // A path that ends where it began is closed, whether it says so or not.
        line.closed = line.is_closed();
        for p in &mut line.points {
            p[1] *= up;
            if !p.iter().all(|x| x.is_finite() && x.abs() <= LARGEST_NUMBER) {
                return Err(Error::input(format!(
                    "a line has the point {p:?} mm (allowed: finite, within ±{LARGEST_NUMBER:e})"
                ))
                .at(name));
            }
        }
    }
    Ok(lines)
}

fn read(name: &str, bytes: &[u8]) -> Result<Report> {
    contents(name, bytes)?.report(name)
}

fn contents(name: &str, bytes: &[u8]) -> Result<Contents> {
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
        (Some("svg"), _) | (_, b'<') => read_svg(bytes),
        (Some("dxf"), _) | (_, b'0'..=b'9') => read_dxf(bytes),
        _ => Err(Error::input("this is neither a DXF nor an SVG file")),
    }
}

/// The lines of a file, before they are measured.
struct Contents {
    format: &'static str,
    units: String,
    lines: Vec<(String, Line)>,
    not_measured: BTreeMap<String, usize>,
}

/// A polyline in mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Its points.
    pub points: Vec<[f64; 2]>,
    /// Whether the last joins the first.
    pub closed: bool,
}

impl Contents {
    fn report(self, file: &str) -> Result<Report> {
        let mut layers: BTreeMap<&str, Vec<&Line>> = BTreeMap::new();
        let mut extents: Option<[[f64; 2]; 2]> = None;
        for (layer, line) in &self.lines {
            for p in &line.points {
                if !p.iter().all(|x| x.is_finite() && x.abs() <= LARGEST_NUMBER) {
                    return Err(Error::input(format!(
                        "a line on {layer:?} has the point {p:?} mm (allowed: finite, within ±{LARGEST_NUMBER:e})"
                    )));
                }
                let [lo, hi] = extents.unwrap_or([*p, *p]);
                extents = Some([[lo[0].min(p[0]), lo[1].min(p[1])], [hi[0].max(p[0]), hi[1].max(p[1])]]);
            }
            layers.entry(layer).or_default().push(line);
        }
        Ok(Report {
            file: file.to_owned(),
            format: self.format.to_owned(),
            units: self.units,
            extents_mm: extents,
            layers: layers.into_iter().map(|(name, lines)| measure(name, &lines)).collect(),
            not_measured: self.not_measured,
            tolerance_mm: TOLERANCE,
        })
    }
}

fn measure(name: &str, lines: &[&Line]) -> LayerReport {
    let closed: Vec<&[[f64; 2]]> =
        lines.iter().filter(|l| l.is_closed()).map(|l| l.points.as_slice()).collect();
    let boxes: Vec<[[f64; 2]; 2]> = closed
        .iter()
        .map(|points| {
            points.iter().fold([[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]], |[lo, hi], p| {
                [[lo[0].min(p[0]), lo[1].min(p[1])], [hi[0].max(p[0]), hi[1].max(p[1])]]
            })
        })
        .collect();
    let area = closed.iter().enumerate().map(|(i, points)| {
        let p = points[0];
        let around = closed.iter().enumerate().filter(|(j, other)| {
            let [lo, hi] = boxes[*j];
            *j != i && (0..2).all(|k| lo[k] <= p[k] && p[k] <= hi[k]) && winds_round(other, p)
        });
        signed_area(points).abs() * if around.count() % 2 == 0 { 1.0 } else { -1.0 }
    });
    LayerReport {
        name: name.to_owned(),
        outlines: lines.len(),
        closed: closed.len(),
        open: lines.len() - closed.len(),
        length_mm: lines.iter().map(|l| l.length()).sum(),
        area_mm2: area.fold(0.0, |sum, a| sum + a),
    }
}

/// Whether a point lies within a polygon, by counting crossings of the ray to +x.
fn winds_round(polygon: &[[f64; 2]], p: [f64; 2]) -> bool {
    let crosses = |a: [f64; 2], b: [f64; 2]| {
        (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
    };
    let next = polygon.iter().cycle().skip(1);
    polygon.iter().zip(next).filter(|(a, b)| crosses(**a, **b)).count() % 2 == 1
}

impl Line {
    fn is_closed(&self) -> bool {
        let (Some(a), Some(b)) = (self.points.first(), self.points.last()) else { return false };
        self.points.len() > 2 && (self.closed || (a[0] - b[0]).hypot(a[1] - b[1]) <= CLOSING_GAP)
    }

    fn length(&self) -> f64 {
        let step = |a: &[f64; 2], b: &[f64; 2]| (b[0] - a[0]).hypot(b[1] - a[1]);
        let open: f64 = self.points.windows(2).map(|e| step(&e[0], &e[1])).sum();
        match (self.points.first(), self.points.last()) {
            (Some(first), Some(last)) if self.closed => open + step(last, first),
            _ => open,
        }
    }
}

/// Lines of a path; the path is in mm already.
fn flatten(path: &BezPath) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    kurbo::flatten(path, TOLERANCE, |element| match (element, lines.last_mut()) {
        (PathEl::MoveTo(p), _) => lines.push(Line { points: vec![[p.x, p.y]], closed: false }),
        (PathEl::LineTo(p), Some(line)) => line.points.push([p.x, p.y]),
        (PathEl::ClosePath, Some(line)) => line.closed = true,
        _ => {}
    });
    lines.retain(|line| line.points.len() > 1);
    lines
}

fn read_dxf(bytes: &[u8]) -> Result<Contents> {
    let text = decode_dxf(bytes)?;
    let (clean, unit) = scan_dxf(&text)?;
    // The crate panics on some broken values (dates and handles out of range, seen in 0.6); a broken
    // file must not end the program, and nothing of ours is left half done behind this boundary.
    let loaded = catch_unwind(AssertUnwindSafe(|| dxf::Drawing::load(&mut clean.as_bytes())));
    let drawing = loaded
        .map_err(|_| Error::input("the DXF file is broken: a value is far out of range"))?
        .map_err(|e| Error::input(format!("the DXF file is broken: {e}")))?;
    let (units, scale) = unit;
    let mut lines = Vec::new();
    let mut not_measured: BTreeMap<String, usize> = BTreeMap::new();
    for entity in drawing.entities() {
        match entity_path(entity) {
            Ok(path) => {
                let mut path = path;
                path.apply_affine(Affine::scale(scale));
                if !path.is_finite() {
                    let layer = &entity.common.layer;
                    return Err(Error::input(format!(
                        "a line on layer {layer:?} has a number without bounds"
                    )));
                }
                let layer = entity.common.layer.clone();
                lines.extend(flatten(&path).into_iter().map(|line| (layer.clone(), line)));
            }
            Err(kind) => *not_measured.entry(kind.to_owned()).or_default() += 1,
        }
    }
    Ok(Contents { format: "DXF", units: units.to_owned(), lines, not_measured })
}

/// The text of a DXF file: UTF-8, or the code page of western Europe where the file names it.
fn decode_dxf(bytes: &[u8]) -> Result<String> {
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(text.trim_start_matches('\u{feff}').to_owned()),
        Err(_) if bytes.windows(9).any(|w| w.eq_ignore_ascii_case(b"ANSI_1252")) => {
            // Latin-1 shares all letters of that page.
            Ok(bytes.iter().copied().map(char::from).collect())
        }
        Err(error) => Err(not_utf8(bytes, error.valid_up_to())),
    }
}

fn not_utf8(bytes: &[u8], at: usize) -> Error {
    let line = bytes[..at].iter().filter(|b| **b == b'\n').count() + 1;
    Error::input(format!("line {line} is not UTF-8 text")).remedy("save the file as UTF-8")
}

/// Group codes of the header's unit variable and what its values mean (DXF reference, `$INSUNITS`).
const DXF_UNITS: [(i64, &str, f64); 12] = [
    (1, "inches", 25.4),
    (2, "feet", 304.8),
    (4, "mm", 1.0),
    (5, "cm", 10.0),
    (6, "m", 1000.0),
    (7, "km", 1.0e6),
    (8, "microinches", 25.4e-6),
    (9, "mils", 0.0254),
    (10, "yards", 914.4),
    (12, "nm", 1.0e-6),
    (13, "µm", 1.0e-3),
    (14, "dm", 100.0),
];

/// Checks the pairs of a DXF file and returns its text, ready for the crate, and its unit in mm.
///
/// Letters outside ASCII become escapes, which the crate reads, and dates become zero, as it panics on
/// broken ones. No line is added or taken out, so that line numbers stay true.
fn scan_dxf(text: &str) -> Result<(String, (&'static str, f64))> {
    let text = text.trim_end();
    let mut clean = String::with_capacity(text.len() + 2);
    let (mut variable, mut unit, mut last) = ("", None, ("", ""));
    let mut lines = text.lines().enumerate();
    while let Some((i, code)) = lines.next() {
        let code = code.trim();
        if code.parse::<u16>().is_err() {
            return Err(Error::input(format!(
                "line {} should be a group code but is {:?}",
                i + 1,
                short(code)
            )));
        }
        let Some((_, value)) = lines.next() else { break };
        let value = value.trim_end_matches('\r');
        last = (code, value.trim());
        match code {
            "0" | "9" => variable = if code == "9" { last.1 } else { "" },
            "70" if variable == "$INSUNITS" => unit = Some((i + 2, last.1)),
            _ => {}
        }
        // The crate ends the list of entities without a word where it meets a broken number.
        if is_number(code) && last.1.parse::<f64>().is_err() {
            let found = short(last.1);
            return Err(Error::input(format!("line {} should be a number but is {found:?}", i + 2)));
        }
        // The crate negates such numbers and counts on from such handles, which overflows.
        let too_small = is_short(code) && last.1.parse().is_ok_and(|x: f64| x <= f64::from(i16::MIN));
        let handle = (code == "5" || code == "105").then(|| u64::from_str_radix(last.1, 16));
        if too_small || matches!(handle, Some(Ok(u64::MAX))) {
            return Err(Error::input(format!(
                "line {} holds {}, which is out of range",
                i + 2,
                short(last.1)
            )));
        }
        clean.push_str(code);
        clean.push('\n');
        if code == "40" && variable.starts_with("$TD") {
            clean.push('0');
        } else {
            for c in value.chars() {
                if c.is_ascii() {
                    clean.push(c);
                } else {
                    clean.push_str(&format!("\\U+{:04X}", u32::from(c)));
                }
            }
        }
        clean.push('\n');
    }
    if last != ("0", "EOF") {
        let count = text.lines().count();
        return Err(Error::input(format!(
            "the DXF file is cut off after line {count}: its end mark is missing"
        )));
    }
    let remedy = "set the drawing's units to millimetres ($INSUNITS = 4) and save it again";
    let Some((line, value)) = unit.filter(|(_, value)| *value != "0") else {
        return Err(Error::input("the DXF file does not say its units").remedy(remedy));
    };
    match DXF_UNITS.into_iter().find(|(code, ..)| value.parse() == Ok(*code)) {
        Some((_, name, mm)) => Ok((clean, (name, mm))),
        None => {
            Err(Error::input(format!("line {line} gives the unit {:?}, which is not known", short(value)))
                .remedy(remedy))
        }
    }
}

/// Whether the value behind a group code is a number (DXF reference, group code value types).
fn is_number(code: &str) -> bool {
    matches!(
        code.parse(),
        Ok(10..=99 | 110..=179 | 210..=289 | 370..=389 | 400..=409 | 420..=429 | 440..=459)
    )
}

/// Whether the value behind a group code is a whole number of 16 bits.
fn is_short(code: &str) -> bool {
    matches!(code.parse(), Ok(60..=79 | 170..=179 | 270..=289 | 370..=389 | 400..=409))
}

/// The beginning of a text, for messages.
fn short(text: &str) -> String {
    text.chars().take(20).collect()
}

/// The path of an entity in the file's units, or the name of its kind if it is not a plane line.
fn entity_path(entity: &Entity) -> Result<BezPath, &'static str> {
    if entity.common.is_in_paper_space {
        return Err("in paper space");
    }
    let at = |p: &DxfPoint| Point::new(p.x, p.y);
    let mut path = BezPath::new();
    // The normal of things that lie in a plane of their own: up, or down when they were mirrored.
    let normal = match &entity.specific {
        EntityType::Line(line) => {
            path.move_to(at(&line.p1));
            path.line_to(at(&line.p2));
            return Ok(path);
        }
        EntityType::Ellipse(e) => {
            let major = kurbo::Vec2::new(e.major_axis.x, e.major_axis.y);
            let radii = (major.hypot(), major.hypot() * e.minor_axis_ratio);
            let (start, end) = (e.start_parameter, e.end_parameter);
            add_arc(&mut path, at(&e.center), radii, start, end, major.atan2());
            &e.normal
        }
        EntityType::LwPolyline(line) => {
            let vertices = line.vertices.iter().map(|v| (Point::new(v.x, v.y), v.bulge));
            add_polyline(&mut path, vertices, line.is_closed());
            &line.extrusion_direction
        }
        EntityType::Polyline(line) if line.flags & POLYLINE_IS_MESH == 0 => {
            let vertices = line.vertices().map(|v| (at(&v.location), v.bulge));
            add_polyline(&mut path, vertices, line.flags & 1 == 1);
            &line.normal
        }
        EntityType::Circle(c) => {
            path = kurbo::Shape::to_path(&kurbo::Circle::new(at(&c.center), c.radius), ARC_TOLERANCE);
            &c.normal
        }
        EntityType::Arc(arc) => {
            let (start, end) = (arc.start_angle.to_radians(), arc.end_angle.to_radians());
            add_arc(&mut path, at(&arc.center), (arc.radius, arc.radius), start, end, 0.0);
            &arc.normal
        }
        EntityType::Text(_) | EntityType::MText(_) => return Err("TEXT"),
        EntityType::Insert(_) => return Err("INSERT"),
        EntityType::Spline(_) => return Err("SPLINE"),
        EntityType::Polyline(_) => return Err("POLYLINE mesh"),
        EntityType::ModelPoint(_) => return Err("POINT"),
        EntityType::RotatedDimension(_) | EntityType::RadialDimension(_) => return Err("DIMENSION"),
        EntityType::Face3D(_) => return Err("3DFACE"),
        EntityType::Solid(_) => return Err("SOLID"),
        _ => return Err("other"),
    };
    let is = |z: f64| *normal == Vector::new(0.0, 0.0, z);
    if is(-1.0) && !matches!(entity.specific, EntityType::Ellipse(_)) {
        path.apply_affine(Affine::FLIP_X);
    } else if !is(1.0) && !is(-1.0) {
        return Err("in a tilted plane");
    }
    Ok(path)
}

/// Flags of a POLYLINE that is a mesh in space (DXF reference, group 70: 16 and 64).
const POLYLINE_IS_MESH: i32 = 16 | 64;
/// Arcs become cubic curves this close to them before they become chords: in units of the file, so small
/// that it is well below [`TOLERANCE`] even where the unit is a metre.
const ARC_TOLERANCE: f64 = 1.0e-7;

fn add_arc(path: &mut BezPath, center: Point, radii: (f64, f64), start: f64, end: f64, turn: f64) {
    // Both run counter-clockwise; an end that is not beyond the start lies one turn further.
    let full = std::f64::consts::TAU;
    let sweep = (end - start).rem_euclid(full);
    let sweep = if sweep == 0.0 { full } else { sweep };
    let arc = kurbo::Arc::new(center, radii, start, sweep, turn);
    path.extend(kurbo::Shape::path_elements(&arc, ARC_TOLERANCE));
}

/// A polyline whose bulge is the tangent of a quarter of the arc to the next vertex.
fn add_polyline(path: &mut BezPath, vertices: impl Iterator<Item = (Point, f64)>, closed: bool) {
    let vertices: Vec<_> = vertices.collect();
    let Some(&(first, _)) = vertices.first() else { return };
    path.move_to(first);
    let ends = vertices.iter().skip(1).chain(vertices.first().filter(|_| closed));
    for (&(a, bulge), &(b, _)) in vertices.iter().zip(ends) {
        if bulge == 0.0 || a == b {
            path.line_to(b);
            continue;
        }
        let sweep = 4.0 * bulge.atan();
        let chord = b - a;
        let center = a.midpoint(b) + chord.turn_90() / (2.0 * (sweep / 2.0).tan());
        let radius = (a - center).hypot();
        let arc = kurbo::Arc::new(center, (radius, radius), (a - center).atan2(), sweep, 0.0);
        path.extend(arc.append_iter(ARC_TOLERANCE));
    }
    if closed {
        path.close_path();
    }
}

fn read_svg(bytes: &[u8]) -> Result<Contents> {
    let text = std::str::from_utf8(bytes).map_err(|e| not_utf8(bytes, e.valid_up_to()))?;
    let text = text.trim_start_matches('\u{feff}');
    let deepest = nesting(text);
    if deepest > DEEPEST {
        return Err(Error::input(format!("elements are nested {deepest} deep (allowed: {DEEPEST})")));
    }
    let document = usvg::roxmltree::Document::parse(text)
        .map_err(|e| Error::input(format!("the SVG file is broken: {e}")))?;
    let root = document.root_element();
    if root.tag_name().name() != "svg" {
        return Err(Error::input(format!("the file holds <{}>, not <svg>", short(root.tag_name().name()))));
    }
    let width = root.attribute("width").unwrap_or("100%").trim();
    let unit = width.trim_start_matches(|c: char| c.is_ascii_digit() || ".+-".contains(c)).to_owned();
    let units = match unit.as_str() {
        "" | "px" | "%" => "px (1/96 inch)".to_owned(),
        unit => short(unit),
    };
    // Guarded like the reader of DXF: a broken file must not end the program.
    let options = usvg::Options { dpi: SVG_DPI as f32, ..usvg::Options::default() };
    let loaded = catch_unwind(AssertUnwindSafe(|| usvg::Tree::from_xmltree(&document, &options)));
    let tree = loaded
        .map_err(|_| Error::input("the SVG file is broken: a value is far out of range"))?
        .map_err(|e| Error::input(format!("the SVG file is broken: {e}")))?;
    let mut contents = Contents { format: "SVG", units, lines: Vec::new(), not_measured: BTreeMap::new() };
    read_group(tree.root(), "", &mut contents)?;
    Ok(contents)
}

/// How deep elements are nested, roughly: start tags less end tags, before anything is parsed.
fn nesting(text: &str) -> usize {
    let (mut depth, mut deepest) = (0_usize, 0);
    for piece in text.split('<').skip(1) {
        let tag = piece.split('>').next().unwrap_or_default();
        if tag.starts_with('/') {
            depth = depth.saturating_sub(1);
        } else if !tag.starts_with(['?', '!']) && !tag.ends_with('/') {
            depth += 1;
            deepest = deepest.max(depth);
        }
    }
    deepest
}

fn read_group(group: &usvg::Group, name: &str, contents: &mut Contents) -> Result<()> {
    for node in group.children() {
        match node {
            usvg::Node::Group(inner) => {
                let id = if inner.id().is_empty() { name } else { inner.id() };
                read_group(inner, id, contents)?;
            }
            usvg::Node::Path(path) => {
                let mut lines = BezPath::new();
                let at = |p: usvg::tiny_skia_path::Point| Point::new(f64::from(p.x), f64::from(p.y));
                for segment in path.data().segments() {
                    match segment {
                        PathSegment::MoveTo(p) => lines.move_to(at(p)),
                        PathSegment::LineTo(p) => lines.line_to(at(p)),
                        PathSegment::QuadTo(c, p) => lines.quad_to(at(c), at(p)),
                        PathSegment::CubicTo(c, d, p) => lines.curve_to(at(c), at(d), at(p)),
                        PathSegment::Close => lines.close_path(),
                    }
                }
                let t = path.abs_transform();
                let to_px = [t.sx, t.ky, t.kx, t.sy, t.tx, t.ty].map(f64::from);
                lines.apply_affine(Affine::scale(25.4 / SVG_DPI) * Affine::new(to_px));
                if !lines.is_finite() {
                    return Err(Error::input(format!("a path in {name:?} has a number without bounds")));
                }
                contents.lines.extend(flatten(&lines).into_iter().map(|line| (name.to_owned(), line)));
            }
            usvg::Node::Image(_) => *contents.not_measured.entry("image".to_owned()).or_default() += 1,
            usvg::Node::Text(_) => *contents.not_measured.entry("text".to_owned()).or_default() += 1,
        }
    }
    Ok(())
}

impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}, units {}", self.file, self.format, self.units)?;
        match self.extents_mm {
            Some([lo, hi]) => writeln!(
                f,
                ", {:.2} × {:.2} mm, from ({:.2}, {:.2}) to ({:.2}, {:.2})",
                hi[0] - lo[0],
                hi[1] - lo[1],
                lo[0],
                lo[1],
                hi[0],
                hi[1]
            )?,
            None => writeln!(f, ", no lines")?,
        }
        let name = |layer: &LayerReport| match layer.name.as_str() {
            "" => "(none)".to_owned(),
            name => name.to_owned(),
        };
        let wide = self.layers.iter().map(|l| name(l).chars().count()).max().unwrap_or(0).max(5);
        if !self.layers.is_empty() {
            writeln!(
                f,
                "{:wide$}  {:>8}  {:>8}  {:>8}  {:>14}  {:>16}",
                "layer", "outlines", "closed", "open", "length mm", "area mm²"
            )?;
        }
        for layer in &self.layers {
            writeln!(
                f,
                "{:wide$}  {:>8}  {:>8}  {:>8}  {:>14.3}  {:>16.3}",
                name(layer),
                layer.outlines,
                layer.closed,
                layer.open,
                layer.length_mm,
                layer.area_mm2
            )?;
        }
        for (kind, count) in &self.not_measured {
            writeln!(f, "not measured: {count} {kind}")?;
        }
        write!(f, "curves measured as chords within {} mm", self.tolerance_mm)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::dxf::drawing_to_dxf;
    use crate::export::dxf::tests::sample;
    use crate::export::svg::{Fit, drawing_to_svg};

    /// A DXF of one entity, in the unit with this code.
    fn dxf_of(unit: u8, entity: &str) -> Vec<u8> {
        let pairs = format!(
            "0 SECTION 2 HEADER 9 $ACADVER 1 AC1015 9 $INSUNITS 70 {unit} 0 ENDSEC 0 SECTION 2 ENTITIES \
             {entity} 0 ENDSEC 0 EOF"
        );
        pairs.split_whitespace().flat_map(|word| format!("{word}\n").into_bytes()).collect()
    }

    #[track_caller]
    fn only_layer(name: &str, bytes: &[u8]) -> LayerReport {
        let report = inspect(name, bytes).expect("readable");
        assert_eq!(report.layers.len(), 1, "{report}");
        report.layers[0].clone()
    }

    #[track_caller]
    fn near(found: f64, wanted: f64, relative: f64) {
        assert!((found - wanted).abs() <= relative * wanted.abs(), "{found} is not {wanted}");
    }

    #[test]
    fn our_dxf_is_read_back_exactly() {
        let drawing = sample();
        let report = inspect("A_east.dxf", &drawing_to_dxf(&drawing).expect("written")).expect("readable");
        let cut = report.layers.iter().find(|l| l.name == "CUT").expect("a cut layer");
        assert_eq!((cut.outlines, cut.closed, cut.open), (2, 2, 0), "{report}");
        let wanted: f64 = drawing.on(crate::drawing::Layer::Cut).map(|p| signed_area(&p.points)).sum();
        near(cut.area_mm2, wanted, 1.0e-9);
        near(cut.length_mm, drawing.on(crate::drawing::Layer::Cut).map(|p| p.length()).sum(), 1.0e-9);
        let bends = report.layers.iter().find(|l| l.name == "BEND-UP").expect("a bend layer");
        assert_eq!((bends.outlines, bends.open, bends.area_mm2), (2, 2, 0.0), "{report}");
        assert_eq!(report.extents_mm, Some([[0.0, 0.0], [600.0, 420.0]]), "{report}");
    }

    #[test]
    fn our_svg_is_read_back_within_the_rounding_of_its_reader() {
        let drawing = sample();
        let text = drawing_to_svg(&drawing, Fit::TrueSize).expect("written");
        let report = inspect("A_east.svg", text.as_bytes()).expect("readable");
        assert_eq!(report.units, "mm");
        let cut = report.layers.iter().find(|l| l.name == "CUT").expect("a cut group");
        assert_eq!((cut.outlines, cut.closed, cut.open), (2, 2, 0), "{report}");
        let wanted: f64 = drawing.on(crate::drawing::Layer::Cut).map(|p| signed_area(&p.points)).sum();
        // The reader holds single precision: 2000 pixels to 1.2e-4 of one.
        near(cut.area_mm2, wanted, 1.0e-6);
    }

    /// Closed forms: circle π·r², half circle by a bulge of 1, ellipse π·a·b.
    #[test]
    fn curves_measure_as_their_closed_forms() {
        use std::f64::consts::PI;
        // Chords with sagitta s take 4/3·s/r off the area of a circle; r is 100 mm or more, 50 in places
        // of the ellipse.
        const CHORDS: f64 = 4.0 / 3.0 * TOLERANCE / 50.0;
        let circle = only_layer("c.dxf", &dxf_of(4, "0 CIRCLE 8 X 10 500 20 -70 30 0 40 100"));
        assert_eq!((circle.closed, circle.open), (1, 0));
        near(circle.area_mm2, PI * 1.0e4, CHORDS);
        near(circle.length_mm, PI * 200.0, CHORDS);
        let half = "0 LWPOLYLINE 8 X 90 2 70 1 10 0 20 0 42 1 10 200 20 0";
        let half = only_layer("b.dxf", &dxf_of(4, half));
        near(half.area_mm2, PI * 1.0e4 / 2.0, CHORDS);
        near(half.length_mm, PI * 100.0 + 200.0, CHORDS);
        let arc = only_layer("a.dxf", &dxf_of(4, "0 ARC 8 X 10 0 20 0 40 100 50 350 51 10"));
        assert_eq!((arc.closed, arc.open), (0, 1));
        near(arc.length_mm, PI * 100.0 / 9.0, CHORDS);
        let inches = only_layer("i.dxf", &dxf_of(1, "0 CIRCLE 8 X 10 0 20 0 40 10"));
        near(inches.area_mm2, PI * 254.0 * 254.0, CHORDS);
        let ellipse = "0 ELLIPSE 8 X 10 0 20 0 11 0 21 200 40 0.5 41 0 42 6.283185307179586";
        near(only_layer("e.dxf", &dxf_of(4, ellipse)).area_mm2, PI * 2.0e4, CHORDS);
    }

    #[test]
    fn svg_units_transforms_and_holes_are_honoured() {
        let svg = r#"<svg xmlns="http://www.w3.org/2000/svg" width="10in" height="10in" viewBox="0 0 100 100">
            <g id="plates" transform="translate(10 10) scale(2)" stroke="black" fill="none">
            <rect x="0" y="0" width="20" height="10"/><path d="M2 2h4v4h-4z"/><path d="M0 12h20"/></g></svg>"#;
        let layer = only_layer("x.svg", svg.as_bytes());
        assert_eq!((layer.name.as_str(), layer.closed, layer.open), ("plates", 2, 1));
        // 100 units are 10 inches, and the group doubles: one unit of the shapes is 5.08 mm.
        near(layer.area_mm2, (200.0 - 16.0) * 5.08 * 5.08, 1.0e-6);
        near(layer.length_mm, (60.0 + 16.0 + 20.0) * 5.08, 1.0e-6);
    }

    #[test]
    fn broken_files_get_an_error_that_names_file_and_line() {
        let good = String::from_utf8(dxf_of(4, "0 LINE 8 X 10 0 20 0 11 1 21 1")).expect("text");
        let deep = format!("<svg xmlns=\"http://www.w3.org/2000/svg\">{}", "<g>".repeat(100_000));
        for (name, bytes, part) in [
            ("a.dxf", b"  \n".to_vec(), "is empty"),
            ("a.dxf", b"AutoCAD Binary DXF\r\n\x1a\0".to_vec(), "binary"),
            ("a.svg", b"\x1f\x8b\0\0".to_vec(), "binary"),
            ("a.dxf", b"hello\nthere\n".to_vec(), "line 1 should be a group code"),
            ("a.txt", b"hello\nthere\n".to_vec(), "neither"),
            ("a.dxf", good.replace("EOF", "ENDSEC").into_bytes(), "cut off"),
            ("a.dxf", good.as_bytes()[..good.len() / 2].to_vec(), "cut off"),
            ("a.dxf", good.replace("70\n4", "70\n0").into_bytes(), "does not say its units"),
            ("a.dxf", good.replace("70\n4", "70\n77").into_bytes(), "line 12 gives the unit \"77\""),
            (
                "a.dxf",
                good.replace("11\n1\n", "11\none\n").into_bytes(),
                "line 28 should be a number but is \"one\"",
            ),
            ("a.dxf", good.replace("11\n1\n", "11\n1e300\n").into_bytes(), "allowed: finite"),
            ("a.dxf", good.replace("11\n1\n", "11\nNaN\n").into_bytes(), "without bounds"),
            ("a.dxf", good.replace("X", "\u{e4}").chars().map(|c| c as u8).collect(), "line 22 is not UTF-8"),
            ("a.svg", b"<svg xmlns=\"http://www.w3.org/2000/svg\"><g>\n</svg>".to_vec(), "2:"),
            ("a.svg", b"<svg>\xff</svg>".to_vec(), "line 1 is not UTF-8"),
            ("a.svg", b"<html></html>".to_vec(), "not <svg>"),
            ("a.svg", deep.into_bytes(), "nested 100001 deep"),
        ] {
            let error = inspect(name, &bytes).expect_err(part).to_string();
            assert!(error.starts_with(name) && error.contains(part), "{error:?} does not say {part:?}");
        }
    }

    #[test]
    fn older_code_pages_are_read_where_the_file_names_them() {
        let text = String::from_utf8(dxf_of(4, "0 LINE 8 Au\u{df}en 10 0 20 0 11 1 21 1")).expect("text");
        let latin: Vec<u8> = text
            .replace("9\n$INS", "9\n$DWGCODEPAGE\n3\nANSI_1252\n9\n$INS")
            .chars()
            .map(|c| c as u8)
            .collect();
        assert_eq!(only_layer("a.dxf", &latin).name, "Außen");
        assert_eq!(only_layer("a.dxf", text.as_bytes()).name, "Außen", "UTF-8");
    }

    /// Any answer will do, as long as there is one.
    #[test]
    fn cut_off_and_flipped_files_never_end_the_program() {
        let drawing = sample();
        let dxf = drawing_to_dxf(&drawing).expect("written");
        let svg = drawing_to_svg(&drawing, Fit::TrueSize).expect("written").into_bytes();
        for (name, good) in [("a.dxf", dxf), ("a.svg", svg)] {
            for end in (0..good.len() - 8).step_by(97) {
                assert!(inspect(name, &good[..end]).is_err(), "{name} cut off at {end} was taken for whole");
            }
            for i in (0..good.len()).step_by(61) {
                let mut broken = good.clone();
                broken[i] ^= [0x01, 0x04, 0x10, 0x40][i % 4];
                let _ = inspect(name, &broken);
            }
        }
    }

    #[test]
    fn the_table_lines_up_and_the_report_is_data_too() {
        let report = inspect("a.dxf", &drawing_to_dxf(&sample()).expect("written")).expect("readable");
        let text = report.to_string();
        let widths: Vec<usize> = text.lines().skip(1).take(6).map(|l| l.chars().count()).collect();
        assert!(widths.iter().all(|w| *w == widths[0]), "{text}");
        let data = serde_json::to_value(&report).expect("data");
        assert_eq!(data["layers"][2]["name"], "CUT", "{data}");
    }
}
