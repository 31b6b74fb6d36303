//! The pdf writer: full-size templates, tiled on sheets of paper or on a roll.
//!
//! The drawing is one form of the file; each page shows its window of it, so that pages cannot differ.
//! Neighbouring pages share a band of [`OVERLAP`] mm. A dashed line runs along its middle, with a cross at
//! each end: lay cross on cross, line on line. All writing is strokes, so no font is needed, and nothing
//! in the file depends on the clock.

use super::svg::{BAR, Number, SAMPLE, legend, scale_bar};
use super::{OutFile, Writer, one_per_part};
use crate::drawing::{Drawing, LAYERS, Label, Layer, LineStyle, Path};
use crate::error::{Error, Result};
use crate::lettering;
use crate::output::Output;
use crate::template::PartTemplates;
use crate::work::Work;
use pdf_writer::{Finish, Name, Pdf, Rect, Ref, TextStr};
use std::fmt::Write as _;

/// The registry row.
pub const ROW: Writer =
    Writer { name: "pdf", summary: "full-size templates tiled on A4 with registration marks", write };

fn write(_work: &Work, output: &Output) -> Result<Vec<OutFile>> {
    files(output)
}

fn files(output: &Output) -> Result<Vec<OutFile>> {
    let path = |stem: &str| format!("templates/{stem}.pdf");
    let mut files = one_per_part(output, PartTemplates::to_print, path, |template| {
        drawing_to_pdf(&template.drawing, &Paper::A4)
    })?;
    for flat in &output.flats {
        let path = format!("templates/{}.pdf", flat.stem);
        let bytes = drawing_to_pdf(&flat.drawing, &Paper::A4).map_err(|e| e.at(path.as_str()))?;
        files.push(OutFile { path, bytes });
    }
    for paper in &output.papers {
        let path = format!("templates/{}.pdf", paper.stem);
        let bytes = drawing_to_pdf(&paper.drawing, &Paper::A4).map_err(|e| e.at(path.as_str()))?;
        files.push(OutFile { path, bytes });
    }
    Ok(files)
}

/// What the template is printed on. Sheets are turned to landscape where that needs fewer of them.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Paper {
    /// 210 × 297 mm (ISO 216).
    #[default]
    A4,
    /// 297 × 420 mm (ISO 216).
    A3,
    /// 8.5 × 11 inches.
    Letter,
    /// A roll cut to length.
    Roll {
        /// Width, mm.
        width: f64,
    },
}

/// Edge that printers leave white, mm.
const MARGIN: f64 = 10.0;
/// Height of the strip under the window that holds the page's name and the scale bar, mm.
const STRIP: f64 = 14.0;
/// What neighbouring pages share, mm.
pub const OVERLAP: f64 = 10.0;
/// Half the length of a registration mark's strokes, mm.
const CROSS: f64 = 4.0;
/// White kept round the drawing so that no line is cut in half at the edge of a window, mm.
const AIR: f64 = 1.0;
/// Longest page, mm: 14 400 units is the limit of common readers (ISO 32000-1, annex C), less a little.
const LONGEST: f64 = 5000.0;
/// Narrowest and widest roll, mm: the scale bar must fit, and the widest page must be readable.
const ROLLS: [f64; 2] = [150.0, LONGEST];
/// Most tiles a drawing is broken into; more is surely a mistake of paper or of units.
const MOST_TILES: f64 = 2000.0;
/// Coordinates are rounded to this fraction of a mm: far finer than any printer, and files stay short.
const STEPS_PER_MM: f64 = 1000.0;
/// Points per mm.
const POINTS: f64 = 72.0 / 25.4;

