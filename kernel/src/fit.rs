//! Fitting: parts as thick pieces of sheet that go together on the bench.
//!
//! The outline of a part is that of its middle skin. What is cut square goes through all skins at the same
//! place of the sheet, so a piece fits if each of its skins lies within what shows of that skin: the whole
//! work is trimmed once for the inside, the middle and the outside skins, and a part is what the three
//! results have in common, each laid out along the sheet. Where two sheets meet in a ridge the inside skin
//! decides (they touch inside and leave a groove to weld outside), where they meet in a hollow the outside
//! one does. Surfaces at the same share of the thickness never cross, so no two parts share any space.
//!
//! With a bevel the skins that are to meet decide alone, and the cut leans.

use crate::assembly::{Assembly, Surface};
use crate::clash::{MOST_CORNERS, shared};
use crate::cutting::{boundary, pieces_of_faces};
use crate::joint::Fit;
use crate::moments::Moments;
use crate::part::{Frame, Marking, Part, PartKind};
use crate::polygon::hull;
use crate::profile::Profile;
use crate::region::{Combine, Outline, Region};
use crate::sculpture::{Meet, Sculpture};
use crate::seam::Seam;
use crate::shell::{NONE, Shell};
use crate::survey::Wander;
use crate::triangulate::ring;
use crate::trim::Owner;
use crate::units::KG_PER_MM3;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// A part with what the totals need of it.
pub(crate) struct FitPart {
    pub(crate) part: Part,
    /// Centroid of the part in space, mm.
    pub(crate) centroid: Point3<f64>,
}

/// What thickness did to a work.
pub(crate) struct Fitted {
    pub(crate) parts: Vec<FitPart>,
    /// Pieces too small to be anything but dust, left out.
    pub(crate) dust: usize,
    /// Faces left as their middle skins, because they have too many corners to be fitted.
    pub(crate) thin: Vec<String>,
}

/// The work as seen on each of three skins.
pub(crate) struct Skins<'a> {
    pub(crate) assembly: &'a Assembly,
    pub(crate) sculpture: &'a Sculpture,
    pub(crate) inside: &'a Shell,
    pub(crate) middle: &'a Shell,
    pub(crate) outside: &'a Shell,
    pub(crate) seams: &'a [Seam],
    /// How the sheets of each seam go together.
    pub(crate) fits: &'a [Fit],
}

/// Pieces smaller than this many times the square of the thickness are dust of the cut: a bead covers them.
const DUST: f64 = 4.0;
/// Works with more corners than this are not searched for clashes: no workshop could cut them.
pub(crate) const MOST_CORNERS_OF_ALL: usize = 200_000;
/// Where sheets are released or cut by bands, bands reach this many thicknesses beyond what they need.
const REACH: f64 = 6.0;
/// Angles between sheets are taken no sharper or flatter than this for setbacks, degrees: beyond it a
/// setback would be longer than a hand.
const SHARPEST: f64 = 5.0;

