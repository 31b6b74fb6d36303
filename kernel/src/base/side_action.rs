//! A sideways action on the base: what wind and sway hand to it.

/// A sideways action on the base that a stage has found out, for bases that were not told any; characteristic.
#[derive(Debug, Clone, PartialEq)]
pub struct SideAction {
    /// Force, N.
    pub force: f64,
    /// Height over z = 0 at which it acts, mm.
    pub height: f64,
    /// Direction it pushes toward, degrees counter-clockwise from +x.
    pub toward: f64,
    /// Twist about the upright through (0, 0), counter-clockwise positive, N·mm.
    pub twist: f64,
    /// Where it comes from, in words.
    pub words: String,
    /// Whether it follows from what the script told, not from a wind or a push that is made up.
    pub told: bool,
}
