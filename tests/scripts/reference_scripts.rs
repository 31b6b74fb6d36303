//! The reference bodies, written as scripts (figures: see fixtures/README.md).

use ribwright_kernel::{Registry, work_out};
use ribwright_scripts::run_file;
use ribwright_tests::{compare_with_reference, references};

#[test]
fn bodies_written_as_scripts_have_the_figures_of_the_mesh_boolean_library() {
    let registry = Registry::standard();
    let folder = tempfile::tempdir().unwrap_or_else(|e| panic!("a folder for scripts: {e}"));
    let mut wrong = Vec::new();
    for (name, body) in references() {
        let path = folder.path().join(format!("{name}.rhai"));
        std::fs::write(&path, body.case.script("true")).unwrap_or_else(|e| panic!("{name}: {e}"));
        let sculpture = run_file(&path, &registry).unwrap_or_else(|e| panic!("{}", e.render(false)));
        let work = work_out(&sculpture, &registry).unwrap_or_else(|e| panic!("{name}: {e}"));
        let differences = compare_with_reference(&work, &body.reference);
        wrong.extend(differences.lines.iter().map(|line| format!("{name}: {line}")));
    }
    assert!(wrong.is_empty(), "{} figures differ:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn a_script_gives_the_same_model_as_the_kernel() {
    let registry = Registry::standard();
    let folder = tempfile::tempdir().unwrap_or_else(|e| panic!("a folder for scripts: {e}"));
    for (name, body) in references() {
        let path = folder.path().join(format!("{name}.rhai"));
        std::fs::write(&path, body.case.script("auto")).unwrap_or_else(|e| panic!("{name}: {e}"));
        let scripted = run_file(&path, &registry).unwrap_or_else(|e| panic!("{}", e.render(false)));
        let built = body.case.sculpture("auto").unwrap_or_else(|e| panic!("{name}: {e}"));
        assert_eq!(scripted.elements, built.elements, "{name}");
    }
}