impl Skins<'_> {
    /// All parts, by id.
    pub(crate) fn fit(&self) -> Fitted {
        let seam_of: BTreeMap<(usize, usize), usize> = self
            .seams
            .iter()
            .enumerate()
            .map(|(i, s)| ((s.between[0].min(s.between[1]), s.between[0].max(s.between[1])), i))
            .collect();
        let count = self.assembly.faces.len();
        let shells = [self.inside, self.middle, self.outside];
        let pieces: Vec<_> = shells.par_iter().map(|shell| pieces_of_faces(shell, count)).collect();
        let fitted: Vec<Fitted> = (0..count)
            .into_par_iter()
            .map(|f| {
                let regions = if self.is_kept_whole(f) {
                    [Surface::Inside, Surface::Middle, Surface::Outside].map(|surface| {
                        let shell = self.assembly.face_alone(f, surface);
                        let pieces = pieces_of_faces(&shell, count);
                        self.developed(&shell, &pieces[f], f, surface, &seam_of)
                    })
                } else {
                    if self.assembly.faces[f].open {
                        return Fitted { parts: Vec::new(), dust: 0, thin: Vec::new() };
                    }
                    let of =
                        |i: usize, surface| self.developed(shells[i], &pieces[i][f], f, surface, &seam_of);
                    [of(0, Surface::Inside), of(1, Surface::Middle), of(2, Surface::Outside)]
                };
                self.face_parts(f, &regions)
            })
            .collect();
        let mut all = Fitted { parts: Vec::new(), dust: 0, thin: Vec::new() };
        for one in fitted {
            all.parts.extend(one.parts);
            all.dust += one.dust;
            all.thin.extend(one.thin);
        }
        all.parts.extend(self.closures(&seam_of));
        all.parts.sort_by(|a, b| a.part.id.cmp(&b.part.id));
        let corners: usize = all.parts.iter().map(|p| p.part.corners()).sum();
        if corners <= MOST_CORNERS_OF_ALL {
            self.free_closures(&mut all.parts);
        }
        all
    }

    /// Takes off closure strips what would stand in a sheet or in another strip.
    fn free_closures(&self, parts: &mut Vec<FitPart>) {
        let bare: Vec<Part> = parts.iter().map(|p| p.part.clone()).collect();
        let is_strip = |i: usize| matches!(bare[i].kind, PartKind::Closure { .. });
        let mut taken: BTreeMap<usize, Region> = BTreeMap::new();
        for shared in shared(&bare, |i, j| is_strip(i) || is_strip(j)) {
            // A sheet stays as it is; of two strips the smaller gives way.
            let [i, j] = shared.clash.parts;
            let gives = match (is_strip(i), is_strip(j)) {
                (true, true) => {
                    if bare[i].area < bare[j].area {
                        i
                    } else {
                        j
                    }
                }
                (true, false) => i,
                _ => j,
            };
            let frame = &bare[gives].frame;
            for solid in &shared.solids {
                let hull = around(solid.iter().map(|p| frame.plan(p)).collect());
                if hull.len() >= 3 {
                    taken.entry(gives).or_default().outlines.push(Outline::tagged(hull, None));
                }
            }
        }
        for (i, taken) in taken {
            let old = &bare[i];
            let outlines = old.outlines.iter().zip(&old.edges);
            let region = Region {
                outlines: outlines.map(|(p, t)| Outline { points: p.clone(), tags: t.clone() }).collect(),
            };
            let region = whole_pieces(&region.combine(Combine::Subtract, &taken), old.thickness());
            let density = self.sculpture.rules.density;
            parts[i] = part(old.id.clone(), old.face.clone(), old.kind.clone(), old.frame, region, density);
        }
        parts.retain(|p| !p.part.outlines.is_empty());
    }

    fn is_kept_whole(&self, f: usize) -> bool {
        self.sculpture.kept_whole.contains(&self.assembly.faces[f].id)
    }

    /// What shows of a face on one skin, laid out along the sheet: (s, w) with w the length along the middle
    /// skin from the crest at the phase.
    fn developed(
        &self,
        shell: &Shell,
        pieces: &[crate::cutting::Piece],
        f: usize,
        surface: Surface,
        seam_of: &BTreeMap<(usize, usize), usize>,
    ) -> Region {
        let profile = &self.assembly.faces[f].profile;
        let offset = surface.side() * profile.thickness() / 2.0;
        let seam = |e: u32| match shell.edges[e as usize].twin {
            NONE => None,
            twin => match shell.owner(twin) {
                Owner::Face(g) => seam_of.get(&(f.min(g), f.max(g))).copied(),
                Owner::Closure(a, b) if a == f || b == f => seam_of.get(&(a, b)).copied(),
                Owner::Closure(..) => None,
            },
        };
        let mut region = Region::default();
        for piece in pieces {
            for ring in boundary(shell, &piece.patches) {
                let outline = Outline {
                    points: ring.iter().map(|&e| shell.edges[e as usize].plan).collect(),
                    tags: ring.iter().map(|&e| seam(e)).collect(),
                };
                if self.assembly.faces[f].wander.is_some() {
                    // A surveyed sheet is trimmed in the coordinates of its nominal middle skin.
                    let points = outline.points.iter().map(|p| [p[0], profile.developed_at(p[1], 0.0)]);
                    region.outlines.push(Outline { points: points.collect(), tags: outline.tags });
                    continue;
                }
                let broken = split_across(outline, |range| profile.breaks_on_skin(range, offset));
                region.outlines.push(Outline {
                    points: broken
                        .points
                        .iter()
                        .map(|p| [p[0], profile.developed_at(profile.to_middle(p[1], offset), 0.0)])
                        .collect(),
                    tags: broken.tags,
                });
            }
        }
        region
    }

    /// The parts of one face from what shows of its three skins.
    fn face_parts(&self, f: usize, skins: &[Region; 3]) -> Fitted {
        let placed = &self.assembly.faces[f];
        let profile = &placed.profile;
        let thin = skins.iter().any(|skin| skin.corners() > MOST_CORNERS);
        let region = if thin {
            skins[1].clone()
        } else {
            let square =
                skins[0].combine(Combine::Intersect, &skins[1]).combine(Combine::Intersect, &skins[2]);
            self.lapped(f, self.bevelled(f, square, skins))
        };
        let least = DUST * profile.thickness() * profile.thickness();
        let (pieces, dust): (Vec<Region>, Vec<Region>) =
            region.pieces().into_iter().partition(|piece| piece.area() >= least);
        let density = self.sculpture.rules.density;
        let parts = pieces.iter().enumerate().map(|(i, piece)| {
            let id = if i == 0 { placed.id.clone() } else { format!("{}.{}", placed.id, i + 1) };
            let wander = placed.wander.clone();
            let on_face = onto_face(piece, profile, placed.phase, wander.as_deref());
            let kind =
                PartKind::Sheet { profile: profile.clone(), phase: placed.phase, lift: placed.lift, wander };
            part(id, placed.id.clone(), kind, placed.frame, on_face, density)
        });
        let thin = if thin { vec![placed.id.clone()] } else { Vec::new() };
        Fitted { parts: parts.collect(), dust: dust.len(), thin }
    }

    /// What may be added where seams are bevelled.
    fn bevelled(&self, f: usize, square: Region, skins: &[Region; 3]) -> Region {
        let mut asked: Vec<(usize, Option<Meet>)> = Vec::new();
        for tag in skins.iter().flat_map(|r| &r.outlines).flat_map(|o| o.tags.iter().flatten()) {
            if !asked.iter().any(|(seam, _)| seam == tag) {
                let [a, b] = self.seams[*tag].between.map(|g| &self.assembly.faces[g].id);
                let joint = self.sculpture.joint_between(a, b);
                asked.push((*tag, joint.bevel.then_some(joint.meet)));
            }
        }
        if asked.iter().all(|(_, bevel)| bevel.is_none()) {
            return square;
        }
        let skin = |meet: Meet| match meet {
            Meet::Inside => &skins[0],
            Meet::Middle => &skins[1],
            Meet::Outside => &skins[2],
        };
        if let Some(meet) = asked[0].1
            && asked.iter().all(|(_, bevel)| *bevel == Some(meet))
        {
            return skin(meet).clone();
        }
        // Seams differ: each bevelled one adds what lies beyond the square cut at its own edges only.
        let reach = REACH * self.assembly.faces[f].profile.thickness();
        let mut region = square.clone();
        for meet in [Meet::Inside, Meet::Middle, Meet::Outside] {
            let mine = |tag: &Option<usize>| {
                tag.is_some_and(|t| asked.iter().any(|(seam, bevel)| *seam == t && *bevel == Some(meet)))
            };
            if !asked.iter().any(|(_, bevel)| *bevel == Some(meet)) {
                continue;
            }
            let beside = bands(&square, &mine, reach, false);
            let more = skin(meet).combine(Combine::Intersect, &beside);
            region = region.combine(Combine::Union, &more);
        }
        region
    }

    /// Runs past, or stops short of, the sheets it laps with.
    fn lapped(&self, f: usize, region: Region) -> Region {
        let placed = &self.assembly.faces[f];
        let own = placed.profile.thickness();
        let mut region = region;
        for (k, seam) in self.seams.iter().enumerate().filter(|(_, s)| s.between.contains(&f)) {
            let Some((over, past)) = self.lap(k) else { continue };
            let mine = |tag: &Option<usize>| *tag == Some(k);
            let other =
                self.assembly.faces[seam.between[usize::from(seam.between[0] == f)]].profile.thickness();
            let angles = seam.segments.iter().map(|s| {
                let between = if s.angle > 180.0 { 360.0 - s.angle } else { s.angle };
                between.clamp(SHARPEST, 180.0 - SHARPEST).to_radians()
            });
            if over == f {
                let reach = angles.map(|a| other / a.sin()).fold(0.0, f64::max);
                region = region.combine(Combine::Union, &run_past(&region, &mine, reach + past));
            } else {
                let short = angles.map(|a| -own / a.tan()).fold(0.0, f64::max);
                if short > 0.0 {
                    region = region.combine(Combine::Subtract, &bands(&region, &mine, short, true));
                }
            }
        }
        region
    }

    /// Which face of a seam runs past the other, and by how much.
    fn lap(&self, k: usize) -> Option<(usize, f64)> {
        let seam = &self.seams[k];
        if let Some(&kept) = seam.between.iter().find(|&&g| self.is_kept_whole(g)) {
            let [a, b] = seam.between.map(|g| self.assembly.faces[g].element);
            return (a != b).then_some((kept, 0.0));
        }
        let Fit::Lap { past, over } = &self.fits[k] else { return None };
        let named = seam.between.into_iter().find(|&g| Some(&self.assembly.faces[g].id) == over.as_ref());
        Some((named.unwrap_or(seam.between[0]), *past))
    }

    /// Closure strips: flat pieces that stand behind the cutting plane, under the sheet that lies higher.
    fn closures(&self, seam_of: &BTreeMap<(usize, usize), usize>) -> Vec<FitPart> {
        let shell = self.inside;
        let mut found: BTreeMap<(usize, usize, bool), Vec<u32>> = BTreeMap::new();
        for &(first, patch) in &shell.loops {
            let patch = &shell.patches[patch as usize];
            if let Owner::Closure(a, b) = patch.owner {
                let forward = patch.axes[0].cross(&patch.axes[1]).dot(&patch.normal) > 0.0;
                found.entry((a, b, forward)).or_default().push(first);
            }
        }
        let mut parts: Vec<FitPart> = Vec::new();
        for ((a, b, forward), firsts) in found {
            let thickness = self.closure_thickness(a, b);
            let first = &shell.patches[shell.edges[firsts[0] as usize].patch as usize];
            let v = if forward { first.axes[1] } else { -first.axes[1] };
            // The frame is seen from outside whichever side that is.
            let frame = Frame {
                origin: self.assembly.world(&first.origin),
                u: first.axes[0],
                v,
                n: first.axes[0].cross(&v),
            };
            let tag = seam_of.get(&(a, b)).copied();
            let higher = self.higher(a, b, &frame);
            let mut region = Region::default();
            let mut under = Vec::new();
            for first in firsts {
                let around = ring(shell, first);
                let at = |e: u32| {
                    let [x, y] = shell.edges[e as usize].plan;
                    if forward { [x, y] } else { [x, -y] }
                };
                let outline = Outline::tagged(around.iter().map(|&e| at(e)).collect(), tag);
                for (i, &e) in around.iter().enumerate() {
                    let twin = shell.edges[e as usize].twin;
                    if twin != NONE && shell.owner(twin) == Owner::Face(higher) {
                        under.push([outline.points[i], outline.points[(i + 1) % around.len()]]);
                    }
                }
                region.outlines.push(outline);
            }
            let region =
                region.combine(Combine::Subtract, &self.above(higher, &frame, &under, thickness, tag));
            let region = whole_pieces(&region, thickness);
            if region.outlines.is_empty() {
                continue;
            }
            let [first, second] = [a, b].map(|f| self.assembly.faces[f].id.as_str());
            let id = format!("{}~{}", first.min(second), first.max(second));
            let kind = PartKind::Closure { thickness };
            let density = self.sculpture.rules.density;
            parts.push(part(id.clone(), id, kind, frame, region, density));
        }
        // One seam can have strips on both sides of its plane: the smaller set is a part of its own.
        parts.sort_by(|a, b| a.part.id.cmp(&b.part.id).then(b.part.area.total_cmp(&a.part.area)));
        for i in 1..parts.len() {
            if parts[i].part.id == parts[i - 1].part.id {
                parts[i].part.id.push_str(".2");
            }
        }
        parts
    }

    /// Thickness of a closure strip: that of the thicker sheet.
    fn closure_thickness(&self, a: usize, b: usize) -> f64 {
        self.assembly.faces[a].thickness().max(self.assembly.faces[b].thickness())
    }

    /// Which of two faces lies behind their cutting plane, seen along the frame's normal: the higher sheet.
    fn higher(&self, a: usize, b: usize, frame: &Frame) -> usize {
        let (fa, fb) = (&self.assembly.faces[a], &self.assembly.faces[b]);
        // Within an element the cell of a is where its distance is the greater, between two where it is less.
        let towards_a = (fa.frame.n - fb.frame.n) * if fa.element == fb.element { 1.0 } else { -1.0 };
        if towards_a.dot(&frame.n) < 0.0 { a } else { b }
    }

    /// What a strip standing behind the plane must leave free under the sheet of face `f`, whose inside skin
    /// meets the plane in `edges`.
    fn above(
        &self,
        f: usize,
        frame: &Frame,
        edges: &[[[f64; 2]; 2]],
        thickness: f64,
        tag: Option<usize>,
    ) -> Region {
        let placed = &self.assembly.faces[f];
        let sheet = &placed.frame;
        let flat = |d: Vector3<f64>| [d.dot(&frame.u), d.dot(&frame.v)];
        let up3 = sheet.n - frame.n * sheet.n.dot(&frame.n);
        let up = flat(up3.normalize());
        // The sheet's curve in the plane a thickness further back, seen from the front.
        let (along, across) = (sheet.u.dot(&frame.n), sheet.v.dot(&frame.n));
        let slide = if along.abs() > STEEP {
            flat(sheet.u * (-thickness / along) + frame.n * thickness)
        } else {
            let run = -thickness / across;
            let [x, y] = flat(sheet.v * run + frame.n * thickness);
            let drop = steepest(&placed.profile) * run.abs() / up3.norm();
            [x - up[0] * drop, y - up[1] * drop]
        };
        let rise = slide[0] * up[0] + slide[1] * up[1];
        if rise >= 0.0 {
            return Region::default();
        }
        let tall = REACH * (thickness - rise) + placed.profile.depth();
        let mut taken = Region::default();
        for slide in [slide, [up[0] * rise, up[1] * rise]] {
            for [a, b] in edges {
                let [a, b] = [a, b].map(|p| [p[0] + slide[0], p[1] + slide[1]]);
                let [c, d] = [b, a].map(|p| [p[0] + up[0] * tall, p[1] + up[1] * tall]);
                taken.outlines.push(counter_clockwise(vec![a, b, c, d], tag));
            }
        }
        taken
    }
}

