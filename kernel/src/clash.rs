//! Clashes: space that two finished parts both take up.
//!
//! Parts are thick solids, cut square. Each is taken apart into small prisms between the same two folds, with
//! straight sides; two prisms share what is left of one after cutting it by the six planes of the other.

use crate::part::{Part, PartKind};
use crate::polygon::hull;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// Space shared by two parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clash {
    /// The two parts, as indices, ascending.
    pub parts: [usize; 2],
    /// Volume, mm³.
    pub volume: f64,
    /// Where most of it lies, mm.
    pub place: Point3<f64>,
}

/// Prisms thinner than this across the ribs hold nothing worth counting, mm.
const THINNEST: f64 = 1.0e-6;
/// Prisms that reach less than this into each other only touch, mm; in large works the share of their size below
/// which corners are one, as the shell's are (`WELD_MOVES` moves in `assembly`), or every contact would be worked out.
const TOUCH: f64 = 1.0e-6;
const TOUCH_SHARE: f64 = 8.0e-10;
/// A corner this near to a plane lies in it, mm.
const ON_PLANE: f64 = 1.0e-9;
/// Faces with more corners than this are not fitted, and their parts not looked at: an edge of a hundred metres,
/// or a mistake.
pub(crate) const MOST_CORNERS: usize = 20_000;
/// Sides passed in sweeping one part, all levels together, before it is given up as no piece of sheet.
const MOST_LOOKS: usize = 1_000_000;
/// Shared volumes below this are rounding, mm³.
const LEAST_VOLUME: f64 = 1.0e-6;

/// What two parts share, as convex solids.
pub(crate) struct Shared {
    pub(crate) clash: Clash,
    /// Corners of each solid.
    pub(crate) solids: Vec<Vec<Point3<f64>>>,
}

/// All pairs of parts that share space, in order.
pub fn clashes(parts: &[Part]) -> Vec<Clash> {
    shared(parts, |_, _| true).into_iter().map(|s| s.clash).collect()
}

/// A part as small convex solids, ready to be cut by planes.
pub(crate) struct Sliced(Vec<Prism>);

impl Sliced {
    pub(crate) fn new(part: &Part) -> Self {
        Self(prisms(part))
    }

    /// What the plane through a point with these axes (unit vectors, square to each other) cuts out of the
    /// pieces within `reach` of the point: corners of convex outlines in those axes, in no order.
    pub(crate) fn cut_by(&self, at: &Point3<f64>, axes: [Vector3<f64>; 2], reach: f64) -> Vec<Vec<[f64; 2]>> {
        /// Corners between which the edges of a prism run.
        const EDGES: [[usize; 2]; 12] =
            [[0, 1], [1, 2], [2, 3], [3, 0], [4, 5], [5, 6], [6, 7], [7, 4], [0, 4], [1, 5], [2, 6], [3, 7]];
        let around = Vector3::repeat(reach);
        let near = Extent { low: at - around, high: at + around };
        let normal = axes[0].cross(&axes[1]);
        let flat = |p: &Point3<f64>| [(p - at).dot(&axes[0]), (p - at).dot(&axes[1])];
        let cut = |prism: &Prism| {
            EDGES
                .iter()
                .filter_map(|e| {
                    let [a, b] = e.map(|i| prism.corners[i]);
                    let (ha, hb) = (normal.dot(&(a - at)), normal.dot(&(b - at)));
                    ((ha <= 0.0) != (hb <= 0.0)).then(|| flat(&(a + (b - a) * (ha / (ha - hb)))))
                })
                .collect::<Vec<_>>()
        };
        self.0.iter().filter(|p| p.extent.meets(&near)).map(cut).filter(|c| c.len() > 2).collect()
    }
}

