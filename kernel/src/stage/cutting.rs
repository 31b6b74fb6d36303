//! The cutting stage: the path of the cut, its length, pierces and time, and what accuracy to expect.
//!
//! Time = length / speed + pierces × time to pierce; the length is that of cuts and lead-ins, there is one pierce for
//! every closed outline and none for marks. All figures are preliminary: the shop's own settings take the place of
//! the defaults.

use super::{Stage, any};
use crate::costs::Quantity;
use crate::drawing::{Drawing, Layer, Path, signed_area};
use crate::error::{Error, Result};
use crate::finding::{Finding, Level};
use crate::kerf::{Corner, Ring, offset};
use crate::lead_in::lead_in;
use crate::narrow::{Limits, NarrowKind, narrow};
use crate::output::Output;
use crate::part::Part;
use crate::process::{self, COMMON_PRACTICE, Iso9013, Process};
use crate::registry::Registry;
use crate::settings::{Setting, SettingKind, Values};
use crate::table::{Cell, Table, columns_of};
use crate::tolerance::{iso_9013, iso_13920};
use crate::work::Work;
use rayon::prelude::*;
use std::collections::BTreeMap;

const fn optional(name: &'static str, summary: &'static str, unit: &'static str, max: f64) -> Setting {
    Setting { name, summary, unit, kind: SettingKind::Optional { min: 0.0, max } }
}

const fn range(name: &'static str, summary: &'static str, max: f64) -> Setting {
    Setting { name, summary, unit: "", kind: SettingKind::Optional { min: 1.0, max } }
}

/// The registry row.
pub const ROW: Stage = Stage {
    name: process::STAGE,
    summary: "the path of the cut, its length, pierces, time and accuracy",
    settings: &[
        Setting {
            name: "process",
            summary: "how the sheet is cut",
            unit: "",
            kind: SettingKind::Choice {
                default: Some("plasma"),
                of: &["plasma", "waterjet", "laser", "hand"],
            },
        },
        Setting {
            name: "compensate",
            summary: "move the cut aside by half the kerf (common practice, no source: the machine does it)",
            unit: "",
            kind: SettingKind::Flag { default: false },
        },
        Setting {
            name: "corner",
            summary: "corners of the moved cut",
            unit: "",
            kind: SettingKind::Choice { default: Some("sharp"), of: &["sharp", "round"] },
        },
        Setting {
            name: "mitre_limit",
            summary: "longest tip of a sharp corner, in half kerfs",
            unit: "",
            kind: SettingKind::Number { default: Some(4.0), min: 1.0, max: 20.0 },
        },
        Setting {
            name: "arc_tolerance",
            summary: "largest distance of round corners from their arc",
            unit: "mm",
            kind: SettingKind::Number { default: Some(0.01), min: 0.0001, max: 1.0 },
        },
        optional(
            "smallest_hole",
            "least width of a hole; the process's own for the thickness if left out",
            "mm",
            2000.0,
        ),
        optional(
            "smallest_slot",
            "least width of a slot; the process's own for the thickness if left out",
            "mm",
            2000.0,
        ),
        optional(
            "smallest_neck",
            "least width of material between cuts; the process's own for the thickness if left out",
            "mm",
            2000.0,
        ),
        optional("lead", "length of the lead-in, 0 for none; the process's own if left out", "mm", 100.0),
        optional("kerf", "width of the cut; the process's own if left out", "mm", 20.0),
        optional("pierce_seconds", "time to pierce; the process's own if left out", "s", 600.0),
        optional(
            "speed",
            "cutting speed; the process's own for the thickness if left out",
            "mm/min",
            100_000.0,
        ),
        range(
            "iso_9013_u",
            "range of perpendicularity by ISO 9013; the usual one of the process if left out",
            5.0,
        ),
        range(
            "iso_9013_rz5",
            "range of mean height Rz5 by ISO 9013; the usual one of the process if left out",
            4.0,
        ),
        range(
            "iso_9013_class",
            "class of dimensions by ISO 9013; the usual one of the process if left out",
            2.0,
        ),
        Setting {
            name: "iso_13920",
            summary: "class of ISO 13920 for lengths",
            unit: "",
            kind: SettingKind::Choice { default: Some("B"), of: &iso_13920::CLASSES },
        },
    ],
    check: any,
    run,
};

