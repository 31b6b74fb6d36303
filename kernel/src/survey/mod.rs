//! Surveys: sheets as they were measured, from readings to fitted fold lines.
//!
//! A sheet lies with its outside up. `along` runs along the ribs from the start end, `across` from the
//! right-hand edge as seen by someone who stands at the start end and looks along the ribs, and heights are
//! positive upward (outside), 0 at mid-depth: (along, across, height) is right-handed. Depths are read under a
//! straightedge laid over the crests, so that 0 is half the nominal depth below it.
//!
//! [`read_yard`] reads the file of a yard, [`fit_yard`] fits its sheets to the profile they were made to.

mod agree;
mod departure;
mod draw;
mod fit;
mod form;
mod nominal;
mod options;
mod place;
mod read;
mod report;
mod sheet;
mod wander;
mod trace;
mod yard;

pub use departure::{Departure, End, Worst};
pub use draw::{draw_sheet, file_stem};
pub use fit::{BAND, Check, FittedSheet, Kind, MOST_ALL_POINTS, MOST_POINTS, fit_sheet, fit_yard};
pub use form::form;
pub use nominal::{nominals, profile_of};
pub use options::{FitOptions, ROWS};
pub use read::{MOST_BYTES, MOST_CORNERS, MOST_READINGS, MOST_ROWS, MOST_SHEETS, read_yard};
pub use report::{survey_csv, survey_json};
pub use sheet::{Damage, Fold, SurveyedSheet};
pub use trace::{MOST_TRACE_BYTES, add_traces, trace_points};
pub(crate) use wander::Cell;
pub use wander::{Laid, Wander};
pub use yard::{COLUMNS, Measured, RawSheet, Reading, Row, Trace, WORDS, Yard, YardColumn};
