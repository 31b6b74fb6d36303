//! Gap forecast: how far the edges of a work will lie apart, before a sheet is cut.
//!
//! Two ways of working on sheets that are not true are compared along every seam with a surveyed sheet:
//! [`Way::Nominal`], parts cut from templates of the nominal work, and [`Way::Surveyed`], parts cut from
//! templates made for the sheets as they were surveyed.
//!
//! Method: Monte Carlo simulation of a linear model. The edge of face f at plan position (s, t) comes to lie
//! n_f·δh_f off its place in the drawing, so that two edges lie Δ0 = n_f·δh_f − n_g·δh_g apart before any error
//! of work. To that come errors that are linear in standard normal numbers ε: Δ = Δ0 + J ε. The gap is
//! |Δ − (Δ·τ) τ|, with τ the direction of the seam: how far the edges lie apart square to it. An overlap counts
//! as a gap does, for it has to be cut away.
//!
//! * `sheet` (nominal templates only): δh is the height of the real sheet less that of the nominal one at the
//!   same plan position, the template laid on by its crest line. Shifts across the ribs and errors in height
//!   enter both. The survey is taken as true here: its own uncertainty is not added.
//! * `survey` (surveyed templates only): every reading is off by normal errors in across and height with the
//!   deviations of [`crate::survey::Fold`], each by its own; δh = ε_height − slope·ε_across. Weights are linear
//!   between corners across and between stations along (bilinear, where the sheet itself bends along a diagonal).
//! * `cut`: each edge is cut off its line, in the plane of its strip and square to the seam. One normal number
//!   per knot along the edge; between knots they are mixed and scaled so that the deviation is the same
//!   everywhere.
//! * `placing`: each part is set as a rigid body that is shifted along three axes and turned about them, each by
//!   its own. Places beside a closure strip too small to be a part have no placing.
//!
//! Of a mitred seam the edge of each sheet is set against its closure strip, which is flat and cut as drawn.
//! Laps, splices and open faces are left out. The gap is measured at the middle skin. Faces are taken as
//! surveyed each by itself, also where two of them are cut from one sheet.
//!
//! Memory does not grow with the number of draws: sums and histograms are kept, not the draws.

mod draws;
mod edges;
mod figure;
mod model;
mod nominal;
mod options;

pub use figure::{Estimate, HIGH, LOW};
pub use nominal::{Nominal, cost, nominal, total};
pub use options::{Options, SETTINGS, STAGE};

use crate::error::Result;
use crate::joint::Joined;
use crate::units::MM_PER_M;
use crate::work::Work;
use draws::{Simulated, simulate};
use model::{Model, Rows};
use nalgebra::Point3;

/// How the parts are cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Way {
    /// From templates of the nominal work, laid on the real sheets by a crest line.
    Nominal,
    /// From templates made for the sheets as they were surveyed.
    Surveyed,
}

impl Way {
    /// Both, in the order of all tables.
    pub const BOTH: [Way; 2] = [Way::Nominal, Way::Surveyed];

    /// The word in tables.
    pub fn word(self) -> &'static str {
        match self {
            Way::Nominal => "nominal",
            Way::Surveyed => "surveyed",
        }
    }
}

/// What the errors come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Source {
    /// The real sheet is not the nominal one.
    Sheet,
    /// The survey is not exact.
    Survey,
    /// The cut is off its line.
    Cut,
    /// Parts are set off their places.
    Placing,
}

impl Source {
    /// All of them.
    pub const ALL: [Source; 4] = [Source::Sheet, Source::Survey, Source::Cut, Source::Placing];

    /// Its word, which is also that of its setting.
    pub fn word(self) -> &'static str {
        match self {
            Source::Sheet => "sheet",
            Source::Survey => "survey",
            Source::Cut => "cut",
            Source::Placing => "placing",
        }
    }
}

/// The forecast of a work.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    /// Seams with a surveyed sheet, by id.
    pub seams: Vec<SeamForecast>,
    /// Over all of them.
    pub totals: Totals,
    /// Root mean square of the gap that each source alone would leave, by way and in the order of
    /// [`Source::ALL`], mm. Exact for the model: it is not drawn.
    pub alone: [[f64; 4]; 2],
    /// The same of all sources together, mm.
    pub together: [f64; 2],
}

/// One seam.
#[derive(Debug, Clone, PartialEq)]
pub struct SeamForecast {
    /// Its id.
    pub id: String,
    /// By way; none where that work does not have the seam.
    pub ways: [Option<WayForecast>; 2],
}

/// One seam worked one way.
#[derive(Debug, Clone, PartialEq)]
pub struct WayForecast {
    /// How it is cut: `true` or `mitre`.
    pub joint: Joined,
    /// Length of its edges, mm; a mitred seam has two.
    pub length: f64,
    /// Greatest gap, mm.
    pub greatest: Estimate,
    /// Mean gap along the seam, mm.
    pub mean: Estimate,
    /// Void between the edges, ∫ gap ds, mm².
    pub void: Estimate,
    /// Filler metal to buy for it, kg.
    pub filler: Estimate,
    /// Share of its length with a gap above the setting `gap`, 0 to 1.
    pub above: Estimate,
    /// Root mean square gap that each source alone would leave, in the order of [`Source::ALL`], mm.
    pub alone: [f64; 4],
    /// Along its edges.
    pub stretches: Vec<Stretch>,
}

/// One connected edge of a seam.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// What lies on its sides: ids of faces, or nothing for the closure strip.
    pub sides: [Option<String>; 2],
    /// Its length, mm.
    pub length: f64,
    /// Places along it.
    pub spots: Vec<Spot>,
}