/// Narrow places of a part that a finding lists; the rest is counted.
const LISTED: usize = 6;

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    let values = super::values(work, &ROW)?;
    let shop = Shop::new(&values)?;
    let mut rows = Vec::new();
    let mut sum = Sum::default();
    // Parts without a speed, by thickness in hundredths of a mm.
    let mut without_speed: BTreeMap<u64, Vec<String>> = BTreeMap::new();
    let cut: Vec<Option<CutPart>> = output
        .templates
        .par_iter_mut()
        .map(|of_part| {
            let part = &work.parts[of_part.part];
            let at = of_part.to_cut();
            let template = at.and_then(|at| of_part.templates.get_mut(at));
            template.map(|template| shop.cut(part, &mut template.drawing)).transpose()
        })
        .collect::<Result<_>>()?;
    for (of_part, cut) in output.templates.iter().zip(cut) {
        let part = &work.parts[of_part.part];
        let Some(CutPart { findings, length, pierces, minutes, row }) = cut else { continue };
        output.findings.extend(findings);
        if minutes.is_none() {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a thickness")]
            without_speed.entry((part.thickness() * 100.0).round() as u64).or_default().push(part.id.clone());
        }
        sum.add(length, pierces, minutes);
        rows.push(row);
    }
    for (hundredths, parts) in without_speed {
        #[allow(clippy::cast_precision_loss, reason = "a thickness")]
        let thickness = hundredths as f64 / 100.0;
        output.findings.push(shop.no_speed(thickness, &parts));
    }
    rows.push(sum.row(shop.process.name));
    output.quantities.extend(sum.quantities(shop.process.name));
    output.tables.push(Table {
        name: "cutting".to_owned(),
        title: "Cutting (preliminary; sources and cautions in the table below)".to_owned(),
        columns: columns_of(&COLUMNS),
        rows,
    });
    output.tables.push(shop.basis(&values));
    Ok(())
}

/// What there is to say of one part that is cut.
struct CutPart {
    findings: Vec<Finding>,
    /// Of cuts and lead-ins, mm.
    length: f64,
    pierces: f64,
    minutes: Option<f64>,
    row: Vec<Cell>,
}

/// Columns of the table; tolerances are ± and empty where no confirmed value is held.
const COLUMNS: [&str; 15] = [
    "part",
    "process",
    "thickness mm",
    "cut length mm",
    "pierces",
    "time min",
    "kerf mm",
    "length mm",
    "width mm",
    "ISO 9013 length ± mm",
    "ISO 9013 width ± mm",
    "ISO 9013 u mm",
    "ISO 9013 Rz5 µm",
    "ISO 13920 length ± mm",
    "ISO 13920 width ± mm",
];

/// The process with what the script says of it.
struct Shop {
    process: &'static Process,
    compensate: bool,
    corner: Corner,
    kerf: f64,
    pierce: f64,
    speed: Option<f64>,
    lead: f64,
    /// Neck, slot and hole.
    smallest: [Option<f64>; 3],
    iso_9013: Option<Iso9013>,
    /// Class of ISO 13920.
    welded: String,
}

