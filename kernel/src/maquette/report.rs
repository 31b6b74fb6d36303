//! What there is to say of a solved maquette: findings, tables and JSON.

use super::elements::Shape;
use super::readings::{Readings, whence};
use super::refuse::{Wanted, listed};
use super::solve::{Checked, Measured, Solved};
use crate::error::{Error, Result};
use crate::finding::{Finding, Level};
use crate::settings::unknown_name;
use serde_json::{Value, json};

/// Readings of less redundancy are checked by no others.
const UNCHECKED: f64 = 0.05;
/// Names listed in one finding.
const MOST_NAMES: usize = 8;
/// A distance is worth proposing if it takes this share off the worst deviation.
const WORTH: f64 = 0.1;
/// Points may come out this far below the table, mm, before it is said.
const BELOW: f64 = 2.0;

/// Findings about the points, the worst first.
pub fn findings(readings: &Readings, solved: &Solved) -> Vec<Finding> {
    let mut all = Vec::new();
    for checked in solved.readings.iter().filter(|c| c.flagged) {
        all.push(misreading(solved, checked));
    }
    for (index, part) in solved.parts.iter().enumerate() {
        let about = match solved.parts.len() {
            1 => "the maquette".to_owned(),
            _ => format!("part {} ({})", index + 1, some(solved, part.points.iter().copied())),
        };
        let name = |p: usize| solved.points[p].name.as_str();
        let mut say = |level, code: &str, message: String, remedy: String| {
            all.push(Finding::new(level, code, about.clone(), message, remedy));
        };
        if !part.is_plausible() {
            say(
                Level::Warning,
                "strained",
                format!(
                    "the readings agree less well than their stated precision: s0 is {:.2}, should be about 1",
                    part.s0().unwrap_or(0.0)
                ),
                "look at the largest residuals, and state a precision that is true".to_owned(),
            );
        }
        if part.kept_degrees == 0 {
            say(
                Level::Warning,
                "unchecked",
                "there are just as many readings as are needed: no misreading would be noticed".to_owned(),
                "measure a few more distances".to_owned(),
            );
        }
        if !part.proven {
            say(
                Level::Warning,
                "unproven",
                "the distances alone may allow another figure; many other starts found none that fits"
                    .to_owned(),
                match part.proves.as_slice() {
                    [] => "compare the picture with the maquette, or measure more diagonals".to_owned(),
                    pairs => {
                        let pairs: Vec<String> = pairs
                            .iter()
                            .take(MOST_NAMES)
                            .map(|pair| format!("{} to {}", name(pair[0]), name(pair[1])))
                            .collect();
                        format!(
                            "compare the picture with the maquette, or be sure by the distance{} {}",
                            if pairs.len() == 1 { "" } else { "s" },
                            listed(pairs.iter().map(String::as_str))
                        )
                    }
                },
            );
        }
        if let Some((off, by)) = part.near {
            say(
                Level::Warning,
                "near-figure",
                format!(
                    "a figure whose points lie up to {off:.1} mm away fits about as well: the ellipsoids say too little"
                ),
                match by {
                    Some(Wanted::Distance([a, b])) => {
                        format!("measure the distance {} to {}", name(a), name(b))
                    }
                    Some(Wanted::Height(p)) => format!("measure the height of {}", name(p)),
                    _ => "compare the picture with the maquette".to_owned(),
                },
            );
        }
        if part.not_convex {
            say(
                Level::Note,
                "convex",
                "another figure fits the distances, but its elements are not convex".to_owned(),
                "nothing needs to be done".to_owned(),
            );
        }
        if let (false, face) = (part.level, part.laid_on) {
            let on = face.map_or("as it came out".to_owned(), |f| {
                format!("on its face {}/{}", readings.faces[f].element, readings.faces[f].label)
            });
            say(
                Level::Note,
                "not-level",
                format!("heights do not say which way is up: it is laid {on}"),
                "measure the heights of three points or more, not in line".to_owned(),
            );
        }
        let low =
            part.points.iter().min_by(|&&a, &&b| solved.points[a].at.z.total_cmp(&solved.points[b].at.z));
        if let Some(&p) = low.filter(|&&p| part.level && solved.points[p].at.z < -BELOW) {
            say(
                Level::Warning,
                "below-table",
                format!("{} comes out {:.1} mm below the table", name(p), -solved.points[p].at.z),
                "check the heights".to_owned(),
            );
        }
        if let Some((pair, [before, after])) = part.helps.filter(|(_, [b, a])| b - a > WORTH * b) {
            say(
                Level::Note,
                "would-help",
                format!(
                    "the distance {} to {} would help most: the worst point would be known to {after:.2} mm instead \
                     of {before:.2} (standard deviation)",
                    name(pair[0]),
                    name(pair[1])
                ),
                "measure it if the worst point matters".to_owned(),
            );
        }
    }
    let weak: Vec<usize> = (0..solved.points.len()).filter(|&p| solved.points[p].weak).collect();
    if let Some(&worst) =
        weak.iter().max_by(|&&a, &&b| solved.points[a].axes[0].total_cmp(&solved.points[b].axes[0]))
    {
        all.push(Finding::new(
            Level::Warning,
            "weak",
            some(solved, weak.iter().copied()),
            format!(
                "hardly determined: {} may lie up to {:.1} mm off (95 %)",
                solved.points[worst].name, solved.points[worst].axes[0]
            ),
            "measure distances that run in the direction of the long axes of the ellipsoids in the picture",
        ));
    }
    if solved.parts.len() > 1 {
        all.push(Finding::new(
            Level::Warning,
            "parts",
            format!("{} parts", solved.parts.len()),
            "no readings tie the parts to one another: each is right in itself, and they stand side by side",
            "measure distances between them, six at least, or place the elements in the script",
        ));
    }
    let alone: Vec<&Checked> =
        solved.readings.iter().filter(|c| !c.flagged && c.redundancy < UNCHECKED).collect();
    if !alone.is_empty() {
        let names: Vec<&str> = alone.iter().take(MOST_NAMES).map(|c| c.name.as_str()).collect();
        let more = alone.len().saturating_sub(MOST_NAMES);
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        all.push(Finding::new(
            Level::Note,
            "uncontrolled",
            "readings",
            format!("a misreading here would not be noticed: {}{more}", names.join("; ")),
            "measure these twice",
        ));
    }
    all.sort_by(|a, b| (a.level, &a.code).cmp(&(b.level, &b.code)));
    all
}

