//! The costs stage: quantities of the work by the maker's rates, with ranges; the schedule for the maker and a page for the
//! client; where the script asks for it with `rates` or `stage("costs", …)`.

mod lines;
mod page;

use super::sketch::{count, table, words};
use super::{Stage, any, values};
use crate::costs::{Estimate, Factor, Line, Range, Rates};
use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::output::Output;
use crate::registry::Registry;
use crate::settings::{Setting, SettingKind};
use crate::table::{Cell, Table};
use crate::work::Work;

const fn text(name: &'static str, summary: &'static str) -> Setting {
    Setting { name, summary, unit: "", kind: SettingKind::Text }
}

/// The registry row.
pub const ROW: Stage = Stage {
    name: "costs",
    summary: "what the work costs by the maker's rates, with ranges, and a page for the client; where asked for",
    settings: &[
        text("client", "for whom the estimate is; written on the client's page"),
        text("maker", "who makes it; written on the client's page"),
        text("date", "when; written on the client's page as it is"),
        count("valid", "days for which the estimate holds (common practice, no source)", 30, [1, 3650]),
    ],
    check: any,
    run,
};

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    if !work.sculpture.stages.contains_key(ROW.name) && work.sculpture.rates.is_none() {
        return Ok(());
    }
    let set = values(work, &ROW)?;
    super::mass::gather(work, output)?;
    let rates = work.sculpture.rates.as_ref().map_or_else(Rates::default, |r| (**r).clone());
    let gathered = lines::gather(work, output)?;
    let mut estimate = Estimate { lines: gathered.lines, rates };
    // What is not charged says nothing.
    let charged: Vec<bool> = (0..estimate.lines.len()).map(|k| estimate.line(k)[2] > 0.0).collect();
    let mut keep = charged.iter();
    estimate.lines.retain(|_| keep.next().copied().unwrap_or_default());
    output.tables.extend([lines_table(&estimate), totals_table(&estimate), rates_table(&estimate)]);
    remark(work, &estimate, &gathered.unlaid, output);
    output.estimate = Some(page::sheet(work, output, &set, &estimate, gathered.without));
    Ok(())
}

fn range(range: Range, decimals: usize) -> [Cell; 3] {
    range.map(|x| Cell::Number(x + 0.0, decimals))
}

/// `56 EUR/h × 1.3 ×`, at usual rates.
fn by(estimate: &Estimate, line: &Line) -> String {
    let one = |factor: &Factor| {
        let (Factor::Rate(name) | Factor::More(name)) = factor;
        let rate = estimate.rates.of(name);
        let unit = estimate.rates.unit(rate.item);
        let figure =
            if unit == "×" { rate.range[1].to_string() } else { format!("{} {unit}", rate.range[1]) };
        match factor {
            Factor::Rate(_) => format!("{name} {figure}"),
            Factor::More(_) => format!("{name} + {figure}"),
        }
    };
    line.factors.iter().map(one).collect::<Vec<_>>().join(" × ")
}

fn lines_table(estimate: &Estimate) -> Table {
    let mut rows = Vec::new();
    for (k, line) in estimate.lines.iter().enumerate() {
        let mut row = vec![words(line.group.words()), words(line.what.as_str())];
        row.extend(range(line.quantity, 2));
        row.extend([words(line.unit), words(by(estimate, line))]);
        row.extend(range(estimate.line(k), 2));
        row.push(words(line.from.as_str()));
        rows.push(row);
    }
    let money = |what: &str| format!("{what} {}", estimate.rates.currency);
    let [low, usual, high] = ["low", "usual", "high"].map(money);
    let columns = [
        "group",
        "what",
        "least",
        "quantity",
        "most",
        "unit",
        "usual rates",
        low.as_str(),
        usual.as_str(),
        high.as_str(),
        "how the quantity comes about",
    ];
    let title = "Costs line by line, for the maker: an estimate from rates the maker supplied";
    table(ROW.name, title, &columns, rows)
}

