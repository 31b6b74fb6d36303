//! Levels: what the sheets of an element leave free at a height, or over a band of heights.
//!
//! A level plane cuts each strip of a sheet in a straight line, so that what lies beyond a sheet is a union of
//! convex pieces, exact save for a thousandth of a millimetre that neighbouring strips are laid over each other.
//! Over a band of heights the pieces of its two ends count, and for ribs that do not run up the slope the pieces
//! that each fold sweeps between them: straight lines again. Cells of a surveyed sheet are taken at the ends and
//! in the middle of the band.
//!
//! Coordinates are those of the assembly: mm about its middle.

use crate::assembly::{Assembly, Surface};
use crate::cladding::Sheet;
use crate::region::{Combine, Outline, Region};
use crate::trim::field::Bisected;
use crate::trim::window::{Linear, clip, value};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// Neighbouring strips are laid over each other by this much, so that no hair is left between them, mm.
const OVERLAP: f64 = 1.0e-3;
/// What has less area is a hair between pieces, mm².
const HAIR: f64 = 0.01;
/// Folds that come nearer to level than this over a whole band, mm, count as level: rounding.
const LEVEL: f64 = 1.0e-9;
/// What is looked at reaches this far beyond crests, mm, and pieces as much further.
const BESIDE: f64 = 1.0;
/// Room round the element within which sheets are looked at, mm.
const ROOM: f64 = 50.0;

/// A skin of every face of a work, ready to be cut at levels.
pub(crate) struct Levels {
    pub(crate) assembly: Assembly,
    sheets: Vec<Sheet>,
}

impl Levels {
    pub(crate) fn new(assembly: Assembly, surface: Surface) -> Self {
        let sheets = assembly.field(surface, &Bisected::none(assembly.faces.len()), 0).sheets;
        Self { assembly, sheets }
    }

    /// What all wanted faces of an element leave free over a band of heights (world z, mm), in x and y about
    /// the middle of the assembly; `extent` is the box round the element's nominal corners.
    pub(crate) fn free(
        &self,
        element: usize,
        band: [f64; 2],
        extent: [Point3<f64>; 2],
        wanted: impl Fn(usize) -> bool,
    ) -> Region {
        let range = self.assembly.elements[element].clone();
        let deepest = self.assembly.faces[range.clone()]
            .iter()
            .map(|f| f.profile.depth() + f.profile.thickness() + f.lift.abs())
            .fold(0.0, f64::max);
        let centre = self.assembly.centre;
        let [low, high] = extent.map(|p| p - centre);
        let reach = ROOM + 2.0 * deepest;
        let band = band.map(|z| z - centre.z);
        // What lies beyond the crests of a face lies beyond the face: nothing there needs pieces, and pieces of different
        // faces cross the less.
        let within = |beside: f64| {
            let reach = reach + beside;
            let mut window = vec![
                [low.x - reach, low.y - reach],
                [high.x + reach, low.y - reach],
                [high.x + reach, high.y + reach],
                [low.x - reach, high.y + reach],
            ];
            let mut scratch = Vec::new();
            for f in range.clone().filter(|&f| wanted(f)) {
                let sheet = &self.sheets[f];
                let Some(highest) = sheet.highest() else { continue };
                for z in band {
                    let outward = at_level(sheet, sheet.n, z);
                    clip(&mut window, plus(outward, [-highest - beside, 0.0, 0.0]), &mut scratch);
                }
            }
            window
        };
        // Pieces reach further than what they are taken from, or hairs would be left along its rim.
        let (window, all) = (within(2.0 * BESIDE), within(BESIDE));
        if all.len() < 3 {
            return Region::default();
        }
        let faces: Vec<usize> = range.filter(|&f| wanted(f)).collect();
        // Those of one level only meet along their edges: put together first, few edges are left to cross other levels'.
        let beyond: Vec<Region> = faces
            .par_iter()
            .flat_map(|&f| pieces_beyond(&self.sheets[f], band, &window))
            .map(|pieces| {
                let outlines = pieces.into_iter().map(|piece| Outline::tagged(piece, None)).collect();
                Region { outlines }.combine(Combine::Union, &Region::default())
            })
            .collect();
        let beyond = Region { outlines: beyond.into_iter().flat_map(|r| r.outlines).collect() };
        let all = Region { outlines: vec![Outline::tagged(all, None)] };
        let mut free = all.combine(Combine::Subtract, &beyond);
        free.outlines.retain(|o| o.area().abs() > HAIR);
        free
    }
}

/// A convex piece of a level plane.
type Piece = Vec<[f64; 2]>;

