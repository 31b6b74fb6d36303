//! The picture of a changed part: the old outline dashed, the new one solid, laid on each other as they were compared,
//! with a ring where they lie farthest apart.

use super::compare::PartChange;
use super::outline::ALIKE;
use super::record::{Bend, PartRecord, bounds};
use crate::drawing::{Drawing, Label, Layer, Path};
use crate::lettering;
use crate::template::room::{Tilted, Words, beside, leader};

/// Height of letters, as a share of the picture's larger side.
const LETTERS: f64 = 0.022;

/// Draws a part before and after. Old lines are dashed: outline ([`Layer::Outline`]) and bends ([`Layer::Helper`]); the
/// new outline is solid, with its bends; a bend that stays is drawn once.
pub fn picture(old: &PartRecord, new: &PartRecord, change: &PartChange) -> Drawing {
    let [dx, dy] = change.laid_mm;
    let moved = |o: &Vec<[f64; 2]>| o.iter().map(|p| [p[0] + dx, p[1] + dy]).collect::<Vec<_>>();
    let before: Vec<Vec<[f64; 2]>> = old.outlines_mm.iter().map(moved).collect();
    let mut paths = Vec::new();
    let outline = |layer: Layer, points: &Vec<[f64; 2]>| Path { layer, points: points.clone(), closed: true };
    let spans = [bounds(&before), bounds(&new.outlines_mm)];
    let upright = |layer: Layer, x: f64, [lo, hi]: [[f64; 2]; 2]| Path {
        layer,
        points: vec![[x, lo[1]], [x, hi[1]]],
        closed: false,
    };
    let bend = |angle: f64| if angle > 0.0 { Layer::BendUp } else { Layer::BendDown };
    // Two lines of dashes on each other would read as a third kind.
    let stays = |b: &Bend| {
        let same = |c: &Bend| (c.across_mm - b.across_mm - dx).abs() <= ALIKE && c.angle_deg == b.angle_deg;
        new.bends.iter().any(same)
    };
    let gone = old.bends.iter().filter(|b| !stays(b));
    paths.extend(gone.map(|b| upright(Layer::Helper, b.across_mm + dx, spans[0])));
    paths.extend(new.bends.iter().map(|b| upright(bend(b.angle_deg), b.across_mm, spans[1])));
    paths.extend(before.iter().map(|o| outline(Layer::Outline, o)));
    paths.extend(new.outlines_mm.iter().map(|o| outline(Layer::Cut, o)));
    paths.retain(|p| p.points.len() >= if p.closed { 3 } else { 2 });
    let by = change.changed_by_mm.map(|mm| format!("by {mm:.2} mm"));
    let words: Vec<String> = by.into_iter().chain(change.why.iter().cloned()).collect();
    // Where bends alone moved there is no place to ring.
    let widest = widest(&before, &new.outlines_mm).filter(|w| w.apart > ALIKE);
    let legend = if widest.is_some() { LEGEND_WITH_RING } else { LEGEND };
    let lines = [format!("{}: changed {}", change.id, words.join("; ")), legend.to_owned()];
    let lo = [0, 1].map(|k| spans[0][0][k].min(spans[1][0][k]));
    let hi = [0, 1].map(|k| spans[0][1][k].max(spans[1][1][k]));
    let height = LETTERS * (hi[0] - lo[0]).max(hi[1] - lo[1]).max(1.0);
    let ring = widest.map(|w| w.ring(height, f64::midpoint(lo[0], hi[0]), &paths));
    // The words stand above the ring and its figure, which reach beyond a slim part.
    let figure = ring.iter().map(|(_, label)| label.at[1] + label.height);
    let top = ring
        .iter()
        .flat_map(|(ring, _)| ring)
        .flat_map(|p| &p.points)
        .map(|p| p[1])
        .chain(figure)
        .fold(hi[1], f64::max);
    let labels = (1..).zip(lines).map(|(k, text)| Label {
        at: [lo[0], top + height * (5.0 - 2.0 * f64::from(k))],
        height,
        angle: 0.0,
        centred: false,
        text,
    });
    let mut labels: Vec<Label> = labels.collect();
    if let Some((ring, label)) = ring {
        paths.extend(ring);
        labels.push(label);
    }
    Drawing { name: change.id.clone(), title: change.id.clone(), labels, paths, diagram: false }
}

const LEGEND: &str = "old outline dashed, new outline solid";
const LEGEND_WITH_RING: &str = "old outline dashed, new outline solid, ring round the corner farthest off";

