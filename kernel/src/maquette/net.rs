//! The points of one part of a maquette that hangs together, and what their coordinates are asked to be.
//!
//! Unknown 3 p + i is coordinate i of point p, mm. Observations are l + v = f(x), linear about x.

use super::flat::{Flat, at, least, middle};
use super::readings::Readings;
use crate::adjust::{Adjustment, Datum, Observation, adjust, cholesky, normal};
use crate::error::Result;
use nalgebra::{DMatrix, DVector, Matrix3, Vector3};

/// What an observation was made from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum From {
    /// Index into [`Readings::distances`].
    Distance(usize),
    /// Index into [`Readings::heights`].
    Height(usize),
    /// Index into [`Readings::angles`].
    Angle(usize),
    /// A face is flat.
    Flat,
}

/// A distance, by points of the net.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Leg {
    pub(super) ends: [usize; 2],
    pub(super) length: f64,
    pub(super) deviation: f64,
    pub(super) from: From,
}

#[derive(Debug, Clone, Copy)]
pub(super) struct Level {
    pub(super) point: usize,
    height: f64,
    pub(super) deviation: f64,
    from: From,
}

#[derive(Debug, Clone, Copy)]
pub(super) struct Corner {
    at: usize,
    to: [usize; 2],
    angle: f64,
    deviation: f64,
    from: From,
}

/// Points that hang together by readings, numbered anew from 0.
#[derive(Debug, Clone)]
pub(super) struct Net {
    /// The index of each point among all.
    pub(super) points: Vec<usize>,
    pub(super) legs: Vec<Leg>,
    pub(super) heights: Vec<Level>,
    angles: Vec<Corner>,
    /// Corners of each face with at least three.
    pub(super) faces: Vec<Vec<usize>>,
    /// The index of each face among all.
    pub(super) face_index: Vec<usize>,
    /// Standard deviation of a corner from the plane of its face, mm.
    pub(super) flat: f64,
    /// The longest distance, mm.
    pub(super) size: f64,
}

/// A sine below this makes an angle all but straight: its rate is taken as if it were this.
const LEAST_SINE: f64 = 1.0e-3;

impl Net {
    /// The nets of a maquette, by their first points.
    pub(super) fn all(readings: &Readings, flat: f64) -> Vec<Self> {
        let mut root: Vec<usize> = (0..readings.points.len()).collect();
        let join = |root: &mut Vec<usize>, points: &[usize]| {
            for pair in points.windows(2) {
                let (a, b) = (root_of(root, pair[0]), root_of(root, pair[1]));
                root[a.max(b)] = a.min(b);
            }
        };
        for d in &readings.distances {
            join(&mut root, &d.between);
        }
        for a in &readings.angles {
            join(&mut root, &[a.at, a.to[0], a.to[1]]);
        }
        for face in &readings.faces {
            join(&mut root, &face.corners);
        }
        let roots: Vec<usize> = (0..root.len()).map(|p| root_of(&mut root, p)).collect();
        (0..root.len())
            .filter(|&p| roots[p] == p)
            .map(|p| {
                let points: Vec<usize> = (0..root.len()).filter(|&q| roots[q] == p).collect();
                Self::of(readings, flat, points)
            })
            .collect()
    }

