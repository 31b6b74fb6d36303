//! both sheets cut to the exact intersection of the two surfaces

use super::{Cut, JointKind, SeamFacts, touch};

/// The registry row.
pub const ROW: JointKind = JointKind {
    name: "true",
    summary: "both sheets cut to the exact intersection of the two surfaces",
    settings: &[],
    choose,
    fit: touch,
};

fn choose(_facts: &SeamFacts) -> Cut {
    Cut::Exact
}
