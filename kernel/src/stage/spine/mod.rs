//! The spine stage: a crooked tube up the inside, its legs, mitres, cutting list and templates, where asked for.

mod asked;
mod branches;
pub mod chambers;
pub mod fit;
mod lightest;
mod papers;
mod picture;
mod remarks;
pub mod room;
mod schedule;

pub use fit::{Fitted, Prepared, Verdict, built_with};

use super::sketch::refused;
use super::{Stage, values};
use crate::error::Result;
use crate::finding::Level;
use crate::mass::{Kind, Matter, Rod};
use crate::output::Output;
use crate::registry::Registry;
use crate::settings::Values;
use crate::spine::STAGE;
use crate::tube::Tube;
use crate::work::Work;

/// The registry row.
pub const ROW: Stage = Stage {
    name: STAGE,
    summary: "a crooked tube up the inside: fewest legs, least bend, mitres, cutting list, wrap-round templates",
    settings: asked::ROWS,
    check: sizes,
    run,
};

/// Reads sizes of tubes and lengths of bars, where they are given.
///
/// # Errors
/// No size, one that is not possible, or no lengths.
fn sizes(set: &Values) -> Result<()> {
    for name in ["tube", "branch_tube"] {
        if set.text(name).is_some_and(|t| name != "tube" || t.trim() != asked::LIGHTEST) {
            asked::size(set, name)?;
        }
    }
    asked::bars(set).map(|_| ())
}

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    if !work.sculpture.stages.contains_key(ROW.name) {
        return Ok(());
    }
    let set = values(work, &ROW)?;
    if set.text("tube").is_some_and(|t| t.trim() == asked::LIGHTEST) {
        return lightest::build(work, &set, output);
    }
    let tube = asked::tube(&set)?;
    build(work, &set, &tube, output)
}

/// Looks for a spine of this tube and adds all that hangs on it, or says why there is none.
///
/// # Errors
/// Settings that are no use; a drawing or a mass that cannot be.
pub(super) fn build(work: &Work, set: &Values, tube: &Tube, output: &mut Output) -> Result<()> {
    let asked = asked::Asked::new(work, set)?;
    let place = work.sculpture.name.as_str();
    let prepared = match Prepared::of(work, asked) {
        Ok(prepared) => prepared,
        Err(error) => {
            output.findings.push(refused(Level::Error, "spine-way", place, &error));
            return Ok(());
        }
    };
    remarks::before(work, set, tube, &prepared, output);
    match prepared.with(tube) {
        Err(error) => output.findings.push(refused(Level::Error, "spine-leg", place, &error)),
        Ok(Verdict::Blocked(blocked)) => {
            output.findings.push(remarks::blocked(work, set, tube, &prepared, &blocked));
        }
        Ok(Verdict::Fits(fitted)) => {
            remarks::after(work, set, &prepared, &fitted, output);
            schedule::tables(work, set, &prepared, &fitted, output);
            papers::add(work, set, &fitted, output)?;
            output.drawings.push(picture::drawing(work, &prepared, &fitted));
            for (k, leg) in fitted.legs.iter().enumerate() {
                let rod = Rod { ends: leg.ends.map(|e| e.at), mass: fitted.leg_mass(k) };
                let what = format!("spine leg {}", k + 1);
                output.mass.push(Some(fitted.goes_with[k]), Kind::Spine, what, Matter::Rods(vec![rod]))?;
            }
            branches::add(work, set, &fitted, output)?;
            output.spine = Some(fitted.built);
        }
    }
    Ok(())
}
