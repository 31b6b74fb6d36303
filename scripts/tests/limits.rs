//! A script ends within its limits, whatever it does.
#![allow(missing_docs, reason = "tests")]

use ribwright_kernel::Registry;
use ribwright_scripts::{limits, run_text};
use std::time::{Duration, Instant};

/// Longest a runaway script may take here; the limit by the clock is longer.
const SOON: Duration = Duration::from_secs(15);

#[track_caller]
fn check(text: &str, part: &str) {
    let start = Instant::now();
    let shown = match run_text("t.rhai", text, None, &Registry::standard()) {
        Ok(_) => panic!("this must not run"),
        Err(e) => e.to_string(),
    };
    assert!(shown.contains(part), "{part:?} is missing from: {}", &shown[..shown.len().min(600)]);
    assert!(start.elapsed() < SOON, "it took {:?}", start.elapsed());
}

#[test]
fn endless_loops_end() {
    check("loop { }", "more than 5000000 steps");
    check("let x = 0; while true { x += 1; }", "more than 5000000 steps");
    check("fn f() { loop { } } f();", "steps");
    check("loop { try { loop { } } catch { } }", "steps");
    check("[1].map(|x| { loop { } });", "steps");
    check("for i in 0..9223372036854775807 { }", "steps");
}

#[test]
fn endless_recursion_ends() {
    check("fn f(n) { f(n + 1) } f(0);", "more than 24 deep");
    check("fn f(n) { 1 + f(n + 1) } fn g(n) { try { f(n) } catch { g(n) } } g(0);", "deep");
}

#[test]
fn things_that_grow_without_end_are_stopped() {
    check("let s = \"x\"; loop { s += s; }", "32768 bytes");
    check("let a = [1]; loop { a += a; }", "5000 entries");
    check("let a = []; loop { a.push(1); }", "5000 entries");
    check("let a = []; a.pad(1000000000, 0);", "5000 entries");
    check("let s = \"\"; s.pad(1000000000, \"x\");", "32768 bytes");
    check("let a = []; loop { a.push(\"x\"); a = [a, a]; }", "entries");
    check("let m = #{}; let i = 0; loop { m[\"k\" + i] = i; i += 1; }", "1000 entries");
    check("let a = []; let s = \"\"; s.pad(30000, \"x\"); loop { a.push(s); }", "32768 bytes");
    check("let a = [1, 2]; loop { a[0] = a; a[1] = a; }", "5000 entries");
    check("let m = #{ a: [1, 2] }; loop { m.a[0] = m.a; m.a[1] = m.a; }", "5000 entries");
    check("fn f(a) { loop { a[0] = a; a[1] = a; } } f([1, 2]);", "5000 entries");
    check("let a = [1, 2]; fn f() { loop { this[0] = this; this[1] = this; } } a.f();", "5000 entries");
    check("fn f() { let i = 0; loop { this[\"k\" + i] = i; i += 1; } } let m = #{}; m.f();", "1000 entries");
    check("let i = 0; loop { print(i); i += 1; }", "steps");
    check("let i = 0; loop { slab(\"A\" + i, #{ size: [9, 6, 4] }); i += 1; }", "more than 1000 elements");
    check("loop { flat(#{}); }", "more than 1000 profiles");
    check("loop { sculpture(\"S\"); }", "more than 100 sculptures");
    let many: String = (0..300).map(|i| format!("let v{i} = {i};")).collect();
    check(&many, "more than 120 variables");
    let many: String = (0..300).map(|i| format!("fn f{i}() {{}}\n")).collect();
    check(&many, "more than 200 functions");
}

#[test]
fn deep_nesting_is_refused_before_it_can_overflow_the_stack() {
    const DEEP: usize = 100_000;
    let around = |open: &str, close: &str| format!("{}1{}", open.repeat(DEEP), close.repeat(DEEP));
    let refused = format!("nested more than {} deep", limits::MAX_EXPRESSION_DEPTH);
    for (open, close) in [("(", ")"), ("{", "}"), ("[", "]"), ("- ", ""), ("!", "")] {
        check(&around(open, close), &refused);
    }
    let around = |open: &str, close: &str| format!("{}1{}", open.repeat(20_000), close.repeat(20_000));
    for (open, close) in [("#{a:", "}"), ("f(", ")"), ("|x| ", ""), ("if true{", "}"), ("a[", "]")] {
        check(&around(open, close), "deep");
    }
}

#[test]
fn long_chains_do_not_overflow_the_stack() {
    let chain = |first: &str, link: &str| format!("let a = [1]; {first}{}", link.repeat(50_000));
    for (first, link) in
        [("1", "+1"), ("a", ".b"), ("a", "[0]"), ("a", "??a"), ("a", ".f()"), ("true", "&&true")]
    {
        // Refused or worked out, but never a broken process.
        let _ = run_text("t.rhai", &chain(first, link), None, &Registry::standard());
    }
    let branches = format!("if false {{}} {} else {{}}", "else if false {}".repeat(15_000));
    let _ = run_text("t.rhai", &branches, None, &Registry::standard());
    let nested_values = "let a = []; for i in 0..4000 { a = [a]; } print(a);";
    let _ = run_text("t.rhai", nested_values, None, &Registry::standard());
}
