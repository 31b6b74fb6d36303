//! The balance stage: every level with its load, its support and its margin; how far each element may still be moved;
//! the work as it goes up. What topples is an error, unless anchors are asked for.

mod picture;

use super::mass::gather;
use super::{Stage, any};
use crate::balance::levels::most_missing;
use crate::balance::{Balance, Level as Joint, OPTION_ROWS, Options, Room, STAGE, Sketch};
use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::output::Output;
use crate::registry::Registry;
use crate::rules::{self, Broken};
use crate::sculpture::{LeanBy, Rest};
use crate::table::{Cell, Table, table, text};
use crate::units::{MM2_PER_M2, NMM_PER_KNM};
use crate::work::Work;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// The registry row.
pub const ROW: Stage = Stage {
    name: STAGE,
    summary: "load, support and margin at every level; equilibrium; how far each element may still be moved",
    settings: OPTION_ROWS,
    check: any,
    run,
};

/// The balance of a work with all the masses that stages before have found, and what there is to say of it.
pub(crate) fn judge(work: &Work, output: &mut Output) -> Result<(Balance, Options, Vec<Finding>)> {
    gather(work, output)?;
    let options = Options::of(&work.sculpture)?.standing(output);
    let balance = Balance::new(work, &output.mass, &options);
    let found = findings(work, &balance, &options);
    Ok((balance, options, found))
}

/// The level with the least margin.
pub(crate) fn tightest(balance: &Balance) -> &Joint {
    let first = balance.ground();
    balance.levels.iter().fold(first, |best, l| if l.margin < best.margin { l } else { best })
}

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    let (balance, options, found) = judge(work, output)?;
    let rooms = rooms(work, output, &balance, &options);
    output.findings.extend(found);
    let level = tightest(&balance);
    let broken = rules::margin(&work.sculpture.rules, &level.name, level.margin);
    output.findings.extend(broken.map(Broken::finding));
    let tables = [
        levels(&balance),
        angles(&balance),
        room_table(work, &rooms, &options),
        going_up(work, output, &balance, &options),
        basis(&options),
    ];
    output.tables.extend(tables);
    output.drawings.extend(picture::drawings(work, &balance));
    Ok(())
}

/// How far each element that is not on the ground may be moved: shifts and tips.
fn rooms(work: &Work, output: &Output, balance: &Balance, options: &Options) -> Vec<[Room; 2]> {
    let sketch = Sketch::new(work, &output.mass, balance);
    let reach = work.mesh.bounds().map_or(0.0, |[lo, hi]| (hi - lo).xy().norm());
    balance
        .order
        .par_iter()
        .filter(|&&e| !balance.held_by[e].is_empty())
        .map(|&e| {
            let rest = rest_of(work, balance, e);
            let own = balance.levels.iter().find(|l| l.element == Some(e));
            let riders = own.map_or_else(|| vec![e], |l| l.above.clone());
            [LeanBy::Shift, LeanBy::Tip]
                .map(|by| sketch.room(&rest, &riders, by, options.margin, reach, options.toward))
        })
        .collect()
}

/// How it was stacked; what was placed by hand rests level on the middle of its joint.
fn rest_of(work: &Work, balance: &Balance, element: usize) -> Rest {
    let stacked = work.sculpture.rests.iter().find(|r| r.element == element);
    stacked.copied().unwrap_or_else(|| {
        let level = balance.levels.iter().find(|l| l.element == Some(element));
        let [x, y] = level.map_or([0.0; 2], |l| l.support.centroid());
        let z = level.map_or(0.0, |l| l.support.corners.iter().map(|c| c.z).fold(f64::INFINITY, f64::min));
        let on = balance.held_by[element].first().copied().unwrap_or(element);
        Rest { element, on, foot: Point3::new(x, y, z), normal: Vector3::z(), lean: None, placed_for: None }
    })
}

const LEVELS: [&str; 14] = [
    "level",
    "load kg",
    "x mm",
    "y mm",
    "z mm",
    "support m²",
    "off its middle x mm",
    "off its middle y mm",
    "margin mm",
    "least angle degrees",
    "toward degrees",
    "tipping kN m",
    "holding kN m",
    "use",
];

