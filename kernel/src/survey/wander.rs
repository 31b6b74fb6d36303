//! Wander: how a surveyed sheet in its place on a face departs from its nominal shape.
//!
//! Every place of the sheet keeps the coordinates it has on the nominal sheet: s along the ribs and q across
//! them from the crest's centre line at the phase. Between stations each strip of the nominal cross-section
//! is two flat triangles, parted by the diagonal from its first corner to the one a strip across and a station
//! further along; so folds run straight, and a strip whose two folds are not parallel, or do not lie in one
//! plane, bends along that diagonal, as sheet does that is bent and not stretched. Nothing is approximated
//! beyond that. Corners move as they were measured, all between two corners in proportion; beyond the first
//! and last of them, and beyond the ends, the sheet keeps the departure it has there.

use super::SurveyedSheet;
use crate::error::{Error, Result};
use crate::profile::Profile;
use std::sync::Arc;

/// A surveyed sheet laid on a face.
#[derive(Debug, Clone, PartialEq)]
pub struct Laid {
    /// The sheet.
    pub sheet: Arc<SurveyedSheet>,
    /// Which of its points, as (along, across), lies at the face's origin, mm.
    pub at: [f64; 2],
    /// Turned end for end: its start lies up the ribs.
    pub turned: bool,
    /// Turned over: its outside, as measured, lies inside.
    pub over: bool,
}

impl Laid {
    /// A sheet with its middle over the face's origin, the crest nearest to it on the face's crest.
    ///
    /// # Errors
    /// As [`Wander::of`].
    pub fn centred(sheet: &Arc<SurveyedSheet>, turned: bool, over: bool) -> Result<Self> {
        let mut laid =
            Self { sheet: sheet.clone(), at: [sheet.length / 2.0, sheet.width / 2.0], turned, over };
        let (_, phase) = Wander::of(&laid)?;
        laid.at[1] += laid.signs()[1] * phase;
        Ok(laid)
    }

    /// What becomes of along, across and height.
    fn signs(&self) -> [f64; 3] {
        match (self.turned, self.over) {
            (false, false) => [1.0, 1.0, 1.0],
            (true, false) => [-1.0, -1.0, 1.0],
            (false, true) => [1.0, -1.0, -1.0],
            (true, true) => [-1.0, 1.0, -1.0],
        }
    }

    /// Where a place of the face, (s, t) as seen square to it, lies on the sheet, as (along, across), mm.
    pub fn place(&self, [s, t]: [f64; 2]) -> [f64; 2] {
        let [sign_s, sign_t, _] = self.signs();
        [self.at[0] + sign_s * s, self.at[1] + sign_t * t]
    }
}

/// Where a sheet in its place departs from its nominal shape.
#[derive(Debug, Clone, PartialEq)]
pub struct Wander {
    sheet: String,
    profile: Arc<Profile>,
    /// Along the ribs from the face's origin, ascending, mm.
    stations: Vec<f64>,
    /// Nodes of one pitch: q from 0 up to the pitch.
    nodes: Vec<f64>,
    /// q of each fold that was measured, ascending.
    corners: Vec<f64>,
    /// Index of the first node that was moved.
    first: i64,
    /// For each station and node from `first` on: how far it lies further across and further out, mm.
    moves: Vec<Vec<[f64; 2]>>,
}

/// A triangle or, beyond the first and last station, a strip of the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Cell {
    /// Number of stations before it.
    pub(crate) row: usize,
    /// Its node of less q.
    pub(crate) node: i64,
    /// Beyond the diagonal.
    pub(crate) beyond: bool,
}

/// Nodes closer than this share of the pitch are one.
const SAME_NODE: f64 = 1.0e-9;

