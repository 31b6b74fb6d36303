//! Corners of an outline drawn by hand: straight runs are fitted by least squares, and neighbours meet in corners.
//!
//! The outline is walked in even steps and split where it bends: D. H. Douglas and T. K. Peucker, "Algorithms for the
//! reduction of the number of points required to represent a digitized line or its caricature", 1973. Runs too
//! short for an edge are rounded corners and are left out. The middle part of each run is fitted (total least
//! squares), corners are taken where the fitted lines meet, and the runs are cut anew at those corners until nothing
//! changes. Straight strokes come back exactly.

use super::Options;
use crate::error::{Error, Result};
use nalgebra::{Matrix2, Point2, Vector2};

/// Places at which an outline is looked at, at most a few more than this.
const SAMPLES: usize = 720;
/// Most points of one outline.
const MOST_POINTS: usize = 200_000;
/// An outline narrower than this, mm, is no face of a model.
const SMALLEST: f64 = 5.0;
/// A model larger than this, mm, is drawn in wrong units.
const LARGEST: f64 = 10_000.0;
/// Share of the perimeter below which a run is a rounded corner and no edge.
const SHORTEST: f64 = 0.012;
/// A run up to so many times longer is none either, if the corner without it is no further away than the wobble.
const CLIPPED: f64 = 2.0;
/// Neighbours that turn by less than this, radians (5 degrees), are one edge.
const LEAST_TURN: f64 = 0.087;
/// Share of a run at either end that is not fitted: rounded corners take it.
const ENDS: f64 = 0.12;
/// Times corners are sought, each from the ones before; three were the most seen.
const ROUNDS: usize = 30;
/// Most corners of a face.
const MOST_CORNERS: usize = 40;
/// Area below this share of the square of the size: the outline runs back on itself.
const FLAT: f64 = 1.0e-3;
/// Share of the size below which two points are one.
const SAME: f64 = 1.0e-12;

/// A corner of a traced face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Corner {
    /// Where it lies on the drawing, mm, y up.
    pub at: [f64; 2],
    /// Covariance of its place, mm²: from how far the strokes leave their straight lines, and the set deviation.
    pub covariance: [[f64; 2]; 2],
}

impl Corner {
    /// Standard deviation along a direction (unit vector), mm.
    pub fn deviation(&self, along: [f64; 2]) -> f64 {
        let c = &self.covariance;
        let v = along[0] * along[0] * c[0][0]
            + 2.0 * along[0] * along[1] * c[0][1]
            + along[1] * along[1] * c[1][1];
        v.max(0.0).sqrt()
    }
}

/// Corners of a closed outline of a convex face, counter-clockwise.
///
/// # Errors
/// Too many points; tiny, huge, flat or self-crossing outlines; edges that are not straight, corners cut off by more
/// than the options allow, corners that turn inward.
pub fn corners(points: &[[f64; 2]], options: &Options) -> Result<Vec<Corner>> {
    let points = checked(points)?;
    let samples = resampled(&points);
    if let Some(p) = crossing(&samples) {
        return Err(Error::input(format!("the outline crosses itself near ({:.1}, {:.1}) mm", p.x, p.y))
            .remedy("draw it once round, without loops"));
    }
    let (size, area) = (extent(&points), area(&points));
    if area.abs() < FLAT * size * size {
        return Err(Error::input(format!("the outline encloses {:.1} mm², next to nothing", area.abs()))
            .remedy("draw it once round the face"));
    }
    let mut samples = samples;
    if area < 0.0 {
        samples.reverse();
    }
    let lines = fitted_lines(&samples, options)?;
    let found: Vec<Corner> = (0..lines.len())
        .map(|k| meet(&lines[(k + lines.len() - 1) % lines.len()], &lines[k], options))
        .collect::<Option<_>>()
        .ok_or_else(|| Error::input("two neighbouring edges are parallel").remedy("draw the face anew"))?;
    verified(&samples, &lines, &found, options)?;
    Ok(found)
}

fn checked(points: &[[f64; 2]]) -> Result<Vec<Point2<f64>>> {
    if points.len() > MOST_POINTS {
        return Err(Error::input(format!(
            "the outline has {} points (allowed: {MOST_POINTS})",
            points.len()
        ))
        .remedy("simplify it in the drawing program"));
    }
    if points.iter().flatten().any(|x| !x.is_finite()) {
        return Err(Error::input("the outline has a point that is not finite"));
    }
    let mut kept: Vec<Point2<f64>> = points.iter().map(|p| Point2::new(p[0], p[1])).collect();
    let size = extent(&kept);
    let remedy = "check the units of the file";
    if size < SMALLEST {
        return Err(Error::input(format!(
            "the outline is {size:.2} mm across (allowed: {SMALLEST} or more)"
        ))
        .remedy(remedy));
    }
    if size > LARGEST {
        return Err(Error::input(format!("the outline is {size:.0} mm across (allowed: {LARGEST} or less)"))
            .remedy(remedy));
    }
    kept.dedup_by(|a, b| (*a - *b).norm() <= SAME * size);
    while kept.len() > 1 && (kept[0] - kept[kept.len() - 1]).norm() <= SAME * size {
        kept.pop();
    }
    if kept.len() < 3 {
        return Err(Error::input(format!("the outline has {} points (allowed: 3 or more)", kept.len())));
    }
    Ok(kept)
}

