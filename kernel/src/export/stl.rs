//! The stl writer.

use super::Writer;
use crate::error::Result;
use crate::work::{OutFile, Output, Work};

/// The registry row.
pub const ROW: Writer = Writer { name: "stl", summary: "stl", write };

fn write(_work: &Work, _output: &Output) -> Result<Vec<OutFile>> {
    Ok(Vec::new())
}
