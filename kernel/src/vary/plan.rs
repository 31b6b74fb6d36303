//! Which values of the choices are tried.
//!
//! A grid takes all combinations. Otherwise the points of a Halton sequence (J. H. Halton, "On the efficiency of certain
//! quasi-random sequences of points", Numerische Mathematik 2, 1960): coordinate j of point i is the radical inverse of i
//! in the j-th prime, moved round by a random share that depends on the seed (R. Cranley, T. Patterson, "Randomization
//! of number theoretic methods for multiple integration", 1976; both from memory). Such points lie more evenly than
//! random ones. In high primes they do so only after very many points, so choices beyond the twelfth are drawn at random.

use crate::choice::{Choice, Of, Pick, Picks};
use crate::error::{Error, Result};
use crate::random::Random;

/// Most variants that are tried at once.
pub const MOST_VARIANTS: usize = 1000;

/// Bases of the sequence.
const PRIMES: [u32; 12] = [2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37];

/// Points looked at for each one wanted: where choices are few, many points fall on the same values.
const PATIENCE: usize = 50;

/// How values are taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum How {
    /// All combinations; of ranges without steps and of seeds so many values.
    Grid {
        /// At least 1.
        levels: usize,
    },
    /// So many points, spread evenly; the values as they are now come first.
    Spread {
        /// At least 1.
        count: usize,
        /// Another seed gives other points.
        seed: u64,
    },
}

impl How {
    /// In words.
    pub fn words(&self) -> String {
        match self {
            How::Grid { levels } => {
                format!("all combinations; {levels} values of each range without steps and of each seed")
            }
            How::Spread { seed, .. } => {
                format!(
                    "as it is now, then points of a Halton sequence, seed {seed}; a seed of its own for each"
                )
            }
        }
    }
}

/// How many combinations a full grid has; `usize::MAX` if they cannot be counted.
pub fn combinations(choices: &[Choice], levels: usize) -> usize {
    choices.iter().map(|c| c.levels(levels).len()).fold(1, usize::saturating_mul)
}

/// The values to try, each combination once. `held` are values that do not change.
///
/// # Errors
/// More than [`MOST_VARIANTS`].
pub fn plan(choices: &[Choice], present: &Picks, held: &Picks, how: How) -> Result<Vec<Picks>> {
    let free: Vec<&Choice> = choices.iter().filter(|c| !held.contains_key(&c.name)).collect();
    let mut all = match how {
        How::Grid { levels } => grid(&free, levels)?,
        How::Spread { count, .. } if count > MOST_VARIANTS => {
            return Err(Error::input(format!("{count} variants are more than the {MOST_VARIANTS} allowed"))
                .remedy("try fewer, and hold some choices with --hold NAME"));
        }
        How::Spread { count, seed } => spread(&free, present, count, seed),
    };
    for picks in &mut all {
        picks.extend(held.clone());
    }
    Ok(all)
}

/// All combinations, those of the last choice next to each other.
fn grid(choices: &[&Choice], levels: usize) -> Result<Vec<Picks>> {
    let values: Vec<Vec<Pick>> = choices.iter().map(|c| c.levels(levels)).collect();
    let count = values.iter().map(Vec::len).fold(1, usize::saturating_mul);
    if count > MOST_VARIANTS {
        let sizes: Vec<String> =
            choices.iter().zip(&values).map(|(c, v)| format!("{} of {:?}", v.len(), c.name)).collect();
        return Err(Error::input(format!(
            "a grid of {} is more than the {MOST_VARIANTS} variants allowed",
            sizes.join(" × ")
        ))
        .remedy(
            "leave --grid out, take fewer --levels, wider steps, or hold some choices with --hold NAME",
        ));
    }
    let at = |mut index: usize| {
        let mut picks = Picks::new();
        for (choice, values) in choices.iter().zip(&values).rev() {
            picks.insert(choice.name.clone(), values[index % values.len()].clone());
            index /= values.len();
        }
        picks
    };
    Ok((0..count).map(at).collect())
}

/// The values as they are now, then points spread evenly.
fn spread(choices: &[&Choice], present: &Picks, count: usize, seed: u64) -> Vec<Picks> {
    let now = |c: &Choice| present.get(&c.name).unwrap_or(&c.usual).clone();
    let mut all: Vec<Picks> = vec![choices.iter().map(|c| (c.name.clone(), now(c))).collect()];
    let mut random = Random::new(seed);
    let moved: Vec<f64> = choices.iter().map(|_| random.share()).collect();
    for index in 1..=count.saturating_mul(PATIENCE) {
        if all.len() >= count {
            break;
        }
        let places = all.len();
        let mut dimension = 0;
        let mut picks = Picks::new();
        for (choice, moved) in choices.iter().zip(&moved) {
            let value = if choice.of == Of::Seed {
                choice.seed_at(places)
            } else {
                let own = match PRIMES.get(dimension) {
                    Some(&prime) => radical_inverse(index, prime),
                    None => random.share(),
                };
                dimension += 1;
                choice.share((own + moved).fract())
            };
            picks.insert(choice.name.clone(), value);
        }
        if !all.contains(&picks) {
            all.push(picks);
        }
    }
    all
}

/// The digits of a number in this base, written behind the point in reverse order.
pub(super) fn radical_inverse(mut index: usize, base: u32) -> f64 {
    let (mut sum, mut place) = (0.0, 1.0);
    while index > 0 {
        place /= f64::from(base);
        #[allow(clippy::cast_precision_loss, reason = "a digit")]
        let digit = (index % base as usize) as f64;
        sum += digit * place;
        index /= base as usize;
    }
    sum
}
