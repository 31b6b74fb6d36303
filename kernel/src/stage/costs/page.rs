//! The client's page, A4, as a drawing: written from the top down, the picture takes what is left.

use crate::costs::sheet::{PAGE, money, rounded};
use crate::costs::{ClientSheet, Estimate, Range};
use crate::drawing::{Drawing, Label, Layer, Path};
use crate::lettering::width;
use crate::output::Output;
use crate::settings::Values;
use crate::work::Work;

/// White round the page, mm.
const MARGIN: f64 = 18.0;
/// Heights of capitals, mm: 11 points and more, save for the small print.
const TITLE: f64 = 7.0;
const HEAD: f64 = 4.4;
const BODY: f64 = 2.9;
const SMALL: f64 = 2.5;
/// From line to line, in heights of capitals.
const LEADING: f64 = 1.9;
/// Height of a row of the table, mm.
const ROW: f64 = 7.0;
/// Right ends of the columns of figures, mm.
const COLUMNS: [f64; 3] = [118.0, 154.0, PAGE[0] - MARGIN];
/// Least and greatest height of the picture, mm.
const PICTURE: [f64; 2] = [30.0, 110.0];

pub(super) fn sheet(
    work: &Work,
    output: &Output,
    set: &Values,
    estimate: &Estimate,
    without: Vec<String>,
) -> ClientSheet {
    let (groups, price, likely) = rounded(estimate);
    let given = |name: &str, heading: &str| set.text(name).map(|t| [heading.to_owned(), t.to_owned()]);
    let about = [given("client", "For"), given("maker", "From"), given("date", "Date")];
    let tax = estimate.rates.of("tax").range;
    let totals = estimate.totals();
    let step = crate::costs::sheet::step(price[1]);
    let taxed = (tax[2] > 0.0).then(|| (tax[1], totals.taxed.map(|x| (x / step).round() * step)));
    let mut sheet = ClientSheet {
        work: work.sculpture.name.clone(),
        about: about.into_iter().flatten().collect(),
        figures: figures(work, output),
        currency: estimate.rates.currency.clone(),
        groups,
        price,
        likely,
        taxed,
        without,
        remarks: remarks(set.count("valid")),
        draft: (!estimate.made_up().is_empty())
            .then(|| "DRAFT, not to be sent: some of the rates behind it are made up.".to_owned()),
        picture: output.views.iter().find(|v| v.name == "pictorial").and_then(picture),
        page: Drawing::default(),
    };
    sheet.page = page(&sheet);
    sheet
}

/// Room for the picture on a page of its own, mm, and the white round it.
const OWN: [f64; 2] = [130.0, 78.0];
const AIR: f64 = 1.0;

/// The view without names and measures, as large as its room takes, and the size of its page.
fn picture(view: &Drawing) -> Option<(Drawing, [f64; 2])> {
    let mut bare = view.clone();
    bare.paths.retain(|p| matches!(p.layer, Layer::Seam | Layer::Fold));
    let [low, high] = bare.bounds()?;
    let size = [high[0] - low[0], high[1] - low[1]];
    let scale = (OWN[0] / size[0]).min(OWN[1] / size[1]);
    for p in bare.paths.iter_mut().flat_map(|p| &mut p.points) {
        *p = [0, 1].map(|k| AIR + (p[k] - low[k]) * scale);
    }
    let drawing = Drawing {
        name: "picture".to_owned(),
        title: "Pictorial view".to_owned(),
        paths: bare.paths,
        ..Drawing::default()
    };
    scale.is_finite().then(|| (drawing, size.map(|x| x * scale + 2.0 * AIR)))
}

fn figures(work: &Work, output: &Output) -> Vec<[String; 2]> {
    let mut all: Vec<[String; 2]> = Vec::new();
    let mut add = |name: &str, words: String| all.push([name.to_owned(), words]);
    if let Some([low, high]) = work.mesh.bounds() {
        let size = high - low;
        add("Height", format!("{:.2} m", size.z / 1000.0));
        add("In plan", format!("{:.2} × {:.2} m", size.x / 1000.0, size.y / 1000.0));
    }
    add("Mass", format!("about {:.0} kg", output.mass.total().mass));
    add("Elements", work.sculpture.elements.len().to_string());
    add("Sheet", format!("{:.1} m²", work.area / 1.0e6));
    all
}

fn remarks(valid: u32) -> Vec<String> {
    let days = if valid == 1 { "day" } else { "days" };
    vec![
        format!(
            "This is an estimate, no offer: worked out from the drawn shape and from rates the maker supplied. It holds for \
             {valid} {days}."
        ),
        "Low and high: everything turns out cheap, or dear, at once. Likely: what comes of each of the uncertainties alone, \
         added as the root of their squares."
            .to_owned(),
        "Structure, lifting and finish are preliminary. A licensed engineer and the local code decide, and what they ask for \
         may change the price."
            .to_owned(),
    ]
}

/// A pen that writes downward.
struct Pen {
    drawing: Drawing,
    y: f64,
}

impl Pen {
    fn write(&mut self, x: f64, height: f64, text: &str) {
        let text = plain(text);
        self.drawing.labels.push(Label { at: [x, self.y], height, angle: 0.0, centred: false, text });
    }

    fn right(&mut self, x: f64, height: f64, text: &str) {
        self.write(x - width(&plain(text), height), height, text);
    }

    fn rule(&mut self, layer: Layer, above: f64) {
        let y = self.y + above;
        self.drawing.paths.push(Path::open(layer, vec![[MARGIN, y], [PAGE[0] - MARGIN, y]]));
    }

