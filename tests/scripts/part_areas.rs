//! What the examples' parts must hold, whatever their shape.

use ribwright_kernel::drawing::signed_area;
use ribwright_kernel::part::PartKind;
use ribwright_kernel::{Registry, work_out};
use ribwright_scripts::run_file;
use ribwright_tests::AGREEMENT;
use std::path::Path;

/// Two outlines that both count as material once made a cut file differ from its figures.
#[test]
fn closure_strips_have_the_area_of_their_outlines_less_their_holes() {
    let registry = Registry::standard();
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scripts/examples/five.rhai");
    let sculpture = run_file(&path, &registry).unwrap_or_else(|e| panic!("{}", e.render(false)));
    let work = work_out(&sculpture, &registry).unwrap_or_else(|e| panic!("{e}"));
    let mut outlines = 0;
    for part in work.parts.iter().filter(|p| matches!(p.kind, PartKind::Closure { .. })) {
        let areas: Vec<f64> = part.outlines.iter().map(|o| signed_area(o)).collect();
        outlines += areas.len();
        let area: f64 = areas.iter().sum();
        assert!((area - part.area).abs() <= AGREEMENT * area, "{}: {area} and {}", part.id, part.area);
    }
    assert!(outlines > 50, "only {outlines} outlines of closure strips");
}
