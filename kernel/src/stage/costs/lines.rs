//! Quantities of the work as lines of the estimate: from parts, sheets, welds, and what other stages found out.

use crate::costs::{Factor, Group, Line, Quantity, Range};
use crate::error::Result;
use crate::mass::Kind;
use crate::output::Output;
use crate::stock::Sheet;
use crate::template;
use crate::units::{KG_PER_MM3, MM_PER_M, MM2_PER_M2};
use crate::weld::assembly::Task;
use crate::weld::practice::{Practice, SETTINGS, STAGE};
use crate::weld::schedule::Schedule;
use crate::work::Work;
use std::collections::BTreeMap;

/// What there is to charge.
pub(super) struct Gathered {
    pub(super) lines: Vec<Line>,
    /// What the estimate does not hold, in words.
    pub(super) without: Vec<String>,
    /// Pieces that lie on no sheet, though parts are laid.
    pub(super) unlaid: Vec<String>,
}

use Factor::{More, Rate};

/// Minutes in an hour, litres in a cubic metre.
const MINUTES: f64 = 60.0;
const CUBIC_METRE: f64 = 1000.0;

struct Lines(Vec<Line>);

impl Lines {
    fn add(
        &mut self,
        group: Group,
        what: &str,
        q: (Range, &'static str),
        factors: &[Factor],
        from: impl Into<String>,
    ) {
        let (quantity, unit) = q;
        if quantity[2] > 0.0 {
            let (what, from) = (what.to_owned(), from.into());
            self.0.push(Line { group, what, quantity, unit, factors: factors.to_vec(), from });
        }
    }

    fn found(
        &mut self,
        group: Group,
        what: &str,
        found: Option<&Found>,
        unit: &'static str,
        factors: &[Factor],
    ) {
        if let Some((range, from)) = found {
            self.add(group, what, (*range, unit), factors, from.as_str());
        }
    }
}

/// A quantity that stages pushed, with how it came about.
type Found = (Range, String);

pub(super) fn gather(work: &Work, output: &Output) -> Result<Gathered> {
    let pushed = pushed(&output.quantities);
    let found = |name: &str| pushed.get(name);
    let mut lines = Lines(Vec::new());
    let unlaid = sheets(work, output, &mut lines);
    pieces(output, &mut lines);
    cutting(work, output, &pushed, &mut lines);
    welding(work, &pushed, &mut lines)?;
    let dear = [Rate("blasting")];
    lines.found(Group::Finish, "blasting", found("blast h"), "h", &dear);
    lines.found(Group::Finish, "abrasive", found("abrasive kg"), "kg", &[Rate("abrasive")]);
    lines.found(Group::Finish, "paint", found("paint l"), "l", &[Rate("paint")]);
    lines.found(Group::Finish, "painting", found("layers m²"), "m²", &[Rate("painting")]);
    lines.found(Group::Finish, "wax", found("wax l"), "l", &[Rate("wax")]);
    if found("wax l").is_some() {
        lines.add(Group::Finish, "coating by turning", ([1.0; 3], "once"), &[Rate("coating")], "stage coat");
    }
    for name in ["engineering", "lifting", "transport", "other"] {
        lines.add(Group::Services, name, ([1.0; 3], "once"), &[Rate(name)], "lump");
    }
    let base = output.mass.parts.iter().any(|c| c.kind == Kind::Base);
    let without = [
        (!base, "base plate"),
        (output.anchors.is_none(), "anchors"),
        (true, "foundation and ground works"),
        (output.spine.is_none(), "inner tube (spine)"),
        (found("blast h").is_none(), "blasting"),
        (found("paint l").is_none() && found("wax l").is_none(), "coats inside and outside"),
        (true, "permits, insurance, upkeep"),
    ];
    let without = without.into_iter().filter(|w| w.0).map(|w| w.1.to_owned()).collect();
    Ok(Gathered { lines: lines.0, without, unlaid })
}

/// Quantities of one name added up.
fn pushed(all: &[Quantity]) -> BTreeMap<&'static str, Found> {
    let mut sums: BTreeMap<&'static str, Found> = BTreeMap::new();
    for one in all {
        let (sum, from) = sums.entry(one.name).or_insert_with(|| ([0.0; 3], String::new()));
        for (sum, x) in sum.iter_mut().zip(one.range) {
            *sum += x;
        }
        if !from.is_empty() {
            from.push_str("; ");
        }
        from.push_str(&one.from);
    }
    sums
}

