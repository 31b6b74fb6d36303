//! A yard: the readings of its sheets as they were written down, before any of them is believed.

use super::Damage;
use crate::finding::Finding;

/// All sheets of one yard file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Yard {
    /// The file's name, for messages.
    pub file: String,
    /// Its sheets, in the order of their first rows.
    pub sheets: Vec<RawSheet>,
    /// What there is to say about the file itself.
    pub findings: Vec<Finding>,
    /// The profile of sheets that name none of their own, with the line that says so.
    pub profile: Option<(u64, String)>,
    /// Field of each of [`COLUMNS`] in the file, from 0.
    pub columns: [Option<usize>; 8],
}

impl Yard {
    /// The place of a reading in messages: `line 14, column 5 (across)`.
    pub fn place(&self, line: u64, column: &str) -> String {
        let field = COLUMNS.iter().position(|c| c.name == column).and_then(|k| self.columns[k]);
        match field {
            Some(field) => format!("line {line}, column {} ({column})", field + 1),
            None => format!("line {line}, column {column}"),
        }
    }
}

/// One sheet as it was written down. Lengths are mm.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RawSheet {
    /// As painted on it.
    pub name: String,
    /// Line of its first row.
    pub line: u64,
    /// Readings of its folds.
    pub readings: Vec<Reading>,
    /// Along the ribs; several are averaged.
    pub lengths: Vec<Measured>,
    /// Edge to edge, at distances along the sheet.
    pub widths: Vec<Measured>,
    /// Thickness readings.
    pub thicknesses: Vec<Measured>,
    /// Grade, or empty.
    pub grade: String,
    /// Notes, one after another, or empty.
    pub note: String,
    /// What cannot be used.
    pub damage: Vec<Damage>,
    /// Drawings of its cross-section, still to be read.
    pub traces: Vec<Trace>,
    /// The profile it was made to, in words, with the line that says so.
    pub profile: Option<(u64, String)>,
}

/// One reading of one fold at one station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Line of the file.
    pub line: u64,
    /// Distance along the sheet, mm.
    pub station: f64,
    /// Number of the fold, from 1 at the right-hand edge.
    pub fold: u32,
    /// Distance across from the right-hand edge, mm.
    pub across: Option<f64>,
    /// Depth under a straightedge laid over the crests, mm.
    pub depth: Option<f64>,
}

/// A single measured length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured {
    /// Line of the file.
    pub line: u64,
    /// Distance along the sheet, mm, if it was given.
    pub station: Option<f64>,
    /// The reading, mm.
    pub value: f64,
}

/// A drawing of the cross-section at one station.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// Line of the yard file that names it.
    pub line: u64,
    /// Distance along the sheet, mm.
    pub station: f64,
    /// Name of the SVG or DXF file.
    pub file: String,
}

/// One column of a yard file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct YardColumn {
    /// Its heading.
    pub name: &'static str,
    /// What stands in it.
    pub summary: &'static str,
}

/// The columns of a yard file. They may stand in any order; those that are not used may be left out.
pub const COLUMNS: [YardColumn; 8] = [
    YardColumn { name: "sheet", summary: "name of the sheet, as painted on it" },
    YardColumn { name: "what", summary: "what the row is about: one of the words below; blank means fold" },
    YardColumn { name: "station", summary: "distance along the sheet from its start end, mm" },
    YardColumn { name: "fold", summary: "number of the fold, counted from 1 at the right-hand edge" },
    YardColumn { name: "across", summary: "distance across from the right-hand edge, mm" },
    YardColumn {
        name: "depth",
        summary: "depth under a straightedge laid over the crests, mm; 0 on a crest",
    },
    YardColumn {
        name: "value",
        summary: "the reading of a length, width or thickness, mm; number of an outline",
    },
    YardColumn { name: "text", summary: "words: a grade, a note, what a damage is, the file of a trace" },
];

/// What a row of a yard file can be about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Row {
    /// A reading of a fold.
    Fold,
    /// The same fold at the same station, read once more.
    Again,
    /// The length of the sheet.
    Length,
    /// Its width at a station.
    Width,
    /// Its thickness.
    Thickness,
    /// Its grade.
    Grade,
    /// A note.
    Note,
    /// The profile it was made to.
    Profile,
    /// A corner of the outline of a damage.
    Damage,
    /// The file with a traced cross-section.
    Trace,
}

/// The words of the column `what`, with what the row needs.
pub const WORDS: [(&str, Row, &str); 13] = [
    ("fold", Row::Fold, "station, fold, and across or depth or both"),
    ("again", Row::Again, "the same once more, for a fold that was read twice"),
    ("length", Row::Length, "value"),
    ("width", Row::Width, "station, value: edge to edge"),
    ("thickness", Row::Thickness, "value, and station where it was read if wanted"),
    ("grade", Row::Grade, "text"),
    ("note", Row::Note, "text"),
    (
        "profile",
        Row::Profile,
        "text: the profile the sheet was made to, of all sheets where sheet is blank: trapezoid pitch=200 depth=40 …",
    ),
    (
        "hole",
        Row::Damage,
        "station, across: one row per corner, in order round it; value numbers the outlines",
    ),
    ("rust", Row::Damage, "as hole"),
    ("cut", Row::Damage, "as hole: an old cut"),
    ("damage", Row::Damage, "as hole: anything else, said in text"),
    ("trace", Row::Trace, "station, and in text the SVG or DXF file of the traced cross-section"),
];
