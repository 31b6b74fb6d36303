//! The estimate: lines of quantity × rates, added up with their ranges.
//!
//! Every line is a product of a quantity and rates, none of them negative, so it rises with each. The widest range of the
//! total is that with everything low, and with everything high. The likely range takes each rate and each uncertain
//! quantity alone to its low and its high, the others usual, and adds the differences as the root of their squares: the
//! law of propagation of uncertainty without correlation (JCGM 100:2008, 5.1), here with one step instead of a slope. A rate
//! that several lines share counts once, so that lines by the same rate rise and fall together. Products of many wide
//! ranges are bent so much that the likely range would reach beyond the widest; it ends there.

use super::rates::Rates;
use std::collections::BTreeSet;

/// Low, usual, high.
pub type Range = [f64; 3];

/// A quantity that a stage found out, for the estimate.
#[derive(Debug, Clone, PartialEq)]
pub struct Quantity {
    /// What it is: one of the fixed words of the stage that pushes it.
    pub name: &'static str,
    /// Low, usual, high.
    pub range: Range,
    /// How it came about, in words.
    pub from: String,
}

/// What lines are grouped by for the client.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    /// Sheet, plates, tube.
    Steel,
    /// Cutting and bending.
    Cutting,
    /// Fitting and welding.
    Welding,
    /// Dressing seams, blasting, coats.
    Finish,
    /// Engineer, crane, delivery.
    Services,
}

impl Group {
    /// All, in the order of pages.
    pub const ALL: [Self; 5] = [Self::Steel, Self::Cutting, Self::Welding, Self::Finish, Self::Services];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Group::Steel => "Steel and fixings",
            Group::Cutting => "Cutting and forming",
            Group::Welding => "Fitting and welding",
            Group::Finish => "Dressing and finish",
            Group::Services => "Engineering, lifting, delivery",
        }
    }
}

/// A rate in a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Factor {
    /// Times the rate of this name.
    Rate(&'static str),
    /// Times 1 and this rate in per cent.
    More(&'static str),
}

/// One line of the estimate.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Where it belongs.
    pub group: Group,
    /// What it is.
    pub what: String,
    /// How much: low, usual, high.
    pub quantity: Range,
    /// Unit of the quantity.
    pub unit: &'static str,
    /// What it is multiplied by.
    pub factors: Vec<Factor>,
    /// How the quantity came about.
    pub from: String,
}

/// Lines and rates.
#[derive(Debug, Clone, PartialEq)]
pub struct Estimate {
    /// The lines.
    pub lines: Vec<Line>,
    /// The rates.
    pub rates: Rates,
}

/// Sums of an estimate.
#[derive(Debug, Clone, PartialEq)]
pub struct Totals {
    /// All lines: low, usual, high.
    pub lines: Range,
    /// The same with contingency.
    pub with_contingency: Range,
    /// And with the maker's margin: the price before tax.
    pub price: Range,
    /// Price before tax, likely range round the usual one by root of squares.
    pub likely: Range,
    /// Price with tax.
    pub taxed: Range,
    /// Price with tax, likely range.
    pub taxed_likely: Range,
}

/// Where something is in its range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum At {
    Low,
    Usual,
    High,
}

/// What is uncertain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Source {
    Rate(usize),
    Quantity(usize),
}

/// One of a hundred.
const PER_CENT: f64 = 100.0;

/// A sum by where each rate and quantity is taken in its range.
type Sum<'a> = &'a dyn Fn(&dyn Fn(Source) -> At) -> f64;

impl Estimate {
    fn index(&self, name: &str) -> usize {
        self.rates.rates.iter().position(|r| r.item.name == name).unwrap_or_default()
    }

    fn rate(&self, name: &str, at: &dyn Fn(Source) -> At) -> f64 {
        let k = self.index(name);
        self.rates.rates[k].range[at(Source::Rate(k)) as usize]
    }

    fn line_at(&self, k: usize, at: &dyn Fn(Source) -> At) -> f64 {
        let line = &self.lines[k];
        let quantity = line.quantity[at(Source::Quantity(k)) as usize];
        line.factors.iter().fold(quantity, |product, factor| {
            product
                * match factor {
                    Factor::Rate(name) => self.rate(name, at),
                    Factor::More(name) => 1.0 + self.rate(name, at) / PER_CENT,
                }
        })
    }

    fn more(&self, name: &str, at: &dyn Fn(Source) -> At) -> f64 {
        1.0 + self.rate(name, at) / PER_CENT
    }

    fn price_at(&self, taxed: bool, at: &dyn Fn(Source) -> At) -> f64 {
        let lines: f64 = (0..self.lines.len()).map(|k| self.line_at(k, at)).sum();
        let tax = if taxed { self.more("tax", at) } else { 1.0 };
        lines * self.more("contingency", at) * self.more("margin", at) * tax
    }

    /// A line's range: everything in it low, usual, high.
    pub fn line(&self, k: usize) -> Range {
        [At::Low, At::Usual, At::High].map(|all| self.line_at(k, &|_| all))
    }

    /// A group's price before tax, with its share of contingency and margin; none without lines of it.
    pub fn group(&self, group: Group) -> Option<Range> {
        let own: Vec<usize> = (0..self.lines.len()).filter(|&k| self.lines[k].group == group).collect();
        let price = [At::Low, At::Usual, At::High].map(|all| {
            let at = |_| all;
            own.iter().map(|&k| self.line_at(k, &at)).sum::<f64>()
                * self.more("contingency", &at)
                * self.more("margin", &at)
        });
        (!own.is_empty()).then_some(price)
    }

    /// Everything added up.
    pub fn totals(&self) -> Totals {
        let each = |f: Sum<'_>| [At::Low, At::Usual, At::High].map(|all| f(&move |_| all));
        let lines =
            |at: &dyn Fn(Source) -> At| (0..self.lines.len()).map(|k| self.line_at(k, at)).sum::<f64>();
        Totals {
            lines: each(&lines),
            with_contingency: each(&|at| lines(at) * self.more("contingency", at)),
            price: each(&|at| self.price_at(false, at)),
            likely: self.likely(false),
            taxed: each(&|at| self.price_at(true, at)),
            taxed_likely: self.likely(true),
        }
    }

    /// The usual price and what lies round it by the root of squares.
    fn likely(&self, taxed: bool) -> Range {
        let usual = self.price_at(taxed, &|_| At::Usual);
        let rates = (0..self.rates.rates.len()).map(Source::Rate);
        let quantities = (0..self.lines.len()).map(Source::Quantity);
        let mut squares = [0.0; 2];
        for source in rates.chain(quantities) {
            for (sum, to) in squares.iter_mut().zip([At::Low, At::High]) {
                let moved = self.price_at(taxed, &|s| if s == source { to } else { At::Usual });
                *sum += (moved - usual).powi(2);
            }
        }
        let [least, most] = [At::Low, At::High].map(|all| self.price_at(taxed, &|_| all));
        [(usual - squares[0].sqrt()).max(least), usual, (usual + squares[1].sqrt()).min(most)]
    }

    /// Rates that are used and were made up, in the order of the items.
    pub fn made_up(&self) -> Vec<&'static str> {
        let mut used: BTreeSet<&str> = ["contingency", "margin"].into();
        for factor in self.lines.iter().flat_map(|l| &l.factors) {
            let (Factor::Rate(name) | Factor::More(name)) = factor;
            used.insert(name);
        }
        let rates = self.rates.rates.iter().filter(|r| r.is_made_up() && r.range[2] > 0.0);
        rates.map(|r| r.item.name).filter(|name| used.contains(name)).collect()
    }
}
