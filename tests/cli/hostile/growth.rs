//! Hostile scripts that let lists, maps and texts grow, flood names, and print without end.

use super::{BODY, Case, ends, refused};

pub(super) fn cases() -> Vec<Case> {
    let text = "32768 bytes";
    let list = "5000 entries";
    let map = "1000 entries";
    let mut all = vec![
        refused("a text doubled", "let s = \"x\"; loop { s += s; }", text),
        refused("a text doubled inside itself", "let s = \"xx\"; loop { s = `${s}${s}`; }", text),
        refused("a text padded", "let s = \"\"; s.pad(1000000000, \"x\");", text),
        refused("a text padded with a text", "let s = \"\"; s.pad(1000000000, \"xyz\");", text),
        refused(
            "a text replaced by itself",
            "let s = \"\"; s.pad(30000, \"a\"); let t = s; s.replace(\"a\", t); s.replace(\"a\", t);",
            text,
        ),
        refused(
            "a letter replaced by a text",
            "let s = \"\"; s.pad(30000, \"a\"); let t = s; s.replace('a', t); print(s.len());",
            text,
        ),
        refused(
            "a text cut into letters",
            "let s = \"\"; s.pad(30000, \"a\"); let a = s.chars().collect(); print(a.len());",
            "",
        ),
        refused(
            "a text cut at nothing",
            "let s = \"\"; s.pad(30000, \"a\"); let a = s.split(\"a\"); print(a.len());",
            list,
        ),
        refused("a list doubled", "let a = [1]; loop { a += a; }", list),
        refused("a list pushed", "let a = []; loop { a.push(1); }", list),
        refused("a list inserted", "let a = []; loop { a.insert(0, 1); }", list),
        refused("a list appended to itself", "let a = [1]; loop { a.append(a); }", list),
        refused("a list padded", "let a = []; a.pad(1000000000, 0);", list),
        refused(
            "a list padded with texts",
            "let s = \"\"; s.pad(30000, \"x\"); let a = []; a.pad(4000, s);",
            text,
        ),
        refused("a list padded with lists", "let b = []; b.pad(4000, 0); let a = []; a.pad(4000, b);", list),
        refused("a list put into itself", "let a = [1, 2]; loop { a[0] = a; a[1] = a; }", list),
        refused(
            "a list in a map put into itself",
            "let m = #{ a: [1, 2] }; loop { m.a[0] = m.a; m.a[1] = m.a; }",
            list,
        ),
        refused("a list paired with itself", "let a = []; loop { a.push(\"x\"); a = [a, a]; }", "entries"),
        refused(
            "a list of lists by map",
            "let b = []; b.pad(4900, 0); let a = []; a.pad(4900, 0); let c = a.map(|x| b + [x]); print(c.len());",
            list,
        ),
        refused(
            "a list of texts by map",
            "let b = \"\"; b.pad(32000, \"x\"); let a = []; a.pad(4900, 0); let c = a.map(|x| b + x); print(c.len());",
            text,
        ),
        refused(
            "a list of lists by a map of a map",
            "let a = []; a.pad(4900, 0); let m = #{}; for i in 0..900 { m[\"k\" + i] = i; } let c = m.map(|k, v| a + [v]); print(c.len());",
            "entries",
        ),
        refused(
            "a list of itself by a closure",
            "let a = []; let f = || a.push(a); loop { f.call(); }",
            "entries",
        ),
        refused("a range collected", "let a = (0..1000000000).collect(); print(a.len());", ""),
        refused("a range as a list", "let a = []; for i in 0..1000000 { a += [i]; }", list),
        refused("a list extracted from itself", "let a = [1]; loop { a += a.extract(0); }", list),
        refused("a list spliced into itself", "let a = [1, 2]; loop { a.splice(0, 1, a); }", list),
        refused("bytes", "let b = blob(1000000000, 7); print(b.len());", "blob"),
        refused("a map filled", "let m = #{}; let i = 0; loop { m[\"k\" + i] = i; i += 1; }", map),
        refused(
            "a map mixed",
            "let m = #{}; let i = 0; loop { let n = #{}; n[\"k\" + i] = i; m += n; i += 1; }",
            map,
        ),
        refused(
            "a map with long keys",
            "let s = \"\"; s.pad(30000, \"x\"); let m = #{}; let i = 0; loop { m[s + i] = i; i += 1; }",
            text,
        ),
        refused(
            "a map with texts",
            "let s = \"\"; s.pad(30000, \"x\"); let m = #{}; let i = 0; loop { m[\"k\" + i] = s + i; i += 1; }",
            text,
        ),
        refused(
            "lists bound to a function",
            "let b = []; b.pad(4000, 0); let f = |a, x| x; loop { f = f.curry(b); }",
            list,
        ),
        refused(
            "texts bound to a function",
            "let b = \"\"; b.pad(4000, \"x\"); let f = |a, x| x; let i = 0; loop { f = f.curry(b + i); i += 1; }",
            text,
        ),
        refused(
            "functions bound to functions",
            "let f = |a, x| x; loop { f = f.curry(f).curry(f); }",
            "entries",
        ),
        refused(
            "a list in every call",
            "fn f(n, a) { let b = a + [n]; let c = b + [n]; let d = c + [n]; f(n + 1, d) } let a = []; a.pad(4900, 0); f(0, a);",
            "more than",
        ),
        refused("printed without end", "let i = 0; loop { print(i); i += 1; }", "steps"),
        refused(
            "long lines printed without end",
            "let s = \"\"; s.pad(32000, \"x\"); loop { print(s); }",
            "steps",
        ),
        refused("debug without end", "let s = \"\"; s.pad(32000, \"x\"); loop { debug(s); }", "steps"),
        refused("thrown text", "let s = \"\"; s.pad(32000, \"x\"); throw s;", "xxx"),
        refused("thrown list", "let a = []; a.pad(4900, \"xxxxxx\"); throw a;", "xxx"),
        refused("a file too long", format!("// {}\n{BODY}", "x".repeat(300_000)), "bytes"),
        refused(
            "one long line",
            format!("let a = \"{}\"; nothing_of_that_name();", "x".repeat(32_000)),
            "unknown call",
        ),
        refused(
            "one line of many calls",
            format!("{} nothing_of_that_name();", "let a = 1;".repeat(20_000)),
            "",
        ),
        refused(
            "elements without end",
            "let i = 0; loop { slab(\"A\" + i, #{ size: [9, 6, 4] }); i += 1; }",
            "more than 1000 elements",
        ),
        refused("profiles without end", "loop { flat(#{}); }", "more than 1000 profiles"),
        refused("sculptures without end", "loop { sculpture(\"S\"); }", "more than 100 sculptures"),
        refused(
            "faces asked for without end",
            "let a = slab(\"A\", #{ size: [9, 6, 4] }); loop { a.face(\"top\"); }",
            "steps",
        ),
        refused(
            "joints without end",
            format!(
                "{} let i = 0; loop {{ s.joint(\"A/top\" , \"B/f\" + i, #{{ kind: \"true\" }}); i += 1; }}",
                BODY
            ),
            "",
        ),
        refused(
            "phases without end",
            format!("{}; let i = 0; loop {{ s.phase(\"A/top\", #{{}}); }}", BODY),
            "",
        ),
        refused(
            "unknown words without end",
            format!("{} {BODY}", (0..12_000).map(|i| format!("w{i}();")).collect::<String>()),
            "unknown call",
        ),
        refused("a word too long", format!("{}();", "w".repeat(100_000)), "unknown call"),
        ends(
            "names without end",
            format!("{} {BODY}", (0..16_000).map(|i| format!("{{let v{i}=0;}}")).collect::<String>()),
        ),
        ends(
            "properties without end",
            format!("let m = #{{}}; {} {BODY}", (0..900).map(|i| format!("m.p{i}=0;")).collect::<String>()),
        ),
        ends(
            "numbers without end",
            format!("let x = 0; {} {BODY}", (0..14_000).map(|i| format!("x={i}.5e3;")).collect::<String>()),
        ),
        ends(
            "texts without end",
            format!(
                "let x = 0; {} {BODY}",
                (0..12_000).map(|i| format!("x=\"text {i}\";")).collect::<String>()
            ),
        ),
    ];
    let many: String = (0..300).map(|i| format!("let v{i} = {i};")).collect();
    all.push(refused("variables", many, "more than 120 variables"));
    let many: String = (0..3000).map(|i| format!("fn f{i}() {{}}\n")).collect();
    all.push(refused("functions", many, "more than 200 functions"));
    let many: String = (0..3000).map(|i| format!("|x{i}| {i};")).collect();
    all.push(refused("closures", many, "more than 200 functions"));
    let many: String = (0..9000).map(|i| format!("p{i},")).collect();
    all.push(refused("parameters", format!("fn f({many}) {{}} f();"), ""));
    let many: String = (0..6000).map(|i| format!("{i},")).collect();
    all.push(refused("a list written out", format!("let a = [{many}];"), list));
    let many: String = (0..6000).map(|i| format!("k{i}:{i},")).collect();
    all.push(refused("a map written out", format!("let a = #{{{many}}};"), map));
    // The nearest known name is looked for once, and not for every one of them.
    let many: String = (0..900).map(|i| format!("setting_that_is_not_there_{i}:{i},")).collect();
    all.push(refused("unknown settings", format!("let a = slab(\"A\", #{{{many}}});"), "unknown setting"));
    let key = "k".repeat(32_000);
    all.push(refused(
        "an unknown setting too long",
        format!("let a = slab(\"A\", #{{ \"{key}\": 1 }});"),
        "unknown setting",
    ));
    all.push(refused("an unknown choice too long", format!("{BODY}.joints(#{{ meet: \"{key}\" }});"), ""));
    all.push(refused("an unknown face too long", format!("{BODY}; a.face(\"{key}\");"), ""));
    all
}
