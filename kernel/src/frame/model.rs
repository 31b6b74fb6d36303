//! What a frame is: nodes, members, rigid links, nodes in collars, rigid bodies, supports and loads.

use crate::error::{Error, Result};
use crate::tube::{Material, Tube};
use crate::units::KG_PER_MM3;
use nalgebra::{Matrix3, Matrix6, Point3, Vector3};

/// A joint.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// For messages.
    pub name: String,
    /// Place, mm.
    pub at: Point3<f64>,
}

/// Section and material of a member.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bar {
    /// Young's modulus, MPa.
    pub young: f64,
    /// Shear modulus, MPa.
    pub shear: f64,
    /// Section, mm².
    pub area: f64,
    /// Second moments of area about the member's y and z, mm⁴.
    pub inertia: [f64; 2],
    /// Torsional constant, mm⁴.
    pub torsion: f64,
    /// Sections that take shear along y and z, mm² (Timoshenko); none for members stiff in shear (Euler, Bernoulli).
    pub shear_area: Option<[f64; 2]>,
    /// Density, kg/m³.
    pub density: f64,
    /// Whether the turning of sections has inertia in bending (Rayleigh); about the axis it always has.
    pub rotary: bool,
    /// The tube it is, for stresses.
    pub tube: Option<Tube>,
}

impl Bar {
    /// A tube as a slender beam: no shear deformation, no inertia of turning sections.
    pub fn slender(tube: &Tube, material: &Material) -> Self {
        Self {
            young: material.young,
            shear: material.shear,
            area: tube.area(),
            inertia: [tube.second_moment(); 2],
            torsion: tube.torsion_constant(),
            shear_area: None,
            density: material.density,
            rotary: false,
            tube: Some(*tube),
        }
    }

    /// A tube with shear deformation and the inertia of turning sections: right for short legs too.
    pub fn thorough(tube: &Tube, material: &Material) -> Self {
        Self {
            shear_area: Some([tube.shear_area(material.poisson()); 2]),
            rotary: true,
            ..Self::slender(tube, material)
        }
    }

    /// Mass of a mm, kg.
    pub fn mass_per_mm(&self) -> f64 {
        self.area * self.density * KG_PER_MM3
    }
}

/// A straight member from node to node.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Member {
    /// Its ends: x of the member runs from the first to the second.
    pub nodes: [usize; 2],
    /// Index among the bars.
    pub bar: usize,
    /// A direction near which y of the member lies; none for a level y (for an upright member y of the world).
    /// z completes the right hand.
    pub side: Option<Vector3<f64>>,
}

/// A node that moves with another as one rigid piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Link {
    /// The node that follows.
    pub node: usize,
    /// The node it follows.
    pub to: usize,
}

/// A node that rides on two others as a stiff piece in two collars on one pole: each collar takes it across, the first
/// takes it along the line between both and about that line. That is six ways in all, so it is held and carried by
/// levers alone, and nothing between the two becomes any stiffer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    /// The node that rides.
    pub node: usize,
    /// What it rides on.
    pub on: [usize; 2],
}

/// A rigid body fixed to a node.
#[derive(Debug, Clone, PartialEq)]
pub struct Body {
    /// For messages.
    pub name: String,
    /// The node that carries it.
    pub node: usize,
    /// kg.
    pub mass: f64,
    /// Its centre of mass, mm: where it really is, not at the node.
    pub centre: Point3<f64>,
    /// Inertia about its centre of mass in the axes of the world, kg·mm²; products of inertia are negative sums.
    pub inertia: Matrix3<f64>,
}

/// What holds a node.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Support {
    /// The node.
    pub node: usize,
    /// Freedoms that are held: movements along x, y, z and turns about them.
    pub fixed: [bool; 6],
    /// Springs, N/mm and N·mm per radian, for instance of anchors.
    pub springs: [f64; 6],
}

impl Support {
    /// Held in all ways.
    pub fn fixed(node: usize) -> Self {
        Self { node, fixed: [true; 6], springs: [0.0; 6] }
    }

    /// Held in place, free to turn.
    pub fn pinned(node: usize) -> Self {
        Self { node, fixed: [true, true, true, false, false, false], springs: [0.0; 6] }
    }
}

