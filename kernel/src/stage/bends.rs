//! The bends stage: the bend lines of every blank, in order, with what the brake needs to know.
//!
//! Order of bending (common practice, no source): from the datum edge on, so that the flat rest of the sheet
//! stays in front of the brake, or all bends of one direction first, so that the sheet is turned over once.
//! Shortest flange (common practice, no source): the sheet must lie on both shoulders of the die, so 0.7 × its
//! opening from the bend line, the opening 8 × thickness unless told. Preliminary: a test bend decides.

mod pages;

use self::pages::Bent;
use super::{Stage, any, values};
use crate::drawing::{Layer, signed_area};
use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::output::Output;
use crate::registry::Registry;
use crate::settings::{Setting, SettingKind};
use crate::table::{Cell, Table, columns_of};
use crate::template::{self, BendLine, Template};
use crate::work::Work;

const fn factor(name: &'static str, summary: &'static str, default: f64) -> Setting {
    Setting {
        name,
        summary,
        unit: "× thickness",
        kind: SettingKind::Number { default: Some(default), min: 0.0, max: 100.0 },
    }
}

/// The registry row.
pub const ROW: Stage = Stage {
    name: "bends",
    summary: "bend lines of every blank in order, with angle, direction and radius, drawn several blanks a page; bends a brake cannot do",
    settings: &[
        Setting {
            name: "order",
            summary: "from the datum edge on, or all bends of one direction first",
            unit: "",
            kind: SettingKind::Choice { default: Some("edge"), of: &["edge", "direction"] },
        },
        factor("die_opening", "opening of the die (common practice, no source: 8)", 8.0),
        Setting {
            name: "least_flange",
            summary: "least flat from a bend line to the edge or the next bend; 0.7 × die opening unless given",
            unit: "mm",
            kind: SettingKind::Optional { min: 0.0, max: 1000.0 },
        },
        factor(
            "least_edge",
            "least distance from the curve of a bend to a corner of the cut that does not cross it, or to a cut \
             edge beside it (common practice, no source: 2)",
            2.0,
        ),
        factor("least_radius", "least inside radius (common practice, no source: 1)", 1.0),
    ],
    check: any,
    run,
};

/// Share of the die's opening that sheet must reach from the bend line (common practice, no source).
const REST_ON_DIE: f64 = 0.7;
/// Lengths that differ by less are equal, mm.
const ROUNDING: f64 = 1.0e-6;

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    let set = values(work, &ROW)?;
    let by_direction = set.text("order") == Some("direction");
    let (mut rows, mut findings, mut bent) = (Vec::new(), Vec::new(), Vec::new());
    for made in &output.templates {
        let Some(blank) =
            made.templates.iter().find(|t| t.kind == template::blank::ROW.name && !t.bends.is_empty())
        else {
            continue;
        };
        let Some(thickness) = work.parts.get(made.part).map(crate::part::Part::thickness) else { continue };
        let least =
            set.optional("least_flange").unwrap_or(REST_ON_DIE * set.number("die_opening") * thickness);
        let radius = set.number("least_radius") * thickness;
        let steps = steps(&blank.bends, by_direction);
        let beside = set.number("least_edge") * thickness;
        let [mut short, mut holed, mut tight, mut near] = [const { Vec::new() }; 4];
        for (i, bend) in blank.bends.iter().enumerate() {
            let flats = flats(blank, i);
            rows.push(row(blank, bend, steps[i], flats));
            let number = bend.number.to_string();
            if flats.is_some_and(|f| f.iter().any(|x| x + bend.allowance / 2.0 < least - ROUNDING)) {
                short.push(number.clone());
            }
            if crosses_hole(blank, bend) {
                holed.push(number.clone());
            } else if outline_near(blank, bend, beside) {
                near.push(number.clone());
            }
            if bend.allowance > 0.0 && bend.radius < radius - ROUNDING {
                tight.push(number);
            }
        }
        let mut say = |code: &str, numbers: &[String], what: String, cure: &str| {
            if !numbers.is_empty() {
                let message = format!("bends {}: {what}", numbers.join(", "));
                findings.push(Finding::new(Level::Warning, code, blank.part.as_str(), message, cure));
            }
        };
        say(
            "short-flange",
            &short,
            format!(
                "less than {least:.1} mm of flat sheet to rest on the die (common practice, preliminary)"
            ),
            "use a narrower die (die_opening), move the edge or the phase, or bend before cutting",
        );
        say("bend-hole", &holed, "a hole lies in the bend".to_owned(), "cut the hole after bending");
        say(
            "bend-edge",
            &near,
            format!(
                "the cut has a corner or an edge less than {beside:.1} mm beside the bend (common practice, \
                 preliminary)"
            ),
            "expect the edge to bulge or tear: relieve it, or leave it on and trim it after bending",
        );
        bent.push(Bent { blank, steps });
        say(
            "tight-bend",
            &tight,
            format!("the inside radius is below {radius:.1} mm (common practice, preliminary)"),
            "use a larger bend_radius, or set least_radius as the steel's maker allows",
        );
    }
    if !rows.is_empty() {
        let names = [
            "part",
            "bend",
            "step",
            "from datum edge mm",
            "direction",
            "angle turned degrees",
            "inside radius mm",
            "allowance mm",
            "flat before mm",
            "flat after mm",
        ];
        let columns = columns_of(&names);
        let title = "Bends, from the left edge of each blank".to_owned();
        output.tables.push(Table { name: ROW.name.to_owned(), title, columns, rows });
    }
    let pages = pages::pages(&bent, by_direction);
    output.drawings.extend(pages);
    output.findings.extend(findings);
    Ok(())
}

