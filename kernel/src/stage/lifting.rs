//! The lifting stage: how the whole work and each element hang, what slings carry, and what they pass on delivery.

use super::sketch::{Seen, choice, count, flag, label, list, number, optional, refused, stem, table, words};
use super::{Stage, any, values};
use crate::drawing::{Drawing, Label, Layer, Path};
use crate::element::Solid;
use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::lift::slings::{self, Hitch, KINDS, Kind as Sling};
use crate::lift::{
    Choice, Grip, OrientedBox, Passage, TiltUp, boxes, choose, hang, least_box, outline, solids, tilt_up,
};
use crate::mass::{Body, Contribution, Kind, MassModel, Matter};
use crate::output::Output;
use crate::polygon::hull;
use crate::registry::Registry;
use crate::settings::Values;
use crate::table::Cell;
use crate::units::STANDARD_GRAVITY;
use crate::work::Work;
use nalgebra::{Point3, Rotation3, Unit, Vector3};
use rayon::prelude::*;

/// The registry row.
pub const ROW: Stage = Stage {
    name: "lifting",
    summary: "lifting points, slings and hook for the whole and each element; vehicle, doorway, ceiling, tilting up",
    settings: &[
        flag("whole", "work out the whole work", true),
        flag("elements", "work out each element", true),
        flag("with_base", "the whole hangs with base plate and skirt welded on", true),
        count("points", "lifting points: 2, 3 or 4; four count as three that carry", 4, [2, 4]),
        number(
            "angle",
            "angle of the flattest leg to the horizontal that slings are chosen for",
            "degrees",
            60.0,
            [30.0, 85.0],
        ),
        optional("hook", "height of the hook over the highest corner, instead of angle", "mm", [0.0, 1.0e5]),
        number("tilt", "angle at which the piece is to hang", "degrees", 0.0, [0.0, 90.0]),
        number(
            "tilt_toward",
            "direction towards which its top leans when it hangs so, counter-clockwise from +x",
            "degrees",
            0.0,
            [-360.0, 360.0],
        ),
        number(
            "allowance",
            "load over the mass of the parts: welds, fittings, water, jerks (common practice, no source)",
            "",
            1.25,
            [1.0, 5.0],
        ),
        choice("slings", "grade 8 chain (EN 818-4) or wire rope (EN 13414-1)", "chain", &KINDS),
        flag(
            "choked",
            "slings choked round the piece: three quarters of a leg is left (published sling charts)",
            false,
        ),
        optional(
            "edge_radius",
            "radius of the sharpest edge a sling is bent over; free in eyes unless given",
            "mm",
            [0.0, 1000.0],
        ),
        list("vehicle", "load space: width, height, length", "mm", 3),
        list("doorway", "clear width and height", "mm", 2),
        optional("ceiling", "height under which it is tilted up", "mm", [1.0, 1.0e6]),
    ],
    check: any,
    run,
};

