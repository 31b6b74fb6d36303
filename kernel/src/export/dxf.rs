//! The dxf writer: one cut file per part, and one per sheet once parts are laid.
//!
//! Files are R2000, in mm, with one closed LWPOLYLINE per outline and no layer that is not in use. What stands round
//! the entities comes from the `dxf` crate; `tidy` sets right what version 0.6 of it leaves broken, so that strict readers
//! have nothing to repair, and takes out what would differ from run to run. It depends on nothing but the layers in use,
//! so it is made once for all drawings that use the same; the entities, which are most of a file, are written here.

use super::svg::push_whole;
use super::{OutFile, Writer};
use crate::drawing::{Drawing, LAYERS, Layer};
use crate::error::{Error, Result};
use crate::lettering;
use crate::output::Output;
use crate::work::Work;
use dxf::enums::{AcadVersion, DrawingUnits, Units};
use dxf::{Block, Color};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

/// The registry row.
pub const ROW: Writer = Writer {
    name: "dxf",
    summary: "one cut file per part and per laid sheet, with bend lines, marks and lettering",
    write,
};

fn write(_work: &Work, output: &Output) -> Result<Vec<OutFile>> {
    files(output)
}

fn files(output: &Output) -> Result<Vec<OutFile>> {
    let parts = output.templates.iter().filter_map(|part| {
        let template = &part.templates[part.to_cut()?];
        Some((format!("cut/{}.dxf", part.stem), &template.drawing))
    });
    let sheets = output.sheets.iter().map(|s| (format!("cut/sheet_{}.dxf", s.stem), &s.drawing));
    let flats = output.flats.iter().map(|f| (format!("cut/{}.dxf", f.stem), &f.drawing));
    // Not under `cut`: a plotter or a knife takes them, no torch.
    let papers = output.papers.iter().map(|p| (format!("templates/{}.dxf", p.stem), &p.drawing));
    let all: Vec<(String, &Drawing)> = parts.chain(sheets).chain(flats).chain(papers).collect();
    let mut surrounds = BTreeMap::new();
    for (_, drawing) in &all {
        let layers: Vec<Layer> = drawing.layers().collect();
        if let Entry::Vacant(place) = surrounds.entry(layers) {
            let surround = Surround::of(place.key())?;
            place.insert(surround);
        }
    }
    all.into_par_iter()
        .map(|(path, drawing)| {
            let draw = || {
                drawing.validate()?;
                let layers: Vec<Layer> = drawing.layers().collect();
                let surround = surrounds.get(&layers).ok_or_else(|| Error::bug("layers without a file"))?;
                Ok(surround.round(drawing).into_bytes())
            };
            let bytes = output.memo.file(&path, drawing, draw).map_err(|e| e.at(path.as_str()))?;
            Ok(OutFile { path, bytes })
        })
        .collect()
}

/// A drawing as an ASCII DXF file of version R2000, in mm; lettering is polylines on the layer TEXT.
///
/// # Tolerance
/// Coordinates are rounded to 1e-9 mm, those of writing to 0.001 mm.
///
/// # Errors
/// A drawing that [`Drawing::validate`] refuses.
pub fn drawing_to_dxf(drawing: &Drawing) -> Result<Vec<u8>> {
    drawing.validate()?;
    let layers: Vec<Layer> = drawing.layers().collect();
    Ok(Surround::of(&layers)?.round(drawing).into_bytes())
}

/// A file without entities, with places for what depends on them.
#[derive(Debug, Clone)]
struct Surround {
    text: String,
    /// Byte offsets at which something is to be put in, ascending.
    holes: Vec<(usize, Hole)>,
    /// The record that owns all entities.
    owner: String,
    /// The first handle for them.
    first_free: u64,
}

/// What is put into a [`Surround`].
#[derive(Debug, Clone, Copy)]
enum Hole {
    /// A coordinate of the least corner of the drawing, by axis.
    Least(usize),
    /// Of the greatest.
    Greatest(usize),
    /// Of the middle of the view.
    Middle(usize),
    /// Height of the view.
    Height,
    /// The first handle that is not used.
    Seed,
    Entities,
}

