//! The estimate as a client sees it: the work, a few groups with ranges, the price, and what it does not hold. No rates.

use super::{Estimate, Group, Range};
use crate::drawing::Drawing;

/// Its page: A4 (ISO 216), mm.
pub const PAGE: [f64; 2] = [210.0, 297.0];

/// A page for the client.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ClientSheet {
    /// Name of the work.
    pub work: String,
    /// For whom, from whom, when, as the script has it; headings and words.
    pub about: Vec<[String; 2]>,
    /// Size, mass and the like; headings and words.
    pub figures: Vec<[String; 2]>,
    /// The currency.
    pub currency: String,
    /// Groups in words with their price before tax, rounded: low, usual, high.
    pub groups: Vec<(&'static str, Range)>,
    /// Their sum.
    pub price: Range,
    /// Likely range of the price, rounded.
    pub likely: [f64; 2],
    /// Price with tax and its likely range, where there is tax: per cent, low, usual, high.
    pub taxed: Option<(f64, Range)>,
    /// What is not in it.
    pub without: Vec<String>,
    /// How it is to be read.
    pub remarks: Vec<String>,
    /// Why it must not be sent yet.
    pub draft: Option<String>,
    /// The work, hidden lines removed, and the size of its page, mm.
    pub picture: Option<(Drawing, [f64; 2])>,
    /// The whole page, 210 × 297 mm, (0, 0) at its lower left corner.
    pub page: Drawing,
}

/// Steps that prices are rounded to: the sum from which on, and the step.
const STEPS: [(f64, f64); 4] = [(20_000.0, 100.0), (2000.0, 10.0), (200.0, 1.0), (0.0, 0.1)];

/// The step that suits a sum.
pub fn step(sum: f64) -> f64 {
    STEPS.iter().find(|s| sum >= s.0).map_or(STEPS[3].1, |s| s.1)
}

/// Groups, price and likely range of an estimate, rounded so that the groups add up to the price.
pub fn rounded(estimate: &Estimate) -> (Vec<(&'static str, Range)>, Range, [f64; 2]) {
    let totals = estimate.totals();
    let step = step(totals.price[1]);
    let round = |x: f64| (x / step).round() * step;
    let groups: Vec<(&'static str, Range)> = Group::ALL
        .into_iter()
        .filter_map(|g| Some((g.words(), estimate.group(g)?.map(round))))
        .filter(|(_, range)| range[2] > 0.0)
        .collect();
    let price = groups.iter().fold([0.0; 3], |sum: Range, (_, g)| [0, 1, 2].map(|k| sum[k] + g[k]));
    (groups, price, [totals.likely[0], totals.likely[2]].map(round))
}

/// A price in words, thousands apart: `12 300`.
pub fn money(x: f64) -> String {
    let decimals = usize::from(x.abs() < STEPS[2].0 && x.fract().abs() > f64::EPSILON);
    let text = format!("{x:.decimals$}");
    let (whole, rest) =
        text.split_once('.').map_or((text.as_str(), String::new()), |(w, r)| (w, format!(".{r}")));
    let mut parts = Vec::new();
    let mut end = whole.len();
    while end > 3 {
        parts.push(&whole[end - 3..end]);
        end -= 3;
    }
    parts.push(&whole[..end]);
    parts.reverse();
    parts.join(" ") + &rest
}
