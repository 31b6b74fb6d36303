//! Triangles as seen from above, kept by square cells: which of them may lie over or under a place.

/// Cells for so many triangles.
const TRIANGLES_PER_CELL: f64 = 2.0;
/// A triangle over more cells than this is looked at for every place instead.
const MOST_CELLS: usize = 64;

/// Triangles by cells.
#[derive(Debug, Clone)]
pub(crate) struct Cells {
    low: [f64; 2],
    side: f64,
    count: [usize; 2],
    /// Triangles of cell k: `inside[first[k]..first[k + 1]]`.
    first: Vec<u32>,
    inside: Vec<u32>,
    /// Those over too many cells.
    large: Vec<u32>,
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "cells are counted in a few millions"
)]
impl Cells {
    /// Triangles of corners seen from above, each counted as so much wider on every side.
    pub(crate) fn new(flat: &[[f64; 2]], triangles: &[[u32; 3]], wider: f64) -> Self {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for p in flat {
            for i in 0..2 {
                low[i] = low[i].min(p[i] - wider);
                high[i] = high[i].max(p[i] + wider);
            }
        }
        let room = [high[0] - low[0], high[1] - low[1]];
        let cells = (triangles.len() as f64 / TRIANGLES_PER_CELL).max(1.0);
        // A work seen edge-on has no width: its cells are as long as it takes.
        let side = (room[0].max(0.0) * room[1].max(0.0) / cells)
            .sqrt()
            .max(room[0].max(room[1]) / cells)
            .max(f64::MIN_POSITIVE);
        let count = room.map(|r| (r / side) as usize + 1);
        let mut found = Self { low, side, count, first: Vec::new(), inside: Vec::new(), large: Vec::new() };
        let spans: Vec<[[usize; 2]; 2]> = triangles
            .iter()
            .map(|t| {
                [0, 1].map(|i| {
                    let of = t.map(|k| flat[k as usize][i]);
                    let from = of[0].min(of[1]).min(of[2]) - wider;
                    let to = of[0].max(of[1]).max(of[2]) + wider;
                    [found.cell(i, from), found.cell(i, to)]
                })
            })
            .collect();
        let numbered = || (0_u32..).zip(&spans);
        let is_large = |[x, y]: &[[usize; 2]; 2]| (x[1] - x[0] + 1) * (y[1] - y[0] + 1) > MOST_CELLS;
        // Each of the others with each of its cells. `for_each` makes loops of it, `for` would ask for one after the other.
        let cells = || {
            numbered().filter(|(_, span)| !is_large(span)).flat_map(|(t, &[x, y])| {
                (y[0]..=y[1]).flat_map(move |row| (x[0]..=x[1]).map(move |k| (t, row * count[0] + k)))
            })
        };
        let mut first = vec![0_u32; count[0] * count[1] + 1];
        cells().for_each(|(_, cell)| first[cell + 1] += 1);
        for k in 1..first.len() {
            first[k] += first[k - 1];
        }
        let mut next = first.clone();
        let mut inside = vec![0_u32; first.last().map_or(0, |&n| n as usize)];
        cells().for_each(|(t, cell)| {
            inside[next[cell] as usize] = t;
            next[cell] += 1;
        });
        let large = numbered().filter(|(_, span)| is_large(span)).map(|(t, _)| t).collect();
        (found.first, found.inside, found.large) = (first, inside, large);
        found
    }

    fn cell(&self, axis: usize, at: f64) -> usize {
        (((at - self.low[axis]) / self.side).max(0.0) as usize).min(self.count[axis] - 1)
    }

    /// Triangles that may hold a place, in no order.
    pub(crate) fn at(&self, place: [f64; 2]) -> impl Iterator<Item = u32> + '_ {
        let k = self.cell(1, place[1]) * self.count[0] + self.cell(0, place[0]);
        let [from, to] = [self.first[k], self.first[k + 1]].map(|n| n as usize);
        self.large.iter().chain(&self.inside[from..to]).copied()
    }
}
