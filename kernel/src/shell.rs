//! The shell: patches of the trim sewn into one closed surface.
//!
//! Corners that differ only by rounding or by the trim's tiny moves are welded; what collapses vanishes; a
//! corner that lies on another patch's edge splits it. Then every edge must be met once from the other side.

use crate::trim::{Owner, Patch};
use nalgebra::{Point3, Vector3};

/// One directed edge of a patch.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Edge {
    pub(crate) from: u32,
    pub(crate) to: u32,
    pub(crate) patch: u32,
    /// The edge that runs the other way, or `NONE`.
    pub(crate) twin: u32,
    /// Next edge of the same loop.
    pub(crate) next: u32,
    /// Position of `from` on the patch's carrier.
    pub(crate) plan: [f64; 2],
}

/// No such edge.
pub(crate) const NONE: u32 = u32::MAX;

/// A sewn shell.
#[derive(Debug, Default)]
pub(crate) struct Shell {
    /// Welded corners, local coordinates.
    pub(crate) points: Vec<Point3<f64>>,
    /// How far apart the corners welded into each point were, mm.
    pub(crate) spread: Vec<f64>,
    pub(crate) patches: Vec<Patch>,
    pub(crate) edges: Vec<Edge>,
    /// First edge of every loop, with its patch, in order of patches.
    pub(crate) loops: Vec<(u32, u32)>,
    /// Edges without a twin.
    pub(crate) open: usize,
}

impl Shell {
    /// Sews patches; corners within `tolerance` are one.
    pub(crate) fn sew(patches: Vec<Patch>, tolerance: f64) -> Self {
        let corners: Vec<Point3<f64>> =
            patches.iter().flat_map(|p| p.loops.iter().flatten().map(|c| c.point)).collect();
        let (point_of, points, spread) = weld(&corners, tolerance);
        let mut rings: Vec<Ring> = Vec::new();
        let mut at = 0;
        for (i, patch) in patches.iter().enumerate() {
            let mut of_patch = Vec::new();
            for corners in &patch.loops {
                let ring = corners
                    .iter()
                    .enumerate()
                    .map(|(j, c)| Vertex { point: point_of[at + j], plan: c.plan })
                    .collect();
                at += corners.len();
                of_patch.push(ring);
            }
            // Where two crests meet on a wall, or a sheet grazes a fold, a loop may run along itself, or a
            // hole along the outer loop.
            let of_patch: Vec<Vec<Vertex>> = of_patch.into_iter().map(clean).collect();
            let mut corners: Vec<u32> = of_patch.iter().flatten().map(|v| v.point).collect();
            corners.sort_unstable();
            corners.dedup();
            rings.extend(
                of_patch
                    .into_iter()
                    .map(|r| clean(split_on(r, &corners, &points, tolerance)))
                    .filter(|r| r.len() >= 3)
                    .map(|vertices| Ring { patch: index(i), vertices }),
            );
        }
        let mut shell = Self { points, spread, patches, ..Self::default() };
        for _ in 0..SEWING_ROUNDS {
            shell.pair(&rings);
            if shell.open == 0 || !split_on_corners(&shell, &mut rings, tolerance) {
                break;
            }
            for ring in &mut rings {
                ring.vertices = clean(std::mem::take(&mut ring.vertices));
            }
            rings.retain(|r| r.vertices.len() >= 3);
        }
        shell
    }

