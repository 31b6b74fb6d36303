//! Pieces: what is laid. A part is one piece, save closure strips that fall into several.

use crate::drawing::signed_area;
use crate::part::{Part, PartKind};
use crate::polygon::holds;
use crate::profile::Profile;
use crate::profile::symmetry::SAME_PROFILE;
use crate::stock::{Sheet, profile_words, same_profile};
use std::sync::Arc;

/// What a piece must be cut from.
#[derive(Debug, Clone, PartialEq)]
pub enum Need {
    /// Formed sheet; outlines are (s, t), along and across its ribs.
    Formed {
        /// The cross-section.
        profile: Arc<Profile>,
        /// A crest's centre line lies at this t, mm.
        phase: f64,
    },
    /// Flat sheet of this thickness, mm.
    Flat {
        /// Thickness, mm.
        thickness: f64,
    },
}

/// One connected outline with its holes.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// Index of its part.
    pub part: usize,
    /// The part's id, with a number where the part has several pieces.
    pub id: String,
    /// The outer outline, counter-clockwise, and its holes, mm.
    pub outlines: Vec<Vec<[f64; 2]>>,
    /// What it is cut from.
    pub need: Need,
}

impl Piece {
    /// Whether it is cut from formed sheet.
    pub fn is_formed(&self) -> bool {
        matches!(self.need, Need::Formed { .. })
    }

    /// Area, mm².
    pub fn area(&self) -> f64 {
        self.outlines.iter().map(|o| signed_area(o)).sum()
    }

    /// Whether it can be cut from this sheet.
    pub fn fits(&self, sheet: &Sheet) -> bool {
        match &self.need {
            Need::Formed { profile, .. } => same_profile(profile, &sheet.profile),
            Need::Flat { thickness } => {
                sheet.profile.is_flat() && (sheet.profile.thickness() - thickness).abs() <= SAME_PROFILE
            }
        }
    }

    /// What it needs, in words: `trapezoid 200 × 40, 2 mm`.
    pub fn need_words(&self) -> String {
        match &self.need {
            Need::Formed { profile, .. } => profile_words(profile),
            Need::Flat { thickness } => format!("flat, {thickness} mm"),
        }
    }
}

/// The pieces of parts as they lie on their faces: sheet parts for formed sheet, closure strips for flat.
pub fn pieces(parts: &[Part]) -> Vec<Piece> {
    let mut all = Vec::new();
    for (index, part) in parts.iter().enumerate() {
        let need = match &part.kind {
            PartKind::Sheet { profile, .. } if profile.is_flat() => {
                Need::Flat { thickness: profile.thickness() }
            }
            PartKind::Sheet { profile, phase, .. } => {
                Need::Formed { profile: profile.clone(), phase: *phase }
            }
            PartKind::Closure { thickness } => Need::Flat { thickness: *thickness },
        };
        // On a surveyed sheet what is cut lies where the sheet wanders to.
        let real = |outline: &Vec<[f64; 2]>| outline.iter().map(|p| part.seen_square(*p)).collect();
        let outlines: Vec<_> = part.outlines.iter().map(real).collect();
        all.extend(split(index, &part.id, &outlines, &need));
    }
    all
}

/// One piece for every outer outline, with the holes that lie in it.
pub(crate) fn split(part: usize, id: &str, outlines: &[Vec<[f64; 2]>], need: &Need) -> Vec<Piece> {
    let (outer, holes): (Vec<_>, Vec<_>) = outlines.iter().partition(|o| signed_area(o) > 0.0);
    let several = outer.len() > 1;
    let piece = |(number, outline): (usize, &Vec<[f64; 2]>)| Piece {
        part,
        id: if several { format!("{id} piece {}", number + 1) } else { id.to_owned() },
        outlines: std::iter::once(outline)
            .chain(
                holes.iter().copied().filter(|h| h.first().is_some_and(|&p| !several || holds(outline, p))),
            )
            .cloned()
            .collect(),
        need: need.clone(),
    };
    outer.into_iter().enumerate().map(piece).collect()
}
