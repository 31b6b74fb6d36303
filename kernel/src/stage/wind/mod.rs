//! The wind stage: pressure by height, force on the silhouette from sixteen sides, overturning, sliding, people, and
//! the speed of vortices.
//!
//! A work that wind tips is an error where the place was told (`basic_speed`), and a warning where the wind is made up
//! or anchors are asked for.

mod picture;

use super::base;
use super::mass::gather;
use super::{Stage, any, values};
use crate::balance::{Balance, Equ, Options};
use crate::base::SideAction;
use crate::error::Result;
use crate::finding::{Finding, Level};
use crate::output::Output;
use crate::registry::Registry;
use crate::settings::Values;
use crate::table::{Cell, Table, table, text};
use crate::units::{MM2_PER_M2, NMM_PER_KNM};
use crate::wind::pressure::IMPLAUSIBLE;
use crate::wind::{STAGE, Site, WIND_ROWS, Wind};
use crate::work::Work;

/// The registry row.
pub const ROW: Stage = Stage {
    name: STAGE,
    summary: "peak pressure, force on the silhouette from 16 sides, overturning, sliding, people, vortices",
    settings: WIND_ROWS,
    check: any,
    run,
};

fn run(work: &Work, _registry: &Registry, output: &mut Output) -> Result<()> {
    gather(work, output)?;
    let values = values(work, &ROW)?;
    let options = Options::of(&work.sculpture)?.standing(output);
    let site = Site::of(&values)?;
    if work.mesh.triangles.is_empty() {
        return Ok(());
    }
    let balance = Balance::on_ground(work, &output.mass, &options);
    let seen = output.silhouettes(work);
    let wind = Wind::on(&seen, &work.mesh, &balance, &options.factors, site, &values);
    output.findings.extend(findings(work, &balance, &wind, &options, &values));
    base::carry(work, output, &side_actions(&wind, &balance, told(work)?))?;
    output.tables.extend([ways(&wind), heights(&wind), people(&wind), basis(&wind, &values)]);
    output.drawings.push(picture::by_height(work, &balance, &wind));
    Ok(())
}

/// What the script told of sideways actions, and what is made up.
#[derive(Debug, Clone, Copy)]
pub(super) struct Told {
    /// The speed of the wind.
    pub(super) wind: bool,
    /// The push of people.
    pub(super) push: bool,
}

pub(super) fn told(work: &Work) -> Result<Told> {
    let values = values(work, &ROW)?;
    Ok(Told { wind: values.is_given("basic_speed"), push: values.is_given("push") })
}

/// Wind and people from each side, for the base.
fn side_actions(wind: &Wind, balance: &Balance, told: Told) -> Vec<SideAction> {
    let centre = balance.ground().load.centre;
    let ways = wind.ways.iter().filter(|w| w.force > 0.0);
    ways.flat_map(|way| {
        let toward = (way.from + 180.0).rem_euclid(360.0);
        let (sin, cos) = toward.to_radians().sin_cos();
        // What lies to the right of (0, 0), as the silhouette counts, twists counter-clockwise.
        let twist = way.strips.iter().map(|s| s.force * s.strip.aside).sum();
        let blown = SideAction {
            force: way.force,
            height: way.height,
            toward,
            twist,
            words: format!("wind from {:.1}°", way.from),
            told: told.wind,
        };
        let push = wind.push.force;
        let pushed = SideAction {
            force: push,
            height: wind.push.height,
            toward,
            twist: push * (centre.x * sin - centre.y * cos),
            words: format!("people from {:.1}°", way.from),
            told: told.push,
        };
        [blown, pushed]
    })
    .filter(|a| a.force > 0.0)
    .collect()
}

fn use_cell(equ: Option<Equ>) -> Cell {
    equ.filter(|e| e.use_of.is_finite()).map_or(Cell::Empty, |e| Cell::Number(e.use_of, 3))
}

fn finite(x: f64, decimals: usize) -> Cell {
    if x.is_finite() { Cell::Number(x, decimals) } else { Cell::Empty }
}

fn ways(wind: &Wind) -> Table {
    let columns = [
        "from degrees",
        "area m²",
        "force kN",
        "at height mm",
        "moment on the ground kN m",
        "tipping use",
        "short by kN m",
        "sliding use",
        "even pressure that tips N/m²",
    ];
    let foot = |w: &crate::wind::Way| w.strips.first().map_or(0.0, |s| s.strip.z[0]);
    let rows = wind.ways.iter().map(|w| {
        vec![
            Cell::Number(w.from, 1),
            Cell::Number(w.area / MM2_PER_M2, 3),
            Cell::Number(w.force / 1000.0, 3),
            Cell::Number(w.height, 0),
            Cell::Number(w.force * (w.height - foot(w)) / NMM_PER_KNM, 3),
            use_cell(w.tipping),
            Cell::Number(w.missing / NMM_PER_KNM, 3),
            finite(w.sliding, 3),
            w.tips_at.map_or(Cell::Empty, |q| Cell::Number(q, 0)),
        ]
    });
    table("wind", "Wind from sixteen sides", &columns, rows.collect())
}

