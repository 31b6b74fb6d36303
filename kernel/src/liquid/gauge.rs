//! Volumes by level of every pool at once, and levels by volume without going over the wall again.
//!
//! Method: the free surface of a pool is a piecewise quadratic in its level, for each triangle adds to it from its lowest
//! corner to its highest. Going up corner by corner, each pool carries its volume with three derivatives and is moved on
//! by Taylor's series, which ends there: nothing is approximated. Where pools join, their sums go on as the new one. Cost
//! O(triangles) after the pools are known. Rounding adds up along the way: volumes are within 1e-9 of the chamber's;
//! [`super::Posed::below`] is exact to rounding.

use super::pools::Pools;

/// Corners of a triangle nearer in height than this share of the chamber's size are level: their slopes would be too
/// steep to carry, and they hold next to nothing.
const LEVEL: f64 = 1.0e-10;
/// Newton's steps between two corners, where a cubic has one root; five find it to rounding.
const STEPS: usize = 60;

/// A pool just above a height.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Mark {
    height: f64,
    volume: f64,
    /// Free surface, mm², and its first two derivatives by the level.
    surface: f64,
    slope: f64,
    bend: f64,
}

impl Mark {
    fn on(self, height: f64) -> Self {
        let d = height - self.height;
        Self {
            height,
            volume: self.volume + d * (self.surface + d * (self.slope / 2.0 + d * self.bend / 6.0)),
            surface: self.surface + d * (self.slope + d * self.bend / 2.0),
            slope: self.slope + d * self.bend,
            bend: self.bend,
        }
    }
}

/// Volumes by level of all pools of a chamber in a pose.
#[derive(Debug, Clone)]
pub struct Gauge {
    /// For each pool, rising.
    marks: Vec<Vec<Mark>>,
}

impl Gauge {
    /// For all pools.
    pub fn new(pools: &Pools<'_>) -> Self {
        let posed = &pools.posed;
        let chamber = posed.chamber;
        let level = LEVEL * chamber.size;
        let mut marks: Vec<Vec<Mark>> = vec![Vec::new(); pools.pools.len()];
        let mut order = vec![0_u32; pools.rising.len()];
        for (k, &corner) in (0_u32..).zip(&pools.rising) {
            order[corner as usize] = k;
        }
        let up = posed.up.into_inner();
        for &corner in &pools.rising {
            let at = corner as usize;
            if chamber.touching(at).is_empty() {
                continue;
            }
            let height = posed.heights[at];
            // All triangles round a corner are wet from the same pool there.
            let pool = pools.of_corner(at);
            let mut now = match marks[pool].last() {
                Some(last) => last.on(height),
                None => joined(pools, &marks, pool).on(height),
            };
            for &t in chamber.touching(at) {
                let mut by = chamber.triangles[t as usize];
                by.sort_unstable_by_key(|&k| order[k as usize]);
                let [low, middle, high] = by.map(|k| posed.heights[k as usize]);
                let area = -chamber.areas[t as usize].dot(&up);
                let whole = high - low;
                if whole <= level {
                    // A level one is under the surface at once.
                    if corner == by[0] {
                        now.surface += area;
                    }
                    continue;
                }
                let (first, second) = (middle - low, high - middle);
                let steep = 2.0 * area / whole;
                if corner == by[0] {
                    if first > level {
                        now.bend += steep / first;
                    } else {
                        now.slope += steep;
                        now.bend -= steep / second;
                    }
                } else if corner == by[1] {
                    if first > level && second > level {
                        now.bend -= steep / first + steep / second;
                    } else if first > level {
                        now.bend -= steep / first;
                        now.slope -= steep;
                    }
                } else if second > level {
                    now.bend += steep / second;
                }
            }
            marks[pool].push(now);
        }
        // Pools born of corners that came to be counted elsewhere still have a beginning.
        for pool in 0..marks.len() {
            if marks[pool].is_empty() {
                let start = joined(pools, &marks, pool);
                marks[pool].push(start);
            }
        }
        Self { marks }
    }

    /// Volume of a pool up to a level between its bottom and its top, mm³.
    pub fn volume(&self, pool: usize, level: f64) -> f64 {
        let marks = &self.marks[pool];
        let k = marks.partition_point(|m| m.height <= level).saturating_sub(1);
        if level <= marks[k].height { marks[k].volume } else { marks[k].on(level).volume }
    }

    /// Level of a volume in a pool, mm over the chamber's middle, not over `top`.
    pub fn level(&self, pool: usize, volume: f64, top: f64) -> f64 {
        let marks = &self.marks[pool];
        let k = marks.partition_point(|m| m.volume <= volume).saturating_sub(1);
        let from = marks[k];
        let (mut low, mut high) = (from.height, marks.get(k + 1).map_or(top, |m| m.height.min(top)));
        if volume <= from.volume || high <= low {
            return low;
        }
        if from.on(high).volume <= volume {
            return high;
        }
        let mut level = f64::midpoint(low, high);
        for step in 0..STEPS {
            let here = from.on(level);
            if here.volume > volume {
                high = level;
            } else {
                low = level;
            }
            let newton = level - (here.volume - volume) / here.surface;
            let next = if newton > low && newton < high && step % 3 != 2 {
                newton
            } else {
                f64::midpoint(low, high)
            };
            if next == level || next <= low || next >= high {
                break;
            }
            level = next;
        }
        level
    }
}

/// A pool where it begins: the sum of those it was joined of, or nothing.
fn joined(pools: &Pools<'_>, marks: &[Vec<Mark>], pool: usize) -> Mark {
    let bottom = pools.pools[pool].bottom;
    let mut sum = Mark { height: bottom, volume: 0.0, surface: 0.0, slope: 0.0, bend: 0.0 };
    for &child in &pools.pools[pool].children {
        let Some(last) = marks[child].last() else { continue };
        let last = last.on(bottom);
        sum.volume += last.volume;
        sum.surface += last.surface;
        sum.slope += last.slope;
        sum.bend += last.bend;
    }
    sum
}
