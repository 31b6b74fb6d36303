//! Reading a file of readings: one per row, as one person with a caliper writes them down.
//!
//! A row begins with a word and ends with a number, in commas or semicolons; blank lines and what follows a `#` are
//! skipped. Everything that is wrong is named with line and column (the number of the field).
//!
//! ```text
//! # An invented cube
//! precision, distance, 0.3
//! distance, P1, P2, 100.5
//! distance, P2, P3, 80, ±1
//! again, P1, P2, 100.0
//! height, P1, 0
//! angle, P2, P1, P3, 90
//! face, A/bottom, P1, P2, P3, P4
//! outside, P4, P3, P2
//! ```

use super::options::{ANGLE, DISTANCE, HEIGHT};
use super::readings::{Angle, Distance, Face, Height, Readings, Source};
use super::solve::{MOST_POINTS, MOST_READINGS};
use crate::element::planes::check_label;
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::settings::unknown_name;
use crate::text::{line_and_column, text_of};
use std::collections::{BTreeMap, BTreeSet};

/// Most lines of one file, blank ones too.
pub const MOST_LINES: usize = 20_000;
/// Largest file, bytes.
pub const MOST_BYTES: usize = 4 * 1024 * 1024;
/// Longest distance on a maquette, mm.
const LONGEST: f64 = 20_000.0;
/// Largest standard deviation of a reading, mm or degrees.
const WORST: f64 = 100.0;
/// Least standard deviation of a reading, mm or degrees: finer than any caliper.
const FINEST: f64 = 1.0e-4;
/// Longest name of a point.
const LONGEST_NAME: usize = 24;
/// Digits after a comma that may as well part thousands.
const THOUSANDS: usize = 3;

/// The words a row may begin with, and what follows each.
pub const WORDS: [(&str, &str); 9] = [
    (
        "precision",
        "what (distance, height, angle or flat) and the standard deviation of readings below it, mm or degrees",
    ),
    ("points", "names of points; where there is such a row, no other names are taken"),
    (
        "distance",
        "two points and the distance between them, mm; then, if it is special, ± its standard deviation",
    ),
    ("again", "two points and their distance, measured once more"),
    ("height", "a point and its height above the table, mm"),
    ("angle", "a point, two others, and the angle between the lines to them, degrees"),
    ("face", "element/label and the corners of a face, in any order"),
    ("outside", "three points of one face, counter-clockwise as seen from outside"),
    ("note", "anything"),
];

/// What a file holds.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ReadFile {
    /// The readings.
    pub readings: Readings,
    /// Standard deviation of a corner from the plane of its face, mm, if the file says.
    pub flat: Option<f64>,
    /// What there is to say beside.
    pub findings: Vec<Finding>,
}

/// Reads a file of readings; `file` is its name for messages.
///
/// # Errors
/// Anything that is not as described in [`WORDS`]: the first place is named with line and column.
pub fn read_maquette(file: &str, bytes: &[u8]) -> Result<ReadFile> {
    read(file, bytes).map_err(|e| e.at(file))
}

fn read(file: &str, bytes: &[u8]) -> Result<ReadFile> {
    if bytes.len() > MOST_BYTES {
        let (line, column) = line_and_column(bytes, MOST_BYTES);
        return Err(Error::input(format!("the file has more than the {MOST_BYTES} bytes allowed"))
            .at(place(line, column))
            .remedy("check that it is a file of readings; one file per maquette"));
    }
    let (text, note) = text_of(bytes)?;
    let mut build = Build::new(file);
    build.read.findings.extend(note);
    build.semicolons = text.lines().map(bare).find(|l| !l.is_empty()).is_some_and(|l| l.contains(';'));
    for (index, line) in text.lines().enumerate() {
        let number = index + 1;
        if number > MOST_LINES {
            return Err(Error::input(format!("the file has more than {MOST_LINES} lines"))
                .at(format!("line {number}, column 1"))
                .remedy("one file per maquette: a few hundred readings are many"));
        }
        build.line(number, bare(line))?;
    }
    build.finish()
}

