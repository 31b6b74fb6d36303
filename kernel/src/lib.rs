//! Geometry of sculpture clad in corrugated steel: exact seams, templates and cut files.
//!
//! Units inside: mm, kg, N, radians; a name says so where a bare number crosses a boundary in another
//! unit. Axes are right-handed, z up, the ground at z = 0. This crate does no file input or output and
//! prints nothing; writers return bytes.
//!
//! The way data flows is the order of the modules below, in groups: a module uses only modules above it. `tests/docs`
//! holds the order, and draws it in DEVELOPERS.md.

// common: what all share: errors, settings, units, drawings, tables, triangles.
pub mod error;
pub mod finding;
pub mod settings;
mod text;
pub mod units;
pub mod random;
mod polygon;
pub mod drawing;
pub mod lettering;
pub mod table;
pub mod lines;
pub mod inspect;
pub mod mesh;
mod parted;

// workshop: what there is to build with: sheet, tubes, stock, tools, and what is measured.
pub mod profile;
pub mod kerf;
pub mod narrow;
pub mod lead_in;
pub mod tolerance;
pub mod process;
pub mod tube;
pub mod frame;
pub mod spine;
pub mod adjust;
pub mod survey;
pub mod stock;

// elements: what is asked for: solids, joints, choices, the sculpture as the script tells it.
pub mod element;
pub mod maquette;
pub mod tracing;
pub mod choice;
pub mod costs;
pub mod joint;
pub mod sculpture;
pub mod rules;
pub mod effort;

// cladding: sheets on faces, trimmed against each other to one closed shell.
pub mod part;
mod region;
mod loft;
pub mod cladding;
pub mod memo;
mod trim;
mod shell;
mod assembly;

// seams: what the shell says of its seams and of the outlines of parts.
pub mod seam;
mod triangulate;
mod cutting;
pub mod clash;
mod moments;
mod fit;
pub mod splice;
pub mod marks;

// parts: parts made flat and laid on sheets; the work, worked out.
pub mod template;
pub mod lay;
pub mod mass;
pub mod work;
mod phase;
mod solve;

// engineering: what is worked out over a work: structure, welds, coating, water, gaps.
pub mod liquid;
mod level;
pub mod plates;
pub mod base;
pub mod silhouette;
pub mod output;
pub mod lift;
pub mod weld;
pub mod chambers;
pub mod coat;
pub mod water;
pub mod surface;
pub mod balance;
pub mod wind;
pub mod sway;
pub mod forecast;
mod best_fit;
mod for_sheets;

// files: stages add tables and drawings, writers make bytes; the registry lists the kinds.
pub mod change;
pub mod view;
pub mod stage;
pub mod export;
pub mod kit;
pub mod vary;
pub mod registry;

pub use error::{Error, ErrorKind, Result};
pub use export::{OutFile, write_files};
pub use finding::{Finding, Level};
pub use for_sheets::{work_out, work_out_with};
pub use memo::Memo;
pub use output::Output;
pub use registry::Registry;
pub use solve::{ShellFigures, trim_exactly, trim_to_mesh};
pub use stage::{run_stages, run_stages_with};
pub use work::Work;
