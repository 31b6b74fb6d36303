//! The base stage: base plate, skirt, anchors and ground pressure, where the script asks for them.

mod carried;
mod measured;

pub(super) use carried::carry;

use super::sketch::{
    choice, count, flag, flat_piece, label, letters, list, measure, number, optional, refused, stem, table,
    words,
};
use super::{Stage, any, values};
use crate::base::anchors::{LEAST_APART, Pattern, STRESS_AREAS, per_corner};
use crate::base::skirt::{self, Strip};
use crate::base::{AnchorGroup, BasePlate, Built, Footprint, PlateShape, base_plate, footprint};
use crate::drawing::{Drawing, Label, Layer, Path};
use crate::error::{Error, Result};
use crate::finding::{Finding, Level};
use crate::kerf::Ring;
use crate::mass::facet::plate_with_holes;
use crate::mass::{Body, Kind, Matter};
use crate::output::Output;
use crate::polygon::{holds, hull};
use crate::registry::Registry;
use crate::settings::Values;
use crate::table::Cell;
use crate::work::Work;
use nalgebra::{Point3, Vector3};
use std::sync::Arc;

/// The registry row.
pub const ROW: Stage = Stage {
    name: "base",
    summary: "base plate, skirt, anchors, concrete cone and ground pressure, where asked for",
    settings: &[
        number(
            "thickness",
            "thickness of the base plate; its top is the ground, z = 0",
            "mm",
            12.0,
            [1.0, 300.0],
        ),
        number("margin", "how far it stands out beyond the footprint", "mm", 60.0, [0.0, 5000.0]),
        choice("shape", "shape of the base plate", "rectangle", &["rectangle", "hull", "outline"]),
        flag("skirt", "a skirt of flat strips before the ribs round the foot", true),
        number(
            "skirt_height",
            "height of the skirt (common practice, no source)",
            "mm",
            100.0,
            [5.0, 2000.0],
        ),
        number("skirt_thickness", "thickness of the skirt", "mm", 6.0, [0.5, 100.0]),
        number("skirt_gap", "room between crests and skirt", "mm", 0.0, [0.0, 200.0]),
        choice("anchors", "how anchors are set out", "none", &["none", "rectangle", "circle", "corners"]),
        count("anchor_columns", "anchors along the longer side of the rectangle, on its rim", 2, [2, 40]),
        count("anchor_rows", "anchors along its shorter side", 2, [2, 40]),
        count("anchor_count", "anchors on the circle", 8, [3, 100]),
        number("anchor_inset", "distance of anchors from the edge of the plate", "mm", 40.0, [5.0, 2000.0]),
        count("anchor_size", "nominal diameter of the thread, M", 16, [8, 36]),
        number("anchor_depth", "effective depth in the concrete", "mm", 125.0, [20.0, 2000.0]),
        number(
            "modular_ratio",
            "modulus of steel over that of the concrete (common practice, no source: 7)",
            "",
            7.0,
            [0.01, 1000.0],
        ),
        number("concrete", "cylinder strength of the concrete, fck", "N/mm²", 25.0, [8.0, 100.0]),
        flag("cracked", "whether the concrete counts as cracked", true),
        flag("headed", "headed anchors cast in; otherwise post-installed", false),
        flag("dense", "reinforcement less than 150 mm apart", false),
        number(
            "concrete_factor",
            "partial factor of the cone: 1.5 × installation (EN 1992-4, from memory)",
            "",
            1.8,
            [1.0, 5.0],
        ),
        list(
            "foundation",
            "size of the foundation block along the plate's longer and shorter side; without end unless given",
            "mm",
            2,
        ),
        number(
            "extra_mass",
            "further mass at the middle of the base: ballast, fittings (the spine counts by itself)",
            "kg",
            0.0,
            [0.0, 1.0e6],
        ),
        number(
            "side_force",
            "horizontal force on the work, characteristic (the factor `variable` comes on it), in place of wind and people",
            "N",
            0.0,
            [0.0, 1.0e8],
        ),
        optional(
            "side_height",
            "height at which it acts; the centre of mass unless given",
            "mm",
            [0.0, 1.0e5],
        ),
        number(
            "side_toward",
            "direction in which it pushes, counter-clockwise from +x",
            "degrees",
            0.0,
            [-360.0, 360.0],
        ),
        number(
            "permanent",
            "factor on weight where it makes things worse (EN 1990 Table A1.2(B), equation 6.10: 1.35)",
            "",
            1.35,
            [0.5, 5.0],
        ),
        number(
            "favourable",
            "factor on weight where it helps (EN 1990 Table A1.2(B), equation 6.10: 1.0)",
            "",
            1.0,
            [0.1, 5.0],
        ),
        number(
            "variable",
            "factor on wind, people or `side_force` (EN 1990 Table A1.2(B), equation 6.10: 1.5)",
            "",
            1.5,
            [0.0, 5.0],
        ),
        optional(
            "ground",
            "pressure that the ground may carry, against the greatest with load factors",
            "kN/m²",
            [1.0, 1.0e6],
        ),
    ],
    check: any,
    run,
};

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    if !work.sculpture.stages.contains_key(ROW.name) {
        return Ok(());
    }
    let set = values(work, &ROW)?;
    let name = work.sculpture.name.as_str();
    let foot = match footprint(work) {
        Ok(foot) => foot,
        Err(error) => {
            output.findings.push(refused(Level::Error, "base", name, &error));
            return Ok(());
        }
    };
    let plate = plate_of(work, &set, &foot)?;
    let mut strips = Vec::new();
    if set.flag("skirt") {
        let options = skirt_options(work, &set);
        match skirt::strips(work, &foot.elements, &options) {
            Ok(found) => strips = found,
            Err(error) => output.findings.push(refused(Level::Warning, "skirt", name, &error)),
        }
        skirt_tables(output, &strips, options.thickness);
    }
    weigh(output, &plate, &strips, [set.number("skirt_thickness"), work.sculpture.rules.density])?;
    let extra = set.number("extra_mass");
    if extra > 0.0 {
        let body = Body::point(extra, plate.centre);
        output.mass.push(None, Kind::Base, "further mass on the base", Matter::Lump(body))?;
    }
    let places = places(&plate, &set)?;
    if let Some(p) = places.iter().find(|p| !inside(&plate.outlines, **p)) {
        return Err(Error::input(format!(
            "an anchor at {:.0}, {:.0} mm lies beside the base plate",
            p[0], p[1]
        ))
        .remedy("use the shape rectangle, another pattern, or a larger anchor_inset")
        .at(ROW.name));
    }
    let hidden = places.iter().filter(|p| inside(&foot.outlines, **p)).count();
    if hidden > 0 {
        output.findings.push(Finding::new(
            Level::Warning,
            "anchor-hidden",
            name,
            format!("{hidden} anchors stand under the foot, where no spanner reaches them once it is set"),
            "widen the margin or use a smaller anchor_inset, or tighten them through openings",
        ));
    }
    let o = plate.origin;
    if !places.is_empty() {
        output.anchors = Some(AnchorGroup {
            places: places.iter().map(|p| o + Vector3::new(p[0], p[1], 0.0)).collect(),
            area: stressed_area(&set),
            length: set.number("anchor_depth"),
        });
    }
    draw(output, &plate, &foot, &places, &set);
    output.base = Some(Arc::new(Built { plate, places }));
    carry(work, output, &[])?;
    Ok(())
}

