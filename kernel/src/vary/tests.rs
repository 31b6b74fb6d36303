//! Tests of variants, built with `#[cfg(test)]` only.
