//! Pictures of the forecast: the gap along each seam for both ways of working, and what each seam takes.
//!
//! Along the seam the picture is in scale with the work; gaps are drawn larger, both ways to the same scale.

use super::bars::{self, Bars};
use super::pen::{Pen, ticks};
use crate::drawing::{Drawing, Layer};
use crate::forecast::{Estimate, Forecast, Options, SeamForecast, Spot, Way, WayForecast};
use crate::work::Work;

/// Width of a panel on the page, mm; all sizes below are mm on the page too.
const WIDE: f64 = 215.0;
/// Height of a panel, and of what stands over and under it.
const HIGH: f64 = 36.0;
const OVER: f64 = 20.0;
const UNDER: f64 = 15.0;
/// Height of letters, and of small ones.
const LETTERS: f64 = 3.4;
const SMALL: f64 = 3.0;
/// Distance of lines of small letters.
const LINE: f64 = 5.2;
/// Distance of the lines that fill the band between mean and 95 % value.
const HATCH: f64 = 1.2;
/// Intervals of an axis at most.
const TICKS: f64 = 6.0;
/// Of the longer axis along the seam.
const MANY_TICKS: f64 = 12.0;
/// Height of the line at which an edge is broken off.
const BREAK: f64 = 3.0;
/// Stretches narrower than this carry no name.
const NAMED: f64 = 44.0;

/// What a way of working is called on a picture.
fn words(way: Way) -> &'static str {
    match way {
        Way::Nominal => "cut from NOMINAL templates",
        Way::Surveyed => "cut from templates of the SURVEYED sheets",
    }
}

/// The gap along one seam.
pub(super) fn seam(seam: &SeamForecast, options: &Options, name: &str) -> Option<Drawing> {
    let longest = seam.ways.iter().flatten().map(|w| w.length).fold(0.0, f64::max);
    if longest <= 0.0 {
        return None;
    }
    let spots = || seam.ways.iter().flatten().flat_map(|w| &w.stretches).flat_map(|s| &s.spots);
    let top = spots().map(|s| s.gap.high.max(s.base)).fold(options.gap, f64::max) * 1.08;
    let title = format!("Gap forecast, seam {}", seam.id);
    let drawing = Drawing { name: name.to_owned(), title: title.clone(), ..Drawing::default() };
    let mut pen = Pen { drawing, unit: longest / WIDE };
    let whole = OVER + HIGH + UNDER;
    for (k, way) in Way::BOTH.into_iter().enumerate() {
        #[allow(clippy::cast_precision_loss, reason = "two")]
        let foot = (1 - k) as f64 * whole;
        panel(&mut pen, seam.ways[k].as_ref(), way, foot, top, options);
    }
    pen.write(&title, [-12.0, 2.0 * whole - 8.0], 4.0, 0.0);
    let wide = top * HIGH.recip();
    let notes = [
        format!("Thick: mean. Thin, hatched: 95 of 100 works stay below. Dashed: {} mm.", options.gap),
        format!("Gaps are drawn {:.0} times too large against the length.", (longest / WIDE / wide).max(1.0)),
        format!(
            "A forecast of {} works drawn by lot, from the survey and the errors set for cutting",
            options.draws
        ),
        "and placing: not a measurement.".to_owned(),
    ];
    for (k, note) in (0_u32..).zip(&notes) {
        pen.write(note, [-12.0, -UNDER - 3.0 - LINE * f64::from(k)], SMALL, 0.0);
    }
    Some(pen.drawing)
}

/// A value with its error.
fn value(of: &Estimate, decimals: usize) -> String {
    format!("{:.decimals$}", of.mean)
}

