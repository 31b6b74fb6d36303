//! Flattening: what all templates share. A part's outline is laid out with its ribs running up the page,
//! seen from outside, and gets its marks and its writing.

use super::{BendLine, Template};
use crate::drawing::{Drawing, Label, Layer, Path, signed_area};
use crate::lettering;
use crate::part::{Part, PartKind};
use crate::profile::{Piece, Profile};
use nalgebra::Vector3;

/// How a template lays t out across the page.
pub(super) struct Layout<'a> {
    /// The template kind's name.
    pub(super) kind: &'a str,
    /// A line of writing under the part's name: what the template is and which side is seen.
    pub(super) note: String,
    /// Position across the sheet for each t counted from a crest, mm; ascending.
    pub(super) across: &'a dyn Fn(f64) -> f64,
    /// Whether bend lines are drawn (a blank), or fold marks (all others).
    pub(super) bend_lines: bool,
}

/// A fold or bend of one pitch of a profile.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Bend {
    /// Middle of the bend, from the crest, mm.
    t: f64,
    /// Radians; positive is convex outward.
    turn: f64,
    /// Middle-skin radius, mm.
    radius: f64,
}

/// Text heights, mm: large enough to read at arm's length, small enough to fit a narrow part.
const TEXT_HEIGHT: (f64, f64) = (5.0, 32.0);
/// Share of the room that writing may fill.
const TEXT_ROOM: f64 = 0.7;
/// A face flatter than this has no up direction (sine of its slope).
const LEVEL: f64 = 0.02;

/// Lays a part out flat.
pub(super) fn flatten(part: &Part, layout: &Layout<'_>) -> Template {
    let place = |p: &[f64; 2]| match &part.kind {
        // Ribs up the page: a quarter turn keeps the part as seen from outside.
        PartKind::Sheet { phase, .. } => [-(layout.across)(p[1] - phase), p[0]],
        PartKind::Closure { .. } => *p,
    };
    let mut outlines: Vec<Vec<[f64; 2]>> =
        part.outlines.iter().map(|o| o.iter().map(place).collect()).collect();
    let corner = outlines.iter().flatten().fold([f64::INFINITY; 2], |c, p| [c[0].min(p[0]), c[1].min(p[1])]);
    for p in outlines.iter_mut().flatten() {
        *p = [p[0] - corner[0], p[1] - corner[1]];
    }
    let area = outlines.iter().map(|o| signed_area(o)).sum();
    let mut drawing =
        Drawing { name: part.stem(), title: part.id.clone(), ..Drawing::default() };
    drawing.paths.extend(outlines.iter().map(|o| Path {
        layer: Layer::Cut,
        points: o.clone(),
        closed: true,
    }));
    let cut_length = drawing.paths.iter().map(Path::length).sum();
    let mut bends = Vec::new();
    if let PartKind::Sheet { profile, phase, .. } = &part.kind {
        let x = |t: f64| -(layout.across)(t) - corner[0];
        let ts = part.outlines.iter().flatten().map(|p| p[1] - phase);
        let span = ts.fold([f64::INFINITY, f64::NEG_INFINITY], |s, t| [s[0].min(t), s[1].max(t)]);
        mark_ribs(&mut drawing, &outlines, profile, span, &x, layout, &mut bends);
    }
    write(&mut drawing, &outlines, part, layout);
    bends.sort_by(|a, b| a.across.total_cmp(&b.across));
    Template { kind: layout.kind.to_owned(), part: part.id.clone(), drawing, area, cut_length, bends }
}

