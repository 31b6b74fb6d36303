//! Splices: sheet parts larger than the largest sheet, split into pieces that are not.
//!
//! Along the ribs a splice runs down the middle of a crest or a valley, where the sheet is level and both
//! pieces keep a flat to clamp and weld; a profile without level flats is split on its crest and valley lines.
//! A flat sheet may be split anywhere. Across the ribs a splice runs square to them; those of neighbouring
//! strips are staggered, and all keep clear of corners (common practice, no source). A splice is a butt joint
//! that is cut square; it becomes a seam of its own, and both pieces carry it on their edges.

mod middles;
mod plan;

use crate::assembly::PlacedFace;
use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::fit::{FitPart, onto_face, part};
use crate::joint::Joined;
use crate::part::{Part, PartKind};
use crate::profile::Profile;
use crate::region::{Combine, Outline, Region};
use crate::sculpture::Sculpture;
use crate::seam::{Seam, SeamRun, SeamSegment, Side};
use crate::settings::{Setting, SettingKind, Values};
use crate::survey::Wander;
use middles::middles;
use nalgebra::Vector3;
use plan::{Place, ROUNDING, Sheet, corners, crossings, distance, pieces_needed, plan};
use std::collections::BTreeMap;

const fn length(name: &'static str, summary: &'static str, default: f64, max: f64) -> Setting {
    Setting { name, summary, unit: "mm", kind: SettingKind::Number { default: Some(default), min: 0.0, max } }
}

const fn size(name: &'static str, summary: &'static str) -> Setting {
    Setting { name, summary, unit: "mm", kind: SettingKind::Optional { min: 10.0, max: 100_000.0 } }
}

/// Settings of `splices`.
pub const ROWS: &[Setting] = &[
    size("length", "length of the largest sheet, along the ribs; left out, any length will do"),
    size("width", "width a formed sheet covers, across the ribs; left out, any width will do"),
    length(
        "stagger",
        "least offset between splices across the ribs in neighbouring strips (common practice, no source)",
        300.0,
        100_000.0,
    ),
    length("clear", "least distance of splices from corners (common practice, no source)", 100.0, 100_000.0),
    length("gap", "gap between the two pieces; each stands back half of it", 0.0, 50.0),
];

/// More pieces than this of one part are no splices any more: the sheet was given in the wrong unit.
const MOST_PIECES: f64 = 1000.0;
/// Flat sheet is split at places this far apart, mm; more than [`MOST_PLACES`] are thinned.
const FLAT_STEP: f64 = 10.0;
const MOST_PLACES: usize = 1000;

/// Splits every sheet part that is larger than the largest sheet; one that fits is left as it is. The
/// splices are added to `seams`, the parts stay in order of their ids.
///
/// # Errors
/// Settings the rows do not allow.
pub(crate) fn split(
    parts: &mut Vec<FitPart>,
    sculpture: &Sculpture,
    faces: &[PlacedFace],
    seams: &mut Vec<Seam>,
) -> Result<Vec<Finding>> {
    let mut findings = Vec::new();
    if sculpture.splices.is_empty() {
        return Ok(findings);
    }
    let values = Values::check("splices", ROWS, &sculpture.splices)?;
    let sheet = Sheet {
        length: values.optional("length").unwrap_or(f64::INFINITY),
        width: values.optional("width").unwrap_or(f64::INFINITY),
        stagger: values.number("stagger"),
        clear: values.number("clear"),
        gap: values.number("gap"),
    };
    let face_of: BTreeMap<&str, usize> = faces.iter().enumerate().map(|(i, f)| (f.id.as_str(), i)).collect();
    let mut used: BTreeMap<String, Names> = BTreeMap::new();
    for one in parts.iter() {
        let names = used.entry(one.part.face.clone()).or_default();
        names.parts += 1;
    }
    let mut all = Vec::with_capacity(parts.len());
    for whole in parts.drain(..) {
        let PartKind::Sheet { profile, phase, wander, .. } = &whole.part.kind else {
            findings.extend(long_closure(&whole.part, &sheet));
            all.push(whole);
            continue;
        };
        let size = size_of(&whole.part);
        let Some(&face) = face_of.get(whole.part.face.as_str()).filter(|_| !fits(size, &sheet)) else {
            all.push(whole);
            continue;
        };
        if (size[0] / sheet.length).max(1.0) * (size[1] / sheet.width).max(1.0) > MOST_PIECES {
            findings.push(Finding::new(
                Level::Error,
                "splice-size",
                whole.part.id.as_str(),
                format!(
                    "{:.0} × {:.0} mm would take more than {MOST_PIECES} pieces from {}; it is left whole",
                    size[0],
                    size[1],
                    sheet_text(&sheet)
                ),
                "give the largest sheet in mm",
            ));
            all.push(whole);
            continue;
        }
        let wander = wander.as_deref();
        let job = Job { whole: &whole.part, profile, phase: *phase, wander, face, sheet: &sheet };
        let names = used.entry(whole.part.face.clone()).or_default();
        let pieces = job.split(names, seams, sculpture.rules.density, &mut findings);
        all.extend(pieces);
    }
    all.sort_by(|a, b| a.part.id.cmp(&b.part.id));
    *parts = all;
    Ok(findings)
}

