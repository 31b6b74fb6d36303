//! How this shop welds: every figure of the weld schedule that is a choice, as a setting with its source.

use super::filler::{Arc, PROCESS_NAMES, Process, process_named};
use super::groove::{Fill, Filling};
use super::tacks::{Run, Tacking};
use crate::settings::{Setting, SettingKind, Values, number, optional};

const fn choice(name: &'static str, summary: &'static str, of: &'static [&'static str]) -> Setting {
    Setting { name, summary, unit: "", kind: SettingKind::Choice { default: Some(of[0]), of } }
}

/// The stage whose settings these rows are.
pub const STAGE: &str = "welds";

/// The settings of the stage `welds`. What stands behind the semicolon of a summary is the source of the default.
pub const SETTINGS: &[Setting] = &[
    choice(
        "side",
        "side the seams are welded from; outside is what one welder can reach",
        &["outside", "inside", "both"],
    ),
    Setting {
        name: "inside_seams",
        summary: "seams to be welded from inside too, ids with commas between; none",
        unit: "",
        kind: SettingKind::Text,
    },
    number(
        "opening",
        "least width of an opening to weld in through; common practice, no source",
        "mm",
        300.0,
        [0.0, 5000.0],
    ),
    number("gap", "root gap left when tacking; common practice, no source", "mm", 0.5, [0.0, 10.0]),
    number(
        "cap",
        "height of the weld over the line joining the corners; common practice, no source",
        "mm",
        1.0,
        [0.0, 10.0],
    ),
    number(
        "overlap",
        "how far the weld runs past each corner; common practice, no source",
        "mm",
        1.0,
        [0.0, 10.0],
    ),
    choice(
        "fill",
        "how full grooves are welded; corners is the least that can be ground flush",
        &["corners", "sharp"],
    ),
    number(
        "sharp_limit",
        "ends further open than this are not built up sharp; common practice, no source",
        "degrees",
        120.0,
        [0.0, 170.0],
    ),
    number(
        "throat",
        "throat of fillets as a share of the thinner sheet; common practice, no source",
        "",
        0.7,
        [0.1, 2.0],
    ),
    number(
        "fillet_limit",
        "widest corner that takes a fillet; EN 1993-1-8, 4.3.2.1, from memory",
        "degrees",
        120.0,
        [90.0, 170.0],
    ),
    number(
        "reach",
        "narrowest corner a torch reaches into; common practice, no source",
        "degrees",
        45.0,
        [0.0, 90.0],
    ),
    number(
        "square_limit",
        "thickest sheet welded through without a groove; ISO 9692-1, from memory",
        "mm",
        4.0,
        [0.0, 20.0],
    ),
    number(
        "groove_least",
        "least angle of a groove that is welded through; ISO 9692-1, from memory",
        "degrees",
        40.0,
        [0.0, 90.0],
    ),
    number(
        "bevel_limit",
        "steepest bevel that is cut; common practice, no source",
        "degrees",
        60.0,
        [0.0, 89.0],
    ),
    choice("process", "welding process; the usual one for sheet", &PROCESS_NAMES),
    optional(
        "efficiency",
        "share of the filler that ends up in the weld; that of the process",
        "",
        [0.1, 1.0],
    ),
    optional("heat_factor", "thermal efficiency k; that of the process by EN 1011-1", "", [0.1, 1.0]),
    optional("rate", "weld metal laid in an hour of arc; that of the process", "kg/h", [0.05, 30.0]),
    optional("current", "welding current; that of the process", "A", [5.0, 2000.0]),
    optional("voltage", "arc voltage; that of the process", "V", [5.0, 60.0]),
    number(
        "operating_factor",
        "share of the time in which the arc burns; common practice, no source",
        "",
        0.25,
        [0.02, 1.0],
    ),
    number(
        "density",
        "density of weld metal, that of steel in EN 1991-1-1 A.4 (77.0 to 78.5 kN/m³); from memory",
        "kg/m³",
        7850.0,
        [1000.0, 12000.0],
    ),
    number(
        "pass_area",
        "largest section laid in one pass; common practice, no source",
        "mm²",
        20.0,
        [1.0, 200.0],
    ),
    number(
        "tack_pitch",
        "greatest distance between tacks; common practice, no source",
        "mm",
        120.0,
        [10.0, 1000.0],
    ),
    number("tack_length", "length of a tack; common practice, no source", "mm", 10.0, [1.0, 100.0]),
    number(
        "tack_turn",
        "a fold sharper than this gets a tack; common practice, no source",
        "degrees",
        25.0,
        [1.0, 180.0],
    ),
    number(
        "tack_time",
        "time for one tack with aligning; common practice, no source",
        "s",
        30.0,
        [0.0, 600.0],
    ),
    number(
        "set_time",
        "time to lift and clamp one sheet part; common practice, no source",
        "min",
        15.0,
        [0.0, 600.0],
    ),
    number(
        "strip_time",
        "time to fit one closure strip; common practice, no source",
        "min",
        3.0,
        [0.0, 600.0],
    ),
    choice(
        "run",
        "whether seams are welded all along; continuous keeps water out",
        &["continuous", "stitch"],
    ),
    number("stitch_length", "length of a stitch; common practice, no source", "mm", 40.0, [5.0, 500.0]),
    number(
        "stitch_pitch",
        "from middle to middle of stitches; common practice, no source",
        "mm",
        120.0,
        [10.0, 2000.0],
    ),
];

