//! The nominal work, and what a sheet would cost on it: fast enough to try every sheet on every face.

use super::edges::edges;
use crate::error::Result;
use crate::loft::Loft;
use crate::memo::Memo;
use crate::part::Frame;
use crate::profile::Profile;
use crate::registry::Registry;
use crate::sculpture::{Joint, Sculpture};
use crate::seam::Side;
use crate::solve::solve;
use crate::survey::{Laid, Wander};
use crate::work::Work;
use nalgebra::Vector3;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Distance of the places at which a nominal work is looked at, mm.
const STEP: f64 = 20.0;

/// The same work on true sheets: faces clad in the nominal profiles of their surveyed sheets, crests where they
/// came to lie, seams joined the same way.
///
/// # Errors
/// What cannot be worked out.
pub fn nominal(work: &Work, registry: &Registry) -> Result<Work> {
    let mut sculpture: Sculpture = work.sculpture.clone();
    let claddings = sculpture.elements.iter_mut().flat_map(|e| &mut e.cladding);
    for (cladding, face) in claddings.zip(&work.faces) {
        if let Some(laid) = cladding.sheet.take() {
            cladding.profile = Some(laid.sheet.nominal.clone());
            cladding.phase = face.phase;
        }
    }
    sculpture.searches.clear();
    sculpture.notes.clear();
    for seam in &work.seams {
        let Some((a, b)) = seam.id.split_once('~') else { continue };
        // What chose by the sheets' own shape is held to its choice.
        if seam.joint.tight().is_some() {
            let asked = sculpture.joint_between(a, b).clone();
            let kind = seam.joint.word().to_owned();
            sculpture.join_pair(a, b, Joint { kind, settings: BTreeMap::new(), ..asked });
        }
    }
    solve(&sculpture, registry, &Memo::default())
}

/// A nominal work as far as its seams tell what sheets would do to it.
#[derive(Debug, Clone)]
pub struct Nominal {
    faces: Vec<NominalFace>,
    places: Vec<NominalPlace>,
}

#[derive(Debug, Clone)]
struct NominalFace {
    frame: Frame,
    phase: f64,
    profile: Arc<Profile>,
    /// Places on its edges: along the ribs, across them from the crest at the phase, and length.
    places: Vec<[f64; 3]>,
}

/// A place of a seam: its length, and for each side that is a sheet the face, its place there and its normal
/// square to the seam.
#[derive(Debug, Clone)]
struct NominalPlace {
    length: f64,
    sides: [Option<(usize, usize, Vector3<f64>)>; 2],
}

impl Nominal {
    /// Places every 20 mm along the seams of a nominal work; laps, splices and open faces have none.
    pub fn of(work: &Work) -> Self {
        let mut faces: Vec<NominalFace> = work
            .faces
            .iter()
            .map(|f| NominalFace {
                frame: f.frame,
                phase: f.phase,
                profile: f.profile.clone(),
                places: Vec::new(),
            })
            .collect();
        let mut places = Vec::new();
        for edge in work.seams.iter().flat_map(|s| edges(s, STEP)) {
            for place in edge.places {
                let sides = edge.sides.map(|side| {
                    let Side::Face(f) = side else { return None };
                    let face = &mut faces[f];
                    let [s, t] = face.frame.plan(&place.point);
                    face.places.push([s, t - face.phase, place.length]);
                    let n = face.frame.n;
                    Some((f, face.places.len() - 1, n - place.tangent * n.dot(&place.tangent)))
                });
                places.push(NominalPlace { length: place.length, sides });
            }
        }
        Self { faces, places }
    }

    /// How far a sheet, laid by its crest line, lies outside the nominal one at each place of a face's edges, mm.
    fn off(&self, face: usize, laid: &Laid) -> Option<Vec<f64>> {
        let face = self.faces.get(face)?;
        let (wander, _) = Wander::of(laid).ok()?;
        let loft = Loft::new(&Arc::new(wander), 0.0);
        Some(face.places.iter().map(|&[s, t, _]| loft.height(s, t) - face.profile.height(t)).collect())
    }

    /// ∫ δh² ds along a face's edges, mm³: how ill a sheet suits it. Infinite for a sheet that cannot be laid so,
    /// or a face there is none of.
    pub fn cost(&self, face: usize, laid: &Laid) -> f64 {
        self.off(face, laid).map_or(f64::INFINITY, |off| {
            off.iter().zip(&self.faces[face].places).map(|(h, [_, _, length])| h * h * length).sum()
        })
    }

    /// ∫ |Δ0 square to the seam| ds over all seams, mm²: the void that parts cut from nominal templates leave with
    /// these sheets on the faces, in the order of the work. Infinite where a sheet cannot be laid.
    pub fn total(&self, sheets: &[Option<Laid>]) -> f64 {
        let off: Vec<Option<Vec<f64>>> = (0..self.faces.len())
            .into_par_iter()
            .map(|f| match sheets.get(f) {
                Some(Some(laid)) => self.off(f, laid),
                _ => Some(Vec::new()),
            })
            .collect();
        if off.iter().any(Option::is_none) {
            return f64::INFINITY;
        }
        let side = |side: &Option<(usize, usize, Vector3<f64>)>| {
            let (f, i, n) = (*side)?;
            off[f].as_ref()?.get(i).map(|h| n * *h)
        };
        self.places
            .iter()
            .map(|p| {
                let [a, b] = [0, 1].map(|k| side(&p.sides[k]).unwrap_or_else(Vector3::zeros));
                (a - b).norm() * p.length
            })
            .sum()
    }
}

/// [`Nominal::cost`] of one sheet; take [`Nominal`] to try many.
pub fn cost(nominal: &Work, face: usize, laid: &Laid) -> f64 {
    Nominal::of(nominal).cost(face, laid)
}

/// [`Nominal::total`] of one set of sheets; take [`Nominal`] to try many.
pub fn total(nominal: &Work, sheets: &[Option<Laid>]) -> f64 {
    Nominal::of(nominal).total(sheets)
}
