//! The head of a recipe: what its first comment says, in a form that is checked.
//!
//! The head is the run of `//!` lines at the start of the file: one line on what it is for, words and an example, then
//! from the line `kind:` on one entry a line. A line that begins with two blanks goes on with the entry before it.
//!
//! ```text
//! //! A faceted boulder.
//! //!
//! //!     import "boulder" as boulder;
//! //!     let d = boulder::make("D", #{ width: 1100 });
//! //!
//! //! kind: shape
//! //! call: make(name, settings)
//! //! gives: an element, faces f1, f2, … from the lowest, `foot` and `top`
//! //! author: the ribwright authors
//! //! licence: MIT OR Apache-2.0
//! //! settings:
//! //! - width: 1100 mm, 300 to 4000; size along x
//! //! - sides: whole 5, 3 to 8; corners of each ring
//! //! - split: false; cuts it in two
//! //! - pattern: fan | level; how the ribs run
//! //! - size: [1400, 600, 500] mm, 100 to 4000; along x, y and z
//! ```
//!
//! A file without a line `kind:` (and without the other entries) is a plain module and no recipe.

use crate::convert;
use crate::limits;
use rhai::{Array, Dynamic, Map};
use ribwright_kernel::element::planes::is_unseen;
use ribwright_kernel::settings::{LARGEST_NUMBER, Value, unknown_name};
use ribwright_kernel::{Error, Result};
use std::fmt;

/// What a recipe makes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum RecipeKind {
    /// An element, or a few that belong together.
    Shape,
    /// How ribs run on the faces of an element.
    Cladding,
    /// How elements stand on each other.
    Stacking,
    /// How sheets meet.
    Joint,
    /// A whole work.
    Work,
}

/// The kinds with their words.
const KINDS: [(&str, RecipeKind); 5] = [
    ("shape", RecipeKind::Shape),
    ("cladding", RecipeKind::Cladding),
    ("stacking", RecipeKind::Stacking),
    ("joint", RecipeKind::Joint),
    ("work", RecipeKind::Work),
];

impl RecipeKind {
    /// The word in the head.
    pub fn name(self) -> &'static str {
        KINDS.iter().find(|(_, kind)| *kind == self).map_or("", |(name, _)| name)
    }
}

/// What a setting of a recipe may hold.
#[derive(Debug, Clone, PartialEq)]
pub enum RecipeValue {
    /// A number.
    Number {
        /// Taken when nothing is given.
        default: f64,
        /// Least and greatest value allowed.
        range: [f64; 2],
    },
    /// A whole number.
    Whole {
        /// Taken when nothing is given.
        default: f64,
        /// Least and greatest value allowed.
        range: [f64; 2],
    },
    /// true or false.
    Flag {
        /// Taken when nothing is given.
        default: bool,
    },
    /// One of these words; the first is taken when nothing is given.
    Choice {
        /// The words.
        of: Vec<String>,
    },
    /// A list of as many numbers as the default has.
    Numbers {
        /// Taken when nothing is given.
        default: Vec<f64>,
        /// Least and greatest value allowed for each.
        range: [f64; 2],
    },
}

/// One setting of a recipe.
#[derive(Debug, Clone, PartialEq)]
pub struct RecipeSetting {
    /// As written in the script.
    pub name: String,
    /// One line on what it means.
    pub summary: String,
    /// `mm`, `degrees`, … or empty.
    pub unit: String,
    /// What it may hold.
    pub value: RecipeValue,
}

/// What a recipe's head says.
#[derive(Debug, Clone, PartialEq)]
pub struct Head {
    /// One line on what it is for.
    pub summary: String,
    /// The words and the example between that line and the entries.
    pub help: String,
    /// What it makes.
    pub kind: RecipeKind,
    /// How its functions are called: `make(name, settings)`.
    pub calls: Vec<String>,
    /// What they give back.
    pub gives: String,
    /// Who wrote it.
    pub author: String,
    /// Its licence, as an SPDX expression.
    pub licence: String,
    /// Its settings, in the order of the head.
    pub settings: Vec<RecipeSetting>,
}

