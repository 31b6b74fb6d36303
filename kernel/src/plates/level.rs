//! The height at which an inside plate holds the spine.

/// An inside plate that the spine passes: an element may be held there.
#[derive(Debug, Clone, PartialEq)]
pub struct PlateLevel {
    /// Its element.
    pub element: usize,
    /// Its name.
    pub id: String,
    /// Height of the middle of its thickness, mm.
    pub height: f64,
}
