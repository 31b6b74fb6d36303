//! A piece of the kit: what is cut out in one, with its folds and its writing, ready to lie on a page.

use super::flat::{Pose, bounds, middle, minus, sides};
use super::label::{CAPTION, Field, Sign, line_of, readable};
use super::shape::Shape;
use super::stand::Stand;
use super::tab::{PlacedTab, Tab, Trapezoid, outline};
use super::unfold::{Net, Sheet};
use crate::drawing::{Drawing, Layer, Path, signed_area};

/// One piece to cut out.
#[derive(Debug, Clone, Default)]
pub struct Piece {
    /// `A`, `A.2`, `A/east` or `strip 7`.
    pub name: String,
    /// Faces on it, by id, with their corners.
    pub faces: Vec<(String, Vec<[f64; 2]>)>,
    /// Its glue tabs.
    pub tabs: Vec<Tab>,
    /// What is cut, tabs and all: the outer outline counter-clockwise, then holes.
    pub outlines: Vec<Vec<[f64; 2]>>,
    /// Everything that is drawn, in the same coordinates; its lower left corner is (0, 0).
    pub drawing: Drawing,
    /// Width and height with all that is drawn, mm.
    pub size: [f64; 2],
    /// What found no room to be written.
    pub unwritten: Vec<String>,
}

/// What the writing on a plain net needs to know.
pub(super) struct Signs<'a> {
    pub(super) names: &'a [String],
    pub(super) own: usize,
    pub(super) stands: &'a [Vec<Stand>],
}

/// Turned about z this far from upright, writing along x is the first choice, then along the longest side.
fn angles(polygon: &[[f64; 2]]) -> Vec<f64> {
    let longest = sides(polygon).reduce(|a, b| {
        let length = |s: &[[f64; 2]; 2]| super::flat::distance(s[0], s[1]);
        if length(&b) > length(&a) { b } else { a }
    });
    let along = longest.map(|[a, b]| readable((b[1] - a[1]).atan2(b[0] - a[0]).to_degrees()));
    [Some(0.0), along, along.map(|a| readable(a + 90.0)), Some(90.0)].into_iter().flatten().collect()
}

/// The centroid of a polygon.
pub(super) fn centroid(polygon: &[[f64; 2]]) -> [f64; 2] {
    let o = polygon[0];
    let (mut area, mut moment) = (0.0, [0.0; 2]);
    for pair in polygon.windows(2).skip(1) {
        let (a, b) = (minus(pair[0], o), minus(pair[1], o));
        let part = a[0] * b[1] - a[1] * b[0];
        area += part;
        moment = [0, 1].map(|i| moment[i] + part * (a[i] + b[i]) / 3.0);
    }
    if area == 0.0 { o } else { [0, 1].map(|i| o[i] + moment[i] / area) }
}

impl Piece {
    /// A plain net.
    pub(super) fn plain(
        name: String,
        shape: &Shape,
        net: &Net,
        tabs: &[&PlacedTab],
        signs: &Signs<'_>,
        sheet: &Sheet,
    ) -> Self {
        let cut = outline(shape, net, tabs);
        let (angle, _) = Net::best_turn(&cut, &Sheet { tab: 0.0, ..*sheet });
        let mut pose = Pose::turned(angle);
        let [lo, _] = bounds(cut.iter().map(|p| pose.of(*p))).unwrap_or_default();
        pose.shift = minus([0.0; 2], lo);
        let place = |p: &[f64; 2]| pose.of(*p);
        let mut piece = Self { name, outlines: vec![cut.iter().map(place).collect()], ..Self::default() };
        piece.tabs = tabs
            .iter()
            .map(|t| Tab { number: t.tab.number, corners: t.tab.corners.iter().map(place).collect() })
            .collect();
        piece.faces = net
            .polygons(shape)
            .map(|(id, corners)| (id.to_owned(), corners.iter().map(place).collect()))
            .collect();
        let cuts = piece.outlines.iter().map(|o| Path::closed(Layer::Cut, o.clone()));
        piece.drawing.paths.extend(cuts);
        for (k, &(_, edge)) in net.hangs.iter().enumerate() {
            let (face, lies) = net.faces[k + 1];
            let side = shape.faces[face].edges.iter().position(|&e| e == Some(edge)).unwrap_or_default();
            let fold = shape.faces[face].side(side).map(|p| pose.of(lies.of(p)));
            piece.drawing.paths.push(Path::open(Layer::Mountain, fold.to_vec()));
        }
        for tab in &piece.tabs {
            piece.drawing.paths.push(Path::open(Layer::Mountain, tab.corners[..2].to_vec()));
        }
        piece.sign(shape, net, &pose, signs);
        piece.measure();
        piece
    }

