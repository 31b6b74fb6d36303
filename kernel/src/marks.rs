//! Match marks: ticks at the edges of two parts that meet when both are in place, numbered alike.
//!
//! A mark stands wherever a crest or a valley of either part crosses the seam, and, where no rib crosses for
//! long, at even steps. Its twin is looked for in space: the point of the other part's edge that comes to lie
//! at the same place, on whichever skin the two parts touch. Where edges do not touch (an open groove, a strip
//! cut back) there is no mark.
//! Units: mm. Cost about O(marks · edges of their seam).

use crate::joint::Joined;
use crate::part::{Marking, MatchMark, Part, PartKind};
use crate::profile::Profile;
use crate::seam::Seam;
use crate::settings::{Setting, SettingKind, Values};
use nalgebra::Point3;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Settings of `.marks(#{…})`.
pub const ROWS: &[Setting] = &[
    Setting {
        name: "on",
        summary: "whether parts get match marks and the names of their neighbours",
        unit: "",
        kind: SettingKind::Flag { default: true },
    },
    Setting {
        name: "tick",
        summary: "length of a match mark, from the edge into the part",
        unit: "mm",
        kind: SettingKind::Number { default: Some(12.0), min: 2.0, max: 200.0 },
    },
    Setting {
        name: "text",
        summary: "height of the numbers of match marks and of the neighbours' names",
        unit: "mm",
        kind: SettingKind::Number { default: Some(6.0), min: 2.0, max: 50.0 },
    },
    Setting {
        name: "clearance",
        summary: "least distance of all writing from every cut",
        unit: "mm",
        kind: SettingKind::Number { default: Some(3.0), min: 0.0, max: 100.0 },
    },
    Setting {
        name: "apart",
        summary: "least distance between two marks of the same two parts; of closer ones the first is kept",
        unit: "mm",
        kind: SettingKind::Number { default: Some(15.0), min: 1.0, max: 1000.0 },
    },
    Setting {
        name: "every",
        summary: "where no crest or valley crosses a seam for longer than this, marks are put between",
        unit: "mm",
        kind: SettingKind::Number { default: Some(500.0), min: 50.0, max: 100_000.0 },
    },
];

/// Edges farther apart than this do not touch, mm. It is what two marks of a pair may differ by on the
/// assembled parts: well below what a scribed line is wide.
pub const TOUCH: f64 = 0.05;

/// A skin is taken before another only where it lies closer by this, mm: rounding of works of some ten metres.
const CLOSER: f64 = 1.0e-6;

/// A point this close to the middle of a crest or valley lies on it, mm.
const ON_CENTRE: f64 = 1.0e-3;

/// A rib that meets the edge at more than this share of a right angle (sine) carries the tick itself.
const STEEP: f64 = 0.6;

/// An edge shorter than this many least distances needs no mark where no rib crosses it.
const SHORT: f64 = 4.0;

/// Fills `marks` and `marking` of every part.
pub fn mark(parts: &mut [Part], seams: &[Seam], values: &Values) {
    let on = values.flag("on");
    for part in parts.iter_mut() {
        part.marks.clear();
        let given = |name: &str| if on { values.number(name) } else { 0.0 };
        part.marking = Marking {
            tick: given("tick"),
            text: given("text"),
            clearance: values.number("clearance"),
            ..Marking::default()
        };
    }
    if !on {
        return;
    }
    let shared: &[Part] = parts;
    let by_seam = edges_by_seam(shared, seams.len());
    let (apart, every) = (values.number("apart"), values.number("every"));
    let found: Vec<(Vec<Pair>, Vec<Touch>)> = by_seam
        .par_iter()
        .enumerate()
        .map(|(s, edges)| {
            let along = Along::new(shared, edges);
            (along.pairs(&seams[s], apart, every), along.touches())
        })
        .collect();
    let faces = neighbours(shared, &found);
    for (part, (names, across)) in parts.iter_mut().zip(faces) {
        (part.marking.neighbours, part.marking.across) = (names, across);
    }
    for (seam, (pairs, _)) in found.into_iter().enumerate() {
        for (number, pair) in (1_u32..).zip(pairs) {
            for (own, other) in [(0, 1), (1, 0)] {
                let other = parts[pair.ends[other].part].id.clone();
                let End { part, at, into, place, .. } = pair.ends[own];
                parts[part].marks.push(MatchMark { seam, number, other, at, into, place });
            }
        }
    }
}

