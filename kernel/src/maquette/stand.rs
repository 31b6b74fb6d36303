//! How a solved figure stands: by its heights, or laid on a face.

use super::convex::{self, Triple};
use super::flat::{Flat, at, middle};
use super::net::{From as Made, Net, moved, settled, turn_to_up};
use super::readings::Readings;
use super::refuse::{self, Refusal};
use super::start::improved;
use nalgebra::{DVector, Matrix3, Rotation3, Vector3};

/// The mirror image: x turned round.
pub(super) fn mirrored(x: &DVector<f64>) -> DVector<f64> {
    DVector::from_fn(x.len(), |k, _| if k % 3 == 0 { -x[k] } else { x[k] })
}

/// Points may come out this many deviations below the table.
const BELOW: f64 = 4.0;
/// Two ways to stand fit about equally well if one has not this much more Σ (v/σ)² than the other.
const AS_WELL: f64 = 4.0;

/// Heights of points in one plane allow a figure to stand on either side of it. The table settles it: nothing lies
/// below.
pub(super) fn upright(
    net: &Net,
    triples: &[Triple],
    x: DVector<f64>,
    aside: &[Made],
    names: &[String],
) -> Result<DVector<f64>, Box<Refusal>> {
    let points: Vec<usize> = net.heights.iter().map(|h| h.point).collect();
    let flat = Flat::one(&points);
    let (normal, foot) = (flat.normal(&x), middle(&x, &points));
    let mut over = x.clone();
    for p in 0..net.count() {
        let there = at(&x, p) - normal * (2.0 * normal.dot(&(at(&x, p) - foot)));
        over.fixed_rows_mut::<3>(3 * p).copy_from(&there);
    }
    let (own, _) = value(net, &x, aside);
    let (y, other) = improved(net, &mirrored(&over), aside);
    let limit = net.limit(&y, aside, LEVEL).max(AS_WELL * own);
    let tolerance = BELOW * net.heights.iter().map(|h| h.deviation).fold(net.usual().max(net.flat), f64::max);
    let rise = |p: usize| (x[3 * p + 2] - y[3 * p + 2]).abs();
    let most = (0..net.count()).max_by(|&a, &b| rise(a).total_cmp(&rise(b))).unwrap_or(0);
    let alike = convex::hand(triples, &x) == convex::hand(triples, &y);
    if other > limit || !alike || rise(most) < tolerance {
        return Ok(x);
    }
    // A point below the table counts as far as its height is known.
    let low = |x: &DVector<f64>| {
        let known = settled(net, x.clone(), aside).ok();
        let height = |p: usize| {
            let variance = known.as_ref().map_or(0.0, |(_, a)| a.covariance[(3 * p + 2, 3 * p + 2)]);
            x[3 * p + 2] + BELOW * variance.max(0.0).sqrt()
        };
        (0..net.count()).map(height).fold(f64::INFINITY, f64::min)
    };
    match (low(&x) >= -tolerance, low(&y) >= -tolerance) {
        (true, true) => {
            let message = "the heights fit two ways to stand, one over the other".to_owned();
            Err(refuse::heights(net, message, most, names))
        }
        (false, true) => Ok(y),
        (false, false) if low(&y) > low(&x) => Ok(y),
        _ => Ok(x),
    }
}

/// The level of the test for the other way to stand.
const LEVEL: f64 = 1.0e-3;

fn value(net: &Net, x: &DVector<f64>, aside: &[Made]) -> (f64, usize) {
    let observed = net.observations(x, net.flat, aside).0;
    (observed.iter().map(|o| (o.value / o.deviation).powi(2)).sum(), observed.len())
}

/// Turned about the vertical so that the faces look where their labels say (east to +x), or the first distance runs
/// along x. Nothing of it is measured.
pub(super) fn turned(net: &Net, readings: &Readings, x: &DVector<f64>) -> DVector<f64> {
    let compass = [("east", 0.0), ("north", 0.5), ("west", 1.0), ("south", 1.5)];
    let looks = compass.iter().find_map(|(label, half_turns)| {
        let k = net.face_index.iter().position(|&f| readings.faces[f].label.to_lowercase() == *label)?;
        let face = &net.faces[k];
        let out = middle(x, face)
            - middle(x, &convex::points_of(net, readings, &readings.faces[net.face_index[k]].element));
        let normal = Flat::one(face).normal(x);
        let normal = if normal.dot(&out) < 0.0 { -normal } else { normal };
        Some((normal, half_turns * std::f64::consts::PI))
    });
    let first = || net.legs.first().map(|l| (at(x, l.ends[1]) - at(x, l.ends[0]), 0.0));
    match looks.or_else(first) {
        Some((v, angle)) if v.xy().norm() > UPRIGHT * v.norm() => {
            let turn = Rotation3::from_axis_angle(&Vector3::z_axis(), angle - v.y.atan2(v.x));
            moved(x, turn.matrix(), Vector3::zeros())
        }
        _ => x.clone(),
    }
}

/// A direction whose share across is below this is upright and says nothing of north and south.
const UPRIGHT: f64 = 0.1;

/// Labels of a face that a figure is laid on where heights do not say which way is up.
const FEET: [&str; 4] = ["bottom", "foot", "base", "underside"];

/// Laid on a face, its lowest point at height 0; the face's index.
pub(super) fn laid(net: &Net, readings: &Readings, x: &DVector<f64>) -> (DVector<f64>, Option<usize>) {
    let mut labels = net.face_index.iter().map(|&f| readings.faces[f].label.to_lowercase());
    let foot = labels.position(|l| FEET.contains(&l.as_str()));
    let Some(k) = foot.or_else(|| (!net.faces.is_empty()).then_some(0)) else {
        return (x.clone(), None);
    };
    let face = &net.faces[k];
    let normal = Flat::one(face).normal(x);
    let element = &readings.faces[net.face_index[k]].element;
    let inside = middle(x, &convex::points_of(net, readings, element)) - middle(x, face);
    let up = if inside.dot(&normal) < 0.0 { -normal } else { normal };
    let y = moved(x, &turn_to_up(&up), Vector3::zeros());
    let low = (0..net.count()).map(|p| y[3 * p + 2]).fold(f64::INFINITY, f64::min);
    // Heights that do not tell which way is up still hold it where they can.
    let y = if net.heights.is_empty() {
        moved(&y, &Matrix3::identity(), Vector3::z() * -low)
    } else {
        net.raised(&y)
    };
    (y, Some(net.face_index[k]))
}
