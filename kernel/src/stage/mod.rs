//! Stages: what is worked out over the finished model, in a declared order.

pub mod model;
pub mod schedules;
pub mod templates;
pub mod views;

use crate::error::Result;
use crate::registry::{NamedRow, Registry};
use crate::work::{Output, Work};
use std::fmt;

/// A registry row: one stage.
#[derive(Clone, Copy)]
pub struct Stage {
    /// The word for `--only`.
    pub name: &'static str,
    /// One line on what it adds.
    pub summary: &'static str,
    /// Adds its tables, drawings and findings.
    pub run: fn(&Work, &Registry, &mut Output) -> Result<()>,
}

impl NamedRow for Stage {
    fn name(&self) -> &'static str {
        self.name
    }
    fn summary(&self) -> &'static str {
        self.summary
    }
}

impl fmt::Debug for Stage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Stage({})", self.name)
    }
}
