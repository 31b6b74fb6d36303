//! `vary`: variants, the sheet of pictures, and picking one.

use crate::{Run, contents, folder_with, ribwright, write};
use serde_json::Value;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};

/// A small work with choices: a block on a block, farther out or less; one list, one seed.
const OPEN: &str = r#"
let sheet = flat(#{ thickness: choose("thickness", [2, 3]) });
let s = sculpture("Open Tide");
let a = slab("A", #{ size: [700, 600, 300] });
a.clad(sheet);
s.stand(a);
let b = slab("B", #{ size: [400, 380, choose("Höhe, \"B\"", 300, 500, #{ step: 100, unit: "mm" })] });
b.clad(sheet);
let g = seed("turn");
s.stack(b, #{ on: "A/top", sink: 60, shift: [choose("out", 0, 120), 0], turn: g.between(-30, 30) });
s
"#;

#[track_caller]
fn json(run: Run) -> Value {
    serde_json::from_str(&run.stdout).unwrap_or_else(|e| panic!("{e}: {run:?}"))
}

#[track_caller]
fn read(path: &Path) -> Value {
    let bytes = std::fs::read(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    serde_json::from_slice(&bytes).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

#[test]
fn variants_are_the_same_bytes_with_one_thread_and_two() {
    let folder = folder_with(OPEN);
    let args = ["vary", "work.rhai", "--count", "5", "--seed", "3"];
    ribwright(folder.path(), &[&args[..], &["--threads", "1", "--out", "one"]].concat()).done();
    ribwright(folder.path(), &[&args[..], &["--threads", "2", "--out", "two"]].concat()).done();
    let (one, two) = (contents(&folder.path().join("one")), contents(&folder.path().join("two")));
    let names: Vec<&str> = one.keys().map(String::as_str).collect();
    assert_eq!(names, ["manifest.json", "vary.csv", "vary.html", "vary.json", "vary.pdf", "vary.svg"]);
    assert_eq!(one, two);
    let other = ["vary", "work.rhai", "--count", "5", "--seed", "4", "--out", "two"];
    ribwright(folder.path(), &other).done();
    assert_ne!(one["vary.csv"], contents(&folder.path().join("two"))["vary.csv"], "another seed");
}

#[test]
fn a_picked_variant_is_made_with_the_figures_it_was_drawn_with() {
    let folder = folder_with(OPEN);
    let at = |name: &str| folder.path().join(name);
    ribwright(folder.path(), &["vary", "work.rhai", "--count", "4"]).done().says(&[
        "tried 4 variants",
        "(as it is now)",
        "--pick NUMBER",
    ]);
    ribwright(folder.path(), &["make", "work.rhai", "--out", "usual", "--only", "mass"]).done();
    ribwright(folder.path(), &["vary", "work.rhai", "--pick", "3"]).done().says(&[
        "picked variant 3: ",
        "work.picked.json",
        "--unpick",
    ]);
    let made = ribwright(folder.path(), &["make", "work.rhai"]).done();
    made.says(&["note[picked]", "as picked in work.picked.json, variant 3"]);
    let (job, report) = (read(&at("out/job.json")), read(&at("vary/vary.json")));
    let variant = &report["variants"][2];
    let figures = &variant["figures"];
    for name in ["enclosed_volume_mm3", "shell_area_mm2", "mass_kg", "centre_of_mass_mm"] {
        assert_eq!(job["sculpture"][name], figures[name], "{name}, to the last bit");
    }
    let sum = |list: &str, key: &str| -> f64 {
        job[list].as_array().into_iter().flatten().filter_map(|x| x[key].as_f64()).sum()
    };
    assert_eq!(Some(sum("parts", "area_mm2")), figures["parts_area_mm2"].as_f64());
    assert_eq!(Some(sum("seams", "length_mm")), figures["seam_length_mm"].as_f64());
    for chosen in job["choices"].as_array().expect("choices") {
        let name = chosen["name"].as_str().expect("a name");
        assert_eq!((&chosen["value"], &chosen["picked"]), (&variant["values"][name], &Value::Bool(true)));
    }
    // The margin as the schedule has it, to its tenth of a millimetre.
    let balance = std::fs::read_to_string(at("out/schedules/balance.csv")).expect("a schedule");
    let head: Vec<&str> = balance.lines().next().expect("a head").split(',').collect();
    let column = head.iter().position(|h| *h == "margin mm").expect("a column");
    let margins = balance.lines().skip(1).filter_map(|l| l.split(',').nth(column)?.parse::<f64>().ok());
    let least = margins.fold(f64::INFINITY, f64::min);
    assert!((least - figures["least_margin_mm"].as_f64().expect("a margin")).abs() <= 0.05, "{least}");
    // Tried again, what is picked is what is now; freed, the usual values come back.
    ribwright(folder.path(), &["vary", "work.rhai", "--count", "2", "--out", "again"]).done();
    assert_eq!(read(&at("again/vary.json"))["variants"][0]["values"], variant["values"]);
    ribwright(folder.path(), &["vary", "work.rhai", "--pick", "2"]).done().says(&["before, this was picked"]);
    ribwright(folder.path(), &["vary", "work.rhai", "--unpick=out"])
        .done()
        .says(&["freed: out", "still picked"]);
    ribwright(folder.path(), &["vary", "work.rhai", "--unpick=nothing"]).failed().says(&["\"nothing\""]);
    ribwright(folder.path(), &["vary", "work.rhai", "--unpick"]).done().says(&["removed work.picked.json"]);
    ribwright(folder.path(), &["vary", "work.rhai", "--unpick"]).done().says(&["nothing is picked"]);
    let made = ribwright(folder.path(), &["make", "work.rhai", "--out", "usual2", "--only", "mass"]).done();
    assert!(!made.stdout.contains("picked"), "{made:?}");
    assert_eq!(
        std::fs::read(at("usual/job.json")).expect("a job"),
        std::fs::read(at("usual2/job.json")).expect("a job")
    );
}

#[test]
fn rules_let_variants_fall_out_and_a_broken_one_takes_no_other_with_it() {
    let script = r#"
let n = choose("sides", 3, 6, #{ step: 1 });
if n == 5 { throw "no pentagons here"; }
let s = sculpture("Rules");
s.rules(#{ max_sides: 6 });
let a = prism("A", #{ sides: n, width: 500, height: 400 });
a.clad(flat(#{}));
s.stand(a);
s
"#;
    let folder = folder_with(script);
    // By hand: sides and both ends are 5, 6, 7 and 8 of which 5 and 6 are allowed; the third is thrown away.
    let run = ribwright(folder.path(), &["vary", "work.rhai", "--grid"]).done();
    run.says(&[
        "tried 4 variants",
        "2 kept",
        "1 by max_sides",
        "1 cannot be worked out",
        "no pentagons here",
    ]);
    let report = read(&folder.path().join("vary/vary.json"));
    let fate: Vec<String> = (0..4)
        .map(|k| {
            let v = &report["variants"][k];
            format!("{} {} {}", v["values"]["sides"], v["kept"], v["fell_out"][0]["rule"])
        })
        .collect();
    assert_eq!(fate, ["3 true null", "4 true null", "5 false null", "6 false \"max_sides\""]);
    ribwright(folder.path(), &["vary", "work.rhai", "--pick", "3"]).failed().says(&["no pentagons here"]);
    ribwright(folder.path(), &["vary", "work.rhai", "--pick", "5"])
        .failed()
        .says(&["no variant 5", "1 to 4"]);
    ribwright(folder.path(), &["vary", "work.rhai", "--pick", "4"]).done().says(&["fell out by max_sides"]);
    // A rule for one run; none is left: said, and no picture.
    let args = ["vary", "work.rhai", "--grid", "--rule", "max_sides=4", "--json"];
    let found = json(ribwright(folder.path(), &args).done());
    assert_eq!(found["report"]["kept"], 0);
    assert_eq!(found["files"], serde_json::json!(["vary.csv", "vary.html", "vary.json"]));
    ribwright(folder.path(), &["vary", "work.rhai", "--rule", "max_side=4"]).failed().says(&["max_sides"]);
    ribwright(folder.path(), &["vary", "work.rhai", "--rule", "max_sides"])
        .failed()
        .says(&["least_margin=80"]);
    ribwright(folder.path(), &["vary", "work.rhai", "--grid", "--hold", "sides"])
        .done()
        .says(&["tried 1 variant "]);
    ribwright(folder.path(), &["vary", "work.rhai", "--hold", "side"])
        .failed()
        .says(&["--hold", "\"sides\""]);
}

#[test]
fn a_choice_behind_another_is_found_and_no_variant_is_drawn_twice() {
    let script = r#"
let s = sculpture("Behind");
let height = 400;
if choose("kind", ["low", "high"]) == "high" { height = choose("height", 600, 900, #{ step: 100 }); }
let a = slab("A", #{ size: [500, 400, height] });
a.clad(flat(#{}));
s.stand(a);
s
"#;
    let folder = folder_with(script);
    // One low one, and high ones of 600, 700, 800 and 900.
    ribwright(folder.path(), &["vary", "work.rhai"]).done().says(&["tried 5 variants", "5 kept"]);
    let report = read(&folder.path().join("vary/vary.json"));
    assert_eq!(report["variants"][0]["values"], serde_json::json!({ "kind": "low" }));
    assert_eq!(report["variants"][4]["values"], serde_json::json!({ "kind": "high", "height": 900 }));
    // What is picked holds for its own choices only.
    ribwright(folder.path(), &["vary", "work.rhai", "--pick", "1"]).done();
    ribwright(folder.path(), &["check", "work.rhai"]).done().says(&["kind low"]);
    ribwright(folder.path(), &["vary", "work.rhai", "--pick", "5"]).done();
    ribwright(folder.path(), &["check", "work.rhai"]).done().says(&["kind high, height 900"]);
}

#[test]
fn what_cannot_be_varied_or_picked_is_said() {
    let folder = folder_with(crate::SMALL);
    let says = |args: &[&str], words: &[&str]| {
        ribwright(folder.path(), args).failed().says(words);
    };
    says(&["vary", "work.rhai"], &["leaves nothing open", "choose("]);
    says(&["vary", "absent.rhai"], &["absent.rhai"]);
    says(&["vary", "work.rhai", "--pick", "1"], &["no variants to pick from", "ribwright vary work.rhai"]);
    write(&folder.path().join("work.rhai"), b"let a = choose(\"lean\", 5, 20);\nnonsense();\n");
    says(&["vary", "work.rhai"], &["nonsense", "none of 3 variants can be worked out"]);
    assert!(!folder.path().join("vary").exists(), "there is nothing to look at");
    write(&folder.path().join("work.rhai"), OPEN.as_bytes());
    ribwright(folder.path(), &["vary", "work.rhai", "--count", "2"]).done();
    // Another script's variants are not picked for this one, nor values that it does not allow any more.
    write(&folder.path().join("other.rhai"), OPEN.as_bytes());
    says(&["vary", "other.rhai", "--pick", "1"], &["variants of work.rhai"]);
    write(&folder.path().join("work.rhai"), OPEN.replace("0, 120", "200, 320").as_bytes());
    says(
        &["vary", "work.rhai", "--pick", "1"],
        &["work.picked.json picks 60", "from 200 to 320", "work.rhai:10"],
    );
    assert!(!folder.path().join("work.picked.json").exists(), "it was picked all the same");
    write(&folder.path().join("work.rhai"), OPEN.replace("Open Tide", "Another Name").as_bytes());
    ribwright(folder.path(), &["vary", "work.rhai", "--pick", "1"]).done().says(&["has changed since"]);
    for args in [
        &["vary"][..],
        &["vary", "work.rhai", "--pick", "1", "--grid"],
        &["vary", "work.rhai", "--count", "0"],
    ] {
        assert_eq!(ribwright(folder.path(), args).code, Some(2), "{args:?}");
    }
}

#[test]
fn watch_makes_again_when_a_variant_is_picked() {
    let folder = folder_with(OPEN);
    ribwright(folder.path(), &["vary", "work.rhai", "--count", "3"]).done();
    let mut watching = Command::new(env!("CARGO_BIN_EXE_ribwright"))
        .current_dir(folder.path())
        .args(["watch", "work.rhai"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap_or_else(|e| panic!("ribwright does not start: {e}"));
    let lines = BufReader::new(watching.stdout.take().expect("a stream")).lines();
    let mut lines = lines.map_while(Result::ok);
    let mut until =
        |word: &str| lines.find(|line| line.contains(word)).unwrap_or_else(|| panic!("{word:?} never came"));
    until("watching ");
    ribwright(folder.path(), &["vary", "work.rhai", "--pick", "2"]).done();
    until("work.picked.json saved");
    until("as picked in work.picked.json, variant 2");
    until("watching ");
    ribwright(folder.path(), &["vary", "work.rhai", "--unpick"]).done();
    until("work.picked.json saved");
    until("wrote ");
    watching.kill().unwrap_or_else(|e| panic!("{e}"));
    let _ = watching.wait();
}
