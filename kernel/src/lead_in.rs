//! Lead-ins: where a torch or jet pierces the sheet, in scrap beside the outline, and meets the cut.
//!
//! The pierce makes a wider hole than the cut and splashes; so it lies outside outer outlines and inside holes,
//! and the line from it meets the outline square, in the middle of a straight stretch, away from corners, from
//! marks that end at the outline and from other cuts (common practice, no source).
//!
//! Units: mm. Outer outlines run counter-clockwise, holes clockwise, so that scrap lies on the right.

use crate::kerf::Ring;

/// A short line from the pierce to the outline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeadIn {
    /// Where the sheet is pierced.
    pub pierce: [f64; 2],
    /// Where it meets the outline.
    pub touch: [f64; 2],
    /// The corner that starts the edge it meets.
    pub edge: usize,
}

/// Edges that turn by less than this, radians, are one straight stretch.
const STRAIGHT: f64 = 1.0e-4;
/// Places tried along a stretch, its middle first.
const PLACES: [f64; 3] = [0.5, 0.35, 0.65];
/// Shorter lines tried where there is no room, in shares of the length asked for.
const SHORTER: [f64; 3] = [1.0, 0.5, 0.25];
/// No other cut comes nearer to the pierce than this share of the line's length; the outline it leads to touches
/// that circle.
const ROOM: f64 = 0.999;
/// Stretches looked at, the longest first: a bound for outlines of thousands of edges.
const STRETCHES: usize = 200;

/// The lead-in of one outline among others; `None` where there is no room even for a quarter of the length.
/// `marks` are lines on the part to keep away from by that length; where every straight place is marked, near
/// a mark is better than nowhere.
pub fn lead_in(outlines: &[Ring], of: usize, marks: &[[[f64; 2]; 2]], length: f64) -> Option<LeadIn> {
    let ring = outlines.get(of).filter(|r| r.len() >= 3 && length > 0.0)?;
    let stretches = stretches(ring);
    let cuts: Vec<[[f64; 2]; 2]> =
        outlines.iter().flat_map(|r| (0..r.len()).map(|i| [r[i], r[(i + 1) % r.len()]])).collect();
    for (heed_marks, share) in SHORTER.map(|s| (true, s)).into_iter().chain(SHORTER.map(|s| (false, s))) {
        let length = length * share;
        let clear =
            |p: [f64; 2], lines: &[[[f64; 2]; 2]], room: f64| lines.iter().all(|l| distance(p, *l) >= room);
        for stretch in &stretches {
            if stretch.length < 2.0 * length {
                break;
            }
            for place in PLACES {
                let (edge, touch, u) = stretch.at(ring, place);
                let pierce = [touch[0] + u[1] * length, touch[1] - u[0] * length];
                if clear(pierce, &cuts, length * ROOM) && (!heed_marks || clear(touch, marks, length)) {
                    return Some(LeadIn { pierce, touch, edge });
                }
            }
        }
    }
    None
}

/// A straight run of edges.
struct Stretch {
    /// Corner it starts at.
    start: usize,
    /// Number of edges.
    edges: usize,
    length: f64,
}

impl Stretch {
    /// The edge, the point and the direction at a share of the length.
    fn at(&self, ring: &[[f64; 2]], share: f64) -> (usize, [f64; 2], [f64; 2]) {
        let mut rest = self.length * share;
        for k in 0..self.edges {
            let edge = (self.start + k) % ring.len();
            let (a, length, u) = edge_of(ring, edge);
            if rest <= length || k + 1 == self.edges {
                return (edge, [a[0] + u[0] * rest, a[1] + u[1] * rest], u);
            }
            rest -= length;
        }
        (self.start, ring[self.start], [1.0, 0.0])
    }
}

fn edge_of(ring: &[[f64; 2]], i: usize) -> ([f64; 2], f64, [f64; 2]) {
    let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
    let d = [b[0] - a[0], b[1] - a[1]];
    let length = d[0].hypot(d[1]);
    (a, length, if length > 0.0 { [d[0] / length, d[1] / length] } else { [1.0, 0.0] })
}

