//! The `ribwright` binary: the standard registry and nothing else.

/// Many threads that make and drop large things again and again (`watch`) leave other allocators' memory in pieces.
#[global_allocator]
static MEMORY: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> std::process::ExitCode {
    ribwright_cli::main_with(&ribwright_kernel::Registry::standard())
}
