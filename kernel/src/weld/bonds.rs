//! Which parts each stretch of seam joins.
//!
//! Where a face comes in one piece, its part is known by name; where it comes in several, a stretch belongs to the
//! piece whose outline passes nearest to its middle. The same holds for the closure strips of a seam.

use super::assembly::{Bond, Piece};
use crate::part::{Part, PartKind};
use crate::seam::{SeamSegment, Side};
use crate::work::Work;
use nalgebra::Point3;
use std::collections::BTreeMap;

/// Parts and bonds of a work.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Bonds {
    /// One per part of the work.
    pub pieces: Vec<Piece>,
    /// The bonds, by seam and parts.
    pub bonds: Vec<Bond>,
    /// For each bond the segments of its seam that it is made of.
    pub segments: Vec<Vec<usize>>,
    /// Segments that lie on no part, by seam and index: nothing to hold.
    pub loose: Vec<(usize, usize)>,
}

impl Bonds {
    /// All bonds of a work. `asked` tells for a seam whether it is welded inside, outside, and inside by name.
    pub fn new(work: &Work, asked: impl Fn(usize) -> [bool; 3]) -> Self {
        let element_of: BTreeMap<&str, usize> =
            work.faces.iter().map(|f| (f.id.as_str(), f.element)).collect();
        let seam_of: BTreeMap<&str, usize> =
            work.seams.iter().enumerate().map(|(i, s)| (s.id.as_str(), i)).collect();
        let pieces = work
            .parts
            .iter()
            .map(|part| {
                let strip = matches!(part.kind, PartKind::Closure { .. });
                let own = element_of.get(part.face.as_str()).copied();
                let seam =
                    seam_of.get(part.face.as_str()).map(|&s| work.faces[work.seams[s].between[0]].element);
                piece(part, own.or(seam).unwrap_or(0), strip)
            })
            .collect();
        let mut found: BTreeMap<(usize, [usize; 2]), Vec<usize>> = BTreeMap::new();
        let mut loose = Vec::new();
        for (s, seam) in work.seams.iter().enumerate() {
            let candidates = Candidates::new(work, s);
            for (k, segment) in seam.segments.iter().enumerate().filter(|(_, g)| g.length() > 0.0) {
                match candidates.parts(work, segment) {
                    Some(parts) => found.entry((s, parts)).or_default().push(k),
                    None => loose.push((s, k)),
                }
            }
        }
        let mut bonds = Self { pieces, loose, ..Self::default() };
        for ((seam, parts), segments) in found {
            let [inside, outside, required] = asked(seam);
            let length = segments.iter().map(|&k| work.seams[seam].segments[k].length()).sum();
            bonds.bonds.push(Bond { seam, parts, length, inside, outside, required });
            bonds.segments.push(segments);
        }
        bonds
    }
}

fn piece(part: &Part, element: usize, strip: bool) -> Piece {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    let (mut least, mut most) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for at in part.outlines.iter().flatten() {
        let z = part.position(*at, 0.0).z;
        (low, high) = (low.min(z), high.max(z));
        for k in 0..2 {
            (least[k], most[k]) = (least[k].min(at[k]), most[k].max(at[k]));
        }
    }
    if low > high {
        return Piece { element, foot: 0.0, height: 0.0, width: 0.0, strip };
    }
    let width = (most[0] - least[0]).min(most[1] - least[1]);
    Piece { element, foot: low, height: f64::midpoint(low, high), width, strip }
}

/// Parts that can lie along one seam.
struct Candidates {
    of_face: BTreeMap<usize, Vec<usize>>,
    strips: Vec<usize>,
}

impl Candidates {
    fn new(work: &Work, seam: usize) -> Self {
        let this = &work.seams[seam];
        let of_face = this
            .between
            .iter()
            .map(|&f| {
                let id = &work.faces[f].id;
                let sheet = |p: &Part| matches!(p.kind, PartKind::Sheet { .. }) && p.face == *id;
                let all = work.parts.iter().enumerate().filter(|(_, p)| sheet(p));
                let bears = |p: &Part| p.edges.iter().flatten().any(|e| *e == Some(seam));
                let (on, off): (Vec<_>, Vec<_>) = all.partition(|(_, p)| bears(p));
                let parts = if on.is_empty() { off } else { on };
                (f, parts.into_iter().map(|(i, _)| i).collect())
            })
            .collect();
        // The lenses of a seam can come as two sets, one on each side of its plane.
        let strip = |p: &Part| matches!(p.kind, PartKind::Closure { .. }) && p.face == this.id;
        let strips = work.parts.iter().enumerate().filter(|(_, p)| strip(p)).map(|(i, _)| i).collect();
        Self { of_face, strips }
    }

    /// The two parts a segment joins, in the order of its sides.
    fn parts(&self, work: &Work, segment: &SeamSegment) -> Option<[usize; 2]> {
        let middle = nalgebra::center(&segment.ends[0], &segment.ends[1]);
        let first = self.nearest(work, segment.sides[0], &middle, None)?;
        let second = self.nearest(work, segment.sides[1], &middle, Some(first))?;
        Some([first, second])
    }

    fn nearest(&self, work: &Work, side: Side, at: &Point3<f64>, not: Option<usize>) -> Option<usize> {
        let candidates = match side {
            Side::Closure => &self.strips,
            Side::Face(f) => self.of_face.get(&f)?,
        };
        let mut parts = candidates.iter().copied().filter(|p| Some(*p) != not);
        let first = parts.next()?;
        let rest: Vec<usize> = parts.collect();
        if rest.is_empty() {
            return Some(first);
        }
        let distance = |i: usize| distance(&work.parts[i], at);
        let near = |best: (f64, usize), i: usize| {
            let d = distance(i);
            if d < best.0 { (d, i) } else { best }
        };
        Some(rest.into_iter().fold((distance(first), first), near).1)
    }
}

/// Square of the distance of a point from a part's outline in the outline's plane, mm². All edges count: where a part
/// is cut back, its edge along a seam can be lost to the seam beside it.
fn distance(part: &Part, at: &Point3<f64>) -> f64 {
    let p = part.frame.plan(at);
    let mut best = f64::INFINITY;
    for outline in &part.outlines {
        for (k, a) in outline.iter().enumerate() {
            let b = outline[(k + 1) % outline.len()];
            let (d, q) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
            let square = d[0] * d[0] + d[1] * d[1];
            let share =
                if square > 0.0 { ((q[0] * d[0] + q[1] * d[1]) / square).clamp(0.0, 1.0) } else { 0.0 };
            let off = [q[0] - d[0] * share, q[1] - d[1] * share];
            best = best.min(off[0] * off[0] + off[1] * off[1]);
        }
    }
    best
}