/// A load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Load {
    /// At a node: N and N·mm in the axes of the world.
    Node {
        /// Where.
        node: usize,
        /// N.
        force: Vector3<f64>,
        /// N·mm.
        moment: Vector3<f64>,
    },
    /// At a point of a member, in the axes of the world.
    Point {
        /// Where.
        member: usize,
        /// From its first end, mm.
        at: f64,
        /// N.
        force: Vector3<f64>,
        /// N·mm.
        moment: Vector3<f64>,
    },
    /// Along the whole of a member, evenly growing from one end to the other; N per mm of member, axes of the world.
    Line {
        /// Where.
        member: usize,
        /// N/mm at its first and second end.
        force: [Vector3<f64>; 2],
    },
    /// The weight of all members and bodies: an acceleration, m/s² (down is −z; see `units::STANDARD_GRAVITY`).
    Weight(Vector3<f64>),
}

/// A frame.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Model {
    /// Joints.
    pub nodes: Vec<Node>,
    /// Sections.
    pub bars: Vec<Bar>,
    /// Members.
    pub members: Vec<Member>,
    /// Rigid links.
    pub links: Vec<Link>,
    /// Nodes that ride on two others.
    pub spans: Vec<Span>,
    /// Rigid bodies.
    pub bodies: Vec<Body>,
    /// Supports; several on one node add up.
    pub supports: Vec<Support>,
}

/// Members shorter than this, mm, are none.
const LEAST_MEMBER: f64 = 1.0e-6;
/// A side direction this near to the member's axis (sine) gives no y.
pub(super) const PARALLEL: f64 = 1.0e-9;
/// Shares of an inertia that may be lost to rounding before it counts as impossible.
const INERTIA_ROUNDING: f64 = 1.0e-9;

