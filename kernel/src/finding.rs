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
        let spelt = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-';
        debug_assert!(code.bytes().all(spelt), "{code}: small letters and hyphens");
        Self {
            level,
            code: code.to_owned(),
            place: place.into(),
            message: message.into(),
            remedy: remedy.into(),
        }
    }

    /// Whether it is about the work falling or sliding, or about a part of what carries, lifts or turns it.
    pub fn can_hurt(&self) -> bool {
        STANDING.contains(&self.code.as_str()) || STRENGTH.iter().any(|c| self.code.starts_with(c))
    }
}

/// Worst first, of one level what can hurt people before what only spoils sheet, else as they came.
pub fn by_weight<'f>(findings: impl IntoIterator<Item = &'f Finding>) -> Vec<&'f Finding> {
    let mut all: Vec<&Finding> = findings.into_iter().collect();
    all.sort_by_key(|f| (f.level, !f.can_hurt()));
    all
}

/// Codes of findings on whether the work stands.
pub(crate) const STANDING: [&str; 16] = [
    "topples",
    "anchors-needed",
    "no-foot",
    "thin-margin",
    "overhang",
    "in-the-air",
    "unsupported",
    "shared-load",
    "wind-topples",
    "push-topples",
    "wind-slides",
    "push-slides",
    "lean-margin",
    "wind-speed",
    "wind-assumed",
    "vortices",
];

/// Codes of findings on strength and on what moves begin so.
const STRENGTH: [&str; 6] = ["frame-", "spine-", "lift-", "base-", "coat-rig", "coat-open"];
