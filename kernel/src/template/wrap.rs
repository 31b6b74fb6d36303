//! The wrap template: developed along a skin, for card or vinyl that follows the ribs.

use super::flatten::{Layout, flatten, note};
use super::{Template, TemplateKind};
use crate::error::Result;
use crate::loft::Loft;
use crate::part::{Part, PartKind};
use crate::settings::{Setting, SettingKind, Values};

/// The registry row.
pub const ROW: TemplateKind = TemplateKind {
    name: "wrap",
    summary: "developed along a skin of the sheet: card or vinyl that is laid over the ribs",
    settings: &[Setting {
        name: "skin",
        summary: "the skin it is laid on",
        unit: "",
        kind: SettingKind::Choice { default: Some("outside"), of: &["outside", "middle", "inside"] },
    }],
    develop,
};

fn develop(part: &Part, values: &Values) -> Result<Template> {
    let skin = values.text("skin").unwrap_or("outside");
    let offset = part.thickness() / 2.0
        * match skin {
            "outside" => 1.0,
            "inside" => -1.0,
            _ => 0.0,
        };
    let across = |t: f64| match &part.kind {
        PartKind::Sheet { profile, .. } => profile.developed_at(t, offset),
        PartKind::Closure { .. } => t,
    };
    let loft = match &part.kind {
        PartKind::Sheet { wander: Some(wander), .. } => Some(Loft::new(wander, offset)),
        _ => None,
    };
    // The crest at the phase runs where it runs; from there on the card follows the ribs.
    let aside = |s: f64, t: f64| {
        loft.as_ref().map_or(0.0, |loft| loft.crest(s) + loft.girth(s, t, offset) - across(t))
    };
    Ok(flatten(
        part,
        &Layout {
            kind: ROW.name,
            note: note(part, &format!("WRAP, {skin} skin"), "this side out"),
            across: &across,
            aside: Some(&aside),
            bend_lines: false,
        },
    ))
}