/// A field without blanks and quotation marks round it; a single mark at its end stays, for it means inches.
fn unquoted(field: &str) -> &str {
    let field = field.trim();
    let Some(inner) = field.strip_prefix('"') else { return field };
    inner.strip_suffix('"').unwrap_or(inner).trim()
}

/// A line without its comment and blanks.
fn bare(line: &str) -> &str {
    line.split('#').next().unwrap_or("").trim()
}

/// The place of a field in messages.
fn place(line: usize, column: usize) -> String {
    format!("line {line}, column {column}")
}

struct Build {
    file: String,
    read: ReadFile,
    semicolons: bool,
    /// Each point with where it is first named.
    index: BTreeMap<String, usize>,
    first: Vec<(usize, usize)>,
    /// How often each is named.
    times: Vec<usize>,
    /// Whether points are declared, and which.
    declared: Option<BTreeSet<usize>>,
    /// Points with a distance.
    measured: BTreeSet<usize>,
    /// Lines of readings that may stand once only.
    seen: BTreeMap<(&'static str, Vec<usize>), usize>,
    labels: BTreeMap<(String, String), usize>,
    outside: Vec<(usize, [usize; 3])>,
    deviations: [f64; 3],
}

struct Row<'t> {
    line: usize,
    word: &'static str,
    fields: Vec<&'t str>,
}

impl Row<'_> {
    fn at(&self, column: usize) -> String {
        place(self.line, column + 1)
    }

    fn wrong(&self, column: usize, message: impl Into<String>, remedy: impl Into<String>) -> Error {
        Error::input(message).at(self.at(column)).remedy(remedy)
    }
}

const DISTANCES: usize = 0;
const HEIGHTS: usize = 1;
const ANGLES: usize = 2;

impl Build {
    fn new(file: &str) -> Self {
        Self {
            file: file.to_owned(),
            read: ReadFile::default(),
            semicolons: false,
            index: BTreeMap::new(),
            first: Vec::new(),
            times: Vec::new(),
            declared: None,
            measured: BTreeSet::new(),
            seen: BTreeMap::new(),
            labels: BTreeMap::new(),
            outside: Vec::new(),
            deviations: [DISTANCE, HEIGHT, ANGLE],
        }
    }

    fn line(&mut self, line: usize, text: &str) -> Result<()> {
        if text.is_empty() {
            return Ok(());
        }
        let sign = if self.semicolons { ';' } else { ',' };
        let mut fields: Vec<&str> = text.split(sign).map(unquoted).collect();
        // Programs that write tables fill short rows up.
        while fields.last().is_some_and(|f| f.is_empty()) {
            fields.pop();
        }
        let Some(first) = fields.first() else { return Ok(()) };
        let known = first.to_lowercase();
        let Some((word, summary)) = WORDS.iter().find(|(w, _)| *w == known) else {
            return Err(unknown_word(first, self.semicolons, text).at(place(line, 1)));
        };
        let row = Row { line, word, fields };
        let least = match *word {
            "note" => return Ok(()),
            "points" => 2,
            "precision" | "height" => 3,
            "angle" => 5,
            "face" => 5,
            _ => 4,
        };
        if row.fields.len() < least {
            return Err(row.wrong(
                row.fields.len(),
                format!("the row ends too soon: \"{word}\" needs {} more", plural(least - row.fields.len())),
                format!("after \"{word}\" write {summary}"),
            ));
        }
        match *word {
            "precision" => self.precision(&row),
            "points" => self.points(&row),
            "distance" | "again" => self.distance(&row),
            "height" => self.height(&row),
            "angle" => self.angle(&row),
            "face" => self.face(&row),
            _ => self.outside(&row),
        }
    }

