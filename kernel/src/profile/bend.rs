//! Bend allowance: how much length a bend takes.
