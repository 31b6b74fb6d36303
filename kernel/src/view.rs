//! Views: hidden-line pictures of the shell.
//!
//! Method: object-space hidden lines. Every edge is projected along the line of sight, and from it are taken
//! the intervals in which a front-facing triangle lies before it: the edge is clipped against the projected
//! triangle (three half-planes, linear in the edge's parameter) and against the triangle's plane (also
//! linear). The rest is seen. Triangles are found through a grid over the picture. No pixels, no sampling:
//! the result is exact up to [`TOLERANCE`].
//! Only front-facing triangles need be looked at: going from a hidden point of a closed shell towards the
//! viewer, the last crossing of the shell leads outward.
//! Cost about O(edges · triangles over one edge). Units: mm.

use crate::drawing::{Layer, Path};
use crate::mesh::Mesh;
use crate::work::ShellEdge;
use nalgebra::{Point3, Vector3};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// How far a triangle must lie before a point to hide it, and by how much triangles are widened so that no
/// light falls through between two of them; as a share of the work's size. Seams are computed from both sides
/// to within 1e-6 of the size, so less would let a face hide its own edge; more would eat visible line ends.
pub const TOLERANCE: f64 = 2.0e-6;

/// Triangles that face the viewer less than this (sine of the angle of sight) are seen edge-on and hide
/// nothing; a web 200 mm wide would cover 0.0002 mm of the picture.
const EDGE_ON: f64 = 1.0e-6;

/// Folds of one face closer together than this share of the picture's size are drawn as one line, so that
/// the chords of a bend or a very fine profile do not run into a black bar.
const CLOSEST_FOLDS: f64 = 1.0 / 250.0;

/// Ends of lines are joined within this many tolerances.
const SNAP: f64 = 4.0;

/// Where the viewer stands, as three orthogonal unit vectors with right × up = toward.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Projection {
    /// To the right in the picture.
    pub right: Vector3<f64>,
    /// Up in the picture.
    pub up: Vector3<f64>,
    /// From the work to the viewer.
    pub toward: Vector3<f64>,
}

/// A piece of an edge that is seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VisibleLine {
    /// [`Layer::Seam`] for seams and silhouettes, [`Layer::Fold`] for folds within a face.
    pub layer: Layer,
    /// Its ends in the picture, mm.
    pub ends: [[f64; 2]; 2],
    /// Index of its edge.
    pub edge: usize,
}

impl Projection {
    /// Seen from a compass direction (degrees counter-clockwise from +x) and a height (degrees above level),
    /// from infinitely far away, z upright.
    pub fn from_direction(azimuth: f64, elevation: f64) -> Self {
        let ((sa, ca), (se, ce)) = (azimuth.to_radians().sin_cos(), elevation.to_radians().sin_cos());
        Self {
            right: Vector3::new(-sa, ca, 0.0),
            up: Vector3::new(-se * ca, -se * sa, ce),
            toward: Vector3::new(ce * ca, ce * sa, se),
        }
    }

    /// Seen square from the given side; exact for the axes of space.
    pub fn square(right: Vector3<f64>, up: Vector3<f64>) -> Self {
        Self { right, up, toward: right.cross(&up) }
    }

    /// Picture x, picture y and nearness to the viewer of a point given relative to the picture's origin, mm.
    pub fn project(&self, p: &Vector3<f64>) -> Vector3<f64> {
        Vector3::new(self.right.dot(p), self.up.dot(p), self.toward.dot(p))
    }
}

/// The pieces of all edges that are seen, in order of edges. `origin` is the point of space that falls on the
/// picture's origin; near the work for full precision.
///
/// Left out are folds between two faces turned away, folds of one plane, and all but one of the folds of one
/// face that lie too close together to be drawn apart.
pub fn visible_lines(
    mesh: &Mesh,
    edges: &[ShellEdge],
    projection: &Projection,
    origin: &Point3<f64>,
) -> Vec<VisibleLine> {
    let Some(size) = size_of(mesh) else { return Vec::new() };
    let epsilon = size * TOLERANCE;
    let mut screen = Screen::new(mesh, projection, origin, epsilon);
    let dropped = crowded_folds(mesh, edges, size * CLOSEST_FOLDS);
    let mut lines = Vec::new();
    for (index, edge) in edges.iter().enumerate() {
        let Some(layer) = layer_of(edge, projection) else { continue };
        if layer == Layer::Fold && dropped.contains(&index) {
            continue;
        }
        let [a, b] = edge.ends.map(|p| projection.project(&(p - origin)));
        for [t0, t1] in screen.visible(&a, &b) {
            let at = |t: f64| [a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t];
            lines.push(VisibleLine { layer, ends: [at(t0), at(t1)], edge: index });
        }
    }
    lines
}