impl Sliced {
    /// Its inside skin and the cut edges beside it as triangles, piece by piece; edges along the ribs are not among
    /// them (`edges_along`).
    pub(crate) fn seen_from_inside(&self) -> impl Iterator<Item = [Point3<f64>; 3]> + '_ {
        // The inside skin, and the two sides on which a piece ends along the ribs.
        self.0
            .iter()
            .flat_map(|prism| [FACES[0], FACES[3], FACES[5]].map(|f| f.map(|i| prism.corners[i])))
            .flat_map(|[a, b, c, d]| [[a, b, c], [a, c, d]])
    }

    /// Its outside skin.
    pub(crate) fn seen_from_outside(&self) -> impl Iterator<Item = [Point3<f64>; 3]> + '_ {
        self.0
            .iter()
            .map(|prism| FACES[1].map(|i| prism.corners[i]))
            .flat_map(|[a, b, c, d]| [[a, b, c], [a, c, d]])
    }

    /// Whether it has no pieces: a part with too many corners is not taken apart.
    pub(crate) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// What the pieces between two levels cast straight down on the level plane, in x and y about a point:
    /// convex outlines, counter-clockwise.
    pub(crate) fn shadow(&self, band: [f64; 2], about: &Point3<f64>) -> Vec<Vec<[f64; 2]>> {
        let flat = |p: Point3<f64>| [p.x - about.x, p.y - about.y];
        let cast = |prism: &Prism| {
            let mut points = Vec::new();
            for face in FACES {
                for (i, &from) in face.iter().enumerate() {
                    let (a, b) = (prism.corners[from], prism.corners[face[(i + 1) % 4]]);
                    if a.z >= band[0] && a.z <= band[1] {
                        points.push(flat(a));
                    }
                    for z in band {
                        if (a.z < z) != (b.z < z) {
                            points.push(flat(a + (b - a) * ((z - a.z) / (b.z - a.z))));
                        }
                    }
                }
            }
            hull(points)
        };
        let meets = |p: &&Prism| p.extent.low.z <= band[1] && p.extent.high.z >= band[0];
        self.0.iter().filter(meets).map(cast).filter(|c| c.len() > 2).collect()
    }
}

/// Cut edges of a part that run along its ribs, from skin to skin, as triangles.
pub(crate) fn edges_along(part: &Part) -> Vec<[Point3<f64>; 3]> {
    let skins = skins(part);
    let level = |a: &[f64; 2], b: &[f64; 2]| (a[1] - b[1]).abs() <= THINNEST;
    let mut found = Vec::new();
    for outline in &part.outlines {
        for (i, a) in outline.iter().enumerate() {
            let b = &outline[(i + 1) % outline.len()];
            if level(a, b) {
                let [p, q] = skins.map(|offset| part.position(*a, offset));
                let [r, s] = skins.map(|offset| part.position(*b, offset));
                found.extend([[p, r, s], [p, s, q]]);
            }
        }
    }
    found
}

/// Inside and outside of a part, from its middle skin or its front, mm.
fn skins(part: &Part) -> [f64; 2] {
    let half = part.thickness() / 2.0;
    match part.kind {
        PartKind::Sheet { .. } => [-half, half],
        PartKind::Closure { thickness } => [-thickness, 0.0],
    }
}

/// What the pairs of parts that `wanted` names share, in order.
pub(crate) fn shared(parts: &[Part], wanted: impl Fn(usize, usize) -> bool + Sync) -> Vec<Shared> {
    let prisms: Vec<Prisms> = parts.par_iter().map(Prisms::new).collect();
    let all = prisms.iter().fold(Extent::NOTHING, |e, s| e.join(&s.extent));
    let touch = TOUCH.max(TOUCH_SHARE * (all.high - all.low).norm());
    (0..parts.len())
        .into_par_iter()
        .flat_map_iter(|i| {
            let (prisms, wanted) = (&prisms, &wanted);
            (i + 1..parts.len())
                .filter(move |&j| wanted(i, j) && prisms[i].extent.meets(&prisms[j].extent))
                .filter_map(move |j| between(&prisms[i], &prisms[j], [i, j], touch))
        })
        .collect()
}

