//! Wind.