/// A head that cannot be read: the line, from 1, and why.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct HeadFault {
    pub(crate) line: usize,
    pub(crate) error: Error,
}

/// The entries of a head but for `kind`.
const ENTRIES: [&str; 5] = ["call", "gives", "author", "licence", "settings"];
/// Units a setting may have.
const UNITS: [&str; 8] = ["mm", "mm²", "degrees", "kg", "N", "kN", "litres", "%"];

/// The lines of the head without their `//!`, with their numbers from 1.
fn head_lines(text: &str) -> Vec<(usize, &str)> {
    let lines = text.lines().map_while(|line| line.trim_end().strip_prefix("//!"));
    lines.map(|line| line.strip_prefix(' ').unwrap_or(line)).enumerate().map(|(at, l)| (at + 1, l)).collect()
}

fn entry_of(line: &str) -> Option<(&str, &str)> {
    let (key, rest) = line.split_once(':')?;
    let is_word = !key.is_empty() && key.chars().all(|c| c.is_ascii_lowercase());
    is_word.then_some((key, rest.trim()))
}

impl Head {
    /// Reads the head of a recipe; none if the file is a plain module.
    pub(crate) fn read(text: &str) -> std::result::Result<Option<Self>, HeadFault> {
        let lines = head_lines(text);
        let is = |line: &str, word: &str| entry_of(line).is_some_and(|(key, _)| key == word);
        let Some(start) = lines.iter().position(|(_, line)| is(line, "kind")) else {
            let other = lines.iter().find(|(_, line)| ENTRIES.iter().any(|word| is(line, word)));
            return match other {
                Some((line, _)) => {
                    Err(fault(*line, "the head has no line `kind:` before this entry", KIND_HELP))
                }
                None => Ok(None),
            };
        };
        if let Some(fault) = unreadable(&lines) {
            return Err(fault);
        }
        let summary = lines.first().map_or("", |(_, line)| line).trim();
        if start == 0 || !summary.ends_with('.') {
            return Err(fault(
                1,
                "the first line of the head is not a sentence",
                "say in one line, ending with a full stop, what the recipe is for",
            ));
        }
        let help: Vec<&str> = lines[1..start].iter().map(|(_, line)| *line).collect();
        Reader::new(summary, help.join("\n").trim_matches('\n')).read(&lines[start..]).map(Some)
    }

    /// The settings a call hands over, checked and filled up with the defaults; `recipe` names it in errors.
    pub(crate) fn settings(&self, recipe: &str, given: &Map) -> Result<Map> {
        for key in given.keys() {
            if !self.settings.iter().any(|row| row.name == key.as_str()) {
                let known = self.settings.iter().map(|row| row.name.as_str());
                return Err(unknown_name("setting", key, known).at(recipe));
            }
        }
        let mut all = Map::new();
        for row in &self.settings {
            let value = match given.get(row.name.as_str()) {
                None => row.value.default(),
                Some(value) => {
                    row.check(&convert::value(value)).map_err(|e| e.at(&row.name).at(recipe))?;
                    value.clone()
                }
            };
            all.insert(row.name.as_str().into(), value);
        }
        Ok(all)
    }
}

/// What keeps a person from reading a head as it stands: too much of it, or characters that a terminal acts upon or does
/// not show.
fn unreadable(lines: &[(usize, &str)]) -> Option<HeadFault> {
    let shorter = "say it in fewer words, or below the head";
    if lines.len() > limits::MAX_HEAD_LINES {
        let message = format!("the head has more than {} lines", limits::MAX_HEAD_LINES);
        return Some(fault(limits::MAX_HEAD_LINES + 1, message, shorter));
    }
    lines.iter().find_map(|(number, line)| {
        if line.chars().count() > limits::MAX_HEAD_LINE {
            let message = format!("this line of the head has more than {} characters", limits::MAX_HEAD_LINE);
            return Some(fault(*number, message, shorter));
        }
        let unseen = line.chars().find(|c| (c.is_control() && *c != '\t') || is_unseen(*c))?;
        let message = format!("this line of the head holds the unseen character U+{:04X}", u32::from(unseen));
        Some(fault(*number, message, "take it out, and write the line anew if nothing is to be seen there"))
    })
}

