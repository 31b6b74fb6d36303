//! Levels: the ground, and every joint between elements, with the load above and what holds it.
//!
//! What stands on what is read off the finished shell: an element that reaches down to the lowest point of the work
//! stands on the ground; from there on, lowest foot first, an element is held by those standing ones it shares a seam
//! with. At an element's level the load is all that would come down with it if it were cut loose. An element held by
//! several others loads each of their levels with a share nobody can tell without their stiffness: such loads are
//! left out of those levels (never of the ground's) and are named in `shared`.
//! Equilibrium: EN 1990, Table A1.2(A) (EQU), with the same self-weight split at the tipping edge: what lies beyond
//! it counts as destabilising, the rest as stabilising. Preliminary; a licensed engineer decides.

use super::options::{Factors, Options};
use super::support::Support;
use crate::mass::facet::Line;
use crate::mass::{Body, Contribution, Kind, MassModel};
use crate::units::STANDARD_GRAVITY;
use crate::work::Work;
use nalgebra::Point3;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// One edge a load may tip about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pivot {
    /// Its ends, mm.
    pub ends: [Point3<f64>; 2],
    /// The line, normal outward.
    pub line: Line,
    /// Moment of the weight that holds, without factor, N·mm.
    pub holding: f64,
    /// Moment of the weight beyond the edge, without factor, N·mm.
    pub tipping: f64,
    /// Moment of water beyond the edge, without factor, N·mm. It comes and goes: it never holds.
    pub water: f64,
}

/// The equilibrium check of a level under weight alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Equ {
    /// The worst edge (index into `Level::pivots`).
    pub pivot: usize,
    /// Destabilising over stabilising moment with their factors; above 1 it fails.
    pub use_of: f64,
    /// Moment by which it fails, N·mm; negative where it holds.
    pub missing: f64,
}

/// One level.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    /// The element that stands in this joint; none for the ground.
    pub element: Option<usize>,
    /// `ground`, or the names of the elements on both sides: `A | B`.
    pub name: String,
    /// The elements whose weight comes down here, ascending.
    pub above: Vec<usize>,
    /// All of the load.
    pub load: Body,
    /// What holds it.
    pub support: Support,
    /// Signed distance in plan of the load's line from the support's border, positive inside, mm.
    pub margin: f64,
    /// Least angle to tipping and its direction, degrees.
    pub least_angle: [f64; 2],
    /// From the support's centroid to the load's line, mm.
    pub eccentricity: [f64; 2],
    /// Its edges; none where they were not asked for.
    pub pivots: Vec<Pivot>,
    /// The check; none if nothing can stand on the support, or no edges were asked for.
    pub equ: Option<Equ>,
}

/// Balance of a whole work.
#[derive(Debug, Clone, PartialEq)]
pub struct Balance {
    /// The ground first, then the joints in the order elements go up.
    pub levels: Vec<Level>,
    /// Elements in the order they go up.
    pub order: Vec<usize>,
    /// For each element those that hold it; empty on the ground or in the air.
    pub held_by: Vec<Vec<usize>>,
    /// Elements that nothing holds.
    pub floating: Vec<usize>,
    /// Elements held by several, whose load is left out of these others' levels.
    pub shared: Vec<usize>,
    /// Points of contact between two elements (lower index first), mm.
    pub contacts: BTreeMap<(usize, usize), Vec<Point3<f64>>>,
    /// Height of the lowest point of the shell, mm.
    pub lowest: f64,
    /// Lowest points may lie this far off z = 0: what a corrugated bottom or a clearance brings about, mm.
    pub play: f64,
}

impl Balance {
    /// The balance of a work with these masses. With `within_elements` (ascending) only of these, as when a work is
    /// half built.
    pub fn new(work: &Work, model: &MassModel, options: &Options) -> Self {
        Self::of_some(work, model, options, None, Edges::All)
    }

    /// The same, with the edges of the ground alone worked out.
    pub fn on_ground(work: &Work, model: &MassModel, options: &Options) -> Self {
        Self::of_some(work, model, options, None, Edges::Ground)
    }

    /// The same, with margins and angles alone: no edges, and no check of equilibrium.
    pub fn margins(work: &Work, model: &MassModel, options: &Options, some: Option<&[usize]>) -> Self {
        Self::of_some(work, model, options, some, Edges::None)
    }

