//! Where to split a part: lines along the ribs first, then cuts across them, strip by strip.
//!
//! Method: the lines are a shortest path over the places that are allowed (Bellman's dynamic programme), the
//! cost of a strip being, in this order: sheets it is too wide for, lines too near a corner, pieces, pieces
//! too narrow to be worth handling, and the sum of the squared widths, which is least when all are equal.
//! The cuts are a second path, over the strips: each has a family of patterns (even spacing between end
//! pieces of many sizes, moved off the corners), and neighbours pay for every pair of cuts closer than the
//! stagger. The best of the family is taken; the family holds both extremes of every spacing.

use crate::region::Region;
use std::cmp::Ordering;

/// The largest sheet and what splices keep to, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sheet {
    /// Along the ribs; infinite if any length will do.
    pub(super) length: f64,
    /// Across the ribs, as formed.
    pub(super) width: f64,
    pub(super) stagger: f64,
    pub(super) clear: f64,
    pub(super) gap: f64,
}

/// A place across the ribs: on the face, and along the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    pub(super) t: f64,
    pub(super) w: f64,
}

/// Where a part is split.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Plan {
    /// Edges of the strips: both ends of the part and the lines between, ascending.
    pub(super) lines: Vec<Place>,
    /// For each strip its cuts, ascending.
    pub(super) cuts: Vec<Vec<f64>>,
}

/// Lengths that differ by less are equal, mm.
pub(super) const ROUNDING: f64 = 1.0e-6;
/// What a saw or torch needs at least between a splice and an edge beside it, mm.
const BESIDE_EDGE: f64 = 1.0;
/// Patterns try this many sizes of each end piece; more find room between crowded corners.
const SIZES: u32 = 9;
/// Where there is one cut only, its places cost little.
const PLACES_OF_ONE: u32 = 33;
/// How many pieces more than needed a strip may get for stagger and clearance.
const MORE_PIECES: u32 = 2;

/// Splits a part whose outlines are (s, w) along its sheet.
///
/// `ends` are its extent across the ribs, `places` where lines may run (ascending, within it); pieces
/// narrower or shorter than `least` are avoided.
pub(super) fn plan(region: &Region, ends: [Place; 2], places: &[Place], least: f64, sheet: &Sheet) -> Plan {
    let lines = lines(region, ends, places, least, sheet);
    let strips: Vec<[f64; 2]> =
        lines.windows(2).map(|pair| extent(region, [pair[0].w, pair[1].w]).unwrap_or([0.0, 0.0])).collect();
    let families: Vec<Vec<Pattern>> = strips
        .iter()
        .zip(lines.windows(2))
        .map(|(&along, pair)| {
            patterns(along, &forbidden(region, along, [pair[0].w, pair[1].w], sheet), least, sheet)
        })
        .collect();
    Plan { cuts: staggered(families, sheet.stagger), lines }
}

/// What is paid, worst first.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Cost {
    oversize: u32,
    breaches: u32,
    pieces: u32,
    slivers: u32,
    squares: f64,
}

impl Cost {
    fn plus(self, other: Self) -> Self {
        Self {
            oversize: self.oversize + other.oversize,
            breaches: self.breaches + other.breaches,
            pieces: self.pieces + other.pieces,
            slivers: self.slivers + other.slivers,
            squares: self.squares + other.squares,
        }
    }

    fn compare(&self, other: &Self) -> Ordering {
        let whole = |c: &Self| [c.oversize, c.breaches, c.pieces, c.slivers];
        whole(self).cmp(&whole(other)).then(self.squares.total_cmp(&other.squares))
    }
}

