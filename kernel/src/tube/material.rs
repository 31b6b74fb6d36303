//! What a tube or plate is made of: stiffness, density, strength by thickness.
//!
//! A preliminary check only: the certificate of the steel and the local code decide. Units: MPa, kg/m³, 1/K.

use crate::error::{Error, Result};

/// Strength for a range of thickness.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Greatest thickness of the range, mm; the range begins above the one before.
    pub up_to: f64,
    /// Least yield strength fy (0.2 % proof for stainless steel), MPa.
    pub yield_strength: f64,
    /// Least tensile strength fu, MPa.
    pub tensile: f64,
}

/// A grade.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Material {
    /// The word for it.
    pub name: &'static str,
    /// What it is.
    pub summary: &'static str,
    /// Young's modulus E, MPa.
    pub young: f64,
    /// Shear modulus G, MPa.
    pub shear: f64,
    /// Density, kg/m³.
    pub density: f64,
    /// Thermal expansion, 1/K.
    pub expansion: f64,
    /// Strength by thickness, thinnest first.
    pub steps: &'static [Step],
    /// Where the strengths come from.
    pub source: &'static str,
    /// Where stiffness and density come from.
    pub source_stiffness: &'static str,
}

/// The standards give this step to walls thinner than 3 mm, and the next from 3 mm on.
const BELOW_3: f64 = 2.999;

const fn step(up_to: f64, yield_strength: f64, tensile: f64) -> Step {
    Step { up_to, yield_strength, tensile }
}

const EN_1993: &str = "EN 1993-1-1 3.2.6, from memory";
const EN_10088: &str =
    "E, density and expansion of EN 10088-1 as a supplier prints them; G = E/2.6, from memory";

/// S355 up to 250 mm; what EN 10025-5 prints for S355J2W (from memory) is the same, up to 150 mm.
const S355: [Step; 9] = [
    step(BELOW_3, 355.0, 510.0),
    step(16.0, 355.0, 470.0),
    step(40.0, 345.0, 470.0),
    step(63.0, 335.0, 470.0),
    step(80.0, 325.0, 470.0),
    step(100.0, 315.0, 470.0),
    step(150.0, 295.0, 450.0),
    step(200.0, 285.0, 450.0),
    step(250.0, 275.0, 450.0),
];
const S355J2W_STEPS: usize = 7;

/// The grades, the usual one for a spine first.
pub const MATERIALS: [Material; 5] = [
    Material {
        name: "S355",
        summary: "structural steel S355 (EN 10025-2; S355J2H tube)",
        young: 210_000.0,
        shear: 81_000.0,
        density: 7850.0,
        expansion: 12.0e-6,
        steps: &S355,
        source: "EN 10025-2 as public steel tables print it",
        source_stiffness: EN_1993,
    },
    Material {
        name: "S235",
        summary: "structural steel S235 (EN 10025-2; S235JRH tube)",
        young: 210_000.0,
        shear: 81_000.0,
        density: 7850.0,
        expansion: 12.0e-6,
        steps: &[step(16.0, 235.0, 360.0), step(40.0, 225.0, 360.0), step(100.0, 215.0, 360.0)],
        source: "EN 10025-2, from memory",
        source_stiffness: EN_1993,
    },
    Material {
        name: "S355J2W",
        summary: "weathering steel S355J2W (EN 10025-5)",
        young: 210_000.0,
        shear: 81_000.0,
        density: 7850.0,
        expansion: 12.0e-6,
        steps: S355.split_at(S355J2W_STEPS).0,
        source: "EN 10025-5, from memory",
        source_stiffness: EN_1993,
    },
    Material {
        name: "1.4301",
        summary: "stainless steel 1.4301 (304)",
        young: 200_000.0,
        shear: 200_000.0 / 2.6,
        density: 7900.0,
        expansion: 16.0e-6,
        steps: &[step(6.0, 230.0, 540.0), step(12.0, 210.0, 520.0), step(75.0, 210.0, 520.0)],
        source: "EN 1993-1-4 table 2.1 (cold strip, hot strip, plate), from memory",
        source_stiffness: EN_10088,
    },
    Material {
        name: "1.4404",
        summary: "stainless steel 1.4404 (316L)",
        young: 200_000.0,
        shear: 200_000.0 / 2.6,
        density: 8000.0,
        expansion: 16.0e-6,
        steps: &[step(6.0, 240.0, 530.0), step(12.0, 220.0, 530.0), step(75.0, 220.0, 520.0)],
        source: "EN 1993-1-4 table 2.1 (cold strip, hot strip, plate), from memory",
        source_stiffness: EN_10088,
    },
];

