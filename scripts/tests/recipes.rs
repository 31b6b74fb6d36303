//! Recipes: found where they may be, checked against their heads, and, from folders of other people, able to compute only.
#![allow(missing_docs, reason = "tests")]

use ribwright_kernel::Registry;
use ribwright_scripts::{Outcome, RecipeKind, Script, ScriptError, Shelf, recipes};
use std::path::{Path, PathBuf};

const HEAD: &str = "//! A plinth.\n//!\n//! kind: shape\n//! call: make(name, settings)\n//! gives: an element\n//! author: A. Name\n//! licence: MIT\n//! settings:\n//! - width: 900 mm, 300 to 4000; along x\n";
const MAKE: &str = "fn make(name, settings) {\n    let size = checked(settings);\n    slab(name, #{ size: [size.width, 600, 400] })\n}\nfn show(settings) { let s = sculpture(\"P\"); let a = make(\"A\", settings); a.clad(flat(#{})); s.stand(a); s }\n";
const REST: &str = "let s = sculpture(\"S\"); a.clad(flat(#{})); s.stand(a); s";

/// Writes files into a new folder.
fn folder(files: &[(&str, &str)]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    for (name, text) in files {
        std::fs::write(folder.path().join(name), text).expect("written");
    }
    folder
}

/// Runs a script in a folder, with folders of recipes.
fn run(text: &str, beside: Option<&Path>, folders: &[&Path]) -> Result<Outcome, ScriptError> {
    let folders: Vec<PathBuf> = folders.iter().map(|f| (*f).to_owned()).collect();
    Script::new("t.rhai", text, beside).with_recipes(&folders).run(&Registry::standard())
}

#[track_caller]
fn refused(text: &str, beside: Option<&Path>, folders: &[&Path], part: &str) -> ScriptError {
    let error = run(text, beside, folders).expect_err("this must not run");
    assert!(error.to_string().contains(part), "{part:?} is missing from: {error}");
    error
}

/// How long the slab that a recipe made is along x.
fn length(outcome: &Outcome) -> f64 {
    let corners = || outcome.sculpture.elements[0].solid.faces.iter().flat_map(|face| &face.polygon);
    corners().map(|p| p.x).fold(f64::MIN, f64::max) - corners().map(|p| p.x).fold(f64::MAX, f64::min)
}

fn plinth(width: u32) -> String {
    format!("{}{MAKE}", HEAD.replace("width: 900", &format!("width: {width}")))
}

#[test]
fn at_least_twelve_recipes_of_every_kind_are_shipped() {
    let shelf = Shelf::of(&[]).expect("shipped recipes");
    assert!(shelf.faults.is_empty(), "{:?}", shelf.faults);
    assert!(shelf.modules.is_empty(), "{:?}", shelf.modules);
    assert_eq!(shelf.pages.len(), recipes().len());
    assert!(shelf.pages.len() >= 12, "{} recipes", shelf.pages.len());
    use RecipeKind::{Cladding, Joint, Shape, Stacking, Work};
    for kind in [Shape, Cladding, Stacking, Joint, Work] {
        let of_kind = shelf.pages.iter().filter(|page| page.head.kind == kind).count();
        assert!(of_kind >= 2, "{of_kind} recipes of kind {kind}");
    }
    for page in &shelf.pages {
        let functions = page.functions();
        for call in &page.head.calls {
            let name = call.split('(').next().unwrap_or_default();
            let found = functions.iter().find(|(signature, _)| signature.starts_with(&format!("{name}(")));
            assert!(found.is_some_and(|(_, comment)| !comment.is_empty()), "{}: {call}", page.name);
        }
        assert!(functions.iter().any(|(signature, _)| signature == "show(settings)"), "{}", page.name);
    }
}

#[test]
fn a_recipe_is_looked_for_beside_the_script_then_in_the_folders_then_among_the_shipped() {
    let beside = folder(&[("plinth.rhai", &plinth(1000))]);
    let first = folder(&[("plinth.rhai", &plinth(1100)), ("boulder.rhai", &plinth(1400))]);
    let second = folder(&[("plinth.rhai", &plinth(1200)), ("post.rhai", &plinth(1300))]);
    let text = format!("import \"plinth\" as p; let a = p::make(\"A\", #{{}}); {REST}");
    let both = [first.path(), second.path()];
    let outcome = run(&text, Some(beside.path()), &both).expect("it runs");
    assert!((length(&outcome) - 1000.0).abs() < 1e-6, "beside the script");
    let outcome = run(&text, None, &both).expect("it runs");
    assert!((length(&outcome) - 1100.0).abs() < 1e-6, "the first folder");
    let said: Vec<&str> = outcome.findings.iter().map(|f| f.code.as_str()).collect();
    assert_eq!(said, ["recipe-twice"], "what is there twice is said, once");
    let outcome = run(&text.replace("plinth", "post"), None, &both).expect("it runs");
    assert!((length(&outcome) - 1300.0).abs() < 1e-6 && outcome.findings.is_empty(), "the second folder");
    let outcome = run(&text.replace("plinth", "boulder"), None, &both).expect("it runs");
    assert!((length(&outcome) - 1400.0).abs() < 1e-6, "a folder goes before the shipped recipes");
    assert_eq!(outcome.findings.len(), 1, "and says so");
    let outcome = run(&text.replace("plinth", "boulder"), None, &[]).expect("it runs");
    assert!(outcome.findings.is_empty(), "the shipped one");
    refused(&text, None, &[Path::new("/no/such/folder")], "there is no folder");
    let shelf = Shelf::of(&[first.path().to_owned(), second.path().to_owned()]).expect("folders");
    assert_eq!(shelf.findings.len(), 2, "plinth and boulder: {:?}", shelf.findings);
}