/// A region without its dust.
fn whole_pieces(region: &Region, thickness: f64) -> Region {
    let least = DUST * thickness * thickness;
    let pieces = region.pieces().into_iter().filter(|p| p.area() >= least);
    Region { outlines: pieces.flat_map(|p| p.outlines).collect() }
}

/// Convex outline around points, counter-clockwise, grown by a hair so that what it is taken from stays free.
fn around(points: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    let hull = hull(points);
    #[allow(clippy::cast_precision_loss, reason = "few corners")]
    let count = hull.len() as f64;
    let middle = hull.iter().fold([0.0, 0.0], |m, p| [m[0] + p[0] / count, m[1] + p[1] / count]);
    let away = |p: &[f64; 2]| {
        let (x, y) = (p[0] - middle[0], p[1] - middle[1]);
        let length = x.hypot(y).max(HAIR);
        [p[0] + x / length * HAIR, p[1] + y / length * HAIR]
    };
    hull.iter().map(away).collect()
}

/// What is left free beyond a clash, mm.
const HAIR: f64 = 1.0e-3;

/// Ribs that meet the cutting plane at less than this sine run along it.
const STEEP: f64 = 0.2;

/// The steepest strip of a profile, rise per run.
fn steepest(profile: &Profile) -> f64 {
    profile.strips().iter().map(|s| ((s.h[1] - s.h[0]) / (s.t[1] - s.t[0])).abs()).fold(0.0, f64::max)
}