/// The diagonal of the box around the mesh, mm; `None` for an empty one.
pub(crate) fn size_of(mesh: &Mesh) -> Option<f64> {
    mesh.bounds().map(|[lo, hi]| (hi - lo).norm()).filter(|s| *s > 0.0)
}

/// How an edge is drawn; `None` if neither side faces the viewer or there is no edge to see.
fn layer_of(edge: &ShellEdge, projection: &Projection) -> Option<Layer> {
    let front = edge.normals.map(|n| n.dot(&projection.toward) > EDGE_ON);
    match front {
        [false, false] => None,
        [true, true] if edge.sides[0] == edge.sides[1] => {
            let flat = edge.normals[0].cross(&edge.normals[1]).norm() < EDGE_ON;
            (!flat).then_some(Layer::Fold)
        }
        _ => Some(Layer::Seam),
    }
}

/// The folds of one face: where each lies across the ribs, and its index.
struct FoldsOfFace {
    origin: Point3<f64>,
    across: Vector3<f64>,
    folds: Vec<(f64, usize)>,
}

/// Folds that would be drawn closer than `spacing` to another fold of the same face: of each such bunch all
/// but the middle one.
fn crowded_folds(mesh: &Mesh, edges: &[ShellEdge], spacing: f64) -> BTreeSet<usize> {
    let mut normals = vec![Vector3::zeros(); mesh.names.len()];
    for (i, &part) in mesh.part_of.iter().enumerate() {
        if let Some(n) = normals.get_mut(part as usize) {
            *n += mesh.area_vector(i);
        }
    }
    let mut faces: BTreeMap<u32, FoldsOfFace> = BTreeMap::new();
    for (i, edge) in edges.iter().enumerate().filter(|(_, e)| e.sides[0] == e.sides[1]) {
        let Some(normal) = normals.get(edge.sides[0] as usize) else { continue };
        let [a, b] = edge.ends;
        let face = faces.entry(edge.sides[0]).or_insert_with(|| FoldsOfFace {
            origin: a,
            across: normal.cross(&(b - a)).try_normalize(0.0).unwrap_or_default(),
            folds: Vec::new(),
        });
        face.folds.push(((nalgebra::center(&a, &b) - face.origin).dot(&face.across), i));
    }
    let mut dropped = BTreeSet::new();
    for FoldsOfFace { mut folds, .. } in faces.into_values() {
        folds.sort_by(|x, y| x.0.total_cmp(&y.0));
        let mut rest = folds.as_slice();
        while let Some(&(first, _)) = rest.first() {
            let (bunch, after) = rest.split_at(rest.partition_point(|f| f.0 - first < spacing));
            rest = after;
            let middle = (first + bunch[bunch.len() - 1].0) / 2.0;
            let nearest = bunch.iter().map(|f| (f.0 - middle).abs()).fold(f64::INFINITY, f64::min);
            // One fold may be cut into several edges; they differ by rounding only.
            let same_fold = nearest + spacing * TOLERANCE;
            let mut side = None;
            for &(t, i) in bunch {
                let kept = (t - middle).abs() <= same_fold && *side.get_or_insert(t < middle) == (t < middle);
                if !kept {
                    dropped.insert(i);
                }
            }
        }
    }
    dropped
}

/// A triangle that can hide something.
struct Occluder {
    corners: [Vector3<f64>; 3],
    normal: Vector3<f64>,
    nearest: f64,
    /// Its box in the picture, widened.
    low: [f64; 2],
    high: [f64; 2],
    /// By how much each side is widened, as its function counts.
    margins: [f64; 3],
    seen_by: u32,
}

