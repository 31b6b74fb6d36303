//! The sheets stage: parts laid on the sheets there are, only where the script asks for it with `lay`.
//!
//! Adds for every sheet that is cut a drawing to cut by and a picture for the workshop wall; the cutting list, the
//! use of every sheet, and what is left of the stock, as stock for the next work.

mod picture;

use super::sketch::stem;
use super::{Stage, any};
use crate::drawing::{Drawing, Label, Layer, Path, signed_area};
use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::lay::{
    BestFit, CutSheet, LaidPart, Layout, Need, Offcut, OnSheets, Options, Piece, Pin, Placement,
    ROWS as LAY_ROWS, from_flat, lay, pieces, split,
};
use crate::lettering;
use crate::output::{Output, free_name};
use crate::part::{Part, PartKind};
use crate::polygon::holds;
use crate::registry::Registry;
use crate::rules::{self, Broken};
use crate::settings::Values;
use crate::stock::{STOCK_COLUMNS, Sheet, damage_words, profile_words};
use crate::table::{Cell, Table, table};
use crate::template::{self, Template};
use crate::work::Work;
use rayon::prelude::*;
use std::collections::BTreeSet;

/// The registry row.
pub const ROW: Stage = Stage {
    name: "sheets",
    summary: "parts laid on the sheets there are, where the script asks for it with lay",
    settings: &[],
    check: any,
    run,
};

/// Crests that lie further than this beside those of a sheet are pointed out, mm: what welding closes by pulling.
const NOTABLE_MISFIT: f64 = 3.0;

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    let area = work.parts.iter().map(|p| p.area).sum();
    output.findings.extend(rules::area(&work.sculpture, area).map(Broken::finding));
    let Some(laying) = &work.sculpture.laying else {
        output.findings.extend(rules::sheets(&work.sculpture, None).map(Broken::finding));
        return Ok(());
    };
    let values = Values::check("lay", LAY_ROWS, &laying.settings)?;
    let from_flat = from_flat(&values);
    let OnSheets { pieces: all, layout, best_fit } = match &work.on_sheets {
        Some(on) => on.clone(),
        None => {
            let pieces = if from_flat { blanks(work, output) } else { pieces(&work.parts) };
            let pins = laying.pins.iter().map(Pin::new).collect::<Result<Vec<_>>>()?;
            let layout = lay(&pieces, &laying.stock, &pins, &Options::new(&values))?;
            OnSheets { pieces, layout, best_fit: None }
        }
    };
    let used = layout.used();
    let mut taken = BTreeSet::new();
    let stems: Vec<String> =
        used.iter().map(|&s| free_name(&stem(&layout.sheets[s].name), &mut taken)).collect();
    let cut: Vec<CutSheet> = used
        .par_iter()
        .zip(stems)
        .map(|(&sheet, stem)| cut_sheet(work, output, &all, &layout, sheet, stem, from_flat))
        .collect();
    let pictures: Vec<Drawing> = cut.par_iter().map(|sheet| picture::picture(sheet, &all, &layout)).collect();
    output.findings.extend(findings(&all, &layout));
    output.tables.extend([cutting_list(&cut), use_of_sheets(&cut, &layout), remaining(&layout)]);
    output.tables.extend(best_fit.as_ref().map(chosen));
    output.drawings.extend(pictures);
    output.findings.extend(rules::sheets(&work.sculpture, Some(cut.len())).map(Broken::finding));
    output.sheets = cut;
    Ok(())
}

/// The template that is folded from flat sheet, and that closure strips have.
const BLANK: &str = template::blank::ROW.name;
/// The template of a formed sheet as it lies.
const PLAN: &str = template::plan::ROW.name;