    fn of(readings: &Readings, flat: f64, points: Vec<usize>) -> Self {
        let mut place = vec![None; readings.points.len()];
        for (k, &p) in points.iter().enumerate() {
            place[p] = Some(k);
        }
        let pair = |of: [usize; 2]| Some([place[of[0]]?, place[of[1]]?]);
        let legs: Vec<Leg> = readings
            .distances
            .iter()
            .enumerate()
            .filter_map(|(k, d)| {
                let (length, deviation) = (d.length, d.deviation);
                Some(Leg { ends: pair(d.between)?, length, deviation, from: From::Distance(k) })
            })
            .collect();
        let heights = readings.heights.iter().enumerate().filter_map(|(k, h)| {
            let (height, deviation) = (h.height, h.deviation);
            Some(Level { point: place[h.point]?, height, deviation, from: From::Height(k) })
        });
        let angles = readings.angles.iter().enumerate().filter_map(|(k, a)| {
            let (angle, deviation) = (a.angle, a.deviation);
            Some(Corner { at: place[a.at]?, to: pair(a.to)?, angle, deviation, from: From::Angle(k) })
        });
        let faces: (Vec<usize>, Vec<Vec<usize>>) = readings
            .faces
            .iter()
            .enumerate()
            .filter_map(|(k, face)| {
                let corners = face.corners.iter().map(|&p| place[p]).collect::<Option<Vec<usize>>>()?;
                (corners.len() >= 3).then_some((k, corners))
            })
            .unzip();
        Self {
            heights: heights.collect(),
            angles: angles.collect(),
            face_index: faces.0,
            faces: faces.1,
            size: legs.iter().map(|l| l.length).fold(0.0, f64::max),
            points,
            legs,
            flat,
        }
    }

    pub(super) fn count(&self) -> usize {
        self.points.len()
    }

    /// The net of some of its points, with these distances instead of its readings, and what is left of its faces.
    pub(super) fn of_points(&self, points: &[usize], legs: &[Leg]) -> Self {
        let mut place = vec![None; self.count()];
        for (k, &p) in points.iter().enumerate() {
            place[p] = Some(k);
        }
        let legs =
            legs.iter().filter_map(|l| Some(Leg { ends: [place[l.ends[0]]?, place[l.ends[1]]?], ..*l }));
        let faces = self.faces.iter().map(|f| f.iter().filter_map(|&p| place[p]).collect());
        Self {
            points: points.iter().map(|&p| self.points[p]).collect(),
            legs: legs.collect(),
            heights: Vec::new(),
            angles: Vec::new(),
            faces: faces.collect(),
            face_index: self.face_index.clone(),
            flat: self.flat,
            size: self.size,
        }
    }

    /// Distances, and those that angles between measured distances say (law of cosines), with their deviations.
    pub(super) fn spans(&self) -> Vec<Leg> {
        let mut all = self.legs.clone();
        let known = |a: usize, b: usize| self.legs.iter().find(|l| l.ends == [a, b] || l.ends == [b, a]);
        for c in &self.angles {
            if let (Some(a), Some(b)) = (known(c.at, c.to[0]), known(c.at, c.to[1])) {
                let (u, v) = (a.length, b.length);
                let length = (u * u + v * v - 2.0 * u * v * c.angle.cos()).max(0.0).sqrt();
                let turn = u * v * c.angle.sin() / length.max(u.min(v)) * c.deviation;
                let deviation = (turn * turn + a.deviation.powi(2) + b.deviation.powi(2)).sqrt();
                all.push(Leg { ends: c.to, length, deviation, from: From::Flat });
            }
        }
        all
    }

    /// The standard deviation of an observation.
    pub(super) fn deviation(&self, of: From) -> f64 {
        let legs = self.legs.iter().map(|l| (l.from, l.deviation));
        let heights = self.heights.iter().map(|h| (h.from, h.deviation));
        let angles = self.angles.iter().map(|c| (c.from, c.deviation));
        let mut all = legs.chain(heights).chain(angles);
        all.find(|(from, _)| *from == of && of != From::Flat).map_or(self.flat, |(_, deviation)| deviation)
    }

    /// Pairs of points that some reading ties together.
    pub(super) fn ties(&self) -> Vec<[usize; 2]> {
        let angles = self.angles.iter().flat_map(|c| [[c.at, c.to[0]], [c.at, c.to[1]], c.to]);
        self.legs.iter().map(|l| l.ends).chain(angles).collect()
    }

