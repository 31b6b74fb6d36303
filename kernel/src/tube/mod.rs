//! Tube: circular hollow sections, what they are made of, and how they are cut.
//!
//! Nothing here knows a work: legs are points, and templates are drawings.

pub mod section;
pub mod sizes;
pub mod material;
pub mod mitre;
pub mod saddle;
pub mod template;
pub mod stock_cut;

pub use material::{MATERIALS, Material, material_named};
pub use section::Tube;
