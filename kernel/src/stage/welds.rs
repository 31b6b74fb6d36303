//! The welds stage: what every seam takes, the order of assembly, and how the figures come about.

use super::{Stage, any};
use crate::error::Result;
use crate::joint::Joined;
use crate::output::Output;
use crate::registry::Registry;
use crate::sculpture::Meet;
use crate::settings::{Values, unknown_name};
use crate::table::{Cell, Table, table, text};
use crate::weld::assembly::Task;
use crate::weld::groove::Fill;
use crate::weld::practice::{Practice, SETTINGS, STAGE};
use crate::weld::remarks::remarks;
use crate::weld::schedule::{Schedule, SeamWeld, Share, Spread, Sum, Way};
use crate::weld::tacks::Run;
use crate::work::Work;

/// The registry row.
pub const ROW: Stage = Stage {
    name: STAGE,
    summary: "what every seam takes to weld, an order of assembly, and the formulas behind them",
    settings: SETTINGS,
    check: any,
    run,
};

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    let values = super::values(work, &ROW)?;
    let schedule = Schedule::new(work, Practice::new(&values), &named_seams(work, &values)?);
    output.tables.extend([welds(work, &schedule), assembly(work, &schedule), basis(&schedule.practice)]);
    output.findings.extend(remarks(work, &schedule));
    Ok(())
}

/// The seams named in `inside_seams`.
pub(super) fn named_seams(work: &Work, values: &Values) -> Result<Vec<usize>> {
    let names = values.text("inside_seams").unwrap_or_default().split(',').map(str::trim);
    names
        .filter(|name| !name.is_empty())
        .map(|name| {
            work.seams.iter().position(|s| s.id == name).ok_or_else(|| {
                unknown_name("seam", name, work.seams.iter().map(|s| s.id.as_str()))
                    .at("inside_seams")
                    .at("welds")
            })
        })
        .collect()
}

fn number(x: Option<f64>, decimals: usize) -> Cell {
    x.map_or(Cell::Empty, |x| Cell::Number(x, decimals))
}

fn count(n: usize) -> Cell {
    #[allow(clippy::cast_precision_loss, reason = "a count")]
    let n = n as f64;
    Cell::Number(n, 0)
}

/// Minutes of hours.
const MINUTES: f64 = 60.0;

const WELDS: [&str; 26] = [
    "seam",
    "joint",
    "meet",
    "cut",
    "length mm",
    "to weld mm",
    "angle least degrees",
    "angle median degrees",
    "angle most degrees",
    "groove least mm²",
    "groove mean mm²",
    "groove most mm²",
    "bevel least degrees",
    "bevel most degrees",
    "side",
    "run",
    "tacks",
    "tack pitch mm",
    "deposited kg",
    "filler kg",
    "heat input kJ/mm",
    "arc min",
    "time min",
    "running length m",
    "running filler kg",
    "running time h",
];

fn welds(work: &Work, schedule: &Schedule) -> Table {
    let mut running = Running::default();
    let mut rows: Vec<Vec<Cell>> = schedule
        .seams
        .iter()
        .map(|s| {
            let seam = &work.seams[s.seam];
            let (meet, cut) = meeting(s.way);
            let mut row = vec![
                text(&seam.id),
                text(seam.joint.word()),
                text(meet),
                text(cut),
                Cell::Number(seam.length, 0),
            ];
            row.push(Cell::Number(s.sum.length, 0));
            row.extend([s.angle.least, s.angle.median, s.angle.most].map(|x| Cell::Number(x, 1)));
            let of = |get: fn(&Spread) -> f64| s.groove.as_ref().map(get);
            row.extend([of(|g| g.least), of(|g| g.mean), of(|g| g.most)].map(|x| number(x, 2)));
            row.extend([s.bevel.map(|b| b.least), s.bevel.map(|b| b.most)].map(|x| number(x, 1)));
            row.extend([text(side(s)), text(run_words(schedule.practice.run))]);
            row.extend(figures(schedule, &s.sum, &mut running));
            row
        })
        .collect();
    if !rows.is_empty() {
        let total = schedule.total();
        let mut row = vec![text("Together"), Cell::Empty, Cell::Empty, Cell::Empty];
        let length = schedule.seams.iter().map(|s| work.seams[s.seam].length).sum();
        row.extend([Cell::Number(length, 0), Cell::Number(total.length, 0)]);
        row.extend(vec![Cell::Empty; 10]);
        let mut again = Running::default();
        row.extend(figures(schedule, &total, &mut again));
        row[20] = Cell::Empty;
        rows.push(row);
    }
    table("welds", "Welds", &WELDS, rows)
}

