//! The plan with what stands on it: pools hatched and numbered, with depth and volume; arrows down the faces that look up.

use super::super::sketch::{label, letters};
use super::Run;
use crate::drawing::{Drawing, Layer, Path};
use crate::liquid::Posed;
use crate::units::MM3_PER_LITRE;
use crate::view::{Projection, join_lines, size_of, visible_lines};
use crate::water::Hollow;
use crate::water::remedy::Standing;
use crate::work::Work;
use nalgebra::{Point3, Vector3};

/// Hatching lies so many letters apart.
const HATCH: f64 = 0.45;
/// The waterline is drawn this share of the depth below the pass, where it is a clean line.
const BELOW: f64 = 1.0e-3;
/// Length of an arrow in letters, and of its head.
const ARROW: f64 = 4.0;
const HEAD: f64 = 0.9;
/// Stretches shorter than this are none, mm.
const SHORTEST: f64 = 0.5;

/// The drawing; none where there is nothing to see.
pub(super) fn plan(work: &Work, standing: Option<&Standing>, falls: &[Run]) -> Option<Drawing> {
    let size = size_of(&work.mesh)?;
    let projection = Projection::square(Vector3::x(), Vector3::y());
    let lines = visible_lines(&work.mesh, &work.edges, &projection, &Point3::origin());
    let mut drawing = Drawing {
        name: "water-plan".to_owned(),
        title: "Plan, north up: water that stands (hatched) and how the faces fall".to_owned(),
        paths: join_lines(&lines, size),
        ..Drawing::default()
    };
    // Folds would drown the hatching: seams are enough to find one's way.
    drawing.paths.retain(|p| p.layer != Layer::Fold);
    let [low, high] = drawing.bounds()?;
    let height = letters((high[0] - low[0]).max(high[1] - low[1]));
    for run in falls {
        arrow(&mut drawing, work, run, height);
    }
    if let Some(standing) = standing {
        let below = [low[0], low[1] - 2.5 * height];
        for (k, place) in standing.places.iter().enumerate() {
            pool(&mut drawing, standing, &place.hollow, height);
            let h = &place.hollow;
            drawing.labels.push(label(
                [h.lowest.x + height, h.lowest.y + height],
                height,
                format!("{}", k + 1),
            ));
            #[allow(clippy::cast_precision_loss, reason = "few places")]
            let line = below[1] - k as f64 * 1.6 * height;
            drawing.labels.push(crate::drawing::Label {
                centred: false,
                ..label(
                    [below[0], line],
                    height,
                    format!("{}: {:.0} mm deep, {:.2} l", k + 1, h.depth, h.volume / MM3_PER_LITRE),
                )
            });
        }
        if standing.places.is_empty() {
            drawing
                .labels
                .push(crate::drawing::Label { centred: false, ..label(below, height, "no water stands") });
        }
    }
    Some(drawing)
}

