//! A sheet that is cut, with what lies on it: as tables, drawings and the job file show it.

use crate::drawing::Drawing;

/// A sheet that is cut, with the parts laid on it.
#[derive(Debug, Clone)]
pub struct CutSheet {
    /// Its name.
    pub name: String,
    /// File stem made from the name, unique among sheets.
    pub stem: String,
    /// Along and across, mm.
    pub size: [f64; 2],
    /// Profile in words.
    pub profile: String,
    /// Thickness, mm.
    pub thickness: f64,
    /// Crest lines from the right-hand edge, mm.
    pub crests: Vec<f64>,
    /// Damaged places, as (along, across), mm.
    pub damage: Vec<Vec<[f64; 2]>>,
    /// Share of its area that parts take.
    pub used: f64,
    /// What lies on it, in order along.
    pub parts: Vec<LaidPart>,
    /// Least and greatest (along, across) of what is worth keeping, mm.
    pub offcut: Option<[[f64; 2]; 2]>,
    /// Cuts and marks, x along, y across from the right-hand edge.
    pub drawing: Drawing,
}

/// A part, or a piece of one, on a sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct LaidPart {
    /// The piece's id.
    pub id: String,
    /// Least and greatest (along, across), mm.
    pub bounds: [[f64; 2]; 2],
    /// On formed sheet: the crest under its first crest line.
    pub rib: Option<i64>,
    /// Which way it lies, in words; empty as drawn.
    pub lies: String,
    /// Most that one of its crests lies beside the sheet's, mm.
    pub misfit: f64,
    /// By rows: what takes (s, t) of its outline to (along, across), before `at` is added.
    pub matrix: [[f64; 2]; 2],
    /// Where its (0, 0) lies, mm.
    pub at: [f64; 2],
}