/// The grade of that name.
///
/// # Errors
/// No such grade; the known ones are given.
pub fn material_named(name: &str) -> Result<&'static Material> {
    MATERIALS.iter().find(|m| m.name == name).ok_or_else(|| {
        Error::input(format!("\"{name}\" is no grade that is known"))
            .remedy(format!("write one of: {}", MATERIALS.map(|m| m.name).join(", ")))
    })
}

impl Material {
    /// Partial factor on the yield strength beside that of carbon steel: stainless grades, whose numbers begin with 1.4
    /// (EN 10027-2), take 1.1 (EN 1993-1-4, 5.1, from memory).
    pub fn partial_factor(&self) -> f64 {
        if self.name.starts_with("1.4") { 1.1 } else { 1.0 }
    }

    /// Greatest diameter over wall of a tube that reaches its yield strength before its wall buckles: class 3 of
    /// EN 1993-1-1, Table 5.2, 90 · 235/f_y · E/210000 (from memory).
    ///
    /// # Errors
    /// A wall for which the grade has no strength.
    pub fn stockiest(&self, wall: f64) -> Result<f64> {
        Ok(90.0 * 235.0 / self.at(wall)?.yield_strength * self.young / 210_000.0)
    }

    /// Strength at a thickness, mm.
    ///
    /// # Errors
    /// A thickness that is not above 0, or beyond the thickest step.
    pub fn at(&self, thickness: f64) -> Result<Step> {
        let found = self.steps.iter().find(|s| thickness > 0.0 && thickness <= s.up_to);
        found.copied().ok_or_else(|| {
            let most = self.steps.last().map_or(0.0, |s| s.up_to);
            Error::input(format!("{} has no strength for a thickness of {thickness} mm", self.name))
                .remedy(format!("choose a thickness above 0 and at most {most} mm, or another grade"))
        })
    }

    /// Poisson's ratio that goes with E and G.
    pub fn poisson(&self) -> f64 {
        self.young / (2.0 * self.shear) - 1.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// EN 10025-2 as public steel tables print it for S355: the strength drops only above the end of a range.
    #[test]
    fn strength_falls_by_the_steps_of_the_standard() {
        let s355 = material_named("S355").expect("known");
        for (thickness, fy, fu) in [
            (2.0, 355.0, 510.0),
            (2.99, 355.0, 510.0),
            (3.0, 355.0, 470.0),
            (16.0, 355.0, 470.0),
            (16.01, 345.0, 470.0),
            (40.0, 345.0, 470.0),
            (63.0, 335.0, 470.0),
            (80.0, 325.0, 470.0),
            (100.0, 315.0, 470.0),
            (150.0, 295.0, 450.0),
            (200.0, 285.0, 450.0),
            (250.0, 275.0, 450.0),
        ] {
            let step = s355.at(thickness).expect("held");
            assert_eq!((step.yield_strength, step.tensile), (fy, fu), "at {thickness} mm");
        }
        for bad in [0.0, -1.0, f64::NAN, 250.1] {
            assert!(s355.at(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn grades_are_in_order_and_tell_their_source() {
        for m in &MATERIALS {
            assert!(!m.source.is_empty() && !m.source_stiffness.is_empty(), "{}", m.name);
            assert!((0.25..0.35).contains(&m.poisson()), "{}: ν = {}", m.name, m.poisson());
            for pair in m.steps.windows(2) {
                assert!(pair[0].up_to < pair[1].up_to, "{}", m.name);
                assert!(pair[0].yield_strength >= pair[1].yield_strength, "{}", m.name);
            }
        }
        // EN 1993-1-4, from memory.
        let at = |name: &str, t| material_named(name).expect("known").at(t).expect("held");
        assert_eq!(at("1.4301", 2.0), step(6.0, 230.0, 540.0));
        assert_eq!(at("1.4404", 8.0), step(12.0, 220.0, 530.0));
        assert_eq!(at("S235", 17.0), step(40.0, 225.0, 360.0));
        assert_eq!(at("S355J2W", 17.0), step(40.0, 345.0, 470.0));
        assert!(material_named("S999").expect_err("unknown").to_string().contains("1.4404"));
    }
}
