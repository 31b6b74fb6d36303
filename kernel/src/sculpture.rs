//! The model a script builds: elements with their cladding, how they are placed and joined.

use crate::choice::Chosen;
use crate::costs::Rates;
use crate::element::Solid;
use crate::element::planes::check_label;
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::joint;
use crate::profile::Profile;
use crate::settings::{LARGEST_NUMBER, Setting, Value, Values, shown, unknown_name};
use crate::stock::Stock;
use crate::survey::Laid;
use nalgebra::{Isometry3, Point3, Unit, UnitQuaternion, Vector3};
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
    /// A surveyed sheet in its place; its nominal profile is the face's.
    pub sheet: Option<Laid>,
    /// The face is left open, as over a foundation or a base plate: no sheet, and its neighbours end level
    /// this far inside its plane, mm.
    pub open: Option<f64>,
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
    /// Whether edges are cut at an angle where the skins that meet ask for it, instead of square.
    pub bevel: bool,
    /// Greatest wobble `auto` accepts for a true seam, mm; none is 1.5 × the larger depth.
    pub wobble_limit: Option<f64>,
    /// Settings of the joint kind's own, checked against its rows.
    pub settings: BTreeMap<String, Value>,
}

/// The maker's own limits and the workshop's settings.
#[derive(Debug, Clone, PartialEq)]
pub struct Rules {
    /// Most sides an element may have.
    pub max_sides: Option<u32>,
    /// Most elements a work may have.
    pub max_elements: Option<u32>,
    /// Least margin of balance at any level, mm.
    pub least_margin: Option<f64>,
    /// Most sheets that may be cut, where parts are laid.
    pub most_sheets: Option<u32>,
    /// Most sheet in all parts, m².
    pub most_area: Option<f64>,
    /// Whether elements may stand on the ground by themselves, apart from the rest.
    pub apart: bool,
    /// Pieces below this area are reported, mm².
    pub sliver_area: f64,
    /// Density of the sheet, kg/m³.
    pub density: f64,
}

/// Density of steel sheet, kg/m³, where the script says nothing.
pub const DENSITY: f64 = 7850.0;
/// Pieces below this area are reported where the script says nothing, mm².
pub const SLIVER_AREA: f64 = 400.0;
/// What a search of phases can look for.
pub const AIMS: [&str; 4] = ["no_slivers", "crests_meet", "least_wobble", "most_wobble"];

/// A seam whose phases are to be searched.
#[derive(Debug, Clone, PartialEq)]
pub struct PhaseSearch {
    /// What to look for, one of [`AIMS`].
    pub aim: String,
    /// The face whose phase may change.
    pub face: String,
    /// The other face of the seam, where the aim is about one seam.
    pub other: Option<String>,
}

/// What parts are to be laid on.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Laying {
    /// How (rows: `lay::ROWS`).
    pub settings: BTreeMap<String, Value>,
    /// The sheets there are.
    pub stock: Vec<Stock>,
    /// Places that are prescribed (rows: `lay::PIN_ROWS`).
    pub pins: Vec<BTreeMap<String, Value>>,
    /// Seams across which crests are to run on, by their names.
    pub crests_across: Vec<String>,
}

/// How an element is placed as far out as a margin allows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum LeanBy {
    /// It slides within the face it stands on.
    #[default]
    Shift,
    /// It tilts about its foot.
    Tip,
}

/// Asks for an element to be placed as far out as a margin allows; see `balance::lean`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeanTo {
    /// Compass direction, degrees counter-clockwise from +x.
    pub toward: f64,
    /// Margin to be left at the tightest level below the element, mm.
    pub margin: f64,
    /// What moves.
    pub by: LeanBy,
}

/// An element stacked on another, as it was placed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rest {
    /// The element.
    pub element: usize,
    /// The one it stands on.
    pub on: usize,
    /// Where its foot lies, mm.
    pub foot: Point3<f64>,
    /// Unit normal of the face it stands on.
    pub normal: Vector3<f64>,
    /// If it is to be placed as far out as a margin allows.
    pub lean: Option<LeanTo>,
    /// The margin it was placed for, once that is done, mm.
    pub placed_for: Option<f64>,
}

