//! Which edges meet: by name, or by length where they bear none.
//!
//! Sewing edge (f, i) to edge (g, j) makes corner (f, i) one with (g, j + 1) and (f, i + 1) with (g, j): faces run
//! counter-clockwise as seen from outside. Edges without names are paired by search: two faces share one edge at
//! most, at every point at least three corners meet with less than a full turn between them, and in the end
//! V − E + F = 2 and the solid must close. Where two ways close nearly as well, nothing is chosen.

use super::fold::{Folded, Sewn, angle, fold};
use super::outline::Corner;
use super::read::TracedFace;
use crate::error::{Error, Result};
use std::collections::BTreeMap;
use std::f64::consts::TAU;

/// Lengths of one edge differ by at most so many of their standard deviations …
const LENGTHS: f64 = 4.0;
/// … or, where nothing closes else, by this share: then one face is drawn too large.
const OVERSIZE: f64 = 0.035;
/// Steps of the search for pairs; a dozen faces with lengths of their own take some hundreds.
const MOST_STEPS: usize = 200_000;
/// Ways folded up at most: what leaves so many open cannot be told apart.
const MOST_WAYS: usize = 200;
/// A corner angle is taken to be off by at most this, radians, where angles are compared.
const ANGLE: f64 = 0.05;
/// A way closes if no corner is off by more than this many of its deviations …
const CLOSES: f64 = 5.0;
/// … and is better than another if the sum of squares of that is so many times less (tracings worse than they say
/// raise both) …
const TIMES: f64 = 4.0;
/// … and by so much (odds of 3000 to 1 for normal errors) besides.
const MARGIN: f64 = 16.0;
/// Faces that close this well, in deviations, need no other start.
const ENOUGH: f64 = 2.5;
/// Squares below this per corner are rounding and tell nothing.
const ROUNDING: f64 = 1.0e-6;
/// Most faces that are tried as drawn from inside, all pairs of them.
const MOST_MIRRORED: usize = 12;
/// Edges named in a message.
const MOST_LISTED: usize = 8;

/// An edge of a face: number of the face, number of the edge.
pub(super) type Side = (usize, usize);

/// How the faces of an element are sewn.
#[derive(Debug, Clone)]
pub(super) struct Sewing {
    /// Edges that meet, the lower first, in order.
    pub(super) pairs: Vec<(Side, Side)>,
    /// The point each corner is.
    pub(super) points: Vec<Vec<usize>>,
    /// How many points there are.
    pub(super) count: usize,
    /// Faces that were drawn from inside; their corners run the other way in `faces`.
    pub(super) mirrored: Vec<usize>,
    /// The faces, counter-clockwise as seen from outside.
    pub(super) faces: Vec<TracedFace>,
    /// The solid folded up; none where it does not close at all.
    pub(super) folded: Option<Folded>,
}

/// Sews the faces of one element.
///
/// # Errors
/// Names borne by one edge or by more than two, edges without partner, no way to close, several ways to close.
pub(super) fn sew(faces: &[TracedFace]) -> Result<Sewing> {
    let element = faces.first().map_or("", |f| f.element.as_str());
    let at = |e: Error| e.at(element);
    if faces.len() < 4 {
        return Err(at(Error::input(format!("{} faces are traced (allowed: 4 or more)", faces.len()))
            .remedy("trace every face, the bottom too")));
    }
    let sides: usize = faces.iter().map(|f| f.corners.len()).sum();
    let named = by_name(faces).map_err(at)?;
    if sides % 2 == 1 {
        return Err(at(Error::input(format!("the faces have {sides} edges together, an odd number"))
            .remedy("look for a corner that was not drawn, or a face that was not traced")));
    }
    let mut failed = None;
    for share in [0.0, OVERSIZE] {
        let found = search(faces, &named, share).map_err(at)?;
        match settled(found, faces, share) {
            Ok(Some(sewing)) => return Ok(sewing),
            Ok(None) => {}
            Err(error) => return Err(at(error)),
        }
        // Faces seen from inside: first each alone, then pairs.
        let count = faces.len().min(MOST_MIRRORED);
        let singles: Vec<Vec<usize>> = (0..faces.len()).map(|f| vec![f]).collect();
        let pairs = (0..count).flat_map(|f| (f + 1..count).map(move |g| vec![f, g])).collect::<Vec<_>>();
        // Of four faces, two turned are as good as the other two; without names, two turned may stand for anything.
        let all_named = faces.iter().all(|f| f.edges.iter().all(Option::is_some));
        let tried = if faces.len() > 4 && all_named { vec![singles, pairs] } else { vec![singles] };
        for sets in tried {
            let mut all = Vec::new();
            for set in sets {
                let turned: Vec<TracedFace> = faces
                    .iter()
                    .enumerate()
                    .map(|(f, face)| if set.contains(&f) { mirrored(face) } else { face.clone() })
                    .collect();
                let named = by_name(&turned).map_err(at)?;
                let mut found = search(&turned, &named, share).map_err(at)?;
                for way in &mut found {
                    way.mirrored.clone_from(&set);
                }
                all.extend(found);
            }
            match settled(all, faces, share) {
                Ok(Some(sewing)) => return Ok(sewing),
                Ok(None) => {}
                Err(error) => return Err(at(error)),
            }
        }
        failed.get_or_insert_with(|| nothing_closes(faces, &named));
    }
    Err(at(failed.unwrap_or_else(|| Error::bug("no search was made"))))
}

