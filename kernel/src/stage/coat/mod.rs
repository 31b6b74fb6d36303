//! The coat stage: wetting the inside by turning, where the script asks for it: stands read off a level, volumes, what
//! is wet after each, what drains where, and what the rig carries.

mod picture;

use super::sketch::{count, list, number, optional, refused, table, words};
use super::{Stage, values};
use crate::chambers::{Enclosed, chambers};
use crate::coat::{Asked, Candidates, Load, Plan, Rig, Stand, film, plan};
use crate::costs::Quantity;
use crate::error::{Error, Result};
use crate::finding::{Finding, Level};
use crate::liquid::{Pools, Posed};
use crate::mass::{Body, Kind, Matter};
use crate::registry::Registry;
use crate::settings::Values;
use crate::table::Cell;
use crate::work::{Output, Work};
use nalgebra::{Point3, Vector3};

/// The registry row.
pub const ROW: Stage = Stage {
    name: "coat",
    summary: "coating the inside by turning: stands, volumes of liquid, what each wets, load on the rig; where asked for",
    settings: &[
        list(
            "axis",
            "direction of the axis it is turned about, from the near to the far end; the chamber's longest side unless given",
            "",
            3,
        ),
        list("through", "a place on the axis; the middle of the chamber unless given", "mm", 3),
        number(
            "turn_step",
            "step of the turns that are looked at; divides 360",
            "degrees",
            15.0,
            [2.0, 90.0],
        ),
        number(
            "tilt",
            "most that the far end is raised or lowered; 0 keeps the axis level",
            "degrees",
            45.0,
            [0.0, 90.0],
        ),
        number("tilt_step", "step of the tilts that are looked at", "degrees", 15.0, [1.0, 90.0]),
        optional("volume", "liquid poured in; the least that serves unless given", "litres", [0.01, 1.0e5]),
        number(
            "margin",
            "times the least that serves: levels and angles are never true (common practice, no source)",
            "",
            1.1,
            [1.0, 5.0],
        ),
        number(
            "film",
            "dry film left on the walls (cavities 50 to 100 µm: common practice, from memory; a published salt-spray study of \
             cavity waxes tried about 50 µm)",
            "µm",
            75.0,
            [1.0, 5000.0],
        ),
        number(
            "solids",
            "share of the liquid that stays when it is dry; 1 for wax that is melted, not dissolved",
            "",
            1.0,
            [0.05, 1.0],
        ),
        number("density", "density of the liquid (common practice, no source)", "kg/l", 0.9, [0.5, 3.0]),
        number("drain", "diameter of the drain hole", "mm", 20.0, [5.0, 200.0]),
        count("stands", "most stands", 24, [1, 100]),
    ],
    run,
};

/// mm³ in a litre.
const LITRE: f64 = 1.0e6;
/// mm² in a square metre.
const SQUARE_METRE: f64 = 1.0e6;
/// A full turn.
const FULL: f64 = 360.0;
/// Steps divide the turn within this, degrees.
const DIVIDES: f64 = 1.0e-6;
/// Pockets of less than this are a film, mm³: a hundredth of a litre.
const POCKET: f64 = 1.0e4;
/// Names listed in one finding.
const LISTED: usize = 6;

/// A chamber with its plan.
struct Coated<'a> {
    enclosed: &'a Enclosed,
    rig: Rig,
    plan: Plan,
    /// Per stand: what the rig carries, and the level over the chamber's middle with all hollows filled alike.
    carried: Vec<(Load, f64)>,
    /// Poured in, mm³.
    poured: f64,
    /// Left on the walls, mm³.
    left: f64,
    drain: Drain,
}

