//! The svg writer: templates in true size, and views scaled to a page.
//!
//! One unit of the file is one millimetre. Coordinates are written with y downwards and without a
//! transform, each layer is a group named after it, and lettering is paths, so that any reader, plotter
//! or cutter shows the same.

use super::{OutFile, Writer};
use crate::drawing::{Drawing, Label, Layer, LineStyle, Path};
use crate::error::Result;
use crate::lettering;
use crate::output::Output;
use crate::settings::LARGEST_NUMBER;
use crate::work::Work;
use rayon::prelude::*;
use std::fmt::Write as _;

/// The registry row.
pub const ROW: Writer =
    Writer { name: "svg", summary: "templates in true size and views scaled to a page", write };

/// Width (and greatest height) of a view on its page, mm.
const VIEW_SIZE: f64 = 400.0;
/// What an A4 page holds between the margins and above the scale bar, mm; prints on A3 are twice the area.
const PAGE: [f64; 2] = [190.0, 263.0];

fn write(_work: &Work, output: &Output) -> Result<Vec<OutFile>> {
    files(output)
}

fn files(output: &Output) -> Result<Vec<OutFile>> {
    let templates = output.templates.iter().flat_map(|part| {
        part.templates
            .iter()
            .map(|t| (format!("templates/{}-{}.svg", part.stem, t.kind), &t.drawing, Fit::TrueSize))
    });
    let views = output.views.iter().map(|v| (format!("views/{}.svg", v.name), v, Fit::Within(VIEW_SIZE)));
    let drawings = output.drawings.iter().map(|d| (format!("drawings/{}.svg", d.name), d, Fit::Page(PAGE)));
    let flats =
        output.flats.iter().map(|f| (format!("templates/{}-flat.svg", f.stem), &f.drawing, Fit::TrueSize));
    let papers =
        output.papers.iter().map(|p| (format!("templates/{}.svg", p.stem), &p.drawing, Fit::TrueSize));
    let files: Vec<_> = templates.chain(flats).chain(papers).chain(views).chain(drawings).collect();
    files
        .into_par_iter()
        .map(|(path, drawing, fit)| {
            let draw = || drawing_to_svg(drawing, fit).map(String::into_bytes);
            let bytes = output.memo.file(&path, drawing, draw).map_err(|e| e.at(path.as_str()))?;
            Ok(OutFile { path, bytes })
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
    /// At the largest round scale, smaller or larger than true size, at which it fits a page of this width
    /// and height between its margins, upright or lying, mm.
    Page([f64; 2]),
}

/// Margin round the drawing, mm.
pub const MARGIN: f64 = 10.0;
/// Length of the scale bar on the page, mm.
pub(crate) const BAR: f64 = 100.0;
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
        Fit::Page(page) => page_scale([hi[0] - lo[0], hi[1] - lo[1]], page),
    };
    let foot = [MARGIN, MARGIN / 2.0];
    let mut bar = if drawing.diagram { Drawing::default() } else { scale_bar(foot, divisor) };
    name_and_legend(&mut bar, drawing, fit, foot);
    let bar_width = lettering::extents(&bar).map_or(0.0, |[_, hi]| hi[0] - MARGIN);
    let width = ((hi[0] - lo[0]) / divisor).max(bar_width) + 2.0 * MARGIN;
    let height = (hi[1] - lo[1]) / divisor + 2.0 * MARGIN + STRIP;
    // A shop drawing is read by people: a hundredth of a millimetre on paper keeps its file short.
    let grain = if matches!(fit, Fit::Page(_)) { 100.0 } else { 10_000.0 };
    let mut page = Page { text: String::new(), lo: [0.0; 2], top: height, divisor: 1.0, grain };
    let size = format!("{} {}", Number(width), Number(height));
    let [w, h] = [width, height].map(Number);
    let _ = write!(
        page.text,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {size}\">\n\
         <title>{}</title>\n",
        Escaped(if drawing.title.is_empty() { &drawing.name } else { &drawing.title })
    );
    let (samples, own): (Vec<&Path>, Vec<&Path>) = bar.paths.iter().partition(|p| p.layer != Layer::Mark);
    let below = if drawing.diagram { "title" } else { "scale-bar" };
    page.group(below, Layer::Mark.style(), own.into_iter(), &bar.labels);
    for sample in samples {
        page.group(
            &format!("legend-{}", sample.layer.name()),
            sample.layer.style(),
            [sample].into_iter(),
            &[],
        );
    }
    // A shop drawing narrower than its title stands in the middle of the page.
    let aside = if matches!(fit, Fit::Page(_)) {
        (width * divisor - (hi[0] - lo[0])) / 2.0
    } else {
        MARGIN * divisor
    };
    page.lo = [lo[0] - aside, lo[1] - (MARGIN + STRIP) * divisor];
    page.divisor = divisor;
    for layer in drawing.layers() {
        let labels = if layer == Layer::Text { drawing.labels.as_slice() } else { &[] };
        page.group(layer.name(), layer.style(), drawing.on(layer), labels);
    }
    page.text.push_str("</svg>\n");
    Ok(page.text)
}

