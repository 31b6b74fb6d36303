//! `ribwright changes OLD NEW`: what changed from one made folder to another, so that only that is cut again.

use super::{Stop, read_bounded, show_stop};
use crate::args::Changes as Args;
use crate::console::{Console, DONE, plural};
use crate::folder::{Folder, Kept};
use rayon::prelude::*;
use ribwright_kernel::OutFile;
use ribwright_kernel::change::{Changes, FILE, Kind, PartChange, Record, changes, picture};
use ribwright_kernel::export::svg::{Fit, drawing_to_svg};
use serde_json::json;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// What an A4 page holds between its margins and above the scale bar, mm.
const PAGE: [f64; 2] = [190.0, 263.0];

/// Largest record read, bytes: some ten times that of the largest work that is worked out.
const LARGEST_RECORD: usize = 256 << 20;

/// Names in one line of the short list.
const IN_SHORT: usize = 8;

pub(crate) fn run(args: &Args, console: &mut Console<'_>) -> u8 {
    match compare(args) {
        Ok((found, pictures)) => {
            if args.json {
                console.json(&json!({ "done": true, "changes": found, "pictures": pictures }));
            } else {
                for line in lines(&found, usize::MAX) {
                    console.say(&line);
                }
                if let (Some(out), false) = (&args.out, pictures.is_empty()) {
                    console.say(&format!("wrote {} to {}", plural(pictures.len(), "picture"), out.display()));
                }
            }
            DONE
        }
        Err(stop) => show_stop(&stop, args.json, console),
    }
}

fn compare(args: &Args) -> Result<(Changes, Vec<String>), Stop> {
    let (old, new) = (read(&args.old)?, read(&args.new)?);
    let found = changes(&old, &new);
    let Some(out) = &args.out else { return Ok((found, Vec::new())) };
    let files = pictures(&old, &new, &found, "")?;
    let written = Folder::open(out)?.write(&files, Kept::ForeignOnly)?;
    Ok((found, written.files))
}

fn read(folder: &Path) -> Result<Record, Stop> {
    let path = folder.join(FILE);
    let bytes =
        read_bounded(&path, LARGEST_RECORD, "a folder that `ribwright make` has made, with all stages")?;
    Record::read(&bytes).map_err(|e| e.at(folder.display().to_string()).into())
}

/// One picture for every part that changed, in `folder`.
pub(super) fn pictures(
    old: &Record,
    new: &Record,
    found: &Changes,
    folder: &str,
) -> Result<Vec<OutFile>, Stop> {
    let by_id = |record: &Record| -> BTreeMap<String, usize> {
        record.parts.iter().enumerate().map(|(i, p)| (p.id.clone(), i)).collect()
    };
    let (before, after) = (by_id(old), by_id(new));
    let mut taken = BTreeSet::new();
    let mut wanted = Vec::new();
    for change in found.parts_of(Kind::Changed) {
        let (Some(&was), Some(&is)) = (before.get(&change.id), after.get(&change.id)) else { continue };
        wanted.push((change, was, is, stem(&change.id, &mut taken)));
    }
    wanted
        .into_par_iter()
        .map(|(change, was, is, stem)| {
            let drawing = picture(&old.parts[was], &new.parts[is], change);
            let text = drawing_to_svg(&drawing, Fit::Page(PAGE))?;
            Ok(OutFile { path: format!("{folder}{stem}.svg"), bytes: text.into_bytes() })
        })
        .collect()
}

/// A file stem that differs from all before it, also where upper and lower case do not.
fn stem(id: &str, taken: &mut BTreeSet<String>) -> String {
    let safe = |c: char| if c.is_ascii_alphanumeric() || c == '.' || c == '-' { c } else { '_' };
    let base: String = id.chars().map(safe).collect();
    let (mut stem, mut count) = (base.clone(), 1);
    while !taken.insert(stem.to_lowercase()) {
        count += 1;
        stem = format!("{base}-{count}");
    }
    stem
}