/// What is worked out of one piece.
struct Piece {
    name: String,
    mass: f64,
    centre: Point3<f64>,
    solids: Vec<Solid>,
    /// Lines of what goes with them: base plate and skirt, legs of the spine.
    beside: Vec<[Point3<f64>; 2]>,
    hung: Result<Choice>,
    packed: Result<OrientedBox>,
    least: Result<OrientedBox>,
    upright: Option<OrientedBox>,
    tilt: Option<TiltUp>,
}

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    let set = values(work, &ROW)?;
    let limits = Limits::new(&set)?;
    super::mass::gather(work, output)?;
    let masses = &output.mass;
    let radius = output.spine.as_ref().map_or(0.0, |s| s.tube.outside() / 2.0);
    let count = work.sculpture.elements.len();
    let mut wanted: Vec<(String, Vec<usize>)> = Vec::new();
    if set.flag("whole") {
        wanted.push(("whole".to_owned(), (0..count).collect()));
    }
    if set.flag("elements") && (count > 1 || !set.flag("whole")) {
        let element = |e: usize| (work.sculpture.elements[e].solid.name.clone(), vec![e]);
        wanted.extend((0..count).map(element));
    }
    let pieces: Vec<Piece> = wanted
        .into_par_iter()
        .filter_map(|(name, elements)| piece(work, masses, &set, &limits, (name, &elements), radius))
        .collect();
    if pieces.is_empty() {
        return Ok(());
    }
    let kind = Sling::of(set.text("slings").unwrap_or_default());
    let hitch = Hitch { choked: set.flag("choked"), edge: set.optional("edge_radius") };
    // What was not asked for is worth a note at most.
    let level = if work.sculpture.stages.contains_key(ROW.name) { Level::Warning } else { Level::Note };
    let (mut rows, mut legs, mut delivery) = (Vec::new(), Vec::new(), Vec::new());
    for piece in &pieces {
        rows.push(lifting_row(piece, &set, kind, hitch, level, output));
        legs.extend(leg_rows(piece));
        delivery.push(delivery_row(piece, &limits, output));
        let hung = piece.hung.as_ref().ok().map(|c| lifting_drawing(piece, c, &set));
        output.drawings.extend(hung);
        output.drawings.extend(piece.packed.as_ref().ok().map(|b| box_drawing(piece, b)));
    }
    let columns = [
        "piece",
        "mass kg",
        "load kg",
        "centre x mm",
        "centre y mm",
        "centre z mm",
        "legs",
        "hook over centre mm",
        "flattest leg degrees",
        "factor",
        "greatest tension kN",
        "sling",
        "size mm",
        "used %",
    ];
    let title = "Lifting (preliminary: a competent lifting person and a licensed engineer decide)";
    output.tables.push(table(ROW.name, title, &columns, rows));
    if !legs.is_empty() {
        let columns = [
            "piece",
            "leg",
            "x mm",
            "y mm",
            "z mm",
            "length mm",
            "to horizontal degrees",
            "from vertical degrees",
            "factor",
            "tension kN",
        ];
        output.tables.push(table(
            "lifting_legs",
            "Lifting points and legs, where the work stands",
            &columns,
            legs,
        ));
    }
    let columns = [
        "piece",
        "box length mm",
        "box width mm",
        "box height mm",
        "box m³",
        "carried",
        "upright length mm",
        "upright width mm",
        "upright height mm",
        "vehicle",
        "doorway",
        "tilting up reaches mm",
        "ceiling",
    ];
    output.tables.push(table("delivery", "Delivery: smallest box, and what it passes", &columns, delivery));
    Ok(())
}

/// What pieces must pass.
struct Limits {
    vehicle: Option<Passage>,
    doorway: Option<Passage>,
    ceiling: Option<f64>,
}

impl Limits {
    fn new(set: &Values) -> Result<Self> {
        let vehicle = set.numbers("vehicle").map(|v| Passage { opening: [v[0], v[1]], length: Some(v[2]) });
        let doorway = set.numbers("doorway").map(|v| Passage { opening: [v[0], v[1]], length: None });
        for (name, passage) in [("vehicle", &vehicle), ("doorway", &doorway)] {
            if let Some(passage) = passage {
                passage.check(name).map_err(|e| e.at(name).at(ROW.name))?;
            }
        }
        Ok(Self { vehicle, doorway, ceiling: set.optional("ceiling") })
    }
}

