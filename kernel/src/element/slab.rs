//! The slab maker.

use super::{ElementMaker, Solid};
use crate::error::{Error, Result};
use crate::settings::Values;

/// The registry row.
pub const ROW: ElementMaker = ElementMaker { name: "slab", summary: "slab", settings: &[], build };

fn build(_name: &str, _values: &Values) -> Result<Solid> {
    Err(Error::bug("not built"))
}