/// What two parts share, if anything; what reaches less than `touch` mm into the other only touches it.
fn between(a: &Prisms, b: &Prisms, parts: [usize; 2], touch: f64) -> Option<Shared> {
    let mut theirs: Vec<&Prism> = b.all.iter().filter(|p| a.comes_near(p)).collect();
    // Sorted along the axis on which they are shortest for how far they spread, so that few pairs are looked at.
    let spread = theirs.iter().fold(Extent::NOTHING, |e, p| e.join(&p.extent));
    let longest =
        |axis: usize| theirs.iter().map(|p| p.extent.high[axis] - p.extent.low[axis]).fold(0.0, f64::max);
    let spread = spread.high - spread.low;
    let share = |axis: &usize| if spread[*axis] > 0.0 { longest(*axis) / spread[*axis] } else { 1.0 };
    let axis = (0..3).min_by(|a, b| share(a).total_cmp(&share(b))).unwrap_or(0);
    let longest = longest(axis);
    theirs.sort_by(|p, q| p.extent.low[axis].total_cmp(&q.extent.low[axis]));
    let mut clash = Clash { parts, volume: 0.0, place: Point3::origin() };
    let (mut most, mut solids) = (0.0, Vec::new());
    for mine in a.all.iter().filter(|p| b.comes_near(p)) {
        let first = theirs.partition_point(|p| p.extent.low[axis] < mine.extent.low[axis] - longest);
        let near = theirs[first..].iter().take_while(|p| p.extent.low[axis] <= mine.extent.high[axis]);
        for other in near.filter(|p| p.extent.meets(&mine.extent)) {
            if mine.apart_from(other, touch) || other.apart_from(mine, touch) {
                continue;
            }
            let faces = mine.within(other);
            let (volume, place) = volume_of(&faces);
            if volume <= 0.0 {
                continue;
            }
            clash.volume += volume;
            solids.push(faces.into_iter().flatten().collect());
            if volume > most {
                (most, clash.place) = (volume, place);
            }
        }
    }
    (clash.volume > LEAST_VOLUME).then_some(Shared { clash, solids })
}

/// A part taken apart.
struct Prisms {
    all: Vec<Prism>,
    extent: Extent,
    /// Square to the sheet, along which a part is thinnest, and how far it reaches along it.
    normal: Vector3<f64>,
    reach: [f64; 2],
}

impl Prisms {
    fn new(part: &Part) -> Self {
        let (all, normal) = (prisms(part), part.frame.n);
        let extent = all.iter().fold(Extent::NOTHING, |e, p| e.join(&p.extent));
        let reach = all.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], p| {
            let [l, h] = p.along(&normal);
            [low.min(l), high.max(h)]
        });
        Self { all, extent, normal, reach }
    }

    /// Whether a prism of another part might share anything with this one: what lies beside it along an axis or
    /// square to the sheet does not. A leaning sheet has a large box and is thin.
    fn comes_near(&self, other: &Prism) -> bool {
        other.extent.meets(&self.extent) && {
            let [low, high] = other.along(&self.normal);
            low <= self.reach[1] && high >= self.reach[0]
        }
    }
}

/// A box along the axes.
#[derive(Debug, Clone, Copy)]
struct Extent {
    low: Point3<f64>,
    high: Point3<f64>,
}

impl Extent {
    const NOTHING: Self = Self {
        low: Point3::new(f64::INFINITY, f64::INFINITY, f64::INFINITY),
        high: Point3::new(f64::NEG_INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY),
    };

    fn join(&self, other: &Self) -> Self {
        Self { low: self.low.inf(&other.low), high: self.high.sup(&other.high) }
    }

    fn meets(&self, other: &Self) -> bool {
        (0..3).all(|i| self.low[i] <= other.high[i] && other.low[i] <= self.high[i])
    }
}

/// A plane; inside is where `normal · p ≤ reach`.
#[derive(Debug, Clone, Copy)]
struct Plane {
    normal: Vector3<f64>,
    reach: f64,
}

/// A convex piece of a part: four corners on the inside skin, four on the outside one.
#[derive(Debug, Clone)]
struct Prism {
    corners: [Point3<f64>; 8],
    planes: Vec<Plane>,
    extent: Extent,
}

/// Corners of each face of a prism, seen from outside it.
const FACES: [[usize; 4]; 6] =
    [[3, 2, 1, 0], [4, 5, 6, 7], [0, 1, 5, 4], [1, 2, 6, 5], [2, 3, 7, 6], [3, 0, 4, 7]];

