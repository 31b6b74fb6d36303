//! Symmetry: the ways a profile may be turned and still be itself.

use super::{CHORD_TOLERANCE, Profile};

/// Profiles whose heights, pitches or thicknesses differ by no more than this are one, mm: what two chains of
/// chords on the same arcs may differ by.
pub(crate) const SAME_PROFILE: f64 = 2.0 * CHORD_TOLERANCE;

impl Profile {
    /// The t of all its folds within a pitch.
    pub(crate) fn breaks(&self) -> impl Iterator<Item = f64> + '_ {
        self.strips().iter().map(|s| s.t[0])
    }

    /// The m in [0, pitch) with h(m + way·t) = sign·h(t) for all t, if there is one.
    ///
    /// Both sides are chains of chords, so it is enough to look at their corners. A corner must fall on a corner:
    /// that leaves as many m as there are folds, of which the best is taken, 0 if it will do.
    pub(crate) fn symmetry(&self, way: f64, sign: f64) -> Option<f64> {
        let pitch = self.pitch();
        let off = |m: f64| {
            // Corners of the one side are those of the other, seen from there.
            let there = self.breaks().map(|b| way * (b - m));
            self.breaks()
                .chain(there)
                .map(|t| (self.height(m + way * t) - sign * self.height(t)).abs())
                .fold(0.0, f64::max)
        };
        // The first strip starts in the middle of a crest, which is no corner.
        let first = self.breaks().nth(1).or_else(|| self.breaks().next())?;
        std::iter::once(0.0)
            .chain(self.breaks().map(|b| (b - way * first).rem_euclid(pitch)))
            .chain([pitch / 2.0])
            .map(|m| (off(m), m))
            .filter(|(off, _)| *off <= SAME_PROFILE)
            // The first of equals.
            .reduce(|best, next| if next.0 < best.0 - SAME_PROFILE / 2.0 { next } else { best })
            .map(|(_, m)| m)
    }
}
