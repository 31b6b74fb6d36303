//! Reading a yard file: CSV with one row per reading.
//!
//! Everything that is wrong is named with line and column, the column by its number and heading. A sheet that
//! reads well may still hold misreadings; those are found by the fit.

use super::Damage;
use super::yard::{COLUMNS, Measured, RawSheet, Reading, Row, Trace, WORDS, Yard};
use crate::drawing::signed_area;
use crate::error::{Error, Result};
use crate::polygon::meets_itself;
use crate::settings::unknown_name;
use crate::text::{line_and_column, rows_of, separated_by_commas, text_of};
use std::collections::{BTreeMap, BTreeSet};

/// Most rows of one file: a large yard of 200 sheets with 250 readings each. A survey of that many stays below
/// 300 MB; each row costs some 5 kB once it is fitted and drawn.
pub const MOST_ROWS: u64 = 50_000;
/// Most sheets of one file: twice as many as a large yard has.
pub const MOST_SHEETS: usize = 400;
/// Most readings of one sheet: a thousand folds and stations, each read several times.
pub const MOST_READINGS: usize = 8_000;
/// Most corners of one outline of damage: one every few millimetres round a sheet.
pub const MOST_CORNERS: usize = 1_000;
/// Largest file, bytes: with long notes, more than [`MOST_ROWS`] need.
pub const MOST_BYTES: usize = 64 * 1024 * 1024;
/// Longest and widest sheet, mm: coils are longer, but nobody tapes them fold by fold.
const LONGEST: f64 = 100_000.0;
/// Most a crest may stand over the straightedge, mm; it lies on crests, so that little is true.
const PROUDEST: f64 = 50.0;
/// Largest number of a fold.
const MOST_FOLDS: f64 = 10_000.0;
/// Stations are rounded to a thousandth of a millimetre, so that rounding elsewhere makes no second one.
const STATION_STEPS: f64 = 1000.0;

/// Reads a yard file; `file` is its name for messages.
///
/// # Errors
/// Anything that is not as described in [`COLUMNS`] and [`WORDS`]: the first place is named with line and column.
pub fn read_yard(file: &str, bytes: &[u8]) -> Result<Yard> {
    let mut yard = read(bytes).map_err(|e| e.at(file))?;
    yard.file = file.to_owned();
    Ok(yard)
}

fn read(bytes: &[u8]) -> Result<Yard> {
    if bytes.len() > MOST_BYTES {
        let (line, column) = line_and_column(bytes, MOST_BYTES);
        return Err(Error::input(format!("the file has more than the {MOST_BYTES} bytes allowed"))
            .at(format!("line {line}, column {column}"))
            .remedy(SPLIT));
    }
    let (text, note) = text_of(bytes)?;
    let mut yard = Yard::default();
    yard.findings.extend(note);
    if text.trim().is_empty() {
        return Err(Error::input("the file is empty")
            .at("line 1, column 1")
            .remedy(format!("begin with the headings {}", headings())));
    }
    let mut reader = rows_of(text);
    let mut record = csv::StringRecord::new();
    let mut table = loop {
        if !next(&mut reader, &mut record)? {
            return Err(Error::input("the file holds no headings").at("line 1, column 1"));
        }
        if record.iter().any(|field| !field.is_empty()) {
            break Table::new(&record)?;
        }
    };
    let mut build = Build::default();
    let mut rows = 0;
    while next(&mut reader, &mut record)? {
        if record.iter().all(str::is_empty) {
            continue;
        }
        rows += 1;
        table.line = record.position().map_or(0, csv::Position::line);
        if rows > MOST_ROWS {
            return Err(Error::input(format!("the yard has more than the {MOST_ROWS} rows allowed"))
                .at(format!("line {}, column 1", table.line))
                .remedy(SPLIT));
        }
        build.row(&table, &record)?;
    }
    if build.sheets.is_empty() {
        return Err(Error::input("the file holds headings and no readings")
            .at("line 2, column 1")
            .remedy("add one row per reading"));
    }
    yard.columns = table.fields;
    yard.profile = build.profile.take();
    yard.sheets = build.finish(&mut table)?;
    Ok(yard)
}

