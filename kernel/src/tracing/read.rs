//! Traced faces off drawings: strokes are sorted by their names, joined to outlines, and corners found.

use super::Options;
use super::names::{Role, face, role, stated};
use super::outline::{Corner, corners};
use crate::element::planes::check_label;
use crate::error::{Error, Result};
use crate::finding::{Finding, Level};
use crate::lines::{Contents, Line, upright};
use crate::maquette::Source;
use crate::polygon::holds;
use std::collections::{BTreeMap, BTreeSet};

/// Ends of strokes this close, mm, are joined.
const JOIN: f64 = 1.0;
/// Most strokes of one outline.
const MOST_STROKES: usize = 1000;
/// Most faces of all drawings together.
const MOST_FACES: usize = 200;
/// How far from its edge a naming stroke may lie, mm.
const EDGE_REACH: f64 = 3.0;
/// Sine of the angle between a naming stroke and its edge, at most (17 degrees).
const EDGE_TURN: f64 = 0.3;
/// A stroke shorter than this, mm, is a dot and has no direction.
const DOT: f64 = 0.5;
/// How far from its corner a naming point may lie, mm.
const POINT_REACH: f64 = 5.0;
/// Where faces are drawn side by side, a stroke or point within this of two edges or corners, mm, names both.
const BOTH: f64 = 0.5;
/// Ribs of one face turn from each other by at most this sine (2 degrees).
const RIB_TURN: f64 = 0.035;
/// A rib drawn shorter than this, mm, says too little of its direction.
const SHORTEST_RIB: f64 = 10.0;

/// A drawing with traced faces.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tracing<'a> {
    /// Name of the file; its ending says what it is.
    pub file: &'a str,
    /// What it holds.
    pub bytes: &'a [u8],
    /// The face it shows (`A/east`), where that is known beforehand: all outlines are of that face then.
    pub face: Option<&'a str>,
}

/// A face as traced.
#[derive(Debug, Clone, PartialEq)]
pub struct TracedFace {
    /// Name of its element.
    pub element: String,
    /// Its label.
    pub label: String,
    /// Its corners, counter-clockwise as drawn, mm, y up.
    pub corners: Vec<Corner>,
    /// Names of its edges; edge k runs from corner k to the next.
    pub edges: Vec<Option<String>>,
    /// Names of its corners.
    pub points: Vec<Option<String>>,
    /// A point on the centre line of a crest and the unit vector along the ribs, on the drawing.
    pub ribs: Option<[[f64; 2]; 2]>,
    /// Where it comes from.
    pub source: Source,
}

impl TracedFace {
    /// `A/east`.
    pub fn id(&self) -> String {
        format!("{}/{}", self.element, self.label)
    }

    /// Length of edge k, mm, and its standard deviation.
    pub fn edge(&self, k: usize) -> (f64, f64) {
        self.between(k, (k + 1) % self.corners.len())
    }

    /// Distance between two corners, mm, and its standard deviation.
    pub(super) fn between(&self, a: usize, b: usize) -> (f64, f64) {
        let (a, b) = (&self.corners[a], &self.corners[b]);
        let d = [b.at[0] - a.at[0], b.at[1] - a.at[1]];
        let length = d[0].hypot(d[1]);
        let along = d.map(|x| x / length);
        (length, a.deviation(along).hypot(b.deviation(along)))
    }
}

/// What one drawing says of a face, before its corners are found.
#[derive(Default)]
struct Strokes {
    outline: Vec<Line>,
    ribs: Vec<Line>,
    edges: Vec<(String, Line)>,
    points: Vec<(String, [f64; 2])>,
}

/// Element and label; none for what lies in no face's group.
type Key = Option<(String, String)>;

