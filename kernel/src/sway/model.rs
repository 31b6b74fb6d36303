//! The frame model of a work: beams along the spine's axis, a rigid body for every piece it carries, and its foot.

use super::axis::{Axis, Passed, passed};
use super::carried::{Carried, Piece};
use super::cases::{Case, Sides};
use super::options::{Attach, Foot, Options};
use super::shell;
use crate::error::{Error, Result};
use crate::frame::{Bar, Body, Link, Load, Member, Model, Node, Span, Support};
use crate::spine::Built;
use crate::tube::Tube;
use crate::units::STANDARD_GRAVITY;
use crate::water::Wear;
use nalgebra::{Point3, Vector3, Vector6};

/// Members are not longer than this share of the axis: frequencies of the first modes are then 1e-4 high at most, and
/// static results are exact with any number.
const LONGEST: f64 = 1.0 / 16.0;
/// Places on the axis nearer to each other than this are one node, mm.
const MERGED: f64 = 1.0;
/// Two collars nearer to each other than this hold as one does, stiffly, mm.
const LEAST_LEVER: f64 = 50.0;
/// Young's modulus of anchors, MPa (steel: EN 1993-1-1 3.2.6, from memory).
const ANCHOR_YOUNG: f64 = 210_000.0;
/// m/s² in the model.
const DOWN: Vector3<f64> = Vector3::new(0.0, 0.0, -STANDARD_GRAVITY);

/// A work on its spine.
#[derive(Debug, Clone)]
pub struct Sway<'a> {
    pub(super) carried: &'a Carried<'a>,
    pub(super) built: Built,
    /// What rust leaves of the tube over the life asked for, and what it takes of the sheets.
    pub(super) worn: Tube,
    pub(super) wear: Wear,
    pub(super) options: Options,
    pub(super) axis: Axis,
    pub(super) frame: Model,
    /// Node of each piece, at its centre of mass.
    pub(super) nodes: Vec<usize>,
    /// The leg of each member.
    pub(super) legs: Vec<usize>,
    pub(super) sides: Sides,
    /// Nodes along the axis, from the foot up.
    pub(super) line: Vec<usize>,
    /// What the spine carries, from the foot up.
    pub pieces: Vec<Piece>,
    /// Where along the axis each piece is held: one place, or two.
    pub holds: Vec<Vec<f64>>,
    /// Elements that the spine does not carry.
    pub left: Vec<usize>,
    /// Elements that were to be held at plates, and have none that the spine passes.
    pub without_plates: Vec<usize>,
}

impl<'a> Sway<'a> {
    /// The model of a spine.
    ///
    /// # Errors
    /// A spine that is none or stands in no element; heights at which it does not pass; limits and factors that are not
    /// possible; anchors asked for where the base has none.
    pub fn new(carried: &'a Carried<'a>, built: &Built, options: &Options) -> Result<Self> {
        options.check()?;
        let wear = Wear::of(&carried.work.sculpture)?;
        let worn = wear.tube(&built.tube)?;
        let axis = Axis::new(&built.points)?;
        let passed = passed(carried.work, built, &axis)?;
        let elements: Vec<usize> = passed.iter().map(|p| p.element).collect();
        let (pieces, left) = carried.pieces(&elements);
        let mut without_plates = Vec::new();
        let holds = passed
            .iter()
            .map(|p| held(carried, p, &axis, options, &mut without_plates))
            .collect::<Result<Vec<_>>>()?;
        // Heights at which the spine passes from piece to piece.
        let mut bounds: Vec<f64> = Vec::new();
        for p in &passed[1..] {
            let z = axis.at(p.from_to[0]).z;
            bounds.push(bounds.last().map_or(z, |below| z.max(*below)));
        }
        let foot = axis.points()[0];
        let push = carried.wind.push.height;
        let at = axis.at(axis.at_height(push).unwrap_or(if push < foot.z { 0.0 } else { axis.length() }));
        let sides = Sides::new(carried, &foot, &bounds, at);
        let mut this = Self {
            carried,
            built: built.clone(),
            worn,
            wear,
            options: options.clone(),
            axis,
            frame: Model::default(),
            nodes: Vec::new(),
            legs: Vec::new(),
            sides,
            line: Vec::new(),
            pieces,
            holds,
            left,
            without_plates,
        };
        this.build()?;
        Ok(this)
    }

