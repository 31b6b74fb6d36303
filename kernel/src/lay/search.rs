//! The search: orders of pieces and of sheets, tried and kept when better.
//!
//! Method: a local search over the orders that `fill` is given (as for strips in E. Hopper, B. Turton, "An
//! empirical investigation of meta-heuristic and heuristic algorithms for a 2D packing problem", 2001): pieces
//! change places or are put in elsewhere, the pieces of the emptiest sheet go first, sheets change places. Half of
//! the tries look for fewer sheets (of equals, the one that crowds its sheets more unevenly, which empties one in
//! time), the other half for a larger offcut. Several starts run side by side, each with its own seed, and the best
//! wins, the first of equals: so the result does not depend on threads or time.

use super::bed::{Bed, Item, bounds};
use super::fill::{Filled, Memory, Problem, Rule, Spot};
use super::offcut::offcut;
use super::piece::Piece;
use super::verdict::{no_room, no_such_sheet};
use super::{Layout, Offcut, Options, Pin, Placement, Sheet, Unplaced, Way};
use crate::error::{Error, Result};
use crate::random::Random;
use crate::settings::unknown_name;
use rayon::prelude::*;
use std::cmp::Ordering;

/// Starts that run side by side.
const STARTS: usize = 4;
/// Pieces up to which all tries are made, on formed and on flat sheet; beyond, so many fewer that the work stays
/// the same.
const FULL_EFFORT: [usize; 2] = [40, 20];
/// Tries there are at least for each start.
const LEAST_TRIES: usize = 2;

/// Pieces and sheets that belong together.
struct Kind {
    pieces: Vec<usize>,
    sheets: Vec<usize>,
    flat: bool,
}

/// What one kind came to.
struct Part {
    placements: Vec<Placement>,
    unplaced: Vec<Unplaced>,
    bound: usize,
}

/// See [`super::lay`].
pub(crate) fn search(
    pieces: &[Piece],
    sheets: Vec<Sheet>,
    pins: &[Pin],
    options: &Options,
) -> Result<Layout> {
    check_names(pieces, &sheets, pins)?;
    let (kinds, mut unplaced) = kinds(pieces, &sheets);
    let parts: Vec<Result<Part>> =
        kinds.par_iter().map(|kind| one_kind(kind, pieces, &sheets, pins, options)).collect();
    let (mut placements, mut area_bound) = (Vec::new(), 0);
    for part in parts {
        let part = part?;
        placements.extend(part.placements);
        unplaced.extend(part.unplaced);
        area_bound += part.bound;
    }
    placements.sort_by(|a: &Placement, b| {
        let start = |p: &Placement| (p.bounds[0][0], p.bounds[0][1]);
        let ((ax, ay), (bx, by)) = (start(a), start(b));
        a.sheet.cmp(&b.sheet).then(ax.total_cmp(&bx)).then(ay.total_cmp(&by)).then(a.piece.cmp(&b.piece))
    });
    unplaced.sort_by_key(|u| u.piece);
    let mut layout = Layout { sheets, placements, unplaced, offcuts: Vec::new(), area_bound };
    layout.offcuts = offcuts(&layout, options);
    Ok(layout)
}

/// What is worth keeping of the sheets that are cut.
pub(crate) fn offcuts(layout: &Layout, options: &Options) -> Vec<Offcut> {
    layout
        .used()
        .into_iter()
        .filter_map(|s| {
            let sheet = &layout.sheets[s];
            let damage = sheet.damage.iter().map(|(_, outline)| bounds(outline.iter()));
            let boxes: Vec<_> = layout.on(s).map(|p| p.bounds).chain(damage).collect();
            offcut(s, [sheet.length, sheet.width], &boxes, options.spacing, options.least_offcut)
        })
        .collect()
}

fn check_names(pieces: &[Piece], sheets: &[Sheet], pins: &[Pin]) -> Result<()> {
    let mut names: Vec<&str> = sheets.iter().map(|s| s.name.as_str()).collect();
    names.sort_unstable();
    if let Some(pair) = names.windows(2).find(|p| p[0] == p[1]) {
        return Err(Error::input(format!("two sheets are called \"{}\"", pair[0]))
            .at("lay")
            .remedy("give every sheet a name of its own; sheets of one entry are numbered by themselves"));
    }
    for (i, pin) in pins.iter().enumerate() {
        let place = format!("lay: pin {}", i + 1);
        if !sheets.iter().any(|s| s.name == pin.sheet) {
            let known = sheets.iter().map(|s| s.name.as_str());
            return Err(unknown_name("sheet", &pin.sheet, known).at(place));
        }
        if !pieces.iter().any(|p| p.id == pin.part) {
            return Err(unknown_name("part", &pin.part, pieces.iter().map(|p| p.id.as_str())).at(place));
        }
        if pins[..i].iter().any(|p| p.part == pin.part) {
            return Err(Error::input(format!("{} is pinned twice", pin.part))
                .at(place)
                .remedy("pin each part once"));
        }
    }
    Ok(())
}

