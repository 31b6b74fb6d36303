//! Mass properties: of closed meshes as solids and as thin shells, of parts as thick sheets, of rods and lumps, and
//! their sums by element, by kind and by stage of assembly.

pub mod body;
pub mod facet;
pub mod model;
pub mod sheet;
pub mod shell;
pub mod solid;

#[cfg(test)]
mod tests;

pub use body::{Body, Gather};
pub use facet::{Facet, Rod};
pub use model::{Contribution, Kind, MassModel, Matter};
pub use sheet::facets_of_part;
pub use shell::as_shell;
pub use solid::as_solid;
