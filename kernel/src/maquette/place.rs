//! All figures that the readings allow, found by placing one point after another: no start values, no luck.
//!
//! Three points with their distances are laid down. A further point is placed by three of its distances to placed
//! points and of the planes of faces with three placed corners: two places at most, of which those go on that the
//! other readings of the point allow. So the figures are the leaves of a tree; it is complete where every point has
//! its three. Method: branch and prune, L. Liberti, C. Lavor and N. Maculan, "A branch-and-prune algorithm for the
//! molecular distance geometry problem", 2008 (from memory). We differ in that readings have errors: a place in doubt
//! is judged by adjusting all points placed so far, and given up only where Σ (v/σ)² of them, which the whole cannot
//! undercut, is more than the whole may have. Next comes the point with the fewest places.

use super::flat::{Flat, at, middle};
use super::net::{Leg, Net, descend};
use crate::adjust::chi_squared;
use nalgebra::{DVector, Matrix3, Vector3};

/// Figures followed to the end at most; reaching it makes the search incomplete.
const MOST_FIGURES: usize = 40;
/// Adjustments of placed points at most, likewise.
const MOST_DESCENTS: usize = 500;
/// Places looked at at most, likewise.
const MOST_STEPS: usize = 3_000;
/// First triangles tried at most, if the tree of one is cut short.
const MOST_BASES: usize = 3;
/// First triangles looked at at most, the largest first.
const MOST_TRIANGLES: usize = 200;
/// A point is placed by the best three of so many readings at most.
const MOST_SIGHTS: usize = 10;
/// Steps of an adjustment of placed points.
const STEPS: usize = 40;
/// Readings off by less than this many standard deviations need no adjustment to be believed.
const CLEAR: f64 = 10.0;
/// Readings off by more than that and this share of the size are not believed.
const ERROR: f64 = 0.06;
/// Three readings place a point well if the volume of their unit directions is above this.
const WELL: f64 = 0.1;
/// And not at all below this.
const HARDLY: f64 = 1.0e-3;
/// A point may lie this many deviations of a distance beside the plane where its two places meet.
const MEET: f64 = 3.0;
/// Of that reach, how far apart the two places are kept, so that an adjustment finds its side.
const KEPT_APART: f64 = 0.3;
/// Points lie in one plane within this share of the size.
const IN_PLANE: f64 = 1.0e-6;
/// Corners span a plane if its width is this share of the size.
const WIDE: f64 = 0.05;
/// The level of the test that adjusted points must pass.
const LEVEL: f64 = 1.0e-5;

/// Unfinished figures kept at most.
const MOST_UNFINISHED: usize = 6;

/// What the placing came to.
#[derive(Default)]
pub(super) struct Placing {
    /// Figures near minima, before the last adjustment.
    pub(super) figures: Vec<DVector<f64>>,
    /// Figures some of whose points nothing places, with which points are placed.
    pub(super) unfinished: Vec<(DVector<f64>, Vec<bool>)>,
    /// Whether there are no others.
    pub(super) complete: bool,
}

/// Places the points of a net in all ways that its distances, angles and faces allow. Heights are not used.
pub(super) fn placed(net: &Net) -> Placing {
    let mut last = Placing::default();
    let tree = Tree::new(net);
    for base in tree.bases() {
        let found = Placing { complete: true, ..Placing::default() };
        let mut search = Search { tree: &tree, found, descents: 0, steps: 0, spent: false };
        search.go(tree.laid(base));
        let found = search.found;
        if found.complete {
            return found;
        }
        let more = |p: &Placing| (p.figures.len(), p.unfinished.len());
        if more(&found) > more(&last) {
            last = found;
        }
    }
    last
}