impl Model {
    /// A crooked tube as a frame: one node at every point and between them as many as are needed for members
    /// not longer than `longest`, mm. Returns the nodes at the points.
    ///
    /// # Errors
    /// Fewer than two points, points in one place, a length not above 0.
    pub fn crooked(points: &[Point3<f64>], bar: Bar, longest: f64) -> Result<(Self, Vec<usize>)> {
        if points.len() < 2 || longest.is_nan() || longest <= 0.0 {
            return Err(Error::input(format!(
                "{} points, members up to {longest} mm: no tube",
                points.len()
            ))
            .remedy("give at least two points and a length above 0"));
        }
        let mut model = Self { bars: vec![bar], ..Self::default() };
        let mut at_points = vec![0];
        model.nodes.push(Node { name: "point 1".into(), at: points[0] });
        for (k, pair) in points.windows(2).enumerate() {
            let length = (pair[1] - pair[0]).norm();
            if !(length > LEAST_MEMBER && length.is_finite()) {
                return Err(Error::input(format!("is {length} mm long")).at(format!("leg {}", k + 1)));
            }
            #[allow(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a small whole number"
            )]
            let pieces = (length / longest).ceil().clamp(1.0, f64::from(MOST_PIECES)) as u32;
            for piece in 1..=pieces {
                let share = f64::from(piece) / f64::from(pieces);
                let name = if piece == pieces {
                    format!("point {}", k + 2)
                } else {
                    format!("leg {}, piece {piece}", k + 1)
                };
                let last = model.nodes.len() - 1;
                model.nodes.push(Node { name, at: pair[0] + (pair[1] - pair[0]) * share });
                model.members.push(Member { nodes: [last, last + 1], bar: 0, side: None });
            }
            at_points.push(model.nodes.len() - 1);
        }
        Ok((model, at_points))
    }

    /// Checks everything that does not need a solution.
    ///
    /// # Errors
    /// An index that is none; places, sections, masses or springs that are not possible; members without length;
    /// links and spans in a ring or two on one node; a span on two nodes in one place; a fixed support on a node that
    /// follows others.
    pub fn validate(&self) -> Result<()> {
        let node = |n: usize| {
            if n < self.nodes.len() {
                Ok(())
            } else {
                Err(Error::input(format!(
                    "there is no node {n}, only 0 to {}",
                    self.nodes.len().saturating_sub(1)
                )))
            }
        };
        for n in &self.nodes {
            if !n.at.iter().all(|x| x.is_finite()) {
                return Err(Error::input(format!("lies at {:?}", n.at)).at(n.name.clone()));
            }
        }
        for (k, b) in self.bars.iter().enumerate() {
            let stiff = [b.young, b.shear, b.area, b.inertia[0], b.inertia[1], b.torsion];
            let shear = b.shear_area.unwrap_or([1.0; 2]);
            let dense = b.density >= 0.0 && b.density.is_finite();
            if !dense || !stiff.iter().chain(&shear).all(|x| *x > 0.0 && x.is_finite()) {
                return Err(Error::input("has a stiffness that is not above 0, or a density below 0")
                    .at(format!("bar {k}")));
            }
        }
        for (k, m) in self.members.iter().enumerate() {
            let at = |e: Error| e.at(format!("member {k}"));
            m.nodes.iter().try_for_each(|n| node(*n)).map_err(at)?;
            if m.bar >= self.bars.len() {
                return Err(at(Error::input(format!("there is no bar {}", m.bar))));
            }
            self.axes(k).map_err(at)?;
        }
        for (k, b) in self.bodies.iter().enumerate() {
            let at = |e: Error| e.at(if b.name.is_empty() { format!("body {k}") } else { b.name.clone() });
            node(b.node).map_err(at)?;
            if !(b.mass >= 0.0 && b.mass.is_finite() && b.centre.iter().all(|x| x.is_finite())) {
                return Err(at(Error::input(format!("has a mass of {} kg at {:?}", b.mass, b.centre))));
            }
            let size = b.inertia.amax();
            let [least, sums] = principal(&b.inertia);
            if !(size.is_finite() && least >= -INERTIA_ROUNDING * size && sums >= -INERTIA_ROUNDING * size) {
                return Err(at(Error::input("has an inertia that no body has").remedy(
                    "the principal inertias must be at least 0, and none above the sum of the others",
                )));
            }
        }
        for s in &self.supports {
            node(s.node)?;
            let name = || self.nodes[s.node].name.clone();
            if !s.springs.iter().all(|k| *k >= 0.0 && k.is_finite()) {
                return Err(Error::input(format!("has springs of {:?}", s.springs)).at(name()));
            }
            if s.fixed.contains(&true) && self.followers().any(|n| n == s.node) {
                return Err(Error::input("is linked to another node and cannot be held itself")
                    .at(name())
                    .remedy("hold the node it follows"));
            }
        }
        for l in &self.links {
            node(l.node)?;
            node(l.to)?;
        }
        for s in &self.spans {
            node(s.node)?;
            s.on.iter().try_for_each(|n| node(*n))?;
            let [a, b] = s.on.map(|n| self.nodes[n].at);
            let apart = (b - a).norm();
            if apart.is_nan() || apart <= LEAST_MEMBER {
                return Err(Error::input("rides on two nodes in one place")
                    .at(self.nodes[s.node].name.clone())
                    .remedy("link it to one of them"));
            }
        }
        let mut following: Vec<usize> = self.followers().collect();
        following.sort_unstable();
        if let Some(pair) = following.windows(2).find(|p| p[0] == p[1]) {
            return Err(Error::input("follows two nodes").at(self.nodes[pair[0]].name.clone()));
        }
        following.into_iter().try_for_each(|n| self.ties(n).map(|_| ()))
    }

    /// Nodes that follow others.
    fn followers(&self) -> impl Iterator<Item = usize> + '_ {
        self.links.iter().map(|l| l.node).chain(self.spans.iter().map(|s| s.node))
    }

    /// The nodes that a node follows in the end, each with what takes their freedoms to its own: itself where it follows
    /// none.
    pub(super) fn ties(&self, node: usize) -> Result<Vec<(usize, Matrix6<f64>)>> {
        self.follow(node, 0)
    }

    fn follow(&self, node: usize, steps: usize) -> Result<Vec<(usize, Matrix6<f64>)>> {
        if steps > self.links.len() + self.spans.len() {
            return Err(
                Error::input("is linked to itself by way of others").at(self.nodes[node].name.clone())
            );
        }
        let to_node = |n: usize| self.nodes[node].at - self.nodes[n].at;
        let next: Vec<(usize, Matrix6<f64>)> = if let Some(link) = self.links.iter().find(|l| l.node == node)
        {
            vec![(link.to, carried(&to_node(link.to)))]
        } else if let Some(span) = self.spans.iter().find(|s| s.node == node) {
            let [a, b] = span.on;
            let line = self.nodes[b].at - self.nodes[a].at;
            let length = line.norm();
            let way = line / length;
            let arm = to_node(a).cross_matrix();
            // The turn ω of the piece: about the line that of the first, else d × (u_b − u_a)/L.
            let lever = way.cross_matrix() / length;
            let about = way * way.transpose();
            let mut first = Matrix6::zeros();
            first.fixed_view_mut::<3, 3>(0, 0).copy_from(&(Matrix3::identity() + arm * lever));
            first.fixed_view_mut::<3, 3>(0, 3).copy_from(&(-arm * about));
            first.fixed_view_mut::<3, 3>(3, 0).copy_from(&-lever);
            first.fixed_view_mut::<3, 3>(3, 3).copy_from(&about);
            let mut second = Matrix6::zeros();
            second.fixed_view_mut::<3, 3>(0, 0).copy_from(&(-arm * lever));
            second.fixed_view_mut::<3, 3>(3, 0).copy_from(&lever);
            vec![(a, first), (b, second)]
        } else {
            return Ok(vec![(node, Matrix6::identity())]);
        };
        let mut all: Vec<(usize, Matrix6<f64>)> = Vec::new();
        for (n, to_this) in next {
            for (end, to_n) in self.follow(n, steps + 1)? {
                match all.iter_mut().find(|(m, _)| *m == end) {
                    Some((_, sum)) => *sum += to_this * to_n,
                    None => all.push((end, to_this * to_n)),
                }
            }
        }
        Ok(all)
    }

    /// Rows x, y, z of a member in the axes of the world, and its length, mm.
    pub(super) fn axes(&self, member: usize) -> Result<(Matrix3<f64>, f64)> {
        let m = &self.members[member];
        let [a, b] = m.nodes.map(|n| self.nodes[n].at);
        let length = (b - a).norm();
        if length.is_nan() || length <= LEAST_MEMBER {
            return Err(Error::input(format!("has no length ({length} mm)")));
        }
        let x = (b - a) / length;
        let y = match m.side {
            Some(side) => side - x * x.dot(&side),
            None => {
                let level = Vector3::z().cross(&x);
                if level.norm() > PARALLEL { level } else { Vector3::y() }
            }
        };
        let size = m.side.map_or(1.0, |s| s.norm());
        let Some(y) = y.try_normalize(PARALLEL * size) else {
            return Err(Error::input("has a side direction along its axis"));
        };
        let z = x.cross(&y);
        Ok((Matrix3::from_rows(&[x.transpose(), y.transpose(), z.transpose()]), length))
    }

    /// Mass of everything, kg.
    ///
    /// # Errors
    /// As [`Model::validate`].
    pub fn mass(&self) -> Result<f64> {
        self.validate()?;
        let mut mass: f64 = self.bodies.iter().map(|b| b.mass).sum();
        for (k, m) in self.members.iter().enumerate() {
            mass += self.bars[m.bar].mass_per_mm() * self.axes(k)?.1;
        }
        Ok(mass)
    }
}

/// Most members of one leg.
const MOST_PIECES: u32 = 1000;

/// Least principal inertia, and the least of (sum of two − third).
fn principal(inertia: &Matrix3<f64>) -> [f64; 2] {
    let mut p: Vec<f64> = inertia.symmetric_eigenvalues().iter().copied().collect();
    p.sort_by(f64::total_cmp);
    [p[0], p[0] + p[1] - p[2]]
}

/// Movement of a point beside a node from the node's freedoms; `arm` from the node to the point.
pub(super) fn carried(arm: &Vector3<f64>) -> Matrix6<f64> {
    let mut g = Matrix6::identity();
    g.fixed_view_mut::<3, 3>(0, 3).copy_from(&-arm.cross_matrix());
    g
}
