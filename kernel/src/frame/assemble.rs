//! From a frame to equations: which freedoms are free, their stiffness and mass, and who can move if nothing holds.
//!
//! Nodes that follow others have no freedoms of their own: theirs are those of the nodes they follow, on the arms
//! between.
//! Matrices are dense: a spine has a few hundred freedoms.

use super::beam::{Beam, Matrix12, Vector12};
use super::model::{Model, carried};
use crate::error::{Error, Result};
use nalgebra::{
    Cholesky, DMatrix, DVector, Dyn, Matrix3, Matrix6, SMatrix, SymmetricEigen, Vector3, Vector6,
};

/// Most freedoms that are solved: dense matrices beyond it would take gigabytes.
pub(super) const MOST_FREEDOMS: usize = 6000;
/// A pivot of the stiffness scaled to a diagonal of ones below this means that something can move. Rounding leaves some
/// 1e-14; ten thousand times more flexible than any real frame measured here is still above 1e-11.
const LOOSE: f64 = 1.0e-12;
/// A movement counts where it is above this share of the turns times the size of the frame.
const MOVES: f64 = 1.0e-6;

/// A frame made ready.
pub(super) struct Assembly<'a> {
    pub(super) model: &'a Model,
    /// For each node those it follows in the end, with what takes their freedoms to its own.
    ties: Vec<Vec<(usize, Matrix6<f64>)>>,
    /// Number of each of the six freedoms of a node, where it has one.
    pub(super) number: Vec<[Option<usize>; 6]>,
    /// How many there are.
    pub(super) count: usize,
    /// Stiffness over all freedoms of all nodes, without supports' fixing but with their springs.
    pub(super) stiffness: DMatrix<f64>,
}

impl<'a> Assembly<'a> {
    pub(super) fn new(model: &'a Model) -> Result<Self> {
        model.validate()?;
        let ties = (0..model.nodes.len()).map(|n| model.ties(n)).collect::<Result<Vec<_>>>()?;
        let own = |n: usize| ties[n].len() == 1 && ties[n][0].0 == n;
        let mut fixed = vec![[false; 6]; model.nodes.len()];
        for s in &model.supports {
            for (f, held) in fixed[s.node].iter_mut().zip(s.fixed) {
                *f |= held;
            }
        }
        let mut number = vec![[None; 6]; model.nodes.len()];
        let mut count = 0;
        for (n, freedoms) in number.iter_mut().enumerate().filter(|(n, _)| own(*n)) {
            for (slot, held) in freedoms.iter_mut().zip(fixed[n]) {
                if !held {
                    *slot = Some(count);
                    count += 1;
                }
            }
        }
        if 6 * model.nodes.len() > MOST_FREEDOMS {
            return Err(Error::input(format!("a frame of {} nodes is too large", model.nodes.len()))
                .remedy(format!("use at most {} nodes: longer members are as exact", MOST_FREEDOMS / 6)));
        }
        let size = 6 * model.nodes.len();
        let mut this = Self { model, ties, number, count, stiffness: DMatrix::zeros(0, 0) };
        let mut stiffness = DMatrix::zeros(size, size);
        for k in 0..model.members.len() {
            let (beam, turn) = this.beam(k)?;
            let nodes = model.members[k].nodes;
            this.add(&mut stiffness, nodes, &(turn.transpose() * beam.stiffness() * turn));
        }
        for s in &model.supports {
            this.add_at(&mut stiffness, s.node, &Matrix6::from_diagonal(&Vector6::from(s.springs)));
        }
        this.stiffness = stiffness;
        Ok(this)
    }

    /// A member as a beam, and the turn from the axes of the world to its own.
    pub(super) fn beam(&self, member: usize) -> Result<(Beam<'a>, Matrix12)> {
        let (axes, length) = self.model.axes(member)?;
        let mut turn = Matrix12::zeros();
        for k in 0..4 {
            turn.fixed_view_mut::<3, 3>(3 * k, 3 * k).copy_from(&axes);
        }
        Ok((Beam { bar: &self.model.bars[self.model.members[member].bar], length }, turn))
    }

    /// Adds a member's matrix in the axes of the world.
    fn add(&self, to: &mut DMatrix<f64>, nodes: [usize; 2], k: &Matrix12) {
        for i in 0..2 {
            for j in 0..2 {
                let block: Matrix6<f64> = k.fixed_view::<6, 6>(6 * i, 6 * j).into_owned();
                self.add_between(to, [nodes[i], nodes[j]], &block);
            }
        }
    }

    /// Adds a matrix over the freedoms of a node.
    fn add_at(&self, to: &mut DMatrix<f64>, node: usize, block: &Matrix6<f64>) {
        self.add_between(to, [node; 2], block);
    }

    /// Adds a matrix between the freedoms of two nodes to those of the nodes they follow.
    fn add_between(&self, to: &mut DMatrix<f64>, [row, column]: [usize; 2], block: &Matrix6<f64>) {
        for (r, left) in &self.ties[row] {
            for (c, right) in &self.ties[column] {
                add6(to, *r, *c, &(left.transpose() * block * right));
            }
        }
    }

    /// Adds forces and moments at a node to those of the nodes it follows.
    pub(super) fn push(&self, to: &mut DVector<f64>, node: usize, load: &Vector6<f64>) {
        for (end, tie) in &self.ties[node] {
            let carried = tie.transpose() * load;
            for i in 0..6 {
                to[6 * end + i] += carried[i];
            }
        }
    }

    /// Adds a member's end forces in the axes of the world.
    pub(super) fn push_ends(&self, to: &mut DVector<f64>, nodes: [usize; 2], load: &Vector12) {
        for (k, node) in nodes.into_iter().enumerate() {
            self.push(to, node, &load.fixed_rows::<6>(6 * k).into_owned());
        }
    }

