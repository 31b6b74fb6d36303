//! Tacks along the real, wavy seam lines.
//!
//! Method: a tack at both ends of a line and wherever it turns by more than a set angle within the length of two
//! tacks (an arc of a bend counts as one turn), then as many between as keep the pitch. All of it common practice
//! of sheet-metal shops, no source. Units: mm, degrees.

use crate::seam::{SeamSegment, Side};
use nalgebra::{Point3, Vector3};
use std::collections::BTreeMap;

/// How seams are tacked and run; settings of the stage `welds`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tacking {
    /// Greatest distance from middle to middle of tacks, mm.
    pub pitch: f64,
    /// Length of one tack, mm.
    pub length: f64,
    /// A tack stands wherever the line turns by more than this, degrees.
    pub turn: f64,
}

/// Whether a seam is welded all along.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Run {
    /// Without a break.
    Continuous,
    /// In stitches of this length, their middles this far apart, one at each end.
    Stitch {
        /// Length of a stitch, mm.
        length: f64,
        /// From middle to middle, mm.
        pitch: f64,
    },
}

/// One connected line to be welded.
#[derive(Debug, Clone, PartialEq)]
pub struct WeldLine {
    /// Its vertices, mm; of a ring the first is not repeated.
    pub points: Vec<Point3<f64>>,
    /// Whether the last vertex joins the first.
    pub closed: bool,
}

/// Ends of segments nearer than this are one point, mm: far above rounding, far below any cut.
const SAME: f64 = 0.01;

impl WeldLine {
    /// Its length, mm.
    pub fn length(&self) -> f64 {
        self.stations().last().copied().unwrap_or(0.0)
    }

    /// Distance along the line of every vertex; a ring ends with its whole length.
    fn stations(&self) -> Vec<f64> {
        let closing = self.closed.then(|| self.points.first()).flatten();
        let mut at = 0.0;
        let mut stations = vec![0.0];
        for pair in self.points.iter().chain(closing).collect::<Vec<_>>().windows(2) {
            at += (pair[1] - pair[0]).norm();
            stations.push(at);
        }
        stations
    }

    /// Where tacks are set: distances along the line of their middles, mm, ascending.
    pub fn tacks(&self, rules: &Tacking) -> Vec<f64> {
        let length = self.length();
        if self.points.len() < 2 || length <= 0.0 {
            return Vec::new();
        }
        if length < 2.0 * rules.length {
            return vec![length / 2.0];
        }
        let mut fixed: Vec<f64> = Vec::new();
        let (first, last) = (rules.length / 2.0, length - rules.length / 2.0);
        let turns = self.turns(rules);
        if self.closed {
            fixed.extend(&turns);
            if fixed.is_empty() {
                fixed.push(0.0);
            }
            // Once round, back to the first one.
            fixed.push(fixed[0] + length);
        } else {
            fixed.push(first);
            // A turn within a tack of the end is held by the end's tack.
            fixed.extend(turns.iter().filter(|s| **s >= first + rules.length && **s <= last - rules.length));
            fixed.push(last);
        }
        let mut tacks = Vec::new();
        for pair in fixed.windows(2) {
            let steps = ((pair[1] - pair[0]) / rules.pitch).ceil().max(1.0);
            let mut k = 0.0;
            while k < steps {
                tacks.push(pair[0] + (pair[1] - pair[0]) * k / steps);
                k += 1.0;
            }
        }
        if !self.closed {
            tacks.push(last);
        }
        tacks
    }

    /// Where the line turns by more than the set angle: the middle of each such stretch, at least two tacks apart.
    fn turns(&self, rules: &Tacking) -> Vec<f64> {
        let stations = self.stations();
        let n = stations.len() - 1;
        let at = |i: usize| self.points[i % self.points.len()];
        let directions: Vec<Vector3<f64>> = (0..n).map(|i| at(i + 1) - at(i)).collect();
        let window = 2.0 * rules.length;
        let mut found: Vec<f64> = Vec::new();
        let mut i = 1;
        while i < n {
            let mut j = i;
            let mut sharp = None;
            while j < n && stations[j] - stations[i] <= window {
                if degrees(&directions[i - 1], &directions[j]) >= rules.turn {
                    sharp = Some(j);
                    break;
                }
                j += 1;
            }
            match sharp {
                Some(j) => {
                    let middle = f64::midpoint(stations[i], stations[j]);
                    if found.last().is_none_or(|s| middle - s >= window) {
                        found.push(middle);
                    }
                    i = j + 1;
                }
                None => i += 1,
            }
        }
        found
    }

    /// Length that is welded, mm.
    pub fn welded(&self, run: Run) -> f64 {
        let length = self.length();
        match run {
            Run::Continuous => length,
            Run::Stitch { length: stitch, .. } if length <= stitch => length,
            Run::Stitch { length: stitch, pitch } => {
                let gaps = ((length - stitch) / pitch).ceil();
                let stitches = if self.closed { (length / pitch).ceil() } else { gaps + 1.0 };
                (stitches * stitch).min(length)
            }
        }
    }
}

