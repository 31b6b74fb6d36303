//! Hostile names: signs that hide, turn the writing round, look alike or lead out of a folder.

use super::{Case, ends, refused};

/// A work of one element with this name, its face `top` named too.
fn named(name: &str) -> String {
    format!(
        "let s = sculpture(\"S\"); let a = slab(\"{name}\", #{{ size: [900, 600, 400] }}); a.clad(flat(#{{}})); s.stand(a); s"
    )
}

pub(super) fn cases() -> Vec<Case> {
    let mut all = Vec::new();
    for (what, name) in [
        ("a slash", "a/b"),
        ("a tilde", "a~b"),
        ("a backslash", "a\\\\b"),
        ("nothing", ""),
        ("a blank", " "),
        ("NUL", "a\\x00b"),
        ("an escape", "\\u001b[2J"),
        ("a line end", "a\\nb"),
        ("a bell", "\\u0007"),
        ("writing turned round", "\\u202Edxf.A"),
        ("writing embedded", "\\u202AA\\u202C"),
        ("isolates", "\\u2066A\\u2069"),
        ("a right-to-left mark", "A\\u200F"),
        ("nothing to see", "\\u200B"),
        ("a joiner", "A\\u200DB"),
        ("a byte-order mark", "\\uFEFFA"),
        ("a soft hyphen", "A\\u00ADB"),
        ("a line separator", "A\\u2028B"),
        ("a tag", "A\\U000E0041"),
        ("a variation", "A\\uFE0F"),
        (
            "marks that pile up",
            "A\\u0301\\u0301\\u0301\\u0301\\u0301\\u0301\\u0301\\u0301\\u0301\\u0301\\u0301\\u0301",
        ),
    ] {
        all.push(refused(format!("a name of {what}"), named(name), "the element name"));
    }
    all.push(refused(
        "a name of 100,000 letters",
        "let n = \"\"; n.pad(32000, \"A\"); slab(n, #{ size: [9, 6, 4] });".to_owned(),
        "the element name",
    ));
    for (what, name) in [
        ("two dots", ".."),
        ("a dot", "."),
        ("a device", "CON"),
        ("a port", "LPT1"),
        ("a drive", "C:"),
        ("a star", "*?<>|"),
        ("a minus", "-rf"),
        ("quotes", "\\\"><script>alert(1)</script>"),
        ("a formula", "=1+1"),
        ("a sign of its own", "&amp;&#0;"),
        ("Arabic", "حجر"),
        ("Hebrew", "אבן"),
        ("Han", "石"),
        ("a picture", "🪨🪨🪨🪨🪨🪨🪨🪨"),
        ("sixty of four bytes", "𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸𝔸"),
    ] {
        all.push(ends(format!("made, a name of {what}"), named(name)).made());
    }
    let pair = |one: &str, other: &str| {
        format!(
            "let s = sculpture(\"S\"); let rib = flat(#{{}}); let a = slab(\"{one}\", #{{ size: [900, 600, 400] }}); a.clad(rib); s.stand(a); let b = slab(\"{other}\", #{{ size: [900, 600, 400] }}); b.clad(rib); b.move([2000, 0, 0]); s.stand(b); s"
        )
    };
    all.push(ends("made, names that look alike", pair("A", "А")).made());
    all.push(ends("made, names that differ by case", pair("a", "A")).made());
    all.push(ends("made, names that differ by a sign files cannot have", pair("a:b", "a_b")).made());
    all.push(ends("made, names in two normal forms", pair("é", "e\\u0301")).made());
    all.push(refused("the same name twice", pair("A", "A"), "A"));
    // The text of the script itself.
    let body = named("A");
    all.push(refused("a byte-order mark in the middle", format!("let x = 1;\u{feff} {body}"), "no meaning"));
    all.push(ends("a byte-order mark at the start", format!("\u{feff}{body}")));
    all.push(refused("a variable in letters that look alike", format!("let а = 1; {body}"), "no meaning"));
    all.push(refused("a variable turned round", format!("let \u{202e}x = 1; {body}"), "no meaning"));
    all.push(refused("a blank that is none", format!("let\u{00a0}x = 1; {body}"), ""));
    all.push(refused("a NUL", format!("let x = 1;\0 {body}"), ""));
    all.push(ends("writing turned round in a comment", format!("/* \u{202e} }} \u{2066} */ {body}")));
    all.push(ends("a million marks in a text", format!("let t = \"{}\"; {body}", "\u{301}".repeat(16_000))));
    all.push(refused("a wrong escape", "let t = \"\\uD800\";", ""));
    let mut overlong = refused("overlong bytes", "", "not UTF-8");
    overlong.files[0].1 = b"let x = \"\xC0\xAE\xC0\xAE\";".to_vec();
    all.push(overlong);
    let mut wide = refused("two bytes a letter", "", "");
    wide.files[0].1 = "let x = 1;".encode_utf16().flat_map(u16::to_le_bytes).collect();
    all.push(wide);
    let mut random = refused("bytes by chance", "", "not UTF-8");
    random.files[0].1 = (0_u32..5000).map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8).collect();
    all.push(random);
    all.push(refused("nothing at all", "", "no sculpture"));
    all
}
