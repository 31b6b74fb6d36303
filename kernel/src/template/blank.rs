//! The blank: developed on the neutral line of the bends, with bend lines: cut flat, then folded.
//!
//! How much length a bend takes is found by one of four rules (see [`Rule`]), whichever way it folds. Flats
//! keep their length, so the blank is the sum of its flats and its bends. A sharp fold (`bend_radius` 0) is
//! an ideal: it takes no length by any rule. A curve that is no bend between two flats (a sine) is rolled,
//! not bent on a brake: there the rule gives the place of the neutral line only.

use super::flatten::{Layout, flatten, note};
use super::{Template, TemplateKind};
use crate::error::{Error, Result};
use crate::part::{Part, PartKind};
use crate::profile::bend::{DeductionTable, HandbookMaterial, Rule};
use crate::profile::{Piece, Profile};
use crate::settings::{Setting, SettingKind, Values};

/// The registry row.
pub const ROW: TemplateKind = TemplateKind {
    name: "blank",
    summary: "developed on the neutral line, with bend lines: cut flat, then folded",
    settings: &[
        Setting {
            name: "rule",
            summary: "what says how much length a bend takes: `k_factor`, DIN 6935, the formulas of Machinery's \
                      Handbook, or the shop's own `table`",
            unit: "",
            kind: SettingKind::Choice {
                default: Some("k_factor"),
                of: &["k_factor", "din_6935", "handbook", "shop_table"],
            },
        },
        Setting {
            name: "k_factor",
            summary: "place of the neutral line from the inside (0) to the outside (1) of the thickness",
            unit: "",
            kind: SettingKind::Number { default: Some(0.5), min: 0.2, max: 0.5 },
        },
        Setting {
            name: "material",
            summary: "for the handbook: soft brass and copper; half-hard brass, soft steel and aluminium; or \
                      bronze, cold-rolled and spring steel",
            unit: "",
            kind: SettingKind::Choice {
                default: Some("soft_steel"),
                of: &["soft_brass", "soft_steel", "hard_steel"],
            },
        },
        Setting {
            name: "table",
            summary: "for the shop's table: rows [degrees the sheet turns, mm to take off the two outside legs], \
                      linear between rows, none outside them",
            unit: "degrees, mm",
            kind: SettingKind::Points,
        },
    ],
    develop,
};

/// The rule the settings of this template kind ask for.
///
/// # Errors
/// A shop's table without usable rows, or a table given to another rule.
pub fn rule(values: &Values) -> Result<Rule> {
    let word = values.text("rule").unwrap_or("k_factor");
    let table = values.points("table");
    if table.is_some() && word != "shop_table" {
        return Err(Error::input(format!("a table is given, but the rule is {word}"))
            .remedy("set rule: \"shop_table\", or take the table out")
            .at("table"));
    }
    Ok(match word {
        "din_6935" => Rule::Din6935,
        "handbook" => Rule::Handbook(match values.text("material") {
            Some("soft_brass") => HandbookMaterial::SoftBrass,
            Some("hard_steel") => HandbookMaterial::HardSteel,
            _ => HandbookMaterial::SoftSteel,
        }),
        "shop_table" => {
            Rule::Table(DeductionTable::new(table.unwrap_or_default()).map_err(|e| e.at("table"))?)
        }
        _ => Rule::KFactor(values.number("k_factor")),
    })
}

fn develop(part: &Part, values: &Values) -> Result<Template> {
    let rule = rule(values)?;
    let neutral = match &part.kind {
        PartKind::Sheet { profile, .. } => Some(Neutral::new(profile, &rule)?),
        PartKind::Closure { .. } => None,
    };
    let across = |t: f64| neutral.as_ref().map_or(t, |n| n.at(t));
    Ok(flatten(
        part,
        &Layout {
            kind: ROW.name,
            note: note(part, "BLANK", "this side out"),
            across: &across,
            // A sheet that is surveyed is formed already; its blank is that of the nominal one.
            aside: None,
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

/// For each piece of one pitch the length on the neutral line per length on the middle skin.
fn shares(profile: &Profile, rule: &Rule) -> Result<Vec<f64>> {
    let pieces = profile.pieces();
    let count = pieces.len();
    let thickness = profile.thickness();
    let bend = |i: usize| match pieces[i % count] {
        Piece::Bend { radius, turn } => Some((radius, turn)),
        Piece::Flat { .. } => None,
    };
    // Bends that follow each other without a flat between, round the end of the pitch; a wave has no flat.
    let Some(flat) = (0..count).find(|&i| bend(i).is_none()) else {
        return (0..count).map(|i| rolled(bend(i), thickness, rule)).collect();
    };
    let mut shares = vec![1.0; count];
    let mut i = flat + 1;
    while i < flat + count {
        let run = (i..flat + count).take_while(|&k| bend(k).is_some()).count();
        let radii: Vec<f64> = (i..i + run).filter_map(bend).map(|b| b.0).collect();
        let turn: f64 = (i..i + run).filter_map(bend).map(|b| b.1).sum();
        // The two halves of a bend at the crest have one radius: together they are one bend.
        let same = |r: f64| radii.iter().all(|&x| (x - r).abs() <= SAME_RADIUS * r);
        let one = radii.first().is_some_and(|&r| r > 0.0 && same(r)) && turn != 0.0;
        for k in i..i + run {
            shares[k % count] = if one {
                let radius = radii[0];
                let inside = (radius - thickness / 2.0).max(0.0);
                rule.allowance(turn.abs(), inside, thickness)? / (radius * turn.abs())
            } else {
                rolled(bend(k), thickness, rule)?
            };
        }
        i += run.max(1);
    }
    Ok(shares)
}

/// Radii that differ by less than this share are those of one bend.
const SAME_RADIUS: f64 = 1.0e-9;

fn rolled(bend: Option<(f64, f64)>, thickness: f64, rule: &Rule) -> Result<f64> {
    match bend {
        // A curve tighter than half the thickness has no inside radius: its middle skin is what there is.
        Some((radius, _)) if radius > thickness / 2.0 => {
            let inside = radius - thickness / 2.0;
            Ok((inside + rule.k_factor(inside, thickness)? * thickness) / radius)
        }
        _ => Ok(1.0),
    }
}

impl<'a> Neutral<'a> {
    fn new(profile: &'a Profile, rule: &Rule) -> Result<Self> {
        let shares = shares(profile, rule)?;
        let mut starts = vec![0.0];
        let mut sum = 0.0;
        for strip in profile.strips() {
            sum += (strip.w[1] - strip.w[0]) * shares[strip.piece];
            starts.push(sum);
        }
        Ok(Self { profile, starts })
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
