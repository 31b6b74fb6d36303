//! What each seam takes, as pairs of bars that are told apart in black and white: hatched and empty, each with its figure.
//!
//! Most seams do not fit one page in letters that can be read: there are as many pages as it takes, the seams that take most
//! first. Sizes are mm on paper.

use super::pen::{Pen, ticks};
use crate::drawing::{Drawing, Layer};
use crate::lettering;

/// Height of letters.
const SMALL: f64 = 2.3;
/// Seams on a page.
const SEAMS: usize = 19;
/// Height of a row and of each of its two bars; what is left over parts the rows.
const ROW: f64 = 8.8;
const BAR: f64 = 3.7;
/// Length of the longest bar, and room for names left of the bars.
const LONGEST: f64 = 106.0;
const NAMES: f64 = 60.0;
/// Distance of hatching lines.
const HATCH: f64 = 1.1;
/// Intervals of the axis at most.
const TICKS: f64 = 6.0;
/// Longest name, in letters.
const LONGEST_NAME: usize = 30;
/// Letters of a line at the head, and the height of such a line.
const LINE: usize = 86;
const LINES: f64 = 4.4;

/// A seam and the filler it takes, kg: cut from nominal templates, and from templates of the sheets. None where that work
/// has no such seam.
pub(super) struct Bars<'a> {
    pub(super) name: &'a str,
    pub(super) kilos: [Option<f64>; 2],
}

/// The pages: words at the head of each, and the bars, the seams that take most first.
pub(super) fn pages(title: &str, words: &[String], seams: &[Bars<'_>]) -> Vec<Drawing> {
    let most = |s: &Bars<'_>| s.kilos.iter().flatten().copied().fold(0.0, f64::max);
    let mut order: Vec<&Bars<'_>> = seams.iter().collect();
    order.sort_by(|a, b| most(b).total_cmp(&most(a)).then(a.name.cmp(b.name)));
    let longest = order.first().map_or(0.0, |s| most(s)).max(f64::MIN_POSITIVE);
    let count = order.len().div_ceil(SEAMS).max(1);
    (1..=count)
        .map(|page| {
            let of = if count > 1 { format!(", page {page} of {count}") } else { String::new() };
            let title = format!("{title}{of}");
            // Seams of one name each have drawings that begin with a dash: these are others.
            let name = if page == 1 { "forecast".to_owned() } else { format!("forecast_{page}") };
            let drawing = Drawing { name, title: title.clone(), diagram: true, ..Drawing::default() };
            let mut pen = Pen { drawing, unit: 1.0 };
            let lines: Vec<String> = words.iter().flat_map(|line| wrapped(line)).collect();
            let mut y = LEGEND;
            for line in lines.iter().rev() {
                y += LINES;
                pen.write(line, [0.0, y], SMALL, 0.0);
            }
            pen.write(&title, [0.0, y + 1.6 * LINES], 4.5, 0.0);
            legend(&mut pen);
            let from = (page - 1) * SEAMS;
            rows(&mut pen, &order[from..order.len().min(from + SEAMS)], longest);
            pen.drawing
        })
        .collect()
}

/// A sentence in lines.
fn wrapped(text: &str) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ') {
        match lines.last_mut().filter(|l| l.chars().count() + word.chars().count() < LINE) {
            Some(line) => {
                line.push(' ');
                line.push_str(word);
            }
            None => lines.push(word.to_owned()),
        }
    }
    lines
}

/// Height of the legend's line over the axis.
const LEGEND: f64 = 10.5;

fn legend(pen: &mut Pen) {
    let y = LEGEND;
    pen.write("filler kg, mean:", [0.0, y], SMALL, 0.0);
    for (x, way, text) in [(34.0, 0, "from nominal templates"), (104.0, 1, "from templates of the sheets")] {
        bar(pen, [x, y], 12.0, way);
        pen.write(text, [x + 14.0, y], SMALL, 0.0);
    }
}

