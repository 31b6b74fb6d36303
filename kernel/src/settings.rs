//! Settings: the named values a script hands over in a map, checked against the rows that describe them.
//!
//! One row says name, unit, default and range; the check, the error text, the help and the editor
//! definitions are all made from it, so they cannot differ.

use crate::error::{Error, Result};
use std::collections::BTreeMap;

/// What a setting may hold, with its default and range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SettingKind {
    /// A number; no default means it must be given.
    Number {
        /// Taken when nothing is given.
        default: Option<f64>,
        /// Least value allowed.
        min: f64,
        /// Greatest value allowed.
        max: f64,
    },
    /// A whole number.
    Count {
        /// Taken when nothing is given.
        default: Option<u32>,
        /// Least value allowed.
        min: u32,
        /// Greatest value allowed.
        max: u32,
    },
    /// Yes or no.
    Flag {
        /// Taken when nothing is given.
        default: bool,
    },
    /// One of a few words.
    Choice {
        /// Taken when nothing is given; none means it may be left out.
        default: Option<&'static str>,
        /// The words.
        of: &'static [&'static str],
    },
    /// Free text; may be left out.
    Text,
    /// A list of `count` numbers; may be left out.
    Numbers {
        /// How many.
        count: usize,
    },
    /// A list of points, each a list of two numbers.
    Points,
    /// A list of points in space, each a list of three numbers; may be left out.
    Places,
    /// A map with settings of its own, checked by who reads it; may be left out.
    Settings,
    /// A number that may be left out, having no default of its own.
    Optional {
        /// Least value allowed.
        min: f64,
        /// Greatest value allowed.
        max: f64,
    },
}

/// One row: a setting's name, meaning, unit and kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// As written in the script.
    pub name: &'static str,
    /// One line on what it means.
    pub summary: &'static str,
    /// `mm`, `degrees`, … or empty.
    pub unit: &'static str,
    /// What it may hold.
    pub kind: SettingKind,
}

/// A setting that is a number with a default.
pub(crate) const fn number(
    name: &'static str,
    summary: &'static str,
    unit: &'static str,
    default: f64,
    [min, max]: [f64; 2],
) -> Setting {
    Setting { name, summary, unit, kind: SettingKind::Number { default: Some(default), min, max } }
}

/// A setting that is a number and may be left out.
pub(crate) const fn optional(
    name: &'static str,
    summary: &'static str,
    unit: &'static str,
    [min, max]: [f64; 2],
) -> Setting {
    Setting { name, summary, unit, kind: SettingKind::Optional { min, max } }
}

/// A setting that is a whole number with a default.
pub(crate) const fn count(
    name: &'static str,
    summary: &'static str,
    default: u32,
    [min, max]: [u32; 2],
) -> Setting {
    Setting { name, summary, unit: "", kind: SettingKind::Count { default: Some(default), min, max } }
}

/// A setting that is yes or no.
pub(crate) const fn flag(name: &'static str, summary: &'static str, default: bool) -> Setting {
    Setting { name, summary, unit: "", kind: SettingKind::Flag { default } }
}

/// A setting that is one of a few words.
pub(crate) const fn choice(
    name: &'static str,
    summary: &'static str,
    default: &'static str,
    of: &'static [&'static str],
) -> Setting {
    Setting { name, summary, unit: "", kind: SettingKind::Choice { default: Some(default), of } }
}

/// A setting that is a list of numbers and may be left out.
pub(crate) const fn list(
    name: &'static str,
    summary: &'static str,
    unit: &'static str,
    count: usize,
) -> Setting {
    Setting { name, summary, unit, kind: SettingKind::Numbers { count } }
}

/// A value as it comes from a script: integers and decimals are both numbers.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// Any number.
    Number(f64),
    /// true or false.
    Flag(bool),
    /// Text.
    Text(String),
    /// A list.
    List(Vec<Value>),
    /// A map.
    Map(BTreeMap<String, Value>),
    /// Something a setting cannot hold; the text names it.
    Other(String),
}

