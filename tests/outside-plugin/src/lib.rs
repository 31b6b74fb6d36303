//! A plug-in: one profile kind and one writer, added to the registry from another crate.
//!
//! Nothing in ribwright names this crate. Two rows and a `main` of one line make a binary whose scripts
//! know the new word and whose folders hold the new file.

mod cut_list;
mod fluted;

use ribwright_kernel::Registry;

/// The standard registry and the rows of this crate.
pub fn registry() -> Registry {
    let mut registry = Registry::standard();
    registry.profiles.push(fluted::ROW);
    registry.writers.push(cut_list::ROW);
    registry
}