/// A page of exactly this size as an SVG file in mm: the drawing's (0, 0) is the lower left corner of the paper, and
/// nothing is added to it.
///
/// # Tolerance
/// Coordinates are rounded to 1e-4 mm.
///
/// # Errors
/// A drawing that [`Drawing::validate`] refuses.
pub fn page_to_svg(drawing: &Drawing, size: [f64; 2]) -> Result<String> {
    drawing.validate()?;
    let mut page = Page { text: String::new(), lo: [0.0; 2], top: size[1], divisor: 1.0, grain: PARTS };
    let [w, h] = size.map(Number);
    let title = Escaped(&drawing.title);
    let _ = write!(
        page.text,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\">\n\
         <title>{title}</title>\n"
    );
    for layer in drawing.layers() {
        let labels = if layer == Layer::Text { drawing.labels.as_slice() } else { &[] };
        page.group(layer.name(), layer.style(), drawing.on(layer), labels);
    }
    page.text.push_str("</svg>\n");
    Ok(page.text)
}

/// Writing beside a scale bar stands this far over it, mm.
const ABOVE: f64 = 0.5;

/// A bar of 100 mm with its left end at `at`, ticks and its true length; the scale too, unless it is 1:1.
pub(crate) fn scale_bar(at: [f64; 2], divisor: f64) -> Drawing {
    let [x, y] = at;
    let tick = |along: f64, high: f64| Path::open(Layer::Mark, vec![[x + along, y], [x + along, y + high]]);
    let mut paths = vec![Path::open(Layer::Mark, vec![[x, y], [x + BAR, y]])];
    paths.extend([tick(0.0, 4.0), tick(BAR, 4.0)]);
    paths.extend((1..10).map(|i| tick(f64::from(i) * BAR / 10.0, if i == 5 { 3.0 } else { 2.0 })));
    let text = if divisor > 1.0 {
        format!("{} mm   scale 1:{}", Number(BAR * divisor), Number(divisor))
    } else if divisor < 1.0 {
        format!("{} mm   scale {}:1", Number(BAR * divisor), Number((100.0 / divisor).round() / 100.0))
    } else {
        format!("{} mm", Number(BAR))
    };
    let label = Label { at: [x + BAR + 4.0, y + ABOVE], height: 3.0, angle: 0.0, centred: false, text };
    Drawing { name: "scale-bar".into(), paths, labels: vec![label], ..Drawing::default() }
}

/// Writes the drawing's title behind a scale bar, and what its line styles mean.
fn name_and_legend(bar: &mut Drawing, drawing: &Drawing, fit: Fit, foot: [f64; 2]) {
    let behind = |label: &Label| label.at[0] + lettering::width(&label.text, label.height) + GAP;
    let mut pen = bar.labels.first().map_or(foot[0], behind);
    let y = foot[1] + ABOVE;
    let write = |bar: &mut Drawing, pen: &mut f64, text: &str| {
        bar.labels.push(Label {
            at: [*pen, y],
            height: 3.0,
            angle: 0.0,
            centred: false,
            text: text.to_owned(),
        });
        *pen += lettering::width(text, 3.0) + GAP;
    };
    if !drawing.title.is_empty() {
        write(bar, &mut pen, &drawing.title);
    }
    let legend = if fit == Fit::TrueSize { legend(drawing) } else { Vec::new() };
    for (layer, words) in legend {
        bar.paths.push(Path::open(layer, vec![[pen, y + 1.5], [pen + SAMPLE, y + 1.5]]));
        pen += SAMPLE + 2.0;
        write(bar, &mut pen, words);
    }
}