/// The pieces of parts as blanks, for flat sheet; a part without one as it lies on its face.
fn blanks(work: &Work, output: &Output) -> Vec<Piece> {
    let mut all = Vec::new();
    for (index, part) in work.parts.iter().enumerate() {
        let made = output.templates.iter().find(|t| t.part == index);
        let blank = made.and_then(|m| m.templates.iter().find(|t| t.kind == BLANK));
        match blank {
            Some(blank) => {
                let outlines: Vec<_> = blank.drawing.true_outlines().map(|p| p.points.clone()).collect();
                all.extend(split(index, &part.id, &outlines, &Need::Flat { thickness: part.thickness() }));
            }
            None => {
                all.extend(
                    pieces(std::slice::from_ref(part)).into_iter().map(|p| Piece { part: index, ..p }),
                );
            }
        }
    }
    all
}

/// What takes a point of a template's page to the piece.
type Back<'a> = Box<dyn Fn([f64; 2]) -> [f64; 2] + 'a>;

/// The template a piece's marks are taken from, and what takes a point of its page to the piece.
fn marks_of<'a>(
    part: &'a Part,
    templates: &'a [Template],
    from_flat: bool,
) -> Option<(&'a Template, Back<'a>)> {
    let is_sheet = matches!(part.kind, PartKind::Sheet { .. });
    let kind = if from_flat || !is_sheet { BLANK } else { PLAN };
    let template = templates.iter().find(|t| t.kind == kind)?;
    // The page has its lower left corner at 0, the ribs run up it: see `template::flatten`.
    let low = |axis: usize, sign: f64| {
        part.outlines.iter().flatten().map(|p| sign * p[axis]).fold(f64::INFINITY, f64::min)
    };
    let corner = if is_sheet { [low(1, -1.0), low(0, 1.0)] } else { [low(0, 1.0), low(1, 1.0)] };
    let as_blank = from_flat && is_sheet;
    let back: Back<'a> = Box::new(move |[x, y]: [f64; 2]| match (as_blank, is_sheet) {
        (true, _) => [x, y],
        (false, true) => [y + corner[1], -(x + corner[0])],
        (false, false) => [x + corner[0], y + corner[1]],
    });
    Some((template, back))
}

#[allow(clippy::too_many_arguments, reason = "one place calls it")]
fn cut_sheet(
    work: &Work,
    output: &Output,
    all: &[Piece],
    layout: &Layout,
    index: usize,
    stem: String,
    from_flat: bool,
) -> CutSheet {
    let sheet = &layout.sheets[index];
    let title = format!("sheet {}", sheet.name);
    let mut drawing = Drawing { name: format!("sheet_{stem}"), title, ..Drawing::default() };
    let corners = [[0.0, 0.0], [sheet.length, 0.0], [sheet.length, sheet.width], [0.0, sheet.width]];
    drawing.paths.push(Path::closed(Layer::Helper, corners.to_vec()));
    for (_, outline) in sheet.damage.iter().filter(|(_, o)| o.len() > 2) {
        drawing.paths.push(Path::closed(Layer::Helper, outline.clone()));
    }
    let mut area = 0.0;
    let mut parts = Vec::new();
    for placement in layout.on(index) {
        let piece = &all[placement.piece];
        area += piece.area();
        for (i, outline) in piece.outlines.iter().enumerate() {
            let mut points: Vec<[f64; 2]> = outline.iter().map(|&p| placement.place(p)).collect();
            // Outer outlines stay counter-clockwise where the inside is up.
            if (signed_area(&points) > 0.0) != (i == 0) {
                points.reverse();
            }
            drawing.paths.push(Path::closed(Layer::Cut, points));
        }
        let made = output.templates.iter().find(|t| t.part == piece.part);
        if let Some(made) = made {
            add_marks(&mut drawing, &work.parts[piece.part], &made.templates, piece, placement, from_flat);
        }
        parts.push(LaidPart {
            id: piece.id.clone(),
            bounds: placement.bounds,
            rib: placement.rib,
            lies: placement.way.words(),
            misfit: placement.misfit,
            matrix: placement.way.matrix(),
            at: placement.at,
        });
    }
    CutSheet {
        name: sheet.name.clone(),
        stem,
        size: [sheet.length, sheet.width],
        profile: profile_words(&sheet.profile),
        thickness: sheet.thickness,
        crests: sheet.crests.clone(),
        damage: sheet.damage.iter().map(|(_, o)| o.clone()).collect(),
        used: area / (sheet.length * sheet.width),
        parts,
        offcut: layout.offcuts.iter().find(|o| o.sheet == index).map(|o| o.bounds),
        drawing,
    }
}