/// Crest and valley lines, and folds or bend lines.
fn mark_ribs(
    drawing: &mut Drawing,
    outlines: &[Vec<[f64; 2]>],
    profile: &Profile,
    span: [f64; 2],
    x: &dyn Fn(f64) -> f64,
    layout: &Layout<'_>,
    bends: &mut Vec<BendLine>,
) {
    if profile.is_flat() {
        return;
    }
    let pitch = profile.pitch();
    let shape = bends_of(profile);
    let valley = valley_of(profile);
    #[allow(clippy::cast_possible_truncation, reason = "a part spans few pitches")]
    let (first, last) = ((span[0] / pitch).floor() as i64 - 1, (span[1] / pitch).ceil() as i64);
    for k in first..=last {
        #[allow(clippy::cast_precision_loss, reason = "few pitches")]
        let start = k as f64 * pitch;
        for t in [start, start + valley] {
            for [low, high] in inside(outlines, x(t)) {
                // Crests as whole lines, valleys as two short ticks, so that they are told apart.
                let tick = ((high - low) / 8.0).min(25.0);
                let pieces = if t == start {
                    vec![[low, high]]
                } else {
                    vec![[low, low + tick], [high - tick, high]]
                };
                drawing.paths.extend(pieces.iter().map(|&[a, b]| Path {
                    layer: Layer::Mark,
                    points: vec![[x(t), a], [x(t), b]],
                    closed: false,
                }));
            }
        }
        for bend in &shape {
            let at = x(start + bend.t);
            let pieces = inside(outlines, at);
            let layer = match (layout.bend_lines, bend.turn > 0.0) {
                (true, true) => Layer::BendDown,
                (true, false) => Layer::BendUp,
                (false, _) => Layer::Mark,
            };
            if !pieces.is_empty() && layout.bend_lines {
                bends.push(BendLine {
                    across: at,
                    angle: bend.turn.abs().to_degrees(),
                    up: bend.turn < 0.0,
                    radius: (bend.radius - profile.thickness() / 2.0).max(0.0),
                });
            }
            drawing.paths.extend(pieces.iter().map(|&[a, b]| Path {
                layer,
                points: vec![[at, a], [at, b]],
                closed: false,
            }));
        }
    }
}

/// The bends of one pitch that stand alone between flats; a wave has none.
fn bends_of(profile: &Profile) -> Vec<Bend> {
    let pieces = profile.pieces();
    let count = pieces.len();
    let is_bend = |i: usize| matches!(pieces[i % count], Piece::Bend { .. });
    let ends = |i: usize| {
        let strips = profile.strips().iter().filter(|s| s.piece == i);
        strips.fold([f64::INFINITY, f64::NEG_INFINITY], |e, s| [e[0].min(s.t[0]), e[1].max(s.t[1])])
    };
    let mut found = Vec::new();
    let mut last_end = 0.0;
    for (i, piece) in pieces.iter().enumerate() {
        let span = ends(i);
        match *piece {
            Piece::Flat { .. } => last_end = span[1],
            Piece::Bend { radius, turn } => {
                let alone = !is_bend(i + count - 1) && !is_bend(i + 1);
                // A sharp corner has no strips of its own: it lies where the flat before it ends.
                let t = if span[0].is_finite() { (span[0] + span[1]) / 2.0 } else { last_end };
                if span[1].is_finite() {
                    last_end = span[1];
                }
                if alone {
                    found.push(Bend { t, turn, radius });
                }
            }
        }
    }
    // A pitch that starts and ends within one bend: its two halves are one.
    if let (Some(&Piece::Bend { radius, turn }), Some(&Piece::Bend { radius: r, turn: last })) =
        (pieces.first(), pieces.last())
        && count > 2
        && radius == r
        && (turn - last).abs() < f64::EPSILON.sqrt()
        && !is_bend(1)
        && !is_bend(count - 2)
    {
        found.push(Bend { t: 0.0, turn: turn + last, radius });
    }
    found
}

/// Middle of the valley, from the crest, mm.
fn valley_of(profile: &Profile) -> f64 {
    let low = profile.min_height();
    let at_bottom = |h: f64| h <= low + f64::EPSILON * profile.depth();
    let ts: Vec<f64> = profile
        .strips()
        .iter()
        .flat_map(|s| [(s.t[0], s.h[0]), (s.t[1], s.h[1])])
        .filter(|&(_, h)| at_bottom(h))
        .map(|(t, _)| t)
        .collect();
    match (ts.first(), ts.last()) {
        (Some(a), Some(b)) => (a + b) / 2.0,
        _ => profile.pitch() / 2.0,
    }
}

/// The stretches of the upright line at x that lie inside closed outlines (even–odd), from below.
pub(super) fn inside(outlines: &[Vec<[f64; 2]>], x: f64) -> Vec<[f64; 2]> {
    crossed(outlines, x, 0)
}

/// The same for the level line at y, from the left.
fn inside_level(outlines: &[Vec<[f64; 2]>], y: f64) -> Vec<[f64; 2]> {
    crossed(outlines, y, 1)
}

