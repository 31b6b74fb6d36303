//! The job book as a PDF file, made without a browser: real text, vector pictures, page numbers, bookmarks, and named
//! places (`table-parts`, `drawing-spine`) that links can lead to. A4; what is set also fits US Letter.
//!
//! Pages are filled in order, then written side by side (ISO 32000-1). Nothing depends on the clock.

use super::book_content::Book;
use super::book_flow::{Flow, Mark, Piece, Run, Shade, TICK};
use super::book_fonts::{Used, WEIGHTS, Weight, width};
use super::book_picture::{Picture, STROKES, below_middle};
use super::web_page::MADE_BY;
use crate::error::{Error, Result};
use miniz_oxide::deflate::compress_to_vec_zlib;
use pdf_writer::types::{ActionType, AnnotationType, LineCapStyle, LineJoinStyle, PageMode};
use pdf_writer::{Content, Filter, Finish, Pdf, Rect, Ref, Str, TextStr};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Width and height of A4 (ISO 216), and margins, mm.
const PAGE: [f64; 2] = [210.0, 297.0];
const LEFT: f64 = 15.0;
const TOP: f64 = 15.0;
const BOTTOM: f64 = 18.0;
/// Base line of the foot, and the size of its letters, mm.
const FOOT: f64 = 9.0;
const FOOT_LETTERS: f64 = 10.0 * 25.4 / 72.0;
/// Points per mm.
const POINTS: f64 = 72.0 / 25.4;
/// Height of a line of the contents, the size of its letters, and what its heading takes, mm.
const ENTRY: f64 = 6.6;
const ENTRY_LETTERS: f64 = 11.5 * 25.4 / 72.0;
const ENTRY_INDENT: f64 = 8.0;
const CONTENTS_HEADING: f64 = 22.0;
/// How hard pages are packed: more is slower and hardly smaller.
const PACKING: u8 = 1;
/// Coordinates are rounded to this fraction of a mm.
const STEPS_PER_MM: f64 = 100.0;

const CAUTION: &str = "Preliminary: a licensed engineer and the local code decide";

fn packed(bytes: &[u8]) -> Vec<u8> {
    compress_to_vec_zlib(bytes, PACKING)
}

/// Pieces on one page, each with where its top is, counted from the top margin.
#[derive(Default)]
struct Page<'b> {
    pieces: Vec<(f64, &'b Piece<'b>)>,
    strength: bool,
}

/// An entry of the contents and of the bookmarks.
struct Entry<'b> {
    title: &'b str,
    below: bool,
    /// Index of its page.
    page: usize,
}

/// The bytes of the file.
pub(super) fn pages(book: &Book<'_>, revision: &str) -> Result<Vec<u8>> {
    let kind = format!("Job book · revision {revision}");
    let flows: Vec<Flow<'_>> = book
        .chapters
        .par_iter()
        .enumerate()
        .map(|(k, chapter)| Flow::of(chapter, (k == 0).then_some(kind.as_str())))
        .collect();
    let room = PAGE[1] - TOP - BOTTOM;
    let mut pages: Vec<Page<'_>> = Vec::new();
    let mut entries: Vec<Entry<'_>> = Vec::new();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few dozen lines on a page")]
    let on_page = ((room - CONTENTS_HEADING) / ENTRY) as usize;
    let contents = (book.chapters.len() - 1).div_ceil(on_page).max(1);
    for (k, (chapter, flow)) in book.chapters.iter().zip(&flows).enumerate() {
        if k > 0 {
            entries.push(Entry { title: &chapter.title, below: chapter.below, page: pages.len() });
        }
        paginate(flow, room, chapter.strength, &mut pages);
        if k == 0 {
            pages.extend((0..contents).map(|_| Page::default()));
        }
    }
    let cover = pages.len().min(pages.iter().take_while(|p| !p.pieces.is_empty()).count());
    let total = pages.len();
    let written: Vec<(Vec<u8>, Used)> = pages
        .par_iter()
        .enumerate()
        .map(|(i, page)| {
            let mut pen = Pen::new();
            if (cover..cover + contents).contains(&i) {
                let first = (i - cover) * on_page;
                let shown = &entries[first.min(entries.len())..(first + on_page).min(entries.len())];
                pen.contents(shown, i == cover);
            }
            for (y, piece) in &page.pieces {
                pen.piece(*y, piece);
            }
            let left =
                if page.strength { CAUTION.to_owned() } else { format!("{} · {revision}", book.title) };
            pen.foot(&left, &format!("{} / {total}", i + 1));
            (packed(&pen.content.finish()), pen.used)
        })
        .collect();
    file(book, &pages, &entries, written, cover, on_page)
}