/// Sheet: what is cut into, or the parts with waste. Gives the pieces that lie on no sheet.
fn sheets(work: &Work, output: &Output, lines: &mut Lines) -> Vec<String> {
    let density = work.sculpture.rules.density * KG_PER_MM3;
    let Some(laying) = work.sculpture.laying.as_ref().filter(|_| !output.sheets.is_empty()) else {
        let area: f64 = work.parts.iter().map(|p| p.area).sum::<f64>() / MM2_PER_M2;
        let mass: f64 = work.parts.iter().map(|p| p.mass).sum();
        let from = "all parts and closure strips, with waste";
        lines.add(Group::Steel, "sheet by mass", ([mass; 3], "kg"), &[More("waste"), Rate("sheet")], from);
        lines.add(
            Group::Steel,
            "sheet by area",
            ([area; 3], "m²"),
            &[More("waste"), Rate("sheet_area")],
            from,
        );
        return Vec::new();
    };
    let stock: Vec<Sheet> = laying.stock.iter().flat_map(crate::stock::Stock::sheets).collect();
    let [mut area, mut mass] = [0.0; 2];
    for cut in &output.sheets {
        let Some(sheet) = stock.iter().find(|s| s.name == cut.name) else { continue };
        let p = &sheet.profile;
        let whole = sheet.length * sheet.width * p.developed_length(0.0) / p.pitch();
        area += whole / MM2_PER_M2;
        mass += whole * sheet.thickness * density;
    }
    let from = format!("{} whole sheets that are cut into", output.sheets.len());
    lines.add(Group::Steel, "sheet by mass", ([mass; 3], "kg"), &[Rate("sheet")], from.as_str());
    lines.add(Group::Steel, "sheet by area", ([area; 3], "m²"), &[Rate("sheet_area")], from);
    output.findings.iter().filter(|f| f.code == "no-sheet").map(|f| f.place.clone()).collect()
}

/// Base, plates, spine, anchors.
fn pieces(output: &Output, lines: &mut Lines) {
    let mass: f64 = output.flats.iter().map(|f| f.mass).sum();
    let names: Vec<&str> = output.flats.iter().map(|f| f.id.as_str()).collect();
    lines.add(Group::Steel, "plates", ([mass; 3], "kg"), &[Rate("plate")], names.join(", "));
    if let Some(spine) = &output.spine {
        let tube = output.mass.body(|c| c.kind == Kind::Spine).mass;
        let metres = spine.length() / MM_PER_M;
        let from =
            format!("spine, {}, along its axis, ends and branches not in the metres", spine.tube.words());
        lines.add(Group::Steel, "tube by mass", ([tube; 3], "kg"), &[Rate("tube")], from.as_str());
        lines.add(Group::Steel, "tube by length", ([metres; 3], "m"), &[Rate("tube_metre")], from);
    }
    if let Some(anchors) = &output.anchors {
        #[allow(clippy::cast_precision_loss, reason = "a count")]
        let count = anchors.places.len() as f64;
        lines.add(Group::Steel, "anchors", ([count; 3], "pieces"), &[Rate("anchor")], "stage base");
    }
}

