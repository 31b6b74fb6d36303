//! A sheet as it was measured: where its folds really run.

use crate::profile::Profile;
use std::sync::Arc;

/// One fold line of a sheet: a corner between two flats, as sharp as if there were no bend radius, or the
/// crest or valley line of a profile without flats. All on the middle skin.
#[derive(Debug, Clone, PartialEq)]
pub struct Fold {
    /// Counted from 1 at the right-hand edge, as on the survey form.
    pub number: u32,
    /// Which corner of the nominal profile it is: an index into [`Profile::corners`], counted on through the
    /// pitches (corner `index + k × count` lies k pitches further across).
    pub corner: i64,
    /// Distance across from the right-hand edge at each station, mm.
    pub across: Vec<f64>,
    /// Height over mid-depth at each station, mm.
    pub height: Vec<f64>,
    /// Standard deviations of `across` and `height` at each station as fitted, mm.
    pub deviation: Vec<[f64; 2]>,
}

/// Part of a sheet that cannot be used: a hole, rust, an old cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Damage {
    /// What it is, in the surveyor's words.
    pub what: String,
    /// Its outline as (along, across), mm, counter-clockwise, not closed.
    pub outline: Vec<[f64; 2]>,
}

/// A sheet of the yard.
#[derive(Debug, Clone, PartialEq)]
pub struct SurveyedSheet {
    /// As painted on it.
    pub name: String,
    /// Along the ribs, mm.
    pub length: f64,
    /// Across the ribs, edge to edge, mm.
    pub width: f64,
    /// Thickness as measured, mm.
    pub thickness: f64,
    /// Grade, or empty.
    pub grade: String,
    /// The surveyor's note, or empty.
    pub note: String,
    /// The profile it was made to.
    pub nominal: Arc<Profile>,
    /// Stations along the sheet, mm, ascending. Folds are straight between them; beyond the first and the
    /// last they run on straight.
    pub stations: Vec<f64>,
    /// Its folds in order across, one point per station each.
    pub folds: Vec<Fold>,
    /// What cannot be used.
    pub damage: Vec<Damage>,
}