    /// Words in lines, from here down.
    fn flow(&mut self, height: f64, text: &str) {
        for line in wrapped(text, height, PAGE[0] - 2.0 * MARGIN) {
            self.y -= height * LEADING;
            self.write(MARGIN, height, &line);
        }
    }

    /// A row of the table: what, low, usual, high.
    fn row(&mut self, name: &str, range: Range, height: f64) {
        self.y -= ROW;
        self.write(MARGIN, height, name);
        for (x, sum) in COLUMNS.into_iter().zip(range) {
            self.right(x, height, &money(sum));
        }
    }
}

/// Signs of currencies that the lettering has none for, as their ISO 4217 codes.
fn plain(text: &str) -> String {
    text.replace('€', "EUR").replace('£', "GBP").replace('¥', "JPY")
}

fn wrapped(text: &str, height: f64, room: f64) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let Some(last) = lines.last_mut() else { break };
        let longer = if last.is_empty() { word.to_owned() } else { format!("{last} {word}") };
        if last.is_empty() || width(&plain(&longer), height) <= room {
            *last = longer;
        } else {
            lines.push(word.to_owned());
        }
    }
    lines
}

fn joined(pairs: &[[String; 2]]) -> String {
    pairs.iter().map(|[name, words]| format!("{name}: {words}")).collect::<Vec<_>>().join(";  ")
}

fn page(sheet: &ClientSheet) -> Drawing {
    let drawing = Drawing {
        name: "estimate".to_owned(),
        title: format!("{}, estimate", sheet.work),
        ..Drawing::default()
    };
    let mut pen = Pen { drawing, y: PAGE[1] - MARGIN };
    let room = PAGE[0] - 2.0 * MARGIN;
    pen.y -= HEAD;
    pen.write(MARGIN, HEAD, "Estimate");
    if let Some(draft) = &sheet.draft {
        pen.flow(HEAD, draft);
    }
    pen.y -= 5.0;
    // A long name is written smaller, so that it stays on its line.
    let title = (TITLE * room / width(&plain(&sheet.work), TITLE).max(room)).max(BODY);
    pen.y -= TITLE;
    pen.write(MARGIN, title, &sheet.work);
    pen.y -= 2.0;
    if !sheet.about.is_empty() {
        pen.y -= 2.0;
        for pair in &sheet.about {
            pen.flow(BODY, &joined(std::slice::from_ref(pair)));
        }
    }
    let top = pen.y - 5.0;
    // Everything below the picture, written first as if there were none.
    let start = pen.drawing.labels.len();
    pen.flow(BODY, &joined(&sheet.figures));
    pen.y -= 4.0;
    table(&mut pen, sheet);
    pen.y -= 4.0;
    let before = if sheet.taxed.is_some() { " before tax" } else { "" };
    let [low, high] = sheet.likely.map(money);
    pen.flow(HEAD, &format!("Likely between {low} and {high} {}{before}.", sheet.currency));
    pen.y -= 3.0;
    if !sheet.without.is_empty() {
        pen.flow(BODY, &format!("Not in it: {}.", sheet.without.join(", ")));
    }
    pen.y -= 2.0;
    for remark in &sheet.remarks {
        pen.flow(SMALL, remark);
        pen.y -= 1.2;
    }
    let spare = (pen.y - MARGIN).clamp(0.0, PICTURE[1] + 5.0);
    let lines = pen.drawing.paths.len();
    let moved = if spare >= PICTURE[0] + 5.0 && sheet.picture.is_some() { spare } else { 0.0 };
    for label in &mut pen.drawing.labels[start..] {
        label.at[1] -= moved;
    }
    for p in pen.drawing.paths[..lines].iter_mut().flat_map(|p| &mut p.points) {
        p[1] -= moved;
    }
    if let Some((view, _)) = sheet.picture.as_ref().filter(|_| moved > 0.0) {
        place(&mut pen.drawing, view, [room, moved - 5.0], top);
    }
    pen.drawing
}

fn table(pen: &mut Pen, sheet: &ClientSheet) {
    let tax = if sheet.taxed.is_some() { ", before tax" } else { "" };
    pen.y -= ROW;
    pen.write(MARGIN, BODY, &format!("Price in {}{tax}", sheet.currency));
    for (x, word) in COLUMNS.into_iter().zip(["low", "usual", "high"]) {
        pen.right(x, BODY, word);
    }
    pen.rule(Layer::Seam, -2.2);
    for (name, range) in &sheet.groups {
        pen.row(name, *range, BODY);
        pen.rule(Layer::Fold, -2.2);
    }
    pen.row("Together", sheet.price, BODY * 1.15);
    pen.rule(Layer::Seam, -2.2);
    if let Some((per_cent, range)) = sheet.taxed {
        pen.row(&format!("with {per_cent} % tax"), range, BODY);
        pen.rule(Layer::Fold, -2.2);
    }
}

/// Puts the view into a room whose upper edge lies at `top`, in the middle of the page.
fn place(page: &mut Drawing, view: &Drawing, [wide, high]: [f64; 2], top: f64) {
    let Some([low, up]) = view.bounds() else { return };
    let size = [up[0] - low[0], up[1] - low[1]];
    let scale = (wide / size[0]).min(high / size[1]);
    if !scale.is_finite() {
        return;
    }
    let at = [(PAGE[0] - size[0] * scale) / 2.0, top - size[1] * scale];
    for path in &view.paths {
        let points = path.points.iter().map(|p| [0, 1].map(|k| at[k] + (p[k] - low[k]) * scale)).collect();
        page.paths.push(Path { points, ..path.clone() });
    }
}
