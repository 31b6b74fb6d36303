//! Works cut for the sheets there are: parts are laid once as nominal, then each face is clad in the very sheet,
//! at the very place, its part lies on, and the work is worked out again.

use crate::best_fit::{best_fit, laid, largest};
use crate::drawing::{Layer, Path};
use crate::error::{Error, Result};
use crate::finding::{Finding, Level};
use crate::joint::Joined;
use crate::lay::{
    self, LITTLE, Layout, Need, OnSheets, Options, Piece, Pin, Placement, Unplaced, apart, bounds, clear,
    lay, offcuts, pieces,
};
use crate::memo::Memo;
use crate::process::{self, Process};
use crate::region::{Combine, Outline, Region};
use crate::registry::Registry;
use crate::sculpture::Sculpture;
use crate::settings::{Value, Values, unknown_name};
use crate::solve::solve;
use crate::stock::Stock;
use crate::survey::{Laid, SurveyedSheet};
use crate::work::Work;
use std::collections::{BTreeMap, BTreeSet};

/// Works out a sculpture: phases, trim, seams, parts and findings. Where its parts are laid on surveyed sheets, they
/// are cut for these.
///
/// # Errors
/// What cannot be built at all; what can be built but should not is an error finding in the result.
pub fn work_out(sculpture: &Sculpture, registry: &Registry) -> Result<Work> {
    work_out_with(sculpture, registry, &Memo::default())
}

/// The same, with a memo of the makes before it, which begins anew.
///
/// # Errors
/// As [`work_out`].
pub fn work_out_with(sculpture: &Sculpture, registry: &Registry, memo: &Memo) -> Result<Work> {
    memo.begin();
    if sculpture.laying.is_some() {
        let by_hand = sculpture.elements.iter().find_map(|element| {
            let mut faces = element.solid.faces.iter().zip(&element.cladding);
            let (face, _) = faces.find(|(_, cladding)| cladding.sheet.is_some())?;
            Some(format!("{}/{}", element.solid.name, face.label))
        });
        if let Some(face) = by_hand {
            return Err(Error::input(
                "this face is clad in a sheet by `lay_on`, and `lay` would lay its part elsewhere",
            )
            .at(face)
            .remedy(
                "leave `lay_on` out and give `lay` a pin: pins: [#{ part: …, sheet: …, along: …, rib: … }]",
            ));
        }
    }
    crate::effort::check(sculpture)?;
    let placed = crate::balance::lean::place(sculpture, registry)?;
    let mut work = solve(&placed, registry, memo)?;
    let Some(first) = lay_first(&work)? else {
        crate::water::drains::cut_in(&mut work)?;
        let found = off_sheet(&work);
        work.findings.extend(found);
        let found = share_sheet(&work);
        work.findings.extend(found);
        work.findings.sort();
        return Ok(work);
    };
    let mut cut = solve(&clad_in_sheets(&work, &first), registry, memo)?;
    crate::water::drains::cut_in(&mut cut)?;
    // What searches found out is said once.
    cut.sculpture.notes.clone_from(&work.sculpture.notes);
    let mut findings = Vec::new();
    cut.on_sheets = Some(carried_over(&first, &cut, &mut findings)?);
    cut.findings.extend(findings);
    cut.findings.sort();
    Ok(cut)
}

/// Lays the parts of a work if that has to be known before its parts are: on surveyed sheets, unless the script
/// wants nominal templates.
///
/// # Errors
/// As [`lay()`].
pub(crate) fn lay_first(work: &Work) -> Result<Option<OnSheets>> {
    let Some(laying) = &work.sculpture.laying else { return Ok(None) };
    let values = Values::check("lay", lay::ROWS, &laying.settings)?;
    let surveyed = laying.stock.iter().any(|s| matches!(s, Stock::Surveyed(_)));
    if !surveyed || !values.flag("for_sheets") || lay::from_flat(&values) {
        return Ok(None);
    }
    for name in &laying.crests_across {
        if !work.seams.iter().any(|s| s.id == *name) {
            let seams = work.seams.iter().map(|s| s.id.as_str());
            return Err(unknown_name("seam", name, seams).at("lay: crests_across"));
        }
    }
    let pieces = pieces(&work.parts);
    let pins = laying.pins.iter().map(Pin::new).collect::<Result<Vec<_>>>()?;
    let options = Options::new(&values);
    let allowance = values.number("allowance");
    let roomy =
        Options { spacing: options.spacing + allowance, margin: options.margin + allowance, ..options };
    // A pin may leave no more room than was asked for.
    let layout = lay(&pieces, &laying.stock, &pins, &roomy)
        .or_else(|_| lay(&pieces, &laying.stock, &pins, &options))?;
    let mut first = OnSheets { pieces, layout, best_fit: None };
    if values.flag("best_fit") {
        best_fit(work, &mut first, &laying.stock, &roomy);
    }
    Ok(Some(first))
}

