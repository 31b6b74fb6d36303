//! The first sheets of a kit: contents and how to build it, and the footprint.

use super::flat::{bounds, unit};
use super::label::{Field, Sign, line_of};
use super::pages::{Page, window};
use super::piece::{Piece, centroid};
use super::stand::Footprint;
use crate::drawing::{Drawing, Layer, Path};

/// What the contents say about the kit.
pub(super) struct About<'a> {
    pub(super) name: &'a str,
    pub(super) scale: &'a str,
    /// Width, depth and height of the model, mm.
    pub(super) size: [f64; 3],
    pub(super) paper: &'a str,
    pub(super) ribs: bool,
    pub(super) overlap: f64,
}

/// Height of a line of the list and of its writing, mm.
const LINE: f64 = 5.6;
const TEXT: f64 = 3.0;

/// The contents: how to read the pages, and what each holds. `rest` are the pages that follow, without numbers.
pub(super) fn contents(about: &About<'_>, rest: &[Page], paper: [f64; 2]) -> Vec<Page> {
    let [low, high] = window(paper);
    let wide = high[0] - low[0];
    let head = head(about, rest, [low, high]);
    let bottom = crate::lettering::extents(&head).map_or(high[1], |[lo, _]| lo[1]) - 8.0;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a page holds few lines")]
    let lines = |top: f64| ((top - low[1]) / LINE).floor().max(1.0) as usize;
    let wrapped = |first: usize| -> Vec<(String, String)> {
        let mut all = Vec::new();
        for (i, page) in rest.iter().enumerate() {
            let mut text = String::new();
            let mut number = format!("{}", first + i + 1);
            for part in &page.holds {
                let longer = if text.is_empty() { part.clone() } else { format!("{text},  {part}") };
                if crate::lettering::width(&longer, TEXT) > wide - INDENT && !text.is_empty() {
                    all.push((std::mem::take(&mut number), std::mem::replace(&mut text, part.clone())));
                } else {
                    text = longer;
                }
            }
            all.push((number, text));
        }
        all
    };
    let count = wrapped(0).len();
    let (on_first, on_next) = (lines(bottom), lines(high[1]));
    let sheets = 1 + count.saturating_sub(on_first).div_ceil(on_next);
    let list = wrapped(sheets);
    let mut pages = Vec::new();
    let mut at = 0;
    for sheet in 0..sheets {
        let mut drawing = if sheet == 0 { head.clone() } else { Drawing::default() };
        let (mut y, room) = if sheet == 0 { (bottom, on_first) } else { (high[1], on_next) };
        for (number, text) in list.iter().skip(at).take(room) {
            y -= LINE;
            let base = y + 1.3;
            if !number.is_empty() {
                drawing.labels.push(line_of(number, [low[0], base], TEXT, INDENT));
                let top = y + LINE;
                drawing.paths.push(Path::open(Layer::Mark, vec![[low[0], top], [high[0], top]]));
            }
            drawing.labels.push(line_of(text, [low[0] + INDENT, base], TEXT, wide - INDENT));
        }
        at += room;
        pages.push(Page { holds: vec!["contents".to_owned()], drawing, ..Page::default() });
    }
    pages
}

/// Room for the number of a page in the list, mm.
const INDENT: f64 = 14.0;
/// Length of a sample of a line, mm.
const SAMPLE: f64 = 18.0;

