//! Lines of a DXF file, through the `dxf` crate.

use super::{Contents, NamedLine, flatten, not_utf8, short};
use crate::error::{Error, Result};
use crate::settings::LARGEST_NUMBER;
use dxf::entities::{Entity, EntityType, LwPolyline, Polyline};
use dxf::{Point as DxfPoint, Vector};
use kurbo::{Affine, BezPath, Point};
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};

pub(super) fn read(bytes: &[u8]) -> Result<Contents> {
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
    let mut marks = Vec::new();
    let mut left = super::MOST_POINTS;
    let mut not_measured: BTreeMap<String, usize> = BTreeMap::new();
    for entity in drawing.entities() {
        let layer = &entity.common.layer;
        if let EntityType::ModelPoint(point) = &entity.specific {
            let at = [point.location.x * scale, point.location.y * scale];
            if at.iter().all(|x| x.abs() <= LARGEST_NUMBER) {
                marks.push((layer.clone(), at));
            }
        }
        let is_bounded = |x: &f64| x.abs() * scale <= LARGEST_NUMBER;
        if let Some((what, x)) = measures(entity).into_iter().find(|(_, x)| !is_bounded(x)) {
            return Err(Error::input(format!(
                "{what} on layer {layer:?} is {x:e} {units} (allowed: finite, within ±{LARGEST_NUMBER:e} mm)"
            )));
        }
        match entity_path(entity) {
            Ok(mut path) => {
                path.apply_affine(Affine::scale(scale));
                for line in flatten(&path, layer, &mut left)? {
                    lines.push(NamedLine { layer: layer.clone(), names: vec![layer.clone()], line });
                }
            }
            Err(kind) => *not_measured.entry(kind.to_owned()).or_default() += 1,
        }
    }
    Ok(Contents { format: "DXF", units: units.to_owned(), sized: true, lines, marks, not_measured })
}

/// What an entity's arcs are drawn by, each with the words for it: an arc without bounds has chords without end.
fn measures(entity: &Entity) -> Vec<(&'static str, f64)> {
    match &entity.specific {
        EntityType::Circle(c) => vec![("a circle's radius", c.radius)],
        EntityType::Arc(a) => vec![("an arc's radius", a.radius)],
        EntityType::Ellipse(e) => {
            let major = e.major_axis.x.hypot(e.major_axis.y);
            vec![("an ellipse's axis", major * e.minor_axis_ratio.abs().max(1.0))]
        }
        EntityType::LwPolyline(line) => bulged(&light_vertices(line)),
        EntityType::Polyline(line) => bulged(&vertices(line)),
        _ => Vec::new(),
    }
}

/// Vertices of a polyline, each with its bulge.
fn light_vertices(line: &LwPolyline) -> Vec<(Point, f64)> {
    line.vertices.iter().map(|v| (Point::new(v.x, v.y), v.bulge)).collect()
}

/// The same of one whose vertices are entities of their own.
fn vertices(line: &Polyline) -> Vec<(Point, f64)> {
    line.vertices().map(|v| (Point::new(v.location.x, v.location.y), v.bulge)).collect()
}

/// Coordinates of a polyline with a bulge, and radii of what turns further than half a circle: the others have no more
/// chords than a circle over their chord, however large their radius.
fn bulged(vertices: &[(Point, f64)]) -> Vec<(&'static str, f64)> {
    if vertices.iter().all(|(_, bulge)| *bulge == 0.0) {
        return Vec::new();
    }
    let coordinates = vertices.iter().flat_map(|(p, _)| [p.x, p.y]).map(|x| ("a polyline's coordinate", x));
    let next = vertices.iter().cycle().skip(1);
    let radii = vertices.iter().zip(next).filter(|((_, bulge), _)| bulge.is_nan() || bulge.abs() > 1.0).map(
        |((a, bulge), (b, _))| {
            ("an arc's radius", (*b - *a).hypot() * (1.0 / bulge.abs() + bulge.abs()) / 4.0)
        },
    );
    coordinates.chain(radii).collect()
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
            add_polyline(&mut path, &light_vertices(line), line.is_closed());
            &line.extrusion_direction
        }
        EntityType::Polyline(line) if line.flags & POLYLINE_IS_MESH == 0 => {
            add_polyline(&mut path, &vertices(line), line.flags & 1 == 1);
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

/// A bulge below this leaves its chord by less than a billionth of its length, and its radius has no bounds.
const STRAIGHT: f64 = 1.0e-9;

fn add_arc(path: &mut BezPath, center: Point, radii: (f64, f64), start: f64, end: f64, turn: f64) {
    // Both run counter-clockwise; an end that is not beyond the start lies one turn further.
    let full = std::f64::consts::TAU;
    let sweep = (end - start).rem_euclid(full);
    let sweep = if sweep == 0.0 { full } else { sweep };
    let arc = kurbo::Arc::new(center, radii, start, sweep, turn);
    path.extend(kurbo::Shape::path_elements(&arc, ARC_TOLERANCE));
}

/// A polyline whose bulge is the tangent of a quarter of the arc to the next vertex.
fn add_polyline(path: &mut BezPath, vertices: &[(Point, f64)], closed: bool) {
    let Some(&(first, _)) = vertices.first() else { return };
    path.move_to(first);
    let ends = vertices.iter().skip(1).chain(vertices.first().filter(|_| closed));
    for (&(a, bulge), &(b, _)) in vertices.iter().zip(ends) {
        if bulge.abs() < STRAIGHT || a == b {
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

#[cfg(test)]
mod tests {
    use super::*;

    /// A polyline of two vertices, the first with a bulge.
    fn bulged_to(far: &str, bulge: &str) -> Result<Contents> {
        let head = "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1015\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n";
        let line =
            format!("0\nLWPOLYLINE\n8\nCUT\n90\n2\n70\n0\n10\n0\n20\n0\n42\n{bulge}\n10\n{far}\n20\n0\n");
        read(format!("{head}{line}0\nENDSEC\n0\nEOF\n").as_bytes())
    }

    #[test]
    fn arcs_of_polylines_without_bounds_are_refused_before_they_are_broken_up() {
        for (far, bulge, what) in [
            ("1e300", "0.5", "a polyline's coordinate"),
            ("1e400", "0.5", "a polyline's coordinate"),
            ("100", "1e300", "an arc's radius"),
            ("100", "nan", "an arc's radius"),
        ] {
            let error = bulged_to(far, bulge).expect_err("far beyond what is allowed").to_string();
            assert!(error.contains(what) && error.contains("\"CUT\""), "{far}, {bulge}: {error}");
        }
    }

    #[test]
    fn flat_arcs_and_far_turned_ones_are_kept() {
        // Sagitta = bulge × chord / 2 (DXF reference, group 42): the radius of the flat one is 2.5e8 m.
        for (far, bulge) in [("1000", "1e-9"), ("1000", "0.5"), ("10", "-40")] {
            let contents = bulged_to(far, bulge).expect("a bounded arc");
            let chord: f64 = far.parse().expect("a number");
            let sagitta = bulge.parse::<f64>().expect("a number").abs() * chord / 2.0;
            let points = &contents.lines[0].line.points;
            let off = points.iter().map(|p| p[1].abs()).fold(0.0, f64::max);
            assert!(
                (off - sagitta).abs() < 2.0 * super::super::TOLERANCE,
                "{far}, {bulge}: {off} for {sagitta}"
            );
        }
    }
}
