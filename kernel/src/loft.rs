//! Lofts: a skin of a surveyed sheet in its place, as heights over the face plane that vary along the ribs too.
//!
//! S runs along the ribs from the face's origin, T across them from the crest's centre line at the phase, q is
//! T on the nominal sheet. Each [`Cell`] is flat: within it T and the height are linear in S and q.

use crate::survey::{Cell, Wander};
use std::ops::RangeInclusive;
use std::sync::Arc;

/// One skin of a sheet that wanders.
#[derive(Debug, Clone)]
pub(crate) struct Loft {
    wander: Arc<Wander>,
    /// For each node of one pitch: how far it lies from q across, and its height, before it wanders.
    skin: Vec<[f64; 2]>,
    /// T and height of the nodes that were moved, by station.
    places: Vec<Vec<[f64; 2]>>,
    /// Cells between the moved nodes, by row, node and half: looked at many times each.
    known: Vec<Bounded>,
    /// Least and greatest height.
    pub(crate) low: f64,
    pub(crate) high: f64,
}

/// An edge between two cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Edge {
    /// The line of a node within a row.
    Fold(usize, i64),
    /// Across a strip at a station: the row after it, and its node of less q.
    Station(usize, i64),
    /// Within a row and strip.
    Diagonal(usize, i64),
}

/// A cell as a near sheet is asked for it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Bounded {
    /// The height over it as a function of S and T: constant, per S, per T.
    pub(crate) heights: [f64; 3],
    /// What bounds it: linear functions of S and T, likewise, that are ≤ 0 within it.
    pub(crate) limits: [[f64; 3]; 3],
}

/// A cell's plane in space: T and height at S = q = 0, and what they gain per S and per q.
#[derive(Debug, Clone, Copy)]
pub(crate) struct CellPlane {
    pub(crate) start: [f64; 2],
    pub(crate) per_s: [f64; 2],
    pub(crate) per_q: [f64; 2],
}

impl Loft {
    /// The skin `offset` outside the middle one, with heights counted from that offset.
    pub(crate) fn new(wander: &Arc<Wander>, offset: f64) -> Self {
        let profile = wander.profile();
        let places_of_pitch = wander.nodes();
        let skin: Vec<[f64; 2]> = places_of_pitch
            .iter()
            .map(|&q| {
                let [t, h] = profile.on_skin(q, offset);
                [t - q, h - offset]
            })
            .collect();
        let mut loft = Self {
            wander: wander.clone(),
            skin,
            places: Vec::new(),
            known: Vec::new(),
            low: f64::INFINITY,
            high: f64::NEG_INFINITY,
        };
        loft.places = (0..wander.stations().len())
            .map(|i| wander.moved_nodes().map(|k| loft.work_out(i, k)).collect())
            .collect();
        // Beyond the moved nodes whole pitches run on as the outermost.
        let pitch = i64::try_from(places_of_pitch.len()).unwrap_or(1);
        let (first, last) = (*wander.moved_nodes().start(), *wander.moved_nodes().end());
        for i in 0..wander.stations().len() {
            for k in first - pitch..=last + pitch {
                let h = loft.place(i, k)[1];
                (loft.low, loft.high) = (loft.low.min(h), loft.high.max(h));
            }
        }
        let mut known = Vec::with_capacity(2 * (wander.stations().len() + 1) * loft.places[0].len());
        for row in 0..=wander.stations().len() {
            for node in first..last {
                known.extend([false, true].map(|beyond| loft.bound(Cell { row, node, beyond })));
            }
        }
        loft.known = known;
        loft
    }

    /// A cell's height and bounds.
    pub(crate) fn bounded(&self, cell: Cell) -> Bounded {
        let moved = self.wander.moved_nodes();
        if moved.contains(&cell.node) && cell.node < *moved.end() {
            let strips = self.places[0].len() - 1;
            let node = usize::try_from(cell.node - moved.start()).unwrap_or(0);
            return self.known[2 * (cell.row * strips + node) + usize::from(cell.beyond)];
        }
        self.bound(cell)
    }

    fn bound(&self, cell: Cell) -> Bounded {
        let cell = Cell { beyond: cell.beyond && self.is_split(cell.row), ..cell };
        let CellPlane { start, per_s, per_q } = self.plane(cell);
        let per_t = per_q[1] / per_q[0];
        Bounded {
            heights: [start[1] - per_t * start[0], per_s[1] - per_t * per_s[0], per_t],
            limits: self.limits(cell),
        }
    }