    /// The observations at x but for those set aside, with what each was made from. `flat` is the standard
    /// deviation of a corner from its plane.
    pub(super) fn observations(
        &self,
        x: &DVector<f64>,
        flat: f64,
        aside: &[From],
    ) -> (Vec<Observation>, Vec<From>) {
        let mut all = Vec::with_capacity(self.legs.len() + self.heights.len() + 2 * self.faces.len());
        let mut from = Vec::with_capacity(all.capacity());
        let mut add = |terms: Vec<(usize, f64)>, value: f64, deviation: f64, of: From| {
            if of == From::Flat || !aside.contains(&of) {
                all.push(Observation { terms, value, deviation });
                from.push(of);
            }
        };
        for leg in &self.legs {
            let [a, b] = leg.ends;
            let (unit, length) = direction(x, a, b);
            let terms = (0..3).flat_map(|i| [(3 * a + i, -unit[i]), (3 * b + i, unit[i])]).collect();
            add(terms, leg.length - length, leg.deviation, leg.from);
        }
        for h in &self.heights {
            add(vec![(3 * h.point + 2, 1.0)], h.height - x[3 * h.point + 2], h.deviation, h.from);
        }
        for c in &self.angles {
            let ((u, a), (v, b)) = (direction(x, c.at, c.to[0]), direction(x, c.at, c.to[1]));
            let cosine = u.dot(&v).clamp(-1.0, 1.0);
            let sine = u.cross(&v).norm();
            // The end of a leg turns the angle by its move square to the leg, away from the other leg.
            let to_first = (u * cosine - v) / (sine.max(LEAST_SINE) * a);
            let to_second = (v * cosine - u) / (sine.max(LEAST_SINE) * b);
            let mut terms = Vec::with_capacity(9);
            for i in 0..3 {
                terms.push((3 * c.to[0] + i, to_first[i]));
                terms.push((3 * c.to[1] + i, to_second[i]));
                terms.push((3 * c.at + i, -to_first[i] - to_second[i]));
            }
            add(terms, c.angle - sine.atan2(cosine), c.deviation, c.from);
        }
        for face in self.faces.iter().filter(|f| f.len() > 3) {
            for row in Flat::one(face).rows(x) {
                add(row.terms, -row.off, flat, From::Flat);
            }
        }
        (all, from)
    }

    /// What holds the net at x: the moves of the whole that no height notices (all six without heights).
    pub(super) fn datum(&self, x: &DVector<f64>, aside: &[From]) -> Datum {
        let moves = moves(x);
        let mut felt = DMatrix::<f64>::zeros(6, 6);
        for h in self.heights.iter().filter(|h| !aside.contains(&h.from)) {
            let row = moves.row(3 * h.point + 2);
            felt += row.transpose() * row;
        }
        let eigen = felt.symmetric_eigen();
        let free: Vec<DVector<f64>> = (0..6)
            .filter(|&k| eigen.eigenvalues[k] <= UNFELT)
            .map(|k| eigen.eigenvectors.column(k).into_owned())
            .collect();
        if free.is_empty() { Datum::Observed } else { Datum::Inner(&moves * DMatrix::from_columns(&free)) }
    }

    /// Whether heights alone say which way is up: three of them not in line.
    pub(super) fn is_level(&self, x: &DVector<f64>, aside: &[From]) -> bool {
        matches!(self.datum(x, aside), Datum::Inner(free) if free.ncols() <= 3)
    }

