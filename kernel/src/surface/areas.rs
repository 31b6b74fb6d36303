//! Areas of the outside and the inside skins of a work, by face, with ribs counted.
//!
//! Method: a part's outline lies on its face with s along the ribs and q across; what the outside skin adds per mm of q is
//! the slope of its developed coordinate, bends as true arcs. So the area is the integral of s over that coordinate round
//! the outline, exact because every crossing of a fold is a corner (as in `moments`). Edges of the sheet are not counted.
//!
//! Where we differ: on a surveyed sheet the middle skin is measured as it wanders, and the two skins are taken in the
//! proportion they have on the nominal sheet; it is off by the wander's share of the difference, some hundredths of a
//! per cent. Sheet that is kept whole under the element on it is hidden there: the overlap of the flat face with that
//! element is taken off in proportion, ribs on average.

use crate::part::{Part, PartKind};
use crate::work::Work;
use nalgebra::Point3;

/// Areas of one face, of all its parts.
#[derive(Debug, Clone, PartialEq)]
pub struct FaceArea {
    /// Index into `Work::faces`.
    pub face: usize,
    /// The flat face that is covered, mm².
    pub flat: f64,
    /// Outside skin, in the open, mm².
    pub outside: f64,
    /// Inside skin, and what of the outside skin lies inside the element that stands on it, mm².
    pub inside: f64,
    /// What of `inside` is the hidden outside skin, mm².
    pub hidden: f64,
    /// Closure strips on its seams, one side, mm²; each strip counts with the first face of its seam.
    pub strips: f64,
}

/// Areas of a work.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Areas {
    /// In the order of `Work::faces`; faces left open have none.
    pub faces: Vec<FaceArea>,
}

impl Areas {
    /// Outside and inside of an element, or of all, closure strips with them, mm².
    pub fn sum(&self, work: &Work, element: Option<usize>) -> [f64; 2] {
        let wanted = |a: &&FaceArea| element.is_none_or(|e| work.faces[a.face].element == e);
        self.faces
            .iter()
            .filter(wanted)
            .fold([0.0; 2], |[out, inn], a| [out + a.outside + a.strips, inn + a.inside + a.strips])
    }
}

/// The areas of a work.
pub fn areas(work: &Work) -> Areas {
    let mut faces: Vec<FaceArea> = (0..work.faces.len())
        .map(|face| FaceArea { face, flat: 0.0, outside: 0.0, inside: 0.0, hidden: 0.0, strips: 0.0 })
        .collect();
    for part in &work.parts {
        let id = part.face.split('~').next().unwrap_or_default();
        let Some(face) = work.faces.iter().position(|f| f.id == id) else { continue };
        let one = &mut faces[face];
        if let PartKind::Closure { .. } = part.kind {
            one.strips += part.area;
            continue;
        }
        let [flat, outside, inside] = of_sheet(part);
        one.flat += flat;
        one.outside += outside;
        one.inside += inside;
    }
    for (k, one) in faces.iter_mut().enumerate() {
        let share = (overlap(work, k) / one.flat).clamp(0.0, 1.0);
        // A face without parts has no area to share.
        if share > 0.0 {
            one.hidden = one.outside * share;
            one.outside -= one.hidden;
            one.inside += one.hidden;
        }
    }
    faces.retain(|f| f.flat > 0.0);
    Areas { faces }
}

/// Area of a sheet part on its flat face, its outside and its inside skin, mm².
fn of_sheet(part: &Part) -> [f64; 3] {
    let PartKind::Sheet { profile, phase, wander, .. } = &part.kind else { return [part.area; 3] };
    let half = profile.thickness() / 2.0;
    let o = part.outlines.first().and_then(|o| o.first()).copied().unwrap_or_default();
    // On the flat face, and on the outside, the inside and the middle skins.
    let mut sums = [0.0; 4];
    for outline in &part.outlines {
        for (i, a) in outline.iter().enumerate() {
            let b = outline[(i + 1) % outline.len()];
            let s = f64::midpoint(a[0], b[0]) - o[0];
            let run = |skin: f64| {
                profile.developed_at(b[1] - phase, skin) - profile.developed_at(a[1] - phase, skin)
            };
            for (sum, run) in sums.iter_mut().zip([b[1] - a[1], run(half), run(-half), run(0.0)]) {
                *sum += s * run;
            }
        }
    }
    let [flat, outside, inside, middle] = sums;
    let scale = if wander.is_some() && middle > 0.0 { part.area / middle } else { 1.0 };
    [flat, outside * scale, inside * scale]
}

/// What of a flat face lies inside the elements that stand on it, mm²; only where it is kept whole is there sheet.
fn overlap(work: &Work, face: usize) -> f64 {
    let report = &work.faces[face];
    if !work.sculpture.kept_whole.contains(&report.id) {
        return 0.0;
    }
    let label = report.id.split('/').next_back().unwrap_or_default();
    let solid = &work.sculpture.elements[report.element].solid;
    let Some(own) = solid.faces.iter().find(|f| f.label == label) else { return 0.0 };
    let standing = work
        .sculpture
        .rests
        .iter()
        .filter(|r| r.on == report.element && r.normal.dot(&own.normal) > SAME_WAY);
    standing
        .map(|rest| {
            let mut ring = own.polygon.clone();
            for side in &work.sculpture.elements[rest.element].solid.faces {
                // Its foot lies in this plane or below it.
                if side.normal.dot(&own.normal) > -SAME_WAY {
                    ring = clip(&ring, |p| side.normal.dot(&(p - side.point)));
                }
            }
            area_of(&ring)
        })
        .sum()
}

/// Two faces look the same way above this cosine.
const SAME_WAY: f64 = 1.0 - 1.0e-9;

/// What of a convex ring lies where the height over a plane is not above 0.
fn clip(ring: &[Point3<f64>], height: impl Fn(&Point3<f64>) -> f64) -> Vec<Point3<f64>> {
    let mut kept = Vec::with_capacity(ring.len() + 1);
    for (i, a) in ring.iter().enumerate() {
        let b = &ring[(i + 1) % ring.len()];
        let (ha, hb) = (height(a), height(b));
        if ha <= 0.0 {
            kept.push(*a);
        }
        if (ha < 0.0 && hb > 0.0) || (ha > 0.0 && hb < 0.0) {
            kept.push(a + (b - a) * (ha / (ha - hb)));
        }
    }
    kept
}

fn area_of(ring: &[Point3<f64>]) -> f64 {
    let Some(first) = ring.first() else { return 0.0 };
    let crosses = ring.windows(2).map(|e| (e[0] - first).cross(&(e[1] - first)));
    crosses.sum::<nalgebra::Vector3<f64>>().norm() / 2.0
}