fn levels(balance: &Balance) -> Table {
    let rows = balance.levels.iter().map(|l| {
        let mut row = vec![text(&l.name), Cell::Number(l.load.mass, 1)];
        row.extend(l.load.centre.iter().map(|x| Cell::Number(x + 0.0, 0)));
        row.push(Cell::Number(l.support.area() / MM2_PER_M2, 4));
        row.extend(l.eccentricity.map(|x| Cell::Number(x, 1)));
        row.push(if l.margin.is_finite() { Cell::Number(l.margin, 1) } else { Cell::Empty });
        row.extend(l.least_angle.map(|x| Cell::Number(x, 1)));
        match l.equ {
            Some(equ) => {
                let p = &l.pivots[equ.pivot];
                row.extend([p.tipping / NMM_PER_KNM, p.holding / NMM_PER_KNM].map(|x| Cell::Number(x, 3)));
                row.push(if equ.use_of.is_finite() { Cell::Number(equ.use_of, 3) } else { Cell::Empty });
            }
            None => row.extend([Cell::Empty, Cell::Empty, Cell::Empty]),
        }
        row
    });
    table("balance", "Balance, level by level", &LEVELS, rows.collect())
}

/// Step of the table of angles, degrees.
const STEP: usize = 15;

fn angles(balance: &Balance) -> Table {
    let mut rows = Vec::new();
    for l in &balance.levels {
        for toward in (0..360_u32).step_by(STEP) {
            let toward = f64::from(toward);
            let reach = l.support.reach(&l.load.centre, toward);
            rows.push(vec![
                text(&l.name),
                Cell::Number(toward, 0),
                reach.map_or(Cell::Empty, |r| Cell::Number(r[0], 1)),
                Cell::Number(l.support.angle(&l.load.centre, toward), 2),
            ]);
        }
    }
    let columns = ["level", "toward degrees", "distance mm", "angle to tipping degrees"];
    table("balance_angles", "Angles to tipping", &columns, rows)
}

fn room_table(work: &Work, rooms: &[[Room; 2]], options: &Options) -> Table {
    let mut columns =
        vec!["element", "least shift mm", "shift toward degrees", "least tip degrees", "tip toward degrees"];
    if options.toward.is_some() {
        columns.extend(["toward degrees", "shift there mm", "tip there degrees"]);
    }
    let rows = rooms.iter().map(|pair| {
        let name = work.sculpture.elements[pair[0].element].solid.name.as_str();
        let mut row = vec![text(name)];
        for room in pair {
            match room.worst() {
                Some((toward, x)) => row.extend([Cell::Number(x, 1), Cell::Number(toward, 1)]),
                None => row.extend([Cell::Empty, Cell::Empty]),
            }
        }
        if let Some(toward) = options.toward {
            row.push(Cell::Number(toward, 1));
            let last = |r: &Room| r.ways.last().and_then(|w| w.1);
            row.extend(pair.iter().map(|r| last(r).map_or(Cell::Empty, |x| Cell::Number(x, 1))));
        }
        row
    });
    let title = "How far each element may still be moved";
    table("balance_room", title, &columns, rows.collect())
}

/// The work as it goes up, element by element.
fn going_up(work: &Work, output: &Output, balance: &Balance, options: &Options) -> Table {
    let columns = [
        "step",
        "element",
        "mass kg",
        "together kg",
        "x mm",
        "y mm",
        "z mm",
        "margin on the ground mm",
        "least margin mm",
        "at",
    ];
    let rows: Vec<Vec<Cell>> = (1..=balance.order.len())
        .into_par_iter()
        .map(|n| {
            let e = balance.order[n - 1];
            let mut there = balance.order[..n].to_vec();
            there.sort_unstable();
            let part = Balance::margins(work, &output.mass, options, Some(&there));
            let ground = part.ground();
            let least = part.levels.iter().min_by(|a, b| a.margin.total_cmp(&b.margin));
            let shown = |x: f64| if x.is_finite() { Cell::Number(x, 1) } else { Cell::Empty };
            #[allow(clippy::cast_precision_loss, reason = "a few elements")]
            let mut row = vec![
                Cell::Number(n as f64, 0),
                text(work.sculpture.elements[e].solid.name.as_str()),
                Cell::Number(output.mass.of_element(e).mass, 1),
                Cell::Number(ground.load.mass, 1),
            ];
            row.extend(ground.load.centre.iter().map(|x| Cell::Number(x + 0.0, 0)));
            row.push(shown(ground.margin));
            row.push(least.map_or(Cell::Empty, |l| shown(l.margin)));
            row.push(least.map_or(Cell::Empty, |l| text(&l.name)));
            row
        })
        .collect();
    table("balance_going_up", "As it goes up", &columns, rows)
}

