//! Pools: liquid in a chamber that is not convex does not all join.
//!
//! As the level rises, pools are born at hollows and join at passes: a tree. It is found in one sweep over the corners
//! by height, joining neighbours (H. Carr, J. Snoeyink, U. Axen, "Computing contour trees in all dimensions", 2003,
//! section 4.1, the join tree), on the wall of the chamber instead of its space. What joins through space alone is a
//! lowest corner of a wall that hangs into the liquid (a body's foot, the tip of a rib in the ceiling): it is joined to
//! the wall met first straight below it. That is enough: pools are born and joined at corners of the wall only, and where
//! two join, each reaches the corner along its own wall. Whether a lowest corner is a hollow or hangs is told by the
//! angle-weighted normal there.
//!
//! Equal heights are told apart by the order of corners. Hollows shallower than [`SHALLOW`] of the chamber's size hold
//! nothing: a level floor is one hollow. Cost O(corners · log corners), and for each hanging tip the triangles over and
//! under its own cell (`cells`).
//!
//! **What is sure.** Where liquid lies depends on how it got there. `least` is the least volume that wets a wall,
//! wherever it has to lie for it. `sure` is the volume that wets it from any start: all other hollows are thought to
//! fill to their passes first. A volume of at least `sure`, poured in anywhere, wets the wall.

use super::cells::Cells;
use super::level::{Below, Posed};
use nalgebra::{Point3, Vector3};

/// Hollows of less depth than this share of the chamber's size are rounding; a hundred times what sheets are moved by in
/// the trim.
pub const SHALLOW: f64 = 1.0e-9;
/// A place on a triangle's edge counts as in it within this share of its area.
const ON_EDGE: f64 = 1.0e-9;

/// No node.
const NONE: u32 = u32::MAX;

/// A connected region of liquid, from where it is born or joined of others up to its pass.
#[derive(Debug, Clone, PartialEq)]
pub struct Pool {
    /// What it becomes part of at its top.
    pub parent: Option<usize>,
    /// What it was joined of; empty for a hollow.
    pub children: Vec<usize>,
    /// Height at which it is born or joined, over the chamber's middle, mm.
    pub bottom: f64,
    /// Height of its pass, or of the highest corner, mm.
    pub top: f64,
    /// Its lowest corner.
    pub lowest: usize,
    /// The corner it flows over at.
    pub pass: usize,
    /// Volume it holds up to its top, mm³.
    pub capacity: f64,
    /// What other pools may hold that never comes here, at most, mm³.
    pub elsewhere: f64,
    /// Its triangles, as a range of `Pools::order`.
    range: [usize; 2],
}

/// All pools of a chamber in a pose.
#[derive(Debug, Clone)]
pub struct Pools<'a> {
    /// The pose.
    pub posed: Posed<'a>,
    /// Children come before parents.
    pub pools: Vec<Pool>,
    /// For every triangle the pool in which its lowest corner is born.
    pool_of: Vec<u32>,
    /// For every corner the pool that it is reached by.
    born: Vec<u32>,
    /// Corners by height.
    pub(super) rising: Vec<u32>,
    /// Triangles, those of each pool with all that it was joined of in one range.
    order: Vec<u32>,
}

/// What wets a wall.
#[derive(Debug, Clone, PartialEq)]
pub struct Wetting {
    /// The least volume that does, mm³; 1 % less leaves a corner of it dry.
    pub least: f64,
    /// The volume that does from any start, mm³.
    pub sure: f64,
    /// Pools that are needed, each with its level.
    pub needs: Vec<(usize, f64)>,
}

impl<'a> Pools<'a> {
    /// The pools of a chamber in a pose.
    pub fn new(posed: Posed<'a>) -> Self {
        let mut found = Self::tree(posed);
        for k in 0..found.pools.len() {
            found.pools[k].capacity = found.below(k, found.pools[k].top).volume;
        }
        found.share();
        found
    }

