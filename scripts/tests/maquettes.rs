//! Maquettes in scripts: elements by name, tidied, enlarged, and files a script may not read.
#![allow(missing_docs, reason = "tests")]

use ribwright_kernel::Registry;
use ribwright_scripts::{Outcome, Script, ScriptError};
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/maquette")
}

fn run(calls: &str) -> Result<Outcome, ScriptError> {
    let rib = "let rib = trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70, bend_radius: 6 });";
    let rest = "let s = sculpture(\"One\"); let z = slab(\"Z\", #{ size: [900, 600, 400] }); z.clad(rib);";
    Script::new("t.rhai", &format!("{rib}\n{calls}\n{rest}\ns.stand(z);\ns"), Some(&folder()))
        .run(&Registry::standard())
}

#[track_caller]
fn refused(calls: &str, words: &[&str]) {
    let error = run(calls).expect_err("refused").to_string();
    for word in words {
        assert!(error.contains(word), "{word:?} is missing from: {error}");
    }
}

#[test]
fn elements_of_a_maquette_are_like_any_other() {
    let calls = r#"
        let m = maquette("two.csv", #{ scale: 10 });
        m.plumb("A/south").level("A/bottom");
        print(m);
        print(m.elements());
        let a = m.element("A");
        let b = m.element("B");
        a.clad(rib);
        b.clad(rib);
        let w = sculpture("Other");
        w.add(a);
        w.add(b);
        print(a.faces().len());
        print((m.between("P1", "P2") * 10).round() / 10 > 115);
    "#;
    let outcome = run(&format!("{calls}\nlet unused = 0;")).map(|o| (o.printed, o.findings));
    let (printed, findings) = outcome.unwrap_or_else(|e| panic!("{}", e.render(false)));
    assert_eq!(printed, ["maquette of 12 points", r#"["A", "B"]"#, "6", "true"]);
    let of = |code: &str| findings.iter().filter(|f| f.code == code).count();
    assert_eq!((of("misreading"), of("tidied")), (1, 2), "{findings:#?}");
}

#[test]
fn what_a_maquette_does_not_have_is_told_with_the_nearest() {
    refused("maquette(\"tow.csv\", #{});", &["tow.csv", "no such file"]);
    refused("maquette(\"../README.md\", #{});", &["within the script's folder"]);
    refused("maquette(\"two.csv\", #{ scal: 10 });", &["did you mean \"scale\"?"]);
    refused("maquette(\"two.csv\", #{ scale: 10, pitch: 200 });", &["more than one way"]);
    refused(
        "maquette(\"two.csv\", #{ between: \"P1 P99\", length: 900 }).element(\"A\");",
        &["unknown point"],
    );
    let m = "let m = maquette(\"two.csv\", #{ scale: 10 });";
    refused(&format!("{m} m.element(\"C\");"), &["unknown element \"C\""]);
    refused(&format!("{m} m.plumb(\"A/est\");"), &["did you mean \"A/east\"?"]);
    refused(&format!("{m} m.most_sides(\"A\", 3);"), &["at least 4"]);
    refused(&format!("{m} m.element(\"A\"); m.plumb(\"A/east\");"), &["made into elements already"]);
}

#[test]
fn tracings_make_elements_alone_and_beside_readings() {
    let calls = r#"
        let m = maquette(["wedge.svg"], #{ scale: 10 });
        let w = m.element("W");
        w.clad(rib);
        let other = sculpture("Other");
        other.add(w);
        print(m.elements());
        let both = maquette("two.csv", #{ tracings: ["wedge.svg"], deviation: 0.3 });
        print(both.elements());
    "#;
    let outcome = run(calls).map(|o| o.printed);
    let printed = outcome.unwrap_or_else(|e| panic!("{}", e.render(false)));
    assert_eq!(printed, [r#"["W"]"#, r#"["A", "B", "W"]"#]);
    // Ribs drawn on the south face lie on the element as on the script that `measure` writes.
    let calls = r#"
        let m = maquette(["wedge.svg"], #{ scale: 10 });
        let s = sculpture("Two");
        let w = m.element("W");
        w.clad(rib);
        s.add(w);
        return s;
    "#;
    let made = run(calls).unwrap_or_else(|e| panic!("{}", e.render(false))).sculpture;
    let drawn: Vec<&str> = made.elements[0]
        .solid
        .faces
        .iter()
        .zip(&made.elements[0].cladding)
        .filter(|(_, c)| c.along.is_some() && c.through.is_some())
        .map(|(f, _)| f.label.as_str())
        .collect();
    assert_eq!(drawn, ["south"]);
    refused("maquette([\"none.svg\"], #{});", &["none.svg", "no such file"]);
    refused("maquette(\"two.csv\", #{ tracings: \"wedge.svg\" });", &["a list of names of files"]);
    refused("maquette([1], #{});", &["a list of names of files"]);
    refused("maquette([], #{});", &["nothing was measured"]);
    refused("maquette([\"wedge.svg\"], #{ wobbel: 2 });", &["did you mean \"wobble\"?"]);
}