fn extent(points: &[Point2<f64>]) -> f64 {
    let along = |k: usize| {
        let (lo, hi) = points
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), p| (lo.min(p[k]), hi.max(p[k])));
        (hi - lo).max(0.0)
    };
    along(0).hypot(along(1))
}

fn area(points: &[Point2<f64>]) -> f64 {
    let o = points[0];
    let next = points.iter().cycle().skip(1);
    points.iter().zip(next).map(|(a, b)| (a - o).perp(&(b - o))).sum::<f64>() / 2.0
}

/// The outline in even steps; every point lies on it.
#[allow(clippy::cast_precision_loss, reason = "a count of samples")]
fn resampled(points: &[Point2<f64>]) -> Vec<Point2<f64>> {
    let ends = points.iter().cycle().skip(1);
    let perimeter: f64 = points.iter().zip(ends.clone()).map(|(a, b)| (b - a).norm()).sum();
    let step = perimeter / SAMPLES as f64;
    let (mut made, mut behind) = (Vec::with_capacity(SAMPLES + 1), 0.0);
    for (a, b) in points.iter().zip(ends) {
        let length = (b - a).norm();
        let mut at = step * made.len() as f64 - behind;
        while at < length && made.len() < SAMPLES {
            made.push(a + (b - a) * (at.max(0.0) / length));
            at = step * made.len() as f64 - behind;
        }
        behind += length;
    }
    made
}

/// A place where the walk crosses itself.
fn crossing(points: &[Point2<f64>]) -> Option<Point2<f64>> {
    let n = points.len();
    let turn = |a: Point2<f64>, b: Point2<f64>, c: Point2<f64>| (b - a).perp(&(c - a));
    for i in 0..n {
        let (a, b) = (points[i], points[(i + 1) % n]);
        let (low, high) = (a.x.min(b.x), a.x.max(b.x));
        for j in i + 2..n {
            if i == 0 && j == n - 1 {
                continue;
            }
            let (c, d) = (points[j], points[(j + 1) % n]);
            if c.x.min(d.x) > high || c.x.max(d.x) < low {
                continue;
            }
            let apart = |p: f64, q: f64| p < 0.0 && q > 0.0 || p > 0.0 && q < 0.0;
            if apart(turn(a, b, c), turn(a, b, d)) && apart(turn(c, d, a), turn(c, d, b)) {
                return Some(nalgebra::center(&a, &b));
            }
        }
    }
    None
}

/// A run of samples and the straight line through its middle part.
#[derive(Debug, Clone)]
struct Run {
    /// First and one beyond the last sample; the walk is cyclic, so both may pass its end.
    from: usize,
    to: usize,
    through: Point2<f64>,
    along: Vector2<f64>,
    /// Root mean square of the residuals, mm.
    rms: f64,
    /// Mean square of the places along the line, about `through`, mm².
    spread: f64,
    /// How many independent places the residuals stand for.
    count: f64,
}

/// Least-squares line through the samples of a run, its ends left out.
#[allow(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "counts of samples"
)]
fn fit(samples: &[Point2<f64>], from: usize, to: usize) -> Run {
    let n = samples.len();
    let ends = (ENDS * (to - from) as f64).ceil() as usize;
    let (first, last) = if to - from > 2 * ends + 2 { (from + ends, to - ends) } else { (from, to + 1) };
    let fitted: Vec<Point2<f64>> = (first..last).map(|k| samples[k % n]).collect();
    let origin = fitted[0];
    let sum: Vector2<f64> = fitted.iter().map(|p| p - origin).sum();
    let through = origin + sum / fitted.len() as f64;
    let moments: Matrix2<f64> = fitted.iter().map(|p| (p - through) * (p - through).transpose()).sum();
    // The direction of the greatest spread.
    let angle = 0.5 * (2.0 * moments[(0, 1)]).atan2(moments[(0, 0)] - moments[(1, 1)]);
    let mut along = Vector2::new(angle.cos(), angle.sin());
    if along.dot(&(fitted[fitted.len() - 1] - origin)) < 0.0 {
        along = -along;
    }
    let off: Vec<f64> = fitted.iter().map(|p| along.perp(&(p - through))).collect();
    let changes = off.windows(2).filter(|w| (w[0] < 0.0) != (w[1] < 0.0)).count();
    let count = fitted.len() as f64;
    Run {
        from,
        to,
        through,
        along,
        rms: (off.iter().map(|d| d * d).sum::<f64>() / count).sqrt(),
        spread: fitted.iter().map(|p| (p - through).dot(&along).powi(2)).sum::<f64>() / count,
        // Wobble is smooth: it is counted by how often it changes sides.
        count: (changes + 1) as f64,
    }
}

