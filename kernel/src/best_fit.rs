//! Best fit: which surveyed sheet goes to which parts, so that the sheets suit the faces they clad.
//!
//! How parts lie together stays as the laying has it, and so does the number of sheets.
//! Every set of parts that lie on one sheet is tried on every sheet of the yard, a rib to either side too, and costs
//! there what [`Nominal::cost`] says of its faces; the cheapest assignment is found by the Hungarian method. It is
//! taken if the void over all seams, in which neighbours count together, comes out less as well.
//!
//! Across a seam that the script names, crests run on where both sheets have theirs where they are nominally: there
//! the square of how far they lie aside is added to the cost, and an assignment is also taken if crests step aside
//! less there, all named seams together.

use crate::forecast::Nominal;
use crate::lay::motion::rib_ways;
use crate::lay::{BestFit, LITTLE, Need, OnSheets, Options, Placement, Way, clear, offcuts, rib_place};
use crate::seam::Seam;
use crate::stock::Stock;
use crate::survey::{Laid, Wander};
use crate::work::Work;
use nalgebra::{Point3, Vector3};
use pathfinding::kuhn_munkres::kuhn_munkres_min;
use pathfinding::matrix::Matrix;
use rayon::prelude::*;
use std::collections::BTreeMap;

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

/// For each face that is cut, the placement of its largest part.
pub(crate) fn largest<'a>(work: &'a Work, on: &'a OnSheets) -> BTreeMap<&'a str, (f64, &'a Placement)> {
    let mut largest: BTreeMap<&str, (f64, &Placement)> = BTreeMap::new();
    for placement in &on.layout.placements {
        let part = &work.parts[on.pieces[placement.piece].part];
        let best = largest.entry(part.face.as_str()).or_insert((part.area, placement));
        if part.area > best.0 {
            *best = (part.area, placement);
        }
    }
    largest
}

/// Ribs a set of parts is tried aside of where it was laid.
const RIBS: [i64; 3] = [0, -1, 1];
/// Costs are whole numbers of this many mm³ for the assignment; a thousandth would change nothing a tape can find.
const GRAIN: f64 = 1.0;
/// What cannot be costs this much.
const NEVER: i64 = 1 << 50;

/// Lets sheets change places.
pub(crate) fn best_fit(work: &Work, on: &mut OnSheets, stock: &[Stock], options: &Options) {
    let named: &[String] = work.sculpture.laying.as_ref().map_or(&[], |l| &l.crests_across);
    let nominal = Nominal::of(work);
    let surveyed: Vec<usize> =
        (0..on.layout.sheets.len()).filter(|&s| on.layout.sheets[s].surveyed).collect();
    let sets: Vec<usize> =
        surveyed.iter().copied().filter(|&s| on.layout.on(s).any(|p| is_formed(p, on))).collect();
    if sets.is_empty() {
        return;
    }
    // For each set and sheet: what it costs and where the parts come to lie.
    let tried: Vec<Vec<(i64, Option<Vec<Placement>>)>> = sets
        .par_iter()
        .map(|&from| {
            surveyed
                .iter()
                .map(|&to| {
                    let ways = RIBS.iter().filter_map(|&ribs| moved(on, from, to, ribs, options));
                    let costs = ways
                        .map(|placements| (cost(work, &nominal, on, stock, &placements, named), placements));
                    let best = costs.min_by(|a, b| a.0.total_cmp(&b.0));
                    match best {
                        #[allow(clippy::cast_possible_truncation, reason = "far below what cannot be")]
                        Some((cost, placements)) if cost.is_finite() => {
                            (((cost / GRAIN).round() as i64).min(NEVER - 1), Some(placements))
                        }
                        _ => (NEVER, None),
                    }
                })
                .collect()
        })
        .collect();
    let costs = tried.iter().map(|row| row.iter().map(|(cost, _)| *cost));
    let Ok(matrix) = Matrix::from_rows(costs) else { return };
    let (_, chosen) = kuhn_munkres_min(&matrix);
    let mut better = on.clone();
    better.layout.placements.retain(|p| !sets.contains(&p.sheet) || !is_formed(p, on));
    for (row, &column) in tried.iter().zip(&chosen) {
        let Some(placements) = &row[column].1 else { return };
        better.layout.placements.extend(placements.iter().copied());
    }
    let void = [&*on, &better].map(|on| nominal.total(&sheets(work, on, stock)));
    let clad = [&*on, &better].map(|on| sheets(work, on, stock));
    let steps: Vec<(String, [f64; 2])> =
        named.iter().map(|seam| (seam.clone(), [0, 1].map(|k| step(work, &clad[k], seam)))).collect();
    let all = |k: usize| steps.iter().map(|(_, step)| step[k]).sum::<f64>();
    let narrower = all(1) < all(0);
    let names = |s: usize| on.layout.sheets[s].name.clone();
    let changes: Vec<[String; 2]> =
        sets.iter().zip(&chosen).map(|(&from, &column)| [names(from), names(surveyed[column])]).collect();
    if void[1] < void[0] || narrower {
        better.layout.offcuts = offcuts(&better.layout, options);
        *on = better;
        on.best_fit = Some(BestFit { void, steps, sheets: changes });
    } else {
        let same = sets.iter().map(|&s| [names(s), names(s)]).collect();
        let steps = steps.into_iter().map(|(seam, [before, _])| (seam, [before; 2])).collect();
        on.best_fit = Some(BestFit { void: [void[0]; 2], steps, sheets: same });
    }
}

