//! What a spine has to carry, apart from itself: elements with their masses, wind and people.

use crate::balance::{Balance, Options as BalanceOptions, own_mass};
use crate::base::AnchorGroup;
use crate::element::Solid;
use crate::error::Result;
use crate::mass::{Body, Contribution, Kind, MassModel};
use crate::output::Output;
use crate::plates::PlateLevel;
use crate::silhouette::Outline;
use crate::wind::{self, Site, WIND_ROWS, Wind};
use crate::work::{FaceReport, Work};
use nalgebra::{Point3, Vector3};
use std::sync::Arc;

/// An element, or one with what stands on it beside the spine, as one rigid body.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// The element that the spine holds.
    pub element: usize,
    /// It and those that move with it, ascending.
    pub elements: Vec<usize>,
    /// All of them with all their masses but the spine's.
    pub body: Body,
}

/// A work without its spine.
#[derive(Debug, Clone)]
pub struct Carried<'a> {
    pub(super) work: &'a Work,
    /// Masses without the spine's, by element.
    bodies: Vec<Body>,
    held_by: Vec<Vec<usize>>,
    /// Elements from the ground up.
    order: Vec<usize>,
    /// The wind on it.
    pub wind: Wind,
    /// What it sees, by direction.
    outlines: Arc<Vec<Outline>>,
    /// Inside plates that the spine passes.
    pub(super) plates: Vec<PlateLevel>,
    /// Anchors of the base.
    pub(super) anchors: Option<AnchorGroup>,
}

/// A force and its moment about the foot of the spine, N and N·mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Wrench {
    pub(super) force: Vector3<f64>,
    pub(super) moment: Vector3<f64>,
}

impl Wrench {
    pub(super) const NONE: Self =
        Self { force: Vector3::new(0.0, 0.0, 0.0), moment: Vector3::new(0.0, 0.0, 0.0) };

    pub(super) fn add(&mut self, force: Vector3<f64>, arm: Vector3<f64>) {
        self.force += force;
        self.moment += arm.cross(&force);
    }
}

/// The element a contribution goes with. Splinters of sheet and weld that belong to none by name go with the element whose
/// middle is nearest, so that no mass of the work is lost; a base stays on the ground.
fn element_of(work: &Work, c: &Contribution) -> Option<usize> {
    if c.element.is_some() || !matches!(c.kind, Kind::Sheet | Kind::Filler) {
        return c.element;
    }
    let middles = work.sculpture.elements.iter().map(|e| {
        let [low, high] = e.solid.bounding_box();
        (nalgebra::center(&low, &high) - c.body.centre).norm()
    });
    middles.enumerate().min_by(|a, b| a.1.total_cmp(&b.1)).map(|m| m.0)
}

impl<'a> Carried<'a> {
    /// The work with the masses that stages have put together so far; its sheets and weld metal are added where they are
    /// not there yet. Wind, people and what stands on what are those of the stages `wind` and `balance`.
    ///
    /// # Errors
    /// Settings of `wind`, `balance` or `welds` that their rows do not allow; parts that cannot be weighed.
    pub fn new(work: &'a Work, output: &Output) -> Result<Self> {
        let mut mass: MassModel = output.mass.clone();
        if !mass.parts.iter().any(|c| c.kind == Kind::Sheet) {
            mass.parts.extend(own_mass(work)?.parts);
        }
        let mut options = BalanceOptions::of(&work.sculpture)?;
        options.foot = options.foot.or_else(|| output.stands_on.clone());
        let balance = Balance::on_ground(work, &mass, &options);
        let values = work.sculpture.stage_values(wind::STAGE, WIND_ROWS)?;
        let outlines = output.silhouettes(work);
        let site = Site::of(&values)?;
        let wind = Wind::on(&outlines, &work.mesh, &balance, &options.factors, site, &values);
        let of: Vec<Option<usize>> = mass.parts.iter().map(|c| element_of(work, c)).collect();
        let bodies = (0..work.sculpture.elements.len())
            .map(|e| {
                let own =
                    mass.parts.iter().zip(&of).filter(|(c, of)| **of == Some(e) && c.kind != Kind::Spine);
                Body::sum(own.map(|(c, _)| &c.body))
            })
            .collect();
        Ok(Self {
            work,
            bodies,
            held_by: balance.held_by,
            order: balance.order,
            wind,
            outlines,
            plates: output.plate_levels.clone(),
            anchors: output.anchors.clone(),
        })
    }

