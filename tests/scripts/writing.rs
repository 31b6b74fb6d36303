//! What is written on the examples' templates lies inside the part, off the cuts, and can be read.

use crate::examples;
use ribwright_kernel::drawing::{Drawing, Label, Layer};
use ribwright_kernel::lettering;
use ribwright_kernel::part::PartKind;
use ribwright_kernel::{Registry, run_stages};

type Point = [f64; 2];

/// Rounding of distances of some metres, mm.
const ROUNDING: f64 = 1.0e-6;

fn distance_to(p: Point, [a, b]: [Point; 2]) -> f64 {
    let d = [b[0] - a[0], b[1] - a[1]];
    let square = d[0] * d[0] + d[1] * d[1];
    let along = (p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1];
    let share = if square > 0.0 { (along / square).clamp(0.0, 1.0) } else { 0.0 };
    (p[0] - a[0] - d[0] * share).hypot(p[1] - a[1] - d[1] * share)
}

fn crosses([a, b]: [Point; 2], [c, d]: [Point; 2]) -> bool {
    let side = |p: Point, q: Point, r: Point| (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
    (side(a, b, c) > 0.0) != (side(a, b, d) > 0.0) && (side(c, d, a) > 0.0) != (side(c, d, b) > 0.0)
}

fn distance(s: [Point; 2], t: [Point; 2]) -> f64 {
    if crosses(s, t) {
        return 0.0;
    }
    distance_to(s[0], t).min(distance_to(s[1], t)).min(distance_to(t[0], s)).min(distance_to(t[1], s))
}

fn within(outline: &[[Point; 2]], p: Point) -> bool {
    let above = |[a, b]: &&[Point; 2]| {
        (a[0] <= p[0]) != (b[0] <= p[0]) && a[1] + (b[1] - a[1]) * (p[0] - a[0]) / (b[0] - a[0]) > p[1]
    };
    outline.iter().filter(above).count() % 2 == 1
}

/// Least and greatest x and y.
fn bounds(segments: &[[Point; 2]]) -> [Point; 2] {
    segments.iter().flatten().fold([[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]], |[lo, hi], p| {
        [[lo[0].min(p[0]), lo[1].min(p[1])], [hi[0].max(p[0]), hi[1].max(p[1])]]
    })
}

fn written(label: &Label) -> Vec<[Point; 2]> {
    let strokes = lettering::strokes(label);
    strokes.iter().flat_map(|s| s.windows(2).map(|e| [e[0], e[1]]).collect::<Vec<_>>()).collect()
}

/// Corners of the least rectangle along the label's base line that holds its strokes.
fn corners(label: &Label) -> [Point; 4] {
    let (sin, cos) = label.angle.to_radians().sin_cos();
    let turned: Vec<[Point; 2]> = written(label)
        .iter()
        .map(|s| s.map(|p| [p[0] * cos + p[1] * sin, p[1] * cos - p[0] * sin]))
        .collect();
    let [lo, hi] = bounds(&turned);
    [[lo[0], lo[1]], [hi[0], lo[1]], [hi[0], hi[1]], [lo[0], hi[1]]]
        .map(|p| [p[0] * cos - p[1] * sin, p[0] * sin + p[1] * cos])
}

/// Whether two rectangles share a point: no side of either has all of the other beyond it.
fn overlap(a: &[Point; 4], b: &[Point; 4]) -> bool {
    let parted = |a: &[Point; 4], b: &[Point; 4]| {
        (0..4).any(|i| {
            let (p, q) = (a[i], a[(i + 1) % 4]);
            b.iter().all(|r| (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]) < 0.0)
        })
    };
    !parted(a, b) && !parted(b, a)
}

