//! A blank survey form: two pages to print, fill in beside the sheet, and type off into a yard file.

use crate::drawing::{Drawing, Label, Layer, Path};
use crate::lettering;

/// Width and height of what is drawn on an A4 page, mm.
const SIZE: [f64; 2] = [186.0, 258.0];
/// Heights of lettering, mm.
const TITLE: f64 = 5.5;
const HEADING: f64 = 3.4;
const WRITING: f64 = 2.4;
const STEP: f64 = 2.4;
/// Rows and stations of the table of readings.
const ROWS: u32 = 32;
const STATIONS: u32 = 4;

const STEPS: [&str; 11] = [
    "1  Lay the sheet flat, outside up. Choose a start end; paint START there, and the sheet's name.",
    "2  Stand at the start end and look along the ribs: at your right hand is the RIGHT-HAND EDGE.",
    "3  Number the folds from 1 at that edge. A fold is the line where a flat and a slope would meet",
    "   if the bend were sharp; on round ribs, the lines along crests and valleys.",
    "4  Choose stations: one within a hand of each end, two or more between. Note their distances.",
    "5  ACROSS: hook the tape to the right-hand edge, pull it square to the ribs, read every fold",
    "   without moving it. A crooked edge: snap a chalk line and measure from that.",
    "6  DEPTH: a straightedge over the crests, read down to the sheet beside the fold; 0 on a crest.",
    "7  Read a few folds again on another pull of the tape: it shows misreadings.",
    "   Leave blank what you cannot read.",
    "8  Wear gloves: edges are sharp, and rusted sheet can give way. Two people turn a sheet.",
];

/// The pages of the form, each a drawing in true size for A4.
pub fn form() -> Vec<Drawing> {
    vec![first_page(), readings_page()]
}

struct Page(Drawing);

impl Page {
    fn new(name: &str) -> Self {
        let frame = vec![[0.0, 0.0], [SIZE[0], 0.0], SIZE, [0.0, SIZE[1]]];
        let title = "survey form; all lengths in mm".to_owned();
        let paths = vec![Path::closed(Layer::Mark, frame)];
        Self(Drawing { name: name.to_owned(), title, paths, ..Drawing::default() })
    }

    fn line(&mut self, layer: Layer, points: &[[f64; 2]]) {
        self.0.paths.push(Path::open(layer, points.to_vec()));
    }

    fn write(&mut self, at: [f64; 2], height: f64, text: &str) {
        self.0.labels.push(Label { at, height, angle: 0.0, centred: false, text: text.to_owned() });
    }

    fn centred(&mut self, at: [f64; 2], height: f64, text: &str) {
        self.0.labels.push(Label { at, height, angle: 0.0, centred: true, text: text.to_owned() });
    }

    /// A word and a line behind it to write on, up to `to`.
    fn field(&mut self, at: [f64; 2], to: f64, word: &str) {
        self.write(at, HEADING, word);
        let from = at[0] + lettering::width(word, HEADING) + 2.0;
        self.line(Layer::Mark, &[[from, at[1] - 1.0], [to, at[1] - 1.0]]);
    }

    /// A line with an open head at its end.
    fn arrow(&mut self, from: [f64; 2], to: [f64; 2]) {
        let d = [to[0] - from[0], to[1] - from[1]];
        let long = d[0].hypot(d[1]);
        let [x, y] = d.map(|c| c / long * 2.2);
        self.line(Layer::Lead, &[from, to]);
        let head =
            [[to[0] - x - y / 2.0, to[1] - y + x / 2.0], to, [to[0] - x + y / 2.0, to[1] - y - x / 2.0]];
        self.line(Layer::Lead, &head);
    }

    /// Upright and level lines of a table.
    fn grid(&mut self, columns: &[f64], rows: &[f64]) {
        let (left, right) = (columns[0], columns[columns.len() - 1]);
        let (top, bottom) = (rows[0], rows[rows.len() - 1]);
        for &x in columns {
            self.line(Layer::Mark, &[[x, top], [x, bottom]]);
        }
        for &y in rows {
            self.line(Layer::Mark, &[[left, y], [right, y]]);
        }
    }
}

