//! The svg writer.

use super::Writer;
use crate::error::Result;
use crate::work::{OutFile, Output, Work};

/// The registry row.
pub const ROW: Writer = Writer { name: "svg", summary: "svg", write };

fn write(_work: &Work, _output: &Output) -> Result<Vec<OutFile>> {
    Ok(Vec::new())
}