impl Prism {
    fn new(corners: [Point3<f64>; 8]) -> Self {
        let extent = corners.iter().fold(Extent::NOTHING, |e, p| e.join(&Extent { low: *p, high: *p }));
        let middle = Point3::from(corners.iter().map(|p| p.coords).sum::<Vector3<f64>>() / 8.0);
        let planes = FACES.iter().filter_map(|f| {
            let [a, b, c, d] = f.map(|i| corners[i]);
            // The diagonals span the mean plane of a face that is not quite flat, or has only three corners.
            let normal = (c - a).cross(&(d - b)).try_normalize(f64::MIN_POSITIVE)?;
            let reach = [a, b, c, d].iter().map(|p| normal.dot(&(p - middle))).sum::<f64>() / 4.0;
            let reach = reach + normal.dot(&middle.coords);
            Some(Plane { normal, reach })
        });
        let planes = planes.collect();
        Self { corners, planes, extent }
    }

    /// From where to where it reaches along a direction.
    fn along(&self, direction: &Vector3<f64>) -> [f64; 2] {
        let places = self.corners.map(|p| direction.dot(&p.coords));
        places.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], &x| [l.min(x), h.max(x)])
    }

    /// Whether one of its faces has all of the other before it, save what reaches in by less than `touch`.
    fn apart_from(&self, other: &Self, touch: f64) -> bool {
        self.planes
            .iter()
            .any(|plane| other.corners.iter().all(|p| plane.normal.dot(&p.coords) - plane.reach > -touch))
    }

    /// Faces of what it shares with another; none if nothing.
    fn within(&self, other: &Self) -> Vec<Vec<Point3<f64>>> {
        let mut faces: Vec<Vec<Point3<f64>>> =
            FACES.iter().map(|f| f.iter().map(|&i| self.corners[i]).collect()).collect();
        for plane in &other.planes {
            faces = cut(&faces, plane);
            if faces.len() < 4 {
                return Vec::new();
            }
        }
        faces
    }
}

/// Volume of a convex solid, and a point within it.
fn volume_of(faces: &[Vec<Point3<f64>>]) -> (f64, Point3<f64>) {
    let count: usize = faces.iter().map(Vec::len).sum();
    if count == 0 {
        return (0.0, Point3::origin());
    }
    #[allow(clippy::cast_precision_loss, reason = "few corners")]
    let middle = Point3::from(faces.iter().flatten().map(|p| p.coords).sum::<Vector3<f64>>() / count as f64);
    let mut volume = 0.0;
    for face in faces {
        for k in 1..face.len() - 1 {
            let [a, b, c] = [face[0] - middle, face[k] - middle, face[k + 1] - middle];
            volume += a.dot(&b.cross(&c)) / 6.0;
        }
    }
    (volume, middle)
}