fn basis(options: &Options) -> Table {
    let f = &options.factors;
    let foot = if options.foot.is_some() {
        "the outline set as foot".to_owned()
    } else {
        format!("the hull of all points of the shell within {} mm of its lowest", options.within)
    };
    let rows = [
        [
            "support of the ground",
            &foot,
            "geometry of the work",
            "the ground itself is not checked: it may give way at an edge",
        ],
        [
            "support of a joint",
            "the hull, seen from above, of the seams in which the upper elements meet the lower ones",
            "geometry of the work",
            "welded joints hold more; before they are welded they hold no more than this",
        ],
        [
            "margin",
            "distance in plan from the load's line to the support's edge; angle: tan = distance / height of the centre \
             over that edge",
            "statics of rigid bodies",
            "nothing bends or settles here",
        ],
        [
            "equilibrium",
            &format!(
                "about every edge: {} × weight beyond it ≤ {} × weight before it, each times its distance; the same weight \
                 is split at the edge; use is the left side over the right",
                f.destabilising, f.stabilising
            ),
            "EN 1990, Table A1.2(A), EQU",
            "strength, sliding and ground are other checks; water that stands in it counts where it tips, with the factor of \
             variable actions, and never where it holds",
        ],
        [
            "room",
            &format!(
                "the element with all on it, one motion at a time, until some level has {} mm; masses as they are, joints \
                 as flat solids cross",
                options.margin
            ),
            "quick model, set right for the place as it is",
            "new cuts move masses: up to a tenth off; work the script out again after moving anything",
        ],
    ];
    let rows = rows.map(|r| r.map(text).to_vec()).to_vec();
    table("balance_basis", "How balance is worked out", &["figure", "how", "source", "limits"], rows)
}

/// A margin that was reached by steel sheet and weld metal alone may be used up by what else is built in.
fn used_up(work: &Work, balance: &Balance) -> Vec<Finding> {
    let placed = work.sculpture.rests.iter().filter_map(|r| Some((r.element, r.placed_for?)));
    placed
        .filter_map(|(element, asked)| {
            let there = balance.tightest(element);
            (there < asked - REACHED).then(|| {
                Finding::new(
                    Level::Warning,
                    "lean-margin",
                    work.sculpture.elements[element].solid.name.as_str(),
                    format!(
                        "lean_to placed it for a margin of {asked} mm by its sheets and welds; with all that is built in, \
                         {there:.1} mm are left"
                    ),
                    format!("ask lean_to for {:.0} mm, or take weight off the side it leans to", 2.0 * asked - there),
                )
            })
        })
        .collect()
}

/// A margin counts as kept within this, mm.
const REACHED: f64 = 0.1;

