//! Chambers made up for tests; built with `#[cfg(test)]` only.

use crate::mesh::Mesh;
use crate::random::Random;
use nalgebra::{Point3, Rotation3, Unit, Vector3};

/// Room between two height fields over a grid of squares: a floor and a ceiling of triangles, and four walls. Also as
/// tetrahedra, for a second method.
pub(crate) struct Cave {
    pub(crate) mesh: Mesh,
    pub(crate) tetrahedra: Vec<[u32; 4]>,
}

impl Cave {
    /// `floor` and `ceiling` tell heights at each corner of a grid of `count` squares by `count` of a width.
    pub(crate) fn new(
        count: usize,
        width: f64,
        floor: impl Fn(usize, usize) -> f64,
        ceiling: impl Fn(usize, usize) -> f64,
    ) -> Self {
        let n = count + 1;
        let mut mesh =
            Mesh { names: vec!["floor".into(), "ceiling".into(), "walls".into()], ..Mesh::default() };
        for top in [false, true] {
            for j in 0..n {
                for i in 0..n {
                    let z = if top { ceiling(i, j) } else { floor(i, j) };
                    mesh.points.push(Point3::new(i as f64 * width, j as f64 * width, z));
                }
            }
        }
        let low = |i: usize, j: usize| (j * n + i) as u32;
        let shift = (n * n) as u32;
        let mut tetrahedra = Vec::new();
        let mut add = |t: [u32; 3], part: u32| {
            mesh.triangles.push(t);
            mesh.part_of.push(part);
        };
        for j in 0..count {
            for i in 0..count {
                let square = [low(i, j), low(i + 1, j), low(i + 1, j + 1), low(i, j + 1)];
                for t in [[square[0], square[1], square[2]], [square[0], square[2], square[3]]] {
                    let [a, b, c] = t;
                    add([a, c, b], 0);
                    add(t.map(|k| k + shift), 1);
                    // A wedge in three, each over the corner that comes first.
                    let mut t = t;
                    t.sort_unstable();
                    let [a, b, c] = t;
                    tetrahedra.push([a, b, c, c + shift]);
                    tetrahedra.push([a, b, b + shift, c + shift]);
                    tetrahedra.push([a, a + shift, b + shift, c + shift]);
                }
            }
        }
        let mut wall = |a: u32, b: u32| {
            add([a, b, b + shift], 2);
            add([a, b + shift, a + shift], 2);
        };
        for k in 0..count {
            wall(low(k, 0), low(k + 1, 0));
            wall(low(count, k), low(count, k + 1));
            wall(low(k + 1, count), low(k, count));
            wall(low(0, k + 1), low(0, k));
        }
        Self { mesh, tetrahedra }
    }

    /// A rough one: knolls and hollows below, tips above that come near the floor.
    pub(crate) fn rough(random: &mut Random) -> Self {
        let count = 3 + random.pick(6);
        let (width, high) = (random.between(20.0, 60.0), random.between(60.0, 200.0));
        let n = count + 1;
        let heights: Vec<[f64; 2]> = (0..n * n)
            .map(|_| {
                let floor = random.between(0.0, high);
                // Often level with others, as sheets are.
                let floor = if random.pick(3) == 0 { (floor / 20.0).round() * 20.0 } else { floor };
                [floor, floor + random.between(5.0, high)]
            })
            .collect();
        Self::new(count, width, |i, j| heights[j * n + i][0], |i, j| heights[j * n + i][1])
    }
}

/// A direction at random.
pub(crate) fn direction(random: &mut Random) -> Unit<Vector3<f64>> {
    let (z, turn) = (random.between(-1.0, 1.0), random.between(0.0, std::f64::consts::TAU));
    let r = (1.0 - z * z).sqrt();
    Unit::new_normalize(Vector3::new(r * turn.cos(), r * turn.sin(), z))
}

/// A mesh turned and moved.
pub(crate) fn placed(mesh: &Mesh, turn: &Rotation3<f64>, by: Vector3<f64>) -> Mesh {
    let points = mesh.points.iter().map(|p| turn * p + by).collect();
    Mesh { points, ..mesh.clone() }
}

/// A ball of radius 1 as an icosahedron, each triangle divided in four `times` times.
pub(crate) fn ball(times: usize) -> Mesh {
    let g = f64::midpoint(1.0, 5.0_f64.sqrt());
    let mut points: Vec<Vector3<f64>> = Vec::new();
    for [a, b] in [[1.0, g], [-1.0, g], [1.0, -g], [-1.0, -g]] {
        points.extend([Vector3::new(0.0, a, b), Vector3::new(a, b, 0.0), Vector3::new(b, 0.0, a)]);
    }
    // Faces are the triples of corners that lie 2 apart.
    let near = |a: &Vector3<f64>, b: &Vector3<f64>| ((a - b).norm() - 2.0).abs() < 1e-9;
    let mut triangles: Vec<[u32; 3]> = Vec::new();
    for a in 0..12_u32 {
        for b in a + 1..12 {
            for c in b + 1..12 {
                let [p, q, r] = [a, b, c].map(|k| points[k as usize]);
                if near(&p, &q) && near(&q, &r) && near(&r, &p) {
                    let outward = (q - p).cross(&(r - p)).dot(&p) > 0.0;
                    triangles.push(if outward { [a, b, c] } else { [a, c, b] });
                }
            }
        }
    }
    points.iter_mut().for_each(|p| *p = p.normalize());
    for _ in 0..times {
        let mut middles = std::collections::BTreeMap::new();
        let mut finer = Vec::new();
        for &[a, b, c] in &triangles {
            let mut middle = |a: u32, b: u32| {
                *middles.entry([a.min(b), a.max(b)]).or_insert_with(|| {
                    points.push((points[a as usize] + points[b as usize]).normalize());
                    points.len() as u32 - 1
                })
            };
            let (ab, bc, ca) = (middle(a, b), middle(b, c), middle(c, a));
            finer.extend([[a, ab, ca], [b, bc, ab], [c, ca, bc], [ab, bc, ca]]);
        }
        triangles = finer;
    }
    Mesh {
        part_of: vec![0; triangles.len()],
        points: points.into_iter().map(Point3::from).collect(),
        triangles,
        names: vec!["ball".into()],
    }
}