/// Distances not measured with which every point could be placed; none where every point can.
pub(super) fn lacking(net: &Net) -> Vec<[usize; 2]> {
    let tree = Tree::new(net);
    let base = tree.bases().first().copied();
    // Without a triangle the longest distance and the point with most readings make one.
    let base = base.or_else(|| {
        let longest = tree.ties.iter().max_by(|a, b| a.length.total_cmp(&b.length))?;
        let [a, b] = longest.ends;
        let third = (0..net.count()).filter(|p| ![a, b].contains(p)).max_by_key(|&p| tree.near[p].len())?;
        Some([a, b, third])
    });
    let Some(base) = base else { return Vec::new() };
    let mut wanted: Vec<[usize; 2]> = Vec::new();
    for (i, k) in [(0, 1), (0, 2), (1, 2)] {
        let [p, q] = [base[i].min(base[k]), base[i].max(base[k])];
        if tree.tie(p, q).is_none() {
            wanted.push([p, q]);
        }
    }
    let n = net.count();
    let mut placed: Vec<bool> = (0..n).map(|p| base.contains(&p)).collect();
    loop {
        tree.reach(&mut placed);
        let left =
            (0..n).filter(|&p| !placed[p]).max_by_key(|&p| (tree.says(&placed, p), std::cmp::Reverse(p)));
        let Some(p) = left else { return wanted };
        let lacks = 3 - tree.says(&placed, p);
        let mut others: Vec<usize> = (0..n).filter(|&q| placed[q] && tree.tie(p, q).is_none()).collect();
        // Points of the same faces say the least.
        others.sort_by_key(|&q| tree.faces[p].iter().filter(|f| tree.faces[q].contains(f)).count());
        wanted.extend(others.into_iter().take(lacks).map(|q| [p.min(q), p.max(q)]));
        placed[p] = true;
    }
}

/// A net made ready.
struct Tree<'n> {
    net: &'n Net,
    /// Distances and those that angles say, one for each pair.
    ties: Vec<Leg>,
    /// For each point the ties at it.
    near: Vec<Vec<usize>>,
    /// For each point its faces with more than three corners.
    faces: Vec<Vec<usize>>,
    /// The largest Σ (v/σ)² of a figure that fits.
    most: f64,
    /// The usual deviation of a distance.
    usual: f64,
}

/// Some points placed.
#[derive(Clone)]
struct Branch {
    x: DVector<f64>,
    placed: Vec<bool>,
}

/// What a placed point or face says of another point.
enum Sight {
    /// So far from a point.
    Sphere { foot: Vector3<f64>, radius: f64, deviation: f64 },
    /// In a plane.
    Plane { foot: Vector3<f64>, normal: Vector3<f64>, deviation: f64 },
}

impl Sight {
    /// How much too far out a place is, mm, the direction in which that grows, and the deviation.
    fn off(&self, place: &Vector3<f64>) -> (f64, Vector3<f64>, f64) {
        match self {
            Self::Sphere { foot, radius, deviation } => {
                let d = place - foot;
                let length = d.norm().max(f64::MIN_POSITIVE);
                (length - radius, d / length, *deviation)
            }
            Self::Plane { foot, normal, deviation } => (normal.dot(&(place - foot)), *normal, *deviation),
        }
    }
}

/// A place for a point.
struct Place {
    at: Vector3<f64>,
    /// Whether only an adjustment can tell if it is one.
    doubtful: bool,
}

impl<'n> Tree<'n> {
    fn new(net: &'n Net) -> Self {
        let n = net.count();
        let mut ties: Vec<Leg> = Vec::new();
        for mut leg in net.spans() {
            leg.ends.sort_unstable();
            match ties.iter_mut().find(|t| t.ends == leg.ends) {
                Some(tie) => {
                    let (v, w) = (tie.deviation.powi(-2), leg.deviation.powi(-2));
                    tie.length = (tie.length * v + leg.length * w) / (v + w);
                    tie.deviation = (v + w).powf(-0.5);
                }
                None => ties.push(leg),
            }
        }
        let mut near = vec![Vec::new(); n];
        for (k, tie) in ties.iter().enumerate() {
            tie.ends.iter().for_each(|&p| near[p].push(k));
        }
        let mut faces = vec![Vec::new(); n];
        for (k, face) in net.faces.iter().enumerate().filter(|(_, f)| f.len() > 3) {
            face.iter().for_each(|&p| faces[p].push(k));
        }
        let observed = net.legs.len() + net.faces.iter().map(|f| f.len() - 3).sum::<usize>();
        let most = chi_squared(1.0 - LEVEL, observed).unwrap_or(f64::INFINITY);
        Self { net, ties, near, faces, most, usual: net.usual() }
    }