fn plate_of(work: &Work, set: &Values, foot: &Footprint) -> Result<BasePlate> {
    let shape = match set.text("shape") {
        Some("hull") => PlateShape::Hull,
        Some("outline") => PlateShape::Outline,
        _ => PlateShape::Rectangle,
    };
    let density = work.sculpture.rules.density;
    base_plate(foot, shape, set.number("thickness"), set.number("margin"), density)
}

fn skirt_options(work: &Work, set: &Values) -> skirt::Options {
    skirt::Options {
        height: set.number("skirt_height"),
        thickness: set.number("skirt_thickness"),
        gap: set.number("skirt_gap"),
        density: work.sculpture.rules.density,
    }
}

/// Puts base plate and skirt into the mass model, and what the work now stands on beside it.
fn weigh(output: &mut Output, plate: &BasePlate, strips: &[Strip], [thick, density]: [f64; 2]) -> Result<()> {
    let o = plate.origin;
    let z = plate.centre.z;
    let in_space = |ring: &Ring| ring.iter().map(|p| Point3::new(p[0] + o.x, p[1] + o.y, z)).collect();
    let outlines: Vec<Vec<Point3<f64>>> = plate.outlines.iter().map(in_space).collect();
    let facets = plate_with_holes(&outlines, plate.thickness, density);
    output.mass.push(None, Kind::Base, "base plate", Matter::Sheet(facets))?;
    for strip in strips {
        let [x, y, outward] = strip.axes;
        let middle = strip.origin + outward * (thick / 2.0);
        let ring: Vec<Point3<f64>> = strip.outline.iter().map(|p| middle + x * p[0] + y * p[1]).collect();
        let facets = crate::mass::facet::plate(&ring, thick, density);
        output.mass.push(None, Kind::Base, format!("skirt {}", strip.face), Matter::Sheet(facets))?;
    }
    output.stands_on = plate.outlines.first().map(|r| r.iter().map(|p| [p[0] + o.x, p[1] + o.y]).collect());
    Ok(())
}