    /// Makes the edges of all rings and pairs those that run opposite ways.
    fn pair(&mut self, rings: &[Ring]) {
        self.edges.clear();
        self.loops.clear();
        for ring in rings {
            let first = index(self.edges.len());
            let count = ring.vertices.len();
            self.loops.push((first, ring.patch));
            for (i, v) in ring.vertices.iter().enumerate() {
                let next = (i + 1) % count;
                self.edges.push(Edge {
                    from: v.point,
                    to: ring.vertices[next].point,
                    patch: ring.patch,
                    twin: NONE,
                    next: first + index(next),
                    plan: v.plan,
                });
            }
        }
        let mut order: Vec<(u32, u32, bool, u32)> = self
            .edges
            .iter()
            .enumerate()
            .map(|(i, e)| (e.from.min(e.to), e.from.max(e.to), e.from > e.to, index(i)))
            .collect();
        order.sort_unstable();
        self.open = 0;
        for group in order.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)) {
            let ahead = group.iter().filter(|e| !e.2).map(|e| e.3);
            let back: Vec<u32> = group.iter().filter(|e| e.2).map(|e| e.3).collect();
            let mut used = vec![false; back.len()];
            let mut paired = 0;
            for i in ahead {
                // Where several sheets share one edge, stay within a face first, then take any.
                let patch = |e: u32| &self.patches[self.edges[e as usize].patch as usize];
                let best = (0..back.len())
                    .filter(|&k| !used[k])
                    .min_by_key(|&k| patch(back[k]).owner != patch(i).owner);
                if let Some(k) = best {
                    used[k] = true;
                    paired += 2;
                    self.edges[i as usize].twin = back[k];
                    self.edges[back[k] as usize].twin = i;
                }
            }
            self.open += group.len() - paired;
        }
    }

    /// The loops of one patch: first edge and patch of each.
    pub(crate) fn loops_of(&self, patch: u32) -> &[(u32, u32)] {
        let start = self.loops.partition_point(|l| l.1 < patch);
        let end = self.loops.partition_point(|l| l.1 <= patch);
        &self.loops[start..end]
    }

    /// The owner of the patch an edge belongs to.
    pub(crate) fn owner(&self, edge: u32) -> Owner {
        self.patches[self.edges[edge as usize].patch as usize].owner
    }

    /// Length of an edge, mm.
    pub(crate) fn length(&self, edge: u32) -> f64 {
        let e = &self.edges[edge as usize];
        (self.points[e.to as usize] - self.points[e.from as usize]).norm()
    }

    /// Enclosed volume, mm³: one third of the sum over patches of plane distance times area.
    pub(crate) fn volume(&self) -> f64 {
        self.patches.iter().map(patch_volume).sum()
    }

    /// Area of all patches, mm².
    pub(crate) fn area(&self) -> f64 {
        self.patches.iter().map(|p| p.area.abs()).sum()
    }

    /// Area of the patches whose owner is wanted, mm².
    pub(crate) fn area_of(&self, wanted: impl Fn(Owner) -> bool) -> f64 {
        self.patches.iter().filter(|p| wanted(p.owner)).map(|p| p.area.abs()).sum()
    }

    /// Centroid of the area of the patches whose owner is wanted.
    pub(crate) fn centroid_of(&self, wanted: impl Fn(Owner) -> bool) -> Point3<f64> {
        let (mut sum, mut area) = (Vector3::zeros(), 0.0);
        for p in self.patches.iter().filter(|p| wanted(p.owner)) {
            sum += p.centroid.coords * p.area.abs();
            area += p.area.abs();
        }
        if area > 0.0 { Point3::from(sum / area) } else { Point3::origin() }
    }

    /// Sum of all area vectors, mm²: zero for a closed shell.
    pub(crate) fn area_vector(&self) -> Vector3<f64> {
        self.patches.iter().map(|p| p.normal * p.area.abs()).sum()
    }

    /// Connected pieces: for each patch the least patch index of its piece, joined over edges that
    /// `joins` accepts.
    pub(crate) fn pieces(&self, joins: impl Fn(Owner, Owner) -> bool) -> Vec<u32> {
        let mut parent: Vec<u32> = (0..index(self.patches.len())).collect();
        for (i, e) in self.edges.iter().enumerate() {
            if e.twin == NONE || !joins(self.owner(index(i)), self.owner(e.twin)) {
                continue;
            }
            let (a, b) = (root(&mut parent, e.patch), root(&mut parent, self.edges[e.twin as usize].patch));
            parent[a.max(b) as usize] = a.min(b);
        }
        (0..index(self.patches.len())).map(|p| root(&mut parent, p)).collect()
    }

    /// Whether a patch has any edge left after welding.
    pub(crate) fn patch_in_use(&self) -> Vec<bool> {
        let mut used = vec![false; self.patches.len()];
        for e in &self.edges {
            used[e.patch as usize] = true;
        }
        used
    }
}

