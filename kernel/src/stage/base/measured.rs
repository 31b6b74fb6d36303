//! Anchors as a tape finds them: from a corner of the base plate, along its longest straight side and square to it.
//!
//! The work's origin is nowhere to be seen on a plate that lies in the yard; a corner is where a tape is hooked on. All
//! figures run from it, none from the hole before, so that errors do not add up.

use super::super::sketch::{label, spread};
use crate::base::BasePlate;
use crate::drawing::{Drawing, Label, Layer, Path};
use crate::polygon::hull;
use crate::template::room::{Tilted, Words, beside, leader};

/// Where the tape is hooked on, and the two ways it runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TapeDatum {
    /// The corner, mm about the plate's origin.
    pub(super) corner: [f64; 2],
    /// Unit vector along the side.
    along: [f64; 2],
    /// Unit vector square to it, into the plate.
    across: [f64; 2],
    /// How far the plate reaches along and across, mm.
    size: [f64; 2],
    /// How far it reaches the other way, 0 or less: behind a corner that is not square, mm.
    behind: [f64; 2],
}

/// Sides that differ in length by less than this share are equal: the southern one is taken.
const EQUAL: f64 = 1.0e-3;
/// Figures nearer to each other than this are one, mm.
const SAME: f64 = 0.5;
/// More figures than this on one side are left to the schedule.
const MOST_FIGURES: usize = 24;
/// Distance of figures beside each other, in heights.
const APART: f64 = 1.6;
/// Room around a number, in heights: letters in the job book may be a little larger than drawn.
const AROUND: f64 = 0.4;
/// The direction in which the place of a number is tried first, degrees.
const FIRST: f64 = 45.0;

impl TapeDatum {
    /// The datum of a plate: the longest side of what a straightedge finds, its western (then southern) end.
    pub(super) fn of(plate: &BasePlate) -> Option<Self> {
        let points: Vec<[f64; 2]> = plate.outlines.iter().flatten().copied().collect();
        let ring = hull(points.clone());
        if ring.len() < 3 {
            return None;
        }
        let side = |i: usize| [ring[i], ring[(i + 1) % ring.len()]];
        let length = |[a, b]: [[f64; 2]; 2]| (b[0] - a[0]).hypot(b[1] - a[1]);
        let longest = (0..ring.len()).map(|i| length(side(i))).fold(0.0, f64::max);
        let south = |i: &usize| side(*i).iter().map(|p| p[1]).sum::<f64>();
        let [a, b] = (0..ring.len())
            .filter(|&i| length(side(i)) >= longest * (1.0 - EQUAL))
            .min_by(|i, k| south(i).total_cmp(&south(k)))
            .map(side)?;
        let long = length([a, b]);
        if long <= 0.0 {
            return None;
        }
        // The hull runs counter-clockwise: the plate lies to the left of its sides.
        let toward = [(b[0] - a[0]) / long, (b[1] - a[1]) / long];
        let across = [-toward[1], toward[0]];
        let turned = b[0] < a[0] - SAME || ((b[0] - a[0]).abs() <= SAME && b[1] < a[1]);
        let (corner, along) = if turned { (b, toward.map(|x| -x)) } else { (a, toward) };
        let mut datum = Self { corner, along, across, size: [0.0; 2], behind: [0.0; 2] };
        for p in points {
            let at = datum.taped(p);
            datum.size = [0, 1].map(|i| datum.size[i].max(at[i]));
            datum.behind = [0, 1].map(|i| datum.behind[i].min(at[i]));
        }
        // Rounding is no reach.
        datum.behind = datum.behind.map(|x| if x < -SAME { x } else { 0.0 });
        Some(datum)
    }

    /// How far a point lies along the side and square to it, mm.
    pub(super) fn taped(&self, p: [f64; 2]) -> [f64; 2] {
        let d = [p[0] - self.corner[0], p[1] - self.corner[1]];
        [self.along, self.across].map(|u| d[0] * u[0] + d[1] * u[1])
    }

    /// Whether a side lies on one of the two lines that the tape follows; the drawing's own origin is at `low`.
    pub(super) fn runs_along(&self, side: [[f64; 2]; 2], low: [f64; 2]) -> bool {
        let [a, b] = side.map(|p| self.taped([p[0] + low[0], p[1] + low[1]]));
        (0..2).any(|i| a[i].abs() < SAME && b[i].abs() < SAME)
    }

    fn place(&self, [along, across]: [f64; 2]) -> [f64; 2] {
        [0, 1].map(|i| self.corner[i] + self.along[i] * along + self.across[i] * across)
    }