const KIND_HELP: &str = "write `//! kind: shape`, or cladding, stacking, joint or work";

fn fault(line: usize, message: impl Into<String>, remedy: impl Into<String>) -> HeadFault {
    HeadFault { line, error: Error::input(message).remedy(remedy) }
}

/// The entries read so far.
struct Reader {
    head: Head,
    seen: Vec<&'static str>,
}

impl Reader {
    fn new(summary: &str, help: &str) -> Self {
        let head = Head {
            summary: summary.to_owned(),
            help: help.to_owned(),
            kind: RecipeKind::Shape,
            calls: Vec::new(),
            gives: String::new(),
            author: String::new(),
            licence: String::new(),
            settings: Vec::new(),
        };
        Self { head, seen: Vec::new() }
    }

    fn read(mut self, lines: &[(usize, &str)]) -> std::result::Result<Head, HeadFault> {
        let mut in_settings = false;
        for (number, line, entry) in joined(lines)? {
            if let Some(row) = entry.strip_prefix("- ").filter(|_| in_settings) {
                self.add_setting(row).map_err(|error| HeadFault { line: number, error })?;
                continue;
            }
            let Some((key, rest)) = entry_of(&entry) else {
                return Err(fault(
                    number,
                    format!("this line of the head is no entry: {}", short(line)),
                    "write an entry such as `//! author: A. Name`; words and examples go before the line `kind:`",
                ));
            };
            self.add(key, rest).map_err(|error| HeadFault { line: number, error })?;
            in_settings = key == "settings";
        }
        let first = lines.first().map_or(1, |(number, _)| *number);
        for word in ENTRIES.iter().filter(|word| **word != "settings") {
            if !self.seen.contains(word) {
                return Err(fault(
                    first,
                    format!("the head has no line `{word}:`"),
                    format!("add `//! {word}: …` below this line"),
                ));
            }
        }
        Ok(self.head)
    }

    fn add(&mut self, key: &str, rest: &str) -> Result<()> {
        let words = ["kind"].into_iter().chain(ENTRIES);
        let Some(word) = words.clone().find(|word| *word == key) else {
            return Err(unknown_name("entry of the head", key, words));
        };
        if self.seen.contains(&word) && word != "call" {
            return Err(Error::input(format!("the head has two lines `{word}:`")).remedy("keep one of them"));
        }
        self.seen.push(word);
        if rest.is_empty() != (word == "settings") {
            return Err(match word {
                "settings" => Error::input("settings follow below this line, one a line").remedy(
                    "write `//! settings:` and below it `//! - width: 900 mm, 300 to 4000; what it means`",
                ),
                _ => Error::input(format!("`{word}:` says nothing")).remedy("fill it in"),
            });
        }
        let rest = rest.to_owned();
        match word {
            "kind" => {
                self.head.kind =
                    KINDS.iter().find(|(name, _)| *name == rest).map(|(_, kind)| *kind).ok_or_else(|| {
                        unknown_name("kind of recipe", &rest, KINDS.iter().map(|(name, _)| *name))
                    })?;
            }
            "call" => {
                let is_call =
                    rest.split_once('(').is_some_and(|(name, rest)| is_name(name) && rest.ends_with(')'));
                if !is_call {
                    return Err(Error::input(format!("`{}` is not a call", short(&rest)))
                        .remedy("write one of its functions with its arguments: make(name, settings)"));
                }
                self.head.calls.push(rest);
            }
            "gives" => self.head.gives = rest,
            "author" => self.head.author = rest,
            "licence" => {
                check_licence(&rest)?;
                self.head.licence = rest;
            }
            _ => {}
        }
        Ok(())
    }

