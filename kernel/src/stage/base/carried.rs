//! What the base carries: ground pressure, anchors and their concrete, under every sideways action that is known.
//!
//! Each action is looked at with the weight made greater and with the weight that helps, and each figure is the worst
//! of all (EN 1990 Table A1.2(B), equation 6.10). Water comes and goes: it only counts where it makes things worse.
//!
//! Where the stage `water` tells of rust, plate and anchors are looked at as it leaves them: both stand outdoors, so the
//! plate's margin loses it from above and below, and anchors lose it all round.

use super::measured::TapeDatum;
use super::{ROW, rectangle, stressed_area};
use crate::base::anchors::{Actions, distribute};
use crate::base::bearing::{Load, balance, effective};
use crate::base::concrete::{Concrete, Cone};
use crate::base::{BasePlate, SideAction};
use crate::error::{Error, Result};
use crate::finding::{Finding, Level};
use crate::mass::Kind;
use crate::output::Output;
use crate::settings::Values;
use crate::stage::mass::gather;
use crate::stage::sketch::{refused, table, words};
use crate::stage::values;
use crate::table::Cell;
use crate::units::STANDARD_GRAVITY;
use crate::water::Wear;
use crate::work::Work;
use nalgebra::Point3;
use std::f64::consts::PI;

/// Tables and findings made here; they are made anew when more is known.
const TABLES: [&str; 2] = [ROW.name, "anchors"];
const CODES: [&str; 5] = ["ground", "tips", "anchors", "cone", "base-no-side"];

/// Newtons per mm² in kN/m².
const KPA: f64 = 1000.0;

/// Works out what the base carries under sideways actions, in place of what was said before. Whether it did so for these
/// actions: not where the script gave `side_force` itself, nor where there is no base.
///
/// # Errors
/// Settings that the rows do not allow; parts without thickness.
pub(in crate::stage) fn carry(work: &Work, output: &mut Output, actions: &[SideAction]) -> Result<bool> {
    // The base is told by the stage itself, when it runs.
    let Some(built) = output.base.clone() else { return Ok(false) };
    let set = values(work, &ROW)?;
    gather(work, output)?;
    output.tables.retain(|t| !TABLES.contains(&t.name.as_str()));
    output.findings.retain(|f| !CODES.contains(&f.code.as_str()));
    let own = given(work, &set, output);
    let sides = own.as_ref().map_or(actions, std::slice::from_ref);
    let wear = Wear::of(&work.sculpture)?;
    let base = Base { work, wear, set: &set, plate: &built.plate, places: &built.places };
    let cases = base.cases(output, sides);
    let worst = base.worst(&cases);
    base.say(output, &worst, sides);
    Ok(own.is_none() && !actions.is_empty())
}

/// The sideways force of the script.
fn given(work: &Work, set: &Values, output: &Output) -> Option<SideAction> {
    if !set.is_given("side_force") {
        return None;
    }
    let centre = output.mass.body(|c| c.kind != Kind::Water).centre;
    let (force, toward) = (set.number("side_force"), set.number("side_toward"));
    let (sin, cos) = toward.to_radians().sin_cos();
    Some(SideAction {
        force,
        height: set.optional("side_height").unwrap_or(work.centre_of_mass.z),
        toward,
        twist: force * (centre.x * sin - centre.y * cos),
        words: "the force of the script".to_owned(),
        told: true,
    })
}

struct Base<'a> {
    work: &'a Work,
    /// What rust takes over the life of the work.
    wear: Wear,
    set: &'a Values,
    plate: &'a BasePlate,
    places: &'a [[f64; 2]],
}

/// One combination, about the plate's origin.
struct Case {
    words: String,
    actions: Actions,
    /// Whether it comes from what the script told, not from a made-up wind.
    told: bool,
}

/// A figure with the case it is the worst of.
#[derive(Default)]
struct Most {
    figure: f64,
    case: String,
}

impl Most {
    fn of(&mut self, figure: f64, case: &str) -> bool {
        let more = self.case.is_empty() || figure > self.figure;
        if more {
            *self = Self { figure, case: case.to_owned() };
        }
        more
    }
}

