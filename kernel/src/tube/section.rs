//! A circular hollow section and its figures.
//!
//! Formulas of EN 10210-2:2006 and EN 10219-2:2006 annex B for circular hollow sections, for the round mid-line
//! without tolerances: A = π(D² − d²)/4, I = π(D⁴ − d⁴)/64, Wel = 2I/D, Wpl = (D³ − d³)/6, It = 2I, Wt = 2Wel.
//! The conventional mass of ISO 1127, π(D − t)tρ, is the same as Aρ. Units: mm, kg.

use crate::error::{Error, Result};
use crate::units::{KG_PER_MM3, MM_PER_M};
use std::f64::consts::PI;

/// Largest outside diameter accepted, mm.
pub const LARGEST_DIAMETER: f64 = 5000.0;

/// A circular hollow section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tube {
    outside: f64,
    wall: f64,
}

impl Tube {
    /// A tube by its outside diameter and wall thickness, mm.
    ///
    /// # Errors
    /// A diameter that is not above 0 and at most [`LARGEST_DIAMETER`]; a wall that is not above 0 and below
    /// half the diameter.
    pub fn new(outside: f64, wall: f64) -> Result<Self> {
        if !(outside > 0.0 && outside <= LARGEST_DIAMETER) {
            return Err(Error::input(format!("a tube {outside} mm across is not possible"))
                .remedy(format!("give an outside diameter above 0 and at most {LARGEST_DIAMETER} mm")));
        }
        if !(wall > 0.0 && wall < outside / 2.0) {
            return Err(Error::input(format!("a wall of {wall} mm does not fit a tube of {outside} mm"))
                .remedy(format!("give a wall above 0 and below {} mm", outside / 2.0)));
        }
        Ok(Self { outside, wall })
    }

    /// A size of a table in this crate, which is possible by construction.
    pub(super) const fn listed(outside: f64, wall: f64) -> Self {
        Self { outside, wall }
    }

    /// Outside diameter D, mm.
    pub fn outside(&self) -> f64 {
        self.outside
    }

    /// Wall thickness t, mm.
    pub fn wall(&self) -> f64 {
        self.wall
    }

    /// Inside diameter d, mm.
    pub fn inside(&self) -> f64 {
        self.outside - 2.0 * self.wall
    }

    /// Section A, mm².
    pub fn area(&self) -> f64 {
        PI * (self.outside - self.wall) * self.wall
    }

    /// Second moment of area I about any diameter, mm⁴.
    pub fn second_moment(&self) -> f64 {
        PI * (self.outside.powi(4) - self.inside().powi(4)) / 64.0
    }

    /// Radius of gyration i, mm.
    pub fn gyration(&self) -> f64 {
        self.outside.hypot(self.inside()) / 4.0
    }

    /// Elastic section modulus Wel, mm³.
    pub fn elastic_modulus(&self) -> f64 {
        2.0 * self.second_moment() / self.outside
    }

    /// Plastic section modulus Wpl, mm³.
    pub fn plastic_modulus(&self) -> f64 {
        (self.outside.powi(3) - self.inside().powi(3)) / 6.0
    }

    /// Torsional constant It, mm⁴.
    pub fn torsion_constant(&self) -> f64 {
        2.0 * self.second_moment()
    }

    /// Torsional modulus Wt, mm³.
    pub fn torsion_modulus(&self) -> f64 {
        2.0 * self.elastic_modulus()
    }

    /// Section that takes shear in a Timoshenko beam, mm²: A/κ with κ of a hollow circle,
    /// 6(1+ν)(1+m²)² / ((7+6ν)(1+m²)² + (20+12ν)m²) with m = d/D (G. R. Cowper, "The shear coefficient in
    /// Timoshenko's beam theory", Journal of Applied Mechanics 33, 1966; from memory). It is near A/2 for thin walls.
    pub fn shear_area(&self, poisson: f64) -> f64 {
        let m2 = (self.inside() / self.outside).powi(2);
        let square = (1.0 + m2).powi(2);
        self.area() * 6.0 * (1.0 + poisson) * square
            / ((7.0 + 6.0 * poisson) * square + (20.0 + 12.0 * poisson) * m2)
    }

