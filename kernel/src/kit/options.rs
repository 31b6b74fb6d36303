//! What a kit is to be: scale, paper, kind of nets, width of tabs.

use crate::error::{Error, Result};
use crate::export::pdf::Paper;
use crate::settings::{Setting, SettingKind, Values};

/// The settings of a kit; what the command line gives is checked against them.
pub const ROWS: &[Setting] = &[
    Setting {
        name: "scale",
        summary: "the work is printed at 1 to this; without it a round number is chosen",
        unit: "",
        kind: SettingKind::Optional { min: 1.0, max: 10_000.0 },
    },
    Setting {
        name: "height",
        summary: "height of the finished model, instead of a scale",
        unit: "mm",
        kind: SettingKind::Optional { min: 10.0, max: 10_000.0 },
    },
    Setting {
        name: "paper",
        summary: "the paper it is printed on",
        unit: "",
        kind: SettingKind::Choice { default: Some("a4"), of: &["a4", "a3", "letter"] },
    },
    Setting {
        name: "nets",
        summary: "whole elements unfolded, or one net per face",
        unit: "",
        kind: SettingKind::Choice { default: Some("elements"), of: &["faces", "elements"] },
    },
    Setting {
        name: "ribs",
        summary: "each face as a net of its own, developed along its corrugation, with its folds",
        unit: "",
        kind: SettingKind::Flag { default: false },
    },
    Setting {
        name: "tab",
        summary: "width of the glue tabs",
        unit: "mm",
        kind: SettingKind::Number { default: Some(6.0), min: 2.0, max: 20.0 },
    },
    Setting {
        name: "overlap",
        summary: "what neighbouring pages share where a net is larger than a page",
        unit: "mm",
        kind: SettingKind::Number { default: Some(10.0), min: 4.0, max: 40.0 },
    },
    // Common practice, no source: the width of a line that usual printers for plastic lay.
    Setting {
        name: "feature",
        summary: "least width a printer for plastic can make",
        unit: "mm",
        kind: SettingKind::Number { default: Some(0.4), min: 0.01, max: 5.0 },
    },
];

/// How large the model is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Size {
    /// The least round scale at which the tallest element fits a page.
    Fitting,
    /// The work at 1 to this.
    OneTo(f64),
    /// A model of this height, mm.
    Height(f64),
}

/// What is printed as one piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Nets {
    /// Whole elements, split only where they must be.
    Elements,
    /// Each face by itself.
    Faces,
}

/// A kit's settings, ready to use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KitOptions {
    /// How large.
    pub size: Size,
    /// On what.
    pub paper: Paper,
    /// In what pieces.
    pub nets: Nets,
    /// Whether faces are developed along their corrugation.
    pub ribs: bool,
    /// Width of glue tabs, mm.
    pub tab: f64,
    /// What neighbouring pages share, mm.
    pub overlap: f64,
    /// Least width a printer for plastic makes, mm.
    pub feature: f64,
}

impl KitOptions {
    /// Reads checked settings of [`ROWS`].
    ///
    /// # Errors
    /// Both a scale and a height; whole elements with ribs.
    pub fn new(values: &Values) -> Result<Self> {
        let size = match (values.optional("scale"), values.optional("height")) {
            (Some(_), Some(_)) => {
                return Err(Error::input("both a scale and a height are given").remedy("give one of them"));
            }
            (Some(scale), None) => Size::OneTo(scale),
            (None, Some(height)) => Size::Height(height),
            (None, None) => Size::Fitting,
        };
        let ribs = values.flag("ribs");
        let nets = match values.text("nets") {
            Some("elements") if ribs && values.is_given("nets") => {
                return Err(Error::input("corrugated faces cannot be unfolded as whole elements")
                    .remedy("leave out `nets: elements`: with ribs each face is a net of its own"));
            }
            Some("faces") => Nets::Faces,
            _ => Nets::Elements,
        };
        let paper = match values.text("paper") {
            Some("a3") => Paper::A3,
            Some("letter") => Paper::Letter,
            _ => Paper::A4,
        };
        Ok(Self {
            size,
            paper,
            nets,
            ribs,
            tab: values.number("tab"),
            overlap: values.number("overlap"),
            feature: values.number("feature"),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::Value;
    use std::collections::BTreeMap;

    fn read(given: &[(&str, Value)]) -> Result<KitOptions> {
        let given: BTreeMap<String, Value> =
            given.iter().map(|(name, value)| ((*name).to_owned(), value.clone())).collect();
        KitOptions::new(&Values::check("model", ROWS, &given)?)
    }

    #[test]
    fn defaults_are_whole_elements_on_a4_and_contradictions_are_refused() {
        let options = read(&[]).expect("defaults");
        assert_eq!((options.size, options.paper, options.nets), (Size::Fitting, Paper::A4, Nets::Elements));
        let number = |x: f64| Value::Number(x);
        assert!(read(&[("scale", number(20.0)), ("height", number(100.0))]).is_err());
        let text = Value::Text("elements".to_owned());
        assert!(read(&[("ribs", Value::Flag(true)), ("nets", text)]).is_err());
        for (name, x) in [("scale", 0.0), ("height", f64::NAN), ("tab", -1.0), ("overlap", 1.0e9)] {
            assert!(read(&[(name, number(x))]).is_err(), "{name} {x}");
        }
    }
}
