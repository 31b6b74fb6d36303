//! Geometry of sculpture clad in corrugated steel: exact seams, templates and cut files.
//!
//! Units inside: mm, kg, N, radians; a name says so where a bare number crosses a boundary in another
//! unit. Axes are right-handed, z up, the ground at z = 0. This crate does no file input or output and
//! prints nothing; writers return bytes.
//!
//! The way data flows is the order of the modules below: settings and profiles, elements, the sculpture,
//! the trim, the shell, seams, parts, templates, and the writers.

pub mod error;
pub mod finding;
pub mod settings;
mod text;
pub mod profile;
pub mod drawing;
pub mod lines;
pub mod inspect;
mod polygon;
pub mod random;
pub mod choice;
pub mod lettering;
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
pub mod costs;
pub mod element;
pub mod maquette;
pub mod tracing;
pub mod sculpture;
pub mod rules;
pub mod effort;
pub mod joint;
pub mod part;
mod region;
mod loft;
pub mod cladding;
pub mod memo;
mod trim;
mod shell;
mod assembly;
pub mod seam;
mod triangulate;
mod cutting;
pub mod clash;
mod moments;
mod fit;
pub mod splice;
pub mod marks;
pub mod mesh;
pub mod liquid;
pub mod template;
pub mod lay;
pub mod table;
pub mod mass;
pub mod work;
mod level;
pub mod plates;
pub mod base;
pub mod lift;
pub mod weld;
mod phase;
mod solve;
mod parted;
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
pub mod change;
pub mod view;
pub mod stage;
pub mod export;
pub mod kit;
pub mod vary;
pub mod registry;

pub use error::{Error, ErrorKind, Result};
pub use finding::{Finding, Level};
pub use for_sheets::{work_out, work_out_with};
pub use memo::Memo;
pub use registry::Registry;
pub use solve::{ShellFigures, trim_exactly, trim_to_mesh};
pub use work::{OutFile, Output, Work, run_stages, run_stages_with, write_files};