fn next(reader: &mut csv::Reader<&[u8]>, record: &mut csv::StringRecord) -> Result<bool> {
    reader.read_record(record).map_err(|e| {
        let line = e.position().map_or(1, csv::Position::line);
        Error::input(format!("the row cannot be read: {e}")).at(format!("line {line}, column 1"))
    })
}

fn headings() -> String {
    COLUMNS.map(|c| c.name).join(",")
}

/// What to do with a file that is too large.
const SPLIT: &str = "split it: one file per part of the yard, each surveyed by itself";

/// Where the columns stand, and the line being read.
struct Table {
    /// Field of each of [`COLUMNS`].
    fields: [Option<usize>; 8],
    count: usize,
    line: u64,
}

const SHEET: usize = 0;
const WHAT: usize = 1;
const STATION: usize = 2;
const FOLD: usize = 3;
const ACROSS: usize = 4;
const DEPTH: usize = 5;
const VALUE: usize = 6;
const TEXT: usize = 7;

impl Table {
    fn new(record: &csv::StringRecord) -> Result<Self> {
        let line = record.position().map_or(1, csv::Position::line);
        let at = |column: usize| format!("line {line}, column {column}");
        separated_by_commas(record.iter(), at(1))?;
        let mut fields = [None; 8];
        for (field, heading) in record.iter().enumerate() {
            let heading = heading.to_lowercase();
            let heading = heading.trim_end_matches(" mm").trim_end_matches(" (mm)");
            if heading.is_empty() {
                continue;
            }
            let Some(column) = COLUMNS.iter().position(|c| c.name == heading) else {
                return Err(
                    unknown_name("heading", heading, COLUMNS.iter().map(|c| c.name)).at(at(field + 1))
                );
            };
            if fields[column].replace(field).is_some() {
                return Err(Error::input(format!("the heading \"{heading}\" stands there twice"))
                    .at(at(field + 1))
                    .remedy("name each column once"));
            }
        }
        for column in [SHEET, STATION, FOLD, ACROSS, DEPTH] {
            if fields[column].is_none() {
                return Err(Error::input(format!("the column \"{}\" is missing", COLUMNS[column].name))
                    .at(at(record.len()))
                    .remedy(format!("begin with the headings {}", headings())));
            }
        }
        Ok(Self { fields, count: record.len(), line })
    }

    /// The place of a column in messages.
    fn at(&self, column: usize) -> String {
        match self.fields[column] {
            Some(field) => format!("line {}, column {} ({})", self.line, field + 1, COLUMNS[column].name),
            None => format!("line {}, column {}", self.line, COLUMNS[column].name),
        }
    }

    fn text<'r>(&self, record: &'r csv::StringRecord, column: usize) -> &'r str {
        self.fields[column].and_then(|field| record.get(field)).unwrap_or("")
    }

    /// The number in a column within a range; none where it is blank.
    fn number(
        &self,
        record: &csv::StringRecord,
        column: usize,
        least: f64,
        most: f64,
    ) -> Result<Option<f64>> {
        let text = self.text(record, column);
        if text.is_empty() {
            return Ok(None);
        }
        let Ok(x) = text.parse::<f64>() else {
            return Err(self.not_a_number(text, column));
        };
        if !x.is_finite() || x < least || x > most {
            return Err(Error::input(format!(
                "{text} is not a usable reading (allowed: {least} to {most} mm)"
            ))
            .at(self.at(column))
            .remedy("write millimetres"));
        }
        Ok(Some(x))
    }

    fn not_a_number(&self, text: &str, column: usize) -> Error {
        let shown: String = text.chars().take(30).collect();
        let error = Error::input(format!("{shown:?} is not a number")).at(self.at(column));
        let bare =
            text.trim_end_matches(|c: char| c.is_alphabetic() || c == '"' || c == '″' || c.is_whitespace());
        if bare.replacen(',', ".", 1).parse::<f64>().is_ok() && bare.contains(',') {
            error.remedy(format!("write a point as the decimal sign: {}", bare.replacen(',', ".", 1)))
        } else if text.ends_with("in") || text.contains(['"', '″', '\'']) {
            error.remedy("write millimetres: an inch is 25.4 mm")
        } else if bare.parse::<f64>().is_ok() {
            error.remedy(format!("write millimetres without the unit: {bare}"))
        } else {
            error.remedy("write a plain number of millimetres, or leave the field blank")
        }
    }

    fn needed(&self, record: &csv::StringRecord, column: usize, least: f64, what: &str) -> Result<f64> {
        self.number(record, column, least, LONGEST)?.ok_or_else(|| {
            Error::input(format!("a row of \"{what}\" needs its {}", COLUMNS[column].name))
                .at(self.at(column))
                .remedy(format!("write the {}", COLUMNS[column].summary))
        })
    }
}