/// A face as its outline looks from the other side.
pub(super) fn mirrored(face: &TracedFace) -> TracedFace {
    let mut made = face.clone();
    made.corners.reverse();
    for corner in &mut made.corners {
        corner.at[0] = -corner.at[0];
        corner.covariance[0][1] = -corner.covariance[0][1];
        corner.covariance[1][0] = -corner.covariance[1][0];
    }
    made.points.reverse();
    // Edge k ran from corner k; now it runs from what was corner k + 1.
    made.edges.reverse();
    made.edges.rotate_left(1);
    if let Some([through, along]) = &mut made.ribs {
        (through[0], along[0]) = (-through[0], -along[0]);
    }
    made
}

/// Sides paired by their names.
fn by_name(faces: &[TracedFace]) -> Result<BTreeMap<Side, Side>> {
    let mut bearing: BTreeMap<&str, Vec<Side>> = BTreeMap::new();
    for (f, face) in faces.iter().enumerate() {
        for (k, name) in face.edges.iter().enumerate() {
            if let Some(name) = name {
                bearing.entry(name).or_default().push((f, k));
            }
        }
    }
    let mut pairs = BTreeMap::new();
    for (name, sides) in bearing {
        let [a, b] = sides[..] else {
            let on: Vec<String> = sides.iter().map(|s| faces[s.0].id()).collect();
            let message = format!("edge {name:?} is named {} times, on {}", sides.len(), on.join(", "));
            return Err(Error::input(message).remedy("give each name to two edges, one on either face"));
        };
        if a.0 == b.0 {
            return Err(Error::input(format!("edge {name:?} is named twice on {}", faces[a.0].id()))
                .remedy("give each name to two edges, one on either face"));
        }
        pairs.insert(a, b);
        pairs.insert(b, a);
    }
    Ok(pairs)
}

/// One side in words.
pub(super) fn told(faces: &[TracedFace], side: Side) -> String {
    let face = &faces[side.0];
    let a = face.corners[side.1].at;
    let b = face.corners[(side.1 + 1) % face.corners.len()].at;
    let name = face.edges[side.1].as_ref().map(|n| format!(" {n:?}")).unwrap_or_default();
    format!(
        "edge{name} of {} ({:.1} mm, from ({:.0}, {:.0}) to ({:.0}, {:.0}))",
        face.id(),
        face.edge(side.1).0,
        a[0],
        a[1],
        b[0],
        b[1]
    )
}

fn list(faces: &[TracedFace], sides: &[Side]) -> String {
    let mut all: Vec<String> = sides.iter().take(MOST_LISTED).map(|s| told(faces, *s)).collect();
    if sides.len() > MOST_LISTED {
        all.push(format!("{} more", sides.len() - MOST_LISTED));
    }
    all.join(", ")
}

/// One way to sew the faces, not folded yet.
struct Way {
    pairs: BTreeMap<Side, Side>,
    mirrored: Vec<usize>,
    faces: Vec<TracedFace>,
}

