//! Beds and items: sheets and pieces as the search sees them, with all that does not change worked out once.

use super::Options;
use super::motion::{RibWay, Way, rib_ways};
use super::piece::{Need, Piece};
use super::slabs::{Forbidden, Slabs, joined};
use crate::error::Result;
use crate::kerf::{Corner, offset};
use crate::stock::Sheet;

/// Intervals that are forbidden are widened by this, mm, so that rounding cannot bring parts closer than they may be.
pub(crate) const GUARD: f64 = 1.0e-5;

/// How far tangents may leave the arcs about the corners of a shape moved outward, mm: it stands further off there.
const ROUNDING: f64 = 0.5;

/// A shape with the same one turned on its side, for sliding across.
#[derive(Debug, Clone)]
pub(crate) struct Solid {
    pub(crate) along: Slabs,
    /// Only on flat sheet.
    pub(crate) across: Option<Slabs>,
}

impl Solid {
    fn new(outlines: &[Vec<[f64; 2]>], flat: bool) -> Self {
        let swapped = || {
            let turned: Vec<Vec<[f64; 2]>> =
                outlines.iter().map(|o| o.iter().map(|p| [p[1], p[0]]).collect()).collect();
            Slabs::of(&turned).coarse()
        };
        Self { along: Slabs::of(outlines).coarse(), across: flat.then(swapped) }
    }
}

/// One way an item may lie.
#[derive(Debug, Clone)]
pub(crate) struct Pose {
    pub(crate) way: Way,
    /// Least and greatest (along, across) before it is moved.
    pub(crate) bounds: [[f64; 2]; 2],
    /// Across of its first crest line; none on flat sheet.
    pub(crate) line: Option<f64>,
    /// As it is.
    pub(crate) bare: Solid,
    /// With the spacing round it.
    pub(crate) wide: Solid,
}

/// A piece to lay.
#[derive(Debug, Clone)]
pub(crate) struct Item {
    /// Index of the piece.
    pub(crate) piece: usize,
    pub(crate) area: f64,
    pub(crate) poses: Vec<Pose>,
}

/// A line across on which a pose may slide along a sheet.
#[derive(Debug, Clone)]
pub(crate) struct Seat {
    /// Across, of the pose's (0, 0).
    pub(crate) y: f64,
    pub(crate) rib: Option<i64>,
    pub(crate) misfit: f64,
    /// Shifts along between the margins.
    pub(crate) range: [f64; 2],
    /// Shifts along that damage forbids.
    pub(crate) damaged: Forbidden,
}

/// A sheet to lay on.
#[derive(Debug, Clone)]
pub(crate) struct Bed {
    /// Index of the sheet.
    pub(crate) sheet: usize,
    pub(crate) area: f64,
    /// What may not be touched, with the margin round it.
    pub(crate) damage: Vec<Solid>,
    /// Length and width.
    pub(crate) size: [f64; 2],
}

/// Least and greatest x and y.
pub(crate) fn bounds<'a>(points: impl Iterator<Item = &'a [f64; 2]>) -> [[f64; 2]; 2] {
    points.fold([[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]], |[lo, hi], p| {
        [[lo[0].min(p[0]), lo[1].min(p[1])], [hi[0].max(p[0]), hi[1].max(p[1])]]
    })
}

/// Outlines moved out by a distance, never by less.
fn widened(outlines: &[Vec<[f64; 2]>], by: f64) -> Result<Vec<Vec<[f64; 2]>>> {
    if by == 0.0 {
        return Ok(outlines.to_vec());
    }
    Ok(offset(outlines, by, Corner::Round { tolerance: ROUNDING })?.outlines)
}

impl Item {
    /// # Errors
    /// An outline that cannot be moved outward.
    pub(crate) fn new(index: usize, piece: &Piece, options: &Options) -> Result<Self> {
        let wide = widened(&piece.outlines, options.spacing).map_err(|e| e.at(piece.id.as_str()))?;
        let ways: Vec<(Way, Option<f64>)> = match &piece.need {
            Need::Formed { profile, phase } => rib_ways(profile, *phase, options.turn_over)
                .into_iter()
                .map(|RibWay { way, line }| (way, Some(line)))
                .collect(),
            Need::Flat { .. } => (0..options.turns)
                .map(|k| (Way::Turned(360.0 * f64::from(k) / f64::from(options.turns)), None))
                .collect(),
        };
        let pitch = match &piece.need {
            Need::Formed { profile, .. } => profile.pitch(),
            Need::Flat { .. } => 1.0,
        };
        let pose = |(way, line): (Way, Option<f64>)| {
            let laid = |outlines: &[Vec<[f64; 2]>]| -> Vec<Vec<[f64; 2]>> {
                outlines.iter().map(|o| o.iter().map(|&p| way.apply(p)).collect()).collect()
            };
            let bare = laid(&piece.outlines);
            let bounds = bounds(bare.iter().flatten());
            Pose {
                way,
                bounds,
                // The first line that lies on the part, or would on a wider one.
                line: line.map(|l| bounds[0][1] + (l - bounds[0][1]).rem_euclid(pitch)),
                wide: Solid::new(&laid(&wide), line.is_none()),
                bare: Solid::new(&bare, line.is_none()),
            }
        };
        Ok(Self { piece: index, area: piece.area(), poses: ways.into_iter().map(pose).collect() })
    }
}

