//! Faces of a maquette traced on paper or card: outlines become readings.
//!
//! [`read()`] takes outlines, names and ribs off drawings (the rule is in `names`), [`assemble()`] finds which edges meet
//! and appends what the tracings say to the [`Readings`](crate::maquette::Readings): distances between the corners of
//! each face, which corners are one point, and which way is out. [`Assembly::residuals`] says how well the solved
//! points close.

mod assemble;
mod closing;
mod fold;
mod matching;
mod names;
mod options;
mod outline;
mod read;

pub use assemble::{Assembly, TracedPoint, assemble};
pub use closing::{CornerClosing, EdgeClosing, Residuals};
pub use options::{Options, ROWS};
pub use outline::{Corner, corners};
pub use read::{TracedFace, Tracing, read};

#[cfg(test)]
mod drawings;
#[cfg(test)]
mod tests;
