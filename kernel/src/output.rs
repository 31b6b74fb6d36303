//! What stages add to a work, for later stages and the writers.

use crate::base::{self, AnchorGroup};
use crate::costs::{ClientSheet, Quantity};
use crate::drawing::Drawing;
use crate::finding::Finding;
use crate::lay::CutSheet;
use crate::mass::MassModel;
use crate::memo::Memo;
use crate::mesh::Mesh;
use crate::plates::PlateLevel;
use crate::silhouette::{DIRECTIONS, Outline, Silhouettes};
use crate::spine;
use crate::table::Table;
use crate::template::PartTemplates;
use crate::work::Work;
use std::collections::BTreeSet;
use std::sync::{Arc, OnceLock};

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
    /// What the wind sees of the shell: read it by [`Output::silhouettes`].
    pub seen: OnceLock<Arc<Vec<Outline>>>,
    /// The base, where the script asks for one: set by the stage `base`.
    pub base: Option<Arc<base::Built>>,
    /// What the work stands on beside its own foot, x and y in mm: the outline of its base plate.
    pub stands_on: Option<Vec<[f64; 2]>>,
    /// The spine, where the script asks for one: set by the stage `spine`, before the masses.
    pub spine: Option<spine::Built>,
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

impl Output {
    /// What the wind sees of the shell from all [`DIRECTIONS`]: worked out once, for whichever stage first asks.
    pub fn silhouettes(&self, work: &Work) -> Arc<Vec<Outline>> {
        let all = || Arc::new(Silhouettes::new(&work.mesh).all(DIRECTIONS));
        Arc::clone(self.seen.get_or_init(all))
    }
}

/// A name no other has, whatever its letters' case: names of elements that differ in signs only may make one of a file's.
pub(crate) fn free_name(name: &str, taken: &mut BTreeSet<String>) -> String {
    let mut free = (1..).map(|k| if k == 1 { name.to_owned() } else { format!("{name}-{k}") });
    free.find(|name| taken.insert(name.to_lowercase())).unwrap_or_else(|| name.to_owned())
}