/// The front-facing triangles over the picture, found through a grid.
struct Screen {
    epsilon: f64,
    occluders: Vec<Occluder>,
    grid: Grid,
    /// For each cell the range of its occluders in `in_cell`, nearest to the viewer first.
    starts: Vec<usize>,
    in_cell: Vec<u32>,
    edge: u32,
}

impl Screen {
    fn new(mesh: &Mesh, projection: &Projection, origin: &Point3<f64>, epsilon: f64) -> Self {
        let points: Vec<Vector3<f64>> =
            mesh.points.iter().map(|p| projection.project(&(p - origin))).collect();
        let mut occluders: Vec<Occluder> = Vec::with_capacity(mesh.triangles.len() / 2);
        for t in &mesh.triangles {
            let corners = t.map(|i| points[i as usize]);
            let [a, b, c] = corners;
            let Some(normal) = (b - a).cross(&(c - a)).try_normalize(0.0) else { continue };
            if normal.z > EDGE_ON {
                occluders.push(Occluder::new(corners, normal, epsilon));
            }
        }
        // Nearest first, so that every cell's list comes out in that order.
        occluders.sort_by(|x, y| y.nearest.total_cmp(&x.nearest));
        let grid = Grid::over(&points, occluders.len(), epsilon);
        let mut starts = vec![0; grid.columns * grid.rows + 1];
        let mut placed: Vec<(usize, u32)> = Vec::new();
        for (k, o) in (0_u32..).zip(&occluders) {
            grid.cells(&o.corners, |cell| {
                starts[cell + 1] += 1;
                placed.push((cell, k));
            });
        }
        for i in 1..starts.len() {
            starts[i] += starts[i - 1];
        }
        let mut next = starts.clone();
        let mut in_cell = vec![0; placed.len()];
        for (cell, k) in placed {
            in_cell[next[cell]] = k;
            next[cell] += 1;
        }
        Self { epsilon, occluders, grid, starts, in_cell, edge: 0 }
    }

    /// The visible intervals of the edge from a to b, as parameters from 0 to 1.
    fn visible(&mut self, a: &Vector3<f64>, b: &Vector3<f64>) -> Vec<[f64; 2]> {
        let length = (b - a).xy().norm();
        if length <= SNAP * self.epsilon {
            return Vec::new();
        }
        self.edge += 1;
        let Self { epsilon, occluders, grid, starts, in_cell, edge } = self;
        let (epsilon, edge) = (*epsilon, *edge);
        let mut hidden: Vec<[f64; 2]> = Vec::new();
        grid.cells(&[*a, *b], |cell| {
            let farthest = grid.farthest(a, b, cell);
            for &k in &in_cell[starts[cell]..starts[cell + 1]] {
                let o = &mut occluders[k as usize];
                if o.nearest < farthest - epsilon {
                    break;
                }
                if o.seen_by == edge {
                    continue;
                }
                o.seen_by = edge;
                if let Some(interval) = o.hides(a, b, epsilon) {
                    // What is shorter is the touch of a widened triangle.
                    if (interval[1] - interval[0]) * length > SNAP * epsilon {
                        hidden.push(interval);
                    }
                }
            }
        });
        complement(hidden, SNAP * epsilon / length)
    }
}

impl Occluder {
    fn new(corners: [Vector3<f64>; 3], normal: Vector3<f64>, epsilon: f64) -> Self {
        let [a, b, c] = corners;
        let side = |p: Vector3<f64>, q: Vector3<f64>| epsilon * (q.x - p.x).hypot(q.y - p.y);
        Self {
            corners,
            normal,
            nearest: a.z.max(b.z).max(c.z),
            low: [a.x.min(b.x).min(c.x) - epsilon, a.y.min(b.y).min(c.y) - epsilon],
            high: [a.x.max(b.x).max(c.x) + epsilon, a.y.max(b.y).max(c.y) + epsilon],
            margins: [side(a, b), side(b, c), side(c, a)],
            seen_by: 0,
        }
    }

