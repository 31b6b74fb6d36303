//! A piece hanging from one hook by straight legs: lengths, angles and tensions, in space.
//!
//! Method: the hook lies vertically above the centre of mass, so weight and legs all pass through the hook and
//! no moment is left; the legs' forces must add up to the weight. Two legs lie in one vertical plane with the
//! centre of mass, three have one solution. Four are statically indeterminate: slings are never equally long,
//! so any two or three of them may come to carry everything; the tension of a leg is the greatest over all sets of
//! three that can hold the piece (rated as EN 818-4 and EN 13414-1 rate four legs: as three at most).

use crate::error::{Error, Result};
use crate::units::STANDARD_GRAVITY;
use nalgebra::{Matrix3, Point3, Vector3};

/// Legs flatter than this to the horizontal are refused, degrees: tension is twice the share of the load there and
/// climbs without bound (common to published sling charts).
pub const FLATTEST: f64 = 30.0;
/// Forces below this share of the weight are none: rounding.
const ROUNDING: f64 = 1.0e-9;
/// Two legs whose plane passes the centre of mass by more than this share of their spread would swing the piece.
const IN_PLANE: f64 = 1.0e-6;

/// One leg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leg {
    /// Where it takes hold, mm.
    pub at: Point3<f64>,
    /// From there to the hook, mm.
    pub length: f64,
    /// Angle to the horizontal, degrees.
    pub angle: f64,
    /// Greatest tension, N.
    pub tension: f64,
    /// Tension over vertical share: 1 / sin(angle), the factor of sling charts.
    pub factor: f64,
}

/// A set of legs that holds the piece by itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Carrying {
    /// Which legs, and the tension of each, N.
    pub tensions: Vec<(usize, f64)>,
}

/// A piece hanging.
#[derive(Debug, Clone, PartialEq)]
pub struct Hang {
    /// Where the hook is, mm.
    pub hook: Point3<f64>,
    /// Its legs.
    pub legs: Vec<Leg>,
    /// Every set of two or three legs that can carry alone.
    pub carrying: Vec<Carrying>,
    /// Weight, N.
    pub weight: f64,
}

impl Hang {
    /// The flattest leg's angle to the horizontal, degrees.
    pub fn flattest(&self) -> f64 {
        self.legs.iter().map(|l| l.angle).fold(f64::INFINITY, f64::min)
    }

    /// The greatest tension, N.
    pub fn most(&self) -> f64 {
        self.legs.iter().map(|l| l.tension).fold(0.0, f64::max)
    }
}