    /// Numbers at the glued edges, names, arrows, and lines where other elements stand.
    fn sign(&mut self, shape: &Shape, net: &Net, pose: &Pose, signs: &Signs<'_>) {
        let mut drawing = std::mem::take(&mut self.drawing);
        let mut unnamed = Vec::new();
        let mut sign = Sign { drawing: &mut drawing, taken: Vec::new(), lines: Vec::new() };
        for (at, &(face, lies)) in net.faces.iter().enumerate() {
            let flat = &shape.faces[face];
            let place = |p: [f64; 2]| pose.of(lies.of(p));
            for stand in &signs.stands[face] {
                for line in &stand.lines {
                    let line = line.map(place);
                    sign.lines.push(line);
                    sign.drawing.paths.push(Path::open(Layer::Mark, line.to_vec()));
                }
            }
            let polygon = vec![self.faces[at].1.clone()];
            let field = Field { outlines: &polygon };
            for (side, edge) in flat.edges.iter().enumerate() {
                if let Some(edge) = edge.filter(|&e| !net.folds(e)) {
                    let number = shape.edges[edge].number.to_string();
                    if !sign.number(&field, &number, flat.side(side).map(place)) {
                        self.unwritten.push(format!("{number} on {}", flat.id));
                    }
                }
            }
            let up = pose.direction(lies.direction([0.0, 1.0]));
            let level = flat.axes[2].z.abs() > 1.0 - LEVEL;
            let centre = centroid(&polygon[0]);
            match sign.name(&field, &flat.id, centre, &angles(&polygon[0])) {
                Some(at) => {
                    sign.arrow(&field, at, up, if level { "N" } else { "" });
                }
                None => unnamed.push(flat.id.clone()),
            }
            for stand in signs.stands[face].iter().filter(|s| !s.lines.is_empty()) {
                let other = &signs.names[stand.other];
                let text =
                    if stand.other > signs.own { format!("{other} here") } else { format!("in {other}") };
                let area = vec![stand.area.iter().map(|p| place(*p)).collect::<Vec<_>>()];
                let middle = centroid(&area[0]);
                sign.name(&Field { outlines: &area }, &text, middle, &angles(&area[0]));
            }
        }
        self.drawing = drawing;
        // A face by itself is named under it; which of several narrow ones is which, its numbers say.
        if unnamed.len() == net.faces.len() {
            self.caption(&self.name.clone());
        } else {
            self.unwritten.extend(unnamed);
        }
    }

    /// A loose strip that joins two edges from behind.
    pub(super) fn strip(number: u32, halves: &[Trapezoid; 2]) -> Self {
        let (a, b) = ([0.0, 0.0], [halves[0].length, 0.0]);
        let [_, _, p, q] = halves[0].beside(b, a);
        let [_, _, r, s] = halves[1].beside(a, b);
        let shift = -r[1].min(s[1]);
        let up = |p: [f64; 2]| [p[0], p[1] + shift];
        let outline: Vec<[f64; 2]> = [a, s, r, b, q, p].map(up).to_vec();
        debug_assert!(signed_area(&outline) > 0.0, "a strip runs counter-clockwise");
        let mut piece =
            Self { name: format!("strip {number}"), outlines: vec![outline.clone()], ..Self::default() };
        piece.drawing.paths.push(Path::closed(Layer::Cut, outline.clone()));
        piece.drawing.paths.push(Path::open(Layer::Mountain, vec![up(a), up(b)]));
        let outlines = vec![outline];
        let field = Field { outlines: &outlines };
        let mut sign = Sign { drawing: &mut piece.drawing, taken: Vec::new(), lines: vec![[up(a), up(b)]] };
        let near = middle(up(a), up(b));
        if sign.name(&field, &number.to_string(), near, &[0.0]).is_none() {
            piece.caption(&number.to_string());
        }
        piece.measure();
        piece
    }

    /// Writes a name that found no room on the piece under it.
    pub(super) fn caption(&mut self, text: &str) {
        let Some([lo, _]) = crate::lettering::extents(&self.drawing) else { return };
        // Names of several faces stand under each other.
        let at = [lo[0], lo[1] - 1.9 * CAPTION];
        self.drawing.labels.push(line_of(text, at, CAPTION, f64::INFINITY));
    }

    /// Moves the lower left corner of all that is drawn to (0, 0).
    pub(super) fn measure(&mut self) {
        let Some([lo, hi]) = crate::lettering::extents(&self.drawing) else { return };
        let to = |p: &mut [f64; 2]| *p = minus(*p, lo);
        self.outlines.iter_mut().flatten().for_each(to);
        self.faces.iter_mut().flat_map(|f| &mut f.1).for_each(to);
        self.tabs.iter_mut().flat_map(|t| &mut t.corners).for_each(to);
        self.drawing.paths.iter_mut().flat_map(|p| &mut p.points).for_each(to);
        self.drawing.labels.iter_mut().for_each(|l| to(&mut l.at));
        self.size = minus(hi, lo);
    }
}

/// A face whose normal is upright to within this counts as level: its arrow points north.
const LEVEL: f64 = 1.0e-9;
