//! Sheet as triangles, and the exact distance of a straight line from it.
//!
//! Segment and triangle are nearest at an end of the segment, or at a side of the triangle, or they cross (C. Ericson,
//! "Real-time collision detection", 2005, sections 5.1.5, 5.1.9 and 5.3.6; from memory). A bounding volume
//! hierarchy (parry3d) leaves only near triangles to look at. Units: mm.

use crate::error::{Error, Result};
use nalgebra::{Point3, Vector3};
use parry3d_f64::bounding_volume::Aabb;
use parry3d_f64::math::Vector as ParryVector;
use parry3d_f64::partitioning::{Bvh, BvhBuildStrategy};
use std::cell::Cell;

type Triangle = [Point3<f64>; 3];

/// Triangles to keep clear of.
pub struct Obstacles {
    triangles: Vec<Triangle>,
    boxes: Vec<Tight>,
    tree: Bvh,
    /// Length of the diagonal of all of it, mm.
    size: f64,
}

/// Where a line comes near an obstacle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Touch {
    /// Distance, mm; 0 where they cross.
    pub distance: f64,
    /// Place on the line, 0 at its first end and 1 at its second.
    pub share: f64,
    /// Unit vector from the obstacle to the line; zero where they cross.
    pub away: Vector3<f64>,
    /// The triangle, in the order in which they were given.
    pub triangle: u32,
}

impl Obstacles {
    /// From points and the corners of triangles. Triangles without area are kept: they are lines to keep clear of.
    ///
    /// # Errors
    /// A triangle with a corner that is none or not finite.
    pub fn new(points: &[Point3<f64>], triangles: &[[u32; 3]]) -> Result<Self> {
        let mut all = Vec::with_capacity(triangles.len());
        for (k, corners) in triangles.iter().enumerate() {
            let corner = |i: u32| points.get(i as usize).filter(|p| p.iter().all(|x| x.is_finite())).copied();
            let [Some(a), Some(b), Some(c)] = corners.map(corner) else {
                return Err(Error::input(format!("has the corners {corners:?} of {} points", points.len()))
                    .at(format!("triangle {k}")));
            };
            all.push([a, b, c]);
        }
        let to = |p: Point3<f64>| ParryVector::new(p.x, p.y, p.z);
        let boxes: Vec<Aabb> =
            all.iter().map(|[a, b, c]| Aabb::new(to(a.inf(b).inf(c)), to(a.sup(b).sup(c)))).collect();
        let [low, high] =
            all.iter().flatten().fold(
                [Point3::from([f64::INFINITY; 3]), Point3::from([f64::NEG_INFINITY; 3])],
                |[l, h], p| [l.inf(p), h.sup(p)],
            );
        let size = if all.is_empty() { 0.0 } else { (high - low).norm() };
        let tree = Bvh::from_leaves(BvhBuildStrategy::Binned, &boxes);
        let boxes = all.iter().map(Tight::new).collect();
        Ok(Self { triangles: all, boxes, tree, size })
    }

    /// Length of the diagonal of all of it, mm.
    pub fn size(&self) -> f64 {
        self.size
    }

    /// Places where a line comes nearer than `within`, nearest first; of many the `most` nearest. The same whatever is
    /// `likely`: triangles worked out first, for a line that has moved little those that were nearest before.
    ///
    /// The look narrows to the furthest of so many as they are found, so that few triangles are worked out.
    pub fn near(&self, line: &[Point3<f64>; 2], within: f64, most: usize, likely: &[u32]) -> Vec<Touch> {
        let mut likely = likely.to_vec();
        likely.retain(|&k| (k as usize) < self.triangles.len());
        likely.sort_unstable();
        likely.dedup();
        let mut nearest = Nearest { found: Vec::with_capacity(likely.len()), within, most };
        for &k in &likely {
            nearest.offer(self.touch(line, k));
        }
        // Close by first: where there are enough, the rest need not be looked at; where there are few, all must be.
        if nearest.found.len() < most {
            for share in LOOKS {
                let mut closer = Nearest { within: within * share, ..nearest.clone() };
                closer.found.retain(|touch| touch.distance < within * share);
                self.look(line, &likely, &mut closer);
                if closer.found.len() == most {
                    return closer.found;
                }
                if closer.found.len() < most / 2 {
                    break;
                }
            }
        }
        self.look(line, &likely, &mut nearest);
        nearest.found
    }

