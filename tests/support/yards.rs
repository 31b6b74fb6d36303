//! Made-up sheets whose folds are known, and readings of them.

use crate::Random;
use ribwright_kernel::profile::Profile;
use ribwright_kernel::survey::{RawSheet, Reading};
use std::fmt::Write;

/// A sheet whose folds are known.
#[derive(Debug, Clone)]
pub struct TrueSheet {
    /// Distances along the sheet, mm.
    pub stations: Vec<f64>,
    /// Across, by fold and station, mm.
    pub across: Vec<Vec<f64>>,
    /// Depth under the crests, by fold and station, mm.
    pub depth: Vec<Vec<f64>>,
}

impl TrueSheet {
    /// A sheet that is true to its profile, beginning with its corner `first`, `edge` mm from the edge.
    pub fn nominal(profile: &Profile, first: usize, edge: f64, folds: usize, stations: &[f64]) -> Self {
        let corners = profile.corners();
        let at = |k: usize| {
            let pitches = (k / corners.len()) as f64;
            [corners[k % corners.len()][0] + pitches * profile.pitch(), corners[k % corners.len()][1]]
        };
        let from = at(first)[0] - edge;
        let row = |of: &dyn Fn([f64; 2]) -> f64| -> Vec<Vec<f64>> {
            (first..first + folds).map(|k| vec![of(at(k)); stations.len()]).collect()
        };
        Self {
            stations: stations.to_vec(),
            across: row(&|c| c[0] - from),
            depth: row(&|c| profile.max_height() - c[1]),
        }
    }

    /// Adds to every point: across and depth, given fold and station.
    pub fn bend(&mut self, mut by: impl FnMut(usize, usize) -> [f64; 2]) {
        for fold in 0..self.across.len() {
            for station in 0..self.stations.len() {
                let [across, depth] = by(fold, station);
                self.across[fold][station] += across;
                self.depth[fold][station] += depth;
            }
        }
    }

    /// One reading of every point with errors of these standard deviations, `times` over.
    pub fn read(&self, name: &str, deviations: [f64; 2], times: usize, random: &mut Random) -> RawSheet {
        let mut sheet = RawSheet { name: name.to_owned(), line: 2, ..RawSheet::default() };
        for _ in 0..times {
            for (s, &station) in self.stations.iter().enumerate() {
                for fold in 0..self.across.len() {
                    let across = self.across[fold][s] + deviations[0] * random.normal();
                    let depth = self.depth[fold][s] + deviations[1] * random.normal();
                    let line = 2 + sheet.readings.len() as u64;
                    let fold = fold as u32 + 1;
                    sheet.readings.push(Reading {
                        line,
                        station,
                        fold,
                        across: Some(across),
                        depth: Some(depth),
                    });
                }
            }
        }
        sheet
    }
}

/// Rows of a yard file for the readings of a sheet, rounded to half a millimetre as people read a tape.
pub fn rows(sheet: &RawSheet) -> String {
    let half = |x: Option<f64>| x.map_or(String::new(), |x| format!("{}", (x * 2.0).round() / 2.0 + 0.0));
    let mut text = String::new();
    for r in &sheet.readings {
        // A String takes whatever is written to it.
        let (across, depth) = (half(r.across), half(r.depth));
        let _ = writeln!(text, "{},fold,{},{},{across},{depth},,", sheet.name, r.station, r.fold);
    }
    text
}