/// One way of working; the axis along the seam lies at `foot`.
fn panel(pen: &mut Pen, of: Option<&WayForecast>, way: Way, foot: f64, top: f64, options: &Options) {
    let up = |gap: f64| foot + gap / top * HIGH;
    let Some(of) = of else {
        pen.write(&format!("{}: no such seam", words(way)), [0.0, foot + HIGH / 2.0], LETTERS, 0.0);
        return;
    };
    let wide = of.length / pen.unit;
    pen.write(words(way), [0.0, foot + HIGH + 2.4 + 2.0 * LINE], LETTERS, 0.0);
    let gaps_at = [0.0, foot + HIGH + 2.4 + LINE];
    let gaps = format!(
        "mean {} mm (95 %: {:.2}), greatest {} mm (95 %: {:.1})",
        value(&of.mean, 2),
        of.mean.high,
        value(&of.greatest, 1),
        of.greatest.high,
    );
    let figures = format!(
        "filler {} kg (95 %: {:.3}), {:.0} % above {} mm",
        value(&of.filler, 3),
        of.filler.high,
        100.0 * of.above.mean,
        options.gap
    );
    pen.write(&gaps, gaps_at, SMALL, 0.0);
    pen.write(&figures, [0.0, foot + HIGH + 2.4], SMALL, 0.0);
    pen.line(Layer::Mark, &[[0.0, foot], [wide, foot]]);
    pen.line(Layer::Mark, &[[0.0, foot], [0.0, foot + HIGH]]);
    for (gap, text) in ticks(top, TICKS) {
        pen.line(Layer::Mark, &[[-1.5, up(gap)], [0.0, up(gap)]]);
        pen.write(&text, [-2.3, up(gap) - SMALL / 2.0], SMALL, 1.0);
    }
    for (at, text) in ticks(of.length, MANY_TICKS) {
        let x = at / pen.unit;
        pen.line(Layer::Mark, &[[x, foot], [x, foot - 1.5]]);
        pen.write(&text, [x, foot - 5.6], SMALL, 0.5);
    }
    pen.write_up("gap mm", [-11.0, foot + HIGH / 2.0], SMALL);
    pen.write("along the seam mm", [WIDE, foot - 10.6], SMALL, 1.0);
    pen.line(Layer::Helper, &[[0.0, up(options.gap)], [wide, up(options.gap)]]);
    let mut start = 0.0;
    let (mut named, mut before) = (String::new(), String::new());
    for stretch in &of.stretches {
        let unit = pen.unit;
        let curve = |get: fn(&Spot) -> f64| -> Vec<[f64; 2]> {
            // Spots stand for pieces: the outer ones hold to the ends.
            let first = stretch.spots.first().map(|s| (0.0, get(s)));
            let last = stretch.spots.last().map(|s| (stretch.length, get(s)));
            let all = first.into_iter().chain(stretch.spots.iter().map(|s| (s.at, get(s)))).chain(last);
            all.map(|(at, gap)| [(start + at) / unit, up(gap)]).collect()
        };
        let (mean, high) = (curve(|s| s.gap.mean), curve(|s| s.gap.high));
        hatch(pen, &mean, &high);
        pen.line(Layer::Fold, &high);
        pen.line(Layer::Seam, &mean);
        // A mitred seam has an edge of each sheet, one after the other.
        let sides: Vec<&str> = stretch.sides.iter().flatten().map(String::as_str).collect();
        let name = if let [one] = sides[..] { format!("edge of {one}") } else { String::new() };
        // A full line where the other sheet's edge begins, a short one where the edge is broken off.
        let x = start / pen.unit;
        if start > 0.0 {
            let to = if name == before { BREAK } else { HIGH };
            pen.line(Layer::Mark, &[[x, foot], [x, foot + to]]);
        }
        before.clone_from(&name);
        if name != named && stretch.length / pen.unit > NAMED {
            pen.write(&name, [x + 1.0, foot + HIGH - SMALL - 0.5], SMALL, 0.0);
            named = name;
        }
        start += stretch.length;
    }
}

/// Fills between two curves of the same places with upright lines.
fn hatch(pen: &mut Pen, low: &[[f64; 2]], high: &[[f64; 2]]) {
    let (Some(first), Some(last)) = (low.first(), low.last()) else { return };
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few hundred lines")]
    let lines = ((last[0] - first[0]) / HATCH).floor() as u32;
    let mut i = 0;
    for k in 1..=lines {
        let x = first[0] + f64::from(k) * HATCH;
        while i + 2 < low.len() && low[i + 1][0] < x {
            i += 1;
        }
        let run = low[i + 1][0] - low[i][0];
        let share = if run > 0.0 { ((x - low[i][0]) / run).clamp(0.0, 1.0) } else { 0.0 };
        let [a, b] = [low, high].map(|c| c[i][1] + (c[i + 1][1] - c[i][1]) * share);
        if b > a {
            pen.line(Layer::Fold, &[[x, a], [x, b]]);
        }
    }
}

/// What each seam takes, and what templates of the surveyed sheets save.
pub(super) fn overview(work: &Work, forecast: &Forecast, options: &Options) -> Vec<Drawing> {
    let title = format!("Gap forecast, {}", work.sculpture.name);
    let t = &forecast.totals;
    let kilos = |e: &Estimate| format!("{:.3} kg (± {:.3}; 95 %: {:.3})", e.mean, e.mean_error, e.high);
    let hours = |e: &Estimate| format!("{:.2} h (± {:.2}; 95 %: {:.2})", e.mean, e.mean_error, e.high);
    // Short enough for one line each: figures are not parted from what they are of.
    let lines = [
        format!("nominal: filler {}, work {}", kilos(&t.filler[0]), hours(&t.hours[0])),
        format!("surveyed: filler {}, work {}", kilos(&t.filler[1]), hours(&t.hours[1])),
        format!(
            "saved: {:.3} kg of filler, {:.2} h; in 95 of 100 works more than {:.3} kg, {:.2} h",
            t.filler_saved.mean, t.hours_saved.mean, t.filler_saved.low, t.hours_saved.low
        ),
        format!("A forecast of {} works drawn by lot, not a measurement.", options.draws),
        format!("Standard deviations: cuts {} mm, parts {} mm.", options.cut, options.placing),
        format!(
            "Filling takes {} h per kg, grinding {} h per m above {} mm:",
            options.fill_hours, options.grind_hours, options.gap
        ),
        "common practice, no source. Put in yours.".to_owned(),
    ];
    let kilos = |way: &Option<WayForecast>| way.as_ref().map(|w| w.filler.mean);
    let seams: Vec<Bars<'_>> = forecast
        .seams
        .iter()
        .map(|s| Bars { name: &s.id, kilos: [kilos(&s.ways[0]), kilos(&s.ways[1])] })
        .collect();
    bars::pages(&title, &lines, &seams)
}