impl Rest {
    /// The motion that shifts it by `x` mm or tips it by `x` degrees further toward a compass direction (degrees).
    pub fn motion(&self, by: LeanBy, toward: f64, x: f64) -> Isometry3<f64> {
        let (sin, cos) = toward.to_radians().sin_cos();
        let out = Vector3::new(cos, sin, 0.0);
        match by {
            LeanBy::Shift => {
                let along = (out - self.normal * self.normal.dot(&out)) * x;
                Isometry3::from_parts(along.into(), UnitQuaternion::identity())
            }
            LeanBy::Tip => {
                let axis = Unit::new_normalize(Vector3::z().cross(&out));
                let turn = UnitQuaternion::from_axis_angle(&axis, x.to_radians());
                Isometry3::from_parts((self.foot - turn * self.foot).into(), turn)
            }
        }
    }
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
    /// What was stacked on what, in the order it was done.
    pub rests: Vec<Rest>,
    /// Limits and settings.
    pub rules: Rules,
    /// Phase searches, in the order asked for.
    pub searches: Vec<PhaseSearch>,
    /// Settings of template kinds, by kind and name.
    pub templates: BTreeMap<String, BTreeMap<String, Value>>,
    /// Settings of stages, by stage and name.
    pub stages: BTreeMap<String, BTreeMap<String, Value>>,
    /// The largest sheet and how faces larger than it are split (rows: `splice::ROWS`).
    pub splices: BTreeMap<String, Value>,
    /// Match marks and writing on the parts (rows: `marks::ROWS`).
    pub marks: BTreeMap<String, Value>,
    /// What its parts are laid on, if the script asks for it.
    pub laying: Option<Laying>,
    /// What things cost, if the script gives a file of it.
    pub rates: Option<Arc<Rates>>,
    /// What was found out on the way here, for instance by phase searches.
    pub notes: Vec<Finding>,
    /// What the script left open, with the values it was made with, in the order it asked for them.
    pub choices: Vec<Chosen>,
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
    /// Places it further out, as far as a margin allows, from where the other settings put it.
    pub lean_to: Option<LeanTo>,
}

impl Default for Joint {
    fn default() -> Self {
        Self {
            kind: joint::auto::ROW.name.to_owned(),
            meet: Meet::Inside,
            bevel: false,
            wobble_limit: None,
            settings: BTreeMap::new(),
        }
    }
}

impl Default for Rules {
    fn default() -> Self {
        Self {
            max_sides: None,
            max_elements: None,
            least_margin: None,
            most_sheets: None,
            most_area: None,
            apart: false,
            sliver_area: SLIVER_AREA,
            density: DENSITY,
        }
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
            rests: Vec::new(),
            rules: Rules::default(),
            searches: Vec::new(),
            templates: BTreeMap::new(),
            stages: BTreeMap::new(),
            splices: BTreeMap::new(),
            marks: BTreeMap::new(),
            laying: None,
            rates: None,
            notes: Vec::new(),
            choices: Vec::new(),
        }
    }
}

impl Stacking {
    /// Standing on the middle of this face, neither sunk nor turned nor tipped, hidden sheet left out.
    pub fn on(face: &str) -> Self {
        Self {
            on: face.to_owned(),
            sink: 0.0,
            shift: [0.0, 0.0],
            turn: 0.0,
            tip: 0.0,
            toward: 0.0,
            open: true,
            lean_to: None,
        }
    }
}

impl Element {
    /// The element's name.
    pub fn name(&self) -> &str {
        &self.solid.name
    }

    /// Clads every face in this profile; what was said about ribs stays.
    pub fn clad(&mut self, profile: &Arc<Profile>) {
        for cladding in &mut self.cladding {
            cladding.profile = Some(Arc::clone(profile));
        }
    }

