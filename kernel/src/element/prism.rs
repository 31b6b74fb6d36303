//! The prism maker.

use super::{ElementMaker, Solid};
use crate::error::{Error, Result};
use crate::settings::Values;

/// The registry row.
pub const ROW: ElementMaker = ElementMaker { name: "prism", summary: "prism", settings: &[], build };

fn build(_name: &str, _values: &Values) -> Result<Solid> {
    Err(Error::bug("not built"))
}
