//! Made-up maquettes whose corners are known: convex elements that share corners, stand apart, or alone.

use crate::Random;
use nalgebra::{Matrix2, Matrix3, Point3, Rotation3, Vector3};
use ribwright_kernel::maquette::{Distance, Face, Height, Readings, Solved, Source};

/// A maquette and what one would read on it without any error.
#[derive(Debug, Clone)]
pub struct TrueMaquette {
    /// Its corners, mm; z is the height above the table.
    pub points: Vec<Point3<f64>>,
    /// What is measured, exact.
    pub readings: Readings,
}

/// An element while it is made up: its faces by corners, counter-clockwise from outside, and its planes.
struct Made {
    faces: Vec<(String, Vec<usize>)>,
    /// The top face: its corners in order, and its plane.
    top: Option<(Vec<usize>, Plane)>,
}

type Plane = (Vector3<f64>, f64);

fn meet(a: Plane, b: Plane, c: Plane) -> Point3<f64> {
    let rows = Matrix3::from_rows(&[a.0.transpose(), b.0.transpose(), c.0.transpose()]);
    let at = rows.try_inverse().expect("planes that meet") * Vector3::new(a.1, b.1, c.1);
    Point3::from(at)
}

/// A prism-like solid of 3 or 4 tilted sides, on a ring of corners and their plane if there is one below.
fn prism(random: &mut Random, points: &mut Vec<Point3<f64>>, on: Option<(Vec<usize>, Plane)>) -> Made {
    let (ring, foot, sides) = match on {
        Some((ring, plane)) => {
            let n = ring.len();
            let sides: Vec<Plane> = (0..n)
                .map(|k| {
                    let (a, b) = (points[ring[k]], points[ring[(k + 1) % n]]);
                    let out = (b - a).cross(&plane.0).normalize();
                    let tilt = random.between(-0.18, 0.12);
                    let normal = out * tilt.cos() - plane.0 * tilt.sin();
                    (normal, normal.dot(&a.coords))
                })
                .collect();
            (ring, plane, sides)
        }
        None => {
            let n = random.one(&[3, 4, 4]);
            let sides: Vec<Plane> = (0..n)
                .map(|k| {
                    let jitter = random.between(-0.2, 0.2);
                    let angle = std::f64::consts::TAU * k as f64 / n as f64 + jitter;
                    let up = random.between(-0.15, 0.25);
                    let normal = Vector3::new(angle.cos(), angle.sin(), up).normalize();
                    (normal, random.between(50.0, 110.0))
                })
                .collect();
            let tilt = Vector3::new(random.between(-0.1, 0.1), random.between(-0.1, 0.1), 1.0).normalize();
            let foot = (tilt, 0.0);
            let ring: Vec<usize> = (0..n)
                .map(|k| {
                    points.push(meet(sides[k], sides[(k + 1) % n], foot));
                    points.len() - 1
                })
                .collect();
            // Corner k lies between sides k and k + 1: side k + 1 runs from corner k to corner k + 1.
            let sides = (0..n).map(|k| sides[(k + 1) % n]).collect();
            (ring, foot, sides)
        }
    };
    let n = ring.len();
    let tilt = foot.0 + Vector3::new(random.between(-0.15, 0.15), random.between(-0.15, 0.15), 0.0);
    let normal = tilt.normalize();
    let middle = ring.iter().map(|&p| points[p].coords).sum::<Vector3<f64>>() / n as f64;
    let top = (normal, normal.dot(&(middle + foot.0 * random.between(90.0, 190.0))));
    let upper: Vec<usize> = (0..n)
        .map(|k| {
            // Above corner k: sides that end and begin there.
            points.push(meet(sides[(k + n - 1) % n], sides[k], top));
            points.len() - 1
        })
        .collect();
    let mut faces: Vec<(String, Vec<usize>)> = (0..n)
        .map(|k| {
            let next = (k + 1) % n;
            (format!("side{}", k + 1), vec![ring[k], ring[next], upper[next], upper[k]])
        })
        .collect();
    faces.push(("top".to_owned(), upper.clone()));
    faces.push(("bottom".to_owned(), ring.iter().rev().copied().collect()));
    Made { faces, top: Some((upper, top)) }
}

/// A pyramid of 3 or 4 sides, on a ring of corners if there is one below.
fn pyramid(random: &mut Random, points: &mut Vec<Point3<f64>>, on: Option<(Vec<usize>, Plane)>) -> Made {
    let made = prism(random, points, on);
    let Some((upper, _)) = made.top else { return made };
    // The top shrinks to a point.
    let n = upper.len();
    let apex = upper.iter().map(|&p| points[p].coords).sum::<Vector3<f64>>() / n as f64;
    points.truncate(upper[0]);
    points.push(Point3::from(apex + random.direction() * random.between(0.0, 15.0)));
    let faces = made
        .faces
        .into_iter()
        .filter(|(label, _)| label != "top")
        .map(|(label, corners)| {
            let mut corners: Vec<usize> = corners.into_iter().map(|p| p.min(upper[0])).collect();
            corners.dedup();
            (label, corners)
        })
        .collect();
    Made { faces, top: None }
}