fn piece(
    work: &Work,
    masses: &MassModel,
    set: &Values,
    limits: &Limits,
    (name, elements): (String, &[usize]),
    radius: f64,
) -> Option<Piece> {
    let whole = elements.len() == work.sculpture.elements.len();
    // Water and the base plate stay behind when an element is lifted by itself.
    let lifted = |c: &Contribution| match c.element {
        Some(e) => c.kind != Kind::Water && elements.contains(&e),
        None => whole && c.kind == Kind::Base && set.flag("with_base"),
    };
    let Body { mass, centre, .. } = masses.body(lifted);
    if mass <= 0.0 {
        return None;
    }
    let load = mass * set.number("allowance");
    let solids = solids(work, elements);
    let mut points = outline(work, elements);
    for p in beside(masses.parts.iter().filter(|c| lifted(c)), radius) {
        let within = |solid: &Solid| solid.faces.iter().all(|f| f.normal.dot(&(p - f.point)) <= 0.0);
        if !solids.iter().any(within) && points.iter().all(|q| (p - q).norm() > SAME) {
            points.push(p);
        }
    }
    let (sin, cos) = set.number("tilt_toward").to_radians().sin_cos();
    let axis = Unit::new_normalize(Vector3::new(-sin, cos, 0.0));
    let turn = Rotation3::from_axis_angle(&axis, set.number("tilt").to_radians());
    let grips = grips(&solids);
    let asked = set.count("points") as usize;
    let hung = choose(load, centre, &grips, asked, set.number("angle"), &turn).or_else(|first| {
        // Fewer points may do where so many do not.
        let fewer =
            (2..asked).rev().find_map(|n| choose(load, centre, &grips, n, set.number("angle"), &turn).ok());
        fewer.ok_or(first)
    });
    let hung = hung.and_then(|mut choice| {
        if let Some(over) = set.optional("hook") {
            let top = points.iter().map(|p| (turn * (p - centre)).z).fold(f64::NEG_INFINITY, f64::max);
            let placed: Vec<Point3<f64>> = choice.hang.legs.iter().map(|l| l.at).collect();
            choice.hang = hang(load, centre, &placed, top + over)?;
        }
        Ok(choice)
    });
    let all = boxes(&points);
    let least = least_box(&points);
    let upright = all.as_ref().ok().and_then(|b| b.first().copied());
    let packed = match (&all, &limits.vehicle) {
        (Ok(all), Some(vehicle)) => {
            let fits = all.iter().filter(|b| vehicle.takes(b.size, true));
            match fits.min_by(|a, b| a.volume().total_cmp(&b.volume())) {
                Some(found) => Ok(*found),
                None => least.clone(),
            }
        }
        _ => least.clone(),
    };
    let beside = beside_lines(masses.parts.iter().filter(|c| lifted(c)), radius);
    Some(Piece { name, mass, centre, beside, hung, packed, least, upright, tilt: tilt_up(&points), solids })
}

/// Points nearer to each other than this are one, mm.
const SAME: f64 = 1.0e-3;

/// Corners of what stands out of the foot, base plate and skirt, as a prism over their hull in plan; and the ends of legs of
/// a spine of this radius, which may reach beyond their element.
fn beside<'a>(parts: impl Iterator<Item = &'a Contribution>, radius: f64) -> Vec<Point3<f64>> {
    let ([low, high], legs) = plate_and_legs(parts);
    let mut points: Vec<Point3<f64>> = legs
        .into_iter()
        .flatten()
        .flat_map(|p| {
            let [x, y, z] = [Vector3::x(), Vector3::y(), Vector3::z()].map(|v| v * radius);
            [p + x, p - x, p + y, p - y, p + z, p - z]
        })
        .collect();
    points.extend(low.into_iter().zip(high).flat_map(|(low, high)| [low, high]));
    points
}

/// Both ends of a straight line in space.
type Line = [Point3<f64>; 2];

/// The prism of base plate and skirt, its lower and its upper corners, and both ends of each leg of the spine.
fn plate_and_legs<'a>(parts: impl Iterator<Item = &'a Contribution>) -> ([Vec<Point3<f64>>; 2], Vec<Line>) {
    let (mut base, mut legs) = (Vec::new(), Vec::new());
    for c in parts {
        match &c.matter {
            Matter::Sheet(facets) if c.kind == Kind::Base => base.extend(facets.iter().flat_map(|f| {
                let half = f.normal * (f.thickness / 2.0);
                f.corners.into_iter().flat_map(move |p| [p + half, p - half])
            })),
            Matter::Rods(rods) if c.kind == Kind::Spine => legs.extend(rods.iter().map(|r| r.ends)),
            _ => {}
        }
    }
    let heights = base.iter().map(|p: &Point3<f64>| p.z);
    let ends = heights.fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], z| [a.min(z), b.max(z)]);
    let plan = hull(base.iter().map(|p| [p.x, p.y]).collect());
    (ends.map(|z| plan.iter().map(|p| Point3::new(p[0], p[1], z)).collect()), legs)
}

/// Sides of a tube as it is drawn.
const SIDES: u32 = 12;

