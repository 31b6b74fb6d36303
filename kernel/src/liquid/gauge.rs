//! Volumes by level of every pool at once, and levels by volume without going over the wall again.
//!
//! Method: the free surface of a pool is a piecewise quadratic in its level, for each triangle adds to it from its lowest
//! corner to its highest. Going up corner by corner, each pool carries its volume with three derivatives and is moved on
//! by Taylor's series, which ends there: nothing is approximated. Where pools join, their sums go on as the new one. Cost
//! O(triangles) after the pools are known. A triangle that lies nearly level comes and goes within a hair of height, with
//! derivatives as large as that is thin; what is left of them must be nothing, so the sweep is in double-double numbers.
//! Volumes are within 1e-9 of the chamber's; [`super::Posed::below`] is exact to rounding.

use super::level::Posed;
use super::pools::Pools;
use super::twice::Twice;

/// Corners of a triangle nearer in height than this share of the chamber's size are level: what they hold between them is
/// nothing, and slopes as steep as that would leave their rounding behind.
const LEVEL: f64 = 1.0e-9;
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

/// The same while it is carried up.
#[derive(Debug, Clone, Copy)]
struct Carried {
    height: f64,
    volume: Twice,
    surface: Twice,
    slope: Twice,
    bend: Twice,
}

impl Carried {
    fn nothing(height: f64) -> Self {
        let none = Twice::from(0.0);
        Self { height, volume: none, surface: none, slope: none, bend: none }
    }

    fn on(self, height: f64) -> Self {
        let d = Twice::difference(height, self.height);
        let (half, sixth) = (Twice::from(0.5), Twice::from(1.0) / Twice::from(6.0));
        Self {
            height,
            volume: self.volume + d * (self.surface + d * (self.slope * half + d * self.bend * sixth)),
            surface: self.surface + d * (self.slope + d * self.bend * half),
            slope: self.slope + d * self.bend,
            bend: self.bend,
        }
    }

    fn mark(self) -> Mark {
        Mark {
            height: self.height,
            volume: self.volume.nearest(),
            surface: self.surface.nearest(),
            slope: self.slope.nearest(),
            bend: self.bend.nearest(),
        }
    }
}

/// Volumes by level of all pools of a chamber in a pose.
#[derive(Debug, Clone)]
pub struct Gauge {
    /// For each pool, rising.
    marks: Vec<Vec<Mark>>,
}

impl<'a> Pools<'a> {
    /// The pools with their gauge: what they hold is read off it, which is quicker where all volumes are asked for.
    pub fn gauged(posed: Posed<'a>) -> (Self, Gauge) {
        let mut found = Self::tree(posed);
        let gauge = Gauge::new(&found);
        for (k, pool) in found.pools.iter_mut().enumerate() {
            pool.capacity = gauge.volume(k, pool.top);
        }
        found.share();
        (found, gauge)
    }
}

impl Gauge {
    /// For all pools.
    pub fn new(pools: &Pools<'_>) -> Self {
        let posed = &pools.posed;
        let chamber = posed.chamber;
        let mut marks: Vec<Vec<Mark>> = vec![Vec::new(); pools.pools.len()];
        let level = LEVEL * chamber.size;
        let mut carried: Vec<Carried> = Vec::with_capacity(pools.pools.len());
        let mut order = vec![0_u32; pools.rising.len()];
        for (k, &corner) in (0_u32..).zip(&pools.rising) {
            order[corner as usize] = k;
        }
        let up = posed.up.into_inner();
        // All triangles round a corner are wet from the same pool there.
        let mut corners: Vec<Vec<u32>> = vec![Vec::new(); pools.pools.len()];
        for &corner in pools.rising.iter().filter(|c| !chamber.touching(**c as usize).is_empty()) {
            corners[pools.of_corner(corner as usize)].push(corner);
        }
        // Pool by pool, what it is joined of first: a corner of a hollow too shallow to count may lie a hair below the
        // place where the pool begins that it is counted in.
        for (pool, corners) in corners.iter().enumerate() {
            let mut now = joined(pools, &carried, pool);
            if corners.is_empty() {
                marks[pool].push(now.mark());
            }
            for &corner in corners {
                let at = corner as usize;
                now = now.on(posed.heights[at]);
                for &t in chamber.touching(at) {
                    let mut by = chamber.triangles[t as usize];
                    by.sort_unstable_by_key(|&k| order[k as usize]);
                    let [low, middle, high] = by.map(|k| posed.heights[k as usize]);
                    let area = -chamber.areas[t as usize].dot(&up);
                    let (rises, falls) = (middle - low > level, high - middle > level);
                    if !rises && !falls {
                        // A level one is under the surface at once.
                        if corner == by[0] {
                            now.surface = now.surface + Twice::from(area);
                        }
                        continue;
                    }
                    // A level side is of no height at all: what comes at one end must go again at the other.
                    let whole = Twice::difference(high, low);
                    let (first, second) = (Twice::difference(middle, low), Twice::difference(high, middle));
                    let steep = Twice::from(2.0 * area) / whole;
                    match (rises, falls) {
                        (true, true) if corner == by[0] => now.bend = now.bend + steep / first,
                        (true, true) if corner == by[1] => {
                            now.bend = now.bend - steep / first - steep / second
                        }
                        (true, true) => now.bend = now.bend + steep / second,
                        (true, false) if corner == by[0] => now.bend = now.bend + steep / whole,
                        (true, false) if corner == by[2] => {
                            now.bend = now.bend - steep / whole;
                            now.slope = now.slope - steep;
                        }
                        (false, true) if corner == by[0] => {
                            now.slope = now.slope + steep;
                            now.bend = now.bend - steep / whole;
                        }
                        (false, true) if corner == by[2] => now.bend = now.bend + steep / whole,
                        _ => {}
                    }
                }
                marks[pool].push(now.mark());
            }
            carried.push(now);
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

/// A pool where it begins: the sum of those it was joined of, which come before it, or nothing.
fn joined(pools: &Pools<'_>, carried: &[Carried], pool: usize) -> Carried {
    let bottom = pools.pools[pool].bottom;
    let mut sum = Carried::nothing(bottom);
    for &child in &pools.pools[pool].children {
        let last = carried[child].on(bottom);
        sum.volume = sum.volume + last.volume;
        sum.surface = sum.surface + last.surface;
        sum.slope = sum.slope + last.slope;
        sum.bend = sum.bend + last.bend;
    }
    sum
}