/// Middle of the valley of a profile, from the middle of its crest, mm.
pub(crate) fn valley_of(profile: &Profile) -> f64 {
    let low = profile.min_height();
    let at_bottom = |h: f64| h <= low + f64::EPSILON * profile.depth();
    let ts: Vec<f64> = profile
        .strips()
        .iter()
        .flat_map(|s| [(s.t[0], s.h[0]), (s.t[1], s.h[1])])
        .filter(|&(_, h)| at_bottom(h))
        .map(|(t, _)| t)
        .collect();
    match (ts.first(), ts.last()) {
        (Some(a), Some(b)) => (a + b) / 2.0,
        _ => profile.pitch() / 2.0,
    }
}

/// One straight edge of a part on a seam.
struct Edge {
    part: usize,
    outline: usize,
    index: usize,
    at: [[f64; 2]; 2],
    /// On the middle skin.
    ends: [Point3<f64>; 2],
}

/// One end of a pair of marks.
#[derive(Debug, Clone, Copy)]
struct End {
    part: usize,
    outline: usize,
    index: usize,
    at: [f64; 2],
    into: [f64; 2],
    place: Point3<f64>,
}

/// Two marks that meet.
#[derive(Debug, Clone, Copy)]
struct Pair {
    ends: [End; 2],
}

/// A closure strip's edge and the part that lies across it.
#[derive(Debug, Clone, Copy)]
struct Touch {
    part: usize,
    outline: usize,
    index: usize,
    other: usize,
}

fn edges_by_seam(parts: &[Part], seams: usize) -> Vec<Vec<Edge>> {
    let mut by_seam: Vec<Vec<Edge>> = (0..seams).map(|_| Vec::new()).collect();
    for (p, part) in parts.iter().enumerate() {
        let middle = middle_skin(part);
        for (o, (outline, edges)) in part.outlines.iter().zip(&part.edges).enumerate() {
            for (i, seam) in edges.iter().enumerate() {
                let Some(list) = seam.and_then(|s| by_seam.get_mut(s)) else { continue };
                let at = [outline[i], outline[(i + 1) % outline.len()]];
                let ends = at.map(|a| part.position(a, middle));
                list.push(Edge { part: p, outline: o, index: i, at, ends });
            }
        }
    }
    by_seam
}

/// The skins on which parts may touch: a closure strip's front is its outlines' plane.
fn skins(part: &Part) -> [f64; 3] {
    let thickness = part.thickness();
    match part.kind {
        PartKind::Sheet { .. } => [-thickness / 2.0, thickness / 2.0, 0.0],
        PartKind::Closure { .. } => [-thickness, 0.0, -thickness / 2.0],
    }
}

fn middle_skin(part: &Part) -> f64 {
    skins(part)[2]
}

/// All edges along one seam.
struct Along<'a> {
    parts: &'a [Part],
    edges: &'a [Edge],
    /// Where each edge begins along the axis on which they spread most, mm, ascending, with its index.
    begins: Vec<(f64, usize)>,
    axis: usize,
    /// The furthest that an edge reaches along the axis, mm.
    longest: f64,
    /// Of the parts they bound, mm.
    thickest: f64,
}