fn some(solved: &Solved, points: impl Iterator<Item = usize>) -> String {
    let names: Vec<&str> = points.map(|p| solved.points[p].name.as_str()).collect();
    match names.len().checked_sub(MOST_NAMES) {
        Some(more) if more > 0 => format!("{} and {more} more", names[..MOST_NAMES].join(", ")),
        _ => listed(names.into_iter()),
    }
}

/// Length or angle as people read it.
fn value(of: Measured, x: f64) -> String {
    match of {
        Measured::Angle(_) => format!("{:.2}°", x.to_degrees()),
        _ => format!("{x:.1} mm"),
    }
}

fn misreading(solved: &Solved, c: &Checked) -> Finding {
    let others = c.or_else.iter().map(|&k| &solved.readings[k]);
    let others: Vec<String> = others.map(|o| format!("{} ({})", o.name, whence(&o.source))).collect();
    let mut remedy = format!("take it again; it is left out ({})", whence(&c.source));
    if !others.is_empty() {
        remedy = format!(
            "take it again, and {}: the readings cannot tell which of them is wrong, so that the figure may be too",
            listed(others.iter().map(String::as_str))
        );
    }
    Finding::new(
        Level::Warning,
        "misreading",
        c.name.clone(),
        format!("read {}, the others say {}", value(c.of, c.read), value(c.of, c.read + c.residual)),
        remedy,
    )
}

