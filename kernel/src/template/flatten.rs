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
const TEXT_HEIGHT: (f64, f64) = (5.0, 24.0);
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
    let title = format!("{}, {}", part.id, layout.kind);
    let mut drawing = Drawing { name: part.stem(), title, ..Drawing::default() };
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
        for (t, letter) in [(start, "C"), (start + valley, "V")] {
            for stretch in inside(outlines, x(t)) {
                // A wave has no folds to lay the template by: there the crest is a whole line.
                centre_line(drawing, x(t), stretch, letter, shape.is_empty() && t == start);
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
                let line = BendLine {
                    across: at,
                    angle: bend.turn.abs().to_degrees(),
                    up: bend.turn < 0.0,
                    radius: (bend.radius - profile.thickness() / 2.0).max(0.0),
                };
                let room = shape.iter().map(|b| (b.t - bend.t).abs()).filter(|&d| d > 0.0);
                say_bend(drawing, &line, &pieces, room.fold(pitch, f64::min));
                bends.push(line);
            }
            drawing.paths.extend(pieces.iter().map(|&[a, b]| Path {
                layer,
                points: vec![[at, a], [at, b]],
                closed: false,
            }));
        }
    }
}

/// A crest's or valley's centre line: ticks at both ends with its letter, or a whole line.
fn centre_line(drawing: &mut Drawing, x: f64, [low, high]: [f64; 2], letter: &str, whole: bool) {
    let tick = ((high - low) / 8.0).min(TICK);
    let pieces = if whole { vec![[low, high]] } else { vec![[low, low + tick], [high - tick, high]] };
    let line = |[a, b]: [f64; 2]| Path::open(Layer::Mark, vec![[x, a], [x, b]]);
    drawing.paths.extend(pieces.into_iter().map(line));
    if !whole && tick >= TICK {
        for y in [low + tick + MARK_TEXT, high - tick - MARK_TEXT] {
            drawing.labels.push(Label {
                at: [x, y],
                height: MARK_TEXT,
                angle: 0.0,
                centred: true,
                text: letter.to_owned(),
            });
        }
    }
}

/// Length of the ticks that mark a centre line, mm.
const TICK: f64 = 25.0;
/// Height of the letters C and V and of the words beside bend lines, mm.
const MARK_TEXT: f64 = 7.0;
/// Words beside a bend line may fill this share of the way to the next one.
const BEND_TEXT_ROOM: f64 = 0.3;

/// Writes direction, angle and inside radius along a bend line, left of its longest piece near the top.
fn say_bend(drawing: &mut Drawing, bend: &BendLine, pieces: &[[f64; 2]], room: f64) {
    let length = |s: &[f64; 2]| s[1] - s[0];
    let Some(&piece) = pieces.iter().max_by(|a, b| length(a).total_cmp(&length(b))) else { return };
    let round = |x: f64| format!("{x:.1}").trim_end_matches(".0").to_owned();
    let way = if bend.up { "up" } else { "down" };
    let text = format!("{way} {}° R{}", round(bend.angle), round(bend.radius));
    let least = TEXT_HEIGHT.0 / 2.0;
    let height = MARK_TEXT.min(room * BEND_TEXT_ROOM).min(length(&piece) / lettering::width(&text, 1.6));
    if height >= least {
        let top = piece[1] - 0.2 * length(&piece) - lettering::width(&text, height) / 2.0;
        let at = [bend.across - 0.9 * height, top.max((piece[0] + piece[1]) / 2.0)];
        drawing.labels.push(Label { at, height, angle: 90.0, centred: true, text });
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
    let widest = lettering::width(lines[0], 1.0).max(lettering::width(lines[1], NOTE));
    // Try rows up the part, the middle first; a block of writing needs its width on two levels.
    let mut best: Option<(f64, [f64; 2])> = None;
    for row in 0..ROWS - 1 {
        let aside = f64::from(row.div_ceil(2)) * if row % 2 == 0 { -1.0 } else { 1.0 };
        let y = (low[1] + high[1]) / 2.0 + (high[1] - low[1]) * aside / f64::from(ROWS);
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
            if best.is_none_or(|(h, _)| height > h * WORTH_MOVING) {
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
    for (text, offset, scale) in [(lines[0], 1.6, 1.0), (lines[1], 0.2, NOTE)] {
        drawing.labels.push(Label {
            at: [x, y + offset * height],
            height: height * scale,
            angle: 0.0,
            centred: true,
            text: text.to_owned(),
        });
    }
    arrow(drawing, part, [x, y - 1.6 * height], height);
}

/// Height of the note under the name, in heights of the name.
const NOTE: f64 = 0.7;

/// Writing leaves a row nearer the middle only for letters larger by this factor.
const WORTH_MOVING: f64 = 1.25;
/// Rows of writing places that are tried up a part.
const ROWS: u32 = 12;
/// Height of the block of name, note and arrow, in text heights.
const BLOCK: f64 = 6.0;

/// Where a direction of space points, in words: `south-east`, `north and up`, `down`.
pub(super) fn compass(n: &Vector3<f64>) -> String {
    const WORDS: [&str; 8] =
        ["east", "north-east", "north", "north-west", "west", "south-west", "south", "south-east"];
    let level = n.x.hypot(n.y);
    let upright = if n.z > 0.0 { "up" } else { "down" };
    // Eighths of a turn; a direction within one sixteenth of upright has no compass point.
    let eighth = std::f64::consts::FRAC_PI_4;
    let slope = n.z.abs().atan2(level);
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and 7")]
    let word = WORDS[(n.y.atan2(n.x) / eighth).round().rem_euclid(8.0) as usize];
    if slope > 1.5 * eighth {
        upright.to_owned()
    } else if slope > 0.5 * eighth {
        format!("{word} and {upright}")
    } else {
        word.to_owned()
    }
}

/// The note of a template: what it is, which side is seen, and where that side looks in the work.
pub(super) fn note(part: &Part, what: &str, side: &str) -> String {
    let faces = compass(&part.frame.n);
    match part.kind {
        PartKind::Sheet { .. } => format!("{what}, {side}, faces {faces}"),
        // A strip stands between two sheets: it has no outside.
        PartKind::Closure { .. } => format!("faces {faces}"),
    }
}

/// An arrow for up (on a level face: for +y), with its word.
fn arrow(drawing: &mut Drawing, part: &Part, at: [f64; 2], height: f64) {
    let f = &part.frame;
    let (word, aim) =
        if f.n.cross(&Vector3::z()).norm() < LEVEL { ("+Y", Vector3::y()) } else { ("UP", Vector3::z()) };
    // On a sheet's page −v runs to the right and u up; a closure strip lies as its own axes do.
    let d = match part.kind {
        PartKind::Sheet { .. } => [-aim.dot(&f.v), aim.dot(&f.u)],
        PartKind::Closure { .. } => [aim.dot(&f.u), aim.dot(&f.v)],
    };
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
    // Drawn as lettering is, so that it prints as black; an outline, so that it is seen from across the room.
    let half = [(-1.0, 0.18), (0.2, 0.18), (0.2, 0.5), (1.0, 0.0)];
    let outline = half.iter().copied().chain(half[..3].iter().rev().map(|&(a, c)| (a, -c)));
    drawing.paths.push(Path::closed(Layer::Text, outline.map(|(a, c)| point(a, c)).collect()));
    drawing.labels.push(Label {
        at: [at[0] + height * 1.9, at[1]],
        height: height * 0.6,
        angle: 0.0,
        centred: true,
        text: word.to_owned(),
    });
}
