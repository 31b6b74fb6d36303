//! Trials of a recipe: settings over its stated ranges, at their ends, in the middle and by lot.
//!
//! Random numbers: splitmix64 (G. Steele, D. Lea, C. Flood, "Fast splittable pseudorandom number generators", 2014;
//! constants from memory), so that a seed gives the same trials on every machine.

use crate::head::{Head, RecipeSetting, RecipeValue, list_text};
use ribwright_kernel::random::Random;

/// Settings to try, and what the recipe must make of them.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    /// Names and values, as a script has them; what is left out has its default.
    pub settings: Vec<(String, String)>,
    /// Whether the settings are allowed; if not, the recipe must refuse them.
    pub allowed: bool,
}

/// How many trials there are, and from which seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Trials {
    /// How many are drawn by lot, beside those that are always made.
    pub by_lot: u32,
    /// Where the lot begins.
    pub seed: u64,
}

impl Trials {
    /// All trials of a recipe: as it stands; each setting at its ends and in the middle (each word, if it is a choice);
    /// all at the least, all at the greatest; by lot; and, to be refused, a setting it does not know and each number
    /// beyond both its ends.
    pub fn of(&self, head: &Head) -> Vec<Trial> {
        let mut all = vec![trial(Vec::new(), true)];
        for row in &head.settings {
            all.extend(told(row).into_iter().map(|value| trial(vec![(row.name.clone(), value)], true)));
        }
        let at = |end: usize| -> Vec<(String, String)> {
            let value = |row: &RecipeSetting| {
                let values = told(row);
                let place = if end == 0 { 0 } else { values.len() - 1 };
                (row.name.clone(), values[place].clone())
            };
            head.settings.iter().map(value).collect()
        };
        if head.settings.len() > 1 {
            all.extend([trial(at(0), true), trial(at(1), true)]);
        }
        let mut lot = Lot(Random::new(self.seed));
        for _ in 0..if head.settings.is_empty() { 0 } else { self.by_lot } {
            let drawn = head.settings.iter().map(|row| (row.name.clone(), lot.draw(row))).collect();
            all.push(trial(drawn, true));
        }
        all.push(trial(vec![("no_such_setting".to_owned(), "1".to_owned())], false));
        for row in &head.settings {
            all.extend(beyond(row).into_iter().map(|value| trial(vec![(row.name.clone(), value)], false)));
        }
        all
    }
}

fn trial(settings: Vec<(String, String)>, allowed: bool) -> Trial {
    Trial { settings, allowed }
}

/// The values that are always tried: least first, greatest last.
fn told(row: &RecipeSetting) -> Vec<String> {
    match &row.value {
        RecipeValue::Number { range: [low, high], .. } => {
            vec![number(*low), number(low.midpoint(*high)), number(*high)]
        }
        RecipeValue::Whole { range: [low, high], .. } => {
            vec![number(*low), number(low.midpoint(*high).floor()), number(*high)]
        }
        RecipeValue::Flag { .. } => vec!["false".to_owned(), "true".to_owned()],
        RecipeValue::Choice { of } => of.iter().map(|word| format!("\"{word}\"")).collect(),
        RecipeValue::Numbers { default, range: [low, high] } => {
            [*low, low.midpoint(*high), *high].iter().map(|x| list_text(&vec![*x; default.len()])).collect()
        }
    }
}

/// Values just outside of what is allowed.
fn beyond(row: &RecipeSetting) -> Vec<String> {
    let outside = |[low, high]: [f64; 2]| [low - 1.0, high + 1.0];
    match &row.value {
        RecipeValue::Number { range, .. } | RecipeValue::Whole { range, .. } => {
            outside(*range).map(number).to_vec()
        }
        RecipeValue::Numbers { default, range } => {
            outside(*range).iter().map(|x| list_text(&vec![*x; default.len()])).collect()
        }
        RecipeValue::Flag { .. } => vec!["7".to_owned()],
        RecipeValue::Choice { .. } => vec!["\"no_such_word\"".to_owned()],
    }
}

fn number(x: f64) -> String {
    format!("{x}")
}

/// Values by lot.
struct Lot(Random);

impl Lot {
    /// From `low` to `high`, to a hundredth of the range, so that a person can type it.
    fn between(&mut self, [low, high]: [f64; 2]) -> f64 {
        const STEPS: usize = 100;
        #[allow(clippy::cast_precision_loss, reason = "at most 100")]
        let share = self.0.below(STEPS + 1) as f64 / STEPS as f64;
        low + (high - low) * share
    }

    fn draw(&mut self, row: &RecipeSetting) -> String {
        match &row.value {
            RecipeValue::Number { range, .. } => number(self.between(*range)),
            RecipeValue::Whole { range, .. } => number(self.between(*range).round()),
            RecipeValue::Flag { .. } => format!("{}", self.0.below(2) == 0),
            RecipeValue::Choice { of } => {
                of.get(self.0.below(of.len())).map_or_else(String::new, |word| format!("\"{word}\""))
            }
            RecipeValue::Numbers { default, range } => {
                let drawn: Vec<f64> = default.iter().map(|_| self.between(*range)).collect();
                list_text(&drawn)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str = "//! A stone.\n//! kind: shape\n//! call: make(n, s)\n//! gives: one\n//! author: A\n//! licence: MIT\n//! settings:\n//! - width: 5 mm, 2 to 8; width\n//! - n: whole 5, 3 to 8; corners\n//! - on: true; flag\n//! - how: a | b; words\n";

    #[test]
    fn trials_hold_the_ends_the_middle_and_what_must_be_refused() {
        let head = Head::read(HEAD).expect("right").expect("a recipe");
        let trials = Trials { by_lot: 20, seed: 3 }.of(&head);
        let has = |name: &str, value: &str, allowed: bool| {
            trials.iter().any(|t| {
                t.allowed == allowed
                    && t.settings.len() == 1
                    && t.settings[0] == (name.to_owned(), value.to_owned())
            })
        };
        for (name, value) in [
            ("width", "2"),
            ("width", "5"),
            ("width", "8"),
            ("n", "3"),
            ("n", "5"),
            ("n", "8"),
            ("on", "false"),
            ("how", "\"b\""),
        ] {
            assert!(has(name, value, true), "{name} {value} is tried");
        }
        for (name, value) in
            [("width", "1"), ("width", "9"), ("n", "9"), ("on", "7"), ("how", "\"no_such_word\"")]
        {
            assert!(has(name, value, false), "{name} {value} must be refused");
        }
        assert_eq!(
            trials.iter().filter(|t| t.allowed && t.settings.len() == 4).count(),
            22,
            "two corners and the lot"
        );
        assert_eq!(trials, Trials { by_lot: 20, seed: 3 }.of(&head), "the same seed gives the same trials");
        assert_ne!(trials, Trials { by_lot: 20, seed: 4 }.of(&head), "another seed gives others");
        let inside = |t: &Trial| {
            let width: f64 = t.settings[0].1.parse().expect("a number");
            (2.0..=8.0).contains(&width)
        };
        assert!(
            trials.iter().filter(|t| t.allowed && t.settings.len() == 4).all(inside),
            "the lot keeps the ranges"
        );
    }
}
