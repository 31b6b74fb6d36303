//! The coat stage: wetting the inside by turning, where the script asks for it: turns read off a level, volumes, what is
//! wet after each, what drains where, and what the rig carries.

mod picture;
mod tables;

use super::sketch::{count, list, number, optional, refused};
use super::{Stage, any, plates, spine, values};
use crate::chambers::{Enclosed, chambers};
use crate::coat::poses::{FULL, MOST_ROLLS};
use crate::coat::{Asked, Candidates, Load, Plan, Rig, Spot, Turn, film, plan};
use crate::costs::Quantity;
use crate::error::{Error, Result};
use crate::finding::{Finding, Level};
use crate::liquid::{Pools, Posed};
use crate::mass::{Body, Kind, Matter};
use crate::output::Output;
use crate::registry::Registry;
use crate::settings::Values;
use crate::units::{MM2_PER_M2, MM3_PER_LITRE};
use crate::work::Work;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// The registry row.
pub const ROW: Stage = Stage {
    name: "coat",
    summary: "coating the inside by turning: steps, volumes of liquid, what each wets, load on the rig; where asked for",
    settings: &[
        list(
            "axis",
            "direction of the axis it is turned about, from the near to the far end; the chamber's longest side unless given",
            "",
            3,
        ),
        list(
            "second",
            "direction of a second axis, if the work may be hung anew and turned about it too",
            "",
            3,
        ),
        list("through", "a place on the axes; the middle of the chamber unless given", "mm", 3),
        number(
            "turn_step",
            "step of the turns that are looked at; divides 360; a turn wets no less than is found so, a finer step finds more",
            "degrees",
            15.0,
            [3.0, 90.0],
        ),
        number(
            "tilt",
            "most that the far end is raised or lowered; 0 keeps the axis level",
            "degrees",
            75.0,
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
        count("steps", "most steps", 12, [1, 100]),
    ],
    check: any,
    run,
};

/// Steps divide the turn within this, degrees.
const DIVIDES: f64 = 1.0e-6;
/// Pockets of less than this are a film, mm³: a hundredth of a litre.
const POCKET: f64 = 1.0e4;
/// Names listed in one finding.
const LISTED: usize = 3;
/// With no more than this share dry, less wax is worth telling of.
const NEARLY: f64 = 0.1;
/// More than this share of the room is a great deal of wax to melt (common practice, no source).
const MUCH: f64 = 0.1;

/// A chamber with its plan.
#[derive(Clone)]
struct Coated<'a> {
    enclosed: &'a Enclosed,
    rigs: Vec<Rig>,
    /// The rig of what is drawn.
    shown: usize,
    plan: Plan,
    /// Per step.
    carried: Vec<Carried>,
    /// Poured in, mm³.
    poured: f64,
    /// Left on the walls, mm³.
    left: f64,
    /// How many hollows keep more than [`POCKET`] in the stand that drains best.
    pockets: usize,
    /// Lowest place of the work as it stands, the wall there, and what other hollows keep then, mm³.
    standing: (Point3<f64>, u32, f64),
}

/// What the rig carries in a step.
#[derive(Debug, Clone, Copy)]
struct Carried {
    /// Where the moment is greatest.
    peak: Load,
    /// At this turn, degrees.
    peak_at: f64,
    /// Level at its beginning over the chamber's middle, mm, with all hollows filled alike.
    level: f64,
}

/// Degrees with a tenth where there is one.
fn degrees(angle: f64) -> String {
    let tenths = (angle * 10.0).round() / 10.0;
    format!("{tenths}°")
}

/// A turn in words.
fn spoken(turn: &Turn) -> String {
    let tilt = match turn.tilt {
        t if t > 0.0 => format!("far end raised {}", degrees(t)),
        t if t < 0.0 => format!("far end lowered {}", degrees(-t)),
        _ => "axis level".to_owned(),
    };
    let again = if turn.rig > 0 { "second axis, " } else { "" };
    let turned = if turn.is_full() {
        "a full turn".to_owned()
    } else if turn.sweep > 0.0 {
        format!("turn from {} on to {} (by {})", degrees(turn.from), degrees(turn.to()), degrees(turn.sweep))
    } else {
        format!("stand at turn {}", degrees(turn.from))
    };
    format!("{again}{tilt}, {turned}")
}

