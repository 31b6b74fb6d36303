//! Lettering: single-stroke characters that any machine can scribe and any printer can print.
//!
//! The characters are our own, drawn on a grid where a capital is `CAPITAL` units high. Round forms
//! are quarter ellipses broken into chords, so that a stroke is a plain polyline in every file.

use crate::drawing::{Drawing, Label};
use std::sync::LazyLock;

/// Height of a capital on the grid of the characters.
const CAPITAL: f64 = 24.0;
/// Space between two characters, in grid units.
const GAP: f64 = 6.0;
/// Chords of a quarter ellipse: 4 leave the true curve by 1/100 of a letter's height, and keep files short.
const CHORDS: u32 = 4;

/// Strokes of a label as polylines in drawing coordinates, mm; its turn and centring are applied.
///
/// Accented Latin letters are written as their base letter, characters that are not known as a box.
/// A centred label has the middle of its width and half the height of a capital at its place.
pub fn strokes(label: &Label) -> Vec<Vec<[f64; 2]>> {
    let mut lines = Vec::new();
    each_stroke(label, |stroke| lines.push(stroke.to_vec()));
    lines
}

/// The same, one after the other: most of a file is writing.
pub(crate) fn each_stroke(label: &Label, mut draw: impl FnMut(&[[f64; 2]])) {
    let scale = label.height / CAPITAL;
    let (sin, cos) = label.angle.to_radians().sin_cos();
    let [x0, y0] =
        if label.centred { [-width(&label.text, label.height) / 2.0, -label.height / 2.0] } else { [0.0; 2] };
    let mut pen = 0.0;
    let mut points = Vec::new();
    for glyph in label.text.chars().flat_map(glyphs) {
        for stroke in &glyph.strokes {
            points.clear();
            points.extend(stroke.iter().map(|p| {
                let (x, y) = (x0 + (pen + p[0]) * scale, y0 + p[1] * scale);
                [label.at[0] + x * cos - y * sin, label.at[1] + x * sin + y * cos]
            }));
            draw(&points);
        }
        pen += glyph.width + GAP;
    }
}

/// Width of a text whose capitals are `height` high, in the unit of `height`.
pub fn width(text: &str, height: f64) -> f64 {
    let units: f64 = text.chars().flat_map(glyphs).map(|g| g.width + GAP).sum();
    (units - GAP).max(0.0) * height / CAPITAL
}

/// Line weight that suits lettering of this height on a page, both in mm: 1/18 of it, 0.2 to 1 mm.
pub fn weight(height: f64) -> f64 {
    (height / 18.0).clamp(0.2, 1.0)
}

/// Least and greatest x and y over all paths and labels of a drawing, mm; `None` when it is empty.
pub fn extents(drawing: &Drawing) -> Option<[[f64; 2]; 2]> {
    let mut found: Option<[[f64; 2]; 2]> = None;
    let mut add = |points: &[[f64; 2]]| {
        for p in points {
            let [lo, hi] = found.get_or_insert([*p, *p]);
            *lo = [lo[0].min(p[0]), lo[1].min(p[1])];
            *hi = [hi[0].max(p[0]), hi[1].max(p[1])];
        }
    };
    drawing.paths.iter().for_each(|path| add(&path.points));
    drawing.labels.iter().for_each(|label| each_stroke(label, &mut add));
    found
}

/// One character, ready to place.
struct Glyph {
    width: f64,
    strokes: Vec<Vec<[f64; 2]>>,
}

/// The characters a character is written with: one, or two for ligatures.
fn glyphs(c: char) -> impl Iterator<Item = &'static Glyph> {
    static READY: LazyLock<Vec<(char, Glyph)>> = LazyLock::new(|| {
        let mut all: Vec<_> = GLYPHS.iter().map(|&(c, width, path)| (c, parse(width, path))).collect();
        all.sort_by_key(|(c, _)| *c);
        all
    });
    static UNKNOWN: LazyLock<Glyph> = LazyLock::new(|| parse(14.0, "m0 0 l0 24 l14 24 l14 0 l0 0"));
    let find = |c: char| READY.binary_search_by_key(&c, |(known, _)| *known).ok().map(|i| &READY[i].1);
    let mut pair = [find(c), None];
    if pair[0].is_none() {
        let mut base = base_letters(c).chars();
        pair = [base.next().and_then(find).or(Some(&UNKNOWN)), base.next().and_then(find)];
    }
    pair.into_iter().flatten()
}

