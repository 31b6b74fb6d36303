//! The plates stage: inside plates (diaphragms) with their holes, drains and lugs, where the script asks for them.

use super::sketch::{
    choice, count, flat_piece, label, letters, list, measure, number, optional, refused, stem, table, words,
};
use super::{Stage, any, values};
use crate::drawing::{Drawing, Label, Layer, Path};
use crate::element::Solid;
use crate::error::{Error, Result};
use crate::finding::{Finding, Level};
use crate::kerf::Ring;
use crate::mass::facet::plate_with_holes;
use crate::mass::{Kind, Matter};
use crate::output::Output;
use crate::plates::{Cutter, Drains, Lug, Options, Plate, PlateLevel, Tube, lugs};
use crate::registry::Registry;
use crate::settings::{Setting, SettingKind, Values};
use crate::spine::Built;
use crate::table::Cell;
use crate::units::KG_PER_MM3;
use crate::work::Work;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// The registry row.
pub const ROW: Stage = Stage {
    name: "plates",
    summary: "inside plates (diaphragms) cut to the inside of the sheets, with hole, drains and lugs, where asked for",
    settings: &[
        Setting {
            name: "elements",
            summary: "elements that get plates, with commas between them; all unless given",
            unit: "",
            kind: SettingKind::Text,
        },
        count("count", "plates in each element, evenly spaced in height", 1, [1, 50]),
        optional(
            "height",
            "height of the plate's underside over the element's lowest corner, instead of count",
            "mm",
            [0.0, 1.0e5],
        ),
        number("thickness", "thickness", "mm", 5.0, [0.5, 100.0]),
        number("clearance", "least distance from the sheets all round", "mm", 5.0, [0.1, 200.0]),
        optional(
            "tube",
            "outside diameter of the tube that passes; unless given, the spine where there is one, else no hole",
            "mm",
            [1.0, 2000.0],
        ),
        list("tube_foot", "lower end of the tube's axis; under the centre of mass unless given", "mm", 3),
        list("tube_head", "upper end of the tube's axis; above the foot unless given", "mm", 3),
        number("hole_clearance", "room round the tube", "mm", 3.0, [0.0, 200.0]),
        number(
            "least_width",
            "least width of plate beside the hole (common practice, no source)",
            "mm",
            25.0,
            [0.0, 1000.0],
        ),
        choice(
            "drains",
            "notches for water: none, at corners, or in every crest too",
            "corners",
            &["none", "corners", "crests"],
        ),
        number("drain_radius", "radius of the notches", "mm", 15.0, [1.0, 200.0]),
        count("lugs", "lugs between plate and tube", 4, [0, 24]),
        number("lug_width", "width of a lug, outward", "mm", 60.0, [5.0, 1000.0]),
        number("lug_height", "height of a lug, up the tube", "mm", 80.0, [5.0, 1000.0]),
        number("lug_thickness", "thickness of a lug", "mm", 6.0, [0.5, 100.0]),
    ],
    check: any,
    run,
};