    /// The cladding of the face with this label, to change.
    ///
    /// # Errors
    /// No such face; the nearest label is named.
    pub fn face_mut(&mut self, label: &str) -> Result<&mut Cladding> {
        let index = self.solid.face_index(label)?;
        Ok(&mut self.cladding[index])
    }

    /// Moves it, with the points its ribs count from.
    pub fn translate(&mut self, by: Vector3<f64>) {
        self.transform(&Isometry3::from_parts(by.into(), UnitQuaternion::identity()));
    }

    /// Turns it about an axis through the origin, degrees by the right-hand rule; the ribs turn with it.
    ///
    /// # Errors
    /// An axis of no length, or numbers that are not finite.
    pub fn turn(&mut self, axis: Vector3<f64>, degrees: f64) -> Result<()> {
        let largest = axis.amax();
        if !axis.iter().all(|x| x.is_finite()) || largest == 0.0 || !degrees.is_finite() {
            return Err(Error::input(format!(
                "cannot be turned by {degrees} degrees about [{}, {}, {}]",
                axis.x, axis.y, axis.z
            ))
            .remedy("give an axis of three finite numbers, not all 0, for instance [0, 0, 1]")
            .at(self.name()));
        }
        let axis = Unit::new_normalize(axis / largest);
        self.transform(&Isometry3::from_parts(
            Vector3::zeros().into(),
            UnitQuaternion::from_axis_angle(&axis, degrees.to_radians()),
        ));
        Ok(())
    }

    /// Scales it about the origin; profiles and phases keep their size.
    ///
    /// # Errors
    /// A factor that is not positive.
    pub fn scale(&mut self, factor: f64) -> Result<()> {
        self.solid.scale(factor)?;
        for through in self.cladding.iter_mut().filter_map(|c| c.through.as_mut()) {
            *through *= factor;
        }
        Ok(())
    }

    /// Moves and turns it with its ribs.
    pub fn transform(&mut self, by: &Isometry3<f64>) {
        self.solid.transform(by);
        for cladding in &mut self.cladding {
            cladding.along = cladding.along.map(|a| by * a);
            cladding.through = cladding.through.map(|p| by * p);
        }
    }

    /// Its foot: the point of its own z axis as low as its lowest corner. This is what `stack` puts on a face.
    pub fn foot(&self) -> Point3<f64> {
        Point3::new(0.0, 0.0, self.solid.lowest_z())
    }
}

impl Sculpture {
    /// Adds an element where it is.
    ///
    /// # Errors
    /// The name is taken.
    pub fn add(&mut self, element: Element) -> Result<()> {
        check_label("element name", element.name())?;
        if self.elements.iter().any(|e| e.name() == element.name()) {
            return Err(Error::input(format!("there is an element called {:?} already", element.name()))
                .remedy("give every element its own name")
                .at(self.name.as_str()));
        }
        self.elements.push(element);
        Ok(())
    }

    /// Adds an element standing on the ground: its lowest corner at z = 0, where it is in x and y.
    ///
    /// # Errors
    /// The name is taken.
    pub fn stand(&mut self, mut element: Element) -> Result<()> {
        element.translate(Vector3::new(0.0, 0.0, -element.solid.lowest_z()));
        self.add(element)
    }

