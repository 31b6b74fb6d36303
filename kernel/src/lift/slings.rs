//! Slings: angle factors, working load limits, and what hitch and edge take off them.
//!
//! Rows marked (M) are from memory and must be looked up before they are relied on; the others were read at
//! published copies of the tables. Entries are rounded to the standards' own series of numbers, so they are not
//! exact products.

use crate::error::{Error, Result};

/// Tension over vertical share of a leg at an angle to the horizontal, degrees: 1 / sin.
///
/// # Errors
/// An angle that is not above 0 and at most 90.
pub fn factor_to_horizontal(angle: f64) -> Result<f64> {
    if angle > 0.0 && angle <= 90.0 {
        return Ok(1.0 / angle.to_radians().sin());
    }
    Err(Error::input(format!("a leg at {angle} degrees to the horizontal carries nothing")).remedy(
        "give an angle above 0 and up to 90 degrees; check whether it was measured from the vertical",
    ))
}

/// The same at an angle from the vertical (β of the European standards), degrees: 1 / cos.
///
/// # Errors
/// An angle that is not at least 0 and below 90.
pub fn factor_from_vertical(angle: f64) -> Result<f64> {
    if (0.0..90.0).contains(&angle) {
        return Ok(1.0 / angle.to_radians().cos());
    }
    Err(Error::input(format!("a leg at {angle} degrees from the vertical carries nothing"))
        .remedy("give an angle from 0 to below 90 degrees; check whether it was measured to the horizontal"))
}

/// What slings are made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Grade 8 chain, EN 818-4.
    Chain,
    /// Steel-core wire rope with ferrules, EN 13414-1.
    Rope,
}

/// Words for [`Kind`] in scripts.
pub const KINDS: [&str; 2] = ["chain", "rope"];

impl Kind {
    /// From its word.
    pub fn of(word: &str) -> Self {
        if word == "rope" { Kind::Rope } else { Kind::Chain }
    }

    /// In words, with the standard.
    pub fn words(self) -> &'static str {
        match self {
            Kind::Chain => "grade 8 chain (EN 818-4)",
            Kind::Rope => "wire rope (EN 13414-1)",
        }
    }

    /// Its rows, by size.
    pub fn rows(self) -> &'static [Row] {
        match self {
            Kind::Chain => &CHAIN,
            Kind::Rope => &ROPE,
        }
    }

    /// Factors on the load limit of one leg: one leg, two legs (β to 45, to 60), three or four (to 45, to 60),
    /// endless.
    pub fn load_factors(self) -> [f64; 6] {
        match self {
            Kind::Chain => [1.0, 1.4, 1.0, 2.1, 1.5, 1.6],
            Kind::Rope => [1.0, 1.4, 1.0, 2.1, 1.5, 1.6],
        }
    }
}

/// Working load limits of one size, tonnes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// Nominal size, mm.
    pub size: f64,
    /// One leg; two legs to 45° and to 60° from the vertical; three or four legs to 45° and to 60°; endless.
    pub limits: [f64; 6],
    /// Whether the row is from memory.
    pub from_memory: bool,
}

const fn row(size: f64, limits: [f64; 6]) -> Row {
    Row { size, limits, from_memory: false }
}

const fn memory(size: f64, limits: [f64; 6]) -> Row {
    Row { size, limits, from_memory: true }
}

/// EN 818-4, grade 8.
const CHAIN: [Row; 6] = [
    memory(6.0, [1.12, 1.6, 1.12, 2.36, 1.7, 1.8]),
    row(8.0, [2.0, 2.8, 2.0, 4.25, 3.0, 3.15]),
    row(10.0, [3.15, 4.25, 3.15, 6.7, 4.75, 5.0]),
    row(13.0, [5.3, 7.5, 5.3, 11.2, 8.0, 8.5]),
    memory(16.0, [8.0, 11.2, 8.0, 17.0, 11.8, 12.5]),
    memory(20.0, [12.5, 17.0, 12.5, 26.5, 19.0, 20.0]),
];

