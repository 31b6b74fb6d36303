//! Findings: what the tool has to say about a work, each with a place and a remedy.

use serde::Serialize;

/// How serious a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// The work must not be built as it is; the command ends with exit code 1.
    Error,
    /// Worth a look before cutting.
    Warning,
    /// Good to know.
    Note,
}

/// A message about the work: level, code, place, message and remedy.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Finding {
    /// How serious it is.
    pub level: Level,
    /// A short fixed word to search and filter by, for instance `sliver`.
    pub code: String,
    /// The face, seam, part or element it is about.
    #[serde(rename = "where")]
    pub place: String,
    /// What was found, with its measure.
    pub message: String,
    /// What to do.
    pub remedy: String,
}

impl Finding {
    /// A finding; see the field documentation for the meaning of each text.
    pub fn new(
        level: Level,
        code: &str,
        place: impl Into<String>,
        message: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self {
            level,
            code: code.to_owned(),
            place: place.into(),
            message: message.into(),
            remedy: remedy.into(),
        }
    }
}