fn is_formed(placement: &Placement, on: &OnSheets) -> bool {
    matches!(on.pieces[placement.piece].need, Need::Formed { .. })
}

/// The formed parts of one sheet laid on another, their crests on its crests; none where one would not fit.
fn moved(on: &OnSheets, from: usize, to: usize, ribs: i64, options: &Options) -> Option<Vec<Placement>> {
    let (old, new) = (&on.layout.sheets[from], &on.layout.sheets[to]);
    let mut placements: Vec<Placement> = on.layout.on(from).filter(|p| is_formed(p, on)).copied().collect();
    if from == to && ribs == 0 {
        return Some(placements);
    }
    if placements.iter().any(|p| p.pinned || !on.pieces[p.piece].fits(new)) {
        return None;
    }
    let mut outlines: Vec<Vec<[f64; 2]>> = Vec::new();
    for placement in &mut placements {
        let (rib, Need::Formed { profile, phase }) = (placement.rib?, &on.pieces[placement.piece].need)
        else {
            return None;
        };
        let way = rib_ways(profile, *phase, true).into_iter().find(|w| w.way == placement.way)?;
        // Its first crest line, before it is moved: the one that lay on the crest of that number.
        let pitch = profile.pitch();
        let pitches = ((old.crest(rib)? - placement.at[1] - way.line) / pitch).round();
        let line = way.line + pitches * pitch;
        #[allow(clippy::cast_possible_truncation, reason = "a part has few ribs")]
        let last = ((placement.bounds[1][1] - placement.at[1] - line) / pitch).floor().max(0.0) as i64;
        let lines: Vec<i64> = (0..=last).collect();
        let (across, misfit) = rib_place(new, rib + ribs, line, &lines)?;
        if options.misfit.is_some_and(|most| misfit > most) {
            return None;
        }
        let aside = across - placement.at[1];
        placement.at[1] = across;
        (placement.rib, placement.misfit) = (Some(rib + ribs), misfit);
        placement.sheet = to;
        for corner in &mut placement.bounds {
            corner[1] += aside;
        }
        let [low, high] = placement.bounds;
        let inside = low[0].min(low[1]).min(new.length - high[0]).min(new.width - high[1]);
        if inside < options.margin - LITTLE {
            return None;
        }
        let outline: Vec<_> =
            on.pieces[placement.piece].outlines[0].iter().map(|&p| placement.place(p)).collect();
        if new.damage.iter().any(|(_, damage)| clear(&outline, damage) < options.margin - LITTLE) {
            return None;
        }
        outlines.push(outline);
    }
    for i in 0..outlines.len() {
        for j in i + 1..outlines.len() {
            let (a, b) = (&placements[i], &placements[j]);
            let far = (0..2).any(|k| {
                a.bounds[0][k] > b.bounds[1][k] + options.spacing
                    || b.bounds[0][k] > a.bounds[1][k] + options.spacing
            });
            if !far && clear(&outlines[i], &outlines[j]) < options.spacing - LITTLE {
                return None;
            }
        }
    }
    Some(placements)
}