impl Shop {
    fn new(values: &Values) -> Result<Self> {
        let name = values.text("process").unwrap_or_default();
        let process = Process::named(name).ok_or_else(|| Error::bug(format!("no process {name}")))?;
        let range = |name: &str, usual: u32| match values.optional(name) {
            None => Ok(usual),
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "1 to 5 by its row")]
            Some(x) if x.fract() == 0.0 => Ok(x as u32),
            Some(x) => Err(Error::input(format!("{x} is not a whole number"))
                .at(name)
                .at(ROW.name)
                .remedy("ranges and classes of ISO 9013 are 1, 2, 3, …")),
        };
        let iso_9013 = match process.iso_9013 {
            None => None,
            Some(usual) => Some(Iso9013 {
                u: range("iso_9013_u", usual.u)?,
                rz5: range("iso_9013_rz5", usual.rz5)?,
                class: range("iso_9013_class", usual.class)?,
            }),
        };
        Ok(Self {
            process,
            compensate: values.flag("compensate"),
            corner: match values.text("corner") {
                Some("round") => Corner::Round { tolerance: values.number("arc_tolerance") },
                _ => Corner::Sharp { limit: values.number("mitre_limit") },
            },
            kerf: values.optional("kerf").unwrap_or(process.kerf),
            pierce: values.optional("pierce_seconds").unwrap_or(process.pierce_seconds),
            speed: values.optional("speed").filter(|s| *s > 0.0),
            lead: values.optional("lead").unwrap_or(process.lead),
            smallest: ["smallest_neck", "smallest_slot", "smallest_hole"].map(|n| values.optional(n)),
            iso_9013,
            welded: values.text("iso_13920").unwrap_or_default().to_owned(),
        })
    }

    /// Makes a part's drawing ready to be cut.
    fn cut(&self, part: &Part, drawing: &mut Drawing) -> Result<CutPart> {
        let mut findings = Vec::new();
        findings.extend(self.narrow_places(part, drawing));
        if self.compensate {
            findings.extend(self.compensate(part, drawing)?);
        }
        in_cutting_order(drawing);
        findings.extend(self.add_lead_ins(part, drawing));
        let on = |layer| drawing.on(layer).map(Path::length).sum::<f64>();
        let length = on(Layer::Cut) + on(Layer::Lead);
        #[allow(clippy::cast_precision_loss, reason = "a count of outlines")]
        let pierces = drawing.on(Layer::Cut).count() as f64;
        let minutes = self.speed(part.thickness()).map(|s| length / s + pierces * self.pierce / 60.0);
        let row = self.row(part, drawing, [length, pierces], minutes);
        Ok(CutPart { findings, length, pierces, minutes, row })
    }

    fn limits(&self, thickness: f64) -> Limits {
        let [neck, slot, hole] = self.smallest;
        Limits {
            neck: neck.unwrap_or_else(|| self.process.neck.at(thickness)),
            slot: slot.unwrap_or_else(|| self.process.slot.at(thickness)),
            hole: hole.unwrap_or_else(|| self.process.hole.at(thickness)),
        }
    }

    fn speed(&self, thickness: f64) -> Option<f64> {
        self.speed.or_else(|| self.process.speed(thickness))
    }

    /// One finding on all places of a part that are too narrow.
    fn narrow_places(&self, part: &Part, drawing: &Drawing) -> Option<Finding> {
        let outlines: Vec<Ring> = drawing.true_outlines().map(|p| p.points.clone()).collect();
        let limits = self.limits(part.thickness());
        let places = narrow(&outlines, limits);
        let words: Vec<String> = places
            .iter()
            .take(LISTED)
            .map(|n| format!("{} of {:.2} at ({:.1}, {:.1})", n.kind.word(), n.width, n.at[0], n.at[1]))
            .collect();
        let more = match places.len().saturating_sub(LISTED) {
            0 => String::new(),
            n => format!("; and {n} more"),
        };
        let least = |kind, least: f64| {
            places.iter().any(|n| n.kind == kind).then(|| format!("{} {least}", kind.word()))
        };
        let allowed: Vec<String> = [
            least(NarrowKind::Neck, limits.neck),
            least(NarrowKind::Slot, limits.slot),
            least(NarrowKind::Hole, limits.hole),
        ]
        .into_iter()
        .flatten()
        .collect();
        (!places.is_empty()).then(|| {
            Finding::new(
                Level::Warning,
                "narrow",
                part.id.clone(),
                format!(
                    "too narrow for {} in sheet of {} mm: {}{more} on its blank, mm (allowed: {} and more; {})",
                    self.process.name,
                    part.thickness(),
                    words.join("; "),
                    allowed.join(", "),
                    if self.smallest.iter().any(Option::is_some) { "set in the script" } else { COMMON_PRACTICE },
                ),
                "widen it, drill small holes, leave the piece joined and cut it by hand, or take a finer process",
            )
        })
    }

    /// Moves the cut aside by half the kerf; the true outlines stay on a layer of their own.
    fn compensate(&self, part: &Part, drawing: &mut Drawing) -> Result<Option<Finding>> {
        let outlines: Vec<Ring> = drawing.true_outlines().map(|p| p.points.clone()).collect();
        let moved = offset(&outlines, self.kerf / 2.0, self.corner).map_err(|e| e.at(part.id.as_str()))?;
        let finding = (!moved.changes.is_empty()).then(|| {
            let words: Vec<String> = moved
                .changes
                .iter()
                .map(|c| format!("{} at ({:.1}, {:.1})", c.kind.words(), c.at[0], c.at[1]))
                .collect();
            Finding::new(
                Level::Warning,
                "kerf",
                part.id.clone(),
                format!("with a kerf of {} mm {} on its blank, mm", self.kerf, words.join("; ")),
                "widen it, drill it, or take a process with a narrower kerf",
            )
        });
        drawing.paths.retain(|p| p.layer != Layer::Cut && p.layer != Layer::Outline);
        drawing.paths.extend(outlines.into_iter().map(|o| Path::closed(Layer::Outline, o)));
        drawing.paths.extend(moved.outlines.into_iter().map(|o| Path::closed(Layer::Cut, o)));
        Ok(finding)
    }

    /// A lead-in for every cut, in the order of the cuts; a moved cut then starts where its lead-in ends. Cuts in
    /// their true place keep their corners as they are.
    fn add_lead_ins(&self, part: &Part, drawing: &mut Drawing) -> Option<Finding> {
        if self.lead <= 0.0 {
            return None;
        }
        let cuts: Vec<Ring> = drawing.on(Layer::Cut).map(|p| p.points.clone()).collect();
        let marks: Vec<[[f64; 2]; 2]> = [Layer::Mark, Layer::BendDown, Layer::BendUp]
            .into_iter()
            .flat_map(|layer| drawing.on(layer).flat_map(Path::segments))
            .collect();
        let leads: Vec<_> = (0..cuts.len()).map(|k| lead_in(&cuts, k, &marks, self.lead)).collect();
        if self.compensate {
            let paths = drawing.paths.iter_mut().filter(|p| p.layer == Layer::Cut);
            for (path, lead) in paths.zip(&leads) {
                if let Some(lead) = lead {
                    path.points.insert(lead.edge + 1, lead.touch);
                    path.points.rotate_left(lead.edge + 1);
                }
            }
        }
        let without = leads.iter().filter(|l| l.is_none()).count();
        drawing
            .paths
            .extend(leads.into_iter().flatten().map(|l| Path::open(Layer::Lead, vec![l.pierce, l.touch])));
        (without > 0).then(|| {
            Finding::new(
                Level::Note,
                "lead-in",
                part.id.clone(),
                format!("{without} of {} cuts have no room for a lead-in of {} mm", cuts.len(), self.lead),
                "set a shorter lead, drill a start hole, or let the machine pierce on the line",
            )
        })
    }

    fn row(
        &self,
        part: &Part,
        drawing: &Drawing,
        [length, pierces]: [f64; 2],
        minutes: Option<f64>,
    ) -> Vec<Cell> {
        let points = || drawing.true_outlines().flat_map(|p| &p.points);
        let span = |i: usize| {
            let ends =
                points().fold([f64::INFINITY, f64::NEG_INFINITY], |e, p| [e[0].min(p[i]), e[1].max(p[i])]);
            (ends[1] - ends[0]).max(0.0)
        };
        let sides = [span(0).max(span(1)), span(0).min(span(1))];
        let thickness = part.thickness();
        let cell = |x: Option<f64>, digits| x.map_or(Cell::Empty, |x| Cell::Number(x, digits));
        let cut = |side| self.iso_9013.and_then(|i| iso_9013::limit_deviation(i.class, side, thickness).ok());
        let welded = |side| iso_13920::linear(&self.welded, side).ok();
        let quality = self.iso_9013;
        vec![
            Cell::Text(part.id.clone()),
            Cell::Text(self.process.name.to_owned()),
            Cell::Number(thickness, 2),
            Cell::Number(length, 1),
            Cell::Number(pierces, 0),
            cell(minutes, 2),
            Cell::Number(self.kerf, 2),
            Cell::Number(sides[0], 1),
            Cell::Number(sides[1], 1),
            cell(cut(sides[0]), 2),
            cell(cut(sides[1]), 2),
            cell(quality.and_then(|q| iso_9013::perpendicularity(q.u, thickness).ok()), 3),
            cell(quality.and_then(|q| iso_9013::mean_height(q.rz5, thickness).ok()), 1),
            cell(welded(sides[0]), 0),
            cell(welded(sides[1]), 0),
        ]
    }

    fn no_speed(&self, thickness: f64, parts: &[String]) -> Finding {
        let (name, most) = (self.process.name, self.process.thickest());
        Finding::new(
            Level::Warning,
            "cutting-speed",
            name,
            format!(
                "no speed for sheet of {thickness} mm (held: up to {most} mm), so no time for {}",
                parts.join(", ")
            ),
            "give the shop's own with the setting speed of the stage cutting, mm/min",
        )
    }

    /// Where every figure is from.
    fn basis(&self, values: &Values) -> Table {
        let process = self.process;
        let from = |setting: &str, source: &str| {
            if values.is_given(setting) { "set in the script".to_owned() } else { source.to_owned() }
        };
        let smallest = |given: Option<f64>, own: process::Smallest| match given {
            Some(x) => format!("{x} mm"),
            None if own.thicknesses > 0.0 => format!("{} mm or {} × thickness", own.least, own.thicknesses),
            None => format!("{} mm", own.least),
        };
        let [neck, slot, hole] = self.smallest;
        let speeds =
            || process.speeds.iter().map(|(t, s)| format!("{t}: {s}")).collect::<Vec<_>>().join(", ");
        let iso = |value: Option<String>| value.unwrap_or_else(|| "not for this process".to_owned());
        let quality = self.iso_9013;
        let rows: Vec<[String; 3]> = vec![
            ["process".into(), process.name.into(), "script, else plasma".into()],
            ["kerf".into(), format!("{} mm", self.kerf), from("kerf", process.kerf_source)],
            ["speed".into(), match self.speed {
                Some(s) => format!("{s} mm/min"),
                None => format!("mm: mm/min, straight lines in logarithms between: {}", speeds()),
            }, from("speed", COMMON_PRACTICE)],
            ["pierce".into(), format!("{} s", self.pierce), from("pierce_seconds", COMMON_PRACTICE)],
            ["lead-in".into(), format!("{} mm", self.lead), from("lead", COMMON_PRACTICE)],
            ["smallest neck".into(), smallest(neck, process.neck), from("smallest_neck", COMMON_PRACTICE)],
            ["smallest slot".into(), smallest(slot, process.slot), from("smallest_slot", COMMON_PRACTICE)],
            ["smallest hole".into(), smallest(hole, process.hole), from("smallest_hole", COMMON_PRACTICE)],
            [
                "time".into(),
                "(cuts + lead-ins) / speed + pierces × pierce time".into(),
                "travel between cuts and marking are not counted".into(),
            ],
            [
                "± of cut dimensions".into(),
                iso(quality.map(|q| format!("class {}", q.class))),
                "ISO 9013:2017, limit deviations; empty where no confirmed value is held: read it in the standard".into(),
            ],
            [
                "u, perpendicularity".into(),
                iso(quality.map(|q| format!("range {}", q.u))),
                "ISO 9013:2017, u = a + b × thickness; which range a shop keeps is common practice, no source".into(),
            ],
            [
                "Rz5, mean height".into(),
                iso(quality.map(|q| format!("range {}", q.rz5))),
                "ISO 9013:2017, Rz5 = a + b × thickness; which range a shop keeps is common practice, no source".into(),
            ],
            [
                "± of welded dimensions".into(),
                format!("class {}", self.welded),
                "ISO 13920:1996, table 1".into(),
            ],
            [
                "caution".into(),
                "preliminary".into(),
                "settings of the shop's own machine, the standards and the contract decide; cut a test piece first".into(),
            ],
        ];
        Table {
            name: "cutting_basis".to_owned(),
            title: "Where the figures on cutting are from".to_owned(),
            columns: columns_of(&["figure", "value", "source"]),
            rows: rows.into_iter().map(|r| r.map(Cell::Text).to_vec()).collect(),
        }
    }
}

