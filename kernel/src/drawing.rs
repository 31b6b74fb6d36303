//! Drawings: what is put on a flat sheet of steel, card or paper, before any file format.
//!
//! Coordinates are mm, x to the right, y **up**. Angles are degrees counter-clockwise from +x.

use crate::error::{Error, Result};
use crate::settings::LARGEST_NUMBER;

/// What a line is for; each is a layer of its own in every file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Layer {
    /// Outlines and holes to cut.
    Cut,
    /// Bend lines folding away from the viewer (the crest side up: a ridge).
    BendDown,
    /// Bend lines folding towards the viewer (a trough).
    BendUp,
    /// Card that is folded away from the viewer: a ridge.
    Mountain,
    /// Card that is folded towards the viewer: a trough.
    Valley,
    /// Crest and valley lines, arrows and other marks to scribe; never cut.
    Mark,
    /// Writing, as single strokes.
    Text,
    /// The true outline of a part, where the cut is moved aside by half the kerf; not cut.
    Outline,
    /// Lead-ins: short lines from where the sheet is pierced to the cut.
    Lead,
    /// In views: an edge where two faces meet.
    Seam,
    /// In views: a fold within a face.
    Fold,
    /// In views: the ground, dimension and helper lines.
    Helper,
}

/// All layers in writing order: marks are done before cuts.
pub const LAYERS: [Layer; 12] = [
    Layer::Text,
    Layer::Mark,
    Layer::BendDown,
    Layer::BendUp,
    Layer::Mountain,
    Layer::Valley,
    Layer::Outline,
    Layer::Lead,
    Layer::Cut,
    Layer::Seam,
    Layer::Fold,
    Layer::Helper,
];

impl Layer {
    /// Its name in files.
    pub fn name(self) -> &'static str {
        match self {
            Layer::Cut => "CUT",
            Layer::BendDown => "BEND-DOWN",
            Layer::BendUp => "BEND-UP",
            Layer::Mountain => "FOLD-MOUNTAIN",
            Layer::Valley => "FOLD-VALLEY",
            Layer::Outline => "OUTLINE",
            Layer::Lead => "LEAD",
            Layer::Mark => "MARK",
            Layer::Text => "TEXT",
            Layer::Seam => "SEAM",
            Layer::Fold => "FOLD",
            Layer::Helper => "HELPER",
        }
    }

    /// How its lines look on a page: line styles differ, so that they can be told apart in black and white.
    pub fn style(self) -> LineStyle {
        let (width, dashes, grey): (f64, &'static [f64], f64) = match self {
            Layer::Cut => (0.5, &[], 0.0),
            // Short enough to be told apart on the small blanks of the pages of bends too.
            Layer::BendDown => (0.3, &[5.0, 1.0], 0.0),
            Layer::BendUp => (0.3, &[3.0, 1.0, 0.6, 1.0], 0.0),
            Layer::Mountain => (0.2, &[3.5, 0.9, 0.3, 0.9], 0.0),
            Layer::Valley => (0.2, &[1.6, 1.2], 0.0),
            Layer::Outline => (0.18, &[4.0, 1.5], 0.2),
            Layer::Lead => (0.35, &[], 0.0),
            Layer::Mark => (0.18, &[], 0.2),
            Layer::Text => (0.25, &[], 0.0),
            Layer::Seam => (0.5, &[], 0.0),
            Layer::Fold => (0.18, &[], 0.25),
            Layer::Helper => (0.13, &[2.0, 1.5], 0.5),
        };
        LineStyle { width, dashes, grey }
    }
}

/// How a line looks on a page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineStyle {
    /// Line weight on the page, mm.
    pub width: f64,
    /// Lengths drawn and left out in turn, mm on the page; empty for a solid line.
    pub dashes: &'static [f64],
    /// 0 is black, 1 is white.
    pub grey: f64,
}

/// A polyline.
#[derive(Debug, Clone, PartialEq)]
pub struct Path {
    /// What it is for.
    pub layer: Layer,
    /// Its points, mm; a closed path does not repeat its first point.
    pub points: Vec<[f64; 2]>,
    /// Whether the last point joins the first.
    pub closed: bool,
}