impl<'a> Along<'a> {
    fn new(parts: &'a [Part], edges: &'a [Edge]) -> Self {
        let all = edges.iter().flat_map(|e| e.ends);
        let ends = all.fold(None, |ends: Option<[Point3<f64>; 2]>, p| {
            ends.map_or(Some([p, p]), |[low, high]| Some([low.inf(&p), high.sup(&p)]))
        });
        let axis = ends.map_or(0, |[low, high]| (high - low).imax());
        let mut begins: Vec<(f64, usize)> =
            edges.iter().enumerate().map(|(i, e)| (e.ends[0][axis].min(e.ends[1][axis]), i)).collect();
        begins.sort_by(|a, b| a.0.total_cmp(&b.0));
        let longest = edges.iter().map(|e| (e.ends[1][axis] - e.ends[0][axis]).abs()).fold(0.0, f64::max);
        let thickest = edges.iter().map(|e| parts[e.part].thickness()).fold(0.0, f64::max);
        Self { parts, edges, begins, axis, longest, thickest }
    }

    /// Edges that may come as near to a place as `reach`, mm, in their order.
    fn beside(&self, place: &Point3<f64>, reach: f64) -> Vec<&'a Edge> {
        let at = place[self.axis];
        // Twice the reach, so that rounding leaves out nothing that it takes.
        let first = self.begins.partition_point(|b| b.0 < at - self.longest - 2.0 * reach);
        let mut near: Vec<usize> =
            self.begins[first..].iter().take_while(|b| b.0 <= at + 2.0 * reach).map(|b| b.1).collect();
        near.sort_unstable();
        near.into_iter().map(|i| &self.edges[i]).collect()
    }

    /// The pairs of marks in their order along the seam.
    fn pairs(&self, seam: &Seam, apart: f64, every: f64) -> Vec<Pair> {
        let mut found: Vec<Pair> = Vec::new();
        let mut add = |edge: &Edge, share: f64| {
            let Some(pair) = self.pair(edge, share) else { return };
            let same = |old: &Pair| {
                let parts = |p: &Pair| {
                    let [a, b] = p.ends.map(|e| e.part);
                    [a.min(b), a.max(b)]
                };
                parts(old) == parts(&pair) && (old.ends[0].place - pair.ends[0].place).norm() < apart
            };
            if !found.iter().any(same) {
                found.push(pair);
            }
        };
        for edge in self.edges {
            for share in crossings(&self.parts[edge.part], edge) {
                add(edge, share);
            }
        }
        for chain in self.chains() {
            for (edge, share) in self.between(&chain, &found, apart, every) {
                let Some(pair) = self.pair(edge, share) else { continue };
                found.push(pair);
            }
        }
        let line = Line::new(seam);
        let mut placed: Vec<((usize, f64), Pair)> =
            found.into_iter().map(|pair| (line.station(&pair.ends[0].place), pair)).collect();
        placed.sort_by(|(a, p), (b, q)| {
            let parts = |p: &Pair| p.ends.map(|e| e.part);
            a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(parts(p).cmp(&parts(q)))
        });
        placed.into_iter().map(|(_, pair)| pair).collect()
    }

    /// The mark on an edge and its twin; none where nothing touches the edge there.
    fn pair(&self, edge: &Edge, share: f64) -> Option<Pair> {
        let at = lerp(edge.at, share);
        let (own_skin, other, other_at, other_skin) = self.twin(edge, at)?;
        let end = |edge: &Edge, at: [f64; 2], skin: f64| {
            let part = &self.parts[edge.part];
            let Edge { part: p, outline, index, .. } = *edge;
            End { part: p, outline, index, at, into: into(part, edge, at), place: part.position(at, skin) }
        };
        Some(Pair { ends: [end(edge, at, own_skin), end(other, other_at, other_skin)] })
    }

    /// The skin on which a point of an edge is touched, and the touching edge with its point and skin.
    fn twin(&self, edge: &Edge, at: [f64; 2]) -> Option<(f64, &'a Edge, [f64; 2], f64)> {
        let part = &self.parts[edge.part];
        let own = skins(part);
        let places = own.map(|skin| part.position(at, skin));
        let closure = |p: &Part| matches!(p.kind, PartKind::Closure { .. });
        let mut best: Option<(f64, f64, &Edge, [f64; 2], f64)> = None;
        // Edges touch with their skins, which lie about half a thickness from the middle; a sharp fold or
        // a flat angle between the sheets puts them a little further apart.
        let reach = |other: f64| 2.0 * (part.thickness() + other) + TOUCH;
        let beside = self.beside(&places[2], reach(self.thickest));
        for candidate in beside.into_iter().filter(|e| e.part != edge.part) {
            let other = &self.parts[candidate.part];
            let reach = reach(other.thickness());
            if to_segment(&places[2], candidate.ends).1 > reach {
                continue;
            }
            for (i, other_skin) in skins(other).into_iter().enumerate() {
                for (j, (own_skin, place)) in own.into_iter().zip(&places).enumerate() {
                    if i != j && !closure(part) && !closure(other) {
                        continue;
                    }
                    let ends = candidate.at.map(|a| other.position(a, other_skin));
                    let at = lerp(candidate.at, to_segment(place, ends).0);
                    // Beside a sharp fold a straight line of the outline bends a little on other skins.
                    let gap = (other.position(at, other_skin) - place).norm();
                    if gap <= TOUCH && best.is_none_or(|b| gap < b.0 - CLOSER) {
                        best = Some((gap, own_skin, candidate, at, other_skin));
                    }
                }
            }
        }
        best.map(|(_, own_skin, other, at, skin)| (own_skin, other, at, skin))
    }

    /// Unbroken runs of edges of one outline, as indices into `edges`.
    fn chains(&self) -> Vec<Vec<usize>> {
        let mut chains: Vec<Vec<usize>> = Vec::new();
        for (i, edge) in self.edges.iter().enumerate() {
            let follows = |last: &usize| {
                let before = &self.edges[*last];
                (before.part, before.outline, before.index + 1) == (edge.part, edge.outline, edge.index)
            };
            match chains.last_mut().filter(|chain| chain.last().is_some_and(follows)) {
                Some(chain) => chain.push(i),
                None => chains.push(vec![i]),
            }
        }
        // A run over the outline's first vertex was cut in two.
        let mut k = 0;
        while k < chains.len() {
            let first = &self.edges[chains[k][0]];
            let count = self.parts[first.part].outlines[first.outline].len();
            let before = chains.iter().position(|chain| {
                let last = &self.edges[chain[chain.len() - 1]];
                (last.part, last.outline, last.index + 1) == (first.part, first.outline, count)
            });
            match before.filter(|&b| first.index == 0 && b != k) {
                Some(b) => {
                    let head = std::mem::take(&mut chains[k]);
                    chains[b].extend(head);
                    chains.remove(k);
                }
                None => k += 1,
            }
        }
        chains
    }

    /// Places on a chain where marks are put between others that stand too far apart.
    fn between(&self, chain: &[usize], found: &[Pair], apart: f64, every: f64) -> Vec<(&'a Edge, f64)> {
        let mut starts = vec![0.0];
        let mut stations = Vec::new();
        for &i in chain {
            let edge = &self.edges[i];
            let start = starts[starts.len() - 1];
            let length = (edge.ends[1] - edge.ends[0]).norm();
            let on_it = |e: &&End| (e.part, e.outline, e.index) == (edge.part, edge.outline, edge.index);
            let marks = found.iter().flat_map(|pair| &pair.ends).filter(on_it);
            stations.extend(marks.map(|e| start + share_of(edge.at, e.at) * length));
            starts.push(start + length);
        }
        let whole = starts[starts.len() - 1];
        stations.sort_by(f64::total_cmp);
        let mut wanted = Vec::new();
        let mut fill = |from: f64, to: f64, halves: bool| {
            let steps = ((to - from) / every).ceil();
            if halves {
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "few steps")]
                let count = steps as usize;
                wanted.extend((0..count).map(|k| from + (to - from) * (k as f64 + 0.5) / steps));
            } else {
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "few steps")]
                let count = steps as usize;
                wanted.extend((1..count).map(|k| from + (to - from) * k as f64 / steps));
            }
        };
        if stations.is_empty() {
            if whole > SHORT * apart {
                fill(0.0, whole, true);
            }
        } else {
            let ends = [&[0.0], stations.as_slice(), &[whole]].concat();
            for gap in ends.windows(2) {
                fill(gap[0], gap[1], false);
            }
        }
        let place = |w: f64| {
            let i = starts.partition_point(|s| *s <= w).clamp(1, chain.len()) - 1;
            let length = starts[i + 1] - starts[i];
            (&self.edges[chain[i]], if length > 0.0 { (w - starts[i]) / length } else { 0.5 })
        };
        wanted.into_iter().map(place).collect()
    }

    /// What lies across the edges of closure strips.
    fn touches(&self) -> Vec<Touch> {
        let of_closure = |e: &&Edge| matches!(self.parts[e.part].kind, PartKind::Closure { .. });
        self.edges
            .iter()
            .filter(of_closure)
            .filter_map(|edge| {
                let (_, other, ..) = self.twin(edge, lerp(edge.at, 0.5))?;
                let Edge { part, outline, index, .. } = *edge;
                Some(Touch { part, outline, index, other: other.part })
            })
            .collect()
    }
}