/// The cheapest lines along the ribs, with both ends of the part.
fn lines(region: &Region, ends: [Place; 2], places: &[Place], least: f64, sheet: &Sheet) -> Vec<Place> {
    let corners = corners(region);
    let margin = sheet.gap + BESIDE_EDGE;
    let along: Vec<f64> =
        edges(region).filter(|[a, b]| (a[1] - b[1]).abs() < ROUNDING).map(|[a, _]| a[1]).collect();
    let free = |p: &Place| {
        p.w > ends[0].w + margin && p.w < ends[1].w - margin && along.iter().all(|w| (w - p.w).abs() > margin)
    };
    let mut nodes = vec![ends[0]];
    nodes.extend(places.iter().filter(|p| free(p)));
    nodes.push(ends[1]);
    let last = nodes.len() - 1;
    let between: Vec<Option<[f64; 2]>> =
        nodes.windows(2).map(|pair| extent(region, [pair[0].w, pair[1].w])).collect();
    let near = |p: &Place| {
        let runs = crossings(region, 1, p.w);
        corners.iter().any(|c| distance(&runs, c[0], c[1] - p.w) < sheet.clear - ROUNDING)
    };
    let breaches: Vec<u32> =
        nodes.iter().enumerate().map(|(k, p)| u32::from(k > 0 && k < last && near(p))).collect();
    let mut best: Vec<(Cost, usize)> = vec![(Cost::default(), 0); nodes.len()];
    for j in 1..=last {
        let mut found: Option<(Cost, usize)> = None;
        let mut reach: Option<[f64; 2]> = None;
        for i in (0..j).rev() {
            reach = joined(reach, between[i]);
            let inner = f64::from(u32::from(i > 0) + u32::from(j < last));
            let width = nodes[j].t - nodes[i].t - inner * sheet.gap / 2.0;
            let too_wide = width > sheet.width + ROUNDING;
            if too_wide && i + 1 < j {
                break;
            }
            let pieces = reach.map_or(0, |r| pieces_needed(r[1] - r[0], sheet));
            let own = Cost {
                oversize: u32::from(too_wide),
                breaches: breaches[j],
                pieces,
                slivers: u32::from(width < least - ROUNDING),
                squares: width * width,
            };
            let cost = best[i].0.plus(own);
            if found.as_ref().is_none_or(|(c, _)| cost.compare(c) == Ordering::Less) {
                found = Some((cost, i));
            }
        }
        best[j] = found.unwrap_or_default();
    }
    let mut chosen = vec![nodes[last]];
    let mut at = last;
    while at > 0 {
        at = best[at].1;
        chosen.push(nodes[at]);
    }
    chosen.reverse();
    chosen
}

/// Fewest pieces of a strip this long.
pub(super) fn pieces_needed(length: f64, sheet: &Sheet) -> u32 {
    if length <= sheet.length + ROUNDING {
        return 1;
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "lengths are bounded")]
    let count = ((length + sheet.gap - ROUNDING) / (sheet.length + sheet.gap)).ceil() as u32;
    count.max(1)
}

/// Where the cuts of one strip may go, with what that costs.
#[derive(Debug, Clone, PartialEq)]
struct Pattern {
    at: Vec<f64>,
    cost: Cost,
}

/// Stretches of a strip where no cut should be: near corners and beside edges square to the ribs, ascending
/// and apart.
fn forbidden(region: &Region, along: [f64; 2], across: [f64; 2], sheet: &Sheet) -> Vec<[f64; 2]> {
    let mut found = Vec::new();
    for c in corners(region) {
        let aside = (across[0] - c[1]).max(c[1] - across[1]).max(0.0);
        if aside < sheet.clear {
            let reach = (sheet.clear * sheet.clear - aside * aside).sqrt();
            found.push([c[0] - reach, c[0] + reach]);
        }
    }
    let margin = sheet.gap + BESIDE_EDGE;
    for [a, b] in edges(region).filter(|[a, b]| (a[0] - b[0]).abs() < ROUNDING) {
        if a[1].min(b[1]) < across[1] && a[1].max(b[1]) > across[0] {
            found.push([a[0] - margin, a[0] + margin]);
        }
    }
    found.retain(|f| f[1] > along[0] && f[0] < along[1]);
    found.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut apart: Vec<[f64; 2]> = Vec::new();
    for f in found {
        match apart.last_mut() {
            Some(last) if f[0] < last[1] => last[1] = last[1].max(f[1]),
            _ => apart.push(f),
        }
    }
    apart
}

/// The patterns of one strip: of those nearest to keeping clear, all sizes of end pieces.
fn patterns(along: [f64; 2], forbidden: &[[f64; 2]], least: f64, sheet: &Sheet) -> Vec<Pattern> {
    let whole = along[1] - along[0];
    let needed = pieces_needed(whole, sheet);
    if needed == 1 {
        return vec![Pattern { at: Vec::new(), cost: Cost { pieces: 1, ..Cost::default() } }];
    }
    let mut tried: Vec<Vec<f64>> = Vec::new();
    for count in needed..=needed + MORE_PIECES {
        for at in spacings(along, count, sheet) {
            let moved = moved_off(&at, forbidden);
            if moved != at {
                tried.push(moved);
            }
            tried.push(at);
        }
        if count == 2 {
            tried.extend(forbidden.iter().flatten().map(|&x| vec![x]));
        }
    }
    let mut found: Vec<Pattern> =
        tried.into_iter().filter_map(|at| priced(at, along, forbidden, least, sheet)).collect();
    let fewest = found.iter().map(|p| p.cost.breaches).min().unwrap_or(0);
    found.retain(|p| p.cost.breaches == fewest);
    found.sort_by(|a, b| a.cost.compare(&b.cost));
    found.dedup_by(|a, b| a.at == b.at);
    found
}