    fn work_out(&self, station: usize, node: i64) -> [f64; 2] {
        let count = i64::try_from(self.skin.len()).unwrap_or(1);
        let [t, h] = self.skin[usize::try_from(node.rem_euclid(count)).unwrap_or(0)];
        let moved = self.wander.at_node(station, node);
        [self.wander.node(node) + t + moved[0], h + moved[1]]
    }

    /// T and height of a node at a station.
    fn place(&self, station: usize, node: i64) -> [f64; 2] {
        let moved = self.wander.moved_nodes();
        if moved.contains(&node) {
            self.places[station][usize::try_from(node - moved.start()).unwrap_or(0)]
        } else {
            self.work_out(station, node)
        }
    }

    /// The stations at the two ends of a row; the same twice beyond the first and the last.
    fn ends(&self, row: usize) -> [usize; 2] {
        let last = self.wander.stations().len() - 1;
        [row.saturating_sub(1).min(last), row.min(last)]
    }

    /// How far along its row s lies, from 0 to 1.
    fn share(&self, row: usize, s: f64) -> f64 {
        let [a, b] = self.ends(row).map(|i| self.wander.stations()[i]);
        if b > a { ((s - a) / (b - a)).clamp(0.0, 1.0) } else { 0.0 }
    }

    /// T of a node's line at s within a row.
    fn line(&self, row: usize, node: i64, s: f64) -> f64 {
        self.line_at(self.ends(row), node, self.share(row, s))
    }

    fn line_at(&self, ends: [usize; 2], node: i64, share: f64) -> f64 {
        let [a, b] = ends.map(|i| self.place(i, node)[0]);
        a + (b - a) * share
    }

    /// The node at or before T at s within a row.
    fn node_at(&self, row: usize, s: f64, t: f64) -> i64 {
        let moved = self.wander.moved_nodes();
        let (first, last) = (*moved.start(), *moved.end());
        let (ends, share) = (self.ends(row), self.share(row, s));
        let line = |node: i64| self.line_at(ends, node, share);
        let mut node = if t < line(first) {
            self.wander.node_below(t - line(first) + self.wander.node(first))
        } else if t >= line(last) {
            self.wander.node_below(t - line(last) + self.wander.node(last))
        } else {
            let [a, b] = ends.map(|i| &self.places[i]);
            let at = |k: usize| a[k][0] + (b[k][0] - a[k][0]) * share;
            let (mut low, mut high) = (0, a.len() - 1);
            while high - low > 1 {
                let middle = low + (high - low) / 2;
                if at(middle) <= t { low = middle } else { high = middle }
            }
            return first + i64::try_from(low).unwrap_or(0);
        };
        // On a skin nodes lie a little aside of q.
        while line(node) > t {
            node -= 1;
        }
        while line(node + 1) <= t {
            node += 1;
        }
        node
    }

    fn is_split(&self, row: usize) -> bool {
        row > 0 && row < self.wander.stations().len()
    }

    /// The cell at a place.
    fn cell_at(&self, s: f64, t: f64) -> Cell {
        let row = self.wander.row(s);
        let node = self.node_at(row, s, t);
        Cell { row, node, beyond: self.is_split(row) && t > self.diagonal(row, node, s) }
    }

    /// The cell of a strip at s and q.
    pub(crate) fn cell_of(&self, s: f64, node: i64, q: f64) -> Cell {
        let row = self.wander.row(s);
        let (q0, q1) = (self.wander.node(node), self.wander.node(node + 1));
        Cell { row, node, beyond: self.is_split(row) && (q - q0) / (q1 - q0) > self.share(row, s) }
    }

    /// T of the crest's centre line that is nominally at 0, at s, mm.
    pub(crate) fn crest(&self, s: f64) -> f64 {
        self.line(self.wander.row(s), 0, s)
    }