impl Surround {
    /// The file round the entities of a drawing that uses these layers.
    fn of(layers: &[Layer]) -> Result<Self> {
        let mut file = dxf::Drawing::new();
        let header = &mut file.header;
        header.version = AcadVersion::R2000;
        header.default_drawing_units = Units::Millimeters;
        header.drawing_units = DrawingUnits::Metric;
        header.fingerprint_guid = Default::default();
        header.version_guid = Default::default();
        // Adding a block adds its record: without the records that are there already.
        while file.remove_block_record(0).is_some() {}
        for name in ["*MODEL_SPACE", "*PAPER_SPACE"] {
            let is_in_paperspace = name == "*PAPER_SPACE";
            file.add_block(Block { name: name.into(), is_in_paperspace, ..Block::default() });
        }
        for &layer in layers {
            add_layer(&mut file, layer);
        }
        let mut bytes = Vec::new();
        file.save(&mut bytes).map_err(|e| Error::bug(format!("the DXF file could not be written: {e}")))?;
        tidy(&bytes)
    }

    /// The whole file of a drawing.
    fn round(&self, drawing: &Drawing) -> String {
        let [lo, hi] = lettering::extents(drawing).unwrap_or_default();
        let mut handle = self.first_free;
        let mut entities = Pairs::default();
        for layer in drawing.layers() {
            let mut add = |points: &[[f64; 2]], closed: bool| {
                entities.entity(handle, &self.owner, layer, points, closed);
                handle += 1;
            };
            for path in drawing.on(layer) {
                add(&path.points, path.closed);
            }
            if layer == Layer::Text {
                for label in &drawing.labels {
                    lettering::each_stroke(label, |stroke| add(stroke, false));
                }
            }
        }
        let mut out = Pairs { text: String::with_capacity(self.text.len() + entities.text.len() + 256) };
        let mut from = 0;
        for &(at, hole) in &self.holes {
            out.text.push_str(&self.text[from..at]);
            from = at;
            match hole {
                Hole::Least(axis) => out.number(lo[axis]),
                Hole::Greatest(axis) => out.number(hi[axis]),
                Hole::Middle(axis) => out.number((lo[axis] + hi[axis]) / 2.0),
                Hole::Height => out.number((hi[1] - lo[1]).max(hi[0] - lo[0]) * 1.05),
                Hole::Seed => out.text.push_str(&format!("{handle:X}")),
                Hole::Entities => out.text.push_str(&entities.text),
            }
        }
        out.text.push_str(&self.text[from..]);
        out.text
    }
}

/// Line type, colour number and weight of a layer; the line type's pattern is that of the page.
fn add_layer(file: &mut dxf::Drawing, layer: Layer) {
    let (line_type, colour) = match layer {
        Layer::Cut => ("CONTINUOUS", 7),
        Layer::BendDown => ("LONG-DASH", 5),
        Layer::BendUp => ("DASH-DOT", 1),
        Layer::Mountain => ("MOUNTAIN-DASH", 5),
        Layer::Valley => ("VALLEY-DASH", 1),
        Layer::Outline => ("OUTLINE-DASH", 2),
        Layer::Lead => ("CONTINUOUS", 30),
        Layer::Mark => ("CONTINUOUS", 3),
        Layer::Text => ("CONTINUOUS", 4),
        Layer::Seam => ("CONTINUOUS", 6),
        Layer::Fold => ("CONTINUOUS", 8),
        Layer::Helper => ("SHORT-DASH", 9),
    };
    let dashes = layer.style().dashes;
    if !dashes.is_empty() {
        // Lengths drawn are positive, lengths left out negative.
        let signed: Vec<f64> = dashes.iter().enumerate().map(|(i, d)| d * [1.0, -1.0][i % 2]).collect();
        file.add_line_type(dxf::tables::LineType {
            name: line_type.into(),
            element_count: i32::try_from(signed.len()).unwrap_or_default(),
            total_pattern_length: dashes.iter().sum(),
            dash_dot_space_lengths: signed,
            ..Default::default()
        });
    }
    file.add_layer(dxf::tables::Layer {
        name: layer.name().into(),
        color: Color::from_index(colour),
        line_type_name: line_type.into(),
        ..Default::default()
    });
}

/// Coordinates are rounded to this fraction of a mm: far finer than any machine, and it keeps files short.
const STEPS_PER_MM: f64 = 1.0e9;
/// Writing is rounded to this fraction of a mm: most of a file is writing.
const TEXT_STEPS_PER_MM: f64 = 1.0e3;

/// The line weight that means 'as the layer has it' (group 370).
const BY_LAYER: &str = "-2";