/// Cuts into `count` pieces: end pieces of many sizes, even ones between.
fn spacings(along: [f64; 2], count: u32, sheet: &Sheet) -> Vec<Vec<f64>> {
    let whole = along[1] - along[0];
    let (longest_end, longest) = (sheet.length + sheet.gap / 2.0, sheet.length + sheet.gap);
    let inner = f64::from(count.saturating_sub(2));
    let shortest_end = (whole - longest_end - inner * longest).max(0.0);
    let sizes = |steps: u32| {
        (0..steps)
            .map(move |k| shortest_end + (longest_end - shortest_end) * f64::from(k) / f64::from(steps - 1))
    };
    if count == 2 {
        let even = std::iter::once(whole / 2.0);
        return even.chain(sizes(PLACES_OF_ONE)).map(|first| vec![along[0] + first]).collect();
    }
    let evenly = |first: f64, last: f64| -> Vec<f64> {
        let step = (whole - first - last) / inner;
        (0..count - 1).map(|k| along[0] + first + step * f64::from(k)).collect()
    };
    let even = whole / f64::from(count);
    let mut found = vec![evenly(even, even)];
    for first in sizes(SIZES) {
        found.extend(sizes(SIZES).map(|last| evenly(first, last)));
    }
    found
}

/// The cuts, each moved out of what is forbidden to the nearer side.
fn moved_off(at: &[f64], forbidden: &[[f64; 2]]) -> Vec<f64> {
    at.iter()
        .map(|&x| match forbidden.iter().find(|f| x > f[0] && x < f[1]) {
            Some(f) if x - f[0] < f[1] - x => f[0],
            Some(f) => f[1],
            None => x,
        })
        .collect()
}

/// A pattern with its cost; none if a piece would be longer than the sheet or have no length.
fn priced(
    at: Vec<f64>,
    along: [f64; 2],
    forbidden: &[[f64; 2]],
    least: f64,
    sheet: &Sheet,
) -> Option<Pattern> {
    let mut ends = vec![along[0]];
    ends.extend(&at);
    ends.push(along[1]);
    let mut cost = Cost::default();
    let last = ends.len() - 2;
    for (k, pair) in ends.windows(2).enumerate() {
        let inner = f64::from(u32::from(k > 0) + u32::from(k < last));
        let length = pair[1] - pair[0] - inner * sheet.gap / 2.0;
        if length > sheet.length + ROUNDING || length < BESIDE_EDGE {
            return None;
        }
        cost.pieces += 1;
        cost.slivers += u32::from(length < least - ROUNDING);
        cost.squares += length * length;
    }
    let breaches =
        at.iter().filter(|&&x| forbidden.iter().any(|f| x > f[0] + ROUNDING && x < f[1] - ROUNDING)).count();
    cost.breaches = u32::try_from(breaches).unwrap_or(u32::MAX);
    Some(Pattern { at, cost })
}

/// One pattern for each strip, so that neighbours are staggered and the whole is cheapest.
fn staggered(families: Vec<Vec<Pattern>>, stagger: f64) -> Vec<Vec<f64>> {
    let mut paths: Vec<Vec<(Cost, usize)>> = Vec::new();
    for (k, family) in families.iter().enumerate() {
        let costs = family
            .iter()
            .map(|pattern| {
                let Some(before) = k.checked_sub(1) else { return (pattern.cost, 0) };
                let mut found: Option<(Cost, usize)> = None;
                for (i, (path, earlier)) in paths[before].iter().zip(&families[before]).enumerate() {
                    let mut cost = path.0.plus(pattern.cost);
                    cost.breaches += too_close(&earlier.at, &pattern.at, stagger);
                    if found.as_ref().is_none_or(|(c, _)| cost.compare(c) == Ordering::Less) {
                        found = Some((cost, i));
                    }
                }
                found.unwrap_or((pattern.cost, 0))
            })
            .collect();
        paths.push(costs);
    }
    let cheapest = |path: &Vec<(Cost, usize)>| {
        (0..path.len()).min_by(|&i, &j| path[i].0.compare(&path[j].0)).unwrap_or(0)
    };
    let Some(mut at) = paths.last().map(cheapest) else { return Vec::new() };
    let mut chosen = Vec::new();
    for (path, family) in paths.iter().zip(&families).rev() {
        chosen.push(family.get(at).map_or(Vec::new(), |p| p.at.clone()));
        at = path.get(at).map_or(0, |p| p.1);
    }
    chosen.reverse();
    chosen
}

