//! Every error of a script: its place to the column, what is wrong, and what to do.
#![allow(missing_docs, reason = "tests")]

use ribwright_kernel::Registry;
use ribwright_scripts::{Script, ScriptError, run_file, run_text};
use std::path::Path;

#[track_caller]
fn error_of(text: &str) -> ScriptError {
    match run_text("tide.rhai", text, None, &Registry::standard()) {
        Ok(_) => panic!("this must not run: {text}"),
        Err(e) => e,
    }
}

/// The error of `text` is at `place` ("line:column") and its plain text holds every one of `parts`.
#[track_caller]
fn check(text: &str, place: &str, parts: &[&str]) {
    let error = error_of(text);
    let shown = error.to_string();
    assert_eq!(format!("{}:{}", error.line(), error.column()), place, "{shown}");
    for part in parts {
        assert!(shown.contains(part), "{part:?} is missing from: {shown}");
    }
    assert!(!shown.contains("Handle") && !shown.contains("i64") && !shown.contains("Dynamic"), "{shown}");
    assert!(error.remedy().is_some(), "no remedy: {shown}");
}

#[test]
fn a_misspelled_call_names_the_nearest_word() {
    check(
        "let s = 1;\nlet rib = trapzoid(#{});",
        "2:11",
        &["unknown call trapzoid", "did you mean trapezoid?"],
    );
    check("let a = slab(\"A\", #{ size: [1, 1, 1] });\na.cladd(1);", "2:3", &["did you mean clad?"]);
    check("fn tower() { 1 }\ntowr();", "2:1", &["did you mean tower?"]);
    check("zzzzqqqq();", "1:1", &["unknown call zzzzqqqq", "ribwright words"]);
}

#[test]
fn a_known_call_with_other_arguments_shows_how_it_is_called() {
    check("trapezoid(5);", "1:1", &["trapezoid cannot be called with a number", "trapezoid(#{ … })"]);
    check("slab(#{});", "1:1", &["slab cannot be called with a map", "slab(name, #{ … })"]);
    check(
        "let a = slab(\"A\", #{ size: [1, 1, 1] });\n  a.clad(\"rib\");",
        "2:5",
        &["clad cannot be called with an element, a text", "element.clad(profile)"],
    );
    check("hull(\"A\");", "1:1", &["hull(name, points) or hull(name, points, faces)"]);
}

#[test]
fn an_unknown_setting_names_the_nearest() {
    check(
        "let rib =\n    trapezoid(#{ pich: 200 });",
        "2:5",
        &["trapezoid: unknown setting \"pich\"", "did you mean \"pitch\"?"],
    );
    let a = "let a = slab(\"A\", #{ size: [900, 600, 400] });\nlet s = sculpture(\"S\");\n";
    check(&format!("{a}a.face(\"top\").ribs(#{{ alonh: 1 }});"), "3:15", &["A/top: ribs", "\"along\""]);
    check(&format!("{a}s.rules(#{{ max_side: 5 }});"), "3:3", &["did you mean \"max_sides\"?"]);
    check(&format!("{a}s.joints(#{{ knd: \"auto\" }});"), "3:3", &["did you mean \"kind\"?"]);
    check(
        &format!(
            "{a}s.stand(a); let b = prism(\"B\", #{{ sides: 5, width: 300, height: 400 }});\ns.stack(b, #{{ on: \"A/top\", snk: 5 }});"
        ),
        "4:3",
        &["stack B", "did you mean \"sink\"?"],
    );
    check(&format!("{a}s.phase(\"A/top\", #{{ ain: \"no_slivers\" }});"), "3:3", &["did you mean \"aim\"?"]);
    check("planes(\"P\", [#{ nam: \"x\" }]);", "1:1", &["planes \"P\": face 1", "did you mean \"name\"?"]);
}

