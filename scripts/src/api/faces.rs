//! Face calls: how one face is clad.

use super::elements::ElementHandle;
use super::profiles::ProfileHandle;
use super::surveys::SheetHandle;
use super::{Called, raise};
use crate::convert;
use nalgebra::{Point3, Vector3};
use rhai::plugin::*;
use rhai::{Array, Dynamic, Engine, Map, NativeCallContext};
use ribwright_kernel::element::SolidFace;
use ribwright_kernel::sculpture::Datum;
use ribwright_kernel::settings::{LARGEST_NUMBER, Setting, SettingKind};
use ribwright_kernel::survey::Laid;
use ribwright_kernel::{Error, Result};

/// A face of an element in a script.
#[derive(Debug, Clone)]
pub(crate) struct FaceHandle {
    pub(crate) element: ElementHandle,
    pub(crate) label: String,
}

/// Settings of `ribs`.
pub(super) const RIBS_ROWS: &[Setting] = &[
    Setting {
        name: "along",
        summary: "direction of the ribs, projected on the face; left out, they run up the slope (+x on a level face)",
        unit: "",
        kind: SettingKind::Numbers { count: 3 },
    },
    Setting {
        name: "through",
        summary: "the point the phase counts from; left out, the middle of the face",
        unit: "mm",
        kind: SettingKind::Numbers { count: 3 },
    },
    Setting {
        name: "phase",
        summary: "how far a crest's centre line is shifted across the ribs",
        unit: "mm",
        kind: SettingKind::Optional { min: -LARGEST_NUMBER, max: LARGEST_NUMBER },
    },
    Setting {
        name: "datum",
        summary: "which height of the profile lies on the face's plane; left out, middle",
        unit: "",
        kind: SettingKind::Choice { default: None, of: &["crest", "middle", "valley", "mid"] },
    },
    Setting {
        name: "profile",
        summary: "a profile for this face alone, as made by trapezoid(…) and the like",
        unit: "",
        kind: SettingKind::Text,
    },
];

/// Settings of `leave_open`.
pub(super) const LEAVE_OPEN_ROWS: &[Setting] = &[Setting {
    name: "clearance",
    summary: "how far inside the face's plane its neighbours are cut level: the gap to the ground or the plate",
    unit: "mm",
    kind: SettingKind::Number { default: Some(0.0), min: 0.0, max: 1_000.0 },
}];

/// Settings of `lay_on`.
pub(super) const LAY_ON_ROWS: &[Setting] = &[
    Setting {
        name: "at",
        summary: "which point of the sheet, as [along, across], lies at the face's origin; left out, its middle, on a \
                  crest",
        unit: "mm",
        kind: SettingKind::Numbers { count: 2 },
    },
    Setting {
        name: "turned",
        summary: "end for end: the sheet's start lies up the ribs",
        unit: "",
        kind: SettingKind::Flag { default: false },
    },
    Setting {
        name: "over",
        summary: "turned over: its outside, as measured, lies inside",
        unit: "",
        kind: SettingKind::Flag { default: false },
    },
];

fn lay_on(face: &FaceHandle, sheet: &SheetHandle, map: &Map) -> Result<()> {
    let place = format!("{}/{}: lay_on", face.element.name, face.label);
    let values = convert::settings(&place, LAY_ON_ROWS, map)?;
    let (turned, over) = (values.flag("turned"), values.flag("over"));
    let mut laid = Laid::centred(&sheet.0, turned, over).map_err(|e| e.at(place.as_str()))?;
    if let Some(at) = values.numbers("at") {
        laid.at = [at[0], at[1]];
    }
    face.element.change(|element| {
        element.face_mut(&face.label)?.sheet = Some(laid);
        Ok(())
    })
}

pub(super) fn register(engine: &mut Engine) {
    engine.register_global_module(exported_module!(calls).into());
}

fn apply(face: &FaceHandle, map: &Map) -> Result<()> {
    let place = format!("{}/{}: ribs", face.element.name, face.label);
    let mut map = map.clone();
    let profile = match map.remove("profile") {
        None => None,
        Some(given) => Some(given.clone().try_cast::<ProfileHandle>().ok_or_else(|| {
            Error::input(format!("profile: expected a profile, found {}", convert::kind_name(&given)))
                .at(&place)
                .remedy("make one first: let rib = trapezoid(#{ … }); then write profile: rib")
        })?),
    };
    let values = convert::settings(&place, RIBS_ROWS, &map)?;
    let along = values.numbers("along").map(|a| Vector3::new(a[0], a[1], a[2]));
    if along.is_some_and(|a| a.norm_squared() == 0.0) {
        return Err(Error::input("along: [0, 0, 0] has no direction")
            .at(place)
            .remedy("give the direction the ribs run in, for instance [1, 0, 0]"));
    }
    face.element.change(|element| {
        let cladding = element.face_mut(&face.label)?;
        if let Some(along) = along {
            cladding.along = Some(along);
        }
        if let Some(p) = values.numbers("through") {
            cladding.through = Some(Point3::new(p[0], p[1], p[2]));
        }
        if let Some(phase) = values.optional("phase") {
            cladding.phase = phase;
        }
        match values.text("datum") {
            Some("crest") => cladding.datum = Datum::Crest,
            Some("valley") => cladding.datum = Datum::Valley,
            Some(_) => cladding.datum = Datum::Middle,
            None => {}
        }
        if let Some(profile) = profile {
            cladding.profile = Some(profile.0);
        }
        Ok(())
    })
}

