//! The concrete cone under anchors in tension, after EN 1992-4: a preliminary figure.
//!
//! `N_Rk,c = N⁰_Rk,c · A_c,N / A⁰_c,N · ψ_s · ψ_re · ψ_ec`, with `N⁰ = k1 √fck h_ef^1.5`, `s_cr = 3 h_ef`, `c_cr = 1.5 h_ef`,
//! `A⁰ = 9 h_ef²` (EN 1992-4, 7.2.1.4; formula read at a public theory page, k1 from memory). k1 is 7.7 cracked and
//! 11.0 uncracked for post-installed anchors, 8.9 and 12.7 for headed ones; one public page gives 7.7 and 11.0 for
//! cast-in headed studs too, which is the safe side. fck is that of cylinders. Bond, pull-out, splitting, edge
//! failure by shear and the steel of the anchor are other checks, and are not made here: a licensed engineer and the
//! anchor's own approval decide.

use crate::error::{Error, Result};
use crate::region::{Combine, Outline, Region};

/// Concrete stronger than this counts as this, N/mm² (EN 1992-4, 6.1.1 for post-installed anchors, from memory).
const MOST_STRENGTH: f64 = 60.0;

/// The anchor and the concrete round it.
#[derive(Debug, Clone, PartialEq)]
pub struct Concrete {
    /// Cylinder strength, N/mm².
    pub fck: f64,
    /// Whether it is cracked.
    pub cracked: bool,
    /// Whether anchors are headed and cast in; otherwise post-installed.
    pub headed: bool,
    /// Effective depth, mm.
    pub depth: f64,
    /// Whether reinforcement lies close, less than 150 mm apart.
    pub dense: bool,
    /// Edges of the member: least and greatest x and y, mm; infinite where there is none.
    pub edges: [[f64; 2]; 2],
}

/// The resistance, with its factors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cone {
    /// One anchor far from everything, N.
    pub single: f64,
    /// Depth that counts in a narrow member, mm.
    pub depth: f64,
    /// `A_c,N / A⁰_c,N`.
    pub areas: f64,
    /// `ψ_s`, `ψ_re`, `ψ_ec`.
    pub factors: [f64; 3],
    /// Characteristic resistance of the group, N.
    pub characteristic: f64,
}

impl Concrete {
    /// k1 for these anchors.
    pub fn k1(&self) -> f64 {
        match (self.headed, self.cracked) {
            (true, true) => 8.9,
            (true, false) => 12.7,
            (false, true) => 7.7,
            (false, false) => 11.0,
        }
    }

    /// Characteristic resistance of one anchor of a depth, far from edges and others, N.
    pub fn single(&self, depth: f64) -> f64 {
        self.k1() * self.fck.min(MOST_STRENGTH).sqrt() * depth.powf(1.5)
    }

    /// The cone of a group whose anchors (places, mm) carry these tensions, N; those without tension do not count.
    ///
    /// # Errors
    /// A strength or depth that is not above 0, an anchor outside the member, or no anchor in tension.
    pub fn cone(&self, places: &[[f64; 2]], tensions: &[f64]) -> Result<Cone> {
        if !(self.fck > 0.0 && self.depth > 0.0 && self.fck.is_finite() && self.depth.is_finite()) {
            return Err(Error::input(format!(
                "concrete of {} N/mm² and anchors {} mm deep hold nothing",
                self.fck, self.depth
            ))
            .remedy("give the cylinder strength and the effective depth, both above 0"));
        }
        let pulled: Vec<([f64; 2], f64)> =
            places.iter().copied().zip(tensions.iter().copied()).filter(|(_, t)| *t > 0.0).collect();
        if pulled.is_empty() {
            return Err(Error::input("no anchor is in tension").remedy("there is no cone to check"));
        }
        let to_edges = |p: &[f64; 2]| {
            [
                p[0] - self.edges[0][0],
                self.edges[0][1] - p[0],
                p[1] - self.edges[1][0],
                self.edges[1][1] - p[1],
            ]
        };
        let mut nearest = [f64::INFINITY; 4];
        for (p, _) in &pulled {
            for (n, d) in nearest.iter_mut().zip(to_edges(p)) {
                *n = n.min(d);
            }
        }
        let least = nearest.iter().copied().fold(f64::INFINITY, f64::min);
        if least <= 0.0 {
            return Err(
                Error::input("an anchor lies outside the concrete").remedy("check the edges of the member")
            );
        }
        let depth = self.depth_that_counts(&pulled, nearest);
        let reach = 1.5 * depth;
        let mut area = Region::default();
        for (p, _) in &pulled {
            let [x0, x1] = [(p[0] - reach).max(self.edges[0][0]), (p[0] + reach).min(self.edges[0][1])];
            let [y0, y1] = [(p[1] - reach).max(self.edges[1][0]), (p[1] + reach).min(self.edges[1][1])];
            area.outlines.push(Outline::tagged(vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]], None));
        }
        let areas = area.combine(Combine::Union, &Region::default()).area() / (9.0 * depth * depth);
        let edge = (0.7 + 0.3 * least / reach).min(1.0);
        let shell = if self.dense { (0.5 + depth / 200.0).min(1.0) } else { 1.0 };
        let all: f64 = pulled.iter().map(|p| p.1).sum();
        #[allow(clippy::cast_precision_loss, reason = "a count of anchors")]
        let count = pulled.len() as f64;
        let beside = [0, 1].map(|i| {
            let middle = pulled.iter().map(|p| p.0[i]).sum::<f64>() / count;
            (pulled.iter().map(|p| p.0[i] * p.1).sum::<f64>() / all - middle).abs()
        });
        let eccentric: f64 = beside.iter().map(|e| 1.0 / (1.0 + 2.0 * e / (2.0 * reach))).product();
        let single = self.single(depth);
        let characteristic = single * areas * edge * shell * eccentric;
        Ok(Cone { single, depth, areas, factors: [edge, shell, eccentric], characteristic })
    }

    /// In a member with three or more edges nearer than `c_cr`, the lesser depth that counts (7.2.1.4 (8)).
    fn depth_that_counts(&self, pulled: &[([f64; 2], f64)], nearest: [f64; 4]) -> f64 {
        let near: Vec<f64> = nearest.into_iter().filter(|c| *c < 1.5 * self.depth).collect();
        if near.len() < 3 {
            return self.depth;
        }
        let farthest = near.iter().copied().fold(0.0, f64::max);
        let mut apart = 0.0_f64;
        for axis in 0..2 {
            let mut at: Vec<f64> = pulled.iter().map(|p| p.0[axis]).collect();
            at.sort_by(f64::total_cmp);
            apart =
                at.windows(2).map(|w| w[1] - w[0]).filter(|s| *s <= 3.0 * self.depth).fold(apart, f64::max);
        }
        narrow(farthest, apart).min(self.depth)
    }
}

/// Depth that counts in a narrow member: the larger of `c_max` / 1.5 and `s_max` / 3, mm.
pub fn narrow(farthest_edge: f64, widest_spacing: f64) -> f64 {
    (farthest_edge / 1.5).max(widest_spacing / 3.0)
}