/// A line of writing, drawn in single strokes so that it can be marked by any machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Label {
    /// Left end of the base line (before `centred`), mm.
    pub at: [f64; 2],
    /// Height of a capital, mm.
    pub height: f64,
    /// Turn of the base line, degrees.
    pub angle: f64,
    /// Whether `at` is the middle of the text instead of its left end on the base line.
    pub centred: bool,
    /// The words.
    pub text: String,
}

/// A drawing in true size.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Drawing {
    /// File stem, unique among drawings of its purpose.
    pub name: String,
    /// Shown on the page and in the book.
    pub title: String,
    /// Lines.
    pub paths: Vec<Path>,
    /// Writing.
    pub labels: Vec<Label>,
    /// Whether its lengths stand for something else, as angles: then no scale is put beside it.
    pub diagram: bool,
}

impl Drawing {
    /// Least and greatest x and y over all paths (labels are not counted); `None` when empty.
    pub fn bounds(&self) -> Option<[[f64; 2]; 2]> {
        let mut all = self.paths.iter().flat_map(|p| &p.points);
        let first = *all.next()?;
        Some(all.fold([first, first], |[lo, hi], p| {
            [[lo[0].min(p[0]), lo[1].min(p[1])], [hi[0].max(p[0]), hi[1].max(p[1])]]
        }))
    }
    /// The true outlines: those on [`Layer::Outline`] if there are any, else the cuts.
    pub fn true_outlines(&self) -> impl Iterator<Item = &Path> {
        let aside = self.on(Layer::Outline).next().is_some();
        self.on(if aside { Layer::Outline } else { Layer::Cut })
    }

    /// The paths of one layer, in the order they were drawn.
    pub fn on(&self, layer: Layer) -> impl Iterator<Item = &Path> {
        self.paths.iter().filter(move |path| path.layer == layer)
    }

    /// Layers that hold a path or, for [`Layer::Text`], a label; in writing order.
    pub fn layers(&self) -> impl Iterator<Item = Layer> {
        LAYERS.into_iter().filter(|&layer| {
            self.on(layer).next().is_some()
                || (layer == Layer::Text && self.labels.iter().any(|l| !l.text.trim().is_empty()))
        })
    }

    /// Checks that a file can be made of it: something is drawn, and all of it with usable numbers.
    ///
    /// # Errors
    /// No path; a path of too few points (2, or 3 when closed); a coordinate, height or angle that is not
    /// finite or beyond ±[`LARGEST_NUMBER`]; a height that is not positive.
    pub fn validate(&self) -> Result<()> {
        let usable = |x: f64| x.is_finite() && x.abs() <= LARGEST_NUMBER;
        let error = |message: String| Err(Error::bug(message).at(format!("drawing {:?}", self.name)));
        if self.paths.is_empty() {
            return error("holds no line".to_owned());
        }
        for path in &self.paths {
            let (layer, least) = (path.layer.name(), if path.closed { 3 } else { 2 });
            if path.points.len() < least {
                return error(format!("a {layer} path has {} points, needs {least}", path.points.len()));
            }
            if let Some(p) = path.points.iter().find(|p| !p.iter().all(|&x| usable(x))) {
                return error(format!("a {layer} path has the point {p:?} (allowed: ±{LARGEST_NUMBER:e})"));
            }
        }
        for label in &self.labels {
            let numbers = [label.at[0], label.at[1], label.angle, label.height];
            if !numbers.into_iter().all(usable) || label.height <= 0.0 {
                return error(format!(
                    "the label {:?} has a place {:?}, turn {} or height {} that cannot be drawn",
                    label.text, label.at, label.angle, label.height
                ));
            }
        }
        Ok(())
    }
}

impl Path {
    /// A closed outline.
    pub fn closed(layer: Layer, points: Vec<[f64; 2]>) -> Self {
        Self { layer, points, closed: true }
    }

    /// An open line.
    pub fn open(layer: Layer, points: Vec<[f64; 2]>) -> Self {
        Self { layer, points, closed: false }
    }