/// A convex solid cut by a plane, what is inside it kept.
fn cut(faces: &[Vec<Point3<f64>>], plane: &Plane) -> Vec<Vec<Point3<f64>>> {
    let height = |p: &Point3<f64>| {
        let h = plane.normal.dot(&p.coords) - plane.reach;
        if h.abs() < ON_PLANE { 0.0 } else { h }
    };
    // A face that lies in the plane already is its own cap.
    if faces.iter().any(|face| face.iter().all(|p| height(p) == 0.0)) {
        let inside = faces.iter().flatten().all(|p| height(p) <= 0.0);
        return if inside { faces.to_vec() } else { Vec::new() };
    }
    let mut kept = Vec::with_capacity(faces.len() + 1);
    let mut rim: Vec<Point3<f64>> = Vec::new();
    for face in faces {
        let mut out = Vec::with_capacity(face.len() + 1);
        for (i, a) in face.iter().enumerate() {
            let b = &face[(i + 1) % face.len()];
            let (ha, hb) = (height(a), height(b));
            if ha <= 0.0 {
                out.push(*a);
            }
            if (ha < 0.0 && hb > 0.0) || (ha > 0.0 && hb < 0.0) {
                let p = a + (b - a) * (ha / (ha - hb));
                out.push(p);
                rim.push(p);
            } else if ha == 0.0 {
                rim.push(*a);
            }
        }
        if out.len() >= 3 {
            kept.push(out);
        }
    }
    if rim.len() >= 3 && !kept.is_empty() {
        // The cap is convex: its corners in order round their middle.
        #[allow(clippy::cast_precision_loss, reason = "few corners")]
        let middle = Point3::from(rim.iter().map(|p| p.coords).sum::<Vector3<f64>>() / rim.len() as f64);
        let axis = if plane.normal.x.abs() < 0.5 { Vector3::x() } else { Vector3::y() };
        let u = plane.normal.cross(&axis).normalize();
        let v = plane.normal.cross(&u);
        let angle = |p: &Point3<f64>| (p - middle).dot(&v).atan2((p - middle).dot(&u));
        let mut turned: Vec<(f64, Point3<f64>)> = rim.into_iter().map(|p| (angle(&p), p)).collect();
        turned.sort_by(|a, b| a.0.total_cmp(&b.0));
        kept.push(turned.into_iter().map(|(_, p)| p).collect());
    }
    kept
}

/// The convex pieces of a part.
fn prisms(part: &Part) -> Vec<Prism> {
    if part.corners() > MOST_CORNERS {
        return Vec::new();
    }
    let skins = skins(part);
    let mut levels: Vec<f64> = part.outlines.iter().flatten().map(|p| p[1]).collect();
    let (low, high) =
        levels.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &t| (l.min(t), h.max(t)));
    let mut breaks = Vec::new();
    if let PartKind::Sheet { profile, phase, .. } = &part.kind {
        // Beside sharp folds columns lean, so that skins break there though the middle one does not.
        breaks =
            profile.breaks_on_skin([low - phase, high - phase], 0.0).into_iter().map(|t| t + phase).collect();
        levels.extend(&breaks);
    }
    let mut sides: Vec<Side> = Vec::new();
    for outline in &part.outlines {
        for (i, &a) in outline.iter().enumerate() {
            let b = outline[(i + 1) % outline.len()];
            if a[1] != b[1] {
                sides.push(if a[1] < b[1] { Side { low: a, high: b } } else { Side { low: b, high: a } });
            }
        }
    }
    sides.sort_by(|a, b| a.low[1].total_cmp(&b.low[1]));
    levels.sort_by(f64::total_cmp);
    let mut found = Vec::new();
    let mut close = |open: &Open, to: f64| {
        // A little within its own strip, so that each corner is laid on its own side of a fold.
        let [from, to] = [open.from + THINNEST / 4.0, to - THINNEST / 4.0];
        let plan = [
            [open.left.at(from), from],
            [open.right.at(from), from],
            [open.right.at(to), to],
            [open.left.at(to), to],
        ];
        let [inner, outer] = skins.map(|offset| plan.map(|p| part.position(p, offset)));
        if let Ok(corners) = <[Point3<f64>; 8]>::try_from([inner, outer].concat()) {
            found.push(Prism::new(corners));
        }
    };
    // Swept across the ribs: a piece stays open while the same two sides bound it within one strip.
    let (mut next, mut here, mut open): (usize, Vec<usize>, Vec<Open>) = (0, Vec::new(), Vec::new());
    let mut looked_at = 0;
    for slab in levels.windows(2).filter(|w| w[1] - w[0] > THINNEST) {
        let [from, to] = [slab[0], slab[1]];
        let middle = f64::midpoint(from, to);
        while next < sides.len() && sides[next].low[1] <= middle {
            here.push(next);
            next += 1;
        }
        here.retain(|&i| sides[i].high[1] > middle);
        looked_at += here.len();
        if looked_at > MOST_LOOKS {
            return Vec::new();
        }
        here.sort_by(|&i, &j| sides[i].at(middle).total_cmp(&sides[j].at(middle)).then(i.cmp(&j)));
        let before = breaks.partition_point(|&t| t < from - THINNEST);
        let broken = breaks.get(before).is_some_and(|&t| t <= from + THINNEST);
        let mut still = Vec::with_capacity(here.len() / 2);
        for pair in here.chunks_exact(2) {
            let same = open.iter().position(|o| o.ids == [pair[0], pair[1]]);
            match same {
                Some(k) if !broken => still.push(open.swap_remove(k)),
                _ => still.push(Open {
                    ids: [pair[0], pair[1]],
                    left: sides[pair[0]],
                    right: sides[pair[1]],
                    from,
                }),
            }
        }
        for done in &open {
            close(done, from);
        }
        open = still;
    }
    if let Some(&last) = levels.last() {
        for done in &open {
            close(done, last);
        }
    }
    found
}

