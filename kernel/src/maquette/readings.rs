//! What was measured on a maquette, whatever it was measured with.

/// Where a reading comes from, for messages.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Source {
    /// File, empty where it was given in a script.
    pub file: String,
    /// Line of that file, counted from 1; 0 where there is none.
    pub line: usize,
    /// What was read, in words: `tape`, `tracing of A/east`.
    pub what: String,
}

/// A source in words.
pub(super) fn whence(source: &Source) -> String {
    match (source.file.as_str(), source.line) {
        ("", 0) => source.what.clone(),
        ("", line) => format!("line {line}"),
        (file, 0) => file.to_owned(),
        (file, line) => format!("{file}: line {line}"),
    }
}

/// A measured distance between two points, along the straight line.
#[derive(Debug, Clone, PartialEq)]
pub struct Distance {
    /// Indices into [`Readings::points`].
    pub between: [usize; 2],
    /// Length on the maquette, mm.
    pub length: f64,
    /// Its standard deviation, mm; above 0.
    pub deviation: f64,
    /// Where it comes from.
    pub source: Source,
}

/// A measured height of a point above the table.
#[derive(Debug, Clone, PartialEq)]
pub struct Height {
    /// Index into [`Readings::points`].
    pub point: usize,
    /// Height on the maquette, mm, upward.
    pub height: f64,
    /// Its standard deviation, mm; above 0.
    pub deviation: f64,
    /// Where it comes from.
    pub source: Source,
}

/// A known angle at a point between the straight lines to two others.
#[derive(Debug, Clone, PartialEq)]
pub struct Angle {
    /// Index of the point the angle is at.
    pub at: usize,
    /// Indices of the points its legs run to.
    pub to: [usize; 2],
    /// The angle, radians, in (0, π).
    pub angle: f64,
    /// Its standard deviation, radians; above 0.
    pub deviation: f64,
    /// Where it comes from.
    pub source: Source,
}

/// Which points lie in which face.
#[derive(Debug, Clone, PartialEq)]
pub struct Face {
    /// Name of its element.
    pub element: String,
    /// Its label.
    pub label: String,
    /// Indices of its corners, in no given order.
    pub corners: Vec<usize>,
    /// How its ribs run, where that was drawn.
    pub ribs: Option<Ribs>,
    /// Where it comes from.
    pub source: Source,
}

/// Ribs as drawn on a tracing of a face.
///
/// Coordinates: origin at `corners[0]` of the face, x toward `corners[1]`, y to the left of it as seen from outside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ribs {
    /// A point on the centre line of a crest, mm.
    pub through: [f64; 2],
    /// Unit vector along the ribs.
    pub along: [f64; 2],
}

/// All that was measured on a maquette.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Readings {
    /// Names of the points.
    pub points: Vec<String>,
    /// Distances between them.
    pub distances: Vec<Distance>,
    /// Heights above the table.
    pub heights: Vec<Height>,
    /// Known angles.
    pub angles: Vec<Angle>,
    /// Faces.
    pub faces: Vec<Face>,
    /// Three points of one face in counter-clockwise order as seen from outside the element of that face: tells the
    /// maquette from its mirror image.
    pub outside: Vec<[usize; 3]>,
}
