//! The sheet of pictures: every variant that is drawn with its number, its pictorial view and the figures that matter,
//! all at one scale with a person beside each, on A3 lying on its side; more pages where there are more than twelve.

use super::person::Measure;
use super::{Figures, Measured, Tried, Variant};
use crate::drawing::{Drawing, Label, Layer, Path};
use crate::export::svg::scale_bar;
use crate::lettering::width;
use crate::stage::views::PICTORIAL;
use crate::view::Projection;
use nalgebra::Vector3;

/// The paper, mm: A3 lying on its side.
pub const PAPER: [f64; 2] = [420.0, 297.0];

const MARGIN: f64 = 10.0;
/// Most pictures on a page: more would be too small for a wall.
const ON_A_PAGE: usize = 12;
/// Height of the strip with the title, and of the one with the scale, mm.
const HEAD: f64 = 14.0;
const FOOT: f64 = 14.0;
/// Height of capitals, mm: the title, the numbers, the figures (11 points), the rest.
const TITLE: f64 = 6.0;
const NUMBER: f64 = 9.0;
const TEXT: f64 = 2.8;
const SMALL: f64 = 2.5;
/// From line to line of figures, mm.
const LINE: f64 = 4.7;
/// Room inside a cell's border, mm.
const PAD: f64 = 3.5;
/// Most lines that choices may take under a picture; the table has them all.
const CHOICE_LINES: usize = 6;
/// Between the person and the work, as a share of the person's height.
const BESIDE: f64 = 0.12;
/// Steps of scales within a power of ten.
const STEPS: [f64; 9] = [1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.5];
/// Greatest power of ten of a scale.
const POWERS: i32 = 9;

/// How pictures stand on the pages.
struct Layout {
    columns: usize,
    rows: usize,
    cell: [f64; 2],
    /// Whether each choice has a line of its own under a picture.
    listed: bool,
    /// Lines of choices and of figures under a picture.
    lines: [usize; 2],
    divisor: f64,
    /// Least and greatest x and y of all pictures, the person in it, mm of the work.
    bounds: [[f64; 2]; 2],
    /// Middle of the person, mm of the work.
    person_at: f64,
    measure: Measure,
}

/// The pages; none where nothing is drawn.
pub fn pages(tried: &Tried) -> Vec<Drawing> {
    let shown: Vec<(&Variant, &Measured)> = tried
        .shown
        .iter()
        .filter_map(|&i| tried.variants.get(i))
        .filter_map(|v| Some((v, v.kept()?)))
        .collect();
    let Some(layout) = Layout::best(tried, &shown) else { return Vec::new() };
    let chunks: Vec<_> = shown.chunks(layout.columns * layout.rows).collect();
    let count = chunks.len();
    let draw = |(k, chunk): (usize, &&[(&Variant, &Measured)])| layout.page(tried, chunk, k + 1, count);
    chunks.iter().enumerate().map(draw).collect()
}

impl Layout {
    /// The columns and rows that let pictures be largest.
    fn best(tried: &Tried, shown: &[(&Variant, &Measured)]) -> Option<Self> {
        let boxes = shown.iter().filter_map(|(_, m)| m.picture.bounds());
        let [low, high] = boxes
            .reduce(|[a, b], [c, d]| [[a[0].min(c[0]), a[1].min(c[1])], [b[0].max(d[0]), b[1].max(d[1])]])?;
        let tallest = shown.iter().map(|(_, m)| m.figures.height_mm).fold(0.0, f64::max);
        let measure = Measure::beside(tallest);
        let person_at = low[0] - measure.height() * BESIDE - measure.half_width();
        let top = measure.height() * up();
        let bounds = [[person_at - measure.half_width(), low[1].min(0.0)], [high[0], high[1].max(top)]];
        let on_page = shown.len().min(ON_A_PAGE);
        let layouts = (1..=6).flat_map(|columns| (1..=4).map(move |rows| (columns, rows)));
        let fitting = layouts.filter(|&(columns, rows)| {
            columns * rows >= on_page && (columns - 1) * rows < on_page && columns * (rows - 1) < on_page
        });
        fitting
            .flat_map(|(columns, rows)| [true, false].map(|listed| (columns, rows, listed)))
            .map(|(columns, rows, listed)| {
                #[allow(clippy::cast_precision_loss, reason = "a few")]
                let cell = [
                    (PAPER[0] - 2.0 * MARGIN) / columns as f64,
                    (PAPER[1] - 2.0 * MARGIN - HEAD - FOOT) / rows as f64,
                ];
                let wide = cell[0] - 2.0 * PAD;
                let choices = shown.iter().map(|(v, _)| of_choices(v, listed, wide).len());
                let figures = shown.iter().map(|(_, m)| filled(&facts(&m.figures), wide).len());
                let lines = [choices.max().unwrap_or(0), figures.max().unwrap_or(0)];
                let room = [wide, cell[1] - 3.0 * PAD - writing(lines)];
                let least =
                    (0..2).map(|k| (bounds[1][k] - bounds[0][k]) / room[k].max(1.0)).fold(0.0, f64::max);
                Self { columns, rows, cell, listed, lines, divisor: scale(least), bounds, person_at, measure }
            })
            // The largest pictures; of equals the fewest cells left empty, then choices each on a line.
            .reduce(|best, next| {
                let key = |l: &Self| (l.divisor, l.columns * l.rows, !l.listed);
                if key(&next) < key(&best) { next } else { best }
            })
            .filter(|_| !tried.shown.is_empty())
    }

