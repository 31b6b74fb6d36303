//! Made-up sheets whose folds are known, and readings of them.

use crate::Random;
use ribwright_kernel::profile::Profile;
use ribwright_kernel::survey::{RawSheet, Reading};
use std::fmt::Write;

/// A sheet whose folds are known.
#[derive(Debug, Clone)]
pub struct TrueSheet {
    /// Distances along the sheet, mm.
    pub stations: Vec<f64>,
    /// Across, by fold and station, mm.
    pub across: Vec<Vec<f64>>,
    /// Depth under the crests, by fold and station, mm.
    pub depth: Vec<Vec<f64>>,
}

impl TrueSheet {
    /// A sheet that is true to its profile, beginning with its corner `first`, `edge` mm from the edge.
    pub fn nominal(profile: &Profile, first: usize, edge: f64, folds: usize, stations: &[f64]) -> Self {
        let corners = profile.corners();
        let at = |k: usize| {
            let pitches = (k / corners.len()) as f64;
            [corners[k % corners.len()][0] + pitches * profile.pitch(), corners[k % corners.len()][1]]
        };
        let from = at(first)[0] - edge;
        let row = |of: &dyn Fn([f64; 2]) -> f64| -> Vec<Vec<f64>> {
            (first..first + folds).map(|k| vec![of(at(k)); stations.len()]).collect()
        };
        Self {
            stations: stations.to_vec(),
            across: row(&|c| c[0] - from),
            depth: row(&|c| profile.max_height() - c[1]),
        }
    }

    /// Adds to every point: across and depth, given fold and station.
    pub fn bend(&mut self, mut by: impl FnMut(usize, usize) -> [f64; 2]) {
        for fold in 0..self.across.len() {
            for station in 0..self.stations.len() {
                let [across, depth] = by(fold, station);
                self.across[fold][station] += across;
                self.depth[fold][station] += depth;
            }
        }
    }

    /// One reading of every point with errors of these standard deviations, `times` over.
    pub fn read(&self, name: &str, deviations: [f64; 2], times: usize, random: &mut Random) -> RawSheet {
        let mut sheet = RawSheet { name: name.to_owned(), line: 2, ..RawSheet::default() };
        for _ in 0..times {
            for (s, &station) in self.stations.iter().enumerate() {
                for fold in 0..self.across.len() {
                    let across = self.across[fold][s] + deviations[0] * random.normal();
                    let depth = self.depth[fold][s] + deviations[1] * random.normal();
                    let line = 2 + sheet.readings.len() as u64;
                    let fold = fold as u32 + 1;
                    sheet.readings.push(Reading {
                        line,
                        station,
                        fold,
                        across: Some(across),
                        depth: Some(depth),
                    });
                }
            }
        }
        sheet
    }
}

/// Rows of a yard file for the readings of a sheet, rounded to half a millimetre as people read a tape.
pub fn rows(sheet: &RawSheet) -> String {
    let half = |x: Option<f64>| x.map_or(String::new(), |x| format!("{}", (x * 2.0).round() / 2.0 + 0.0));
    let mut text = String::new();
    for r in &sheet.readings {
        // A String takes whatever is written to it.
        let (across, depth) = (half(r.across), half(r.depth));
        let _ = writeln!(text, "{},fold,{},{},{across},{depth},,", sheet.name, r.station, r.fold);
    }
    text
}

