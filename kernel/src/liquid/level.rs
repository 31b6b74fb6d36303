//! What lies below a level plane: volume, free surface, wetted wall, centre; and the level of a volume.
//!
//! Method: the divergence theorem with the field (h − z)·u, h being the height along up u and z the level. Its
//! divergence is 1 and it vanishes on the plane, so the volume below is the integral of (h − z)·(u · n) over the wetted
//! wall alone, and nothing has to be capped: each triangle, clipped to h ≤ z, adds the prism between it and the plane.
//! Exact up to rounding; every product is of depths below the plane, so a puddle keeps its digits. The derivative of the
//! volume by the level is the free surface. Cost O(triangles).

use super::chamber::Chamber;
use crate::polygon::cut;
use nalgebra::{Point3, Unit, Vector3};

/// A chamber in a pose.
#[derive(Debug, Clone)]
pub struct Posed<'a> {
    /// The chamber.
    pub chamber: &'a Chamber,
    /// The direction that is up, in the axes of the chamber.
    pub up: Unit<Vector3<f64>>,
    /// Height of every corner over the chamber's middle, mm.
    pub(super) heights: Vec<f64>,
}

/// What lies below a level.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Below {
    /// Volume, mm³.
    pub volume: f64,
    /// Area of the free surface, mm².
    pub surface: f64,
    /// Area of the wall below the level, mm².
    pub wetted: f64,
}

impl Below {
    pub(super) fn add(&mut self, other: Below) {
        self.volume += other.volume;
        self.surface += other.surface;
        self.wetted += other.wetted;
    }
}

/// A level is found when its volume is within this share of the one asked for; some ten times rounding.
const FOUND: f64 = 1.0e-13;
/// Steps after which the bracket is as narrow as numbers allow; Newton's method takes some ten.
const MOST_STEPS: usize = 200;

impl<'a> Posed<'a> {
    /// The chamber with a direction up.
    pub fn new(chamber: &'a Chamber, up: Unit<Vector3<f64>>) -> Self {
        let heights = chamber.points.iter().map(|p| p.dot(&up)).collect();
        Self { chamber, up, heights }
    }