    fn page(&self, tried: &Tried, chunk: &[(&Variant, &Measured)], page: usize, pages: usize) -> Drawing {
        let mut drawing = Drawing {
            name: if pages == 1 { "vary".to_owned() } else { format!("vary-{page}") },
            title: format!("{}: variants", tried.name),
            ..Drawing::default()
        };
        self.head(&mut drawing, tried, page, pages);
        for (k, (variant, measured)) in chunk.iter().enumerate() {
            #[allow(clippy::cast_precision_loss, reason = "a few")]
            let (column, row) = ((k % self.columns) as f64, (k / self.columns) as f64);
            let left = MARGIN + column * self.cell[0];
            let top = PAPER[1] - MARGIN - HEAD - row * self.cell[1];
            self.draw(&mut drawing, tried, variant, measured, [left, top]);
        }
        self.foot(&mut drawing, tried);
        drawing
    }

    fn head(&self, drawing: &mut Drawing, tried: &Tried, page: usize, pages: usize) {
        let y = PAPER[1] - MARGIN - TITLE;
        write(drawing, [MARGIN, y], TITLE, &tried.name);
        let kept = tried.variants.iter().filter(|v| v.kept().is_some()).count();
        let mut said = format!("{} of {} variants", tried.shown.len(), tried.variants.len());
        if kept > tried.shown.len() {
            said.push_str(&format!(", those farthest apart of {kept} kept"));
        }
        let fell = tried.fell_out_words();
        if !fell.is_empty() {
            said.push_str(&format!("; fell out: {fell}"));
        }
        if pages > 1 {
            said.push_str(&format!("; page {page} of {pages}"));
        }
        let right = PAPER[0] - MARGIN;
        let room = right - MARGIN - width(&tried.name, TITLE) - 10.0;
        let said = shortened(&said, room, TEXT);
        write(drawing, [right - width(&said, TEXT), y], TEXT, &said);
    }

    fn foot(&self, drawing: &mut Drawing, tried: &Tried) {
        let bar = scale_bar([MARGIN, MARGIN], self.divisor);
        drawing.paths.extend(bar.paths);
        drawing.labels.extend(bar.labels);
        let x = MARGIN + 185.0;
        let said = format!("All pictures at one scale, {} beside each.", self.measure.words());
        write(drawing, [x, MARGIN + 5.5], SMALL, &said);
        let pick = format!("ribwright vary {} --pick NUMBER", tried.script);
        let said = format!("Pick one: {}", shortened(&pick, 210.0, SMALL));
        write(drawing, [x, MARGIN + 1.0], SMALL, &said);
        let caution = "Preliminary: margins are checked, strength, wind and ground are not.";
        write(drawing, [PAPER[0] - MARGIN - width(caution, SMALL), MARGIN + 5.5], SMALL, caution);
    }