/// A word of the column `what`; a fold where it is blank.
fn row_of<'r>(table: &Table, record: &'r csv::StringRecord) -> Result<(&'r str, Row)> {
    match table.text(record, WHAT) {
        "" => Ok(("fold", Row::Fold)),
        word => match WORDS.iter().find(|(known, ..)| *known == word) {
            Some((_, row, _)) => Ok((word, *row)),
            None => Err(unknown_name("word", word, WORDS.iter().map(|w| w.0)).at(table.at(WHAT))),
        },
    }
}

/// Keeps the words of a profile; a second one is an error.
fn once(profile: &mut Option<(u64, String)>, table: &Table, text: &str) -> Result<()> {
    let before = profile.replace((table.line, text.to_owned()));
    match before {
        None => Ok(()),
        Some((line, _)) => Err(Error::input(format!("the profile was given in line {line} already"))
            .at(table.at(TEXT))
            .remedy("give it once")),
    }
}

/// Columns that hold nothing in rows of this kind.
fn unused(row: Row) -> &'static [usize] {
    match row {
        Row::Fold | Row::Again => &[VALUE, TEXT],
        Row::Length => &[STATION, FOLD, ACROSS, DEPTH, TEXT],
        Row::Width => &[FOLD, ACROSS, DEPTH, TEXT],
        Row::Thickness => &[FOLD, DEPTH, TEXT],
        Row::Grade | Row::Note | Row::Profile => &[STATION, FOLD, ACROSS, DEPTH, VALUE],
        Row::Damage => &[FOLD, DEPTH],
        Row::Trace => &[FOLD, ACROSS, DEPTH, VALUE],
    }
}

#[derive(Default)]
struct Build {
    sheets: Vec<RawSheet>,
    index: BTreeMap<String, usize>,
    /// The sheet of the row before: rows of one sheet mostly follow one another.
    last: usize,
    /// Fold and station of the first readings of each sheet: a second one must say so.
    seen: Vec<BTreeSet<(u64, u32)>>,
    /// Outlines of damage under sheet, word and number, with the line of each corner.
    outlines: BTreeMap<(usize, String, u64), (Vec<u64>, Damage)>,
    /// The profile of all sheets.
    profile: Option<(u64, String)>,
}