/// The gap at one place.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// Distance along the edge, mm.
    pub at: f64,
    /// Where on the drawn seam.
    pub place: Point3<f64>,
    /// Direction of the seam.
    pub tangent: nalgebra::Vector3<f64>,
    /// Gap without any error of work or survey, mm.
    pub base: f64,
    /// With them, mm.
    pub gap: Estimate,
}

/// Sums over the work. Saved is what surveyed templates save over nominal ones.
#[derive(Debug, Clone, PartialEq)]
pub struct Totals {
    /// Void by way, mm².
    pub void: [Estimate; 2],
    /// Filler metal by way, kg.
    pub filler: [Estimate; 2],
    /// Hours of filling and grinding by way.
    pub hours: [Estimate; 2],
    /// Filler saved, kg.
    pub filler_saved: Estimate,
    /// Hours saved.
    pub hours_saved: Estimate,
}

/// Forecasts the gaps of a work on surveyed sheets; `nominal` is the same work as [`nominal()`] gives it.
///
/// # Errors
/// A sheet that cannot be laid.
pub fn forecast(work: &Work, nominal: &Work, options: &Options) -> Result<Forecast> {
    let mut rows = Rows::default();
    let models = [
        model::models(work, nominal, Way::Nominal, options, &mut rows)?,
        model::models(work, work, Way::Surveyed, options, &mut rows)?,
    ];
    let split = models[0].len();
    let all: Vec<Model> = models.into_iter().flatten().collect();
    let way = |i: usize| usize::from(i >= split);
    let filler = |m: &Model| options.filler(m.thickness);
    // Each total as shares of every seam's void and of its length above the gap.
    let sum = |by: &dyn Fn(usize, &Model) -> [f64; 2]| -> Vec<[f64; 2]> {
        all.iter().enumerate().map(|(i, m)| by(way(i), m)).collect()
    };
    let void = |w: usize| sum(&|x, _| [f64::from(x == w), 0.0]);
    let kilos = |w: usize| sum(&|x, m| [if x == w { filler(m) } else { 0.0 }, 0.0]);
    let hours = |m: &Model| [filler(m) * options.fill_hours, options.grind_hours / MM_PER_M];
    let time = |w: usize| sum(&|x, m| if x == w { hours(m) } else { [0.0; 2] });
    let sign = |w: usize| if w == 0 { 1.0 } else { -1.0 };
    let sums = [
        void(0),
        void(1),
        kilos(0),
        kilos(1),
        time(0),
        time(1),
        sum(&|w, m| [sign(w) * filler(m), 0.0]),
        sum(&|w, m| hours(m).map(|x| sign(w) * x)),
    ];
    let Simulated { seams: drawn, sums } = simulate(&all, rows.count(), &sums, options);
    let one = |i: usize| sums[i].estimate(1.0);
    let totals = Totals {
        void: [one(0), one(1)],
        filler: [one(2), one(3)],
        hours: [one(4), one(5)],
        filler_saved: one(6),
        hours_saved: one(7),
    };
    let mut ids: Vec<&str> = all.iter().map(|m| m.id.as_str()).collect();
    ids.sort_unstable();
    ids.dedup();
    let mut seams: Vec<SeamForecast> =
        ids.into_iter().map(|id| SeamForecast { id: id.to_owned(), ways: [None, None] }).collect();
    let (mut alone, mut together, mut length) = ([[0.0; 4]; 2], [0.0; 2], [0.0; 2]);
    for (i, (model, drawn)) in all.iter().zip(&drawn).enumerate() {
        let w = way(i);
        for (sum, square) in alone[w].iter_mut().zip(model.squares) {
            *sum += square;
            together[w] += square;
        }
        length[w] += model.length;
        if let Ok(at) = seams.binary_search_by(|s| s.id.as_str().cmp(&model.id)) {
            seams[at].ways[w] = Some(way_forecast(model, drawn, options));
        }
    }
    let rms = |square: f64, length: f64| if length > 0.0 { (square / length).sqrt() } else { 0.0 };
    let alone = [0, 1].map(|w| alone[w].map(|s| rms(s, length[w])));
    let together = [0, 1].map(|w| rms(together[w], length[w]));
    Ok(Forecast { seams, totals, alone, together })
}

fn way_forecast(model: &Model, drawn: &draws::SeamFigures, options: &Options) -> WayForecast {
    let length = model.length;
    let mut spots = model.samples.iter().zip(&drawn.spots).map(|(sample, figure)| Spot {
        at: sample.at,
        place: sample.place,
        tangent: sample.tangent,
        // As the draws have it, to the last bit.
        base: (sample.base[0] * sample.base[0] + sample.base[1] * sample.base[1]).sqrt(),
        gap: figure.estimate(1.0),
    });
    let stretches = model
        .stretches
        .iter()
        .map(|s| Stretch {
            sides: s.sides.clone(),
            length: s.length,
            spots: spots.by_ref().take(s.count).collect(),
        })
        .collect();
    WayForecast {
        joint: model.joint,
        length,
        greatest: drawn.greatest.estimate(1.0),
        mean: drawn.void.estimate(1.0 / length),
        void: drawn.void.estimate(1.0),
        filler: drawn.void.estimate(options.filler(model.thickness)),
        above: drawn.above.estimate(1.0 / length),
        alone: model.squares.map(|s| (s / length).sqrt()),
        stretches,
    }
}