/// Edges of the prism, and of each leg both ends and some lines along it.
fn beside_lines<'a>(parts: impl Iterator<Item = &'a Contribution>, radius: f64) -> Vec<[Point3<f64>; 2]> {
    let ([low, high], legs) = plate_and_legs(parts);
    let round = |corners: &[Point3<f64>]| -> Vec<[Point3<f64>; 2]> {
        (0..corners.len()).map(|i| [corners[i], corners[(i + 1) % corners.len()]]).collect()
    };
    let mut lines = round(&low);
    lines.extend(round(&high));
    lines.extend(low.into_iter().zip(high).map(|(low, high)| [low, high]));
    for ends in legs {
        let Some(along) = Unit::try_new(ends[1] - ends[0], SAME) else { continue };
        let across = if along.z.abs() < 0.9 { Vector3::z() } else { Vector3::x() };
        let u = Unit::new_normalize(along.cross(&across));
        let v = along.cross(&u);
        let rings = ends.map(|end| -> Vec<Point3<f64>> {
            let turn = |k: u32| f64::from(k) * std::f64::consts::TAU / f64::from(SIDES);
            (0..SIDES).map(|k| end + (u.into_inner() * turn(k).cos() + v * turn(k).sin()) * radius).collect()
        });
        lines.extend(rings.iter().flat_map(|ring| round(ring)));
        let [from, to] = rings;
        lines.extend(from.into_iter().zip(to).step_by(3).map(|(from, to)| [from, to]));
    }
    lines
}

/// Upper corners that are not inside another element, each with the upper edges that start there.
fn grips(solids: &[Solid]) -> Vec<Grip> {
    let mut grips: Vec<Grip> = Vec::new();
    for (k, solid) in solids.iter().enumerate() {
        let covered = |p: &Point3<f64>| {
            solids.iter().enumerate().any(|(j, other)| {
                j != k
                    && other
                        .faces
                        .iter()
                        .all(|f| f.polygon.is_empty() || f.normal.dot(&(p - f.point)) < -COVERED)
            })
        };
        for face in solid.faces.iter().filter(|f| f.normal.z > LOOKS_UP) {
            for (i, a) in face.polygon.iter().enumerate() {
                let b = face.polygon[(i + 1) % face.polygon.len()];
                if !covered(a) {
                    grips.push(Grip { at: *a, edge_to: (!covered(&b)).then_some(b) });
                }
            }
        }
    }
    grips
}

/// A face whose normal rises by more than this looks up.
const LOOKS_UP: f64 = 0.5;
/// A corner deeper than this inside another element cannot be reached, mm.
const COVERED: f64 = 1.0;

fn lifting_row(
    piece: &Piece,
    set: &Values,
    kind: Sling,
    hitch: Hitch,
    level: Level,
    output: &mut Output,
) -> Vec<Cell> {
    let c = piece.centre;
    let load = piece.mass * set.number("allowance");
    let mut row = vec![
        words(&piece.name),
        Cell::Number(piece.mass, 1),
        Cell::Number(load, 1),
        Cell::Number(c.x, 0),
        Cell::Number(c.y, 0),
        Cell::Number(c.z, 0),
    ];
    let choice = match &piece.hung {
        Ok(choice) => choice,
        Err(error) => {
            let flat = error.message().contains("flatter than");
            let (level, code) = if flat { (Level::Error, "lift-angle") } else { (level, "lift-points") };
            output.findings.push(refused(level, code, &piece.name, error));
            row.extend(vec![Cell::Empty; 8]);
            return row;
        }
    };
    let hang = &choice.hang;
    if !choice.stable {
        output.findings.push(Finding::new(
            level,
            "lift-unstable",
            &piece.name,
            "its lifting points lie below its centre of mass: it may turn over in the slings",
            "weld eyes on higher up, or have the lift planned by hand",
        ));
    }
    let flattest = hang.flattest();
    row.extend([
        words(hang.legs.len().to_string()),
        Cell::Number(hang.hook.z - c.z, 0),
        Cell::Number(flattest, 1),
        Cell::Number(hang.legs.iter().map(|l| l.factor).fold(0.0, f64::max), 3),
        Cell::Number(hang.most() / 1000.0, 2),
    ]);
    match slings::choose(kind, hang.legs.len(), 90.0 - flattest, hang.most() / STANDARD_GRAVITY, load, hitch)
    {
        Ok(sling) => {
            let memory = if sling.row.from_memory { ", figures to be looked up" } else { "" };
            row.extend([
                words(format!("{}{memory}", kind.words())),
                Cell::Number(sling.row.size, 0),
                Cell::Number(sling.used * 100.0, 0),
            ]);
        }
        Err(error) => {
            output.findings.push(refused(level, "lift-sling", &piece.name, &error));
            row.extend(vec![Cell::Empty; 3]);
        }
    }
    row
}

