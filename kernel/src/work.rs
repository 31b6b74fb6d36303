//! A work, worked out: the immutable model that every stage reads.

use crate::costs::{ClientSheet, Quantity};
use crate::drawing::Drawing;
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::lay::OnSheets;
use crate::mass::MassModel;
use crate::memo::Memo;
use crate::mesh::Mesh;
use crate::part::{Frame, Part};
use crate::profile::Profile;
use crate::registry::{Registry, find};
use crate::sculpture::Sculpture;
use crate::seam::Seam;
use crate::survey::Wander;
use crate::table::Table;
use crate::template::{self, Template};
use nalgebra::Point3;
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::sync::Arc;

/// One clad face with its figures.
#[derive(Debug, Clone, PartialEq)]
pub struct FaceReport {
    /// `A/east`.
    pub id: String,
    /// Index of its element.
    pub element: usize,
    /// Area of the flat face that shows, mm².
    pub nominal_area: f64,
    /// Area of the corrugated face that shows, mm².
    pub area: f64,
    /// Areas of its connected pieces, largest first, mm².
    pub pieces: Vec<f64>,
    /// The sheet.
    pub profile: Arc<Profile>,
    /// Its frame (origin where t = 0 before the phase).
    pub frame: Frame,
    /// A crest's centre line lies at this t, mm.
    pub phase: f64,
    /// How far the middle of the profile lies outside the face's plane, mm.
    pub lift: f64,
    /// Where a surveyed sheet departs from its nominal shape.
    pub wander: Option<Arc<Wander>>,
}

/// An edge of the finished shell, for pictures.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShellEdge {
    /// Its ends, mm.
    pub ends: [Point3<f64>; 2],
    /// Names index (into `Mesh::names`) on its two sides; equal for a fold within one face.
    pub sides: [u32; 2],
    /// Unit normals of the two flat pieces that meet in it.
    pub normals: [nalgebra::Vector3<f64>; 2],
}

/// A work, worked out.
#[derive(Debug, Clone)]
pub struct Work {
    /// What was asked for, with phases as found by searches.
    pub sculpture: Sculpture,
    /// Faces in order of elements.
    pub faces: Vec<FaceReport>,
    /// Enclosed volume of each element by itself, mm³.
    pub element_volumes: Vec<f64>,
    /// Seams, by id.
    pub seams: Vec<Seam>,
    /// Parts, by id.
    pub parts: Vec<Part>,
    /// The closed shell as triangles.
    pub mesh: Mesh,
    /// Its edges.
    pub edges: Vec<ShellEdge>,
    /// Volume the shell encloses, mm³.
    pub volume: f64,
    /// Area of the middle skin, mm².
    pub area: f64,
    /// Area of the faces left open, mm²: the model closes them with a plane, and the volume counts up to it.
    pub open_area: f64,
    /// Their centroid, mm, if there are any.
    pub open_centroid: Option<Point3<f64>>,
    /// Centroid of the middle skin as a shell of even thickness, mm.
    pub centroid: Point3<f64>,
    /// Mass of all parts, kg.
    pub mass: f64,
    /// Centre of mass of all parts, mm.
    pub centre_of_mass: Point3<f64>,
    /// What there is to say, worst first.
    pub findings: Vec<Finding>,
    /// The sheets it is cut for, where these were surveyed.
    pub on_sheets: Option<OnSheets>,
    /// Parts as they were before drains and vents were cut in them, by index; empty where none are cut.
    pub before_drains: Vec<(usize, Part)>,
}

/// The templates of one part.
#[derive(Debug, Clone)]
pub struct PartTemplates {
    /// Index into `Work::parts`.
    pub part: usize,
    /// File stem made from the part's id: `A_east`.
    pub stem: String,
    /// One per template kind.
    pub templates: Vec<Template>,
}

/// Template kinds that are cut, the first there is: a blank, or a formed sheet from above.
const CUT_FROM: [&str; 2] = [template::blank::ROW.name, template::plan::ROW.name];
/// The template kind that is printed to be laid over the ribs.
const PRINTED: &str = template::wrap::ROW.name;

impl PartTemplates {
    /// Which of its templates is cut: the blank; of a surveyed sheet, which is formed already, the plan.
    pub fn to_cut(&self) -> Option<usize> {
        let kind = |name: &&str| self.templates.iter().position(|t| t.kind == *name);
        CUT_FROM.iter().find_map(kind).or((!self.templates.is_empty()).then_some(0))
    }