    /// Greatest shear stress of a shear force of 1 N, 1/mm²: S/(I·2t) at the neutral axis, S = (D³ − d³)/12.
    pub fn peak_shear(&self) -> f64 {
        self.plastic_modulus() / 2.0 / (self.second_moment() * 2.0 * self.wall)
    }

    /// Mass of a metre, kg, for a density in kg/m³.
    pub fn mass_per_metre(&self, density: f64) -> f64 {
        self.area() * MM_PER_M * density * KG_PER_MM3
    }

    /// As it is written: `114.3 × 5`.
    pub fn words(&self) -> String {
        format!("{} × {}", self.outside, self.wall)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Density of structural steel in the tables, kg/m³ (stated in the notes of a published section book).
    const STEEL: f64 = 7850.0;
    /// cm², cm³ and cm⁴ in mm.
    const CM2: f64 = 1.0e2;
    const CM3: f64 = 1.0e3;
    const CM4: f64 = 1.0e4;

    fn tube(outside: f64, wall: f64) -> Tube {
        Tube::new(outside, wall).expect("possible")
    }

    /// Whether a value rounds to the printed one: half a unit of its last printed digit, and the rounding of
    /// doubles on top.
    #[track_caller]
    fn prints(value: f64, printed: &str, what: &str) {
        let number: f64 = printed.parse().expect("a number");
        let digits = printed.split('.').nth(1).map_or(0, str::len);
        let unit = 10.0_f64.powi(-i32::try_from(digits).expect("few digits"));
        assert!(
            (value - number).abs() <= unit * 0.5 * (1.0 + 1e-9),
            "{what}: {value} is printed as {printed}"
        );
    }

    /// Outside diameter, wall, and mass per metre, area, second moment, gyration and both moduli in kg and cm as printed.
    fn print_alike(rows: &[(f64, f64, [&str; 6])]) {
        for &(outside, wall, printed) in rows {
            let t = tube(outside, wall);
            let found = [
                t.mass_per_metre(STEEL),
                t.area() / CM2,
                t.second_moment() / CM4,
                t.gyration() / 10.0,
                t.elastic_modulus() / CM3,
                t.plastic_modulus() / CM3,
            ];
            for (value, printed) in found.into_iter().zip(printed) {
                prints(value, printed, &t.words());
            }
        }
    }

    /// Mass kg/m, A cm², I cm⁴, i cm, Wel cm³, Wpl cm³ as printed: EN 10210-2 (hot) and EN 10219-2 (cold) tables
    /// in public copies; the rows from 114.3 × 5 on from memory. 101.6 × 2 stands in the cold table.
    #[test]
    fn figures_are_those_of_the_printed_tables() {
        let rows: [(f64, f64, [&str; 6]); 15] = [
            (21.3, 2.6, ["1.20", "1.53", "0.681", "0.668", "0.639", "0.915"]),
            (26.9, 2.6, ["1.56", "1.98", "1.48", "0.864", "1.10", "1.54"]),
            (33.7, 2.6, ["1.99", "2.54", "3.09", "1.10", "1.84", "2.52"]),
            (42.4, 3.2, ["3.09", "3.94", "7.62", "1.39", "3.59", "4.93"]),
            (48.3, 3.2, ["3.56", "4.53", "11.6", "1.60", "4.80", "6.52"]),
            (60.3, 4.0, ["5.55", "7.07", "28.2", "2.0", "9.34", "12.7"]),
            (76.1, 4.0, ["7.11", "9.06", "59.1", "2.6", "15.5", "20.8"]),
            (88.9, 4.0, ["8.38", "10.7", "96.3", "3.0", "21.7", "28.9"]),
            (88.9, 5.0, ["10.3", "13.2", "116", "3.0", "26.2", "35.2"]),
            (101.6, 2.0, ["4.91", "6.26", "77.6", "3.5", "15.3", "19.8"]),
            (114.3, 5.0, ["13.5", "17.2", "257", "3.87", "45.0", "59.8"]),
            (139.7, 5.0, ["16.6", "21.2", "481", "4.77", "68.8", "90.8"]),
            (168.3, 6.3, ["25.2", "32.1", "1053", "5.73", "125", "165"]),
            (219.1, 6.3, ["33.1", "42.1", "2386", "7.53", "218", "285"]),
            // Recomputed apart from this crate to more digits; no printed row at hand.
            (323.9, 10.0, ["77.412", "98.615", "12158.3", "11.1037", "750.75", "985.67"]),
        ];
        print_alike(&rows);
        // It 6.19 cm⁴ and Ct 3.67 cm³ of 33.7 × 2.6, EN 10210-2 table.
        prints(tube(33.7, 2.6).torsion_constant() / CM4, "6.19", "It");
        prints(tube(33.7, 2.6).torsion_modulus() / CM3, "3.67", "Ct");
    }

    /// Full digits of every size, worked out from the formulas apart from this crate.
    #[test]
    fn figures_hold_to_all_digits_worked_out_elsewhere() {
        let rows: [(f64, f64, [&str; 6]); 17] = [
            (21.3, 2.6, ["1.199", "1.527", "0.681", "0.6675", "0.6390", "0.9151"]),
            (26.9, 2.6, ["1.558", "1.985", "1.482", "0.8640", "1.1017", "1.5411"]),
            (33.7, 2.6, ["1.994", "2.540", "3.093", "1.1034", "1.8354", "2.5206"]),
            (42.4, 3.2, ["3.094", "3.941", "7.620", "1.3905", "3.5943", "4.9282"]),
            (48.3, 3.2, ["3.559", "4.534", "11.586", "1.5985", "4.7974", "6.5198"]),
            (60.3, 4.0, ["5.554", "7.075", "28.173", "1.9955", "9.3443", "12.700"]),
            (76.1, 4.0, ["7.112", "9.060", "59.055", "2.5530", "15.5205", "20.815"]),
            (88.9, 4.0, ["8.375", "10.669", "96.340", "3.0050", "21.674", "28.853"]),
            (88.9, 5.0, ["10.346", "13.179", "116.374", "2.9716", "26.181", "35.238"]),
            (114.3, 5.0, ["13.478", "17.169", "256.920", "3.8684", "44.955", "59.774"]),
            (139.7, 5.0, ["16.610", "21.159", "480.541", "4.7656", "68.796", "90.762"]),
            (168.3, 6.3, ["25.170", "32.063", "1053.42", "5.7319", "125.18", "165.42"]),
            (219.1, 6.3, ["33.062", "42.117", "2386.14", "7.5269", "217.81", "285.37"]),
            (219.1, 8.0, ["41.648", "53.055", "2959.63", "7.4689", "270.16", "356.68"]),
            (273.0, 8.0, ["52.282", "66.602", "5851.71", "9.3734", "428.70", "561.97"]),
            (323.9, 10.0, ["77.412", "98.615", "12158.3", "11.1037", "750.75", "985.67"]),
            (101.6, 2.0, ["4.913", "6.258", "77.63", "3.522", "15.28", "19.84"]),
        ];
        print_alike(&rows);
    }

    /// Public tables in inches: pipe pile 12 × .250 and 12.75 × .375 (UFC 3-220-01A table B-1), NPS 4 schedule 40
    /// (R. L. Mott, appendix A16-6, whose S 3.215 is its rounded 7.233/2.25, exact 3.21449, and whose "Zp" 6.430
    /// is the polar modulus, twice that).
    #[test]
    fn figures_are_those_of_american_tables() {
        const INCH: f64 = 25.4;
        const POUND: f64 = 0.453_592_37;
        const FOOT: f64 = 0.3048;
        for (outside, wall, area, mass, inertia, modulus, gyration) in [
            (12.0, 0.25, "9.23", Some("31.37"), "159", "26.6", "4.16"),
            (12.75, 0.375, "14.6", Some("49.56"), "279", "43.8", "4.38"),
            (4.5, 0.237, "3.174", None, "7.233", "3.2145", "1.510"),
        ] {
            let t = tube(outside * INCH, wall * INCH);
            prints(t.area() / INCH.powi(2), area, "A");
            prints(t.second_moment() / INCH.powi(4), inertia, "I");
            prints(t.elastic_modulus() / INCH.powi(3), modulus, "S");
            prints(t.gyration() / INCH, gyration, "r");
            if let Some(mass) = mass {
                // The table takes 3.4 lb/ft for a square inch (489.6 lb/ft³) and cuts digits off.
                let density = 489.6 * POUND / FOOT.powi(3);
                let found = t.mass_per_metre(density) * FOOT / POUND;
                assert_eq!(format!("{:.2}", (found * 100.0).floor() / 100.0), mass, "{found} lb/ft");
            }
        }
        let polar = tube(4.5 * INCH, 0.237 * INCH).torsion_modulus() / INCH.powi(3);
        assert!((polar - 6.430).abs() < 0.0015, "polar modulus {polar}");
    }

    /// ISO 1127 conventional mass at 7900 and 8000 kg/m³ (densities of EN 10088-1), worked out apart from this
    /// crate; at 7850 the same tube is lighter by 0.6 and 1.9 %.
    #[test]
    fn stainless_masses_use_the_density_of_the_steel() {
        for (outside, wall, light, heavy) in [
            (17.2, 1.6, "0.619", "0.627"),
            (21.3, 2.0, "0.958", "0.970"),
            (26.9, 2.0, "1.236", "1.252"),
            (33.7, 2.0, "1.573", "1.593"),
            (42.4, 2.0, "2.005", "2.031"),
            (48.3, 2.0, "2.298", "2.327"),
            (48.3, 2.6, "2.949", "2.986"),
            (60.3, 2.0, "2.894", "2.930"),
            (60.3, 2.6, "3.723", "3.770"),
            (76.1, 2.0, "3.678", "3.725"),
            (88.9, 2.0, "4.313", "4.368"),
            (114.3, 2.0, "5.574", "5.645"),
            (114.3, 3.0, "8.287", "8.392"),
            (139.7, 2.6, "8.847", "8.959"),
            (168.3, 2.6, "10.692", "10.828"),
            (219.1, 3.0, "16.090", "16.294"),
        ] {
            let t = tube(outside, wall);
            prints(t.mass_per_metre(7900.0), light, "1.4301");
            prints(t.mass_per_metre(8000.0), heavy, "1.4404");
            assert!((t.mass_per_metre(STEEL) / t.mass_per_metre(7900.0) - 7850.0 / 7900.0).abs() < 1e-12);
        }
    }

    #[test]
    fn shear_figures_tend_to_those_of_thin_rings_and_solid_bars() {
        let thin = tube(100.0, 0.01);
        // Thin ring: shear section A·2(1+ν)/(4+3ν), greatest shear stress 2V/A.
        let nu = 0.3;
        assert!((thin.shear_area(nu) / thin.area() - 2.0 * (1.0 + nu) / (4.0 + 3.0 * nu)).abs() < 1e-6);
        assert!((thin.peak_shear() * thin.area() - 2.0).abs() < 1e-3);
        // Solid bar: A·6(1+ν)/(7+6ν), greatest shear stress 4V/(3A).
        let bar = tube(100.0, 49.999_999);
        assert!((bar.shear_area(nu) / bar.area() - 6.0 * (1.0 + nu) / (7.0 + 6.0 * nu)).abs() < 1e-9);
        assert!((bar.peak_shear() * bar.area() - 4.0 / 3.0).abs() < 1e-6);
    }

    #[test]
    fn impossible_tubes_are_refused() {
        for (outside, wall) in [
            (0.0, 1.0),
            (-5.0, 1.0),
            (f64::NAN, 1.0),
            (f64::INFINITY, 1.0),
            (60.3, 0.0),
            (60.3, 30.15),
            (60.3, f64::NAN),
            (5001.0, 4.0),
        ] {
            assert!(Tube::new(outside, wall).is_err(), "{outside} × {wall}");
        }
    }
}
