//! The model stage: hands the shell to the writers of three-dimensional files.

use super::{Stage, any};
use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::output::Output;
use crate::registry::Registry;
use crate::seam::SeamRun;
use crate::work::Work;
use nalgebra::{Point3, Vector3};

/// The registry row.
pub const ROW: Stage =
    Stage { name: "model", summary: "the finished shell for STL and GLB", settings: &[], check: any, run };

/// How far the area of the triangles may be from that of the shell, relative: the accuracy promised for every
/// figure. Overlapping triangles can leave a model closed and its volume right, but never its area.
const SAME_AREA: f64 = 1.0e-6;

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    if let Some(&[a, b]) = work.unmatched.first() {
        let [p, q] = [a, b].map(|i| work.mesh.points[i as usize]);
        output.findings.push(Finding::new(
            Level::Error,
            "model-open",
            work.sculpture.name.clone(),
            format!(
                "the model is not watertight: {} edges have no partner, the first from ({:.1}, {:.1}, {:.1}) to \
                 ({:.1}, {:.1}, {:.1}) mm",
                work.unmatched.len(),
                p.x,
                p.y,
                p.z,
                q.x,
                q.y,
                q.z
            ),
            format!(
                "no file is written for it; {}; where ribs mirror each other, shift those of one of the two faces a little, \
                 for instance .face(\"…\").ribs(#{{ phase: 5 }}), with another phase for each face, or give the element \
                 some lean",
                seams_near(work, [&p, &q])
            ),
        ));
    }
    let area = work.mesh.area();
    let shell = work.area + work.open_area;
    if (area - shell).abs() > SAME_AREA * shell {
        output.findings.push(Finding::new(
            Level::Error,
            "model-area",
            work.sculpture.name.clone(),
            format!(
                "the triangles of the model have {area:.1} mm² where the shell has {shell:.1} mm²: some of them overlap"
            ),
            "no file is written for it; this is a fault of the program, please report it",
        ));
    }
    let o = work.mesh.file_origin();
    if o != Vector3::zeros() {
        output.findings.push(Finding::new(
            Level::Note,
            "model-origin",
            work.sculpture.name.clone(),
            format!(
                "the work lies far from the origin: STL coordinates count from ({}, {}, {}) mm, and the GLB moves \
                 its node there",
                o.x, o.y, o.z
            ),
            "build the work near the origin if the model files are to be used beside others",
        ));
    }
    output.mesh = Some(work.mesh.clone());
    Ok(())
}

/// How near to a seam an edge of the model belongs to it, mm.
const AT_SEAM: f64 = 0.01;

/// The seams an edge of the model lies on, in words.
fn seams_near(work: &Work, edge: [&Point3<f64>; 2]) -> String {
    let on = |p: &Point3<f64>, ends: &[Point3<f64>; 2]| {
        let along = ends[1] - ends[0];
        let share =
            if along.norm_squared() > 0.0 { (p - ends[0]).dot(&along) / along.norm_squared() } else { 0.0 };
        (p - (ends[0] + along * share.clamp(0.0, 1.0))).norm() <= AT_SEAM
    };
    let near = |p: &Point3<f64>, run: &SeamRun| run.points.windows(2).any(|w| on(p, &[w[0], w[1]]));
    let seams = work.seams.iter().filter(|s| edge.iter().all(|p| s.runs.iter().any(|run| near(p, run))));
    let names: Vec<&str> = seams.map(|s| s.id.as_str()).collect();
    if names.is_empty() {
        "no seam lies there".to_owned()
    } else {
        format!("look at the seam {}", names.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::job::samples::work;

    fn after(work: &Work) -> Output {
        let mut output = Output::default();
        run(work, &Registry::standard(), &mut output).expect("runs");
        output
    }

    #[test]
    fn a_sound_work_near_the_origin_is_passed_on_without_a_word() {
        let output = after(&work());
        assert_eq!(output.mesh.as_ref().map(|m| m.triangles.len()), Some(work().mesh.triangles.len()));
        assert!(output.findings.is_empty(), "{:?}", output.findings);
    }

    #[test]
    fn triangles_that_overlap_are_an_error_though_the_shell_stays_closed() {
        let mut folded = work();
        folded.area = folded.mesh.area() * 0.99;
        let findings = after(&folded).findings;
        assert_eq!(findings.len(), 1, "{findings:?}");
        assert_eq!((findings[0].level, findings[0].code.as_str()), (Level::Error, "model-area"));
    }

    #[test]
    fn a_hole_is_an_error_and_distance_a_note() {
        let mut broken = work();
        broken.mesh.triangles.pop();
        broken.unmatched = broken.mesh.unmatched_edges();
        broken.area = broken.mesh.area();
        broken.mesh.points.iter_mut().for_each(|p| p.x += 1.0e7);
        let findings = after(&broken).findings;
        let codes: Vec<(Level, &str)> = findings.iter().map(|f| (f.level, f.code.as_str())).collect();
        assert_eq!(codes, [(Level::Error, "model-open"), (Level::Note, "model-origin")]);
        assert!(findings[0].message.contains("3 edges"), "{}", findings[0].message);
        assert!(findings[0].remedy.contains(".ribs(#{ phase: 5 })"), "{}", findings[0].remedy);
    }
}