    /// Length of the cross-section at s from the middle of the crest at q = 0 to q, with true arcs, mm; negative
    /// for q below 0. What a card laid over the ribs measures.
    pub(crate) fn girth(&self, s: f64, q: f64, offset: f64) -> f64 {
        let profile = self.wander.profile();
        let row = self.wander.row(s);
        let share = self.share(row, s);
        let end = self.wander.node_below(q);
        let strip = |node: i64, from: f64, to: f64| {
            let (q0, q1) = (self.wander.node(node), self.wander.node(node + 1));
            let on = |q: f64| profile.on_skin(q, offset);
            let chord = (on(q1)[0] - on(q0)[0]).hypot(on(q1)[1] - on(q0)[1]);
            let longer = (profile.developed_at(q1, offset) - profile.developed_at(q0, offset)) / chord;
            let per_q = |beyond: bool| {
                let [t, h] = self.plane(Cell { row, node, beyond: beyond && self.is_split(row) }).per_q;
                t.hypot(h)
            };
            let diagonal = q0 + (q1 - q0) * share;
            let near = (to.min(diagonal) - from.min(diagonal)) * per_q(false);
            let far = (to.max(diagonal) - from.max(diagonal)) * per_q(true);
            (near + far) * longer
        };
        let whole = |node: i64| strip(node, self.wander.node(node), self.wander.node(node + 1));
        if end >= 0 {
            (0..end).map(whole).sum::<f64>() + strip(end, self.wander.node(end), q)
        } else {
            -(end + 1..0).map(whole).sum::<f64>() - strip(end, q, self.wander.node(end + 1))
        }
    }

    /// T of the diagonal of a strip in a row at s.
    fn diagonal(&self, row: usize, node: i64, s: f64) -> f64 {
        let [i, j] = self.ends(row);
        let (a, b) = (self.place(i, node)[0], self.place(j, node + 1)[0]);
        a + (b - a) * self.share(row, s)
    }

    /// Height at a place.
    pub(crate) fn height(&self, s: f64, t: f64) -> f64 {
        let [h, per_s, per_t] = self.bounded(self.cell_at(s, t)).heights;
        h + per_s * s + per_t * t
    }

    /// q of a place, and the slope of the sheet across the ribs there (height per T).
    pub(crate) fn on_sheet(&self, s: f64, t: f64) -> [f64; 2] {
        let cell = self.cell_at(s, t);
        let CellPlane { start, per_s, per_q } = self.plane(cell);
        [(t - start[0] - per_s[0] * s) / per_q[0], per_q[1] / per_q[0]]
    }

    /// The plane of a cell.
    pub(crate) fn plane(&self, cell: Cell) -> CellPlane {
        let [i, j] = self.ends(cell.row);
        let (s0, s1) = (self.wander.stations()[i], self.wander.stations()[j]);
        let (q0, q1) = (self.wander.node(cell.node), self.wander.node(cell.node + 1));
        let near = [self.place(i, cell.node), self.place(i, cell.node + 1)];
        let far = [self.place(j, cell.node), self.place(j, cell.node + 1)];
        let run = |a: [f64; 2], b: [f64; 2], over: f64| [(b[0] - a[0]) / over, (b[1] - a[1]) / over];
        let (per_s, per_q) = match (self.is_split(cell.row), cell.beyond) {
            (false, _) => ([0.0; 2], run(near[0], near[1], q1 - q0)),
            (true, false) => (run(near[0], far[0], s1 - s0), run(far[0], far[1], q1 - q0)),
            (true, true) => (run(near[1], far[1], s1 - s0), run(near[0], near[1], q1 - q0)),
        };
        let start = [0, 1].map(|x| near[0][x] - per_s[x] * s0 - per_q[x] * q0);
        CellPlane { start, per_s, per_q }
    }

    /// What bounds a cell: linear functions of S and T (constant, per S, per T) that are ≤ 0 within it.
    fn limits(&self, cell: Cell) -> [[f64; 3]; 3] {
        let stations = self.wander.stations();
        let Cell { row, node, beyond } = cell;
        let [i, j] = self.ends(row);
        // A line T = a + b·S from one station to the next.
        let line = |a: f64, b: f64| {
            let (s0, s1) = (stations[i], stations[j]);
            let slope = if s1 > s0 { (b - a) / (s1 - s0) } else { 0.0 };
            [a - slope * s0, slope]
        };
        let above = |[a, b]: [f64; 2]| [a, b, -1.0];
        let below = |[a, b]: [f64; 2]| [-a, -b, 1.0];
        let fold = |k: i64| line(self.place(i, k)[0], self.place(j, k)[0]);
        if !self.is_split(row) {
            let end = if row == 0 { [-stations[0], 1.0, 0.0] } else { [stations[j], -1.0, 0.0] };
            return [end, above(fold(node)), below(fold(node + 1))];
        }
        let diagonal = line(self.place(i, node)[0], self.place(j, node + 1)[0]);
        if beyond {
            [[stations[i], -1.0, 0.0], below(fold(node + 1)), above(diagonal)]
        } else {
            [[-stations[j], 1.0, 0.0], above(fold(node)), below(diagonal)]
        }
    }