    /// Distance of a line from the nearest of these triangles, mm; infinite for none.
    pub fn least(&self, line: &[Point3<f64>; 2], triangles: &[u32]) -> f64 {
        let these = triangles.iter().filter_map(|&k| self.triangles.get(k as usize));
        these.map(|triangle| touch(line, triangle).distance).fold(f64::INFINITY, f64::min)
    }

    fn touch(&self, line: &[Point3<f64>; 2], triangle: u32) -> Touch {
        Touch { triangle, ..touch(line, &self.triangles[triangle as usize]) }
    }

    /// Finds the nearest of all triangles but those in `known`, which must be in order.
    fn look(&self, line: &[Point3<f64>; 2], known: &[u32], nearest: &mut Nearest) {
        let reach = Cell::new(nearest.reach());
        let way = Way::new(line);
        let leaves = self.tree.leaves(|node| {
            let (low, high) = (node.mins(), node.maxs());
            way.meets([low.x, low.y, low.z], [high.x, high.y, high.z], reach.get())
        });
        for k in leaves {
            if self.boxes[k as usize].away(line) > reach.get() || known.binary_search(&k).is_ok() {
                continue;
            }
            nearest.offer(self.touch(line, k));
            reach.set(nearest.reach());
        }
    }

    /// Distance of a line from the nearest triangle, mm; infinite where there is none.
    pub fn distance(&self, line: &[Point3<f64>; 2], guess: f64) -> f64 {
        self.nearest(line, guess).map_or(f64::INFINITY, |touch| touch.distance)
    }

    /// Where a line is nearest to any triangle; `guess` is about how far that is, mm.
    pub fn nearest(&self, line: &[Point3<f64>; 2], guess: f64) -> Option<Touch> {
        if line[0] == line[1] {
            return self.nearest_to(&line[0]);
        }
        let mut within = guess.max(self.size * LEAST_GUESS);
        let reach = self.triangles.first().map_or(0.0, |t| (t[0] - line[0]).norm()) + self.size;
        while !self.triangles.is_empty() {
            if let Some(nearest) = self.near(line, within, 1, &[]).first() {
                return Some(*nearest);
            }
            // Nothing is further away than the first triangle.
            within = if within > reach { f64::INFINITY } else { within * 4.0 };
        }
        None
    }

    /// Where a point is nearest to any triangle: nearer boxes are looked into first.
    fn nearest_to(&self, p: &Point3<f64>) -> Option<Touch> {
        let beside = |x: f64, low: f64, high: f64| (low - x).max(x - high).max(0.0);
        let away = |k: u32| from_point(p, &self.triangles[k as usize]);
        let best = self.tree.find_best(
            f64::MAX,
            |node, _| {
                let (low, high) = (node.mins(), node.maxs());
                let d = [beside(p.x, low.x, high.x), beside(p.y, low.y, high.y), beside(p.z, low.z, high.z)];
                d[0] * d[0] + d[1] * d[1] + d[2] * d[2]
            },
            |k, _| Some(away(k).norm_squared()),
        );
        best.map(|(triangle, _)| Touch { triangle, ..touch_of(away(triangle), 0.0) })
    }

    /// Distance of a point from one triangle, mm; infinite for a number that is none.
    pub fn from_triangle(&self, p: &Point3<f64>, triangle: u32) -> f64 {
        self.triangles.get(triangle as usize).map_or(f64::INFINITY, |t| touch(&[*p, *p], t).distance)
    }
}

/// The box round a triangle along its longest side: strips of sheet are long and narrow and lie askew.
#[derive(Debug, Clone, Copy)]
struct Tight {
    corner: Point3<f64>,
    /// Unit axes, square to each other: off the plane, across, along the longest side. Zero for a triangle without area.
    axes: [Vector3<f64>; 3],
    /// From the corner along each.
    ends: [[f64; 2]; 3],
}

