//! Folding up: whether faces sewn along their edges close to a convex solid, and how well.
//!
//! Where three faces meet, their angles give the angles between them (spherical law of cosines), and faces are
//! turned up one after the other. Where no such corner helps, the shortest ways along the faces are scaled to
//! coordinates (W. S. Torgerson, "Multidimensional scaling", 1952), or the net of edges is drawn in the plane (W. T.
//! Tutte, "How to draw a graph", 1963) and put on a sphere, as it is and shaken. Then faces are laid on the points and points on
//! the faces in turn, and the distances within faces are adjusted by Gauss–Newton steps. Convex solids with rigid
//! faces do not flex (A. L. Cauchy 1813; M. Dehn 1916 for small moves), so that the closed figure is the only one.

use nalgebra::{DMatrix, DVector, Matrix3, Point2, Point3, Rotation3, Unit, Vector2, Vector3};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use std::collections::VecDeque;

/// Rounds of laying faces on points, before the adjustment.
const LAYINGS: usize = 60;
/// Steps of the adjustment; exact tracings take five.
const STEPS: usize = 60;
/// Damping at first, as a share of the largest diagonal term.
const DAMPING: f64 = 1.0e-4;
/// Damping beyond which no step helps any more.
const MOST_DAMPING: f64 = 1.0e4;
/// A step shorter than this share of the size is rounding.
const SETTLED: f64 = 1.0e-14;
/// Rounds of averaging that draw the net; points of a dozen faces settle in a hundred.
const AVERAGES: usize = 300;
/// Radius of the outermost face of the net, the sphere's equator being 1.
const OUTERMOST: f64 = 1.6;
/// Times the net on the sphere is shaken before a figure counts as not closing …
const SHAKES: u64 = 8;
/// … and by how much of the sphere's radius.
const SHAKE: f64 = 0.35;
/// A convex figure may be dented by this share of its size, and by this multiple of its worst corner.
const DENT: f64 = 1.0e-6;
const DENTS: f64 = 3.0;

/// Faces with their corners in the plane, and which corners are one point.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sewn<'a> {
    /// Corners of each face, counter-clockwise as seen from outside.
    pub(super) faces: &'a [Vec<[f64; 2]>],
    /// The point each corner is.
    pub(super) points: &'a [Vec<usize>],
    /// How many points there are.
    pub(super) count: usize,
}

/// A figure folded up.
#[derive(Debug, Clone)]
pub(super) struct Folded {
    /// Its points; nobody else needs them, as the solve finds its own.
    #[cfg(test)]
    pub(super) at: Vec<Point3<f64>>,
    /// How far each corner of each face lies from its point with the face laid on as well as it will, mm.
    pub(super) off: Vec<Vec<f64>>,
    /// Whether it is convex, to within how well it closes.
    pub(super) convex: bool,
}

/// Folds faces up, until no corner is off by more than `enough` mm or all starts have been tried; none where the faces
/// leave the figure without size.
pub(super) fn fold(sewn: Sewn<'_>, enough: f64) -> Option<Folded> {
    let starts: [&dyn Fn() -> Option<Vec<Point3<f64>>>; 2] = [&|| turned_up(sewn), &|| scaled(sewn)];
    let shaken = (0..=SHAKES).map(|k| on_sphere(sewn, k));
    let mut best: Option<(f64, Folded)> = None;
    for start in starts.into_iter().map(|start| start()).chain(shaken).flatten() {
        let folded = judged(sewn, adjusted(sewn, laid(sewn, start)));
        let squares: f64 = folded.off.iter().flatten().map(|d| d * d).sum();
        if !squares.is_finite() {
            continue;
        }
        let done = folded.convex && folded.off.iter().flatten().all(|d| *d <= enough);
        if best.as_ref().is_none_or(|(s, other)| (folded.convex, -squares) > (other.convex, -*s)) {
            best = Some((squares, folded));
        }
        if done {
            break;
        }
    }
    best.map(|(_, folded)| folded)
}