#[test]
fn unknown_words_name_the_nearest() {
    let a = "let a = slab(\"A\", #{ size: [900, 600, 400] });\nlet s = sculpture(\"S\");\ns.stand(a);\n";
    check(&format!("{a}a.face(\"tpo\");"), "4:3", &["\"tpo\"", "did you mean \"top\"?"]);
    check(
        &format!("{a}s.joints(#{{ kind: \"mitra\" }});"),
        "4:3",
        &["joint kind \"mitra\"", "did you mean \"mitre\"?"],
    );
    check(&format!("{a}s.joints(#{{ meet: \"insid\" }});"), "4:3", &["did you mean \"inside\"?"]);
    check(&format!("{a}a.face(\"top\").ribs(#{{ datum: \"crst\" }});"), "4:15", &["did you mean \"crest\"?"]);
    check(
        &format!("{a}s.phase(\"A/top\", #{{ aim: \"no_sliver\" }});"),
        "4:3",
        &["did you mean \"no_slivers\"?"],
    );
    check(
        &format!("{a}let b = slab(\"B\", #{{ size: [1, 2, 3] }});\ns.stack(b, #{{ on: \"A/topp\" }});"),
        "5:3",
        &["\"topp\"", "did you mean \"top\"?"],
    );
}

#[test]
fn a_text_for_a_number_is_an_error_that_names_the_key() {
    check("trapezoid(#{ pitch: \"200\" });", "1:1", &["trapezoid: pitch", "expected a number, found a text"]);
    check(
        "slab(\"A\", #{ size: [900, \"600\", 400] });",
        "1:1",
        &["size", "expected a number, found a text"],
    );
    let a = "let a = slab(\"A\", #{ size: [900, 600, 400] });\n";
    check(&format!("{a}a.move([1, 2, \"3\"]);"), "2:3", &["move", "expected a number, found a text"]);
    check(
        &format!("{a}a.turn([0, 0, 1], \"15\");"),
        "2:3",
        &["turn: degrees", "expected a number, found a text"],
    );
    check(&format!("{a}a.scale(\"2\");"), "2:3", &["scale", "expected a number, found a text"]);
}

#[test]
fn numbers_that_cannot_be_used_are_refused_at_the_call() {
    let a = "let a = slab(\"A\", #{ size: [900, 600, 400] });\n";
    check(&format!("{a}a.move([1.0e300, 0, 0]);"), "2:3", &["1e300", "finite, within"]);
    check(&format!("{a}a.move([0.0 / 0.0, 0, 0]);"), "2:3", &["NaN"]);
    check(&format!("{a}a.scale(1.0e200 * 1.0e200);"), "2:3", &["inf"]);
    check(&format!("{a}a.scale(0);"), "2:3", &["A"]);
    check(&format!("{a}a.turn([0, 0, 0], 5);"), "2:3", &["axis"]);
    check(&format!("{a}a.face(\"top\").ribs(#{{ along: [0, 0, 0] }});"), "2:15", &["A/top", "no direction"]);
    check(&format!("{a}let k = 5 / 0;"), "2:11", &["divided by zero"]);
    check("let k = sqrt(-1);", "1:9", &["sqrt(-1)"]);
}

#[test]
fn the_kernel_speaks_at_the_call_that_it_refuses() {
    check(
        "let rib = trapezoid(#{ pitch: 200, depth: 40, crest: 120, valley: 90, thickness: 2, bend_radius: 6 });",
        "1:11",
        &["trapezoid", "pitch"],
    );
    check("let a =\n  hull(\"A\", [[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0]]);", "2:3", &["A"]);
    check(
        "hull(\"A\", [[0, 0, 0], [9, 0, 0], [0, 9, 0], [0, 0, 9]], #{ foot: [0, 1, 7] });",
        "1:1",
        &["face \"foot\"", "no point number 7", "0 to 3"],
    );
    check("planes(\"P\", [#{ name: \"a\", point: [0, 0, 0] }]);", "1:1", &["\"normal\" is missing"]);
    check("slab(\"A/b\", #{ size: [1, 2, 3] });", "1:1", &["\"A/b\""]);
    check("sculpture(\"\");", "1:1", &["sculpture name"]);
}

#[test]
fn a_name_can_be_taken_once() {
    let start = "let rib = flat(#{});\nlet s = sculpture(\"S\");\nlet a = slab(\"A\", #{ size: [900, 600, 400] });\na.clad(rib);\ns.stand(a);\n";
    check(
        &format!("{start}let b = slab(\"A\", #{{ size: [9, 6, 4] }});\ns.stand(b);"),
        "7:3",
        &["\"A\"", "already"],
    );
    check(&format!("{start}s.stand(a);"), "6:3", &["\"A\" was added before"]);
    check(&format!("{start}let t = sculpture(\"T\");\nt.add(a);"), "7:3", &["another sculpture"]);
}

