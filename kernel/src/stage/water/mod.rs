//! The water stage: where water stands outside and what drains it, how ribs fall, drains and vents of the chambers, and what
//! rust takes; where the script asks for it.

mod inside;
mod outside;
mod picture;

use super::sketch::{table, words};
use super::{Stage, any, values};
use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::joint::Joined;
use crate::output::Output;
use crate::registry::Registry;
use crate::sculpture::Meet;
use crate::seam::{Seam, SeamSegment};
use crate::settings::Values;
use crate::table::Cell;
use crate::units::MM_PER_M;
use crate::water::{STAGE, Turn, WATER_ROWS, Wear, fall};
use crate::work::Work;
use nalgebra::Point3;

/// The registry row.
pub const ROW: Stage = Stage {
    name: STAGE,
    summary: "standing water outside and what drains it, fall along ribs, drains and vents inside, rust; where asked for",
    settings: WATER_ROWS,
    check: any,
    run,
};

/// mm³ in a millilitre.
const MILLILITRE: f64 = 1.0e3;
/// A groove opens upward when the middle of its two normals rises by more than this: steeper is a wall.
const UPWARD: f64 = 0.1;
/// Runs of groove shorter than this are not listed, mm.
const SHORT: f64 = 20.0;

fn run(work: &Work, registry: &Registry, output: &mut Output) -> Result<()> {
    if !work.sculpture.stages.contains_key(ROW.name) {
        return Ok(());
    }
    let set = values(work, &ROW)?;
    let standing = outside::standing(work, registry, &set, output)?;
    let falls = falls(work, &set, output);
    grooves(work, &set, output);
    inside::inside(work, &set, output)?;
    rust(work, &set, output);
    output.drawings.extend(picture::plan(work, standing.as_ref(), &falls));
    Ok(())
}

/// How water runs off a face that looks up.
struct Run {
    /// Index among the work's faces.
    face: usize,
    /// Slope of the way it takes, radians.
    slope: f64,
    /// Whether that is at least what was asked for.
    enough: bool,
}

fn place(p: &Point3<f64>) -> [Cell; 3] {
    [p.x, p.y, p.z].map(|x| Cell::Number(x + 0.0, 0))
}

fn falls(work: &Work, set: &Values, output: &mut Output) -> Vec<Run> {
    let least = (1.0 / set.number("fall")).atan();
    let mut rows = Vec::new();
    let mut all = Vec::new();
    for (index, face) in work.faces.iter().enumerate().filter(|(_, f)| f.area > 0.0) {
        let Some(found) = fall(&face.frame, least) else { continue };
        let ratio = 1.0 / found.along.tan();
        let flat = face.profile.depth() <= 0.0;
        // Water on flat sheet takes the steepest line.
        let (runs, remedy) = match (flat, found.remedy) {
            (true, Some(Turn::Ribs(_))) => (found.slope, None),
            (true, remedy) => (found.slope, remedy),
            (false, remedy) => (found.along, remedy),
        };
        all.push(Run { face: index, slope: runs, enough: remedy.is_none() });
        let change = match remedy {
            None => "none".to_owned(),
            Some(Turn::Ribs(by)) => format!("turn the ribs by {:.1}°", by.to_degrees()),
            Some(Turn::Face(by)) => {
                format!("tip the face by {:.2}°, ribs down its steepest line", by.to_degrees())
            }
        };
        if remedy.is_some() {
            let level = if ratio.is_finite() { format!("1 : {ratio:.0}") } else { "level".to_owned() };
            output.findings.push(Finding::new(
                Level::Warning,
                "rib-fall",
                face.id.as_str(),
                format!(
                    "water runs along the ribs of this face with a fall of {:.2}° ({level}); 1 : {} is the least set",
                    runs.to_degrees(),
                    set.number("fall")
                ),
                format!("{change}; or let the crests run to an open edge lower down"),
            ));
        }
        rows.push(vec![
            words(face.id.as_str()),
            Cell::Number(found.slope.to_degrees() + 0.0, 2),
            Cell::Number(runs.to_degrees() + 0.0, 2),
            words(change),
        ]);
    }
    let title = format!("Fall along ribs of faces that look up (least 1 : {})", set.number("fall"));
    output.tables.push(table(
        "water-falls",
        &title,
        &["face", "slope °", "fall along ribs °", "smallest change"],
        rows,
    ));
    all
}

