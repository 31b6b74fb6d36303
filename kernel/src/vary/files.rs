//! The files of a run: the sheet of pictures as SVG, PDF and HTML, the table as CSV, all of it as JSON.

use super::{FAILED, Fate, Figures, Out, PAPER, Tried, Variant, pages};
use crate::choice::{Choice, Of, Pick, Picks};
use crate::drawing::Drawing;
use crate::error::{Error, Result};
use crate::export::OutFile;
use crate::export::csv::csv_bytes;
use crate::export::pdf::pages_to_pdf;
use crate::export::svg::page_to_svg;
use crate::export::web_page::{MADE_BY, web_page};
use crate::table::{Cell, Column, Table};
use maud::{PreEscaped, html};
use rayon::prelude::*;
use serde::Serialize;
use std::collections::BTreeMap;

/// Schema of `vary.json`.
pub const SCHEMA: &str = "ribwright-vary-1";

/// All files of a run.
///
/// # Errors
/// A drawing that cannot be written.
pub fn files(tried: &Tried) -> Result<Vec<OutFile>> {
    let pages = pages(tried);
    let svgs = pages.par_iter().map(|page| page_to_svg(page, PAPER)).collect::<Result<Vec<String>>>()?;
    let mut files = vec![
        OutFile { path: "vary.html".to_owned(), bytes: page(tried, &svgs).into_bytes() },
        OutFile { path: "vary.json".to_owned(), bytes: json(tried)? },
        OutFile {
            path: "vary.csv".to_owned(),
            bytes: csv_bytes(&table(tried)).map_err(|e| Error::bug(format!("cannot be written: {e}")))?,
        },
    ];
    if !pages.is_empty() {
        let title = format!("{}: variants", tried.name);
        files.push(OutFile { path: "vary.pdf".to_owned(), bytes: pages_to_pdf(&title, &pages, PAPER)? });
    }
    let named = pages.iter().zip(svgs);
    files.extend(named.map(|(page, svg): (&Drawing, String)| OutFile {
        path: format!("{}.svg", page.name),
        bytes: svg.into_bytes(),
    }));
    files.sort_by(|a, b| a.path.cmp(&b.path));
    Ok(files)
}

#[derive(Serialize)]
struct Report<'a> {
    schema: &'static str,
    made_by: &'static str,
    name: &'a str,
    script: &'a str,
    #[serde(flatten)]
    further: &'a BTreeMap<String, String>,
    how: &'a str,
    choices: Vec<ChoiceEntry<'a>>,
    tried: usize,
    kept: usize,
    /// By the first rule each breaks.
    fell_out: BTreeMap<&'a str, usize>,
    variants: Vec<VariantEntry<'a>>,
}

#[derive(Serialize)]
struct ChoiceEntry<'a> {
    name: &'a str,
    kind: &'static str,
    #[serde(skip_serializing_if = "str::is_empty")]
    unit: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    least: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    greatest: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    step: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    of: Option<&'a [Pick]>,
    usual: &'a Pick,
    now: Option<&'a Pick>,
}

#[derive(Serialize)]
struct VariantEntry<'a> {
    number: usize,
    values: Picks,
    kept: bool,
    shown: bool,
    /// Whether the script is made with these values now.
    now: bool,
    #[serde(skip_serializing_if = "<[Out]>::is_empty")]
    fell_out: &'a [Out],
    #[serde(skip_serializing_if = "Option::is_none")]
    error: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    figures: Option<&'a Figures>,
}

fn choice_entry<'a>(choice: &'a Choice, now: &'a Picks) -> ChoiceEntry<'a> {
    let (kind, range, of) = match &choice.of {
        Of::Range { least, greatest, step } => ("range", [Some(*least), Some(*greatest), *step], None),
        Of::List(of) => ("list", [None; 3], Some(of.as_slice())),
        Of::Seed => ("seed", [None; 3], None),
    };
    ChoiceEntry {
        name: &choice.name,
        kind,
        unit: &choice.unit,
        least: range[0],
        greatest: range[1],
        step: range[2],
        of,
        usual: &choice.usual,
        now: now.get(&choice.name),
    }
}