/// Pieces by the sheets they can be cut from; those without are told why.
fn kinds(pieces: &[Piece], sheets: &[Sheet]) -> (Vec<Kind>, Vec<Unplaced>) {
    let (mut kinds, mut unplaced): (Vec<Kind>, Vec<Unplaced>) = (Vec::new(), Vec::new());
    for (index, piece) in pieces.iter().enumerate() {
        let Some(first) = sheets.iter().position(|s| piece.fits(s)) else {
            unplaced.push(no_such_sheet(index, piece, sheets));
            continue;
        };
        let flat = !piece.is_formed();
        if let Some(kind) = kinds.iter_mut().find(|k| k.sheets.contains(&first)) {
            kind.pieces.push(index);
            continue;
        }
        // A sheet belongs to one kind, even where profiles are nearly but not quite the same.
        let free = |s: &usize| piece.fits(&sheets[*s]) && !kinds.iter().any(|k| k.sheets.contains(s));
        let of = (0..sheets.len()).filter(free).collect();
        kinds.push(Kind { pieces: vec![index], sheets: of, flat });
    }
    (kinds, unplaced)
}

fn one_kind(
    kind: &Kind,
    pieces: &[Piece],
    sheets: &[Sheet],
    pins: &[Pin],
    options: &Options,
) -> Result<Part> {
    let items: Result<Vec<Item>> =
        kind.pieces.par_iter().map(|&p| Item::new(p, &pieces[p], options)).collect();
    let beds: Result<Vec<Bed>> = kind.sheets.iter().map(|&s| Bed::new(s, &sheets[s], options)).collect();
    let problem = Problem::new(items?, sheets, beds?, kind.flat, options);
    let mut pinned = vec![Vec::new(); problem.beds.len()];
    for pin in pins.iter().filter(|pin| kind.pieces.iter().any(|&p| pieces[p].id == pin.part)) {
        let (bed, spot) = pinned_spot(&problem, pin, pieces, sheets, &pinned)?;
        pinned[bed].push(spot);
    }
    let free: Vec<usize> =
        (0..problem.items.len()).filter(|i| !pinned.iter().flatten().any(|s: &Spot| s.item == *i)).collect();
    let best = (0..STARTS)
        .into_par_iter()
        .map(|start| climb(&problem, &free, &pinned, start))
        .reduce_with(|a, b| if compare(&b.0, &a.0) == Ordering::Less { b } else { a });
    let (_, filled) = best.ok_or_else(|| Error::bug("no start was made"))?;
    let placements = filled
        .beds
        .iter()
        .enumerate()
        .flat_map(|(bed, spots)| spots.iter().map(move |spot| (bed, spot)))
        .map(|(bed, spot)| placement(&problem, bed, spot))
        .collect();
    let used: Vec<f64> =
        filled.beds.iter().map(|b| b.iter().map(|s| problem.items[s.item].area).sum()).collect();
    let unplaced = filled
        .missing
        .iter()
        .map(|&item| {
            let alone = |bed: usize| {
                let none = vec![Vec::new(); problem.beds.len()];
                let found = problem.fill(&[item], &[bed], &none, Rule::FarEnd, &mut Memory::default());
                found.missing.is_empty()
            };
            no_room(&problem.items[item], &problem.beds, sheets, &used, options, alone)
        })
        .collect();
    Ok(Part { placements, unplaced, bound: area_bound(&problem) })
}

/// Fewest beds whose areas together hold all items.
fn area_bound(problem: &Problem<'_>) -> usize {
    let needed: f64 = problem.items.iter().map(|i| i.area).sum();
    let mut areas: Vec<f64> = problem.beds.iter().map(|b| b.area).collect();
    areas.sort_by(|a, b| b.total_cmp(a));
    let mut sum = 0.0;
    areas
        .iter()
        .take_while(|a| {
            let before = sum;
            sum += **a;
            before < needed
        })
        .count()
}

fn placement(problem: &Problem<'_>, bed: usize, spot: &Spot) -> Placement {
    let item = &problem.items[spot.item];
    let pose = &item.poses[spot.pose];
    let at = [spot.x, spot.y];
    Placement {
        piece: item.piece,
        sheet: problem.beds[bed].sheet,
        way: pose.way,
        at,
        bounds: pose.bounds.map(|p| [p[0] + at[0], p[1] + at[1]]),
        rib: spot.rib,
        misfit: spot.misfit,
        pinned: spot.pinned,
    }
}

