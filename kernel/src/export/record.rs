//! `record.json`: parts, seams and sheets as they were made, which a later make is compared with; see
//! [`crate::change::Record`].

use super::{OutFile, Writer};
use crate::change::{FILE, Record};
use crate::error::Result;
use crate::output::Output;
use crate::work::Work;

/// The registry row.
pub const ROW: Writer = Writer {
    name: "record",
    summary: "parts, seams and sheets as they were made, for `changes` and the next make to compare with",
    write,
};

/// Nothing is written where templates were not worked out: the record kept is then that of the cut files kept.
fn write(work: &Work, output: &Output) -> Result<Vec<OutFile>> {
    let Some(record) = Record::of(work, output) else { return Ok(Vec::new()) };
    Ok(vec![OutFile { path: FILE.to_owned(), bytes: record.to_bytes()? }])
}
