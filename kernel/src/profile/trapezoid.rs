//! The trapezoid profile.

use super::{Profile, ProfileKind};
use crate::error::{Error, Result};
use crate::settings::Values;

/// The registry row.
pub const ROW: ProfileKind = ProfileKind { name: "trapezoid", summary: "trapezoid", settings: &[], build };

fn build(_values: &Values) -> Result<Profile> {
    Err(Error::bug("not built"))
}