/// Where the middles of a part's crests and valleys cross an edge, as shares of the edge.
fn crossings(part: &Part, edge: &Edge) -> Vec<f64> {
    let PartKind::Sheet { profile, phase, .. } = &part.kind else { return Vec::new() };
    if profile.is_flat() {
        return Vec::new();
    }
    let ([t0, t1], pitch) = (edge.at.map(|a| a[1] - phase), profile.pitch());
    let mut shares = Vec::new();
    for first in [0.0, valley_of(profile)] {
        let mut centre = first + ((t0.min(t1) - first) / pitch).floor() * pitch;
        while centre <= t0.max(t1) {
            if (t0 <= centre) != (t1 <= centre) {
                shares.push((centre - t0) / (t1 - t0));
            }
            centre += pitch;
        }
    }
    shares
}

/// Unit direction into the part at a point of an edge: along the rib where one's middle crosses steeply, else
/// square to the edge on the sheet.
fn into(part: &Part, edge: &Edge, at: [f64; 2]) -> [f64; 2] {
    let [a, b] = edge.at;
    let d = [b[0] - a[0], b[1] - a[1]];
    // How much longer than its plan the sheet is here, across the ribs.
    let mut stretch = 1.0;
    if let PartKind::Sheet { profile, phase, .. } = &part.kind {
        let (t0, t1) = if d[1].abs() > ON_CENTRE {
            (a[1] - phase, b[1] - phase)
        } else {
            (at[1] - phase - ON_CENTRE, at[1] - phase + ON_CENTRE)
        };
        stretch = (profile.developed_at(t1, 0.0) - profile.developed_at(t0, 0.0)) / (t1 - t0);
        let from_centre = |c: f64| {
            let off = (at[1] - phase - c).rem_euclid(profile.pitch());
            off.min(profile.pitch() - off)
        };
        let centred = from_centre(0.0).min(from_centre(valley_of(profile))) < ON_CENTRE;
        let steep = (d[1] * stretch).abs() > STEEP * d[0].hypot(d[1] * stretch);
        if !profile.is_flat() && centred && steep {
            return [-d[1].signum(), 0.0];
        }
    }
    // Outlines run counter-clockwise and holes clockwise: the part lies on the left.
    let n = [-d[1] * stretch, d[0] / stretch];
    let norm = n[0].hypot(n[1]);
    if norm > 0.0 { n.map(|x| x / norm) } else { [1.0, 0.0] }
}