/// Joints that open upward and run nearly level: crevices in which dirt and water stay.
fn grooves(work: &Work, set: &Values, output: &mut Output) {
    let least = (1.0 / set.number("fall")).atan().sin();
    let mut rows = Vec::new();
    for seam in &work.seams {
        let Some((kind, remedy)) = crevice(work, seam) else { continue };
        let level = |s: &&SeamSegment| {
            let run = s.ends[1] - s.ends[0];
            let upward = (s.normals[0] + s.normals[1]).try_normalize(0.0).is_some_and(|n| n.z > UPWARD);
            let opens = kind != HOLLOW || s.angle > HALF_TURN;
            opens && upward && run.z.abs() < least * run.norm()
        };
        let length: f64 = seam.segments.iter().filter(level).map(SeamSegment::length).sum();
        if length > SHORT {
            rows.push((
                kind,
                length,
                vec![
                    words(seam.id.as_str()),
                    words(seam.joint.word()),
                    words(kind),
                    Cell::Number(length / MM_PER_M, 2),
                    Cell::Number(seam.length / MM_PER_M, 2),
                    words(remedy),
                ],
            ));
        }
    }
    let total: f64 = rows.iter().map(|r| r.1).sum();
    if !rows.is_empty() {
        output.findings.push(Finding::new(
            Level::Note,
            "upward-joint",
            work.sculpture.name.as_str(),
            format!(
                "{:.1} m of {} seams open upward and run nearly level; they hold dirt and water",
                total / MM_PER_M,
                rows.len()
            ),
            "weld them without a gap, fill them flush with a fall, and keep them clear of leaves",
        ));
    }
    let title =
        format!("Crevices and joints that open upward and run nearly level: {:.2} m", total / MM_PER_M);
    let columns = ["seam", "joint", "what holds water", "level m", "whole m", "what to do"];
    output.tables.push(table("water-seams", &title, &columns, rows.into_iter().map(|r| r.2).collect()));
}

/// What of a seam that looks up holds water, and what helps.
const HOLLOW: &str = "the hollow where the faces meet";
/// Degrees inside the material beyond which a seam is hollow.
const HALF_TURN: f64 = 180.0;

fn crevice(work: &Work, seam: &Seam) -> Option<(&'static str, &'static str)> {
    let [a, b] = seam.between.map(|f| work.faces[f].id.as_str());
    match seam.joint {
        Joined::Splice => Some((
            "the gap of a splice",
            "weld it through and grind it flush, or set the splice on a face that does not look up",
        )),
        Joined::Lap => Some((
            "the edge of a lap, which draws water in",
            "let the upper sheet lie over the lower one and weld its edge all along",
        )),
        Joined::Open => None,
        Joined::Exact | Joined::Mitre if seam.segments.iter().any(|s| s.angle > HALF_TURN) => {
            Some((HOLLOW, "weld it without a gap and fill it flush with a fall"))
        }
        Joined::Exact | Joined::Mitre if work.sculpture.joint_between(a, b).meet == Meet::Inside => {
            Some(("the weld groove, until it is filled", "fill it flush before the work stands outdoors"))
        }
        Joined::Exact | Joined::Mitre => None,
    }
}

/// What rust takes of every face over the life of the work, outside and inside.
fn rust(work: &Work, set: &Values, output: &mut Output) {
    let wear = Wear::told(set);
    let life = set.number("life");
    let mut through: Vec<(&str, f64)> = Vec::new();
    let mut rows = Vec::new();
    for face in work.faces.iter().filter(|f| f.area > 0.0) {
        let t = face.profile.thickness();
        let left = wear.sheet(t);
        if left <= 0.0 {
            through.push((face.id.as_str(), t));
        }
        rows.push(vec![
            words(face.id.as_str()),
            Cell::Number(t, 1),
            Cell::Number(wear.outside, 3),
            Cell::Number(wear.inside, 3),
            Cell::Number(left, 2),
            Cell::Number((1.0 - left / t) * 100.0, 0),
        ]);
    }
    if let Some(spine) = &output.spine {
        let wall = spine.tube.wall();
        rows.push(vec![
            words("wall of the spine's tube (outside: in the chamber)"),
            Cell::Number(wall, 1),
            Cell::Number(wear.inside, 3),
            Cell::Number(wear.tube_inside, 3),
            Cell::Number((wall - wear.inside - wear.tube_inside).max(0.0), 2),
            Cell::Number((wear.inside + wear.tube_inside) / wall * 100.0, 0),
        ]);
    }
    if let Some(plate) = output.flats.iter().find(|p| p.id == "base plate") {
        rows.push(vec![
            words("base plate (its margin, outdoors above and below)"),
            Cell::Number(plate.thickness, 1),
            Cell::Number(2.0 * wear.outside, 3),
            Cell::Number(0.0, 3),
            Cell::Number((plate.thickness - 2.0 * wear.outside).max(0.0), 2),
            Cell::Number((2.0 * wear.outside / plate.thickness).min(1.0) * 100.0, 0),
        ]);
    }
    if let Some((face, t)) = through.first() {
        output.findings.push(Finding::new(
            Level::Warning,
            "rust-through",
            *face,
            format!(
                "sheet of {t} mm may rust through in {life} years ({} faces): {:.2} mm outside and {:.2} mm inside",
                through.len(),
                wear.outside,
                wear.inside
            ),
            "coat the inside and keep the coat up (inside: \"sealed\"), take thicker sheet, or ask for a shorter life",
        ));
    }
    let title = format!(
        "What rust may take in {life} years: {} outside, {} inside (ISO 9223, ISO 9224; preliminary: a licensed engineer decides)",
        set.text("environment").unwrap_or_default(),
        set.text("inside").unwrap_or_default()
    );
    let columns = ["face", "sheet mm", "lost outside mm", "lost inside mm", "left mm", "lost %"];
    output.tables.push(table("water-rust", &title, &columns, rows));
}
