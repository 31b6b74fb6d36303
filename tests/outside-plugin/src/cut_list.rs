//! A writer: the parts and their cut lengths as plain text.

use ribwright_kernel::export::Writer;
use ribwright_kernel::{OutFile, Output, Result, Work};
use std::fmt::Write;

/// The registry row.
pub(crate) const ROW: Writer =
    Writer { name: "cut_list", summary: "the parts and their cut lengths as plain text", write };

fn write(work: &Work, _output: &Output) -> Result<Vec<OutFile>> {
    let mut text = String::new();
    for part in &work.parts {
        // A String takes whatever is written to it.
        let _ = writeln!(text, "{}\t{:.1} mm", part.id, part.cut_length);
    }
    Ok(vec![OutFile { path: "cut_list.txt".to_owned(), bytes: text.into_bytes() }])
}