    /// The same without what they hold: `capacity` and `elsewhere` are 0.
    pub(crate) fn tree(posed: Posed<'a>) -> Self {
        let sweep = posed.clone();
        Sweep::new(&sweep).finish(posed)
    }

    /// What other pools may hold that never comes to each.
    pub(super) fn share(&mut self) {
        for k in (0..self.pools.len()).rev() {
            let Some(p) = self.pools[k].parent else { continue };
            let others = self.pools[p].children.iter().filter(|&&c| c != k);
            let held: f64 = others.map(|&c| self.pools[c].capacity).sum();
            self.pools[k].elsewhere = self.pools[p].elsewhere + held;
        }
    }

    /// Volume, free surface and wetted wall of a pool up to a level.
    pub fn below(&self, pool: usize, level: f64) -> Below {
        let [from, to] = self.pools[pool].range;
        self.posed.below_of(self.order[from..to].iter().map(|&t| t as usize), level)
    }

    /// Level of a volume in a pool, up to its top, mm over the chamber's middle.
    pub fn level(&self, pool: usize, volume: f64) -> f64 {
        let own = &self.pools[pool];
        self.posed.level_between(|z| self.below(pool, z), volume, [own.bottom, own.top])
    }

    /// The pools that there are at a level, each connected, in order.
    pub fn at(&self, level: f64) -> Vec<usize> {
        let reached = |p: &Pool| p.bottom < level && (level <= p.top || p.parent.is_none());
        (0..self.pools.len()).filter(|&k| reached(&self.pools[k])).collect()
    }

    /// The hollows: pools that are born, not joined.
    pub fn hollows(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.pools.len()).filter(|&k| self.pools[k].children.is_empty())
    }

    /// The pool that a triangle's lowest corner is born into.
    pub fn of_triangle(&self, triangle: usize) -> usize {
        self.pool_of[triangle] as usize
    }

    /// The pool that reaches a corner.
    pub fn of_corner(&self, corner: usize) -> usize {
        self.born[corner] as usize
    }

    /// The pool that reaches a height over a triangle, going up from its lowest corner.
    pub fn reaching(&self, triangle: usize, height: f64) -> usize {
        let shallow = self.shallow();
        let mut k = self.of_triangle(triangle);
        while let (true, Some(up)) = (height > self.pools[k].top + shallow, self.pools[k].parent) {
            k = up;
        }
        k
    }

    /// Triangles that a pool touches below its top.
    pub fn triangles(&self, pool: usize) -> impl Iterator<Item = usize> + '_ {
        let [from, to] = self.pools[pool].range;
        self.order[from..to].iter().map(|&t| t as usize)
    }

    /// Lowest corner of a pool, in the axes of the work, mm.
    pub fn lowest(&self, pool: usize) -> Point3<f64> {
        self.posed.chamber.corner(self.pools[pool].lowest)
    }

    /// What it takes to wet a wall wholly, given by its triangles; nothing for no triangles.
    ///
    /// Each triangle asks for a level, that of its highest corner, in the pool that reaches it there. Of two pools that
    /// ask, neither part of the other, both are needed.
    pub fn wetting(&self, wall: &[usize]) -> Wetting {
        let mut asked: Vec<f64> = vec![f64::NEG_INFINITY; self.pools.len()];
        for &t in wall {
            let high = self.posed.reach(t)[1];
            let k = self.reaching(t, high);
            asked[k] = asked[k].max(high.min(self.pools[k].top));
        }
        let mut found = Wetting { least: 0.0, sure: 0.0, needs: Vec::new() };
        // Parents first: what lies under a pool that is asked for is wet with it.
        let mut under = vec![false; self.pools.len()];
        for k in (0..self.pools.len()).rev() {
            let pool = &self.pools[k];
            under[k] = pool.parent.is_some_and(|p| under[p] || asked[p] > f64::NEG_INFINITY);
            if under[k] || asked[k] == f64::NEG_INFINITY {
                continue;
            }
            let volume = self.below(k, asked[k]).volume;
            found.least += volume;
            found.sure = found.sure.max(volume + pool.elsewhere);
            found.needs.push((k, asked[k]));
        }
        found.sure = found.sure.max(found.least);
        found
    }

    /// For every triangle the level up to which a volume wets it from any start, mm over the chamber's middle; −∞ if it
    /// may stay dry.
    pub fn sure_levels(&self, volume: f64) -> Vec<f64> {
        let best = self.sure_levels_by(volume, |k, here| self.level(k, here));
        self.pool_of.iter().map(|&k| best[k as usize]).collect()
    }

    /// The same for every pool: up to where it wets what is born there. `level` tells that of a volume in a pool, up to its
    /// top.
    pub(crate) fn sure_levels_by(&self, volume: f64, level: impl Fn(usize, f64) -> f64) -> Vec<f64> {
        // Parents come after children.
        let mut best = vec![f64::NEG_INFINITY; self.pools.len()];
        for k in (0..self.pools.len()).rev() {
            let here = volume - self.pools[k].elsewhere;
            best[k] = match self.filled_over(k, volume) {
                Some(parent) => best[parent],
                None if here > 0.0 => level(k, here),
                None => f64::NEG_INFINITY,
            };
        }
        best
    }

    /// The highest pool on the way up from one that a volume surely reaches, which decides what it wets there, and how much
    /// of it comes to that, mm³; none if none may.
    pub(crate) fn sure_pool(&self, from: usize, volume: f64) -> Option<(usize, f64)> {
        let mut pool = from;
        while let Some(parent) = self.filled_over(pool, volume) {
            pool = parent;
        }
        Some((pool, volume - self.pools[pool].elsewhere)).filter(|found| found.1 > 0.0)
    }

    /// What a pool is part of, if a volume surely fills it up to there.
    fn filled_over(&self, pool: usize, volume: f64) -> Option<usize> {
        let pool = &self.pools[pool];
        pool.parent.filter(|_| pool.capacity + pool.elsewhere < volume)
    }

    /// The depth below which a hollow counts as none, mm.
    pub fn shallow(&self) -> f64 {
        SHALLOW * self.posed.chamber.size
    }
}

