//! The templates stage.

use super::Stage;
use crate::error::Result;
use crate::registry::Registry;
use crate::work::{Output, Work};

/// The registry row.
pub const ROW: Stage = Stage { name: "templates", summary: "templates", run };

fn run(_work: &Work, _registry: &Registry, _output: &mut Output) -> Result<()> {
    Ok(())
}
