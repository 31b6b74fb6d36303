//! Rules of the code: what the kernel leaves alone, and the size of files.

use crate::modules::without_tests;
use crate::{files, text};

/// Longest file of the kernel, in lines.
const LONGEST_FILE: usize = 900;

#[test]
fn kernel_neither_reads_files_nor_prints_nor_asks_the_clock() {
    let forbidden =
        ["std::fs", "println!", "print!(", "eprintln!", "std::env", "std::net", "SystemTime", "Instant"];
    let mut wrong = Vec::new();
    for path in files("kernel/src", ".rs") {
        let text = text(&path);
        for (number, line) in without_tests(&text).lines().enumerate() {
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