    /// One variant in its cell, whose upper left corner is `corner`.
    fn draw(
        &self,
        drawing: &mut Drawing,
        tried: &Tried,
        variant: &Variant,
        measured: &Measured,
        [left, top]: [f64; 2],
    ) {
        let [w, h] = self.cell;
        let bottom = top - h;
        let border = vec![[left, bottom], [left + w, bottom], [left + w, top], [left, top]];
        drawing.paths.push(Path::closed(Layer::Helper, border));
        let number = variant.number.to_string();
        write(drawing, [left + PAD, top - PAD - NUMBER], NUMBER, &number);
        if tried.is_present(variant) {
            let x = left + PAD + width(&number, NUMBER) + 4.0;
            write(drawing, [x, top - PAD - TEXT], TEXT, "as it is now");
        }
        // The picture stands on the writing, in the middle of the cell.
        let [low, high] = self.bounds;
        let across = (high[0] - low[0]) / self.divisor;
        let origin = [
            left + (w - across) / 2.0 - low[0] / self.divisor,
            bottom + 2.0 * PAD + writing(self.lines) - low[1] / self.divisor,
        ];
        let place = |[x, y]: [f64; 2]| [origin[0] + x / self.divisor, origin[1] + y / self.divisor];
        let person = self.measure.paths().into_iter().map(|path| {
            let points = path.points.iter().map(|[x, y]| [x + self.person_at, y * up()]).collect();
            Path { points, ..path }
        });
        let own = measured.picture.paths.iter().cloned();
        drawing.paths.extend(own.chain(person).map(|path| {
            let points = path.points.iter().map(|p| place(*p)).collect();
            Path { points, ..path }
        }));
        // Figures stand at the same height in all cells.
        let choices = of_choices(variant, self.listed, w - 2.0 * PAD);
        let figures = filled(&facts(&measured.figures), w - 2.0 * PAD);
        #[allow(clippy::cast_precision_loss, reason = "a few")]
        let line = |k: usize| bottom + PAD + (k as f64) * LINE;
        for (k, text) in figures.iter().enumerate() {
            write(drawing, [left + PAD, line(self.lines[1] - 1 - k)], TEXT, text);
        }
        for (k, text) in choices.iter().enumerate() {
            let y = line(self.lines[0] + self.lines[1] - 1 - k) + BETWEEN;
            write(drawing, [left + PAD, y], TEXT, text);
        }
    }
}

/// How long an upright length is in the pictorial view, as a share of it.
fn up() -> f64 {
    Projection::from_direction(PICTORIAL[0], PICTORIAL[1]).project(&Vector3::z()).y
}

/// The least round scale that is not below.
fn scale(least: f64) -> f64 {
    let scales = (0..=POWERS).flat_map(|power| STEPS.map(|step| step * 10_f64.powi(power)));
    scales.into_iter().find(|s| *s >= least).unwrap_or(least)
}

fn write(drawing: &mut Drawing, at: [f64; 2], height: f64, text: &str) {
    drawing.labels.push(Label { at, height, angle: 0.0, centred: false, text: text.to_owned() });
}

/// Between choices and figures, mm.
const BETWEEN: f64 = 1.6;

/// Height of so many lines of choices and figures, mm.
#[allow(clippy::cast_precision_loss, reason = "a few")]
fn writing([choices, figures]: [usize; 2]) -> f64 {
    (choices + figures) as f64 * LINE + BETWEEN
}

/// The choices of a variant, each on a line or as many to a line as fit.
fn of_choices(variant: &Variant, listed: bool, room: f64) -> Vec<String> {
    let choices = variant.choices.iter().map(|c| format!("{} {}", c.choice.name, c.choice.words(&c.value)));
    let choices: Vec<String> = choices.collect();
    let mut lines = if listed {
        choices.iter().map(|c| shortened(c, room, TEXT)).collect()
    } else {
        filled(&choices, room)
    };
    if lines.len() > CHOICE_LINES {
        lines.truncate(CHOICE_LINES);
        if let Some(last) = lines.last_mut() {
            *last = shortened(&format!("{last} … in the table"), room, TEXT);
        }
    }
    lines
}

/// The figures that matter, in words.
fn facts(figures: &Figures) -> Vec<String> {
    let margin = match figures.least_margin_mm {
        Some(margin) => format!("margin {margin:.0} mm"),
        None => "no margin".to_owned(),
    };
    let sheet = format!("{:.1} m² of sheet", figures.parts_area_mm2 / 1.0e6);
    let mut all = vec![
        format!("{:.2} m high", figures.height_mm / 1000.0),
        format!("{:.0} kg", figures.mass_with_all_kg),
        margin,
        sheet,
    ];
    all.extend(figures.sheets.map(|count| format!("{count} sheets cut")));
    all.push(format!("{:.1} m of seam", figures.seam_length_mm / 1000.0));
    all
}

/// Words with commas between them, as many to a line as fit.
fn filled(words: &[String], room: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in words {
        match lines.last_mut() {
            Some(line) if width(&format!("{line}, {word}"), TEXT) <= room => {
                line.push_str(", ");
                line.push_str(word);
            }
            _ => lines.push(shortened(word, room, TEXT)),
        }
    }
    lines
}

/// A text cut short where it is wider than the room.
fn shortened(text: &str, room: f64, height: f64) -> String {
    if width(text, height) <= room {
        return text.to_owned();
    }
    let mut letters: Vec<char> = text.chars().collect();
    while letters.len() > 1 {
        letters.pop();
        let cut: String = letters.iter().collect::<String>().trim_end().to_owned() + " …";
        if width(&cut, height) <= room {
            return cut;
        }
    }
    letters.iter().collect()
}