/// Totals of the process.
#[derive(Default)]
struct Sum {
    length: f64,
    pierces: f64,
    minutes: f64,
    /// Whether a part has no time.
    incomplete: bool,
}

impl Sum {
    fn add(&mut self, length: f64, pierces: f64, minutes: Option<f64>) {
        self.length += length;
        self.pierces += pierces;
        self.minutes += minutes.unwrap_or_default();
        self.incomplete |= minutes.is_none();
    }

    /// For the estimate: metres, pierces and, if every part has a time, hours.
    fn quantities(&self, process: &str) -> Vec<Quantity> {
        let hours = (!self.incomplete).then_some(("cutting h", self.minutes / 60.0));
        [("cut m", self.length / 1000.0), ("pierces", self.pierces)]
            .into_iter()
            .chain(hours)
            .map(|(name, x)| Quantity {
                name,
                range: [x; 3],
                from: format!("schedule of cutting, {process}"),
            })
            .collect()
    }

    fn row(&self, process: &str) -> Vec<Cell> {
        let mut row = vec![
            Cell::Text("total".to_owned()),
            Cell::Text(process.to_owned()),
            Cell::Empty,
            Cell::Number(self.length, 1),
            Cell::Number(self.pierces, 0),
            if self.incomplete { Cell::Empty } else { Cell::Number(self.minutes, 2) },
        ];
        row.resize(COLUMNS.len(), Cell::Empty);
        row
    }
}

