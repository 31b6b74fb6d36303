//! How much there is to work out, told before it is begun: a work that no machine would finish, or that no yard could
//! build, is an error and not a wait.
//!
//! Two sheets are trimmed against each other strip by strip, so the effort is the sum over pairs of faces that can touch
//! of the product of their strips, counted within the box both lie in. The limits are our own: some ten times what the
//! largest work thought of here asks for.

use crate::error::{Error, Result};
use crate::sculpture::{Element, Sculpture};
use crate::units::MM_PER_M;
use nalgebra::Vector3;

/// Most elements in one sculpture.
pub const MOST_ELEMENTS: usize = 250;
/// Most faces of one element.
pub const MOST_FACES: usize = 80;
/// Most other elements whose boxes one element's box may meet.
pub const MOST_NEIGHBOURS: usize = 14;
/// Largest extent of an element, mm: templates are drawn in true size, page by page.
pub const LARGEST: f64 = 300_000.0;
/// Most strips a face may be folded into.
pub const MOST_STRIPS: f64 = 20_000.0;
/// Most pairs of strips to be trimmed against each other.
pub const MOST_PAIRS: f64 = 2.0e8;

/// A box with its sides along the axes.
#[derive(Clone, Copy)]
struct Extent {
    low: Vector3<f64>,
    high: Vector3<f64>,
}

impl Extent {
    fn of(element: &Element) -> Self {
        let corners = element.solid.faces.iter().flat_map(|face| &face.polygon);
        let none = Self { low: Vector3::repeat(f64::INFINITY), high: Vector3::repeat(f64::NEG_INFINITY) };
        corners.fold(none, |b, p| Self { low: b.low.inf(&p.coords), high: b.high.sup(&p.coords) })
    }

    /// What two boxes share; none if they are apart.
    fn shared(&self, other: &Self) -> Option<f64> {
        let size = self.high.inf(&other.high) - self.low.sup(&other.low);
        size.iter().all(|x| *x >= 0.0).then(|| size.norm())
    }
}

/// Strips that each face of an element has on a length, mm.
fn strips(element: &Element, length: f64) -> f64 {
    let of = |cladding: &crate::sculpture::Cladding| {
        cladding.profile.as_ref().map_or(1.0, |profile| {
            #[allow(clippy::cast_precision_loss, reason = "a few thousand")]
            let in_pitch = profile.strips().len() as f64;
            1.0 + length / profile.pitch() * in_pitch
        })
    };
    element.cladding.iter().map(of).sum()
}

