//! The content of the job book as pieces that are set on pages: lines wrapped, tables parted into rows, pictures with
//! what stands below them. A piece is never parted; what belongs together is kept on one page.
//!
//! Lengths are mm on paper, y counts down from the top of a piece.

use super::book_content::{
    Block, Chapter, Column, Field, Grid, Line, PAGE_HEIGHT, PAGE_WIDTH, Row, RowKind, Span,
};
use super::book_cover::GAP;
use super::book_fonts::{Weight, width};
use super::book_picture::Picture;
use super::book_tables::{BETWEEN, TABLE_LETTERS};

/// Sizes of letters, mm: body 11.5 points, small words 10, in tables 10 and 9.5.
const POINT: f64 = 25.4 / 72.0;
const BODY: f64 = 11.5 * POINT;
const SMALL: f64 = 10.0 * POINT;
const TABLE_SMALL: f64 = 9.5 * POINT;
const TITLE: f64 = 46.0 * POINT;
const CHAPTER: f64 = 24.0 * POINT;
const HEADING: f64 = 14.0 * POINT;
/// Distance of lines over the size of their letters, and of the base line from the top of its line.
const LEADING: f64 = 1.38;
const TIGHT: f64 = 1.25;
const BASE: f64 = 0.76;
/// Room above and below the words of a cell, mm.
const CELL: f64 = 1.0;
/// A row higher than this, mm, is parted, this many lines at a time.
const HIGHEST_ROW: f64 = 110.0;
const LINES_AT_A_TIME: usize = 20;
/// Figures side by side.
const FIGURES: usize = 4;
/// Side of a box to tick, mm.
pub(super) const TICK: f64 = 3.2;
/// Where what stands beside it begins, mm.
const BESIDE_TICK: f64 = TICK + 1.2;

/// Shades of what is set.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Shade {
    Ink,
    Soft,
    Rust,
    Rule,
}

/// Some words in one line.
#[derive(Clone)]
pub(super) struct Run {
    pub(super) x: f64,
    pub(super) size: f64,
    pub(super) weight: Weight,
    pub(super) shade: Shade,
    pub(super) text: String,
}

/// Something set in a piece.
#[derive(Clone)]
pub(super) enum Mark<'b> {
    /// Words with their base line at `y`.
    Words {
        y: f64,
        run: Run,
    },
    Rule {
        from: [f64; 2],
        to: [f64; 2],
        width: f64,
        shade: Shade,
    },
    /// A box to tick, its lower left corner.
    Tick([f64; 2]),
    /// A picture with its upper left corner here, shrunk by a factor.
    Picture {
        at: [f64; 2],
        shrink: f64,
        picture: &'b Picture<'b>,
    },
}

/// What is set on one page.
#[derive(Clone, Default)]
pub(super) struct Piece<'b> {
    pub(super) height: f64,
    /// Room before it, save at the top of a page.
    pub(super) before: f64,
    /// The next piece stands on the same page.
    pub(super) keep: bool,
    pub(super) marks: Vec<Mark<'b>>,
    /// Index of the head of its table, which is set again at the top of a page.
    pub(super) head: Option<usize>,
    /// Names of the places in the file that lead here.
    pub(super) names: Vec<String>,
}

/// The pieces of a chapter, and the heads of its tables.
#[derive(Default)]
pub(super) struct Flow<'b> {
    pub(super) pieces: Vec<Piece<'b>>,
    pub(super) heads: Vec<Piece<'b>>,
}

/// How words are set.
#[derive(Clone, Copy)]
struct Style {
    size: f64,
    small: f64,
    leading: f64,
    weight: Weight,
}

const TEXT: Style = Style { size: BODY, small: SMALL, leading: LEADING, weight: Weight::Regular };
const CELLS: Style =
    Style { size: TABLE_LETTERS, small: TABLE_SMALL, leading: TIGHT, weight: Weight::Regular };
const HEADS: Style = Style { weight: Weight::Bold, ..CELLS };
const CAPTION: Style = Style { size: 11.0 * POINT, small: SMALL, leading: TIGHT, weight: Weight::Bold };