/// Area of spots, mm².
fn area(spots: &[Spot]) -> f64 {
    spots.iter().map(|s| s.area).sum::<f64>() + 0.0
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
        // What drains out again may be used again: used up is what stays on the walls and in pockets, bought is all of it
        // where nobody takes it back.
        let kept = (one.left + one.plan.drain.pockets).min(one.poured);
        output.quantities.push(Quantity {
            name: "wax l",
            range: [one.left, kept, one.poured].map(|v| v / MM3_PER_LITRE),
            from: format!(
                "{}: low is what is left on the walls, usual with what stays in pockets, high all that is poured in, where \
                 none of it is used again",
                one.enclosed.name
            ),
        });
        output.drawings.extend(picture::steps(one, k + 1));
        output.drawings.push(picture::strip(one, k + 1));
    }
    if !coated.is_empty() {
        output.tables.push(tables::steps(&coated));
        output.tables.push(tables::figures(&set, &coated));
        output.tables.push(tables::walls(&coated));
        output.tables.push(tables::turns(&coated));
        output.tables.push(tables::others(&coated));
        inside(work, output);
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
    #[allow(clippy::cast_precision_loss, reason = "few")]
    let most_turns = MOST_ROLLS as f64;
    if turns > most_turns {
        return Err(Error::input(format!(
            "turn_step {turn_step} makes {turns:.0} poses in a turn (allowed: {MOST_ROLLS})"
        ))
        .remedy("use 3 degrees or more")
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

/// The axes: as asked for, the first along the longest side of the chamber's box unless given.
fn rigs(set: &Values, enclosed: &Enclosed) -> Result<Vec<Rig>> {
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
    let mut rigs = vec![Rig::new(axis, through)?];
    if let Some(a) = set.numbers("second") {
        rigs.push(Rig::new(Vector3::new(a[0], a[1], a[2]), through)?);
    }
    Ok(rigs)
}

/// Most corners of a chamber over all poses: about 80 bytes are kept for each, and a make stays below 300 MB.
const MOST_KEPT: usize = 2_000_000;

fn worked<'a>(
    set: &Values,
    candidates: &Candidates,
    enclosed: &'a Enclosed,
    output: &Output,
) -> Result<Coated<'a>> {
    let chamber = &enclosed.chamber;
    let rigs = rigs(set, enclosed)?;
    let poses = rigs.len() * candidates.turns() * candidates.tilts.len();
    let kept = poses.saturating_mul(chamber.corners_count());
    if kept > MOST_KEPT {
        return Err(Error::input(format!(
            "{poses} poses of a chamber with {} corners are {kept} corners to look at (allowed: {MOST_KEPT})",
            chamber.corners_count()
        ))
        .remedy("use a larger turn_step or tilt_step, or a smaller tilt")
        .at(enclosed.name.as_str()));
    }
    let left = film::volume(chamber.area(), film::wet(set.number("film"), set.number("solids")));
    let volume = set.optional("volume").map(|v| v * MM3_PER_LITRE - left);
    if let Some(v) = volume
        && v <= 0.0
    {
        return Err(Error::input(format!(
            "the film alone takes {:.2} litres; {:.2} are poured in",
            left / MM3_PER_LITRE,
            (v + left) / MM3_PER_LITRE
        ))
        .remedy("pour in more, or ask for a thinner film")
        .at(enclosed.name.as_str()));
    }
    let asked =
        Asked { volume, margin: set.number("margin"), floor: left, most: set.count("steps") as usize };
    let plan = plan(chamber, &rigs, candidates, &asked);
    let bodies: Vec<(f64, Point3<f64>)> = output
        .mass
        .parts
        .iter()
        .filter(|c| c.element.is_some_and(|e| enclosed.elements.contains(&e)))
        .map(|c| (c.body.mass, c.body.centre))
        .collect();
    let poured = plan.volume + left;
    let carried = plan
        .steps
        .par_iter()
        .map(|step| {
            let rig = &rigs[step.turn.rig];
            let loads: Vec<(f64, Load)> = step
                .stands
                .par_iter()
                .map(|&stand| {
                    let posed = Posed::new(chamber, rig.up(stand));
                    let level = posed.level(poured);
                    let mut all = bodies.clone();
                    if let Some(centre) = posed.centre_below(level) {
                        all.push((poured / MM3_PER_LITRE * set.number("density"), centre));
                    }
                    (level, rig.load(stand, &all))
                })
                .collect();
            // The first of the greatest.
            let mut peak = 0;
            for (k, l) in loads.iter().enumerate() {
                if l.1.moment.abs() > loads[peak].1.moment.abs() * (1.0 + SAME_MOMENT) {
                    peak = k;
                }
            }
            Carried { peak: loads[peak].1, peak_at: step.stands[peak].turn, level: loads[0].0 }
        })
        .collect();
    let best = Pools::new(Posed::new(chamber, rigs[plan.drain.rig].up(plan.drain.stand)));
    let low = lowest(&best);
    let pockets = best.hollows().filter(|&h| h != low && best.pools[h].capacity > POCKET).count();
    let upright = Pools::new(Posed::new(chamber, Vector3::z_axis()));
    let low = lowest(&upright);
    let at = upright.lowest(low);
    let wall = upright.triangles(low).find(|&t| chamber.corners(t).contains(&at));
    let standing = (at, wall.map_or(0, |t| chamber.part_of[t]), upright.pools[low].elsewhere);
    Ok(Coated { enclosed, rigs, shown: 0, plan, carried, poured, left, pockets, standing })
}

/// Moments this near to each other are the same, so that rounding does not choose the stand.
const SAME_MOMENT: f64 = 1.0e-6;

fn lowest(pools: &Pools<'_>) -> usize {
    let bottom = |k: &usize| pools.pools[*k].bottom;
    pools.hollows().min_by(|a, b| bottom(a).total_cmp(&bottom(b))).unwrap_or(0)
}

/// The dry film into the mass model, by element.
fn weigh(work: &Work, set: &Values, one: &Coated<'_>, output: &mut Output) -> Result<()> {
    let chamber = &one.enclosed.chamber;
    let per_area = set.number("film") / 1000.0 * set.number("density") / MM3_PER_LITRE;
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
    let chamber = &one.enclosed.chamber;
    let wall_name = |w: u32| chamber.names[w as usize].as_str();
    if !one.plan.dry.is_empty() {
        let mut dry: Vec<&crate::coat::Dry> = one.plan.dry.iter().collect();
        dry.sort_by(|a, b| b.area.total_cmp(&a.area).then(a.wall.cmp(&b.wall)));
        let names: Vec<String> = dry
            .iter()
            .map(|d| {
                let needs = &one.plan.walls[d.wall as usize];
                format!(
                    "{} {:.3} m² near ({:.0}, {:.0}, {:.0}), which takes {:.1} litres in a turn with {}",
                    wall_name(d.wall),
                    d.area / MM2_PER_M2,
                    d.at.x,
                    d.at.y,
                    d.at.z,
                    (needs.turning + one.left) / MM3_PER_LITRE,
                    spoken(&needs.turn)
                )
            })
            .collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let enough = one.plan.volume >= one.plan.serves;
        let remedy = if enough {
            "allow more steps (`steps`), or spray these places through a hole".to_owned()
        } else {
            format!(
                "pour in {:.1} litres, with which these tilts wet all of it; or allow more tilt (`tilt`) or a second axis \
                 (`second`); or plug off the part that is wet with a temporary bulkhead, or spray these places through a hole",
                (one.plan.serves + one.left) / MM3_PER_LITRE
            )
        };
        say(
            Level::Warning,
            "coat-dry",
            name,
            format!(
                "{:.2} m² of {:.2} m² inside are not sure to be wetted, for no pool reaches them with {:.1} litres: {}",
                one.plan.dry_area() / MM2_PER_M2,
                one.plan.area / MM2_PER_M2,
                one.poured / MM3_PER_LITRE,
                list_of(&names)
            ),
            &remedy,
        );
    }
    let whole = Posed::new(chamber, Vector3::z_axis());
    let room = whole.below(whole.range()[1]).volume;
    if one.plan.dry.is_empty() && one.poured > MUCH * room {
        // The wall that asks for the most, in what wets it with the least.
        let needs = |w: usize| one.plan.walls[w].turning.min(one.plan.walls[w].sure);
        let worst = (0..one.plan.walls.len()).max_by(|&a, &b| needs(a).total_cmp(&needs(b))).unwrap_or(0);
        say(
            Level::Note,
            "coat-much",
            name,
            format!(
                "{:.0} litres of {:.0} are needed before pools alone wet every place; {} asks for the most{}",
                one.poured / MM3_PER_LITRE,
                room / MM3_PER_LITRE,
                chamber.names[worst],
                less(one)
            ),
            "more tilt, a second axis (`second`), finer turns (`turn_step`) and ribs that run along the axis ask for less; \
             what runs over the crests wets more than is counted: with less wax (`volume`) the findings name what is left \
             to chance, to be looked at with a borescope and sprayed",
        );
    }
    if one.pockets > 0 {
        say(
            Level::Note,
            "coat-pockets",
            name,
            format!(
                "even in the stand that drains best, {} hollows beside the lowest keep up to {:.2} litres in all",
                one.pockets,
                one.plan.drain.pockets / MM3_PER_LITRE
            ),
            "turn on slowly while it drains, or drill a further hole into each pocket",
        );
    }
    let biggest = one.carried.iter().max_by(|a, b| a.peak.moment.abs().total_cmp(&b.peak.moment.abs()));
    if let Some(worst) = biggest {
        let load = &worst.peak;
        say(
            Level::Note,
            "coat-rig",
            name,
            format!(
                "the rig turns {:.0} kg whose centre is up to {:.0} mm off the axis, and must hold {:.0} N·m about it, most at \
                 turn {:.0}°; slopping liquid and a jerk add to it",
                load.mass,
                one.carried.iter().map(|c| c.peak.off).fold(0.0, f64::max),
                load.moment.abs(),
                worst.peak_at
            ),
            "lay the axis through the centre of mass (`through`), and lock the rig before letting go",
        );
    }
}

/// What a good deal less would do, in words; nothing where that is not much.
fn less(one: &Coated<'_>) -> String {
    let nearly =
        |o: &&crate::coat::Other| o.dry <= NEARLY * one.plan.area && o.volume < one.plan.serves / 2.0;
    one.plan.others.iter().find(nearly).map_or(String::new(), |o| {
        format!(
            "; {:.0} litres are sure to wet {:.1} % in {} steps (schedules/coat-litres.csv)",
            (o.volume + one.left) / MM3_PER_LITRE,
            100.0 * (1.0 - o.dry / one.plan.area),
            o.steps
        )
    })
}

/// What stands inside is not counted.
fn inside(work: &Work, output: &mut Output) {
    let there: Vec<&str> = [spine::ROW.name, plates::ROW.name]
        .into_iter()
        .filter(|s| work.sculpture.stages.contains_key(*s))
        .collect();
    if there.is_empty() {
        return;
    }
    let takes = output.spine.as_ref().map_or(String::new(), |spine| {
        let length: f64 = spine.points.windows(2).map(|leg| (leg[1] - leg[0]).norm()).sum();
        let volume = length * std::f64::consts::PI * spine.tube.outside().powi(2) / 4.0;
        format!("; the tube takes up to {:.1} litres of the room", volume / MM3_PER_LITRE)
    });
    let dams = if there.contains(&plates::ROW.name) {
        "; a plate dams liquid up and parts the chamber, so that with plates the litres are no bound unless liquid can pass them"
    } else {
        ""
    };
    output.findings.push(Finding::new(
        Level::Note,
        "coat-inside",
        work.sculpture.name.as_str(),
        format!(
            "what stands inside ({}) is not counted: a tube clear of the walls pushes the liquid higher, so the walls ask \
             for no more than the litres told, but its own surface needs wax too{takes}{dams}",
            there.join(", ")
        ),
        "coat tubes and plates before they go in, and cut the plates' corners away for liquid to pass",
    ));
}