/// The largest magnitude accepted for any number: 1e9 mm is a thousand kilometres.
pub const LARGEST_NUMBER: f64 = 1.0e9;

impl Value {
    /// What kind of value it is, for error texts.
    pub fn kind_name(&self) -> &str {
        match self {
            Value::Number(_) => "a number",
            Value::Flag(_) => "true or false",
            Value::Text(_) => "a text",
            Value::List(_) => "a list",
            Value::Map(_) => "a map",
            Value::Other(name) => name,
        }
    }

    /// The finite number within ±[`LARGEST_NUMBER`].
    ///
    /// # Errors
    /// Not a number, NaN, infinite, or too large.
    pub fn number(&self) -> Result<f64> {
        match self {
            Value::Number(x) if x.is_finite() && x.abs() <= LARGEST_NUMBER => Ok(*x),
            Value::Number(x) => Err(Error::input(format!(
                "{x:?} is not a usable number (allowed: finite, within ±{LARGEST_NUMBER:e})"
            ))),
            other => Err(Error::input(format!("expected a number, found {}", other.kind_name()))),
        }
    }

    /// A list of exactly `count` numbers.
    ///
    /// # Errors
    /// Not a list, the wrong length, or an entry that is not a usable number.
    pub fn numbers(&self, count: usize) -> Result<Vec<f64>> {
        match self {
            Value::List(items) if items.len() == count => items.iter().map(Value::number).collect(),
            Value::List(items) => Err(Error::input(format!(
                "expected a list of {count} numbers, found {} entries",
                items.len()
            ))),
            other => {
                Err(Error::input(format!("expected a list of {count} numbers, found {}", other.kind_name())))
            }
        }
    }
}

/// Checked settings, ready to read by name.
#[derive(Debug, Clone, PartialEq)]
pub struct Values {
    what: String,
    given: BTreeMap<String, Value>,
    rows: Vec<Setting>,
}

impl Values {
    /// Checks `given` against `rows`; `what` names the call for error texts.
    ///
    /// # Errors
    /// An unknown name (the nearest known one is named), a missing one, a wrong kind or a value out of range.
    pub fn check(what: &str, rows: &[Setting], given: &BTreeMap<String, Value>) -> Result<Self> {
        for name in given.keys() {
            if !rows.iter().any(|row| row.name == name) {
                return Err(unknown_name("setting", name, rows.iter().map(|r| r.name)).at(what));
            }
        }
        for row in rows {
            row.check(given.get(row.name)).map_err(|e| e.at(row.name).at(what))?;
        }
        Ok(Self { what: what.to_owned(), given: given.clone(), rows: rows.to_vec() })
    }

    fn row(&self, name: &str) -> &Setting {
        match self.rows.iter().find(|row| row.name == name) {
            Some(row) => row,
            None => panic!("{} has no setting row named {name}", self.what),
        }
    }

    /// Whether the script gave this setting.
    pub fn is_given(&self, name: &str) -> bool {
        self.given.contains_key(name)
    }

    /// A number or count, given or default.
    ///
    /// # Panics
    /// If the rows hold no number of that name with a default: a bug of the row.
    pub fn number(&self, name: &str) -> f64 {
        self.optional(name).unwrap_or_else(|| panic!("{}: setting {name} has no default", self.what))
    }

    /// A number that may have been left out.
    pub fn optional(&self, name: &str) -> Option<f64> {
        let row = self.row(name);
        match self.given.get(name) {
            Some(Value::Number(x)) => Some(*x),
            _ => match row.kind {
                SettingKind::Number { default, .. } => default,
                SettingKind::Count { default, .. } => default.map(f64::from),
                _ => None,
            },
        }
    }

