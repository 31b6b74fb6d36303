//! Paper templates of the spine at full size: round every mitred end, the foot on the base, holes in faces.

use super::super::sketch::{label, stem};
use super::fit::{FaceHole, Fitted};
use crate::drawing::{Drawing, Label, Layer, Path};
use crate::error::Result;
use crate::lettering;
use crate::output::{Output, PaperTemplate};
use crate::settings::Values;
use crate::tube::saddle::Slant;
use crate::tube::template::{Wrap, mitre};
use crate::work::Work;

/// Points of a cut all round: a chord leaves the curve of a 400 mm tube by 0.01 mm.
pub(super) const POINTS: u32 = 360;
/// Paper below the cut, mm: room for writing.
pub(super) const SKIRT: f64 = 70.0;
/// Height of letters, mm.
const LETTERS: f64 = 5.0;
/// How far axes stand out of an outline, mm.
const OUT: f64 = 15.0;

pub(super) fn add(work: &Work, set: &Values, fitted: &Fitted, output: &mut Output) -> Result<()> {
    let tube = &fitted.built.tube;
    for (k, leg) in fitted.legs.iter().enumerate() {
        for (end, word) in ["lower", "upper"].into_iter().enumerate() {
            if leg.ends[end].long.is_none() {
                continue;
            }
            let id = format!("spine leg {} {word} end", k + 1);
            let wrap = Wrap {
                name: format!("spine_leg_{}_{word}", k + 1),
                title: id.to_uppercase(),
                paper: set.number("paper"),
                points: POINTS,
                skirt: SKIRT,
            };
            let mut drawing = mitre(leg, end, tube, &wrap)?;
            drawing.title = format!("{}, {id}: wrap round the tube, cut line up", work.sculpture.name);
            output.papers.push(PaperTemplate { id, stem: wrap.name, drawing });
        }
    }
    output.papers.push(foot(work, fitted)?);
    for hole in &fitted.holes {
        output.papers.push(in_face(work, hole)?);
    }
    Ok(())
}

/// Where the tube stands: the ellipses of its outside and inside on the base, seen from above.
fn foot(work: &Work, fitted: &Fitted) -> Result<PaperTemplate> {
    let tube = &fitted.built.tube;
    let leg = &fitted.legs[0];
    let d = leg.direction;
    let tilt = d.z.abs().clamp(0.0, 1.0).acos();
    let toward = d.y.atan2(d.x);
    let outside = Slant::new(tube.outside() / 2.0, 0.0, tilt, 0.0)?;
    let inside = Slant::new(tube.inside() / 2.0, 0.0, tilt, 0.0)?;
    let at = fitted.built.points[0];
    let words = [
        format!("SPINE FOOT, TUBE {}", tube.words()),
        format!("MIDDLE AT X {}, Y {}", whole(at.x), whole(at.y)),
        format!("LEANS {:.1}° TOWARD {:.0}°", tilt.to_degrees(), toward.to_degrees().rem_euclid(360.0)),
        "OUTSIDE (CUT) AND INSIDE (MARK) OF THE TUBE ON THE PLATE, SEEN FROM ABOVE".to_owned(),
    ];
    let title = format!("{}, spine foot on the base, seen from above, +x to the right", work.sculpture.name);
    let rings = [outside.hole(POINTS), inside.hole(POINTS)];
    let drawing = around("spine_foot", title, &rings, toward, ["X", "Y"], &words)?;
    Ok(PaperTemplate { id: "spine foot".to_owned(), stem: "spine_foot".to_owned(), drawing })
}