    fn build(&mut self) -> Result<()> {
        let Self { built, worn, axis, frame, .. } = self;
        let bar = Bar::thorough(worn, &built.material);
        // It weighs what the whole tube does: the loss comes with the years.
        frame.bars.push(Bar { density: bar.density * (built.tube.area() / worn.area()), ..bar });
        // Kinks first: what lies beside one is moved to it.
        let mut stops: Vec<f64> = axis.along().to_vec();
        for way in self.holds.iter().flatten() {
            if stops.iter().all(|s| (s - way).abs() > MERGED) {
                stops.push(*way);
            }
        }
        stops.sort_by(f64::total_cmp);
        let longest = axis.length() * LONGEST;
        let mut at_stops = vec![(stops[0], 0)];
        frame.nodes.push(Node { name: "the foot of the spine".into(), at: axis.at(0.0) });
        for pair in stops.windows(2) {
            let length = pair[1] - pair[0];
            #[allow(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a small whole number"
            )]
            let pieces = (length / longest).ceil().max(1.0) as u32;
            for piece in 1..=pieces {
                let way = pair[0] + length * f64::from(piece) / f64::from(pieces);
                let last = frame.nodes.len() - 1;
                frame.nodes.push(Node { name: format!("the spine, {way:.0} mm up"), at: axis.at(way) });
                frame.members.push(Member { nodes: [last, last + 1], bar: 0, side: None });
                self.legs.push(axis.leg(f64::midpoint(pair[0], pair[1])));
            }
            at_stops.push((pair[1], frame.nodes.len() - 1));
        }
        self.line = (0..frame.nodes.len()).collect();
        let node_at = |way: f64| {
            let near = at_stops.iter().min_by(|a, b| (a.0 - way).abs().total_cmp(&(b.0 - way).abs()));
            near.map_or(0, |n| n.1)
        };
        // Beside the spine's own members, so that legs go on counting from the first.
        for (piece, holds) in self.pieces.iter().zip(&self.holds).filter(|_| self.options.shell > 0.0) {
            let on: Vec<usize> = holds.iter().map(|h| node_at(*h)).collect();
            if let [a, b] = on[..]
                && a != b
            {
                let ends = [a, b].map(|n| frame.nodes[n].at);
                frame.bars.push(shell::bar(
                    self.carried,
                    piece.element,
                    ends,
                    self.options.shell,
                    &self.wear,
                ));
                frame.members.push(Member { nodes: [a, b], bar: frame.bars.len() - 1, side: None });
            }
        }
        for (piece, holds) in self.pieces.iter().zip(&self.holds) {
            let node = frame.nodes.len();
            let name = self.carried.name(piece.element).to_owned();
            frame.nodes.push(Node { name: name.clone(), at: piece.body.centre });
            let on: Vec<usize> = holds.iter().map(|h| node_at(*h)).collect();
            match on.as_slice() {
                [a, b] if a != b => frame.spans.push(Span { node, on: [*a, *b] }),
                _ => frame.links.push(Link { node, to: on[0] }),
            }
            let body = &piece.body;
            frame.bodies.push(Body {
                name,
                node,
                mass: body.mass,
                centre: body.centre,
                inertia: body.inertia,
            });
            self.nodes.push(node);
        }
        match (self.options.foot, &self.carried.anchors) {
            (Foot::Fixed, _) => frame.supports.push(Support::fixed(0)),
            (Foot::Anchors, Some(group)) if !group.places.is_empty() => {
                let fixed = [true, true, false, false, false, true];
                frame.supports.push(Support { node: 0, fixed, springs: [0.0; 6] });
                let length = self.options.anchor_length.unwrap_or(group.length);
                let stretch = ANCHOR_YOUNG * group.area / length;
                for (k, at) in group.places.iter().enumerate() {
                    let node = frame.nodes.len();
                    frame.nodes.push(Node { name: format!("anchor {}", k + 1), at: *at });
                    frame.links.push(Link { node, to: 0 });
                    let springs = [0.0, 0.0, stretch, 0.0, 0.0, 0.0];
                    frame.supports.push(Support { node, fixed: [false; 6], springs });
                }
            }
            (Foot::Anchors, _) => {
                return Err(Error::input("the foot is to stand on anchors, and there are none")
                    .at("frame: foot")
                    .remedy(
                        "set some: s.stage(\"base\", #{ anchors: \"rectangle\" }), or leave the foot fixed",
                    ));
            }
        }
        self.frame.validate()
    }

    /// The frame.
    pub fn frame(&self) -> &Model {
        &self.frame
    }

    /// The spine it is of.
    pub fn built(&self) -> &Built {
        &self.built
    }

    /// What rust leaves of its tube over the life asked for; the tube itself where no loss is asked for.
    pub fn worn(&self) -> &Tube {
        &self.worn
    }

    /// What rust takes over that life.
    pub fn wear(&self) -> &Wear {
        &self.wear
    }

    /// Its axis.
    pub fn axis(&self) -> &Axis {
        &self.axis
    }

    /// What it carries, with wind.
    pub fn carried(&self) -> &Carried<'a> {
        self.carried
    }

    /// Loads of a combination.
    pub fn loads(&self, case: &Case) -> Vec<Load> {
        let mut loads = vec![Load::Weight(DOWN * case.weight)];
        let foot = self.axis.points()[0];
        if let Some((side, factor)) = case.side {
            for (wrench, node) in self.sides.wrenches[side].iter().zip(&self.nodes) {
                let arm = self.frame.nodes[*node].at - foot;
                let moment = wrench.moment - arm.cross(&wrench.force);
                loads.push(Load::Node { node: *node, force: wrench.force * factor, moment: moment * factor });
            }
        }
        loads
    }

    /// Loads of one sideways action without weight or factor.
    pub fn loads_of(&self, side: usize) -> Vec<Load> {
        self.loads(&Case { weight: 0.0, side: Some((side, 1.0)) })
    }

    /// How a point of an element moves where nodes move so; none if the spine does not carry it.
    pub fn moved(&self, nodes: &[Vector6<f64>], element: usize, point: &Point3<f64>) -> Option<Vector3<f64>> {
        let piece = self.pieces.iter().position(|p| p.elements.contains(&element))?;
        let node = self.nodes[piece];
        let (u, turn) = (nodes[node].fixed_rows::<3>(0), nodes[node].fixed_rows::<3>(3).into_owned());
        Some(u + turn.cross(&(point - self.frame.nodes[node].at)))
    }

    /// Nodes along the axis, from the foot up.
    pub fn line(&self) -> &[usize] {
        &self.line
    }

    /// The elements it carries, ascending.
    pub fn elements(&self) -> Vec<usize> {
        let mut all: Vec<usize> = self.pieces.iter().flat_map(|p| p.elements.iter().copied()).collect();
        all.sort_unstable();
        all
    }
}

