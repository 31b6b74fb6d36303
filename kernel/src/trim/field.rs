//! The field: which points of space are steel-side, as a function of the sheets below which they lie.
//!
//! Exact cuts: a point is in the body if it lies below every sheet of some element. Where pairs of faces
//! are cut on their bisector, each point is owned by one face: the one with the greatest distance d from
//! its plane within an element, of the element for which that is least. A point owned by face o of element
//! E is in the body if it lies below o and below every sheet of E that is not bisected against o, or if
//! the same holds in another element whose own owner there is not bisected against o. Walls between two
//! owners' cells bound the body where the two sides differ: there lie the closure strips, and the body is
//! closed by construction, whatever mix of cuts meets at a corner.

use crate::cladding::Sheet;
use crate::memo::Memo;
use nalgebra::Point3;
use std::ops::Range;

/// Pairs of sheets that are cut on their bisector.
#[derive(Debug, Clone, Default)]
pub(crate) struct Bisected {
    count: usize,
    pairs: Vec<bool>,
    any: bool,
}

impl Bisected {
    pub(crate) fn none(count: usize) -> Self {
        Self { count, pairs: Vec::new(), any: false }
    }

    pub(crate) fn insert(&mut self, a: usize, b: usize) {
        if self.pairs.is_empty() {
            self.pairs = vec![false; self.count * self.count];
        }
        self.pairs[a * self.count + b] = true;
        self.pairs[b * self.count + a] = true;
        self.any = true;
    }

    pub(crate) fn any(&self) -> bool {
        self.any
    }

    pub(crate) fn has(&self, a: usize, b: usize) -> bool {
        self.any && self.pairs[a * self.count + b]
    }
}

/// All sheets of a work, by element.
#[derive(Debug)]
pub(crate) struct Field {
    pub(crate) sheets: Vec<Sheet>,
    pub(crate) elements: Vec<Range<usize>>,
    pub(crate) bisected: Bisected,
    /// Of each element the greatest distance of any of its crests from its face's plane, mm.
    pub(crate) highest: Vec<f64>,
    /// Size of the work, mm.
    pub(crate) size: f64,
    /// Faces that were trimmed before.
    pub(crate) memo: Memo,
}

/// A point seen by the sheets near it: below which it lies, and how far from which planes.
#[derive(Debug, Clone, Default)]
pub(crate) struct Sample {
    /// For each near sheet: the point lies below it.
    pub(crate) below: Vec<bool>,
    /// For each near sheet: signed distance from the face plane (only kept where cuts are bisected).
    pub(crate) distance: Vec<f64>,
}

/// The elements near some place, with a dense numbering of their sheets.
#[derive(Debug, Clone)]
pub(crate) struct Near {
    /// Global sheet index of each near sheet.
    pub(crate) sheets: Vec<usize>,
    /// Ranges of `sheets` by element.
    pub(crate) elements: Vec<Range<usize>>,
    /// Pairs of near sheets between whose cells the body may change.
    pub(crate) walls: Vec<(usize, usize)>,
}

impl Field {
    pub(crate) fn new(
        sheets: Vec<Sheet>,
        elements: Vec<Range<usize>>,
        bisected: Bisected,
        size: f64,
        memo: Memo,
    ) -> Self {
        let crest = |sheet: &Sheet| sheet.high + sheet.lift;
        let highest =
            elements.iter().map(|e| sheets[e.clone()].iter().map(crest).fold(f64::NEG_INFINITY, f64::max));
        let highest = highest.collect();
        Self { sheets, elements, bisected, highest, size, memo }
    }

    /// Whether what lies no less than `least` outside sheet `g` (D, mm) is outside its element, whoever owns it there:
    /// the farthest of its sheets is no nearer, and no crest is higher.
    pub(crate) fn is_clear_of(&self, g: usize, least: f64, margin: f64) -> bool {
        let sheet = &self.sheets[g];
        least + sheet.lift > self.highest[sheet.element] + margin
    }

    /// The near set of some elements (indices ascending).
    pub(crate) fn near(&self, elements: &[usize]) -> Near {
        let mut near = Near { sheets: Vec::new(), elements: Vec::new(), walls: Vec::new() };
        for &e in elements {
            let start = near.sheets.len();
            near.sheets.extend(self.elements[e].clone());
            near.elements.push(start..near.sheets.len());
        }
        if self.bisected.any() {
            for a in 0..near.sheets.len() {
                for b in a + 1..near.sheets.len() {
                    if self.wall_matters(&near, a, b) {
                        near.walls.push((a, b));
                    }
                }
            }
        }
        near
    }

