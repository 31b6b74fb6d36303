//! Chambers of a work: what its sheets close in, as liquid sees it.
//!
//! The wall of a chamber is the inside skin of the sheets, trimmed and sewn as the middle skin is, with chords of bends
//! within the tolerance of the shell. Elements stacked with open joints share a chamber. Where the lower face is kept
//! whole (`open: false`), the chambers stay apart: the lower one has that face for its ceiling, the upper one is closed
//! by a plane along its outermost crests, and the ribs below that plane are not counted.
//!
//! A face left open is closed with a plane where its neighbours end. Liquid would run out there: it has to be closed
//! with a plate or a blank before any is poured in.

use crate::assembly::{Assembly, Surface};
use crate::error::Result;
use crate::liquid::Chamber;
use crate::mesh::Mesh;
use crate::parted::{Liquid, parted};
use crate::sculpture::Sculpture;
use crate::shell::Shell;
use crate::triangulate::triangles;
use crate::trim::Owner;
use crate::trim::field::Bisected;
use crate::work::Work;
use nalgebra::{Point3, Vector3};
use std::collections::BTreeMap;
use std::f64::consts::TAU;

/// Triangles flatter than this share of the work's size are turned, as in the shell itself.
const THIN: f64 = 1.0e-8;
/// A smaller space is a gap between sheets, not a chamber, mm³: a tenth of a litre.
const LEAST_CHAMBER: f64 = 1.0e5;
/// Two faces look the same way within this (1 less the cosine).
const SAME_WAY: f64 = 1.0e-9;

/// One chamber of a work.
#[derive(Debug, Clone)]
pub struct Enclosed {
    /// Its elements (indices), ascending.
    pub elements: Vec<usize>,
    /// Their names, joined.
    pub name: String,
    /// Its walls; parts are named like the faces of the work, closure strips like their seams.
    pub chamber: Chamber,
    /// Names of walls that are planes of the model, with nothing there yet: faces left open.
    pub open: Vec<String>,
    /// Names of walls that are planes along the crests of a face kept whole below.
    pub on_crests: Vec<String>,
    /// Whether its wall is the middle skin, because the inside skin does not close.
    pub by_middle_skin: bool,
}

/// What of a work is closed in, and what could not be.
#[derive(Debug, Clone, Default)]
pub struct Chambers {
    /// The chambers, in the order of their first elements.
    pub chambers: Vec<Enclosed>,
    /// Groups of elements whose shell does not close.
    pub leaking: Vec<String>,
}

/// All chambers of a work.
///
/// # Errors
/// What cannot be trimmed at all.
pub fn chambers(work: &Work) -> Result<Chambers> {
    let assembly = Assembly::new(&work.sculpture)?;
    let mut found = Chambers::default();
    for group in groups(work) {
        let (part, on_crests) = closed_in(work, &assembly, &group)?;
        let bisected = bisected(work, &part);
        let name_of = |e: &usize| work.sculpture.elements[*e].solid.name.clone();
        let name = called(&group.iter().map(name_of).collect::<Vec<_>>());
        let closed = |surface| {
            let mesh = parted(mesh_of(&part, &part.closed_skin(surface, &bisected)), Liquid::Inside);
            Some(mesh).filter(Mesh::is_watertight)
        };
        let inside = closed(Surface::Inside);
        let by_middle_skin = inside.is_none();
        let mesh = inside.or_else(|| closed(Surface::Middle));
        let Some(mesh) = mesh else {
            found.leaking.push(name);
            continue;
        };
        for body in bodies(&mesh) {
            let Ok(chamber) = Chamber::new(&body) else { continue };
            let own = |id: &&str| chamber.names.iter().any(|n| n == id);
            let elements: Vec<usize> = group
                .iter()
                .copied()
                .filter(|&e| {
                    let start = format!("{}/", name_of(&e));
                    chamber.names.iter().any(|n| n.starts_with(&start))
                })
                .collect();
            let open = part.faces.iter().filter(|f| f.open).map(|f| f.id.as_str());
            let (on_crests, open): (Vec<&str>, Vec<&str>) =
                open.filter(own).partition(|id| on_crests.iter().any(|c| c == id));
            found.chambers.push(Enclosed {
                name: called(&elements.iter().map(name_of).collect::<Vec<_>>()),
                elements,
                open: open.into_iter().map(str::to_owned).collect(),
                on_crests: on_crests.into_iter().map(str::to_owned).collect(),
                chamber,
                by_middle_skin,
            });
        }
    }
    Ok(found)
}