    fn source(&self, row: &Row<'_>) -> Source {
        Source { file: self.file.clone(), line: row.line, what: "caliper".to_owned() }
    }

    /// The point named in a field.
    fn point(&mut self, row: &Row<'_>, column: usize) -> Result<usize> {
        let name = row.fields[column];
        if let Some(&p) = self.index.get(name) {
            self.times[p] += 1;
            return Ok(p);
        }
        let fault = if name.is_empty() {
            "a name is missing".to_owned()
        } else if name.chars().count() > LONGEST_NAME {
            format!("the name is longer than {LONGEST_NAME} characters")
        } else if name.parse::<f64>().is_ok() || !name.starts_with(char::is_alphabetic) {
            format!("{name:?} is no name of a point")
        } else if let Some(c) = name.chars().find(|c| c.is_control() || "/~\\\"".contains(*c)) {
            format!("the name holds the character {c:?}")
        } else if self.first.len() >= MOST_POINTS {
            return Err(row.wrong(
                column,
                format!("{name:?} is one point more than the {MOST_POINTS} allowed"),
                "solve the maquette in parts: one file per element",
            ));
        } else if let Some(other) = self.index.keys().find(|k| k.to_lowercase() == name.to_lowercase()) {
            return Err(row.wrong(
                column,
                format!("{name:?} and {other:?} differ in capitals only"),
                format!("write {other:?} throughout, or give the point a name of its own"),
            ));
        } else {
            self.index.insert(name.to_owned(), self.first.len());
            self.first.push((row.line, column));
            self.times.push(1);
            self.read.readings.points.push(name.to_owned());
            return Ok(self.first.len() - 1);
        };
        Err(row.wrong(column, fault, "name points by a letter and what you like: P1, roof, A3"))
    }

    /// Points of a row, each another.
    fn some<const N: usize>(&mut self, row: &Row<'_>, from: usize) -> Result<[usize; N]> {
        let mut all = [0; N];
        for k in 0..N {
            all[k] = self.point(row, from + k)?;
            if all[..k].contains(&all[k]) {
                return Err(row.wrong(
                    from + k,
                    format!("{} stands there twice", row.fields[from + k]),
                    "name points that differ",
                ));
            }
        }
        Ok(all)
    }

    /// A number in a range.
    fn number(&self, row: &Row<'_>, column: usize, range: [f64; 2], unit: &str) -> Result<f64> {
        let text = row.fields.get(column).copied().unwrap_or("");
        let x = number_of(text, self.semicolons, unit).map_err(|e| e.at(row.at(column)))?;
        if x < range[0] || x > range[1] {
            return Err(row.wrong(
                column,
                format!("{text} is not a usable {} (allowed: {} to {} {unit})", row.word, range[0], range[1]),
                format!("check it, and write {unit}"),
            ));
        }
        Ok(x)
    }

    /// The deviation of a reading: its own behind the number, or the usual one. Nothing may follow.
    fn deviation(&self, row: &Row<'_>, column: usize, usual: f64, unit: &str) -> Result<f64> {
        let Some(text) = row.fields.get(column) else { return Ok(usual) };
        let own = ["±", "+-", "+/-"].iter().find_map(|sign| text.strip_prefix(sign));
        let Some(own) = own else {
            let before = row.fields[column - 1];
            // The end of a quoted number with a decimal comma.
            let text = text.trim_end_matches('"');
            let digits = !text.is_empty() && text.chars().all(|c| c.is_ascii_digit());
            let remedy = if digits && !self.semicolons {
                format!(
                    "write a point as the decimal sign ({before}.{text}), or ± before a precision (±{text})"
                )
            } else {
                "take it out; a precision of its own is written ±0.5, a remark after #".to_owned()
            };
            return Err(row.wrong(column, format!("{text:?} follows the number"), remedy));
        };
        let x = number_of(own.trim(), self.semicolons, unit).map_err(|e| e.at(row.at(column)))?;
        if !(FINEST..=WORST).contains(&x) {
            return Err(row.wrong(
                column,
                format!("{own} is not a usable precision (allowed: {FINEST} to {WORST} {unit})"),
                "give the standard deviation of the reading",
            ));
        }
        self.last(row, column + 1)?;
        Ok(x)
    }