fn leg_rows(piece: &Piece) -> Vec<Vec<Cell>> {
    let Ok(choice) = &piece.hung else { return Vec::new() };
    let legs = choice.hang.legs.iter().zip(&choice.points).enumerate();
    legs.map(|(k, (leg, at))| {
        vec![
            words(&piece.name),
            words((k + 1).to_string()),
            Cell::Number(at.x, 0),
            Cell::Number(at.y, 0),
            Cell::Number(at.z, 0),
            Cell::Number(leg.length, 0),
            Cell::Number(leg.angle, 1),
            Cell::Number(90.0 - leg.angle, 1),
            Cell::Number(leg.factor, 3),
            Cell::Number(leg.tension / 1000.0, 2),
        ]
    })
    .collect()
}

fn delivery_row(piece: &Piece, limits: &Limits, output: &mut Output) -> Vec<Cell> {
    let mut row = vec![words(&piece.name)];
    let size = |b: Option<&OrientedBox>| -> Vec<Cell> {
        b.map_or(vec![Cell::Empty; 3], |b| b.size.iter().map(|x| Cell::Number(*x, 0)).collect())
    };
    let packed = piece.packed.as_ref().ok();
    row.extend(size(packed));
    row.push(packed.map_or(Cell::Empty, |b| Cell::Number(b.volume() / 1.0e9, 3)));
    row.push(packed.map_or(Cell::Empty, |b| words(carried(b))));
    row.extend(size(piece.upright.as_ref()));
    let mut check = |name: &str, fits: Option<bool>, why: String, cure: &str| {
        if fits == Some(false) {
            output.findings.push(Finding::new(Level::Warning, name, &piece.name, why, cure));
        }
        fits.map_or(Cell::Empty, |f| words(if f { "fits" } else { "does not fit" }))
    };
    let words_of = |b: Option<&OrientedBox>| {
        b.map_or(String::new(), |b| format!("{:.0} × {:.0} × {:.0} mm", b.size[0], b.size[1], b.size[2]))
    };
    let vehicle = limits.vehicle.as_ref().zip(packed).map(|(v, b)| v.takes(b.size, true));
    row.push(check(
        "vehicle",
        vehicle,
        format!(
            "it does not fit the vehicle in any position tried; its smallest box is {}",
            words_of(piece.least.as_ref().ok())
        ),
        "deliver it in elements, or choose a larger vehicle",
    ));
    let doorway = limits.doorway.as_ref().zip(piece.least.as_ref().ok()).map(|(d, b)| d.takes(b.size, false));
    row.push(check(
        "doorway",
        doorway,
        format!("its smallest box, {}, does not pass the doorway", words_of(piece.least.as_ref().ok())),
        "carry it in in elements, or take it in another way",
    ));
    row.push(piece.tilt.map_or(Cell::Empty, |t| Cell::Number(t.peak, 0)));
    let ceiling = limits.ceiling.zip(piece.tilt).map(|(c, t)| t.peak <= c);
    let peak = piece.tilt.map_or(0.0, |t| t.peak);
    let standing = piece.tilt.map_or(0.0, |t| t.standing);
    row.push(check(
        "ceiling",
        ceiling,
        format!("tilted up it reaches {peak:.0} mm on the way (it stands {standing:.0} mm high), above the ceiling of {:.0} mm", limits.ceiling.unwrap_or_default()),
        "bring it in standing, lift it from above, or put it together in place",
    ));
    row
}

/// How a piece lies in its box.
fn carried(b: &OrientedBox) -> String {
    let up = b.turn() * Vector3::z();
    let lean = up.z.clamp(-1.0, 1.0).acos().to_degrees();
    if lean < STANDING { "standing".to_owned() } else { format!("turned {lean:.0} degrees from standing") }
}

/// A piece turned by less stands, degrees.
const STANDING: f64 = 0.5;

/// Straight edges of solids, each once.
fn edges(solids: &[Solid]) -> Vec<[Point3<f64>; 2]> {
    solids.iter().flat_map(Solid::edges).map(|e| e.ends).collect()
}

