//! The views stage: four elevations, a plan and one pictorial view, with the measures a tape would take; the elements
//! moved apart along the stack (`stack`), and where each of them is in the work (`where-`).
//!
//! Drawings are in true size. The picture's origin is the ground point under the middle of the work, so that
//! the ground is y = 0 in every elevation.

use super::{Stage, any};
use crate::drawing::{Drawing, Label, Layer, Path};
use crate::error::Result;
use crate::output::Output;
use crate::registry::Registry;
use crate::view::{Projection, VisibleLine, join_lines, size_of, visible_lines};
use crate::work::Work;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// The registry row.
pub const ROW: Stage = Stage {
    name: "views",
    summary: "elevations, plan, a pictorial view, the stack taken apart, where each element is; hidden lines removed",
    settings: &[],
    check: any,
    run,
};

/// Where the pictorial view is seen from: degrees counter-clockwise from +x, and above level. A little off
/// the diagonal, so that upright edges of square works do not fall on each other.
pub(crate) const PICTORIAL: [f64; 2] = [-58.0, 22.0];

/// Height of capitals as a share of the work's largest dimension, the same in all views: 11 points and more
/// when an elevation is printed 80 mm high.
const LETTERS: f64 = 1.0 / 20.0;

/// One picture to make.
struct View {
    name: &'static str,
    title: &'static str,
    projection: Projection,
    kind: ViewKind,
}

#[derive(Clone, Copy, PartialEq)]
enum ViewKind {
    Elevation,
    Plan,
    Pictorial,
}

fn views() -> [View; 6] {
    let (x, y, z) = (Vector3::x(), Vector3::y(), Vector3::z());
    let elevation = |name, title, right| View {
        name,
        title,
        projection: Projection::square(right, z),
        kind: ViewKind::Elevation,
    };
    [
        elevation("elevation-south", "Seen from the south", x),
        elevation("elevation-east", "Seen from the east", y),
        elevation("elevation-north", "Seen from the north", -x),
        elevation("elevation-west", "Seen from the west", -y),
        View {
            name: "plan",
            title: "Plan, north up",
            projection: Projection::square(x, y),
            kind: ViewKind::Plan,
        },
        View {
            name: "pictorial",
            title: "Pictorial view",
            projection: Projection::from_direction(PICTORIAL[0], PICTORIAL[1]),
            kind: ViewKind::Pictorial,
        },
    ]
}

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    let (stack, drawings) = rayon::join(
        || super::stack::drawing(work, &Projection::from_direction(PICTORIAL[0], PICTORIAL[1])),
        || views().par_iter().flat_map_iter(|view| draw(work, view)).collect::<Vec<Drawing>>(),
    );
    output.views.extend(drawings);
    output.views.extend(stack);
    Ok(())
}

/// The pictorial view alone.
pub(crate) fn pictorial(work: &Work) -> Option<Drawing> {
    let view = views().into_iter().find(|v| v.kind == ViewKind::Pictorial)?;
    draw(work, &view).into_iter().next()
}

/// The drawing of one view, and for the pictorial one where each element is; none when there is nothing to see.
fn draw(work: &Work, view: &View) -> Vec<Drawing> {
    let (Some(size), Some([low, high])) = (size_of(&work.mesh), work.mesh.bounds()) else {
        return Vec::new();
    };
    let middle = nalgebra::center(&low, &high);
    let on_ground = low.z.abs() < size;
    let origin = Point3::new(middle.x, middle.y, if on_ground { 0.0 } else { low.z });
    let lines = visible_lines(&work.mesh, &work.edges, &view.projection, &origin);
    let mut drawing = Drawing {
        name: view.name.to_owned(),
        title: view.title.to_owned(),
        paths: join_lines(&lines, size),
        ..Drawing::default()
    };
    let Some(bounds) = drawing.bounds() else { return Vec::new() };
    let mut sheet = Sheet { drawing: &mut drawing, bounds, letters: (high - low).max() * LETTERS };
    if view.kind != ViewKind::Pictorial {
        sheet.width_below();
        sheet.height_at_left();
        sheet.names_at_right(&anchors(work, &lines));
    }
    if view.kind == ViewKind::Elevation && on_ground {
        sheet.ground();
    }
    let mut drawings = vec![drawing];
    if view.kind == ViewKind::Pictorial && work.sculpture.elements.len() > 1 {
        drawings.extend(where_each_is(work, &lines, size));
    }
    drawings
}

