//! What rust takes off a bare face over the years: D = r · tᵇ (ISO 9224, with b = 0.523 for carbon steel, from memory), r
//! the loss of the first year by category (ISO 9223 and ISO 12944-2, upper ends of the ranges for carbon steel).

/// Exponent for carbon steel (ISO 9224, from memory).
const EXPONENT: f64 = 0.523;

/// Categories with the greatest loss of the first year, µm.
pub const FIRST_YEAR: [(&str, f64); 5] =
    [("C1", 1.3), ("C2", 25.0), ("C3", 50.0), ("C4", 80.0), ("C5", 200.0)];

/// The words of the categories.
pub const CATEGORIES: [&str; 5] = ["C1", "C2", "C3", "C4", "C5"];

/// Loss of one face after some years, µm.
pub fn loss(first_year_um: f64, years: f64) -> f64 {
    first_year_um * years.powf(EXPONENT)
}

/// Greatest loss of the first year of a category, µm; none for a word that is no category.
pub fn first_year(category: &str) -> Option<f64> {
    FIRST_YEAR.iter().find(|(name, _)| *name == category).map(|c| c.1)
}
