//! Seams seen edge-on: how the two sheets meet, at the narrowest and at the widest angle of each seam.
//!
//! A picture is the section of the finished parts, square to one straight piece of the seam: what is drawn is
//! what will be cut. Where a bevel is asked for, the parts' outlines are those of the skins that meet, and the
//! bevelled ends are drawn on the line that halves the angle. All pictures of a work share one scale.
//!
//! Square cuts, with θ the angle inside the body and thicknesses s and s': a sheet ends
//! |s' + s·cos θ| / (2·sin θ) short of the line in which the middle skins meet; the inside edges touch below
//! 180 degrees, the outside ones above, and the end faces open by |180° − θ|.

use crate::clash::Sliced;
use crate::drawing::{Drawing, Label, Layer, Path};
use crate::joint::Joined;
use crate::part::Part;
use crate::polygon::hull;
use crate::region::{Combine, Outline, Region};
use crate::sculpture::{Joint, Meet};
use crate::seam::{Seam, SeamSegment, Side};
use crate::template::room::Words;
use crate::work::Work;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Radius of a picture, in thicknesses of the thickest sheet.
const RADIUS: f64 = 5.0;
/// Width and height of the cell of one picture, in radii: the longest line below it fits.
const CELL: [f64; 2] = [2.75, 2.88];
/// Pictures side by side, and rows, on one drawing: they fill a page of A4. The first stands below a heading.
const COLUMNS: usize = 4;
const ROWS: usize = 5;
const FIRST_ROWS: usize = 4;
/// Height of letters, in radii: 2.4 mm, 9.5 points, where four pictures are as wide as a page of the job book.
const LETTERS: f64 = 1.0 / 6.8;
/// How far a picture reaches beyond its middle on the side to which the sheets do not run, in radii.
const BACK: f64 = 0.42;
/// Distance of lines of writing, in heights of letters.
const LINE: f64 = 1.75;
/// Angles of one seam closer than this are shown once, degrees.
const SAME_ANGLE: f64 = 1.0;
/// Pieces of a seam shorter than this, in thicknesses, are shown only where there is nothing longer.
const SHORT: f64 = 4.0;
/// Lines of the hatching are this far apart, in radii.
const HATCH: f64 = 0.11;
/// Corners of the round border of a picture.
const BORDER: u32 = 48;
/// Pieces of a section are grown by this so that they join, mm: a tenth of the finest line.
const HAIR: f64 = 1.0e-2;
/// Sines below this are those of sheets that run on flat.
const FLAT: f64 = 1.0e-6;

/// One picture: a seam and the piece of it that is cut.
struct Shown<'a> {
    seam: &'a Seam,
    at: &'a SeamSegment,
    /// `narrowest`, `widest`, or nothing where the seam is the same everywhere.
    which: &'static str,
}

/// The drawings of all seams, some on each.
pub(super) fn drawings(work: &Work) -> Vec<Drawing> {
    let shown: Vec<Vec<Shown<'_>>> = work.seams.iter().map(places).filter(|p| !p.is_empty()).collect();
    let thickest = shown.iter().flatten().flat_map(|s| s.at.thickness).fold(0.0, f64::max);
    if thickest <= 0.0 {
        return Vec::new();
    }
    let mut parts: BTreeMap<&str, Vec<&Part>> = BTreeMap::new();
    for part in &work.parts {
        parts.entry(part.face.as_str()).or_default().push(part);
    }
    let sliced: BTreeMap<&str, Vec<Sliced>> =
        parts.into_par_iter().map(|(face, of)| (face, of.into_iter().map(Sliced::new).collect())).collect();
    let radius = RADIUS * thickest;
    let sheets = sheets(&shown);
    let count = sheets.len();
    sheets
        .into_par_iter()
        .enumerate()
        .map(|(i, cells)| {
            let mut drawing = Drawing {
                name: format!("seams-{}", i + 1),
                title: format!("Seams edge-on {} of {count}, outside up", i + 1),
                ..Drawing::default()
            };
            // Pictures of one seam beside each other bear its name once, in the middle above them.
            for run in cells.chunk_by(|(a, [_, above]), (b, [_, row])| a.seam.id == b.seam.id && above == row)
            {
                for (k, (shown, [column, row])) in run.iter().enumerate() {
                    #[allow(clippy::cast_precision_loss, reason = "few cells")]
                    let corner = [*column as f64 * CELL[0] * radius, -(*row as f64) * CELL[1] * radius];
                    let mut cell = Cell { drawing: &mut drawing, corner, radius, letters: radius * LETTERS };
                    if k == 0 {
                        cell.name(&shown.seam.id, run.len());
                    }
                    cell.draw(work, shown, &sliced);
                }
            }
            #[allow(clippy::cast_precision_loss, reason = "four")]
            let middle = COLUMNS as f64 / 2.0 * CELL[0] * radius;
            let note =
                Words::new("Sections of the finished parts: outside is up, the sheet named first left");
            drawing.labels.push(note.label([middle, radius * LETTERS], radius * LETTERS, 0.0));
            drawing
        })
        .collect()
}