impl Style {
    fn line(self) -> f64 {
        self.size * self.leading
    }
    fn base(self) -> f64 {
        self.size * (BASE + self.leading) / 2.0
    }
}

/// Words that are not broken, or a box.
enum Unit {
    Word {
        text: String,
        size: f64,
        weight: Weight,
        shade: Shade,
    },
    /// A box with the words beside it.
    Tick {
        text: String,
        size: f64,
    },
    Break,
}

impl Unit {
    fn width(&self) -> f64 {
        match self {
            Unit::Word { text, size, weight, .. } => width(text.trim_end_matches(' '), *weight) * size,
            Unit::Tick { text, size } => BESIDE_TICK + width(text, Weight::Regular) * size,
            Unit::Break => 0.0,
        }
    }
    fn advance(&self) -> f64 {
        match self {
            Unit::Word { text, size, weight, .. } => width(text, *weight) * size,
            other => other.width(),
        }
    }
}

fn words(units: &mut Vec<Unit>, text: &str, size: f64, weight: Weight, shade: Shade) {
    for text in text.split_inclusive([' ', '/', '~']) {
        units.push(Unit::Word { text: text.to_owned(), size, weight, shade });
    }
}

fn units(line: &Line, style: Style) -> Vec<Unit> {
    let mut units = Vec::new();
    for span in &line.0 {
        let all = &mut units;
        match span {
            Span::Plain(text) => words(all, text, style.size, style.weight, Shade::Ink),
            Span::Bold(text) | Span::Code(text) => words(all, text, style.size, Weight::Bold, Shade::Ink),
            Span::Small(text) => words(all, text, style.small, Weight::Regular, Shade::Soft),
            Span::Break => all.push(Unit::Break),
            Span::Tick(text) => {
                all.push(Unit::Tick { text: text.clone(), size: style.size });
                if !text.is_empty() {
                    words(all, " ", 2.0 * style.size, style.weight, Shade::Ink);
                }
            }
        }
    }
    units
}

/// A line as it is set: its words and boxes from its left end, and its width.
#[derive(Default, Clone)]
struct Set {
    runs: Vec<Run>,
    ticks: Vec<f64>,
    width: f64,
}

impl Set {
    fn push(&mut self, unit: Unit, at: f64) {
        self.width = at + unit.width();
        match unit {
            Unit::Word { text, size, weight, shade } => match self.runs.last_mut() {
                // Words of one kind are one run, as long as nothing stands between them.
                Some(run)
                    if run.weight == weight
                        && run.size.to_bits() == size.to_bits()
                        && run.shade == shade
                        && self.ticks.last().is_none_or(|&t| t < run.x) =>
                {
                    run.text.push_str(&text);
                }
                _ => self.runs.push(Run { x: at, size, weight, shade, text }),
            },
            Unit::Tick { text, size } => {
                self.ticks.push(at);
                let (weight, shade) = (Weight::Regular, Shade::Ink);
                self.runs.push(Run { x: at + BESIDE_TICK, size, weight, shade, text });
            }
            Unit::Break => {}
        }
    }

    /// The marks of the line, whose top is at `y` and whose left end is at `x`.
    fn marks<'b>(&self, x: f64, y: f64, style: Style) -> Vec<Mark<'b>> {
        let base = y + style.base();
        let words = self.runs.iter().filter(|run| !run.text.trim().is_empty()).map(|run| {
            let text = run.text.trim_end_matches(' ').to_owned();
            Mark::Words { y: base, run: Run { x: x + run.x, text, ..run.clone() } }
        });
        words.chain(self.ticks.iter().map(|t| Mark::Tick([x + t, base + 0.2]))).collect()
    }
}

