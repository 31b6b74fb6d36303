//! Rates: what things cost and how fast they go, as read from the maker's file.
//!
//! The file is CSV with the headings `item,unit,low,usual,high,note`, one rate in each row, `#` before remarks. A unit of
//! money is `CUR/kg` (any text without a slash for the currency, the same in all rows); what an item may be counted by is
//! fixed, so that a rate per metre cannot stand where one per kg is meant.

use super::Range;
use crate::error::{Error, Result};
use crate::settings::{LARGEST_NUMBER, unknown_name};
use crate::text::{rows_of, separated_by_commas, text_of};
use std::fmt::Write as _;

/// What a rate counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Money per this.
    Per(&'static str),
    /// Money, once.
    Lump,
    /// No money: a speed, a share, a factor in this unit.
    Plain(&'static str),
}

/// A rate there can be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Item {
    /// The word for it in the file.
    pub name: &'static str,
    /// Its unit.
    pub unit: Unit,
    /// Made-up figures that stand in until the maker gives some: low, usual, high.
    pub made_up: Range,
    /// What it is.
    pub summary: &'static str,
}

const fn item(name: &'static str, unit: Unit, made_up: Range, summary: &'static str) -> Item {
    Item { name, unit, made_up, summary }
}

use Unit::{Lump, Per, Plain};

/// All rates there can be, in the order of the file that `rates_file` gives.
pub const ITEMS: &[Item] = &[
    item("sheet", Per("kg"), [1.4, 1.9, 2.6], "corrugated and flat sheet by mass, as bought"),
    item("sheet_area", Per("m²"), [0.0; 3], "the same by developed area, instead of or on top of its mass"),
    item(
        "waste",
        Plain("%"),
        [15.0, 25.0, 40.0],
        "sheet bought beyond the parts, where they are not laid on sheets",
    ),
    item("plate", Per("kg"), [1.5, 2.2, 3.2], "base, inside plates and lugs, cut"),
    item("tube", Per("kg"), [2.0, 2.8, 4.0], "tube of the spine by mass"),
    item("tube_metre", Per("m"), [0.0; 3], "the same by length, instead of or on top of its mass"),
    item("anchor", Per("each"), [8.0, 15.0, 30.0], "anchors, set"),
    item("filler", Per("kg"), [3.0, 4.5, 7.0], "welding wire or rods"),
    item(
        "gas_flow",
        Plain("l/min"),
        [12.0, 14.0, 18.0],
        "shielding gas while the arc burns; 0 where there is none",
    ),
    item("gas", Per("m³"), [8.0, 12.0, 18.0], "shielding gas"),
    item(
        "cutting",
        Per("h"),
        [60.0, 90.0, 140.0],
        "the cutting machine with its operator, by the hour of cutting",
    ),
    item("cut_metre", Per("m"), [0.0; 3], "cutting by length, instead of or on top of hours"),
    item("pierce", Per("each"), [0.0; 3], "piercing, instead of or on top of hours"),
    item("loading", Plain("h/part"), [0.1, 0.2, 0.4], "loading, marking and unloading of one part to be cut"),
    item("bend", Per("each"), [0.0; 3], "bends on the press brake, where blanks are folded from flat sheet"),
    item("labour", Per("h"), [35.0, 50.0, 70.0], "fitting, dressing and turning, by the hour of one person"),
    item("welding", Per("h"), [40.0, 55.0, 80.0], "a welder, by the hour"),
    item(
        "time_factor",
        Plain("×"),
        [1.0, 1.3, 2.0],
        "hours of fitting and welding it really takes for one worked out",
    ),
    item("dressing", Plain("h/m"), [0.3, 0.6, 1.2], "filling and grinding a metre of seam"),
    item(
        "consumables",
        Per("h"),
        [2.0, 3.0, 5.0],
        "discs, tips and protection for an hour of fitting, welding or dressing",
    ),
    item("blasting", Per("h"), [50.0, 70.0, 110.0], "the blaster with equipment, by the hour"),
    item("abrasive", Per("kg"), [0.2, 0.35, 0.6], "abrasive thrown, with its disposal"),
    item("paint", Per("l"), [15.0, 25.0, 40.0], "paint"),
    item("painting", Per("m²"), [4.0, 7.0, 12.0], "putting paint on, one layer"),
    item("wax", Per("l"), [8.0, 12.0, 20.0], "wax for the inside"),
    item("coating", Lump, [300.0, 600.0, 1200.0], "melting wax and turning the work, rig and helpers, once"),
    item("engineering", Lump, [800.0, 1500.0, 3000.0], "checks by a licensed engineer, once"),
    item("lifting", Lump, [300.0, 600.0, 1200.0], "crane and riggers, once"),
    item("transport", Lump, [300.0, 600.0, 1500.0], "delivery, once"),
    item("other", Lump, [0.0; 3], "anything else, once"),
    item("contingency", Plain("%"), [5.0, 10.0, 15.0], "for what nobody thought of, on all of the above"),
    item("margin", Plain("%"), [15.0; 3], "the maker's own, on all of the above with contingency"),
    item("tax", Plain("%"), [0.0; 3], "tax on all of the above; 0 shows prices before tax"),
];