/// Two elevations of the piece in its slings.
fn lifting_drawing(piece: &Piece, choice: &Choice, set: &Values) -> Drawing {
    let name = format!("lifting-{}", stem(&piece.name));
    let title = format!("{} in its slings, seen from the south and from the east (preliminary)", piece.name);
    let mut drawing = Drawing { name, title, ..Drawing::default() };
    let (sin, cos) = set.number("tilt_toward").to_radians().sin_cos();
    let axis = Unit::new_normalize(Vector3::new(-sin, cos, 0.0));
    let turn = Rotation3::from_axis_angle(&axis, set.number("tilt").to_radians());
    let c = piece.centre;
    let turned = |e: [Point3<f64>; 2]| e.map(|p| c + turn * (p - c));
    let lines: Vec<[Point3<f64>; 2]> = edges(&piece.solids).into_iter().map(turned).collect();
    let beside: Vec<[Point3<f64>; 2]> = piece.beside.iter().copied().map(turned).collect();
    let hang = &choice.hang;
    let views = [[Vector3::x(), Vector3::z()], [Vector3::y(), Vector3::z()]];
    let span = |axis: &Vector3<f64>| {
        let all = lines.iter().chain(&beside).flatten().chain(std::iter::once(&hang.hook));
        all.map(|p| p.coords.dot(axis))
            .fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], x| [l.min(x), h.max(x)])
    };
    let [foot, head] = span(&Vector3::z());
    let wide: f64 = views.iter().map(|axes| span(&axes[0])).map(|[l, h]| (h - l) * BESIDE).sum();
    let size = PAPER_LETTERS * (wide / ROOM[0]).max((head - foot) / (ROOM[1] - LEGS));
    let mut next = 0.0;
    for axes in views {
        let [low, high] = span(&axes[0]);
        let mut seen = Seen { drawing: &mut drawing, axes, at: [next - low, 0.0] };
        for [a, b] in &lines {
            seen.line(Layer::Fold, a, b);
        }
        for [a, b] in &beside {
            seen.line(Layer::Helper, a, b);
        }
        for leg in &hang.legs {
            seen.line(Layer::Seam, &leg.at, &hang.hook);
        }
        seen.line(Layer::Helper, &hang.hook, &c);
        let hook = seen.place(&hang.hook);
        let centre = seen.place(&c);
        let marks = |at: [f64; 2], r: f64| -> Vec<[f64; 2]> {
            (0..16)
                .map(|k| (f64::from(k) * std::f64::consts::TAU / 16.0).sin_cos())
                .map(|(s, c)| [at[0] + r * c, at[1] + r * s])
                .collect()
        };
        drawing.paths.push(Path::closed(Layer::Seam, marks([hook[0], hook[1] + size / 2.0], size / 2.0)));
        drawing.paths.push(Path::closed(Layer::Mark, marks(centre, size / 2.0)));
        drawing.labels.push(label([hook[0], hook[1] + 2.0 * size], size, "hook"));
        let seen = Seen { drawing: &mut drawing, axes, at: [next - low, 0.0] };
        // Numbers stand beside the eyes, away from the hook; eyes behind each other have theirs below each other.
        let mut numbers: Vec<Label> = Vec::new();
        for (k, leg) in hang.legs.iter().enumerate() {
            let p = seen.place(&leg.at);
            let aside = if p[0] < hook[0] { -size } else { size };
            let mut at = [p[0] + aside, p[1] - size / 2.0];
            while numbers
                .iter()
                .any(|n| (n.at[0] - at[0]).abs() < size && (n.at[1] - at[1]).abs() < 1.3 * size)
            {
                at[1] -= 1.4 * size;
            }
            numbers.push(label(at, size, (k + 1).to_string()));
        }
        drawing.labels.extend(numbers);
        next += (high - low) * BESIDE + 4.0 * size;
    }
    let mut y = foot - 3.0 * size;
    let legs = hang.legs.iter().enumerate().map(|(k, leg)| {
        format!("{}: {:.0} mm at {:.0}°, {:.1} kN", k + 1, leg.length, leg.angle, leg.tension / 1000.0)
    });
    for text in std::iter::once("legs, angles to the horizontal".to_owned()).chain(legs) {
        drawing.labels.push(Label { at: [0.0, y], height: size, angle: 0.0, centred: false, text });
        y -= 1.7 * size;
    }
    drawing
}

