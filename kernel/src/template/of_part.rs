//! The templates of one part, and which of them is cut and which printed.

use super::{Template, blank, plan, wrap};

/// The templates of one part.
#[derive(Debug, Clone)]
pub struct PartTemplates {
    /// Index into `Work::parts`.
    pub part: usize,
    /// File stem made from the part's id: `A_east`.
    pub stem: String,
    /// One per template kind.
    pub templates: Vec<Template>,
}

/// Template kinds that are cut, the first there is: a blank, or a formed sheet from above.
const CUT_FROM: [&str; 2] = [blank::ROW.name, plan::ROW.name];
/// The template kind that is printed to be laid over the ribs.
const PRINTED: &str = wrap::ROW.name;

impl PartTemplates {
    /// Which of its templates is cut: the blank; of a surveyed sheet, which is formed already, the plan.
    pub fn to_cut(&self) -> Option<usize> {
        let kind = |name: &&str| self.templates.iter().position(|t| t.kind == *name);
        CUT_FROM.iter().find_map(kind).or((!self.templates.is_empty()).then_some(0))
    }

    /// Which of its templates is printed: the wrap; of a part without one, its first.
    pub fn to_print(&self) -> Option<&Template> {
        self.templates.iter().find(|t| t.kind == PRINTED).or(self.templates.first())
    }
}