/// The row of an item.
pub fn item_named(name: &str) -> Option<&'static Item> {
    ITEMS.iter().find(|i| i.name == name)
}

/// A rate, given or made up.
#[derive(Debug, Clone, PartialEq)]
pub struct Rate {
    /// What it is of.
    pub item: &'static Item,
    /// Low, usual, high.
    pub range: Range,
    /// Note or source, or what stands in for it.
    pub note: String,
    /// Whether the maker gave it.
    pub given: bool,
}

impl Rate {
    /// Whether nobody stands for it: not in the file, or still noted there as [`MADE_UP`].
    pub fn is_made_up(&self) -> bool {
        !self.given || self.note.contains(MADE_UP)
    }
}

/// All rates: of every item one, in the order of [`ITEMS`].
#[derive(Debug, Clone, PartialEq)]
pub struct Rates {
    /// Where they are from; empty without a file.
    pub file: String,
    /// The currency; `XXX` (no currency, ISO 4217, from memory) where no rate names one.
    pub currency: String,
    /// The rates.
    pub rates: Vec<Rate>,
}

/// What is written beside a rate nobody gave.
pub const MADE_UP: &str = "made up, replace";
/// ISO 4217 code for no currency, from memory.
const NO_CURRENCY: &str = "XXX";

impl Default for Rates {
    fn default() -> Self {
        let made_up = |item: &'static Item| Rate {
            item,
            range: item.made_up,
            note: if item.made_up[2] > 0.0 { MADE_UP.to_owned() } else { "not charged".to_owned() },
            given: false,
        };
        Self {
            file: String::new(),
            currency: NO_CURRENCY.to_owned(),
            rates: ITEMS.iter().map(made_up).collect(),
        }
    }
}

impl Rates {
    /// The rate of that name.
    ///
    /// # Panics
    /// No such item: a bug of the caller.
    pub fn of(&self, name: &str) -> &Rate {
        match self.rates.iter().find(|r| r.item.name == name) {
            Some(rate) => rate,
            None => panic!("there is no rate {name}"),
        }
    }

    /// Its unit in words.
    pub fn unit(&self, item: &Item) -> String {
        match item.unit {
            Per(what) => format!("{}/{what}", self.currency),
            Lump => self.currency.clone(),
            Plain(what) => what.to_owned(),
        }
    }
}

/// Headings of the file.
pub const HEADINGS: [&str; 6] = ["item", "unit", "low", "usual", "high", "note"];
const ITEM: usize = 0;
const UNIT: usize = 1;
const LOW: usize = 2;
const USUAL: usize = 3;
const HIGH: usize = 4;
const NOTE: usize = 5;

/// Most rows of one file: many times the items there are.
const MOST_ROWS: usize = 1000;
/// Longest currency, in letters.
const LONGEST_CURRENCY: usize = 8;

/// Reads a rates file. `low` and `high` may be left blank; the rate then has no range.
///
/// # Errors
/// Text that is not UTF-8, separators other than commas, a missing or unknown heading, an item that is not known (the
/// nearest one is named) or stands there twice, a unit that is not the item's, two currencies, what is no number from 0,
/// a low above the usual or a usual above the high; each with file, line and column.
pub fn read_rates(file: &str, bytes: &[u8]) -> Result<Rates> {
    read(bytes).map(|rates| Rates { file: file.to_owned(), ..rates }).map_err(|e| e.at(file))
}