    /// The same, of some elements only (ascending), with the edges of some levels.
    fn of_some(
        work: &Work,
        model: &MassModel,
        options: &Options,
        some: Option<&[usize]>,
        edges: Edges,
    ) -> Self {
        let count = work.sculpture.elements.len();
        let present = |e: usize| some.is_none_or(|s| s.contains(&e));
        let contacts = contacts(work);
        let lowest_of = lowest_points(work);
        let lowest = lowest_of.iter().copied().fold(f64::INFINITY, f64::min);
        let near = |e: usize| lowest_of[e] <= lowest + options.within;
        let mut balance = Self {
            levels: Vec::new(),
            order: (0..count).filter(|&e| present(e) && near(e)).collect(),
            held_by: vec![Vec::new(); count],
            floating: Vec::new(),
            shared: Vec::new(),
            contacts,
            lowest,
            play: play(work),
        };
        balance.set_up(work, &present);
        balance.floating = (0..count).filter(|e| present(*e) && !balance.order.contains(e)).collect();
        let standing: Vec<usize> =
            balance.order.iter().copied().filter(|&e| balance.held_by[e].is_empty()).collect();
        let foot = match &options.foot {
            Some(outline) => outline.iter().map(|p| Point3::new(p[0], p[1], lowest.min(0.0))).collect(),
            None => standing_points(work, lowest + options.within, |e| standing.contains(&e)),
        };
        let mut all = balance.order.clone();
        all.sort_unstable();
        let mut asked = vec![(None, "ground".to_owned(), all, Support::new(foot))];
        for &e in balance.order.iter().filter(|e| !balance.held_by[**e].is_empty()) {
            let above = balance.coming_down_with(e);
            let points = balance.points_under(&above);
            let name = |e: usize| work.sculpture.elements[e].solid.name.as_str();
            let below: Vec<&str> = balance.held_by[e].iter().map(|&b| name(b)).collect();
            asked.push((
                Some(e),
                format!("{} | {}", below.join(" + "), name(e)),
                above,
                Support::new(points),
            ));
        }
        let ups: BTreeSet<usize> = asked
            .iter()
            .skip(1)
            .flat_map(|a| a.2.iter().copied())
            .filter(|e| balance.held_by[*e].len() > 1)
            .collect();
        balance.shared = ups.into_iter().collect();
        balance.levels = asked
            .into_iter()
            .map(|(element, name, above, support)| {
                let wanted = edges == Edges::All || (edges == Edges::Ground && element.is_none());
                level(model, (element, name), above, support, wanted.then_some(&options.factors))
            })
            .collect();
        balance
    }

    /// Finds the order: lowest foot first among those that touch what stands.
    fn set_up(&mut self, work: &Work, present: &impl Fn(usize) -> bool) {
        let count = work.sculpture.elements.len();
        let feet: Vec<f64> = work.sculpture.elements.iter().map(|e| e.solid.lowest_z()).collect();
        self.order.sort_by(|&a, &b| feet[a].total_cmp(&feet[b]).then(a.cmp(&b)));
        loop {
            let holders = |e: usize| -> Vec<usize> {
                let touch = |o: &usize| self.contacts.contains_key(&(e.min(*o), e.max(*o)));
                let mut all: Vec<usize> = self.order.iter().copied().filter(touch).collect();
                all.sort_unstable();
                all
            };
            let next = (0..count)
                .filter(|&e| present(e) && !self.order.contains(&e) && !holders(e).is_empty())
                .min_by(|&a, &b| feet[a].total_cmp(&feet[b]).then(a.cmp(&b)));
            let Some(e) = next else { return };
            self.held_by[e] = holders(e);
            self.order.push(e);
        }
    }

    /// The elements that come down if one is cut loose from what holds it, ascending.
    fn coming_down_with(&self, loose: usize) -> Vec<usize> {
        let mut stands = BTreeSet::new();
        for &e in self.order.iter().filter(|e| **e != loose) {
            if self.held_by[e].is_empty() || self.held_by[e].iter().any(|h| stands.contains(h)) {
                stands.insert(e);
            }
        }
        let mut down: Vec<usize> = self.order.iter().copied().filter(|e| !stands.contains(e)).collect();
        down.sort_unstable();
        down
    }

    /// Points in which these elements touch the other standing ones.
    fn points_under(&self, above: &[usize]) -> Vec<Point3<f64>> {
        let up = |e: usize| above.contains(&e);
        let there = |e: usize| self.order.contains(&e);
        let cut = self.contacts.iter().filter(|((a, b), _)| up(*a) != up(*b) && there(*a) && there(*b));
        cut.flat_map(|(_, points)| points.iter().copied()).collect()
    }

    /// The level of the ground.
    pub fn ground(&self) -> &Level {
        &self.levels[0]
    }

    /// The levels an element's weight comes down through.
    pub fn below(&self, element: usize) -> impl Iterator<Item = &Level> {
        self.levels.iter().filter(move |l| l.above.contains(&element))
    }

    /// Least margin of these levels, mm.
    pub fn tightest(&self, element: usize) -> f64 {
        self.below(element).map(|l| l.margin).fold(f64::INFINITY, f64::min)
    }
}

/// Of which levels the edges are worked out: that takes most of the time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Edges {
    All,
    Ground,
    None,
}

/// Whether a contribution is part of the load of a level.
fn counts(c: &Contribution, element: Option<usize>, above: &[usize]) -> bool {
    c.element.map_or(element.is_none(), |e| above.contains(&e))
}

