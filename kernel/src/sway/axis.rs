//! The spine's axis as a line with a measure along it, and which elements it passes from where to where. Units: mm.

use crate::error::{Error, Result};
use crate::spine::{Built, STAGE};
use crate::work::Work;
use nalgebra::Point3;

/// Legs shorter than this are none.
const LEAST_LEG: f64 = 1.0e-3;

/// A line of straight legs.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    points: Vec<Point3<f64>>,
    /// Way to each point.
    along: Vec<f64>,
}

/// An element the spine passes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Passed {
    /// The element.
    pub element: usize,
    /// Where the spine comes in and where it goes out or ends, along the axis.
    pub from_to: [f64; 2],
}

impl Axis {
    /// From the points of a spine, foot first.
    ///
    /// # Errors
    /// Fewer than two points, points that are not finite, a leg without length.
    pub fn new(points: &[Point3<f64>]) -> Result<Self> {
        if points.len() < 2 || !points.iter().flat_map(|p| p.iter()).all(|x| x.is_finite()) {
            return Err(Error::input(format!("{} usable points are no axis", points.len()))
                .at(STAGE)
                .remedy("give its foot, its kinks and its end"));
        }
        let mut along = vec![0.0];
        for (k, pair) in points.windows(2).enumerate() {
            let length = (pair[1] - pair[0]).norm();
            if length <= LEAST_LEG {
                return Err(Error::input(format!("is {length} mm long"))
                    .at(format!("leg {} of the spine", k + 1))
                    .remedy("leave one of its two ends out"));
            }
            along.push(along[k] + length);
        }
        Ok(Self { points: points.to_vec(), along })
    }

    /// Foot, kinks, end.
    pub fn points(&self) -> &[Point3<f64>] {
        &self.points
    }

    /// Its length.
    pub fn length(&self) -> f64 {
        self.along[self.along.len() - 1]
    }

    /// Way from the foot to each point.
    pub fn along(&self) -> &[f64] {
        &self.along
    }

    /// The leg at a way from the foot; at a kink the one above.
    pub fn leg(&self, way: f64) -> usize {
        let above = self.along.partition_point(|a| *a <= way);
        above.saturating_sub(1).min(self.points.len() - 2)
    }

    /// The point at a way from the foot; beyond the ends, the ends.
    pub fn at(&self, way: f64) -> Point3<f64> {
        let k = self.leg(way);
        let share = ((way - self.along[k]) / (self.along[k + 1] - self.along[k])).clamp(0.0, 1.0);
        self.points[k] + (self.points[k + 1] - self.points[k]) * share
    }

    /// The way to the point nearest to `p`.
    pub fn nearest(&self, p: &Point3<f64>) -> f64 {
        let on_leg = |k: usize| {
            let leg = self.points[k + 1] - self.points[k];
            let share = ((p - self.points[k]).dot(&leg) / leg.norm_squared()).clamp(0.0, 1.0);
            let distance = (self.points[k] + leg * share - p).norm();
            (distance, self.along[k] + (self.along[k + 1] - self.along[k]) * share)
        };
        let all = (0..self.points.len() - 1).map(on_leg);
        all.min_by(|a, b| a.0.total_cmp(&b.0)).map_or(0.0, |best| best.1)
    }

    /// The way to the first point at a height; none if it has no such point.
    pub fn at_height(&self, z: f64) -> Option<f64> {
        self.points.windows(2).enumerate().find_map(|(k, pair)| {
            let (low, high) = (pair[0].z, pair[1].z);
            let share = if high == low { 0.0 } else { (z - low) / (high - low) };
            let within = if high == low { z == low } else { (0.0..=1.0).contains(&share) };
            within.then(|| self.along[k] + (self.along[k + 1] - self.along[k]) * share)
        })
    }
}

/// The elements a spine passes, from the foot up, with where.
///
/// # Errors
/// Crossings that are not in order along it, or from elements that are not there; a spine in no element.
pub fn passed(work: &Work, built: &Built, axis: &Axis) -> Result<Vec<Passed>> {
    let count = work.sculpture.elements.len();
    let mut all: Vec<Passed> = Vec::new();
    let mut from = 0.0;
    let mut element = built.crossings.first().map(|c| c.between[0]).or_else(|| around(work, axis));
    for crossing in &built.crossings {
        let out = axis.nearest(&crossing.at);
        if crossing.between.iter().any(|e| *e >= count) || Some(crossing.between[0]) != element || out < from
        {
            return Err(Error::input("the spine does not pass from element to element in order")
                .at(crossing.name.clone())
                .remedy("let it pass every opening from the base up"));
        }
        add(&mut all, crossing.between[0], [from, out]);
        from = out;
        element = Some(crossing.between[1]);
    }
    let Some(last) = element.filter(|e| *e < count) else {
        return Err(Error::input("the spine stands in none of the elements")
            .at(STAGE)
            .remedy("put its foot under an element"));
    };
    add(&mut all, last, [from, axis.length()]);
    Ok(all)
}

/// An element that is passed twice is held from the first coming in to the last going out.
fn add(all: &mut Vec<Passed>, element: usize, from_to: [f64; 2]) {
    match all.iter_mut().find(|p| p.element == element) {
        Some(p) => p.from_to[1] = from_to[1],
        None => all.push(Passed { element, from_to }),
    }
}

/// The element round the middle of the axis, or the only one.
fn around(work: &Work, axis: &Axis) -> Option<usize> {
    let middle = axis.at(axis.length() / 2.0);
    let elements = &work.sculpture.elements;
    let within = |e: &crate::sculpture::Element| {
        e.solid.faces.iter().all(|f| (middle - f.point).dot(&f.normal) <= 0.0)
    };
    elements.iter().position(within).or((elements.len() == 1).then_some(0))
}
