//! What there is to say about a spine: findings with remedies.

use super::fit::{Fitted, Prepared};
use crate::finding::{Finding, Level};
use crate::output::Output;
use crate::settings::Values;
use crate::spine::Blocked;
use crate::spine::path::At;
use crate::text::fixed;
use crate::tube::sizes::{SERIES, Series};
use crate::tube::{Tube, material_named};
use crate::work::Work;

/// What the parts near a blocked opening are asked for, mm beyond the greatest room: what bounds it.
const BOUNDS: f64 = 1.0;

/// The list of sizes of a grade.
pub(super) fn series(set: &Values) -> &'static Series {
    if let Some(named) = set.text("series").and_then(|s| SERIES.iter().find(|row| row.name == s)) {
        return named;
    }
    let stainless =
        set.text("grade").and_then(|g| material_named(g).ok()).is_some_and(|m| m.density > STAINLESS);
    let name = if stainless { "stainless" } else { "cold" };
    SERIES.iter().find(|s| s.name == name).unwrap_or(&SERIES[0])
}

/// Densities above this, kg/m³, are those of stainless steel among the grades.
const STAINLESS: f64 = 7860.0;

/// Sizes are alike within this, mm.
const ALIKE: f64 = 1.0e-6;

/// What can be said before a way is looked for.
pub(super) fn before(work: &Work, set: &Values, tube: &Tube, prepared: &Prepared, output: &mut Output) {
    let place = work.sculpture.name.as_str();
    for part in prepared.unseen() {
        output.findings.push(Finding::new(
            Level::Warning,
            "spine-unseen",
            part.as_str(),
            "this part has too many corners to be looked at: the spine does not keep clear of it",
            "split the element, or check the room by hand",
        ));
    }
    let like =
        |t: &Tube| (t.outside() - tube.outside()).abs() < ALIKE && (t.wall() - tube.wall()).abs() < ALIKE;
    if !SERIES.iter().any(|s| s.tubes().any(|t| like(&t))) {
        output.findings.push(Finding::new(
            Level::Note,
            "spine-size",
            place,
            format!("a tube {} is in none of the lists of sizes known here", tube.words()),
            "ask the stockist before anything is cut",
        ));
    }
    let _ = set;
}

/// Why there is no spine.
pub(super) fn blocked(
    work: &Work,
    set: &Values,
    tube: &Tube,
    prepared: &Prepared,
    blocked: &Blocked,
) -> Finding {
    let gap = set.number("gap");
    let place = match blocked.at {
        At::Gate(k) => prepared.openings().get(k).map_or_else(
            || blocked.name.clone(),
            |o| {
                let name = |e: usize| work.sculpture.elements[e].solid.name.as_str();
                format!("{} | {}", name(o.between[0]), name(o.between[1]))
            },
        ),
        At::Start | At::End => work.sculpture.name.clone(),
    };
    let what = match blocked.at {
        At::Gate(k) => {
            let face = prepared.openings().get(k).map_or("", |o| o.gate.name());
            format!("a spine {} finds no way through {face}", tube.words())
        }
        At::Start => format!("a spine {} finds no room to start on the ground", tube.words()),
        At::End => format!("a spine {} finds no way to its end", tube.words()),
    };
    let lacking = blocked.needed - blocked.greatest;
    let how = if blocked.proven {
        format!("{:.1} mm is all there is (proven)", blocked.greatest)
    } else {
        format!(
            "the most that was found on the way there is {:.1} mm (not proven: the search is local)",
            blocked.greatest
        )
    };
    // The widest tube of the list that the room found would let through; wider than that none was tried.
    let room = 2.0 * (blocked.greatest - gap);
    let widest = series(set).tubes().map(|t| t.outside()).filter(|d| *d <= room).reduce(f64::max);
    let size = match widest {
        Some(d) => format!("take a tube no wider than {d} mm"),
        None if blocked.greatest > gap => {
            format!("no tube of the list is thin enough with a gap of {gap} mm: lower the gap")
        }
        None => "not even the gap fits here, so no tube does".to_owned(),
    };
    let change = match blocked.at {
        At::Gate(k) if blocked.proven => {
            let below = prepared.openings().get(k);
            match below.map(|o| o.closed) {
                Some(true) => "shift the element above so that both share more of the face",
                _ => "sink the element above deeper, so that no rib is left in the opening, or shift it",
            }
        }
        At::Gate(_) => "allow more legs, shift or tip the element above less",
        At::Start => "start elsewhere on the foot",
        At::End => "end lower (end_height) or in a lower element (end), or allow more legs",
    };
    Finding::new(
        Level::Error,
        "spine-blocked",
        place,
        format!(
            "{what}: {:.1} mm about its axis are needed (radius and gap), {how}; {lacking:.1} mm are lacking",
            blocked.needed
        ),
        format!("{size}; {change}"),
    )
}

