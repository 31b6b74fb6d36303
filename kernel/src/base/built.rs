//! A base as it is built: what stages after `base` need to know of it.

use super::BasePlate;

/// The plate, and where its anchors stand.
#[derive(Debug, Clone, PartialEq)]
pub struct Built {
    /// The plate.
    pub plate: BasePlate,
    /// Anchors, mm about the plate's origin.
    pub places: Vec<[f64; 2]>,
}
