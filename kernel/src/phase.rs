//! Phase search: shifting the ribs of a face until a seam comes out as wanted.

use crate::error::Result;
use crate::registry::Registry;
use crate::sculpture::Sculpture;

/// The sculpture with the phases its searches found.
pub(crate) fn search(sculpture: &Sculpture, _registry: &Registry) -> Result<Sculpture> {
    Ok(sculpture.clone())
}