/// The straight stretches of a ring, the longest first.
fn stretches(ring: &[[f64; 2]]) -> Vec<Stretch> {
    let count = ring.len();
    let turns = |i: usize| {
        let (u, v) = (edge_of(ring, (i + count - 1) % count).2, edge_of(ring, i).2);
        (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1]).abs() > STRAIGHT
    };
    let corners: Vec<usize> = (0..count).filter(|&i| turns(i)).collect();
    let mut found: Vec<Stretch> = (0..corners.len())
        .map(|k| {
            let start = corners[k];
            let edges = (corners[(k + 1) % corners.len()] + count - start - 1) % count + 1;
            let length = (0..edges).map(|e| edge_of(ring, (start + e) % count).1).sum();
            Stretch { start, edges, length }
        })
        .collect();
    found.sort_by(|a, b| b.length.total_cmp(&a.length).then(a.start.cmp(&b.start)));
    found.truncate(STRETCHES);
    found
}

fn distance(p: [f64; 2], [a, b]: [[f64; 2]; 2]) -> f64 {
    let d = [b[0] - a[0], b[1] - a[1]];
    let square = d[0] * d[0] + d[1] * d[1];
    let share = if square > 0.0 { ((p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1]) / square } else { 0.0 };
    let s = share.clamp(0.0, 1.0);
    (a[0] + d[0] * s - p[0]).hypot(a[1] + d[1] * s - p[1])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::polygon::holds;

    fn plate() -> Vec<Ring> {
        vec![
            vec![[0.0, 0.0], [40.0, 0.0], [100.0, 0.0], [100.0, 60.0], [0.0, 60.0]],
            vec![[20.0, 20.0], [20.0, 40.0], [60.0, 40.0], [60.0, 20.0]],
        ]
    }

    #[track_caller]
    fn check(found: Option<LeadIn>, pierce: [f64; 2], touch: [f64; 2]) {
        let found = found.expect("room");
        let near = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]) < 1e-9;
        assert!(near(found.pierce, pierce) && near(found.touch, touch), "{found:?}");
    }

    #[test]
    fn the_pierce_lies_in_scrap_beside_the_middle_of_the_longest_straight_stretch() {
        // The lower edge is straight through its corner at 40.
        check(lead_in(&plate(), 0, &[], 6.0), [50.0, -6.0], [50.0, 0.0]);
        assert_eq!(lead_in(&plate(), 0, &[], 6.0).map(|l| l.edge), Some(1));
        check(lead_in(&plate(), 1, &[], 6.0), [40.0, 34.0], [40.0, 40.0]);
    }

    #[test]
    fn it_keeps_away_from_marks_and_other_cuts() {
        let mark = [[50.0, 0.0], [50.0, 12.0]];
        check(lead_in(&plate(), 0, &[mark], 6.0), [35.0, -6.0], [35.0, 0.0]);
        // Another part 5 mm below: the other long edge.
        let mut rings = plate();
        rings.push(vec![[0.0, -30.0], [100.0, -30.0], [100.0, -5.0], [0.0, -5.0]]);
        check(lead_in(&rings, 0, &[], 6.0), [50.0, 66.0], [50.0, 60.0]);
    }

    #[test]
    fn small_holes_have_short_ones_and_smaller_ones_none() {
        let small = |half: f64| vec![vec![[-half, -half], [-half, half], [half, half], [half, -half]]];
        let found = lead_in(&small(4.0), 0, &[], 6.0).expect("room");
        let length = (found.pierce[0] - found.touch[0]).hypot(found.pierce[1] - found.touch[1]);
        assert!((length - 3.0).abs() < 1e-9 && holds(&small(4.0)[0], found.pierce), "{found:?}");
        assert_eq!(lead_in(&small(1.0), 0, &[], 6.0), None);
        assert_eq!(lead_in(&small(4.0), 0, &[], 0.0), None);
    }

    #[test]
    fn with_marks_everywhere_there_still_is_one() {
        let marks: Vec<[[f64; 2]; 2]> =
            (0..=200).map(|k| [[f64::from(k) - 50.0, -1.0], [f64::from(k) - 50.0, 61.0]]).collect();
        check(lead_in(&plate(), 0, &marks, 6.0), [50.0, -6.0], [50.0, 0.0]);
    }
}
