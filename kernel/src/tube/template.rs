//! Wrap-round templates: paper or card laid round a tube, its upper edge the line of the cut. Full size.
//!
//! x runs round the tube, y along it towards the end that is cut. The paper's middle lies on a circle of the
//! tube's diameter and the paper's thickness, so the girth is π(D + paper) (common practice, no source). The left
//! and right edges meet at the seam, on the line where the angle is 0. Quarter lines stand at 0, 90, 180 and 270
//! degrees; the witness line runs square round the tube at a named distance from where the axis meets the cut,
//! so that the template can be set, and checked when the edge is burnt away.

use super::Tube;
use super::mitre::{Leg, ordinate};
use super::saddle::Saddle;
use crate::drawing::{Drawing, Label, Layer, Path};
use crate::error::{Error, Result};
use crate::lettering;
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// What a template is drawn with.
#[derive(Debug, Clone, PartialEq)]
pub struct Wrap {
    /// File stem of the drawing.
    pub name: String,
    /// What is written large: the piece and its end.
    pub title: String,
    /// Thickness of the paper, mm.
    pub paper: f64,
    /// Points of the cut line all round; at least 16.
    pub points: u32,
    /// Paper below the lowest point of the cut, mm.
    pub skirt: f64,
}

/// Least paper below the cut that holds the writing, mm.
pub const LEAST_SKIRT: f64 = 20.0;
/// Greatest height of the name, mm.
const TALLEST: f64 = 12.0;
/// Least height of letters that can be read, mm; smaller writing is left out.
const LEAST: f64 = 2.0;
/// Height of notes beside the lines, mm.
const NOTE: f64 = 4.0;
/// The witness line lies this share of the skirt above the lower edge.
const WITNESS: f64 = 0.75;

/// Line of the cut over the angle round the tube: mm along the tube towards the cut end, from where the axis
/// meets the cut.
type Height<'a> = &'a dyn Fn(f64) -> f64;

/// Template of one end of a mitred leg: angle 0 is its shortest line, unless the cut is square.
///
/// The first end is drawn as seen when the leg is turned over, the cut always up: angles run left to right
/// as seen from outside, so they are left-handed about the direction towards the cut.
/// A line marked `LEG` is the leg's [`Leg::reference`], on which both of its templates are set.
///
/// # Errors
/// A thickness of paper below 0, a skirt below [`LEAST_SKIRT`], fewer than 16 points.
pub fn mitre(leg: &Leg, end: usize, tube: &Tube, wrap: &Wrap) -> Result<Drawing> {
    let towards = if end == 0 { -leg.direction.into_inner() } else { leg.direction.into_inner() };
    let end = &leg.ends[end.min(1)];
    let reference = leg.reference();
    let long = end.long.unwrap_or(reference);
    // Seen from outside with the cut up, angles grow to the right: against the right hand about `towards`.
    let sine = towards.dot(&long.cross(&reference));
    let line = (PI - sine.atan2(long.dot(&reference))).rem_euclid(TAU);
    let middle = tube.outside() / 2.0 * end.cut.tan();
    let height = |th: f64| ordinate(tube.outside(), 2.0 * end.cut, th) - middle;
    let note = format!("MITRE {:.1}° FROM SQUARE, TUBE {}", end.cut.to_degrees(), tube.words());
    draw(tube.outside(), &height, &[(line, "LEG".to_owned())], &note, wrap)
}

/// Template of a branch's end on its header: angle 0 is the crotch line. Heights count from the end of the
/// crotch line; `branch` is the tube the paper is laid round, whichever of its radii meets the header.
///
/// # Errors
/// As [`mitre`].
pub fn saddle(saddle: &Saddle, branch: &Tube, wrap: &Wrap) -> Result<Drawing> {
    let note = format!("SADDLE, TUBE {}", branch.words());
    draw(branch.outside(), &|th| saddle.cut(th), &[(PI, "HEEL".to_owned())], &note, wrap)
}

