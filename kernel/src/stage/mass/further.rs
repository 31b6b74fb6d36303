//! What weighs beside steel and weld metal: coating on the sheets, and water that drains have let stand.

use super::ROW;
use crate::element::Solid;
use crate::error::{Error, Result};
use crate::mass::{Body, Kind, MassModel, Matter};
use crate::settings::Value;
use crate::stage::values;
use crate::units::{KG_PER_MM3, MM2_PER_M2};
use crate::work::Work;
use nalgebra::Vector3;
use std::collections::BTreeMap;

/// kg per g.
const KG: f64 = 1.0e-3;
/// Density of water, kg/mm³.
const WATER: f64 = 1.0e-6;

/// Adds coating and water as the settings of the stage `mass` have them.
pub(super) fn add(work: &Work, model: &mut MassModel) -> Result<()> {
    let set = values(work, &ROW)?;
    let coating = set.number("coating") * KG / MM2_PER_M2;
    if coating > 0.0 {
        let thickness: BTreeMap<&str, f64> =
            work.parts.iter().map(|p| (p.id.as_str(), p.thickness())).collect();
        let sheets: Vec<_> = model.parts.iter().filter(|c| c.kind == Kind::Sheet).cloned().collect();
        for sheet in sheets {
            let Some(thickness) = thickness.get(sheet.what.as_str()) else { continue };
            // It lies where the sheet lies, which is thin beside the work.
            let share = coating / (thickness * work.sculpture.rules.density * KG_PER_MM3);
            let Matter::Sheet(mut facets) = sheet.matter else { continue };
            facets.iter_mut().for_each(|f| f.mass *= share);
            let what = format!("coating {}", sheet.what);
            model.push(sheet.element, Kind::Coating, what, Matter::Sheet(facets))?;
        }
    }
    for (element, depth) in depths(work)? {
        if let Some(body) = standing(&work.sculpture.elements[element].solid, depth)? {
            let what = format!("water in {}", work.sculpture.elements[element].solid.name);
            model.push(Some(element), Kind::Water, what, Matter::Lump(body))?;
        }
    }
    Ok(())
}

/// How deep water stands in elements, mm over the lowest corner of each.
fn depths(work: &Work) -> Result<Vec<(usize, f64)>> {
    let given = work.sculpture.stages.get(ROW.name).and_then(|s| s.get("water"));
    let Some(Value::Map(map)) = given else { return Ok(Vec::new()) };
    let place = |e: Error| e.at("water").at(ROW.name);
    map.iter()
        .map(|(name, depth)| {
            let element = work.sculpture.find_element(name).map_err(place)?;
            match depth.number() {
                Ok(depth) if depth >= 0.0 && depth.is_finite() => Ok((element, depth)),
                _ => Err(place(
                    Error::input("is no depth")
                        .at(name.as_str())
                        .remedy("write how deep it stands in mm, 0 or more: water: #{ A: 300 }"),
                )),
            }
        })
        .collect()
}

/// Water in the flat solid up to a depth over its lowest corner; none where there is none.
fn standing(solid: &Solid, depth: f64) -> Result<Option<Body>> {
    let [low, high] = solid.bounding_box();
    if depth <= 0.0 {
        return Ok(None);
    }
    let mut planes: Vec<_> = solid.faces.iter().map(|f| (f.label.clone(), f.point, f.normal)).collect();
    if low.z + depth < high.z {
        let mut level = low;
        level.z += depth;
        // A label that no face has: labels hold no blanks.
        planes.push((LEVEL.to_owned(), level, Vector3::z()));
    }
    let filled = Solid::from_planes(&solid.name, planes)?;
    Ok(Some(Body::point(filled.volume() * WATER, filled.centroid())))
}

/// Label of the water's surface.
const LEVEL: &str = "water-level";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::element::Solid;
    use nalgebra::Point3;

    #[test]
    fn water_in_a_box_and_in_a_pyramid_has_the_volume_of_the_textbook() {
        let plane =
            |label: &str, at: [f64; 3], n: [f64; 3]| (label.to_owned(), Point3::from(at), Vector3::from(n));
        let walls = vec![
            plane("west", [100.0, 0.0, 0.0], [-1.0, 0.0, 0.0]),
            plane("east", [700.0, 0.0, 0.0], [1.0, 0.0, 0.0]),
            plane("south", [0.0, 0.0, 0.0], [0.0, -1.0, 0.0]),
            plane("north", [0.0, 500.0, 0.0], [0.0, 1.0, 0.0]),
            plane("bottom", [0.0, 0.0, 50.0], [0.0, 0.0, -1.0]),
            plane("top", [0.0, 0.0, 1050.0], [0.0, 0.0, 1.0]),
        ];
        let block = Solid::from_planes("A", walls).expect("a solid");
        let body = standing(&block, 200.0).expect("worked out").expect("water");
        // 0.6 × 0.5 × 0.2 m³ of a tonne each.
        assert!((body.mass - 60.0).abs() < 1.0e-9, "{}", body.mass);
        assert!((body.centre - Point3::new(400.0, 250.0, 150.0)).norm() < 1.0e-9, "{}", body.centre);
        let full = standing(&block, 5000.0).expect("worked out").expect("water");
        assert!((full.mass - 300.0).abs() < 1.0e-9, "{}", full.mass);
        assert!(standing(&block, 0.0).expect("worked out").is_none());
        // A pyramid on its tip: the volume grows with the cube of the depth.
        let slope = |label: &str, x: f64, y: f64| plane(label, [0.0; 3], [x, y, -1.0]);
        let tip = Solid::from_planes(
            "B",
            vec![
                slope("e", 1.0, 0.0),
                slope("w", -1.0, 0.0),
                slope("n", 0.0, 1.0),
                slope("s", 0.0, -1.0),
                plane("top", [0.0, 0.0, 900.0], [0.0, 0.0, 1.0]),
            ],
        )
        .expect("a solid");
        let body = standing(&tip, 300.0).expect("worked out").expect("water");
        assert!((body.mass - 4.0 * 300.0_f64.powi(3) / 3.0 * WATER).abs() < 1.0e-9, "{}", body.mass);
        assert!((body.centre.z - 225.0).abs() < 1.0e-9, "{}", body.centre.z);
    }
}
