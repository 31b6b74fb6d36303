//! Choices: what a script leaves open. A number from a range, one of a list, or the seed of random gestures.
//!
//! Numbers of choices are kept to `DIGITS` significant digits, so that a value that was written to a file and read
//! again, by whatever program, is the same to the last bit.

use crate::error::{Error, Result};
use crate::settings::LARGEST_NUMBER;
use serde::{Serialize, Serializer};
use std::collections::BTreeMap;
use std::fmt;

/// Digits that are kept of a chosen number: fewer than the 15 every decimal of which a float gives back.
const DIGITS: usize = 12;

/// A number counts as within its range, and on its steps, to this share of the range: rounding of the last digit.
const SLACK: f64 = 1.0e-9;

/// A range without steps is taken in the largest power of ten that divides it into so many or more.
const FINE: f64 = 1000.0;

/// Most steps of a range.
pub const MOST_STEPS: f64 = 100_000.0;

/// Longest name of a choice, characters.
pub const LONGEST_NAME: usize = 60;

/// Greatest seed.
pub const GREATEST_SEED: f64 = 999_999_999.0;

/// One value a choice can have.
#[derive(Debug, Clone, PartialEq)]
pub enum Pick {
    /// Any number.
    Number(f64),
    /// A word.
    Text(String),
    /// true or false.
    Flag(bool),
}

/// Values by the names of their choices.
pub type Picks = BTreeMap<String, Pick>;

/// What a choice is taken from.
#[derive(Debug, Clone, PartialEq)]
pub enum Of {
    /// From `least` to `greatest`, in steps from `least` where there are any.
    Range {
        /// Least value.
        least: f64,
        /// Greatest value.
        greatest: f64,
        /// Distance of the values.
        step: Option<f64>,
    },
    /// One of these.
    List(Vec<Pick>),
    /// A whole number that random gestures begin with.
    Seed,
}

/// One choice.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// Its name, any text.
    pub name: String,
    /// What it is taken from.
    pub of: Of,
    /// What it is unless a value was picked.
    pub usual: Pick,
    /// Unit of its numbers in words; may be empty.
    pub unit: String,
}

/// A choice with the value a work was made with.
#[derive(Debug, Clone, PartialEq)]
pub struct Chosen {
    /// The choice.
    pub choice: Choice,
    /// Its value.
    pub value: Pick,
    /// Whether that was picked; else it is the usual one, or one that is tried out.
    pub picked: bool,
}

impl Serialize for Pick {
    fn serialize<S: Serializer>(&self, serializer: S) -> std::result::Result<S::Ok, S::Error> {
        match self {
            // Whole numbers without a decimal point, as a person writes them.
            #[allow(clippy::cast_possible_truncation, reason = "whole and within 1e9")]
            Pick::Number(x) if x.fract() == 0.0 => serializer.serialize_i64(*x as i64),
            Pick::Number(x) => serializer.serialize_f64(*x),
            Pick::Text(text) => serializer.serialize_str(text),
            Pick::Flag(flag) => serializer.serialize_bool(*flag),
        }
    }
}

impl fmt::Display for Pick {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Pick::Number(x) => write!(f, "{x}"),
            Pick::Text(text) => f.write_str(text),
            Pick::Flag(flag) => write!(f, "{flag}"),
        }
    }
}

/// A number with `DIGITS` significant digits.
pub fn tidy(x: f64) -> f64 {
    let text = format!("{x:.*e}", DIGITS - 1);
    // Zero loses its sign.
    text.parse::<f64>().unwrap_or(x) + 0.0
}

/// Checks the name of a choice.
fn checked_name(name: &str) -> Result<String> {
    let count = name.chars().count();
    if name.trim().is_empty() || count > LONGEST_NAME || name.chars().any(char::is_control) {
        return Err(Error::input(format!(
            "{name:?} is no name for a choice (allowed: 1 to {LONGEST_NAME} characters on one line)"
        ))
        .remedy("name it by what it changes, for instance \"lean\""));
    }
    Ok(name.to_owned())
}

