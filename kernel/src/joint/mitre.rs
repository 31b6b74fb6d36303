//! both sheets cut on the bisecting plane, with closure strips between them

use super::{Cut, JointKind, SeamFacts, touch};

/// The registry row.
pub const ROW: JointKind = JointKind {
    name: "mitre",
    summary: "both sheets cut on the bisecting plane, with closure strips between them",
    settings: &[],
    choose,
    fit: touch,
};

fn choose(_facts: &SeamFacts) -> Cut {
    Cut::Bisector
}