/// Fills pages with the pieces of a chapter.
fn paginate<'b>(flow: &'b Flow<'b>, room: f64, strength: bool, pages: &mut Vec<Page<'b>>) {
    pages.push(Page { pieces: Vec::new(), strength });
    let mut y = 0.0;
    let mut k = 0;
    while k < flow.pieces.len() {
        // What is kept together: up to the first piece that lets its follower go.
        let mut end = k;
        while flow.pieces[end].keep && end + 1 < flow.pieces.len() {
            end += 1;
        }
        let group = &flow.pieces[k..=end];
        let high: f64 = group
            .iter()
            .enumerate()
            .map(|(i, p)| p.height + if i == 0 && y == 0.0 { 0.0 } else { p.before })
            .sum();
        let mut fresh = y == 0.0;
        if y > 0.0 && y + high > room {
            pages.push(Page { pieces: Vec::new(), strength });
            (y, fresh) = (0.0, true);
        }
        for piece in group {
            // More than a page that wants to be together is parted after all.
            if y > 0.0 && y + piece.before + piece.height > room {
                pages.push(Page { pieces: Vec::new(), strength });
                (y, fresh) = (0.0, true);
            }
            let Some(page) = pages.last_mut() else { return };
            if let Some(head) = piece.head.filter(|_| fresh) {
                let head = &flow.heads[head];
                page.pieces.push((y, head));
                y += head.height;
            }
            if y > 0.0 {
                y += piece.before;
            }
            page.pieces.push((y, piece));
            y += piece.height;
            fresh = false;
        }
        k = end + 1;
    }
}