/// An edge of an outline, lower end first.
#[derive(Debug, Clone, Copy)]
struct Side {
    low: [f64; 2],
    high: [f64; 2],
}

impl Side {
    fn at(&self, t: f64) -> f64 {
        let share = ((t - self.low[1]) / (self.high[1] - self.low[1])).clamp(0.0, 1.0);
        self.low[0] + (self.high[0] - self.low[0]) * share
    }
}

/// A piece between two sides that has begun.
#[derive(Debug, Clone, Copy)]
struct Open {
    ids: [usize; 2],
    left: Side,
    right: Side,
    from: f64,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::part::Frame;

    /// A plate `size` wide and high with its front at z, turned about x.
    fn plate(size: f64, thickness: f64, origin: [f64; 3], turn: f64) -> Part {
        let (sin, cos) = turn.sin_cos();
        let (u, v) = (Vector3::x(), Vector3::new(0.0, cos, sin));
        let frame = Frame { origin: origin.into(), u, v, n: u.cross(&v) };
        Part {
            id: "plate".to_owned(),
            face: "plate".to_owned(),
            kind: PartKind::Closure { thickness },
            frame,
            outlines: vec![vec![[0.0, 0.0], [size, 0.0], [size, size], [0.0, size]]],
            edges: vec![vec![None; 4]],
            marks: Vec::new(),
            marking: crate::part::Marking::default(),
            area: size * size,
            cut_length: 4.0 * size,
            mass: 0.0,
        }
    }

    #[test]
    fn shared_volumes_of_plates_are_those_of_the_closed_form() {
        for far in [0.0, 1.0e6] {
            // Half overlapped in x and y, one of two millimetres deep.
            let a = plate(100.0, 2.0, [far, far, 0.0], 0.0);
            let b = plate(100.0, 2.0, [far + 50.0, far + 40.0, 1.0], 0.0);
            let found = clashes(&[a.clone(), b]);
            assert_eq!(found.len(), 1);
            assert!((found[0].volume - 50.0 * 60.0).abs() < 1e-4, "{}", found[0].volume);
            // An upright plate through the middle: its thickness times that of the other times the length.
            let through = plate(100.0, 3.0, [far, far + 50.0, -50.0], std::f64::consts::FRAC_PI_2);
            let found = clashes(&[a.clone(), through]);
            assert!((found[0].volume - 100.0 * 2.0 * 3.0).abs() < 1e-4, "{}", found[0].volume);
            // At 30 degrees the section is a parallelogram, 2 × 3 / sin 30.
            let slanting = plate(100.0, 3.0, [far, far + 10.0, -20.0], std::f64::consts::FRAC_PI_6);
            let found = clashes(&[a.clone(), slanting]);
            assert!((found[0].volume - 100.0 * 2.0 * 3.0 / 0.5).abs() < 1e-4, "{}", found[0].volume);
        }
    }

    #[test]
    fn plates_that_touch_share_nothing() {
        let a = plate(100.0, 2.0, [0.0; 3], 0.0);
        for origin in
            [[100.0, 0.0, 0.0], [0.0, 100.0, 0.0], [0.0, 0.0, 2.0], [0.0, 0.0, -2.0], [300.0, 0.0, 0.0]]
        {
            assert!(clashes(&[a.clone(), plate(100.0, 2.0, origin, 0.0)]).is_empty(), "{origin:?}");
        }
    }
}