/// Marks, bend lines and writing of a piece's template, where the piece lies.
fn add_marks(
    drawing: &mut Drawing,
    part: &Part,
    templates: &[Template],
    piece: &Piece,
    placement: &Placement,
    from_flat: bool,
) {
    let Some((template, back)) = marks_of(part, templates, from_flat) else { return };
    let on_piece = |p: [f64; 2]| holds(&piece.outlines[0], p);
    for path in &template.drawing.paths {
        if !matches!(path.layer, Layer::Mark | Layer::BendDown | Layer::BendUp) || path.points.len() < 2 {
            continue;
        }
        let points: Vec<[f64; 2]> = path.points.iter().map(|&p| back(p)).collect();
        // The middle of its first stretch, for its ends lie on the outline.
        let middle = [0, 1].map(|k| f64::midpoint(points[0][k], points[1][k]));
        if on_piece(middle) {
            let points = points.into_iter().map(|p| placement.place(p)).collect();
            drawing.paths.push(Path { layer: path.layer, points, closed: path.closed });
        }
    }
    for label in &template.drawing.labels {
        let (sin, cos) = label.angle.to_radians().sin_cos();
        let half = [lettering::width(&label.text, label.height) / 2.0, label.height / 2.0];
        let middle = if label.centred {
            label.at
        } else {
            [label.at[0] + half[0] * cos - half[1] * sin, label.at[1] + half[0] * sin + half[1] * cos]
        };
        let at = back(middle);
        if !on_piece(at) {
            continue;
        }
        // The line of writing goes with the part; its letters are never mirrored.
        let ahead = placement.place(back([middle[0] + cos, middle[1] + sin]));
        let at = placement.place(at);
        let angle = (ahead[1] - at[1]).atan2(ahead[0] - at[0]).to_degrees();
        drawing.labels.push(Label { at, angle, centred: true, ..label.clone() });
    }
}

fn findings(all: &[Piece], layout: &Layout) -> Vec<Finding> {
    let mut found: Vec<Finding> = layout
        .unplaced
        .iter()
        .map(|u| {
            let place = all[u.piece].id.clone();
            Finding::new(Level::Warning, "no-sheet", place, u.why.clone(), u.remedy.clone())
        })
        .collect();
    found.extend(layout.placements.iter().filter(|p| p.misfit > NOTABLE_MISFIT).map(|p| {
        let sheet = &layout.sheets[p.sheet].name;
        Finding::new(
            Level::Warning,
            "misfit",
            all[p.piece].id.clone(),
            format!("its crests lie up to {:.1} mm beside those of sheet {sheet}", p.misfit),
            "clad the face in the profile this sheet was measured to have, or give `misfit` to lay it on another",
        )
    }));
    let over: Vec<&str> =
        layout.placements.iter().filter(|p| p.way.inside_up()).map(|p| all[p.piece].id.as_str()).collect();
    if let [first, ..] = over[..] {
        found.push(Finding::new(
            Level::Note,
            "inside-up",
            first.to_owned(),
            format!(
                "{} parts lie inside up on their sheets, where crest and valley are one shape: {}",
                over.len(),
                over.join(", ")
            ),
            "cut and mark them so, then turn them; write `turn_over: false` if one side of the sheets must be out",
        ));
    }
    found
}

