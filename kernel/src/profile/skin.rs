//! Skins: the surfaces parallel to the middle of a sheet, as cross-sections of their own.
//!
//! A flat lies at its own distance on every skin and keeps its direction. An arc keeps its centre and its
//! angle, so its radius grows or shrinks by the offset. A sharp fold of the middle skin is mitred: its place
//! on a skin lies on the line that halves its angle.
//!
//! What is cut square through the sheet keeps its place along each flat from skin to skin, and its angle in
//! each arc. Only in a short stretch beside a sharp fold, where flats of different skins differ in length,
//! columns lean with the mitre.

use super::{Piece, Profile, Strip};

/// Beside a sharp fold, columns lean within this many times the distance the mitre moves the fold.
const LEANING: f64 = 2.0;

/// A place along one pitch of the middle skin and where the sheet's normal through it points: the place on
/// the skin `e` outside is `(t, h) + e·lead`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Node {
    /// Across the ribs from the middle of the crest, mm.
    pub(crate) t: f64,
    /// Height over mid-depth, mm.
    pub(crate) h: f64,
    /// Per mm of offset: how far t and h move.
    pub(crate) lead: [f64; 2],
    /// Whether the skin folds here; other nodes lie within a flat.
    pub(crate) fold: bool,
}

impl Node {
    /// t and height on the skin `offset` outside the middle one.
    fn on(&self, offset: f64) -> [f64; 2] {
        [self.t + offset * self.lead[0], self.h + offset * self.lead[1]]
    }
}

/// The nodes of one pitch: first at t = 0, last a pitch further.
pub(crate) fn nodes(profile: &Profile) -> Vec<Node> {
    let strips = profile.strips();
    let angles = tangents(profile);
    let count = strips.len();
    let mut nodes = Vec::with_capacity(count + 1);
    for i in 0..=count {
        let (before, after) = ((i + count - 1) % count, i % count);
        let lead = mitre(angles[before][1], angles[after][0]);
        let (t, h) =
            if i < count { (strips[i].t[0], strips[i].h[0]) } else { (profile.pitch(), strips[0].h[0]) };
        nodes.push(Node { t, h, lead, fold: true });
        if i < count {
            let next = mitre(angles[i][1], angles[(i + 1) % count][0]);
            lean(&mut nodes, profile, &strips[i], angles[i][0], [lead, next]);
        }
    }
    nodes
}

/// Within a flat between sharp folds, the places where columns stop leaning.
fn lean(nodes: &mut Vec<Node>, profile: &Profile, strip: &Strip, angle: f64, leads: [[f64; 2]; 2]) {
    if !matches!(profile.pieces()[strip.piece], Piece::Flat { .. }) {
        return;
    }
    let (sin, cos) = angle.sin_cos();
    let length = strip.w[1] - strip.w[0];
    let half = profile.thickness() / 2.0;
    // How far the mitre at each end moves the fold along the flat, per mm of offset.
    let along = leads.map(|[t, h]| (t * cos + h * sin).abs());
    let reach = along.map(|a| (LEANING * a * half).min(length / 2.0));
    let mut add = |w: f64| {
        let s = w / length;
        let (t, h) = (strip.t[0] + (strip.t[1] - strip.t[0]) * s, strip.h[0] + (strip.h[1] - strip.h[0]) * s);
        nodes.push(Node { t, h, lead: [-sin, cos], fold: false });
    };
    if reach[0] > 0.0 && reach[0] < length {
        add(reach[0]);
    }
    if reach[1] > 0.0 && length - reach[1] > reach[0] {
        add(length - reach[1]);
    }
}

/// Direction (radians, falling is negative) of the true shape at the two ends of every strip.
fn tangents(profile: &Profile) -> Vec<[f64; 2]> {
    let strips = profile.strips();
    let chord = |s: &Strip| (s.h[1] - s.h[0]).atan2(s.t[1] - s.t[0]);
    strips
        .iter()
        .map(|s| {
            let turn = match profile.pieces()[s.piece] {
                // A strip of an arc gains its own turn per mm of offset.
                Piece::Bend { radius, .. } if radius > 0.0 => s.gain,
                _ => 0.0,
            };
            [chord(s) + turn / 2.0, chord(s) - turn / 2.0]
        })
        .collect()
}