    fn add_setting(&mut self, row: &str) -> Result<()> {
        let setting = read_setting(row)?;
        if self.head.settings.iter().any(|known| known.name == setting.name) {
            return Err(Error::input(format!("the setting {} is there twice", setting.name))
                .remedy("keep one of them"));
        }
        if self.head.settings.len() >= limits::MAX_RECIPE_SETTINGS {
            return Err(Error::input(format!(
                "a recipe has more than {} settings",
                limits::MAX_RECIPE_SETTINGS
            ))
            .remedy("make several recipes of it"));
        }
        self.head.settings.push(setting);
        Ok(())
    }
}

/// One entry: the number of its first line, that line, and the whole of it.
type Entry<'a> = (usize, &'a str, String);

/// Joins lines that go on with the one before them; blank lines are left out.
fn joined<'a>(lines: &[(usize, &'a str)]) -> std::result::Result<Vec<Entry<'a>>, HeadFault> {
    let mut entries: Vec<Entry<'a>> = Vec::new();
    for &(number, line) in lines {
        if line.trim().is_empty() {
            continue;
        }
        match (line.strip_prefix("  "), entries.last_mut()) {
            (Some(more), Some((.., entry))) if !more.starts_with("  ") => {
                entry.push(' ');
                entry.push_str(more.trim());
            }
            (Some(_), _) => {
                return Err(fault(
                    number,
                    "this line of the head is set in",
                    "an entry begins without blanks, and its further lines with two; examples go before `kind:`",
                ));
            }
            (None, _) => entries.push((number, line, line.trim_end().to_owned())),
        }
    }
    Ok(entries)
}

const SETTING_HELP: &str = "write it as one of: width: 900 mm, 300 to 4000; meaning / sides: whole 5, 3 to 8; meaning / \
                            split: false; meaning / pattern: fan | level; meaning / size: [900, 600, 400] mm, 100 to 4000; meaning";

fn read_setting(row: &str) -> Result<RecipeSetting> {
    let bad = |why: String| Error::input(why).remedy(SETTING_HELP);
    let (name, rest) =
        row.split_once(':').ok_or_else(|| bad(format!("no setting is named: {}", short(row))))?;
    if !is_name(name) {
        return Err(bad(format!("`{}` cannot be the name of a setting", short(name))));
    }
    let (what, summary) =
        rest.split_once(';').map(|(what, summary)| (what.trim(), summary.trim())).unwrap_or_default();
    if summary.is_empty() || what.is_empty() {
        return Err(bad(format!("{name}: the meaning is missing, after a semicolon")));
    }
    let (value, unit) = read_value(what).map_err(|why| bad(format!("{name}: {why}")))?;
    Ok(RecipeSetting { name: name.to_owned(), summary: summary.to_owned(), unit, value })
}

/// What a setting may hold, and its unit.
fn read_value(what: &str) -> std::result::Result<(RecipeValue, String), String> {
    if let Ok(default) = what.parse::<bool>() {
        return Ok((RecipeValue::Flag { default }, String::new()));
    }
    if what.contains('|') {
        let of: Vec<String> = what.split('|').map(|word| word.trim().to_owned()).collect();
        few_enough("words", of.len())?;
        return match of.iter().find(|word| !is_name(word)) {
            Some(word) => Err(format!("`{}` is not a word to choose", short(word))),
            None => Ok((RecipeValue::Choice { of }, String::new())),
        };
    }
    let (rest, range) = what.rsplit_once(", ").ok_or("the range is missing, after a comma")?;
    let (low, high) = range.split_once(" to ").ok_or("the range is not written as least to greatest")?;
    let range = [read_number(low)?, read_number(high)?];
    if range[0] >= range[1] {
        return Err(format!("the range from {} to {} is empty", range[0], range[1]));
    }
    let within = |x: f64| {
        let inside = range[0] <= x && x <= range[1];
        inside
            .then_some(x)
            .ok_or(format!("the default {x} is outside the range from {} to {}", range[0], range[1]))
    };
    if let Some(list) = rest.strip_prefix('[') {
        let (list, unit) = list.split_once(']').ok_or("the list is not closed with ]")?;
        few_enough("numbers", list.split(',').count())?;
        let default =
            list.split(',').map(|x| within(read_number(x)?)).collect::<std::result::Result<_, _>>()?;
        return Ok((RecipeValue::Numbers { default, range }, read_unit(unit)?));
    }
    let (whole, rest) = match rest.strip_prefix("whole ") {
        Some(rest) => (true, rest),
        None => (false, rest),
    };
    let (number, unit) = rest.split_once(' ').unwrap_or((rest, ""));
    let default = within(read_number(number)?)?;
    if whole && [default, range[0], range[1]].iter().any(|x| x.fract() != 0.0) {
        return Err("default and range of a whole number must be whole".to_owned());
    }
    let unit = read_unit(unit)?;
    Ok((
        if whole { RecipeValue::Whole { default, range } } else { RecipeValue::Number { default, range } },
        unit,
    ))
}