/// Faces that are spliced of several sheets: each piece keeps its nominal template, for no one sheet clads them.
fn spliced(work: &Work) -> BTreeSet<&str> {
    let splices = work.seams.iter().filter(|s| s.joint == Joined::Splice);
    splices.map(|s| work.faces[s.between[0]].id.as_str()).collect()
}

/// The work with each face clad in the sheet that its largest part lies on, if that was surveyed.
pub(crate) fn clad_in_sheets(work: &Work, on: &OnSheets) -> Sculpture {
    let (largest, spliced) = (largest(work, on), spliced(work));
    let stock = work.sculpture.laying.as_ref().map_or(&[][..], |l| &l.stock);
    let mut sculpture = work.sculpture.clone();
    // Phases were found before parts were laid; searched for again they would slide sheets under their parts.
    sculpture.searches.clear();
    for element in &mut sculpture.elements {
        for (face, cladding) in element.solid.faces.iter().zip(&mut element.cladding) {
            let id = format!("{}/{}", element.solid.name, face.label);
            if let Some((_, placement)) = largest.get(id.as_str())
                && !spliced.contains(id.as_str())
                && let Some(laid) = laid(placement, on, stock)
            {
                cladding.sheet = Some(laid);
            }
        }
    }
    sculpture
}

/// The same places for the formed parts as they came out on their sheets; flat ones are laid anew. What is new,
/// or no part any more, is said.
pub(crate) fn carried_over(before: &OnSheets, work: &Work, findings: &mut Vec<Finding>) -> Result<OnSheets> {
    let Some(laying) = &work.sculpture.laying else { return Ok(before.clone()) };
    let options = Options::new(&Values::check("lay", lay::ROWS, &laying.settings)?);
    let pieces = pieces(&work.parts);
    let is_flat = |piece: &Piece| matches!(piece.need, Need::Flat { .. });
    let flat_ones: Vec<usize> = (0..pieces.len()).filter(|&i| is_flat(&pieces[i])).collect();
    let flat: Vec<Piece> = flat_ones.iter().map(|&i| pieces[i].clone()).collect();
    let pins = laying.pins.iter().map(Pin::new).collect::<Result<Vec<_>>>()?;
    let pins: Vec<Pin> = pins.into_iter().filter(|pin| flat.iter().any(|p| p.id == pin.part)).collect();
    let mut layout = lay(&flat, &laying.stock, &pins, &options)?;
    for placement in &mut layout.placements {
        placement.piece = flat_ones[placement.piece];
    }
    for unplaced in &mut layout.unplaced {
        unplaced.piece = flat_ones[unplaced.piece];
    }
    layout.area_bound = before.layout.area_bound;
    // Also those that found no place, so that no other piece takes theirs.
    let mut left: Vec<usize> = (0..before.pieces.len()).filter(|&i| !is_flat(&before.pieces[i])).collect();
    let clad: BTreeMap<String, Option<&Laid>> = work
        .faces
        .iter()
        .zip(work.sculpture.elements.iter().flat_map(|e| &e.cladding))
        .map(|(face, cladding)| (face.id.clone(), cladding.sheet.as_ref()))
        .collect();
    for (piece, cut) in pieces.iter().enumerate().filter(|(_, p)| !is_flat(p)) {
        let face = work.parts[cut.part].face.as_str();
        // Pieces of a face are told apart by where they lie: by size two like ones could change places.
        let (middle, size) = box_of(cut);
        let away = |old: usize| {
            let (was, _) = box_of(&before.pieces[old]);
            (was[0] - middle[0]).hypot(was[1] - middle[1])
        };
        let near = (0..left.len())
            .filter(|&i| face_of(&before.pieces[left[i]].id) == face && away(left[i]) < size / 2.0)
            .min_by(|&i, &j| away(left[i]).total_cmp(&away(left[j])));
        let was = near.map(|i| left.remove(i));
        match was.and_then(|old| before.layout.placements.iter().find(|p| p.piece == old)) {
            Some(old) => {
                let mut placement = Placement { piece, ..*old };
                let corners = cut.outlines.iter().flatten().map(|&p| placement.place(p));
                placement.bounds = corners
                    .fold([[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]], |[lo, hi], p| {
                        [[lo[0].min(p[0]), lo[1].min(p[1])], [hi[0].max(p[0]), hi[1].max(p[1])]]
                    });
                // Cut for this very place, its crests are the sheet's.
                let own = clad.get(face).copied().flatten();
                if own.is_some() && laid(old, before, &laying.stock).as_ref() == own {
                    placement.misfit = 0.0;
                }
                layout.placements.push(placement);
            }
            None => {
                let told = before.layout.unplaced.iter().find(|u| Some(u.piece) == was);
                layout.unplaced.push(Unplaced {
                    piece,
                    why: told.map_or_else(
                        || {
                            "it comes about only on the sheets as they are, after the parts were laid"
                                .to_owned()
                        },
                        |u| u.why.clone(),
                    ),
                    remedy: told.map_or_else(
                        || "cut it from an offcut, or shift the phase of its face".to_owned(),
                        |u| u.remedy.clone(),
                    ),
                });
            }
        }
    }
    layout.placements.sort_by(|a, b| {
        let start = |p: &Placement| (p.sheet, p.bounds[0][0], p.bounds[0][1]);
        let ((s, x, y), (t, u, v)) = (start(a), start(b));
        s.cmp(&t).then(x.total_cmp(&u)).then(y.total_cmp(&v)).then(a.piece.cmp(&b.piece))
    });
    layout.offcuts = offcuts(&layout, &options);
    let spliced = spliced(work);
    if let Some(first) = spliced.first() {
        findings.push(Finding::new(
            Level::Note,
            "spliced-nominal",
            *first,
            format!(
                "{} faces are spliced of several sheets, so their templates stay nominal: {}",
                spliced.len(),
                spliced.iter().copied().collect::<Vec<_>>().join(", ")
            ),
            "offer their pieces up before welding, or make the face small enough for one sheet",
        ));
    }
    findings.extend(beside(&pieces, &layout, work, &laying.stock));
    findings.extend(too_near(&pieces, &layout, &options));
    Ok(OnSheets { pieces, layout, best_fit: before.best_fit.clone() })
}