    /// First triangles from which every point is reached, the largest first.
    fn bases(&self) -> Vec<[usize; 3]> {
        let mut all: Vec<(f64, [usize; 3])> = Vec::new();
        for tie in &self.ties {
            let [a, b] = tie.ends;
            for &k in &self.near[b] {
                let c = self.ties[k].ends[1];
                if let (true, Some(other)) = (c > b, self.tie(a, c)) {
                    let (u, v, w) = (tie.length, self.ties[k].length, other.length);
                    // Heron: 16 times the area squared.
                    all.push(((u + v + w) * (v + w - u) * (u + w - v) * (u + v - w), [a, b, c]));
                }
            }
        }
        all.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        all.truncate(MOST_TRIANGLES);
        let flat = self.net.size.powi(4) * IN_PLANE;
        all.retain(|(area, _)| *area > flat);
        // Those that reach all points; else the one that reaches most.
        let reached = |base: &[usize; 3]| {
            let mut placed: Vec<bool> = (0..self.net.count()).map(|p| base.contains(&p)).collect();
            self.reach(&mut placed);
            placed.iter().filter(|p| **p).count()
        };
        let mut found: Vec<[usize; 3]> = Vec::new();
        let mut most = (0, None);
        for (_, base) in all {
            let count = reached(&base);
            if count == self.net.count() {
                found.push(base);
                if found.len() == MOST_BASES {
                    break;
                }
            }
            if count > most.0 {
                most = (count, Some(base));
            }
        }
        if found.is_empty() { most.1.into_iter().collect() } else { found }
    }

    /// The tie of two points.
    fn tie(&self, p: usize, q: usize) -> Option<&Leg> {
        let ends = [p.min(q), p.max(q)];
        self.near[p].iter().map(|&k| &self.ties[k]).find(|t| t.ends == ends)
    }

    /// How many readings of placed points say where a point is.
    fn says(&self, placed: &[bool], p: usize) -> usize {
        let planes =
            self.faces[p].iter().filter(|&&f| self.net.faces[f].iter().filter(|&&q| placed[q]).count() >= 3);
        let spheres =
            self.near[p].iter().filter(|&&k| self.ties[k].ends.iter().any(|&q| q != p && placed[q]));
        planes.count() + spheres.count()
    }

    /// Marks all points that get three readings at their turn.
    fn reach(&self, placed: &mut [bool]) {
        while let Some(p) = (0..placed.len()).find(|&p| !placed[p] && self.says(placed, p) >= 3) {
            placed[p] = true;
        }
    }

    fn laid(&self, [a, b, c]: [usize; 3]) -> Branch {
        let length = |p: usize, q: usize| self.tie(p, q).map_or(0.0, |t| t.length);
        let (u, v, w) = (length(a, b), length(a, c), length(b, c));
        let along = (u * u + v * v - w * w) / (2.0 * u);
        let beside = (v * v - along * along).max(0.0).sqrt();
        let mut branch =
            Branch { x: DVector::zeros(3 * self.net.count()), placed: vec![false; self.net.count()] };
        branch.x[3 * b] = u;
        (branch.x[3 * c], branch.x[3 * c + 1]) = (along, beside);
        [a, b, c].iter().for_each(|&p| branch.placed[p] = true);
        branch
    }

    fn sights(&self, branch: &Branch, p: usize) -> Vec<Sight> {
        let mut all = Vec::new();
        for &f in &self.faces[p] {
            let on: Vec<usize> = self.net.faces[f].iter().copied().filter(|&q| branch.placed[q]).collect();
            if on.len() >= 3 && is_wide(&branch.x, &on, WIDE * self.net.size) {
                let (foot, normal) = (middle(&branch.x, &on), Flat::one(&on).normal(&branch.x));
                // A plane taken up by other readings is as good as these.
                let deviation = self.net.flat.max(self.usual);
                all.push(Sight::Plane { foot, normal, deviation });
            }
        }
        for &k in &self.near[p] {
            let tie = &self.ties[k];
            let q = if tie.ends[0] == p { tie.ends[1] } else { tie.ends[0] };
            if branch.placed[q] {
                let foot = at(&branch.x, q);
                all.push(Sight::Sphere { foot, radius: tie.length, deviation: tie.deviation });
            }
        }
        all
    }

