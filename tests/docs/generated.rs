//! The parts of README.md that are made: tables of the registry, and what its first script says; and how a made part of
//! any document is held.
//!
//! With RIBWRIGHT_BLESS=1 they are written anew instead of compared.

use crate::{root, text};
use ribwright_kernel::Registry;
use ribwright_kernel::registry::NamedRow;
use std::fmt::Write;

/// Name of the file the README tells its reader to save the first script as.
const FIRST: &str = "low_water.rhai";

/// Replaces what stands between the markers of a section.
#[track_caller]
fn with_section(document: &str, name: &str, made: &str) -> String {
    let (open, close) = (format!("<!-- made: {name} -->\n"), format!("<!-- end: {name} -->"));
    let (before, rest) =
        document.split_once(&open).unwrap_or_else(|| panic!("the document has no marker {open:?}"));
    let (_, after) =
        rest.split_once(&close).unwrap_or_else(|| panic!("the document has no marker {close:?}"));
    format!("{before}{open}{made}{close}{after}")
}

/// Holds one made section of a document against a fresh making, or writes it anew.
#[track_caller]
pub(crate) fn hold_section(path: &str, name: &str, made: &str) {
    let kept = text(path);
    hold(path, &kept, &with_section(&kept, name, made));
}

#[track_caller]
fn hold(path: &str, kept: &str, fresh: &str) {
    if std::env::var_os("RIBWRIGHT_BLESS").is_some() {
        std::fs::write(root().join(path), fresh).unwrap_or_else(|e| panic!("{path}: {e}"));
    } else {
        assert!(kept == fresh, "{path} is out of date; run this test with RIBWRIGHT_BLESS=1");
    }
}

fn rows<R: NamedRow>(title: &str, rows: &[R]) -> String {
    let mut out = format!("\n**{title}**\n\n| name | what it is | settings |\n|---|---|---|\n");
    for row in rows {
        let settings: Vec<String> = row
            .settings()
            .iter()
            .map(|s| {
                let unit = if s.unit.is_empty() { String::new() } else { format!(" {}", s.unit) };
                match s.default_text() {
                    d if d.is_empty() => format!("`{}`{unit}", s.name),
                    d => format!("`{}`{unit} ({d})", s.name),
                }
            })
            .collect();
        // A String takes whatever is written to it.
        let _ = writeln!(out, "| `{}` | {} | {} |", row.name(), row.summary(), settings.join(", "));
    }
    out
}

fn tables() -> String {
    let registry = Registry::standard();
    [
        "Defaults stand in brackets.\n".to_owned(),
        rows("Profile kinds", &registry.profiles),
        rows("Element makers", &registry.elements),
        "\nBeside these rows, `planes` and `hull` make elements from lists of planes and of points.\n"
            .to_owned(),
        rows("Joint kinds", &registry.joints),
        rows("Template kinds", &registry.templates),
        rows("Stages, in order", &registry.stages),
        rows("Writers", &registry.writers),
    ]
    .concat()
}

/// The first script of the README.
fn first_script(document: &str) -> String {
    let (_, rest) = document.split_once("```rhai\n").expect("README.md shows a script");
    rest.split_once("```").expect("the script ends").0.to_owned()
}

/// What a run of the command line says, with its folder taken out of the paths.
fn said(verb: &[&str], script: &str, wanted: u8) -> String {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join(FIRST), script).expect("written");
    let path = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    let mut args = vec!["ribwright".to_owned()];
    args.extend(verb.iter().map(|w| if *w == FIRST || *w == "out" { path(w) } else { (*w).to_owned() }));
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = ribwright_cli::run(&args, &Registry::standard(), &mut out, &mut err);
    let all = [err, out].concat();
    let all = String::from_utf8(all).expect("text").replace(&path(""), "");
    assert_eq!(code, wanted, "{all}");
    format!("```text\n{}\n```\n", all.trim_end())
}

#[test]
fn made_sections_of_the_readme_are_those_of_a_fresh_making() {
    let kept = text("README.md");
    let script = first_script(&kept);
    let mistaken = script.replace("bend_radius", "bend_radus");
    assert_ne!(script, mistaken, "the first script has a bend_radius");
    let mut fresh = with_section(&kept, "tables", &tables());
    fresh = with_section(&fresh, "output", &said(&["make", FIRST, "--out", "out"], &script, 0));
    fresh = with_section(&fresh, "mistake", &said(&["check", FIRST], &mistaken, 1));
    hold("README.md", &kept, &fresh);
}

#[test]
fn made_sections_are_replaced_and_nothing_else() {
    let document = "a\n<!-- made: x -->\nold\n<!-- end: x -->\nb\n";
    assert_eq!(with_section(document, "x", "new\n"), "a\n<!-- made: x -->\nnew\n<!-- end: x -->\nb\n");
}