/// Reads traced faces, in the order of their names, with remarks on what was left out.
///
/// # Errors
/// Drawings that cannot be read (see [`crate::lines`]); outlines that are open, doubled, without a name or no convex
/// polygon; names that lie along nothing. Each names the file and the face.
pub fn read(
    tracings: &[Tracing<'_>],
    options: &Options,
    known: &[String],
) -> Result<(Vec<TracedFace>, Vec<Finding>)> {
    let mut faces: BTreeMap<(String, String), TracedFace> = BTreeMap::new();
    let mut findings = Vec::new();
    let mut drawn = Vec::with_capacity(tracings.len());
    let mut known = known.to_vec();
    for tracing in tracings {
        let contents = upright(tracing.file, tracing.bytes)?;
        known.extend(contents.lines.iter().flat_map(|line| &line.names).filter_map(|name| stated(name)));
        drawn.push(contents);
    }
    known.sort_unstable();
    known.dedup();
    for (tracing, contents) in tracings.iter().zip(drawn) {
        if !contents.sized {
            findings.push(Finding::new(
                Level::Note,
                "tracing-units",
                tracing.file,
                format!("the drawing gives its size in {}", contents.units),
                "compare the length of an edge with the model; save it with a size in mm if it is wrong",
            ));
        }
        let read = one(tracing, contents, options, &known, &mut findings).map_err(|e| e.at(tracing.file))?;
        for face in read {
            let key = (face.element.clone(), face.label.clone());
            if let Some(other) = faces.get(&key) {
                return Err(Error::input(format!(
                    "face {} is traced in {} too",
                    face.id(),
                    other.source.file
                ))
                .at(tracing.file)
                .remedy("give each face one outline"));
            }
            faces.insert(key, face);
            if faces.len() > MOST_FACES {
                return Err(Error::input(format!("more than {MOST_FACES} faces")).at(tracing.file));
            }
        }
    }
    Ok((faces.into_values().collect(), findings))
}

fn one(
    tracing: &Tracing<'_>,
    contents: Contents,
    options: &Options,
    known: &[String],
    findings: &mut Vec<Finding>,
) -> Result<Vec<TracedFace>> {
    let given = tracing.face.map(|name| named(name, name, known)).transpose()?.map(|(key, _)| key);
    let mut guesses: BTreeSet<(String, String)> = BTreeSet::new();
    let mut key = |role: &Role| match role {
        Role::Face { element, label, guessed } => {
            let key = (element.clone(), label.clone());
            if *guessed {
                guesses.insert(key.clone());
            }
            Some(key)
        }
        _ => None,
    };
    let mut sorted: BTreeMap<Key, Strokes> = BTreeMap::new();
    for line in contents.lines {
        let mut roles: Vec<Role> = line.names.iter().rev().filter_map(|name| role(name, known)).collect();
        let first = if roles.is_empty() { None } else { Some(roles.remove(0)) };
        let group = first.as_ref().and_then(&mut key).or_else(|| roles.iter().find_map(&mut key));
        let strokes = sorted.entry(given.clone().or(group)).or_default();
        match first {
            Some(Role::Edge(name)) => strokes.edges.push((name, line.line)),
            Some(Role::Point(name)) => strokes.points.push((name, middle(&line.line))),
            Some(Role::Rib) => strokes.ribs.push(line.line),
            _ => strokes.outline.push(line.line),
        }
    }
    for (layer, at) in contents.marks {
        if let Some(Role::Point(name)) = role(&layer, known) {
            sorted.entry(given.clone()).or_default().points.push((name, at));
        }
    }
    unnamed(tracing.file, &mut sorted, known, findings)?;
    findings.extend(guesses.iter().map(|key| taken(tracing.file, key)));
    let loose = sorted.remove(&None).unwrap_or_default();
    let mut faces = Vec::new();
    for (key, strokes) in sorted {
        let Some((element, label)) = key else { continue };
        check_label("element", &element)?;
        check_label("face", &label)?;
        let at = |e: Error| e.at(format!("{element}/{label}"));
        let found = joined(strokes.outline).and_then(|outline| corners(&outline, options)).map_err(at)?;
        let count = found.len();
        let source =
            Source { file: tracing.file.to_owned(), line: 0, what: format!("tracing of {element}/{label}") };
        let mut face = TracedFace {
            element: element.clone(),
            label: label.clone(),
            corners: found,
            edges: vec![None; count],
            points: vec![None; count],
            ribs: None,
            source,
        };
        let own = std::slice::from_mut(&mut face);
        strokes.edges.iter().try_for_each(|(name, line)| name_edge(own, name, line)).map_err(at)?;
        strokes.points.iter().try_for_each(|(name, p)| name_point(own, name, *p)).map_err(at)?;
        face.ribs = ribs(&strokes.ribs).map_err(at)?;
        faces.push(face);
    }
    if faces.is_empty() {
        return Err(Error::input("the drawing holds no outline").remedy("draw one closed line per face"));
    }
    loose.edges.iter().try_for_each(|(name, line)| name_edge(&mut faces, name, line))?;
    loose.points.iter().try_for_each(|(name, p)| name_point(&mut faces, name, *p))?;
    let mut lying: Vec<Vec<Line>> = vec![Vec::new(); faces.len()];
    for rib in loose.ribs {
        let p = middle(&rib);
        let inside = faces.iter().position(|f| {
            let outline: Vec<[f64; 2]> = f.corners.iter().map(|c| c.at).collect();
            holds(&outline, p)
        });
        match inside {
            Some(k) => lying[k].push(rib),
            None => {
                return Err(Error::input(format!(
                    "the rib at ({:.1}, {:.1}) mm lies in no face",
                    p[0], p[1]
                ))
                .remedy("draw it within the outline, or into the face's group"));
            }
        }
    }
    for (face, lines) in faces.iter_mut().zip(lying) {
        if let Some(found) = ribs(&lines).map_err(|e| e.at(face.id()))? {
            if face.ribs.is_some() {
                return Err(
                    Error::input("ribs are drawn both in the face's group and outside it").at(face.id())
                );
            }
            face.ribs = Some(found);
        }
    }
    Ok(faces)
}

/// Gives strokes without a name that of the file, or says what becomes of them.
fn unnamed(
    file: &str,
    sorted: &mut BTreeMap<Key, Strokes>,
    known: &[String],
    findings: &mut Vec<Finding>,
) -> Result<()> {
    let has_names = sorted.iter().any(|(key, strokes)| key.is_some() && !strokes.outline.is_empty());
    let Some(loose) = sorted.get_mut(&None) else { return Ok(()) };
    let lines = std::mem::take(&mut loose.outline);
    if lines.is_empty() {
        return Ok(());
    }
    if !has_names {
        let stem = file.rsplit(['/', '\\']).next().unwrap_or(file);
        let stem = stem.rsplit_once('.').map_or(stem, |(stem, _)| stem);
        let (key, guessed) = named(stem, "an outline has no name, and neither has the file", known)?;
        if guessed {
            findings.push(taken(file, &key));
        }
        sorted.entry(Some(key)).or_default().outline = lines;
        return Ok(());
    }
    if let Some(line) = lines.iter().find(|l| l.closed) {
        let p = middle(line);
        return Err(Error::input(format!("the closed line about ({:.1}, {:.1}) mm has no face", p[0], p[1]))
            .remedy("name it (A/east) or take it out"));
    }
    findings.push(Finding::new(
        Level::Note,
        "tracing-ignored",
        file,
        format!("{} open lines with no name were left out", lines.len()),
        "name them if they are part of an outline, an edge_NAME or a rib",
    ));
    Ok(())
}

fn named(name: &str, what: &str, known: &[String]) -> Result<((String, String), bool)> {
    match role(name, known).or_else(|| face(name, known)) {
        Some(Role::Face { element, label, guessed }) => Ok(((element, label), guessed)),
        _ => Err(Error::input(format!("{what} is no name of a face"))
            .remedy("name the group, the outline or the file by element and label: A/east, A_east")),
    }
}

/// What a name was taken for that could be parted in other ways.
fn taken(file: &str, (element, label): &(String, String)) -> Finding {
    Finding::new(
        Level::Note,
        "tracing-name",
        file,
        format!("its name is taken for the face \"{label}\" of an element \"{element}\""),
        "write a stroke between element and face if that is wrong: A-1/east",
    )
}

/// The middle of a line's extent.
fn middle(line: &Line) -> [f64; 2] {
    [0, 1].map(|k| {
        let (lo, hi) = line
            .points
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), p| (lo.min(p[k]), hi.max(p[k])));
        f64::midpoint(lo, hi)
    })
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    (b[0] - a[0]).hypot(b[1] - a[1])
}

