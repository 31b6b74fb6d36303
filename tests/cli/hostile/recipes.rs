//! Hostile recipes: heads that lie, flood or write to the terminal, recipes that never end, links that lead out. Listed,
//! shown with their picture, tried over their ranges, and imported.

use super::Case;

const HEAD: &str = "//! A post.\n//!\n//! kind: shape\n//! call: make(name, settings)\n//! gives: an element\n\
    //! author: A. Name\n//! licence: MIT\n//! settings:\n//! - width: 700 mm, 500 to 900; along x\n";
const BODY: &str = "fn make(name, settings) { let size = checked(settings); slab(name, #{ size: [size.width, size.width, 900] }) }\n\
    fn show(settings) { let s = sculpture(\"Post\"); let a = make(\"A\", settings); a.clad(flat(#{})); s.stand(a); s }\n";

/// The four ways a recipe is met with.
const WAYS: [&[&str]; 4] = [
    &["recipes", "--recipes", "lib"],
    &["recipes", "post", "--recipes", "lib", "--out", "post.svg"],
    &["recipes", "--check", "lib", "--runs", "2"],
    &["check", "work.rhai", "--recipes", "lib"],
];

/// A recipe in every way; `says` is said in one of them at least.
fn met(name: &str, recipe: &str, says: &'static str) -> Vec<Case> {
    let work = "import \"post\" as p; let s = sculpture(\"S\"); let a = p::make(\"A\", #{}); a.clad(flat(#{})); s.stand(a); \
        let t = p::show(#{}); s";
    let met = WAYS.iter().map(|args| Case {
        name: format!("recipe: {name}, {}", args.join(" ")),
        args: args.to_vec(),
        files: vec![
            ("work.rhai".to_owned(), work.as_bytes().to_vec()),
            ("lib/post.rhai".to_owned(), recipe.as_bytes().to_vec()),
            // So that the folder has a recipe that is right, too.
            ("lib/other.rhai".to_owned(), format!("{HEAD}{BODY}").into_bytes()),
        ],
        links: Vec::new(),
        refused: None,
        says: None,
    });
    let mut met: Vec<Case> = met.collect();
    if !says.is_empty() {
        // A wrong head is told wherever it is read, anything else where the recipe is run.
        met[3].says = Some(says);
    }
    met
}

