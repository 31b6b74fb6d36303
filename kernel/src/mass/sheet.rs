//! A part as thick sheet: facets of its middle skin with their own thickness and mass.
//!
//! Method: the part's outlines are clipped to each flat cell of its skin (a strip between two folds; on a surveyed
//! sheet a triangle between stations) and fanned into signed triangles, laid in place. Bends count with the length
//! of their true arcs on the place of their chords, as the part's own mass does (`moments.rs`), so that masses
//! agree to rounding. Clipping: I. Sutherland and G. Hodgman, "Reentrant polygon clipping", CACM 17, 1974; the
//! edges it leaves along a clip line cancel in signed sums. Units: mm, kg; density kg/m³.

use super::facet::Facet;
use crate::error::{Error, Result};
use crate::loft::Loft;
use crate::part::{Part, PartKind};
use crate::units::KG_PER_MM3;
use nalgebra::{Point3, Vector3};

/// A part of this density (kg/m³) as facets.
///
/// # Errors
/// A density or a thickness that is not positive.
pub fn facets_of_part(part: &Part, density: f64) -> Result<Vec<Facet>> {
    for (what, x) in [("density", density), ("thickness", part.thickness())] {
        if !(x > 0.0 && x.is_finite()) {
            return Err(Error::input(format!("a {what} of {x} gives no mass"))
                .at(part.id.as_str())
                .remedy(format!("give a {what} above 0")));
        }
    }
    let per_area = part.thickness() * density * KG_PER_MM3;
    let mut facets = Vec::new();
    let Some(bounds) = bounds(part) else { return Ok(facets) };
    match &part.kind {
        PartKind::Closure { thickness } => {
            let at = |p: [f64; 2]| part.position(p, -thickness / 2.0);
            for outline in &part.outlines {
                fan(outline, &at, per_area, *thickness, part.frame.n, &mut facets);
            }
        }
        PartKind::Sheet { profile, phase, wander: None, .. } => {
            let at = |p: [f64; 2]| part.position(p, 0.0);
            let (from, to) =
                (profile.strip_index(bounds[0][1] - phase), profile.strip_index(bounds[1][1] - phase));
            for k in from..=to {
                let t = [profile.fold_t(k), profile.fold_t(k + 1)];
                let h = [profile.fold_height(k), profile.fold_height(k + 1)];
                let w = t.map(|t| profile.developed_at(t, 0.0));
                let chord = (t[1] - t[0]).hypot(h[1] - h[0]);
                let across = (part.frame.v * (t[1] - t[0]) + part.frame.n * (h[1] - h[0])) / chord;
                let normal = part.frame.u.cross(&across);
                // The last strip of a pitch ends where the next pitch starts.
                let longer = (w[1] - w[0]) / chord;
                for outline in &part.outlines {
                    let above = clipped(outline, |p| p[1] - phase - t[0]);
                    let within = clipped(&above, |p| t[1] + phase - p[1]);
                    fan(&within, &at, per_area * longer, profile.thickness(), normal, &mut facets);
                }
            }
        }
        PartKind::Sheet { profile, phase, wander: Some(wander), .. } => {
            let at = |p: [f64; 2]| part.position([p[0], p[1] + phase], 0.0);
            let loft = Loft::new(wander, 0.0);
            let outlines: Vec<Vec<[f64; 2]>> =
                part.outlines.iter().map(|o| o.iter().map(|p| [p[0], p[1] - phase]).collect()).collect();
            let pitch = profile.pitch();
            // A pitch more on both sides: cells are named by where folds have wandered to.
            let t = [bounds[0][1] - phase - pitch, bounds[1][1] - phase + pitch];
            for cell in loft.cells([bounds[0][0], bounds[1][0]], t) {
                let corners: Vec<[f64; 2]> =
                    loft.outline(cell, [bounds[0][0], bounds[1][0]]).iter().map(|c| c.0).collect();
                let q = [cell.node, cell.node + 1].map(|k| wander.node(k));
                let (w, h) = (q.map(|q| profile.developed_at(q, 0.0)), q.map(|q| profile.on_skin(q, 0.0)[1]));
                let longer = (w[1] - w[0]) / (q[1] - q[0]).hypot(h[1] - h[0]);
                let plane = loft.plane(cell);
                let f = &part.frame;
                let along = f.u + f.v * plane.per_s[0] + f.n * plane.per_s[1];
                let across = f.v * plane.per_q[0] + f.n * plane.per_q[1];
                let normal = along.cross(&across).normalize();
                for outline in &outlines {
                    let mut within = outline.clone();
                    for (i, a) in corners.iter().enumerate() {
                        let b = corners[(i + 1) % corners.len()];
                        let d = [b[0] - a[0], b[1] - a[1]];
                        within = clipped(&within, |p| d[0] * (p[1] - a[1]) - d[1] * (p[0] - a[0]));
                    }
                    fan(&within, &at, per_area * longer, profile.thickness(), normal, &mut facets);
                }
            }
        }
    }
    Ok(facets)
}

fn bounds(part: &Part) -> Option<[[f64; 2]; 2]> {
    let mut all = part.outlines.iter().flatten();
    let first = *all.next()?;
    Some(all.fold([first, first], |[lo, hi], p| {
        [[lo[0].min(p[0]), lo[1].min(p[1])], [hi[0].max(p[0]), hi[1].max(p[1])]]
    }))
}

/// A polygon clipped to where a linear function is not negative.
fn clipped(polygon: &[[f64; 2]], inside: impl Fn(&[f64; 2]) -> f64) -> Vec<[f64; 2]> {
    let mut out = Vec::with_capacity(polygon.len());
    for (i, a) in polygon.iter().enumerate() {
        let b = &polygon[(i + 1) % polygon.len()];
        let (ga, gb) = (inside(a), inside(b));
        if ga >= 0.0 {
            out.push(*a);
        }
        if (ga >= 0.0) != (gb >= 0.0) {
            let share = ga / (ga - gb);
            out.push([a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share]);
        }
    }
    out
}

/// A polygon of a flat cell, laid in place, as signed triangles over its first corner.
fn fan(
    polygon: &[[f64; 2]],
    place: &impl Fn([f64; 2]) -> Point3<f64>,
    per_area: f64,
    thickness: f64,
    normal: Vector3<f64>,
    facets: &mut Vec<Facet>,
) {
    if polygon.len() < 3 {
        return;
    }
    let placed: Vec<Point3<f64>> = polygon.iter().map(|p| place(*p)).collect();
    for pair in placed[1..].windows(2) {
        let area = (pair[0] - placed[0]).cross(&(pair[1] - placed[0])).dot(&normal) / 2.0;
        if area != 0.0 {
            let corners = [placed[0], pair[0], pair[1]];
            facets.push(Facet { corners, normal, thickness, mass: area * per_area });
        }
    }
}
