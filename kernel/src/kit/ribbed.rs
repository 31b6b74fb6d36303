//! Ribbed nets: a part developed along its corrugation at model size, with its folds and tabs on closing edges.
//!
//! The outline is that of the blank with its neutral line on the middle skin (k factor 0.5): the same as the wrap
//! template of the middle skin, vertex by vertex, and its bend lines are the folds.

use super::flat::{Pose, bounds, convex_overlap, distance, left_of, middle, minus, sides, unit};
use super::label::{Field, Sign, readable};
use super::piece::{Piece, centroid};
use super::shape::axes_of;
use super::tab::Tab;
use super::unfold::{Net, Sheet};
use crate::drawing::{Layer, Path, signed_area};
use crate::error::Result;
use crate::part::{Marking, Part, PartKind};
use crate::polygon::holds;
use crate::settings::{Value, Values};
use crate::template::{Template, blank};

/// A part's blank on the middle skin at 1 to `scale`: outlines, folds and bends, without marks and writing.
///
/// # Errors
/// A profile that cannot be developed.
pub fn develop(part: &Part, scale: f64) -> Result<Template> {
    let bare = Part { marks: Vec::new(), marking: Marking::default(), ..part.clone() };
    let given = [("k_factor".to_owned(), Value::Number(0.5))].into();
    let values = Values::check(blank::ROW.name, blank::ROW.settings, &given)?;
    let mut template = (blank::ROW.develop)(&bare, &values)?;
    let folded = template.bends.iter().any(|b| b.drawn);
    template.drawing.labels.clear();
    template.drawing.paths.retain_mut(|path| {
        path.layer = match path.layer {
            Layer::BendDown => Layer::Mountain,
            Layer::BendUp => Layer::Valley,
            other => other,
        };
        // A wave has no folds: its crest lines show which way it is rolled.
        let level = path.points.windows(2).all(|p| p[0][0] == p[1][0]);
        matches!(path.layer, Layer::Cut | Layer::Mountain | Layer::Valley)
            || (path.layer == Layer::Mark && !folded && level && path.points.len() == 2)
    });
    for p in template.drawing.paths.iter_mut().flat_map(|p| &mut p.points) {
        *p = p.map(|x| x / scale);
    }
    for bend in &mut template.bends {
        bend.across /= scale;
        bend.radius /= scale;
        bend.allowance /= scale;
    }
    template.area /= scale * scale;
    template.cut_length /= scale;
    Ok(template)
}

/// A stretch of one seam on a part between two folds.
#[derive(Debug, Clone)]
pub(super) struct Run {
    pub(super) seam: usize,
    outline: usize,
    /// First corner and how many edges.
    from: usize,
    count: usize,
}

/// A part laid out, before its tabs are chosen.
#[derive(Debug, Clone)]
pub(super) struct Sheeted<'a> {
    pub(super) part: &'a Part,
    template: Template,
    outlines: Vec<Vec<[f64; 2]>>,
    pub(super) runs: Vec<Run>,
    /// Tabs by the run they are on.
    tabs: Vec<(usize, Tab)>,
}

/// Mitres tried, degrees, and heights as shares of the width set.
const MITRES: [f64; 4] = [75.0, 60.0, 45.0, 30.0];
const HEIGHTS: [f64; 4] = [1.0, 0.7, 0.5, 0.3];
/// Of the width set, what a tab on a wavy edge takes at the most: wider ones would meet across the valleys.
const WAVY: f64 = 0.7;
/// Shortest stretch of edge that gets a tab and lowest tab, mm.
const LEAST_RUN: f64 = 1.5;
const LEAST_HEIGHT: f64 = 1.0;
/// A tab keeps this share of its edge as its outer side.
const OUTER: f64 = 0.2;
/// Room between a tab and everything else, mm.
const CLEAR: f64 = 0.25;
/// Slack where things touch in a corner, mm.
const SLACK: f64 = 1.0e-7;
/// Closure strips, and lenses of them, narrower than this are left out of a kit: card cannot be cut to it, mm.
pub(super) const LEAST_STRIP: f64 = 1.0;

