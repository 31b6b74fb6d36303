//! The script layer: a short Rhai script becomes the model of a sculpture.
//!
//! [`run_file`] and [`run_text`] run a script and give back the kernel's [`Sculpture`]; [`Script`] keeps
//! the two steps apart and also hands over what was printed. A [`ScriptError`] knows file, line, column
//! and remedy and renders itself with the source line. The vocabulary ([`words`]) and the editor
//! definitions ([`definitions`]) are made from the registry rows and from the `///` comments of the calls.
//!
//! A script reads no file but modules and tables from its own folder, the shipped [`recipes`] and those in folders it is
//! handed, reaches no network, sees no clock, and ends within the [`limits`], which are the same in every build.
//!
//! [`Sculpture`]: ribwright_kernel::sculpture::Sculpture

mod api;
mod calls;
mod convert;
mod definitions;
mod engine;
mod error;
mod head;
pub mod limits;
mod picked;
mod recipes;
mod resolver;
mod rewrite;
mod script;
mod session;
mod shelf;
mod slips;
mod trials;
mod words;

pub use api::set_rule;
pub use definitions::definitions;
pub use error::{Frame, ScriptError};
pub use head::{Head, RecipeKind, RecipeSetting, RecipeValue};
pub use picked::{Given, PickedFile, picked_bytes, picked_path, read_picked};
pub use recipes::{Recipe, recipes};
pub use script::{Outcome, Script, run_file, run_text};
pub use shelf::{Origin, Page, Shelf};
pub use trials::{Trial, Trials};
pub use words::{Word, WordSetting, word, words};