/// What the line styles of a template mean; nothing for a plain outline and for views.
pub(super) fn legend(drawing: &Drawing) -> Vec<(Layer, &'static str)> {
    // Letters beside the marks tell folds apart; without them a mark is just that.
    let ribs = drawing.labels.iter().any(|l| RIB_LETTERS.contains(&l.text.as_str()));
    let meaning = |layer| match layer {
        Layer::Cut => Some("cut"),
        Layer::Outline => Some("true outline, not cut"),
        Layer::Lead => Some("lead-in"),
        Layer::BendDown => Some("bend down, away from you"),
        Layer::BendUp => Some("bend up, towards you"),
        Layer::Mark if ribs => Some("fold; C crest, V valley: mark only"),
        Layer::Mark => Some("mark only"),
        _ => None,
    };
    let used: Vec<_> = drawing.layers().filter_map(|layer| Some((layer, meaning(layer)?))).collect();
    if used.len() > 1 { used } else { Vec::new() }
}

/// What is written beside the marks along crests and valleys.
const RIB_LETTERS: [&str; 2] = ["C", "V"];

/// Space between the items at the foot of a page, mm.
const GAP: f64 = 8.0;
/// Length of a sample of a line style, mm: long enough for one turn of the longest dashes.
pub(super) const SAMPLE: f64 = 17.0;

/// The least of 1, 2, 5, 10, 20, 50, … that is not below `least`.
fn round_scale(least: f64) -> f64 {
    let mut decade = 1.0;
    loop {
        for step in [1.0, 2.0, 5.0] {
            // Coordinates are bounded by `validate`, so this ends after a few decades.
            if decade * step >= least || decade >= LARGEST_NUMBER {
                return decade * step;
            }
        }
        decade *= 10.0;
    }
}

/// Steps of the scales of shop drawings within a power of ten; all are found on scale rules or halve one.
const STEPS: [f64; 7] = [1.0, 1.5, 2.0, 2.5, 4.0, 5.0, 7.5];
/// The same where a drawing is enlarged: 10, 5, 4, 2.5 and 2 : 1.
const ENLARGED: [f64; 5] = [1.0, 2.0, 2.5, 4.0, 5.0];

/// The least divisor at which a drawing of this size fits a page, upright or lying; below 1 it is enlarged.
fn page_scale(size: [f64; 2], page: [f64; 2]) -> f64 {
    let upright = (size[0] / page[0]).max(size[1] / page[1]);
    // Lying, the strip with the scale bar takes its height from the narrower side.
    let lying = (size[0] / (page[1] + STRIP)).max(size[1] / (page[0] - STRIP));
    let least = upright.min(lying);
    // Whole powers only, so that the scale prints as it is.
    for power in -2..=9 {
        for &step in if power < 0 { &ENLARGED[..] } else { &STEPS[..] } {
            let scale = if power < 0 { step / 10_f64.powi(-power) } else { step * 10_f64.powi(power) };
            if scale >= least {
                return scale;
            }
        }
    }
    LARGEST_NUMBER
}

/// The file being written: `lo` is the corner of the page in the drawing, `top` the page's height, mm.
struct Page {
    text: String,
    lo: [f64; 2],
    top: f64,
    divisor: f64,
    /// Steps of coordinates per mm of the page.
    grain: f64,
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
            let start = self.text.len();
            let weight = Number(lettering::weight(label.height / self.divisor));
            let _ = write!(self.text, "<path stroke-width=\"{weight}\" d=\"");
            let empty = self.text.len();
            let mut pen = None;
            lettering::each_stroke(label, |stroke| self.stroke(stroke, &mut pen));
            if self.text.len() == empty {
                self.text.truncate(start);
                continue;
            }
            let _ = writeln!(self.text, "\"><title>{}</title></path>", Escaped(&label.text));
        }
        self.text.push_str("</g>\n");
    }

    fn points(&mut self, points: &[[f64; 2]], closed: bool) {
        for (i, p) in points.iter().enumerate() {
            let x = (p[0] - self.lo[0]) / self.divisor;
            let y = self.top - (p[1] - self.lo[1]) / self.divisor;
            let [x, y] = [x, y].map(|v| (v * self.grain).round() / self.grain);
            self.text.push(if i == 0 { 'M' } else { 'L' });
            Number(x).push_to(&mut self.text);
            self.text.push(' ');
            Number(y).push_to(&mut self.text);
        }
        if closed {
            self.text.push('Z');
        }
    }
}

impl Page {
    /// A stroke of writing, in hundredths of a millimetre from the end of the one before: most of a page is writing, and
    /// so it is half as long.
    fn stroke(&mut self, points: &[[f64; 2]], pen: &mut Option<[i64; 2]>) {
        for (i, p) in points.iter().enumerate() {
            let x = (p[0] - self.lo[0]) / self.divisor;
            let y = self.top - (p[1] - self.lo[1]) / self.divisor;
            #[allow(clippy::cast_possible_truncation, reason = "places are bounded by `validate`")]
            let here = [x, y].map(|v| (v * HUNDREDTHS).round() as i64);
            let [fromx, fromy] = pen.unwrap_or_default();
            self.text.push(match (i, *pen) {
                (0, None) => 'M',
                (0, _) => 'm',
                (1, _) => 'l',
                _ => ' ',
            });
            push_hundredths(&mut self.text, here[0] - fromx);
            self.text.push(' ');
            push_hundredths(&mut self.text, here[1] - fromy);
            *pen = Some(here);
        }
    }
}