/// Checks that a sculpture can be worked out within reason.
///
/// # Errors
/// More than one of the limits of this file allows; the error names the element.
pub fn check(sculpture: &Sculpture) -> Result<()> {
    let elements = &sculpture.elements;
    if elements.len() > MOST_ELEMENTS {
        return Err(Error::input(format!(
            "{} elements are more than the {MOST_ELEMENTS} allowed",
            elements.len()
        ))
        .at(sculpture.name.as_str())
        .remedy("build it as several works"));
    }
    let boxes: Vec<Extent> = elements.iter().map(Extent::of).collect();
    let mut pairs = 0.0;
    for (i, (element, extent)) in elements.iter().zip(&boxes).enumerate() {
        let faces = element.solid.faces.len();
        if faces > MOST_FACES {
            return Err(Error::input(format!("{faces} faces are more than the {MOST_FACES} allowed"))
                .at(element.name())
                .remedy("leave out faces, or split the form into several elements"));
        }
        let size = (extent.high - extent.low).norm();
        if size > LARGEST {
            return Err(Error::input(format!(
                "it is {:.0} m across, more than the {:.0} m allowed",
                size / MM_PER_M,
                LARGEST / MM_PER_M
            ))
            .at(element.name())
            .remedy("check its measures, which are in mm"));
        }
        #[allow(clippy::cast_precision_loss, reason = "a few dozen")]
        let each = strips(element, size) / faces.max(1) as f64;
        if each > MOST_STRIPS {
            return Err(Error::input(format!(
                "its faces would be folded into some {each:.0} strips each, more than the {MOST_STRIPS} allowed"
            ))
            .at(element.name())
            .remedy("check its size and the pitch of its profile, both in mm"));
        }
        pairs += strips(element, size).powi(2) / 2.0;
        let met = boxes.iter().enumerate().filter_map(|(j, other)| Some((j, extent.shared(other)?)));
        let mut neighbours = 0;
        for (j, length) in met.filter(|(j, _)| *j != i) {
            neighbours += 1;
            pairs += strips(element, length) * strips(&elements[j], length) / 2.0;
        }
        if neighbours > MOST_NEIGHBOURS {
            return Err(Error::input(format!(
                "it lies where {neighbours} other elements lie too, more than the {MOST_NEIGHBOURS} allowed"
            ))
            .at(element.name())
            .remedy("move elements apart, or make one of several"));
        }
    }
    if pairs > MOST_PAIRS {
        return Err(Error::input(format!(
            "there are some {pairs:.1e} pairs of strips to trim against each other, more than the {MOST_PAIRS:e} allowed"
        ))
        .at(sculpture.name.as_str())
        .remedy("check sizes and pitches, both in mm, or build it as several works"));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::element::Solid;
    use crate::profile::Profile;
    use nalgebra::Point3;
    use std::sync::Arc;

    fn cube(name: &str, size: f64, at: f64) -> Element {
        ribbed(name, size, at, 200.0)
    }

    fn ribbed(name: &str, size: f64, at: f64, pitch: f64) -> Element {
        let half = size / 2.0;
        let axes = [Vector3::x(), -Vector3::x(), Vector3::y(), -Vector3::y(), Vector3::z(), -Vector3::z()];
        let planes =
            axes.iter().enumerate().map(|(i, n)| (format!("f{i}"), Point3::from(n * half), *n)).collect();
        let mut element = Element::new(Solid::from_planes(name, planes).expect("a cube"));
        let rib = crate::Registry::standard();
        let row = rib.profiles.iter().find(|row| row.name == "trapezoid").expect("trapezoid");
        let given =
            [("pitch", pitch), ("depth", pitch / 5.0), ("crest", pitch / 3.0), ("valley", pitch / 3.0)]
                .map(|(name, x)| (name.to_owned(), crate::settings::Value::Number(x)));
        let values = crate::settings::Values::check("rib", row.settings, &given.into()).expect("settings");
        let profile: Arc<Profile> = Arc::new((row.build)(&values).expect("a profile"));
        element.clad(&profile);
        element.translate(Vector3::new(at, 0.0, 0.0));
        element
    }

    fn sculpture(elements: Vec<Element>) -> Sculpture {
        let mut made = Sculpture::new("S");
        for element in elements {
            made.add(element).expect("added");
        }
        made
    }

    #[test]
    fn only_what_nobody_would_build_is_refused() {
        let row = |count: usize, step: f64| {
            sculpture((0..count).map(|i| cube(&format!("A{i}"), 900.0, i as f64 * step)).collect())
        };
        assert_eq!(check(&row(64, 800.0)), Ok(()), "64 elements in a row");
        let refused = |s: &Sculpture, part: &str| {
            let error = check(s).expect_err("refused").to_string();
            assert!(error.contains(part), "{part:?} is missing from: {error}");
        };
        refused(&row(MOST_NEIGHBOURS + 2, 0.0), "lies where 15 other elements lie");
        refused(&row(MOST_ELEMENTS + 1, 2000.0), "251 elements");
        refused(&sculpture(vec![cube("A", 2.0e6, 0.0)]), "3464 m across, more than the 300 m allowed");
        refused(&sculpture(vec![ribbed("A", 1.5e5, 0.0, 20.0)]), "strips each");
        refused(
            &sculpture((0..9).map(|i| cube(&format!("A{i}"), 8.0e4, f64::from(i) * 900.0)).collect()),
            "pairs of strips",
        );
    }
}
