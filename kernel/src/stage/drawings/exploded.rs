//! Exploded views: the parts of an element moved apart until each is seen whole.
//!
//! Every part is drawn by itself, hidden lines removed, in the parallel projection that all parts of the
//! element share; then it is moved within the picture, away from the element's middle, no further than it
//! takes to stand clear of the others. As the projection is a parallel one, that is the picture of parts that
//! were moved in space.

use super::super::sketch::stem;
use crate::drawing::{Drawing, Path};
use crate::lettering;
use crate::memo::Memo;
use crate::mesh::Mesh;
use crate::part::{Part, PartKind};
use crate::polygon::hull;
use crate::template::room::Words;
use crate::view::{Projection, join_lines, size_of, visible_lines};
use crate::work::{ShellEdge, Work};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Where the element is seen from: degrees counter-clockwise from +x, and above level. Higher than the
/// pictorial view of the whole work, so that the parts at the back rise out behind those in front.
const SEEN_FROM: [f64; 2] = [-58.0, 32.0];
/// Height of the names as a share of the element's greatest extent in the picture: 2.5 mm and more on A4.
const LETTERS: f64 = 1.0 / 20.0;
/// Least space between parts, in heights of the names.
const APART: f64 = 0.9;
/// Steps by which a part is moved away, as a share of the element's extent.
const STEP: f64 = 1.0 / 30.0;
/// Most steps tried; beyond, a part stays where it is.
const STEPS: u32 = 150;
/// Turns off the straight way out that are tried, degrees: a part may go round another one.
const TURNS: [f64; 9] = [0.0, 12.0, -12.0, 25.0, -25.0, 40.0, -40.0, 60.0, -60.0];
/// A turn by this many degrees is worth going this share further, degrees.
const TURN_COST: f64 = 90.0;
/// Parts below this share of the largest one find their place between the others.
const SMALL: f64 = 0.15;
/// How far the way out follows the part's face instead of its place.
const FACING: f64 = 0.6;
/// Levels of a part closer than this are one, mm.
const SAME_LEVEL: f64 = 1.0e-6;

/// One drawing for each element that has parts.
pub(super) fn drawings(work: &Work, memo: &Memo) -> Vec<Drawing> {
    let element_of: BTreeMap<&str, usize> = work.faces.iter().map(|f| (f.id.as_str(), f.element)).collect();
    // A closure strip goes with the first face of its seam.
    let seam_of: BTreeMap<&str, usize> =
        work.seams.iter().map(|s| (s.id.as_str(), work.faces[s.between[0]].element)).collect();
    let element = |part: &Part| {
        let face = part.face.as_str();
        element_of.get(face).or_else(|| seam_of.get(face)).copied()
    };
    (0..work.sculpture.elements.len())
        .into_par_iter()
        .filter_map(|e| {
            let parts: Vec<&Part> = work.parts.iter().filter(|p| element(p) == Some(e)).collect();
            let name = &work.sculpture.elements[e].solid.name;
            let of = || parts.iter().map(|p| (*p).clone()).collect::<Vec<Part>>();
            let picture = memo.made(&format!("exploded {name}"), of, || Ok(exploded(&parts))).ok()?;
            Some(Drawing {
                title: format!("{name} taken apart, {} parts, seen from the south-east", parts.len()),
                name: format!("{}-exploded", stem(name)),
                ..Arc::unwrap_or_clone(picture)?
            })
        })
        .collect()
}