/// State of the search for pairs.
struct Search<'a> {
    faces: &'a [TracedFace],
    angles: Vec<Vec<f64>>,
    able: BTreeMap<Side, Vec<Side>>,
    pairs: BTreeMap<Side, Side>,
    steps: usize,
    ways: Vec<BTreeMap<Side, Side>>,
}

/// All ways to pair the sides, by names and lengths, that make a sphere.
fn search(faces: &[TracedFace], named: &BTreeMap<Side, Side>, share: f64) -> Result<Vec<Way>> {
    let sides: Vec<Side> =
        faces.iter().enumerate().flat_map(|(f, face)| (0..face.corners.len()).map(move |k| (f, k))).collect();
    let like = |a: Side, b: Side| {
        let ((la, da), (lb, db)) = (faces[a.0].edge(a.1), faces[b.0].edge(b.1));
        a.0 != b.0 && (la - lb).abs() <= LENGTHS * da.hypot(db) + share * la.min(lb)
    };
    // Corners with names of their own tell sides apart.
    let ends = |s: Side| {
        let points = &faces[s.0].points;
        (points[s.1].as_deref(), points[(s.1 + 1) % points.len()].as_deref())
    };
    let same = |a: Option<&str>, b: Option<&str>| a.is_none() || b.is_none() || a == b;
    let able = sides
        .iter()
        .map(|&a| {
            let fits = |b: Side| {
                let ((p, q), (r, s)) = (ends(a), ends(b));
                like(a, b) && same(p, s) && same(q, r)
            };
            let found = match named.get(&a) {
                Some(&b) => vec![b],
                None => sides.iter().copied().filter(|b| !named.contains_key(b) && fits(*b)).collect(),
            };
            (a, found)
        })
        .collect();
    let angles = faces
        .iter()
        .map(|face| {
            let outline: Vec<[f64; 2]> = face.corners.iter().map(|c| c.at).collect();
            (0..outline.len()).map(|k| angle(&outline, k)).collect()
        })
        .collect();
    let mut search = Search { faces, angles, able, pairs: BTreeMap::new(), steps: 0, ways: Vec::new() };
    search.go();
    if search.steps >= MOST_STEPS || search.ways.len() >= MOST_WAYS {
        let open: Vec<Side> = search.able.iter().filter(|(_, b)| b.len() > 1).map(|(a, _)| *a).collect();
        return Err(Error::input("too many edges are of equal length to tell which meet")
            .remedy(format!("name edges (edge_NAME on both faces), first of all: {}", list(faces, &open))));
    }
    let ways = search.ways.into_iter();
    Ok(ways.map(|pairs| Way { pairs, mirrored: Vec::new(), faces: faces.to_vec() }).collect())
}