/// How many names of a face are taken.
#[derive(Debug, Clone, Copy, Default)]
struct Names {
    parts: usize,
    splices: usize,
}

/// One part to be split.
struct Job<'a> {
    whole: &'a Part,
    profile: &'a Profile,
    wander: Option<&'a Wander>,
    phase: f64,
    face: usize,
    sheet: &'a Sheet,
}

/// One cut across a strip: its place, its seam, and where it runs, along the sheet.
struct Cut {
    s: f64,
    seam: Option<usize>,
    runs: Vec<[f64; 2]>,
}

impl Job<'_> {
    fn split(
        &self,
        names: &mut Names,
        seams: &mut Vec<Seam>,
        density: f64,
        findings: &mut Vec<Finding>,
    ) -> Vec<FitPart> {
        let region = self.laid_out();
        let ends = extent_across(self.whole);
        let ends = ends.map(|t| self.place(t));
        let places: Vec<Place> =
            self.middles([ends[0].t, ends[1].t]).into_iter().map(|t| self.place(t)).collect();
        let plan = plan(&region, ends, &places, self.least(), self.sheet);
        let first_seam = seams.len();
        let lines: Vec<(Place, usize)> = plan.lines[1..plan.lines.len() - 1]
            .iter()
            .map(|&line| {
                seams.push(self.along(&region, line, names));
                (line, seams.len() - 1)
            })
            .collect();
        let cuts: Vec<Vec<Cut>> = plan
            .cuts
            .iter()
            .zip(plan.lines.windows(2))
            .map(|(cuts, strip)| {
                let cut = |&s: &f64| {
                    let runs = within(&crossings(&region, 0, s), [strip[0].w, strip[1].w]);
                    let seam = (!runs.is_empty()).then(|| {
                        seams.push(self.across(s, &runs, names));
                        seams.len() - 1
                    });
                    Cut { s, seam, runs }
                };
                cuts.iter().map(cut).collect()
            })
            .collect();
        let mut pieces: Vec<Region> = cells(&region, ends, &lines, &cuts, self.sheet.gap)
            .iter()
            .flat_map(|cell| region.combine(Combine::Intersect, cell).pieces())
            .collect();
        // To the mm², so that pieces of one size are numbered as they lie.
        pieces.sort_by(|a, b| b.area().round().total_cmp(&a.area().round()));
        let made: Vec<FitPart> = pieces
            .iter()
            .enumerate()
            .map(|(i, piece)| {
                let id = if i == 0 {
                    self.whole.id.clone()
                } else {
                    names.parts += 1;
                    format!("{}.{}", self.whole.face, names.parts)
                };
                let on_face = onto_face(piece, self.profile, self.phase, self.wander);
                part(id, self.whole.face.clone(), self.whole.kind.clone(), self.whole.frame, on_face, density)
            })
            .collect();
        for (k, seam) in seams.iter_mut().enumerate().skip(first_seam) {
            let count = |forward| made.iter().filter(|one| lies_along(&one.part, k, forward)).count();
            seam.pieces = count(true).max(count(false));
        }
        self.report(&made, &region, &lines, &cuts, seams, findings);
        made
    }

    /// Narrower pieces are not worth handling: half a pitch.
    fn least(&self) -> f64 {
        if self.profile.is_flat() { self.sheet.clear } else { self.profile.pitch() / 2.0 }
    }

    fn place(&self, t: f64) -> Place {
        Place { t, w: self.profile.developed_at(t - self.phase, 0.0) }
    }

    /// The part with its outlines along the sheet: (s, w).
    fn laid_out(&self) -> Region {
        let outlines = self.whole.outlines.iter().zip(&self.whole.edges).map(|(points, tags)| Outline {
            points: points.iter().map(|p| [p[0], self.place(p[1]).w]).collect(),
            tags: tags.clone(),
        });
        Region { outlines: outlines.collect() }
    }

    /// Where lines may run between two places across the ribs, ascending.
    fn middles(&self, between: [f64; 2]) -> Vec<f64> {
        let mut found = Vec::new();
        if self.profile.is_flat() {
            let whole = between[1] - between[0];
            let mut divided = |count: f64| {
                let mut k = 1.0;
                while k < count {
                    found.push(between[0] + whole * k / count);
                    k += 1.0;
                }
            };
            let even = pieces_needed(whole, &Sheet { length: self.sheet.width, ..*self.sheet });
            divided(f64::from(even));
            divided(f64::from(even + 1));
            #[allow(clippy::cast_precision_loss, reason = "small")]
            divided((whole / FLAT_STEP).ceil().min(MOST_PLACES as f64));
            found.sort_by(f64::total_cmp);
        } else {
            let pitch = self.profile.pitch();
            let of_one = middles(self.profile);
            let mut period = ((between[0] - self.phase) / pitch).floor();
            while self.phase + period * pitch <= between[1] {
                found.extend(of_one.iter().map(|m| self.phase + period * pitch + m));
                period += 1.0;
            }
        }
        found.retain(|t| *t > between[0] && *t < between[1]);
        found.dedup_by(|b, a| *b - *a < ROUNDING);
        let every = found.len().div_ceil(MOST_PLACES).max(1);
        found.into_iter().step_by(every).collect()
    }

    fn along(&self, region: &Region, line: Place, names: &mut Names) -> Seam {
        let strip = self.profile.strip_index(line.t - self.phase);
        let normal = self.whole.frame.n;
        let mut seam = self.seam(names);
        for run in crossings(region, 1, line.w) {
            let points: Vec<_> = run.iter().map(|&s| self.whole.position([s, line.t], 0.0)).collect();
            seam.length += run[1] - run[0];
            seam.segments.push(self.segment([points[0], points[1]], normal));
            seam.runs.push(SeamRun { points, strips: vec![[strip; 2]], closed: false });
        }
        seam.nominal_length = seam.length;
        seam
    }

    fn across(&self, s: f64, runs: &[[f64; 2]], names: &mut Names) -> Seam {
        let frame = &self.whole.frame;
        let mut seam = self.seam(names);
        let mut squares = 0.0;
        for run in runs {
            let ends = run.map(|w| self.profile.at_developed(w));
            let mut ts = vec![ends[0]];
            if !self.profile.is_flat() {
                let (first, last) = (self.profile.strip_index(ends[0]), self.profile.strip_index(ends[1]));
                let folds = (first + 1..=last).map(|k| self.profile.fold_t(k));
                ts.extend(folds.filter(|t| *t > ends[0] + ROUNDING && *t < ends[1] - ROUNDING));
            }
            ts.push(ends[1]);
            let points: Vec<_> = ts.iter().map(|t| self.whole.position([s, t + self.phase], 0.0)).collect();
            let mut strips = Vec::new();
            for (pair, space) in ts.windows(2).zip(points.windows(2)) {
                let middle = f64::midpoint(pair[0], pair[1]);
                let strip = self.profile.strip_index(middle);
                let across = space[1] - space[0];
                seam.segments.push(self.segment([space[0], space[1]], frame.u.cross(&across).normalize()));
                strips.push([strip; 2]);
                // Simpson's rule is exact for the square of a height that changes evenly.
                let heights = [pair[0], middle, pair[1]].map(|t| self.height(t).abs());
                seam.wobble_peak = heights.iter().copied().fold(seam.wobble_peak, f64::max);
                let [a, m, b] = heights.map(|h| h * h);
                squares += across.norm() * (a + 4.0 * m + b) / 6.0;
            }
            seam.length += run[1] - run[0];
            seam.nominal_length += ends[1] - ends[0];
            seam.runs.push(SeamRun { points, strips, closed: false });
        }
        let chords: f64 = seam.segments.iter().map(SeamSegment::length).sum();
        seam.wobble_rms = if chords > 0.0 { (squares / chords).sqrt() } else { 0.0 };
        seam
    }

    /// Height of the middle skin over the face's plane.
    fn height(&self, t: f64) -> f64 {
        match &self.whole.kind {
            PartKind::Sheet { lift, .. } => self.profile.on_skin(t, 0.0)[1] + lift,
            PartKind::Closure { .. } => 0.0,
        }
    }

    /// The next splice of the face, still without runs.
    fn seam(&self, names: &mut Names) -> Seam {
        names.splices += 1;
        Seam {
            id: format!("{}+{}", self.whole.face, names.splices),
            between: [self.face; 2],
            joint: Joined::Splice,
            nominal_length: 0.0,
            length: 0.0,
            wobble_peak: 0.0,
            wobble_rms: 0.0,
            dihedral: 180.0,
            // Both pieces are cut from one outline.
            mismatch: 0.0,
            pieces: 0,
            runs: Vec::new(),
            segments: Vec::new(),
        }
    }

    fn segment(&self, ends: [nalgebra::Point3<f64>; 2], normal: Vector3<f64>) -> SeamSegment {
        SeamSegment {
            ends,
            sides: [Side::Face(self.face); 2],
            normals: [normal; 2],
            angle: 180.0,
            thickness: [self.profile.thickness(); 2],
        }
    }

    /// What was done, and what could not be kept to, measured on the result.
    fn report(
        &self,
        made: &[FitPart],
        region: &Region,
        lines: &[(Place, usize)],
        cuts: &[Vec<Cut>],
        seams: &[Seam],
        findings: &mut Vec<Finding>,
    ) {
        let sheet = self.sheet;
        let size = size_of(self.whole);
        let splices: Vec<usize> =
            lines.iter().map(|l| l.1).chain(cuts.iter().flatten().filter_map(|c| c.seam)).collect();
        let metres = splices.iter().map(|&k| seams[k].length).sum::<f64>() / 1000.0;
        findings.push(Finding::new(
            Level::Note,
            "splice",
            self.whole.id.as_str(),
            format!(
                "{:.0} × {:.0} mm is larger than {}: split into {} pieces by {} splices, {metres:.2} m in all",
                size[0],
                size[1],
                sheet_text(sheet),
                made.len(),
                splices.len()
            ),
            "nothing to do; larger sheets in .splices would save welding",
        ));
        for one in made {
            let [length, width] = size_of(&one.part);
            if !fits([length, width], sheet) {
                findings.push(Finding::new(
                    Level::Error,
                    "splice-size",
                    one.part.id.as_str(),
                    format!(
                        "{length:.1} × {width:.1} mm stays larger than {}: no crest or valley to split on lies \
                         between its edges",
                        sheet_text(sheet)
                    ),
                    "use wider sheet (at least from the middle of a crest to that of the next valley), or another \
                     profile or phase",
                ));
            } else if width < self.least() - ROUNDING && made.len() > 1 {
                findings.push(Finding::new(
                    Level::Warning,
                    "splice-narrow",
                    one.part.id.as_str(),
                    format!("this piece is only {width:.1} mm wide, less than half a pitch"),
                    "use wider sheet, or shift the ribs with another phase",
                ));
            }
        }
        let corners = corners(region);
        let nearest = |runs: &[[f64; 2]], at: &dyn Fn(&[f64; 2]) -> [f64; 2]| {
            corners.iter().map(|c| distance(runs, at(c)[0], at(c)[1])).fold(f64::INFINITY, f64::min)
        };
        let mut clear = Vec::new();
        for (line, seam) in lines {
            clear.push((*seam, nearest(&crossings(region, 1, line.w), &|c| [c[0], c[1] - line.w])));
        }
        for cut in cuts.iter().flatten() {
            if let Some(seam) = cut.seam {
                clear.push((seam, nearest(&cut.runs, &|c| [c[1], c[0] - cut.s])));
            }
        }
        for (seam, near) in clear {
            if near < sheet.clear - ROUNDING {
                findings.push(Finding::new(
                    Level::Warning,
                    "splice-clear",
                    seams[seam].id.as_str(),
                    format!(
                        "this splice passes {near:.1} mm from a corner; {} mm should be clear",
                        sheet.clear
                    ),
                    "use larger sheet, shift the ribs with another phase, or lower `clear` in .splices",
                ));
            }
        }
        for pair in cuts.windows(2) {
            for (a, b) in pair[0].iter().flat_map(|a| pair[1].iter().map(move |b| (a, b))) {
                let apart = (a.s - b.s).abs();
                let (Some(first), Some(second)) = (a.seam, b.seam) else { continue };
                let (first, second) = (&seams[first], &seams[second]);
                if apart < sheet.stagger - ROUNDING {
                    findings.push(Finding::new(
                        Level::Warning,
                        "splice-stagger",
                        second.id.as_str(),
                        format!(
                            "staggered by {apart:.1} mm against {}; at least {} mm were asked for",
                            first.id, sheet.stagger
                        ),
                        "use longer sheet, or lower `stagger` or `clear` in .splices",
                    ));
                }
            }
        }
    }
}

