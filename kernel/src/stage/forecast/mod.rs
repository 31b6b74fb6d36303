//! The forecast stage: the gaps to expect on surveyed sheets, and what templates made for them save.

mod bars;
mod pen;
mod picture;

use super::sketch::stem;
use super::{Stage, any};
use crate::costs::Quantity;
use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::forecast::{self, Estimate, Forecast, Options, SETTINGS, STAGE, Source, Way, WayForecast};
use crate::output::{Output, free_name};
use crate::registry::Registry;
use crate::table::{Cell, Table, table, text};
use crate::work::Work;
use std::collections::BTreeSet;

/// The registry row.
pub const ROW: Stage = Stage {
    name: STAGE,
    summary: "on surveyed sheets: gaps to expect from nominal templates and from templates of the sheets",
    settings: SETTINGS,
    check: any,
    run,
};

fn run(work: &Work, registry: &Registry, output: &mut Output) -> Result<()> {
    let options = Options::new(&super::values(work, &ROW)?);
    if options.draws == 0 || work.faces.iter().all(|f| f.wander.is_none()) {
        return Ok(());
    }
    let nominal = forecast::nominal(work, registry)?;
    let forecast = forecast::forecast(work, &nominal, &options)?;
    if forecast.seams.is_empty() {
        return Ok(());
    }
    output.tables.extend([
        seams(&forecast),
        totals(&forecast),
        contributions(&forecast),
        basis(&forecast, &options),
    ]);
    output.drawings.extend(picture::overview(work, &forecast, &options));
    let mut taken: BTreeSet<String> = output.drawings.iter().map(|d| d.name.to_lowercase()).collect();
    for seam in &forecast.seams {
        let name = free_name(&format!("forecast-{}", stem(&seam.id)), &mut taken);
        output.drawings.extend(picture::seam(seam, &options, &name));
    }
    output.quantities.extend(quantities(&forecast));
    output.findings.push(finding(work, &forecast, &options));
    Ok(())
}

fn finding(work: &Work, forecast: &Forecast, options: &Options) -> Finding {
    let t = &forecast.totals;
    Finding::new(
        Level::Note,
        "gap-forecast",
        work.sculpture.name.as_str(),
        format!(
            "parts cut from nominal templates would leave voids of {:.2} kg of filler on these sheets, parts cut from \
             templates of the surveyed sheets {:.2} kg: a forecast of {} works drawn by lot saves {:.2} kg and {:.1} \
             hours",
            t.filler[0].mean, t.filler[1].mean, options.draws, t.filler_saved.mean, t.hours_saved.mean
        ),
        "put your own cutting, placing and rates into .stage(\"forecast\", #{ … }); measure a seam and compare",
    )
}

/// For the estimate: filling of the gaps that templates of the surveyed sheets leave, 5 %, mean and 95 %.
fn quantities(forecast: &Forecast) -> [Quantity; 2] {
    let t = &forecast.totals;
    [("gap h", &t.hours[1]), ("gap filler kg", &t.filler[1])].map(|(name, e)| Quantity {
        name,
        range: [e.low.min(e.mean), e.mean, e.high.max(e.mean)],
        from: "gap forecast, surveyed templates: 5 %, mean, 95 %".to_owned(),
    })
}

/// Figures of a seam: name with unit, decimals, factor.
const FIGURES: [(&str, usize, f64); 5] = [
    ("greatest mm", 2, 1.0),
    ("mean mm", 3, 1.0),
    ("void mm²", 0, 1.0),
    ("filler kg", 4, 1.0),
    ("above the gap %", 1, 100.0),
];

fn seams(forecast: &Forecast) -> Table {
    let mut columns: Vec<String> =
        ["seam", "templates", "joint", "length mm"].into_iter().map(str::to_owned).collect();
    for (name, _, _) in FIGURES {
        let (what, unit) = name.rsplit_once(' ').unwrap_or((name, ""));
        columns.extend([
            name.to_owned(),
            format!("± {unit}"),
            format!("{what} 95 % {unit}"),
            format!("± {unit}"),
        ]);
    }
    let rows = forecast
        .seams
        .iter()
        .flat_map(|seam| {
            Way::BOTH.into_iter().zip(&seam.ways).filter_map(move |(way, of)| Some((seam, way, of.as_ref()?)))
        })
        .map(|(seam, way, of)| {
            let mut row =
                vec![text(&seam.id), text(way.word()), text(of.joint.word()), Cell::Number(of.length, 0)];
            for ((_, decimals, factor), e) in FIGURES.into_iter().zip(estimates(of)) {
                let all = [e.mean, e.mean_error, e.high, e.high_error];
                row.extend(all.map(|x| Cell::Number(factor * x, decimals)));
            }
            row
        })
        .collect();
    let names: Vec<&str> = columns.iter().map(String::as_str).collect();
    table("forecast", "Gaps to expect", &names, rows)
}

fn estimates(of: &WayForecast) -> [&Estimate; 5] {
    [&of.greatest, &of.mean, &of.void, &of.filler, &of.above]
}