    /// Which near elements may take part in a convex place on a sheet of element `own`, given by its corners. One does not
    /// if the place lies farther from one of its planes than any of its crests, so it is outside it, and than the crests
    /// of `own`, so it owns nothing there.
    pub(crate) fn take_part<'p>(
        &self,
        near: &Near,
        own: usize,
        place: impl Iterator<Item = &'p Point3<f64>> + Clone,
        margin: f64,
    ) -> impl Iterator<Item = bool> {
        let clear = move |&g: &usize| {
            let sheet = &self.sheets[g];
            let least = place.clone().map(|p| sheet.outward(p)).fold(f64::INFINITY, f64::min);
            let beyond = if self.bisected.any() {
                self.highest[sheet.element].max(self.highest[own]) - sheet.lift
            } else {
                sheet.high
            };
            least > beyond + 2.0 * margin
        };
        near.elements.iter().map(move |e| {
            let sheets = &near.sheets[e.clone()];
            let is_own = sheets.first().is_some_and(|&g| self.sheets[g].element == own);
            is_own || !sheets.iter().any(&clear)
        })
    }

    /// Those elements only.
    pub(crate) fn nearer<'p>(
        &self,
        near: &Near,
        own: usize,
        place: impl Iterator<Item = &'p Point3<f64>> + Clone,
        margin: f64,
    ) -> Near {
        let mut kept = Near { sheets: Vec::new(), elements: Vec::new(), walls: Vec::new() };
        let mut new_index = vec![None; near.sheets.len()];
        for (e, takes_part) in near.elements.iter().zip(self.take_part(near, own, place, margin)) {
            if takes_part {
                let start = kept.sheets.len();
                kept.sheets.extend(&near.sheets[e.clone()]);
                kept.elements.push(start..kept.sheets.len());
                for (k, new) in e.clone().zip(start..) {
                    new_index[k] = Some(new);
                }
            }
        }
        let walls = near.walls.iter().filter_map(|&(a, b)| Some((new_index[a]?, new_index[b]?)));
        kept.walls = walls.collect();
        kept
    }

    /// Whether the body can differ between the cells of two sheets: only if their bisected partners do.
    fn wall_matters(&self, near: &Near, a: usize, b: usize) -> bool {
        let (ga, gb) = (near.sheets[a], near.sheets[b]);
        let same_element = self.sheets[ga].element == self.sheets[gb].element;
        let own = [self.sheets[ga].element, self.sheets[gb].element];
        self.bisected.has(ga, gb)
            || near.sheets.iter().any(|&g| {
                g != ga
                    && g != gb
                    && (same_element || !own.contains(&self.sheets[g].element))
                    && self.bisected.has(ga, g) != self.bisected.has(gb, g)
            })
    }

    /// Whether a sample is in the body.
    pub(crate) fn body(&self, near: &Near, sample: &Sample) -> bool {
        if !self.bisected.any() {
            return near.elements.iter().any(|e| sample.below[e.clone()].iter().all(|&b| b));
        }
        let mut own: Option<(f64, usize, bool)> = None;
        // Owner and membership of each element, smallest greatest-distance first found wins.
        for e in &near.elements {
            let Some(o) = greatest(&sample.distance, e.clone()) else { continue };
            let member = self.member(near, sample, e, o);
            if own.is_none_or(|(least, _, _)| sample.distance[o] < least) {
                own = Some((sample.distance[o], o, member));
            }
        }
        let Some((_, owner, member)) = own else { return false };
        member
            || near.elements.iter().any(|e| {
                !e.contains(&owner)
                    && greatest(&sample.distance, e.clone()).is_some_and(|o| {
                        !self.bisected.has(near.sheets[owner], near.sheets[o])
                            && self.member(near, sample, e, o)
                    })
            })
    }

    fn member(&self, near: &Near, sample: &Sample, e: &Range<usize>, owner: usize) -> bool {
        e.clone()
            .all(|k| sample.below[k] || (k != owner && self.bisected.has(near.sheets[owner], near.sheets[k])))
    }
}

fn greatest(distance: &[f64], e: Range<usize>) -> Option<usize> {
    e.max_by(|&a, &b| distance[a].total_cmp(&distance[b]))
}