/// The settings, ready to use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Practice {
    /// Whether seams are asked for from inside, and from outside.
    pub sides: [bool; 2],
    /// Least width of an opening, mm.
    pub opening: f64,
    /// How grooves are filled.
    pub filling: Filling,
    /// Narrowest corner a torch reaches into, degrees.
    pub reach: f64,
    /// Thickest sheet welded through without a groove, mm.
    pub square_limit: f64,
    /// Least angle of a groove welded through, degrees.
    pub groove_least: f64,
    /// Steepest bevel, degrees.
    pub bevel_limit: f64,
    /// The process.
    pub process: &'static Process,
    /// Its figures.
    pub arc: Arc,
    /// Tacks.
    pub tacking: Tacking,
    /// Hours for one tack.
    pub tack_hours: f64,
    /// Hours to set one sheet part.
    pub set_hours: f64,
    /// Hours to fit one closure strip.
    pub strip_hours: f64,
    /// Continuous or in stitches.
    pub run: Run,
}

impl Practice {
    /// What the checked settings say.
    pub fn new(values: &Values) -> Self {
        let n = |name: &str| values.number(name);
        let process = process_named(values.text("process").unwrap_or_default());
        let own = |name: &str, usual: f64| values.optional(name).unwrap_or(usual);
        let side = values.text("side").unwrap_or_default();
        let length = n("stitch_length");
        Self {
            sides: [side != "outside", side != "inside"],
            opening: n("opening"),
            filling: Filling {
                gap: n("gap"),
                cap: n("cap"),
                overlap: n("overlap"),
                fill: if values.text("fill") == Some("sharp") { Fill::Sharp } else { Fill::Corners },
                sharp_limit: n("sharp_limit"),
                throat: n("throat"),
                fillet_limit: n("fillet_limit"),
            },
            reach: n("reach"),
            square_limit: n("square_limit"),
            groove_least: n("groove_least"),
            bevel_limit: n("bevel_limit"),
            process,
            arc: Arc {
                efficiency: own("efficiency", process.efficiency),
                heat_factor: own("heat_factor", process.heat_factor),
                rate: own("rate", process.rate),
                current: own("current", process.current),
                voltage: own("voltage", process.voltage),
                operating_factor: n("operating_factor"),
                density: n("density"),
                pass_area: n("pass_area"),
            },
            tacking: Tacking { pitch: n("tack_pitch"), length: n("tack_length"), turn: n("tack_turn") },
            tack_hours: n("tack_time") / 3600.0,
            set_hours: n("set_time") / 60.0,
            strip_hours: n("strip_time") / 60.0,
            run: match values.text("run") {
                // Stitches nearer than their length run into each other.
                Some("stitch") => Run::Stitch { length, pitch: n("stitch_pitch").max(length) },
                _ => Run::Continuous,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::Value;
    use std::collections::BTreeMap;

    fn practice(given: &[(&str, Value)]) -> Practice {
        let given: BTreeMap<String, Value> =
            given.iter().map(|(n, v)| ((*n).to_owned(), v.clone())).collect();
        Practice::new(&Values::check("welds", SETTINGS, &given).expect("allowed"))
    }

    #[test]
    fn figures_follow_the_process_until_they_are_given() {
        let stick = Value::Text("stick".to_owned());
        let usual = practice(&[("process", stick.clone())]);
        assert_eq!((usual.arc.efficiency, usual.arc.rate), (0.62, 0.6));
        let own = practice(&[("process", stick), ("efficiency", Value::Number(0.7))]);
        assert_eq!((own.arc.efficiency, own.arc.rate), (0.7, 0.6));
    }

    #[test]
    fn every_setting_names_its_source_and_has_its_default_in_range() {
        for row in SETTINGS {
            assert!(row.summary.contains(';'), "{}: no source", row.name);
            if let SettingKind::Number { default: Some(x), min, max } = row.kind {
                assert!(x >= min && x <= max, "{}", row.name);
            }
        }
    }

    #[test]
    fn outside_is_the_usual_side() {
        assert_eq!(practice(&[]).sides, [false, true]);
        assert_eq!(practice(&[("side", Value::Text("both".to_owned()))]).sides, [true, true]);
        assert_eq!(practice(&[("side", Value::Text("inside".to_owned()))]).sides, [true, false]);
    }
}
