//! Elements: convex solids given by planes, and the makers that build them.

pub mod frustum;
pub mod hull;
pub mod planes;
pub mod prism;
pub mod slab;
pub mod solid;

pub use solid::{Solid, SolidEdge, SolidFace};

use crate::error::Result;
use crate::registry::named_row;
use crate::settings::{Setting, Values};

/// A registry row: one maker of elements a script can call as `name(element_name, map)`.
#[derive(Clone, Copy)]
pub struct ElementMaker {
    /// The script word.
    pub name: &'static str,
    /// One line on what it makes.
    pub summary: &'static str,
    /// The settings its map takes.
    pub settings: &'static [Setting],
    /// Builds the solid (named by the first argument) from checked settings.
    pub build: fn(&str, &Values) -> Result<Solid>,
}

named_row!(ElementMaker);