/// How many pairs of cuts, one of each strip, are closer than the stagger; both ascending.
fn too_close(a: &[f64], b: &[f64], stagger: f64) -> u32 {
    let mut count = 0;
    let mut first = 0;
    for x in a {
        while first < b.len() && b[first] <= x - stagger + ROUNDING {
            first += 1;
        }
        count += b[first..].iter().take_while(|y| **y < x + stagger - ROUNDING).map(|_| 1).sum::<u32>();
    }
    count
}

/// The edges of a region.
pub(super) fn edges(region: &Region) -> impl Iterator<Item = [[f64; 2]; 2]> + '_ {
    region.outlines.iter().flat_map(|o| {
        let count = o.points.len();
        (0..count).map(move |i| [o.points[i], o.points[(i + 1) % count]])
    })
}

/// Corners of a part: where its edge passes from one seam to the next.
pub(super) fn corners(region: &Region) -> Vec<[f64; 2]> {
    let mut found = Vec::new();
    for outline in &region.outlines {
        let count = outline.points.len();
        let turns = (0..count).filter(|&i| outline.tags[i] != outline.tags[(i + count - 1) % count]);
        found.extend(turns.map(|i| outline.points[i]));
    }
    found
}

/// Stretches of the line `axis` = `at` that lie in a region, ascending, in the other coordinate.
pub(super) fn crossings(region: &Region, axis: usize, at: f64) -> Vec<[f64; 2]> {
    let other = 1 - axis;
    let mut found: Vec<f64> = edges(region)
        .filter(|[a, b]| (a[axis] <= at) != (b[axis] <= at))
        .map(|[a, b]| a[other] + (b[other] - a[other]) * (at - a[axis]) / (b[axis] - a[axis]))
        .collect();
    found.sort_by(f64::total_cmp);
    found.chunks_exact(2).map(|c| [c[0], c[1]]).filter(|c| c[1] - c[0] > ROUNDING).collect()
}

/// How far a corner is from stretches of a line that it is `aside` of.
pub(super) fn distance(runs: &[[f64; 2]], at: f64, aside: f64) -> f64 {
    let beyond = |r: &[f64; 2]| (r[0] - at).max(at - r[1]).max(0.0);
    runs.iter().map(|r| beyond(r).hypot(aside)).fold(f64::INFINITY, f64::min)
}

/// Extent along the ribs of what lies between two places across them.
pub(super) fn extent(region: &Region, across: [f64; 2]) -> Option<[f64; 2]> {
    let mut found: Option<[f64; 2]> = None;
    for [a, b] in edges(region) {
        let (low, high) = if a[1] <= b[1] { (a, b) } else { (b, a) };
        if high[1] < across[0] || low[1] > across[1] {
            continue;
        }
        let at = |w: f64| {
            let run = high[1] - low[1];
            if run > 0.0 {
                low[0] + (high[0] - low[0]) * ((w - low[1]) / run).clamp(0.0, 1.0)
            } else {
                low[0]
            }
        };
        let ends = if high[1] > low[1] { [at(across[0]), at(across[1])] } else { [low[0], high[0]] };
        found = joined(found, Some([ends[0].min(ends[1]), ends[0].max(ends[1])]));
    }
    found
}