fn findings(work: &Work, balance: &Balance, options: &Options) -> Vec<Finding> {
    let mut found = used_up(work, balance);
    let name = work.sculpture.name.as_str();
    if balance.lowest > balance.play {
        found.push(Finding::new(
            Level::Error,
            "in-the-air",
            name,
            format!("nothing holds the work: its lowest point is {:.0} mm above the ground", balance.lowest),
            "put its lowest element on the ground with .stand(element), or move it down",
        ));
    }
    for &e in &balance.floating {
        found.push(Finding::new(
            Level::Error,
            "unsupported",
            work.sculpture.elements[e].solid.name.as_str(),
            "nothing holds this element: no seam leads from it down to the ground",
            "stack it on another element with some sink, or stand it on the ground",
        ));
    }
    ground(name, balance.ground(), options, &mut found);
    for level in balance.levels.iter().skip(1) {
        joint(level, options, &mut found);
    }
    for &e in &balance.shared {
        found.push(Finding::new(
            Level::Warning,
            "shared-load",
            work.sculpture.elements[e].solid.name.as_str(),
            "this element is held by several: which of them carries how much is not known here, so their own joints are \
             checked without it",
            "let an engineer share the load out by stiffness; the ground is checked with all of it",
        ));
    }
    found
}

fn ground(name: &str, level: &Joint, options: &Options, found: &mut Vec<Finding>) {
    let f = &options.factors;
    let bad = if options.anchored { Level::Warning } else { Level::Error };
    if !level.support.is_area() {
        found.push(Finding::new(
            bad,
            "no-foot",
            name,
            format!(
                "the work stands on a point or an edge: nothing keeps it up ({} points within {} mm of the lowest)",
                level.support.corners.len(),
                options.within
            ),
            "turn a face of the lowest element down, sink it and leave its lowest face open, or say what it stands on: \
             s.stage(\"balance\", #{ foot: [[x, y], …], anchored: true })",
        ));
        return;
    }
    let Some(equ) = level.equ else { return };
    let p = &level.pivots[equ.pivot];
    let toward = p.line.normal[1].atan2(p.line.normal[0]).to_degrees().rem_euclid(360.0);
    if equ.missing > 0.0 {
        let message = format!(
            "it topples toward {toward:.0}° by its own weight: {} × {:.2} kN m tip it, {} × {:.2} kN m hold it; the load's \
             line is {:.0} mm {} the edge",
            f.destabilising,
            p.tipping / NMM_PER_KNM,
            f.stabilising,
            p.holding / NMM_PER_KNM,
            level.margin.abs(),
            if level.margin < 0.0 { "outside" } else { "inside" }
        );
        found.push(if options.anchored {
            Finding::new(
                Level::Warning,
                "anchors-needed",
                name,
                format!(
                    "{message}; anchors must take {:.2} kN m",
                    most_missing(&level.pivots, f, |_| 0.0) / NMM_PER_KNM
                ),
                "have base plate, anchors and foundation designed for this moment; prop it until they hold",
            )
        } else {
            Finding::new(
                Level::Error,
                "topples",
                name,
                message,
                "lean it less, widen its foot, or anchor it: s.stage(\"balance\", #{ anchored: true }); \
                 lean_to finds the farthest place that still stands",
            )
        });
    } else if level.margin < options.margin {
        found.push(Finding::new(
            Level::Warning,
            "thin-margin",
            name,
            format!(
                "{:.0} mm of margin on the ground toward {toward:.0}°; {} mm were wanted",
                level.margin, options.margin
            ),
            "lean it less or widen its foot",
        ));
    }
}

fn joint(level: &Joint, options: &Options, found: &mut Vec<Finding>) {
    let missing = level.equ.map(|e| e.missing);
    if missing.is_some_and(|m| m <= 0.0) {
        return;
    }
    let how = if level.support.is_area() {
        format!(
            "the load's line is {:.0} mm {} the joint",
            level.margin.abs(),
            if level.margin < 0.0 { "outside" } else { "inside" }
        )
    } else {
        "the joint is an edge or a point".to_owned()
    };
    let moment = missing.map_or(String::new(), |m| {
        format!(
            ", {:.2} kN m short of holding by itself with {} and {} on the weight",
            m / NMM_PER_KNM,
            options.factors.destabilising,
            options.factors.stabilising
        )
    });
    found.push(Finding::new(
        Level::Warning,
        "overhang",
        level.name.as_str(),
        format!("what stands here ({:.0} kg) does not rest by itself: {how}{moment}", level.load.mass),
        "prop it until it is welded all round; seams and spine have to carry that moment for good, so let an engineer \
         look at them",
    ));
}
