//! The linear model: for every place along a seam, how far its edges lie apart and what each error adds.
//!
//! Two numbers say it, in the plane square to the seam. Errors are standard normal numbers, one row each; a
//! place depends on some tens of rows.

use super::edges::{Edge, Place, edges};
use super::{Options, Source, Way};
use crate::error::Result;
use crate::joint::Joined;
use crate::loft::Loft;
use crate::part::{Frame, Part, PartKind};
use crate::profile::Profile;
use crate::seam::Side;
use crate::survey::{Laid, Wander};
use crate::work::{FaceReport, Work};
use nalgebra::{Point3, Vector3};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Numbers the rows of standard normal numbers.
#[derive(Debug, Default)]
pub(super) struct Rows(u32);

impl Rows {
    fn take(&mut self, count: u32) -> u32 {
        let first = self.0;
        self.0 += count;
        first
    }

    /// How many there are.
    pub(super) fn count(&self) -> usize {
        self.0 as usize
    }
}

/// What one row adds, mm per standard deviation, along the two directions square to the seam.
#[derive(Debug, Clone, Copy)]
pub(super) struct Term {
    pub(super) row: u32,
    pub(super) by: [f64; 2],
}

/// A place along a seam.
#[derive(Debug, Clone)]
pub(super) struct Sample {
    /// Distance along its edge, mm.
    pub(super) at: f64,
    pub(super) place: Point3<f64>,
    pub(super) tangent: Vector3<f64>,
    /// Length it stands for, mm.
    pub(super) length: f64,
    /// Δ0 along the two directions, mm.
    pub(super) base: [f64; 2],
    /// Its terms in [`Model::terms`].
    pub(super) terms: std::ops::Range<usize>,
}

/// A connected edge of a seam: the next `count` samples.
#[derive(Debug, Clone)]
pub(super) struct Run {
    pub(super) sides: [Option<String>; 2],
    pub(super) length: f64,
    pub(super) count: usize,
}

/// One seam worked one way.
#[derive(Debug, Clone)]
pub(super) struct Model {
    pub(super) id: String,
    pub(super) joint: Joined,
    pub(super) length: f64,
    /// Mean thickness of the two sheets, mm.
    pub(super) thickness: f64,
    pub(super) samples: Vec<Sample>,
    pub(super) terms: Vec<Term>,
    pub(super) stretches: Vec<Run>,
    /// ∫ gap² ds that each source alone would leave, in the order of [`Source::ALL`].
    pub(super) squares: [f64; 4],
}

/// A face with its real sheet.
struct RealFace {
    frame: Frame,
    phase: f64,
    lift: f64,
    profile: Arc<Profile>,
    /// The sheet in its place, where it was surveyed.
    loft: Option<Loft>,
    readings: Option<Readings>,
}

impl RealFace {
    /// A face of the drawing that gets a real sheet.
    fn new(drawn: &FaceReport, wander: Option<&Arc<Wander>>, laid: Option<&Laid>) -> Self {
        Self {
            frame: drawn.frame,
            phase: drawn.phase,
            lift: drawn.lift,
            profile: drawn.profile.clone(),
            loft: wander.map(|w| Loft::new(w, 0.0)),
            readings: wander.zip(laid).map(|(w, laid)| Readings::new(w, laid)),
        }
    }

    /// Plan position: along the ribs from the origin and across them from the crest at the phase.
    fn plan(&self, p: &Point3<f64>) -> [f64; 2] {
        let [s, t] = self.frame.plan(p);
        [s, t - self.phase]
    }

    /// How far the sheet lies outside a point of the drawing, mm.
    fn off(&self, p: &Point3<f64>, way: Way) -> f64 {
        let [s, t] = self.plan(p);
        let real = |loft: &Loft| loft.height(s, t);
        match way {
            Way::Nominal => self.loft.as_ref().map_or(0.0, |l| real(l) - self.profile.height(t)),
            // The seam was cut on these sheets, so nothing is left but what the two computations differ by.
            Way::Surveyed => {
                let height = self.loft.as_ref().map_or_else(|| self.profile.height(t), real);
                height + self.lift - (p - self.frame.origin).dot(&self.frame.n)
            }
        }
    }
}

