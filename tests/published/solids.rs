//! Bodies: volumes, surfaces and inertias of polyhedra.

use crate::row::{Page, Seen};
use nalgebra::{Point3, Vector3};
use ribwright_kernel::element::Solid;

type V = Vector3<f64>;

/// Length of an edge, mm.
const EDGE: f64 = 1000.0;

/// All changes of sign of a vector, and its turns round the axes if asked for.
fn signs(of: [f64; 3], turns: bool) -> Vec<V> {
    let mut found: Vec<V> = Vec::new();
    for turn in 0..if turns { 3 } else { 1 } {
        for mask in 0..8 {
            let v = V::from_fn(|i, _| of[(i + turn) % 3] * if mask >> i & 1 == 1 { -1.0 } else { 1.0 });
            if found.iter().all(|w| (w - v).norm() > SAME) {
                found.push(v);
            }
        }
    }
    found
}

/// Vectors nearer than this are the same.
const SAME: f64 = 1.0e-9;

/// A solid whose faces all touch a sphere.
fn touching(normals: &[V], radius: f64) -> Solid {
    let face = |(k, n): (usize, &V)| {
        let n = n.normalize();
        (format!("f{k}"), Point3::from(n * radius), n)
    };
    Solid::from_planes("P", normals.iter().enumerate().map(face).collect()).expect("a closed solid")
}

pub(crate) fn pages() -> Vec<Page> {
    let phi = (1.0 + 5.0_f64.sqrt()) / 2.0;
    let tetra =
        [V::new(1.0, 1.0, 1.0), V::new(1.0, -1.0, -1.0), V::new(-1.0, 1.0, -1.0), V::new(-1.0, -1.0, 1.0)];
    let mut dodeca = signs([0.0, 1.0, phi], true);
    dodeca.dedup();
    let mut icosa = signs([1.0, 1.0, 1.0], false);
    icosa.extend(signs([0.0, phi, 1.0 / phi], true));
    let mut triaconta = signs([1.0, 0.0, 0.0], true);
    triaconta.extend(signs([0.5, phi / 2.0, (phi - 1.0) / 2.0], true));
    let solids = [
        ("tetrahedron", tetra.to_vec(), 0.204_124_145_231_931_5, "0.1178511", "1.7320508"),
        ("cube", signs([1.0, 0.0, 0.0], true), 0.5, "1.0000000", "6.0000000"),
        ("octahedron", signs([1.0, 1.0, 1.0], false), 0.408_248_290_463_863, "0.4714045", "3.4641016"),
        ("dodecahedron", dodeca, 1.113_516_364_411_606_7, "7.6631190", "20.6457288"),
        ("icosahedron", icosa, 0.755_761_314_076_170_7, "2.1816950", "8.6602540"),
    ];
    let topic = "Polyhedra";
    let mut platonic = Page::new(topic, "Public tables of the five regular solids, edge 1", Seen::Confirmed);
    for (name, normals, radius, volume, surface) in solids {
        let solid = touching(&normals, radius * EDGE);
        platonic.row(format!("{name}: volume"), volume, solid.volume() / EDGE.powi(3));
        platonic.row(format!("{name}: surface"), surface, solid.surface_area() / EDGE.powi(2));
    }
    let mut catalan = Page::new(topic, "Public tables of rhombic solids, edge 1", Seen::Memory);
    let rhombic = touching(&signs([1.0, 1.0, 0.0], true), 0.816_496_580_927_726 * EDGE);
    catalan.row("rhombic dodecahedron: volume", "3.0792014", rhombic.volume() / EDGE.powi(3));
    catalan.row("rhombic dodecahedron: surface", "11.3137085", rhombic.surface_area() / EDGE.powi(2));
    let many = touching(&triaconta, 1.376_381_920_471_173_6 * EDGE);
    catalan.row("rhombic triacontahedron: volume", "12.3107341", many.volume() / EDGE.powi(3));
    catalan.row("rhombic triacontahedron: surface", "26.8328157", many.surface_area() / EDGE.powi(2));
    vec![platonic, catalan]
}
