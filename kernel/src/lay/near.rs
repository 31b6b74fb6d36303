//! Distances between outlines.

use crate::polygon::holds;

/// Less than this is rounding, mm.
pub(crate) const LITTLE: f64 = 0.05;

/// Least distance between two areas, given by their outlines, mm; 0 where they share any.
pub(crate) fn clear(a: &[[f64; 2]], b: &[[f64; 2]]) -> f64 {
    let (Some(&p), Some(&q)) = (a.first(), b.first()) else { return f64::INFINITY };
    if a.len() < 3 || b.len() < 3 {
        return f64::INFINITY;
    }
    if holds(a, q) || holds(b, p) { 0.0 } else { apart(a, b) }
}

/// Least distance between two outlines, mm; 0 where they cross.
pub(crate) fn apart(a: &[[f64; 2]], b: &[[f64; 2]]) -> f64 {
    let edges = |o: &[[f64; 2]]| -> Vec<[[f64; 2]; 2]> {
        (0..o.len()).map(|i| [o[i], o[(i + 1) % o.len()]]).collect()
    };
    let from = |p: [f64; 2], [q, r]: [[f64; 2]; 2]| {
        let (dx, dy) = (r[0] - q[0], r[1] - q[1]);
        let square = dx * dx + dy * dy;
        let along = if square > 0.0 { ((p[0] - q[0]) * dx + (p[1] - q[1]) * dy) / square } else { 0.0 };
        let share = along.clamp(0.0, 1.0);
        (p[0] - q[0] - dx * share).hypot(p[1] - q[1] - dy * share)
    };
    let side =
        |p: [f64; 2], [q, r]: [[f64; 2]; 2]| (r[0] - q[0]) * (p[1] - q[1]) - (r[1] - q[1]) * (p[0] - q[0]);
    let mut least = f64::INFINITY;
    let others = edges(b);
    for e in edges(a) {
        for &f in &others {
            let beyond = |k: usize| {
                let (low, high) = (e[0][k].min(e[1][k]), e[0][k].max(e[1][k]));
                (f[0][k].min(f[1][k]) - high).max(low - f[0][k].max(f[1][k]))
            };
            if beyond(0).max(beyond(1)) >= least {
                continue;
            }
            let crosses = side(e[0], f) * side(e[1], f) < 0.0 && side(f[0], e) * side(f[1], e) < 0.0;
            let near = [from(e[0], f), from(e[1], f), from(f[0], e), from(f[1], e)];
            least = if crosses { 0.0 } else { near.into_iter().fold(least, f64::min) };
            if least == 0.0 {
                return 0.0;
            }
        }
    }
    least
}