/// Heights of the table of pressures, of the direction with the greatest force.
fn heights(wind: &Wind) -> Table {
    let columns = [
        "from mm",
        "to mm",
        "mean speed m/s",
        "turbulence",
        "exposure",
        "peak pressure N/m²",
        "area m²",
        "force N",
    ];
    let strongest =
        wind.ways.iter().max_by(|a, b| a.force.total_cmp(&b.force).then(b.from.total_cmp(&a.from)));
    let rows = strongest.map_or_else(Vec::new, |way| {
        let foot = way.strips.first().map_or(0.0, |s| s.strip.z[0]);
        way.strips
            .iter()
            .map(|s| {
                let f = wind.site.at((s.strip.z[1] - foot) / 1000.0);
                vec![
                    Cell::Number(s.strip.z[0], 0),
                    Cell::Number(s.strip.z[1], 0),
                    Cell::Number(f.mean_speed, 2),
                    Cell::Number(f.turbulence, 4),
                    Cell::Number(f.exposure, 4),
                    Cell::Number(f.peak, 1),
                    Cell::Number(s.strip.area / MM2_PER_M2, 4),
                    Cell::Number(s.force, 1),
                ]
            })
            .collect()
    });
    let from = strongest.map_or(0.0, |w| w.from);
    table("wind_heights", &format!("Wind by height, from {from:.1}°"), &columns, rows)
}

fn people(wind: &Wind) -> Table {
    let p = &wind.push;
    let columns = ["push N", "at height mm", "tipping use", "short by kN m", "sliding use"];
    let row = vec![
        Cell::Number(p.force, 0),
        Cell::Number(p.height, 0),
        use_cell(p.tipping),
        Cell::Number(p.missing / NMM_PER_KNM, 3),
        finite(p.sliding, 3),
    ];
    table("wind_people", "A push by people", &columns, vec![row])
}

fn basis(wind: &Wind, values: &Values) -> Table {
    let s = &wind.site;
    let f = s.at(wind.height / 1000.0);
    let vortex = match wind.vortex_speed {
        Some(v) => format!("critical speed b n / St = {v:.1} m/s"),
        None => format!("no frequency set: above {:.1} Hz vortices need no look", wind.frequency_needed),
    };
    let rows = [
        [
            "peak pressure",
            &format!(
                "k_r = 0.19 (z0/0.05)^0.07 = {:.4}, c_r = k_r ln(z/z0), v_m = c_r c_o v_b, I_v = k_I/(c_o ln(z/z0)), q_p = (1 + 7 \
                 I_v) ρ/2 v_m²; v_b {:.1} m/s, terrain {} ({}), z0 {} m, z_min {} m; at the top {:.0} N/m²",
                f.terrain_factor,
                s.speed,
                s.terrain.name,
                s.terrain.what,
                s.terrain.roughness,
                s.terrain.least_height,
                f.peak
            ),
            "EN 1991-1-4, 4.2 to 4.5",
            "the national annex decides on speed, terrain and factors; hills, gaps between houses and cliffs need more",
        ],
        [
            "force",
            &format!(
                "c_s c_d {} × c_f {} × ψ_λ {} × q_p at the upper edge of each strip of {} mm × area of the real silhouette there",
                values.number("structural_factor"),
                values.number("force_coefficient"),
                values.number("end_effect"),
                values.number("strip")
            ),
            "EN 1991-1-4, 5.3, 7.6 to 7.8 (coefficients from memory)",
            "no code has this shape: the coefficient is an estimate, and lift and twist are left out",
        ],
        [
            "overturning and sliding",
            "1.5 × wind and 1.1 × weight beyond the edge against 0.9 × weight before it, about every edge of the foot; factored \
             force against friction × 0.9 × weight; factors are those of the stage balance",
            "EN 1990, Table A1.2(A); friction: common practice, no source",
            "wind and people not at once; ice, snow and ground are left out",
        ],
        [
            "people",
            "a level push at a set height, worst direction",
            "common practice, no source",
            "people climb: what can be climbed needs more",
        ],
        [
            "vortices",
            &format!("{vortex}; b = {:.0} mm, the least mean width seen", wind.width),
            "EN 1991-1-4, Annex E, from memory",
            "slender works sway: an engineer decides whether they need damping",
        ],
    ];
    let rows = rows.map(|r| r.map(text).to_vec()).to_vec();
    table("wind_basis", "How wind is worked out", &["figure", "how", "source", "limits"], rows)
}