/// Steps of writing per millimetre of the page.
const HUNDREDTHS: f64 = 100.0;

/// Hundredths as a decimal number.
fn push_hundredths(text: &mut String, hundredths: i64) {
    let all = hundredths.unsigned_abs();
    if hundredths < 0 {
        text.push('-');
    }
    let rest = all % 100;
    if all >= 100 || rest == 0 {
        push_whole(text, all / 100);
    }
    if rest > 0 {
        text.push('.');
        if rest < 10 {
            text.push('0');
        }
        push_whole(text, if rest.is_multiple_of(10) { rest / 10 } else { rest });
    }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a grey lies between 0 and 1")]
fn grey_byte(grey: f64) -> u8 {
    (grey.clamp(0.0, 1.0) * 255.0).round() as u8
}

/// A number with at most four decimals and no trailing zeros.
pub(crate) struct Number(pub(crate) f64);

/// Parts of a millimetre that are written.
const PARTS: f64 = 1.0e4;

impl std::fmt::Display for Number {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let mut text = String::new();
        self.push_to(&mut text);
        f.write_str(&text)
    }
}

impl Number {
    /// Writes it at the end of a text: pages are made of numbers, and this takes none of the ways round by a formatter.
    pub(super) fn push_to(&self, text: &mut String) {
        let scaled = (self.0 * PARTS).round();
        if scaled.abs() >= PARTS * LARGEST_NUMBER || scaled.is_nan() {
            let _ = write!(text, "{:.4}", self.0);
            return;
        }
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked above")]
        let all = scaled.abs() as u64;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a whole number")]
        let (whole, rest) = (all / PARTS as u64, all % PARTS as u64);
        if scaled < 0.0 {
            text.push('-');
        }
        push_whole(text, whole);
        if rest > 0 {
            let mut rest = rest;
            let mut digits = [b'0'; 4];
            for digit in digits.iter_mut().rev() {
                #[allow(clippy::cast_possible_truncation, reason = "one digit")]
                let last = (rest % 10) as u8;
                *digit += last;
                rest /= 10;
            }
            let used = digits.iter().rposition(|&d| d != b'0').map_or(0, |last| last + 1);
            text.push('.');
            text.extend(digits[..used].iter().map(|&d| char::from(d)));
        }
    }
}

/// Writes a whole number at the end of a text.
pub(super) fn push_whole(text: &mut String, number: u64) {
    let mut digits = [0_u8; 20];
    let mut at = digits.len();
    let mut rest = number;
    loop {
        at -= 1;
        #[allow(clippy::cast_possible_truncation, reason = "one digit")]
        let last = (rest % 10) as u8;
        digits[at] = b'0' + last;
        rest /= 10;
        if rest == 0 {
            break;
        }
    }
    text.extend(digits[at..].iter().map(|&d| char::from(d)));
}