/// Height of letters on paper, mm, and the room for a drawing: two beside each other in the job book.
const PAPER_LETTERS: f64 = 2.5;
const ROOM: [f64; 2] = [76.0, 90.0];
/// Of it, what the lines on the legs take.
const LEGS: f64 = 34.0;
/// Distance of two elevations over their width.
const BESIDE: f64 = 1.25;

/// What figures take of the height of a drawing of a box, mm on paper.
const FIGURES: f64 = 18.0;

/// The piece in its transport box, from the side and from above.
fn box_drawing(piece: &Piece, b: &OrientedBox) -> Drawing {
    let name = format!("delivery-{}", stem(&piece.name));
    let title = format!(
        "{} in its smallest box{}, from the side and from above: {:.0} × {:.0} × {:.0} mm",
        piece.name,
        if piece.beside.is_empty() { "" } else { " with what is joined to it" },
        b.size[0],
        b.size[1],
        b.size[2]
    );
    let mut drawing = Drawing { name, title, ..Drawing::default() };
    let lines = edges(&piece.solids);
    let [along, across, up] = b.axes;
    // Both views below each other: what is high is drawn smaller, its letters are not.
    let size = PAPER_LETTERS * (b.size[0] / ROOM[0]).max((b.size[1] + b.size[2]) / (ROOM[1] - FIGURES));
    let mut base = 0.0;
    for (axes, height) in [([along, up], b.size[2]), ([along, across], b.size[1])] {
        let middle = [b.middle.coords.dot(&axes[0]), b.middle.coords.dot(&axes[1])];
        let at = [b.size[0] / 2.0 - middle[0], base - height / 2.0 - middle[1]];
        let mut seen = Seen { drawing: &mut drawing, axes, at };
        for [p, q] in &lines {
            seen.line(Layer::Fold, p, q);
        }
        for [p, q] in &piece.beside {
            seen.line(Layer::Helper, p, q);
        }
        let corners = vec![[0.0, base - height], [b.size[0], base - height], [b.size[0], base], [0.0, base]];
        drawing.paths.push(Path::closed(Layer::Helper, corners));
        drawing.labels.push(label(
            [b.size[0] / 2.0, base - height - 1.3 * size],
            size,
            format!("{:.0}", b.size[0]),
        ));
        let side = label([b.size[0] + 1.3 * size, base - height / 2.0], size, format!("{height:.0}"));
        drawing.labels.push(Label { angle: 90.0, ..side });
        base -= height + 4.5 * size;
    }
    drawing
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::error::Error;
    use crate::settings::Value;
    use std::collections::BTreeMap;

    #[test]
    fn plate_and_legs_that_count_for_the_box_are_drawn_within_it() {
        use crate::mass::{Body, Rod};
        let ends = [Point3::new(0.0, 0.0, 0.0), Point3::new(300.0, 0.0, 4000.0)];
        let rod = Rod { mass: 100.0, ends };
        let matter = Matter::Rods(vec![rod]);
        let leg = Contribution {
            element: Some(0),
            kind: Kind::Spine,
            what: "leg 1".to_owned(),
            matter,
            body: Body::default(),
            reach: 0.0,
        };
        let lines = beside_lines(std::iter::once(&leg), 50.0);
        assert_eq!(lines.len(), 2 * 12 + 4, "two rings and four lines along");
        let high = lines.iter().flatten().map(|p| p.z).fold(f64::NEG_INFINITY, f64::max);
        // The upper ring stands square to the leg: its highest point is the radius times the leg's sine higher.
        let expected = 4000.0 + 50.0 * 300.0 / f64::hypot(300.0, 4000.0);
        assert!((high - expected).abs() < 0.5, "{high} against {expected}");
        assert!(beside(std::iter::once(&leg), 50.0).iter().any(|p| p.z >= high), "the box reaches as far");
    }

    #[test]
    fn a_doorway_of_nothing_is_refused_with_its_name() {
        let list = |xs: &[f64]| Value::List(xs.iter().map(|x| Value::Number(*x)).collect());
        let given = BTreeMap::from([("doorway".to_owned(), list(&[0.0, 2000.0]))]);
        let set = Values::check("lifting", ROW.settings, &given).expect("numbers");
        let error: Error = Limits::new(&set).err().expect("refused");
        assert!(error.to_string().contains("doorway") && error.to_string().contains("0 mm"), "{error}");
    }
}
