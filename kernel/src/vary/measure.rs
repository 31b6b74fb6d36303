//! One variant, worked out as far as its picture and the figures that matter need: no templates, no files.
//!
//! Masses and balance are those of `make`: the stages that add mass run here too, where the script asks for them. Rules
//! about sides and elements are judged before anything is worked out. Errors of stages that do not run here come with
//! `make`.

use crate::drawing::Drawing;
use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::lay;
use crate::registry::Registry;
use crate::rules::{self, Broken};
use crate::sculpture::Sculpture;
use crate::settings::Values;
use crate::stage::{self, Stage, balance, run_stages, views};
use crate::work::Work;
use crate::work_out;
use nalgebra::Point3;
use serde::Serialize;

/// The figures that matter, of a variant; names, units and values as in `job.json`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Figures {
    /// Over all, mm.
    pub height_mm: f64,
    /// Over all along x and y, mm.
    pub plan_mm: [f64; 2],
    /// Volume the shell encloses, mm³.
    pub enclosed_volume_mm3: f64,
    /// Area of the middle skin, mm².
    pub shell_area_mm2: f64,
    /// Mass of all parts, kg.
    pub mass_kg: f64,
    /// Centre of mass of all parts, mm.
    pub centre_of_mass_mm: [f64; 3],
    /// Mass with weld metal and all that is built in, kg.
    pub mass_with_all_kg: f64,
    /// Elements.
    pub elements: usize,
    /// Most sides of an element.
    pub most_sides: usize,
    /// Parts to cut.
    pub parts: usize,
    /// Area of all parts, mm².
    pub parts_area_mm2: f64,
    /// Length of all seams, mm.
    pub seam_length_mm: f64,
    /// Least margin of balance; none where nothing holds it.
    pub least_margin_mm: Option<f64>,
    /// The level that has it.
    pub least_margin_at: String,
    /// Sheets that are cut, where parts are laid.
    pub sheets: Option<usize>,
}

/// What is kept of a variant.
#[derive(Debug, Clone)]
pub struct Measured {
    /// Figures.
    pub figures: Figures,
    /// Pictorial view, hidden lines removed; (0, 0) is the ground under the middle of the work.
    pub picture: Drawing,
    /// Its outline, to tell variants apart by.
    pub silhouette: Silhouette,
}

/// Why a variant falls out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Out {
    /// The rule in `.rules`, or the code of the finding that forbids making it.
    pub rule: String,
    /// The element, joint or work.
    #[serde(rename = "where")]
    pub place: String,
    /// What was found.
    pub message: String,
}

impl From<Broken> for Out {
    fn from(broken: Broken) -> Self {
        Self { rule: broken.rule.to_owned(), place: broken.place, message: broken.message }
    }
}

/// Heights at which an outline is looked at.
pub(super) const HEIGHTS: usize = 24;

/// Outline of a work seen from the south and from the east, about the middle of its ground.
#[derive(Debug, Clone, PartialEq)]
pub struct Silhouette {
    /// Over all, mm.
    pub height: f64,
    /// In the middle of each of as many bands of equal height: least and greatest x, least and greatest y, mm.
    pub spans: [[f64; 4]; HEIGHTS],
}

/// A variant that was kept or fell out.
type Judged = std::result::Result<Measured, (Vec<Out>, Option<Box<Figures>>)>;

/// Works a variant out. `said` are findings of its script.
///
/// # Errors
/// What `work_out` and the stages refuse.
pub fn measure(sculpture: &Sculpture, said: &[Finding], registry: &Registry) -> Result<Judged> {
    let early: Vec<Out> =
        rules::elements(sculpture).into_iter().chain(rules::sides(sculpture)).map(Out::from).collect();
    if !early.is_empty() {
        return Ok(Err((early, None)));
    }
    let work = work_out(sculpture, registry)?;
    let mut output = run_stages(&work, registry, &needed(&work, registry)?)?;
    let (balance, _, found) = balance::judge(&work, &mut output)?;
    let level = balance::tightest(&balance);
    let sheets = work.sculpture.laying.is_some().then_some(output.sheets.len());
    let figures = figures(&work, output.mass.total().mass, (&level.name, level.margin), sheets);
    let findings = said.iter().chain(&work.findings).chain(&output.findings).chain(&found);
    let mut out: Vec<Out> = findings
        .filter(|f| f.level == Level::Error)
        .map(|f| Out { rule: f.code.clone(), place: f.place.clone(), message: f.message.clone() })
        .collect();
    let rules = &work.sculpture.rules;
    out.extend(rules::margin(rules, &level.name, level.margin).map(Out::from));
    out.extend(rules::area(&work.sculpture, figures.parts_area_mm2).map(Out::from));
    out.extend(rules::sheets(&work.sculpture, sheets).map(Out::from));
    if !out.is_empty() {
        return Ok(Err((out, Some(Box::new(figures)))));
    }
    let picture = views::pictorial(&work).unwrap_or_default();
    Ok(Ok(Measured { figures, picture, silhouette: silhouette(&work) }))
}

