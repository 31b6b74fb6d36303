//! The maker's own rules, and what breaks them. A work beyond a rule is built all the same, with a finding; variants
//! beyond one fall out.

use crate::finding::{Finding, Level};
use crate::sculpture::{Rules, Sculpture};
use crate::units::MM2_PER_M2;

/// The code of findings about rules.
pub const CODE: &str = "rule";

/// Rules that are limits: what goes beyond one falls out of the variants.
pub const NAMES: [&str; 5] = ["max_sides", "max_elements", "least_margin", "most_sheets", "most_area"];

/// A rule that is broken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Broken {
    /// Its name in `.rules`: `max_sides`.
    pub rule: &'static str,
    /// The element, joint or work that breaks it.
    pub place: String,
    /// By what.
    pub message: String,
    /// What to do.
    pub remedy: String,
}

impl Broken {
    /// The same as a finding.
    pub fn finding(self) -> Finding {
        Finding::new(Level::Warning, CODE, self.place, self.message, self.remedy)
    }
}

/// More elements than allowed.
pub fn elements(sculpture: &Sculpture) -> Option<Broken> {
    let count = sculpture.elements.len();
    let most = sculpture.rules.max_elements.filter(|most| count > *most as usize)?;
    Some(Broken {
        rule: "max_elements",
        place: sculpture.name.clone(),
        message: format!("{count} elements; your own rule allows {most}"),
        remedy: "take an element out, or change max_elements in .rules".to_owned(),
    })
}

/// Elements with more sides than allowed.
pub fn sides(sculpture: &Sculpture) -> Vec<Broken> {
    let Some(most) = sculpture.rules.max_sides else { return Vec::new() };
    let beyond = sculpture.elements.iter().filter(|e| e.solid.faces.len() > most as usize);
    beyond
        .map(|element| Broken {
            rule: "max_sides",
            place: element.solid.name.clone(),
            message: format!("{} sides; your own rule allows {most}", element.solid.faces.len()),
            remedy: "use fewer planes, or change max_sides in .rules".to_owned(),
        })
        .collect()
}

/// A tightest level with less margin than allowed; `margin` in mm.
pub fn margin(rules: &Rules, level: &str, margin: f64) -> Option<Broken> {
    let least = rules.least_margin.filter(|least| margin < *least)?;
    let has = if margin.is_finite() { format!("{margin:.1} mm of margin") } else { "no margin".to_owned() };
    Some(Broken {
        rule: "least_margin",
        place: level.to_owned(),
        message: format!("{has}; your own rule asks for {least} mm"),
        remedy: "lean less far out, widen what it stands on, or change least_margin in .rules".to_owned(),
    })
}

/// More sheets cut than allowed. `cut` is none where parts are not laid.
pub fn sheets(sculpture: &Sculpture, cut: Option<usize>) -> Option<Broken> {
    let most = sculpture.rules.most_sheets?;
    let (message, remedy) = match cut {
        None => (
            format!(
                "your own rule allows {most} sheets, but parts are not laid, so nobody knows how many it takes"
            ),
            "lay the parts with .lay(#{ … }), or give most_area in .rules instead",
        ),
        Some(count) if count > most as usize => (
            format!("{count} sheets are cut; your own rule allows {most}"),
            "make it smaller, take larger sheets, or change most_sheets in .rules",
        ),
        Some(_) => return None,
    };
    Some(Broken { rule: "most_sheets", place: sculpture.name.clone(), message, remedy: remedy.to_owned() })
}

/// More sheet in all parts than allowed; `area` in mm².
pub fn area(sculpture: &Sculpture, area: f64) -> Option<Broken> {
    let most = sculpture.rules.most_area.filter(|most| area > most * MM2_PER_M2)?;
    Some(Broken {
        rule: "most_area",
        place: sculpture.name.clone(),
        message: format!("{:.2} m² of sheet; your own rule allows {most} m²", area / MM2_PER_M2),
        remedy: "make it smaller, or change most_area in .rules".to_owned(),
    })
}