/// What there is to say about one that is there.
pub(super) fn after(work: &Work, set: &Values, prepared: &Prepared, fitted: &Fitted, output: &mut Output) {
    let place = work.sculpture.name.as_str();
    let gap = set.number("gap");
    let tube = &fitted.built.tube;
    let found = &mut output.findings;
    let given = set.is_given("points");
    for &k in &fitted.missed {
        let o = &prepared.openings()[k];
        let name = |e: usize| work.sculpture.elements[e].solid.name.as_str();
        found.push(Finding::new(
            Level::Error,
            "spine-misses",
            o.gate.name(),
            format!(
                "the given axis does not pass from {} into {} within this face",
                name(o.between[0]),
                name(o.between[1])
            ),
            "move its points, or leave `points` out and let the way be looked for",
        ));
    }
    for touch in fitted.touching.iter().filter(|t| given && t.gap < gap - BOUNDS * ALIKE) {
        let where_ = if touch.mitre {
            format!("the mitre above leg {}", touch.leg + 1)
        } else {
            format!("leg {}", touch.leg + 1)
        };
        let at = format!("at a height of {:.0} mm", touch.height);
        let (level, code, what) = if touch.through {
            let what = format!("the axis of {where_} goes through this sheet {at}");
            (Level::Error, "spine-touches", what)
        } else if touch.gap < 0.0 {
            let what = format!("{where_} reaches {:.1} mm into this sheet {at}", -touch.gap);
            (Level::Error, "spine-touches", what)
        } else {
            let what = format!(
                "{where_} comes within {:.1} mm of this sheet {at}: {:.1} mm less than the gap of {gap} mm",
                touch.gap,
                gap - touch.gap
            );
            (Level::Warning, "spine-gap", what)
        };
        found.push(Finding::new(
            level,
            code,
            touch.part.as_str(),
            what,
            "move the points away from it, take a thinner tube, or let the way be looked for",
        ));
    }
    for hole in &fitted.holes {
        let [a, b] = hole.slant.ellipse();
        found.push(Finding::new(
            Level::Warning,
            "spine-hole",
            work.faces[hole.face].id.as_str(),
            format!(
                "the spine passes this face, which has sheet in it: a hole of {:.0} × {:.0} mm is to be cut, its middle at \
                 {} mm along and {} mm across the ribs from the face's origin, its longer axis {} degrees from the ribs",
                2.0 * a + hole.slant.shift(),
                2.0 * b,
                fixed(hole.on_face[0], 0),
                fixed(hole.on_face[1], 0),
                fixed(hole.toward.to_degrees(), 0)
            ),
            "cut it by its paper template before the element is closed; seal it where water must not pass",
        ));
    }
    let room = set.number("weld_room");
    for p in fitted.passed.iter().filter(|p| p.to_mitre < room) {
        let o = &prepared.openings()[p.opening];
        found.push(Finding::new(
            Level::Warning,
            "spine-kink",
            o.gate.name(),
            format!(
                "a mitre lies {:.0} mm from this opening, with {room} mm asked for: there is little room to weld it",
                p.to_mitre.max(0.0)
            ),
            "weld it on the bench and set both legs as one, or allow another number of legs",
        ));
    }
    for (k, leg) in fitted.legs.iter().enumerate() {
        let least = set.number("least_leg") * tube.outside();
        if leg.shortest < least {
            found.push(Finding::new(
                Level::Warning,
                "spine-short",
                format!("spine leg {}", k + 1),
                format!(
                    "its shortest line is {:.0} mm, less than {} diameters ({least:.0} mm)",
                    leg.shortest,
                    set.number("least_leg")
                ),
                "allow fewer legs, or move its ends apart with points of your own",
            ));
        }
    }
    let most = set.number("most_mitre");
    for (k, turn) in fitted.turns.iter().enumerate().filter(|t| t.1.to_degrees() / 2.0 > most) {
        found.push(Finding::new(
            Level::Warning,
            "spine-mitre",
            format!("spine leg {}", k + 1),
            format!(
                "its upper mitre is cut {:.1} degrees from square, more than {most} degrees",
                turn.to_degrees() / 2.0
            ),
            "allow more legs, shift the elements less, or stiffen the mitre as a licensed engineer says",
        ));
    }
    let _ = place;
}
