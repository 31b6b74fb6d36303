//! Why a piece found no place, and how much is missing.

use super::bed::{Bed, Item, Pose};
use super::piece::Piece;
use super::{Options, Sheet};
use crate::stock::profile_words;

/// A piece without a place.
#[derive(Debug, Clone, PartialEq)]
pub struct Unplaced {
    /// Index of the piece.
    pub piece: usize,
    /// Why, with what is missing, in mm or m².
    pub why: String,
    /// What to do.
    pub remedy: String,
}

/// No sheet is of what the piece is made of.
pub(crate) fn no_such_sheet(index: usize, piece: &Piece, sheets: &[Sheet]) -> Unplaced {
    let mut there: Vec<String> = sheets.iter().map(|s| profile_words(&s.profile)).collect();
    there.sort();
    there.dedup();
    let there = if there.is_empty() { "none".to_owned() } else { there.join("; ") };
    let need = piece.need_words();
    Unplaced {
        piece: index,
        why: format!("needs a sheet of {need}, and there is none (there are: {there})"),
        remedy: format!("add sheets of {need} to the lay"),
    }
}

/// What is missing on a bed: along and across, mm; both 0 where the piece fits if nothing else lies there.
fn missing(pose: &Pose, bed: &Bed, sheet: &Sheet, options: &Options) -> [f64; 2] {
    let long = bed.range(pose, 0, options);
    let wide = bed.range(pose, 1, options);
    let short = (long[0] - long[1]).max(0.0);
    let Some(line) = pose.line else { return [short, (wide[0] - wide[1]).max(0.0)] };
    // Among the places its crests allow, the one that reaches out least.
    let pitch = sheet.profile.pitch();
    let reach = ((pose.bounds[1][1] - pose.bounds[0][1]) / pitch).ceil();
    #[allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap, reason = "few ribs")]
    let (reach, last) = (reach as i64 + 1, sheet.crests.len() as i64);
    let out = (-reach..=last + reach)
        .filter_map(|rib| Some(sheet.crest(rib)? - line))
        .map(|y| (wide[0] - y).max(0.0) + (y - wide[1]).max(0.0))
        .fold(f64::INFINITY, f64::min);
    [short, if out.is_finite() { out } else { 0.0 }]
}

/// Why an item fits on none of the beds, or that they are full.
pub(crate) fn no_room(
    item: &Item,
    beds: &[Bed],
    sheets: &[Sheet],
    used: &[f64],
    options: &Options,
    free_when_empty: impl Fn(usize) -> bool,
) -> Unplaced {
    let mut best: Option<([f64; 2], usize)> = None;
    for (index, bed) in beds.iter().enumerate() {
        for pose in &item.poses {
            let found = missing(pose, bed, &sheets[bed.sheet], options);
            if best.is_none_or(|(b, _)| found[0] + found[1] < b[0] + b[1]) {
                best = Some((found, index));
            }
        }
    }
    let Some(([along, across], bed)) = best else {
        return Unplaced {
            piece: item.piece,
            why: "there is no sheet to cut it from".to_owned(),
            remedy: "add sheets to the lay".to_owned(),
        };
    };
    let sheet = &sheets[beds[bed].sheet];
    let margin = options.margin;
    if along > 0.0 || across > 0.0 {
        let mut short = Vec::new();
        if along > 0.0 {
            short.push(format!("{} mm too short", up(along)));
        }
        if across > 0.0 {
            let ribs = if sheet.profile.is_flat() { "" } else { " with its crests on the sheet's" };
            short.push(format!("{} mm too narrow{ribs}", up(across)));
        }
        return Unplaced {
            piece: item.piece,
            why: format!(
                "sheet {} ({} × {} mm) comes nearest and is {}, margins of {margin} mm counted",
                sheet.name,
                sheet.length,
                sheet.width,
                short.join(" and ")
            ),
            remedy: "split the face with `splices`, turn its ribs, shift its phase, or find a larger sheet"
                .to_owned(),
        };
    }
    if !(0..beds.len()).any(free_when_empty) {
        let misfit = options
            .misfit
            .map_or_else(String::new, |m| format!(" or its crests would be more than {m} mm off"));
        return Unplaced {
            piece: item.piece,
            why: format!("every sheet is large enough, but damage is in its way everywhere{misfit}"),
            remedy: "find a sounder sheet, mend the damage, or give a smaller `margin`".to_owned(),
        };
    }
    let area: f64 = beds.iter().map(|b| b.area).sum();
    let taken: f64 = used.iter().sum();
    let square_metres = |x: f64| format!("{:.2} m²", x / 1.0e6);
    Unplaced {
        piece: item.piece,
        why: format!(
            "all {} sheets of its kind are full: parts take {} of {}, and this one needs {} more in one piece",
            beds.len(),
            square_metres(taken),
            square_metres(area),
            square_metres(item.area)
        ),
        remedy: "add a sheet, allow `turn_over`, give a smaller `spacing`, or raise `tries`".to_owned(),
    }
}

/// Rounded up to a whole mm: what is missing must not read as nothing.
fn up(x: f64) -> f64 {
    x.ceil()
}
