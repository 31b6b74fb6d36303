//! Kerf compensation: closed outlines moved outward or inward by a constant distance.
//!
//! Method: every edge is moved square to itself; corners that open get a mitre or an arc, corners that close
//! are cut off where the moved edges meet. The raw rings so made have winding number 1 or more exactly where
//! the moved outline has material (each edge sweeps a rectangle of winding ±1 between its old and its new
//! place), so that the outline wanted is the boundary of positive winding (X. Chen and S. McMains, "Polygon
//! offsetting by computing winding numbers", ASME DETC 2005). The crate `i_overlay` finds that boundary in
//! 64-bit whole numbers; the grid is a power of two, so that going back to mm rounds nothing and what it found
//! to be free of crossings stays so.
//!
//! Arcs are replaced by the tangents around them, never by chords inside them: a tangent moved back by the
//! same distance runs through the corner again, so that moving out and in returns the corner exactly.
//!
//! Units: mm. Outer outlines run counter-clockwise, holes clockwise; positive distances add material.

use crate::drawing::{Layer, Path, signed_area};
use crate::error::{Error, Result};
use crate::polygon::holds;
use crate::settings::LARGEST_NUMBER;
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay::{IntOverlayOptions, Overlay};
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::i_float::int::point::IntPoint;

/// A closed outline, mm; the first point is not repeated.
pub type Ring = Vec<[f64; 2]>;

/// What is done where an outline turns and the moved edges part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Corner {
    /// The moved edges are run on until they meet; a tip further from its corner than `limit` times the
    /// distance moved is cut off square there. At least 1.
    Sharp {
        /// Longest tip in units of the distance moved.
        limit: f64,
    },
    /// An arc about the corner, replaced by tangents that leave it by at most `tolerance`.
    Round {
        /// Largest distance between tangents and arc, mm.
        tolerance: f64,
    },
}

/// What happened to an outline that did not come through whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ChangeKind {
    /// A piece was narrower than twice the distance everywhere and is gone.
    PieceLost,
    /// A piece fell apart at its necks.
    PieceSplit,
    /// Pieces grew together.
    PiecesJoined,
    /// A hole closed.
    HoleLost,
    /// A hole fell apart into several.
    HoleSplit,
    /// Holes grew together.
    HolesJoined,
    /// A hole broke through to the outside.
    HoleOpened,
    /// The mouth of a pocket closed and left a hole.
    PocketClosed,
    /// Outlines crossed each other or themselves, or a hole lay outside: what they enclose was put right first.
    Crossed,
}

impl ChangeKind {
    /// In words: `a hole closed`.
    pub fn words(self) -> &'static str {
        match self {
            ChangeKind::PieceLost => "a piece vanished",
            ChangeKind::PieceSplit => "a piece fell apart",
            ChangeKind::PiecesJoined => "pieces grew together",
            ChangeKind::HoleLost => "a hole closed",
            ChangeKind::HoleSplit => "a hole fell apart",
            ChangeKind::HolesJoined => "holes grew together",
            ChangeKind::HoleOpened => "a hole broke through to the outside",
            ChangeKind::PocketClosed => "the mouth of a pocket closed",
            ChangeKind::Crossed => "outlines crossed or a hole lay outside, and were put right",
        }
    }
}

/// Something that did not come through whole, and where.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// What happened.
    pub kind: ChangeKind,
    /// A point of the outline it happened to, mm.
    pub at: [f64; 2],
}

/// Outlines after being moved.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Moved {
    /// Outlines free of crossings: each outer one is followed by its holes.
    pub outlines: Vec<Ring>,
    /// What did not come through whole; empty if every outline has its successor.
    pub changes: Vec<Change>,
}

/// Points closer to their neighbour than this, mm, are left out first: the direction of so short an edge is
/// mostly rounding, and a tenth of what offsetting promises hides it.
const LEAST_EDGE: f64 = 1.0e-7;
/// Grid of the boolean operations, as a power of two of a mm: a quarter of a millionth of a micrometre, tens of times
/// finer than what is promised, and coarse enough for works of kilometres. Far from the origin the grid is that of
/// the coordinates themselves.
const FINEST_GRID: i32 = -32;
/// Outlines of the result smaller than this, mm², are rounding.
const LEAST_AREA: f64 = 1.0e-7;
/// Areas that differ by more than this many units of what rounding can do are truly different.
const CROSSED: f64 = 16.0;
/// Corners turning less than this, radians, are mitred without looking further: mitre and arc differ by less
/// than rounding.
const STRAIGHT: f64 = 1.0e-9;
/// Most tangents put about one corner, a guard against a tolerance of nothing.
const MOST_TANGENTS: f64 = 720.0;