impl Tight {
    fn new(triangle: &Triangle) -> Self {
        let side = |i: usize| triangle[(i + 1) % 3] - triangle[i];
        let longest =
            (0..3).max_by(|i, j| side(*i).norm_squared().total_cmp(&side(*j).norm_squared())).unwrap_or(0);
        let off = side(0).cross(&side(1)).try_normalize(f64::MIN_POSITIVE);
        let along = side(longest).try_normalize(f64::MIN_POSITIVE);
        let axes = match (off, along) {
            (Some(off), Some(along)) => [off, off.cross(&along), along],
            _ => [Vector3::zeros(); 3],
        };
        let corner = triangle[0];
        let ends = axes.map(|axis| {
            let places = triangle.map(|p| (p - corner).dot(&axis));
            [places[0].min(places[1]).min(places[2]), places[0].max(places[1]).max(places[2])]
        });
        Self { corner, axes, ends }
    }

    /// No more than the distance of a line from the triangle: what parts them along each axis, together.
    fn away(&self, line: &[Point3<f64>; 2]) -> f64 {
        let [p, q] = line.map(|p| p - self.corner);
        let mut square = 0.0;
        for (axis, [low, high]) in self.axes.iter().zip(self.ends) {
            let (a, b) = (p.dot(axis), q.dot(axis));
            let gap = (a.min(b) - high).max(low - a.max(b)).max(0.0);
            square += gap * gap;
        }
        square.sqrt() * LOWER
    }
}

/// Rounding of axes must not make a distance too large.
const LOWER: f64 = 1.0 - 1.0e-12;
/// How far is looked before all of the way is, as shares of it.
const LOOKS: [f64; 2] = [0.5, 0.75];
/// The first look around a line is at least this share of the whole.
const LEAST_GUESS: f64 = 1.0e-3;

/// The nearest places found so far, nearest first, of equal ones the triangle with the lower number.
#[derive(Clone)]
struct Nearest {
    found: Vec<Touch>,
    /// What is no nearer than this is none of them, mm.
    within: f64,
    /// How many there are at most.
    most: usize,
}

impl Nearest {
    /// How near another must be, mm. As near as the furthest kept one is near enough, for the number decides.
    fn reach(&self) -> f64 {
        if self.found.len() == self.most {
            self.found.last().map_or(0.0, |last| last.distance)
        } else {
            self.within
        }
    }

    fn offer(&mut self, touch: Touch) {
        if touch.distance >= self.within || touch.distance > self.reach() {
            return;
        }
        let before = |other: &Touch| {
            other.distance.total_cmp(&touch.distance).then(other.triangle.cmp(&touch.triangle)).is_lt()
        };
        let at = self.found.partition_point(before);
        if at < self.most {
            self.found.insert(at, touch);
            self.found.truncate(self.most);
        }
    }
}

/// A line as it is held against many boxes.
struct Way {
    from: Point3<f64>,
    /// One over its extent along each axis; infinite along an axis it is square to.
    over: [f64; 3],
}

impl Way {
    fn new(line: &[Point3<f64>; 2]) -> Self {
        Self { from: line[0], over: [0, 1, 2].map(|i| 1.0 / (line[1][i] - line[0][i])) }
    }

    /// Whether the line comes near a box, or might: the box is taken larger by `within` on all sides.
    fn meets(&self, low: [f64; 3], high: [f64; 3], within: f64) -> bool {
        let within = within * (1.0 + SPARE);
        let (mut from, mut to) = (0.0_f64, 1.0_f64);
        for i in 0..3 {
            let (l, h) = (low[i] - within - self.from[i], high[i] + within - self.from[i]);
            if self.over[i].is_infinite() {
                if l > 0.0 || h < 0.0 {
                    return false;
                }
                continue;
            }
            let (s, t) = (l * self.over[i], h * self.over[i]);
            (from, to) = (from.max(s.min(t)), to.min(s.max(t)));
        }
        from <= to
    }
}

/// Boxes are taken larger by this share of what is looked for, so that rounding leaves none out.
const SPARE: f64 = 1.0e-9;

fn touch_of(away: Vector3<f64>, share: f64) -> Touch {
    let direction = away.try_normalize(0.0).unwrap_or_else(Vector3::zeros);
    Touch { distance: away.norm(), share, away: direction, triangle: 0 }
}