    /// Mass over all freedoms, kg.
    pub(super) fn mass(&self) -> Result<DMatrix<f64>> {
        let size = 6 * self.model.nodes.len();
        let mut mass = DMatrix::zeros(size, size);
        for (k, member) in self.model.members.iter().enumerate() {
            let (beam, turn) = self.beam(k)?;
            self.add(&mut mass, member.nodes, &(turn.transpose() * beam.mass() * turn));
        }
        for body in &self.model.bodies {
            let mut own = Matrix6::zeros();
            own.fixed_view_mut::<3, 3>(0, 0).copy_from(&(Matrix3::identity() * body.mass));
            own.fixed_view_mut::<3, 3>(3, 3).copy_from(&((body.inertia + body.inertia.transpose()) / 2.0));
            let g = carried(&(body.centre - self.model.nodes[body.node].at));
            self.add_at(&mut mass, body.node, &(g.transpose() * own * g));
        }
        Ok(mass)
    }

    /// Rows and columns of the free freedoms.
    pub(super) fn free(&self, full: &DMatrix<f64>) -> DMatrix<f64> {
        let places = self.places();
        DMatrix::from_fn(self.count, self.count, |i, j| full[(places[i], places[j])])
    }

    /// Rows of the free freedoms.
    pub(super) fn free_rows(&self, full: &DVector<f64>) -> DVector<f64> {
        let places = self.places();
        DVector::from_fn(self.count, |i, _| full[places[i]])
    }

    /// Where each free freedom lies among all.
    pub(super) fn places(&self) -> Vec<usize> {
        let all = self.number.iter().enumerate();
        all.flat_map(|(n, six)| (0..6).filter(|i| six[*i].is_some()).map(move |i| 6 * n + i)).collect()
    }

    /// Freedoms of every node, those that follow others too, from the free ones.
    pub(super) fn spread(&self, free: &DVector<f64>) -> Vec<Vector6<f64>> {
        let own = |n: usize| Vector6::from_fn(|i, _| self.number[n][i].map_or(0.0, |k| free[k]));
        self.ties.iter().map(|ties| ties.iter().map(|(n, tie)| tie * own(*n)).sum()).collect()
    }

    /// Factors the free stiffness S K S, where S brings its diagonal to ones; returns S too.
    ///
    /// # Errors
    /// Something can move: which node, and which way.
    pub(super) fn factor(&self) -> Result<(Cholesky<f64, Dyn>, DVector<f64>)> {
        let mut k = self.free(&self.stiffness);
        let diagonal = k.diagonal();
        if let Some(loose) = (0..self.count).find(|&i| diagonal[i].is_nan() || diagonal[i] <= 0.0) {
            let place = self.places()[loose];
            return Err(self.moves(place / 6, place % 6));
        }
        let scale = diagonal.map(|d| 1.0 / d.sqrt());
        for i in 0..self.count {
            for j in 0..self.count {
                k[(i, j)] *= scale[i] * scale[j];
            }
        }
        if let Some(factor) = Cholesky::new(k.clone())
            && factor.l_dirty().diagonal().iter().all(|p| p * p > LOOSE)
        {
            return Ok((factor, scale));
        }
        let parts = SymmetricEigen::new(k);
        let least = parts.eigenvalues.imin();
        let way = parts.eigenvectors.column(least).component_mul(&scale);
        Err(self.swings(&self.spread(&way)))
    }

    fn moves(&self, node: usize, freedom: usize) -> Error {
        let (verb, axis) = [
            ("move along", "x"),
            ("move along", "y"),
            ("move along", "z"),
            ("turn about", "x"),
            ("turn about", "y"),
            ("turn about", "z"),
        ][freedom];
        Error::input(format!("can {verb} {axis}: nothing holds it"))
            .at(self.model.nodes[node].name.clone())
            .remedy("add a member, a link or a support, or take the node away")
    }

    /// The error for a frame that can move in a way.
    fn swings(&self, way: &[Vector6<f64>]) -> Error {
        let part = |v: &Vector6<f64>, first: usize| Vector3::new(v[first], v[first + 1], v[first + 2]);
        let most = |first: usize| {
            let all = way.iter().map(|v| part(v, first)).enumerate();
            all.fold((0, Vector3::zeros()), |best, next| {
                // A little more, so that equal movements name the first node whatever the rounding.
                if next.1.norm() > best.1.norm() * (1.0 + MOVES) { next } else { best }
            })
        };
        let (mover, moved) = most(0);
        let (turner, turned) = most(3);
        let first = self.model.nodes[0].at;
        let size = self.model.nodes.iter().map(|n| (n.at - first).norm()).fold(1.0, f64::max);
        let moving = moved.norm() > MOVES * size * turned.norm();
        let (node, verb, along) =
            if moving { (mover, "move along", moved) } else { (turner, "turn about", turned) };
        let along = along.normalize();
        let sign = if along[along.iamax()] < 0.0 { -1.0 } else { 1.0 };
        // Adding 0 takes the sign off a negative zero.
        let [x, y, z] = [0, 1, 2].map(|i| (along[i] * sign * 1000.0).round() / 1000.0 + 0.0);
        Error::input(format!("can {verb} ({x}, {y}, {z}) without any force: the frame is a mechanism"))
            .at(self.model.nodes[node].name.clone())
            .remedy("hold that movement with a support or a member")
    }
}

fn add6(to: &mut DMatrix<f64>, row: usize, column: usize, block: &SMatrix<f64, 6, 6>) {
    let mut view = to.fixed_view_mut::<6, 6>(6 * row, 6 * column);
    view += block;
}