/// Totals down to a row.
#[derive(Default)]
struct Running {
    metres: f64,
    filler: f64,
    hours: f64,
}

/// The cells from the tacks on.
fn figures(schedule: &Schedule, sum: &Sum, running: &mut Running) -> Vec<Cell> {
    let [arc, hours] = schedule.hours(sum);
    let filler = schedule.practice.arc.bought(sum.both());
    running.metres += sum.length / 1000.0;
    running.filler += filler;
    running.hours += hours;
    vec![
        count(sum.tacks),
        number(sum.pitch(), 0),
        Cell::Number(sum.both(), 4),
        Cell::Number(filler, 4),
        number(schedule.heat_input(sum), 3),
        Cell::Number(arc * MINUTES, 1),
        Cell::Number(hours * MINUTES, 1),
        Cell::Number(running.metres, 2),
        Cell::Number(running.filler, 3),
        Cell::Number(running.hours, 2),
    ]
}

fn meeting(way: Way) -> (&'static str, &'static str) {
    match way {
        Way::Lap => ("edge on skin", "square"),
        Way::Splice => ("ends", "square"),
        Way::Ends(meet, bevel) => {
            let meet = match meet {
                Meet::Inside => "inside",
                Meet::Middle => "middle",
                Meet::Outside => "outside",
            };
            (meet, if bevel { "bevelled" } else { "square" })
        }
    }
}

fn side(seam: &SeamWeld) -> &'static str {
    match seam.access {
        [Share::None, Share::None] => "none",
        [Share::None, _] => "outside",
        [_, Share::None] => "inside",
        [Share::All, Share::All] => "both",
        [Share::Some, Share::All] => "outside, part inside too",
        [Share::All, Share::Some] => "inside, part outside too",
        [Share::Some, Share::Some] => "part inside, part outside",
    }
}

fn run_words(run: Run) -> String {
    match run {
        Run::Continuous => "continuous".to_owned(),
        Run::Stitch { length, pitch } => format!("stitch {length} / {pitch}"),
    }
}

const ASSEMBLY: [&str; 9] =
    ["step", "element", "task", "part", "mass kg", "seams", "tacks", "weld mm", "time min"];

/// The words for a task.
fn task_words(task: Task) -> &'static str {
    match task {
        Task::Set => "set and tack",
        Task::WeldInside => "weld inside",
        Task::CheckInside => "check inside",
        Task::Close => "close and tack",
        Task::WeldOutside => "weld outside",
        Task::CheckOutside => "check outside",
    }
}

fn assembly(work: &Work, schedule: &Schedule) -> Table {
    let mut running = 0.0;
    let rows = schedule.order.steps.iter().enumerate().map(|(k, step)| {
        let mut seams: Vec<&str> =
            step.bonds.iter().map(|&b| work.seams[schedule.bonds.bonds[b].seam].id.as_str()).collect();
        seams.sort_unstable();
        seams.dedup();
        let figures = schedule.step(step);
        running += figures.map_or(0.0, |f| f.2);
        let element = work.sculpture.elements.get(step.lump).map_or("", |e| e.solid.name.as_str());
        let part = step.part.map(|p| &work.parts[p]);
        vec![
            count(k + 1),
            text(element),
            text(task_words(step.task)),
            part.map_or(Cell::Empty, |p| text(&p.id)),
            number(part.map(|p| p.mass), 1),
            if seams.is_empty() { Cell::Empty } else { text(seams.join(", ")) },
            figures.filter(|_| part.is_some()).map_or(Cell::Empty, |f| count(f.0)),
            number(figures.filter(|_| part.is_none()).map(|f| f.1), 0),
            number(figures.map(|f| f.2 * MINUTES), 1),
            Cell::Number(running, 2),
        ]
    });
    let rows = rows.collect();
    let columns: Vec<&str> = ASSEMBLY.into_iter().chain(["running time h"]).collect();
    table("assembly", "Order of assembly", &columns, rows)
}

/// Said of figures that are settings without a source.
const OWN: &str = "the shop's own figures: put in yours";