/// The pieces of a part as regions to cut it with: rectangles along the sheet, tagged with their splices.
/// Those at the rim reach beyond the part.
fn cells(
    region: &Region,
    ends: [Place; 2],
    lines: &[(Place, usize)],
    cuts: &[Vec<Cut>],
    gap: f64,
) -> Vec<Region> {
    let half = gap / 2.0;
    let along = plan::extent(region, ends.map(|e| e.w)).unwrap_or([0.0, 0.0]);
    let mut found = Vec::new();
    for (k, row) in cuts.iter().enumerate() {
        let below = k.checked_sub(1).and_then(|i| lines.get(i));
        let above = lines.get(k);
        let low = below.map_or(ends[0].w - BEYOND, |l| l.0.w + half);
        let high = above.map_or(ends[1].w + BEYOND, |l| l.0.w - half);
        for i in 0..=row.len() {
            let (before, after) = (i.checked_sub(1).map(|j| &row[j]), row.get(i));
            let left = before.map_or(along[0] - BEYOND, |c| c.s + half);
            let right = after.map_or(along[1] + BEYOND, |c| c.s - half);
            found.push(Region {
                outlines: vec![Outline {
                    points: vec![[left, low], [right, low], [right, high], [left, high]],
                    tags: vec![
                        below.map(|l| l.1),
                        after.and_then(|c| c.seam),
                        above.map(|l| l.1),
                        before.and_then(|c| c.seam),
                    ],
                }],
            });
        }
    }
    found
}