pub(super) fn cases() -> Vec<Case> {
    let head = |from: &str, to: &str| format!("{}{BODY}", HEAD.replace(from, to));
    let body = |from: &str, to: &str| format!("{HEAD}{}", BODY.replace(from, to));
    let row = |row: String| format!("{HEAD}//! - more: {row}; more\n{BODY}");
    let words: Vec<String> = (0..20_000).map(|k| format!("w{k}")).collect();
    let many: String = (0..60).map(|k| format!("//! - s{k}: 5 mm, 1 to 9; more\n")).collect();
    let all = [
        (
            "escapes in the head",
            head("A post.", "A \u{1b}[2J\u{1b}]0;own\u{7}post."),
            "unseen character U+001B",
        ),
        ("writing turned round in the head", head("A. Name", "A\u{202e}emaN"), "unseen character U+202E"),
        ("NUL in the head", head("A post", "A\u{0}post"), "unseen character U+0000"),
        ("a returned line in the head", head("A. Name", "A\rerror: trusted"), "unseen character U+000D"),
        ("an author without end", head("A. Name", &"A".repeat(200_000)), "more than 400 characters"),
        ("help without end", head("//!\n", &"//! h\n".repeat(40_000)), "more than 200 lines"),
        ("a range of nothing", head("500 to 900", "nan to nan"), "not a usable number"),
        ("a range without bounds", head("500 to 900", "-inf to inf"), "not a usable number"),
        ("a range beyond numbers", head("500 to 900", "-1e300 to 1e300"), "not a usable number"),
        ("a range turned round", head("500 to 900", "900 to 500"), "is empty"),
        ("a range of thousands of kilometres", head("500 to 900", "-1e9 to 1e9"), ""),
        ("a range of nearly nothing", head("500 to 900", "700 to 700.0000000001"), ""),
        ("a choice of 20,000 words", row(words.join(" | ")), "more than 400 characters"),
        ("a choice over lines", row(words[..2000].join(" |\n//!   ")), "more than 200 lines"),
        (
            "a choice of 150 words",
            row(words[..150].chunks(30).map(|w| w.join(" | ")).collect::<Vec<_>>().join(" |\n//!   ")),
            "150 words are more than the 100",
        ),
        (
            "a list of numbers without end",
            row(format!("[{}] mm, 0 to 9", "5, ".repeat(50_000))),
            "more than 400",
        ),
        ("sixty settings", format!("{HEAD}{many}{BODY}"), "more than 40 settings"),
        ("a setting that looks like another", head("- width", "- w\u{456}dth"), "cannot be the name"),
        ("a unit that is none", head("700 mm", "700 bolts"), "not a unit"),
        ("a call that is not there", head("make(name", "none(name"), ""),
        ("settings not checked", body("checked(settings)", "settings; size.width ??= 700"), ""),
        ("a head that lies about its size", body("900] })", "1e9] })"), ""),
        ("a show of no work", body("s.stand(a); s", "s.stand(a); 7"), ""),
        ("a show without end", body("s.stand(a); s", "loop {}"), "steps"),
        (
            "a show that floods",
            body("s.stand(a); s", "let t = \"x\"; t.pad(30000, \"y\"); loop { print(t); }"),
            "",
        ),
        (
            "print of escapes",
            body("s.stand(a); s", "print(\"\\u001b[2J\\u202E\\u0007\"); s.stand(a); s"),
            "\\u{1b}[2J\\u{202e}",
        ),
        (
            "a throw without end",
            body("s.stand(a); s", "let t = \"x\"; t.pad(30000, \"y\"); throw t + \"\";"),
            "…",
        ),
        ("a throw of nothing", body("s.stand(a); s", "throw \" \";"), "stopped itself"),
        ("a throw of a closure", body("s.stand(a); s", "throw #{ a: [1, 2, 3], b: |x| x };"), ""),
        ("a throw of escapes", body("s.stand(a); s", "throw \"\\u001b[31mred\\u0007\\u202Ex\";"), ""),
        ("a name of escapes", body("\"Post\"", "\"\\u001b[2J\""), ""),
        (
            "a huge picture",
            body(
                "s.stand(a); s",
                "for i in 0..200 { let b = slab(\"B\" + i, #{ size: [290000, 9, 9] }); b.clad(sine(#{ pitch: 30, depth: 9 })); \
                 s.add(b.move([0, i * 20, 0])); } s.stand(a); s",
            ),
            "",
        ),
        (
            "a picture of what is a thousand kilometres away",
            body(
                "s.stand(a); s",
                "s.add(a.move([1e9, 1e9, 1e9])); let b = slab(\"B\", #{ size: [9, 9, 9] }); b.clad(flat(#{})); s.add(b); s",
            ),
            "",
        ),
        ("it imports itself", format!("{HEAD}import \"post\" as me;\n{BODY}"), "circle"),
        (
            "it imports itself late",
            body("slab(name", "import \"post\" as m; m::make(name, settings); slab(name"),
            "",
        ),
        (
            "functions without end",
            format!("{HEAD}fn f(n) {{ f(n + 1) }}\n{}", BODY.replace("slab(name", "f(0); slab(name")),
            "deep",
        ),
        ("it imports the script", format!("{HEAD}import \"work\" as w;\n{BODY}"), ""),
        ("cut off", format!("{HEAD}fn make(name, settings) {{ \"abc"), ""),
        ("a head and no body", HEAD.to_owned(), ""),
        ("nothing", String::new(), ""),
        ("a mark at the start", format!("\u{feff}{HEAD}{BODY}"), ""),
        ("returned lines", format!("{HEAD}{BODY}").replace('\n', "\r\n"), ""),
    ];
    let mut cases: Vec<Case> =
        all.into_iter().flat_map(|(name, recipe, says)| met(name, &recipe, says)).collect();
    // A link that leads out of the folder, to a file, to the folder itself, and to nowhere.
    for to in ["../secret.rhai", "/etc/passwd", "/dev/zero", ".", "nowhere"] {
        let mut linked = met(&format!("a link to {to}"), "", "");
        for case in &mut linked {
            case.files.retain(|(name, _)| name != "lib/post.rhai");
            case.files
                .push(("secret.rhai".to_owned(), format!("{HEAD}// secret-words\n{BODY}").into_bytes()));
            case.links.push((to.to_owned(), "lib/post.rhai".to_owned()));
        }
        linked[3].says = Some("error");
        cases.extend(linked);
    }
    cases
}
