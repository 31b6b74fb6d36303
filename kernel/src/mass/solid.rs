//! Volume, centroid and inertia of a closed triangle mesh as a solid, by surface integrals.
//!
//! Method: signed tetrahedra over the middle of the mesh, exact for flat facets (D. Eberly, "Polyhedral mass
//! properties (revisited)", 2002; B. Mirtich 1996; the simplex formula of F. Tonon 2005, see [`super::body`]).
//! Units: mm, kg, kg·mm². Cost O(triangles log triangles), for the check that the mesh is closed.

use super::body::{Body, Gather};
use crate::error::{Error, Result};
use crate::mesh::Mesh;

/// A mesh as a solid of this density, kg/mm³ (1 gives volume and volume moments).
///
/// # Errors
/// A mesh that is open, has a triangle the wrong way round, or faces inward; a density that is not positive.
pub fn as_solid(mesh: &Mesh, density: f64) -> Result<Body> {
    if !(density > 0.0 && density.is_finite()) {
        return Err(Error::input(format!("a density of {density} kg/mm³ is not possible"))
            .remedy("give a density above 0; steel has 7.85e-6 kg/mm³"));
    }
    let unmatched = mesh.unmatched_edges().len();
    if mesh.triangles.is_empty() || unmatched > 0 {
        return Err(Error::input(format!(
            "the mesh encloses nothing: {unmatched} of its edges have no partner"
        ))
        .remedy("close it, and turn all triangles the same way; only a closed mesh has a volume"));
    }
    let mut all = Gather::about(mesh.middle());
    for t in 0..mesh.triangles.len() {
        let [a, b, c] = mesh.corners(t).map(|p| all.local(&p));
        all.add_simplex(density * a.dot(&b.cross(&c)) / 6.0, [a, b, c], 1);
    }
    if all.mass() <= 0.0 {
        return Err(Error::input("the mesh is inside out: its volume is negative")
            .remedy("turn all triangles counter-clockwise as seen from outside"));
    }
    Ok(all.body())
}