fn few_enough(what: &str, count: usize) -> std::result::Result<(), String> {
    let most = limits::MAX_RECIPE_VALUES;
    if count > most { Err(format!("{count} {what} are more than the {most} allowed")) } else { Ok(()) }
}

fn read_number(text: &str) -> std::result::Result<f64, String> {
    let found = text.trim().parse::<f64>().ok().filter(|x| x.is_finite() && x.abs() <= LARGEST_NUMBER);
    found.ok_or_else(|| format!("`{}` is not a usable number", short(text.trim())))
}

fn read_unit(text: &str) -> std::result::Result<String, String> {
    let unit = text.trim();
    if unit.is_empty() || UNITS.contains(&unit) {
        return Ok(unit.to_owned());
    }
    Err(format!("`{}` is not a unit (known: {})", short(unit), UNITS.join(", ")))
}

/// Whether a text is a plain name: a letter, then letters, digits and `_`, no longer than a label.
pub(crate) fn is_name(text: &str) -> bool {
    const LONGEST: usize = 60;
    text.starts_with(|c: char| c.is_ascii_lowercase())
        && text.len() <= LONGEST
        && text.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
}

/// Checks the form of an SPDX licence expression (SPDX specification 2.3, annex D): identifiers joined by AND, OR and
/// WITH, in brackets or not. Whether a licence of that name exists is not looked up.
fn check_licence(text: &str) -> Result<()> {
    let spaced = text.replace('(', " ( ").replace(')', " ) ");
    let (mut open, mut wants_name) = (0_usize, true);
    let mut right = true;
    for token in spaced.split_whitespace() {
        let joins = matches!(token, "AND" | "OR" | "WITH");
        let is_id = token.chars().all(|c| c.is_ascii_alphanumeric() || "-.+:".contains(c)) && !joins;
        match token {
            "(" if wants_name => open += 1,
            ")" if !wants_name && open > 0 => open -= 1,
            _ if joins && !wants_name => wants_name = true,
            _ if is_id && wants_name => wants_name = false,
            _ => right = false,
        }
    }
    if right && open == 0 && !wants_name {
        return Ok(());
    }
    Err(Error::input(format!("`{}` is not an SPDX licence expression", short(text)))
        .remedy("write the licence's short name, for instance MIT, CC-BY-4.0, or MIT OR Apache-2.0"))
}

/// The start of a text, for errors.
fn short(text: &str) -> String {
    const SHOWN: usize = 60;
    let mut shown: String = text.chars().take(SHOWN).collect();
    if shown.len() < text.len() {
        shown.push('…');
    }
    shown
}

impl RecipeValue {
    /// What is taken when nothing is given, as the interpreter has it.
    fn default(&self) -> Dynamic {
        match self {
            RecipeValue::Number { default, .. } => Dynamic::from(*default),
            #[allow(clippy::cast_possible_truncation, reason = "whole, and within the largest number")]
            RecipeValue::Whole { default, .. } => Dynamic::from(*default as i64),
            RecipeValue::Flag { default } => Dynamic::from(*default),
            RecipeValue::Choice { of } => Dynamic::from(of.first().cloned().unwrap_or_default()),
            RecipeValue::Numbers { default, .. } => {
                Dynamic::from_array(default.iter().map(|x| Dynamic::from(*x)).collect::<Array>())
            }
        }
    }
}