fn check(what: &str, drawing: &Drawing, clearance: f64) -> usize {
    let cuts: Vec<[Point; 2]> = drawing.on(Layer::Cut).flat_map(|p| p.segments()).collect();
    let arrows = drawing.on(Layer::Text).map(|p| ("the arrow", p.segments().collect::<Vec<_>>()));
    let labels = drawing.labels.iter().map(|l| (l.text.as_str(), written(l)));
    for (text, strokes) in labels.chain(arrows) {
        let [lo, hi] = bounds(&strokes);
        let near: Vec<[Point; 2]> = cuts
            .iter()
            .filter(|s| {
                (0..2).all(|i| {
                    s[0][i].max(s[1][i]) > lo[i] - clearance && s[0][i].min(s[1][i]) < hi[i] + clearance
                })
            })
            .copied()
            .collect();
        for stroke in strokes {
            assert!(within(&cuts, stroke[0]), "{what}: {text:?} is written outside the part");
            for cut in &near {
                let off = distance(stroke, *cut);
                assert!(off >= clearance - ROUNDING, "{what}: {text:?} is {off} mm off a cut");
            }
        }
    }
    let boxes: Vec<(&str, [Point; 4])> =
        drawing.labels.iter().map(|l| (l.text.as_str(), corners(l))).collect();
    let arrows: Vec<(&str, [Point; 4])> = drawing
        .on(Layer::Text)
        .filter(|p| p.closed)
        .map(|p| {
            let [lo, hi] = bounds(&p.segments().collect::<Vec<_>>());
            // The arrow may lie aslant: its middle stands for it.
            let (m, e) = ([(lo[0] + hi[0]) / 2.0, (lo[1] + hi[1]) / 2.0], ROUNDING);
            (
                "the arrow",
                [[m[0] - e, m[1] - e], [m[0] + e, m[1] - e], [m[0] + e, m[1] + e], [m[0] - e, m[1] + e]],
            )
        })
        .collect();
    let all = [boxes, arrows].concat();
    for (i, (text, a)) in all.iter().enumerate() {
        for (other, b) in &all[..i] {
            assert!(!overlap(a, b), "{what}: {text:?} lies over {other:?}");
        }
    }
    drawing.labels.len()
}

#[test]
fn writing_lies_inside_the_part_off_the_cuts_and_off_other_writing() {
    let registry = Registry::standard();
    let mut labels = 0;
    for (name, work) in examples() {
        let output =
            run_stages(&work, &registry, &["templates".to_owned()]).unwrap_or_else(|e| panic!("{e}"));
        for part in &output.templates {
            let clearance = work.parts[part.part].marking.clearance;
            for template in &part.templates {
                let what = format!("{name}, {} {}", template.part, template.kind);
                labels += check(&what, &template.drawing, clearance);
            }
        }
    }
    assert!(labels > 1000, "only {labels} labels");
}

/// Dropping writing must stay the exception: large parts bear their name, their datum and nearly all numbers of
/// their marks.
#[test]
fn large_parts_bear_their_name_their_datum_and_nearly_all_numbers() {
    let registry = Registry::standard();
    let (mut written, mut marked) = (0, 0);
    for (name, work) in examples() {
        let output =
            run_stages(&work, &registry, &["templates".to_owned()]).unwrap_or_else(|e| panic!("{e}"));
        for part in &output.templates {
            let source = &work.parts[part.part];
            if source.area < 100_000.0 || !matches!(source.kind, PartKind::Sheet { .. }) {
                continue;
            }
            for template in &part.templates {
                let what = format!("{name}, {} {}", template.part, template.kind);
                let drawing = &template.drawing;
                let has = |text: &str| drawing.labels.iter().any(|l| l.text == text);
                assert!(has(&source.id), "{what}: its name is missing");
                assert!(drawing.labels.iter().any(|l| l.text.starts_with("DATUM")), "{what}: no datum");
                let numbers = drawing.labels.iter().filter(|l| l.text.parse::<u32>().is_ok()).count();
                let marks = source.marks.len();
                assert!(numbers * 10 >= marks * 8, "{what}: {numbers} numbers at {marks} marks");
                (written, marked) = (written + numbers, marked + marks);
            }
        }
    }
    assert!(written * 100 >= marked * 97, "{written} numbers at {marked} marks");
}