impl Wander {
    /// A sheet in its place, and the phase of the nominal sheet it departs from: a crest's centre line lies at
    /// that t, within half a pitch of the face's origin.
    ///
    /// # Errors
    /// A flat or unmeasured sheet; one turned though its profile is not symmetric; folds that cross.
    pub fn of(laid: &Laid) -> Result<(Self, f64)> {
        let sheet = &laid.sheet;
        let bad = |what: String, remedy: &str| Err(Error::input(what).at(sheet.name.as_str()).remedy(remedy));
        let profile = &sheet.nominal;
        let shape = profile.corners();
        if shape.is_empty() || sheet.folds.is_empty() || sheet.stations.is_empty() {
            return bad(
                "this sheet has no folds that were measured".to_owned(),
                "measure it, or clad the face in its profile",
            );
        }
        let [sign_s, sign_t, sign_h] = laid.signs();
        // How far the nominal sheet must shift across to lie as before.
        let Some(shift) = profile.symmetry(sign_t, sign_h) else {
            return bad(
                format!(
                    "its profile is another one {}",
                    if laid.over { "turned over" } else { "turned end for end" }
                ),
                "lay it the other way round",
            );
        };
        // Stations from end to end: straight on from the outer ones.
        let mut along = sheet.stations.clone();
        let before = along[0] > 0.0;
        let after = along[along.len() - 1] < sheet.length;
        if before {
            along.insert(0, 0.0);
        }
        if after {
            along.push(sheet.length);
        }
        let extended = |values: &[f64]| -> Vec<f64> {
            let mut out = values.to_vec();
            let old = &sheet.stations;
            let count = old.len();
            let on = |i: usize, j: usize, at: f64| {
                if i == j {
                    values[i]
                } else {
                    values[i] + (values[j] - values[i]) * (at - old[i]) / (old[j] - old[i])
                }
            };
            let (second, last_but_one) = (1.min(count - 1), count.saturating_sub(2));
            if before {
                out.insert(0, on(0, second, 0.0));
            }
            if after {
                out.push(on(count - 1, last_but_one, sheet.length));
            }
            out
        };
        let mut stations: Vec<f64> = along.iter().map(|s| (s - laid.at[0]) * sign_s).collect();
        let count = i64::try_from(shape.len()).unwrap_or(1);
        // For each fold: q on the nominal sheet, nominal height, and where it is at each station.
        let mut folds: Vec<(f64, f64, Vec<[f64; 2]>)> = sheet
            .folds
            .iter()
            .map(|fold| {
                let corner = shape[usize::try_from(fold.corner.rem_euclid(count)).unwrap_or(0)];
                #[allow(clippy::cast_precision_loss, reason = "few pitches")]
                let q = corner[0] + fold.corner.div_euclid(count) as f64 * profile.pitch();
                let (q, nominal) = nearest_corner(profile, &shape, q * sign_t + shift);
                let (across, height) = (extended(&fold.across), extended(&fold.height));
                let places = across
                    .iter()
                    .zip(&height)
                    .map(|(a, h)| [(a - laid.at[1]) * sign_t, h * sign_h])
                    .collect();
                (q, nominal, places)
            })
            .collect();
        if sign_s < 0.0 {
            stations.reverse();
            for (_, _, places) in &mut folds {
                places.reverse();
            }
        }
        if sign_t < 0.0 {
            folds.reverse();
        }
        // The nominal sheet lies as near to all of them as it can, its crest next to the origin.
        #[allow(clippy::cast_precision_loss, reason = "a survey is small")]
        let readings = (folds.len() * stations.len()) as f64;
        let mean = folds.iter().flat_map(|(q, _, p)| p.iter().map(move |p| p[0] - q)).sum::<f64>() / readings;
        let pitches = (mean / profile.pitch()).round();
        let phase = mean - pitches * profile.pitch();
        let corners: Vec<f64> = folds.iter().map(|(q, _, _)| q + pitches * profile.pitch()).collect();
        let mut nodes = profile.node_places();
        nodes.dedup_by(|b, a| *b - *a <= SAME_NODE * profile.pitch());
        let name = sheet.name.clone();
        let mut wander = Self {
            sheet: name,
            profile: profile.clone(),
            stations,
            nodes,
            corners,
            first: 0,
            moves: Vec::new(),
        };
        let corners = wander.corners.clone();
        let (first, last) =
            (wander.node_below(corners[0]), wander.node_below(corners[corners.len() - 1]) + 1);
        wander.first = first;
        wander.moves = (0..wander.stations.len())
            .map(|i| {
                let moves: Vec<[f64; 2]> = folds
                    .iter()
                    .zip(&corners)
                    .map(|((_, height, places), q)| [places[i][0] - phase - q, places[i][1] - height])
                    .collect();
                (first..=last).map(|k| between(&corners, &moves, wander.node(k))).collect()
            })
            .collect();
        for (i, moves) in wander.moves.iter().enumerate() {
            for (k, pair) in (first..).zip(moves.windows(2)) {
                if wander.node(k + 1) + pair[1][0] - wander.node(k) - pair[0][0]
                    <= SAME_NODE * profile.pitch()
                {
                    return bad(
                        format!(
                            "its folds cross {:.0} mm along it",
                            laid.at[0] + sign_s * wander.stations[i]
                        ),
                        "look for swapped readings in the survey",
                    );
                }
            }
        }
        Ok((wander, phase))
    }

