//! The module graph of the kernel as its sources have it: held against the order of lib.rs, and drawn in DEVELOPERS.md.
//!
//! With RIBWRIGHT_BLESS=1 the drawing is written anew instead of compared.

use crate::generated::hold_section;
use crate::{files, text};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

/// Modules whose rows the registry lists; it alone may name what is below it.
const ROWS: [&str; 6] = ["profile", "element", "joint", "template", "stage", "export"];

/// Modules of one step of the way from the script to the files, in the order of use.
struct Group {
    name: String,
    what: String,
    modules: Vec<String>,
}

/// The groups of lib.rs: each begins with a comment `// name: what it holds.`
fn groups() -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    for line in text("kernel/src/lib.rs").lines() {
        if let Some((name, what)) = line.strip_prefix("// ").and_then(|l| l.split_once(": ")) {
            let what = what.trim_end_matches('.').to_owned();
            groups.push(Group { name: name.to_owned(), what, modules: Vec::new() });
        } else if let Some(module) = line.trim_start_matches("pub ").strip_prefix("mod ") {
            let module = module.trim_end_matches(';').to_owned();
            groups.last_mut().expect("a module stands below a group's comment").modules.push(module);
        }
    }
    assert!(groups.len() >= 5, "lib.rs has only {} groups of modules", groups.len());
    groups
}

/// Whether a file says in its first line that it is built for tests only.
fn is_test_only(text: &str) -> bool {
    text.lines().next().is_some_and(|first| first.contains("built with `#[cfg(test)]` only"))
}

/// The text without comment lines and what stands under `#[cfg(test)]`, wherever it stands; lines keep their numbers.
/// Of a file that is built for tests only, nothing.
pub(crate) fn without_tests(text: &str) -> String {
    if is_test_only(text) {
        return String::new();
    }
    let code: Vec<&str> =
        text.lines().map(|line| if line.trim_start().starts_with("//") { "" } else { line }).collect();
    let code = code.join("\n") + "\n";
    let mut out = String::new();
    let mut rest = code.as_str();
    while let Some((before, test)) = rest.split_once("#[cfg(test)]") {
        out.push_str(before);
        let end = match (test.find(';'), test.find('{')) {
            (Some(semicolon), brace) if brace.is_none_or(|b| semicolon < b) => semicolon + 1,
            // A block ends with the brace in the column of the attribute.
            (_, Some(brace)) => {
                let indent = before.len() - before.rfind('\n').map_or(0, |at| at + 1);
                let close = format!("\n{}}}\n", " ".repeat(indent));
                test[brace..].find(&close).map_or(test.len(), |at| brace + at + close.len())
            }
            _ => test.len(),
        };
        out.push_str(&"\n".repeat(test[..end].matches('\n').count()));
        rest = &test[end..];
    }
    out + rest
}

/// First names of what a path goes on to: of `{a::{b, c}, d}` these are a and d.
fn heads(path: &str) -> Vec<&str> {
    let name =
        |text: &str| -> usize { text.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(text.len()) };
    let Some(group) = path.strip_prefix('{') else { return vec![&path[..name(path)]] };
    let mut found = Vec::new();
    let (mut depth, mut begins) = (0_usize, true);
    for (at, c) in group.char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth == 0 => break,
            '}' => depth -= 1,
            ',' if depth == 0 => begins = true,
            _ if begins && !c.is_whitespace() => {
                found.push(&group[at..at + name(&group[at..])]);
                begins = false;
            }
            _ => {}
        }
    }
    found
}

/// First names after each `prefix` that no longer path ends in.
fn named<'a>(code: &'a str, prefix: &str) -> Vec<&'a str> {
    let starts = |at: usize| !code[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_' || c == ':');
    code.match_indices(prefix)
        .filter(|(at, _)| starts(*at))
        .flat_map(|(at, found)| heads(&code[at + found.len()..]))
        .collect()
}

/// The top-level modules that a file of the kernel names, by `crate::` or by as many `super::` as lead there.
fn uses(path: &str, text: &str) -> BTreeSet<String> {
    let code = without_tests(text);
    let inside = path.trim_start_matches("kernel/src/");
    let depth = inside.split('/').count() - usize::from(inside.ends_with("/mod.rs"));
    let mut found: BTreeSet<String> = named(&code, "crate::").into_iter().map(str::to_owned).collect();
    found.extend(named(&code, &"super::".repeat(depth)).into_iter().map(str::to_owned));
    found
}

/// The module of a file of the kernel; none for lib.rs.
fn module_of(path: &str) -> Option<&str> {
    let module = path.trim_start_matches("kernel/src/").split('/').next()?.trim_end_matches(".rs");
    (module != "lib").then_some(module)
}

