//! What changed between two makes of a work: parts, seams and sheets that are new, gone, changed or only moved.
//!
//! Every make keeps a [`Record`] of what it made: the true outlines of all parts as they are cut, before any kerf.
//! Two records are enough to say which parts have to be cut again; no script is run for it.

mod already_cut;
mod compare;
mod outline;
mod picture;
mod record;
#[cfg(test)]
mod tests;

pub use already_cut::{CUT_FILE, CutPart, read_cut, scrapped};
pub use compare::{Changes, Kind, PartChange, SeamChange, SheetChange, changes};
pub use outline::ALIKE;
pub use picture::picture;
pub use record::{
    Bend, FILE, LaidRecord, PartRecord, PlaceRecord, Record, Ribs, SCHEMA, SeamRecord, SheetRecord,
};