/// A drawing in true size as a PDF file, one page per tile that holds something. Where there is more than
/// one tile, the first page shows how they lie.
///
/// # Tolerance
/// Coordinates are rounded to 0.001 mm and held in single precision.
///
/// # Errors
/// A drawing that [`Drawing::validate`] refuses, a roll narrower than 150 mm or wider than 5 m, more than
/// 2000 tiles.
pub fn drawing_to_pdf(drawing: &Drawing, paper: &Paper) -> Result<Vec<u8>> {
    drawing.validate()?;
    let sheet = Sheet::new(drawing);
    let tiling = paper
        .sizes(sheet.size[1])?
        .into_iter()
        .map(|page| Tiling::new(&sheet, page))
        .collect::<Result<Vec<_>>>()?
        .into_iter()
        // The first of equals: portrait.
        .reduce(|best, next| if next.held.len() < best.held.len() { next } else { best })
        .ok_or_else(|| Error::bug("a paper without a size"))?;
    let name = if drawing.title.is_empty() { &drawing.name } else { &drawing.title };
    let overview = usize::from(tiling.held.len() > 1);
    let count = tiling.held.len() + overview;

    let [catalog, pages, form, foot, info] = [1, 2, 3, 4, 5].map(Ref::new);
    let page_ref = |i: usize| Ref::new(6 + 2 * i as i32);
    let content_ref = |i: usize| Ref::new(7 + 2 * i as i32);
    let mut pdf = Pdf::new();
    pdf.catalog(catalog).pages(pages);
    pdf.document_info(info).title(TextStr(name));
    pdf.pages(pages).kids((0..count).map(page_ref)).count(i32::try_from(count).unwrap_or(i32::MAX));
    let (footer, named_to) = tiling.footer(name);
    for (id, content, [w, h]) in [(form, sheet.form(), sheet.size), (foot, footer, tiling.page)] {
        let mut xobject = pdf.form_xobject(id, &content);
        xobject.bbox(Rect::new(0.0, 0.0, w as f32, h as f32));
        xobject.finish();
    }
    for i in 0..count {
        let mut page = pdf.page(page_ref(i));
        let [w, h] = tiling.page.map(|x| (x * POINTS) as f32);
        page.media_box(Rect::new(0.0, 0.0, w, h)).parent(pages).contents(content_ref(i));
        page.resources().x_objects().pair(FORM, form).pair(FOOT, foot);
        page.finish();
        let numbers = format!("page {} of {count}", i + 1);
        let content = match i.checked_sub(overview) {
            None => tiling.overview(&sheet, name, paper),
            Some(tile) => tiling.tile_page(tile),
        };
        let tile = i.checked_sub(overview).filter(|_| overview == 1);
        let tile = tile.map_or_else(String::new, |tile| tiling.tile_name(tiling.held[tile]) + "   ");
        let content = tiling.finish_page(content, named_to, tile + &numbers);
        pdf.stream(content_ref(i), &content);
    }
    Ok(pdf.finish())
}

/// A file of so many pages, what they belong to, and the numbers of each page's objects, that of the page itself first.
fn started<const OBJECTS: usize>(title: &str, count: usize) -> (Pdf, Ref, impl Fn(usize) -> [Ref; OBJECTS]) {
    let [catalog, pages, info] = [1, 2, 3].map(Ref::new);
    let refs = |i: usize| std::array::from_fn(|k| Ref::new((4 + OBJECTS * i + k) as i32));
    let mut pdf = Pdf::new();
    pdf.catalog(catalog).pages(pages);
    pdf.document_info(info).title(TextStr(title));
    let kids = (0..count).map(|i| refs(i)[0]);
    pdf.pages(pages).kids(kids).count(i32::try_from(count).unwrap_or(i32::MAX));
    (pdf, pages, refs)
}