/// Which modules each module uses, of those lib.rs lists.
fn edges(groups: &[Group]) -> BTreeMap<String, BTreeSet<String>> {
    let all: BTreeSet<&str> = groups.iter().flat_map(|g| &g.modules).map(String::as_str).collect();
    let mut edges: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for path in files("kernel/src", ".rs") {
        let Some(module) = module_of(&path) else { continue };
        assert!(all.contains(module), "{path} belongs to no module of lib.rs");
        let text = text(&path);
        let used = uses(&path, &text).into_iter().filter(|u| u != module && all.contains(u.as_str()));
        edges.entry(module.to_owned()).or_default().extend(used);
    }
    edges
}

/// What lies against the order: which module uses one below it.
fn against(order: &[&str], edges: &BTreeMap<String, BTreeSet<String>>) -> Vec<String> {
    let place = |name: &str| order.iter().position(|m| *m == name);
    let mut wrong = Vec::new();
    for (module, used) in edges {
        for used in used {
            // Rows of the registry are its own kind of thing: every module may be handed the registry and be
            // named by it.
            let rows = used == "registry" || module == "registry" && ROWS.contains(&used.as_str());
            if place(used) > place(module) && !rows {
                wrong.push(format!("{module} uses {used}, which is below it"));
            }
        }
    }
    wrong
}

/// Modules of the kernel that a package around it names, what lib.rs hands on counted where it comes from.
fn used_from_outside(folder: &str) -> BTreeSet<String> {
    let lib = text("kernel/src/lib.rs");
    let mut handed: BTreeMap<&str, &str> = BTreeMap::new();
    for line in lib.lines().filter_map(|l| l.strip_prefix("pub use ")) {
        let (module, names) = line.trim_end_matches(';').split_once("::").expect("a path");
        handed.extend(names.split(|c: char| !c.is_alphanumeric() && c != '_').map(|name| (name, module)));
    }
    let mut found = BTreeSet::new();
    for path in files(folder, ".rs") {
        for name in named(&without_tests(&text(&path)), "ribwright_kernel::") {
            found.insert((*handed.get(name).unwrap_or(&name)).to_owned());
        }
    }
    found
}

fn list<'a>(names: impl Iterator<Item = &'a str>) -> String {
    names.collect::<Vec<_>>().join(", ")
}

/// The page: how many uses lead from group to group, and of each module what it uses.
fn page(groups: &[Group]) -> String {
    let mut edges = edges(groups);
    let order: Vec<&str> = groups.iter().flat_map(|g| &g.modules).map(String::as_str).collect();
    // The registry is handed to all: that is no step of the way.
    let handed = list(order.iter().filter(|m| edges[**m].contains("registry")).copied());
    edges.values_mut().for_each(|used| {
        used.remove("registry");
    });
    let outside = [("scripts", used_from_outside("scripts/src")), ("cli", used_from_outside("cli/src"))];
    let mut out = String::from("\n| group | holds | uses of ");
    out += &groups.iter().map(|g| g.name.as_str()).collect::<Vec<_>>().join(" | ");
    out += " |\n|---|---|";
    out += &"--:|".repeat(groups.len());
    let count = |used: &BTreeSet<String>, of: &Group| of.modules.iter().filter(|m| used.contains(*m)).count();
    let mut row = |name: &str, what: &str, users: Vec<&BTreeSet<String>>| {
        let counts = groups.iter().map(|of| match users.iter().map(|used| count(used, of)).sum::<usize>() {
            0 => String::new(),
            n => n.to_string(),
        });
        let counts: Vec<String> = counts.collect();
        // A String takes whatever is written to it.
        let _ = write!(out, "\n| **{name}** | {what} | {} |", counts.join(" | "));
    };
    for group in groups {
        row(&group.name, &group.what, group.modules.iter().map(|m| &edges[m]).collect());
    }
    for (name, used) in &outside {
        row(name, "a package of its own, over the kernel", vec![used]);
    }
    out += "\n\n| module | uses | and of `common` |\n|---|---|---|\n";
    for (at, group) in groups.iter().enumerate() {
        let _ = writeln!(out, "| **{}** | | |", group.name);
        for module in &group.modules {
            let of = |common: bool| {
                let wanted = |m: &&&str| {
                    edges[module].contains(**m) && groups[0].modules.iter().any(|c| c == **m) == common
                };
                list(order.iter().filter(wanted).copied())
            };
            // What `common` uses of itself stands where its modules have their own group.
            let (own, common) = if at == 0 { (of(true), String::new()) } else { (of(false), of(true)) };
            let _ = writeln!(out, "| `{module}` | {own} | {common} |");
        }
    }
    for (name, used) in &outside {
        let _ = writeln!(
            out,
            "| **{name}** | {} | |",
            list(order.iter().filter(|m| used.contains(**m)).copied())
        );
    }
    let _ = writeln!(out, "\nHanded the registry, which stands below them: {handed}.");
    out
}

