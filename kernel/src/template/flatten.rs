//! Flattening: what all templates share. A part's outline is laid out with its ribs running up the page,
//! seen from outside, and gets its marks and its writing.

use super::room::{Room, Tilted, inside};
use super::writing::{LINE, Letters, Page, Tick};
use super::{BendLine, Template};
use crate::drawing::{Drawing, Layer, Path, signed_area};
use crate::marks::valley_of;
use crate::part::{Part, PartKind};
use crate::profile::{Piece, Profile};
use crate::survey::Wander;
use nalgebra::Vector3;

/// How a template lays t out across the page.
pub(super) struct Layout<'a> {
    /// The template kind's name.
    pub(super) kind: &'a str,
    /// A line of writing under the part's name: what the template is and which side is seen.
    pub(super) note: String,
    /// Position across the sheet for each t counted from a crest, mm; ascending.
    pub(super) across: &'a dyn Fn(f64) -> f64,
    /// On a surveyed sheet: how much further across (s, t counted from the crest) lies than on a true one, mm.
    pub(super) aside: Option<&'a dyn Fn(f64, f64) -> f64>,
    /// Whether bend lines are drawn (a blank), or fold marks (all others).
    pub(super) bend_lines: bool,
}

/// A fold or bend of one pitch of a profile.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Bend {
    /// Middle of the bend along its arc, from the crest, mm.
    t: f64,
    /// Where it begins and ends, mm.
    span: [f64; 2],
    /// Radians; positive is convex outward.
    turn: f64,
    /// Middle-skin radius, mm.
    radius: f64,
}

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
    let page = |p: [f64; 2]| {
        let q = place(&p);
        [q[0] - corner[0], q[1] - corner[1]]
    };
    let ticks: Vec<Tick> = part.marks.iter().filter_map(|mark| Tick::new(mark, &page)).collect();
    let mut sheet = Page { room: Room::new(&outlines, part.marking.clearance), drawing, outlines };
    let (mut bends, mut letters) = (Vec::new(), Letters::default());
    if let PartKind::Sheet { profile, phase, .. } = &part.kind {
        let x = |t: f64| -(layout.across)(t) - corner[0];
        let ts = part.outlines.iter().flatten().map(|p| p[1] - phase);
        let span = ts.fold([f64::INFINITY, f64::NEG_INFINITY], |s, t| [s[0].min(t), s[1].max(t)]);
        mark_ribs(&mut sheet, profile, span, &x, layout, &ticks, (&mut bends, &mut letters));
    }
    // What must be there first: it gets the best room.
    sheet.draw_ticks(&ticks, &part.marking);
    let datum = sheet.draw_datum(part, corner[1]);
    sheet.write_block(part, &layout.note);
    sheet.write_bends(&letters);
    sheet.write_neighbours(part);
    sheet.write_letters(&letters);
    let mut area = area;
    let mut cut_length = cut_length;
    if let (Some(aside), PartKind::Sheet { phase, wander: Some(wander), .. }) = (layout.aside, &part.kind) {
        let wandered = Wandered { part, phase: *phase, wander, layout, aside, corner };
        wandered.draw(&mut sheet.drawing);
        let cuts = || sheet.drawing.paths.iter().filter(|p| p.layer == Layer::Cut);
        area = cuts().map(|p| signed_area(&p.points)).sum();
        cut_length = cuts().map(Path::length).sum();
    }
    bends.sort_by(|a, b| a.across.total_cmp(&b.across));
    for (number, bend) in (1..).zip(&mut bends) {
        bend.number = number;
    }
    Template {
        kind: layout.kind.to_owned(),
        part: part.id.clone(),
        drawing: sheet.drawing,
        area,
        cut_length,
        bends,
        datum,
    }
}

/// A drawing of the nominal sheet, to be put on one that wanders.
struct Wandered<'a> {
    part: &'a Part,
    phase: f64,
    wander: &'a Wander,
    layout: &'a Layout<'a>,
    aside: &'a dyn Fn(f64, f64) -> f64,
    /// Where the drawing's (0, 0) lies.
    corner: [f64; 2],
}

impl Wandered<'_> {
    /// Moves everything to where it lies on the sheet: outlines corner by corner, lines along the ribs station by
    /// station; a line across the ribs stays straight.
    fn draw(&self, drawing: &mut Drawing) {
        let mut outlines = self.part.outlines.iter();
        for path in &mut drawing.paths {
            if path.layer == Layer::Cut
                && let Some(outline) = outlines.next()
            {
                for (p, at) in path.points.iter_mut().zip(outline) {
                    p[0] -= (self.aside)(at[0], at[1] - self.phase);
                }
                continue;
            }
            if let [a, b] = path.points[..]
                && (b[1] - a[1]).abs() > (b[0] - a[0]).abs()
            {
                let at = |y: f64| [a[0] + (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]), y];
                let (low, high) = (a[1].min(b[1]), a[1].max(b[1]));
                let stations = self.wander.stations().iter().map(|s| s - self.corner[1]);
                let mut between: Vec<_> = stations.filter(|y| *y > low && *y < high).map(at).collect();
                if b[1] < a[1] {
                    between.reverse();
                }
                path.points = [&[a][..], &between, &[b]].concat();
            }
            for p in &mut path.points {
                p[0] -= (self.aside)(p[1] + self.corner[1], self.nominal(p[0]));
            }
        }
    }

    /// t, from the crest, of what is drawn at x: the layout undone by halving.
    fn nominal(&self, x: f64) -> f64 {
        let across = -(x + self.corner[0]);
        let (mut low, mut high) = (-FAR, FAR);
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(low, high);
            if (self.layout.across)(middle) < across { low = middle } else { high = middle }
        }
        f64::midpoint(low, high)
    }
}

