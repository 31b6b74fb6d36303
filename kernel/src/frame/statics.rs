//! Deflections, reactions and the forces in members under a set of loads.
//!
//! Direct stiffness method, Cholesky, one step of iterative refinement. Exact at nodes for the beams of this
//! module, whatever the lengths of members.

use super::assemble::Assembly;
use super::beam::Vector12;
use super::model::{Load, Model, carried};
use crate::error::{Error, Result};
use nalgebra::{Cholesky, DMatrix, DVector, Dyn, Matrix3, Vector3, Vector6};

/// A solution.
#[derive(Debug, Clone, PartialEq)]
pub struct Deflected {
    /// Movements, mm, and turns, radians, of every node in the axes of the world.
    pub nodes: Vec<Vector6<f64>>,
    /// What the supports put on the frame, springs too: node, N and N·mm in the axes of the world.
    pub reactions: Vec<(usize, Vector6<f64>)>,
    /// Members with what acts on them.
    pub members: Vec<Carrying>,
    /// ‖Ku − f‖ / ‖f‖ over the free freedoms, moments divided by the frame's size.
    pub residual: f64,
}

/// A member under load, in its own axes.
#[derive(Debug, Clone, PartialEq)]
pub struct Carrying {
    /// Length, mm.
    pub length: f64,
    /// Rows x, y, z in the axes of the world.
    pub axes: Matrix3<f64>,
    /// Forces N and moments N·mm that the nodes put on its first and second end.
    pub ends: [Vector6<f64>; 2],
    /// Loads at points: place in mm, force and moment.
    points: Vec<(f64, Vector6<f64>)>,
    /// Loads per mm at its first and second end.
    line: [Vector3<f64>; 2],
}

/// Solves a frame under loads.
///
/// # Errors
/// What [`Model::validate`] refuses; loads on what is not there; a frame that can move, by node and direction.
pub fn solve(model: &Model, loads: &[Load]) -> Result<Deflected> {
    Solver::new(model)?.solve(loads)
}

/// A frame made ready once for many sets of loads.
pub struct Solver<'a> {
    assembly: Assembly<'a>,
    factor: Cholesky<f64, Dyn>,
    scale: DVector<f64>,
    stiffness: DMatrix<f64>,
}

impl<'a> Solver<'a> {
    /// Makes a frame ready.
    ///
    /// # Errors
    /// What [`Model::validate`] refuses; a frame that can move, by node and direction.
    pub fn new(model: &'a Model) -> Result<Self> {
        let assembly = Assembly::new(model)?;
        let (factor, scale) = assembly.factor()?;
        let stiffness = assembly.free(&assembly.stiffness);
        Ok(Self { assembly, factor, scale, stiffness })
    }

    /// Solves it under loads.
    ///
    /// # Errors
    /// Loads on what is not there.
    pub fn solve(&self, loads: &[Load]) -> Result<Deflected> {
        let Self { assembly, factor, scale, stiffness } = self;
        let model = assembly.model;
        let mut members = Vec::with_capacity(model.members.len());
        for k in 0..model.members.len() {
            let (axes, length) = model.axes(k)?;
            let zero = [Vector6::zeros(); 2];
            members.push(Carrying {
                length,
                axes,
                ends: zero,
                points: Vec::new(),
                line: [Vector3::zeros(); 2],
            });
        }
        let size = 6 * model.nodes.len();
        let mut outer = DVector::zeros(size);
        for (k, load) in loads.iter().enumerate() {
            apply(assembly, load, &mut members, &mut outer).map_err(|e| e.at(format!("load {}", k + 1)))?;
        }
        // Loads on members as forces at their ends.
        let mut standing = vec![Vector12::zeros(); members.len()];
        for (k, member) in members.iter().enumerate() {
            let (beam, turn) = assembly.beam(k)?;
            let line = member.line.map(|q| Vector6::new(q.x, q.y, q.z, 0.0, 0.0, 0.0));
            standing[k] = member
                .points
                .iter()
                .fold(beam.line(line), |sum, (at, load)| sum + beam.point(at / beam.length, load));
            assembly.push_ends(&mut outer, model.members[k].nodes, &(turn.transpose() * standing[k]));
        }
        let force = assembly.free_rows(&outer);
        let mut free = factor.solve(&force.component_mul(scale)).component_mul(scale);
        let left = &force - stiffness * &free;
        free += factor.solve(&left.component_mul(scale)).component_mul(scale);
        let nodes = assembly.spread(&free);

        for (k, member) in members.iter_mut().enumerate() {
            let (beam, turn) = assembly.beam(k)?;
            let [a, b] = model.members[k].nodes.map(|n| nodes[n]);
            let moved = turn * Vector12::from_fn(|i, _| if i < 6 { a[i] } else { b[i - 6] });
            let ends = beam.stiffness() * moved - standing[k];
            member.ends = [ends.fixed_rows::<6>(0).into_owned(), ends.fixed_rows::<6>(6).into_owned()];
        }
        let reactions = reactions(assembly, &members, &nodes, &outer_at_nodes(assembly, loads));
        Ok(Deflected { residual: residual(assembly, stiffness, &free, &force), nodes, reactions, members })
    }
}

