//! Peak velocity pressure of wind.
//!
//! Method: EN 1991-1-4, 4.2 to 4.5: k_r = 0.19 (z0/0.05)^0.07, c_r = k_r ln(z/z0), v_m = c_r c_o v_b,
//! I_v = k_I / (c_o ln(z/z0)), q_p = (1 + 7 I_v) ρ/2 v_m², all for z not below z_min. z0 and z_min of Table 4.1 (all
//! seen in published examples but the z_min of category I, from memory). v_b = c_dir c_season v_b,0. National annexes
//! change any of this. Units: m, m/s, kg/m³, N/m². Preliminary; a licensed engineer and the local code decide.

use crate::error::{Error, Result};
use crate::settings::{Setting, SettingKind, Values, number};

/// Terrain of Table 4.1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Terrain {
    /// `0`, `I`, `II`, `III`, `IV`.
    pub name: &'static str,
    /// Roughness length z0, m.
    pub roughness: f64,
    /// z_min, m.
    pub least_height: f64,
    /// In words.
    pub what: &'static str,
}

/// The terrain categories.
pub const TERRAINS: [Terrain; 5] = [
    Terrain { name: "0", roughness: 0.003, least_height: 1.0, what: "open sea, or coast open to it" },
    Terrain { name: "I", roughness: 0.01, least_height: 1.0, what: "lakes, flat land without obstacles" },
    Terrain {
        name: "II",
        roughness: 0.05,
        least_height: 2.0,
        what: "low vegetation, single trees or houses",
    },
    Terrain { name: "III", roughness: 0.3, least_height: 5.0, what: "villages, suburbs, forest" },
    Terrain {
        name: "IV",
        roughness: 1.0,
        least_height: 10.0,
        what: "town, a seventh of it built over, over 15 m high",
    },
];

/// k_r of roughness length 0.05 m.
const TERRAIN_FACTOR: f64 = 0.19;
/// Roughness length of category II, m.
const ROUGHNESS_II: f64 = 0.05;
/// Basic speeds above this are hardly those of any place: km/h or knots by mistake, m/s.
pub const IMPLAUSIBLE: f64 = 60.0;

/// The stage whose settings these rows are.
pub const STAGE: &str = "wind";

/// The rows; settings of the stage `wind`.
pub const WIND_ROWS: &[Setting] = &[
    number(
        "basic_speed",
        "basic wind speed of the place, 10 minutes' mean at 10 m over open country, from the national annex; the default \
         is no place's",
        "m/s",
        25.0,
        [0.0, 500.0],
    ),
    Setting {
        name: "terrain",
        summary: "terrain category of EN 1991-1-4: 0 sea, I lakes, II open country, III suburbs, IV town",
        unit: "",
        kind: SettingKind::Choice { default: Some("II"), of: &["0", "I", "II", "III", "IV"] },
    },
    number(
        "orography",
        "factor c_o on the mean speed on hills and cliffs (EN 1991-1-4, 4.3.3)",
        "",
        1.0,
        [0.5, 3.0],
    ),
    number("direction_factor", "c_dir (EN 1991-1-4, 4.2: 1.0 recommended)", "", 1.0, [0.1, 2.0]),
    number("season_factor", "c_season (EN 1991-1-4, 4.2: 1.0 recommended)", "", 1.0, [0.1, 2.0]),
    number("turbulence", "turbulence factor k_I (EN 1991-1-4, 4.4: 1.0 recommended)", "", 1.0, [0.1, 3.0]),
    number("air_density", "density of air (EN 1991-1-4, 4.5: 1.25 recommended)", "kg/m³", 1.25, [0.5, 2.0]),
    number(
        "force_coefficient",
        "c_f of the whole: 2.1 is a sharp-edged square section, 2.4 the worst rectangle, 1.6 a hexagon, 1.45 an octagon \
         (EN 1991-1-4, 7.6 and 7.8, from memory)",
        "",
        2.1,
        [0.1, 5.0],
    ),
    number(
        "end_effect",
        "ψ_λ, wind going round the ends (EN 1991-1-4, 7.13; 1 is on the safe side)",
        "",
        1.0,
        [0.3, 1.0],
    ),
    number(
        "structural_factor",
        "c_s c_d (EN 1991-1-4, 6.2 has 1 for buildings below 15 m; a work that swings may need more: the stage frame says how much)",
        "",
        1.0,
        [0.5, 3.0],
    ),
    number(
        "strip",
        "height of the strips the pressure is taken over, at the upper edge of each",
        "mm",
        500.0,
        [10.0, 10_000.0],
    ),
    number(
        "friction",
        "friction on the ground (common practice, no source: 0.2 for steel on concrete)",
        "",
        0.2,
        [0.0, 2.0],
    ),
    number("push", "level push by people, each way (common practice, no source)", "N", 1000.0, [0.0, 1.0e6]),
    number(
        "push_height",
        "height people push at (common practice, no source)",
        "mm",
        1200.0,
        [0.0, 10_000.0],
    ),
    Setting {
        name: "frequency",
        summary: "lowest natural frequency, for the speed at which vortices shake it; left out, the one it needs is given",
        unit: "Hz",
        kind: SettingKind::Optional { min: 0.01, max: 1000.0 },
    },
    number(
        "strouhal",
        "Strouhal number (EN 1991-1-4, Table E.1, from memory: 0.18 a circle, 0.06 to 0.15 sharp edges)",
        "",
        0.18,
        [0.01, 1.0],
    ),
];

