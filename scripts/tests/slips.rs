//! What a newcomer's slips are answered with: each with what the answer must say.

use ribwright_kernel::Registry;
use ribwright_scripts::Script;

const SOUND: &str = r#"let rib = trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70 });
let s = sculpture("Low Water Mark");
let a = frustum("A", #{ sides: 4, base: 900, top: 700, height: 1100, lean: 8 });
a.clad(rib);
s.stand(a);
let b = slab("B", #{ size: [460, 420, 700] });
b.clad(rib);
s.stack(b, #{ on: "A/top", sink: 150, turn: 20 });
s
"#;

/// What stands in the sound script, what is written instead, the line, and words of the answer.
const SLIPS: [(&str, &str, usize, &[&str]); 31] = [
    ("pitch: 200", "pich: 200", 1, &["unknown setting \"pich\"", "did you mean \"pitch\"?"]),
    (
        "height: 1100",
        "height: \"43in\"",
        3,
        &["without quotation marks and without a unit", "43in is 1092.2"],
    ),
    ("height: 1100", "height: \"1.1 m\"", 3, &["1.1 m is 1100"]),
    ("height: 1100", "height: 43in", 3, &["write the number alone, without in"]),
    ("height: 1100", "height: 1100mm", 3, &["write the number alone, without mm"]),
    ("lean: 8", "lean: 8°", 3, &["write the number alone", "angles degrees"]),
    ("base: 900", "base: 0.9", 3, &["allowed is a number from 1 to 100000 mm", "0.9 m are 900"]),
    ("lean: 8", "lean: 8,5", 3, &["decimals have a point: 8.5"]),
    ("sides: 4", "sides: \"four\"", 3, &["a whole number from 3 to 64, without quotation marks"]),
    ("sides: 4", "sides: 4.5", 3, &["a whole number from 3 to 64"]),
    ("height: 1100", "height: -1100", 3, &["-1100 is not allowed here"]),
    ("pitch: 200, depth", "pitch: 200 depth", 1, &["`,` is missing here"]),
    ("#{ size", "{ size", 6, &["a map begins with #{"]),
    ("size: [", "size = [", 6, &["`:` is missing here"]),
    ("[460, 420, 700]", "[460, 420]", 6, &["found 2 entries", "allowed is a list of 3 numbers"]),
    ("slab(\"B\"", "box(\"B\"", 6, &["unknown call box", "here it is slab("]),
    ("slab(\"B\"", "slab(B", 6, &["unknown variable B"]),
    (
        "a.clad(rib);",
        "a.clad(rib); a.face(\"top\").clad(rib);",
        4,
        &["clad one face with .ribs(#{ profile: … })"],
    ),
    ("a.clad(rib);", "a.clad(rib); a.rotate(20);", 4, &["here it is element.turn(axis, degrees)"]),
    ("s.stack(", "s.stak(", 8, &["did you mean stack?"]),
    ("s.stand(a);\n", "", 7, &["unknown element \"A\": there is none yet", "above this line"]),
    ("\"A/top\"", "\"C/top\"", 8, &["unknown element \"C\" (known: A)"]),
    ("\"A/top\"", "\"A/lid\"", 8, &["unknown face \"lid\" (known: side1"]),
    ("\"A/top\"", "\"A\"", 8, &["names no face", "\"A/east\""]),
    ("\"A/top\"", "a.face(\"top\")", 8, &["in double quotes: the face it stands on: \"A/top\""]),
    ("\"A/top\"", "'A/top'", 8, &["single quotes", "double quotes: \"A/top\""]),
    ("\"A/top\"", "“A/top”", 8, &["straight double quotes"]),
    ("let s", "# mine\nlet s", 2, &["write // before a comment"]),
    (
        "let s",
        "import \"boulder\" as boulder;\nlet d = boulder.make(\"D\", #{});\nlet s",
        3,
        &["boulder::make(…)"],
    ),
    (
        "let s",
        "import \"boulder\" as boulder;\nlet d = boulder::build(\"D\", #{});\nlet s",
        3,
        &["`ribwright recipes boulder` shows the calls"],
    ),
    (
        "let s",
        "import \"bolder\" as bolder;\nlet s",
        2,
        &["no module \"bolder\"", "did you mean \"boulder\"?"],
    ),
];

#[test]
fn slips_are_answered_with_place_fact_and_what_to_write() {
    let registry = Registry::standard();
    Script::new("t", SOUND, None).run(&registry).expect("the script without a slip runs");
    let mut wrong = Vec::new();
    for (sound, slip, line, wanted) in SLIPS {
        assert!(SOUND.contains(sound), "{sound} is not in the script");
        let text = SOUND.replacen(sound, slip, 1);
        let Err(error) = Script::new("t", &text, None).run(&registry) else {
            wrong.push(format!("{slip}: no error"));
            continue;
        };
        let said = error.to_string();
        if error.line() != line || wanted.iter().any(|words| !said.contains(words)) {
            wrong.push(format!("{slip}: line {line}, {wanted:?} wanted:\n  {said}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_table_taken_for_a_script_is_said_to_be_none() {
    let script = Script::new("yard.csv", "sheet,what,station\nS01,length,2400\n", None);
    let error = script.run(&Registry::standard()).expect_err("a table is no script");
    assert!(error.remedy().is_some_and(|r| r.contains("scripts end in .rhai")), "{error}");
}

#[test]
fn a_script_that_is_not_there_is_told_with_those_that_are() {
    let examples = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let missing = Script::read(&examples.join("frist.rhai")).expect_err("there is none");
    assert!(missing.to_string().contains("in that folder there is commission.rhai"), "{missing}");
    let folder = Script::read(&examples).expect_err("a folder");
    assert!(folder.to_string().contains("name the script inside it: commission.rhai"), "{folder}");
}

#[test]
fn a_stage_a_joint_kind_and_a_setting_are_words_too() {
    let registry = Registry::standard();
    let word = |name: &str| ribwright_scripts::word(&registry, name).expect("it is a word");
    let spine = word("spine");
    assert_eq!(
        (spine.group.as_str(), spine.signatures[0].as_str()),
        ("stage", "sculpture.stage(\"spine\", #{ … })")
    );
    assert!(spine.settings.iter().any(|s| s.name == "tube"), "{:?}", spine.settings);
    assert_eq!(word("lap").signatures, ["sculpture.joints(#{ kind: \"lap\", … })"]);
    let lean = word("lean");
    assert_eq!(lean.settings[0].name, "frustum lean", "{:?}", lean.settings);
    let stage = word("stage");
    let processes: Vec<&str> =
        stage.settings.iter().map(|s| s.name.as_str()).filter(|n| n.ends_with(": process")).collect();
    assert_eq!(processes, ["welds: process", "cutting: process"], "each under its stage");
}
