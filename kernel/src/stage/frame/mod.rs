//! The frame stage: does the spine carry the work, how far does it sway, how does it swing, and what comes to its base.
//!
//! It runs where there is a spine. Tubes that use more than their strength are an error; sway and frequency beyond their
//! limits are warnings.

mod findings;
mod picture;

use super::base;
use super::mass::gather;
use super::sketch::refused;
use super::wind::{Told, told};
use super::{Stage, any};
use crate::base::SideAction;
use crate::error::{ErrorKind, Result};
use crate::finding::Level;
use crate::output::Output;
use crate::registry::Registry;
use crate::sway::{
    Attach, Carried, Figures, Foot, Lightest, Options, Reaction, STAGE, SWAY_ROWS, Side, Sway, Verdict,
};
use crate::table::{Cell, Table, table, text};
use crate::units::NMM_PER_KNM;
use crate::work::Work;
use nalgebra::Vector3;

/// The registry row.
pub const ROW: Stage = Stage {
    name: STAGE,
    summary: "the spine as a frame: reactions, sway, stresses and natural frequencies, where there is a spine",
    settings: SWAY_ROWS,
    check: any,
    run,
};

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    let options = Options::of(&work.sculpture)?;
    let Some(built) = output.spine.clone() else { return Ok(()) };
    if work.mesh.triangles.is_empty() {
        return Ok(());
    }
    gather(work, output)?;
    let carried = Carried::new(work, output)?;
    let place = work.sculpture.name.as_str();
    let worked = Sway::new(&carried, &built, &options).and_then(|sway| {
        let figures = sway.figures()?;
        Ok((sway, figures))
    });
    let (sway, figures) = match worked {
        Ok(both) => both,
        Err(error) if error.kind() == ErrorKind::Input => {
            output.findings.push(refused(Level::Error, "frame-model", place, &error));
            return Ok(());
        }
        Err(error) => return Err(error),
    };
    let actions = side_actions(&figures, &sway, told(work)?);
    let to_base = base::carry(work, output, &actions)?;
    output.findings.extend(findings::all(work, output, &sway, &figures, &options, to_base));
    output.tables.extend([
        legs(&figures),
        sways(&figures, &sway),
        swings(&figures, &sway),
        reactions(&figures),
        held(&sway),
        basis(&sway, &options),
    ]);
    output.drawings.extend(picture::all(work, &sway, &figures));
    Ok(())
}

/// All sideways actions as they come to the base.
fn side_actions(figures: &Figures, sway: &Sway, told: Told) -> Vec<SideAction> {
    let foot = sway.axis().points()[0];
    let one = |(reaction, side): (&Reaction, &Side)| {
        // What acts on the base is against what the base does.
        let (force, moment) = (-reaction.force, -reaction.moment);
        let level = force.xy().norm();
        if level <= 0.0 {
            return None;
        }
        // A level force F at height h over the foot bends it by h (z × F).
        let across = Vector3::z().cross(&force) / level;
        Some(SideAction {
            force: level,
            height: (moment.dot(&across) / level + foot.z).max(0.0),
            toward: force.y.atan2(force.x).to_degrees().rem_euclid(360.0),
            twist: moment.z + (foot.x * force.y - foot.y * force.x),
            words: format!("{} on the spine", side.words()),
            told: if side.is_wind() { told.wind } else { told.push },
        })
    };
    figures.reactions[1..].iter().zip(&figures.what).filter_map(one).collect()
}

fn legs(figures: &Figures) -> Table {
    let columns = [
        "leg",
        "length mm",
        "used",
        "worst case",
        "at mm",
        "equivalent N/mm²",
        "axial N/mm²",
        "bending N/mm²",
        "shear N/mm²",
        "torsion N/mm²",
        "strength N/mm²",
    ];
    let rows = figures.legs.iter().map(|l| {
        vec![
            text(format!("leg {}", l.leg + 1)),
            Cell::Number(l.length, 0),
            Cell::Number(l.used, 3),
            text(l.case.clone()),
            Cell::Number(l.at, 0),
            Cell::Number(l.stress.equivalent, 1),
            Cell::Number(l.stress.axial, 1),
            Cell::Number(l.stress.bending, 1),
            Cell::Number(l.stress.shear, 1),
            Cell::Number(l.stress.torsion, 1),
            Cell::Number(l.strength, 0),
        ]
    });
    let title = "Spine: stress in each leg, with load factors (preliminary: a licensed engineer decides)";
    table("frame", title, &columns, rows.collect())
}