#[test]
fn faces_named_for_joints_and_searches_must_be_there_in_the_end() {
    let start = "let rib = flat(#{});\nlet s = sculpture(\"S\");\n";
    let end = "let a = slab(\"A\", #{ size: [900, 600, 400] });\na.clad(rib);\ns.stand(a);\ns";
    check(
        &format!("{start}s.joint(\"A/east\", \"A/topp\", #{{}});\n{end}"),
        "3:3",
        &["did you mean \"top\"?"],
    );
    check(&format!("{start}  s.phase(\"B/top\", #{{}});\n{end}"), "3:5", &["\"B\""]);
    check(
        &format!("{start}s.joint(\"A\", \"A/top\", #{{}});\n{end}"),
        "3:3",
        &["\"A\" does not name a face"],
    );
    check(&format!("{start}s.joint(\"A/top\", \"A/top\", #{{}});\n{end}"), "3:3", &["two faces"]);
    check(
        &format!("{start}s.phase(\"A/top\", #{{ aim: \"crests_meet\" }});\n{end}"),
        "3:3",
        &["\"other\" is missing"],
    );
    let fine = format!("{start}s.joint(\"A/top\", \"A/east\", #{{ kind: \"mitre\" }});\n{end}");
    let sculpture = run_text("t", &fine, None, &Registry::standard()).expect("the element may come later");
    let key = ("A/east".to_owned(), "A/top".to_owned());
    assert_eq!(sculpture.pair_joints[&key].kind, "mitre", "the pair is kept in byte order");
}

#[test]
fn unclad_faces_are_named_where_their_element_is_made() {
    let text = "let s = sculpture(\"S\");\nlet a = slab(\"A\", #{ size: [900, 600, 400] });\na.face(\"top\").ribs(#{ profile: flat(#{}) });\ns.stand(a);";
    check(text, "2:9", &["not clad: A/east, A/west, A/north, A/south, A/bottom", ".clad(profile)"]);
    check(
        "let a = slab(\"A\", #{ size: [9, 6, 4] });\na.face(\"top\").ribs(#{ profile: 5 });",
        "2:15",
        &["expected a profile, found a number"],
    );
}

#[test]
fn a_script_gives_one_sculpture() {
    check("let a = 1;\n\n", "1:10", &["makes no sculpture"]);
    check("", "1:1", &["makes no sculpture"]);
    check("let s = sculpture(\"S\");", "1:9", &["\"S\" has no elements"]);
    check("let s = sculpture(\"S\");\nlet t = sculpture(\"T\");\n", "2:9", &["2 sculptures: \"S\", \"T\""]);
    let add = "let a = slab(\"A\", #{ size: [9, 6, 4] }); a.clad(flat(#{}));";
    let two = format!("let s = sculpture(\"S\"); let t = sculpture(\"T\"); {add} t.stand(a); t");
    assert_eq!(run_text("t", &two, None, &Registry::standard()).expect("t is the value").name, "T");
    let only = format!("let s = sculpture(\"S\"); {add} s.stand(a); 5");
    assert_eq!(run_text("t", &only, None, &Registry::standard()).expect("the only one").name, "S");
}