/// The words in lines no wider than this; a word that is wider is broken anywhere.
fn wrapped(line: &Line, wide: f64, style: Style) -> Vec<Set> {
    /// Rounding must not break a line whose column was made for it.
    const SLACK: f64 = 1.0e-6;
    let mut lines = vec![Set::default()];
    let mut at = 0.0;
    for unit in units(line, style) {
        if matches!(unit, Unit::Break) {
            lines.push(Set::default());
            at = 0.0;
            continue;
        }
        if at > 0.0 && at + unit.width() > wide + SLACK {
            lines.push(Set::default());
            at = 0.0;
            if matches!(&unit, Unit::Word { text, .. } if text.trim().is_empty()) {
                continue;
            }
        }
        let mut rest = unit;
        while rest.width() > wide + SLACK {
            let Unit::Word { text, size, weight, shade } = &rest else { break };
            let fits = |n: &usize| {
                let head: String = text.chars().take(*n).collect();
                width(&head, *weight) * size <= wide
            };
            let most = (1..text.chars().count()).take_while(fits).last().unwrap_or(1);
            let [head, tail]: [String; 2] =
                [text.chars().take(most).collect(), text.chars().skip(most).collect()];
            if tail.is_empty() {
                break;
            }
            let part = |text| Unit::Word { text, size: *size, weight: *weight, shade: *shade };
            let (head, tail) = (part(head), part(tail));
            let end = lines.len() - 1;
            lines[end].push(head, at);
            lines.push(Set::default());
            at = 0.0;
            rest = tail;
        }
        let advance = rest.advance();
        let end = lines.len() - 1;
        lines[end].push(rest, at);
        at += advance;
    }
    lines
}

impl<'b> Flow<'b> {
    /// All of a chapter; `kind` stands above the title of the cover.
    pub(super) fn of(chapter: &'b Chapter<'b>, kind: Option<&str>) -> Self {
        let mut flow = Self::default();
        let title = if kind.is_some() { TITLE } else { CHAPTER };
        flow.title(&chapter.title, title, kind, &chapter.id);
        for block in &chapter.blocks {
            flow.block(block);
        }
        flow
    }

    fn title(&mut self, text: &str, size: f64, kind: Option<&str>, id: &str) {
        let style = Style { size, small: size, leading: 1.1, weight: Weight::Bold };
        let rule = Mark::Rule { from: [0.0, 0.6], to: [PAGE_WIDTH, 0.6], width: 1.2, shade: Shade::Rust };
        let mut piece =
            Piece { keep: true, marks: vec![rule], names: vec![id.to_owned()], ..Piece::default() };
        let mut y = 4.0;
        if let Some(kind) = kind {
            let run =
                Run { x: 0.0, size: BODY, weight: Weight::Bold, shade: Shade::Rust, text: kind.to_owned() };
            piece.marks.push(Mark::Words { y: y + BODY, run });
            y += 7.0;
        }
        for set in wrapped(&text.into(), PAGE_WIDTH, style) {
            piece.marks.extend(set.marks(0.0, y, style));
            y += style.line();
        }
        piece.height = y + 3.0;
        self.pieces.push(piece);
    }

