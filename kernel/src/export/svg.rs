//! The svg writer: templates in true size, and views scaled to a page.
//!
//! One unit of the file is one millimetre. Coordinates are written with y downwards and without a
//! transform, each layer is a group named after it, and lettering is paths, so that any reader, plotter
//! or cutter shows the same.

use super::Writer;
use crate::drawing::{Drawing, Label, Layer, LineStyle, Path};
use crate::error::Result;
use crate::lettering;
use crate::work::{OutFile, Output, Work};
use rayon::prelude::*;
use std::fmt::Write as _;

/// The registry row.
pub const ROW: Writer =
    Writer { name: "svg", summary: "templates in true size and views scaled to a page", write };

/// Width (and greatest height) of a view on its page, mm.
const VIEW_SIZE: f64 = 400.0;

fn write(_work: &Work, output: &Output) -> Result<Vec<OutFile>> {
    let templates = output.templates.iter().flat_map(|part| {
        part.templates
            .iter()
            .map(|t| (format!("templates/{}-{}.svg", part.stem, t.kind), &t.drawing, Fit::TrueSize))
    });
    let views = output.views.iter().map(|v| (format!("views/{}.svg", v.name), v, Fit::Within(VIEW_SIZE)));
    let files: Vec<_> = templates.chain(views).collect();
    files
        .into_par_iter()
        .map(|(path, drawing, fit)| {
            let text = drawing_to_svg(drawing, fit).map_err(|e| e.at(path.as_str()))?;
            Ok(OutFile { path, bytes: text.into_bytes() })
        })
        .collect()
}

/// How large a drawing is on its page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fit {
    /// One to one.
    TrueSize,
    /// At the largest round scale (1:1, 1:2, 1:5, 1:10, …) at which width and height stay within this, mm.
    Within(f64),
}

/// Margin round the drawing, mm.
pub const MARGIN: f64 = 10.0;
/// Length of the scale bar on the page, mm.
pub(super) const BAR: f64 = 100.0;
/// Height of the strip under the drawing that holds the scale bar, mm.
const STRIP: f64 = 14.0;

/// A drawing as an SVG file in mm, with a margin of 10 mm and a scale bar below.
///
/// # Tolerance
/// Coordinates are rounded to 1e-4 mm on the page.
///
/// # Errors
/// A drawing that [`Drawing::validate`] refuses.
pub fn drawing_to_svg(drawing: &Drawing, fit: Fit) -> Result<String> {
    drawing.validate()?;
    let [lo, hi] = lettering::extents(drawing).unwrap_or_default();
    let divisor = match fit {
        Fit::TrueSize => 1.0,
        Fit::Within(size) => round_scale((hi[0] - lo[0]).max(hi[1] - lo[1]) / size),
    };
    let bar = scale_bar([MARGIN, MARGIN / 2.0], divisor);
    let bar_width = lettering::extents(&bar).map_or(0.0, |[_, hi]| hi[0] - MARGIN);
    let width = ((hi[0] - lo[0]) / divisor).max(bar_width) + 2.0 * MARGIN;
    let height = (hi[1] - lo[1]) / divisor + 2.0 * MARGIN + STRIP;
    let mut page = Page { text: String::new(), lo: [0.0; 2], top: height, divisor: 1.0 };
    let size = format!("{} {}", Number(width), Number(height));
    let [w, h] = [width, height].map(Number);
    let _ = write!(
        page.text,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {size}\">\n\
         <title>{}</title>\n",
        Escaped(if drawing.title.is_empty() { &drawing.name } else { &drawing.title })
    );
    page.group("scale-bar", Layer::Mark.style(), bar.paths.iter(), &bar.labels);
    page.lo = [lo[0] - MARGIN * divisor, lo[1] - (MARGIN + STRIP) * divisor];
    page.divisor = divisor;
    for layer in drawing.layers() {
        let labels = if layer == Layer::Text { drawing.labels.as_slice() } else { &[] };
        page.group(layer.name(), layer.style(), drawing.on(layer), labels);
    }
    page.text.push_str("</svg>\n");
    Ok(page.text)
}

/// A bar of 100 mm with its left end at `at`, ticks and its true length; the scale too, unless it is 1:1.
pub(super) fn scale_bar(at: [f64; 2], divisor: f64) -> Drawing {
    let [x, y] = at;
    let tick = |along: f64, high: f64| Path::open(Layer::Mark, vec![[x + along, y], [x + along, y + high]]);
    let mut paths = vec![Path::open(Layer::Mark, vec![[x, y], [x + BAR, y]])];
    paths.extend([tick(0.0, 4.0), tick(BAR, 4.0)]);
    paths.extend((1..10).map(|i| tick(f64::from(i) * BAR / 10.0, if i == 5 { 3.0 } else { 2.0 })));
    let text = if divisor > 1.0 {
        format!("{} mm   scale 1:{}", Number(BAR * divisor), Number(divisor))
    } else {
        format!("{} mm", Number(BAR))
    };
    let label = Label { at: [x + BAR + 4.0, y + 0.5], height: 3.0, angle: 0.0, centred: false, text };
    Drawing { name: "scale-bar".into(), paths, labels: vec![label], ..Drawing::default() }
}

