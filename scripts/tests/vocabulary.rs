//! The vocabulary, the editor definitions, the recipes and the examples.
#![allow(missing_docs, reason = "tests")]

use ribwright_kernel::{Level, Registry};
use ribwright_scripts::{Script, definitions, recipes, run_file, word, words};
use std::path::{Path, PathBuf};

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

#[test]
fn the_editor_definitions_are_those_of_a_fresh_generation() {
    let path = folder("definitions/ribwright.d.rhai");
    let fresh = definitions(&Registry::standard());
    assert_eq!(fresh, definitions(&Registry::standard()), "two generations are alike");
    if std::env::var_os("RIBWRIGHT_BLESS").is_some() {
        std::fs::write(&path, &fresh).expect("the definitions can be written");
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(kept == fresh, "{} is out of date; run the tests with RIBWRIGHT_BLESS=1", path.display());
}

#[test]
fn words_are_sorted_documented_and_have_examples() {
    let all = words(&Registry::standard());
    assert!(all.windows(2).all(|pair| pair[0].name < pair[1].name), "sorted, no name twice");
    for word in &all {
        assert!(!word.summary.is_empty(), "{} has a summary", word.name);
        assert!(!word.examples.is_empty(), "{} has an example", word.name);
        assert!(!word.signatures.is_empty(), "{} has a signature", word.name);
        for signature in &word.signatures {
            assert!(!signature.contains("Handle") && !signature.contains("ctx"), "{signature}");
        }
    }
}

#[test]
fn every_call_of_the_design_is_a_word() {
    let all = words(&Registry::standard());
    for name in [
        "trapezoid",
        "arc_tangent",
        "sine",
        "flat",
        "outline_profile",
        "sculpture",
        "planes",
        "hull",
        "slab",
        "prism",
        "frustum",
        "clad",
        "face",
        "move",
        "turn",
        "scale",
        "ribs",
        "add",
        "stand",
        "stack",
        "rules",
        "joints",
        "joint",
        "phase",
    ] {
        assert!(all.iter().any(|word| word.name == name), "{name} is missing");
    }
}

#[test]
fn a_word_lists_its_settings_with_unit_and_default() {
    let registry = Registry::standard();
    let stack = word(&registry, "stack").expect("stack is a word");
    assert_eq!(stack.signatures, ["sculpture.stack(element, #{ … })"]);
    let sink = stack.settings.iter().find(|s| s.name == "sink").expect("stack has sink");
    assert_eq!((sink.unit.as_str(), sink.default.as_str()), ("mm", "0"));
    let trapezoid = word(&registry, "trapezoid").expect("trapezoid is a word");
    let pitch = trapezoid.settings.iter().find(|s| s.name == "pitch").expect("trapezoid has pitch");
    assert_eq!((pitch.unit.as_str(), pitch.default.as_str()), ("mm", "must be given"));
    let near = word(&registry, "stak").expect_err("no such word");
    assert_eq!(near.remedy_text(), Some("did you mean \"stack\"?"));
}

#[test]
fn every_shipped_example_runs_and_uses_all_it_makes() {
    let mut seen = 0;
    let mut files: Vec<PathBuf> =
        std::fs::read_dir(folder("examples")).expect("examples").map(|f| f.expect("entry").path()).collect();
    files.sort();
    for file in files.into_iter().filter(|f| f.extension().is_some_and(|e| e == "rhai")) {
        let outcome = Script::read(&file)
            .and_then(|script| script.run(&Registry::standard()))
            .unwrap_or_else(|e| panic!("{}", e.render(false)));
        // A maquette has something to say of itself: how far corners moved to put it straight.
        let measured = std::fs::read_to_string(&file).is_ok_and(|text| text.contains("maquette("));
        let mut findings = outcome.findings;
        findings.retain(|f| !(measured && f.level == Level::Note));
        assert_eq!(findings, [], "{}", file.display());
        seen += 1;
    }
    assert!(seen >= 3, "{seen} examples");
}

#[test]
fn the_five_element_example_is_a_leaning_stack_in_two_profiles() {
    let sculpture = run_file(&folder("examples/five.rhai"), &Registry::standard()).expect("it runs");
    assert_eq!(sculpture.elements.len(), 5);
    let mut pitches: Vec<f64> = sculpture
        .elements
        .iter()
        .flat_map(|e| e.cladding.iter().filter_map(|c| c.profile.as_ref().map(|p| p.pitch())))
        .collect();
    pitches.sort_by(f64::total_cmp);
    pitches.dedup();
    assert_eq!(pitches, [125.0, 200.0]);
    let top = sculpture.elements.iter().map(|e| e.solid.bounding_box()[1].z).fold(0.0, f64::max);
    assert!((4000.0..5000.0).contains(&top), "it is {top} mm high");
    assert_eq!(sculpture.kept_whole, ["spall/top"]);
    for pair in sculpture.elements.windows(2) {
        // Every corner of the upper element's foot lies below the top it stands on: no gap opens anywhere.
        let (below, above) = (&pair[0].solid, &pair[1].solid);
        let foot = above.faces.iter().min_by(|a, b| a.normal.z.total_cmp(&b.normal.z)).expect("a foot");
        let top = below.faces.iter().find(|face| face.label == "top").expect("a top");
        for corner in &foot.polygon {
            let over = (corner - top.point).dot(&top.normal);
            assert!(over < -20.0, "a corner of {}'s foot is {over} mm over {}/top", above.name, below.name);
        }
    }
}

#[test]
fn recipes_tell_what_they_are_for_and_run_as_their_heads_show() {
    assert!(recipes().len() >= 4, "{} recipes", recipes().len());
    assert!(recipes().windows(2).all(|pair| pair[0].name < pair[1].name), "sorted, no name twice");
    let prelude = r#"
        let rib = trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70, thickness: 2, bend_radius: 6 });
        let sheet = flat(#{ thickness: 3 });
        let s = sculpture("Recipe");
        let base = slab("base", #{ size: [3000, 3000, 200] });
        base.clad(rib);
        let a = slab("A", #{ size: [900, 900, 600] }); a.clad(rib);
        let b = slab("B", #{ size: [800, 800, 600] }); b.clad(rib);
        let c = slab("C", #{ size: [700, 700, 600] }); c.clad(rib);
    "#;
    for recipe in recipes() {
        assert!(recipe.summary().ends_with('.'), "{} has a summary", recipe.name);
        let example: String =
            recipe.help().lines().filter_map(|line| line.strip_prefix("    ")).collect::<Vec<_>>().join("\n");
        assert!(
            example.contains(&format!("import \"{}\"", recipe.name)),
            "{} shows how to import it",
            recipe.name
        );
        let text = format!("{prelude}\ns.stand(base);\n{example}\ns");
        Script::new(recipe.name, &text, None)
            .run(&Registry::standard())
            .unwrap_or_else(|e| panic!("{}: {}", recipe.name, e.render(false)));
    }
}
