//! Compares a work with the figures of a reference body.

use crate::case::Reference;
use ribwright_kernel::Work;
use std::collections::{BTreeMap, BTreeSet};

/// What every figure must agree to, relative: the bound the project was given.
pub const AGREEMENT: f64 = 1.0e-6;

/// Holds a figure to what it must be, within a share of it.
#[track_caller]
pub fn near(found: f64, expected: f64, share: f64) {
    assert!((found - expected).abs() <= share * expected.abs(), "{found} is not {expected}");
}

/// The reference rounds the areas of pieces to this many mm².
const PIECE_ROUNDING: f64 = 0.0051;

/// What does not agree.
#[derive(Debug, Default)]
pub struct Differences {
    /// One line each.
    pub lines: Vec<String>,
    /// How many figures were compared.
    pub compared: usize,
}

impl Differences {
    /// Compares two figures, relative to the reference.
    pub fn figure(&mut self, what: &str, found: f64, expected: f64) {
        self.within(what, found, expected, AGREEMENT * expected.abs());
    }

    /// Compares two figures within an absolute bound.
    pub fn within(&mut self, what: &str, found: f64, expected: f64, bound: f64) {
        self.compared += 1;
        let off = (found - expected).abs();
        if off.is_nan() || off > bound {
            let relative = off / expected.abs();
            self.lines.push(format!("{what}: {found} instead of {expected} ({relative:.1e} off)"));
        }
    }

    fn table(&mut self, what: &str, found: &BTreeMap<String, f64>, expected: &BTreeMap<String, f64>) {
        let names = |table: &BTreeMap<String, f64>| table.keys().cloned().collect::<BTreeSet<_>>();
        self.compared += 1;
        for name in names(expected).difference(&names(found)) {
            self.lines.push(format!("{what}: {name} is missing"));
        }
        for name in names(found).difference(&names(expected)) {
            self.lines.push(format!("{what}: {name} is not in the reference"));
        }
        for (name, x) in expected {
            if let Some(y) = found.get(name) {
                self.figure(&format!("{what} {name}"), *y, *x);
            }
        }
    }
}

/// All figures of a reference body against those of a work.
pub fn compare_with_reference(work: &Work, reference: &Reference) -> Differences {
    let mut all = Differences::default();
    all.figure("volume", work.volume, reference.enclosed_volume_mm3);
    all.figure("shell area", work.area, reference.shell_area_mm2);
    let expected = nalgebra::Vector3::from(reference.shell_centroid_mm);
    for axis in 0..3 {
        all.within(
            &format!("shell centroid {}", ["x", "y", "z"][axis]),
            work.centroid[axis],
            expected[axis],
            AGREEMENT * expected.norm(),
        );
    }
    let volumes: BTreeMap<String, f64> = work
        .sculpture
        .elements
        .iter()
        .zip(&work.element_volumes)
        .map(|(element, volume)| (element.solid.name.clone(), *volume))
        .collect();
    all.table("element volume", &volumes, &reference.element_volume_mm3);

    // A face wholly hidden inside another element is absent from the reference and has no area here.
    let visible = |area: f64| area > 0.0;
    let faces = || work.faces.iter().filter(|f| visible(f.area));
    all.table("face area", &faces().map(|f| (f.id.clone(), f.area)).collect(), &reference.face_area_mm2);
    for face in faces() {
        let Some(expected) = reference.face_pieces_mm2.get(&face.id) else { continue };
        if face.pieces.len() != expected.len() {
            all.lines.push(format!("{}: pieces {:?} instead of {expected:?}", face.id, face.pieces));
            continue;
        }
        for (found, expected) in face.pieces.iter().zip(expected) {
            let bound = AGREEMENT * expected + PIECE_ROUNDING;
            all.within(&format!("{} piece", face.id), *found, *expected, bound);
        }
    }
    let nominal: BTreeMap<String, f64> = work
        .faces
        .iter()
        .filter(|f| visible(f.nominal_area))
        .map(|f| (f.id.clone(), f.nominal_area))
        .collect();
    all.table("flat face area", &nominal, &reference.flat.face_area_mm2);

    let joined = |table: &BTreeMap<String, f64>| -> BTreeMap<String, f64> {
        table.iter().map(|(name, x)| (name.replace(" ~ ", "~"), *x)).collect()
    };
    let seams: BTreeMap<String, f64> = work.seams.iter().map(|s| (s.id.clone(), s.length)).collect();
    all.table("seam", &seams, &joined(&reference.seam_length_mm));
    let edges: BTreeMap<String, f64> = work
        .seams
        .iter()
        .filter(|s| s.nominal_length > 0.0)
        .map(|s| (s.id.clone(), s.nominal_length))
        .collect();
    all.table("flat edge", &edges, &joined(&reference.flat.edge_length_mm));
    all
}