/// Rewrites the pairs of group code and value as strict readers want them.
///
/// Left out: the dates (they differ from run to run and, being local, from place to place) and empty
/// pointers. Added: handles of table heads and block ends, owners, the type flag of dashes, line weights,
/// the tables VIEW and UCS, and the root dictionary. Group codes are those of the published DXF reference
/// for R2000, which gives a DIMSTYLE its handle in group 105.
fn tidy(bytes: &[u8]) -> Result<Surround> {
    let text = std::str::from_utf8(bytes).map_err(|e| Error::bug(format!("the DXF text is broken: {e}")))?;
    let lines: Vec<&str> = text.lines().collect();
    let pairs = || lines.chunks_exact(2).map(|pair| (pair[0].trim(), pair[1]));
    let used = pairs().filter(|(code, _)| *code == "5").filter_map(|(_, h)| u64::from_str_radix(h, 16).ok());
    let mut out = Rewritten {
        pairs: Pairs { text: String::with_capacity(text.len() * 3 / 2) },
        holes: Vec::new(),
        next_handle: used.max().unwrap_or_default() + 1,
    };
    // `record` is the value of the last group 0; an `owner` is written behind the handle of a record.
    let (mut section, mut table, mut record, mut owner) = ("", "", "", String::new());
    let (mut skipping, mut variable, mut name) = (false, "", "");
    let mut spaces: Vec<&str> = Vec::new();
    let mut block = 0;
    for (code, value) in pairs() {
        if code == "0" || code == "9" {
            skipping = code == "9" && value.starts_with("$TD");
            variable = value;
        }
        if skipping {
            continue;
        }
        if code == "0" {
            match value {
                "BLOCK" => owner = spaces.get(block).copied().unwrap_or("0").to_owned(),
                "ENDBLK" => block += 1,
                "ENDSEC" if section == "TABLES" => out.empty_tables(),
                "ENDSEC" if section == "ENTITIES" => out.holes.push((out.pairs.text.len(), Hole::Entities)),
                "ENDSEC" if section == "OBJECTS" => out.dictionaries(),
                _ => {}
            }
            record = value;
        }
        match (section, record, code) {
            (_, "SECTION", "2") => {
                (section, record) = (value, "");
                if section == "ENTITIES" {
                    owner = spaces.first().copied().unwrap_or("0").to_owned();
                }
                out.pair("2", value);
            }
            ("HEADER", _, "5") if variable == "$HANDSEED" => out.hole("5", Hole::Seed),
            ("HEADER", _, "10") if variable == "$EXTMIN" => out.hole("10", Hole::Least(0)),
            ("HEADER", _, "20") if variable == "$EXTMIN" => out.hole("20", Hole::Least(1)),
            ("HEADER", _, "10") if variable == "$EXTMAX" => out.hole("10", Hole::Greatest(0)),
            ("HEADER", _, "20") if variable == "$EXTMAX" => out.hole("20", Hole::Greatest(1)),
            ("TABLES", "VPORT", "12") => out.hole("12", Hole::Middle(0)),
            ("TABLES", "VPORT", "22") => out.hole("22", Hole::Middle(1)),
            ("TABLES", "VPORT", "40") => out.hole("40", Hole::Height),
            ("TABLES", "TABLE", "2") => {
                table = value;
                owner = out.handle();
                out.pair("2", value);
                out.pair("5", &owner);
                out.pair("330", "0");
            }
            ("TABLES", "TABLE", "70") => {
                out.pair("70", value);
                if table == "DIMSTYLE" {
                    out.pair("100", "AcDbDimStyleTable");
                    out.pair("71", "0");
                }
            }
            ("TABLES", _, "5") => {
                if table == "BLOCK_RECORD" {
                    spaces.push(value);
                }
                out.pair(if table == "DIMSTYLE" { "105" } else { "5" }, value);
                out.pair("330", &owner);
            }
            ("TABLES", "DIMSTYLE", "340" | "341" | "342" | "343" | "344") => {}
            ("TABLES", "LAYER", "2") => {
                name = value;
                out.pair("2", value);
            }
            ("TABLES", "LAYER", "370") => out.pair("370", &weight(name).to_string()),
            ("TABLES", "LAYER", "390") => {}
            ("TABLES", "LTYPE", "49") => {
                out.pair("49", value);
                out.pair("74", "0");
            }
            ("BLOCKS", "ENDBLK", "5") => {
                let handle = out.handle();
                out.pair("5", &handle);
                out.pair("330", &owner);
            }
            ("BLOCKS" | "ENTITIES", _, "5") => {
                out.pair("5", value);
                out.pair("330", &owner);
            }
            ("BLOCKS" | "ENTITIES", _, "330") => {}
            _ => out.pair(code, value),
        }
    }
    let owner = spaces.first().copied().unwrap_or("0").to_owned();
    Ok(Surround { text: out.pairs.text, holes: out.holes, owner, first_free: out.next_handle })
}

