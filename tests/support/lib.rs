//! What several test binaries share: reference cases, random works, and the walk that checks a closed mesh.
//!
//! Nothing here is part of the product; the figures it compares come from outside of it.

pub mod adversary;
pub mod case;
pub mod closed;
pub mod compare;
pub mod maquettes;
pub mod marks;
pub mod random;
pub mod sound;
pub mod standing;
pub mod works;
pub mod yards;
pub mod yard;

pub use case::{Case, FaceCase, Reference, References, element, profile, references};
pub use closed::closed_volume;
pub use compare::{AGREEMENT, Differences, compare_with_reference, near};
pub use random::Random;