impl Choice {
    /// A number from a range. The usual value, unless given, is the middle, down to the next step.
    ///
    /// # Errors
    /// A name that is empty or longer than [`LONGEST_NAME`]; numbers that are not usable; a range that is none; a step
    /// that is not positive, larger than the range, or so small that there are more than [`MOST_STEPS`]; a usual value
    /// that is not in the range or on a step.
    pub fn range(
        name: &str,
        range: [f64; 2],
        step: Option<f64>,
        usual: Option<f64>,
        unit: &str,
    ) -> Result<Self> {
        let name = checked_name(name)?;
        let at = |e: Error| e.at(format!("choose {name:?}"));
        if range.iter().chain(&step).any(|x| !x.is_finite() || x.abs() > LARGEST_NUMBER) {
            return Err(at(Error::input("a range needs usable numbers")
                .remedy(format!("give numbers within ±{LARGEST_NUMBER:e}"))));
        }
        let [least, greatest] = range.map(tidy);
        if least >= greatest {
            return Err(at(Error::input(format!("there is nothing to choose from {least} to {greatest}"))
                .remedy("give the lesser number first, and a greater one")));
        }
        let step = step.map(tidy);
        if let Some(step) = step
            && (step <= 0.0 || step > greatest - least || (greatest - least) / step > MOST_STEPS)
        {
            return Err(at(Error::input(format!(
                "a step of {step} is not allowed (allowed: over 0, up to the range of {}, at most {MOST_STEPS} steps)",
                tidy(greatest - least)
            ))
            .remedy("give the distance of two values that are worth telling apart")));
        }
        let of = Of::Range { least, greatest, step };
        let mut choice = Self { name, of, usual: Pick::Number(least), unit: unit.to_owned() };
        choice.usual = match usual {
            Some(x) => choice.check(&Pick::Number(x)).map_err(|e| e.at("usual").at(choice.at()))?,
            // The middle of an even number of values is the lower of two.
            None => choice.share(0.5 - SLACK),
        };
        Ok(choice)
    }

    /// One of a list. The usual value, unless given, is the first.
    ///
    /// # Errors
    /// A name as of [`Choice::range`]; fewer than two entries, or one twice; a number that is not usable; a usual value
    /// that is not in the list.
    pub fn list(name: &str, of: Vec<Pick>, usual: Option<Pick>, unit: &str) -> Result<Self> {
        let name = checked_name(name)?;
        let at = |e: Error| e.at(format!("choose {name:?}"));
        let of: Vec<Pick> = of.into_iter().map(tidied).collect();
        if let Some(Pick::Number(x)) =
            of.iter().find(|p| matches!(p, Pick::Number(x) if !x.is_finite() || x.abs() > LARGEST_NUMBER))
        {
            return Err(at(
                Error::input(format!("{x} is not a usable number")).remedy("take it out of the list")
            ));
        }
        if of.len() < 2 {
            return Err(at(Error::input(format!("there is nothing to choose from {} entries", of.len()))
                .remedy("list two or more: [\"deep\", \"shallow\"]")));
        }
        if let Some(i) = (1..of.len()).find(|&i| of[..i].contains(&of[i])) {
            return Err(at(
                Error::input(format!("{} is in the list twice", shown(&of[i]))).remedy("keep one of them")
            ));
        }
        let mut choice = Self { name, usual: of[0].clone(), of: Of::List(of), unit: unit.to_owned() };
        if let Some(given) = usual {
            choice.usual = choice.check(&given).map_err(|e| e.at("usual").at(choice.at()))?;
        }
        Ok(choice)
    }

