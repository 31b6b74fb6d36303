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
    let mut next = vec![usize::MAX; count];
    let mut taken = vec![false; count];
    let apart = |i: usize, j: usize| {
        let (a, b) = (segments[i].to, segments[j].from);
        (a[0] - b[0]).hypot(a[1] - b[1])
    };
    let mut closed = true;
    // Nearest first; nearly always nobody competes and one pass is enough.
    let mut clash = false;
    for (i, slot) in next.iter_mut().enumerate() {
        let best = (0..count)
            .map(|j| (apart(i, j), j))
            .min_by(|x, y| x.0.total_cmp(&y.0));
        if let Some((distance, j)) = best {
            if taken[j] || distance > tolerance {
                clash = true;
                break;
            }
            taken[j] = true;
            *slot = j;
        }
    }
    if clash {
        next.fill(usize::MAX);
        taken.fill(false);
        let mut pairs: Vec<(f64, usize, usize)> = (0..count)
            .flat_map(|i| (0..count).map(move |j| (i, j)))
            .map(|(i, j)| (apart(i, j), i, j))
            .filter(|p| p.0 <= tolerance)
            .collect();
        pairs.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
        for (_, i, j) in pairs {
            if next[i] == usize::MAX && !taken[j] {
                next[i] = j;
                taken[j] = true;
                }
        }
        closed = next.iter().all(|&j| j != usize::MAX);
    }
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