/// Gap between lugs on their drawing, mm.
const GAP: f64 = 10.0;

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    if !work.sculpture.stages.contains_key(ROW.name) {
        return Ok(());
    }
    let set = values(work, &ROW)?;
    let cutter = Cutter::new(work)?;
    let options = Options {
        thickness: set.number("thickness"),
        clearance: set.number("clearance"),
        hole_clearance: set.number("hole_clearance"),
        drains: match set.text("drains") {
            Some("none") => Drains::None,
            Some("crests") => Drains::Crests,
            _ => Drains::Corners,
        },
        drain_radius: set.number("drain_radius"),
        least_width: set.number("least_width"),
        density: work.sculpture.rules.density,
    };
    let asked = tube(work, &set)?;
    let mut wanted = Vec::new();
    for e in elements(work, &set)? {
        let solid = &work.sculpture.elements[e].solid;
        let [low, high] = solid.bounding_box();
        for (k, z) in levels(&set, low.z, high.z, options.thickness).into_iter().enumerate() {
            let level = z + options.thickness / 2.0;
            let tube = asked.or_else(|| passing(output.spine.as_ref()?, solid, level));
            let id = format!("{} plate {}", solid.name, k + 1);
            if asked.is_none()
                && let Some(kink) = kink_near(output.spine.as_ref(), tube.as_ref(), level, &options)
            {
                output.findings.push(kink_remark(&id, kink));
            }
            wanted.push((e, z, id, tube));
        }
    }
    let cut: Vec<Result<Plate>> =
        wanted.par_iter().map(|(e, z, _, tube)| cutter.plate(*e, *z, tube.as_ref(), &options)).collect();
    let mut rows = Vec::new();
    for ((e, _, id, tube), plate) in wanted.into_iter().zip(cut) {
        let name = work.sculpture.elements[e].solid.name.as_str();
        let plate = match plate {
            Ok(plate) => plate,
            Err(error) => {
                output.findings.push(refused(Level::Error, "plate", &id, &error));
                continue;
            }
        };
        let mut pieces = Vec::new();
        if let Some(tube) = &tube {
            let size = [set.number("lug_width"), set.number("lug_height")];
            match lugs(&plate, tube, set.count("lugs"), size) {
                Ok(found) => pieces = found,
                Err(error) => output.findings.push(refused(Level::Error, "lug", &id, &error)),
            }
        }
        output.findings.extend(remarks(&plate, &pieces, &id, &options));
        let reach = reached(work, e);
        if reach.is_none() {
            output.findings.push(Finding::new(
                Level::Warning,
                "plate-reach",
                &id,
                format!("{name} is closed all round: nobody reaches this plate to weld it"),
                "leave its top or foot off until the plate is welded, give it a hatch, or leave the plate out",
            ));
        }
        let reach = reach.unwrap_or_else(|| "closed all round: before its last face is set".to_owned());
        rows.push(row(&plate, &pieces, &id, &reach));
        weigh(output, &plate, &id, options.density)?;
        add(output, &plate, &pieces, &id, set.number("lug_thickness"), options.density);
    }
    let columns = [
        "plate",
        "height mm",
        "thickness mm",
        "length mm",
        "width mm",
        "area m²",
        "mass kg",
        "cut m",
        "hole mm",
        "slant degrees",
        "drains",
        "lugs",
        "to weld m",
        "how it is reached",
    ];
    if !rows.is_empty() {
        output.tables.push(table(
            ROW.name,
            "Inside plates (preliminary: a licensed engineer decides)",
            &columns,
            rows,
        ));
    }
    Ok(())
}

fn elements(work: &Work, set: &Values) -> Result<Vec<usize>> {
    match set.text("elements") {
        None => Ok((0..work.sculpture.elements.len()).collect()),
        Some(names) => names
            .split(',')
            .map(str::trim)
            .filter(|n| !n.is_empty())
            .map(|n| work.sculpture.find_element(n).map_err(|e| e.at("elements").at(ROW.name)))
            .collect(),
    }
}

fn levels(set: &Values, low: f64, high: f64, thickness: f64) -> Vec<f64> {
    if let Some(height) = set.optional("height") {
        return vec![low + height];
    }
    let count = set.count("count");
    let share = |k: u32| (f64::from(k) + 1.0) / (f64::from(count) + 1.0);
    (0..count).map(|k| low + (high - low) * share(k) - thickness / 2.0).collect()
}

fn tube(work: &Work, set: &Values) -> Result<Option<Tube>> {
    let Some(diameter) = set.optional("tube") else { return Ok(None) };
    let point = |name: &str| set.numbers(name).map(|p| Point3::new(p[0], p[1], p[2]));
    let top = work.mesh.bounds().map_or(work.centre_of_mass.z, |b| b[1].z);
    let middle = work.centre_of_mass;
    let foot = point("tube_foot").unwrap_or(Point3::new(middle.x, middle.y, 0.0));
    let head = point("tube_head").unwrap_or(Point3::new(foot.x, foot.y, top.max(foot.z + 1.0)));
    if (head - foot).norm() <= 0.0 {
        return Err(Error::input("the tube's foot and head are one point")
            .remedy("give two different points")
            .at("tube_head")
            .at(ROW.name));
    }
    Ok(Some(Tube { axis: [foot, head], diameter }))
}

/// The leg of the spine that passes a level inside an element.
fn passing(spine: &Built, solid: &Solid, level: f64) -> Option<Tube> {
    let inside = |p: &Point3<f64>| solid.faces.iter().all(|f| f.normal.dot(&(p - f.point)) < 0.0);
    spine.points.windows(2).find_map(|ends| {
        let [a, b] = [ends[0], ends[1]];
        let share = (level - a.z) / (b.z - a.z);
        ((0.0..=1.0).contains(&share) && inside(&(a + (b - a) * share)))
            .then(|| Tube { axis: [a, b], diameter: spine.tube.outside() })
    })
}