fn file(
    book: &Book<'_>,
    pages: &[Page<'_>],
    entries: &[Entry<'_>],
    written: Vec<(Vec<u8>, Used)>,
    cover: usize,
    on_page: usize,
) -> Result<Vec<u8>> {
    let mut used = Used::default();
    written.iter().for_each(|(_, u)| used.merge(u));
    let mut count = 0;
    let mut next = || {
        count += 1;
        Ref::new(count)
    };
    let [catalog, tree, info, outline] = std::array::from_fn(|_| next());
    let fonts: [Ref; 2] = std::array::from_fn(|_| next());
    let page_refs: Vec<[Ref; 2]> = pages.iter().map(|_| [next(), next()]).collect();
    let marks: Vec<Ref> = entries.iter().map(|_| next()).collect();
    let number = |n: usize| i32::try_from(n).map_err(|_| Error::bug("a book of too many pages"));
    let mut pdf = Pdf::new();
    // Places that names lead to, the first of each name.
    let mut places: BTreeMap<&str, (usize, f64)> = BTreeMap::new();
    for (i, page) in pages.iter().enumerate() {
        for (y, piece) in &page.pieces {
            for name in &piece.names {
                places.entry(name).or_insert((i, PAGE[1] - TOP - y));
            }
        }
    }
    let places: Vec<(&str, Ref, (usize, f64))> =
        places.into_iter().map(|(name, place)| (name, next(), place)).collect();
    for &(_, id, (page, y)) in &places {
        pdf.destination(id).page(page_refs[page][0]).xyz(0.0, points(y), None);
    }
    let mut root = pdf.catalog(catalog);
    root.pages(tree).outlines(outline).page_mode(PageMode::UseOutlines).lang(TextStr("en"));
    root.viewer_preferences().display_doc_title(true);
    {
        let mut names = root.names();
        let mut tree = names.destinations();
        let mut list = tree.names();
        for (name, id, _) in &places {
            list.insert(Str(name.as_bytes()), *id);
        }
    }
    root.finish();
    let title = format!("{} · job book", book.title);
    pdf.document_info(info).title(TextStr(&title)).producer(TextStr(MADE_BY));
    pdf.pages(tree).kids(page_refs.iter().map(|p| p[0])).count(number(pages.len())?);
    let top = points(PAGE[1] - TOP);
    {
        let mut all = pdf.outline(outline);
        if let [first, .., last] = marks.as_slice() {
            all.first(*first).last(*last).count(number(marks.len())?);
        } else if let [only] = marks.as_slice() {
            all.first(*only).last(*only).count(1);
        }
    }
    for (k, entry) in entries.iter().enumerate() {
        let mut item = pdf.outline_item(marks[k]);
        item.title(TextStr(entry.title)).parent(outline);
        if k > 0 {
            item.prev(marks[k - 1]);
        }
        if let Some(after) = marks.get(k + 1) {
            item.next(*after);
        }
        item.dest().page(page_refs[entry.page][0]).xyz(0.0, top, None);
    }
    let contents = entries.len().div_ceil(on_page).max(1);
    for (i, (stream, _)) in written.iter().enumerate() {
        let [id, content] = page_refs[i];
        let links: Vec<(usize, &Entry<'_>)> = match i.checked_sub(cover).filter(|k| *k < contents) {
            Some(k) => entries.iter().skip(k * on_page).take(on_page).enumerate().collect(),
            None => Vec::new(),
        };
        let mut page = pdf.page(id);
        let [w, h] = PAGE.map(points);
        page.media_box(Rect::new(0.0, 0.0, w, h)).parent(tree).contents(content);
        {
            let mut resources = page.resources();
            let mut by_name = resources.fonts();
            for ((_, name), id) in WEIGHTS.into_iter().zip(fonts) {
                by_name.pair(name, id);
            }
        }
        let link_refs: Vec<Ref> = links.iter().map(|_| next()).collect();
        if !links.is_empty() {
            page.annotations(link_refs.iter().copied());
        }
        page.finish();
        for ((k, entry), id) in links.into_iter().zip(link_refs) {
            let base = entry_base(k, i == cover);
            let mut link = pdf.annotation(id);
            link.subtype(AnnotationType::Link).border(0.0, 0.0, 0.0, None).rect(Rect::new(
                points(LEFT),
                points(base - 1.8),
                points(PAGE[0] - LEFT),
                points(base + ENTRY - 2.0),
            ));
            link.action()
                .action_type(ActionType::GoTo)
                .destination()
                .page(page_refs[entry.page][0])
                .xyz(0.0, top, None);
        }
        pdf.stream(content, stream).filter(Filter::FlateDecode);
    }
    used.write(&mut pdf, fonts, next, packed)?;
    Ok(pdf.finish())
}

/// Base line of an entry of the contents, mm from the foot of the page.
#[allow(clippy::cast_precision_loss, reason = "a few dozen lines")]
fn entry_base(k: usize, first: bool) -> f64 {
    PAGE[1] - TOP - if first { CONTENTS_HEADING } else { 4.0 } - ENTRY * k as f64
}

#[allow(clippy::cast_possible_truncation, reason = "a page is far below 2^24 steps")]
fn points(mm: f64) -> f32 {
    (mm * POINTS) as f32
}

#[allow(clippy::cast_possible_truncation, reason = "a page is far below 2^24 steps")]
fn rounded(mm: f64) -> f32 {
    ((mm * STEPS_PER_MM).round() / STEPS_PER_MM) as f32
}

/// Writes the content of a page, in mm from its lower left corner.
struct Pen {
    content: Content,
    used: Used,
    shade: Option<Shade>,
}

impl Pen {
    fn new() -> Self {
        let mut content = Content::new();
        let scale = points(1.0);
        content.transform([scale, 0.0, 0.0, scale, 0.0, 0.0]);
        content.set_line_cap(LineCapStyle::RoundCap).set_line_join(LineJoinStyle::RoundJoin);
        Self { content, used: Used::default(), shade: None }
    }

    fn shade(&mut self, shade: Shade) {
        if self.shade != Some(shade) {
            let [r, g, b] = match shade {
                Shade::Ink => [0.07; 3],
                Shade::Soft => [0.33; 3],
                Shade::Rust => [0.604, 0.271, 0.086],
                Shade::Rule => [0.79, 0.77, 0.745],
            };
            self.content.set_fill_rgb(r, g, b).set_stroke_rgb(r, g, b);
            self.shade = Some(shade);
        }
    }

    /// Words from a place on the page, turned by degrees.
    fn words(&mut self, at: [f64; 2], angle: f64, run: &Run) {
        self.shade(run.shade);
        let name = WEIGHTS[run.weight as usize].1;
        let codes = self.used.codes(&run.text, run.weight);
        self.content.begin_text().set_font(name, rounded(run.size));
        let [x, y] = at.map(rounded);
        if angle == 0.0 {
            self.content.next_line(x, y);
        } else {
            #[allow(clippy::cast_possible_truncation, reason = "a turn")]
            let [sin, cos] = [angle.to_radians().sin() as f32, angle.to_radians().cos() as f32];
            self.content.set_text_matrix([cos, sin, -sin, cos, x, y]);
        }
        self.content.show(Str(&codes)).end_text();
    }

    fn line(&mut self, from: [f64; 2], to: [f64; 2], width: f64, shade: Shade) {
        self.shade(shade);
        let ([x0, y0], [x1, y1]) = (from.map(rounded), to.map(rounded));
        self.content.set_line_width(rounded(width)).move_to(x0, y0).line_to(x1, y1).stroke();
    }

    /// A piece whose top is `y` below the top margin.
    fn piece(&mut self, y: f64, piece: &Piece<'_>) {
        let top = PAGE[1] - TOP - y;
        let place = |[x, down]: [f64; 2]| [LEFT + x, top - down];
        for mark in &piece.marks {
            match mark {
                Mark::Words { y, run } => self.words(place([run.x, *y]), 0.0, run),
                Mark::Rule { from, to, width, shade } => self.line(place(*from), place(*to), *width, *shade),
                Mark::Tick(corner) => {
                    self.shade(Shade::Ink);
                    let [x, y] = place(*corner).map(rounded);
                    self.content.set_line_width(0.35).rect(x, y, rounded(TICK), rounded(TICK)).stroke();
                }
                Mark::Picture { at, shrink, picture } => self.picture(place(*at), *shrink, picture),
            }
        }
    }

    /// A picture whose upper left corner is here.
    fn picture(&mut self, [left, top]: [f64; 2], shrink: f64, picture: &Picture<'_>) {
        let k = shrink / picture.scale;
        let [low, high] = picture.frame;
        let place = |p: [f64; 2]| [left + (p[0] - low[0]) * k, top - (high[1] - p[1]) * k];
        for stroke in &STROKES {
            let mut begun = false;
            for (points, closed) in picture.lines(stroke.layer) {
                if !begun {
                    self.shade(if stroke.soft { Shade::Rust } else { Shade::Ink });
                    #[allow(clippy::cast_possible_truncation, reason = "parts of a mm")]
                    let dashes = stroke.dashes.iter().map(|&d| d as f32);
                    self.content.set_line_width(rounded(stroke.width)).set_dash_pattern(dashes, 0.0);
                    begun = true;
                }
                for (i, p) in points.iter().enumerate() {
                    let [x, y] = place(*p).map(rounded);
                    if i == 0 {
                        self.content.move_to(x, y)
                    } else {
                        self.content.line_to(x, y)
                    };
                }
                if closed {
                    self.content.close_path();
                }
                self.content.stroke();
            }
            if begun && !stroke.dashes.is_empty() {
                self.content.set_dash_pattern([], 0.0);
            }
        }
        for label in &picture.drawing.labels {
            let size = picture.font(label) * k;
            let (sin, cos) = label.angle.to_radians().sin_cos();
            let [x, y] = place(label.at);
            let (back, down) = match label.centred {
                true => (width(&label.text, Weight::Regular) * size / 2.0, below_middle(label) * k),
                false => (0.0, 0.0),
            };
            let at = [x - back * cos + down * sin, y - back * sin - down * cos];
            let text = label.text.clone();
            self.words(
                at,
                label.angle,
                &Run { x: 0.0, size, weight: Weight::Regular, shade: Shade::Ink, text },
            );
        }
    }

    fn foot(&mut self, left: &str, right: &str) {
        for (text, end) in [(left, false), (right, true)] {
            let wide = width(text, Weight::Regular) * FOOT_LETTERS;
            let x = if end { PAGE[0] - LEFT - wide } else { LEFT };
            let run = Run {
                x: 0.0,
                size: FOOT_LETTERS,
                weight: Weight::Regular,
                shade: Shade::Soft,
                text: text.to_owned(),
            };
            self.words([x, FOOT], 0.0, &run);
        }
    }

    fn contents(&mut self, entries: &[Entry<'_>], first: bool) {
        let run = |size: f64, weight: Weight, text: &str| Run {
            x: 0.0,
            size,
            weight,
            shade: Shade::Ink,
            text: text.to_owned(),
        };
        if first {
            let y = PAGE[1] - TOP - 0.6;
            self.line([LEFT, y], [PAGE[0] - LEFT, y], 1.2, Shade::Rust);
            let size = 24.0 * 25.4 / 72.0;
            self.words([LEFT, y - 11.0], 0.0, &run(size, Weight::Bold, "Contents"));
        }
        for (k, entry) in entries.iter().enumerate() {
            let base = entry_base(k, first);
            let x = LEFT + if entry.below { ENTRY_INDENT } else { 0.0 };
            let page = (entry.page + 1).to_string();
            let wide = width(&page, Weight::Regular) * ENTRY_LETTERS;
            let mut title = entry.title.to_owned();
            let room = PAGE[0] - LEFT - x - wide - 6.0;
            while width(&title, Weight::Regular) * ENTRY_LETTERS > room {
                title.pop();
            }
            if title != entry.title {
                title.pop();
                title.push('…');
            }
            self.words([x, base], 0.0, &run(ENTRY_LETTERS, Weight::Regular, &title));
            self.words([PAGE[0] - LEFT - wide, base], 0.0, &run(ENTRY_LETTERS, Weight::Regular, &page));
            self.line([LEFT, base - 1.9], [PAGE[0] - LEFT, base - 1.9], 0.2, Shade::Rule);
        }
    }
}
