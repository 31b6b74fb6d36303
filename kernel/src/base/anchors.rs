//! Anchors of a base plate: where they sit, and the tension and shear of each.
//!
//! Method (elastic): the plate stays flat. It presses on the concrete without pull and is held by anchors that
//! only pull, like a reinforced section: an anchor of stressed area A takes n·A times the pressure that would act at its
//! place, n the ratio of the moduli of steel and concrete. The smaller n·A is against the plate, the nearer the contact
//! goes to the pressed edge; in the limit the plate turns about that edge. Shear is shared evenly, with what a twist adds in
//! proportion to the distance from the middle of the anchors; friction is left out. Preliminary: prying, a
//! bending plate and gaps in the holes are not counted.

use super::bearing::{Balance, Load, Tie, balance};
use crate::error::{Error, Result};
use crate::kerf::Ring;
use nalgebra::Point3;

/// Anchors of the base.
#[derive(Debug, Clone, PartialEq)]
pub struct AnchorGroup {
    /// Where they stand, mm, at the top of the base plate.
    pub places: Vec<Point3<f64>>,
    /// Stressed area of one, mm².
    pub area: f64,
    /// Depth in the concrete, mm.
    pub length: f64,
}

/// How anchors are set out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pattern {
    /// Columns × rows over a size in x and y, mm; only those on the rim.
    Rectangle {
        /// How many along x and along y, each at least 2.
        count: [u32; 2],
        /// Distance between the outermost, mm.
        size: [f64; 2],
    },
    /// Evenly on a circle, the first at +x.
    Circle {
        /// How many, at least 3.
        count: u32,
        /// Its radius, mm.
        radius: f64,
    },
}

impl Pattern {
    /// Places about the middle, mm.
    ///
    /// # Errors
    /// Too few anchors, or a size that is not above 0.
    pub fn places(&self) -> Result<Vec<[f64; 2]>> {
        let fail = |what: String| {
            Err(Error::input(what).remedy("give at least 2 × 2, or 3 on a circle, and a size above 0"))
        };
        match *self {
            Pattern::Rectangle { count: [m, n], size } => {
                if m < 2 || n < 2 || !size.iter().all(|x| *x > 0.0 && x.is_finite()) {
                    return fail(format!(
                        "{m} × {n} anchors over {} × {} mm are no pattern",
                        size[0], size[1]
                    ));
                }
                let at = |k: u32, of: u32, size: f64| size * (f64::from(k) / f64::from(of - 1) - 0.5);
                let rim = |i: u32, j: u32| i == 0 || j == 0 || i == m - 1 || j == n - 1;
                let all = (0..n).flat_map(|j| (0..m).map(move |i| (i, j)));
                Ok(all
                    .filter(|&(i, j)| rim(i, j))
                    .map(|(i, j)| [at(i, m, size[0]), at(j, n, size[1])])
                    .collect())
            }
            Pattern::Circle { count, radius } => {
                if count < 3 || !(radius > 0.0 && radius.is_finite()) {
                    return fail(format!("{count} anchors on a circle of {radius} mm are no pattern"));
                }
                let step = std::f64::consts::TAU / f64::from(count);
                Ok((0..count)
                    .map(|k| {
                        let (s, c) = (f64::from(k) * step).sin_cos();
                        [radius * c, radius * s]
                    })
                    .collect())
            }
        }
    }
}

/// Least distance of anchors, as a multiple of their diameter: nearer holes leave no plate between their washers (common
/// practice, no source; the approvals of products ask for more).
pub const LEAST_APART: f64 = 3.0;
/// A rounded corner that turns further than this is two, rad.
const MOST_TURN: f64 = 150.0 * std::f64::consts::PI / 180.0;
/// What turns less than this is no corner, rad.
const LEAST_TURN: f64 = 10.0 * std::f64::consts::PI / 180.0;