/// Drawings in true size as one PDF file, one page each; all must fit a page of this paper.
///
/// # Errors
/// As [`drawing_to_pdf`]; no drawing; one that is larger than a page.
pub fn drawings_to_pdf(title: &str, drawings: &[Drawing], paper: &Paper) -> Result<Vec<u8>> {
    let (mut pdf, pages, refs) = started::<4>(title, drawings.len());
    for (i, drawing) in drawings.iter().enumerate() {
        drawing.validate()?;
        let sheet = Sheet::new(drawing);
        let mut tiling = None;
        for page in paper.sizes(sheet.size[1])? {
            tiling = tiling.or(Some(Tiling::new(&sheet, page)?).filter(|t| t.held.len() == 1));
        }
        let Some(tiling) = tiling else {
            let [w, h] = sheet.size;
            return Err(Error::input(format!("a page of {w:.0} × {h:.0} mm does not fit {}", paper.name()))
                .at(drawing.name.clone())
                .remedy("print on larger paper"));
        };
        let [page_ref, content_ref, form, foot] = refs(i);
        let (footer, named_to) = tiling.footer(&drawing.title);
        for (id, content, [w, h]) in [(form, sheet.form(), sheet.size), (foot, footer, tiling.page)] {
            let mut xobject = pdf.form_xobject(id, &content);
            xobject.bbox(Rect::new(0.0, 0.0, w as f32, h as f32));
            xobject.finish();
        }
        let mut page = pdf.page(page_ref);
        let [w, h] = tiling.page.map(|x| (x * POINTS) as f32);
        page.media_box(Rect::new(0.0, 0.0, w, h)).parent(pages).contents(content_ref);
        page.resources().x_objects().pair(FORM, form).pair(FOOT, foot);
        page.finish();
        let numbers = format!("page {} of {}", i + 1, drawings.len());
        let content = tiling.finish_page(tiling.tile_page(0), named_to, numbers);
        pdf.stream(content_ref, &content);
    }
    if drawings.is_empty() {
        return Err(Error::bug("a file without pages"));
    }
    Ok(pdf.finish())
}

/// Whole pages of one size as a PDF file: a drawing's (0, 0) is the lower left corner of the paper, and nothing is
/// added to it.
///
/// # Tolerance
/// As [`drawing_to_pdf`].
///
/// # Errors
/// A drawing that [`Drawing::validate`] refuses; no drawing.
pub fn pages_to_pdf(title: &str, drawings: &[Drawing], size: [f64; 2]) -> Result<Vec<u8>> {
    if drawings.is_empty() {
        return Err(Error::bug("a file without pages"));
    }
    let (mut pdf, pages, refs) = started::<2>(title, drawings.len());
    for (i, drawing) in drawings.iter().enumerate() {
        drawing.validate()?;
        let [page_ref, content_ref] = refs(i);
        let mut page = pdf.page(page_ref);
        let [w, h] = size.map(|x| (x * POINTS) as f32);
        page.media_box(Rect::new(0.0, 0.0, w, h)).parent(pages).contents(content_ref);
        page.resources();
        page.finish();
        let sheet = Sheet { drawing, lo: [0.0; 2], size };
        pdf.stream(content_ref, &sheet.draw(Pen::page()));
    }
    Ok(pdf.finish())
}

/// The drawing's name among a page's resources.
const FORM: Name<'static> = Name(b"drawing");
/// The name of what is at the foot of every page.
const FOOT: Name<'static> = Name(b"foot");

impl Paper {
    /// Pages to try, mm: portrait and landscape, or a length of roll for a drawing of this height.
    fn sizes(self, height: f64) -> Result<Vec<[f64; 2]>> {
        let [w, h] = match self {
            Paper::A4 => [210.0, 297.0],
            Paper::A3 => [297.0, 420.0],
            Paper::Letter => [215.9, 279.4],
            Paper::Roll { width } => {
                // NaN is in no range, so it is refused too.
                if !(ROLLS[0]..=ROLLS[1]).contains(&width) {
                    let [least, most] = ROLLS;
                    return Err(Error::input(format!("a paper roll {width} mm wide cannot be printed on"))
                        .remedy(format!("give a width of {least} to {most} mm")));
                }
                return Ok(vec![[width, (height + 2.0 * MARGIN + STRIP).min(LONGEST)]]);
            }
        };
        Ok(vec![[w, h], [h, w]])
    }

    /// Upright size of a sheet, mm; none for a roll.
    pub fn size(self) -> Option<[f64; 2]> {
        if let Paper::Roll { .. } = self { None } else { self.sizes(0.0).ok()?.first().copied() }
    }

    /// Its name in words.
    pub fn name(self) -> String {
        match self {
            Paper::A4 => "A4".to_owned(),
            Paper::A3 => "A3".to_owned(),
            Paper::Letter => "Letter".to_owned(),
            Paper::Roll { width } => format!("a roll of {width} mm"),
        }
    }
}

/// The drawing moved so that its lower left corner, with some air, is at the origin.
struct Sheet<'a> {
    drawing: &'a Drawing,
    lo: [f64; 2],
    size: [f64; 2],
}

