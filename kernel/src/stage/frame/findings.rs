//! What the frame stage has to say, and how a mode is put in words.

use crate::finding::{Finding, Level};
use crate::frame::Mode;
use crate::output::Output;
use crate::settings::Value;
use crate::stage::{base, wind};
use crate::sway::{Figures, Options, Side, Sway};
use crate::units::NMM_PER_KNM;
use crate::wind::gust;
use crate::wind::pressure::IMPLAUSIBLE;
use crate::work::Work;
use nalgebra::Point3;

/// Movements under weight alone beyond this share of those allowed under wind are pointed out.
const NOTABLE_SAG: f64 = 0.5;

pub(super) fn all(
    work: &Work,
    output: &Output,
    sway: &Sway,
    figures: &Figures,
    options: &Options,
    to_base: bool,
) -> Vec<Finding> {
    let mut found = Vec::new();
    let name = work.sculpture.name.as_str();
    let tube = sway.built().tube.words();
    let element = |e: usize| sway.carried().name(e);
    if let Some(leg) = figures.worst_leg().filter(|l| l.used > 1.0) {
        found.push(Finding::new(
            Level::Error,
            "frame-strength",
            format!("spine, leg {}", leg.leg + 1),
            format!(
                "{:.0} N/mm² in a tube {tube} that has {:.0}: {:.2} times its strength, {:.0} mm up the leg, under {}",
                leg.stress.equivalent, leg.strength, leg.used, leg.at, leg.case
            ),
            "take a larger tube or tube: \"lightest\", a stronger grade, or take mass and height off; a licensed engineer decides",
        ));
    }
    if let Some(worst) = figures.worst_sway(options.most_sway).filter(|w| w.figure > 1.0) {
        let mm = figures
            .elements
            .iter()
            .position(|e| *e == worst.element)
            .map_or(0.0, |k| figures.sway[worst.side][k]);
        found.push(Finding::new(
            Level::Warning,
            "frame-sway",
            element(worst.element),
            format!(
                "its top sways by {mm:.1} mm under {}, {:.2} times its height / {}",
                figures.what[worst.side].words(),
                worst.figure,
                options.most_sway
            ),
            "take a larger tube, or let the seams between elements carry, worked out by an engineer",
        ));
    }
    let sag = figures.elements.iter().zip(&figures.sag).zip(&figures.heights);
    let sag =
        sag.map(|((e, sag), height)| (*e, *sag, *sag * options.most_sway / height.max(f64::MIN_POSITIVE)));
    if let Some((e, mm, share)) = sag.max_by(|a, b| a.2.total_cmp(&b.2)).filter(|s| s.2 > NOTABLE_SAG) {
        found.push(Finding::new(
            if share > 1.0 { Level::Warning } else { Level::Note },
            "frame-sag",
            element(e),
            format!("its top sinks aside by {mm:.1} mm under the weight alone"),
            "prop it in its drawn place until all seams are welded, or build the spine that much against it",
        ));
    }
    if let Some(f) = figures.frequency().filter(|f| *f < options.least_frequency) {
        found.push(Finding::new(
            Level::Warning,
            "frame-frequency",
            name,
            format!(
                "it swings at {f:.2} Hz, below the {} Hz asked for: hands can shake it",
                options.least_frequency
            ),
            "take a larger tube, or take mass off the top",
        ));
    }
    found.extend(slender(sway));
    found.extend(gusts(work, sway, figures, options));
    found.extend(vortices(work, sway, figures));
    found.extend(speed(work, output));
    if !sway.left.is_empty() {
        let names: Vec<&str> = sway.left.iter().map(|e| element(*e)).collect();
        found.push(Finding::new(
            Level::Note,
            "frame-beside",
            names.join(", "),
            "stands beside the spine, which does not carry it; the wind on it is counted on the spine all the same",
            "hold it by itself, or join it to an element that the spine passes",
        ));
    }
    if !sway.without_plates.is_empty() {
        let names: Vec<&str> = sway.without_plates.iter().map(|e| element(*e)).collect();
        found.push(Finding::new(
            Level::Note,
            "frame-plates",
            names.join(", "),
            "has no inside plate that the spine passes; it is taken to be held at its openings",
            "ask for plates with a hole for the tube, or set attach: \"openings\"",
        ));
    }
    if let Some(side) = figures.worst_side(options.variable).filter(|_| !to_base) {
        let r = &figures.reactions[side + 1];
        let given = work.sculpture.stages.get(base::ROW.name).is_some_and(|s| s.contains_key("side_force"));
        let remedy = if given {
            "compare them with the side_force and side_height that the base was given"
        } else {
            "have base plate and anchors worked out for it: s.stage(\"base\", #{ anchors: \"rectangle\" })"
        };
        found.push(Finding::new(
            Level::Note,
            "frame-base",
            name,
            format!(
                "{} brings {:.2} kN and {:.2} kN m to the base, without factors; weight brings {:.2} kN and {:.2} kN m",
                figures.what[side].words(),
                r.force.xy().norm() / 1000.0,
                r.moment.xy().norm() / NMM_PER_KNM,
                figures.reactions[0].force.z / 1000.0,
                figures.reactions[0].moment.xy().norm() / NMM_PER_KNM
            ),
            remedy,
        ));
    }
    found
}

