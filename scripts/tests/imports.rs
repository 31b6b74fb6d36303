//! Imports come from the script's own folder and the shipped recipes, and from nowhere else.
#![allow(missing_docs, reason = "tests")]

use ribwright_kernel::Registry;
use ribwright_kernel::sculpture::Sculpture;
use ribwright_scripts::{ScriptError, run_file, run_text};
use std::path::Path;

const BODY: &str = "let s = sculpture(\"S\"); let a = slab(\"A\", #{ size: [900, 600, 400] }); a.clad(flat(#{})); s.stand(a); s";

/// Writes the files, runs `main.rhai` among them.
fn run(files: &[(&str, &str)]) -> (tempfile::TempDir, Result<Sculpture, ScriptError>) {
    let folder = tempfile::tempdir().expect("a folder");
    for (name, text) in files {
        let path = folder.path().join(name);
        std::fs::create_dir_all(path.parent().expect("a parent")).expect("folders");
        std::fs::write(path, text).expect("written");
    }
    let result = run_file(&folder.path().join("main.rhai"), &Registry::standard());
    (folder, result)
}

#[track_caller]
fn refused(files: &[(&str, &str)], parts: &[&str]) -> ScriptError {
    let (_folder, result) = run(files);
    let error = result.expect_err("this must not run");
    for part in parts {
        assert!(error.to_string().contains(part), "{part:?} is missing from: {error}");
    }
    error
}

#[test]
fn modules_beside_the_script_and_below_it_can_be_imported() {
    let main =
        format!("import \"feet/wide\" as wide; let n = wide::twice(3); if n != 6 {{ throw \"no\"; }} {BODY}");
    let (_folder, result) = run(&[("main.rhai", &main), ("feet/wide.rhai", "fn twice(x) { 2 * x }")]);
    assert_eq!(result.expect("it runs").name, "S");
}

#[test]
fn paths_that_lead_out_are_refused() {
    for path in ["../../etc/passwd", "/etc/passwd", "..", "feet/../../x", "./x", "", "C:x", "a\\\\b"] {
        let main = format!("let a = 1;\n  import \"{path}\" as x;");
        let error = refused(&[("main.rhai", &main)], &["within the script's folder"]);
        assert_eq!((error.line(), error.column()), (2, 10), "{error}");
    }
}

#[cfg(unix)]
#[test]
fn links_that_lead_out_are_refused_and_links_within_are_not() {
    let outside = tempfile::tempdir().expect("a folder");
    std::fs::write(outside.path().join("secret.rhai"), "fn f() { 1 }").expect("written");
    let folder = tempfile::tempdir().expect("a folder");
    let link =
        |to: &Path, name: &str| std::os::unix::fs::symlink(to, folder.path().join(name)).expect("a link");
    link(&outside.path().join("secret.rhai"), "out.rhai");
    link(outside.path(), "away");
    std::fs::write(folder.path().join("near.rhai"), "fn f() { 1 }").expect("written");
    link(&folder.path().join("near.rhai"), "alias.rhai");
    let run = |name: &str| {
        let text = format!("import \"{name}\" as x; x::f(); {BODY}");
        run_text("t.rhai", &text, Some(folder.path()), &Registry::standard())
    };
    for name in ["out", "away/secret"] {
        let error = run(name).expect_err("it leads out").to_string();
        assert!(error.contains("leads out of the script's folder"), "{error}");
    }
    assert!(run("alias").is_ok(), "a link within the folder is fine");
}

#[test]
fn circles_are_named() {
    let files = [
        ("main.rhai", "import \"a\" as a;"),
        ("a.rhai", "import \"b\" as b;"),
        ("b.rhai", "\nimport \"a\" as a;"),
    ];
    let error = refused(&files, &["goes round in a circle", "a.rhai → "]);
    assert!(error.file().ends_with("b.rhai"), "{}", error.file());
    assert_eq!(error.line(), 2);
    refused(&[("main.rhai", "import \"main\" as m;")], &["circle"]);
}

