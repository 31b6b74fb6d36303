//! The sine profile.

use super::{Profile, ProfileKind};
use crate::error::{Error, Result};
use crate::settings::Values;

/// The registry row.
pub const ROW: ProfileKind = ProfileKind { name: "sine", summary: "sine", settings: &[], build };

fn build(_values: &Values) -> Result<Profile> {
    Err(Error::bug("not built"))
}