/// Plain letters for a letter with an accent or a typographic sign; empty when there are none.
fn base_letters(c: char) -> &'static str {
    match c {
        '\t' | '\u{a0}' | '\u{2009}' | '\u{202f}' => " ",
        '‐' | '‑' | '–' | '—' | '−' => "-",
        '‘' | '’' | '′' => "'",
        '“' | '”' | '″' => "\"",
        '⌀' => "Ø",
        '·' => ".",
        'À'..='Å' | 'Ā' | 'Ă' | 'Ą' | 'Ǎ' => "A",
        'à'..='å' | 'ā' | 'ă' | 'ą' | 'ǎ' => "a",
        'Æ' => "AE",
        'æ' => "ae",
        'Ç' | 'Ć' | 'Ĉ' | 'Ċ' | 'Č' => "C",
        'ç' | 'ć' | 'ĉ' | 'ċ' | 'č' => "c",
        'Ð' | 'Ď' | 'Đ' => "D",
        'ð' | 'ď' | 'đ' => "d",
        'È'..='Ë' | 'Ē' | 'Ĕ' | 'Ė' | 'Ę' | 'Ě' => "E",
        'è'..='ë' | 'ē' | 'ĕ' | 'ė' | 'ę' | 'ě' => "e",
        'Ĝ' | 'Ğ' | 'Ġ' | 'Ģ' => "G",
        'ĝ' | 'ğ' | 'ġ' | 'ģ' => "g",
        'Ĥ' | 'Ħ' => "H",
        'ĥ' | 'ħ' => "h",
        'Ì'..='Ï' | 'Ĩ' | 'Ī' | 'Ĭ' | 'Į' | 'İ' => "I",
        'ì'..='ï' | 'ĩ' | 'ī' | 'ĭ' | 'į' | 'ı' => "i",
        'Ĵ' => "J",
        'ĵ' => "j",
        'Ķ' => "K",
        'ķ' => "k",
        'Ĺ' | 'Ļ' | 'Ľ' | 'Ŀ' | 'Ł' => "L",
        'ĺ' | 'ļ' | 'ľ' | 'ŀ' | 'ł' => "l",
        'Ñ' | 'Ń' | 'Ņ' | 'Ň' => "N",
        'ñ' | 'ń' | 'ņ' | 'ň' => "n",
        'Ò'..='Ö' | 'Ō' | 'Ŏ' | 'Ő' => "O",
        'ò'..='ö' | 'ō' | 'ŏ' | 'ő' => "o",
        'Œ' => "OE",
        'œ' => "oe",
        'Ŕ' | 'Ŗ' | 'Ř' => "R",
        'ŕ' | 'ŗ' | 'ř' => "r",
        'Ś' | 'Ŝ' | 'Ş' | 'Š' | 'Ș' => "S",
        'ś' | 'ŝ' | 'ş' | 'š' | 'ș' => "s",
        'ẞ' => "SS",
        'ß' => "ss",
        'Ţ' | 'Ť' | 'Ŧ' | 'Ț' => "T",
        'ţ' | 'ť' | 'ŧ' | 'ț' => "t",
        'Ù'..='Ü' | 'Ũ' | 'Ū' | 'Ŭ' | 'Ů' | 'Ű' | 'Ų' => "U",
        'ù'..='ü' | 'ũ' | 'ū' | 'ŭ' | 'ů' | 'ű' | 'ų' => "u",
        'Ŵ' => "W",
        'ŵ' => "w",
        'Ý' | 'Ÿ' | 'Ŷ' => "Y",
        'ý' | 'ÿ' | 'ŷ' => "y",
        'Ź' | 'Ż' | 'Ž' => "Z",
        'ź' | 'ż' | 'ž' => "z",
        _ => "",
    }
}

