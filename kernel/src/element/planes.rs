//! Solids from named planes.