/// Line weight of a layer in hundredths of a mm, one of those the format allows.
fn weight(layer: &str) -> i16 {
    const ALLOWED: [i16; 8] = [13, 15, 18, 20, 25, 30, 35, 50];
    let Some(layer) = LAYERS.into_iter().find(|l| l.name() == layer) else { return DEFAULT_WEIGHT };
    let wanted = layer.style().width * 100.0;
    let heavy_enough = ALLOWED.into_iter().find(|&w| f64::from(w) >= wanted.round());
    heavy_enough.unwrap_or(DEFAULT_WEIGHT)
}

/// The line weight that means 'the reader's default' (group 370).
const DEFAULT_WEIGHT: i16 = -3;

/// Pairs of group code and value, as text.
#[derive(Debug, Default)]
struct Pairs {
    text: String,
}

/// Whole numbers up to this are exact as floating-point numbers.
const EXACT: f64 = 9.0e15;

impl Pairs {
    /// A group code on its line; its value is to follow.
    fn code(&mut self, code: &str) {
        for _ in code.len()..3 {
            self.text.push(' ');
        }
        self.text.push_str(code);
        self.text.push_str("\r\n");
    }

    fn pair(&mut self, code: &str, value: &str) {
        self.code(code);
        self.text.push_str(value);
        self.text.push_str("\r\n");
    }

    /// A pair whose value is a number.
    fn coordinate(&mut self, code: &str, value: f64) {
        self.code(code);
        self.number(value);
        self.text.push_str("\r\n");
    }

    /// A number to [`STEPS_PER_MM`], with one decimal at least.
    fn number(&mut self, value: f64) {
        let steps = (value * STEPS_PER_MM).round();
        if steps.abs() > EXACT {
            self.text.push_str(&format!("{value:.1}"));
            return;
        }
        if steps < 0.0 {
            self.text.push('-');
        }
        // Whole numbers are written many times faster than decimals, and a file is made of them.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked above")]
        let steps = steps.abs() as u64;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a whole number")]
        let per_mm = STEPS_PER_MM as u64;
        let (whole, mut rest) = (steps / per_mm, steps % per_mm);
        let mut digits = [b'0'; 9];
        for digit in digits.iter_mut().rev() {
            #[allow(clippy::cast_possible_truncation, reason = "one digit")]
            let last = (rest % 10) as u8;
            *digit += last;
            rest /= 10;
        }
        let used = digits.iter().rposition(|&d| d != b'0').map_or(1, |last| last + 1);
        push_whole(&mut self.text, whole);
        self.text.push('.');
        self.text.extend(digits[..used].iter().map(|&d| char::from(d)));
    }

    /// A line of two points, or a polyline; writing is rounded more coarsely.
    fn entity(&mut self, handle: u64, owner: &str, layer: Layer, points: &[[f64; 2]], closed: bool) {
        let steps = if layer == Layer::Text { TEXT_STEPS_PER_MM } else { STEPS_PER_MM };
        let round = |x: f64| (x * steps).round() / steps;
        let line = match points {
            [a, b] if !closed && layer != Layer::Text => Some([a, b]),
            _ => None,
        };
        self.pair("0", if line.is_some() { "LINE" } else { "LWPOLYLINE" });
        self.pair("5", &format!("{handle:X}"));
        self.pair("330", owner);
        self.pair("100", "AcDbEntity");
        self.pair("8", layer.name());
        self.pair("370", BY_LAYER);
        if let Some([a, b]) = line {
            self.pair("100", "AcDbLine");
            for (codes, p) in [(["10", "20", "30"], a), (["11", "21", "31"], b)] {
                self.coordinate(codes[0], round(p[0]));
                self.coordinate(codes[1], round(p[1]));
                self.coordinate(codes[2], 0.0);
            }
            return;
        }
        self.pair("100", "AcDbPolyline");
        self.pair("90", &points.len().to_string());
        self.pair("70", if closed { "1" } else { "0" });
        for p in points {
            self.coordinate("10", round(p[0]));
            self.coordinate("20", round(p[1]));
        }
    }
}