    /// The pieces that a spine through these elements carries, and the elements that it does not.
    pub(super) fn pieces(&self, passed: &[usize]) -> (Vec<Piece>, Vec<usize>) {
        let count = self.bodies.len();
        let mut carrier: Vec<Option<usize>> = vec![None; count];
        for &e in passed {
            carrier[e] = Some(e);
        }
        // Each stands on what went up before it; of several that hold it, the first that is carried takes it.
        for &e in &self.order {
            if carrier[e].is_none() {
                carrier[e] = self.held_by[e].iter().find_map(|h| carrier[*h]);
            }
        }
        let pieces = passed
            .iter()
            .map(|&element| {
                let elements: Vec<usize> = (0..count).filter(|e| carrier[*e] == Some(element)).collect();
                let body = Body::sum(elements.iter().map(|e| &self.bodies[*e]));
                Piece { element, elements, body }
            })
            .collect();
        (pieces, (0..count).filter(|e| carrier[*e].is_none()).collect())
    }

    /// What wind from each side puts on each piece: strip by strip at the height and place of its silhouette, each strip
    /// cut where the spine passes from one element to the next. All strips together are the wind's whole force.
    pub(super) fn blows(&self, foot: &Point3<f64>, bounds: &[f64]) -> Vec<Vec<Wrench>> {
        let ways = self.wind.ways.iter().zip(self.outlines.iter());
        ways.map(|(way, outline)| {
            let (sin, cos) = way.from.to_radians().sin_cos();
            let (with, right) = (Vector3::new(-cos, -sin, 0.0), Vector3::new(-sin, cos, 0.0));
            // Right of the foot, as the silhouette counts.
            let start = foot.coords.dot(&right);
            let mut all = vec![Wrench::NONE; bounds.len() + 1];
            for load in way.strips.iter().filter(|s| s.strip.area > 0.0) {
                let [low, high] = load.strip.z;
                let mut edges = vec![low];
                edges.extend(bounds.iter().copied().filter(|z| low < *z && *z < high));
                edges.push(high);
                let whole = edges.len() == 2;
                for pair in edges.windows(2) {
                    let cut = if whole { load.strip } else { outline.between([pair[0], pair[1]]) };
                    let force = with * (load.force * cut.area / load.strip.area);
                    let arm = right * (cut.aside - start) + Vector3::z() * (cut.height - foot.z);
                    let piece = bounds.iter().filter(|z| **z <= pair[0]).count();
                    all[piece].add(force, arm);
                }
            }
            all
        })
        .collect()
    }

    /// The name of an element.
    pub fn name(&self, element: usize) -> &str {
        &self.work.sculpture.elements[element].solid.name
    }

    /// The shape of an element.
    pub fn solid(&self, element: usize) -> &Solid {
        &self.work.sculpture.elements[element].solid
    }

    /// The sheet on a face of an element, by the face's number; none where it is open or cut away.
    pub(super) fn sheet(&self, element: usize, face: usize) -> Option<&FaceReport> {
        let of = &self.work.sculpture.elements[element];
        if of.cladding.get(face).is_none_or(|c| c.open.is_some()) {
            return None;
        }
        let id = format!("{}/{}", of.solid.name, of.solid.faces[face].label);
        self.work.faces.iter().find(|f| f.id == id && f.area > 0.0)
    }

    /// The highest corner of an element, mm.
    pub(super) fn top(&self, element: usize) -> Point3<f64> {
        let corners = self.work.sculpture.elements[element].solid.vertices();
        corners.max_by(|a, b| a.z.total_cmp(&b.z)).unwrap_or_else(Point3::origin)
    }
}