/// The changes as text, at most so many names to a line.
pub(super) fn lines(found: &Changes, most: usize) -> Vec<String> {
    let kept = found.as_they_were;
    if found.is_empty() {
        return vec![format!("nothing changed: {} as they were", plural(kept.parts, "part"))];
    }
    let mut all = Vec::new();
    let mut say = |title: &str, names: Vec<String>| {
        if names.is_empty() {
            return;
        }
        let rest = names.len().saturating_sub(most);
        let shown = names.len() - rest;
        let more = if rest > 0 { format!(" and {rest} more") } else { String::new() };
        all.push(format!("  {title:<16}{}{more}", names[..shown].join(", ")));
    };
    let parts = |kind: Kind, words: &dyn Fn(&PartChange) -> String| found.parts_of(kind).map(words).collect();
    say("cut again", parts(Kind::Changed, &changed_words));
    say("new parts", parts(Kind::New, &|p| p.id.clone()));
    say("gone parts", parts(Kind::Gone, &|p| p.id.clone()));
    say("renamed parts", parts(Kind::Renamed, &renamed_words));
    say("only moved", parts(Kind::Moved, &moved_words));
    let seams = |kind: Kind| found.seams.iter().filter(move |s| s.kind == kind);
    let seam_words = seams(Kind::Changed).map(|s| {
        let by = |pair: Option<[f64; 2]>| pair.map_or(0.0, |[a, b]| b - a);
        let joint = s.joint.as_ref().map(|[a, b]| format!("{a} → {b}"));
        // What rounds to nothing is left out.
        let said = |what: &str, by: f64| match format!("{by:+.2}").as_str() {
            "+0.00" | "-0.00" => None,
            text => Some(format!("{what} {text} mm")),
        };
        let words = [said("length", by(s.length_mm)), said("wobble", by(s.wobble_mm)), joint];
        format!("{} ({})", s.id, words.into_iter().flatten().collect::<Vec<_>>().join(", "))
    });
    say("changed seams", seam_words.collect());
    say("new seams", seams(Kind::New).map(|s| s.id.clone()).collect());
    say("gone seams", seams(Kind::Gone).map(|s| s.id.clone()).collect());
    let sheets = |kind: Kind| found.sheets.iter().filter(move |s| s.kind == kind);
    say(
        "changed sheets",
        sheets(Kind::Changed).map(|s| format!("{} ({})", s.name, s.parts.join(", "))).collect(),
    );
    say("new sheets", sheets(Kind::New).map(|s| s.name.clone()).collect());
    say("gone sheets", sheets(Kind::Gone).map(|s| s.name.clone()).collect());
    all.push(format!(
        "  as they were    {}, {}{}",
        plural(kept.parts, "part"),
        plural(kept.seams, "seam"),
        if kept.sheets > 0 { format!(", {}", plural(kept.sheets, "sheet")) } else { String::new() }
    ));
    all
}

/// The same for the end of a make.
pub(super) fn short_lines(found: &Changes) -> Vec<String> {
    lines(found, IN_SHORT)
}

fn changed_words(part: &PartChange) -> String {
    let by = part.changed_by_mm.map(|mm| format!("{mm:.2} mm"));
    let words: Vec<String> = by.into_iter().chain(part.why.iter().cloned()).collect();
    format!("{} ({})", part.id, words.join("; "))
}

fn renamed_words(part: &PartChange) -> String {
    format!("{} → {}", part.was.as_deref().unwrap_or_default(), part.id)
}

fn moved_words(part: &PartChange) -> String {
    let turned =
        part.turned_deg.filter(|d| *d >= 0.01).map(|d| format!(", turned {d:.2}°")).unwrap_or_default();
    format!("{} ({:.2} mm{turned})", part.id, part.moved_mm.unwrap_or_default())
}