    /// Least and greatest height of the chamber over its middle, mm.
    pub fn range(&self) -> [f64; 2] {
        self.heights.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], &x| [l.min(x), h.max(x)])
    }

    /// Least and greatest height of a triangle, mm.
    pub fn reach(&self, triangle: usize) -> [f64; 2] {
        let h = self.chamber.triangles[triangle].map(|k| self.heights[k as usize]);
        [h[0].min(h[1]).min(h[2]), h[0].max(h[1]).max(h[2])]
    }

    /// Height of a corner over the chamber's middle, mm.
    pub fn height(&self, corner: usize) -> f64 {
        self.heights[corner]
    }

    /// Height of a place over the chamber's middle, mm.
    pub fn height_of(&self, place: &Point3<f64>) -> f64 {
        (place - self.chamber.middle).dot(&self.up)
    }

    /// What lies below a level (a height over the chamber's middle), all hollows counted.
    pub fn below(&self, level: f64) -> Below {
        self.below_of(0..self.chamber.triangles.len(), level)
    }

    pub(super) fn below_of(&self, triangles: impl Iterator<Item = usize>, level: f64) -> Below {
        let mut sum = Below::default();
        for t in triangles {
            let corners = self.chamber.triangles[t].map(|k| self.heights[k as usize]);
            sum.add(clipped(
                self.chamber.areas[t].dot(&self.up),
                self.chamber.areas[t].norm(),
                corners,
                level,
            ));
        }
        sum
    }

    /// The level of a volume, all hollows filled alike: the least at which so much lies below, within 1e-12 of it.
    /// A volume of 0 or less gives the lowest corner, one of more than there is the highest.
    pub fn level(&self, volume: f64) -> f64 {
        self.level_between(|z| self.below(z), volume, self.range())
    }

    /// Newton's method, held in a bracket and halving it where a step leaves it or gains too little.
    pub(super) fn level_between(
        &self,
        below: impl Fn(f64) -> Below,
        volume: f64,
        [mut low, mut high]: [f64; 2],
    ) -> f64 {
        if volume <= below(low).volume {
            return low;
        }
        if volume >= below(high).volume {
            return high;
        }
        let mut level = f64::midpoint(low, high);
        for step in 0..MOST_STEPS {
            let found = below(level);
            let miss = found.volume - volume;
            if miss.abs() <= FOUND * volume {
                break;
            }
            if miss > 0.0 {
                high = level;
            } else {
                low = level;
            }
            let newton = level - miss / found.surface;
            // Every third step halves, so that a crawl along a cusp ends too.
            level = if newton > low && newton < high && step % 3 != 2 {
                newton
            } else {
                f64::midpoint(low, high)
            };
            if level <= low || level >= high {
                break;
            }
        }
        level
    }

    /// Centre of what lies below a level, mm, in the axes of the work; `None` if nothing does.
    ///
    /// Each clipped triangle's prism up to the plane is integrated by the rule of the three edge middles, exact for
    /// squares.
    pub fn centre_below(&self, level: f64) -> Option<Point3<f64>> {
        let (mut volume, mut moment) = (0.0, Vector3::zeros());
        let up = self.up.into_inner();
        for (t, corners) in self.chamber.triangles.iter().enumerate() {
            let projected = self.chamber.areas[t].dot(&up);
            let whole = self.chamber.areas[t].norm();
            let polygon = below_plane(corners.map(|k| self.chamber.points[k as usize]), &up, level);
            for k in 1..polygon.len().saturating_sub(1) {
                let [a, b, c] = [polygon[0], polygon[k], polygon[k + 1]];
                let share = if whole > 0.0 { (b - a).cross(&(c - a)).norm() / 2.0 / whole } else { 0.0 };
                for m in [(a + b) / 2.0, (b + c) / 2.0, (c + a) / 2.0] {
                    let depth = level - m.dot(&up);
                    let part = -projected * share * depth / 3.0;
                    volume += part;
                    moment += (m + up * (depth / 2.0)) * part;
                }
            }
        }
        (volume > 0.0).then(|| self.chamber.middle + moment / volume)
    }
}

/// What of a triangle lies at or below a plane.
pub(crate) fn below_plane(corners: [Vector3<f64>; 3], up: &Vector3<f64>, level: f64) -> Vec<Vector3<f64>> {
    cut(&corners, |p| p.dot(up) - level)
}

/// A triangle's share: `up` is its area seen from above (negative for a floor), `area` its own.
fn clipped(up: f64, area: f64, mut h: [f64; 3], z: f64) -> Below {
    h.sort_by(f64::total_cmp);
    if z <= h[0] {
        // At its own height a level floor is under a film of no depth.
        return if z == h[2] { Below { volume: 0.0, surface: -up, wetted: area } } else { Below::default() };
    }
    let depth = |k: usize| z - h[k];
    if z >= h[2] {
        let mean = (depth(0) + depth(1) + depth(2)) / 3.0;
        return Below { volume: -up * mean, surface: -up, wetted: area };
    }
    if z <= h[1] {
        // Only the lowest corner is wet: a similar triangle, its centroid at two thirds of the depth.
        let share = depth(0) / (h[1] - h[0]) * (depth(0) / (h[2] - h[0]));
        return Below { volume: -up * share * depth(0) / 3.0, surface: -up * share, wetted: area * share };
    }
    // Only the highest corner is dry. The wet part is the triangle of the lowest corner, the middle one and the crossing
    // of the long edge, and the one beside it up to the crossing of the short edge: no differences of large figures.
    let long = depth(0) / (h[2] - h[0]);
    let short = depth(1) / (h[2] - h[1]);
    let first = long;
    let second = (1.0 - long) * short;
    let volume = first * (depth(0) + depth(1)) / 3.0 + second * depth(1) / 3.0;
    let share = first + second;
    Below { volume: -up * volume, surface: -up * share, wetted: area * share }
}
