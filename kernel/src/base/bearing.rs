//! Ground pressure under a rigid footing that cannot pull: closed forms for a rectangle, and any outline solved.
//!
//! Method for any outline: pressure is linear, p = max(0, a + b·x + c·y) (a rigid plate on even springs that do not pull);
//! a, b and c balance the load. The balance is the least of a convex energy, found by Newton's method with a line
//! search; integrals over the part in contact are exact. Anchors are springs that only pull (`anchors.rs`).
//!
//! Closed forms: the trapezoid and the triangle of every textbook (B/6 rule); effective area: G. G. Meyerhof, "The
//! bearing capacity of foundations under eccentric and inclined loads", 1953.

use crate::drawing::signed_area;
use crate::error::{Error, Result};
use crate::kerf::Ring;
use crate::polygon::hull;
use nalgebra::{Matrix3, Vector3};

/// Pressure under a rectangle that is loaded beside one of its middle lines.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strip {
    /// Least pressure, N/mm²; 0 where part of it lifts.
    pub least: f64,
    /// Greatest pressure, N/mm².
    pub most: f64,
    /// Length in contact, mm.
    pub contact: f64,
}

/// Pressure under a rectangle `breadth` × `length` loaded by N newtons `e` mm beside the middle of its breadth:
/// N/A·(1 ± 6e/B) up to e = B/6, beyond it a triangle over 3(B/2 − e).
///
/// # Errors
/// A load or size that is not above 0; a load at or beyond the edge.
pub fn rectangle(load: f64, e: f64, breadth: f64, length: f64) -> Result<Strip> {
    check_rectangle(load, [breadth, length])?;
    let e = e.abs();
    if e >= breadth / 2.0 {
        return Err(tips(&format!("{e:.0} mm beside the middle of a breadth of {breadth:.0} mm")));
    }
    let even = load / (breadth * length);
    if e <= breadth / 6.0 {
        let bend = 6.0 * e / breadth;
        return Ok(Strip {
            least: (even * (1.0 - bend)).max(0.0),
            most: even * (1.0 + bend),
            contact: breadth,
        });
    }
    let contact = 3.0 * (breadth / 2.0 - e);
    Ok(Strip { least: 0.0, most: 2.0 * load / (contact * length), contact })
}

/// Meyerhof's even pressure on the effective area (B − 2e) × (L − 2e'), and that area: N/mm², mm².
///
/// # Errors
/// As [`rectangle`].
pub fn effective(load: f64, e: [f64; 2], size: [f64; 2]) -> Result<[f64; 2]> {
    check_rectangle(load, size)?;
    let left = [size[0] - 2.0 * e[0].abs(), size[1] - 2.0 * e[1].abs()];
    if left.iter().any(|x| *x <= 0.0) {
        return Err(tips(&format!("{:.0} and {:.0} mm beside the middle", e[0], e[1])));
    }
    let area = left[0] * left[1];
    Ok([load / area, area])
}

fn check_rectangle(load: f64, size: [f64; 2]) -> Result<()> {
    if load > 0.0 && size.iter().all(|x| *x > 0.0 && x.is_finite()) && load.is_finite() {
        return Ok(());
    }
    Err(Error::input(format!("a load of {load} N on {} × {} mm presses on nothing", size[0], size[1]))
        .remedy("give a load and sizes above 0"))
}

fn tips(place: &str) -> Error {
    Error::input(format!("the load acts {place}: it tips over"))
        .remedy("widen the base, move the weight inward, or hold it down with anchors")
}

/// A downward load and its first moments N·x and N·y: N, N·mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Load {
    /// Downward force, N; negative lifts.
    pub down: f64,
    /// Force times place, along x and y, N·mm.
    pub first: [f64; 2],
}

impl Load {
    /// A force at a place.
    pub fn at(down: f64, place: [f64; 2]) -> Self {
        Self { down, first: place.map(|x| x * down) }
    }
}

/// A spring that only pulls down: a place and a stiffness in mm² (force per unit of pressure).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tie {
    /// Where, mm.
    pub at: [f64; 2],
    /// Stiffness against that of the ground, mm².
    pub stiffness: f64,
}

