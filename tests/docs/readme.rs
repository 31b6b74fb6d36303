//! What README.md and DEVELOPERS.md say can be done can be done.

use crate::{root, text};

/// Lines of the fenced shell blocks of a document.
fn commands(document: &str) -> Vec<String> {
    let mut inside = false;
    let mut found = Vec::new();
    for line in document.lines() {
        if let Some(language) = line.trim().strip_prefix("```") {
            inside = !inside && matches!(language, "sh" | "bash" | "console" | "shell");
        } else if inside {
            found.push(line.trim().trim_start_matches("$ ").to_owned());
        }
    }
    found
}

#[test]
fn test_command_of_the_readme_is_what_ci_runs_first() {
    let ci = text(".ci/run");
    let readme = commands(&text("README.md"));
    let test = readme
        .iter()
        .find(|line| line.starts_with("cargo test"))
        .unwrap_or_else(|| panic!("README.md shows no test command"));
    let first = ci.find("cargo ").map(|at| &ci[at..]).unwrap_or_else(|| panic!(".ci/run calls no cargo"));
    assert!(first.starts_with(test.as_str()), ".ci/run does not begin with `{test}`");
}

#[test]
fn files_and_verbs_in_the_readme_exist() {
    let verbs = ["new", "make", "check", "words", "recipes", "inspect", "vary", "help"];
    let lines = commands(&text("README.md"));
    assert!(lines.len() >= 2, "README.md shows {} commands", lines.len());
    for line in lines {
        let words: Vec<&str> = line.split_whitespace().collect();
        for word in words.iter().filter(|w| w.ends_with(".rhai") && w.contains('/')) {
            assert!(root().join(word).is_file(), "README.md: `{line}`: {word} is not there");
        }
        // `ribwright VERB …` or `cargo run … -- VERB …`.
        let verb = words
            .iter()
            .position(|w| *w == "--" || *w == "ribwright" || w.ends_with("/ribwright"))
            .filter(|_| words[0] != "cargo" || words.get(1) == Some(&"run"))
            .and_then(|at| words.get(at + 1));
        if let Some(verb) = verb {
            assert!(verb.starts_with('-') || verbs.contains(verb), "README.md: `{line}`: no verb {verb}");
        }
    }
}

#[test]
fn ci_holds_every_command_of_the_developers_list() {
    let ci = text(".ci/run");
    for line in commands(&text("DEVELOPERS.md"))
        .iter()
        .filter(|l| l.starts_with("cargo ") && l.contains("--workspace"))
    {
        assert!(ci.contains(line.as_str()), ".ci/run does not run `{line}`");
    }
}
