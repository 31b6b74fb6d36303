//! ribwright cli.
