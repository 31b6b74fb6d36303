//! Every limit a script runs under. All are set explicitly, so that debug and release builds agree.
//!
//! None of them should be met by a script for a sculpture; each exists so that a mistake (a loop without
//! an end, a list that doubles) ends with a message and not with a stuck or exhausted machine.

use std::time::Duration;

/// Longest script or module, bytes. The worked examples are under 6,000.
pub const MAX_SCRIPT_BYTES: usize = 262_144;
/// Most steps of the interpreter over the whole run, modules included.
pub const MAX_OPERATIONS: u64 = 5_000_000;
/// How deep functions may call one another.
pub const MAX_CALL_LEVELS: usize = 24;
/// How deep an expression may nest at the top level of a script.
pub const MAX_EXPRESSION_DEPTH: usize = 100;
/// How deep an expression may nest inside a function.
pub const MAX_FUNCTION_EXPRESSION_DEPTH: usize = 100;
/// Longest text, bytes; the texts inside a list or map count together.
pub const MAX_STRING_SIZE: usize = 32_768;
/// Most entries of a list; entries of lists inside it count too.
pub const MAX_ARRAY_SIZE: usize = 5_000;
/// Most entries of a map; entries of maps inside it count too.
pub const MAX_MAP_SIZE: usize = 1_000;
/// Most variables at one time.
pub const MAX_VARIABLES: usize = 120;
/// Most functions one script or module may define.
pub const MAX_FUNCTIONS: usize = 200;
/// Most modules one run may load.
pub const MAX_MODULES: usize = 16;
/// Most settings one recipe may have.
pub const MAX_RECIPE_SETTINGS: usize = 40;
/// Most lines the head of a recipe may have, and most characters of each: a page that a person reads.
pub const MAX_HEAD_LINES: usize = 200;
/// Most characters of one line of a head. The longest of the shipped ones has 125.
pub const MAX_HEAD_LINE: usize = 400;
/// Most words of a choice, and most numbers of a list, that a setting of a recipe may have.
pub const MAX_RECIPE_VALUES: usize = 100;
/// Most characters of what a script says as it stops itself with `throw`.
pub const MAX_THROWN: usize = 2_000;
/// Most files looked at in one folder of recipes.
pub const MAX_RECIPE_FILES: usize = 500;
/// Most lines kept of what a script prints.
pub const MAX_PRINTED_LINES: usize = 1_000;
/// Most bytes kept of what a script prints.
pub const MAX_PRINTED_BYTES: usize = 65_536;
/// Most elements one run may make, placed or not.
pub const MAX_ELEMENTS: usize = 1_000;
/// Most profiles one run may make.
pub const MAX_PROFILES: usize = 1_000;
/// Most sculptures one run may make.
pub const MAX_SCULPTURES: usize = 100;
/// Most searches for a phase in one sculpture: each works it out many times.
pub const MAX_SEARCHES: usize = 40;
/// Most yard files one run may read.
pub const MAX_YARDS: usize = 20;
/// Most files beside the script that are kept in mind as asked for.
pub const MAX_ASKED_FILES: usize = 1_000;
/// Most choices one run may leave open.
pub const MAX_CHOICES: usize = 40;
/// Most entries of the list of a choice.
pub const MAX_CHOICE_LIST: usize = 100;
/// Most files of traced faces a maquette may have.
pub const MAX_TRACINGS: usize = 60;
/// Largest survey or tracing file, bytes: more than the rows allowed in a yard need.
pub const MAX_SURVEY_BYTES: usize = 16 * 1024 * 1024;
/// Largest rates file, bytes: many times what one row for each item takes.
pub const MAX_RATES_BYTES: usize = 256 * 1024;
/// Most faces of one element given by planes.
pub const MAX_FACES: usize = 500;
/// Longest time a run may take by the clock. Only a script that is caught in slow calls meets it, since
/// the number of operations ends any other.
pub const MAX_TIME: Duration = Duration::from_secs(20);
/// Stack of the thread a script runs in, bytes. Reserved, not used: the deepest script allowed by the
/// limits above needs a small part of it even without optimisation.
pub const STACK_BYTES: usize = 256 * 1024 * 1024;