/// The worst of all cases.
#[derive(Default)]
struct Worst {
    pressure: Most,
    contact: f64,
    load: Option<Load>,
    pressure_told: bool,
    tension: Most,
    shear: Most,
    /// Greatest tension and shear of each anchor.
    each: Vec<[f64; 2]>,
    /// Greatest pull over what the cone holds by design.
    pull: Most,
    total: f64,
    cone: Option<Cone>,
    cone_told: bool,
    /// Code, case and reason of what cannot be balanced, and whether it was told.
    refused: Vec<(&'static str, String, Error, bool)>,
}

/// What rust leaves of a round bar of some area, mm², when it takes so much off all round, mm.
fn worn_area(area: f64, loss: f64) -> f64 {
    let radius = (area / PI).sqrt();
    PI * (radius - loss).max(0.0).powi(2)
}

/// That rust is counted, in words; nothing where it is not.
fn by_rust(wear: &Wear) -> String {
    if wear.outside > 0.0 {
        format!(", {:.2} mm off each face by rust (stage water)", wear.outside)
    } else {
        String::new()
    }
}

impl Base<'_> {
    fn cases(&self, output: &Output, sides: &[SideAction]) -> Vec<Case> {
        let held = output.mass.body(|c| c.kind != Kind::Water);
        let all = output.mass.body(|_| true);
        let (permanent, variable) = (self.set.number("permanent"), self.set.number("variable"));
        let weights = [(self.set.number("favourable"), held), (permanent, all)];
        let o = self.plate.origin;
        let about = |p: Point3<f64>| [p.x - o.x, p.y - o.y];
        let mut cases = Vec::new();
        for side in std::iter::once(None).chain(sides.iter().map(Some)) {
            for (factor, body) in &weights {
                let down = factor * body.mass * STANDARD_GRAVITY;
                let mut load = Load::at(down, about(body.centre));
                let mut words = format!("{factor} × weight");
                let (mut shear, mut twist) = ([0.0; 2], 0.0);
                if let Some(a) = side {
                    let (sin, cos) = a.toward.to_radians().sin_cos();
                    shear = [variable * a.force * cos, variable * a.force * sin];
                    let lever = a.height + self.plate.thickness;
                    for (first, force) in load.first.iter_mut().zip(shear) {
                        *first += force * lever;
                    }
                    // Moved from (0, 0) to the plate's origin.
                    twist = variable * a.twist - (o.x * shear[1] - o.y * shear[0]);
                    words = format!("{words} with {variable} × {}", a.words);
                }
                let told = side.is_none_or(|a| a.told);
                cases.push(Case { words, actions: Actions { load, shear, twist }, told });
            }
        }
        cases
    }

    fn concrete(&self) -> Concrete {
        let unlimited = [f64::NEG_INFINITY, f64::INFINITY];
        let edges = match self.set.numbers("foundation") {
            Some(size) => [0, 1].map(|i| [-size[i] / 2.0, size[i] / 2.0]),
            None => [unlimited; 2],
        };
        Concrete {
            fck: self.set.number("concrete"),
            cracked: self.set.flag("cracked"),
            headed: self.set.flag("headed"),
            depth: self.set.number("anchor_depth"),
            dense: self.set.flag("dense"),
            edges,
        }
    }

    fn worst(&self, cases: &[Case]) -> Worst {
        let mut worst = Worst { each: vec![[0.0; 2]; self.places.len()], ..Worst::default() };
        let area = worn_area(stressed_area(self.set), self.wear.outside);
        let ratio = self.set.number("modular_ratio");
        let concrete = self.concrete();
        let (middle, axes, _) = rectangle(self.plate);
        let on_block: Vec<[f64; 2]> = self
            .places
            .iter()
            .map(|p| axes.map(|u| (p[0] - middle[0]) * u[0] + (p[1] - middle[1]) * u[1]))
            .collect();
        // Told whether anything pulls or not: anchors beside the foundation hold nothing.
        if let Err(error) = concrete.cone(&on_block, &vec![1.0; on_block.len()])
            && !on_block.is_empty()
        {
            worst.refused.push(("cone", String::new(), error, true));
        }
        let holds = self.set.number("concrete_factor");
        for case in cases {
            let bare = balance(&self.plate.outlines, &[], &case.actions.load);
            let anchored = (!self.places.is_empty())
                .then(|| distribute(&self.plate.outlines, self.places, area, ratio, &case.actions));
            let pressed = match (bare, &anchored) {
                (_, Some(Ok(forces))) => Some(forces.balance.clone()),
                (Ok(found), _) => Some(found),
                (Err(error), None) => {
                    worst.refused.push(("tips", case.words.clone(), error, case.told));
                    None
                }
                (Err(_), Some(Err(_))) => None,
            };
            if let Some(found) = pressed
                && worst.pressure.of(found.most, &case.words)
            {
                (worst.contact, worst.load) = (found.contact, Some(case.actions.load));
                worst.pressure_told = case.told;
            }
            let forces = match anchored {
                Some(Ok(forces)) => forces,
                Some(Err(error)) => {
                    worst.refused.push(("anchors", case.words.clone(), error, case.told));
                    continue;
                }
                None => continue,
            };
            for ((each, tension), shear) in worst.each.iter_mut().zip(&forces.tension).zip(&forces.shear) {
                let shear = shear[0].hypot(shear[1]);
                *each = [each[0].max(*tension), each[1].max(shear)];
                worst.tension.of(*tension, &case.words);
                worst.shear.of(shear, &case.words);
            }
            let total: f64 = forces.tension.iter().sum();
            if total > 0.0
                && let Ok(cone) = concrete.cone(&on_block, &forces.tension)
                && worst.pull.of(total * holds / cone.characteristic, &case.words)
            {
                (worst.total, worst.cone, worst.cone_told) = (total, Some(cone), case.told);
            }
        }
        worst
    }