impl Bed {
    /// # Errors
    /// Damage whose outline cannot be moved outward.
    pub(crate) fn new(index: usize, sheet: &Sheet, options: &Options) -> Result<Self> {
        let flat = sheet.profile.is_flat();
        let damage = sheet
            .damage
            .iter()
            // Anything is drawn round a hole: an outline without area is none.
            .filter(|(_, outline)| outline.len() > 2)
            .map(|(what, outline)| {
                let mut outline = outline.clone();
                if crate::drawing::signed_area(&outline) < 0.0 {
                    outline.reverse();
                }
                // Moving it outward also puts right an outline that crosses itself.
                let wide =
                    offset(&[outline], options.margin.max(GUARD), Corner::Round { tolerance: ROUNDING })
                        .map_err(|e| e.at(format!("{}: {what}", sheet.name)))?;
                Ok(Solid::new(&wide.outlines, flat))
            })
            .collect::<Result<Vec<_>>>()?;
        Ok(Self { sheet: index, area: sheet.length * sheet.width, damage, size: [sheet.length, sheet.width] })
    }

    /// Shifts from margin to margin of a pose in one direction; empty (reversed) if it is too long.
    pub(crate) fn range(&self, pose: &Pose, axis: usize, options: &Options) -> [f64; 2] {
        let [lo, hi] = pose.bounds;
        [options.margin - lo[axis], self.size[axis] - options.margin - hi[axis]]
    }

    /// The line across at y, if the pose fits between the margins there.
    pub(crate) fn seat(&self, pose: &Pose, y: f64, options: &Options) -> Option<Seat> {
        let [low, high] = self.range(pose, 1, options);
        let range = self.range(pose, 0, options);
        if y < low - GUARD || y > high + GUARD || range[0] > range[1] {
            return None;
        }
        let all = self.damage.iter().flat_map(|d| pose.bare.along.forbidden(&d.along, y)).collect();
        Some(Seat { y, rib: None, misfit: 0.0, range, damaged: joined(all) })
    }

    /// All lines on which the crests of a pose lie on those of a formed sheet.
    pub(crate) fn rib_seats(&self, sheet: &Sheet, pose: &Pose, options: &Options) -> Vec<Seat> {
        let Some(line) = pose.line else { return Vec::new() };
        let pitch = sheet.profile.pitch();
        let reach = ((pose.bounds[1][1] - pose.bounds[0][1]) / pitch).ceil();
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_possible_wrap,
            reason = "a sheet has few ribs"
        )]
        let (reach, last) = (reach as i64 + 1, sheet.crests.len() as i64);
        let lines = lines_on(pose, line, pitch);
        (-reach..=last + reach)
            .filter_map(|rib| {
                let (y, misfit) = rib_place(sheet, rib, line, &lines)?;
                if options.misfit.is_some_and(|most| misfit > most) {
                    return None;
                }
                let seat = self.seat(pose, y, options)?;
                Some(Seat { rib: Some(rib), misfit, ..seat })
            })
            .collect()
    }
}

/// Crest lines of a pose that lie on it, counted from its first; the first counts even where it lies beside it.
fn lines_on(pose: &Pose, line: f64, pitch: f64) -> Vec<i64> {
    #[allow(clippy::cast_possible_truncation, reason = "a part has few ribs")]
    let last = ((pose.bounds[1][1] - line) / pitch).floor().max(0.0) as i64;
    (0..=last).collect()
}

/// Where a pose lies across if its first line is on this crest, and how far its lines then are from the crests at
/// most: the mean of what each line asks for.
pub(crate) fn rib_place(sheet: &Sheet, rib: i64, line: f64, lines: &[i64]) -> Option<(f64, f64)> {
    let pitch = sheet.profile.pitch();
    #[allow(clippy::cast_precision_loss, reason = "few")]
    let asked: Option<Vec<f64>> =
        lines.iter().map(|&k| Some(sheet.crest(rib + k)? - line - k as f64 * pitch)).collect();
    let asked = asked?;
    #[allow(clippy::cast_precision_loss, reason = "few")]
    let y = if sheet.surveyed { asked.iter().sum::<f64>() / asked.len() as f64 } else { asked[0] };
    Some((y, asked.iter().map(|a| (a - y).abs()).fold(0.0, f64::max)))
}