/// Stages that add mass or lay parts: those a script asks for by name, and the sheets where it lays parts.
fn needed(work: &Work, registry: &Registry) -> Result<Vec<String>> {
    let mut stages = vec![stage::mass::ROW.name];
    if let Some(laying) = &work.sculpture.laying {
        stages.push(stage::sheets::ROW.name);
        // Blanks are laid as they are folded, so they have to be there.
        if lay::from_flat(&Values::check("lay", lay::ROWS, &laying.settings)?) {
            stages.push(stage::templates::ROW.name);
        }
    }
    let asked = |name: &&str| work.sculpture.stages.contains_key(*name);
    stages.extend(ADD_MASS.iter().map(|row| row.name).filter(asked));
    // A crate of somebody else's may have left some out.
    stages.retain(|name| registry.stages.iter().any(|row| row.name == *name));
    Ok(stages.into_iter().map(str::to_owned).collect())
}

/// Stages that add mass, or decide what the work stands on, where they are asked for.
const ADD_MASS: [Stage; 4] = [stage::spine::ROW, stage::base::ROW, stage::plates::ROW, stage::coat::ROW];

fn figures(work: &Work, mass: f64, (level, margin): (&str, f64), sheets: Option<usize>) -> Figures {
    let [low, high] = work.mesh.bounds().unwrap_or([Point3::origin(); 2]);
    let size = high - low;
    Figures {
        height_mm: size.z,
        plan_mm: [size.x, size.y],
        enclosed_volume_mm3: work.volume,
        shell_area_mm2: work.area,
        mass_kg: work.mass,
        centre_of_mass_mm: work.centre_of_mass.into(),
        mass_with_all_kg: mass,
        elements: work.sculpture.elements.len(),
        most_sides: work.sculpture.elements.iter().map(|e| e.solid.faces.len()).max().unwrap_or(0),
        parts: work.parts.len(),
        parts_area_mm2: work.parts.iter().map(|p| p.area).sum(),
        seam_length_mm: work.seams.iter().map(|s| s.length).sum(),
        least_margin_mm: margin.is_finite().then_some(margin),
        least_margin_at: level.to_owned(),
        sheets,
    }
}

fn silhouette(work: &Work) -> Silhouette {
    let Some([low, high]) = work.mesh.bounds() else {
        return Silhouette { height: 0.0, spans: [[0.0; 4]; HEIGHTS] };
    };
    let (middle, height) = (nalgebra::center(&low, &high), high.z - low.z);
    #[allow(clippy::cast_precision_loss, reason = "few bands")]
    let level = |k: usize| low.z + height * (k as f64 + 0.5) / HEIGHTS as f64;
    let empty = [f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY, f64::NEG_INFINITY];
    let mut spans = [empty; HEIGHTS];
    for triangle in &work.mesh.triangles {
        let corners = triangle.map(|i| work.mesh.points[i as usize]);
        for (k, span) in spans.iter_mut().enumerate() {
            let z = level(k);
            for [a, b] in [[0, 1], [1, 2], [2, 0]].map(|e| e.map(|i| corners[i])) {
                if (a.z - z) * (b.z - z) > 0.0 || a.z == b.z {
                    continue;
                }
                let p = a + (b - a) * ((z - a.z) / (b.z - a.z)) - middle.coords;
                *span = [span[0].min(p.x), span[1].max(p.x), span[2].min(p.y), span[3].max(p.y)];
            }
        }
    }
    // Nothing at that height: the work is in two pieces, one above the other.
    for span in &mut spans {
        if span[0] > span[1] {
            *span = [0.0; 4];
        }
    }
    Silhouette { height, spans }
}
