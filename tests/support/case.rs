//! Cases of the reference bodies, and how each becomes a work: through the kernel, or as a script.

use nalgebra::{Point3, Vector3};
use ribwright_kernel::element::Solid;
use ribwright_kernel::profile::Profile;
use ribwright_kernel::registry::find;
use ribwright_kernel::sculpture::{Datum, Element, Sculpture};
use ribwright_kernel::settings::{Value, Values};
use ribwright_kernel::{Registry, Result};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::Path;
use std::sync::Arc;

/// A reference body: what it is, and its figures.
#[derive(Debug, Clone, Deserialize)]
pub struct References {
    /// What to build.
    pub case: Case,
    /// What it must come to.
    pub reference: Reference,
}

/// A body: one sharp-folded profile, elements given by planes.
#[derive(Debug, Clone, Deserialize)]
pub struct Case {
    /// The sheet.
    pub profile: ProfileCase,
    /// The elements.
    pub elements: Vec<ElementCase>,
}

/// A sharp-folded trapezoid, mm.
#[derive(Debug, Clone, Deserialize)]
pub struct ProfileCase {
    /// Distance from crest to crest.
    pub pitch: f64,
    /// Height from valley to crest.
    pub depth: f64,
    /// Width of the crest.
    pub crest: f64,
    /// Width of the valley.
    pub valley: f64,
    /// `mid`, `crest` or `valley`; mid if absent.
    pub datum: Option<String>,
}

/// An element.
#[derive(Debug, Clone, Deserialize)]
pub struct ElementCase {
    /// Its name.
    pub name: String,
    /// Its faces.
    pub faces: Vec<FaceCase>,
}

/// A face and its ribs.
#[derive(Debug, Clone, Deserialize)]
pub struct FaceCase {
    /// Its label.
    pub name: String,
    /// A point of its plane, mm; the phase counts from there.
    pub point: [f64; 3],
    /// Outward, of any length.
    pub normal: [f64; 3],
    /// Rib vector.
    pub along: [f64; 3],
    /// Shift of a crest's centre line, mm.
    pub phase: f64,
}

/// The figures, from a general-purpose mesh-boolean library.
#[derive(Debug, Clone, Deserialize)]
pub struct Reference {
    /// Volume of the union, mm³.
    pub enclosed_volume_mm3: f64,
    /// Its surface, mm².
    pub shell_area_mm2: f64,
    /// Centroid of the surface, mm.
    pub shell_centroid_mm: [f64; 3],
    /// Volume of each element by itself, mm³.
    pub element_volume_mm3: BTreeMap<String, f64>,
    /// Visible area by face, mm².
    pub face_area_mm2: BTreeMap<String, f64>,
    /// Connected pieces by face, mm², rounded to 0.01.
    pub face_pieces_mm2: BTreeMap<String, Vec<f64>>,
    /// Length by pair of faces (`A/east ~ A/top`), mm.
    pub seam_length_mm: BTreeMap<String, f64>,
    /// The same body with flat faces.
    pub flat: FlatReference,
}

/// The figures of the body with flat faces.
#[derive(Debug, Clone, Deserialize)]
pub struct FlatReference {
    /// Volume of the union, mm³.
    pub enclosed_volume_mm3: f64,
    /// Visible area by face, mm².
    pub face_area_mm2: BTreeMap<String, f64>,
    /// Length by pair of faces, mm.
    pub edge_length_mm: BTreeMap<String, f64>,
}

/// All reference bodies with their names, in order of the names.
///
/// # Panics
/// If the fixtures are missing or not as described in `fixtures/README.md`.
pub fn references() -> Vec<(String, References)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/reference");
    let mut files: Vec<_> = std::fs::read_dir(&folder)
        .expect("fixtures/reference is there")
        .map(|item| item.expect("fixtures/reference can be read").path())
        .filter(|path| path.extension().is_some_and(|e| e == "json"))
        .collect();
    files.sort();
    assert!(files.len() >= 8, "eight reference bodies were given, {} are there", files.len());
    files
        .iter()
        .map(|path| {
            let text = std::fs::read_to_string(path).expect("a fixture can be read");
            let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
            let body = serde_json::from_str(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
            (name, body)
        })
        .collect()
}

/// A profile from a row of the standard registry.
///
/// # Errors
/// What the row says about the settings.
pub fn profile(kind: &str, settings: &[(&str, f64)]) -> Result<Arc<Profile>> {
    let registry = Registry::standard();
    let row = find("profile", &registry.profiles, kind)?;
    let given: BTreeMap<String, Value> =
        settings.iter().map(|&(name, x)| (name.to_owned(), Value::Number(x))).collect();
    Ok(Arc::new((row.build)(&Values::check(kind, row.settings, &given)?)?))
}