/// Pressure and pulls in balance.
#[derive(Debug, Clone, PartialEq)]
pub struct Balance {
    /// p = a + b·x + c·y where positive, N/mm².
    pub plane: [f64; 3],
    /// Greatest pressure, N/mm².
    pub most: f64,
    /// Share of the outline's area in contact.
    pub contact: f64,
    /// Force in each tie, N.
    pub pulls: Vec<f64>,
    /// Sum of pressures and its first moments, N, N·mm.
    pub pressed: [f64; 3],
    /// What is left unbalanced over the load: rounding.
    pub residual: f64,
}

/// Newton's steps before a balance is given up; tens are normal near the tip of an outline.
const STEPS: usize = 200;
/// What may be left unbalanced, as a share of the load.
const BALANCED: f64 = 1.0e-12;
/// What is accepted as balanced once steps no longer help.
const ACCEPTED: f64 = 1.0e-9;
/// Share of the descent that a step must bring (Armijo's rule).
const ARMIJO: f64 = 1.0e-4;
/// A step that leaves less than this share of what was unbalanced is a good one.
const CLOSER: f64 = 0.5;
/// Least length of a step.
const LEAST_STEP: f64 = 1.0e-12;
/// What keeps a matrix from being singular while hardly anything is in contact.
const SOFT: f64 = 1.0e-14;

/// The linear pressure, without pull, under outlines (holes clockwise) with ties that balance a load.
///
/// # Errors
/// Outlines without area; a load that nothing can balance: it tips over.
pub fn balance(outlines: &[Ring], ties: &[Tie], load: &Load) -> Result<Balance> {
    let area: f64 = outlines.iter().map(|o| signed_area(o)).sum();
    if area <= 0.0 || !area.is_finite() {
        return Err(Error::input("the footing has no area").remedy("give its outline counter-clockwise"));
    }
    let [x, y] = crate::plates::centroid(outlines);
    let size = area.sqrt();
    let place = |p: [f64; 2]| [(p[0] - x) / size, (p[1] - y) / size];
    let rings: Vec<Ring> = outlines.iter().map(|o| o.iter().map(|p| place(*p)).collect()).collect();
    let springs: Vec<Tie> =
        ties.iter().map(|t| Tie { at: place(t.at), stiffness: t.stiffness / area }).collect();
    let target = Vector3::new(
        load.down,
        (load.first[0] - load.down * x) / size,
        (load.first[1] - load.down * y) / size,
    );
    let scale = target.norm();
    if scale <= 0.0 || !scale.is_finite() {
        return Err(Error::input("there is no load to balance").remedy("give a load"));
    }
    let target = target / scale;
    if springs.is_empty() {
        let outer = hull(rings.iter().flatten().copied().collect());
        let at = [target.y / target.x, target.z / target.x];
        if target.x <= 0.0 || !crate::polygon::holds(&outer, at) {
            return Err(tips(&format!(
                "at x {:.0}, y {:.0}, outside the footing",
                at[0] * size + x,
                at[1] * size + y
            )));
        }
    }
    let stiff = |w: &Vector3<f64>| stiffness(&rings, &springs, w);
    let energy = |w: &Vector3<f64>| w.dot(&(stiff(w) * w)) / 2.0 - target.dot(w);
    let mut w = solve(&inertia(&rings), &target).unwrap_or(Vector3::new(1.0, 0.0, 0.0));
    let mut residual = f64::INFINITY;
    for _ in 0..STEPS {
        let k = stiff(&w);
        let off = target - k * w;
        residual = off.norm();
        if residual < BALANCED {
            break;
        }
        let soft = k + Matrix3::identity() * (SOFT + k.trace() * SOFT);
        let Some(step) = solve(&soft, &off) else { break };
        let (start, slope) = (energy(&w), off.dot(&step));
        let mut length = 1.0;
        // Near the balance, and with soft anchors far from it, energies differ by less than their rounding; what is left
        // unbalanced still tells.
        let closer = |w: &Vector3<f64>| (target - stiff(w) * w).norm() < CLOSER * residual;
        while energy(&(w + step * length)) > start - ARMIJO * length * slope
            && !closer(&(w + step * length))
            && length > LEAST_STEP
        {
            length /= 2.0;
        }
        if length <= LEAST_STEP {
            break;
        }
        w += step * length;
    }
    if residual > ACCEPTED {
        return Err(tips("where neither the ground nor the anchors can hold it"));
    }
    // Back to mm and N: pressures count per mm² of the real outline.
    let p = |at: [f64; 2]| w.x + w.y * at[0] + w.z * at[1];
    let unit = scale / area;
    let pulls: Vec<f64> = springs.iter().map(|t| (-p(t.at)).max(0.0) * t.stiffness * scale).collect();
    let pressed = inertia_of(&rings, &w) * w * scale;
    let plane = [(w.x - (w.y * x + w.z * y) / size) * unit, w.y / size * unit, w.z / size * unit];
    let contact: f64 = rings.iter().map(|r| signed_area(&clipped(r, &w))).sum();
    Ok(Balance {
        plane,
        most: rings.iter().flatten().map(|q| p(*q)).fold(0.0, f64::max) * unit,
        contact,
        pulls,
        pressed: [pressed.x, pressed.y * size + pressed.x * x, pressed.z * size + pressed.x * y],
        residual,
    })
}

