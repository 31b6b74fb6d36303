//! The lightest tube: sizes of the list of its grade, tried from the lightest on, by way, sway, frequency and strength.
//!
//! Chosen before base, plates and coating are weighed, with the foot fixed; the stage `frame` checks the choice again with
//! all that is there then.

use super::super::frame::tried;
use super::super::sketch::refused;
use super::asked::Asked;
use super::fit::{Prepared, Verdict};
use super::remarks::series;
use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::output::Output;
use crate::settings::Values;
use crate::sway::{Attach, Carried, Foot, Options, lightest};
use crate::tube::Tube;
use crate::work::Work;

/// What gaps may be short by, mm: rounding.
const SHORT: f64 = 1.0e-6;

/// Chooses a tube and builds the spine of it, or says why there is none.
///
/// # Errors
/// As for a spine of a given tube; settings of the stages `frame`, `wind` and `balance` that their rows do not allow.
pub(super) fn build(work: &Work, set: &Values, output: &mut Output) -> Result<()> {
    let place = work.sculpture.name.as_str();
    let asked = Asked::new(work, set)?;
    let gap = asked.gap;
    let options = Options::of(&work.sculpture)?;
    // Plates and anchors are not there yet.
    let options = Options { foot: Foot::Fixed, attach: without_plates(options.attach), ..options };
    let carried = Carried::new(work, output)?;
    let tubes: Vec<Tube> = series(set).tubes().collect();
    let chosen = Prepared::of(work, asked).and_then(|prepared| {
        lightest(&carried, &options, &tubes, |tube| {
            Ok(match prepared.with(tube)? {
                Verdict::Fits(fitted) => {
                    let clear = fitted.tightest().is_none_or(|t| t.gap >= gap - SHORT);
                    (clear && fitted.missed.is_empty()).then_some(fitted.built)
                }
                Verdict::Blocked(_) => None,
            })
        })
    });
    let chosen = match chosen {
        Ok(chosen) => chosen,
        Err(error) => {
            output.findings.push(refused(Level::Error, "spine-lightest", place, &error));
            return Ok(());
        }
    };
    output.tables.push(tried(&chosen));
    output.findings.push(Finding::new(
        Level::Note,
        "spine-lightest",
        place,
        format!(
            "tube {}: the lightest of the list that does, the {} lighter ones do not; chosen without base, plates and coating, its \
             foot fixed",
            chosen.built.tube.words(),
            chosen.tried.len() - 1
        ),
        "read the stage frame, which checks it with all that is built; ask the stockist for the size; a licensed engineer decides",
    ));
    super::build(work, set, &chosen.built.tube, output)
}

fn without_plates(attach: Attach) -> Attach {
    if attach == Attach::Plates { Attach::Openings } else { attach }
}