/// The corner that lies farthest from the other outline.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Widest {
    /// Between the corner and what is nearest to it on the other outline.
    middle: [f64; 2],
    /// How far the two lie apart, mm.
    apart: f64,
}

impl Widest {
    /// The ring round it and the figure beside it, where no outline and no bend runs through it; first on the side away
    /// from the middle of the picture. A figure that finds room only farther off has a line to its ring.
    fn ring(&self, height: f64, middle: f64, drawn: &[Path]) -> (Vec<Path>, Label) {
        const CORNERS: u32 = 36;
        let radius = (0.75 * self.apart).max(1.4 * height);
        let points = (0..CORNERS).map(|k| {
            let (sin, cos) = (std::f64::consts::TAU * f64::from(k) / f64::from(CORNERS)).sin_cos();
            [self.middle[0] + radius * cos, self.middle[1] + radius * sin]
        });
        let ring = Path { layer: Layer::Mark, points: points.collect(), closed: true };
        let text = format!("{:.2}", self.apart);
        let words = Words::new(&text);
        let toward = if self.middle[0] < middle { 180.0 } else { 0.0 };
        let free = |area: &Tilted| !drawn.iter().flat_map(Path::segments).any(|s| area.meets(s));
        let aside = radius + height + lettering::width(&text, height) / 2.0;
        let beside_it = [self.middle[0] + if toward > 0.0 { -aside } else { aside }, self.middle[1]];
        let (at, off) = beside(&words, height, (self.middle, radius), toward, free)
            .map_or((beside_it, 0.0), |(at, _, off)| (at, off));
        let mut paths = vec![ring];
        paths
            .extend(leader((self.middle, radius), at, off, height).map(|line| Path::open(Layer::Mark, line)));
        (paths, words.label(at, height, 0.0))
    }
}

/// Of all corners the one farthest from the other outline; the first of equals.
fn widest(before: &[Vec<[f64; 2]>], after: &[Vec<[f64; 2]>]) -> Option<Widest> {
    let mut widest: Option<Widest> = None;
    for (corners, other) in [(after, before), (before, after)] {
        for p in corners.iter().flatten() {
            let (mut near, mut least) = (*p, f64::INFINITY);
            for outline in other {
                for (i, a) in outline.iter().enumerate() {
                    let b = outline[(i + 1) % outline.len()];
                    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
                    let square = dx * dx + dy * dy;
                    let along = (p[0] - a[0]) * dx + (p[1] - a[1]) * dy;
                    let share = if square > 0.0 { (along / square).clamp(0.0, 1.0) } else { 0.0 };
                    let q = [a[0] + dx * share, a[1] + dy * share];
                    let apart = (p[0] - q[0]) * (p[0] - q[0]) + (p[1] - q[1]) * (p[1] - q[1]);
                    if apart < least {
                        (near, least) = (q, apart);
                    }
                }
            }
            let apart = least.sqrt();
            if apart.is_finite() && widest.is_none_or(|w| apart > w.apart) {
                let middle = [f64::midpoint(p[0], near[0]), f64::midpoint(p[1], near[1])];
                widest = Some(Widest { middle, apart });
            }
        }
    }
    widest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ring_stands_where_one_corner_was_pulled_out() {
        let square = vec![vec![[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]]];
        let pulled = vec![vec![[0.0, 0.0], [100.0, 0.0], [130.0, 140.0], [0.0, 100.0]]];
        // The corner (130, 140) lies 50 from (100, 100), which is nearest.
        let found = widest(&square, &pulled).expect("something");
        assert_eq!(found, Widest { middle: [115.0, 120.0], apart: 50.0 });
        let (ring, label) = found.ring(10.0, 65.0, &[]);
        assert!(label.at[0] > 115.0 + 37.5 && label.text == "50.00", "{label:?}");
        assert!(ring[0].points.iter().all(|p| ((p[0] - 115.0).hypot(p[1] - 120.0) - 37.5).abs() < 1e-9));
        // An outline right beside the ring: the figure goes where it is free, and a line says what it belongs to.
        let wall = |x: f64| Path::open(Layer::Cut, vec![[x, -200.0], [x, 300.0]]);
        let walls = [wall(160.0), wall(176.0), wall(192.0)];
        let (_, label) = found.ring(10.0, 65.0, &walls);
        let area = Words::new(&label.text).area(label.at, 10.0, 0.0);
        assert!(!walls.iter().flat_map(Path::segments).any(|s| area.meets(s)), "{label:?}");
        assert_eq!(widest(&square, &square).map(|w| w.apart), Some(0.0));
        assert_eq!(widest(&square, &[]), None);
    }
}
