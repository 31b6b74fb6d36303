//! Process tests of the binary.