fn totals_table(estimate: &Estimate) -> Table {
    let t = estimate.totals();
    let per_cent = |name: &str| {
        let [low, usual, high] = estimate.rates.of(name).range;
        format!("{low}, {usual}, {high} %")
    };
    let all: [(&str, Range, String); 6] = [
        ("all lines", t.lines, "sum of the ranges: all low, all usual, all high at once".into()),
        ("with contingency", t.with_contingency, per_cent("contingency")),
        ("price before tax", t.price, format!("with margin {}", per_cent("margin"))),
        (
            "price before tax, likely",
            t.likely,
            "each rate and quantity alone to its low and high, differences added as the root of their squares (JCGM \
             100:2008, 5.1: independent)"
                .into(),
        ),
        ("price with tax", t.taxed, per_cent("tax")),
        ("price with tax, likely", t.taxed_likely, "as above".into()),
    ];
    let taxed = estimate.rates.of("tax").range[2] > 0.0;
    let rows = all
        .into_iter()
        .take(if taxed { 6 } else { 4 })
        .map(|(what, sum, how)| {
            let mut row = vec![words(what)];
            row.extend(range(sum, 2));
            row.push(words(how));
            row
        })
        .collect();
    let money = |what: &str| format!("{what} {}", estimate.rates.currency);
    let [low, usual, high] = ["low", "usual", "high"].map(money);
    let columns = ["what", low.as_str(), usual.as_str(), high.as_str(), "how"];
    table("costs_totals", "Costs together: an estimate from rates the maker supplied", &columns, rows)
}

fn rates_table(estimate: &Estimate) -> Table {
    let rows = estimate
        .rates
        .rates
        .iter()
        .map(|rate| {
            let mut row = vec![words(rate.item.name), words(estimate.rates.unit(rate.item))];
            row.extend(range(rate.range, 2));
            let from = if rate.given { estimate.rates.file.as_str() } else { "built in" };
            row.extend([words(from), words(rate.note.as_str()), words(rate.item.summary)]);
            row
        })
        .collect();
    let columns = ["item", "unit", "low", "usual", "high", "from", "note", "what it is"];
    table("costs_rates", "Rates used: not for the client", &columns, rows)
}

fn remark(work: &Work, estimate: &Estimate, unlaid: &[String], output: &mut Output) {
    let name = work.sculpture.name.as_str();
    let made_up = estimate.made_up();
    if !made_up.is_empty() {
        let from = match estimate.rates.file.as_str() {
            "" => "no rates file was given; XXX stands for no currency".to_owned(),
            file => format!("{file} does not give them"),
        };
        output.findings.push(Finding::new(
            Level::Warning,
            "rates-made-up",
            name,
            format!("{} rates are made up, so the estimate means nothing yet ({from}): {}", made_up.len(), made_up.join(", ")),
            "write your own low, usual and high into a file beside the script: s.rates(\"rates.csv\"); the schedule of \
             rates lists all items",
        ));
    }
    if !unlaid.is_empty() {
        output.findings.push(Finding::new(
            Level::Warning,
            "costs-sheets",
            name,
            format!(
                "the sheet of {} pieces that lie on no sheet is not counted: {}",
                unlaid.len(),
                unlaid.join(", ")
            ),
            "add sheets to lay them on",
        ));
    }
    let t = estimate.totals();
    let money = crate::costs::sheet::money;
    let step = crate::costs::sheet::step(t.price[1]);
    let [low, usual, high] = [t.likely[0], t.price[1], t.likely[2]].map(|x| money((x / step).round() * step));
    output.findings.push(Finding::new(
        Level::Note,
        "estimate",
        name,
        format!(
            "{usual} {} before tax, likely between {low} and {high}: an estimate from rates the maker supplied",
            estimate.rates.currency
        ),
        "costs/estimate.pdf is for the client; schedules/costs.csv and the job book hold the rates and are not",
    ));
}