/// For each element the pictorial view with its lines drawn heavily, and of the others the outlines only, thin.
fn where_each_is(work: &Work, lines: &[VisibleLine], size: f64) -> Vec<Drawing> {
    let elements = super::stack::elements_of_names(work);
    let of =
        |line: &VisibleLine| work.edges[line.edge].sides.map(|s| elements.get(s as usize).copied().flatten());
    let draw = |element: usize| {
        let (own, others): (Vec<VisibleLine>, Vec<VisibleLine>) =
            lines.iter().partition(|line| of(line).contains(&Some(element)));
        let outlines: Vec<VisibleLine> = others.into_iter().filter(|l| l.layer == Layer::Seam).collect();
        let mut paths = join_lines(&own, size);
        paths.extend(join_lines(&outlines, size).into_iter().map(|p| Path { layer: Layer::Mark, ..p }));
        let name = &work.sculpture.elements[element].solid.name;
        Drawing {
            name: format!("where-{}", super::sketch::stem(name)),
            title: format!("{name} in the work"),
            paths,
            ..Drawing::default()
        }
    };
    (0..work.sculpture.elements.len()).into_par_iter().map(draw).filter(|d| !d.paths.is_empty()).collect()
}

/// For each element that is seen a visible point of it, far to the right and near its middle height, in the
/// order of elements.
fn anchors(work: &Work, lines: &[VisibleLine]) -> Vec<(String, [f64; 2])> {
    let order: BTreeMap<&str, usize> =
        work.sculpture.elements.iter().enumerate().map(|(i, e)| (e.solid.name.as_str(), i)).collect();
    let element_of = |part: u32| {
        let name = work.mesh.names.get(part as usize)?;
        // A closure strip between two elements is neither's.
        let element = name.split('/').next()?;
        (!name.contains('~')).then(|| order.get(element).copied()).flatten()
    };
    let own: Vec<(usize, [[f64; 2]; 2])> = lines
        .iter()
        .filter_map(|line| {
            let [Some(a), Some(b)] = work.edges[line.edge].sides.map(element_of) else { return None };
            (a == b).then_some((a, line.ends))
        })
        .collect();
    let mut spans: BTreeMap<usize, [f64; 2]> = BTreeMap::new();
    for &(element, [p, q]) in &own {
        let span = spans.entry(element).or_insert([f64::INFINITY, f64::NEG_INFINITY]);
        *span = [span[0].min(p[1]).min(q[1]), span[1].max(p[1]).max(q[1])];
    }
    let mut found: BTreeMap<usize, [f64; 2]> = BTreeMap::new();
    for &(element, [p, q]) in &own {
        let middle = spans.get(&element).map_or(0.0, |s| (s[0] + s[1]) / 2.0);
        let score = |p: &[f64; 2]| p[0] - (p[1] - middle).abs();
        let share = (middle - p[1]) / (q[1] - p[1]);
        let between = (0.0..=1.0).contains(&share).then(|| [p[0] + (q[0] - p[0]) * share, middle]);
        for candidate in [Some(p), Some(q), between].into_iter().flatten() {
            let best = found.entry(element).or_insert(candidate);
            if score(&candidate) > score(best) {
                *best = candidate;
            }
        }
    }
    found.into_iter().map(|(i, p)| (work.sculpture.elements[i].solid.name.clone(), p)).collect()
}

/// A drawing with the bounds of the work in it and the height of its letters.
struct Sheet<'a> {
    drawing: &'a mut Drawing,
    bounds: [[f64; 2]; 2],
    letters: f64,
}