fn degrees(a: &Vector3<f64>, b: &Vector3<f64>) -> f64 {
    a.cross(b).norm().atan2(a.dot(b)).to_degrees()
}

/// The lines that segments join up to: first those with ends, then rings, each in the order in which their points
/// stand in space. Segments of no length are left out.
pub fn lines<'a>(segments: impl IntoIterator<Item = &'a SeamSegment>) -> Vec<WeldLine> {
    let mut groups: BTreeMap<[Side; 2], Vec<&SeamSegment>> = BTreeMap::new();
    for segment in segments.into_iter().filter(|s| s.length() > 0.0) {
        groups.entry(segment.sides).or_default().push(segment);
    }
    groups.into_values().flat_map(|segments| joined(&segments)).collect()
}

type Key = [i64; 3];

fn key(p: &Point3<f64>) -> Key {
    #[allow(clippy::cast_possible_truncation, reason = "within a thousand kilometres")]
    let grid = |x: f64| (x / SAME).round() as i64;
    [grid(p.x), grid(p.y), grid(p.z)]
}

fn joined(segments: &[&SeamSegment]) -> Vec<WeldLine> {
    let mut at: BTreeMap<Key, Vec<usize>> = BTreeMap::new();
    for (i, s) in segments.iter().enumerate() {
        for p in &s.ends {
            at.entry(key(p)).or_default().push(i);
        }
    }
    let mut used = vec![false; segments.len()];
    let mut lines = Vec::new();
    // Ends and branches first, what is left are rings.
    let starts = at.iter().filter(|(_, s)| s.len() != 2).chain(at.iter().filter(|(_, s)| s.len() == 2));
    for (start, _) in starts {
        while let Some(line) = walk(segments, &at, &mut used, *start) {
            lines.push(line);
        }
    }
    lines
}

/// Follows unused segments from a point to the next end or branch, or back to itself.
fn walk(
    segments: &[&SeamSegment],
    at: &BTreeMap<Key, Vec<usize>>,
    used: &mut [bool],
    start: Key,
) -> Option<WeldLine> {
    let mut here = start;
    let mut points: Vec<Point3<f64>> = Vec::new();
    while let Some(&i) = at[&here].iter().find(|i| !used[**i]) {
        used[i] = true;
        let [a, b] = segments[i].ends;
        let (from, to) = if key(&a) == here { (a, b) } else { (b, a) };
        if points.is_empty() {
            points.push(from);
        }
        points.push(to);
        here = key(&to);
        if here == start || at[&here].len() != 2 {
            break;
        }
    }
    if points.len() < 2 {
        return None;
    }
    let closed = here == start && points.len() > 3;
    if closed {
        points.pop();
    }
    Some(WeldLine { points, closed })
}

#[cfg(test)]
mod tests {
    use super::*;

    const RULES: Tacking = Tacking { pitch: 100.0, length: 10.0, turn: 30.0 };

    fn line(points: &[[f64; 2]]) -> WeldLine {
        let points = points.iter().map(|p| Point3::new(p[0], p[1], 0.0)).collect();
        WeldLine { points, closed: false }
    }

    fn seam(segments: Vec<[[f64; 2]; 2]>) -> Vec<SeamSegment> {
        segments
            .into_iter()
            .map(|ends| SeamSegment {
                ends: ends.map(|p| Point3::new(p[0], p[1], 0.0)),
                sides: [Side::Face(0), Side::Face(1)],
                normals: [Vector3::x(), Vector3::y()],
                angle: 90.0,
                thickness: [2.0, 2.0],
            })
            .collect()
    }

    #[test]
    fn a_straight_seam_has_a_tack_at_both_ends_and_keeps_the_pitch() {
        for length in [21.0, 99.0, 110.0, 111.0, 1000.0] {
            let tacks = line(&[[0.0, 0.0], [length, 0.0]]).tacks(&RULES);
            assert_eq!((tacks[0], *tacks.last().expect("some")), (5.0, length - 5.0), "{length}");
            let widest = tacks.windows(2).map(|w| w[1] - w[0]).fold(0.0, f64::max);
            assert!(widest <= RULES.pitch + 1.0e-9, "{length}: {widest}");
            // One tack less would not keep it.
            assert_eq!(tacks.len(), ((length - 10.0) / 100.0).ceil() as usize + 1, "{length}");
        }
    }

    #[test]
    fn folds_sharper_than_the_set_angle_get_a_tack_of_their_own() {
        // A trapezoid wave: folds of 53 degrees every 50 mm or so.
        let wave = line(&[[0.0, 0.0], [70.0, 0.0], [100.0, 40.0], [170.0, 40.0], [200.0, 0.0], [270.0, 0.0]]);
        let tacks = wave.tacks(&RULES);
        for fold in [70.0, 120.0, 190.0, 240.0] {
            assert!(tacks.iter().any(|t| (t - fold).abs() < 1.0e-9), "none at {fold}: {tacks:?}");
        }
        assert_eq!(tacks.len(), 6);
        let lenient = Tacking { turn: 60.0, ..RULES };
        assert_eq!(wave.tacks(&lenient).len(), 4, "only the pitch");
    }

