//! Surveys in scripts: sheets by name, findings, and files a script may not read.
#![allow(missing_docs, reason = "tests")]

use ribwright_kernel::Registry;
use ribwright_scripts::{Outcome, Script, ScriptError};
use std::path::{Path, PathBuf};

fn yard() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/yard")
}

const REST: &str = r#"
    let s = sculpture("One");
    let a = slab("A", #{ size: [900, 600, 400] });
    a.clad(rib);
    s.stand(a);
    s
"#;

fn run(calls: &str, folder: Option<&Path>) -> Result<Outcome, ScriptError> {
    let rib = "let rib = trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70, bend_radius: 6 });";
    Script::new("t.rhai", &format!("{rib}\n{calls}\n{REST}"), folder).run(&Registry::standard())
}

#[track_caller]
fn refused(calls: &str, folder: Option<&Path>, words: &[&str]) {
    let error = run(calls, folder).expect_err("refused").to_string();
    for word in words {
        assert!(error.contains(word), "{word:?} is missing from: {error}");
    }
}

#[test]
fn sheets_of_a_yard_are_found_by_name_and_misreadings_become_findings() {
    let calls = r#"
        let yard = survey("yard.csv", #{ profile: rib, tape: 0.6 });
        let sheet = yard.sheet("S03");
        print(sheet);
        print(yard.names().len());
        print(survey("yard.csv", #{}));
    "#;
    let outcome = run(calls, Some(&yard())).unwrap_or_else(|e| panic!("{}", e.render(false)));
    assert_eq!(outcome.printed, ["sheet S03", "20", "survey of 20 sheets"]);
    let misread = outcome.findings.iter().filter(|f| f.code == "misreading").count();
    assert_eq!(misread, 4, "two of each survey: {:?}", outcome.findings);
}

#[test]
fn a_script_reads_surveys_beside_it_only() {
    let yard = yard();
    let folder = Some(yard.as_path());
    refused("survey(\"yrd.csv\", #{ profile: rib });", folder, &["yrd.csv", "no such file", "2:1"]);
    refused("survey(\"../README.md\", #{ profile: rib });", folder, &["within the script's folder"]);
    refused("survey(\"/etc/hostname\", #{ profile: rib });", folder, &["within the script's folder"]);
    refused("survey(\"yard.csv\", #{ profile: rib });", None, &["within the script's folder"]);
    refused("survey(\"S20-1200.svg\", #{ profile: rib });", folder, &["S20-1200.svg", "line 1, column"]);
}

#[test]
fn wrong_names_and_settings_are_told_with_the_nearest() {
    let yard = yard();
    let folder = Some(yard.as_path());
    refused(
        "survey(\"yard.csv\", #{ profile: rib }).sheet(\"S99\");",
        folder,
        &["unknown sheet \"S99\"", "S01"],
    );
    refused("survey(\"yard.csv\", #{ profle: rib });", folder, &["did you mean \"profile\"?"]);
    refused("survey(\"yard.csv\", #{ profile: 3 });", folder, &["expected a profile"]);
    refused("survey(\"yard.csv\", #{ alpha: 3 });", folder, &["alpha"]);
    refused("for k in 0..30 { survey(\"yard.csv\", #{ profile: rib }); }", folder, &["more than 20 surveys"]);
}

#[test]
fn what_an_earlier_work_left_is_stock_for_the_next() {
    let calls = r#"
        let left = stock("offcuts.csv", [rib]);
        print(left.len());
        print(left[0].name);
        print(left[0].length);
        print(left[1].damage);
        let t = sculpture("Two");
        t.lay(#{ sheets: left + [#{ name: "new", length: 3000, width: 1000, profile: rib }] });
    "#;
    let outcome = run(calls, Some(&yard())).unwrap_or_else(|e| panic!("{}", e.render(false)));
    let hole = "hole: 820 310, 905 300, 930 365, 870 400, 810 370";
    assert_eq!(outcome.printed, ["3", "S01", "2404.0", hole]);
    refused(
        "sculpture(\"x\").lay(#{ sheets: [#{ name: \"a\", length: 900, width: 900, profile: rib, damage: \"bent\" }] });",
        Some(&yard()),
        &["lay: sheet 1: damage", "colon"],
    );
    refused("stock(\"offcuts.csv\", []);", Some(&yard()), &["offcuts.csv", "line 2", "profile"]);
    refused("stock(\"offcuts.csv\", [5]);", Some(&yard()), &["profiles"]);
    refused("stock(\"none.csv\", [rib]);", Some(&yard()), &["none.csv"]);
}