/// The readings of a sheet in its place.
struct Readings {
    /// q of each fold, ascending.
    corners: Vec<f64>,
    /// Stations as measured, along the sheet, mm.
    stations: Vec<f64>,
    length: f64,
    /// Along the sheet = `start` + `sign` × s.
    start: f64,
    sign: f64,
    /// For each fold in the order of `corners` and each station.
    deviation: Vec<Vec<[f64; 2]>>,
    /// Rows taken so far, by fold and station.
    rows: BTreeMap<(usize, usize), u32>,
}

impl Readings {
    fn new(wander: &Wander, laid: &Laid) -> Self {
        let sheet = &laid.sheet;
        let mut deviation: Vec<_> = sheet.folds.iter().map(|f| f.deviation.clone()).collect();
        // One of the two, not both, runs against the order of the folds.
        if laid.turned != laid.over {
            deviation.reverse();
        }
        Self {
            corners: wander.corners().to_vec(),
            stations: sheet.stations.clone(),
            length: sheet.length,
            start: laid.at[0],
            sign: if laid.turned { -1.0 } else { 1.0 },
            deviation,
            rows: BTreeMap::new(),
        }
    }

    /// Folds and stations that a place depends on, with the share of each.
    fn shares(&self, s: f64, q: f64) -> Vec<(usize, usize, f64)> {
        let across = two(&self.corners, q.clamp(self.corners[0], self.corners[self.corners.len() - 1]));
        let along = two(&self.stations, (self.start + self.sign * s).clamp(0.0, self.length));
        across.iter().flat_map(|(f, x)| along.iter().map(move |(i, y)| (*f, *i, x * y))).collect()
    }
}

/// The two places about this one, with the share of each; straight on beyond the first and the last.
fn two(places: &[f64], at: f64) -> Vec<(usize, f64)> {
    if places.len() < 2 {
        return vec![(0, 1.0)];
    }
    let i = places.partition_point(|&p| p <= at).clamp(1, places.len() - 1);
    let share = (at - places[i - 1]) / (places[i] - places[i - 1]);
    vec![(i - 1, 1.0 - share), (i, share)]
}

/// An edge belongs to a part if it lies within so many times half the part's diagonal of its middle, and this
/// far beyond, mm: ribs stand off the plane in which the diagonal is measured. A larger value lends small parts
/// a long lever, a smaller one leaves edges without a part.
const BEYOND: f64 = 1.25;
const ASIDE: f64 = 3.0;

/// A part as a rigid body.
struct Body<'a> {
    part: &'a Part,
    centre: Point3<f64>,
    /// Half its diagonal, mm.
    reach: f64,
    row: u32,
}

impl<'a> Body<'a> {
    fn new(part: &'a Part, rows: &mut Rows) -> Self {
        let all = part.outlines.iter().flatten();
        let (low, high) = all.fold(([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]), |(l, h), p| {
            ([l[0].min(p[0]), l[1].min(p[1])], [h[0].max(p[0]), h[1].max(p[1])])
        });
        let f = &part.frame;
        let centre = f.origin + f.u * f64::midpoint(low[0], high[0]) + f.v * f64::midpoint(low[1], high[1]);
        let reach = (high[0] - low[0]).hypot(high[1] - low[1]) / 2.0;
        Self { part, centre, reach, row: rows.take(6) }
    }

    /// Distance of a point from its outlines in plan, mm.
    fn distance(&self, p: &Point3<f64>) -> f64 {
        let at = self.part.frame.plan(p);
        let mut least = f64::INFINITY;
        for outline in &self.part.outlines {
            for (i, a) in outline.iter().enumerate() {
                let b = outline[(i + 1) % outline.len()];
                let (d, r) = ([b[0] - a[0], b[1] - a[1]], [at[0] - a[0], at[1] - a[1]]);
                let square = d[0] * d[0] + d[1] * d[1];
                let share =
                    if square > 0.0 { ((r[0] * d[0] + r[1] * d[1]) / square).clamp(0.0, 1.0) } else { 0.0 };
                least = least.min((r[0] - d[0] * share).hypot(r[1] - d[1] * share));
            }
        }
        least
    }
}