fn draw(diameter: f64, height: Height, extra: &[(f64, String)], note: &str, wrap: &Wrap) -> Result<Drawing> {
    check(wrap)?;
    let girth = PI * (diameter + wrap.paper);
    let across = |th: f64| girth * th / TAU;
    let line: Vec<[f64; 2]> = (0..=wrap.points)
        .map(|k| TAU * f64::from(k) / f64::from(wrap.points))
        .map(|th| [across(th), height(th)])
        .collect();
    let lowest = line.iter().map(|q| q[1]).fold(f64::INFINITY, f64::min);
    let foot = lowest - wrap.skirt;
    let witness = foot + wrap.skirt * WITNESS;

    let mut outline = vec![[0.0, foot], [girth, foot]];
    outline.extend(line.iter().rev());
    let mut drawing = Drawing { name: wrap.name.clone(), title: wrap.title.clone(), ..Drawing::default() };
    drawing.paths.push(Path::closed(Layer::Cut, outline));
    drawing.paths.push(Path::open(Layer::Mark, vec![[0.0, witness], [girth, witness]]));
    let mut upright = |th: f64, words: &str| {
        let x = across(th);
        drawing.paths.push(Path::open(Layer::Mark, vec![[x, foot], [x, height(th)]]));
        label(&mut drawing, [x + NOTE / 2.0, foot + NOTE / 2.0], NOTE, girth / 4.0 - NOTE, words);
    };
    for (k, words) in ["0 SEAM", "90", "180", "270"].into_iter().enumerate() {
        let th = [0.0, FRAC_PI_2, PI, 3.0 * FRAC_PI_2][k];
        upright(th, words);
    }
    for (th, words) in extra {
        let x = across(*th);
        drawing.paths.push(Path::open(Layer::Mark, vec![[x, foot], [x, height(*th)]]));
        label(&mut drawing, [x + NOTE / 2.0, foot + 2.0 * NOTE], NOTE, girth / 4.0 - NOTE, words);
    }
    // Name in the first quarter, so that no line runs through it, notes in the second half; both between the lower notes
    // and the witness line.
    let room = witness - foot - 4.0 * NOTE;
    let half = girth / 2.0 - 2.0 * NOTE;
    label(&mut drawing, [NOTE, foot + 3.5 * NOTE], TALLEST.min(room), half / 2.0 - NOTE, &wrap.title);
    label(&mut drawing, [girth / 2.0 + NOTE, foot + 3.5 * NOTE], NOTE.min(room), half, note);
    let words = format!("WITNESS LINE {:.1} BELOW THE AXIS POINT", -witness);
    label(&mut drawing, [girth / 2.0 + NOTE, witness + 1.0], NOTE * 0.75, half / 2.0, &words);
    drawing.validate()?;
    Ok(drawing)
}

fn check(wrap: &Wrap) -> Result<()> {
    let refuse = |message: String, remedy: String| Err(Error::input(message).at("template").remedy(remedy));
    if !(wrap.paper >= 0.0 && wrap.paper.is_finite()) {
        return refuse(format!("paper {} mm thick", wrap.paper), "give a thickness of at least 0".to_owned());
    }
    if !(wrap.skirt >= LEAST_SKIRT && wrap.skirt.is_finite()) {
        return refuse(
            format!("a skirt of {} mm holds no writing", wrap.skirt),
            format!("give at least {LEAST_SKIRT} mm"),
        );
    }
    if wrap.points < 16 {
        return refuse(format!("{} points make no curve", wrap.points), "give at least 16".to_owned());
    }
    Ok(())
}

