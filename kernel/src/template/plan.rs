//! The plan template: seen square to the face, for a cutting head that travels above formed sheet.

use super::flatten::{Layout, flatten, note};
use super::{Template, TemplateKind};
use crate::error::Result;
use crate::part::{Part, PartKind};
use crate::settings::Values;

/// The registry row.
pub const ROW: TemplateKind = TemplateKind {
    name: "plan",
    summary: "seen square to the face: for a cutting head that travels above formed sheet",
    settings: &[],
    develop,
};

fn develop(part: &Part, _values: &Values) -> Result<Template> {
    let aside = |s: f64, t: f64| match &part.kind {
        PartKind::Sheet { wander: Some(wander), .. } => wander.moved(s, t)[0],
        _ => 0.0,
    };
    Ok(flatten(
        part,
        &Layout {
            kind: ROW.name,
            note: note(part, "PLAN", "this side out"),
            across: &|t| t,
            aside: Some(&aside),
            bend_lines: false,
        },
    ))
}