fn counter_clockwise(mut points: Vec<[f64; 2]>, tag: Option<usize>) -> Outline {
    if crate::drawing::signed_area(&points) < 0.0 {
        points.reverse();
    }
    Outline::tagged(points, tag)
}

/// Bands of a width along the edges that `mine` picks, inward or outward.
fn bands(region: &Region, mine: &dyn Fn(&Option<usize>) -> bool, width: f64, inward: bool) -> Region {
    let mut found = Region::default();
    for outline in &region.outlines {
        let count = outline.points.len();
        for i in (0..count).filter(|&i| mine(&outline.tags[i])) {
            let (a, b) = (outline.points[i], outline.points[(i + 1) % count]);
            let length = (b[0] - a[0]).hypot(b[1] - a[1]);
            // Material lies on the left of an outline's edge.
            let along = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
            let left = [-along[1], along[0]];
            let (near, far) = if inward { (-width, width) } else { (-width, 0.0) };
            let corner = |p: [f64; 2], back: f64, aside: f64| {
                [p[0] + along[0] * back + left[0] * aside, p[1] + along[1] * back + left[1] * aside]
            };
            let points = vec![
                corner(a, -width, near),
                corner(b, width, near),
                corner(b, width, far),
                corner(a, -width, far),
            ];
            found.outlines.push(counter_clockwise(points, outline.tags[i]));
        }
    }
    found
}