/// Wind at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Site {
    /// Basic wind velocity with direction and season, v_b, m/s.
    pub speed: f64,
    /// Terrain.
    pub terrain: Terrain,
    /// c_o.
    pub orography: f64,
    /// k_I.
    pub turbulence: f64,
    /// kg/m³.
    pub air_density: f64,
}

/// The figures at one height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figures {
    /// Height they are of, not below z_min, m.
    pub height: f64,
    /// k_r.
    pub terrain_factor: f64,
    /// c_r.
    pub roughness_factor: f64,
    /// v_m, m/s.
    pub mean_speed: f64,
    /// I_v.
    pub turbulence: f64,
    /// Basic pressure q_b, N/m².
    pub basic: f64,
    /// Exposure c_e = q_p / q_b.
    pub exposure: f64,
    /// Peak pressure q_p, N/m².
    pub peak: f64,
}

impl Site {
    /// A basic speed (m/s) over a terrain category, all factors 1.
    ///
    /// # Errors
    /// A speed that is negative or not finite; a category that Table 4.1 does not have.
    pub fn new(speed: f64, terrain: &str) -> Result<Self> {
        if !(speed.is_finite() && speed >= 0.0) {
            return Err(Error::input(format!("a wind speed of {speed} m/s is not possible"))
                .at("wind: basic_speed")
                .remedy("give 0 or more, in m/s; 100 km/h are 27.8 m/s"));
        }
        let found = TERRAINS.iter().find(|t| t.name == terrain);
        let terrain = *found.ok_or_else(|| {
            crate::settings::unknown_name("terrain category", terrain, TERRAINS.iter().map(|t| t.name))
        })?;
        Ok(Self { speed, terrain, orography: 1.0, turbulence: 1.0, air_density: 1.25 })
    }

    /// From the settings of the stage `wind`.
    ///
    /// # Errors
    /// As [`Self::new`].
    pub fn of(values: &Values) -> Result<Self> {
        let speed =
            values.number("basic_speed") * values.number("direction_factor") * values.number("season_factor");
        Ok(Self {
            orography: values.number("orography"),
            turbulence: values.number("turbulence"),
            air_density: values.number("air_density"),
            ..Self::new(speed, values.text("terrain").unwrap_or("II"))?
        })
    }

    /// The figures at a height, m; below z_min those at z_min.
    pub fn at(&self, height: f64) -> Figures {
        let z = height.max(self.terrain.least_height);
        let z0 = self.terrain.roughness;
        let log = (z / z0).ln();
        let terrain_factor = TERRAIN_FACTOR * (z0 / ROUGHNESS_II).powf(0.07);
        let roughness_factor = terrain_factor * log;
        let mean_speed = roughness_factor * self.orography * self.speed;
        let turbulence = self.turbulence / (self.orography * log);
        let half = self.air_density / 2.0;
        let basic = half * self.speed * self.speed;
        let peak = (1.0 + 7.0 * turbulence) * half * mean_speed * mean_speed;
        let exposure = if basic > 0.0 { peak / basic } else { 0.0 };
        Figures { height: z, terrain_factor, roughness_factor, mean_speed, turbulence, basic, exposure, peak }
    }