/// Whatever the errors of a work come from.
struct Errors<'a> {
    options: &'a Options,
    way: Way,
    faces: Vec<RealFace>,
    /// Parts by face, and closure strips by seam.
    bodies: BTreeMap<&'a str, Vec<Body<'a>>>,
}

/// The models of all seams with a surveyed sheet. `real` has the sheets, `drawn` is what the templates are of.
pub(super) fn models(
    real: &Work,
    drawn: &Work,
    way: Way,
    options: &Options,
    rows: &mut Rows,
) -> Result<Vec<Model>> {
    let claddings: Vec<_> = real.sculpture.elements.iter().flat_map(|e| &e.cladding).collect();
    let faces: Vec<RealFace> = drawn
        .faces
        .iter()
        .enumerate()
        .map(|(i, face)| {
            let wander = real.faces.get(i).and_then(|f| f.wander.as_ref());
            RealFace::new(face, wander, claddings.get(i).and_then(|c| c.sheet.as_ref()))
        })
        .collect();
    let mut bodies: BTreeMap<&str, Vec<Body<'_>>> = BTreeMap::new();
    if options.placing > 0.0 {
        for part in &drawn.parts {
            bodies.entry(part.face.as_str()).or_default().push(Body::new(part, rows));
        }
    }
    let mut errors = Errors { options, way, faces, bodies };
    let mut found = Vec::new();
    for seam in &drawn.seams {
        if !seam.between.iter().any(|&f| errors.faces[f].loft.is_some()) {
            continue;
        }
        let edges = edges(seam, options.step);
        if edges.is_empty() {
            continue;
        }
        let thickness = seam.between.map(|f| drawn.faces[f].profile.thickness());
        let mut model = Model {
            id: seam.id.clone(),
            joint: seam.joint,
            length: edges.iter().map(|e| e.length).sum(),
            thickness: f64::midpoint(thickness[0], thickness[1]),
            samples: Vec::new(),
            terms: Vec::new(),
            stretches: Vec::new(),
            squares: [0.0; 4],
        };
        for edge in &edges {
            errors.edge(&mut model, edge, drawn, rows);
        }
        found.push(model);
    }
    Ok(found)
}

/// Terms of one place as they are put together.
struct Gather<'a> {
    model: &'a mut Model,
    square: [Vector3<f64>; 2],
    length: f64,
}

impl Gather<'_> {
    fn add(&mut self, source: Source, row: u32, by: Vector3<f64>) {
        let by = self.square.map(|e| e.dot(&by));
        let square = by[0] * by[0] + by[1] * by[1];
        self.model.squares[source as usize] += square * self.length;
        self.model.terms.push(Term { row, by });
    }
}

