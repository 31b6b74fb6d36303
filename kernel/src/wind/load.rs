//! Wind forces on the silhouette, and whether they, or people, tip the work or push it away.
//!
//! Method: EN 1991-1-4, 5.3: F = c_s c_d · c_f · Σ q_p(z_e) · A over strips of height, z_e the upper edge of each.
//! Equilibrium: EN 1990, Table A1.2(A): wind and people are the leading variable action (factor 1.5), weight is 0.9
//! or 1.1 by the side of the edge it lies on. About an edge of the support the wind's moment is its force along the
//! edge's normal times its height over the edge. Sliding: factored force against friction times 0.9 of the weight.
//! Preliminary; a licensed engineer and the local code decide.

use super::pressure::Site;
use crate::balance::levels::{most_missing, worst};
use crate::balance::{Balance, Equ, Factors, Pivot};
use crate::mesh::Mesh;
use crate::settings::Values;
use crate::silhouette::{DIRECTIONS, Outline, Silhouettes, Strip};
use crate::units::{MM_PER_M, MM2_PER_M2, STANDARD_GRAVITY};

/// Vortices need no look where their speed is beyond this many mean speeds (EN 1991-1-4, E.1.2, from memory).
const VORTEX_REACH: f64 = 1.25;

/// A strip with its force.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StripLoad {
    /// The strip.
    pub strip: Strip,
    /// Peak pressure, N/m².
    pub pressure: f64,
    /// Force, N.
    pub force: f64,
}

/// Wind from one direction.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// Direction it comes from, degrees counter-clockwise from +x.
    pub from: f64,
    /// Strips from the foot up.
    pub strips: Vec<StripLoad>,
    /// Area seen, mm².
    pub area: f64,
    /// Force, N, characteristic.
    pub force: f64,
    /// Height of the force, mm.
    pub height: f64,
    /// The tipping check; none where nothing can stand.
    pub tipping: Option<Equ>,
    /// Greatest moment missing about any edge, N·mm: what anchors must take.
    pub missing: f64,
    /// Factored force over factored friction; infinite without friction.
    pub sliding: f64,
    /// Even pressure on the area seen at which the work starts to tip, no factors and c_f = 1, N/m²; none where no edge
    /// lies down the wind.
    pub tips_at: Option<f64>,
}

/// A push by people.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Push {
    /// Force, N.
    pub force: f64,
    /// Height, mm, at most that of the work.
    pub height: f64,
    /// The tipping check in the worst direction, which is square to its edge.
    pub tipping: Option<Equ>,
    /// Greatest moment missing about any edge, N·mm.
    pub missing: f64,
    /// Factored push over factored friction.
    pub sliding: f64,
}

/// All of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Wind {
    /// The place.
    pub site: Site,
    /// By direction.
    pub ways: Vec<Way>,
    /// People.
    pub push: Push,
    /// c_s c_d.
    pub structural_factor: f64,
    /// Least mean width seen, mm: what vortices form behind.
    pub width: f64,
    /// Height of the work over its foot, mm.
    pub height: f64,
    /// Speed at which vortices beat with the natural frequency, m/s, where that is known.
    pub vortex_speed: Option<f64>,
    /// The frequency above which vortices need no look, Hz.
    pub frequency_needed: f64,
}

impl Wind {
    /// Wind on a mesh that stands as its balance says.
    pub fn new(mesh: &Mesh, balance: &Balance, factors: &Factors, site: Site, values: &Values) -> Self {
        Self::on(&Silhouettes::new(mesh).all(DIRECTIONS), mesh, balance, factors, site, values)
    }