/// Marks first, then holes, the smallest before the larger, then the outlines: the part stays held to the end.
fn in_cutting_order(drawing: &mut Drawing) {
    drawing.paths.sort_by(|a, b| {
        let key = |p: &Path| {
            let area = signed_area(&p.points);
            if p.layer == Layer::Cut { (1 + u8::from(area > 0.0), area.abs()) } else { (0, 0.0) }
        };
        let (a, b) = (key(a), key(b));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::job::samples;
    use crate::settings::Value;

    #[test]
    fn moved_cuts_keep_the_true_outline_and_time_is_length_and_pierces() {
        let mut work = samples::work();
        let given = [
            ("compensate", Value::Flag(true)),
            ("kerf", Value::Number(2.0)),
            ("speed", Value::Number(1000.0)),
            ("lead", Value::Number(5.0)),
        ];
        let given = given.map(|(k, v)| (k.to_owned(), v)).into();
        work.sculpture.stages.insert("cutting".to_owned(), given);
        let mut output = Output { templates: samples::templates(), ..Output::default() };
        run(&work, &Registry::standard(), &mut output).expect("runs");
        let blank = output.templates[0].templates.iter().find(|t| t.kind == "blank").expect("a blank");
        let area = |layer| blank.drawing.on(layer).map(|p| signed_area(&p.points)).sum::<f64>();
        let (before, after) = (area(Layer::Outline), area(Layer::Cut));
        // 1450 × 1100 less a sliver of 1450 × 30 / 2 below.
        assert!((before - (1450.0 * 1100.0 - 1450.0 * 15.0)).abs() < 1e-6, "{before}");
        let around = blank.drawing.on(Layer::Outline).map(Path::length).sum::<f64>();
        assert!(after - before > around && after - before < around + 5.0, "{after} {before}");
        let row = &output.tables[0].rows[0];
        let length = blank.drawing.on(Layer::Cut).map(Path::length).sum::<f64>() + 5.0;
        assert_eq!(row[4], Cell::Number(1.0, 0));
        let Cell::Number(minutes, _) = row[5] else { panic!("no time") };
        assert!((minutes - (length / 1000.0 + 0.6 / 60.0)).abs() < 1e-9, "{minutes}");
        // 2 mm sheet, 1450 by 1115 mm: class 2 of ISO 9013, ranges 4 of u and 3 of Rz5, class B of ISO 13920.
        assert_eq!(row[9..11], [Cell::Number(1.0, 2), Cell::Number(1.0, 2)]);
        assert_eq!(row[13..15], [Cell::Number(4.0, 0), Cell::Number(4.0, 0)]);
        let number = |k: usize| if let Cell::Number(x, _) = row[k] { x } else { f64::NAN };
        assert!((number(11) - 0.84).abs() < 1e-9 && (number(12) - 72.4).abs() < 1e-9, "{row:?}");
        // The cut starts where its lead-in ends, and that starts in scrap.
        let [pierce, touch] = blank.drawing.on(Layer::Lead).next().expect("a lead-in").points[..] else {
            panic!("a lead-in has two ends")
        };
        let cut = blank.drawing.on(Layer::Cut).next().expect("a cut");
        assert_eq!(cut.points[0], touch);
        assert!(!crate::polygon::holds(&cut.points, pierce), "{pierce:?} is not in scrap");
    }

    fn tables_and_findings(given: &[(&str, Value)]) -> Output {
        let mut work = samples::work();
        let given = given.iter().map(|(k, v)| ((*k).to_owned(), v.clone())).collect();
        work.sculpture.stages.insert("cutting".to_owned(), given);
        let mut output = Output { templates: samples::templates(), ..Output::default() };
        run(&work, &Registry::standard(), &mut output).expect("runs");
        output
    }

    #[test]
    fn totals_are_the_sums_of_the_parts() {
        let output = tables_and_findings(&[]);
        let rows = &output.tables[0].rows;
        for column in 3..6 {
            let number = |r: &Vec<Cell>| if let Cell::Number(x, _) = r[column] { x } else { f64::NAN };
            let (total, parts) = rows.split_last().expect("a total");
            let sum: f64 = parts.iter().map(number).sum();
            assert!(!parts.is_empty() && (number(total) - sum).abs() < 1e-9, "{column}: {total:?}");
        }
        assert!(output.tables[1].rows.iter().any(|r| r[0] == Cell::Text("caution".to_owned())));
    }

    #[test]
    fn a_part_narrower_than_allowed_is_found_once_with_its_places() {
        let found = |output: &Output| {
            output.findings.iter().filter(|f| f.code == "narrow").cloned().collect::<Vec<_>>()
        };
        let neck = |x: f64| ("smallest_neck", Value::Number(x));
        assert_eq!(found(&tables_and_findings(&[neck(1099.0)])), []);
        // Between the lower edge, which rises by 30 in 1450 mm, and the upper left corner, 1100 mm above it.
        let findings = found(&tables_and_findings(&[neck(1100.0)]));
        let width = format!("neck of {:.2} at", 1100.0 / (30.0_f64 / 1450.0).hypot(1.0));
        assert_eq!(findings.len(), 2, "one for each part: {findings:?}");
        assert!(findings.iter().all(|f| f.message.contains(&width)), "{width}: {findings:?}");
    }

    #[test]
    fn by_hand_there_are_no_lead_ins() {
        let output = tables_and_findings(&[("process", Value::Text("hand".to_owned()))]);
        assert!(output.templates[0].templates.iter().all(|t| t.drawing.on(Layer::Lead).next().is_none()));
        assert!(output.findings.iter().all(|f| f.code != "lead-in"), "{:?}", output.findings);
    }

    #[test]
    fn sheet_too_thick_for_the_process_is_reported_and_has_no_time() {
        let shop = Shop::new(&Values::check("cutting", ROW.settings, &BTreeMap::new()).expect("defaults"))
            .expect("a shop");
        assert_eq!(shop.speed(12.0), None);
        let finding = shop.no_speed(12.0, &["A/east".to_owned()]);
        assert!(
            finding.message.contains("12 mm") && finding.message.contains("10 mm"),
            "{}",
            finding.message
        );
        let mut sum = Sum::default();
        sum.add(1.0, 1.0, None);
        assert_eq!(sum.row("plasma")[5], Cell::Empty);
    }

    #[test]
    fn ranges_of_iso_9013_are_whole_numbers() {
        let given = |x| BTreeMap::from([("iso_9013_u".to_owned(), Value::Number(x))]);
        let shop = |x| Shop::new(&Values::check("cutting", ROW.settings, &given(x)).expect("in range"));
        assert!(shop(2.5).is_err());
        assert_eq!(shop(3.0).expect("whole").iso_9013.map(|i| i.u), Some(3));
    }
}
