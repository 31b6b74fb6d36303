//! ribwright with the rows of this crate.

fn main() -> std::process::ExitCode {
    ribwright_cli::main_with(&ribwright_outside_plugin::registry())
}