impl<'a> Sheeted<'a> {
    pub(super) fn new(part: &'a Part, scale: f64) -> Result<Self> {
        let template = develop(part, scale)?;
        let mut outlines: Vec<Vec<[f64; 2]>> =
            template.drawing.on(Layer::Cut).map(|p| p.points.clone()).collect();
        if matches!(part.kind, PartKind::Closure { .. }) {
            outlines =
                outlines.into_iter().map(smooth).filter(|o| o.len() > 2 && width(o) >= LEAST_STRIP).collect();
        }
        let mut runs = Vec::new();
        if matches!(part.kind, PartKind::Sheet { .. }) {
            for (k, outline) in outlines.iter().enumerate() {
                let count = outline.len();
                let flat = |i: usize| {
                    let m = middle(outline[i % count], outline[(i + 1) % count]);
                    template.bends.partition_point(|b| b.across <= m[0])
                };
                let same = |i: usize, j: usize| {
                    part.edges[k][i % count] == part.edges[k][j % count] && flat(i) == flat(j)
                };
                let start = (0..count).find(|&i| !same(i + count - 1, i)).unwrap_or(0);
                let mut i = start;
                while i < start + count {
                    let mut end = i + 1;
                    while end < start + count && same(i, end) {
                        end += 1;
                    }
                    if let Some(seam) = part.edges[k][i % count] {
                        runs.push(Run { seam, outline: k, from: i % count, count: end - i });
                    }
                    i = end;
                }
            }
        }
        Ok(Self { part, template, outlines, runs, tabs: Vec::new() })
    }

    /// Corners of a run in order.
    fn points(&self, run: &Run) -> Vec<[f64; 2]> {
        let outline = &self.outlines[run.outline];
        (0..=run.count).map(|i| outline[(run.from + i) % outline.len()]).collect()
    }

    /// The tabs that fit on a seam's runs, by run.
    pub(super) fn tabs_on(&self, seam: usize, number: u32, width: f64) -> Vec<(usize, Tab)> {
        let mut found: Vec<(usize, Tab)> = Vec::new();
        for (index, run) in self.runs.iter().enumerate().filter(|(_, run)| run.seam == seam) {
            let points = self.points(run);
            let (a, b) = (points[0], points[points.len() - 1]);
            let length = distance(a, b);
            if length < LEAST_RUN {
                continue;
            }
            let d = unit(a, b);
            let shape = |height: f64, inset: f64| {
                let out =
                    |p: [f64; 2], s: f64| [p[0] + d[0] * s + d[1] * height, p[1] + d[1] * s - d[0] * height];
                [a, b, out(b, -inset), out(a, inset)]
            };
            let tried = HEIGHTS.iter().flat_map(|h| MITRES.iter().map(move |m| (h, m))).find_map(|(h, m)| {
                let cot = 1.0 / m.to_radians().tan();
                let height = (width * WAVY * h).min(length * (1.0 - OUTER) / (2.0 * cot));
                let grown = shape(height + CLEAR, cot * height);
                (height >= LEAST_HEIGHT && self.is_free(run, &grown, &found))
                    .then(|| shape(height, cot * height))
            });
            if let Some([_, _, far, near]) = tried {
                let corners = points.iter().copied().chain([far, near]).collect();
                found.push((index, Tab { number, corners }));
            }
        }
        found
    }

    /// Whether a tab's four corners (clockwise) are clear of the part and of all tabs.
    fn is_free(&self, run: &Run, tab: &[[f64; 2]; 4], more: &[(usize, Tab)]) -> bool {
        let [p, q, r, s] = *tab;
        let quad = [s, r, q, p];
        for (k, outline) in self.outlines.iter().enumerate() {
            for (i, side) in sides(outline).enumerate() {
                let own = k == run.outline && (i + outline.len() - run.from) % outline.len() < run.count;
                if !own && runs_through(side, &quad) {
                    return false;
                }
            }
        }
        let buried = |p: [f64; 2]| self.outlines.iter().filter(|o| holds(o, p)).count() % 2 == 1;
        let apart = |t: &Tab| {
            let n = t.corners.len();
            let other = [t.corners[n - 1], t.corners[n - 2], t.corners[n - 3], t.corners[0]];
            !convex_overlap(&quad, &other, SLACK)
        };
        !buried(r) && !buried(s) && self.tabs.iter().chain(more).all(|(_, t)| apart(t))
    }