/// Where it drains best.
struct Drain {
    stand: Stand,
    at: Point3<f64>,
    wall: String,
    /// Most that other hollows keep, mm³.
    pockets: f64,
    /// How many keep more than [`POCKET`].
    count: usize,
}

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    if !work.sculpture.stages.contains_key(ROW.name) {
        return Ok(());
    }
    let set = values(work, &ROW)?;
    let candidates = candidates(&set)?;
    super::mass::gather(work, output)?;
    let found = chambers(work)?;
    for name in &found.leaking {
        output.findings.push(Finding::new(
            Level::Warning,
            "coat-leaking",
            name.as_str(),
            "the inside of these elements does not close, so nothing can be said about coating it",
            "move an element or a phase by a millimetre",
        ));
    }
    let mut coated = Vec::new();
    for enclosed in &found.chambers {
        match worked(&set, &candidates, enclosed, output) {
            Ok(one) => coated.push(one),
            Err(error) => output.findings.push(refused(Level::Error, ROW.name, &enclosed.name, &error)),
        }
    }
    for (k, one) in coated.iter().enumerate() {
        remark(one, output);
        weigh(work, &set, one, output)?;
        // What drains out again may be used again: bought is something between film and filling.
        output.quantities.push(Quantity {
            name: "wax l",
            range: [one.left, one.poured, one.poured].map(|v| v / LITRE),
            from: format!("{}: left on the walls at least, poured in at most", one.enclosed.name),
        });
        output.drawings.push(picture::stands(one, k + 1));
    }
    if !coated.is_empty() {
        output.tables.push(figures(&set, &coated));
        output.tables.push(stands(&coated));
        output.tables.push(walls(&coated));
        output.findings.push(Finding::new(
            Level::Note,
            "coat-caution",
            work.sculpture.name.as_str(),
            "hot wax burns skin and catches fire, its vapour and solvents choke in closed spaces, and a turned work is a \
             moving load: brakes, a locked stand before anyone comes near, nobody below",
            "follow the maker's data sheet and the local rules on hot work, vapour and lifting; have the rig checked by a \
             competent person",
        ));
    }
    Ok(())
}

fn candidates(set: &Values) -> Result<Candidates> {
    let turn_step = set.number("turn_step");
    let turns = FULL / turn_step;
    if (turns - turns.round()).abs() > DIVIDES {
        return Err(Error::input(format!("turn_step {turn_step} does not divide a full turn"))
            .remedy("use 5, 10, 15, 30 or 45 degrees")
            .at(ROW.name));
    }
    let (most, step) = (set.number("tilt"), set.number("tilt_step"));
    let mut raised = Vec::new();
    let mut k = 1.0;
    while k * step < most - DIVIDES {
        raised.push(k * step);
        k += 1.0;
    }
    if most > 0.0 {
        raised.push(most);
    }
    let lowered = raised.iter().rev().map(|t| -t);
    Ok(Candidates { turn_step, tilts: lowered.chain([0.0]).chain(raised.iter().copied()).collect() })
}

/// The axis: as asked for, or along the longest side of the chamber's box.
fn rig(set: &Values, enclosed: &Enclosed) -> Result<Rig> {
    let chamber = &enclosed.chamber;
    let through = set.numbers("through").map_or(chamber.middle, |p| Point3::new(p[0], p[1], p[2]));
    let axis = match set.numbers("axis") {
        Some(a) => Vector3::new(a[0], a[1], a[2]),
        None => {
            let extent = |axis: Vector3<f64>| {
                let [low, high] = Posed::new(chamber, nalgebra::Unit::new_normalize(axis)).range();
                high - low
            };
            // The upright wins a tie.
            [Vector3::z(), Vector3::x(), Vector3::y()]
                .into_iter()
                .reduce(|a, b| if extent(b) > extent(a) { b } else { a })
                .unwrap_or_else(Vector3::z)
        }
    };
    Rig::new(axis, through)
}

fn worked<'a>(
    set: &Values,
    candidates: &Candidates,
    enclosed: &'a Enclosed,
    output: &Output,
) -> Result<Coated<'a>> {
    let chamber = &enclosed.chamber;
    let rig = rig(set, enclosed)?;
    let left = film::volume(chamber.area(), film::wet(set.number("film"), set.number("solids")));
    let volume = set.optional("volume").map(|v| v * LITRE - left);
    if let Some(v) = volume
        && v <= 0.0
    {
        return Err(Error::input(format!(
            "the film alone takes {:.2} litres; {:.2} are poured in",
            left / LITRE,
            (v + left) / LITRE
        ))
        .remedy("pour in more, or ask for a thinner film")
        .at(enclosed.name.as_str()));
    }
    let asked =
        Asked { volume, margin: set.number("margin"), floor: left, most: set.count("stands") as usize };
    let plan = plan(chamber, &rig, candidates, &asked);
    let bodies: Vec<(f64, Point3<f64>)> = output
        .mass
        .parts
        .iter()
        .filter(|c| c.element.is_some_and(|e| enclosed.elements.contains(&e)))
        .map(|c| (c.body.mass, c.body.centre))
        .collect();
    let poured = plan.volume + left;
    let carried = plan
        .stops
        .iter()
        .map(|stop| {
            let posed = Posed::new(chamber, stop.up);
            let level = posed.level(poured);
            let mut all = bodies.clone();
            if let Some(centre) = posed.centre_below(level) {
                all.push((poured / LITRE * set.number("density"), centre));
            }
            (rig.load(stop.stand, &all), level)
        })
        .collect();
    let drain = drain(enclosed, &rig, candidates);
    Ok(Coated { enclosed, rig, plan, carried, poured, left, drain })
}

