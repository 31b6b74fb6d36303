//! Settings maps of every registry row: an error names the call, the setting and what is allowed; what is taken makes a
//! profile or a solid that is one.

use super::{End, Source, plain};
use nalgebra::Point3;
use ribwright_kernel::Registry;
use ribwright_kernel::effort::LARGEST;
use ribwright_kernel::element::{Solid, SolidFace};
use ribwright_kernel::profile::Profile;
use ribwright_kernel::settings::{Setting, SettingKind, Value, Values};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// A map as a script may hand it over.
pub(super) type Given = BTreeMap<String, Value>;

/// Deepest nest of lists and maps made here.
const DEEPEST: usize = 3;

pub(super) fn registry() -> &'static Registry {
    static REGISTRY: OnceLock<Registry> = OnceLock::new();
    REGISTRY.get_or_init(Registry::standard)
}

pub(super) fn feed(bytes: &[u8]) -> Result<End, String> {
    let mut source = Source::new(bytes);
    let registry = registry();
    match source.below(3) {
        0 => {
            let row = &registry.profiles[source.below(registry.profiles.len())];
            built(row.name, row.settings, &mut source, row.build, profile)
        }
        1 => {
            let row = &registry.elements[source.below(registry.elements.len())];
            built(row.name, row.settings, &mut source, |values| (row.build)("A", values), solid)
        }
        _ => {
            let joints = registry.joints.iter().map(|row| (row.name, row.settings));
            let templates = registry.templates.iter().map(|row| (row.name, row.settings));
            let stages = registry.stages.iter().map(|row| (row.name, row.settings));
            let all: Vec<_> = joints.chain(templates).chain(stages).collect();
            let (name, rows) = all[source.below(all.len())];
            built(name, rows, &mut source, |values| Ok(values.clone()), |_| Ok(()))
        }
    }
}

fn built<T>(
    name: &str,
    rows: &[Setting],
    source: &mut Source<'_>,
    build: impl Fn(&Values) -> ribwright_kernel::Result<T>,
    judge: impl Fn(&T) -> Result<(), String>,
) -> Result<End, String> {
    let given = given(rows, source);
    let Some(values) = checked(name, rows, &given)? else { return Ok(End::Refused) };
    match build(&values) {
        Err(error) => plain(&error).map(|_| End::Refused),
        Ok(made) => judge(&made).map(|()| End::Taken).map_err(|e| format!("{name} {given:?}: {e}")),
    }
}

/// Checks a map; none where it is refused as it should be.
pub(super) fn checked(name: &str, rows: &[Setting], given: &Given) -> Result<Option<Values>, String> {
    match Values::check(name, rows, given) {
        Ok(values) => Ok(Some(values)),
        Err(error) => {
            let said = plain(&error)?;
            if !said.starts_with(name) {
                return Err(format!("does not name {name}: {said}"));
            }
            let names_it = rows.iter().any(|row| said.contains(row.name)) || said.contains("unknown setting");
            let allowed =
                ["allowed", "known: ", "expected a", "is missing"].iter().any(|word| said.contains(word));
            if names_it && allowed { Ok(None) } else { Err(format!("does not say what is allowed: {said}")) }
        }
    }
}

/// A map for rows: mostly their names, mostly values of their kind, often at the ends of their ranges.
pub(super) fn given(rows: &[Setting], source: &mut Source<'_>) -> Given {
    let mut given = Given::new();
    for row in rows {
        let needed = matches!(
            row.kind,
            SettingKind::Number { default: None, .. } | SettingKind::Count { default: None, .. }
        );
        // Left out where the bytes have ended, so that most of what is not asked about stays as usual.
        if source.is_empty() && !needed {
            break;
        }
        if source.byte().is_multiple_of(3) && !needed {
            continue;
        }
        given.insert(row.name.to_owned(), of_kind(row.kind, source));
    }
    if !source.is_empty() && source.byte() > 240 {
        given.insert(source.word(), any(source, 0));
    }
    given
}

fn of_kind(kind: SettingKind, source: &mut Source<'_>) -> Value {
    if source.byte() > 247 {
        return any(source, 0);
    }
    match kind {
        SettingKind::Number { min, max, .. } | SettingKind::Optional { min, max } => {
            // Ranges run over orders of magnitude: half of the time near the usual end.
            let top = if source.byte() < 128 { max } else { min + (max - min) / 1000.0 };
            Value::Number(source.between(min, top))
        }
        SettingKind::Count { min, max, .. } => {
            let top = max.min(min + 255);
            Value::Number(source.between(f64::from(min), f64::from(top)).round())
        }
        SettingKind::Flag { .. } => Value::Flag(source.byte() % 2 == 1),
        SettingKind::Choice { of, .. } => Value::Text(source.one(of).to_owned()),
        SettingKind::Text => Value::Text(source.word()),
        SettingKind::Numbers { count } => {
            Value::List((0..count).map(|_| Value::Number(source.number())).collect())
        }
        SettingKind::Points => places(source, 2),
        SettingKind::Places => places(source, 3),
        SettingKind::Settings => any(source, 0),
    }
}

