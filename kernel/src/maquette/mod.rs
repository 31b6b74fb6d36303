//! Maquettes: hand-made models, measured with caliper and tape or traced face by face, and turned into elements.
//!
//! Readings of any source come together in one [`Readings`]; what a tracing says of a face is distances between its
//! corners too. [`solve()`] finds the points, or says which readings are missing; [`shape()`] makes elements of them, and
//! [`enlarge()`] the work.

mod convex;
mod draw;
mod elements;
mod enlarge;
mod flat;
mod hulls;
mod net;
mod options;
mod place;
mod read;
mod readings;
mod refuse;
mod report;
mod rigid;
mod script;
mod search;
mod solve;
mod stand;
mod start;

pub use draw::{draw_maquette, fitted};
pub use elements::{MadeElement, Shape, shape};
pub use enlarge::{Enlarge, Enlarged, LAP, Moved, Size, Tidy, enlarge};
pub use hulls::name_faces;
pub use options::{ANGLE, DISTANCE, FLAT, HEIGHT, Options, ROWS};
pub use read::{MOST_BYTES, MOST_LINES, ReadFile, WORDS, read_maquette};
pub use readings::{Angle, Distance, Face, Height, Readings, Ribs, Source};
pub use refuse::{Refusal, Wanted, Why};
pub use report::{faces_csv, findings, maquette_json, point_index, points_csv, readings_csv};
pub use script::script;
pub use solve::{Checked, MOST_POINTS, MOST_READINGS, Measured, Part, Solved, SolvedPoint, solve};
