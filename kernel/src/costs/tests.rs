//! Tests of rates and estimates; built with `#[cfg(test)]` only.
