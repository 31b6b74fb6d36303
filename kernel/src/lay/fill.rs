//! Filling: pieces one by one, each where it reaches least far along the first sheet that has room.
//!
//! This is the bottom-left rule (B. Baker, E. Coffman, R. Rivest, "Orthogonal packings in two dimensions", 1980)
//! with the sheet's start end as the bottom.

use super::bed::{Bed, GUARD, Item, Pose, Seat};
use super::slabs::Forbidden;
use super::{Options, Sheet};
use std::cmp::Ordering;
use std::collections::HashMap;

/// Where an item lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spot {
    pub(crate) item: usize,
    pub(crate) pose: usize,
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) rib: Option<i64>,
    pub(crate) misfit: f64,
    pub(crate) pinned: bool,
}

/// Items and beds of one kind of sheet.
#[derive(Debug)]
pub(crate) struct Problem<'a> {
    pub(crate) items: Vec<Item>,
    pub(crate) beds: Vec<Bed>,
    /// For each item, pose and bed the lines it may slide on; none where there are ribs no more.
    pub(crate) seats: Vec<Vec<Vec<Vec<Seat>>>>,
    pub(crate) flat: bool,
    pub(crate) options: &'a Options,
}

/// What a rule of filling prefers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Rule {
    /// The far end of a piece as near as possible.
    FarEnd,
    /// Its near end as near as possible.
    NearEnd,
}

/// Pieces as laid: for each bed its spots.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Filled {
    pub(crate) beds: Vec<Vec<Spot>>,
    pub(crate) missing: Vec<usize>,
}

/// Lines tried on flat sheet beside those on which parts touch.
const GRID: u32 = 24;
/// Lines on flat sheet on which shapes are looked at closely, for all pieces together, and at least for one of many.
const LOOKED_AT: usize = 3000;
const LEAST_LOOKED_AT: usize = 8;
/// How often a piece on flat sheet is pushed across and along in turn.
const PUSHES: usize = 4;
/// Differences of positions across that are one, mm: the intervals kept for one serve for the other.
const SAME_LINE: f64 = 1.0e-6;

/// How much larger than its bare box and the spacing a shape may be, mm: what rounding of corners and fewer
/// trapezoids add.
const BOX_ROOM: f64 = 3.0;

/// Item and pose, those of the other, and their distance across in units of [`SAME_LINE`].
type Key = (u32, u32, u32, u32, i64);

/// Intervals found so far; orders differ, pairs repeat.
#[derive(Debug, Default)]
pub(crate) struct Memory(HashMap<Key, Forbidden>);

impl Memory {
    /// Most pairs kept: some 100 MB.
    const MOST: usize = 1_000_000;
}

impl<'a> Problem<'a> {
    pub(crate) fn new(
        items: Vec<Item>,
        sheets: &[Sheet],
        beds: Vec<Bed>,
        flat: bool,
        options: &'a Options,
    ) -> Self {
        let seats_on = |pose: &Pose, bed: &Bed| {
            if flat { Vec::new() } else { bed.rib_seats(&sheets[bed.sheet], pose, options) }
        };
        let seats = items
            .iter()
            .map(|item| item.poses.iter().map(|p| beds.iter().map(|b| seats_on(p, b)).collect()).collect())
            .collect();
        Self { items, beds, seats, flat, options }
    }

    /// Fills beds in their order with items in theirs, on top of what is pinned.
    pub(crate) fn fill(
        &self,
        order: &[usize],
        beds: &[usize],
        pinned: &[Vec<Spot>],
        rule: Rule,
        memory: &mut Memory,
    ) -> Filled {
        let mut filled = Filled { beds: pinned.to_vec(), missing: Vec::new() };
        let mut left: Vec<f64> = (0..self.beds.len())
            .map(|b| self.beds[b].area - pinned[b].iter().map(|s| self.items[s.item].area).sum::<f64>())
            .collect();
        for &item in order {
            let area = self.items[item].area;
            let spot = beds.iter().find_map(|&bed| {
                if left[bed] < area {
                    return None;
                }
                Some((bed, self.best(item, bed, &filled.beds[bed], rule, memory)?))
            });
            match spot {
                Some((bed, spot)) => {
                    left[bed] -= area;
                    filled.beds[bed].push(spot);
                }
                None => filled.missing.push(item),
            }
        }
        filled
    }