#[test]
fn the_languages_own_errors_speak_in_our_words() {
    check("let x = 1;\nlet y = x + hight;", "2:13", &["unknown variable hight", "let hight = …"]);
    check("let a = slab;", "1:9", &["slab is a call: write slab(…)"]);
    check(
        "let a = slab(\"A\", #{ size: [9, 6, 4] });\na.clad;",
        "2:3",
        &["clad is a call", "element.clad(profile)"],
    );
    check("let x = (1 + 2;", "1:15", &["`)` is missing"]);
    check("let x = \"abc", "1:9", &["text is not closed"]);
    check("let x = #{ a: 1, a: 2 };", "1:18", &["given twice"]);
    check("let x = [1, 2];\nx[7];", "2:3", &["no entry 7", "0 to 1"]);
    check("for i in 7.5 { }", "1:10", &["expected a list or a range, found a number"]);
    check("let n = 7.5; for i in n { }", "1:23", &["for cannot go through", "0..5"]);
    check("const K = 1;\nK = 2;", "2:1", &["constant"]);
    check("let x = 1 + #{};", "1:11", &["`+` does not work with a number and a map"]);
    check("eval(\"1\");", "1:1", &["eval cannot be used"]);
    check("sleep(5);", "1:1", &["sleep cannot be used"]);
    check("sleep(0.5);", "1:1", &["sleep cannot be used"]);
    check("timestamp();", "1:1", &["unknown call timestamp"]);
    check("throw \"boulder has no setting x\";", "1:1", &["boulder has no setting x"]);
}

#[test]
fn columns_count_characters() {
    check("let e = \"ñü\"; let x = trapzoid(#{});", "1:23", &["trapzoid"]);
}

#[test]
fn files_that_are_no_scripts_are_refused_by_name() {
    let folder = tempfile::tempdir().expect("a folder");
    let registry = Registry::standard();
    let fail = |path: &Path| run_file(path, &registry).expect_err("no script").to_string();
    let missing = folder.path().join("gone.rhai");
    assert!(fail(&missing).contains("there is no such file"), "{}", fail(&missing));
    assert!(fail(folder.path()).contains("it is a folder"), "{}", fail(folder.path()));
    let latin = folder.path().join("latin.rhai");
    std::fs::write(&latin, b"let a = 1;\n// caf\xe9\n").expect("written");
    assert!(fail(&latin).contains("line 2 (byte 18) is not UTF-8 text"), "{}", fail(&latin));
    let huge = folder.path().join("huge.rhai");
    std::fs::write(&huge, vec![b' '; 300_000]).expect("written");
    assert!(fail(&huge).contains("300000 bytes, more than the 262144 allowed"), "{}", fail(&huge));
    let rendered = run_file(&missing, &registry).expect_err("no script").render(false);
    assert!(rendered.contains("gone.rhai"), "{rendered}");
}

#[test]
fn rendered_errors_read_well() {
    let misspelled = error_of("// a note\nlet rib = trapzoid(#{ pitch: 200 });\nlet s = sculpture(\"S\");");
    assert_eq!((misspelled.line(), misspelled.column()), (2, 11));
    insta::assert_snapshot!("misspelled_call", misspelled.render(false));
    let setting = error_of("let rib = trapezoid(#{\n    pich: 200,\n    depth: 40,\n});");
    assert!(setting.to_string().contains("did you mean \"pitch\"?"));
    insta::assert_snapshot!("unknown_setting", setting.render(false));
    let inside = error_of("fn foot(name) {\n    slab(name, #{ size: [900, 600] })\n}\nlet a = foot(\"A\");");
    assert_eq!((inside.line(), inside.called_from().len()), (2, 1));
    insta::assert_snapshot!("error_inside_a_function", inside.render(false));
    assert!(misspelled.render(true).contains("\u{1b}["), "colour is there when asked for");
    assert!(!misspelled.render(false).contains('\u{1b}'), "and not otherwise");
}

#[test]
fn what_was_printed_is_kept_also_by_an_error() {
    let text = "print(\"half way\"); debug(7); oops();";
    assert_eq!(error_of(text).printed(), ["half way", "7"]);
    let add =
        "let s = sculpture(\"S\"); let a = slab(\"A\", #{ size: [9, 6, 4] }); a.clad(flat(#{})); s.stand(a);";
    let text = format!("print(40 + 2); {add} print(a); let b = slab(\"B\", #{{ size: [9, 6, 4] }}); s");
    let outcome = Script::new("t.rhai", &text, None).run(&Registry::standard()).expect("it runs");
    assert_eq!(outcome.printed, ["42", "element \"A\""]);
    let codes: Vec<(&str, &str)> =
        outcome.findings.iter().map(|f| (f.code.as_str(), f.place.as_str())).collect();
    assert_eq!(codes, [("element-not-added", "B")], "an element that is in no sculpture is a finding");
}
