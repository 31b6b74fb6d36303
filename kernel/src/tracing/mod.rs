//! Faces of a maquette traced on paper or card: outlines become readings.
//!
//! [`read()`] takes outlines, names and ribs off drawings (the rule is in `names`), [`assemble()`] finds which edges meet
//! and appends what the tracings say to the [`Readings`]: distances between the corners of
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

use crate::error::Result;
use crate::maquette::Readings;

pub use assemble::{Assembly, TracedPoint, assemble};
pub use closing::{CornerClosing, EdgeClosing, Residuals, closing_csv};
pub use options::{Options, ROWS};
pub use outline::{Corner, corners};
pub use read::{TracedFace, Tracing, read};

/// Reads tracings and appends what they say to readings; the findings of both are in the assembly.
///
/// # Errors
/// As [`read()`] and [`assemble()`]; the readings are unchanged then.
pub fn trace(tracings: &[Tracing<'_>], options: &Options, readings: &mut Readings) -> Result<Assembly> {
    let known: Vec<String> = readings.faces.iter().map(|f| f.element.clone()).collect();
    let (faces, mut findings) = read(tracings, options, &known)?;
    let mut assembly = assemble(&faces, readings)?;
    findings.append(&mut assembly.findings);
    assembly.findings = findings;
    Ok(assembly)
}

#[cfg(test)]
mod drawings;
#[cfg(test)]
mod tests;