fn places(source: &mut Source<'_>, count: usize) -> Value {
    let place = |source: &mut Source<'_>| {
        let coordinate = |source: &mut Source<'_>| Value::Number(source.between(-500.0, 500.0));
        Value::List((0..count).map(|_| coordinate(source)).collect())
    };
    Value::List((0..source.below(9)).map(|_| place(source)).collect())
}

fn any(source: &mut Source<'_>, depth: usize) -> Value {
    match source.below(if depth < DEEPEST { 7 } else { 4 }) {
        0 | 1 => Value::Number(source.number()),
        2 => Value::Flag(source.byte() % 2 == 1),
        3 => Value::Text(source.word()),
        4 => Value::List((0..source.below(5)).map(|_| any(source, depth + 1)).collect()),
        5 => Value::Map((0..source.below(4)).map(|_| (source.word(), any(source, depth + 1))).collect()),
        _ => Value::Other("a function".to_owned()),
    }
}

fn profile(profile: &Profile) -> Result<(), String> {
    let pitch = profile.pitch();
    let sizes =
        [pitch, profile.depth(), profile.thickness(), profile.bend_radius(), profile.developed_length(0.0)];
    super::finite("a size", sizes)?;
    if pitch <= 0.0 || profile.depth() < 0.0 || profile.thickness() < 0.0 || profile.bend_radius() < 0.0 {
        return Err(format!("sizes {sizes:?}"));
    }
    let strips = profile.strips();
    for strip in strips {
        super::finite("a strip", [strip.t[0], strip.t[1], strip.h[0], strip.h[1], strip.w[0], strip.w[1]])?;
        if strip.t[1] <= strip.t[0] || strip.w[1] < strip.w[0] {
            return Err(format!("a strip that does not advance: {strip:?}"));
        }
    }
    for pair in strips.windows(2) {
        if pair[0].t[1].to_bits() != pair[1].t[0].to_bits() {
            return Err(format!("strips apart: {pair:?}"));
        }
    }
    // The developed coordinate and its inverse, over a pitch and beyond.
    for k in -3..=8_i32 {
        let t = f64::from(k) * pitch * 0.37;
        let back = profile.at_developed(profile.developed_at(t, 0.0));
        let off = (back - t).abs();
        if off.is_nan() || off > NEAR * pitch {
            return Err(format!("t = {t} comes back as {back}"));
        }
        let height = profile.height(t);
        if height.is_nan() || height.abs() > profile.depth() / 2.0 + NEAR * pitch {
            return Err(format!("a height of {height} at {t}, depth {}", profile.depth()));
        }
    }
    Ok(())
}

/// Rounding allowed, as a share of a size.
const NEAR: f64 = 1.0e-6;

/// A solid must be closed, with a volume that two ways agree on.
pub(super) fn solid(solid: &Solid) -> Result<(), String> {
    super::finite("a corner", solid.vertices().flat_map(|p| [p.x, p.y, p.z]))?;
    let (volume, area) = (solid.volume(), solid.surface_area());
    if !volume.is_finite() || volume <= 0.0 || !area.is_finite() || area <= 0.0 {
        return Err(format!("a volume of {volume} mm³ and an area of {area} mm²"));
    }
    let origin = solid.centroid();
    let (mut vector, mut by_faces) = (nalgebra::Vector3::zeros(), 0.0);
    for face in solid.faces.iter().filter(|face| !face.polygon.is_empty()) {
        let length = face.normal.norm();
        if (length - 1.0).abs() > NEAR || face.area() < 0.0 {
            return Err(format!("{}: normal of length {length}, area {}", face.label, face.area()));
        }
        vector += face.normal * face.area();
        // Pyramids over the middle of the solid.
        by_faces += face.area() * face.normal.dot(&(face.centroid() - origin)) / 3.0;
    }
    // Sides shorter than a millionth of the size may be left out, so that is how far a corner may be off.
    let span = solid.bounding_box();
    let size = (span[1] - span[0]).norm();
    let off = vector.norm();
    if off.is_nan() || off > NEAR * size * size {
        return Err(format!("open: its area vectors sum to {off} mm² of {area} mm²"));
    }
    // What is left over of flat solids is measured against a slab of the same thickness.
    if (by_faces - volume).abs() > NEAR * volume + NEAR * size * area {
        return Err(format!("a volume of {volume} mm³, by its faces {by_faces} mm³"));
    }
    if size > LARGEST {
        // No work is made of it: a millionth of such a size is a good part of the other measures.
        return Ok(());
    }
    // Sides shorter than what a cut must take away may end on one face and not on the other.
    let least = 1.0e-5 * size;
    let sides = |face: &SolidFace| -> Vec<[Point3<f64>; 2]> {
        (0..face.polygon.len())
            .map(|k| [face.polygon[k], face.polygon[(k + 1) % face.polygon.len()]])
            .collect()
    };
    let all: Vec<[Point3<f64>; 2]> = solid.faces.iter().flat_map(sides).collect();
    let near = |p: &Point3<f64>, q: &Point3<f64>| (p - q).norm() <= least;
    for [a, b] in &all {
        if !near(a, b) && !all.iter().any(|[c, d]| near(a, d) && near(b, c)) {
            return Err(format!("the side from {a} to {b} meets no other"));
        }
    }
    Ok(())
}