/// Most elements that a chamber is called by; a longer name would fill every row of every table.
const NAMED: usize = 3;

/// What a chamber of these elements is called: by all of a few, by the first and the last of many.
fn called(elements: &[String]) -> String {
    match elements {
        [first, .., last] if elements.len() > NAMED => {
            format!("{first} to {last} ({} elements)", elements.len())
        }
        _ => elements.join(" + "),
    }
}

/// The outside skin of a work as one closed mesh, and whether it is: if it does not close, the shell of the middle skin.
///
/// # Errors
/// What cannot be trimmed at all.
pub fn outside(work: &Work) -> Result<(Mesh, bool)> {
    outside_as(work, &work.sculpture)
}

/// The same of the work with its elements or ribs turned, its joints as they are.
///
/// # Errors
/// What cannot be trimmed at all.
pub(crate) fn outside_as(work: &Work, turned: &Sculpture) -> Result<(Mesh, bool)> {
    let assembly = Assembly::new(turned)?;
    let bisected = bisected(work, &assembly);
    let skin =
        |surface| parted(mesh_of(&assembly, &assembly.closed_skin(surface, &bisected)), Liquid::Outside);
    let mesh = skin(Surface::Outside);
    Ok(if mesh.is_watertight() { (mesh, true) } else { (skin(Surface::Middle), false) })
}

/// Elements that open into each other: all that do not stand on a face kept whole.
fn groups(work: &Work) -> Vec<Vec<usize>> {
    let sculpture = &work.sculpture;
    let count = sculpture.elements.len();
    if sculpture.kept_whole.is_empty() {
        return vec![(0..count).collect()];
    }
    let mut group: Vec<usize> = (0..count).collect();
    for rest in &sculpture.rests {
        if stands_on_whole(work, rest.on, &rest.normal).is_none() {
            let (a, b) = (group[rest.element], group[rest.on]);
            group.iter_mut().filter(|g| **g == a.max(b)).for_each(|g| *g = a.min(b));
        }
    }
    let mut all: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (e, g) in group.into_iter().enumerate() {
        all.entry(g).or_default().push(e);
    }
    all.into_values().collect()
}

/// The face kept whole (an index into `Work::faces`) with this normal.
fn stands_on_whole(work: &Work, element: usize, normal: &Vector3<f64>) -> Option<usize> {
    let kept = |f: &usize| {
        let face = &work.faces[*f];
        face.element == element
            && face.frame.n.dot(normal) > 1.0 - SAME_WAY
            && work.sculpture.kept_whole.contains(&face.id)
    };
    (0..work.faces.len()).find(kept)
}

/// A group by itself, its feet that stand on faces kept whole closed by planes along their crests; with the names of
/// these feet.
fn closed_in(work: &Work, assembly: &Assembly, group: &[usize]) -> Result<(Assembly, Vec<String>)> {
    let mut part = assembly.some(group);
    let mut feet = Vec::new();
    for rest in &work.sculpture.rests {
        let Some(k) = group.iter().position(|&e| e == rest.element) else { continue };
        let Some(below) = stands_on_whole(work, rest.on, &rest.normal) else { continue };
        let down = |f: &usize| part.faces[*f].frame.n.dot(&rest.normal);
        let Some(foot) = part.elements[k].clone().min_by(|a, b| down(a).total_cmp(&down(b))) else {
            continue;
        };
        let sheet = &work.faces[below];
        let over = sheet.lift + (sheet.profile.depth() + sheet.profile.thickness()) / 2.0;
        feet.push(part.faces[foot].id.clone());
        part.close_on(foot, &sheet.frame, over)?;
    }
    Ok((part, feet))
}

/// The pairs of faces that are cut on their bisector in the work: those with closure strips.
fn bisected(work: &Work, part: &Assembly) -> Bisected {
    let mut bisected = Bisected::none(part.faces.len());
    for name in &work.mesh.names {
        let Some((a, b)) = name.split_once('~') else { continue };
        let face = |id: &str| part.faces.iter().position(|f| f.id == id);
        if let (Some(a), Some(b)) = (face(a), face(b)) {
            bisected.insert(a, b);
        }
    }
    bisected
}