fn cutting(work: &Work, output: &Output, pushed: &BTreeMap<&'static str, Found>, lines: &mut Lines) {
    lines.found(Group::Cutting, "cutting by time", pushed.get("cutting h"), "h", &[Rate("cutting")]);
    lines.found(Group::Cutting, "cutting by length", pushed.get("cut m"), "m", &[Rate("cut_metre")]);
    lines.found(Group::Cutting, "pierces", pushed.get("pierces"), "pieces", &[Rate("pierce")]);
    #[allow(clippy::cast_precision_loss, reason = "a count")]
    let parts = work.parts.len() as f64;
    let load = [Rate("loading"), Rate("labour")];
    lines.add(
        Group::Cutting,
        "loading and marking",
        ([parts; 3], "parts"),
        &load,
        "all parts and closure strips",
    );
    let bends =
        output.templates.iter().flat_map(|t| &t.templates).filter(|t| t.kind == template::blank::ROW.name);
    #[allow(clippy::cast_precision_loss, reason = "a count")]
    let bends = bends.map(|t| t.bends.iter().filter(|b| b.drawn).count()).sum::<usize>() as f64;
    lines.add(Group::Cutting, "bends", ([bends; 3], "pieces"), &[Rate("bend")], "bend lines of all blanks");
}

/// Fitting, welding, dressing and what they use up, by the schedule of welds.
fn welding(work: &Work, pushed: &BTreeMap<&'static str, Found>, lines: &mut Lines) -> Result<()> {
    let values = work.sculpture.stage_values(STAGE, SETTINGS)?;
    let schedule =
        Schedule::new(work, Practice::new(&values), &super::super::welds::named_seams(work, &values)?);
    let total = schedule.total();
    let steps = || schedule.order.steps.iter().filter_map(|s| Some((s.task, schedule.step(s)?)));
    let fitting =
        steps().filter(|(t, _)| matches!(t, Task::Set | Task::Close)).map(|(_, f)| f.2).sum::<f64>();
    let welding =
        steps().filter(|(t, _)| !matches!(t, Task::Set | Task::Close)).map(|(_, f)| f.2).sum::<f64>();
    let arc = schedule.practice.arc.arc_hours(total.both());
    let filler = schedule.practice.arc.bought(total.both());
    let metres = total.length / MM_PER_M;
    let from = format!("schedule of welds: {metres:.1} m of seam, {:.2} kg of weld metal", total.both());
    let slow = Rate("time_factor");
    lines.add(
        Group::Welding,
        "fitting and tacking",
        ([fitting; 3], "h"),
        &[slow, Rate("labour")],
        from.as_str(),
    );
    lines.add(Group::Welding, "welding", ([welding; 3], "h"), &[slow, Rate("welding")], from.as_str());
    lines.add(Group::Welding, "filler", ([filler; 3], "kg"), &[Rate("filler")], from.as_str());
    // Litres in a minute make cubic metres in an hour of arc.
    let gas = arc * MINUTES / CUBIC_METRE;
    let burning = format!("{arc:.2} h of arc; m³ for a flow of 1 l/min");
    lines.add(
        Group::Welding,
        "shielding gas",
        ([gas; 3], "m³ per l/min"),
        &[Rate("gas_flow"), Rate("gas")],
        burning,
    );
    let both = fitting + welding;
    let used = [slow, Rate("consumables")];
    lines.add(Group::Welding, "consumables, fitting and welding", ([both; 3], "h"), &used, from.as_str());
    lines.found(Group::Finish, "filling gaps", pushed.get("gap h"), "h", &[Rate("labour")]);
    lines.found(Group::Finish, "filler in gaps", pushed.get("gap filler kg"), "kg", &[Rate("filler")]);
    let dress = [Rate("dressing"), Rate("labour")];
    lines.add(Group::Finish, "dressing seams", ([metres; 3], "m"), &dress, "length to weld");
    let used = [Rate("dressing"), Rate("consumables")];
    lines.add(Group::Finish, "consumables, dressing", ([metres; 3], "m"), &used, "length to weld");
    Ok(())
}
