//! Text that people write and read: UTF-8 and the mark it may begin with, where a byte stands, separators, figures.

use crate::error::{Error, Result};
use crate::finding::{Finding, Level};

/// Rows of a table that people write by hand: of any length; blanks round cells, and lines that begin with `#`, are left out.
pub(crate) fn rows_of(text: &str) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new()
        .flexible(true)
        .has_headers(false)
        .trim(csv::Trim::All)
        .comment(Some(b'#'))
        .from_reader(text.as_bytes())
}

/// The text of a table, with a note where a byte-order mark was skipped.
///
/// # Errors
/// Bytes that are no UTF-8, with line and column.
pub(crate) fn text_of(bytes: &[u8]) -> Result<(&str, Option<Finding>)> {
    let text = std::str::from_utf8(bytes).map_err(|e| {
        let (line, column) = line_and_column(bytes, e.valid_up_to());
        Error::input("the text is not UTF-8")
            .at(format!("line {line}, column {column}"))
            .remedy("save the file as CSV in UTF-8")
    })?;
    Ok(match text.strip_prefix('\u{feff}') {
        None => (text, None),
        Some(rest) => {
            let note = Finding::new(
                Level::Note,
                "byte-order-mark",
                "line 1, column 1",
                "the file begins with a byte-order mark, which is skipped",
                "nothing needs to be done; save it as UTF-8 without the mark to be rid of this note",
            );
            (rest, Some(note))
        }
    })
}

/// Where a byte of a table stands: its line and its field, both counted from 1.
pub(crate) fn line_and_column(bytes: &[u8], at: usize) -> (usize, usize) {
    let line = 1 + bytes[..at].iter().filter(|b| **b == b'\n').count();
    let start = bytes[..at].iter().rposition(|b| *b == b'\n').map_or(0, |p| p + 1);
    (line, 1 + bytes[start..at].iter().filter(|b| matches!(b, b',' | b';')).count())
}

/// Refuses a heading line of a table whose fields are not separated by commas; `place` is where it begins.
///
/// # Errors
/// Another sign that stands in it twice or more.
pub(crate) fn separated_by_commas<'a>(fields: impl Iterator<Item = &'a str>, place: String) -> Result<()> {
    let whole = fields.collect::<Vec<_>>().join(",");
    for (sign, name) in [(';', "semicolons"), ('\t', "tabs"), ('|', "bars")] {
        if whole.matches(sign).count() >= 2 {
            return Err(Error::input(format!("the fields are separated by {name}"))
                .at(place)
                .remedy("save the file as CSV with commas between the fields and points as decimal signs"));
        }
    }
    Ok(())
}

/// A figure with this many decimals; what rounds to nothing has no sign.
pub(crate) fn fixed(x: f64, decimals: usize) -> String {
    let text = format!("{x:.decimals$}");
    match text.strip_prefix('-') {
        Some(zero) if zero.bytes().all(|b| b == b'0' || b == b'.') => zero.to_owned(),
        _ => text,
    }
}

/// A place in whole mm, as findings say it: `(200, 9, 2594)`.
pub(crate) fn place_words(p: &nalgebra::Point3<f64>) -> String {
    format!("({}, {}, {})", fixed(p.x, 0), fixed(p.y, 0), fixed(p.z, 0))
}
