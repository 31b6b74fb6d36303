//! Lettering: single-stroke characters for marking.
