//! The pages of the job book about each element, in building order: where it is, what it is cut from, how each part is
//! measured, which seams close it, and how it is put together.

use super::book_content::{Block, Chapter, Column, Field, Grid, Line, PAGE_HEIGHT, PAGE_WIDTH, Row, RowKind};
use super::book_cover::{GAP, WHERE};
use super::book_picture::{CAPITAL, Picture, SMALLEST_LETTERS, thumbnail};
use super::book_welds;
use crate::drawing::{Drawing, Label};
use crate::output::Output;
use crate::part::{Part, PartKind};
use crate::seam::Seam;
use crate::template::PartTemplates;
use crate::work::Work;
use std::collections::BTreeMap;

/// Width and height the picture of where the element is may take, mm.
const WHERE_ROOM: [f64; 2] = [58.0, 92.0];
/// The same for the element taken apart.
const APART_ROOM: [f64; 2] = [PAGE_WIDTH, PAGE_HEIGHT - 10.0];
/// Rooms for the drawing of a part, the smallest first: two columns, half a page, a page.
const PART_ROOMS: [[f64; 2]; 3] = [
    [(PAGE_WIDTH - GAP) / 2.0, 70.0],
    [PAGE_WIDTH, PAGE_HEIGHT / 2.0 - 12.0],
    [PAGE_WIDTH, PAGE_HEIGHT - 12.0],
];
/// Parts smaller than this, mm, are drawn two side by side.
const HAND: f64 = 200.0;
/// Letters of a drawing that its own figures need, mm: smaller ones have to grow until they touch.
const LEAST_OWN_LETTERS: f64 = 2.9;

/// Names of drawings of elements taken apart end so, those of parts begin so.
const APART: &str = "-exploded";
const PART: &str = "part-";

/// What is asked of the work over and over.
pub(super) struct Elements<'a> {
    work: &'a Work,
    output: &'a Output,
    /// Elements in building order.
    order: Vec<usize>,
    /// Place of each element in that order.
    place: Vec<usize>,
    /// For each part its element.
    of_part: Vec<usize>,
    /// The sheets that each part lies on.
    lies_on: BTreeMap<usize, Vec<&'a str>>,
}

impl<'a> Elements<'a> {
    pub(super) fn new(work: &'a Work, output: &'a Output) -> Self {
        let count = work.sculpture.elements.len();
        let name = |i: usize| work.sculpture.elements[i].solid.name.as_str();
        let known = book_welds::building_order(output);
        let mut order: Vec<usize> = (0..count).collect();
        // Elements that are not in the schedule come last, in the order of the script.
        order.sort_by_key(|&i| known.iter().position(|k| k == name(i)).unwrap_or(known.len()));
        let mut place = vec![0; count];
        order.iter().enumerate().for_each(|(k, &i)| place[i] = k);
        let mut this = Self { work, output, order, place, of_part: Vec::new(), lies_on: BTreeMap::new() };
        this.of_part = this.elements_of_parts();
        this.lies_on = this.sheets_of_parts();
        this
    }

    /// The element with which a seam is closed: the later one.
    fn of_seam(&self, seam: &Seam) -> usize {
        let [a, b] = seam.between.map(|face| self.work.faces[face].element);
        if self.place[a] >= self.place[b] { a } else { b }
    }

    fn elements_of_parts(&self) -> Vec<usize> {
        let faces: BTreeMap<&str, usize> =
            self.work.faces.iter().map(|f| (f.id.as_str(), f.element)).collect();
        let seams: BTreeMap<&str, usize> =
            self.work.seams.iter().map(|s| (s.id.as_str(), self.of_seam(s))).collect();
        let element = |part: &Part| {
            let of = |name: &str| faces.get(name).or_else(|| seams.get(name)).copied();
            of(&part.face).or_else(|| of(&part.id)).unwrap_or(0)
        };
        self.work.parts.iter().map(element).collect()
    }

