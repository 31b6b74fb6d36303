//! The templates stage: every part flattened in every way.

use super::{Stage, any};
use crate::error::Result;
use crate::output::{Output, free_name};
use crate::part::{Part, PartKind};
use crate::registry::Registry;
use crate::settings::Values;
use crate::template::{self, PartTemplates, Template};
use crate::work::Work;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// The registry row.
pub const ROW: Stage = Stage {
    name: "templates",
    summary: "flattens every part: for cutting formed sheet, for card laid over the ribs, and as a blank",
    settings: &[],
    check: any,
    run,
};

/// A closure strip is flat: all its templates would be the same, so one is enough. A surveyed sheet is formed
/// already, so it has no blank.
fn wanted(part: &Part, kind: &str, registry: &Registry) -> bool {
    let is_blank = |name: &str| name == FLAT_FROM;
    match part.kind {
        PartKind::Sheet { wander: Some(_), .. } => return !is_blank(kind),
        PartKind::Sheet { .. } => return true,
        PartKind::Closure { .. } => {}
    }
    is_blank(kind) || !registry.templates.iter().any(|k| is_blank(k.name))
}

/// The template kind a closure strip gets.
const FLAT_FROM: &str = template::blank::ROW.name;

fn run(work: &Work, registry: &Registry, output: &mut Output) -> Result<()> {
    let settings = registry
        .templates
        .iter()
        .map(|kind| {
            let none = BTreeMap::new();
            let given = work.sculpture.templates.get(kind.name).unwrap_or(&none);
            Ok((kind, Values::check(kind.name, kind.settings, given)?))
        })
        .collect::<Result<Vec<_>>>()?;
    let asked = Arc::new(work.sculpture.templates.clone());
    let developed: Vec<Result<Vec<Template>>> = work
        .parts
        .par_iter()
        .map(|part| {
            let develop = || {
                settings
                    .iter()
                    .filter(|(kind, _)| wanted(part, kind.name, registry))
                    .map(|(kind, values)| (kind.develop)(part, values).map_err(|e| e.at(part.id.as_str())))
                    .collect::<Result<Vec<Template>>>()
            };
            let of = || (Arc::clone(&asked), part.clone());
            output.memo.made(&format!("templates {}", part.id), of, develop).map(Arc::unwrap_or_clone)
        })
        .collect();
    // File names must differ even where upper and lower case do not.
    let mut taken = BTreeSet::new();
    for (part, templates) in developed.into_iter().enumerate() {
        let stem = free_name(&work.parts[part].stem(), &mut taken);
        output.templates.push(PartTemplates { part, stem, templates: templates? });
    }
    Ok(())
}
