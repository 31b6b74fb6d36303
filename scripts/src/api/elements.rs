//! Element calls: one maker per registry row, `planes`, `hull`, and what can be done with an element.

use super::angles;
use super::faces::FaceHandle;
use super::profiles::ProfileHandle;
use super::row_comment::row_comment;
use super::sculptures::SculptureState;
use super::{Called, raise, session, site};
use crate::convert;
use crate::limits;
use crate::session::{Site, count_one, lock};
use nalgebra::{Point3, Vector3};
use rhai::plugin::*;
use rhai::{Array, Engine, FuncRegistration, Map, NativeCallContext};
use ribwright_kernel::element::{ElementMaker, Solid, hull};
use ribwright_kernel::sculpture::Element;
use ribwright_kernel::settings::{Setting, SettingKind, Value};
use ribwright_kernel::{Error, Registry, Result};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

/// An element in a script. All copies of a handle are the same element, also after it was added.
#[derive(Debug, Clone)]
pub(crate) struct ElementHandle {
    pub(crate) name: Arc<str>,
    /// Where it was made.
    pub(crate) site: Site,
    home: Arc<Mutex<Home>>,
}

/// Where an element lives: by itself, or in a sculpture once it was added.
#[derive(Debug)]
enum Home {
    Free(Element),
    Placed { sculpture: Arc<Mutex<SculptureState>>, index: usize },
}

/// Settings of one face of `planes`.
pub(super) const PLANE_ROWS: &[Setting] = &[
    Setting { name: "name", summary: "the face's label", unit: "", kind: SettingKind::Text },
    Setting {
        name: "point",
        summary: "any point of its plane",
        unit: "mm",
        kind: SettingKind::Numbers { count: 3 },
    },
    Setting {
        name: "normal",
        summary: "the direction outward, square to the plane, of any length",
        unit: "",
        kind: SettingKind::Numbers { count: 3 },
    },
];

pub(super) fn register(engine: &mut Engine, registry: &Registry) {
    engine.register_global_module(exported_module!(calls).into());
    for row in &registry.elements {
        let maker = *row;
        FuncRegistration::new(maker.name)
            .with_params_info(["name: String", "settings: Map", "element"])
            .with_comments([row_comment(maker.summary, maker.settings, |map| {
                format!("let a = {}(\"A\", {map});", maker.name)
            })])
            .register_into_engine(
                engine,
                move |ctx: NativeCallContext, name: &str, map: Map| -> Called<ElementHandle> {
                    let made = build(&maker, name, &map);
                    let made = finish(&ctx, name, made)?;
                    let given = |setting: &str| match convert::map(&map).get(setting) {
                        Some(Value::Number(x)) => *x,
                        _ => 0.0,
                    };
                    // Makers of other crates name their angles as they like.
                    let toward = [("toward", given("toward"))];
                    if let Some(note) = angles::radians(name, ("lean", given("lean")), &toward) {
                        session(&ctx)?.find_once(note);
                    }
                    Ok(made)
                },
            );
    }
}

fn build(maker: &ElementMaker, name: &str, map: &Map) -> Result<Solid> {
    let what = format!("{} \"{name}\"", maker.name);
    let values = convert::settings(&what, maker.settings, map)?;
    (maker.build)(name, &values).map_err(|e| place_once(e, &what, name))
}

/// Adds the call to the error's place unless the kernel named the element already.
fn place_once(error: Error, what: &str, name: &str) -> Error {
    match error.place() {
        Some(place) if place.starts_with(name) => error,
        _ => error.at(what),
    }
}

pub(super) fn finish(ctx: &NativeCallContext, name: &str, made: Result<Solid>) -> Called<ElementHandle> {
    let fail = |e| raise(ctx, e);
    let solid = made.map_err(fail)?;
    let session = session(ctx)?;
    let mut state = session.lock();
    count_one(state.elements.len(), limits::MAX_ELEMENTS, "elements").map_err(fail)?;
    let home = Arc::new(Mutex::new(Home::Free(Element::new(solid))));
    let handle = ElementHandle { name: Arc::from(name), site: site(ctx), home };
    state.elements.push(handle.clone());
    Ok(handle)
}

impl ElementHandle {
    /// Reads or changes the element, wherever it lives.
    pub(crate) fn change<T>(&self, act: impl FnOnce(&mut Element) -> Result<T>) -> Result<T> {
        match &mut *lock(&self.home) {
            Home::Free(element) => act(element),
            Home::Placed { sculpture, index } => match lock(sculpture).sculpture.elements.get_mut(*index) {
                Some(element) => act(element),
                None => Err(Error::bug(format!("element {} is lost from its sculpture", self.name))),
            },
        }
    }

