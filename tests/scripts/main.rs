//! Works built through scripts have the same figures as through the kernel.

mod commission;
mod match_marks;
mod part_areas;
mod reference_scripts;
mod writing;

use ribwright_kernel::{Registry, Work, work_out};
use ribwright_scripts::run_file;
use std::path::Path;

/// The worked examples by name, worked out.
fn examples() -> Vec<(String, Work)> {
    let registry = Registry::standard();
    ["first", "five", "slivers"]
        .map(|name| {
            let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("../scripts/examples/{name}.rhai"));
            let sculpture = run_file(&path, &registry).unwrap_or_else(|e| panic!("{}", e.render(false)));
            (name.to_owned(), work_out(&sculpture, &registry).unwrap_or_else(|e| panic!("{name}: {e}")))
        })
        .into()
}