    /// The interval of the edge from a to b in which this triangle lies before it.
    fn hides(&self, a: &Vector3<f64>, b: &Vector3<f64>, epsilon: f64) -> Option<[f64; 2]> {
        let mut interval = [0.0, 1.0];
        // Distance behind the plane, square to it, so that steep triangles are judged as safely as others. Asked first:
        // most edges that a triangle does not hide are its neighbours' and lie in its plane.
        let behind = |p: &Vector3<f64>| -self.normal.dot(&(p - self.corners[0])) - epsilon;
        clip(&mut interval, behind(a), behind(b))?;
        // A widened needle would reach far beyond its tip; the box around the triangle cuts that off.
        for axis in 0..2 {
            let (low, high) = (self.low[axis], self.high[axis]);
            clip(&mut interval, a[axis] - low, b[axis] - low)?;
            clip(&mut interval, high - a[axis], high - b[axis])?;
        }
        for i in 0..3 {
            let (p, q) = (self.corners[i], self.corners[(i + 1) % 3]);
            let (dx, dy) = (q.x - p.x, q.y - p.y);
            let margin = self.margins[i];
            let inside = |r: &Vector3<f64>| dx * (r.y - p.y) - dy * (r.x - p.x) + margin;
            clip(&mut interval, inside(a), inside(b))?;
        }
        Some(interval)
    }
}

/// Keeps the part of the interval where a linear function with these values at 0 and 1 is positive.
fn clip(interval: &mut [f64; 2], at_0: f64, at_1: f64) -> Option<()> {
    match (at_0 > 0.0, at_1 > 0.0) {
        (true, true) => {}
        (false, false) => return None,
        (true, false) => interval[1] = interval[1].min(at_0 / (at_0 - at_1)),
        (false, true) => interval[0] = interval[0].max(at_0 / (at_0 - at_1)),
    }
    (interval[0] < interval[1]).then_some(())
}

/// What is left of 0 to 1, without pieces shorter than `shortest`.
fn complement(mut hidden: Vec<[f64; 2]>, shortest: f64) -> Vec<[f64; 2]> {
    hidden.sort_by(|x, y| x[0].total_cmp(&y[0]));
    let mut visible = Vec::new();
    let mut from = 0.0;
    for [start, end] in hidden.into_iter().chain([[1.0, 1.0]]) {
        if start - from > shortest {
            visible.push([from, start]);
        }
        from = f64::max(from, end);
    }
    visible
}

/// Square cells over the picture.
struct Grid {
    low: [f64; 2],
    cell: f64,
    columns: usize,
    rows: usize,
    margin: f64,
}