    fn block(&mut self, block: &'b Block<'b>) {
        match block {
            Block::Heading(text) => {
                let style = Style { size: HEADING, small: SMALL, leading: 1.2, weight: Weight::Bold };
                let begin = self.pieces.len();
                self.lines(&text.into(), 0.0, style, 6.0, 1.0);
                // Nor may it stand alone at the foot of a page, or be parted.
                for piece in &mut self.pieces[begin..] {
                    piece.keep = true;
                }
            }
            Block::Text(line) => {
                let after_heading = self.pieces.last().is_some_and(|p| p.keep);
                self.lines(line, 0.0, TEXT, 0.0, 2.5);
                // Words below a heading lead to what follows.
                if after_heading && let Some(last) = self.pieces.last_mut() {
                    last.keep = true;
                }
            }
            Block::Answer(line) => {
                let begin = self.pieces.len();
                self.lines(line, 4.0, TEXT, 0.0, 2.5);
                for piece in &mut self.pieces[begin..] {
                    let to = [0.6, TEXT.line()];
                    piece.marks.push(Mark::Rule { from: [0.6, 0.0], to, width: 1.2, shade: Shade::Rust });
                }
            }
            Block::Stop(text) => {
                let begin = self.pieces.len();
                self.lines(&Line::new().bold(text), 3.0, TEXT, 2.0, 4.0);
                let high: f64 = self.pieces[begin..].iter().map(|p| p.height).sum();
                let [l, r, t, b] = [0.0, PAGE_WIDTH, -1.5, high - 2.0];
                if let Some(first) = self.pieces.get_mut(begin) {
                    for (from, to) in [([l, t], [r, t]), ([l, b], [r, b]), ([l, t], [l, b]), ([r, t], [r, b])]
                    {
                        first.marks.push(Mark::Rule { from, to, width: 0.8, shade: Shade::Rust });
                    }
                }
            }
            Block::List { numbered, items } => {
                for (k, item) in items.iter().enumerate() {
                    let begin = self.pieces.len();
                    self.lines(item, 6.0, TEXT, 0.0, 1.2);
                    let text = if *numbered { format!("{}.", k + 1) } else { "•".to_owned() };
                    let run = Run { x: 0.5, size: BODY, weight: Weight::Bold, shade: Shade::Rust, text };
                    self.pieces[begin].marks.push(Mark::Words { y: TEXT.base(), run });
                }
            }
            Block::Terms(rows) => {
                for (word, meaning) in rows {
                    let left = wrapped(&Line::new().bold(word), 34.0, TEXT);
                    let right = wrapped(&meaning.into(), PAGE_WIDTH - 38.0, TEXT);
                    let mut piece = Piece::default();
                    for (x, lines) in [(0.0, &left), (38.0, &right)] {
                        for (k, set) in lines.iter().enumerate() {
                            piece.marks.extend(set.marks(x, count(k) * TEXT.line(), TEXT));
                        }
                    }
                    piece.height = count(left.len().max(right.len())) * TEXT.line() + 2.0;
                    self.pieces.push(piece);
                }
            }
            Block::Figures(rows) => self.figures(rows),
            Block::Grid(grid) => self.grid(grid),
            Block::Picture(picture) | Block::Turning(picture) => {
                self.pictures(1, std::slice::from_ref(picture))
            }
            Block::Pictures { columns, pictures } => self.pictures(*columns, pictures),
        }
    }

    /// Words in lines, of which neither the first nor the last stands alone on a page.
    fn lines(&mut self, line: &Line, indent: f64, style: Style, before: f64, after: f64) {
        let sets = wrapped(line, PAGE_WIDTH - indent, style);
        let last = sets.len() - 1;
        for (k, set) in sets.iter().enumerate() {
            self.pieces.push(Piece {
                height: style.line() + if k == last { after } else { 0.0 },
                before: if k == 0 { before } else { 0.0 },
                keep: k != last && (k == 0 || k + 2 > last),
                marks: set.marks(indent, 0.0, style),
                ..Piece::default()
            });
        }
    }

