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

impl SurveyedSheet {
    /// A sheet that is true to its profile, as if it had been measured without any error: its first crest's
    /// centre line lies `first_crest` from the right-hand edge, its folds at `stations`, mm.
    pub fn true_to(
        nominal: &Arc<Profile>,
        name: &str,
        [length, width]: [f64; 2],
        first_crest: f64,
        stations: &[f64],
    ) -> Self {
        let corners = nominal.corners();
        let count = i64::try_from(corners.len()).unwrap_or(1).max(1);
        #[allow(clippy::cast_possible_truncation, reason = "a sheet has few pitches")]
        let pitches = |across: f64| (across / nominal.pitch()).floor() as i64;
        let mut folds = Vec::new();
        for k in pitches(-first_crest) - 1..=pitches(width - first_crest) + 1 {
            for (i, corner) in (0..count).zip(&corners) {
                #[allow(clippy::cast_precision_loss, reason = "a sheet has few pitches")]
                let across = first_crest + corner[0] + k as f64 * nominal.pitch();
                if (0.0..=width).contains(&across) {
                    folds.push(Fold {
                        number: u32::try_from(folds.len() + 1).unwrap_or(u32::MAX),
                        corner: k * count + i,
                        across: vec![across; stations.len()],
                        height: vec![corner[1]; stations.len()],
                        deviation: vec![[0.0; 2]; stations.len()],
                    });
                }
            }
        }
        Self {
            name: name.to_owned(),
            length,
            width,
            thickness: nominal.thickness(),
            grade: String::new(),
            note: String::new(),
            nominal: nominal.clone(),
            stations: stations.to_vec(),
            folds,
            damage: Vec::new(),
        }
    }
}