    /// Tables and findings.
    fn say(&self, output: &mut Output, worst: &Worst, sides: &[SideAction]) {
        let Self { work, wear, set, plate, places } = self;
        let name = work.sculpture.name.as_str();
        let mut rows: Vec<Vec<Cell>> = Vec::new();
        let mut row = |what: &str, x: f64, decimals, unit: &str, how: &str| {
            rows.push(vec![words(what), Cell::Number(x, decimals), words(unit), words(how)]);
        };
        let mass_of = |what: &str| -> f64 {
            let all = output.mass.parts.iter().filter(|c| c.kind == Kind::Base && c.what.starts_with(what));
            all.map(|c| c.body.mass).sum()
        };
        row("base plate, area", plate.area / 1.0e6, 3, "m²", "its outline");
        row("base plate, mass", plate.mass, 1, "kg", "area × thickness × density");
        if mass_of("skirt") > 0.0 {
            row("skirt, mass", mass_of("skirt"), 1, "kg", "inner faces × thickness × density");
        }
        let all = output.mass.body(|_| true);
        let weight = all.mass * STANDARD_GRAVITY / 1000.0;
        let how = format!("all masses known so far × {STANDARD_GRAVITY} m/s²; no factors");
        row("weight on the ground", weight, 2, "kN", &how);
        let moment = |a: &&SideAction| a.force * (a.height + plate.thickness);
        if let Some(a) = sides.iter().max_by(|a, b| moment(a).total_cmp(&moment(b))) {
            let variable = set.number("variable");
            let how = format!("the one that tips most: {variable} × {}, toward {:.0}°", a.words, a.toward);
            row("side force", variable * a.force / 1000.0, 2, "kN", &how);
            row("height of the side force", a.height, 0, "mm", "over the top of the plate");
        }
        if let Some(load) = &worst.load {
            let (middle, axes, half) = rectangle(plate);
            let at = load.first.map(|f| f / load.down);
            let e = axes.map(|u| (at[0] - middle[0]) * u[0] + (at[1] - middle[1]) * u[1]);
            let held = if places.is_empty() { "" } else { ", with its anchors" };
            let how =
                format!("rigid plate on ground that cannot pull{held}, solved; {}", worst.pressure.case);
            row("greatest ground pressure", worst.pressure.figure * KPA, 1, "kN/m²", &how);
            let (left, margin) = (plate.thickness - 2.0 * wear.outside, set.number("margin"));
            if left > 0.0 && margin > 0.0 {
                let how = format!(
                    "elastic, 3 p m² / t²: the margin of {margin} mm as a cantilever under that pressure, {left:.2} mm thick{}; \
                     from the ground alone: anchors that pull on it bend it more",
                    by_rust(wear)
                );
                let stress = 3.0 * worst.pressure.figure * (margin / left).powi(2);
                row("bending of the plate's margin", stress, 1, "N/mm²", &how);
            }
            row("plate in contact", worst.contact * 100.0, 0, "%", "the same");
            let eccentric = "beside the middle of the plate's rectangle, the same";
            row("eccentricity along the longer side", e[0], 0, "mm", eccentric);
            row("eccentricity along the shorter side", e[1], 0, "mm", eccentric);
            if places.is_empty()
                && set.text("shape") == Some("rectangle")
                && let Ok([pressure, area]) = effective(load.down, e, half.map(|h| 2.0 * h))
            {
                let how = "Meyerhof 1953: (B − 2e) × (L − 2e'); the same";
                row("even pressure on the effective area", pressure * KPA, 1, "kN/m²", how);
                row("effective area", area / 1.0e6, 3, "m²", "the same");
            }
        }
        if !places.is_empty() {
            let how = format!(
                "elastic: plate flat, pressed without pull, anchors only pull; {}",
                worst.tension.case
            );
            row("greatest anchor tension", worst.tension.figure / 1000.0, 2, "kN", &how);
            let area = worn_area(stressed_area(set), wear.outside);
            if area > 0.0 {
                let how = format!(
                    "that tension over {area:.1} mm² of M{} thread{}; compare with what its grade holds",
                    set.count("anchor_size"),
                    by_rust(wear)
                );
                row("greatest stress in an anchor", worst.tension.figure / area, 1, "N/mm²", &how);
            }
            let how = format!("shared evenly, twist by distance; no friction; {}", worst.shear.case);
            row("greatest anchor shear", worst.shear.figure / 1000.0, 2, "kN", &how);
        }
        if let Some(cone) = &worst.cone {
            let design = cone.characteristic / set.number("concrete_factor") / 1000.0;
            row(
                "concrete cone, one anchor",
                cone.single / 1000.0,
                1,
                "kN",
                "EN 1992-4 7.2.1.4: k1 √fck hef^1.5",
            );
            let how = "× A_c,N / A_c,N for one anchor alone, × ψ for edge, shell and eccentricity";
            row("concrete cone, group, characteristic", cone.characteristic / 1000.0, 1, "kN", how);
            let how = "over its partial factor; bond, pull-out, splitting, edge and steel are not checked";
            row("concrete cone, group, design", design, 1, "kN", how);
            row("tension of the group", worst.total / 1000.0, 2, "kN", &worst.pull.case);
        }
        let title = "Base, with load factors (preliminary: a licensed engineer and the local code decide)";
        output.tables.push(table(ROW.name, title, &["what", "figure", "unit", "how"], rows));
        if !places.is_empty() {
            let o = plate.origin;
            let datum = TapeDatum::of(plate);
            let rows = (1_u32..).zip(*places).zip(&worst.each).map(|((number, p), [tension, shear])| {
                let taped = datum.map(|d| d.taped(*p));
                let tape = |i: usize| taped.map_or(Cell::Empty, |t| Cell::Number(t[i], 0));
                vec![
                    Cell::Number(f64::from(number), 0),
                    tape(0),
                    tape(1),
                    Cell::Number(p[0] + o.x, 0),
                    Cell::Number(p[1] + o.y, 0),
                    Cell::Number(tension / 1000.0, 2),
                    Cell::Number(shear / 1000.0, 2),
                ]
            });
            let columns = [
                "anchor",
                "along from corner mm",
                "across from corner mm",
                "x mm",
                "y mm",
                "tension kN",
                "shear kN",
            ];
            let hooked = datum.map_or_else(String::new, |d| {
                format!(
                    "from the plate's {} corner, along its longest side and square to it (x, y: from the work's origin); ",
                    d.corner_words(plate)
                )
            });
            let title = format!(
                "Anchors, {hooked}greatest loads with load factors (preliminary: a licensed engineer decides)"
            );
            output.tables.push(table("anchors", &title, &columns, rows.collect()));
        }
        output.findings.extend(self.findings(name, worst, sides));
    }

