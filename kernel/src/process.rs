//! Ways to cut sheet: what the shop's process takes away, how fast it is and what it cannot cut.
//!
//! Every figure is a default of the stage `cutting` and is meant to be replaced by the shop's own.

/// A size below which a process cannot cut, by thickness: the greater of a length and a share of the thickness.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Smallest {
    /// mm.
    pub least: f64,
    /// In thicknesses.
    pub thicknesses: f64,
}

impl Smallest {
    /// For a thickness in mm, mm.
    pub fn at(self, thickness: f64) -> f64 {
        self.least.max(self.thicknesses * thickness)
    }
}

/// The stage whose settings name the process and the width of its cut.
pub const STAGE: &str = "cutting";

/// One process.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Process {
    /// The word for it.
    pub name: &'static str,
    /// Width of the cut, mm.
    pub kerf: f64,
    /// Where the kerf is from.
    pub kerf_source: &'static str,
    /// Least diameter of a hole (common practice, no source).
    pub hole: Smallest,
    /// Least width of a slot (common practice, no source).
    pub slot: Smallest,
    /// Least width of material left between cuts (common practice, no source).
    pub neck: Smallest,
    /// Time to pierce, seconds (common practice, no source); by hand, to start a cut.
    pub pierce_seconds: f64,
    /// Thickness in mm and speed in mm/min, rising in thickness (common practice, no source).
    pub speeds: &'static [(f64, f64)],
    /// Length of the lead-in, mm (common practice, no source); 0 for none.
    pub lead: f64,
    /// What of ISO 9013 is usual for it (common practice, no source); none where the standard does not apply.
    pub iso_9013: Option<Iso9013>,
}

/// Designation of a cut by ISO 9013.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Iso9013 {
    /// Range of perpendicularity u, 1 to 5.
    pub u: u32,
    /// Range of the mean height Rz5, 1 to 4.
    pub rz5: u32,
    /// Tolerance class of dimensions, 1 or 2.
    pub class: u32,
}

/// Where what has no published source is from.
pub const COMMON_PRACTICE: &str = "common practice, no source: use the shop's own";
const KERF_PAGE: &str = "typical value of one published guide, not a standard: measure the shop's own";

/// The processes, by name.
pub const PROCESSES: [Process; 4] = [
    Process {
        name: "plasma",
        // Published as 1 to 3.
        kerf: 1.8,
        kerf_source: KERF_PAGE,
        hole: Smallest { least: 6.0, thicknesses: 1.5 },
        slot: Smallest { least: 4.0, thicknesses: 1.5 },
        neck: Smallest { least: 5.0, thicknesses: 1.5 },
        pierce_seconds: 0.6,
        speeds: &[
            (1.0, 8000.0),
            (1.5, 6500.0),
            (2.0, 5000.0),
            (3.0, 3500.0),
            (4.0, 2600.0),
            (6.0, 1600.0),
            (10.0, 800.0),
        ],
        lead: 8.0,
        iso_9013: Some(Iso9013 { u: 4, rz5: 3, class: 2 }),
    },
    Process {
        name: "waterjet",
        // Published as 0.2 to 1.0, mostly 0.4 to 0.6.
        kerf: 0.5,
        kerf_source: KERF_PAGE,
        hole: Smallest { least: 2.0, thicknesses: 0.5 },
        slot: Smallest { least: 1.2, thicknesses: 0.3 },
        neck: Smallest { least: 2.0, thicknesses: 0.5 },
        pierce_seconds: 4.0,
        speeds: &[(1.0, 1200.0), (2.0, 700.0), (3.0, 450.0), (4.0, 330.0), (6.0, 210.0), (10.0, 110.0)],
        lead: 4.0,
        iso_9013: None,
    },
    Process {
        name: "laser",
        // Published as 0.1 to 0.5.
        kerf: 0.3,
        kerf_source: KERF_PAGE,
        hole: Smallest { least: 1.0, thicknesses: 1.0 },
        slot: Smallest { least: 0.6, thicknesses: 0.5 },
        neck: Smallest { least: 1.0, thicknesses: 1.0 },
        pierce_seconds: 0.4,
        speeds: &[
            (1.0, 12_000.0),
            (2.0, 6000.0),
            (3.0, 4000.0),
            (4.0, 3000.0),
            (6.0, 2000.0),
            (10.0, 1000.0),
        ],
        lead: 4.0,
        iso_9013: Some(Iso9013 { u: 2, rz5: 2, class: 1 }),
    },
    Process {
        name: "hand",
        kerf: 1.5,
        kerf_source: COMMON_PRACTICE,
        hole: Smallest { least: 25.0, thicknesses: 0.0 },
        slot: Smallest { least: 3.0, thicknesses: 0.0 },
        neck: Smallest { least: 10.0, thicknesses: 2.0 },
        pierce_seconds: 60.0,
        speeds: &[(1.0, 800.0), (2.0, 500.0), (3.0, 300.0), (4.0, 200.0), (6.0, 120.0), (10.0, 60.0)],
        lead: 0.0,
        iso_9013: None,
    },
];

impl Process {
    /// The process of that name.
    pub fn named(name: &str) -> Option<&'static Process> {
        PROCESSES.iter().find(|p| p.name == name)
    }

    /// The thickest sheet it has a speed for, mm.
    pub fn thickest(&self) -> f64 {
        self.speeds.last().map_or(0.0, |row| row.0)
    }

    /// Cutting speed in sheet of a thickness in mm, mm/min: along a straight line between the rows in logarithms;
    /// thinner than the first row is cut as that, thicker than the last has none.
    pub fn speed(&self, thickness: f64) -> Option<f64> {
        let at = self.speeds.partition_point(|row| row.0 < thickness);
        let above = self.speeds.get(at)?;
        let Some(below) = at.checked_sub(1).map(|k| self.speeds[k]) else { return Some(above.1) };
        let share = (thickness / below.0).ln() / (above.0 / below.0).ln();
        Some(below.1 * (above.1 / below.1).powf(share))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn speed_falls_with_thickness_and_ends_with_the_table() {
        for p in &PROCESSES {
            assert_eq!(p.speed(0.5), Some(p.speeds[0].1), "{}", p.name);
            for row in p.speeds {
                assert!((p.speed(row.0).expect("a row") - row.1).abs() < 1e-6 * row.1, "{}", p.name);
            }
            assert!(p.speed(2.0) > p.speed(2.5) && p.speed(2.5) > p.speed(3.0), "{}", p.name);
            assert_eq!(p.speed(10.1), None, "{}", p.name);
        }
    }

    #[test]
    fn a_hole_or_slot_is_never_narrower_than_the_cut() {
        for p in &PROCESSES {
            assert!(p.slot.least > p.kerf && p.hole.least > p.kerf, "{}", p.name);
        }
    }
}