fn first_page() -> Drawing {
    let mut page = Page::new("survey-form-1");
    page.write([6.0, 246.0], TITLE, "Survey of a corrugated sheet");
    page.write([118.0, 246.0], WRITING, "lengths in mm; write 347.5, not 347,5");
    page.field([6.0, 234.0], 62.0, "sheet");
    page.field([66.0, 234.0], 122.0, "grade");
    page.field([126.0, 234.0], 180.0, "length");
    page.field([6.0, 224.0], 92.0, "width at the start end");
    page.field([96.0, 224.0], 180.0, "width at the far end");
    page.field([6.0, 214.0], 92.0, "thickness, three places");
    page.field([96.0, 214.0], 180.0, "note");
    page.field([6.0, 204.0], 74.0, "profile made to: kind");
    for (k, word) in (0_u32..).zip(["pitch", "depth", "crest", "valley"]) {
        let left = 77.0 + 26.5 * f64::from(k);
        page.field([left, 204.0], left + 24.0, word);
    }
    let mut y = 194.0;
    for step in STEPS {
        page.write([6.0, y], STEP, step);
        y -= 4.3;
    }
    plan_sketch(&mut page);
    section_sketch(&mut page);
    damage_table(&mut page);
    page.0
}

/// The sheet from above: edges, ends, stations and the numbers of folds.
fn plan_sketch(page: &mut Page) {
    let ([left, bottom], [right, top]) = ([30.0, 106.0], [140.0, 142.0]);
    let outline = vec![[left, bottom], [right, bottom], [right, top], [left, top]];
    page.0.paths.push(Path::closed(Layer::Cut, outline));
    for (k, across) in [4.0, 7.0, 12.0, 15.0, 20.0, 23.0, 28.0, 31.0].into_iter().enumerate() {
        let y = bottom + across;
        page.line(Layer::Fold, &[[left, y], [right, y]]);
        page.centred([left - 2.4, y], 2.2, &(k + 1).to_string());
    }
    for (k, x) in [42.0, 75.0, 105.0, 134.0].into_iter().enumerate() {
        page.line(Layer::Helper, &[[x, bottom - 2.0], [x, top + 2.0]]);
        page.centred([x, top + 4.5], WRITING, &format!("station {}", k + 1));
    }
    page.arrow([left, bottom - 4.0], [75.0, bottom - 4.0]);
    page.write([77.0, bottom - 5.2], WRITING, "stations from the start end");
    page.arrow([150.0, bottom], [150.0, bottom + 20.0]);
    page.write([152.0, bottom + 12.0], WRITING, "ACROSS from the");
    page.write([152.0, bottom + 8.0], WRITING, "right-hand edge");
    page.write([145.0, bottom - 5.0], WRITING, "RIGHT-HAND EDGE");
    page.arrow([8.0, f64::midpoint(bottom, top)], [24.0, f64::midpoint(bottom, top)]);
    page.write([6.0, 134.0], WRITING, "START END");
    page.write([6.0, 129.0], WRITING, "stand here,");
    page.write([6.0, 119.0], WRITING, "look along");
    page.write([6.0, 115.0], WRITING, "the ribs");
}

/// The sheet from its start end: straightedge, gauge, and the numbers of folds from the right.
fn section_sketch(page: &mut Page) {
    let (base, right) = (78.0, 176.0);
    let mut points = vec![[right, base]];
    let mut x = right - 6.0;
    let mut number = 1;
    for _ in 0..4 {
        for (step, height) in [(0.0, 0.0), (6.0, 12.0), (14.0, 12.0), (6.0, 0.0)] {
            x -= step;
            points.push([x, base + height]);
            // Below a crest, between its webs; below a valley, under the corner.
            let aside = if height == 0.0 {
                0.0
            } else if step > 6.0 {
                3.4
            } else {
                -3.4
            };
            page.centred([x + aside, base + height - 2.6], 2.2, &number.to_string());
            number += 1;
        }
        x -= 12.0;
    }
    points.push([x + 6.0, base]);
    page.0.paths.push(Path::open(Layer::Cut, points));
    let bar = base + 12.6;
    page.0.paths.push(Path::closed(
        Layer::Lead,
        vec![[22.0, bar], [right - 4.0, bar], [right - 4.0, bar + 2.4], [22.0, bar + 2.4]],
    ));
    page.write([24.0, bar + 3.6], WRITING, "straightedge over the crests, as seen from the start end");
    let valley = right - 38.0;
    page.arrow([valley, bar], [valley, base + 0.4]);
    page.centred([valley, base - 6.5], WRITING, "DEPTH");
    page.write([140.0, bar + 3.6], WRITING, "RIGHT-HAND EDGE");
    page.arrow([right, bar + 3.0], [right, base + 1.0]);
}