/// What [`tidy`] writes.
struct Rewritten {
    pairs: Pairs,
    holes: Vec<(usize, Hole)>,
    next_handle: u64,
}

impl Rewritten {
    fn pair(&mut self, code: &str, value: &str) {
        self.pairs.pair(code, value);
    }

    /// A pair whose value is put in later.
    fn hole(&mut self, code: &str, hole: Hole) {
        self.pairs.code(code);
        self.holes.push((self.pairs.text.len(), hole));
        self.pairs.text.push_str("\r\n");
    }

    fn handle(&mut self) -> String {
        self.next_handle += 1;
        format!("{:X}", self.next_handle - 1)
    }

    /// Tables that readers expect though nothing is in them.
    fn empty_tables(&mut self) {
        for name in ["VIEW", "UCS"] {
            let handle = self.handle();
            for (code, value) in [
                ("0", "TABLE"),
                ("2", name),
                ("5", &handle),
                ("330", "0"),
                ("100", "AcDbSymbolTable"),
                ("70", "0"),
                ("0", "ENDTAB"),
            ] {
                self.pair(code, value);
            }
        }
    }

    /// The root dictionary, holding an empty dictionary of groups.
    fn dictionaries(&mut self) {
        let (root, groups) = (self.handle(), self.handle());
        for (code, value) in [
            ("0", "DICTIONARY"),
            ("5", root.as_str()),
            ("330", "0"),
            ("100", "AcDbDictionary"),
            ("281", "1"),
            ("3", "ACAD_GROUP"),
            ("350", &groups),
            ("0", "DICTIONARY"),
            ("5", &groups),
            ("330", &root),
            ("100", "AcDbDictionary"),
            ("281", "1"),
        ] {
            self.pair(code, value);
        }
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::drawing::{Label, Path};
    use dxf::entities::EntityType;

    /// A plate with a wavy edge and a hole, bends, marks and writing.
    pub(crate) fn sample() -> Drawing {
        let wave = (0..=120).map(|i| {
            let x = f64::from(i) * 5.0;
            [x, 400.0 + 20.0 * (x / 200.0 * std::f64::consts::TAU).sin()]
        });
        let outline = [[0.0, 0.0], [600.0, 0.0]].into_iter().chain(wave.rev()).collect();
        let hole = (0..48).map(|i| {
            let (sin, cos) = (f64::from(i) * std::f64::consts::TAU / 48.0).sin_cos();
            [300.0 + 40.0 * cos, 150.0 - 40.0 * sin]
        });
        let line = |layer, x: f64| Path::open(layer, vec![[x, 0.0], [x, 380.0]]);
        let label =
            |at, text: &str, angle, centred| Label { at, height: 15.0, angle, centred, text: text.into() };
        Drawing {
            name: "A_east".into(),
            title: "A/east, blank".into(),
            paths: vec![
                Path::closed(Layer::Cut, outline),
                Path::closed(Layer::Cut, hole.collect()),
                line(Layer::BendDown, 100.0),
                line(Layer::BendUp, 200.0),
                line(Layer::BendDown, 400.0),
                line(Layer::BendUp, 500.0),
                line(Layer::Mark, 300.0),
                Path::open(Layer::Mark, vec![[40.0, 250.0], [50.0, 300.0], [60.0, 250.0]]),
            ],
            labels: vec![
                label([300.0, 340.0], "A/east 45° r6", 0.0, true),
                label([95.0, 60.0], "down 45° ø12", 90.0, false),
            ],
            diagram: false,
        }
    }

    /// Code and value of every pair of a file.
    fn pairs(bytes: &[u8]) -> Vec<(String, String)> {
        let text = String::from_utf8(bytes.to_vec()).expect("text");
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines.len() % 2, 0, "every code has its value");
        lines.chunks_exact(2).map(|p| (p[0].trim().to_owned(), p[1].to_owned())).collect()
    }

    #[test]
    fn two_runs_give_the_same_bytes_without_date_or_chance() {
        let first = drawing_to_dxf(&sample()).expect("written");
        std::thread::sleep(std::time::Duration::from_millis(5));
        assert_eq!(first, drawing_to_dxf(&sample()).expect("written"));
        assert!(!pairs(&first).iter().any(|(code, value)| code == "9" && value.starts_with("$TD")));
    }

