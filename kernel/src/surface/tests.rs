//! Tests of grades, films and the door; built with `#[cfg(test)]` only.
