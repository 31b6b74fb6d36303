//! What the script asks of the spine.

use super::super::sketch::{choice, count, flag, list, number, optional};
use super::ROW;
use crate::error::{Error, Result};
use crate::settings::{Setting, SettingKind, Values};
use crate::tube::{Material, Tube, material_named};
use crate::work::Work;
use nalgebra::Point3;

/// The word for the thinnest tube that holds.
pub(super) const LIGHTEST: &str = "lightest";

/// The rows.
pub(super) const ROWS: &[Setting] = &[
    Setting {
        name: "tube",
        summary: "outside diameter and wall, for instance \"168.3x6.3\", or \"lightest\": the lightest of the listed sizes that \
                  finds its way and keeps the limits of the stage frame",
        unit: "mm",
        kind: SettingKind::Text,
    },
    choice("grade", "grade of the tube", "S355", &["S355", "S235", "S355J2W", "1.4301", "1.4404"]),
    number("gap", "least gap between tube and sheet", "mm", 20.0, [0.0, 1000.0]),
    count("most_legs", "most straight legs", 6, [1, 12]),
    number("slack", "bend given away for more clearance", "degrees", 5.0, [0.0, 90.0]),
    list("start", "where it starts on the ground; anywhere inside the foot unless given", "mm", 2),
    Setting {
        name: "end",
        summary: "the element it ends in; the one that reaches highest unless given",
        unit: "",
        kind: SettingKind::Text,
    },
    optional(
        "end_height",
        "height of its end over the ground; under the top unless given",
        "mm",
        [0.0, 1.0e5],
    ),
    list("end_at", "where it ends, seen from above; anywhere unless given", "mm", 2),
    number("end_room", "room over its end beside the gap, to weld a cap", "mm", 50.0, [0.0, 1.0e4]),
    Setting {
        name: "points",
        summary: "its axis, from the ground up: not looked for but checked",
        unit: "mm",
        kind: SettingKind::Places,
    },
    choice(
        "series",
        "sizes that \"lightest\" chooses from: cold-formed EN 10219, hot-finished EN 10210, or stainless ISO 1127; by its \
         grade unless given",
        "grade",
        &["grade", "cold", "hot", "stainless"],
    ),
    Setting {
        name: "branches",
        summary: "tubes that end on the spine, each from its free end to the spine: #{ brace: [[x, y, z], [x, y, z]] }",
        unit: "mm",
        kind: SettingKind::Settings,
    },
    Setting {
        name: "branch_tube",
        summary: "outside diameter and wall of the branches, for instance \"60.3x3.2\"",
        unit: "mm",
        kind: SettingKind::Text,
    },
    Setting {
        name: "bars",
        summary: "lengths of the bars it is cut from where there are several, for instance \"6000, 4000\"",
        unit: "mm",
        kind: SettingKind::Text,
    },
    number("bar", "length of the bars it is cut from", "mm", 6000.0, [100.0, 20_000.0]),
    number("kerf", "width of a saw cut", "mm", 3.0, [0.0, 20.0]),
    number("trim", "cut off each end of a bar first", "mm", 10.0, [0.0, 500.0]),
    flag("nested", "mitres that face each other share a cut, with the leg turned half round", true),
    number("paper", "thickness of the paper of the wrap-round templates", "mm", 0.2, [0.0, 3.0]),
    number(
        "least_leg",
        "shortest line of a leg, in diameters of the tube (common practice, no source)",
        "",
        1.5,
        [0.0, 20.0],
    ),
    number(
        "weld_room",
        "least distance of a mitre from the opening before or after it, to weld (common practice, no source)",
        "mm",
        100.0,
        [0.0, 2000.0],
    ),
    number(
        "most_mitre",
        "greatest angle of a mitre from square (common practice, no source)",
        "degrees",
        30.0,
        [0.0, 75.0],
    ),
];

/// The settings, read.
#[derive(Debug, Clone)]
pub(super) struct Asked {
    pub(super) material: &'static Material,
    pub(super) gap: f64,
    pub(super) most_legs: usize,
    /// Radians.
    pub(super) slack: f64,
    pub(super) start: Option<[f64; 2]>,
    pub(super) end: Option<usize>,
    pub(super) end_height: Option<f64>,
    pub(super) end_at: Option<[f64; 2]>,
    pub(super) end_room: f64,
    pub(super) weld_room: f64,
    pub(super) points: Option<Vec<Point3<f64>>>,
}

impl Asked {
    pub(super) fn new(work: &Work, set: &Values) -> Result<Self> {
        let found = |name| work.sculpture.find_element(name).map_err(|e| e.at("end").at(ROW.name));
        let end = set.text("end").map(found).transpose()?;
        let pair = |name: &str| set.numbers(name).map(|p| [p[0], p[1]]);
        let points = set.places("points");
        if points.as_ref().is_some_and(|p| p.len() < 2) {
            return Err(Error::input("one point is no axis")
                .at("points")
                .at(ROW.name)
                .remedy("give the points of the axis from the ground up, at least two"));
        }
        Ok(Self {
            material: material_named(set.text("grade").unwrap_or("S355")).map_err(|e| e.at(ROW.name))?,
            gap: set.number("gap"),
            most_legs: set.count("most_legs") as usize,
            slack: set.number("slack").to_radians(),
            start: pair("start"),
            end,
            end_height: set.optional("end_height"),
            end_at: pair("end_at"),
            end_room: set.number("end_room"),
            weld_room: set.number("weld_room"),
            points: points.map(|all| all.into_iter().map(Point3::from).collect()),
        })
    }
}

/// The tube a script names: `168.3x6.3`.
///
/// # Errors
/// No size, or one that is not possible.
pub(super) fn tube(set: &Values) -> Result<Tube> {
    size(set, "tube")
}

/// Lengths of the bars there are, mm.
///
/// # Errors
/// Words that are no lengths.
pub(super) fn bars(set: &Values) -> Result<Vec<f64>> {
    let Some(text) = set.text("bars") else { return Ok(vec![set.number("bar")]) };
    let items = text.split([',', ';', ' ']).map(str::trim).filter(|s| !s.is_empty());
    let lengths: Option<Vec<f64>> =
        items.map(|s| s.parse().ok().filter(|x: &f64| x.is_finite() && *x > 0.0)).collect();
    lengths.filter(|all| !all.is_empty()).ok_or_else(|| {
        Error::input(format!("\"{text}\" are no lengths"))
            .at("bars")
            .at(ROW.name)
            .remedy("give lengths in mm, for instance bars: \"6000, 4000\"")
    })
}

/// The size of tube that a setting names.
///
/// # Errors
/// No size, or one that is not possible.
pub(super) fn size(set: &Values, name: &str) -> Result<Tube> {
    let place = |e: Error| e.at(name).at(ROW.name);
    let how = format!("give outside diameter and wall in mm, for instance {name}: \"168.3x6.3\"");
    let Some(text) = set.text(name) else {
        return Err(place(Error::input("is missing").remedy(how)));
    };
    let sides: Vec<&str> = text.split(['x', 'X', '×', '*']).map(str::trim).collect();
    let numbers: Vec<f64> = sides.iter().filter_map(|s| s.parse().ok()).collect();
    match (sides.len(), numbers.as_slice()) {
        (2, [outside, wall]) => Tube::new(*outside, *wall).map_err(place),
        _ => Err(place(Error::input(format!("\"{text}\" is no size of tube")).remedy(how))),
    }
}
