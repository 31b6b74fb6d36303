//! The walk over a mesh that says whether it is closed, written apart from the kernel's own.

use nalgebra::{Point3, Vector3};
use ribwright_kernel::mesh::Mesh;
use std::collections::BTreeMap;

/// Volume of a closed mesh, mm³, counted from its first vertex.
///
/// Closed means: every triangle has three different vertices that are there and finite, and every
/// directed edge is matched by one in the other direction (an edge where two bodies touch may occur twice
/// each way).
///
/// # Errors
/// What is not closed, and where.
pub fn closed_volume(mesh: &Mesh) -> Result<f64, String> {
    let Some(&origin) = mesh.points.first() else { return Err("the mesh is empty".to_owned()) };
    if let Some(p) = mesh.points.iter().find(|p| !p.iter().all(|x| x.is_finite())) {
        return Err(format!("vertex {p} is not finite"));
    }
    let mut balance: BTreeMap<(u32, u32), i64> = BTreeMap::new();
    let mut six_volumes = 0.0;
    for triangle in &mesh.triangles {
        let [a, b, c] = *triangle;
        if a == b || b == c || c == a {
            return Err(format!("triangle {triangle:?} uses a vertex twice"));
        }
        let corner = |i: u32| -> Result<Vector3<f64>, String> {
            let p: &Point3<f64> =
                mesh.points.get(i as usize).ok_or_else(|| format!("triangle {triangle:?}: no vertex {i}"))?;
            Ok(p - origin)
        };
        six_volumes += corner(a)?.dot(&corner(b)?.cross(&corner(c)?));
        for (from, to) in [(a, b), (b, c), (c, a)] {
            if from < to {
                *balance.entry((from, to)).or_insert(0) += 1;
            } else {
                *balance.entry((to, from)).or_insert(0) -= 1;
            }
        }
    }
    let open: Vec<_> = balance.iter().filter(|(_, count)| **count != 0).collect();
    match open.first() {
        None => Ok(six_volumes / 6.0),
        Some(((a, b), _)) => Err(format!(
            "{} of {} edges are open, one of them from {} to {}",
            open.len(),
            balance.len(),
            mesh.points[*a as usize],
            mesh.points[*b as usize]
        )),
    }
}

/// Area of the triangles of one face or closure strip, mm².
pub fn area_of(mesh: &Mesh, name: &str) -> f64 {
    mesh.triangles
        .iter()
        .zip(&mesh.part_of)
        .filter(|(_, part)| mesh.names.get(**part as usize).is_some_and(|n| n == name))
        .map(|(t, _)| {
            let [a, b, c] = t.map(|i| mesh.points[i as usize]);
            (b - a).cross(&(c - a)).norm() / 2.0
        })
        .sum()
}
