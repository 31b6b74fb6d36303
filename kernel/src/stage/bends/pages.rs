//! Pages to hang at the brake: every blank with its bend lines, several to a page, in the order of the parts.
//!
//! Across the bends a blank is drawn in scale; along them it is shortened, for the stops of a brake are set by the distance
//! from the datum edge alone. Sizes are mm on paper.

use crate::drawing::{Drawing, Label, Layer, Path};
use crate::stage::sketch::{label, spread};
use crate::template::{BendLine, Template};

/// Width and height of what is drawn on a page.
const PAGE: [f64; 2] = [180.0, 232.0];
/// Height of the first page: in the job book it stands below the head of its chapter.
const FIRST: f64 = 125.0;
/// Height of letters, readable from half a metre, and of the name of a part.
const LETTERS: f64 = 2.5;
const NAME: f64 = 2.9;
/// What the legend at the head of a page takes.
const LEGEND: f64 = 15.0;
/// Distance of figures beside each other: two digits fit.
const PITCH: f64 = 4.6;
/// Width of a letter over its height in the widest of the fonts that pages are set in, on average.
const WIDEST: f64 = 0.84;
/// Between two blanks in a row.
const GAP: f64 = 7.0;
/// Least width of a panel: what stands above it fits.
const LEAST: f64 = 50.0;
/// Most bends figured on one panel; a blank with more is shown again.
const MOST: usize = 38;
/// Heights: the two lines above a blank, the blank, lines down to the figures, a row of figures, direction, distance.
const ABOVE: f64 = 9.0;
const BLANK: f64 = 16.0;
const DOWN: f64 = 4.0;
const FIGURES: f64 = 4.0;
const WORD: f64 = 6.5;
const DISTANCE: f64 = 13.0;
/// Room below a panel.
const BELOW: f64 = 1.5;

/// A blank, and the turn of each of its bends in the order of bending.
pub(super) struct Bent<'a> {
    pub(super) blank: &'a Template,
    pub(super) steps: Vec<usize>,
}

/// What is drawn of a blank, from the upper left corner of its panel.
struct Panel {
    wide: f64,
    paths: Vec<Path>,
    labels: Vec<Label>,
}

/// The pages; `turned` says that bending does not go from the datum edge on, so that steps are told too.
pub(super) fn pages(bent: &[Bent<'_>], turned: bool) -> Vec<Drawing> {
    let high = ABOVE + BLANK + DOWN + FIGURES + if turned { FIGURES } else { 0.0 } + WORD + DISTANCE + BELOW;
    let mut pages: Vec<Drawing> = Vec::new();
    // Beyond the foot of a page: the first panel begins one.
    let [mut x, mut y, mut room] = [0.0, 0.0, 0.0];
    let panels = bent.iter().flat_map(|b| {
        let bends: Vec<usize> = (0..b.blank.bends.len()).collect();
        bends.chunks(MOST).map(|chunk| panel(b, chunk, turned)).collect::<Vec<_>>()
    });
    for panel in panels {
        if x > 0.0 && x + panel.wide > PAGE[0] {
            (x, y) = (0.0, y - high);
        }
        if y - high < -room {
            (x, y) = (0.0, -LEGEND);
            room = if pages.is_empty() { FIRST } else { PAGE[1] };
            pages.push(page(pages.len() + 1, turned));
        }
        let Some(page) = pages.last_mut() else { break };
        let moved = |p: [f64; 2]| [p[0] + x, p[1] + y];
        page.paths.extend(
            panel.paths.into_iter().map(|p| Path { points: p.points.into_iter().map(moved).collect(), ..p }),
        );
        page.labels.extend(panel.labels.into_iter().map(|l| Label { at: moved(l.at), ..l }));
        x += panel.wide + GAP;
    }
    let count = pages.len();
    for (k, page) in (1_usize..).zip(&mut pages) {
        page.title = format!("Bends, page {k} of {count}");
    }
    pages
}

/// An empty page with its legend.
fn page(number: usize, turned: bool) -> Drawing {
    let mut page = Drawing { name: format!("bends-{number}"), diagram: true, ..Drawing::default() };
    let step = if turned { ", its step" } else { "" };
    let lines = [
        format!("Outside up. Below each bend: its number{step}, UP or DN, mm from the datum edge."),
        "UP folds towards you (dashes and dots), DN away from you (dashes).".to_owned(),
        "Datum edge: heavy, left. Across the bends in scale, along them shortened.".to_owned(),
    ];
    for (k, text) in (1_u32..).zip(lines) {
        let at = [0.0, -3.7 * f64::from(k)];
        page.labels.push(Label { at, height: LETTERS, angle: 0.0, centred: false, text });
    }
    page
}

/// One value, or the least and the greatest of several.
fn span(bends: &[BendLine], get: fn(&BendLine) -> f64) -> String {
    let [low, high] =
        bends.iter().map(get).fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], x| [l.min(x), h.max(x)]);
    let number = |x: f64| {
        let text = format!("{x:.1}");
        text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
    };
    let (low, high) = (number(low), number(high));
    if low == high { low } else { format!("{low} to {high}") }
}