    /// The best place of an item on a bed that holds some already.
    fn best(&self, item: usize, bed: usize, there: &[Spot], rule: Rule, memory: &mut Memory) -> Option<Spot> {
        let mut best: Option<([f64; 3], Spot)> = None;
        for (index, pose) in self.items[item].poses.iter().enumerate() {
            let rank = |x: f64, y: f64| {
                let (near, far) = (x + pose.bounds[0][0], x + pose.bounds[1][0]);
                let side = y + pose.bounds[0][1];
                match rule {
                    Rule::FarEnd => [far, side, near],
                    Rule::NearEnd => [near, side, far],
                }
            };
            let flat_seats;
            let seats = if self.flat {
                flat_seats = self.flat_seats(item, index, bed, there, rank, &mut best);
                &flat_seats
            } else {
                &self.seats[item][index][bed]
            };
            for seat in seats {
                let beaten = |x: f64| best.as_ref().is_some_and(|(r, _)| rank(x, seat.y) >= *r);
                if beaten(seat.range[0]) {
                    continue;
                }
                if let Some(x) = self.nearest(item, index, seat, there, Some(memory), beaten) {
                    let Seat { y, rib, misfit, .. } = *seat;
                    let spot = Spot { item, pose: index, x, y, rib, misfit, pinned: false };
                    best = Some((rank(x, y), spot));
                }
            }
        }
        let (_, mut spot) = best?;
        if self.flat {
            self.push(&mut spot, bed, there);
        }
        Some(spot)
    }

    /// The least shift along at which a pose is free on a seat; none too if one before it is `beaten`.
    ///
    /// Only what a piece runs into is looked at closely: it starts at the near end and steps behind whatever
    /// covers it until nothing does. Without a memory a box stands for each shape.
    fn nearest(
        &self,
        item: usize,
        pose: usize,
        seat: &Seat,
        there: &[Spot],
        mut memory: Option<&mut Memory>,
        beaten: impl Fn(f64) -> bool,
    ) -> Option<f64> {
        let mine = self.items[item].poses[pose].bounds;
        let room = self.options.spacing;
        // What shares a stretch across, with the shifts at which boxes overlap.
        let mut near: Vec<(&Spot, [f64; 2], Option<Forbidden>)> = there
            .iter()
            .filter_map(|spot| {
                let other = self.items[spot.item].poses[spot.pose].bounds;
                let dy = seat.y - spot.y;
                let beside = mine[0][1] + dy >= other[1][1] + room || other[0][1] - room >= mine[1][1] + dy;
                let boxes = [
                    spot.x + other[0][0] - mine[1][0] - room - BOX_ROOM,
                    spot.x + other[1][0] - mine[0][0] + room + BOX_ROOM,
                ];
                (!beside && boxes[1] > seat.range[0]).then_some((spot, boxes, None))
            })
            .collect();
        let mut x = behind(&seat.damaged, seat.range[0]);
        loop {
            let before = x;
            for (spot, boxes, exact) in &mut near {
                if x <= boxes[0] || boxes[1] <= x {
                    continue;
                }
                let Some(memory) = memory.as_deref_mut() else {
                    x = boxes[1];
                    continue;
                };
                let found = exact.get_or_insert_with(|| {
                    let shifts = self.pair(item, pose, spot, seat.y - spot.y, memory);
                    shifts.iter().map(|[a, b]| [a + spot.x, b + spot.x]).collect()
                });
                x = behind(found, x);
            }
            x = behind(&seat.damaged, x);
            if x > seat.range[1] || beaten(x) {
                return None;
            }
            if x == before {
                return Some(x);
            }
        }
    }