/// Which pictures go where: those of one seam stay in one row, if it holds them.
fn sheets<'a>(shown: &'a [Vec<Shown<'a>>]) -> Vec<Vec<(&'a Shown<'a>, [usize; 2])>> {
    let mut sheets: Vec<Vec<(&Shown<'_>, [usize; 2])>> = vec![Vec::new()];
    let (mut column, mut row) = (0, 0);
    for pictures in shown {
        if column > 0 && column + pictures.len() > COLUMNS {
            (column, row) = (0, row + 1);
        }
        for picture in pictures {
            if column == COLUMNS {
                (column, row) = (0, row + 1);
            }
            if row == if sheets.len() == 1 { FIRST_ROWS } else { ROWS } {
                row = 0;
                sheets.push(Vec::new());
            }
            if let Some(sheet) = sheets.last_mut() {
                sheet.push((picture, [column, row]));
            }
            column += 1;
        }
    }
    sheets
}

/// Where a seam is shown: where sheet meets sheet at the narrowest and at the widest, and where each sheet
/// stands sharpest to a closure strip.
fn places(seam: &Seam) -> Vec<Shown<'_>> {
    let between = |closure: Option<Side>| {
        let mine = move |s: &&SeamSegment| match closure {
            None => !s.sides.contains(&Side::Closure),
            Some(side) => s.sides.contains(&Side::Closure) && s.sides.contains(&side),
        };
        let all = || seam.segments.iter().filter(mine);
        let longest = all().map(SeamSegment::length).fold(0.0, f64::max);
        let least = |s: &SeamSegment| (SHORT * s.thickness[0].max(s.thickness[1])).min(longest / 2.0);
        all().filter(|s| s.length() > least(s)).collect::<Vec<&SeamSegment>>()
    };
    let mut shown = Vec::new();
    let sheets = between(None);
    let by_angle = |a: &&&SeamSegment, b: &&&SeamSegment| a.angle.total_cmp(&b.angle);
    if let (Some(&low), Some(&high)) = (sheets.iter().min_by(by_angle), sheets.iter().max_by(by_angle)) {
        if high.angle - low.angle > SAME_ANGLE {
            shown.push(Shown { seam, at: low, which: "narrowest" });
            shown.push(Shown { seam, at: high, which: "widest" });
        } else {
            shown.push(Shown { seam, at: low, which: "" });
        }
    }
    for face in seam.between {
        let off = |s: &&SeamSegment| (s.angle - 180.0).abs();
        if let Some(at) = between(Some(Side::Face(face))).into_iter().max_by(|a, b| off(a).total_cmp(&off(b)))
        {
            shown.push(Shown { seam, at, which: "closure" });
        }
    }
    shown
}

/// Two directions and two normals in the picture: the sheets run down to the left and to the right, their
/// outside up.
struct Meeting {
    along: [[f64; 2]; 2],
    normals: [[f64; 2]; 2],
    thickness: [f64; 2],
    /// Inside the body, radians.
    angle: f64,
}