/// The sweep upward.
struct Sweep<'a, 'b> {
    posed: &'b Posed<'a>,
    /// Place of every corner in the order of heights.
    rank: Vec<u32>,
    order: Vec<u32>,
    /// Union-find over corners.
    parent: Vec<u32>,
    /// For the root of a set its pool.
    pool: Vec<u32>,
    /// The pool a corner was born into, before pools too shallow are taken out.
    born: Vec<u32>,
    made: Vec<Made>,
    /// Every corner as seen from above.
    flat: Vec<[f64; 2]>,
    /// Triangles as seen from above, once one is asked for.
    cells: Option<Cells>,
}

struct Made {
    children: Vec<u32>,
    parent: u32,
    bottom: f64,
    top: f64,
    pass: u32,
    lowest: u32,
    /// The pool that took this one in because it was too shallow.
    instead: u32,
}

fn root(parent: &mut [u32], mut k: u32) -> u32 {
    while parent[k as usize] != k {
        parent[k as usize] = parent[parent[k as usize] as usize];
        k = parent[k as usize];
    }
    k
}

#[allow(clippy::cast_possible_truncation, reason = "corners and triangles are counted in 32 bits")]
fn small(k: usize) -> u32 {
    k as u32
}

impl<'a, 'b> Sweep<'a, 'b> {
    fn new(posed: &'b Posed<'a>) -> Self {
        let count = posed.heights.len();
        let mut order: Vec<u32> = (0..small(count)).collect();
        let height = |k: u32| posed.heights[k as usize];
        order.sort_unstable_by(|&a, &b| height(a).total_cmp(&height(b)).then(a.cmp(&b)));
        let mut rank = vec![0; count];
        for (i, &k) in order.iter().enumerate() {
            rank[k as usize] = small(i);
        }
        let up = posed.up.into_inner();
        let aside = if up.x.abs() < up.y.abs() { Vector3::x() } else { Vector3::y() };
        let x = up.cross(&aside).normalize();
        let y = up.cross(&x);
        let mut sweep = Self {
            flat: posed.chamber.points.iter().map(|p| [p.dot(&x), p.dot(&y)]).collect(),
            posed,
            rank,
            order,
            parent: (0..small(count)).collect(),
            pool: vec![NONE; count],
            born: vec![NONE; count],
            made: Vec::new(),
            cells: None,
        };
        for i in 0..count {
            sweep.rise_to(sweep.order[i]);
        }
        sweep
    }

