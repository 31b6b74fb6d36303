//! The table of licences: every crate that goes into the program, as `cargo metadata` tells it.
//!
//! LICENCES.md at the top is made of it (anew with RIBWRIGHT_BLESS=1). A crate whose licence is not among those that the
//! project's own, MIT OR Apache-2.0, can be given out with fails the test.

use crate::{root, text};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::process::Command;

/// Licences (SPDX) that ask for no more than to be named: what is given out with them may keep its own.
const ALLOWED: [&str; 10] = [
    "MIT",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "Zlib",
    "0BSD",
    "Unlicense",
    "CC0-1.0",
    "Unicode-3.0",
];
/// Weak copyleft, by file: allowed for crates that are taken as they are, and named on the page.
const BY_FILE: &str = "MPL-2.0+";

/// Of all platforms: what a build of this one did not need is fetched.
fn metadata() -> Value {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let output = Command::new(cargo)
        .args(["metadata", "--format-version", "1", "--locked"])
        .current_dir(root())
        .output()
        .expect("cargo runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("cargo metadata is JSON")
}

fn word<'a>(value: &'a Value, name: &str) -> &'a str {
    value[name].as_str().unwrap_or_else(|| panic!("no {name} in {value}"))
}

fn list<'a>(value: &'a Value, name: &str) -> &'a [Value] {
    value[name].as_array().unwrap_or_else(|| panic!("no list {name}"))
}

/// Ids of all packages that the program is built of, its own left out.
fn built_in(metadata: &Value) -> BTreeSet<&str> {
    let nodes: BTreeMap<&str, &Value> =
        list(&metadata["resolve"], "nodes").iter().map(|node| (word(node, "id"), node)).collect();
    let packages = list(metadata, "packages");
    let start = packages.iter().find(|p| word(p, "name") == "ribwright-cli").expect("the program's package");
    let (mut seen, mut waiting) = (BTreeSet::new(), vec![word(start, "id")]);
    while let Some(id) = waiting.pop() {
        if seen.insert(id) {
            let wanted = list(nodes[id], "deps").iter().filter(|dep| {
                // A kind of null is a plain dependency; build scripts and tests do not go into the program.
                list(dep, "dep_kinds").iter().any(|kind| kind["kind"].is_null())
            });
            waiting.extend(wanted.map(|dep| word(dep, "pkg")));
        }
    }
    let members: BTreeSet<&str> =
        list(metadata, "workspace_members").iter().filter_map(Value::as_str).collect();
    seen.retain(|id| !members.contains(id));
    seen
}

/// Whether one may take the licence so that only allowed ones bind: every part of an AND, one part of an OR.
fn is_allowed(expression: &str) -> bool {
    let plain = expression.replace('/', " OR ").replace(['(', ')'], "");
    let all = plain.split(" AND ").all(|part| part.split(" OR ").any(|l| ALLOWED.contains(&l.trim())));
    all || expression == BY_FILE
}

#[test]
fn every_crate_in_the_program_may_be_given_out_with_it_and_is_named() {
    let metadata = metadata();
    let ids = built_in(&metadata);
    let mut rows = Vec::new();
    for package in list(&metadata, "packages").iter().filter(|p| ids.contains(word(p, "id"))) {
        let name = word(package, "name");
        let licence = package["license"].as_str().unwrap_or_else(|| panic!("{name} tells no licence"));
        assert!(is_allowed(licence), "{name}: {licence} is not among the allowed licences");
        rows.push((name.to_owned(), word(package, "version").to_owned(), licence.to_owned()));
    }
    rows.sort();
    assert!(rows.len() > 50, "{} crates", rows.len());
    let mut page = String::from(
        "# Licences of what the program is built of\n\n\
         ribwright itself is MIT OR Apache-2.0, at your choice (LICENSE-MIT, LICENSE-APACHE). The job book embeds \
         Liberation Sans (SIL Open Font License 1.1, kernel/src/export/fonts/LICENSE.txt). This table is made by \
         `cargo test -p ribwright-tests --test docs` of what `cargo metadata` tells (RIBWRIGHT_BLESS=1 writes it anew); \
         a licence that is not on its list fails the test. Crates under MPL-2.0 are used as they are: their own files stay \
         under it. Known security advisories are not looked up here, as that needs a network.\n\n\
         | crate | version | licence |\n|---|---|---|\n",
    );
    for (name, version, licence) in &rows {
        // A String takes whatever is written to it.
        let _ = writeln!(page, "| {name} | {version} | {licence} |");
    }
    if std::env::var_os("RIBWRIGHT_BLESS").is_some() {
        std::fs::write(root().join("LICENCES.md"), &page).expect("written");
    }
    assert_eq!(text("LICENCES.md"), page, "make LICENCES.md anew with RIBWRIGHT_BLESS=1");
}

#[test]
fn a_licence_that_asks_for_more_is_not_allowed() {
    for allowed in
        ["MIT", "MIT/Apache-2.0", "(MIT OR Apache-2.0) AND Unicode-3.0", "LGPL-2.1-or-later OR MIT"]
    {
        assert!(is_allowed(allowed), "{allowed}");
    }
    for refused in ["GPL-3.0-only", "MIT AND LGPL-2.1-or-later", "GPL-2.0/GPL-3.0", "BSL-1.0", ""] {
        assert!(!is_allowed(refused), "{refused}");
    }
}
