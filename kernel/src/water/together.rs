//! All proposed changes made together: what a maker who follows every advice ends up with.
//!
//! Tilts and turns of ribs come first, one after the other, each made into a work of its own; one that does not leave less
//! water than there was before it is left out. On what is then there, every place gets a hole that drains it or else is
//! closed up. The water is worked out again with all of them; where holes hinder each other, the place is closed up too.

use super::fill::filled;
use super::options::values;
use super::remedy::{Change, Finder, SAME_PLACE, Standing, changed, hole, least};
use super::standing::{Hole, Hollow, Least, Outdoors};
use crate::chambers::outside;
use crate::error::Result;
use crate::liquid::{Pools, Posed};
use crate::sculpture::Sculpture;
use crate::work::Work;
use nalgebra::Vector3;

/// All changes, and what they leave.
#[derive(Debug, Clone)]
pub struct Together {
    /// Tilts and turns of ribs, in the order in which they are made.
    pub shape: Vec<Change>,
    /// The work with them; none where there are none.
    pub work: Option<Work>,
    /// The space round it.
    pub outdoors: Outdoors,
    /// Where water then stands, and the hole or the filling for it.
    pub rest: Vec<(Hollow, Change)>,
    /// What stands with all of them.
    pub left: Vec<Hollow>,
}

/// What stands on a work with holes and fillings, largest first.
///
/// # Errors
/// Fillings of another work.
pub fn with_all(
    work: &Work,
    outdoors: &Outdoors,
    changes: &[(Hollow, Change)],
    least: Least,
) -> Result<Vec<Hollow>> {
    let up = Vector3::z_axis();
    let (mut holes, mut fills): (Vec<Hole>, Vec<&Hollow>) = (Vec::new(), Vec::new());
    for (_, change) in changes {
        match change {
            Change::Hole { spot, wall, .. } => holes.push(hole(work, spot, wall)),
            Change::Fill { hollow } => fills.push(hollow),
            Change::Tilt { .. } | Change::Ribs { .. } => {}
        }
    }
    if fills.is_empty() {
        return Ok(outdoors.drained(up, least, &holes));
    }
    Ok(filled(outdoors, up, &fills)?.outdoors.drained(up, least, &holes))
}

/// All that was proposed for a work, made together; `work_out` makes the work of a changed sculpture.
///
/// # Errors
/// Settings that the rows do not allow.
pub fn together(
    work: &Work,
    work_out: &dyn Fn(&Sculpture) -> Result<Work>,
    standing: &Standing,
) -> Result<Together> {
    let set = values(&work.sculpture)?;
    let least = least(&set);
    let sum = |all: &[Hollow]| all.iter().map(|h| h.volume).sum::<f64>();
    let mut shape: Vec<Change> = Vec::new();
    let mut now: Option<(Work, Outdoors)> = None;
    let mut volume = standing.volume;
    let proposed = standing.places.iter().filter_map(|p| Some(&p.remedies[p.smallest?].change));
    let mut tried: Vec<&Change> = Vec::new();
    for change in proposed {
        if tried.contains(&change) {
            continue;
        }
        tried.push(change);
        let base = now.as_ref().map_or(work, |n| &n.0);
        let Some(next) = changed(&base.sculpture, base, change) else { continue };
        // What cannot be made or does not close is left out.
        let Ok(next) = work_out(&next) else { continue };
        let Ok(outdoors) = outside(&next).and_then(|(mesh, _)| Outdoors::new(&mesh)) else { continue };
        let stands = sum(&outdoors.hollows(Vector3::z_axis(), least));
        if stands < volume {
            volume = stands;
            shape.push(change.clone());
            now = Some((next, outdoors));
        }
    }
    let (done, outdoors) = match now {
        Some((work, outdoors)) => (Some(work), outdoors),
        None => (None, standing.outdoors.clone()),
    };
    let made = done.as_ref().unwrap_or(work);
    let mut rest = rest(&Finder { work: made, set: &set, least, outdoors: &outdoors });
    let mut left = with_all(made, &outdoors, &rest, least)?;
    while !left.is_empty() {
        // Where water is left although there is a hole, the hole is not enough.
        let near = |a: &Hollow| left.iter().any(|b| lies_in(b, a, &outdoors));
        let mut closed = 0;
        for (hollow, change) in &mut rest {
            if matches!(change, Change::Hole { .. }) && near(hollow) {
                *change = Change::Fill { hollow: Box::new(hollow.clone()) };
                closed += 1;
            }
        }
        if closed == 0 {
            break;
        }
        left = with_all(made, &outdoors, &rest, least)?;
    }
    Ok(Together { shape, work: done, outdoors, rest, left })
}

/// Whether the lowest place of one hollow lies in the box of what another wets.
fn lies_in(one: &Hollow, other: &Hollow, outdoors: &Outdoors) -> bool {
    let corners = other.wet.iter().flat_map(|&t| outdoors.chamber().corners(t));
    let all = corners.map(|p| [p, p]);
    let found = all.reduce(|[low, high], [p, q]| [low.inf(&p), high.sup(&q)]);
    found.is_some_and(|[low, high]| {
        (0..3).all(|i| (low[i] - SAME_PLACE..=high[i] + SAME_PLACE).contains(&one.lowest[i]))
    })
}

/// For every place a hole that drains it, or its filling.
fn rest(finder: &Finder<'_>) -> Vec<(Hollow, Change)> {
    let up = Vector3::z_axis();
    let hollows = finder.outdoors.hollows(up, finder.least);
    let before: f64 = hollows.iter().map(|h| h.volume).sum();
    let pools = Pools::new(Posed::new(finder.outdoors.chamber(), up));
    let change = |hollow: Hollow| {
        let hole = finder.best_hole(&pools, &hollow).map(|h| h.0).filter(|r| r.drains(before));
        let change = match hole {
            Some(remedy) => remedy.change,
            None => Change::Fill { hollow: Box::new(hollow.clone()) },
        };
        (hollow, change)
    };
    hollows.into_iter().map(change).collect()
}