    /// Adds an element stacked on a face of one that is there.
    ///
    /// The element is turned the least way that brings its z axis onto the face's normal, then about that
    /// normal by `turn`, then tipped by `tip` about the level axis that leans it `toward` that direction.
    /// Its [`Element::foot`] comes to lie at the centroid of the nominal face, moved by `shift` (a world
    /// x, y vector projected square on the face's plane) and sunk by `sink` against the normal.
    ///
    /// # Errors
    /// The name is taken, there is no such face, it does not face upward, or nothing of it is left.
    pub fn stack(&mut self, mut element: Element, how: &Stacking) -> Result<()> {
        let (below, index) = self.find_face(&how.on)?;
        let face = &self.elements[below].solid.faces[index];
        let n = face.normal;
        if face.polygon.is_empty() {
            return Err(Error::input("nothing is left of this face: other planes cut it off")
                .remedy("stack on another face")
                .at(how.on.as_str()));
        }
        if n.z <= LEAST_RISE {
            return Err(Error::input(format!(
                "cannot be stacked on: its normal [{:.3}, {:.3}, {:.3}] does not point upward",
                n.x, n.y, n.z
            ))
            .remedy("stack on a face that looks up, or place the element with move, turn and add")
            .at(how.on.as_str()));
        }
        let lean = how.lean_to.map_or([0.0; 2], |l| [l.toward, l.margin]);
        let given = [how.sink, how.shift[0], how.shift[1], how.turn, how.tip, how.toward, lean[0], lean[1]];
        if !given.iter().all(|x| x.is_finite() && x.abs() <= LARGEST_NUMBER) {
            return Err(Error::input("sink, shift, turn, tip, toward and margin must be finite numbers")
                .remedy("check how they were worked out")
                .at(how.on.as_str()));
        }
        let rest = UnitQuaternion::rotation_between(&Vector3::z(), &n).unwrap_or_default();
        let turn = UnitQuaternion::from_axis_angle(&Unit::new_normalize(n), how.turn.to_radians());
        let (sin, cos) = how.toward.to_radians().sin_cos();
        let tip_axis = Unit::new_normalize(Vector3::z().cross(&Vector3::new(cos, sin, 0.0)));
        let tip = UnitQuaternion::from_axis_angle(&tip_axis, how.tip.to_radians());
        let shift = Vector3::new(how.shift[0], how.shift[1], 0.0);
        let target = face.centroid() + (shift - n * n.dot(&shift)) - n * how.sink;
        let rotation = tip * turn * rest;
        let foot = element.foot();
        let move_by = target - rotation * foot;
        element.transform(&Isometry3::from_parts(move_by.into(), rotation));
        self.add(element)?;
        self.rests.push(Rest {
            element: self.elements.len() - 1,
            on: below,
            foot: target,
            normal: n,
            lean: how.lean_to,
            placed_for: None,
        });
        if !how.open && !self.kept_whole.contains(&how.on) {
            self.kept_whole.push(how.on.clone());
        }
        Ok(())
    }

    /// Moves an element with all that was stacked on it, as one body.
    pub fn move_stacked(&mut self, element: usize, by: &Isometry3<f64>) {
        let moved = self.riders(element);
        for &e in &moved {
            self.elements[e].transform(by);
        }
        for rest in self.rests.iter_mut().filter(|r| moved.contains(&r.element)) {
            rest.foot = by * rest.foot;
            // The face it stands on moves with it only if that is stacked higher up.
            if rest.element != element {
                rest.normal = by * rest.normal;
            }
        }
    }

    /// An element and all that was stacked on it, directly or further up, ascending.
    pub fn riders(&self, element: usize) -> Vec<usize> {
        let mut found = vec![element];
        // What is stacked comes after what it stands on.
        for rest in &self.rests {
            if found.contains(&rest.on) && !found.contains(&rest.element) {
                found.push(rest.element);
            }
        }
        found.sort_unstable();
        found
    }

    /// The joint between two faces: that of the pair, or the one for all.
    pub fn joint_between(&self, a: &str, b: &str) -> &Joint {
        let pair = (a.min(b).to_owned(), a.max(b).to_owned());
        self.pair_joints.get(&pair).unwrap_or(&self.joint)
    }

    /// Joins a pair of faces so, whichever is named first.
    pub fn join_pair(&mut self, a: &str, b: &str, joint: Joint) {
        self.pair_joints.insert((a.min(b).to_owned(), a.max(b).to_owned()), joint);
    }

    /// The settings it was given for a stage, checked against the stage's rows.
    ///
    /// # Errors
    /// A name or value the rows do not allow.
    pub fn stage_values(&self, stage: &str, rows: &[Setting]) -> Result<Values> {
        Values::check(stage, rows, self.stages.get(stage).unwrap_or(&BTreeMap::new()))
    }