/// What a sheet gains beyond the edges that `mine` picks when it runs past them: the edge moved along the
/// ribs where they cross it, else square to them, so that it stays the same wave.
fn run_past(region: &Region, mine: &dyn Fn(&Option<usize>) -> bool, by: f64) -> Region {
    let mut outward = [0.0, 0.0];
    let mut edges = Vec::new();
    for outline in &region.outlines {
        let count = outline.points.len();
        for i in (0..count).filter(|&i| mine(&outline.tags[i])) {
            let (a, b) = (outline.points[i], outline.points[(i + 1) % count]);
            outward = [outward[0] + b[1] - a[1], outward[1] + a[0] - b[0]];
            edges.push(([a, b], outline.tags[i]));
        }
    }
    let length = outward[0].hypot(outward[1]);
    if length == 0.0 {
        return Region::default();
    }
    let outward = [outward[0] / length, outward[1] / length];
    let across_ribs = outward[0].abs() >= std::f64::consts::FRAC_1_SQRT_2;
    let axis = usize::from(!across_ribs);
    let mut slide = [0.0, 0.0];
    slide[axis] = by / outward[axis];
    let moved = |p: [f64; 2]| [p[0] + slide[0], p[1] + slide[1]];
    let outlines =
        edges.into_iter().map(|([a, b], tag)| counter_clockwise(vec![a, b, moved(b), moved(a)], tag));
    Region { outlines: outlines.collect() }
}

