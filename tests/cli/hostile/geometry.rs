//! Hostile shapes: floods of faces, ribs and elements, and faces that nearly coincide.

use super::{Case, ends, refused};

/// A work of what `element` makes, clad in what `profile` makes.
fn work(profile: &str, element: &str) -> String {
    format!("let rib = {profile}; let s = sculpture(\"S\"); let a = {element}; a.clad(rib); s.stand(a); s")
}

const RIB: &str = "trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70 })";
const SLAB: &str = "slab(\"A\", #{ size: [900, 600, 400] })";

pub(super) fn cases() -> Vec<Case> {
    let place_many = |count: u32, step: &str| {
        format!(
            "let rib = {RIB}; let s = sculpture(\"S\"); for i in 0..{count} {{ let a = slab(\"A\" + i, #{{ size: [900, 600, 400] }}); a.clad(rib); a.move([{step}]); s.add(a); }} s"
        )
    };
    let planes = |count: u32, spread: &str| {
        format!(
            "let faces = []; for i in 0..{count} {{ let t = {spread}; faces.push(#{{ name: \"f\" + i, point: [500 * cos(t), 500 * sin(t), 0], normal: [cos(t), sin(t), 0] }}); }} faces.push(#{{ name: \"top\", point: [0, 0, 800], normal: [0, 0, 1] }}); faces.push(#{{ name: \"foot\", point: [0, 0, 0], normal: [0, 0, -1] }}); let rib = {RIB}; let s = sculpture(\"S\"); let a = planes(\"A\", faces); a.clad(rib); s.stand(a); s"
        )
    };
    vec![
        ends(
            "a pitch of a millionth on ten metres",
            work(
                "trapezoid(#{ pitch: 0.000001, depth: 0.0000004, crest: 0.0000003, valley: 0.0000003 })",
                "slab(\"A\", #{ size: [10000, 10000, 10000] })",
            ),
        ),
        ends(
            "a pitch of a millimetre on a kilometre",
            work(
                "trapezoid(#{ pitch: 1, depth: 0.4, crest: 0.3, valley: 0.3, thickness: 0.05 })",
                "slab(\"A\", #{ size: [1000000, 1000000, 1000000] })",
            ),
        ),
        ends(
            "a pitch of a millimetre on ten metres",
            work(
                "sine(#{ pitch: 1, depth: 0.4, thickness: 0.05 })",
                "slab(\"A\", #{ size: [10000, 10000, 10000] })",
            ),
        ),
        ends(
            "ten thousand ribs",
            work(
                "sine(#{ pitch: 10, depth: 4, thickness: 0.5 })",
                "slab(\"A\", #{ size: [100000, 100000, 100000] })",
            ),
        ),
        ends(
            "a kilometre of common sheet",
            work("sine(#{ pitch: 76, depth: 18 })", "slab(\"A\", #{ size: [1000000, 1000000, 1000000] })"),
        ),
        ends("a work as large as allowed", work(RIB, "slab(\"A\", #{ size: [1e9, 1e9, 1e9] })")),
        ends("a work as thin as allowed", work(RIB, "slab(\"A\", #{ size: [1e9, 1e-9, 1e-9] })")),
        ends(
            "ribs deeper than the work",
            work("trapezoid(#{ pitch: 2000, depth: 900, crest: 700, valley: 700 })", SLAB),
        ),
        ends(
            "sheet thicker than the work",
            work("trapezoid(#{ pitch: 200, depth: 40, crest: 70, valley: 70, thickness: 900 })", SLAB),
        ),
        ends(
            "an outline of a thousand points",
            "let p = []; for i in 0..999 { p.push([i * 0.2, 5 * sin(i * 40)]); } let rib = outline_profile(p, #{ thickness: 0.1 }); let s = sculpture(\"S\"); let a = slab(\"A\", #{ size: [9000, 6000, 4000] }); a.clad(rib); s.stand(a); s",
        ),
        ends(
            "an outline that crosses itself",
            work("outline_profile([[0, 0], [80, 40], [20, 40], [100, 0]], #{})", SLAB),
        ),
        ends(
            "a frustum of a million sides",
            work(RIB, "frustum(\"A\", #{ sides: 1000000, base: 900, top: 700, height: 1100 })"),
        ),
        ends(
            "a prism of as many sides as allowed",
            work(RIB, "prism(\"A\", #{ sides: 100, width: 900, height: 1100 })"),
        ),
        ends(
            "a frustum that leans 90 degrees",
            work(RIB, "frustum(\"A\", #{ sides: 5, base: 900, top: 700, height: 1100, lean: 90 })"),
        ),
        ends(
            "a frustum with no top",
            work(RIB, "frustum(\"A\", #{ sides: 5, base: 900, top: 0, height: 1100 })"),
        ),
        ends("three hundred planes", planes(298, "i * 360 / 298")),
        ends("nearly parallel planes", planes(40, "i * 0.0000001")),
        ends("planes a hair apart", planes(24, "(i % 4) * 90 + i * 0.00001")),
        refused("six hundred planes", planes(600, "i * 360 / 600"), "1000 entries"),
        refused(
            "planes that enclose nothing",
            "planes(\"A\", [#{ name: \"a\", point: [0, 0, 0], normal: [0, 0, 1] }]);",
            "planes",
        ),
        ends(
            "a hull of four thousand numbers",
            "let p = []; for i in 0..1200 { p.push([500 * cos(i * 7) , 500 * sin(i * 7), i]); } let a = hull(\"A\", p);",
        ),
        ends(
            "a hull of one point many times",
            "let p = []; for i in 0..200 { p.push([1, 2, 3]); } let a = hull(\"A\", p);",
        ),
        ends(
            "a hull of a plane",
            "let p = []; for i in 0..200 { p.push([cos(i), sin(i), 0]); } let a = hull(\"A\", p);",
        ),
        ends(
            "a hull on a ball",
            format!(
                "let p = []; for i in 0..290 {{ let z = 1 - 2 * (i + 0.5) / 290; let r = sqrt(1 - z * z); p.push([900 * r * cos(i * 137.508), 900 * r * sin(i * 137.508), 900 * z]); }} let rib = {RIB}; let s = sculpture(\"S\"); let a = hull(\"A\", p); a.clad(rib); s.stand(a); s"
            ),
        ),
        ends("twenty elements in one place", place_many(20, "0, 0, 0")),
        ends("a thousand elements in one place", place_many(1000, "0, 0, 0")),
        ends("a thousand elements a hair apart", place_many(1000, "i * 0.001, 0, 0")),
        ends("a thousand elements in a row", place_many(1000, "i * 800, 0, 0")),
        ends("a million elements", place_many(1_000_000, "i, 0, 0")),
        ends("elements a thousand kilometres off", place_many(2, "i * 1e9, 0, 1e9")),
        ends(
            "a stack of two hundred",
            format!(
                "let rib = {RIB}; let s = sculpture(\"S\"); for i in 0..200 {{ let a = slab(\"A\" + i, #{{ size: [900, 600, 400] }}); a.clad(rib); if i == 0 {{ s.stand(a); }} else {{ s.stack(a, #{{ on: \"A\" + (i - 1) + \"/top\", sink: 50, tip: 3 }}); }} }} s"
            ),
        ),
        ends(
            "searches on every face",
            format!(
                "let rib = {RIB}; let s = sculpture(\"S\"); let a = {SLAB}; a.clad(rib); s.stand(a); for i in 0..400 {{ s.phase(\"A/top\", #{{ aim: \"no_slivers\" }}); s.phase(\"A/east\", #{{ aim: \"crests_meet\", other: \"A/top\" }}); }} s"
            ),
        ),
        ends(
            "splices of a millimetre",
            format!(
                "let rib = {RIB}; let s = sculpture(\"S\"); let a = {SLAB}; a.clad(rib); s.stand(a); s.splices(#{{ sheet: [1, 1] }}); s"
            ),
        ),
        ends(
            "marks without end",
            format!(
                "let rib = {RIB}; let s = sculpture(\"S\"); let a = {SLAB}; a.clad(rib); s.stand(a); s.marks(#{{ spacing: 0.000001 }}); s"
            ),
        ),
        ends(
            "a yard of a billion sheets",
            format!(
                "let rib = {RIB}; let s = sculpture(\"S\"); let a = {SLAB}; a.clad(rib); s.stand(a); s.lay(#{{ sheets: [#{{ profile: rib, size: [3000, 1000], count: 1000000000 }}], tries: 1000000000 }}); s"
            ),
        ),
        ends(
            "ribs along the normal",
            format!(
                "{} a.face(\"top\").ribs(#{{ along: [0, 0, 1] }}); s",
                work(RIB, SLAB).trim_end_matches('s')
            ),
        ),
        ends(
            "ribs nearly along the normal",
            format!(
                "{} a.face(\"top\").ribs(#{{ along: [1e-9, 0, 1] }}); s",
                work(RIB, SLAB).trim_end_matches('s')
            ),
        ),
        ends(
            "a phase of a thousand kilometres",
            format!(
                "{} a.face(\"top\").ribs(#{{ phase: 1e9, through: [1e9, 1e9, 1e9] }}); s",
                work(RIB, SLAB).trim_end_matches('s')
            ),
        ),
        ends(
            "made, a kilometre high",
            work(
                "trapezoid(#{ pitch: 2000, depth: 400, crest: 700, valley: 700 })",
                "slab(\"A\", #{ size: [9000, 9000, 900000] })",
            ),
        )
        .made(),
    ]
}
