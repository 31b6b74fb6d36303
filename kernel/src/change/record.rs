//! The record of a make: what a later make is compared with. Schema `ribwright-record-1`: fields may be added, never
//! renamed. Lengths are mm, angles degrees, both rounded to [`GRAIN`].

use crate::drawing::Drawing;
use crate::error::{Error, Result};
use crate::output::Output;
use crate::part::{Part, PartKind};
use crate::stock::profile_words;
use crate::template::{self, Template};
use crate::work::Work;
use serde::{Deserialize, Serialize};

/// Name of the file's schema.
pub const SCHEMA: &str = "ribwright-record-1";

/// Name of the file in the output folder.
pub const FILE: &str = "record.json";

/// Steps of lengths and angles in the record: far below what any process cuts, far above rounding.
const GRAIN: f64 = 1.0e-4;

/// Steps of the entries of directions: over 10 m they are a thousandth of a millimetre.
const DIRECTION_GRAIN: f64 = 1.0e-7;

/// All parts, seams and sheets of one make.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Record {
    /// [`SCHEMA`].
    pub schema: String,
    /// Name of the work.
    pub work: String,
    /// In the order of the work.
    pub parts: Vec<PartRecord>,
    /// In the order of the work.
    pub seams: Vec<SeamRecord>,
    /// Sheets that are cut, where parts are laid.
    pub sheets: Vec<SheetRecord>,
}

/// One piece to cut, in the frame of its own drawing: lower left corner at 0, seen from outside.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PartRecord {
    /// `A/east`.
    pub id: String,
    /// Its face; of a closure strip its seam, of another flat piece its own name.
    pub face: String,
    /// `sheet`, `closure` or `flat`.
    pub kind: String,
    /// What it is cut from, in words: profile and thickness.
    pub sheet: String,
    /// The surveyed sheet it is cut from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub surveyed_sheet: Option<String>,
    /// Where crests run, for a part whose bends are not listed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ribs: Option<Ribs>,
    /// Bends, from left to right.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub bends: Vec<Bend>,
    /// Where it lies in the work; flat pieces beside the cladding have no place here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<PlaceRecord>,
    /// Closed outlines: outer ones counter-clockwise, holes clockwise.
    pub outlines_mm: Vec<Vec<[f64; 2]>>,
}

/// Crests of a part that is cut from formed sheet, or of a wave.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Ribs {
    /// x of a crest.
    pub crest_mm: f64,
    /// From crest to crest on the drawing.
    pub pitch_mm: f64,
}

/// One bend of a blank.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Bend {
    /// x of its line.
    pub across_mm: f64,
    /// Positive where the sheet folds towards the viewer of its outside.
    pub angle_deg: f64,
    /// Inside radius.
    pub radius_mm: f64,
}

/// Where a part lies in the work.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PlaceRecord {
    /// The middle of its bounds, on the sheet.
    pub at_mm: [f64; 3],
    /// Along the ribs.
    pub along: [f64; 3],
    /// Out of the work.
    pub outward: [f64; 3],
}

/// One seam.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SeamRecord {
    /// `A/east~A/top`.
    pub id: String,
    /// The faces it joins.
    pub between: [String; 2],
    /// How it is cut.
    pub joint: String,
    /// Along the middle skin.
    pub length_mm: f64,
    /// Greatest distance from the nominal edge line.
    pub wobble_mm: f64,
}

/// One sheet that is cut.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SheetRecord {
    /// Its name.
    pub name: String,
    /// What lies on it.
    pub parts: Vec<LaidRecord>,
}

/// A part, or a piece of one, on a sheet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LaidRecord {
    /// The piece's id.
    pub id: String,
    /// Least and greatest (along, across).
    pub bounds_mm: [[f64; 2]; 2],
    /// Which way it lies, in words; empty as drawn.
    pub lies: String,
}

impl Record {
    /// The record of a work with its templates; `None` where they were not worked out.
    pub fn of(work: &Work, output: &Output) -> Option<Self> {
        if output.templates.is_empty() {
            return None;
        }
        let sheets = output.templates.iter().filter_map(|t| {
            let part = work.parts.get(t.part)?;
            Some(part_record(part, t.templates.get(t.to_cut()?)?))
        });
        let flats = output.flats.iter().map(|flat| PartRecord {
            id: flat.id.clone(),
            face: flat.id.clone(),
            kind: "flat".to_owned(),
            sheet: format!("flat, {} mm", rounded(flat.thickness)),
            surveyed_sheet: None,
            ribs: None,
            bends: Vec::new(),
            place: None,
            outlines_mm: outlines(&flat.drawing),
        });
        let face = |i: usize| work.faces.get(i).map(|f| f.id.clone()).unwrap_or_default();
        let seams = work.seams.iter().map(|s| SeamRecord {
            id: s.id.clone(),
            between: s.between.map(face),
            joint: s.joint.to_string(),
            length_mm: rounded(s.length),
            wobble_mm: rounded(s.wobble_peak),
        });
        let cut = output.sheets.iter().map(|sheet| SheetRecord {
            name: sheet.name.clone(),
            parts: sheet
                .parts
                .iter()
                .map(|p| LaidRecord {
                    id: p.id.clone(),
                    bounds_mm: p.bounds.map(|corner| corner.map(rounded)),
                    lies: p.lies.clone(),
                })
                .collect(),
        });
        Some(Self {
            schema: SCHEMA.to_owned(),
            work: work.sculpture.name.clone(),
            parts: sheets.chain(flats).collect(),
            seams: seams.collect(),
            sheets: cut.collect(),
        })
    }