/// Where a mm of offset moves the corner between two directions.
fn mitre(before: f64, after: f64) -> [f64; 2] {
    let (half, mean) = ((after - before) / 2.0, f64::midpoint(before, after));
    let reach = 1.0 / half.cos();
    [-mean.sin() * reach, mean.cos() * reach]
}

impl Profile {
    /// Where a point of the middle skin lies on the skin `offset` outside it (inside is negative): t and
    /// height over mid-depth, mm.
    pub fn on_skin(&self, t: f64, offset: f64) -> [f64; 2] {
        let (periods, local) = self.periods(t);
        let nodes = &self.nodes;
        let i = nodes.partition_point(|n| n.t <= local).clamp(1, nodes.len() - 1);
        let (a, b) = (&nodes[i - 1], &nodes[i]);
        let share = ((local - a.t) / (b.t - a.t)).clamp(0.0, 1.0);
        let ([ta, ha], [tb, hb]) = (a.on(offset), b.on(offset));
        [ta + (tb - ta) * share + periods * self.pitch(), ha + (hb - ha) * share]
    }

    /// The place on the middle skin whose column passes through t on the skin `offset` outside it; undoes
    /// the first figure of [`Self::on_skin`].
    pub(crate) fn to_middle(&self, t: f64, offset: f64) -> f64 {
        let nodes = &self.nodes;
        let first = nodes[0].on(offset)[0];
        let (periods, local) = self.periods(t - first);
        let local = local + first;
        let i = nodes.partition_point(|n| n.on(offset)[0] <= local).clamp(1, nodes.len() - 1);
        let (a, b) = (&nodes[i - 1], &nodes[i]);
        let (ta, tb) = (a.on(offset)[0], b.on(offset)[0]);
        // A skin may have no width left in a strip; then any place of it will do.
        let share = if tb > ta { ((local - ta) / (tb - ta)).clamp(0.0, 1.0) } else { 0.0 };
        a.t + (b.t - a.t) * share + periods * self.pitch()
    }

    /// The places on a skin between two of its t (ascending) where columns change their direction, ascending.
    pub(crate) fn breaks_on_skin(&self, between: [f64; 2], offset: f64) -> Vec<f64> {
        if self.is_flat() {
            return Vec::new();
        }
        #[allow(clippy::cast_possible_truncation, reason = "a part spans few pitches")]
        let periods = between.map(|t| (t / self.pitch()).floor() as i64);
        let mut breaks = Vec::new();
        for k in periods[0] - 1..=periods[1] + 1 {
            #[allow(clippy::cast_precision_loss, reason = "few pitches")]
            let start = k as f64 * self.pitch();
            let within = self.nodes[..self.nodes.len() - 1].iter().map(|n| start + n.on(offset)[0]);
            breaks.extend(within.filter(|&t| t > between[0] && t < between[1]));
        }
        breaks.sort_by(f64::total_cmp);
        breaks.dedup();
        breaks
    }

    /// The folds of one pitch on a skin, ascending within [0, pitch), each with its height over mid-depth.
    pub(crate) fn folds_on_skin(&self, offset: f64) -> Vec<[f64; 2]> {
        let mut folds: Vec<[f64; 2]> = self.nodes[..self.nodes.len() - 1]
            .iter()
            .filter(|n| n.fold)
            .map(|n| {
                let [t, h] = n.on(offset);
                [self.periods(t).1, h]
            })
            .collect();
        folds.sort_by(|a, b| a[0].total_cmp(&b[0]));
        folds
    }

    /// t of every node of one pitch on the middle skin, from 0 up to the pitch: folds, and where columns stop
    /// leaning.
    pub(crate) fn node_places(&self) -> Vec<f64> {
        self.nodes[..self.nodes.len() - 1].iter().map(|n| n.t).collect()
    }

    /// Whole pitches up to t, and the rest.
    fn periods(&self, t: f64) -> (f64, f64) {
        let periods = (t / self.pitch()).floor();
        let local = t - periods * self.pitch();
        if local >= self.pitch() { (periods + 1.0, 0.0) } else { (periods, local.max(0.0)) }
    }
}