/// Puts a load on members (in their own axes) and nodes.
fn apply(assembly: &Assembly, load: &Load, members: &mut [Carrying], outer: &mut DVector<f64>) -> Result<()> {
    let model = assembly.model;
    let finite = |v: &[Vector3<f64>]| {
        if v.iter().all(|v| v.iter().all(|x| x.is_finite())) {
            Ok(())
        } else {
            Err(Error::input(format!("{v:?} is no load")))
        }
    };
    let there = |member: usize| {
        if member < members.len() {
            Ok(())
        } else {
            Err(Error::input(format!("there is no member {member}")))
        }
    };
    match *load {
        Load::Node { node, force, moment } => {
            finite(&[force, moment])?;
            if node >= model.nodes.len() {
                return Err(Error::input(format!("there is no node {node}")));
            }
            assembly.push(outer, node, &joined(&force, &moment));
        }
        Load::Point { member, at, force, moment } => {
            finite(&[force, moment])?;
            there(member)?;
            let m = &mut members[member];
            if !(at >= 0.0 && at <= m.length) {
                return Err(Error::input(format!("lies {at} mm along member {member} of {} mm", m.length)));
            }
            m.points.push((at, joined(&(m.axes * force), &(m.axes * moment))));
        }
        Load::Line { member, force } => {
            finite(&force)?;
            there(member)?;
            let m = &mut members[member];
            for (q, f) in m.line.iter_mut().zip(force) {
                *q += m.axes * f;
            }
        }
        Load::Weight(acceleration) => {
            finite(&[acceleration])?;
            for (m, member) in members.iter_mut().zip(&model.members) {
                let q = m.axes * acceleration * model.bars[member.bar].mass_per_mm();
                m.line = m.line.map(|line| line + q);
            }
            for body in &model.bodies {
                assembly.push(outer, body.node, &weight(model, body, &acceleration));
            }
        }
    }
    Ok(())
}

fn joined(force: &Vector3<f64>, moment: &Vector3<f64>) -> Vector6<f64> {
    Vector6::new(force.x, force.y, force.z, moment.x, moment.y, moment.z)
}

/// What the weight of a body puts on its node.
fn weight(model: &Model, body: &super::Body, acceleration: &Vector3<f64>) -> Vector6<f64> {
    let arm = body.centre - model.nodes[body.node].at;
    carried(&arm).transpose() * joined(&(acceleration * body.mass), &Vector3::zeros())
}

/// Loads that act on nodes themselves, without those of members.
fn outer_at_nodes(assembly: &Assembly, loads: &[Load]) -> DVector<f64> {
    let mut outer = DVector::zeros(6 * assembly.model.nodes.len());
    for load in loads {
        match load {
            Load::Node { node, force, moment } => assembly.push(&mut outer, *node, &joined(force, moment)),
            Load::Weight(acceleration) => {
                for body in &assembly.model.bodies {
                    assembly.push(&mut outer, body.node, &weight(assembly.model, body, acceleration));
                }
            }
            Load::Point { .. } | Load::Line { .. } => {}
        }
    }
    outer
}