fn mesh_of(part: &Assembly, shell: &Shell) -> Mesh {
    let mut index_of: BTreeMap<Owner, u32> = BTreeMap::new();
    let mut names: Vec<String> = Vec::new();
    let (mut all, mut part_of) = (Vec::new(), Vec::new());
    for (patch, triangle) in triangles(shell, THIN * part.size) {
        let owner = shell.patches[patch as usize].owner;
        let index = *index_of.entry(owner).or_insert_with(|| {
            names.push(match owner {
                Owner::Face(f) => part.faces[f].id.clone(),
                Owner::Closure(a, b) => {
                    let (a, b) = (&part.faces[a].id, &part.faces[b].id);
                    format!("{}~{}", a.min(b), a.max(b))
                }
            });
            #[allow(clippy::cast_possible_truncation, reason = "few names")]
            let index = names.len() as u32 - 1;
            index
        });
        all.push(triangle);
        part_of.push(index);
    }
    let points = shell.points.iter().map(|p| part.world(p)).collect();
    Mesh { points, triangles: all, part_of, names }
}

/// The closed spaces of a mesh, each with the voids in it, largest first.
fn bodies(mesh: &Mesh) -> Vec<Mesh> {
    let mut set: Vec<usize> = (0..mesh.points.len()).collect();
    fn root(set: &mut [usize], mut k: usize) -> usize {
        while set[k] != k {
            set[k] = set[set[k]];
            k = set[k];
        }
        k
    }
    for t in &mesh.triangles {
        let [a, b, c] = t.map(|k| root(&mut set, k as usize));
        let least = a.min(b).min(c);
        for k in [a, b, c] {
            set[k] = least;
        }
    }
    let mut pieces: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (i, t) in mesh.triangles.iter().enumerate() {
        pieces.entry(root(&mut set, t[0] as usize)).or_default().push(i);
    }
    let piece = |triangles: &[usize]| Mesh {
        points: mesh.points.clone(),
        triangles: triangles.iter().map(|&t| mesh.triangles[t]).collect(),
        part_of: triangles.iter().map(|&t| mesh.part_of[t]).collect(),
        names: mesh.names.clone(),
    };
    let (mut solid, mut voids) = (Vec::new(), Vec::new());
    for triangles in pieces.into_values() {
        let volume = piece(&triangles).volume();
        if volume > LEAST_CHAMBER {
            solid.push((volume, triangles));
        } else if volume < 0.0 {
            voids.push(triangles);
        }
    }
    solid.sort_by(|a, b| b.0.total_cmp(&a.0));
    for triangles in voids {
        let place = mesh.corners(triangles[0])[0];
        // The smallest space round it.
        if let Some((_, home)) = solid.iter_mut().rev().find(|(_, s)| holds(mesh, s, &place)) {
            home.extend(triangles);
        }
    }
    solid.into_iter().map(|(_, triangles)| compact(piece(&triangles))).collect()
}

/// Whether a closed surface goes round a place: the sum of the solid angles of its triangles (A. van Oosterom,
/// J. Strackee, "The solid angle of a plane triangle", 1983).
fn holds(mesh: &Mesh, triangles: &[usize], place: &Point3<f64>) -> bool {
    let angle = |&t: &usize| {
        let [a, b, c] = mesh.corners(t).map(|p| p - place);
        let [la, lb, lc] = [a.norm(), b.norm(), c.norm()];
        let below = la * lb * lc + a.dot(&b) * lc + b.dot(&c) * la + c.dot(&a) * lb;
        2.0 * a.dot(&b.cross(&c)).atan2(below)
    };
    triangles.iter().map(angle).sum::<f64>() > TAU
}

/// Only the points and names that are used.
fn compact(mesh: Mesh) -> Mesh {
    let mut point = vec![u32::MAX; mesh.points.len()];
    let mut name = vec![u32::MAX; mesh.names.len()];
    let mut small = Mesh::default();
    #[allow(clippy::cast_possible_truncation, reason = "fewer than before")]
    for (t, part) in mesh.triangles.iter().zip(&mesh.part_of) {
        small.triangles.push(t.map(|k| {
            let new = &mut point[k as usize];
            if *new == u32::MAX {
                *new = small.points.len() as u32;
                small.points.push(mesh.points[k as usize]);
            }
            *new
        }));
        let new = &mut name[*part as usize];
        if *new == u32::MAX {
            *new = small.names.len() as u32;
            small.names.push(mesh.names[*part as usize].clone());
        }
        small.part_of.push(*new);
    }
    small
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chamber_of_many_elements_has_a_short_name() {
        let names: Vec<String> = ["sill", "stump", "wedge", "trunk"].map(str::to_owned).into();
        assert_eq!(called(&names[..3]), "sill + stump + wedge");
        assert_eq!(called(&names), "sill to trunk (4 elements)");
        assert_eq!(called(&names[..1]), "sill");
    }
}
