//! Variants: a script run with many values of its choices, those kept that stay inside the maker's rules, and the kept
//! ones on one sheet of pictures.
//!
//! `plan` says which values are tried, `measure` works one variant out as far as its picture and figures need, `apart`
//! chooses which are drawn where there are more than fit, `sheet` draws them, `files` writes what there is to say.

mod apart;
mod files;
mod measure;
mod person;
mod plan;
mod sheet;
#[cfg(test)]
mod tests;

pub use apart::choose;
pub use files::{SCHEMA, files};
pub use measure::{Figures, Measured, Out, Silhouette, measure};
pub use plan::{How, MOST_VARIANTS, combinations, plan};
pub use sheet::{PAPER, pages};

use crate::choice::{Choice, Chosen, Picks};
use crate::rules;
use std::collections::BTreeMap;

/// One variant.
#[derive(Debug, Clone)]
pub struct Variant {
    /// From 1, in the order they were tried.
    pub number: usize,
    /// The choices its script asked for, with their values.
    pub choices: Vec<Chosen>,
    /// What became of it.
    pub fate: Fate,
}

/// What became of a variant.
#[derive(Debug, Clone)]
pub enum Fate {
    /// It is inside all rules.
    Kept(Box<Measured>),
    /// It breaks rules, or it would not be made; its figures, where it was worked out.
    Out(Vec<Out>, Option<Box<Figures>>),
    /// Its script, or its solids, cannot be worked out: the error for people.
    Failed(String),
}

/// All that was tried.
#[derive(Debug, Clone)]
pub struct Tried {
    /// Name of the work.
    pub name: String,
    /// The script as it was given.
    pub script: String,
    /// How values were taken, in words.
    pub how: String,
    /// Every choice that any variant asked for, in the order they were found.
    pub choices: Vec<Choice>,
    /// The values the script is made with now: picked or usual.
    pub present: Picks,
    /// Further entries of the file for machines.
    pub further: BTreeMap<String, String>,
    /// All variants, by number.
    pub variants: Vec<Variant>,
    /// Indices of those that are drawn, ascending.
    pub shown: Vec<usize>,
}

impl Variant {
    /// Its values by name.
    pub fn picks(&self) -> Picks {
        self.choices.iter().map(|c| (c.choice.name.clone(), c.value.clone())).collect()
    }

    /// What was measured, if it was kept.
    pub fn kept(&self) -> Option<&Measured> {
        match &self.fate {
            Fate::Kept(measured) => Some(measured),
            _ => None,
        }
    }

    /// Its figures, if it was worked out.
    pub fn figures(&self) -> Option<&Figures> {
        match &self.fate {
            Fate::Kept(measured) => Some(&measured.figures),
            Fate::Out(_, figures) => figures.as_deref(),
            Fate::Failed(_) => None,
        }
    }

    /// Why it is not kept: the first rule it breaks, or the finding that forbids making it.
    pub fn fell_by(&self) -> Option<&str> {
        match &self.fate {
            Fate::Kept(_) => None,
            Fate::Out(why, _) => why.first().map(|o| o.rule.as_str()),
            Fate::Failed(_) => Some(FAILED),
        }
    }
}

/// What [`Variant::fell_by`] says of a variant that cannot be worked out.
pub const FAILED: &str = "error";

impl Tried {
    /// How many fell out, by the first rule each breaks.
    pub fn fell_out(&self) -> BTreeMap<&str, usize> {
        let mut count = BTreeMap::new();
        for rule in self.variants.iter().filter_map(Variant::fell_by) {
            *count.entry(rule).or_insert(0) += 1;
        }
        count
    }

    /// The same in words: `3 by max_sides, 1 by least_margin; make would refuse 2 by topples`; empty if none did.
    pub fn fell_out_words(&self) -> String {
        let fell = self.fell_out();
        let named = |own: bool| {
            let of =
                fell.iter().filter(move |(rule, _)| **rule != FAILED && rules::NAMES.contains(*rule) == own);
            of.map(|(rule, count)| format!("{count} by {rule}")).collect::<Vec<_>>().join(", ")
        };
        let failed = fell.get(FAILED).map(|count| format!("{count} cannot be worked out"));
        let refused = Some(named(false)).filter(|words| !words.is_empty());
        let refused = refused.map(|words| format!("make would refuse {words}"));
        let words = [Some(named(true)).filter(|words| !words.is_empty()), refused, failed];
        words.into_iter().flatten().collect::<Vec<_>>().join("; ")
    }

    /// Whether a variant has the values the script is made with now.
    pub fn is_present(&self, variant: &Variant) -> bool {
        let picks = variant.picks();
        !picks.is_empty() && picks.iter().all(|(name, value)| self.present.get(name) == Some(value))
    }
}