/// The least of 1, 2, 5, 10, 20, 50, … that is not below `least`.
fn round_scale(least: f64) -> f64 {
    let mut decade = 1.0;
    loop {
        for step in [1.0, 2.0, 5.0] {
            // Coordinates are bounded by `validate`, so this ends after a few decades.
            if decade * step >= least || decade >= crate::settings::LARGEST_NUMBER {
                return decade * step;
            }
        }
        decade *= 10.0;
    }
}

/// The file being written: `lo` is the corner of the page in the drawing, `top` the page's height, mm.
struct Page {
    text: String,
    lo: [f64; 2],
    top: f64,
    divisor: f64,
}

impl Page {
    fn group<'a>(
        &mut self,
        name: &str,
        style: LineStyle,
        paths: impl Iterator<Item = &'a Path>,
        labels: &[Label],
    ) {
        let dashes: Vec<String> = style.dashes.iter().map(|d| Number(*d).to_string()).collect();
        let dashes = if dashes.is_empty() {
            String::new()
        } else {
            format!(" stroke-dasharray=\"{}\"", dashes.join(" "))
        };
        let grey = format!("{:02x}", grey_byte(style.grey)).repeat(3);
        let _ = writeln!(
            self.text,
            "<g id=\"{name}\" class=\"{}\" fill=\"none\" stroke=\"#{grey}\" stroke-width=\"{}\"{dashes} \
             stroke-linecap=\"round\" stroke-linejoin=\"round\">",
            name.to_lowercase(),
            Number(style.width)
        );
        for path in paths {
            self.text.push_str("<path d=\"");
            self.points(&path.points, path.closed);
            self.text.push_str("\"/>\n");
        }
        for label in labels {
            let strokes = lettering::strokes(label);
            if strokes.is_empty() {
                continue;
            }
            let weight = Number(lettering::weight(label.height / self.divisor));
            let _ = write!(self.text, "<path stroke-width=\"{weight}\" d=\"");
            for stroke in &strokes {
                self.points(stroke, false);
            }
            let _ = writeln!(self.text, "\"><title>{}</title></path>", Escaped(&label.text));
        }
        self.text.push_str("</g>\n");
    }

    fn points(&mut self, points: &[[f64; 2]], closed: bool) {
        for (i, p) in points.iter().enumerate() {
            let x = (p[0] - self.lo[0]) / self.divisor;
            let y = self.top - (p[1] - self.lo[1]) / self.divisor;
            let _ = write!(self.text, "{}{} {}", ["L", "M"][usize::from(i == 0)], Number(x), Number(y));
        }
        if closed {
            self.text.push('Z');
        }
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a grey lies between 0 and 1")]
fn grey_byte(grey: f64) -> u8 {
    (grey.clamp(0.0, 1.0) * 255.0).round() as u8
}

/// A number with at most four decimals and no trailing zeros.
struct Number(f64);

impl std::fmt::Display for Number {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let text = format!("{:.4}", self.0);
        let text = text.trim_end_matches('0').trim_end_matches('.');
        f.write_str(if text == "-0" { "0" } else { text })
    }
}

/// Text with the signs that mean something in XML written as entities; control characters are left out.
struct Escaped<'a>(&'a str);

impl std::fmt::Display for Escaped<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for c in self.0.chars() {
            match c {
                '&' => f.write_str("&amp;")?,
                '<' => f.write_str("&lt;")?,
                '>' => f.write_str("&gt;")?,
                '"' => f.write_str("&quot;")?,
                c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => f.write_char(' ')?,
                c => f.write_char(c)?,
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::dxf::tests::sample;
    #[test]
    fn dump() {
        std::fs::write("/tmp/dump.svg", drawing_to_svg(&sample(), Fit::TrueSize).unwrap()).unwrap();
        std::fs::write("/tmp/dumpv.svg", drawing_to_svg(&sample(), Fit::Within(200.0)).unwrap()).unwrap();
        let mut chart = Drawing::default();
        let rows: Vec<String> = (2..8)
            .map(|r| (0..16).filter_map(|c| char::from_u32(r * 16 + c)).filter(|c| *c != '\u{7f}').collect())
            .chain([
                "°±²³×Øø äÉß漢".to_string(),
                "A/east.2 blank 1240 × 86.5 mm down 45°".into(),
                "The quick brown fox jumps over 1234567890".into(),
            ])
            .collect();
        for (i, text) in rows.into_iter().enumerate() {
            chart.labels.push(Label {
                at: [0.0, -20.0 * i as f64],
                height: 10.0,
                angle: 0.0,
                centred: false,
                text,
            });
        }
        chart.paths.push(Path::open(Layer::Mark, vec![[0.0, 15.0], [250.0, 15.0]]));
        std::fs::write("/tmp/chart.svg", drawing_to_svg(&chart, Fit::TrueSize).unwrap()).unwrap();
    }
}
