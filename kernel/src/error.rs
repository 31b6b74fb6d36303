//! The one error of this crate: what is wrong, where, and what to do about it.

use std::fmt;

/// Whose fault it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum ErrorKind {
    /// What was given cannot be built; the message says what to change.
    Input,
    /// A promise of this crate was broken: a bug of ours, never of the user.
    Bug,
}

/// An error for people: the place, the fact with its bound, and the remedy.
///
/// Messages are lower case without a final stop, for instance
/// `profile: crest + valley = 210 mm is more than the pitch of 200 mm; make the crest or the valley narrower`.
#[derive(Debug, Clone, PartialEq)]
pub struct Error {
    kind: ErrorKind,
    place: Option<String>,
    message: String,
    remedy: Option<String>,
}

/// The result of everything in this crate that can fail.
pub type Result<T, E = Error> = std::result::Result<T, E>;

impl Error {
    /// An error in what was given.
    pub fn input(message: impl Into<String>) -> Self {
        Self { kind: ErrorKind::Input, place: None, message: message.into(), remedy: None }
    }

    /// A broken promise of this crate.
    pub fn bug(message: impl Into<String>) -> Self {
        Self { kind: ErrorKind::Bug, ..Self::input(message) }
    }

    /// Says where; an inner place is kept behind the outer one (`A: east`).
    #[must_use]
    pub fn at(mut self, place: impl Into<String>) -> Self {
        let place = place.into();
        self.place = Some(match self.place {
            Some(inner) => format!("{place}: {inner}"),
            None => place,
        });
        self
    }

    /// Says what to do.
    #[must_use]
    pub fn remedy(mut self, remedy: impl Into<String>) -> Self {
        self.remedy = Some(remedy.into());
        self
    }

    /// Whose fault it is.
    pub fn kind(&self) -> ErrorKind {
        self.kind
    }

    /// The face, element, setting or file it is about.
    pub fn place(&self) -> Option<&str> {
        self.place.as_deref()
    }

    /// What is wrong, with the value and its bound.
    pub fn message(&self) -> &str {
        &self.message
    }

    /// What to do about it.
    pub fn remedy_text(&self) -> Option<&str> {
        self.remedy.as_deref()
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(place) = &self.place {
            write!(f, "{place}: ")?;
        }
        f.write_str(&self.message)?;
        if let Some(remedy) = &self.remedy {
            write!(f, "; {remedy}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Error {}