    /// Which corner it is, for people: `south-west`.
    pub(super) fn corner_words(&self, plate: &BasePlate) -> &'static str {
        let points = || plate.outlines.iter().flatten();
        let middle = [0, 1].map(|i| {
            let [low, high] = points()
                .map(|p| p[i])
                .fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], x| [l.min(x), h.max(x)]);
            f64::midpoint(low, high)
        });
        match [self.corner[0] < middle[0], self.corner[1] < middle[1]] {
            [true, true] => "south-west",
            [true, false] => "north-west",
            [false, true] => "south-east",
            [false, false] => "north-east",
        }
    }

    /// Figures that run from the corner to every anchor and to the far edges, on lines outside of the plate; whether
    /// there was room for them. The drawing's own origin is at `low`.
    pub(super) fn draw(
        &self,
        drawing: &mut Drawing,
        low: [f64; 2],
        places: &[[f64; 2]],
        height: f64,
    ) -> bool {
        let at: Vec<[f64; 2]> = places.iter().map(|p| self.taped(*p)).collect();
        let runs: Vec<Vec<f64>> = (0..2)
            .map(|i| {
                let mut run: Vec<f64> =
                    at.iter().map(|p| p[i]).chain([self.behind[i], 0.0, self.size[i]]).collect();
                run.sort_by(f64::total_cmp);
                run.dedup_by(|b, a| (*b - *a).abs() < SAME);
                run
            })
            .collect();
        if runs.iter().any(|r| r.len() > MOST_FIGURES) {
            return false;
        }
        let on_page = |p: [f64; 2]| {
            let p = self.place(p);
            [p[0] - low[0], p[1] - low[1]]
        };
        for (i, run) in runs.iter().enumerate() {
            let other = |x: f64, aside: f64| if i == 0 { [x, aside] } else { [aside, x] };
            // Beside all of the plate, not only beside the corner.
            let beside = |heights: f64| self.behind[1 - i] - heights * height;
            let written = spread(run, APART * height);
            let ends = [self.behind[i], self.size[i]].map(|x| on_page(other(x, beside(1.8))));
            drawing.paths.push(Path::open(Layer::Helper, ends.to_vec()));
            for (&x, &shown) in run.iter().zip(&written) {
                let points = [(x, 0.4), (x, 2.3), (shown, 3.2)].map(|(x, a)| on_page(other(x, beside(a))));
                drawing.paths.push(Path::open(Layer::Helper, points.to_vec()));
                let text = format!("{x:.0}");
                // Figures stand across their line, so that many find room beside each other.
                let away = beside(3.6) - crate::lettering::width(&text, height) / 2.0;
                let way = if i == 0 { self.across } else { self.along };
                let angle = readable(way[1].atan2(way[0]).to_degrees());
                drawing.labels.push(Label { angle, ..label(on_page(other(shown, away)), height, text) });
            }
        }
        true
    }

    /// A ring round the corner where the tape is hooked on.
    pub(super) fn ring(&self, drawing: &mut Drawing, low: [f64; 2], height: f64) {
        let corner = [0, 1].map(|i| self.corner[i] - low[i]);
        let ring = (0..16).map(|k| {
            let (s, c) = (f64::from(k) * std::f64::consts::TAU / 16.0).sin_cos();
            [corner[0] + 0.6 * height * c, corner[1] + 0.6 * height * s]
        });
        drawing.paths.push(Path::closed(Layer::Mark, ring.collect()));
    }
}

/// An angle by which words are read from below or from the right, degrees.
pub(super) fn readable(angle: f64) -> f64 {
    /// Words that stand upright but for rounding are read from the right.
    const UPRIGHT: f64 = 1.0e-3;
    if angle > 90.0 + UPRIGHT {
        angle - 180.0
    } else if angle <= -90.0 + UPRIGHT {
        angle + 180.0
    } else {
        angle
    }
}