/// For each bend its turn in the order of bending, from 1.
fn steps(bends: &[BendLine], by_direction: bool) -> Vec<usize> {
    let mut order: Vec<usize> = (0..bends.len()).collect();
    if by_direction && let Some(first) = bends.first() {
        order.sort_by_key(|&i| (bends[i].up != first.up, i));
    }
    let mut steps = vec![0; bends.len()];
    for (step, i) in order.into_iter().enumerate() {
        steps[i] = step + 1;
    }
    steps
}

/// Flat sheet before and after a bend, to the next bend or the cut, at the middle of its longest line, mm;
/// none if the line does not lie on the part.
fn flats(blank: &Template, i: usize) -> Option<[f64; 2]> {
    let bend = &blank.bends[i];
    let layer = if bend.up { Layer::BendUp } else { Layer::BendDown };
    let line = blank
        .drawing
        .on(layer)
        .filter(|p| p.points.len() == 2 && p.points.iter().all(|q| (q[0] - bend.across).abs() < ROUNDING))
        .max_by(|a, b| a.length().total_cmp(&b.length()))?;
    let y = f64::midpoint(line.points[0][1], line.points[1][1]);
    let mut ends = [f64::NEG_INFINITY, f64::INFINITY];
    for [a, b] in blank.drawing.on(Layer::Cut).flat_map(crate::drawing::Path::segments) {
        if (a[1] <= y) != (b[1] <= y) {
            let x = a[0] + (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]);
            if x <= bend.across { ends[0] = ends[0].max(x) } else { ends[1] = ends[1].min(x) }
        }
    }
    if let Some(b) = i.checked_sub(1).and_then(|k| blank.bends.get(k)) {
        ends[0] = ends[0].max(b.across + b.allowance / 2.0);
    }
    if let Some(b) = blank.bends.get(i + 1) {
        ends[1] = ends[1].min(b.across - b.allowance / 2.0);
    }
    let half = bend.allowance / 2.0;
    Some([(bend.across - half - ends[0]).max(0.0), (ends[1] - bend.across - half).max(0.0)])
}

fn crosses_hole(blank: &Template, bend: &BendLine) -> bool {
    let half = bend.allowance / 2.0;
    blank.drawing.on(Layer::Cut).filter(|p| signed_area(&p.points) < 0.0).any(|hole| {
        let xs = || hole.points.iter().map(|p| p[0]);
        xs().any(|x| x > bend.across - half - ROUNDING) && xs().any(|x| x < bend.across + half + ROUNDING)
    })
}

/// Whether the cut comes nearer to the curve of a bend than `least` without crossing it: with a corner where it
/// turns back, or with an edge that runs along it. Corners of a cut that goes on across the bend do not count:
/// every wavy seam has them.
fn outline_near(blank: &Template, bend: &BendLine, least: f64) -> bool {
    let reach = bend.allowance / 2.0 + least - ROUNDING;
    let aside = |p: &[f64; 2]| (p[0] - bend.across).abs();
    blank.drawing.on(Layer::Cut).any(|path| {
        let points = &path.points;
        (0..points.len()).any(|i| {
            let (a, b) = (&points[i], &points[(i + 1) % points.len()]);
            let c = &points[(i + 2) % points.len()];
            let turns_back = (b[0] - a[0]) * (c[0] - b[0]) < 0.0;
            let run = [(b[0] - a[0]).abs(), (b[1] - a[1]).abs()];
            let beside = run[0] < ALONG * run[1] && run[1] > least;
            (turns_back && aside(b) < reach) || (beside && aside(a).min(aside(b)) < reach)
        })
    })
}