/// Hangs a mass (kg) by two to four points from a hook `above` mm over the centre of mass.
///
/// # Errors
/// Fewer than two or more than four points; a mass or height that is not above 0; a point not below the hook; a
/// leg flatter than [`FLATTEST`]; points that cannot hold the piece level, because the centre of mass lies outside
/// them or, of two, beside their line.
pub fn hang(mass: f64, centre: Point3<f64>, points: &[Point3<f64>], above: f64) -> Result<Hang> {
    if !(2..=4).contains(&points.len()) {
        return Err(Error::input(format!(
            "{} lifting points; two, three or four can be worked out",
            points.len()
        ))
        .remedy("choose two, three or four points"));
    }
    if !(mass > 0.0 && mass.is_finite()) {
        return Err(
            Error::input(format!("a mass of {mass} kg cannot be lifted")).remedy("give a mass above 0")
        );
    }
    if !(above > 0.0 && above.is_finite()) {
        return Err(Error::input(format!("a hook {above} mm over the centre of mass does not hold it up"))
            .remedy("raise the hook"));
    }
    let weight = mass * STANDARD_GRAVITY;
    let hook = centre + Vector3::z() * above;
    let runs: Vec<Vector3<f64>> = points.iter().map(|p| hook - p).collect();
    let mut legs = Vec::new();
    for (at, run) in points.iter().zip(&runs) {
        let angle = run.z.atan2(run.xy().norm()).to_degrees();
        if angle < FLATTEST - ROUNDING {
            return Err(Error::input(format!(
                "a leg stands {angle:.1} degrees to the horizontal, flatter than {FLATTEST} degrees"
            ))
            .remedy("raise the hook: longer slings, or a spreader beam"));
        }
        let length = run.norm();
        legs.push(Leg { at: *at, length, angle, tension: 0.0, factor: length / run.z });
    }
    let units: Vec<Vector3<f64>> = runs.iter().map(|r| r.normalize()).collect();
    let mut carrying = Vec::new();
    if points.len() == 2 {
        carrying
            .extend(two(&runs, &units, weight).map(|t| Carrying { tensions: vec![(0, t[0]), (1, t[1])] }));
    }
    for i in 0..points.len() {
        for j in i + 1..points.len() {
            for k in j + 1..points.len() {
                let set = [i, j, k];
                if let Some(t) = three(&set.map(|m| units[m]), weight) {
                    let tensions = set.into_iter().zip(t).filter(|(_, t)| *t > ROUNDING * weight).collect();
                    carrying.push(Carrying { tensions });
                }
            }
        }
    }
    if points.len() == 4 && carrying.is_empty() {
        // Opposite legs in one plane with the centre of mass, and none beside it.
        for [i, j] in [[0, 1], [0, 2], [0, 3], [1, 2], [1, 3], [2, 3]] {
            let found = two(&[runs[i], runs[j]], &[units[i], units[j]], weight);
            carrying.extend(found.map(|t| Carrying { tensions: vec![(i, t[0]), (j, t[1])] }));
        }
    }
    if carrying.is_empty() {
        return Err(Error::input(
            "the piece would not hang as wanted: its centre of mass lies outside its lifting points",
        )
        .remedy("choose points on all sides of the centre of mass"));
    }
    for set in &carrying {
        for &(i, t) in &set.tensions {
            legs[i].tension = legs[i].tension.max(t);
        }
    }
    Ok(Hang { hook, legs, carrying, weight })
}

/// Tensions of two legs in one vertical plane with the hook.
fn two(runs: &[Vector3<f64>], units: &[Vector3<f64>], weight: f64) -> Option<[f64; 2]> {
    let (a, b) = (runs[0].xy(), runs[1].xy());
    let spread = (a - b).norm();
    if spread <= f64::MIN_POSITIVE || a.perp(&b).abs() > IN_PLANE * spread * spread {
        return None;
    }
    let along = (a - b) / spread;
    // Horizontal parts cancel, vertical parts add up to the weight.
    let [ha, hb] = [units[0].xy().dot(&along), units[1].xy().dot(&along)];
    let [va, vb] = [units[0].z, units[1].z];
    let below = ha * vb - hb * va;
    if below.abs() <= ROUNDING {
        return None;
    }
    let t = [-hb * weight / below, ha * weight / below];
    t.iter().all(|x| *x >= 0.0).then_some(t)
}

/// Tensions of three legs, if none is pushed.
fn three(units: &[Vector3<f64>; 3], weight: f64) -> Option<[f64; 3]> {
    let matrix = Matrix3::from_columns(units);
    if matrix.determinant().abs() <= ROUNDING {
        return None;
    }
    let t = matrix.lu().solve(&(Vector3::z() * weight))?;
    t.iter().all(|x| *x >= -ROUNDING * weight).then(|| [t.x, t.y, t.z].map(|x| x.max(0.0)))
}

/// Tensions of two hitches that take a load `[d1, d2]` beside its centre of mass and meet `height` above the level of
/// the hitches: T1 = W·d2·S1 / (H (d1 + d2)), in the unit of `weight` (published rigging tables).
///
/// # Errors
/// A distance or height that is not above 0.
pub fn two_hitches(weight: f64, distances: [f64; 2], height: f64) -> Result<[f64; 2]> {
    let [a, b] = distances;
    if ![weight, a, b, height].iter().all(|x| *x > 0.0 && x.is_finite()) {
        return Err(Error::input(format!(
            "weight {weight}, distances {a} and {b} and height {height} must all be above 0"
        ))
        .remedy("measure from the centre of mass to each hitch, and from the hitches up to the hook"));
    }
    let share = weight / (height * (a + b));
    Ok([share * b * a.hypot(height), share * a * b.hypot(height)])
}