/// One closed outline from the strokes of a face.
fn joined(mut strokes: Vec<Line>) -> Result<Vec<[f64; 2]>> {
    if strokes.len() > MOST_STROKES {
        return Err(Error::input(format!(
            "the outline has {} strokes (allowed: {MOST_STROKES})",
            strokes.len()
        ))
        .remedy("join them in the drawing program"));
    }
    let twice = |count: usize| {
        Error::input(format!("there are {count} outlines"))
            .remedy("give each face one closed line of its own")
    };
    let closed = strokes.iter().filter(|l| l.closed).count();
    if closed > 1 || closed == 1 && strokes.len() > 1 {
        return Err(twice(strokes.len()));
    }
    if strokes.is_empty() {
        return Err(Error::input("there is no outline").remedy("draw one closed line, with the face's name"));
    }
    let first = strokes.remove(0);
    let (mut chain, is_closed) = (first.points, first.closed);
    while !strokes.is_empty() {
        let end = chain[chain.len() - 1];
        let ends = strokes.iter().enumerate().flat_map(|(k, line)| {
            let (a, b) = (line.points[0], line.points[line.points.len() - 1]);
            [(distance(end, a), k, false), (distance(end, b), k, true)]
        });
        let Some((gap, k, backward)) = ends.min_by(|a, b| a.0.total_cmp(&b.0)) else { break };
        if gap > JOIN {
            let back = distance(end, chain[0]);
            return Err(if back <= JOIN { twice(2) } else { open(gap.min(back), end) });
        }
        let mut next = strokes.remove(k).points;
        if backward {
            next.reverse();
        }
        chain.extend(next);
    }
    let (a, b) = (chain[0], chain[chain.len() - 1]);
    if !is_closed && distance(a, b) > JOIN {
        return Err(open(distance(a, b), b));
    }
    Ok(chain)
}

