//! What the coat stage lists: figures, steps, walls, tilts.

use super::super::sketch::{table, words};
use super::{Coated, area, spoken};
use crate::coat::film;
use crate::liquid::Posed;
use crate::settings::Values;
use crate::table::{Cell, Table};
use crate::units::{MM2_PER_M2, MM3_PER_LITRE};
use nalgebra::Vector3;

type Figure = (&'static str, f64, usize, &'static str, String);

pub(super) fn figures(set: &Values, coated: &[Coated<'_>]) -> Table {
    let mut rows = Vec::new();
    for one in coated {
        let chamber = &one.enclosed.chamber;
        let whole = Posed::new(chamber, Vector3::z_axis());
        let volume = whole.below(whole.range()[1]).volume;
        let wet = film::wet(set.number("film"), set.number("solids"));
        let drain = &one.plan.drain;
        let place = |p: &nalgebra::Point3<f64>, w: u32| {
            format!("at {} mm in {}", crate::text::place_words(p), chamber.names[w as usize])
        };
        let all: [Figure; 11] = [
            ("room inside", volume / MM3_PER_LITRE, 1, "litres", "closed mesh of the inside skin".into()),
            ("inside area, ribs counted", chamber.area() / MM2_PER_M2, 3, "m²", "the same mesh".into()),
            (
                "least that serves",
                one.plan.serves / MM3_PER_LITRE,
                2,
                "litres",
                "full turns at all tilts together wet every place, wherever it lies at first".into(),
            ),
            (
                "left on the walls",
                one.left / MM3_PER_LITRE,
                2,
                "litres",
                format!("{wet:.0} µm wet on the whole area; {} µm dry", set.number("film")),
            ),
            (
                "pour in",
                one.poured / MM3_PER_LITRE,
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
                one.plan.volume / MM3_PER_LITRE,
                2,
                "litres",
                "what is not left on the walls".into(),
            ),
            (
                "kept in pockets, at most",
                drain.pockets.min(one.plan.volume) / MM3_PER_LITRE,
                2,
                "litres",
                "hollows beside the lowest, in the stand that drains best".into(),
            ),
            (
                "wetted",
                100.0 * (1.0 - one.plan.dry_area() / one.plan.area),
                2,
                "%",
                "all steps together, by standing pools in the poses looked at; what runs is not counted"
                    .into(),
            ),
            ("drain: turn", drain.stand.turn, 0, "degrees", "stand that drains best".into()),
            (
                "drain: tilt",
                drain.stand.tilt,
                0,
                "degrees",
                format!("hole ⌀ {:.0} mm {}", set.number("drain"), place(&drain.at, drain.wall)),
            ),
            (
                "kept when it stands upright, at most",
                one.standing.2.min(one.plan.volume) / MM3_PER_LITRE,
                2,
                "litres",
                format!("through a hole at its lowest place, {}", place(&one.standing.0, one.standing.1)),
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
        for (k, rig) in one.rigs.iter().enumerate() {
            let (a, s) = (rig.axis, rig.start);
            rows.push(vec![
                words(one.enclosed.name.as_str()),
                words(if k == 0 { "axis" } else { "second axis" }),
                Cell::Empty,
                Cell::Empty,
                words(format!(
                    "along [{:.3}, {:.3}, {:.3}] through ({:.0}, {:.0}, {:.0}) mm; at turn 0 the side toward [{:.2}, {:.2}, \
                     {:.2}] is up; turns count counter-clockwise seen from the far end",
                    a.x + 0.0,
                    a.y + 0.0,
                    a.z + 0.0,
                    rig.through.x,
                    rig.through.y,
                    rig.through.z,
                    s.x + 0.0,
                    s.y + 0.0,
                    s.z + 0.0
                )),
            ]);
        }
    }
    table("coat", "Coating the inside by turning", &["chamber", "what", "figure", "unit", "how"], rows)
}

/// Degrees, with a tenth where there is one.
fn angle(degrees: f64) -> Cell {
    let tenths = (degrees * 10.0).round();
    Cell::Number(tenths / 10.0 + 0.0, usize::from(tenths % 10.0 != 0.0))
}

#[allow(clippy::cast_precision_loss, reason = "few")]
fn whole_number(k: usize) -> Cell {
    Cell::Number(k as f64, 0)
}

pub(super) fn steps(coated: &[Coated<'_>]) -> Table {
    let mut rows = Vec::new();
    for one in coated {
        for (k, (step, carried)) in one.plan.steps.iter().zip(&one.carried).enumerate() {
            let load = &carried.peak;
            rows.push(vec![
                words(one.enclosed.name.as_str()),
                whole_number(k + 1),
                words(spoken(&step.turn)),
                whole_number(step.turn.rig + 1),
                angle(step.turn.tilt),
                angle(step.turn.from),
                angle(if step.turn.is_full() { step.turn.from } else { step.turn.to() }),
                angle(step.turn.sweep),
                Cell::Number(step.least / MM3_PER_LITRE, 2),
                Cell::Number(step.first / MM2_PER_M2, 2),
                Cell::Number(100.0 * (1.0 - area(&step.dry) / one.plan.area) + 0.0, 2),
                Cell::Number(load.mass, 0),
                Cell::Number(load.along + 0.0, 0),
                Cell::Number(load.off + 0.0, 0),
                Cell::Number(load.moment + 0.0, 0),
                angle(carried.peak_at),
            ]);
        }
    }
    let columns = [
        "chamber",
        "step",
        "what to do",
        "axis",
        "tilt °",
        "from °",
        "to °",
        "by °",
        "least l",
        "newly wet m²",
        "wet after it %",
        "mass kg",
        "centre along axis mm",
        "centre off axis mm",
        "greatest moment N·m",
        "at turn °",
    ];
    table("coat-steps", "Steps of coating, in order: turn slowly, there and back", &columns, rows)
}

pub(super) fn walls(coated: &[Coated<'_>]) -> Table {
    let mut rows = Vec::new();
    for one in coated {
        let chamber = &one.enclosed.chamber;
        let mut order: Vec<usize> = (0..chamber.names.len()).collect();
        order.sort_by(|&a, &b| chamber.names[a].cmp(&chamber.names[b]));
        for w in order {
            #[allow(clippy::cast_possible_truncation, reason = "few names")]
            let wall = w as u32;
            let size: f64 = chamber.wall(wall).iter().map(|&t| chamber.area_vector(t).norm()).sum();
            let needs = &one.plan.walls[w];
            let done = one.plan.steps.iter().position(|s| s.done.contains(&wall));
            rows.push(vec![
                words(one.enclosed.name.as_str()),
                words(chamber.names[w].as_str()),
                Cell::Number(size / MM2_PER_M2, 3),
                whole_number(needs.rig + 1),
                angle(needs.stand.turn),
                angle(needs.stand.tilt),
                Cell::Number(needs.least / MM3_PER_LITRE, 3),
                Cell::Number(needs.sure / MM3_PER_LITRE, 3),
                whole_number(needs.turn.rig + 1),
                angle(needs.turn.tilt),
                Cell::Number(needs.turning / MM3_PER_LITRE, 3),
                match done {
                    Some(k) => whole_number(k + 1),
                    None => words("stays dry in part"),
                },
            ]);
        }
    }
    let columns = [
        "chamber",
        "wall",
        "area m²",
        "axis",
        "best stand: turn °",
        "tilt °",
        "least l",
        "sure l",
        "turning: axis",
        "turning: tilt °",
        "turning: l",
        "wet after step",
    ];
    table(
        "coat-walls",
        "Walls: the stand, and the full turn, that wets each whole with the least",
        &columns,
        rows,
    )
}

pub(super) fn turns(coated: &[Coated<'_>]) -> Table {
    let mut rows = Vec::new();
    for one in coated {
        for alone in &one.plan.alone {
            rows.push(vec![
                words(one.enclosed.name.as_str()),
                whole_number(alone.turn.rig + 1),
                angle(alone.turn.tilt),
                Cell::Number(alone.least / MM3_PER_LITRE, 1),
                Cell::Number(100.0 * alone.wetted / one.plan.area, 1),
            ]);
        }
    }
    let columns = [
        "chamber",
        "axis",
        "tilt °",
        "litres that wet all by this turn alone",
        "wet with the planned volume %",
    ];
    table("coat-turns", "Full turns at each tilt by themselves", &columns, rows)
}

pub(super) fn others(coated: &[Coated<'_>]) -> Table {
    let mut rows = Vec::new();
    for one in coated {
        let own = crate::coat::Other {
            volume: one.plan.volume,
            steps: one.plan.steps.len(),
            turned: one.plan.steps.iter().map(|s| s.turn.sweep).sum(),
            dry: one.plan.dry_area(),
        };
        let mut all: Vec<(&crate::coat::Other, &str)> = one.plan.others.iter().map(|o| (o, "")).collect();
        all.push((&own, "this plan"));
        all.sort_by(|a, b| a.0.volume.total_cmp(&b.0.volume));
        for (other, note) in all {
            rows.push(vec![
                words(one.enclosed.name.as_str()),
                Cell::Number((other.volume + one.left) / MM3_PER_LITRE, 1),
                whole_number(other.steps),
                Cell::Number(other.turned, 0),
                Cell::Number(100.0 * (1.0 - other.dry / one.plan.area), 2),
                words(note),
            ]);
        }
    }
    let columns = ["chamber", "pour in l", "steps", "turned in all °", "sure to be wet %", "note"];
    table(
        "coat-litres",
        "Litres against steps: what other volumes do with the same axes and tilts",
        &columns,
        rows,
    )
}
