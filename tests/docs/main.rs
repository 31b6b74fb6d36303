//! Rules of the code base.