/// Smaller parts of a face that do not lie where they would if the face were cut from one sheet in one piece: they
/// are cut for the place their largest part lies on.
fn beside(pieces: &[Piece], layout: &Layout, work: &Work, stock: &[Stock]) -> Option<Finding> {
    let on = OnSheets { pieces: pieces.to_vec(), layout: layout.clone(), best_fit: None };
    let claddings = || work.sculpture.elements.iter().flat_map(|e| &e.cladding);
    let elsewhere = |p: &&Placement| {
        let face = &work.parts[pieces[p.piece].part].face;
        let own = work.faces.iter().zip(claddings()).find(|(f, _)| f.id == *face);
        own.and_then(|(_, cladding)| cladding.sheet.as_ref())
            .is_some_and(|own| laid(p, &on, stock).as_ref() != Some(own))
    };
    let mut ids: Vec<&str> =
        layout.placements.iter().filter(elsewhere).map(|p| pieces[p.piece].id.as_str()).collect();
    ids.sort_unstable();
    let first = (*ids.first()?).to_owned();
    Some(Finding::new(
        Level::Note,
        "other-place",
        first,
        format!(
            "{} smaller parts of faces in several pieces lie elsewhere than the largest, whose sheet their templates \
             are made for: {}",
            ids.len(),
            ids.join(", ")
        ),
        "offer them up before welding and trim them, or make the face one piece",
    ))
}