    /// Shifts along at which an item forbids another, from what is remembered where lines repeat.
    fn pair(&self, item: usize, pose: usize, spot: &Spot, dy: f64, memory: &mut Memory) -> Forbidden {
        let (mine, other) = (&self.items[item].poses[pose], &self.items[spot.item].poses[spot.pose]);
        let work = || mine.wide.along.forbidden(&other.bare.along, dy);
        if self.flat {
            return work();
        }
        #[allow(clippy::cast_possible_truncation, reason = "few items; lengths of a sheet")]
        let key =
            (item as u32, pose as u32, spot.item as u32, spot.pose as u32, (dy / SAME_LINE).round() as i64);
        if memory.0.len() > Memory::MOST {
            memory.0.clear();
        }
        memory.0.entry(key).or_insert_with(work).clone()
    }

    /// The most promising lines on flat sheet: those on which the pose touches an edge or a part, and some between.
    ///
    /// They are ranked by where the piece would lie if all shapes were boxes; the best such place is a place, too.
    fn flat_seats(
        &self,
        item: usize,
        index: usize,
        bed: usize,
        there: &[Spot],
        rank: impl Fn(f64, f64) -> [f64; 3],
        best: &mut Option<([f64; 3], Spot)>,
    ) -> Vec<Seat> {
        let (pose, bed) = (&self.items[item].poses[index], &self.beds[bed]);
        let [low, high] = bed.range(pose, 1, self.options);
        if low > high {
            return Vec::new();
        }
        let room = self.options.spacing + GUARD;
        let touching = there.iter().flat_map(|s| {
            let [lo, hi] = self.items[s.item].poses[s.pose].bounds;
            [s.y + hi[1] + room - pose.bounds[0][1], s.y + lo[1] - room - pose.bounds[1][1]]
        });
        let between = (0..=GRID).map(|k| low + (high - low) * f64::from(k) / f64::from(GRID));
        let mut lines: Vec<f64> = between.chain(touching).filter(|y| (low..=high).contains(y)).collect();
        lines.sort_by(f64::total_cmp);
        lines.dedup_by(|b, a| *b - *a < GUARD);
        let mut seats: Vec<([f64; 3], Seat)> = Vec::new();
        for y in lines {
            let Some(seat) = bed.seat(pose, y, self.options) else { continue };
            let by_boxes = self.nearest(item, index, &seat, there, None, |_| false);
            // Where no box fits the shape itself still may.
            let place = rank(by_boxes.unwrap_or(seat.range[1] + bed.size[0]), y);
            if let Some(x) = by_boxes
                && best.as_ref().is_none_or(|(r, _)| place < *r)
            {
                let spot = Spot { item, pose: index, x, y, rib: None, misfit: 0.0, pinned: false };
                *best = Some((place, spot));
            }
            seats.push((place, seat));
        }
        seats.sort_by(|(a, _), (b, _)| {
            a.iter().zip(b).map(|(a, b)| a.total_cmp(b)).find(|o| o.is_ne()).unwrap_or(Ordering::Equal)
        });
        seats.truncate((LOOKED_AT / self.items.len()).max(LEAST_LOOKED_AT));
        seats.into_iter().map(|(_, seat)| seat).collect()
    }