impl<'a> Sheet<'a> {
    fn new(drawing: &'a Drawing) -> Self {
        let [lo, hi] = lettering::extents(drawing).unwrap_or_default();
        let lo = lo.map(|x| x - AIR);
        let size = [0, 1].map(|i| hi[i] + AIR - lo[i]);
        Self { drawing, lo, size }
    }

    fn local(&self, p: [f64; 2]) -> [f64; 2] {
        [p[0] - self.lo[0], p[1] - self.lo[1]]
    }

    /// Every piece of line on it, with its writing.
    fn each_segment(&self, mut visit: impl FnMut([f64; 2], [f64; 2])) {
        for [a, b] in self.drawing.paths.iter().flat_map(Path::segments) {
            visit(self.local(a), self.local(b));
        }
        for label in &self.drawing.labels {
            lettering::each_stroke(label, |stroke| {
                stroke.windows(2).for_each(|pair| visit(self.local(pair[0]), self.local(pair[1])));
            });
        }
    }

    fn form(&self) -> Vec<u8> {
        self.draw(Pen::new())
    }

    fn draw(&self, mut pen: Pen) -> Vec<u8> {
        for layer in LAYERS {
            let mut paths = self.drawing.on(layer).peekable();
            if paths.peek().is_some() || layer == Layer::Text {
                pen.style(layer.style());
            }
            for path in paths {
                pen.line(path.points.iter().map(|p| self.local(*p)), path.closed);
            }
            if layer == Layer::Text {
                for label in &self.drawing.labels {
                    pen.weight(lettering::weight(label.height));
                    pen.write(label, self.lo);
                }
            }
        }
        pen.finish()
    }
}

/// How a drawing is broken into pages. Rows count from the top (A, B, …), columns from the left (1, 2, …).
struct Tiling {
    page: [f64; 2],
    /// Size of a page's window on the drawing.
    window: [f64; 2],
    counts: [usize; 2],
    /// Lower left corner of the lower left window, on the drawing.
    corner: [f64; 2],
    /// Column and row from below of each tile that holds something, in reading order.
    held: Vec<[usize; 2]>,
}

impl Tiling {
    fn new(sheet: &Sheet, page: [f64; 2]) -> Result<Self> {
        let window = [page[0] - 2.0 * MARGIN, page[1] - 2.0 * MARGIN - STRIP];
        let counts = [0, 1].map(|i| {
            let step = window[i] - OVERLAP;
            ((sheet.size[i] - window[i]) / step).ceil().max(0.0) + 1.0
        });
        if counts[0] * counts[1] > MOST_TILES {
            return Err(Error::input(format!(
                "the drawing of {:.0} × {:.0} mm needs {} × {} pages (allowed: {MOST_TILES} in all)",
                sheet.size[0], sheet.size[1], counts[0], counts[1]
            ))
            .remedy("print on larger paper or on a roll"));
        }
        let corner = [0, 1].map(|i| {
            let covered = counts[i] * (window[i] - OVERLAP) + OVERLAP;
            (sheet.size[i] - covered) / 2.0
        });
        let counts = counts.map(|n| n as usize);
        let mut tiling = Self { page, window, counts, corner, held: Vec::new() };
        tiling.held = tiling.find_held(sheet);
        Ok(tiling)
    }

    /// Lower left and upper right corner of a tile's own cell: the window less half of each overlap.
    fn cell(&self, [column, row]: [usize; 2]) -> [[f64; 2]; 2] {
        let at = |i: usize, k: usize| self.corner[i] + OVERLAP / 2.0 + k as f64 * (self.window[i] - OVERLAP);
        [[at(0, column), at(1, row)], [at(0, column + 1), at(1, row + 1)]]
    }

    /// A tile's cell; cells at the rim reach as far as their windows.
    fn reach(&self, tile: [usize; 2]) -> [[f64; 2]; 2] {
        let [mut lo, mut hi] = self.cell(tile);
        for i in 0..2 {
            if tile[i] == 0 {
                lo[i] -= OVERLAP / 2.0;
            }
            if tile[i] + 1 == self.counts[i] {
                hi[i] += OVERLAP / 2.0;
            }
        }
        [lo, hi]
    }