/// An element from planes, each with label, point and normal, not clad yet.
///
/// # Errors
/// What the kernel says about the planes.
pub fn element(name: &str, planes: &[(String, [f64; 3], [f64; 3])]) -> Result<Element> {
    let planes = planes
        .iter()
        .map(|(label, point, normal)| (label.clone(), Point3::from(*point), Vector3::from(*normal)))
        .collect();
    Ok(Element::new(Solid::from_planes(name, planes)?))
}

impl ProfileCase {
    /// The profile, thin: bends are sharp and the thickness is too small to matter.
    ///
    /// # Errors
    /// What the kernel says about the measures.
    pub fn build(&self) -> Result<Arc<Profile>> {
        profile(
            "trapezoid",
            &[
                ("pitch", self.pitch),
                ("depth", self.depth),
                ("crest", self.crest),
                ("valley", self.valley),
                ("thickness", 1.0),
                ("bend_radius", 0.0),
            ],
        )
    }

    fn datum(&self) -> Datum {
        match self.datum.as_deref() {
            Some("crest") => Datum::Crest,
            Some("valley") => Datum::Valley,
            _ => Datum::Middle,
        }
    }
}

impl Case {
    /// The work, all seams of this joint kind.
    ///
    /// # Errors
    /// What the kernel says about it.
    pub fn sculpture(&self, joint: &str) -> Result<Sculpture> {
        self.clad_in(&self.profile.build()?, joint)
    }

    /// The same body clad in another profile.
    ///
    /// # Errors
    /// What the kernel says about it.
    pub fn clad_in(&self, profile: &Arc<Profile>, joint: &str) -> Result<Sculpture> {
        let mut work = Sculpture::new("reference body");
        joint.clone_into(&mut work.joint.kind);
        for one in &self.elements {
            let planes: Vec<_> = one.faces.iter().map(|f| (f.name.clone(), f.point, f.normal)).collect();
            let mut element = element(&one.name, &planes)?;
            element.clad(profile);
            for face in &one.faces {
                let cladding = element.face_mut(&face.name)?;
                cladding.along = Some(Vector3::from(face.along));
                cladding.through = Some(Point3::from(face.point));
                cladding.phase = face.phase;
                cladding.datum = self.profile.datum();
            }
            work.add(element)?;
        }
        Ok(work)
    }

    /// The same body turned about the origin and moved.
    #[must_use]
    pub fn moved(&self, turn: &nalgebra::Rotation3<f64>, by: Vector3<f64>) -> Case {
        let mut moved = self.clone();
        for face in moved.elements.iter_mut().flat_map(|e| &mut e.faces) {
            face.point = (turn * Point3::from(face.point) + by).into();
            face.normal = (turn * Vector3::from(face.normal)).into();
            face.along = (turn * Vector3::from(face.along)).into();
        }
        moved
    }

    /// The work as a script, all seams of this joint kind.
    pub fn script(&self, joint: &str) -> String {
        let p = &self.profile;
        let datum = match self.profile.datum() {
            Datum::Crest => "crest",
            Datum::Middle => "middle",
            Datum::Valley => "valley",
        };
        let mut text = format!(
            "let rib = trapezoid(#{{ pitch: {}, depth: {}, crest: {}, valley: {}, thickness: 1, bend_radius: 0 }});\n\
             let s = sculpture(\"reference body\");\ns.joints(#{{ kind: \"{joint}\" }});\n",
            p.pitch, p.depth, p.crest, p.valley
        );
        let list = |v: &[f64; 3]| format!("[{}, {}, {}]", v[0], v[1], v[2]);
        // A String takes whatever is written to it.
        for (k, e) in self.elements.iter().enumerate() {
            let _ = writeln!(text, "let e{k} = planes(\"{}\", [", e.name);
            for f in &e.faces {
                let _ = writeln!(
                    text,
                    "    #{{ name: \"{}\", point: {}, normal: {} }},",
                    f.name,
                    list(&f.point),
                    list(&f.normal)
                );
            }
            let _ = writeln!(text, "]);\ne{k}.clad(rib);");
            for f in &e.faces {
                let _ = writeln!(
                    text,
                    "e{k}.face(\"{}\").ribs(#{{ along: {}, through: {}, phase: {}, datum: \"{datum}\" }});",
                    f.name,
                    list(&f.along),
                    list(&f.point),
                    f.phase
                );
            }
            let _ = writeln!(text, "s.add(e{k});");
        }
        text.push_str("s\n");
        text
    }
}
