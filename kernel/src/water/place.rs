//! Places for round holes in parts: on one flat strip of the sheet, so that the hole stays a circle when the part is made
//! flat, and clear of edges, seams and folds.
//!
//! Candidates are looked at on a grid of 5 mm round where the hole is wanted, five across each flat strip: the lowest is
//! off by less than that. Distances are taken along the middle skin.

use crate::moments::Moments;
use crate::part::{Part, PartKind};
use crate::polygon::holds;
use crate::profile::Profile;
use crate::region::{Outline, Region};
use crate::units::KG_PER_MM3;
use nalgebra::{Point3, Unit, Vector3};

/// Grid along the ribs, mm, and how many steps of it are tried either way.
const STEP: f64 = 5.0;
const STEPS: i32 = 80;
/// How far across the ribs is looked, mm; at least one pitch.
const ACROSS: f64 = 200.0;
/// Places across a flat strip; on flat sheet across all that is looked at.
const WITHIN: u32 = 4;
const WITHIN_FLAT: u32 = 80;
/// Chords of a hole's outline leave the circle by at most this, mm.
const SAGITTA: f64 = 0.005;
/// Heights nearer to each other than this are the same: then the nearer place is taken, mm.
const SAME_HEIGHT: f64 = 0.1;

/// What hole is wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    /// Where, mm.
    pub near: Point3<f64>,
    /// The direction that is up; the lowest place wins.
    pub up: Unit<Vector3<f64>>,
    /// Radius, mm.
    pub radius: f64,
    /// Least steel beside it, mm.
    pub edge: f64,
    /// Which skin it is seen on: 1 the outside, −1 the inside.
    pub side: f64,
}

/// Tells whether a place is allowed: by its middle, its strip's outward normal, and how far the rim reaches below it, mm.
pub type Allowed<'a> = &'a dyn Fn(&Point3<f64>, &Vector3<f64>, f64) -> bool;

/// A place for a hole in a part.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// Index of the part.
    pub part: usize,
    /// Its middle, in the coordinates of the part's outlines, mm.
    pub at: [f64; 2],
    /// Its outline there, clockwise as holes are.
    pub outline: Vec<[f64; 2]>,
    /// Its middle in the work, on the skin asked for, mm.
    pub place: Point3<f64>,
    /// Unit normal of the strip, outward.
    pub normal: Vector3<f64>,
    /// How far its rim reaches below its middle, mm.
    pub reach: f64,
    /// Height of the lowest place of its rim, along up, mm.
    pub height: f64,
    /// From the left-hand edge and from the lower end of the part as it lies on its templates, along the middle skin, mm.
    pub from_corner: [f64; 2],
}

/// Sides of a hole's outline.
pub fn sides(radius: f64) -> u32 {
    let share = (1.0 - SAGITTA / radius).clamp(0.0, 1.0).acos();
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "some hundred")]
    let quarter = (std::f64::consts::FRAC_PI_4 / share).ceil() as u32;
    4 * quarter.max(4)
}