    /// The record as a file: one line for each part, seam and sheet.
    ///
    /// # Errors
    /// Numbers that JSON does not have; a fault of ours.
    pub fn to_bytes(&self) -> Result<Vec<u8>> {
        let bug = |e: serde_json::Error| Error::bug(format!("the record cannot be written: {e}")).at(FILE);
        let line = |text: &str| serde_json::to_string(text).map_err(bug);
        let mut text = format!("{{\"schema\":{},\"work\":{}", line(&self.schema)?, line(&self.work)?);
        let mut list = |name: &str, rows: Vec<serde_json::Result<String>>| -> Result<()> {
            let rows = rows.into_iter().collect::<serde_json::Result<Vec<String>>>().map_err(bug)?;
            text.push_str(&format!(",\n\"{name}\":[\n{}\n]", rows.join(",\n")));
            Ok(())
        };
        list("parts", self.parts.iter().map(serde_json::to_string).collect())?;
        list("seams", self.seams.iter().map(serde_json::to_string).collect())?;
        list("sheets", self.sheets.iter().map(serde_json::to_string).collect())?;
        text.push_str("}\n");
        Ok(text.into_bytes())
    }

    /// Reads a record.
    ///
    /// # Errors
    /// Bytes that are no record, or one of a later kind.
    pub fn read(bytes: &[u8]) -> Result<Self> {
        #[derive(Deserialize)]
        struct Head {
            schema: String,
        }
        let remedy = "make the work again into a new folder, or compare folders that were made whole";
        let head: Head = serde_json::from_slice(bytes)
            .map_err(|e| Error::input(format!("is no record of a make: {e}")).at(FILE).remedy(remedy))?;
        if head.schema != SCHEMA {
            return Err(Error::input(format!(
                "has the schema {:?}; this program reads {SCHEMA:?}",
                head.schema
            ))
            .at(FILE)
            .remedy("use the version of ribwright that made it, or make the work again"));
        }
        serde_json::from_slice(bytes)
            .map_err(|e| Error::input(format!("is a damaged record: {e}")).at(FILE).remedy(remedy))
    }
}

/// Least and greatest x and y of outlines; zeros for none.
pub(super) fn bounds(outlines: &[Vec<[f64; 2]>]) -> [[f64; 2]; 2] {
    let mut points = outlines.iter().flatten();
    let Some(&first) = points.next() else { return [[0.0; 2]; 2] };
    points.fold([first, first], |[lo, hi], p| {
        [[lo[0].min(p[0]), lo[1].min(p[1])], [hi[0].max(p[0]), hi[1].max(p[1])]]
    })
}

/// Rounded to [`GRAIN`], without minus zero.
fn rounded(x: f64) -> f64 {
    to_grain(x, GRAIN)
}

fn to_grain(x: f64, grain: f64) -> f64 {
    // Divided, not multiplied, so that the number is the one nearest to its decimals and is written with few.
    (x / grain).round() / (1.0 / grain).round() + 0.0
}

fn outlines(drawing: &Drawing) -> Vec<Vec<[f64; 2]>> {
    drawing.true_outlines().map(|path| path.points.iter().map(|p| p.map(rounded)).collect()).collect()
}

fn part_record(part: &Part, template: &Template) -> PartRecord {
    let bends: Vec<Bend> = template
        .bends
        .iter()
        .map(|b| Bend {
            across_mm: rounded(b.across),
            angle_deg: rounded(if b.up { b.angle } else { -b.angle }),
            radius_mm: rounded(b.radius),
        })
        .collect();
    let (kind, sheet, surveyed_sheet, ribs) = match &part.kind {
        PartKind::Sheet { profile, phase, wander, .. } => {
            let seen = template.kind == template::plan::ROW.name;
            let across = |t: f64| if seen { t } else { profile.developed_at(t, 0.0) };
            // The drawing's x runs against t and is 0 at the part's greatest t.
            let greatest = part.outlines.iter().flatten().map(|p| across(p[1] - phase));
            let ribs = (bends.is_empty() && !profile.is_flat()).then(|| Ribs {
                crest_mm: rounded(greatest.fold(f64::NEG_INFINITY, f64::max)),
                pitch_mm: rounded(across(profile.pitch()) - across(0.0)),
            });
            ("sheet", profile_words(profile), wander.as_ref().map(|w| w.sheet().to_owned()), ribs)
        }
        PartKind::Closure { thickness } => {
            ("closure", format!("flat, {} mm", rounded(*thickness)), None, None)
        }
    };
    let [lo, hi] = bounds(&part.outlines);
    let at = part.position([(lo[0] + hi[0]) / 2.0, (lo[1] + hi[1]) / 2.0], 0.0);
    let direction = |d: nalgebra::Vector3<f64>| [d.x, d.y, d.z].map(|x| to_grain(x, DIRECTION_GRAIN));
    PartRecord {
        id: part.id.clone(),
        face: part.face.clone(),
        kind: kind.to_owned(),
        sheet,
        surveyed_sheet,
        ribs,
        bends,
        place: Some(PlaceRecord {
            at_mm: [at.x, at.y, at.z].map(rounded),
            along: direction(part.frame.u),
            outward: direction(part.frame.n),
        }),
        outlines_mm: outlines(&template.drawing),
    }
}