/// A patch's share of the enclosed volume, mm³.
pub(crate) fn patch_volume(p: &Patch) -> f64 {
    p.normal.dot(&p.centroid.coords) * p.area.abs() / 3.0
}

/// Splitting edges on corners may bring up new pairs; two or three rounds end it, more is a broken shell.
const SEWING_ROUNDS: usize = 5;

struct Ring {
    patch: u32,
    vertices: Vec<Vertex>,
}

#[derive(Clone, Copy)]
struct Vertex {
    point: u32,
    plan: [f64; 2],
}

#[allow(clippy::cast_possible_truncation, reason = "four thousand million corners do not fit in memory")]
fn index(i: usize) -> u32 {
    i as u32
}

fn root(parent: &mut [u32], mut i: u32) -> u32 {
    while parent[i as usize] != i {
        parent[i as usize] = parent[parent[i as usize] as usize];
        i = parent[i as usize];
    }
    i
}

/// Removes repeated corners and spikes (there and back again).
fn clean(vertices: Vec<Vertex>) -> Vec<Vertex> {
    let mut ring: Vec<Vertex> = Vec::with_capacity(vertices.len());
    for v in vertices {
        if ring.last().is_some_and(|last| last.point == v.point) {
            continue;
        }
        if ring.len() >= 2 && ring[ring.len() - 2].point == v.point {
            ring.pop();
            continue;
        }
        ring.push(v);
    }
    // The same across the ends.
    loop {
        let n = ring.len();
        if n >= 2 && ring[0].point == ring[n - 1].point {
            ring.pop();
        } else if n >= 3 && ring[1].point == ring[n - 1].point {
            ring.remove(0);
        } else if n >= 3 && ring[0].point == ring[n - 2].point {
            ring.pop();
        } else {
            return ring;
        }
    }
}

/// Welds points; returns for each its welded index, the welded points and how far each spreads.
fn weld(corners: &[Point3<f64>], tolerance: f64) -> (Vec<u32>, Vec<Point3<f64>>, Vec<f64>) {
    // Sorted along a direction in which no work has many points level with each other.
    let key = |p: &Point3<f64>| 0.612_372_4 * p.x + 0.534_522_5 * p.y + 0.582_435_9 * p.z;
    let mut order: Vec<u32> = (0..index(corners.len())).collect();
    let keys: Vec<f64> = corners.iter().map(key).collect();
    order.sort_unstable_by(|&a, &b| keys[a as usize].total_cmp(&keys[b as usize]).then(a.cmp(&b)));
    let mut parent: Vec<u32> = (0..index(corners.len())).collect();
    for (i, &a) in order.iter().enumerate() {
        for &b in &order[i + 1..] {
            if keys[b as usize] - keys[a as usize] > tolerance {
                break;
            }
            if (corners[a as usize] - corners[b as usize]).norm() <= tolerance {
                let (ra, rb) = (root(&mut parent, a), root(&mut parent, b));
                parent[ra.max(rb) as usize] = ra.min(rb);
            }
        }
    }
    let mut points = Vec::new();
    let mut spread = Vec::new();
    let mut point_of = vec![0; corners.len()];
    for i in 0..corners.len() {
        let r = root(&mut parent, index(i)) as usize;
        if r == i {
            point_of[i] = index(points.len());
            points.push(corners[i]);
            spread.push(0.0);
        } else {
            point_of[i] = point_of[r];
            let k = point_of[r] as usize;
            let apart: f64 = (corners[i] - corners[r]).norm();
            spread[k] = apart.max(spread[k]);
        }
    }
    (point_of, points, spread)
}

