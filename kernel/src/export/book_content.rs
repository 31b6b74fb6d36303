//! What stands in the job book, before any file format: chapters of lines, tables and pictures.
//!
//! The page for the browser and the pages of the PDF file are both made from this, so that neither can say what the
//! other does not. Lengths on paper are mm.

use super::book_picture::Picture;

/// Width of the page between its margins, mm.
pub(super) const PAGE_WIDTH: f64 = 180.0;
/// Height of a page that chapters are made for, mm: it fits A4 and US Letter.
pub(super) const PAGE_HEIGHT: f64 = 246.0;

/// The whole book.
pub(super) struct Book<'a> {
    /// Name of the work.
    pub(super) title: String,
    /// The cover is the first, without a heading.
    pub(super) chapters: Vec<Chapter<'a>>,
}

/// A chapter; it begins on a new page.
pub(super) struct Chapter<'a> {
    /// Unique, letters and dashes.
    pub(super) id: String,
    pub(super) title: String,
    /// A chapter of a chapter, in the contents.
    pub(super) below: bool,
    /// It is about strength: a caution stands at the foot of each page.
    pub(super) strength: bool,
    /// Drawings of the output whose files it names in words instead of showing them.
    pub(super) named: Vec<String>,
    pub(super) blocks: Vec<Block<'a>>,
}

/// A piece of a chapter.
pub(super) enum Block<'a> {
    Heading(String),
    Text(Line),
    /// A line that answers the chapter's question.
    Answer(Line),
    /// The work is not to be built as it is.
    Stop(String),
    List {
        numbered: bool,
        items: Vec<Line>,
    },
    /// A word and what it means.
    Terms(Vec<(String, String)>),
    /// Name, value and unit.
    Figures(Vec<(String, String, &'static str)>),
    Grid(Grid<'a>),
    Picture(Picture<'a>),
    /// Pictures side by side in columns of equal width.
    Pictures {
        columns: usize,
        pictures: Vec<Picture<'a>>,
    },
    /// The picture stands where the shell can be turned, if the page can do it.
    Turning(Picture<'a>),
}

/// A table.
pub(super) struct Grid<'a> {
    /// Names of the tables of the output that it shows; empty for one that the book made up.
    pub(super) shows: Vec<String>,
    /// How it looks: `parts`, `assembly`, `findings`, or nothing.
    pub(super) class: &'static str,
    pub(super) columns: Vec<Column>,
    pub(super) rows: Vec<Row<'a>>,
}

/// A column of a table.
pub(super) struct Column {
    pub(super) head: Line,
    /// Its cells are figures, set to the right.
    pub(super) number: bool,
}

/// A row of a table.
pub(super) struct Row<'a> {
    pub(super) kind: RowKind,
    /// As many as there are columns.
    pub(super) cells: Vec<Field<'a>>,
}

/// What a row is.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum RowKind {
    Body,
    /// The sum of the rows before it.
    Foot,
}

/// A cell of a table.
#[derive(Default)]
pub(super) struct Field<'a> {
    pub(super) line: Line,
    pub(super) picture: Option<Picture<'a>>,
}

/// Words in one or several lines.
#[derive(Clone, Default)]
pub(super) struct Line(pub(super) Vec<Span>);

/// Some words.
#[derive(Clone, PartialEq, Eq)]
pub(super) enum Span {
    Plain(String),
    Bold(String),
    /// Smaller and softer.
    Small(String),
    /// A name of a file.
    Code(String),
    /// A box to tick; what follows stays on its line.
    Tick(String),
    /// Goes on in the next line.
    Break,
}

impl Line {
    pub(super) fn new() -> Self {
        Self::default()
    }
    fn with(mut self, span: Span) -> Self {
        self.0.push(span);
        self
    }
    pub(super) fn text(self, text: impl Into<String>) -> Self {
        self.with(Span::Plain(text.into()))
    }
    pub(super) fn bold(self, text: impl Into<String>) -> Self {
        self.with(Span::Bold(text.into()))
    }
    pub(super) fn small(self, text: impl Into<String>) -> Self {
        self.with(Span::Small(text.into()))
    }
    pub(super) fn code(self, text: impl Into<String>) -> Self {
        self.with(Span::Code(text.into()))
    }
    pub(super) fn tick(self, text: impl Into<String>) -> Self {
        self.with(Span::Tick(text.into()))
    }
    pub(super) fn br(self) -> Self {
        self.with(Span::Break)
    }
}

impl<T: Into<String>> From<T> for Line {
    fn from(text: T) -> Self {
        let text = text.into();
        if text.is_empty() { Self::new() } else { Self::new().text(text) }
    }
}

impl From<Line> for Field<'_> {
    fn from(line: Line) -> Self {
        Self { line, picture: None }
    }
}

impl<'a> Row<'a> {
    pub(super) fn body(cells: Vec<Line>) -> Self {
        Self { kind: RowKind::Body, cells: cells.into_iter().map(Field::from).collect() }
    }
    pub(super) fn foot(cells: Vec<Line>) -> Self {
        Self { kind: RowKind::Foot, ..Self::body(cells) }
    }
}

impl Column {
    /// A column of words.
    pub(super) fn words(head: &str) -> Self {
        Self { head: head.into(), number: false }
    }
    /// A column of figures with their unit below.
    pub(super) fn figures(head: &str, unit: &str) -> Self {
        let head = Line::from(head);
        Self { head: if unit.is_empty() { head } else { head.br().small(unit) }, number: true }
    }
}

impl<'a> Chapter<'a> {
    pub(super) fn new(id: &str, title: impl Into<String>) -> Self {
        let (named, blocks) = (Vec::new(), Vec::new());
        Self { id: id.to_owned(), title: title.into(), below: false, strength: false, named, blocks }
    }
    pub(super) fn heading(&mut self, text: impl Into<String>) {
        self.blocks.push(Block::Heading(text.into()));
    }
    pub(super) fn text(&mut self, line: impl Into<Line>) {
        self.blocks.push(Block::Text(line.into()));
    }
    pub(super) fn list(&mut self, items: impl IntoIterator<Item = Line>) {
        self.blocks.push(Block::List { numbered: false, items: items.into_iter().collect() });
    }
    /// The picture, if there is anything in it.
    pub(super) fn picture(&mut self, picture: Option<Picture<'a>>) {
        self.blocks.extend(picture.map(Block::Picture));
    }
}