    /// Turns and lifts x so that its heights come near those read.
    pub(super) fn raised(&self, x: &DVector<f64>) -> DVector<f64> {
        if self.heights.len() < 2 {
            let lift = self.heights.first().map_or(0.0, |h| h.height - x[3 * h.point + 2]);
            return moved(x, &Matrix3::identity(), Vector3::z() * lift);
        }
        let points: Vec<usize> = self.heights.iter().map(|h| h.point).collect();
        let middle = middle(x, &points);
        #[allow(clippy::cast_precision_loss, reason = "a count of readings")]
        let mean = self.heights.iter().map(|h| h.height).sum::<f64>() / points.len() as f64;
        let mut spread = Matrix3::<f64>::zeros();
        let mut slope = Vector3::zeros();
        for h in &self.heights {
            let d = at(x, h.point) - middle;
            spread += d * d.transpose();
            slope += d * (h.height - mean);
        }
        let eigen = spread.symmetric_eigen();
        let most = eigen.eigenvalues.amax();
        // The gradient within the span of the points, then as much beside it as makes it a unit.
        let mut up = Vector3::zeros();
        for k in 0..3 {
            if eigen.eigenvalues[k] > SPAN * most {
                let axis = eigen.eigenvectors.column(k);
                up += axis * (axis.dot(&slope) / eigen.eigenvalues[k]);
            }
        }
        let beside = eigen.eigenvectors.column(eigen.eigenvalues.imin()).into_owned();
        // On the side it is on.
        let beside = if beside.z < 0.0 { -beside } else { beside };
        let lacking = 1.0 - up.norm_squared();
        if lacking > 0.0 {
            up += beside * lacking.sqrt();
        }
        let turn = turn_to_up(&up);
        let lift = mean - (turn * middle).z;
        moved(x, &turn, Vector3::z() * lift)
    }
}

/// The share of a turn or shift that heights must feel to hold it.
const UNFELT: f64 = 1.0e-8;
/// Points whose spread across is below this share of that along lie in line.
const SPAN: f64 = 1.0e-4;

/// The rotation that brings a direction to +z.
pub(super) fn turn_to_up(up: &Vector3<f64>) -> Matrix3<f64> {
    let z = up.try_normalize(0.0).unwrap_or_else(Vector3::z);
    let [x, y] = super::flat::across(&z);
    Matrix3::from_rows(&[x.transpose(), y.transpose(), z.transpose()])
}

/// Turned, then shifted.
pub(super) fn moved(x: &DVector<f64>, turn: &Matrix3<f64>, shift: Vector3<f64>) -> DVector<f64> {
    let mut y = x.clone();
    for p in 0..x.len() / 3 {
        y.fixed_rows_mut::<3>(3 * p).copy_from(&(turn * at(x, p) + shift));
    }
    y
}

/// Unit vector from a to b, and the distance; where they coincide, some vector and hardly any distance.
fn direction(x: &DVector<f64>, a: usize, b: usize) -> (Vector3<f64>, f64) {
    let d = at(x, b) - at(x, a);
    let length = d.norm();
    if length > 0.0 { (d / length, length) } else { (Vector3::x(), f64::MIN_POSITIVE) }
}

fn root_of(root: &mut [usize], mut p: usize) -> usize {
    while root[p] != p {
        root[p] = root[root[p]];
        p = root[p];
    }
    p
}

/// Shifts and turns of the whole about its middle, the turns scaled to the size: 3 n × 6.
pub(super) fn moves(x: &DVector<f64>) -> DMatrix<f64> {
    let count = x.len() / 3;
    let all: Vec<usize> = (0..count).collect();
    let middle = middle(x, &all);
    let size = all.iter().map(|&p| (at(x, p) - middle).norm()).fold(0.0, f64::max).max(f64::MIN_POSITIVE);
    let mut moves = DMatrix::zeros(x.len(), 6);
    for p in all {
        let d = (at(x, p) - middle) / size;
        for i in 0..3 {
            moves[(3 * p + i, i)] = 1.0;
            let turn = Vector3::ith(i, 1.0).cross(&d);
            moves.fixed_view_mut::<3, 1>(3 * p, 3 + i).copy_from(&turn);
        }
    }
    moves
}

/// How the points of x spread: the share of the least to the greatest extent; 0 in one plane.
pub(super) fn thickness(x: &DVector<f64>) -> f64 {
    let all: Vec<usize> = (0..x.len() / 3).collect();
    let middle = middle(x, &all);
    let spread: Matrix3<f64> =
        all.iter().map(|&p| (at(x, p) - middle) * (at(x, p) - middle).transpose()).sum();
    let n = least(&spread);
    let out = all.iter().map(|&p| n.dot(&(at(x, p) - middle)).abs()).fold(0.0, f64::max);
    let most = all.iter().map(|&p| (at(x, p) - middle).norm()).fold(0.0, f64::max);
    if most > 0.0 { out / most } else { 0.0 }
}