/// The made-up yard of `fixtures/yard`: its CSV file, and the traced section of its last sheet.
///
/// Twenty sheets of the rib of `scripts/examples/first.rhai`, some 2400 × 1000 to 1200 mm. Pitches wander by up to
/// 2 mm, depths by up to 1.5 mm, and one end of each is 3 to 8 mm wider. S04 and S11 hold a misreading each.
pub fn made_up_yard(profile: &Profile) -> [String; 2] {
    let mut random = Random::new(20_251_125);
    let mut text = String::from(
        "sheet,what,station,fold,across,depth,value,text\n\
         ,profile,,,,,,trapezoid pitch=200 depth=40 crest=70 valley=70 thickness=2 bend_radius=6\n",
    );
    let mut trace = String::new();
    for number in 1..=20_usize {
        let name = format!("S{number:02}");
        let folds = 21 + random.below(4);
        let length = (2400.0 + random.between(-8.0, 8.0)).round();
        let stations = [80.0, 650.0, 1200.0, 1750.0, length - 80.0];
        let edge = random.between(12.0, 28.0);
        let mut truth = TrueSheet::nominal(profile, random.below(4), edge, folds, &stations);
        let wide = random.between(3.0, 8.0);
        let far = random.percent(50);
        let phases = [(); 4].map(|()| random.between(0.0, 6.0));
        truth.bend(|fold, s| {
            let share = stations[s] / length;
            let wider = if far { share } else { 1.0 - share } * wide * fold as f64 / folds as f64;
            let (f, s) = (fold as f64, s as f64);
            let across = 1.15 * (phases[0] + 0.55 * f + 0.7 * s).sin() + wider;
            // The straightedge rests on crests, so that little is left to read there.
            let valley =
                if profile.corners().len() == 4 { (phases[1] + 0.4 * f + 0.6 * s).sin() } else { 0.0 };
            [across, 1.5 * valley]
        });
        for row in &mut truth.depth {
            for depth in row.iter_mut().filter(|d| **d < 10.0) {
                *depth = (*depth / 4.0).abs();
            }
        }
        let width = |s: usize| truth.across[folds - 1][s] + edge;
        let line = |text: &mut String, row: String| {
            text.push_str(&row);
            text.push('\n');
        };
        line(&mut text, format!("{name},length,,,,,{length},"));
        line(&mut text, format!("{name},width,0,,,,{:.0},", width(0)));
        line(&mut text, format!("{name},width,{length},,,,{:.0},", width(4)));
        for station in [0.0, 1200.0, length] {
            line(&mut text, format!("{name},thickness,{station},,,,{:.2},", random.between(1.82, 2.03)));
        }
        if random.percent(60) {
            line(&mut text, format!("{name},grade,,,,,,S355J2W"));
        }
        let mut raw = truth.read(&name, [0.4, 0.25], 1, &mut random);
        // Nobody reads less than nothing under a straightedge.
        for r in &mut raw.readings {
            r.depth = r.depth.map(|d| d.max(0.0));
        }
        match number {
            4 => misread(&mut raw, 650.0, 9, |r| r.across = r.across.map(|x| x + 18.0)),
            11 => misread(&mut raw, 1750.0, 6, |r| r.depth = r.depth.map(|x| x + 10.0)),
            7 => raw.readings.retain(|r| !(r.station == 1200.0 && (10..13).contains(&r.fold))),
            20 => {
                trace = section(&truth, 2, width(2));
                raw.readings.retain(|r| r.station != 1200.0);
            }
            _ => {}
        }
        text.push_str(&rows(&raw));
        if number % 5 == 0 {
            let mut again = truth.read(&name, [0.4, 0.25], 1, &mut random);
            again.readings.retain(|r| r.station == 650.0 && r.fold % 3 == 0);
            again.readings.iter_mut().for_each(|r| r.depth = None);
            text.push_str(&rows(&again).replace(",fold,", ",again,"));
        }
        if number == 20 {
            line(&mut text, format!("{name},trace,1200,,,,,S20-1200.svg"));
        }
        damage(&mut text, &name, number, length, width(2));
    }
    [text, trace]
}

fn misread(sheet: &mut RawSheet, station: f64, fold: u32, change: impl Fn(&mut Reading)) {
    sheet.readings.iter_mut().filter(|r| r.station == station && r.fold == fold).for_each(change);
}

/// Outlines of what cannot be used, on some of the sheets.
fn damage(text: &mut String, name: &str, number: usize, length: f64, width: f64) {
    let mut outline = |what: &str, outline: usize, words: &str, corners: &[[f64; 2]]| {
        for (k, [station, across]) in corners.iter().enumerate() {
            let words = if k == 0 { words } else { "" };
            let _ = writeln!(text, "{name},{what},{station:.0},,{across:.0},,{outline},{words}");
        }
    };
    match number {
        2 => outline(
            "hole",
            1,
            "",
            &[[820.0, 310.0], [905.0, 300.0], [930.0, 365.0], [870.0, 400.0], [810.0, 370.0]],
        ),
        5 => outline(
            "rust",
            1,
            "along the edge",
            &[[0.0, 0.0], [640.0, 0.0], [600.0, 55.0], [330.0, 80.0], [120.0, 62.0], [0.0, 70.0]],
        ),
        9 => {
            outline(
                "cut",
                1,
                "",
                &[[1500.0, width - 90.0], [1720.0, width - 95.0], [1720.0, width], [1500.0, width]],
            );
            outline("hole", 2, "bolt", &[[300.0, 500.0], [322.0, 500.0], [322.0, 522.0], [300.0, 522.0]]);
        }
        13 => outline(
            "damage",
            1,
            "dent",
            &[[1100.0, 620.0], [1300.0, 600.0], [1370.0, 700.0], [1280.0, 790.0], [1120.0, 760.0]],
        ),
        16 => outline("cut", 1, "corner gone", &[[length - 260.0, 0.0], [length, 0.0], [length, 190.0]]),
        _ => {}
    }
}

/// The cross-section of a sheet at a station as an SVG file in true size, right-hand edge on the right.
fn section(sheet: &TrueSheet, station: usize, width: f64) -> String {
    let first = sheet.depth[0][station];
    let last = sheet.depth[sheet.depth.len() - 1][station];
    let mut points = vec![[0.0, first]];
    points.extend(sheet.across.iter().zip(&sheet.depth).map(|(a, d)| [a[station], d[station]]));
    points.push([width, last]);
    let d: Vec<String> =
        points.iter().map(|p| format!("{:.2} {:.2}", 10.0 + width - p[0], 10.0 + p[1])).collect();
    let size = width + 20.0;
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{size:.2}mm\" height=\"70mm\" viewBox=\"0 0 {size:.2} 70\">\n\
         <path fill=\"none\" stroke=\"black\" stroke-width=\"0.5\" d=\"M{}\"/>\n</svg>\n",
        d.join(" L")
    )
}
