//! The arguments of every verb.

use clap::{Parser, Subcommand};
use std::path::PathBuf;

/// Exact seams, templates and cut files for sculpture clad in corrugated steel.
#[derive(Debug, Parser)]
#[command(name = "ribwright", version, about, max_term_width = 100, after_help = EXIT_CODES)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    pub(crate) verb: Verb,
}

const EXIT_CODES: &str =
    "Exit codes: 0 done (warnings allowed), 1 error findings or a script error, 2 wrong usage.";

#[derive(Debug, Subcommand)]
pub(crate) enum Verb {
    /// Make a folder with a commented first script
    New(New),
    /// Work out a script and write all its files
    Make(Make),
    /// Say which parts, seams and sheets changed from one made folder to another
    Changes(Changes),
    /// Make a script's files again at every save, findings first, and refresh the open book; Ctrl-C ends it
    Watch(Watch),
    /// Work out a script and show its findings; writes nothing
    Check(Check),
    /// List the words a script can use, or explain one
    Words(Words),
    /// List recipes, show the page of one with its picture, or try all of a folder over their ranges
    Recipes(Recipes),
    /// Fit surveyed sheets: bands, misreadings and a drawing of each; or make a blank form to fill in
    Survey(Survey),
    /// Solve a measured maquette: points with their precision, misreadings, a picture, and a script of its elements
    Measure(Measure),
    /// Print the work as a small model: a kit to cut out and fold from card, and files for printing in plastic
    Model(Model),
    /// Try out what a script leaves open: pictures of the variants inside the maker's rules; pick one
    Vary(Vary),
    /// Say what a DXF or SVG file holds: layers, outlines, extents, closedness
    Inspect(Inspect),
}

#[derive(Debug, clap::Args)]
pub(crate) struct New {
    /// The folder to make; its last part names the work
    pub(crate) name: PathBuf,
}

#[derive(Debug, clap::Args)]
pub(crate) struct Make {
    /// The script of the work
    pub(crate) script: PathBuf,
    /// A folder of recipes to import from, after the script's own and before the shipped ones; may be given several times
    #[arg(long, value_name = "DIR")]
    pub(crate) recipes: Vec<PathBuf>,
    /// The folder for the files [default: `out` beside the script]
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Only these stages; the files of the others stay as they are
    #[arg(long, value_name = "STAGE", num_args = 1.., value_delimiter = ',')]
    pub(crate) only: Vec<String>,
    /// Allow a part that `cut.csv` in the output folder lists to be cut again, or all of them
    #[arg(long, value_name = "PART|all", value_delimiter = ',')]
    pub(crate) allow_recut: Vec<String>,
    /// Threads to work with [default: one per core]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub(crate) threads: Option<u16>,
    /// Print what was found and written as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, clap::Args)]
pub(crate) struct Changes {
    /// A folder that was made
    pub(crate) old: PathBuf,
    /// A folder that was made later
    pub(crate) new: PathBuf,
    /// A folder for pictures of the changed parts, the old outline dashed, the new one solid
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Print the changes as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, clap::Args)]
pub(crate) struct Watch {
    /// The script of the work
    pub(crate) script: PathBuf,
    /// A folder of recipes to import from, after the script's own and before the shipped ones; may be given several times
    #[arg(long, value_name = "DIR")]
    pub(crate) recipes: Vec<PathBuf>,
    /// The folder for the files [default: `out` beside the script]
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Allow a part that `cut.csv` in the output folder lists to be cut again, or all of them
    #[arg(long, value_name = "PART|all", value_delimiter = ',')]
    pub(crate) allow_recut: Vec<String>,
    /// Threads to work with [default: one per core]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub(crate) threads: Option<u16>,
}

