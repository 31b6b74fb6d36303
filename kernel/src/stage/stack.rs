//! The elements of a work lifted off each other along the stack, hidden lines removed.
//!
//! The shell is one surface; apart, each element is a surface that is open where it stood on another, so its sheets are
//! seen from both sides: every triangle hides from both, and the rims of the openings are lines.

use crate::drawing::{Drawing, Label};
use crate::mesh::Mesh;
use crate::view::{Projection, join_lines, size_of, visible_lines};
use crate::work::{ShellEdge, Work};
use nalgebra::{Point3, Vector3};
use std::collections::BTreeMap;

/// Clear height between two elements, as a share of the height of the lower one; and at least of the whole work.
const APART: f64 = 0.35;
const LEAST_APART: f64 = 0.08;
/// Height of capitals as a share of the picture's largest dimension.
const LETTERS: f64 = 1.0 / 48.0;

/// For each name of the mesh its element; a closure strip is the later element's.
pub(super) fn elements_of_names(work: &Work) -> Vec<Option<usize>> {
    let order: BTreeMap<&str, usize> =
        work.sculpture.elements.iter().enumerate().map(|(i, e)| (e.solid.name.as_str(), i)).collect();
    let of_face: BTreeMap<&str, usize> = work.faces.iter().map(|f| (f.id.as_str(), f.element)).collect();
    let of_seam: BTreeMap<&str, usize> = work
        .seams
        .iter()
        .map(|s| {
            let [a, b] = s.between.map(|face| work.faces[face].element);
            (s.id.as_str(), a.max(b))
        })
        .collect();
    let element = |name: &String| {
        let of = |map: &BTreeMap<&str, usize>| map.get(name.as_str()).copied();
        let by_name = || order.get(name.split('/').next()?).copied();
        of(&of_face).or_else(|| of(&of_seam)).or_else(by_name)
    };
    work.mesh.names.iter().map(element).collect()
}

/// The drawing; none for a work of one element.
pub(super) fn drawing(work: &Work, projection: &Projection) -> Option<Drawing> {
    let count = work.sculpture.elements.len();
    if count < 2 {
        return None;
    }
    let element_of = elements_of_names(work);
    let [low, high] = work.mesh.bounds()?;
    let lifts = lifts(work, &element_of, (high.z - low.z) * LEAST_APART);
    let lift = |name: u32| {
        let element = element_of.get(name as usize).copied().flatten().unwrap_or(0);
        Vector3::new(0.0, 0.0, lifts[element])
    };
    // One vertex for each element that shares it.
    let mut mesh = Mesh {
        points: Vec::new(),
        triangles: Vec::new(),
        part_of: Vec::new(),
        names: work.mesh.names.clone(),
    };
    // Backs are no faces: a face's normal is summed over its fronts.
    let back = u32::try_from(mesh.names.len()).ok()?;
    mesh.names.push(String::new());
    let mut known: BTreeMap<(u32, Option<usize>), u32> = BTreeMap::new();
    for (triangle, &name) in work.mesh.triangles.iter().zip(&work.mesh.part_of) {
        let element = element_of.get(name as usize).copied().flatten();
        let corners = triangle.map(|corner| {
            *known.entry((corner, element)).or_insert_with(|| {
                mesh.points.push(work.mesh.points[corner as usize] + lift(name));
                u32::try_from(mesh.points.len() - 1).unwrap_or(u32::MAX)
            })
        });
        let [a, b, c] = corners;
        mesh.triangles.extend([[a, b, c], [a, c, b]]);
        mesh.part_of.extend([name, back]);
    }
    let moved = |edge: &ShellEdge, side: usize| {
        let by = lift(edge.sides[side]);
        edge.ends.map(|p| p + by)
    };
    let side_of = |name: u32| element_of.get(name as usize).copied().flatten();
    let mut edges: Vec<ShellEdge> = Vec::with_capacity(work.edges.len());
    for edge in &work.edges {
        if side_of(edge.sides[0]) == side_of(edge.sides[1]) {
            edges.push(ShellEdge { ends: moved(edge, 0), ..*edge });
        } else {
            // Each side keeps its rim, which is seen from both sides of the sheet.
            for side in [0, 1] {
                let n = edge.normals[side];
                edges.push(ShellEdge { ends: moved(edge, side), normals: [n, -n], ..*edge });
            }
        }
    }
    let size = size_of(&mesh)?;
    let middle = nalgebra::center(&low, &high);
    let origin = Point3::new(middle.x, middle.y, low.z);
    // Rims have sides of two elements and are drawn as seams.
    let lines = visible_lines(&mesh, &edges, projection, &origin);
    let mut drawing = Drawing {
        name: "stack".to_owned(),
        title: "The elements lifted off each other".to_owned(),
        paths: join_lines(&lines, size),
        ..Drawing::default()
    };
    let [low, high] = drawing.bounds()?;
    let letters = (high[0] - low[0]).max(high[1] - low[1]) * LETTERS;
    for (element, name) in work.sculpture.elements.iter().map(|e| &e.solid.name).enumerate() {
        // Beside the middle of the element, to the right of its outermost point.
        let mut bounds: Option<[[f64; 2]; 2]> = None;
        for (triangle, &part) in mesh.triangles.iter().zip(&mesh.part_of) {
            if side_of(part) == Some(element) {
                for &corner in triangle {
                    let p = projection.project(&(mesh.points[corner as usize] - origin));
                    let [lo, hi] = bounds.get_or_insert([[p.x, p.y]; 2]);
                    *lo = [lo[0].min(p.x), lo[1].min(p.y)];
                    *hi = [hi[0].max(p.x), hi[1].max(p.y)];
                }
            }
        }
        if let Some([lo, hi]) = bounds {
            let at = [hi[0] + 1.5 * letters, (lo[1] + hi[1]) / 2.0 - letters / 2.0];
            drawing.labels.push(Label {
                at,
                height: letters,
                angle: 0.0,
                centred: false,
                text: name.clone(),
            });
        }
    }
    Some(drawing)
}

/// How far each element is lifted, mm: in the order of their feet, each off the one before.
fn lifts(work: &Work, element_of: &[Option<usize>], least: f64) -> Vec<f64> {
    let count = work.sculpture.elements.len();
    let mut spans = vec![[f64::INFINITY, f64::NEG_INFINITY]; count];
    for (triangle, &name) in work.mesh.triangles.iter().zip(&work.mesh.part_of) {
        let Some(element) = element_of.get(name as usize).copied().flatten() else { continue };
        for &corner in triangle {
            let z = work.mesh.points[corner as usize].z;
            spans[element] = [spans[element][0].min(z), spans[element][1].max(z)];
        }
    }
    let mut order: Vec<usize> = (0..count).filter(|&i| spans[i][0].is_finite()).collect();
    order.sort_by(|&a, &b| spans[a][0].total_cmp(&spans[b][0]).then(a.cmp(&b)));
    let mut lifts = vec![0.0; count];
    let mut lift = 0.0;
    for pair in order.windows(2) {
        let [below, above] = [pair[0], pair[1]];
        lift += ((spans[below][1] - spans[below][0]) * APART).max(least);
        lifts[above] = lift;
    }
    lifts
}