fn totals(forecast: &Forecast) -> Table {
    let t = &forecast.totals;
    let rows = [
        ("void, nominal templates", "mm²", &t.void[0], 0),
        ("void, surveyed templates", "mm²", &t.void[1], 0),
        ("filler, nominal templates", "kg", &t.filler[0], 3),
        ("filler, surveyed templates", "kg", &t.filler[1], 3),
        ("filler saved", "kg", &t.filler_saved, 3),
        ("filling and grinding, nominal templates", "h", &t.hours[0], 2),
        ("filling and grinding, surveyed templates", "h", &t.hours[1], 2),
        ("hours saved", "h", &t.hours_saved, 2),
    ];
    let rows = rows
        .into_iter()
        .map(|(what, unit, e, decimals)| {
            let mut row = vec![text(what), text(unit)];
            let all = [e.mean, e.mean_error, e.low, e.low_error, e.high, e.high_error];
            row.extend(all.map(|x| Cell::Number(x, decimals)));
            row
        })
        .collect();
    let columns = ["of the work", "unit", "mean", "± mean", "5 %", "± 5 %", "95 %", "± 95 %"];
    table("forecast_totals", "Filler and hours to expect", &columns, rows)
}

fn contributions(forecast: &Forecast) -> Table {
    let what = |source: Source| match source {
        Source::Sheet => "real sheets against nominal ones",
        Source::Survey => "readings of the survey",
        Source::Cut => "cuts off their lines",
        Source::Placing => "parts off their places",
    };
    let mut rows: Vec<Vec<Cell>> = Source::ALL
        .into_iter()
        .enumerate()
        .map(|(k, source)| {
            let of = forecast.alone.map(|a| Cell::Number(a[k], 3));
            let mut row = vec![text(what(source)), text(source.word())];
            row.extend(of);
            row
        })
        .collect();
    let mut row = vec![text("Together"), Cell::Empty];
    row.extend(forecast.together.map(|x| Cell::Number(x, 3)));
    rows.push(row);
    let columns =
        ["each alone", "setting (0 leaves it out)", "nominal templates RMS mm", "surveyed templates RMS mm"];
    table("forecast_sources", "What the gaps come from", &columns, rows)
}

fn basis(forecast: &Forecast, options: &Options) -> Table {
    let resolution = forecast
        .seams
        .iter()
        .flat_map(|s| s.ways.iter().flatten())
        .map(|w| w.mean.resolution)
        .fold(0.0, f64::max);
    let rows = [
        [
            "gap".to_owned(),
            format!(
                "distance of the two edges square to the seam, every {} mm at the middle skin; overlaps count as gaps",
                options.step
            ),
            "linear model, Monte Carlo".to_owned(),
            "parts are taken as rigid: a clamp closes some gaps and opens others".to_owned(),
        ],
        [
            "nominal templates".to_owned(),
            "height of the real sheet less that of the nominal one at the same place, templates laid by a crest line"
                .to_owned(),
            "survey".to_owned(),
            "the survey is taken as true; its own errors are not added".to_owned(),
        ],
        [
            "surveyed templates".to_owned(),
            "each reading off by its deviation as fitted; height − slope × across, linear between readings".to_owned(),
            "survey".to_owned(),
            "a sheet that is forced flat or springs back is another sheet".to_owned(),
        ],
        [
            "cut".to_owned(),
            format!(
                "normal, {} mm, square to the seam in the sheet, each {} mm of an edge by its own",
                options.cut, options.cut_step
            ),
            "common practice, no source".to_owned(),
            "the shop's own figure: measure some cuts".to_owned(),
        ],
        [
            "placing".to_owned(),
            format!("normal, {} mm along three axes, and as much at the corners by turns about them", options.placing),
            "common practice, no source".to_owned(),
            "each part by itself, though parts are set against each other".to_owned(),
        ],
        [
            "filler".to_owned(),
            format!(
                "void × mean thickness × {} kg/m³ / {}",
                options.density, options.efficiency
            ),
            "EN 1991-1-1 A.4 from memory; published filler-metal handbook".to_owned(),
            "the groove of a seam without gaps comes on top: see the weld schedule".to_owned(),
        ],
        [
            "hours".to_owned(),
            format!(
                "{} h per kg of filler and {} h per m above {} mm",
                options.fill_hours, options.grind_hours, options.gap
            ),
            "common practice, no source".to_owned(),
            "put in your own rates".to_owned(),
        ],
        [
            "mean, 95 %".to_owned(),
            format!(
                "over {} works drawn by lot (seed {}); ± is one standard error of the estimate; histogram bins of mean \
                 gaps are at most {resolution:.4} mm wide",
                options.draws, options.seed
            ),
            "ChaCha 8 and ziggurat".to_owned(),
            "errors of the model are not in it".to_owned(),
        ],
    ];
    let rows = rows.map(|row| row.map(text).to_vec()).to_vec();
    table("forecast_basis", "How the forecast comes about", &["figure", "formula", "source", "caution"], rows)
}