#[derive(Debug, clap::Args)]
pub(crate) struct Model {
    /// The script of the work
    pub(crate) script: PathBuf,
    /// A folder of recipes to import from, after the script's own and before the shipped ones; may be given several times
    #[arg(long, value_name = "DIR")]
    pub(crate) recipes: Vec<PathBuf>,
    /// Print at 1 to N [default: a round number at which the tallest element fits a page]
    #[arg(long, value_name = "N", conflicts_with = "height", value_parser = scale)]
    pub(crate) scale: Option<f64>,
    /// Height of the finished model
    #[arg(long, value_name = "MM")]
    pub(crate) height: Option<f64>,
    /// The paper: a4, a3 or letter [default: a4]
    #[arg(long, value_name = "PAPER", value_parser = ["a4", "a3", "letter"])]
    pub(crate) paper: Option<String>,
    /// One net per face, or whole elements unfolded [default: elements; with --ribs faces]
    #[arg(long, value_name = "KIND", value_parser = ["faces", "elements"])]
    pub(crate) nets: Option<String>,
    /// Develop each face along its corrugation, with its folds
    #[arg(long)]
    pub(crate) ribs: bool,
    /// Width of the glue tabs [default: 6]
    #[arg(long, value_name = "MM")]
    pub(crate) tab: Option<f64>,
    /// What neighbouring pages share where a net is larger than a page [default: 10]
    #[arg(long, value_name = "MM")]
    pub(crate) overlap: Option<f64>,
    /// Least width your printer for plastic can make [default: 0.4]
    #[arg(long, value_name = "MM")]
    pub(crate) feature: Option<f64>,
    /// The folder for the files [default: `kit` beside the script]
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Threads to work with [default: one per core]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub(crate) threads: Option<u16>,
    /// Print what was found and written as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, clap::Args)]
pub(crate) struct Vary {
    /// The script of the work, with choices: choose("lean", 5, 20)
    pub(crate) script: PathBuf,
    /// A folder of recipes to import from, after the script's own and before the shipped ones; may be given several times
    #[arg(long, value_name = "DIR")]
    pub(crate) recipes: Vec<PathBuf>,
    /// How many variants to try, spread evenly [default: all combinations where they are few, else 24]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1000), conflicts_with = "grid")]
    pub(crate) count: Option<u16>,
    /// Where the spread begins: another number tries other values
    #[arg(long, value_name = "S", default_value_t = 1)]
    pub(crate) seed: u64,
    /// Try all combinations
    #[arg(long)]
    pub(crate) grid: bool,
    /// In a grid: values of a range without steps, and of a seed [default: 3]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=100), requires = "grid")]
    pub(crate) levels: Option<u16>,
    /// Leave a choice as it is now
    #[arg(long, value_name = "NAME")]
    pub(crate) hold: Vec<String>,
    /// A rule for this run, over the script's own: least_margin=80
    #[arg(long, value_name = "NAME=NUMBER")]
    pub(crate) rule: Vec<String>,
    /// Most variants to draw: those farthest apart by outline and choices
    #[arg(long, value_name = "N", default_value_t = 12, value_parser = clap::value_parser!(u16).range(1..=1000))]
    pub(crate) show: u16,
    /// The folder for the files [default: `vary` beside the script]
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Pin the values of this variant of the last run: make, check and watch use them from then on
    #[arg(long, value_name = "N", conflicts_with_all = ["count", "grid", "hold", "rule", "unpick"])]
    pub(crate) pick: Option<usize>,
    /// Free what was picked, or one choice of it
    #[arg(long, value_name = "NAME", num_args = 0..=1, require_equals = true,
        conflicts_with_all = ["count", "grid", "hold", "rule"])]
    pub(crate) unpick: Option<Option<String>>,
    /// Threads to work with [default: one per core]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub(crate) threads: Option<u16>,
    /// Print what was tried and written as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, clap::Args)]