/// Which sheets were chosen for their shape, and what that won.
fn chosen(best_fit: &BestFit) -> Table {
    let mut rows: Vec<Vec<Cell>> = best_fit
        .sheets
        .iter()
        .map(|[from, to]| vec![Cell::Text(from.clone()), Cell::Text(to.clone()), Cell::Empty, Cell::Empty])
        .collect();
    let void = |what: &str, mm2: f64| {
        vec![Cell::Text(what.to_owned()), Cell::Empty, Cell::Number(mm2 / MM2_PER_CM2, 1), Cell::Empty]
    };
    rows.push(void("as laid first", best_fit.void[0]));
    rows.push(void("as chosen", best_fit.void[1]));
    for (seam, [before, after]) in &best_fit.steps {
        for (what, step) in [("as laid first", before), ("as chosen", after)] {
            rows.push(vec![
                Cell::Text(format!("crests across {seam}, {what}")),
                Cell::Empty,
                Cell::Empty,
                Cell::Number(*step, 1),
            ]);
        }
    }
    table(
        "best_fit",
        "Sheets chosen for their shape: void if parts were cut from nominal templates",
        &["laid first on sheet", "cut from sheet", "void cm²", "greatest step mm"],
        rows,
    )
}

/// mm² per cm².
const MM2_PER_CM2: f64 = 100.0;

/// What to cut from which sheet, in order along it.
fn cutting_list(cut: &[CutSheet]) -> Table {
    let columns = [
        "sheet",
        "number",
        "part",
        "along from mm",
        "along to mm",
        "across from mm",
        "across to mm",
        "first crest",
        "lies",
        "misfit mm",
        "remarks",
    ];
    let mut rows = Vec::new();
    for sheet in cut {
        for (number, part) in (1_u32..).zip(&sheet.parts) {
            let [lo, hi] = part.bounds;
            let remark =
                if part.lies.starts_with("over") { "inside up: marks come on the inside" } else { "" };
            #[allow(clippy::cast_precision_loss, reason = "a sheet has few crests")]
            let crest = part.rib.map_or(Cell::Empty, |r| Cell::Number(r as f64, 0));
            rows.push(vec![
                Cell::Text(sheet.name.clone()),
                Cell::Number(f64::from(number), 0),
                Cell::Text(part.id.clone()),
                Cell::Number(lo[0], 1),
                Cell::Number(hi[0], 1),
                Cell::Number(lo[1], 1),
                Cell::Number(hi[1], 1),
                crest,
                Cell::Text(if part.lies.is_empty() { "as drawn".to_owned() } else { part.lies.clone() }),
                Cell::Number(part.misfit, 1),
                Cell::Text(remark.to_owned()),
            ]);
        }
    }
    table(
        "sheets",
        "Cutting list of sheets (along from the start end, across from the right-hand edge)",
        &columns,
        rows,
    )
}

fn use_of_sheets(cut: &[CutSheet], layout: &Layout) -> Table {
    let columns = [
        "sheet",
        "profile",
        "length mm",
        "width mm",
        "parts",
        "used %",
        "offcut length mm",
        "offcut width mm",
    ];
    let mut rows: Vec<Vec<Cell>> = cut
        .iter()
        .map(|sheet| {
            let offcut = sheet.offcut.map(|[lo, hi]| [hi[0] - lo[0], hi[1] - lo[1]]);
            #[allow(clippy::cast_precision_loss, reason = "a count of parts")]
            let parts = sheet.parts.len() as f64;
            vec![
                Cell::Text(sheet.name.clone()),
                Cell::Text(sheet.profile.clone()),
                Cell::Number(sheet.size[0], 0),
                Cell::Number(sheet.size[1], 0),
                Cell::Number(parts, 0),
                Cell::Number(sheet.used * 100.0, 1),
                offcut.map_or(Cell::Empty, |o| Cell::Number(o[0], 0)),
                offcut.map_or(Cell::Empty, |o| Cell::Number(o[1], 0)),
            ]
        })
        .collect();
    let (area, taken) = cut.iter().fold((0.0, 0.0), |(area, taken), s| {
        let own = s.size[0] * s.size[1];
        (area + own, taken + own * s.used)
    });
    #[allow(clippy::cast_precision_loss, reason = "a count of parts")]
    let parts = layout.placements.len() as f64;
    rows.push(vec![
        Cell::Text(format!("{} sheets", cut.len())),
        Cell::Empty,
        Cell::Empty,
        Cell::Empty,
        Cell::Number(parts, 0),
        if area > 0.0 { Cell::Number(taken / area * 100.0, 1) } else { Cell::Empty },
        Cell::Empty,
        Cell::Empty,
    ]);
    table("sheet_use", "Use of sheets", &columns, rows)
}

