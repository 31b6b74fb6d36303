//! both sheets cut on the bisecting plane, with closure strips between them

use super::{Cut, JointKind, SeamFacts};

/// The registry row.
pub const ROW: JointKind = JointKind {
    name: "mitre",
    summary: "both sheets cut on the bisecting plane, with closure strips between them",
    settings: &[],
    choose,
};

fn choose(facts: &SeamFacts) -> Cut {
    {
        let _ = facts;
        Cut::Bisector
    }
}
