//! Sheets as a yard has them: invented departures from the nominal shape, the same for the same seed.

use crate::random::Random;
use ribwright_kernel::profile::Profile;
use ribwright_kernel::survey::SurveyedSheet;
use std::sync::Arc;

/// Standard deviations of readings across and in height, mm.
const READINGS: [f64; 2] = [0.4, 0.3];

/// A sheet whose folds wander: some mm across, wider towards one end, and some in height.
pub fn wandering(
    rib: &Arc<Profile>,
    seed: u64,
    size: [f64; 2],
    first_crest: f64,
    stations: &[f64],
) -> SurveyedSheet {
    let mut random = Random::new(seed);
    let mut sheet = SurveyedSheet::true_to(rib, &format!("W{seed}"), size, first_crest, stations);
    let wider = random.between(0.0, 0.006);
    for fold in &mut sheet.folds {
        let shift = random.between(-1.5, 1.5);
        for (i, station) in stations.iter().enumerate() {
            let fan = 1.0 + wider * station / size[0];
            fold.across[i] = fold.across[i] * fan + shift + random.between(-0.7, 0.7);
            fold.height[i] += random.between(-1.0, 1.0);
            fold.deviation[i] = READINGS;
        }
    }
    sheet
}
