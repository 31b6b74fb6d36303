//! Works cut for the sheets there are: parts are laid once as nominal, then each face is clad in the very sheet,
//! at the very place, its part lies on, and the work is worked out again.

use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::lay::{self, Layout, Need, OnSheets, Options, Piece, Pin, Placement, Unplaced, Way, lay, pieces};
use crate::sculpture::Sculpture;
use crate::settings::Values;
use crate::stock::Stock;
use crate::survey::Laid;
use crate::work::Work;
use std::collections::BTreeMap;

/// Lays the parts of a work if that has to be known before its parts are: on surveyed sheets, unless the script
/// wants nominal templates.
///
/// # Errors
/// As [`lay()`].
pub(crate) fn lay_first(work: &Work) -> Result<Option<OnSheets>> {
    let Some(laying) = &work.sculpture.laying else { return Ok(None) };
    let values = Values::check("lay", lay::ROWS, &laying.settings)?;
    let surveyed = laying.stock.iter().any(|s| matches!(s, Stock::Surveyed(_)));
    if !surveyed || !values.flag("for_sheets") || values.text("from") == Some("flat") {
        return Ok(None);
    }
    let pieces = pieces(&work.parts);
    let pins = laying.pins.iter().map(Pin::new).collect::<Result<Vec<_>>>()?;
    let layout = lay(&pieces, &laying.stock, &pins, &Options::new(&values))?;
    Ok(Some(OnSheets { pieces, layout }))
}

/// Where a placement lays its sheet on the face of its part; none on flat or nominal sheet.
pub(crate) fn laid(placement: &Placement, on: &OnSheets, stock: &[Stock]) -> Option<Laid> {
    let Need::Formed { .. } = on.pieces[placement.piece].need else { return None };
    let name = &on.layout.sheets[placement.sheet].name;
    let sheet = stock.iter().find_map(|s| match s {
        Stock::Surveyed(sheet) if sheet.name == *name => Some(sheet.clone()),
        _ => None,
    })?;
    let (turned, over) = match placement.way {
        Way::Straight | Way::Turned(_) => (false, false),
        Way::EndForEnd => (true, false),
        Way::TurnedOver => (false, true),
        Way::OverAndEnd => (true, true),
    };
    Some(Laid { sheet, at: placement.place([0.0, 0.0]), turned, over })
}

/// The work with each face clad in the sheet that its largest part lies on, if that was surveyed.
pub(crate) fn clad_in_sheets(work: &Work, on: &OnSheets) -> Sculpture {
    let mut largest: BTreeMap<&str, (f64, &Placement)> = BTreeMap::new();
    for placement in &on.layout.placements {
        let part = &work.parts[on.pieces[placement.piece].part];
        let best = largest.entry(part.face.as_str()).or_insert((part.area, placement));
        if part.area > best.0 {
            *best = (part.area, placement);
        }
    }
    let stock = work.sculpture.laying.as_ref().map_or(&[][..], |l| &l.stock);
    let mut sculpture = work.sculpture.clone();
    for element in &mut sculpture.elements {
        for (face, cladding) in element.solid.faces.iter().zip(&mut element.cladding) {
            let id = format!("{}/{}", element.solid.name, face.label);
            if let Some((_, placement)) = largest.get(id.as_str())
                && let Some(laid) = laid(placement, on, stock)
            {
                // Where its crests lie is now the sheet's to say.
                cladding.phase = 0.0;
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
    let formed = |sheet: usize| before.layout.on(sheet).any(|p| !is_flat(&before.pieces[p.piece]));
    layout.offcuts.extend(before.layout.offcuts.iter().filter(|o| formed(o.sheet)).cloned());
    layout.area_bound = before.layout.area_bound;
    let place_of = |id: &str| {
        let old = |p: &&Placement| before.pieces[p.piece].id == id;
        before.layout.placements.iter().find(old)
    };
    for (piece, cut) in pieces.iter().enumerate().filter(|(_, p)| !is_flat(p)) {
        match place_of(&cut.id) {
            Some(old) => {
                let mut placement = Placement { piece, ..*old };
                let corners = cut.outlines.iter().flatten().map(|&p| placement.place(p));
                placement.bounds = corners
                    .fold([[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]], |[lo, hi], p| {
                        [[lo[0].min(p[0]), lo[1].min(p[1])], [hi[0].max(p[0]), hi[1].max(p[1])]]
                    });
                layout.placements.push(placement);
            }
            None => {
                let told = before.layout.unplaced.iter().find(|u| before.pieces[u.piece].id == cut.id);
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
    findings.extend(too_near(&pieces, &layout, &options));
    Ok(OnSheets { pieces, layout })
}

/// Parts that grew too near to each other, an edge or damage when they were cut for their sheets.
fn too_near(pieces: &[Piece], layout: &Layout, options: &Options) -> Vec<Finding> {
    let mut found = Vec::new();
    let mut say = |who: String, sheet: &str, near: f64, least: f64| {
        if near < least - LITTLE {
            found.push(Finding::new(
                Level::Warning,
                "sheet_margin",
                who,
                format!("on sheet {sheet} {near:.1} mm are left where {least} are asked for, since it is cut for it"),
                "lay with more spacing and margin, or pin the part elsewhere",
            ));
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
                say(pieces[a.piece].id.clone(), name, apart(&outline(a), damage), options.margin);
            }
            for b in &on[i + 1..] {
                let far = (0..2).any(|k| {
                    a.bounds[0][k] > b.bounds[1][k] + options.spacing
                        || b.bounds[0][k] > a.bounds[1][k] + options.spacing
                });
                if !far {
                    let who = format!("{} and {}", pieces[a.piece].id, pieces[b.piece].id);
                    say(who, name, apart(&outline(a), &outline(b)), options.spacing);
                }
            }
        }
    }
    found
}

/// Less than this is rounding, mm.
const LITTLE: f64 = 0.05;

/// Least distance between two outlines, mm; 0 where they cross.
fn apart(a: &[[f64; 2]], b: &[[f64; 2]]) -> f64 {
    let edges = |o: &[[f64; 2]]| -> Vec<[[f64; 2]; 2]> {
        (0..o.len()).map(|i| [o[i], o[(i + 1) % o.len()]]).collect()
    };
    let from = |p: [f64; 2], [q, r]: [[f64; 2]; 2]| {
        let (dx, dy) = (r[0] - q[0], r[1] - q[1]);
        let square = dx * dx + dy * dy;
        let along = if square > 0.0 { ((p[0] - q[0]) * dx + (p[1] - q[1]) * dy) / square } else { 0.0 };
        let share = along.clamp(0.0, 1.0);
        (p[0] - q[0] - dx * share).hypot(p[1] - q[1] - dy * share)
    };
    let side =
        |p: [f64; 2], [q, r]: [[f64; 2]; 2]| (r[0] - q[0]) * (p[1] - q[1]) - (r[1] - q[1]) * (p[0] - q[0]);
    let mut least = f64::INFINITY;
    for e in edges(a) {
        for f in edges(b) {
            let crosses = side(e[0], f) * side(e[1], f) < 0.0 && side(f[0], e) * side(f[1], e) < 0.0;
            let near = [from(e[0], f), from(e[1], f), from(f[0], e), from(f[1], e)];
            least = if crosses { 0.0 } else { near.into_iter().fold(least, f64::min) };
            if least == 0.0 {
                return 0.0;
            }
        }
    }
    least
}