/// Where along the axis an element is held.
fn held(
    carried: &Carried,
    passed: &Passed,
    axis: &Axis,
    options: &Options,
    without_plates: &mut Vec<usize>,
) -> Result<Vec<f64>> {
    let solid = &carried.work.sculpture.elements[passed.element].solid;
    let mut places = Vec::new();
    if let Some(heights) = options.heights.get(&solid.name) {
        let low = solid.lowest_z();
        for h in heights {
            places.push(axis.at_height(low + h).ok_or_else(|| {
                let ends = [axis.points()[0].z, axis.at(axis.length()).z].map(|z| z - low);
                Error::input(format!("the spine does not pass {h} mm over the lowest corner"))
                    .at(solid.name.as_str())
                    .at("frame: heights")
                    .remedy(format!("give heights from {:.0} to {:.0} mm", ends[0].max(0.0), ends[1]))
            })?);
        }
    } else if options.attach == Attach::Plates {
        let own = carried.plates.iter().filter(|p| p.element == passed.element);
        places.extend(own.filter_map(|p| axis.at_height(p.height)));
        if places.is_empty() {
            without_plates.push(passed.element);
        }
    }
    if places.is_empty() {
        places.extend(passed.from_to);
        if options.attach == Attach::Lower {
            places.truncate(1);
        }
    }
    places.sort_by(f64::total_cmp);
    let (low, high) = (places[0], places[places.len() - 1]);
    Ok(if high - low < LEAST_LEVER { vec![f64::midpoint(low, high)] } else { vec![low, high] })
}
