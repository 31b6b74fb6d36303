//! Two records compared: which parts, seams and sheets are new, gone, changed, renamed or only moved.

use super::outline::{ALIKE, Fit, fit, may_be_alike};
use super::record::{PartRecord, PlaceRecord, Record, SeamRecord, SheetRecord, bounds};
use nalgebra::{Matrix3, Vector3};
use rayon::prelude::*;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// What became of a part, a seam or a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// Another outline, other bends or another sheet: to be cut again.
    Changed,
    /// Was not there before.
    New,
    /// Is no longer there.
    Gone,
    /// Cut alike under another name.
    Renamed,
    /// Cut alike, but lies elsewhere in the work.
    Moved,
}

/// What became of one part.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PartChange {
    /// Its name now; of a part that is gone the name it had.
    pub id: String,
    /// What became of it.
    pub kind: Kind,
    /// The name it had, if that was another.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub was: Option<String>,
    /// How far the old and the new template lie apart when laid on each other, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub changed_by_mm: Option<f64>,
    /// What else makes it another part, in words.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub why: Vec<String>,
    /// How far its middle moved in the work, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub moved_mm: Option<f64>,
    /// How far it turned in the work, degrees.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub turned_deg: Option<f64>,
    /// Added to the old drawing so that it lies on the new one, mm.
    pub laid_mm: [f64; 2],
}

/// What became of one seam; pairs are before and after.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SeamChange {
    /// Its name now; of a seam that is gone the name it had.
    pub id: String,
    /// What became of it.
    pub kind: Kind,
    /// The name it had, if that was another.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub was: Option<String>,
    /// Its length, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_mm: Option<[f64; 2]>,
    /// Greatest distance from the nominal edge line, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wobble_mm: Option<[f64; 2]>,
    /// How it is cut, where that changed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub joint: Option<[String; 2]>,
}

/// What became of one sheet that is cut.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SheetChange {
    /// Its name.
    pub name: String,
    /// What became of it.
    pub kind: Kind,
    /// Parts that came, went, changed or lie elsewhere on it.
    pub parts: Vec<String>,
}

/// How many are as they were.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct AsTheyWere {
    /// Parts.
    pub parts: usize,
    /// Seams.
    pub seams: usize,
    /// Sheets.
    pub sheets: usize,
}

/// What changed from one make to the next, in the order of [`Kind`] and then of the names.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Changes {
    /// Parts.
    pub parts: Vec<PartChange>,
    /// Seams.
    pub seams: Vec<SeamChange>,
    /// Sheets.
    pub sheets: Vec<SheetChange>,
    /// What is not listed.
    pub as_they_were: AsTheyWere,
}

impl Changes {
    /// Whether nothing changed at all.
    pub fn is_empty(&self) -> bool {
        self.parts.is_empty() && self.seams.is_empty() && self.sheets.is_empty()
    }

    /// Parts of one kind.
    pub fn parts_of(&self, kind: Kind) -> impl Iterator<Item = &PartChange> {
        self.parts.iter().filter(move |p| p.kind == kind)
    }
}

/// Compares two makes.
///
/// # Tolerance
/// Parts, seams and places that agree to [`ALIKE`] are as they were.
pub fn changes(old: &Record, new: &Record) -> Changes {
    let parts = compare_parts(old, new);
    let renamed: BTreeMap<&str, &str> = parts
        .iter()
        .filter_map(|p| Some((p.was.as_deref()?, p.id.as_str())))
        .filter_map(|(was, is)| Some((face_of(old, was)?, face_of(new, is)?)))
        .collect();
    let seams = compare_seams(old, new, &renamed);
    let sheets = compare_sheets(old, new, &parts);
    let kept =
        |all: usize, kinds: &mut dyn Iterator<Item = Kind>| all - kinds.filter(|k| *k != Kind::Gone).count();
    let as_they_were = AsTheyWere {
        parts: kept(new.parts.len(), &mut parts.iter().map(|p| p.kind)),
        seams: kept(new.seams.len(), &mut seams.iter().map(|s| s.kind)),
        sheets: kept(new.sheets.len(), &mut sheets.iter().map(|s| s.kind)),
    };
    Changes { parts, seams, sheets, as_they_were }
}