/// Where the walk bends by more than the wobble, as numbers of samples in order.
fn bends(samples: &[Point2<f64>], wobble: f64) -> Vec<usize> {
    let n = samples.len();
    let far = |from: Point2<f64>| {
        (0..n).max_by(|a, b| (samples[*a] - from).norm().total_cmp(&(samples[*b] - from).norm())).unwrap_or(0)
    };
    let middle = Point2::from(samples.iter().map(|p| p.coords).sum::<Vector2<f64>>() / n.max(1) as f64);
    let a = far(middle);
    let b = far(samples[a]);
    let mut found = vec![a, b];
    let mut waiting = vec![(a, b), (b, a)];
    while let Some((from, to)) = waiting.pop() {
        let to = if to <= from { to + n } else { to };
        let (p, q) = (samples[from % n], samples[to % n]);
        let Some(along) = (q - p).try_normalize(0.0) else { continue };
        let off = |k: usize| along.perp(&(samples[k % n] - p)).abs();
        let Some(furthest) = (from + 1..to).max_by(|a, b| off(*a).total_cmp(&off(*b))) else { continue };
        if off(furthest) > wobble {
            found.push(furthest % n);
            waiting.push((from, furthest % n));
            waiting.push((furthest % n, to % n));
        }
    }
    found.sort_unstable();
    found.dedup();
    found
}

/// The straight edges of the walk, in order.
#[allow(clippy::cast_precision_loss, reason = "counts of samples")]
fn fitted_lines(samples: &[Point2<f64>], options: &Options) -> Result<Vec<Run>> {
    let n = samples.len();
    let perimeter: f64 = (0..n).map(|k| (samples[(k + 1) % n] - samples[k]).norm()).sum();
    let shortest = (SHORTEST * perimeter).max(options.least_edge);
    let cuts = bends(samples, options.wobble);
    let mut runs: Vec<Run> = (0..cuts.len())
        .map(|k| {
            let (from, to) = (cuts[k], cuts[(k + 1) % cuts.len()]);
            fit(samples, from, if to <= from { to + n } else { to })
        })
        .collect();
    for _ in 0..ROUNDS * MOST_CORNERS {
        // The shortest run that is no edge goes first: its neighbours may grow into it.
        let length = |r: &Run| (r.to - r.from) as f64 * perimeter / n as f64;
        let least = (0..runs.len()).min_by(|a, b| length(&runs[*a]).total_cmp(&length(&runs[*b])));
        if let Some(k) = least
            && length(&runs[k]) < shortest
            && runs.len() > 3
        {
            runs.remove(k);
            recut(samples, &mut runs);
            continue;
        }
        // A short run close to where its neighbours meet is a clipped corner.
        let clipped = (0..runs.len()).find(|&k| {
            let count = runs.len();
            let (before, after) = (&runs[(k + count - 1) % count], &runs[(k + 1) % count]);
            length(&runs[k]) < CLIPPED * shortest
                && intersection(before, after).is_some_and(|c| {
                    let near = (runs[k].from..=runs[k].to).map(|s| (samples[s % n] - c).norm());
                    near.fold(f64::INFINITY, f64::min) <= options.wobble
                })
        });
        if let Some(k) = clipped
            && runs.len() > 3
        {
            runs.remove(k);
            recut(samples, &mut runs);
            continue;
        }
        let straight = (0..runs.len()).find(|&k| {
            let next = &runs[(k + 1) % runs.len()];
            runs[k].along.perp(&next.along).abs() < LEAST_TURN && runs[k].along.dot(&next.along) > 0.0
        });
        if let Some(k) = straight
            && runs.len() > 3
        {
            let next = (k + 1) % runs.len();
            let (from, mut to) = (runs[k].from, runs[next].to);
            while to <= from {
                to += n;
            }
            runs[k] = fit(samples, from, to);
            runs.remove(next);
            recut(samples, &mut runs);
            continue;
        }
        if !recut(samples, &mut runs) {
            break;
        }
    }
    if runs.len() < 3 || runs.len() > MOST_CORNERS {
        return Err(Error::input(format!(
            "the outline has {} straight edges (allowed: 3 to {MOST_CORNERS})",
            runs.len()
        ))
        .remedy("draw the edges straighter, or allow more wobble"));
    }
    Ok(runs)
}