fn open(gap: f64, at: [f64; 2]) -> Error {
    Error::input(format!(
        "the outline is open by {gap:.1} mm at ({:.1}, {:.1}) mm (allowed: {JOIN})",
        at[0], at[1]
    ))
    .remedy("close it in the drawing program")
}

/// Distance from a point to a stretch of line.
fn off(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let d = [b[0] - a[0], b[1] - a[1]];
    let share = ((p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1]) / (d[0] * d[0] + d[1] * d[1]);
    let share = share.clamp(0.0, 1.0);
    distance(p, [a[0] + share * d[0], a[1] + share * d[1]])
}

fn name_edge(faces: &mut [TracedFace], name: &str, line: &Line) -> Result<()> {
    let (a, b) = (line.points[0], line.points[line.points.len() - 1]);
    let (p, length) = (middle(line), distance(a, b));
    let mut near: Vec<(f64, usize, usize)> = Vec::new();
    for (f, face) in faces.iter().enumerate() {
        let count = face.corners.len();
        let best = (0..count)
            .filter_map(|k| {
                let (c, d) = (face.corners[k].at, face.corners[(k + 1) % count].at);
                let cross = (b[0] - a[0]) * (d[1] - c[1]) - (b[1] - a[1]) * (d[0] - c[0]);
                let along = length < DOT || cross.abs() <= EDGE_TURN * length * distance(c, d);
                along.then(|| (off(p, c, d), f, k))
            })
            .min_by(|a, b| a.0.total_cmp(&b.0));
        near.extend(best);
    }
    let nearest = near.iter().map(|n| n.0).fold(f64::INFINITY, f64::min);
    if nearest > EDGE_REACH {
        return Err(Error::input(format!(
            "the stroke that names edge {name:?} at ({:.1}, {:.1}) mm lies along no edge within {EDGE_REACH} mm",
            p[0], p[1]
        ))
        .remedy("draw it along its edge"));
    }
    for (distance, f, k) in near {
        if distance <= nearest + BOTH && distance <= EDGE_REACH {
            give(&mut faces[f].edges[k], name, "edge")?;
        }
    }
    Ok(())
}