    /// Puts the element into a sculpture; `place` is the kernel's way of adding it.
    pub(crate) fn place_in(
        &self,
        sculpture: &Arc<Mutex<SculptureState>>,
        place: impl FnOnce(&mut SculptureState, Element) -> Result<()>,
    ) -> Result<()> {
        let mut home = lock(&self.home);
        let element = match &*home {
            Home::Free(element) => element.clone(),
            Home::Placed { sculpture: there, .. } if Arc::ptr_eq(there, sculpture) => {
                return Err(Error::input(format!("element \"{}\" was added before", self.name)).remedy(
                    "add each element once; make a second one with its own name for a second place",
                ));
            }
            Home::Placed { .. } => {
                return Err(Error::input(format!("element \"{}\" stands in another sculpture", self.name))
                    .remedy("make an element for each sculpture"));
            }
        };
        let mut state = lock(sculpture);
        let index = state.sculpture.elements.len();
        place(&mut state, element)?;
        if state.sculpture.elements.len() != index + 1 {
            return Err(Error::bug(format!("element \"{}\" was not taken up", self.name)));
        }
        state.sites.push(self.site.clone());
        drop(state);
        *home = Home::Placed { sculpture: sculpture.clone(), index };
        Ok(())
    }

    /// Whether it was added to a sculpture.
    pub(crate) fn is_placed(&self) -> bool {
        matches!(&*lock(&self.home), Home::Placed { .. })
    }
}

fn faces_of_planes(name: &str, faces: &Array) -> Result<Solid> {
    let what = format!("planes \"{name}\"");
    if faces.len() > limits::MAX_FACES {
        return Err(Error::input(format!(
            "{} faces are more than the {} allowed",
            faces.len(),
            limits::MAX_FACES
        ))
        .at(what)
        .remedy("split the form into several elements"));
    }
    let mut planes = Vec::new();
    for (at, face) in faces.iter().enumerate() {
        let place = format!("{what}: face {}", at + 1);
        let Some(map) = face.read_lock::<Map>() else {
            return Err(Error::input(format!("expected a map, found {}", convert::kind_name(face)))
                .at(place)
                .remedy("write each face as #{ name: \"east\", point: [500, 0, 0], normal: [1, 0, 0] }"));
        };
        let values = convert::settings(&place, PLANE_ROWS, &map)?;
        let missing = |key: &str| {
            Error::input(format!("\"{key}\" is missing"))
                .at(&place)
                .remedy("a face has a name, a point of its plane and the normal outward")
        };
        let label = values.text("name").ok_or_else(|| missing("name"))?.to_owned();
        let point = values.numbers("point").ok_or_else(|| missing("point"))?;
        let normal = values.numbers("normal").ok_or_else(|| missing("normal"))?;
        planes.push((
            label,
            Point3::new(point[0], point[1], point[2]),
            Vector3::new(normal[0], normal[1], normal[2]),
        ));
    }
    Solid::from_planes(name, planes).map_err(|e| place_once(e, &what, name))
}

fn points_of_hull(name: &str, points: &Array, named: Option<&Map>) -> Result<Solid> {
    let what = format!("hull \"{name}\"");
    let corners = points
        .iter()
        .enumerate()
        .map(|(at, point)| {
            let [x, y, z] = convert::three(&format!("point {at}"), point)?;
            Ok(Point3::new(x, y, z))
        })
        .collect::<Result<Vec<_>>>()
        .map_err(|e| e.at(&what))?;
    let mut names = BTreeMap::new();
    for (label, indices) in named.into_iter().flatten() {
        let place = || format!("{what}: face \"{label}\"");
        let Some(indices) = indices.read_lock::<Array>() else {
            return Err(Error::input(format!("expected a list, found {}", convert::kind_name(indices)))
                .at(place())
                .remedy("give the numbers of its points, counted from 0: [0, 1, 2]"));
        };
        let indices = indices
            .iter()
            .map(|index| {
                let x = convert::number("point number", index)?;
                let last = corners.len().saturating_sub(1);
                #[allow(
                    clippy::cast_precision_loss,
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "a list is far shorter than 2^52, and the range was checked"
                )]
                if x >= 0.0 && x.fract() == 0.0 && x <= last as f64 {
                    Ok(x as usize)
                } else {
                    Err(Error::input(format!("there is no point number {x}"))
                        .remedy(format!("the points are numbered 0 to {last}")))
                }
            })
            .collect::<Result<Vec<_>>>()
            .map_err(|e| e.at(place()))?;
        names.insert(label.to_string(), indices);
    }
    hull::hull(name, &corners, named.map(|_| &names)).map_err(|e| place_once(e, &what, name))
}

#[export_module]
#[allow(unreachable_pub, reason = "the plugin macro takes up public functions only")]
mod calls {
    /// A convex solid given by its planes; each face is a map of `name`, `point` and `normal` (outward).
    ///
    /// ```rhai
    /// let wedge = planes("wedge", [
    ///     #{ name: "foot", point: [0, 0, 0], normal: [0, 0, -1] },
    ///     #{ name: "west", point: [-400, 0, 0], normal: [-1, 0, 0] },
    ///     #{ name: "slope", point: [400, 0, 0], normal: [1, 0, 1] },
    ///     #{ name: "south", point: [0, -300, 0], normal: [0, -1, 0] },
    ///     #{ name: "north", point: [0, 300, 0], normal: [0, 1, 0] },
    /// ]);
    /// ```
    #[rhai_fn(return_raw)]
    pub fn planes(ctx: NativeCallContext, name: &str, faces: Array) -> Called<ElementHandle> {
        let made = faces_of_planes(name, &faces);
        finish(&ctx, name, made)
    }