    /// Names and figures in four columns.
    fn figures(&mut self, rows: &[(String, String, &'static str)]) {
        let name = Style { size: 10.5 * POINT, small: SMALL, leading: 1.2, weight: Weight::Regular };
        let value = Style { size: 17.0 * POINT, small: 11.0 * POINT, leading: 1.25, weight: Weight::Bold };
        let rule = Mark::Rule { from: [0.0, 0.0], to: [PAGE_WIDTH, 0.0], width: 0.3, shade: Shade::Ink };
        let mut piece = Piece { before: 2.0, marks: vec![rule], ..Piece::default() };
        let cell = |(what, figure, unit): &(String, String, &'static str)| {
            let line = Line::from(figure.as_str()).text(" ").small(*unit);
            let figure = wrapped(&line, PAGE_WIDTH, value);
            let wide = figure.iter().map(|s| s.width).fold(0.0, f64::max);
            let what = wrapped(&Line(vec![Span::Small(what.clone())]), wide.max(38.0), name);
            let wide = what.iter().map(|s| s.width).fold(wide, f64::max);
            (what, figure, wide)
        };
        let cells: Vec<(Vec<Set>, Vec<Set>, f64)> = rows.iter().map(cell).collect();
        let wide =
            |column: usize| cells.iter().skip(column).step_by(FIGURES).map(|c| c.2).fold(0.0, f64::max);
        let wides: [f64; FIGURES] = std::array::from_fn(wide);
        let gap = (PAGE_WIDTH - wides.iter().sum::<f64>()) / count(FIGURES - 1);
        let mut y = 3.0;
        for row in cells.chunks(FIGURES) {
            let names = row.iter().map(|c| c.0.len()).max().unwrap_or(0);
            let mut x = 0.0;
            for ((what, figure, _), wide) in row.iter().zip(wides) {
                for (k, set) in what.iter().enumerate() {
                    piece.marks.extend(set.marks(x, y + count(k) * name.line(), name));
                }
                for set in figure {
                    piece.marks.extend(set.marks(x, y + count(names) * name.line(), value));
                }
                x += wide + gap;
            }
            y += count(names) * name.line() + value.line() + 2.5;
        }
        piece.height = y + 1.0;
        self.pieces.push(piece);
    }

    /// Pictures side by side, each on the same foot, with its words below.
    fn pictures(&mut self, columns: usize, pictures: &'b [Picture<'b>]) {
        let wide = (PAGE_WIDTH + GAP) / count(columns) - GAP;
        for row in pictures.chunks(columns) {
            let sizes: Vec<[f64; 2]> = row.iter().map(Picture::size).collect();
            let shrink: Vec<f64> =
                sizes.iter().map(|s| (wide / s[0]).min((PAGE_HEIGHT - 8.0) / s[1]).min(1.0)).collect();
            let high = sizes.iter().zip(&shrink).map(|(s, f)| s[1] * f).fold(0.0, f64::max);
            let captions: Vec<Vec<Set>> = row
                .iter()
                .map(|p| match p.caption.is_empty() {
                    true => Vec::new(),
                    false => wrapped(&p.caption.as_str().into(), wide, CAPTION),
                })
                .collect();
            let lines = captions.iter().map(Vec::len).max().unwrap_or(0);
            let mut piece = Piece { before: 2.0, ..Piece::default() };
            for (k, (picture, caption)) in row.iter().zip(&captions).enumerate() {
                let left = count(k) * (wide + GAP);
                let [w, h] = sizes[k].map(|x| x * shrink[k]);
                // Alone in its row it stands in the middle.
                let at = [if columns == 1 { (wide - w) / 2.0 } else { left }, high - h];
                piece.marks.push(Mark::Picture { at, shrink: shrink[k], picture });
                for (n, set) in caption.iter().enumerate() {
                    let left = if columns == 1 { (wide - set.width) / 2.0 } else { left };
                    piece.marks.extend(set.marks(left, high + 1.5 + count(n) * CAPTION.line(), CAPTION));
                }
                piece.names.extend(picture.shows.iter().map(|name| format!("drawing-{name}")));
            }
            piece.height = high + 1.5 + count(lines) * CAPTION.line() + 4.0;
            self.pieces.push(piece);
        }
    }

    fn grid(&mut self, grid: &'b Grid<'b>) {
        let widths = widths(grid);
        let lefts: Vec<f64> = widths
            .iter()
            .scan(0.0, |x, w| {
                let left = *x;
                *x += w + BETWEEN;
                Some(left)
            })
            .collect();
        let right = PAGE_WIDTH;
        let mut head = Piece { before: 1.0, keep: true, ..Piece::default() };
        let lines: Vec<Vec<Set>> =
            grid.columns.iter().zip(&widths).map(|(c, w)| wrapped(&c.head, *w, HEADS)).collect();
        let most = lines.iter().map(Vec::len).max().unwrap_or(0);
        for (k, sets) in lines.iter().enumerate() {
            for (n, set) in sets.iter().enumerate() {
                let x = lefts[k] + if grid.columns[k].number { widths[k] - set.width } else { 0.0 };
                head.marks.extend(set.marks(x, count(most - sets.len() + n) * HEADS.line(), HEADS));
            }
        }
        head.height = count(most) * HEADS.line() + 1.2;
        let y = head.height;
        head.marks.push(Mark::Rule { from: [0.0, y], to: [right, y], width: 0.5, shade: Shade::Ink });
        head.height += 0.4;
        self.heads.push(head.clone());
        let index = self.heads.len() - 1;
        head.names = grid.shows.iter().map(|name| format!("table-{name}")).collect();
        head.before = 2.0;
        self.pieces.push(head);
        let begin = self.pieces.len();
        for row in &grid.rows {
            self.row(grid, row, &lefts, &widths, index);
        }
        // Neither the first row nor the last stands alone on a page.
        let rows = &mut self.pieces[begin..];
        if let [first, .., before_last, last] = rows {
            first.keep = true;
            before_last.keep = true;
            last.keep = false;
        }
        if let Some(last) = rows.last_mut() {
            last.height += 4.0;
        }
    }

    fn row(&mut self, grid: &'b Grid<'b>, row: &'b Row<'b>, lefts: &[f64], widths: &[f64], head: usize) {
        let rule = |y: f64, width, shade| Mark::Rule { from: [0.0, y], to: [PAGE_WIDTH, y], width, shade };
        let style = if row.kind == RowKind::Foot { HEADS } else { CELLS };
        let lines: Vec<Vec<Set>> =
            row.cells.iter().zip(widths).map(|(c, w)| wrapped(&c.line, *w, style)).collect();
        let most = lines.iter().map(Vec::len).max().unwrap_or(1);
        let picture_of = |cell: &'b Field<'b>, w: f64| {
            let picture = cell.picture.as_ref()?;
            let [pw, ph] = picture.size();
            let shrink = (w / pw).min(1.0);
            Some((picture, [pw * shrink, ph * shrink], shrink))
        };
        let pictures: Vec<_> = row.cells.iter().zip(widths).map(|(c, w)| picture_of(c, *w)).collect();
        let tallest = pictures.iter().flatten().map(|p| p.1[1]).fold(0.0, f64::max);
        let high = (count(most) * style.line()).max(tallest);
        let at_a_time = if high > HIGHEST_ROW { LINES_AT_A_TIME } else { most.max(1) };
        let mut from = 0;
        while from < most.max(1) {
            let until = (from + at_a_time).min(most.max(1));
            let mut piece = Piece { head: Some(head), ..Piece::default() };
            let shown = count(until - from) * style.line();
            piece.height = shown.max(if from == 0 { tallest } else { 0.0 }) + 2.0 * CELL;
            for (k, sets) in lines.iter().enumerate() {
                // Beside a picture words stand in the middle.
                let drop = if tallest > 0.0 && until == most {
                    (piece.height - 2.0 * CELL - count(sets.len()) * style.line()) / 2.0
                } else {
                    0.0
                };
                for (n, set) in sets.iter().enumerate().take(until).skip(from) {
                    let x = lefts[k] + if grid.columns[k].number { widths[k] - set.width } else { 0.0 };
                    let y = CELL + drop + count(n - from) * style.line();
                    piece.marks.extend(set.marks(x, y, style));
                }
                if let Some((picture, [w, h], shrink)) = pictures[k].filter(|_| from == 0) {
                    let at = [lefts[k] + (widths[k] - w) / 2.0, (piece.height - h) / 2.0];
                    piece.marks.push(Mark::Picture { at, shrink, picture });
                }
            }
            if row.kind == RowKind::Foot {
                piece.marks.push(rule(0.0, 0.5, Shade::Ink));
                // The sum stands with the last of its rows.
                if let Some(last) = self.pieces.last_mut() {
                    last.keep = true;
                }
            } else if until == most.max(1) {
                piece.marks.push(rule(piece.height, 0.2, Shade::Rule));
            }
            self.pieces.push(piece);
            from = until;
        }
    }
}

/// Widths of the columns, together with the room between them the width of the page: each at least as wide as its
/// longest word where there is room, the rest shared by what they hold.
fn widths(grid: &Grid<'_>) -> Vec<f64> {
    let measure = |line: &Line, style: Style, picture: f64| {
        let mut least = picture;
        let (mut most, mut at) = (picture, 0.0);
        for unit in units(line, style) {
            least = unit.width().max(least);
            at = if matches!(unit, Unit::Break) { 0.0 } else { at + unit.advance() };
            most = f64::max(most, at);
        }
        [least, most]
    };
    let mut sizes: Vec<[f64; 2]> =
        grid.columns.iter().map(|c: &Column| measure(&c.head, HEADS, 0.0)).collect();
    for row in &grid.rows {
        let style = if row.kind == RowKind::Foot { HEADS } else { CELLS };
        for ((size, cell), column) in sizes.iter_mut().zip(&row.cells).zip(&grid.columns) {
            let picture = cell.picture.as_ref().map_or(0.0, |p| p.size()[0]);
            let [least, most] = measure(&cell.line, style, picture);
            // Figures are not broken.
            size[0] = size[0].max(if column.number && row.kind == RowKind::Body { most } else { least });
            size[1] = size[1].max(most);
        }
    }
    let room = PAGE_WIDTH - BETWEEN * count(sizes.len().saturating_sub(1));
    let [least, most] = [0, 1].map(|k| sizes.iter().map(|s| s[k]).sum::<f64>());
    if most <= room {
        // Words take what is left over: figures stay near what they belong to.
        let words: f64 = sizes.iter().zip(&grid.columns).filter(|(_, c)| !c.number).map(|(s, _)| s[1]).sum();
        let share = |s: &[f64; 2], number: bool| match words > 0.0 {
            true if number => s[1] + (room - most) * 0.5 * s[1] / most,
            true => s[1] + (room - most) * (0.5 * s[1] / most + 0.5 * s[1] / words),
            false => s[1] * room / most,
        };
        sizes.iter().zip(&grid.columns).map(|(s, c)| share(s, c.number)).collect()
    } else if least <= room {
        let share = (room - least) / (most - least);
        sizes.iter().map(|s| s[0] + (s[1] - s[0]) * share).collect()
    } else {
        sizes.iter().map(|s| s[0] * room / least).collect()
    }
}

#[allow(clippy::cast_precision_loss, reason = "counts of lines and columns")]
fn count(n: usize) -> f64 {
    n as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_is_wider_than_its_room_and_no_word_is_lost() {
        let text =
            "a few short words, then elevation/south~elevation/north and Donaudampfschifffahrtsgesellschaft";
        for wide in [12.0, 30.0, 80.0, 400.0] {
            let sets = wrapped(&text.into(), wide, TEXT);
            assert!(sets.iter().all(|s| s.width <= wide + 0.01), "{wide}");
            let all: String = sets.iter().flat_map(|s| &s.runs).map(|r| r.text.as_str()).collect();
            assert_eq!(all.replace(' ', ""), text.replace(' ', ""), "{wide}");
        }
        assert_eq!(wrapped(&text.into(), 400.0, TEXT).len(), 1);
    }

    #[test]
    fn columns_fill_the_page_and_figures_are_not_broken() {
        let long = "words ".repeat(60);
        for words in ["short", long.as_str()] {
            let rows = vec![Row::body(vec![words.into(), "1234.5 ± 0.25".into()])];
            let columns = vec![Column::words("what"), Column::figures("Length", "mm")];
            let grid = Grid { shows: Vec::new(), class: "", columns, rows };
            let widths = widths(&grid);
            assert!((widths.iter().sum::<f64>() + BETWEEN - PAGE_WIDTH).abs() < 0.01, "{widths:?}");
            assert!(widths[1] >= width("1234.5 ± 0.25", Weight::Regular) * TABLE_LETTERS);
        }
    }
}