/// From the nearest point of a triangle to a point (C. Ericson, section 5.1.5, from memory): by the regions of corners, sides
/// and inside.
fn from_point(p: &Point3<f64>, [a, b, c]: &Triangle) -> Vector3<f64> {
    let (ab, ac, ap) = (b - a, c - a, p - a);
    let (d1, d2) = (ab.dot(&ap), ac.dot(&ap));
    if d1 <= 0.0 && d2 <= 0.0 {
        return ap;
    }
    let bp = p - b;
    let (d3, d4) = (ab.dot(&bp), ac.dot(&bp));
    if d3 >= 0.0 && d4 <= d3 {
        return bp;
    }
    let vc = d1 * d4 - d3 * d2;
    if vc <= 0.0 && d1 >= 0.0 && d3 <= 0.0 {
        return ap - ab * (d1 / (d1 - d3));
    }
    let cp = p - c;
    let (d5, d6) = (ab.dot(&cp), ac.dot(&cp));
    if d6 >= 0.0 && d5 <= d6 {
        return cp;
    }
    let vb = d5 * d2 - d1 * d6;
    if vb <= 0.0 && d2 >= 0.0 && d6 <= 0.0 {
        return ap - ac * (d2 / (d2 - d6));
    }
    let va = d3 * d6 - d5 * d4;
    if va <= 0.0 && d4 >= d3 && d5 >= d6 {
        return bp - (c - b) * ((d4 - d3) / ((d4 - d3) + (d5 - d6)));
    }
    let n = ab.cross(&ac);
    let square = n.norm_squared();
    if square > SLIVER * ab.norm_squared() * ac.norm_squared() {
        n * (ap.dot(&n) / square)
    } else {
        to_sides(p, &[*a, *b, *c])
    }
}

/// Sine squared of the angle below which a triangle has no plane worth the name; its sides are as near as makes no odds.
const SLIVER: f64 = 1.0e-12;

/// As [`from_point`] for a triangle without area: the nearest of its sides.
fn to_sides(p: &Point3<f64>, triangle: &Triangle) -> Vector3<f64> {
    let side = |i: usize| between(&[*p, *p], &[triangle[i], triangle[(i + 1) % 3]]).1;
    let nearer = |a: Vector3<f64>, b: Vector3<f64>| if b.norm_squared() < a.norm_squared() { b } else { a };
    nearer(nearer(side(0), side(1)), side(2))
}

fn touch(line: &[Point3<f64>; 2], triangle: &Triangle) -> Touch {
    if line[0] == line[1] {
        return touch_of(from_point(&line[0], triangle), 0.0);
    }
    if let Some(share) = crossing(line, triangle) {
        return Touch { distance: 0.0, share, away: Vector3::zeros(), triangle: 0 };
    }
    let mut best = (f64::INFINITY, 0.0, Vector3::zeros());
    let mut offer = |share: f64, away: Vector3<f64>| {
        let square = away.norm_squared();
        if square < best.0 {
            best = (square, share, away);
        }
    };
    for i in 0..3 {
        let side = [triangle[i], triangle[(i + 1) % 3]];
        let (share, away) = between(line, &side);
        offer(share, away);
    }
    for (share, end) in [(0.0, line[0]), (1.0, line[1])] {
        if let Some(away) = above(&end, triangle) {
            offer(share, away);
        }
    }
    let distance = best.0.sqrt();
    let away = best.2.try_normalize(0.0).unwrap_or_else(Vector3::zeros);
    Touch { distance, share: best.1, away, triangle: 0 }
}

/// Place on the line where it goes through the triangle.
fn crossing(line: &[Point3<f64>; 2], [a, b, c]: &Triangle) -> Option<f64> {
    let d = line[1] - line[0];
    let n = (b - a).cross(&(c - a));
    let slope = d.dot(&n);
    let share = (a - line[0]).dot(&n) / slope;
    // Not a number where the line lies in the plane: then it crosses a side.
    if !(0.0..=1.0).contains(&share) {
        return None;
    }
    let p = line[0] + d * share;
    let inside = [(a, b), (b, c), (c, a)].iter().all(|(u, v)| (*v - *u).cross(&(p - *u)).dot(&n) >= 0.0);
    inside.then_some(share)
}