fn solve(matrix: &Matrix3<f64>, by: &Vector3<f64>) -> Option<Vector3<f64>> {
    matrix.lu().solve(by).filter(|w| w.iter().all(|x| x.is_finite()))
}

fn stiffness(rings: &[Ring], springs: &[Tie], w: &Vector3<f64>) -> Matrix3<f64> {
    let mut k = inertia_of(rings, w);
    for t in springs {
        let at = Vector3::new(1.0, t.at[0], t.at[1]);
        if at.dot(w) < 0.0 {
            k += at * at.transpose() * t.stiffness;
        }
    }
    k
}

/// Moments up to the second of the area where the pressure is positive.
fn inertia_of(rings: &[Ring], w: &Vector3<f64>) -> Matrix3<f64> {
    let pressed: Vec<Ring> = rings.iter().map(|r| clipped(r, w)).collect();
    inertia(&pressed)
}

/// The part of an outline where the pressure is positive; edges along the line of no pressure cancel out.
fn clipped(ring: &Ring, w: &Vector3<f64>) -> Ring {
    let p = |q: [f64; 2]| w.x + w.y * q[0] + w.z * q[1];
    let mut out = Ring::new();
    for (i, &a) in ring.iter().enumerate() {
        let b = ring[(i + 1) % ring.len()];
        let (pa, pb) = (p(a), p(b));
        if pa >= 0.0 {
            out.push(a);
        }
        if (pa > 0.0 && pb < 0.0) || (pa < 0.0 && pb > 0.0) {
            let share = pa / (pa - pb);
            out.push([a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share]);
        }
    }
    out
}

/// ∫(1, x, y)(1, x, y)ᵀ over outlines.
fn inertia(rings: &[Ring]) -> Matrix3<f64> {
    let mut m = [0.0; 6];
    for ring in rings {
        for (i, a) in ring.iter().enumerate() {
            let b = ring[(i + 1) % ring.len()];
            let cross = a[0] * b[1] - b[0] * a[1];
            m[0] += cross / 2.0;
            m[1] += cross * (a[0] + b[0]) / 6.0;
            m[2] += cross * (a[1] + b[1]) / 6.0;
            m[3] += cross * (a[0] * a[0] + a[0] * b[0] + b[0] * b[0]) / 12.0;
            m[4] += cross * (a[0] * b[1] + 2.0 * a[0] * a[1] + 2.0 * b[0] * b[1] + b[0] * a[1]) / 24.0;
            m[5] += cross * (a[1] * a[1] + a[1] * b[1] + b[1] * b[1]) / 12.0;
        }
    }
    Matrix3::new(m[0], m[1], m[2], m[1], m[3], m[4], m[2], m[4], m[5])
}