    fn last(&self, row: &Row<'_>, column: usize) -> Result<()> {
        match row.fields.get(column) {
            None => Ok(()),
            Some(text) => Err(row.wrong(
                column,
                format!("{text:?} is one field too many"),
                "take it out; a remark goes after #, and a decimal sign is a point",
            )),
        }
    }

    /// Refuses a reading of the same points twice.
    fn once(&mut self, row: &Row<'_>, what: &'static str, mut points: Vec<usize>) -> Result<()> {
        points.sort_unstable();
        match self.seen.insert((what, points), row.line) {
            None => Ok(()),
            Some(line) => {
                let remedy = if what == "distance" {
                    "take one of them out; write \"again\" instead of \"distance\" if it was really measured twice"
                } else {
                    "take one of them out, or write their mean once"
                };
                Err(row.wrong(0, format!("this {what} was read in line {line} already"), remedy))
            }
        }
    }

    fn room(&self, row: &Row<'_>) -> Result<()> {
        let r = &self.read.readings;
        if r.distances.len() + r.heights.len() + r.angles.len() < MOST_READINGS {
            return Ok(());
        }
        Err(row.wrong(
            0,
            format!("the file has more than {MOST_READINGS} readings"),
            "one file per maquette: a few hundred readings are many",
        ))
    }

    fn precision(&mut self, row: &Row<'_>) -> Result<()> {
        const KINDS: [&str; 4] = ["distance", "height", "angle", "flat"];
        let what = row.fields[1].to_lowercase();
        let Some(kind) = KINDS.iter().position(|k| *k == what) else {
            return Err(unknown_name("precision", row.fields[1], KINDS.into_iter()).at(row.at(1)));
        };
        let unit = if kind == ANGLES { "degrees" } else { "mm" };
        let x = self.number(row, 2, [FINEST, WORST], unit)?;
        self.last(row, 3)?;
        match self.deviations.get_mut(kind) {
            Some(deviation) => *deviation = x,
            None => self.read.flat = Some(x),
        }
        Ok(())
    }

    fn points(&mut self, row: &Row<'_>) -> Result<()> {
        for column in 1..row.fields.len() {
            let p = self.point(row, column)?;
            if !self.declared.get_or_insert_default().insert(p) {
                return Err(row.wrong(
                    column,
                    format!("the point {} is listed twice", row.fields[column]),
                    "list each point once",
                ));
            }
        }
        Ok(())
    }

    fn distance(&mut self, row: &Row<'_>) -> Result<()> {
        self.room(row)?;
        let between = self.some::<2>(row, 1)?;
        if row.word == "distance" {
            self.once(row, "distance", between.to_vec())?;
        } else {
            let mut points = between.to_vec();
            points.sort_unstable();
            if !self.seen.contains_key(&("distance", points)) {
                return Err(row.wrong(
                    0,
                    "\"again\" stands before the first reading of this distance",
                    "write \"distance\" for the first, \"again\" for those after it",
                ));
            }
        }
        let length = self.number(row, 3, [FINEST, LONGEST], "mm")?;
        let deviation = self.deviation(row, 4, self.deviations[DISTANCES], "mm")?;
        self.measured.extend(between);
        let source = self.source(row);
        self.read.readings.distances.push(Distance { between, length, deviation, source });
        Ok(())
    }

    fn height(&mut self, row: &Row<'_>) -> Result<()> {
        self.room(row)?;
        let point = self.point(row, 1)?;
        self.once(row, "height", vec![point])?;
        let height = self.number(row, 2, [0.0, LONGEST], "mm")?;
        let deviation = self.deviation(row, 3, self.deviations[HEIGHTS], "mm")?;
        let source = self.source(row);
        self.read.readings.heights.push(Height { point, height, deviation, source });
        Ok(())
    }

