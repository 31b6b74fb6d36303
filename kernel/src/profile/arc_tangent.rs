//! The arc_tangent profile.

use super::{Profile, ProfileKind};
use crate::error::{Error, Result};
use crate::settings::Values;

/// The registry row.
pub const ROW: ProfileKind =
    ProfileKind { name: "arc_tangent", summary: "arc_tangent", settings: &[], build };

fn build(_values: &Values) -> Result<Profile> {
    Err(Error::bug("not built"))
}