fn damage_table(page: &mut Page) {
    page.write([6.0, 64.0], HEADING, "Holes, rust, old cuts: outlines, corner by corner");
    let columns = [6.0, 25.0, 42.0, 66.0, 91.0];
    let rows: Vec<f64> = (0..=8).map(|k| 60.0 - 7.0 * f64::from(k)).collect();
    for shift in [0.0, 89.0] {
        let columns: Vec<f64> = columns.iter().map(|x| x + shift).collect();
        page.grid(&columns, &rows);
        for (k, word) in ["what", "outline", "station", "across"].into_iter().enumerate() {
            page.write([columns[k] + 1.5, rows[1] + 2.2], WRITING, word);
        }
    }
}

fn readings_page() -> Drawing {
    let mut page = Page::new("survey-form-2");
    page.write([6.0, 246.0], TITLE, "Readings");
    page.field([60.0, 246.0], 116.0, "sheet");
    page.field([122.0, 246.0], 180.0, "page");
    let width = (SIZE[0] - 12.0 - 12.0) / f64::from(STATIONS);
    let mut columns = vec![6.0, 18.0];
    for k in 0..STATIONS {
        let left = 18.0 + width * f64::from(k);
        columns.extend([left + width / 2.0, left + width]);
        page.write([left + 1.5, 232.5], WRITING, "station");
        page.line(Layer::Mark, &[[left, 240.0], [left, 228.5]]);
        page.write([left + 1.5, 224.5], WRITING, "across");
        page.write([left + width / 2.0 + 1.5, 224.5], WRITING, "depth");
    }
    let right = columns[columns.len() - 1];
    page.line(Layer::Mark, &[[18.0, 240.0], [right, 240.0]]);
    page.line(Layer::Mark, &[[right, 240.0], [right, 228.5]]);
    page.write([7.5, 224.5], WRITING, "fold");
    let height = 6.05;
    let mut rows = vec![228.5];
    rows.extend((0..=ROWS).map(|k| 222.5 - height * f64::from(k)));
    page.grid(&columns, &rows);
    for k in 0..ROWS {
        page.centred([12.0, 222.5 - height * (f64::from(k) + 0.5)], WRITING, &(k + 1).to_string());
    }
    let lines = [
        "Fold 1 is nearest to the right-hand edge. Second readings of a place: write them beside the first.",
        "Type one row per reading:   sheet,what,station,fold,across,depth,value,text",
        "for instance   S01,fold,600,7,347.5,40,,    S01,again,600,7,348,,,    S01,length,,,,,2400,",
        "S01,width,0,,,,1003,    S01,hole,820,,310,,1,    S01,grade,,,,,,S355J2W    S01,note,,,,,,bent",
        "Profile, of all sheets where sheet is blank:   ,profile,,,,,,trapezoid pitch=200 depth=40 crest=70 valley=70",
    ];
    for (k, line) in (0..).zip(lines) {
        page.write([6.0, 22.0 - 4.4 * f64::from(k)], WRITING, line);
    }
    page.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_form_stays_inside_its_frame() {
        for page in form() {
            let [lo, hi] = lettering::extents(&page).expect("drawn");
            assert_eq!((lo, hi), ([0.0; 2], SIZE), "{}", page.name);
        }
    }
}