    /// The seed of random gestures.
    ///
    /// # Errors
    /// A name as of [`Choice::range`]; a usual seed that is no whole number from 0 to [`GREATEST_SEED`].
    pub fn seed(name: &str, usual: f64) -> Result<Self> {
        let name = checked_name(name)?;
        let mut choice = Self { name, of: Of::Seed, usual: Pick::Number(1.0), unit: String::new() };
        choice.usual = choice.check(&Pick::Number(usual)).map_err(|e| e.at("usual").at(choice.at()))?;
        Ok(choice)
    }

    /// How error texts name it.
    pub fn at(&self) -> String {
        let call = if self.of == Of::Seed { "seed" } else { "choose" };
        format!("{call} {:?}", self.name)
    }

    /// What is allowed, in words: `a number from 5 to 20 degrees in steps of 1`.
    pub fn allowed(&self) -> String {
        let unit = if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) };
        match &self.of {
            Of::Range { least, greatest, step } => {
                let step = step.map(|s| format!(" in steps of {s}")).unwrap_or_default();
                format!("a number from {least} to {greatest}{unit}{step}")
            }
            Of::List(of) => format!("one of {}", of.iter().map(shown).collect::<Vec<_>>().join(", ")),
            Of::Seed => format!("a whole number from 0 to {GREATEST_SEED}"),
        }
    }

    /// A value in words, with its unit.
    pub fn words(&self, value: &Pick) -> String {
        match value {
            Pick::Number(x) if !self.unit.is_empty() => format!("{x} {}", self.unit),
            other => other.to_string(),
        }
    }

    /// The value as it is used: on its step and with few digits.
    ///
    /// # Errors
    /// It is not allowed.
    pub fn check(&self, value: &Pick) -> Result<Pick> {
        let ok = match (&self.of, value) {
            (Of::Range { least, greatest, step }, Pick::Number(x)) => {
                let slack = (greatest - least) * SLACK;
                let on_step = step.is_none_or(|s| {
                    let steps = (x - least) / s;
                    (steps - steps.round()).abs() * s <= slack
                });
                (least - slack..=greatest + slack).contains(x) && on_step
            }
            (Of::List(of), value) => of.contains(&tidied(value.clone())),
            (Of::Seed, Pick::Number(x)) => x.fract() == 0.0 && (0.0..=GREATEST_SEED).contains(x),
            (Of::Range { .. } | Of::Seed, _) => false,
        };
        if ok {
            Ok(tidied(value.clone()))
        } else {
            Err(Error::input(format!("{} is not allowed (allowed: {})", shown(value), self.allowed()))
                .remedy(format!("give {}", self.allowed())))
        }
    }

    /// Steps of a range from its least value, if it has any: how many there are beyond the first.
    fn steps(&self) -> Option<f64> {
        match self.of {
            Of::Range { least, greatest, step: Some(step) } => {
                Some(((greatest - least) / step * (1.0 + SLACK)).floor())
            }
            _ => None,
        }
    }

    /// The value at a share from 0 up to, but not, 1 of all there is to choose from. Steps and entries of a list have
    /// equal shares. A seed has none: it is the usual one.
    pub fn share(&self, share: f64) -> Pick {
        match &self.of {
            Of::Range { least, greatest, step: None } => {
                let range = greatest - least;
                let decades = (range / FINE).log10().floor();
                let x = least + range * share;
                // Divided by a whole power of ten, so that it is the float nearest to its decimal.
                let grain = 10_f64.powf(decades.abs());
                let x = if decades < 0.0 { (x * grain).round() / grain } else { (x / grain).round() * grain };
                Pick::Number(tidy(x.clamp(*least, *greatest)))
            }
            Of::Range { least, step: Some(step), .. } => {
                let steps = self.steps().unwrap_or(0.0);
                let k = (share * (steps + 1.0)).floor().min(steps);
                Pick::Number(tidy(least + k * step))
            }
            #[allow(
                clippy::cast_precision_loss,
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a list is short, and a share lies within it"
            )]
            Of::List(of) => of[((share * of.len() as f64) as usize).min(of.len() - 1)].clone(),
            Of::Seed => self.usual.clone(),
        }
    }

    /// The values of a full grid: all of a list, all steps of a range with steps; of others `count` values, for a range
    /// spread evenly from its least to its greatest, for a seed from the usual one on.
    pub fn levels(&self, count: usize) -> Vec<Pick> {
        #[allow(clippy::cast_precision_loss, reason = "few levels")]
        let number = |i: usize| i as f64;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most MOST_STEPS")]
        let steps = self.steps().map(|s| s as usize);
        match (&self.of, steps) {
            (Of::Range { least, step: Some(step), .. }, Some(steps)) => {
                (0..=steps).map(|k| Pick::Number(tidy(least + number(k) * step))).collect()
            }
            (Of::Range { greatest, .. }, _) => (0..count)
                .map(|k| match k {
                    0 if count == 1 => self.usual.clone(),
                    k if k + 1 == count => Pick::Number(*greatest),
                    k => self.share(number(k) / number(count.max(2) - 1)),
                })
                .collect(),
            (Of::List(of), _) => of.clone(),
            (Of::Seed, _) => (0..count).map(|k| self.seed_at(k)).collect(),
        }
    }

    /// The seed that stands so many places behind the usual one.
    pub fn seed_at(&self, index: usize) -> Pick {
        #[allow(clippy::cast_precision_loss, reason = "few variants")]
        let index = index as f64;
        match self.usual {
            Pick::Number(usual) => Pick::Number((usual + index) % (GREATEST_SEED + 1.0)),
            ref other => other.clone(),
        }
    }

    /// How far two of its values lie apart, from 0 to 1: for numbers of a range the share of it, else 1 where they
    /// differ.
    pub fn apart(&self, a: &Pick, b: &Pick) -> f64 {
        match (&self.of, a, b) {
            (Of::Range { least, greatest, .. }, Pick::Number(a), Pick::Number(b)) => {
                (a - b).abs() / (greatest - least)
            }
            _ => f64::from(u8::from(a != b)),
        }
    }
}