/// Convex pieces of the level plane that lie beyond a sheet somewhere in the band, within a convex window: those of each
/// level, then those that folds sweep.
fn pieces_beyond(sheet: &Sheet, band: [f64; 2], window: &[[f64; 2]]) -> Vec<Vec<Piece>> {
    let mut groups = Vec::new();
    let mut scratch = Vec::new();
    let middle = f64::midpoint(band[0], band[1]);
    let levels = if sheet.loft.is_some() { vec![band[0], middle, band[1]] } else { band.to_vec() };
    for z in levels {
        let mut pieces = Vec::new();
        let along = at_level(sheet, sheet.u, z);
        let across = at_level(sheet, sheet.v, z);
        let outward = at_level(sheet, sheet.n, z);
        let t = range(window, across);
        let mut keep = |limits: &[Linear]| {
            let mut piece = window.to_vec();
            for limit in limits {
                clip(&mut piece, *limit, &mut scratch);
                if piece.len() < 3 {
                    return;
                }
            }
            pieces.push(piece);
        };
        if let Some(loft) = &sheet.loft {
            for cell in loft.cells(range(window, along), t) {
                let bounded = loft.bounded(cell);
                let of =
                    |f: [f64; 3]| plus(scaled(along, f[1]), plus(scaled(across, f[2]), [f[0], 0.0, 0.0]));
                let mut limits: Vec<Linear> = bounded
                    .limits
                    .iter()
                    .map(|l| {
                        let size = l[1].hypot(l[2]).max(1.0);
                        plus(of(*l), [-OVERLAP * size, 0.0, 0.0])
                    })
                    .collect();
                limits.push(plus(of(bounded.heights), scaled(outward, -1.0)));
                keep(&limits);
            }
            groups.push(pieces);
            continue;
        }
        for strip in sheet.strip_of(t[0])..=sheet.strip_of(t[1]) {
            let line = sheet.strip_line(strip);
            // h(T) − D ≤ 0 is beyond the sheet.
            let height = plus(scaled(across, line.slope), [line.height, 0.0, 0.0]);
            let mut limits = vec![plus(height, scaled(outward, -1.0))];
            if !sheet.is_flat() {
                limits.push(plus([sheet.fold(strip) - OVERLAP, 0.0, 0.0], scaled(across, -1.0)));
                limits.push(plus(across, [-sheet.fold(strip + 1) - OVERLAP, 0.0, 0.0]));
            }
            keep(&limits);
        }
        groups.push(pieces);
    }
    let rise = sheet.v.z * (band[1] - band[0]);
    if sheet.loft.is_none() && !sheet.is_flat() && rise.abs() > LEVEL {
        groups.push(swept(sheet, band, window));
    }
    groups
}

/// What folds sweep while the level rises through the band: fold k passes T where the level has risen by
/// (`T_k` − T) / `v_z`, and D has grown by as much times `n_z`.
fn swept(sheet: &Sheet, band: [f64; 2], window: &[[f64; 2]]) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let across = at_level(sheet, sheet.v, band[0]);
    let outward = at_level(sheet, sheet.n, band[0]);
    let rise = sheet.v.z * (band[1] - band[0]);
    let t = range(window, across);
    let [low, high] = [t[0] + rise.min(0.0), t[1] + rise.max(0.0)];
    let mut scratch = Vec::new();
    for k in sheet.strip_of(low)..=sheet.strip_of(high) + 1 {
        let fold = sheet.fold(k);
        let gone = scaled(plus([fold, 0.0, 0.0], scaled(across, -1.0)), 1.0 / sheet.v.z);
        let grown = plus(outward, scaled(gone, sheet.n.z));
        let mut piece = window.to_vec();
        for limit in [
            scaled(gone, -1.0),
            plus(gone, [-(band[1] - band[0]), 0.0, 0.0]),
            plus([sheet.fold_height(k), 0.0, 0.0], scaled(grown, -1.0)),
        ] {
            clip(&mut piece, limit, &mut scratch);
        }
        if piece.len() > 2 {
            pieces.push(piece);
        }
    }
    pieces
}

/// A coordinate of the sheet along `axis`, over x and y at the level z.
fn at_level(sheet: &Sheet, axis: Vector3<f64>, z: f64) -> Linear {
    [axis.z * (z - sheet.c.z) - axis.x * sheet.c.x - axis.y * sheet.c.y, axis.x, axis.y]
}

fn plus(a: Linear, b: Linear) -> Linear {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}

fn scaled(a: Linear, k: f64) -> Linear {
    a.map(|x| x * k)
}

fn range(polygon: &[[f64; 2]], f: Linear) -> [f64; 2] {
    polygon
        .iter()
        .map(|&p| value(f, p))
        .fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], x| [l.min(x), h.max(x)])
}
