//! Cutting the shell into parts: one per connected piece of each face, one per closure strip.

use crate::assembly::Assembly;
use crate::part::{Frame, Part, PartKind};
use crate::seam::Seam;
use crate::shell::{NONE, Shell};
use crate::triangulate::ring;
use crate::trim::{Owner, Patch};
use nalgebra::{Point3, Vector3};
use std::collections::{BTreeMap, BTreeSet};

/// Closure outlines smaller than this are rounding, mm².
const LEAST_CLOSURE_AREA: f64 = 1.0e-3;

/// A part with what the totals need of it.
pub(crate) struct CutPart {
    pub(crate) part: Part,
    /// Centroid of the part in space, mm.
    pub(crate) centroid: Point3<f64>,
}

/// A connected piece of a face.
pub(crate) struct Piece {
    pub(crate) patches: Vec<u32>,
    pub(crate) area: f64,
}

/// Connected pieces of every face, largest first.
pub(crate) fn pieces_of_faces(shell: &Shell, faces: usize) -> Vec<Vec<Piece>> {
    let roots = shell.pieces(|a, b| a == b && matches!(a, Owner::Face(_)));
    let used = shell.patch_in_use();
    let mut grouped: BTreeMap<(usize, u32), Piece> = BTreeMap::new();
    for (i, patch) in shell.patches.iter().enumerate() {
        if let (Owner::Face(f), true) = (patch.owner, used[i]) {
            let piece =
                grouped.entry((f, roots[i])).or_insert_with(|| Piece { patches: Vec::new(), area: 0.0 });
            #[allow(clippy::cast_possible_truncation, reason = "patch indices are u32")]
            piece.patches.push(i as u32);
            piece.area += patch.area.abs();
        }
    }
    let mut pieces: Vec<Vec<Piece>> = (0..faces).map(|_| Vec::new()).collect();
    for ((f, _), piece) in grouped {
        pieces[f].push(piece);
    }
    for of_face in &mut pieces {
        of_face.sort_by(|a, b| b.area.total_cmp(&a.area));
    }
    pieces
}

/// The parts of one face: one per piece.
pub(crate) fn face_parts(
    assembly: &Assembly,
    shell: &Shell,
    face: usize,
    pieces: &[Piece],
    seam_of: &BTreeMap<(usize, usize), usize>,
    density: f64,
) -> Vec<CutPart> {
    let placed = &assembly.faces[face];
    pieces
        .iter()
        .enumerate()
        .map(|(i, piece)| {
            let id = if i == 0 { placed.id.clone() } else { format!("{}.{}", placed.id, i + 1) };
            let boundary = boundary(shell, &piece.patches);
            let seam = |e: u32| match shell.edges[e as usize].twin {
                NONE => None,
                twin => match shell.owner(twin) {
                    Owner::Face(g) => seam_of.get(&(face.min(g), face.max(g))).copied(),
                    Owner::Closure(a, b) if a == face || b == face => seam_of.get(&(a, b)).copied(),
                    Owner::Closure(..) => None,
                },
            };
            let (mut outlines, mut edges, mut cut_length) = (Vec::new(), Vec::new(), 0.0);
            for ring in &boundary {
                outlines.push(
                    ring.iter()
                        .map(|&e| {
                            let [s, t] = shell.edges[e as usize].plan;
                            [s, t + placed.phase]
                        })
                        .collect(),
                );
                edges.push(ring.iter().map(|&e| seam(e)).collect());
                cut_length += ring.iter().map(|&e| shell.length(e)).sum::<f64>();
            }
            let sheet = &placed.profile;
            let patches = piece.patches.iter().map(|&p| &shell.patches[p as usize]);
            let (area, centroid) = developed(patches, assembly, face);
            CutPart {
                part: Part {
                    id,
                    face: placed.id.clone(),
                    kind: PartKind::Sheet { profile: sheet.clone(), phase: placed.phase, lift: placed.lift },
                    frame: placed.frame,
                    outlines,
                    edges,
                    area,
                    cut_length,
                    mass: area * sheet.thickness() * density * KG_PER_MM3,
                },
                centroid: assembly.world(&centroid),
            }
        })
        .collect()
}

/// kg per mm³ of 1 kg/m³.
const KG_PER_MM3: f64 = 1.0e-9;

/// Area with true arcs in place of chords, and the centroid.
fn developed<'a>(
    patches: impl Iterator<Item = &'a Patch>,
    assembly: &Assembly,
    face: usize,
) -> (f64, Point3<f64>) {
    let placed = &assembly.faces[face];
    let sheet =
        crate::cladding::Sheet::new(0, &placed.frame, placed.frame.origin, 0.0, Some(&placed.profile));
    let (mut area, mut sum) = (0.0, Vector3::zeros());
    for p in patches {
        let (from, to) = (sheet.fold(p.strip), sheet.fold(p.strip + 1));
        let stretch = if from.is_finite() {
            let chord = (to - from).hypot(sheet.fold_height(p.strip + 1) - sheet.fold_height(p.strip));
            (placed.profile.developed_at(to, 0.0) - placed.profile.developed_at(from, 0.0)) / chord
        } else {
            1.0
        };
        area += p.area.abs() * stretch;
        sum += p.centroid.coords * (p.area.abs() * stretch);
    }
    let centroid = if area > 0.0 { Point3::from(sum / area) } else { Point3::origin() };
    (area, centroid)
}