    fn angle(&mut self, row: &Row<'_>) -> Result<()> {
        /// Nearer to 0 and 180 an angle says next to nothing of its points.
        const LEAST: f64 = 1.0;
        self.room(row)?;
        let [at, a, b] = self.some::<3>(row, 1)?;
        // The vertex first, then its two legs in one order.
        self.once(row, "angle", vec![at, MOST_POINTS + a.min(b), 2 * MOST_POINTS + a.max(b)])?;
        let degrees = self.number(row, 4, [LEAST, 180.0 - LEAST], "degrees")?;
        let deviation = self.deviation(row, 5, self.deviations[ANGLES], "degrees")?;
        let source = self.source(row);
        let (angle, deviation) = (degrees.to_radians(), deviation.to_radians());
        self.read.readings.angles.push(Angle { at, to: [a, b], angle, deviation, source });
        Ok(())
    }

    fn face(&mut self, row: &Row<'_>) -> Result<()> {
        let Some((element, label)) = row.fields[1].split_once('/') else {
            return Err(row.wrong(
                1,
                format!("{:?} does not say which element and which face", row.fields[1]),
                "write the element, a stroke and the face: A/east",
            ));
        };
        for (what, name) in [("element name", element), ("face label", label)] {
            check_label(what, name).map_err(|e| e.at(row.at(1)))?;
        }
        let key = (element.to_owned(), label.to_owned());
        if let Some(line) = self.labels.insert(key, row.line) {
            return Err(row.wrong(
                1,
                format!("the face {} was given in line {line} already", row.fields[1]),
                "give each face one row with all its corners",
            ));
        }
        let mut corners: Vec<usize> = Vec::with_capacity(row.fields.len() - 2);
        for column in 2..row.fields.len() {
            let p = self.point(row, column)?;
            if corners.contains(&p) {
                return Err(row.wrong(
                    column,
                    format!("{} stands there twice", row.fields[column]),
                    "name each corner of the face once",
                ));
            }
            corners.push(p);
        }
        let face = Face {
            element: element.to_owned(),
            label: label.to_owned(),
            corners,
            ribs: None,
            source: self.source(row),
        };
        self.read.readings.faces.push(face);
        Ok(())
    }

    fn outside(&mut self, row: &Row<'_>) -> Result<()> {
        let three = self.some::<3>(row, 1)?;
        self.last(row, 4)?;
        self.outside.push((row.line, three));
        self.read.readings.outside.push(three);
        Ok(())
    }

    fn finish(self) -> Result<ReadFile> {
        let readings = &self.read.readings;
        if readings.distances.is_empty() && readings.faces.is_empty() {
            return Err(Error::input("the file holds no readings")
                .at("line 1, column 1")
                .remedy("write one row per reading: distance, P1, P2, 100.5"));
        }
        let known = |p: &usize| match &self.declared {
            Some(declared) => declared.contains(p),
            None => self.measured.contains(p),
        };
        for (p, &(line, column)) in self.first.iter().enumerate() {
            // What is named time and again is no slip of the pen.
            if !known(&p) && self.declared.is_none() && self.times[p] > 1 {
                return Err(Error::input(format!("no distance to the point {:?} is measured", readings.points[p]))
                    .at(place(line, column + 1))
                    .remedy(
                        "measure distances to it; if tracings say where it is, list all points in a row of \"points\"",
                    ));
            }
            if !known(&p) {
                let named = (0..self.first.len()).filter(known).map(|p| readings.points[p].as_str());
                let error = unknown_name("point", &readings.points[p], named);
                let remedy = match error.remedy_text() {
                    Some(text) if text.starts_with("did you mean") => text.to_owned(),
                    _ if self.declared.is_some() => "add it to the row of \"points\"".to_owned(),
                    _ => "measure a distance to it; if others say where it is, list all points in a row of \
                          \"points\""
                        .to_owned(),
                };
                return Err(Error::input(error.message()).at(place(line, column + 1)).remedy(remedy));
            }
        }
        for (line, three) in &self.outside {
            let held = readings.faces.iter().any(|f| three.iter().all(|p| f.corners.contains(p)));
            if !held && !readings.faces.is_empty() {
                return Err(Error::input("the three points are not corners of one face")
                    .at(place(*line, 2))
                    .remedy("give three corners of one face, counter-clockwise as seen from outside"));
            }
        }
        Ok(self.read)
    }
}