    fn find_held(&self, sheet: &Sheet) -> Vec<[usize; 2]> {
        let mut holds = vec![false; self.counts[0] * self.counts[1]];
        let index = |i: usize, x: f64| {
            let cell = (x - self.corner[i] - OVERLAP / 2.0) / (self.window[i] - OVERLAP);
            (cell.floor().max(0.0) as usize).min(self.counts[i] - 1)
        };
        sheet.each_segment(|a, b| {
            let range = |i: usize| index(i, a[i].min(b[i]))..=index(i, a[i].max(b[i]));
            for row in range(1) {
                for column in range(0) {
                    let place = row * self.counts[0] + column;
                    holds[place] = holds[place] || self.crosses([column, row], a, b);
                }
            }
        });
        let rows = (0..self.counts[1]).rev();
        let tiles = rows.flat_map(|row| (0..self.counts[0]).map(move |column| [column, row]));
        tiles.filter(|[column, row]| holds[row * self.counts[0] + column]).collect()
    }

    /// Whether a segment crosses a tile's cell (Liang and Barsky's clipping, 1984).
    fn crosses(&self, tile: [usize; 2], a: [f64; 2], b: [f64; 2]) -> bool {
        let [lo, hi] = self.reach(tile);
        let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
        for i in 0..2 {
            let d = b[i] - a[i];
            if d == 0.0 {
                if a[i] < lo[i] || a[i] > hi[i] {
                    return false;
                }
            } else {
                let (t0, t1) = ((lo[i] - a[i]) / d, (hi[i] - a[i]) / d);
                enter = enter.max(t0.min(t1));
                leave = leave.min(t0.max(t1));
            }
        }
        enter <= leave
    }

    /// Row letter from the top and column number: `B3`.
    fn tile_name(&self, [column, row]: [usize; 2]) -> String {
        let mut letters = String::new();
        let mut n = self.counts[1] - row;
        while n > 0 {
            letters.insert(0, char::from(b'A' + ((n - 1) % 26) as u8));
            n = (n - 1) / 26;
        }
        format!("{letters}{}", column + 1)
    }

    fn tile_page(&self, tile: usize) -> Pen {
        let place = self.held[tile];
        let shift = [0, 1].map(|i| {
            let window = self.corner[i] + place[i] as f64 * (self.window[i] - OVERLAP);
            MARGIN + if i == 1 { STRIP } else { 0.0 } - window
        });
        let mut pen = Pen::page();
        // Registration marks lie in the middle of the overlap, where the next page has them too.
        let [lo, hi] = self.cell(place);
        let [lo, hi] = [lo, hi].map(|p| [p[0] + shift[0], p[1] + shift[1]]);
        let joins = [0, 1].map(|i| [place[i] > 0, place[i] + 1 < self.counts[i]]);
        let mark = |width, dashes| LineStyle { width, dashes, grey: 0.0 };
        for i in 0..2 {
            for (side, joined) in joins[i].into_iter().enumerate() {
                if joined {
                    let across = [lo, hi][side][i];
                    let ends = [lo[1 - i] - CROSS, hi[1 - i] + CROSS].map(|along| {
                        let mut p = [across; 2];
                        p[1 - i] = along;
                        p
                    });
                    pen.style(LineStyle { grey: 0.5, ..mark(0.1, &[1.0, 2.0]) });
                    pen.line(ends, false);
                }
            }
        }
        pen.style(mark(0.2, &[]));
        for (i, x) in [lo[0], hi[0]].into_iter().enumerate() {
            for (j, y) in [lo[1], hi[1]].into_iter().enumerate() {
                if joins[0][i] || joins[1][j] {
                    pen.line([[x - CROSS, y], [x + CROSS, y]], false);
                    pen.line([[x, y - CROSS], [x, y + CROSS]], false);
                }
            }
        }
        pen.content.push_str("q\n");
        pen.operator(&[MARGIN, MARGIN + STRIP, self.window[0], self.window[1]], "re");
        pen.content.push_str("W n\n");
        pen.operator(&[1.0, 0.0, 0.0, 1.0, shift[0], shift[1]], "cm");
        pen.show(FORM);
        pen.content.push_str("Q\n");
        pen
    }