pub(crate) struct Check {
    /// The script of the work
    pub(crate) script: PathBuf,
    /// A folder of recipes to import from, after the script's own and before the shipped ones; may be given several times
    #[arg(long, value_name = "DIR")]
    pub(crate) recipes: Vec<PathBuf>,
    /// Threads to work with [default: one per core]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub(crate) threads: Option<u16>,
    /// Print the findings as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, clap::Args)]
pub(crate) struct Words {
    /// The word to explain
    pub(crate) name: Option<String>,
    /// Print the definitions that editors read to complete and check scripts
    #[arg(long, conflicts_with_all = ["name", "json"])]
    pub(crate) definitions: bool,
    /// Print the words as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, clap::Args)]
pub(crate) struct Recipes {
    /// The recipe to explain, with a picture made by running it
    pub(crate) name: Option<String>,
    /// A folder of recipes, before the shipped ones; may be given several times
    #[arg(long, value_name = "DIR")]
    pub(crate) recipes: Vec<PathBuf>,
    /// Write the picture as SVG
    #[arg(long, value_name = "FILE", requires = "name")]
    pub(crate) out: Option<PathBuf>,
    /// Print the text of the recipe, to copy and change
    #[arg(long, requires = "name", conflicts_with_all = ["out", "json"])]
    pub(crate) source: bool,
    /// Run every recipe of this folder over its stated ranges: ends, middle, and by lot
    #[arg(long, value_name = "FOLDER", conflicts_with_all = ["name", "recipes"])]
    pub(crate) check: Option<PathBuf>,
    /// How many runs by lot each recipe is given [default: 8]
    #[arg(long, value_name = "N", requires = "check", value_parser = clap::value_parser!(u32).range(0..=10_000))]
    pub(crate) runs: Option<u32>,
    /// Where the lot begins [default: 1]
    #[arg(long, value_name = "N", requires = "check")]
    pub(crate) seed: Option<u64>,
    /// Threads to work with [default: one per core]
    #[arg(long, value_name = "N", requires = "check", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub(crate) threads: Option<u16>,
    /// Print as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, clap::Args)]
pub(crate) struct Inspect {
    /// The file to read
    pub(crate) file: PathBuf,
    /// Print the report as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, clap::Args)]
pub(crate) struct Survey {
    /// The yard file: CSV with one row per reading
    #[arg(required_unless_present = "form")]
    pub(crate) file: Option<PathBuf>,
    /// The folder for the files [default: `survey` beside the yard file; `survey-form` for a form alone]
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Write a blank survey form to print (PDF, A4)
    #[arg(long)]
    pub(crate) form: bool,
    /// Take folds as straight over the whole sheet, not only between stations
    #[arg(long)]
    pub(crate) straight: bool,
    /// The profile sheets were made to, if the file does not say: "trapezoid pitch=200 depth=40 …"
    #[arg(long, value_name = "WORDS")]
    pub(crate) profile: Option<String>,
    /// Standard deviation of a reading across, mm [default: 0.5]
    #[arg(long, value_name = "MM")]
    pub(crate) tape: Option<f64>,
    /// Standard deviation of a reading of depth, mm [default: 0.3]
    #[arg(long, value_name = "MM")]
    pub(crate) gauge: Option<f64>,
    /// How often a good reading may be flagged [default: 0.001]
    #[arg(long, value_name = "SHARE")]
    pub(crate) alpha: Option<f64>,
    /// Print the fitted sheets as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, clap::Args)]
pub(crate) struct Measure {
    /// The readings: CSV with one row per reading (distance, P1, P2, 100.5), tracings of faces (SVG, DXF), or both
    #[arg(value_name = "READINGS", required = true)]
    pub(crate) files: Vec<PathBuf>,
    /// The folder for the files [default: `measure` beside the first of the readings]
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// How many times larger than the maquette the work is
    #[arg(long, value_name = "TIMES", default_value_t = 10.0)]
    pub(crate) scale: f64,
    /// How far the design lies inside of what was measured, mm on the maquette: the thickness of the card, or half
    #[arg(long, value_name = "MM")]
    pub(crate) inward: Option<f64>,
    /// How far an element of the work reaches into the one it stands on, mm
    #[arg(long, value_name = "MM", default_value_t = ribwright_kernel::maquette::LAP)]
    pub(crate) lap: f64,
    /// Standard deviation of a corner from the plane of its face, mm [default: the file's own, else 0.2]
    #[arg(long, value_name = "MM")]
    pub(crate) flat: Option<f64>,
    /// Standard deviation of a traced corner, beside what the wobble of its strokes shows, mm [default: 0.2]
    #[arg(long, value_name = "MM")]
    pub(crate) traced: Option<f64>,
    /// How far a traced stroke may leave its straight edge, mm [default: 1]
    #[arg(long, value_name = "MM")]
    pub(crate) wobble: Option<f64>,
    /// How often a good reading may be flagged [default: 0.001]
    #[arg(long, value_name = "SHARE")]
    pub(crate) alpha: Option<f64>,
    /// Print the result as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// A scale as people write it: `10` or `1:10`.
fn scale(text: &str) -> Result<f64, String> {
    let number = text.trim().strip_prefix("1:").unwrap_or(text).trim();
    number.parse().map_err(|_| "give N of 1 to N as a number, for instance 10 or 1:10".to_owned())
}
