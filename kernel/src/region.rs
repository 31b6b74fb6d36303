//! Regions: areas of a flat plane bounded by straight edges, each of which knows what made it.
//!
//! They are combined on an integer grid, so that no two edges of a result cross and none is lost. The grid
//! is a micrometre's thousandth for a part of a metre, and coarser for larger ones; what it rounds is far below
//! anything that is cut.

use crate::drawing::signed_area;
use crate::polygon::holds;
use i_overlay::core::edge_data::{EdgeDataMerge, OverlayEdgeData};
use i_overlay::core::edge_overlay::{EdgeOverlay, InputEdge};
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay::ShapeType;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::core::solver::{Precision, Solver};
use i_overlay::i_float::int::point::IntPoint;
use i_overlay::segm::boolean::ShapeCountBoolean;

/// Grid lines per mm at most; a power of two, so that nothing is rounded on the way back.
const FINEST: f64 = 1_048_576.0;

/// Most grid lines from the middle: products of two such numbers fit the integers they are worked out in.
const MOST_LINES: f64 = 1_073_741_824.0;

/// Most corners that two regions may have together: hundreds of metres of wavy edge.
const MOST_CORNERS: usize = 60_000;

/// How near a crossing must come to a corner to be that corner: one grid line when edges are first parted, four times as many
/// each time that rounding has made new crossings. The library's own step is a root of two: a hundred strips over each other,
/// nearly along one line, were parted into hundreds of thousands of edges before it ended.
const PRECISION: Precision = Precision { start: 0, progression: 4 };

/// Corners nearer to each other than this are one: no saw or torch could tell them apart, mm.
const SHORTEST_EDGE: f64 = 1.0e-5;

/// A closed outline: corners in order, and for each what its edge to the next one is.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Outline {
    pub(crate) points: Vec<[f64; 2]>,
    /// Index of a seam, if the edge lies on one.
    pub(crate) tags: Vec<Option<usize>>,
}

/// A set of outlines that bound an area: outer ones counter-clockwise, holes clockwise.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Region {
    pub(crate) outlines: Vec<Outline>,
}

/// How two regions are combined.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Combine {
    /// What lies in both.
    Intersect,
    /// What lies in either.
    Union,
    /// What lies in the first but not in the second.
    Subtract,
}

impl Outline {
    /// Signed area, positive counter-clockwise, mm².
    pub(crate) fn area(&self) -> f64 {
        signed_area(&self.points)
    }

    /// An outline all of whose edges have one tag.
    pub(crate) fn tagged(points: Vec<[f64; 2]>, tag: Option<usize>) -> Self {
        let tags = vec![tag; points.len()];
        Self { points, tags }
    }
}

impl Region {
    /// Area, mm².
    pub(crate) fn area(&self) -> f64 {
        self.outlines.iter().map(Outline::area).sum()
    }

    /// Whether nothing is left.
    #[cfg(test)]
    pub(crate) fn is_empty(&self) -> bool {
        self.outlines.is_empty()
    }

    /// This region combined with another. Where edges of both coincide, the tag that names a seam stays. More
    /// corners than [`MOST_CORNERS`] cannot be combined in useful time: then this region comes back as it is.
    pub(crate) fn combine(&self, how: Combine, other: &Region) -> Region {
        let Some(first) = self.outlines.iter().chain(&other.outlines).find_map(|o| o.points.first()) else {
            return Region::default();
        };
        if self.corners() + other.corners() > MOST_CORNERS {
            return self.clone();
        }
        // Around the work's own place, so that parts far from the origin keep their accuracy.
        let origin = [first[0].round(), first[1].round()];
        let reach = self.outlines.iter().chain(&other.outlines).flat_map(|o| &o.points);
        let reach =
            reach.flat_map(|p| [p[0] - origin[0], p[1] - origin[1]]).fold(1.0, |m: f64, x| m.max(x.abs()));
        let grid = FINEST.min((MOST_LINES / reach).log2().floor().exp2());
        let mut overlay: EdgeOverlay<i64, Tag> = EdgeOverlay::new(self.corners() + other.corners());
        overlay.solver = Solver::with_precision(PRECISION);
        for (region, role) in [(self, ShapeType::Subject), (other, ShapeType::Clip)] {
            for outline in &region.outlines {
                overlay.add_edges(edges(outline, origin, grid), role);
            }
        }
        let rule = match how {
            Combine::Intersect => OverlayRule::Intersect,
            Combine::Union => OverlayRule::Union,
            Combine::Subtract => OverlayRule::Difference,
        };
        let shapes = overlay.build_vector_shapes(rule, FillRule::NonZero);
        let mut outlines = Vec::new();
        for shape in shapes {
            for (i, contour) in shape.iter().enumerate() {
                #[allow(clippy::cast_precision_loss, reason = "far below 2^52 grid lines")]
                let back = |p: IntPoint<i64>| [p.x as f64 / grid + origin[0], p.y as f64 / grid + origin[1]];
                let outline = Outline {
                    points: contour.iter().map(|e| back(e.a)).collect(),
                    tags: contour.iter().map(|e| e.data.0).collect(),
                };
                outlines.extend(cleaned(outline, i == 0));
            }
        }
        Region { outlines }
    }

    /// Its connected pieces, largest first, each with its outer outline first.
    pub(crate) fn pieces(&self) -> Vec<Region> {
        let (outers, holes): (Vec<&Outline>, Vec<&Outline>) =
            self.outlines.iter().partition(|o| o.area() > 0.0);
        let mut pieces: Vec<Region> = outers.iter().map(|&o| Region { outlines: vec![o.clone()] }).collect();
        for hole in holes {
            let home = (0..pieces.len())
                .filter(|&k| holds(&outers[k].points, inner_point(hole)))
                .min_by(|&j, &k| outers[j].area().total_cmp(&outers[k].area()));
            if let Some(k) = home {
                pieces[k].outlines.push(hole.clone());
            }
        }
        pieces.sort_by(|a, b| b.area().total_cmp(&a.area()));
        pieces
    }