/// Decimals of lengths in files, mm.
const DECIMALS: usize = 3;

fn text(x: f64) -> String {
    let text = format!("{x:.DECIMALS$}");
    if text.trim_start_matches('-').bytes().all(|b| b == b'0' || b == b'.') {
        "0.000".to_owned()
    } else {
        text
    }
}

fn rounded(x: f64) -> f64 {
    text(x).parse().unwrap_or(x)
}

fn table(head: &[&str], rows: Vec<Vec<String>>) -> Result<Vec<u8>> {
    let broken = |e: csv::Error| Error::bug(format!("a table of the maquette cannot be written: {e}"));
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(head).map_err(broken)?;
    for row in rows {
        writer.write_record(row).map_err(broken)?;
    }
    writer.into_inner().map_err(|e| Error::bug(e.to_string()))
}

/// Points as CSV: where they are, the semi-axes of their 95 % ellipsoids, where flat faces put them. mm.
///
/// # Errors
/// Bugs of ours only: writing to memory does not fail.
pub fn points_csv(solved: &Solved, shape: &Shape) -> Result<Vec<u8>> {
    let head = [
        "point",
        "x mm",
        "y mm",
        "z mm",
        "axis 1 mm",
        "axis 2 mm",
        "axis 3 mm",
        "weak",
        "part",
        "flat x mm",
        "flat y mm",
        "flat z mm",
        "moved mm",
    ];
    let rows = solved.points.iter().zip(&shape.points).map(|(p, q)| {
        let mut row = vec![p.name.clone()];
        row.extend(p.at.iter().chain(&p.axes).map(|x| text(*x)));
        row.push(if p.weak { "weak".to_owned() } else { String::new() });
        row.push((p.part + 1).to_string());
        row.extend(q.iter().map(|x| text(*x)));
        row.push(text((p.at - q).norm()));
        row
    });
    table(&head, rows.collect())
}

/// Readings as CSV. Lengths in mm, angles in degrees.
///
/// # Errors
/// Bugs of ours only.
pub fn readings_csv(solved: &Solved) -> Result<Vec<u8>> {
    let head = [
        "reading",
        "source",
        "line",
        "read",
        "deviation",
        "solved",
        "solved less read",
        "redundancy",
        "w",
        "least found",
        "misreading",
    ];
    let rows = solved.readings.iter().map(|c| {
        let unit = |x: f64| text(if matches!(c.of, Measured::Angle(_)) { x.to_degrees() } else { x });
        vec![
            c.name.clone(),
            if c.source.file.is_empty() { c.source.what.clone() } else { c.source.file.clone() },
            c.source.line.to_string(),
            unit(c.read),
            unit(c.deviation),
            unit(c.read + c.residual),
            unit(c.residual),
            text(c.redundancy),
            text(c.w),
            c.least_found.map(unit).unwrap_or_default(),
            if c.flagged { "misreading".to_owned() } else { String::new() },
        ]
    });
    table(&head, rows.collect())
}

/// Faces as CSV: corners, and how far they lie off the plane as solved (before they were made flat), mm.
///
/// # Errors
/// Bugs of ours only.
pub fn faces_csv(readings: &Readings, solved: &Solved) -> Result<Vec<u8>> {
    let head = ["element", "face", "corners", "off its plane mm", "by point"];
    let rows = readings.faces.iter().map(|face| {
        let (foot, normal) = plane(face.corners.iter().map(|&p| solved.points[p].at.coords).collect());
        let off = |p: usize| normal.dot(&(solved.points[p].at.coords - foot));
        let worst = face.corners.iter().copied().max_by(|&a, &b| off(a).abs().total_cmp(&off(b).abs()));
        vec![
            face.element.clone(),
            face.label.clone(),
            face.corners.iter().map(|&p| solved.points[p].name.as_str()).collect::<Vec<_>>().join(" "),
            text(worst.map_or(0.0, |p| off(p).abs())),
            worst.map_or(String::new(), |p| solved.points[p].name.clone()),
        ]
    });
    table(&head, rows.collect())
}