/// A region along the sheet, from the crest at the phase, laid on its face: (s, t), with a corner at every
/// fold it crosses and, on a surveyed sheet, wherever it passes from one flat cell into the next.
pub(crate) fn onto_face(region: &Region, profile: &Profile, phase: f64, wander: Option<&Wander>) -> Region {
    let outlines = region.outlines.iter().map(|o| {
        let broken = split_across(o.clone(), |range| folds_developed(profile, range));
        let points: Vec<_> = broken.points.iter().map(|p| [p[0], profile.at_developed(p[1])]).collect();
        let on_sheet = Outline { points, tags: broken.tags };
        let mut on_sheet = match wander {
            Some(wander) => split_at_passes(&on_sheet, wander),
            None => on_sheet,
        };
        for p in &mut on_sheet.points {
            p[1] += phase;
        }
        on_sheet
    });
    Region { outlines: outlines.collect() }
}

/// An outline, (s, q), with a corner wherever it passes from one cell of a surveyed sheet into the next.
fn split_at_passes(outline: &Outline, wander: &Wander) -> Outline {
    let mut split = Outline::default();
    let count = outline.points.len();
    for i in 0..count {
        let (a, b) = (outline.points[i], outline.points[(i + 1) % count]);
        let length = (b[0] - a[0]).hypot(b[1] - a[1]);
        let clear = |x: &f64| x * length > ON_FOLD && (1.0 - x) * length > ON_FOLD;
        let shares = std::iter::once(0.0).chain(wander.passes([a, b]).into_iter().filter(clear));
        for share in shares {
            split.points.push([a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share]);
            split.tags.push(outline.tags[i]);
        }
    }
    split
}