    fn height(&self, corner: u32) -> f64 {
        self.posed.heights[corner as usize]
    }

    fn rise_to(&mut self, corner: u32) {
        let at = corner as usize;
        let chamber = self.posed.chamber;
        if chamber.neighbours(at).is_empty() {
            return;
        }
        let mut below: Vec<u32> = Vec::new();
        for &n in chamber.neighbours(at) {
            if self.rank[n as usize] < self.rank[at] {
                let r = root(&mut self.parent, n);
                if !below.contains(&r) {
                    below.push(r);
                }
            }
        }
        if below.is_empty() {
            // The wall's outward normal points down over a hollow, up over what hangs.
            let hangs = chamber.normals[at].dot(&self.posed.up) > 0.0;
            match self.met_below(corner).filter(|_| hangs) {
                Some(wall) => below.push(root(&mut self.parent, wall)),
                None => {
                    let k = self.make(corner, Vec::new(), corner);
                    self.pool[at] = k;
                    self.born[at] = k;
                    return;
                }
            }
        }
        let height = self.height(corner);
        let shallow = SHALLOW * chamber.size;
        let mut pools: Vec<u32> = below.iter().map(|&r| self.pool[r as usize]).collect();
        pools.sort_unstable();
        pools.dedup();
        let lowest = |k: &u32| self.rank[self.made[*k as usize].lowest as usize];
        let deep = |k: &u32| height - self.height(self.made[*k as usize].lowest) > shallow;
        let mut kept: Vec<u32> = pools.iter().copied().filter(deep).collect();
        if kept.is_empty() {
            kept.extend(pools.iter().copied().min_by_key(lowest));
        }
        let first = kept.iter().copied().min_by_key(lowest).unwrap_or(NONE);
        let pool = if kept.len() > 1 {
            let lowest = self.made[first as usize].lowest;
            let k = self.make(corner, kept.clone(), lowest);
            for &c in &kept {
                let child = &mut self.made[c as usize];
                (child.parent, child.top, child.pass) = (k, height, corner);
            }
            k
        } else {
            first
        };
        for k in pools {
            if !kept.contains(&k) {
                self.made[k as usize].instead = pool;
            }
        }
        self.born[at] = pool;
        for r in below {
            self.parent[r as usize] = corner;
        }
        self.pool[at] = pool;
    }

    fn make(&mut self, corner: u32, children: Vec<u32>, lowest: u32) -> u32 {
        let bottom = self.height(corner);
        let top = f64::INFINITY;
        let made = Made { children, parent: NONE, bottom, top, pass: corner, lowest, instead: NONE };
        self.made.push(made);
        small(self.made.len() - 1)
    }