    /// A whole number, given or default.
    pub fn count(&self, name: &str) -> u32 {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "range checked")]
        let count = self.number(name) as u32;
        count
    }

    /// Yes or no, given or default.
    pub fn flag(&self, name: &str) -> bool {
        match (self.given.get(name), self.row(name).kind) {
            (Some(Value::Flag(flag)), _) => *flag,
            (_, SettingKind::Flag { default }) => default,
            _ => false,
        }
    }

    /// A word or text, given or default.
    pub fn text(&self, name: &str) -> Option<&str> {
        match (self.given.get(name), self.row(name).kind) {
            (Some(Value::Text(text)), _) => Some(text),
            (_, SettingKind::Choice { default, .. }) => default,
            _ => None,
        }
    }

    /// A list of numbers, if given.
    pub fn numbers(&self, name: &str) -> Option<Vec<f64>> {
        match (self.given.get(name), self.row(name).kind) {
            (Some(value), SettingKind::Numbers { count }) => value.numbers(count).ok(),
            _ => None,
        }
    }

    /// A list of points in space, if given.
    pub fn places(&self, name: &str) -> Option<Vec<[f64; 3]>> {
        self.given.get(name).and_then(|v| places_of(v).ok())
    }

    /// A list of points, if given.
    pub fn points(&self, name: &str) -> Option<Vec<[f64; 2]>> {
        self.given.get(name).and_then(|v| points_of(v).ok())
    }
}

impl Setting {
    fn check(&self, value: Option<&Value>) -> Result<()> {
        let Some(value) = value else {
            let missing = matches!(
                self.kind,
                SettingKind::Number { default: None, .. } | SettingKind::Count { default: None, .. }
            );
            return if missing {
                Err(Error::input(format!("is missing ({})", self.summary)).remedy(format!(
                    "give {}: {}",
                    self.name,
                    self.allowed()
                )))
            } else {
                Ok(())
            };
        };
        let ok = match self.kind {
            SettingKind::Number { min, max, .. } | SettingKind::Optional { min, max } => {
                let x = value.number()?;
                x >= min && x <= max
            }
            SettingKind::Count { min, max, .. } => {
                let x = value.number()?;
                x.fract() == 0.0 && x >= f64::from(min) && x <= f64::from(max)
            }
            SettingKind::Flag { .. } => matches!(value, Value::Flag(_)),
            SettingKind::Text => matches!(value, Value::Text(_)),
            SettingKind::Settings => matches!(value, Value::Map(_)),
            SettingKind::Choice { of, .. } => match value {
                Value::Text(word) if of.contains(&word.as_str()) => true,
                Value::Text(word) => return Err(unknown_name("choice", word, of.iter().copied())),
                _ => false,
            },
            SettingKind::Numbers { count } => return value.numbers(count).map(|_| ()),
            SettingKind::Points => return points_of(value).map(|_| ()),
            SettingKind::Places => return places_of(value).map(|_| ()),
        };
        if ok {
            Ok(())
        } else {
            let found = match value {
                Value::Number(x) => format!("{x}"),
                other => other.kind_name().to_owned(),
            };
            let allowed = match self.kind {
                SettingKind::Text => format!("{} in double quotes: {}", self.allowed(), self.summary),
                _ => self.allowed(),
            };
            let metres = self.in_metres(value).map(|mm| format!("; lengths are mm, and {found} m are {mm}"));
            Err(Error::input(format!("{found} is not allowed here"))
                .remedy(format!("allowed is {allowed}{}", metres.unwrap_or_default())))
        }
    }

    /// A length too small to be allowed that would be if it were meant in metres: its mm.
    fn in_metres(&self, value: &Value) -> Option<f64> {
        let (SettingKind::Number { min, max, .. } | SettingKind::Optional { min, max }) = self.kind else {
            return None;
        };
        let Value::Number(x) = value else { return None };
        let mm = x * 1000.0;
        (self.unit == "mm" && *x > 0.0 && *x < min && mm >= min && mm <= max).then_some(mm)
    }