/// Places for one anchor in each corner of a convex outline, `inset` mm from both edges. What turns by edges shorter than
/// `apart`, mm, is one rounded corner, with its anchor in the middle.
///
/// # Errors
/// An inset that leaves no corner.
pub fn per_corner(outline: &[[f64; 2]], inset: f64, apart: f64) -> Result<Vec<[f64; 2]>> {
    let moved = crate::kerf::offset(&[outline.to_vec()], -inset, crate::kerf::Corner::Sharp { limit: 4.0 })?;
    let Some(ring) = moved.outlines.into_iter().next() else {
        return Err(Error::input(format!(
            "anchors {inset} mm from every edge find no room on the base plate"
        ))
        .remedy("set them nearer to the edge, or make the plate larger"));
    };
    let count = ring.len();
    let at = |k: usize| ring[k % count];
    // The edge that ends at a corner, and how far the outline turns there.
    let edge = |k: usize| [at(k)[0] - at(k + count - 1)[0], at(k)[1] - at(k + count - 1)[1]];
    let length = |k: usize| edge(k)[0].hypot(edge(k)[1]);
    let turn = |k: usize| {
        let (a, b) = (edge(k), edge(k + 1));
        (a[0] * b[1] - a[1] * b[0]).atan2(a[0] * b[0] + a[1] * b[1]).abs()
    };
    let first = (0..count).max_by(|&a, &b| length(a).total_cmp(&length(b)).then(b.cmp(&a))).unwrap_or(0);
    let mut corners: Vec<(usize, usize, f64)> = Vec::new();
    for k in first..first + count {
        match corners.last_mut() {
            Some((_, last, turned)) if length(k) < apart && *turned + turn(k) <= MOST_TURN => {
                (*last, *turned) = (k, *turned + turn(k));
            }
            _ => corners.push((k, k, turn(k))),
        }
    }
    let middle = |from: usize, to: usize| {
        let mut left = (from + 1..=to).map(length).sum::<f64>() / 2.0;
        for k in from + 1..=to {
            if left <= length(k) {
                let (end, share) = (at(k), 1.0 - left / length(k));
                return [end[0] - edge(k)[0] * share, end[1] - edge(k)[1] * share];
            }
            left -= length(k);
        }
        at(to)
    };
    Ok(corners
        .into_iter()
        .filter(|(_, _, turned)| *turned >= LEAST_TURN)
        .map(|(from, to, _)| middle(from, to))
        .collect())
}

/// What acts on the plate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Actions {
    /// Vertical load with its first moments.
    pub load: Load,
    /// Horizontal force, N.
    pub shear: [f64; 2],
    /// Twist about z at the origin, counter-clockwise positive, N·mm.
    pub twist: f64,
}

/// What each anchor takes.
#[derive(Debug, Clone, PartialEq)]
pub struct Forces {
    /// Tensions, N.
    pub tension: Vec<f64>,
    /// Shear on each, N.
    pub shear: Vec<[f64; 2]>,
    /// The pressed plate.
    pub balance: Balance,
}

/// Shares actions among anchors of a stressed area (mm²) under a plate; `ratio` is that of the moduli.
///
/// # Errors
/// No anchors, an area or ratio that is not above 0, or actions that cannot be balanced.
pub fn distribute(
    plate: &[Ring],
    places: &[[f64; 2]],
    area: f64,
    ratio: f64,
    actions: &Actions,
) -> Result<Forces> {
    if places.is_empty() || !(area > 0.0 && ratio > 0.0 && area.is_finite() && ratio.is_finite()) {
        return Err(Error::input(format!(
            "{} anchors of {area} mm² at a ratio of moduli of {ratio} hold nothing",
            places.len()
        ))
        .remedy("give at least one anchor, and an area and a ratio above 0"));
    }
    let ties: Vec<Tie> = places.iter().map(|&at| Tie { at, stiffness: ratio * area }).collect();
    let balance = balance(plate, &ties, &actions.load)?;
    #[allow(clippy::cast_precision_loss, reason = "a count of anchors")]
    let count = places.len() as f64;
    let middle = [0, 1].map(|i| places.iter().map(|p| p[i]).sum::<f64>() / count);
    let twist = actions.twist - (middle[0] * actions.shear[1] - middle[1] * actions.shear[0]);
    let polar: f64 = places.iter().map(|p| (p[0] - middle[0]).powi(2) + (p[1] - middle[1]).powi(2)).sum();
    let turned = if polar > 0.0 { twist / polar } else { 0.0 };
    let shear = places
        .iter()
        .map(|p| {
            [
                actions.shear[0] / count - turned * (p[1] - middle[1]),
                actions.shear[1] / count + turned * (p[0] - middle[0]),
            ]
        })
        .collect();
    Ok(Forces { tension: balance.pulls.clone(), shear, balance })
}

/// Stressed area of metric coarse threads, mm² (ISO 898-1, from memory).
pub const STRESS_AREAS: [(u32, f64); 8] =
    [(8, 36.6), (10, 58.0), (12, 84.3), (16, 157.0), (20, 245.0), (24, 353.0), (30, 561.0), (36, 817.0)];