    /// The places of a point that the best three of its readings allow, and how well they place it. None where no
    /// three do.
    fn by_three(&self, sights: &[Sight]) -> Option<(f64, Vec<Vector3<f64>>)> {
        let mut best: Option<(f64, Vec<Vector3<f64>>)> = None;
        let n = sights.len().min(MOST_SIGHTS);
        for i in 0..n {
            for k in i + 1..n {
                for l in k + 1..n {
                    let found = self.of_three([&sights[i], &sights[k], &sights[l]]);
                    if let Some(found) = found.filter(|f| best.as_ref().is_none_or(|b| b.0 < f.0)) {
                        best = Some(found);
                    }
                }
            }
        }
        best.filter(|(well, _)| *well > HARDLY)
    }

    /// Planes come before spheres. Two spheres less one another are a plane, so that there is a line left, and a
    /// sphere that meets it twice.
    fn of_three(&self, three: [&Sight; 3]) -> Option<(f64, Vec<Vector3<f64>>)> {
        let mut planes: Vec<(Vector3<f64>, f64)> = Vec::new();
        let mut sphere: Option<(Vector3<f64>, f64, f64)> = None;
        let mut share: f64 = 1.0;
        for sight in three {
            match (sight, sphere) {
                (Sight::Plane { foot, normal, .. }, _) => planes.push((*normal, normal.dot(foot))),
                (Sight::Sphere { foot, radius, deviation }, None) => {
                    sphere = Some((*foot, *radius, *deviation));
                }
                (Sight::Sphere { foot, radius, .. }, Some((first, r, _))) => {
                    let d = foot - first;
                    let length = d.norm();
                    if length <= IN_PLANE * self.net.size {
                        return None;
                    }
                    let along = (r * r - radius * radius + length * length) / (2.0 * length);
                    planes.push((d / length, (d / length).dot(&first) + along));
                    share = share.min(length / r);
                }
            }
        }
        let Some((foot, radius, deviation)) = sphere else {
            let rows = Matrix3::from_rows(&[
                planes[0].0.transpose(),
                planes[1].0.transpose(),
                planes[2].0.transpose(),
            ]);
            let well = rows.determinant().abs();
            let place = rows.try_inverse()? * Vector3::new(planes[0].1, planes[1].1, planes[2].1);
            return Some((well, vec![place]));
        };
        let [(n, a), (m, b)] = planes[..] else { return None };
        let along = n.cross(&m);
        let sine = along.norm();
        if sine <= HARDLY {
            return None;
        }
        // The point of the line nearest to the middle of the sphere.
        let (a, b, cosine) = (a - n.dot(&foot), b - m.dot(&foot), n.dot(&m));
        let nearest = (n * (a - cosine * b) + m * (b - cosine * a)) / (sine * sine);
        let squared = radius * radius - nearest.norm_squared();
        let reach = 2.0 * radius * MEET * deviation;
        if squared < -2.0 * radius * (CLEAR * deviation + ERROR * self.net.size) {
            return Some((sine * share, Vec::new()));
        }
        let half = squared.max(0.0).sqrt().max(KEPT_APART * reach.sqrt());
        let step = along * (half / sine);
        let well = sine * share.min(1.0) * half / radius;
        Some((well, vec![foot + nearest + step, foot + nearest - step]))
    }

    /// The places of a point, how well it is placed, as far as all its readings go.
    fn places(&self, branch: &Branch, p: usize, flat: bool) -> Option<(f64, Vec<Place>)> {
        let sights = self.sights(branch, p);
        let (well, found) = self.by_three(&sights)?;
        let size = self.net.size;
        let mut places: Vec<Place> = Vec::new();
        for place in found {
            // Which side is up is a matter of taste as long as all points lie in one plane.
            if flat && place.z < -IN_PLANE * size {
                continue;
            }
            let place = nearer(&sights, place);
            let mut doubtful = false;
            let mut out = false;
            for sight in &sights {
                let (off, _, deviation) = sight.off(&place);
                doubtful |= off.abs() > CLEAR * deviation;
                out |= off.abs() > CLEAR * deviation + ERROR * size;
            }
            if !out && !places.iter().any(|q| (q.at - place).norm() <= IN_PLANE * size) {
                places.push(Place { at: place, doubtful });
            }
        }
        Some((well, places))
    }

