//! Films: what a coat takes. A wet film of thickness WFT leaves DFT = WFT × solids by volume when it is dry, and a litre
//! spread 1 µm thick covers 1000 m².

/// Wet film thickness for a dry one, µm; `solids` is the share of solids by volume, from 0 (not 0 itself) to 1.
pub fn wet(dry_um: f64, solids: f64) -> f64 {
    dry_um / solids
}

/// Theoretical spreading rate, m² per litre, without any loss.
pub fn spreading_rate(dry_um: f64, solids: f64) -> f64 {
    1000.0 * solids / dry_um
}

/// Volume of liquid left on an area, mm³.
pub fn volume(area_mm2: f64, wet_um: f64) -> f64 {
    area_mm2 * wet_um / 1000.0
}