/// Where each face lies: its corners in space.
pub(super) fn lay(face: &[[f64; 2]], on: &[Point3<f64>]) -> Vec<Point3<f64>> {
    let n = face.len() as f64;
    let flat: Vec<Vector3<f64>> = face.iter().map(|p| Vector3::new(p[0], p[1], 0.0)).collect();
    let middle = flat.iter().sum::<Vector3<f64>>() / n;
    let there = on.iter().map(|p| p.coords).sum::<Vector3<f64>>() / n;
    // Kabsch 1976, with the turn proper.
    let h: Matrix3<f64> =
        flat.iter().zip(on).map(|(a, b)| (b.coords - there) * (a - middle).transpose()).sum();
    let svd = h.svd(true, true);
    let (Some(u), Some(vt)) = (svd.u, svd.v_t) else { return on.to_vec() };
    let sign = (u * vt).determinant().signum();
    // Singular values come in descending order; the last is 0 for a flat face.
    let turn = u * Matrix3::from_diagonal(&Vector3::new(1.0, 1.0, sign)) * vt;
    flat.iter().map(|a| Point3::from(turn * (a - middle) + there)).collect()
}

fn laid(sewn: Sewn<'_>, mut at: Vec<Point3<f64>>) -> Vec<Point3<f64>> {
    for _ in 0..LAYINGS {
        let mut sums = vec![(Vector3::zeros(), 0.0); sewn.count];
        for (face, points) in sewn.faces.iter().zip(sewn.points) {
            let on: Vec<Point3<f64>> = points.iter().map(|p| at[*p]).collect();
            for (p, q) in points.iter().zip(lay(face, &on)) {
                sums[*p].0 += q.coords;
                sums[*p].1 += 1.0;
            }
        }
        at = sums.into_iter().map(|(sum, n)| Point3::from(sum / n)).collect();
    }
    at
}

/// Gauss–Newton with damping on the distances between the corners of each face.
fn adjusted(sewn: Sewn<'_>, start: Vec<Point3<f64>>) -> Vec<Point3<f64>> {
    let mut legs = Vec::new();
    for (face, points) in sewn.faces.iter().zip(sewn.points) {
        for i in 0..face.len() {
            for k in i + 1..face.len() {
                let length = (face[i][0] - face[k][0]).hypot(face[i][1] - face[k][1]);
                legs.push((points[i], points[k], length));
            }
        }
    }
    let n = 3 * sewn.count;
    let squares = |at: &[Point3<f64>]| -> f64 {
        legs.iter().map(|&(a, b, l)| ((at[b] - at[a]).norm() - l).powi(2)).sum()
    };
    let (mut at, mut damping) = (start, DAMPING);
    let mut now = squares(&at);
    for _ in 0..STEPS {
        let mut normal = DMatrix::zeros(n, n);
        let mut right = DVector::zeros(n);
        for &(a, b, l) in &legs {
            let d = at[b] - at[a];
            let Some(along) = d.try_normalize(0.0) else { continue };
            let v = l - d.norm();
            let block = along * along.transpose();
            for (p, q, sign) in [(a, a, 1.0), (b, b, 1.0), (a, b, -1.0), (b, a, -1.0)] {
                let mut view = normal.fixed_view_mut::<3, 3>(3 * p, 3 * q);
                view += block * sign;
            }
            for i in 0..3 {
                right[3 * a + i] -= v * along[i];
                right[3 * b + i] += v * along[i];
            }
        }
        let scale = normal.diagonal().amax();
        let mut gained = None;
        while damping < MOST_DAMPING {
            let mut damped = normal.clone();
            for i in 0..n {
                damped[(i, i)] += damping * scale;
            }
            let step = damped.cholesky().map(|c| c.solve(&right));
            let next = step.map(|s| {
                let moved = at
                    .iter()
                    .enumerate()
                    .map(|(k, p)| p + Vector3::new(s[3 * k], s[3 * k + 1], s[3 * k + 2]));
                (moved.collect::<Vec<_>>(), s.amax())
            });
            if let Some((next, longest)) = next
                && squares(&next) < now
            {
                gained = Some(longest);
                now = squares(&next);
                at = next;
                damping *= 0.1;
                break;
            }
            damping *= 10.0;
        }
        match gained {
            Some(longest)
                if longest > SETTLED * (1.0 + at.iter().map(|p| p.coords.amax()).fold(0.0, f64::max)) => {}
            _ => break,
        }
    }
    at
}