/// Cuts the runs anew at the samples nearest to where their lines meet; says whether that changed anything.
fn recut(samples: &[Point2<f64>], runs: &mut Vec<Run>) -> bool {
    let n = samples.len();
    let count = runs.len();
    let before: Vec<(usize, usize)> = runs.iter().map(|r| (r.from % n, r.to % n)).collect();
    let cuts: Vec<usize> = (0..count)
        .map(|k| {
            // Between the middles of the two runs.
            let (a, b) = (&runs[k], &runs[(k + 1) % count]);
            let start = usize::midpoint(a.from, a.to);
            let mut end = usize::midpoint(b.from, b.to);
            while end <= start {
                end += n;
            }
            while end > start + n {
                end -= n;
            }
            let corner = intersection(a, b);
            let off = |k: usize| match corner {
                Some(c) => (samples[k % n] - c).norm(),
                None => k.abs_diff(a.to) as f64,
            };
            (start..=end).min_by(|p, q| off(*p).total_cmp(&off(*q))).unwrap_or(start) % n
        })
        .collect();
    let made: Vec<Run> = (0..count)
        .map(|k| {
            let (from, to) = (cuts[(k + count - 1) % count], cuts[k]);
            fit(samples, from, if to <= from { to + n } else { to })
        })
        .collect();
    *runs = made;
    runs.iter().map(|r| (r.from % n, r.to % n)).ne(before)
}

fn intersection(a: &Run, b: &Run) -> Option<Point2<f64>> {
    let turn = a.along.perp(&b.along);
    let s = (b.through - a.through).perp(&b.along) / turn;
    (turn.abs() > SAME && s.is_finite()).then(|| a.through + a.along * s)
}

/// Where two lines meet, and how certain that is.
fn meet(a: &Run, b: &Run, options: &Options) -> Option<Corner> {
    let at = intersection(a, b)?;
    let normal = |r: &Run| Vector2::new(-r.along.y, r.along.x);
    let (na, nb) = (normal(a), normal(b));
    let inverse = Matrix2::new(na.x, na.y, nb.x, nb.y).try_inverse()?;
    // Variance of a regression line away from its middle.
    let variance = |r: &Run| {
        let away = (at - r.through).dot(&r.along);
        r.rms * r.rms / r.count * (1.0 + away * away / r.spread)
    };
    let base = Matrix2::identity() * options.deviation * options.deviation;
    let c = inverse * Matrix2::new(variance(a), 0.0, 0.0, variance(b)) * inverse.transpose() + base;
    Some(Corner { at: [at.x, at.y], covariance: [[c[(0, 0)], c[(0, 1)]], [c[(1, 0)], c[(1, 1)]]] })
}

/// Refuses what is no convex face with straight edges.
fn verified(samples: &[Point2<f64>], lines: &[Run], found: &[Corner], options: &Options) -> Result<()> {
    let n = samples.len();
    for (k, line) in lines.iter().enumerate() {
        let corner = found[k].at;
        let place = format!("({:.1}, {:.1}) mm", corner[0], corner[1]);
        let before = &lines[(k + lines.len() - 1) % lines.len()];
        let turn = before.along.perp(&line.along).atan2(before.along.dot(&line.along));
        if turn <= 0.0 {
            return Err(Error::input(format!("the outline turns inward at {place}")).remedy(
                "faces of an element are convex: split the form into cells, or take out the stray stroke",
            ));
        }
        // The whole walk lies along the edges, but for the corners.
        let c = Point2::from(corner);
        let cut = (0..n).map(|s| (samples[s] - c).norm()).fold(f64::INFINITY, f64::min);
        if cut > options.rounding {
            return Err(Error::input(format!(
                "the corner at {place} is rounded or cut off by {cut:.1} mm (allowed: {})",
                options.rounding
            ))
            .remedy("draw the strokes on to the corner, or name a shorter least edge"));
        }
        let middle = line.from + (line.to - line.from) / 8..=line.to - (line.to - line.from) / 8;
        let worst =
            middle.map(|s| line.along.perp(&(samples[s % n] - line.through)).abs()).fold(0.0, f64::max);
        if worst > options.wobble {
            return Err(Error::input(format!(
                "the edge from {place} leaves its straight line by {worst:.1} mm (allowed: {})",
                options.wobble
            ))
            .remedy("draw it along a ruler, or allow more wobble"));
        }
    }
    Ok(())
}