fn inside(rings: &[Ring], p: [f64; 2]) -> bool {
    rings.iter().filter(|r| holds(r, p)).count() % 2 == 1
}

/// The middle, unit axes and half sizes of the least rectangle round the plate, the longer side first.
fn rectangle(plate: &BasePlate) -> ([f64; 2], [[f64; 2]; 2], [f64; 2]) {
    let ring = crate::base::least_rectangle(&hull(plate.outlines.iter().flatten().copied().collect()));
    let side = |i: usize, k: usize| [ring[k][0] - ring[i][0], ring[k][1] - ring[i][1]];
    let (a, b) = (side(0, 1), side(0, 3));
    let [la, lb] = [a, b].map(|v| v[0].hypot(v[1]));
    let middle = [f64::midpoint(ring[0][0], ring[2][0]), f64::midpoint(ring[0][1], ring[2][1])];
    let unit = |v: [f64; 2], l: f64| [v[0] / l, v[1] / l];
    if la >= lb {
        (middle, [unit(a, la), unit(b, lb)], [la / 2.0, lb / 2.0])
    } else {
        (middle, [unit(b, lb), [-unit(a, la)[0], -unit(a, la)[1]]], [lb / 2.0, la / 2.0])
    }
}

/// Anchors set out at just the least distance come this near to it, mm.
const ROUNDING: f64 = 1.0e-6;

/// Anchors, mm about the plate's origin.
fn places(plate: &BasePlate, set: &Values) -> Result<Vec<[f64; 2]>> {
    let inset = set.number("anchor_inset");
    let size = set.count("anchor_size");
    let apart = LEAST_APART * f64::from(size);
    let (middle, [u, v], half) = rectangle(plate);
    let room = half.map(|h| h - inset);
    let on_plate = |[x, y]: [f64; 2]| [middle[0] + u[0] * x + v[0] * y, middle[1] + u[1] * x + v[1] * y];
    let of = |pattern: Pattern| Ok(pattern.places()?.into_iter().map(on_plate).collect());
    let found: Result<Vec<[f64; 2]>> = match set.text("anchors") {
        Some("corners") => {
            per_corner(&hull(plate.outlines.iter().flatten().copied().collect()), inset, apart)
        }
        Some("rectangle") => of(Pattern::Rectangle {
            count: [set.count("anchor_columns"), set.count("anchor_rows")],
            size: room.map(|r| 2.0 * r),
        }),
        Some("circle") => of(Pattern::Circle { count: set.count("anchor_count"), radius: room[1] }),
        _ => Ok(Vec::new()),
    };
    let found = found.map_err(|e| e.at(ROW.name))?;
    let pairs = found.iter().enumerate().flat_map(|(k, a)| found[k + 1..].iter().map(move |b| (a, b)));
    let nearest = pairs.map(|(a, b)| (a[0] - b[0]).hypot(a[1] - b[1])).fold(f64::INFINITY, f64::min);
    if nearest < apart - ROUNDING {
        let what =
            format!("anchors M{size} would stand {nearest:.0} mm apart (allowed: at least {apart:.0})");
        return Err(Error::input(what)
            .remedy("set out fewer or thinner ones, or make the plate larger")
            .at(ROW.name));
    }
    Ok(found)
}