fn level(
    model: &MassModel,
    (element, name): (Option<usize>, String),
    above: Vec<usize>,
    support: Support,
    factors: Option<&Factors>,
) -> Level {
    let dry = |c: &Contribution| c.kind != Kind::Water && counts(c, element, &above);
    let load = model.body(dry);
    let wet = model.body(|c| counts(c, element, &above));
    let edges: Vec<_> = if factors.is_some() { support.edges().collect() } else { Vec::new() };
    let pivots: Vec<Pivot> = edges
        .into_par_iter()
        .map(|(ends, line)| {
            let sides = model.sides(&line, dry);
            let water = model.sides(&line, |c| c.kind == Kind::Water && counts(c, element, &above)).beyond;
            // kg·mm times m/s² is N·mm.
            let [holding, tipping, water] = [sides.before, sides.beyond, water].map(|m| m * STANDARD_GRAVITY);
            Pivot { ends, line, holding, tipping, water }
        })
        .collect();
    let centroid = support.centroid();
    Level {
        element,
        name,
        margin: support.margin(&load.centre).min(support.margin(&wet.centre)),
        least_angle: support.least_angle(&load.centre),
        eccentricity: [load.centre.x - centroid[0], load.centre.y - centroid[1]],
        equ: factors.and_then(|f| worst(&pivots, f, |_| 0.0)),
        above,
        load,
        support,
        pivots,
    }
}

/// The worst of some edges, with a further tipping moment (its factor in it) at each, N·mm.
pub fn worst(pivots: &[Pivot], factors: &Factors, further: impl Fn(&Pivot) -> f64) -> Option<Equ> {
    let all = pivots.iter().enumerate().map(|(pivot, p)| {
        let down = factors.destabilising * p.tipping + factors.variable * p.water + further(p);
        let up = factors.stabilising * p.holding;
        let use_of = if up > 0.0 { down / up } else { f64::INFINITY };
        Equ { pivot, use_of, missing: down - up }
    });
    all.max_by(|a, b| a.use_of.total_cmp(&b.use_of).then(a.missing.total_cmp(&b.missing)))
}

/// The greatest moment that is missing about any edge, with a further tipping moment at each, N·mm; 0 where all hold.
/// What anchors must take: not always that of the edge with the greatest use.
pub fn most_missing(pivots: &[Pivot], factors: &Factors, further: impl Fn(&Pivot) -> f64) -> f64 {
    let missing = pivots.iter().map(|p| {
        let down = factors.destabilising * p.tipping + factors.variable * p.water + further(p);
        down - factors.stabilising * p.holding
    });
    missing.fold(0.0, f64::max)
}

/// Points of seams between faces of two elements.
fn contacts(work: &Work) -> BTreeMap<(usize, usize), Vec<Point3<f64>>> {
    let mut found: BTreeMap<(usize, usize), Vec<Point3<f64>>> = BTreeMap::new();
    for seam in &work.seams {
        let [a, b] = seam.between.map(|f| work.faces[f].element);
        if a != b {
            let points = found.entry((a.min(b), a.max(b))).or_default();
            points.extend(seam.runs.iter().flat_map(|r| r.points.iter().copied()));
        }
    }
    found.retain(|_, points| !points.is_empty());
    found
}

/// The element of every name of the mesh; none for closure strips.
fn element_of_names(work: &Work) -> Vec<Option<usize>> {
    let faces: BTreeMap<&str, usize> = work.faces.iter().map(|f| (f.id.as_str(), f.element)).collect();
    work.mesh.names.iter().map(|n| faces.get(n.as_str()).copied()).collect()
}

/// Height of the lowest point of each element's shell, mm; infinite for one that does not show.
fn lowest_points(work: &Work) -> Vec<f64> {
    let of = element_of_names(work);
    let mut lowest = vec![f64::INFINITY; work.sculpture.elements.len()];
    for (t, &part) in work.mesh.triangles.iter().zip(&work.mesh.part_of) {
        if let Some(Some(e)) = of.get(part as usize)
            && let Some(low) = lowest.get_mut(*e)
        {
            *low = t.iter().map(|&i| work.mesh.points[i as usize].z).fold(*low, f64::min);
        }
    }
    lowest
}

/// Points of some elements' shells up to a height.
fn standing_points(work: &Work, up_to: f64, wanted: impl Fn(usize) -> bool) -> Vec<Point3<f64>> {
    let of = element_of_names(work);
    let mut low = BTreeSet::new();
    for (t, &part) in work.mesh.triangles.iter().zip(&work.mesh.part_of) {
        if of.get(part as usize).is_some_and(|e| e.is_some_and(&wanted)) {
            low.extend(t.iter().copied().filter(|&i| work.mesh.points[i as usize].z <= up_to));
        }
    }
    low.into_iter().map(|i| work.mesh.points[i as usize]).collect()
}

/// How far the lowest point of a standing work may be from z = 0, mm: the depth of its deepest sheet, or the
/// clearance of a face left open, and a millimetre.
fn play(work: &Work) -> f64 {
    let depths = work.faces.iter().map(|f| f.profile.depth() + f.profile.thickness());
    let open = work.sculpture.elements.iter().flat_map(|e| e.cladding.iter().filter_map(|c| c.open));
    depths.chain(open).fold(0.0, f64::max) + 1.0
}