    /// All cells that may reach into a box of S and T.
    pub(crate) fn cells(&self, s: [f64; 2], t: [f64; 2]) -> impl Iterator<Item = Cell> + '_ {
        (self.wander.row(s[0])..=self.wander.row(s[1])).flat_map(move |row| {
            self.nodes(row, t).flat_map(move |node| {
                let halves: &[bool] = if self.is_split(row) { &[false, true] } else { &[false] };
                halves.iter().map(move |&beyond| Cell { row, node, beyond })
            })
        })
    }

    fn nodes(&self, row: usize, t: [f64; 2]) -> RangeInclusive<i64> {
        let stations = self.wander.stations();
        let ends = self.ends(row).map(|i| stations[i]);
        let low = ends.map(|s| self.node_at(row, s, t[0]));
        let high = ends.map(|s| self.node_at(row, s, t[1]));
        low[0].min(low[1])..=high[0].max(high[1])
    }

    /// The cell's outline in S and q, counter-clockwise, each corner with the edge that starts there; rows beyond
    /// the stations run to `s_range`.
    pub(crate) fn outline(&self, cell: Cell, s_range: [f64; 2]) -> Vec<([f64; 2], Option<Edge>)> {
        let stations = self.wander.stations();
        let Cell { row, node, beyond } = cell;
        let [i, j] = self.ends(row);
        let (q0, q1) = (self.wander.node(node), self.wander.node(node + 1));
        let (low, high) = (Edge::Fold(row, node), Edge::Fold(row, node + 1));
        if !self.is_split(row) {
            let s = if row == 0 {
                [s_range[0].min(stations[0]), stations[0]]
            } else {
                [stations[j], s_range[1].max(stations[j])]
            };
            let (left, right) = if row == 0 {
                (None, Some(Edge::Station(1, node)))
            } else {
                (Some(Edge::Station(row, node)), None)
            };
            return vec![
                ([s[0], q0], Some(low)),
                ([s[1], q0], right),
                ([s[1], q1], Some(high)),
                ([s[0], q1], left),
            ];
        }
        let (s0, s1) = (stations[i], stations[j]);
        let diagonal = Some(Edge::Diagonal(row, node));
        if beyond {
            vec![([s0, q0], diagonal), ([s1, q1], Some(high)), ([s0, q1], Some(Edge::Station(row, node)))]
        } else {
            vec![([s0, q0], Some(low)), ([s1, q0], Some(Edge::Station(row + 1, node))), ([s1, q1], diagonal)]
        }
    }

    /// Shares of a straight line along which S and T are linear at which it passes from one cell into the next,
    /// between `from` and `to`, ascending.
    pub(crate) fn passes(&self, s: [f64; 2], t: [f64; 2], from: f64, to: f64, out: &mut Vec<f64>) {
        let at = |a: [f64; 2], share: f64| a[0] + (a[1] - a[0]) * share;
        let run = s[1] - s[0];
        out.clear();
        if run != 0.0 {
            out.extend(
                self.wander.stations().iter().map(|x| (x - s[0]) / run).filter(|x| *x > from && *x < to),
            );
            out.sort_by(f64::total_cmp);
        }
        let rows = out.clone();
        let mut start = from;
        for end in rows.into_iter().chain([to]) {
            if end <= start {
                continue;
            }
            let row = self.wander.row(at(s, f64::midpoint(start, end)));
            let (ts, ss) = ([at(t, start), at(t, end)], [at(s, start), at(s, end)]);
            let nodes = self.nodes(row, [ts[0].min(ts[1]), ts[0].max(ts[1])]);
            let mut cross = |a: f64, b: f64| {
                if (a < 0.0) != (b < 0.0) {
                    out.push(start + (end - start) * (a / (a - b)).clamp(0.0, 1.0));
                }
            };
            for node in *nodes.start()..=nodes.end() + 1 {
                cross(ts[0] - self.line(row, node, ss[0]), ts[1] - self.line(row, node, ss[1]));
                if self.is_split(row) && node <= *nodes.end() {
                    cross(ts[0] - self.diagonal(row, node, ss[0]), ts[1] - self.diagonal(row, node, ss[1]));
                }
            }
            start = end;
        }
        out.sort_by(f64::total_cmp);
    }
}