/// What a set of parts costs where it lies: only the largest part of a face counts, which the face is clad by.
fn cost(
    work: &Work,
    nominal: &Nominal,
    on: &OnSheets,
    stock: &[Stock],
    placements: &[Placement],
    named: &[String],
) -> f64 {
    let largest = largest(work, on);
    placements
        .iter()
        .filter_map(|placement| {
            let face = &work.parts[on.pieces[placement.piece].part].face;
            let is_largest = largest.get(face.as_str()).is_some_and(|(_, p)| p.piece == placement.piece);
            let index = work.faces.iter().position(|f| f.id == *face)?;
            let laid = laid(placement, on, stock)?;
            is_largest.then(|| {
                let seams = work.seams.iter().filter(|s| named.contains(&s.id) && s.between.contains(&index));
                let asides = seams.map(|seam| {
                    asides(work, index, &laid, seam).iter().map(|(_, a, length)| a * a * length).sum::<f64>()
                });
                nominal.cost(index, &laid) + asides.sum::<f64>()
            })
        })
        .sum()
}

/// The sheet of every face of the work, in its order.
fn sheets(work: &Work, on: &OnSheets, stock: &[Stock]) -> Vec<Option<Laid>> {
    let largest = largest(work, on);
    work.faces.iter().map(|f| largest.get(f.id.as_str()).and_then(|(_, p)| laid(p, on, stock))).collect()
}

/// Along a seam: places, how far a sheet's crests lie aside there, and the length that stands for, mm.
fn asides(work: &Work, face: usize, laid: &Laid, seam: &Seam) -> Vec<(Point3<f64>, f64, f64)> {
    let face = &work.faces[face];
    let Ok((wander, _)) = Wander::of(laid) else { return Vec::new() };
    let pairs = seam.runs.iter().flat_map(|run| run.points.windows(2));
    pairs
        .map(|pair| {
            let place = nalgebra::center(&pair[0], &pair[1]);
            let [s, t] = face.frame.plan(&place);
            (place, wander.moved(s, t - face.phase)[0], (pair[1] - pair[0]).norm())
        })
        .collect()
}

/// The most a crest steps aside from one face to the other along a seam, mm.
fn step(work: &Work, clad: &[Option<Laid>], name: &str) -> f64 {
    let Some(seam) = work.seams.iter().find(|s| s.id == name) else { return 0.0 };
    let [a, b] = seam.between.map(|f| {
        let off = clad[f].as_ref().map(|laid| asides(work, f, laid, seam)).unwrap_or_default();
        let v = work.faces[f].frame.v;
        off.into_iter().map(|(_, aside, _)| v * aside).collect::<Vec<_>>()
    });
    let along = |i: usize, list: &[Vector3<f64>]| list.get(i).copied().unwrap_or_else(Vector3::zeros);
    let [m, n] = seam.between.map(|f| work.faces[f].frame.n);
    let Some(line) = m.cross(&n).try_normalize(f64::EPSILON) else { return 0.0 };
    (0..a.len().max(b.len())).map(|i| (along(i, &a) - along(i, &b)).dot(&line).abs()).fold(0.0, f64::max)
}