/// Reactions from what the members put on the nodes: a held freedom takes what is left of the balance, a spring
/// what its own movement gives.
fn reactions(
    assembly: &Assembly,
    members: &[Carrying],
    nodes: &[Vector6<f64>],
    outer: &DVector<f64>,
) -> Vec<(usize, Vector6<f64>)> {
    let model = assembly.model;
    let mut balance = -outer.clone();
    for (member, carrying) in model.members.iter().zip(members) {
        for (node, end) in member.nodes.into_iter().zip(&carrying.ends) {
            let turn = carrying.axes.transpose();
            let force = turn * end.fixed_rows::<3>(0);
            let moment = turn * end.fixed_rows::<3>(3);
            assembly.push(&mut balance, node, &joined(&force, &moment));
        }
    }
    let mut held: Vec<usize> = model.supports.iter().map(|s| s.node).collect();
    held.sort_unstable();
    held.dedup();
    held.into_iter()
        .map(|node| {
            let mut reaction = Vector6::zeros();
            for s in model.supports.iter().filter(|s| s.node == node) {
                reaction -= Vector6::from(s.springs).component_mul(&nodes[node]);
            }
            let fixed = |i: usize| model.supports.iter().any(|s| s.node == node && s.fixed[i]);
            for i in (0..6).filter(|i| fixed(*i)) {
                reaction[i] = balance[6 * node + i];
            }
            (node, reaction)
        })
        .collect()
}

fn residual(assembly: &Assembly, stiffness: &DMatrix<f64>, free: &DVector<f64>, force: &DVector<f64>) -> f64 {
    let first = assembly.model.nodes[0].at;
    let size = assembly.model.nodes.iter().map(|n| (n.at - first).norm()).fold(1.0, f64::max);
    let weigh = |v: &DVector<f64>| {
        let places = assembly.places();
        let one = |(k, x): (usize, &f64)| (x / if places[k] % 6 < 3 { 1.0 } else { size }).powi(2);
        v.iter().enumerate().map(one).sum::<f64>().sqrt()
    };
    let all = weigh(force);
    if all > 0.0 { weigh(&(stiffness * free - force)) / all } else { 0.0 }
}

impl Carrying {
    /// Forces and moments in the section at a place, mm from the first end: N positive in tension, shear along y
    /// and z, torque, moments about y and z; what the part beyond puts on the part before. A load at the very
    /// place counts to the part before where `after`, else to the part beyond.
    pub fn section(&self, at: f64, after: bool) -> Vector6<f64> {
        let share = at / self.length;
        let x = Vector3::x();
        let mut force = self.ends[0].fixed_rows::<3>(0).into_owned();
        let mut moment: Vector3<f64> = self.ends[0].fixed_rows::<3>(3).into_owned() - x.cross(&force) * at;
        // A load per mm that grows from a to b: its sum up to here, and its moment about here.
        let [a, b] = self.line;
        force += a * at + (b - a) * (at * share / 2.0);
        moment -= x.cross(&a) * (at * at / 2.0) + x.cross(&(b - a)) * (at * at * share / 6.0);
        for (place, load) in &self.points {
            if *place < at || after && *place <= at {
                let f = load.fixed_rows::<3>(0).into_owned();
                force += f;
                moment += load.fixed_rows::<3>(3) - x.cross(&f) * (at - place);
            }
        }
        -joined(&force, &moment)
    }

    /// Places of loads at points, mm.
    pub fn load_places(&self) -> impl Iterator<Item = f64> + '_ {
        self.points.iter().map(|p| p.0)
    }
}

impl Deflected {
    /// The node that moves furthest, and how far, mm.
    pub fn greatest(&self) -> (usize, f64) {
        let all = self.nodes.iter().map(|v| v.fixed_rows::<3>(0).norm()).enumerate();
        all.fold((0, 0.0), |best, next| if next.1 > best.1 { next } else { best })
    }
}