fn judged(sewn: Sewn<'_>, mut at: Vec<Point3<f64>>) -> Folded {
    let middle = Point3::from(at.iter().map(|p| p.coords).sum::<Vector3<f64>>() / at.len().max(1) as f64);
    let normal = |points: &[usize], at: &[Point3<f64>]| -> Vector3<f64> {
        // Newell's normal, not unit.
        (0..points.len())
            .map(|k| (at[points[k]] - middle).cross(&(at[points[(k + 1) % points.len()]] - middle)))
            .sum()
    };
    // Distances do not tell a figure from its mirror image: faces must look outward.
    let outward: f64 = sewn.points.iter().map(|f| normal(f, &at).dot(&(at[f[0]] - middle))).sum();
    if outward < 0.0 {
        for p in &mut at {
            p.z = 2.0 * middle.z - p.z;
        }
    }
    let off: Vec<Vec<f64>> = sewn
        .faces
        .iter()
        .zip(sewn.points)
        .map(|(face, points)| {
            let on: Vec<Point3<f64>> = points.iter().map(|p| at[*p]).collect();
            lay(face, &on).iter().zip(&on).map(|(a, b)| (a - b).norm()).collect()
        })
        .collect();
    let size = at.iter().map(|p| (p - middle).norm()).fold(0.0, f64::max);
    let worst = off.iter().flatten().copied().fold(0.0, f64::max);
    let allowed = (DENT * size).max(DENTS * worst);
    let convex = sewn.points.iter().all(|points| {
        let Some(n) = normal(points, &at).try_normalize(0.0) else { return false };
        let on = points.iter().map(|p| at[*p].coords).sum::<Vector3<f64>>() / points.len() as f64;
        let highest = at.iter().map(|p| n.dot(&(p.coords - on))).fold(f64::NEG_INFINITY, f64::max);
        let lowest = at.iter().map(|p| n.dot(&(p.coords - on))).fold(f64::INFINITY, f64::min);
        highest <= allowed && lowest < -allowed
    });
    Folded {
        #[cfg(test)]
        at,
        off,
        convex,
    }
}

/// Interior angle of a face at a corner, radians.
pub(super) fn angle(face: &[[f64; 2]], k: usize) -> f64 {
    let n = face.len();
    let (a, b, c) = (face[(k + n - 1) % n], face[k], face[(k + 1) % n]);
    let (u, v) = ([a[0] - b[0], a[1] - b[1]], [c[0] - b[0], c[1] - b[1]]);
    (u[0] * v[1] - u[1] * v[0]).abs().atan2(u[0] * v[0] + u[1] * v[1])
}