    /// The placed points adjusted; none where they fit no more than the whole may.
    fn adjusted(&self, branch: &Branch) -> Option<Branch> {
        let of: Vec<usize> = (0..self.net.count()).filter(|&p| branch.placed[p]).collect();
        let part = self.net.of_points(&of, &self.ties);
        let x = DVector::from_fn(3 * of.len(), |k, _| branch.x[3 * of[k / 3] + k % 3]);
        let rough = self.net.flat.max(self.usual);
        let (x, _) = descend(x, |x| part.observations(x, rough, &[]).0, STEPS);
        let (x, value) = descend(x, |x| part.observations(x, part.flat, &[]).0, STEPS);
        if value > self.most {
            return None;
        }
        let mut next = branch.clone();
        for (k, &p) in of.iter().enumerate() {
            next.x.fixed_rows_mut::<3>(3 * p).copy_from(&at(&x, k));
        }
        Some(next)
    }
}

/// The point that may come next.
struct Next {
    /// Whether it is placed badly, and by how many places.
    rank: (bool, usize),
    well: f64,
    point: usize,
    places: Vec<Place>,
}

struct Search<'t, 'n> {
    tree: &'t Tree<'n>,
    found: Placing,
    descents: usize,
    steps: usize,
    /// Whether it has to stop.
    spent: bool,
}

impl Search<'_, '_> {
    fn go(&mut self, branch: Branch) {
        let n = branch.placed.len();
        let whole = branch.placed.iter().all(|p| *p);
        if whole {
            self.spent |= self.found.figures.len() == MOST_FIGURES;
            if !self.spent {
                self.found.figures.push(branch.x.clone());
            }
        }
        self.steps += 1;
        self.spent |= self.steps > MOST_STEPS || self.descents > MOST_DESCENTS;
        self.found.complete &= !self.spent;
        if self.spent || whole {
            return;
        }
        let tall =
            (0..n).filter(|&p| branch.placed[p]).map(|p| branch.x[3 * p + 2].abs()).fold(0.0, f64::max);
        let flat = tall <= IN_PLANE * self.tree.net.size;
        let mut best: Option<Next> = None;
        for point in (0..n).filter(|&p| !branch.placed[p]) {
            let Some((well, places)) = self.tree.places(&branch, point, flat) else { continue };
            let rank = (well < WELL, places.len());
            // That no place is left counts only where it is sure.
            if rank != (true, 0)
                && best.as_ref().is_none_or(|b| rank < b.rank || rank == b.rank && well > b.well)
            {
                best = Some(Next { rank, well, point, places });
            }
        }
        let Some(Next { point: p, places, .. }) = best else {
            self.found.complete = false;
            if self.found.unfinished.len() < MOST_UNFINISHED {
                self.found.unfinished.push((branch.x, branch.placed));
            }
            return;
        };
        for place in places {
            let mut next = branch.clone();
            next.x.fixed_rows_mut::<3>(3 * p).copy_from(&place.at);
            next.placed[p] = true;
            if place.doubtful {
                self.descents += 1;
                match self.tree.adjusted(&next) {
                    Some(adjusted) => next = adjusted,
                    None => continue,
                }
            }
            self.go(next);
        }
    }
}

/// A place moved to where all readings of the point fit best: Gauss–Newton, which needs a few steps from so near.
fn nearer(sights: &[Sight], place: Vector3<f64>) -> Vector3<f64> {
    let mut place = place;
    for _ in 0..REFINING {
        let mut normal = Matrix3::<f64>::zeros();
        let mut right = Vector3::zeros();
        for sight in sights {
            let (off, direction, deviation) = sight.off(&place);
            let weight = deviation.powi(-2);
            normal += direction * direction.transpose() * weight;
            right -= direction * (off * weight);
        }
        let damping = normal.trace() * DAMPING;
        let Some(inverse) = (normal + Matrix3::identity() * damping).try_inverse() else { break };
        place += inverse * right;
    }
    place
}

/// Steps of it.
const REFINING: usize = 5;
/// Its damping, as a share of the trace: enough where all directions lie in one plane.
const DAMPING: f64 = 1.0e-3;

/// Whether some points spread across by so much.
fn is_wide(x: &DVector<f64>, of: &[usize], width: f64) -> bool {
    let foot = at(x, of[0]);
    let far =
        of.iter().map(|&p| at(x, p) - foot).max_by(|a, b| a.norm_squared().total_cmp(&b.norm_squared()));
    let Some(axis) = far.and_then(|d| d.try_normalize(0.0)) else { return false };
    of.iter().any(|&p| axis.cross(&(at(x, p) - foot)).norm() > width)
}