    #[test]
    fn handles_are_used_once_and_the_seed_lies_above_them() {
        let pairs = pairs(&drawing_to_dxf(&sample()).expect("written"));
        let seed = pairs.iter().position(|p| p.1 == "$HANDSEED").expect("a seed");
        let number = |text: &str| u64::from_str_radix(text, 16).expect("hexadecimal");
        let mut handles: Vec<u64> = pairs[seed + 2..]
            .iter()
            .filter(|(code, _)| code == "5" || code == "105")
            .map(|(_, value)| number(value))
            .collect();
        handles.sort_unstable();
        let count = handles.len();
        handles.dedup();
        assert_eq!(handles.len(), count, "a handle is used twice");
        assert!(number(&pairs[seed + 1].1) > handles[count - 1], "the seed is a handle in use");
    }

    #[test]
    fn files_are_metric_and_hold_only_layers_in_use() {
        let bytes = drawing_to_dxf(&sample()).expect("written");
        let file = dxf::Drawing::load(&mut bytes.as_slice()).expect("readable");
        assert_eq!(file.header.version, AcadVersion::R2000);
        assert_eq!(file.header.default_drawing_units, Units::Millimeters);
        assert_eq!(file.header.drawing_units, DrawingUnits::Metric);
        let layers: Vec<&str> = file.layers().map(|l| l.name.as_str()).collect();
        assert_eq!(layers, ["0", "TEXT", "MARK", "BEND-DOWN", "BEND-UP", "CUT"]);
        for entity in file.entities() {
            assert!(layers[1..].contains(&entity.common.layer.as_str()), "{:?}", entity.common.layer);
            if entity.common.layer == "CUT" {
                let EntityType::LwPolyline(line) = &entity.specific else { panic!("{:?}", entity.specific) };
                assert!(line.is_closed());
            }
        }
    }

    #[test]
    fn area_survives_far_from_the_origin() {
        let mut drawing = sample();
        let area =
            |d: &Drawing| d.on(Layer::Cut).map(|p| crate::drawing::signed_area(&p.points)).sum::<f64>();
        for p in drawing.paths.iter_mut().flat_map(|p| &mut p.points) {
            *p = [p[0] + 1.0e5, p[1] - 3.0e5];
        }
        let bytes = drawing_to_dxf(&drawing).expect("written");
        let file = dxf::Drawing::load(&mut bytes.as_slice()).expect("readable");
        let read: f64 = file
            .entities()
            .filter(|e| e.common.layer == "CUT")
            .map(|e| {
                let EntityType::LwPolyline(line) = &e.specific else { panic!("{:?}", e.specific) };
                let points: Vec<_> = line.vertices.iter().map(|v| [v.x, v.y]).collect();
                crate::drawing::signed_area(&points)
            })
            .sum();
        let wanted = area(&sample());
        assert!((read - wanted).abs() < 1.0e-9 * wanted, "{read} is not {wanted}");
    }

    /// Templates of each kind for two parts, one of which has no blank.
    pub(crate) fn sample_output() -> Output {
        let template = |kind: &str, title: &str| crate::template::Template {
            kind: kind.into(),
            part: "A/east".into(),
            drawing: Drawing { title: title.into(), ..sample() },
            area: 0.0,
            cut_length: 0.0,
            bends: Vec::new(),
            datum: None,
        };
        let part = |stem: &str, kinds: &[&str]| crate::template::PartTemplates {
            part: 0,
            stem: stem.into(),
            templates: kinds.iter().map(|k| template(k, k)).collect(),
        };
        let views = vec![Drawing { name: "front".into(), ..sample() }];
        let templates = vec![part("A_west", &["wrap", "plan", "blank"]), part("A_east", &["plan", "wrap"])];
        Output { templates, views, ..Output::default() }
    }

    #[test]
    fn one_cut_file_is_written_per_part_in_the_order_of_the_parts() {
        let files = files(&sample_output()).expect("written");
        let paths: Vec<&str> = files.iter().map(|f| f.path.as_str()).collect();
        assert_eq!(paths, ["cut/A_west.dxf", "cut/A_east.dxf"]);
        let mut bad = sample_output();
        bad.templates[1].templates[0].drawing.paths[0].points[0][0] = f64::NAN;
        let error = super::files(&bad).expect_err("refused").to_string();
        assert!(error.starts_with("cut/A_east.dxf"), "{error}");
    }
}