/// The picture of some parts; `None` when there are none.
fn exploded(parts: &[&Part]) -> Option<Drawing> {
    let projection = Projection::from_direction(SEEN_FROM[0], SEEN_FROM[1]);
    let corners: Vec<Point3<f64>> = parts.iter().flat_map(|p| corners_of(p)).collect();
    let first = *corners.first()?;
    let (low, high) = corners.iter().fold((first, first), |(l, h), p| (l.inf(p), h.sup(p)));
    let middle = nalgebra::center(&low, &high);
    let seen = corners.iter().map(|p| projection.project(&(p - middle)).xy());
    let extent = seen.fold(0.0, |m: f64, p| m.max(p.x.abs()).max(p.y.abs())) * 2.0;
    let letters = extent * LETTERS;
    let mut pictures: Vec<Picture> =
        parts.par_iter().filter_map(|p| Picture::of(p, &projection, &middle, letters)).collect();
    // Large parts first, and of those what the viewer sees from outside: they stay nearest to their place.
    let largest = pictures.iter().map(|p| p.area).fold(0.0, f64::max);
    let small = |p: &Picture| p.area < largest * SMALL;
    pictures.sort_by(|a, b| {
        small(a).cmp(&small(b)).then(if small(a) {
            b.area.total_cmp(&a.area)
        } else {
            b.facing.total_cmp(&a.facing)
        })
    });
    let mut drawing = Drawing::default();
    let mut placed: Vec<Vec<[f64; 2]>> = Vec::new();
    for picture in pictures {
        let by = picture.way_out(&placed, extent, letters * APART);
        let moved = |p: &[f64; 2]| [p[0] + by[0], p[1] + by[1]];
        placed.extend(picture.fills.iter().map(|f| f.iter().map(moved).collect()));
        drawing.paths.extend(picture.paths.iter().map(|p| Path {
            layer: p.layer,
            points: p.points.iter().map(moved).collect(),
            closed: p.closed,
        }));
        drawing.labels.push(picture.words.label(moved(&picture.named_at), letters, 0.0));
    }
    (!drawing.paths.is_empty()).then_some(drawing)
}

/// One part in the picture, where it is at home.
struct Picture {
    paths: Vec<Path>,
    words: Words,
    named_at: [f64; 2],
    /// Convex outlines of the part and of its name.
    fills: Vec<Vec<[f64; 2]>>,
    /// Of the part itself, mm².
    area: f64,
    /// Towards the viewer (1) or away (-1).
    facing: f64,
    /// Direction in which it is moved; zero where it looks straight at the viewer.
    outward: [f64; 2],
}

impl Picture {
    fn of(part: &Part, projection: &Projection, origin: &Point3<f64>, letters: f64) -> Option<Self> {
        let (mesh, edges) = surface(part, &projection.toward);
        let size = size_of(&mesh)?;
        let paths = join_lines(&visible_lines(&mesh, &edges, projection, origin), size);
        let points: Vec<[f64; 2]> =
            mesh.points.iter().map(|p| projection.project(&(p - origin))).map(|p| [p.x, p.y]).collect();
        let hull = hull(points);
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for p in &hull {
            (low, high) = ([low[0].min(p[0]), low[1].min(p[1])], [high[0].max(p[0]), high[1].max(p[1])]);
        }
        let facing = part.frame.n.dot(&projection.toward);
        let sheet = matches!(part.kind, PartKind::Sheet { .. });
        let text = if sheet && facing < 0.0 { format!("{} (inside)", part.id) } else { part.id.clone() };
        let half = lettering::width(&text, letters) / 2.0;
        let named_at = [f64::midpoint(low[0], high[0]), low[1] - 1.1 * letters];
        let name = [[-half, -0.8], [half, -0.8], [half, 0.7], [-half, 0.7]]
            .map(|[x, y]| [named_at[0] + x, named_at[1] + y * letters]);
        let [[sum_x, sum_y, sum_z], [.., count]] =
            mesh.points.iter().fold([[0.0; 3], [0.0; 3]], |[s, c], p| {
                let d = p - origin;
                [[s[0] + d.x, s[1] + d.y, s[2] + d.z], [0.0, 0.0, c[2] + 1.0]]
            });
        let centre = Vector3::new(sum_x, sum_y, sum_z) / count;
        let out = centre / centre.norm().max(f64::MIN_POSITIVE) + part.frame.n * FACING;
        let out = projection.project(&out);
        let length = out.xy().norm();
        // What looks straight at the viewer has no way out: it stays, and at the back it goes down.
        let outward = if length > 0.15 { [out.x / length, out.y / length] } else { [0.0, -1.0] };
        let (words, fills) = (Words::new(&text), vec![hull, name.to_vec()]);
        Some(Self { paths, words, named_at, fills, area: part.area, facing, outward })
    }