    /// Its segments, with the one that closes it.
    pub fn segments(&self) -> impl Iterator<Item = [[f64; 2]; 2]> + '_ {
        let count = if self.closed { self.points.len() } else { self.points.len().saturating_sub(1) };
        (0..count).map(|i| [self.points[i], self.points[(i + 1) % self.points.len()]])
    }

    /// Its length, mm.
    pub fn length(&self) -> f64 {
        self.segments().map(|[a, b]| (b[0] - a[0]).hypot(b[1] - a[1])).sum()
    }
}

/// Signed area of a closed polygon, mm²; counter-clockwise is positive.
pub fn signed_area(points: &[[f64; 2]]) -> f64 {
    let Some(&o) = points.first() else { return 0.0 };
    // Relative to the first point, so that a polygon far from the origin loses nothing.
    points
        .windows(2)
        .map(|e| (e[0][0] - o[0]) * (e[1][1] - o[1]) - (e[1][0] - o[0]) * (e[0][1] - o[1]))
        .sum::<f64>()
        / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Exact in binary: all coordinates are small whole numbers, also after the shift.
    #[test]
    fn area_counts_the_edge_that_closes_the_outline() {
        let far = 1.0e7;
        let l_shape = [[0.0, 0.0], [4.0, 0.0], [4.0, 1.0], [1.0, 1.0], [1.0, 3.0], [0.0, 3.0]];
        for start in 0..l_shape.len() {
            let mut points = l_shape;
            points.rotate_left(start);
            assert_eq!(signed_area(&points), 6.0, "starting at corner {start}");
            let moved = points.map(|p| [p[0] + far, p[1] - far]);
            assert_eq!(signed_area(&moved), 6.0, "far from the origin");
            points.reverse();
            assert_eq!(signed_area(&points), -6.0, "clockwise is negative");
        }
        assert_eq!(signed_area(&[]), 0.0, "nothing has no area");
        assert_eq!(signed_area(&l_shape[..2]), 0.0, "a line has no area");
    }

    #[test]
    fn length_counts_the_closing_edge_of_a_closed_path_only() {
        let points = vec![[0.0, 0.0], [3.0, 0.0], [3.0, 4.0]];
        assert_eq!(Path::open(Layer::Mark, points.clone()).length(), 7.0, "open");
        assert_eq!(Path::closed(Layer::Cut, points).length(), 12.0, "closed");
    }

    #[test]
    fn line_styles_of_one_page_can_be_told_apart() {
        for (i, a) in LAYERS.iter().enumerate() {
            for b in &LAYERS[..i] {
                // A seam is to a view what a cut is to a template; they never share a page.
                if [*a, *b] != [Layer::Seam, Layer::Cut] {
                    assert_ne!(a.style(), b.style(), "{} and {}", a.name(), b.name());
                }
            }
        }
    }

    #[test]
    fn unusable_drawings_are_refused_with_their_name() {
        let good = Path::closed(Layer::Cut, vec![[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]]);
        let label = |height, angle| Label { at: [0.0; 2], height, angle, centred: false, text: "x".into() };
        let of = |paths: Vec<Path>, labels: Vec<Label>| {
            Drawing { name: "plate".into(), paths, labels, ..Drawing::default() }.validate()
        };
        assert_eq!(of(vec![good.clone()], vec![label(5.0, 0.0)]), Ok(()), "a good one passes");
        for (paths, labels) in [
            (vec![], vec![]),
            (vec![Path::closed(Layer::Cut, vec![[0.0, 0.0], [1.0, 0.0]])], vec![]),
            (vec![Path::open(Layer::Mark, vec![[0.0, 0.0], [f64::NAN, 0.0]])], vec![]),
            (vec![Path::open(Layer::Mark, vec![[0.0, 0.0], [1.0e300, 0.0]])], vec![]),
            (vec![good.clone()], vec![label(0.0, 0.0)]),
            (vec![good], vec![label(5.0, f64::INFINITY)]),
        ] {
            let error = of(paths, labels).expect_err("refused");
            assert!(error.to_string().contains("plate"), "{error}");
        }
    }
}