/// A hole in a face, seen from outside, the ribs to the right.
fn in_face(work: &Work, hole: &FaceHole) -> Result<PaperTemplate> {
    let face = &work.faces[hole.face];
    let id = format!("spine hole {}", face.id);
    let name = format!("spine_hole_{}", stem(&face.id));
    let [s, t] = hole.on_face;
    let crest = to_crest(face.phase, face.profile.pitch(), t);
    let words = [
        format!("SPINE HOLE IN {}", face.id),
        format!("MIDDLE {} ALONG AND {} ACROSS THE RIBS FROM THE FACE'S ORIGIN", whole(s), whole(t)),
        format!("NEAREST CREST LINE {} ACROSS FROM THE MIDDLE", whole(crest)),
        "SEEN FROM OUTSIDE, LAID SQUARE TO THE FACE OVER THE RIBS".to_owned(),
    ];
    let title = format!("{}, {id}, seen from outside, along the ribs to the right", work.sculpture.name);
    let ring = hole.slant.hole(POINTS);
    let mut drawing = around(&name, title, &[ring], hole.toward, ["ALONG", "ACROSS"], &words)?;
    if face.profile.depth() > 0.0
        && let Some([low, high]) = drawing.bounds()
        && crest > low[1]
        && crest < high[1]
    {
        drawing.paths.push(Path::open(Layer::Mark, vec![[low[0], crest], [high[0], crest]]));
        drawing.labels.push(label([high[0] - 4.0 * LETTERS, crest + LETTERS], LETTERS, "CREST"));
    }
    Ok(PaperTemplate { id, stem: name, drawing })
}

/// A whole number without a minus before nothing.
fn whole(x: f64) -> String {
    format!("{:.0}", x.round() + 0.0)
}

/// From a place across the ribs to the nearest crest line, mm.
fn to_crest(phase: f64, pitch: f64, t: f64) -> f64 {
    let off = (phase - t).rem_euclid(pitch);
    if off > pitch / 2.0 { off - pitch } else { off }
}

/// The first outline as a cut and the others as marks, turned, with axes and writing below.
fn around(
    name: &str,
    title: String,
    rings: &[Vec<[f64; 2]>],
    toward: f64,
    axes: [&str; 2],
    words: &[String],
) -> Result<Drawing> {
    let mut drawing = Drawing { name: name.to_owned(), title, ..Drawing::default() };
    let (sin, cos) = toward.sin_cos();
    for (k, ring) in rings.iter().enumerate() {
        let layer = if k == 0 { Layer::Cut } else { Layer::Mark };
        let turned = ring.iter().map(|[x, y]| [x * cos - y * sin, x * sin + y * cos]).collect();
        drawing.paths.push(Path::closed(layer, turned));
    }
    let [low, high] = drawing.bounds().unwrap_or_default();
    let (left, right) = (low[0] - OUT, high[0] + OUT);
    let (bottom, top) = (low[1] - OUT, high[1] + OUT);
    drawing.paths.push(Path::open(Layer::Mark, vec![[left, 0.0], [right, 0.0]]));
    drawing.paths.push(Path::open(Layer::Mark, vec![[0.0, bottom], [0.0, top]]));
    for (tip, back) in [([right, 0.0], [-1.0, 0.0]), ([0.0, top], [0.0, -1.0])] {
        let wing = |side: f64| {
            let [x, y]: [f64; 2] = back;
            [tip[0] + LETTERS * (x - side * y * 0.4), tip[1] + LETTERS * (y + side * x * 0.4)]
        };
        drawing.paths.push(Path::open(Layer::Mark, vec![wing(1.0), tip, wing(-1.0)]));
    }
    drawing.labels.push(label(
        [right + lettering::width(axes[0], LETTERS) / 2.0 + 3.0, 0.0],
        LETTERS,
        axes[0],
    ));
    drawing.labels.push(label([0.0, top + LETTERS], LETTERS, axes[1]));
    // The way it leans, as a short line from the outline outward.
    let reach = rings.first().into_iter().flatten().map(|p| p[0]).fold(0.0, f64::max);
    let ray = |r: f64| [r * cos, r * sin];
    drawing.paths.push(Path::open(Layer::Mark, vec![ray(reach), ray(reach + OUT * 0.7)]));
    for (k, text) in words.iter().enumerate() {
        #[allow(clippy::cast_precision_loss, reason = "four lines")]
        let y = bottom - (k as f64 + 1.0) * LETTERS * 1.8;
        drawing.labels.push(Label {
            at: [left, y],
            height: LETTERS,
            angle: 0.0,
            centred: false,
            text: text.clone(),
        });
    }
    drawing.validate()?;
    Ok(drawing)
}