/// Choices with their values in words: `lean 12.5 degrees, profile deep`.
pub fn in_words(choices: &[Chosen]) -> String {
    let words = choices.iter().map(|c| format!("{} {}", c.choice.name, c.choice.words(&c.value)));
    words.collect::<Vec<_>>().join(", ")
}

fn tidied(value: Pick) -> Pick {
    match value {
        Pick::Number(x) => Pick::Number(tidy(x)),
        other => other,
    }
}

/// A value as a script writes it.
fn shown(value: &Pick) -> String {
    match value {
        Pick::Text(text) => format!("{text:?}"),
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(value: &Pick) -> f64 {
        match value {
            Pick::Number(x) => *x,
            other => panic!("{other} is no number"),
        }
    }

    fn range(low: f64, high: f64, step: Option<f64>) -> Choice {
        Choice::range("x", [low, high], step, None, "mm").expect("a choice")
    }

    #[test]
    fn the_usual_value_is_the_middle_and_the_first() {
        assert_eq!(range(5.0, 20.0, None).usual, Pick::Number(12.5));
        assert_eq!(range(5.0, 20.0, Some(1.0)).usual, Pick::Number(12.0), "of 16 steps the eighth");
        assert_eq!(range(0.0, 4.0, Some(1.0)).usual, Pick::Number(2.0));
        assert_eq!(range(-1.0, 1.0, None).usual, Pick::Number(0.0));
        let words = ["deep", "shallow"].map(|w| Pick::Text(w.to_owned())).to_vec();
        let list = Choice::list("profile", words, None, "").expect("a choice");
        assert_eq!(list.usual, Pick::Text("deep".to_owned()));
    }

    #[test]
    fn values_have_few_digits_and_lie_in_the_range() {
        let choice = range(5.0, 20.0, None);
        for k in 0..1000 {
            let x = number(&choice.share(f64::from(k) / 1000.0));
            assert!((5.0..=20.0).contains(&x) && (x * 100.0).round() / 100.0 == x, "{x}");
        }
        // Nothing of a third comes out other than it was written.
        let third = range(1.0 / 3.0, 2.0 / 3.0, None);
        for value in third.levels(5) {
            let text = serde_json::to_string(&value).expect("written");
            let again: f64 = serde_json::from_str(&text).expect("read");
            assert_eq!(Pick::Number(again), value);
            assert_eq!(third.check(&value), Ok(value.clone()));
        }
        // 0.1 × 3 is 0.30000000000000004.
        let tenths: Vec<f64> = range(0.0, 0.5, Some(0.1)).levels(2).iter().map(number).collect();
        assert_eq!(tenths, [0.0, 0.1, 0.2, 0.3, 0.4, 0.5], "all steps, though two levels were asked for");
        assert_eq!(number(&range(0.0, 4.0e6, None).share(0.123_456)), 494_000.0, "grain 1000");
    }

    #[test]
    fn levels_take_in_both_ends() {
        let levels: Vec<f64> = range(5.0, 20.0, None).levels(3).iter().map(number).collect();
        assert_eq!(levels, [5.0, 12.5, 20.0]);
        assert_eq!(range(5.0, 20.0, None).levels(1), [Pick::Number(12.5)]);
        let seeds: Vec<f64> = Choice::seed("g", 7.0).expect("a seed").levels(3).iter().map(number).collect();
        assert_eq!(seeds, [7.0, 8.0, 9.0]);
        // A last step that does not reach the end.
        let steps: Vec<f64> = range(0.0, 10.0, Some(4.0)).levels(9).iter().map(number).collect();
        assert_eq!(steps, [0.0, 4.0, 8.0]);
    }

    #[test]
    fn every_step_and_entry_has_an_equal_share() {
        let choice = range(1.0, 4.0, Some(1.0));
        let mut seen = [0; 5];
        for k in 0..400 {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "1 to 4")]
            let at = number(&choice.share((f64::from(k) + 0.5) / 400.0)) as usize;
            seen[at] += 1;
        }
        assert_eq!(seen, [0, 100, 100, 100, 100]);
    }

    #[test]
    fn what_is_not_allowed_is_refused_with_what_is() {
        let choice = range(5.0, 20.0, Some(1.0));
        for (value, allowed) in [(5.0, true), (20.0, true), (21.0, false), (4.0, false), (7.5, false)] {
            assert_eq!(choice.check(&Pick::Number(value)).is_ok(), allowed, "{value}");
        }
        let said = choice.check(&Pick::Text("deep".to_owned())).expect_err("a text").to_string();
        assert!(said.contains("\"deep\"") && said.contains("from 5 to 20 mm in steps of 1"), "{said}");
        for bad in [
            Choice::range("x", [5.0, 5.0], None, None, ""),
            Choice::range("x", [5.0, f64::NAN], None, None, ""),
            Choice::range("x", [5.0, 20.0], Some(0.0), None, ""),
            Choice::range("x", [5.0, 20.0], Some(16.0), None, ""),
            Choice::range("x", [0.0, 1.0], Some(1.0e-6), None, ""),
            Choice::range("x", [5.0, 20.0], None, Some(21.0), ""),
            Choice::range("  ", [5.0, 20.0], None, None, ""),
            Choice::range("a\nb", [5.0, 20.0], None, None, ""),
            Choice::list("x", vec![Pick::Flag(true)], None, ""),
            Choice::list("x", vec![Pick::Number(1.0), Pick::Number(1.0)], None, ""),
            Choice::list("x", vec![Pick::Flag(true), Pick::Flag(false)], Some(Pick::Number(1.0)), ""),
            Choice::seed("x", 0.5),
            Choice::seed("x", -1.0),
        ] {
            let error = bad.expect_err("not allowed");
            assert!(error.remedy_text().is_some(), "{error}");
        }
    }
}