    /// How many corners it has.
    pub(crate) fn corners(&self) -> usize {
        self.outlines.iter().map(|o| o.points.len()).sum()
    }
}

/// What an edge is: the index of its seam.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Tag(Option<usize>);

impl OverlayEdgeData for Tag {
    type Store = ();

    fn merge(both: EdgeDataMerge<ShapeCountBoolean, Self>, (): &mut Self::Store) -> Self {
        // The lower seam, so that the result does not depend on the order of the edges.
        match (both.lhs_data.0, both.rhs_data.0) {
            (Some(a), Some(b)) => Tag(Some(a.min(b))),
            (a, b) => Tag(a.or(b)),
        }
    }
}

#[allow(clippy::cast_possible_truncation, reason = "numbers are bounded far below 2^62 grid lines")]
fn edges(outline: &Outline, origin: [f64; 2], grid: f64) -> Vec<InputEdge<i64, Tag>> {
    let on_grid = |p: [f64; 2]| {
        IntPoint::new(((p[0] - origin[0]) * grid).round() as i64, ((p[1] - origin[1]) * grid).round() as i64)
    };
    let count = outline.points.len();
    (0..count)
        .map(|i| InputEdge {
            a: on_grid(outline.points[i]),
            b: on_grid(outline.points[(i + 1) % count]),
            data: Tag(outline.tags[i]),
        })
        .collect()
}

/// Joins corners that are one and turns the outline the right way; none if no area is left.
fn cleaned(outline: Outline, outer: bool) -> Option<Outline> {
    let mut kept = Outline::default();
    for (p, tag) in outline.points.into_iter().zip(outline.tags) {
        if kept.points.last().is_some_and(|q| near(q, &p)) {
            // The short edge goes; the one that leaves this corner stays.
            if let Some(last) = kept.tags.last_mut() {
                *last = tag;
            }
            continue;
        }
        kept.points.push(p);
        kept.tags.push(tag);
    }
    while kept.points.len() > 1 && near(&kept.points[0], &kept.points[kept.points.len() - 1]) {
        kept.points.pop();
        kept.tags.pop();
    }
    if kept.points.len() < 3 || kept.area() == 0.0 {
        return None;
    }
    if (kept.area() > 0.0) != outer {
        kept.points.reverse();
        kept.tags.reverse();
        // A tag belongs to the edge that leaves its corner; turned round, to the corner after it.
        kept.tags.rotate_left(1);
    }
    Some(kept)
}

fn near(a: &[f64; 2], b: &[f64; 2]) -> bool {
    (a[0] - b[0]).hypot(a[1] - b[1]) < SHORTEST_EDGE
}

/// A point just inside a clockwise hole's rim, within the material around it or on the rim.
fn inner_point(hole: &Outline) -> [f64; 2] {
    let (a, b) = (hole.points[0], hole.points[1]);
    [f64::midpoint(a[0], b[0]), f64::midpoint(a[1], b[1])]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(x: f64, y: f64, side: f64, tag: usize) -> Region {
        let points = vec![[x, y], [x + side, y], [x + side, y + side], [x, y + side]];
        Region { outlines: vec![Outline::tagged(points, Some(tag))] }
    }

    #[test]
    fn edges_of_a_result_know_which_outline_they_come_from() {
        for far in [0.0, 1.0e7] {
            let both =
                square(far, far, 4.0, 1).combine(Combine::Intersect, &square(far + 2.0, far + 2.0, 4.0, 2));
            assert!((both.area() - 4.0).abs() < 1e-9);
            let outline = &both.outlines[0];
            assert_eq!(outline.points.len(), 4);
            for (i, a) in outline.points.iter().enumerate() {
                let b = outline.points[(i + 1) % 4];
                let on_first =
                    [a, &b].iter().all(|p| p[0] == far + 4.0) || [a, &b].iter().all(|p| p[1] == far + 4.0);
                assert_eq!(outline.tags[i], Some(if on_first { 1 } else { 2 }), "{a:?} to {b:?}");
            }
        }
    }

    #[test]
    fn holes_stay_with_the_piece_around_them() {
        let frame = square(0.0, 0.0, 10.0, 0).combine(Combine::Subtract, &square(3.0, 3.0, 4.0, 1));
        let all = frame
            .combine(Combine::Union, &square(4.0, 4.0, 2.0, 2))
            .combine(Combine::Union, &square(20.0, 0.0, 1.0, 3));
        let pieces = all.pieces();
        let areas: Vec<f64> = pieces.iter().map(|p| p.area().round()).collect();
        assert_eq!(areas, [84.0, 4.0, 1.0]);
        assert_eq!(pieces[0].outlines.len(), 2);
        assert!(pieces[0].outlines[0].area() > 0.0 && pieces[0].outlines[1].area() < 0.0);
    }

    #[test]
    fn nothing_and_slivers_vanish() {
        assert!(Region::default().combine(Combine::Union, &Region::default()).is_empty());
        let apart = square(0.0, 0.0, 1.0, 0).combine(Combine::Intersect, &square(5.0, 5.0, 1.0, 1));
        assert!(apart.is_empty());
        let hair = square(0.0, 0.0, 1.0, 0).combine(Combine::Intersect, &square(1.0 - 1e-8, 0.0, 1.0, 1));
        assert!(hair.is_empty(), "{hair:?}");
    }
}