/// The stand in which the hollows beside the lowest keep the least, the first of equals.
fn drain(enclosed: &Enclosed, rig: &Rig, candidates: &Candidates) -> Drain {
    let chamber = &enclosed.chamber;
    let mut best: Option<Drain> = None;
    for &tilt in &candidates.tilts {
        let mut turn = 0.0;
        while turn < FULL - DIVIDES {
            let stand = Stand { turn, tilt };
            let pools = Pools::new(Posed::new(chamber, rig.up(stand)));
            let lowest =
                pools.hollows().min_by(|&a, &b| pools.pools[a].bottom.total_cmp(&pools.pools[b].bottom));
            if let Some(lowest) = lowest {
                let pockets = pools.pools[lowest].elsewhere;
                if best.as_ref().is_none_or(|b| pockets < b.pockets * SAME_POCKETS - POCKET * DIVIDES) {
                    let wall = pools
                        .triangles(lowest)
                        .find(|&t| chamber.corners(t).contains(&pools.lowest(lowest)))
                        .and_then(|t| chamber.names.get(chamber.part_of[t] as usize));
                    best = Some(Drain {
                        stand,
                        at: pools.lowest(lowest),
                        wall: wall.cloned().unwrap_or_default(),
                        pockets,
                        count: pools
                            .hollows()
                            .filter(|&h| h != lowest && pools.pools[h].capacity > POCKET)
                            .count(),
                    });
                }
            }
            turn += candidates.turn_step;
        }
    }
    best.unwrap_or(Drain {
        stand: Stand { turn: 0.0, tilt: 0.0 },
        at: chamber.middle,
        wall: String::new(),
        pockets: 0.0,
        count: 0,
    })
}

/// Pockets this near to each other are the same, so that rounding does not choose the stand.
const SAME_POCKETS: f64 = 1.0 - 1.0e-6;

/// The dry film into the mass model, by element.
fn weigh(work: &Work, set: &Values, one: &Coated<'_>, output: &mut Output) -> Result<()> {
    let chamber = &one.enclosed.chamber;
    let per_area = set.number("film") / 1000.0 * set.number("density") / LITRE;
    let mut by_element = vec![(0.0, Vector3::zeros()); work.sculpture.elements.len()];
    for t in 0..chamber.triangles() {
        let wall = &chamber.names[chamber.part_of[t] as usize];
        let element =
            work.sculpture.elements.iter().position(|e| {
                wall.strip_prefix(e.solid.name.as_str()).is_some_and(|rest| rest.starts_with('/'))
            });
        let Some(e) = element else { continue };
        let mass = chamber.area_vector(t).norm() * per_area;
        let [a, b, c] = chamber.corners(t);
        by_element[e].0 += mass;
        by_element[e].1 += (a.coords + b.coords + c.coords) / 3.0 * mass;
    }
    for (e, (mass, first)) in by_element.into_iter().enumerate().filter(|(_, b)| b.0 > 0.0) {
        let body = Body::point(mass, Point3::from(first / mass));
        output.mass.push(Some(e), Kind::Coating, "inside coat", Matter::Lump(body))?;
    }
    Ok(())
}

fn list_of(names: &[&str]) -> String {
    let more =
        if names.len() > LISTED { format!(" and {} more", names.len() - LISTED) } else { String::new() };
    format!("{}{more}", names[..names.len().min(LISTED)].join(", "))
}