fn sways(figures: &Figures, sway: &Sway) -> Table {
    let mut columns = vec!["from".to_owned()];
    columns.extend(figures.elements.iter().map(|e| format!("{} mm", sway.carried().name(*e))));
    let columns: Vec<&str> = columns.iter().map(String::as_str).collect();
    let row = |name: String, all: &[f64]| {
        let mut row = vec![text(name)];
        row.extend(all.iter().map(|x| Cell::Number(*x, 1)));
        row
    };
    let mut rows = vec![row("weight alone".to_owned(), &figures.sag)];
    rows.extend(figures.what.iter().zip(&figures.sway).map(|(what, all)| row(what.words(), all)));
    let title =
        "Spine: movement of the top of each element in plan; under wind and people from its place at rest";
    table("frame_sway", title, &columns, rows)
}

fn swings(figures: &Figures, sway: &Sway) -> Table {
    let columns = ["mode", "frequency Hz", "time s", "what swings", "how"];
    let rows = (1_u32..).zip(&figures.modes).map(|(k, mode)| {
        let (who, how) = findings::swings(sway, figures, mode);
        vec![
            Cell::Number(f64::from(k), 0),
            Cell::Number(mode.frequency, 2),
            Cell::Number(1.0 / mode.frequency, 2),
            text(who),
            text(how),
        ]
    });
    table("frame_modes", "Spine: natural frequencies", &columns, rows.collect())
}

fn reactions(figures: &Figures) -> Table {
    let columns = [
        "case",
        "along x kN",
        "along y kN",
        "down kN",
        "level kN",
        "about x kN m",
        "about y kN m",
        "twist kN m",
        "bending kN m",
    ];
    let rows = figures.reactions.iter().map(|r| {
        // On the base: against what the base does. Adding 0 takes the sign off a negative zero.
        let (f, m) = (-r.force, -r.moment);
        let n = |x: f64| Cell::Number((x * 1000.0).round() / 1000.0 + 0.0, 3);
        vec![
            text(r.side.map_or("weight".to_owned(), |s| s.words())),
            n(f.x / 1000.0),
            n(f.y / 1000.0),
            n(-f.z / 1000.0),
            n(f.xy().norm() / 1000.0),
            n(m.x / NMM_PER_KNM),
            n(m.y / NMM_PER_KNM),
            n(m.z / NMM_PER_KNM),
            n(m.xy().norm() / NMM_PER_KNM),
        ]
    });
    let title = "Spine: what comes to the base at its foot, each action alone, without factors";
    table("frame_base", title, &columns, rows.collect())
}

fn held(sway: &Sway) -> Table {
    let columns = ["element", "with", "mass kg", "x mm", "y mm", "z mm", "held at mm", "and at mm", "how"];
    let rows = sway.pieces.iter().zip(&sway.holds).map(|(piece, holds)| {
        let name = |e: &usize| sway.carried().name(*e).to_owned();
        let others: Vec<String> = piece.elements.iter().filter(|e| **e != piece.element).map(name).collect();
        let height = |k: usize| holds.get(k).map_or(Cell::Empty, |w| Cell::Number(sway.axis().at(*w).z, 0));
        let c = piece.body.centre;
        vec![
            text(name(&piece.element)),
            if others.is_empty() { Cell::Empty } else { text(others.join(", ")) },
            Cell::Number(piece.body.mass, 1),
            Cell::Number(c.x + 0.0, 0),
            Cell::Number(c.y + 0.0, 0),
            Cell::Number(c.z + 0.0, 0),
            height(0),
            height(1),
            text(if holds.len() == 2 { "in two collars" } else { "stiffly, in one place" }),
        ]
    });
    let title = "Spine: what it carries, and at which heights it must be held";
    table("frame_held", title, &columns, rows.collect())
}