impl Errors<'_> {
    fn edge(&mut self, model: &mut Model, edge: &Edge, drawn: &Work, rows: &mut Rows) {
        // At least two knots, so that an edge of any length can be cut askew.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a length over a step")]
        let knots = (edge.length / self.options.cut_step).ceil().max(1.0) as u32 + 1;
        let cuts = if self.options.cut > 0.0 { [rows.take(knots), rows.take(knots)] } else { [0; 2] };
        for place in &edge.places {
            let first = (place.normals[0] - place.tangent * place.normals[0].dot(&place.tangent)).normalize();
            let square = [first, place.tangent.cross(&first)];
            let start = model.terms.len();
            let mut base = Vector3::zeros();
            let mut gather = Gather { model, square, length: place.length };
            for (k, sign) in [1.0, -1.0].into_iter().enumerate() {
                let along = place.at / edge.length * f64::from(knots - 1);
                self.cut(&mut gather, place, k, (cuts[k], knots, along), sign);
                self.place(&mut gather, place, edge.sides[k], drawn, sign);
                if let Side::Face(f) = edge.sides[k] {
                    base += self.faces[f].frame.n * (sign * self.faces[f].off(&place.point, self.way));
                    if self.way == Way::Surveyed {
                        self.survey(&mut gather, place, f, sign, rows);
                    }
                }
            }
            if self.way == Way::Nominal {
                base *= self.options.sheet;
            }
            let base = square.map(|e| e.dot(&base));
            model.squares[Source::Sheet as usize] += (base[0] * base[0] + base[1] * base[1]) * place.length;
            model.samples.push(Sample {
                at: place.at,
                place: place.point,
                tangent: place.tangent,
                length: place.length,
                base,
                terms: start..model.terms.len(),
            });
        }
        model.stretches.push(Run {
            sides: edge.sides.map(|s| match s {
                Side::Face(f) => Some(drawn.faces[f].id.clone()),
                Side::Closure => None,
            }),
            length: edge.length,
            count: edge.places.len(),
        });
    }

    /// The cut of side k: off its line in the plane of its own strip, square to the seam.
    fn cut(&self, to: &mut Gather<'_>, place: &Place, k: usize, knots: (u32, u32, f64), sign: f64) {
        if self.options.cut <= 0.0 {
            return;
        }
        let (first, count, along) = knots;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a place on the edge")]
        let knot = (along.floor().max(0.0) as u32).min(count - 2);
        let share = along - f64::from(knot);
        // Mixed from two knots it would scatter less than at them: the scale makes up for it.
        let scale = sign * self.options.cut / share.hypot(1.0 - share);
        let way = place.normals[k].cross(&place.tangent);
        to.add(Source::Cut, first + knot, way * (scale * (1.0 - share)));
        to.add(Source::Cut, first + knot + 1, way * (scale * share));
    }

    /// The placing of the part on this side.
    fn place(&self, to: &mut Gather<'_>, place: &Place, side: Side, drawn: &Work, sign: f64) {
        if self.options.placing <= 0.0 {
            return;
        }
        let key = match side {
            Side::Face(f) => drawn.faces[f].id.as_str(),
            Side::Closure => to.model.id.as_str(),
        };
        let of = |b: &&Body<'_>| matches!(b.part.kind, PartKind::Closure { .. }) == (side == Side::Closure);
        let mut bodies: Vec<&Body<'_>> = self.bodies.get(key).into_iter().flatten().filter(of).collect();
        if bodies.len() > 1 {
            let far = |b: &&Body<'_>| b.distance(&place.point);
            bodies.sort_by_cached_key(|b| far(b).to_bits());
        }
        let Some(body) = bodies.first() else { return };
        let r = place.point - body.centre;
        // Pieces too small to be parts are filled, not set: another part of the seam does not move them.
        if r.norm() > BEYOND * body.reach + ASIDE {
            return;
        }
        let scale = sign * self.options.placing;
        let axes = [Vector3::x(), Vector3::y(), Vector3::z()];
        for (row, axis) in (body.row..).zip(axes) {
            to.add(Source::Placing, row, axis * scale);
        }
        if body.reach > 0.0 {
            for (row, axis) in (body.row + 3..).zip(axes) {
                to.add(Source::Placing, row, axis.cross(&r) * (scale / body.reach));
            }
        }
    }

    /// The survey of the sheet on this side.
    fn survey(&mut self, to: &mut Gather<'_>, place: &Place, f: usize, sign: f64, rows: &mut Rows) {
        let face = &mut self.faces[f];
        let [s, t] = face.plan(&place.point);
        let (Some(loft), Some(readings)) = (&face.loft, &mut face.readings) else { return };
        if self.options.survey <= 0.0 {
            return;
        }
        let [q, slope] = loft.on_sheet(s, t);
        for (fold, station, share) in readings.shares(s, q) {
            let Some(&[across, height]) = readings.deviation.get(fold).and_then(|d| d.get(station)) else {
                continue;
            };
            let scale = sign * self.options.survey * share;
            let terms = [-slope * across * scale, height * scale];
            if terms == [0.0; 2] {
                continue;
            }
            let row = *readings.rows.entry((fold, station)).or_insert_with(|| rows.take(2));
            for (row, by) in (row..).zip(terms) {
                to.add(Source::Survey, row, face.frame.n * by);
            }
        }
    }
}