fn stressed_area(set: &Values) -> f64 {
    let size = set.count("anchor_size");
    STRESS_AREAS.iter().rev().find(|(m, _)| *m <= size).map_or(STRESS_AREAS[0].1, |a| a.1)
}

fn skirt_tables(output: &mut Output, strips: &[Strip], thickness: f64) {
    if strips.is_empty() {
        return;
    }
    let mut rows = Vec::new();
    for s in strips {
        let end = |i: usize, get: fn(&skirt::End) -> f64, digits| {
            s.ends[i].as_ref().map_or(Cell::Empty, |e| Cell::Number(get(e), digits))
        };
        rows.push(vec![
            words(&s.face),
            Cell::Number(s.lengths[0], 1),
            Cell::Number(s.lengths[1], 1),
            Cell::Number(s.outer_lengths[0], 1),
            Cell::Number(s.outer_lengths[1], 1),
            Cell::Number(s.width, 1),
            end(0, |e| e.mitre, 2),
            end(1, |e| e.mitre, 2),
            end(0, |e| e.bevel, 2),
            end(1, |e| e.bevel, 2),
            Cell::Number(s.area / 1.0e6, 4),
            Cell::Number(s.mass, 2),
        ]);
        let id = format!("skirt {}", s.face);
        let middle = crate::plates::centroid(std::slice::from_ref(&s.outline));
        let file = format!("skirt_{}", stem(&s.face));
        output.flats.push(flat_piece(
            &id,
            &file,
            thickness,
            s.mass,
            std::slice::from_ref(&s.outline),
            Some(middle),
        ));
    }
    let columns = [
        "before face",
        "foot mm",
        "head mm",
        "foot outside mm",
        "head outside mm",
        "width mm",
        "mitre left degrees",
        "mitre right degrees",
        "bevel left degrees",
        "bevel right degrees",
        "area m²",
        "mass kg",
    ];
    output.tables.push(table("skirt", "Skirt strips, inner faces, seen from outside", &columns, rows));
    let seams = skirt::seams(strips).into_iter().map(|s| {
        vec![words(&s.between[0]), words(&s.between[1]), Cell::Number(s.length, 0), Cell::Number(s.angle, 1)]
    });
    let columns = ["strip", "joined to", "length mm", "angle degrees"];
    output.tables.push(table("skirt_seams", "Seams of the skirt", &columns, seams.collect()));
}

/// Cut file and drawing of the base plate.
fn draw(output: &mut Output, plate: &BasePlate, foot: &Footprint, places: &[[f64; 2]], set: &Values) {
    let mut rings = plate.outlines.clone();
    let radius = (f64::from(set.count("anchor_size")) + HOLE_ROOM) / 2.0;
    for p in places {
        // Clockwise: a hole.
        let step = std::f64::consts::TAU / f64::from(HOLE_CORNERS);
        rings.push(
            (0..HOLE_CORNERS)
                .rev()
                .map(|k| {
                    let (s, c) = (f64::from(k) * step).sin_cos();
                    [p[0] + radius * c, p[1] + radius * s]
                })
                .collect(),
        );
    }
    let bounds = Drawing {
        paths: vec![Path::closed(Layer::Cut, plate.outlines.iter().flatten().copied().collect())],
        ..Drawing::default()
    }
    .bounds();
    let Some([low, high]) = bounds else { return };
    let middle = [f64::midpoint(low[0], high[0]), f64::midpoint(low[1], high[1])];
    let mut piece = flat_piece("base plate", "base_plate", plate.thickness, plate.mass, &rings, Some(middle));
    for outline in &foot.outlines {
        let points = outline.iter().map(|p| [p[0] - low[0], p[1] - low[1]]).collect();
        piece.drawing.paths.push(Path::closed(Layer::Mark, points));
    }
    let mut drawing = Drawing {
        name: "base".to_owned(),
        title: "Base plate, seen from above, with the foot on it".to_owned(),
        paths: piece.drawing.paths.clone(),
        ..Drawing::default()
    };
    // A plate is drawn large: figures of half a letter more than usual are read in the job book as they stand.
    let height = ANCHOR_LETTERS * letters((high[0] - low[0]).max(high[1] - low[1]));
    let datum = measured::TapeDatum::of(plate).filter(|_| !places.is_empty());
    let running = datum.filter(|d| d.draw(&mut drawing, low, places, height));
    let told = |side| running.is_some_and(|d| d.runs_along(side, low));
    sides(&mut drawing, height, told, running.is_some());
    if let Some(datum) = &datum {
        let corner = datum.corner_words(plate);
        let figures = if running.is_some() { "figures" } else { "figures of schedules/anchors.csv" };
        drawing.title = format!("{}; {figures} run from its {corner} corner (ring), mm", drawing.title);
        datum.ring(&mut drawing, low, height);
    }
    let on_page: Vec<[f64; 2]> = places.iter().map(|p| [p[0] - low[0], p[1] - low[1]]).collect();
    measured::number(&mut drawing, &on_page, radius, height);
    output.drawings.push(drawing);
    output.flats.push(piece);
}