fn lerp([a, b]: [[f64; 2]; 2], share: f64) -> [f64; 2] {
    [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share]
}

fn share_of([a, b]: [[f64; 2]; 2], p: [f64; 2]) -> f64 {
    let d = [b[0] - a[0], b[1] - a[1]];
    let square = d[0] * d[0] + d[1] * d[1];
    let along = (p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1];
    if square > 0.0 { (along / square).clamp(0.0, 1.0) } else { 0.0 }
}

/// Share of the nearest point of a segment, and its distance.
fn to_segment(p: &Point3<f64>, [a, b]: [Point3<f64>; 2]) -> (f64, f64) {
    let d = b - a;
    let square = d.norm_squared();
    let share = if square > 0.0 { ((p - a).dot(&d) / square).clamp(0.0, 1.0) } else { 0.0 };
    (share, (p - (a + d * share)).norm())
}

/// A seam as a line to count along.
enum Line<'a> {
    /// Along the wavy line itself: its runs.
    Runs(&'a Seam),
    /// Along the straight line between the ends of its first run: two sheets of a mitred seam are cut on
    /// different lines.
    Straight(Point3<f64>, nalgebra::Vector3<f64>),
}

impl<'a> Line<'a> {
    fn new(seam: &'a Seam) -> Self {
        if let ([run], true) = (seam.runs.as_slice(), seam.joint != Joined::Exact)
            && let (Some(first), Some(last), false) = (run.points.first(), run.points.last(), run.closed)
        {
            return Line::Straight(*first, last - first);
        }
        Line::Runs(seam)
    }

