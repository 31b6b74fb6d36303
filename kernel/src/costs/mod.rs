//! Costs: rates from a file of the maker's, quantities from the work, and what comes of them with ranges.
//!
//! Nothing here knows a price: what the maker's file leaves out is a made-up figure that is marked as such.

pub mod estimate;
pub mod rates;
pub mod sheet;

#[cfg(test)]
mod tests;

pub use estimate::{Estimate, Factor, Group, Line, Quantity, Range, Totals};
pub use rates::{ITEMS, Item, Rate, Rates, Unit, rates_file, read_rates};
pub use sheet::ClientSheet;