/// The lengths of a plate's sides where it lies askew, for the box around it is nothing to cut by; else overall measures,
/// unless running figures say them. Sides that are told already are left out.
fn sides(drawing: &mut Drawing, height: f64, told: impl Fn([[f64; 2]; 2]) -> bool, running: bool) {
    /// More sides than this are curves.
    const MOST: usize = 12;
    /// A side shorter than so many letters has no room for its length.
    const SHORT: f64 = 4.0;
    /// A side that leaves the edge of the page by less than this share of its length is level or upright.
    const ASKEW: f64 = 1.0e-3;
    let outline = drawing.paths.first().map(|p| p.points.clone()).unwrap_or_default();
    let edges: Vec<[[f64; 2]; 2]> =
        (0..outline.len()).map(|i| [outline[i], outline[(i + 1) % outline.len()]]).collect();
    let askew = |[a, b]: &[[f64; 2]; 2]| {
        let d = [b[0] - a[0], b[1] - a[1]];
        d[0].abs().min(d[1].abs()) > ASKEW * d[0].hypot(d[1])
    };
    if edges.len() > MOST || !edges.iter().any(askew) {
        if !running {
            measure(drawing, height);
        }
        return;
    }
    // A rectangle is told by the figures along two of its sides.
    if running && edges.len() == 4 {
        return;
    }
    for [a, b] in edges.into_iter().filter(|e| !told(*e)) {
        let d = [b[0] - a[0], b[1] - a[1]];
        let length = d[0].hypot(d[1]);
        if length < SHORT * height {
            continue;
        }
        // Outlines run counter-clockwise: outside is at the right.
        let off = 1.4 * height / length;
        let at = [f64::midpoint(a[0], b[0]) + d[1] * off, f64::midpoint(a[1], b[1]) - d[0] * off];
        let angle = measured::readable(d[1].atan2(d[0]).to_degrees());
        drawing.labels.push(Label { angle, ..label(at, height, format!("{length:.0}")) });
    }
}

/// Figures of a base plate over the usual height.
const ANCHOR_LETTERS: f64 = 1.5;
/// Holes in the base plate are this much wider than the thread, mm (common practice, no source).
const HOLE_ROOM: f64 = 4.0;
/// Corners of a drawn hole.
const HOLE_CORNERS: u32 = 48;

#[cfg(test)]
mod tests {
    use super::*;

    /// A rectangle of 300 × 400 mm turned by the angle of the triangle 3, 4, 5.
    #[test]
    fn a_plate_that_lies_askew_is_measured_along_its_sides() {
        let turned = |x: f64, y: f64| [0.8 * x - 0.6 * y, 0.6 * x + 0.8 * y];
        let corners = [[0.0, 0.0], [400.0, 0.0], [400.0, 300.0], [0.0, 300.0]];
        let said = |points: Vec<[f64; 2]>| {
            let mut drawing = Drawing { paths: vec![Path::closed(Layer::Cut, points)], ..Drawing::default() };
            sides(&mut drawing, 10.0, |_| false, false);
            let mut said: Vec<String> = drawing.labels.iter().map(|l| l.text.clone()).collect();
            said.sort();
            assert!(drawing.labels.iter().all(|l| l.angle > -90.0 && l.angle <= 90.1), "read from the right");
            said
        };
        assert_eq!(said(corners.map(|[x, y]| turned(x, y)).into()), ["300", "300", "400", "400"]);
        assert_eq!(said(corners.into()), ["300", "400"], "level: over all");
    }
}