/// Cells at the rim of a part reach this far beyond it, mm.
const BEYOND: f64 = 10.0;

/// The parts of stretches that lie between two places.
fn within(runs: &[[f64; 2]], between: [f64; 2]) -> Vec<[f64; 2]> {
    let cut = runs.iter().map(|r| [r[0].max(between[0]), r[1].min(between[1])]);
    cut.filter(|r| r[1] - r[0] > ROUNDING).collect()
}

/// Whether an edge of a part on this splice runs forward (or back): material lies on its left.
fn lies_along(part: &Part, splice: usize, forward: bool) -> bool {
    part.outlines.iter().zip(&part.edges).any(|(points, tags)| {
        (0..points.len()).filter(|&i| tags[i] == Some(splice)).any(|i| {
            let (a, b) = (points[i], points[(i + 1) % points.len()]);
            (b[0] - a[0] + b[1] - a[1] > 0.0) == forward
        })
    })
}

/// Length along the ribs and width across them, mm.
fn size_of(part: &Part) -> [f64; 2] {
    let across = extent_across(part);
    let along = part.outlines.iter().flatten().map(|p| p[0]);
    let [low, high] = along.fold([f64::INFINITY, f64::NEG_INFINITY], |r, s| [r[0].min(s), r[1].max(s)]);
    [high - low, across[1] - across[0]]
}