    /// The index of an element.
    ///
    /// # Errors
    /// No such element; the nearest name is given.
    pub fn find_element(&self, name: &str) -> Result<usize> {
        let names = || self.elements.iter().map(Element::name);
        names().position(|n| n == name).ok_or_else(|| {
            // Elements are what a script makes line by line.
            if self.elements.is_empty() {
                let name = shown(name);
                return Error::input(format!("unknown element \"{name}\": there is none yet"))
                    .remedy(format!("make element \"{name}\" first, above this line"));
            }
            unknown_name("element", name, names())
        })
    }

    /// Element and face indices of `A/east`.
    ///
    /// # Errors
    /// No such element or face; the nearest name is given.
    pub fn find_face(&self, id: &str) -> Result<(usize, usize)> {
        let Some((name, label)) = id.split_once('/') else {
            return Err(Error::input(format!("{id:?} names no face"))
                .remedy("write element and face with a stroke between them, for instance \"A/east\""));
        };
        let element = self.find_element(name).map_err(|e| e.at(id))?;
        let face = self.elements[element].solid.face_index(label)?;
        Ok((element, face))
    }
}

/// Least upward part of a unit normal to stack on: a vertical face, up to rounding, holds nothing.
const LEAST_RISE: f64 = 1.0e-9;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::element::slab;

    fn box_of(name: &str, size: [f64; 3]) -> Element {
        let list = Value::List(size.iter().map(|x| Value::Number(*x)).collect());
        let map = BTreeMap::from([("size".to_owned(), list)]);
        let values = Values::check("slab", slab::ROW.settings, &map).unwrap();
        Element::new((slab::ROW.build)(name, &values).unwrap())
    }

    #[track_caller]
    fn near(a: Point3<f64>, b: [f64; 3]) {
        assert!((a - Point3::from(b)).norm() < 1e-9, "{a} is not at {b:?}");
    }

    #[test]
    fn stacked_foot_rests_on_the_middle_of_the_face() {
        let mut work = Sculpture::new("test");
        let mut base = box_of("A", [400.0, 300.0, 200.0]);
        base.translate(Vector3::new(10.0, 20.0, 77.0));
        work.stand(base).unwrap();
        let how = Stacking { sink: 30.0, shift: [5.0, -6.0], ..Stacking::on("A/top") };
        work.stack(box_of("B", [100.0, 100.0, 50.0]), &how).unwrap();
        let b = &work.elements[1].solid;
        near(b.faces[5].centroid(), [15.0, 14.0, 170.0]);
        near(b.faces[4].centroid(), [15.0, 14.0, 220.0]);
        assert!((b.volume() - 500_000.0).abs() < 1e-6);
    }

    fn stacked(tilt: f64, how: &Stacking) -> (Element, Element) {
        let mut work = Sculpture::new("test");
        let mut base = box_of("A", [400.0, 400.0, 400.0]);
        base.turn(Vector3::y(), tilt).unwrap();
        work.add(base).unwrap();
        work.stack(box_of("B", [100.0, 60.0, 50.0]), how).unwrap();
        (work.elements[0].clone(), work.elements[1].clone())
    }

    #[test]
    fn stacked_element_stands_square_on_a_sloping_face_and_turns_about_its_normal() {
        let how = Stacking { sink: 10.0, turn: 90.0, ..Stacking::on("A/top") };
        let (a, b) = stacked(30.0, &how);
        let n = a.solid.faces[4].normal;
        assert!((n - Vector3::new(0.5, 0.0, 0.75_f64.sqrt())).norm() < 1e-12);
        assert!((b.solid.faces[4].normal - n).norm() < 1e-12);
        let foot = a.solid.faces[4].centroid() - n * 10.0;
        near(b.solid.faces[5].centroid(), foot.coords.into());
        // A quarter turn seen from above takes its east face to +y.
        assert!((b.solid.faces[0].normal - Vector3::y()).norm() < 1e-12);
    }

    #[test]
    fn shift_is_projected_on_the_face() {
        let (a, b) = stacked(30.0, &Stacking { shift: [100.0, 20.0], ..Stacking::on("A/top") });
        let n = a.solid.faces[4].normal;
        let moved = b.solid.faces[5].centroid() - a.solid.faces[4].centroid();
        assert!(moved.dot(&n).abs() < 1e-9);
        assert!((moved - Vector3::new(75.0, 20.0, -50.0 * 0.75_f64.sqrt())).norm() < 1e-9, "{moved}");
    }

    #[test]
    fn tip_leans_the_element_toward_the_compass_direction_about_its_foot() {
        for (toward, lean) in [(0.0, Vector3::x()), (90.0, Vector3::y()), (180.0, -Vector3::x())] {
            let (a, b) = stacked(0.0, &Stacking { tip: 10.0, toward, ..Stacking::on("A/top") });
            let up = b.solid.faces[4].normal;
            assert!((up.dot(&lean) - 10.0_f64.to_radians().sin()).abs() < 1e-12, "{up}");
            near(b.solid.faces[5].centroid(), a.solid.faces[4].centroid().coords.into());
        }
    }

    #[test]
    fn cladding_moves_with_its_element() {
        let mut a = box_of("A", [400.0, 400.0, 400.0]);
        let east = a.face_mut("east").unwrap();
        east.along = Some(Vector3::y());
        east.through = Some(Point3::new(200.0, 10.0, 30.0));
        east.phase = 5.0;
        a.turn(Vector3::new(0.0, 0.0, 1e-200), 90.0).unwrap();
        a.translate(Vector3::new(0.0, 0.0, 7.0));
        a.scale(2.0).unwrap();
        let east = a.face_mut("east").unwrap().clone();
        assert!((east.along.unwrap() + Vector3::x()).norm() < 1e-12);
        near(east.through.unwrap(), [-20.0, 400.0, 74.0]);
        assert_eq!(east.phase, 5.0);
        let n = a.solid.faces[0].normal;
        assert!((n - Vector3::y()).norm() < 1e-12, "{n}");
    }

    #[test]
    fn closed_stacking_keeps_the_lower_face_whole() {
        let mut work = Sculpture::new("test");
        work.stand(box_of("A", [400.0, 400.0, 400.0])).unwrap();
        work.stack(box_of("B", [9.0, 9.0, 9.0]), &Stacking::on("A/top")).unwrap();
        assert!(work.kept_whole.is_empty());
        let how = Stacking { open: false, ..Stacking::on("B/top") };
        work.stack(box_of("C", [9.0, 9.0, 9.0]), &how).unwrap();
        assert_eq!(work.kept_whole, ["B/top"]);
        assert_eq!(work.find_face("C/west").unwrap(), (2, 1));
    }

    #[track_caller]
    fn says<T: std::fmt::Debug>(result: Result<T>, words: &str) {
        let text = result.unwrap_err().to_string();
        assert!(text.contains(words), "{text:?} does not say {words:?}");
    }

    #[test]
    fn what_cannot_be_placed_is_refused_and_changes_nothing() {
        let mut work = Sculpture::new("test");
        work.stand(box_of("A", [400.0, 400.0, 400.0])).unwrap();
        let b = || box_of("B", [9.0, 9.0, 9.0]);
        says(work.add(box_of("A", [1.0, 1.0, 1.0])), "called \"A\" already");
        says(work.stack(b(), &Stacking::on("A/east")), "does not point upward");
        says(work.stack(b(), &Stacking::on("A/bottom")), "does not point upward");
        says(work.stack(b(), &Stacking::on("A/tip")), "did you mean \"top\"");
        says(work.stack(b(), &Stacking::on("AA/top")), "did you mean \"A\"");
        says(work.stack(b(), &Stacking::on("top")), "names no face");
        says(work.stack(b(), &Stacking { tip: f64::NAN, ..Stacking::on("A/top") }), "finite");
        says(b().turn(Vector3::zeros(), 10.0), "cannot be turned");
        says(b().scale(0.0), "above 0");
        says(b().face_mut("est").map(|_| ()), "did you mean \"east\"");
        assert_eq!(work.elements.len(), 1);
    }
}