    /// Peak pressure at a height in m, N/m².
    pub fn peak(&self, height: f64) -> f64 {
        self.at(height).peak
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(speed: f64, terrain: &str, z: f64) -> Figures {
        Site::new(speed, terrain).expect("a site").at(z)
    }

    /// Equal to what was printed, to half a unit of its last digit.
    #[track_caller]
    fn printed(found: f64, text: &str) {
        let decimals = text.split_once('.').map_or(0, |(_, d)| d.len());
        let half = 0.5 * 10.0_f64.powi(-i32::try_from(decimals).expect("few"));
        let expected: f64 = text.parse().expect("a number");
        assert!((found - expected).abs() <= half * 1.0001, "{found} is not printed as {text}");
    }

    #[test]
    fn published_cases_come_out_to_their_printed_digits() {
        // Steel Buildings in Europe, SSB03 pages 57-58 (infosteel): v_b 26, category III, z 8 m. It prints c_r .706 (from
        // the rounded k_r) and q_p 659, which is its printed c_e of 1.56 times q_b; unrounded they are .70721 and 661.82.
        let f = at(26.0, "III", 8.0);
        printed(f.terrain_factor, "0.215");
        printed(f.basic, "422.5");
        printed(f.roughness_factor, "0.70721");
        printed(f.turbulence, "0.30456");
        printed(f.exposure, "1.56643");
        printed(f.peak, "661.82");
        printed(0.215 * (8.0_f64 / 0.3).ln(), "0.706");
        printed(1.56 * f.basic, "659");

        // A published sheet: v_b 27, category I, z 3.5 m.
        printed(at(27.0, "I", 3.5).peak / 1000.0, "0.989");
        // Another: v_b 25, category 0, z 77.36 m.
        let f = at(25.0, "0", 77.36);
        printed(f.roughness_factor, "1.585");
        printed(f.terrain_factor, "0.156");
        printed(f.mean_speed, "39.624");
        printed(f.turbulence, "0.098");
        printed(f.peak / 1000.0, "1.658");
        // Another: v_b 26, category IV, z 9 m, below z_min of 10 m.
        let f = at(26.0, "IV", 9.0);
        printed(f.terrain_factor, "0.234");
        printed(f.roughness_factor, "0.54");
        printed(f.turbulence, "0.434");
        printed(f.exposure, "1.18");
        printed(f.peak / 1000.0, "0.497");
        // Recomputed from the formulas.
        printed(at(25.0, "II", 10.0).peak, "918.86");
        printed(at(26.0, "II", 10.0).peak, "993.84");
        printed(at(26.0, "II", 10.0).exposure, "2.35229");
        printed(at(26.0, "II", 2.0).peak, "601.40");
        printed(at(26.0, "II", 1.0).exposure, "1.42342");
        assert_eq!(at(26.0, "II", 1.0), at(26.0, "II", 2.0), "below z_min nothing changes");
    }

    #[test]
    fn factors_go_in_where_the_code_has_them() {
        let site = Site {
            orography: 1.3,
            turbulence: 0.9,
            air_density: 1.226,
            ..Site::new(20.0, "II").expect("a site")
        };
        let (a, b) = (site.at(6.0), at(20.0, "II", 6.0));
        assert!((a.mean_speed - 1.3 * b.mean_speed).abs() < 1e-12);
        assert!((a.turbulence - 0.9 / 1.3 * b.turbulence).abs() < 1e-15);
        assert!((a.basic - 1.226 / 1.25 * b.basic).abs() < 1e-12);
    }

    #[test]
    fn bad_sites_are_refused_with_a_remedy() {
        for speed in [-3.0, f64::NAN, f64::INFINITY] {
            let text = Site::new(speed, "II").expect_err("refused").to_string();
            assert!(text.contains("m/s"), "{text}");
        }
        assert!(Site::new(25.0, "V").expect_err("refused").to_string().contains("known: 0, I, II, III, IV"));
    }
}