/// Text with the signs that mean something in XML written as entities; control characters are left out.
pub(crate) struct Escaped<'a>(pub(crate) &'a str);

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
    use crate::export::dxf::tests::{sample, sample_output};
    use resvg::tiny_skia::{Pixmap, Transform};

    /// Pixels per mm of the renderings.
    const DENSITY: f32 = 4.0;

    /// Left, top, right and bottom of the ink within a band of the page, mm from the upper left corner.
    fn ink(text: &str, band: std::ops::Range<f64>) -> [f64; 4] {
        let tree = usvg::Tree::from_str(text, &usvg::Options::default()).expect("readable");
        let scale = DENSITY * 25.4 / 96.0;
        let (w, h) = (tree.size().width() * scale, tree.size().height() * scale);
        let mut picture = Pixmap::new(w.round() as u32, h.round() as u32).expect("a page");
        resvg::render(&tree, Transform::from_scale(scale, scale), &mut picture.as_mut());
        let mut found = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
        for (i, pixel) in picture.pixels().iter().enumerate() {
            let at = |n: usize| (n as f64 + 0.5) / f64::from(DENSITY);
            let [x, y] = [i % picture.width() as usize, i / picture.width() as usize].map(at);
            if pixel.alpha() > 64 && band.contains(&y) {
                found = [found[0].min(x), found[1].min(y), found[2].max(x), found[3].max(y)];
            }
        }
        found
    }

    #[track_caller]
    fn near(found: [f64; 4], wanted: [f64; 4]) {
        // Half the heaviest line and a pixel.
        let close = found.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 0.25 + 1.0 / f64::from(DENSITY));
        assert!(close, "{found:?} is not {wanted:?}");
    }

    #[test]
    fn renders_in_true_size_the_right_way_up() {
        let text = drawing_to_svg(&sample(), Fit::TrueSize).expect("written");
        assert!(text.contains("width=\"620mm\" height=\"454mm\" viewBox=\"0 0 620 454\""));
        near(ink(&text, 0.0..435.0), [10.0, 10.0, 610.0, 430.0]);
        // The wave is at the top: its first trough, 150 mm from the left, leaves the upper edge free.
        let trough = sample().on(Layer::Cut).next().expect("an outline").points.clone();
        assert!(trough.iter().any(|p| p[0] == 150.0 && p[1] == 380.0), "the sample has a trough there");
        assert!(text.contains("L160 50"), "the trough is drawn 50 mm from the top");
    }

    #[test]
    fn a_diagram_has_its_title_and_no_scale() {
        let drawing = Drawing { diagram: true, title: "Angles".into(), ..sample() };
        let text = drawing_to_svg(&drawing, Fit::Page(PAGE)).expect("written");
        assert!(text.contains(">Angles<") && !text.contains("scale"), "{text}");
        let text = drawing_to_svg(&Drawing { diagram: false, ..drawing }, Fit::Page(PAGE)).expect("written");
        assert!(text.contains("scale-bar"), "{text}");
    }

    #[test]
    fn the_scale_bar_is_100_mm_long() {
        let text = drawing_to_svg(&sample(), Fit::TrueSize).expect("written");
        let [left, _, _, bottom] = ink(&text, 440.0..454.0);
        assert!((left - 10.0).abs() < 0.5 && (bottom - 449.0).abs() < 0.5, "{left} {bottom}");
        assert!(text.contains("<path d=\"M10 449L110 449\"/>"), "the bar itself");
        assert!(text.contains("<title>100 mm</title>"), "its length in words");
    }

    #[test]
    fn views_are_scaled_to_the_page_by_a_round_number() {
        let mut view = sample();
        view.paths.push(Path::closed(Layer::Seam, vec![[0.0, 0.0], [3900.0, 0.0], [3900.0, 900.0]]));
        let text = drawing_to_svg(&view, Fit::Within(400.0)).expect("written");
        assert!(text.contains("width=\"410mm\""), "3900 mm at 1:10 and two margins");
        assert!(text.contains("scale 1:10"), "the scale is written");
        assert!(text.contains("1000 mm"), "the bar's length in the work is written");
        near(ink(&text, 0.0..105.0), [10.0, 10.0, 400.0, 100.0]);
    }

    #[test]
    fn scales_are_round_and_never_too_small() {
        for (least, wanted) in
            [(0.2, 1.0), (1.0, 1.0), (1.01, 2.0), (4.0, 5.0), (9.5, 10.0), (1300.0, 2000.0)]
        {
            assert_eq!(round_scale(least), wanted, "for {least}");
        }
        assert!(round_scale(f64::INFINITY).is_finite(), "it ends");
    }

    #[test]
    fn names_cannot_break_the_file() {
        let mut drawing = sample();
        drawing.title = "a<b> & \"c\" \u{1}\u{fffe} ä".into();
        drawing.labels[0].text = "</path>".into();
        let text = drawing_to_svg(&drawing, Fit::TrueSize).expect("written");
        let document = usvg::roxmltree::Document::parse(&text).expect("well formed");
        let title = document.descendants().find(|n| n.has_tag_name("title")).and_then(|n| n.text());
        assert_eq!(title, Some("a<b> & \"c\"    ä"));
        for layer in sample().layers() {
            assert!(document.descendants().any(|n| n.attribute("id") == Some(layer.name())));
        }
    }

    #[test]
    fn all_templates_and_views_are_written_in_order() {
        let files = files(&sample_output()).expect("written");
        let paths: Vec<&str> = files.iter().map(|f| f.path.as_str()).collect();
        let wanted = "templates/A_west-wrap.svg templates/A_west-plan.svg templates/A_west-blank.svg \
                      templates/A_east-plan.svg templates/A_east-wrap.svg views/front.svg";
        assert_eq!(paths.join(" "), wanted);
        assert_eq!(files, super::files(&sample_output()).expect("written"), "two runs differ");
    }
}