fn remark(one: &Coated<'_>, output: &mut Output) {
    let name = one.enclosed.name.as_str();
    let mut say = |level, code: &str, place: &str, message: String, remedy: &str| {
        output.findings.push(Finding::new(level, code, place, message, remedy));
    };
    for face in &one.enclosed.open {
        say(
            Level::Warning,
            "coat-open",
            face,
            "this face is open: liquid would run out here; the figures think of it as closed with a plane"
                .to_owned(),
            "close it with the base plate or a blank, sealed, before any wax is poured in",
        );
    }
    for face in &one.enclosed.on_crests {
        say(
            Level::Note,
            "coat-crests",
            face,
            "here the chamber stands on a face kept whole: it is closed along that face's crests, and the ribs below hold \
             liquid that is not counted"
                .to_owned(),
            "pour in as much more as these ribs hold, and look into them afterwards",
        );
    }
    if one.enclosed.by_middle_skin {
        say(
            Level::Note,
            "coat-skin",
            name,
            "the inside skin does not close, so the chamber is that of the middle skin: a little larger"
                .to_owned(),
            "move a phase by a millimetre",
        );
    }
    if !one.plan.dry.is_empty() {
        let mut dry: Vec<&crate::coat::Dry> = one.plan.dry.iter().collect();
        dry.sort_by(|a, b| b.area.total_cmp(&a.area).then(a.wall.cmp(&b.wall)));
        let names: Vec<String> = dry
            .iter()
            .map(|d| {
                let wall = &one.enclosed.chamber.names[d.wall as usize];
                format!(
                    "{wall} {:.3} m² near ({:.0}, {:.0}, {:.0})",
                    d.area / SQUARE_METRE,
                    d.at.x,
                    d.at.y,
                    d.at.z
                )
            })
            .collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        say(
            Level::Warning,
            "coat-dry",
            name,
            format!(
                "{:.2} m² of {:.2} m² inside may stay dry when the rig stops: {}",
                one.plan.dry_area() / SQUARE_METRE,
                one.plan.area / SQUARE_METRE,
                list_of(&names)
            ),
            "pour in more, allow more tilt or more stands, or spray these places through a hole",
        );
    }
    if one.drain.count > 0 {
        say(
            Level::Note,
            "coat-pockets",
            name,
            format!(
                "even in the stand that drains best, {} hollows beside the lowest keep up to {:.2} litres in all",
                one.drain.count,
                one.drain.pockets / LITRE
            ),
            "turn on slowly while it drains, or drill a further hole into each pocket",
        );
    }
    let biggest = one.carried.iter().map(|c| c.0.moment.abs()).fold(0.0, f64::max);
    if biggest > 0.0 {
        let mass = one.carried.first().map_or(0.0, |c| c.0.mass);
        say(
            Level::Note,
            "coat-rig",
            name,
            format!(
                "the rig turns {mass:.0} kg and must hold {biggest:.0} N·m about its axis in every stand; slopping liquid adds \
                 to it"
            ),
            "lay the axis through the centre of mass (`through`), and lock the rig before letting go",
        );
    }
}

type Figure = (&'static str, f64, usize, &'static str, String);