/// From a triangle to a point above its inside.
fn above(p: &Point3<f64>, [a, b, c]: &Triangle) -> Option<Vector3<f64>> {
    let n = (b - a).cross(&(c - a));
    let square = n.norm_squared();
    let inside = [(a, b), (b, c), (c, a)].iter().all(|(u, v)| (*v - *u).cross(&(p - *u)).dot(&n) >= 0.0);
    (inside && square > 0.0).then(|| n * ((p - a).dot(&n) / square))
}

/// Nearest points of two lines: share of the first, and the way from the second to the first.
pub(super) fn between(line: &[Point3<f64>; 2], other: &[Point3<f64>; 2]) -> (f64, Vector3<f64>) {
    let (d, e, r) = (line[1] - line[0], other[1] - other[0], line[0] - other[0]);
    let (a, f, g) = (d.norm_squared(), e.norm_squared(), e.dot(&r));
    let (c, b) = (d.dot(&r), d.dot(&e));
    let unit = |x: f64| x.clamp(0.0, 1.0);
    let over = |x: f64, y: f64| if y > 0.0 { x / y } else { 0.0 };
    let flat = a * f - b * b;
    // Parallel lines: any place will do for the first try.
    let first = if flat > PARALLEL * a * f { unit((b * g - c * f) / flat) } else { 0.0 };
    let t = over(b * first + g, f);
    let (s, t) = if f > 0.0 && (0.0..=1.0).contains(&t) {
        (if a > 0.0 { unit((b * t - c) / a) } else { 0.0 }, t)
    } else {
        let t = unit(t);
        (unit(over(b * t - c, a)), t)
    };
    // The share of the first may have been moved to its end: the place on the second follows.
    let t = if f > 0.0 { unit((b * s + g) / f) } else { t };
    (s, r + d * s - e * t)
}

/// Sine squared of the angle below which two lines count as parallel while looking for their nearest points.
const PARALLEL: f64 = 1.0e-14;

#[cfg(test)]
mod tests {
    use super::*;

    fn p(x: f64, y: f64, z: f64) -> Point3<f64> {
        Point3::new(x, y, z)
    }

    struct Random(u64);
    impl Random {
        fn between(&mut self, low: f64, high: f64) -> f64 {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            #[allow(clippy::cast_precision_loss, reason = "32 bits fit a double")]
            let share = (self.0 >> 32) as f64 / f64::from(u32::MAX);
            low + (high - low) * share
        }
        fn point(&mut self, size: f64) -> Point3<f64> {
            Point3::from([0; 3].map(|_| self.between(-size, size)))
        }
    }

    #[test]
    fn distances_of_simple_places_are_exact() {
        let triangle = [p(0.0, 0.0, 0.0), p(10.0, 0.0, 0.0), p(0.0, 10.0, 0.0)];
        let of = |a, b| touch(&[a, b], &triangle);
        assert_eq!(of(p(1.0, 1.0, 5.0), p(2.0, 2.0, 3.0)).distance, 3.0);
        assert_eq!(of(p(1.0, 1.0, 5.0), p(2.0, 2.0, 3.0)).share, 1.0);
        assert_eq!(of(p(1.0, 1.0, 5.0), p(1.0, 1.0, -5.0)).distance, 0.0);
        assert_eq!(of(p(-3.0, -5.0, 4.0), p(-3.0, 5.0, 4.0)).distance, 5.0);
        assert_eq!(of(p(5.0, -2.0, -9.0), p(5.0, -2.0, 9.0)).away, Vector3::new(0.0, -1.0, 0.0));
        assert!((of(p(2.0, 2.0, 7.0), p(2.0, 2.0, 7.0)).distance - 7.0).abs() < 1e-14);
        assert_eq!(of(p(1.0, 1.0, 0.0), p(2.0, 2.0, 0.0)).distance, 0.0, "within the plane");
    }

