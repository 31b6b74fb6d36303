//! Choices: usual, given and picked values, seeds, and every mistake with its line.
#![allow(missing_docs, reason = "tests")]

use ribwright_kernel::choice::{Pick, Picks};
use ribwright_kernel::{Level, Registry};
use ribwright_scripts::{Outcome, Script, ScriptError, limits, picked_bytes, picked_path, read_picked};
use std::path::Path;

/// A sculpture whose script says what it got.
const END: &str = r#"
let s = sculpture("Open");
let a = slab("A", #{ size: [900, 600, 400] });
a.clad(flat(#{}));
s.stand(a);
s
"#;

#[track_caller]
fn run(text: &str, values: &Picks) -> Outcome {
    let script = Script::new("tide.rhai", &format!("{text}{END}"), None).with_values(values.clone());
    script.run(&Registry::standard()).unwrap_or_else(|e| panic!("{}", e.render(false)))
}

#[track_caller]
fn printed(text: &str, values: &[(&str, Pick)]) -> String {
    let values: Picks = values.iter().map(|(name, value)| ((*name).to_owned(), value.clone())).collect();
    run(text, &values).printed.join(" ")
}

fn text(word: &str) -> Pick {
    Pick::Text(word.to_owned())
}

/// The error of `text` is at `place` ("line:column") and holds every one of `parts`.
#[track_caller]
fn check(text: &str, place: &str, parts: &[&str]) {
    let script = Script::new("tide.rhai", &format!("{text}{END}"), None);
    let error = script.run(&Registry::standard()).expect_err("this must not run");
    at(&error, "tide.rhai", place, parts);
}

#[track_caller]
fn at(error: &ScriptError, file: &str, place: &str, parts: &[&str]) {
    let shown = error.to_string();
    assert!(error.file().ends_with(file), "{shown}");
    assert_eq!(format!("{}:{}", error.line(), error.column()), place, "{shown}");
    for part in parts {
        assert!(shown.contains(part), "{part:?} is missing from: {shown}");
    }
    assert!(error.remedy().is_some(), "no remedy: {shown}");
}

#[test]
fn a_choice_is_the_usual_value_unless_one_is_given() {
    let lean = "print(choose(\"lean\", 5, 20));";
    assert_eq!(printed(lean, &[]), "12.5");
    assert_eq!(printed(lean, &[("lean", Pick::Number(7.25))]), "7.25");
    assert_eq!(
        printed(lean, &[("other", Pick::Number(7.25))]),
        "12.5",
        "what is not asked for is left aside"
    );
    let set = "print(choose(\"lean\", 5, 20, #{ step: 1, unit: \"degrees\", usual: 12 }));";
    assert_eq!(printed(set, &[]), "12");
    let profile = "print(choose(\"profile\", [\"deep\", \"shallow\"]));";
    assert_eq!(printed(profile, &[]), "deep");
    assert_eq!(printed(profile, &[("profile", text("shallow"))]), "shallow");
    assert_eq!(printed("print(choose(\"open\", [true, false], #{ usual: false }));", &[]), "false");
    // A whole number can be counted with.
    assert_eq!(printed("let n = 0; for i in 0..choose(\"n\", 2, 4) { n += 1; } print(n);", &[]), "3");
    let got = run(set, &Picks::new()).sculpture.choices;
    assert_eq!((got.len(), got[0].choice.unit.as_str(), got[0].picked), (1, "degrees", false));
}

#[test]
fn a_choice_may_be_asked_for_again_and_stand_in_a_function_or_behind_another() {
    let twice = "let a = choose(\"lean\", 5, 20); let b = choose(\"lean\", 5, 20); print(a + b);";
    assert_eq!(printed(twice, &[("lean", Pick::Number(6.0))]), "12");
    assert_eq!(run(twice, &Picks::new()).sculpture.choices.len(), 1);
    let inside = "fn lean() { choose(\"lean\", 5, 20) } print(lean()); for i in 0..3 { lean(); }";
    assert_eq!(printed(inside, &[]), "12.5");
    let behind = "if choose(\"kind\", [\"a\", \"b\"]) == \"b\" { print(choose(\"more\", 0, 10)); }";
    assert_eq!(printed(behind, &[]), "");
    assert_eq!(printed(behind, &[("kind", text("b")), ("more", Pick::Number(3.0))]), "3");
}

#[test]
fn a_choice_in_a_module_is_one_of_the_script() {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("feet.rhai"), "fn lean() {\n  choose(\"lean\", 5, 20)\n}")
        .expect("written");
    let import = "import \"feet\" as feet;\nprint(feet::lean());\n";
    let script = Script::new("tide.rhai", &format!("{import}{END}"), Some(folder.path()));
    let outcome = script.run(&Registry::standard()).unwrap_or_else(|e| panic!("{}", e.render(false)));
    assert_eq!((outcome.printed.join(""), outcome.sculpture.choices.len()), ("12.5".to_owned(), 1));
    // The same name with another range, in the script: the error says where the first one stands.
    let both = format!("{import}choose(\"lean\", 0, 1);{END}");
    let error = Script::new("tide.rhai", &both, Some(folder.path())).run(&Registry::standard());
    at(&error.expect_err("two ranges"), "tide.rhai", "3:1", &["line 2 of", "feet.rhai", "from 5 to 20"]);
}

#[test]
fn mistakes_are_told_with_their_line() {
    check("\nchoose(\"lean\", 20, 5);", "2:1", &["choose \"lean\"", "from 20 to 5"]);
    check(
        "choose(\"lean\", 5, \"x\");",
        "1:1",
        &["choose \"lean\": greatest", "expected a number, found a text"],
    );
    check("choose(\"lean\", 5, 20, #{ stp: 1 });", "1:1", &["\"stp\"", "did you mean \"step\"?"]);
    check("choose(\"lean\", 5, 20, #{ step: 0 });", "1:1", &["a step of 0"]);
    check("choose(\"lean\", 5, 20, #{ usual: 21 });", "1:1", &["usual", "21 is not allowed", "from 5 to 20"]);
    check("choose(\"lean\", 5, 20, #{ usual: \"x\" });", "1:1", &["usual", "is no number"]);
    check("choose(\"p\", [1, 2], #{ step: 1 });", "1:1", &["a list has no step"]);
    check("choose(\"p\", []);", "1:1", &["nothing to choose"]);
    check("choose(\"p\", [#{}, #{}]);", "1:1", &["found a map", "look the rest up in a map"]);
    check("choose(\"\", 1, 2);", "1:1", &["is no name for a choice"]);
    check(
        "choose(\"p\", 1);",
        "1:1",
        &["choose cannot be called with a text, a number", "choose(name, list)"],
    );
    check("choos(\"p\", 1, 2);", "1:1", &["did you mean choose?"]);
    check(
        "choose(\"lean\", 5, 20);\nlet b =\n  choose(\"lean\", 5, 21);",
        "3:3",
        &["choose \"lean\"", "already in line 1 of tide.rhai", "from 5 to 20", "usually 12.5"],
    );
    check("seed(\"g\", #{ usual: 1.5 });", "1:1", &["seed \"g\"", "1.5 is not allowed"]);
    check("seed(\"g\").between(2, 1);", "1:11", &["between", "2 and 1"]);
    check("seed(\"g\").whole(0.2, 0.8);", "1:11", &["no whole number"]);
    check("seed(\"g\").one_of([]);", "1:11", &["the list is empty"]);
    let many = "for i in 0..99 { choose(\"c\" + i, 0, 1); }";
    check(many, "1:18", &[&format!("more than {} choices", limits::MAX_CHOICES)]);
}

#[test]
fn a_seed_gives_the_same_numbers_every_time_and_another_seed_others() {
    let three = "let g = seed(\"g\"); print(g.between(0, 1)); print(g.whole(1, 6)); print(g.one_of([7, 8]));";
    let first = printed(three, &[]);
    assert_eq!(first, printed(three, &[("g", Pick::Number(1.0))]), "usually 1");
    assert_ne!(first, printed(three, &[("g", Pick::Number(2.0))]));
    assert_ne!(first, printed(&three.replace("\"g\"", "\"h\""), &[]), "another name is another stream");
    // A stream goes on where a function left it.
    let on = "fn next(g) { g.between(0, 1) } let g = seed(\"g\"); next(g); print(next(g));";
    let own = "let g = seed(\"g\"); g.between(0, 1); print(g.between(0, 1));";
    assert_eq!(printed(on, &[]), printed(own, &[]));
    // Written down once, so that works stay what they are.
    assert_eq!(first, GESTURE, "the numbers of a seed must not change from version to version");
    let spread =
        "let g = seed(\"g\"); let n = [0, 0, 0]; for i in 0..3000 { n[g.whole(0, 2)] += 1; } print(n);";
    let shown = printed(spread, &[]);
    for count in shown.trim_matches(['[', ']']).split(", ") {
        let count: i32 = count.parse().expect("a count");
        // 1000 ± 3 standard deviations of 26.
        assert!((920..=1080).contains(&count), "{shown}");
    }
}

/// What `three` above prints.
const GESTURE: &str = "0.5350130385133686 5 7";

#[track_caller]
fn folder_with(script: &str, picked: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("tide.rhai"), format!("{script}{END}")).expect("written");
    std::fs::write(folder.path().join("tide.picked.json"), picked).expect("written");
    folder
}

fn read(folder: &Path) -> Result<Outcome, ScriptError> {
    Script::read(&folder.join("tide.rhai")).and_then(|s| s.run(&Registry::standard()))
}

#[test]
fn picked_values_are_read_with_the_script_and_said() {
    let values =
        Picks::from([("lean".to_owned(), Pick::Number(7.3)), ("p \"ü\"".to_owned(), text("shallow"))]);
    let script = "print(choose(\"lean\", 5, 20)); print(choose(`p \"ü\"`, [\"deep\", \"shallow\"]));";
    let bytes = picked_bytes("tide.rhai", Some(7), &values);
    let folder = folder_with(script, &String::from_utf8(bytes).expect("text"));
    let again = read_picked(&folder.path().join("tide.rhai")).expect("read");
    assert_eq!(again.values, values);
    let outcome = read(folder.path()).unwrap_or_else(|e| panic!("{}", e.render(false)));
    assert_eq!(outcome.printed, ["7.3", "shallow"]);
    assert!(outcome.sculpture.choices.iter().all(|c| c.picked));
    let note = &outcome.findings[0];
    assert_eq!((note.level, note.code.as_str()), (Level::Note, "picked"));
    assert!(note.message.contains("variant 7: lean 7.3, p \"ü\" shallow"), "{note:?}");
    assert!(note.message.contains("tide.picked.json"), "{note:?}");
    std::fs::remove_file(picked_path(&folder.path().join("tide.rhai"))).expect("removed");
    let outcome = read(folder.path()).unwrap_or_else(|e| panic!("{}", e.render(false)));
    assert_eq!((outcome.printed.join(" "), outcome.findings.len()), ("12.5 deep".to_owned(), 0));
}

#[test]
fn picked_values_that_do_not_fit_name_both_files() {
    let lean = "choose(\"lean\", 5, 20);";
    let file = |values: &str| {
        format!("{{\n  \"schema\": \"ribwright-picked-1\",\n  \"values\": {{\n    {values}\n  }}\n}}\n")
    };
    let error = |script: &str, picked: &str| {
        let folder = folder_with(script, picked);
        read(folder.path()).expect_err("it does not fit")
    };
    let found = error(&format!("\n  {lean}"), &file("\"lean\": 25"));
    at(&found, "tide.rhai", "2:3", &["tide.picked.json picks 25", "from 5 to 20", "--unpick"]);
    let found = error(lean, &file("\"laen\": 10"));
    at(
        &found,
        "tide.picked.json",
        "4:5",
        &["\"laen\"", "tide.rhai does not choose", "did you mean \"lean\"?"],
    );
    let found = error("", &file("\"lean\": 10"));
    at(&found, "tide.picked.json", "4:5", &["it chooses: nothing"]);
    for (values, part) in [
        ("\"lean\": 10,\n    \"lean\": 11", "given twice"),
        ("\"lean\": [1]", "a number, a text, or true or false"),
        ("\"lean\": 1e300", "not a usable number"),
        ("\"lean\": 10", "EOF"),
    ] {
        let mut text = file(values);
        if part == "EOF" {
            text.truncate(text.len() - 4);
        }
        let found = error(lean, &text);
        let shown = found.to_string();
        assert!(found.file().ends_with("tide.picked.json") && found.line() >= 4, "{shown}");
        assert!(shown.contains(part) && found.remedy().is_some(), "{part:?}: {shown}");
    }
    let found = error(lean, "{ \"schema\": \"other\", \"values\": {} }");
    assert!(found.to_string().contains("schema \"other\""), "{found}");
}