impl Search<'_> {
    fn count(&self, f: usize) -> usize {
        self.faces[f].corners.len()
    }

    fn go(&mut self) {
        self.steps += 1;
        if self.steps >= MOST_STEPS || self.ways.len() >= MOST_WAYS {
            return;
        }
        // The side with the fewest partners left.
        let mut next: Option<(Side, Vec<Side>)> = None;
        for (&a, able) in &self.able {
            if self.pairs.contains_key(&a) {
                continue;
            }
            let left: Vec<Side> = able.iter().copied().filter(|b| self.may(a, *b)).collect();
            if next.as_ref().is_none_or(|(_, fewest)| left.len() < fewest.len()) {
                let none = left.is_empty();
                next = Some((a, left));
                if none {
                    break;
                }
            }
        }
        let Some((a, partners)) = next else {
            if self.is_sphere() {
                self.ways.push(self.pairs.clone());
            }
            return;
        };
        for b in partners {
            self.pairs.insert(a, b);
            self.pairs.insert(b, a);
            let (na, nb) = (self.count(a.0), self.count(b.0));
            if self.round((a.0, a.1))
                && self.round((a.0, (a.1 + 1) % na))
                && self.round((b.0, (b.1 + 1) % nb))
            {
                self.go();
            }
            self.pairs.remove(&a);
            self.pairs.remove(&b);
        }
    }

    /// Whether two sides may be sewn as things stand: both free, and their faces not sewn along another edge.
    fn may(&self, a: Side, b: Side) -> bool {
        !self.pairs.contains_key(&b)
            && (0..self.count(a.0)).all(|k| self.pairs.get(&(a.0, k)).is_none_or(|other| other.0 != b.0))
    }

    /// The corners round a point, from one of them on, and whether they close.
    fn fan(&self, corner: Side) -> (Vec<Side>, bool) {
        let mut fan = vec![corner];
        let mut at = corner;
        // Clockwise over the edge that leaves the corner, then the other way.
        while let Some(&(g, j)) = self.pairs.get(&at) {
            at = (g, (j + 1) % self.count(g));
            if at == corner {
                return (fan, true);
            }
            fan.push(at);
        }
        at = corner;
        loop {
            let before = (at.0, (at.1 + self.count(at.0) - 1) % self.count(at.0));
            let Some(&(g, j)) = self.pairs.get(&before) else { return (fan, false) };
            at = (g, j);
            fan.push(at);
        }
    }

    /// Whether the corners round a point can be those of a convex solid.
    fn round(&self, corner: Side) -> bool {
        let (fan, closed) = self.fan(corner);
        let angles: Vec<f64> = fan.iter().map(|c| self.angles[c.0][c.1]).collect();
        let sum: f64 = angles.iter().sum();
        let largest = angles.iter().copied().fold(0.0, f64::max);
        if sum >= TAU + ANGLE {
            return false;
        }
        // No angle is larger than the others together.
        !closed || fan.len() >= 3 && 2.0 * largest <= sum + ANGLE
    }

    fn is_sphere(&self) -> bool {
        let Some((points, count)) = points(self.faces, &self.pairs) else { return false };
        let edges = self.pairs.len() / 2;
        let closed = (0..self.faces.len()).all(|f| (0..self.count(f)).all(|k| self.round((f, k))));
        let distinct = points.iter().all(|p| {
            let mut sorted = p.clone();
            sorted.sort_unstable();
            sorted.windows(2).all(|w| w[0] != w[1])
        });
        closed && distinct && self.is_one() && count + self.faces.len() == edges + 2
    }

    fn is_one(&self) -> bool {
        let mut seen = vec![false; self.faces.len()];
        let mut waiting = vec![0];
        while let Some(f) = waiting.pop() {
            if !std::mem::replace(&mut seen[f], true) {
                waiting.extend((0..self.count(f)).filter_map(|k| self.pairs.get(&(f, k)).map(|b| b.0)));
            }
        }
        seen.into_iter().all(|s| s)
    }
}

/// Which corners are one point, numbered by their first corner; none if a side has no partner.
fn points(faces: &[TracedFace], pairs: &BTreeMap<Side, Side>) -> Option<(Vec<Vec<usize>>, usize)> {
    let mut first = Vec::with_capacity(faces.len());
    let mut total = 0;
    for face in faces {
        first.push(total);
        total += face.corners.len();
    }
    let mut root: Vec<usize> = (0..total).collect();
    fn find(root: &mut [usize], mut k: usize) -> usize {
        while root[k] != k {
            root[k] = root[root[k]];
            k = root[k];
        }
        k
    }
    for (f, face) in faces.iter().enumerate() {
        for k in 0..face.corners.len() {
            let (g, j) = *pairs.get(&(f, k))?;
            let (here, there) = (first[f] + k, first[g] + (j + 1) % faces[g].corners.len());
            let (a, b) = (find(&mut root, here), find(&mut root, there));
            root[a.max(b)] = a.min(b);
        }
    }
    let mut numbers: BTreeMap<usize, usize> = BTreeMap::new();
    let mut made = Vec::with_capacity(faces.len());
    for (f, face) in faces.iter().enumerate() {
        let of = (0..face.corners.len()).map(|k| {
            let next = numbers.len();
            *numbers.entry(find(&mut root, first[f] + k)).or_insert(next)
        });
        made.push(of.collect());
    }
    Some((made, numbers.len()))
}