    fn findings(&self, name: &str, worst: &Worst, sides: &[SideAction]) -> Vec<Finding> {
        let level = |told: bool| if told { Level::Error } else { Level::Warning };
        let mut found: Vec<Finding> = Vec::new();
        for (code, case, error, told) in &worst.refused {
            match found.iter_mut().find(|f| f.code == *code) {
                // The first of each is told, at the worst level of all.
                Some(first) => first.level = first.level.min(level(*told)),
                None => {
                    let mut finding = refused(level(*told), code, name, error);
                    if !case.is_empty() {
                        finding.message = format!("{case}: {}", finding.message);
                    }
                    found.push(finding);
                }
            }
        }
        let pressure = worst.pressure.figure * KPA;
        if let Some(allowed) = self.set.optional("ground").filter(|g| pressure > *g) {
            found.push(Finding::new(
                level(worst.pressure_told),
                "ground",
                name,
                format!(
                    "the ground is pressed with {pressure:.0} kN/m², and may carry {allowed} ({})",
                    worst.pressure.case
                ),
                "widen the base plate or its foundation",
            ));
        }
        if worst.pull.figure > 1.0
            && let Some(cone) = &worst.cone
        {
            found.push(Finding::new(
                level(worst.cone_told),
                "cone",
                name,
                format!(
                    "the anchors pull with {:.1} kN, and their concrete cone holds {:.1} kN ({})",
                    worst.total / 1000.0,
                    cone.characteristic / self.set.number("concrete_factor") / 1000.0,
                    worst.pull.case
                ),
                "set them deeper or further apart, enlarge the foundation, or widen the base; an engineer decides",
            ));
        }
        if sides.is_empty() {
            found.push(Finding::new(
                Level::Warning,
                "base-no-side",
                name,
                "no wind or other sideways action is known here: base and anchors are worked out for weight alone",
                "run the stage wind too, or give the base a side_force and side_height",
            ));
        }
        found
    }
}