fn face_of<'a>(record: &'a Record, id: &str) -> Option<&'a str> {
    record.parts.iter().find(|p| p.id == id).map(|p| p.face.as_str())
}

fn compare_parts(old: &Record, new: &Record) -> Vec<PartChange> {
    let before: BTreeMap<&str, &PartRecord> = old.parts.iter().map(|p| (p.id.as_str(), p)).collect();
    let after: BTreeSet<&str> = new.parts.iter().map(|p| p.id.as_str()).collect();
    let same_name: Vec<Option<PartChange>> =
        new.parts.par_iter().map(|is| before.get(is.id.as_str()).map(|was| pair(was, is))).collect();
    let mut found = Vec::new();
    // What may go under another name: old parts whose name is gone or stands for another part now, and new ones
    // likewise.
    let mut homeless: Vec<&PartRecord> =
        old.parts.iter().filter(|p| !after.contains(p.id.as_str())).collect();
    let mut strangers: Vec<(&PartRecord, Option<PartChange>)> = Vec::new();
    for (is, change) in new.parts.iter().zip(same_name) {
        match change {
            None => strangers.push((is, None)),
            Some(change) if change.kind == Kind::Changed && change.why.is_empty() => {
                homeless.extend(before.get(is.id.as_str()));
                strangers.push((is, Some(change)));
            }
            Some(change) => found.push(change),
        }
    }
    let twins = twins(&homeless, &strangers, &before);
    let mut settled = BTreeSet::new();
    for (k, (is, change)) in strangers.into_iter().enumerate() {
        if let Some(&h) = twins.get(&k) {
            let was = homeless[h];
            settled.insert(was.id.as_str());
            let mut change = pair(was, is);
            change.kind = Kind::Renamed;
            change.was = Some(was.id.clone());
            found.push(change);
        } else if let Some(change) = change {
            found.push(change);
        } else {
            found.push(PartChange::plain(&is.id, Kind::New));
        }
    }
    // A name that lives on stands for its own part, whatever became of the old one.
    found.extend(
        homeless
            .iter()
            .filter(|p| !settled.contains(p.id.as_str()) && !after.contains(p.id.as_str()))
            .map(|p| PartChange::plain(&p.id, Kind::Gone)),
    );
    found.retain(|p| p.kind != Kind::Moved || p.moved_mm.is_some() || p.turned_deg.is_some());
    found.sort_by(|a, b| (a.kind, &a.id).cmp(&(b.kind, &b.id)));
    found
}

/// For strangers (by index) the part without a home that is cut alike, the nearest in the work first.
///
/// A part whose name lives on counts only at the very place it had: there the name has changed. Elsewhere two parts that
/// happen to be alike would seem to swap names.
fn twins(
    homeless: &[&PartRecord],
    strangers: &[(&PartRecord, Option<PartChange>)],
    before: &BTreeMap<&str, &PartRecord>,
) -> BTreeMap<usize, usize> {
    let after: BTreeSet<&str> = strangers.iter().map(|(p, _)| p.id.as_str()).collect();
    let pairs: Vec<(usize, usize)> = (0..strangers.len())
        .flat_map(|k| (0..homeless.len()).map(move |h| (k, h)))
        .filter(|&(k, h)| {
            let (is, was) = (strangers[k].0, homeless[h]);
            is.id != was.id && is.kind == was.kind && may_be_alike(was, is)
        })
        .collect();
    let mut alike: Vec<(f64, usize, usize)> = pairs
        .into_par_iter()
        .filter_map(|(k, h)| {
            let (is, was) = (strangers[k].0, homeless[h]);
            let change = pair(was, is);
            let name_lives_on = before.contains_key(is.id.as_str()) || after.contains(was.id.as_str());
            let off = change.moved_mm.unwrap_or(0.0) + change.turned_deg.unwrap_or(0.0);
            (change.kind != Kind::Changed && (!name_lives_on || off == 0.0)).then_some((off, k, h))
        })
        .collect();
    alike.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let (mut by_stranger, mut taken) = (BTreeMap::new(), BTreeSet::new());
    for (_, k, h) in alike {
        if !by_stranger.contains_key(&k) && taken.insert(h) {
            by_stranger.insert(k, h);
        }
    }
    by_stranger
}

