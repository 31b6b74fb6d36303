//! Assembly: the sculpture's faces as sheets in place, trimmed and sewn.
//!
//! All arithmetic is done around the middle of the work, so that a work ten kilometres from the origin
//! comes out the same.

use crate::cladding::{self, Sheet, face_frame};
use crate::error::{Error, Result};
use crate::loft::Loft;
use crate::memo::Memo;
use crate::part::Frame;
use crate::profile::{Piece, Profile};
use crate::sculpture::Sculpture;
use crate::shell::{Shell, patch_volume};
use crate::survey::Wander;
use crate::trim::field::{Bisected, Field};
use crate::trim::{trim, trim_face_alone};
use nalgebra::{Point3, Vector3};
use std::ops::Range;
use std::sync::Arc;

/// Every sheet is moved outward by one to two times this share of the work's size, each by its own amount:
/// a thousand times the rounding of a point far from the origin, a tenth of a nanometre per metre.
const MOVE: f64 = 2.0e-11;
/// How many sets of moves are tried before a work is called open, each set larger than the one before.
const ATTEMPTS: u32 = 6;
/// The same for the inside and outside skins.
const SKIN_ATTEMPTS: u32 = 1;
const GROWTH: f64 = 4.0;
/// Corners are welded within this many moves: what two moves split off at a slanting edge.
const WELD_MOVES: f64 = 40.0;
/// Successive multiples of these, modulo 1, never come close to each other (golden ratio, and the root of
/// x³ = x + 1).
const GOLDEN: f64 = 0.618_033_988_749_894_9;
const PLASTIC: f64 = 0.754_877_666_246_692_8;

/// The middle of a work is taken to the nearest of so many steps over its size, and its size to the next eighth of a
/// power of two: where one element is moved a little, all others then keep their coordinates to the last bit, and what
/// was found out about them still holds.
const CENTRE_STEPS: f64 = 16.0;
const SIZE_STEPS: f64 = 8.0;

/// Which surface of the cladding is trimmed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Surface {
    /// The flat faces of the solids.
    Flat,
    /// The inside skins of the sheets.
    Inside,
    /// Their middle skins: the thin surface all figures are of.
    Middle,
    /// Their outside skins.
    Outside,
}

impl Surface {
    /// −1 for the inside, 1 for the outside, 0 between.
    pub(crate) fn side(self) -> f64 {
        match self {
            Surface::Inside => -1.0,
            Surface::Outside => 1.0,
            Surface::Flat | Surface::Middle => 0.0,
        }
    }
}

/// One face of the work, ready to be trimmed.
#[derive(Debug, Clone)]
pub(crate) struct PlacedFace {
    /// `A/east`.
    pub(crate) id: String,
    pub(crate) element: usize,
    /// In world coordinates.
    pub(crate) frame: Frame,
    pub(crate) profile: Arc<Profile>,
    pub(crate) phase: f64,
    pub(crate) lift: f64,
    /// No sheet is there: a flat plane only bounds its neighbours.
    pub(crate) open: bool,
    /// Where a surveyed sheet departs from the profile.
    pub(crate) wander: Option<Arc<Wander>>,
    /// Its inside, middle and outside skins.
    lofts: Option<[Arc<Loft>; 3]>,
}

impl PlacedFace {
    /// Thickness of its sheet, mm; 0 where there is none.
    pub(crate) fn thickness(&self) -> f64 {
        if self.open { 0.0 } else { self.profile.thickness() }
    }
}

/// A sculpture with all faces resolved.
#[derive(Debug, Clone)]
pub(crate) struct Assembly {
    pub(crate) faces: Vec<PlacedFace>,
    pub(crate) elements: Vec<Range<usize>>,
    /// Middle of the work.
    pub(crate) centre: Vector3<f64>,
    /// Diagonal of its box, mm; no less than that, and up to an eighth more.
    pub(crate) size: f64,
    /// Faces that were trimmed before.
    pub(crate) memo: Memo,
}