    /// Pushes a piece on flat sheet towards the right-hand edge and the start end until it stands.
    fn push(&self, spot: &mut Spot, bed: usize, there: &[Spot]) {
        let pose = &self.items[spot.item].poses[spot.pose];
        let bed = &self.beds[bed];
        let others = || there.iter().map(|s| (s, &self.items[s.item].poses[s.pose]));
        let ranges = [0, 1].map(|axis| bed.range(pose, axis, self.options));
        for push in 0..PUSHES {
            let before = [spot.x, spot.y];
            let mut taken: Forbidden = Vec::new();
            let across = push % 2 == 0;
            if across {
                for (s, other) in others() {
                    let (Some(a), Some(b)) = (&pose.wide.across, &other.bare.across) else { continue };
                    taken.extend(a.forbidden(b, spot.x - s.x).iter().map(|i| i.map(|v| v + s.y)));
                }
                for damage in &bed.damage {
                    let (Some(a), Some(b)) = (&pose.bare.across, &damage.across) else { continue };
                    taken.extend(a.forbidden(b, spot.x));
                }
                spot.y = slid(&taken, spot.y, ranges[1]);
            } else {
                for (s, other) in others() {
                    let found = pose.wide.along.forbidden(&other.bare.along, spot.y - s.y);
                    taken.extend(found.iter().map(|i| i.map(|v| v + s.x)));
                }
                for damage in &bed.damage {
                    taken.extend(pose.bare.along.forbidden(&damage.along, spot.y));
                }
                spot.x = slid(&taken, spot.x, ranges[0]);
            }
            if push > 0 && before == [spot.x, spot.y] {
                break;
            }
        }
    }

    /// How deep a spot lies in what forbids it, as the index of another spot there, or none for damage or edges.
    pub(crate) fn clash(&self, spot: &Spot, bed: usize, there: &[Spot]) -> Option<Option<usize>> {
        let pose = &self.items[spot.item].poses[spot.pose];
        let bed = &self.beds[bed];
        let inside = |found: &Forbidden, x: f64| found.iter().any(|[a, b]| *a + GUARD < x && x < *b - GUARD);
        let out = [(spot.x, 0), (spot.y, 1)].into_iter().any(|(at, axis)| {
            let [low, high] = bed.range(pose, axis, self.options);
            at < low - GUARD || at > high + GUARD
        });
        if out || bed.damage.iter().any(|d| inside(&pose.bare.along.forbidden(&d.along, spot.y), spot.x)) {
            return Some(None);
        }
        let other = there.iter().find(|s| {
            let other = &self.items[s.item].poses[s.pose];
            inside(&pose.wide.along.forbidden(&other.bare.along, spot.y - s.y), spot.x - s.x)
        });
        other.map(|s| Some(s.item))
    }
}

/// A value, or the end of those intervals, ascending, that cover it one after the other.
fn behind(taken: &Forbidden, mut x: f64) -> f64 {
    for &[a, b] in taken {
        if a - GUARD < x && x < b + GUARD {
            x = b + GUARD;
        }
    }
    x
}

/// How far a value can go down without entering an interval; itself, if it is in one.
fn slid(taken: &Forbidden, from: f64, [low, _]: [f64; 2]) -> f64 {
    let mut end = low.min(from);
    for &[a, b] in taken {
        if b + GUARD <= from {
            end = end.max(b + GUARD);
        } else if a - GUARD < from {
            return from;
        }
    }
    end
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_steps_behind_all_that_covers_it() {
        let taken = vec![[-5.0, 10.0], [10.0, 20.0], [40.0, 60.0]];
        let near = |found: f64, wanted: f64| (found - wanted).abs() < 3.0 * GUARD;
        assert!(near(behind(&taken, 0.0), 20.0));
        assert!(near(behind(&taken, 50.0), 60.0));
        assert_eq!(behind(&taken, 25.0), 25.0);
        let stands = behind(&taken, 0.0);
        assert_eq!(behind(&taken, stands), stands, "where it stands it stays");
    }

    #[test]
    fn a_push_ends_at_the_first_thing_in_its_way() {
        let taken = vec![[0.0, 10.0], [30.0, 40.0]];
        assert!((slid(&taken, 25.0, [0.0, 100.0]) - 10.0).abs() < 2.0 * GUARD);
        assert_eq!(slid(&taken, 35.0, [0.0, 100.0]), 35.0, "stuck");
        assert_eq!(slid(&Vec::new(), 35.0, [3.0, 100.0]), 3.0);
    }
}
