//! Tracings: each face as a bare outline at model size, for readers that take rubbings of a model.
//!
//! One SVG per face, in mm, y down, seen from outside with up at the top: a closed path with the id
//! `ELEMENT_FACE`, a line `edge_NUMBER` along each edge with the kit's number of it (the two faces of an edge have
//! it under one number), and a line `rib_1` along the crest nearest the face's middle where the face is clad.

use super::flat::{left_of, sides};
use super::piece::centroid;
use super::shape::{FlatFace, Shape};
use crate::error::Result;
use crate::export::OutFile;
use crate::export::svg::Escaped;
use crate::sculpture::Element;
use crate::work::FaceReport;
use std::fmt::Write as _;

/// White round the outline, mm.
const WHITE: f64 = 5.0;

/// An id for file names and SVG: letters and digits stay, all else becomes an underscore.
fn id_of(text: &str) -> String {
    text.chars().map(|c| if c.is_ascii_alphanumeric() || c == '-' { c } else { '_' }).collect()
}

/// The tracing of one face.
pub(super) fn tracing(shape: &Shape, flat: &FlatFace, report: Option<&FaceReport>, title: &str) -> OutFile {
    let id = id_of(&flat.id);
    let [lo, hi] = super::flat::bounds(flat.polygon.iter().copied()).unwrap_or_default();
    let [w, h] = [0, 1].map(|i| hi[i] - lo[i] + 2.0 * WHITE);
    let at = |p: [f64; 2]| [p[0] - lo[0] + WHITE, hi[1] - p[1] + WHITE];
    let mut text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w:.6}mm\" height=\"{h:.6}mm\" viewBox=\"0 0 {w:.6} {h:.6}\">\n\
         <title>{}</title>\n<g fill=\"none\" stroke=\"#000000\" stroke-width=\"0.25\">\n<path id=\"{id}\" d=\"",
        Escaped(&format!("{title}: {}, seen from outside, up is up", flat.id))
    );
    for (i, p) in flat.polygon.iter().enumerate() {
        let [x, y] = at(*p);
        let _ = write!(text, "{}{x:.6} {y:.6}", ["L", "M"][usize::from(i == 0)]);
    }
    text.push_str("Z\"/>\n");
    let mut line = |name: String, a: [f64; 2], b: [f64; 2]| {
        let ([x1, y1], [x2, y2]) = (at(a), at(b));
        let _ = writeln!(
            text,
            "<line id=\"{name}\" x1=\"{x1:.6}\" y1=\"{y1:.6}\" x2=\"{x2:.6}\" y2=\"{y2:.6}\"/>"
        );
    };
    for (side, edge) in flat.edges.iter().enumerate() {
        let [a, b] = flat.side(side);
        if let Some(edge) = edge {
            line(format!("edge_{}", shape.edges[*edge].number), a, b);
        }
    }
    if let Some([a, b]) = report.and_then(|report| crest(flat, report, shape.scale)) {
        line("rib_1".to_owned(), a, b);
    }
    text.push_str("</g>\n</svg>\n");
    OutFile { path: format!("tracings/{id}.svg"), bytes: text.into_bytes() }
}

/// The stretch on the face of the crest's centre line nearest its middle; none where no crest crosses it.
fn crest(flat: &FlatFace, report: &FaceReport, scale: f64) -> Option<[[f64; 2]; 2]> {
    if report.profile.is_flat() {
        return None;
    }
    let frame = &report.frame;
    let (pitch, middle) = (report.profile.pitch(), centroid(&flat.polygon));
    let from = (flat.place(middle, scale) - frame.origin).dot(&frame.v);
    let k = ((from - report.phase) / pitch).round();
    // The nearest crest may pass beside a face whose middle is not in its widest place.
    [0.0, 1.0, -1.0].into_iter().find_map(|more| {
        let t = report.phase + (k + more) * pitch;
        let a = flat.seen(&(frame.origin + frame.v * t), scale);
        let b = flat.seen(&(frame.origin + frame.v * t + frame.u * scale), scale);
        within(flat, a, b)
    })
}

/// The stretch of a line through two places that lies on the face.
fn within(flat: &FlatFace, a: [f64; 2], b: [f64; 2]) -> Option<[[f64; 2]; 2]> {
    let (mut enter, mut leave) = (f64::NEG_INFINITY, f64::INFINITY);
    for [p, q] in sides(&flat.polygon) {
        let (da, db) = (left_of(p, q, a), left_of(p, q, b));
        if da == db {
            if da < 0.0 {
                return None;
            }
            continue;
        }
        let s = da / (da - db);
        if db > da { enter = enter.max(s) } else { leave = leave.min(s) }
    }
    let at = |s: f64| [0, 1].map(|i| a[i] + (b[i] - a[i]) * s);
    (enter < leave && enter.is_finite() && leave.is_finite()).then(|| [at(enter), at(leave)])
}

/// All tracings of a work's elements.
///
/// # Errors
/// Two faces whose names differ in signs only, so that their files would be one.
pub(super) fn tracings(
    shapes: &[Shape],
    elements: &[Element],
    faces: &[FaceReport],
    title: &str,
) -> Result<Vec<OutFile>> {
    let mut files: Vec<OutFile> = Vec::new();
    for (shape, _) in shapes.iter().zip(elements) {
        for flat in &shape.faces {
            let report = faces.iter().find(|r| r.id == flat.id);
            let file = tracing(shape, flat, report, title);
            if files.iter().any(|f| f.path.to_lowercase() == file.path.to_lowercase()) {
                return Err(crate::error::Error::input(format!(
                    "would share {} with another face",
                    file.path
                ))
                .at(flat.id.clone())
                .remedy("give the elements or faces names that differ in letters or digits"));
            }
            files.push(file);
        }
    }
    Ok(files)
}
