//! Glue tabs on nets: one for each pair of edges that meet, on the side with more room.
//!
//! A tab is a trapezoid whose ends are mitred by at most half the angle of the face it is glued behind, so that
//! tabs on one face never cover each other; it stays within that face, and clear of the net and of other tabs.

use super::flat::{convex_overlap, depth_in, distance, unit};
use super::shape::Shape;
use super::unfold::Net;

/// A tab on a net.
#[derive(Debug, Clone, PartialEq)]
pub struct Tab {
    /// The number of the edge it closes.
    pub number: u32,
    /// Its corners, clockwise, mm: those on the edge as the outline of the net runs, then the outer two.
    pub corners: Vec<[f64; 2]>,
}

/// A tab's place: the net, the face's place in it and the side.
#[derive(Debug, Clone)]
pub(super) struct PlacedTab {
    pub(super) net: usize,
    pub(super) at: usize,
    pub(super) side: usize,
    pub(super) tab: Tab,
}

/// What becomes of the edges that are glued.
#[derive(Debug, Clone, Default)]
pub(super) struct Tabs {
    pub(super) placed: Vec<PlacedTab>,
    /// Edges with no room for a tab on either side: a loose strip, half of it behind each face.
    pub(super) loose: Vec<(usize, [Trapezoid; 2])>,
    /// Edges too short for anything.
    pub(super) bare: Vec<usize>,
}

/// A tab in its own axes: along the edge from its start, and out from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Trapezoid {
    pub(super) length: f64,
    pub(super) height: f64,
    /// How far the outer side stands in from each end of the edge.
    pub(super) inset: [f64; 2],
}

/// Greatest mitre angle, degrees, between a tab's end and its edge.
const MITRE: f64 = 60.0;
/// A tab keeps this share of its edge as its outer side at the least.
const OUTER: f64 = 0.2;
/// A tab lower than this cannot be glued, mm.
const LEAST_HEIGHT: f64 = 1.2;
/// An edge shorter than this gets no tab, mm.
const LEAST_EDGE: f64 = 2.5;
/// Room kept between a tab and what is not its own face, mm.
const CLEAR: f64 = 0.4;
/// Heights tried, as shares of the width set, and mitres, as shares of what the face behind allows.
const HEIGHTS: [f64; 5] = [1.0, 0.75, 0.55, 0.4, 0.3];
const MITRES: [f64; 4] = [1.0, 0.7, 0.45, 0.25];
/// Slack where a tab touches its neighbours in a corner, as a share of the size.
const SLACK: f64 = 1.0e-9;

impl Trapezoid {
    /// The tab for a side of a face, glued behind `behind`; lower where the mitres would meet.
    fn new(shape: &Shape, length: f64, behind: (usize, usize), height: f64, mitre: [f64; 2]) -> Self {
        let face = &shape.faces[behind.0];
        let count = face.polygon.len();
        // The side of the face behind runs the other way: its end is our start.
        let angles = [face.angle((behind.1 + 1) % count), face.angle(behind.1)];
        let cot = [0, 1].map(|i| {
            let angle = (angles[i] / 2.0).min(MITRE.to_radians()) * mitre[i];
            1.0 / angle.tan().max(f64::MIN_POSITIVE)
        });
        let most = length * (1.0 - OUTER) / (cot[0] + cot[1]);
        let height = height.min(most);
        Self { length, height, inset: cot.map(|c| c * height) }
    }

    /// Its corners on the line from `a` to `b`, to the right of it: the ends of the edge, then the outer side.
    pub(super) fn beside(&self, a: [f64; 2], b: [f64; 2]) -> [[f64; 2]; 4] {
        let along = unit(a, b);
        let at = |p: [f64; 2], s: f64| {
            [p[0] + along[0] * s + along[1] * self.height, p[1] + along[1] * s - along[0] * self.height]
        };
        [a, b, at(b, -self.inset[1]), at(a, self.inset[0])]
    }

    fn area(&self) -> f64 {
        (self.length - (self.inset[0] + self.inset[1]) / 2.0) * self.height
    }

    /// Whether it lies within the face it is glued behind.
    fn within(&self, shape: &Shape, (face, side): (usize, usize), slack: f64) -> bool {
        let face = &shape.faces[face];
        let [b, a] = face.side(side);
        // The face runs along the edge the other way: its inside is to the right, where the tab comes to lie.
        self.beside(a, b)[2..].iter().all(|p| depth_in(&face.polygon, *p) >= -slack)
    }
}

