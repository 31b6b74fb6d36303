//! Surveys: sheets as they were measured, from readings to fitted fold lines.
//!
//! A sheet lies with its outside up. `along` runs along the ribs from the start end, `across` from the
//! right-hand edge as seen by someone who stands at the start end and looks along the ribs, and heights are
//! positive upward (outside), 0 at mid-depth: (along, across, height) is right-handed.

mod sheet;
mod wander;

pub use sheet::{Damage, Fold, SurveyedSheet};
pub(crate) use wander::Cell;
pub use wander::{Laid, Wander};