impl PartChange {
    fn plain(id: &str, kind: Kind) -> Self {
        Self {
            id: id.to_owned(),
            kind,
            was: None,
            changed_by_mm: None,
            why: Vec::new(),
            moved_mm: None,
            turned_deg: None,
            laid_mm: [0.0; 2],
        }
    }
}

/// What became of a part whose partner is known. One that is as it was comes out as moved by nothing.
fn pair(old: &PartRecord, new: &PartRecord) -> PartChange {
    let Fit { shift, outlines, bends } = fit(old, new);
    let mut why = Vec::new();
    if old.kind != new.kind {
        why.push(format!("was a {}, is a {}", kind_words(&old.kind), kind_words(&new.kind)));
    }
    if old.sheet != new.sheet {
        why.push(format!("was of {}, is of {}", old.sheet, new.sheet));
    }
    if old.surveyed_sheet != new.surveyed_sheet {
        let name = |sheet: &Option<String>| match sheet {
            Some(sheet) => format!("sheet {sheet}"),
            None => "no surveyed sheet".to_owned(),
        };
        why.push(format!(
            "was cut from {}, is cut from {}",
            name(&old.surveyed_sheet),
            name(&new.surveyed_sheet)
        ));
    }
    if bends.is_infinite() {
        why.push("bends of another angle or radius".to_owned());
    }
    let by = if bends.is_finite() { outlines.max(bends) } else { outlines };
    let mut change = PartChange::plain(&new.id, Kind::Moved);
    change.laid_mm = shift;
    if by > ALIKE || !why.is_empty() {
        change.kind = Kind::Changed;
        change.changed_by_mm = by.is_finite().then_some(by);
        change.why = why;
    } else if let (Some(a), Some(b)) = (&old.place, &new.place) {
        let [lo, hi] = bounds(&new.outlines_mm);
        let reach = (hi[0] - lo[0]).hypot(hi[1] - lo[1]) / 2.0;
        let moved = (Vector3::from(b.at_mm) - Vector3::from(a.at_mm)).norm();
        let turned = angle_between(a, b);
        if moved > ALIKE || turned * reach > ALIKE {
            change.moved_mm = Some(moved);
            change.turned_deg = Some(turned.to_degrees());
        }
    }
    change
}

fn kind_words(kind: &str) -> &str {
    match kind {
        "sheet" => "piece of sheet",
        "closure" => "closure strip",
        _ => "flat piece",
    }
}

/// The angle of the turn from one place to the other, radians.
fn angle_between(a: &PlaceRecord, b: &PlaceRecord) -> f64 {
    let frame = |p: &PlaceRecord| {
        let (u, n) = (Vector3::from(p.along), Vector3::from(p.outward));
        Matrix3::from_columns(&[u, n.cross(&u), n])
    };
    // The Frobenius norm of the difference of two rotations is 2 √2 sin(angle / 2): exact for small turns too.
    let half = (frame(a) - frame(b)).norm() / 8.0_f64.sqrt();
    2.0 * half.min(1.0).asin()
}

