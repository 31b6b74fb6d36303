//! Rates that scripts read: the file beside the script, and what is said when it is wrong.

use ribwright_kernel::{Registry, work_out};
use ribwright_scripts::run_file;
use std::path::Path;

/// Runs a script with a rates file beside it.
fn run(rates: Option<&str>) -> Result<ribwright_kernel::sculpture::Sculpture, String> {
    let folder = tempfile::tempdir().expect("a folder");
    let script = folder.path().join("work.rhai");
    let text = r#"
let s = sculpture("One");
let a = slab("A", #{ size: [900, 600, 400] });
a.clad(flat(#{ thickness: 2 }));
s.stand(a);
s.rates("rates.csv");
s
"#;
    std::fs::write(&script, text).expect("written");
    if let Some(rates) = rates {
        std::fs::write(folder.path().join("rates.csv"), rates).expect("written");
    }
    run_file(&script, &Registry::standard()).map_err(|e| e.render(false))
}

#[test]
fn a_file_beside_the_script_gives_the_rates() {
    let text =
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/yard/rates.csv"));
    let sculpture = run(Some(&text.expect("a fixture"))).expect("runs");
    let rates = sculpture.rates.as_ref().expect("rates");
    assert_eq!((rates.currency.as_str(), rates.of("labour").range), ("CRN", [38.0, 45.0, 55.0]));
    assert!(work_out(&sculpture, &Registry::standard()).is_ok());
}

#[test]
fn a_wrong_file_is_told_with_its_line_and_that_of_the_script() {
    for (text, words) in [
        (
            Some("item,unit,low,usual,high,note\nlabor,CRN/h,1,2,3,\n"),
            ["rates.csv: line 2, column 1", "did you mean \"labour\"?"],
        ),
        (Some("item;unit;low;usual;high;note\n"), ["semicolons", "commas"]),
        (Some("item,unit,low,usual,high,note\nlabour,CRN/h,1,\"2,5\",3,\n"), ["column 4 (usual)", "2.5"]),
        (None, ["rates.csv", "no such file"]),
    ] {
        let error = run(text).expect_err("refused");
        for word in words.into_iter().chain(["work.rhai:6"]) {
            assert!(error.contains(word), "{error}\nlacks {word:?}");
        }
    }
}