fn name_point(faces: &mut [TracedFace], name: &str, p: [f64; 2]) -> Result<()> {
    let mut near: Vec<(f64, usize, usize)> = Vec::new();
    for (f, face) in faces.iter().enumerate() {
        let all = face.corners.iter().enumerate().map(|(k, c)| (distance(p, c.at), f, k));
        near.extend(all.min_by(|a, b| a.0.total_cmp(&b.0)));
    }
    let nearest = near.iter().map(|n| n.0).fold(f64::INFINITY, f64::min);
    if nearest > POINT_REACH {
        return Err(Error::input(format!(
            "the point {name:?} at ({:.1}, {:.1}) mm lies at no corner within {POINT_REACH} mm",
            p[0], p[1]
        ))
        .remedy("draw it on to its corner"));
    }
    for (distance, f, k) in near {
        if distance <= nearest + BOTH && distance <= POINT_REACH {
            give(&mut faces[f].points[k], name, "corner")?;
        }
    }
    Ok(())
}

fn give(place: &mut Option<String>, name: &str, what: &str) -> Result<()> {
    match place {
        Some(other) if other != name => {
            Err(Error::input(format!("one {what} is named both {other:?} and {name:?}"))
                .remedy("take one of the names out"))
        }
        _ => {
            *place = Some(name.to_owned());
            Ok(())
        }
    }
}

/// Ribs from the lines drawn along crests: the direction from all of them, the place from the longest.
fn ribs(lines: &[Line]) -> Result<Option<[[f64; 2]; 2]>> {
    let ends = |line: &Line| (line.points[0], line.points[line.points.len() - 1]);
    let length = |line: &Line| {
        let (a, b) = ends(line);
        distance(a, b)
    };
    let Some(longest) = lines.iter().max_by(|a, b| length(a).total_cmp(&length(b))) else { return Ok(None) };
    if length(longest) < SHORTEST_RIB {
        return Err(Error::input(format!(
            "the rib is drawn {:.1} mm long (allowed: {SHORTEST_RIB} or more)",
            length(longest)
        ))
        .remedy("draw a straight line along the centre of a crest"));
    }
    let along = |line: &Line| {
        let ((a, b), l) = (ends(line), length(line));
        [(b[0] - a[0]) / l, (b[1] - a[1]) / l]
    };
    let main = along(longest);
    let mut sum = [0.0, 0.0];
    for line in lines.iter().filter(|l| length(l) >= SHORTEST_RIB) {
        let own = along(line);
        if (main[0] * own[1] - main[1] * own[0]).abs() > RIB_TURN {
            return Err(
                Error::input("the ribs drawn are not parallel").remedy("draw one rib, or all one way")
            );
        }
        let sign = (main[0] * own[0] + main[1] * own[1]).signum() * length(line);
        sum = [sum[0] + sign * own[0], sum[1] + sign * own[1]];
    }
    let size = sum[0].hypot(sum[1]);
    let (a, b) = ends(longest);
    let through = [f64::midpoint(a[0], b[0]), f64::midpoint(a[1], b[1])];
    Ok(Some([through, [sum[0] / size, sum[1] / size]]))
}