/// A maquette of one to three elements. `heights` also reads four or more heights.
pub fn made_up_maquette(random: &mut Random, heights: bool) -> TrueMaquette {
    let mut points: Vec<Point3<f64>> = Vec::new();
    let mut readings = Readings::default();
    let mut below: Option<(Vec<usize>, Plane)> = None;
    let mut pairs: Vec<[usize; 2]> = Vec::new();
    let count = random.one(&[1, 1, 2, 2, 3]);
    let mut before = 0;
    for k in 0..count {
        let on = below.take();
        let stacked = on.is_some();
        let first = points.len();
        let last = k + 1 == count;
        let made = if last && random.percent(35) {
            pyramid(random, &mut points, on)
        } else {
            prism(random, &mut points, on)
        };
        if k > 0 && !stacked {
            // Beside the others, tied to them by distances.
            let shift =
                Vector3::new(random.between(260.0, 330.0) * k as f64, random.between(-80.0, 80.0), 0.0);
            for p in &mut points[first..] {
                *p += shift;
            }
            let mut ties = Vec::new();
            while ties.len() < 9 {
                let pair =
                    [random.below(first - before) + before, first + random.below(points.len() - first)];
                if !ties.contains(&pair) {
                    ties.push(pair);
                }
            }
            pairs.extend(ties);
        }
        before = first.min(before.max(if stacked { before } else { first }));
        let element = ["A", "B", "C"][k].to_owned();
        for (label, corners) in &made.faces {
            for i in 0..corners.len() {
                for j in 0..i {
                    pairs.push([corners[j].min(corners[i]), corners[j].max(corners[i])]);
                }
            }
            readings.faces.push(Face {
                element: element.clone(),
                label: label.clone(),
                corners: corners.clone(),
                ribs: None,
                source: Source::default(),
            });
        }
        let side = &made.faces[0].1;
        readings.outside.push([side[0], side[1], side[2]]);
        if let Some(top) = made.top.filter(|_| random.percent(60)) {
            below = Some(top);
        }
    }
    for _ in 0..random.below(3) {
        let pair = [random.below(points.len()), random.below(points.len())];
        if pair[0] != pair[1] {
            pairs.push([pair[0].min(pair[1]), pair[0].max(pair[1])]);
        }
    }
    pairs.sort_unstable();
    pairs.dedup();
    // Any way round, standing on its lowest corner.
    let turn = Rotation3::from_scaled_axis(random.direction() * random.between(0.0, 0.5));
    let mut points: Vec<Point3<f64>> = points.iter().map(|p| turn * p).collect();
    let low = points.iter().map(|p| p.z).fold(f64::INFINITY, f64::min);
    points.iter_mut().for_each(|p| p.z -= low);
    readings.points = (1..=points.len()).map(|k| format!("P{k}")).collect();
    readings.distances = pairs
        .into_iter()
        .map(|between| Distance { between, length: 0.0, deviation: 0.3, source: Source::default() })
        .collect();
    if heights {
        let every = 1 + points.len() / 5;
        let of = (0..points.len()).step_by(every);
        readings.heights = of
            .map(|point| Height { point, height: 0.0, deviation: 0.5, source: Source::default() })
            .collect();
    }
    let mut made = TrueMaquette { points, readings };
    made.read();
    made
}

impl TrueMaquette {
    /// Sets all readings to what the points say.
    pub fn read(&mut self) {
        for d in &mut self.readings.distances {
            d.length = (self.points[d.between[0]] - self.points[d.between[1]]).norm();
        }
        for h in &mut self.readings.heights {
            h.height = self.points[h.point].z;
        }
    }

    /// Moves every corner by a normal error of this standard deviation along each axis: hand-made faces are not flat.
    pub fn bend(&mut self, random: &mut Random, deviation: f64) {
        for p in &mut self.points {
            *p += Vector3::new(random.normal(), random.normal(), random.normal()) * deviation;
        }
        self.read();
    }

    /// The readings as a scale of this step shows them, with the deviation that rounding makes.
    pub fn rounded(&self, step: f64) -> Readings {
        let mut readings = self.readings.clone();
        let deviation = step / 12.0_f64.sqrt();
        for d in &mut readings.distances {
            (d.length, d.deviation) = ((d.length / step).round() * step, deviation);
        }
        for h in &mut readings.heights {
            (h.height, h.deviation) = ((h.height / step).round() * step, deviation);
        }
        readings
    }

    /// The true corners laid over solved ones of one part, by least squares in the moves the part is free in: shifts
    /// across and turns about the vertical where it is level, else all six.
    pub fn laid_over(&self, solved: &Solved, part: usize) -> Vec<(usize, Vector3<f64>)> {
        let of = &solved.parts[part].points;
        let n = of.len() as f64;
        let truth: Vec<Vector3<f64>> = of.iter().map(|&p| self.points[p].coords).collect();
        let found: Vec<Vector3<f64>> = of.iter().map(|&p| solved.points[p].at.coords).collect();
        let (from, to) = (truth.iter().sum::<Vector3<f64>>() / n, found.iter().sum::<Vector3<f64>>() / n);
        let mut cross = Matrix3::<f64>::zeros();
        for (t, f) in truth.iter().zip(&found) {
            cross += (f - to) * (t - from).transpose();
        }
        let level = solved.parts[part].level;
        let turn = if level {
            let flat = Matrix2::new(cross[(0, 0)], cross[(0, 1)], cross[(1, 0)], cross[(1, 1)]);
            let angle = (flat[(1, 0)] - flat[(0, 1)]).atan2(flat[(0, 0)] + flat[(1, 1)]);
            Rotation3::from_axis_angle(&Vector3::z_axis(), angle).into_inner()
        } else {
            // W. Kabsch, "A solution for the best rotation to relate two sets of vectors", 1976.
            let svd = cross.svd(true, true);
            let (u, v) = (svd.u.expect("asked for"), svd.v_t.expect("asked for"));
            let sign = (u * v).determinant().signum();
            u * Matrix3::from_diagonal(&Vector3::new(1.0, 1.0, sign)) * v
        };
        of.iter()
            .zip(truth.iter().zip(&found))
            .map(|(&p, (t, f))| {
                let mut moved = turn * (t - from) + to;
                if level {
                    moved.z = t.z;
                }
                (p, f - moved)
            })
            .collect()
    }
}
