//! The command line of ribwright, as a library: a crate that adds rows to the registry builds its own
//! binary in one line, `ribwright_cli::main_with(&registry)`.
//!
//! Reading order: the arguments, what is shown, the verbs (one file each), and the folder that is written
//! whole or not at all.

mod args;
mod commands;
mod console;
mod folder;
mod progress;

pub use console::{DONE, FAILED, USAGE};

use args::Arguments;
use clap::{CommandFactory, FromArgMatches};
use console::Console;
use ribwright_kernel::Registry;
use std::ffi::OsString;
use std::io::{IsTerminal, Write};
use std::process::ExitCode;

/// Runs one command with plain text output and returns the exit code: [`DONE`], [`FAILED`] or [`USAGE`].
///
/// `args` begins with the name of the program, as `std::env::args_os` does.
pub fn run<I, A>(args: I, registry: &Registry, stdout: &mut dyn Write, stderr: &mut dyn Write) -> u8
where
    I: IntoIterator<Item = A>,
    A: Into<OsString> + Clone,
{
    run_on(args, registry, &mut Console::new(stdout, stderr, false))
}

/// The whole of a `main` function: the process's own arguments and streams, with colour and progress
/// where the error stream is a terminal.
pub fn main_with(registry: &Registry) -> ExitCode {
    let terminal = std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
    let mut stdout = std::io::stdout().lock();
    let mut stderr = std::io::stderr();
    ExitCode::from(run_on(
        std::env::args_os(),
        registry,
        &mut Console::new(&mut stdout, &mut stderr, terminal),
    ))
}

fn run_on<I, A>(args: I, registry: &Registry, console: &mut Console<'_>) -> u8
where
    I: IntoIterator<Item = A>,
    A: Into<OsString> + Clone,
{
    let parsed = command(registry).try_get_matches_from(args).and_then(|m| Arguments::from_arg_matches(&m));
    match parsed {
        Ok(arguments) => commands::run(&arguments.verb, registry, console),
        // Help and version come this way too; clap knows which stream and code each wants.
        Err(e) if e.use_stderr() => {
            console.error(e.render().to_string().trim_end());
            USAGE
        }
        Err(e) => {
            console.say(e.render().to_string().trim_end());
            DONE
        }
    }
}

/// The clap command, with the lists that come from the registry.
fn command(registry: &Registry) -> clap::Command {
    let stages =
        registry.stages.iter().map(|row| format!("  {:<12}{}", row.name, row.summary)).collect::<Vec<_>>();
    let after = format!("Stages, in the order they run:\n{}", stages.join("\n"));
    Arguments::command().mut_subcommand("make", |make| make.after_help(after))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn arguments_are_consistent() {
        command(&Registry::standard()).debug_assert();
    }

    #[test]
    fn help_lists_every_verb_and_stage() {
        let registry = Registry::standard();
        let mut out = Vec::new();
        let code = run(["ribwright", "make", "--help"], &registry, &mut out, &mut Vec::new());
        let text = String::from_utf8(out).unwrap_or_default();
        assert_eq!(code, DONE);
        for row in &registry.stages {
            assert!(text.contains(row.name), "help of make does not name the stage {}", row.name);
        }
    }

    #[test]
    fn unknown_verb_is_wrong_usage() {
        let mut err = Vec::new();
        let code = run(["ribwright", "mkae", "x.rhai"], &Registry::standard(), &mut Vec::new(), &mut err);
        assert_eq!(code, USAGE);
        assert!(String::from_utf8_lossy(&err).contains("make"), "the nearest verb is named");
    }
}