    fn sheets_of_parts(&self) -> BTreeMap<usize, Vec<&'a str>> {
        let parts: BTreeMap<&str, usize> =
            self.work.parts.iter().enumerate().map(|(i, p)| (p.id.as_str(), i)).collect();
        // A piece of a part that is larger than a sheet has the part's name and a number.
        let part_of = |piece: &str| {
            let whole = || piece.rsplit_once(['#', '.', '-', ' ']).map(|(part, _)| part);
            parts.get(piece).or_else(|| parts.get(whole()?)).copied()
        };
        let mut found: BTreeMap<usize, Vec<&str>> = BTreeMap::new();
        for sheet in &self.output.sheets {
            for part in sheet.parts.iter().filter_map(|laid| part_of(&laid.id)) {
                let sheets = found.entry(part).or_default();
                if !sheets.contains(&sheet.name.as_str()) {
                    sheets.push(&sheet.name);
                }
            }
        }
        found
    }

    /// One chapter for each element.
    pub(super) fn chapters(&self) -> Vec<Chapter<'a>> {
        self.order.iter().enumerate().map(|(k, &element)| self.chapter(k, element)).collect()
    }

    fn chapter(&self, k: usize, element: usize) -> Chapter<'a> {
        let name = self.work.sculpture.elements[element].solid.name.as_str();
        let mut chapter =
            Chapter { below: true, ..Chapter::new(&format!("element-{}", k + 1), format!("Element {name}")) };
        let parts: Vec<usize> = (0..self.work.parts.len()).filter(|&i| self.of_part[i] == element).collect();
        chapter.text(format!("Number {} of {} in building order.", k + 1, self.order.len()));
        let is_where = |d: &&Drawing| d.name == format!("{WHERE}{}", stem(name));
        if let Some(drawing) = self.output.views.iter().find(is_where) {
            chapter.picture(Picture::fitted(drawing, WHERE_ROOM, SMALLEST_LETTERS));
        }
        chapter.blocks.push(Block::Figures(self.figures(element, &parts)));
        chapter.heading("Parts");
        chapter.text("Outlines as seen from outside, flat, each filling its field; thin lines are the marks along the ribs.");
        chapter.blocks.push(Block::Grid(self.parts(&parts)));
        let apart = format!("{name} taken apart");
        let drawings = || self.output.drawings.iter();
        for drawing in drawings().filter(|d| d.name.ends_with(APART) && d.title.starts_with(&apart)) {
            chapter.heading("Taken apart");
            chapter.text(
                "Seen from the south-east and from above. Of parts marked (inside) the inside is seen.",
            );
            let room = [APART_ROOM[0], APART_ROOM[1] - 30.0];
            chapter.picture(Picture::fitted(drawing, room, SMALLEST_LETTERS));
        }
        self.seams(&mut chapter, element);
        if let Some(steps) = book_welds::steps(self.output, name) {
            chapter.heading("Put together");
            chapter.text(
                "From the bottom up. No element is closed before the seams asked for from inside are done. Prop every part \
                 until its seams are welded: nothing here says that it stands by itself. Times are of the shop's own figures.",
            );
            chapter.blocks.push(Block::Grid(steps));
        }
        self.drawings(&mut chapter, &parts);
        chapter
    }

    fn figures(&self, element: usize, parts: &[usize]) -> Vec<(String, String, &'static str)> {
        let of = |f: &dyn Fn(&Part) -> f64| parts.iter().map(|&i| f(&self.work.parts[i])).sum::<f64>();
        let mut rows = vec![
            ("Parts".to_owned(), parts.len().to_string(), ""),
            ("Mass of parts".to_owned(), format!("{:.0}", of(&|p| p.mass)), "kg"),
            ("Area of parts".to_owned(), format!("{:.2}", of(&|p| p.area) / 1.0e6), "m²"),
        ];
        let seams = self.work.seams.iter().filter(|s| self.of_seam(s) == element);
        rows.push(("Seams".to_owned(), format!("{:.1}", seams.map(|s| s.length).sum::<f64>() / 1000.0), "m"));
        rows
    }

    fn parts(&self, parts: &[usize]) -> Grid<'a> {
        let laid = !self.lies_on.is_empty();
        let mut columns = vec![
            Column::words("Outline"),
            Column::words("Part"),
            Column::words("Made of"),
            Column::figures("Size", "mm"),
            Column::figures("Cut", "m"),
            Column::figures("Area", "m²"),
            Column::figures("Mass", "kg"),
        ];
        if laid {
            columns.insert(3, Column::words("Lies on"));
        }
        let row = |&i: &usize| {
            let part = &self.work.parts[i];
            let made = self.output.templates.iter().find(|t| t.part == i);
            let shown = made.and_then(PartTemplates::to_print);
            let size = made.and_then(|t| Some(&t.templates[t.to_cut()?].drawing)).map(size_words);
            let mut cells: Vec<Line> = vec![
                Line::new(),
                Line::new().bold(&part.id),
                sheet_words(&part.kind).into(),
                size.unwrap_or_default().into(),
                format!("{:.2}", part.cut_length / 1000.0).into(),
                format!("{:.3}", part.area / 1.0e6).into(),
                book_welds::tenths(part.mass).into(),
            ];
            if laid {
                let sheets = self.lies_on.get(&i).map(|names| names.join(", ")).unwrap_or_default();
                cells.insert(3, sheets.into());
            }
            let mut row = Row::body(cells);
            row.cells[0] = Field { line: Line::new(), picture: shown.and_then(|t| thumbnail(&t.drawing)) };
            row
        };
        let of = |f: &dyn Fn(&Part) -> f64| parts.iter().map(|&i| f(&self.work.parts[i])).sum::<f64>();
        let mut sum: Vec<Line> = vec![
            Line::new(),
            "Together".into(),
            Line::new(),
            Line::new(),
            format!("{:.1}", of(&|p| p.cut_length) / 1000.0).into(),
            format!("{:.2}", of(&|p| p.area) / 1.0e6).into(),
            format!("{:.0}", of(&|p| p.mass)).into(),
        ];
        if laid {
            sum.insert(3, Line::new());
        }
        let mut rows: Vec<Row<'a>> = parts.iter().map(row).collect();
        rows.push(Row { kind: RowKind::Foot, ..Row::foot(sum) });
        Grid { shows: vec!["parts".to_owned()], class: "parts", columns, rows }
    }

    fn seams(&self, chapter: &mut Chapter<'a>, element: usize) {
        let seams: Vec<&Seam> = self.work.seams.iter().filter(|s| self.of_seam(s) == element).collect();
        if seams.is_empty() {
            return;
        }
        chapter.heading("Seams");
        chapter.text(
            "Those within the element, and those to the elements before it. Wobble is how far the seam departs from the \
             straight edge of the plain solid: at most, and on average (RMS). The angle is measured inside, between the \
             two faces; above 180° the seam is a hollow one.",
        );
        let row = |s: &&Seam| {
            Row::body(vec![
                Line::new().bold(&s.id),
                s.joint.word().into(),
                format!("{:.0}", s.length).into(),
                format!("{:.0}", s.nominal_length).into(),
                format!("{:.0}, {:.0}", s.wobble_peak, s.wobble_rms).into(),
                format!("{:.1}", s.dihedral).into(),
            ])
        };
        chapter.blocks.push(Block::Grid(Grid {
            shows: vec!["seams".to_owned()],
            class: "seams",
            columns: vec![
                Column::words("Seam"),
                Column::words("Joint"),
                Column::figures("Length", "mm"),
                Column::figures("Straight", "mm"),
                Column::figures("Wobble", "mm at most, RMS"),
                Column::figures("Angle", "°"),
            ],
            rows: seams.iter().map(row).collect(),
        }));
    }

    /// The drawings of its parts with their dimensions, each as small as its figures can be read; small ones side by side.
    fn drawings(&self, chapter: &mut Chapter<'a>, parts: &[usize]) {
        let mut small: Vec<Picture<'a>> = Vec::new();
        let mut large: Vec<Picture<'a>> = Vec::new();
        for &i in parts {
            let begin = format!("{}, ", self.work.parts[i].id);
            let of_part = |d: &&Drawing| d.name.starts_with(PART) && d.title.starts_with(&begin);
            // Closure strips have but a few figures: these may grow.
            let closure = matches!(self.work.parts[i].kind, PartKind::Closure { .. });
            for drawing in self.output.drawings.iter().filter(of_part) {
                if closure {
                    // Figures are centred on what they measure; the heading is too long for a small picture.
                    let figures = |l: &Label| l.centred;
                    small.extend(Picture::fitted_without(drawing, PART_ROOMS[0], SMALLEST_LETTERS, figures));
                    continue;
                }
                // What is small enough for a hand needs no page: its figures may stand closer.
                if part_size(drawing) < HAND {
                    if let Some(picture) = Picture::fitted(drawing, PART_ROOMS[0], SMALLEST_LETTERS) {
                        small.push(picture);
                    }
                    continue;
                }
                let least = drawing.labels.iter().map(|l| l.height / CAPITAL).fold(f64::INFINITY, f64::min);
                for (k, room) in PART_ROOMS.into_iter().enumerate() {
                    let Some(picture) = Picture::fitted(drawing, room, SMALLEST_LETTERS) else { break };
                    if least / picture.scale < LEAST_OWN_LETTERS && k + 1 < PART_ROOMS.len() {
                        continue;
                    }
                    if k == 0 { &mut small } else { &mut large }.push(picture);
                    break;
                }
            }
        }
        if small.is_empty() && large.is_empty() {
            return;
        }
        chapter.heading("Dimensions of the parts");
        chapter.text(
            "Each in its own scale, mm. Corners are measured from the left edge and from the datum line.",
        );
        chapter.blocks.extend(large.into_iter().map(Block::Picture));
        if !small.is_empty() {
            chapter.blocks.push(Block::Pictures { columns: 2, pictures: small });
        }
    }
}

