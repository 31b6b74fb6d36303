//! Works built through scripts.