/// Height of a mitre of the spine over the middle of a plate, where it stands in its hole, mm.
fn kink_near(spine: Option<&Built>, tube: Option<&Tube>, level: f64, options: &Options) -> Option<f64> {
    let (spine, tube) = (spine?, tube?);
    let kinks = &spine.points[1..spine.points.len() - 1];
    let reach = tube.diameter / 2.0 + options.thickness / 2.0;
    let near = kinks.iter().filter(|p| tube.axis.contains(p)).map(|p| p.z - level);
    near.filter(|h| h.abs() < reach).reduce(|a, b| if b.abs() < a.abs() { b } else { a })
}

fn kink_remark(id: &str, height: f64) -> Finding {
    Finding::new(
        Level::Warning,
        "plate-mitre",
        id,
        format!(
            "a mitre of the spine lies {:.0} mm from the middle of this plate: its hole is that of one leg only",
            height.abs()
        ),
        "set the plate at another height, where one leg passes",
    )
}

fn remarks(plate: &Plate, lugs: &[Lug], id: &str, options: &Options) -> Vec<Finding> {
    let mut found = Vec::new();
    if let Some(hole) = plate.hole.as_ref().filter(|h| h.needed > options.hole_clearance) {
        found.push(Finding::new(
            Level::Warning,
            "plate-hole",
            id,
            format!(
                "the tube passes at {:.1} degrees: a hole cut square needs {:.1} mm of room, and has {} mm",
                hole.slant.to_degrees(),
                hole.needed,
                options.hole_clearance
            ),
            format!("set hole_clearance to at least {:.1}, or bevel the hole along the tube", hole.needed),
        ));
    }
    if options.drains != Drains::None && plate.notches == 0 {
        found.push(Finding::new(
            Level::Warning,
            "plate-drain",
            id,
            "no place for a drain was found: water would stand on this plate",
            "drill a drain at the lowest corner",
        ));
    }
    if let Some(worst) = lugs.iter().map(|l| l.sag).reduce(f64::max).filter(|s| *s > NOTABLE_SAG) {
        found.push(Finding::new(
            Level::Note,
            "lug-gap",
            id,
            format!("the straight edge of a lug leaves the slanting tube by up to {worst:.1} mm"),
            "grind it to the tube, or let the weld take it",
        ));
    }
    found
}

/// From where a plate in an element is set and welded; none where it is closed all round.
fn reached(work: &Work, element: usize) -> Option<String> {
    let s = &work.sculpture;
    let name = |e: usize| s.elements[e].solid.name.as_str();
    let kept = |e: usize| s.kept_whole.iter().any(|f| f.split('/').next() == Some(name(e)));
    if let Some(above) = s.rests.iter().find(|r| r.on == element && !kept(element)) {
        return Some(format!(
            "from the open top of {}, before {} is set",
            name(element),
            name(above.element)
        ));
    }
    if s.elements[element].cladding.iter().any(|c| c.open.is_some()) {
        return Some(format!(
            "through the open face of {}, before that is closed or set down",
            name(element)
        ));
    }
    let below = s.rests.iter().find(|r| r.element == element && !kept(r.on))?;
    Some(format!("through the open foot of {}, before it is set on {}", name(element), name(below.on)))
}

/// Gaps under lugs above this are pointed out, mm.
const NOTABLE_SAG: f64 = 1.0;

fn row(plate: &Plate, lugs: &[Lug], id: &str, reach: &str) -> Vec<Cell> {
    let bounds =
        Drawing { paths: vec![Path::closed(Layer::Cut, plate.whole.clone())], ..Drawing::default() }.bounds();
    let [low, high] = bounds.unwrap_or_default();
    let size = [high[0] - low[0], high[1] - low[1]];
    #[allow(clippy::cast_precision_loss, reason = "a count")]
    let whole = |n: usize| Cell::Number(n as f64, 0);
    let weld: f64 = lugs.iter().flat_map(|l| l.welds).map(|w| 2.0 * w).sum();
    vec![
        words(id),
        Cell::Number(plate.origin.z, 0),
        Cell::Number(plate.thickness, 1),
        Cell::Number(size[0].max(size[1]), 0),
        Cell::Number(size[0].min(size[1]), 0),
        Cell::Number(plate.area / 1.0e6, 3),
        Cell::Number(plate.mass, 1),
        Cell::Number(plate.cut_length() / 1000.0, 2),
        plate.hole.map_or(Cell::Empty, |h| words(format!("{:.1} × {:.1}", 2.0 * h.axes[0], 2.0 * h.axes[1]))),
        plate.hole.map_or(Cell::Empty, |h| Cell::Number(h.slant.to_degrees(), 1)),
        whole(plate.notches),
        whole(lugs.len()),
        Cell::Number(weld / 1000.0, 2),
        words(format!("{reach}; the space is confined: vent it, never work in it alone")),
    ]
}