/// An outline with a corner wherever it crosses one of the places that `breaks` gives for a range of its
/// second coordinate.
fn split_across(outline: Outline, breaks: impl Fn([f64; 2]) -> Vec<f64>) -> Outline {
    let range = outline
        .points
        .iter()
        .fold([f64::INFINITY, f64::NEG_INFINITY], |r, p| [r[0].min(p[1]), r[1].max(p[1])]);
    let breaks = breaks([range[0] - 2.0 * ON_FOLD, range[1] + 2.0 * ON_FOLD]);
    if breaks.is_empty() {
        return outline;
    }
    let count = outline.points.len();
    let mut outline = outline;
    for p in &mut outline.points {
        let next = breaks.partition_point(|&t| t < p[1]);
        let near = |t: &&f64| (*t - p[1]).abs() <= ON_FOLD;
        if let Some(&t) = breaks[next.saturating_sub(1)..].iter().take(2).find(near) {
            p[1] = t;
        }
    }
    let mut split = Outline::default();
    for i in 0..count {
        let (a, b) = (outline.points[i], outline.points[(i + 1) % count]);
        split.points.push(a);
        split.tags.push(outline.tags[i]);
        let (low, high) = (a[1].min(b[1]) + ON_FOLD, a[1].max(b[1]) - ON_FOLD);
        let first = breaks.partition_point(|&t| t <= low);
        let mut within: Vec<f64> = breaks[first..].iter().copied().take_while(|&t| t < high).collect();
        if b[1] < a[1] {
            within.reverse();
        }
        for t in within {
            split.points.push([a[0] + (b[0] - a[0]) * (t - a[1]) / (b[1] - a[1]), t]);
            split.tags.push(outline.tags[i]);
        }
    }
    split
}

/// A corner this near to a fold lies on it, mm: what the grid of regions rounds.
const ON_FOLD: f64 = 1.0e-5;

/// Developed places of the folds within a range, ascending.
fn folds_developed(profile: &Profile, range: [f64; 2]) -> Vec<f64> {
    if profile.is_flat() {
        return Vec::new();
    }
    let (first, last) = (profile.at_developed(range[0]), profile.at_developed(range[1]));
    (profile.strip_index(first)..=profile.strip_index(last) + 1)
        .map(|k| profile.developed_at(profile.fold_t(k), 0.0))
        .filter(|w| *w > range[0] && *w < range[1])
        .collect()
}

/// A part with its figures.
pub(crate) fn part(
    id: String,
    face: String,
    kind: PartKind,
    frame: Frame,
    region: Region,
    density: f64,
) -> FitPart {
    let moments = Moments::of(&kind, &region);
    let (mut outlines, mut edges) = (Vec::new(), Vec::new());
    for outline in region.outlines {
        outlines.push(outline.points);
        edges.push(outline.tags);
    }
    let mut part = Part {
        id,
        face,
        kind,
        frame,
        outlines,
        edges,
        marks: Vec::new(),
        marking: Marking::default(),
        area: moments.area,
        cut_length: moments.length,
        mass: 0.0,
    };
    part.mass = part.area * part.thickness() * density * KG_PER_MM3;
    let f = &part.frame;
    let at = moments.first.map(|m| m / moments.area);
    let back = if let PartKind::Closure { thickness } = part.kind { -thickness / 2.0 } else { 0.0 };
    let centroid = f.origin + f.u * at[0] + f.v * at[1] + f.n * (at[2] + back);
    FitPart { part, centroid }
}