/// A push against what friction holds, in words; where friction holds next to nothing no number says more.
fn times_friction(times: f64) -> String {
    if times < MANY_TIMES {
        format!("{times:.2} times what friction holds")
    } else {
        format!("more than {MANY_TIMES:.0} times what friction holds")
    }
}

/// From here on it is only said that there are more.
const MANY_TIMES: f64 = 1000.0;

fn findings(work: &Work, balance: &Balance, wind: &Wind, options: &Options, values: &Values) -> Vec<Finding> {
    let mut found = Vec::new();
    let name = work.sculpture.name.as_str();
    let told = values.is_given("basic_speed");
    let given = values.number("basic_speed");
    if given > IMPLAUSIBLE {
        found.push(Finding::new(
            Level::Warning,
            "wind-speed",
            name,
            format!("a basic wind speed of {given} m/s is hardly that of any place"),
            format!(
                "was it km/h? that would be {:.1} m/s; knots? {:.1} m/s",
                given / 3.6,
                given * 1852.0 / 3600.0
            ),
        ));
    }
    if !told {
        found.push(Finding::new(
            Level::Note,
            "wind-assumed",
            name,
            format!("no place was told: wind is worked out for {given} m/s over terrain {}", wind.site.terrain.name),
            "look up the basic wind speed of the place and say s.stage(\"wind\", #{ basic_speed: …, terrain: … })",
        ));
    }
    let level = |told: bool| if told && !options.anchored { Level::Error } else { Level::Warning };
    let [against_tipping, against_sliding] = if options.anchored {
        ["have base plate, anchors and foundation designed for it; prop it until they hold"; 2]
    } else {
        [
            "widen or weigh down its foot, or anchor it: s.stage(\"balance\", #{ anchored: true })",
            "weigh it down, or hold its foot with anchors or a kerb",
        ]
    };
    // What topples by itself needs no wind.
    let stands = balance.ground().equ.is_some_and(|e| e.missing <= 0.0);
    // Anchors must take what the weight asks for and the wind's share.
    if stands || options.anchored {
        if let Some((way, equ)) = wind.worst().filter(|w| w.1.missing > 0.0) {
            found.push(Finding::new(
                level(told),
                "wind-topples",
                name,
                format!(
                    "wind from {:.0}° tips it: {:.2} kN at {:.0} mm ask for {:.2} times what its weight holds; anchors must take \
                     {:.2} kN m",
                    way.from,
                    way.force / 1000.0,
                    way.height,
                    equ.use_of,
                    wind.missing() / NMM_PER_KNM
                ),
                against_tipping,
            ));
        }
        if let Some(equ) = wind.push.tipping.filter(|e| e.missing > 0.0) {
            found.push(Finding::new(
                level(values.is_given("push")),
                "push-topples",
                name,
                format!(
                    "a push of {:.0} N at {:.0} mm tips it: {:.2} times what its weight holds; anchors must take {:.2} kN m",
                    wind.push.force,
                    wind.push.height,
                    equ.use_of,
                    wind.push.missing / NMM_PER_KNM
                ),
                against_tipping,
            ));
        }
    }
    let slides =
        wind.ways.iter().max_by(|a, b| a.sliding.total_cmp(&b.sliding).then(b.from.total_cmp(&a.from)));
    if let Some(way) = slides.filter(|w| w.sliding > 1.0 && w.force > 0.0) {
        found.push(Finding::new(
            level(told),
            "wind-slides",
            name,
            format!(
                "wind from {:.0}° pushes it away: {:.2} kN are {}",
                way.from,
                way.force / 1000.0,
                times_friction(way.sliding)
            ),
            against_sliding,
        ));
    }
    if wind.push.sliding > 1.0 && wind.push.force > 0.0 {
        found.push(Finding::new(
            level(values.is_given("push")),
            "push-slides",
            name,
            format!("a push of {:.0} N slides it: {}", wind.push.force, times_friction(wind.push.sliding)),
            against_sliding,
        ));
    }
    if wind.vortex_in_reach() == Some(true) {
        found.push(Finding::new(
            Level::Warning,
            "vortices",
            name,
            format!(
                "at {:.1} m/s vortices beat at its natural frequency, within reach of the wind here; it may sway across the wind",
                wind.vortex_speed.unwrap_or(0.0)
            ),
            format!("stiffen it to more than {:.1} Hz, or have an engineer look at damping", wind.frequency_needed),
        ));
    }
    found
}
