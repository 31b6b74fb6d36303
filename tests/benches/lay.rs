//! Lays the parts of strip-packing sets and prints the density reached: area of the parts over the area of the strip
//! up to where it is used.
//!
//! Usage: cargo bench -p ribwright-tests --bench lay -- SET.json… [--tries N]. The sets are JSON files with `Items`
//! (`Demand`, `AllowedOrientations`, `Shape.Data` as a closed ring) and `Strip.Height`, as public collections of
//! cutting and packing problems hold them. None is kept here.

use ribwright_kernel::lay::{self, Need, Options, Piece, lay};
use ribwright_kernel::profile::{Piece as Run, Profile};
use ribwright_kernel::settings::{Value, Values};
use ribwright_kernel::stock::{NominalSheet, Stock};
use serde_json::Value as Json;
use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Instant;

/// mm per unit of the sets.
const UNIT: f64 = 100.0;

fn main() {
    let mut files = Vec::new();
    let mut tries = 160.0;
    let mut given = std::env::args().skip(1);
    while let Some(word) = given.next() {
        match word.as_str() {
            "--tries" => tries = given.next().and_then(|t| t.parse().ok()).expect("a count"),
            "--bench" => {}
            _ => files.push(word),
        }
    }
    for file in files {
        let set: Json = serde_json::from_str(&std::fs::read_to_string(&file).expect("a file")).expect("JSON");
        density(&set, tries);
    }
}

fn density(set: &Json, tries: f64) {
    let flat = Arc::new(
        Profile::from_pieces("flat", vec![Run::Flat { length: UNIT }], 1.0, 0.0).expect("a flat profile"),
    );
    let (mut pieces, mut turns) = (Vec::new(), 1);
    for (index, item) in set["Items"].as_array().expect("items").iter().enumerate() {
        turns = turns.max(item["AllowedOrientations"].as_array().map_or(1, Vec::len));
        let number = |v: &Json| v.as_f64().expect("a number") * UNIT;
        let ring = item["Shape"]["Data"].as_array().expect("a ring");
        let mut outline: Vec<[f64; 2]> = ring.iter().map(|p| [number(&p[0]), number(&p[1])]).collect();
        outline.pop();
        if ribwright_kernel::drawing::signed_area(&outline) < 0.0 {
            outline.reverse();
        }
        for copy in 0..item["Demand"].as_u64().expect("a count") {
            pieces.push(Piece {
                part: index,
                id: format!("{index}.{copy}"),
                outlines: vec![outline.clone()],
                need: Need::Flat { thickness: 1.0 },
            });
        }
    }
    let width = set["Strip"]["Height"].as_f64().expect("a height") * UNIT;
    let area: f64 = pieces.iter().map(Piece::area).sum();
    let stock = Stock::Nominal(NominalSheet {
        damage: Vec::new(),
        name: "strip".into(),
        length: 4.0 * area / width,
        width,
        profile: flat,
        first_crest: None,
        grade: String::new(),
        count: 1,
    });
    let settings: BTreeMap<String, Value> = [
        ("spacing", 0.0),
        ("margin", 0.0),
        ("tries", tries),
        ("turns", f64::from(u32::try_from(turns).expect("few"))),
    ]
    .into_iter()
    .map(|(name, x)| (name.to_owned(), Value::Number(x)))
    .collect();
    let options = Options::new(&Values::check("lay", lay::ROWS, &settings).expect("allowed"));
    let start = Instant::now();
    let layout = lay(&pieces, &[stock], &[], &options).expect("laid");
    let length = layout.placements.iter().map(|p| p.bounds[1][0]).fold(0.0, f64::max);
    println!(
        "{}: {} parts, {} left out, length {:.2}, density {:.2} %, {:.1} s",
        set["Name"].as_str().unwrap_or("set"),
        pieces.len(),
        layout.unplaced.len(),
        length / UNIT,
        100.0 * area / (length * width),
        start.elapsed().as_secs_f64()
    );
}