fn crossed(outlines: &[Vec<[f64; 2]>], at: f64, axis: usize) -> Vec<[f64; 2]> {
    let other = 1 - axis;
    let mut crossings = Vec::new();
    for outline in outlines {
        for (i, a) in outline.iter().enumerate() {
            let b = outline[(i + 1) % outline.len()];
            if (a[axis] <= at) != (b[axis] <= at) {
                let share = (at - a[axis]) / (b[axis] - a[axis]);
                crossings.push(a[other] + (b[other] - a[other]) * share);
            }
        }
    }
    crossings.sort_by(f64::total_cmp);
    crossings.chunks_exact(2).map(|c| [c[0], c[1]]).filter(|c| c[1] > c[0]).collect()
}

/// The part's name, its note and an arrow, where there is most room.
fn write(drawing: &mut Drawing, outlines: &[Vec<[f64; 2]>], part: &Part, layout: &Layout<'_>) {
    let Some([low, high]) = drawing.bounds() else { return };
    let lines = [part.id.as_str(), layout.note.as_str()];
    let widest = lines.iter().map(|l| lettering::width(l, 1.0)).fold(0.0, f64::max);
    // Try rows up the part; a block of writing needs its width on three levels.
    let mut best: Option<(f64, [f64; 2])> = None;
    for row in 1..ROWS {
        let y = low[1] + (high[1] - low[1]) * f64::from(row) / f64::from(ROWS);
        for span in inside_level(outlines, y) {
            let x = (span[0] + span[1]) / 2.0;
            let upright = inside(outlines, x)
                .into_iter()
                .find(|s| s[0] <= y && y <= s[1])
                .map_or(0.0, |s| 2.0 * (y - s[0]).min(s[1] - y));
            let fits = |h: f64| {
                [-0.5, 0.5].iter().all(|k| {
                    inside_level(outlines, y + k * BLOCK * h)
                        .iter()
                        .any(|s| x - widest * h / 2.0 >= s[0] && x + widest * h / 2.0 <= s[1])
                })
            };
            let mut height =
                ((span[1] - span[0]) / widest).min(upright / BLOCK).min(TEXT_HEIGHT.1 / TEXT_ROOM);
            for _ in 0..4 {
                if fits(height) {
                    break;
                }
                height *= 0.75;
            }
            if best.is_none_or(|(h, _)| height > h + f64::EPSILON) {
                best = Some((height, [x, y]));
            }
        }
    }
    let Some((room, [x, y])) = best else { return };
    let height = room * TEXT_ROOM;
    if height < TEXT_HEIGHT.0 / 2.0 {
        // A sliver: no writing fits; the file's name says which part it is.
        return;
    }
    for (text, offset, scale) in [(lines[0], 0.9, 1.0), (lines[1], -0.7, 0.7)] {
        drawing.labels.push(Label {
            at: [x, y + offset * height],
            height: height * scale,
            angle: 0.0,
            centred: true,
            text: text.to_owned(),
        });
    }
    if let PartKind::Sheet { .. } = part.kind {
        arrow(drawing, part, [x, y - 2.6 * height], height);
    }
}

/// Rows of writing places that are tried up a part.
const ROWS: u32 = 12;
/// Height of the block of name, note and arrow, in text heights.
const BLOCK: f64 = 6.0;

/// An arrow for up (on a level face: for +y), with its word.
fn arrow(drawing: &mut Drawing, part: &Part, at: [f64; 2], height: f64) {
    let f = &part.frame;
    let (word, aim) = if f.n.cross(&Vector3::z()).norm() < LEVEL {
        ("+Y", Vector3::y())
    } else {
        ("UP", Vector3::z())
    };
    // On the page −v runs to the right and u runs up.
    let d = [-aim.dot(&f.v), aim.dot(&f.u)];
    let norm = d[0].hypot(d[1]);
    if norm == 0.0 {
        return;
    }
    let d = [d[0] / norm, d[1] / norm];
    let side = [-d[1], d[0]];
    let point = |along: f64, across: f64| {
        [
            at[0] + (d[0] * along + side[0] * across) * height,
            at[1] + (d[1] * along + side[1] * across) * height,
        ]
    };
    for points in [
        vec![point(-0.9, 0.0), point(0.9, 0.0)],
        vec![point(0.45, 0.25), point(0.9, 0.0), point(0.45, -0.25)],
    ] {
        drawing.paths.push(Path { layer: Layer::Mark, points, closed: false });
    }
    drawing.labels.push(Label {
        at: point(0.0, -1.1),
        height: height * 0.6,
        angle: 0.0,
        centred: true,
        text: word.to_owned(),
    });
}