/// The lowest place for a hole in a part among those allowed.
pub fn spot(parts: &[Part], index: usize, wanted: &Wanted, allowed: Allowed<'_>) -> Option<Spot> {
    let part = &parts[index];
    let PartKind::Sheet { profile, phase, .. } = &part.kind else { return None };
    let f = &part.frame;
    let [s0, t0] = f.plan(&wanted.near);
    let q0 = t0 - phase;
    let w = |q: f64| profile.developed_at(q, 0.0);
    // The part laid flat on its middle skin.
    let flat: Vec<Vec<[f64; 2]>> =
        part.outlines.iter().map(|o| o.iter().map(|p| [p[0], w(p[1] - phase)]).collect()).collect();
    let all = || flat.iter().flatten();
    let (left, low) = (
        all().map(|p| p[1]).fold(f64::NEG_INFINITY, f64::max),
        all().map(|p| p[0]).fold(f64::INFINITY, f64::min),
    );
    let clear = wanted.radius + wanted.edge;
    let mut found = Vec::new();
    for [qa, qb] in runs(profile, q0) {
        let (wa, wb) = (w(qa), w(qb));
        // On flat sheet the ends are only how far is looked.
        let (from, to) = if profile.is_flat() { (wa, wb) } else { (wa + clear, wb - clear) };
        if from > to {
            continue;
        }
        let count = if profile.is_flat() { WITHIN_FLAT } else { WITHIN };
        let q_of = |w: f64| qa + (w - wa) * (qb - qa) / (wb - wa);
        let skin = wanted.side * part.thickness() / 2.0;
        let position = |s: f64, w: f64| part.position([s, q_of(w) + phase], skin);
        let middle = f64::midpoint(from, to);
        let across = position(s0, middle + 1.0) - position(s0, middle - 1.0);
        let Some(normal) = f.u.cross(&across).try_normalize(0.0) else { continue };
        let reach = wanted.radius * (1.0 - normal.dot(&wanted.up).powi(2)).max(0.0).sqrt();
        for i in 0..=count {
            let at_w = from + (to - from) * f64::from(i) / f64::from(count);
            for k in -STEPS..=STEPS {
                let s = s0 + f64::from(k) * STEP;
                let place = position(s, at_w);
                found.push(Candidate {
                    height: place.coords.dot(&wanted.up) - reach,
                    away: (place - wanted.near).norm(),
                    flat: [s, at_w],
                    run: [qa, qb, wa, wb],
                    place,
                    normal,
                    reach,
                });
            }
        }
    }
    let step = |h: f64| (h / SAME_HEIGHT).round();
    found.sort_by(|a, b| step(a.height).total_cmp(&step(b.height)).then(a.away.total_cmp(&b.away)));
    let fits = |c: &Candidate| {
        let inside = flat.iter().filter(|o| holds(o, c.flat)).count() % 2 == 1;
        inside && flat.iter().all(|o| distance(o, c.flat) >= clear)
    };
    let c = found.iter().find(|c| allowed(&c.place, &c.normal, c.reach) && fits(c))?;
    let [qa, qb, wa, wb] = c.run;
    let q_of = |w: f64| qa + (w - wa) * (qb - qa) / (wb - wa);
    let count = sides(wanted.radius);
    let corner = |k: u32| {
        let (sin, cos) = (-std::f64::consts::TAU * f64::from(k) / f64::from(count)).sin_cos();
        [c.flat[0] + wanted.radius * cos, q_of(c.flat[1] + wanted.radius * sin) + phase]
    };
    Some(Spot {
        part: index,
        at: [c.flat[0], q_of(c.flat[1]) + phase],
        outline: (0..count).map(corner).collect(),
        place: c.place,
        normal: c.normal,
        reach: c.reach,
        height: c.height,
        from_corner: [left - c.flat[1], c.flat[0] - low],
    })
}

struct Candidate {
    height: f64,
    away: f64,
    flat: [f64; 2],
    run: [f64; 4],
    place: Point3<f64>,
    normal: Vector3<f64>,
    reach: f64,
}

/// Flat strips near a place across the ribs, as they lie between two folds.
fn runs(profile: &Profile, q: f64) -> Vec<[f64; 2]> {
    let reach = ACROSS.max(profile.pitch());
    if profile.is_flat() {
        return vec![[q - ACROSS, q + ACROSS]];
    }
    let (first, last) = (profile.strip_index(q - reach), profile.strip_index(q + reach));
    let mut found = Vec::new();
    let mut start = first;
    for i in first..=last {
        // Where the sheet does not turn, the strip goes on.
        if profile.fold_turn(i + 1) != 0.0 || i == last {
            found.push([profile.fold_t(start), profile.fold_t(i + 1)]);
            start = i + 1;
        }
    }
    found
}

/// From a place to the nearest edge of an outline, mm.
fn distance(outline: &[[f64; 2]], p: [f64; 2]) -> f64 {
    let mut least = f64::INFINITY;
    for (i, a) in outline.iter().enumerate() {
        let b = outline[(i + 1) % outline.len()];
        let (d, e) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
        let square = d[0] * d[0] + d[1] * d[1];
        let share = if square > 0.0 { ((d[0] * e[0] + d[1] * e[1]) / square).clamp(0.0, 1.0) } else { 0.0 };
        least = least.min((e[0] - d[0] * share).hypot(e[1] - d[1] * share));
    }
    least
}

/// Cuts a hole in a part: its outlines, area, length of cut and mass.
pub fn cut(part: &mut Part, outline: &[[f64; 2]], density: f64) {
    let none = vec![None; outline.len()];
    if part.marking.across.len() == part.outlines.len() {
        part.marking.across.push(none.clone());
    }
    part.outlines.push(outline.to_vec());
    part.edges.push(none);
    let moments = moments(part);
    part.area = moments.area;
    part.cut_length = moments.length;
    part.mass = part.area * part.thickness() * density * KG_PER_MM3;
}

/// Centre of mass of a sheet part, mm.
pub(crate) fn centre(part: &Part) -> Point3<f64> {
    let moments = moments(part);
    let at = moments.first.map(|m| m / moments.area);
    let f = &part.frame;
    f.origin + f.u * at[0] + f.v * at[1] + f.n * at[2]
}

fn moments(part: &Part) -> Moments {
    let outlines = part.outlines.iter().zip(&part.edges);
    let region =
        Region { outlines: outlines.map(|(p, t)| Outline { points: p.clone(), tags: t.clone() }).collect() };
    Moments::of(&part.kind, &region)
}
