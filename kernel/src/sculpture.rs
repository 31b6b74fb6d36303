//! The model a script builds: elements with their cladding, how they are placed and joined.

use crate::element::Solid;
use crate::error::Result;
use crate::profile::Profile;
use nalgebra::{Point3, Vector3};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Which height of the profile lies on the face's plane.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Datum {
    /// The crests lie on the plane; the sheet is all inside.
    Crest,
    /// Mid-depth lies on the plane.
    #[default]
    Middle,
    /// The valleys lie on the plane; the sheet is all outside.
    Valley,
}

/// How one face is clad.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cladding {
    /// The sheet's cross-section; none until `.clad` was called.
    pub profile: Option<Arc<Profile>>,
    /// Rib vector (projected on the face); none is up the slope, or +x on a level face.
    pub along: Option<Vector3<f64>>,
    /// The point the phase counts from; none is the centroid of the nominal face.
    pub through: Option<Point3<f64>>,
    /// Shift of a crest's centre line across the ribs, mm.
    pub phase: f64,
    /// Which height of the profile lies on the face's plane.
    pub datum: Datum,
}

/// A solid with the cladding of each of its faces.
#[derive(Debug, Clone, PartialEq)]
pub struct Element {
    /// The shape.
    pub solid: Solid,
    /// One cladding per face of the solid, same order.
    pub cladding: Vec<Cladding>,
}

/// Which skins touch at a seam.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Meet {
    /// The inside skins touch; the outside is an open groove to weld.
    #[default]
    Inside,
    /// The middle skins touch.
    Middle,
    /// The outside skins touch.
    Outside,
}

/// How two faces are joined.
#[derive(Debug, Clone, PartialEq)]
pub struct Joint {
    /// A joint kind of the registry: `auto`, `true`, `mitre`, …
    pub kind: String,
    /// Which skins touch.
    pub meet: Meet,
    /// Greatest wobble `auto` accepts for a true seam, mm; none is 1.5 × the larger depth.
    pub wobble_limit: Option<f64>,
}

/// The maker's own limits and the workshop's settings.
#[derive(Debug, Clone, PartialEq)]
pub struct Rules {
    /// Most sides an element may have.
    pub max_sides: Option<u32>,
    /// Most elements a work may have.
    pub max_elements: Option<u32>,
    /// Pieces below this area are reported, mm².
    pub sliver_area: f64,
    /// Density of the sheet, kg/m³.
    pub density: f64,
}

/// A seam whose phases are to be searched.
#[derive(Debug, Clone, PartialEq)]
pub struct PhaseSearch {
    /// What to look for: `no_slivers`, `crests_meet`, `least_wobble`, `most_wobble`.
    pub aim: String,
    /// The face whose phase may change.
    pub face: String,
    /// The other face of the seam, where the aim is about one seam.
    pub other: Option<String>,
}

/// The whole work.
#[derive(Debug, Clone, PartialEq)]
pub struct Sculpture {
    /// Its name.
    pub name: String,
    /// Its elements, in the order they were added.
    pub elements: Vec<Element>,
    /// The joint where no pair is named.
    pub joint: Joint,
    /// Joints of named pairs of faces (names in byte order).
    pub pair_joints: BTreeMap<(String, String), Joint>,
    /// Faces kept whole under the element that stands on them (`open: false`).
    pub kept_whole: Vec<String>,
    /// Limits and settings.
    pub rules: Rules,
    /// Phase searches, in the order asked for.
    pub searches: Vec<PhaseSearch>,
}

/// How an element is stacked on a face.
#[derive(Debug, Clone, PartialEq)]
pub struct Stacking {
    /// The face it stands on: `A/top`.
    pub on: String,
    /// How deep its foot sinks below the face, along the face's normal, mm.
    pub sink: f64,
    /// Shift of its foot within the face plane, along world x and y projected on it, mm.
    pub shift: [f64; 2],
    /// Turn about the face's normal, degrees counter-clockwise seen from above.
    pub turn: f64,
    /// Further tilt, degrees.
    pub tip: f64,
    /// Compass direction of the tilt, degrees counter-clockwise from +x.
    pub toward: f64,
    /// Whether sheet hidden inside is left out (true) or the lower face is kept whole (false).
    pub open: bool,
}

impl Default for Joint {
    fn default() -> Self {
        Self { kind: "auto".to_owned(), meet: Meet::Inside, wobble_limit: None }
    }
}

impl Default for Rules {
    fn default() -> Self {
        Self { max_sides: None, max_elements: None, sliver_area: 400.0, density: 7850.0 }
    }
}

impl Element {
    /// An element whose faces are not clad yet.
    pub fn new(solid: Solid) -> Self {
        let cladding = vec![Cladding::default(); solid.faces.len()];
        Self { solid, cladding }
    }
}

impl Sculpture {
    /// An empty work.
    pub fn new(name: &str) -> Self {
        Self {
            name: name.to_owned(),
            elements: Vec::new(),
            joint: Joint::default(),
            pair_joints: BTreeMap::new(),
            kept_whole: Vec::new(),
            rules: Rules::default(),
            searches: Vec::new(),
        }
    }
}

impl Element {
    /// Clads every face in this profile.
    pub fn clad(&mut self, _profile: &Arc<Profile>) {}
    /// The cladding of the face with this label, to change.
    ///
    /// # Errors
    /// No such face; the nearest label is named.
    pub fn face_mut(&mut self, _label: &str) -> Result<&mut Cladding> {
        Err(crate::error::Error::bug("not built"))
    }
    /// Moves it.
    pub fn translate(&mut self, _by: Vector3<f64>) {}
    /// Turns it about an axis through the origin, degrees by the right-hand rule.
    ///
    /// # Errors
    /// An axis of no length.
    pub fn turn(&mut self, _axis: Vector3<f64>, _degrees: f64) -> Result<()> {
        Ok(())
    }
    /// Scales it about the origin; profiles keep their size.
    ///
    /// # Errors
    /// A factor that is not positive.
    pub fn scale(&mut self, _factor: f64) -> Result<()> {
        Ok(())
    }
}

impl Sculpture {
    /// Adds an element where it is.
    ///
    /// # Errors
    /// The name is taken.
    pub fn add(&mut self, _element: Element) -> Result<()> {
        Ok(())
    }
    /// Adds an element standing on the ground: its lowest corner at z = 0.
    ///
    /// # Errors
    /// The name is taken.
    pub fn stand(&mut self, _element: Element) -> Result<()> {
        Ok(())
    }
    /// Adds an element stacked on a face of one that is there.
    ///
    /// # Errors
    /// The name is taken, or there is no such face.
    pub fn stack(&mut self, _element: Element, _how: &Stacking) -> Result<()> {
        Ok(())
    }
    /// Element and face indices of `A/east`.
    ///
    /// # Errors
    /// No such element or face; the nearest name is given.
    pub fn find_face(&self, _id: &str) -> Result<(usize, usize)> {
        Err(crate::error::Error::bug("not built"))
    }
}
