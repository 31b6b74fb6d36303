//! Settings of stages over one small work: each stage ends with output whose numbers are numbers, or with a plain error.

use super::settings::{checked, given, registry};
use super::{End, Source, plain};
use crate::case::profile;
use ribwright_kernel::registry::find;
use ribwright_kernel::sculpture::{Element, Sculpture};
use ribwright_kernel::settings::{Value, Values};
use ribwright_kernel::stage::Stage;
use ribwright_kernel::{Work, run_stages, work_out, write_files};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// Stages that ask for another one before them.
const BEFORE: [(&str, &[&str]); 4] = [
    ("frame", &["spine", "mass", "wind"]),
    ("costs", &["cutting"]),
    ("balance", &["mass"]),
    ("lifting", &["mass"]),
];

pub(super) fn feed(bytes: &[u8]) -> Result<End, String> {
    let mut source = Source::new(bytes);
    let registry = registry();
    let with_settings: Vec<&Stage> = registry.stages.iter().filter(|row| !row.settings.is_empty()).collect();
    let row = with_settings[source.below(with_settings.len())];
    let given = given(row.settings, &mut source);
    if checked(row.name, row.settings, &given)?.is_none() {
        return Ok(End::Refused);
    }
    let mut work = small().clone();
    work.sculpture.stages.insert(row.name.to_owned(), given.clone());
    let before = BEFORE.iter().find(|(name, _)| *name == row.name).map_or(&[][..], |(_, before)| before);
    let only: Vec<String> = before.iter().copied().chain([row.name]).map(str::to_owned).collect();
    let told = |what: &str| format!("{} {given:?}: {what}", row.name);
    let output = match run_stages(&work, registry, &only) {
        Ok(output) => output,
        Err(error) => return plain(&error).map(|_| End::Refused).map_err(|e| told(&e)),
    };
    for table in &output.tables {
        let csv = format!("{table:?}");
        for word in ["NaN", "inf"] {
            // As a number of its own, not within a word.
            if csv.split(|c: char| !c.is_alphanumeric()).any(|piece| piece == word) {
                return Err(told(&format!("a table with {word}: {}", around(&csv, word))));
            }
        }
    }
    for finding in &output.findings {
        if finding.message.contains("NaN")
            || finding.message.contains("inf ")
            || finding.remedy.contains("NaN")
        {
            return Err(told(&format!("a finding: {finding:?}")));
        }
    }
    match write_files(&work, &output, registry) {
        Ok(files) if files.is_empty() => Err(told("no files")),
        Ok(_) => Ok(End::Taken),
        Err(error) => plain(&error).map(|_| End::Refused).map_err(|e| told(&e)),
    }
}

fn around(text: &str, word: &str) -> String {
    let at = text.find(word).unwrap_or(0);
    text.chars().skip(text[..at].chars().count().saturating_sub(200)).take(400).collect()
}

/// Two leaning blocks, worked out once.
fn small() -> &'static Work {
    static WORK: OnceLock<Work> = OnceLock::new();
    WORK.get_or_init(|| {
        let registry = registry();
        let sheet = profile(
            "trapezoid",
            &[
                ("pitch", 200.0),
                ("depth", 40.0),
                ("crest", 70.0),
                ("valley", 70.0),
                ("thickness", 2.0),
                ("bend_radius", 6.0),
            ],
        )
        .unwrap_or_else(|e| panic!("{e}"));
        let mut sculpture = Sculpture::new("Small");
        for (name, kind, sizes) in [
            ("A", "frustum", [("sides", 4.0), ("base", 900.0), ("top", 700.0), ("height", 1100.0)]),
            ("B", "frustum", [("sides", 3.0), ("base", 500.0), ("top", 400.0), ("height", 600.0)]),
        ] {
            let row = find("element", &registry.elements, kind).unwrap_or_else(|e| panic!("{e}"));
            let mut given: BTreeMap<String, Value> =
                sizes.iter().map(|(name, x)| ((*name).to_owned(), Value::Number(*x))).collect();
            given.insert("lean".to_owned(), Value::Number(5.0));
            let values = Values::check(kind, row.settings, &given).unwrap_or_else(|e| panic!("{e}"));
            let mut element = Element::new((row.build)(name, &values).unwrap_or_else(|e| panic!("{e}")));
            element.clad(&sheet);
            let placed = if name == "A" {
                sculpture.stand(element)
            } else {
                let how = ribwright_kernel::sculpture::Stacking {
                    sink: 120.0,
                    turn: 20.0,
                    ..ribwright_kernel::sculpture::Stacking::on("A/top")
                };
                sculpture.stack(element, &how)
            };
            placed.unwrap_or_else(|e| panic!("{e}"));
        }
        work_out(&sculpture, registry).unwrap_or_else(|e| panic!("{e}"))
    })
}