/// Parts of faces clad in surveyed sheets by hand that reach beyond their sheet or into damage.
fn off_sheet(work: &Work) -> Vec<Finding> {
    let mut found = Vec::new();
    let claddings = work.sculpture.elements.iter().flat_map(|e| &e.cladding);
    for (face, laid) in work.faces.iter().zip(claddings).filter_map(|(f, c)| Some((f, c.sheet.as_ref()?))) {
        let Some(wander) = &face.wander else { continue };
        let sheet = &laid.sheet;
        for part in work.parts.iter().filter(|p| p.face == face.id) {
            let on_sheet = |p: &[f64; 2]| laid.place([p[0], p[1] + wander.moved(p[0], p[1] - face.phase)[0]]);
            let outline: Vec<_> = part.outlines[0].iter().map(on_sheet).collect();
            let beyond = outline.iter().fold(0.0, |most: f64, p| {
                most.max(-p[0]).max(-p[1]).max(p[0] - sheet.length).max(p[1] - sheet.width)
            });
            let mut say = |what: String| {
                found.push(Finding::new(
                    Level::Warning,
                    "off-sheet",
                    part.id.as_str(),
                    what,
                    "choose another place with `at`, or another sheet; `lay` finds places by itself",
                ));
            };
            if beyond > LITTLE {
                say(format!(
                    "it reaches {beyond:.0} mm beyond sheet {} ({:.0} × {:.0} mm); there the sheet is taken to run on",
                    sheet.name, sheet.length, sheet.width
                ));
            }
            for damage in &sheet.damage {
                if clear(&outline, &damage.outline) <= 0.0 {
                    say(format!("it lies over damage of sheet {}: {}", sheet.name, damage.what));
                }
            }
        }
    }
    found
}

/// A part laid by hand, as it lies on its sheet.
struct ByHand<'a> {
    id: &'a str,
    face: &'a str,
    sheet: &'a SurveyedSheet,
    region: Region,
    bounds: [[f64; 2]; 2],
}

/// Parts of faces clad in the same surveyed sheet by hand that take the same steel, or are closer than the cut is wide.
fn share_sheet(work: &Work) -> Vec<Finding> {
    let claddings = work.sculpture.elements.iter().flat_map(|e| &e.cladding);
    let mut laid_ones = Vec::new();
    for (face, laid) in work.faces.iter().zip(claddings).filter_map(|(f, c)| Some((f, c.sheet.as_ref()?))) {
        for part in work.parts.iter().filter(|p| p.face == face.id) {
            let outlines = part.outlines.iter().map(|outline| {
                let mut points: Vec<_> = outline.iter().map(|p| laid.place(part.seen_square(*p))).collect();
                // Inside up a part is seen mirrored.
                if laid.over {
                    points.reverse();
                }
                Outline::tagged(points, None)
            });
            let region = Region { outlines: outlines.collect() };
            let bounds = bounds(region.outlines.iter().flat_map(|o| &o.points));
            laid_ones.push(ByHand { id: &part.id, face: &face.id, sheet: &laid.sheet, region, bounds });
        }
    }
    let kerf = kerf(work);
    let mut found = Vec::new();
    for (i, a) in laid_ones.iter().enumerate() {
        for b in &laid_ones[i + 1..] {
            // One sheet may have been fitted twice with other settings; its name and size tell it.
            let same = a.sheet.name == b.sheet.name
                && a.sheet.length == b.sheet.length
                && a.sheet.stations == b.sheet.stations;
            let far = (0..2)
                .any(|k| a.bounds[0][k] > b.bounds[1][k] + kerf || b.bounds[0][k] > a.bounds[1][k] + kerf);
            if !same || far || a.face == b.face {
                continue;
            }
            let shared = a.region.combine(Combine::Intersect, &b.region);
            let round: f64 =
                shared.outlines.iter().map(|o| Path::closed(Layer::Cut, o.points.clone()).length()).sum();
            let sheet = &a.sheet.name;
            // A sliver is as wide as twice its area for each mm round it.
            let what = if 2.0 * shared.area() > LITTLE * round {
                format!("they share {:.0} mm² of sheet {sheet}", shared.area())
            } else {
                let pairs =
                    a.region.outlines.iter().flat_map(|o| b.region.outlines.iter().map(move |p| (o, p)));
                let gap = pairs.map(|(o, p)| apart(&o.points, &p.points)).fold(f64::INFINITY, f64::min);
                if gap >= kerf - LITTLE {
                    continue;
                }
                format!(
                    "they share 0 mm² but lie {gap:.1} mm apart on sheet {sheet}, where the cut takes {kerf} mm"
                )
            };
            found.push(Finding::new(
                Level::Error,
                "shared-sheet",
                format!("{} and {}", a.id, b.id),
                what,
                "give one of them another place with `at`, or another sheet; `lay` finds places by itself",
            ));
        }
    }
    found
}