    /// The run a point is nearest to, and how far along it.
    fn station(&self, p: &Point3<f64>) -> (usize, f64) {
        let seam = match self {
            Line::Straight(first, direction) => return (0, (p - first).dot(direction)),
            Line::Runs(seam) => seam,
        };
        let mut best = (f64::INFINITY, (0, 0.0));
        for (r, run) in seam.runs.iter().enumerate() {
            let mut start = 0.0;
            let closing = run.closed.then(|| [run.points[run.points.len() - 1], run.points[0]]);
            for ends in run.points.windows(2).map(|w| [w[0], w[1]]).chain(closing) {
                let length = (ends[1] - ends[0]).norm();
                let (share, distance) = to_segment(p, ends);
                if distance < best.0 {
                    best = (distance, (r, start + share * length));
                }
                start += length;
            }
        }
        best.1
    }
}

/// For each part the names of its neighbours and which of them lies across each edge.
type Neighbours = Vec<(Vec<String>, Vec<Vec<Option<usize>>>)>;

fn neighbours(parts: &[Part], found: &[(Vec<Pair>, Vec<Touch>)]) -> Neighbours {
    let mut touching: BTreeMap<(usize, usize, usize), usize> = BTreeMap::new();
    for touch in found.iter().flat_map(|(_, touches)| touches) {
        touching.insert((touch.part, touch.outline, touch.index), touch.other);
    }
    // The parts of the seam: a sheet's neighbour is the other face, whether or not a strip lies between.
    let mut faces: BTreeMap<usize, BTreeSet<&str>> = BTreeMap::new();
    for part in parts.iter().filter(|p| matches!(p.kind, PartKind::Sheet { .. })) {
        for seam in part.edges.iter().flatten().flatten() {
            faces.entry(*seam).or_default().insert(&part.face);
        }
    }
    parts
        .iter()
        .enumerate()
        .map(|(p, part)| {
            let mut names: Vec<String> = Vec::new();
            let mut index = |name: &str| {
                names.iter().position(|n| n == name).unwrap_or_else(|| {
                    names.push(name.to_owned());
                    names.len() - 1
                })
            };
            let across = part
                .edges
                .iter()
                .enumerate()
                .map(|(o, edges)| {
                    let of = |(i, seam): (usize, &Option<usize>)| {
                        let name = match part.kind {
                            PartKind::Closure { .. } => {
                                touching.get(&(p, o, i)).map(|&other| parts[other].face.as_str())
                            }
                            PartKind::Sheet { .. } => {
                                let all = faces.get(seam.as_ref()?)?;
                                // A splice joins two parts of one face.
                                all.iter().copied().find(|f| *f != part.face).or(all.first().copied())
                            }
                        };
                        name.map(&mut index)
                    };
                    edges.iter().enumerate().map(of).collect()
                })
                .collect();
            (names, across)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::element::Solid;
    use crate::registry::{Registry, find};
    use crate::sculpture::{Element, Sculpture};
    use crate::settings::Value;
    use crate::work::Work;
    use crate::work_out;
    use nalgebra::Vector3;
    use std::sync::Arc;

    /// A box 950 × 700 × 900 mm, ribs up its sides and along x on top; pitch 200, a crest in the middle of
    /// every face.
    fn a_box(given: &[(&str, f64)]) -> Work {
        let registry = Registry::standard();
        let row = find("profile", &registry.profiles, "trapezoid").expect("known");
        let measures =
            [("pitch", 200.0), ("depth", 40.0), ("crest", 70.0), ("valley", 70.0), ("thickness", 2.0)];
        let map = measures.iter().map(|&(n, x)| (n.to_owned(), Value::Number(x))).collect();
        let values = Values::check("trapezoid", row.settings, &map).expect("allowed");
        let sheet = Arc::new((row.build)(&values).expect("possible"));
        let plane =
            |label: &str, p: [f64; 3], n: [f64; 3]| (label.to_owned(), Point3::from(p), Vector3::from(n));
        let planes = vec![
            plane("east", [475.0, 0.0, 0.0], [1.0, 0.0, 0.0]),
            plane("west", [-475.0, 0.0, 0.0], [-1.0, 0.0, 0.0]),
            plane("north", [0.0, 350.0, 0.0], [0.0, 1.0, 0.0]),
            plane("south", [0.0, -350.0, 0.0], [0.0, -1.0, 0.0]),
            plane("top", [0.0, 0.0, 900.0], [0.0, 0.0, 1.0]),
            plane("bottom", [0.0, 0.0, 0.0], [0.0, 0.0, -1.0]),
        ];
        let mut element = Element::new(Solid::from_planes("A", planes).expect("a solid"));
        element.clad(&sheet);
        let mut sculpture = Sculpture::new("box");
        "true".clone_into(&mut sculpture.joint.kind);
        sculpture.marks = given.iter().map(|&(n, x)| (n.to_owned(), Value::Number(x))).collect();
        sculpture.add(element).expect("added");
        work_out(&sculpture, &registry).expect("worked out")
    }

    fn on_seam<'a>(work: &'a Work, part: &str, seam: &str) -> Vec<&'a MatchMark> {
        let seam = work.seams.iter().position(|s| s.id == seam).expect("a seam");
        let part = work.parts.iter().find(|p| p.id == part).expect("a part");
        part.marks.iter().filter(|m| m.seam == seam).collect()
    }

    /// Closed form. Ribs of the south side run up, those of the top along x: only the side's cross their
    /// seam, its crests at x = 0, ±200, ±400 and its valleys at ±100, ±300; the corners lie at ±475 ± 20. On the east
    /// seam the top's ribs cross as well: crests of both at y = 0, ±200, valleys at ±100, ±300 coincide.
    #[test]
    fn every_crest_and_valley_of_a_box_seam_has_one_mark() {
        let work = a_box(&[]);
        for (part, seam, axis, wanted) in [
            (
                "A/south",
                "A/south~A/top",
                0,
                &[-400.0, -300.0, -200.0, -100.0, 0.0, 100.0, 200.0, 300.0, 400.0][..],
            ),
            ("A/east", "A/east~A/top", 1, &[-300.0, -200.0, -100.0, 0.0, 100.0, 200.0, 300.0][..]),
        ] {
            for part in [part, "A/top"] {
                let marks = on_seam(&work, part, seam);
                let mut places: Vec<f64> = marks.iter().map(|m| m.place[axis]).collect();
                let mut by_number = marks.clone();
                by_number.sort_by_key(|m| m.number);
                let row: Vec<f64> = by_number.iter().map(|m| m.place[axis]).collect();
                places.sort_by(f64::total_cmp);
                assert_eq!(places.len(), wanted.len(), "{part} on {seam}: {places:?}");
                for (found, wanted) in places.iter().zip(wanted) {
                    assert!((found - wanted).abs() < TOUCH, "{part} on {seam}: {found} is not {wanted}");
                }
                let rising = row.is_sorted() || row.iter().rev().is_sorted();
                assert!(rising, "{part} on {seam}: numbers do not run along the seam: {row:?}");
                let numbers: Vec<u32> = by_number.iter().map(|m| m.number).collect();
                assert_eq!(numbers, (1..=9).take(wanted.len()).collect::<Vec<u32>>(), "{part} on {seam}");
            }
        }
    }

    /// Ribs run along both sides of an upright edge 900 mm long (less what the wavy ends take): no crest
    /// crosses it, so marks stand in the middles of equal stretches no longer than asked.
    #[test]
    fn seams_along_the_ribs_get_marks_at_even_steps() {
        for (every, wanted) in [(500.0, 2), (1000.0, 1), (250.0, 4)] {
            let work = a_box(&[("every", every)]);
            let mut heights: Vec<f64> =
                on_seam(&work, "A/east", "A/east~A/north").iter().map(|m| m.place.z).collect();
            heights.sort_by(f64::total_cmp);
            assert_eq!(heights.len(), wanted, "every {every}: {heights:?}");
            let steps: Vec<f64> = heights.windows(2).map(|h| h[1] - h[0]).collect();
            assert!(steps.iter().all(|s| (s - steps[0]).abs() < TOUCH && *s <= every), "{steps:?}");
        }
    }

    #[test]
    fn marks_point_into_the_part() {
        let work = a_box(&[]);
        for part in &work.parts {
            for mark in &part.marks {
                let p = [0, 1].map(|i| mark.at[i] + mark.into[i]);
                let crossings = part.outlines.iter().flat_map(|o| {
                    o.iter().zip(o.iter().cycle().skip(1)).filter(|(a, b)| {
                        (a[1] <= p[1]) != (b[1] <= p[1])
                            && a[0] + (b[0] - a[0]) * (p[1] - a[1]) / (b[1] - a[1]) > p[0]
                    })
                });
                assert_eq!(crossings.count() % 2, 1, "{} {:?} does not point into it", part.id, mark);
            }
        }
    }

    #[test]
    fn marks_can_be_left_out_and_close_ones_are_merged() {
        assert!(a_box(&[]).parts.iter().all(|p| !p.marks.is_empty()), "marks by default");
        let few = a_box(&[("apart", 150.0)]);
        let marks = on_seam(&few, "A/south", "A/south~A/top");
        for (i, a) in marks.iter().enumerate() {
            for b in &marks[..i] {
                assert!((a.place - b.place).norm() >= 150.0 - TOUCH, "{a:?} and {b:?} are too close");
            }
        }
        let mut parts = few.parts.clone();
        let off = [("on".to_owned(), Value::Flag(false))].into();
        mark(&mut parts, &few.seams, &Values::check("marks", ROWS, &off).expect("allowed"));
        assert!(parts.iter().all(|p| p.marks.is_empty() && p.marking.tick == 0.0), "none when off");
    }

    #[test]
    fn neighbours_are_named_across_every_edge_that_has_one() {
        let work = a_box(&[]);
        let south = work.parts.iter().find(|p| p.id == "A/south").expect("a part");
        let mut names = south.marking.neighbours.clone();
        names.sort();
        assert_eq!(names, ["A/bottom", "A/east", "A/top", "A/west"]);
        assert!(south.marking.across.iter().flatten().all(Option::is_some), "an edge has no neighbour");
    }
}
