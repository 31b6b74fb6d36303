//! Linking: directed boundary segments joined end to start into closed loops.

use super::carrier::Segment;

/// The loops found, as indices of segments.
#[derive(Debug, Default)]
pub(crate) struct Loops {
    pub(crate) loops: Vec<Vec<usize>>,
    /// Whether every end found a start within the tolerance.
    pub(crate) closed: bool,
}

/// Joins each end to the nearest start, each start taken once. `tolerance` is far above rounding and far
/// below any real feature; a wider gap leaves `closed` false.
pub(crate) fn link(segments: &[Segment], tolerance: f64) -> Loops {
    let count = segments.len();
    // Starts in order along a direction in which no two folds are level with each other; an end looks only
    // at those within the tolerance along it.
    let key = |p: [f64; 2]| 0.8 * p[0] + 0.6 * p[1];
    let mut starts: Vec<(f64, usize)> = segments.iter().map(|s| key(s.from)).zip(0..).collect();
    starts.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut pairs: Vec<(f64, usize, usize)> = Vec::with_capacity(count);
    for (i, segment) in segments.iter().enumerate() {
        let at = key(segment.to);
        let first = starts.partition_point(|s| s.0 < at - tolerance);
        for &(_, j) in starts[first..].iter().take_while(|s| s.0 <= at + tolerance) {
            let (a, b) = (segment.to, segments[j].from);
            let (dx, dy) = (a[0] - b[0], a[1] - b[1]);
            let apart = (dx * dx + dy * dy).sqrt();
            if apart <= tolerance {
                pairs.push((apart, i, j));
            }
        }
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let mut next = vec![usize::MAX; count];
    let mut taken = vec![false; count];
    for (_, i, j) in pairs {
        if next[i] == usize::MAX && !taken[j] {
            next[i] = j;
            taken[j] = true;
        }
    }
    let closed = next.iter().all(|&j| j != usize::MAX);
    let mut seen = vec![false; count];
    let mut loops = Vec::new();
    for start in 0..count {
        let mut ring = Vec::new();
        let mut i = start;
        while i != usize::MAX && !seen[i] {
            seen[i] = true;
            ring.push(i);
            i = next[i];
        }
        if !ring.is_empty() && i == start {
            loops.push(ring);
        }
    }
    Loops { loops, closed }
}