fn head(about: &About<'_>, rest: &[Page], [low, high]: [[f64; 2]; 2]) -> Drawing {
    let wide = high[0] - low[0];
    let mut drawing = Drawing::default();
    let mut y = high[1];
    let mut write = |drawing: &mut Drawing, text: &str, height: f64, gap: f64| {
        y -= height;
        drawing.labels.push(line_of(text, [low[0], y], height, wide));
        y -= gap;
        y
    };
    write(&mut drawing, about.name, 9.0, 6.0);
    let [w, d, h] = about.size;
    let what = format!(
        "model {}   {w:.0} × {d:.0} × {h:.0} mm (width, depth, height)   {}",
        about.scale, about.paper
    );
    write(&mut drawing, &what, 4.2, 6.5);
    let mut said = vec![
        "Print at 100 %, not fitted to the page; the bar at the foot of every page measures 100 mm.",
        "Score the folds before you cut. The printed side is the outside of the model.",
        "Edges with the same number meet: glue the tab behind its neighbour.",
        "Arrows point up the slope; on level faces, with an N, to the north (+y).",
    ];
    if about.ribs {
        said.push("Fold ridges away from you and troughs towards you; strips without tabs fill the gaps between edges.");
    } else {
        said.push("\"B here\" is where B stands on a face: cut it out, or glue B on. \"in A\" is how far B sinks into A.");
    }
    let tiled = format!("Tiles overlap by {:.0} mm: lay cross on cross and line on line.", about.overlap);
    if rest.iter().any(|p| p.tile.is_some()) {
        said.push(&tiled);
    }
    let mut bottom = 0.0;
    for line in said {
        bottom = write(&mut drawing, line, 3.1, 2.6);
    }
    let mut x = low[0];
    bottom -= 6.0;
    for (layer, words) in [
        (Layer::Cut, "cut"),
        (Layer::Mountain, "fold away (ridge)"),
        (Layer::Valley, "fold towards you (trough)"),
        (Layer::Mark, "mark"),
    ] {
        if layer == Layer::Valley && !about.ribs || layer == Layer::Mark && about.ribs {
            continue;
        }
        drawing.paths.push(Path::open(layer, vec![[x, bottom + 1.5], [x + SAMPLE, bottom + 1.5]]));
        x += SAMPLE + 2.5;
        drawing.labels.push(line_of(words, [x, bottom], 3.1, wide));
        x += crate::lettering::width(words, 3.1) + 9.0;
    }
    drawing
}

/// The sheet on which the model stands: contacts with the ground, outlines from above, north.
pub(super) fn base(print: &Footprint) -> Piece {
    let mut drawing = Drawing::default();
    let all = print.seen.iter().chain(&print.feet).flat_map(|(_, o)| o.iter().copied());
    let [lo, hi] = bounds(all).unwrap_or_default();
    for (_, outline) in &print.seen {
        if outline.len() > 2 {
            drawing.paths.push(Path::closed(Layer::Outline, outline.clone()));
        }
    }
    let mut sign = Sign { drawing: &mut drawing, taken: Vec::new(), lines: Vec::new() };
    for (_, outline) in &print.seen {
        sign.lines.extend(super::flat::sides(outline));
    }
    for (name, outline) in &print.feet {
        match outline[..] {
            [a] => {
                for d in [[3.0, 0.0], [0.0, 3.0]] {
                    let line = vec![[a[0] - d[0], a[1] - d[1]], [a[0] + d[0], a[1] + d[1]]];
                    sign.drawing.paths.push(Path::open(Layer::Seam, line));
                }
            }
            [a, b] => sign.drawing.paths.push(Path::open(Layer::Seam, vec![a, b])),
            _ => sign.drawing.paths.push(Path::closed(Layer::Seam, outline.clone())),
        }
        sign.lines.extend(super::flat::sides(outline));
        if outline.len() > 2 {
            let field = [outline.clone()];
            sign.name(&Field { outlines: &field }, name, centroid(outline), &[0.0, 90.0]);
        }
    }
    // North stands beside it, the words below.
    let x = hi[0] + 8.0;
    let top = hi[1].max(lo[1] + 22.0);
    let up = unit([0.0; 2], [0.0, 1.0]);
    let field = [vec![[x - 4.0, top - 22.0], [x + 4.0, top - 22.0], [x + 4.0, top], [x - 4.0, top]]];
    sign.lines.clear();
    sign.arrow(&Field { outlines: &field }, [x, top - 11.0], up, "N");
    let words = [
        "footprint, seen from above; y is north",
        "thick: stands on the ground; dashed: elements from above",
    ];
    for (k, text) in (1_u32..).zip(words) {
        sign.drawing.labels.push(line_of(text, [lo[0], lo[1] - 5.0 * f64::from(k)], 3.0, 150.0));
    }
    let mut piece = Piece { name: "footprint".to_owned(), drawing, ..Piece::default() };
    piece.measure();
    piece
}