    /// Lowest corner of the triangle met first straight below a corner.
    fn met_below(&mut self, corner: u32) -> Option<u32> {
        let chamber = self.posed.chamber;
        let from = self.flat[corner as usize];
        let near = SHALLOW * chamber.size;
        // Height, triangle, its lowest corner.
        let mut best: Option<(f64, u32, u32)> = None;
        let cells = self.cells.get_or_insert_with(|| Cells::new(&self.flat, &chamber.triangles, near));
        let heights = &self.posed.heights;
        for number in cells.at(from) {
            let t = &chamber.triangles[number as usize];
            let flat = t.map(|k| {
                let p = self.flat[k as usize];
                [p[0] - from[0], p[1] - from[1]]
            });
            // Most lie aside; a place on an edge may be out by rounding.
            let aside = |i: usize| flat.iter().all(|p| p[i] > near) || flat.iter().all(|p| p[i] < -near);
            if aside(0)
                || aside(1)
                || t.contains(&corner)
                || t.iter().all(|&k| self.rank[k as usize] > self.rank[corner as usize])
            {
                continue;
            }
            let cross = |a: [f64; 2], b: [f64; 2]| a[0] * b[1] - a[1] * b[0];
            let twice = cross(flat[0], flat[1]) + cross(flat[1], flat[2]) + cross(flat[2], flat[0]);
            if twice == 0.0 {
                continue;
            }
            let shares = [cross(flat[1], flat[2]), cross(flat[2], flat[0]), cross(flat[0], flat[1])]
                .map(|c| c / twice);
            if shares.iter().any(|&s| s < -ON_EDGE) {
                continue;
            }
            let height: f64 = shares.iter().zip(t).map(|(s, &k)| s * heights[k as usize]).sum();
            let lowest = t.iter().copied().min_by_key(|&k| self.rank[k as usize])?;
            // Of two as high the first, for they come in no order.
            let higher = |b: (f64, u32, u32)| height > b.0 || height == b.0 && number < b.1;
            if height <= heights[corner as usize] && best.is_none_or(higher) {
                best = Some((height, number, lowest));
            }
        }
        best.map(|b| b.2)
    }

    /// Pools without those too shallow, with their triangles and what they hold.
    fn finish(self, posed: Posed<'a>) -> Pools<'a> {
        let kept_for = |mut k: u32| {
            while self.made[k as usize].instead != NONE {
                k = self.made[k as usize].instead;
            }
            k
        };
        let mut number = vec![NONE; self.made.len()];
        let mut pools: Vec<Pool> = Vec::new();
        let highest = posed.range()[1];
        let last = self.order.last().map_or(0, |&k| k as usize);
        for (k, made) in self.made.iter().enumerate().filter(|(_, m)| m.instead == NONE) {
            number[k] = small(pools.len());
            let whole = made.parent == NONE;
            pools.push(Pool {
                parent: None,
                children: made.children.iter().map(|&c| number[kept_for(c) as usize] as usize).collect(),
                bottom: made.bottom,
                top: if whole { highest } else { made.top },
                lowest: made.lowest as usize,
                pass: if whole { last } else { made.pass as usize },
                capacity: 0.0,
                elsewhere: 0.0,
                range: [0, 0],
            });
        }
        for k in 0..pools.len() {
            for c in pools[k].children.clone() {
                pools[c].parent = Some(k);
            }
        }
        let pool_of: Vec<u32> = posed
            .chamber
            .triangles
            .iter()
            .map(|t| {
                let [a, b, c] = *t;
                let lower =
                    |a: u32, b: u32| if self.rank[a as usize] <= self.rank[b as usize] { a } else { b };
                number[kept_for(self.born[lower(a, lower(b, c)) as usize]) as usize]
            })
            .collect();
        let mut own = vec![Vec::new(); pools.len()];
        for (t, &k) in pool_of.iter().enumerate() {
            own[k as usize].push(small(t));
        }
        let mut order = Vec::with_capacity(pool_of.len());
        // Own triangles first, then those of the children, each with its own.
        let roots: Vec<usize> = (0..pools.len()).filter(|&k| pools[k].parent.is_none()).collect();
        for r in roots {
            let mut stack = vec![(r, false)];
            while let Some((k, done)) = stack.pop() {
                if done {
                    pools[k].range[1] = order.len();
                    continue;
                }
                pools[k].range[0] = order.len();
                order.extend(&own[k]);
                stack.push((k, true));
                stack.extend(pools[k].children.iter().rev().map(|&c| (c, false)));
            }
        }
        let reached = |&k: &u32| if k == NONE { 0 } else { number[kept_for(k) as usize] };
        let born = self.born.iter().map(reached).collect();
        Pools { posed, pools, pool_of, born, rising: self.order, order }
    }
}
