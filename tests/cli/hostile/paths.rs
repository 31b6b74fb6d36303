//! Hostile scripts that reach for files, and modules that never end.

use super::{BODY, Case, ends, refused};

pub(super) fn cases() -> Vec<Case> {
    let within = "is not a name within the script's folder";
    let mut all = Vec::new();
    for path in [
        "../../etc/passwd",
        "/etc/passwd",
        "..",
        ".",
        "./x",
        "feet/../../x",
        "feet/./../x",
        "C:x",
        "C:\\\\windows\\\\x",
        "\\\\\\\\server\\\\x",
        "..\\\\x",
        "file:///etc/passwd",
        "https://example.org/x",
        "x\\x00y",
        "",
        "//etc/passwd",
        "feet//../../x",
        "~/../../x/..",
    ] {
        all.push(refused(format!("import {path:?}"), format!("import \"{path}\" as x; {BODY}"), within));
    }
    for path in [
        "%2e%2e%2fetc%2fpasswd",
        "..%2f..%2fetc",
        "~root",
        "$HOME",
        "nul",
        "con",
        "…",
        "．．／x",
        "x ",
        "x\\n",
        "*",
        "a b",
    ] {
        all.push(refused(
            format!("import {path:?}"),
            format!("import \"{path}\" as x; {BODY}"),
            "there is no module",
        ));
    }
    let long = "x".repeat(30_000);
    all.push(refused(
        "import of a long name",
        format!("import \"{long}\" as x; {BODY}"),
        "there is no module",
    ));
    let deep = "x/".repeat(10_000);
    all.push(refused(
        "import from deep below",
        format!("import \"{deep}y\" as x; {BODY}"),
        "there is no module",
    ));
    for (call, file) in [
        ("survey(\"../../etc/passwd\", #{})", "within the script's folder"),
        ("survey(\"/etc/passwd\", #{})", "within the script's folder"),
        ("survey(\"/dev/zero\", #{})", "within the script's folder"),
        ("maquette(\"..\\\\..\\\\x.csv\", #{})", "within the script's folder"),
        ("stock(\"/proc/self/environ\", [flat(#{})])", "within the script's folder"),
        ("survey(\"work.rhai\", #{})", ""),
        ("survey(\".\", #{})", "within the script's folder"),
        ("survey(\"x\\x00y\", #{})", "within the script's folder"),
    ] {
        all.push(refused(format!("read by {call}"), format!("let y = {call}; {BODY}"), file));
    }
    // Modules that import one another.
    let chain = |last: &str| {
        let mut case = refused("a chain of forty modules", "import \"m0\" as m;", "more than 16 modules");
        for i in 0..40 {
            let next = if i == 39 { last.to_owned() } else { format!("m{}", i + 1) };
            case = case.with(format!("m{i}.rhai"), format!("import \"{next}\" as m;"));
        }
        case
    };
    all.push(chain("m0"));
    all.push(
        refused("a module imports itself", "import \"m\" as m;", "circle")
            .with("m.rhai", "import \"m\" as m;"),
    );
    all.push(
        refused("two modules in a circle", "import \"a\" as a;", "circle")
            .with("a.rhai", "import \"b\" as b;")
            .with("b.rhai", "import \"a\" as a;"),
    );
    all.push(refused("a script imports itself", "import \"work\" as w;", "circle"));
    all.push(
        refused("a circle through functions", "import \"a\" as a; a::f();", "")
            .with("a.rhai", "fn f() { import \"b\" as b; b::f() }")
            .with("b.rhai", "fn f() { import \"a\" as a; a::f() }"),
    );
    all.push(
        refused(
            "imported without end",
            format!("let i = 0; loop {{ import \"m\" as m; i += 1; }} {BODY}"),
            "",
        )
        .with("m.rhai", "fn f() { 1 }"),
    );
    all.push(refused(
        "imports of nothing without end",
        "let i = 0; loop { try { import `m${i}` as m; } catch { } i += 1; }",
        "",
    ));
    all.push(
        refused("a module that loops", "import \"m\" as m;", "more than 5000000 steps")
            .with("m.rhai", "loop { }"),
    );
    all.push(
        refused("a module too long", "import \"m\" as m;", "bytes")
            .with("m.rhai", format!("// {}", "x".repeat(300_000))),
    );
    all.push(
        refused("a module that is not text", "import \"m\" as m;", "not UTF-8")
            .with("m.rhai", b"fn f() { \xC0\xAF }".to_vec()),
    );
    all.push(
        refused(
            "a module reads the script's variables",
            "let secret = 7; import \"m\" as m; m::f();",
            "unknown variable",
        )
        .with("m.rhai", "fn f() { secret }"),
    );
    all.push(
        refused(
            "a module calls the script's functions without end",
            "fn secret() { import \"m\" as m; m::f() } import \"m\" as m; m::f();",
            "deep",
        )
        .with("m.rhai", "fn f() { secret() }"),
    );
    all.push(
        refused("a module floods", "import \"m\" as m;", "")
            .with("m.rhai", "let a = []; for i in 0..1000000 { a.push(i); }"),
    );
    all.push(ends("the name of the work leads out", "let s = sculpture(\"..\"); let a = slab(\"..\", #{ size: [900, 600, 400] }); a.clad(flat(#{})); s.stand(a); s").made());
    all
}