/// Loops around a set of connected patches, the patches on the left.
fn boundary(shell: &Shell, patches: &[u32]) -> Vec<Vec<u32>> {
    // An edge of the boundary is followed by the next edge of its loop, or, where that is inside the set,
    // by what follows on the other side of it, and so on round the corner.
    let inside = |e: u32| {
        let twin = shell.edges[e as usize].twin;
        twin != NONE && patches.binary_search(&shell.edges[twin as usize].patch).is_ok()
    };
    let mut seen = BTreeSet::new();
    let mut rings = Vec::new();
    let starts = patches.iter().flat_map(|p| shell.loops_of(*p)).flat_map(|l| ring(shell, l.0));
    for start in starts {
        if seen.contains(&start) || inside(start) {
            continue;
        }
        let mut ring = Vec::new();
        let mut e = start;
        while seen.insert(e) {
            ring.push(e);
            e = shell.edges[e as usize].next;
            while inside(e) {
                e = shell.edges[shell.edges[e as usize].twin as usize].next;
            }
        }
        rings.push(ring);
    }
    // The outer loop first.
    rings.sort_by(|a, b| enclosed(shell, b).total_cmp(&enclosed(shell, a)));
    rings
}

/// Signed area a ring of edges encloses on its carrier, mm².
fn enclosed(shell: &Shell, ring: &[u32]) -> f64 {
    let Some(&first) = ring.first() else { return 0.0 };
    let o = shell.edges[first as usize].plan;
    let at = |i: usize| {
        let p = shell.edges[ring[i % ring.len()] as usize].plan;
        [p[0] - o[0], p[1] - o[1]]
    };
    (0..ring.len()).map(|i| (at(i)[0] * at(i + 1)[1] - at(i)[1] * at(i + 1)[0]) / 2.0).sum()
}

/// One part per seam that has closure strips: all its outlines in the plane of the wall.
pub(crate) fn closure_parts(
    assembly: &Assembly,
    shell: &Shell,
    seams: &[Seam],
    seam_of: &BTreeMap<(usize, usize), usize>,
    density: f64,
) -> Vec<CutPart> {
    let mut found: BTreeMap<(usize, usize), Vec<u32>> = BTreeMap::new();
    for &(first, patch) in &shell.loops {
        if let Owner::Closure(a, b) = shell.patches[patch as usize].owner {
            found.entry((a, b)).or_default().push(first);
        }
    }
    let mut parts = Vec::new();
    for ((a, b), firsts) in found {
        let (fa, fb) = (&assembly.faces[a], &assembly.faces[b]);
        let thickness = fa.profile.thickness().max(fb.profile.thickness());
        let seam = seam_of.get(&(a, b)).copied();
        let (first, second) = if fa.id <= fb.id { (fa, fb) } else { (fb, fa) };
        let id = seam.map_or_else(|| format!("{}~{}", first.id, second.id), |s| seams[s].id.clone());
        let (mut outlines, mut edges) = (Vec::new(), Vec::new());
        let (mut area, mut cut_length, mut sum) = (0.0, 0.0, Vector3::zeros());
        let mut frame = None;
        for first in firsts {
            let patch = &shell.patches[shell.edges[first as usize].patch as usize];
            let mut around = ring(shell, first);
            let mut own = enclosed(shell, &around);
            // Loops of strips that face against the wall's normal run the other way round; turned, outlines
            // run counter-clockwise and holes clockwise like those of any part.
            if patch.axes[0].cross(&patch.axes[1]).dot(&patch.normal) < 0.0 {
                around.reverse();
                own = -own;
            }
            if own.abs() < LEAST_CLOSURE_AREA {
                continue;
            }
            frame.get_or_insert(Frame {
                origin: assembly.world(&patch.origin),
                u: patch.axes[0],
                v: patch.axes[1],
                n: patch.axes[0].cross(&patch.axes[1]),
            });
            area += own;
            cut_length += around.iter().map(|&e| shell.length(e)).sum::<f64>();
            let mean: Vector3<f64> =
                around.iter().map(|&e| shell.points[shell.edges[e as usize].from as usize].coords).sum();
            #[allow(clippy::cast_precision_loss, reason = "few corners")]
            let mean = mean / around.len() as f64;
            sum += mean * own;
            outlines.push(around.iter().map(|&e| shell.edges[e as usize].plan).collect());
            edges.push(vec![seam; around.len()]);
        }
        if let Some(frame) = frame {
            let mass = area * thickness * density * KG_PER_MM3;
            let kind = PartKind::Closure { thickness };
            parts.push(CutPart {
                part: Part { id: id.clone(), face: id, kind, frame, outlines, edges, area, cut_length, mass },
                centroid: assembly.world(&Point3::from(sum / area)),
            });
        }
    }
    parts
}