    /// The sheet's name.
    pub fn sheet(&self) -> &str {
        &self.sheet
    }

    /// The nominal profile.
    pub fn profile(&self) -> &Arc<Profile> {
        &self.profile
    }

    /// Stations along the ribs from the face's origin, ascending, mm.
    pub(crate) fn stations(&self) -> &[f64] {
        &self.stations
    }

    /// q of each fold that was measured, ascending: in the order of the sheet's folds, or against it if it lies
    /// turned.
    pub(crate) fn corners(&self) -> &[f64] {
        &self.corners
    }

    /// Nodes of one pitch: q from 0 up to the pitch.
    pub(crate) fn nodes(&self) -> &[f64] {
        &self.nodes
    }

    /// q of a node, counted on through the pitches.
    pub(crate) fn node(&self, index: i64) -> f64 {
        let count = i64::try_from(self.nodes.len()).unwrap_or(1);
        let within = usize::try_from(index.rem_euclid(count)).unwrap_or(0);
        #[allow(clippy::cast_precision_loss, reason = "few pitches")]
        let start = index.div_euclid(count) as f64 * self.profile.pitch();
        start + self.nodes[within]
    }

    /// The node at or before q.
    pub(crate) fn node_below(&self, q: f64) -> i64 {
        let periods = (q / self.profile.pitch()).floor();
        let local = q - periods * self.profile.pitch();
        let within = self.nodes.partition_point(|&n| n <= local);
        #[allow(clippy::cast_possible_truncation, reason = "few pitches")]
        let periods = periods as i64;
        let (count, within) = (i64::try_from(self.nodes.len()), i64::try_from(within));
        periods * count.unwrap_or(1) + within.unwrap_or(1) - 1
    }

    /// The nodes that were moved each by its own: beyond them all move as the outermost.
    pub(crate) fn moved_nodes(&self) -> std::ops::RangeInclusive<i64> {
        let count = i64::try_from(self.moves[0].len()).unwrap_or(1);
        self.first..=self.first + count - 1
    }

    /// How far a node lies off its nominal place at a station: across and outward, mm.
    pub(crate) fn at_node(&self, station: usize, node: i64) -> [f64; 2] {
        let moves = &self.moves[station];
        let last = moves.len() - 1;
        moves[usize::try_from(node - self.first).unwrap_or(0).min(last)]
    }

    /// Number of stations at or before s.
    pub(crate) fn row(&self, s: f64) -> usize {
        self.stations.partition_point(|&x| x <= s)
    }

