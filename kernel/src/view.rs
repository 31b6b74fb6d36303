//! Views: hidden-line pictures of the shell.
