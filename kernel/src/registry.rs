//! The registry: the only place where kinds are listed. A new profile kind, joint kind, template kind,
//! element maker, stage or writer is one file and one line here; a separate crate pushes its own rows.

use crate::element::{self, ElementMaker};
use crate::error::Result;
use crate::export::{self, Writer};
use crate::joint::{self, JointKind};
use crate::profile::{self, ProfileKind};
use crate::settings::{Setting, unknown_name};
use crate::stage::{self, Stage};
use crate::template::{self, TemplateKind};

/// What every row can tell about itself.
pub trait NamedRow {
    /// The word that stands for it in scripts and on the command line.
    fn name(&self) -> &'static str;
    /// One line on what it is.
    fn summary(&self) -> &'static str;
    /// Its settings; empty if it takes none.
    fn settings(&self) -> &'static [Setting] {
        &[]
    }
}

/// Lets a row tell about itself from its fields.
macro_rules! named_row {
    ($row:ident) => {
        named_row!($row, settings | row | row.settings);
    };
    ($row:ident, without settings) => {
        named_row!($row, settings | _row | &[]);
    };
    ($row:ident, settings |$this:ident| $settings:expr) => {
        impl $crate::registry::NamedRow for $row {
            fn name(&self) -> &'static str {
                self.name
            }
            fn summary(&self) -> &'static str {
                self.summary
            }
            fn settings(&self) -> &'static [$crate::settings::Setting] {
                let $this = self;
                $settings
            }
        }

        impl std::fmt::Debug for $row {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                write!(f, "{}({})", stringify!($row), self.name)
            }
        }
    };
}
pub(crate) use named_row;

/// All kinds a work can use.
#[derive(Debug, Clone)]
pub struct Registry {
    /// Cross-sections.
    pub profiles: Vec<ProfileKind>,
    /// Makers of solids.
    pub elements: Vec<ElementMaker>,
    /// Ways two faces can meet.
    pub joints: Vec<JointKind>,
    /// Ways to flatten a part.
    pub templates: Vec<TemplateKind>,
    /// What is worked out, in order.
    pub stages: Vec<Stage>,
    /// What is written.
    pub writers: Vec<Writer>,
}

impl Registry {
    /// The kinds that come with ribwright.
    pub fn standard() -> Self {
        Self {
            profiles: vec![
                profile::trapezoid::ROW,
                profile::arc_tangent::ROW,
                profile::sine::ROW,
                profile::flat::ROW,
                profile::outline::ROW,
            ],
            elements: vec![element::slab::ROW, element::prism::ROW, element::frustum::ROW],
            joints: vec![joint::auto::ROW, joint::exact::ROW, joint::mitre::ROW, joint::lap::ROW],
            templates: vec![template::wrap::ROW, template::plan::ROW, template::blank::ROW],
            // Schedules last: they list the findings of the stages before them.
            stages: vec![
                stage::templates::ROW,
                stage::bends::ROW,
                stage::views::ROW,
                stage::model::ROW,
                stage::drawings::ROW,
                stage::welds::ROW,
                stage::cutting::ROW,
                stage::dimensions::ROW,
                stage::sheets::ROW,
                stage::forecast::ROW,
                // What adds mass comes before the masses, and those before what they decide; plates let the spine pass.
                stage::spine::ROW,
                stage::base::ROW,
                stage::plates::ROW,
                stage::coat::ROW,
                stage::water::ROW,
                stage::surface::ROW,
                stage::mass::ROW,
                stage::balance::ROW,
                stage::wind::ROW,
                stage::frame::ROW,
                stage::lifting::ROW,
                // Costs count what all others found out.
                stage::costs::ROW,
                stage::schedules::ROW,
            ],
            writers: vec![
                export::dxf::ROW,
                export::svg::ROW,
                export::pdf::ROW,
                export::csv::ROW,
                export::stl::ROW,
                export::glb::ROW,
                export::job::ROW,
                export::record::ROW,
                export::estimate::ROW,
                export::book::ROW,
            ],
        }
    }
}

/// The row of that name.
///
/// # Errors
/// No such row; the nearest known name is given.
pub fn find<'a, R: NamedRow>(what: &str, rows: &'a [R], name: &str) -> Result<&'a R> {
    rows.iter()
        .find(|row| row.name() == name)
        .ok_or_else(|| unknown_name(what, name, rows.iter().map(NamedRow::name)))
}