fn read(bytes: &[u8]) -> Result<Rates> {
    let (text, _) = text_of(bytes)?;
    let mut reader = rows_of(text);
    let mut rates = Rates::default();
    let mut table: Option<Table> = None;
    let mut currency: Option<(u64, String)> = None;
    let mut seen: Vec<(&'static str, u64)> = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|e| {
            let line = e.position().map_or(1, csv::Position::line);
            Error::input(format!("the row cannot be read: {e}")).at(format!("line {line}"))
        })?;
        if record.iter().all(str::is_empty) {
            continue;
        }
        let line = record.position().map_or(0, csv::Position::line);
        let Some(table) = &mut table else {
            table = Some(Table::new(&record, line)?);
            continue;
        };
        table.line = line;
        if seen.len() >= MOST_ROWS {
            return Err(Error::input(format!("the file has more than the {MOST_ROWS} rows allowed"))
                .at(table.at(ITEM))
                .remedy("keep one row for each item"));
        }
        if let Some(extra) = record.iter().skip(table.count).find(|f| !f.is_empty()) {
            return Err(Error::input(format!(
                "the row has more fields than headings: {:?} is left over",
                short(extra)
            ))
            .at(format!("line {line}, column {}", table.count + 1))
            .remedy(
                "write a point as the decimal sign, and put a note with commas between quotation marks",
            ));
        }
        let (item, rate, money) = table.rate(&record)?;
        if let Some((_, before)) = seen.iter().find(|(name, _)| *name == item.name) {
            return Err(Error::input(format!(
                "the rate of {} was given in line {before} already",
                item.name
            ))
            .at(table.at(ITEM))
            .remedy("give it once"));
        }
        seen.push((item.name, line));
        if let Some(money) = money {
            match &currency {
                Some((before, known)) if *known != money => {
                    return Err(Error::input(format!(
                        "the currency is {money:?} here and {known:?} in line {before}"
                    ))
                    .at(table.at(UNIT))
                    .remedy("give all rates in one currency"));
                }
                Some(_) => {}
                None => currency = Some((line, money)),
            }
        }
        if let Some(own) = rates.rates.iter_mut().find(|r| r.item.name == item.name) {
            *own = rate;
        }
    }
    if table.is_none() {
        return Err(Error::input("the file holds no headings")
            .at("line 1")
            .remedy(format!("begin with {}", HEADINGS.join(","))));
    }
    if let Some((_, money)) = currency {
        rates.currency = money;
    }
    Ok(rates)
}

fn short(text: &str) -> String {
    text.chars().take(30).collect()
}

/// Where the columns stand, and the line being read.
struct Table {
    fields: [Option<usize>; 6],
    count: usize,
    line: u64,
}

impl Table {
    fn new(record: &csv::StringRecord, line: u64) -> Result<Self> {
        let place = |field: usize| format!("line {line}, column {}", field + 1);
        separated_by_commas(record.iter(), place(0))?;
        let mut fields = [None; 6];
        for (field, heading) in record.iter().enumerate().filter(|(_, h)| !h.is_empty()) {
            let heading = heading.to_lowercase();
            let Some(column) = HEADINGS.iter().position(|h| *h == heading) else {
                return Err(unknown_name("heading", &heading, HEADINGS.iter().copied()).at(place(field)));
            };
            if fields[column].replace(field).is_some() {
                return Err(Error::input(format!("the heading \"{heading}\" stands there twice"))
                    .at(place(field))
                    .remedy("name each column once"));
            }
        }
        for column in [ITEM, UNIT, USUAL] {
            if fields[column].is_none() {
                return Err(Error::input(format!("the column \"{}\" is missing", HEADINGS[column]))
                    .at(format!("line {line}"))
                    .remedy(format!("begin with the headings {}", HEADINGS.join(","))));
            }
        }
        Ok(Self { fields, count: record.len(), line })
    }

    fn at(&self, column: usize) -> String {
        match self.fields[column] {
            Some(field) => format!("line {}, column {} ({})", self.line, field + 1, HEADINGS[column]),
            None => format!("line {}", self.line),
        }
    }