/// No sheet is wider, mm, and how often that is halved to find a place on one to a nanometre.
const FAR: f64 = 1.0e6;
const HALVINGS: u32 = 50;

/// Crest and valley lines, and folds or bend lines; their letters and words are gathered for later.
fn mark_ribs(
    sheet: &mut Page,
    profile: &Profile,
    span: [f64; 2],
    x: &dyn Fn(f64) -> f64,
    layout: &Layout<'_>,
    ticks: &[Tick],
    (bends, letters): (&mut Vec<BendLine>, &mut Letters),
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
            for stretch in inside(&sheet.outlines, x(t)) {
                // A wave has no folds to lay the template by: there the crest is a whole line.
                let whole = shape.is_empty() && t == start;
                centre_line(sheet, x(t), stretch, (letter, whole), ticks, letters);
            }
        }
        for bend in &shape {
            let at = x(start + bend.t);
            let pieces = inside(&sheet.outlines, at);
            let layer = match (layout.bend_lines, bend.turn > 0.0) {
                (true, true) => Layer::BendDown,
                (true, false) => Layer::BendUp,
                (false, _) => Layer::Mark,
            };
            let [left, right] = [x(start + bend.span[1]), x(start + bend.span[0])];
            let reached = !pieces.is_empty() || (x(span[0]) > left + REACHED && x(span[1]) < right - REACHED);
            if reached && layout.bend_lines {
                let line = BendLine {
                    across: at,
                    angle: bend.turn.abs().to_degrees(),
                    up: bend.turn < 0.0,
                    radius: (bend.radius - profile.thickness() / 2.0).max(0.0),
                    number: 0,
                    allowance: right - left,
                    drawn: !pieces.is_empty(),
                };
                let room = shape.iter().map(|b| (b.t - bend.t).abs()).filter(|&d| d > 0.0);
                if line.drawn {
                    letters.bends.push((line, pieces.clone(), room.fold(pitch, f64::min)));
                }
                bends.push(line);
            }
            for &[a, b] in &pieces {
                sheet.room.draw_line([[at, a], [at, b]]);
                sheet.drawing.paths.push(Path::open(layer, vec![[at, a], [at, b]]));
            }
        }
    }
}

/// A crest's or valley's centre line: ticks at both ends with its letter, or a whole line. Where a match mark
/// stands for the tick there is no second one.
fn centre_line(
    sheet: &mut Page,
    x: f64,
    [low, high]: [f64; 2],
    (letter, whole): (&'static str, bool),
    ticks: &[Tick],
    letters: &mut Letters,
) {
    let tick = ((high - low) / 8.0).min(TICK);
    let line = |[a, b]: [f64; 2]| Path::open(Layer::Mark, vec![[x, a], [x, b]]);
    if whole {
        sheet.drawing.paths.push(line([low, high]));
        sheet.room.draw_line([[x, low], [x, high]]);
        return;
    }
    for (end, way) in [(low, 1.0), (high, -1.0)] {
        let stands =
            |t: &&Tick| (t.at[0] - x).hypot(t.at[1] - end) < SAME && (t.into[1] * way - 1.0).abs() < SAME;
        if !ticks.iter().any(|t| stands(&t)) {
            sheet.drawing.paths.push(line([end, end + tick * way]));
            sheet.room.take(Tilted::around([[x, end], [x, end + tick * way]], LINE));
        }
        if tick >= TICK {
            letters.centres.push(([x, end + way * (tick + MARK_TEXT)], letter));
        }
    }
}

/// Marks closer than this are the same mark, mm and as a share of a unit direction.
const SAME: f64 = 0.05;
/// A part that reaches into a bend by less is rounding, mm.
const REACHED: f64 = 1.0e-6;
/// Length of the ticks that mark a centre line, mm.
const TICK: f64 = 25.0;
/// Height of the letters C and V and of the words beside bend lines, mm.
const MARK_TEXT: f64 = 7.0;

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
                let span = if span[0].is_finite() { span } else { [last_end; 2] };
                last_end = span[1];
                if alone {
                    found.push(Bend { t: arc_middle(profile, i).unwrap_or(last_end), span, turn, radius });
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
        let span = if radius > 0.0 { [ends(count - 1)[0] - profile.pitch(), ends(0)[1]] } else { [0.0; 2] };
        found.push(Bend { t: 0.0, span, turn: turn + last, radius });
    }
    found
}

/// Where half of a piece's length along the skin is passed, from the crest, mm: not the middle in t, for an
/// arc that starts level runs forward faster there. None for a sharp corner.
fn arc_middle(profile: &Profile, piece: usize) -> Option<f64> {
    let strips = || profile.strips().iter().filter(|s| s.piece == piece);
    let half = f64::midpoint(strips().next()?.w[0], strips().next_back()?.w[1]);
    let strip = strips().find(|s| half <= s.w[1])?;
    Some(strip.t[0] + (strip.t[1] - strip.t[0]) * (half - strip.w[0]) / (strip.w[1] - strip.w[0]))
}

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
    match &part.kind {
        PartKind::Sheet { wander: Some(wander), .. } => {
            format!("{what}, {side}, faces {faces}, for sheet {} only", wander.sheet())
        }
        PartKind::Sheet { .. } => format!("{what}, {side}, faces {faces}"),
        // A strip stands between two sheets: it has no outside.
        PartKind::Closure { .. } => format!("faces {faces}"),
    }
}