#[test]
fn wrong_settings_are_an_error_at_the_line_that_called_the_recipe() {
    let lib = folder(&[("plinth.rhai", &plinth(900))]);
    for (settings, part) in [
        ("#{ widht: 5 }", "did you mean \"width\"?"),
        ("#{ width: 5 }", "allowed is a number from 300 to 4000 mm"),
        ("#{ width: \"5\" }", "expected a number"),
    ] {
        let text = format!("import \"plinth\" as p;\n\nlet a = p::make(\"A\", {settings}); {REST}");
        let error = refused(&text, None, &[lib.path()], part);
        assert_eq!((error.file(), error.line()), ("t.rhai", 3), "{error}");
        assert!(error.message().starts_with("plinth: "), "{error}");
    }
    let text = format!("import \"boulder\" as b;\nlet a = b::make(\"A\", #{{ sides: 99 }}); {REST}");
    let error = refused(&text, None, &[], "allowed is a whole number from 4 to 7");
    assert_eq!(error.line(), 2, "{error}");
    let text = format!("let c = checked(#{{}}); {}", REST.replace("a.clad", "c.clad"));
    refused(&text, None, &[], "no head");
}

#[test]
fn a_wrong_head_is_an_error_at_its_line() {
    let lib = folder(&[("plinth.rhai", &plinth(900).replace("300 to 4000", "300 - 4000"))]);
    let error = refused("import \"plinth\" as p;", None, &[lib.path()], "not written as least to greatest");
    assert!(error.file().ends_with("plinth.rhai"), "{error}");
    assert_eq!(error.line(), 9, "{error}");
}

#[test]
fn a_recipe_from_a_folder_can_do_nothing_but_compute() {
    let yard = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/yard");
    let attempt = |body: &str, part: &str| {
        let module = format!("{HEAD}{body}");
        let lib = folder(&[("bad.rhai", &module), ("helper.rhai", "fn twice(x) { 2 * x }")]);
        let text = format!(
            "let secret = 7; fn own() {{ 7 }} import \"bad\" as bad; bad::f(); let a = slab(\"A\", #{{ size: [9, 9, 9] }}); {REST}"
        );
        refused(&text, Some(&yard), &[lib.path()], part)
    };
    let rib = "trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70, bend_radius: 6 })";
    // No files, by name, by a name put together, or in a closure that it hands out.
    attempt(&format!("fn f() {{ survey(\"yard.csv\", #{{ profile: {rib} }}) }}"), "reads no file");
    attempt("fn f() { maquette(\"x.csv\", #{}) }", "reads no file");
    attempt("fn f() { stock(\"x.csv\", []) }", "reads no file");
    attempt("fn f() { Fn(\"sur\" + \"vey\").call(\"yard.csv\", #{}) }", "write a closure");
    attempt("fn f() { |x| survey(x, #{}) }", "reads no file");
    attempt("fn f() { let m = \"yard.csv\"; m.survey(#{}) }", "reads no file");
    // Nothing of the script that calls it.
    attempt("fn f() { own() }", "unknown call own");
    attempt("fn f() { [1].map(own) }", "");
    attempt("fn f() { secret }", "unknown variable");
    // No modules but its own folder's and the shipped ones.
    let beside = folder(&[("near.rhai", "fn g() { 1 }")]);
    let lib = folder(&[("bad.rhai", &format!("{HEAD}import \"near\" as near; fn f() {{ near::g() }}"))]);
    refused("import \"bad\" as bad;", Some(beside.path()), &[lib.path()], "no module \"near\"");
    let late = folder(&[("bad.rhai", &format!("{HEAD}fn f() {{ import \"near\" as near; near::g() }}"))]);
    refused("import \"bad\" as bad; bad::f();", Some(beside.path()), &[late.path()], "no module \"near\"");
    refused("import \"../x\" as bad;", None, &[lib.path()], "within the script's folder");
    // No ways round the reader.
    attempt("fn f() { eval(\"1\") }", "cannot be used");
    attempt("fn f() { sleep(1) }", "cannot be used");
    attempt("fn f() { loop { } }", "the script");
    attempt("fn f() { f() }", "deep");
    // And what it may do.
    let good = folder(&[
        (
            "good.rhai",
            &format!(
                "{HEAD}import \"helper\" as h; import \"boulder\" as b; fn f(n) {{ let g = |x| h::twice(x); let list = [n].map(g); b::make(\"A\", #{{ width: 2 * list[0] }}) }}"
            ),
        ),
        ("helper.rhai", "fn twice(x) { 2 * x }"),
    ]);
    let text = format!("import \"good\" as good; let a = good::f(300); {REST}");
    run(&text, Some(&yard), &[good.path()]).expect("it computes");
}

#[cfg(unix)]
#[test]
fn links_in_a_folder_of_recipes_do_not_lead_out() {
    let outside = folder(&[("secret.rhai", &plinth(900))]);
    let lib = folder(&[]);
    std::os::unix::fs::symlink(outside.path().join("secret.rhai"), lib.path().join("link.rhai"))
        .expect("a link");
    refused("import \"link\" as l;", None, &[lib.path()], "leads out of its folder");
    let shelf = Shelf::of_folder(lib.path()).expect("a folder");
    assert!(shelf.pages.is_empty() && shelf.faults.len() == 1, "{:?}", shelf.faults);
}