    /// The first page: the outlines, small, and the tiles over them with their names.
    fn overview(&self, sheet: &Sheet, name: &str, paper: &Paper) -> Pen {
        let mut pen = Pen::page();
        let [w, h] = [0, 1].map(|i| sheet.size[i] - 2.0 * AIR);
        let lines = [
            (6.0, name.to_owned()),
            (3.5, format!("true size {w:.1} × {h:.1} mm on {} pages of {}", self.held.len(), paper.name())),
            (3.5, "print at 100 %, not fitted to the page; measure the scale bar".to_owned()),
            (3.5, format!("pages overlap by {OVERLAP:.0} mm: lay cross on cross and line on line")),
        ];
        let mut top = self.page[1] - MARGIN;
        for (height, text) in lines {
            top -= height;
            pen.label([MARGIN, top], height, self.window[0], false, text);
            top -= height * 0.9;
        }
        for (layer, words) in legend(sheet.drawing) {
            top -= 3.5;
            pen.style(layer.style());
            pen.line([[MARGIN, top + 1.75], [MARGIN + SAMPLE, top + 1.75]], false);
            pen.style(Layer::Text.style());
            pen.label(
                [MARGIN + SAMPLE + 3.0, top],
                3.5,
                self.window[0] - SAMPLE - 3.0,
                false,
                words.to_owned(),
            );
            top -= 3.0;
        }
        let all = [0, 1].map(|i| self.counts[i] as f64 * (self.window[i] - OVERLAP) + OVERLAP);
        let room = [self.window[0], top - MARGIN - STRIP - 4.0];
        let scale = (room[0] / all[0]).min(room[1] / all[1]);
        let corner = [MARGIN + (room[0] - all[0] * scale) / 2.0, top - all[1] * scale];
        let small = |p: [f64; 2]| [0, 1].map(|i| corner[i] + (p[i] - self.corner[i]) * scale);
        pen.style(LineStyle { width: 0.1, dashes: &[], grey: 0.4 });
        for &tile in &self.held {
            let [lo, hi] = self.reach(tile).map(small);
            pen.line([lo, [hi[0], lo[1]], hi, [lo[0], hi[1]]], true);
        }
        let outlines =
            |path: &&Path| path.layer == Layer::Cut || sheet.drawing.on(Layer::Cut).next().is_none();
        pen.style(LineStyle { width: 0.35, dashes: &[], grey: 0.0 });
        for path in sheet.drawing.paths.iter().filter(outlines) {
            pen.line(path.points.iter().map(|p| small(sheet.local(*p))), path.closed);
        }
        for &tile in &self.held {
            let [lo, hi] = self.reach(tile).map(small);
            let height = ((hi[0] - lo[0]).min(hi[1] - lo[1]) / 4.0).min(6.0);
            let middle = [(lo[0] + hi[0]) / 2.0, (lo[1] + hi[1]) / 2.0];
            pen.label(middle, height, hi[0] - lo[0], true, self.tile_name(tile));
        }
        pen
    }

    /// What all pages have at their foot, scale bar and name, and where the name ends.
    fn footer(&self, name: &str) -> (Vec<u8>, f64) {
        let mut pen = Pen::new();
        let bar = scale_bar([MARGIN, MARGIN], 1.0);
        pen.style(LineStyle { width: 0.2, dashes: &[], grey: 0.0 });
        for path in &bar.paths {
            pen.line(path.points.iter().copied(), path.closed);
        }
        for label in &bar.labels {
            pen.label(label.at, label.height, self.window[0] - BAR, label.centred, label.text.clone());
        }
        let room = self.window[0] - NUMBERS;
        pen.label([MARGIN, MARGIN + NAME_ABOVE], NAME_HEIGHT, room, false, name.to_owned());
        (pen.finish(), MARGIN + lettering::width(name, NAME_HEIGHT).min(room))
    }

    /// Adds the foot to a page: what is common to all, and what is not.
    fn finish_page(&self, mut pen: Pen, named_to: f64, numbers: String) -> Vec<u8> {
        pen.show(FOOT);
        let at = [named_to + 2.0 * NAME_HEIGHT, MARGIN + NAME_ABOVE];
        pen.label(at, NAME_HEIGHT, NUMBERS - 2.0 * NAME_HEIGHT, false, numbers);
        pen.finish()
    }
}

