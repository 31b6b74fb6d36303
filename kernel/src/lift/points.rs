//! Where to take hold: points on the upper corners of a piece from which it hangs as wanted.
//!
//! All sets of two, three and four corners are tried; of those that hold the piece with every leg pulling, the
//! one is taken whose flattest leg needs the lowest hook, with the points above the centre of mass if any such set
//! exists. Two points that lie opposite each other seldom line up with the centre of mass: for two legs, points
//! along the upper edges are looked for in planes through it.

use super::hang::{Hang, hang};
use crate::error::{Error, Result};
use nalgebra::{Point3, Rotation3, Vector3};

/// A place where a sling can take hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grip {
    /// Where, mm.
    pub at: Point3<f64>,
    /// An upper edge that starts here: points along it may be used for two legs, mm.
    pub edge_to: Option<Point3<f64>>,
}

/// Points chosen.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// How it hangs, in the position in which it hangs.
    pub hang: Hang,
    /// The points in the position in which they were given, same order as the legs.
    pub points: Vec<Point3<f64>>,
    /// Whether all points lie above the centre of mass; otherwise the piece may turn over.
    pub stable: bool,
}

/// Most corners that are tried; of more, the highest are.
const MOST_CORNERS: usize = 24;
/// Planes through the centre of mass in which two points are looked for.
const PLANES: u32 = 24;
/// Points nearer to the centre of mass's vertical than this, mm, give a leg no hold.
const LEAST_REACH: f64 = 50.0;
/// How far below the highest tried grip a grip counts as on the same level, as a share of the needed hook height.
const ROUNDING: f64 = 1.0e-9;

/// Chooses `count` of the grips for a mass with its centre, hanging turned by `turn` about the centre, so that its
/// flattest leg stands at `angle` degrees to the horizontal.
///
/// # Errors
/// A count other than two to four; an angle below the flattest allowed or not below 90; no set of grips that holds
/// the piece.
pub fn choose(
    mass: f64,
    centre: Point3<f64>,
    grips: &[Grip],
    count: usize,
    angle: f64,
    turn: &Rotation3<f64>,
) -> Result<Choice> {
    if !(2..=4).contains(&count) {
        return Err(Error::input(format!("{count} lifting points; two, three or four can be worked out"))
            .remedy("set points to 2, 3 or 4"));
    }
    if !(super::hang::FLATTEST..90.0).contains(&angle) {
        return Err(Error::input(format!(
            "legs at {angle} degrees to the horizontal: allowed is {} to below 90",
            super::hang::FLATTEST
        ))
        .remedy("60 degrees is usual"));
    }
    let turned = |p: Point3<f64>| centre + turn * (p - centre);
    let mut sets: Vec<Vec<Point3<f64>>> = Vec::new();
    if count == 2 {
        sets.extend(pairs(centre, grips, turn));
    }
    let mut corners: Vec<Point3<f64>> = grips.iter().map(|g| g.at).collect();
    if count == 3 {
        // Three corners of a block leave its middle on their rim: two corners and the middle of an edge hold it.
        corners.extend(grips.iter().filter_map(|g| Some(nalgebra::center(&g.at, &g.edge_to?))));
    }
    corners.retain(|p| (turned(*p) - centre).xy().norm() > LEAST_REACH);
    corners.sort_by(|a, b| turned(*b).z.total_cmp(&turned(*a).z));
    corners.truncate(MOST_CORNERS);
    if count > 2 {
        subsets(corners.len(), count, &mut |set| sets.push(set.iter().map(|&i| corners[i]).collect()));
    }
    let tangent = angle.to_radians().tan();
    let mut best: Option<(bool, f64, Choice)> = None;
    for points in sets {
        let placed: Vec<Point3<f64>> = points.iter().map(|p| turned(*p)).collect();
        if count > 2 && !surrounds(&placed, centre) {
            continue;
        }
        // High enough for every leg to be as steep as asked for.
        let needed = |p: &Point3<f64>| p.z - centre.z + (p - centre).xy().norm() * tangent;
        let above = placed.iter().map(needed).fold(0.0, f64::max);
        if above <= 0.0 {
            continue;
        }
        let Ok(hanging) = hang(mass, centre, &placed, above) else { continue };
        let stable = placed.iter().all(|p| p.z > centre.z);
        // The lower the most loaded leg's tension, the better; steep legs and wide sets need low hooks.
        let cost = hanging.most() * (1.0 + above / REACH);
        let better = best.as_ref().is_none_or(|(s, c, _)| (stable, -cost) > (*s, -c * (1.0 - ROUNDING)));
        if better {
            best = Some((stable, cost, Choice { hang: hanging, points, stable }));
        }
    }
    best.map(|b| b.2).ok_or_else(|| {
        Error::input(format!("no {count} of the upper corners lie on all sides of the centre of mass"))
            .remedy("use more points, hang it at an angle, or weld eyes on and have the lift planned by hand")
    })
}

/// A hook this much higher costs as much as twice the tension, mm.
const REACH: f64 = 10_000.0;

/// Pairs of points on the upper edges, opposite each other in a vertical plane through the centre of mass.
fn pairs(centre: Point3<f64>, grips: &[Grip], turn: &Rotation3<f64>) -> Vec<Vec<Point3<f64>>> {
    let mut found = Vec::new();
    for k in 0..PLANES {
        let (sin, cos) = (std::f64::consts::PI * f64::from(k) / f64::from(PLANES)).sin_cos();
        let (along, across) = (Vector3::new(cos, sin, 0.0), Vector3::new(-sin, cos, 0.0));
        let mut on: [Vec<Point3<f64>>; 2] = [Vec::new(), Vec::new()];
        for grip in grips {
            let Some(to) = grip.edge_to else { continue };
            let [a, b] = [grip.at, to].map(|p| (turn * (p - centre)).dot(&across));
            if (a <= 0.0) == (b <= 0.0) {
                continue;
            }
            let p = grip.at + (to - grip.at) * (a / (a - b));
            let s = (turn * (p - centre)).dot(&along);
            if s.abs() > LEAST_REACH {
                on[usize::from(s > 0.0)].push(p);
            }
        }
        for p in &on[0] {
            found.extend(on[1].iter().map(|q| vec![*p, *q]));
        }
    }
    found
}

/// Whether the points lie on all sides of the centre as seen from above: no gap of half a turn between them.
fn surrounds(points: &[Point3<f64>], centre: Point3<f64>) -> bool {
    let mut angles: Vec<f64> = points.iter().map(|p| (p.y - centre.y).atan2(p.x - centre.x)).collect();
    angles.sort_by(f64::total_cmp);
    let count = angles.len();
    let gap = |i: usize| {
        let next = if i + 1 == count { angles[0] + std::f64::consts::TAU } else { angles[i + 1] };
        next - angles[i]
    };
    (0..count).all(|i| gap(i) < std::f64::consts::PI)
}

/// All ways to take `count` of `of`, in order.
fn subsets(of: usize, count: usize, take: &mut impl FnMut(&[usize])) {
    fn add(of: usize, count: usize, set: &mut Vec<usize>, take: &mut impl FnMut(&[usize])) {
        if set.len() == count {
            take(set);
            return;
        }
        for i in set.last().map_or(0, |l| l + 1)..of {
            set.push(i);
            add(of, count, set, take);
            set.pop();
        }
    }
    add(of, count, &mut Vec::new(), take);
}