fn compare_seams(old: &Record, new: &Record, renamed: &BTreeMap<&str, &str>) -> Vec<SeamChange> {
    let mut before: BTreeMap<&str, &SeamRecord> = old.seams.iter().map(|s| (s.id.as_str(), s)).collect();
    // Under the name it would bear now, where its faces are called something else.
    let after: BTreeSet<&str> = new.seams.iter().map(|s| s.id.as_str()).collect();
    let by_new_name: BTreeMap<[&str; 2], &SeamRecord> = old
        .seams
        .iter()
        .filter(|s| !after.contains(s.id.as_str()))
        .map(|s| {
            let mut faces = [0, 1].map(|i| {
                let face = s.between[i].as_str();
                renamed.get(face).copied().unwrap_or(face)
            });
            faces.sort_unstable();
            (faces, s)
        })
        .collect();
    let mut found = Vec::new();
    for is in &new.seams {
        let mut faces = [is.between[0].as_str(), is.between[1].as_str()];
        faces.sort_unstable();
        let named = before.remove(is.id.as_str());
        let was = named.or_else(|| by_new_name.get(&faces).and_then(|s| before.remove(s.id.as_str())));
        let Some(was) = was else {
            found.push(SeamChange::plain(&is.id, Kind::New));
            continue;
        };
        let apart = (was.length_mm - is.length_mm).abs().max((was.wobble_mm - is.wobble_mm).abs());
        let changed = apart > ALIKE || was.joint != is.joint;
        if changed || was.id != is.id {
            found.push(SeamChange {
                kind: if changed { Kind::Changed } else { Kind::Renamed },
                was: (was.id != is.id).then(|| was.id.clone()),
                length_mm: Some([was.length_mm, is.length_mm]),
                wobble_mm: Some([was.wobble_mm, is.wobble_mm]),
                joint: (was.joint != is.joint).then(|| [was.joint.clone(), is.joint.clone()]),
                ..SeamChange::plain(&is.id, Kind::Changed)
            });
        }
    }
    found.extend(before.keys().map(|id| SeamChange::plain(id, Kind::Gone)));
    found.sort_by(|a, b| (a.kind, &a.id).cmp(&(b.kind, &b.id)));
    found
}

impl SeamChange {
    fn plain(id: &str, kind: Kind) -> Self {
        Self { id: id.to_owned(), kind, was: None, length_mm: None, wobble_mm: None, joint: None }
    }
}

fn compare_sheets(old: &Record, new: &Record, parts: &[PartChange]) -> Vec<SheetChange> {
    let recut: BTreeSet<&str> =
        parts.iter().filter(|p| p.kind == Kind::Changed).map(|p| p.id.as_str()).collect();
    let mut before: BTreeMap<&str, &SheetRecord> = old.sheets.iter().map(|s| (s.name.as_str(), s)).collect();
    let ids = |sheet: &SheetRecord| sheet.parts.iter().map(|p| p.id.clone()).collect::<Vec<_>>();
    let mut found = Vec::new();
    for is in &new.sheets {
        let Some(was) = before.remove(is.name.as_str()) else {
            found.push(SheetChange { name: is.name.clone(), kind: Kind::New, parts: ids(is) });
            continue;
        };
        let lay: BTreeMap<&str, _> = was.parts.iter().map(|p| (p.id.as_str(), p)).collect();
        let stays = |id: &str| is.parts.iter().any(|p| p.id == id);
        let mut touched: Vec<String> =
            was.parts.iter().map(|p| &p.id).filter(|id| !stays(id)).cloned().collect();
        for p in &is.parts {
            let as_it_lay = lay.get(p.id.as_str()).is_some_and(|q| {
                let (a, b) = (p.bounds_mm.as_flattened(), q.bounds_mm.as_flattened());
                p.lies == q.lies && a.iter().zip(b).all(|(x, y)| (x - y).abs() <= ALIKE)
            });
            if !as_it_lay || recut.iter().any(|id| is_piece_of(&p.id, id)) {
                touched.push(p.id.clone());
            }
        }
        if !touched.is_empty() {
            found.push(SheetChange { name: is.name.clone(), kind: Kind::Changed, parts: touched });
        }
    }
    found.extend(before.values().map(|s| SheetChange {
        name: s.name.clone(),
        kind: Kind::Gone,
        parts: ids(s),
    }));
    found.sort_by(|a, b| (a.kind, &a.name).cmp(&(b.kind, &b.name)));
    found
}

/// Whether what lies on a sheet is this part, or one of the pieces of a closure strip in several (`… piece 2`).
fn is_piece_of(piece: &str, part: &str) -> bool {
    piece.strip_prefix(part).is_some_and(|rest| rest.is_empty() || rest.starts_with(" piece "))
}
