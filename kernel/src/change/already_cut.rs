//! Parts that are cut already: the maker's own list, and what a change would scrap of them.
//!
//! `cut.csv` has one row per part: its name and the day it was cut, which may be left out. A head `part,date`, empty rows
//! and rows that begin with `#` are allowed; fields are parted by commas, semicolons or tabs.

use super::compare::{Changes, Kind, PartChange};
use super::record::Record;
use crate::error::{Error, Result};
use crate::finding::{Finding, Level};
use crate::settings::unknown_name;
use crate::text::text_of;
use std::collections::{BTreeMap, BTreeSet};

/// Name of the list in the output folder; it is the maker's own file and stays from make to make.
pub const CUT_FILE: &str = "cut.csv";

/// One part that is cut already.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CutPart {
    /// Its name.
    pub part: String,
    /// The day it was cut, or empty.
    pub date: String,
}

/// Reads the list. A part that is named twice counts with its last row.
///
/// # Errors
/// Bytes that are no text, a row of more than two fields, or a date that is not written `2026-11-26`.
pub fn read_cut(bytes: &[u8]) -> Result<Vec<CutPart>> {
    let (text, _) = text_of(bytes).map_err(|e| e.at(CUT_FILE))?;
    let mut rows: BTreeMap<String, String> = BTreeMap::new();
    for (number, row) in (1..).zip(text.lines()) {
        let fields: Vec<&str> =
            row.split([',', ';', '\t']).map(|f| f.trim().trim_matches('"').trim()).collect();
        let (part, date) = (fields[0], fields.get(1).copied().unwrap_or_default());
        let head = part.eq_ignore_ascii_case("part") && !is_date(date);
        if part.starts_with('#') || head || fields.iter().all(|f| f.is_empty()) {
            continue;
        }
        let place = format!("{CUT_FILE}, line {number}");
        if part.is_empty() || fields.iter().skip(2).any(|f| !f.is_empty()) {
            return Err(Error::input(format!("{row:?} is not a part and a date"))
                .remedy("write the part's name and the day it was cut: A/east,2026-11-26")
                .at(place));
        }
        if !date.is_empty() && !is_date(date) {
            return Err(Error::input(format!("{date:?} is not a date"))
                .remedy("write year, month and day: 2026-11-26; or leave it out")
                .at(place));
        }
        rows.insert(part.to_owned(), date.to_owned());
    }
    Ok(rows.into_iter().map(|(part, date)| CutPart { part, date }).collect())
}

/// `2026-11-26`.
fn is_date(text: &str) -> bool {
    let numbers: Vec<Option<u32>> = text.split('-').map(|n| n.parse().ok()).collect();
    let plain = text.len() == 10 && text.bytes().all(|b| b.is_ascii_digit() || b == b'-');
    let [Some(year), Some(month @ 1..=12), Some(day @ 1..)] = numbers[..] else { return false };
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = match month {
        2 => 28 + u32::from(leap),
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    };
    plain && day <= days
}

/// What there is to say about parts that are cut already: an error for each that the changes would scrap, a warning
/// instead where `allowed` names the part or `all`. `old` is the make they were cut from, if there is one.
pub fn scrapped(
    cut: &[CutPart],
    old: Option<&Record>,
    new: &Record,
    changes: &Changes,
    allowed: &[String],
) -> Vec<Finding> {
    let now: BTreeSet<&str> = new.parts.iter().map(|p| p.id.as_str()).collect();
    let before: BTreeSet<&str> = old.iter().flat_map(|r| &r.parts).map(|p| p.id.as_str()).collect();
    let mut found: Vec<Finding> = cut
        .iter()
        .filter_map(|piece| match fate(piece, changes, &before, &now) {
            Fate::Stays => None,
            Fate::Unknown => Some(unknown(piece, &now)),
            Fate::NotCompared => Some(not_compared(piece)),
            Fate::Renamed(to) => Some(Finding::new(
                Level::Warning,
                "cut-part-renamed",
                piece.part.as_str(),
                format!("was cut{}; it is cut alike but called {to} now", on(piece)),
                format!("write {to} on it, and in {CUT_FILE}"),
            )),
            Fate::Scrap(why) => Some(scrap(piece, &why, allowed)),
        })
        .collect();
    // What was allowed and did not have to be.
    let scraps =
        |name: &str| found.iter().any(|f| f.code == "cut-again" && (name == "all" || f.place == name));
    let known = |name: &str| name == "all" || cut.iter().any(|piece| piece.part == name);
    let refused = still_scrapped(&found);
    let needless: Vec<Finding> = allowed
        .iter()
        .filter(|name| known(name) && !scraps(name))
        .map(|name| needless(name, &refused))
        .collect();
    found.extend(needless);
    found.extend(allowed.iter().filter(|name| !known(name)).map(|name| {
        Finding::new(
            Level::Warning,
            "not-cut",
            name.as_str(),
            format!("is allowed to be cut again, but {CUT_FILE} does not list it"),
            match cut {
                [] => format!("leave --allow-recut out, or list in {CUT_FILE} what is cut: parts that are not listed may change at any time"),
                listed => format!("check the name; parts that are not listed may change at any time; listed: {}", some(listed)),
            },
        )
    }));
    found
}

