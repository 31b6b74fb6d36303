//! Tables: schedules as data, before any file format.

/// One column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Heading, with its unit where it has one: `length mm`.
    pub name: String,
}

/// One cell.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Words.
    Text(String),
    /// A number shown with this many decimals.
    Number(f64, usize),
    /// Nothing.
    Empty,
}

/// A schedule.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// File stem: `parts`.
    pub name: String,
    /// Heading in the book.
    pub title: String,
    /// Columns.
    pub columns: Vec<Column>,
    /// Rows, each as long as `columns`.
    pub rows: Vec<Vec<Cell>>,
}