impl RecipeSetting {
    fn check(&self, given: &Value) -> Result<()> {
        let inside = |x: f64, range: &[f64; 2]| range[0] <= x && x <= range[1];
        let right = match (&self.value, given) {
            (RecipeValue::Number { range, .. }, given) => inside(given.number()?, range),
            (RecipeValue::Whole { range, .. }, given) => {
                let x = given.number()?;
                x.fract() == 0.0 && inside(x, range)
            }
            (RecipeValue::Flag { .. }, given) => matches!(given, Value::Flag(_)),
            (RecipeValue::Choice { of }, Value::Text(word)) => {
                if !of.contains(word) {
                    return Err(unknown_name("choice", word, of.iter().map(String::as_str)));
                }
                true
            }
            (RecipeValue::Choice { .. }, _) => false,
            (RecipeValue::Numbers { default, range }, given) => {
                given.numbers(default.len())?.iter().all(|x| inside(*x, range))
            }
        };
        if right {
            return Ok(());
        }
        let found = match given {
            Value::Number(x) => format!("{x}"),
            Value::List(_) => "this list".to_owned(),
            other => other.kind_name().to_owned(),
        };
        Err(Error::input(format!("{found} is not allowed here"))
            .remedy(format!("allowed is {}", self.allowed())))
    }

    /// What is allowed, in words: `a number from 300 to 4000 mm`.
    pub fn allowed(&self) -> String {
        let unit = if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) };
        match &self.value {
            RecipeValue::Number { range: [low, high], .. } => format!("a number from {low} to {high}{unit}"),
            RecipeValue::Whole { range: [low, high], .. } => {
                format!("a whole number from {low} to {high}{unit}")
            }
            RecipeValue::Flag { .. } => "true or false".to_owned(),
            RecipeValue::Choice { of } => format!("one of {}", of.join(", ")),
            RecipeValue::Numbers { default, range: [low, high] } => {
                format!("a list of {} numbers from {low} to {high}{unit}", default.len())
            }
        }
    }

    /// The default, as a script has it.
    pub fn default_text(&self) -> String {
        match &self.value {
            RecipeValue::Number { default, .. } | RecipeValue::Whole { default, .. } => format!("{default}"),
            RecipeValue::Flag { default } => format!("{default}"),
            RecipeValue::Choice { of } => format!("\"{}\"", of.first().map_or("", String::as_str)),
            RecipeValue::Numbers { default, .. } => list_text(default),
        }
    }
}

/// A list as a script has it.
pub(crate) fn list_text(numbers: &[f64]) -> String {
    let numbers: Vec<String> = numbers.iter().map(|x| format!("{x}")).collect();
    format!("[{}]", numbers.join(", "))
}

