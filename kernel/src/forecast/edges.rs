//! The edges of a seam as connected lines, and places along them.

use crate::seam::{Seam, SeamSegment, Side};
use nalgebra::{Point3, Vector3};
use std::collections::BTreeMap;

/// A connected edge.
#[derive(Debug, Clone)]
pub(super) struct Edge {
    /// What meets there.
    pub(super) sides: [Side; 2],
    /// Its length, mm.
    pub(super) length: f64,
    /// Places along it, evenly spaced.
    pub(super) places: Vec<Place>,
}

/// A place that stands for a piece of an edge.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub(super) point: Point3<f64>,
    /// Unit vector along the edge.
    pub(super) tangent: Vector3<f64>,
    /// Unit normals of the flat pieces on its sides.
    pub(super) normals: [Vector3<f64>; 2],
    /// Distance along the edge, mm.
    pub(super) at: f64,
    /// Length it stands for, mm.
    pub(super) length: f64,
}

/// The edges of a seam; none for laps, splices and open faces.
pub(super) fn edges(seam: &Seam, step: f64) -> Vec<Edge> {
    if seam.joint.tight().is_none() {
        return Vec::new();
    }
    let mut groups: BTreeMap<[Side; 2], Vec<&SeamSegment>> = BTreeMap::new();
    for segment in seam.segments.iter().filter(|s| s.length() > 0.0) {
        groups.entry(segment.sides).or_default().push(segment);
    }
    let mut found = Vec::new();
    for (sides, segments) in groups {
        let run: Vector3<f64> = segments.iter().map(|s| s.ends[1] - s.ends[0]).sum();
        let mut chains = chains(&segments);
        // One after another as they come along the seam.
        let place = |chain: &Vec<&SeamSegment>| chain.first().map_or(0.0, |s| s.ends[0].coords.dot(&run));
        chains.sort_by(|a, b| place(a).total_cmp(&place(b)));
        found.extend(chains.into_iter().map(|chain| edge(sides, &chain, step)));
    }
    found
}

/// A point by its bits: ends of neighbouring segments are the same corner of the shell.
fn key(p: &Point3<f64>) -> [u64; 3] {
    [p.x, p.y, p.z].map(f64::to_bits)
}

/// Joins segments end to start, open runs first, then rings.
fn chains<'a>(segments: &[&'a SeamSegment]) -> Vec<Vec<&'a SeamSegment>> {
    let mut starts: BTreeMap<[u64; 3], Vec<usize>> = BTreeMap::new();
    let mut arrivals: BTreeMap<[u64; 3], usize> = BTreeMap::new();
    for (i, s) in segments.iter().enumerate().rev() {
        starts.entry(key(&s.ends[0])).or_default().push(i);
        *arrivals.entry(key(&s.ends[1])).or_default() += 1;
    }
    let is_first = |&i: &usize| !arrivals.contains_key(&key(&segments[i].ends[0]));
    let (open, rest): (Vec<usize>, Vec<usize>) = (0..segments.len()).partition(is_first);
    let mut used = vec![false; segments.len()];
    let mut found = Vec::new();
    for first in open.into_iter().chain(rest) {
        let (mut chain, mut next) = (Vec::new(), Some(first).filter(|&i| !used[i]));
        while let Some(i) = next {
            used[i] = true;
            chain.push(segments[i]);
            let list = starts.get_mut(&key(&segments[i].ends[1]));
            next = list.and_then(|list| {
                list.retain(|&k| !used[k]);
                list.pop()
            });
        }
        if !chain.is_empty() {
            found.push(chain);
        }
    }
    found
}

fn edge(sides: [Side; 2], chain: &[&SeamSegment], step: f64) -> Edge {
    let length: f64 = chain.iter().map(|s| s.length()).sum();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a length over a step")]
    let count = (length / step).ceil().max(1.0) as usize;
    #[allow(clippy::cast_precision_loss, reason = "small")]
    let piece = length / count as f64;
    let mut rest = chain.iter();
    let mut current = rest.next();
    let mut before = 0.0;
    let places = (0..count)
        .filter_map(|k| {
            #[allow(clippy::cast_precision_loss, reason = "small")]
            let at = (k as f64 + 0.5) * piece;
            while let Some(s) = current {
                if at <= before + s.length() {
                    break;
                }
                match rest.next() {
                    Some(next) => {
                        before += s.length();
                        current = Some(next);
                    }
                    None => break,
                }
            }
            current.map(|s| {
                let share = ((at - before) / s.length()).clamp(0.0, 1.0);
                let run = s.ends[1] - s.ends[0];
                Place {
                    point: s.ends[0] + run * share,
                    tangent: run.normalize(),
                    normals: s.normals,
                    at,
                    length: piece,
                }
            })
        })
        .collect();
    Edge { sides, length, places }
}
