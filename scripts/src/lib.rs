//! ribwright scripts.