/// Reads the path words of the table below. Each is a letter and numbers, the end point last:
/// `m` starts a stroke, `l` draws a line, `h` a quarter ellipse that leaves level and arrives upright,
/// `v` one that leaves upright and arrives level, `q` a quadratic curve with its control point first.
fn parse(width: f64, path: &str) -> Glyph {
    let mut strokes: Vec<Vec<[f64; 2]>> = Vec::new();
    let mut words = path.split_whitespace();
    let number = |word: Option<&str>| word.and_then(|w| w.parse().ok()).unwrap_or(f64::NAN);
    while let Some(word) = words.next() {
        let (command, first) = word.split_at(1);
        let mut end = [number(Some(first)), number(words.next())];
        let Some(stroke) = strokes.last_mut().filter(|_| command != "m") else {
            strokes.push(vec![end]);
            continue;
        };
        let start = stroke[stroke.len() - 1];
        let mut curve = |at: &dyn Fn(f64) -> [f64; 2]| {
            stroke.extend((1..=CHORDS).map(|i| at(f64::from(i) / f64::from(CHORDS))));
        };
        let quarter = |t: f64| (t * std::f64::consts::FRAC_PI_2).sin_cos();
        match command {
            "h" => curve(&|t| {
                let (sin, cos) = quarter(t);
                [start[0] + (end[0] - start[0]) * sin, end[1] + (start[1] - end[1]) * cos]
            }),
            "v" => curve(&|t| {
                let (sin, cos) = quarter(t);
                [end[0] + (start[0] - end[0]) * cos, start[1] + (end[1] - start[1]) * sin]
            }),
            "q" => {
                let control = std::mem::replace(&mut end, [number(words.next()), number(words.next())]);
                curve(&|t| {
                    let [a, b, c] = [(1.0 - t) * (1.0 - t), 2.0 * t * (1.0 - t), t * t];
                    [0, 1].map(|i| a * start[i] + b * control[i] + c * end[i])
                });
            }
            _ => stroke.push(end),
        }
    }
    Glyph { width, strokes }
}