/// Reads something off the flat face.
fn of_solid(face: &FaceHandle, read: impl Fn(&SolidFace) -> Option<Vector3<f64>>) -> Result<Vector3<f64>> {
    face.element.change(|element| {
        let found = element.solid.faces.iter().find(|solid| solid.label == face.label);
        found.and_then(&read).ok_or_else(|| {
            Error::input("this face has no corners").at(format!("{}/{}", face.element.name, face.label))
        })
    })
}

fn list(numbers: [f64; 3]) -> Array {
    numbers.into_iter().map(Dynamic::from).collect()
}

#[export_module]
#[allow(unreachable_pub, reason = "the plugin macro takes up public functions only")]
mod calls {
    /// How the ribs of one face run; what is left out stays as it was.
    ///
    /// ```rhai
    /// let rib = trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70, thickness: 2, bend_radius: 6 });
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// a.face("top").ribs(#{ along: [1, 0.3, 0], phase: 30, datum: "middle", profile: rib });
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn ribs(ctx: NativeCallContext, face: &mut FaceHandle, settings: Map) -> Called<FaceHandle> {
        apply(face, &settings).map_err(|e| raise(&ctx, e))?;
        Ok(face.clone())
    }

    /// Leaves a face without a sheet, as over the ground, a foundation or a base plate: the sheets beside it
    /// end level on its plane, or a clearance inside it.
    ///
    /// ```rhai
    /// let rib = trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70, thickness: 2, bend_radius: 6 });
    /// let s = sculpture("Slack Tide");
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// a.clad(rib);
    /// a.face("bottom").leave_open(#{ clearance: 5 });
    /// s.stand(a);
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn leave_open(ctx: NativeCallContext, face: &mut FaceHandle, settings: Map) -> Called<FaceHandle> {
        let place = format!("{}/{}: leave_open", face.element.name, face.label);
        let open = convert::settings(&place, LEAVE_OPEN_ROWS, &settings).and_then(|values| {
            let clearance = values.number("clearance");
            face.element.change(|element| {
                element.face_mut(&face.label)?.open = Some(clearance);
                Ok(())
            })
        });
        open.map_err(|e| raise(&ctx, e))?;
        Ok(face.clone())
    }

    /// Clads a face in a surveyed sheet, at a known place of it: its seams are those of the sheet as it really is.
    ///
    /// ```rhai
    /// let rib = trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70, bend_radius: 6 });
    /// let yard = survey("yard.csv", #{ profile: rib });
    /// let s = sculpture("Slack Tide");
    /// let a = slab("A", #{ size: [700, 600, 900] });
    /// a.clad(rib);
    /// a.face("east").lay_on(yard.sheet("S03"), #{ at: [1200, 500] });
    /// s.stand(a);
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn lay_on(
        ctx: NativeCallContext,
        face: &mut FaceHandle,
        sheet: SheetHandle,
        settings: Map,
    ) -> Called<FaceHandle> {
        super::lay_on(face, &sheet, &settings).map_err(|e| raise(&ctx, e))?;
        Ok(face.clone())
    }

    /// The direction a face looks, `[x, y, z]` of length 1, as its element lies at this moment.
    ///
    /// ```rhai
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// print(a.face("east").normal());
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn normal(ctx: NativeCallContext, face: &mut FaceHandle) -> Called<Array> {
        let normal = of_solid(face, |solid| Some(solid.normal));
        normal.map(|n| list([n.x, n.y, n.z])).map_err(|e| raise(&ctx, e))
    }

    /// The middle of a face's corners, `[x, y, z]`, mm, as its element lies at this moment.
    ///
    /// ```rhai
    /// let a = slab("A", #{ size: [900, 600, 400] });
    /// a.face("top").ribs(#{ through: a.face("top").middle() });
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn middle(ctx: NativeCallContext, face: &mut FaceHandle) -> Called<Array> {
        let middle = of_solid(face, |solid| solid.middle().map(|p| p.coords));
        middle.map(|p| list([p.x, p.y, p.z])).map_err(|e| raise(&ctx, e))
    }

    #[rhai_fn(name = "to_string", name = "to_debug", pure)]
    pub fn face_to_string(face: &mut FaceHandle) -> String {
        format!("face \"{}/{}\"", face.element.name, face.label)
    }
}