/// The way that closes best by far; none if none closes, an error if several do.
fn settled(ways: Vec<Way>, faces: &[TracedFace], share: f64) -> Result<Option<Sewing>> {
    let all_named = faces.iter().all(|f| f.edges.iter().all(Option::is_some));
    let mut closing: Vec<(f64, Sewing)> = Vec::new();
    for way in ways {
        let Some((points, count)) = points(&way.faces, &way.pairs) else { continue };
        let outlines: Vec<Vec<[f64; 2]>> =
            way.faces.iter().map(|f| f.corners.iter().map(|c| c.at).collect()).collect();
        let deviation = |c: &Corner| (c.covariance[0][0] + c.covariance[1][1]).sqrt();
        let all = way.faces.iter().flat_map(|f| &f.corners);
        let enough = ENOUGH * all.map(deviation).fold(f64::INFINITY, f64::min);
        let folded = fold(Sewn { faces: &outlines, points: &points, count }, enough).filter(|f| f.convex);
        let (mut squares, mut closes) = (f64::INFINITY, false);
        if let Some(folded) = &folded {
            squares = 0.0;
            closes = true;
            for (face, off) in way.faces.iter().zip(&folded.off) {
                let size = (0..face.corners.len()).map(|k| face.edge(k).0).fold(0.0, f64::max);
                for (corner, off) in face.corners.iter().zip(off) {
                    let deviation = deviation(corner);
                    squares += (off / deviation).powi(2).max(ROUNDING);
                    closes &= *off <= CLOSES * deviation + share * size;
                }
            }
        }
        // Names are believed, whether the lengths agree or not: what does not close is reported.
        if closes || all_named {
            let pairs = way.pairs.iter().filter(|(a, b)| a < b).map(|(a, b)| (*a, *b)).collect();
            let sewing = Sewing { pairs, points, count, mirrored: way.mirrored, faces: way.faces, folded };
            closing.push((squares, sewing));
        }
    }
    closing.sort_by(|a, b| a.0.total_cmp(&b.0));
    if closing.len() > 1 {
        // Edges of equal length drawn for a face too large are no ground for a choice.
        let clear = share == 0.0 && closing[1].0 >= TIMES * closing[0].0 + MARGIN;
        if !clear {
            let (a, b) = (&closing[0].1, &closing[1].1);
            if a.mirrored != b.mirrored {
                let name =
                    |s: &Sewing| s.mirrored.iter().map(|f| faces[*f].id()).collect::<Vec<_>>().join(", ");
                return Err(Error::input(format!(
                    "a face is drawn as seen from inside, but it may be {} or {}",
                    name(a),
                    name(b)
                ))
                .remedy("trace faces from outside, and name edges (edge_NAME on both faces)"));
            }
            let differ: Vec<Side> = a
                .pairs
                .iter()
                .filter(|pair| !b.pairs.contains(pair))
                .flat_map(|(p, q)| [*p, *q])
                .filter(|s| faces[s.0].edges[s.1].is_none())
                .collect();
            return Err(Error::input("edges of equal length may be sewn in more than one way that closes")
                .remedy(format!("name edges (edge_NAME on both faces): {}", list(faces, &differ))));
        }
    }
    Ok(closing.into_iter().next().map(|(_, sewing)| sewing))
}

/// Why nothing closes.
fn nothing_closes(faces: &[TracedFace], named: &BTreeMap<Side, Side>) -> Error {
    let sides = faces.iter().enumerate().flat_map(|(f, face)| (0..face.corners.len()).map(move |k| (f, k)));
    let all: Vec<Side> = sides.collect();
    let alone: Vec<Side> = all
        .iter()
        .copied()
        .filter(|a| !named.contains_key(a))
        .filter(|a| {
            let (la, da) = faces[a.0].edge(a.1);
            !all.iter().any(|b| {
                let (lb, db) = faces[b.0].edge(b.1);
                b.0 != a.0 && !named.contains_key(b) && (la - lb).abs() <= LENGTHS * da.hypot(db)
            })
        })
        .collect();
    if alone.is_empty() {
        return Error::input("the edges pair off in no way that makes a closed convex solid").remedy(
            "look for a face that was not traced or was drawn from inside, or an edge named wrongly; name more edges",
        );
    }
    Error::input(format!("no other face has an edge as long as {}", list(faces, &alone)))
        .remedy("trace those faces again and check the units, or name the edges (edge_NAME on both faces)")
}