#[test]
fn kernel_modules_use_only_modules_above_them() {
    let groups = groups();
    let order: Vec<&str> = groups.iter().flat_map(|g| &g.modules).map(String::as_str).collect();
    let wrong = against(&order, &edges(&groups));
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_drawn_module_graph_is_that_of_the_sources() {
    hold_section("DEVELOPERS.md", "modules", &page(&groups()));
}

#[test]
fn a_use_against_the_order_is_found() {
    let used = |path: &str, text: &str| uses(path, text).into_iter().collect::<Vec<_>>();
    assert_eq!(used("kernel/src/a.rs", "use crate::{\n    b::{c, d},\n    e,\n};"), ["b", "e"]);
    assert_eq!(used("kernel/src/a/mod.rs", "use super::b::c; use self::d::e;"), ["b"]);
    assert_eq!(used("kernel/src/a/x.rs", "use super::b; fn f() { super::super::c::g() }"), ["c"]);
    assert_eq!(
        used("kernel/src/a.rs", "#[cfg(test)]\nmod tests {\n    use crate::b;\n}\nuse crate::c;\n"),
        ["c"]
    );
    assert_eq!(
        used("kernel/src/a/x.rs", "//! Cases, built with `#[cfg(test)]` only.\nuse crate::b;\n"),
        Vec::<String>::new()
    );
    assert_eq!(used("kernel/src/a.rs", "#[cfg(test)]\nmod tests;\n// crate::b\nuse crate::c;\n"), ["c"]);
    let edges = BTreeMap::from([
        ("a".to_owned(), BTreeSet::from(["b".to_owned()])),
        ("b".to_owned(), BTreeSet::from(["a".to_owned()])),
    ]);
    assert_eq!(against(&["a", "b"], &edges), ["a uses b, which is below it"]);
}

/// Circles among the files of one folder that are known, with why they stand.
const CIRCLES: [(&str, [&str; 2]); 1] = [
    // What closes is part of an assembly, and what does not close is said of it.
    ("kernel/src/tracing", ["assemble", "closing"]),
];

/// Files of a folder that lead back to themselves by `super::` paths, each with one that it uses on the way.
fn circles(uses: &BTreeMap<String, BTreeSet<String>>) -> BTreeSet<[String; 2]> {
    let leads = |from: &str, to: &str| {
        let (mut seen, mut waiting) = (BTreeSet::new(), vec![from]);
        while let Some(at) = waiting.pop() {
            for next in uses.get(at).into_iter().flatten() {
                if next == to {
                    return true;
                }
                if seen.insert(next.as_str()) {
                    waiting.push(next);
                }
            }
        }
        false
    };
    let steps = uses.iter().flat_map(|(from, all)| all.iter().map(move |to| (from, to)));
    steps.filter(|(from, to)| leads(to, from)).map(|(from, to)| [from.clone(), to.clone()]).collect()
}

#[test]
fn files_of_a_folder_of_the_kernel_use_each_other_one_way() {
    let mut folders: BTreeMap<String, BTreeMap<String, BTreeSet<String>>> = BTreeMap::new();
    for path in files("kernel/src", ".rs") {
        let (folder, file) = path.rsplit_once('/').expect("a path in a folder");
        let text = text(&path);
        if folder == "kernel/src" || file == "mod.rs" || is_test_only(&text) {
            continue;
        }
        let code = without_tests(&text);
        let used = named(&code, "super::").into_iter().map(str::to_owned);
        let own = file.trim_end_matches(".rs");
        folders.entry(folder.to_owned()).or_default().entry(own.to_owned()).or_default().extend(used);
    }
    let mut wrong = Vec::new();
    for (folder, uses) in &mut folders {
        let here: BTreeSet<String> = uses.keys().cloned().collect();
        for (file, used) in uses.iter_mut() {
            used.retain(|u| here.contains(u) && u != file);
        }
        for [from, to] in circles(uses) {
            let known = |(at, pair): &(&str, [&str; 2])| {
                at == folder && pair.contains(&&*from) && pair.contains(&&*to)
            };
            if !CIRCLES.iter().any(known) {
                wrong.push(format!("{folder}: {from} uses {to}, which leads back to it"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_circle_of_three_files_is_found() {
    let uses = |all: &[(&str, &str)]| {
        let mut uses: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
        for (from, to) in all {
            uses.entry((*from).to_owned()).or_default().insert((*to).to_owned());
        }
        uses
    };
    assert_eq!(circles(&uses(&[("a", "b"), ("b", "c"), ("a", "c")])).len(), 0);
    assert_eq!(circles(&uses(&[("a", "b"), ("b", "c"), ("c", "a"), ("d", "a")])).len(), 3);
}