/// Offcuts and untouched sheets, as `stock::read_stock` reads them.
fn remaining(layout: &Layout) -> Table {
    let mut rows = Vec::new();
    let row = |sheet: &Sheet, name: String, size: [f64; 2], right: f64, damage: String, remark: &str| {
        // The crest nearest to the right-hand edge of what is left.
        let first = sheet.crests.iter().map(|c| c - right).find(|c| *c >= 0.0);
        vec![
            Cell::Text(name),
            Cell::Number(size[0], 1),
            Cell::Number(size[1], 1),
            Cell::Text(profile_words(&sheet.profile)),
            first.map_or(Cell::Empty, |c| Cell::Number(c, 1)),
            Cell::Text(sheet.grade.clone()),
            Cell::Text(damage),
            Cell::Text(remark.to_owned()),
        ]
    };
    for (index, sheet) in layout.sheets.iter().enumerate() {
        let of_survey = if sheet.surveyed { "; crests as surveyed, on average" } else { "" };
        if layout.on(index).next().is_none() {
            let whole = if sheet.damage.is_empty() { "whole" } else { "whole, with its damage" };
            let remark = format!("{whole}{of_survey}");
            let (name, size) = (sheet.name.clone(), [sheet.length, sheet.width]);
            rows.push(row(sheet, name, size, 0.0, damage_words(&sheet.damage), &remark));
        } else if let Some(offcut) = layout.offcuts.iter().find(|o: &&Offcut| o.sheet == index) {
            let remark = format!("offcut of {}{of_survey}", sheet.name);
            let name = format!("{} rest", sheet.name);
            // Offcuts are taken beside damage.
            rows.push(row(sheet, name, offcut.size(), offcut.bounds[0][1], String::new(), &remark));
        }
    }
    table("offcuts", "Stock after this work", &STOCK_COLUMNS, rows)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::element::Solid;
    use crate::lay::OnSheets;
    use crate::sculpture::{Element, Laying, Sculpture};
    use crate::settings::Value;
    use crate::stock::tests::{nominal, trapezoid};
    use crate::stock::{NominalSheet, Stock, read_stock};
    use crate::survey::{Damage, SurveyedSheet};
    use crate::work_out;
    use nalgebra::{Point3, Vector3};
    use std::collections::BTreeMap;

    /// A box of corrugated sheet, laid on so many sheets.
    fn run_over(count: u32, given: &[(&str, Value)]) -> (Work, Output) {
        let rib = trapezoid(200.0, 40.0, 70.0, 70.0);
        run_on(vec![nominal("S", [3000.0, 1000.0], &rib, count)], given)
    }

    fn run_on(stock: Vec<Stock>, given: &[(&str, Value)]) -> (Work, Output) {
        let rib = trapezoid(200.0, 40.0, 70.0, 70.0);
        let mut planes = Vec::new();
        for (axis, [low, high]) in
            [["west", "east"], ["south", "north"], ["bottom", "top"]].iter().enumerate()
        {
            for (label, way) in [(low, -1.0), (high, 1.0)] {
                let (mut p, mut n) = (Point3::origin(), Vector3::zeros());
                (p[axis], n[axis]) = (way * 380.0, way);
                planes.push(((*label).to_owned(), p, n));
            }
        }
        let mut element = Element::new(Solid::from_planes("A", planes).expect("a solid"));
        element.clad(&rib);
        let mut sculpture = Sculpture::new("box");
        "true".clone_into(&mut sculpture.joint.kind);
        sculpture.add(element).expect("added");
        let settings: BTreeMap<String, Value> =
            given.iter().map(|(name, value)| ((*name).to_owned(), value.clone())).collect();
        sculpture.laying = Some(Laying { settings, stock, pins: Vec::new(), crests_across: Vec::new() });
        let registry = Registry::standard();
        let work = work_out(&sculpture, &registry).expect("worked out");
        let mut output = Output::default();
        (crate::stage::templates::ROW.run)(&work, &registry, &mut output).expect("runs");
        run(&work, &registry, &mut output).expect("runs");
        (work, output)
    }

    fn column<'a>(table: &'a Table, name: &str) -> Vec<&'a Cell> {
        let at = table.columns.iter().position(|c| c.name == name).expect("column");
        table.rows.iter().map(|r| &r[at]).collect()
    }

    fn named<'a>(output: &'a Output, name: &str) -> &'a Table {
        output.tables.iter().find(|t| t.name == name).expect("a table")
    }

    #[test]
    fn every_part_is_on_the_list_once_and_marks_lie_on_its_sheet() {
        let (work, output) = run_over(4, &[]);
        assert!(output.findings.iter().all(|f| f.code != "no-sheet"), "{:?}", output.findings);
        let listed = column(named(&output, "sheets"), "part");
        assert_eq!(listed.len(), work.parts.len());
        for part in &work.parts {
            assert!(listed.contains(&&Cell::Text(part.id.clone())), "{}", part.id);
        }
        assert_eq!(output.sheets.len() + 1, named(&output, "sheet_use").rows.len(), "a row each and a sum");
        for sheet in &output.sheets {
            let [length, width] = sheet.size;
            let mut marks = 0;
            for path in &sheet.drawing.paths {
                let inside = |p: &[f64; 2]| (0.0..=length).contains(&p[0]) && (0.0..=width).contains(&p[1]);
                assert!(path.points.iter().all(inside), "{}: {:?} leaves the sheet", sheet.name, path.layer);
                marks += usize::from(path.layer == Layer::Mark);
            }
            assert!(marks > 10, "{}: {marks} marks", sheet.name);
            sheet.drawing.validate().expect("can be written");
        }
    }

    /// A crest mark of the template lies on a crest line of the sheet, or inside up on a valley line: marks went
    /// through other code than placements.
    #[test]
    fn crest_marks_of_the_parts_lie_on_crests_of_the_sheets() {
        let (_, output) = run_over(4, &[]);
        let mut seen = 0;
        for sheet in &output.sheets {
            for label in sheet.drawing.labels.iter().filter(|l| l.text == "C" || l.text == "V") {
                let half =
                    |c: f64| (label.at[1] - c).rem_euclid(100.0).min((c - label.at[1]).rem_euclid(100.0));
                let off = sheet.crests.iter().map(|&c| half(c)).fold(f64::INFINITY, f64::min);
                assert!(off < 1.0, "{} at {:?} on {} is {off} mm beside", label.text, label.at, sheet.name);
                let on = sheet.parts.iter().find(|p| {
                    let [lo, hi] = p.bounds;
                    (0..2).all(|k| (lo[k]..=hi[k]).contains(&label.at[k]))
                });
                let Some(part) = on else { continue };
                // Several boxes may hold the place; only what is sure is looked at.
                if sheet.parts.len() == 1 {
                    let over = part.lies.starts_with("over");
                    let crest = sheet.crests.iter().any(|c| (c - label.at[1]).abs() < 1.0);
                    assert_eq!(crest, (label.text == "C") != over, "{label:?}");
                }
                seen += 1;
            }
        }
        assert!(seen > 20, "{seen} letters");
    }

    #[test]
    fn what_is_left_reads_back_as_stock() {
        let (work, output) = run_over(6, &[]);
        let left = named(&output, "offcuts");
        let file = crate::export::csv::ROW;
        let files = (file.write)(&work, &output).expect("written");
        let bytes = &files.iter().find(|f| f.path == "schedules/offcuts.csv").expect("there").bytes;
        let text = std::str::from_utf8(bytes).expect("text");
        let rib = trapezoid(200.0, 40.0, 70.0, 70.0);
        let sheets = read_stock("offcuts.csv", text, &[(profile_words(&rib), rib)]).expect("read");
        assert_eq!(sheets.len(), left.rows.len());
        assert!(sheets.iter().any(|s| s.name == "S-6" && s.length == 3000.0), "an untouched sheet");
        assert!(sheets.iter().all(|s| s.first_crest.is_some()), "crests are known");
    }

    /// Whole sheets, measured or not, keep their damage on the list; offcuts lie beside it.
    #[test]
    fn damage_goes_back_to_stock_with_its_sheet() {
        let rib = trapezoid(200.0, 40.0, 70.0, 70.0);
        let damage = |x: f64| {
            let outline = vec![[x, 400.0], [x + 60.0, 400.0], [x + 60.0, 450.0], [x, 450.0]];
            vec![Damage { what: "hole: bolt".to_owned(), outline }]
        };
        let surveyed = |number: u32| {
            let name = format!("Y{number}");
            let mut sheet = SurveyedSheet::true_to(&rib, &name, [4000.0, 1000.0], 100.0, &[0.0, 4000.0]);
            sheet.damage = damage(2700.0);
            Stock::Surveyed(std::sync::Arc::new(sheet))
        };
        let mut stock: Vec<Stock> = (1..=6).map(surveyed).collect();
        let Stock::Nominal(catalogue) = nominal("N", [3000.0, 1000.0], &rib, 1) else { return };
        stock.push(Stock::Nominal(NominalSheet { damage: damage(100.0), ..catalogue }));
        let (work, output) = run_on(stock, &[]);
        let file = crate::export::csv::ROW;
        let files = (file.write)(&work, &output).expect("written");
        let bytes = &files.iter().find(|f| f.path == "schedules/offcuts.csv").expect("there").bytes;
        let text = std::str::from_utf8(bytes).expect("text");
        let left = read_stock("offcuts.csv", text, &[(profile_words(&rib), rib)]).expect("read");
        let (rests, whole): (Vec<_>, Vec<_>) = left.iter().partition(|s| s.name.ends_with(" rest"));
        assert!(!whole.is_empty() && !rests.is_empty(), "{text}");
        for sheet in &whole {
            let x = if sheet.name == "N" { 100.0 } else { 2700.0 };
            assert_eq!(sheet.damage[0].outline, damage(x)[0].outline, "{}", sheet.name);
            assert_eq!(sheet.damage[0].what, "hole, bolt");
            assert_eq!(Stock::Nominal((*sheet).clone()).sheets()[0].damage.len(), 1, "it is laid round");
        }
        assert!(rests.iter().all(|s| s.damage.is_empty()));
        let on: &OnSheets = work.on_sheets.as_ref().expect("laid on surveyed sheets");
        for offcut in &on.layout.offcuts {
            let [lo, hi] = offcut.bounds;
            for p in on.layout.sheets[offcut.sheet].damage.iter().flat_map(|(_, outline)| outline) {
                let beside = (0..2).any(|k| p[k] <= lo[k] || p[k] >= hi[k]);
                assert!(beside, "damage at {p:?} lies in the offcut {:?}", offcut.bounds);
            }
        }
    }

    #[test]
    fn parts_without_a_sheet_are_found_and_the_others_laid() {
        let (work, output) = run_over(1, &[]);
        let missing = output.findings.iter().filter(|f| f.code == "no-sheet").count();
        assert!(missing > 0 && missing < work.parts.len(), "{missing}");
        assert_eq!(named(&output, "sheets").rows.len() + missing, work.parts.len());
        let flat = [("from", Value::Text("flat".into()))];
        let (work, output) = run_over(1, &flat);
        let missing = output.findings.iter().filter(|f| f.code == "no-sheet").count();
        assert_eq!(missing, work.parts.len(), "blanks want flat sheet, and there is none");
    }
}