    pub(super) fn take(&mut self, tabs: Vec<(usize, Tab)>) {
        self.tabs.extend(tabs);
    }

    /// Length of the edges of a seam, mm.
    pub(super) fn length_on(&self, seam: usize) -> f64 {
        let of = |run: &Run| self.points(run).windows(2).map(|p| distance(p[0], p[1])).sum::<f64>();
        self.runs.iter().filter(|r| r.seam == seam).map(of).sum()
    }

    /// The finished piece.
    pub(super) fn piece(&self, number: &dyn Fn(usize) -> u32, sheet: &Sheet) -> Piece {
        let mut cuts: Vec<Vec<[f64; 2]>> = Vec::new();
        for (k, outline) in self.outlines.iter().enumerate() {
            let mut cut = Vec::new();
            let mut skip = vec![false; outline.len()];
            let mut put: Vec<Option<&Tab>> = vec![None; outline.len()];
            for (index, tab) in &self.tabs {
                let run = &self.runs[*index];
                if run.outline == k {
                    put[run.from] = Some(tab);
                    (1..run.count).for_each(|i| skip[(run.from + i) % outline.len()] = true);
                }
            }
            for (i, p) in outline.iter().enumerate() {
                if !skip[i] {
                    cut.push(*p);
                }
                if let Some(tab) = put[i] {
                    let n = tab.corners.len();
                    cut.extend([tab.corners[n - 1], tab.corners[n - 2]]);
                }
            }
            cuts.push(cut);
        }
        let all: Vec<[f64; 2]> = cuts.iter().flatten().copied().collect();
        let (angle, _) = Net::best_turn(&all, &Sheet { tab: 0.0, ..*sheet });
        let mut pose = Pose::turned(angle);
        let [lo, _] = bounds(all.iter().map(|p| pose.of(*p))).unwrap_or_default();
        pose.shift = minus([0.0; 2], lo);
        let placed = |points: &[[f64; 2]]| points.iter().map(|p| pose.of(*p)).collect::<Vec<_>>();
        let mut piece = Piece {
            name: self.part.id.clone(),
            outlines: cuts.iter().map(|c| placed(c)).collect(),
            ..Piece::default()
        };
        piece.faces = self.outlines.iter().map(|o| (self.part.id.clone(), placed(o))).collect();
        piece.tabs =
            self.tabs.iter().map(|(_, t)| Tab { number: t.number, corners: placed(&t.corners) }).collect();
        let outlines = piece.outlines.iter().map(|o| Path::closed(Layer::Cut, o.clone()));
        piece.drawing.paths.extend(outlines);
        let folds = self.template.drawing.paths.iter().filter(|p| p.layer != Layer::Cut);
        piece.drawing.paths.extend(folds.map(|p| Path { points: placed(&p.points), ..p.clone() }));
        for tab in &piece.tabs {
            let base = tab.corners[..tab.corners.len() - 2].to_vec();
            piece.drawing.paths.push(Path::open(Layer::Mountain, base));
        }
        self.sign(&mut piece, &pose, number);
        piece.measure();
        piece
    }