/// The longer side of what is cut, mm.
fn part_size(drawing: &Drawing) -> f64 {
    let points = || drawing.true_outlines().flat_map(|p| &p.points);
    let span = |k: usize| {
        let [low, high] =
            points().fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], p| [l.min(p[k]), h.max(p[k])]);
        high - low
    };
    span(0).max(span(1))
}

/// The file stem of an element's name.
fn stem(name: &str) -> String {
    let safe = |c: char| if c.is_ascii_alphanumeric() || c == '.' || c == '-' { c } else { '_' };
    name.chars().map(safe).collect()
}

fn sheet_words(kind: &PartKind) -> String {
    match kind {
        PartKind::Sheet { profile, .. } if profile.depth() > 0.0 => format!(
            "{} {} × {}, {} mm",
            profile.kind().replace('_', " "),
            profile.pitch(),
            profile.depth(),
            profile.thickness()
        ),
        PartKind::Sheet { profile, .. } => format!("flat, {} mm", profile.thickness()),
        PartKind::Closure { thickness } => format!("closure strip, flat, {thickness} mm"),
    }
}

/// Overall size of what is cut, the longer side first.
fn size_words(drawing: &Drawing) -> String {
    let mut points = drawing.true_outlines().flat_map(|p| &p.points);
    let Some(&first) = points.next() else { return String::new() };
    let [lo, hi] = points.fold([first, first], |[lo, hi], p| {
        [[lo[0].min(p[0]), lo[1].min(p[1])], [hi[0].max(p[0]), hi[1].max(p[1])]]
    });
    let [w, h] = [hi[0] - lo[0], hi[1] - lo[1]];
    format!("{:.0} × {:.0}", w.max(h), w.min(h))
}