fn joined(a: Option<[f64; 2]>, b: Option<[f64; 2]>) -> Option<[f64; 2]> {
    match (a, b) {
        (Some(a), Some(b)) => Some([a[0].min(b[0]), a[1].max(b[1])]),
        (a, b) => a.or(b),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::region::Outline;

    fn rectangle(length: f64, width: f64) -> Region {
        let points = vec![[0.0, 0.0], [length, 0.0], [length, width], [0.0, width]];
        Region { outlines: vec![Outline { points, tags: vec![Some(0), Some(1), Some(2), Some(3)] }] }
    }

    fn place(w: f64) -> Place {
        Place { t: w, w }
    }

    /// Second method: every choice of lines.
    #[test]
    fn no_choice_of_lines_needs_fewer_pieces_or_is_better_balanced() {
        for k in 0..60_u32 {
            let share = |which: f64| (f64::from(k + 1) * which.sqrt()).fract();
            let (length, width) = (500.0 + 4000.0 * share(2.0), 700.0 + 900.0 * share(3.0));
            let clear = 150.0 * share(5.0);
            let sheet =
                Sheet { length: 1000.0, width: 260.0 + 500.0 * share(7.0), stagger: 0.0, clear, gap: 2.0 };
            let places: Vec<Place> = (0_u32..16)
                .map(|i| place(100.0 * (f64::from(i) + share(11.0))))
                .filter(|p| p.t < width)
                .collect();
            let region = rectangle(length, width);
            let ends = [place(0.0), place(width)];
            let found: Vec<f64> = lines(&region, ends, &places, 50.0, &sheet).iter().map(|p| p.t).collect();
            let cost = |lines: &[f64]| {
                let mut cost = Cost::default();
                let last = lines.len() - 2;
                for (i, pair) in lines.windows(2).enumerate() {
                    let inner = f64::from(u32::from(i > 0) + u32::from(i < last));
                    let wide = pair[1] - pair[0] - inner;
                    cost.oversize += u32::from(wide > sheet.width + ROUNDING);
                    let edge = pair[1].min(width - pair[1]);
                    cost.breaches += u32::from(i < last && edge < clear - ROUNDING);
                    cost.pieces += pieces_needed(length, &sheet);
                    cost.slivers += u32::from(wide < 50.0 - ROUNDING);
                    cost.squares += wide * wide;
                }
                cost
            };
            let free: Vec<f64> =
                places.iter().map(|p| p.t).filter(|t| *t > 3.0 && *t < width - 3.0).collect();
            let best = (0..1_u32 << free.len())
                .map(|bits| {
                    let chosen = free.iter().enumerate().filter(|(i, _)| bits >> i & 1 == 1).map(|(_, t)| *t);
                    let all: Vec<f64> = [0.0].into_iter().chain(chosen).chain([width]).collect();
                    cost(&all)
                })
                .min_by(Cost::compare)
                .expect("some");
            let got = cost(&found);
            assert_eq!(
                (got.oversize, got.breaches, got.pieces, got.slivers),
                (best.oversize, best.breaches, best.pieces, best.slivers),
                "case {k}: {found:?}"
            );
            assert!(got.squares <= best.squares * (1.0 + 1e-12), "case {k}: {found:?}");
        }
    }

    #[test]
    fn neighbours_give_way_to_each_other_before_a_piece_is_added() {
        let sheet = Sheet { length: 2500.0, width: 500.0, stagger: 300.0, clear: 100.0, gap: 0.0 };
        let places: Vec<Place> = (1_u32..20).map(|k| place(100.0 * f64::from(k))).collect();
        // Cuts may lie from 2100 to 2500: both ends of that serve in turn, at 2 pieces a strip.
        let found = plan(&rectangle(4600.0, 2000.0), [place(0.0), place(2000.0)], &places, 100.0, &sheet);
        assert_eq!(found.cuts.len(), 4);
        for pair in found.cuts.windows(2) {
            assert!(pair[0].len() == 1 && (pair[0][0] - pair[1][0]).abs() >= 300.0 - ROUNDING, "{found:?}");
        }
        // From 2400 to 2500 there is no room for it: every other strip gets a third piece.
        let found = plan(&rectangle(4900.0, 2000.0), [place(0.0), place(2000.0)], &places, 100.0, &sheet);
        let mut counts: Vec<usize> = found.cuts.iter().map(Vec::len).collect();
        counts.sort_unstable();
        assert_eq!(counts, [1, 1, 2, 2], "{found:?}");
        for pair in found.cuts.windows(2) {
            assert_eq!(too_close(&pair[0], &pair[1], 300.0), 0, "{found:?}");
        }
    }

    #[test]
    fn lines_keep_off_edges_that_run_along_them() {
        // A notch whose side lies on the middle of the rectangle.
        let points =
            vec![[0.0, 0.0], [900.0, 0.0], [900.0, 800.0], [400.0, 800.0], [400.0, 400.0], [0.0, 400.0]];
        let region = Region { outlines: vec![Outline::tagged(points, Some(0))] };
        let sheet = Sheet { length: 2000.0, width: 500.0, stagger: 300.0, clear: 0.0, gap: 0.0 };
        let places = [300.0, 400.0, 500.0].map(place);
        let found = lines(&region, [place(0.0), place(800.0)], &places, 50.0, &sheet);
        assert_eq!(found.len(), 3);
        assert!(found[1].t != 400.0, "{found:?}");
    }
}