fn rows(pen: &mut Pen, seams: &[&Bars<'_>], longest: f64) {
    #[allow(clippy::cast_precision_loss, reason = "few rows")]
    let foot = -ROW * seams.len() as f64;
    for (kilos, text) in ticks(longest, TICKS) {
        let x = NAMES + kilos / longest * LONGEST;
        // No line runs down through the figures: each bar has its own.
        pen.line(Layer::Mark, &[[x, 0.0], [x, 1.5]]);
        pen.write(&text, [x, 2.0], SMALL, 0.5);
    }
    for (k, seam) in (1_u32..).zip(seams) {
        let y = -ROW * f64::from(k);
        pen.write(&shortened(seam.name), [NAMES - 2.0, y + (ROW - SMALL) / 2.0], SMALL, 1.0);
        for (way, kilos) in seam.kilos.into_iter().enumerate() {
            let low = if way == 0 { y + ROW / 2.0 } else { y + ROW / 2.0 - BAR };
            let text = match kilos {
                None => "no such seam".to_owned(),
                Some(kilos) => {
                    let long = kilos / longest * LONGEST;
                    bar(pen, [NAMES, low], long, way);
                    format!("{kilos:.3}")
                }
            };
            let end = NAMES + kilos.unwrap_or(0.0) / longest * LONGEST;
            pen.write(&text, [end + 1.2, low + (BAR - FIGURE) / 2.0], FIGURE, 0.0);
        }
    }
    pen.line(Layer::Mark, &[[NAMES, 1.0], [NAMES, foot]]);
    pen.line(Layer::Mark, &[[NAMES, 0.0], [NAMES + LONGEST, 0.0]]);
}

/// Height of the figures at the ends of bars: two of them below each other do not touch.
const FIGURE: f64 = 2.3;

/// A bar from its lower left corner: the first kind hatched and heavy, the second empty and thin.
fn bar(pen: &mut Pen, [x, y]: [f64; 2], long: f64, way: usize) {
    let layer = if way == 0 { Layer::Seam } else { Layer::Mark };
    // The two share an edge: each keeps clear of it.
    let [low, high] = [y + 0.2, y + BAR - 0.2];
    pen.line(layer, &[[x, low], [x + long, low], [x + long, high], [x, high], [x, low]]);
    if way != 0 {
        return;
    }
    let tall = high - low;
    let mut at = HATCH - tall;
    while at < long {
        // A line that climbs by its own width, cut off at both ends of the bar.
        let (from, to) = (at.max(0.0), (at + tall).min(long));
        pen.line(Layer::Mark, &[[x + from, low + from - at], [x + to, low + to - at]]);
        at += HATCH;
    }
}

/// A name that is too long loses its middle.
fn shortened(name: &str) -> String {
    let letters: Vec<char> = name.chars().collect();
    let wide = lettering::width(name, SMALL) > NAMES - 4.0;
    if letters.len() <= LONGEST_NAME && !wide {
        return name.to_owned();
    }
    let mut half = LONGEST_NAME.min(letters.len()) / 2 - 1;
    loop {
        let start: String = letters[..half].iter().collect();
        let end: String = letters[letters.len() - half..].iter().collect();
        let short = format!("{start}..{end}");
        if half <= 4 || lettering::width(&short, SMALL) <= NAMES - 4.0 {
            return short;
        }
        half -= 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::Label;

    fn extent(label: &Label) -> [[f64; 2]; 2] {
        let mut points = lettering::strokes(label).into_iter().flatten();
        let first = points.next().expect("letters");
        points.fold([first, first], |[lo, hi], p| {
            [[lo[0].min(p[0]), lo[1].min(p[1])], [hi[0].max(p[0]), hi[1].max(p[1])]]
        })
    }

    #[test]
    fn bars_of_few_and_of_many_seams_neither_touch_nor_lose_their_figures() {
        for (count, wanted) in [(5_u32, 1), (30, 2), (120, 7)] {
            let names: Vec<String> =
                (0..count).map(|k| format!("element{}/side{k}~element2/bottom", k / 9)).collect();
            let seams: Vec<Bars<'_>> = (0_u32..)
                .zip(&names)
                .map(|(k, name)| {
                    let kilos = 0.3 / f64::from(k + 1);
                    Bars { name, kilos: [Some(kilos), (k % 7 != 3).then_some(kilos / 8.0)] }
                })
                .collect();
            let words = vec!["words".to_owned(); 5];
            let pages = pages("Gap forecast", &words, &seams);
            assert_eq!(pages.len(), wanted, "{count} seams");
            let mut figures = 0;
            for page in &pages {
                page.validate().expect("can be drawn");
                let extents: Vec<[[f64; 2]; 2]> = page.labels.iter().map(extent).collect();
                for (i, [lo, hi]) in extents.iter().enumerate() {
                    let text = &page.labels[i].text;
                    assert!(hi[0] < 181.0 && lo[0] > -1.0, "{text} from {} to {}", lo[0], hi[0]);
                    for (k, [low, high]) in extents[..i].iter().enumerate() {
                        let apart = (0..2).any(|c| hi[c] < low[c] || high[c] < lo[c]);
                        assert!(apart, "{count}: {text} lies on {}", page.labels[k].text);
                    }
                }
                figures += page.labels.iter().filter(|l| l.at[0] > NAMES && l.at[1] < 0.0).count();
            }
            assert_eq!(figures, 2 * count as usize, "a figure for each bar");
        }
    }
}