    /// The shortest move that takes it clear of all that is placed.
    fn way_out(&self, placed: &[Vec<[f64; 2]>], extent: f64, margin: f64) -> [f64; 2] {
        let mut best = (f64::INFINITY, [0.0; 2]);
        let mut pairs: Vec<Pair<'_>> =
            self.fills.iter().flat_map(|mine| placed.iter().map(|other| Pair::new(mine, other))).collect();
        for turn in TURNS {
            let (sin, cos) = turn.to_radians().sin_cos();
            let [x, y] = self.outward;
            let way = [x * cos - y * sin, x * sin + y * cos];
            for step in 1..=STEPS {
                let far = f64::from(step) * STEP * extent;
                let cost = far * (1.0 + turn.abs() / TURN_COST);
                if cost >= best.0 {
                    break;
                }
                let by = [way[0] * far, way[1] * far];
                // What was in the way a step ago most likely still is: it is asked first.
                let in_the_way = pairs.iter_mut().position(|pair| !pair.are_apart(by, margin));
                if let Some(at) = in_the_way {
                    pairs.swap(0, at);
                } else {
                    best = (cost, by);
                    break;
                }
            }
        }
        best.1
    }
}

/// A direction in which two outlines are looked at, and what each takes of it.
struct Seen {
    axis: [f64; 2],
    mine: [f64; 2],
    other: [f64; 2],
}

impl Seen {
    fn new(axis: [f64; 2], mine: &[[f64; 2]], other: &[[f64; 2]]) -> Self {
        let span = |points: &[[f64; 2]]| {
            points.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |s, p| {
                let x = p[0] * axis[0] + p[1] * axis[1];
                [s[0].min(x), s[1].max(x)]
            })
        };
        Self { axis, mine: span(mine), other: span(other) }
    }

    fn are_apart(&self, by: [f64; 2], margin: f64) -> bool {
        let shift = by[0] * self.axis[0] + by[1] * self.axis[1];
        let (m, o) = (self.mine.map(|x| x + shift), self.other);
        m[0] > o[1] + margin || o[0] > m[1] + margin
    }
}

/// Two convex outlines that are asked about again and again.
struct Pair<'a> {
    mine: &'a [[f64; 2]],
    other: &'a [[f64; 2]],
    square: [Seen; 2],
    /// Along the sides of both, looked at when it is first needed.
    sides: Option<Vec<Seen>>,
}

impl<'a> Pair<'a> {
    fn new(mine: &'a [[f64; 2]], other: &'a [[f64; 2]]) -> Self {
        let square = [[1.0, 0.0], [0.0, 1.0]].map(|axis| Seen::new(axis, mine, other));
        Self { mine, other, square, sides: None }
    }

    fn are_apart(&mut self, by: [f64; 2], margin: f64) -> bool {
        if self.square.iter().any(|seen| seen.are_apart(by, margin)) {
            return true;
        }
        let (mine, other) = (self.mine, self.other);
        let sides = self.sides.get_or_insert_with(|| {
            [mine, other]
                .into_iter()
                .flat_map(square_to_sides)
                .map(|axis| Seen::new(axis, mine, other))
                .collect()
        });
        let apart = sides.iter().position(|seen| seen.are_apart(by, margin));
        if let Some(at) = apart {
            // It most likely parts them a step further too.
            sides.swap(0, at);
        }
        apart.is_some()
    }
}

/// Directions square to the sides of an outline.
fn square_to_sides(points: &[[f64; 2]]) -> impl Iterator<Item = [f64; 2]> + '_ {
    (0..points.len()).filter_map(|i| {
        let (a, b) = (points[i], points[(i + 1) % points.len()]);
        let length = (b[0] - a[0]).hypot(b[1] - a[1]);
        (length > 0.0).then_some([(b[1] - a[1]) / length, (a[0] - b[0]) / length])
    })
}

/// Whether two convex outlines keep at least `margin`, one moved by `by`, seen along one of their sides.
#[cfg(test)]
pub(super) fn are_apart(mine: &[[f64; 2]], by: [f64; 2], other: &[[f64; 2]], margin: f64) -> bool {
    Pair::new(mine, other).are_apart(by, margin)
}

/// Corners of a part in space, on its middle skin.
fn corners_of(part: &Part) -> Vec<Point3<f64>> {
    part.outlines.iter().flatten().map(|p| part.position(*p, 0.0)).collect()
}