    /// The same on silhouettes that are known, those of the mesh from all [`DIRECTIONS`].
    pub fn on(
        outlines: &[Outline],
        mesh: &Mesh,
        balance: &Balance,
        factors: &Factors,
        site: Site,
        values: &Values,
    ) -> Self {
        let ground = balance.ground();
        let foot = balance.lowest;
        let top = mesh.bounds().map_or(foot, |[_, hi]| hi.z);
        let shape = values.number("structural_factor")
            * values.number("force_coefficient")
            * values.number("end_effect");
        let friction = factors.stabilising * values.number("friction") * ground.load.mass * STANDARD_GRAVITY;
        let slides =
            |force: f64| if friction > 0.0 { factors.variable * force / friction } else { f64::INFINITY };
        let step = values.number("strip");
        let mut width = f64::INFINITY;
        let ways = outlines
            .iter()
            .map(|outline| {
                let area = outline.area();
                width = width.min(area / (top - foot).max(step));
                let strips: Vec<StripLoad> = outline
                    .strips(foot, step)
                    .into_iter()
                    .map(|strip| {
                        let pressure = site.peak((strip.z[1] - foot) / MM_PER_M);
                        StripLoad { strip, pressure, force: shape * pressure * strip.area / MM2_PER_M2 }
                    })
                    .collect();
                let force: f64 = strips.iter().map(|s| s.force).sum();
                let moment: f64 = strips.iter().map(|s| s.force * s.strip.height).sum();
                let height = if force > 0.0 { moment / force } else { foot };
                let (sin, cos) = outline.from.to_radians().sin_cos();
                // The wind blows toward the opposite side.
                let along = |p: &Pivot| -(p.line.normal[0] * cos + p.line.normal[1] * sin);
                let arm = |p: &Pivot, z: f64| (along(p) * (z - mean_height(p))).max(0.0);
                let even = outline.between([f64::NEG_INFINITY, f64::INFINITY]);
                let tips_at = ground.pivots.iter().filter_map(|p| {
                    let lever = arm(p, even.height) * even.area / MM2_PER_M2;
                    (lever > 0.0).then(|| (p.holding - p.tipping - p.water) / lever)
                });
                Way {
                    from: outline.from,
                    area,
                    force,
                    height,
                    tipping: worst(&ground.pivots, factors, |p| factors.variable * force * arm(p, height)),
                    missing: most_missing(&ground.pivots, factors, |p| {
                        factors.variable * force * arm(p, height)
                    }),
                    sliding: slides(force),
                    tips_at: tips_at.min_by(f64::total_cmp),
                    strips,
                }
            })
            .collect();
        let (force, height) = (values.number("push"), (foot + values.number("push_height")).min(top));
        let lever = |p: &Pivot| (height - mean_height(p)).max(0.0);
        let push = Push {
            force,
            height,
            tipping: worst(&ground.pivots, factors, |p| factors.variable * force * lever(p)),
            missing: most_missing(&ground.pivots, factors, |p| factors.variable * force * lever(p)),
            sliding: slides(force),
        };
        // m/s from Hz and mm.
        let strouhal = values.number("strouhal");
        let speed_of = |frequency: f64| width / 1000.0 * frequency / strouhal;
        let mean = site.at((top - foot) / 1000.0).mean_speed;
        Self {
            structural_factor: values.number("structural_factor"),
            vortex_speed: values.optional("frequency").map(speed_of),
            frequency_needed: VORTEX_REACH * mean / speed_of(1.0),
            site,
            ways,
            push,
            width,
            height: top - foot,
        }
    }

    /// The direction with the worst tipping.
    pub fn worst(&self) -> Option<(&Way, Equ)> {
        let all = self.ways.iter().filter_map(|w| w.tipping.map(|t| (w, t)));
        all.max_by(|a, b| a.1.use_of.total_cmp(&b.1.use_of).then(a.1.missing.total_cmp(&b.1.missing)))
    }

    /// The greatest moment missing with wind from anywhere, N·mm: what anchors must take.
    pub fn missing(&self) -> f64 {
        self.ways.iter().map(|w| w.missing).fold(0.0, f64::max)
    }

    /// The speed at which vortices beat with a natural frequency (Hz): b n / St, m/s.
    pub fn vortex_speed_at(&self, frequency: f64) -> f64 {
        let mean = self.site.at(self.height / 1000.0).mean_speed;
        VORTEX_REACH * mean * frequency / self.frequency_needed
    }

    /// The speed at which vortices beat is within reach of the wind.
    pub fn vortex_in_reach(&self) -> Option<bool> {
        let mean = self.site.at(self.height / 1000.0).mean_speed;
        self.vortex_speed.map(|v| v <= VORTEX_REACH * mean)
    }
}

/// Mean height of an edge, mm.
fn mean_height(p: &Pivot) -> f64 {
    f64::midpoint(p.ends[0].z, p.ends[1].z)
}