/// Character, width and strokes. Base line at 0, small letters 16 high, tails down to −7.
#[rustfmt::skip]
const GLYPHS: &[(char, f64, &str)] = &[
    (' ', 6.0, ""),
    ('!', 2.0, "m1 24 l1 7 m0 0 l0 2 l2 2 l2 0 l0 0"),
    ('"', 5.0, "m0 24 l0 18 m5 24 l5 18"),
    ('#', 17.0, "m4 2 l7 22 m10 2 l13 22 m0 8 l16 8 m1 16 l17 16"),
    ('$', 14.0, "m13 18 v7 21 h1 16.5 v7 12 h14 7.5 v7 3 h0 6.5 m7 25 l7 -1"),
    ('%', 20.0, "m5 24 h0 19 v5 14 h10 19 v5 24 m15 10 h10 5 v15 0 h20 5 v15 10 m18 24 l2 0"),
    ('&', 18.0, "m18 0 l4 15.5 q2 18 2 19.5 v6.5 24 h11 19.5 q11 16 5 12.5 q0 9.5 0 6 v6.5 0 q13 0 17 9"),
    ('\'', 1.0, "m0.5 24 l0.5 18"),
    ('(', 5.0, "m5 26 q0 20 0 11 q0 2 5 -4"),
    (')', 5.0, "m0 26 q5 20 5 11 q5 2 0 -4"),
    ('*', 10.0, "m5 22 l5 12 m0.7 19.5 l9.3 14.5 m0.7 14.5 l9.3 19.5"),
    ('+', 14.0, "m7 5 l7 19 m0 12 l14 12"),
    (',', 2.0, "m2 2 l0 -4"),
    ('-', 9.0, "m0 10 l9 10"),
    ('.', 2.0, "m0 0 l0 2 l2 2 l2 0 l0 0"),
    ('/', 11.0, "m0 -3 l11 26"),
    ('0', 14.0, "m7 24 h0 12 v7 0 h14 12 v7 24"),
    ('1', 11.0, "m1 19 l6 24 l6 0 m1 0 l11 0"),
    ('2', 14.0, "m0.5 18 v7 24 h14 17.5 q14 14 10 10 l0 0 l14 0"),
    ('3', 14.0, "m1 20 v7 24 h13 18.5 v7 13 l5 13 m7 13 h14 6.5 v7 0 h0 4.5"),
    ('4', 15.0, "m11 0 l11 24 l0 7 l15 7"),
    ('5', 14.0, "m13 24 l2 24 l1 13 q4 15.5 7 15.5 h14 7.7 v7 0 h0 4"),
    ('6', 14.0, "m10 24 q0 19 0 7.5 v7 0 h14 7.5 v7 15 h0 7.5"),
    ('7', 14.0, "m0 24 l14 24 l5 0"),
    ('8', 14.0, "m7 24 h1 18.5 v7 13 h13 18.5 v7 24 m7 13 h0 6.5 v7 0 h14 6.5 v7 13"),
    ('9', 14.0, "m4 0 q14 5 14 16.5 v7 24 h0 16.5 v7 9 h14 16.5"),
    (':', 2.0, "m0 0 l0 2 l2 2 l2 0 l0 0 m0 12 l0 14 l2 14 l2 12 l0 12"),
    (';', 2.0, "m2 2 l0 -4 m0 12 l0 14 l2 14 l2 12 l0 12"),
    ('<', 13.0, "m13 20 l0 12 l13 4"),
    ('=', 14.0, "m14 15 l0 15 m0 9 l14 9"),
    ('>', 13.0, "m0 20 l13 12 l0 4"),
    ('?', 12.0, "m0 19 v6 24 h12 18 q12 14.5 9 12.5 q6 10.5 6 6 m5 0 l5 2 l7 2 l7 0 l5 0"),
    ('@', 21.0, "m15 12 v10.5 16.5 h6 12 v10.5 7.5 h15 12 m15 16.5 l15 10 v18 7 h21 12 v10.5 23 h0 12 v10.5 1 q14 1 17 3"),
    ('A', 18.0, "m0 0 l9 24 l18 0 m3 8 l15 8"),
    ('B', 16.0, "m0 12 l9 12 h15 18 v9 24 l0 24 l0 0 l9 0 h16 6 v9 12"),
    ('C', 17.0, "m17 19 v9 24 h0 12 v9 0 h17 5"),
    ('D', 17.0, "m0 0 l0 24 l7 24 h17 12 v7 0 l0 0"),
    ('E', 14.0, "m14 0 l0 0 l0 24 l14 24 m0 12 l11 12"),
    ('F', 13.0, "m0 0 l0 24 l13 24 m0 12 l10 12"),
    ('G', 18.0, "m17 19 v9 24 h0 12 v9 0 h18 9 l18 11 l11 11"),
    ('H', 17.0, "m0 0 l0 24 m17 24 l17 0 m17 12 l0 12"),
    ('I', 8.0, "m0 0 l8 0 m4 0 l4 24 m0 24 l8 24"),
    ('J', 11.0, "m11 24 l11 6 v5 0 h0 5"),
    ('K', 16.0, "m0 0 l0 24 m16 24 l0 9 m5 13.7 l16 0"),
    ('L', 13.0, "m0 24 l0 0 l13 0"),
    ('M', 20.0, "m0 0 l0 24 l10 8 l20 24 l20 0"),
    ('N', 17.0, "m0 0 l0 24 l17 0 l17 24"),
    ('O', 20.0, "m10 24 h0 12 v10 0 h20 12 v10 24"),
    ('P', 16.0, "m0 0 l0 24 l9 24 h16 17 v9 10 l0 10"),
    ('Q', 20.0, "m10 24 h0 12 v10 0 h20 12 v10 24 m13 6 l20 -2"),
    ('R', 16.0, "m0 0 l0 24 l9 24 h16 17 v9 10 l0 10 m8 10 l16 0"),
    ('S', 15.0, "m14 20 v7.5 24 h1 18 v7.5 12.5 h15 6 v7.5 0 h0 4.5"),
    ('T', 16.0, "m0 24 l16 24 m8 24 l8 0"),
    ('U', 17.0, "m0 24 l0 8 v8.5 0 h17 8 l17 24"),
    ('V', 18.0, "m0 24 l9 0 l18 24"),
    ('W', 24.0, "m0 24 l6 0 l12 18 l18 0 l24 24"),
    ('X', 16.0, "m0 0 l16 24 m0 24 l16 0"),
    ('Y', 16.0, "m0 24 l8 11 l16 24 m8 11 l8 0"),
    ('Z', 15.0, "m0 24 l15 24 l0 0 l15 0"),
    ('[', 5.0, "m5 26 l0 26 l0 -4 l5 -4"),
    ('\\', 11.0, "m0 26 l11 -3"),
    (']', 5.0, "m0 26 l5 26 l5 -4 l0 -4"),
    ('^', 12.0, "m0 17 l6 24 l12 17"),
    ('_', 14.0, "m0 -4 l14 -4"),
    ('`', 4.0, "m0 24 l4 19"),
    ('a', 13.0, "m13 16 l13 0 m13 8 v6.5 16 h0 8 v6.5 0 h13 8"),
    ('b', 13.0, "m0 24 l0 0 m0 8 v6.5 16 h13 8 v6.5 0 h0 8"),
    ('c', 12.0, "m12 12.5 v6.5 16 h0 8 v6.5 0 h12 3.5"),
    ('d', 13.0, "m13 24 l13 0 m13 8 v6.5 16 h0 8 v6.5 0 h13 8"),
    ('e', 13.0, "m0 8 l13 8 v6.5 16 h0 8 v6.5 0 h12 3.5"),
    ('f', 9.0, "m9 24 l8 24 h3 19 l3 0 m0 15 l9 15"),
    ('g', 13.0, "m13 16 l13 -2 v6.5 -7 h1 -4 m13 8 v6.5 16 h0 8 v6.5 0 h13 8"),
    ('h', 12.0, "m0 24 l0 0 m0 10 v6 16 h12 10 l12 0"),
    ('i', 2.0, "m1 16 l1 0 m0 21 l0 23 l2 23 l2 21 l0 21"),
    ('j', 6.0, "m5 16 l5 -3 v1 -7 l0 -7 m4 21 l4 23 l6 23 l6 21 l4 21"),
    ('k', 11.0, "m0 24 l0 0 m11 16 l0 6 m4 9.6 l11 0"),
    ('l', 4.0, "m0 24 l0 4 v4 0"),
    ('m', 20.0, "m0 16 l0 0 m0 11 v5 16 h10 11 l10 0 m10 11 v15 16 h20 11 l20 0"),
    ('n', 12.0, "m0 16 l0 0 m0 10 v6 16 h12 10 l12 0"),
    ('o', 13.0, "m6.5 16 h0 8 v6.5 0 h13 8 v6.5 16"),
    ('p', 13.0, "m0 16 l0 -7 m0 8 v6.5 16 h13 8 v6.5 0 h0 8"),
    ('q', 13.0, "m13 16 l13 -7 m13 8 v6.5 16 h0 8 v6.5 0 h13 8"),
    ('r', 8.0, "m0 16 l0 0 m0 10 v6 16 l8 16"),
    ('s', 11.0, "m10.5 13.5 v5.5 16 h0.5 12 v5.5 8.3 h11 4.2 v5.5 0 h0 3"),
    ('t', 9.0, "m3 22 l3 4 v7 0 l9 0 m0 16 l9 16"),
    ('u', 12.0, "m0 16 l0 6 v6 0 h12 6 m12 16 l12 0"),
    ('v', 13.0, "m0 16 l6.5 0 l13 16"),
    ('w', 18.0, "m0 16 l4.5 0 l9 13 l13.5 0 l18 16"),
    ('x', 12.0, "m0 0 l12 16 m0 16 l12 0"),
    ('y', 13.0, "m0 16 l6.5 0 m13 16 l3.7 -7"),
    ('z', 12.0, "m0 16 l12 16 l0 0 l12 0"),
    ('{', 7.0, "m7 26 q3 26 3 22 l3 14 q3 11 0 11 q3 11 3 8 l3 0 q3 -4 7 -4"),
    ('|', 1.0, "m0.5 26 l0.5 -4"),
    ('}', 7.0, "m0 26 q4 26 4 22 l4 14 q4 11 7 11 q4 11 4 8 l4 0 q4 -4 0 -4"),
    ('~', 15.0, "m0 10 q4 16 7.5 12 q11 8 15 14"),
    ('°', 7.0, "m3.5 24 h0 20.5 v3.5 17 h7 20.5 v3.5 24"),
    ('±', 14.0, "m7 8 l7 22 m0 15 l14 15 m0 3 l14 3"),
    ('²', 7.0, "m0 21 v3.5 24 h7 20.7 q7 19 5 17 l0 12 l7 12"),
    ('³', 7.0, "m0.5 22.5 v3.5 24 h6.5 21 v3.5 18.3 h7 15 v3.5 12 h0 14"),
    ('×', 12.0, "m0 6 l12 18 m0 18 l12 6"),
    ('Ø', 20.0, "m10 24 h0 12 v10 0 h20 12 v10 24 m1 -2 l19 26"),
    ('ø', 13.0, "m6.5 16 h0 8 v6.5 0 h13 8 v6.5 16 m0 -2 l13 18"),
];

