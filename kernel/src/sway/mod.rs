//! Sway: a work as a spine that carries its elements; what that puts on the base, how far it moves, how it swings, how hard
//! the tube works, and the lightest tube that does.
//!
//! The model: the spine's axis as straight beams (`frame/`, with shear deformation and the inertia of turning sections);
//! every element one rigid body with all its masses, held on the spine as a stiff piece is held in two collars
//! (`frame::Span`). Two collars hold a piece in six ways and no more, so its weight and its wind come to the spine by
//! levers alone and **the spine is not stiffened between them**. Welding an element's two brackets hard to the tube, or
//! the seams of the cladding, would make the real work stiffer than this: the stiffness of the shell is left out,
//! unless a share of it is asked for (`shell.rs`). An element held in one place is fixed there in all six ways.
//!
//! What stands on an element that the spine does not pass moves with it. What stands on the ground by itself is not
//! carried. Wind on all that is seen goes to the spine.
//!
//! Preliminary: small deflections of first order (no P-Δ, no buckling), no local buckling of the tube's wall, no
//! fatigue, no welds, no damping. A licensed engineer and the local code decide.
//!
//! Units: mm, N, N·mm, MPa, kg, Hz. Directions are degrees counter-clockwise from +x.

mod axis;
mod carried;
mod cases;
mod figures;
mod lightest;
mod model;
mod options;
mod shell;

pub use axis::{Axis, Passed, passed};
pub use carried::{Carried, Piece};
pub use cases::{Case, Side};
pub use figures::{Figures, LegUse, Reaction, What};
pub use lightest::{Lightest, Tried, Verdict, lightest};
pub use model::Sway;
pub use options::{Attach, Foot, Options, STAGE, SWAY_ROWS};