/// Where on the segment from a to b the point p lies, if it lies on it between the ends.
fn share_on(a: &Point3<f64>, b: &Point3<f64>, p: &Point3<f64>, tolerance: f64) -> Option<f64> {
    let run = b - a;
    let share = (p - a).dot(&run) / run.norm_squared();
    (share > 0.0 && share < 1.0 && (a + run * share - p).norm() <= tolerance).then_some(share)
}

fn along(a: [f64; 2], b: [f64; 2], share: f64) -> [f64; 2] {
    [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share]
}

/// Splits a ring's edges at those of the corners that lie on them.
fn split_on(ring: Vec<Vertex>, corners: &[u32], points: &[Point3<f64>], tolerance: f64) -> Vec<Vertex> {
    let mut split = Vec::with_capacity(ring.len());
    for (i, v) in ring.iter().enumerate() {
        let next = &ring[(i + 1) % ring.len()];
        split.push(*v);
        let (a, b) = (&points[v.point as usize], &points[next.point as usize]);
        let mut on: Vec<(f64, u32)> = corners
            .iter()
            .filter(|&&w| w != v.point && w != next.point)
            .filter_map(|&w| Some((share_on(a, b, &points[w as usize], tolerance)?, w)))
            .collect();
        on.sort_by(|x, y| x.0.total_cmp(&y.0));
        on.dedup_by_key(|w| w.1);
        split.extend(on.into_iter().map(|(s, point)| Vertex { point, plan: along(v.plan, next.plan, s) }));
    }
    split
}

/// Splits edges without twin at corners of other such edges that lie on them. Returns whether any was.
fn split_on_corners(shell: &Shell, rings: &mut [Ring], tolerance: f64) -> bool {
    let single: Vec<u32> =
        (0..index(shell.edges.len())).filter(|&i| shell.edges[i as usize].twin == NONE).collect();
    let mut corners: Vec<u32> =
        single.iter().flat_map(|&i| [shell.edges[i as usize].from, shell.edges[i as usize].to]).collect();
    corners.sort_unstable();
    corners.dedup();
    // Along x, so that each edge looks only at corners within its own extent.
    corners.sort_by(|&a, &b| shell.points[a as usize].x.total_cmp(&shell.points[b as usize].x));
    let mut ring_of = Vec::with_capacity(shell.edges.len());
    for (r, ring) in rings.iter().enumerate() {
        for i in 0..ring.vertices.len() {
            ring_of.push((r, i));
        }
    }
    let mut inserts: Vec<(usize, usize, f64, Vertex)> = Vec::new();
    for &i in &single {
        let e = &shell.edges[i as usize];
        let (a, b) = (shell.points[e.from as usize], shell.points[e.to as usize]);
        if (b - a).norm() <= tolerance {
            continue;
        }
        let (low, high) = (a.x.min(b.x) - tolerance, a.x.max(b.x) + tolerance);
        let start = corners.partition_point(|&c| shell.points[c as usize].x < low);
        for &c in &corners[start..] {
            let p = shell.points[c as usize];
            if p.x > high {
                break;
            }
            if c == e.from || c == e.to {
                continue;
            }
            let Some(share) = share_on(&a, &b, &p, tolerance) else { continue };
            let plan = along(e.plan, shell.edges[e.next as usize].plan, share);
            let (ring, at) = ring_of[i as usize];
            inserts.push((ring, at, share, Vertex { point: c, plan }));
        }
    }
    // From the back, so that earlier positions stay valid.
    inserts.sort_by(|x, y| (y.0, y.1).cmp(&(x.0, x.1)).then(y.2.total_cmp(&x.2)));
    for (ring, at, _, vertex) in &inserts {
        rings[*ring].vertices.insert(at + 1, *vertex);
    }
    !inserts.is_empty()
}