/// Moves outlines by `by` mm: outward from the material if positive, into it if negative.
///
/// For kerf compensation `by` is half the kerf. Outlines that cross each other or themselves are read by positive
/// winding before they are moved: a hole across the rim is a bite out of it, a hole outside is nothing, plates
/// that overlap are one; [`ChangeKind::Crossed`] says so.
///
/// # Tolerance
/// Edges lie within 1e-8 mm of their place near the origin, within two units in the last place of the
/// coordinates far from it. Moved by +k and then −k an outline returns within 1e-6 mm wherever neither
/// material nor gaps are narrower than 2k (with round corners: nor inside corners sharper than the arc).
///
/// # Errors
/// A point that is not finite or beyond ±[`LARGEST_NUMBER`]; a distance that is not finite; a limit below 1; a
/// tolerance that is not positive.
pub fn offset(outlines: &[Ring], by: f64, corner: Corner) -> Result<Moved> {
    let longest = validate(outlines, by, corner)?;
    let rings: Vec<Ring> = outlines.iter().map(|o| without_short_edges(o)).filter(|o| o.len() >= 3).collect();
    let all = || rings.iter().flatten();
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for p in all() {
        for i in 0..2 {
            (low[i], high[i]) = (low[i].min(p[i]), high[i].max(p[i]));
        }
    }
    if rings.is_empty() {
        return Ok(Moved { changes: changes(outlines, &[], by), outlines: Vec::new() });
    }
    let reach = longest * by.abs();
    let largest = low.iter().chain(&high).fold(reach, |m, x| m.max(x.abs() + reach));
    let grid = Grid::new(largest, [(low[0] + high[0]) / 2.0, (low[1] + high[1]) / 2.0]);
    let clean =
        grid.positive(rings.iter().map(|ring| ring.iter().map(|p| grid.snap_far(*p)).collect()).collect());
    // The sums over what a hole outside takes away and what doubled material adds would come out wrong.
    let apart = signed_area_of(&rings) - signed_area_of(&clean);
    let around: f64 = rings.iter().map(|r| Path::closed(Layer::Cut, r.clone()).length()).sum();
    let crossed = apart.abs() > LEAST_AREA * CROSSED + around * grid.step * CROSSED;
    let raw: Vec<Vec<IntPoint<i64>>> = clean
        .iter()
        .map(|ring| without_short_edges(ring))
        .filter(|ring| ring.len() >= 3)
        .map(|ring| moved_ring(&ring, by, corner).into_iter().map(|p| grid.snap(p)).collect())
        .collect();
    let back = |rings: Vec<Ring>| -> Vec<Ring> {
        rings.into_iter().map(|r| r.into_iter().map(|p| grid.back(p)).collect()).collect()
    };
    let found = back(grid.positive(raw));
    let clean = back(clean);
    let mut changes = changes(&clean, &found, by);
    if crossed {
        let same =
            |a: &Ring| clean.iter().any(|b| (signed_area(a) - signed_area(b)).abs() <= LEAST_AREA * CROSSED);
        let at = rings.iter().find(|r| !same(r)).or(rings.first()).map_or([0.0; 2], |r| r[0]);
        changes.push(Change { kind: ChangeKind::Crossed, at });
    }
    Ok(Moved { outlines: found, changes })
}

fn signed_area_of(rings: &[Ring]) -> f64 {
    rings.iter().map(|r| signed_area(r)).sum()
}

/// Checks what [`offset`] is given; the longest reach of a corner in units of the distance.
fn validate(outlines: &[Ring], by: f64, corner: Corner) -> Result<f64> {
    let usable = |x: f64| x.is_finite() && x.abs() <= LARGEST_NUMBER;
    if let Some(p) = outlines.iter().flatten().find(|p| !p.iter().all(|&x| usable(x))) {
        return Err(Error::input(format!(
            "the outline has the point {p:?} (allowed: ±{LARGEST_NUMBER:e} mm)"
        )));
    }
    if !usable(by) {
        return Err(Error::input(format!("an outline cannot be moved by {by} mm")));
    }
    match corner {
        Corner::Sharp { limit } if limit.is_finite() && limit >= 1.0 => Ok(limit * std::f64::consts::SQRT_2),
        Corner::Sharp { limit } => Err(Error::input(format!("a mitre limit of {limit} is not at least 1"))
            .remedy("4 keeps corners of 29 degrees and more sharp")),
        Corner::Round { tolerance } if tolerance > 0.0 && tolerance.is_finite() => Ok(2.0),
        Corner::Round { tolerance } => {
            Err(Error::input(format!("a tolerance of {tolerance} mm for arcs is not above 0")))
        }
    }
}