impl Assembly {
    /// Resolves every face's frame and sheet.
    ///
    /// # Errors
    /// A work without elements, a face without a profile, or ribs along a normal.
    pub(crate) fn new(sculpture: &Sculpture) -> Result<Self> {
        if sculpture.elements.is_empty() {
            return Err(Error::input("the sculpture has no elements")
                .at(sculpture.name.as_str())
                .remedy("add one with .stand(element), .stack(element, #{…}) or .add(element)"));
        }
        let mut faces = Vec::new();
        let mut elements = Vec::new();
        let (mut low, mut high) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
        let mut deepest = 0.0_f64;
        let open = Arc::new(nothing()?);
        for (e, element) in sculpture.elements.iter().enumerate() {
            let start = faces.len();
            for (face, cladding) in element.solid.faces.iter().zip(&element.cladding) {
                let id = format!("{}/{}", element.solid.name, face.label);
                let profile = match cladding.open {
                    Some(_) => Some(open.clone()),
                    None => {
                        let laid = cladding.sheet.as_ref().map(|laid| laid.sheet.nominal.clone());
                        laid.or_else(|| cladding.profile.clone())
                    }
                };
                let profile = profile.ok_or_else(|| {
                    Error::input("this face is not clad")
                        .at(id.as_str())
                        .remedy("call .clad(profile) on its element, or give the face a profile")
                })?;
                let centroid = centroid(&face.polygon).unwrap_or(face.point);
                let mut frame = face_frame(&id, face.normal, centroid, cladding)?;
                // `through` counts as seen square to the face, wherever it lies off it.
                frame.origin -= frame.n * (frame.origin - face.point).dot(&frame.n);
                deepest = deepest.max(profile.depth());
                for p in &face.polygon {
                    for i in 0..3 {
                        low[i] = low[i].min(p[i]);
                        high[i] = high[i].max(p[i]);
                    }
                }
                let lift = match cladding.open {
                    Some(clearance) => -clearance,
                    None => cladding::lift(&profile, cladding.datum),
                };
                let open = cladding.open.is_some();
                let (mut phase, mut wander) = (cladding.phase, None);
                if let Some(laid) = cladding.sheet.as_ref().filter(|_| !open) {
                    // Where crests lie is the sheet's to say.
                    let (departs, from) = Wander::of(laid).map_err(|e| e.at(id.as_str()))?;
                    phase = from;
                    wander = Some(Arc::new(departs));
                }
                let half = profile.thickness() / 2.0;
                let lofts =
                    wander.as_ref().map(|w| [-half, 0.0, half].map(|offset| Arc::new(Loft::new(w, offset))));
                faces.push(PlacedFace { id, element: e, frame, profile, phase, lift, open, wander, lofts });
            }
            elements.push(start..faces.len());
        }
        let low = Vector3::from(low);
        let high = Vector3::from(high);
        let size = rounded_up((high - low).norm() + deepest);
        let centre = ((low + high) / 2.0).map(|x| (x / size * CENTRE_STEPS).round() * (size / CENTRE_STEPS));
        Ok(Self { faces, elements, centre, size, memo: Memo::default() })
    }

    /// The sheets of one attempt.
    pub(crate) fn field(&self, surface: Surface, bisected: &Bisected, attempt: u32) -> Field {
        let step = self.step(attempt);
        let sheets = self
            .faces
            .iter()
            .enumerate()
            .map(|(i, face)| {
                #[allow(clippy::cast_precision_loss, reason = "small")]
                let k = (i + 1) as f64 + 1000.0 * f64::from(attempt);
                let outward = step * (1.0 + (k * GOLDEN).fract());
                let across = step * (k * PLASTIC).fract();
                let lift = if surface == Surface::Flat { 0.0 } else { face.lift };
                let f = &face.frame;
                let plane_lift = lift;
                let centre = f.origin - self.centre + f.v * (face.phase + across) + f.n * (lift + outward);
                // Measured distances get a move of their own too, so that two crests that meet on a wall,
                // or four walls that meet in a line, do not coincide.
                let lift = lift + across;
                let offset = surface.side() * face.profile.thickness() / 2.0;
                let level = f.n.dot(&(f.origin - self.centre).coords) + (plane_lift + outward);
                let mut sheet = match surface.side() {
                    _ if surface == Surface::Flat => Sheet::new(face.element, f, centre, lift, None),
                    side if let Some([inside, middle, outside]) = &face.lofts => {
                        let loft = if side < 0.0 {
                            inside
                        } else if side > 0.0 {
                            outside
                        } else {
                            middle
                        };
                        Sheet::surveyed(face.element, f, centre, lift, loft, offset)
                    }
                    side if side == 0.0 || face.open => {
                        Sheet::new(face.element, f, centre, lift, Some(&face.profile))
                    }
                    _ => Sheet::on_skin(face.element, f, centre, lift, &face.profile, offset),
                };
                // Without what lies in the plane, so that other ribs do not touch what only sees the plane.
                let is_moved = face.lofts.is_some() || !face.open;
                sheet.level = level + if is_moved { offset } else { 0.0 };
                sheet
            })
            .collect::<Vec<Sheet>>();
        Field::new(sheets, self.elements.clone(), bisected.clone(), self.size, self.memo.clone())
    }

