//! Templates: a part's outline made flat, and the kinds of doing so.

pub mod blank;
pub mod plan;
pub mod wrap;
mod flatten;

use crate::drawing::Drawing;
use crate::error::Result;
use crate::part::Part;
use crate::registry::NamedRow;
use crate::settings::{Setting, Values};
use std::fmt;

/// A registry row: one way to flatten a part.
#[derive(Clone, Copy)]
pub struct TemplateKind {
    /// The word for it.
    pub name: &'static str,
    /// One line on what it is for.
    pub summary: &'static str,
    /// Its settings.
    pub settings: &'static [Setting],
    /// Flattens a part.
    pub develop: fn(&Part, &Values) -> Result<Template>,
}

impl NamedRow for TemplateKind {
    fn name(&self) -> &'static str {
        self.name
    }
    fn summary(&self) -> &'static str {
        self.summary
    }
    fn settings(&self) -> &'static [Setting] {
        self.settings
    }
}

impl fmt::Debug for TemplateKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "TemplateKind({})", self.name)
    }
}

/// One bend line of a blank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BendLine {
    /// Across the blank, mm.
    pub across: f64,
    /// Angle turned, degrees, always positive.
    pub angle: f64,
    /// Whether the sheet folds towards the viewer of its outside.
    pub up: bool,
    /// Inside radius, mm.
    pub radius: f64,
}

/// A flat outline of a part.
#[derive(Debug, Clone, PartialEq)]
pub struct Template {
    /// The template kind's name.
    pub kind: String,
    /// The part's id.
    pub part: String,
    /// Outline, marks and writing; seen from outside, the part's up direction shown by an arrow.
    pub drawing: Drawing,
    /// Area within the outlines, mm².
    pub area: f64,
    /// Length of the outlines, mm.
    pub cut_length: f64,
    /// Bend lines, in order across the part.
    pub bends: Vec<BendLine>,
}