impl Meeting {
    fn of(segment: &SeamSegment) -> Self {
        let angle = segment.angle.to_radians();
        let (sin, cos) = (angle / 2.0).sin_cos();
        Self {
            along: [[-sin, -cos], [sin, -cos]],
            normals: [[-cos, sin], [cos, sin]],
            thickness: segment.thickness,
            angle,
        }
    }

    /// How far along its middle skin each sheet is from where the skins at this share of half the thickness
    /// meet (1 is outside, -1 inside), mm.
    fn reach(&self, skin: f64) -> [f64; 2] {
        let (sin, cos) = self.angle.sin_cos();
        let [a, b] = self.thickness.map(|t| skin * t / 2.0);
        if sin.abs() < FLAT { [0.0; 2] } else { [-(b + a * cos) / sin, -(a + b * cos) / sin] }
    }

    /// How much shorter than their middle skins square cuts make the sheets, mm.
    fn cut_back(&self) -> [f64; 2] {
        self.reach(1.0).map(f64::abs)
    }

    /// The sheets with ends on the line that halves the angle where the skins meet.
    fn bevelled(&self, skin: f64, radius: f64) -> [Vec<[f64; 2]>; 2] {
        let reach = self.reach(skin);
        let middle = reach[0] * self.along[0][0] + skin * self.thickness[0] / 2.0 * self.normals[0][0];
        [0, 1].map(|i| {
            let (d, n, half) = (self.along[i], self.normals[i], self.thickness[i] / 2.0);
            let end = |h: f64| if d[0].abs() < FLAT { 0.0 } else { (middle - h * n[0]) / d[0] };
            let point = |a: f64, h: f64| [a * d[0] + h * n[0], a * d[1] + h * n[1]];
            let far = 2.0 * radius;
            vec![point(end(-half), -half), point(far, -half), point(far, half), point(end(half), half)]
        })
    }

    /// What the picture says under it.
    fn words(&self, shown: &Shown<'_>, joint: &Joint) -> Vec<String> {
        let degrees = self.angle.to_degrees();
        let [a, b] = self.thickness;
        let which = if shown.which.is_empty() { String::new() } else { format!("{}: ", shown.which) };
        let off = (180.0 - degrees).abs();
        let sheets = if a == b { format!("{a} mm") } else { format!("{a} + {b} mm") };
        let first = format!("{which}{degrees:.1}° inside");
        if shown.which == "closure" {
            return vec![first, "sheet left, strip right".to_owned(), sheets];
        }
        if shown.seam.joint == Joined::Lap {
            return vec![first, "lap: one runs past".to_owned(), sheets];
        }
        if joint.bevel {
            let skin = match joint.meet {
                Meet::Inside => "inside",
                Meet::Middle => "middle",
                Meet::Outside => "outside",
            };
            return vec![
                first,
                format!("{skin} skins meet"),
                format!("bevel {:.1}° off square", off / 2.0),
                sheets,
            ];
        }
        let [x, y] = self.cut_back();
        let touch = if degrees < 180.0 { "inside" } else { "outside" };
        vec![
            first,
            format!("{touch} touches"),
            format!("groove {off:.0}°, {sheets}"),
            format!("cut back {x:.1} and {y:.1}"),
        ]
    }
}

/// The cell of one picture; `corner` is its upper left one.
struct Cell<'a> {
    drawing: &'a mut Drawing,
    corner: [f64; 2],
    radius: f64,
    letters: f64,
}

