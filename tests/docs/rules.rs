//! Rules of the code: the order of modules, what the kernel leaves alone, and the size of files.

use crate::{files, text};
use std::collections::BTreeMap;

/// Longest file of the kernel, in lines.
const LONGEST_FILE: usize = 900;

/// Modules whose rows the registry lists; it alone may name what is below it.
const ROWS: [&str; 6] = ["profile", "element", "joint", "template", "stage", "export"];

/// The modules in the order of lib.rs, which is the order of use: a module uses only modules above it.
fn order() -> Vec<String> {
    let listed: Vec<String> = text("kernel/src/lib.rs")
        .lines()
        .filter_map(|line| line.trim_start_matches("pub ").strip_prefix("mod ")?.strip_suffix(';'))
        .map(str::to_owned)
        .collect();
    assert!(listed.len() >= 15, "the order of modules holds only {listed:?}");
    listed
}

/// The part of a file before its tests.
fn without_tests(text: &str) -> &str {
    text.split("#[cfg(test)]").next().unwrap_or_default()
}

/// Modules of this crate that a file names by `crate::`.
fn named(text: &str) -> Vec<String> {
    without_tests(text)
        .lines()
        .filter(|line| !line.trim_start().starts_with("//"))
        .flat_map(|line| line.match_indices("crate::").map(move |(at, found)| &line[at + found.len()..]))
        .flat_map(|rest| {
            let names = match rest.strip_prefix('{') {
                Some(group) => group.split('}').next().unwrap_or_default().split(',').collect(),
                None => vec![rest],
            };
            names.into_iter().map(|name| {
                name.trim().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>()
            })
        })
        .collect()
}

#[test]
fn kernel_modules_use_only_modules_above_them() {
    let order = order();
    let place: BTreeMap<&str, usize> = order.iter().enumerate().map(|(k, name)| (name.as_str(), k)).collect();
    let mut wrong = Vec::new();
    for path in files("kernel/src", ".rs") {
        let module = path.trim_start_matches("kernel/src/").split('/').next().unwrap_or_default();
        let module = module.trim_end_matches(".rs");
        let Some(&own) = place.get(module) else {
            assert_eq!(module, "lib", "{path} belongs to no module of the order");
            continue;
        };
        for used in named(&text(&path)) {
            let Some(&at) = place.get(used.as_str()) else { continue };
            // Rows of the registry are its own kind of thing: every module may be handed the registry and be
            // named by it.
            let rows = used == "registry" || module == "registry" && ROWS.contains(&used.as_str());
            if at > own && !rows {
                wrong.push(format!("{path} uses {used}, which is below {module}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn kernel_neither_reads_files_nor_prints_nor_asks_the_clock() {
    let forbidden =
        ["std::fs", "println!", "print!(", "eprintln!", "std::env", "std::net", "SystemTime", "Instant"];
    let mut wrong = Vec::new();
    for path in files("kernel/src", ".rs") {
        let text = text(&path);
        for (number, line) in without_tests(&text).lines().enumerate() {
            if line.trim_start().starts_with("//") {
                continue;
            }
            wrong.extend(
                forbidden
                    .iter()
                    .filter(|word| line.contains(**word))
                    .map(|word| format!("{path}:{}: {word}", number + 1)),
            );
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_file_says_first_what_it_is() {
    for folder in ["kernel/src", "scripts/src", "cli", "tests"] {
        for path in files(folder, ".rs") {
            assert!(text(&path).starts_with("//! "), "{path} does not begin with //!");
        }
    }
}

#[test]
fn kernel_files_stay_readable_in_one_go() {
    for path in files("kernel/src", ".rs") {
        let lines = text(&path).lines().count();
        assert!(lines <= LONGEST_FILE, "{path} has {lines} lines, more than {LONGEST_FILE}; split it");
    }
}

#[test]
fn comparisons_name_their_tolerances() {
    // A bare `1e-9` in a comparison says neither what it means nor how it was chosen.
    let mut wrong = Vec::new();
    for path in files("kernel/src", ".rs") {
        let text = text(&path);
        for (number, line) in without_tests(&text).lines().enumerate() {
            let code = line.split("//").next().unwrap_or_default();
            let bare = ["1e-", "1.0e-"].iter().any(|literal| code.contains(literal));
            let compares = [" < ", " > ", " <= ", " >= "].iter().any(|sign| code.contains(sign));
            if bare && compares && !code.trim_start().starts_with("const ") {
                wrong.push(format!("{path}:{}: {}", number + 1, line.trim()));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