/// Where a pin puts its piece.
fn pinned_spot(
    problem: &Problem<'_>,
    pin: &Pin,
    pieces: &[Piece],
    sheets: &[Sheet],
    there: &[Vec<Spot>],
) -> Result<(usize, Spot)> {
    let error = |message: String, remedy: &str| {
        Err(Error::input(message).at(format!("lay: pin of {} on {}", pin.part, pin.sheet)).remedy(remedy))
    };
    let Some(item) = problem.items.iter().position(|i| pieces[i.piece].id == pin.part) else {
        return Err(Error::bug(format!("no item for {}", pin.part)));
    };
    let Some(bed) = problem.beds.iter().position(|b| sheets[b.sheet].name == pin.sheet) else {
        let need = pieces[problem.items[item].piece].need_words();
        return error(format!("the part needs a sheet of {need}"), "pin it on a sheet of its own kind");
    };
    let poses = &problem.items[item].poses;
    let same = |way: Way| match (way, pin.way) {
        (Way::Turned(a), Way::Straight) => a == 0.0,
        (a, b) => a == b,
    };
    let Some(pose) = poses.iter().position(|p| same(p.way)) else {
        let ways: Vec<String> = poses.iter().map(|p| p.way.words()).filter(|w| !w.is_empty()).collect();
        let allowed = if ways.is_empty() {
            "only as drawn".to_owned()
        } else {
            format!("as drawn, or {}", ways.join(", "))
        };
        return error(
            format!("the part cannot lie {} (allowed: {allowed})", pin.way.words()),
            "take one of these, or for flat sheet raise `turns`",
        );
    };
    let low = poses[pose].bounds[0];
    let seats = if problem.flat {
        let Some(across) = pin.across else {
            return error(
                "\"across\" is missing".to_owned(),
                "say how far from the right-hand edge it begins, mm",
            );
        };
        problem.beds[bed].seat(&poses[pose], across - low[1], problem.options).into_iter().collect()
    } else {
        problem.seats[item][pose][bed].clone()
    };
    let wanted = |rib: Option<i64>| problem.flat || rib == pin.rib;
    let Some(seat) = seats.iter().find(|s| wanted(s.rib)) else {
        let ribs: Vec<String> = seats.iter().filter_map(|s| s.rib).map(|r| r.to_string()).collect();
        let allowed = if ribs.is_empty() { "none".to_owned() } else { ribs.join(", ") };
        return error(
            format!("the part does not fit across the sheet there (ribs on which it does: {allowed})"),
            "give another `crest`, or `across` on flat sheet",
        );
    };
    let x = pin.along - low[0];
    let spot = Spot { item, pose, x, y: seat.y, rib: seat.rib, misfit: seat.misfit, pinned: true };
    match problem.clash(&spot, bed, &there[bed]) {
        None => Ok((bed, spot)),
        Some(None) => {
            let [a, b] = seat.range.map(|r| r + low[0]);
            error(
                format!(
                    "it would reach into damage or a margin (without damage it may begin from {a:.1} to {b:.1} mm along)"
                ),
                "move it along or to another crest",
            )
        }
        Some(Some(other)) => error(
            format!("it would come too near to {}, pinned as well", pieces[problem.items[other].piece].id),
            "move one of the two",
        ),
    }
}

/// How good a filling is: less is better, from the first figure on.
type Score = [f64; 4];

fn compare(a: &Score, b: &Score) -> Ordering {
    a.iter().zip(b).map(|(a, b)| a.total_cmp(b)).find(|o| o.is_ne()).unwrap_or(Ordering::Equal)
}

/// What a filling is judged by in the two halves of a search.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Aim {
    Sheets,
    Offcut,
}

fn score(problem: &Problem<'_>, filled: &Filled, aim: Aim) -> Score {
    let missing: f64 = filled.missing.iter().map(|&i| problem.items[i].area).sum();
    let (mut sheets, mut crowd, mut offcuts) = (0.0, 0.0, 0.0_f64);
    for (bed, spots) in problem.beds.iter().zip(&filled.beds) {
        if spots.is_empty() {
            continue;
        }
        sheets += 1.0;
        let share = spots.iter().map(|s| problem.items[s.item].area).sum::<f64>() / bed.area;
        crowd += share * share;
        if aim == Aim::Offcut {
            let boxes: Vec<_> = spots
                .iter()
                .map(|s| problem.items[s.item].poses[s.pose].bounds.map(|p| [p[0] + s.x, p[1] + s.y]))
                .collect();
            let best =
                offcut(bed.sheet, bed.size, &boxes, problem.options.spacing, problem.options.least_offcut);
            offcuts = offcuts.max(best.map_or(0.0, |o| o.area()));
        }
    }
    // Here later aims go in, such as crests that run on across named seams.
    match aim {
        Aim::Sheets => [missing, sheets, -crowd, 0.0],
        Aim::Offcut => [missing, sheets, -offcuts, -crowd],
    }
}