impl Cell<'_> {
    fn draw(&mut self, work: &Work, shown: &Shown<'_>, sliced: &BTreeMap<&str, Vec<Sliced>>) {
        let [a, b] = shown.seam.between.map(|f| work.faces[f].id.as_str());
        let joint = work.sculpture.joint_between(a, b);
        let meeting = Meeting::of(shown.at);
        let r = self.radius;
        // Sheets run down from a ridge and up from a hollow: the other half of the picture would be empty.
        let above = if shown.at.angle < 180.0 { BACK } else { 1.0 };
        let centre = [self.corner[0] + CELL[0] * r / 2.0, self.corner[1] - r * (above + 0.28)];
        let bevelled = joint.bevel && shown.which != "closure" && shown.seam.joint != Joined::Lap;
        let sheets = if bevelled {
            let skin = match joint.meet {
                Meet::Inside => -1.0,
                Meet::Middle => 0.0,
                Meet::Outside => 1.0,
            };
            meeting.bevelled(skin, r).map(|points| vec![points])
        } else {
            let axes = axes(shown.at);
            let at = nalgebra::center(&shown.at.ends[0], &shown.at.ends[1]);
            shown.at.sides.map(|side| {
                let face = match side {
                    Side::Face(f) => work.faces[f].id.as_str(),
                    Side::Closure => shown.seam.id.as_str(),
                };
                section(sliced.get(face).map_or(&[], Vec::as_slice), &at, axes, 2.0 * r)
            })
        };
        // A strip too small to cut is left out of the parts, and a sheet may end sooner for what is beside it.
        let near = |pieces: &Vec<Vec<[f64; 2]>>| {
            let reach = shown.at.thickness[0].max(shown.at.thickness[1]);
            let [x, y] = meeting.cut_back();
            pieces.iter().flatten().any(|p| p[0].hypot(p[1]) < 2.0 * reach + x.max(y))
        };
        let apart = !sheets.iter().all(near);
        for (i, pieces) in sheets.into_iter().enumerate() {
            self.sheet(pieces, centre, [i == 0, shown.at.angle < 180.0]);
        }
        self.lines_to_edge(&meeting, centre);
        let x = centre[0];
        let below = self.corner[1] - r * (1.0 + BACK + 0.28);
        let mut words = meeting.words(shown, joint);
        if apart && shown.which == "closure" {
            words = vec![words.swap_remove(0), "no strip here:".to_owned(), "fill with weld".to_owned()];
        } else if apart && let Some(last) = words.last_mut() {
            "a gap: ends sooner here".clone_into(last);
        }
        for (i, text) in (0_u32..).zip(words) {
            self.write(&text, [x, below - self.letters * (LINE * f64::from(i) + 1.2)], 1);
        }
    }

    /// The name of the seam above this picture and those right of it, so many in all.
    fn name(&mut self, text: &str, cells: usize) {
        #[allow(clippy::cast_precision_loss, reason = "four at most")]
        let middle = self.corner[0] + CELL[0] * self.radius / 2.0 * cells as f64;
        self.write(text, [middle, self.corner[1] - self.letters * 1.2], cells);
    }

    /// Writes centred in the width of so many cells, smaller where they are too narrow.
    fn write(&mut self, text: &str, at: [f64; 2], cells: usize) {
        let words = Words::new(text);
        #[allow(clippy::cast_precision_loss, reason = "four at most")]
        let room = CELL[0] * self.radius * cells as f64 - 0.8 * self.letters;
        let height = self.letters.min(room / words.width().max(f64::MIN_POSITIVE));
        self.drawing.labels.push(Label { ..words.label(at, height, 0.0) });
    }

    /// The pieces of one sheet's section, joined, cut by the round border, and hatched.
    fn sheet(&mut self, pieces: Vec<Vec<[f64; 2]>>, centre: [f64; 2], [left, ridge]: [bool; 2]) {
        let region = Region { outlines: pieces.into_iter().map(|p| Outline::tagged(p, Some(0))).collect() };
        let border = (0..BORDER).map(|k| {
            let (sin, cos) = (f64::from(k) / f64::from(BORDER) * std::f64::consts::TAU).sin_cos();
            // Only the side to which the sheets run has room on the page.
            let up = if ridge { sin.min(BACK) } else { sin.max(-BACK) };
            [cos * self.radius, up * self.radius]
        });
        let window = Region { outlines: vec![Outline::tagged(border.collect(), None)] };
        let region = region.combine(Combine::Union, &Region::default()).combine(Combine::Intersect, &window);
        let moved = |p: [f64; 2]| [p[0] + centre[0], p[1] + centre[1]];
        for outline in &region.outlines {
            self.border(outline, &moved);
        }
        // Square lines one way in the left sheet, the other way in the right one.
        let half = std::f64::consts::FRAC_1_SQRT_2;
        let (d, n) = if left { ([half, half], [-half, half]) } else { ([half, -half], [half, half]) };
        let step = HATCH * self.radius;
        #[allow(clippy::cast_possible_truncation, reason = "a few lines")]
        let count = (self.radius / step).ceil() as i32;
        for k in -count..=count {
            let off = (f64::from(k) + 0.5) * step;
            let mut hits: Vec<f64> = Vec::new();
            for outline in &region.outlines {
                for (i, a) in outline.points.iter().enumerate() {
                    let b = outline.points[(i + 1) % outline.points.len()];
                    let side = |p: &[f64; 2]| p[0] * n[0] + p[1] * n[1] - off;
                    let (sa, sb) = (side(a), side(&b));
                    if (sa <= 0.0) != (sb <= 0.0) {
                        let share = sa / (sa - sb);
                        hits.push((0..2).map(|j| (a[j] + (b[j] - a[j]) * share) * d[j]).sum());
                    }
                }
            }
            hits.sort_by(f64::total_cmp);
            for pair in hits.chunks_exact(2) {
                let at = |w: f64| moved([d[0] * w + n[0] * off, d[1] * w + n[1] * off]);
                self.drawing.paths.push(Path::open(Layer::Fold, vec![at(pair[0]), at(pair[1])]));
            }
        }
    }

    /// The outline without what the border of the picture cut.
    fn border(&mut self, outline: &Outline, moved: &dyn Fn([f64; 2]) -> [f64; 2]) {
        let count = outline.points.len();
        let Some(start) = (0..count).find(|&i| outline.tags[i].is_none()) else {
            let points = outline.points.iter().map(|p| moved(*p)).collect();
            self.drawing.paths.push(Path::closed(Layer::Seam, points));
            return;
        };
        let mut line: Vec<[f64; 2]> = Vec::new();
        for k in 1..=count {
            let i = (start + k) % count;
            if outline.tags[i].is_some() {
                if line.is_empty() {
                    line.push(moved(outline.points[i]));
                }
                line.push(moved(outline.points[(i + 1) % count]));
            } else if !line.is_empty() {
                self.drawing.paths.push(Path::open(Layer::Seam, std::mem::take(&mut line)));
            }
        }
    }

    /// The middle skins up to the line in which they meet, and the angle between them.
    fn lines_to_edge(&mut self, meeting: &Meeting, centre: [f64; 2]) {
        let point = |d: [f64; 2], by: f64| [centre[0] + d[0] * by, centre[1] + d[1] * by];
        for d in meeting.along {
            self.drawing.paths.push(Path::open(Layer::Helper, vec![centre, point(d, self.radius * 0.99)]));
        }
        const CHORDS: u32 = 24;
        let arc = (0..=CHORDS).map(|k| {
            let (sin, cos) = ((f64::from(k) / f64::from(CHORDS) - 0.5) * meeting.angle).sin_cos();
            point(
                [sin, -cos],
                self.radius * if meeting.angle < std::f64::consts::PI { 0.8 } else { BACK * 0.8 },
            )
        });
        self.drawing.paths.push(Path::open(Layer::Mark, arc.collect()));
    }
}