/// A part's middle skin as triangles seen from both sides, with its border and its folds.
fn surface(part: &Part, toward: &Vector3<f64>) -> (Mesh, Vec<ShellEdge>) {
    let mut mesh = Mesh { names: vec!["front".to_owned(), "back".to_owned()], ..Mesh::default() };
    let mut levels: Vec<f64> = part.outlines.iter().flatten().map(|p| p[1]).collect();
    levels.sort_by(f64::total_cmp);
    levels.dedup_by(|a, b| (*a - *b).abs() < SAME_LEVEL);
    for slab in levels.windows(2) {
        let middle = f64::midpoint(slab[0], slab[1]);
        let mut sides: Vec<[f64; 3]> = crossings(part, middle)
            .map(|[a, b]| {
                let at = |t: f64| a[0] + (b[0] - a[0]) * ((t - a[1]) / (b[1] - a[1])).clamp(0.0, 1.0);
                [at(middle), at(slab[0]), at(slab[1])]
            })
            .collect();
        sides.sort_by(|x, y| x[0].total_cmp(&y[0]));
        for pair in sides.chunks_exact(2) {
            let first = u32::try_from(mesh.points.len()).unwrap_or(u32::MAX);
            let plan =
                [[pair[0][1], slab[0]], [pair[1][1], slab[0]], [pair[1][2], slab[1]], [pair[0][2], slab[1]]];
            mesh.points.extend(plan.map(|p| part.position(p, 0.0)));
            for [a, b, c] in [[0, 1, 2], [0, 2, 3]] {
                // u × v is outward, so this turns left seen from outside.
                mesh.triangles.extend([[first + a, first + b, first + c], [first + a, first + c, first + b]]);
                mesh.part_of.extend([0, 1]);
            }
        }
    }
    let mut edges = Vec::new();
    for outline in &part.outlines {
        for (i, a) in outline.iter().enumerate() {
            let b = outline[(i + 1) % outline.len()];
            let n = normal_at(part, f64::midpoint(a[1], b[1]));
            edges.push(ShellEdge {
                ends: [*a, b].map(|p| part.position(p, 0.0)),
                sides: [0, 1],
                normals: [n, -n],
            });
        }
    }
    edges.extend(folds(part, [levels.first(), levels.last()], toward));
    (mesh, edges)
}

/// The edges of a part's outlines that cross a level.
fn crossings(part: &Part, level: f64) -> impl Iterator<Item = [[f64; 2]; 2]> + '_ {
    part.outlines
        .iter()
        .flat_map(|o| o.iter().enumerate().map(|(i, a)| [*a, o[(i + 1) % o.len()]]))
        .filter(move |[a, b]| (a[1] <= level) != (b[1] <= level))
}

/// The folds of a part; where the viewer looks at its inside, as folds of its inside.
fn folds(part: &Part, range: [Option<&f64>; 2], toward: &Vector3<f64>) -> Vec<ShellEdge> {
    let (PartKind::Sheet { profile, phase, .. }, [Some(low), Some(high)]) = (&part.kind, range) else {
        return Vec::new();
    };
    if profile.is_flat() {
        return Vec::new();
    }
    let mut edges = Vec::new();
    for k in profile.strip_index(low - phase) + 1..=profile.strip_index(high - phase) {
        let t = profile.fold_t(k) + phase;
        let normals = [k - 1, k].map(|k| of_slope(part, profile.slope(k)));
        let away = normals.iter().all(|n| n.dot(toward) < 0.0);
        let mut stretch: Vec<f64> =
            crossings(part, t).map(|[a, b]| a[0] + (b[0] - a[0]) * ((t - a[1]) / (b[1] - a[1]))).collect();
        stretch.sort_by(f64::total_cmp);
        for pair in stretch.chunks_exact(2) {
            edges.push(ShellEdge {
                ends: [pair[0], pair[1]].map(|s| part.position([s, t], 0.0)),
                sides: [0, 0],
                normals: if away { normals.map(|n| -n) } else { normals },
            });
        }
    }
    edges
}

/// Outward normal of the strip over t.
fn normal_at(part: &Part, t: f64) -> Vector3<f64> {
    match &part.kind {
        PartKind::Sheet { profile, phase, .. } => {
            of_slope(part, profile.slope(profile.strip_index(t - phase)))
        }
        PartKind::Closure { .. } => part.frame.n,
    }
}

fn of_slope(part: &Part, slope: f64) -> Vector3<f64> {
    (part.frame.n - part.frame.v * slope).normalize()
}
