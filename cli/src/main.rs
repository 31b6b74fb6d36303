//! The `ribwright` binary: the standard registry and nothing else.

fn main() -> std::process::ExitCode {
    ribwright_cli::main_with(&ribwright_kernel::Registry::standard())
}