    /// Size of the moves of one attempt, mm.
    fn step(&self, attempt: u32) -> f64 {
        MOVE * self.size * GROWTH.powf(f64::from(attempt))
    }

    /// Trims and sews; tries further moves while the shell stays open.
    pub(crate) fn shell(&self, surface: Surface, bisected: &Bisected) -> Shell {
        // Parts are cut from the skins one by one, so a skin that does not close need not be sought for long.
        let attempts = if surface.side() == 0.0 { ATTEMPTS } else { SKIN_ATTEMPTS };
        self.sewn(surface, bisected, attempts)
    }

    /// The same of a skin that has to close: what is inside it is asked for, not its parts.
    pub(crate) fn closed_skin(&self, surface: Surface, bisected: &Bisected) -> Shell {
        self.sewn(surface, bisected, ATTEMPTS)
    }

    fn sewn(&self, surface: Surface, bisected: &Bisected, attempts: u32) -> Shell {
        let mut best: Option<Shell> = None;
        for attempt in 0..attempts {
            let trimmed = trim(&self.field(surface, bisected, attempt));
            let shell = Shell::sew(trimmed.patches, WELD_MOVES * self.step(attempt));
            let open = shell.open;
            if best.as_ref().is_none_or(|b| open < b.open) {
                best = Some(shell);
            }
            if open == 0 {
                break;
            }
        }
        best.unwrap_or_default()
    }

    /// Enclosed volume with exact cuts, mm³, straight from the patches: nothing needs to be sewn for it.
    pub(crate) fn volume(&self) -> f64 {
        let field = self.field(Surface::Middle, &Bisected::none(self.faces.len()), 0);
        trim(&field).patches.iter().map(patch_volume).sum()
    }

    /// What one face would be if only its own element were there.
    pub(crate) fn face_alone(&self, f: usize, surface: Surface) -> Shell {
        let field = self.field(surface, &Bisected::none(self.faces.len()), 0);
        Shell::sew(trim_face_alone(&field, f).patches, WELD_MOVES * self.step(0))
    }

    /// One element by itself.
    pub(crate) fn alone(&self, element: usize) -> Self {
        self.some(&[element])
    }

    /// Some elements by themselves, ascending.
    pub(crate) fn some(&self, wanted: &[usize]) -> Self {
        let (mut faces, mut elements) = (Vec::new(), Vec::new());
        for (k, &e) in wanted.iter().enumerate() {
            let start = faces.len();
            let own = self.faces[self.elements[e].clone()].iter().cloned();
            faces.extend(own.map(|f| PlacedFace { element: k, ..f }));
            elements.push(start..faces.len());
        }
        Self { faces, elements, centre: self.centre, size: self.size, memo: self.memo.clone() }
    }

    /// Closes an element in place of one of its faces with a flat plane: `over` mm outside the plane of another face,
    /// which is seen from the other side.
    pub(crate) fn close_on(&mut self, face: usize, other: &Frame, over: f64) -> Result<()> {
        let n = -other.n;
        let frame = Frame { origin: other.origin, u: other.u, v: n.cross(&other.u), n };
        let own = &mut self.faces[face];
        own.frame = frame;
        own.lift = -over;
        own.phase = 0.0;
        own.open = true;
        own.wander = None;
        own.lofts = None;
        own.profile = Arc::new(nothing()?);
        Ok(())
    }

    /// A local point in world coordinates.
    pub(crate) fn world(&self, p: &Point3<f64>) -> Point3<f64> {
        p + self.centre
    }
}

/// The next eighth of a power of two.
fn rounded_up(size: f64) -> f64 {
    if size > 0.0 && size.is_finite() {
        let unit = size.log2().floor().exp2() / SIZE_STEPS;
        (size / unit).ceil() * unit
    } else {
        size
    }
}

/// What lies in a face that is left open: a flat plane without thickness.
fn nothing() -> Result<Profile> {
    Profile::from_pieces("open", vec![Piece::Flat { length: 1.0 }], 1.0, 0.0)
}

fn centroid(polygon: &[Point3<f64>]) -> Option<Point3<f64>> {
    let first = polygon.first()?;
    let (mut sum, mut area) = (Vector3::zeros(), 0.0);
    for pair in polygon[1..].windows(2) {
        let (a, b) = (pair[0] - first, pair[1] - first);
        let weight = a.cross(&b).norm();
        sum += (a + b) * (weight / 3.0);
        area += weight;
    }
    (area > 0.0).then(|| first + sum / area)
}