fn plane(points: Vec<nalgebra::Vector3<f64>>) -> (nalgebra::Vector3<f64>, nalgebra::Vector3<f64>) {
    let x = nalgebra::DVector::from_iterator(3 * points.len(), points.iter().flat_map(|p| [p.x, p.y, p.z]));
    let all: Vec<usize> = (0..points.len()).collect();
    (super::flat::middle(&x, &all), super::flat::Flat::one(&all).normal(&x))
}

/// Everything about a solved maquette as JSON (schema `ribwright-maquette-1`).
pub fn maquette_json(solved: &Solved, shape: &Shape) -> Value {
    let points: Vec<Value> = solved
        .points
        .iter()
        .zip(&shape.points)
        .map(|(p, q)| {
            json!({
                "name": p.name, "at_mm": p.at.iter().map(|x| rounded(*x)).collect::<Vec<_>>(),
                "semi_axes_95_mm": p.axes.map(rounded), "weak": p.weak, "part": p.part + 1,
                "flat_at_mm": q.iter().map(|x| rounded(*x)).collect::<Vec<_>>(),
                "moved_mm": rounded((p.at - q).norm()),
            })
        })
        .collect();
    let readings: Vec<Value> = solved
        .readings
        .iter()
        .map(|c| {
            let angle = matches!(c.of, Measured::Angle(_));
            let unit = |x: f64| rounded(if angle { x.to_degrees() } else { x });
            json!({
                "what": c.name, "file": c.source.file, "line": c.source.line,
                "unit": if angle { "degrees" } else { "mm" }, "read": unit(c.read), "deviation": unit(c.deviation),
                "residual": unit(c.residual), "redundancy": rounded(c.redundancy), "w": rounded(c.w),
                "least_found": c.least_found.map(unit), "misreading": c.flagged,
                "or_else": c.or_else.iter().map(|&k| solved.readings[k].name.as_str()).collect::<Vec<_>>(),
            })
        })
        .collect();
    let name = |p: usize| solved.points[p].name.as_str();
    let parts: Vec<Value> = solved
        .parts
        .iter()
        .map(|part| {
            json!({
                "points": part.points.iter().map(|&p| name(p)).collect::<Vec<_>>(), "degrees": part.degrees,
                "s0": part.s0().map(rounded), "plausible": part.is_plausible(), "level": part.level,
                "only_figure": part.proven,
                "proved_by": part.proves.iter().map(|pair| pair.map(name)).collect::<Vec<_>>(),
                "near_figure": part.near.map(|(off, by)| json!({
                    "off_mm": rounded(off),
                    "told_by": match by {
                        Some(Wanted::Distance(pair)) => json!({ "distance": pair.map(name) }),
                        Some(Wanted::Height(p)) => json!({ "height": name(p) }),
                        _ => Value::Null,
                    },
                })),
                "would_help": part.helps.map(|(pair, of)| json!({
                    "between": pair.map(name), "worst_deviation_mm": rounded(of[0]), "with_it_mm": rounded(of[1]),
                })),
            })
        })
        .collect();
    let elements: Vec<Value> = shape
        .elements
        .iter()
        .map(|e| {
            json!({
                "name": e.solid.name, "volume_mm3": rounded(e.solid.volume()),
                "faces": e.solid.faces.iter().map(|f| f.label.as_str()).collect::<Vec<_>>(),
            })
        })
        .collect();
    json!({
        "schema": "ribwright-maquette-1", "points": points, "readings": readings, "parts": parts,
        "elements": elements,
    })
}

/// Index of a point by its name.
///
/// # Errors
/// No such point; the nearest name is said.
pub fn point_index(solved: &Solved, name: &str) -> Result<usize> {
    let names = || solved.points.iter().map(|p| p.name.as_str());
    names().position(|n| n == name).ok_or_else(|| unknown_name("point", name, names()))
}
