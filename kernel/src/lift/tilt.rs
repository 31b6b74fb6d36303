//! Tilting up: how high the highest corner of a piece swings while it is tipped about an edge.

use crate::polygon::hull;
use nalgebra::{Point3, Vector3};

/// The easiest way to tilt a piece up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TiltUp {
    /// The edge on the ground about which it turns, mm.
    pub edge: [Point3<f64>; 2],
    /// Greatest height on the way, mm.
    pub peak: f64,
    /// Height once it stands, mm.
    pub standing: f64,
    /// Height while it lies, mm.
    pub lying: f64,
    /// How far the edge must be raised, because the piece overhangs it, mm; counted in the peak.
    pub cradle: f64,
}

/// Greatest height over the axis while points turn a quarter turn about it, from lying on the side `inward` looks
/// away from to standing as given, mm. `inward` is level, square to the axis. A block of height h and depth b
/// reaches √(h² + b²).
pub fn peak_of_tilt(points: &[Point3<f64>], axis: Point3<f64>, inward: Vector3<f64>) -> f64 {
    points
        .iter()
        .map(|p| {
            let (d, h) = ((p - axis).dot(&inward), p.z - axis.z);
            // Height at the angle θ from standing is h·cos θ + d·sin θ.
            if d > 0.0 && h > 0.0 { d.hypot(h) } else { d.max(h) }
        })
        .fold(0.0, f64::max)
}

/// Corners this much above the lowest, mm, still stand on the ground.
const ON_GROUND: f64 = 1.0;

/// The edge of the outline as seen from above about which the piece tilts up with the least peak; none for points
/// that span no area. A piece that stands on less than its outline is tilted in a cradle as wide as that.
pub fn tilt_up(points: &[Point3<f64>]) -> Option<TiltUp> {
    let low = points.iter().map(|p| p.z).fold(f64::INFINITY, f64::min);
    let high = points.iter().map(|p| p.z).fold(f64::NEG_INFINITY, f64::max);
    let standing: Vec<[f64; 2]> =
        points.iter().filter(|p| p.z < low + ON_GROUND).map(|p| [p.x, p.y]).collect();
    let mut ring = hull(standing);
    if ring.len() < 3 {
        ring = hull(points.iter().map(|p| [p.x, p.y]).collect());
    }
    let mut best: Option<TiltUp> = None;
    for (i, a) in ring.iter().enumerate() {
        let b = ring[(i + 1) % ring.len()];
        let run = Vector3::new(b[0] - a[0], b[1] - a[1], 0.0).try_normalize(f64::MIN_POSITIVE)?;
        let inward = Vector3::new(-run.y, run.x, 0.0);
        let [from, to] = [*a, b].map(|p| Point3::new(p[0], p[1], low));
        let depths = points.iter().map(|p| (p - from).dot(&inward));
        let least = depths.clone().fold(f64::INFINITY, f64::min);
        let lying = depths.fold(f64::NEG_INFINITY, f64::max) - least;
        let cradle = (-least).max(0.0);
        let peak = peak_of_tilt(points, from, inward) + cradle;
        if best.as_ref().is_none_or(|t| peak < t.peak) {
            best = Some(TiltUp { edge: [from, to], peak, standing: high - low, lying, cradle });
        }
    }
    best
}