fn plural(count: usize) -> String {
    format!("{count} field{}", if count == 1 { "" } else { "s" })
}

fn unknown_word(word: &str, semicolons: bool, text: &str) -> Error {
    let error = unknown_name("word", word, WORDS.iter().map(|w| w.0));
    let signs = [('\t', "tabs"), ('|', "bars"), (';', "semicolons"), (',', "commas")];
    let other = signs.iter().find(|(s, _)| word.contains(*s) && text.matches(*s).count() > 1);
    match other {
        Some((_, name)) => {
            let sign = if semicolons { "semicolons" } else { "commas" };
            Error::input(format!("the fields are parted by {name}, not by {sign}"))
                .remedy(format!("part them by {sign} in every row"))
        }
        None => error,
    }
}

/// The number in a field.
fn number_of(text: &str, semicolons: bool, unit: &str) -> Result<f64> {
    let shown: String = text.chars().take(30).collect();
    let plain = |t: &str| t.parse::<f64>().ok().filter(|x| x.is_finite());
    let digits = |t: &str| t.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | '-' | '+' | 'e' | 'E'));
    if let Some(x) = plain(text).filter(|_| digits(text)) {
        return Ok(x);
    }
    let wrong = |remedy: String| Err(Error::input(format!("{shown:?} is not a number")).remedy(remedy));
    if text.is_empty() {
        return Err(Error::input("the number is missing").remedy(format!("write a number of {unit}")));
    }
    // With semicolons a comma is the decimal sign, as spreadsheets of many countries have it.
    if let Some((whole, part)) = text.split_once(',')
        && let Some(x) = plain(&format!("{whole}.{part}")).filter(|_| digits(whole) && digits(part))
    {
        return match part.len() {
            THOUSANDS => wrong(format!("write {whole}.{part} or {whole}{part}, whichever is meant")),
            _ if semicolons && !whole.contains('.') => Ok(x),
            _ => wrong(format!("write a point as the decimal sign: {whole}.{part}")),
        };
    }
    let number = text.trim_end_matches(|c: char| !c.is_ascii_digit());
    let value = plain(&number.replacen(',', ".", 1));
    let rest = text[number.len()..].trim().to_lowercase();
    match (value, rest.as_str()) {
        (Some(x), "in" | "inch" | "inches" | "\"" | "″" | "''") if unit == "mm" => {
            wrong(format!("write millimetres: {x} in is {} mm", (x * 25.4 * 1.0e4).round() / 1.0e4))
        }
        (Some(x), "cm") if unit == "mm" => wrong(format!("write millimetres: {x} cm is {} mm", x * 10.0)),
        (Some(x), "m") if unit == "mm" => wrong(format!("write millimetres: {x} m is {} mm", x * 1000.0)),
        (Some(_), "mm" | "°" | "deg" | "degrees") => wrong(format!("write it without the unit: {number}")),
        _ if text.contains(['"', '″', '\'']) || rest.starts_with("in") || text.contains('/') => {
            wrong("write millimetres with decimals: an inch is 25.4 mm".to_owned())
        }
        _ => wrong(format!("write a plain number of {unit}")),
    }
}

#[cfg(test)]
mod tests;