fn basis(sway: &Sway, options: &Options) -> Table {
    let built = sway.built();
    let foot = match options.foot {
        Foot::Fixed => "the foot is fixed: base plate and ground do not give".to_owned(),
        Foot::Anchors => format!(
            "the foot stands on {} anchors as springs E A / length that pull and push; the plate itself does not bend",
            sway.frame().supports.len() - 1
        ),
    };
    let hold = match options.attach {
        Attach::Openings => "at its lower and upper opening or the spine's end",
        Attach::Plates => "at the lowest and the highest of its inside plates",
        Attach::Lower => "at its lower opening, stiffly",
    };
    let shell = if options.shell > 0.0 {
        format!(
            "{} of each element's sheet stiffens the spine between its collars, as asked for",
            options.shell
        )
    } else {
        "the shell's own stiffness is left out".to_owned()
    };
    let wear = sway.wear();
    let rust = if wear.is_none() {
        "nothing is taken off for rust: s.stage(\"water\", #{ … }) with its allowance takes the loss over a life off sheet and tube"
            .to_owned()
    } else {
        format!(
            "the stage water takes {:.2} mm off the tube's outside, {:.2} mm off its inside ({} mm are left for stiffness and \
             stress), and {:.2} mm off the sheets' share; the mass stays whole",
            wear.inside,
            wear.tube_inside,
            words_of(sway.worn()),
            wear.outside + wear.inside
        )
    };
    let rows = [
        [
            "rust",
            &rust,
            "ISO 9223 and ISO 9224 as in the stage water, the exponent from memory",
            "base plate, anchors, collars and welds are not reduced; give them a thickness of their own for it",
        ],
        [
            "model",
            &format!(
                "tube {} mm, {}, {:.0} mm along its axis in {} legs; beams with shear deformation and inertia of turning; \
                 every element a rigid body, held {hold}; {foot}",
                built.tube.words(),
                built.material.name,
                sway.axis().length(),
                sway.axis().points().len() - 1
            ),
            "J. S. Przemieniecki, Theory of matrix structural analysis, 1968, from memory; checked by closed forms and published \
             frames",
            &format!(
                "{shell}; brackets and base plate are taken as stiff, and in truth make it softer; two collars hold an element \
                 without stiffening the spine; welds, collars and plates are taken to hold"
            ),
        ],
        [
            "strength",
            &format!(
                "{} or {} × weight with {} × wind or people, the worst; N/A + M/W, T/Wt, V S/(I 2t); √(σ² + 3τ²) against the \
                 yield strength over {}",
                options.permanent,
                options.favourable,
                options.variable,
                options.yield_factor * built.material.partial_factor()
            ),
            "EN 1990 Table A1.2(B), 6.10; EN 1993-1-1 6.2.1(5) for walls up to class 3, from memory; strength: ",
            "first order: no P-Δ, no buckling; no local buckling of the wall, no fatigue, no welds, no holes in the tube; wind and \
             people not at once; no snow, ice, lifting or transport",
        ],
        [
            "sway",
            &format!(
                "characteristic wind or people, from the place at rest; limit height / {}; people push level toward the spine",
                options.most_sway
            ),
            "common practice, no source for the limit",
            "linear; gusts in step only as the structural factor of the wind has them; twist by wind on one side only is left out",
        ],
        [
            "frequencies",
            &format!("undamped, with all masses in the model; least {} Hz accepted", options.least_frequency),
            "common practice, no source for the limit",
            "from above by 1e-4 at most for the first modes; soft ground, cracked welds and thin base plates make them lower",
        ],
    ];
    let rows = rows.map(|r| {
        let mut cells = r.map(|words| words.split_whitespace().collect::<Vec<_>>().join(" "));
        if cells[0] == "strength" {
            cells[2].push(' ');
            cells[2].push_str(built.material.source);
        }
        cells.map(text).to_vec()
    });
    let title = "How the spine is worked out";
    table("frame_basis", title, &["figure", "how", "source", "limits"], rows.to_vec())
}

/// A worn tube, to a hundredth of a mm.
fn words_of(tube: &crate::tube::Tube) -> String {
    format!("{:.2} × {:.2}", tube.outside(), tube.wall())
}

/// The tubes that were tried for a lightest spine, for the stage that chose.
pub(in crate::stage) fn tried(lightest: &Lightest) -> Table {
    let columns = ["tube mm", "kg/m", "frequency Hz", "sway of allowed", "strength used", "verdict"];
    let last = lightest.tried.len().saturating_sub(1);
    let rows = lightest.tried.iter().enumerate().map(|(k, t)| {
        let mut row = vec![text(t.tube.words()), Cell::Number(t.mass, 2)];
        match t.verdict {
            Verdict::NoWay => row.extend([Cell::Empty, Cell::Empty, Cell::Empty]),
            Verdict::Reaches { frequency, sway, used } => {
                row.extend([Cell::Number(frequency, 2), Cell::Number(sway, 3), Cell::Number(used, 3)]);
            }
        }
        row.push(text(if k == last {
            "chosen: the lightest that does".to_owned()
        } else {
            t.fails.join(", ")
        }));
        row
    });
    table("frame_tubes", "Spine: tubes that were tried, lightest first", &columns, rows.collect())
}
