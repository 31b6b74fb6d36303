//! Reading back: what a DXF or SVG file holds.
//!
//! Everything is reported in mm; see [`crate::lines`] for how it is read.

use crate::drawing::signed_area;
use crate::error::Result;
use crate::lines::{Contents, Line, TOLERANCE, contents};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt;

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
    Ok(report(name, contents(name, bytes).map_err(|e| e.at(name))?))
}

fn report(file: &str, contents: Contents) -> Report {
    let mut layers: BTreeMap<&str, Vec<&Line>> = BTreeMap::new();
    let mut extents: Option<[[f64; 2]; 2]> = None;
    for named in &contents.lines {
        for p in &named.line.points {
            let [lo, hi] = extents.unwrap_or([*p, *p]);
            extents = Some([[lo[0].min(p[0]), lo[1].min(p[1])], [hi[0].max(p[0]), hi[1].max(p[1])]]);
        }
        layers.entry(&named.layer).or_default().push(&named.line);
    }
    Report {
        file: file.to_owned(),
        format: contents.format.to_owned(),
        units: contents.units,
        extents_mm: extents,
        layers: layers.into_iter().map(|(name, lines)| measure(name, &lines)).collect(),
        not_measured: contents.not_measured,
        tolerance_mm: TOLERANCE,
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