    /// Second method: another library's distance, by minimal difference of convex bodies (good to about 1e-7).
    #[test]
    fn distances_agree_with_another_librarys() {
        use parry3d_f64::math::Pose;
        use parry3d_f64::query::distance;
        use parry3d_f64::shape::{Segment, Triangle as ParryTriangle};
        let mut r = Random(5);
        let to = |q: Point3<f64>| ParryVector::new(q.x, q.y, q.z);
        for k in 0..3000 {
            let size = if k % 3 == 0 { 1.0 } else { 10.0 };
            let triangle = [0; 3].map(|_| r.point(10.0));
            let line = [r.point(15.0), r.point(size)];
            let own = touch(&line, &triangle).distance;
            let [a, b, c] = triangle.map(to);
            let other = distance(
                &Pose::identity(),
                &Segment::new(to(line[0]), to(line[1])),
                &Pose::identity(),
                &ParryTriangle::new(a, b, c),
            );
            let other = other.expect("supported").distance;
            assert!((own - other).abs() < 1e-5, "{k}: {own} against {other}");
        }
    }

    /// Second method: the nearest of sides and plane, also for triangles that are hardly any or none.
    #[test]
    fn points_are_as_far_as_sides_and_plane_say() {
        let mut r = Random(3);
        for k in 0..20_000 {
            let mut triangle = [0; 3].map(|_| r.point(10.0));
            match k % 4 {
                0 => triangle[2] = triangle[0] + (triangle[1] - triangle[0]) * r.between(-0.5, 1.5),
                1 => triangle[2] = triangle[1] + (triangle[2] - triangle[1]) * 1.0e-6,
                _ => {}
            }
            let q = r.point(15.0);
            let found = from_point(&q, &triangle);
            let plane = above(&q, &triangle).map_or(f64::INFINITY, |v| v.norm());
            let wanted = to_sides(&q, &triangle).norm().min(plane);
            assert!(
                (found.norm() - wanted).abs() < 1.0e-8 * 15.0,
                "{k}: {} {wanted} {triangle:?} {q}",
                found.norm()
            );
        }
    }

    /// Second method: brute force over all triangles, and the direction of growth by differences.
    #[test]
    fn the_tree_leaves_nothing_out_and_ways_point_away() {
        let mut r = Random(9);
        let points: Vec<Point3<f64>> = (0..600).map(|_| r.point(500.0)).collect();
        let triangles: Vec<[u32; 3]> = (0..200).map(|k| [3 * k, 3 * k + 1, 3 * k + 2]).collect();
        let all = Obstacles::new(&points, &triangles).expect("usable");
        for _ in 0..300 {
            let from = r.point(600.0);
            let line = [from, from + r.point(60.0).coords];
            let brute = all.triangles.iter().map(|t| touch(&line, t).distance).fold(f64::INFINITY, f64::min);
            assert_eq!(all.distance(&line, 1.0), brute);
            let near = all.near(&line, 80.0, usize::MAX, &[]);
            assert_eq!(near.len(), all.triangles.iter().filter(|t| touch(&line, t).distance < 80.0).count());
            let few = all.near(&line, 80.0, 5, &[]);
            assert_eq!(few, near[..near.len().min(5)], "the nearest of many");
            // What is thought likely, be it near, far or named twice, changes nothing.
            let before = all.near(&line.map(|q| q + r.point(5.0).coords), 80.0, 7, &[]);
            let mut likely: Vec<u32> = before.iter().map(|t| t.triangle).collect();
            assert_eq!(all.near(&line, 80.0, 5, &likely), few);
            let some = near.iter().filter(|t| likely.contains(&t.triangle)).map(|t| t.distance).next();
            assert!(some.is_none_or(|distance| all.least(&line, &likely) == distance));
            likely.extend([0, 199, 57, 57, u32::MAX]);
            assert_eq!(all.near(&line, 80.0, 5, &likely), few);
            assert_eq!(all.near(&line, 80.0, usize::MAX, &likely), near);
            if let Some(t) = near.first().filter(|t| t.distance > 1.0) {
                let step = 1.0e-4;
                let moved = line.map(|q| q + t.away * step);
                assert!((all.distance(&moved, 1.0) - brute - step).abs() < 1e-6, "grows along the way");
            }
        }
        assert_eq!(
            Obstacles::new(&[], &[]).expect("usable").distance(&[p(0.0, 0.0, 0.0); 2], 1.0),
            f64::INFINITY
        );
        assert!(Obstacles::new(&points, &[[0, 1, 9999]]).is_err());
    }
}