impl Build {
    fn row(&mut self, table: &Table, record: &csv::StringRecord) -> Result<()> {
        // A comma inside a number makes one field too many.
        if record.iter().skip(table.count).any(|field| !field.is_empty()) {
            return Err(Error::input(format!(
                "the row has {} fields, the headings {}",
                record.len(),
                table.count
            ))
            .at(format!("line {}, column {}", table.line, table.count + 1))
            .remedy(
                "write a point as the decimal sign, and put a text with commas between quotation marks",
            ));
        }
        if let Some(column) = (0..8).find(|&c| table.text(record, c).contains('\n')) {
            return Err(Error::input("a quotation mark is opened there and not closed on the same line")
                .at(table.at(column))
                .remedy("close it, or take it out"));
        }
        let (word, row) = row_of(table, record)?;
        for column in unused(row) {
            let text = table.text(record, *column);
            if !text.is_empty() {
                return Err(Error::input(format!(
                    "a row of \"{word}\" has nothing under {}, but {text:?} stands there",
                    COLUMNS[*column].name
                ))
                .at(table.at(*column))
                .remedy(
                    "put it into its own column; a comma used as the decimal sign shifts all that follows",
                ));
            }
        }
        let text = table.text(record, TEXT);
        if row == Row::Profile && table.text(record, SHEET).is_empty() {
            return once(&mut self.profile, table, text);
        }
        let index = self.sheet(table, record)?;
        let station = || table.needed(record, STATION, 0.0, word);
        match row {
            Row::Fold | Row::Again => {
                let reading = reading(table, record, word)?;
                let first = self.seen[index].insert((reading.station.to_bits(), reading.fold));
                if !first && row == Row::Fold {
                    return Err(Error::input(format!(
                        "fold {} at station {} of {} is read a second time",
                        reading.fold, reading.station, self.sheets[index].name
                    ))
                    .at(table.at(FOLD))
                    .remedy(
                        "take one of them out; write \"again\" under \"what\" if it was really read twice",
                    ));
                }
                if self.sheets[index].readings.len() >= MOST_READINGS {
                    return Err(Error::input(format!(
                        "sheet {} has more than {MOST_READINGS} readings",
                        self.sheets[index].name
                    ))
                    .at(table.at(SHEET))
                    .remedy("check the name of the sheet in these rows"));
                }
                self.sheets[index].readings.push(reading);
            }
            Row::Length | Row::Width | Row::Thickness => {
                let value = table.needed(record, VALUE, 0.0, word)?;
                if value <= 0.0 {
                    return Err(Error::input(format!("a {word} of {value} mm cannot be"))
                        .at(table.at(VALUE))
                        .remedy("measure it again"));
                }
                let station = match row {
                    Row::Width => Some(station()?),
                    _ => table.number(record, STATION, 0.0, LONGEST)?,
                };
                let measured = Measured { line: table.line, station, value };
                let sheet = &mut self.sheets[index];
                match row {
                    Row::Length => sheet.lengths.push(measured),
                    Row::Width => sheet.widths.push(measured),
                    _ => sheet.thicknesses.push(measured),
                }
            }
            Row::Grade | Row::Note | Row::Trace | Row::Profile if text.is_empty() => {
                return Err(Error::input(format!("a row of \"{word}\" needs its text"))
                    .at(table.at(TEXT))
                    .remedy(format!("write the {}", COLUMNS[TEXT].summary)));
            }
            Row::Profile => once(&mut self.sheets[index].profile, table, text)?,
            Row::Grade => {
                let sheet = &mut self.sheets[index];
                if !sheet.grade.is_empty() && sheet.grade != text {
                    return Err(Error::input(format!(
                        "sheet {} has the grade {:?} already",
                        sheet.name, sheet.grade
                    ))
                    .at(table.at(TEXT))
                    .remedy("give one grade per sheet"));
                }
                sheet.grade = text.to_owned();
            }
            Row::Note => {
                let note = &mut self.sheets[index].note;
                if !note.is_empty() {
                    note.push_str("; ");
                }
                note.push_str(text);
            }
            Row::Trace => {
                let trace = Trace { line: table.line, station: station()?, file: text.to_owned() };
                self.sheets[index].traces.push(trace);
            }
            Row::Damage => {
                let corner = [station()?, table.needed(record, ACROSS, 0.0, word)?];
                let number = table.number(record, VALUE, 0.0, LONGEST)?.unwrap_or(1.0);
                let key = (index, word.to_owned(), number.to_bits());
                let (lines, damage) = self
                    .outlines
                    .entry(key)
                    .or_insert_with(|| (Vec::new(), Damage { what: word.to_owned(), outline: Vec::new() }));
                if !text.is_empty() {
                    damage.what = if word == "damage" { text.to_owned() } else { format!("{word}: {text}") };
                }
                if lines.len() >= MOST_CORNERS {
                    return Err(Error::input(format!(
                        "the outline of \"{}\" on {} has more than the {MOST_CORNERS} corners allowed",
                        damage.what, self.sheets[index].name
                    ))
                    .at(table.at(STATION))
                    .remedy("read fewer corners, or number several outlines under \"value\""));
                }
                // Said twice, or closed by its first corner once more, a corner is one.
                if damage.outline.last() != Some(&corner) {
                    damage.outline.push(corner);
                    lines.push(table.line);
                }
            }
        }
        Ok(())
    }