/// A wall so thin that it buckles before it yields: the strengths given do not hold.
fn slender(sway: &Sway) -> Option<Finding> {
    let built = sway.built();
    let (slimness, most) =
        (sway.worn().outside() / sway.worn().wall(), built.material.stockiest(built.tube.wall()).ok()?);
    (slimness > most).then(|| {
        Finding::new(
            Level::Error,
            "frame-slender",
            "spine",
            format!(
                "tube {} is {slimness:.0} times as wide as its wall is thick: beyond {most:.0} (class 4 of EN 1993-1-1) its wall \
                 buckles before it yields, and the check of stresses does not hold",
                built.tube.words()
            ),
            "take a thicker wall",
        )
    })
}

/// Gusts that shake it more than the structural factor of the wind has it.
fn gusts(work: &Work, sway: &Sway, figures: &Figures, options: &Options) -> Option<Finding> {
    let wind = &sway.carried().wind;
    let frequency = figures.frequency()?;
    if wind.site.speed <= 0.0 {
        return None;
    }
    let size = [wind.width, wind.height].map(|mm| mm / 1000.0);
    let needed = gust(&wind.site, size, frequency, options.damping).factor;
    (needed > wind.structural_factor * NOTABLE_GUST).then(|| {
        Finding::new(
            Level::Warning,
            "frame-gusts",
            work.sculpture.name.as_str(),
            format!(
                "it swings at {frequency:.2} Hz, so that gusts shake it {:.2} times as much as the wind here counts (EN 1991-1-4, \
                 Annex B, damping {})",
                needed / wind.structural_factor,
                options.damping
            ),
            format!(
                "say s.stage(\"wind\", #{{ structural_factor: {:.2} }}), and look again; or stiffen it",
                needed * 1.005
            ),
        )
    })
}

/// Gusts are told from this factor on.
const NOTABLE_GUST: f64 = 1.02;

/// Vortices that beat with the frequency found here, where none was set for the wind.
fn vortices(work: &Work, sway: &Sway, figures: &Figures) -> Option<Finding> {
    let wind = &sway.carried().wind;
    let frequency = figures.frequency()?;
    let set = work.sculpture.stages.get(wind::ROW.name).is_some_and(|s| s.contains_key("frequency"));
    if set || wind.site.speed <= 0.0 || frequency > wind.frequency_needed {
        return None;
    }
    Some(Finding::new(
        Level::Warning,
        "frame-vortices",
        work.sculpture.name.as_str(),
        format!(
            "at {:.1} m/s vortices beat at its {frequency:.2} Hz, within reach of the wind here; it may sway across the wind",
            wind.vortex_speed_at(frequency)
        ),
        format!(
            "stiffen it to more than {:.1} Hz, or have an engineer look at damping and fatigue",
            wind.frequency_needed
        ),
    ))
}

/// A wind speed that is none, where the stage `wind` has not said so already.
fn speed(work: &Work, output: &Output) -> Option<Finding> {
    let given = match work.sculpture.stages.get(wind::ROW.name)?.get("basic_speed")? {
        Value::Number(x) => *x,
        _ => return None,
    };
    if given <= IMPLAUSIBLE || output.findings.iter().any(|f| f.code == "wind-speed") {
        return None;
    }
    Some(Finding::new(
        Level::Warning,
        "wind-speed",
        work.sculpture.name.as_str(),
        format!("a basic wind speed of {given} m/s is hardly that of any place"),
        format!(
            "was it km/h? that would be {:.1} m/s; knots? {:.1} m/s",
            given / 3.6,
            given * 1852.0 / 3600.0
        ),
    ))
}

/// Which element swings most in a mode, and how.
pub(super) fn swings(sway: &Sway, figures: &Figures, mode: &Mode) -> (String, String) {
    let mut best: Option<(f64, usize, String)> = None;
    for &e in &figures.elements {
        let solid = &sway.carried().solid(e);
        let [low, high] = solid.bounding_box();
        let middle = nalgebra::center(&low, &high);
        let radius = (high - low).xy().norm() / 2.0;
        let at = |p: Point3<f64>| sway.moved(&mode.shape, e, &p);
        let (Some(top), Some(side)) = (
            at(Point3::new(middle.x, middle.y, high.z)),
            at(Point3::new(middle.x + radius, middle.y, high.z)),
        ) else {
            continue;
        };
        // A turn about the upright moves the side across against the middle.
        let twist = (side - top).y.abs();
        let level = top.xy().norm();
        let (most, how) = if twist > level && twist > top.z.abs() {
            (twist, "twists about the upright".to_owned())
        } else if top.z.abs() > level {
            (top.z.abs(), "moves up and down".to_owned())
        } else {
            let way = (top.y.atan2(top.x).to_degrees() + 360.0) % 180.0;
            (level, format!("sways along {way:.0}° and {:.0}°", way + 180.0))
        };
        if best.as_ref().is_none_or(|b| most > b.0) {
            best = Some((most, e, how));
        }
    }
    best.map_or_else(Default::default, |(_, e, how)| (sway.carried().name(e).to_owned(), how))
}

/// Where a sideways action comes from, degrees.
pub(super) fn from(side: &Side) -> f64 {
    match side {
        Side::Wind(from) | Side::People(from) => *from,
    }
}
