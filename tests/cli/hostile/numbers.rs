//! Hostile numbers: not a number, endless, far too large, far too small, out of range.

use super::{BODY, Case, ends, refused};

pub(super) fn cases() -> Vec<Case> {
    let mut all = Vec::new();
    for (name, value) in [
        ("not a number", "0.0 / 0.0"),
        ("endless", "1.0 / 0.0"),
        ("minus endless", "-1.0 / 0.0"),
        ("1e308", "1e308"),
        ("beyond decimals", "1e308 * 10.0"),
        ("minus nothing", "-0.0"),
        ("the least there is", "5e-324"),
        ("the most whole", "9223372036854775807"),
        ("the root of less than nothing", "sqrt(-1)"),
        ("the logarithm of nothing", "ln(0.0)"),
        ("a long decimal", "0.1234567890123456789012345678901234567890"),
    ] {
        all.push(ends(
            format!("a size: {name}"),
            format!(
                "let v = {value}; slab(\"A\", #{{ size: [v, 600, 400] }}); {}",
                BODY.replace("\"A\"", "\"B\"")
            ),
        ));
        all.push(ends(
            format!("a pitch: {name}"),
            format!(
                "let p = trapezoid(#{{ pitch: {value}, depth: 40, crest: 70, valley: 70 }}); {}",
                BODY.replace("flat(#{})", "p")
            ),
        ));
        all.push(ends(
            format!("a place: {name}"),
            format!(
                "let v = {value}; {} a.move([v, 0, v]); a.turn([v, 0, 1], v); s",
                &BODY[..BODY.len() - 1]
            ),
        ));
    }
    for (name, text, what) in [
        ("whole numbers overflow", "let x = 9223372036854775807; x += 1;", ""),
        ("whole numbers multiplied", "let x = 9223372036854775807; x *= x;", ""),
        ("the least whole turned over", "let x = -9223372036854775807 - 1; x = -x;", ""),
        ("the least whole divided", "let x = (-9223372036854775807 - 1) % -1;", ""),
        ("divided by nothing", "let x = 1 % 0;", ""),
        ("shifted too far", "let x = 1 << 9223372036854775807;", ""),
        ("a power", "let x = 9999999 ** 9999999; let a = slab(\"A\", #{ size: [x, x, x] });", ""),
        ("an index", "let a = [1]; a[9223372036854775807];", "no entry"),
        ("an index below", "let a = [1]; a[-9223372036854775807];", "no entry"),
        (
            "a part of a text",
            "let t = \"abc\"; t.sub_string(-9223372036854775807, 9223372036854775807); slab(1);",
            "",
        ),
        (
            "a number read from a text",
            "let x = parse_float(\"1e999999999\"); slab(\"A\", #{ size: [x, 1, 1] });",
            "",
        ),
        ("a number in base 9999", "parse_int(\"1\", 9999);", ""),
        ("scaled to nothing", "let a = slab(\"A\", #{ size: [9, 6, 4] }); a.scale(0);", ""),
        (
            "scaled to the end",
            "let a = slab(\"A\", #{ size: [900, 600, 400] }); for i in 0..100 { a.scale(1e9); }",
            "",
        ),
        (
            "scaled below sight",
            "let a = slab(\"A\", #{ size: [900, 600, 400] }); for i in 0..100 { a.scale(1e-9); }",
            "",
        ),
    ] {
        let text = format!("{text} {}", BODY.replace("\"A\"", "\"Z\""));
        all.push(if what.is_empty() { ends(name, text) } else { refused(name, text, what) });
    }
    // Figures that stages are asked for.
    for (stage, settings) in [
        ("forecast", "draws: 1e12"),
        ("forecast", "seed: -1"),
        ("forecast", "step: 1e-9"),
        ("coat", "axis: [0, 0, 0]"),
        ("coat", "axis: [0, 0, 1], volume: 1e300"),
        ("coat", "axis: [0, 0, 1], turn_step: 1e-9"),
        ("coat", "axis: [0, 0, 1], stands: 1e9"),
        ("coat", "axis: [0, 0, 1], second: [1, 0, 0], turn_step: 3, tilt: 90, tilt_step: 1"),
        ("water", "volume: 1e300"),
        ("wind", "basic_speed: 1e300"),
        ("wind", "strip: 1e-9"),
        ("balance", "within: 1e-12"),
        ("base", "anchors: \"circle\", anchor_count: 1e9"),
        ("plates", "count: 1e9"),
        ("spine", "tube: \"999999x0.0001\""),
        ("spine", "most_legs: 1e9"),
        ("lifting", "points: 1e9"),
        ("frame", "heights: [1e300]"),
        ("welds", "tack_pitch: 1e-12"),
        ("welds", "stitch_pitch: 1e-12, run: \"stitch\""),
        ("cutting", "arc_tolerance: 1e-12"),
        ("bends", "least_flange: 1e300"),
    ] {
        let text = format!("{} s.stage(\"{stage}\", #{{ {settings} }}); s", &BODY[..BODY.len() - 1]);
        all.push(ends(format!("stage {stage} with {settings}"), text));
    }
    all
}