    /// How far a place lies off its nominal place: across and outward, mm.
    pub fn moved(&self, s: f64, q: f64) -> [f64; 2] {
        let node = self.node_below(q);
        let (q0, q1) = (self.node(node), self.node(node + 1));
        let across = ((q - q0) / (q1 - q0)).clamp(0.0, 1.0);
        let row = self.row(s);
        let mix = |a: [f64; 2], b: [f64; 2], x: f64| [a[0] + (b[0] - a[0]) * x, a[1] + (b[1] - a[1]) * x];
        if row == 0 || row == self.stations.len() {
            let i = row.saturating_sub(1);
            return mix(self.at_node(i, node), self.at_node(i, node + 1), across);
        }
        let (s0, s1) = (self.stations[row - 1], self.stations[row]);
        let along = (s - s0) / (s1 - s0);
        let [near, far] = [row - 1, row].map(|i| [self.at_node(i, node), self.at_node(i, node + 1)]);
        // Linear on the triangle on either side of the diagonal.
        let (from, to) = if across <= along {
            (mix(near[0], far[0], along), [far[1][0] - far[0][0], far[1][1] - far[0][1]])
        } else {
            let start = [
                near[0][0] + (far[1][0] - near[1][0]) * along,
                near[0][1] + (far[1][1] - near[1][1]) * along,
            ];
            (start, [near[1][0] - near[0][0], near[1][1] - near[0][1]])
        };
        [from[0] + to[0] * across, from[1] + to[1] * across]
    }

    /// Shares of the straight line between two places, as (s, q), at which it passes from one triangle into
    /// the next, ascending.
    pub(crate) fn passes(&self, ends: [[f64; 2]; 2]) -> Vec<f64> {
        let [a, b] = ends;
        let run = [b[0] - a[0], b[1] - a[1]];
        let mut shares = Vec::new();
        if run[0] != 0.0 {
            shares.extend(self.stations.iter().map(|s| (s - a[0]) / run[0]));
        }
        if run[1] != 0.0 {
            let (low, high) = (a[1].min(b[1]), a[1].max(b[1]));
            let nodes = self.node_below(low)..=self.node_below(high) + 1;
            shares.extend(nodes.map(|k| (self.node(k) - a[1]) / run[1]));
        }
        let within = |x: &f64| *x > 0.0 && *x < 1.0;
        shares.retain(within);
        shares.sort_by(f64::total_cmp);
        let mut all = shares.clone();
        let mut from = 0.0;
        for to in shares.into_iter().chain([1.0]) {
            let middle = f64::midpoint(from, to);
            let (s, q) = (a[0] + run[0] * middle, a[1] + run[1] * middle);
            let row = self.row(s);
            if row > 0 && row < self.stations.len() {
                let node = self.node_below(q);
                let (s0, s1) = (self.stations[row - 1], self.stations[row]);
                let (q0, q1) = (self.node(node), self.node(node + 1));
                let side =
                    |p: f64| (a[0] + run[0] * p - s0) / (s1 - s0) - (a[1] + run[1] * p - q0) / (q1 - q0);
                let (x, y) = (side(from), side(to));
                if (x < 0.0) != (y < 0.0) {
                    let share = from + (to - from) * x / (x - y);
                    if share > from && share < to {
                        all.push(share);
                    }
                }
            }
            from = to;
        }
        all.sort_by(f64::total_cmp);
        all.dedup();
        all
    }
}

/// The corner of the nominal sheet nearest to q: its own q, and its height.
fn nearest_corner(profile: &Profile, corners: &[[f64; 2]], q: f64) -> (f64, f64) {
    let pitch = profile.pitch();
    let near = |c: &[f64; 2]| (c[0] + ((q - c[0]) / pitch).round() * pitch, c[1]);
    corners.iter().map(near).min_by(|a, b| (a.0 - q).abs().total_cmp(&(b.0 - q).abs())).unwrap_or((q, 0.0))
}

/// Linear between places, as the outermost beyond them.
fn between(places: &[f64], values: &[[f64; 2]], at: f64) -> [f64; 2] {
    let i = places.partition_point(|&p| p <= at);
    if i == 0 || i == places.len() {
        return values[i.saturating_sub(1)];
    }
    let share = (at - places[i - 1]) / (places[i] - places[i - 1]);
    let (a, b) = (values[i - 1], values[i]);
    [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share]
}
