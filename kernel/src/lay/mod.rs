//! Laying parts on sheets.

pub mod motion;
mod slabs;