    /// Which of its templates is printed: the wrap; of a part without one, its first.
    pub fn to_print(&self) -> Option<&Template> {
        self.templates.iter().find(|t| t.kind == PRINTED).or(self.templates.first())
    }
}

/// A sheet that is cut, with the parts laid on it.
#[derive(Debug, Clone)]
pub struct CutSheet {
    /// Its name.
    pub name: String,
    /// File stem made from the name, unique among sheets.
    pub stem: String,
    /// Along and across, mm.
    pub size: [f64; 2],
    /// Profile in words.
    pub profile: String,
    /// Thickness, mm.
    pub thickness: f64,
    /// Crest lines from the right-hand edge, mm.
    pub crests: Vec<f64>,
    /// Damaged places, as (along, across), mm.
    pub damage: Vec<Vec<[f64; 2]>>,
    /// Share of its area that parts take.
    pub used: f64,
    /// What lies on it, in order along.
    pub parts: Vec<LaidPart>,
    /// Least and greatest (along, across) of what is worth keeping, mm.
    pub offcut: Option<[[f64; 2]; 2]>,
    /// Cuts and marks, x along, y across from the right-hand edge.
    pub drawing: Drawing,
}

/// A part, or a piece of one, on a sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct LaidPart {
    /// The piece's id.
    pub id: String,
    /// Least and greatest (along, across), mm.
    pub bounds: [[f64; 2]; 2],
    /// On formed sheet: the crest under its first crest line.
    pub rib: Option<i64>,
    /// Which way it lies, in words; empty as drawn.
    pub lies: String,
    /// Most that one of its crests lies beside the sheet's, mm.
    pub misfit: f64,
    /// By rows: what takes (s, t) of its outline to (along, across), before `at` is added.
    pub matrix: [[f64; 2]; 2],
    /// Where its (0, 0) lies, mm.
    pub at: [f64; 2],
}

/// A flat piece to cut that is no part of the cladding: a base plate, an inside plate, a strip, lugs.
#[derive(Debug, Clone)]
pub struct FlatPiece {
    /// Its name.
    pub id: String,
    /// File stem, unique among all files of `cut`.
    pub stem: String,
    /// Thickness, mm.
    pub thickness: f64,
    /// How many outlines of pieces the drawing holds.
    pub pieces: usize,
    /// Area of one side of all of them, mm².
    pub area: f64,
    /// Mass of all of them, kg.
    pub mass: f64,
    /// Cuts, marks and writing, lower left corner at 0.
    pub drawing: Drawing,
}

/// An inside plate that the spine passes: an element may be held there.
#[derive(Debug, Clone, PartialEq)]
pub struct PlateLevel {
    /// Its element.
    pub element: usize,
    /// Its name.
    pub id: String,
    /// Height of the middle of its thickness, mm.
    pub height: f64,
}

/// Anchors of the base.
#[derive(Debug, Clone, PartialEq)]
pub struct AnchorGroup {
    /// Where they stand, mm, at the top of the base plate.
    pub places: Vec<Point3<f64>>,
    /// Stressed area of one, mm².
    pub area: f64,
    /// Depth in the concrete, mm.
    pub length: f64,
}

/// A sideways action on the base that a stage has found out, for bases that were not told any; characteristic.
#[derive(Debug, Clone, PartialEq)]
pub struct SideAction {
    /// Force, N.
    pub force: f64,
    /// Height over z = 0 at which it acts, mm.
    pub height: f64,
    /// Direction it pushes toward, degrees counter-clockwise from +x.
    pub toward: f64,
    /// Twist about the upright through (0, 0), counter-clockwise positive, N·mm.
    pub twist: f64,
    /// Where it comes from, in words.
    pub words: String,
    /// Whether it follows from what the script told, not from a wind or a push that is made up.
    pub told: bool,
}

/// A template of paper, laid on or round a piece that is cut by hand: no machine cuts steel by it.
#[derive(Debug, Clone, PartialEq)]
pub struct PaperTemplate {
    /// Its name.
    pub id: String,
    /// File stem, unique among all files of `templates`.
    pub stem: String,
    /// Full size.
    pub drawing: Drawing,
}