fn json(tried: &Tried) -> Result<Vec<u8>> {
    let entry = |index: usize| {
        let variant = &tried.variants[index];
        let (fell_out, error): (&[Out], Option<&str>) = match &variant.fate {
            Fate::Kept(_) => (&[], None),
            Fate::Out(why, _) => (why, None),
            Fate::Failed(error) => (&[], Some(error)),
        };
        VariantEntry {
            number: variant.number,
            values: variant.picks(),
            kept: variant.kept().is_some(),
            shown: tried.shown.contains(&index),
            now: tried.is_present(variant),
            fell_out,
            error,
            figures: variant.figures(),
        }
    };
    let report = Report {
        schema: SCHEMA,
        made_by: MADE_BY,
        name: &tried.name,
        script: &tried.script,
        further: &tried.further,
        how: &tried.how,
        choices: tried.choices.iter().map(|c| choice_entry(c, &tried.present)).collect(),
        tried: tried.variants.len(),
        kept: tried.variants.iter().filter(|v| v.kept().is_some()).count(),
        fell_out: tried.fell_out(),
        variants: (0..tried.variants.len()).map(entry).collect(),
    };
    let mut bytes = serde_json::to_vec_pretty(&report)
        .map_err(|e| Error::bug(format!("the variants cannot be written: {e}")).at("vary.json"))?;
    bytes.push(b'\n');
    Ok(bytes)
}

const COLUMNS: [&str; 14] = [
    "height mm",
    "x mm",
    "y mm",
    "mass kg",
    "with welds and all kg",
    "least margin mm",
    "margin at",
    "sheet m²",
    "sheets cut",
    "seams m",
    "parts",
    "elements",
    "most sides",
    "why",
];

/// One row for each variant.
fn table(tried: &Tried) -> Table {
    let column = |name: &str| Column { name: name.to_owned() };
    let mut columns = vec![column("variant"), column("drawn"), column("fell out by")];
    columns.extend(tried.choices.iter().map(|c| {
        let unit = if c.unit.is_empty() { String::new() } else { format!(" {}", c.unit) };
        column(&format!("{}{unit}", c.name))
    }));
    columns.extend(COLUMNS.map(column));
    let rows = tried.variants.iter().enumerate().map(|(index, v)| {
        #[allow(clippy::cast_precision_loss, reason = "counts")]
        let count = |n: usize| Cell::Number(n as f64, 0);
        let word = |yes: bool| Cell::Text(if yes { "yes" } else { "no" }.to_owned());
        let picks = v.picks();
        let fell = v.fell_by().map_or(Cell::Empty, |rule| Cell::Text(rule.to_owned()));
        let mut row = vec![count(v.number), word(tried.shown.contains(&index)), fell];
        row.extend(tried.choices.iter().map(|c| match picks.get(&c.name) {
            Some(value) => Cell::Text(value.to_string()),
            None => Cell::Empty,
        }));
        match v.figures() {
            Some(f) => row.extend([
                Cell::Number(f.height_mm, 0),
                Cell::Number(f.plan_mm[0], 0),
                Cell::Number(f.plan_mm[1], 0),
                Cell::Number(f.mass_kg, 1),
                Cell::Number(f.mass_with_all_kg, 1),
                f.least_margin_mm.map_or(Cell::Empty, |m| Cell::Number(m, 1)),
                Cell::Text(f.least_margin_at.clone()),
                Cell::Number(f.parts_area_mm2 / 1.0e6, 2),
                f.sheets.map_or(Cell::Empty, count),
                Cell::Number(f.seam_length_mm / 1000.0, 2),
                count(f.parts),
                count(f.elements),
                count(f.most_sides),
            ]),
            None => row.extend(vec![Cell::Empty; COLUMNS.len() - 1]),
        }
        row.push(why(v).map_or(Cell::Empty, Cell::Text));
        row
    });
    let rows = rows.collect();
    Table { name: "vary".to_owned(), title: "Variants".to_owned(), columns, rows }
}