fn basis(practice: &Practice) -> Table {
    let (f, arc, tack) = (&practice.filling, &practice.arc, &practice.tacking);
    let sharp = if f.fill == Fill::Sharp {
        format!("up to the sharp edge where ends open no more than {}°", f.sharp_limit)
    } else {
        format!("a cap of 2/3 × (width + 2 × {}) × {}", f.overlap, f.cap)
    };
    let rows = [
        [
            "length, to weld",
            "sum of the straight pieces of the seam on the middle skin; a closure strip has two edges",
            "geometry of the trimmed shell",
            "mean lengths of the root and of the surface of the weld differ by the thickness",
        ],
        [
            "angle",
            "between the two flat pieces of sheet inside the body, least, median by length, most",
            "geometry of the trimmed shell",
            "of the drawn shape; springback and assembly change it",
        ],
        [
            "groove",
            &format!(
                "section between the two ends as cut, with a root gap of {} mm, up to the line joining the corners; square cuts of thickness T at angle A: T² sin(180° − A) / 2 + gap",
                f.gap
            ),
            "plane geometry",
            "of sheets cut and set as drawn",
        ],
        [
            "bevel",
            "each end cut on the line through the crossings of the skins, against a square cut",
            "plane geometry",
            "hand cuts scatter by some degrees",
        ],
        [
            "weld section, open side",
            &format!("groove + {sharp} mm²"),
            "elements of published filler-metal handbooks: rectangle, triangle, cap of 2/3 width × height",
            OWN,
        ],
        [
            "weld section, closed side",
            &format!(
                "fillet a² tan(A / 2) with throat a = {} × thinner sheet up to {}°; wider: a cap; and the root gap",
                f.throat, f.fillet_limit
            ),
            "EN 1993-1-8, 4.3.2.1 for the limit, from memory",
            OWN,
        ],
        [
            Joined::Lap.word(),
            "fillet of two legs as long as the thinner sheet is thick: T² / 2",
            "plane geometry",
            OWN,
        ],
        [
            "deposited",
            &format!("section × welded length × {} kg/m³", arc.density),
            "density of steel, EN 1991-1-1 A.4, from memory",
            "tacks are part of it",
        ],
        [
            "filler",
            &format!("deposited / {} (process {})", arc.efficiency, practice.process.name),
            practice.process.source,
            "stubs, spools and trials come on top",
        ],
        ["arc", &format!("deposited / {} kg/h", arc.rate), "common practice, no source", OWN],
        [
            "time",
            &format!("arc / {} + tacks × {:.0} s", arc.operating_factor, practice.tack_hours * 3600.0),
            "common practice, no source",
            "no grinding, no turning over, no repair",
        ],
        [
            "heat input",
            &format!(
                "{} × {} V × {} A / speed, speed = rate / (section of a pass × density), a pass up to {} mm²",
                arc.heat_factor, arc.voltage, arc.current, arc.pass_area
            ),
            "EN 1011-1; rate, current and voltage: common practice, no source",
            "of the mean section; a welding procedure decides",
        ],
        [
            "tacks",
            &format!(
                "at ends, at turns above {}°, else every {} mm at most; {} mm long; the pitch is a mean",
                tack.turn, tack.pitch, tack.length
            ),
            "common practice, no source",
            "thin sheet moves: tack from the middle outward",
        ],
        [
            "run",
            &match practice.run {
                Run::Continuous => "welded all along".to_owned(),
                Run::Stitch { length, pitch } => {
                    format!("stitches of {length} mm, middles {pitch} mm apart, one at each end")
                }
            },
            "common practice, no source",
            "stitches leave crevices that weathering steel does not forgive",
        ],
        [
            "side",
            "inside only through the opening that the last part of an element will close",
            "order of assembly",
            "closed elements are confined spaces: vent, extract, never alone",
        ],
        [
            "order of assembly",
            &format!(
                "lowest part first; a part of {} mm or more closes the element after all seams asked for from inside; {:.0} min to set a sheet part, {:.0} min a closure strip",
                practice.opening,
                practice.set_hours * MINUTES,
                practice.strip_hours * MINUTES
            ),
            "graph of parts and seams",
            "props, lifting and standing are not checked here",
        ],
    ];
    let rows = rows.map(|row| row.map(text).to_vec()).to_vec();
    table("weld_basis", "How the weld figures come about", &["column", "formula", "source", "caution"], rows)
}
