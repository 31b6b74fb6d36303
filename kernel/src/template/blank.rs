//! The blank: developed on the neutral line of the bends, with bend lines: cut flat, then folded.
//!
//! A bend takes angle × (inside radius + K × thickness) of length, whichever way it folds; K is the place
//! of the neutral line between the inside (0) and the outside (1). With K = 0.5 it is the middle skin.

use super::flatten::{Layout, flatten, note};
use super::{Template, TemplateKind};
use crate::error::Result;
use crate::part::{Part, PartKind};
use crate::profile::{Piece, Profile};
use crate::settings::{Setting, SettingKind, Values};

/// The registry row.
pub const ROW: TemplateKind = TemplateKind {
    name: "blank",
    summary: "developed on the neutral line, with bend lines: cut flat, then folded",
    settings: &[Setting {
        name: "k_factor",
        summary: "place of the neutral line from the inside (0) to the outside (1) of the thickness",
        unit: "",
        kind: SettingKind::Number { default: Some(0.5), min: 0.2, max: 0.5 },
    }],
    develop,
};

fn develop(part: &Part, values: &Values) -> Result<Template> {
    let neutral = match &part.kind {
        PartKind::Sheet { profile, .. } => Some(Neutral::new(profile, values.number("k_factor"))),
        PartKind::Closure { .. } => None,
    };
    let across = |t: f64| neutral.as_ref().map_or(t, |n| n.at(t));
    Ok(flatten(
        part,
        &Layout {
            kind: ROW.name,
            note: note(part, "BLANK", "this side out"),
            across: &across,
            bend_lines: true,
        },
    ))
}

/// The developed coordinate on the neutral line.
struct Neutral<'a> {
    profile: &'a Profile,
    /// Developed coordinate at the start of each strip, and at the end of the pitch.
    starts: Vec<f64>,
}

impl<'a> Neutral<'a> {
    fn new(profile: &'a Profile, k_factor: f64) -> Self {
        let mut starts = vec![0.0];
        let mut sum = 0.0;
        for strip in profile.strips() {
            let share = match profile.pieces()[strip.piece] {
                Piece::Bend { radius, .. } if radius > 0.0 => {
                    1.0 + (k_factor - 0.5) * profile.thickness() / radius
                }
                _ => 1.0,
            };
            sum += (strip.w[1] - strip.w[0]) * share;
            starts.push(sum);
        }
        Self { profile, starts }
    }

    fn at(&self, t: f64) -> f64 {
        let pitch = self.profile.pitch();
        let turns = (t / pitch).floor();
        let local = t - turns * pitch;
        let strips = self.profile.strips();
        let i = strips.partition_point(|s| s.t[1] <= local).min(strips.len() - 1);
        let share = (local - strips[i].t[0]) / (strips[i].t[1] - strips[i].t[0]);
        let width = self.starts[i + 1] - self.starts[i];
        turns * self.starts[strips.len()] + self.starts[i] + width * share
    }
}