/// Why a variant is not kept, on one line.
fn why(variant: &Variant) -> Option<String> {
    match &variant.fate {
        Fate::Kept(_) => None,
        Fate::Out(why, _) => {
            let words = why.iter().map(|o| format!("{}: {}", o.place, o.message));
            Some(words.collect::<Vec<_>>().join("; "))
        }
        Fate::Failed(error) => Some(error.lines().next().unwrap_or(FAILED).to_owned()),
    }
}

const STYLE: &str = "
body { font: 16px/1.45 system-ui, sans-serif; color: #111; background: #fff; margin: 1.5rem; }
h1 { font-size: 1.6rem; margin: 0 0 .3rem; }
figure { margin: 0 0 1rem; overflow-x: auto; }
figure svg { width: 100%; min-width: 60rem; height: auto; }
.table { overflow-x: auto; }
table { border-collapse: collapse; font-size: .9rem; }
th, td { border: 1px solid #777; padding: .2rem .45rem; text-align: left; vertical-align: top; }
td.number { text-align: right; font-variant-numeric: tabular-nums; }
tr.drawn td:first-child { font-weight: 700; }
td:last-child { min-width: 14rem; }
code { white-space: nowrap; }
@page { size: A3 landscape; margin: 10mm; }
@media print {
  body { margin: 0; font-size: 10pt; }
  figure { break-after: page; overflow: visible; }
  figure svg { width: 400mm; height: 282.8mm; min-width: 0; }
  header { display: none; }
  .table { overflow: visible; }
  table { font-size: 8.5pt; }
  tr { break-inside: avoid; }
}
";

/// One page for a browser: the pictures and the table; nothing is fetched.
fn page(tried: &Tried, svgs: &[String]) -> String {
    let table = table(tried);
    let kept = tried.variants.iter().filter(|v| v.kept().is_some()).count();
    let fell = tried.fell_out_words();
    let body = html! {
        header {
            h1 { (tried.name) ": variants" }
            p {
                (tried.variants.len()) " tried (" (tried.how) "), " (kept) " kept"
                @if !fell.is_empty() { "; fell out: " (fell) }
                ". Pick one: " code { "ribwright vary " (tried.script) " --pick NUMBER" }
            }
        }
        main {
            @for svg in svgs {
                figure { (PreEscaped(labelled(svg))) }
            }
            @if svgs.is_empty() { p { "No variant is inside the rules; the table says why." } }
            div.table tabindex="0" role="region" aria-label="All variants" {
                table {
                    thead { tr { @for c in &table.columns { th scope="col" { (c.name) } } } }
                    tbody {
                        @for (variant, row) in tried.variants.iter().zip(&table.rows) {
                            @let drawn = tried.shown.contains(&(variant.number - 1));
                            tr.drawn[drawn] {
                                @for cell in row {
                                    td.number[matches!(cell, Cell::Number(..))] { (shown(cell)) }
                                }
                            }
                        }
                    }
                }
            }
            p {
                "All figures are preliminary. Margins are those of rigid bodies under their own weight; strength, \
                 wind, ground and lifting are not checked here: a licensed engineer and the local code decide."
            }
        }
    };
    web_page(&format!("{} · variants", tried.name), Some(MADE_BY), STYLE, &body)
}

/// A picture in a page: named for those who do not see it, and without identifiers, which would stand in it twice.
fn labelled(svg: &str) -> String {
    let named = svg.replacen(
        "<svg ",
        "<svg role=\"img\" aria-label=\"Variants; the table below has their figures\" ",
        1,
    );
    let mut out = String::with_capacity(named.len());
    for line in named.split_inclusive('\n') {
        match (line.starts_with("<g id=\""), line.find("\" class=")) {
            (true, Some(at)) => {
                out.push_str("<g");
                out.push_str(&line[at + 1..]);
            }
            _ => out.push_str(line),
        }
    }
    out
}

fn shown(cell: &Cell) -> String {
    match cell {
        Cell::Text(text) => text.clone(),
        Cell::Number(x, decimals) => format!("{x:.decimals$}"),
        Cell::Empty => String::new(),
    }
}