/// EN 13414-1, steel core, table 4.
const ROPE: [Row; 4] = [
    row(10.0, [1.15, 1.6, 1.15, 2.4, 1.7, 1.85]),
    memory(12.0, [1.7, 2.3, 1.7, 3.55, 2.5, 2.7]),
    memory(16.0, [3.0, 4.2, 3.0, 6.3, 4.5, 4.8]),
    memory(20.0, [4.6, 6.5, 4.6, 9.8, 6.9, 7.35]),
];

/// Angles that were asked for come back within this, degrees.
const ROUNDING: f64 = 1.0e-6;

/// Greatest angle from the vertical at which the standards rate slings, degrees.
pub const STEEPEST: [f64; 2] = [45.0, 60.0];

impl Row {
    /// What a sling of so many legs may lift at an angle from the vertical by the uniform method, tonnes: four legs
    /// count as three at most; none beyond 60 degrees, or for other numbers of legs.
    pub fn limit(&self, legs: usize, from_vertical: f64) -> Option<f64> {
        let flat = match from_vertical {
            b if b <= STEEPEST[0] + ROUNDING => 0,
            b if b <= STEEPEST[1] + ROUNDING => 1,
            _ => return None,
        };
        match legs {
            1 => Some(self.limits[0]),
            2 => Some(self.limits[1 + flat]),
            3 | 4 => Some(self.limits[3 + flat]),
            _ => None,
        }
    }
}

/// How a sling takes hold, and over what.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Hitch {
    /// Choked round the piece: three quarters of a leg, for angles of choke of 120 degrees and more (published
    /// sling charts).
    pub choked: bool,
    /// Radius of the sharpest edge it is bent over, mm; none if it hangs free in an eye.
    pub edge: Option<f64>,
}

/// Share of a leg's limit that is left when choked.
pub const CHOKED: f64 = 0.75;

impl Hitch {
    /// The share of a leg's limit that is left for slings of a size, mm: over an edge 1 above twice the size, 0.7
    /// above the size, 0.5 at the size (published rigging guide). None where the edge is sharper: it must be padded.
    pub fn share(&self, size: f64) -> Option<f64> {
        let bent = match self.edge {
            None => 1.0,
            Some(r) if r > 2.0 * size => 1.0,
            Some(r) if r > size => 0.7,
            Some(r) if r >= size => 0.5,
            Some(_) => return None,
        };
        Some(bent * if self.choked { CHOKED } else { 1.0 })
    }
}

/// A sling chosen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sling {
    /// Its row.
    pub row: Row,
    /// Tension over what one leg may carry here.
    pub used: f64,
}

/// The smallest sling that carries a tension (kg of force) in its most loaded leg, and the whole load by the
/// uniform method.
///
/// # Errors
/// No size is large enough, or the edge is too sharp for any.
pub fn choose(
    kind: Kind,
    legs: usize,
    from_vertical: f64,
    tension: f64,
    load: f64,
    hitch: Hitch,
) -> Result<Sling> {
    let mut sharp = false;
    for &row in kind.rows() {
        let Some(share) = hitch.share(row.size) else {
            sharp = true;
            continue;
        };
        let (leg, all) = (row.limits[0] * 1000.0 * share, row.limit(legs, from_vertical));
        let Some(all) = all.map(|t| t * 1000.0 * share) else { break };
        if tension <= leg && load <= all {
            return Ok(Sling { row, used: tension / leg });
        }
    }
    let sharp = if sharp { "; the edge is sharper than the sling is thick" } else { "" };
    Err(Error::input(format!(
        "no {} listed carries {tension:.0} kg in one leg and {load:.0} kg in all at {from_vertical:.0} degrees from the \
         vertical{sharp}",
        kind.words()
    ))
    .remedy("use larger slings than are listed here, longer ones, or pad the edges"))
}