#[test]
fn a_missing_module_names_the_nearest_recipe() {
    refused(
        &[("main.rhai", "import \"bolder\" as b;")],
        &["no module \"bolder\"", "did you mean \"boulder\"?"],
    );
    refused(&[("main.rhai", "import \"feet.rhai\" as b;")], &["leave out the ending", "import \"feet\""]);
}

#[test]
fn errors_inside_modules_name_the_modules_file_and_the_call() {
    let module = "fn make(name) {\n    slab(name, #{ siz: [1, 2, 3] })\n}";
    let main = "import \"feet\" as feet;\nlet a = feet::make(\"A\");";
    let error = refused(&[("main.rhai", main), ("feet.rhai", module)], &["did you mean \"size\"?"]);
    assert!(error.file().ends_with("feet.rhai"), "{}", error.file());
    assert_eq!((error.line(), error.column()), (2, 5));
    let caller = &error.called_from()[0];
    assert!(caller.file.ends_with("main.rhai"), "{}", caller.file);
    assert_eq!(caller.line, 2);
    let rendered = error.render(false);
    assert!(rendered.contains("siz: [1, 2, 3]") && rendered.contains("called from here"), "{rendered}");

    let error =
        refused(&[("main.rhai", "import \"bad\" as b;"), ("bad.rhai", "fn f() {\n  let = 5;\n}")], &[]);
    assert!(error.file().ends_with("bad.rhai"), "{}", error.file());
    assert_eq!(error.line(), 2);
    let (_folder, result) =
        run(&[("main.rhai", "import \"top\" as t;"), ("top.rhai", "let x = 1;\ntrapzoid(x);")]);
    let error = result.expect_err("the module fails");
    assert!(error.file().ends_with("top.rhai") && error.line() == 2, "{error}");
}

#[test]
fn errors_inside_recipes_name_the_recipe() {
    let text = format!("import \"boulder\" as boulder;\nboulder::make(\"D\", #{{ widht: 5 }}); {BODY}");
    let error = run_text("t.rhai", &text, None, &Registry::standard()).expect_err("an unknown setting");
    assert_eq!(error.file(), "t.rhai", "wrong settings are the caller's");
    assert!(error.to_string().contains("did you mean \"width\"?"), "{error}");
    assert_eq!(error.line(), 2);
    let text = "let s = sculpture(\"S\"); import \"leaning_stack\" as l;\nl::build(s, [], #{});";
    let error = run_text("t.rhai", text, None, &Registry::standard()).expect_err("no elements");
    assert_eq!(error.file(), "recipe leaning_stack");
    assert!(error.message().contains("needs at least one element"), "{error}");
    assert_eq!(error.called_from()[0].line, 2);
}

#[test]
fn modules_share_the_limits_of_the_run() {
    let looping = "let x = 0; while x < 2000000 { x += 1; }";
    let main = "import \"m1\" as a; import \"m2\" as b; import \"m3\" as c; import \"m4\" as d;";
    let files = [
        ("main.rhai", main),
        ("m1.rhai", looping),
        ("m2.rhai", looping),
        ("m3.rhai", looping),
        ("m4.rhai", looping),
    ];
    refused(&files, &["more than 5000000 steps"]);
    let many: String = (0..20).map(|i| format!("import \"m{i}\" as m{i};\n")).collect();
    let names: Vec<String> = (0..20).map(|i| format!("m{i}.rhai")).collect();
    let mut files = vec![("main.rhai", many.as_str())];
    files.extend(names.iter().map(|name| (name.as_str(), "fn f() { 1 }")));
    refused(&files, &["more than 16 modules"]);
}

#[test]
fn a_module_that_is_not_text_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("bad.rhai"), b"\xff\xfe").expect("written");
    let text = "import \"bad\" as b;";
    let error = run_text("t.rhai", text, Some(folder.path()), &Registry::standard()).expect_err("not text");
    assert!(error.to_string().contains("not UTF-8"), "{error}");
    let error = run_text("t.rhai", text, None, &Registry::standard()).expect_err("no folder was given");
    assert!(error.to_string().contains("no module \"bad\""), "{error}");
}