/// An edge runs along a bend if it leaves it by less than this share of its length (6 degrees).
const ALONG: f64 = 0.1;

fn row(blank: &Template, bend: &BendLine, step: usize, flats: Option<[f64; 2]>) -> Vec<Cell> {
    #[allow(clippy::cast_precision_loss, reason = "few bends")]
    let step = step as f64;
    let flat = |k: usize| flats.map_or(Cell::Empty, |f| Cell::Number(f[k], 1));
    vec![
        Cell::Text(blank.part.clone()),
        Cell::Number(f64::from(bend.number), 0),
        Cell::Number(step, 0),
        Cell::Number(bend.across, 2),
        Cell::Text(if bend.up { "up" } else { "down" }.to_owned()),
        Cell::Number(bend.angle, 1),
        Cell::Number(bend.radius, 1),
        Cell::Number(bend.allowance, 2),
        flat(0),
        flat(1),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::{Drawing, Path};

    fn bend(number: u32, across: f64, up: bool) -> BendLine {
        BendLine { across, angle: 90.0, up, radius: 2.0, number, allowance: 4.0, drawn: true }
    }

    fn blank(hole: Option<f64>) -> Template {
        let bends = vec![bend(1, 10.0, true), bend(2, 50.0, false), bend(3, 90.0, true)];
        let line = |b: &BendLine| {
            let layer = if b.up { Layer::BendUp } else { Layer::BendDown };
            Path::open(layer, vec![[b.across, 0.0], [b.across, 20.0]])
        };
        let mut paths: Vec<Path> = bends.iter().map(line).collect();
        paths.push(Path::closed(Layer::Cut, vec![[0.0, 0.0], [120.0, 0.0], [120.0, 20.0], [0.0, 20.0]]));
        if let Some(x) = hole {
            paths.push(Path::closed(Layer::Cut, vec![[x, 3.0], [x, 6.0], [x + 3.0, 6.0], [x + 3.0, 3.0]]));
        }
        let drawing = Drawing { paths, ..Drawing::default() };
        Template {
            datum: None,
            kind: "blank".into(),
            part: "A/east".into(),
            drawing,
            area: 2400.0,
            cut_length: 280.0,
            bends,
        }
    }

    #[test]
    fn flats_run_to_the_cut_or_to_the_next_bend() {
        let blank = blank(None);
        assert_eq!(
            [0, 1, 2].map(|i| flats(&blank, i).expect("drawn")),
            [[8.0, 36.0], [36.0, 36.0], [36.0, 28.0]]
        );
    }

    #[test]
    fn order_is_from_the_edge_on_or_by_direction() {
        assert_eq!(steps(&blank(None).bends, false), [1, 2, 3]);
        assert_eq!(steps(&blank(None).bends, true), [1, 3, 2]);
    }

    #[test]
    fn a_hole_in_the_curve_of_a_bend_is_found_and_one_beside_it_is_not() {
        for (x, found) in [(49.0, true), (51.0, true), (46.0, true), (53.0, false), (30.0, false)] {
            let blank = blank(Some(x));
            assert_eq!(crosses_hole(&blank, &blank.bends[1]), found, "hole at {x}");
        }
    }

    #[test]
    fn a_cut_beside_a_bend_is_found_and_one_across_it_is_not() {
        // The bend curves from 8 to 12; edges nearer than 3 mm count.
        let found = |points: Vec<[f64; 2]>| {
            let mut blank = blank(None);
            blank.drawing.paths.push(Path::closed(Layer::Cut, points));
            outline_near(&blank, &blank.bends[0], 3.0)
        };
        let box_from = |x: f64| vec![[x, 3.0], [x, 9.0], [x + 8.0, 9.0], [x + 8.0, 3.0]];
        assert!(found(box_from(14.9)) && !found(box_from(15.1)));
        // A notch that comes to a point beside the bend, and one that stops short of it.
        let notch = |tip: f64| vec![[30.0, 0.0], [tip, 5.0], [30.0, 10.0]];
        assert!(found(notch(14.0)) && !found(notch(16.0)));
        // A wavy edge turns in the bend but goes on across it.
        assert!(!found(vec![[-20.0, 0.0], [10.0, 6.0], [60.0, 5.0], [60.0, 20.0], [-20.0, 20.0]]));
    }
}
