//! The mass model of a work: contributions by element and kind, pushed by whoever knows them.

use super::body::{Body, Gather};
use super::facet::{Facet, Line, Rod, Sides};
use super::sheet::facets_of_part;
use crate::error::{Error, Result};
use crate::part::Part;
use nalgebra::Point3;
use rayon::prelude::*;

/// What a contribution is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// Cladding: sheets and closure strips.
    Sheet,
    /// Weld metal.
    Filler,
    /// The tube inside.
    Spine,
    /// Base plate, frame, ballast.
    Base,
    /// Other plates: gussets, lifting eyes, caps.
    Plate,
    /// Wax, paint.
    Coating,
    /// Trapped water, snow, ice: comes and goes.
    Water,
}

/// All kinds in the order of tables.
pub const KINDS: [Kind; 7] =
    [Kind::Sheet, Kind::Filler, Kind::Spine, Kind::Base, Kind::Plate, Kind::Coating, Kind::Water];

impl Kind {
    /// The word in tables.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Sheet => "sheet",
            Kind::Filler => "filler",
            Kind::Spine => "spine",
            Kind::Base => "base",
            Kind::Plate => "plates",
            Kind::Coating => "coating",
            Kind::Water => "water",
        }
    }
}

/// The matter of a contribution.
#[derive(Debug, Clone, PartialEq)]
pub enum Matter {
    /// Thick sheet.
    Sheet(Vec<Facet>),
    /// Beads and tubes.
    Rods(Vec<Rod>),
    /// Anything else; for the split at a tipping edge all of it lies at its centre.
    Lump(Body),
}

/// One contribution.
#[derive(Debug, Clone, PartialEq)]
pub struct Contribution {
    /// The element it goes up with; none stays on the ground (a base plate).
    pub element: Option<usize>,
    /// What it is.
    pub kind: Kind,
    /// Its name: a part's id, a seam's id, `base plate`.
    pub what: String,
    /// Where its mass lies.
    pub matter: Matter,
    /// All of it as one body.
    pub body: Body,
    /// How far any of it lies from its centre in plan, at most, mm.
    pub reach: f64,
}

/// All contributions of a work, in the order they were pushed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct MassModel {
    /// The contributions.
    pub parts: Vec<Contribution>,
}

impl Matter {
    /// All of it as one body.
    pub fn body(&self) -> Body {
        match self {
            Matter::Sheet(facets) => {
                let Some(first) = facets.first() else { return Body::default() };
                let mut all = Gather::about(first.corners[0]);
                facets.iter().for_each(|f| f.gather(&mut all));
                all.body()
            }
            Matter::Rods(rods) => {
                let bodies: Vec<Body> = rods.iter().map(|r| Body::rod(r.mass, r.ends)).collect();
                Body::sum(&bodies)
            }
            Matter::Lump(body) => *body,
        }
    }

    /// How far any of it lies from a point in plan, at most, mm.
    fn reach(&self, from: &Point3<f64>) -> f64 {
        let away = |p: &Point3<f64>| (p - from).xy().norm();
        match self {
            Matter::Sheet(facets) => facets
                .iter()
                .flat_map(|f| f.corners.iter().map(move |p| (p, f.thickness.abs())))
                .map(|(p, thickness)| away(p) + thickness)
                .fold(0.0, f64::max),
            Matter::Rods(rods) => rods.iter().flat_map(|r| &r.ends).map(away).fold(0.0, f64::max),
            Matter::Lump(_) => 0.0,
        }
    }

    /// Moments about a line.
    pub fn sides(&self, line: &Line) -> Sides {
        let mut all = Sides::default();
        match self {
            Matter::Sheet(facets) => facets.iter().for_each(|f| all.add(f.sides(line))),
            Matter::Rods(rods) => rods.iter().for_each(|r| all.add(r.sides(line))),
            Matter::Lump(body) => all.add(Sides::of_point(body.mass, line.distance(&body.centre))),
        }
        all
    }
}

impl Contribution {
    fn new(element: Option<usize>, kind: Kind, what: String, matter: Matter) -> Self {
        let body = matter.body();
        let reach = matter.reach(&body.centre);
        Self { element, kind, what, matter, body, reach }
    }

    /// Moments about a line. What lies on one side of it is as good as a point.
    fn sides(&self, line: &Line) -> Sides {
        let at = line.distance(&self.body.centre);
        if at.abs() >= self.reach { Sides::of_point(self.body.mass, at) } else { self.matter.sides(line) }
    }
}

impl MassModel {
    /// The sheets and closure strips of a work; `element_of` says which element a part goes up with.
    ///
    /// # Errors
    /// A part without thickness, or a density that is not positive.
    pub fn of_parts(
        parts: &[Part],
        density: f64,
        element_of: impl Fn(&Part) -> Option<usize> + Sync,
    ) -> Result<Self> {
        let made: Result<Vec<Contribution>> = parts
            .par_iter()
            .map(|part| {
                let matter = Matter::Sheet(facets_of_part(part, density)?);
                Ok(Contribution::new(element_of(part), Kind::Sheet, part.id.clone(), matter))
            })
            .collect();
        Ok(Self { parts: made? })
    }

    /// Adds a contribution.
    ///
    /// # Errors
    /// A mass that is negative or not finite.
    pub fn push(
        &mut self,
        element: Option<usize>,
        kind: Kind,
        what: impl Into<String>,
        matter: Matter,
    ) -> Result<()> {
        let one = Contribution::new(element, kind, what.into(), matter);
        let body = &one.body;
        let finite = body.mass.is_finite() && body.centre.iter().all(|x| x.is_finite());
        if !finite || body.mass < 0.0 {
            return Err(Error::input(format!("a mass of {} kg is not possible", body.mass))
                .at(one.what)
                .remedy("give a mass of 0 or more, at a place of finite coordinates"));
        }
        self.parts.push(one);
        Ok(())
    }

    /// All contributions that are wanted as one body.
    pub fn body(&self, wanted: impl Fn(&Contribution) -> bool) -> Body {
        Body::sum(self.parts.iter().filter(|c| wanted(c)).map(|c| &c.body))
    }

    /// The whole work.
    pub fn total(&self) -> Body {
        self.body(|_| true)
    }

    /// What goes up with an element, of all kinds.
    pub fn of_element(&self, element: usize) -> Body {
        self.body(|c| c.element == Some(element))
    }

    /// Moments about a line of the contributions that are wanted.
    pub fn sides(&self, line: &Line, wanted: impl Fn(&Contribution) -> bool) -> Sides {
        let mut all = Sides::default();
        self.parts.iter().filter(|c| wanted(c)).for_each(|c| all.add(c.sides(line)));
        all
    }
}