/// The waterline and hatching of a pool.
fn pool(drawing: &mut Drawing, standing: &Standing, hollow: &Hollow, height: f64) {
    let chamber = standing.outdoors.chamber();
    let posed = Posed::new(chamber, Vector3::z_axis());
    let level = hollow.level - hollow.depth * BELOW;
    let mut shore: Vec<[[f64; 2]; 2]> = Vec::new();
    for &t in &hollow.wet {
        let corners = chamber.corners(t);
        let over = corners.map(|p| posed.height_of(&p) - level);
        let mut ends = Vec::with_capacity(2);
        for k in 0..3 {
            let (i, j) = (k, (k + 1) % 3);
            if (over[i] <= 0.0) != (over[j] <= 0.0) {
                let p = corners[i] + (corners[j] - corners[i]) * (over[i] / (over[i] - over[j]));
                ends.push([p.x, p.y]);
            }
        }
        if let [a, b] = ends[..] {
            shore.push([a, b]);
        }
    }
    for &[a, b] in &shore {
        drawing.paths.push(Path::open(Layer::Cut, vec![a, b]));
    }
    // Strokes at 45°, between odd and even crossings of the shore.
    let across = |p: [f64; 2]| (p[1] - p[0]) * std::f64::consts::FRAC_1_SQRT_2;
    let along = |p: [f64; 2]| (p[0] + p[1]) * std::f64::consts::FRAC_1_SQRT_2;
    let back = |x: f64, y: f64| {
        [(x - y) * std::f64::consts::FRAC_1_SQRT_2, (x + y) * std::f64::consts::FRAC_1_SQRT_2]
    };
    let reach = shore.iter().flatten().map(|&p| across(p));
    let (from, to) = reach.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(x), b.max(x)));
    let step = height * HATCH;
    let mut y = (from / step).ceil() * step + step * BELOW;
    while y < to {
        let mut crossings: Vec<f64> = shore
            .iter()
            .filter_map(|&[a, b]| {
                let (p, q) = (across(a) - y, across(b) - y);
                ((p <= 0.0) != (q <= 0.0)).then(|| along(a) + (along(b) - along(a)) * (p / (p - q)))
            })
            .collect();
        crossings.sort_by(f64::total_cmp);
        for pair in crossings.chunks_exact(2).filter(|c| c[1] - c[0] > SHORTEST) {
            drawing.paths.push(Path::open(Layer::BendUp, vec![back(pair[0], y), back(pair[1], y)]));
        }
        y += step;
    }
}

/// An arrow down a face that looks up, with its fall.
fn arrow(drawing: &mut Drawing, work: &Work, run: &Run, height: f64) {
    let face = &work.faces[run.face];
    if run.slope > STEEP {
        return;
    }
    // In the middle of the largest triangle that is seen of it: always on its steel.
    let own = |t: &usize| work.mesh.names[work.mesh.part_of[*t] as usize] == face.id;
    let up = |t: usize| work.mesh.area_vector(t).z;
    let Some(t) = (0..work.mesh.triangles.len()).filter(own).max_by(|&a, &b| up(a).total_cmp(&up(b))) else {
        return;
    };
    let [a, b, c] = work.mesh.corners(t);
    let middle = [(a.x + b.x + c.x) / 3.0, (a.y + b.y + c.y) / 3.0];
    let (u, n) = (face.frame.u, face.frame.n);
    let flat = face.profile.depth() <= 0.0;
    let down = if flat {
        [n.x, n.y]
    } else if u.z > 0.0 {
        [-u.x, -u.y]
    } else {
        [u.x, u.y]
    };
    let length = down[0].hypot(down[1]);
    let ratio = 1.0 / run.slope.tan();
    let text = if ratio < LEVEL { format!("1:{ratio:.1}") } else { "level".to_owned() };
    let text = if run.enough { text } else { format!("{text} !") };
    let at = |x: f64, y: f64| {
        let d = [down[0] / length, down[1] / length];
        [middle[0] + d[0] * x - d[1] * y, middle[1] + d[1] * x + d[0] * y]
    };
    if length > 0.0 && ratio < LEVEL {
        let (reach, head) = (height * ARROW / 2.0, height * HEAD);
        drawing.paths.push(Path::open(Layer::Seam, vec![at(-reach, 0.0), at(reach, 0.0)]));
        drawing.paths.push(Path::open(
            Layer::Seam,
            vec![at(reach - head, head / 2.0), at(reach, 0.0), at(reach - head, -head / 2.0)],
        ));
    }
    let aside = if length > 0.0 && down[0].abs() < length * LEANS {
        at(0.0, if down[1] > 0.0 { -ASIDE * height } else { ASIDE * height })
    } else {
        [middle[0], middle[1] + height * 1.2]
    };
    drawing.labels.push(label(aside, height, text));
}

/// An arrow whose run to the right is less than this share of it has its words at its side, so many letters off.
const LEANS: f64 = 0.9;
const ASIDE: f64 = 2.8;
/// Faces steeper than this are walls: nobody asks how they fall, radians.
const STEEP: f64 = std::f64::consts::FRAC_PI_4;
/// Falls of less than one in this many are level.
const LEVEL: f64 = 1000.0;