/// Tabs for every edge that no net folds.
pub(super) fn tabs(shape: &Shape, nets: &[Net], width: f64) -> Tabs {
    let slack = SLACK * shape.size();
    let mut tabs = Tabs::default();
    let mut place = vec![(0, 0); shape.faces.len()];
    let mut taken: Vec<Vec<Vec<[f64; 2]>>> = Vec::new();
    for (n, net) in nets.iter().enumerate() {
        for (at, &(face, _)) in net.faces.iter().enumerate() {
            place[face] = (n, at);
        }
        taken.push((0..net.faces.len()).map(|at| net.laid(shape, at)).collect());
    }
    for (k, edge) in shape.edges.iter().enumerate() {
        if nets.iter().any(|net| net.folds(k)) {
            continue;
        }
        if edge.length < LEAST_EDGE {
            tabs.bare.push(k);
            continue;
        }
        let mut best: Option<(f64, PlacedTab)> = None;
        for (own, behind) in [(edge.sides[0], edge.sides[1]), (edge.sides[1], edge.sides[0])] {
            let (net, at) = place[own.0];
            let pose = nets[net].faces[at].1;
            let [a, b] = shape.faces[own.0].side(own.1).map(|p| pose.of(p));
            let free = |t: &Trapezoid| {
                let grown = Trapezoid { height: t.height + CLEAR, ..*t };
                let [p, q, r, s] = grown.beside(a, b);
                // Clockwise round the tab is counter-clockwise the other way.
                let corners = [s, r, q, p];
                t.within(shape, behind, slack)
                    && taken[net]
                        .iter()
                        .enumerate()
                        .all(|(i, other)| i == at || !convex_overlap(&corners, other, slack))
            };
            for (share, first, second) in variants() {
                let t = Trapezoid::new(shape, edge.length, behind, width * share, [first, second]);
                if t.height < LEAST_HEIGHT || best.as_ref().is_some_and(|(area, _)| t.area() <= *area) {
                    continue;
                }
                if free(&t) {
                    let tab = Tab { number: edge.number, corners: t.beside(a, b).to_vec() };
                    best = Some((t.area(), PlacedTab { net, at, side: own.1, tab }));
                }
            }
        }
        if let Some((_, placed)) = best {
            taken[placed.net].push(placed.tab.corners.iter().rev().copied().collect());
            tabs.placed.push(placed);
            continue;
        }
        // A strip of its own lies behind both faces.
        let half = |behind: (usize, usize)| {
            let best = variants()
                .map(|(share, first, second)| {
                    Trapezoid::new(shape, edge.length, behind, width * share, [first, second])
                })
                .filter(|t| t.height >= LEAST_HEIGHT && t.within(shape, behind, slack))
                .map(|t| (t.area(), t));
            best.fold(
                None,
                |best: Option<(f64, Trapezoid)>, next| {
                    if best.is_none_or(|b| next.0 > b.0) { Some(next) } else { best }
                },
            )
        };
        match (half(edge.sides[0]), half(edge.sides[1])) {
            (Some((_, one)), Some((_, other))) => tabs.loose.push((k, [one, other])),
            _ => tabs.bare.push(k),
        }
    }
    tabs
}

fn variants() -> impl Iterator<Item = (f64, f64, f64)> {
    HEIGHTS
        .into_iter()
        .flat_map(|h| MITRES.into_iter().flat_map(move |a| MITRES.into_iter().map(move |b| (h, a, b))))
}

/// The outline of a net with its tabs, counter-clockwise: every corner, with the tabs' outer corners between.
pub(super) fn outline(shape: &Shape, net: &Net, tabs: &[&PlacedTab]) -> Vec<[f64; 2]> {
    let mut points = Vec::new();
    walk(shape, net, tabs, 0, None, &mut points);
    // Corners where faces of the net meet come from both: one is enough.
    let near = SLACK * shape.size();
    let mut clean: Vec<[f64; 2]> = Vec::with_capacity(points.len());
    for p in points {
        if clean.last().is_none_or(|q| distance(*q, p) > near) {
            clean.push(p);
        }
    }
    while clean.len() > 3 && distance(clean[0], clean[clean.len() - 1]) <= near {
        clean.pop();
    }
    clean
}

/// Goes round a face from the side after the one it hangs by, into each face that hangs on it.
fn walk(
    shape: &Shape,
    net: &Net,
    tabs: &[&PlacedTab],
    at: usize,
    hung: Option<usize>,
    points: &mut Vec<[f64; 2]>,
) {
    let (face, _) = net.faces[at];
    let laid = net.laid(shape, at);
    let count = laid.len();
    let start = hung.map_or(0, |side| side + 1);
    let sides = if hung.is_some() { count - 1 } else { count };
    for k in 0..sides {
        let side = (start + k) % count;
        points.push(laid[side]);
        let edge = shape.faces[face].edges[side];
        let child = net.hangs.iter().position(|&(parent, e)| parent == at && Some(e) == edge);
        if let (Some(child), Some((_, next))) = (child, shape.across(face, side)) {
            walk(shape, net, tabs, child + 1, Some(next), points);
        } else if let Some(placed) = tabs.iter().find(|t| t.at == at && t.side == side) {
            // From the near end of the edge out, and back to its far end.
            points.extend(placed.tab.corners[2..].iter().rev());
        }
    }
    if hung.is_some() {
        points.push(laid[(start + sides) % count]);
    }
}