/// One start: an order by some measure, then changes that are kept unless they make it worse.
fn climb(problem: &Problem<'_>, free: &[usize], pinned: &[Vec<Spot>], start: usize) -> (Score, Filled) {
    let size = |i: usize, axis: usize| {
        let [lo, hi] = problem.items[i].poses[0].bounds;
        hi[axis] - lo[axis]
    };
    let mut order = free.to_vec();
    let measure = |i: usize| match start {
        0 => problem.items[i].area,
        1 => size(i, 0),
        2 => size(i, 1),
        _ => size(i, 0) + size(i, 1),
    };
    order.sort_by(|&a, &b| measure(b).total_cmp(&measure(a)).then(a.cmp(&b)));
    let mut beds: Vec<usize> = (0..problem.beds.len()).collect();
    // Pinned sheets are cut anyway; then the largest.
    beds.sort_by(|&a, &b| {
        let key = |i: usize| (pinned[i].is_empty(), -problem.beds[i].area);
        let ((pa, sa), (pb, sb)) = (key(a), key(b));
        pa.cmp(&pb).then(sa.total_cmp(&sb)).then(a.cmp(&b))
    });
    let uniform =
        problem.beds.windows(2).all(|p| p[0].size == p[1].size && p[0].damage.len() == p[1].damage.len());
    let rule = if start.is_multiple_of(2) { Rule::FarEnd } else { Rule::NearEnd };
    let mut memory = Memory::default();
    let mut best = problem.fill(&order, &beds, pinned, rule, &mut memory);
    let per_start = (problem.options.tries as usize).div_ceil(STARTS);
    #[allow(clippy::cast_precision_loss, reason = "a count")]
    let over = (free.len() as f64 / FULL_EFFORT[usize::from(problem.flat)] as f64).max(1.0);
    // On flat sheet each piece tries a line for every other one.
    let work = over * over * if problem.flat { over } else { 1.0 };
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "a count"
    )]
    let tries = ((per_start as f64 / work) as usize).max(LEAST_TRIES.min(per_start));
    #[allow(clippy::cast_possible_truncation, reason = "a handful")]
    let mut random = Random(start as u64 + 1);
    let bound = area_bound(problem);
    let mut aim = Aim::Sheets;
    let mut kept = score(problem, &best, aim);
    for attempt in 0..tries {
        let least = best.missing.is_empty() && best.beds.iter().filter(|b| !b.is_empty()).count() <= bound;
        if aim == Aim::Sheets && (least || attempt >= tries / 2) {
            aim = Aim::Offcut;
            kept = score(problem, &best, aim);
        }
        let (mut tried, mut tried_beds) = (order.clone(), beds.clone());
        change(problem, &best, &mut tried, if uniform { None } else { Some(&mut tried_beds) }, &mut random);
        let filled = problem.fill(&tried, &tried_beds, pinned, rule, &mut memory);
        let found = score(problem, &filled, aim);
        if compare(&found, &kept) != Ordering::Greater {
            (best, kept, order, beds) = (filled, found, tried, tried_beds);
        }
    }
    (score(problem, &best, Aim::Offcut), best)
}

/// A small change of the orders.
fn change(
    problem: &Problem<'_>,
    best: &Filled,
    order: &mut Vec<usize>,
    beds: Option<&mut Vec<usize>>,
    random: &mut Random,
) {
    let n = order.len();
    if n < 2 {
        return;
    }
    if let Some(beds) = beds
        && random.below(3) == 0
    {
        let (a, b) = (random.below(beds.len()), random.below(beds.len()));
        beds.swap(a, b);
    }
    match random.below(8) {
        0 => {
            // What has no place, or else what lies on the emptiest sheet, goes first.
            let first: Vec<usize> = if best.missing.is_empty() {
                let share = |b: &usize| {
                    best.beds[*b].iter().map(|s| problem.items[s.item].area).sum::<f64>()
                        / problem.beds[*b].area
                };
                let used = (0..best.beds.len()).filter(|b| !best.beds[*b].is_empty());
                let emptiest = used.min_by(|a, b| share(a).total_cmp(&share(b)));
                emptiest.map_or_else(Vec::new, |b| best.beds[b].iter().map(|s| s.item).collect())
            } else {
                best.missing.clone()
            };
            order.sort_by_key(|i| !first.contains(i));
        }
        1..=4 => {
            let (from, to) = (random.below(n), random.below(n));
            let item = order.remove(from);
            order.insert(to, item);
        }
        _ => {
            let (a, b) = (random.below(n), random.below(n));
            order.swap(a, b);
        }
    }
}