/// What stages add to the work.
#[derive(Debug, Clone, Default)]
pub struct Output {
    /// Flattened parts.
    pub templates: Vec<PartTemplates>,
    /// Schedules.
    pub tables: Vec<Table>,
    /// Elevations, plan and pictorial view.
    pub views: Vec<Drawing>,
    /// Shop drawings: parts with their dimensions, seams seen edge-on, elements taken apart.
    pub drawings: Vec<Drawing>,
    /// The shell, for the model writers.
    pub mesh: Option<Mesh>,
    /// Sheets with parts laid on them.
    pub sheets: Vec<CutSheet>,
    /// Masses beside sheets and weld metal: stages push what they know (spine, base, coating, water) before the
    /// stage `mass` runs.
    pub mass: MassModel,
    /// What the work stands on beside its own foot, x and y in mm: the outline of its base plate.
    pub stands_on: Option<Vec<[f64; 2]>>,
    /// The spine, where the script asks for one: set by the stage `spine`, before the masses.
    pub spine: Option<crate::spine::Built>,
    /// Inside plates that the spine passes.
    pub plate_levels: Vec<PlateLevel>,
    /// Anchors of the base, if it has any.
    pub anchors: Option<AnchorGroup>,
    /// Flat pieces beside the cladding: base, inside plates, lugs.
    pub flats: Vec<FlatPiece>,
    /// Paper templates: wrapped round the ends of tubes, laid where a hole is to be.
    pub papers: Vec<PaperTemplate>,
    /// Quantities that cost something, by the stages that know them, for the estimate.
    pub quantities: Vec<Quantity>,
    /// The estimate as a client sees it.
    pub estimate: Option<ClientSheet>,
    /// Findings of stages.
    pub findings: Vec<Finding>,
    /// Files of an earlier make that may come out the same.
    pub memo: Memo,
}

/// A file to be written, with a path relative to the output folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutFile {
    /// Relative path with forward slashes: `cut/A_east.dxf`.
    pub path: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// Runs the stages named in `only` (all if empty) over the work.
///
/// # Errors
/// An unknown stage, or a stage that cannot do its part.
pub fn run_stages(work: &Work, registry: &Registry, only: &[String]) -> Result<Output> {
    run_stages_with(work, registry, only, &Memo::default())
}

/// The same, with a memo of the makes before it.
///
/// # Errors
/// As [`run_stages`].
pub fn run_stages_with(work: &Work, registry: &Registry, only: &[String], memo: &Memo) -> Result<Output> {
    for name in only {
        find("stage", &registry.stages, name)?;
    }
    let mut output = Output { memo: memo.clone(), ..Output::default() };
    for stage in &registry.stages {
        if only.is_empty() || only.iter().any(|name| name == stage.name) {
            (stage.run)(work, registry, &mut output)?;
        }
    }
    let mut taken = BTreeSet::new();
    for drawing in output.views.iter_mut().chain(&mut output.drawings) {
        drawing.name = free_name(&drawing.name, &mut taken);
    }
    Ok(output)
}

/// A name no other has, whatever its letters' case: names of elements that differ in signs only may make one of a file's.
pub(crate) fn free_name(name: &str, taken: &mut BTreeSet<String>) -> String {
    let mut free = (1..).map(|k| if k == 1 { name.to_owned() } else { format!("{name}-{k}") });
    free.find(|name| taken.insert(name.to_lowercase())).unwrap_or_else(|| name.to_owned())
}

/// Makes the files of every writer whose stages have run, in the order of the registry.
///
/// # Errors
/// A writer that cannot write what it was given, or two writers that want the same file.
pub fn write_files(work: &Work, output: &Output, registry: &Registry) -> Result<Vec<OutFile>> {
    let sets: Vec<Result<Vec<OutFile>>> =
        registry.writers.par_iter().map(|writer| (writer.write)(work, output)).collect();
    let mut files = Vec::new();
    for set in sets {
        files.extend(set?);
    }
    let mut paths: Vec<&str> = files.iter().map(|f| f.path.as_str()).collect();
    paths.sort_unstable();
    if let Some(pair) = paths.windows(2).find(|p| p[0] == p[1]) {
        return Err(Error::bug(format!("two writers made {}", pair[0])));
    }
    Ok(files)
}