/// Faces turned up one after the other about edges that end where three faces meet.
fn turned_up(sewn: Sewn<'_>) -> Option<Vec<Point3<f64>>> {
    // Corners at each point.
    let mut corners: Vec<Vec<(usize, usize)>> = vec![Vec::new(); sewn.count];
    for (f, points) in sewn.points.iter().enumerate() {
        for (k, p) in points.iter().enumerate() {
            corners[*p].push((f, k));
        }
    }
    // Inner angle between two faces at a point of three.
    let between = |p: usize, f: usize, g: usize| -> Option<f64> {
        let [x, y, z] = corners[p][..] else { return None };
        let of = |(f, k): (usize, usize)| angle(&sewn.faces[f], k);
        let third = [x, y, z].into_iter().find(|c| c.0 != f && c.0 != g)?;
        let own = |face: usize| [x, y, z].into_iter().find(|c| c.0 == face).map(of);
        let (a, b, c) = (own(f)?, own(g)?, of(third));
        let cos = (c.cos() - a.cos() * b.cos()) / (a.sin() * b.sin());
        (-1.0..=1.0).contains(&cos).then(|| cos.acos())
    };
    let mut placed: Vec<Option<Vec<Point3<f64>>>> = vec![None; sewn.faces.len()];
    placed[0] = Some(sewn.faces[0].iter().map(|p| Point3::new(p[0], p[1], 0.0)).collect());
    let mut waiting = VecDeque::from([0]);
    while let Some(f) = waiting.pop_front() {
        let Some(own) = placed[f].clone() else { continue };
        let count = own.len();
        let n = (own[1] - own[0]).cross(&(own[2] - own[1])).try_normalize(0.0)?;
        for k in 0..count {
            let (p, q) = (sewn.points[f][k], sewn.points[f][(k + 1) % count]);
            let neighbour = corners[q]
                .iter()
                .copied()
                .find(|&(g, j)| g != f && sewn.points[g][(j + 1) % sewn.points[g].len()] == p);
            let Some((g, j)) = neighbour.filter(|(g, _)| placed[*g].is_none()) else { continue };
            let both = [between(p, f, g), between(q, f, g)];
            let known: Vec<f64> = both.into_iter().flatten().collect();
            if known.is_empty() {
                continue;
            }
            let inner = known.iter().sum::<f64>() / known.len() as f64;
            let (a, b) = (own[k], own[(k + 1) % count]);
            let along = Unit::try_new(b - a, 0.0)?;
            // The neighbour lies flat beyond the edge, then folds down by what is missing to a straight angle.
            let down = Rotation3::from_axis_angle(&along, std::f64::consts::PI - inner);
            let face = &sewn.faces[g];
            let (from, to) = (face[j], face[(j + 1) % face.len()]);
            let d = [to[0] - from[0], to[1] - from[1]];
            let l = d[0].hypot(d[1]);
            let outward = along.cross(&n);
            let middle = nalgebra::center(&a, &b);
            let there = face.iter().map(|c| {
                let r = [c[0] - f64::midpoint(from[0], to[0]), c[1] - f64::midpoint(from[1], to[1])];
                // Along its own edge the neighbour runs the other way, and its inside lies to the left.
                let s = (r[0] * d[0] + r[1] * d[1]) / l;
                let t = (d[0] * r[1] - d[1] * r[0]) / l;
                middle + down * (outward * t - along.into_inner() * s)
            });
            placed[g] = Some(there.collect());
            waiting.push_back(g);
        }
    }
    let mut sums = vec![(Vector3::zeros(), 0.0); sewn.count];
    for (points, there) in sewn.points.iter().zip(placed) {
        for (p, q) in points.iter().zip(there?) {
            sums[*p].0 += q.coords;
            sums[*p].1 += 1.0;
        }
    }
    Some(sums.into_iter().map(|(sum, n)| Point3::from(sum / n)).collect())
}

/// Torgerson's coordinates of the distances along shortest ways over the faces.
fn scaled(sewn: Sewn<'_>) -> Option<Vec<Point3<f64>>> {
    let n = sewn.count;
    let mut ways = DMatrix::from_fn(n, n, |i, k| if i == k { 0.0 } else { f64::INFINITY });
    for (face, points) in sewn.faces.iter().zip(sewn.points) {
        for i in 0..face.len() {
            for k in 0..face.len() {
                let length = (face[i][0] - face[k][0]).hypot(face[i][1] - face[k][1]);
                ways[(points[i], points[k])] = length.min(ways[(points[i], points[k])]);
            }
        }
    }
    for m in 0..n {
        for i in 0..n {
            for k in 0..n {
                ways[(i, k)] = ways[(i, k)].min(ways[(i, m)] + ways[(m, k)]);
            }
        }
    }
    if ways.iter().any(|w| !w.is_finite()) {
        return None;
    }
    let squares = ways.map(|w| w * w);
    let centre = DMatrix::identity(n, n) - DMatrix::from_element(n, n, 1.0 / n as f64);
    let eigen = (&centre * squares * &centre * -0.5).symmetric_eigen();
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|a, b| eigen.eigenvalues[*b].total_cmp(&eigen.eigenvalues[*a]));
    let axes: Vec<DVector<f64>> = order
        .iter()
        .take(3)
        .map(|&k| eigen.eigenvectors.column(k) * eigen.eigenvalues[k].max(0.0).sqrt())
        .collect();
    let made: Vec<Point3<f64>> = (0..n).map(|p| Point3::new(axes[0][p], axes[1][p], axes[2][p])).collect();
    Some(handed(sewn, made))
}