fn figures(set: &Values, coated: &[Coated<'_>]) -> crate::table::Table {
    let mut rows = Vec::new();
    for one in coated {
        let chamber = &one.enclosed.chamber;
        let whole = Posed::new(chamber, Vector3::z_axis());
        let volume = whole.below(whole.range()[1]).volume;
        let serves = one.plan.best.iter().map(|b| b.2).fold(0.0, f64::max);
        let wet = film::wet(set.number("film"), set.number("solids"));
        let all: [Figure; 10] = [
            ("room inside", volume / LITRE, 1, "litres", "closed mesh of the inside skin".into()),
            ("inside area, ribs counted", chamber.area() / SQUARE_METRE, 3, "m²", "the same mesh".into()),
            (
                "least that serves",
                serves / LITRE,
                2,
                "litres",
                "wets every wall whole in its best stand, wherever it lies at first".into(),
            ),
            (
                "left on the walls",
                one.left / LITRE,
                2,
                "litres",
                format!("{wet:.0} µm wet on the whole area; {} µm dry", set.number("film")),
            ),
            (
                "pour in",
                one.poured / LITRE,
                2,
                "litres",
                if set.is_given("volume") {
                    "as asked for".into()
                } else {
                    format!("least that serves × {} and what is left on the walls", set.number("margin"))
                },
            ),
            (
                "comes out again, at most",
                one.plan.volume / LITRE,
                2,
                "litres",
                "what is not left on the walls".into(),
            ),
            (
                "kept in pockets, at most",
                one.drain.pockets.min(one.plan.volume) / LITRE,
                2,
                "litres",
                "hollows beside the lowest, in the stand that drains best".into(),
            ),
            (
                "wetted",
                100.0 * (1.0 - one.plan.dry_area() / one.plan.area),
                2,
                "%",
                "all stands together; turning on the way not counted".into(),
            ),
            ("drain: turn", one.drain.stand.turn, 0, "degrees", "stand that drains best".into()),
            (
                "drain: tilt",
                one.drain.stand.tilt,
                0,
                "degrees",
                format!(
                    "hole ⌀ {:.0} mm at ({:.0}, {:.0}, {:.0}) mm in {}",
                    set.number("drain"),
                    one.drain.at.x,
                    one.drain.at.y,
                    one.drain.at.z,
                    one.drain.wall
                ),
            ),
        ];
        for (what, value, decimals, unit, how) in all {
            rows.push(vec![
                words(one.enclosed.name.as_str()),
                words(what),
                Cell::Number(value + 0.0, decimals),
                words(unit),
                words(how),
            ]);
        }
        let a = one.rig.axis;
        rows.push(vec![
            words(one.enclosed.name.as_str()),
            words("axis"),
            Cell::Empty,
            Cell::Empty,
            words(format!(
                "along [{:.3}, {:.3}, {:.3}] through ({:.0}, {:.0}, {:.0}) mm; at turn 0 the side toward [{:.2}, {:.2}, {:.2}] \
                 is up; turns count counter-clockwise seen from the far end",
                a.x + 0.0,
                a.y + 0.0,
                a.z + 0.0,
                one.rig.through.x,
                one.rig.through.y,
                one.rig.through.z,
                one.rig.start.x + 0.0,
                one.rig.start.y + 0.0,
                one.rig.start.z + 0.0
            )),
        ]);
    }
    table(ROW.name, "Coating the inside by turning", &["chamber", "what", "figure", "unit", "how"], rows)
}

fn stands(coated: &[Coated<'_>]) -> crate::table::Table {
    let mut rows = Vec::new();
    for one in coated {
        let mut wet = 0.0;
        for (k, (stop, (load, level))) in one.plan.stops.iter().zip(&one.carried).enumerate() {
            wet += stop.first;
            let axis = Posed::new(&one.enclosed.chamber, stop.up).height_of(&one.rig.through);
            #[allow(clippy::cast_precision_loss, reason = "few")]
            let number = (k + 1) as f64;
            rows.push(vec![
                words(one.enclosed.name.as_str()),
                Cell::Number(number, 0),
                Cell::Number(stop.stand.turn, 0),
                Cell::Number(stop.stand.tilt + 0.0, 0),
                Cell::Number(stop.least / LITRE, 2),
                Cell::Number(stop.wetted / SQUARE_METRE, 2),
                Cell::Number(stop.first / SQUARE_METRE, 2),
                Cell::Number(100.0 * wet / one.plan.area, 2),
                Cell::Number(level - axis + 0.0, 0),
                Cell::Number(load.mass, 0),
                Cell::Number(load.beside + 0.0, 0),
                Cell::Number(load.moment + 0.0, 0),
            ]);
        }
    }
    let columns = [
        "chamber",
        "stand",
        "turn °",
        "tilt °",
        "least l",
        "wets m²",
        "newly m²",
        "wet after it %",
        "level over axis mm",
        "mass kg",
        "centre beside axis mm",
        "moment N·m",
    ];
    table(
        "coat-stands",
        "Stands for coating, in order (levels with all hollows filled alike)",
        &columns,
        rows,
    )
}

fn walls(coated: &[Coated<'_>]) -> crate::table::Table {
    let mut rows = Vec::new();
    for one in coated {
        let chamber = &one.enclosed.chamber;
        let mut order: Vec<usize> = (0..chamber.names.len()).collect();
        order.sort_by(|&a, &b| chamber.names[a].cmp(&chamber.names[b]));
        for w in order {
            #[allow(clippy::cast_possible_truncation, reason = "few names")]
            let wall = w as u32;
            let area: f64 = chamber.wall(wall).iter().map(|&t| chamber.area_vector(t).norm()).sum();
            let (stand, least, sure) = one.plan.best[w];
            let done = one.plan.stops.iter().position(|s| s.done.contains(&wall));
            rows.push(vec![
                words(one.enclosed.name.as_str()),
                words(chamber.names[w].as_str()),
                Cell::Number(area / SQUARE_METRE, 3),
                Cell::Number(stand.turn, 0),
                Cell::Number(stand.tilt + 0.0, 0),
                Cell::Number(least / LITRE, 3),
                Cell::Number(sure / LITRE, 3),
                match done {
                    #[allow(clippy::cast_precision_loss, reason = "few")]
                    Some(k) => Cell::Number((k + 1) as f64, 0),
                    None => words("stays dry in part"),
                },
            ]);
        }
    }
    let columns =
        ["chamber", "wall", "area m²", "best turn °", "best tilt °", "least l", "sure l", "wet after stand"];
    table("coat-walls", "Walls, and the stand that wets each whole with the least", &columns, rows)
}