/// The first names of a list.
fn some(listed: &[CutPart]) -> String {
    const SOME: usize = 5;
    let mut names: Vec<&str> = listed.iter().take(SOME).map(|p| p.part.as_str()).collect();
    if listed.len() > SOME {
        names.push("…");
    }
    names.join(", ")
}

/// Parts that are an error because they would be scrapped and were not allowed.
fn still_scrapped(found: &[Finding]) -> Vec<String> {
    found.iter().filter(|f| f.code == "already-cut").map(|f| f.place.clone()).collect()
}

/// An allowance that nothing made use of.
fn needless(name: &str, scrapped: &[String]) -> Finding {
    let what = if name == "all" { format!("every part on {CUT_FILE}") } else { "it".to_owned() };
    let stays = "nothing that is cut of it changes, so it was not needed";
    let remedy = match scrapped {
        [] => "leave --allow-recut out: this make scraps no part that is cut".to_owned(),
        ids => format!("check the name; this make would scrap {}", ids.join(", ")),
    };
    // A note: `watch` keeps what was allowed from make to make.
    Finding::new(
        Level::Note,
        "recut-not-needed",
        name,
        format!("--allow-recut allows {what} to be cut again; {stays}"),
        remedy,
    )
}

/// What becomes of a piece of steel that is cut.
enum Fate {
    Stays,
    Renamed(String),
    Scrap(String),
    /// No make is there to compare with.
    NotCompared,
    /// Neither the make before nor this one has such a part.
    Unknown,
}

fn fate(piece: &CutPart, changes: &Changes, before: &BTreeSet<&str>, now: &BTreeSet<&str>) -> Fate {
    let id = piece.part.as_str();
    if !before.contains(id) {
        return match now.contains(id) {
            true if before.is_empty() => Fate::NotCompared,
            // Listed before it was ever made: a mistake in the list, or a part made anew under a known name.
            _ => Fate::Unknown,
        };
    }
    if let Some(heir) = changes.parts.iter().find(|p| p.was.as_deref() == Some(id)) {
        return Fate::Renamed(heir.id.clone());
    }
    let own = changes.parts.iter().find(|p| p.id == id);
    match own {
        Some(change) if change.kind == Kind::Changed => Fate::Scrap(change_words(change)),
        // Its name stands for another part now, and nothing is cut as it was.
        Some(change) if matches!(change.kind, Kind::New | Kind::Renamed) => {
            Fate::Scrap("no part is cut like it any more, and its name stands for another part".to_owned())
        }
        Some(change) if change.kind == Kind::Gone => Fate::Scrap("the work has it no more".to_owned()),
        _ => Fate::Stays,
    }
}

/// `its template changes by 12.3 mm; was of …`.
fn change_words(change: &PartChange) -> String {
    let by = change.changed_by_mm.map(|mm| format!("its template changes by {mm:.2} mm"));
    by.into_iter().chain(change.why.iter().cloned()).collect::<Vec<_>>().join("; ")
}

fn on(piece: &CutPart) -> String {
    if piece.date.is_empty() { String::new() } else { format!(" on {}", piece.date) }
}

fn scrap(piece: &CutPart, why: &str, allowed: &[String]) -> Finding {
    let id = piece.part.as_str();
    let cut = format!("was cut{}", on(piece));
    if allowed.iter().any(|name| name == "all" || name == id) {
        return Finding::new(
            Level::Warning,
            "cut-again",
            id,
            format!("{cut} and is scrapped, as was allowed: {why}"),
            format!("cut it again, and set its day in {CUT_FILE}; take the row out if the part is gone"),
        );
    }
    Finding::new(
        Level::Error,
        "already-cut",
        id,
        format!("{cut}, and this would scrap it: {why}"),
        format!("take the change back; or allow it to be cut again: --allow-recut {id}"),
    )
}

fn not_compared(piece: &CutPart) -> Finding {
    Finding::new(
        Level::Warning,
        "cut-not-compared",
        piece.part.as_str(),
        format!("was cut{}, but no make before this one is there to compare it with", on(piece)),
        "hold its template against the steel before you go on",
    )
}

fn unknown(piece: &CutPart, now: &BTreeSet<&str>) -> Finding {
    let id = piece.part.as_str();
    let near = unknown_name("part", id, now.iter().copied());
    let near = near.remedy_text().filter(|text| text.starts_with("did you mean")).map(str::to_owned);
    Finding::new(
        Level::Warning,
        "cut-part-unknown",
        id,
        format!("is listed in {CUT_FILE}, but the make before had no such part"),
        near.unwrap_or_else(|| format!("check the name, or take the row out of {CUT_FILE}")),
    )
}