impl Grid {
    /// About as many cells as there are triangles.
    fn over(points: &[Vector3<f64>], triangles: usize, margin: f64) -> Self {
        /// Most columns or rows: bounds memory for shapes that are all length.
        const MOST: f64 = 1024.0;
        let mut low = [f64::INFINITY; 2];
        let mut high = [f64::NEG_INFINITY; 2];
        for p in points {
            for i in 0..2 {
                low[i] = low[i].min(p[i]);
                high[i] = high[i].max(p[i]);
            }
        }
        let span = [high[0] - low[0], high[1] - low[1]].map(|s| s.max(margin));
        #[allow(clippy::cast_precision_loss, reason = "only a size of cells")]
        let cell = (span[0] * span[1] / (triangles.max(1) as f64)).sqrt().max(span[0].max(span[1]) / MOST);
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "between 0 and MOST by choice of the cell"
        )]
        let count = |s: f64| (s / cell).floor() as usize + 1;
        Self { low, cell, columns: count(span[0]), rows: count(span[1]), margin }
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped, floats saturate")]
    fn place(&self, x: f64, axis: usize) -> usize {
        let count = if axis == 0 { self.columns } else { self.rows };
        (((x - self.low[axis]) / self.cell).max(0.0) as usize).min(count - 1)
    }

    /// Where the part of an edge over a cell is farthest from the viewer; of its whole where rounding leaves no part.
    fn farthest(&self, a: &Vector3<f64>, b: &Vector3<f64>, cell: usize) -> f64 {
        let mut part = [0.0_f64, 1.0_f64];
        for (axis, index) in [cell % self.columns, cell / self.columns].into_iter().enumerate() {
            let d = b[axis] - a[axis];
            let last = if axis == 0 { self.columns } else { self.rows } - 1;
            #[allow(clippy::cast_precision_loss, reason = "small")]
            let from = self.low[axis] + index as f64 * self.cell;
            // Cells at the rim hold what lies beyond.
            let least = if index == 0 { f64::NEG_INFINITY } else { from - 2.0 * self.margin };
            let most = if index == last { f64::INFINITY } else { from + self.cell + 2.0 * self.margin };
            if d == 0.0 {
                continue;
            }
            let (s, t) = ((least - a[axis]) / d, (most - a[axis]) / d);
            part = [part[0].max(s.min(t)), part[1].min(s.max(t))];
        }
        if part[0] > part[1] {
            return a.z.min(b.z);
        }
        let [from, to] = part.map(|t| a.z + (b.z - a.z) * t);
        from.min(to)
    }

    /// Calls `visit` for every cell that the convex polygon (or segment) touches, each once.
    fn cells(&self, polygon: &[Vector3<f64>], mut visit: impl FnMut(usize)) {
        let extent = |axis: usize| {
            polygon
                .iter()
                .fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], p| [l.min(p[axis]), h.max(p[axis])])
        };
        let [bottom, top] = extent(1);
        let [left, right] = extent(0);
        for row in self.place(bottom - self.margin, 1)..=self.place(top + self.margin, 1) {
            #[allow(clippy::cast_precision_loss, reason = "small")]
            let y0 = self.low[1] + row as f64 * self.cell - self.margin;
            let y1 = y0 + self.cell + 2.0 * self.margin;
            // Extent in x of the polygon's border within the row.
            let mut x = [f64::INFINITY, f64::NEG_INFINITY];
            for (i, p) in polygon.iter().enumerate() {
                let q = &polygon[(i + 1) % polygon.len()];
                let mut t = [0.0, 1.0];
                let within = clip(&mut t, p.y - y0, q.y - y0).and_then(|()| clip(&mut t, y1 - p.y, y1 - q.y));
                if within.is_some() {
                    for at in t.map(|t| p.x + (q.x - p.x) * t) {
                        x = [x[0].min(at), x[1].max(at)];
                    }
                }
            }
            if x[0] > x[1] {
                // Only the margin reaches into this row.
                x = [left, right];
            }
            for column in self.place(x[0] - self.margin, 0)..=self.place(x[1] + self.margin, 0) {
                visit(row * self.columns + column);
            }
        }
    }
}

/// Joins lines end to end into as few polylines as possible, seams first; doubled lines are drawn once and
/// points on a straight run left out. `size` is that of the work, mm.
pub fn join_lines(lines: &[VisibleLine], size: f64) -> Vec<Path> {
    let snap = size * TOLERANCE * SNAP;
    let mut nodes = Nodes { snap, ids: HashMap::new(), points: Vec::new() };
    let mut paths = Vec::new();
    let mut drawn: BTreeSet<[usize; 2]> = BTreeSet::new();
    for layer in [Layer::Seam, Layer::Fold] {
        let mut segments: Vec<[usize; 2]> = Vec::new();
        for line in lines.iter().filter(|l| l.layer == layer) {
            let [a, b] = line.ends.map(|p| nodes.id(p));
            if a != b && drawn.insert([a.min(b), a.max(b)]) {
                segments.push([a, b]);
            }
        }
        for (chain, closed) in chains(&segments, nodes.points.len()) {
            let points = without_straight(chain.iter().map(|&i| nodes.points[i]).collect(), snap);
            // A ring thinner than can be drawn is a line.
            let closed = closed && points.len() > 2;
            if points.len() > 1 {
                paths.push(Path { layer, points, closed });
            }
        }
    }
    paths
}

/// Points that count as one.
struct Nodes {
    snap: f64,
    ids: HashMap<[i64; 2], usize>,
    points: Vec<[f64; 2]>,
}