    fn text<'r>(&self, record: &'r csv::StringRecord, column: usize) -> &'r str {
        self.fields[column].and_then(|f| record.get(f)).unwrap_or_default()
    }

    /// The rate of a row, and the currency its unit names.
    fn rate(&self, record: &csv::StringRecord) -> Result<(&'static Item, Rate, Option<String>)> {
        let name = self.text(record, ITEM);
        let item = item_named(name)
            .ok_or_else(|| unknown_name("item", name, ITEMS.iter().map(|i| i.name)).at(self.at(ITEM)))?;
        let money = self.money(item, self.text(record, UNIT))?;
        let usual = self.number(record, USUAL)?.ok_or_else(|| {
            Error::input(format!("the usual rate of {name} is missing"))
                .at(self.at(USUAL))
                .remedy("write a number, or take the row out: a made-up rate then stands in, marked as such")
        })?;
        let low = self.number(record, LOW)?.unwrap_or(usual);
        let high = self.number(record, HIGH)?.unwrap_or(usual);
        for (column, (less, small), (more, large)) in
            [(LOW, ("low", low), ("usual", usual)), (HIGH, ("usual", usual), ("high", high))]
        {
            if small > large {
                return Err(Error::input(format!(
                    "the {less} rate of {name}, {small}, is above its {more} one, {large}"
                ))
                .at(self.at(column))
                .remedy("low, usual and high must not fall"));
            }
        }
        let note = self.text(record, NOTE).to_owned();
        if note.parse::<f64>().is_ok() {
            return Err(Error::input(format!("the note is a number: {:?}", short(&note)))
                .at(self.at(NOTE))
                .remedy("a comma used as the decimal sign shifts what follows: write points"));
        }
        Ok((item, Rate { item, range: [low, usual, high], note, given: true }, money))
    }

    /// Checks the unit against the item's and gives the currency in it.
    fn money(&self, item: &Item, unit: &str) -> Result<Option<String>> {
        let plain = unit.replace("m2", "m²").replace("m3", "m³");
        let wrong = |wanted: String| {
            Error::input(format!("{} is counted in {wanted}, not in {:?}", item.name, short(unit)))
                .at(self.at(UNIT))
                .remedy(format!("{}: write {wanted}", item.summary))
        };
        let (money, found) = match plain.split_once('/') {
            _ if matches!(item.unit, Plain(_)) => ("", plain.as_str()),
            Some((money, per)) => (money.trim(), per.trim()),
            None => (plain.as_str(), ""),
        };
        match item.unit {
            Plain(what) => {
                let times = what == "×" && (found == "x" || found == "1");
                if found == what || times { Ok(None) } else { Err(wrong(what.to_owned())) }
            }
            Per(what) if found != what => Err(wrong(format!("CUR/{what}, with your currency for CUR"))),
            Lump if !found.is_empty() => Err(wrong("CUR, with your currency for CUR".to_owned())),
            Per(_) | Lump if money.is_empty() || money.chars().count() > LONGEST_CURRENCY => {
                Err(Error::input(format!("{:?} names no currency", short(unit)))
                    .at(self.at(UNIT))
                    .remedy(format!("write 1 to {LONGEST_CURRENCY} letters for it, as in EUR/kg")))
            }
            Per(_) | Lump => Ok(Some(money.to_owned())),
        }
    }

    fn number(&self, record: &csv::StringRecord, column: usize) -> Result<Option<f64>> {
        let text = self.text(record, column);
        if text.is_empty() {
            return Ok(None);
        }
        match text.parse::<f64>() {
            Ok(x) if (0.0..=LARGEST_NUMBER).contains(&x) => Ok(Some(x + 0.0)),
            Ok(_) => Err(Error::input(format!(
                "{} is no usable rate (allowed: 0 to {LARGEST_NUMBER:e})",
                short(text)
            ))
            .at(self.at(column))
            .remedy("write a number from 0")),
            Err(_) => {
                let error = Error::input(format!("{:?} is not a number", short(text))).at(self.at(column));
                let pointed = text.replacen(',', ".", 1);
                Err(if text.contains(',') && pointed.parse::<f64>().is_ok() {
                    error.remedy(format!("write a point as the decimal sign: {pointed}"))
                } else {
                    error.remedy("write a plain number; currency and unit stand in the column unit")
                })
            }
        }
    }
}

/// A rates file with every item, made-up figures in it, to be filled in.
pub fn rates_file(currency: &str) -> String {
    let rates = Rates { currency: currency.to_owned(), ..Rates::default() };
    let mut text = String::from(
        "# Rates for estimates: what things cost here and how fast they go.\n\
         # ALL FIGURES ARE MADE UP: replace low, usual and high by your own, and the note by where you have them from.\n\
         # Write decimal points. Rows taken out are made up again, and marked so. A rate of 0 charges nothing.\n\
         item,unit,low,usual,high,note\n",
    );
    for rate in &rates.rates {
        let [low, usual, high] = rate.range;
        let _ = writeln!(
            text,
            "{},{},{low},{usual},{high},\"{}: {MADE_UP}\"",
            rate.item.name,
            rates.unit(rate.item),
            rate.item.summary
        );
    }
    text
}