    /// What is allowed, in words: `a number from 1 to 500 mm`.
    pub fn allowed(&self) -> String {
        let unit = if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) };
        match self.kind {
            SettingKind::Number { min, max, .. } | SettingKind::Optional { min, max } => {
                // Without bounds of its own a number is only held within what the geometry takes.
                match (min <= -LARGEST_NUMBER, max >= LARGEST_NUMBER) {
                    (true, true) => format!("a number within ±{LARGEST_NUMBER:e}{unit}"),
                    (false, true) => format!("a number from {min} to {LARGEST_NUMBER:e}{unit}"),
                    _ => format!("a number from {min} to {max}{unit}"),
                }
            }
            SettingKind::Count { min, max, .. } => format!("a whole number from {min} to {max}{unit}"),
            SettingKind::Flag { .. } => "true or false".to_owned(),
            SettingKind::Choice { of, .. } => format!("one of {}", of.join(", ")),
            SettingKind::Text => "a text".to_owned(),
            SettingKind::Settings => "a map #{ … }".to_owned(),
            SettingKind::Numbers { count } => format!("a list of {count} numbers{unit}"),
            SettingKind::Points => format!("a list of points [x, y]{unit}"),
            SettingKind::Places => format!("a list of points [x, y, z]{unit}"),
        }
    }

    /// The default in words, or `must be given` / `none`.
    pub fn default_text(&self) -> String {
        match self.kind {
            SettingKind::Number { default: Some(x), .. } => format!("{x}"),
            SettingKind::Count { default: Some(x), .. } => format!("{x}"),
            SettingKind::Number { .. } | SettingKind::Count { .. } => "must be given".to_owned(),
            SettingKind::Flag { default } => format!("{default}"),
            SettingKind::Choice { default: Some(x), .. } => x.to_owned(),
            _ => "none".to_owned(),
        }
    }
}

fn points_of(value: &Value) -> Result<Vec<[f64; 2]>> {
    match value {
        Value::List(items) => items.iter().map(|v| v.numbers(2).map(|n| [n[0], n[1]])).collect(),
        other => Err(Error::input(format!("expected a list of points [x, y], found {}", other.kind_name()))),
    }
}

fn places_of(value: &Value) -> Result<Vec<[f64; 3]>> {
    match value {
        Value::List(items) => items.iter().map(|v| v.numbers(3).map(|n| [n[0], n[1], n[2]])).collect(),
        other => {
            Err(Error::input(format!("expected a list of points [x, y, z], found {}", other.kind_name())))
        }
    }
}

/// Most characters of an unknown name that an error shows.
const LONGEST_SHOWN: usize = 60;
/// Most known names that an error lists.
const MOST_LISTED: usize = 60;

/// A name as errors show it: of a long one the beginning.
pub(crate) fn shown(name: &str) -> String {
    let mut shown: String = name.chars().take(LONGEST_SHOWN).collect();
    if name.chars().count() > LONGEST_SHOWN {
        shown.push('…');
    }
    shown
}

/// The error for a misspelled name: says what is known and names the nearest.
pub fn unknown_name<'a>(what: &str, name: &str, known: impl Iterator<Item = &'a str>) -> Error {
    unknown(what, name, &known.collect::<Vec<&str>>())
}

fn unknown(what: &str, name: &str, known: &[&str]) -> Error {
    let length = name.chars().count();
    // A distance is at least the difference in length, so a name that is far too long is compared with none.
    let nearest = known
        .iter()
        .filter(|k| k.chars().count().abs_diff(length) <= 2.max(k.len() / 3))
        .map(|k| (strsim::damerau_levenshtein(k, name), *k))
        .min()
        .filter(|(distance, k)| *distance <= 2.max(k.len() / 3));
    let shown = shown(name);
    let mut listed = known[..known.len().min(MOST_LISTED)].join(", ");
    if known.len() > MOST_LISTED {
        listed.push_str(&format!(" and {} more", known.len() - MOST_LISTED));
    }
    if known.is_empty() {
        return Error::input(format!("unknown {what} \"{shown}\" (known: none)"))
            .remedy(format!("leave it out: there is no {what} here"));
    }
    let error = Error::input(format!("unknown {what} \"{shown}\" (known: {listed})"));
    match nearest {
        Some((_, k)) => error.remedy(format!("did you mean \"{k}\"?")),
        None => error.remedy("use one of the known names"),
    }
}
