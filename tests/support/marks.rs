//! What match marks must hold, read from their coordinates alone.

use ribwright_kernel::Work;
use ribwright_kernel::part::{Part, PartKind};
use std::collections::BTreeMap;

/// How far the two ends of a pair may lie apart on the assembled parts, mm (issue: 0.05).
const APART: f64 = 0.05;
/// A mark lies on its outline within this, mm: rounding ten kilometres from the origin.
const ON_EDGE: f64 = 1.0e-5;

/// All places a point of the outline comes to lie at: on both outer skins and the middle one.
fn places(part: &Part, at: [f64; 2]) -> [nalgebra::Point3<f64>; 3] {
    let t = part.thickness();
    match part.kind {
        PartKind::Sheet { .. } => [-t / 2.0, t / 2.0, 0.0],
        PartKind::Closure { .. } => [-t, 0.0, -t / 2.0],
    }
    .map(|skin| part.position(at, skin))
}

fn off_its_seam(part: &Part, at: [f64; 2], seam: usize) -> f64 {
    let mut least = f64::INFINITY;
    for (outline, edges) in part.outlines.iter().zip(&part.edges) {
        for (i, _) in edges.iter().enumerate().filter(|(_, s)| **s == Some(seam)) {
            let (a, b) = (outline[i], outline[(i + 1) % outline.len()]);
            let d = [b[0] - a[0], b[1] - a[1]];
            let square = d[0] * d[0] + d[1] * d[1];
            let along = (at[0] - a[0]) * d[0] + (at[1] - a[1]) * d[1];
            let share = if square > 0.0 { (along / square).clamp(0.0, 1.0) } else { 0.0 };
            least = least.min((at[0] - a[0] - d[0] * share).hypot(at[1] - a[1] - d[1] * share));
        }
    }
    least
}

/// Checks every mark of a work; gives the number of pairs and their greatest gap, mm.
///
/// # Panics
/// A mark off its seam, without its twin, or too far from it.
pub fn check_marks(what: &str, work: &Work) -> (usize, f64) {
    /// Who bears a number of a seam, and where.
    type Bearers<'a> = Vec<(&'a Part, [f64; 2])>;
    let mut by_number: BTreeMap<(usize, u32), Bearers<'_>> = BTreeMap::new();
    for part in &work.parts {
        for mark in &part.marks {
            by_number.entry((mark.seam, mark.number)).or_default().push((part, mark.at));
            let off = off_its_seam(part, mark.at, mark.seam);
            assert!(off <= ON_EDGE, "{what}: mark {} of {} lies {off} mm off its seam", mark.number, part.id);
            let twin = work.parts.iter().find(|p| p.id == mark.other).map(|other| {
                let twins = other.marks.iter().filter(|m| m.seam == mark.seam && m.number == mark.number);
                twins.filter(|m| m.other == part.id).count()
            });
            assert_eq!(twin, Some(1), "{what}: mark {} of {} has no twin", mark.number, part.id);
        }
    }
    let mut worst = 0.0_f64;
    for ((seam, number), pair) in &by_number {
        let id = &work.seams[*seam].id;
        let [(a, at_a), (b, at_b)] = pair.as_slice() else {
            panic!("{what}: number {number} of {id} stands {} times", pair.len());
        };
        let mut gap = f64::INFINITY;
        for p in places(a, *at_a) {
            for q in places(b, *at_b) {
                gap = gap.min((p - q).norm());
            }
        }
        assert!(gap <= APART, "{what}: mark {number} of {id} is {gap} mm off its twin");
        worst = worst.max(gap);
    }
    let mut last = BTreeMap::new();
    for (seam, number) in by_number.keys() {
        *last.entry(*seam).or_insert(0) += 1;
        assert_eq!(last[seam], *number, "{what}: a number of {} is left out", work.seams[*seam].id);
    }
    (by_number.len(), worst)
}