#[cfg(test)]
mod tests {
    use super::*;

    fn label(text: &str, height: f64, angle: f64, centred: bool) -> Label {
        Label { at: [100.0, 50.0], height, angle, centred, text: text.into() }
    }

    fn box_of(lines: &[Vec<[f64; 2]>]) -> [[f64; 2]; 2] {
        let all = || lines.iter().flatten();
        let of =
            |pick: fn(f64, f64) -> f64, start: f64| [0, 1].map(|i| all().map(|p| p[i]).fold(start, pick));
        [of(f64::min, f64::INFINITY), of(f64::max, f64::NEG_INFINITY)]
    }

    #[test]
    fn every_printable_ascii_character_has_its_own_strokes_within_its_width() {
        let mut seen: Vec<Vec<Vec<[f64; 2]>>> = Vec::new();
        for c in (32_u8..127).map(char::from).chain("°×±øØ²³".chars()) {
            let (_, width, path) = GLYPHS.iter().find(|g| g.0 == c).expect("listed");
            let glyph = parse(*width, path);
            assert!(glyph.strokes.iter().all(|s| s.len() > 1), "{c:?} has a stroke of one point");
            for p in glyph.strokes.iter().flatten() {
                assert!((0.0..=*width).contains(&p[0]) && (-7.0..=26.0).contains(&p[1]), "{c:?} at {p:?}");
            }
            assert!(!seen.contains(&glyph.strokes), "{c:?} looks like another character");
            seen.push(glyph.strokes);
        }
    }

