//! Reference bodies: eight bodies whose figures come from a general-purpose mesh-boolean library run on
//! the same solids (PyPI manifold3d; see fixtures/README.md).

use ribwright_kernel::{Registry, work_out};
use ribwright_tests::case::profile;
use ribwright_tests::{Differences, closed_volume, compare_with_reference, references};

/// A case has at least this many figures; fewer would mean that the comparison looks past them.
const LEAST_FIGURES: usize = 40;

#[test]
fn bodies_with_true_joints_have_the_figures_of_the_mesh_boolean_library() {
    let mut wrong = Vec::new();
    for (name, body) in references() {
        let sculpture = body.case.sculpture("true").unwrap_or_else(|e| panic!("{name}: {e}"));
        let work = work_out(&sculpture, &Registry::standard()).unwrap_or_else(|e| panic!("{name}: {e}"));
        let differences = compare_with_reference(&work, &body.reference);
        assert!(differences.compared >= LEAST_FIGURES, "{name}: only {} compared", differences.compared);
        wrong.extend(differences.lines.iter().map(|line| format!("{name}: {line}")));
        let volume = closed_volume(&work.mesh).unwrap_or_else(|e| panic!("{name}: {e}"));
        let mut mesh = Differences::default();
        mesh.figure("volume of the mesh", volume, body.reference.enclosed_volume_mm3);
        wrong.extend(mesh.lines);
    }
    assert!(wrong.is_empty(), "{} figures differ:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn bodies_clad_in_flat_sheet_have_the_figures_of_the_flat_solid() {
    let flat = profile("flat", &[("thickness", 1.0)]).unwrap_or_else(|e| panic!("{e}"));
    let mut wrong = Vec::new();
    for (name, body) in references() {
        for joint in ["true", "mitre", "auto"] {
            let sculpture = body.case.clad_in(&flat, joint).unwrap_or_else(|e| panic!("{name}: {e}"));
            let work = work_out(&sculpture, &Registry::standard()).unwrap_or_else(|e| panic!("{name}: {e}"));
            let mut differences = Differences::default();
            let expected = &body.reference.flat;
            differences.figure("volume", work.volume, expected.enclosed_volume_mm3);
            for (id, area) in &expected.face_area_mm2 {
                let found = work.faces.iter().find(|f| &f.id == id).map_or(f64::NAN, |f| f.area);
                differences.figure(&format!("area of {id}"), found, *area);
            }
            for (pair, length) in &expected.edge_length_mm {
                let id = pair.replace(" ~ ", "~");
                let found = work.seams.iter().find(|s| s.id == id).map_or(f64::NAN, |s| s.length);
                differences.figure(&format!("length of {id}"), found, *length);
            }
            wrong.extend(differences.lines.iter().map(|line| format!("{name}, {joint}: {line}")));
        }
    }
    assert!(wrong.is_empty(), "{} figures differ:\n{}", wrong.len(), wrong.join("\n"));
}