/// Puts the number of each anchor where it lies on no line, no hole and no other writing, as near to its hole as can be;
/// a number that had to go far is joined to its hole by a line. `places` are mm of the drawing.
pub(super) fn number(drawing: &mut Drawing, places: &[[f64; 2]], radius: f64, height: f64) {
    let mut taken: Vec<Tilted> = drawing
        .labels
        .iter()
        .map(|l| {
            let words = Words::new(&l.text);
            words.area(l.at, l.height, l.angle).grown(AROUND * height)
        })
        .collect();
    let segments: Vec<[[f64; 2]; 2]> =
        drawing.paths.iter().flat_map(|p| p.segments().collect::<Vec<_>>()).collect();
    let (mut leaders, mut labels) = (Vec::new(), Vec::new());
    for (k, p) in places.iter().enumerate() {
        let words = Words::new(&(k + 1).to_string());
        let free = |area: &Tilted| {
            !segments.iter().any(|s| area.meets(*s)) && !taken.iter().any(|t| t.touches(area))
        };
        let above = [p[0], p[1] + radius + height];
        let (at, area, off) = beside(&words, height, (*p, radius), FIRST, free)
            .unwrap_or_else(|| (above, words.area(above, height, 0.0), 0.0));
        leaders.extend(leader((*p, radius), at, off, height).map(|line| Path::open(Layer::Helper, line)));
        taken.push(area);
        labels.push(words.label(at, height, 0.0));
    }
    drawing.paths.extend(leaders);
    drawing.labels.extend(labels);
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;

    fn plate(ring: Vec<[f64; 2]>) -> BasePlate {
        let (origin, centre) = (Point3::origin(), Point3::origin());
        BasePlate { origin, outlines: vec![ring], thickness: 10.0, area: 1.0, mass: 1.0, centre }
    }

    /// A rectangle of 400 × 300 mm turned by the angle of the triangle 3, 4, 5: an anchor 40 mm from two sides.
    #[test]
    fn a_tape_finds_an_anchor_from_the_corner_of_a_plate_that_lies_askew() {
        let turned = |x: f64, y: f64| [0.8 * x - 0.6 * y + 7.0, 0.6 * x + 0.8 * y - 5.0];
        let corners = [[0.0, 0.0], [400.0, 0.0], [400.0, 300.0], [0.0, 300.0]];
        let ring: Vec<[f64; 2]> = corners.iter().map(|&[x, y]| turned(x, y)).collect();
        let datum = TapeDatum::of(&plate(ring)).expect("a corner");
        for (at, wanted) in [([40.0, 40.0], [40.0, 40.0]), ([360.0, 260.0], [360.0, 260.0])] {
            let found = datum.taped(turned(at[0], at[1]));
            assert!((0..2).all(|i| (found[i] - wanted[i]).abs() < SAME), "{found:?}");
        }
        assert!((datum.size[0] - 400.0).abs() < SAME && (datum.size[1] - 300.0).abs() < SAME, "{datum:?}");
    }

    /// A plate of six sides reaches behind every corner: its figures stand beside all of it.
    #[test]
    fn figures_run_outside_of_a_plate_whose_corners_are_not_square() {
        let ring: Vec<[f64; 2]> = (0..6)
            .map(|k| f64::from(k) * std::f64::consts::FRAC_PI_3)
            .map(|a| [400.0 * a.cos(), 500.0 * a.sin()])
            .collect();
        let datum = TapeDatum::of(&plate(ring.clone())).expect("a corner");
        assert!(datum.behind.iter().any(|x| *x < -100.0), "{datum:?}");
        let mut drawing = Drawing::default();
        assert!(datum.draw(&mut drawing, [0.0; 2], &[[100.0, 20.0], [-150.0, -60.0]], 20.0));
        assert!(drawing.labels.len() > 6);
        let drawn = drawing.paths.iter().flat_map(|p| p.segments().collect::<Vec<_>>()).flatten();
        for p in drawn.chain(drawing.labels.iter().map(|l| l.at)) {
            assert!(!crate::polygon::holds(&ring, p), "{p:?} lies on the plate");
        }
        assert!(drawing.labels.iter().all(|l| l.text != "-0"));
    }

    #[test]
    fn of_equal_sides_the_southern_one_from_its_western_end() {
        let square = vec![[-50.0, -50.0], [50.0, -50.0], [50.0, 50.0], [-50.0, 50.0]];
        let plate = plate(square);
        let datum = TapeDatum::of(&plate).expect("a corner");
        assert_eq!((datum.corner, datum.corner_words(&plate)), ([-50.0, -50.0], "south-west"));
    }

    /// Holes so near to the edge that a number between them would touch both.
    #[test]
    fn numbers_lie_on_no_line_and_not_on_each_other() {
        let ring = vec![[0.0, 0.0], [300.0, 0.0], [300.0, 200.0], [0.0, 200.0]];
        let mut drawing = Drawing { paths: vec![Path::closed(Layer::Cut, ring)], ..Drawing::default() };
        let places = [[8.0, 8.0], [292.0, 8.0], [292.0, 192.0], [8.0, 192.0], [22.0, 8.0]];
        number(&mut drawing, &places, 5.0, 10.0);
        assert_eq!(drawing.labels.len(), places.len(), "every anchor has its number");
        let areas: Vec<Tilted> =
            drawing.labels.iter().map(|l| Words::new(&l.text).area(l.at, l.height, 0.0)).collect();
        for (i, a) in areas.iter().enumerate() {
            assert!(!drawing.paths[0].segments().any(|s| a.meets(s)), "number {} on the edge", i + 1);
            assert!(areas[..i].iter().all(|b| !a.touches(b)), "number {} on another", i + 1);
        }
    }
}