/// A label no taller than `height` and no wider than `room`, left out where letters would be too small to read.
fn label(drawing: &mut Drawing, at: [f64; 2], height: f64, room: f64, words: &str) {
    let wide = lettering::width(words, 1.0);
    let height = if wide > 0.0 { height.min(room / wide) } else { 0.0 };
    if height >= LEAST {
        drawing.labels.push(Label { at, height, angle: 0.0, centred: false, text: words.to_owned() });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::signed_area;
    use crate::tube::mitre::legs;
    use nalgebra::{Point3, Vector3};

    fn wrap() -> Wrap {
        Wrap { name: "leg-1".into(), title: "LEG 1 UPPER END".into(), paper: 0.3, points: 720, skirt: 60.0 }
    }

    fn two() -> (Vec<Leg>, Tube) {
        let tube = Tube::new(114.3, 5.0).expect("possible");
        let points = [(0.0, 0.0, 0.0), (0.0, 0.0, 900.0), (500.0, 0.0, 1400.0), (700.0, 400.0, 2100.0)]
            .map(|(x, y, z)| Point3::new(x, y, z));
        (legs(&points, &tube, [None, None]).expect("possible"), tube)
    }

    #[test]
    fn a_template_goes_once_round_and_has_the_area_of_its_mean_height() {
        let (legs, tube) = two();
        let drawing = mitre(&legs[0], 1, &tube, &wrap()).expect("drawn");
        let [lo, hi] = drawing.bounds().expect("lines");
        let girth = PI * (114.3 + 0.3);
        assert!((hi[0] - lo[0] - girth).abs() < 1e-9, "girth");
        // Cut-back D tan(T/2) with T = 45 degrees, above the skirt.
        let back = 114.3 * (PI / 8.0).tan();
        assert!((hi[1] - lo[1] - back - 60.0).abs() < 1e-9, "height");
        let cut = drawing.on(Layer::Cut).next().expect("an outline");
        let area = signed_area(&[cut.points.clone(), vec![cut.points[0]]].concat());
        assert!((area - girth * (60.0 + back / 2.0)).abs() < 1e-6, "area {area}");
    }

    /// Second method: a point of the template, wrapped back round the tube, lies on the plane of the cut.
    #[test]
    fn wrapped_back_round_the_tube_the_edge_lies_in_the_plane_of_the_cut() {
        let (legs, tube) = two();
        let bare = Wrap { paper: 0.0, ..wrap() };
        for (k, leg) in legs.iter().enumerate() {
            for (end, towards) in [(0, -leg.direction.into_inner()), (1, leg.direction.into_inner())] {
                let neighbour = if end == 0 { k.checked_sub(1).map(|i| &legs[i]) } else { legs.get(k + 1) };
                let Some(neighbour) = neighbour else { continue };
                let normal = leg.direction.into_inner() + neighbour.direction.into_inner();
                let drawing = mitre(leg, end, &tube, &bare).expect("drawn");
                let leg_line = &drawing.on(Layer::Mark).last().expect("the leg's line").points;
                let cut = drawing.on(Layer::Cut).next().expect("an outline");
                let girth = PI * tube.outside();
                // The reference line tells where the template lies round the tube.
                let start = TAU * leg_line[0][0] / girth;
                let reference = leg.reference().into_inner();
                let right = reference.cross(&towards);
                for q in cut.points.iter().skip(2) {
                    let th = TAU * q[0] / girth - start;
                    let side: Vector3<f64> = reference * th.cos() + right * th.sin();
                    let point = side * tube.outside() / 2.0 + towards * q[1];
                    assert!((point.dot(&normal)).abs() < 1e-9, "leg {k} end {end}: {}", point.dot(&normal));
                }
            }
        }
    }

    #[test]
    fn templates_carry_seam_quarters_witness_and_name() {
        let (legs, tube) = two();
        let header = Tube::new(219.1, 6.3).expect("possible");
        let joint = Saddle::of(&header, &tube, super::super::saddle::Seat::Inside, 1.0).expect("possible");
        for drawing in [
            mitre(&legs[1], 0, &tube, &wrap()).expect("drawn"),
            saddle(&joint, &tube, &wrap()).expect("drawn"),
        ] {
            let has = |words: &str| drawing.labels.iter().any(|l| l.text.contains(words));
            for words in ["0 SEAM", "90", "180", "270", "WITNESS LINE", "LEG 1 UPPER END", "114.3 × 5"] {
                assert!(has(words), "{words} is missing");
            }
            // Witness line, four quarters, one more.
            assert_eq!(drawing.on(Layer::Mark).count(), 6);
            let [lo, hi] = drawing.bounds().expect("lines");
            for l in &drawing.labels {
                let right = l.at[0] + lettering::width(&l.text, l.height);
                assert!(l.at[0] >= lo[0] && right <= hi[0] + 1e-9, "{:?} leaves the paper", l.text);
                assert!(l.at[1] >= lo[1] && l.at[1] + l.height <= hi[1], "{:?} leaves the paper", l.text);
            }
        }
    }

    #[test]
    fn a_thin_tube_gets_smaller_letters_and_impossible_paper_is_refused() {
        let tube = Tube::new(17.2, 1.6).expect("possible");
        let points = [(0.0, 0.0), (0.0, 300.0), (100.0, 500.0)].map(|(x, z)| Point3::new(x, 0.0, z));
        let legs = legs(&points, &tube, [None, None]).expect("possible");
        let drawing = mitre(&legs[0], 1, &tube, &wrap()).expect("drawn");
        let [lo, hi] = drawing.bounds().expect("lines");
        for l in &drawing.labels {
            assert!(
                l.height >= LEAST
                    && l.at[0] + lettering::width(&l.text, l.height) <= hi[0]
                    && l.at[0] >= lo[0]
            );
        }
        for bad in [
            Wrap { paper: -0.1, ..wrap() },
            Wrap { skirt: 5.0, ..wrap() },
            Wrap { points: 8, ..wrap() },
            Wrap { paper: f64::NAN, ..wrap() },
        ] {
            assert!(mitre(&legs[0], 1, &tube, &bad).is_err());
        }
    }
}