/// Right and up of the picture of a piece of seam: the outside up, the first side left.
fn axes(segment: &SeamSegment) -> [Vector3<f64>; 2] {
    let forward = (segment.ends[1] - segment.ends[0]).normalize();
    let [m, n] = segment.normals;
    // The first side lies left of the piece of seam, the second right.
    let left = m.cross(&forward) + n.cross(&forward);
    let right = -(left - forward * left.dot(&forward)).normalize();
    let up = right.cross(&forward);
    [right, up]
}

/// What a plane cuts out of some parts, as convex outlines.
fn section(parts: &[Sliced], at: &Point3<f64>, axes: [Vector3<f64>; 2], reach: f64) -> Vec<Vec<[f64; 2]>> {
    parts
        .iter()
        .flat_map(|p| p.cut_by(at, axes, reach))
        .map(|corners| {
            let corners = hull(corners);
            #[allow(clippy::cast_precision_loss, reason = "few corners")]
            let count = corners.len() as f64;
            let middle = corners.iter().fold([0.0; 2], |m, p| [m[0] + p[0] / count, m[1] + p[1] / count]);
            let grown = |p: [f64; 2]| {
                let d = [p[0] - middle[0], p[1] - middle[1]];
                let by = 1.0 + HAIR / d[0].hypot(d[1]).max(HAIR);
                [middle[0] + d[0] * by, middle[1] + d[1] * by]
            };
            corners.into_iter().map(grown).collect::<Vec<_>>()
        })
        .filter(|c| c.len() > 2)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn meeting(angle: f64, thickness: [f64; 2]) -> Meeting {
        let (ends, sides) = ([Point3::origin(), Point3::new(0.0, 1.0, 0.0)], [Side::Face(0), Side::Face(1)]);
        Meeting::of(&SeamSegment { ends, sides, normals: [Vector3::z(); 2], angle, thickness })
    }

    #[track_caller]
    fn near(found: [f64; 2], wanted: [f64; 2]) {
        assert!((0..2).all(|i| (found[i] - wanted[i]).abs() < 1.0e-9), "{found:?} is not {wanted:?}");
    }

    /// Closed forms: half the thickness times the cotangent of half the angle; at a right angle each sheet ends
    /// where the other's inside lies.
    #[test]
    fn square_cuts_end_where_inside_or_outside_edges_touch() {
        let root = 3.0_f64.sqrt();
        near(meeting(60.0, [2.0, 2.0]).cut_back(), [root, root]);
        near(meeting(300.0, [2.0, 2.0]).cut_back(), [root, root]);
        near(meeting(120.0, [3.0, 3.0]).cut_back(), [root / 2.0; 2]);
        near(meeting(90.0, [2.0, 6.0]).cut_back(), [3.0, 1.0]);
        near(meeting(180.0, [2.0, 2.0]).cut_back(), [0.0, 0.0]);
    }

    #[test]
    fn bevelled_ends_of_both_sheets_lie_on_one_line() {
        for angle in [50.0, 90.0, 140.0, 230.0] {
            for skin in [-1.0, 0.0, 1.0] {
                let [a, b] = meeting(angle, [2.0, 2.0]).bevelled(skin, 10.0);
                for i in [0, 3] {
                    near(a[i], b[i]);
                    assert!(a[i][0].abs() < 1.0e-9, "on the line that halves the angle");
                }
            }
        }
    }

    #[test]
    fn a_piece_of_seam_is_seen_with_its_outside_up_and_its_first_side_left() {
        // A ridge along y: the first sheet falls to -x, the second to +x.
        let half = std::f64::consts::FRAC_1_SQRT_2;
        let normals = [Vector3::new(-half, 0.0, half), Vector3::new(half, 0.0, half)];
        let mut ridge = SeamSegment {
            ends: [Point3::origin(), Point3::new(0.0, 5.0, 0.0)],
            sides: [Side::Face(0), Side::Face(1)],
            normals,
            angle: 90.0,
            thickness: [2.0; 2],
        };
        let [right, up] = axes(&ridge);
        assert!(
            (right - Vector3::x()).norm() < 1.0e-9 && (up - Vector3::z()).norm() < 1.0e-9,
            "{right} {up}"
        );
        // A hollow: both rise.
        ridge.normals = [normals[1], normals[0]];
        let [right, up] = axes(&ridge);
        assert!(
            (right - Vector3::x()).norm() < 1.0e-9 && (up - Vector3::z()).norm() < 1.0e-9,
            "{right} {up}"
        );
    }
}