impl Nodes {
    fn id(&mut self, p: [f64; 2]) -> usize {
        #[allow(clippy::cast_possible_truncation, reason = "1e9 mm over a micrometre fits")]
        let key = p.map(|x| (x / self.snap).round() as i64);
        // A point near the border of its square may have its like in the next.
        for dx in [0, -1, 1] {
            for dy in [0, -1, 1] {
                let found = self.ids.get(&[key[0] + dx, key[1] + dy]).copied();
                let near = |q: [f64; 2]| (q[0] - p[0]).hypot(q[1] - p[1]) <= self.snap;
                if let Some(i) = found.filter(|&i| near(self.points[i])) {
                    return i;
                }
            }
        }
        let id = self.points.len();
        // Two unlike points may share a square; the earlier one stays findable.
        self.ids.entry(key).or_insert(id);
        self.points.push(p);
        id
    }
}

/// Walks along segments from every end and fork, then around what is left; closed chains do not repeat
/// their first node.
fn chains(segments: &[[usize; 2]], nodes: usize) -> Vec<(Vec<usize>, bool)> {
    let mut at: Vec<Vec<usize>> = vec![Vec::new(); nodes];
    for (i, s) in segments.iter().enumerate() {
        s.iter().for_each(|&n| at[n].push(i));
    }
    let mut used = vec![false; segments.len()];
    let mut found = Vec::new();
    let loose_ends = (0..nodes).filter(|&n| !at[n].is_empty() && at[n].len() != 2);
    for start in loose_ends.chain(0..nodes) {
        for k in 0..at[start].len() {
            if used[at[start][k]] {
                continue;
            }
            let mut chain = vec![start];
            let (mut node, mut segment) = (start, at[start][k]);
            loop {
                used[segment] = true;
                let [a, b] = segments[segment];
                node = if a == node { b } else { a };
                if node == start && at[start].len() == 2 {
                    found.push((chain, true));
                    break;
                }
                chain.push(node);
                match at[node].iter().find(|&&s| !used[s]) {
                    Some(&next) if at[node].len() == 2 => segment = next,
                    _ => {
                        found.push((chain, false));
                        break;
                    }
                }
            }
        }
    }
    found
}