/// Width of the cut, mm, where the script says it or by what process parts are cut; else 0.
fn kerf(work: &Work) -> f64 {
    let given = |name: &str| work.sculpture.stages.get(process::STAGE).and_then(|stage| stage.get(name));
    match (given("kerf"), given("process")) {
        (Some(Value::Number(kerf)), _) => *kerf,
        (_, Some(Value::Text(name))) => Process::named(name).map_or(0.0, |p| p.kerf),
        _ => 0.0,
    }
}

/// Middle of a piece's box and the box's diagonal, mm.
fn box_of(piece: &Piece) -> ([f64; 2], f64) {
    let [low, high] =
        piece.outlines.iter().flatten().fold([[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]], |[l, h], p| {
            [[l[0].min(p[0]), l[1].min(p[1])], [h[0].max(p[0]), h[1].max(p[1])]]
        });
    let middle = [f64::midpoint(low[0], high[0]), f64::midpoint(low[1], high[1])];
    (middle, (high[0] - low[0]).hypot(high[1] - low[1]))
}

/// The face of a part by its id: all before the dot that numbers a second piece.
fn face_of(id: &str) -> &str {
    match id.rsplit_once('.') {
        Some((face, number)) if number.bytes().all(|b| b.is_ascii_digit()) => face,
        _ => id,
    }
}

/// Parts that grew too near to each other, an edge or damage when they were cut for their sheets.
fn too_near(pieces: &[Piece], layout: &Layout, options: &Options) -> Vec<Finding> {
    let mut found = Vec::new();
    let mut say = |who: String, sheet: &str, near: f64, least: f64| {
        if near < least - LITTLE {
            // What would spoil a sheet is never written for the shop.
            let (level, what) = if near <= 0.0 {
                (
                    Level::Error,
                    format!("on sheet {sheet} what is cut for it would overlap, or leave the sheet"),
                )
            } else {
                let left = format!("{near:.1} mm are left where {least} are asked for");
                (Level::Warning, format!("on sheet {sheet} {left}, since it is cut for it"))
            };
            let remedy = "lay with more `allowance`, pin the part elsewhere, or set for_sheets: false";
            found.push(Finding::new(level, "sheet_margin", who, what, remedy));
        }
    };
    let outline = |p: &Placement| -> Vec<[f64; 2]> {
        pieces[p.piece].outlines[0].iter().map(|&q| p.place(q)).collect()
    };
    for sheet in layout.used() {
        let on: Vec<_> = layout.on(sheet).collect();
        let (name, [length, width]) = {
            let s = &layout.sheets[sheet];
            (s.name.as_str(), [s.length, s.width])
        };
        for (i, a) in on.iter().enumerate() {
            let [lo, hi] = a.bounds;
            let edge = lo[0].min(lo[1]).min(length - hi[0]).min(width - hi[1]);
            say(pieces[a.piece].id.clone(), name, edge, options.margin);
            for (_, damage) in &layout.sheets[sheet].damage {
                say(pieces[a.piece].id.clone(), name, clear(&outline(a), damage), options.margin);
            }
            for b in &on[i + 1..] {
                let far = (0..2).any(|k| {
                    a.bounds[0][k] > b.bounds[1][k] + options.spacing
                        || b.bounds[0][k] > a.bounds[1][k] + options.spacing
                });
                if !far {
                    let who = format!("{} and {}", pieces[a.piece].id, pieces[b.piece].id);
                    say(who, name, clear(&outline(a), &outline(b)), options.spacing);
                }
            }
        }
    }
    found
}