    #[test]
    fn accents_fall_back_to_the_base_letter_and_strangers_to_a_box() {
        let plain = |text: &str| strokes(&label(text, 10.0, 0.0, false));
        assert_eq!(plain("Türenmaß Łódź"), plain("Turenmass Lodz"), "accents");
        assert_eq!(plain("漢").len(), 1, "a box is one stroke");
        assert_eq!(plain("漢")[0].len(), 5, "a box has four sides");
        assert_ne!(plain("ø"), plain("o"), "a diameter sign is not a letter o");
    }

    #[test]
    fn capitals_are_as_high_as_asked_and_as_wide_as_measured() {
        let [lo, hi] = box_of(&strokes(&label("HOE", 12.0, 0.0, false)));
        // Exact but for a few roundings of numbers near 100.
        let near = |a: f64, b: f64| (a - b).abs() < 100.0 * 8.0 * f64::EPSILON;
        assert!(near(hi[1] - lo[1], 12.0) && near(lo[1], 50.0) && near(lo[0], 100.0), "{lo:?} {hi:?}");
        assert!(near(hi[0] - lo[0], width("HOE", 12.0)), "{lo:?} {hi:?}");
    }

    #[test]
    fn centred_and_turned_writing_lies_evenly_about_its_place() {
        for angle in [0.0, 90.0, 180.0, -90.0] {
            let [lo, hi] = box_of(&strokes(&label("HOH", 12.0, angle, true)));
            for i in 0..2 {
                let middle = (lo[i] + hi[i]) / 2.0;
                assert!((middle - [100.0, 50.0][i]).abs() < 1000.0 * f64::EPSILON, "{angle}: {lo:?} {hi:?}");
            }
            let (across, up) = (hi[0] - lo[0], hi[1] - lo[1]);
            assert_eq!(across > up, angle.abs() != 90.0, "{angle}: {across} × {up}");
        }
    }

    #[test]
    fn width_of_nothing_is_nothing() {
        assert_eq!(width("", 10.0), 0.0);
        assert!(strokes(&label("", 10.0, 0.0, true)).is_empty());
    }
}