    fn sheet(&mut self, table: &Table, record: &csv::StringRecord) -> Result<usize> {
        let name = table.text(record, SHEET);
        if name.is_empty() {
            return Err(Error::input("the row does not say which sheet it is about")
                .at(table.at(SHEET))
                .remedy("write the sheet's name in every row"));
        }
        if self.sheets.get(self.last).is_none_or(|sheet| sheet.name != name) {
            self.last = match self.index.get(name) {
                Some(&index) => index,
                None if self.sheets.len() >= MOST_SHEETS => {
                    return Err(Error::input(format!(
                        "the yard has more than the {MOST_SHEETS} sheets allowed"
                    ))
                    .at(table.at(SHEET))
                    .remedy(SPLIT));
                }
                None => {
                    self.index.insert(name.to_owned(), self.sheets.len());
                    self.seen.push(BTreeSet::new());
                    self.sheets.push(RawSheet {
                        name: name.to_owned(),
                        line: table.line,
                        ..RawSheet::default()
                    });
                    self.sheets.len() - 1
                }
            };
        }
        Ok(self.last)
    }

    fn finish(mut self, table: &mut Table) -> Result<Vec<RawSheet>> {
        for ((index, ..), (lines, mut damage)) in self.outlines {
            if damage.outline.len() > 1 && damage.outline.first() == damage.outline.last() {
                damage.outline.pop();
            }
            let sheet = &mut self.sheets[index];
            if damage.outline.len() > 3
                && let Some([a, b]) = meets_itself(&damage.outline)
            {
                table.line = lines[b];
                let edge = |k: usize| format!("{} to {}", lines[k], lines[(k + 1) % damage.outline.len()]);
                return Err(Error::input(format!(
                    "the outline of \"{}\" on {} crosses or touches itself: its edge from line {} meets that \
                     from line {}",
                    damage.what,
                    sheet.name,
                    edge(a),
                    edge(b)
                ))
                .at(table.at(STATION))
                .remedy("put the corners in order round it; give two outlines two numbers under \"value\""));
            }
            let area = signed_area(&damage.outline);
            if damage.outline.len() < 3 || area == 0.0 {
                table.line = lines[0];
                return Err(Error::input(format!(
                    "the outline of \"{}\" on {} has {} corners and encloses nothing",
                    damage.what,
                    sheet.name,
                    damage.outline.len()
                ))
                .at(table.at(STATION))
                .remedy("give at least three corners, one row each, in order round it"));
            }
            // Seen from above with the start end on the left, across grows upward.
            if area < 0.0 {
                damage.outline.reverse();
            }
            sheet.damage.push(damage);
        }
        Ok(self.sheets)
    }
}

fn reading(table: &Table, record: &csv::StringRecord, word: &str) -> Result<Reading> {
    let station = table.needed(record, STATION, 0.0, word)?;
    let station = (station * STATION_STEPS).round() / STATION_STEPS;
    let fold = table.number(record, FOLD, 0.0, MOST_FOLDS)?;
    let fold = match fold {
        Some(x) if x.fract() == 0.0 && x >= 1.0 => x,
        Some(x) => {
            return Err(Error::input(format!("{x} is not a number of a fold"))
                .at(table.at(FOLD))
                .remedy("count the folds from 1 at the right-hand edge"));
        }
        None => {
            return Err(Error::input(format!("a row of \"{word}\" needs the number of its fold"))
                .at(table.at(FOLD))
                .remedy("count the folds from 1 at the right-hand edge"));
        }
    };
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked above")]
    let fold = fold as u32;
    let across = table.number(record, ACROSS, 0.0, LONGEST)?;
    let depth = table.number(record, DEPTH, -PROUDEST, LONGEST)?;
    Ok(Reading { line: table.line, station, fold, across, depth })
}

#[cfg(test)]
mod tests;
