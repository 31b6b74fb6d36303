//! The structural factor c_s c_d of a work that swings.
//!
//! Method: EN 1991-1-4, 6.3.1 and Annex B (procedure 1), from memory: c_s c_d = (1 + 2 k_p I_v √(B² + R²)) / (1 + 7 I_v), all at
//! 0.6 of the height: B² what gusts do not all come at once, R² what swings with them, k_p the peak factor in 10 minutes. For
//! upright works that swing along the wind in their lowest mode. Units: m, m/s, Hz.

use super::pressure::Site;
use std::f64::consts::PI;

/// Time the peak is looked for in, s.
const TIME: f64 = 600.0;
/// The height that stands for all of it, as a share of the whole.
const REFERENCE: f64 = 0.6;
/// Length scale of turbulence at its reference height, both m.
const SCALE: [f64; 2] = [300.0, 200.0];
/// Least frequency of peaks, Hz, and least peak factor.
const LEAST_RATE: f64 = 0.08;
const LEAST_PEAK: f64 = 3.0;

/// The parts of the factor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gust {
    /// B².
    pub background: f64,
    /// R².
    pub resonance: f64,
    /// k_p.
    pub peak: f64,
    /// c_s c_d.
    pub factor: f64,
}

/// The factor of a work this broad and high (m) that swings at a frequency (Hz) with a logarithmic decrement of damping.
/// Without wind, or for a frequency, size or damping that is not above 0, it is not a number.
pub fn gust(site: &Site, [breadth, height]: [f64; 2], frequency: f64, damping: f64) -> Gust {
    let at = (REFERENCE * height).max(site.terrain.least_height);
    let figures = site.at(at);
    let exponent = 0.67 + 0.05 * site.terrain.roughness.ln();
    let length = SCALE[0] * (at / SCALE[1]).powf(exponent);
    let background = 1.0 / (1.0 + 0.9 * ((breadth + height) / length).powf(0.63));
    let waves = frequency * length / figures.mean_speed;
    let spectrum = 6.8 * waves / (1.0 + 10.2 * waves).powf(5.0 / 3.0);
    let admitted = |size: f64| {
        let eta = 4.6 * size / length * waves;
        1.0 / eta - (1.0 - (-2.0 * eta).exp()) / (2.0 * eta * eta)
    };
    let resonance = PI * PI / (2.0 * damping) * spectrum * admitted(height) * admitted(breadth);
    let rate = (frequency * (resonance / (background + resonance)).sqrt()).max(LEAST_RATE);
    let log = (2.0 * (rate * TIME).ln()).sqrt();
    let peak = (log + 0.6 / log).max(LEAST_PEAK);
    let turbulence = figures.turbulence;
    let factor = (1.0 + 2.0 * peak * turbulence * (background + resonance).sqrt()) / (1.0 + 7.0 * turbulence);
    Gust { background, resonance, peak, factor }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn factors_are_those_worked_out_elsewhere() {
        // A second writing of Annex B, by another hand: 5 m high, 1 m broad, 26 m/s, category II, decrement 0.05.
        let site = Site::new(26.0, "II").expect("a place");
        for (frequency, printed) in [(1.0, 1.86), (2.0, 1.43), (3.0, 1.25), (5.0, 1.11)] {
            let found = gust(&site, [1.0, 5.0], frequency, 0.05).factor;
            assert!((found - printed).abs() < 0.006, "{frequency} Hz: {found}, {printed}");
        }
    }

    #[test]
    fn what_is_stiff_or_well_damped_feels_the_background_alone() {
        let site = Site::new(26.0, "II").expect("a place");
        let stiff = gust(&site, [1.0, 5.0], 1.0e4, 0.05);
        assert!(stiff.resonance < 1.0e-3 && stiff.factor < 1.0, "{stiff:?}");
        let alone = (1.0 + 2.0 * stiff.peak * site.at(3.0).turbulence * stiff.background.sqrt())
            / (1.0 + 7.0 * site.at(3.0).turbulence);
        assert!((stiff.factor - alone).abs() < 1.0e-3, "{stiff:?} {alone}");
        // Twice the damping is half the resonance; slower swings and weaker damping are worse.
        let [a, b] = [0.02, 0.04].map(|d| gust(&site, [1.0, 5.0], 2.0, d));
        assert!((a.resonance / b.resonance - 2.0).abs() < 1.0e-12 && a.factor > b.factor);
        let factors: Vec<f64> =
            [0.5, 1.0, 2.0, 4.0, 8.0].map(|f| gust(&site, [1.0, 5.0], f, 0.02).factor).to_vec();
        assert!(factors.windows(2).all(|w| w[0] > w[1]), "{factors:?}");
    }
}