/// Leaves out points that lie within `tolerance` of the line from the last kept point to the next.
fn without_straight(points: Vec<[f64; 2]>, tolerance: f64) -> Vec<[f64; 2]> {
    let mut kept: Vec<[f64; 2]> = Vec::with_capacity(points.len());
    for (i, &p) in points.iter().enumerate() {
        if let (Some(&a), Some(&b)) = (kept.last(), points.get(i + 1)) {
            let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
            let length = dx.hypot(dy);
            let off = (dx * (p[1] - a[1]) - dy * (p[0] - a[0])).abs();
            let along = dx * (p[0] - a[0]) + dy * (p[1] - a[1]);
            if off <= tolerance * length && along >= 0.0 && along <= length * length {
                continue;
            }
        }
        kept.push(p);
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mesh::samples::{corrugated, cuboid, edges, join};

    fn south() -> Projection {
        Projection::square(Vector3::x(), Vector3::z())
    }

    fn lines_of(mesh: &Mesh, projection: &Projection) -> Vec<VisibleLine> {
        visible_lines(mesh, &edges(mesh), projection, &Point3::origin())
    }

    fn length(lines: &[VisibleLine], layer: Layer) -> f64 {
        let of = |l: &VisibleLine| (l.ends[1][0] - l.ends[0][0]).hypot(l.ends[1][1] - l.ends[0][1]);
        lines.iter().filter(|l| l.layer == layer).map(of).sum()
    }

    /// Is the point hidden? By shooting a ray through all triangles: another method than clipping.
    fn hidden_by_ray(mesh: &Mesh, p: &Point3<f64>, toward: &Vector3<f64>, margin: f64) -> bool {
        (0..mesh.triangles.len()).any(|i| {
            let [a, b, c] = mesh.corners(i);
            let (e1, e2, s) = (b - a, c - a, p - a);
            let h = toward.cross(&e2);
            let det = e1.dot(&h);
            if det.abs() < 1e-9 * e1.norm() * e2.norm() {
                return false;
            }
            let u = s.dot(&h) / det;
            let q = s.cross(&e1);
            let (v, t) = (toward.dot(&q) / det, e2.dot(&q) / det);
            u >= 0.0 && v >= 0.0 && u + v <= 1.0 && t > margin
        })
    }

    #[test]
    fn a_ring_too_thin_to_draw_is_a_line() {
        let size = 1000.0;
        let thin = 0.5 * size * TOLERANCE * SNAP;
        let corners = [[0.0, 0.0], [10.0, 0.0], [5.0, thin]];
        let ends = |i: usize| [corners[i], corners[(i + 1) % 3]];
        let line = |i: usize| VisibleLine { layer: Layer::Seam, ends: ends(i), edge: i };
        let paths = join_lines(&[line(0), line(1), line(2)], size);
        assert!(!paths.is_empty());
        for path in &paths {
            assert!(path.points.len() >= if path.closed { 3 } else { 2 }, "{path:?}");
        }
    }

    #[test]
    fn a_box_seen_square_on_shows_four_edges_and_from_a_corner_nine() {
        let m = cuboid("A", [0.0; 3], [300.0, 200.0, 100.0]);
        let front = lines_of(&m, &south());
        assert!((length(&front, Layer::Seam) - 800.0).abs() < 1e-6, "once around 300 by 100");
        assert_eq!(join_lines(&front, 374.0).len(), 1, "one closed outline");
        assert!(join_lines(&front, 374.0)[0].closed, "closed");
        let corner = lines_of(&m, &Projection::from_direction(-60.0, 25.0));
        assert_eq!(corner.len(), 9, "three edges of twelve meet in the hidden corner");
    }

    #[test]
    fn what_stands_behind_is_cut_off_exactly_at_the_outline_before_it() {
        let near = cuboid("A", [0.0, 0.0, 0.0], [100.0, 100.0, 100.0]);
        let far = cuboid("B", [50.0, 500.0, 40.0], [250.0, 600.0, 60.0]);
        let m = join(&[near, far]);
        let lines = lines_of(&m, &south());
        // Around A 400; of B the part from x = 100: two long edges of 150 and the right end of 20.
        assert!((length(&lines, Layer::Seam) - (400.0 + 320.0)).abs() < 0.02, "{lines:?}");
        let least =
            lines.iter().filter(|l| l.ends.iter().all(|e| e[1] > 30.0 && e[1] < 70.0)).flat_map(|l| l.ends);
        let least = least.map(|e| e[0]).fold(f64::INFINITY, f64::min);
        assert!((least - 100.0).abs() < 0.01, "starts at {least}");
    }

    #[test]
    fn folds_show_from_the_front_and_not_from_behind() {
        let m = corrugated("A", 5, 200.0, 40.0, 300.0, 1000.0);
        // Per rib four folds, the last rib closing with the wall's own end; the first lies on the other end.
        let front = lines_of(&m, &south());
        assert!((length(&front, Layer::Fold) - 19.0 * 1000.0).abs() < 0.1, "{}", length(&front, Layer::Fold));
        let back = lines_of(&m, &Projection::square(-Vector3::x(), Vector3::z()));
        assert_eq!(length(&back, Layer::Fold), 0.0, "flat behind");
        assert!((length(&back, Layer::Seam) - 4000.0).abs() < 0.1, "its outline");
    }

    #[test]
    fn every_point_agrees_with_a_ray_shot_through_all_triangles() {
        let m = join(&[
            corrugated("A", 6, 200.0, 60.0, 300.0, 900.0),
            cuboid("B", [300.0, -400.0, 100.0], [700.0, -150.0, 500.0]),
            cuboid("C", [-150.0, 350.0, 0.0], [1500.0, 500.0, 1200.0]),
        ]);
        let size = size_of(&m).expect("not empty");
        let all = edges(&m);
        let mut tried = 0;
        for (azimuth, elevation) in [(-60.0, 25.0), (-100.0, 3.0), (20.0, 40.0), (171.0, 60.0), (-90.0, 89.0)]
        {
            let projection = Projection::from_direction(azimuth, elevation);
            let lines = lines_of(&m, &projection);
            let crowded = crowded_folds(&m, &all, size * CLOSEST_FOLDS);
            assert!(crowded.is_empty(), "folds far apart are all drawn");
            for (i, edge) in all.iter().enumerate().filter(|(_, e)| layer_of(e, &projection).is_some()) {
                let [a, b] = edge.ends.map(|p| projection.project(&p.coords).xy());
                for k in 0..23 {
                    let t = (f64::from(k) + 0.37) / 23.0;
                    let p = edge.ends[0] + (edge.ends[1] - edge.ends[0]) * t;
                    // A clear answer only where the ray does not graze an edge: look at nearby points too.
                    let sideways = [projection.right, projection.up, -projection.right, -projection.up];
                    let answers: Vec<bool> = sideways
                        .iter()
                        .map(|s| hidden_by_ray(&m, &(p + s * size * 1e-4), &projection.toward, size * 2e-3))
                        .collect();
                    if answers.iter().any(|x| *x != answers[0]) {
                        continue;
                    }
                    let along = (a + (b - a) * t - a).norm();
                    let seen = lines.iter().filter(|l| l.edge == i).any(|l| {
                        let at = |e: [f64; 2]| (nalgebra::Vector2::from(e) - a).norm();
                        along > at(l.ends[0]) && along < at(l.ends[1])
                    });
                    assert_eq!(seen, !answers[0], "edge {i} at {t}, from {azimuth}, {elevation}");
                    tried += 1;
                }
            }
        }
        assert!(tried > 5000, "only {tried} points were clear enough to compare");
    }

    #[test]
    fn the_same_picture_comes_ten_kilometres_away_and_after_a_turn() {
        let m = join(&[
            corrugated("A", 6, 200.0, 60.0, 300.0, 900.0),
            cuboid("B", [300.0, -400.0, 100.0], [700.0, -150.0, 500.0]),
        ]);
        let projection = Projection::from_direction(-70.0, 20.0);
        let here = lines_of(&m, &projection);
        let by = Vector3::new(1.0e7, -2.0e7, 0.0);
        let mut far = m.clone();
        far.points.iter_mut().for_each(|p| *p += by);
        let there = visible_lines(&far, &edges(&far), &projection, &(Point3::origin() + by));
        assert_eq!(here.len(), there.len(), "as many lines");
        let turn = nalgebra::Rotation3::from_axis_angle(&Vector3::z_axis(), 0.6);
        let mut turned = m;
        turned.points.iter_mut().for_each(|p| *p = turn * *p);
        let p = Projection {
            right: turn * projection.right,
            up: turn * projection.up,
            toward: turn * projection.toward,
        };
        let after = lines_of(&turned, &p);
        for layer in [Layer::Seam, Layer::Fold] {
            for other in [&there, &after] {
                let (x, y) = (length(&here, layer), length(other, layer));
                assert!((x - y).abs() < 1e-4 * x, "{layer:?}: {x} and {y}");
            }
        }
    }

    #[test]
    fn the_chords_of_a_bend_are_drawn_as_one_line_and_an_empty_work_as_none() {
        let mut m = corrugated("A", 4, 200.0, 40.0, 300.0, 1000.0);
        let folds = edges(&m).iter().filter(|e| e.sides[0] == e.sides[1]).count();
        let limit = 45.0;
        // Webs span 40 mm, crests and valleys 60: bunches of two.
        assert_eq!(folds - crowded_folds(&m, &edges(&m), limit).len(), folds.div_ceil(2));
        m.points.clear();
        m.triangles.clear();
        assert!(visible_lines(&m, &[], &south(), &Point3::origin()).is_empty(), "nothing to see");
    }

    #[test]
    fn chains_break_at_forks_and_close_around_loops() {
        let found = chains(&[[0, 1], [1, 2], [2, 3], [2, 4], [5, 6], [6, 7], [7, 5]], 8);
        assert_eq!(found.len(), 4, "three arms and a loop: {found:?}");
        assert_eq!(found.iter().filter(|c| c.1).count(), 1, "one closed");
        let straight = without_straight(vec![[0.0, 0.0], [1.0, 0.0], [2.0, 0.0], [2.0, 5.0]], 1e-6);
        assert_eq!(straight, [[0.0, 0.0], [2.0, 0.0], [2.0, 5.0]]);
    }
}
