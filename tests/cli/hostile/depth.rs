//! Hostile scripts that go deep or run without end.

use super::{BODY, Case, ends, refused};

const DEEP: usize = 60_000;

fn around(open: &str, close: &str, count: usize) -> String {
    format!("let x = {}1{};", open.repeat(count), close.repeat(count))
}

fn chain(first: &str, link: &str, count: usize) -> String {
    format!("let a = [1]; let x = {first}{}; {BODY}", link.repeat(count))
}

pub(super) fn cases() -> Vec<Case> {
    let steps = "more than 5000000 steps";
    let calls = "functions call one another more than";
    let nested = "nested more than";
    let mut all = vec![
        refused("calls: itself", "fn f(n) { f(n + 1) } f(0);", calls),
        refused("calls: two in turn", "fn f(n) { g(n) } fn g(n) { f(n) } f(0);", calls),
        refused("calls: a function handed to itself", "fn f(g) { g.call(g) } f(Fn(\"f\"));", calls),
        refused("calls: a closure handed to itself", "let f = |g| g.call(g); f.call(f);", "more than"),
        refused("calls: from map", "fn f(n) { [n].map(|x| f(x + 1)) } f(0);", "more than"),
        refused(
            "calls: from a comparison of sort",
            "fn f(n) { [2, 1].sort(|a, b| f(n + 1)) } f(0);",
            "no sculpture",
        ),
        refused(
            "calls: caught and called again",
            "fn f(n) { try { f(n + 1) } catch { f(n + 1) } } f(0);",
            "more than",
        ),
        refused("calls: through reduce", "fn f(n) { [1, 2].reduce(|a, b| f(a)) } f(0);", "more than"),
        refused("calls: on this", "fn f() { this.f() } let a = [1]; a.f();", calls),
        refused("loop", "loop { }", steps),
        refused("while", "let x = 0; while true { x += 1; }", steps),
        refused("do until", "do { } until false;", steps),
        refused("for over a huge range", "for i in 0..9223372036854775807 { }", steps),
        refused("for over a huge range with steps", "for i in range(0, 9000000000000000000, 1) { }", steps),
        refused("for backwards", "for i in range(9000000000000000000, 0, -1) { }", steps),
        refused("for over decimals that do not add up", "for i in range(0.0, 1.0, 1e-300) { }", "e"),
        refused("loop caught", "loop { try { loop { } } catch { } }", steps),
        refused("loop in a closure", "[1].map(|x| { loop { } });", steps),
        refused("loop in a filter", "[1].filter(|x| { loop { } });", steps),
        refused("loop in a comparison", "[3, 1, 2].sort(|a, b| { loop { } });", "error"),
        refused(
            "loop while a list empties",
            "let a = [1]; while !a.is_empty() { a.pop(); a.push(1); }",
            steps,
        ),
        refused("loop of throws", "loop { try { throw 1; } catch { } }", steps),
        refused("sleep", "sleep(1000000);", "cannot be used"),
        refused("eval", "eval(\"loop { }\");", "cannot be used"),
        refused("eval by another name", "let e = Fn(\"eval\"); e.call(\"1\");", ""),
        refused("clock", "let t = timestamp(); while t.elapsed < 1e9 { }", "timestamp"),
        ends("comments within comments", format!("{} {} {BODY}", "/*".repeat(DEEP), "*/".repeat(DEEP))),
        refused(
            "a text in a text in a text",
            format!("let x = {}1{};", "`${".repeat(9000), "}`".repeat(9000)),
            "deep",
        ),
        ends(
            "else if without end",
            format!("if false {{}} {} else {{}} {BODY}", "else if false {}".repeat(12_000)),
        ),
        ends(
            "values nested at run time",
            format!("let a = []; for i in 0..4900 {{ a = [a]; }} print(a); {BODY}"),
        ),
        ends(
            "values nested, compared",
            format!("let a = []; for i in 0..4900 {{ a = [a]; }} let b = a; print(a == b); {BODY}"),
        ),
        ends(
            "maps nested at run time",
            format!("let a = #{{}}; for i in 0..900 {{ a = #{{ a: a }}; }} print(a); {BODY}"),
        ),
        refused(
            "values nested, as a setting",
            "let a = []; for i in 0..4900 { a = [a]; } slab(\"A\", #{ size: a });",
            "size",
        ),
        refused(
            "values nested, as a stage's setting",
            format!(
                "let a = []; for i in 0..4900 {{ a = [a]; }} {} s.stage(\"frame\", #{{ heights: a }}); s",
                &BODY[..BODY.len() - 1]
            ),
            "heights",
        ),
        refused(
            "values nested, as ribs",
            format!(
                "let b = []; for i in 0..4900 {{ b = [b]; }} {} a.face(\"top\").ribs(#{{ along: b }}); s",
                &BODY[..BODY.len() - 1]
            ),
            "along",
        ),
        refused("switch in switch", around("switch 1 { 1 => ", "}", 9000), "deep"),
    ];
    for (name, open, close) in [
        ("brackets", "(", ")"),
        ("blocks", "{", "}"),
        ("lists", "[", "]"),
        ("minus signs", "- ", ""),
        ("exclamation marks", "!", ""),
    ] {
        all.push(refused(format!("nested {name}"), around(open, close, DEEP), nested));
    }
    for (name, open, close) in [
        ("maps", "#{a:", "}"),
        ("calls", "f(", ")"),
        ("closures", "|x| ", ""),
        ("ifs", "if true{", "}"),
        ("indices", "a[", "]"),
    ] {
        all.push(refused(format!("nested {name}"), around(open, close, 20_000), "deep"));
    }
    for (name, first, link) in [
        ("sums", "1", "+1"),
        ("properties", "a", ".b"),
        ("indices", "a", "[0]"),
        ("fall-backs", "a", "??a"),
        ("methods", "a", ".f()"),
        ("ands", "true", "&&true"),
        ("powers", "1", "**1"),
    ] {
        all.push(ends(format!("chained {name}"), chain(first, link, 40_000)));
    }
    all
}