/// Damping at the start of a descent, as a share of the diagonal, and its least.
const DAMPING: [f64; 2] = [1.0e-3, 1.0e-10];
/// Damping beyond this: no step helps.
const STUCK: f64 = 1.0e8;
/// A step that takes off less than this share ends a descent.
const GAINED: f64 = 1.0e-9;

/// Levenberg–Marquardt: steps from x until Σ (v/σ)² hardly falls, at most so many. Gives it too.
///
/// Method: K. Levenberg, 1944; D. W. Marquardt, 1963, both from memory.
pub(super) fn descend(
    x: DVector<f64>,
    observe: impl Fn(&DVector<f64>) -> Vec<Observation>,
    most: usize,
) -> (DVector<f64>, f64) {
    let squares = |o: &[Observation]| -> f64 { o.iter().map(|o| (o.value / o.deviation).powi(2)).sum() };
    let mut x = x;
    let mut observed = observe(&x);
    let mut value = squares(&observed);
    let mut damping = DAMPING[0];
    for _ in 0..most {
        let (normal, right) = normal(x.len(), &observed);
        let before = value;
        let floor = normal.diagonal().amax() * DAMPING[1];
        loop {
            let mut damped = normal.clone();
            for k in 0..x.len() {
                damped[(k, k)] += damping * normal[(k, k)] + floor;
            }
            let step = cholesky(damped).map(|c| c.solve(&right));
            if let Some(step) = step {
                let next = &x + step;
                let there = observe(&next);
                let then = squares(&there);
                if then < value {
                    (x, observed, value) = (next, there, then);
                    damping = (damping * 0.2).max(DAMPING[1]);
                    break;
                }
            }
            damping *= 6.0;
            if damping > STUCK {
                return (x, value);
            }
        }
        if before - value <= GAINED * before {
            break;
        }
    }
    (x, value)
}

/// Steps of the last descent.
const LAST_STEPS: usize = 200;
/// Full steps after it; the first few reach rounding.
const POLISHING: usize = 12;
/// Corrections below this share of their standard deviations change nothing.
const SETTLED: f64 = 1.0e-10;

/// Settles x with the stated deviations, all readings but those set aside; gives the adjustment there.
///
/// Far from flat faces and with large misreadings full steps may run to and fro, so that damped ones go first.
///
/// # Errors
/// Points that the readings do not determine.
pub(super) fn settled(net: &Net, x: DVector<f64>, aside: &[From]) -> Result<(DVector<f64>, Adjustment)> {
    let observe = |x: &DVector<f64>| net.observations(x, net.flat, aside).0;
    let squares = |o: &[Observation]| -> f64 { o.iter().map(|o| (o.value / o.deviation).powi(2)).sum() };
    let (mut x, _) = descend(x, observe, LAST_STEPS);
    let mut observed = observe(&x);
    let mut found = adjust(x.len(), &observed, &net.datum(&x, aside))?;
    for _ in 0..POLISHING {
        if (0..x.len()).all(|k| found.unknowns[k].abs() <= SETTLED * found.deviation(k)) {
            break;
        }
        let next = &x + &found.unknowns;
        let there = observe(&next);
        if squares(&there) > squares(&observed) * (1.0 + GAINED) + f64::MIN_POSITIVE {
            break;
        }
        (x, observed) = (next, there);
        found = adjust(x.len(), &observed, &net.datum(&x, aside))?;
    }
    // Residuals and their sum at x itself, not where the last correction would lead.
    found.residuals = observed.iter().map(|o| -o.value).collect();
    found.weighted_squares = squares(&observed);
    Ok((x, found))
}