    /// The convex hull of points `[x, y, z]`; its faces are numbered `f1`, `f2`, … from the lowest.
    ///
    /// ```rhai
    /// let spike = hull("spike", [[0, 0, 0], [900, 0, 0], [300, 800, 0], [400, 300, 1500]]);
    /// ```
    #[rhai_fn(name = "hull", return_raw)]
    pub fn hull_numbered(ctx: NativeCallContext, name: &str, points: Array) -> Called<ElementHandle> {
        let made = points_of_hull(name, &points, None);
        finish(&ctx, name, made)
    }

    /// The convex hull of points, with names for faces: each name is followed by the numbers (from 0) of
    /// points that lie on the face.
    ///
    /// ```rhai
    /// let spike = hull("spike", [[0, 0, 0], [900, 0, 0], [300, 800, 0], [400, 300, 1500]],
    ///                  #{ foot: [0, 1, 2], south: [0, 1, 3] });
    /// ```
    #[rhai_fn(name = "hull", return_raw)]
    pub fn hull_named(
        ctx: NativeCallContext,
        name: &str,
        points: Array,
        faces: Map,
    ) -> Called<ElementHandle> {
        let made = points_of_hull(name, &points, Some(&faces));
        finish(&ctx, name, made)
    }

    /// Clads every face in one profile; ribs run up the slope until `ribs` says otherwise.
    ///
    /// ```rhai
    /// let rib = trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70, thickness: 2, bend_radius: 6 });
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// a.clad(rib);
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn clad(
        ctx: NativeCallContext,
        element: &mut ElementHandle,
        profile: ProfileHandle,
    ) -> Called<ElementHandle> {
        let changed = element.change(|e| {
            e.clad(&profile.0);
            Ok(())
        });
        changed.map_err(|e| raise(&ctx, e))?;
        Ok(element.clone())
    }

    /// One face of an element, by its label.
    ///
    /// ```rhai
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// a.face("top").ribs(#{ along: [1, 0.3, 0] });
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn face(ctx: NativeCallContext, element: &mut ElementHandle, label: &str) -> Called<FaceHandle> {
        element.change(|e| e.face_mut(label).map(|_| ())).map_err(|e| raise(&ctx, e))?;
        Ok(FaceHandle { element: element.clone(), label: label.to_owned() })
    }

    /// Moves an element by `[x, y, z]`, mm, also after it was added; what stands on it stays where it is.
    ///
    /// ```rhai
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// a.move([250, 0, 0]);
    /// ```
    #[rhai_fn(name = "move", return_raw, pure)]
    pub fn move_by(ctx: NativeCallContext, element: &mut ElementHandle, by: Array) -> Called<ElementHandle> {
        let moved = convert::three("move", &by.into()).and_then(|[x, y, z]| {
            element.change(|e| {
                e.translate(Vector3::new(x, y, z));
                Ok(())
            })
        });
        moved.map_err(|e| raise(&ctx, e))?;
        Ok(element.clone())
    }

    /// Turns an element about an axis through the origin, degrees by the right-hand rule.
    ///
    /// ```rhai
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// a.turn([0, 0, 1], 15);
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn turn(
        ctx: NativeCallContext,
        element: &mut ElementHandle,
        axis: Array,
        degrees: Dynamic,
    ) -> Called<ElementHandle> {
        let turned = convert::three("turn: axis", &axis.into()).and_then(|[x, y, z]| {
            let degrees = convert::number("turn: degrees", &degrees)?;
            element.change(|e| e.turn(Vector3::new(x, y, z), degrees))
        });
        turned.map_err(|e| raise(&ctx, e))?;
        Ok(element.clone())
    }

    /// Scales an element about the origin; its sheets keep their size.
    ///
    /// ```rhai
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// a.scale(1.25);
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn scale(
        ctx: NativeCallContext,
        element: &mut ElementHandle,
        factor: Dynamic,
    ) -> Called<ElementHandle> {
        let scaled = convert::number("scale", &factor).and_then(|factor| element.change(|e| e.scale(factor)));
        scaled.map_err(|e| raise(&ctx, e))?;
        Ok(element.clone())
    }

    /// The labels of an element's faces, in order.
    ///
    /// ```rhai
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// for label in a.faces() {
    ///     a.face(label).ribs(#{ datum: "valley" });
    /// }
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn faces(ctx: NativeCallContext, element: &mut ElementHandle) -> Called<Array> {
        let labels = element
            .change(|e| Ok(e.solid.faces.iter().map(|face| Dynamic::from(face.label.clone())).collect()));
        labels.map_err(|e| raise(&ctx, e))
    }

    /// The name of an element.
    ///
    /// ```rhai
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// print(a.name() + "/top");
    /// ```
    #[rhai_fn(pure)]
    pub fn name(element: &mut ElementHandle) -> String {
        element.name.to_string()
    }

    #[rhai_fn(name = "to_string", name = "to_debug", pure)]
    pub fn element_to_string(element: &mut ElementHandle) -> String {
        format!("element \"{}\"", element.name)
    }
}