#[allow(clippy::cast_precision_loss, reason = "a blank has few bends")]
fn panel(bent: &Bent<'_>, chunk: &[usize], turned: bool) -> Panel {
    let blank = bent.blank;
    let count = blank.bends.len();
    let part = match chunk {
        [first, .., last] if chunk.len() < count => {
            format!("{}, bends {} to {}", blank.part, first + 1, last + 1)
        }
        _ => blank.part.clone(),
    };
    let all = format!(
        "{count} {}, {}°, radius {}",
        if count == 1 { "bend" } else { "bends" },
        span(&blank.bends, |b| b.angle),
        span(&blank.bends, |b| b.radius)
    );
    // The job book sets words in a font of its own, a little wider.
    let words =
        [(&part, NAME), (&all, LETTERS)].map(|(text, height)| text.chars().count() as f64 * WIDEST * height);
    let words = words[0].max(words[1]);
    let wide = LEAST.max(words).max((chunk.len() + 1) as f64 * PITCH).min(PAGE[0]);
    let mut panel = Panel { wide, paths: Vec::new(), labels: Vec::new() };
    for (text, height, y) in [(part, NAME, -3.2), (all, LETTERS, -7.2)] {
        panel.labels.push(Label { at: [0.0, y], height, angle: 0.0, centred: false, text });
    }
    let cuts = Drawing { paths: blank.drawing.on(Layer::Cut).cloned().collect(), ..Drawing::default() };
    let Some([low, high]) = cuts.bounds() else { return panel };
    // Half a figure is left at both ends; nothing is drawn larger than it is.
    let room = wide - PITCH;
    let across = (room / (high[0] - low[0]).max(f64::MIN_POSITIVE)).min(1.0);
    let along = (BLANK / (high[1] - low[1]).max(f64::MIN_POSITIVE)).min(across);
    let foot = -ABOVE - BLANK;
    let right = |x: f64| PITCH / 2.0 + (x - low[0]) * across;
    let on_page = |p: &[f64; 2]| [right(p[0]), foot + (p[1] - low[1]) * along];
    for layer in [Layer::Cut, Layer::BendDown, Layer::BendUp] {
        for path in blank.drawing.on(layer) {
            let points = path.points.iter().map(on_page).collect();
            panel.paths.push(Path { layer, points, closed: path.closed });
        }
    }
    let top = foot + (high[1] - low[1]) * along;
    for x in [0.0, 0.5] {
        let x = PITCH / 2.0 - x;
        panel.paths.push(Path::open(Layer::Seam, vec![[x, top], [x, foot]]));
    }
    let places: Vec<f64> = chunk.iter().map(|&i| right(blank.bends[i].across)).collect();
    let mut shown = spread(&places, PITCH);
    // What was moved apart beyond an end is pushed back as a whole.
    let over = shown.last().map_or(0.0, |x| (x + PITCH / 2.0 - wide).max(0.0));
    let under = shown.first().map_or(0.0, |x| (PITCH / 2.0 - x).max(0.0));
    shown.iter_mut().for_each(|x| *x += under - over);
    for ((&i, place), x) in chunk.iter().zip(places).zip(shown) {
        let bend = &blank.bends[i];
        let mut y = foot - DOWN;
        panel.paths.push(Path::open(Layer::Helper, vec![[place, foot - 0.4], [x, y + 0.4]]));
        let mut figure = |text: String, high: f64, angle: f64| {
            panel.labels.push(Label { angle, ..label([x, y - high / 2.0], LETTERS, text) });
            y -= high;
        };
        figure(bend.number.to_string(), FIGURES, 0.0);
        if turned {
            figure(bent.steps[i].to_string(), FIGURES, 0.0);
        }
        figure(if bend.up { "UP" } else { "DN" }.to_owned(), WORD, 90.0);
        figure(format!("{:.1}", bend.across), DISTANCE, 90.0);
    }
    panel
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lettering;

    fn blank(part: &str, count: u32, pitch: f64) -> Template {
        let bends: Vec<BendLine> = (1..=count)
            .map(|number| BendLine {
                across: f64::from(number) * pitch,
                angle: 48.8,
                up: number % 4 < 2,
                radius: 6.0,
                number,
                allowance: 5.96,
                drawn: true,
            })
            .collect();
        let wide = f64::from(count + 1) * pitch;
        let mut paths =
            vec![Path::closed(Layer::Cut, vec![[0.0, 0.0], [wide, 0.0], [wide, 900.0], [0.0, 900.0]])];
        paths.extend(bends.iter().map(|b| {
            let layer = if b.up { Layer::BendUp } else { Layer::BendDown };
            Path::open(layer, vec![[b.across, 0.0], [b.across, 900.0]])
        }));
        let drawing = Drawing { paths, ..Drawing::default() };
        let part = part.to_owned();
        Template { datum: None, kind: "blank".into(), part, drawing, area: 1.0, cut_length: 1.0, bends }
    }

    /// What a label takes, level or read from the right.
    fn extent(l: &Label) -> [[f64; 2]; 2] {
        let one = Drawing { labels: vec![l.clone()], ..Drawing::default() };
        let mut points = lettering::strokes(&one.labels[0]).into_iter().flatten();
        let first = points.next().expect("letters");
        points.fold([first, first], |[lo, hi], p| {
            [[lo[0].min(p[0]), lo[1].min(p[1])], [hi[0].max(p[0]), hi[1].max(p[1])]]
        })
    }

    #[test]
    fn blanks_stand_several_to_a_page_inside_of_it_and_no_figure_lies_on_another() {
        let blanks: Vec<Template> =
            [(2, 80.0), (24, 67.0), (12, 70.0), (43, 5.0), (60, 66.0), (3, 2.0), (1, 9.0)]
                .iter()
                .cycle()
                .take(28)
                .enumerate()
                .map(|(k, &(count, pitch))| blank(&format!("hull/side{k}"), count, pitch))
                .collect();
        for turned in [false, true] {
            let bent: Vec<Bent<'_>> =
                blanks.iter().map(|blank| Bent { blank, steps: (1..=blank.bends.len()).collect() }).collect();
            let pages = pages(&bent, turned);
            assert!(pages.len() <= 28 / 2, "{} pages", pages.len());
            let mut distances = 0;
            for page in &pages {
                let extents: Vec<[[f64; 2]; 2]> = page.labels.iter().map(extent).collect();
                for (i, [lo, hi]) in extents.iter().enumerate() {
                    let text = &page.labels[i].text;
                    assert!(page.labels[i].height >= LETTERS, "{text}");
                    assert!(lo[0] >= -0.1 && hi[0] <= PAGE[0] + 0.1, "{text} from {} to {}", lo[0], hi[0]);
                    assert!(lo[1] >= -PAGE[1] - 0.1 && hi[1] <= 0.1, "{text} from {} to {}", lo[1], hi[1]);
                    for (k, [low, high]) in extents[..i].iter().enumerate() {
                        let apart = (0..2).any(|c| hi[c] < low[c] || high[c] < lo[c]);
                        assert!(apart, "{text} lies on {}", page.labels[k].text);
                    }
                }
                distances += page.labels.iter().filter(|l| l.text == "UP" || l.text == "DN").count();
            }
            let bends: usize = blanks.iter().map(|b| b.bends.len()).sum();
            assert_eq!(distances, bends, "every bend once");
        }
    }
}