/// The figure or its mirror image: the hand must be that of its faces, or laying them on would turn it inside out.
fn handed(sewn: Sewn<'_>, made: Vec<Point3<f64>>) -> Vec<Point3<f64>> {
    let outward: f64 = sewn
        .points
        .iter()
        .flat_map(|f| (0..f.len()).map(move |k| (f[0], f[k], f[(k + 1) % f.len()])))
        .map(|(a, b, c)| made[a].coords.dot(&made[b].coords.cross(&made[c].coords)))
        .sum();
    if outward < 0.0 { made.into_iter().map(|p| Point3::new(p.x, p.y, -p.z)).collect() } else { made }
}

/// The net of edges on a sphere: every point amid its neighbours, the face of most corners round the pole. Shaken by
/// seed `shake`, not at all for 0.
fn on_sphere(sewn: Sewn<'_>, shake: u64) -> Option<Vec<Point3<f64>>> {
    let outer = sewn.points.iter().max_by_key(|f| f.len())?;
    let mut at: Vec<Option<Point2<f64>>> = vec![None; sewn.count];
    for (k, p) in outer.iter().enumerate() {
        let (sin, cos) = (std::f64::consts::TAU * k as f64 / outer.len() as f64).sin_cos();
        at[*p] = Some(Point2::new(cos, -sin));
    }
    let held: Vec<bool> = at.iter().map(Option::is_some).collect();
    let mut drawn: Vec<Point2<f64>> = at.into_iter().map(Option::unwrap_or_default).collect();
    let mut around: Vec<Vec<usize>> = vec![Vec::new(); sewn.count];
    for face in sewn.points {
        for k in 0..face.len() {
            around[face[k]].push(face[(k + 1) % face.len()]);
        }
    }
    for _ in 0..AVERAGES {
        for p in (0..sewn.count).filter(|p| !held[*p]) {
            let sum: Vector2<f64> = around[p].iter().map(|q| drawn[*q].coords).sum();
            drawn[p] = Point2::from(sum / around[p].len().max(1) as f64);
        }
    }
    let mut random = ChaCha8Rng::seed_from_u64(shake);
    let mut off = || {
        let x: f64 = StandardNormal.sample(&mut random);
        if shake == 0 { 0.0 } else { x * SHAKE }
    };
    let round: Vec<Point3<f64>> = drawn
        .iter()
        .map(|p| {
            let p = p * OUTERMOST;
            let square = p.coords.norm_squared();
            let on = Vector3::new(2.0 * p.x, 2.0 * p.y, square - 1.0) / (square + 1.0);
            Point3::from(on + Vector3::new(off(), off(), off()))
        })
        .collect();
    // As large as its edges.
    let (mut wanted, mut found) = (0.0, 0.0);
    for (face, points) in sewn.faces.iter().zip(sewn.points) {
        for k in 0..face.len() {
            let next = (k + 1) % face.len();
            wanted += (face[next][0] - face[k][0]).hypot(face[next][1] - face[k][1]);
            found += (round[points[next]] - round[points[k]]).norm();
        }
    }
    Some(handed(sewn, round.into_iter().map(|p| p * (wanted / found)).collect()))
}