    #[test]
    fn a_bend_of_many_chords_is_one_turn_with_one_tack_in_its_middle() {
        let mut points = vec![[0.0, 0.0], [300.0, 0.0]];
        for k in 1..=9 {
            let angle = f64::from(k) * 10.0_f64.to_radians();
            points.push([300.0 + 6.0 * angle.sin(), 6.0 - 6.0 * angle.cos()]);
        }
        points.push([306.0, 306.0]);
        let tacks = line(&points).tacks(&RULES);
        let near: Vec<&f64> = tacks.iter().filter(|t| (**t - 305.0).abs() < 20.0).collect();
        assert_eq!(near.len(), 1, "{tacks:?}");
    }

    #[test]
    fn a_short_seam_gets_one_tack_and_none_of_no_length() {
        assert_eq!(line(&[[0.0, 0.0], [15.0, 0.0]]).tacks(&RULES), [7.5]);
        assert!(line(&[[0.0, 0.0], [0.0, 0.0]]).tacks(&RULES).is_empty());
        assert!(line(&[]).tacks(&RULES).is_empty());
    }

    #[test]
    fn a_ring_is_tacked_all_round_without_ends() {
        let mut ring = line(&[[0.0, 0.0], [300.0, 0.0], [300.0, 200.0], [0.0, 200.0]]);
        ring.closed = true;
        let tacks = ring.tacks(&RULES);
        assert_eq!(ring.length(), 1000.0);
        // Three corners are found, and the first one again at the end; the sides in between keep the pitch.
        let round: Vec<f64> = tacks.iter().copied().chain([tacks[0] + 1000.0]).collect();
        assert!(round.windows(2).all(|w| w[1] - w[0] <= 100.0 + 1.0e-9 && w[1] > w[0]), "{round:?}");
        assert!(tacks.len() >= 10);
    }

    #[test]
    fn segments_in_any_order_and_direction_join_to_lines() {
        let pieces = vec![
            [[20.0, 0.0], [30.0, 0.0]],
            [[10.0, 0.0], [0.0, 0.0]],
            [[10.0, 0.0], [20.0, 0.0]],
            [[100.0, 0.0], [100.0, 50.0]],
        ];
        let expected = lines(&seam(pieces.clone()));
        assert_eq!(expected.len(), 2);
        assert_eq!(expected.iter().map(WeldLine::length).sum::<f64>(), 80.0);
        let mut shuffled = pieces;
        shuffled.reverse();
        for s in &mut shuffled {
            s.reverse();
        }
        assert_eq!(lines(&seam(shuffled)), expected);
    }

    #[test]
    fn rings_are_found_and_branches_end_lines() {
        let square = [[0.0, 0.0], [50.0, 0.0], [50.0, 50.0], [0.0, 50.0]];
        let mut pieces: Vec<_> = (0..4).map(|i| [square[i], square[(i + 1) % 4]]).collect();
        let ring = lines(&seam(pieces.clone()));
        assert_eq!((ring.len(), ring[0].closed, ring[0].length()), (1, true, 200.0));
        pieces.push([[50.0, 50.0], [90.0, 90.0]]);
        let branched = lines(&seam(pieces));
        let total: f64 = branched.iter().map(WeldLine::length).sum();
        assert!((total - 200.0 - 40.0 * 2.0_f64.sqrt()).abs() < 1.0e-9, "nothing is lost: {branched:?}");
    }

    #[test]
    fn stitches_reach_both_ends_and_never_exceed_the_line() {
        let run = Run::Stitch { length: 40.0, pitch: 120.0 };
        let welded = |length: f64| line(&[[0.0, 0.0], [length, 0.0]]).welded(run);
        assert_eq!(
            [30.0, 40.0, 100.0, 160.0, 161.0, 1000.0].map(welded),
            [30.0, 40.0, 80.0, 80.0, 120.0, 360.0]
        );
        assert_eq!(line(&[[0.0, 0.0], [70.0, 0.0]]).welded(run), 70.0);
        assert_eq!(line(&[[0.0, 0.0], [500.0, 0.0]]).welded(Run::Continuous), 500.0);
    }

    #[test]
    fn tacks_far_from_the_origin_are_those_near_it() {
        let near = line(&[[0.0, 0.0], [70.0, 0.0], [100.0, 40.0], [400.0, 40.0]]);
        let mut far = near.clone();
        far.points.iter_mut().for_each(|p| *p += Vector3::new(1.0e7, -3.0e6, 0.0));
        let (a, b) = (near.tacks(&RULES), far.tacks(&RULES));
        assert_eq!(a.len(), b.len());
        assert!(a.iter().zip(&b).all(|(a, b)| (a - b).abs() < 1.0e-6));
    }
}
