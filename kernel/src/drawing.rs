//! Drawings: what is put on a flat sheet of steel, card or paper, before any file format.
//!
//! Coordinates are mm, x to the right, y **up**. Angles are degrees counter-clockwise from +x.

/// What a line is for; each is a layer of its own in every file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Layer {
    /// Outlines and holes to cut.
    Cut,
    /// Bend lines folding away from the viewer (the crest side up: a ridge).
    BendDown,
    /// Bend lines folding towards the viewer (a trough).
    BendUp,
    /// Crest and valley lines, arrows and other marks to scribe; never cut.
    Mark,
    /// Writing, as single strokes.
    Text,
    /// In views: an edge where two faces meet.
    Seam,
    /// In views: a fold within a face.
    Fold,
    /// In views: the ground, dimension and helper lines.
    Helper,
}

/// All layers in writing order: marks are done before cuts.
pub const LAYERS: [Layer; 8] = [
    Layer::Text,
    Layer::Mark,
    Layer::BendDown,
    Layer::BendUp,
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
            Layer::Mark => "MARK",
            Layer::Text => "TEXT",
            Layer::Seam => "SEAM",
            Layer::Fold => "FOLD",
            Layer::Helper => "HELPER",
        }
    }
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