fn without_short_edges(ring: &[[f64; 2]]) -> Ring {
    let near = |a: &[f64; 2], b: &[f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]) < LEAST_EDGE;
    let mut kept: Ring = Vec::with_capacity(ring.len());
    for p in ring {
        if kept.last().is_none_or(|last| !near(last, p)) {
            kept.push(*p);
        }
    }
    while kept.len() > 1 && near(&kept[0], &kept[kept.len() - 1]) {
        kept.pop();
    }
    kept
}

/// Whole-number grid about a local origin; both are powers of two and multiples of them, so that every grid
/// point is a number of f64 exactly.
struct Grid {
    step: f64,
    origin: [f64; 2],
}

impl Grid {
    fn new(largest: f64, middle: [f64; 2]) -> Self {
        // 53 bits of an f64, less one for the sum with the origin.
        const BITS: i32 = 51;
        #[allow(clippy::cast_possible_truncation, reason = "an exponent")]
        let exponent = (largest.max(f64::MIN_POSITIVE).log2().floor() as i32 - BITS).max(FINEST_GRID);
        let step = 2.0_f64.powi(exponent);
        Self { step, origin: middle.map(|x| (x / step).round() * step) }
    }

    fn snap(&self, p: [f64; 2]) -> IntPoint<i64> {
        #[allow(clippy::cast_possible_truncation, reason = "bounded by the choice of the grid")]
        let [x, y] = p.map(|x| (x / self.step).round() as i64);
        IntPoint::new(x, y)
    }

    /// A point given in the coordinates of the outlines.
    fn snap_far(&self, p: [f64; 2]) -> IntPoint<i64> {
        self.snap([p[0] - self.origin[0], p[1] - self.origin[1]])
    }

    /// Outlines of the area of positive winding, about the grid's origin, mm.
    fn positive(&self, rings: Vec<Vec<IntPoint<i64>>>) -> Vec<Ring> {
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small positive area")]
        let least = (LEAST_AREA / (self.step * self.step)) as u128;
        let options =
            IntOverlayOptions::<u128> { min_output_area: least, ogc: true, ..IntOverlayOptions::default() };
        let mut overlay = Overlay::<i64>::from_subj_custom(&rings, options, Default::default());
        let shapes = overlay.overlay(OverlayRule::Subject, FillRule::Positive);
        #[allow(clippy::cast_precision_loss, reason = "bounded by the choice of the grid")]
        let place = |p: &IntPoint<i64>| [p.x, p.y].map(|x| x as f64 * self.step);
        shapes.iter().flatten().map(|ring| ring.iter().map(place).collect()).collect()
    }

    fn back(&self, p: [f64; 2]) -> [f64; 2] {
        [p[0] + self.origin[0], p[1] + self.origin[1]]
    }
}

/// One edge on its way.
struct Edge {
    /// Unit direction.
    u: [f64; 2],
    length: f64,
}

