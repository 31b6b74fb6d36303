//! Area, centroid and inertia of a triangle mesh as a thin shell of even mass per area.
//!
//! Method: exact integrals over flat facets (the simplex formula of F. Tonon 2005 for three corners, see
//! [`super::body`]). The mesh need not be closed. Thickness is not seen: about its own thin plane a sheet of
//! thickness t has t²/12 of its mass more, which [`super::sheet`] counts. Units: mm, kg, kg·mm².

use super::body::{Body, Gather};
use crate::error::{Error, Result};
use crate::mesh::Mesh;

/// A mesh as a shell of this mass per area, kg/mm² (1 gives area and area moments).
///
/// # Errors
/// A mesh without area; a mass per area that is not positive, as of a sheet without thickness.
pub fn as_shell(mesh: &Mesh, per_area: f64) -> Result<Body> {
    if !(per_area > 0.0 && per_area.is_finite()) {
        return Err(Error::input(format!("a shell of {per_area} kg/mm² has no mass"))
            .remedy("give thickness and density above 0"));
    }
    let mut all = Gather::about(mesh.middle());
    for t in 0..mesh.triangles.len() {
        let corners = mesh.corners(t).map(|p| all.local(&p));
        all.add_simplex(per_area * mesh.area_vector(t).norm(), corners, 0);
    }
    if all.mass() <= 0.0 {
        return Err(Error::input("the mesh has no area").remedy("give it triangles"));
    }
    Ok(all.body())
}