/// Height of the writing at the foot of a page, mm.
const NAME_HEIGHT: f64 = 3.5;
/// How far it stands above the scale bar, mm.
const NAME_ABOVE: f64 = 7.0;
/// Width kept for the name of the tile and the number of the page, mm.
const NUMBERS: f64 = 70.0;

/// Draws polylines in mm. Operators of a page's content are written as text here (ISO 32000-1, annex A): nearly all of
/// them are strokes of writing.
struct Pen {
    content: String,
}

impl Pen {
    fn new() -> Self {
        // Round ends and round corners.
        Self { content: "1 J\n1 j\n".to_owned() }
    }

    /// A pen for a page, whose own unit is the point.
    fn page() -> Self {
        let mut pen = Self::new();
        let points = POINTS as f32;
        let _ = writeln!(pen.content, "{points} 0 0 {points} 0 0 cm");
        pen
    }

    /// Numbers and the operator that takes them.
    fn operator(&mut self, numbers: &[f64], operator: &str) {
        for number in numbers {
            Number((number * STEPS_PER_MM).round() / STEPS_PER_MM).push_to(&mut self.content);
            self.content.push(' ');
        }
        self.content.push_str(operator);
        self.content.push('\n');
    }

    fn weight(&mut self, width: f64) {
        self.operator(&[width], "w");
    }

    fn style(&mut self, style: LineStyle) {
        self.weight(style.width);
        self.operator(&[style.grey], "G");
        self.content.push('[');
        for dash in style.dashes {
            Number(*dash).push_to(&mut self.content);
            self.content.push(' ');
        }
        self.content.push_str("] 0 d\n");
    }

    fn run(&mut self, points: impl IntoIterator<Item = [f64; 2]>) {
        for (i, point) in points.into_iter().enumerate() {
            self.operator(&point, if i == 0 { "m" } else { "l" });
        }
    }

    fn line(&mut self, points: impl IntoIterator<Item = [f64; 2]>, closed: bool) {
        self.run(points);
        self.content.push_str(if closed { "s\n" } else { "S\n" });
    }

    /// Shows a form of the file.
    fn show(&mut self, name: Name<'_>) {
        let _ = writeln!(self.content, "/{} Do", String::from_utf8_lossy(name.0));
    }

    /// Writes a text, smaller where it would be wider than `room`.
    fn label(&mut self, at: [f64; 2], height: f64, room: f64, centred: bool, text: String) {
        let height = height * (room / lettering::width(&text, height)).min(1.0);
        self.style(LineStyle { width: lettering::weight(height), dashes: &[], grey: 0.0 });
        self.write(&Label { at, height, angle: 0.0, centred, text }, [0.0; 2]);
    }

    /// The strokes of a label, moved back by `lo`, in one path.
    fn write(&mut self, label: &Label, lo: [f64; 2]) {
        let start = self.content.len();
        lettering::each_stroke(label, |stroke| self.run(stroke.iter().map(|p| [p[0] - lo[0], p[1] - lo[1]])));
        if self.content.len() > start {
            self.content.push_str("S\n");
        }
    }