    fn sign(&self, piece: &mut Piece, pose: &Pose, number: &dyn Fn(usize) -> u32) {
        let outlines: Vec<Vec<[f64; 2]>> = piece.faces.iter().map(|f| f.1.clone()).collect();
        let lines = piece.drawing.paths.iter().filter(|p| p.layer != Layer::Cut).flat_map(Path::segments);
        let lines: Vec<_> = lines.collect();
        let mut drawing = std::mem::take(&mut piece.drawing);
        let mut sign = Sign { drawing: &mut drawing, taken: Vec::new(), lines };
        let field = Field { outlines: &outlines };
        let mut seams: Vec<usize> = self.runs.iter().map(|r| r.seam).collect();
        seams.sort_unstable();
        seams.dedup();
        for seam in seams {
            let mut runs: Vec<Vec<[f64; 2]>> =
                self.runs.iter().filter(|r| r.seam == seam).map(|r| self.points(r)).collect();
            let box_of = bounds(runs.iter().flatten().copied()).unwrap_or_default();
            let near = middle(box_of[0], box_of[1]);
            let off = |r: &[[f64; 2]]| distance(middle(r[0], r[r.len() - 1]), near);
            runs.sort_by(|a, b| off(a).total_cmp(&off(b)));
            let text = number(seam).to_string();
            let done =
                runs.iter().any(|r| sign.number(&field, &text, [pose.of(r[0]), pose.of(r[r.len() - 1])]));
            if !done {
                piece.unwritten.push(format!("{text} on {}", self.part.id));
            }
        }
        let mut unnamed = false;
        let ribs = pose.direction([0.0, 1.0]);
        let along = readable(ribs[1].atan2(ribs[0]).to_degrees());
        let centre = centroid(&outlines[0]);
        match sign.name(&field, &self.part.id, centre, &[along, 0.0, readable(along + 90.0)]) {
            Some(at) if matches!(self.part.kind, PartKind::Sheet { .. }) => {
                let frame = &self.part.frame;
                let [_, up, n] = axes_of(&frame.n);
                let flat = unit([0.0; 2], [-up.dot(&frame.v), up.dot(&frame.u)]);
                let level = n.z.abs() > 1.0 - LEVEL;
                sign.arrow(&field, at, pose.direction(flat), if level { "N" } else { "" });
            }
            Some(_) => {}
            None => unnamed = true,
        }
        piece.drawing = drawing;
        if unnamed {
            piece.caption(&self.part.id);
        }
    }

    /// How wide a closure strip is at the most, about, mm: also of what is left out.
    pub(super) fn width(&self) -> f64 {
        self.template.drawing.on(Layer::Cut).map(|p| width(&p.points)).fold(0.0, f64::max)
    }
}

/// How wide a lens is, about, mm: its area is two thirds of the box round it.
fn width(outline: &[[f64; 2]]) -> f64 {
    let longest = outline.iter().map(|p| outline.iter().map(|q| distance(*p, *q)).fold(0.0, f64::max));
    1.5 * signed_area(outline).abs() / longest.fold(f64::MIN_POSITIVE, f64::max)
}

/// A closure strip without corners that cannot be seen: true strips can have spikes thinner than ink.
fn smooth(mut outline: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    let mut i = 0;
    while i < outline.len() && outline.len() > 3 {
        let n = outline.len();
        let (before, at, after) = (outline[(i + n - 1) % n], outline[i], outline[(i + 1) % n]);
        let near = distance(before, at) < INK || distance(at, after) < INK;
        if near || left_of(before, after, at).abs() < INK && distance(before, after) >= INK {
            outline.remove(i);
            i = i.saturating_sub(1);
        } else {
            i += 1;
        }
    }
    outline
}

/// What cannot be seen on paper, mm.
const INK: f64 = 0.02;

/// Whether a segment runs through the inside of a convex counter-clockwise polygon.
fn runs_through([a, b]: [[f64; 2]; 2], polygon: &[[f64; 2]]) -> bool {
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for [p, q] in sides(polygon) {
        let (da, db) = (left_of(p, q, a) - SLACK, left_of(p, q, b) - SLACK);
        if da <= 0.0 && db <= 0.0 {
            return false;
        }
        if da < 0.0 {
            enter = enter.max(da / (da - db));
        } else if db < 0.0 {
            leave = leave.min(da / (da - db));
        }
    }
    enter < leave
}

/// A face whose normal is upright to within this counts as level: its arrow points north.
const LEVEL: f64 = 1.0e-9;