/// A raw ring whose region of positive winding, together with those of the other rings, is what is wanted.
fn moved_ring(ring: &[[f64; 2]], by: f64, corner: Corner) -> Ring {
    let count = ring.len();
    let edges: Vec<Edge> = (0..count)
        .map(|i| {
            let (a, b) = (ring[i], ring[(i + 1) % count]);
            let [x, y] = [b[0] - a[0], b[1] - a[1]];
            let length = x.hypot(y);
            Edge { u: [x / length, y / length], length }
        })
        .collect();
    // At vertex i edge i-1 ends and edge i starts.
    let turns: Vec<[f64; 2]> = (0..count)
        .map(|i| {
            let (a, b) = (edges[(i + count - 1) % count].u, edges[i].u);
            [a[0] * b[0] + a[1] * b[1], a[0] * b[1] - a[1] * b[0]]
        })
        .collect();
    let closing = |i: usize| turns[i][1] * by < 0.0;
    // What a closing corner takes off each of its edges: |by|·tan(θ/2).
    let taken: Vec<f64> = (0..count)
        .map(|i| {
            let [cosine, sine] = turns[i];
            if !closing(i) {
                0.0
            } else if cosine > 0.0 {
                by.abs() * sine.abs() / (1.0 + cosine)
            } else {
                by.abs() * (1.0 - cosine) / sine.abs()
            }
        })
        .collect();
    let stays = |i: usize| taken[i] + taken[(i + 1) % count] < edges[i].length;
    let mut out = Vec::with_capacity(count * 2);
    for i in 0..count {
        let before = (i + count - 1) % count;
        let (v, a, b) = (ring[i], edges[before].u, edges[i].u);
        let [cosine, sine] = turns[i];
        // The right-hand normals: outward where the material is on the left.
        let (na, nb) = ([a[1], -a[0]], [b[1], -b[0]]);
        let [end, start] = [na, nb].map(|n| [v[0] + n[0] * by, v[1] + n[1] * by]);
        let mitre = || {
            let k = by / (1.0 + cosine);
            [v[0] + (na[0] + nb[0]) * k, v[1] + (na[1] + nb[1]) * k]
        };
        let turn = sine.abs().atan2(cosine);
        if turn < STRAIGHT {
            out.push(mitre());
        } else if closing(i) {
            if stays(before) && stays(i) {
                out.push(mitre());
            } else {
                out.extend([end, v, start]);
            }
        } else {
            match corner {
                Corner::Sharp { limit } => {
                    let [half_sine, half_cosine] =
                        [((1.0 - cosine) / 2.0).max(0.0).sqrt(), ((1.0 + cosine) / 2.0).max(0.0).sqrt()];
                    if half_cosine * limit >= 1.0 {
                        out.push(mitre());
                    } else {
                        let run = by.abs() * (limit - half_cosine) / half_sine;
                        out.push([end[0] + a[0] * run, end[1] + a[1] * run]);
                        out.push([start[0] - b[0] * run, start[1] - b[1] * run]);
                    }
                }
                Corner::Round { tolerance } => {
                    let widest = 2.0 * (1.0 / (1.0 + tolerance / by.abs())).acos();
                    let count = (turn / widest).ceil().clamp(1.0, MOST_TANGENTS);
                    let step = turn / count;
                    let radius = by / (step / 2.0).cos();
                    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped")]
                    for k in 0..count as u32 {
                        let angle = (f64::from(k) + 0.5) * step * by.signum();
                        let (s, c) = angle.sin_cos();
                        out.push([
                            v[0] + radius * (na[0] * c - na[1] * s),
                            v[1] + radius * (na[0] * s + na[1] * c),
                        ]);
                    }
                }
            }
        }
    }
    out
}

/// What of `before` has no single successor in `after`.
fn changes(before: &[Ring], after: &[Ring], by: f64) -> Vec<Change> {
    let kept = |rings: &[Ring], outer: bool| -> Vec<(Ring, f64)> {
        let sized = rings.iter().filter(|r| r.len() >= 3).map(|r| (r.clone(), signed_area(r)));
        sized.filter(|(_, area)| (*area > 0.0) == outer && area.abs() > LEAST_AREA).collect()
    };
    let mut found = Vec::new();
    let mut say = |kind, ring: &Ring| found.push(Change { kind, at: ring[0] });
    // Rings that shrink have successors within them; rings that grow lie within their successors.
    for outer in [true, false] {
        let (old, new) = (kept(before, outer), kept(after, outer));
        let grows = (by > 0.0) == outer;
        let (inner, around) = if grows { (&old, &new) } else { (&new, &old) };
        let home: Vec<Option<usize>> =
            inner.iter().map(|(ring, _)| smallest_around(ring[0], around)).collect();
        let count = |k: usize| home.iter().filter(|h| **h == Some(k)).count();
        let [none, many] = match (outer, grows) {
            (true, false) => [ChangeKind::PieceLost, ChangeKind::PieceSplit],
            (true, true) => [ChangeKind::PieceLost, ChangeKind::PiecesJoined],
            (false, false) => [ChangeKind::HoleLost, ChangeKind::HoleSplit],
            (false, true) => [ChangeKind::HoleOpened, ChangeKind::HolesJoined],
        };
        for (k, (ring, _)) in around.iter().enumerate() {
            match count(k) {
                0 if !grows => say(none, ring),
                0 | 1 => {}
                _ => say(many, ring),
            }
        }
        for ((ring, _), _) in inner.iter().zip(&home).filter(|(_, h)| h.is_none()) {
            match (outer, grows) {
                (false, false) => say(ChangeKind::PocketClosed, ring),
                (_, true) => say(none, ring),
                (true, false) => {}
            }
        }
    }
    found.sort_by(|a, b| {
        a.kind.cmp(&b.kind).then(a.at[0].total_cmp(&b.at[0])).then(a.at[1].total_cmp(&b.at[1]))
    });
    found
}

/// The smallest of the rings that hold the point.
fn smallest_around(p: [f64; 2], rings: &[(Ring, f64)]) -> Option<usize> {
    let holding = rings.iter().enumerate().filter(|(_, (ring, _))| holds(ring, p));
    holding.min_by(|a, b| a.1.1.abs().total_cmp(&b.1.1.abs())).map(|(k, _)| k)
}

#[cfg(test)]
mod tests;