impl Sheet<'_> {
    fn line(&mut self, points: Vec<[f64; 2]>) {
        self.drawing.paths.push(Path { layer: Layer::Helper, points, closed: false });
    }

    fn write(&mut self, at: [f64; 2], angle: f64, centred: bool, text: String) {
        self.drawing.labels.push(Label { at, height: self.letters, angle, centred, text });
    }

    /// A short stroke across the end of a dimension line.
    fn stroke(&mut self, [x, y]: [f64; 2]) {
        let s = self.letters * 0.4;
        self.line(vec![[x - s, y - s], [x + s, y + s]]);
    }

    fn width_below(&mut self) {
        let ([low, high], h) = (self.bounds, self.letters);
        let y = low[1] - 3.0 * h;
        for x in [low[0], high[0]] {
            self.line(vec![[x, low[1] - h], [x, y - 0.7 * h]]);
            self.stroke([x, y]);
        }
        self.line(vec![[low[0] - 0.7 * h, y], [high[0] + 0.7 * h, y]]);
        let text = format!("{:.0} mm", high[0] - low[0]);
        self.write([(low[0] + high[0]) / 2.0, y - 1.1 * h], 0.0, true, text);
    }

    fn height_at_left(&mut self) {
        let ([low, high], h) = (self.bounds, self.letters);
        let x = low[0] - 3.0 * h;
        for y in [low[1], high[1]] {
            self.line(vec![[x - 0.7 * h, y], [low[0] - h, y]]);
            self.stroke([x, y]);
        }
        self.line(vec![[x, low[1] - 0.7 * h], [x, high[1] + 0.7 * h]]);
        let text = format!("{:.0} mm", high[1] - low[1]);
        self.write([x - 1.1 * h, (low[1] + high[1]) / 2.0], 90.0, true, text);
    }

    fn ground(&mut self) {
        let ([low, high], h) = (self.bounds, self.letters);
        self.line(vec![[low[0] - 2.2 * h, 0.0], [high[0] + 2.2 * h, 0.0]]);
    }

    /// Names in a column at the right, each with a line to its element, in the order of height.
    fn names_at_right(&mut self, anchors: &[(String, [f64; 2])]) {
        let ([low, high], h) = (self.bounds, self.letters);
        let spacing = 1.9 * h;
        let mut wanted: Vec<&(String, [f64; 2])> = anchors.iter().collect();
        wanted.sort_by(|a, b| a.1[1].total_cmp(&b.1[1]));
        // From below upward, each at its own height or just above the one before; then pushed back down from
        // the top, if the column grew beyond it.
        let mut heights: Vec<f64> = Vec::new();
        for (_, p) in &wanted {
            let least = heights.last().map_or(low[1] + h, |y| y + spacing);
            heights.push((p[1] - h / 2.0).max(least));
        }
        let mut most = (high[1] - h).max(low[1] + h + spacing * (heights.len().max(1) - 1) as f64);
        for y in heights.iter_mut().rev() {
            *y = y.min(most);
            most = *y - spacing;
        }
        let x = high[0] + 2.6 * h;
        for ((name, p), y) in wanted.into_iter().zip(heights) {
            let middle = y + h / 2.0;
            self.line(vec![*p, [x - 1.1 * h, middle], [x - 0.5 * h, middle]]);
            self.write([x, y], 0.0, false, name.clone());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::job::samples::work;

    fn drawings(work: &Work) -> Vec<Drawing> {
        let mut output = Output::default();
        run(work, &Registry::standard(), &mut output).expect("runs");
        output.views
    }

    fn named<'a>(all: &'a [Drawing], name: &str) -> &'a Drawing {
        all.iter().find(|d| d.name == name).expect("is drawn")
    }

    fn texts(drawing: &Drawing) -> Vec<&str> {
        drawing.labels.iter().map(|l| l.text.as_str()).collect()
    }

    #[test]
    fn views_stand_in_a_fixed_order_and_are_the_same_every_time() {
        let all = drawings(&work());
        let names: Vec<&str> = all.iter().map(|d| d.name.as_str()).collect();
        let expected =
            ["elevation-south", "elevation-east", "elevation-north", "elevation-west", "plan", "pictorial"];
        assert_eq!(names[..6], expected);
        assert_eq!(names[6..], ["where-A", "where-B", "stack"]);
        assert_eq!(all, drawings(&work()), "again");
    }

    #[test]
    fn where_an_element_is_shows_it_heavily_among_the_outlines_of_the_others() {
        let all = drawings(&work());
        let count = |d: &Drawing, layer: Layer| d.on(layer).map(|p| p.points.len()).sum::<usize>();
        let [whole, a, b] = ["pictorial", "where-A", "where-B"].map(|name| named(&all, name));
        for one in [a, b] {
            assert!(count(one, Layer::Seam) > 0 && count(one, Layer::Mark) > 0, "{}", one.name);
        }
        let folds = [whole, a, b].map(|d| count(d, Layer::Fold));
        assert!(folds[1] > 0 && folds[2] < folds[0], "{folds:?}: the ribs of A are not shown with B");
    }

    #[test]
    fn elements_taken_apart_do_not_cover_each_other() {
        let all = drawings(&work());
        let (whole, stack) = (named(&all, "pictorial"), named(&all, "stack"));
        let high = |d: &Drawing| d.bounds().map_or(0.0, |[lo, hi]| hi[1] - lo[1]);
        assert!(high(stack) > 1.1 * high(whole), "{} and {}", high(stack), high(whole));
        assert_eq!(texts(stack), ["A", "B"]);
        assert!(stack.labels[1].at[1] > stack.labels[0].at[1], "B stands on A");
    }

    #[test]
    fn measures_are_those_a_tape_would_take() {
        let all = drawings(&work());
        // The wall is 1400 long, 342 deep with its ribs, and 1700 high with the box on it.
        assert_eq!(texts(named(&all, "elevation-south"))[..2], ["1400 mm", "1700 mm"]);
        assert_eq!(texts(named(&all, "elevation-east"))[..2], ["342 mm", "1700 mm"]);
        assert_eq!(texts(named(&all, "plan"))[..2], ["1400 mm", "342 mm"]);
        assert!(texts(named(&all, "pictorial")).is_empty(), "a picture without measures");
    }

    #[test]
    fn north_is_south_mirrored_and_the_ground_is_at_zero() {
        let all = drawings(&work());
        let extent = |name: &str| {
            let seams = named(&all, name).paths.iter().filter(|p| p.layer == Layer::Seam);
            let top: Vec<f64> =
                seams.flat_map(|p| &p.points).filter(|p| p[1] > 1690.0).map(|p| p[0]).collect();
            [top.iter().copied().fold(f64::MAX, f64::min), top.iter().copied().fold(f64::MIN, f64::max)]
        };
        // The box stands from x = 200 to 1000 on a wall whose middle is at 700.
        let (south, north) = (extent("elevation-south"), extent("elevation-north"));
        let close = |a: f64, b: f64| assert!((a - b).abs() < 0.1, "{a} and {b}");
        close(south[0], -500.0);
        close(south[1], 300.0);
        close(north[0], -300.0);
        close(north[1], 500.0);
    }

    #[test]
    fn element_names_stand_clear_of_each_other_at_the_right() {
        for d in drawings(&work()).iter().take(5) {
            let names: Vec<&Label> =
                d.labels.iter().filter(|l| ["A", "B"].contains(&l.text.as_str())).collect();
            assert!(!names.is_empty(), "{}", d.name);
            if let [a, b] = names[..] {
                assert!((a.at[1] - b.at[1]).abs() > 1.5 * a.height, "{}: too close", d.name);
            }
        }
    }

    #[test]
    fn a_work_far_away_gives_the_same_drawings_and_an_empty_one_none() {
        let mut far = work();
        let by = Vector3::new(1.0e7, -1.0e7, 0.0);
        far.mesh.points.iter_mut().for_each(|p| *p += by);
        far.edges.iter_mut().for_each(|e| e.ends.iter_mut().for_each(|p| *p += by));
        for (here, there) in drawings(&work()).iter().zip(drawings(&far)) {
            assert_eq!(texts(here), texts(&there), "{}", here.name);
            assert_eq!(here.paths.len(), there.paths.len(), "{}", here.name);
        }
        let mut empty = work();
        empty.mesh.points.clear();
        empty.mesh.triangles.clear();
        empty.mesh.part_of.clear();
        assert!(drawings(&empty).is_empty(), "nothing to see");
    }
}
