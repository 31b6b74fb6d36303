//! The plan template.

use super::{Template, TemplateKind};
use crate::error::{Error, Result};
use crate::part::Part;
use crate::settings::Values;

/// The registry row.
pub const ROW: TemplateKind = TemplateKind { name: "plan", summary: "plan", settings: &[], develop };

fn develop(_part: &Part, _values: &Values) -> Result<Template> {
    Err(Error::bug("not built"))
}