fn extent_across(part: &Part) -> [f64; 2] {
    let across = part.outlines.iter().flatten().map(|p| p[1]);
    across.fold([f64::INFINITY, f64::NEG_INFINITY], |r, t| [r[0].min(t), r[1].max(t)])
}

fn fits(size: [f64; 2], sheet: &Sheet) -> bool {
    size[0] <= sheet.length + ON_SHEET && size[1] <= sheet.width + ON_SHEET
}

/// A part this much larger than the sheet still fits: what the grid of regions rounds, mm.
const ON_SHEET: f64 = 1.0e-5;

/// `a sheet of 2500 × 1000 mm`.
fn sheet_text(sheet: &Sheet) -> String {
    match (sheet.length.is_finite(), sheet.width.is_finite()) {
        (true, true) => format!("a sheet of {} × {} mm", sheet.length, sheet.width),
        (true, false) => format!("a sheet {} mm long", sheet.length),
        (false, true) => format!("a sheet {} mm wide", sheet.width),
        (false, false) => "any sheet".to_owned(),
    }
}

/// Closure strips are cut from flat sheet and not split here; one longer than any sheet is said.
fn long_closure(part: &Part, sheet: &Sheet) -> Option<Finding> {
    let longest = sheet.length.max(sheet.width);
    let length = part
        .outlines
        .iter()
        .map(|o| {
            let far = |axis: usize| {
                let of = o.iter().map(|p| p[axis]);
                of.fold([f64::INFINITY, f64::NEG_INFINITY], |r, x| [r[0].min(x), r[1].max(x)])
            };
            let [x, y] = [far(0), far(1)];
            (x[1] - x[0]).max(y[1] - y[0])
        })
        .fold(0.0, f64::max);
    (length > longest + ON_SHEET).then(|| {
        Finding::new(
            Level::Warning,
            "splice-closure",
            part.id.as_str(),
            format!("this closure strip is {length:.0} mm long, longer than {}", sheet_text(sheet)),
            "cut it in two where it is lowest, or lay it from another sheet; closure strips are not split",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::registry::{Registry, find};
    use crate::sculpture::Element;
    use crate::settings::Value;
    use crate::work::Work;
    use crate::work_out;
    use std::sync::Arc;

    fn values(given: &[(&str, f64)]) -> BTreeMap<String, Value> {
        given.iter().map(|(k, v)| ((*k).to_owned(), Value::Number(*v))).collect()
    }

    fn profile(kind: &str, given: &[(&str, f64)]) -> Arc<Profile> {
        let registry = Registry::standard();
        let row = find("profile", &registry.profiles, kind).expect("known");
        Arc::new(
            (row.build)(&Values::check(kind, row.settings, &values(given)).expect("allowed"))
                .expect("possible"),
        )
    }

    fn trapezoid(bend_radius: f64) -> Arc<Profile> {
        let sizes = [("pitch", 200.0), ("depth", 40.0), ("crest", 70.0), ("valley", 70.0)];
        profile("trapezoid", &[&sizes[..], &[("thickness", 2.0), ("bend_radius", bend_radius)]].concat())
    }

    fn profiles() -> Vec<Arc<Profile>> {
        vec![
            trapezoid(0.0),
            trapezoid(6.0),
            profile("sine", &[("pitch", 150.0), ("depth", 30.0), ("thickness", 1.0)]),
            profile(
                "arc_tangent",
                &[("pitch", 150.0), ("depth", 48.0), ("radius", 36.0), ("thickness", 2.0)],
            ),
            profile("flat", &[("thickness", 3.0)]),
        ]
    }

    /// A leaning block with four sides.
    fn block(clad: &Arc<Profile>, shape: &[(&str, f64)], splices: &[(&str, f64)]) -> Work {
        let registry = Registry::standard();
        let row = find("element", &registry.elements, "frustum").expect("known");
        let given = values(&[&[("sides", 4.0)], shape].concat());
        let solid = (row.build)("A", &Values::check("frustum", row.settings, &given).expect("allowed"));
        let mut element = Element::new(solid.expect("possible"));
        element.clad(clad);
        let mut sculpture = Sculpture::new("block");
        sculpture.add(element).expect("added");
        sculpture.splices = values(splices);
        work_out(&sculpture, &registry).expect("worked out")
    }

    fn splices(work: &Work) -> Vec<&Seam> {
        work.seams.iter().filter(|s| s.joint == Joined::Splice).collect()
    }

    fn has(work: &Work, code: &str, place: &str) -> bool {
        work.findings.iter().any(|f| f.code == code && f.place == place)
    }

    /// A run of a splice on its face: (s, w) of its ends.
    fn on_face(work: &Work, seam: &Seam, run: &SeamRun) -> [[f64; 2]; 2] {
        let face = &work.faces[seam.between[0]];
        [run.points[0], run.points[run.points.len() - 1]].map(|p| {
            let d = p - face.frame.origin;
            let t = d.dot(&face.frame.v) - face.phase;
            [d.dot(&face.frame.u), face.profile.developed_at(t, 0.0)]
        })
    }

    fn sheets_of<'a>(work: &'a Work, face: &str) -> Vec<&'a Part> {
        work.parts.iter().filter(|p| p.face == face && matches!(p.kind, PartKind::Sheet { .. })).collect()
    }

    /// Numbers spread evenly over 0 to 1, the same on every run.
    fn spread(k: u32, which: usize) -> f64 {
        (f64::from(k + 1) * [2.0_f64, 3.0, 5.0, 7.0, 11.0, 13.0, 17.0][which].sqrt()).fract()
    }

    const NEAR: f64 = 1e-4;

    /// The pieces on both sides carry the whole splice on their edges; its segments lie in the sheet.
    #[track_caller]
    fn assert_along_its_parts(work: &Work, seam: &Seam, case: &str) {
        let index = work.seams.iter().position(|s| s.id == seam.id);
        let face = &work.faces[seam.between[0]];
        let (mut carried, mut bearers) = (0.0, 0);
        for part in sheets_of(work, &face.id) {
            let before = carried;
            for (points, tags) in part.outlines.iter().zip(&part.edges) {
                for i in (0..points.len()).filter(|&i| tags[i] == index) {
                    let (a, b) = (points[i], points[(i + 1) % points.len()]);
                    let w = [a, b].map(|p| face.profile.developed_at(p[1] - face.phase, 0.0));
                    carried += (b[0] - a[0]).hypot(w[1] - w[0]);
                }
            }
            bearers += usize::from(carried > before);
        }
        assert!((carried - 2.0 * seam.length).abs() < NEAR, "{case}: {} {carried}", seam.id);
        assert!(bearers >= 2 && seam.pieces >= 1 && seam.pieces < bearers, "{case}: {} {bearers}", seam.id);
        assert_eq!((seam.between[0], seam.dihedral), (seam.between[1], 180.0), "{case}");
        for segment in &seam.segments {
            let along = segment.ends[1] - segment.ends[0];
            let square = segment.normals.iter().all(|n| n.dot(&along).abs() < 1e-9 * along.norm());
            assert!(
                square && segment.normals[0].dot(&face.frame.n) > 0.0 && segment.angle == 180.0,
                "{case}"
            );
        }
        // Chords are shorter than the arcs they stand for, by little.
        let chords: f64 = seam.segments.iter().map(SeamSegment::length).sum();
        assert!(
            chords <= seam.length + NEAR && chords > 0.98 * seam.length,
            "{case}: {chords} {}",
            seam.length
        );
    }

    #[test]
    fn leaning_blocks_of_any_size_fall_into_pieces_that_fit_and_add_up() {
        let profiles = profiles();
        let (mut cut, mut kept, mut breached) = (0, 0, 0);
        for k in 0..15 {
            let clad = &profiles[k as usize % profiles.len()];
            let size = |which: usize, low: f64, high: f64| low + (high - low) * spread(k, which);
            let shape = [
                ("base", size(0, 500.0, 2600.0)),
                ("top", size(1, 500.0, 2600.0)),
                ("height", size(2, 600.0, 5000.0)),
                ("lean", size(3, -15.0, 15.0)),
                ("toward", 360.0 * spread(k, 4)),
            ];
            let (length, width) = (size(5, 900.0, 2500.0), size(6, 420.0, 1300.0));
            let (stagger, clear) = (200.0, 80.0);
            let given = [("length", length), ("width", width), ("stagger", stagger), ("clear", clear)];
            let (whole, split) = (block(clad, &shape, &[]), block(clad, &shape, &given));
            let case = format!("case {k}: {} {shape:?} {given:?}", clad.kind());
            for face in &whole.faces {
                let sum = |work: &Work, of: &dyn Fn(&Part) -> f64| {
                    sheets_of(work, &face.id).into_iter().map(of).sum::<f64>()
                };
                let (before, after) = (sum(&whole, &|p| p.area), sum(&split, &|p| p.area));
                assert!((before - after).abs() < 1e-8 * before, "{case}: {}: {before} {after}", face.id);
                let mine = || splices(&split).into_iter().filter(|s| split.faces[s.between[0]].id == face.id);
                let welded: f64 = mine().map(|s| s.length).sum();
                let (before, after) = (sum(&whole, &|p| p.cut_length), sum(&split, &|p| p.cut_length));
                assert!((before + 2.0 * welded - after).abs() < NEAR, "{case}: {before} {welded} {after}");
                for piece in sheets_of(&split, &face.id) {
                    let [l, w] = size_of(piece);
                    assert!(
                        l <= length + NEAR && w <= width + NEAR || has(&split, "splice-size", &piece.id),
                        "{case}: {} is {l} × {w}",
                        piece.id
                    );
                }
                assert_eq!(split.findings.iter().filter(|f| f.code == "splice-size").count(), 0, "{case}");
                let (mut across, mut corners_of) = (Vec::new(), Vec::new());
                for part in sheets_of(&whole, &face.id) {
                    for (points, tags) in part.outlines.iter().zip(&part.edges) {
                        let turns = (0..points.len())
                            .filter(|&i| tags[i] != tags[(i + points.len() - 1) % points.len()]);
                        corners_of.extend(turns.map(|i| {
                            let p = points[i];
                            [p[0], face.profile.developed_at(p[1] - face.phase, 0.0)]
                        }));
                    }
                }
                assert!(corners_of.len() >= 4, "{case}");
                for seam in mine() {
                    cut += 1;
                    assert_along_its_parts(&split, seam, &case);
                    for run in &seam.runs {
                        let [a, b] = on_face(&split, seam, run);
                        let along = (a[1] - b[1]).abs() < NEAR;
                        assert!(along || (a[0] - b[0]).abs() < NEAR, "{case}: {} runs askew", seam.id);
                        if along && !face.profile.is_flat() {
                            let t = face.profile.at_developed(a[1]).rem_euclid(face.profile.pitch() / 2.0);
                            let off = t.min(face.profile.pitch() / 2.0 - t);
                            assert!(off < NEAR, "{case}: {} is {off} off the middle", seam.id);
                        }
                        if !along {
                            across.push((seam, a, b));
                        }
                        for c in &corners_of {
                            let near = |axis: usize| {
                                let (low, high) = (a[axis].min(b[axis]), a[axis].max(b[axis]));
                                (low - c[axis]).max(c[axis] - high).max(0.0)
                            };
                            let kept_clear = near(0).hypot(near(1)) >= clear - NEAR;
                            assert!(
                                kept_clear || has(&split, "splice-clear", &seam.id),
                                "{case}: {}",
                                seam.id
                            );
                            if kept_clear { kept += 1 } else { breached += 1 }
                        }
                    }
                }
                for (i, (one, a, b)) in across.iter().enumerate() {
                    for (other, c, d) in &across[i + 1..] {
                        let touch = (b[1] - c[1]).abs().min((d[1] - a[1]).abs()) < NEAR;
                        if touch && one.id != other.id {
                            let apart = (a[0] - c[0]).abs();
                            let said = [one, other].iter().any(|s| has(&split, "splice-stagger", &s.id));
                            assert!(
                                apart >= stagger - NEAR || said,
                                "{case}: {} {} {apart}",
                                one.id,
                                other.id
                            );
                            if said { breached += 1 } else { kept += 1 }
                        }
                    }
                }
            }
            assert!((whole.mass - split.mass).abs() < 1e-8 * whole.mass, "{case}");
            assert!((whole.centre_of_mass - split.centre_of_mass).norm() < NEAR, "{case}");
            assert!(k % 9 > 0 || block(clad, &shape, &given).parts == split.parts, "{case}: runs differ");
        }
        assert!(cut > 200 && kept > 50 * breached, "{cut} splices, {kept} kept, {breached} breached");
    }

    #[test]
    fn parts_that_fit_are_left_as_they_are() {
        let shape = [("base", 1000.0), ("top", 900.0), ("height", 1500.0), ("lean", 5.0)];
        let clad = trapezoid(6.0);
        let plain = block(&clad, &shape, &[]);
        for given in [&[("length", 4000.0), ("width", 2000.0)][..], &[("stagger", 10.0)]] {
            let with = block(&clad, &shape, given);
            assert_eq!((&plain.parts, &plain.seams, plain.mass), (&with.parts, &with.seams, with.mass));
            assert_eq!(plain.findings, with.findings);
        }
    }

    #[test]
    fn names_run_on_and_the_largest_piece_keeps_the_old_one() {
        let shape = [("base", 1000.0), ("top", 1000.0), ("height", 3000.0)];
        let work = block(&trapezoid(0.0), &shape, &[("length", 1700.0), ("width", 700.0)]);
        let pieces = sheets_of(&work, "A/side1");
        let mut ids: Vec<&str> = pieces.iter().map(|p| p.id.as_str()).collect();
        assert_eq!(ids, ["A/side1", "A/side1.2", "A/side1.3", "A/side1.4"]);
        assert!(pieces.iter().all(|p| p.area <= pieces[0].area + 1.0), "{ids:?}");
        ids = splices(&work).iter().map(|s| s.id.as_str()).filter(|id| id.starts_with("A/side1")).collect();
        assert_eq!(ids, ["A/side1+1", "A/side1+2", "A/side1+3"]);
        assert!(has(&work, "splice", "A/side1"));
        // Every splice gets its match marks from the stage that makes them.
        let marked =
            |seam: usize| work.parts.iter().filter(|p| p.marks.iter().any(|m| m.seam == seam)).count();
        for (k, seam) in work.seams.iter().enumerate().filter(|(_, s)| s.joint == Joined::Splice) {
            assert!(marked(k) >= 2, "{} has no marks", seam.id);
        }
    }

    #[test]
    fn what_cannot_be_kept_is_said() {
        let clad = trapezoid(0.0);
        let shape = [("base", 1000.0), ("top", 1000.0), ("height", 1500.0)];
        // Crests and valleys lie 100 mm apart.
        let narrow = block(&clad, &shape, &[("width", 60.0)]);
        let wide = narrow.parts.iter().filter(|p| size_of(p)[1] > 60.0 + NEAR);
        let mut count = 0;
        for part in wide {
            count += 1;
            assert!(has(&narrow, "splice-size", &part.id), "{} is silent", part.id);
        }
        assert!(count > 10, "{count} wide pieces");
        let wild = block(&clad, &shape, &[("length", 10.0), ("width", 10.0)]);
        assert!(has(&wild, "splice-size", "A/side1") && splices(&wild).is_empty());
        let codes = |given: &[(&str, f64)]| {
            let work = block(&clad, &shape, given);
            let mut codes: Vec<String> =
                work.findings.iter().map(|f| f.code.clone()).filter(|c| c.starts_with("splice-")).collect();
            codes.dedup();
            codes
        };
        assert_eq!(codes(&[("length", 800.0), ("width", 600.0), ("stagger", 900.0)]), ["splice-stagger"]);
        assert_eq!(
            codes(&[("length", 800.0), ("width", 600.0), ("stagger", 50.0), ("clear", 1000.0)]),
            ["splice-clear"]
        );
    }

    #[test]
    fn with_a_gap_both_pieces_stand_back_half_of_it() {
        let shape = [("base", 1000.0), ("top", 1000.0), ("height", 3000.0)];
        let given = [("length", 1700.0), ("width", 700.0)];
        let (tight, loose) = (
            block(&trapezoid(0.0), &shape, &given),
            block(&trapezoid(0.0), &shape, &[&given[..], &[("gap", 3.0)]].concat()),
        );
        let area = |work: &Work| sheets_of(work, "A/side1").iter().map(|p| p.area).sum::<f64>();
        let length: f64 =
            splices(&loose).iter().filter(|s| s.id.starts_with("A/side1+")).map(|s| s.length).sum();
        // One line with two cuts that end on it: there strips of 3 × 1.5 mm would be counted twice.
        let removed = 3.0 * length - 2.0 * 3.0 * 1.5;
        assert!(
            (area(&tight) - area(&loose) - removed).abs() < 0.5,
            "{} {removed}",
            area(&tight) - area(&loose)
        );
    }
}