/// Puts a plate into the mass model, its lugs left out, and says where it lies if a tube passes it.
fn weigh(output: &mut Output, plate: &Plate, id: &str, density: f64) -> Result<()> {
    let o = plate.origin + Vector3::z() * (plate.thickness / 2.0);
    let in_space = |ring: &Ring| ring.iter().map(|p| o + Vector3::new(p[0], p[1], 0.0)).collect();
    let outlines: Vec<Vec<Point3<f64>>> = plate.outlines.iter().map(in_space).collect();
    let facets = plate_with_holes(&outlines, plate.thickness, density);
    if plate.hole.is_some() {
        output.plate_levels.push(PlateLevel { element: plate.element, id: id.to_owned(), height: o.z });
    }
    output.mass.push(Some(plate.element), Kind::Plate, id, Matter::Sheet(facets))
}

/// Adds cut files and the drawing with measures.
fn add(output: &mut Output, plate: &Plate, lugs: &[Lug], id: &str, lug_thickness: f64, density: f64) {
    let file = format!("plate_{}", stem(id));
    let at = crate::plates::centroid(&plate.outlines[..1]);
    let below = plate.hole.map_or(at, |h| [h.centre[0], h.centre[1] - 1.5 * h.axes[0] - 10.0]);
    let mut piece = flat_piece(id, &file, plate.thickness, plate.mass, &plate.outlines, Some(below));
    let low = {
        let drawing = Drawing {
            paths: vec![Path::closed(Layer::Cut, plate.outlines[0].clone())],
            ..Drawing::default()
        };
        drawing.bounds().map_or([0.0; 2], |b| b[0])
    };
    if let Some(hole) = &plate.hole {
        let c = [hole.centre[0] - low[0], hole.centre[1] - low[1]];
        for lug in lugs {
            let (sin, cos) = lug.toward.to_radians().sin_cos();
            let (from, to) = (hole.axes[0] + 5.0, hole.axes[0] + 25.0);
            let at = |r: f64| [c[0] + r * cos, c[1] + r * sin];
            piece.drawing.paths.push(Path::open(Layer::Mark, vec![at(from), at(to)]));
        }
    }
    let mut measured =
        Drawing { name: file.clone(), title: format!("{id}, seen from above"), ..Drawing::default() };
    measured.paths.clone_from(&piece.drawing.paths);
    if let Some([_, high]) = piece.drawing.bounds() {
        let height = letters(high[0].max(high[1]));
        if let Some(hole) = &plate.hole {
            let c = [hole.centre[0] - low[0], hole.centre[1] - low[1]];
            measured.paths.push(Path::open(Layer::Helper, vec![[0.0, c[1]], [high[0], c[1]]]));
            measured.paths.push(Path::open(Layer::Helper, vec![[c[0], 0.0], [c[0], high[1]]]));
            measured.labels.push(label([c[0] / 2.0, c[1] + height], height, format!("{:.0}", c[0])));
            let up = label([c[0] + height, c[1] / 2.0], height, format!("{:.0}", c[1]));
            measured.labels.push(Label { angle: 90.0, ..up });
            let text = format!(
                "hole {:.1} × {:.1}, turned {:.0}°",
                2.0 * hole.axes[0],
                2.0 * hole.axes[1],
                hole.toward.to_degrees()
            );
            measured.labels.push(label([high[0] / 2.0, high[1] + 1.5 * height], height, text));
        }
        measure(&mut measured, height);
    }
    output.drawings.push(measured);
    output.flats.push(piece);
    if !lugs.is_empty() {
        let mut x = 0.0;
        let mut rings: Vec<Ring> = Vec::new();
        for lug in lugs {
            let left = lug.outline.iter().map(|p| p[0]).fold(f64::INFINITY, f64::min);
            let right = lug.outline.iter().map(|p| p[0]).fold(f64::NEG_INFINITY, f64::max);
            rings.push(lug.outline.iter().map(|p| [p[0] - left + x, p[1]]).collect());
            x += right - left + GAP;
        }
        let area: f64 = rings.iter().map(|r| crate::drawing::signed_area(r)).sum();
        let mass = area * lug_thickness * density * KG_PER_MM3;
        let id = format!("{id} lugs");
        output.flats.push(flat_piece(&id, &format!("{file}_lugs"), lug_thickness, mass, &rings, None));
    }
}