impl fmt::Display for RecipeKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = "//! A stone.\n//!\n//!     stone::make(\"A\", #{ });\n//!\n//! kind: shape\n//! call: make(name, settings)\n//! gives: an element,\n//!   with faces\n//! author: A. Name\n//! licence: (MIT OR Apache-2.0) AND CC-BY-4.0\n//! settings:\n//! - width: 1100 mm, 300 to 4000; along x\n//! - sides: whole 5, 3 to 8; corners\n//! - split: false; in two\n//! - pattern: fan | level; ribs\n//! - size: [1, 2, 3] mm, 0 to 9; sizes\nfn make(name, settings) { }\n";

    #[track_caller]
    fn fails(text: &str, line: usize, part: &str) {
        let fault = Head::read(text).expect_err("the head is wrong");
        assert!(fault.error.to_string().contains(part), "{part:?} is missing from: {}", fault.error);
        assert_eq!(fault.line, line, "{}", fault.error);
        assert!(fault.error.remedy_text().is_some(), "{}", fault.error);
    }

    #[test]
    fn a_head_is_read_whole() {
        let head = Head::read(GOOD).expect("it is right").expect("it is a recipe");
        assert_eq!(head.kind, RecipeKind::Shape);
        assert_eq!(head.gives, "an element, with faces", "a line set in goes on with the one before");
        assert_eq!(head.calls, ["make(name, settings)"]);
        let rows: Vec<String> = head
            .settings
            .iter()
            .map(|row| format!("{} {} {}", row.name, row.default_text(), row.allowed()))
            .collect();
        let wanted = [
            "width 1100 a number from 300 to 4000 mm",
            "sides 5 a whole number from 3 to 8",
            "split false true or false",
            "pattern \"fan\" one of fan, level",
            "size [1, 2, 3] a list of 3 numbers from 0 to 9 mm",
        ];
        assert_eq!(rows, wanted);
        assert_eq!(
            Head::read("//! Words: of a module.\nfn f() { }"),
            Ok(None),
            "a plain module is no recipe"
        );
    }

    #[test]
    fn a_wrong_head_is_an_error_at_its_line() {
        fails(&GOOD.replace("kind: shape", "kind: shap"), 5, "did you mean \"shape\"?");
        fails(&GOOD.replace("//! kind: shape\n", ""), 5, "no line `kind:`");
        fails(&GOOD.replace("//! author: A. Name\n", ""), 5, "no line `author:`");
        fails(&GOOD.replace("author:", "auther:"), 9, "did you mean \"author\"?");
        fails(&GOOD.replace("A stone.", "A stone"), 1, "not a sentence");
        fails(&GOOD.replace("gives: an element,\n//!   with faces", "gives:"), 7, "says nothing");
        fails(&GOOD.replace("gives:", "kind:"), 7, "two lines `kind:`");
        fails(&GOOD.replace("(MIT OR", "(MIT,"), 10, "SPDX");
        fails(&GOOD.replace("make(name, settings)\n", "make it\n"), 6, "not a call");
        fails(&GOOD.replace("- sides: whole 5", "- sides: whole 9"), 13, "the default 9 is outside");
        fails(&GOOD.replace("- sides: whole 5", "- sides: whole 5.5"), 13, "must be whole");
        fails(&GOOD.replace("300 to 4000", "300 - 4000"), 12, "least to greatest");
        fails(&GOOD.replace("300 to 4000", "4000 to 300"), 12, "is empty");
        fails(&GOOD.replace("1100 mm", "1100 inch"), 12, "not a unit");
        fails(&GOOD.replace("1100 mm", "1e99 mm"), 12, "not a usable number");
        fails(&GOOD.replace("; along x", ""), 12, "the meaning is missing");
        fails(&GOOD.replace("- split:", "- sides:"), 14, "there twice");
        fails(&GOOD.replace("- split:", "split:"), 14, "unknown entry of the head");
        fails(&GOOD.replace("- split:", "      split:"), 14, "is set in");
        fails(&GOOD.replace("fan | level", "fan | Ｌ"), 15, "not a word to choose");
    }

    #[test]
    fn settings_are_checked_and_filled_up() {
        let head = Head::read(GOOD).expect("right").expect("a recipe");
        let given = |key: &str, value: Dynamic| Map::from([(key.into(), value)]);
        let filled = head.settings("stone", &given("width", Dynamic::from(500_i64))).expect("allowed");
        assert_eq!(filled.len(), 5);
        assert_eq!(filled["sides"].as_int(), Ok(5));
        for (key, value, part) in [
            ("widht", Dynamic::from(5_i64), "did you mean \"width\"?"),
            ("width", Dynamic::from(5_i64), "allowed is a number from 300 to 4000 mm"),
            ("width", Dynamic::from(f64::NAN), "not a usable number"),
            ("sides", Dynamic::from(4.5), "allowed is a whole number from 3 to 8"),
            ("split", Dynamic::from(1_i64), "allowed is true or false"),
            ("pattern", Dynamic::from("fann"), "did you mean \"fan\"?"),
            ("size", Dynamic::from_array(vec![Dynamic::from(1_i64)]), "a list of 3 numbers"),
        ] {
            let error = head.settings("stone", &given(key, value)).expect_err("refused").to_string();
            assert!(error.contains(part) && error.contains("stone"), "{part:?} is missing from: {error}");
        }
    }
}
