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

/// A schedule from the names of its columns.
pub(crate) fn table(name: &str, title: &str, columns: &[&str], rows: Vec<Vec<Cell>>) -> Table {
    Table { name: name.to_owned(), title: title.to_owned(), columns: columns_of(columns), rows }
}

/// Columns by their names.
pub(crate) fn columns_of(names: &[&str]) -> Vec<Column> {
    names.iter().map(|&name| Column { name: name.to_owned() }).collect()
}

/// Words in a cell.
pub(crate) fn text(text: impl Into<String>) -> Cell {
    Cell::Text(text.into())
}
