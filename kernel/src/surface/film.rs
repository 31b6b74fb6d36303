//! What a coat takes: spreading rates, litres, and the wet film to feel for with a comb.
//!
//! WFT = DFT / solids by volume; theoretical m² per litre = 10 × solids % / DFT in µm (published coating data sheets; both
//! follow from volume). Practical spreading leaves out what is lost. Paint that fills the valleys of a blasted profile
//! covers nothing: it comes on top (dead volume).

use crate::coat::film;

/// Share of the profile's height that its valleys hold (handbooks of coating makers, from memory: a profile of 30 µm takes
/// 20 cm³/m² and one of 105 µm 70 cm³/m²).
pub const DEAD_SHARE: f64 = 2.0 / 3.0;

/// A coat on one side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coat {
    /// Dry film of all layers, µm.
    pub dry_um: f64,
    /// Solids by volume, above 0 to 1.
    pub solids: f64,
    /// Share that is lost: overspray, what stays in tins and hoses; 0 to below 1.
    pub loss: f64,
    /// Layers, one at least.
    pub layers: u32,
    /// Dry volume that valleys of the profile hold, cm³/m².
    pub dead_cm3_per_m2: f64,
}

impl Coat {
    /// m² per litre without any loss.
    pub fn theoretical(&self) -> f64 {
        film::spreading_rate(self.dry_um, self.solids)
    }

    /// m² per litre with loss, on smooth sheet.
    pub fn practical(&self) -> f64 {
        self.theoretical() * (1.0 - self.loss)
    }

    /// Litres for an area in m²: film and dead volume, with loss.
    pub fn litres(&self, area_m2: f64) -> f64 {
        area_m2 / self.practical() + self.dead_litres(area_m2)
    }

    /// What of [`Self::litres`] the profile's valleys take.
    pub fn dead_litres(&self, area_m2: f64) -> f64 {
        area_m2 * self.dead_cm3_per_m2 / 1000.0 / self.solids / (1.0 - self.loss)
    }

    /// Wet film of one layer, µm: what the comb is to read.
    pub fn comb(&self) -> f64 {
        film::wet(self.dry_um / f64::from(self.layers), self.solids)
    }
}

/// Dry film that a wet one leaves, µm.
pub fn dry(wet_um: f64, solids: f64) -> f64 {
    wet_um * solids
}

/// Dead volume of a profile, cm³/m² of dry paint: micrometres over a square metre are cm³.
pub fn dead_volume(profile_um: f64) -> f64 {
    DEAD_SHARE * profile_um
}
