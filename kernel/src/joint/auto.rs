//! The automatic joint: exact where each side is one piece and the wobble is small, else mitred with closure strips

use super::{Cut, JointKind, SeamFacts, touch};

/// The registry row.
pub const ROW: JointKind = JointKind {
    name: "auto",
    summary: "exact where each side is one piece and the wobble is small, else mitred with closure strips",
    settings: &[],
    choose,
    fit: touch,
};

fn choose(facts: &SeamFacts) -> Cut {
    if facts.pieces <= 1 && facts.wobble <= facts.wobble_limit { Cut::Exact } else { Cut::Bisector }
}