    fn finish(self) -> Vec<u8> {
        self.content.into_bytes()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::dxf::tests::{sample, sample_output};

    fn plate(width: f64, height: f64) -> Drawing {
        let corners = vec![[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]];
        Drawing { name: "plate".into(), paths: vec![Path::closed(Layer::Cut, corners)], ..Drawing::default() }
    }

    fn pages(drawing: &Drawing, paper: Paper) -> usize {
        let bytes = drawing_to_pdf(drawing, &paper).expect("written");
        String::from_utf8_lossy(&bytes).matches("/Type /Page\n").count()
    }

    #[test]
    fn one_page_where_it_fits_and_an_overview_where_it_does_not() {
        // The window of an A4 page is 190 × 263 mm; the drawing has 1 mm of air on each side.
        assert_eq!(pages(&plate(188.0, 261.0), Paper::A4), 1);
        assert_eq!(pages(&plate(188.5, 261.0), Paper::A4), 3);
        assert_eq!(pages(&plate(261.0, 170.0), Paper::A4), 1, "landscape");
        assert_eq!(pages(&plate(188.5, 261.0), Paper::A3), 1);
        assert_eq!(pages(&plate(3000.0, 800.0), Paper::Roll { width: 914.0 }), 5);
        assert_eq!(pages(&plate(800.0, 3000.0), Paper::Roll { width: 914.0 }), 1);
    }

    #[test]
    fn pages_that_would_be_empty_are_left_out() {
        // A frame of 3 × 3 pages has nothing on the one in the middle.
        let (w, h) = (3.0 * 180.0 - 20.0, 3.0 * 253.0 - 20.0);
        let tiling = Tiling::new(&Sheet::new(&plate(w, h)), [210.0, 297.0]).expect("tiled");
        assert_eq!((tiling.counts, tiling.held.len()), ([3, 3], 8));
        assert!(!tiling.held.contains(&[1, 1]));
        let names: Vec<String> = tiling.held.iter().map(|t| tiling.tile_name(*t)).collect();
        assert_eq!(names.join(" "), "A1 A2 A3 B1 B3 C1 C2 C3", "in reading order");
    }

    #[test]
    fn every_point_is_printed_and_neighbours_share_their_marks() {
        let drawing = sample();
        for page in [[210.0, 297.0], [297.0, 210.0], [150.0, 400.0]] {
            let sheet = Sheet::new(&drawing);
            let tiling = Tiling::new(&sheet, page).expect("tiled");
            let mut points = Vec::new();
            sheet.each_segment(|a, b| points.extend([a, b]));
            for p in points {
                let printed = tiling.held.iter().any(|&tile| {
                    let [lo, hi] = tiling.reach(tile);
                    (0..2).all(|i| lo[i] <= p[i] && p[i] <= hi[i])
                });
                assert!(printed, "{p:?} is on no page");
            }
            for &[column, row] in &tiling.held {
                let [_, hi] = tiling.cell([column, row]);
                assert_eq!(hi[0], tiling.cell([column + 1, row])[0][0], "marks to the right");
                assert_eq!(hi[1], tiling.cell([column, row + 1])[0][1], "marks above");
            }
        }
    }

    #[test]
    fn every_page_has_the_scale_bar_in_mm() {
        let bytes = drawing_to_pdf(&sample(), &Paper::A4).expect("written");
        let text = String::from_utf8_lossy(&bytes);
        let count = pages(&sample(), Paper::A4);
        assert_eq!(count, 9);
        assert_eq!(text.matches("10 10 m\n110 10 l\nS").count(), 1, "a bar from 10 to 110");
        assert_eq!(text.matches("/foot Do").count(), count, "on every page");
        assert_eq!(text.matches("2.8346457 0 0 2.8346457 0 0 cm").count(), count, "points per mm");
        assert_eq!(text.matches("/MediaBox [0 0 595.2756 841.8898]").count(), count, "A4");
    }

    #[test]
    fn two_runs_give_the_same_bytes_without_a_date() {
        let first = files(&sample_output()).expect("written");
        assert_eq!(first, files(&sample_output()).expect("written"));
        let paths: Vec<&str> = first.iter().map(|f| f.path.as_str()).collect();
        assert_eq!(paths, ["templates/A_west.pdf", "templates/A_east.pdf"]);
        assert!(!String::from_utf8_lossy(&first[0].bytes).contains("Date"));
    }

    #[test]
    fn unusable_paper_and_endless_drawings_are_refused() {
        for width in [0.0, 149.0, 5001.0, f64::NAN] {
            let error = drawing_to_pdf(&plate(100.0, 100.0), &Paper::Roll { width }).expect_err("refused");
            assert!(error.to_string().contains("150 to 5000"), "{error}");
        }
        let error = drawing_to_pdf(&plate(1.0e8, 1.0e8), &Paper::A4).expect_err("refused").to_string();
        assert!(error.contains("2000 in all"), "{error}");
    }

    #[test]
    fn rows_beyond_the_alphabet_get_two_letters() {
        let tall = Tiling::new(&Sheet::new(&plate(100.0, 30.0 * 253.0)), [210.0, 297.0]).expect("tiled");
        assert_eq!(tall.tile_name([0, tall.counts[1] - 26]), "Z1");
        assert_eq!(tall.tile_name([0, tall.counts[1] - 27]), "AA1");
    }
}
