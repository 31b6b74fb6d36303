//! Stages: what is worked out over the finished model, in a declared order.

pub mod balance;
pub mod base;
pub mod bends;
pub mod coat;
pub mod costs;
pub mod cutting;
pub mod dimensions;
pub mod drawings;
pub mod forecast;
pub mod frame;
pub mod lifting;
pub mod mass;
pub mod model;
pub mod plates;
pub mod schedules;
pub mod sheets;
mod sketch;
pub mod spine;
pub mod surface;
mod stack;
pub mod templates;
pub mod views;
pub mod water;
pub mod welds;
pub mod wind;

use crate::error::Result;
use crate::memo::Memo;
use crate::output::{Output, free_name};
use crate::registry::{Registry, find, named_row};
use crate::settings::{Setting, Value, Values};
use crate::work::Work;
use std::collections::{BTreeMap, BTreeSet};

/// A registry row: one stage.
#[derive(Clone, Copy)]
pub struct Stage {
    /// The word for `--only`.
    pub name: &'static str,
    /// One line on what it adds.
    pub summary: &'static str,
    /// Its settings, given in a script with `.stage(name, #{…})`.
    pub settings: &'static [Setting],
    /// Looks at what the rows cannot say of its settings, as how the size of a tube is written; [`any`] where there is nothing.
    pub check: fn(&Values) -> Result<()>,
    /// Adds its tables, drawings and findings.
    pub run: fn(&Work, &Registry, &mut Output) -> Result<()>,
}

named_row!(Stage);

/// For stages whose settings hold whatever their rows allow.
///
/// # Errors
/// None.
pub fn any(_settings: &Values) -> Result<()> {
    Ok(())
}

/// The settings a script gives a stage, checked before there is a work: so that what is wrong is told at the line of the
/// script that says it.
///
/// # Errors
/// A name or value that rows or stage do not allow.
pub fn check(row: &Stage, given: &BTreeMap<String, Value>) -> Result<()> {
    (row.check)(&Values::check(row.name, row.settings, given)?)
}

/// The settings of a stage as the script gave them, checked.
///
/// # Errors
/// A name or value its rows do not allow.
pub fn values(work: &Work, row: &Stage) -> Result<Values> {
    work.sculpture.stage_values(row.name, row.settings)
}

/// Runs the stages named in `only` (all if empty) over the work.
///
/// # Errors
/// An unknown stage, or a stage that cannot do its part.
pub fn run_stages(work: &Work, registry: &Registry, only: &[String]) -> Result<Output> {
    run_stages_with(work, registry, only, &Memo::default())
}

/// The same, with a memo of the makes before it.
///
/// # Errors
/// As [`run_stages`].
pub fn run_stages_with(work: &Work, registry: &Registry, only: &[String], memo: &Memo) -> Result<Output> {
    for name in only {
        find("stage", &registry.stages, name)?;
    }
    let mut output = Output { memo: memo.clone(), ..Output::default() };
    for stage in &registry.stages {
        if only.is_empty() || only.iter().any(|name| name == stage.name) {
            (stage.run)(work, registry, &mut output)?;
        }
    }
    let mut taken = BTreeSet::new();
    for drawing in output.views.iter_mut().chain(&mut output.drawings) {
        drawing.name = free_name(&drawing.name, &mut taken);
    }
    Ok(output)
}
